//! The contacts of a place as outputs give them: three clocks and the Sun's place, rounded to what is known.

use chrono::DateTime;
use chrono_tz::Tz;
use noonfall_ephemeris::Tt;
use noonfall_shadow::{Contact, LocalCircumstances};
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

/// A contact in an output.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ContactTime {
    /// When.
    #[serde(flatten)]
    pub clocks: Clocks,
    /// Airless altitude of the Sun's centre, degrees.
    pub sun_altitude_deg: f64,
    /// The same with refraction.
    pub sun_apparent_altitude_deg: f64,
    /// Azimuth from north through east, degrees.
    pub sun_azimuth_deg: f64,
    /// Position angle on the Sun's limb, degrees.
    pub position_angle_deg: f64,
    /// Vertex angle, degrees.
    pub vertex_angle_deg: f64,
    /// Whether the Sun is above a level horizon.
    pub above_horizon: bool,
}

/// The contacts of a place; `None` where there is no such contact.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ContactTimes {
    /// First contact.
    #[serde(rename = "C1")]
    pub c1: Option<ContactTime>,
    /// Second contact.
    #[serde(rename = "C2")]
    pub c2: Option<ContactTime>,
    /// Maximum.
    pub max: Option<ContactTime>,
    /// Third contact.
    #[serde(rename = "C3")]
    pub c3: Option<ContactTime>,
    /// Fourth contact.
    #[serde(rename = "C4")]
    pub c4: Option<ContactTime>,
}

impl ContactTimes {
    /// The contacts of a place by the clocks of its zone.
    pub fn of(local: &LocalCircumstances, zone: Option<Tz>) -> ContactTimes {
        let time = |c: &Option<Contact>| c.as_ref().map(|c| contact_time(c, zone));
        ContactTimes {
            c1: time(&local.c1),
            c2: time(&local.c2),
            max: time(&local.max),
            c3: time(&local.c3),
            c4: time(&local.c4),
        }
    }
}

fn contact_time(contact: &Contact, zone: Option<Tz>) -> ContactTime {
    ContactTime {
        clocks: Clocks::at(contact.tt, zone),
        sun_altitude_deg: rounded(contact.sun_altitude_deg, 4),
        sun_apparent_altitude_deg: rounded(contact.sun_apparent_altitude_deg, 4),
        sun_azimuth_deg: rounded(contact.sun_azimuth_deg, 4),
        position_angle_deg: rounded(contact.position_angle_deg, 3),
        vertex_angle_deg: rounded(contact.vertex_angle_deg, 3),
        above_horizon: contact.above_horizon,
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
