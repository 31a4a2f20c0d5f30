//! The Moon's shadow as it comes and goes: from where, how fast, how large, and how high its edge stands in the haze.
//!
//! A lower Sun makes a more striking shadow, and the numbers that say so are its length, its elongation and its speed: at
//! 8° it is seven times as long as wide and comes at 5 km/s. The altitude of its edge at a given number of seconds before
//! second contact is *not* larger under a low Sun: coming so much faster, the shadow is still far away then, and rises in
//! the last half minute.

use super::decimals;
use noonfall_ephemeris::angle::{ARCSEC_PER_RAD, wrap_360};
use noonfall_ephemeris::observer::LocalAxes;
use noonfall_ephemeris::vector::{dot, sub};
use noonfall_ephemeris::{GeoPoint, Tt};
use noonfall_shadow::{Eclipse, Site, View};
use serde::Serialize;

/// Heights of the haze layer on which the shadow's edge shows, km: thin cirrus and the haze below the tropopause.
pub const HAZE_HEIGHTS_KM: [f64; 3] = [10.0, 11.0, 12.0];

/// Seconds before second (after third) contact at which the edge is given: the two minutes before totality.
const LISTED_S: [f64; 9] = [120.0, 90.0, 60.0, 45.0, 30.0, 20.0, 10.0, 5.0, 0.0];

/// Points of the shadow's outline.
const OUTLINE_POINTS: usize = 120;

/// Altitude of the shadow's edge before second contact.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EdgeBefore {
    /// Seconds before second contact.
    #[serde(serialize_with = "decimals::three")]
    pub seconds_before_c2: f64,
    /// Highest altitude at which the shadow shows on a haze layer at 11 km, degrees: 90 once it stands overhead, negative
    /// while it is below the horizon.
    #[serde(serialize_with = "decimals::four")]
    pub altitude_deg: f64,
    /// The same for a layer at 10 km.
    #[serde(serialize_with = "decimals::four")]
    pub altitude_at_10_km_deg: f64,
    /// The same for a layer at 12 km.
    #[serde(serialize_with = "decimals::four")]
    pub altitude_at_12_km_deg: f64,
}

/// Altitude of the shadow's edge after third contact.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EdgeAfter {
    /// Seconds after third contact.
    #[serde(serialize_with = "decimals::three")]
    pub seconds_after_c3: f64,
    /// As in [`EdgeBefore`].
    #[serde(serialize_with = "decimals::four")]
    pub altitude_deg: f64,
    /// As in [`EdgeBefore`].
    #[serde(serialize_with = "decimals::four")]
    pub altitude_at_10_km_deg: f64,
    /// As in [`EdgeBefore`].
    #[serde(serialize_with = "decimals::four")]
    pub altitude_at_12_km_deg: f64,
}

/// The shadow's edge on a layer of the air.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LayerPassage {
    /// The layer: `high cloud` or `haze`.
    pub layer: &'static str,
    /// Its height above the sea, km.
    #[serde(serialize_with = "decimals::three")]
    pub height_km: f64,
    /// Seconds before second contact at which the edge there stands [`CLEARS_DEG`] high, at most ten minutes; null where it stays lower
    /// until second contact.
    #[serde(serialize_with = "decimals::three_or_null")]
    pub clears_10_deg_s: Option<f64>,
}

/// Altitude at which an edge is easily seen over a usual horizon, degrees: a fist at arm's length.
pub const CLEARS_DEG: f64 = 10.0;

/// Layers on which the edge shows, by name and height in km: thin cirrus, and the top of the haze over land by day.
const LAYERS: [(&str, f64); 2] = [("high cloud", 10.0), ("haze", 2.0)];

/// When the edge on a layer stands [`CLEARS_DEG`] high before second contact.
fn passage(eclipse: &Eclipse, site: &Site, c2: Tt, (layer, height_km): (&'static str, f64)) -> LayerPassage {
    let above = |t: f64| edge_altitude_deg(eclipse, site, height_km, c2.plus(-t)).is_some_and(|a| a > CLEARS_DEG);
    let clears_10_deg_s = (site.elevation_m < height_km * 1000.0 - 100.0 && above(0.0)).then(|| {
        // The edge rises all the way: halved until it is within a tenth of a second.
        let (mut low, mut high) = (0.0, 600.0);
        while high - low > 0.1 {
            let middle = 0.5 * (low + high);
            if above(middle) { low = middle } else { high = middle }
        }
        low
    });
    LayerPassage { layer, height_km, clears_10_deg_s }
}

/// The shadow at a place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MoonShadow {
    /// Azimuth the shadow comes from at second contact, degrees from north through east.
    #[serde(serialize_with = "decimals::four")]
    pub arrival_azimuth_deg: f64,
    /// Azimuth the shadow leaves towards at third contact.
    #[serde(serialize_with = "decimals::four")]
    pub departure_azimuth_deg: f64,
    /// Speed over the ground at maximum, km/s.
    #[serde(serialize_with = "decimals::four")]
    pub ground_speed_km_s: f64,
    /// Length of the umbra on level ground at maximum, km.
    #[serde(serialize_with = "decimals::three")]
    pub major_axis_km: f64,
    /// Width of the umbra on level ground at maximum, km.
    #[serde(serialize_with = "decimals::three")]
    pub minor_axis_km: f64,
    /// Azimuth of its length, degrees in [0, 180).
    #[serde(serialize_with = "decimals::four")]
    pub major_axis_azimuth_deg: f64,
    /// Length over width: 1 under an overhead Sun, 6 at 10°. The lower the Sun, the longer the dark column one looks
    /// along, and the more striking the shadow.
    #[serde(serialize_with = "decimals::three")]
    pub elongation: f64,
    /// The edge on a haze layer before second contact, from early to late.
    pub edge_altitude_deg: Vec<EdgeBefore>,
    /// When the edge clears the horizon on layers of the air, before second contact.
    pub layers: Vec<LayerPassage>,
    /// The edge of the leaving shadow after third contact.
    pub edge_altitude_after_c3_deg: Vec<EdgeAfter>,
}

/// Motion of the shadow over level ground at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShadowMotion {
    /// Direction of motion, degrees from north through east.
    pub azimuth_deg: f64,
    /// Speed, km/s.
    pub speed_km_s: f64,
}

/// Lowest altitude for which the throw onto level ground is computed, degrees: below it the shadow's length and speed
/// grow without bound.
const LOWEST_DEG: f64 = 0.5;

/// Motion of the shadow over level ground, from two views of the same place `earlier` and `later`.
///
/// # Source
/// Geometry. An observer displaced by r across the line of sight sees the Moon shifted against the Sun by
/// −r (1/d☾ − 1/d☉), so the shadow's axis moves by that factor's inverse times the Moon's motion on the sky; along the light
/// it is thrown onto the ground. Independent of the umbra's outline and defined wherever the Sun is up; agrees with the
/// motion of the axis on the central line, and anywhere with where a brute-force program finds the Moon to stand alike a
/// second later (`tests/reference/sights/shadow_and_limb.py`).
pub fn shadow_motion(earlier: &View, later: &View) -> ShadowMotion {
    // The Moon's place against the Sun, north and east on the sky: axes that do not turn with the place, as up and left do.
    // Seen from the turning axes the whole shadow would seem to wheel about the Sun's direction, by a degree off the axis.
    let offset = |view: &View| {
        let position = view.moon_position_angle_deg.to_radians();
        (view.separation_arcsec * position.cos(), view.separation_arcsec * position.sin())
    };
    let ((north0, east0), (north1, east1)) = (offset(earlier), offset(later));
    let (north, east) = (north1 - north0, east1 - east0);
    let (sin_q, cos_q) = later.parallactic_angle_deg.to_radians().sin_cos();
    let (up, to_left) = (north * cos_q + east * sin_q, east * cos_q - north * sin_q);
    let seconds = (later.tt - earlier.tt).max(1e-3);
    let km_s = throw_km(later) / ARCSEC_PER_RAD / seconds;
    let sin_altitude = later.sun_altitude_deg.max(LOWEST_DEG).to_radians().sin();
    let towards_sun = -up * km_s / sin_altitude;
    let left = to_left * km_s;
    ShadowMotion {
        azimuth_deg: wrap_360(later.sun_azimuth_deg + (-left).atan2(towards_sun).to_degrees()),
        speed_km_s: towards_sun.hypot(left),
    }
}

/// Displacement of the observer, in km, that shifts the Moon against the Sun by one radian.
fn throw_km(view: &View) -> f64 {
    1.0 / (1.0 / view.moon_distance_km - 1.0 / view.sun_distance_km)
}

/// Points of a ring seen from a place: east, north and up, km.
pub(crate) fn seen_from(eclipse: &Eclipse, site: &Site, ring: &[GeoPoint], height_km: f64) -> Vec<[f64; 3]> {
    let ellipsoid = eclipse.conventions().ellipsoid();
    let axes = LocalAxes::at(site.point());
    let here = ellipsoid.terrestrial_km(site.point(), site.elevation_m);
    ring.iter()
        .map(|point| {
            let away = sub(ellipsoid.terrestrial_km(*point, height_km * 1000.0), here);
            [dot(axes.east, away), dot(axes.north, away), dot(axes.zenith, away)]
        })
        .collect()
}

/// Whether a place, at a height in km, is inside the umbra.
pub(crate) fn is_inside(eclipse: &Eclipse, site: &Site, height_km: f64, tt: Tt) -> bool {
    let above = Site { elevation_m: height_km * 1000.0, ..*site };
    let view = eclipse.view(&above, tt);
    view.separation_arcsec < view.moon_radius_interior_arcsec - view.sun_radius_arcsec
}

/// Highest altitude at which the umbra's outline on a layer stands above a place, degrees; 90 if the layer overhead is
/// inside. `None` if the outline misses the Earth.
pub fn edge_altitude_deg(eclipse: &Eclipse, site: &Site, height_km: f64, tt: Tt) -> Option<f64> {
    if is_inside(eclipse, site, height_km, tt) {
        return Some(90.0);
    }
    let ring = eclipse.umbra_outline(tt, height_km, OUTLINE_POINTS);
    let seen = seen_from(eclipse, site, &ring, height_km);
    sides(&seen, ring.len() == OUTLINE_POINTS)
        .map(|(a, b)| {
            let nearest = nearest_on(a, b);
            nearest[2].atan2(nearest[0].hypot(nearest[1])).to_degrees()
        })
        .max_by(f64::total_cmp)
}

/// Sides of an outline; the closing one only if the outline is whole.
pub(crate) fn sides(points: &[[f64; 3]], closed: bool) -> impl Iterator<Item = ([f64; 3], [f64; 3])> + '_ {
    let count = if closed { points.len() } else { points.len().saturating_sub(1) };
    (0..count).map(move |i| (points[i], points[(i + 1) % points.len()]))
}

/// The point of a side that is horizontally nearest to the observer.
pub(crate) fn nearest_on(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    let along = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
    let length2 = along[0] * along[0] + along[1] * along[1];
    let share = if length2 > 0.0 { (-(a[0] * along[0] + a[1] * along[1]) / length2).clamp(0.0, 1.0) } else { 0.0 };
    std::array::from_fn(|i| a[i] + share * along[i])
}

/// The shadow at a place inside the path, `None` if the Sun is below the horizon at maximum or no outline meets the Earth.
pub fn moon_shadow(eclipse: &Eclipse, site: &Site, contacts: (Tt, Tt, Tt)) -> Option<MoonShadow> {
    let (c2, max, c3) = contacts;
    let motion = |tt: Tt| shadow_motion(&eclipse.view(site, tt.plus(-2.0)), &eclipse.view(site, tt.plus(2.0)));
    let view = eclipse.view(site, max);
    if view.sun_altitude_deg < LOWEST_DEG {
        return None;
    }
    let (major_axis_km, minor_axis_km, major_axis_azimuth_deg) = match eclipse.umbra(max) {
        Some(umbra) => (umbra.major_axis_km, umbra.minor_axis_km, umbra.major_axis_azimuth_deg),
        // The axis misses the Earth: the umbra's cut through the level plane of the place.
        None => {
            let arcsec = view.moon_radius_interior_arcsec - view.sun_radius_arcsec;
            let across = 2.0 * arcsec.max(0.0) / ARCSEC_PER_RAD * throw_km(&view);
            let sin_altitude = view.sun_altitude_deg.to_radians().sin();
            (across / sin_altitude, across, view.sun_azimuth_deg.rem_euclid(180.0))
        }
    };
    let edge = |tt: Tt| -> Option<[f64; 3]> {
        let [low, middle, high] = HAZE_HEIGHTS_KM.map(|height_km| edge_altitude_deg(eclipse, site, height_km, tt));
        Some([low?, middle?, high?])
    };
    let before = LISTED_S.iter().filter_map(|&t| {
        let [low, middle, high] = edge(c2.plus(-t))?;
        Some(EdgeBefore {
            seconds_before_c2: t,
            altitude_deg: middle,
            altitude_at_10_km_deg: low,
            altitude_at_12_km_deg: high,
        })
    });
    let after = LISTED_S.iter().rev().filter_map(|&t| {
        let [low, middle, high] = edge(c3.plus(t))?;
        Some(EdgeAfter {
            seconds_after_c3: t,
            altitude_deg: middle,
            altitude_at_10_km_deg: low,
            altitude_at_12_km_deg: high,
        })
    });
    Some(MoonShadow {
        arrival_azimuth_deg: wrap_360(motion(c2).azimuth_deg + 180.0),
        departure_azimuth_deg: motion(c3).azimuth_deg,
        ground_speed_km_s: motion(max).speed_km_s,
        major_axis_km,
        minor_axis_km,
        major_axis_azimuth_deg,
        elongation: if minor_axis_km > 0.0 { major_axis_km / minor_axis_km } else { 1.0 },
        edge_altitude_deg: before.collect(),
        layers: LAYERS.map(|layer| passage(eclipse, site, c2, layer)).to_vec(),
        edge_altitude_after_c3_deg: after.collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::Kernel;
    use noonfall_ephemeris::angle::wrap_180;
    use noonfall_shadow::Conventions;

    fn eclipse(date: &str) -> Eclipse {
        Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
    }

    /// The motion seen from the ground against the motion of the axis along the central line, two independent ways.
    #[test]
    fn motion_agrees_with_the_central_line() {
        for date in ["2028-07-22", "2024-04-08", "2026-08-12"] {
            let eclipse = eclipse(date);
            for minutes in [-50.0, -30.0, 0.0, 25.0] {
                let tt = eclipse.greatest().tt.plus(minutes * 60.0);
                let Some(umbra) = eclipse.umbra(tt) else { continue };
                let site = Site::at_sea_level(umbra.centre);
                let found = shadow_motion(&eclipse.view(&site, tt.plus(-1.0)), &eclipse.view(&site, tt.plus(1.0)));
                let view = eclipse.view(&site, tt);
                if view.sun_altitude_deg < 5.0 {
                    continue;
                }
                let speed = found.speed_km_s / umbra.ground_speed_km_s;
                let turn = wrap_180(found.azimuth_deg - umbra.ground_azimuth_deg);
                assert!((speed - 1.0).abs() < 0.005, "{date} {minutes}: {found:?} {umbra:?}");
                assert!(turn.abs() < 0.5, "{date} {minutes}: {found:?} {umbra:?}");
            }
        }
    }

    /// At the contact itself the edge of the shadow lies on the line to the Sun, on every layer: the outline passes
    /// through that line, so the edge stands at least as high as the Sun. Later it only rises until it is overhead.
    #[test]
    fn the_edge_rises_and_passes_the_sun() {
        let eclipse = eclipse("2028-07-22");
        // Near Kununurra, high Sun; near Dunedin, low Sun in the north-west.
        for (lat, lon) in [(-16.5, 128.0), (-45.6, 170.4)] {
            let site = Site::new(lat, lon, 0.0).unwrap();
            let local = eclipse.local(&site);
            let (c2, max, c3) = (local.c2.unwrap(), local.max.unwrap(), local.c3.unwrap());
            let shadow = moon_shadow(&eclipse, &site, (c2.tt, max.tt, c3.tt)).unwrap();
            assert_eq!(shadow.edge_altitude_deg.len(), LISTED_S.len());
            let mut before = -90.0;
            for edge in &shadow.edge_altitude_deg {
                assert!(edge.altitude_deg >= before - 0.2, "{edge:?}");
                before = edge.altitude_deg;
            }
            assert!(before > c2.sun_altitude_deg - 0.3, "{before} {}", c2.sun_altitude_deg);
            // Flat-ground check of the elongation: 1 / sin h, within what the Earth's curvature does to it.
            let flat = 1.0 / max.sun_altitude_deg.to_radians().sin();
            assert!((shadow.elongation / flat - 1.0).abs() < 0.1, "{} {flat}", shadow.elongation);
        }
    }

    #[test]
    fn the_nearest_point_of_a_side() {
        assert_eq!(nearest_on([-1.0, 2.0, 5.0], [1.0, 2.0, 7.0]), [0.0, 2.0, 6.0]);
        assert_eq!(nearest_on([1.0, 2.0, 5.0], [1.0, 2.0, 5.0]), [1.0, 2.0, 5.0]);
    }
}
