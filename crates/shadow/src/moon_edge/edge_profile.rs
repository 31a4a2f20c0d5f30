//! The edge all round, for drawing and for looking at.

use super::heights::{DATUM_KM, MoonHeights};
use super::orientation::MoonAxes;
use super::skyline::Skyline;
use super::true_contacts::Scene;
use crate::eclipse::Eclipse;
use crate::site::Site;
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::ARCSEC_PER_RAD;
use std::f64::consts::TAU;

/// One direction of the edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgePoint {
    /// Position angle about the Moon's centre, from celestial north through east, degrees in [0, 360).
    pub position_angle_deg: f64,
    /// Height of the edge over that of a sphere of 1737.4 km about the Moon's centre of mass, km.
    pub height_km: f64,
    /// The same as seen from the place, arcseconds.
    pub height_arcsec: f64,
}

impl Eclipse {
    /// The Moon's edge as seen from a place, every so many degrees (from 0.01 to 90) from celestial north through east.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// use noonfall_shadow::moon_edge::MoonHeights;
    /// let sydney = Site::new(-33.87, 151.21, 0.0).unwrap();
    /// let edge = eclipse.edge_profile(&sydney, MoonHeights::embedded(), eclipse.quick(&sydney).max, 1.0);
    /// // Mountains of the edge reach some 6 km, valleys 5 km (Watts' charts, from memory).
    /// assert!(edge.len() == 360 && edge.iter().all(|point| point.height_km.abs() < 8.0));
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn edge_profile(&self, site: &Site, heights: &MoonHeights, tt: Tt, step_deg: f64) -> Vec<EdgePoint> {
        self.edge_profile_where(site, heights, tt, step_deg, |_, _| true)
    }

    /// As [`Eclipse::edge_profile`], only the directions that are wanted: asked for each are its number and its position angle
    /// in degrees.
    pub fn edge_profile_where(
        &self,
        site: &Site,
        heights: &MoonHeights,
        tt: Tt,
        step_deg: f64,
        wanted: impl Fn(usize, f64) -> bool,
    ) -> Vec<EdgePoint> {
        let axes = MoonAxes::of(self.elements());
        let sight = Scene::new(self, site, &axes).sky(tt).sight;
        let mut skyline = Skyline::new(heights, sight);
        let step_deg = if step_deg.is_finite() { step_deg.clamp(0.01, 90.0) } else { 1.0 };
        let count = (360.0 / step_deg).round() as usize;
        let mut point = |k: usize, position_angle_deg: f64| {
            let (summit, _) = skyline.summit(TAU * k as f64 / count as f64, f64::INFINITY);
            // The sphere whose edge stands so high: sin of the angle is R / D.
            let radius_km = sight.distance_km * summit.tangent.atan().sin();
            let datum = (DATUM_KM / sight.distance_km).asin();
            EdgePoint {
                position_angle_deg,
                height_km: radius_km - DATUM_KM,
                height_arcsec: (summit.tangent.atan() - datum) * ARCSEC_PER_RAD,
            }
        };
        let directions = (0..count).map(|k| (k, 360.0 * k as f64 / count as f64));
        directions.filter(|&(k, angle)| wanted(k, angle)).map(|(k, angle)| point(k, angle)).collect()
    }
}
