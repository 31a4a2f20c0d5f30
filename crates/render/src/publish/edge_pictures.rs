//! The Moon's edge at the contacts, for page and brief.

use crate::report::EdgePicture;
use noonfall_drawing::chart::edge_strip::{EdgeDrawing, Note, edge_strip, in_words};
use noonfall_drawing::chart::{ChartError, ChartPage};
use noonfall_drawing::svg::FontEmbedding;
use noonfall_scoring::outlook::edge_strip::EdgeStrip;

/// For the page, a drawing that a phone can show; letters from the page.
pub(super) fn for_page<'a>(
    strips: impl Iterator<Item = Option<&'a [EdgeStrip; 2]>>,
) -> Result<Vec<Option<EdgePicture>>, ChartError> {
    let picture = |(place, strips): (usize, Option<&[EdgeStrip; 2]>)| {
        let Some(strips) = strips else { return Ok(None) };
        let page = ChartPage {
            fonts: FontEmbedding::FromPage,
            heading: false,
            ..ChartPage::new(&format!("edge-{place}"), 380.0, 400.0)
        };
        let EdgeDrawing { svg, note } = edge_strip(&page, strips, Note::Beside)?;
        Ok(Some(EdgePicture { svg, words: strips.iter().map(in_words).chain([note]).collect() }))
    };
    strips.enumerate().map(picture).collect()
}

/// For the brief, low and wide: a point of the page to a unit.
pub(super) fn for_brief(place: usize, strips: &[EdgeStrip; 2]) -> Result<String, ChartError> {
    let page = ChartPage { text: 8.0, heading: false, ..ChartPage::new(&format!("brief-edge-{place}"), 533.0, 112.0) };
    Ok(edge_strip(&page, strips, Note::InDrawing)?.svg)
}
