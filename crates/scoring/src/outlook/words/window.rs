//! The window for unaided eyes in words: what it allows for, and why there is none.

use crate::outlook::window::allowances::{Cause, SUN_SIGMA_ARCSEC, edge_sigma_arcsec};
use crate::outlook::window::{LEAST_WINDOW_S, NoWindow, Window};
use noonfall_shadow::moon_edge::MoonHeights;

/// What to do where there is no window. No filter ever comes off there.
pub const WITHOUT_A_WINDOW: &str =
    "Filters on from first to last bite. For a look without them go elsewhere, well inside the path.";

/// What is left uncertain of contacts at the true edge from a grid of heights.
pub fn left_uncertain(moon: &MoonHeights) -> String {
    let left_arcsec = edge_sigma_arcsec(moon).hypot(SUN_SIGMA_ARCSEC);
    // The edge passes over the Sun's limb at some 0.45″ a second.
    let seconds = if left_arcsec < 0.25 { "a few tenths of a second" } else { "up to seconds" };
    format!(
        "heights {:.1} km apart and the Sun's radius leave about {left_arcsec:.1}\u{2033}, {seconds}, more near the edge of the path",
        moon.spacing_km()
    )
}

/// Why there is no window, a sentence.
pub fn why_none(reason: &NoWindow) -> String {
    match reason {
        NoWindow::NoEclipse => "Nothing of the eclipse is seen here.".to_owned(),
        NoWindow::Partial => "This place is outside the path of totality: some of the Sun always shows.".to_owned(),
        NoWindow::Annular => "The Moon never covers the whole Sun here: a ring of bright Sun stays.".to_owned(),
        NoWindow::TrueEdge { smooth_s } => format!(
            "Sunlight shines through the Moon's valleys all the while: a smooth Moon would cover the Sun for {smooth_s:.0} s, \
             the real one does not."
        ),
        NoWindow::MayBeNone { totality_s, cause } => format!(
            "Totality of {totality_s:.0} s is expected, but it may be none at all: {} can take all of it.",
            cause_words(*cause)
        ),
        NoWindow::TooShort { totality_s, kept_s } => format!(
            "Totality of {totality_s:.0} s is too short: {kept_s:.0} s of it are not certain, and less than \
             {LEAST_WINDOW_S:.0} s would be left."
        ),
        NoWindow::Horizon => "The Sun's whole disc is not clear of the horizon for long enough in totality.".to_owned(),
        NoWindow::Skyline => {
            "The skyline hides the Sun's disc, or part of it, through totality or nearly all of it.".to_owned()
        }
        NoWindow::NotAsked => {
            "The table is long, and the window of this place was not worked out: ask for the place alone.".to_owned()
        }
    }
}

/// A cause, as it stands in a sentence.
pub fn cause_words(cause: Cause) -> &'static str {
    match cause {
        Cause::MoonEdge => "the Moon's edge",
        Cause::SunRadius => "the Sun's radius",
        Cause::DeltaT => "the Earth's rotation (ΔT)",
        Cause::LeapSecond => "a leap second",
        Cause::Place => "a short walk from the coordinates",
        Cause::Height => "the height of the place",
        Cause::Together => "what is uncertain, taken together,",
        Cause::Watch => "the watch",
        Cause::Floor => "the least margin",
        Cause::Wish => "the margin wished for",
        Cause::Rounding => "rounding to whole seconds",
    }
}

/// What a window keeps, one line: `5.3 s kept after C2, 4.1 s before C3`.
pub fn kept(window: &Window) -> String {
    let tenth_down = |seconds: f64| (seconds * 10.0).floor() / 10.0;
    format!("{:.1} s kept after C2, {:.1} s before C3", tenth_down(window.margin_c2_s), tenth_down(window.margin_c3_s))
}

/// What the margins are made of, one sentence, the largest first.
pub fn allowed_for(window: &Window) -> String {
    let mut causes = window.allowances.clone();
    causes.sort_by(|a, b| (b.c2_s + b.c3_s).total_cmp(&(a.c2_s + a.c3_s)));
    let said: Vec<String> = causes
        .iter()
        .filter(|a| a.c2_s.max(a.c3_s) >= 0.05)
        .map(|a| format!("{} {:.1} and {:.1} s", cause_words(a.cause), a.c2_s, a.c3_s))
        .collect();
    format!("Kept at C2 and C3 for {}.", said.join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// No reason speaks of taking a filter off.
    #[test]
    fn no_reason_invites() {
        let reasons = [
            NoWindow::NoEclipse,
            NoWindow::Partial,
            NoWindow::Annular,
            NoWindow::TrueEdge { smooth_s: 16.0 },
            NoWindow::MayBeNone { totality_s: 8.0, cause: Cause::Place },
            NoWindow::TooShort { totality_s: 8.0, kept_s: 7.0 },
            NoWindow::Horizon,
            NoWindow::Skyline,
            NoWindow::NotAsked,
        ];
        for reason in &reasons {
            let text = why_none(reason).to_lowercase();
            assert!(!text.contains("off ") && !text.contains("corona") && !text.contains("binocular"), "{text}");
        }
    }
}
