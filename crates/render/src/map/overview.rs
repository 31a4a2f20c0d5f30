//! The whole path, or the part of it that holds the sites, on one page.

use super::{Extent, MapError, MapSheet, sheet::compose};
use crate::projection::Frame;
use noonfall_ephemeris::GeoPoint;

/// Draws the whole path with all sites, or the part of it where the sites are, as the sheet says.
///
/// # Errors
/// [`MapError`] if there is neither path nor site, or no room on the page.
pub fn overview(sheet: &MapSheet<'_>) -> Result<String, MapError> {
    let mut shown: Vec<GeoPoint> = sheet.sites.iter().map(|s| s.point).collect();
    if sheet.extent == Extent::Sites && !shown.is_empty() {
        // Room for labels on both sides, and for some of the path beyond the outermost sites.
        let spare = sheet.page.text * if sheet.page.width > 50.0 * sheet.page.text { 6.0 } else { 4.0 };
        return compose(sheet, false, |window| Frame::fit(&shown, window, spare.min(window.height / 5.0)));
    }
    for line in sheet.path.polygon.iter().chain(&sheet.path.central_line) {
        // The extent needs no more than a point every so often; the ends always count.
        let every = (line.len() / 200).max(1);
        shown.extend(line.iter().step_by(every));
        shown.extend(line.last());
    }
    compose(sheet, false, |window| Frame::fit(&shown, window, sheet.page.text * 2.0))
}
