//! Lines with their value written on them.

use super::canvas::Canvas;
use crate::fonts::{self, Weight};
use crate::labels::Footprint;
use crate::projection::simplified;
use crate::svg::{Anchor, Num, PathData, TextStyle};

/// How a family of isolines looks.
pub struct IsolineStyle {
    /// Colour of the line and its words.
    pub ink: &'static str,
    /// Outline of the words.
    pub halo: &'static str,
    /// Stroke width.
    pub width: f64,
    /// Dash pattern; empty for a solid line.
    pub dashes: String,
    /// Size of the words.
    pub size: f64,
    /// Labels on one line at most.
    pub labels: usize,
    /// Other lines that a label may cover at most, in the measure of [`crate::labels::Placer::ink_under`].
    pub most_ink: f64,
}

/// Draws the lines of one value and writes the value along them where there is room.
pub fn draw(canvas: &mut Canvas, lines: &[Vec<[f64; 2]>], text: &str, style: &IsolineStyle) {
    let mut d = PathData::new();
    let mut written = 0;
    let mut words: Vec<([f64; 2], f64)> = Vec::new();
    let mut by_length: Vec<(f64, Vec<[f64; 2]>)> = lines
        .iter()
        .map(|l| (l.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).sum(), simplified(l, 0.15)))
        .filter(|(length, _)| *length > 4.0)
        .collect();
    by_length.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (text_width, text_height) = (fonts::width(text, style.size, Weight::Regular) + 4.0, style.size * 1.05);
    for (length, line) in &by_length {
        d.line(line);
        if text.is_empty() || written >= style.labels || *length < text_width * 1.4 {
            continue;
        }
        // The place along the line that covers least of the others.
        let best = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88]
            .into_iter()
            .filter_map(|share| along(line, length * share, text_width))
            .map(|(p, turn)| Footprint { centre: p, half: [text_width / 2.0, text_height / 2.0], turn_deg: turn })
            .filter(|f| canvas.placer.is_free(f))
            .map(|f| (canvas.placer.ink_under(&f), f))
            .filter(|(ink, _)| *ink <= style.most_ink)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, f)) = best {
            canvas.placer.take(f);
            words.push((f.centre, f.turn_deg));
            written += 1;
        }
    }
    if d.is_empty() {
        return;
    }
    // A pale line beneath keeps the line in sight on the deep end of the ramp.
    for (ink, width, opacity) in [(style.halo, style.width * 1.8, "0.4"), (style.ink, style.width, "1")] {
        let width = Num(width);
        let path = d.as_str();
        let mut attributes: Vec<(&str, &dyn std::fmt::Display)> = vec![
            ("d", &path),
            ("fill", &"none"),
            ("stroke", &ink),
            ("stroke-width", &width),
            ("stroke-opacity", &opacity),
        ];
        if !style.dashes.is_empty() {
            attributes.push(("stroke-dasharray", &style.dashes));
            attributes.push(("stroke-linecap", &"round"));
        }
        canvas.svg.leaf("path", &attributes);
    }
    for (p, turn) in words {
        let (s, c) = turn.to_radians().sin_cos();
        // Down from the middle of the letters to their baseline, along the turned text's own vertical.
        let down = style.size * 0.36;
        let text_style = TextStyle::new(style.size, style.ink).held(Anchor::Middle).haloed(style.halo).turned(turn);
        canvas.svg.text(p[0] - down * s, p[1] + down * c, &text_style, text);
    }
}

// The point at a distance along a line, and the direction of the chord there, turned so that words are not upside down.
fn along(line: &[[f64; 2]], distance: f64, chord: f64) -> Option<([f64; 2], f64)> {
    let at = |distance: f64| {
        let mut left = distance;
        for w in line.windows(2) {
            let length = (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
            if left <= length && length > 0.0 {
                let t = left.max(0.0) / length;
                return Some([w[0][0] + t * (w[1][0] - w[0][0]), w[0][1] + t * (w[1][1] - w[0][1])]);
            }
            left -= length;
        }
        None
    };
    let (a, b) = (at(distance - chord / 2.0)?, at(distance + chord / 2.0)?);
    let mut turn = (b[1] - a[1]).atan2(b[0] - a[0]).to_degrees();
    if turn > 90.0 {
        turn -= 180.0;
    } else if turn <= -90.0 {
        turn += 180.0;
    }
    Some(([(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0], turn))
}
