//! The tiles that may hold a point of the path.

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::{Eclipse, Phase, Site};
use rayon::prelude::*;

use super::{KM_PER_DEG, SPHERE_EXCESS, Stopped, sphere_km};
use crate::progress::Progress;

/// Height of a tile, degrees; tiles are about as wide as high.
pub(super) const TILE_DEG: f64 = 0.25;
/// The local magnitude changes by at most this much per kilometre on the ground: a step of one kilometre moves the Moon by
/// at most 1/356 000 of a radian (perigee) against a solar diameter of at least 0.009 15 (aphelion). A tenth is added.
const MAGNITUDE_PER_KM: f64 = 1.1 / (356_000.0 * 0.009_15);

/// A tile: a strip of latitude and a span of longitude.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tile {
    pub strip: usize,
    pub west: f64,
    pub east: f64,
}

impl Tile {
    pub fn south(&self) -> f64 {
        -90.0 + TILE_DEG * self.strip as f64
    }
}

/// All tiles that may touch the path, by strip and then from west to east: found from coarse blocks to fine tiles.
pub(super) fn tiles_near_path(eclipse: &Eclipse, progress: &dyn Progress) -> Result<Vec<Tile>, Stopped> {
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

/// Where roads may matter to a search: the tiles that may touch the path, and some way about them.
#[derive(Clone, Debug)]
pub struct NearPath {
    /// Spans of longitude of every strip, ascending.
    strips: Vec<Vec<(f64, f64)>>,
}

impl NearPath {
    /// The neighbourhood of the path of an eclipse, out to a distance from it.
    ///
    /// # Units
    /// Kilometres.
    /// # Errors
    /// [`Stopped`] when the listener wants to stop.
    pub fn of(eclipse: &Eclipse, reach_km: f64, progress: &dyn Progress) -> Result<NearPath, Stopped> {
        let mut strips = vec![Vec::new(); (180.0 / TILE_DEG) as usize];
        let more = (reach_km / KM_PER_DEG / TILE_DEG).ceil() as usize;
        for tile in tiles_near_path(eclipse, progress)? {
            let farthest = (tile.south().abs() + TILE_DEG).min(89.0);
            let wider = reach_km / (KM_PER_DEG * farthest.to_radians().cos());
            let last = (tile.strip + more).min(strips.len() - 1);
            for strip in &mut strips[tile.strip.saturating_sub(more)..=last] {
                strip.push((tile.west - wider, tile.east + wider));
            }
        }
        for strip in &mut strips {
            strip.sort_by(|a, b| a.0.total_cmp(&b.0));
            let mut joined: Vec<(f64, f64)> = Vec::new();
            for &(west, east) in strip.iter() {
                match joined.last_mut() {
                    Some(last) if west <= last.1 => last.1 = last.1.max(east),
                    _ => joined.push((west, east)),
                }
            }
            *strip = joined;
        }
        Ok(NearPath { strips })
    }

    /// Whether a place lies in it.
    pub fn contains(&self, point: GeoPoint) -> bool {
        let strip = ((point.lat_deg + 90.0) / TILE_DEG).max(0.0) as usize;
        let Some(spans) = self.strips.get(strip.min(self.strips.len() - 1)) else { return false };
        let within = |lon: f64| spans[..spans.partition_point(|s| s.0 <= lon)].last().is_some_and(|s| lon <= s.1);
        // Spans about the date line run on beyond it.
        within(point.lon_deg) || within(point.lon_deg - 360.0) || within(point.lon_deg + 360.0)
    }
}
