//! The brief as a raster image, for a phone.

use super::fit::Paper;
use super::svg::brief_svg;
use noonfall_drawing::page::TypesetError;
use noonfall_drawing::raster;
use noonfall_words::brief::BriefModel;

/// One page as PNG.
/// # Units
/// `dots_per_inch`: 200 is sharp on a phone and prints well; clamped to 36 … 600.
/// # Errors
/// [`TypesetError`].
pub fn brief_png(model: &BriefModel, paper: Paper, dots_per_inch: f64) -> Result<Vec<u8>, TypesetError> {
    let dots = if dots_per_inch.is_finite() { dots_per_inch.clamp(36.0, 600.0) } else { 200.0 };
    raster::png(&brief_svg(model, paper)?, dots / 72.0).map_err(|error| TypesetError::Image(error.to_string()))
}
