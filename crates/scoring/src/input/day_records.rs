//! Day records: the cloud cover of single days over many years, the honest ground for a chance and its uncertainty.

use chrono::{Datelike, Duration, NaiveDate};

use super::clouds::Layers;
use super::table::Row;
use crate::fault::Fault;

/// The cloud cover of one day at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayCover {
    /// The day, by local solar time.
    pub date: NaiveDate,
    /// Hour of local mean solar time, 0 to below 24; `None` where the file has no hours.
    pub hour: Option<f64>,
    /// Cover, 0 to 1.
    pub cover: f64,
    /// Its layers, where the archive has them.
    pub layers: Option<Layers>,
}

impl DayCover {
    /// A record without layers.
    pub fn new(date: NaiveDate, hour: Option<f64>, cover: f64) -> DayCover {
        DayCover { date, hour, cover, layers: None }
    }
}

/// The date in a cell, ISO 8601 (`2028-07-22`).
///
/// # Errors
/// A fault that tells an impossible day of the calendar from text that is no date.
pub(super) fn date(row: &Row<'_>, column: usize) -> Result<NaiveDate, Fault> {
    const RIGHT: &str = "give a date of the calendar as year-month-day, like 2028-07-22";
    let text = row.text(column);
    if text.is_empty() {
        return Err(row.fault(column, "the cell is empty", RIGHT));
    }
    let parts: Vec<&str> = text.split('-').collect();
    let iso = matches!(parts.as_slice(), [y, m, d] if y.len() == 4 && m.len() == 2 && d.len() == 2);
    if !iso || !parts.iter().all(|p| p.bytes().all(|b| b.is_ascii_digit())) {
        return Err(row.fault(column, format!("{text:?} is not a date"), RIGHT));
    }
    NaiveDate::parse_from_str(text, "%Y-%m-%d")
        .map_err(|_| row.fault(column, format!("{text:?} is not a day of the calendar"), RIGHT))
}

/// Date and hour of UTC in one cell, ISO 8601 or with a blank (`2028-07-22T03:00:00Z`, `2028-07-22 03:00`); the hour is `None`
/// where only a date stands there.
///
/// # Errors
/// A fault for text that is no time.
pub(super) fn instant(row: &Row<'_>, column: usize) -> Result<(NaiveDate, Option<f64>), Fault> {
    const RIGHT: &str = "give date and hour of UTC, like 2028-07-22T03:00:00Z";
    let text = row.text(column);
    parse_instant(text).ok_or_else(|| row.fault(column, format!("{text:?} is not a time"), RIGHT))
}

/// As [`instant`], from text alone.
pub(super) fn parse_instant(text: &str) -> Option<(NaiveDate, Option<f64>)> {
    let (day, clock) = match text.find(['T', 't', ' ']) {
        Some(i) => (&text[..i], Some(text[i + 1..].trim())),
        None => (text, None),
    };
    let date = if day.len() == 8 && day.bytes().all(|b| b.is_ascii_digit()) {
        NaiveDate::parse_from_str(day, "%Y%m%d").ok()?
    } else {
        NaiveDate::parse_from_str(day, "%Y-%m-%d").ok().filter(|d| (1..=9999).contains(&d.year()))?
    };
    let Some(clock) = clock else { return Some((date, None)) };
    let clock = clock.trim_end_matches("UTC").trim_end_matches(['Z', 'z']).trim_end_matches("+00:00").trim();
    let mut parts = clock.split(':');
    let mut next = |most: f64| -> Option<f64> {
        match parts.next() {
            None => Some(0.0),
            Some(p) => p.parse::<f64>().ok().filter(|v| (0.0..most).contains(v) && !p.starts_with('+')),
        }
    };
    let (h, m, s) = (next(24.0)?, next(60.0)?, next(61.0)?);
    parts.next().is_none().then_some((date, Some(h + m / 60.0 + s / 3600.0)))
}

/// The day and hour by local solar time, when the hour has run out of its day.
pub(crate) fn at_solar_hour(date: NaiveDate, hour: Option<f64>) -> Option<(NaiveDate, Option<f64>)> {
    let Some(hour) = hour else { return Some((date, None)) };
    let days = (hour / 24.0).floor();
    let date = date.checked_add_signed(Duration::days(days as i64))?;
    Some((date, Some((hour - 24.0 * days).clamp(0.0, 24.0 - 1e-9))))
}

/// How many days a date lies from the nearest return of a day of the year, and the year of that return.
///
/// # Units
/// Days, positive when the date is later. 29 February returns as 28 February in common years.
pub fn days_from(date: NaiveDate, month: u32, day: u32) -> Option<(i64, i32)> {
    let of = |year: i32| {
        NaiveDate::from_ymd_opt(year, month, day)
            .or_else(|| (month == 2 && day == 29).then(|| NaiveDate::from_ymd_opt(year, 2, 28)).flatten())
    };
    (date.year() - 1..=date.year() + 1)
        .filter_map(|year| of(year).map(|d| ((date - d).num_days(), year)))
        .min_by_key(|(days, _)| days.abs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::clouds::{CloudSeries, CloudTable};

    fn read(text: &str) -> Result<Vec<DayCover>, String> {
        let table = CloudTable::from_bytes("d.csv", text.as_bytes().to_vec()).map_err(|f| f.to_string())?;
        let CloudSeries::Days(mut days) = table.series else { panic!("day records expected") };
        Ok(days.swap_remove(0))
    }

    #[test]
    fn days_come_sorted_and_by_the_solar_day() {
        let days = read("lat,lon,date,hour_utc,cloud_okta\n-30,150,2020-12-31,20,4\n-30,150,2020-12-31,2,8\n").unwrap();
        let date = |y, m, d| NaiveDate::from_ymd_opt(y, m, d).unwrap();
        assert_eq!(
            days,
            [
                DayCover::new(date(2020, 12, 31), Some(12.0), 1.0),
                // 20 h UTC at 150° E is 6 h of the next day by the Sun.
                DayCover::new(date(2021, 1, 1), Some(6.0), 0.5),
            ]
        );
    }

    #[test]
    fn impossible_dates_and_duplicate_days_are_refused() {
        let text = "lat,lon,date,cloud_okta\n1,2,2021-02-29,4\n1,2,22/07/2021,4\n1,2,2021-7-1,4\n1,2,,4\n1,2,2021-07-01,4\n\
                    1,2,2021-07-01,5\n1,2,+021-07-01,5\n";
        let text = read(text).unwrap_err();
        assert_eq!(text.lines().count(), 6, "{text}");
        assert!(text.contains("d.csv:2: column date: \"2021-02-29\" is not a day of the calendar"), "{text}");
        assert!(text.contains("\"22/07/2021\" is not a date; give a date of the calendar as year-month-day"), "{text}");
        assert!(text.contains("d.csv:7: column date: the same place and date as on line 6"), "{text}");
    }

    #[test]
    fn times_with_their_hour_are_read_in_the_forms_that_archives_write() {
        let date = NaiveDate::from_ymd_opt(2028, 7, 22);
        for (text, hour) in [
            ("2028-07-22", None),
            ("2028-07-22T03:30:00Z", Some(3.5)),
            ("2028-07-22 03:30", Some(3.5)),
            ("2028-07-22 03:00:00+00:00", Some(3.0)),
            ("20280722T2100Z", None),
        ] {
            let expected = if text.ends_with("2100Z") { None } else { date.map(|d| (d, hour)) };
            assert_eq!(parse_instant(text), expected, "{text}");
        }
        for bad in ["", "x", "2028-02-30", "2028-07-22T25:00", "2028-07-22T-1:00", "2028-07-22T01:00:00:00"] {
            assert_eq!(parse_instant(bad), None, "{bad}");
        }
    }

    #[test]
    fn the_nearest_return_of_a_day_may_be_in_another_year() {
        let date = |y, m, d| NaiveDate::from_ymd_opt(y, m, d).unwrap();
        assert_eq!(days_from(date(2021, 1, 3), 12, 25), Some((9, 2020)));
        assert_eq!(days_from(date(2020, 12, 25), 1, 3), Some((-9, 2021)));
        assert_eq!(days_from(date(2021, 3, 1), 2, 29), Some((1, 2021)));
        assert_eq!(days_from(date(2021, 3, 1), 2, 30), None);
    }
}
