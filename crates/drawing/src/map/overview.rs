//! The whole path, or the part of it that holds the sites, on one page.

use super::{Extent, MapError, MapSheet, sheet::compose};
use crate::projection::{Frame, ProjectionError};
use noonfall_ephemeris::GeoPoint;
use std::cell::RefCell;

/// Draws the whole path with all sites, or the part of it where the sites are, as the sheet says.
///
/// # Errors
/// [`MapError`] if there is neither path nor site, or no room on the page.
pub fn overview(sheet: &MapSheet<'_>) -> Result<String, MapError> {
    overview_with_frame(sheet).map(|(svg, _)| svg)
}

/// As [`overview`], with the frame that leads from a point of the drawing back to a place.
///
/// # Errors
/// As [`overview`].
pub fn overview_with_frame(sheet: &MapSheet<'_>) -> Result<(String, Frame), MapError> {
    let mut shown: Vec<GeoPoint> = sheet.sites.iter().map(|s| s.point).collect();
    let spare = if sheet.extent == Extent::Sites && !shown.is_empty() {
        // Room for labels on both sides, and for some of the path beyond the outermost sites.
        Some(sheet.page.text * if sheet.page.width > 50.0 * sheet.page.text { 6.0 } else { 4.0 })
    } else {
        for line in sheet.path.polygon.iter().chain(&sheet.path.central_line) {
            // The extent needs no more than a point every so often; the ends always count.
            let every = (line.len() / 200).max(1);
            shown.extend(line.iter().step_by(every));
            shown.extend(line.last());
        }
        None
    };
    // A base from which a link leads into the map belongs on it.
    let linked = |base: &&super::MapBase| sheet.links.iter().any(|link| link.from == base.point);
    shown.extend(sheet.base.as_ref().filter(linked).map(|base| base.point));
    let kept = RefCell::new(None);
    let svg = compose(sheet, false, |window| {
        let margin = spare.map_or(sheet.page.text * 2.0, |spare| spare.min(window.height / 5.0));
        let frame = Frame::fit(&shown, window, margin)?;
        *kept.borrow_mut() = Some(frame.clone());
        Ok(frame)
    })?;
    // A drawing that was composed had its frame fitted.
    let frame = kept.into_inner().ok_or(ProjectionError::NothingToShow)?;
    Ok((svg, frame))
}
