//! The ground under the points of a search: its height, its slope, and how far above its skyline the Sun stands.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use noonfall_ephemeris::{GeoPoint, Tt};
use noonfall_shadow::{Eclipse, Site};

use super::KM_PER_DEG;
use super::tiles::{TILE_DEG, Tile};
use crate::input::terrain::ground::Ground;
use crate::input::terrain::{RasterShape, Terrain, TerrainError};
use crate::outlook::skyline::ray::HIGHEST_GROUND_M;
use crate::outlook::skyline::{HorizonSearch, RayOptions, SunTrack, least_margin_deg};
use crate::outlook::sunlit::{Casts, SunlitBlock, SunlitOptions, sunlit_block};

/// Metres of a degree of latitude on the mean sphere.
const METRES_PER_DEG: f64 = 111_195.0;

/// The sweep's margin at the nodes around a point may be below the point's own by so much, degrees: it differs from the single
/// ray by up to 0.3° for 95 % of places, and the ground between two nodes may be open.
const SWEEP_SPARES_DEG: f64 = 0.5;
/// The sweep looks at the terrain cell by cell in grids up to so many times as coarse.
const SWEPT_STEPS: f64 = 8.0;
/// Nodes of swept tiles that are kept; a tile is scanned again for the truth, and when places near it were taken.
const KEPT_NODES: usize = 16 << 20;

/// What the search asks of the ground.
#[derive(Clone, Copy, Debug)]
pub struct SearchGround<'a> {
    /// The elevation model.
    pub terrain: &'a Terrain,
    /// How rays are cast over it.
    pub rays: RayOptions,
    /// Steeper ground is left out, degrees.
    pub max_slope_deg: Option<f64>,
}

/// The ground while a search runs.
#[derive(Debug)]
pub(super) struct Skylines<'a> {
    ground: SearchGround<'a>,
    rays: HorizonSearch<'a>,
    /// Least margins that rays found so far, by the bits of latitude and longitude, with the tile: it may be looked at more than once.
    asked: Mutex<HashMap<(u64, u64), (f64, TileKey)>>,
    swept: Mutex<SweptTiles>,
}

/// A tile's strip and the bits of its western edge.
type TileKey = (usize, u64);

/// Tiles that were swept.
#[derive(Debug, Default)]
struct SweptTiles {
    kept: HashMap<TileKey, Arc<SweptTile>>,
    nodes: usize,
    /// Points that were asked when a tile was first swept, and how many of them the skyline hides.
    counts: HashMap<TileKey, (u64, u64)>,
}

/// Least margins over a tile, as a sweep has them.
#[derive(Debug)]
pub(super) struct SweptTile {
    shape: RasterShape,
    margin_deg: Vec<f32>,
}

impl<'a> Skylines<'a> {
    pub fn new(ground: SearchGround<'a>) -> Skylines<'a> {
        Skylines {
            ground,
            rays: HorizonSearch::new(ground.terrain, ground.rays),
            asked: Mutex::default(),
            swept: Mutex::default(),
        }
    }

    /// Heights of the ground at places that lie one after the other, m; `None` where there is none.
    pub fn heights_m(
        &self,
        under: &mut Ground,
        places: impl Iterator<Item = (f64, f64)>,
        mut take: impl FnMut(Option<f64>),
    ) -> Result<(), TerrainError> {
        for (lat_deg, lon_deg) in places {
            let height = under.height_m(self.ground.terrain, lat_deg, lon_deg)?;
            take(Some(height).filter(|h| !h.is_nan()));
        }
        Ok(())
    }

    /// Whether the ground is no steeper than was asked; ground whose slope cannot be told is steep.
    pub fn level_enough(&self, under: &mut Ground, lat_deg: f64, lon_deg: f64) -> Result<bool, TerrainError> {
        let Some(most) = self.ground.max_slope_deg else { return Ok(true) };
        Ok(slope_on(under, self.ground.terrain, lat_deg, lon_deg)?.is_some_and(|slope| slope <= most))
    }

    /// The least height of the Sun's centre above the skyline from second to third contact, degrees; kept once found.
    pub fn margin_deg(
        &self,
        eclipse: &Eclipse,
        tile: &Tile,
        site: &Site,
        totality: (Tt, Tt, Tt),
    ) -> Result<f64, TerrainError> {
        let place = (site.lat_deg.to_bits(), site.lon_deg.to_bits());
        if let Some((known, _)) = locked(&self.asked).get(&place) {
            return Ok(*known);
        }
        let eye = self.rays.viewpoint(site.lat_deg, site.lon_deg)?;
        let (c2, max, c3) = totality;
        let track = SunTrack::in_totality(eclipse, site, c2, max, c3);
        let margin = track.map_or(Ok(f64::NEG_INFINITY), |track| least_margin_deg(&eye, &track))?;
        locked(&self.asked).insert(place, (margin, key(tile)));
        Ok(margin)
    }

    /// The margins of a tile, swept all at once; kept for a while.
    pub fn sweep(&self, eclipse: &Eclipse, tile: &Tile, spacing_km: f64) -> Result<Arc<SweptTile>, TerrainError> {
        if let Some(tile) = locked(&self.swept).kept.get(&key(tile)) {
            return Ok(Arc::clone(tile));
        }
        let terrain = self.ground.terrain;
        let (south, north) = (tile.south(), tile.south() + TILE_DEG);
        let native = terrain.steps_in_deg(tile.west, south, tile.east, north).map_or(TILE_DEG / 8.0, |s| s.0);
        let lat_step_deg = (spacing_km / KM_PER_DEG).clamp(native, SWEPT_STEPS * native);
        let lon_step_deg = lat_step_deg / (0.5 * (south + north)).to_radians().cos().max(1e-3);
        // A node more on every side, so that every point of the tile lies between four.
        let nodes = |span: f64, step: f64| (span / step).ceil() as u32 + 3;
        let shape = RasterShape {
            west_deg: tile.west - lon_step_deg,
            north_deg: (north + lat_step_deg).min(90.0),
            lon_step_deg,
            lat_step_deg,
            columns: nodes(tile.east - tile.west, lon_step_deg),
            rows: nodes(TILE_DEG, lat_step_deg),
        };
        let farthest_km = self.ground.rays.farthest_km.min(farthest_that_hides_km(eclipse, tile));
        let ray = RayOptions { farthest_km, ..self.ground.rays };
        let options = SunlitOptions { ray, casts: Casts::Once, ..SunlitOptions::default() };
        let SunlitBlock { shape, margin_deg, .. } = sunlit_block(terrain, eclipse, &shape, &options)?;
        let block = Arc::new(SweptTile { shape, margin_deg });
        let mut swept = locked(&self.swept);
        if swept.nodes > KEPT_NODES {
            swept.kept.clear();
            swept.nodes = 0;
        }
        swept.nodes += block.margin_deg.len();
        swept.kept.insert(key(tile), Arc::clone(&block));
        Ok(block)
    }

    /// Counts the points that a sweep answers for, when a tile is first asked for them.
    pub fn count(&self, tile: &Tile, swept: &SweptTile, points: impl Iterator<Item = GeoPoint>) {
        let counts = &mut locked(&self.swept).counts;
        counts.entry(key(tile)).or_insert_with(|| {
            let margins = points.filter_map(|p| swept.nearest_deg(p));
            margins.fold((0, 0), |(asked, hidden), margin| (asked + 1, hidden + u64::from(margin < 0.0)))
        });
    }

    /// How many points were asked for their skyline, and from how many of them it hides the Sun: by the sweep of their tile, or by
    /// rays where it was not swept.
    pub fn tally(&self) -> (u64, u64) {
        let (swept, asked) = (locked(&self.swept), locked(&self.asked));
        let by_sweep = swept.counts.values().fold((0, 0), |sum, tile| (sum.0 + tile.0, sum.1 + tile.1));
        let alone = asked.values().filter(|(_, tile)| !swept.counts.contains_key(tile));
        alone.fold(by_sweep, |sum, (margin, _)| (sum.0 + 1, sum.1 + u64::from(*margin < 0.0)))
    }
}

fn key(tile: &Tile) -> TileKey {
    (tile.strip, tile.west.to_bits())
}

impl SweptTile {
    /// Row and column, with fractions, of a place.
    fn locate(&self, point: GeoPoint) -> (f64, f64) {
        let s = &self.shape;
        ((s.north_deg - point.lat_deg) / s.lat_step_deg, (point.lon_deg - s.west_deg) / s.lon_step_deg)
    }

    fn at(&self, row: f64, column: f64) -> Option<f64> {
        let s = &self.shape;
        let inside = (0.0..f64::from(s.rows)).contains(&row) && (0.0..f64::from(s.columns)).contains(&column);
        let margin = self.margin_deg.get(row as usize * s.columns as usize + column as usize).filter(|_| inside);
        margin.map(|m| f64::from(*m)).filter(|m| m.is_finite())
    }

    /// The margin of the nearest node, degrees, where the sweep knows one.
    fn nearest_deg(&self, point: GeoPoint) -> Option<f64> {
        let (y, x) = self.locate(point);
        self.at(y.round(), x.round())
    }

    /// The most that the margin of a point can be by the sweep, degrees: that of the best of the four nodes around it, and what
    /// the sweep may be wrong by. `None` where one of the four is not known: beside it nothing is sure.
    pub fn most_deg(&self, point: GeoPoint) -> Option<f64> {
        let (y, x) = self.locate(point);
        let (row, column) = (y.floor(), x.floor());
        let mut most = f64::NEG_INFINITY;
        for (j, i) in [(0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0)] {
            most = most.max(self.at(row + j, column + i)?);
        }
        Some(most + SWEEP_SPARES_DEG)
    }
}

/// Farther ground cannot reach the Sun from anywhere in a tile, were it the highest on Earth, km. A sweep that leaves it out gives
/// margins that are too wide where such ground makes the skyline, which is what [`Skylines::most_by_sweep_deg`] allows.
fn farthest_that_hides_km(eclipse: &Eclipse, tile: &Tile) -> f64 {
    /// Ground is seen from no deeper than this, m.
    const LOWEST_M: f64 = -450.0;
    /// The Sun stands lower than in the middle of the tile at maximum by at most so much: in its corners, at third contact.
    const LOWER_DEG: f64 = 1.5;
    /// Ground this near is always looked at, km.
    const NEAR_KM: f64 = 30.0;
    /// Twice the radius of the line of sight for usual refraction, m.
    const TWICE_RADIUS_M: f64 = 2.0 * 6_371_000.0 / (1.0 - 0.13);
    let (lat_deg, lon_deg) = (tile.south() + 0.5 * TILE_DEG, 0.5 * (tile.west + tile.east));
    let seen = eclipse.quick(&Site::at_sea_level(GeoPoint { lat_deg, lon_deg }));
    let slope = (seen.sun_altitude_deg - LOWER_DEG).to_radians().tan();
    // h = d tan a + d²/2R, solved for d.
    let half = 0.5 * TWICE_RADIUS_M * slope;
    let d_m = (half * half + TWICE_RADIUS_M * (HIGHEST_GROUND_M - LOWEST_M)).sqrt() - half;
    (d_m / 1000.0).max(NEAR_KM)
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The most that the Sun can stand above the skyline, degrees: over a sea horizon as low as the eye's height makes it.
///
/// # Source
/// Refraction at the horizon is 0.57° (Bennett's formula); the dip of the sea horizon is 0.0293° times the root of the
/// height in metres (navigators' tables, 1.76′ √m, from memory), here over a sea as deep as the lowest dry ground, −430 m.
pub(super) fn most_margin_deg(sun_altitude_deg: f64, elevation_m: f64) -> f64 {
    sun_altitude_deg + 0.7 + 0.032 * (elevation_m + 450.0).max(0.0).sqrt()
}

/// Slope of the ground at a place from the four heights one sample north, south, west and east; `None` where one is missing.
///
/// # Units
/// Degrees from level.
/// # Errors
/// [`TerrainError::Unreadable`].
/// # Source
/// Central differences, L. W. Zevenbergen and C. R. Thorne, Earth Surface Processes and Landforms 12 (1987) 47-56.
pub fn slope_deg(terrain: &Terrain, lat_deg: f64, lon_deg: f64) -> Result<Option<f64>, TerrainError> {
    slope_on(&mut Ground::default(), terrain, lat_deg, lon_deg)
}

/// As [`slope_deg`], for places one after the other.
fn slope_on(under: &mut Ground, terrain: &Terrain, lat_deg: f64, lon_deg: f64) -> Result<Option<f64>, TerrainError> {
    let step = terrain.finest_step_deg();
    let stretch = lat_deg.to_radians().cos().max(1e-6);
    let mut at = |north: f64, east: f64| -> Result<Option<f64>, TerrainError> {
        let height = under.height_m(terrain, lat_deg + north * step, lon_deg + east * step / stretch)?;
        Ok(Some(height).filter(|h| !h.is_nan()))
    };
    let (Some(n), Some(s), Some(w), Some(e)) = (at(1.0, 0.0)?, at(-1.0, 0.0)?, at(0.0, -1.0)?, at(0.0, 1.0)?) else {
        return Ok(None);
    };
    let run_m = 2.0 * step * METRES_PER_DEG;
    Ok(Some(((n - s) / run_m).hypot((e - w) / run_m).atan().to_degrees()))
}
