//! The day records of a season at one place, boiled down to what the chances need.

use chrono::NaiveDate;

use crate::input::day_records::DayCover;

/// One day's cover.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Day {
    pub date: NaiveDate,
    pub cover: f64,
}

/// The record of each day nearest to a whole hour, no farther than `near_hours`; records come sorted by date and hour.
pub(super) fn one_a_day(records: &[DayCover], hour: usize, near_hours: f64) -> impl Iterator<Item = Day> + '_ {
    let away = move |r: &DayCover| {
        r.hour.map_or(0.0, |h| {
            let d = (h - hour as f64).rem_euclid(24.0);
            d.min(24.0 - d)
        })
    };
    records.chunk_by(|a, b| a.date == b.date).filter_map(move |day| {
        let best = day.iter().min_by(|a, b| away(a).total_cmp(&away(b)))?;
        (away(best) <= near_hours).then_some(Day { date: best.date, cover: best.cover })
    })
}

/// Different covers kept apart; more are gathered into this many classes, each at its mean.
const CLASSES: usize = 128;

/// A season's days at one place.
#[derive(Clone, Debug)]
pub(super) struct DaySample {
    /// The days, by date.
    pub days: Vec<Day>,
    /// Covers that occur and how many days had them.
    pub covers: Vec<(f64, f64)>,
    pub mean_cover: f64,
    pub years: u32,
    /// Number of independent days the sample is worth.
    pub effective_days: f64,
}

impl DaySample {
    /// The sample of days, each with the year of its season; `years` where the file states their number.
    pub fn of(days: Vec<(Day, i32)>, years: Option<u32>) -> Option<DaySample> {
        if days.is_empty() {
            return None;
        }
        let n = days.len() as f64;
        let mean_cover = days.iter().map(|(d, _)| d.cover).sum::<f64>() / n;
        let mut seasons: Vec<i32> = days.iter().map(|(_, year)| *year).collect();
        seasons.sort_unstable();
        seasons.dedup();
        let years = years.unwrap_or(seasons.len() as u32);
        let effective_days = effective(&days, mean_cover, years);
        let days: Vec<Day> = days.into_iter().map(|(d, _)| d).collect();
        Some(DaySample { covers: classes(&days), days, mean_cover, years, effective_days })
    }
}

/// Number of independent days, from the likeness of one day to the next: n (1 − r)/(1 + r), the usual correction of a mean of a
/// first-order autoregressive series (Wilks, Statistical Methods in the Atmospheric Sciences, from memory). Never below the
/// number of years (or days, if fewer), never above the number of days. Skies that never change tell nothing of r: the years count.
fn effective(days: &[(Day, i32)], mean: f64, years: u32) -> f64 {
    let n = days.len() as f64;
    let floor = f64::from(years).clamp(1.0, n);
    let variance = days.iter().map(|(d, _)| (d.cover - mean).powi(2)).sum::<f64>() / n;
    let mut pairs = 0.0;
    let mut product = 0.0;
    for pair in days.windows(2) {
        if (pair[1].0.date - pair[0].0.date).num_days() == 1 {
            pairs += 1.0;
            product += (pair[0].0.cover - mean) * (pair[1].0.cover - mean);
        }
    }
    if variance <= 1e-9 {
        return floor;
    }
    let r = if pairs >= 10.0 { (product / pairs / variance).clamp(0.0, 0.95) } else { 0.0 };
    (n * (1.0 - r) / (1.0 + r)).clamp(floor, n)
}

fn classes(days: &[Day]) -> Vec<(f64, f64)> {
    let mut covers: Vec<f64> = days.iter().map(|d| d.cover).collect();
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
        covers
            .into_iter()
            .enumerate()
            .map(|(i, cover)| (Day { date: start + Duration::days(i as i64), cover }, 2001))
            .collect()
    }

    /// A first-order autoregressive series by its definition: each day keeps the sky of the day before with chance r.
    #[test]
    fn lasting_weather_makes_days_count_for_less() {
        let mut state = 12345_u64;
        let mut random = move || {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        let mut sky = 0.0;
        let series: Vec<f64> = (0..4000)
            .map(|_| {
                if random() >= 0.5 {
                    sky = if random() < 0.4 { 0.0 } else { 1.0 };
                }
                sky
            })
            .collect();
        // r = 0.5 leaves one third of the days.
        let n = DaySample::of(days(series), None).unwrap().effective_days;
        assert!((n / 4000.0 - 1.0 / 3.0).abs() < 0.03, "{n}");
    }

    #[test]
    fn a_sky_that_never_changes_counts_by_years_and_alternation_never_counts_for_more_than_its_days() {
        assert_eq!(DaySample::of(days([0.5; 31]), None).unwrap().effective_days, 1.0);
        assert_eq!(DaySample::of(days([0.5; 31]), Some(7)).unwrap().effective_days, 7.0);
        let alternating = (0..30).map(|i| f64::from(i % 2));
        assert_eq!(DaySample::of(days(alternating), None).unwrap().effective_days, 30.0);
        assert!(DaySample::of(Vec::new(), None).is_none());
    }

    #[test]
    fn classes_keep_the_mean_and_the_expected_chance() {
        use crate::outlook::line_of_sight::LineOfSight;
        let covers: Vec<f64> = (0..1500).map(|i| (f64::from(i) * 0.618_033_98).fract().powi(2)).collect();
        let sample = DaySample::of(days(covers.clone()), None).unwrap();
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
        let at = |hour: f64, cover: f64| DayCover { date, hour: Some(hour), cover };
        let records = [at(1.0, 0.1), at(9.0, 0.2), at(15.0, 0.3)];
        let cover = |hour: usize| one_a_day(&records, hour, 3.0).next().map(|d| d.cover);
        assert_eq!(cover(23), Some(0.1));
        assert_eq!(cover(8), Some(0.2));
        assert_eq!(cover(12), Some(0.2));
        assert_eq!(cover(20), None);
    }
}
