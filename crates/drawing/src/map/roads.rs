//! The roads that a plan names, on regional maps: quiet lines under the marks, no denser than the map's scale can show.

use super::MapSheet;
use super::canvas::Canvas;
use crate::palette::{PAPER, QUIET_INK};
use crate::projection::simplified;
use crate::svg::{Num, PathData};
use noonfall_words::map::layer;
use std::collections::{HashMap, HashSet};

/// Points at most on one map: a drawing with all tracks of a country opens on no phone.
const MOST_POINTS: usize = 6_000;
/// Where roads run closer together than this, drawing units, only the longest of them are drawn: the first of these spacings
/// that keeps the number of points.
const SPACINGS: [f64; 6] = [2.0, 4.0, 8.0, 16.0, 32.0, 64.0];
/// How far a line may run beside its road, drawing units.
const TOLERANCE: f64 = 0.4;
/// The shortest road that is drawn, drawing units.
const LEAST: f64 = 1.5;

/// Whether a map shows them: an overview is too coarse.
pub fn is_drawn(sheet: &MapSheet<'_>, regional: bool) -> bool {
    regional && !sheet.roads.is_empty()
}

/// Draws the lines; nothing where the plan names no roads.
pub fn draw(canvas: &mut Canvas) {
    if !is_drawn(canvas.sheet, canvas.regional) {
        return;
    }
    let on_page = joined(&canvas.sheet.roads.iter().flat_map(|road| canvas.frame.lines(road)).collect::<Vec<_>>());
    let lines = thinned(on_page.iter().map(|line| simplified(line, TOLERANCE)).collect());
    let mut d = PathData::new();
    for line in &lines {
        d.line(line);
    }
    if d.is_empty() {
        return;
    }
    let t = canvas.page.text;
    canvas.svg.open_group(layer::ROADS, &[("fill", &"none")]);
    for (stroke, width, opacity) in look(t) {
        let (width, opacity) = (Num(width), Num(opacity));
        let drawn: [(&str, &dyn std::fmt::Display); 5] = [
            ("d", &d.as_str()),
            ("stroke", &stroke),
            ("stroke-width", &width),
            ("stroke-opacity", &opacity),
            ("stroke-linejoin", &"round"),
        ];
        canvas.svg.leaf("path", &drawn);
    }
    canvas.svg.close();
}

/// Colour, width and opacity of the strokes, one over the other: a pale edge keeps the line readable on the deep fill.
pub fn look(text: f64) -> [(&'static str, f64, f64); 2] {
    [(PAPER, text * 0.13, 0.45), (QUIET_INK, text * 0.055, 0.8)]
}

fn length(line: &[[f64; 2]]) -> f64 {
    line.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).sum()
}

/// Lines that meet end to end, and no third with them, as one: extracts cut a road wherever its surface changes.
fn joined(lines: &[Vec<[f64; 2]>]) -> Vec<Vec<[f64; 2]>> {
    let key = |p: [f64; 2]| [p[0].to_bits(), p[1].to_bits()];
    let mut ends: HashMap<[u64; 2], Vec<usize>> = HashMap::new();
    for (number, line) in lines.iter().enumerate() {
        for end in [line.first(), line.last()].into_iter().flatten() {
            ends.entry(key(*end)).or_default().push(number);
        }
    }
    let mut used = vec![false; lines.len()];
    let mut out = Vec::new();
    for start in 0..lines.len() {
        if std::mem::replace(&mut used[start], true) {
            continue;
        }
        let mut whole = lines[start].clone();
        // Onwards from its end, then from its beginning.
        for _ in 0..2 {
            while let Some(&end) = whole.last() {
                let Some(&[a, b]) = ends.get(&key(end)).map(Vec::as_slice) else { break };
                let next = if used[a] { b } else { a };
                if std::mem::replace(&mut used[next], true) {
                    break;
                }
                let line = &lines[next];
                if line.first() == Some(&end) {
                    whole.extend(&line[1..]);
                } else {
                    whole.extend(line.iter().rev().skip(1));
                }
            }
            whole.reverse();
        }
        out.push(whole);
    }
    out
}

/// The longest lines, each where most of it keeps away from those drawn before.
fn thinned(mut lines: Vec<Vec<[f64; 2]>>) -> Vec<Vec<[f64; 2]>> {
    lines.retain(|line| length(line) >= LEAST);
    // The order of the input parts lines of equal length.
    lines.sort_by(|a, b| length(b).total_cmp(&length(a)));
    let mut kept = Vec::new();
    for spacing in SPACINGS {
        kept = apart(&lines, spacing);
        if kept.iter().map(|line: &Vec<[f64; 2]>| line.len()).sum::<usize>() <= MOST_POINTS {
            return kept;
        }
    }
    let mut points = 0;
    kept.retain(|line| {
        points += line.len();
        points <= MOST_POINTS
    });
    kept
}

fn apart(lines: &[Vec<[f64; 2]>], spacing: f64) -> Vec<Vec<[f64; 2]>> {
    let mut taken: HashSet<[i64; 2]> = HashSet::new();
    let mut kept = Vec::new();
    for line in lines {
        let mut cells = Vec::new();
        for pair in line.windows(2) {
            let [a, b] = [pair[0], pair[1]];
            let steps = ((b[0] - a[0]).hypot(b[1] - a[1]) / spacing).ceil().max(1.0) as usize;
            for step in 0..=steps {
                let s = step as f64 / steps as f64;
                let cell = [0, 1].map(|k| ((a[k] + s * (b[k] - a[k])) / spacing).floor() as i64);
                if cells.last() != Some(&cell) {
                    cells.push(cell);
                }
            }
        }
        let free = cells.iter().filter(|cell| !taken.contains(*cell)).count();
        if 2 * free > cells.len() {
            taken.extend(cells);
            kept.push(line.clone());
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roads_that_meet_end_to_end_are_one() {
        let ab = vec![[0.0, 0.0], [5.0, 0.0]];
        let cb = vec![[9.0, 1.0], [5.0, 0.0]];
        assert_eq!(joined(&[ab.clone(), cb.clone()]), [vec![[0.0, 0.0], [5.0, 0.0], [9.0, 1.0]]]);
        // At a fork nobody says which goes on.
        let fork = vec![[5.0, 0.0], [5.0, 9.0]];
        assert_eq!(joined(&[ab, cb, fork]).len(), 3);
        // A ring comes round once.
        let ring = [vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0]], vec![[4.0, 4.0], [0.0, 4.0], [0.0, 0.0]]];
        assert_eq!(joined(&ring), [vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0], [0.0, 0.0]]]);
    }

    #[test]
    fn many_roads_are_thinned_to_so_many_points_and_the_longest_stay() {
        // A town of ten thousand short streets, half a unit apart, and a road through it.
        let mut lines: Vec<Vec<[f64; 2]>> = (0..10_000)
            .map(|k| {
                let (x, y) = (f64::from(k % 100) * 3.0, f64::from(k / 100) * 0.5);
                vec![[x, y], [x + 2.0, y + 0.1], [x + 2.9, y]]
            })
            .collect();
        let road = vec![[-50.0, 20.0], [150.0, 21.0], [400.0, 24.0]];
        lines.push(road.clone());
        let kept = thinned(lines);
        assert_eq!(kept[0], road);
        let points: usize = kept.iter().map(Vec::len).sum();
        assert!(points <= MOST_POINTS && kept.len() > 50, "{points} points of {} lines", kept.len());
    }
}
