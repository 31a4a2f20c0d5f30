//! Hill shading where terrain is given: light from the upper left, in a few quiet steps.
//!
//! # Source
//! Light from 315° at 45° (the custom of cartography; E. Imhof, Cartographic Relief Presentation); slopes by central differences
//! between the map's nodes, heights exaggerated twofold so that hills a few hundred metres high show at this scale.

use rayon::prelude::*;

use super::canvas::Canvas;
use super::field_grid::FieldGrid;
use crate::palette::{INK, PAPER};
use crate::projection::{signed_area, simplified};
use crate::svg::{Num, PathData};
use noonfall_words::map::layer;

/// Between nodes, drawing units.
const STEP: f64 = 3.0;
const EXAGGERATION: f64 = 2.0;
/// Where the ground is darker or lighter than level ground by so much, a step of shade lies on it.
const DARKER: [f64; 3] = [0.05, 0.14, 0.28];
const LIGHTER: [f64; 2] = [0.05, 0.14];

/// Draws the shading of a regional map; nothing without terrain.
pub fn draw(canvas: &mut Canvas) {
    let Some(ground) = canvas.sheet.ground.filter(|_| canvas.regional) else { return };
    let frame = &canvas.frame;
    let (grid, heights) = FieldGrid::of_values(frame, STEP, |page| {
        frame.place(page).and_then(|at| ground.height_m(at)).filter(|h| h.is_finite()).unwrap_or(f64::NAN)
    });
    let run_m = 2.0 * STEP * frame.km_per_unit() * 1000.0 / EXAGGERATION;
    let columns = grid.columns();
    let shade: Vec<f64> = (0..heights.len())
        .map(|i| {
            let (row, column) = (i / columns, i % columns);
            if row == 0 || column == 0 || column + 1 == columns || i + columns >= heights.len() {
                return 0.0;
            }
            let across = (heights[i + 1] - heights[i - 1]) / run_m;
            let down = (heights[i + columns] - heights[i - columns]) / run_m;
            // Ground that is not known is left as it is.
            if (across + down).is_finite() { lit(across, down) - lit(0.0, 0.0) } else { 0.0 }
        })
        .collect();
    canvas.svg.open_group(layer::RELIEF, &[]);
    let darkness: Vec<f64> = shade.iter().map(|s| -s).collect();
    for (values, bounds, colour, opacity) in [(&darkness, &DARKER[..], INK, 0.075), (&shade, &LIGHTER[..], PAPER, 0.16)]
    {
        let shape = |bound: &f64| {
            let mut d = PathData::new();
            for ring in grid.rings_above(values, *bound) {
                if signed_area(&ring).abs() > 2.0 * STEP * STEP {
                    d.ring(&simplified(&ring, 0.4));
                }
            }
            d
        };
        for d in bounds.par_iter().map(shape).collect::<Vec<PathData>>() {
            if !d.is_empty() {
                canvas.svg.leaf(
                    "path",
                    &[
                        ("d", &d.as_str()),
                        ("fill", &colour),
                        ("fill-rule", &"evenodd"),
                        ("fill-opacity", &Num(opacity)),
                    ],
                );
            }
        }
    }
    canvas.svg.close();
}

/// How much of the light falls on ground of the given rise to the right and downwards on the page: the cosine of the angle
/// between the light and what stands upright on the ground.
fn lit(across: f64, down: f64) -> f64 {
    let light = [-0.5, -0.5, std::f64::consts::FRAC_1_SQRT_2];
    let length = (across * across + down * down + 1.0).sqrt();
    ((-across * light[0] - down * light[1] + light[2]) / length).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_that_face_the_upper_left_are_light() {
        // A slope of 45° that rises to the lower right faces the light: all of it falls on the ground.
        let h = std::f64::consts::FRAC_1_SQRT_2;
        assert!((lit(h, h) - 1.0).abs() < 1e-12);
        assert!((lit(0.0, 0.0) - h).abs() < 1e-12);
        assert!(lit(-h, -h).abs() < 1e-12);
    }
}
