//! The chance of a clear sky over a tile, from a few nodes.

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::{Eclipse, Site};

use super::Search;
use super::tiles::{TILE_DEG, Tile};
use crate::clouds::SolarTime;
use crate::outlook::cloud::CloudSeason;

/// Nodes of the cloud lattice along each side of a tile.
const NODES: usize = 3;

/// The days of the year around the eclipse, ready to be asked for clouds.
pub(super) struct Seasons<'a> {
    days: Vec<((u32, u32), Vec<CloudSeason<'a>>)>,
}

impl<'a> Seasons<'a> {
    pub fn around(search: &Search<'a>) -> Seasons<'a> {
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
pub(super) struct ClearLattice {
    nodes: [[Option<f64>; NODES]; NODES],
}

impl ClearLattice {
    pub fn over(tile: &Tile, eclipse: &Eclipse, seasons: &Seasons<'_>) -> ClearLattice {
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
    pub fn clear(&self, tile: &Tile, lat: f64, lon: f64) -> Option<f64> {
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
