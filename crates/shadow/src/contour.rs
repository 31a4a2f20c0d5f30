//! Lines along which a function of two variables has a given value, every vertex found as a root of the function itself.
//!
//! The function is sampled at the nodes of a grid; wherever its sign changes between two neighbouring nodes the line
//! crosses that edge, and the crossing is found exactly there. The crossings of a cell are then joined (marching squares;
//! a saddle is decided by the value in the cell's middle). The grid decides only what could be overlooked and how far
//! the vertices are apart; [`Grid::refined`] puts further exact vertices between them.

use rayon::prelude::*;
use std::collections::HashMap;

/// A pair of coordinates on the grid.
pub(crate) type Point = [f64; 2];

/// Sampling points of two coordinates, both increasing.
#[derive(Clone, Debug)]
pub(crate) struct Grid {
    pub x: Vec<f64>,
    pub y: Vec<f64>,
    /// The first coordinate's period, if it is an angle that goes round.
    pub x_period: Option<f64>,
}

/// A line of equal value. A closed one does not repeat its first vertex. Coordinates run on without a jump, over the
/// period if need be.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Line {
    pub points: Vec<Point>,
    pub closed: bool,
}

/// Halvings that bring any bracket down to the last bit that matters.
const MOST_ROUNDS: usize = 80;

/// Where a continuous function changes its sign between `a` and `b`: as near as makes no difference to its value, or
/// to the given closeness. Secant steps of the Illinois kind, which keep the bracket, and a halving whenever they dawdle.
pub(crate) fn crossing(f: impl Fn(f64) -> f64, a: f64, b: f64, close_enough: f64) -> f64 {
    let (mut a, mut fa, mut b, mut fb) = (a, f(a), b, f(b));
    let nothing = 1e-13 * (fa.abs() + fb.abs());
    for round in 0..MOST_ROUNDS {
        if (b - a).abs() <= close_enough {
            break;
        }
        let secant = (a * fb - b * fa) / (fb - fa);
        let usable = secant.is_finite() && (secant - a) * (secant - b) < 0.0;
        let c = if usable && round % 4 != 3 { secant } else { 0.5 * (a + b) };
        let fc = f(c);
        if fc.abs() <= nothing {
            return c;
        }
        if (fc > 0.0) == (fb > 0.0) {
            (b, fb) = (c, fc);
            fa *= 0.5;
        } else {
            (a, fa, b, fb) = (b, fb, c, fc);
        }
    }
    0.5 * (a + b)
}

/// An edge of the grid: from a node to the next along the first (0) or the second (1) coordinate.
type Edge = (usize, usize, u8);

impl Grid {
    /// Values of a function at all nodes, row after row.
    pub fn sampled(&self, f: impl Fn(Point) -> f64 + Sync) -> Vec<f64> {
        let columns = self.x.len();
        (0..columns * self.y.len())
            .into_par_iter()
            .map(|node| f([self.x[node % columns], self.y[node / columns]]))
            .collect()
    }

    /// Lines on which the function has the value; `samples` are its values at the nodes.
    pub fn lines_at(&self, samples: &[f64], f: impl Fn(Point) -> f64, level: f64) -> Vec<Line> {
        let columns = self.x.len();
        let above = |i: usize, j: usize| samples[j * columns + i % columns] > level;
        let cells_across = if self.x_period.is_some() { columns } else { columns.saturating_sub(1) };
        let mut neighbours: HashMap<Edge, Vec<Edge>> = HashMap::new();
        let mut join = |a: Edge, b: Edge| {
            neighbours.entry(a).or_default().push(b);
            neighbours.entry(b).or_default().push(a);
        };
        for j in 0..self.y.len().saturating_sub(1) {
            for i in 0..cells_across {
                let right = (i + 1) % columns;
                let corners = [above(i, j), above(right, j), above(right, j + 1), above(i, j + 1)];
                let edges: [Edge; 4] = [(i, j, 0), (right, j, 1), (i, j + 1, 0), (i, j, 1)];
                let crossed: Vec<usize> = (0..4).filter(|&k| corners[k] != corners[(k + 1) % 4]).collect();
                match crossed[..] {
                    [a, b] => join(edges[a], edges[b]),
                    [_, _, _, _] => {
                        let middle = [self.x_at(i, 0.5), 0.5 * (self.y[j] + self.y[j + 1])];
                        // The first corner is cut off from the middle, or joined to it.
                        if (f(middle) > level) == corners[0] {
                            join(edges[0], edges[1]);
                            join(edges[2], edges[3]);
                        } else {
                            join(edges[3], edges[0]);
                            join(edges[1], edges[2]);
                        }
                    }
                    _ => {}
                }
            }
        }
        self.chained(neighbours).iter().map(|(edges, closed)| self.traced(edges, *closed, &f, level)).collect()
    }

    /// Edges in the order in which lines run over them: open lines first, then loops. The order of the grid decides, so
    /// that the same grid always gives the same lines.
    fn chained(&self, mut neighbours: HashMap<Edge, Vec<Edge>>) -> Vec<(Vec<Edge>, bool)> {
        let mut starts: Vec<Edge> = neighbours.keys().copied().collect();
        starts.sort_unstable_by_key(|edge| (neighbours[edge].len(), *edge));
        let mut chains = Vec::new();
        for start in starts {
            let Some(first) = neighbours.remove(&start) else { continue };
            let open = first.len() < 2;
            let mut chain = vec![start];
            let mut next = first.first().copied();
            while let Some(edge) = next {
                let Some(around) = neighbours.remove(&edge) else { break };
                let before = chain[chain.len() - 1];
                chain.push(edge);
                next = around.into_iter().find(|&other| other != before);
            }
            chains.push((chain, !open));
        }
        chains
    }

    fn traced(&self, edges: &[Edge], closed: bool, f: &impl Fn(Point) -> f64, level: f64) -> Line {
        let mut points: Vec<Point> = Vec::with_capacity(edges.len());
        for &(i, j, along) in edges {
            let mut point = if along == 0 {
                let (a, b) = (self.x[i], self.x_at(i, 1.0));
                let y = self.y[j];
                [crossing(|x| f([x, y]) - level, a, b, self.tolerance(0)), y]
            } else {
                let x = self.x[i];
                [x, crossing(|y| f([x, y]) - level, self.y[j], self.y[j + 1], self.tolerance(1))]
            };
            if let (Some(period), Some(before)) = (self.x_period, points.last()) {
                point[0] += ((before[0] - point[0]) / period).round() * period;
            }
            points.push(point);
        }
        points.dedup();
        Line { points, closed }
    }

    /// A place in the cell right of a node, the period minded.
    fn x_at(&self, i: usize, share: f64) -> f64 {
        let next = match self.x.get(i + 1) {
            Some(&next) => next,
            None => self.x[0] + self.x_period.unwrap_or(0.0),
        };
        self.x[i] + share * (next - self.x[i])
    }

    /// Mean step of a coordinate.
    fn step(&self, coordinate: usize) -> f64 {
        let knots = if coordinate == 0 { &self.x } else { &self.y };
        match knots[..] {
            [first, .., last] => (last - first) / (knots.len() - 1) as f64,
            _ => 1.0,
        }
    }

    /// Differences of a coordinate that are no difference, even where a place runs away from its coordinates as the
    /// square root does, at the edge of the sunlit Earth.
    fn tolerance(&self, coordinate: usize) -> f64 {
        1e-14 * self.step(coordinate)
    }

    /// The point of the line half-way between two of its points, found at right angles to the chord (in steps of the
    /// grid); `None` where the line does not pass within the chord's length of its middle.
    fn between(&self, a: Point, b: Point, f: &impl Fn(Point) -> f64, level: f64) -> Option<Point> {
        let (sx, sy) = (self.step(0), self.step(1));
        let (dx, dy) = ((b[0] - a[0]) / sx, (b[1] - a[1]) / sy);
        let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
        let beside = |s: f64| [middle[0] - s * dy * sx, middle[1] + s * dx * sy];
        let value = |s: f64| f(beside(s)) - level;
        let here = value(0.0) > 0.0;
        for reach in [0.05, 0.25, 1.0] {
            for s in [reach, -reach] {
                if (value(s) > 0.0) != here {
                    return Some(beside(crossing(value, 0.0, s, 1e-12)));
                }
            }
        }
        None
    }

    /// The line with further vertices on it, so that no two are too far apart.
    pub fn refined(
        &self,
        line: &Line,
        f: impl Fn(Point) -> f64,
        level: f64,
        too_far: impl Fn(Point, Point) -> bool,
    ) -> Line {
        const MOST_HALVINGS: usize = 10;
        let mut points = Vec::with_capacity(line.points.len() * 2);
        let mut waiting: Vec<(Point, Point, usize)> = Vec::new();
        for (a, b) in self.steps(line) {
            points.push(a);
            waiting.push((a, b, 0));
            while let Some((a, b, depth)) = waiting.pop() {
                let further = depth < MOST_HALVINGS && too_far(a, b);
                if let Some(middle) = further.then(|| self.between(a, b, &f, level)).flatten() {
                    waiting.push((middle, b, depth + 1));
                    waiting.push((a, middle, depth + 1));
                } else {
                    points.push(b);
                }
            }
            points.pop();
        }
        if !line.closed {
            points.extend(line.points.last());
        }
        Line { points, closed: line.closed }
    }

    /// Consecutive pairs of vertices, of a closed line the last and the first too.
    fn steps(&self, line: &Line) -> Vec<(Point, Point)> {
        let mut pairs: Vec<(Point, Point)> = line.points.windows(2).map(|w| (w[0], w[1])).collect();
        if let (true, [first, .., last]) = (line.closed, &line.points[..]) {
            let mut back = *first;
            if let Some(period) = self.x_period {
                back[0] += ((last[0] - back[0]) / period).round() * period;
            }
            pairs.push((*last, back));
        }
        pairs
    }

    /// The parts of a line on which another function is not negative; their ends lie on the line where that function is
    /// zero.
    pub fn clipped(&self, line: &Line, f: impl Fn(Point) -> f64, level: f64, keep: impl Fn(Point) -> f64) -> Vec<Line> {
        let inside: Vec<bool> = line.points.iter().map(|&p| keep(p) >= 0.0).collect();
        if inside.iter().all(|&inside| inside) {
            return vec![line.clone()];
        }
        // Of a closed line begin outside, so that no part is cut in two.
        let n = line.points.len();
        let first = if line.closed { inside.iter().position(|inside| !inside).unwrap_or(0) } else { 0 };
        let count = if line.closed { n + 1 } else { n };
        let mut parts: Vec<Line> = Vec::new();
        let mut before: Option<(Point, bool)> = None;
        for k in 0..count {
            let index = (first + k) % n;
            let mut point = line.points[index];
            if let (Some(period), Some((previous, _))) = (self.x_period, before) {
                point[0] += ((previous[0] - point[0]) / period).round() * period;
            }
            let here = inside[index];
            if let Some((previous, was)) = before
                && was != here
            {
                let (mut yes, mut no) = if here { (point, previous) } else { (previous, point) };
                for _ in 0..MOST_ROUNDS {
                    let small = |k: usize| (yes[k] - no[k]).abs() <= 1000.0 * self.tolerance(k);
                    if small(0) && small(1) {
                        break;
                    }
                    let Some(middle) = self.between(yes, no, &f, level) else { break };
                    if keep(middle) >= 0.0 { yes = middle } else { no = middle }
                }
                if here {
                    parts.push(Line { points: vec![yes], closed: false });
                } else if let Some(part) = parts.last_mut() {
                    part.points.push(yes);
                }
            } else if here && before.is_none() {
                parts.push(Line { points: Vec::new(), closed: false });
            }
            if here && let Some(part) = parts.last_mut() {
                part.points.push(point);
            }
            before = Some((point, here));
        }
        for part in &mut parts {
            part.points.dedup();
        }
        parts.retain(|part| part.points.len() > 1);
        parts
    }
}

/// `n` evenly spaced numbers, both ends among them.
pub(crate) fn evenly(from: f64, to: f64, n: usize) -> Vec<f64> {
    (0..n).map(|k| from + (to - from) * k as f64 / (n.max(2) - 1) as f64).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn square() -> Grid {
        Grid { x: evenly(-2.0, 2.0, 12), y: evenly(-2.0, 2.0, 15), x_period: None }
    }

    #[test]
    fn a_circle_is_one_closed_line_on_the_circle() {
        let f = |p: Point| p[0].hypot(p[1]);
        let grid = square();
        let lines = grid.lines_at(&grid.sampled(f), f, 1.5);
        assert_eq!(lines.len(), 1);
        assert!(lines[0].closed);
        let fine = grid.refined(&lines[0], f, 1.5, |a, b| (a[0] - b[0]).hypot(a[1] - b[1]) > 0.05);
        assert!(fine.points.len() > 180, "{}", fine.points.len());
        for p in lines[0].points.iter().chain(&fine.points) {
            assert!((f(*p) - 1.5).abs() < 1e-9, "{p:?}");
        }
        let length: f64 = grid.steps(&fine).iter().map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1])).sum();
        assert!((length - TAU * 1.5).abs() < 2e-3, "{length}");
    }

    #[test]
    fn a_clipped_circle_ends_where_it_is_cut() {
        let f = |p: Point| p[0].hypot(p[1]);
        let grid = square();
        let line = &grid.lines_at(&grid.sampled(f), f, 1.5)[0];
        for keep in [|p: Point| p[0] - 0.9, |p: Point| p[1] + 1.2, |p: Point| -p[0] - p[1]] {
            let parts = grid.clipped(line, f, 1.5, keep);
            assert_eq!(parts.len(), 1);
            assert!(!parts[0].closed);
            for end in [parts[0].points[0], parts[0].points[parts[0].points.len() - 1]] {
                assert!(keep(end).abs() < 1e-8 && (f(end) - 1.5).abs() < 1e-8, "{end:?}");
            }
            assert!(parts[0].points.iter().all(|&p| keep(p) >= -1e-9));
        }
        assert_eq!(grid.clipped(line, f, 1.5, |p| p[0].abs() - 1.0).len(), 2);
        assert!(grid.clipped(line, f, 1.5, |p| p[0] - 1.6).is_empty());
        assert_eq!(grid.clipped(line, f, 1.5, |_| 1.0), vec![line.clone()]);
    }

    #[test]
    fn a_line_round_the_period_closes_and_one_across_it_does_not_jump() {
        let grid = Grid { x: evenly(0.0, TAU, 41)[..40].to_vec(), y: evenly(-1.0, 1.0, 21), x_period: Some(TAU) };
        let wave = |p: Point| p[1] - 0.5 * p[0].sin();
        let round = grid.lines_at(&grid.sampled(wave), wave, 0.1);
        assert_eq!(round.len(), 1);
        assert!(round[0].closed);
        assert!(round[0].points.windows(2).all(|w| (w[0][0] - w[1][0]).abs() < 0.3));
        let spot = |p: Point| p[0].cos() - 4.0 * p[1] * p[1];
        let across = grid.lines_at(&grid.sampled(spot), spot, 0.5);
        assert_eq!(across.len(), 1);
        assert!(across[0].closed && across[0].points.windows(2).all(|w| (w[0][0] - w[1][0]).abs() < 0.3));
    }

    #[test]
    fn a_saddle_gives_two_lines_that_do_not_cross() {
        let grid = Grid { x: evenly(-1.0, 1.0, 4), y: evenly(-1.0, 1.0, 4), x_period: None };
        let saddle = |p: Point| p[0] * p[1];
        for level in [-0.01, 0.01] {
            let lines = grid.lines_at(&grid.sampled(saddle), saddle, level);
            assert_eq!(lines.len(), 2);
            assert!(lines.iter().flat_map(|l| &l.points).all(|p| (saddle(*p) - level).abs() < 1e-9));
        }
    }

    #[test]
    fn the_root_finder_lands_on_steep_and_touching_functions() {
        for (f, root) in [
            ((|x: f64| x.cbrt() - 0.5) as fn(f64) -> f64, 0.125),
            (|x| (x - 0.3) * (1.0 + 1e3 * x * x), 0.3),
            (|x| if x < 0.7 { -1.0 } else { (x - 0.7).sqrt() }, 0.7),
        ] {
            assert!((crossing(f, 0.0, 1.0, 1e-12) - root).abs() < 1e-9, "{root}");
        }
    }
}
