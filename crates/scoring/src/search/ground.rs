//! The ground under the points of a search: its height, its slope, and how far above its skyline the Sun stands.

use std::collections::HashMap;
use std::sync::Mutex;

use noonfall_ephemeris::Tt;
use noonfall_shadow::{Eclipse, Site};

use crate::input::terrain::{Height, Terrain, TerrainError};
use crate::outlook::skyline::{HorizonSearch, RayOptions, SunTrack, least_margin_deg};

/// Metres of a degree of latitude on the mean sphere.
const METRES_PER_DEG: f64 = 111_195.0;

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
    /// Least margins found so far, by the bits of latitude and longitude: a tile may be looked at more than once.
    asked: Mutex<HashMap<(u64, u64), f64>>,
}

impl<'a> Skylines<'a> {
    pub fn new(ground: SearchGround<'a>) -> Skylines<'a> {
        Skylines { ground, rays: HorizonSearch::new(ground.terrain, ground.rays), asked: Mutex::default() }
    }

    /// Height of the ground, m; `None` where there is none.
    pub fn height_m(&self, lat_deg: f64, lon_deg: f64) -> Result<Option<f64>, TerrainError> {
        Ok(match self.ground.terrain.height(lat_deg, lon_deg)? {
            Height::Metres(m) => Some(m),
            Height::Void | Height::Missing => None,
        })
    }

    /// Whether the ground is no steeper than was asked; ground whose slope cannot be told is steep.
    pub fn level_enough(&self, lat_deg: f64, lon_deg: f64) -> Result<bool, TerrainError> {
        let Some(most) = self.ground.max_slope_deg else { return Ok(true) };
        Ok(slope_deg(self.ground.terrain, lat_deg, lon_deg)?.is_some_and(|slope| slope <= most))
    }

    /// The least height of the Sun's centre above the skyline from second to third contact, degrees; kept once found.
    pub fn margin_deg(&self, eclipse: &Eclipse, site: &Site, c2: Tt, max: Tt, c3: Tt) -> Result<f64, TerrainError> {
        let key = (site.lat_deg.to_bits(), site.lon_deg.to_bits());
        let known = self.asked.lock().unwrap_or_else(|e| e.into_inner()).get(&key).copied();
        if let Some(margin) = known {
            return Ok(margin);
        }
        let eye = self.rays.viewpoint(site.lat_deg, site.lon_deg)?;
        let track = SunTrack::in_totality(eclipse, site, c2, max, c3);
        let margin = track.map_or(Ok(f64::NEG_INFINITY), |track| least_margin_deg(&eye, &track))?;
        self.asked.lock().unwrap_or_else(|e| e.into_inner()).insert(key, margin);
        Ok(margin)
    }

    /// How many points were asked for their skyline, and in how many of them it hides the Sun.
    pub fn tally(&self) -> (u64, u64) {
        let asked = self.asked.lock().unwrap_or_else(|e| e.into_inner());
        (asked.len() as u64, asked.values().filter(|m| **m < 0.0).count() as u64)
    }
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
    let step = terrain.finest_step_deg();
    let stretch = lat_deg.to_radians().cos().max(1e-6);
    let at = |north: f64, east: f64| -> Result<Option<f64>, TerrainError> {
        Ok(match terrain.height(lat_deg + north * step, lon_deg + east * step / stretch)? {
            Height::Metres(m) => Some(m),
            Height::Void | Height::Missing => None,
        })
    };
    let (Some(n), Some(s), Some(w), Some(e)) = (at(1.0, 0.0)?, at(-1.0, 0.0)?, at(0.0, -1.0)?, at(0.0, 1.0)?) else {
        return Ok(None);
    };
    let run_m = 2.0 * step * METRES_PER_DEG;
    Ok(Some(((n - s) / run_m).hypot((e - w) / run_m).atan().to_degrees()))
}
