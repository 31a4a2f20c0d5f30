//! Time axes by the CF conventions: "hours since 1900-01-01", in the calendars that name real days.
//!
//! # Source
//! CF Conventions 1.11, section 4.4. Check value: 1109874 hours since 1900-01-01 and 1786557600 seconds since 1970-01-01 are both
//! 2026-08-12 18:00 UTC (computed independently, listed with the project's sources).

use chrono::{DateTime, Datelike, Duration, Months, NaiveDate};

/// The calendars of the conventions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Calendar {
    /// Mixed or proleptic Gregorian: the same for the years that cloud was watched in.
    Gregorian,
    NoLeap,
    AllLeap,
    ThreeSixty,
    Julian,
}

/// A time axis: its unit, its epoch, its calendar.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct CfTime {
    /// Minutes of one unit; `None` for months of the calendar.
    unit_minutes: Option<f64>,
    epoch: (i64, u32, u32),
    epoch_minutes: f64,
    calendar: Calendar,
}

impl CfTime {
    /// Reads `units` and `calendar`.
    ///
    /// # Errors
    /// What is wrong, and what would be right.
    pub fn parse(units: &str, calendar: Option<&str>) -> Result<CfTime, (String, String)> {
        const RIGHT: &str = "give time units by CF, like \"hours since 1900-01-01 00:00:00\"";
        let wrong = || (format!("\"{units}\" is not a unit of time"), RIGHT.to_owned());
        let calendar = match calendar.unwrap_or("standard").trim().to_ascii_lowercase().as_str() {
            "standard" | "gregorian" | "proleptic_gregorian" | "" => Calendar::Gregorian,
            "noleap" | "365_day" => Calendar::NoLeap,
            "all_leap" | "366_day" => Calendar::AllLeap,
            "360_day" => Calendar::ThreeSixty,
            "julian" => Calendar::Julian,
            other => {
                let right = "convert it to the calendar \"standard\"; known are standard, proleptic_gregorian, noleap, \
                             all_leap, 360_day and julian";
                return Err((format!("its calendar is \"{other}\", which names no days of ours"), right.to_owned()));
            }
        };
        let lower = units.trim().to_ascii_lowercase();
        let (unit, epoch) = lower.split_once(" since ").ok_or_else(wrong)?;
        let unit_minutes = match unit.trim() {
            "s" | "sec" | "secs" | "second" | "seconds" => Some(1.0 / 60.0),
            "min" | "mins" | "minute" | "minutes" => Some(1.0),
            "h" | "hr" | "hrs" | "hour" | "hours" => Some(60.0),
            "d" | "day" | "days" => Some(1440.0),
            "month" | "months" => None,
            _ => return Err(wrong()),
        };
        let epoch = epoch.trim().trim_end_matches("utc").trim_end_matches('z').trim();
        let (date, clock) = match epoch.find(['t', ' ']) {
            Some(i) => (&epoch[..i], epoch[i + 1..].trim()),
            None => (epoch, ""),
        };
        let date: Vec<&str> = date.split('-').collect();
        let &[year, month, day] = date.as_slice() else { return Err(wrong()) };
        let number = |text: &str, low: u32, high: u32| {
            text.parse::<u32>().ok().filter(|n| (low..=high).contains(n)).ok_or_else(wrong)
        };
        let (year, month, day) = (number(year, 0, 9999)?, number(month, 1, 12)?, number(day, 1, 31)?);
        let epoch_minutes = clock_minutes(clock).ok_or_else(wrong)?;
        let epoch = (i64::from(year), month, day);
        if calendar == Calendar::Gregorian && NaiveDate::from_ymd_opt(year as i32, month, day).is_none() {
            return Err(wrong());
        }
        Ok(CfTime { unit_minutes, epoch, epoch_minutes, calendar })
    }

    /// Minutes of UTC since 1970 of a value of the axis; `None` for a value that is no time, or a day that our calendar lacks
    /// (30 February of a year of 360 days).
    pub fn minutes(&self, value: f64) -> Option<i64> {
        if !value.is_finite() || value.abs() > 1e12 {
            return None;
        }
        let (year, month, day) = self.epoch;
        let Some(unit) = self.unit_minutes else {
            // Whole months of the calendar; a half counts as the middle of its month.
            let start = NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, month, day)?;
            let whole = value.floor();
            let date = if whole < 0.0 {
                start.checked_sub_months(Months::new((-whole) as u32))?
            } else {
                start.checked_add_months(Months::new(whole as u32))?
            };
            let date = date.checked_add_signed(Duration::days(((value - whole) * 30.0) as i64))?;
            return Some(days_since_1970(date) * 1440 + self.epoch_minutes as i64);
        };
        let minutes = value * unit + self.epoch_minutes;
        if minutes.abs() > 1e10 {
            return None;
        }
        let minutes = minutes.round() as i64;
        let (days, rest) = (minutes.div_euclid(1440), minutes.rem_euclid(1440));
        let date = match self.calendar {
            Calendar::Gregorian => NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, month, day)?
                .checked_add_signed(Duration::try_days(days)?)?,
            Calendar::NoLeap => fixed_year(year, month, day, days, &[31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])?,
            Calendar::AllLeap => fixed_year(year, month, day, days, &[31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])?,
            Calendar::ThreeSixty => fixed_year(year, month, day, days, &[30; 12])?,
            Calendar::Julian => {
                // Days since 0000-03-01 of the Julian calendar, whose year has 365.25 days; that day is 0000-02-28 Gregorian.
                let (y, m) = if month > 2 { (year, i64::from(month) - 3) } else { (year - 1, i64::from(month) + 9) };
                let julian = (y * 1461).div_euclid(4) + (153 * m + 2) / 5 + i64::from(day) - 1 + days;
                NaiveDate::from_ymd_opt(0, 2, 28)?.checked_add_signed(Duration::try_days(julian)?)?
            }
        };
        Some(days_since_1970(date) * 1440 + rest)
    }
}

fn days_since_1970(date: NaiveDate) -> i64 {
    (date - DateTime::UNIX_EPOCH.date_naive()).num_days()
}

/// The date some days after an epoch, in a calendar whose years are all alike.
fn fixed_year(year: i64, month: u32, day: u32, days: i64, lengths: &[i64; 12]) -> Option<NaiveDate> {
    let length: i64 = lengths.iter().sum();
    let before: i64 = lengths.iter().take(month as usize - 1).sum();
    let total = year * length + before + i64::from(day) - 1 + days;
    let (year, mut rest) = (total.div_euclid(length), total.rem_euclid(length));
    let mut month = 0;
    while rest >= lengths[month] {
        rest -= lengths[month];
        month += 1;
    }
    NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, month as u32 + 1, rest as u32 + 1)
}

/// `06:00:0.0`, with or without an offset, in minutes.
fn clock_minutes(text: &str) -> Option<f64> {
    if text.is_empty() {
        return Some(0.0);
    }
    let (clock, offset) = match text.rfind(['+', '-']) {
        Some(i) => {
            let sign = if text[i..].starts_with('-') { -1.0 } else { 1.0 };
            (text[..i].trim(), sign * hms(&text[i + 1..])?)
        }
        None => (text, 0.0),
    };
    Some(hms(clock)? - offset)
}

fn hms(text: &str) -> Option<f64> {
    let parts: Vec<f64> = text.trim().split(':').map(|p| p.trim().parse().ok()).collect::<Option<_>>()?;
    let at = |i: usize| parts.get(i).copied().unwrap_or(0.0);
    let fits = parts.len() <= 3 && (0.0..=24.0).contains(&at(0)) && (0.0..60.0).contains(&at(1)) && at(2) >= 0.0;
    (fits && at(2) < 61.0).then(|| at(0) * 60.0 + at(1) + at(2) / 60.0)
}

/// Year and month of minutes since 1970.
pub(super) fn year_month(minutes: i64) -> Option<(i32, u8)> {
    let (date, _) = super::packed::at_minutes(minutes)?;
    Some((date.year(), date.month() as u8))
}

#[cfg(test)]
mod tests {
    use super::super::packed::at_minutes;
    use super::*;

    fn at(units: &str, calendar: Option<&str>, value: f64) -> String {
        match CfTime::parse(units, calendar).unwrap().minutes(value).and_then(at_minutes) {
            Some((date, hour)) => format!("{date} {hour}"),
            None => "none".to_owned(),
        }
    }

    /// The first two from the project's sources; the others with cftime 1.6 (num2date), the Julian one by the almanac: the
    /// Julian calendar is thirteen days behind in our centuries.
    #[test]
    fn axes_of_every_calendar_give_the_days_they_mean() {
        for (units, calendar, value, expected) in [
            ("hours since 1900-01-01 00:00:00.0", Some("gregorian"), 1_109_874.0, "2026-08-12 18"),
            ("seconds since 1970-01-01", Some("proleptic_gregorian"), 1_786_557_600.0, "2026-08-12 18"),
            ("minutes since 2020-02-28 00:30:00", None, 1440.0 * 2.0, "2020-03-01 0.5"),
            ("days since 2000-01-01T12:00:00Z", Some("standard"), 59.5, "2000-03-01 0"),
            ("days since 2000-01-01", Some("noleap"), 59.0, "2000-03-01 0"),
            ("days since 2001-01-01", Some("366_day"), 60.0, "2001-03-01 0"),
            ("days since 2001-01-01", Some("366_day"), 59.0, "none"),
            ("days since 2000-01-01", Some("360_day"), 360.0 * 20.0 + 30.0, "2020-02-01 0"),
            ("days since 2000-01-01", Some("360_day"), 59.0, "none"),
            ("days since 2020-01-01", Some("julian"), 0.0, "2020-01-14 0"),
            ("hours since 1990-01-01 00:00:00 -6:00", None, 0.0, "1990-01-01 6"),
            ("months since 1980-01-01", None, 13.0, "1981-02-01 0"),
            ("days since 1970-01-01", None, -1.0, "1969-12-31 0"),
        ] {
            assert_eq!(at(units, calendar, value), expected, "{units} {calendar:?} {value}");
        }
    }

    #[test]
    fn what_is_no_axis_of_time_says_so() {
        for bad in ["", "hours", "hours since yesterday", "furlongs since 1900-01-01", "days since 1900-13-01", "K"] {
            let (wrong, right) = CfTime::parse(bad, None).unwrap_err();
            assert!(wrong.contains("is not a unit of time") && right.contains("hours since"), "{bad}: {wrong}");
        }
        assert!(CfTime::parse("days since 2000-01-01", Some("lunar")).unwrap_err().0.contains("lunar"));
        let axis = CfTime::parse("days since 2000-01-01", None).unwrap();
        assert_eq!((axis.minutes(f64::NAN), axis.minutes(1e15), axis.minutes(9e11)), (None, None, None));
    }
}
