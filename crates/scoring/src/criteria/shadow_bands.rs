//! The outlook for shadow bands.

use super::Criterion;
use crate::utility::Curve;

pub(super) const CRITERION: Criterion = Criterion {
    name: "shadow_bands",
    require: "shadow_bands",
    label: "Shadow-band outlook",
    unit: "",
    about: "Relative outlook for shadow bands from 0 to 1: an ordering of places, not a calibrated probability.",
    default_wish: |_| Curve::rising(0.0, 1.0),
    value: |c| c.shadow_bands,
    missing: "no shadow-band outlook for the place",
};

/// Relative shadow-band outlook, 0 to 1: an ordering, not a calibrated probability.
///
/// Grows as the Sun is lower, with the 0.6th power of the slant path through the turbulent air: the exponent of
/// sec ζ in a fit to the weak-scintillation contrast of a 1–10″ crescent, good to 5 % up to ζ = 60° and used
/// beyond that only as an ordering. The slant path is taken in a shell, so that it stays finite at the horizon, and
/// the outlook is scaled so that a Sun on the horizon gives 1. 0 with the Sun at or below the horizon.
///
/// # Units
/// Altitude in degrees.
///
/// ```
/// use noonfall_scoring::criteria::shadow_bands::outlook;
/// assert!(outlook(10.0) > outlook(60.0));
/// assert_eq!(outlook(-1.0), 0.0);
/// ```
pub fn outlook(sun_altitude_deg: f64) -> f64 {
    if sun_altitude_deg <= 0.0 {
        return 0.0;
    }
    let slant = slant_path(sun_altitude_deg);
    (slant / slant_path(0.0)).powf(0.6).clamp(0.0, 1.0)
}

/// Slant path through a uniform shell of 10 km on a sphere of 6371 km, in units of the vertical path.
fn slant_path(altitude_deg: f64) -> f64 {
    let shell = 6371.0 / 10.0;
    let sine = altitude_deg.to_radians().sin();
    (shell * shell * sine * sine + 2.0 * shell + 1.0).sqrt() - shell * sine
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lower_sun_gives_the_better_outlook() {
        let outlooks: Vec<f64> = (0..=90).map(|a| outlook(f64::from(a).max(0.01))).collect();
        assert!(outlooks.windows(2).all(|w| w[1] < w[0]));
        assert!(outlooks.iter().all(|o| (0.0..=1.0).contains(o)));
    }

    #[test]
    fn the_slant_path_is_the_secant_away_from_the_horizon() {
        // Plane-parallel closed form: 1 / sin(altitude); the shell's curvature takes about 0.2 % off at 30 degrees.
        assert!((slant_path(90.0) - 1.0).abs() < 1e-12);
        assert!((slant_path(30.0) - 2.0).abs() < 0.01);
    }
}
