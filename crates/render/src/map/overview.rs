//! The whole path on one page.

use super::{MapError, MapSheet, sheet::compose};
use crate::projection::Frame;
use noonfall_ephemeris::GeoPoint;

/// Draws the whole path with all sites.
///
/// # Errors
/// [`MapError`] if there is neither path nor site, or no room on the page.
pub fn overview(sheet: &MapSheet<'_>) -> Result<String, MapError> {
    let mut shown: Vec<GeoPoint> = Vec::new();
    for line in sheet.path.polygon.iter().chain(&sheet.path.central_line) {
        // The extent needs no more than a point every so often; the ends always count.
        let every = (line.len() / 200).max(1);
        shown.extend(line.iter().step_by(every));
        shown.extend(line.last());
    }
    shown.extend(sheet.sites.iter().map(|s| s.point));
    compose(sheet, false, |window| Frame::fit(&shown, window, sheet.page.text * 2.0))
}
