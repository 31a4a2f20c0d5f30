//! From text to lines of glyphs: choice of faces, direction, shaping, breaking.
//!
//! A paragraph is shaped once, in ems; lines of any size are then cut from it by arithmetic, so that trying sizes is cheap. Direction by
//! UAX #9 (the page reads from left to right; a stretch of right-to-left letters is isolated, so that the figures and commas after a name
//! stay where they belong), chances to break by UAX #14. Figures are tabular in the shipped faces as they are.

use std::cell::RefCell;
use std::collections::HashMap;
use std::ops::Range;
use std::rc::Rc;

use rustybuzz::{Direction, UnicodeBuffer};
use unicode_bidi::{BidiClass, BidiInfo, Level, bidi_class};
use unicode_linebreak::{BreakOpportunity, linebreaks};
use unicode_segmentation::UnicodeSegmentation as _;

use super::{Colour, Frame, Node};
use crate::fonts::{self, Weight, drawable};

/// Height of capitals of the main face, ems (OS/2 table: 714 of 1000): a line's box reaches from there to its baseline.
pub const CAPITALS: f64 = 0.714;

/// A stretch of text that looks the same.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Piece {
    /// The letters.
    pub text: String,
    /// Whether they are bold.
    pub bold: bool,
    /// Their colour.
    pub colour: Colour,
}

impl Piece {
    /// A stretch of text.
    pub fn new(text: &str, bold: bool, colour: Colour) -> Piece {
        Piece { text: text.to_owned(), bold, colour }
    }
}

/// One glyph of a cluster, in ems from the cluster's beginning; y upwards.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Glyph {
    pub(crate) id: u16,
    pub(crate) x: f64,
    pub(crate) y: f64,
}

/// Letters that are shaped together: the smallest part that a line can be cut into.
#[derive(Clone, Debug)]
pub(crate) struct Cluster {
    /// The letters it stands for.
    pub(crate) text: String,
    /// Place of the face in [`fonts::all_faces`].
    pub(crate) face: usize,
    pub(crate) colour: Colour,
    pub(crate) glyphs: Vec<Glyph>,
    /// Ems.
    pub(crate) advance: f64,
    level: Level,
    space: bool,
    /// Whether a line may end after it, and whether it must.
    ends: Option<BreakOpportunity>,
}

/// A shaped paragraph.
#[derive(Debug, Default)]
pub(crate) struct Shaped {
    clusters: Vec<Cluster>,
}

/// A line of a shaped paragraph at a size.
#[derive(Clone, Debug)]
pub struct TextLine {
    paragraph: Rc<Shaped>,
    /// Clusters from left to right.
    order: Vec<u32>,
    /// Size of its letters, points.
    pub size: f64,
    /// Points, without spaces at the end.
    pub width: f64,
}

impl TextLine {
    /// The clusters from left to right.
    pub(crate) fn clusters(&self) -> impl Iterator<Item = &Cluster> {
        self.order.iter().filter_map(|&i| self.paragraph.clusters.get(i as usize))
    }

    /// The clusters in order of reading.
    pub(crate) fn text(&self) -> String {
        let mut order = self.order.clone();
        order.sort_unstable();
        order.iter().filter_map(|&i| self.paragraph.clusters.get(i as usize)).map(|c| c.text.as_str()).collect()
    }
}

/// Shapes paragraphs and remembers them while a page is tried at several sizes.
#[derive(Default)]
pub struct Setter {
    known: RefCell<HashMap<Vec<Piece>, Rc<Shaped>>>,
}

impl Setter {
    fn shaped(&self, pieces: &[Piece]) -> Rc<Shaped> {
        if let Some(known) = self.known.borrow().get(pieces) {
            return Rc::clone(known);
        }
        let shaped = Rc::new(shape(pieces));
        self.known.borrow_mut().insert(pieces.to_vec(), Rc::clone(&shaped));
        shaped
    }

    /// Width on one line.
    pub fn width(&self, pieces: &[Piece], size: f64) -> f64 {
        let shaped = self.shaped(pieces);
        shaped.width(0..shaped.clusters.len()) * size
    }

    /// The lines of a paragraph no wider than `room`.
    pub fn lines(&self, pieces: &[Piece], size: f64, room: f64) -> Vec<TextLine> {
        let shaped = self.shaped(pieces);
        shaped.broken(room / size.max(1e-6)).into_iter().map(|range| line(&shaped, range, size)).collect()
    }

    /// A paragraph in a column; `leading` is the gap between a baseline and the capitals of the next line, in ems. `share` holds lines that
    /// are shorter than the column: 0 at the left, 0.5 in the middle, 1 at the right.
    pub fn paragraph(&self, pieces: &[Piece], size: f64, leading: f64, room: f64, share: f64) -> Frame {
        let lines = self.lines(pieces, size, room);
        // Nothing said takes the room of a line, so that what stands beside it stays in line.
        let mut frame = Frame::empty(room, size * CAPITALS);
        for (i, line) in lines.into_iter().enumerate() {
            let baseline = size * (CAPITALS + i as f64 * (CAPITALS + leading));
            frame.height = baseline;
            frame.nodes.push(Node::Text { at: [(room - line.width) * share, baseline], line });
        }
        frame
    }

    /// One line, as wide as its text.
    pub fn line(&self, pieces: &[Piece], size: f64) -> Frame {
        let shaped = self.shaped(pieces);
        let line = line(&shaped, 0..shaped.clusters.len(), size);
        Frame {
            width: line.width,
            height: size * CAPITALS,
            nodes: vec![Node::Text { at: [0.0, size * CAPITALS], line }],
        }
    }

    /// One line no wider than `room`: as long as it fits, at the first of the sizes that does; at the last, cut with an ellipsis.
    pub fn fitting(&self, piece: &Piece, sizes: &[f64], room: f64) -> Frame {
        let one = std::slice::from_ref(piece);
        match sizes.iter().find(|&&size| self.width(one, size) <= room) {
            Some(&size) => self.line(one, size),
            None => {
                let size = sizes.last().copied().unwrap_or(6.0);
                self.line(&[self.cut(piece, size, room, 1)], size)
            }
        }
    }

    /// The text as far as it holds on so many lines, with an ellipsis where something is left out.
    pub fn cut(&self, piece: &Piece, size: f64, room: f64, lines: usize) -> Piece {
        let holds = |piece: &Piece| self.lines(std::slice::from_ref(piece), size, room).len() <= lines;
        if holds(piece) {
            return piece.clone();
        }
        let ends: Vec<usize> = piece.text.grapheme_indices(true).map(|(at, _)| at).collect();
        let shortened = |letters: usize| {
            let end = ends.get(letters).copied().unwrap_or(piece.text.len());
            Piece { text: format!("{}…", piece.text[..end].trim_end()), ..piece.clone() }
        };
        let (mut fits, mut not) = (0, ends.len());
        while not - fits > 1 {
            let middle = usize::midpoint(fits, not);
            if holds(&shortened(middle)) {
                fits = middle;
            } else {
                not = middle;
            }
        }
        shortened(fits)
    }
}

impl Shaped {
    /// Ems, spaces at the end left out.
    fn width(&self, range: Range<usize>) -> f64 {
        let clusters = &self.clusters[range];
        let end = clusters.iter().rposition(|c| !c.space).map_or(0, |last| last + 1);
        clusters[..end].iter().map(|c| c.advance).sum()
    }

    /// Ranges of clusters, one a line, none wider than `room` (ems) unless a single cluster is.
    fn broken(&self, room: f64) -> Vec<Range<usize>> {
        // What is laid out to its own width must fit it in spite of rounding.
        let room = room + 1e-6;
        let mut lines = Vec::new();
        let mut start = 0;
        while start < self.clusters.len() {
            let (mut used, mut ink_end, mut last_chance, mut end) = (0.0, 0.0, None, None);
            for (i, cluster) in self.clusters.iter().enumerate().skip(start) {
                used += cluster.advance;
                if !cluster.space {
                    ink_end = used;
                }
                if ink_end > room && i > start {
                    end = Some(last_chance.unwrap_or(i));
                    break;
                }
                match cluster.ends {
                    Some(BreakOpportunity::Mandatory) => {
                        end = Some(i + 1);
                        break;
                    }
                    Some(BreakOpportunity::Allowed) => last_chance = Some(i + 1),
                    None => {}
                }
            }
            let end = end.unwrap_or(self.clusters.len());
            lines.push(start..end);
            start = end;
        }
        lines
    }
}

/// A line of some clusters, put from left to right (UAX #9, rules L1 and L2).
fn line(shaped: &Rc<Shaped>, range: Range<usize>, size: f64) -> TextLine {
    let width = shaped.width(range.clone()) * size;
    let clusters = &shaped.clusters[range.clone()];
    let ink_end = clusters.iter().rposition(|c| !c.space).map_or(0, |last| last + 1);
    let levels: Vec<Level> =
        clusters.iter().enumerate().map(|(i, c)| if i < ink_end { c.level } else { Level::ltr() }).collect();
    let order = BidiInfo::reorder_visual(&levels);
    let order = order.into_iter().filter_map(|i| u32::try_from(range.start + i).ok()).collect();
    TextLine { paragraph: Rc::clone(shaped), order, size, width }
}

/// First strong isolate and its end.
const ISOLATE: char = '\u{2068}';
const END_OF_ISOLATE: char = '\u{2069}';

fn is_right_to_left(c: char) -> bool {
    matches!(bidi_class(c), BidiClass::R | BidiClass::AL)
}

/// The text with each stretch of right-to-left letters isolated: from such a letter to the last one before a left-to-right letter.
fn isolated(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    // Where in `out` the stretch that is open would end.
    let mut end = None;
    for c in text.chars() {
        if is_right_to_left(c) {
            if end.is_none() {
                out.push(ISOLATE);
            }
            out.push(c);
            end = Some(out.len());
            continue;
        }
        // Marks belong to the letter before them.
        let mark = end == Some(out.len()) && bidi_class(c) == BidiClass::NSM;
        if bidi_class(c) == BidiClass::L
            && let Some(at) = end.take()
        {
            out.insert(at, END_OF_ISOLATE);
        }
        out.push(c);
        if mark {
            end = Some(out.len());
        }
    }
    if let Some(at) = end {
        out.insert(at, END_OF_ISOLATE);
    }
    out
}

/// Characters that steer and are not drawn.
fn is_mark_of_direction(c: char) -> bool {
    matches!(c, '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// The face for some letters that belong together; none of it may be missing.
fn face_for(letters: &str, weight: Weight) -> usize {
    let holds = |place: &usize, all: bool| {
        let Some(face) = fonts::face(*place) else { return false };
        let mut seen = letters.chars().filter(|c| !is_ignorable(*c));
        if all {
            seen.all(|c| face.glyph_index(c).is_some())
        } else {
            seen.next().is_none_or(|c| face.glyph_index(c).is_some())
        }
    };
    fonts::stack(weight)
        .find(|place| holds(place, true))
        .or_else(|| fonts::stack(weight).find(|place| holds(place, false)))
        .unwrap_or(usize::from(weight == Weight::Bold))
}

/// Joiners and selectors: they may be missing from a face without a gap.
fn is_ignorable(c: char) -> bool {
    matches!(c, '\u{200B}'..='\u{200D}' | '\u{FE00}'..='\u{FE0F}' | '\u{00AD}' | '\u{2060}' | '\u{FEFF}')
        || is_mark_of_direction(c)
}

/// A stretch of text with one face, one direction and one look.
struct Item {
    range: Range<usize>,
    face: usize,
    level: Level,
    colour: Colour,
}

fn shape(pieces: &[Piece]) -> Shaped {
    let mut text = String::new();
    let mut looks: Vec<(usize, bool, Colour)> = Vec::new();
    for piece in pieces {
        let clean: String = piece.text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        text.push_str(&isolated(&drawable(&clean)));
        looks.push((text.len(), piece.bold, piece.colour));
    }
    let bidi = BidiInfo::new(&text, Some(Level::ltr()));
    let mut items: Vec<Item> = Vec::new();
    for (at, letters) in text.grapheme_indices(true) {
        let Some(&(_, bold, colour)) = looks.iter().find(|(end, ..)| at < *end) else { continue };
        let level = bidi.levels.get(at).copied().unwrap_or(Level::ltr());
        let face = face_for(letters, if bold { Weight::Bold } else { Weight::Regular });
        let range = at..at + letters.len();
        match items.last_mut() {
            Some(item) if item.face == face && item.level == level && item.colour == colour => {
                item.range.end = range.end
            }
            _ => items.push(Item { range, face, level, colour }),
        }
    }
    let mut clusters: Vec<(usize, Cluster)> = items.iter().flat_map(|item| shape_item(&text, item)).collect();
    for (at, chance) in linebreaks(&text) {
        // The end of the text is always a chance and always there.
        if at == text.len() {
            continue;
        }
        let before = clusters.partition_point(|(start, _)| *start < at);
        // Within a ligature there is no cluster that ends here.
        let whole = clusters.get(before).is_none_or(|(start, _)| text[at..*start].chars().all(is_ignorable));
        if let Some((_, cluster)) = before.checked_sub(1).and_then(|i| clusters.get_mut(i))
            && whole
        {
            cluster.ends = Some(chance);
        }
    }
    Shaped { clusters: clusters.into_iter().map(|(_, cluster)| cluster).collect() }
}

/// The clusters of one stretch in order of reading, each with the place in the text where it begins.
fn shape_item(text: &str, item: &Item) -> Vec<(usize, Cluster)> {
    let Some(face) = fonts::face(item.face) else { return Vec::new() };
    let letters = &text[item.range.clone()];
    let mut buffer = UnicodeBuffer::new();
    // Left-out characters keep the places of the others.
    for (at, c) in letters.char_indices().filter(|(_, c)| !is_mark_of_direction(*c)) {
        buffer.add(c, at as u32);
    }
    if buffer.is_empty() {
        return Vec::new();
    }
    buffer.guess_segment_properties();
    buffer.set_direction(if item.level.is_rtl() { Direction::RightToLeft } else { Direction::LeftToRight });
    let shaped = rustybuzz::shape(face, &[], buffer);
    let em = f64::from(face.units_per_em().max(1));
    let mut starts: Vec<usize> = shaped.glyph_infos().iter().map(|info| info.cluster as usize).collect();
    starts.sort_unstable();
    starts.dedup();
    let mut out: Vec<(usize, Cluster)> = Vec::with_capacity(starts.len());
    for (i, &start) in starts.iter().enumerate() {
        let end = starts.get(i + 1).copied().unwrap_or(letters.len());
        let own: String = letters[start..end].chars().filter(|c| !is_mark_of_direction(*c)).collect();
        let space = own.chars().all(char::is_whitespace);
        let cluster = Cluster {
            text: own,
            face: item.face,
            colour: item.colour,
            glyphs: Vec::new(),
            advance: 0.0,
            level: item.level,
            space,
            ends: None,
        };
        out.push((item.range.start + start, cluster));
    }
    // Glyphs come from left to right whatever the direction, those of a cluster side by side.
    for (info, position) in shaped.glyph_infos().iter().zip(shaped.glyph_positions()) {
        let Ok(place) = starts.binary_search(&(info.cluster as usize)) else { continue };
        let cluster = &mut out[place].1;
        let id = u16::try_from(info.glyph_id).unwrap_or(0);
        let hidden = id == 0 && cluster.text.chars().all(is_ignorable);
        if !hidden {
            let (x, y) = (cluster.advance + f64::from(position.x_offset) / em, f64::from(position.y_offset) / em);
            cluster.glyphs.push(Glyph { id, x, y });
            cluster.advance += f64::from(position.x_advance) / em;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const INK: Colour = Colour([0; 3]);

    fn words(lines: &[TextLine]) -> Vec<String> {
        lines.iter().map(|line| line.text().trim_end().to_owned()).collect()
    }

    fn seen(line: &TextLine) -> String {
        line.clusters().map(|cluster| cluster.text.as_str()).collect()
    }

    #[test]
    fn lines_break_at_spaces_and_none_is_wider_than_the_column() {
        let setter = Setter::default();
        let piece = Piece::new("Never look at the Sun without a filter outside totality", false, INK);
        let lines = setter.lines(std::slice::from_ref(&piece), 10.0, 100.0);
        assert!(lines.len() > 2 && lines.iter().all(|line| line.width <= 100.0));
        assert_eq!(words(&lines).join(" "), piece.text);
        let long = Piece::new(&"Llanfairpwll".repeat(9), true, INK);
        assert!(setter.lines(&[long], 10.0, 100.0).iter().all(|line| line.width <= 100.0));
    }

    #[test]
    fn a_cut_text_ends_in_an_ellipsis_and_fits() {
        let setter = Setter::default();
        let piece = Piece::new("A place with a name that goes on and on", true, INK);
        let cut = setter.cut(&piece, 12.0, 90.0, 1);
        assert!(cut.text.ends_with('…') && piece.text.starts_with(cut.text.trim_end_matches('…')));
        assert!(setter.width(&[cut], 12.0) <= 90.0);
    }

    /// Lam and alef become one glyph (Unicode Standard, section 9.2); the letters behind it stay both.
    #[test]
    fn arabic_joins_and_keeps_its_letters() {
        let setter = Setter::default();
        for name in ["الأقصر", "صلالة"] {
            let lines = setter.lines(&[Piece::new(name, false, INK)], 10.0, 500.0);
            assert_eq!(words(&lines), [name]);
            let ligature = lines[0].clusters().find(|c| c.text.chars().count() == 2);
            assert!(ligature.is_some_and(|c| c.glyphs.iter().all(|g| g.id != 0)), "{name}");
            assert!(lines[0].clusters().all(|c| !c.glyphs.is_empty() && c.glyphs.iter().all(|g| g.id != 0)));
        }
    }

    /// UAX #9 with the name isolated: the distance after a Hebrew name stays to its right.
    #[test]
    fn figures_after_a_right_to_left_name_stay_behind_it() {
        let setter = Setter::default();
        let lines = setter.lines(&[Piece::new("To אבג, 74 km", false, INK)], 10.0, 500.0);
        assert_eq!(seen(&lines[0]), "To גבא, 74 km");
    }

    #[test]
    fn every_letter_gets_a_glyph_of_some_face() {
        let setter = Setter::default();
        let text = "Åé Ωж עברית عربي ▲ □ − ≈ 12:30 \u{1}🌞e\u{301}";
        for line in setter.lines(&[Piece::new(text, true, INK)], 10.0, 1e4) {
            for cluster in line.clusters() {
                assert!(cluster.glyphs.iter().all(|g| g.id != 0), "{:?}", cluster.text);
            }
        }
    }
}
