//! Ticks across the path at round minutes of UTC, where maximum eclipse happens then.

use chrono::{DateTime, Timelike as _, Utc};
use noonfall_ephemeris::GeoPoint;

use super::{PathInstant, canvas::Canvas};
use crate::fonts::{self, Weight};
use crate::labels::{Placed, Wanted};
use crate::palette::{INK, PAPER};
use crate::projection::{along_great_circle, angle_deg, place_of, unit_vector};
use crate::svg::{Anchor, Num, PathData, TextStyle};
use noonfall_words::map::layer;

/// A tick on the page.
pub struct Tick {
    /// Minute of UTC.
    pub utc: DateTime<Utc>,
    /// The line across the path, running a little over both limits.
    pub line: Vec<[f64; 2]>,
}

/// Ticks in view, spaced so that their labels have room.
#[must_use]
pub fn on_page(canvas: &Canvas) -> Vec<Tick> {
    let instants = &canvas.sheet.path.instants;
    let (Some(first), Some(last)) = (instants.first(), instants.last()) else { return Vec::new() };
    let t = canvas.page.text;
    let (from, to) = (first.tt.to_utc().timestamp(), last.tt.to_utc().timestamp());
    // The shortest round step at which neighbouring ticks lie at least six letters' heights apart, by their median distance.
    for minutes in [1, 2, 5, 10, 15, 20, 30, 60] {
        let step = minutes * 60;
        let mut second = from.div_euclid(step) * step;
        let mut ticks: Vec<Tick> = Vec::new();
        while second <= to + step {
            ticks.extend(DateTime::from_timestamp(second, 0).and_then(|utc| tick_at(canvas, utc)));
            second += step;
        }
        let mut gaps: Vec<f64> = ticks
            .windows(2)
            .map(|w| {
                let (a, b) = (w[0].line[w[0].line.len() / 2], w[1].line[w[1].line.len() / 2]);
                (a[0] - b[0]).hypot(a[1] - b[1])
            })
            .collect();
        gaps.sort_by(f64::total_cmp);
        if gaps.get(gaps.len() / 2).is_none_or(|g| *g >= 5.5 * t) {
            return ticks;
        }
    }
    Vec::new()
}

fn tick_at(canvas: &Canvas, utc: DateTime<Utc>) -> Option<Tick> {
    let instants = &canvas.sheet.path.instants;
    let tt = noonfall_ephemeris::Tt::from_utc(utc);
    let i = instants.partition_point(|p| p.tt <= tt);
    let (a, b) = (instants.get(i.checked_sub(1)?)?, instants.get(i)?);
    let span = b.tt - a.tt;
    if span.is_nan() || span <= 0.0 || span > 121.0 {
        return None;
    }
    let f = (tt - a.tt) / span;
    let at = |pick: fn(&PathInstant) -> Option<GeoPoint>| -> Option<[f64; 3]> {
        let (p, q) = (unit_vector(pick(a)?), unit_vector(pick(b)?));
        Some(along_great_circle(p, q, f))
    };
    let parts: Vec<[f64; 3]> = [at(|p| p.north), at(|p| p.central), at(|p| p.south)].into_iter().flatten().collect();
    let (from, to) = (*parts.first()?, *parts.last()?);
    if parts.len() < 2 || angle_deg(from, to) > 30.0 {
        return None;
    }
    let mut line: Vec<[f64; 2]> = Vec::new();
    for pair in parts.windows(2) {
        for k in 0..=8 {
            let p = canvas.frame.page(place_of(along_great_circle(pair[0], pair[1], f64::from(k) / 8.0)))?;
            line.push(p);
        }
    }
    // A little over the limits, so that the tick is seen to be one.
    let over = canvas.page.text * 0.45;
    let run_on = |end: [f64; 2], before: [f64; 2]| {
        let d = [end[0] - before[0], end[1] - before[1]];
        let length = d[0].hypot(d[1]).max(1e-9);
        [end[0] + d[0] / length * over, end[1] + d[1] / length * over]
    };
    let n = line.len();
    let (head, tail) = (run_on(line[0], line[1]), run_on(line[n - 1], line[n - 2]));
    line.insert(0, head);
    line.push(tail);
    let w = canvas.frame.window();
    line.iter().any(|p| w.holds(*p, 0.0)).then_some(Tick { utc, line })
}

/// A tick's label with its room.
pub struct TickLabel {
    lines: Vec<String>,
    placed: Placed,
}

/// Places the labels at whichever end of the tick has room; a label without room is left out, its tick stays.
#[must_use]
pub fn place(canvas: &mut Canvas, ticks: &[Tick]) -> Vec<TickLabel> {
    let size = canvas.page.text * 0.84;
    let mut out = Vec::new();
    for (i, tick) in ticks.iter().enumerate() {
        let utc = format!("{:02}:{:02}", tick.utc.hour(), tick.utc.minute());
        let mut lines = vec![format!("{utc} UTC")];
        if let Some(zone) = canvas.sheet.zone {
            let local = tick.utc.with_timezone(&zone);
            lines.insert(0, local.format("%H:%M %Z").to_string());
        }
        let full = size_of(&lines, size);
        let wanted = |anchor| Wanted { anchor, clear: 1.0, forms: vec![full], reach: size * 1.2 };
        // The end that faces the nearer page edge first: the path's own side stays free for the sites.
        let w = canvas.frame.window();
        let spare = |p: [f64; 2]| (p[0] - w.x).min(w.x + w.width - p[0]).min((p[1] - w.y).min(w.y + w.height - p[1]));
        let Some((a, b)) = tick.line.first().copied().zip(tick.line.last().copied()) else { continue };
        let ends = if i == 0 || spare(a) >= spare(b) { [a, b] } else { [b, a] };
        let placed = ends.into_iter().filter(|e| w.holds(*e, 2.0)).find_map(|end| canvas.placer.place(&wanted(end)));
        if let Some(placed) = placed {
            out.push(TickLabel { lines, placed });
        }
    }
    out
}

fn size_of(lines: &[String], size: f64) -> [f64; 2] {
    let width = lines.iter().map(|l| fonts::width(l, size, Weight::Regular)).fold(0.0, f64::max);
    [width + 2.0, lines.len() as f64 * size * 1.12]
}

/// Draws ticks and labels.
pub fn draw(canvas: &mut Canvas, ticks: &[Tick], labels: &[TickLabel]) {
    if ticks.is_empty() {
        return;
    }
    let t = canvas.page.text;
    let size = t * 0.84;
    canvas.svg.open_group(layer::TIMES, &[]);
    let mut d = PathData::new();
    for tick in ticks {
        d.line(&tick.line);
    }
    for (stroke, width, opacity) in [(PAPER, 0.13, "0.25"), (INK, 0.06, "0.9")] {
        canvas.svg.leaf(
            "path",
            &[
                ("d", &d.as_str()),
                ("fill", &"none"),
                ("stroke", &stroke),
                ("stroke-width", &Num(t * width)),
                ("stroke-opacity", &opacity),
            ],
        );
    }
    for label in labels {
        let f = label.placed.footprint;
        for (k, line) in label.lines.iter().enumerate() {
            let (x, anchor) = match label.placed.side {
                1 => (f.centre[0] - f.half[0] + 1.0, Anchor::Start),
                -1 => (f.centre[0] + f.half[0] - 1.0, Anchor::End),
                _ => (f.centre[0], Anchor::Middle),
            };
            let mut style = TextStyle::new(size, INK).held(anchor).haloed(PAPER);
            // Local time first, and stronger.
            if k == 0 && label.lines.len() > 1 {
                style = style.strong();
            }
            canvas.svg.text(x, f.centre[1] - f.half[1] + size * (0.9 + 1.12 * k as f64), &style, line);
        }
    }
    canvas.svg.close();
}
