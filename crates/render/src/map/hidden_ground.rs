//! The ground from which the Sun stays hidden behind the skyline in totality, hatched.

use super::field_grid::FieldGrid;
use super::sheet::Canvas;
use crate::palette::INK;
use crate::projection::simplified;
use crate::svg::{Num, PathData, Svg};

/// Between nodes, drawing units.
const STEP: f64 = 5.0;
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

/// Draws the hatching; nothing without terrain.
pub fn draw(canvas: &mut Canvas) {
    let Some(ground) = canvas.sheet.ground.filter(|_| is_drawn(canvas.regional)) else { return };
    let frame = &canvas.frame;
    let (grid, behind) = FieldGrid::of_values(frame, STEP, |page| {
        let margin = frame.place(page).and_then(|at| ground.margin_deg(at));
        margin.filter(|m| m.is_finite()).map_or(OPEN_DEG, |m| (-m).clamp(OPEN_DEG, -OPEN_DEG))
    });
    let mut d = PathData::new();
    for ring in grid.rings_above(&behind, 0.0) {
        d.ring(&simplified(&ring, 0.2));
    }
    let km = STEP * frame.km_per_unit();
    let label = format!("Ground that hides the Sun in totality, looked at every {km:.1} km");
    let clip = canvas.clip.clone();
    canvas.svg.open_group(&label, &[("clip-path", &clip)]);
    if !d.is_empty() {
        let fill = hatch(&mut canvas.svg, "ground", canvas.page.text);
        canvas.svg.leaf(
            "path",
            &[
                ("d", &d.as_str()),
                ("fill", &fill),
                ("fill-rule", &"evenodd"),
                ("stroke", &INK),
                ("stroke-width", &Num(canvas.page.text * 0.05)),
                ("stroke-opacity", &"0.7"),
            ],
        );
    }
    canvas.svg.close();
}
