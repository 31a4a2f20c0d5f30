//! Second and third contact at every cell, the Sun's altitude at an instant, and the margins gathered over the instants.
//!
//! Contacts are computed at nodes some 2 km apart, at the lowest and the highest ground (a low Sun throws the shadow far to the side of
//! a mountain), and run straight between them: within 1 s, in which the Sun moves 0.004°. Where not all nodes around a cell see
//! totality, the cell's own are computed.

use noonfall_ephemeris::Tt;
use noonfall_shadow::batch::{BatchSolver, LocalBatch, SiteBatch};
use noonfall_shadow::{Eclipse, Phase, Site};
use rayon::prelude::*;

use super::field::Layout;
use super::sweep::Skylines;
use super::{NodeState, SunlitBlock, filled};
use crate::input::terrain::RasterShape;
use crate::land::half_turn;
use crate::outlook::skyline::RayOptions;

/// Between nodes of the contacts, degrees.
const CONTACT_STEP_DEG: f64 = 0.02;
/// Between nodes of the Sun's altitude, degrees: it bends by 0.001° between them.
const SUN_STEP_DEG: f64 = 0.1;
/// A cell among nodes that all see less than this magnitude is outside the path: it changes by less than 0.0004 a kilometre.
const SURELY_OUTSIDE: f64 = 0.995;

/// Rows that are laid out anew together: places of one column lie apart north up, and their neighbours come along.
const BAND: usize = 16;

/// The ground of a block: each cell's height, the lowest and the highest, m.
#[derive(Clone, Copy, Debug)]
pub(super) struct Heights<'a> {
    ground_m: &'a [f32],
    low: f64,
    high: f64,
}

impl<'a> Heights<'a> {
    pub(super) fn of(ground_m: &'a [f32]) -> Heights<'a> {
        let known = ground_m.par_iter().filter(|h| h.is_finite()).map(|&h| (h, h));
        let (low, high) = known.reduce(|| (f32::INFINITY, f32::NEG_INFINITY), |a, b| (a.0.min(b.0), a.1.max(b.1)));
        let (low, high) = if low > high { (0.0, 0.0) } else { (f64::from(low), f64::from(high)) };
        Heights { ground_m, low, high: high.max(low + 1.0) }
    }

    /// A cell's height; the lowest where there is none.
    #[inline]
    fn at(&self, cell: usize) -> f64 {
        let height = f64::from(self.ground_m[cell]);
        if height.is_nan() { self.low } else { height }
    }
}

/// A coarse grid over a block.
#[derive(Clone, Copy, Debug)]
struct Lattice {
    rows: usize,
    columns: usize,
    /// Cells of the block to one of the lattice.
    by: (f64, f64),
}

impl Lattice {
    fn over(shape: &RasterShape, step_deg: f64) -> Lattice {
        let parts = |cells: u32, cell_deg: f64| (f64::from(cells - 1) * cell_deg / step_deg).ceil().max(1.0);
        let (down, across) = (parts(shape.rows, shape.lat_step_deg), parts(shape.columns, shape.lon_step_deg));
        Lattice {
            rows: down as usize + 1,
            columns: across as usize + 1,
            by: (f64::from(shape.rows - 1) / down, f64::from(shape.columns - 1) / across),
        }
    }

    /// Latitude and longitude of a node.
    fn place(&self, shape: &RasterShape, node: usize) -> (f64, f64) {
        let (row, column) = ((node / self.columns) as f64, (node % self.columns) as f64);
        let lat = shape.north_deg - row * self.by.0 * shape.lat_step_deg;
        (lat.clamp(-90.0, 90.0), half_turn(shape.west_deg + column * self.by.1 * shape.lon_step_deg))
    }

    /// The node north-west of a cell and the shares from it, southward and eastward.
    #[inline]
    fn share(&self, row: usize, column: usize) -> (usize, f64, f64) {
        let (y, x) = (row as f64 / self.by.0.max(1e-9), column as f64 / self.by.1.max(1e-9));
        let (r, c) = ((y as usize).min(self.rows - 2), (x as usize).min(self.columns - 2));
        (r * self.columns + c, (y - r as f64).min(1.0), (x - c as f64).min(1.0))
    }
}

#[inline]
fn blend(four: [f64; 4], v: f64, u: f64) -> f64 {
    let (north, south) = (four[0] + (four[1] - four[0]) * u, four[2] + (four[3] - four[2]) * u);
    north + (south - north) * v
}

/// Totality over a block: second and third contact of each cell, seconds after an epoch, NaN outside the path.
pub(super) struct Totality {
    shape: RasterShape,
    epoch: Tt,
    c2_s: Vec<f32>,
    c3_s: Vec<f32>,
}

impl Totality {
    pub(super) fn over(eclipse: &Eclipse, shape: &RasterShape, heights: &Heights) -> Totality {
        let solver = BatchSolver::new(eclipse);
        let lattice = Lattice::over(shape, CONTACT_STEP_DEG);
        let nodes = lattice.rows * lattice.columns;
        let (lats, lons): (Vec<f64>, Vec<f64>) = (0..nodes).map(|n| lattice.place(shape, n)).unzip();
        let at = |height: f64| local(&solver, &lats, &lons, &vec![height; nodes]);
        let (low, high) = (at(heights.low), at(heights.high));
        let epoch = low.as_ref().map_or(Tt(0.0), |l| l.epoch);
        let (columns, rows) = (shape.columns as usize, shape.rows as usize);
        let mut totality = Totality {
            shape: *shape,
            epoch,
            c2_s: filled(f32::NAN, columns * rows),
            c3_s: filled(f32::NAN, columns * rows),
        };
        // Places of a lattice are places; without them nothing is in the path.
        let (Some(low), Some(high)) = (low, high) else { return totality };
        let lines = totality.c2_s.par_chunks_mut(columns).zip(totality.c3_s.par_chunks_mut(columns));
        lines.enumerate().for_each(|(row, (c2, c3))| {
            let mut own: Vec<usize> = Vec::new();
            let crossed = Crossed::all(&low, &high, &lattice, row);
            for column in 0..columns {
                let (node, _, u) = lattice.share(0, column);
                let (west, east) = (&crossed[node], &crossed[node + 1]);
                if west.total && east.total {
                    let share = (heights.at(row * columns + column) - heights.low) / (heights.high - heights.low);
                    let of = |west: [f64; 2], east: [f64; 2]| {
                        let [low, high] = [0, 1].map(|i| west[i] + (east[i] - west[i]) * u);
                        (low + (high - low) * share) as f32
                    };
                    (c2[column], c3[column]) = (of(west.c2_s, east.c2_s), of(west.c3_s, east.c3_s));
                } else if west.magnitude.max(east.magnitude) > SURELY_OUTSIDE {
                    own.push(column);
                }
            }
            let lat = (shape.north_deg - row as f64 * shape.lat_step_deg).clamp(-90.0, 90.0);
            let lons: Vec<f64> =
                own.iter().map(|&c| half_turn(shape.west_deg + c as f64 * shape.lon_step_deg)).collect();
            let ground: Vec<f64> = own.iter().map(|&c| heights.at(row * columns + c)).collect();
            let Some(found) = local(&solver, &vec![lat; own.len()], &lons, &ground) else { return };
            for (i, &column) in own.iter().enumerate().filter(|&(i, _)| found.phase[i] == Phase::Total) {
                (c2[column], c3[column]) = (found.c2.after_epoch_s[i] as f32, found.c3.after_epoch_s[i] as f32);
            }
        });
        totality
    }

    /// Cells that see totality.
    pub(super) fn cells(&self) -> u64 {
        self.c2_s.par_iter().filter(|c| c.is_finite()).count() as u64
    }

    /// Of those, cells without a height; they are marked.
    pub(super) fn without_height(&self, ground_m: &[f32], state: &mut [NodeState]) -> u64 {
        let in_path = self.c2_s.par_iter().zip(ground_m).zip(state).filter(|((c, _), _)| c.is_finite());
        let without = in_path.map(|((_, h), state)| {
            // What has a height is told apart when its margin is known.
            *state = if h.is_nan() { NodeState::NoHeight } else { NodeState::NoSkyline };
            u64::from(h.is_nan())
        });
        without.sum()
    }

    /// From the first second to the last third contact.
    pub(super) fn span(&self) -> Option<(Tt, Tt)> {
        let from = self.c2_s.par_iter().copied().reduce(|| f32::INFINITY, f32::min);
        let to = self.c3_s.par_iter().copied().reduce(|| f32::NEG_INFINITY, f32::max);
        // A second more on either side: contacts are kept to a millisecond.
        (from <= to).then(|| (self.epoch.plus(f64::from(from) - 1.0), self.epoch.plus(f64::from(to) + 1.0)))
    }

    /// Begins to gather margins, in a sweep's order of cells.
    pub(super) fn gather(
        self,
        beyond_s: Option<f64>,
        highest_m: f32,
        ray: &RayOptions,
        layout: Layout,
        ground_m: &[f32],
    ) -> Gathered {
        let (rows, columns) = layout.size();
        let width = self.shape.columns as usize;
        let mut cells = filled(Cell::NOTHING, rows * columns);
        cells.par_chunks_mut(BAND * columns).enumerate().for_each(|(band, cells)| {
            let first = band * BAND;
            layout.visit(first..first + cells.len() / columns, |(row, column), north_up| {
                let at = north_up.0 * width + north_up.1;
                if ground_m[at].is_finite() {
                    let cell = &mut cells[(row - first) * columns + column];
                    (cell.c2_s, cell.c3_s) = (self.c2_s[at], self.c3_s[at]);
                }
            });
        });
        Gathered {
            shape: self.shape,
            epoch: self.epoch,
            layout,
            times: if beyond_s.is_some() { filled(Times::NOTHING, cells.len()) } else { Vec::new() },
            doubtful: vec![false; cells.len()],
            cells,
            before_s: f32::NAN,
            beyond_s,
            highest_m,
            reach_m: (ray.farthest_km * 980.0) as f32,
            sink: ((1.0 - ray.refraction_coefficient) / (2.0 * 6_371_000.0)) as f32,
        }
    }
}

/// Where a row of cells crosses a column of the lattice's nodes: what lies between the node north of it and the one south.
struct Crossed {
    /// Whether both see totality, at the lowest and at the highest ground.
    total: bool,
    /// The greatest magnitude that one of them sees.
    magnitude: f64,
    /// Contacts at the lowest and at the highest ground, seconds after the epoch.
    c2_s: [f64; 2],
    c3_s: [f64; 2],
}

impl Crossed {
    fn all(low: &LocalBatch, high: &LocalBatch, lattice: &Lattice, row: usize) -> Vec<Crossed> {
        let (first, v, _) = lattice.share(row, 0);
        let at = |column: usize| {
            let (north, south) = (first + column, first + column + lattice.columns);
            let heights = [low, high];
            let between = |of: fn(&LocalBatch) -> &[f64]| {
                heights.map(|l| {
                    let instants = of(l);
                    instants[north] + (instants[south] - instants[north]) * v
                })
            };
            Crossed {
                total: heights.iter().all(|l| l.phase[north] == Phase::Total && l.phase[south] == Phase::Total),
                magnitude: heights
                    .iter()
                    .fold(0.0, |most: f64, l| most.max(l.magnitude[north]).max(l.magnitude[south])),
                c2_s: between(|l| &l.c2.after_epoch_s),
                c3_s: between(|l| &l.c3.after_epoch_s),
            }
        };
        (0..lattice.columns).map(at).collect()
    }
}

/// Circumstances of places; `None` when a row is no place.
fn local(solver: &BatchSolver<'_>, lat_deg: &[f64], lon_deg: &[f64], elevation_m: &[f64]) -> Option<LocalBatch> {
    solver.local(SiteBatch { lat_deg, lon_deg, elevation_m }).ok()
}

/// What is known of a cell so far. There are millions of them.
#[derive(Clone, Copy, Debug)]
struct Cell {
    /// NaN where there is nothing to gather.
    c2_s: f32,
    c3_s: f32,
    /// Margin at the instant before, degrees.
    before: f32,
    /// Least margin in totality so far: infinite before one was taken, NaN from where one was not known.
    least: f32,
}

impl Cell {
    const NOTHING: Cell = Cell { c2_s: f32::NAN, c3_s: f32::NAN, before: f32::NAN, least: f32::INFINITY };

    /// Takes a margin in totality. Once unknown, always unknown.
    #[inline]
    fn lower(&mut self, margin: f32) {
        let keep = self.least.is_nan() || margin >= self.least;
        self.least = if keep { self.least } else { margin };
    }
}

/// When a cell loses the Sun and gains it, seconds from mid-totality; NaN where it does not.
#[derive(Clone, Copy, Debug)]
struct Times {
    lost_s: f32,
    gained_s: f32,
    began_hidden: bool,
}

impl Times {
    const NOTHING: Times = Times { lost_s: f32::NAN, gained_s: f32::NAN, began_hidden: false };
}

/// Margins gathered from instant to instant.
pub(super) struct Gathered {
    shape: RasterShape,
    epoch: Tt,
    layout: Layout,
    cells: Vec<Cell>,
    /// Which of the cells look over ground that is not known.
    doubtful: Vec<bool>,
    /// Those of the cells; empty where they are not asked for.
    times: Vec<Times>,
    before_s: f32,
    beyond_s: Option<f64>,
    highest_m: f32,
    reach_m: f32,
    sink: f32,
}

impl Gathered {
    /// Takes the skylines of an instant; instants come in order. The ground is that of the block, north up.
    pub(super) fn take(&mut self, eclipse: &Eclipse, tt: Tt, skylines: &Skylines, ground_m: &[f32]) {
        const KNOT: usize = 16;
        let now_s = (tt - self.epoch) as f32;
        let lattice = Lattice::over(&self.shape, SUN_STEP_DEG);
        let altitudes: Vec<f64> = (0..lattice.rows * lattice.columns)
            .into_par_iter()
            .map(|node| {
                let (lat, lon) = lattice.place(&self.shape, node);
                let site = Site::at_sea_level(noonfall_ephemeris::GeoPoint { lat_deg: lat, lon_deg: lon });
                eclipse.view(&site, tt).sun_apparent_altitude_deg
            })
            .collect();
        let altitude = |row: usize, column: usize| {
            let (row, column) = self.layout.north_up(row, column);
            let (node, v, u) = lattice.share(row, column);
            let four = [node, node + 1, node + lattice.columns, node + lattice.columns + 1];
            blend(four.map(|n| altitudes[n]), v, u) as f32
        };
        let ground = |row: usize, column: usize| {
            let (row, column) = self.layout.north_up(row, column);
            ground_m[row * self.shape.columns as usize + column]
        };
        let (_, columns) = self.layout.size();
        let instant = Instant {
            now_s,
            before_s: self.before_s,
            beyond_s: self.beyond_s.map(|b| b as f32),
            highest_m: self.highest_m,
            reach_m: self.reach_m,
            sink: self.sink,
        };
        let skylines = skylines.slope.par_chunks(columns).zip(skylines.unknown_m.par_chunks(columns));
        // A row's times, or none.
        let mut times: Vec<&mut [Times]> = self.times.chunks_mut(columns).collect();
        times.resize_with(self.cells.len() / columns, Default::default);
        let cells = self.cells.par_chunks_mut(columns).zip(self.doubtful.par_chunks_mut(columns));
        cells.zip(times).zip(skylines).enumerate().for_each(
            |(row, (((cells, doubtful), times), (slopes, unknown)))| {
                for first in (0..columns).step_by(KNOT) {
                    let last = (first + KNOT).min(columns - 1);
                    let (from, to) = (altitude(row, first), altitude(row, last));
                    let [rise_from, rise_to] = [from, to].map(|altitude| altitude.to_radians().tan());
                    let per_column = if last > first { 1.0 / (last - first) as f32 } else { 0.0 };
                    for column in first..(first + KNOT).min(columns) {
                        if cells[column].c2_s.is_nan() {
                            continue;
                        }
                        let part = per_column * (column - first) as f32;
                        let sun = (from + (to - from) * part, rise_from + (rise_to - rise_from) * part);
                        let cell = &mut cells[column];
                        let before = cell.before;
                        instant.put(cell, sun.0, slopes[column]);
                        if !doubtful[column] {
                            doubtful[column] = instant.doubts(cell, sun.1, unknown[column], || ground(row, column));
                        }
                        if let Some(times) = times.get_mut(column) {
                            instant.put_times(times, cell, before);
                        }
                    }
                }
            },
        );
        self.before_s = now_s;
    }

    /// Lays the result out north up.
    pub(super) fn finish(self, block: &mut SunlitBlock) {
        let width = self.shape.columns as usize;
        let (_, columns) = self.layout.size();
        let band = BAND * width;
        // Made late: what the sweeps needed is gone by now.
        block.margin_deg = filled(f32::NAN, block.state.len());
        let bands = block.margin_deg.par_chunks_mut(band).zip(block.state.par_chunks_mut(band)).enumerate();
        let counts = bands.map(|(band, (margins, states))| {
            let (mut counts, first) = ((0, 0), band * BAND);
            self.layout.visit_north_up(first..first + margins.len() / width, |(row, column), swept| {
                let place = swept.0 * columns + swept.1;
                let cell = &self.cells[place];
                if cell.c2_s.is_nan() {
                    return;
                }
                let at = (row - first) * width + column;
                if cell.least.is_finite() {
                    margins[at] = cell.least;
                }
                states[at] = match (cell.least.is_finite(), self.doubtful[place]) {
                    (false, _) => NodeState::NoSkyline,
                    (true, true) => NodeState::Doubtful,
                    (true, false) => NodeState::Known,
                };
                counts.0 += u64::from(states[at] == NodeState::NoSkyline);
                counts.1 += u64::from(states[at] == NodeState::Doubtful);
            });
            counts
        });
        let (without, doubtful) = counts.reduce(|| (0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
        block.without_skyline += without;
        block.doubtful += doubtful;
        if self.beyond_s.is_some() {
            let nodes = block.state.len();
            let times = |of: fn(&Times) -> f32| -> Vec<f32> {
                let swept = |at: usize| self.layout.of_north_up(at / width, at % width);
                let at = |(row, column): (usize, usize)| of(&self.times[row * columns + column]);
                (0..nodes).into_par_iter().map(|node| at(swept(node))).collect()
            };
            (block.lost_s, block.gained_s) = (times(|t| t.lost_s), times(|t| t.gained_s));
        }
    }
}

/// An instant and the one before.
struct Instant {
    now_s: f32,
    before_s: f32,
    beyond_s: Option<f32>,
    highest_m: f32,
    reach_m: f32,
    sink: f32,
}

impl Instant {
    /// A margin between the instant before and this one.
    #[inline]
    fn between(&self, before: f32, now: f32, s: f32) -> f32 {
        before + (now - before) * ((s - self.before_s) / (self.now_s - self.before_s))
    }

    /// Takes a cell's skyline; of the Sun its altitude, degrees.
    #[inline]
    fn put(&self, cell: &mut Cell, altitude_deg: f32, slope: f32) {
        // Where no ground at all is known towards the Sun there is no skyline.
        let now = if slope == f32::NEG_INFINITY { f32::NAN } else { altitude_deg - slope.atan().to_degrees() };
        let (before, before_s, now_s) = (cell.before, self.before_s, self.now_s);
        if before_s < cell.c2_s && cell.c2_s <= now_s {
            cell.lower(self.between(before, now, cell.c2_s));
        }
        if before_s < cell.c3_s && cell.c3_s <= now_s {
            cell.lower(self.between(before, now, cell.c3_s));
        }
        if cell.c2_s <= now_s && now_s <= cell.c3_s {
            cell.lower(now);
        }
        cell.before = now;
    }

    /// Whether a cell looks over ground without heights that would reach the Sun if it stood as high as the highest: of the Sun the
    /// slope of a line to it. Few cells ask for the height of their own ground.
    #[inline]
    fn doubts(&self, cell: &Cell, rise: f32, unknown_m: f32, ground_m: impl Fn() -> f32) -> bool {
        let near = self.now_s >= cell.c2_s - 90.0 && self.now_s <= cell.c3_s + 90.0;
        let d = unknown_m.max(0.0);
        unknown_m < self.reach_m && near && ground_m() + d * rise + d * d * self.sink < self.highest_m
    }

    /// Takes when the Sun is lost and gained between the instant before, with the margin of then, and this one.
    fn put_times(&self, times: &mut Times, cell: &Cell, before: f32) {
        let Some(beyond) = self.beyond_s.filter(|_| !self.before_s.is_nan()) else { return };
        let window = (cell.c2_s - beyond, cell.c3_s + beyond);
        let (a, b) = (self.before_s.max(window.0), self.now_s.min(window.1));
        if a < b {
            let [from, to] = [a, b].map(|s| self.between(before, cell.before, s));
            if a == window.0 {
                times.began_hidden = from <= 0.0;
            }
            let crossed = a + (b - a) * (from / (from - to)) - (cell.c2_s + cell.c3_s) / 2.0;
            if from > 0.0 && to <= 0.0 && times.lost_s.is_nan() {
                times.lost_s = crossed;
            }
            if from <= 0.0 && to > 0.0 && times.gained_s.is_nan() && times.began_hidden {
                times.gained_s = crossed;
            }
        }
    }
}
