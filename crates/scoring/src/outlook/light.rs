//! The light that is left: limb darkening, obscuration and illuminance against time.

use super::air::Air;
use super::darkness::as_dark_as;
use super::decimals;
use super::quadrature::GaussLegendre;
use super::sharp_shadows::shadow_blur;
use super::umbra_light::{CORONA_OF_SUN, CrescentLight, PlaceInUmbra, daylight, umbra_lux};
use super::umbra_sky::{UmbraSky, magnitudes_per_arcsec2};
use noonfall_shadow::View;
use serde::Serialize;
use std::sync::LazyLock;

/// Brightness of the Sun's disc from centre to limb, `I(μ)/I(1) = Σ Aᵢ μⁱ`, μ the cosine of the angle at the Sun's surface.
///
/// # Source
/// Form and coefficients of Neckel & Labs 1994, Solar Phys. 153, 91–114; valid 303–1099 nm. The coefficients sum to one,
/// and the mean over the disc, `2 Σ Aᵢ/(i + 2)`, reproduces the published column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimbDarkening {
    /// A₀ … A₅.
    pub coefficients: [f64; 6],
}

/// Limb darkening at 550 nm, where the eye is most sensitive: between the rows at 541.76 and 559.95 nm of Neckel & Labs
/// 1994, linearly. Mean over centre 0.8028.
pub const NECKEL_LABS_550_NM: LimbDarkening =
    LimbDarkening { coefficients: [0.26444, 1.30550, -1.43070, 1.67101, -1.12351, 0.31327] };

/// A disc of even brightness: area instead of light.
pub const EVEN_DISC: LimbDarkening = LimbDarkening { coefficients: [1.0, 0.0, 0.0, 0.0, 0.0, 0.0] };

static RULE: LazyLock<GaussLegendre> = LazyLock::new(|| GaussLegendre::new(40));

impl LimbDarkening {
    /// Brightness at μ over that at the centre of the disc.
    pub fn at(&self, mu: f64) -> f64 {
        self.coefficients.iter().rev().fold(0.0, |sum, a| sum * mu + a)
    }

    /// Mean brightness of the whole disc over that at its centre.
    pub fn mean_over_centre(&self) -> f64 {
        self.coefficients.iter().enumerate().map(|(i, a)| 2.0 * a / (i as f64 + 2.0)).sum()
    }

    /// Fraction of the Sun's light that the Moon leaves.
    ///
    /// # Units
    /// Radius of the Moon and distance of the centres in radii of the Sun; 0 to 1 out.
    /// # Source
    /// Ring by ring about the Sun's centre, each dimmed by the arc the Moon covers (plane discs). Check values for a
    /// Moon of 1.056: at a distance of 1.056 (half the diameter covered) 0.59647; 1 % of the diameter left, 0.003181.
    /// ```
    /// use noonfall_scoring::outlook::light::NECKEL_LABS_550_NM;
    /// let left = NECKEL_LABS_550_NM.light_left(1.056, 1.056);
    /// assert!((left - 0.59647).abs() < 1e-5);
    /// ```
    pub fn light_left(&self, moon_radius: f64, separation: f64) -> f64 {
        let (r, s) = (moon_radius.max(0.0), separation.abs());
        if !(r.is_finite() && s.is_finite()) || s >= 1.0 + r {
            return 1.0;
        }
        if r >= 1.0 + s {
            return 0.0;
        }
        // Radii at which the Moon's limb begins and ceases to cross the ring.
        let crossing = ((r - s).abs().clamp(0.0, 1.0), (r + s).clamp(0.0, 1.0));
        let ring = |t: f64| {
            let (rho, mu) = t.sin_cos();
            let cosine = (rho * rho + s * s - r * r) / (2.0 * rho * s).max(1e-300);
            let covered = cosine.clamp(-1.0, 1.0).acos() / std::f64::consts::PI;
            self.at(mu) * (1.0 - covered) * rho * mu
        };
        let edges = [0.0, crossing.0.asin(), crossing.1.asin(), std::f64::consts::FRAC_PI_2];
        let left: f64 = edges
            .windows(2)
            .filter(|edge| edge[1] > edge[0])
            .map(|edge| RULE.integrate_root_ends(edge[0], edge[1], ring))
            .sum();
        (2.0 * left / self.mean_over_centre()).clamp(0.0, 1.0)
    }
}

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

    /// Published mean over centre of the disc, Neckel & Labs 1994.
    #[test]
    fn mean_brightness_is_the_published_one() {
        let rows = [
            ([0.15248, 1.38517, -1.49615, 1.99886, -1.48155, 0.44119], 0.7596),
            ([0.26892, 1.34319, -1.58427, 1.91271, -1.31350, 0.37295], 0.8061),
            ([0.33644, 1.30590, -1.79238, 2.45040, -1.89979, 0.59943], 0.8290),
            (NECKEL_LABS_550_NM.coefficients, 0.8028),
        ];
        for (coefficients, mean) in rows {
            let darkening = LimbDarkening { coefficients };
            assert!((darkening.mean_over_centre() - mean).abs() < 6e-5);
            assert!((darkening.at(1.0) - 1.0).abs() < 2e-5);
        }
    }

    /// Independently computed (design fixtures), Moon 1.056, distance 1 + R − 2m for magnitude m.
    #[test]
    fn light_and_area_left_agree_with_an_independent_computation() {
        let rows = [
            (0.5, 0.60291, 0.59647),
            (0.8, 0.24070, 0.20525),
            (0.9, 0.11359, 0.08463),
            (0.95, 0.05110, 0.03329),
            (0.98, 0.01628, 0.00900),
            (0.99, 0.006414, 0.003181),
            (0.995, 0.002419, 0.001093),
            (0.999, 0.000229, 0.000089),
        ];
        for (m, area, light) in rows {
            let s = 2.056 - 2.0 * m;
            // The fixtures carry five decimals and a rounded row of coefficients.
            let digits = if m < 0.985 { 1e-5 } else { 1e-6 };
            assert!((EVEN_DISC.light_left(1.056, s) - area).abs() < digits, "{m}");
            assert!((NECKEL_LABS_550_NM.light_left(1.056, s) - light).abs() < digits, "{m}");
        }
    }

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
