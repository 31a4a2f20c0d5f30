//! TT inside, UTC for people, TDB for the ephemeris, UT1 for the turning Earth.

use crate::constants::DAY_S;
use crate::leap_seconds;
use chrono::{DateTime, Datelike, NaiveDate, TimeZone, Utc};
use std::ops::Sub;

/// Julian date of J2000.0, the zero of [`Tt`].
pub const J2000_JD: f64 = 2_451_545.0;

/// Terrestrial time.
///
/// # Units
/// Seconds past J2000.0 (JD 2 451 545.0 TT). A double resolves better than a microsecond for centuries about J2000.
/// ```
/// use noonfall_ephemeris::Tt;
/// // Greatest eclipse of 2017-08-21 by NASA/TP-2006-214141: 18:26:40 TD, which is 18:25:31 UTC.
/// let greatest = Tt::from_calendar(2017, 8, 21, 18.0 + 26.0 / 60.0 + 40.0 / 3600.0);
/// assert_eq!(greatest.to_utc().to_rfc3339(), "2017-08-21T18:25:30.816+00:00");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Tt(pub f64);

impl Tt {
    /// The instant of a calendar date (proleptic Gregorian) in TT, `hours` past its midnight.
    pub fn from_calendar(year: i32, month: u32, day: u32, hours: f64) -> Tt {
        let days = NaiveDate::from_ymd_opt(year, month, day).map_or(0, days_past_j2000_noon);
        Tt((days as f64 - 0.5) * DAY_S + hours * 3600.0)
    }

    /// The instant of a Julian date in TT.
    /// ```
    /// use noonfall_ephemeris::Tt;
    /// assert_eq!(Tt::from_julian_date(2_451_545.0), Tt::from_calendar(2000, 1, 1, 12.0));
    /// ```
    pub fn from_julian_date(jd: f64) -> Tt {
        Tt((jd - J2000_JD) * DAY_S)
    }

    /// The instant of a civil time in UTC. Before 1972 UTC is taken as UT1's stand-in with TT − UTC held at its first
    /// value; see [`leap_seconds::tt_minus_utc`].
    /// ```
    /// use noonfall_ephemeris::Tt;
    /// // From 2017 on TT is 37 + 32.184 s ahead of UTC.
    /// let utc = "2017-01-01T00:00:00Z".parse().unwrap();
    /// assert!((Tt::from_utc(utc) - Tt::from_calendar(2017, 1, 1, 0.0) - 69.184).abs() < 1e-6);
    /// ```
    pub fn from_utc(utc: DateTime<Utc>) -> Tt {
        let seconds = utc_seconds(utc);
        Tt(seconds + leap_seconds::tt_minus_utc(seconds / DAY_S))
    }

    /// The civil time in UTC, to the millisecond. Within a leap second the clock repeats the second before it.
    pub fn to_utc(self) -> DateTime<Utc> {
        // The offset depends on UTC, which depends on the offset: two rounds settle it.
        let mut utc_s = self.0 - leap_seconds::tt_minus_utc(self.0 / DAY_S);
        utc_s = self.0 - leap_seconds::tt_minus_utc(utc_s / DAY_S);
        civil(utc_s)
    }

    /// Whether UTC at this instant rests on a leap-second table that has run out.
    pub fn utc_is_predicted(self) -> bool {
        self.0 > leap_seconds::known_through_days() * DAY_S
    }

    /// The instant in TT to the millisecond as RFC 3339 without an offset: `2028-07-22T02:56:39.550`.
    /// ```
    /// use noonfall_ephemeris::Tt;
    /// assert_eq!(Tt::from_calendar(2028, 7, 22, 2.5).rfc3339(), "2028-07-22T02:30:00.000");
    /// ```
    pub fn rfc3339(self) -> String {
        civil(self.0).format("%Y-%m-%dT%H:%M:%S%.3f").to_string()
    }

    /// Calendar date in TT.
    pub fn calendar_date(self) -> NaiveDate {
        civil(self.0).date_naive()
    }

    /// The instant `seconds` later.
    pub fn plus(self, seconds: f64) -> Tt {
        Tt(self.0 + seconds)
    }

    /// Julian date in TT.
    /// ```
    /// use noonfall_ephemeris::Tt;
    /// assert_eq!(Tt::from_calendar(2028, 7, 22, 12.0).julian_date(), 2_461_975.0);
    /// ```
    pub fn julian_date(self) -> f64 {
        J2000_JD + self.0 / DAY_S
    }

    /// Decimal year, counted in Julian years from 2000.0.
    /// ```
    /// use noonfall_ephemeris::Tt;
    /// assert!((Tt::from_calendar(2028, 7, 1, 0.0).year() - 2028.498).abs() < 0.001);
    /// ```
    pub fn year(self) -> f64 {
        2000.0 + (self.0 / DAY_S + 0.5) / 365.25
    }

    /// Julian centuries of TT from J2000.0.
    pub fn centuries(self) -> f64 {
        self.0 / (36_525.0 * DAY_S)
    }

    /// Barycentric dynamical time, seconds past J2000.0, the argument of the ephemeris.
    ///
    /// # Source
    /// USNO Circular 179 (Kaplan 2005), equation 2.6: within 10 µs of the full series, 1600 to 2200. The Moon moves a
    /// centimetre in that time.
    pub fn tdb_seconds(self) -> f64 {
        self.0 + self.tdb_minus_tt_s()
    }

    /// TDB − TT, seconds; see [`Tt::tdb_seconds`].
    /// ```
    /// use noonfall_ephemeris::Tt;
    /// // ERFA's test of `eraDtdb` (from memory) has −1.280 ms, 2 µs of it from the place on the Earth.
    /// let tt = Tt::from_julian_date(2_448_939.623);
    /// assert!((tt.tdb_minus_tt_s() + 1.280e-3).abs() < 1e-5);
    /// ```
    pub fn tdb_minus_tt_s(self) -> f64 {
        let t = self.centuries();
        0.001_657 * (628.3076 * t + 6.2401).sin()
            + 0.000_022 * (575.3385 * t + 4.2970).sin()
            + 0.000_014 * (1256.6152 * t + 6.1969).sin()
            + 0.000_005 * (606.9777 * t + 4.0212).sin()
            + 0.000_005 * (52.9691 * t + 0.4444).sin()
            + 0.000_002 * (21.3299 * t + 5.5431).sin()
            + 0.000_010 * t * (628.3076 * t + 4.2490).sin()
    }
}

impl Sub for Tt {
    type Output = f64;

    /// Seconds from `earlier` to `self`.
    fn sub(self, earlier: Tt) -> f64 {
        self.0 - earlier.0
    }
}

/// Unix time of 2000-01-01 12:00 UTC, milliseconds.
const J2000_NOON_MS: i64 = 946_728_000_000;

/// The calendar's view of seconds past 2000-01-01 12:00, to the millisecond. What lies beyond the calendar's reach (a
/// damaged kernel may say anything) is held at its end.
fn civil(seconds: f64) -> DateTime<Utc> {
    let milliseconds = (seconds * 1000.0).round().clamp(-8e15, 8e15) as i64;
    DateTime::from_timestamp_millis(J2000_NOON_MS + milliseconds).unwrap_or(DateTime::UNIX_EPOCH)
}

/// Whole days from 2000-01-01 to `date`.
fn days_past_j2000_noon(date: NaiveDate) -> i64 {
    i64::from(date.num_days_from_ce()) - 730_120
}

/// Seconds of the civil clock past 2000-01-01 12:00 UTC, leap seconds not counted.
fn utc_seconds(utc: DateTime<Utc>) -> f64 {
    (utc.timestamp() - J2000_NOON_MS / 1000) as f64 + f64::from(utc.timestamp_subsec_nanos()) * 1e-9
}

/// Midnight UTC at the start of a date.
pub fn midnight_utc(date: NaiveDate) -> DateTime<Utc> {
    Utc.from_utc_datetime(&date.and_time(chrono::NaiveTime::MIN))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn j2000_is_zero_and_calendar_dates_count_from_it() {
        assert_eq!(Tt::from_calendar(2000, 1, 1, 12.0).0, 0.0);
        // JD 2 451 910.5 is 2001-01-01 00:00 (any almanac).
        assert_eq!(Tt::from_calendar(2001, 1, 1, 0.0).julian_date(), 2_451_910.5);
        assert_eq!(Tt::from_calendar(1900, 1, 1, 12.0).julian_date(), 2_415_021.0);
    }

    #[test]
    fn utc_and_back_is_the_same_millisecond() {
        for text in
            ["1975-06-30T23:59:59.123Z", "2016-12-31T23:59:59.000Z", "2017-01-01T00:00:00Z", "2045-08-12T17:00:00Z"]
        {
            let utc: DateTime<Utc> = text.parse().unwrap();
            assert_eq!(Tt::from_utc(utc).to_utc(), utc, "{text}");
        }
    }

    #[test]
    fn absurd_instants_are_still_written() {
        for seconds in [f64::NAN, f64::INFINITY, -1e300, 1e300, 1e18] {
            assert!(!Tt(seconds).rfc3339().is_empty());
            let _ = (Tt(seconds).to_utc(), Tt(seconds).calendar_date());
        }
    }

    /// ERFA's published test of `eraDtdb` gives −1.280e-3 s at 2448939.623 on the ground; at the geocentre the annual
    /// term alone is within the ±1.7 ms of every textbook. Checked against `erfa.dtdb` in the reference tests.
    #[test]
    fn tdb_stays_within_two_milliseconds_of_tt() {
        for day in (-36_500..36_500).step_by(17) {
            let tt = Tt(f64::from(day) * DAY_S);
            assert!((tt.tdb_seconds() - tt.0).abs() < 0.0018);
        }
    }
}
