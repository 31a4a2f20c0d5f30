//! What the eclipse is at a place.

use noonfall_shadow::{LocalCircumstances, Phase};

use crate::numbers::duration;

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

    /// In one word, as files have it.
    pub fn word(self) -> &'static str {
        match self {
            Seen::Total => "total",
            Seen::Annular => "annular",
            Seen::Partial => "partial",
            Seen::Nothing => "none",
        }
    }

    /// In a sentence, for files for other programs.
    pub fn in_file(self, totality_s: f64) -> String {
        match self {
            Seen::Total => format!("Totality {}.", duration(totality_s)),
            Seen::Annular => "Annular here: never safe for bare eyes.".into(),
            Seen::Partial => "Partial here: filters on from beginning to end.".into(),
            Seen::Nothing => "Nothing of the eclipse is seen here.".into(),
        }
    }
}
