//! Populated places for orientation, on regional maps.

use super::canvas::Canvas;
use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Wanted};
use crate::palette::{INK, PAPER, QUIET_INK};
use crate::svg::{Anchor, Num, TextStyle};
use noonfall_words::map::layer;

/// Labels at most: a regional map with more is a list.
const MOST: usize = 45;

/// Draws the largest places that find room.
pub fn draw(canvas: &mut Canvas) {
    let t = canvas.page.text;
    let size = t * 0.84;
    let mut towns: Vec<_> = canvas
        .sheet
        .towns
        .iter()
        .filter_map(|town| Some((town, canvas.frame.page_inside(town.point, 4.0)?)))
        // A site's own town is already named.
        .filter(|(town, _)| !canvas.sheet.sites.iter().any(|s| s.name == town.name))
        .collect();
    towns.sort_by(|a, b| b.0.population.cmp(&a.0.population).then_with(|| a.0.name.cmp(&b.0.name)));
    canvas.svg.open_group(layer::TOWNS, &[]);
    let mut drawn = 0;
    for (town, p) in towns {
        if drawn >= MOST {
            break;
        }
        let dot = Footprint::around(p, t * 0.16);
        if !canvas.placer.is_free(&dot) {
            continue;
        }
        let text = fonts::fitted(&town.name, size, Weight::Regular, t * 11.0);
        let width = fonts::width(&text, size, Weight::Regular);
        let wanted =
            Wanted { anchor: p, clear: t * 0.16, forms: vec![[width + 2.0, size * 1.15]], reach: t * 0.2 + 4.0 };
        let Some(placed) = canvas.placer.place(&wanted) else { continue };
        canvas.placer.take(dot);
        drawn += 1;
        canvas.svg.leaf(
            "circle",
            &[
                ("cx", &Num(p[0])),
                ("cy", &Num(p[1])),
                ("r", &Num(t * 0.15)),
                ("fill", &PAPER),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.07)),
            ],
        );
        let f = placed.footprint;
        let style = TextStyle::new(size, QUIET_INK).haloed(PAPER).held(Anchor::Middle);
        canvas.svg.text(f.centre[0], f.centre[1] + size * 0.36, &style, &text);
    }
    canvas.svg.close();
}
