//! Where the data comes from, how far it can be trusted, and whether it is invented.

use super::{Centrality, MapSheet, canvas::Canvas, sites};
use crate::basemap;
use crate::fonts::{self, Weight};
use crate::palette::{INK, PAPER, QUIET_INK};
use crate::svg::{FontEmbedding, Num, Svg, TextStyle};
use noonfall_words::safety;

/// Words of the banner on a map with invented data.
pub const INVENTED: &str = "INVENTED DEMO DATA";

/// Said on every map that gives times or durations: of a smooth Moon all over, or at the Moon's measured edge where that was computed.
const SMOOTH: &str = "Times and durations are those of a smooth Moon; mountains and valleys on its edge move second and third contact by some seconds.";
fn measured(grid: &str) -> String {
    format!(
        "Lengths at the sites are those at the Moon's measured edge ({grid}); shading, central line and solid limits are \
         those of a smooth Moon, some seconds and kilometres off."
    )
}

/// The margin's notes in order, after the projection.
#[must_use]
pub fn notes(sheet: &MapSheet<'_>) -> Vec<String> {
    let mut notes = sheet.notes.clone();
    let ranked = sheet.sites.iter().filter(|s| s.rank.is_some()).count();
    if ranked > sites::MOST_NUMBERED {
        let dots = if ranked - sites::MOST_NUMBERED > sites::MOST_DOTS {
            format!("the next {} are dots, the rest are left out", sites::MOST_DOTS)
        } else {
            "the others are dots".to_owned()
        };
        notes.push(format!("The best {} of {ranked} sites are numbered; {dots}.", sites::MOST_NUMBERED));
    }
    notes.push(sheet.path.edge_grid.as_deref().map_or_else(|| SMOOTH.to_owned(), measured));
    let mut credits = vec![basemap::CREDIT.to_owned()];
    credits.extend(sheet.credits.iter().cloned());
    notes.push(format!("{}.", credits.join(". ")));
    notes
}

/// Draws the banner that says that data is invented.
pub fn banner(svg: &mut Svg, x: f64, y: &mut f64, t: f64) {
    let size = t * 0.9;
    let width = fonts::width(INVENTED, size, Weight::Bold) + t * 1.2;
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
    svg.text(x + t * 0.6, *y + t, &TextStyle::new(size, PAPER).strong(), INVENTED);
    *y += t * 1.35;
}

/// One line of credits below a map that is set into a page, which carries the caution and the notes itself.
pub fn line(canvas: &mut Canvas, x: f64, baseline: f64, room: f64) {
    let t = canvas.page.text;
    let size = t * 0.74;
    let mut parts = Vec::new();
    if canvas.sheet.invented {
        parts.push(INVENTED.to_owned());
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
