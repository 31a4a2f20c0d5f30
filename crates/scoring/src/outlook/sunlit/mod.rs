//! The sunlit ground: how high the Sun stands above the skyline from second to third contact, for every cell of a grid at once.
//!
//! - `pencil`: the sight lines of one instant as planes through one line;
//! - `field`: heights laid out so that rays come from earlier rows;
//! - `sweep`: the skyline of all cells in one pass;
//! - `totality`: second and third contact and the Sun's altitude between them, from cell to cell;
//! - [`area`], `grid`, [`survey`]: the area that is asked for, its nodes, and all of it block by block.
//!
//! [`sunlit_block`] answers for a grid of up to a few million cells; larger areas are cut into [`blocks`], so that memory does not grow
//! with them. What a cell gets is what [`super::skyline::Skyline::from_terrain`] gives a single place: the apparent altitude of the
//! Sun's centre less the skyline's as seen, with the Earth's curvature, terrestrial refraction and the eye's height.
//!
//! Two differences, for speed. The skyline is cast at a few instants, so far apart that the Sun moves less than [`SUN_STEP_DEG`], and
//! the margin runs straight between them: a spire narrower than that may be missed. And contacts are those of the smooth Moon.

pub mod area;
mod field;
mod grid;
mod pencil;
pub mod survey;
mod sweep;
mod totality;

use noonfall_ephemeris::Tt;
use noonfall_shadow::{Eclipse, Site};
use rayon::prelude::*;

use self::field::{Facing, Field, Layout, Nodes};
use self::pencil::Centre;
use self::sweep::Sweep;
use self::totality::{Heights, Totality};
use crate::input::terrain::ground::Ground;
use crate::input::terrain::{RasterShape, Terrain, TerrainError};
use crate::outlook::skyline::RayOptions;

/// The Sun moves at most this far in azimuth and altitude between two casts of the skyline, degrees.
pub const SUN_STEP_DEG: f64 = 0.4;
/// Cells of the terrain on a side of a block that [`blocks`] cuts.
pub const BLOCK_CELLS: u32 = 2048;
/// A grid coarser than the terrain is looked at in at most this many steps from node to node.
const MOST_STEPS: f64 = 8.0;
/// Sweeps of one block, at most.
const MOST_SWEEPS: f64 = 400.0;

/// How the sunlit ground is looked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SunlitOptions {
    /// Eye, refraction and the farthest ground.
    pub ray: RayOptions,
    /// How long before second and after third contact it is asked when the Sun is gained or lost, minutes; `None` to leave it.
    pub beyond_totality_min: Option<f64>,
    /// When the skyline is cast.
    pub casts: Casts,
}

impl Default for SunlitOptions {
    /// The usual ray, totality only, all through it.
    fn default() -> SunlitOptions {
        SunlitOptions { ray: RayOptions::default(), beyond_totality_min: None, casts: Casts::Throughout }
    }
}

/// When the skyline is cast.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Casts {
    /// Through all of totality, and what is asked beyond it: margins are the least.
    #[default]
    Throughout,
    /// Once, at maximum in the middle of the grid, which costs a third: margins are those of that instant, which the least cannot
    /// surpass; nodes that do not see totality then have none.
    Once,
}

/// What is known of a node.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum NodeState {
    /// It sees no totality.
    #[default]
    OutsidePath,
    /// The terrain has no height there: outside the files, or a void.
    NoHeight,
    /// It has a height, but no ground at all is known towards the Sun: it lies at the edge of the files.
    NoSkyline,
    /// It has a margin, but looks over ground without heights, near enough that ground as high as the highest around would reach the
    /// Sun.
    Doubtful,
    /// It has a margin.
    Known,
}

/// The sunlit ground over a grid, north up, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct SunlitBlock {
    /// Where the nodes lie.
    pub shape: RasterShape,
    /// The least height of the Sun's centre above the skyline from second to third contact, degrees; negative where it is hidden.
    /// NaN outside the path, and where the terrain has no height. Of [`Casts::Once`] the height at that instant.
    pub margin_deg: Vec<f32>,
    /// Height of the ground, m; NaN where the terrain has none.
    pub ground_m: Vec<f32>,
    /// Seconds from mid-totality at which the Sun's centre, seen before, goes behind the skyline; NaN where it does not in the span
    /// asked. Empty when not asked.
    pub lost_s: Vec<f32>,
    /// The same for when it comes out, hidden at the span's beginning.
    pub gained_s: Vec<f32>,
    /// What is known of each node.
    pub state: Vec<NodeState>,
    /// Nodes that see totality, terrain or not.
    pub in_path: u64,
    /// Of those, nodes without a height: outside the terrain's files, or in a void.
    pub without_height: u64,
    /// Nodes with a height from which no ground at all is known towards the Sun: at the edge of the files. They have no margin.
    pub without_skyline: u64,
    /// Nodes with a margin that towards the Sun look over ground without heights, near enough that ground as high as the highest
    /// around would reach the Sun. Their margin is that of the known ground.
    pub doubtful: u64,
    /// How often the skyline was cast.
    pub sweeps: u32,
    /// Cells of the terrain that each cast passed, margins included.
    pub swept_cells: u64,
}

/// The sunlit ground over a grid of nodes, of up to a few million cells of the terrain ([`blocks`] cuts larger ones).
///
/// The grid may be coarser than the terrain: heights then stand at the nodes, and rays run over the terrain between them. Nodes of a
/// grid finer than the terrain take heights between the samples. Where a coarse grid's nodes lie between samples the ground is smoothed
/// twice, and rough ground close by stands too low: [`survey`] asks at samples only. For single scattered places [`super::skyline::Horizons`] is quicker.
/// Work is spread over the threads of the current pool; the result does not depend on their number.
///
/// # Units
/// `shape` in degrees, as [`RasterShape`]; the result in degrees, metres and seconds.
/// # Errors
/// [`TerrainError::Unreadable`] when a file cannot be read. Missing files and voids are NaN, and counted.
pub fn sunlit_block(
    terrain: &Terrain,
    eclipse: &Eclipse,
    shape: &RasterShape,
    options: &SunlitOptions,
) -> Result<SunlitBlock, TerrainError> {
    let count = shape.columns as usize * shape.rows as usize;
    let mut block = SunlitBlock {
        shape: *shape,
        margin_deg: Vec::new(),
        ground_m: Vec::new(),
        lost_s: Vec::new(),
        gained_s: Vec::new(),
        state: filled(NodeState::OutsidePath, count),
        in_path: 0,
        without_height: 0,
        without_skyline: 0,
        doubtful: 0,
        sweeps: 0,
        swept_cells: 0,
    };
    block.ground_m = ground(terrain, shape)?;
    let totality = Totality::over(eclipse, shape, &Heights::of(&block.ground_m));
    block.in_path = totality.cells();
    block.without_height = totality.without_height(&block.ground_m, &mut block.state);
    let Some(span) = totality.span().filter(|_| block.without_height < block.in_path) else {
        block.margin_deg = filled(f32::NAN, count);
        return Ok(block);
    };
    let beyond_s = options.beyond_totality_min.map(|m| if m.is_finite() { m.clamp(0.0, 240.0) * 60.0 } else { 0.0 });
    let (steps, nodes) = nodes(terrain, shape);
    let (lat, lon) = middle(shape);
    let site = Site::at_sea_level(noonfall_ephemeris::GeoPoint { lat_deg: lat, lon_deg: lon });
    let instants = match options.casts {
        Casts::Throughout => instants(eclipse, &site, span, beyond_s.unwrap_or(0.0)),
        Casts::Once => vec![eclipse.quick(&site).max],
    };
    let centre = Centre::of(lat, lon);
    let views: Vec<_> = instants.iter().map(|&tt| eclipse.view(&site, tt)).collect();
    let facing = Facing::of(views[views.len() / 2].sun_azimuth_deg);
    let layout = Layout::new(&nodes, facing);
    let asked = Layout::new(&as_nodes(shape, 1.0), facing);
    let pencils: Vec<_> = views.iter().map(|v| centre.pencil(v.sun_azimuth_deg, v.sun_altitude_deg)).collect();
    let slants = pencils
        .iter()
        .map(|p| layout.slant(&centre, p))
        .fold((f64::INFINITY, f64::NEG_INFINITY), |s, x| (s.0.min(x), s.1.max(x)));
    let ray = &options.ray;
    let fields = Field::around(terrain, &nodes, facing, &centre, slants, ray.farthest_km * 1000.0)?;
    let highest_m = fields.iter().map(Field::highest_m).fold(f32::NEG_INFINITY, f32::max);
    block.swept_cells = fields.iter().map(|f| f.heights.len() as u64).sum();
    let mut gathered = totality.gather(beyond_s, highest_m, ray, asked, &block.ground_m);
    for (&tt, pencil) in instants.iter().zip(&pencils) {
        let skylines = Sweep {
            fields: &fields,
            pencil: *pencil,
            size: layout.size(),
            every: steps,
            eye_height_m: ray.eye_height_m,
            refraction_coefficient: ray.refraction_coefficient,
            nearest_m: (nodes.lat_step_deg * 111_000.0).clamp(0.5, 5000.0),
        }
        .run();
        gathered.take(eclipse, tt, &skylines, &block.ground_m);
        block.sweeps += 1;
    }
    gathered.finish(&mut block);
    Ok(block)
}

/// Cuts a grid into blocks that [`sunlit_block`] is quick with, row by row from the north-west: at most [`BLOCK_CELLS`] cells of the
/// terrain on a side, and a whole multiple of `multiple` nodes but for the last.
pub fn blocks(terrain: &Terrain, shape: &RasterShape, multiple: u32) -> Vec<(u32, u32, RasterShape)> {
    let (steps, _) = nodes(terrain, shape);
    let multiple = multiple.max(1);
    let side = (BLOCK_CELLS / steps as u32 / multiple).max(1) * multiple;
    let mut blocks = Vec::new();
    for row in (0..shape.rows).step_by(side as usize) {
        for column in (0..shape.columns).step_by(side as usize) {
            let part = RasterShape {
                west_deg: shape.west_deg + f64::from(column) * shape.lon_step_deg,
                north_deg: shape.north_deg - f64::from(row) * shape.lat_step_deg,
                columns: side.min(shape.columns - column),
                rows: side.min(shape.rows - row),
                ..*shape
            };
            blocks.push((column, row, part));
        }
    }
    blocks
}

fn middle(shape: &RasterShape) -> (f64, f64) {
    (
        shape.north_deg - f64::from(shape.rows - 1) * shape.lat_step_deg / 2.0,
        shape.west_deg + f64::from(shape.columns - 1) * shape.lon_step_deg / 2.0,
    )
}

/// The nodes in steps as fine as the terrain's, and how many of them lie from node to node.
fn nodes(terrain: &Terrain, shape: &RasterShape) -> (usize, Nodes) {
    let south = shape.north_deg - f64::from(shape.rows - 1) * shape.lat_step_deg;
    let east = shape.west_deg + f64::from(shape.columns - 1) * shape.lon_step_deg;
    let native = terrain.steps_in_deg(shape.west_deg, south, east, shape.north_deg);
    let steps = native.map_or(1.0, |(lat, lon)| {
        (shape.lat_step_deg / lat).min(shape.lon_step_deg / lon).round().clamp(1.0, MOST_STEPS)
    });
    (steps as usize, as_nodes(shape, steps))
}

fn as_nodes(shape: &RasterShape, steps: f64) -> Nodes {
    Nodes {
        west_deg: shape.west_deg,
        north_deg: shape.north_deg,
        lat_step_deg: shape.lat_step_deg / steps,
        lon_step_deg: shape.lon_step_deg / steps,
        rows: (shape.rows as usize - 1) * steps as usize + 1,
        columns: (shape.columns as usize - 1) * steps as usize + 1,
    }
}

/// So many equal values, first touched on all threads: fresh memory costs more than what is written there.
fn filled<T: Copy + Send + Sync>(value: T, count: usize) -> Vec<T> {
    (0..count).into_par_iter().with_min_len(1 << 16).map(|_| value).collect()
}

/// Heights at the nodes.
fn ground(terrain: &Terrain, shape: &RasterShape) -> Result<Vec<f32>, TerrainError> {
    let columns = shape.columns as usize;
    let mut heights = filled(f32::NAN, columns * shape.rows as usize);
    heights.par_chunks_mut(columns.max(1)).enumerate().try_for_each(|(row, line)| {
        let first = (shape.north_deg - row as f64 * shape.lat_step_deg, shape.west_deg);
        Ground::default().line(terrain, first, (0.0, shape.lon_step_deg), columns, |k, height| line[k] = height)
    })?;
    Ok(heights)
}

/// When the skyline is cast: over the span, the Sun moving little from one to the next.
fn instants(eclipse: &Eclipse, middle: &Site, span: (Tt, Tt), beyond_s: f64) -> Vec<Tt> {
    let (from, to) = (span.0.plus(-beyond_s), span.1.plus(beyond_s));
    let (a, b) = (eclipse.view(middle, span.0), eclipse.view(middle, span.0.plus(60.0)));
    let turn = ((b.sun_azimuth_deg - a.sun_azimuth_deg + 540.0).rem_euclid(360.0) - 180.0).abs();
    // Near the zenith the azimuth runs, and no ground stands that high.
    let rate = turn.min(1.0).max((b.sun_altitude_deg - a.sun_altitude_deg).abs()) / 60.0;
    let parts = ((to - from) * rate / SUN_STEP_DEG).ceil().clamp(1.0, MOST_SWEEPS);
    (0..=parts as u32).map(|i| from.plus((to - from) * f64::from(i) / parts)).collect()
}

#[cfg(test)]
mod closed_forms;
#[cfg(test)]
mod tests;
