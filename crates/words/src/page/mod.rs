//! What the report page says of itself: labels, headings, buttons, messages, and patterns with named places, which its scripts fill.
//!
//! `page.html` asks for a text by `{{say key}}` ([`said`]), a script by `say('key', { place })` (`say.js`, from [`for_scripts`]).
//! What another output says too is that output's own text or sentence, with named places for its figures.

mod day;
pub mod frame;
mod numbers;
mod point;
mod site;

/// Column and caption.
pub const RANK: &str = "Rank";
/// Column.
pub const SITE: &str = "Site";
/// Column.
pub const SCORE: &str = "Score";
/// Column.
pub const TOTALITY: &str = "Totality";
/// Column: when totality begins.
pub const BEGINS: &str = "Begins, local";
/// Column.
pub const SUN_HEIGHT: &str = "Sun’s height";
/// Column: the chance of a clear line to the Sun.
pub const CLEAR: &str = "Clear line";
/// In the column of totality where there is none.
pub const NONE: &str = "none";
/// Label of a fact.
pub const TOTALITY_LASTS: &str = "Totality lasts";
/// Label of a fact, and of second contact.
pub const TOTALITY_BEGINS: &str = "Totality begins";
/// In place of the answer.
pub const NO_SITE: &str = "No site can be ranked: the table says why for each.";
/// Over the cautions.
pub const TAKE_CARE: &str = "Take care";
/// Where a table has nothing to tell.
pub const DASH: &str = "–";

/// What the side-by-side's first two sites are.
pub const PAIR: [&str; 2] = ["Lower Sun", "Higher Sun"];

/// What the scripts may ask for.
#[derive(Clone, Debug, PartialEq)]
pub struct ScriptWords {
    /// Keys with a text or a pattern: `{name}` in it is a named place.
    pub said: Vec<(&'static str, String)>,
    /// Keys with a list of words.
    pub lists: Vec<(&'static str, Vec<String>)>,
}

/// All that the page's scripts say.
///
/// ```
/// let words = noonfall_words::page::for_scripts();
/// assert!(words.said.contains(&("minutes_seconds", "{minutes} min {seconds} s".to_owned())));
/// ```
pub fn for_scripts() -> ScriptWords {
    let tables = [site::SAID, point::SAID, day::SAID, numbers::SAID].concat();
    let said = tables.into_iter().map(|(key, text)| (key, text.to_owned())).chain(numbers::patterns());
    ScriptWords { said: said.collect(), lists: numbers::lists() }
}

/// The text that `page.html` asks for by a key: of the frame's own, or one that scripts say too.
pub fn said(key: &str) -> Option<&'static str> {
    let tables = [frame::SAID, site::SAID].into_iter().flatten();
    tables.copied().find_map(|(known, text)| (known == key).then_some(text))
}

/// The keys that `page.html` alone asks for.
pub fn frame_keys() -> impl Iterator<Item = &'static str> {
    frame::SAID.iter().map(|(key, _)| *key)
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn a_key_stands_for_one_text_and_a_text_under_one_key() {
        let words = for_scripts();
        let frame = frame::SAID.iter().map(|(key, text)| (*key, (*text).to_owned()));
        let (mut keys, mut texts) = (HashSet::new(), HashSet::new());
        for (key, text) in words.said.into_iter().chain(frame) {
            assert!(keys.insert(key), "the key {key} is there twice");
            assert!(!text.is_empty(), "{key}");
            assert!(texts.insert(text.clone()), "{text:?} is there twice, once as {key}");
        }
        assert!(words.lists.iter().all(|(key, _)| keys.insert(*key)));
    }

    #[test]
    fn places_are_named_and_closed() {
        for (key, text) in for_scripts().said {
            for after in text.split('{').skip(1) {
                let (name, _) = after.split_once('}').unwrap_or_else(|| panic!("{key}: {text}"));
                assert!(name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit()), "{key}: {name}");
            }
            assert_eq!(text.matches('{').count(), text.matches('}').count(), "{key}: {text}");
        }
    }

    #[test]
    fn only_what_may_be_seen_through_filters_is_said_where_there_is_no_window() {
        let words = for_scripts();
        let of = |key: &str| words.said.iter().find(|(known, _)| *known == key).map(|(_, text)| text.to_lowercase());
        for key in ["on_throughout", "eyes_never", "on_all_the_while", "no_time_for_eyes", "when_on", "ring_stays"] {
            let text = of(key).unwrap();
            assert!(!text.contains("off") && !text.contains('◯'), "{text}");
        }
    }
}
