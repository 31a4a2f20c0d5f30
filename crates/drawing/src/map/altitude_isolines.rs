//! Lines of equal altitude of the Sun at maximum eclipse, refraction included.

use super::canvas::Canvas;
use super::isoline::{self, IsolineStyle};
use crate::palette::{INK, PAPER};
use crate::svg::Num;
use noonfall_words::map::layer;

/// Draws the lines near the path, light and dotted, every 10° on an overview and closer on a regional map.
pub fn draw(canvas: &mut Canvas) {
    let values = canvas.grid.sun_apparent_altitude_deg.clone();
    let (low, high) = values
        .iter()
        .filter(|v| **v > -89.0)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
    if low > high {
        return;
    }
    let spread = high - low.max(0.0);
    let step = if canvas.regional {
        [0.5, 1.0, 2.0, 5.0].into_iter().find(|s| spread / s <= 7.0).unwrap_or(10.0)
    } else {
        10.0
    };
    let t = canvas.page.text;
    let style = IsolineStyle {
        ink: INK,
        halo: PAPER,
        width: t * 0.08,
        dashes: format!("0 {}", Num(t * 0.24)),
        size: t * 0.76,
        labels: 1,
        most_ink: 6.0,
    };
    canvas.svg.open_group(layer::ALTITUDES, &[("opacity", &"0.9")]);
    let first = (low.max(0.0) / step).ceil() as i64;
    for i in first..=(high / step).floor() as i64 {
        let value = i as f64 * step;
        let text = if step < 1.0 { format!("Sun {value:.1}°") } else { format!("Sun {value:.0}°") };
        let lines = canvas.grid.lines_at(&values, value, -90.0);
        isoline::draw(canvas, &lines, &text, &style);
    }
    canvas.svg.close();
}
