//! The sunlit ground of a whole area, block by block: what is found is handed on and forgotten, what is kept are sums and a thinned
//! grid for a picture.

use noonfall_shadow::{Eclipse, Kind};

use super::area::Area;
use super::{NodeState, SunlitBlock, SunlitOptions, blocks, sunlit_block};
use crate::fault::{Fault, Faults};
use crate::input::terrain::{RasterShape, Terrain, TerrainError, Told};
use crate::outlook::skyline::ray::{A_M, E2};
use crate::progress::Progress;

/// Nodes of an area at most.
pub const MOST_NODES: u64 = 4_000_000_000;
/// Nodes on a side of the thinned grid.
const THINNED: u32 = 1000;
/// Nodes are swept at most so many of the terrain's samples apart; a coarser grid takes every so manieth of them.
const SWEPT_STEPS: f64 = 8.0;
/// A margin below this is called thin, degrees, as in a ranking.
pub const THIN_DEG: f64 = 1.0;

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The area; without one the terrain's part in the path.
    pub area: Option<Area>,
    /// From node to node, m; without it the terrain's own samples.
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

/// The grid of an area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    /// Its nodes.
    pub shape: RasterShape,
    /// The nodes that are swept, `every` times as close.
    swept: RasterShape,
    every: u32,
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
        let (shape, every) = match question.spacing_m {
            None => (samples, 1),
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
                (shape, (steps / SWEPT_STEPS - 1e-6).ceil().clamp(1.0, 1e6) as u32)
            }
        };
        let (columns, rows) = (shape.columns, shape.rows);
        if columns < 2 || rows < 2 {
            let step_m = shape.lat_step_deg * 111_195.0;
            let wrong = format!("{columns} by {rows} nodes {step_m:.0} m apart are no grid ({})", area.words());
            return Err(Fault::of_file("--area", wrong, "give a larger area or a finer spacing").into());
        }
        let nodes = u64::from(columns) * u64::from(rows) * u64::from(every).pow(2);
        if nodes > MOST_NODES {
            let wrong = format!("{nodes} nodes are more than the {MOST_NODES} that are looked at");
            let right = "give a smaller --area, or a larger --spacing";
            return Err(Fault::of_file("--spacing", wrong, right).into());
        }
        let mut grid = Grid { shape, swept: shape, every, sample_deg: samples.lat_step_deg };
        // A last block of a single row or column is no grid: the row or column is left out.
        for _ in 0..2 {
            grid.swept = RasterShape {
                lon_step_deg: grid.shape.lon_step_deg / f64::from(every),
                lat_step_deg: grid.shape.lat_step_deg / f64::from(every),
                columns: (grid.shape.columns - 1) * every + 1,
                rows: (grid.shape.rows - 1) * every + 1,
                ..grid.shape
            };
            let Some((_, _, last)) = grid.blocks(terrain, question.multiple).pop() else { break };
            grid.shape.columns -= u32::from(last.columns < 2);
            grid.shape.rows -= u32::from(last.rows < 2);
            if last.columns >= 2 && last.rows >= 2 {
                break;
            }
        }
        Ok(grid)
    }

    fn blocks(&self, terrain: &Terrain, multiple: u32) -> Vec<(u32, u32, RasterShape)> {
        // Where nodes are left out the rest is a small grid: its pieces may begin anywhere.
        blocks(terrain, &self.swept, if self.every == 1 { multiple } else { 1 })
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

/// Metres of a degree of latitude and of longitude on the ellipsoid.
fn metres_a_degree(lat_deg: f64) -> (f64, f64) {
    let (sin, cos) = lat_deg.to_radians().sin_cos();
    let across = A_M / (1.0 - E2 * sin * sin).sqrt();
    let along = across * (1.0 - E2) / (1.0 - E2 * sin * sin);
    (along.to_radians(), (across * cos.max(1e-6)).to_radians())
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

    /// Where a node of the grid is kept.
    fn place(&self, column: u32, row: u32) -> Option<usize> {
        (column.is_multiple_of(self.every) && row.is_multiple_of(self.every))
            .then(|| (row / self.every) as usize * self.shape.columns as usize + (column / self.every) as usize)
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
        // Of a coarse grid a block may hold no node.
        let holds = |first: u32, count: u32| (first + count - 1) / grid.every >= first.div_ceil(grid.every);
        if !holds(column, part.columns) || !holds(row, part.rows) {
            progress.advance(1);
            continue;
        }
        let block = sunlit_block(terrain, eclipse, &part, &question.options)?;
        let kept = Kept::of(&grid, column, row, block);
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
    fn of(grid: &Grid, column: u32, row: u32, block: SunlitBlock) -> Kept {
        let every = grid.every;
        if every == 1 {
            return Kept { column, row, block };
        }
        let (first_column, first_row) = (column.div_ceil(every), row.div_ceil(every));
        let shape = block.shape;
        let columns: Vec<usize> =
            (0..shape.columns).filter(|c| (column + c).is_multiple_of(every)).map(|c| c as usize).collect();
        let rows: Vec<usize> =
            (0..shape.rows).filter(|r| (row + r).is_multiple_of(every)).map(|r| r as usize).collect();
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
        Kept { column: first_column, row: first_row, block }
    }

    fn count(&self, grid: &Grid, found: &mut Found, thinned: &mut Thinned) {
        let block = &self.block;
        let columns = block.shape.columns as usize;
        found.sweeps += u64::from(block.sweeps);
        found.swept_cells += u64::from(block.sweeps) * block.swept_cells;
        for (line, states) in block.state.chunks(columns.max(1)).enumerate() {
            let row = self.row + line as u32;
            let metres = metres_a_degree(grid.shape.north_deg - f64::from(row) * grid.shape.lat_step_deg);
            let km2 = metres.0 * grid.shape.lat_step_deg * metres.1 * grid.shape.lon_step_deg * 1e-6;
            let mut of_row = RowCounts::default();
            for (i, &state) in states.iter().enumerate() {
                let at = line * columns + i;
                let margin = block.margin_deg[at];
                of_row.take(state, margin);
                of_row.lost += u64::from(block.lost_s.get(at).is_some_and(|s| s.is_finite()));
                of_row.gained += u64::from(block.gained_s.get(at).is_some_and(|s| s.is_finite()));
                if let Some(kept) = thinned.place(self.column + i as u32, row) {
                    thinned.margin_deg[kept] = margin;
                    thinned.ground_m[kept] = block.ground_m[at];
                    thinned.state[kept] = state;
                }
            }
            of_row.add_to(found, states.len() as u64, km2);
        }
    }
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
