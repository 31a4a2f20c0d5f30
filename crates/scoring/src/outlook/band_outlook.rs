//! How well shadow bands should show at a place: one number for every output, an ordering and not a probability.
//!
//! Contrast of the bands over what an eye sees in moving stripes, [`OUTLOOK_S`] from the contact, on a white sheet that faces the
//! Sun: the flicker of the crescent's light ([`super::scintillation`], weighed by [`super::contrast_sensitivity`]), diluted by
//! the light that comes from elsewhere ([`super::umbra_light`]), over the spread of what the air near the ground may be doing
//! ([`super::ground_air`]).

use super::air::Air;
use super::contrast_sensitivity::dimness;
use super::crescent::cubic_weights;
use super::ground_air::{cases, spread};
use super::limb_darkening::NECKEL_LABS_550_NM;
use super::scintillation::{LayerWeights, SlantPath, TABLE_SUN_RADIUS_ARCSEC};
use super::turbulence::Turbulence;
use super::umbra_light::{CrescentLight, Daylight, cell_of, daylight, edge_lux};
use noonfall_ephemeris::Tt;
use noonfall_shadow::{Eclipse, Site};
use serde::Serialize;
use std::sync::{Arc, Mutex, OnceLock};

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
    /// ```
    /// use noonfall_scoring::outlook::band_outlook::BandClass;
    /// assert_eq!([0.3, 0.5, 0.7].map(|outlook| BandClass::of(outlook).word()), ["weak", "fair", "strong"]);
    /// ```
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
    /// Height of the place above the sea, metres.
    pub elevation_m: f64,
    /// Moon's radius (interior) over the Sun's.
    pub size_ratio: f64,
}

impl BandSky {
    /// At a place, at its maximum.
    ///
    /// The Moon is taken to pass the Sun on a straight line at an even speed, with the smooth Moon's contacts, so that the width
    /// goes over smoothly into that of places beyond the limit; for the true edge the outlook is not worked out anew.
    pub fn at(eclipse: &Eclipse, site: &Site, max: Tt) -> BandSky {
        let seen = eclipse.alignment(site, max);
        let (least, excess) = (seen.separation_arcsec, seen.moon_radius_interior_arcsec - seen.sun_radius_arcsec);
        // Distance run from maximum to the contact; none beyond the limit.
        let half_chord = (excess * excess - least * least).max(0.0).sqrt();
        let later = half_chord + seen.speed_arcsec_s * OUTLOOK_S;
        let from_centre = |run: f64| (least * least + run * run).sqrt();
        BandSky {
            sun_altitude_deg: seen.sun_altitude_deg,
            width_arcsec: (from_centre(later) - from_centre(half_chord)).max(0.0),
            size_ratio: seen.size_ratio(),
            elevation_m: site.elevation_m,
        }
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
fn light_of(sun_altitude_deg: f64, width_arcsec: f64, size_ratio: f64, air: &Air) -> f64 {
    let left = NECKEL_LABS_550_NM.light_left(size_ratio, size_ratio - 1.0 + width_arcsec / TABLE_SUN_RADIUS_ARCSEC);
    seen_through_light(&CrescentLight::of(sun_altitude_deg, umbra_km(size_ratio), left, air))
}

/// Radius of the umbra by the ratio of the sizes, km: the Moon's radius less the Sun's shadow-throwing share.
fn umbra_km(size_ratio: f64) -> f64 {
    /// Interior radius of the Moon, km.
    const MOON_KM: f64 = 0.272_281 * 6378.137;
    (MOON_KM * (1.0 - 1.0 / size_ratio.max(1.0))).max(0.0)
}

/// The outlook from the integrals, 0 to 1, in an air whose height is that of the place; 0 with the Sun below the horizon or for a value that is not a number.
///
/// # Validity
/// Weak scintillation, stretched below some 5°. A clear sky: cloud is scored elsewhere. Held against reports of what was seen it does not order them better than chance
/// ([`super::shadow_bands::HELD_AGAINST_REPORTS`]).
pub fn outlook_in_full(sky: &BandSky, air: Air) -> f64 {
    if !sky.is_sound() {
        return 0.0;
    }
    let kept = sky.clamped();
    let path = SlantPath::new(kept.sun_altitude_deg, kept.elevation_m, &Turbulence::STATED);
    let along = LayerWeights::seen_tabulated(kept.width_arcsec, kept.size_ratio).along_path();
    let (free, ground) = path.convective_parts(&along);
    let air = air.at_height(kept.elevation_m);
    let light = light_of(kept.sun_altitude_deg, kept.width_arcsec, kept.size_ratio, &air);
    outlook_of(spread(kept.sun_altitude_deg), light, free, ground)
}

/// Nodes of the outlook's table: altitude from 0° to 90° in even steps of its square root, width from 1/8″ to 8″ by factors of
/// √2, excess of the Moon's radius from 0.0025 to 0.08 by factors of √2. Heights of the place, each with a table of its own, m.
const ALTITUDE_COUNT: usize = 46;
const WIDTH_COUNT: usize = 13;
const WIDTH_FIRST_ARCSEC: f64 = 0.125;
const EXCESS_COUNT: usize = 11;
const EXCESS_FIRST: f64 = 0.0025;
const HEIGHTS_M: [f64; 8] = [0.0, 250.0, 500.0, 1000.0, 1500.0, 2200.0, 3200.0, 5000.0];

impl BandSky {
    /// Within the table.
    fn clamped(&self) -> BandSky {
        let last = |first: f64, count: usize| first * (0.5 * (count - 1) as f64).exp2();
        BandSky {
            sun_altitude_deg: self.sun_altitude_deg.clamp(0.0, 90.0),
            width_arcsec: self.width_arcsec.clamp(WIDTH_FIRST_ARCSEC, last(WIDTH_FIRST_ARCSEC, WIDTH_COUNT)),
            elevation_m: if self.elevation_m.is_finite() {
                self.elevation_m.clamp(0.0, HEIGHTS_M[HEIGHTS_M.len() - 1])
            } else {
                0.0
            },
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

/// The table for one air.
fn table(air: &Air) -> Vec<f64> {
    let mut table = Vec::with_capacity(ALTITUDE_COUNT * WIDTH_COUNT * EXCESS_COUNT);
    // What depends on fewer than three things is worked out once: the table is made anew in every process.
    let altitudes: Vec<AtAltitude> = (0..ALTITUDE_COUNT)
        .map(|i| {
            let share = i as f64 / (ALTITUDE_COUNT - 1) as f64;
            let altitude_deg = 90.0 * share * share;
            AtAltitude {
                altitude_deg,
                path: SlantPath::new(altitude_deg, air.height_km * 1000.0, &Turbulence::STATED),
                day: daylight(altitude_deg, air),
                ground_air: spread(altitude_deg).collect(),
            }
        })
        .collect();
    for e in 0..EXCESS_COUNT {
        let ratio = 1.0 + EXCESS_FIRST * (0.5 * e as f64).exp2();
        let edges: Vec<f64> = altitudes.iter().map(|at| edge_lux(at.altitude_deg, umbra_km(ratio), air)).collect();
        for w in 0..WIDTH_COUNT {
            let width = WIDTH_FIRST_ARCSEC * (0.5 * w as f64).exp2();
            let along = LayerWeights::seen_tabulated(width, ratio).along_path();
            let left = NECKEL_LABS_550_NM.light_left(ratio, ratio - 1.0 + width / TABLE_SUN_RADIUS_ARCSEC);
            table.extend(altitudes.iter().zip(&edges).map(|(at, edge)| {
                let (free, ground) = at.path.convective_parts(&along);
                let light = CrescentLight::from_parts(at.altitude_deg, at.day, *edge, left, air.ground_albedo);
                outlook_of(at.ground_air.iter().copied(), seen_through_light(&light), free, ground)
            }));
        }
    }
    table
}

/// The outlook for shadow bands under one haze and over one ground: **the** number of every output, by cubics through tables of
/// [`outlook_in_full`]: measured over the skies of the tests, within 0.010 at sea level (worst where the ground's flux turns) and within
/// 0.031 at other heights (worst between the tables' heights).
///
/// ```
/// use noonfall_scoring::outlook::air::{Air, SNOW_ALBEDO};
/// use noonfall_scoring::outlook::band_outlook::{BandSky, Bands};
/// let sky = BandSky { sun_altitude_deg: 30.0, width_arcsec: 4.5, size_ratio: 1.045, elevation_m: 0.0 };
/// let usual = Bands::of(Air::STANDARD).outlook(&sky);
/// assert!((0.0..1.0).contains(&usual));
/// // Snow lights the sheet from below and from the sky: the bands drown sooner.
/// assert!(Bands::of(Air { ground_albedo: SNOW_ALBEDO, ..Air::STANDARD }).outlook(&sky) < usual);
/// assert_eq!(Bands::of(Air::STANDARD).outlook(&BandSky { sun_altitude_deg: -5.0, ..sky }), 0.0);
/// ```
#[derive(Debug)]
pub struct Bands {
    air: Air,
    /// A table for each of [`HEIGHTS_M`], made when a place needs it.
    tables: [OnceLock<Vec<f64>>; HEIGHTS_M.len()],
}

/// Tables kept at most; a process asks for one air, seldom two.
const MOST_AIRS: usize = 4;

impl Bands {
    /// The tables for an air's haze and ground; its height does not count, each place has its own.
    pub fn of(air: Air) -> Arc<Bands> {
        static KNOWN: Mutex<Vec<Arc<Bands>>> = Mutex::new(Vec::new());
        let air = Air { height_km: 0.0, ..air };
        let mut known = KNOWN.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if let Some(bands) = known.iter().find(|b| b.air == air) {
            return bands.clone();
        }
        let bands = Arc::new(Bands { air, tables: Default::default() });
        if known.len() >= MOST_AIRS {
            known.remove(0);
        }
        known.push(bands.clone());
        bands
    }

    /// The air.
    pub fn air(&self) -> Air {
        self.air
    }

    /// The outlook, 0 to 1; between the heights of the tables straight.
    pub fn outlook(&self, sky: &BandSky) -> f64 {
        if !sky.is_sound() {
            return 0.0;
        }
        let kept = sky.clamped();
        let (h, share) = cell_of(&HEIGHTS_M, kept.elevation_m);
        let low = if share < 1.0 { self.at_height(h, &kept) } else { 0.0 };
        let high = if share > 0.0 { self.at_height(h + 1, &kept) } else { 0.0 };
        ((1.0 - share) * low + share * high).clamp(0.0, 1.0)
    }

    /// The outlook of a place at its maximum.
    pub fn at(&self, eclipse: &Eclipse, site: &Site, max: Tt) -> f64 {
        self.outlook(&BandSky::at(eclipse, site, max))
    }

    /// By the table of one height, for a sky within it.
    fn at_height(&self, height: usize, kept: &BandSky) -> f64 {
        let table = self.tables[height].get_or_init(|| table(&self.air.at_height(HEIGHTS_M[height])));
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
        sum
    }
}

/// The outlook in the standard air.
pub fn outlook(sky: &BandSky) -> f64 {
    Bands::of(Air::STANDARD).outlook(sky)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn skies() -> impl Iterator<Item = BandSky> {
        [0.3, 2.7, 5.0, 9.3, 17.0, 33.0, 51.0, 77.0, 89.5].into_iter().flat_map(|sun_altitude_deg| {
            [0.17, 0.7, 3.3, 4.4, 5.5].into_iter().flat_map(move |width_arcsec| {
                [1.004, 1.017, 1.045, 1.07].map(|size_ratio| BandSky {
                    sun_altitude_deg,
                    width_arcsec,
                    size_ratio,
                    elevation_m: 0.0,
                })
            })
        })
    }

    #[test]
    fn the_table_agrees_with_the_full_integral() {
        for air in [Air::STANDARD, Air { haze: 0.3, ground_albedo: 0.7, height_km: 0.0 }] {
            let bands = Bands::of(air);
            for (elevation_m, allowed) in [(0.0, 0.02), (370.0, 0.04), (700.0, 0.04), (2200.0, 0.02), (4100.0, 0.04)] {
                let mut worst: f64 = 0.0;
                for sky in skies() {
                    let sky = BandSky { elevation_m, ..sky };
                    worst = worst.max((bands.outlook(&sky) - outlook_in_full(&sky, air)).abs());
                }
                println!("{air:?} {elevation_m} m: {worst:.4}");
                assert!(worst < allowed, "{air:?} {elevation_m} m: {worst}");
            }
        }
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
            let light = CrescentLight::of(kept.sun_altitude_deg, 60.0, 1e-3, &Air::STANDARD);
            let [calm, middle, rough] = over_threshold(&path, 4.0, 1.04, &light, kept.sun_altitude_deg);
            assert!(calm < middle && middle < rough);
        }
    }

    /// No step anywhere: along altitude, width and size the outlook moves by little for little.
    #[test]
    fn continuous() {
        let base = BandSky { sun_altitude_deg: 0.0, width_arcsec: 3.0, size_ratio: 1.04, elevation_m: 0.0 };
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

    /// Along the central line and across the path, a kilometre and a half at a time: no step, between 0 and 1, heights too.
    #[test]
    fn continuous_along_the_path() {
        let eclipse = Eclipse::on_date(
            noonfall_ephemeris::Kernel::embedded(),
            "2028-07-22".parse().unwrap(),
            None,
            &Default::default(),
        )
        .unwrap();
        let bands = Bands::of(Air::STANDARD);
        let (from, to) = eclipse.path_span().unwrap();
        let (mut before, mut count): (Option<(f64, f64)>, u32) = (None, 0);
        let mut tt = from.plus(120.0);
        while to - tt > 120.0 {
            if let Some(umbra) = eclipse.umbra(tt) {
                let site = Site { elevation_m: 400.0 * (tt.0 / 900.0).sin(), ..Site::at_sea_level(umbra.centre) };
                let found = bands.at(&eclipse, &site, eclipse.local(&site).max.unwrap().tt);
                assert!((0.0..=1.0).contains(&found), "{site:?} {found}");
                if let Some((was, at)) = before {
                    // Near its ends the shadow runs hundreds of kilometres in ten seconds.
                    let run_km = umbra.ground_speed_km_s * (tt.0 - at);
                    assert!((found - was).abs() < 0.01 + 2e-4 * run_km, "{site:?} {was} {found}");
                }
                before = Some((found, tt.0));
                count += 1;
            }
            tt = tt.plus(10.0);
        }
        assert!(count > 800, "{count}");
    }

    #[test]
    fn nothing_from_nothing() {
        let sky = BandSky { sun_altitude_deg: 30.0, width_arcsec: 4.5, size_ratio: 1.045, elevation_m: 0.0 };
        assert_eq!(outlook(&BandSky { sun_altitude_deg: f64::NAN, ..sky }), 0.0);
        assert_eq!(outlook(&BandSky { width_arcsec: f64::NAN, ..sky }), 0.0);
        assert_eq!(outlook(&BandSky { size_ratio: f64::INFINITY, ..sky }), 0.0);
        assert!(outlook(&BandSky { elevation_m: f64::NAN, ..sky }) == outlook(&sky));
        assert!(outlook(&BandSky { width_arcsec: 1e9, size_ratio: -3.0, ..sky }).is_finite());
    }
}
