//! The shipped typeface: bytes for embedding, and widths of text for laying it out.

use std::sync::OnceLock;

use any_ascii::any_ascii_char;
use noonfall_data::fonts as shipped;
use rustybuzz::Face;
use unicode_segmentation::UnicodeSegmentation as _;

mod subset;

/// Name of the family in drawings.
pub const FAMILY: &str = "Noto Sans";

/// Weight of a face.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// 400.
    Regular,
    /// 700.
    Bold,
}

/// The families to try in order: what the first does not hold, a later one may.
pub const STACK: [&str; 5] = [FAMILY, "Noto Sans Math", "Noto Sans Arabic", "Noto Sans Hebrew", "DejaVu Sans"];

/// [`STACK`] as a `font-family` value, with the reader's own sans-serif last.
#[must_use]
pub fn family_stack() -> String {
    let mut out: Vec<String> = STACK.iter().map(|f| format!("'{f}'")).collect();
    out.push("sans-serif".to_owned());
    out.join(", ")
}

/// The shipped main face, TrueType, Latin, Greek and Cyrillic.
#[must_use]
pub fn main_face(weight: Weight) -> &'static [u8] {
    match weight {
        Weight::Regular => shipped::NOTO_SANS,
        Weight::Bold => shipped::NOTO_SANS_BOLD,
    }
}

/// The shipped italic of the main face.
#[must_use]
pub fn italic_face() -> &'static [u8] {
    shipped::NOTO_SANS_ITALIC
}

/// The shipped faces for what the main face lacks, in the order of [`STACK`]: mathematics, Arabic, Hebrew, symbols.
#[must_use]
pub fn fallback_faces() -> [&'static [u8]; 4] {
    [shipped::NOTO_SANS_MATH, shipped::NOTO_SANS_ARABIC, shipped::NOTO_SANS_HEBREW, shipped::DEJAVU_SANS]
}

/// Every shipped face, for a renderer or typesetter that picks for itself: regular, bold, italic, then the fallbacks.
#[must_use]
pub fn all_faces() -> Vec<&'static [u8]> {
    let mut faces = vec![main_face(Weight::Regular), main_face(Weight::Bold), italic_face()];
    faces.extend(fallback_faces());
    faces
}

/// Place of the first fallback in [`all_faces`].
const FIRST_FALLBACK: usize = 3;

// Parsed faces in the order of `all_faces`. A face that does not parse is left out of measuring and setting.
fn parsed() -> &'static [Option<Face<'static>>] {
    static FACES: OnceLock<Vec<Option<Face<'static>>>> = OnceLock::new();
    FACES.get_or_init(|| all_faces().into_iter().map(|bytes| Face::from_slice(bytes, 0)).collect())
}

/// A parsed face by its place in [`all_faces`].
pub(crate) fn face(place: usize) -> Option<&'static Face<'static>> {
    parsed().get(place)?.as_ref()
}

/// The places in [`all_faces`] of the faces to try for a letter, in order.
pub(crate) fn stack(weight: Weight) -> impl Iterator<Item = usize> {
    std::iter::once(usize::from(weight == Weight::Bold)).chain(FIRST_FALLBACK..parsed().len())
}

/// Whether a shipped face of the stack can draw a character.
fn covered(c: char) -> bool {
    stack(Weight::Regular).any(|place| face(place).is_some_and(|face| face.glyph_index(c).is_some()))
}

/// Text whose letters the shipped fonts can draw: those that none of them holds are written in the Latin alphabet, letter by
/// letter. Other signs stay, for a reader's own fonts.
#[must_use]
pub fn readable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        let latin = if c.is_ascii() || !c.is_alphabetic() || covered(c) { "" } else { any_ascii_char(c) };
        if latin.is_empty() { out.push(c) } else { out.push_str(latin) }
    }
    out
}

/// Text that the shipped fonts can draw, so that no letter is ever missing in a PDF (PDF/UA-1) and nobody wonders about an
/// empty gap: letters that none of them holds are written in the Latin alphabet, letter by letter; other signs become a
/// hollow box, joiners and variation selectors beside one go with it. What is plain ASCII stays as it is, so that a
/// drawing's markup comes through whole; so do the marks that isolate a direction.
#[must_use]
pub fn drawable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in readable(text).chars() {
        match c {
            '\u{200C}' | '\u{200D}' | '\u{FE00}'..='\u{FE0F}' | '\u{1F3FB}'..='\u{1F3FF}'
                if !covered(c) || out.ends_with('□') => {}
            '\u{2066}'..='\u{2069}' => out.push(c),
            c if c.is_ascii() || covered(c) => out.push(c),
            _ if out.ends_with('□') => {}
            _ => out.push('□'),
        }
    }
    out
}

/// Stretches of a text that one face of the stack can draw, each with the place of that face in [`all_faces`]. What goes
/// with a letter (spaces, marks, figures) stays with the face before it as long as that holds it too.
pub(crate) fn stretches(text: &str, weight: Weight) -> Vec<(Option<usize>, &str)> {
    let mut out: Vec<(Option<usize>, std::ops::Range<usize>)> = Vec::new();
    let holds = |place: usize, c: char| face(place).is_some_and(|face| face.glyph_index(c).is_some());
    for (at, c) in text.char_indices() {
        let end = at + c.len_utf8();
        match out.last_mut() {
            Some((place, stretch)) if !c.is_alphabetic() && place.is_some_and(|place| holds(place, c)) => {
                stretch.end = end;
            }
            last => {
                let place = stack(weight).find(|&place| holds(place, c));
                match last {
                    Some((same, stretch)) if *same == place => stretch.end = end,
                    _ => out.push((place, at..end)),
                }
            }
        }
    }
    out.into_iter().map(|(place, stretch)| (place, &text[stretch])).collect()
}

/// The family of a face by its place in [`all_faces`].
pub(crate) fn family_of(place: usize) -> Option<&'static str> {
    if place < FIRST_FALLBACK { Some(FAMILY) } else { STACK.get(place - FIRST_FALLBACK + 1).copied() }
}

/// Width of a line of text at a size, in the size's unit: the sum of advances, kerning left out.
/// A letter that no shipped face holds is counted as one em, which errs on the wide side.
#[must_use]
pub fn width(text: &str, size: f64, weight: Weight) -> f64 {
    let advance = |c: char| {
        stack(weight).find_map(|place| {
            let face = face(place)?;
            let glyph = face.glyph_index(c)?;
            Some(f64::from(face.glyph_hor_advance(glyph)?) / f64::from(face.units_per_em().max(1)))
        })
    };
    text.chars().map(|c| advance(c).unwrap_or(1.0)).sum::<f64>() * size
}

/// The main face cut down to the letters of a text (and the space), as a TrueType file of its own with its character map, name
/// and licence strings. A drawing then carries some ten kilobytes of font instead of several hundred.
#[must_use]
pub fn subset(weight: Weight, text: &str) -> Vec<u8> {
    let whole = main_face(weight);
    let attempt = || -> Option<Vec<u8>> {
        let face = face(usize::from(weight == Weight::Bold))?;
        let mut letters: Vec<(u16, u16)> = text
            .chars()
            .chain([' ', '…'])
            .filter_map(|c| Some((u16::try_from(u32::from(c)).ok()?, face.glyph_index(c)?.0)))
            .collect();
        letters.sort_unstable();
        letters.dedup();
        let glyphs: Vec<u16> = std::iter::once(0).chain(letters.iter().map(|(_, glyph)| *glyph)).collect();
        // A glyph that serves two letters stands in the subset twice, which is allowed and rare.
        let numbered: Vec<(u16, u16)> = letters.iter().zip(1u16..).map(|((letter, _), new)| (*letter, new)).collect();
        subset::subset(whole, &glyphs, &numbered)
    };
    // A whole font is as right as a subset, only larger.
    attempt().unwrap_or_else(|| whole.to_vec())
}

/// Some glyphs of a face (by its place in [`all_faces`]) as a TrueType file without a character map; the first glyph must be 0.
pub(crate) fn subset_glyphs(place: usize, glyphs: &[u16]) -> Option<Vec<u8>> {
    subset::subset(all_faces().get(place)?, glyphs, &[])
}

/// The text if it fits into `room`, or as many of its letters as fit followed by an ellipsis.
/// Cuts between grapheme clusters only, so that no letter loses its accent and no emoji is split.
#[must_use]
pub fn fitted(text: &str, size: f64, weight: Weight, room: f64) -> String {
    if width(text, size, weight) <= room {
        return text.to_owned();
    }
    let mut kept = String::new();
    let mut used = width("…", size, weight);
    for cluster in text.graphemes(true) {
        used += width(cluster, size, weight);
        if used > room {
            break;
        }
        kept.push_str(cluster);
    }
    format!("{}…", kept.trim_end())
}

/// Breaks text into lines no wider than `room`, at spaces; a word wider than that is cut with an ellipsis.
#[must_use]
pub fn wrapped(text: &str, size: f64, weight: Weight, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let longer = match lines.last() {
            Some(line) => format!("{line} {word}"),
            None => word.to_owned(),
        };
        if !lines.is_empty() && width(&longer, size, weight) <= room {
            lines.pop();
            lines.push(longer);
        } else {
            lines.push(fitted(word, size, weight, room));
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_grow_with_text_and_figures_are_tabular() {
        assert!(width("Broome", 10.0, Weight::Bold) > width("Broom", 10.0, Weight::Bold));
        let one = width("1", 10.0, Weight::Regular);
        assert!((width("8", 10.0, Weight::Regular) - one).abs() < 1e-9);
        assert!(one > 4.0 && one < 8.0);
    }

    #[test]
    fn a_subset_is_small_and_an_independent_parser_finds_its_letters() {
        let bytes = subset(Weight::Bold, "Sun 34° Île");
        assert!(bytes.len() < 20_000, "{}", bytes.len());
        let face = ttf_parser::Face::parse(&bytes, 0).expect("a font");
        for c in "Sun 34° Île".chars() {
            let whole = parsed()[1].as_ref().and_then(|f| f.glyph_hor_advance(f.glyph_index(c)?));
            assert_eq!(face.glyph_index(c).and_then(|g| face.glyph_hor_advance(g)), whole, "{c}");
        }
        assert!(face.glyph_index('Z').is_none());
    }

    #[test]
    fn letters_without_a_glyph_are_written_in_latin_and_other_signs_become_one_box() {
        assert_eq!(drawable("Bar 🌞🌞 \u{1F468}\u{200D}\u{1F469} 日本"), "Bar □ □ RiBen");
        assert_eq!(drawable("אבג عربي Ωж"), "אבג عربي Ωж");
    }

    #[test]
    fn a_line_of_two_scripts_is_cut_where_the_face_changes() {
        let found = stretches("صلالة (1) Salalah", Weight::Regular);
        let families: Vec<_> = found.iter().map(|(place, text)| (place.and_then(family_of), *text)).collect();
        assert_eq!(families[0].0, Some("Noto Sans Arabic"));
        assert!(families[0].1.starts_with("صلالة"));
        assert_eq!(families.last().copied(), Some((Some(FAMILY), "(1) Salalah")));
        assert_eq!(stretches("Ελλάδα, Москва 5 m", Weight::Bold), [(Some(1), "Ελλάδα, Москва 5 m")]);
        assert!(stretches("", Weight::Bold).is_empty());
    }

    #[test]
    fn long_names_are_cut_between_letters() {
        let name = "Å👩‍👩‍👧".repeat(60);
        let cut = fitted(&name, 12.0, Weight::Regular, 90.0);
        assert!(cut.ends_with('…') && width(&cut, 12.0, Weight::Regular) <= 90.0);
        assert!(name.starts_with(cut.trim_end_matches('…')));
        assert!(!cut.trim_end_matches('…').ends_with('\u{200d}'));
    }

    #[test]
    fn wrapped_lines_fit() {
        let text = "Never look at the Sun without a filter outside totality";
        let lines = wrapped(text, 12.0, Weight::Regular, 120.0);
        assert!(lines.len() > 1 && lines.iter().all(|l| width(l, 12.0, Weight::Regular) <= 120.0));
        assert_eq!(lines.join(" "), text);
    }
}
