//! A place on the ellipsoid, and what is above its horizon.

use crate::angle::{wrap_180, wrap_360};
use crate::constants::{EARTH_INVERSE_FLATTENING, EARTH_RADIUS_KM};
use crate::vector::{Vec3, dot};

/// A place on the Earth, north and east positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GeoPoint {
    /// Geodetic latitude, degrees, −90 to 90.
    pub lat_deg: f64,
    /// Longitude, degrees east, in (−180, 180].
    pub lon_deg: f64,
}

/// Why a pair of numbers is not a place.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum GeoPointError {
    /// Latitude out of range or not a number.
    #[error("{0} is not a latitude; give degrees from -90 (south) to 90 (north)")]
    Latitude(f64),
    /// Longitude out of range or not a number.
    #[error("{0} is not a longitude; give degrees from -180 (west) to 180 (east), or 0 to 360 eastwards")]
    Longitude(f64),
}

impl GeoPoint {
    /// Unit vector with this latitude and longitude, towards 0° E, 90° E and the north pole: nearest in chord is nearest along
    /// a great circle of the sphere, across the date line and at the poles alike.
    /// ```
    /// let pole = noonfall_ephemeris::GeoPoint { lat_deg: 90.0, lon_deg: 123.0 }.direction();
    /// assert!((pole[2] - 1.0).abs() < 1e-15 && pole[0].abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn direction(self) -> Vec3 {
        let (sin_lat, cos_lat) = self.lat_deg.to_radians().sin_cos();
        let (sin_lon, cos_lon) = self.lon_deg.to_radians().sin_cos();
        [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat]
    }

    /// A checked place; longitudes from 180 to 360 are taken as counted eastwards.
    ///
    /// # Errors
    /// [`GeoPointError`] if a value is out of range or not a number.
    /// ```
    /// use noonfall_ephemeris::GeoPoint;
    /// assert_eq!(GeoPoint::new(-33.9, 190.0).map(|p| p.lon_deg), Ok(-170.0));
    /// assert!(GeoPoint::new(95.0, 0.0).is_err());
    /// ```
    pub fn new(lat_deg: f64, lon_deg: f64) -> Result<GeoPoint, GeoPointError> {
        if !(-90.0..=90.0).contains(&lat_deg) {
            return Err(GeoPointError::Latitude(lat_deg));
        }
        if !(-180.0..=360.0).contains(&lon_deg) {
            return Err(GeoPointError::Longitude(lon_deg));
        }
        Ok(GeoPoint { lat_deg, lon_deg: wrap_180(lon_deg) })
    }
}

/// The figure of the Earth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ellipsoid {
    /// Equatorial radius, km.
    pub equatorial_radius_km: f64,
    /// Inverse flattening, 298.257… for WGS 84.
    pub inverse_flattening: f64,
}

impl Default for Ellipsoid {
    fn default() -> Ellipsoid {
        Ellipsoid { equatorial_radius_km: EARTH_RADIUS_KM, inverse_flattening: EARTH_INVERSE_FLATTENING }
    }
}

impl Ellipsoid {
    /// Ratio of the polar to the equatorial radius, 1 − f.
    /// ```
    /// // WGS 84: 6356.752 over 6378.137 km.
    /// assert!((noonfall_ephemeris::Ellipsoid::default().polar_ratio() - 0.996_647).abs() < 1e-6);
    /// ```
    pub fn polar_ratio(&self) -> f64 {
        1.0 - 1.0 / self.inverse_flattening
    }

    /// Place and height in the terrestrial frame.
    ///
    /// # Units
    /// Degrees and metres in, kilometres out.
    /// ```
    /// use noonfall_ephemeris::{Ellipsoid, GeoPoint};
    /// let pole = Ellipsoid::default().terrestrial_km(GeoPoint::new(90.0, 0.0)?, 0.0);
    /// // WGS 84: the polar radius is 6356.752 km.
    /// assert!((pole[2] - 6356.752_314).abs() < 1e-6);
    /// # Ok::<(), noonfall_ephemeris::GeoPointError>(())
    /// ```
    pub fn terrestrial_km(&self, point: GeoPoint, height_m: f64) -> Vec3 {
        let (sin_lat, cos_lat) = point.lat_deg.to_radians().sin_cos();
        let (sin_lon, cos_lon) = point.lon_deg.to_radians().sin_cos();
        let q = self.polar_ratio() * self.polar_ratio();
        let normal_km = self.equatorial_radius_km / (cos_lat * cos_lat + q * sin_lat * sin_lat).sqrt();
        let height_km = height_m / 1000.0;
        let across = (normal_km + height_km) * cos_lat;
        [across * cos_lon, across * sin_lon, (q * normal_km + height_km) * sin_lat]
    }

    /// The place below a terrestrial position, and the height above it.
    ///
    /// # Units
    /// Kilometres in; degrees and metres out.
    /// # Source
    /// Bowring's iteration on the parametric latitude; converges to a micrometre within three rounds from the Earth's
    /// surface to the Moon.
    /// ```
    /// use noonfall_ephemeris::Ellipsoid;
    /// let (point, height_m) = Ellipsoid::default().geodetic([0.0, 6379.137, 0.0]);
    /// assert!((point.lon_deg - 90.0).abs() < 1e-9 && point.lat_deg.abs() < 1e-9 && (height_m - 1000.0).abs() < 1e-5);
    /// ```
    pub fn geodetic(&self, position_km: Vec3) -> (GeoPoint, f64) {
        let [x, y, z] = position_km;
        let a = self.equatorial_radius_km;
        let b = a * self.polar_ratio();
        let e2 = 1.0 - self.polar_ratio() * self.polar_ratio();
        let second_e2 = e2 / (1.0 - e2);
        let across = x.hypot(y);
        let mut parametric = (z * a).atan2(across * b);
        let mut lat = 0.0;
        for _ in 0..4 {
            let (s, c) = parametric.sin_cos();
            lat = (z + second_e2 * b * s * s * s).atan2(across - e2 * a * c * c * c);
            parametric = (self.polar_ratio() * lat.sin()).atan2(lat.cos());
        }
        let (sin_lat, cos_lat) = lat.sin_cos();
        let height_km = across * cos_lat + z * sin_lat - a * (1.0 - e2 * sin_lat * sin_lat).sqrt();
        let point = GeoPoint { lat_deg: lat.to_degrees(), lon_deg: wrap_180(y.atan2(x).to_degrees()) };
        (point, height_km * 1000.0)
    }
}

/// Direction above the horizon of a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Horizontal {
    /// Airless altitude, degrees.
    pub altitude_deg: f64,
    /// Azimuth from north through east, degrees in [0, 360).
    pub azimuth_deg: f64,
}

/// The local north, east and zenith directions in the terrestrial frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocalAxes {
    /// Towards the horizon's north.
    pub north: Vec3,
    /// Towards the horizon's east.
    pub east: Vec3,
    /// Along the outward normal of the ellipsoid.
    pub zenith: Vec3,
}

impl LocalAxes {
    /// The axes of a place.
    pub fn at(point: GeoPoint) -> LocalAxes {
        let (sin_lat, cos_lat) = point.lat_deg.to_radians().sin_cos();
        let (sin_lon, cos_lon) = point.lon_deg.to_radians().sin_cos();
        LocalAxes {
            north: [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
            east: [-sin_lon, cos_lon, 0.0],
            zenith: [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
        }
    }

    /// Altitude and azimuth of a terrestrial direction of any length.
    /// ```
    /// use noonfall_ephemeris::{GeoPoint, observer::LocalAxes};
    /// // Half way from the zenith of 0° N 0° E to the celestial pole, which stands on its horizon.
    /// let seen = LocalAxes::at(GeoPoint { lat_deg: 0.0, lon_deg: 0.0 }).horizontal([1.0, 0.0, 1.0]);
    /// assert!((seen.altitude_deg - 45.0).abs() < 1e-9 && seen.azimuth_deg.abs() < 1e-9);
    /// ```
    pub fn horizontal(&self, direction: Vec3) -> Horizontal {
        let (n, e, z) = (dot(self.north, direction), dot(self.east, direction), dot(self.zenith, direction));
        Horizontal { altitude_deg: z.atan2(n.hypot(e)).to_degrees(), azimuth_deg: wrap_360(e.atan2(n).to_degrees()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ERFA's published test of `eraGd2gc` (WGS 84): elongation 3.1 rad, latitude −0.5 rad, height 2500 m.
    #[test]
    fn agrees_with_the_erfa_test_case() {
        let point = GeoPoint { lat_deg: (-0.5_f64).to_degrees(), lon_deg: 3.1_f64.to_degrees() };
        let found = Ellipsoid::default().terrestrial_km(point, 2500.0);
        let published = [-5_599.000_557_704_994, 233.011_672_234_790, -3_040.909_470_698_336];
        for (a, b) in found.iter().zip(published) {
            assert!((a - b).abs() < 1e-8, "{a} {b}");
        }
        let (back, height) = Ellipsoid::default().geodetic(found);
        assert!((back.lat_deg - point.lat_deg).abs() < 1e-10 && (back.lon_deg - point.lon_deg).abs() < 1e-10);
        assert!((height - 2500.0).abs() < 1e-4, "{height}");
    }

    #[test]
    fn a_zenith_is_overhead_and_north_is_at_azimuth_zero() {
        let axes = LocalAxes::at(GeoPoint { lat_deg: -45.0, lon_deg: 168.7 });
        assert!((axes.horizontal(axes.zenith).altitude_deg - 90.0).abs() < 1e-6);
        assert!(axes.horizontal(axes.north).azimuth_deg.abs() < 1e-9);
        assert!((axes.horizontal(axes.east).azimuth_deg - 90.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_not_a_place_is_refused() {
        for (lat, lon) in [(95.0, 0.0), (f64::NAN, 0.0), (0.0, f64::INFINITY), (0.0, -181.0)] {
            assert!(GeoPoint::new(lat, lon).is_err());
        }
    }
}
