//! Any drawing (an SVG document) as a PDF page of its own size: text stays text, fonts embedded, tagged, with title and description.

use chrono::NaiveDate;

use crate::page::{Drawing, Frame, Node, TypesetError, pdf};

/// Points to a CSS pixel (1/96 inch).
const POINTS: f64 = 0.75;

/// A drawing as a one-page PDF.
///
/// The page has the drawing's size (one unit of it is one CSS pixel, 1/96 inch). `date` is written into the metadata, so that the same input
/// gives the same bytes.
///
/// # Errors
/// [`TypesetError`], if the SVG cannot be read or a font cannot be embedded.
pub fn map_pdf(svg: &str, title: &str, description: &str, date: NaiveDate) -> Result<Vec<u8>, TypesetError> {
    let drawing = Drawing::read("drawing", svg)?;
    let size = drawing.size().map(|side| side * POINTS);
    let mut page = Frame::empty(size[0], size[1]);
    page.nodes.push(Node::Picture { at: [0.0; 2], size, drawing });
    pdf::write(&[page.figure(description)], &pdf::About { title, language: "en", date })
}
