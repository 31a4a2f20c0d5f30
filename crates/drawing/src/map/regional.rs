//! The country around a place, or of an area.

use super::{MapError, MapSheet, sheet::compose};
use crate::projection::Frame;
use noonfall_ephemeris::GeoPoint;

/// Drawing units kept free around an area.
const REGION_MARGIN: f64 = 6.0;

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

/// Draws the country that holds all of some points.
///
/// # Errors
/// [`MapError`] if there are none, or no room is left on the page.
pub fn region_of(sheet: &MapSheet<'_>, points: &[GeoPoint]) -> Result<String, MapError> {
    compose(sheet, true, |window| Frame::fit(points, window, REGION_MARGIN))
}
