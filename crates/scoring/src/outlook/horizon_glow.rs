//! The glow along the horizon in totality: where the nearest sunlit air is.
//!
//! In totality the horizon all round is lit by air that the Sun still reaches, outside the umbra. The nearer the umbra's
//! edge in some direction, the brighter and higher the glow there.

use super::air::Air;
use super::decimals;
use super::moon_shadow::{is_inside, nearest_on, seen_from, sides};
use super::umbra_sky::UmbraSky;
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::wrap_360;
use noonfall_shadow::{Eclipse, Site};
use serde::Serialize;

/// Height at which the umbra's edge is taken, km: half of the air lies below 5.5 km (standard atmosphere).
pub const GLOW_HEIGHT_KM: f64 = 5.5;

const OUTLINE_POINTS: usize = 240;

/// Sunlit air in one direction.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SunlitAir {
    /// Azimuth from north through east, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub azimuth_deg: f64,
    /// Distance along the ground to below the umbra's edge, km.
    #[serde(serialize_with = "decimals::three")]
    pub distance_km: f64,
    /// Altitude at which that edge is seen, degrees: how high the glow reaches; negative if even half the air's depth is
    /// below the horizon there.
    #[serde(serialize_with = "decimals::four")]
    pub altitude_deg: f64,
}

/// The glow around the horizon at maximum.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HorizonGlow {
    /// The nearest sunlit air.
    pub nearest: SunlitAir,
    /// Sunlit air towards the eight compass points from north through east; left out where the umbra runs off the Earth.
    pub by_compass: Vec<SunlitAir>,
    /// How bright the clear sky is at [`GLOW_ALTITUDE_DEG`], all round in steps of 22.5° from north through east.
    pub brightness: Vec<GlowBrightness>,
    /// Azimuth of the brightest of them, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub brightest_azimuth_deg: f64,
    /// Azimuth of the darkest, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub darkest_azimuth_deg: f64,
    /// Brightest over darkest.
    #[serde(serialize_with = "decimals::three")]
    pub contrast: f64,
}

/// Altitude at which the glow's brightness is given, degrees.
pub const GLOW_ALTITUDE_DEG: f64 = 3.0;

/// Brightness of the sky low down in one direction.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct GlowBrightness {
    /// Azimuth from north through east, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub azimuth_deg: f64,
    /// Luminance, cd/m².
    #[serde(serialize_with = "decimals::three")]
    pub luminance_cd_m2: f64,
}

/// Where the nearest sunlit air is from a place, `None` if the place is not under the umbra at that height or the outline
/// misses the Earth.
pub fn horizon_glow(eclipse: &Eclipse, site: &Site, tt: Tt, haze_and_ground: &Air) -> Option<HorizonGlow> {
    if !is_inside(eclipse, site, GLOW_HEIGHT_KM, tt) {
        return None;
    }
    let ring = eclipse.umbra_outline(tt, GLOW_HEIGHT_KM, OUTLINE_POINTS);
    let seen = seen_from(eclipse, site, &ring, GLOW_HEIGHT_KM);
    let closed = ring.len() == OUTLINE_POINTS;
    let air = |p: [f64; 3]| {
        let distance_km = p[0].hypot(p[1]);
        SunlitAir {
            azimuth_deg: wrap_360(p[0].atan2(p[1]).to_degrees()),
            distance_km,
            altitude_deg: p[2].atan2(distance_km).to_degrees(),
        }
    };
    let nearest = sides(&seen, closed)
        .map(|(a, b)| air(nearest_on(a, b)))
        .min_by(|a, b| a.distance_km.total_cmp(&b.distance_km))?;
    let by_compass = (0..8).filter_map(|k| {
        let azimuth_deg = 45.0 * f64::from(k);
        let (east, north) = azimuth_deg.to_radians().sin_cos();
        let crossing = sides(&seen, closed).filter_map(|(a, b)| crossing(a, b, [east, north])).map(air);
        crossing.min_by(|a, b| a.distance_km.total_cmp(&b.distance_km)).map(|found| SunlitAir { azimuth_deg, ..found })
    });
    let sky = UmbraSky::of(&eclipse.view(site, tt), *haze_and_ground);
    let brightness: Vec<GlowBrightness> = (0..16)
        .map(|k| {
            let azimuth_deg = 22.5 * f64::from(k);
            GlowBrightness { azimuth_deg, luminance_cd_m2: sky.luminance_cd_m2(GLOW_ALTITUDE_DEG, azimuth_deg) }
        })
        .collect();
    let by = |a: &&GlowBrightness, b: &&GlowBrightness| a.luminance_cd_m2.total_cmp(&b.luminance_cd_m2);
    let (darkest, brightest) = (*brightness.iter().min_by(by)?, *brightness.iter().max_by(by)?);
    Some(HorizonGlow {
        nearest,
        by_compass: by_compass.collect(),
        brightest_azimuth_deg: brightest.azimuth_deg,
        darkest_azimuth_deg: darkest.azimuth_deg,
        contrast: brightest.luminance_cd_m2 / darkest.luminance_cd_m2.max(1e-9),
        brightness,
    })
}

/// Where a side crosses the ray from the observer along a horizontal direction.
fn crossing(a: [f64; 3], b: [f64; 3], direction: [f64; 2]) -> Option<[f64; 3]> {
    let side_of = |p: [f64; 3]| direction[0] * p[1] - direction[1] * p[0];
    let (at_a, at_b) = (side_of(a), side_of(b));
    if (at_a > 0.0) == (at_b > 0.0) {
        return None;
    }
    let share = at_a / (at_a - at_b);
    let p: [f64; 3] = std::array::from_fn(|i| a[i] + share * (b[i] - a[i]));
    (p[0] * direction[0] + p[1] * direction[1] > 0.0).then_some(p)
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::GeoPoint;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::geodesy::destination;
    use noonfall_shadow::{Conventions, Eclipse};

    /// From below the middle of the umbra the nearest edge is half the minor axis away; and an observer who walks by the
    /// distance given, in the direction given, stands under the edge (a check by the plain view, not by the outline).
    #[test]
    fn the_nearest_edge_is_where_it_is_said_to_be() {
        let eclipse =
            Eclipse::on_date(Kernel::embedded(), "2024-04-08".parse().unwrap(), None, &Conventions::default()).unwrap();
        let tt = eclipse.greatest().tt;
        let umbra = eclipse.umbra(tt).unwrap();
        let site = Site::at_sea_level(umbra.centre);
        let glow = horizon_glow(&eclipse, &site, tt, &Air::STANDARD).unwrap();
        assert_eq!(glow.by_compass.len(), 8);
        assert!((glow.nearest.distance_km / (0.5 * umbra.minor_axis_km) - 1.0).abs() < 0.05, "{glow:?}");
        for found in std::iter::once(&glow.nearest).chain(&glow.by_compass) {
            let at = |factor: f64| -> bool {
                let GeoPoint { lat_deg, lon_deg } =
                    destination(umbra.centre, found.azimuth_deg, found.distance_km * factor);
                is_inside(&eclipse, &Site { lat_deg, lon_deg, elevation_m: 0.0 }, GLOW_HEIGHT_KM, tt)
            };
            assert!(at(0.995) && !at(1.005), "{found:?}");
            assert!(found.distance_km >= glow.nearest.distance_km - 0.05);
            // 5.5 km over some 97 km: 3°.
            assert!((1.0..5.0).contains(&found.altitude_deg));
        }
    }
}
