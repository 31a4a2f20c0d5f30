//! TT − UTC from the leap-second table, shipped with its date.

use chrono::{Datelike, NaiveDate};
use noonfall_data::time::{AS_OF, LEAP_SECONDS};
use std::sync::LazyLock;

/// TT − TAI, seconds.
const TT_MINUS_TAI_S: f64 = 32.184;

struct Step {
    /// Days past 2000-01-01 12:00 UTC from which the offset holds.
    from_day: f64,
    tai_minus_utc_s: f64,
}

static STEPS: LazyLock<Vec<Step>> = LazyLock::new(|| {
    LEAP_SECONDS
        .lines()
        .skip(1)
        .filter_map(|line| {
            let (date, seconds) = line.split_once(',')?;
            Some(Step { from_day: day_of(date)?, tai_minus_utc_s: seconds.trim().parse().ok()? })
        })
        .collect()
});

static KNOWN_THROUGH_DAYS: LazyLock<f64> =
    LazyLock::new(|| as_of("leap_seconds_known_through").and_then(|d| day_of(&d)).unwrap_or(0.0));

/// Days past 2000-01-01 12:00 of the midnight that starts a date.
fn day_of(date: &str) -> Option<f64> {
    let date: NaiveDate = date.trim().parse().ok()?;
    Some(f64::from(date.num_days_from_ce() - 730_120) - 0.5)
}

/// The date of an item of the shipped `as-of.csv`.
pub(crate) fn as_of(item: &str) -> Option<String> {
    AS_OF.lines().find_map(|line| line.strip_prefix(item)?.strip_prefix(',').map(|date| date.trim().to_owned()))
}

/// TT − UTC.
///
/// # Units
/// `utc_days`: days of the civil clock past 2000-01-01 12:00 UTC. The result is in seconds.
///
/// Before 1972 the first value of the table is held: civil time then followed the Earth within seconds, and outputs
/// for those years are for history, not for a watch. After the last step its value is held.
/// ```
/// // 2017 on: TAI − UTC = 37 s, so TT − UTC = 69.184 s (IERS Bulletin C 52).
/// assert_eq!(noonfall_ephemeris::leap_seconds::tt_minus_utc(365.25 * 20.0), 69.184);
/// ```
pub fn tt_minus_utc(utc_days: f64) -> f64 {
    let steps = &*STEPS;
    let after = steps.partition_point(|step| step.from_day <= utc_days);
    let tai_minus_utc_s = steps.get(after.saturating_sub(1)).map_or(10.0, |step| step.tai_minus_utc_s);
    tai_minus_utc_s + TT_MINUS_TAI_S
}

/// Through when the table is known to be complete.
///
/// # Units
/// Days past 2000-01-01 12:00.
pub fn known_through_days() -> f64 {
    *KNOWN_THROUGH_DAYS
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Steps as announced in IERS Bulletin C: 2015-07-01 (36 s), 2017-01-01 (37 s).
    #[test]
    fn the_offset_changes_at_midnight() {
        let day = |d: &str| day_of(d).unwrap();
        assert_eq!(tt_minus_utc(day("2015-07-01") - 1e-6), 35.0 + 32.184);
        assert_eq!(tt_minus_utc(day("2015-07-01")), 36.0 + 32.184);
        assert_eq!(tt_minus_utc(day("2017-01-01")), 69.184);
        assert_eq!(tt_minus_utc(day("1960-01-01")), 42.184);
    }

    #[test]
    fn the_table_says_how_far_it_reaches() {
        assert!(known_through_days() > day_of("2026-01-01").unwrap());
        assert_eq!(STEPS.len(), LEAP_SECONDS.lines().count() - 1);
    }
}
