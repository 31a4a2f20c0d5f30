//! Shadow bands: how strongly the last thread of sunlight should ripple, and along which line on the ground.
//!
//! Contrast is computed from the turbulence of the air ([`super::scintillation`], [`super::ground_air`]), diluted by the light that
//! does not come straight from the crescent ([`super::umbra_light`]) and held against what an eye sees in moving stripes
//! ([`super::contrast_sensitivity`]). What nobody knows beforehand is how turbulent the lowest hundred metres will be: every figure
//! comes with a calm and a rough case, and the outlook ([`super::band_outlook`], the same number in every output) is an *ordering*
//! of places and not a probability.
//!
//! Two things pull against each other when the Sun is low: its light crosses more air and flickers more, but the sheet is lit more
//! by the sky and less by the crescent. Thin cloud and haze hide bands altogether; that is scored as cloud, not here.

use super::air::Air;
use super::band_drift::{BandDrift, Wind};
use super::band_outlook::{BandClass, BandSky, Bands, LOWEST_DEG, OUTLOOK_S, over_threshold};
use super::crescent::Crescent;
use super::decimals;
use super::ground_air::cases;
use super::scintillation::{LayerWeights, SlantPath};
use super::turbulence::Turbulence;
use super::umbra_light::CrescentLight;
use noonfall_shadow::View;
use serde::Serialize;

/// Bands at one instant before second contact.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ContrastBefore {
    /// Seconds before second contact.
    #[serde(serialize_with = "decimals::three")]
    pub seconds_before_c2: f64,
    /// The bands then.
    #[serde(flatten)]
    pub bands: BandsThen,
}

/// Bands at one instant after third contact.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ContrastAfter {
    /// Seconds after third contact.
    #[serde(serialize_with = "decimals::three")]
    pub seconds_after_c3: f64,
    /// The bands then.
    #[serde(flatten)]
    pub bands: BandsThen,
}

/// Bands at one instant. Middle ground air is grass or woods with a fifth of its heat left, calm air sea or snow with a tenth, rough
/// air dry land with half.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BandsThen {
    /// Width of the crescent at its middle, arcseconds.
    #[serde(serialize_with = "decimals::four")]
    pub crescent_width_arcsec: f64,
    /// Rms contrast σ (standard deviation over mean) of the crescent's own light, middle air; peak to peak is some three to four
    /// times as much.
    #[serde(serialize_with = "decimals::four_figures")]
    pub contrast: f64,
    /// The same for calm air near the ground.
    #[serde(serialize_with = "decimals::four_figures")]
    pub contrast_low: f64,
    /// The same for rough air near the ground.
    #[serde(serialize_with = "decimals::four_figures")]
    pub contrast_high: f64,
    /// Share of the light on a sheet facing the Sun that comes straight from the crescent: contrasts on the sheet are this much less.
    #[serde(serialize_with = "decimals::four")]
    pub direct_share_sheet: f64,
    /// The same on level ground.
    #[serde(serialize_with = "decimals::four")]
    pub direct_share_ground: f64,
    /// Contrast on the sheet over what an eye just sees in moving stripes, middle air; below one nothing shows.
    #[serde(serialize_with = "decimals::three")]
    pub over_threshold: f64,
    /// The same for calm air near the ground.
    #[serde(serialize_with = "decimals::three")]
    pub over_threshold_low: f64,
    /// The same for rough air near the ground.
    #[serde(serialize_with = "decimals::three")]
    pub over_threshold_high: f64,
}

impl BandsThen {
    /// The bands of a view with a crescent, along a path to the Sun, in an air.
    pub fn of(view: &View, path: &SlantPath, air: &Air) -> BandsThen {
        let (width, ratio, altitude) = (crescent_width_arcsec(view), view.size_ratio(), view.sun_altitude_deg);
        let light = CrescentLight::of_view(view, air);
        let (free, ground) = path.convective_parts(&LayerWeights::tabulated(width, ratio).along_path());
        let [contrast_low, contrast, contrast_high] = cases(altitude).map(|strength| (free + strength * ground).sqrt());
        let [over_threshold_low, over_threshold, over_threshold_high] =
            over_threshold(path, width, ratio, &light, altitude);
        BandsThen {
            crescent_width_arcsec: width,
            contrast,
            contrast_low,
            contrast_high,
            direct_share_sheet: light.direct_share_sheet(),
            direct_share_ground: light.direct_share_ground(),
            over_threshold,
            over_threshold_low,
            over_threshold_high,
        }
    }
}

/// From when to when contrast on the sheet exceeds what an eye sees, seconds from the contact, the later first.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AboveThreshold {
    /// The furthest from the contact, at most the first listed instant; null if never.
    #[serde(serialize_with = "decimals::three_or_null")]
    pub from_s: Option<f64>,
    /// The nearest to the contact; null if never.
    #[serde(serialize_with = "decimals::three_or_null")]
    pub to_s: Option<f64>,
}

/// [`AboveThreshold`] for the three cases of ground air.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AboveThresholds {
    /// Calm air.
    pub calm: AboveThreshold,
    /// Middle air.
    pub middle: AboveThreshold,
    /// Rough air.
    pub rough: AboveThreshold,
}

/// What a place may expect of shadow bands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShadowBands {
    /// 0 to 1: an ordering of places, not a probability.
    #[serde(serialize_with = "decimals::four")]
    pub outlook: f64,
    /// The outlook in a word.
    pub class: BandClass,
    /// Why the outlook is better or worse than the Sun's altitude alone would make it, in a sentence; null where the
    /// altitude tells the whole story.
    pub exception: Option<String>,
    /// How well the outlook orders what was really seen.
    pub held_against_reports: &'static str,
    /// Azimuth of the bands' length on level ground before second contact, degrees in [0, 180).
    #[serde(serialize_with = "decimals::four")]
    pub band_azimuth_deg: f64,
    /// The same after third contact.
    #[serde(serialize_with = "decimals::four")]
    pub band_azimuth_after_c3_deg: f64,
    /// Tilt of the bands on a sheet that faces the Sun, before second contact: degrees clockwise from the vertical, with
    /// the Sun behind the watcher, in [0, 180).
    #[serde(serialize_with = "decimals::four")]
    pub sheet_tilt_deg: f64,
    /// The same after third contact.
    #[serde(serialize_with = "decimals::four")]
    pub sheet_tilt_after_c3_deg: f64,
    /// Bands before second contact, from early to late.
    pub contrast: Vec<ContrastBefore>,
    /// Bands after third contact, from early to late.
    pub contrast_after_c3: Vec<ContrastAfter>,
    /// When contrast exceeds the eye's threshold before second contact.
    pub above_threshold: AboveThresholds,
    /// The same after third contact.
    pub above_threshold_after_c3: AboveThresholds,
    /// Speed and direction of the bands on level ground, where the wind is given; null where it is not: then they are unknown, and
    /// nothing is told of them.
    pub drift: Option<BandDrift>,
    /// The same after third contact.
    pub drift_after_c3: Option<BandDrift>,
    /// What the numbers rest on and how far they go, in words.
    pub note: &'static str,
}

/// What every output about shadow bands must say.
pub const NOTE: &str = "Contrast is rms, computed for free air of Hufnagel-Valley 5/7, ground air by heat flux, 550 nm; threshold by \
                        Kelly 1979, white sheet facing the Sun, seen from 1.5 m. The air near the ground decides and is not \
                        forecast: the outlook orders sites, it is not a probability. The bands drift with the wind: where none is \
                        given, speed and sense are unknown, so not told.";

/// How the outlook fares against reports of what was seen (`tests/reference/light/shadow-band-reports.csv`), in words; a test
/// computes the figures anew and holds this sentence to them.
pub const HELD_AGAINST_REPORTS: &str = "Held against 23 reports of clear skies: rank correlation 0.04 with how striking the bands were; area \
                                        under the curve 0.61 over all 26 (0.5 is chance): not distinguishable from chance.";

/// Crescent width in arcseconds for interior contacts: zero at second and third contact.
pub fn crescent_width_arcsec(view: &View) -> f64 {
    (view.sun_radius_arcsec + view.separation_arcsec - view.moon_radius_interior_arcsec).max(0.0)
}

/// The crescent of a view, if the Moon leaves one.
pub fn crescent(view: &View) -> Option<Crescent> {
    let rad = |arcsec: f64| arcsec / noonfall_ephemeris::angle::ARCSEC_PER_RAD;
    Crescent::new(rad(view.sun_radius_arcsec), rad(view.moon_radius_interior_arcsec), rad(crescent_width_arcsec(view)))
}

/// Azimuth of the bands on level ground.
///
/// The bands lie along the tangent of the crescent at its middle, in the plane across the line of sight; along the light
/// they are thrown onto the ground.
///
/// # Units
/// Degrees. `vertex_angle_deg` is the direction of the crescent's middle from the Sun's centre, from the zenith through
/// east; the result lies in [0, 180).
/// # Source
/// Orientation along the tangent: Codona 1986; Gladysz, Redfern & Jones 2004, ASP Conf. 314, 513. Projection: geometry.
/// ```
/// use noonfall_scoring::outlook::shadow_bands::band_azimuth_deg;
/// // The last light at the Sun's top: the tangent is level, the bands run across the Sun's direction.
/// assert!((band_azimuth_deg(120.0, 40.0, 0.0) - 30.0).abs() < 1e-9);
/// // The last light at its side: the bands run away from the Sun.
/// assert!((band_azimuth_deg(120.0, 40.0, 90.0) - 120.0).abs() < 1e-9);
/// ```
pub fn band_azimuth_deg(sun_azimuth_deg: f64, sun_altitude_deg: f64, vertex_angle_deg: f64) -> f64 {
    // Below 1° the throw grows without bound; the direction no longer changes.
    let sin_altitude = sun_altitude_deg.max(1.0).to_radians().sin();
    let (sin_v, cos_v) = vertex_angle_deg.to_radians().sin_cos();
    // The tangent is the radius turned a quarter: up by −sin V, left by cos V. Thrown along the light, "up" in the
    // sky plane becomes 1/sin h away from the Sun's azimuth.
    let towards_sun = sin_v / sin_altitude;
    let left = cos_v;
    let azimuth = sun_azimuth_deg + (-left).atan2(towards_sun).to_degrees();
    let folded = azimuth.rem_euclid(180.0);
    if folded >= 180.0 { 0.0 } else { folded }
}

/// Tilt of the bands on a sheet held across the light.
///
/// # Units
/// Degrees; vertex angle as in [`band_azimuth_deg`]; result clockwise from the vertical, the Sun behind the watcher, in
/// [0, 180).
pub fn sheet_tilt_deg(vertex_angle_deg: f64) -> f64 {
    // Seen from the other side, the sense of the vertex angle is clockwise.
    let folded = (vertex_angle_deg + 90.0).rem_euclid(180.0);
    if folded >= 180.0 { 0.0 } else { folded }
}

/// Seconds from the contact at which bands are listed.
const LISTED_S: [f64; 11] = [120.0, 90.0, 60.0, 45.0, 30.0, 20.0, 15.0, 10.0, 5.0, 3.0, 1.0];

/// Shadow bands of a place.
///
/// `sky` is what the outlook is worked out from; `view_before(t)` the sky t seconds before second contact, `view_after(t)` the sky t
/// seconds after third contact; `vertex_angles_deg` are those of the points of contact at both; `bands` holds haze and ground. `None`
/// if the Sun is below the horizon at both.
pub fn shadow_bands(
    sky: &BandSky,
    view_before: impl Fn(f64) -> View,
    view_after: impl Fn(f64) -> View,
    vertex_angles_deg: (f64, f64),
    bands: &Bands,
    wind: Option<Wind>,
) -> Option<ShadowBands> {
    let (at_c2, at_c3) = (view_before(0.0), view_after(0.0));
    if at_c2.sun_altitude_deg < LOWEST_DEG && at_c3.sun_altitude_deg < LOWEST_DEG {
        return None;
    }
    let air = bands.air().at_height(sky.elevation_m);
    let rows = |view_at: &dyn Fn(f64) -> View, at_contact: &View| -> Vec<(f64, BandsThen)> {
        let path = SlantPath::new(at_contact.sun_altitude_deg, sky.elevation_m, &Turbulence::STATED);
        LISTED_S.iter().map(|&t| (t, BandsThen::of(&view_at(t), &path, &air))).collect()
    };
    let (before, mut after) = (rows(&view_before, &at_c2), rows(&view_after, &at_c3));
    let (above_threshold, above_threshold_after_c3) = (above_thresholds(&before), above_thresholds(&after));
    after.reverse();
    let outlook = bands.outlook(sky);
    let [azimuth_deg, azimuth_after_deg] = [(&at_c2, vertex_angles_deg.0), (&at_c3, vertex_angles_deg.1)]
        .map(|(at, vertex)| band_azimuth_deg(at.sun_azimuth_deg, at.sun_altitude_deg, vertex));
    Some(ShadowBands {
        outlook,
        class: BandClass::of(outlook),
        exception: exception(outlook, sky, bands),
        held_against_reports: HELD_AGAINST_REPORTS,
        band_azimuth_deg: azimuth_deg,
        band_azimuth_after_c3_deg: azimuth_after_deg,
        sheet_tilt_deg: sheet_tilt_deg(vertex_angles_deg.0),
        sheet_tilt_after_c3_deg: sheet_tilt_deg(vertex_angles_deg.1),
        contrast: before.into_iter().map(|(t, bands)| ContrastBefore { seconds_before_c2: t, bands }).collect(),
        contrast_after_c3: after.into_iter().map(|(t, bands)| ContrastAfter { seconds_after_c3: t, bands }).collect(),
        above_threshold,
        above_threshold_after_c3,
        drift: wind.map(|wind| BandDrift::of(wind, azimuth_deg)),
        drift_after_c3: wind.map(|wind| BandDrift::of(wind, azimuth_after_deg)),
        note: NOTE,
    })
}

fn above_thresholds(rows: &[(f64, BandsThen)]) -> AboveThresholds {
    let of = |value: fn(&BandsThen) -> f64| {
        let points: Vec<(f64, f64)> = rows.iter().map(|(t, bands)| (*t, value(bands))).collect();
        above_threshold(&points)
    };
    AboveThresholds {
        calm: of(|b| b.over_threshold_low),
        middle: of(|b| b.over_threshold),
        rough: of(|b| b.over_threshold_high),
    }
}

/// Where a curve of (seconds, contrast over threshold), from early to late, lies above one; between the points straight in the
/// logarithms.
fn above_threshold(points: &[(f64, f64)]) -> AboveThreshold {
    let crossing = |a: (f64, f64), b: (f64, f64)| {
        let (la, lb) = (a.1.max(1e-12).ln(), b.1.max(1e-12).ln());
        (a.0.ln() + la / (la - lb) * (b.0.ln() - a.0.ln())).exp()
    };
    let end = |points: &mut dyn Iterator<Item = (f64, f64)>| {
        let mut before: Option<(f64, f64)> = None;
        for point in points {
            if point.1 >= 1.0 {
                return Some(before.map_or(point.0, |outside| crossing(outside, point)));
            }
            before = Some(point);
        }
        None
    };
    AboveThreshold { from_s: end(&mut points.iter().copied()), to_s: end(&mut points.iter().rev().copied()) }
}

/// The crescent that altitudes are judged by: 0.45″ a second and a ratio of 1.045, the middle of what central eclipses offer.
const USUAL_GROWTH_ARCSEC_S: f64 = 0.45;
const USUAL_RATIO: f64 = 1.045;

/// Why the class is not the one that the Sun's altitude alone would give.
fn exception(found: f64, sky: &BandSky, bands: &Bands) -> Option<String> {
    let usual = BandSky { width_arcsec: OUTLOOK_S * USUAL_GROWTH_ARCSEC_S, size_ratio: USUAL_RATIO, ..*sky };
    let (class, by_altitude) = (BandClass::of(found), BandClass::of(bands.outlook(&usual)));
    if class == by_altitude {
        return None;
    }
    let growth = sky.width_arcsec / OUTLOOK_S;
    let reason = if (growth / USUAL_GROWTH_ARCSEC_S).ln().abs() > 0.05 {
        let how = if growth < USUAL_GROWTH_ARCSEC_S { "slowly" } else { "fast" };
        format!("the crescent changes {how} here ({growth:.2}″ a second, {USUAL_GROWTH_ARCSEC_S}″ is usual)")
    } else {
        let how = if sky.size_ratio < USUAL_RATIO { "narrow" } else { "wide" };
        format!("it is near the edge between the two, and a {how} umbra tips it")
    };
    Some(format!("the Sun's altitude alone would make them {}, but {reason}: {}.", by_altitude.word(), class.word()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Measured: 1991, Sun near the zenith, 1.3–4 % peak to peak (Jones & Jones 1994, J. Atmos. Terr. Phys. 56, 1535), that is some
    /// 0.3–1.3 % rms, in the last minute. The cases must hold it between them 30 s from the contact.
    #[test]
    fn the_cases_hold_the_measured_record() {
        let path = SlantPath::new(83.0, 0.0, &Turbulence::STATED);
        let (free, ground) = path.convective_parts(&LayerWeights::tabulated(12.0, 1.079).along_path());
        let [low, middle, high] = cases(83.0).map(|strength| (free + strength * ground).sqrt());
        assert!(low < 0.008 && middle < 0.013 && high > 0.006, "{low} {middle} {high}");
        assert!(low < middle && middle < high);
    }

    #[test]
    fn the_stretch_above_the_threshold() {
        let found = above_threshold(&[(100.0, 0.5), (25.0, 2.0), (4.0, 2.0), (1.0, 0.5)]);
        assert!((found.from_s.unwrap() - 50.0).abs() < 1e-9 && (found.to_s.unwrap() - 2.0).abs() < 1e-9, "{found:?}");
        assert_eq!(above_threshold(&[(10.0, 0.5)]), AboveThreshold { from_s: None, to_s: None });
        assert_eq!(above_threshold(&[(10.0, 1.5)]), AboveThreshold { from_s: Some(10.0), to_s: Some(10.0) });
    }

    /// The projection done the long way: vectors, by the definition of the tangent and of the light's direction.
    #[test]
    fn band_azimuth_by_vectors() {
        for (azimuth, altitude, vertex) in
            [(230.0_f64, 25.0_f64, 40.0_f64), (10.0, 60.0, 200.0), (300.0, 5.0, 175.0), (90.0, 45.0, 333.0)]
        {
            let (sa, ca) = azimuth.to_radians().sin_cos();
            let (sh, ch) = altitude.to_radians().sin_cos();
            let sun = [ch * sa, ch * ca, sh]; // east, north, up
            let up = [-sh * sa, -sh * ca, ch];
            let left = [-ca, sa, 0.0];
            let (sv, cv) = vertex.to_radians().sin_cos();
            let tangent: Vec<f64> = (0..3).map(|i| -sv * up[i] + cv * left[i]).collect();
            let ground: Vec<f64> = (0..2).map(|i| tangent[i] - tangent[2] / sun[2] * sun[i]).collect();
            let expected = ground[0].atan2(ground[1]).to_degrees().rem_euclid(180.0);
            let found = band_azimuth_deg(azimuth, altitude, vertex);
            let apart = (found - expected).abs();
            assert!(apart < 1e-9 || (apart - 180.0).abs() < 1e-9, "{found} {expected}");
        }
    }

    #[test]
    fn directions_stay_in_range() {
        for angle in [-720.0, -1e-15, 0.0, 180.0, 359.999_999] {
            assert!((0.0..180.0).contains(&band_azimuth_deg(angle, -1.0, angle)));
            assert!((0.0..180.0).contains(&sheet_tilt_deg(angle)));
        }
    }
}
