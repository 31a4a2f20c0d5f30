//! What a calendar says besides the timeline's own sentences.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use crate::WindowFacts;
use crate::numbers::local_stamp;

/// How far alarms can be trusted.
pub const ALARMS: &str =
    "Alarms follow the device's own clock and may ring late: set it by the network, and let the sky decide.";

/// What comes after the alarm before first contact.
pub const TO_C1: &str = "first contact; filters ready";
/// The same before second contact.
pub const TO_C2: &str = "second contact; filters stay ON";
/// The same before filters are on again.
pub const TO_ON: &str = "filter ON";

/// An alarm: `30 minutes to first contact; filters ready`, `20 seconds to filter ON`.
pub fn alarm(seconds: i64, what: &str) -> String {
    if seconds % 60 == 0 {
        format!("{} minutes to {what}", seconds / 60)
    } else {
        format!("{seconds} seconds to {what}")
    }
}

/// OFF and ON, told with second contact; `off` is what the timeline says of OFF.
pub fn window(window: &WindowFacts, off: &str, zone: Tz) -> String {
    format!(
        "Filter OFF not before {}: {off} Filter ON not later than {}.",
        local_stamp(window.off_utc, zone),
        local_stamp(window.on_utc, zone)
    )
}

/// By the clocks of the place.
pub fn local_clock(utc: DateTime<Utc>, zone: Tz) -> String {
    format!("Local clock: {}.", local_stamp(utc, zone))
}
