//! The grid of an area: its nodes, and the places that are swept for them.

use std::ops::Range;

use noonfall_shadow::{Eclipse, Kind};

use super::area::Area;
use super::survey::Question;
use super::{MOST_STEPS, blocks};
use crate::fault::{Fault, Faults};
use crate::input::terrain::{RasterShape, Terrain};
use crate::outlook::skyline::ray::{A_M, E2};

/// Nodes of an area at most.
pub const MOST_NODES: u64 = 4_000_000_000;
/// Of a coarse grid so many places from node to node are swept, at the terrain's samples; a node gets what the nearest has. (Between the
/// samples the ground would be smoothed twice, and rough ground close by would stand too low.)
const SWEPT_STEPS: f64 = 4.0;
/// A grid finer than so many of the terrain's samples takes its heights between them.
const FINE_STEPS: f64 = 0.7;

/// The grid of an area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    /// Its nodes.
    pub shape: RasterShape,
    /// The places that are swept: the nodes themselves, or samples of the terrain among which each node has its nearest.
    swept: RasterShape,
    /// The finest step of the terrain there, degrees of latitude.
    sample_deg: f64,
}

impl Grid {
    /// The grid that a question means.
    ///
    /// # Errors
    /// No totality anywhere, or none over the terrain; no file in the area; an area smaller than two nodes, or of too many.
    pub fn of(eclipse: &Eclipse, terrain: &Terrain, question: &Question) -> Result<Grid, Faults> {
        let kind = eclipse.kind();
        if matches!(kind, Kind::Annular | Kind::Partial) {
            let wrong = format!("the eclipse of {} is {kind}: nowhere is the Sun covered", eclipse.date());
            return Err(Fault::of_file("DATE", wrong, "give the date of a total eclipse").into());
        }
        let area = match question.area {
            Some(area) => area,
            None => Area::of_terrain_in_path(eclipse, terrain).ok_or_else(|| {
                let span = terrain.span_deg(eclipse.greatest().point.lon_deg);
                let all = Area { west_deg: span.0, south_deg: span.1, east_deg: span.2, north_deg: span.3 };
                let wrong = format!(
                    "the terrain ({}; {}) lies outside the path of the eclipse of {}",
                    terrain.source(),
                    all.words(),
                    eclipse.date()
                );
                Fault::of_file("--terrain", wrong, "give elevation files of places in the path")
            })?,
        };
        let (west, south, east, north) = (area.west_deg, area.south_deg, area.east_deg, area.north_deg);
        let Some(samples) = terrain.samples_in_deg(west, south, east, north) else {
            let wrong = format!("no elevation file reaches into the area ({}), of {}", area.words(), terrain.source());
            return Err(Fault::of_file("--area", wrong, "give its files, or another area").into());
        };
        let (shape, swept) = match question.spacing_m {
            None => (samples, samples),
            Some(spacing_m) => {
                let metres = metres_a_degree(area.middle().lat_deg);
                let (lat_step_deg, lon_step_deg) = (spacing_m / metres.0, spacing_m / metres.1);
                let count = |degrees: f64, step: f64| (degrees / step).round().clamp(0.0, 4e9) as u32;
                let steps = (lat_step_deg / samples.lat_step_deg).min(lon_step_deg / samples.lon_step_deg);
                let shape = RasterShape {
                    west_deg: west + lon_step_deg / 2.0,
                    north_deg: north - lat_step_deg / 2.0,
                    lon_step_deg,
                    lat_step_deg,
                    columns: count(east - west, lon_step_deg),
                    rows: count(north - south, lat_step_deg),
                };
                // Rays step from sample to sample, or over as many each time.
                let every = (steps / SWEPT_STEPS).floor().clamp(1.0, 1e6) as u32;
                let every = if every > MOST_STEPS as u32 { every - every % MOST_STEPS as u32 } else { every };
                let thinned = RasterShape {
                    lon_step_deg: samples.lon_step_deg * f64::from(every),
                    lat_step_deg: samples.lat_step_deg * f64::from(every),
                    columns: samples.columns.div_ceil(every),
                    rows: samples.rows.div_ceil(every),
                    ..samples
                };
                let fine = steps < FINE_STEPS || thinned.columns < 2 || thinned.rows < 2;
                (shape, if fine { shape } else { thinned })
            }
        };
        let (columns, rows) = (shape.columns, shape.rows);
        if columns < 2 || rows < 2 {
            let step_m = shape.lat_step_deg * 111_195.0;
            let wrong = format!("{columns} by {rows} nodes {step_m:.0} m apart are no grid ({})", area.words());
            return Err(Fault::of_file("--area", wrong, "give a larger area or a finer spacing").into());
        }
        let count = |s: &RasterShape| u64::from(s.columns) * u64::from(s.rows);
        let nodes = count(&shape).max(count(&swept));
        if nodes > MOST_NODES {
            let wrong = format!("{nodes} nodes are more than the {MOST_NODES} that are looked at");
            let right = "give a smaller --area, or a larger --spacing";
            return Err(Fault::of_file("--spacing", wrong, right).into());
        }
        let mut grid = Grid { shape, swept, sample_deg: samples.lat_step_deg };
        // A last block of a single row or column is no grid: the row or column is left out.
        for _ in 0..2 {
            let Some((_, _, last)) = grid.blocks(terrain, question.multiple).pop() else { break };
            if last.columns >= 2 && last.rows >= 2 {
                break;
            }
            let every_node = grid.sweeps_nodes();
            grid.swept.columns -= u32::from(last.columns < 2);
            grid.swept.rows -= u32::from(last.rows < 2);
            if every_node {
                grid.shape = grid.swept;
            }
        }
        Ok(grid)
    }

    pub(super) fn blocks(&self, terrain: &Terrain, multiple: u32) -> Vec<(u32, u32, RasterShape)> {
        // Where nodes are picked the rest is a small grid: its pieces may begin anywhere.
        blocks(terrain, &self.swept, if self.sweeps_nodes() { multiple } else { 1 })
    }

    pub(super) fn sweeps_nodes(&self) -> bool {
        self.swept == self.shape
    }

    /// The swept row nearest to a row of nodes.
    pub(super) fn swept_row(&self, row: u32) -> u32 {
        let (nodes, swept) = (&self.shape, &self.swept);
        nearest((nodes.north_deg, -nodes.lat_step_deg), row, (swept.north_deg, -swept.lat_step_deg), swept.rows)
    }

    /// The swept column nearest to a column of nodes.
    pub(super) fn swept_column(&self, column: u32) -> u32 {
        let (nodes, swept) = (&self.shape, &self.swept);
        nearest((nodes.west_deg, nodes.lon_step_deg), column, (swept.west_deg, swept.lon_step_deg), swept.columns)
    }

    /// What the nodes span, half a step beyond the outermost.
    pub fn area(&self) -> Area {
        let s = &self.shape;
        let (west, north) = (s.west_deg - s.lon_step_deg / 2.0, s.north_deg + s.lat_step_deg / 2.0);
        Area {
            west_deg: west,
            south_deg: north - f64::from(s.rows) * s.lat_step_deg,
            east_deg: west + f64::from(s.columns) * s.lon_step_deg,
            north_deg: north,
        }
    }

    /// From node to node northward and eastward in the middle, m.
    pub fn spacing_m(&self) -> (f64, f64) {
        let metres = metres_a_degree(self.area().middle().lat_deg);
        (self.shape.lat_step_deg * metres.0, self.shape.lon_step_deg * metres.1)
    }

    /// From sample to sample of the terrain northward, m.
    pub fn sample_m(&self) -> f64 {
        self.sample_deg * metres_a_degree(self.area().middle().lat_deg).0
    }
}

/// Of a line of places, which lies nearest to the so manieth of another; lines as first and step.
fn nearest(nodes: (f64, f64), node: u32, swept: (f64, f64), count: u32) -> u32 {
    let at = (nodes.0 + nodes.1 * f64::from(node) - swept.0) / swept.1;
    (at.round().max(0.0) as u32).min(count - 1)
}

/// The nodes whose nearest swept places lie in a range of these; both rise together.
pub(super) fn picked(nodes: u32, nearest: impl Fn(u32) -> u32, from: u32, to: u32) -> Range<u32> {
    let first_at = |place: u32| {
        let (mut low, mut high) = (0, nodes);
        while low < high {
            let middle = low + (high - low) / 2;
            if nearest(middle) < place { low = middle + 1 } else { high = middle }
        }
        low
    };
    first_at(from)..first_at(to)
}

/// Metres of a degree of latitude and of longitude on the ellipsoid.
pub(super) fn metres_a_degree(lat_deg: f64) -> (f64, f64) {
    let (sin, cos) = lat_deg.to_radians().sin_cos();
    let across = A_M / (1.0 - E2 * sin * sin).sqrt();
    let along = across * (1.0 - E2) / (1.0 - E2 * sin * sin);
    (along.to_radians(), (across * cos.max(1e-6)).to_radians())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every node has one nearest place, blocks of places share the nodes out, and none is left over or taken twice.
    #[test]
    fn nodes_are_shared_out_among_blocks_of_samples() {
        for (spacing, nodes, places) in [(3.2, 40, 128), (1.0, 50, 50), (7.9, 11, 87), (0.9, 30, 27)] {
            let at = |node: u32| nearest((10.3, spacing), node, (10.0, 1.0), places);
            let mut taken = 0;
            for from in (0..places).step_by(16) {
                let part = picked(nodes, at, from, (from + 16).min(places));
                assert_eq!(part.start, taken, "{spacing} {from}");
                assert!(part.clone().all(|n| (from..from + 16).contains(&at(n))), "{spacing} {from}");
                taken = part.end;
            }
            assert_eq!(taken, nodes, "{spacing}");
            let off = |n: u32| (10.3 + spacing * f64::from(n) - 10.0 - f64::from(at(n))).abs();
            assert!((0..nodes).filter(|&n| at(n) + 1 < places).all(|n| off(n) <= 0.5), "{spacing}");
        }
    }
}
