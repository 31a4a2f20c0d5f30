//! Everything that bounds the region from which any of an eclipse can be seen.

use crate::eclipse::Eclipse;
use crate::penumbral_limits::PenumbralLimit;
use crate::rise_set_curves::RiseSetCurve;
use noonfall_ephemeris::Tt;

/// The outline of the partial eclipse on the Earth, at sea level.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// The penumbra first touches the Earth.
    pub begins: Tt,
    /// It leaves the Earth.
    pub ends: Tt,
    /// Northern and southern limits.
    pub limits: Vec<PenumbralLimit>,
    /// Where the eclipse begins, is greatest or ends at sunrise or sunset.
    pub rise_set: Vec<RiseSetCurve>,
}

impl Outline {
    pub(crate) fn of(eclipse: &Eclipse) -> Option<Outline> {
        let (begins, ends) = eclipse.penumbral_span()?;
        Some(Outline { begins, ends, limits: eclipse.penumbral_limits(), rise_set: eclipse.rise_set_curves() })
    }
}

impl Eclipse {
    /// The outline of the partial eclipse: its limits and the curves of sunrise and sunset.
    pub fn outline(&self) -> Option<Outline> {
        Outline::of(self)
    }
}
