//! Shadow bands: how strongly the last thread of sunlight should ripple, and along which line on the ground.
//!
//! The contrast is computed from the turbulence of the air ([`super::turbulence`], [`super::scintillation`]); what nobody
//! knows beforehand is how turbulent the lowest hundred metres will be, to a factor of ten either way. So every contrast
//! comes with a low and a high case, the outlook is an *ordering* of places and not a probability, and the word for it
//! (weak, likely, strong) is all that should reach a traveller.
//!
//! A low Sun is more favourable at every stage: the light crosses more air, so the computed contrast rises steadily
//! towards the horizon, in line with common practice. Three limits of that statement: below about 5° the formula for weak
//! scintillation is stretched beyond its proof; on *level* ground a very low Sun hardly lights the sheet and skylight
//! washes the bands out, so the sheet should be tilted to face the Sun; and thin cloud or haze, likelier near the
//! horizon, hides bands altogether (that is scored as cloud, not here).

use super::crescent::Crescent;
use super::decimals;
use super::quadrature::GaussLegendre;
use super::scintillation::{LayerWeights, SlantPath};
use super::turbulence::Turbulence;
use noonfall_shadow::View;
use serde::Serialize;
use std::sync::LazyLock;

/// Seconds before second (after third) contact over which the contrast is averaged for the outlook.
pub const WATCHED_S: f64 = 60.0;

/// The case that gets an outlook of one half: Sun at 30°, crescent growing 0.45″ a second, size ratio 1.045, the middle
/// of what central eclipses offer.
const EVEN_CASE: (f64, f64, f64) = (30.0, 0.45, 1.045);

/// Outlook in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum BandClass {
    /// Outlook below 0.5: a high Sun. Seen if the ground air is rough; hardly worth a special effort.
    Weak,
    /// Outlook from 0.5 to 0.7.
    Likely,
    /// Outlook of 0.7 or more: a Sun within some 13° of the horizon.
    Strong,
}

impl BandClass {
    /// The class of an outlook.
    ///
    /// The limits are chosen, not measured: with them a Sun above some 30° falls into "weak" and one below some 13°
    /// into "strong", as common practice has it (no source). A crescent that grows slowly (long totalities, places near
    /// the limits) stays thin for longer and gains a little.
    pub fn of(outlook: f64) -> BandClass {
        if outlook < 0.5 {
            BandClass::Weak
        } else if outlook < 0.7 {
            BandClass::Likely
        } else {
            BandClass::Strong
        }
    }

    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            BandClass::Weak => "weak",
            BandClass::Likely => "likely",
            BandClass::Strong => "strong",
        }
    }
}

/// Contrast at one instant before second contact.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ContrastBefore {
    /// Seconds before second contact.
    #[serde(serialize_with = "decimals::three")]
    pub seconds_before_c2: f64,
    /// Width of the crescent at its middle, arcseconds.
    #[serde(serialize_with = "decimals::four")]
    pub crescent_width_arcsec: f64,
    /// Rms contrast σ (standard deviation over mean of the brightness) for the stated turbulence; peak to peak is some
    /// three to four times as much.
    #[serde(serialize_with = "decimals::four_figures")]
    pub contrast: f64,
    /// The same for calm air near the ground.
    #[serde(serialize_with = "decimals::four_figures")]
    pub contrast_low: f64,
    /// The same for rough air near the ground.
    #[serde(serialize_with = "decimals::four_figures")]
    pub contrast_high: f64,
}

/// Contrast at one instant after third contact.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ContrastAfter {
    /// Seconds after third contact.
    #[serde(serialize_with = "decimals::three")]
    pub seconds_after_c3: f64,
    /// As in [`ContrastBefore`].
    #[serde(serialize_with = "decimals::four")]
    pub crescent_width_arcsec: f64,
    /// As in [`ContrastBefore`].
    #[serde(serialize_with = "decimals::four_figures")]
    pub contrast: f64,
    /// As in [`ContrastBefore`].
    #[serde(serialize_with = "decimals::four_figures")]
    pub contrast_low: f64,
    /// As in [`ContrastBefore`].
    #[serde(serialize_with = "decimals::four_figures")]
    pub contrast_high: f64,
}

/// What a place may expect of shadow bands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShadowBands {
    /// 0 to 1: an ordering of places, not a calibrated probability.
    #[serde(serialize_with = "decimals::four")]
    pub outlook: f64,
    /// The outlook in a word.
    pub class: BandClass,
    /// Why the outlook is better or worse than the Sun's altitude alone would make it, in a sentence; null where the
    /// altitude tells the whole story.
    pub exception: Option<String>,
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
    /// Contrast before second contact, from early to late.
    pub contrast: Vec<ContrastBefore>,
    /// Contrast after third contact.
    pub contrast_after_c3: Vec<ContrastAfter>,
    /// What the numbers rest on and how far they go, in words.
    pub note: &'static str,
}

/// What every output about shadow bands must say.
pub const NOTE: &str = "Contrast is rms, computed for Hufnagel-Valley 5/7 turbulence at 550 nm (low: surface layer 1e-15, \
                        high: 1.7e-13 m^(-2/3)). The air near the ground decides and is not forecast: the outlook orders \
                        sites, it is not a probability. Lay out or hold up a plain white sheet facing the Sun.";

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

/// Rms contrast of a crescent: stated, low and high case.
///
/// # Units
/// Airless altitude in degrees, ground elevation in metres, width in arcseconds, Moon's radius over the Sun's.
pub fn contrast_cases(path: &SlantPath, width_arcsec: f64, size_ratio: f64, stated: &Turbulence) -> [f64; 3] {
    let (free, surface) = path.variance_parts(&LayerWeights::tabulated(width_arcsec, size_ratio));
    let of = |a: f64| (free + a.max(0.0) * surface).sqrt();
    let (low, high) = (Turbulence::CALM.surface_cn2, Turbulence::ROUGH.surface_cn2);
    [of(stated.surface_cn2), of(low.min(stated.surface_cn2)), of(high.max(stated.surface_cn2))]
}

/// Mean contrast over the watched seconds for widths given against time.
fn mean_contrast(path: &SlantPath, size_ratio: f64, surface_cn2: f64, width_at: impl Fn(f64) -> f64) -> f64 {
    WATCH_RULE.integrate(0.0, 1.0, |share| {
        path.contrast(&LayerWeights::tabulated(width_at(WATCHED_S * share), size_ratio), surface_cn2)
    })
}

static WATCH_RULE: LazyLock<GaussLegendre> = LazyLock::new(|| GaussLegendre::new(6));

/// Mean contrast of the case that gets one half.
static EVEN_CONTRAST: LazyLock<f64> = LazyLock::new(|| steady_contrast(EVEN_CASE.0, EVEN_CASE.1, EVEN_CASE.2));

/// Mean contrast over the watched seconds for a crescent that grows evenly, at sea level in the stated turbulence.
fn steady_contrast(sun_altitude_deg: f64, growth_arcsec_s: f64, size_ratio: f64) -> f64 {
    let path = SlantPath::new(sun_altitude_deg, 0.0, &Turbulence::STATED);
    mean_contrast(&path, size_ratio, Turbulence::STATED.surface_cn2, |t| growth_arcsec_s * t)
}

/// From mean contrast to outlook: variance over variance plus that of the even case, so that it grows without ever
/// reaching one.
fn outlook_of(mean_contrast: f64) -> f64 {
    let (own, even) = (mean_contrast * mean_contrast, *EVEN_CONTRAST * *EVEN_CONTRAST);
    if own > 0.0 { own / (own + even) } else { 0.0 }
}

/// Lowest airless altitude at which any of the disc is above the horizon.
const LOWEST_DEG: f64 = -0.83;

/// Relative outlook for shadow bands, from the full integral: 0 to 1, an ordering of places and not a probability.
///
/// The mean rms contrast of the last [`WATCHED_S`] seconds before second contact in Hufnagel–Valley 5/7 turbulence at sea
/// level, set against that of a Sun at 30° (outlook one half).
///
/// # Units
/// Airless altitude in degrees; mean growth of the crescent's width in arcseconds a second (0.34 to 0.57 on central
/// lines, less near the limits); Moon's radius over the Sun's. 0 with the Sun below the horizon or a value that is not a
/// number.
/// # Validity
/// Weak scintillation; stretched below about 5°. The surface layer is unknown by a factor of ten either way.
pub fn relative_outlook_in_full(sun_altitude_deg: f64, growth_arcsec_s: f64, size_ratio: f64) -> f64 {
    if !(sun_altitude_deg >= LOWEST_DEG && growth_arcsec_s.is_finite() && size_ratio.is_finite()) {
        return 0.0;
    }
    outlook_of(steady_contrast(sun_altitude_deg, growth_arcsec_s.max(0.0), size_ratio))
}

/// Nodes of the outlook's table: altitude from 0° to 90° in even steps of its square root, growth from 0.1 to 0.8″/s by
/// factors of √2, excess of the Moon's radius from 0.0025 to 0.08 by factors of 2.
const ALTITUDE_COUNT: usize = 46;
const GROWTH_COUNT: usize = 7;
const EXCESS_COUNT: usize = 6;

static OUTLOOK_TABLE: LazyLock<Vec<f64>> = LazyLock::new(|| {
    let mut table = Vec::with_capacity(ALTITUDE_COUNT * GROWTH_COUNT * EXCESS_COUNT);
    // One path for each altitude, one set of weights for each shape.
    let paths: Vec<SlantPath> = (0..ALTITUDE_COUNT)
        .map(|i| {
            let share = i as f64 / (ALTITUDE_COUNT - 1) as f64;
            SlantPath::new(90.0 * share * share, 0.0, &Turbulence::STATED)
        })
        .collect();
    for e in 0..EXCESS_COUNT {
        let ratio = 1.0 + 0.0025 * f64::from(1 << e);
        for g in 0..GROWTH_COUNT {
            let growth = 0.1 * (0.5 * g as f64).exp2();
            let shapes: Vec<(f64, LayerWeights)> = WATCH_RULE
                .nodes
                .iter()
                .map(|&(x, w)| (w, LayerWeights::tabulated(growth * WATCHED_S * x, ratio)))
                .collect();
            table.extend(paths.iter().map(|path| {
                outlook_of(shapes.iter().map(|(w, s)| w * path.contrast(s, Turbulence::STATED.surface_cn2)).sum())
            }));
        }
    }
    table
});

/// [`relative_outlook_in_full`] from a table, for grids and rankings: tens of nanoseconds a place, within 0.005.
///
/// # Units
/// As [`relative_outlook_in_full`]; growths outside 0.1 to 0.8″/s and ratios outside 1.0025 to 1.08 are taken at the
/// edge.
/// ```
/// use noonfall_scoring::outlook::shadow_bands::relative_outlook;
/// let (low, even, high) =
///     (relative_outlook(8.0, 0.45, 1.045), relative_outlook(30.0, 0.45, 1.045), relative_outlook(75.0, 0.45, 1.045));
/// assert!(low > even && even > high);
/// assert!((even - 0.5).abs() < 0.005);
/// assert_eq!(relative_outlook(-5.0, 0.45, 1.045), 0.0);
/// ```
pub fn relative_outlook(sun_altitude_deg: f64, growth_arcsec_s: f64, size_ratio: f64) -> f64 {
    if !(sun_altitude_deg >= LOWEST_DEG && growth_arcsec_s.is_finite() && size_ratio.is_finite()) {
        return 0.0;
    }
    let table = &*OUTLOOK_TABLE;
    let excess = (size_ratio - 1.0).max(0.0025);
    let (a, share_a) = cell((sun_altitude_deg.max(0.0) / 90.0).sqrt() * (ALTITUDE_COUNT - 1) as f64, ALTITUDE_COUNT);
    let (g, share_g) = cell(2.0 * (growth_arcsec_s.max(0.1) / 0.1).log2(), GROWTH_COUNT);
    let (e, share_e) = cell((excess / 0.0025).log2(), EXCESS_COUNT);
    let mut sum = 0.0;
    for (de, we) in [(0, 1.0 - share_e), (1, share_e)] {
        for (dg, wg) in [(0, 1.0 - share_g), (1, share_g)] {
            for (da, wa) in [(0, 1.0 - share_a), (1, share_a)] {
                let index = ((e + de) * GROWTH_COUNT + g + dg) * ALTITUDE_COUNT + a + da;
                sum += we * wg * wa * table.get(index).copied().unwrap_or(0.0);
            }
        }
    }
    sum.clamp(0.0, 1.0)
}

/// Cell of a position on an even grid, and the share of its upper end.
fn cell(position: f64, count: usize) -> (usize, f64) {
    let kept = position.clamp(0.0, (count - 1) as f64);
    let index = (kept as usize).min(count - 2);
    (index, kept - index as f64)
}

/// Mean growth of the crescent over the watched seconds before second contact, for [`relative_outlook`].
///
/// # Units
/// Arcseconds a second, from the view [`WATCHED_S`] before second contact.
pub fn growth_arcsec_s(watched_seconds_before_c2: &View) -> f64 {
    crescent_width_arcsec(watched_seconds_before_c2) / WATCHED_S
}

/// Seconds from the contact at which contrasts are listed.
const LISTED_S: [f64; 11] = [120.0, 90.0, 60.0, 45.0, 30.0, 20.0, 15.0, 10.0, 5.0, 3.0, 1.0];

/// Shadow bands of a place.
///
/// `view_before(t)` is the sky t seconds before second contact, `view_after(t)` the sky t seconds after third contact;
/// `vertex_angles_deg` are those of the points of contact at both. `None` if the Sun is below the horizon at both.
pub fn shadow_bands(
    view_before: impl Fn(f64) -> View,
    view_after: impl Fn(f64) -> View,
    vertex_angles_deg: (f64, f64),
    elevation_m: f64,
    turbulence: &Turbulence,
) -> Option<ShadowBands> {
    let (at_c2, at_c3) = (view_before(0.0), view_after(0.0));
    let path = |view: &View| SlantPath::new(view.sun_altitude_deg, elevation_m, turbulence);
    let (path_before, path_after) = (path(&at_c2), path(&at_c3));
    let rows = |view_at: &dyn Fn(f64) -> View, path: &SlantPath| -> Vec<(f64, f64, [f64; 3])> {
        LISTED_S
            .iter()
            .map(|&t| {
                let view = view_at(t);
                let width = crescent_width_arcsec(&view);
                (t, width, contrast_cases(path, width, view.size_ratio(), turbulence))
            })
            .collect()
    };
    let mean = |view_at: &dyn Fn(f64) -> View, at_contact: &View| {
        if at_contact.sun_altitude_deg < LOWEST_DEG {
            return 0.0;
        }
        // The outlook compares places in one and the same air: the stated one, at the place's elevation.
        let path = SlantPath::new(at_contact.sun_altitude_deg, elevation_m, &Turbulence::STATED);
        let ratio = at_contact.size_ratio();
        mean_contrast(&path, ratio, Turbulence::STATED.surface_cn2, |t| crescent_width_arcsec(&view_at(t)))
    };
    if at_c2.sun_altitude_deg < LOWEST_DEG && at_c3.sun_altitude_deg < LOWEST_DEG {
        return None;
    }
    let outlook = outlook_of(0.5 * (mean(&view_before, &at_c2) + mean(&view_after, &at_c3)));
    let mut after = rows(&view_after, &path_after);
    after.reverse();
    Some(ShadowBands {
        outlook,
        class: BandClass::of(outlook),
        exception: exception(outlook, &at_c2, &view_before(WATCHED_S)),
        band_azimuth_deg: band_azimuth_deg(at_c2.sun_azimuth_deg, at_c2.sun_altitude_deg, vertex_angles_deg.0),
        band_azimuth_after_c3_deg: band_azimuth_deg(at_c3.sun_azimuth_deg, at_c3.sun_altitude_deg, vertex_angles_deg.1),
        sheet_tilt_deg: sheet_tilt_deg(vertex_angles_deg.0),
        sheet_tilt_after_c3_deg: sheet_tilt_deg(vertex_angles_deg.1),
        contrast: rows(&view_before, &path_before)
            .into_iter()
            .map(|(t, width, [contrast, low, high])| ContrastBefore {
                seconds_before_c2: t,
                crescent_width_arcsec: width,
                contrast,
                contrast_low: low,
                contrast_high: high,
            })
            .collect(),
        contrast_after_c3: after
            .into_iter()
            .map(|(t, width, [contrast, low, high])| ContrastAfter {
                seconds_after_c3: t,
                crescent_width_arcsec: width,
                contrast,
                contrast_low: low,
                contrast_high: high,
            })
            .collect(),
        note: NOTE,
    })
}

/// Why the class is not the one that the Sun's altitude alone would give. Common practice judges by the altitude; the
/// computed outlook also knows how fast the crescent grows.
fn exception(outlook: f64, at_c2: &View, watched: &View) -> Option<String> {
    let by_altitude = BandClass::of(relative_outlook_in_full(at_c2.sun_altitude_deg, EVEN_CASE.1, EVEN_CASE.2));
    let growth = growth_arcsec_s(watched);
    let (class, usual) = (BandClass::of(outlook), EVEN_CASE.1);
    if class == by_altitude {
        return None;
    }
    let reason = match (class > by_altitude, growth < usual) {
        (true, true) => format!(
            "the crescent changes slowly here ({growth:.2}″ a second, {usual}″ is usual) and stays thin for longer"
        ),
        (false, false) => {
            format!("the crescent changes fast here ({growth:.2}″ a second, {usual}″ is usual) and is soon too wide")
        }
        // On the edge between two classes the Moon's size and the height of the ground decide.
        _ => "it is near the edge between the two, and the Moon's size and the height of the ground tip it".to_owned(),
    };
    Some(format!(
        "the Sun at {:.0}° alone would make them {}, but {reason}: {}.",
        at_c2.sun_altitude_deg,
        by_altitude.word(),
        class.word()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: a low Sun is favourable, a high Sun hardly worth it. The computed ordering must agree
    /// at every altitude, growth and size ratio.
    #[test]
    fn a_lower_sun_is_always_more_favourable() {
        for ratio in [1.005, 1.03, 1.07] {
            for growth in [0.2, 0.45, 0.6] {
                let mut before = 1.0;
                for altitude in 0..=90 {
                    let outlook = relative_outlook_in_full(f64::from(altitude), growth, ratio);
                    assert!(outlook <= before && outlook > 0.0, "{altitude} {growth} {ratio}");
                    before = outlook;
                }
            }
        }
        assert_eq!(BandClass::of(relative_outlook(70.0, 0.45, 1.045)), BandClass::Weak);
        assert_eq!(BandClass::of(relative_outlook(20.0, 0.45, 1.045)), BandClass::Likely);
        assert_eq!(BandClass::of(relative_outlook(8.0, 0.45, 1.045)), BandClass::Strong);
    }

    #[test]
    fn the_table_agrees_with_the_full_integral() {
        let mut worst: f64 = 0.0;
        for altitude in [0.3, 1.0, 2.7, 5.0, 9.3, 17.0, 33.0, 51.0, 77.0, 89.5] {
            for growth in [0.13, 0.34, 0.47, 0.66] {
                for ratio in [1.004, 1.017, 1.045, 1.07] {
                    let full = relative_outlook_in_full(altitude, growth, ratio);
                    worst = worst.max((relative_outlook(altitude, growth, ratio) - full).abs());
                }
            }
        }
        println!("worst {worst}");
        assert!(worst < 0.005, "{worst}");
    }

    /// Measured: 1991, Sun near the zenith, 1.3–4 % peak to peak (Jones & Jones 1994, J. Atmos. Terr. Phys. 56, 1535),
    /// that is some 0.3–1.3 % rms. The low case must reach down to it; the stated case lies above and says so.
    #[test]
    fn the_low_case_reaches_the_measured_record() {
        let path = SlantPath::new(75.0, 0.0, &Turbulence::STATED);
        let [stated, low, high] = contrast_cases(&path, 10.0, 1.079, &Turbulence::STATED);
        assert!(low < 0.013, "{low}");
        assert!(low < stated && stated < high);
    }

    /// Near a limit the crescent lingers: where that lifts the class above what the altitude gives, the output says so.
    #[test]
    fn where_altitude_does_not_decide_the_reason_is_given() {
        use noonfall_ephemeris::Kernel;
        use noonfall_shadow::{Conventions, Eclipse, Site};
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let at = |lat: f64, lon: f64| {
            let site = Site::new(lat, lon, 0.0).unwrap();
            let local = eclipse.local(&site);
            let (c2, c3) = (local.c2.unwrap(), local.c3.unwrap());
            shadow_bands(
                |t| eclipse.view(&site, c2.tt.plus(-t)),
                |t| eclipse.view(&site, c3.tt.plus(t)),
                (c2.vertex_angle_deg, c3.vertex_angle_deg),
                0.0,
                &Turbulence::STATED,
            )
            .unwrap()
        };
        // Wyndham, Sun at 53°, two thirds of the way to the limit; a place under the middle of the path nearby.
        let wyndham = at(-15.4869, 128.1243);
        assert_eq!(wyndham.class, BandClass::Likely);
        let why = wyndham.exception.unwrap();
        assert!(why.contains("alone would make them weak") && why.contains("changes slowly here"), "{why}");
        let central = at(-16.5, 128.0);
        assert_eq!((central.class, central.exception), (BandClass::Weak, None));
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
    fn nothing_from_nothing() {
        assert_eq!(relative_outlook(f64::NAN, 0.45, 1.045), 0.0);
        assert_eq!(relative_outlook(30.0, f64::NAN, 1.045), 0.0);
        assert_eq!(relative_outlook_in_full(-3.0, 0.45, 1.045), 0.0);
        for angle in [-720.0, -1e-15, 0.0, 180.0, 359.999_999] {
            assert!((0.0..180.0).contains(&band_azimuth_deg(angle, -1.0, angle)));
            assert!((0.0..180.0).contains(&sheet_tilt_deg(angle)));
        }
    }
}
