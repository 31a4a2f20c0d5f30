//! Where the data comes from, how far it can be trusted, and whether it is invented.

use super::{Centrality, MapSheet, canvas::Canvas, sites};
use crate::basemap;
use crate::fonts::{self, Weight};
use crate::palette::{INK, PAPER, QUIET_INK};
use crate::svg::{FontEmbedding, Num, Svg, TextStyle};
use noonfall_words::{self as words, safety};

/// The margin's notes in order, after the projection.
#[must_use]
pub fn notes(sheet: &MapSheet<'_>) -> Vec<String> {
    let mut notes = sheet.notes.clone();
    let ranked = sheet.sites.iter().filter(|s| s.rank.is_some()).count();
    if ranked > sites::MOST_NUMBERED {
        notes.push(words::map::numbered(sites::MOST_NUMBERED, ranked, sites::MOST_DOTS));
    }
    notes.push(words::edge::on_map(sheet.path.edge_grid.as_deref()));
    let mut credits = vec![basemap::CREDIT.to_owned()];
    credits.extend(sheet.credits.iter().cloned());
    notes.push(format!("{}.", credits.join(". ")));
    notes
}

/// Draws the banner that says that data is invented.
pub fn banner(svg: &mut Svg, x: f64, y: &mut f64, t: f64) {
    let size = t * 0.9;
    let width = fonts::width(words::invented::BANNER, size, Weight::Bold) + t * 1.2;
    *y += t * 0.35;
    svg.leaf(
        "rect",
        &[
            ("x", &Num(x)),
            ("y", &Num(*y)),
            ("width", &Num(width)),
            ("height", &Num(t * 1.35)),
            ("fill", &INK),
            ("rx", &Num(t * 0.15)),
        ],
    );
    svg.text(x + t * 0.6, *y + t, &TextStyle::new(size, PAPER).strong(), words::invented::BANNER);
    *y += t * 1.35;
}

/// One line of credits below a map that is set into a page, which carries the caution and the notes itself.
pub fn line(canvas: &mut Canvas, x: f64, baseline: f64, room: f64) {
    let t = canvas.page.text;
    let size = t * 0.74;
    let mut parts = Vec::new();
    if canvas.sheet.invented {
        parts.push(words::invented::BANNER.to_owned());
    }
    parts.push("Natural Earth".to_owned());
    parts.extend(canvas.sheet.credits.iter().cloned());
    parts.push(canvas.frame.projection().short_name().to_owned());
    // A page that lends its letters may have wider ones: the line must not run off the map.
    let room = if canvas.sheet.fonts == FontEmbedding::FromPage { 0.85 * room } else { room };
    let text = fonts::fitted(&parts.join(" · "), size, Weight::Regular, room);
    canvas.svg.text(x, baseline, &TextStyle::new(size, QUIET_INK), &text);
    // A screen reader still gets the caution with a map that stands alone.
    let words = caution(canvas.sheet.path.centrality);
    canvas.svg.leaf_titled("g", &[], words);
}

/// The caution for the kind of path.
#[must_use]
pub(crate) fn caution(centrality: Centrality) -> &'static str {
    if centrality == Centrality::Annular { safety::ON_MAP_ANNULAR } else { safety::ON_MAP }
}
