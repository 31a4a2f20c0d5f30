//! Sites at their values: a small disc exactly where the axes put it, never moved, and beside it rank and name, with a line to the
//! disc where there is no room close by. What finds no room at all is counted, so that the chart can say so.

use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Placer, Wanted};
use crate::palette::{INK, PAPER};
use crate::svg::{Anchor, Num, Svg, TextStyle};

/// Sites that are named at most; the rest are discs alone.
pub const MOST_NAMED: usize = 60;

/// A site with its place in the drawing.
pub struct ValueMark<'a> {
    /// Rank, if ranked.
    pub rank: Option<u32>,
    /// Name.
    pub name: &'a str,
    /// Where its values lie on the page.
    pub at: [f64; 2],
    /// The values in words, for a pointer or a screen reader.
    pub words: String,
    /// Ink of the name.
    pub ink: &'static str,
    /// Whether the disc is filled.
    pub filled: bool,
}

/// Radius of a disc.
#[must_use]
pub fn radius(text: f64) -> f64 {
    text * 0.3
}

/// Draws the discs, the first on top, and the names of as many as find room. Gives the number of sites without a name.
pub fn draw(svg: &mut Svg, placer: &mut Placer, marks: &[ValueMark<'_>], text: f64) -> usize {
    let radius = radius(text);
    for mark in marks {
        placer.take(Footprint::around(mark.at, radius));
    }
    let size = text * 0.84;
    let mut labels = Vec::new();
    for mark in marks.iter().take(MOST_NAMED) {
        let name = mark.rank.map_or_else(|| mark.name.to_owned(), |rank| format!("{rank} {}", mark.name));
        let name = fonts::fitted(&name, size, Weight::Regular, text * 11.0);
        let mut forms = vec![name];
        forms.extend(mark.rank.map(|rank| rank.to_string()));
        let wanted = Wanted {
            anchor: mark.at,
            clear: radius,
            forms: forms.iter().map(|f| [fonts::width(f, size, Weight::Regular) + 4.0, size * 1.2]).collect(),
            reach: text * 9.0,
        };
        if let Some(placed) = placer.place_around(&wanted) {
            labels.push((mark, forms.swap_remove(placed.form), placed));
        }
    }
    for (_, _, placed) in &labels {
        if let Some([a, b]) = placed.leader {
            svg.leaf(
                "path",
                &[
                    ("d", &format!("M{} {}L{} {}", Num(a[0]), Num(a[1]), Num(b[0]), Num(b[1]))),
                    ("stroke", &INK),
                    ("stroke-width", &Num(text * 0.05)),
                ],
            );
        }
    }
    for mark in marks.iter().rev() {
        svg.leaf_titled(
            "circle",
            &[
                ("cx", &Num(mark.at[0])),
                ("cy", &Num(mark.at[1])),
                ("r", &Num(radius)),
                ("fill", &if mark.filled { INK } else { PAPER }),
                ("stroke", &if mark.filled { PAPER } else { INK }),
                ("stroke-width", &Num(text * 0.08)),
            ],
            &mark.words,
        );
    }
    for (mark, words, placed) in &labels {
        let style = TextStyle::new(size, mark.ink).held(Anchor::Middle).haloed(PAPER);
        svg.text(placed.footprint.centre[0], placed.footprint.centre[1] + size * 0.36, &style, words);
    }
    marks.len() - labels.len()
}

/// A sentence for the chart's foot about sites without a name; nothing when all are named.
#[must_use]
pub fn unnamed(count: usize) -> Option<String> {
    match count {
        0 => None,
        1 => Some("One site has no room for its name: its disc stands at its values all the same.".to_owned()),
        n => Some(format!("{n} sites have no room for their names: their discs stand at their values all the same.")),
    }
}
