//! What the page says besides the model's own texts: headings, and words on its drawings.

/// Before the name of the clock.
pub const ALL_TIMES: &str = "All times by the clock of";
/// Over the reasons.
pub const REJECTED: &str = "Rejected by the ranking, not a place to go:";
/// Filter on.
pub const FILTER_ON: &str = "Filter ON";
/// Filter off.
pub const FILTER_OFF: &str = "Filter OFF";
/// Until when, before totality.
pub const ON_BEFORE: &str = "looking at the Sun from the first bite";
/// Until when, after it.
pub const ON_AFTER: &str = "to the last bite";
/// Where there is no window.
pub const ON_THROUGHOUT: &str = "Filter ON from beginning to end";
/// First contact.
pub const FIRST_BITE: &str = "C1 first bite";
/// Beginning of the window.
pub const OFF_MOMENT: &str = "filter OFF, not before";
/// End of the window.
pub const ON_MOMENT: &str = "filter ON, not later";
/// Fourth contact.
pub const LAST_BITE: &str = "C4 last bite";
/// Over the timeline.
pub const WATCH: &str = "What to watch for, in order";
/// Before the sign.
pub const LOOK_AWAY: &str = "The sign to look away. ";
/// Over the table of contacts.
pub const CONTACTS: &str = "Contacts";
/// A column of it.
pub const HEIGHT: &str = "height";
/// A column of it.
pub const DIRECTION: &str = "direction";
/// Over the odds.
pub const ODDS: &str = "Odds of a clear sky";
/// Over the fallback.
pub const FALLBACK: &str = "Fallback";
/// Over what nobody has given.
pub const STILL_OPEN: &str = "Still open";
/// Over what to bring.
pub const BRING: &str = "What to bring";
/// Over the cautions.
pub const CAUTIONS: &str = "Cautions";
/// Over the drawing of the Sun's place.
pub const SUN: &str = "Where the Sun stands at mid-eclipse";
/// Over the drawing of the Sun's edge.
pub const LIMB: &str = "The Sun's edge as a clock, 12 = zenith";
/// The same for a screen reader.
pub const LIMB_ALT: &str = "Sun's disc as a clock face with the zenith up:";
/// On the drawing.
pub const SKYLINE: &str = "skyline";
/// On the drawing.
pub const HORIZON: &str = "horizon";
/// On the drawing.
pub const COMPASS: [&str; 4] = ["N", "E", "S", "W"];

/// How long filters may be off.
pub fn off_for(length: &str) -> String {
    format!("for {length}, only while no bright Sun is left")
}

/// The line under the times.
pub fn margin(margin: &str) -> String {
    format!("{margin}; bars not to scale")
}
