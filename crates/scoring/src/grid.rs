//! The search of the whole path: a grid at any spacing over land or a polygon, streamed, the best places kept apart.
//!
//! The Earth is cut into tiles of about 28 km. Tiles that cannot touch the path are dropped: the local magnitude at a
//! tile's centre tells how far the path is. The rest are scanned row by row, in parallel over strips of latitude; of each
//! tile only its best point is kept, so memory does not grow with the grid.
//!
//! The best places at least D km apart are then taken greedily, as if all points had been sorted by score: when a tile's
//! best point turns out to lie too close to a place already taken, the tile is scanned again for its best remaining one.
//! Points lie on a fixed lattice and every choice is by score and then by place, so the result does not depend on threads.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use noonfall_ephemeris::{GeoPoint, Tt};
use noonfall_shadow::batch::{BatchSolver, QuickBatch, SiteBatch};
use noonfall_shadow::moon_edge::{EdgeLattice, EdgeSettings};
use noonfall_shadow::{Eclipse, Phase, Site};
use rayon::prelude::*;

use crate::clouds::{Clouds, SolarTime};
use crate::criteria;
use crate::land::{Land, Region};
use crate::outlook::band_outlook::Bands;
use crate::outlook::cloud::CloudSeason;
use crate::plan::{Mean, Requirement};
use crate::progress::Progress;
use crate::score::Scorer;
use crate::utility::Curve;

/// Height of a tile, degrees; tiles are about as wide as high.
const TILE_DEG: f64 = 0.25;
/// Nodes of the cloud lattice along each side of a tile.
const NODES: usize = 3;
/// Kilometres of a degree of latitude on the mean sphere.
const KM_PER_DEG: f64 = 111.195;
/// The local magnitude changes by at most this much per kilometre on the ground: a step of one kilometre moves the Moon by
/// at most 1/356 000 of a radian (perigee) against a solar diameter of at least 0.009 15 (aphelion). A tenth is added.
const MAGNITUDE_PER_KM: f64 = 1.1 / (356_000.0 * 0.009_15);
/// A distance on the mean sphere exceeds that on the ellipsoid by at most this factor.
const SPHERE_EXCESS: f64 = 1.006;

/// Where to search.
#[derive(Clone, Copy, Debug)]
pub enum Ground<'a> {
    /// Dry land.
    Land(&'a Land),
    /// A region of the reader's.
    Region(&'a Region),
}

impl Ground<'_> {
    fn spans(&self, lat_deg: f64) -> Vec<(f64, f64)> {
        match self {
            Ground::Land(land) => land.spans(lat_deg),
            Ground::Region(region) => region.spans(lat_deg),
        }
    }
}

/// What a search works with.
#[derive(Clone, Copy)]
pub struct Search<'a> {
    /// The eclipse.
    pub eclipse: &'a Eclipse,
    /// The Moon's true edge; `None` for the smooth Moon.
    pub edge: Option<SearchEdge<'a>>,
    /// How points are scored. Criteria that only a sites table or terrain can give are left out.
    pub scorer: &'a Scorer,
    /// Hard requirements; those on columns or terrain are left out.
    pub requirements: &'a [Requirement],
    /// Cloud files.
    pub clouds: &'a Clouds,
    /// Shadow bands under the plan's haze and over its ground.
    pub bands: &'a Bands,
    /// Where to search.
    pub ground: Ground<'a>,
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
}

/// What the search did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outcome {
    /// The best places, best first.
    pub found: Vec<Found>,
    /// Points of the ground in tiles near the path.
    pub points: u64,
    /// Of those, in totality with the Sun up.
    pub in_path: u64,
    /// Of those, with all figures and meeting the requirements.
    pub eligible: u64,
}

/// The search was stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("stopped")]
pub struct Stopped;

/// A tile: a strip of latitude and a span of longitude.
#[derive(Clone, Copy, Debug)]
struct Tile {
    strip: usize,
    west: f64,
    east: f64,
}

impl Tile {
    fn south(&self) -> f64 {
        -90.0 + TILE_DEG * self.strip as f64
    }
}

/// A criterion as the grid computes it.
enum Kind {
    Totality,
    SunAltitude,
    ClearSky,
    ClearTotality,
    ShadowBands,
}

fn kind(name: &str) -> Option<Kind> {
    Some(match name {
        "totality" => Kind::Totality,
        "sun_altitude" => Kind::SunAltitude,
        "clear_sky" => Kind::ClearSky,
        "clear_totality" => Kind::ClearTotality,
        "shadow_bands" => Kind::ShadowBands,
        _ => return None,
    })
}

/// The names of weighted criteria that a grid point cannot have.
pub fn left_out(scorer: &Scorer) -> Vec<&str> {
    scorer.terms.iter().filter(|t| t.weight > 0.0 && kind(&t.name).is_none()).map(|t| t.name.as_str()).collect()
}

/// Plain numbers of a point.
#[derive(Clone, Copy)]
struct Point {
    totality_s: f64,
    sun_altitude_deg: f64,
    clear_sky: Option<f64>,
    shadow_bands: f64,
}

impl Kind {
    fn value(&self, p: &Point) -> Option<f64> {
        match self {
            Kind::Totality => Some(p.totality_s),
            Kind::SunAltitude => Some(p.sun_altitude_deg),
            Kind::ClearSky => p.clear_sky,
            Kind::ClearTotality => p.clear_sky.map(|c| c * p.totality_s),
            Kind::ShadowBands => Some(p.shadow_bands),
        }
    }

    fn needs_clouds(&self) -> bool {
        matches!(self, Kind::ClearSky | Kind::ClearTotality)
    }
}

/// The score of a point, by the terms that it has.
struct PointScorer<'a> {
    mean: Mean,
    terms: Vec<(Kind, &'a Curve, f64)>,
    total_weight: f64,
    requirements: Vec<(Kind, Option<f64>, Option<f64>)>,
}

impl<'a> PointScorer<'a> {
    fn new(search: &Search<'a>) -> PointScorer<'a> {
        let terms: Vec<_> = search
            .scorer
            .terms
            .iter()
            .filter(|t| t.weight > 0.0)
            .filter_map(|t| Some((kind(&t.name)?, &t.curve, t.weight)))
            .collect();
        let requirements =
            search.requirements.iter().filter_map(|r| Some((kind(&r.criterion)?, r.at_least, r.at_most))).collect();
        let total_weight = terms.iter().map(|t| t.2).sum();
        PointScorer { mean: search.scorer.mean, terms, total_weight, requirements }
    }

    fn needs(&self, wanted: impl Fn(&Kind) -> bool) -> bool {
        self.terms.iter().any(|t| wanted(&t.0)) || self.requirements.iter().any(|r| wanted(&r.0))
    }

    /// `None` where a requirement is not met or a figure is missing.
    fn score(&self, p: &Point) -> Option<f64> {
        for (kind, least, most) in &self.requirements {
            let value = kind.value(p)?;
            if least.is_some_and(|l| value < l) || most.is_some_and(|m| value > m) {
                return None;
            }
        }
        let mut sum = 0.0;
        for (kind, curve, weight) in &self.terms {
            let utility = curve.utility(kind.value(p)?);
            sum += weight
                * match self.mean {
                    Mean::Arithmetic => utility,
                    Mean::Geometric => utility.ln(),
                };
        }
        let mean = if self.total_weight > 0.0 { sum / self.total_weight } else { 0.0 };
        Some(match self.mean {
            Mean::Arithmetic => mean,
            Mean::Geometric => mean.exp(),
        })
    }
}

/// The days of the year around the eclipse, ready to be asked for clouds.
struct Seasons<'a> {
    days: Vec<((u32, u32), Vec<CloudSeason<'a>>)>,
}

impl<'a> Seasons<'a> {
    fn around(search: &Search<'a>) -> Seasons<'a> {
        let date = search.eclipse.date();
        let days = [-1, 0, 1].map(|shift| {
            use chrono::Datelike;
            let day = date + chrono::Duration::days(shift);
            let seasons =
                search.clouds.sources().iter().filter_map(|s| s.season(day.month(), day.day()).ok()).collect();
            ((day.month(), day.day()), seasons)
        });
        Seasons { days: days.into() }
    }

    /// The chance of a clear line of sight, from the first source that can answer.
    fn clear(&self, point: GeoPoint, at: SolarTime, sun_altitude_deg: f64) -> Option<f64> {
        let (_, seasons) = self.days.iter().find(|(day, _)| *day == (at.month, at.day))?;
        let query = at.query(point.lat_deg, point.lon_deg, sun_altitude_deg, None);
        seasons.iter().find_map(|s| s.figure(&query).ok()).map(|f| f.clear_line_of_sight)
    }
}

/// The chance of clear sky over a tile, interpolated between a few nodes.
struct ClearLattice {
    nodes: [[Option<f64>; NODES]; NODES],
}

impl ClearLattice {
    fn over(tile: &Tile, eclipse: &Eclipse, seasons: &Seasons<'_>) -> ClearLattice {
        let at = |low: f64, high: f64, k: usize| low + (high - low) * k as f64 / (NODES - 1) as f64;
        let mut nodes = [[None; NODES]; NODES];
        for (j, row) in nodes.iter_mut().enumerate() {
            for (i, node) in row.iter_mut().enumerate() {
                let lat_deg = at(tile.south(), tile.south() + TILE_DEG, j).clamp(-90.0, 90.0);
                let point = GeoPoint { lat_deg, lon_deg: at(tile.west, tile.east, i) };
                let q = eclipse.quick(&Site::at_sea_level(point));
                *node = seasons.clear(point, SolarTime::at(q.max, point.lon_deg), q.sun_altitude_deg);
            }
        }
        ClearLattice { nodes }
    }

    /// Bilinear; `None` where one of the four nodes has no figure.
    fn clear(&self, tile: &Tile, lat: f64, lon: f64) -> Option<f64> {
        let place = |x: f64, low: f64, width: f64| {
            let at = ((x - low) / width).clamp(0.0, 1.0) * (NODES - 1) as f64;
            let k = (at.floor() as usize).min(NODES - 2);
            (k, at - k as f64)
        };
        let (j, v) = place(lat, tile.south(), TILE_DEG);
        let (i, u) = place(lon, tile.west, tile.east - tile.west);
        let n = &self.nodes;
        let south = n[j][i]? * (1.0 - u) + n[j][i + 1]? * u;
        let north = n[j + 1][i]? * (1.0 - u) + n[j + 1][i + 1]? * u;
        Some(south * (1.0 - v) + north * v)
    }
}

/// Points that are evaluated together at most, but for the rest of a row.
const BATCH_POINTS: usize = 4096;

/// Some rows of a tile, structure of arrays.
struct Batch {
    lat_deg: Vec<f64>,
    lon_deg: Vec<f64>,
    /// All at sea level.
    elevation_m: Vec<f64>,
    seen: QuickBatch,
}

impl Batch {
    fn new(epoch: Tt) -> Batch {
        Batch { lat_deg: Vec::new(), lon_deg: Vec::new(), elevation_m: Vec::new(), seen: QuickBatch::empty(epoch) }
    }

    fn clear(&mut self) {
        self.lat_deg.clear();
        self.lon_deg.clear();
    }

    /// What every point sees. Points of the lattice are places, so a batch of them is never refused.
    fn evaluate(&mut self, solver: &BatchSolver<'_>) -> bool {
        self.elevation_m.resize(self.lon_deg.len(), 0.0);
        let sites = SiteBatch { lat_deg: &self.lat_deg, lon_deg: &self.lon_deg, elevation_m: &self.elevation_m };
        solver.quick_into(sites, &mut self.seen).is_ok()
    }

    /// Seconds of totality and the Sun's altitude of a point; `None` without totality or with the Sun down.
    fn totality(&self, k: usize) -> Option<(f64, f64)> {
        let (totality_s, altitude_deg) = (self.seen.duration_s[k], self.seen.sun_altitude_deg[k]);
        let seen = self.seen.phase[k] == Phase::Total && totality_s > 0.0 && altitude_deg > 0.0;
        seen.then_some((totality_s, altitude_deg))
    }

    fn max(&self, k: usize) -> Tt {
        self.seen.epoch.plus(self.seen.max_after_epoch_s[k])
    }
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

/// So many tiles are asked what the edge makes of them before the best of them is looked at.
const TILES_AT_ONCE: usize = 16;

/// What a scan with the Moon's true edge asks of a point.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Asked {
    /// The score that no edge can surpass: soon answered.
    Bound,
    /// The score itself.
    Edge,
}

/// What a tile may hold: its best point once that is known, a bound of its score before.
#[derive(Clone, Copy)]
struct Hope {
    best: TileBest,
    known: bool,
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
    /// Among equal scores what is not known yet comes first: a point is taken once nothing can be better.
    fn cmp(&self, other: &Hope) -> Ordering {
        let scores = self.best.found.score.total_cmp(&other.best.found.score);
        scores.then(other.known.cmp(&self.known)).then(self.best.cmp(&other.best))
    }
}

/// What the scan of one tile needs.
struct Scan<'a> {
    search: &'a Search<'a>,
    scorer: PointScorer<'a>,
    solver: BatchSolver<'a>,
    seasons: Seasons<'a>,
    needs_clouds: bool,
    needs_bands: bool,
}

/// The Moon's true edge for the points of a search.
#[derive(Clone, Copy)]
pub struct SearchEdge<'a> {
    /// Profiles of the edge.
    pub lattice: &'a EdgeLattice,
    /// The Sun's radius that belongs with it.
    pub settings: EdgeSettings,
}

/// How much longer, and how much shorter, totality at the true edge may be than the smooth Moon's, seconds: over 70 places
/// of 21 eclipses it was −12 to +3 s (reports/accuracy.md).
const EDGE_GAINS_S: f64 = 8.0;
const EDGE_TAKES_S: f64 = 20.0;

impl SearchEdge<'_> {
    /// Seconds of totality at the true edge of a point at sea level; `None` where it leaves none.
    fn totality_s(&self, point: GeoPoint) -> Option<f64> {
        self.lattice.totality(&Site::at_sea_level(point), &self.settings).map(|t| t.duration_s)
    }

    /// The best score that the edge could make of a smooth totality, second by second.
    fn best_hope(&self, smooth_s: f64, score: impl Fn(f64) -> Option<f64>) -> f64 {
        let least = (smooth_s - EDGE_TAKES_S).max(0.0);
        let seconds = (smooth_s + EDGE_GAINS_S - least).ceil() as u32;
        let at = |k: u32| (least + f64::from(k)).min(smooth_s + EDGE_GAINS_S);
        (0..=seconds).filter_map(|k| score(at(k))).fold(f64::NEG_INFINITY, f64::max)
    }
}

/// Counts of points.
#[derive(Clone, Copy, Default)]
struct Counts {
    points: u64,
    in_path: u64,
    eligible: u64,
}

/// The rows of a strip: latitude and spans of ground.
type Rows = Vec<(f64, Vec<(f64, f64)>)>;

/// Searches the whole path.
///
/// # Errors
/// [`Stopped`] when the listener wants to stop.
pub fn search(search: &Search<'_>, progress: &dyn Progress) -> Result<Outcome, Stopped> {
    let scorer = PointScorer::new(search);
    let needs_clouds = scorer.needs(Kind::needs_clouds);
    let needs_bands = scorer.needs(|k| matches!(k, Kind::ShadowBands));
    let solver = BatchSolver::new(search.eclipse);
    let scan = Scan { search, scorer, solver, seasons: Seasons::around(search), needs_clouds, needs_bands };
    let tiles = tiles_near_path(search.eclipse, progress)?;
    let mut strips: Vec<&[Tile]> = tiles.chunk_by(|a, b| a.strip == b.strip).collect();
    strips.retain(|s| !s.is_empty());
    progress.begin("Searching the path", tiles.len() as u64);
    let scanned: Vec<(Vec<Hope>, Counts)> = strips
        .par_iter()
        .map(|strip| {
            if progress.cancelled() {
                return Err(Stopped);
            }
            let rows = scan.rows(strip[0].strip);
            let mut counts = Counts::default();
            let bests = strip.iter().filter_map(|tile| scan.hope(tile, &rows, &[], Some(&mut counts))).collect();
            progress.advance(strip.len() as u64);
            Ok((bests, counts))
        })
        .collect::<Result<_, Stopped>>()?;
    let mut outcome = Outcome::default();
    let mut heap = BinaryHeap::new();
    for (bests, counts) in scanned {
        heap.extend(bests);
        outcome.points += counts.points;
        outcome.in_path += counts.in_path;
        outcome.eligible += counts.eligible;
    }
    while let Some(Hope { best, known }) = heap.pop() {
        if outcome.found.len() >= search.best {
            break;
        }
        if progress.cancelled() {
            return Err(Stopped);
        }
        if !known {
            // What the edge makes of the most promising tiles, some at a time: how many does not depend on the threads.
            let mut tiles = vec![best.tile];
            while tiles.len() < TILES_AT_ONCE && heap.peek().is_some_and(|next| !next.known) {
                tiles.extend(heap.pop().map(|next| next.best.tile));
            }
            let taken = &outcome.found;
            let exact = |tile: &Tile| scan.tile(tile, &scan.rows(tile.strip), taken, Asked::Edge, None);
            let bests: Vec<TileBest> = tiles.par_iter().filter_map(exact).collect();
            heap.extend(bests.into_iter().map(|best| Hope { best, known: true }));
            continue;
        }
        if too_close(&outcome.found, best.found.point, search.apart_km) {
            // The tile may hold another point that is far enough from all places taken so far.
            let rows = scan.rows(best.tile.strip);
            heap.extend(scan.hope(&best.tile, &rows, &outcome.found, None));
        } else {
            outcome.found.push(best.found);
            // At no distance apart the same tile may hold the next best point.
            let rows = scan.rows(best.tile.strip);
            heap.extend(scan.hope(&best.tile, &rows, &outcome.found, None));
        }
    }
    Ok(outcome)
}

impl Scan<'_> {
    /// Rows of the lattice in a strip.
    fn rows(&self, strip: usize) -> Rows {
        let step = self.search.spacing_km / KM_PER_DEG;
        let south = -90.0 + TILE_DEG * strip as f64;
        // Rows lie at (j + 1/2) steps north of the south pole.
        let first = ((south + 90.0) / step - 0.5).ceil().max(0.0) as u64;
        let last = ((south + TILE_DEG + 90.0) / step - 0.5).ceil().max(0.0) as u64;
        (first..last)
            .map(|j| -90.0 + (j as f64 + 0.5) * step)
            .filter(|lat| *lat < 90.0)
            .map(|lat| (lat, self.search.ground.spans(lat)))
            .collect()
    }

    /// What a tile may hold at best, far enough from the places taken: its best point, or with the Moon's true edge, which
    /// takes longer to ask, a point and a score that none of its points can surpass.
    fn hope(&self, tile: &Tile, rows: &Rows, taken: &[Found], counts: Option<&mut Counts>) -> Option<Hope> {
        let known = self.search.edge.is_none();
        let asked = if known { Asked::Edge } else { Asked::Bound };
        Some(Hope { best: self.tile(tile, rows, taken, asked, counts)?, known })
    }

    /// The best point of a tile that is far enough from the places taken.
    fn tile(
        &self,
        tile: &Tile,
        rows: &Rows,
        taken: &[Found],
        asked: Asked,
        mut counts: Option<&mut Counts>,
    ) -> Option<TileBest> {
        let mut work = TileWork {
            tile,
            taken,
            asked,
            batch: Batch::new(self.search.eclipse.elements().epoch()),
            lattice: None,
            best: None,
        };
        for (lat, spans) in rows {
            let step = self.search.spacing_km / (KM_PER_DEG * lat.to_radians().cos()).max(1e-6);
            for &(west, east) in spans {
                let (west, east) = (west.max(tile.west), east.min(tile.east));
                if west < east {
                    // Points lie at (k + 1/2) steps east of the meridian of 180°.
                    let first = ((west + 180.0) / step - 0.5).ceil().max(0.0) as u64;
                    let last = ((east + 180.0) / step - 0.5).ceil().max(0.0) as u64;
                    let lons = (first..last).map(|k| -180.0 + (k as f64 + 0.5) * step).filter(|l| *l < 180.0);
                    work.batch.lon_deg.extend(lons);
                    work.batch.lat_deg.resize(work.batch.lon_deg.len(), *lat);
                }
            }
            if work.batch.lon_deg.len() >= BATCH_POINTS {
                self.weigh(&mut work, counts.as_deref_mut());
            }
        }
        self.weigh(&mut work, counts);
        work.best
    }

    /// Scores the points of a batch, keeps the best, and empties the batch.
    fn weigh(&self, work: &mut TileWork<'_>, counts: Option<&mut Counts>) {
        if work.batch.lon_deg.is_empty() {
            return;
        }
        let eclipse = self.search.eclipse;
        if !work.batch.evaluate(&self.solver) {
            return;
        }
        let mut seen = Counts { points: work.batch.lon_deg.len() as u64, ..Counts::default() };
        for k in 0..work.batch.lon_deg.len() {
            let Some((totality_s, sun_altitude_deg)) = work.batch.totality(k) else { continue };
            seen.in_path += 1;
            let point = GeoPoint { lat_deg: work.batch.lat_deg[k], lon_deg: work.batch.lon_deg[k] };
            let clear_sky = if self.needs_clouds {
                let tile = work.tile;
                let lattice = work.lattice.get_or_insert_with(|| ClearLattice::over(tile, eclipse, &self.seasons));
                lattice.clear(tile, point.lat_deg, point.lon_deg)
            } else {
                None
            };
            let shadow_bands = if self.needs_bands {
                self.search.bands.at(eclipse, &Site::at_sea_level(point), work.batch.max(k))
            } else {
                0.0
            };
            let with =
                |totality_s: f64| self.scorer.score(&Point { totality_s, sun_altitude_deg, clear_sky, shadow_bands });
            let Some(score) = with(totality_s) else { continue };
            seen.eligible += 1;
            let (totality_s, score) = match &self.search.edge {
                None => (totality_s, score),
                Some(edge) if work.asked == Asked::Bound => (totality_s, edge.best_hope(totality_s, with)),
                // The edge is asked only where it could make the point the tile's best.
                Some(edge) => {
                    let hopeless = |best: &TileBest| edge.best_hope(totality_s, with) < best.found.score;
                    if work.best.as_ref().is_some_and(hopeless) {
                        continue;
                    }
                    let Some(true_s) = edge.totality_s(point) else { continue };
                    let Some(score) = with(true_s) else { continue };
                    (true_s, score)
                }
            };
            if work.best.as_ref().is_some_and(|b| score < b.found.score) {
                continue;
            }
            let shadow_bands = self.needs_bands.then_some(shadow_bands);
            let found = Found { point, score, totality_s, sun_altitude_deg, clear_sky, shadow_bands };
            let candidate = TileBest { tile: *work.tile, found };
            if work.best.as_ref().is_none_or(|b| candidate > *b) && !too_close(work.taken, point, self.search.apart_km)
            {
                work.best = Some(candidate);
            }
        }
        if let Some(counts) = counts {
            counts.points += seen.points;
            counts.in_path += seen.in_path;
            counts.eligible += seen.eligible;
        }
        work.batch.clear();
    }
}

/// One tile while it is scanned.
struct TileWork<'a> {
    tile: &'a Tile,
    taken: &'a [Found],
    asked: Asked,
    batch: Batch,
    lattice: Option<ClearLattice>,
    best: Option<TileBest>,
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

/// All tiles that may touch the path, by strip and then from west to east: found from coarse blocks to fine tiles.
fn tiles_near_path(eclipse: &Eclipse, progress: &dyn Progress) -> Result<Vec<Tile>, Stopped> {
    /// How many tiles high the blocks of each level are.
    const LEVELS: [usize; 3] = [16, 4, 1];
    let mut blocks: Vec<(usize, f64, f64)> = (0..(180.0 / TILE_DEG) as usize / LEVELS[0])
        .flat_map(|s| columns(s * LEVELS[0], LEVELS[0], -180.0, 180.0))
        .collect();
    for (level, &height) in LEVELS.iter().enumerate() {
        if progress.cancelled() {
            return Err(Stopped);
        }
        let kept: Vec<(usize, f64, f64)> = blocks
            .into_par_iter()
            .filter(|&(strip, west, east)| near_path(eclipse, strip, height, west, east))
            .collect();
        blocks = match LEVELS.get(level + 1) {
            Some(&next) => kept
                .into_iter()
                .flat_map(|(strip, west, east)| {
                    (0..height / next).flat_map(move |s| columns(strip + s * next, next, west, east))
                })
                .collect(),
            None => kept,
        };
    }
    let mut tiles: Vec<Tile> = blocks.into_iter().map(|(strip, west, east)| Tile { strip, west, east }).collect();
    tiles.sort_by(|a, b| a.strip.cmp(&b.strip).then(a.west.total_cmp(&b.west)));
    Ok(tiles)
}

/// A span of longitude cut into blocks about as wide as high.
fn columns(strip: usize, height: usize, west: f64, east: f64) -> impl Iterator<Item = (usize, f64, f64)> {
    let size = TILE_DEG * height as f64;
    let south = -90.0 + TILE_DEG * strip as f64;
    // The widest parallel of the block decides.
    let widest = if south < 0.0 && south + size > 0.0 { 0.0 } else { south.abs().min((south + size).abs()) };
    let count = ((east - west) * widest.to_radians().cos() / size).ceil().max(1.0);
    let width = (east - west) / count;
    (0..count as usize).map(move |k| (strip, west + width * k as f64, west + width * (k + 1) as f64))
}

/// Whether a block may touch the path with the Sun up.
fn near_path(eclipse: &Eclipse, strip: usize, height: usize, west: f64, east: f64) -> bool {
    let south = -90.0 + TILE_DEG * strip as f64;
    let north = south + TILE_DEG * height as f64;
    let centre = GeoPoint { lat_deg: 0.5 * (south + north), lon_deg: 0.5 * (west + east) };
    let reach = |lat_deg: f64| sphere_km(centre, GeoPoint { lat_deg, lon_deg: west });
    let radius_km = reach(south).max(reach(north)) * SPHERE_EXCESS;
    let site = Site::at_sea_level(centre);
    let q = eclipse.quick(&site);
    // A step on the ground turns the zenith by as much; the Sun itself moves little while the maximum passes over.
    if q.sun_altitude_deg < -(1.5 * radius_km / KM_PER_DEG + 1.0) {
        return false;
    }
    q.phase == Phase::Total || eclipse.view(&site, q.max).magnitude() >= 1.0 - radius_km * MAGNITUDE_PER_KM
}

/// Whether the grid can score a criterion at all.
pub fn can_score(criterion: &str) -> bool {
    kind(criterion).is_some() && criteria::built_in(criterion).is_some()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::criteria::EclipseScale;
    use crate::outlook::air::Air;
    use crate::plan::Plan;
    use crate::progress::Silent;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::Conventions;
    use noonfall_shadow::geodesy::distance_km;
    use std::path::Path;

    const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo");

    fn eclipse(date: &str) -> Eclipse {
        Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
    }

    fn plan(more: &str) -> Plan {
        let text = format!(
            "[eclipse]\ndate = 2028-07-22\n[clouds]\nfile = \"clouds.csv\"\n[weights]\ntotality = 2\nclear_sky = 1\nsun_altitude = 1\nshadow_bands = 1\n[search]\n{more}"
        );
        Plan::parse(&text, "plan.toml", Path::new(DEMO)).unwrap()
    }

    fn region() -> Region {
        // About 110 km by 110 km over the northern limit west of Sydney.
        Region::of_rings([vec![(148.0, -32.0), (149.2, -32.0), (149.2, -31.0), (148.0, -31.0)]])
    }

    struct Case {
        eclipse: Eclipse,
        plan: Plan,
        scorer: Scorer,
        clouds: Clouds,
        bands: std::sync::Arc<Bands>,
        region: Region,
    }

    fn case(more: &str) -> Case {
        let plan = plan(more);
        let scorer = Scorer::new(&plan, &EclipseScale { longest_totality_s: 300.0 });
        let eclipse = eclipse("2028-07-22");
        let clouds = Clouds::read(&plan, &eclipse, None).unwrap();
        Case { eclipse, plan, scorer, clouds, bands: Bands::of(Air::STANDARD), region: region() }
    }

    impl Case {
        fn search(&self, spacing_km: f64, best: usize, apart_km: f64) -> Search<'_> {
            Search {
                eclipse: &self.eclipse,
                edge: None,
                scorer: &self.scorer,
                requirements: &self.plan.requirements,
                clouds: &self.clouds,
                bands: &self.bands,
                ground: Ground::Region(&self.region),
                spacing_km,
                best,
                apart_km,
            }
        }
    }

    /// The plain path: every point of the lattice on its own, sorted, taken greedily.
    fn plainly(
        case: &Case,
        edge: Option<&SearchEdge>,
        spacing_km: f64,
        best: usize,
        apart_km: f64,
    ) -> (usize, Vec<GeoPoint>) {
        let step = spacing_km / KM_PER_DEG;
        let mut points: Vec<(f64, GeoPoint)> = Vec::new();
        let mut inside = 0;
        let rows =
            (0..(180.0 / step) as u64).map(|j| -90.0 + (j as f64 + 0.5) * step).filter(|l| (-32.5..-30.5).contains(l));
        for lat_deg in rows {
            let lon_step = spacing_km / (KM_PER_DEG * lat_deg.to_radians().cos());
            let row = (0..(360.0 / lon_step) as u64).map(|k| -180.0 + (k as f64 + 0.5) * lon_step);
            for lon_deg in row.filter(|l| (147.5..150.0).contains(l)) {
                let point = GeoPoint { lat_deg, lon_deg };
                let site = Site::at_sea_level(point);
                let local = case.eclipse.local(&site);
                if !case.region.contains(point) || local.phase != Phase::Total {
                    continue;
                }
                inside += 1;
                let max = local.max.unwrap();
                let query = SolarTime::at(max.tt, lon_deg).query(lat_deg, lon_deg, max.sun_altitude_deg, None);
                let totality_s = match edge {
                    None => local.duration_s,
                    Some(edge) => match edge.totality_s(point) {
                        Some(seconds) => seconds,
                        None => continue,
                    },
                };
                let conditions = crate::criteria::Conditions {
                    totality_s,
                    sun_altitude_deg: max.sun_altitude_deg,
                    clear_sky: Some(case.clouds.outlook(&query).unwrap().clear_line_of_sight),
                    shadow_bands: Some(case.bands.at(&case.eclipse, &site, max.tt)),
                    ..Default::default()
                };
                points.push((case.scorer.score(&case.scorer.utilities(&conditions)), point));
            }
        }
        points.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut taken: Vec<GeoPoint> = Vec::new();
        for (_, point) in points {
            if taken.len() < best && taken.iter().all(|t| sphere_km(*t, point) >= apart_km * SPHERE_EXCESS) {
                taken.push(point);
            }
        }
        (inside, taken)
    }

    #[test]
    fn finds_what_the_plain_path_finds() {
        let case = case("");
        let outcome = search(&case.search(4.0, 8, 30.0), &Silent).unwrap();
        let (inside, plain) = plainly(&case, None, 4.0, 8, 30.0);
        assert_eq!(outcome.in_path, inside as u64);
        let found: Vec<GeoPoint> = outcome.found.iter().map(|f| f.point).collect();
        assert_eq!(found, plain);
        for f in &outcome.found {
            let site = Site::at_sea_level(f.point);
            let full = case.bands.at(&case.eclipse, &site, case.eclipse.local(&site).max.unwrap().tt);
            // The instants of maximum differ by milliseconds.
            assert!(f.shadow_bands.is_none_or(|b| (b - full).abs() < 1e-6), "{f:?} {full}");
        }
        for (i, a) in found.iter().enumerate() {
            assert!(found[..i].iter().all(|b| distance_km(*a, *b) >= 30.0));
        }
    }

    /// With the Moon's true edge the search asks it of few points, and finds what asking it of all of them finds.
    #[test]
    fn finds_what_the_plain_path_finds_at_the_true_edge() {
        let case = case("");
        let lattice = EdgeLattice::new(&case.eclipse, noonfall_shadow::moon_edge::MoonHeights::embedded());
        let edge = SearchEdge { lattice: &lattice, settings: EdgeSettings::default() };
        let outcome = search(&Search { edge: Some(edge), ..case.search(8.0, 5, 30.0) }, &Silent).unwrap();
        let (_, plain) = plainly(&case, Some(&edge), 8.0, 5, 30.0);
        assert_eq!(outcome.found.iter().map(|f| f.point).collect::<Vec<_>>(), plain);
        for found in &outcome.found {
            assert_eq!(edge.totality_s(found.point), Some(found.totality_s));
        }
    }

    #[test]
    fn the_same_on_any_number_of_threads() {
        let case = case("");
        let with = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| search(&case.search(5.0, 5, 20.0), &Silent).unwrap())
        };
        assert_eq!(with(1), with(3));
    }

    #[test]
    fn more_than_the_path_holds_gives_what_there_is() {
        let case = case("");
        let outcome = search(&case.search(10.0, 50, 80.0), &Silent).unwrap();
        assert!(!outcome.found.is_empty() && outcome.found.len() < 5, "{}", outcome.found.len());
    }

    #[test]
    fn no_tile_of_the_path_is_dropped() {
        // Central, polar and non-central paths, and one across the date line: every traced point lies in a kept tile.
        for date in ["2028-07-22", "2015-03-20", "2021-12-04", "2033-03-30", "2009-07-22", "2043-04-09"] {
            let eclipse = eclipse(date);
            let tiles = tiles_near_path(&eclipse, &Silent).unwrap();
            let path = eclipse.path(120.0);
            assert!(!path.polygon.is_empty(), "{date}");
            for p in path.central_line.iter().chain(&path.north_limit).chain(&path.south_limit) {
                // Points whose Sun is down at maximum are not searched for.
                if eclipse.quick(&Site::at_sea_level(*p)).sun_altitude_deg <= 0.0 {
                    continue;
                }
                let strip = (((p.lat_deg + 90.0) / TILE_DEG) as usize).min(719);
                let kept = tiles.iter().any(|t| t.strip == strip && t.west <= p.lon_deg && p.lon_deg <= t.east);
                assert!(kept, "{date}: {p:?}");
            }
        }
    }

    #[test]
    fn a_listener_can_stop_it() {
        struct Impatient;
        impl Progress for Impatient {
            fn begin(&self, _: &str, _: u64) {}
            fn advance(&self, _: u64) {}
            fn cancelled(&self) -> bool {
                true
            }
        }
        let case = case("");
        assert_eq!(search(&case.search(5.0, 5, 20.0), &Impatient), Err(Stopped));
    }
}
