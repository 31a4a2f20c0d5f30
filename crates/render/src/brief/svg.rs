//! The brief as SVG: it looks the same everywhere, and its words can be selected, searched and read aloud.

use super::fit::{Paper, set};
use noonfall_drawing::page::{TypesetError, svg};
use noonfall_words::brief::BriefModel;

/// One page as an SVG document.
/// # Errors
/// [`TypesetError`].
pub fn brief_svg(model: &BriefModel, paper: Paper) -> Result<String, TypesetError> {
    let page = set(model, paper)?;
    Ok(svg::write(&page, &model.title, &format!("One-page brief for {}", model.place.name)))
}
