//! The brief as PDF: tagged for screen readers, with title and language, fonts embedded, text selectable, the same bytes for the same input.

use typst::foundations::Smart;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use super::fit::{Paper, set};
use super::model::BriefModel;
use super::typeset::TypesetError;

/// One PDF with one page for each model.
///
/// Written to the rules of PDF/UA-1 (ISO 14289-1); the writer itself checks those that a program can check and refuses a page that breaks one.
///
/// # Errors
/// [`TypesetError`], if a picture is not an SVG document or the page cannot be set.
pub fn brief_pdf(models: &[BriefModel], paper: Paper) -> Result<Vec<u8>, TypesetError> {
    let document = set(models, paper)?;
    let ident = models.iter().map(|model| model.title.as_str()).collect::<Vec<_>>().join("\n");
    write(&document, &ident)
}

/// Writes a document that was set.
pub(crate) fn write(document: &PagedDocument, ident: &str) -> Result<Vec<u8>, TypesetError> {
    let standards =
        PdfStandards::new(&[PdfStandard::Ua_1]).map_err(|error| TypesetError::Refused(error.message().to_string()))?;
    let options = PdfOptions {
        ident: Smart::Custom(ident.to_owned()),
        creator: Smart::Custom(Some("noonfall".into())),
        timestamp: None,
        standards,
        ..PdfOptions::default()
    };
    typst_pdf::pdf(document, &options).map_err(TypesetError::refused)
}
