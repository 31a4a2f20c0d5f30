//! Any drawing (an SVG document) as a PDF page of its own size: text stays text, fonts embedded, tagged, with title and description.

use std::fmt::Write as _;

use chrono::{Datelike, NaiveDate};

use crate::brief::TypesetError;
use crate::brief::typeset::{Room, drawable};

/// A drawing as a one-page PDF.
///
/// The page has the drawing's size (one unit of it is one CSS pixel, 1/96 inch). `date` is written into the metadata, so that the same input
/// gives the same bytes.
///
/// # Errors
/// [`TypesetError`], if the SVG cannot be read or the page cannot be set.
pub fn map_pdf(svg: &str, title: &str, description: &str, date: NaiveDate) -> Result<Vec<u8>, TypesetError> {
    let tree = resvg::usvg::Tree::from_str(svg, &resvg::usvg::Options::default())
        .map_err(|error| TypesetError::Picture { which: "drawing".into(), reason: error.to_string() })?;
    let (width, height) = (f64::from(tree.size().width()) * 0.75, f64::from(tree.size().height()) * 0.75);
    let mut template = String::new();
    let _ = write!(
        template,
        "#let data = json(\"data.json\")\n\
         #set document(title: data.title, author: \"noonfall\", date: datetime(year: {}, month: {}, day: {}))\n\
         #set page(width: {width:.4}pt, height: {height:.4}pt, margin: 0pt)\n\
         #set text(font: (\"Noto Sans\", \"Noto Sans Math\", \"Noto Sans Arabic\", \"Noto Sans Hebrew\", \"DejaVu Sans\"), lang: \"en\")\n\
         #image(\"drawing.svg\", width: 100%, height: 100%, alt: data.description)\n",
        date.year(),
        date.month(),
        date.day()
    );
    let data = serde_json::json!({ "title": drawable(title), "description": drawable(description) });
    let room = Room::new(
        &template,
        [("data.json".to_owned(), serde_json::to_vec(&data)?), ("drawing.svg".to_owned(), drawable(svg).into_bytes())],
    )?;
    let document = room.set()?;
    if document.pages().len() != 1 {
        return Err(TypesetError::Pages { found: document.pages().len(), wanted: 1 });
    }
    crate::brief::write_pdf(&document, title)
}
