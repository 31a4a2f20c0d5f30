//! Where to flee when the morning is grey: fallbacks of a base, the chance of at least one clear sky, when to leave.
//!
//! The plan for the day is: stay at the base if its sky is clear, else drive to the fallback. Chances and expected
//! seconds therefore assume that the sky at totality is known when the bus must leave; a forecast some hours ahead is
//! good but not that good, so both are the best that a fallback can do.

use chrono::NaiveDate;
use noonfall_ephemeris::{GeoPoint, Tt};
use noonfall_shadow::geodesy::distance_km;
use serde::Serialize;

use crate::contact_times::rounded;
use crate::input::drive_hours::DriveHours;
use crate::plan::{FallbackKeys, MissingPair};
use crate::wording::percent;

/// Most places that are paired with each other: the best by score.
pub const MOST_PLACES: usize = 400;

/// Fewest common days from which a joint chance is taken; fewer give bounds.
const FEWEST_DAYS: usize = 30;

/// The sky of one day at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Day {
    /// The day.
    pub date: NaiveDate,
    /// Chance of a cloud-free line of sight under that day's sky.
    pub clear: f64,
}

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

/// The chance of at least one clear sky of two.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct JointChance {
    /// The number to work with: from day records, else midway between the bounds.
    pub chance: f64,
    /// When both skies are grey together: the better of the two alone.
    pub fully_dependent: f64,
    /// When the skies know nothing of each other.
    pub independent: f64,
    /// Common days behind `chance`; `None` when it lies between the bounds.
    pub common_days: Option<usize>,
}

/// How the drive was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DriveSource {
    /// The reader's matrix.
    Matrix,
    /// Great-circle distance, detour and speed.
    Estimate,
}

/// One fallback of a base.
#[derive(Clone, Debug, PartialEq)]
pub struct Fallback {
    /// Index of the base.
    pub base: usize,
    /// Index of the fallback.
    pub to: usize,
    /// Drive, hours.
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

/// How long drives take.
#[derive(Clone, Debug)]
pub struct Drives<'a> {
    /// The reader's matrix.
    pub matrix: Option<&'a DriveHours>,
    /// The plan's keys.
    pub keys: &'a FallbackKeys,
}

impl Drives<'_> {
    /// Hours from one place to another, `None` where the matrix does not say and the plan does not want an estimate.
    pub fn hours(&self, from: &Place, to: &Place) -> Option<(f64, DriveSource)> {
        match self.matrix.and_then(|m| m.between(&from.name, &to.name)) {
            Some(hours) => Some((hours, DriveSource::Matrix)),
            None if self.matrix.is_none() || self.keys.missing == MissingPair::Estimate => {
                Some((self.estimate(from, to), DriveSource::Estimate))
            }
            None => None,
        }
    }

    /// Great-circle distance times the detour over the speed, hours.
    pub fn estimate(&self, from: &Place, to: &Place) -> f64 {
        distance_km(from.point, to.point) * self.keys.detour / self.keys.speed_km_h
    }

    /// Pairs that the matrix lacks although, by the estimate, they might be within the limit: `(from, to, hours)`.
    pub fn missing(&self, places: &[Place]) -> Vec<(usize, usize, f64)> {
        let Some(matrix) = self.matrix else { return Vec::new() };
        let mut missing = Vec::new();
        for i in 0..places.len() {
            for j in i + 1..places.len() {
                let (from, to) = (&places[i], &places[j]);
                if matrix.between(&from.name, &to.name).is_none() {
                    let hours = self.estimate(from, to);
                    if hours <= self.keys.limit_hours {
                        missing.push((i, j, hours));
                    }
                }
            }
        }
        missing
    }
}

/// The chance of at least one clear sky of two places.
///
/// With at least 30 common days of records it is the mean over those days of 1 − (1 − a)(1 − b), so that spells of
/// weather that both share count as they should; it is kept between the better of the two chances and their sum.
/// Otherwise it lies between full dependence, max(a, b), and independence, 1 − (1 − a)(1 − b), and the middle is taken.
///
/// ```
/// use noonfall_scoring::fallback::joint_chance;
/// let joint = joint_chance(0.6, 0.5, None, None);
/// assert_eq!((joint.fully_dependent, joint.independent), (0.6, 0.8));
/// assert!((joint.chance - 0.7).abs() < 1e-12);
/// ```
pub fn joint_chance(a: f64, b: f64, days_a: Option<&[Day]>, days_b: Option<&[Day]>) -> JointChance {
    let fully_dependent = a.max(b);
    let independent = 1.0 - (1.0 - a) * (1.0 - b);
    let common = match (days_a, days_b) {
        (Some(x), Some(y)) => common_days(x, y),
        _ => None,
    };
    match common {
        Some((mean, count)) => JointChance {
            chance: mean.clamp(fully_dependent, (a + b).min(1.0)),
            fully_dependent,
            independent,
            common_days: Some(count),
        },
        None => JointChance {
            chance: 0.5 * (fully_dependent + independent),
            fully_dependent,
            independent,
            common_days: None,
        },
    }
}

/// Mean over common days of the chance of at least one clear sky, with the number of days.
fn common_days(a: &[Day], b: &[Day]) -> Option<(f64, usize)> {
    let (mut i, mut j) = (0, 0);
    let (mut sum, mut count) = (0.0, 0_usize);
    while let (Some(x), Some(y)) = (a.get(i), b.get(j)) {
        match x.date.cmp(&y.date) {
            std::cmp::Ordering::Less => i += 1,
            std::cmp::Ordering::Greater => j += 1,
            std::cmp::Ordering::Equal => {
                sum += 1.0 - (1.0 - x.clear) * (1.0 - y.clear);
                count += 1;
                i += 1;
                j += 1;
            }
        }
    }
    (count >= FEWEST_DAYS).then(|| (sum / count as f64, count))
}

/// The fallback `to` of the base `base`; `None` beyond the limit, without a drive, or outside the path.
pub fn fallback(places: &[Place], base: usize, to: usize, drives: &Drives<'_>) -> Option<Fallback> {
    let (here, there) = (places.get(base)?, places.get(to)?);
    let (c1, c2) = there.contacts?;
    if base == to {
        return None;
    }
    let (hours, drive_source) = drives.hours(here, there)?;
    if hours > drives.keys.limit_hours {
        return None;
    }
    let chances = here.clear.zip(there.clear);
    let joint = chances.map(|(a, b)| joint_chance(a, b, here.days.as_deref(), there.days.as_deref()));
    let leave = |contact: Tt, setup_minutes: f64| contact.plus(-(hours * 3600.0 + setup_minutes * 60.0));
    Some(Fallback {
        base,
        to,
        drive_hours: hours,
        drive_source,
        joint,
        expected_clear_totality_s: joint
            .zip(here.clear)
            .map(|(joint, clear)| clear * here.totality_s + (joint.chance - clear) * there.totality_s),
        leave_by_c1: leave(c1, drives.keys.setup_minutes),
        leave_by_c2: leave(c2, drives.keys.least_setup_minutes),
    })
}

/// All fallbacks of a base within the limit, best first: by expected clear totality, then by chance, then by drive; those
/// whose chance is not known after all others.
pub fn fallbacks(places: &[Place], base: usize, drives: &Drives<'_>) -> Vec<Fallback> {
    let mut found: Vec<Fallback> = (0..places.len()).filter_map(|to| fallback(places, base, to, drives)).collect();
    found.sort_by(better);
    found
}

/// The best base and fallback of all whose chances are known, `None` where no two such places are within the limit.
pub fn best_pair(places: &[Place], drives: &Drives<'_>) -> Option<Fallback> {
    let mut best: Option<Fallback> = None;
    for base in (0..places.len()).filter(|&i| places[i].contacts.is_some()) {
        for to in 0..places.len() {
            if let Some(pair) = fallback(places, base, to, drives)
                && pair.joint.is_some()
                && best.as_ref().is_none_or(|b| better(&pair, b).is_lt())
            {
                best = Some(pair);
            }
        }
    }
    best
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

impl JointChance {
    /// Rounded for an output.
    pub fn rounded(self) -> JointChance {
        JointChance {
            chance: rounded(self.chance, 4),
            fully_dependent: rounded(self.fully_dependent, 4),
            independent: rounded(self.independent, 4),
            common_days: self.common_days,
        }
    }

    /// In words.
    pub fn words(&self) -> String {
        match self.common_days {
            Some(days) => format!(
                "{} chance that at least one sky is clear, from {days} common days of records ({} if the skies were always \
                 grey together, {} if they knew nothing of each other)",
                percent(self.chance),
                percent(self.fully_dependent),
                percent(self.independent)
            ),
            None => format!(
                "between {} (skies always grey together) and {} (skies that know nothing of each other) chance that at least one \
                 sky is clear",
                percent(self.fully_dependent),
                percent(self.independent)
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn keys() -> FallbackKeys {
        FallbackKeys {
            base: None,
            base_line: None,
            limit_hours: 3.0,
            drive_hours: None,
            detour: 1.3,
            speed_km_h: 65.0,
            setup_minutes: 60.0,
            least_setup_minutes: 15.0,
            missing: MissingPair::Skip,
            list: 3,
        }
    }

    fn place(name: &str, lon_deg: f64, totality_s: f64, clear: f64) -> Place {
        let point = GeoPoint { lat_deg: 0.0, lon_deg };
        let contacts = Some((Tt(10_000.0), Tt(14_000.0)));
        Place { name: name.into(), point, totality_s, clear: Some(clear), contacts, days: None }
    }

    fn days(clear: impl Fn(u32) -> f64) -> Vec<Day> {
        (0..40)
            .map(|i| Day { date: NaiveDate::from_ymd_opt(2020, 1 + i / 20, 1 + i % 20).unwrap(), clear: clear(i) })
            .collect()
    }

    #[test]
    fn worked_by_hand() {
        // One degree along the equator is 111.319 km: 111.319 * 1.3 / 65 = 2.226 h.
        let places = [place("A", 0.0, 200.0, 0.6), place("B", 1.0, 100.0, 0.5)];
        let keys = keys();
        let drives = Drives { matrix: None, keys: &keys };
        let f = fallback(&places, 0, 1, &drives).unwrap();
        assert!((f.drive_hours - 2.226).abs() < 0.001);
        assert_eq!(f.drive_source, DriveSource::Estimate);
        // Joint midway between 0.6 and 0.8: 0.7. Expected: 0.6 * 200 + 0.1 * 100 = 130 s.
        assert!((f.expected_clear_totality_s.unwrap() - 130.0).abs() < 1e-9);
        assert!((14_000.0 - f.leave_by_c2.0 - f.drive_hours * 3600.0 - 900.0).abs() < 1e-6);
        assert!((10_000.0 - f.leave_by_c1.0 - f.drive_hours * 3600.0 - 3600.0).abs() < 1e-6);
    }

    #[test]
    fn day_records_tell_shared_weather_from_opposite_weather() {
        let even = days(|i| f64::from(i % 2 == 0));
        let odd = days(|i| f64::from(i % 2 == 1));
        let together = joint_chance(0.5, 0.5, Some(&even), Some(&even));
        let opposite = joint_chance(0.5, 0.5, Some(&even), Some(&odd));
        assert_eq!((together.chance, together.common_days), (0.5, Some(40)));
        assert_eq!(opposite.chance, 1.0);
        let few = joint_chance(0.5, 0.5, Some(&even[..29]), Some(&odd));
        assert_eq!((few.chance, few.common_days), (0.625, None));
    }

    #[test]
    fn a_pair_can_beat_the_best_single_site() {
        // Best single: C with 0.75 * 120 = 90 s. A and B together: 0.6 * 140 + 0.1 * 140 = 98 s.
        let places = [place("A", 0.0, 140.0, 0.6), place("B", 1.0, 140.0, 0.5), place("C", 40.0, 120.0, 0.75)];
        let keys = keys();
        let pair = best_pair(&places, &Drives { matrix: None, keys: &keys }).unwrap();
        assert_eq!((pair.base, pair.to), (0, 1));
        assert!(pair.expected_clear_totality_s.unwrap() > 90.0);
    }

    #[test]
    fn pairs_missing_from_the_matrix_are_left_out_and_told() {
        let places = [place("A", 0.0, 140.0, 0.6), place("B", 1.0, 140.0, 0.5), place("C", 0.5, 120.0, 0.7)];
        let names: Vec<&str> = places.iter().map(|p| p.name.as_str()).collect();
        let matrix = DriveHours::from_bytes("d.csv", b"from,to,hours\nA,B,2\n".to_vec(), &names).unwrap();
        let mut keys = keys();
        let drives = Drives { matrix: Some(&matrix), keys: &keys };
        assert_eq!(drives.missing(&places).iter().map(|m| (m.0, m.1)).collect::<Vec<_>>(), [(0, 2), (1, 2)]);
        assert!(fallback(&places, 0, 2, &drives).is_none());
        keys.missing = MissingPair::Estimate;
        let drives = Drives { matrix: Some(&matrix), keys: &keys };
        assert_eq!(fallback(&places, 0, 2, &drives).map(|f| f.drive_source), Some(DriveSource::Estimate));
    }

    /// A chance that nobody knows takes part in no sum: the drive is still told, after those whose chance is known, and it
    /// is never part of the best pair (issue 10).
    #[test]
    fn an_unknown_sky_is_no_sky_of_nought() {
        let mut places = [place("A", 0.0, 140.0, 0.6), place("B", 0.2, 140.0, 0.5), place("C", 1.0, 140.0, 0.1)];
        places[1].clear = None;
        let keys = keys();
        let drives = Drives { matrix: None, keys: &keys };
        let found = fallbacks(&places, 0, &drives);
        assert_eq!(found.iter().map(|f| f.to).collect::<Vec<_>>(), [2, 1]);
        assert!(found[1].joint.is_none() && found[1].expected_clear_totality_s.is_none());
        let best = best_pair(&places, &drives).unwrap();
        assert!(best.base != 1 && best.to != 1);
    }

    #[test]
    fn a_base_outside_the_path_still_has_fallbacks() {
        let mut hotel = place("Hotel", 0.0, 0.0, 0.0);
        hotel.contacts = None;
        let places = [hotel, place("B", 1.0, 100.0, 0.5)];
        let keys = keys();
        let drives = Drives { matrix: None, keys: &keys };
        let f = fallbacks(&places, 0, &drives);
        assert_eq!(f.len(), 1);
        assert_eq!(f[0].joint.unwrap().independent, 0.5);
        assert!((f[0].expected_clear_totality_s.unwrap() - 50.0).abs() < 1e-9);
        assert!(best_pair(&places, &drives).is_none_or(|p| p.base != 0));
    }
}
