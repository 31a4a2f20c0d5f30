//! Scale bar, and a north arrow where north is not simply up.

use super::{canvas::Canvas, limits::PageLines};
use crate::fonts::{self, Weight};
use crate::labels::Footprint;
use crate::palette::{INK, PAPER};
use crate::svg::{Anchor, Num, TextStyle};
use noonfall_words::map::layer;

/// A scale bar with its room.
pub struct Bar {
    footprint: Footprint,
    length: f64,
    text: String,
    north_deg: Option<f64>,
}

/// The longest round length no longer than `most_km`: 1, 2 or 5 times a power of ten.
#[must_use]
pub fn round_length_km(most_km: f64) -> f64 {
    if !(most_km.is_finite() && most_km > 0.0) {
        return 1.0;
    }
    let power = 10f64.powf(most_km.log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|m| m * power).find(|l| *l <= most_km).unwrap_or(power)
}

/// Finds the corner that hides least of the path, and takes it.
#[must_use]
pub fn place(canvas: &mut Canvas, lines: &PageLines) -> Option<Bar> {
    let t = canvas.page.text;
    let w = canvas.frame.window();
    let centre_scale = canvas.frame.units_per_km_at(w.centre())?;
    let km = round_length_km(w.width * 0.22 / centre_scale);
    let length = km * centre_scale;
    let distance = if km >= 1.0 { format!("{km:.0} km") } else { format!("{:.0} m", km * 1000.0) };
    let spots: Vec<[f64; 2]> = (0..9)
        .map(|i| [w.x + w.width * (0.02 + 0.48 * f64::from(i % 3)), w.y + w.height * (0.02 + 0.48 * f64::from(i / 3))])
        .collect();
    let uneven =
        spots.iter().filter_map(|p| canvas.frame.units_per_km_at(*p)).any(|s| (s / centre_scale - 1.0).abs() > 0.04);
    let text = if uneven { format!("{distance} at the map’s centre") } else { distance };
    let turned = spots.iter().filter_map(|p| canvas.frame.north_deg_at(*p)).any(|n| n.abs() > 4.0);
    let text_width = fonts::width(&text, t * 0.84, Weight::Regular);
    let arrow = if turned { t * 2.6 } else { 0.0 };
    let (width, height) = (length.max(text_width) + arrow + t, t * 2.1);
    let (left, right) = (w.x + t * 0.6, w.x + w.width - t * 0.6 - width);
    let (top, bottom) = (w.y + t * 0.6, w.y + w.height - t * 0.6 - height);
    let hidden = |f: &Footprint| {
        let on_lines = lines.central.iter().chain(&lines.limits).flatten().filter(|p| f.holds(**p, t)).count();
        let on_path = canvas.path_rings.iter().flatten().filter(|p| f.holds(**p, t)).count();
        on_lines + on_path
    };
    let footprint = [(left, bottom), (right, bottom), (left, top), (right, top)]
        .into_iter()
        .map(|(x, y)| Footprint::upright(x, y, width, height))
        .filter(|f| canvas.placer.is_free(f))
        .min_by_key(hidden)?;
    canvas.placer.take(footprint);
    let north_deg = if turned {
        canvas.frame.north_deg_at([footprint.centre[0] + footprint.half[0] - t * 1.3, footprint.centre[1]])
    } else {
        None
    };
    Some(Bar { footprint, length, text, north_deg })
}

/// Draws it.
pub fn draw(canvas: &mut Canvas, bar: &Bar) {
    let t = canvas.page.text;
    let f = bar.footprint;
    let (x, y) = (f.centre[0] - f.half[0], f.centre[1] - f.half[1]);
    canvas.svg.open_group(layer::SCALE, &[]);
    canvas.svg.leaf(
        "rect",
        &[
            ("x", &Num(x)),
            ("y", &Num(y)),
            ("width", &Num(f.half[0] * 2.0)),
            ("height", &Num(f.half[1] * 2.0)),
            ("rx", &Num(t * 0.2)),
            ("fill", &PAPER),
            ("fill-opacity", &"0.88"),
        ],
    );
    let (left, base) = (x + t * 0.5, y + t * 1.62);
    canvas.svg.text(left, y + t * 0.98, &TextStyle::new(t * 0.84, INK), &bar.text);
    let d = format!(
        "M{l} {a}V{b}H{r}V{a}M{m} {b}V{c}",
        l = Num(left),
        r = Num(left + bar.length),
        m = Num(left + bar.length / 2.0),
        a = Num(base - t * 0.3),
        c = Num(base - t * 0.18),
        b = Num(base)
    );
    canvas.svg.leaf("path", &[("d", &d), ("fill", &"none"), ("stroke", &INK), ("stroke-width", &Num(t * 0.1))]);
    if let Some(north) = bar.north_deg {
        let c = [x + f.half[0] * 2.0 - t * 1.3, f.centre[1]];
        let (s, k) = north.to_radians().sin_cos();
        let at = |along: f64, across: f64| [c[0] + along * s + across * k, c[1] - along * k + across * s];
        let (tip, l, n, r) = (at(t * 0.85, 0.0), at(-t * 0.15, -t * 0.3), at(t * 0.05, 0.0), at(-t * 0.15, t * 0.3));
        let d = format!(
            "M{} {}L{} {}L{} {}L{} {}Z",
            Num(tip[0]),
            Num(tip[1]),
            Num(l[0]),
            Num(l[1]),
            Num(n[0]),
            Num(n[1]),
            Num(r[0]),
            Num(r[1])
        );
        canvas.svg.leaf("path", &[("d", &d), ("fill", &INK)]);
        let foot = at(-t * 0.55, 0.0);
        let style = TextStyle::new(t * 0.78, INK).strong().held(Anchor::Middle);
        canvas.svg.text(foot[0], foot[1] + t * 0.28, &style, "N");
    }
    canvas.svg.close();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_round() {
        for (most, length) in [(0.9, 0.5), (1.0, 1.0), (7.0, 5.0), (49.9, 20.0), (1234.0, 1000.0), (f64::NAN, 1.0)] {
            assert!((round_length_km(most) - length).abs() < 1e-9, "{most}");
        }
    }
}
