//! The brief as a raster image, for a phone.

use typst_render::RenderOptions;

use super::fit::{Paper, set};
use super::model::BriefModel;
use super::typeset::TypesetError;

/// One page as PNG.
/// # Units
/// `dots_per_inch`: 200 is sharp on a phone and prints well; clamped to 36 … 600.
/// # Errors
/// [`TypesetError`].
pub fn brief_png(model: &BriefModel, paper: Paper, dots_per_inch: f64) -> Result<Vec<u8>, TypesetError> {
    let document = set(std::slice::from_ref(model), paper)?;
    let page = document.pages().first().ok_or(TypesetError::Pages { found: 0, wanted: 1 })?;
    let dots = if dots_per_inch.is_finite() { dots_per_inch.clamp(36.0, 600.0) } else { 200.0 };
    let options = RenderOptions { pixel_per_pt: (dots / 72.0).into(), render_bleed: false };
    typst_render::render(page, &options).encode_png().map_err(|error| TypesetError::Image(error.to_string()))
}
