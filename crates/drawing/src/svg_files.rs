//! A drawing as a file for programs of all kinds: some ignore the fonts that it carries and set its words in their own.

use resvg::usvg;

use crate::fonts::{self, Weight};
use crate::raster::{RasterError, options};
use crate::svg::{Num, escape};

/// The drawing with the width of every line of text written beside it, so that a program with other letters makes them narrower
/// or wider and none is cut off or runs into its neighbour (SVG 1.1, `textLength`). Lines in scripts whose letters join are left as they are.
///
/// # Errors
/// [`RasterError::Svg`] if the drawing does not parse.
pub fn with_widths(svg: &str) -> Result<String, RasterError> {
    let document = usvg::roxmltree::Document::parse(svg).map_err(|e| RasterError::Svg(e.to_string()))?;
    let mut out = String::with_capacity(svg.len() + svg.len() / 16);
    let mut done = 0;
    for node in document.descendants().filter(|n| n.has_tag_name("text") && !n.has_attribute("textLength")) {
        let size = node.attribute("font-size").and_then(|v| v.parse::<f64>().ok()).filter(|v| v.is_finite());
        let weight = if node.attribute("font-weight") == Some("700") { Weight::Bold } else { Weight::Regular };
        // A line of several faces has elements inside.
        let (Some(size), Some(words), false) =
            (size, node.text().map(str::trim), node.children().any(|child| child.is_element()))
        else {
            continue;
        };
        let width = fonts::width(words, size, weight);
        let after_name = node.range().start + "<text".len();
        if words.chars().count() > 1 && width > 0.0 {
            out.push_str(&svg[done..after_name]);
            out.push_str(&format!(" textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\"", Num(width)));
            done = after_name;
        }
    }
    out.push_str(&svg[done..]);
    Ok(out)
}

/// The drawing with all text turned into paths, set in the shipped faces. Title and description stay text.
///
/// # Errors
/// [`RasterError::Svg`] if the drawing does not parse.
pub fn outlined(svg: &str) -> Result<String, RasterError> {
    let tree = usvg::Tree::from_str(svg, &options()).map_err(|e| RasterError::Svg(e.to_string()))?;
    let written = tree.to_string(&usvg::WriteOptions {
        preserve_text: false,
        coordinates_precision: 2,
        transforms_precision: 5,
        ..usvg::WriteOptions::default()
    });
    let document = usvg::roxmltree::Document::parse(svg).map_err(|e| RasterError::Svg(e.to_string()))?;
    let said = |name: &str| {
        let node = document.root_element().children().find(|n| n.has_tag_name(name));
        node.and_then(|n| n.text()).map(|words| format!("<{name}>{}</{name}>", escape(words))).unwrap_or_default()
    };
    // Directly inside the outermost element, where screen readers look.
    let Some(end) = written.find("<svg").and_then(|start| written[start..].find('>').map(|e| start + e)) else {
        return Ok(written);
    };
    Ok(format!("{} role=\"img\">{}{}{}", &written[..end], said("title"), said("desc"), &written[end + 1..]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::svg::{Anchor, FontEmbedding, Svg, TextStyle};

    fn drawing() -> String {
        let mut svg = Svg::new(300.0, 60.0, "d", "Title <&>", "Said");
        svg.text(150.0, 20.0, &TextStyle::new(14.0, "#000000").held(Anchor::Middle), "Iiiiii WWWW & others");
        svg.text(10.0, 40.0, &TextStyle::new(14.0, "#000000").strong(), "قرية الشمس");
        svg.finish(FontEmbedding::Embedded)
    }

    /// The boxes of the lines, set by an independent library in faces of ours or, for want of the regular one, in the bold.
    fn widths(svg: &str, bold_for_regular: bool) -> Vec<f32> {
        let mut database = usvg::fontdb::Database::new();
        let faces = fonts::all_faces();
        let kept: Vec<_> = if bold_for_regular { faces[1..].to_vec() } else { faces.to_vec() };
        kept.into_iter().for_each(|face| database.load_font_data(face.to_vec()));
        let options = usvg::Options { fontdb: std::sync::Arc::new(database), ..usvg::Options::default() };
        let tree = usvg::Tree::from_str(svg, &options).unwrap();
        let lines = tree.root().children().iter().filter_map(|node| match node {
            usvg::Node::Text(text) => Some(text.bounding_box().width()),
            _ => None,
        });
        lines.collect()
    }

    #[test]
    fn lines_keep_their_widths_in_other_letters() {
        let plain = drawing();
        let fixed = with_widths(&plain).unwrap();
        assert_eq!(fixed.matches("textLength").count(), 1, "joined letters are left alone: {fixed}");
        let (own, other) = (widths(&plain, false)[0], widths(&plain, true)[0]);
        assert!(other > own * 1.03, "the other letters are wider: {own} {other}");
        let held = widths(&fixed, true)[0];
        assert!((held / own - 1.0).abs() < 0.02, "{own} {other} {held}");
        assert_eq!(with_widths(&fixed).unwrap(), fixed, "once is enough");
    }

    #[test]
    fn outlines_hold_no_text_but_title_and_description() {
        let svg = outlined(&drawing()).unwrap();
        let document = roxmltree::Document::parse(&svg).unwrap();
        assert!(!document.descendants().any(|n| n.has_tag_name("text")) && !svg.contains("font-face"));
        let said = |name| document.descendants().find(|n| n.has_tag_name(name)).and_then(|n| n.text());
        assert_eq!((said("title"), said("desc")), (Some("Title <&>"), Some("Said")));
        let (text, paths) = (crate::raster::png(&drawing(), 1.0).unwrap(), crate::raster::png(&svg, 1.0).unwrap());
        let pixels = |png: &[u8]| resvg::tiny_skia::Pixmap::decode_png(png).unwrap().data().to_vec();
        let (a, b) = (pixels(&text), pixels(&paths));
        let apart = a.iter().zip(&b).filter(|(a, b)| a.abs_diff(**b) > 60).count();
        assert!(a.len() == b.len() && apart * 200 < a.len(), "{apart} of {}", a.len());
    }
}
