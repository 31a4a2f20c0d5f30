//! Kinds of eclipse, as a whole and at a place.

use std::fmt;

/// Kind of an eclipse as a whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// The umbra reaches the ground wherever it falls on the Earth.
    Total,
    /// Its tip ends above the ground everywhere.
    Annular,
    /// Total along one part of the path, annular along another.
    Hybrid,
    /// Only the penumbra meets the Earth.
    Partial,
}

/// What a place gets at most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Phase {
    /// Totality.
    Total,
    /// The ring.
    Annular,
    /// A part of the Sun covered.
    Partial,
    /// Nothing.
    None,
}

impl Phase {
    /// Whether there is a second and a third contact.
    pub fn is_central(self) -> bool {
        matches!(self, Phase::Total | Phase::Annular)
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Kind::Total => "total",
            Kind::Annular => "annular",
            Kind::Hybrid => "hybrid",
            Kind::Partial => "partial",
        })
    }
}

impl fmt::Display for Phase {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Phase::Total => "total",
            Phase::Annular => "annular",
            Phase::Partial => "partial",
            Phase::None => "none",
        })
    }
}

impl std::str::FromStr for Kind {
    type Err = String;

    fn from_str(text: &str) -> Result<Kind, String> {
        match text.to_ascii_lowercase().as_str() {
            "total" => Ok(Kind::Total),
            "annular" => Ok(Kind::Annular),
            "hybrid" => Ok(Kind::Hybrid),
            "partial" => Ok(Kind::Partial),
            _ => Err(format!("\"{text}\" is not a kind of eclipse; give total, annular, hybrid or partial")),
        }
    }
}
