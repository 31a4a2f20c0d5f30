//! Places as seen from the Earth: light time and the aberration of the moving observer.

use crate::constants::SPEED_OF_LIGHT_KM_S;
use crate::kernel::{Body, Kernel, KernelError, State};
use crate::time_scales::Tt;
use crate::vector::{Vec3, add, norm, scale, sub};

/// A body as seen from the Earth's centre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Apparent {
    /// From the Earth's centre to the place where the body is seen, km, ICRS axes.
    pub position_km: Vec3,
    /// How that place moves against the Earth, km/s.
    pub velocity_km_s: Vec3,
    /// How long the light has been under way, seconds.
    pub light_time_s: f64,
}

/// Where a body is seen from the Earth's centre.
///
/// The body is taken where it was when the light left it; the Earth's own motion during the light's journey is then
/// added, which to first order in v/c is the aberration. The neglected second order, (v/c)² or 0.002″, turns the Sun
/// and the Moon alike and cancels between them. The gravitational bending of light (below 0.01″ for bodies a few degrees
/// from the Sun) is left out.
///
/// # Errors
/// [`KernelError`] if the kernel does not hold the body, or the Earth, at the instant.
/// ```
/// use noonfall_ephemeris::{Body, Kernel, Tt, apparent::from_earth, vector::norm};
/// // 1992 April 12, 0 h: 368 410 km (Meeus, Astronomical Algorithms, example 47.a, from memory).
/// let moon = from_earth(Kernel::embedded(), Body::Moon, Tt::from_calendar(1992, 4, 12, 0.0))?;
/// assert!((norm(moon.position_km) - 368_410.0).abs() < 30.0 && (moon.light_time_s - 1.229).abs() < 0.001);
/// # Ok::<(), noonfall_ephemeris::KernelError>(())
/// ```
pub fn from_earth(kernel: &Kernel, body: Body, tt: Tt) -> Result<Apparent, KernelError> {
    let earth = kernel.state(Body::Earth, tt)?;
    from_earth_at(kernel, body, tt, &earth)
}

/// As [`from_earth`], for a known state of the Earth.
///
/// # Errors
/// As [`from_earth`].
pub fn from_earth_at(kernel: &Kernel, body: Body, tt: Tt, earth: &State) -> Result<Apparent, KernelError> {
    let mut state = kernel.state(body, tt)?;
    // Each round shrinks the error by v/c, 1e-4: three leave nothing.
    for _ in 0..3 {
        let light_time_s = norm(sub(state.position_km, earth.position_km)) / SPEED_OF_LIGHT_KM_S;
        state = kernel.state_after(body, tt, -light_time_s)?;
    }
    let astrometric = sub(state.position_km, earth.position_km);
    let light_time_s = norm(astrometric) / SPEED_OF_LIGHT_KM_S;
    Ok(Apparent {
        position_km: add(astrometric, scale(earth.velocity_km_s, light_time_s)),
        velocity_km_s: sub(state.velocity_km_s, earth.velocity_km_s),
        light_time_s,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::angle::ARCSEC_PER_RAD;
    use crate::vector::angle_between;

    /// The constant of aberration is 20.50″ (IAU 1976); the Sun, which the Earth circles, is displaced by nearly that
    /// much all year: 20.15″ to 20.85″ with the orbit's eccentricity.
    #[test]
    fn the_sun_is_displaced_by_the_constant_of_aberration() {
        let kernel = Kernel::embedded();
        for month in 1..=12 {
            let tt = Tt::from_calendar(2028, month, 15, 0.0);
            let earth = kernel.position_km(Body::Earth, tt).unwrap();
            let sun = sub(kernel.position_km(Body::Sun, tt).unwrap(), earth);
            let shift = angle_between(sun, from_earth(kernel, Body::Sun, tt).unwrap().position_km) * ARCSEC_PER_RAD;
            assert!((20.1..20.9).contains(&shift), "{month}: {shift}");
        }
    }
}
