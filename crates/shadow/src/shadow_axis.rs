//! The axis of the shadow and its two cones at one instant, straight from the ephemeris.
//!
//! The fundamental plane passes through the Earth's centre at right angles to the axis, which runs from the Sun's centre
//! through the Moon's. x points east, y north (along the equator and the pole of date), z towards the Sun. Lengths are in
//! equatorial radii of the Earth. The cones are those that touch both spheres, so a place lies on a cone exactly when the
//! two discs touch there.
//!
//! Light time: both bodies are taken where they are seen from the Earth's centre (see
//! [`noonfall_ephemeris::apparent`]). A place nearer to the Moon by ζ sees it a little later in its course; the Moon
//! moves a kilometre a second against the Earth and light crosses the Earth's radius in 21 ms, so this is up to 21 m. The
//! Sun, 30 times as fast but 390 times as far, adds 1.6 m through the lever of the axis. Both are kept, as a slope of x
//! and y with ζ.
//!
//! Source of the geometry: Explanatory Supplement to the Astronomical Ephemeris (1961), ch. 9, and Chauvenet (1863); the
//! light-time slope is ours and is checked against a rigorous topocentric computation.

use crate::conventions::Conventions;
use noonfall_ephemeris::constants::SPEED_OF_LIGHT_KM_S;
use noonfall_ephemeris::vector::{Mat3, Vec3, cross, dot, norm, rotate, scale, sub, unit};
use noonfall_ephemeris::{Body, Kernel, KernelError, Tt, apparent};

/// Number of quantities that describe the shadow at an instant.
pub const QUANTITIES: usize = 12;

/// The shadow at one instant, in the frame of the celestial intermediate pole and origin, free of ΔT.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShadowAxis {
    /// Axis in the fundamental plane, eastwards, Earth radii.
    pub x: f64,
    /// Axis in the fundamental plane, northwards, Earth radii.
    pub y: f64,
    /// Declination of the axis (of its sunward end), radians.
    pub declination_rad: f64,
    /// Right ascension of the axis from the intermediate origin, radians.
    pub right_ascension_rad: f64,
    /// Distance of the Moon from the fundamental plane, Earth radii.
    pub moon_z: f64,
    /// Distance from the Moon to the Sun, Earth radii.
    pub sun_beyond_moon: f64,
    /// Change of x with ζ, by light time.
    pub x_slope: f64,
    /// Change of y with ζ, by light time.
    pub y_slope: f64,
    /// Radius of the penumbra in the fundamental plane, Earth radii.
    pub l1: f64,
    /// Radius of the umbra in the fundamental plane, Earth radii; negative where the eclipse is total.
    pub l2: f64,
    /// Tangent of the half-angle of the penumbra.
    pub tan_f1: f64,
    /// Tangent of the half-angle of the umbra.
    pub tan_f2: f64,
}

impl ShadowAxis {
    /// The shadow at an instant.
    ///
    /// `to_intermediate` is [`noonfall_ephemeris::earth_orientation::celestial_to_intermediate`] of the same instant; it
    /// is handed in because it changes slowly and costs most of the time.
    ///
    /// # Errors
    /// [`KernelError`] if the kernel does not cover the instant.
    pub fn at(
        kernel: &Kernel,
        tt: Tt,
        to_intermediate: &Mat3,
        conventions: &Conventions,
    ) -> Result<ShadowAxis, KernelError> {
        let earth = kernel.state(Body::Earth, tt)?;
        let sun = apparent::from_earth_at(kernel, Body::Sun, tt, &earth)?;
        let moon = apparent::from_earth_at(kernel, Body::Moon, tt, &earth)?;
        let radius_km = conventions.earth_equatorial_radius_km;
        let place = |v: Vec3| rotate(to_intermediate, scale(v, 1.0 / radius_km));
        let (moon_at, sun_at) = (place(moon.position_km), place(sun.position_km));
        let (moon_velocity, sun_velocity) = (place(moon.velocity_km_s), place(sun.velocity_km_s));

        let from_moon = sub(sun_at, moon_at);
        let sun_beyond_moon = norm(from_moon);
        let towards_sun = unit(from_moon);
        let right_ascension_rad = towards_sun[1].atan2(towards_sun[0]);
        let east = [-right_ascension_rad.sin(), right_ascension_rad.cos(), 0.0];
        let north = cross(towards_sun, east);
        let moon_z = dot(moon_at, towards_sun);

        let sun_radius = conventions.sun_radius_km / radius_km;
        let (k1, k2) = (conventions.moon_k_exterior, conventions.moon_k_interior);
        let sin_f1 = (sun_radius + k1) / sun_beyond_moon;
        let sin_f2 = (sun_radius - k2) / sun_beyond_moon;
        let (cos_f1, cos_f2) = ((1.0 - sin_f1 * sin_f1).sqrt(), (1.0 - sin_f2 * sin_f2).sqrt());
        let (tan_f1, tan_f2) = (sin_f1 / cos_f1, sin_f2 / cos_f2);
        // Seconds that light needs for one Earth radius.
        let radius_s = radius_km / SPEED_OF_LIGHT_KM_S;
        // The axis turns about the Moon as the Sun moves, and about the Sun as the Moon moves.
        let lever = moon_z / sun_beyond_moon;
        let drift = sub(scale(moon_velocity, 1.0 + lever), scale(sun_velocity, lever));
        Ok(ShadowAxis {
            x: dot(moon_at, east),
            y: dot(moon_at, north),
            declination_rad: towards_sun[2].atan2(towards_sun[0].hypot(towards_sun[1])),
            right_ascension_rad,
            moon_z,
            sun_beyond_moon,
            x_slope: dot(drift, east) * radius_s,
            y_slope: dot(drift, north) * radius_s,
            l1: moon_z * tan_f1 + k1 / cos_f1,
            l2: moon_z * tan_f2 - k2 / cos_f2,
            tan_f1,
            tan_f2,
        })
    }

    /// The quantities in a fixed order, for fitting.
    pub(crate) fn to_array(self) -> [f64; QUANTITIES] {
        [
            self.x,
            self.y,
            self.declination_rad,
            self.right_ascension_rad,
            self.moon_z,
            self.sun_beyond_moon,
            self.x_slope,
            self.y_slope,
            self.l1,
            self.l2,
            self.tan_f1,
            self.tan_f2,
        ]
    }

    /// The inverse of [`ShadowAxis::to_array`].
    pub(crate) fn from_array(a: [f64; QUANTITIES]) -> ShadowAxis {
        ShadowAxis {
            x: a[0],
            y: a[1],
            declination_rad: a[2],
            right_ascension_rad: a[3],
            moon_z: a[4],
            sun_beyond_moon: a[5],
            x_slope: a[6],
            y_slope: a[7],
            l1: a[8],
            l2: a[9],
            tan_f1: a[10],
            tan_f2: a[11],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::earth_orientation::celestial_to_intermediate;

    /// Explanatory Supplement (1961): tan f1 and tan f2 of the Sun at its mean distance are about 0.004 67 and 0.004 65.
    #[test]
    fn the_cones_have_the_handbook_opening() {
        let tt = Tt::from_calendar(2028, 7, 22, 2.0 + 56.0 / 60.0);
        let axis =
            ShadowAxis::at(Kernel::embedded(), tt, &celestial_to_intermediate(tt), &Conventions::default()).unwrap();
        assert!((axis.tan_f1 - 0.0046).abs() < 1e-4 && (axis.tan_f2 - 0.0046).abs() < 1e-4, "{axis:?}");
        assert!(axis.l2 < 0.0 && axis.l1 > 0.5, "{axis:?}");
        assert!(axis.x_slope.hypot(axis.y_slope) < 4e-6, "{axis:?}");
    }
}
