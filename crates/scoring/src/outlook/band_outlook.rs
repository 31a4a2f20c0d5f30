//! How well shadow bands should show at a place: one number for every output, an ordering and not a probability.
//!
//! Contrast of the bands over what an eye sees in moving stripes, [`OUTLOOK_S`] from the contact, on a white sheet that faces the
//! Sun: the flicker of the crescent's light ([`super::scintillation`], weighed by [`super::contrast_sensitivity`]), diluted by
//! the light that comes from elsewhere ([`super::umbra_light`]), over the spread of what the air near the ground may be doing
//! ([`super::ground_air`]).

use super::contrast_sensitivity::dimness;
use super::crescent::cubic_weights;
use super::ground_air::{cases, spread};
use super::light::NECKEL_LABS_550_NM;
use super::scintillation::{LayerWeights, SlantPath, TABLE_SUN_RADIUS_ARCSEC};
use super::turbulence::Turbulence;
use super::umbra_light::{CrescentLight, Daylight, daylight, edge_lux};
use noonfall_ephemeris::Tt;
use noonfall_shadow::{Eclipse, Site, View};
use serde::Serialize;
use std::sync::LazyLock;

/// Seconds from the contact for which places are compared: contrast over threshold is greatest some 4 to 15 s from it.
pub const OUTLOOK_S: f64 = 10.0;

/// Lowest airless altitude at which any of the disc is above the horizon.
pub const LOWEST_DEG: f64 = -0.83;

/// Outlook in a word: three classes that order places. None of them is a probability.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum BandClass {
    /// Outlook below [`FAIR`].
    Weak,
    /// From there to [`STRONG`].
    Fair,
    /// Above.
    Strong,
}

/// Outlook at which a place counts as fair, and as strong: chosen so that a usual crescent falls below the
/// first with the Sun above some 60°, and above the second with the Sun between some 4° and 30°.
pub const FAIR: f64 = 0.45;
/// See [`FAIR`].
pub const STRONG: f64 = 0.60;

impl BandClass {
    /// The class of an outlook.
    pub fn of(outlook: f64) -> BandClass {
        if outlook < FAIR {
            BandClass::Weak
        } else if outlook < STRONG {
            BandClass::Fair
        } else {
            BandClass::Strong
        }
    }

    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            BandClass::Weak => "weak",
            BandClass::Fair => "fair",
            BandClass::Strong => "strong",
        }
    }
}

/// What the outlook of a place depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandSky {
    /// Airless altitude of the Sun at maximum, degrees.
    pub sun_altitude_deg: f64,
    /// Width of the crescent [`OUTLOOK_S`] before second and after third contact, arcseconds.
    pub width_arcsec: f64,
    /// Moon's radius (interior) over the Sun's.
    pub size_ratio: f64,
}

impl BandSky {
    /// From the sky at maximum and some seconds later.
    ///
    /// The Moon is taken to pass the Sun on a straight line at an even speed, with the smooth Moon's contacts, so that the width
    /// goes over smoothly into that of places beyond the limit; for the true edge the outlook is not worked out anew.
    pub fn of(at_max: &View, later: &View) -> BandSky {
        let offset = |view: &View| {
            let (sin, cos) = view.moon_position_angle_deg.to_radians().sin_cos();
            (view.separation_arcsec * cos, view.separation_arcsec * sin)
        };
        let ((n0, e0), (n1, e1)) = (offset(at_max), offset(later));
        let speed = (n1 - n0).hypot(e1 - e0) / (later.tt - at_max.tt).abs().max(1e-3);
        let excess = at_max.moon_radius_interior_arcsec - at_max.sun_radius_arcsec;
        let least = at_max.separation_arcsec;
        // Distance run from maximum to the contact; none beyond the limit.
        let half_chord = (excess * excess - least * least).max(0.0).sqrt();
        BandSky {
            sun_altitude_deg: at_max.sun_altitude_deg,
            width_arcsec: (least.hypot(half_chord + speed * OUTLOOK_S) - least.hypot(half_chord)).max(0.0),
            size_ratio: at_max.size_ratio(),
        }
    }

    /// At a place, at its maximum.
    pub fn at(eclipse: &Eclipse, site: &Site, max: Tt) -> BandSky {
        BandSky::of(&eclipse.view(site, max), &eclipse.view(site, max.plus(20.0)))
    }

    fn is_sound(&self) -> bool {
        self.sun_altitude_deg >= LOWEST_DEG && self.width_arcsec.is_finite() && self.size_ratio.is_finite()
    }
}

/// How far the light of a crescent lets its flicker be seen: share of the direct light on a sheet facing the Sun, times what the
/// sheet's dimness leaves.
pub fn seen_through_light(light: &CrescentLight) -> f64 {
    light.direct_share_sheet() * dimness(light.sheet_lux())
}

/// Contrast over an eye's threshold on a sheet facing the Sun, for calm, middle and rough ground.
pub fn over_threshold(
    path: &SlantPath,
    width_arcsec: f64,
    size_ratio: f64,
    light: &CrescentLight,
    altitude_deg: f64,
) -> [f64; 3] {
    let along = LayerWeights::seen_tabulated(width_arcsec, size_ratio).along_path();
    let (free, ground) = path.convective_parts(&along);
    cases(altitude_deg).map(|strength| seen_through_light(light) * (free + strength * ground).max(0.0).sqrt())
}

/// Outlook from the two sums along the path: the mean over the spread of ground air of q²/(1 + q²), q the contrast over threshold.
/// It rises with the turbulence and never reaches one.
fn outlook_of(ground_air: impl IntoIterator<Item = (f64, f64)>, light: f64, free: f64, ground: f64) -> f64 {
    ground_air
        .into_iter()
        .map(|(strength, weight)| {
            let q2 = light * light * (free + strength * ground);
            weight * q2 / (1.0 + q2)
        })
        .sum()
}

/// How much of a crescent's flicker is seen, by the crescent alone.
fn light_of(sun_altitude_deg: f64, width_arcsec: f64, size_ratio: f64) -> f64 {
    let left = NECKEL_LABS_550_NM.light_left(size_ratio, size_ratio - 1.0 + width_arcsec / TABLE_SUN_RADIUS_ARCSEC);
    seen_through_light(&CrescentLight::of(sun_altitude_deg, umbra_km(size_ratio), left))
}

/// Radius of the umbra by the ratio of the sizes, km: the Moon's radius less the Sun's shadow-throwing share.
fn umbra_km(size_ratio: f64) -> f64 {
    /// Interior radius of the Moon, km.
    const MOON_KM: f64 = 0.272_281 * 6378.137;
    (MOON_KM * (1.0 - 1.0 / size_ratio.max(1.0))).max(0.0)
}

/// The outlook from the integrals, 0 to 1; 0 with the Sun below the horizon or for a value that is not a number.
///
/// # Validity
/// Weak scintillation, stretched below some 5°. A clear sky: cloud and haze are scored elsewhere. Sea level: the free air's share
/// falls a little on high ground. Held against reports of what was seen it does not order them better than chance
/// ([`super::shadow_bands::HELD_AGAINST_REPORTS`]).
pub fn outlook_in_full(sky: &BandSky) -> f64 {
    if !sky.is_sound() {
        return 0.0;
    }
    let kept = sky.clamped();
    let path = SlantPath::new(kept.sun_altitude_deg, 0.0, &Turbulence::STATED);
    let along = LayerWeights::seen_tabulated(kept.width_arcsec, kept.size_ratio).along_path();
    let (free, ground) = path.convective_parts(&along);
    let light = light_of(kept.sun_altitude_deg, kept.width_arcsec, kept.size_ratio);
    outlook_of(spread(kept.sun_altitude_deg), light, free, ground)
}

/// Nodes of the outlook's table: altitude from 0° to 90° in even steps of its square root, width from 1/8″ to 8″ by factors of
/// √2, excess of the Moon's radius from 0.0025 to 0.08 by factors of √2.
const ALTITUDE_COUNT: usize = 46;
const WIDTH_COUNT: usize = 13;
const WIDTH_FIRST_ARCSEC: f64 = 0.125;
const EXCESS_COUNT: usize = 11;
const EXCESS_FIRST: f64 = 0.0025;

impl BandSky {
    /// Within the table.
    fn clamped(&self) -> BandSky {
        let last = |first: f64, count: usize| first * (0.5 * (count - 1) as f64).exp2();
        BandSky {
            sun_altitude_deg: self.sun_altitude_deg.clamp(0.0, 90.0),
            width_arcsec: self.width_arcsec.clamp(WIDTH_FIRST_ARCSEC, last(WIDTH_FIRST_ARCSEC, WIDTH_COUNT)),
            size_ratio: 1.0 + (self.size_ratio - 1.0).clamp(EXCESS_FIRST, last(EXCESS_FIRST, EXCESS_COUNT)),
        }
    }
}

/// What the table needs of an altitude.
struct AtAltitude {
    altitude_deg: f64,
    path: SlantPath,
    day: Daylight,
    ground_air: Vec<(f64, f64)>,
}

static OUTLOOK_TABLE: LazyLock<Vec<f64>> = LazyLock::new(|| {
    let mut table = Vec::with_capacity(ALTITUDE_COUNT * WIDTH_COUNT * EXCESS_COUNT);
    // What depends on fewer than three things is worked out once: the table is made anew in every process.
    let altitudes: Vec<AtAltitude> = (0..ALTITUDE_COUNT)
        .map(|i| {
            let share = i as f64 / (ALTITUDE_COUNT - 1) as f64;
            let altitude_deg = 90.0 * share * share;
            AtAltitude {
                altitude_deg,
                path: SlantPath::new(altitude_deg, 0.0, &Turbulence::STATED),
                day: daylight(altitude_deg),
                ground_air: spread(altitude_deg).collect(),
            }
        })
        .collect();
    for e in 0..EXCESS_COUNT {
        let ratio = 1.0 + EXCESS_FIRST * (0.5 * e as f64).exp2();
        let edges: Vec<f64> = altitudes.iter().map(|at| edge_lux(at.altitude_deg, umbra_km(ratio))).collect();
        for w in 0..WIDTH_COUNT {
            let width = WIDTH_FIRST_ARCSEC * (0.5 * w as f64).exp2();
            let along = LayerWeights::seen_tabulated(width, ratio).along_path();
            let left = NECKEL_LABS_550_NM.light_left(ratio, ratio - 1.0 + width / TABLE_SUN_RADIUS_ARCSEC);
            table.extend(altitudes.iter().zip(&edges).map(|(at, edge)| {
                let (free, ground) = at.path.convective_parts(&along);
                let light = CrescentLight::from_parts(at.altitude_deg, at.day, *edge, left);
                outlook_of(at.ground_air.iter().copied(), seen_through_light(&light), free, ground)
            }));
        }
    }
    table
});

/// The outlook for shadow bands, 0 to 1: **the** number of every output, by cubics through a table of [`outlook_in_full`]
/// (within 0.01, at the altitude where the ground's flux turns), under a microsecond.
///
/// ```
/// use noonfall_scoring::outlook::band_outlook::{BandSky, outlook};
/// let sky = BandSky { sun_altitude_deg: 30.0, width_arcsec: 4.5, size_ratio: 1.045 };
/// assert!((0.0..1.0).contains(&outlook(&sky)));
/// assert_eq!(outlook(&BandSky { sun_altitude_deg: -5.0, ..sky }), 0.0);
/// ```
pub fn outlook(sky: &BandSky) -> f64 {
    if !sky.is_sound() {
        return 0.0;
    }
    let (table, kept) = (&*OUTLOOK_TABLE, sky.clamped());
    let (a, by_altitude) =
        cubic_weights((kept.sun_altitude_deg / 90.0).sqrt() * (ALTITUDE_COUNT - 1) as f64, ALTITUDE_COUNT);
    let (w, by_width) = cubic_weights(2.0 * (kept.width_arcsec / WIDTH_FIRST_ARCSEC).log2(), WIDTH_COUNT);
    let (e, by_excess) = cubic_weights(2.0 * ((kept.size_ratio - 1.0) / EXCESS_FIRST).log2(), EXCESS_COUNT);
    let mut sum = 0.0;
    for (i, we) in by_excess.iter().enumerate() {
        for (j, ww) in by_width.iter().enumerate() {
            let first = ((e + i) * WIDTH_COUNT + w + j) * ALTITUDE_COUNT + a;
            if let Some(row) = table.get(first..first + 4) {
                sum += we * ww * row.iter().zip(&by_altitude).map(|(v, x)| v * x).sum::<f64>();
            }
        }
    }
    sum.clamp(0.0, 1.0)
}

/// The outlook of a place at its maximum.
pub fn outlook_at(eclipse: &Eclipse, site: &Site, max: Tt) -> f64 {
    outlook(&BandSky::at(eclipse, site, max))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn skies() -> impl Iterator<Item = BandSky> {
        [0.3, 2.7, 5.0, 9.3, 17.0, 33.0, 51.0, 77.0, 89.5].into_iter().flat_map(|sun_altitude_deg| {
            [0.17, 0.7, 3.3, 4.4, 5.5].into_iter().flat_map(move |width_arcsec| {
                [1.004, 1.017, 1.045, 1.07].map(|size_ratio| BandSky { sun_altitude_deg, width_arcsec, size_ratio })
            })
        })
    }

    #[test]
    fn the_table_agrees_with_the_full_integral() {
        let mut worst: f64 = 0.0;
        for sky in skies() {
            let (fast, full) = (outlook(&sky), outlook_in_full(&sky));
            worst = worst.max((fast - full).abs());
        }
        println!("worst {worst}");
        assert!(worst < 0.012, "{worst}");
    }

    /// More turbulence near the ground, higher outlook; and it stays between 0 and 1.
    #[test]
    fn rises_with_the_turbulence() {
        for sky in skies() {
            let kept = sky.clamped();
            let path = SlantPath::new(kept.sun_altitude_deg, 0.0, &Turbulence::STATED);
            let along = LayerWeights::seen_tabulated(kept.width_arcsec, kept.size_ratio).along_path();
            let (free, ground) = path.convective_parts(&along);
            let mut before = 0.0;
            for step in 0..12 {
                let found = outlook_of(spread(kept.sun_altitude_deg), 0.5, free, ground * 2f64.powi(step));
                assert!(found > before && found < 1.0, "{sky:?} {step}");
                before = found;
            }
            let light = CrescentLight::of(kept.sun_altitude_deg, 60.0, 1e-3);
            let [calm, middle, rough] = over_threshold(&path, 4.0, 1.04, &light, kept.sun_altitude_deg);
            assert!(calm < middle && middle < rough);
        }
    }

    /// No step anywhere: along altitude, width and size the outlook moves by little for little.
    #[test]
    fn continuous() {
        let base = BandSky { sun_altitude_deg: 0.0, width_arcsec: 3.0, size_ratio: 1.04 };
        let mut before = outlook(&BandSky { sun_altitude_deg: -0.8, ..base });
        for i in 0..=9000 {
            let now = outlook(&BandSky { sun_altitude_deg: 0.01 * f64::from(i), ..base });
            assert!((now - before).abs() < 0.01, "{i}: {before} {now}");
            before = now;
        }
        let mut before = outlook(&BandSky { width_arcsec: 0.0, sun_altitude_deg: 20.0, ..base });
        for i in 0..=1000 {
            let now = outlook(&BandSky { width_arcsec: 0.01 * f64::from(i), sun_altitude_deg: 20.0, ..base });
            assert!((now - before).abs() < 0.01, "{i}: {before} {now}");
            before = now;
        }
    }

    #[test]
    fn nothing_from_nothing() {
        let sky = BandSky { sun_altitude_deg: 30.0, width_arcsec: 4.5, size_ratio: 1.045 };
        assert_eq!(outlook(&BandSky { sun_altitude_deg: f64::NAN, ..sky }), 0.0);
        assert_eq!(outlook(&BandSky { width_arcsec: f64::NAN, ..sky }), 0.0);
        assert_eq!(outlook(&BandSky { size_ratio: f64::INFINITY, ..sky }), 0.0);
        assert!(outlook(&BandSky { width_arcsec: 1e9, size_ratio: -3.0, ..sky }).is_finite());
    }
}
