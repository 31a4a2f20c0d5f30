//! What an eclipse is called.

use chrono::NaiveDate;
use noonfall_shadow::Phase;

use crate::numbers::{capital, date};

/// `Total solar eclipse`.
pub fn name(kind: &str) -> String {
    format!("{} solar eclipse", capital(kind))
}

/// `Total solar eclipse of 22 July 2028`.
///
/// ```
/// let day = "2028-07-22".parse().unwrap();
/// assert_eq!(noonfall_words::eclipse::title("total", day), "Total solar eclipse of 22 July 2028");
/// ```
pub fn title(kind: &str, day: NaiveDate) -> String {
    format!("{} of {}", name(kind), date(day))
}

/// The same with the date as programs write it, for the head of a file.
pub fn title_of_file(kind: &str, day: NaiveDate) -> String {
    format!("{} of {day}", name(kind))
}

/// What it is at a place.
pub fn at_place(kind: &str, day: NaiveDate, phase: Phase) -> String {
    format!("{kind} solar eclipse of {day} (UTC date): {phase} here")
}

/// Title of what has no other.
pub fn where_to_stand(day: NaiveDate) -> String {
    format!("Where to stand on {}", date(day))
}
