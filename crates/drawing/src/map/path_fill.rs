//! The path, filled by seconds of totality.

use super::canvas::Canvas;
use super::land;
use crate::projection::simplified;
use crate::svg::{Num, PathData};
use noonfall_words::map::layer;

/// Draws the fill, paler over water, after land and lakes.
pub fn draw(canvas: &mut Canvas) {
    let mut outline = PathData::new();
    for ring in &canvas.path_rings {
        outline.ring(&simplified(ring, 0.08));
    }
    if outline.is_empty() {
        return;
    }
    let inside = canvas.svg.clip_path("path", outline.as_str());
    let label = layer::path(canvas.sheet.path.centrality.noun());
    canvas.svg.open_group(&label, &[]);
    canvas.svg.leaf("path", &[("d", &outline.as_str()), ("fill", &canvas.ramp.colour(0)), ("fill-rule", &"evenodd")]);
    canvas.svg.open("g", &[("clip-path", &inside)]);
    // Towards a limit the duration falls like a square root; its square falls evenly, and that is what is contoured.
    let squares: Vec<f64> = canvas.grid.duration_s.iter().map(|d| d * d).collect();
    for (step, bound) in canvas.ramp.bounds_s.clone().into_iter().enumerate().skip(1) {
        let mut d = PathData::new();
        for ring in canvas.grid.rings_above(&squares, bound * bound) {
            d.ring(&simplified(&ring, 0.12));
        }
        if !d.is_empty() {
            let colour = canvas.ramp.colour(step);
            canvas.svg.leaf(
                "path",
                // A hair of its own colour closes the seams that renderers leave between neighbouring fills.
                &[
                    ("d", &d.as_str()),
                    ("fill", &colour),
                    ("fill-rule", &"evenodd"),
                    ("stroke", &colour),
                    ("stroke-width", &Num(0.3)),
                ],
            );
        }
    }
    land::draw_water_over_path(canvas);
    canvas.svg.close();
    canvas.svg.close();
}
