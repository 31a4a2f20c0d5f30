//! Contrast of shadow bands in the last minute before second contact, for a few sites.

use super::axes::{self, Axes};
use super::{ChartError, ChartPage, finite, foot_note};
use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Placer};
use crate::palette::{INK, PAPER, QUIET_INK, TOTALITY};
use crate::projection::{Window, cut_line};
use crate::svg::{Anchor, Num, PathData, TextStyle};

/// Contrast at an instant for the stated turbulence and its low and high case, as fractions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ContrastPoint {
    /// Seconds before second contact.
    pub seconds_before_c2: f64,
    /// Middle case.
    pub contrast: f64,
    /// Calm air.
    pub low: f64,
    /// Turbulent air.
    pub high: f64,
}

/// A site's curve.
#[derive(Clone, Debug, PartialEq)]
pub struct ContrastCurve {
    /// Name of the site, with the Sun's altitude if wished.
    pub name: String,
    /// Points, in any order.
    pub points: Vec<ContrastPoint>,
}

const CHART: &str = "shadow-band";
const DASHES: [&str; 4] = ["none", "7 3", "2 3", "9 3 2 3"];

/// Draws up to four curves with the range of the first two as a tint.
///
/// # Errors
/// [`ChartError`] for no point, a number that is not finite, or too small a page.
pub fn band_contrast(page: &ChartPage, curves: &[ContrastCurve]) -> Result<String, ChartError> {
    let all = || curves.iter().flat_map(|c| &c.points);
    if all().next().is_none() {
        return Err(ChartError::Empty { chart: CHART, wants: "contrast at some seconds before second contact" });
    }
    for p in all() {
        finite(CHART, "a contrast", p.seconds_before_c2 + p.contrast + p.low + p.high)?;
    }
    let t = page.text;
    let (mut svg, top) = page.begin(
        CHART,
        "Shadow bands: contrast in the last minute before totality",
        &format!("{} sites; contrast grows towards second contact.", curves.len()),
    )?;
    let foot = foot_note(
        &mut svg,
        page,
        "Computed for a stated turbulence; tint: calm to turbulent air. An ordering between sites, not a calibrated forecast. \
         Look at a white sheet on the ground, never at the Sun.",
    );
    let window = Window { x: 0.0, y: top, width: page.width, height: page.height - top - foot };
    if window.height < 11.0 * t {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    let longest = all().map(|p| p.seconds_before_c2).fold(1.0, f64::max);
    let most = all().map(|p| p.high.max(p.contrast)).fold(0.0, f64::max).max(1e-4) * 100.0;
    let axes = Axes {
        x: [longest, 0.0],
        y: [0.0, most * 1.1],
        x_title: "Seconds before second contact",
        y_title: "Contrast, %",
        x_marks: 8,
        y_marks: 6,
    };
    let plane = axes::draw(&mut svg, window, t, &axes)?;
    let w = plane.window;
    let mut placer = Placer::new(w);
    let mut ends = Vec::new();
    for (i, curve) in curves.iter().take(4).enumerate() {
        let mut points = curve.points.clone();
        points.sort_by(|a, b| b.seconds_before_c2.total_cmp(&a.seconds_before_c2));
        let line = |pick: fn(&ContrastPoint) -> f64| -> Vec<[f64; 2]> {
            points.iter().map(|p| plane.at(p.seconds_before_c2, pick(p) * 100.0)).collect()
        };
        if i < 2 {
            let mut ring = line(|p| p.low);
            ring.extend(line(|p| p.high).into_iter().rev());
            let mut d = PathData::new();
            d.ring(&crate::projection::cut_ring(ring, w, 0.0));
            svg.leaf(
                "path",
                &[("d", &d.as_str()), ("fill", &(if i == 0 { TOTALITY } else { QUIET_INK })), ("opacity", &"0.13")],
            );
        }
        let middle = line(|p| p.contrast);
        let mut pieces = Vec::new();
        cut_line(&middle, w, &mut pieces);
        let mut d = PathData::new();
        for piece in &pieces {
            d.line(piece);
            placer.note_line(piece, 1.0);
        }
        svg.leaf(
            "path",
            &[
                ("d", &d.as_str()),
                ("fill", &"none"),
                ("stroke", &(if i == 0 { TOTALITY } else { INK })),
                ("stroke-width", &Num(t * 0.16)),
                ("stroke-dasharray", &DASHES[i]),
            ],
        );
        ends.push((curve, middle));
    }
    for (curve, middle) in ends {
        let size = t * 0.84;
        let name = fonts::fitted(&curve.name, size, Weight::Bold, t * 14.0);
        let half = [fonts::width(&name, size, Weight::Bold) / 2.0 + 1.0, size * 0.6];
        // On the curve's own upper left, or lower right, where it covers least of any curve.
        let best = [0.8, 0.7, 0.6, 0.9, 0.5, 0.4]
            .into_iter()
            .filter_map(|share| middle.get((middle.len() as f64 * share) as usize))
            .flat_map(|p| {
                [-1.0, 1.0].map(|side| Footprint {
                    centre: [p[0] + side * (half[0] + t * 0.3), p[1] + side * (half[1] + t * 0.1)],
                    half,
                    turn_deg: 0.0,
                })
            })
            .filter(|f| placer.is_free(f))
            .map(|f| (placer.ink_under(&f), f))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, f)) = best {
            placer.take(f);
            let style = TextStyle::new(size, INK).strong().held(Anchor::Middle).haloed(PAPER);
            svg.text(f.centre[0], f.centre[1] + size * 0.36, &style, &name);
        }
    }
    Ok(svg.finish(page.fonts))
}
