//! One page a site, always.
//!
//! The template lowers the size of type and pictures step by step until the page holds (and, should even the smallest step not do, shrinks the
//! whole); the texts were cut to length before. Here the pages are set and counted.

use serde::Serialize;
use typst_layout::PagedDocument;

use super::model::{BriefModel, Picture};
use super::typeset::{Room, TypesetError, drawable};

/// Paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO A4, 210 by 297 mm.
    #[default]
    A4,
    /// US Letter, 8.5 by 11 inches.
    Letter,
}

impl Paper {
    fn name(self) -> &'static str {
        match self {
            Paper::A4 => "a4",
            Paper::Letter => "us-letter",
        }
    }
}

const TEMPLATE: &str = include_str!("page.typ");

/// What the template reads.
#[derive(Serialize)]
struct Data<'a> {
    paper: &'static str,
    title: String,
    pages: &'a [serde_json::Value],
}

/// Sets one page for each model, in order.
pub(crate) fn set(models: &[BriefModel], paper: Paper) -> Result<PagedDocument, TypesetError> {
    let mut files = Vec::new();
    let mut pages = Vec::new();
    for (i, model) in models.iter().enumerate() {
        let mut page = serde_json::to_value(model)?;
        make_drawable(&mut page);
        for (which, picture) in [("map", &model.map), ("sky", &model.sky)] {
            if let Some(Picture { svg, .. }) = picture {
                check_svg(which, svg)?;
                let file = format!("{which}-{i}.svg");
                page[which]["file"] = serde_json::Value::String(file.clone());
                page[which]["aspect"] = serde_json::json!(aspect(svg));
                files.push((file, drawable(svg).into_bytes()));
            }
        }
        pages.push(page);
    }
    let title = match models {
        [one] => one.title.clone(),
        [first, ..] => format!("Briefs for {} sites: {}, {}", models.len(), first.eclipse, first.day),
        [] => String::new(),
    };
    let data = Data { paper: paper.name(), title: drawable(&title), pages: &pages };
    files.push(("data.json".into(), serde_json::to_vec(&data)?));
    let document = Room::new(TEMPLATE, files)?.set()?;
    if document.pages().len() != models.len() {
        return Err(TypesetError::Pages { found: document.pages().len(), wanted: models.len() });
    }
    Ok(document)
}

/// Replaces what no shipped font can draw, in every text of the page.
fn make_drawable(value: &mut serde_json::Value) {
    match value {
        serde_json::Value::String(text) => *text = drawable(text),
        serde_json::Value::Array(items) => items.iter_mut().for_each(make_drawable),
        serde_json::Value::Object(fields) => fields.values_mut().for_each(make_drawable),
        _ => {}
    }
}

fn tree(svg: &str) -> Result<resvg::usvg::Tree, resvg::usvg::Error> {
    resvg::usvg::Tree::from_str(svg, &resvg::usvg::Options::default())
}

fn check_svg(which: &str, svg: &str) -> Result<(), TypesetError> {
    let which = if which == "map" { "regional map" } else { "sky chart" };
    tree(svg).map(|_| ()).map_err(|error| TypesetError::Picture { which: which.into(), reason: error.to_string() })
}

/// Width over height.
fn aspect(svg: &str) -> f64 {
    tree(svg).map_or(1.0, |tree| f64::from(tree.size().width()) / f64::from(tree.size().height()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::palette;

    #[test]
    fn the_page_has_the_colours_of_the_maps() {
        for colour in [palette::INK, palette::QUIET_INK, palette::COAST, palette::SHADE, palette::TOTALITY] {
            assert!(TEMPLATE.contains(&format!("rgb(\"{colour}\")")), "{colour}");
        }
    }
}
