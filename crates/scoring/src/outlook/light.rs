//! The light that is left: obscuration and illuminance against time.

use super::air::Air;
use super::darkness::as_dark_as;
use super::decimals;
use super::limb_darkening::{EVEN_DISC, NECKEL_LABS_550_NM};
use super::sharp_shadows::shadow_blur;
use super::umbra_light::{CORONA_OF_SUN, CrescentLight, PlaceInUmbra, daylight, umbra_lux};
use super::umbra_sky::{UmbraSky, magnitudes_per_arcsec2};
use noonfall_shadow::View;
use serde::Serialize;

/// Light and shadows at one instant before second contact.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LightRow {
    /// Seconds before second contact.
    #[serde(serialize_with = "decimals::three")]
    pub seconds_before_c2: f64,
    /// Part of the Sun's area that is covered, 0 to 1. Interior radius of the Moon, so that it reaches 1 at second
    /// contact, as the light does.
    #[serde(serialize_with = "decimals::seven")]
    pub obscuration: f64,
    /// Light left, as a fraction of that of the uneclipsed Sun at the same altitude, limb darkening included. Sky light
    /// behaves as dimmed sunlight to at least 99.8 % obscuration (Appl. Opt. 10, 1207, 1971), so the fraction holds for
    /// ground and sky alike until some twenty seconds before totality; then light from outside the shadow takes over
    /// (see [`TotalityLight`]).
    #[serde(serialize_with = "decimals::four_figures")]
    pub illuminance_fraction: f64,
    /// Illuminance of level ground under a clear sky, lux, what is scattered in from outside the umbra included.
    #[serde(serialize_with = "decimals::four_figures")]
    pub illuminance_lux: f64,
    /// Stops (factors of two) below the same sky without an eclipse.
    #[serde(serialize_with = "decimals::three")]
    pub stops_below_daylight: f64,
    /// Width of the blur at a shadow's edge across the crescent, millimetres for each metre from the object: the strip
    /// over which the light falls from 90 % to 10 %.
    #[serde(serialize_with = "decimals::four")]
    pub blur_across_mm_per_m: f64,
    /// The same for an edge that runs across the length of the crescent.
    #[serde(serialize_with = "decimals::four")]
    pub blur_along_mm_per_m: f64,
}

/// Light and shadows at one instant after third contact.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LightAfter {
    /// Seconds after third contact.
    #[serde(serialize_with = "decimals::three")]
    pub seconds_after_c3: f64,
    /// As in [`LightRow`].
    #[serde(serialize_with = "decimals::seven")]
    pub obscuration: f64,
    /// As in [`LightRow`].
    #[serde(serialize_with = "decimals::four_figures")]
    pub illuminance_fraction: f64,
    /// As in [`LightRow`].
    #[serde(serialize_with = "decimals::four_figures")]
    pub illuminance_lux: f64,
    /// As in [`LightRow`].
    #[serde(serialize_with = "decimals::three")]
    pub stops_below_daylight: f64,
    /// As in [`LightRow`].
    #[serde(serialize_with = "decimals::four")]
    pub blur_across_mm_per_m: f64,
    /// As in [`LightRow`].
    #[serde(serialize_with = "decimals::four")]
    pub blur_along_mm_per_m: f64,
}

/// How bright ground and sky are in totality, under a clear sky.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TotalityLight {
    /// Illuminance of level ground at maximum, lux, the corona's included.
    #[serde(serialize_with = "decimals::three")]
    pub illuminance_lux: f64,
    /// Lower end of what clear skies give, lux: haze.
    #[serde(serialize_with = "decimals::three")]
    pub illuminance_low_lx: f64,
    /// Upper end of what clear skies give, lux: bright ground, thin haze far off. Snow all round may bring more.
    #[serde(serialize_with = "decimals::three")]
    pub illuminance_high_lx: f64,
    /// Just after second contact, lux.
    #[serde(serialize_with = "decimals::three")]
    pub after_c2_lux: f64,
    /// Just before third contact, lux.
    #[serde(serialize_with = "decimals::three")]
    pub before_c3_lux: f64,
    /// What the corona gives of it, lux; uncertain by a factor of three. Not written to files: where there is no window for unaided
    /// eyes nothing speaks of it.
    #[serde(skip)]
    pub corona_lux: f64,
    /// The same sky without an eclipse, lux.
    #[serde(serialize_with = "decimals::four_figures")]
    pub daylight_lux: f64,
    /// Stops (factors of two) by which a photographer's ground is darker than that.
    #[serde(serialize_with = "decimals::three")]
    pub stops_below_daylight: f64,
    /// Luminance overhead, cd/m².
    #[serde(serialize_with = "decimals::three")]
    pub zenith_cd_m2: f64,
    /// The same in magnitudes per square arcsecond.
    #[serde(serialize_with = "decimals::three")]
    pub zenith_mag_arcsec2: f64,
    /// Radius of the umbra across the light, km.
    #[serde(serialize_with = "decimals::three")]
    pub umbra_radius_km: f64,
    /// Distance from its axis across the light, km.
    #[serde(serialize_with = "decimals::three")]
    pub off_axis_km: f64,
    /// How dark, in words.
    pub like: String,
    /// Where the figures come from and how far they go.
    pub source: &'static str,
}

/// How far clear skies differ either way, as a factor.
pub const CLEAR_SKIES_DIFFER: f64 = 1.5;

const TOTALITY_SOURCE: &str = "light scattered in from outside the umbra: Monte Carlo in a clear standard atmosphere, within a factor of \
                               1.5 for clear skies; not for clouds; one published log, 2006 near Sallum, read 4.1 lx";

/// Light in totality from the views at maximum, just after second and just before third contact, in an air.
pub fn totality_light(at_max: &View, after_c2: &View, before_c3: &View, air: &Air) -> TotalityLight {
    let lux = |view: &View| {
        let day = daylight(view.sun_altitude_deg, air).direct_normal_lux;
        umbra_lux(&PlaceInUmbra::of(view, *air))
            + CORONA_OF_SUN * day * view.sun_altitude_deg.to_radians().sin().max(0.0)
    };
    let (place, day) = (PlaceInUmbra::of(at_max, *air), daylight(at_max.sun_altitude_deg, air));
    let sin_altitude = at_max.sun_altitude_deg.to_radians().sin().max(0.0);
    let illuminance_lux = lux(at_max);
    let zenith_cd_m2 = UmbraSky::of(at_max, *air).luminance_cd_m2(90.0, 0.0);
    TotalityLight {
        illuminance_lux,
        illuminance_low_lx: illuminance_lux / CLEAR_SKIES_DIFFER,
        illuminance_high_lx: illuminance_lux * CLEAR_SKIES_DIFFER,
        after_c2_lux: lux(after_c2),
        before_c3_lux: lux(before_c3),
        corona_lux: CORONA_OF_SUN * day.direct_normal_lux * sin_altitude,
        daylight_lux: day.direct_normal_lux * sin_altitude + day.diffuse_lux,
        stops_below_daylight: stops_below_daylight(at_max.sun_altitude_deg, illuminance_lux, air),
        zenith_cd_m2,
        zenith_mag_arcsec2: magnitudes_per_arcsec2(zenith_cd_m2),
        umbra_radius_km: place.umbra_km,
        off_axis_km: place.off_axis_km(),
        like: as_dark_as(illuminance_lux),
        source: TOTALITY_SOURCE,
    }
}

/// Stops by which level ground with an illuminance is darker than by day with the Sun at an altitude.
fn stops_below_daylight(sun_altitude_deg: f64, lux: f64, air: &Air) -> f64 {
    let day = daylight(sun_altitude_deg, air);
    let full = day.direct_normal_lux * sun_altitude_deg.to_radians().sin().max(0.0) + day.diffuse_lux;
    (full / lux.max(1e-6)).log2().max(0.0)
}

/// Seconds before second (after third) contact at which the light is listed, as far as the eclipse goes.
const LISTED_S: [f64; 17] =
    [5400.0, 3600.0, 2700.0, 1800.0, 1200.0, 900.0, 600.0, 300.0, 180.0, 120.0, 60.0, 30.0, 20.0, 10.0, 5.0, 2.0, 1.0];

/// Light and shadows from first to second contact, from early to late.
///
/// `view_before(t)` is the sky t seconds before second contact, `partial_s` the time from first to second contact.
pub fn light_rows(view_before: impl Fn(f64) -> View, partial_s: f64, air: &Air) -> Vec<LightRow> {
    let listed = LISTED_S.iter().filter(|&&t| t <= partial_s);
    listed
        .map(|&t| {
            let [obscuration, illuminance_fraction, lux, stops, blur_across_mm_per_m, blur_along_mm_per_m] =
                light_of(&view_before(t), air);
            LightRow {
                seconds_before_c2: t,
                obscuration,
                illuminance_fraction,
                illuminance_lux: lux,
                stops_below_daylight: stops,
                blur_across_mm_per_m,
                blur_along_mm_per_m,
            }
        })
        .collect()
}

/// Light and shadows from third to fourth contact, from early to late.
///
/// `view_after(t)` is the sky t seconds after third contact, `partial_s` the time from third to fourth contact.
pub fn light_rows_after(view_after: impl Fn(f64) -> View, partial_s: f64, air: &Air) -> Vec<LightAfter> {
    let listed = LISTED_S.iter().rev().filter(|&&t| t <= partial_s);
    listed
        .map(|&t| {
            let [obscuration, illuminance_fraction, lux, stops, blur_across_mm_per_m, blur_along_mm_per_m] =
                light_of(&view_after(t), air);
            LightAfter {
                seconds_after_c3: t,
                obscuration,
                illuminance_fraction,
                illuminance_lux: lux,
                stops_below_daylight: stops,
                blur_across_mm_per_m,
                blur_along_mm_per_m,
            }
        })
        .collect()
}

/// Obscuration, light left, lux, stops, blur across and along, of a partly covered Sun.
fn light_of(view: &View, air: &Air) -> [f64; 6] {
    let ratio = view.size_ratio();
    let separation = view.separation_arcsec / view.sun_radius_arcsec;
    let blur = shadow_blur(ratio, separation, view.sun_radius_arcsec);
    let lux = CrescentLight::of_view(view, air).level_lux();
    [
        1.0 - EVEN_DISC.light_left(ratio, separation),
        NECKEL_LABS_550_NM.light_left(ratio, separation),
        lux,
        stops_below_daylight(view.sun_altitude_deg, lux, air),
        blur.across_mm_per_m,
        blur.along_mm_per_m,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms: a small centred Moon leaves 1 − R² of the area; an equal disc at distance 1 leaves
    /// 1 − (2/3 − √3/(2π)) of it.
    #[test]
    fn closed_forms() {
        assert!((EVEN_DISC.light_left(0.9, 0.0) - 0.19).abs() < 1e-12);
        let lens = 2.0 / 3.0 - 3.0_f64.sqrt() / (2.0 * std::f64::consts::PI);
        assert!((EVEN_DISC.light_left(1.0, 1.0) - (1.0 - lens)).abs() < 1e-9);
        assert_eq!(EVEN_DISC.light_left(1.05, 0.02), 0.0);
        assert_eq!(EVEN_DISC.light_left(1.05, 2.05), 1.0);
        assert!(NECKEL_LABS_550_NM.light_left(f64::NAN, 1.0).is_finite());
    }

    /// The brute-force program `tests/reference/sights/light_and_bands.py` (adaptive quadrature).
    #[test]
    fn agrees_with_adaptive_quadrature() {
        let text = crate::reference("sights/light.csv");
        let mut count = 0;
        for line in text.lines().skip(1) {
            let v: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            let light = (NECKEL_LABS_550_NM.light_left(v[0], v[1]) - v[2]).abs();
            let area = (EVEN_DISC.light_left(v[0], v[1]) - v[3]).abs();
            assert!(light < 2e-9 && area < 2e-9, "{line}: off by {light:e}, {area:e}");
            count += 1;
        }
        assert_eq!(count, 55);
    }

    #[test]
    fn falls_as_the_moon_comes_in() {
        let mut before = 1.0;
        for i in 0..=500 {
            let left = NECKEL_LABS_550_NM.light_left(1.03, 2.03 - 2.0 * f64::from(i) / 500.0);
            assert!(left <= before + 1e-12, "{i}");
            before = left;
        }
    }
}
