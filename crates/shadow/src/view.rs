//! The sky of Sun and Moon at one instant from one place.

use crate::contacts::Snapshot;
use crate::conventions::Conventions;
use crate::obscuration::covered;
use crate::relation::Station;
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::{ARCSEC_PER_RAD, wrap_360};

/// What an observer would measure at an instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// The instant.
    pub tt: Tt,
    /// Airless altitude of the Sun's centre, degrees.
    pub sun_altitude_deg: f64,
    /// The same with refraction.
    pub sun_apparent_altitude_deg: f64,
    /// Azimuth of the Sun's centre from north through east, degrees.
    pub sun_azimuth_deg: f64,
    /// Angular radius of the Sun, arcseconds.
    pub sun_radius_arcsec: f64,
    /// Angular radius of the Moon for exterior contacts, arcseconds.
    pub moon_radius_exterior_arcsec: f64,
    /// Angular radius of the Moon for interior contacts, arcseconds.
    pub moon_radius_interior_arcsec: f64,
    /// Angle between the two centres, arcseconds.
    pub separation_arcsec: f64,
    /// Direction from the Sun's centre to the Moon's, from celestial north through east, degrees.
    pub moon_position_angle_deg: f64,
    /// Position angle of the zenith at the Sun, degrees, in (−180, 180].
    pub parallactic_angle_deg: f64,
    /// Distance of the Sun, km.
    pub sun_distance_km: f64,
    /// Distance of the Moon, km.
    pub moon_distance_km: f64,
}

impl View {
    /// The view from a place.
    pub(crate) fn of(snapshot: &Snapshot, station: &Station, conventions: &Conventions) -> View {
        let (m, r) = (&snapshot.moment, &snapshot.relation);
        let radius_km = conventions.earth_equatorial_radius_km;
        let across = r.distance();
        let to_moon = m.moon_z.value - r.zeta;
        let to_sun = to_moon + m.sun_beyond_moon;
        let (moon_distance, sun_distance) = (across.hypot(to_moon), across.hypot(to_sun));
        let arcsec = |radius: f64, distance: f64| (radius / distance).asin() * ARCSEC_PER_RAD;
        let sun = station.sun(m, r);
        View {
            tt: m.tt,
            sun_altitude_deg: sun.altitude_deg,
            sun_apparent_altitude_deg: conventions.apparent_altitude_deg(sun.altitude_deg),
            sun_azimuth_deg: sun.azimuth_deg,
            sun_radius_arcsec: arcsec(conventions.sun_radius_km / radius_km, sun_distance),
            moon_radius_exterior_arcsec: arcsec(conventions.moon_k_exterior, moon_distance),
            moon_radius_interior_arcsec: arcsec(conventions.moon_k_interior, moon_distance),
            separation_arcsec: (across.atan2(to_moon) - across.atan2(to_sun)) * ARCSEC_PER_RAD,
            moon_position_angle_deg: wrap_360(r.u.atan2(r.v).to_degrees()),
            parallactic_angle_deg: station.parallactic_angle_rad(m, r).to_degrees(),
            sun_distance_km: sun_distance * radius_km,
            moon_distance_km: moon_distance * radius_km,
        }
    }

    /// Local magnitude: the part of the Sun's diameter, along the line of centres, that the Moon's disc has passed over.
    /// Above 1 inside totality, by how far the Moon's edge lies beyond; never negative.
    pub fn magnitude(&self) -> f64 {
        let overlap = self.sun_radius_arcsec + self.moon_radius_exterior_arcsec - self.separation_arcsec;
        (overlap / (2.0 * self.sun_radius_arcsec)).max(0.0)
    }

    /// Part of the Sun's area that is covered. Uses the Moon's exterior radius; in totality (interior radius) it is 1.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// // Perth stays beside the path; Sydney, at maximum, is in it.
    /// let covered = |lat, lon| {
    ///     let site = Site::new(lat, lon, 0.0).unwrap();
    ///     eclipse.view(&site, eclipse.quick(&site).max).obscuration()
    /// };
    /// assert!(covered(-31.95, 115.86) < 0.6 && covered(-33.87, 151.21) == 1.0);
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn obscuration(&self) -> f64 {
        if self.separation_arcsec <= self.moon_radius_interior_arcsec - self.sun_radius_arcsec {
            return 1.0;
        }
        covered(self.sun_radius_arcsec, self.moon_radius_exterior_arcsec, self.separation_arcsec)
    }

    /// Apparent diameter of the Moon (interior radius) over that of the Sun.
    pub fn size_ratio(&self) -> f64 {
        self.moon_radius_interior_arcsec / self.sun_radius_arcsec
    }

    /// Whether the Sun's centre, lifted by refraction, stands above a level horizon.
    pub fn above_horizon(&self) -> bool {
        self.sun_apparent_altitude_deg > 0.0
    }
}
