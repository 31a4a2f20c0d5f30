//! The brief as PDF: tagged for screen readers, with title and language, fonts embedded, text selectable, the same bytes for the same input.

use super::fit::{Paper, set};
use noonfall_drawing::page::{TypesetError, pdf};
use noonfall_words::brief::BriefModel;

/// One PDF with one page for each model.
///
/// Written to the rules of PDF/UA-1 (ISO 14289-1).
///
/// # Errors
/// [`TypesetError`], if a picture is not an SVG document or the page cannot be set.
pub fn brief_pdf(models: &[BriefModel], paper: Paper) -> Result<Vec<u8>, TypesetError> {
    let pages = models.iter().map(|model| set(model, paper)).collect::<Result<Vec<_>, _>>()?;
    let title = match models {
        [one] => one.title.clone(),
        [first, ..] => format!("Briefs for {} sites: {}, {}", models.len(), first.eclipse, first.day),
        [] => String::new(),
    };
    let first = models.first();
    let about = pdf::About {
        title: &title,
        language: first.map_or("en", |model| &model.language),
        date: first.map(|model| model.document_date).unwrap_or_default(),
    };
    pdf::write(&pages, &about)
}
