//! Drives: to the site, and away from it to where the sky is clear.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use crate::numbers::{clean, compass_words, hours, percent, percent_interval};

/// On a brief, where no fallback is known.
pub(crate) const STILL_OPEN: &str =
    "No fallback is set: choose a second place inside the path and when to leave for it.";

/// Over the way to a site.
pub const FROM_BASE: &str = "From the base";
/// Over the fallback.
pub const IF_GREY: &str = "If grey";

/// Where to flee.
#[derive(Clone, Debug, PartialEq)]
pub struct FallbackFacts {
    /// Name of the fallback site.
    pub name: String,
    /// Straight-line distance, kilometres, and direction, degrees from north through east.
    pub away: Option<(f64, f64)>,
    /// Driving time on free roads, hours.
    pub drive_hours: f64,
    /// The two countries where a border lies between.
    pub border: Option<[String; 2]>,
    /// By how much drives are taken for longer than on free roads; departures allow for it.
    pub traffic: f64,
    /// Leave by then to be set up before C1.
    pub leave_by_utc: Option<DateTime<Utc>>,
    /// The very latest, to be there before C2.
    pub latest_utc: Option<DateTime<Utc>>,
    /// Chance of a clear sky at this site or the fallback: low and high bound (equal when known from common records), 0 to 1.
    pub joint_chance: Option<(f64, f64)>,
}

/// The way to the site from where the group sleeps.
#[derive(Clone, Debug, PartialEq)]
pub struct WayFacts {
    /// Name of the base.
    pub base: String,
    /// Drive on free roads, hours.
    pub drive_hours: f64,
    /// The two countries where a border lies between.
    pub border: Option<[String; 2]>,
    /// Leave by then to be set up before C1, by the clocks of the base.
    pub leave_by: DateTime<Tz>,
    /// The very latest, to be there before C2.
    pub latest: DateTime<Tz>,
}

/// Where to flee, a sentence a line; `minute` gives the local clock, `short` is its name.
pub(crate) fn fallback(fallback: &FallbackFacts, minute: impl Fn(DateTime<Utc>) -> String, short: &str) -> Vec<String> {
    let mut lines = Vec::new();
    lines.push(format!(
        "{IF_GREY}: {}{}, about {}.",
        clean(&fallback.name, 60),
        fallback.away.map_or_else(String::new, |(km, bearing)| format!(", {km:.0} km {}", compass_words(bearing))),
        on_free_roads(&hours(fallback.drive_hours), &over_border(fallback.border.as_ref()))
    ));
    if let Some(leave) = fallback.leave_by_utc {
        lines.push(format!("Leave by {} {} to be set up before first contact.", minute(leave), short));
    }
    if let Some(latest) = fallback.latest_utc {
        lines.push(format!("After {} {} it cannot be reached before totality: stay.", minute(latest), short));
    }
    // Common practice, no source.
    lines.push(format!(
        "Departures take drives {} times as long as on free roads. After totality all leave at once: worse.",
        fallback.traffic
    ));
    if let Some((low, high)) = fallback.joint_chance {
        let (low, high) = (low.min(high), low.max(high));
        lines.push(clear_at_one(&if (high - low) < 0.005 { percent(high) } else { percent_interval(low, high) }));
    }
    lines
}

/// The way to the site from where the group sleeps.
pub(crate) fn way(way: &WayFacts) -> String {
    let minute = |t: &DateTime<Tz>| t.format("%H:%M").to_string();
    // A long drive begins the day before.
    let day = |t: &DateTime<Tz>| {
        if t.date_naive() == way.latest.date_naive() { String::new() } else { t.format(" on %-d %B").to_string() }
    };
    format!(
        "From {}, {}: {}{} to be set up before first contact, {} (clocks there).",
        clean(&way.base, 40),
        on_free_roads(&hours(way.drive_hours), &over_border(way.border.as_ref())),
        leave_by(&minute(&way.leave_by)),
        day(&way.leave_by),
        at_the_latest(&minute(&way.latest))
    )
}

fn over_border(border: Option<&[String; 2]>) -> String {
    border.map_or_else(String::new, |countries| over_a_border(&between(countries)))
}

/// The two countries of a border.
pub fn between([from, to]: &[String; 2]) -> String {
    format!("{from} to {to}")
}

pub(crate) fn over_a_border(between: &str) -> String {
    format!(", over a border ({between})")
}

pub(crate) fn on_free_roads(drive: &str, border: &str) -> String {
    format!("{drive} on free roads{border}")
}

pub(crate) fn leave_by(time: &str) -> String {
    format!("leave by {time}")
}

pub(crate) fn at_the_latest(time: &str) -> String {
    format!("by {time} at the very latest")
}

pub(crate) fn clear_at_one(chance: &str) -> String {
    format!("Clear at one of the two: {chance}.")
}

/// On a map, beside the line from a base to its fallback; the departure by the clocks of the base.
pub fn on_map(drive_hours: f64, leave_by: DateTime<Tz>) -> String {
    format!("{}, {}", hours(drive_hours), self::leave_by(&leave_by.format("%H:%M").to_string()))
}

/// In a cell of a table.
pub fn in_table(name: &str, drive_hours: f64) -> String {
    format!("{name} ({})", hours(drive_hours))
}
