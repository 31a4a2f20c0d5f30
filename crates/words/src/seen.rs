//! What the eclipse is at a place.

use chrono_tz::Tz;
use noonfall_scoring::zone::local_rfc3339;
use noonfall_shadow::{LocalCircumstances, Phase};

use crate::numbers::duration;

/// At a place without one.
pub const NO_ECLIPSE: &str = "No eclipse is seen from this place.";

/// Of the Sun, where it is not up.
pub const BELOW_HORIZON: &str = "below the horizon";
/// The same in a cell of a table.
pub const DOWN: &str = "down";

/// The Sun's rising.
pub const SUNRISE: &str = "Sunrise";
/// The Sun's setting.
pub const SUNSET: &str = "Sunset";

/// How deep it gets at a place.
pub fn depth(local: &LocalCircumstances) -> String {
    depth_of(&format!("{:.4}", local.magnitude), &format!("{:.2}", local.obscuration * 100.0))
}

pub(crate) fn depth_of(magnitude: &str, percent: &str) -> String {
    format!("magnitude {magnitude}, obscuration {percent} %")
}

/// The Sun's rising and setting where they fall into it, a line each.
pub fn sunrise_and_sunset(local: &LocalCircumstances, zone: Tz) -> impl Iterator<Item = String> {
    let times = [(SUNRISE, local.sunrise), (SUNSET, local.sunset)].into_iter();
    times.filter_map(move |(word, tt)| Some(during(word, &local_rfc3339(tt?, zone))))
}

/// A rising or setting that falls into it.
pub(crate) fn during(word: &str, time: &str) -> String {
    format!("{word} during the eclipse: {time}")
}

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
