//! How long it takes to drive from place to place, and whether one can.
//!
//! Hours come from the reader's matrix, or are estimated: great-circle distance times a detour over a speed. An estimate
//! knows no roads, but it knows the sea: where the straight way leads over more water than the detour could go round, or to
//! other land, there is none.

use noonfall_shadow::geodesy::distance_km;
use rayon::prelude::*;
use std::sync::OnceLock;

use super::Place;
use super::water::{self, Crossing};
use crate::input::drive_hours::DriveHours;
use crate::places::nearest_town;
use crate::plan::{FallbackKeys, MissingPair};

/// How the drive was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DriveSource {
    /// The reader's matrix.
    Matrix,
    /// Great-circle distance, detour and speed.
    Estimate,
}

impl DriveSource {
    /// The word used in outputs.
    pub fn word(self) -> &'static str {
        match self {
            DriveSource::Matrix => "matrix",
            DriveSource::Estimate => "estimate",
        }
    }
}

/// Drives between all of some places.
#[derive(Clone, Debug)]
pub struct Drives {
    count: usize,
    /// Hours on free roads and where they come from, from each place to each; nothing where there is no drive to offer.
    hours: Vec<Option<(f64, DriveSource)>>,
    /// Pairs that the matrix lacks although, by the estimate, they might be within the limit, with the hours.
    pub missing: Vec<(usize, usize, f64)>,
    /// Pairs within the limit by the estimate but for water in between.
    pub over_water: Vec<(usize, usize, Crossing)>,
}

impl Drives {
    /// Looks at all pairs. Drives beyond the limit are left out.
    pub fn between(places: &[Place], matrix: Option<&DriveHours>, keys: &FallbackKeys) -> Drives {
        let count = places.len();
        let estimated = matrix.is_none() || keys.missing == MissingPair::Estimate;
        let masses: Vec<OnceLock<Option<u32>>> = places.iter().map(|_| OnceLock::new()).collect();
        let mass = |i: usize| *masses[i].get_or_init(|| water::mass_near(places[i].point));
        let pair = |i: usize, j: usize| {
            let (from, to) = (&places[i], &places[j]);
            let given = |from: &Place, to: &Place| matrix.and_then(|m| m.between(&from.name, &to.name));
            let both = [given(from, to), given(to, from)];
            if both != [None, None] {
                return Pair { given: both, ..Pair::default() };
            }
            let straight_km = distance_km(from.point, to.point);
            let hours = straight_km * keys.detour / keys.speed_km_h;
            if hours > keys.limit_hours {
                return Pair::default();
            }
            let crossing = water::between(from.point, to.point, straight_km, [mass(i), mass(j)]);
            let barred = crossing.is_some_and(|c| !c.can_be_gone_round(straight_km, keys.detour));
            Pair { given: both, estimate: Some(hours), barred: crossing.filter(|_| barred) }
        };
        let pairs: Vec<(usize, usize, Pair)> = (0..count)
            .into_par_iter()
            .flat_map_iter(|i| (i + 1..count).map(move |j| (i, j)))
            .map(|(i, j)| (i, j, pair(i, j)))
            .collect();
        let mut drives =
            Drives { count, hours: vec![None; count * count], missing: Vec::new(), over_water: Vec::new() };
        for (i, j, pair) in pairs {
            for (from, to, given) in [(i, j, pair.given[0]), (j, i, pair.given[1])] {
                let estimate = pair.estimate.filter(|_| estimated && pair.barred.is_none());
                drives.hours[from * count + to] = given
                    .map(|hours| (hours, DriveSource::Matrix))
                    .or(estimate.map(|hours| (hours, DriveSource::Estimate)))
                    .filter(|(hours, _)| *hours <= keys.limit_hours);
            }
            match (pair.estimate, pair.barred) {
                (Some(_), Some(crossing)) => drives.over_water.push((i, j, crossing)),
                (Some(hours), None) if matrix.is_some() => drives.missing.push((i, j, hours)),
                _ => {}
            }
        }
        drives
    }

    /// Hours from one place to another; nothing where there is no drive within the limit.
    pub fn hours(&self, from: usize, to: usize) -> Option<(f64, DriveSource)> {
        (from < self.count && to < self.count).then(|| self.hours[from * self.count + to]).flatten()
    }
}

/// What is known of one pair: hours of the matrix in both directions, or the estimate and the water that bars it.
#[derive(Clone, Copy, Debug, Default)]
struct Pair {
    given: [Option<f64>; 2],
    estimate: Option<f64>,
    barred: Option<Crossing>,
}

/// The two countries between which a drive goes, by the towns nearest to its ends; nothing within one country.
pub fn border(from: &Place, to: &Place) -> Option<(String, String)> {
    let country = |place: &Place| nearest_town(place.point).map(|near| near.town.country);
    let (one, other) = (country(from)?, country(to)?);
    (one != other).then_some((one, other))
}
