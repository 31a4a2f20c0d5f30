//! Distances and directions on the WGS 84 ellipsoid (Karney 2013, J. Geodesy 87, 43, through `geographiclib-rs`).

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};
use noonfall_ephemeris::GeoPoint;
use noonfall_ephemeris::angle::{wrap_180, wrap_360};
use std::sync::LazyLock;

static WGS84: LazyLock<Geodesic> = LazyLock::new(Geodesic::wgs84);

/// Length of the geodesic between two places, km.
/// ```
/// use noonfall_shadow::geodesy::distance_km;
/// use noonfall_ephemeris::GeoPoint;
/// // One degree of latitude at the equator is 110.574 km (WGS 84).
/// let d = distance_km(GeoPoint { lat_deg: 0.0, lon_deg: 0.0 }, GeoPoint { lat_deg: 1.0, lon_deg: 0.0 });
/// assert!((d - 110.574).abs() < 0.001);
/// ```
pub fn distance_km(a: GeoPoint, b: GeoPoint) -> f64 {
    let metres: f64 = WGS84.inverse(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg);
    metres / 1000.0
}

/// Azimuth at `a` of the geodesic to `b`, degrees from north through east in [0, 360).
pub fn bearing_deg(a: GeoPoint, b: GeoPoint) -> f64 {
    let (azimuth, _, _): (f64, f64, f64) = WGS84.inverse(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg);
    wrap_360(azimuth)
}

/// The place reached from `a` along an azimuth.
///
/// # Units
/// Degrees from north through east; kilometres.
pub fn destination(a: GeoPoint, bearing_deg: f64, distance_km: f64) -> GeoPoint {
    let (lat_deg, lon_deg): (f64, f64) = WGS84.direct(a.lat_deg, a.lon_deg, bearing_deg, distance_km * 1000.0);
    GeoPoint { lat_deg, lon_deg: wrap_180(lon_deg) }
}

/// The compass point of an azimuth in words of one to three letters: `N`, `NNE`, `NE`, …
pub fn compass_point(azimuth_deg: f64) -> &'static str {
    const POINTS: [&str; 16] =
        ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];
    let index = (wrap_360(azimuth_deg) / 22.5).round() as usize % 16;
    POINTS[index]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back() {
        let start = GeoPoint { lat_deg: -45.0, lon_deg: 179.5 };
        let there = destination(start, 80.0, 250.0);
        assert!(there.lon_deg < 0.0, "across the date line");
        assert!((distance_km(start, there) - 250.0).abs() < 1e-9);
        assert!((bearing_deg(start, there) - 80.0).abs() < 1e-9);
    }

    #[test]
    fn compass_points() {
        for (azimuth, point) in [(0.0, "N"), (359.0, "N"), (33.0, "NNE"), (90.0, "E"), (225.0, "SW")] {
            assert_eq!(compass_point(azimuth), point);
        }
    }
}
