//! What is asked of the Moon's edge.

/// Radius of the Sun that belongs with the Moon's true edge, km: 959.95″ ± 0.05″ at 1 au.
///
/// # Source
/// Quaglia et al. 2021, Astrophys. J. Suppl. 256, 36, from eclipse timings (value from the abstract).
pub const SUN_RADIUS_KM: f64 = 696_221.0;

/// Which Sun passes which edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgeSettings {
    /// Radius of the Sun, km. A larger one asks for a layer above the Sun's edge.
    pub sun_radius_km: f64,
    /// The whole edge is taken lower by so many arcseconds; negative, higher.
    pub lowered_arcsec: f64,
    /// Only points of the Sun's limb count whose position angle lies within the second value of the first, degrees.
    pub facing: Option<(f64, f64)>,
}

impl Default for EdgeSettings {
    fn default() -> EdgeSettings {
        EdgeSettings { sun_radius_km: SUN_RADIUS_KM, lowered_arcsec: 0.0, facing: None }
    }
}
