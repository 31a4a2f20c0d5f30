//! When unaided eyes may look, as the engine decided it, or why they may not, in words.

use chrono::{DateTime, Utc};
use noonfall_scoring::outlook::window::{Decision, NoWindow, Window};
use noonfall_scoring::outlook::words::window as say;
use noonfall_scoring::rank::RankedSite;

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

    /// The decision for a ranked site; that it was not asked for, where there is none.
    pub fn at(site: &RankedSite) -> Result<WindowFacts, String> {
        site.decision.as_ref().map_or_else(|| WindowFacts::of(&Err(NoWindow::NotAsked)), WindowFacts::of)
    }
}
