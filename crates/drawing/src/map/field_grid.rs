//! The shadow sampled over the page, and lines of equal value through the samples.

use contour::ContourBuilder;
use noonfall_ephemeris::GeoPoint;
use rayon::prelude::*;

use super::ShadowField;
use crate::projection::{Frame, Window};

/// A grid of nodes over a window.
#[derive(Clone, Debug)]
pub struct FieldGrid {
    columns: usize,
    rows: usize,
    x: f64,
    y: f64,
    step: f64,
    /// Duration at the nodes, seconds; 0 where it was not sampled.
    pub duration_s: Vec<f64>,
    /// Sun's altitude with refraction at the nodes, degrees; −90 where it was not sampled.
    pub sun_apparent_altitude_deg: Vec<f64>,
}

impl FieldGrid {
    /// Samples the field at every node no farther than `reach` drawing units from the inside of the given rings (even-odd),
    /// or at every node when `reach` is infinite.
    #[must_use]
    pub fn sampled(
        frame: &Frame,
        field: &dyn ShadowField,
        rings: &[Vec<[f64; 2]>],
        step: f64,
        reach: f64,
    ) -> FieldGrid {
        let w = frame.window();
        // One node beyond each edge, so that fills reach the frame.
        let (columns, rows) = ((w.width / step).ceil() as usize + 3, (w.height / step).ceil() as usize + 3);
        let (x, y) = (w.x - step, w.y - step);
        let near = mask(rings, Window { x, y, width: w.width, height: w.height }, columns, rows, step, reach);
        let page = |i: usize| [x + (i % columns) as f64 * step, y + (i / columns) as f64 * step];
        let (nodes, places): (Vec<usize>, Vec<GeoPoint>) = (0..columns * rows)
            .into_par_iter()
            .filter(|&i| near[i])
            .filter_map(|i| Some((i, frame.place(page(i))?)))
            .unzip();
        let (mut duration_s, mut sun_apparent_altitude_deg) = (vec![0.0; columns * rows], vec![-90.0; columns * rows]);
        for (i, s) in nodes.into_iter().zip(field.samples(&places)) {
            let finite = |v: f64, otherwise: f64| if v.is_finite() { v } else { otherwise };
            duration_s[i] = finite(s.duration_s, 0.0);
            sun_apparent_altitude_deg[i] = finite(s.sun_apparent_altitude_deg, -90.0);
        }
        FieldGrid { columns, rows, x, y, step, duration_s, sun_apparent_altitude_deg }
    }

    /// A grid over a window for values of another kind, with those values row by row.
    #[must_use]
    pub fn of_values(frame: &Frame, step: f64, value: impl Fn([f64; 2]) -> f64 + Sync) -> (FieldGrid, Vec<f64>) {
        let w = frame.window();
        let (columns, rows) = ((w.width / step).ceil() as usize + 3, (w.height / step).ceil() as usize + 3);
        let (x, y) = (w.x - step, w.y - step);
        let at = |i: usize| value([x + (i % columns) as f64 * step, y + (i / columns) as f64 * step]);
        let values = (0..columns * rows).into_par_iter().map(at).collect();
        (FieldGrid { columns, rows, x, y, step, duration_s: Vec::new(), sun_apparent_altitude_deg: Vec::new() }, values)
    }

    /// Nodes in a row.
    #[must_use]
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// Rings around where `values` are at least the threshold, on the page. Outlines and holes, for the even-odd rule.
    #[must_use]
    pub fn rings_above(&self, values: &[f64], threshold: f64) -> Vec<Vec<[f64; 2]>> {
        // As lines: which hole lies in which outline the even-odd rule need not be told, and finding it grows with their numbers' product.
        let Ok(lines) = self.builder().lines(values, &[threshold]) else { return Vec::new() };
        let rings = lines.iter().flat_map(|l| l.geometry().0.iter());
        rings.map(|ring| ring.coords().map(|c| [c.x, c.y]).collect()).collect()
    }

    /// Lines where `values` equal the threshold, on the page. Parts along the sampled region's own edge are left out.
    #[must_use]
    pub fn lines_at(&self, values: &[f64], threshold: f64, unsampled: f64) -> Vec<Vec<[f64; 2]>> {
        let Ok(lines) = self.builder().lines(values, &[threshold]) else { return Vec::new() };
        let mut out = Vec::new();
        for line in lines.iter().flat_map(|l| l.geometry().0.iter()) {
            let mut run: Vec<[f64; 2]> = Vec::new();
            for c in line.coords() {
                if self.touches(values, [c.x, c.y], unsampled) {
                    if run.len() > 1 {
                        out.push(std::mem::take(&mut run));
                    }
                    run.clear();
                } else {
                    run.push([c.x, c.y]);
                }
            }
            if run.len() > 1 {
                out.push(run);
            }
        }
        out
    }

    // The contour library puts a node at the middle of a cell of its own grid, half a step in from its origin.
    fn builder(&self) -> ContourBuilder {
        ContourBuilder::new(self.columns, self.rows, true)
            .x_origin(self.x - self.step / 2.0)
            .y_origin(self.y - self.step / 2.0)
            .x_step(self.step)
            .y_step(self.step)
    }

    fn touches(&self, values: &[f64], p: [f64; 2], value: f64) -> bool {
        let (u, v) = ((p[0] - self.x) / self.step, (p[1] - self.y) / self.step);
        let (c, r) = (u.floor().max(0.0) as usize, v.floor().max(0.0) as usize);
        // Also where the line leaves the grid: the library closes it along the outer edge.
        if u < 0.6 || v < 0.6 || u > self.columns as f64 - 1.6 || v > self.rows as f64 - 1.6 {
            return true;
        }
        [(0, 0), (1, 0), (0, 1), (1, 1)].iter().any(|(i, j)| {
            values.get((r + j).min(self.rows - 1) * self.columns + (c + i).min(self.columns - 1)) == Some(&value)
        })
    }
}

// Which nodes lie inside the rings or within `reach` of the inside, by scan lines and a chamfer distance (Borgefors 1986).
fn mask(rings: &[Vec<[f64; 2]>], w: Window, columns: usize, rows: usize, step: f64, reach: f64) -> Vec<bool> {
    if reach.is_infinite() {
        return vec![true; columns * rows];
    }
    let far = f64::MAX / 4.0;
    let mut distance = vec![far; columns * rows];
    for row in 0..rows {
        let y = w.y + row as f64 * step;
        let mut crossings: Vec<f64> = Vec::new();
        for ring in rings {
            for (i, b) in ring.iter().enumerate() {
                let a = ring[(i + ring.len() - 1) % ring.len()];
                if (a[1] > y) != (b[1] > y) {
                    crossings.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
                }
            }
        }
        crossings.sort_by(f64::total_cmp);
        for pair in crossings.chunks_exact(2) {
            let first = ((pair[0] - w.x) / step).ceil().max(0.0) as usize;
            let mut column = first;
            while column < columns && w.x + column as f64 * step <= pair[1] {
                distance[row * columns + column] = 0.0;
                column += 1;
            }
        }
    }
    // A path thinner than the grid may hold no node at all: its outline counts as inside too.
    for p in rings.iter().flatten() {
        let (c, r) = (((p[0] - w.x) / step).round(), ((p[1] - w.y) / step).round());
        if c >= 0.0 && r >= 0.0 && (c as usize) < columns && (r as usize) < rows {
            distance[r as usize * columns + c as usize] = 0.0;
        }
    }
    let (straight, slanting) = (step, step * std::f64::consts::SQRT_2);
    let mut relax = |i: usize, c: usize, r: usize, dc: isize, dr: isize| {
        let (nc, nr) = (c as isize + dc, r as isize + dr);
        if nc >= 0 && nr >= 0 && (nc as usize) < columns && (nr as usize) < rows {
            let d =
                distance[nr as usize * columns + nc as usize] + if dc != 0 && dr != 0 { slanting } else { straight };
            if d < distance[i] {
                distance[i] = d;
            }
        }
    };
    for r in 0..rows {
        for c in 0..columns {
            for (dc, dr) in [(-1, 0), (0, -1), (-1, -1), (1, -1)] {
                relax(r * columns + c, c, r, dc, dr);
            }
        }
    }
    for r in (0..rows).rev() {
        for c in (0..columns).rev() {
            for (dc, dr) in [(1, 0), (0, 1), (1, 1), (-1, 1)] {
                relax(r * columns + c, c, r, dc, dr);
            }
        }
    }
    distance.into_iter().map(|d| d <= reach).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::ShadowSample;

    fn frame() -> Frame {
        let window = Window { x: 10.0, y: 20.0, width: 300.0, height: 200.0 };
        Frame::around(GeoPoint { lat_deg: 0.0, lon_deg: 0.0 }, 100.0, window).expect("frame")
    }

    // A field that is linear on the ground: one degree of longitude near the equator is 111.3 km.
    fn field(g: GeoPoint) -> ShadowSample {
        ShadowSample { duration_s: 100.0 + g.lon_deg * 111.3195, sun_apparent_altitude_deg: g.lat_deg * 100.0 }
    }

    #[test]
    fn lines_fall_where_the_field_has_the_value() {
        let frame = frame();
        let grid = FieldGrid::sampled(&frame, &field, &[], 5.0, f64::INFINITY);
        let lines = grid.lines_at(&grid.duration_s, 130.0, 0.0);
        let points: Vec<_> = lines.into_iter().flatten().collect();
        assert!(points.len() > 30);
        for p in points {
            // 30 km east of the middle; 1 km is 1 unit here.
            assert!((p[0] - (160.0 + 30.0)).abs() < 0.2, "{p:?}");
        }
    }

    #[test]
    fn only_the_neighbourhood_of_the_rings_is_sampled() {
        let ring = vec![[100.0, 100.0], [140.0, 100.0], [140.0, 104.0], [100.0, 104.0]];
        let grid = FieldGrid::sampled(&frame(), &field, &[ring], 2.0, 10.0);
        let sampled = grid.sun_apparent_altitude_deg.iter().filter(|a| **a > -90.0).count();
        // 60 by 24 units with rounded corners, at 4 square units a node.
        assert!((280..=380).contains(&sampled), "{sampled}");
    }
}
