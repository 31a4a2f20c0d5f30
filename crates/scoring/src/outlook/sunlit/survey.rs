//! The sunlit ground of a whole area, block by block: what is found is handed on and forgotten, what is kept are sums and a thinned
//! grid for a picture.

use std::ops::Range;

use noonfall_shadow::Eclipse;
use rayon::prelude::*;

use super::area::Area;
pub use super::grid::{Grid, MOST_NODES};
use super::grid::{metres_a_degree, picked};
use super::{NodeState, SunlitBlock, SunlitOptions, sunlit_block};
use crate::fault::{Fault, Faults};
use crate::input::terrain::{RasterShape, Terrain, TerrainError, Told};
use crate::progress::Progress;

/// Nodes on a side of the thinned grid.
const THINNED: u32 = 1000;
/// A margin below this is called thin, degrees, as in a ranking.
pub const THIN_DEG: f64 = 1.0;

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The area; without one the terrain's part in the path.
    pub area: Option<Area>,
    /// From node to node, m; without it the terrain's own samples. Of a grid coarser than those a node gets what is found at the nearest
    /// sample, at most an eighth of the spacing or half a sample away.
    pub spacing_m: Option<f64>,
    /// How it is looked for.
    pub options: SunlitOptions,
    /// Nodes in a row and column of what is handed on: blocks begin at multiples of it where nodes are the terrain's samples.
    pub multiple: u32,
}

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum SurveyError {
    /// Something is wrong with what was asked or with the terrain.
    #[error(transparent)]
    Faults(#[from] Faults),
    /// An elevation file that opened well cannot be read.
    #[error(transparent)]
    Terrain(#[from] TerrainError),
    /// What was found could not be written.
    #[error("what was found could not be written: {0}")]
    Write(#[from] std::io::Error),
    /// The listener wanted to stop.
    #[error("stopped before the end; nothing was written")]
    Stopped,
}

impl From<Fault> for SurveyError {
    fn from(fault: Fault) -> SurveyError {
        SurveyError::Faults(fault.into())
    }
}

/// A rectangle of nodes, handed on.
#[derive(Debug)]
pub struct Piece<'a> {
    /// Its first column and row in the grid.
    pub column: u32,
    /// First row.
    pub row: u32,
    /// Nodes in a row.
    pub columns: u32,
    /// Margins, degrees, as [`SunlitBlock::margin_deg`].
    pub margin_deg: &'a [f32],
    /// As [`SunlitBlock::lost_s`]; empty where not asked.
    pub lost_s: &'a [f32],
    /// As [`SunlitBlock::gained_s`]; empty where not asked.
    pub gained_s: &'a [f32],
}

/// Nodes of one kind: how many, and the ground they stand for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ground {
    /// Nodes.
    pub nodes: u64,
    /// Square kilometres.
    pub km2: f64,
}

/// What was found over an area, in figures.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// All nodes.
    pub all: Ground,
    /// Nodes that see totality, terrain or not.
    pub in_path: Ground,
    /// Nodes where the Sun's centre stands [`THIN_DEG`] or more above the skyline all through totality.
    pub clear: Ground,
    /// The same, but by less.
    pub thin: Ground,
    /// Nodes where it is behind the skyline for a part of totality or all of it.
    pub hidden: Ground,
    /// Nodes without a height: outside the files, or in a void.
    pub without_height: Ground,
    /// Nodes with a height that see no ground towards the Sun: at the edge of the files.
    pub without_skyline: Ground,
    /// Nodes of clear and thin margins that look over ground without heights: it might hide the Sun.
    pub doubtful: Ground,
    /// Nodes where the Sun is lost in the time that was asked for, and where it is gained.
    pub lost: Ground,
    /// Nodes where it is gained.
    pub gained: Ground,
    /// The least and the greatest margin, degrees.
    pub margins_deg: Option<(f32, f32)>,
    /// How often the skyline was cast, over all blocks, and the cells of terrain that were passed.
    pub sweeps: u64,
    /// Cells that were passed.
    pub swept_cells: u64,
}

/// Every so manieth node, for a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Thinned {
    /// Where the nodes lie.
    pub shape: RasterShape,
    /// Margins, degrees; NaN where none is known.
    pub margin_deg: Vec<f32>,
    /// Heights, m; NaN where there are none.
    pub ground_m: Vec<f32>,
    /// What is known.
    pub state: Vec<NodeState>,
    every: u32,
}

impl Thinned {
    fn over(shape: &RasterShape) -> Thinned {
        let every = shape.columns.max(shape.rows).div_ceil(THINNED).max(1);
        let thin = RasterShape {
            lon_step_deg: shape.lon_step_deg * f64::from(every),
            lat_step_deg: shape.lat_step_deg * f64::from(every),
            columns: (shape.columns - 1) / every + 1,
            rows: (shape.rows - 1) / every + 1,
            ..*shape
        };
        let count = thin.columns as usize * thin.rows as usize;
        Thinned {
            shape: thin,
            margin_deg: vec![f32::NAN; count],
            ground_m: vec![f32::NAN; count],
            state: vec![NodeState::OutsidePath; count],
            every,
        }
    }

    /// Of some columns of a row those that are kept, as places from the first of them, and where.
    fn kept(&self, row: u32, columns: Range<u32>) -> impl Iterator<Item = (usize, usize)> + use<> {
        let (every, first) = (self.every, columns.start);
        let line = (row / every) as usize * self.shape.columns as usize;
        let kept = first.next_multiple_of(every)..if row.is_multiple_of(every) { columns.end } else { 0 };
        kept.step_by(every as usize).map(move |column| ((column - first) as usize, line + (column / every) as usize))
    }
}

/// What was found over an area.
#[derive(Clone, Debug)]
pub struct Survey {
    /// The grid.
    pub grid: Grid,
    /// What was asked.
    pub question: Question,
    /// Figures.
    pub found: Found,
    /// For a picture.
    pub thinned: Thinned,
    /// What is to be said of the terrain.
    pub terrain: Told,
    /// What is doubtful about the answer.
    pub warnings: Vec<String>,
}

/// Looks at an area block by block and hands each on. Memory does not grow with the area.
///
/// # Errors
/// [`SurveyError`]: as [`Grid::of`]; no node in the path, or none with a margin; a file that cannot be read; what `hand_on` says.
pub fn survey(
    eclipse: &Eclipse,
    terrain: &Terrain,
    grid: Grid,
    question: &Question,
    progress: &dyn Progress,
    mut hand_on: impl FnMut(&Piece) -> std::io::Result<()>,
) -> Result<Survey, SurveyError> {
    let parts = grid.blocks(terrain, question.multiple);
    progress.begin("Looking towards the Sun", parts.len() as u64);
    let (mut found, mut thinned) = (Found::default(), Thinned::over(&grid.shape));
    for (column, row, part) in parts {
        if progress.cancelled() {
            return Err(SurveyError::Stopped);
        }
        let rows = picked(grid.shape.rows, |r| grid.swept_row(r), row, row + part.rows);
        let columns = picked(grid.shape.columns, |c| grid.swept_column(c), column, column + part.columns);
        // Of a coarse grid a block may hold no node.
        if rows.is_empty() || columns.is_empty() {
            progress.advance(1);
            continue;
        }
        let block = sunlit_block(terrain, eclipse, &part, &question.options)?;
        let kept = Kept::of(&grid, (row, column), (rows, columns), block);
        kept.count(&grid, &mut found, &mut thinned);
        hand_on(&Piece {
            column: kept.column,
            row: kept.row,
            columns: kept.block.shape.columns,
            margin_deg: &kept.block.margin_deg,
            lost_s: &kept.block.lost_s,
            gained_s: &kept.block.gained_s,
        })?;
        progress.advance(1);
    }
    let area = grid.area();
    if found.in_path.nodes == 0 {
        let wrong = format!("no node of the area ({}) sees totality on {}", area.words(), eclipse.date());
        return Err(Fault::of_file("--area", wrong, "give an area in the path").into());
    }
    if found.margins_deg.is_none() {
        let wrong = format!(
            "nowhere in the path is there ground with a skyline ({}): of {} nodes {} have no height (outside the files, or voids), and {} see no \
             ground towards the Sun",
            terrain.source(),
            found.in_path.nodes,
            found.without_height.nodes,
            found.without_skyline.nodes
        );
        let right = "give elevation files that cover the area and the ground towards the Sun";
        return Err(Fault::of_file("--terrain", wrong, right).into());
    }
    let warnings = doubts(&found, &grid);
    Ok(Survey { grid, question: question.clone(), found, thinned, terrain: terrain.told(), warnings })
}

/// What is not known of the area, in words.
fn doubts(found: &Found, grid: &Grid) -> Vec<String> {
    let mut doubts = Vec::new();
    let share = |g: &Ground| match 100.0 * g.km2 / found.in_path.km2 {
        little if little < 0.1 => "less than 0.1".to_owned(),
        percent => format!("{percent:.1}"),
    };
    if found.without_height.nodes > 0 {
        doubts.push(format!(
            "{} % of the area's part of the path has no height (no file, or a void): it is left without a value, never taken as level.",
            share(&found.without_height)
        ));
    }
    if found.without_skyline.nodes > 0 {
        doubts.push(format!(
            "{} % of it lies at the edge of the files, without ground towards the Sun: left without a value.",
            share(&found.without_skyline)
        ));
    }
    if found.doubtful.nodes > 0 {
        doubts.push(format!(
            "From {} % of it the line to the Sun runs over ground without heights (beyond the files, or voids) that would hide the Sun if it \
             were as high as the highest around. The value there is that of the known ground: the Sun may stand lower above the true skyline.",
            share(&found.doubtful)
        ));
    }
    if grid.spacing_m().0 < 0.7 * grid.sample_m() {
        doubts.push(format!(
            "The spacing is finer than the terrain's {:.0} m: between its samples the ground is taken as straight.",
            grid.sample_m()
        ));
    }
    doubts
}

/// A block's nodes that belong to the grid.
struct Kept {
    column: u32,
    row: u32,
    block: SunlitBlock,
}

impl Kept {
    /// The nodes of a block that begins at a row and column of what is swept.
    fn of(grid: &Grid, begin: (u32, u32), nodes: (Range<u32>, Range<u32>), block: SunlitBlock) -> Kept {
        let (row, column) = (nodes.0.start, nodes.1.start);
        if grid.sweeps_nodes() {
            return Kept { column, row, block };
        }
        let shape = block.shape;
        let rows: Vec<usize> = nodes.0.map(|r| (grid.swept_row(r) - begin.0) as usize).collect();
        let columns: Vec<usize> = nodes.1.map(|c| (grid.swept_column(c) - begin.1) as usize).collect();
        let width = shape.columns as usize;
        fn pick<T: Copy>(all: &[T], rows: &[usize], columns: &[usize], width: usize) -> Vec<T> {
            if all.is_empty() {
                return Vec::new();
            }
            rows.iter().flat_map(|r| columns.iter().map(move |c| all[r * width + c])).collect()
        }
        let block = SunlitBlock {
            shape: RasterShape { columns: columns.len() as u32, rows: rows.len() as u32, ..grid.shape },
            margin_deg: pick(&block.margin_deg, &rows, &columns, width),
            ground_m: pick(&block.ground_m, &rows, &columns, width),
            lost_s: pick(&block.lost_s, &rows, &columns, width),
            gained_s: pick(&block.gained_s, &rows, &columns, width),
            state: pick(&block.state, &rows, &columns, width),
            ..block
        };
        Kept { column, row, block }
    }

    fn count(&self, grid: &Grid, found: &mut Found, thinned: &mut Thinned) {
        let block = &self.block;
        let columns = block.shape.columns as usize;
        found.sweeps += u64::from(block.sweeps);
        found.swept_cells += u64::from(block.sweeps) * block.swept_cells;
        let rows = block.state.par_chunks(columns.max(1)).enumerate();
        let counts = rows.map(|(line, states)| {
            let from = line * columns;
            let in_row = |of: &[f32]| of.get(from..from + columns).map_or(0, finite);
            let mut counts =
                RowCounts { lost: in_row(&block.lost_s), gained: in_row(&block.gained_s), ..RowCounts::default() };
            states.iter().zip(&block.margin_deg[from..]).for_each(|(&state, &margin)| counts.take(state, margin));
            counts
        });
        // Squares are added up in one order, whatever thread counted.
        for (line, counts) in counts.collect::<Vec<RowCounts>>().into_iter().enumerate() {
            let row = self.row + line as u32;
            let metres = metres_a_degree(grid.shape.north_deg - f64::from(row) * grid.shape.lat_step_deg);
            let km2 = metres.0 * grid.shape.lat_step_deg * metres.1 * grid.shape.lon_step_deg * 1e-6;
            counts.add_to(found, columns as u64, km2);
            for (at, kept) in thinned.kept(row, self.column..self.column + columns as u32) {
                let at = line * columns + at;
                thinned.margin_deg[kept] = block.margin_deg[at];
                thinned.ground_m[kept] = block.ground_m[at];
                thinned.state[kept] = block.state[at];
            }
        }
    }
}

/// How many are numbers.
fn finite(values: &[f32]) -> u64 {
    values.iter().filter(|v| v.is_finite()).count() as u64
}

/// A row's counts: all its nodes stand for the same ground.
#[derive(Default)]
struct RowCounts {
    of: [u64; 6],
    doubtful: u64,
    lost: u64,
    gained: u64,
    margins: Option<(f32, f32)>,
}

impl RowCounts {
    #[inline]
    fn take(&mut self, state: NodeState, margin: f32) {
        let kind = match state {
            NodeState::OutsidePath => 0,
            NodeState::NoHeight => 1,
            NodeState::NoSkyline => 2,
            NodeState::Known | NodeState::Doubtful => {
                let (low, high) = self.margins.unwrap_or((margin, margin));
                self.margins = Some((low.min(margin), high.max(margin)));
                // Ground that is not known can only hide a Sun that stands free.
                self.doubtful += u64::from(state == NodeState::Doubtful && margin >= 0.0);
                if f64::from(margin) >= THIN_DEG {
                    3
                } else if margin >= 0.0 {
                    4
                } else {
                    5
                }
            }
        };
        self.of[kind] += 1;
    }

    fn add_to(self, found: &mut Found, nodes: u64, km2: f64) {
        let add = |ground: &mut Ground, nodes: u64| {
            ground.nodes += nodes;
            ground.km2 += nodes as f64 * km2;
        };
        add(&mut found.all, nodes);
        add(&mut found.in_path, nodes - self.of[0]);
        add(&mut found.without_height, self.of[1]);
        add(&mut found.without_skyline, self.of[2]);
        add(&mut found.clear, self.of[3]);
        add(&mut found.thin, self.of[4]);
        add(&mut found.hidden, self.of[5]);
        add(&mut found.doubtful, self.doubtful);
        add(&mut found.lost, self.lost);
        add(&mut found.gained, self.gained);
        found.margins_deg = match (found.margins_deg, self.margins) {
            (Some(a), Some(b)) => Some((a.0.min(b.0), a.1.max(b.1))),
            (a, b) => a.or(b),
        };
    }
}
