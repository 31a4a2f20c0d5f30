//! The brief as SVG: letters drawn as outlines so that the page looks the same everywhere, and over them the same words as transparent text, so
//! that they can be selected, searched and read aloud.

use std::fmt::Write as _;

use typst::layout::{Frame, FrameItem, Point, Transform};
use typst_svg::SvgOptions;

use super::fit::{Paper, set};
use super::model::BriefModel;
use super::typeset::TypesetError;
use crate::svg::escape;

/// One page as an SVG document.
/// # Errors
/// [`TypesetError`].
pub fn brief_svg(model: &BriefModel, paper: Paper) -> Result<String, TypesetError> {
    let document = set(std::slice::from_ref(model), paper)?;
    let page = document.pages().first().ok_or(TypesetError::Pages { found: 0, wanted: 1 })?;
    let drawn = typst_svg::svg(page, &SvgOptions::default());
    let mut words = String::new();
    collect(&page.frame, Transform::identity(), &mut words);
    Ok(with_words(&drawn, &model.title, &format!("One-page brief for {}", model.place.name), &words))
}

/// Puts title, description and the layer of words into a drawn page.
fn with_words(drawn: &str, title: &str, description: &str, words: &str) -> String {
    let head = drawn.find("<svg").and_then(|start| drawn[start..].find('>').map(|end| start + end + 1)).unwrap_or(0);
    let tail = drawn.rfind("</svg>").unwrap_or(drawn.len());
    format!(
        "{}<title>{}</title><desc>{}</desc><g aria-hidden=\"true\">{}</g><g fill-opacity=\"0\" font-family=\"Noto Sans, sans-serif\">{words}</g>{}",
        &drawn[..head],
        escape(title),
        escape(description),
        &drawn[head..tail],
        &drawn[tail..]
    )
}

/// One `text` element for each run of letters, at its place, stretched to its width.
fn collect(frame: &Frame, transform: Transform, out: &mut String) {
    for (position, item) in frame.items() {
        let here = transform.pre_concat(Transform::translate(position.x, position.y));
        match item {
            FrameItem::Group(group) => collect(&group.frame, here.pre_concat(group.transform), out),
            FrameItem::Text(text) if !text.text.trim().is_empty() => {
                let at = Point::zero().transform(here);
                let scale = here.sy.get();
                let _ = write!(
                    out,
                    "<text x=\"{:.2}\" y=\"{:.2}\" font-size=\"{:.2}\" textLength=\"{:.2}\" lengthAdjust=\"spacingAndGlyphs\">{}</text>",
                    at.x.to_pt(),
                    at.y.to_pt(),
                    text.size.to_pt() * scale,
                    text.width().to_pt() * here.sx.get(),
                    escape(&text.text)
                );
            }
            _ => {}
        }
    }
}
