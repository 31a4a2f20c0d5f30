//! Limits and central line.

use super::MapSheet;
use super::canvas::Canvas;
use crate::palette::{INK, PAPER};
use crate::projection::{Frame, simplified};
use crate::svg::{Num, PathData};
use noonfall_words::map::layer;

/// The lines on the page.
pub struct PageLines {
    /// Central line, in pieces.
    pub central: Vec<Vec<[f64; 2]>>,
    /// Both limits, in pieces.
    pub limits: Vec<Vec<[f64; 2]>>,
    /// Both limits at the Moon's measured edge, in pieces; none where the scale would not tell them from the others.
    pub true_limits: Vec<Vec<[f64; 2]>>,
}

/// Fine dots, denser than those of the Sun's altitude.
pub(super) struct TrueLimitLook {
    pub(super) width: f64,
    pub(super) dashes: String,
}

impl TrueLimitLook {
    pub(super) fn of(t: f64) -> TrueLimitLook {
        TrueLimitLook { width: t * 0.1, dashes: format!("{} {}", Num(t * 0.1), Num(t * 0.13)) }
    }
}

/// The two kinds of limit lie up to so many kilometres apart: the measured edge stands up to 3 km from the smooth one, and
/// moves a limit by somewhat more where the Sun is low.
const LIMITS_APART_KM: f64 = 3.0;

/// Lines are told apart from so many sizes of the letters on.
const TOLD_APART: f64 = 0.2;

/// Whether a map's scale tells the limits at the Moon's measured edge from those of a smooth Moon.
pub(super) fn are_apart(sheet: &MapSheet<'_>, frame: &Frame) -> bool {
    sheet.path.true_limits.is_some() && LIMITS_APART_KM / frame.km_per_unit() > TOLD_APART * sheet.page.text
}

/// Cuts the lines to the window.
#[must_use]
pub fn on_page(canvas: &Canvas) -> PageLines {
    let cut = |lines: &[Vec<noonfall_ephemeris::GeoPoint>]| -> Vec<Vec<[f64; 2]>> {
        lines.iter().flat_map(|l| canvas.frame.lines(l)).map(|l| simplified(&l, 0.08)).collect()
    };
    let path = canvas.sheet.path;
    let mut limits = cut(&path.north_limit);
    limits.extend(cut(&path.south_limit));
    let shown = path.true_limits.as_ref().filter(|_| canvas.limits_apart);
    let true_limits = shown.map_or_else(Vec::new, |limits| {
        let (centre, reach_km) = canvas.frame.holding_circle();
        cut(&limits.near(centre, reach_km))
    });
    PageLines { central: cut(&path.central_line), limits, true_limits }
}

/// Draws the limits solid, those at the Moon's measured edge dotted, the central line dash-dotted, all thin and in ink.
pub fn draw(canvas: &mut Canvas, lines: &PageLines) {
    let t = canvas.page.text;
    canvas.svg.open_group(layer::LIMITS, &[("fill", &"none"), ("stroke", &INK)]);
    let mut d = PathData::new();
    lines.limits.iter().for_each(|l| {
        d.line(l);
    });
    if !d.is_empty() {
        canvas.svg.leaf("path", &[("d", &d.as_str()), ("stroke-width", &Num(t * 0.055))]);
    }
    let mut d = PathData::new();
    lines.true_limits.iter().for_each(|l| {
        d.line(l);
    });
    if !d.is_empty() {
        let look = TrueLimitLook::of(t);
        canvas.svg.leaf(
            "path",
            &[("d", &d.as_str()), ("stroke-width", &Num(look.width)), ("stroke-dasharray", &look.dashes)],
        );
    }
    let mut d = PathData::new();
    lines.central.iter().for_each(|l| {
        d.line(l);
    });
    if !d.is_empty() {
        let dashes = format!("{} {} {} {}", Num(t * 0.75), Num(t * 0.22), Num(t * 0.1), Num(t * 0.22));
        let casing = if canvas.regional { 0.17 } else { 0.11 };
        // A pale line beneath keeps the central line in sight where the fill is deepest.
        for (stroke, width, opacity) in [(PAPER, casing, "0.5"), (INK, 0.075, "1")] {
            canvas.svg.leaf(
                "path",
                &[
                    ("d", &d.as_str()),
                    ("stroke", &stroke),
                    ("stroke-width", &Num(t * width)),
                    ("stroke-dasharray", &dashes),
                    ("stroke-opacity", &opacity),
                ],
            );
        }
    }
    canvas.svg.close();
}
