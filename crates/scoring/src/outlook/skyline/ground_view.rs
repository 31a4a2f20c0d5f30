//! The ground of an area as pictures need it: its height, and how far above the skyline the Sun stands in totality.

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::{Eclipse, Phase, Site};

use super::{HorizonSearch, RayOptions};
use crate::input::terrain::{Height, Terrain};

/// An eclipse over an elevation model, asked place by place.
#[derive(Debug)]
pub struct GroundView<'a> {
    eclipse: &'a Eclipse,
    terrain: &'a Terrain,
    rays: HorizonSearch<'a>,
}

impl<'a> GroundView<'a> {
    /// The view of an eclipse over a terrain.
    pub fn new(eclipse: &'a Eclipse, terrain: &'a Terrain, options: RayOptions) -> GroundView<'a> {
        GroundView { eclipse, terrain, rays: HorizonSearch::new(terrain, options) }
    }

    /// Height of the ground, m; `None` where it is not known. A file that cannot be read has been told of by then: the
    /// sites of a ranking are asked first.
    pub fn height_m(&self, at: GeoPoint) -> Option<f64> {
        match self.terrain.height(at.lat_deg, at.lon_deg) {
            Ok(Height::Metres(m)) => Some(m),
            _ => None,
        }
    }

    /// The least of the Sun's margins above the skyline at second contact, maximum and third contact of a smooth Moon,
    /// degrees; below 0 it is the first one found. `None` outside the path, with the Sun down, or on unknown ground.
    pub fn margin_deg(&self, at: GeoPoint) -> Option<f64> {
        let elevation_m = self.height_m(at)?;
        let site = Site { lat_deg: at.lat_deg, lon_deg: at.lon_deg, elevation_m };
        let seen = self.eclipse.quick(&site);
        if seen.phase != Phase::Total || seen.sun_altitude_deg <= 0.0 {
            return None;
        }
        let eye = self.rays.viewpoint(at.lat_deg, at.lon_deg).ok()?;
        let half_s = 0.5 * seen.duration_s;
        let mut least = f64::INFINITY;
        for after_s in [0.0, -half_s, half_s] {
            let sun = self.eclipse.view(&site, seen.max.plus(after_s));
            let ray = eye.ray(sun.sun_azimuth_deg).ok()?;
            least = least.min(sun.sun_apparent_altitude_deg - ray.altitude_deg);
            if least < 0.0 {
                break;
            }
        }
        Some(least)
    }
}
