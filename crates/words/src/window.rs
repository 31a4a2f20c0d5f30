//! When unaided eyes may look, as the engine decided it, or why they may not, in words.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use noonfall_ephemeris::Tt;
use noonfall_scoring::outlook::window::{Decision, Window};
use noonfall_scoring::outlook::words::window as say;

use crate::numbers::{local_clock, local_stamp};

/// The unaided-eye window as the engine decided it: whole seconds, margins taken off.
#[derive(Clone, Debug, PartialEq)]
pub struct WindowFacts {
    /// No earlier than this may filters come off.
    pub off_utc: DateTime<Utc>,
    /// By this instant filters are on again.
    pub on_utc: DateTime<Utc>,
    /// What is kept from the contacts, in words.
    pub kept: String,
}

impl WindowFacts {
    /// The engine's decision: the window, or why there is none in words.
    pub fn of(decision: &Decision) -> Result<WindowFacts, String> {
        let facts = |w: &Window| WindowFacts { off_utc: w.off.to_utc(), on_utc: w.on.to_utc(), kept: say::kept(w) };
        decision.as_ref().map(facts).map_err(say::why_none)
    }
}

/// Over OFF and ON.
pub const FILTERS: &str = "Filters";
/// In place of them.
pub const ON_THROUGHOUT: &str = "Filter ON throughout";

/// Why there is no window where there is no totality.
pub const NO_TOTALITY: &str = "There is no totality here.";

/// In a file for other programs.
pub fn in_file(window: &WindowFacts, zone: Tz) -> String {
    format!(
        "Filter OFF not before {} and only when no bright Sun is left; filter ON not later than {}.",
        local_stamp(window.off_utc, zone),
        local_stamp(window.on_utc, zone)
    )
}

/// The same where there is none.
pub fn none_in_file(why: &str) -> String {
    format!("No time for bare eyes: {why}")
}

/// At a place: the window and what it allows for, or why there is none and what to do.
pub fn at_place(decision: &Decision, zone: Tz) -> Vec<String> {
    match decision {
        Ok(window) => {
            let clock = |tt: Tt| local_clock(tt.to_utc(), zone);
            vec![
                format!("Filter OFF {}, filter ON {}; {}", clock(window.off), clock(window.on), say::kept(window)),
                say::allowed_for(window),
            ]
        }
        Err(reason) => vec![format!("{ON_THROUGHOUT}: {} {}", say::why_none(reason), say::WITHOUT_A_WINDOW)],
    }
}

/// On the report page where scripts do not run: OFF and ON by the clock, nothing where there is no window.
pub fn on_page(window: Option<(&str, &str)>) -> String {
    match window {
        Some((off, on)) => format!("■ ON; ◯ OFF from {off} to {on}; ■ ON again"),
        None => "■ ON throughout".into(),
    }
}
