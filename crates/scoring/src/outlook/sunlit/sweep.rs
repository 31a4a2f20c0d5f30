//! One sweep: the skyline towards the Sun for every place of a grid at once, each row from those before it.
//!
//! Lines of sight are followed from the far end towards the places (see [`super::pencil`]). A line keeps the ground it has passed as an
//! upper convex hull in coordinates that make the curved Earth flat: with d the distance along the line and R' the optical radius, a
//! height h becomes g = h − d²/2R'. The slope of sight from an eye at (v, e) to ground at (d, g) is then (g − e')/(d − v) + v/R' with
//! e' = e − v²/2R', so that the skyline is the tangent from the eye to the hull; every point enters and leaves the hull once, and the
//! work grows with the number of cells. Parabola for circle: 1/8000 of the slope at 200 km.
//!
//! The first [`CLOSE_ROWS`] rows in front of a place are walked through place by place instead, between the four samples around, because
//! half a cell's shift to the side is much for ground that near. Farther out the two lines on either side are asked and blended.

use rayon::prelude::*;

use super::field::{Coordinates, Field};
use super::filled;
use super::pencil::Pencil;

/// Lines that are followed together.
pub(crate) const LINES: usize = 64;
/// Rows in front of a place that are walked through.
const CLOSE_ROWS: usize = 16;
/// The first of those are looked at every quarter of a row, the rest every half: crests between rows would be missed. On invented ground as
/// rough as the Alps half the steps gave margins 0.03° too high on average for ground nearer than 500 m, and 0.3° for one place in twenty.
const QUARTER_STEP_ROWS: f64 = 2.0;
/// Nodes of a hull that are tried one by one.
const STEPS: usize = 6;
/// Places of a row for which rays lean alike.
const SEGMENT: usize = 128;

/// What a sweep works with.
pub(crate) struct Sweep<'a> {
    /// The fields, coarsest first.
    pub(crate) fields: &'a [Field; 3],
    pub(crate) pencil: Pencil,
    /// Rows and columns of the places, in the finest field's steps, and how many steps they are apart.
    pub(crate) size: (usize, usize),
    pub(crate) every: usize,
    pub(crate) eye_height_m: f64,
    pub(crate) refraction_coefficient: f64,
    /// The nearest ground that counts, m.
    pub(crate) nearest_m: f64,
}

/// Skylines of all places, in the sweep's order.
#[derive(Debug, Default)]
pub(crate) struct Skylines {
    /// Slope of the skyline; infinitely low where nothing is known, also where the place itself has no height.
    pub(crate) slope: Vec<f32>,
    /// Distance of the nearest unknown ground towards the Sun, m; infinite where all is known.
    pub(crate) unknown_m: Vec<f32>,
}

#[derive(Clone, Copy)]
struct Node {
    d: f64,
    g: f64,
}

/// A line's ground so far.
#[derive(Clone)]
struct Line {
    hull: Vec<Node>,
    /// Where the last unknown ground was met.
    unknown: f64,
    /// The node of the hull that was last seen as the skyline.
    seen: usize,
}

impl Line {
    #[inline]
    fn push(&mut self, d: f64, height: f64, half_curvature: f64) {
        if height.is_nan() {
            self.unknown = d;
            return;
        }
        let c = Node { d, g: height - d * d * half_curvature };
        while let [.., a, b] = self.hull.as_slice() {
            if (a.d - b.d) * (c.g - a.g) < (b.g - a.g) * (a.d - c.d) {
                break;
            }
            self.hull.pop();
        }
        self.hull.push(c);
    }

    /// The steepest slope from an eye to the hull, in flat coordinates. Looked for from where it was last found: as the eye goes on, what
    /// it sees changes seldom.
    #[inline]
    fn tangent(&mut self, v: f64, e: f64) -> f64 {
        let hull = self.hull.as_slice();
        let Some(last) = hull.len().checked_sub(1) else { return f64::NEG_INFINITY };
        // Whether the ground one farther stands higher: true from the near end up to the tangent.
        let farther = |j: usize| {
            let (a, b) = (hull[j - 1], hull[j]);
            (a.g - e) * (b.d - v) > (b.g - e) * (a.d - v)
        };
        // Some steps either way, then halves of what is left.
        let from = self.seen.min(last);
        let mut j = from;
        while j > 0 && farther(j) {
            j -= 1;
            if from - j > STEPS {
                j = highest(0, j, farther);
                break;
            }
        }
        while j >= from && j < last && !farther(j + 1) {
            j += 1;
            if j - from == STEPS {
                j = highest(j, last, farther);
                break;
            }
        }
        self.seen = j;
        (hull[j].g - e) / (hull[j].d - v)
    }
}

/// The last node between two that is not lower than the one beyond it.
fn highest(mut low: usize, mut high: usize, farther: impl Fn(usize) -> bool) -> usize {
    while low < high {
        let middle = (low + high).div_ceil(2);
        if farther(middle) { high = middle - 1 } else { low = middle }
    }
    low
}

/// Skylines found by one bundle: for each row of places its first column and its results.
struct Found {
    rows: Vec<(usize, usize, usize)>,
    slope: Vec<f32>,
    unknown: Vec<f32>,
}

/// A coarser field that a bundle passes: which, its rows, and where each line goes over to the finer one.
type Part = (usize, Vec<(usize, Crossing)>, Vec<f64>);

/// Where the lines of a bundle cross a row.
#[derive(Clone, Copy)]
struct Crossing {
    column: f64,
    columns_a_line: f64,
    along: f64,
    along_a_line: f64,
}

impl Sweep<'_> {
    fn optical_radius(&self) -> f64 {
        self.pencil.radius_m / (1.0 - self.refraction_coefficient)
    }

    /// Sweeps.
    pub(crate) fn run(&self) -> Skylines {
        let coordinates = self.fields.each_ref().map(|f| f.coordinates(&self.pencil));
        let [_, _, fine] = self.fields;
        let (rows, columns) = (self.size.0.div_ceil(self.every), self.size.1.div_ceil(self.every));
        let mut skylines = Skylines {
            slope: filled(f32::NEG_INFINITY, rows * columns),
            unknown_m: filled(f32::INFINITY, rows * columns),
        };
        if rows * columns == 0 {
            return skylines;
        }
        skylines
            .slope
            .par_chunks_mut(columns)
            .enumerate()
            .for_each(|(row, out)| self.walk_close(fine, &coordinates[2], row * self.every, out));
        // Lines a column apart in the middle of the places, and the range that crosses them.
        let (top, left) = fine.origin;
        let middle = coordinates[2].rates(top + self.size.0 / 2, (left + self.size.1 / 2) as f64);
        let spacing = middle[1];
        let range = (top..top + self.size.0).fold((f64::INFINITY, f64::NEG_INFINITY), |range, row| {
            let from = coordinates[2].at(row, left as f64).0;
            let to = coordinates[2].at(row, (left + self.size.1 - 1) as f64).0;
            (range.0.min(from), range.1.max(to))
        });
        let first = (range.0 / spacing).floor() - 1.0;
        let bundles = ((range.1 / spacing - first) / LINES as f64).ceil() as usize + 1;
        let found: Vec<Found> = (0..bundles)
            .into_par_iter()
            .map(|b| self.follow(&coordinates, (first + (b * LINES) as f64) * spacing, spacing))
            .collect();
        let unknown_m = skylines.unknown_m.par_chunks_mut(columns);
        skylines.slope.par_chunks_mut(columns).zip(unknown_m).enumerate().for_each(|(row, (slope, unknown))| {
            for bundle in &found {
                // Rows of places are in order, one entry each.
                let Some(i) = bundle.rows.first().and_then(|f| row.checked_sub(f.0)) else { continue };
                let Some(&(_, column, from)) = bundle.rows.get(i) else { continue };
                let to = bundle.rows.get(i + 1).map_or(bundle.slope.len(), |n| n.2);
                for (k, at) in (from..to).enumerate() {
                    let s = bundle.slope[at];
                    slope[column + k] = if s > slope[column + k] { s } else { slope[column + k] };
                    unknown[column + k] = bundle.unknown[at];
                }
            }
        });
        skylines
    }

    /// The first rows in front of the places of a row.
    fn walk_close(&self, field: &Field, coordinates: &Coordinates, place_row: usize, out: &mut [f32]) {
        let (width, (top, left)) = (field.frame.columns, field.origin);
        let row = top + place_row;
        let line = |r: usize| &field.heights[r * width..(r + 1) * width];
        let bend = 0.5 / self.optical_radius();
        let mut eye = [0.0_f32; SEGMENT];
        let mut best = [0.0_f32; SEGMENT];
        for from in (0..self.size.1).step_by(SEGMENT) {
            let length = SEGMENT.min(self.size.1 - from);
            let column = left + from;
            let [across_row, across_column, along_row, along_column] =
                coordinates.rates(row, (column + length / 2) as f64);
            let lean = across_row / across_column;
            let row_m = lean * along_column - along_row;
            for (e, h) in eye[..length].iter_mut().zip(&line(row)[column..]) {
                *e = h + self.eye_height_m as f32;
            }
            best[..length].fill(f32::NEG_INFINITY);
            let mut step = |back: f64| {
                let d = back * row_m;
                let shift = back * lean;
                let (whole_rows, whole_columns) = (back.floor(), shift.floor());
                let Some(near) = row.checked_sub(whole_rows as usize) else { return };
                let far = near.saturating_sub(usize::from(back > whole_rows));
                let start = column as isize + whole_columns as isize;
                if start < 0 || start as usize + length + 1 > width {
                    return;
                }
                let start = start as usize;
                let (f, g) = ((shift - whole_columns) as f32, (back - whole_rows) as f32);
                let (per_m, sink) = ((1.0 / d) as f32, (d * bend) as f32);
                let eye = &eye[..length];
                let best = &mut best[..length];
                let a = &line(near)[start..start + length + 1];
                if g == 0.0 {
                    for i in 0..length {
                        let h = a[i] + (a[i + 1] - a[i]) * f;
                        let s = (h - eye[i]) * per_m - sink;
                        best[i] = if s > best[i] { s } else { best[i] };
                    }
                } else {
                    let b = &line(far)[start..start + length + 1];
                    for i in 0..length {
                        let (p, q) = (a[i] + (a[i + 1] - a[i]) * f, b[i] + (b[i + 1] - b[i]) * f);
                        let s = (p + (q - p) * g - eye[i]) * per_m - sink;
                        best[i] = if s > best[i] { s } else { best[i] };
                    }
                }
            };
            // The nearest that counts, then quarter rows, then half rows.
            let nearest = self.nearest_m / row_m;
            step(nearest);
            let mut back = (nearest * 4.0).floor() / 4.0 + 0.25;
            while back < CLOSE_ROWS as f64 + nearest {
                step(back);
                back += if back < QUARTER_STEP_ROWS + nearest { 0.25 } else { 0.5 - back % 0.5 };
            }
            let first = from.div_ceil(self.every);
            for k in first..(from + length).div_ceil(self.every) {
                out[k] = best[k * self.every - from];
            }
        }
    }

    /// Whether places lie in a row of the finest field.
    fn holds_places(&self, row: usize) -> bool {
        let [_, _, fine] = self.fields;
        row.checked_sub(fine.origin.0).is_some_and(|row| row.is_multiple_of(self.every))
    }

    fn crossing(&self, coordinates: &Coordinates, row: usize, across: f64, spacing: f64) -> Crossing {
        let column = coordinates.column_of(row, across);
        let end = coordinates.column_of(row, across + LINES as f64 * spacing);
        let (along, along_end) = (coordinates.at(row, column).1, coordinates.at(row, end).1);
        Crossing {
            column,
            columns_a_line: (end - column) / LINES as f64,
            along,
            along_a_line: (along_end - along) / LINES as f64,
        }
    }

    /// Follows a bundle of lines from the far end to the last place they pass.
    fn follow(&self, coordinates: &[Coordinates; 3], across: f64, spacing: f64) -> Found {
        let mut found = Found { rows: Vec::new(), slope: Vec::new(), unknown: Vec::new() };
        let [_, _, fine] = self.fields;
        let (top, left) = fine.origin;
        let right = left + self.size.1 - 1;
        let fits = |field: &Field, c: &Crossing| {
            c.column >= 0.0 && c.column + LINES as f64 * c.columns_a_line < (field.frame.columns - 1) as f64
        };
        let touches =
            |c: &Crossing| c.column <= right as f64 && c.column + LINES as f64 * c.columns_a_line > left as f64;
        // The last row of places that the bundle touches.
        let Some(last) =
            (top..top + self.size.0).rev().find(|&row| touches(&self.crossing(&coordinates[2], row, across, spacing)))
        else {
            return found;
        };
        // Rows of the finest field, from where the bundle lies in it.
        let mut inner: Vec<Crossing> = Vec::new();
        for row in (0..=last).rev() {
            let c = self.crossing(&coordinates[2], row, across, spacing);
            if !fits(fine, &c) {
                break;
            }
            inner.push(c);
        }
        inner.reverse();
        let Some(entry) = inner.first().copied() else { return found };
        let start = last + 1 - inner.len();
        // Room for as many places as the bundle may pass, so that nothing grows: with all bundles that is as much as all skylines.
        let places = |c: &Crossing| (LINES as f64 * c.columns_a_line / self.every as f64) as usize + 2;
        let looked_at = inner.iter().enumerate().filter(|&(i, c)| self.holds_places(start + i) && touches(c));
        let room = looked_at.map(|(_, c)| places(c)).sum();
        found.slope.reserve_exact(room);
        found.unknown.reserve_exact(room);
        let half_curvature = 0.5 / self.optical_radius();
        let mut lines = vec![Line { hull: Vec::with_capacity(64), unknown: f64::INFINITY, seen: 0 }; LINES + 1];
        self.far_ground(coordinates, across, spacing, start, entry, half_curvature, &mut lines);
        let width = fine.frame.columns;
        let mut ahead = start;
        for row in start..=last {
            let crossing = inner[row - start];
            if let Some(behind) = row.checked_sub(CLOSE_ROWS + 1).filter(|&r| r >= start) {
                let c = inner[behind - start];
                let heights = &fine.heights[behind * width..(behind + 1) * width];
                pass(&mut lines, heights, &c, half_curvature);
            }
            if self.holds_places(row) && touches(&crossing) {
                if fine.holes {
                    // What is unknown close by is told at once, not only when it enters the hull.
                    for r in ahead.max(row.saturating_sub(CLOSE_ROWS))..=row {
                        let c = inner[r - start];
                        note_holes(&mut lines, &fine.heights[r * width..(r + 1) * width], &c);
                    }
                    ahead = row + 1;
                }
                self.look(&mut lines, fine, row, &crossing, half_curvature, &mut found);
            }
        }
        found
    }

    /// The ground of the coarser fields, up to where the finest begins.
    #[allow(clippy::too_many_arguments)]
    fn far_ground(
        &self,
        coordinates: &[Coordinates; 3],
        across: f64,
        spacing: f64,
        start: usize,
        entry: Crossing,
        half_curvature: f64,
        lines: &mut [Line],
    ) {
        let [_, _, fine] = self.fields;
        let mut until: Vec<f64> = (0..=LINES).map(|k| entry.along + entry.along_a_line * k as f64).collect();
        let mut parts: Vec<Part> = Vec::new();
        let mut next_row = start;
        let mut finer = fine;
        for level in [1, 0] {
            let field = &self.fields[level];
            // The row of this field that lies where the finer one begins.
            let ratio = (field.coarse / finer.coarse) as isize;
            let offset = next_row as isize - finer.origin.0 as isize;
            let from = (field.origin.0 as isize + offset.div_euclid(ratio)).clamp(0, field.frame.rows as isize - 1);
            let mut rows = Vec::new();
            for row in (0..=from as usize).rev() {
                let c = self.crossing(&coordinates[level], row, across, spacing);
                let last = c.column + LINES as f64 * c.columns_a_line;
                if c.column < 0.0 || last >= (field.frame.columns - 1) as f64 {
                    break;
                }
                rows.push((row, c));
            }
            rows.reverse();
            let stop = until.clone();
            if let Some((row, c)) = rows.first() {
                next_row = *row;
                until = (0..=LINES).map(|k| c.along + c.along_a_line * k as f64).collect();
                finer = field;
            }
            parts.push((level, rows, stop));
        }
        // Beyond what was laid out nothing is known, unless it is farther than anyone asks.
        for (line, end) in lines.iter_mut().zip(&until) {
            line.unknown = *end;
        }
        for (level, rows, stop) in parts.into_iter().rev() {
            let field = &self.fields[level];
            let width = field.frame.columns;
            for (row, c) in rows {
                let heights = &field.heights[row * width..(row + 1) * width];
                for (k, line) in lines.iter_mut().enumerate() {
                    let along = c.along + c.along_a_line * k as f64;
                    if along > stop[k] {
                        line.push(along, between(heights, c.column + c.columns_a_line * k as f64), half_curvature);
                    }
                }
            }
        }
    }

    /// The skyline of the places of a row that lie among the bundle's lines.
    fn look(&self, lines: &mut [Line], fine: &Field, row: usize, c: &Crossing, half_curvature: f64, found: &mut Found) {
        let (top, left) = fine.origin;
        let heights = &fine.heights[row * fine.frame.columns..(row + 1) * fine.frame.columns];
        let first = c.column.ceil().max(left as f64) as usize;
        let end = ((c.column + c.columns_a_line * LINES as f64).ceil() as usize).min(left + self.size.1);
        let first = (first - left).div_ceil(self.every);
        found.rows.push(((row - top) / self.every, first, found.slope.len()));
        let per_column = 1.0 / c.columns_a_line;
        for column in (left + first * self.every..end).step_by(self.every) {
            let u = (column as f64 - c.column) * per_column;
            let k = (u as usize).min(LINES - 1);
            let t = u - k as f64;
            let v = c.along + c.along_a_line * u;
            let bent = v * v * half_curvature;
            let eye = f64::from(heights[column]) + self.eye_height_m - bent;
            let [a, b] = &mut lines[k..k + 2] else { continue };
            let (near, far) = (a.tangent(v, eye), b.tangent(v, eye));
            // One side without ground at all leaves the other.
            let slope = if near == f64::NEG_INFINITY || far == f64::NEG_INFINITY {
                near.max(far)
            } else {
                near + (far - near) * t
            };
            found.slope.push((slope + 2.0 * v * half_curvature) as f32);
            found.unknown.push((a.unknown.min(b.unknown) - v) as f32);
        }
    }
}

/// Height between two columns of a row.
#[inline]
fn between(heights: &[f32], column: f64) -> f64 {
    let i = column as usize;
    let (a, b) = (f64::from(heights[i]), f64::from(heights[i + 1]));
    a + (b - a) * (column - i as f64)
}

/// Takes a row into the lines.
#[inline]
fn pass(lines: &mut [Line], heights: &[f32], c: &Crossing, half_curvature: f64) {
    for (k, line) in lines.iter_mut().enumerate() {
        let along = c.along + c.along_a_line * k as f64;
        line.push(along, between(heights, c.column + c.columns_a_line * k as f64), half_curvature);
    }
}

/// Notes where a row has no heights.
fn note_holes(lines: &mut [Line], heights: &[f32], c: &Crossing) {
    for (k, line) in lines.iter_mut().enumerate() {
        if between(heights, c.column + c.columns_a_line * k as f64).is_nan() {
            line.unknown = c.along + c.along_a_line * k as f64;
        }
    }
}
