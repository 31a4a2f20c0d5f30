//! What a cloud archive holds: its span, its steps, its hours, its years, and what is missing between.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Datelike, NaiveDate};

use super::packed::at_minutes;
use super::{CloudSeries, CloudTable};

/// How the figures follow each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Step {
    /// One a month.
    #[default]
    Monthly,
    /// A month's mean at several hours of the day.
    MonthlyByHour,
    /// One a day.
    Daily,
    /// Several a day.
    Hourly,
}

impl Step {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Step::Monthly => "monthly means",
            Step::MonthlyByHour => "monthly means by hour of the day",
            Step::Daily => "daily figures",
            Step::Hourly => "figures by the hour",
        }
    }

    /// Whether each figure is the mean of a month.
    pub fn is_monthly(self) -> bool {
        matches!(self, Step::Monthly | Step::MonthlyByHour)
    }
}

/// What an archive holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Holdings {
    /// How the figures follow each other.
    pub step: Step,
    /// First day.
    pub from: Option<NaiveDate>,
    /// Last day.
    pub to: Option<NaiveDate>,
    /// How many times there are.
    pub times: usize,
    /// Years that occur.
    pub years: Vec<i32>,
    /// Months that occur, 1 to 12.
    pub months: Vec<u32>,
    /// Hours of the day that occur, as written in the archive (UTC), at most 24 of them.
    pub hours_utc: Vec<f64>,
    /// Missing stretches of time, in words; the longest, and how many more.
    pub gaps: Vec<String>,
}

/// The step of a sorted axis of times, in minutes of UTC since 1970.
///
/// Months are told by their dates: however many hours each has, no two dates are nearer than 27 days.
pub fn step_of(minutes: &[i64]) -> Step {
    let mut dates: Vec<i64> = minutes.iter().map(|m| m.div_euclid(1440)).collect();
    dates.dedup();
    let by_hour = minutes.len() > dates.len();
    let monthly = dates.len() > 1 && dates.windows(2).all(|w| w[1] - w[0] >= 27);
    match (monthly, by_hour) {
        (true, true) => Step::MonthlyByHour,
        (true, false) => Step::Monthly,
        (false, true) => Step::Hourly,
        (false, false) => Step::Daily,
    }
}

/// Gaps that are named one by one.
const NAMED: usize = 4;

impl Holdings {
    /// Of sorted times, in minutes of UTC since 1970.
    pub fn of_minutes(minutes: &[i64], step: Step) -> Holdings {
        let at: Vec<(NaiveDate, f64)> = minutes.iter().filter_map(|&m| at_minutes(m)).collect();
        let mut hours: Vec<f64> = at.iter().map(|a| a.1).collect();
        hours.sort_by(f64::total_cmp);
        hours.dedup();
        hours.truncate(24);
        let years: BTreeSet<i32> = at.iter().map(|a| a.0.year()).collect();
        let months: BTreeSet<u32> = at.iter().map(|a| a.0.month()).collect();
        let mut dates: Vec<NaiveDate> = at.iter().map(|a| a.0).collect();
        dates.dedup();
        Holdings {
            step,
            from: dates.first().copied(),
            to: dates.last().copied(),
            times: minutes.len(),
            gaps: gaps(&dates, step, &months),
            years: years.into_iter().collect(),
            months: months.into_iter().collect(),
            hours_utc: if matches!(step, Step::Hourly | Step::MonthlyByHour) { hours } else { Vec::new() },
        }
    }

    /// Of the days that occur, of records as dense as `step`.
    pub fn of_dates(dates: &BTreeSet<NaiveDate>, times: usize, step: Step) -> Holdings {
        let years: BTreeSet<i32> = dates.iter().map(Datelike::year).collect();
        let months: BTreeSet<u32> = dates.iter().map(Datelike::month).collect();
        let list: Vec<NaiveDate> = dates.iter().copied().collect();
        Holdings {
            step,
            from: list.first().copied(),
            to: list.last().copied(),
            times,
            gaps: gaps(&list, step, &months),
            years: years.into_iter().collect(),
            months: months.into_iter().collect(),
            hours_utc: Vec::new(),
        }
    }

    /// Of the figures of a table; its hours are not told, since they are kept by the Sun of each place.
    pub fn of_table(table: &CloudTable) -> Holdings {
        if let Some(held) = &table.held {
            return held.clone();
        }
        if let CloudSeries::Means(means) = &table.series {
            let months: BTreeSet<u32> = means.iter().flatten().map(|m| u32::from(m.month)).collect();
            let by_hour = means.iter().flatten().any(|m| m.hour.is_some());
            let step = if by_hour { Step::MonthlyByHour } else { Step::Monthly };
            return Holdings { step, months: months.into_iter().collect(), ..Holdings::default() };
        }
        let mut by_day: BTreeMap<NaiveDate, usize> = BTreeMap::new();
        let mut times = 0;
        let mut most = 0;
        for node in 0..table.nodes.len() {
            let days = table.days(node);
            times = times.max(days.len());
            for day in days.chunk_by(|a, b| a.date == b.date) {
                most = most.max(day.len());
                *by_day.entry(day[0].date).or_default() += 1;
            }
        }
        let step = if most > 1 { Step::Hourly } else { Step::Daily };
        Holdings::of_dates(&by_day.keys().copied().collect(), times, step)
    }
}

/// Stretches without figures. A series that holds some months of every year only is not full of gaps: the months that occur
/// nowhere are not missed.
fn gaps(dates: &[NaiveDate], step: Step, months: &BTreeSet<u32>) -> Vec<String> {
    let mut found: Vec<(i64, String)> = Vec::new();
    for pair in dates.windows(2) {
        if step.is_monthly() {
            let count = |d: NaiveDate| i64::from(d.year()) * 12 + i64::from(d.month0());
            let missed: Vec<i64> = (count(pair[0]) + 1..count(pair[1]))
                .take(100_000)
                .filter(|m| months.contains(&(m.rem_euclid(12) as u32 + 1)))
                .collect();
            if let (Some(first), Some(last)) = (missed.first(), missed.last()) {
                let name = |m: i64| format!("{:04}-{:02}", m.div_euclid(12), m.rem_euclid(12) + 1);
                let words = if first == last { name(*first) } else { format!("{} to {}", name(*first), name(*last)) };
                found.push((missed.len() as i64, format!("{words} missing")));
            }
        } else {
            let days: Vec<NaiveDate> = pair[0]
                .iter_days()
                .skip(1)
                .take_while(|d| *d < pair[1])
                .take(200_000)
                .filter(|d| months.contains(&d.month()))
                .collect();
            if let (Some(first), Some(last)) = (days.first(), days.last()) {
                let words = if first == last { first.to_string() } else { format!("{first} to {last}") };
                found.push((days.len() as i64, format!("{words} missing")));
            }
        }
    }
    let more = found.len().saturating_sub(NAMED);
    if more > 0 {
        // The longest are named, in the order of time.
        let mut lengths: Vec<i64> = found.iter().map(|f| f.0).collect();
        lengths.sort_unstable_by(|a, b| b.cmp(a));
        let least = lengths[NAMED - 1];
        found.retain(|f| f.0 >= least);
        found.truncate(NAMED);
    }
    let mut words: Vec<String> = found.into_iter().map(|f| f.1).collect();
    if more > 0 {
        words.push(format!("and {more} shorter gaps"));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::super::packed::minutes_of;
    use super::*;

    fn day(y: i32, m: u32, d: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(y, m, d).unwrap()
    }

    #[test]
    fn months_days_and_hours_are_told_apart() {
        let at = |y, m, d, h: f64| minutes_of(day(y, m, d), h);
        assert_eq!(step_of(&[at(2020, 1, 1, 0.0), at(2020, 2, 1, 0.0), at(2020, 3, 1, 0.0)]), Step::Monthly);
        let by_hour = [at(2020, 2, 1, 0.0), at(2020, 2, 1, 12.0), at(2020, 3, 1, 0.0), at(2020, 3, 1, 12.0)];
        assert_eq!(step_of(&by_hour), Step::MonthlyByHour);
        assert_eq!(step_of(&[at(2020, 1, 1, 0.5), at(2020, 1, 1, 1.5)]), Step::Hourly);
        assert_eq!(step_of(&[at(2020, 1, 1, 12.0), at(2020, 1, 2, 12.0)]), Step::Daily);
    }

    #[test]
    fn gaps_are_named_but_seasons_are_not_gaps() {
        let minutes: Vec<i64> =
            [(2019, 7), (2019, 8), (2020, 7), (2021, 8)].map(|(y, m)| minutes_of(day(y, m, 1), 0.0)).to_vec();
        let held = Holdings::of_minutes(&minutes, step_of(&minutes));
        assert_eq!(held.gaps, ["2020-08 to 2021-07 missing"]);
        assert_eq!((held.years, held.months), (vec![2019, 2020, 2021], vec![7, 8]));
        let days: Vec<i64> = (1..=30).filter(|d| d % 3 != 0).map(|d| minutes_of(day(2020, 7, d), 0.0)).collect();
        let held = Holdings::of_minutes(&days, step_of(&days));
        assert_eq!(held.gaps.len(), 5, "{:?}", held.gaps);
        assert_eq!(held.gaps[4], "and 5 shorter gaps");
    }
}
