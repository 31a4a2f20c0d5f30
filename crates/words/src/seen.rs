//! What the eclipse is at a place.

use noonfall_shadow::{LocalCircumstances, Phase};

/// What the eclipse is at the site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// Inside the path of totality.
    Total,
    /// Inside the path of annularity: a ring, never safe for bare eyes.
    Annular,
    /// Partial only.
    Partial,
    /// Nothing is seen.
    Nothing,
}

impl Seen {
    /// What is seen at a place.
    pub fn of(local: &LocalCircumstances) -> Seen {
        match local.phase {
            Phase::Total => Seen::Total,
            Phase::Annular => Seen::Annular,
            Phase::Partial => Seen::Partial,
            Phase::None => Seen::Nothing,
        }
    }
}
