//! Mean cloud amount as a stipple: the larger the dots, the cloudier. It stays readable in grey and over the path's colours.

use super::canvas::Canvas;
use crate::palette::{CLOUD, PAPER};
use crate::svg::Num;
use noonfall_words::map::layer;
use rayon::prelude::*;

const LEVELS: usize = 8;

/// Dot diameter for a cloud fraction, as a share of the spacing: the inked area grows with the fraction.
#[must_use]
pub fn dot_share(fraction: f64) -> f64 {
    0.62 * fraction.clamp(0.0, 1.0).sqrt()
}

/// Draws the stipple over the window.
pub fn draw(canvas: &mut Canvas) {
    let Some(field) = canvas.sheet.clouds else { return };
    let w = canvas.frame.window();
    let spacing = canvas.page.text * 0.9;
    let mut dots: Vec<String> = vec![String::new(); LEVELS + 1];
    let (columns, rows) = ((w.width / spacing) as usize + 1, (w.height / (spacing * 0.866)) as usize + 1);
    let dot = |i: usize| {
        let (row, column) = (i / columns, i % columns);
        let x = w.x + (column as f64 + if row % 2 == 0 { 0.25 } else { 0.75 }) * spacing;
        let y = w.y + (row as f64 + 0.5) * spacing * 0.866;
        let fraction = canvas.frame.place([x, y]).and_then(field).filter(|f| f.is_finite())?;
        Some(([x, y], (fraction.clamp(0.0, 1.0) * LEVELS as f64).round() as usize))
    };
    let placed: Vec<_> = (0..rows * columns).into_par_iter().filter_map(dot).collect();
    for ([x, y], level) in placed {
        dots[level].push_str(&format!("M{} {}h0", Num((x * 10.0).round() / 10.0), Num((y * 10.0).round() / 10.0)));
    }
    canvas.svg.open_group(layer::CLOUDS, &[("fill", &"none"), ("stroke-linecap", &"round"), ("opacity", &"0.85")]);
    // A rim of paper keeps the dots apart from the dark of the path.
    let rim = canvas.page.text * 0.07;
    for (colour, extra) in [(PAPER, rim), (CLOUD, 0.0)] {
        for (level, d) in dots.iter().enumerate().skip(1).filter(|(_, d)| !d.is_empty()) {
            let diameter = Num(spacing * dot_share(level as f64 / LEVELS as f64) + extra);
            canvas.svg.leaf("path", &[("d", d), ("stroke", &colour), ("stroke-width", &diameter)]);
        }
    }
    canvas.svg.close();
}
