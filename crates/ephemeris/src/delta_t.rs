//! ΔT = TT − UT1: observed, predicted, or modelled, always with its origin and its uncertainty.

use crate::leap_seconds::as_of;
use crate::time_scales::Tt;
use noonfall_data::time::{DELTA_T, DELTA_T_SPLINE};
use std::sync::LazyLock;

/// Acceleration of ΔT over the centuries: ΔT grows by `32.5 u²` s, u in centuries (Stephenson, Morrison & Hohenkerk
/// 2016, Proc. R. Soc. A 472, 20160404).
const LONG_TERM_S_PER_CENTURY2: f64 = 32.5;

/// Growth of the error of a straight line drawn with the last year's slope: (years ahead, rms s), from a hindcast over
/// the observed values 1974–2026.
const HINDCAST: [(f64, f64); 9] =
    [(0.0, 0.0), (0.5, 0.05), (1.0, 0.09), (2.0, 0.22), (3.0, 0.40), (5.0, 0.89), (7.0, 1.5), (10.0, 2.3), (20.0, 5.2)];

/// Least spread of a value that somebody gave, seconds: what is measured is known to a millisecond or so.
const LEAST_SIGMA_S: f64 = 0.001;

/// A value of ΔT with where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct DeltaT {
    /// TT − UT1, seconds.
    pub seconds: f64,
    /// One standard deviation, seconds; zero where the caller gave the value and no date is known yet
    /// ([`DeltaT::with_spread_at`]).
    pub sigma_s: f64,
    /// Where the value comes from, in words, with the date of the data.
    pub origin: String,
}

/// Why a value of ΔT was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DeltaTError {
    /// Not a number, or so large that the Earth's turning could not be followed.
    #[error("a ΔT of {0} s is out of range; give seconds between -100000 and 100000 (it was 69.1 in 2026)")]
    OutOfRange(f64),
}

struct Row {
    tt_days: f64,
    delta_t_s: f64,
    sigma_s: f64,
    observed: bool,
}

static ROWS: LazyLock<Vec<Row>> = LazyLock::new(|| {
    DELTA_T
        .lines()
        .skip(1)
        .filter_map(|line| {
            let mut cells = line.split(',');
            let mjd: f64 = cells.nth(1)?.parse().ok()?;
            Some(Row {
                tt_days: mjd - 51_544.5,
                delta_t_s: cells.next()?.parse().ok()?,
                sigma_s: cells.next()?.parse().ok()?,
                observed: cells.next()? == "observed",
            })
        })
        .collect()
});

static PIECES: LazyLock<Vec<[f64; 6]>> = LazyLock::new(|| {
    DELTA_T_SPLINE
        .lines()
        .skip(1)
        .filter_map(|line| {
            let cells: Vec<f64> = line.split(',').filter_map(|cell| cell.trim().parse().ok()).collect();
            cells.try_into().ok()
        })
        .collect()
});

impl DeltaT {
    /// A value the caller vouches for.
    ///
    /// # Errors
    /// [`DeltaTError::OutOfRange`] if it is not finite or beyond ±100 000 s.
    /// ```
    /// use noonfall_ephemeris::DeltaT;
    /// assert_eq!(DeltaT::given(71.2)?.seconds, 71.2);
    /// assert!(DeltaT::given(f64::NAN).is_err());
    /// # Ok::<(), noonfall_ephemeris::DeltaTError>(())
    /// ```
    pub fn given(seconds: f64) -> Result<DeltaT, DeltaTError> {
        if seconds.is_finite() && seconds.abs() <= 1e5 {
            Ok(DeltaT { seconds, sigma_s: 0.0, origin: "given by the user".to_owned() })
        } else {
            Err(DeltaTError::OutOfRange(seconds))
        }
    }

    /// A value that the caller gave, with the spread of what is known for an instant: vouching for a number does not make the
    /// Earth's rotation known. Any other value stays as it is.
    pub fn with_spread_at(self, tt: Tt) -> DeltaT {
        if self.sigma_s > 0.0 {
            return self;
        }
        DeltaT { sigma_s: DeltaT::for_instant(tt).sigma_s.max(LEAST_SIGMA_S), ..self }
    }

    /// The best value for an instant.
    ///
    /// Observed values and the Earth-orientation service's prediction are interpolated linearly; before them stand the
    /// cubic pieces of Morrison et al. 2021 (Proc. R. Soc. A 477, table S15); after them the last observed year's slope
    /// goes on, bent by the long-term acceleration, so that nothing jumps. The standard deviation is the table's, then
    /// a hindcast of just such a straight line.
    /// ```
    /// use noonfall_ephemeris::{DeltaT, Tt};
    /// // Observed, IERS: 63.829 s on 2000-01-01.
    /// let at_2000 = DeltaT::for_instant(Tt::from_calendar(2000, 1, 1, 0.0));
    /// assert!((at_2000.seconds - 63.829).abs() < 0.001);
    /// ```
    pub fn for_instant(tt: Tt) -> DeltaT {
        let days = tt.0 / crate::constants::DAY_S;
        let rows = &*ROWS;
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return from_spline(tt.year()) };
        if days < first.tt_days {
            return before_the_table(tt.year(), first);
        }
        if days > last.tt_days {
            return extrapolated(days, last);
        }
        let after = rows.partition_point(|row| row.tt_days <= days).min(rows.len() - 1).max(1);
        let (a, b) = (&rows[after - 1], &rows[after]);
        let share = (days - a.tt_days) / (b.tt_days - a.tt_days);
        let date = as_of(if b.observed { "delta_t_observed_through" } else { "delta_t_predicted_through" });
        let date = date.unwrap_or_default();
        DeltaT {
            seconds: a.delta_t_s + share * (b.delta_t_s - a.delta_t_s),
            sigma_s: a.sigma_s.max(b.sigma_s),
            origin: if b.observed {
                format!("observed (IERS, data through {date})")
            } else {
                format!("predicted (IERS, prediction through {date})")
            },
        }
    }

    /// How far one standard deviation moves the path along its parallel of latitude.
    ///
    /// # Units
    /// Degrees in, kilometres out: 0.465 km for each second at the equator.
    /// ```
    /// use noonfall_ephemeris::DeltaT;
    /// let delta_t = DeltaT { seconds: 72.0, sigma_s: 2.0, origin: "an example".to_owned() };
    /// // The cosine of 60° is a half.
    /// assert!((delta_t.shift_km(60.0) - 0.465).abs() < 0.001);
    /// ```
    pub fn shift_km(&self, lat_deg: f64) -> f64 {
        KM_PER_SECOND * lat_deg.to_radians().cos().abs() * self.sigma_s
    }
}

/// Speed of the equator under the sky, km/s.
pub const KM_PER_SECOND: f64 = crate::constants::EARTH_ROTATION_RAD_S * crate::constants::EARTH_RADIUS_KM;

/// The published spline, led onto the first observed value over the five years before it.
fn before_the_table(year: f64, first: &Row) -> DeltaT {
    const LEAD_YEARS: f64 = 5.0;
    let first_year = Tt(first.tt_days * crate::constants::DAY_S).year();
    let step_s = first.delta_t_s - from_spline(first_year).seconds;
    let share = ((year - first_year) / LEAD_YEARS + 1.0).max(0.0);
    let spline = from_spline(year);
    DeltaT { seconds: spline.seconds + share * step_s, ..spline }
}

fn from_spline(year: f64) -> DeltaT {
    let pieces = &*PIECES;
    let origin = "modelled (Morrison, Stephenson, Hohenkerk & Zawilski 2021, table S15)".to_owned();
    let piece = pieces.iter().find(|p| year < p[1]).or(pieces.last());
    let seconds = match piece {
        Some(&[start, end, a0, a1, a2, a3]) if year >= start => {
            let x = (year - start) / (end - start);
            a0 + x * (a1 + x * (a2 + x * a3))
        }
        // Before the first piece: the parabola of Stephenson et al. 2016.
        _ => -320.0 + LONG_TERM_S_PER_CENTURY2 * ((year - 1825.0) / 100.0).powi(2),
    };
    DeltaT { seconds, sigma_s: sigma_before_the_table(year), origin }
}

/// One standard deviation for the past: 0.8 u² s (u in centuries from 1820) to 1200, about 20 s around 1500, then
/// 5 s in 1700 and 1 s in 1800 (agency table of uncertainties).
///
/// From 1900 to the first observed value the spline alone stands. How well, the first years that can be checked show:
/// over 1962–1973 it is off by −0.41 s in the mean and 0.44 s rms against the observed values (`data/time/ORIGIN.md`),
/// and nothing says that the years before, observed less well, are better. So 0.4 s is taken throughout; the table's
/// 0.1 s is the error of the observations, not of a smooth curve through them.
fn sigma_before_the_table(year: f64) -> f64 {
    const KNOTS: [(f64, f64); 6] =
        [(1200.0, 30.75), (1300.0, 20.0), (1600.0, 20.0), (1700.0, 5.0), (1800.0, 1.0), (1900.0, 0.4)];
    if year <= KNOTS[0].0 {
        return 0.8 * ((year - 1820.0) / 100.0).powi(2);
    }
    interpolate(&KNOTS, year)
}

fn extrapolated(days: f64, last: &Row) -> DeltaT {
    let rows = &*ROWS;
    let observed: Vec<&Row> = rows.iter().filter(|row| row.observed).collect();
    let newest = observed.last().copied().unwrap_or(last);
    let year_before =
        observed.iter().rev().find(|row| newest.tt_days - row.tt_days >= 365.0).copied().unwrap_or(newest);
    let span = newest.tt_days - year_before.tt_days;
    let slope_s_per_day = if span > 0.0 { (newest.delta_t_s - year_before.delta_t_s) / span } else { 0.0 };
    let ahead_days = days - last.tt_days;
    let centuries = ahead_days / 36_525.0;
    let years_ahead = (days - newest.tt_days) / 365.25;
    let date = as_of("delta_t_observed_through").unwrap_or_default();
    DeltaT {
        seconds: last.delta_t_s + slope_s_per_day * ahead_days + LONG_TERM_S_PER_CENTURY2 * centuries * centuries,
        sigma_s: hindcast_sigma(years_ahead),
        origin: format!(
            "extrapolated (last year's slope and the long-term acceleration of Stephenson et al. 2016; \
             IERS data through {date})"
        ),
    }
}

fn hindcast_sigma(years_ahead: f64) -> f64 {
    let (last_years, last_sigma) = HINDCAST[HINDCAST.len() - 1];
    if years_ahead <= last_years {
        return interpolate(&HINDCAST, years_ahead);
    }
    // Past the hindcast the error is taken to grow on as it did from ten to twenty years: as the power 1.2.
    last_sigma * (years_ahead / last_years).powf(1.2)
}

/// Linear between knots, held outside.
fn interpolate(knots: &[(f64, f64)], x: f64) -> f64 {
    let after = knots.partition_point(|knot| knot.0 <= x).clamp(1, knots.len() - 1);
    let ((x0, y0), (x1, y1)) = (knots[after - 1], knots[after]);
    y0 + (y1 - y0) * ((x - x0) / (x1 - x0)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(year: i32, month: u32, day: u32) -> DeltaT {
        DeltaT::for_instant(Tt::from_calendar(year, month, day, 0.0))
    }

    /// IERS values at 1 January as published in its combined series, rounded to a millisecond.
    #[test]
    fn observed_values_are_reproduced() {
        for (year, seconds) in
            [(1990, 56.855), (2005, 64.688), (2014, 67.281), (2020, 69.361), (2024, 69.175), (2026, 69.110)]
        {
            let delta_t = at(year, 1, 1);
            assert!((delta_t.seconds - seconds).abs() < 0.002, "{year}: {}", delta_t.seconds);
            assert!(delta_t.origin.starts_with("observed"));
        }
    }

    /// A straight line from the table's end reaches 69.41 s (2028-07-22) and 70.21 s (2035-09-02); σ from the hindcast.
    #[test]
    fn the_outlook_continues_the_last_slope() {
        let d = at(2028, 7, 22);
        assert!((d.seconds - 69.41).abs() < 0.08, "{}", d.seconds);
        assert!((d.sigma_s - 0.2).abs() < 0.03, "{}", d.sigma_s);
        let d = at(2035, 9, 2);
        // The long-term bend adds 0.2 s; the season in which the year of the slope ends does the rest. A quarter of σ.
        assert!((d.seconds - 70.21).abs() < 0.5, "{}", d.seconds);
        assert!((d.sigma_s - 2.0).abs() < 0.1, "{}", d.sigma_s);
    }

    /// Morrison et al. 2021: −1.98 s in 1900, 18.4 in 1800, 109.1 in 1600 (their table S15 evaluated).
    #[test]
    fn older_values_follow_the_published_spline() {
        for (year, seconds) in [(1900, -1.98), (1800, 18.4), (1600, 109.1)] {
            assert!((at(year, 1, 1).seconds - seconds).abs() < 0.06, "{year}: {}", at(year, 1, 1).seconds);
        }
    }

    /// The spline's own error against the observed values of 1962–1973 (0.44 s rms) stands for the years before them.
    #[test]
    fn the_spline_years_carry_the_splines_own_error() {
        for year in [1900, 1925, 1961] {
            assert!((at(year, 1, 1).sigma_s - 0.4).abs() < 0.01, "{year}: {}", at(year, 1, 1).sigma_s);
        }
        let rms = {
            let rows =
                ROWS.iter().filter(|row| row.observed && row.tt_days < Tt::from_calendar(1973, 1, 1, 0.0).0 / 86_400.0);
            let squares: Vec<f64> = rows
                .map(|row| from_spline(Tt(row.tt_days * 86_400.0).year()).seconds - row.delta_t_s)
                .map(|error| error * error)
                .collect();
            (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
        };
        assert!((0.40..0.48).contains(&rms), "{rms}");
        assert!(at(1800, 1, 1).sigma_s > 0.9 && at(1975, 1, 1).sigma_s < 0.1);
    }

    #[test]
    fn nothing_jumps_where_the_sources_meet() {
        let mut previous = at(1890, 1, 1).seconds;
        for day in 0..((2110 - 1890) * 73) {
            let tt = Tt::from_calendar(1890, 1, 1, 24.0 * 5.0 * f64::from(day));
            let now = DeltaT::for_instant(tt).seconds;
            assert!((now - previous).abs() < 0.2, "{}: {previous} then {now}", tt.year());
            previous = now;
        }
    }

    #[test]
    fn absurd_values_are_refused() {
        for bad in [-1e9, f64::NAN, f64::INFINITY] {
            assert!(DeltaT::given(bad).is_err());
        }
        assert_eq!(DeltaT::given(70.0).map(|d| d.seconds), Ok(70.0));
    }

    #[test]
    fn one_second_is_465_metres_at_the_equator() {
        assert!((KM_PER_SECOND - 0.465).abs() < 0.001);
    }
}
