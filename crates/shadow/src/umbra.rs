//! The umbra (or antumbra) on the ground at one instant.

use crate::central_line::{footprint, ground_motion};
use crate::contacts::Cone;
use crate::eclipse::Eclipse;
use crate::geodesy::{bearing_deg, distance_km};
use crate::relation::Station;
use crate::site::Site;
use crate::surface::{ShadowLine, Surface};
use noonfall_ephemeris::{GeoPoint, Tt};

/// Shadow on the ground at sea level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Umbra {
    /// Place under the axis.
    pub centre: GeoPoint,
    /// Longest chord through the centre, km.
    pub major_axis_km: f64,
    /// Shortest chord through the centre, km.
    pub minor_axis_km: f64,
    /// Azimuth of the longest chord, degrees in [0, 180).
    pub major_axis_azimuth_deg: f64,
    /// Speed of the axis over the ground, km/s.
    pub ground_speed_km_s: f64,
    /// Direction in which the shadow moves, degrees from north through east.
    pub ground_azimuth_deg: f64,
}

/// Places on the edge of the umbra at a height above the ellipsoid, in order about the axis. Where the edge misses the
/// Earth those places are left out, so the ring may be open at the terminator.
pub(crate) fn outline(eclipse: &Eclipse, tt: Tt, height_km: f64, points: usize) -> Vec<GeoPoint> {
    let m = eclipse.elements().at(tt);
    let surface = Surface::at_height(eclipse.conventions(), height_km);
    (0..points)
        .filter_map(|k| {
            let angle = std::f64::consts::TAU * k as f64 / points as f64;
            surface.meet(&m, &ShadowLine::generator(&m, Cone::Umbra, angle)).map(|f| f.point)
        })
        .collect()
}

/// The umbra's size, shape and motion, `None` while the axis misses the Earth.
pub(crate) fn umbra(eclipse: &Eclipse, tt: Tt) -> Option<Umbra> {
    const CHORDS: usize = 90;
    let centre = footprint(eclipse, tt)?;
    let (ground_azimuth_deg, ground_speed_km_s) = ground_motion(eclipse, tt)?;
    let ring = outline(eclipse, tt, 0.0, 2 * CHORDS);
    let (major_axis_km, minor_axis_km, major_axis_azimuth_deg) = if ring.len() == 2 * CHORDS {
        let chords = (0..CHORDS).map(|k| (distance_km(ring[k], ring[k + CHORDS]), k));
        let longest = chords.clone().max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0));
        let shortest = chords.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0));
        let azimuth = bearing_deg(centre.point, ring[longest.1]).rem_euclid(180.0);
        (longest.0, shortest.0, azimuth)
    } else {
        // The umbra hangs over the terminator: the flat ellipse of the plane through the centre stands for it.
        let m = eclipse.elements().at(tt);
        let station = Station::new(&Site::at_sea_level(centre.point), eclipse.conventions());
        let sun = station.sun(&m, &station.relation(&m));
        let across = 2.0
            * (m.l2.value - centre.fundamental[2] * m.tan_f2).abs()
            * eclipse.conventions().earth_equatorial_radius_km;
        let sin_altitude = sun.altitude_deg.to_radians().sin().max(1e-3);
        (across / sin_altitude, across, sun.azimuth_deg.rem_euclid(180.0))
    };
    Some(Umbra {
        centre: centre.point,
        major_axis_km,
        minor_axis_km,
        major_axis_azimuth_deg,
        ground_speed_km_s,
        ground_azimuth_deg,
    })
}

impl Eclipse {
    /// The umbra on the ground at an instant, `None` while the axis misses the Earth.
    ///
    /// # Units
    /// Lengths on the ground in kilometres, speed in km/s.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// // On the ground only between the ends of the central line.
    /// let (first, last) = eclipse.central_span().unwrap();
    /// assert!(eclipse.umbra(eclipse.greatest().tt).is_some());
    /// assert!(eclipse.umbra(first.plus(-60.0)).is_none() && eclipse.umbra(last.plus(60.0)).is_none());
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn umbra(&self, tt: Tt) -> Option<Umbra> {
        umbra(self, tt)
    }

    /// Places on the edge of the umbra at a height above the ellipsoid, in order about the axis; fewer than asked for
    /// where the edge misses the Earth.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// use noonfall_shadow::geodesy::distance_km;
    /// // Half of the path's 230 km (NASA/TP-2006-214141) lies between the shadow's short and its long half axis.
    /// let greatest = eclipse.greatest().tt;
    /// let centre = eclipse.umbra(greatest).unwrap().centre;
    /// let edge: Vec<f64> =
    ///     eclipse.umbra_outline(greatest, 0.0, 360).into_iter().map(|place| distance_km(centre, place)).collect();
    /// assert!(edge.iter().any(|&km| km < 115.0) && edge.iter().any(|&km| km > 115.0));
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn umbra_outline(&self, tt: Tt, height_km: f64, points: usize) -> Vec<GeoPoint> {
        outline(self, tt, height_km, points)
    }
}
