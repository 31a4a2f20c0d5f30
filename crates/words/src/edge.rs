//! Which edge of the Moon times belong to.

use noonfall_scoring::outlook::totality::EdgeShown;

/// Which edge of the Moon contacts are shown at, and from which heights.
pub fn contacts_at(shown: EdgeShown, source: &str) -> String {
    match shown {
        EdgeShown::True => format!("C2 and C3 at the Moon's measured edge: {source}."),
        EdgeShown::Smooth => format!("C2 and C3 of a smooth Moon; filter times at the measured edge: {source}."),
    }
}
