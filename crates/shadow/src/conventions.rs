//! The radii and the figure of the Earth that every number rests on.

use noonfall_ephemeris::constants::{EARTH_INVERSE_FLATTENING, EARTH_RADIUS_KM};
use noonfall_ephemeris::observer::Ellipsoid;
use noonfall_ephemeris::refraction_deg;

/// Constants that a user may override.
#[derive(Clone, Debug, PartialEq)]
pub struct Conventions {
    /// Equatorial radius of the Earth, km.
    pub earth_equatorial_radius_km: f64,
    /// Inverse flattening of the Earth.
    pub earth_inverse_flattening: f64,
    /// Radius of the Sun, km. 696 000 is 959.63″ at 1 au within 0.02″; 696 221 is the eclipse-derived 959.95″.
    pub sun_radius_km: f64,
    /// Radius of the Moon for exterior contacts, in equatorial Earth radii (IAU 1982).
    pub moon_k_exterior: f64,
    /// Radius of the Moon for interior contacts, in equatorial Earth radii (a level of its valleys, not its mean edge).
    pub moon_k_interior: f64,
    /// Air pressure for refraction, hPa.
    pub pressure_hpa: f64,
    /// Air temperature for refraction, °C.
    pub temperature_c: f64,
}

impl Default for Conventions {
    fn default() -> Conventions {
        Conventions {
            earth_equatorial_radius_km: EARTH_RADIUS_KM,
            earth_inverse_flattening: EARTH_INVERSE_FLATTENING,
            sun_radius_km: 696_000.0,
            moon_k_exterior: 0.272_507_6,
            moon_k_interior: 0.272_281,
            pressure_hpa: 1010.0,
            temperature_c: 10.0,
        }
    }
}

/// A constant outside anything physical.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{name} = {value} is out of range; give a value from {low} to {high}")]
pub struct ConventionsError {
    /// Name of the constant, as in a plan.
    pub name: &'static str,
    /// The value given.
    pub value: f64,
    /// Lowest value accepted.
    pub low: f64,
    /// Highest value accepted.
    pub high: f64,
}

impl Conventions {
    /// An airless altitude with refraction, degrees.
    pub fn apparent_altitude_deg(&self, altitude_deg: f64) -> f64 {
        altitude_deg + refraction_deg(altitude_deg, self.pressure_hpa, self.temperature_c)
    }

    /// The figure of the Earth.
    pub fn ellipsoid(&self) -> Ellipsoid {
        Ellipsoid {
            equatorial_radius_km: self.earth_equatorial_radius_km,
            inverse_flattening: self.earth_inverse_flattening,
        }
    }

    /// All constants that are out of range.
    ///
    /// # Errors
    /// One [`ConventionsError`] for each constant that no measurement could support.
    pub fn check(&self) -> Result<(), Vec<ConventionsError>> {
        let ranges = [
            ("earth_equatorial_radius_km", self.earth_equatorial_radius_km, 6300.0, 6450.0),
            ("earth_inverse_flattening", self.earth_inverse_flattening, 290.0, 310.0),
            ("sun_radius_km", self.sun_radius_km, 690_000.0, 700_000.0),
            ("moon_k_exterior", self.moon_k_exterior, 0.27, 0.275),
            ("moon_k_interior", self.moon_k_interior, 0.27, 0.275),
            ("pressure_hpa", self.pressure_hpa, 0.0, 1100.0),
            ("temperature_c", self.temperature_c, -90.0, 60.0),
        ];
        let wrong: Vec<ConventionsError> = ranges
            .into_iter()
            .filter(|&(_, value, low, high)| !(low..=high).contains(&value))
            .map(|(name, value, low, high)| ConventionsError { name, value, low, high })
            .collect();
        if wrong.is_empty() { Ok(()) } else { Err(wrong) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_pass_and_nonsense_is_listed_whole() {
        assert!(Conventions::default().check().is_ok());
        let odd = Conventions { sun_radius_km: f64::NAN, moon_k_interior: 1.0, ..Conventions::default() };
        assert_eq!(odd.check().unwrap_err().len(), 2);
    }
}
