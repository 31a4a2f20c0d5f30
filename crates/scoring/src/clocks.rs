//! An instant by the clocks that outputs give, and numbers rounded to what is known.

use chrono::DateTime;
use chrono_tz::Tz;
use noonfall_ephemeris::Tt;

use crate::outlook::decimals::to_decimals;

/// An instant, and whose clocks it is told by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clocks {
    /// The instant.
    pub instant: Tt,
    /// The zone of the local clock; UTC is taken where none is known.
    pub zone: Option<Tz>,
}

impl Clocks {
    /// Date and time by the local clock.
    pub fn civil(&self) -> DateTime<Tz> {
        self.instant.to_utc().with_timezone(&self.zone.unwrap_or(Tz::UTC))
    }
}

/// A number rounded to so many decimals, so that outputs do not show digits that mean nothing (and that differ from
/// machine to machine). What is not finite becomes 0: no output holds NaN.
pub fn rounded(value: f64, decimals: i32) -> f64 {
    if value.is_finite() { to_decimals(value, decimals) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounding_keeps_no_noise_and_no_nan() {
        assert_eq!(rounded(12.345_678, 2), 12.35);
        assert_eq!(rounded(-0.000_01, 2).to_string(), "0");
        assert_eq!(rounded(f64::NAN, 2), 0.0);
    }
}
