//! Where to flee when the morning is grey: fallbacks of a base, the chance of at least one clear sky, when to leave.
//!
//! The plan for the day is: stay at the base if its sky is clear, else drive to the fallback. Chances and expected
//! seconds therefore assume that the sky at totality is known when the bus must leave; a forecast some hours ahead is
//! good but not that good, so both are the best that a fallback can do.

pub(crate) mod base;
mod drives;
mod joint_chance;
pub(crate) mod told;
mod water;

pub use drives::{DriveSource, Drives, border};
pub use joint_chance::{Day, JointChance, joint_chance};
pub use water::Crossing;

use noonfall_ephemeris::{GeoPoint, Tt};
use rayon::prelude::*;

use crate::plan::FallbackKeys;

/// Most places that are paired with each other: the best by score.
pub const MOST_PLACES: usize = 400;

/// A place as base or fallback.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Name.
    pub name: String,
    /// Where.
    pub point: GeoPoint,
    /// Seconds of totality; 0 outside the path.
    pub totality_s: f64,
    /// Chance of a clear sky, `None` where it is not known; 0 for a base outside the path, from which nothing can be seen.
    pub clear: Option<f64>,
    /// First and second contact; `None` outside the path.
    pub contacts: Option<(Tt, Tt)>,
    /// Day records, ascending by date.
    pub days: Option<Vec<Day>>,
}

/// One fallback of a base.
#[derive(Clone, Debug, PartialEq)]
pub struct Fallback {
    /// Index of the base.
    pub base: usize,
    /// Index of the fallback.
    pub to: usize,
    /// Drive on free roads, hours; departures allow for traffic besides.
    pub drive_hours: f64,
    /// Where the drive comes from.
    pub drive_source: DriveSource,
    /// The chance of at least one clear sky; `None` where that of either place is not known.
    pub joint: Option<JointChance>,
    /// Expected seconds of clear totality: the base's when clear there, else the fallback's; `None` where a chance is not
    /// known.
    pub expected_clear_totality_s: Option<f64>,
    /// Latest departure to be set up before first contact.
    pub leave_by_c1: Tt,
    /// Latest departure to be set up, at worst, before second contact.
    pub leave_by_c2: Tt,
}

/// The fallback `to` of the base `base`; `None` beyond the limit, without a drive, or outside the path.
pub fn fallback(places: &[Place], base: usize, to: usize, drives: &Drives, keys: &FallbackKeys) -> Option<Fallback> {
    let (here, there) = (places.get(base)?, places.get(to)?);
    let (c1, c2) = there.contacts?;
    if base == to {
        return None;
    }
    let (hours, drive_source) = drives.hours(base, to)?;
    let chances = here.clear.zip(there.clear);
    let joint = chances.map(|(a, b)| joint_chance(a, b, here.days.as_deref(), there.days.as_deref()));
    let leave = |contact: Tt, setup_minutes: f64| contact.plus(-(hours * keys.traffic * 3600.0 + setup_minutes * 60.0));
    Some(Fallback {
        base,
        to,
        drive_hours: hours,
        drive_source,
        joint,
        expected_clear_totality_s: joint
            .zip(here.clear)
            .map(|(joint, clear)| clear * here.totality_s + (joint.chance - clear) * there.totality_s),
        leave_by_c1: leave(c1, keys.setup_minutes),
        leave_by_c2: leave(c2, keys.least_setup_minutes),
    })
}

/// All fallbacks of a base within the limit, best first: by expected clear totality, then by chance, then by drive; those
/// whose chance is not known after all others.
pub fn fallbacks(places: &[Place], base: usize, drives: &Drives, keys: &FallbackKeys) -> Vec<Fallback> {
    let mut found: Vec<Fallback> =
        (0..places.len()).filter_map(|to| fallback(places, base, to, drives, keys)).collect();
    found.sort_by(better);
    found
}

/// The best base and fallback of all whose chances are known, `None` where no two such places are within the limit.
pub fn best_pair(places: &[Place], drives: &Drives, keys: &FallbackKeys) -> Option<Fallback> {
    let of_base = |base: usize| {
        let pairs = (0..places.len()).filter_map(|to| fallback(places, base, to, drives, keys));
        pairs.filter(|pair| pair.joint.is_some()).min_by(better)
    };
    let bases = (0..places.len()).into_par_iter().filter(|&base| places[base].contacts.is_some());
    bases.filter_map(of_base).min_by(better)
}

/// Best first; equal pairs by their places, so that the order is the same every time.
fn better(a: &Fallback, b: &Fallback) -> std::cmp::Ordering {
    let expected = |f: &Fallback| f.expected_clear_totality_s.unwrap_or(-1.0);
    let chance = |f: &Fallback| f.joint.map_or(-1.0, |joint| joint.chance);
    expected(b)
        .total_cmp(&expected(a))
        .then(chance(b).total_cmp(&chance(a)))
        .then(a.drive_hours.total_cmp(&b.drive_hours))
        .then((a.base, a.to).cmp(&(b.base, b.to)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::drive_hours::DriveHours;
    use crate::plan::MissingPair;

    fn keys() -> FallbackKeys {
        FallbackKeys {
            base: None,
            base_line: None,
            base_at: None,
            limit_hours: 3.0,
            drive_hours: None,
            detour: 1.3,
            speed_km_h: 65.0,
            traffic: 1.5,
            setup_minutes: 60.0,
            least_setup_minutes: 15.0,
            missing: MissingPair::Skip,
            list: 3,
        }
    }

    fn place(name: &str, lon_deg: f64, totality_s: f64, clear: f64) -> Place {
        // The equator in the Congo Basin, on land.
        let point = GeoPoint { lat_deg: 0.0, lon_deg: lon_deg + 20.0 };
        let contacts = Some((Tt(10_000.0), Tt(14_000.0)));
        Place { name: name.into(), point, totality_s, clear: Some(clear), contacts, days: None }
    }

    #[test]
    fn worked_by_hand() {
        // One degree along the equator is 111.319 km: 111.319 * 1.3 / 65 = 2.226 h.
        let places = [place("A", 0.0, 200.0, 0.6), place("B", 1.0, 100.0, 0.5)];
        let keys = keys();
        let drives = Drives::between(&places, None, &keys);
        let f = fallback(&places, 0, 1, &drives, &keys).unwrap();
        assert!((f.drive_hours - 2.226).abs() < 0.001);
        assert_eq!(f.drive_source, DriveSource::Estimate);
        // Joint midway between 0.6 and 0.8: 0.7. Expected: 0.6 * 200 + 0.1 * 100 = 130 s.
        assert!((f.expected_clear_totality_s.unwrap() - 130.0).abs() < 1e-9);
        assert!((14_000.0 - f.leave_by_c2.0 - 1.5 * f.drive_hours * 3600.0 - 900.0).abs() < 1e-6);
        assert!((10_000.0 - f.leave_by_c1.0 - 1.5 * f.drive_hours * 3600.0 - 3600.0).abs() < 1e-6);
    }

    #[test]
    fn a_pair_can_beat_the_best_single_site() {
        // Best single: C with 0.75 * 120 = 90 s. A and B together: 0.6 * 140 + 0.1 * 140 = 98 s.
        let places = [place("A", 0.0, 140.0, 0.6), place("B", 1.0, 140.0, 0.5), place("C", 40.0, 120.0, 0.75)];
        let keys = keys();
        let pair = best_pair(&places, &Drives::between(&places, None, &keys), &keys).unwrap();
        assert_eq!((pair.base, pair.to), (0, 1));
        assert!(pair.expected_clear_totality_s.unwrap() > 90.0);
    }

    #[test]
    fn pairs_missing_from_the_matrix_are_left_out_and_told() {
        let places = [place("A", 0.0, 140.0, 0.6), place("B", 1.0, 140.0, 0.5), place("C", 0.5, 120.0, 0.7)];
        let names: Vec<&str> = places.iter().map(|p| p.name.as_str()).collect();
        let matrix = DriveHours::from_bytes("d.csv", b"from,to,hours\nA,B,2\n".to_vec(), &names).unwrap();
        let mut keys = keys();
        let drives = Drives::between(&places, Some(&matrix), &keys);
        assert_eq!(drives.missing.iter().map(|m| (m.0, m.1)).collect::<Vec<_>>(), [(0, 2), (1, 2)]);
        assert!(fallback(&places, 0, 2, &drives, &keys).is_none());
        keys.missing = MissingPair::Estimate;
        let drives = Drives::between(&places, Some(&matrix), &keys);
        assert_eq!(fallback(&places, 0, 2, &drives, &keys).map(|f| f.drive_source), Some(DriveSource::Estimate));
    }

    /// A chance that nobody knows takes part in no sum: the drive is still told, after those whose chance is known, and it
    /// is never part of the best pair.
    #[test]
    fn an_unknown_sky_is_no_sky_of_nought() {
        let mut places = [place("A", 0.0, 140.0, 0.6), place("B", 0.2, 140.0, 0.5), place("C", 1.0, 140.0, 0.1)];
        places[1].clear = None;
        let keys = keys();
        let drives = Drives::between(&places, None, &keys);
        let found = fallbacks(&places, 0, &drives, &keys);
        assert_eq!(found.iter().map(|f| f.to).collect::<Vec<_>>(), [2, 1]);
        assert!(found[1].joint.is_none() && found[1].expected_clear_totality_s.is_none());
        let best = best_pair(&places, &drives, &keys).unwrap();
        assert!(best.base != 1 && best.to != 1);
    }

    #[test]
    fn a_base_outside_the_path_still_has_fallbacks() {
        let mut hotel = place("Hotel", 0.0, 0.0, 0.0);
        hotel.contacts = None;
        let places = [hotel, place("B", 1.0, 100.0, 0.5)];
        let keys = keys();
        let drives = Drives::between(&places, None, &keys);
        let f = fallbacks(&places, 0, &drives, &keys);
        assert_eq!(f.len(), 1);
        assert_eq!(f[0].joint.unwrap().independent, 0.5);
        assert!((f[0].expected_clear_totality_s.unwrap() - 50.0).abs() < 1e-9);
        assert!(best_pair(&places, &drives, &keys).is_none_or(|p| p.base != 0));
    }
}
