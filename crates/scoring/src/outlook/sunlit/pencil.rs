//! The pencil of sight lines towards the Sun: all places see it in one direction of space at one instant.
//!
//! A ray from a place towards the Sun runs in the vertical plane through the Sun. Over a region the size of a block the verticals
//! meet, to 1/20000, in the centre of the sphere that touches the Earth there; so those planes form a pencil about the line through
//! that centre in the Sun's direction. A place has a coordinate across (which plane) and one along (how far towards the Sun), and rays
//! never leave their plane: lines of equal `across` are the rays of all places on them at once.

use crate::outlook::skyline::ray::{A_M, E2};

/// The Sun is taken no higher than this, degrees: towards the zenith the planes would meet within the region. Ground so high over a
/// place is not found on Earth.
const HIGHEST_DEG: f64 = 82.0;

/// The sphere that touches the Earth at the middle of a region.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Centre {
    centre_m: [f64; 3],
    up: [f64; 3],
    north: [f64; 3],
    east: [f64; 3],
    /// Radii of curvature along the meridian and across it, m, and the sphere's.
    radii_m: (f64, f64),
    sphere_m: f64,
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// A place on the ellipsoid, m from the Earth's centre.
fn on_ellipsoid(lat_deg: f64, lon_deg: f64) -> [f64; 3] {
    let (sin_lat, cos_lat) = lat_deg.to_radians().sin_cos();
    let (sin_lon, cos_lon) = lon_deg.to_radians().sin_cos();
    let across = A_M / (1.0 - E2 * sin_lat * sin_lat).sqrt();
    [across * cos_lat * cos_lon, across * cos_lat * sin_lon, across * (1.0 - E2) * sin_lat]
}

impl Centre {
    pub(crate) fn of(lat_deg: f64, lon_deg: f64) -> Centre {
        let (sin_lat, cos_lat) = lat_deg.to_radians().sin_cos();
        let (sin_lon, cos_lon) = lon_deg.to_radians().sin_cos();
        let w2 = 1.0 - E2 * sin_lat * sin_lat;
        let across = A_M / w2.sqrt();
        let along = across * (1.0 - E2) / w2;
        let up = [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat];
        let foot = on_ellipsoid(lat_deg, lon_deg);
        let radius = 2.0 / (1.0 / along + 1.0 / across);
        Centre {
            centre_m: [0, 1, 2].map(|i| foot[i] - radius * up[i]),
            up,
            north: [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
            east: [-sin_lon, cos_lon, 0.0],
            radii_m: (along, across),
            sphere_m: radius,
        }
    }

    /// A place as seen from the sphere's centre, m.
    pub(crate) fn place(&self, lat_deg: f64, lon_deg: f64) -> [f64; 3] {
        let p = on_ellipsoid(lat_deg, lon_deg);
        [0, 1, 2].map(|i| p[i] - self.centre_m[i])
    }

    /// The pencil towards the Sun as it stands at the middle.
    pub(crate) fn pencil(&self, azimuth_deg: f64, altitude_deg: f64) -> Pencil {
        let (sin_az, cos_az) = azimuth_deg.to_radians().sin_cos();
        let (sin_h, cos_h) = altitude_deg.clamp(-HIGHEST_DEG, HIGHEST_DEG).to_radians().sin_cos();
        let level = [0, 1, 2].map(|i| cos_az * self.north[i] + sin_az * self.east[i]);
        let right = [0, 1, 2].map(|i| cos_az * self.east[i] - sin_az * self.north[i]);
        let radius_m = 1.0 / (cos_az * cos_az / self.radii_m.0 + sin_az * sin_az / self.radii_m.1);
        Pencil {
            sun: [0, 1, 2].map(|i| cos_h * level[i] + sin_h * self.up[i]),
            upright: [0, 1, 2].map(|i| cos_h * self.up[i] - sin_h * level[i]),
            right,
            radius_m,
            sphere_m: self.sphere_m,
            across_m: self.sphere_m * cos_h,
            altitude_rad: sin_h.atan2(cos_h),
        }
    }
}

/// The planes of one instant.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pencil {
    sun: [f64; 3],
    upright: [f64; 3],
    right: [f64; 3],
    /// Radius of curvature of the ground towards the Sun, m.
    pub(crate) radius_m: f64,
    sphere_m: f64,
    across_m: f64,
    altitude_rad: f64,
}

impl Pencil {
    /// Metres to the right of the middle's plane, looking towards the Sun, and metres from the middle towards the Sun.
    #[inline]
    pub(crate) fn coordinates(&self, place: [f64; 3]) -> (f64, f64) {
        let (s, u, r) = (dot(place, self.sun), dot(place, self.upright), dot(place, self.right));
        (self.across_m * r.atan2(u), self.sphere_m * (s.atan2(u.hypot(r)) - self.altitude_rad))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geographiclib_rs::{DirectGeodesic, Geodesic};

    /// Geodesics by the library towards a Sun at the altitude and azimuth that each place itself has for it stay on one line, and
    /// distances along it are theirs.
    #[test]
    fn geodesics_towards_the_sun_are_lines_of_the_pencil() {
        for (lat, altitude, azimuth) in [(40.0_f64, 8.0, 285.0), (-44.0, 20.0, 330.0), (65.0, 12.0, 200.0)] {
            let centre = Centre::of(lat, 10.0);
            let pencil = centre.pencil(azimuth, altitude);
            for (dlat, dlon) in [(0.0, 0.0), (0.4, 0.3), (-0.4, 0.4), (0.3, -0.4)] {
                let (place_lat, place_lon) = (lat + dlat, 10.0 + dlon);
                // The Sun's azimuth there, from its direction in space.
                let other = Centre::of(place_lat, place_lon);
                let own = dot(pencil.sun, other.east).atan2(dot(pencil.sun, other.north)).to_degrees();
                let (across, along) = pencil.coordinates(centre.place(place_lat, place_lon));
                for d in [1000.0, 20_000.0, 100_000.0] {
                    let (b_lat, b_lon): (f64, f64) = Geodesic::wgs84().direct(place_lat, place_lon, own, d);
                    let (b_across, b_along) = pencil.coordinates(centre.place(b_lat, b_lon));
                    // Lines draw together towards the Sun's nadir, which the scale across the middle's plane hides.
                    assert!((b_across - across).abs() < 0.3 + d * 2e-4, "{lat} {dlat} {d}: {}", b_across - across);
                    assert!((b_along - along - d).abs() < 0.5 + d * 4e-4, "{lat} {d}: {}", b_along - along - d);
                }
            }
        }
    }
}
