//! The Moon's measured edge as the page carries it.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use noonfall_shadow::moon_edge::CarriedEdge;
use serde::Serialize;

/// Profiles of the edge for the map's area, from which the page computes the contacts of any place; see [`CarriedEdge`].
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct EdgeEntry {
    /// East, north and sunward in the Moon's axes: polynomials of each component, in powers of the elements' scaled time.
    pub axes: [[Vec<f64>; 3]; 3],
    /// Radius of the Sun that belongs with the edge, km.
    pub sun_radius_km: f64,
    /// First instant, seconds past the epoch of the elements.
    pub first_s: f64,
    /// From one instant to the next, seconds.
    pub along_s: f64,
    /// From one offset to the next, radians.
    pub across_rad: f64,
    /// Offsets beside one another.
    pub offsets: u32,
    /// Profiles in base 64, instant by instant, each with its offsets in order.
    pub profiles: Vec<String>,
}

impl EdgeEntry {
    /// As the engine hands it out.
    #[must_use]
    pub fn of(carried: &CarriedEdge) -> EdgeEntry {
        EdgeEntry {
            axes: carried.axes.clone(),
            sun_radius_km: carried.sun_radius_km,
            first_s: carried.first_s,
            along_s: carried.along_s,
            across_rad: carried.across_rad,
            offsets: carried.offsets,
            profiles: carried.profiles.iter().map(|bytes| STANDARD.encode(bytes)).collect(),
        }
    }
}
