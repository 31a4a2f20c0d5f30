//! The ground from which the Sun stays hidden behind the skyline in totality, hatched; ground of which nothing is known, dotted.

use super::canvas::Canvas;
use super::field_grid::FieldGrid;
use super::{GroundField, MapSheet};
use crate::palette::INK;
use crate::projection::{signed_area, simplified};
use crate::svg::{Num, PathData, Svg};
use noonfall_words::map::layer;

/// Between nodes, drawing units.
const STEP: f64 = 5.0;
/// The same where the ground is a grid in memory.
const GRIDDED_STEP: f64 = 1.5;
/// Stands for ground that is not known, or not in the path: taken for open.
const OPEN_DEG: f64 = -1.0;

/// Whether a map shows it: an overview is too coarse for valleys.
pub fn is_drawn(regional: bool) -> bool {
    regional
}

/// The hatching, as the value of a `fill` attribute.
pub fn hatch(svg: &mut Svg, name: &str, text: f64) -> String {
    svg.hatch(&format!("hidden-{name}"), text * 0.34, INK, text * 0.085, "none")
}

/// The dots on ground that is not known.
pub fn dots(svg: &mut Svg, name: &str, text: f64) -> String {
    svg.dots(&format!("unknown-{name}"), text * 0.5, INK, text * 0.075)
}

/// Whether a map tells ground that is not known.
pub fn tells_unknown(sheet: &MapSheet<'_>, regional: bool) -> bool {
    is_drawn(regional) && sheet.ground.is_some_and(GroundField::is_gridded)
}

/// Draws the hatching and the dots; nothing without terrain.
pub fn draw(canvas: &mut Canvas) {
    let Some(ground) = canvas.sheet.ground.filter(|_| is_drawn(canvas.regional)) else { return };
    let frame = &canvas.frame;
    let step = if ground.is_gridded() { GRIDDED_STEP } else { STEP };
    let hidden = || {
        let (grid, behind) = FieldGrid::of_values(frame, step, |page| {
            let margin = frame.place(page).and_then(|at| ground.margin_deg(at));
            margin.filter(|m| m.is_finite()).map_or(OPEN_DEG, |m| (-m).clamp(OPEN_DEG, -OPEN_DEG))
        });
        // Specks smaller than two nodes of a fine grid would only make the file large.
        let least = if ground.is_gridded() { 2.0 * step * step } else { 0.0 };
        outlines(&grid, &behind, least)
    };
    let (field, told) = (canvas.sheet.field, tells_unknown(canvas.sheet, canvas.regional));
    let unknown = || {
        let (grid, unknown) = FieldGrid::of_values(frame, 2.0 * step, |page| {
            let at = frame.place(page).filter(|&at| ground.is_unknown(at) && field.sample(at).duration_s > 0.0);
            if at.is_some() { 1.0 } else { -1.0 }
        });
        outlines(&grid, &unknown, 0.0)
    };
    let (hidden, unknown) = rayon::join(hidden, || told.then(unknown));
    let km = step * frame.km_per_unit();
    let label = layer::hidden(km);
    canvas.svg.open_group(&label, &[]);
    if !hidden.is_empty() {
        let fill = hatch(&mut canvas.svg, "ground", canvas.page.text);
        canvas.svg.leaf(
            "path",
            &[
                ("d", &hidden.as_str()),
                ("fill", &fill),
                ("fill-rule", &"evenodd"),
                ("stroke", &INK),
                ("stroke-width", &Num(canvas.page.text * 0.05)),
                ("stroke-opacity", &"0.7"),
            ],
        );
    }
    canvas.svg.close();
    if let Some(unknown) = unknown.filter(|d| !d.is_empty()) {
        canvas.svg.open_group(layer::UNKNOWN, &[]);
        let fill = dots(&mut canvas.svg, "ground", canvas.page.text);
        canvas.svg.leaf("path", &[("d", &unknown.as_str()), ("fill", &fill), ("fill-rule", &"evenodd")]);
        canvas.svg.close();
    }
}

/// Where values stand above 0, rings of at least some size.
fn outlines(grid: &FieldGrid, values: &[f64], least: f64) -> PathData {
    let mut d = PathData::new();
    for ring in grid.rings_above(values, 0.0) {
        if signed_area(&ring).abs() >= least {
            d.ring(&simplified(&ring, 0.2));
        }
    }
    d
}
