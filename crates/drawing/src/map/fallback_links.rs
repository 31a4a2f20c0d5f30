//! From a base to its fallback: a bowed line with an arrow head and its words.

use super::canvas::Canvas;
use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Wanted};
use crate::palette::{INK, PAPER};
use crate::svg::{Anchor, Num, TextStyle};
use noonfall_words::map::layer;

/// Draws the links.
pub fn draw(canvas: &mut Canvas) {
    if canvas.sheet.links.is_empty() {
        return;
    }
    let t = canvas.page.text;
    canvas.svg.open_group(layer::LINKS, &[]);
    for link in &canvas.sheet.links {
        let (Some(a), Some(b)) = (canvas.frame.page(link.from), canvas.frame.page(link.to)) else { continue };
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]);
        // Too close to tell apart at this scale.
        if length < t * 2.5 {
            continue;
        }
        let bow = length * 0.16;
        let across = [-d[1] / length, d[0] / length];
        let middle = [(a[0] + b[0]) / 2.0 + across[0] * bow, (a[1] + b[1]) / 2.0 + across[1] * bow];
        // A quadratic curve passes halfway between its chord and its control point.
        let control = [middle[0] + across[0] * bow, middle[1] + across[1] * bow];
        let towards = [b[0] - control[0], b[1] - control[1]];
        let run = towards[0].hypot(towards[1]).max(1e-9);
        let u = [towards[0] / run, towards[1] / run];
        let tip = [b[0] - u[0] * t * 0.95, b[1] - u[1] * t * 0.95];
        let path = format!(
            "M{} {}Q{} {} {} {}",
            Num(a[0]),
            Num(a[1]),
            Num(control[0]),
            Num(control[1]),
            Num(tip[0]),
            Num(tip[1])
        );
        for (stroke, width) in [(PAPER, t * 0.3), (INK, t * 0.12)] {
            canvas
                .svg
                .leaf("path", &[("d", &path), ("fill", &"none"), ("stroke", &stroke), ("stroke-width", &Num(width))]);
        }
        let curve: Vec<[f64; 2]> = (0..=24)
            .map(|i| {
                let (s, r) = (f64::from(i) / 24.0, 1.0 - f64::from(i) / 24.0);
                [0, 1].map(|k| r * r * a[k] + 2.0 * r * s * control[k] + s * s * tip[k])
            })
            .collect();
        canvas.placer.note_line(&curve, 3.0);
        canvas.placer.take(Footprint::around([tip[0] - u[0] * t * 0.5, tip[1] - u[1] * t * 0.5], t * 0.45));
        let wing = |side: f64| {
            let back = t * 0.75;
            [tip[0] - u[0] * back - u[1] * side * back * 0.45, tip[1] - u[1] * back + u[0] * side * back * 0.45]
        };
        let (l, r) = (wing(1.0), wing(-1.0));
        canvas.svg.leaf(
            "path",
            &[
                (
                    "d",
                    &format!(
                        "M{} {}L{} {}L{} {}Z",
                        Num(tip[0]),
                        Num(tip[1]),
                        Num(l[0]),
                        Num(l[1]),
                        Num(r[0]),
                        Num(r[1])
                    ),
                ),
                ("fill", &INK),
            ],
        );
        let size = t * 0.84;
        let text = fonts::fitted(&link.label, size, Weight::Regular, t * 18.0);
        let width = fonts::width(&text, size, Weight::Regular);
        let wanted = Wanted { anchor: middle, clear: 3.0, forms: vec![[width + 4.0, size * 1.2]], reach: t * 3.0 };
        if let Some(placed) = (!text.is_empty()).then(|| canvas.placer.place(&wanted)).flatten() {
            let f = placed.footprint;
            let style = TextStyle::new(size, INK).held(Anchor::Middle).haloed(PAPER);
            canvas.svg.text(f.centre[0], f.centre[1] + size * 0.36, &style, &text);
        }
    }
    canvas.svg.close();
}
