//! A place on the Earth.

use noonfall_ephemeris::{GeoPoint, GeoPointError};

/// A place with its height above the ellipsoid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Site {
    /// Geodetic latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east, in (−180, 180].
    pub lon_deg: f64,
    /// Height above the ellipsoid, metres.
    pub elevation_m: f64,
}

/// Why numbers do not make a place.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SiteError {
    /// Latitude or longitude out of range.
    #[error(transparent)]
    Point(#[from] GeoPointError),
    /// Elevation that no ground or aircraft reaches.
    #[error("{0} m is not an elevation; give metres above sea level from -500 to 30000")]
    Elevation(f64),
}

impl Site {
    /// A checked place.
    ///
    /// # Errors
    /// [`SiteError`] if a value is out of range or not a number.
    /// ```
    /// use noonfall_shadow::Site;
    /// assert!(Site::new(-18.23, 127.67, 420.0).is_ok());
    /// assert!(Site::new(0.0, 0.0, 1e7).is_err());
    /// ```
    pub fn new(lat_deg: f64, lon_deg: f64, elevation_m: f64) -> Result<Site, SiteError> {
        let point = GeoPoint::new(lat_deg, lon_deg)?;
        if !(-500.0..=30_000.0).contains(&elevation_m) {
            return Err(SiteError::Elevation(elevation_m));
        }
        Ok(Site { lat_deg: point.lat_deg, lon_deg: point.lon_deg, elevation_m })
    }

    /// A place at sea level.
    pub fn at_sea_level(point: GeoPoint) -> Site {
        Site { lat_deg: point.lat_deg, lon_deg: point.lon_deg, elevation_m: 0.0 }
    }

    /// The place without its height.
    pub fn point(&self) -> GeoPoint {
        GeoPoint { lat_deg: self.lat_deg, lon_deg: self.lon_deg }
    }
}
