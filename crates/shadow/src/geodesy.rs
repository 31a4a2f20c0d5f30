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
/// ```
/// use noonfall_ephemeris::GeoPoint;
/// use noonfall_shadow::geodesy::bearing_deg;
/// let on_the_equator = |lon_deg| GeoPoint { lat_deg: 0.0, lon_deg };
/// assert!((bearing_deg(on_the_equator(179.0), on_the_equator(-179.0)) - 90.0).abs() < 1e-9);
/// ```
pub fn bearing_deg(a: GeoPoint, b: GeoPoint) -> f64 {
    let (azimuth, _, _): (f64, f64, f64) = WGS84.inverse(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg);
    wrap_360(azimuth)
}

/// Distance of a place from a line of geodesic pieces, km; infinite where the line has no points.
///
/// Worked in the plane of distance and azimuth about the place, in which a geodesic piece is all but straight while it is
/// short: for pieces of 100 km the error is tens of metres.
/// ```
/// use noonfall_ephemeris::GeoPoint;
/// use noonfall_shadow::geodesy::distance_to_line_km;
/// // Half a degree of latitude north of the equator, a degree of which is 110.574 km there (WGS 84).
/// let equator = [-1.0, 1.0].map(|lon_deg| GeoPoint { lat_deg: 0.0, lon_deg });
/// assert!((distance_to_line_km(GeoPoint { lat_deg: 0.5, lon_deg: 0.2 }, &equator) - 55.287).abs() < 0.01);
/// ```
pub fn distance_to_line_km(place: GeoPoint, line: &[GeoPoint]) -> f64 {
    let flat = |p: &GeoPoint| {
        let (km, azimuth_rad) = (distance_km(place, *p), bearing_deg(place, *p).to_radians());
        [km * azimuth_rad.sin(), km * azimuth_rad.cos()]
    };
    let points: Vec<[f64; 2]> = line.iter().map(flat).collect();
    let to_piece = |a: [f64; 2], b: [f64; 2]| {
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let share = -(a[0] * dx + a[1] * dy) / (dx * dx + dy * dy);
        let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
        (a[0] + share * dx).hypot(a[1] + share * dy)
    };
    match points[..] {
        [] => f64::INFINITY,
        [only] => only[0].hypot(only[1]),
        _ => points.windows(2).map(|w| to_piece(w[0], w[1])).fold(f64::INFINITY, f64::min),
    }
}

/// The place reached from `a` along an azimuth.
///
/// # Units
/// Degrees from north through east; kilometres.
/// ```
/// use noonfall_ephemeris::GeoPoint;
/// use noonfall_shadow::geodesy::destination;
/// let found = destination(GeoPoint { lat_deg: 0.0, lon_deg: 20.0 }, 0.0, 110.574);
/// assert!((found.lat_deg - 1.0).abs() < 1e-5 && (found.lon_deg - 20.0).abs() < 1e-9);
/// ```
pub fn destination(a: GeoPoint, bearing_deg: f64, distance_km: f64) -> GeoPoint {
    let (lat_deg, lon_deg): (f64, f64) = WGS84.direct(a.lat_deg, a.lon_deg, bearing_deg, distance_km * 1000.0);
    GeoPoint { lat_deg, lon_deg: wrap_180(lon_deg) }
}

/// The compass point of an azimuth in words of one to three letters: `N`, `NNE`, `NE`, …
/// ```
/// use noonfall_shadow::geodesy::compass_point;
/// assert_eq!((compass_point(326.0), compass_point(359.0)), ("NW", "N"));
/// ```
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
    fn a_line_is_as_far_as_its_nearest_point() {
        let at = |lat_deg: f64, lon_deg: f64| GeoPoint { lat_deg, lon_deg };
        // The equator is a geodesic: from one degree of latitude it is 110.574 km away, wherever its vertices are.
        let equator = [175.5, 176.5, 177.5, 178.5, 179.5, -179.5, -178.5, -177.5].map(|lon_deg| at(0.0, lon_deg));
        assert!((distance_to_line_km(at(1.0, 177.1), &equator) - 110.574).abs() < 0.05);
        assert!((distance_to_line_km(at(1.0, -179.9), &equator) - 110.574).abs() < 0.05);
        // Beyond its end only the end counts.
        let beyond = at(0.0, -171.0);
        assert!((distance_to_line_km(beyond, &equator) - distance_km(beyond, equator[7])).abs() < 1e-9);
        assert_eq!(distance_to_line_km(beyond, &[]), f64::INFINITY);
        assert_eq!(distance_to_line_km(equator[0], &[equator[0], equator[0]]), 0.0);
    }

    #[test]
    fn compass_points() {
        for (azimuth, point) in [(0.0, "N"), (359.0, "N"), (33.0, "NNE"), (90.0, "E"), (225.0, "SW")] {
            assert_eq!(compass_point(azimuth), point);
        }
    }
}
