//! The day records of a season at one place, boiled down to what the chances need.

use chrono::NaiveDate;

use super::evidence::Evidence;
use crate::input::clouds::Layers;
use crate::input::day_records::DayCover;
use crate::outlook::cloud_layers::ALTITUDES_DEG;

/// One day's cover.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Day {
    pub date: NaiveDate,
    pub cover: f64,
    pub layers: Option<Layers>,
}

/// The records of each day nearest to a whole hour, no farther than `near_hours`; records come sorted by date and hour. Several of
/// one instant are members of an ensemble, and all of them count.
pub(super) fn one_a_day(records: &[DayCover], hour: usize, near_hours: f64) -> impl Iterator<Item = Day> + '_ {
    let away = move |r: &DayCover| {
        r.hour.map_or(0.0, |h| {
            let d = (h - hour as f64).rem_euclid(24.0);
            d.min(24.0 - d)
        })
    };
    records.chunk_by(|a, b| a.date == b.date).flat_map(move |day| {
        let best = day.iter().min_by(|a, b| away(a).total_cmp(&away(b))).filter(|b| away(b) <= near_hours);
        let hour = best.map(|b| b.hour);
        day.iter().filter(move |r| Some(r.hour) == hour).map(|r| Day { date: r.date, cover: r.cover, layers: r.layers })
    })
}

/// Different covers kept apart; more are gathered into this many classes, each at its mean.
const CLASSES: usize = 128;

/// A season's days at one place, boiled down.
#[derive(Clone, Debug)]
pub(super) struct DaySample {
    /// Covers that occur and how many days had them.
    pub covers: Vec<(f64, f64)>,
    pub mean_cover: f64,
    /// Strength of the evidence by altitude of the Sun.
    pub strength: [f64; ALTITUDES_DEG.len()],
    /// Chance past the layers by altitude of the Sun, where the days have layers.
    pub layered: Option<[f64; ALTITUDES_DEG.len()]>,
}

impl DaySample {
    /// The sample of days, each with the year of its season; `years` where the file states their number, `layered` where the
    /// chances come from layers. `chance` gives those of days with the Sun at an altitude, in degrees.
    pub fn of<F: Fn(&Day) -> f64>(
        days: &[(Day, i32)],
        years: Option<u32>,
        layered: bool,
        chance: impl Fn(f64) -> F,
    ) -> Option<DaySample> {
        let covers = classes(days);
        let mean_cover = days.iter().map(|(d, _)| d.cover).sum::<f64>() / days.len() as f64;
        let mut strength = [0.0; ALTITUDES_DEG.len()];
        let mut chances = [0.0; ALTITUDES_DEG.len()];
        for (i, altitude) in ALTITUDES_DEG.into_iter().enumerate() {
            let evidence = Evidence::of(days, years, chance(altitude))?;
            (strength[i], chances[i]) = (evidence.strength, evidence.chance);
        }
        Some(DaySample { covers, mean_cover, strength, layered: layered.then_some(chances) })
    }
}

fn classes(days: &[(Day, i32)]) -> Vec<(f64, f64)> {
    let mut covers: Vec<f64> = days.iter().map(|(d, _)| d.cover).collect();
    covers.sort_by(f64::total_cmp);
    let groups: Vec<(f64, f64)> = covers.chunk_by(|a, b| a == b).map(|c| (c[0], c.len() as f64)).collect();
    if groups.len() <= CLASSES {
        return groups;
    }
    let class = |cover: f64| (cover * CLASSES as f64).min(CLASSES as f64 - 1.0) as usize;
    let mean = |c: &[f64]| (c.iter().sum::<f64>() / c.len() as f64, c.len() as f64);
    covers.chunk_by(|a, b| class(*a) == class(*b)).map(mean).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::Duration;

    fn days(covers: impl IntoIterator<Item = f64>) -> Vec<(Day, i32)> {
        let start = NaiveDate::from_ymd_opt(2001, 1, 1).unwrap();
        let day = |i: usize, cover| Day { date: start + Duration::days(i as i64), cover, layers: None };
        covers.into_iter().enumerate().map(|(i, cover)| (day(i, cover), 2001)).collect()
    }

    #[test]
    fn classes_keep_the_mean_and_the_expected_chance() {
        use crate::outlook::line_of_sight::LineOfSight;
        let covers: Vec<f64> = (0..1500).map(|i| (f64::from(i) * 0.618_033_98).fract().powi(2)).collect();
        let sample = DaySample::of(&days(covers.clone()), None, false, |_| |d: &Day| 1.0 - d.cover).unwrap();
        assert!(sample.covers.len() <= CLASSES);
        let plain: Vec<(f64, f64)> = covers.iter().map(|&c| (c, 1.0)).collect();
        for model in [LineOfSight::AllenMalick, LineOfSight::KauthPenquite { height_to_diameter: 1.0 }] {
            for altitude in [5.0, 20.0, 60.0] {
                let error =
                    model.expected(&sample.covers, altitude).unwrap() - model.expected(&plain, altitude).unwrap();
                assert!(error.abs() < 2e-4, "{model:?} {altitude}: {error}");
            }
        }
    }

    #[test]
    fn the_record_nearest_to_the_hour_stands_for_the_day() {
        let date = NaiveDate::from_ymd_opt(2001, 1, 1).unwrap();
        let at = |hour: f64, cover: f64| DayCover::new(date, Some(hour), cover);
        let records = [at(1.0, 0.1), at(9.0, 0.2), at(15.0, 0.3)];
        let cover = |hour: usize| one_a_day(&records, hour, 3.0).next().map(|d| d.cover);
        assert_eq!(cover(23), Some(0.1));
        assert_eq!(cover(8), Some(0.2));
        assert_eq!(cover(12), Some(0.2));
        assert_eq!(cover(20), None);
        // Members of an ensemble stand at one hour, and all of them count.
        let members = [at(9.0, 0.2), at(9.0, 0.4), at(15.0, 0.3)];
        assert_eq!(one_a_day(&members, 8, 3.0).count(), 2);
    }
}
