//! An instant by the clocks that outputs give, and numbers rounded to what is known.

use chrono::DateTime;
use chrono_tz::Tz;
use noonfall_ephemeris::Tt;
use serde::Serialize;

use crate::outlook::decimals::to_decimals;
use crate::zone::{local_rfc3339, utc_rfc3339};

/// An instant by three clocks.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Clocks {
    /// Terrestrial time, RFC 3339 without offset.
    pub tt: String,
    /// UTC, RFC 3339.
    pub utc: String,
    /// Civil time of the place, RFC 3339 with offset; UTC where no zone is known.
    pub local: String,
    /// The instant itself, for renderers.
    #[serde(skip)]
    pub instant: Tt,
    /// The zone of the local clock, for renderers.
    #[serde(skip)]
    pub zone: Tz,
}

impl Clocks {
    /// The instant by the clocks of a zone.
    pub fn at(tt: Tt, zone: Option<Tz>) -> Clocks {
        let utc = utc_rfc3339(tt);
        Clocks {
            tt: tt.rfc3339(),
            local: zone.map_or_else(|| utc.clone(), |z| local_rfc3339(tt, z)),
            utc,
            instant: tt,
            zone: zone.unwrap_or(Tz::UTC),
        }
    }

    /// Date and time by the local clock.
    pub fn civil(&self) -> DateTime<Tz> {
        self.instant.to_utc().with_timezone(&self.zone)
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
