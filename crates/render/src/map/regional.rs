//! The country around a place.

use super::{MapError, MapSheet, sheet::compose};
use crate::projection::Frame;
use noonfall_ephemeris::GeoPoint;

/// What a regional map is centred on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// The middle of the map.
    pub centre: GeoPoint,
    /// Kilometres from there to the map's nearer edges.
    pub reach_km: f64,
}

/// Draws the country around a place.
///
/// # Errors
/// [`MapError`] if the reach is not positive, or no room is left on the page.
pub fn regional(sheet: &MapSheet<'_>, view: View) -> Result<String, MapError> {
    compose(sheet, true, |window| Frame::around(view.centre, view.reach_km, window))
}
