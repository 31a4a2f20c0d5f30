//! What of an archive is wanted: places, a season, an hour. Archives are larger than memory; a trip needs little of them.

use chrono::{Datelike, NaiveDate};

use crate::input::day_records::days_from;

/// A place that figures are wanted for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WantedPlace {
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east.
    pub lon_deg: f64,
    /// Hour of local mean solar time, where one hour alone is asked about.
    pub solar_hour: Option<f64>,
}

/// What is wanted; the default is everything.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// The places; none of them means everywhere.
    pub places: Vec<WantedPlace>,
    /// Grid points this near a place are read even where they do not surround it, degrees.
    pub around_deg: f64,
    /// Month and day in the middle of the season; `None` for the whole year.
    pub day: Option<(u32, u32)>,
    /// Days before and after it.
    pub half_window_days: u32,
    /// Only the axes are read, no figures: to tell what a file holds.
    pub axes_only: bool,
    /// Layers of cloud are read beside the total.
    pub layers: bool,
}

impl Default for Wanted {
    fn default() -> Wanted {
        Wanted { places: Vec::new(), around_deg: 0.0, day: None, half_window_days: 15, axes_only: false, layers: true }
    }
}

impl Wanted {
    /// Whether a day belongs to the season; a day more on either side, since the date turns with the longitude.
    pub fn has_day(&self, date: NaiveDate) -> bool {
        self.day.is_none_or(|(month, day)| {
            days_from(date, month, day).is_some_and(|(away, _)| away.abs() <= i64::from(self.half_window_days) + 1)
        })
    }

    /// Whether a month's mean is needed: that of the day, and those before and after it.
    pub fn has_month(&self, month: u32) -> bool {
        self.day.is_none_or(|(middle, _)| {
            let away = (i64::from(month) - i64::from(middle)).rem_euclid(12);
            away <= 1 || away == 11
        })
    }

    /// Whether a time of the season is wanted, by the rule that its series follows.
    pub fn has(&self, date: NaiveDate, monthly: bool) -> bool {
        if monthly { self.has_month(date.month()) } else { self.has_day(date) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_season_runs_round_the_year() {
        let wanted = Wanted { day: Some((1, 3)), ..Wanted::default() };
        let date = |y, m, d| NaiveDate::from_ymd_opt(y, m, d).unwrap();
        assert!(wanted.has_day(date(2020, 12, 19)) && wanted.has_day(date(2020, 1, 18)));
        assert!(!wanted.has_day(date(2020, 12, 17)) && !wanted.has_day(date(2020, 2, 1)));
        assert!(wanted.has_month(12) && wanted.has_month(1) && wanted.has_month(2) && !wanted.has_month(3));
        assert!(Wanted::default().has(date(2020, 7, 1), true));
    }
}
