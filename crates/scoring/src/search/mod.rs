//! The search of the whole path: a grid at any spacing over land or a polygon, streamed, the best places kept apart.
//!
//! The Earth is cut into tiles of about 28 km. Tiles that cannot touch the path are dropped: the local magnitude at a
//! tile's centre tells how far the path is. The rest are scanned row by row, in parallel over strips of latitude; of each
//! tile only its best point is kept, so memory does not grow with the grid.
//!
//! The best places at least D km apart are then taken greedily, as if all points had been sorted by score: when a tile's
//! best point turns out to lie too close to a place already taken, the tile is scanned again for its best remaining one.
//! Points lie on a fixed lattice and every choice is by score and then by place, so the result does not depend on threads.
//!
//! What takes its time, the Moon's true edge and the skyline over terrain, is asked of few points: a tile first says what
//! none of its points can surpass. The most promising are then swept by [`crate::outlook::sunlit`], which brings that down to
//! what the ground leaves, and only those that could still hold the best point are asked for the truth.
//!
//! | file | what |
//! | --- | --- |
//! | `tiles.rs` | the tiles that may hold a point of the path |
//! | `area.rs` | land, polygon, water |
//! | `ground.rs` | height, slope and skyline of a point |
//! | `edge.rs` | the Moon's true edge |
//! | `clear_lattice.rs` | the chance of a clear sky over a tile |
//! | `point_score.rs` | the score of a point, and the best it can be |
//! | `scan.rs` | the points of one tile |
//! | `told.rs` | what the search did, in words; names of the places found |

mod area;
mod clear_lattice;
mod edge;
mod ground;
mod point_score;
mod scan;
mod tiles;
mod told;

#[cfg(test)]
mod tests;

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::Eclipse;
use rayon::prelude::*;

use self::scan::{Asked, Counts, Scan};
use self::tiles::{Tile, tiles_near_path};
use crate::clouds::Clouds;
use crate::input::roads::Roads;
use crate::input::terrain::TerrainError;
use crate::outlook::band_outlook::Bands;
use crate::plan::Requirement;
use crate::progress::Progress;
use crate::score::Scorer;

pub use self::area::Area;
pub use self::edge::SearchEdge;
pub use self::ground::{SearchGround, slope_deg};
pub use self::point_score::{can_score, left_out};
pub use self::tiles::NearPath;
pub use self::told::{name, note, nothing_found};

/// Kilometres of a degree of latitude on the mean sphere.
const KM_PER_DEG: f64 = 111.195;
/// A distance on the mean sphere exceeds that on the ellipsoid by at most this factor.
const SPHERE_EXCESS: f64 = 1.006;
/// So many tiles are asked more closely before the best of them is looked at.
const TILES_AT_ONCE: usize = 16;

/// What a search works with.
#[derive(Clone, Copy)]
pub struct Search<'a> {
    /// The eclipse.
    pub eclipse: &'a Eclipse,
    /// The Moon's true edge; `None` for the smooth Moon.
    pub edge: Option<SearchEdge<'a>>,
    /// How points are scored. Criteria that only a sites table can give are left out, and the margin without terrain.
    pub scorer: &'a Scorer,
    /// Hard requirements; those on columns are left out, and those on the margin without terrain.
    pub requirements: &'a [Requirement],
    /// Cloud files.
    pub clouds: &'a Clouds,
    /// Shadow bands under the plan's haze and over its ground.
    pub bands: &'a Bands,
    /// Where to search.
    pub area: Area<'a>,
    /// The ground; without it all points lie at sea level under a level horizon.
    pub ground: Option<SearchGround<'a>>,
    /// Roads to keep near to.
    pub roads: Option<&'a Roads>,
    /// Distance between neighbouring points, km.
    pub spacing_km: f64,
    /// How many places to keep.
    pub best: usize,
    /// Least distance between kept places, km.
    pub apart_km: f64,
}

/// A place that the search found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// Where.
    pub point: GeoPoint,
    /// Height of the ground, m; 0 without terrain.
    pub elevation_m: f64,
    /// Score by the criteria that a grid point has.
    pub score: f64,
    /// Seconds of totality.
    pub totality_s: f64,
    /// Airless altitude of the Sun at maximum, degrees.
    pub sun_altitude_deg: f64,
    /// Probability of a clear line of sight, where the criteria ask for it.
    pub clear_sky: Option<f64>,
    /// Outlook for shadow bands, where the scorer asks for it.
    pub shadow_bands: Option<f64>,
    /// Least height of the Sun above the skyline in totality, degrees, where there is terrain.
    pub horizon_margin_deg: Option<f64>,
}

/// How many points were left out, and why.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Dropped {
    /// Near the path, in the area, at sea.
    pub sea: u64,
    /// Near the path, in the area, on lakes.
    pub lakes: u64,
    /// In the path, too far from every road.
    pub far_from_roads: u64,
    /// In the path, where the terrain has no height.
    pub no_terrain: u64,
    /// In the path, too steep.
    pub steep: u64,
    /// In the path, with the Sun behind the skyline in totality, or more. Of those asked only: a point that could not be among the
    /// best even with a free horizon is not.
    pub hidden: u64,
    /// How many were asked for their skyline.
    pub skylines: u64,
}

impl Dropped {
    fn add(&mut self, more: &Dropped) {
        self.sea += more.sea;
        self.lakes += more.lakes;
        self.far_from_roads += more.far_from_roads;
        self.no_terrain += more.no_terrain;
        self.steep += more.steep;
        self.hidden += more.hidden;
        self.skylines += more.skylines;
    }
}

/// What the search did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outcome {
    /// The best places, best first.
    pub found: Vec<Found>,
    /// Points of the area's dry ground in tiles near the path.
    pub points: u64,
    /// Of those, in totality with the Sun up.
    pub in_path: u64,
    /// Of those, with all figures and meeting the requirements, as far as that is known without edge and skyline.
    pub eligible: u64,
    /// Points left out.
    pub dropped: Dropped,
}

/// The search was stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("stopped")]
pub struct Stopped;

/// Why a search has no outcome.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SearchError {
    /// The listener wanted to stop.
    #[error(transparent)]
    Stopped(#[from] Stopped),
    /// An elevation file cannot be read.
    #[error(transparent)]
    Terrain(#[from] TerrainError),
}

/// A tile's best point.
#[derive(Clone, Copy, Debug)]
struct TileBest {
    tile: Tile,
    found: Found,
}

impl TileBest {
    fn key(&self) -> (f64, f64, f64) {
        (self.found.score, -self.found.point.lat_deg, -self.found.point.lon_deg)
    }
}

impl PartialEq for TileBest {
    fn eq(&self, other: &TileBest) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for TileBest {}
impl PartialOrd for TileBest {
    fn partial_cmp(&self, other: &TileBest) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for TileBest {
    fn cmp(&self, other: &TileBest) -> Ordering {
        let (a, b) = (self.key(), other.key());
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2))
    }
}

/// What a tile may hold, by what was asked of it: its best point once that is the truth, a bound of its score before.
#[derive(Clone, Copy)]
struct Hope {
    best: TileBest,
    asked: Asked,
}

impl PartialEq for Hope {
    fn eq(&self, other: &Hope) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Hope {}
impl PartialOrd for Hope {
    fn partial_cmp(&self, other: &Hope) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Hope {
    /// Among equal scores what is less known comes first: a point is taken once nothing can be better.
    fn cmp(&self, other: &Hope) -> Ordering {
        let scores = self.best.found.score.total_cmp(&other.best.found.score);
        scores.then(other.asked.cmp(&self.asked)).then(self.best.cmp(&other.best))
    }
}

/// Searches the whole path.
///
/// # Errors
/// [`SearchError`] when the listener wants to stop, or an elevation file cannot be read.
pub fn search(search: &Search<'_>, progress: &dyn Progress) -> Result<Outcome, SearchError> {
    let scan = Scan::new(search);
    let tiles = tiles_near_path(search.eclipse, progress)?;
    let strips: Vec<&[Tile]> = tiles.chunk_by(|a, b| a.strip == b.strip).collect();
    progress.begin("Searching the path", tiles.len() as u64);
    let scanned: Vec<(Vec<Hope>, Counts)> = strips
        .par_iter()
        .map(|strip| {
            if progress.cancelled() {
                return Err(Stopped.into());
            }
            let rows = scan.rows(strip[0].strip);
            let mut counts = Counts::default();
            let mut bests = Vec::new();
            for tile in *strip {
                bests.extend(scan.hope(tile, &rows, &[], Some(&mut counts))?);
            }
            progress.advance(strip.len() as u64);
            Ok((bests, counts))
        })
        .collect::<Result<_, SearchError>>()?;
    let mut heap = BinaryHeap::new();
    let mut counts = Counts::default();
    for (bests, of_strip) in scanned {
        heap.extend(bests);
        counts.add(&of_strip);
    }
    let found = best_apart(&scan, heap, progress)?;
    let mut dropped = counts.dropped;
    if let Some(skylines) = &scan.skylines {
        (dropped.skylines, dropped.hidden) = skylines.tally();
    }
    Ok(Outcome { found, points: counts.points, in_path: counts.in_path, eligible: counts.eligible, dropped })
}

/// Takes the best places that lie far enough from each other.
fn best_apart(scan: &Scan<'_>, mut heap: BinaryHeap<Hope>, progress: &dyn Progress) -> Result<Vec<Found>, SearchError> {
    let search = scan.search;
    let mut found = Vec::new();
    while let Some(Hope { best, asked }) = heap.pop() {
        if found.len() >= search.best {
            break;
        }
        if progress.cancelled() {
            return Err(Stopped.into());
        }
        if asked != Asked::Truth {
            // The most promising tiles are asked more closely, some at a time: how many does not depend on the threads.
            let mut tiles = vec![best.tile];
            while tiles.len() < TILES_AT_ONCE && heap.peek().is_some_and(|next| next.asked == asked) {
                tiles.extend(heap.pop().map(|next| next.best.tile));
            }
            // Neighbours look over the same ground, which is then read once.
            tiles.sort_by(|a, b| a.strip.cmp(&b.strip).then(a.west.total_cmp(&b.west)));
            let asked = scan.closer_than(asked);
            let closer = |tile: &Tile| scan.tile(tile, &scan.rows(tile.strip), &found, asked, None);
            let bests = tiles.par_iter().map(closer).collect::<Result<Vec<_>, SearchError>>()?;
            heap.extend(bests.into_iter().flatten().map(|best| Hope { best, asked }));
            continue;
        }
        // A tile that lies too close may hold another point that is far enough from all places taken so far; at no
        // distance apart the tile of a place taken may hold the next best point.
        if !too_close(&found, best.found.point, search.apart_km) {
            found.push(best.found);
        }
        let rows = scan.rows(best.tile.strip);
        heap.extend(scan.hope(&best.tile, &rows, &found, None)?);
    }
    Ok(found)
}

/// Whether a point is one of the places taken or nearer than `apart_km` to one.
fn too_close(taken: &[Found], point: GeoPoint, apart_km: f64) -> bool {
    taken.iter().any(|t| t.point == point || sphere_km(t.point, point) < apart_km * SPHERE_EXCESS)
}

/// Distance on the mean sphere (haversine).
fn sphere_km(a: GeoPoint, b: GeoPoint) -> f64 {
    let half = |x: f64| (x.to_radians() / 2.0).sin();
    let (u, v) = (half(b.lat_deg - a.lat_deg), half(b.lon_deg - a.lon_deg));
    let h = u * u + a.lat_deg.to_radians().cos() * b.lat_deg.to_radians().cos() * v * v;
    2.0 * 6371.009 * h.sqrt().min(1.0).asin()
}
