//! The points of one tile: which may be stood on, what they see, and which is the best.

use noonfall_ephemeris::Tt;
use noonfall_shadow::batch::{BatchSolver, QuickBatch, SiteBatch};
use noonfall_shadow::{Eclipse, Phase, Site};

use super::area::{self, Row};
use super::clear_lattice::{ClearLattice, Seasons};
use super::edge::{EdgeGains, SearchEdge};
use super::ground::{Skylines, most_margin_deg};
use super::point_score::{Point, PointScorer, Span};
use super::tiles::{TILE_DEG, Tile};
use super::{Dropped, Found, Hope, KM_PER_DEG, Search, SearchError, TileBest, too_close};
use crate::criteria::Numbers;
use crate::input::terrain::TerrainError;
use crate::input::terrain::ground::Ground;

/// Points that are evaluated together at most, but for the rest of a row.
const BATCH_POINTS: usize = 4096;
/// Tiles with more promising points are swept before any of them is asked: of few points even the best ones alone are soon asked.
const SWEPT_AHEAD: usize = 1000;
/// So many points of any other tile are asked for their skyline one by one before a sweep over the tile is worth its time.
const ASKED_WITHOUT_A_SWEEP: u32 = 12;
/// So many promising points of a tile are kept before they are asked.
const MOST_PROMISING: usize = 1 << 17;
/// A place found keeps this much above a margin asked for, degrees: a ranking asks rays up to 0.05° to either side.
const MARGIN_TO_SPARE_DEG: f64 = 0.02;

/// Some rows of a tile, structure of arrays.
struct Batch {
    lat_deg: Vec<f64>,
    lon_deg: Vec<f64>,
    elevation_m: Vec<f64>,
    /// Whether the terrain knows the height; empty without terrain, where all points lie at sea level.
    on_ground: Vec<bool>,
    seen: QuickBatch,
}

impl Batch {
    fn new(epoch: Tt) -> Batch {
        Batch {
            lat_deg: Vec::new(),
            lon_deg: Vec::new(),
            elevation_m: Vec::new(),
            on_ground: Vec::new(),
            seen: QuickBatch::empty(epoch),
        }
    }

    fn clear(&mut self) {
        self.lat_deg.clear();
        self.lon_deg.clear();
        self.elevation_m.clear();
        self.on_ground.clear();
    }

    /// What every point sees. Points of the lattice are places, so a batch of them is never refused.
    fn evaluate(
        &mut self,
        solver: &BatchSolver<'_>,
        skylines: Option<&Skylines<'_>>,
        under: &mut Ground,
    ) -> Result<bool, TerrainError> {
        match skylines {
            None => self.elevation_m.resize(self.lon_deg.len(), 0.0),
            Some(skylines) => {
                let places = self.lat_deg.iter().copied().zip(self.lon_deg.iter().copied());
                skylines.heights_m(under, places, |height| {
                    self.on_ground.push(height.is_some());
                    self.elevation_m.push(height.unwrap_or(0.0));
                })?;
            }
        }
        let sites = SiteBatch { lat_deg: &self.lat_deg, lon_deg: &self.lon_deg, elevation_m: &self.elevation_m };
        Ok(solver.quick_into(sites, &mut self.seen).is_ok())
    }

    /// Seconds of totality and the Sun's altitude of a point; `None` without totality or with the Sun down.
    fn totality(&self, k: usize) -> Option<(f64, f64)> {
        let (totality_s, altitude_deg) = (self.seen.duration_s[k], self.seen.sun_altitude_deg[k]);
        let seen = self.seen.phase[k] == Phase::Total && totality_s > 0.0 && altitude_deg > 0.0;
        seen.then_some((totality_s, altitude_deg))
    }

    fn site(&self, k: usize) -> Site {
        Site { lat_deg: self.lat_deg[k], lon_deg: self.lon_deg[k], elevation_m: self.elevation_m[k] }
    }

    fn max(&self, k: usize) -> Tt {
        self.seen.epoch.plus(self.seen.max_after_epoch_s[k])
    }
}

/// What a scan asks of a point where the answer takes its time: the Moon's true edge, the skyline. The later, the closer.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Asked {
    /// The score that no edge and no skyline can surpass: soon answered.
    Bound,
    /// The same by a sweep over the tile, which tells its points' skylines roughly and all at once.
    Swept,
    /// The score itself.
    Truth,
}

/// The ground of a point where one can stand.
#[derive(Clone, Copy)]
enum Stand {
    /// There is no terrain, or none for this point: no skyline to ask for.
    NoTerrain,
    /// The Sun's margin above the skyline is not more than this, degrees.
    Terrain { most_margin_deg: f64 },
}

/// Counts of points.
#[derive(Clone, Copy, Default)]
pub(super) struct Counts {
    pub points: u64,
    pub in_path: u64,
    pub eligible: u64,
    pub dropped: Dropped,
}

/// What the scan of one tile needs.
pub(super) struct Scan<'a> {
    pub search: &'a Search<'a>,
    pub scorer: PointScorer<'a>,
    pub solver: BatchSolver<'a>,
    pub seasons: Seasons<'a>,
    pub skylines: Option<Skylines<'a>>,
}

/// One tile while it is scanned.
struct TileWork<'a> {
    tile: &'a Tile,
    taken: &'a [Found],
    asked: Asked,
    batch: Batch,
    lattice: Option<ClearLattice>,
    best: Option<TileBest>,
    /// Points that are still to be asked.
    promising: Vec<Promising>,
    /// How many points were asked for their skyline one by one.
    asks: u32,
    /// The ground last looked at.
    under: Ground,
}

impl TileWork<'_> {
    /// Whether a score is below the best found so far.
    fn hopeless(&self, score: f64) -> bool {
        self.best.as_ref().is_some_and(|b| score < b.found.score)
    }

    fn offer(&mut self, found: Found, apart_km: f64) {
        let candidate = TileBest { tile: *self.tile, found };
        if self.best.as_ref().is_none_or(|b| candidate > *b) && !too_close(self.taken, found.point, apart_km) {
            self.best = Some(candidate);
        }
    }
}

/// A point whose true score is still to be asked for.
#[derive(Clone, Copy)]
struct Promising {
    bound: f64,
    site: Site,
    max: Tt,
    point: Point,
    /// What totality may last with the true edge, where that is asked for.
    with_edge_s: Option<Span>,
}

impl<'a> Scan<'a> {
    pub fn new(search: &'a Search<'a>) -> Scan<'a> {
        Scan {
            search,
            scorer: PointScorer::new(search),
            solver: BatchSolver::new(search.eclipse),
            seasons: Seasons::around(search),
            skylines: search.ground.map(Skylines::new),
        }
    }

    /// Rows of the lattice in a strip.
    pub fn rows(&self, strip: usize) -> Vec<Row> {
        let step = self.search.spacing_km / KM_PER_DEG;
        let south = -90.0 + TILE_DEG * strip as f64;
        // Rows lie at (j + 1/2) steps north of the south pole.
        let first = ((south + 90.0) / step - 0.5).ceil().max(0.0) as u64;
        let last = ((south + TILE_DEG + 90.0) / step - 0.5).ceil().max(0.0) as u64;
        (first..last)
            .map(|j| -90.0 + (j as f64 + 0.5) * step)
            .filter(|lat| *lat < 90.0)
            .map(|lat| self.search.area.row(lat))
            .collect()
    }

    /// What a scan asks next where it knows a tile by something less than the truth.
    pub fn closer_than(&self, asked: Asked) -> Asked {
        // A coarse grid has too few points in a tile to sweep it ahead.
        let many = (TILE_DEG * KM_PER_DEG / self.search.spacing_km + 1.0).powi(2) > SWEPT_AHEAD as f64;
        if asked == Asked::Bound && many && self.skylines.is_some() { Asked::Swept } else { Asked::Truth }
    }

    /// What a tile may hold at best, far enough from the places taken: its best point, or where edge or skyline would have
    /// to be asked, which takes longer, a point and a score that none of its points can surpass.
    pub fn hope(
        &self,
        tile: &Tile,
        rows: &[Row],
        taken: &[Found],
        counts: Option<&mut Counts>,
    ) -> Result<Option<Hope>, SearchError> {
        let known = self.search.edge.is_none() && self.skylines.is_none();
        let asked = if known { Asked::Truth } else { Asked::Bound };
        Ok(self.tile(tile, rows, taken, asked, counts)?.map(|best| Hope { best, asked }))
    }

    /// The best point of a tile that is far enough from the places taken, by what was asked.
    pub fn tile(
        &self,
        tile: &Tile,
        rows: &[Row],
        taken: &[Found],
        asked: Asked,
        mut counts: Option<&mut Counts>,
    ) -> Result<Option<TileBest>, SearchError> {
        let mut work = TileWork {
            tile,
            taken,
            asked,
            batch: Batch::new(self.search.eclipse.elements().epoch()),
            lattice: None,
            best: None,
            promising: Vec::new(),
            asks: 0,
            under: Ground::default(),
        };
        for row in rows {
            let step = self.search.spacing_km / (KM_PER_DEG * row.lat_deg.to_radians().cos()).max(1e-6);
            for &(west, east) in &row.dry {
                let (west, east) = (west.max(tile.west), east.min(tile.east));
                if west < east {
                    let lons = area::numbers(west, east, step).map(|k| -180.0 + (k as f64 + 0.5) * step);
                    work.batch.lon_deg.extend(lons.filter(|l| *l < 180.0));
                    work.batch.lat_deg.resize(work.batch.lon_deg.len(), row.lat_deg);
                }
            }
            if let Some(counts) = &mut counts {
                counts.dropped.sea += area::count(&row.sea, tile.west, tile.east, step);
                counts.dropped.lakes += area::count(&row.lakes, tile.west, tile.east, step);
            }
            if work.batch.lon_deg.len() >= BATCH_POINTS {
                self.weigh(&mut work, counts.as_deref_mut())?;
            }
        }
        self.weigh(&mut work, counts)?;
        self.ask(&mut work)?;
        Ok(work.best)
    }

    /// Scores the points of a batch, keeps the best, and empties the batch.
    fn weigh(&self, work: &mut TileWork<'_>, counts: Option<&mut Counts>) -> Result<(), SearchError> {
        if work.batch.lon_deg.is_empty()
            || !work.batch.evaluate(&self.solver, self.skylines.as_ref(), &mut work.under)?
        {
            return Ok(());
        }
        let mut seen = Counts { points: work.batch.lon_deg.len() as u64, ..Counts::default() };
        for k in 0..work.batch.lon_deg.len() {
            let Some((totality_s, sun_altitude_deg)) = work.batch.totality(k) else { continue };
            seen.in_path += 1;
            let Some(ground) = self.stands(work, k, sun_altitude_deg, &mut seen.dropped)? else { continue };
            let point = self.point(work, k, totality_s, sun_altitude_deg, ground);
            let Some(score) = self.scorer.score(&point) else { continue };
            seen.eligible += 1;
            if self.search.edge.is_none() && !point.margin_open {
                self.keep(work, &work.batch.site(k), &point, score);
                continue;
            }
            let with_edge_s = self.search.edge.map(|_| SearchEdge::span_s(totality_s));
            let bound = self.bound(&point, with_edge_s).unwrap_or(score);
            if work.hopeless(bound) {
                continue;
            }
            let (site, max) = (work.batch.site(k), work.batch.max(k));
            match work.asked {
                Asked::Bound => self.keep(work, &site, &point, bound),
                Asked::Swept | Asked::Truth => {
                    work.promising.push(Promising { bound, site, max, point, with_edge_s });
                }
            }
        }
        if work.promising.len() >= MOST_PROMISING {
            self.ask(work)?;
        }
        if let Some(counts) = counts {
            counts.add(&seen);
        }
        work.batch.clear();
        Ok(())
    }

    /// Asks the promising points, by a sweep over the tile where they are many; for the truth, the most promising first: once one is
    /// known, most of the others need not be asked.
    fn ask(&self, work: &mut TileWork<'_>) -> Result<(), SearchError> {
        let mut promising = std::mem::take(&mut work.promising);
        let mut to_sweep = self.skylines.as_ref();
        if let Some(skylines) = to_sweep.take_if(|_| promising.len() > SWEPT_AHEAD) {
            promising = self.swept(work.tile, skylines, promising, 0)?;
        }
        if let Some(edge) = self.search.edge.filter(|_| promising.len() > SWEPT_AHEAD) {
            let mut gains = EdgeGains::around(edge, self.search.eclipse, work.tile);
            promising.retain_mut(|p| {
                let span = gains.span_s(&p.site, p.point.most.totality_s, p.point.most.sun_altitude_deg);
                let bound = self.bound(&p.point, Some(span));
                (p.bound, p.with_edge_s) = (bound.unwrap_or(p.bound), Some(span));
                bound.is_some()
            });
        }
        if work.asked == Asked::Swept {
            for Promising { bound, site, point, .. } in promising {
                self.keep(work, &site, &point, bound);
            }
            return Ok(());
        }
        // Of equals the first stays first.
        let best_first = |a: &Promising, b: &Promising| b.bound.total_cmp(&a.bound);
        promising.sort_by(best_first);
        let mut next = 0;
        while let Some(&asked) = promising.get(next) {
            if work.hopeless(asked.bound) {
                break;
            }
            if let Some(skylines) = to_sweep.take_if(|_| work.asks >= ASKED_WITHOUT_A_SWEEP) {
                promising = self.swept(work.tile, skylines, promising, next)?;
                promising.sort_by(best_first);
                next = 0;
                continue;
            }
            next += 1;
            // What lies too close cannot be the tile's best, whatever it sees.
            if too_close(work.taken, asked.site.point(), self.search.apart_km) {
                continue;
            }
            if let Some((point, score)) = self.truth(work, &asked)? {
                self.keep(work, &asked.site, &point, score);
            }
        }
        Ok(())
    }

    /// What a sweep over the tile leaves of points, but for the first ones: those that it does not hide for sure, with a closer bound.
    fn swept(
        &self,
        tile: &Tile,
        skylines: &Skylines<'_>,
        mut points: Vec<Promising>,
        first: usize,
    ) -> Result<Vec<Promising>, SearchError> {
        let swept = skylines.sweep(self.search.eclipse, tile, self.search.spacing_km)?;
        skylines.count(tile, &swept, points.iter().map(|p| p.site.point()));
        let closer = |p: Promising| {
            let Some(before) = p.point.most.horizon_margin_deg else { return Some(p) };
            let Some(most) = swept.most_deg(p.site.point()) else { return Some(p) };
            if most < 0.0 {
                return None;
            }
            let point = p.point.with_margin(before.min(most), true);
            let bound = self.bound(&point, p.with_edge_s)?;
            Some(Promising { bound, point, ..p })
        };
        Ok(points.split_off(first).into_iter().filter_map(closer).collect())
    }

    /// The ground of a point where one can stand; `None` where one cannot.
    fn stands(
        &self,
        work: &mut TileWork<'_>,
        k: usize,
        sun_altitude_deg: f64,
        dropped: &mut Dropped,
    ) -> Result<Option<Stand>, SearchError> {
        let site = work.batch.site(k);
        if self.search.roads.is_some_and(|roads| !roads.within(site.point())) {
            dropped.far_from_roads += 1;
            return Ok(None);
        }
        let Some(skylines) = &self.skylines else { return Ok(Some(Stand::NoTerrain)) };
        if !work.batch.on_ground[k] {
            let stays = self.scorer.takes_unknown_ground;
            dropped.no_terrain += u64::from(!stays);
            return Ok(stays.then_some(Stand::NoTerrain));
        }
        if !skylines.level_enough(&mut work.under, site.lat_deg, site.lon_deg)? {
            dropped.steep += 1;
            return Ok(None);
        }
        Ok(Some(Stand::Terrain { most_margin_deg: most_margin_deg(sun_altitude_deg, site.elevation_m) }))
    }

    fn point(&self, work: &mut TileWork<'_>, k: usize, totality_s: f64, sun_altitude_deg: f64, ground: Stand) -> Point {
        let (eclipse, site) = (self.search.eclipse, work.batch.site(k));
        let clear_sky = if self.scorer.needs_clouds {
            let tile = work.tile;
            let lattice = work.lattice.get_or_insert_with(|| ClearLattice::over(tile, eclipse, &self.seasons));
            lattice.clear(tile, site.lat_deg, site.lon_deg)
        } else {
            None
        };
        let shadow_bands = self.scorer.needs_bands.then(|| self.search.bands.at(eclipse, &site, work.batch.max(k)));
        let horizon_margin_deg = match ground {
            Stand::NoTerrain => None,
            Stand::Terrain { most_margin_deg } => Some(most_margin_deg),
        };
        let most = Numbers { totality_s, sun_altitude_deg, clear_sky, shadow_bands, horizon_margin_deg };
        Point { most, least_totality_s: totality_s, margin_open: horizon_margin_deg.is_some() }
    }

    /// The best that the Moon's edge could make of a smooth point's score; the skyline's best is in it already. `None` where a
    /// requirement cannot be met.
    fn bound(&self, point: &Point, with_edge_s: Option<Span>) -> Option<f64> {
        self.scorer.score(&with_edge_s.map_or(*point, |span| point.lasting(span)))
    }

    /// The point at the true edge and with its skyline, and its score; `None` where it falls out or is not the best.
    fn truth(&self, work: &mut TileWork<'_>, asked: &Promising) -> Result<Option<(Point, f64)>, SearchError> {
        let Promising { site, max, mut point, .. } = *asked;
        let mut contacts = None;
        if let Some(edge) = &self.search.edge {
            let Some((totality_s, c2, c3)) = edge.totality(&site) else { return Ok(None) };
            point = point.lasting(Span { least: totality_s, most: totality_s });
            contacts = Some((c2, c3));
        }
        let Some(mut score) = self.scorer.score(&point).filter(|score| !work.hopeless(*score)) else { return Ok(None) };
        if let Some(skylines) = self.skylines.as_ref().filter(|_| point.margin_open) {
            let contacts = contacts.or_else(|| smooth_contacts(self.search.eclipse, &site));
            let Some((c2, c3)) = contacts else { return Ok(None) };
            work.asks += 1;
            let margin = skylines.margin_deg(self.search.eclipse, work.tile, &site, (c2, max, c3))?;
            if margin < MARGIN_TO_SPARE_DEG {
                return Ok(None);
            }
            point = point.with_margin(margin, false);
            // Requirements are held with something to spare; the score is that of the margin itself.
            let spared = point.with_margin(margin - MARGIN_TO_SPARE_DEG, false);
            let Some(of_margin) = self.scorer.score(&point).filter(|_| self.scorer.score(&spared).is_some()) else {
                return Ok(None);
            };
            score = of_margin;
        }
        Ok(Some((point, score)))
    }

    fn keep(&self, work: &mut TileWork<'_>, site: &Site, point: &Point, score: f64) {
        if work.hopeless(score) {
            return;
        }
        let found = Found {
            point: site.point(),
            elevation_m: site.elevation_m,
            score,
            totality_s: point.most.totality_s,
            sun_altitude_deg: point.most.sun_altitude_deg,
            clear_sky: point.most.clear_sky,
            shadow_bands: point.most.shadow_bands,
            horizon_margin_deg: point.most.horizon_margin_deg.filter(|_| !point.margin_open),
        };
        work.offer(found, self.search.apart_km);
    }
}

/// Second and third contact of a smooth Moon.
fn smooth_contacts(eclipse: &Eclipse, site: &Site) -> Option<(Tt, Tt)> {
    let local = eclipse.local(site);
    local.c2.zip(local.c3).map(|(c2, c3)| (c2.tt, c3.tt))
}

impl Counts {
    pub fn add(&mut self, more: &Counts) {
        self.points += more.points;
        self.in_path += more.in_path;
        self.eligible += more.eligible;
        self.dropped.add(&more.dropped);
    }
}
