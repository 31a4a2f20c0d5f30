//! How the Moon passes before the Sun at an instant, by rates: a few numbers, for very many places.

use crate::contacts::Snapshot;
use crate::conventions::Conventions;
use crate::eclipse::Eclipse;
use crate::relation::Station;
use crate::site::Site;
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::ARCSEC_PER_RAD;
use noonfall_ephemeris::vector::{dot, norm};

/// The Moon before the Sun. A [`crate::View`] tells more and takes several times as long.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alignment {
    /// Airless altitude of the Sun's centre, degrees.
    pub sun_altitude_deg: f64,
    /// Angular radius of the Sun, arcseconds.
    pub sun_radius_arcsec: f64,
    /// Angular radius of the Moon for interior contacts, arcseconds.
    pub moon_radius_interior_arcsec: f64,
    /// Angle between the two centres, arcseconds.
    pub separation_arcsec: f64,
    /// Speed of the Moon's centre against the Sun's, arcseconds per second of time.
    pub speed_arcsec_s: f64,
}

impl Alignment {
    pub(crate) fn of(snapshot: &Snapshot, station: &Station, conventions: &Conventions) -> Alignment {
        let (m, r) = (&snapshot.moment, &snapshot.relation);
        let to_moon = m.moon_z.value - r.zeta;
        let to_sun = to_moon + m.sun_beyond_moon;
        let across_2 = r.u * r.u + r.v * r.v;
        // An offset in the fundamental plane is seen under so large an angle at the Moon less that at the Sun; the angles
        // are so small that the tangent serves.
        let scale = 1.0 / to_moon - 1.0 / to_sun;
        let approach = r.zeta_rate - m.moon_z.rate;
        let scale_rate = approach * (1.0 / (to_moon * to_moon) - 1.0 / (to_sun * to_sun));
        let (east, north) = (scale * r.u_rate + scale_rate * r.u, scale * r.v_rate + scale_rate * r.v);
        let sun = station.sun_direction(m, r);
        let radius =
            |radius: f64, distance: f64| (radius / (across_2 + distance * distance).sqrt()).asin() * ARCSEC_PER_RAD;
        Alignment {
            sun_altitude_deg: (dot(station.axes().zenith, sun) / norm(sun)).clamp(-1.0, 1.0).asin().to_degrees(),
            sun_radius_arcsec: radius(conventions.sun_radius_km / conventions.earth_equatorial_radius_km, to_sun),
            moon_radius_interior_arcsec: radius(conventions.moon_k_interior, to_moon),
            separation_arcsec: scale * across_2.sqrt() * ARCSEC_PER_RAD,
            speed_arcsec_s: (east * east + north * north).sqrt() * ARCSEC_PER_RAD,
        }
    }

    /// Apparent diameter of the Moon (interior radius) over that of the Sun.
    pub fn size_ratio(&self) -> f64 {
        self.moon_radius_interior_arcsec / self.sun_radius_arcsec
    }
}

impl Eclipse {
    /// How the Moon passes before the Sun, seen from a place at an instant.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// let sydney = Site::new(-33.87, 151.21, 0.0).unwrap();
    /// let seen = eclipse.alignment(&sydney, eclipse.quick(&sydney).max);
    /// // The Moon is 4 % larger than the Sun and their centres 2″ apart.
    /// assert!((seen.size_ratio() - 1.045).abs() < 0.01 && seen.separation_arcsec < 30.0);
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn alignment(&self, site: &Site, tt: Tt) -> Alignment {
        let station = Station::new(site, self.conventions());
        Alignment::of(&Snapshot::at(self.elements(), &station, tt), &station, self.conventions())
    }
}

#[cfg(test)]
mod tests {
    use crate::eclipse::Eclipse;
    use crate::site::Site;

    /// The view, and differences of views, from places in and beside the path of 2028, Sun low and high.
    #[test]
    fn agrees_with_the_view() {
        let date = "2028-07-22".parse().unwrap();
        let eclipse =
            Eclipse::on_date(noonfall_ephemeris::Kernel::embedded(), date, None, &Default::default()).unwrap();
        for (lat_deg, lon_deg) in [(-15.49, 128.12), (-28.0, 140.0), (-33.87, 151.21), (-45.03, 168.66), (-20.0, 110.0)]
        {
            let site = Site { lat_deg, lon_deg, elevation_m: 300.0 };
            let max = eclipse.local(&site).max.unwrap().tt;
            for after_s in [-600.0, 0.0, 600.0] {
                let tt = max.plus(after_s);
                let (found, view) = (eclipse.alignment(&site, tt), eclipse.view(&site, tt));
                assert!((found.sun_altitude_deg - view.sun_altitude_deg).abs() < 1e-9);
                assert!((found.sun_radius_arcsec - view.sun_radius_arcsec).abs() < 1e-9);
                assert!((found.moon_radius_interior_arcsec - view.moon_radius_interior_arcsec).abs() < 1e-9);
                assert!((found.separation_arcsec - view.separation_arcsec).abs() < 0.02, "{found:?} {view:?}");
                let offset = |seconds: f64| {
                    let view = eclipse.view(&site, tt.plus(seconds));
                    let (sin, cos) = view.moon_position_angle_deg.to_radians().sin_cos();
                    (view.separation_arcsec * cos, view.separation_arcsec * sin)
                };
                let ((n0, e0), (n1, e1)) = (offset(-5.0), offset(5.0));
                let speed = (n1 - n0).hypot(e1 - e0) / 10.0;
                assert!((found.speed_arcsec_s / speed - 1.0).abs() < 1e-4, "{found:?} against {speed}");
            }
        }
    }
}
