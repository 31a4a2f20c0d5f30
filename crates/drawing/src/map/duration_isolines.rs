//! Lines of equal duration inside the path, for regional maps.

use super::canvas::Canvas;
use super::isoline::{self, IsolineStyle};
use crate::palette::{INK, PAPER};
use noonfall_words::map::layer;
use noonfall_words::numbers::duration;

/// Draws a line at each step of the ramp that is in view, with its duration.
pub fn draw(canvas: &mut Canvas) {
    let t = canvas.page.text;
    let squares: Vec<f64> = canvas.grid.duration_s.iter().map(|d| d * d).collect();
    let style = IsolineStyle {
        ink: INK,
        halo: PAPER,
        width: t * 0.035,
        dashes: String::new(),
        size: t * 0.76,
        labels: 1,
        most_ink: 1.5,
    };
    canvas.svg.open_group(layer::DURATIONS, &[]);
    let steps = canvas.ramp.bounds_s.len();
    for (i, bound) in canvas.ramp.bounds_s.clone().into_iter().enumerate().skip(1) {
        let lines = canvas.grid.lines_at(&squares, bound * bound, -1.0);
        // Every second line carries its words; the ramp tells the rest.
        let words = if (steps - i) % 2 == 1 { duration(bound) } else { String::new() };
        isoline::draw(canvas, &lines, &words, &style);
    }
    canvas.svg.close();
}
