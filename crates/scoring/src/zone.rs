//! Which civil time a place keeps: its IANA zone, looked up from coordinates when the reader gives none.
//!
//! # Source
//! Time-zone boundaries of OpenStreetMap contributors (ODbL) as carried by the crate `tzf-rs`; rules by `chrono-tz`.

use std::sync::LazyLock;

use chrono::{DateTime, SecondsFormat, Utc};
use chrono_tz::Tz;
use noonfall_ephemeris::{GeoPoint, Tt};
use tzf_rs::EmbeddedFinder;

/// The credit that goes with zones looked up here.
pub const CREDIT: &str = "Time zones: OpenStreetMap contributors, ODbL";

static FINDER: LazyLock<EmbeddedFinder> = LazyLock::new(EmbeddedFinder::new);

/// The IANA zone of a place; `None` where none is known, which after the nautical zones of the open sea is nowhere.
///
/// The first call opens the boundaries (they are used in place, not unpacked).
///
/// ```
/// use noonfall_ephemeris::GeoPoint;
/// let zone = noonfall_scoring::zone::zone_at(GeoPoint { lat_deg: -45.03, lon_deg: 168.66 });
/// assert_eq!(zone, Some(chrono_tz::Pacific::Auckland));
/// ```
pub fn zone_at(point: GeoPoint) -> Option<Tz> {
    FINDER.get_tz_name(point.lon_deg, point.lat_deg).parse().ok()
}

/// Version of the boundaries.
pub fn data_version() -> &'static str {
    FINDER.data_version()
}

/// An instant by the clocks of a zone, RFC 3339 with milliseconds and offset.
/// ```
/// use noonfall_ephemeris::Tt;
/// use noonfall_scoring::zone::local_rfc3339;
/// let tt = Tt::from_utc("2028-07-22T04:01:00Z".parse().unwrap());
/// assert_eq!(local_rfc3339(tt, chrono_tz::Australia::Sydney), "2028-07-22T14:01:00.000+10:00");
/// ```
pub fn local_rfc3339(tt: Tt, zone: Tz) -> String {
    tt.to_utc().with_timezone(&zone).to_rfc3339_opts(SecondsFormat::Millis, false)
}

/// An instant in UTC, RFC 3339 with milliseconds and `Z`.
pub fn utc_rfc3339(tt: Tt) -> String {
    let utc: DateTime<Utc> = tt.to_utc();
    utc.to_rfc3339_opts(SecondsFormat::Millis, true)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn towns_have_their_zones() {
        for (lat_deg, lon_deg, zone) in [
            (-30.0901, 145.9365, "Australia/Sydney"),
            (-31.95, 141.47, "Australia/Broken_Hill"),
            (-45.0384, 169.2001, "Pacific/Auckland"),
            (-15.7782, 128.7421, "Australia/Perth"),
            (43.36, -5.85, "Europe/Madrid"),
        ] {
            assert_eq!(zone_at(GeoPoint { lat_deg, lon_deg }).map(|z| z.name()), Some(zone));
        }
    }

    #[test]
    fn the_open_sea_and_the_poles_have_nautical_time_at_least() {
        for (lat_deg, lon_deg) in
            [(-40.0, 160.0), (0.0, -150.0), (89.9, 10.0), (-90.0, 0.0), (10.0, 180.0), (10.0, -180.0)]
        {
            assert!(zone_at(GeoPoint { lat_deg, lon_deg }).is_some(), "{lat_deg} {lon_deg}");
        }
    }

    #[test]
    fn local_time_carries_its_offset() {
        let tt = Tt::from_utc("2028-07-22T04:10:30.25Z".parse().unwrap());
        assert_eq!(local_rfc3339(tt, chrono_tz::Pacific::Auckland), "2028-07-22T16:10:30.250+12:00");
        assert_eq!(utc_rfc3339(tt), "2028-07-22T04:10:30.250Z");
    }
}
