//! From the celestial to the terrestrial frame: IAU 2006/2000A precession–nutation, Earth rotation angle, no polar motion.
//!
//! The rotations come from the SOFA routines (`c2i06a`, `era00`); the celestial intermediate frame depends on TT alone,
//! so ΔT enters in one place only, the Earth rotation angle.

use crate::angle::wrap_360;
use crate::constants::EARTH_ROTATION_RAD_S;
use crate::time_scales::{J2000_JD, Tt};
use crate::vector::{Mat3, Vec3, rotate, rotate_about_z};

/// Rotation from the celestial frame (GCRS) to the celestial intermediate frame: its third axis is the pole of date,
/// its first the intermediate origin.
pub fn celestial_to_intermediate(tt: Tt) -> Mat3 {
    sofars::pnp::c2i06a(J2000_JD, tt.0 / crate::constants::DAY_S)
}

/// Earth rotation angle, radians, growing without wrapping so that differences are plain subtractions.
///
/// # Source
/// IAU 2000 Resolution B1.8: ERA = 2π (0.779 057 273 264 0 + 1.002 737 811 911 354 48 Tu), Tu in days of UT1 from
/// JD 2 451 545.0.
/// ```
/// use noonfall_ephemeris::{Tt, earth_orientation::earth_rotation_angle_rad};
/// let at_j2000 = earth_rotation_angle_rad(Tt(0.0), 0.0).to_degrees();
/// assert!((at_j2000 - 280.460_618_375_04).abs() < 1e-9);
/// ```
pub fn earth_rotation_angle_rad(tt: Tt, delta_t_s: f64) -> f64 {
    0.779_057_273_264_0 * std::f64::consts::TAU + EARTH_ROTATION_RAD_S * (tt.0 - delta_t_s)
}

/// A celestial direction or vector in the terrestrial frame (ITRS with the pole of date).
pub fn to_terrestrial(celestial: Vec3, tt: Tt, delta_t_s: f64) -> Vec3 {
    let era = earth_rotation_angle_rad(tt, delta_t_s).rem_euclid(std::f64::consts::TAU);
    rotate_about_z(era, rotate(&celestial_to_intermediate(tt), celestial))
}

/// Longitude and latitude of a vector, degrees; longitude in [0, 360).
pub fn spherical_deg(v: Vec3) -> (f64, f64) {
    (wrap_360(v[1].atan2(v[0]).to_degrees()), v[2].atan2(v[0].hypot(v[1])).to_degrees())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SOFA's published test case of `iauC2t06a`: TT JD 2453736.5, UT1 JD 2453736.5, polar motion 2.55060238e-7,
    /// 1.860359247e-6. Without polar motion the elements may differ by no more than that motion.
    #[test]
    #[allow(clippy::excessive_precision)]
    fn agrees_with_the_sofa_test_case() {
        let published = [
            [-0.181_033_212_830_597_11, 0.983_476_913_618_407_04, 6.555_535_638_685_466_874e-5],
            [-0.983_476_913_618_407_04, -0.181_033_212_830_597_11, 5.749_800_844_905_594_11e-4],
        ];
        let tt = Tt::from_julian_date(2_453_736.5);
        for (i, row) in published.iter().enumerate() {
            for (j, &expected) in row.iter().enumerate() {
                let mut axis = [0.0; 3];
                axis[j] = 1.0;
                let found = to_terrestrial(axis, tt, 0.0)[i];
                assert!((found - expected).abs() < 2.5e-6, "row {i}, column {j}: {found}");
            }
        }
    }
}
