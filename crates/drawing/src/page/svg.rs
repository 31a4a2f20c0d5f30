//! A page as SVG: letters drawn as outlines so that the page looks the same everywhere, and over them the same words as transparent text, so
//! that they can be selected, searched and read aloud.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use base64::Engine as _;
use rustybuzz::ttf_parser::{GlyphId, OutlineBuilder};

use super::setting::TextLine;
use super::{Colour, Frame, Node, Segment, Shape};
use crate::fonts;
use crate::svg::{Num, escape};

/// The page as an SVG document of its own.
pub fn write(page: &Frame, title: &str, description: &str) -> String {
    let mut sheet = Sheet::default();
    sheet.nodes(&page.nodes, [0.0; 2], 1.0);
    let (width, height) = (Exact(page.width), Exact(page.height));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" role=\"img\">\
         <title>{}</title><desc>{}</desc><defs>\n{}</defs>\n<rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n\
         <g aria-hidden=\"true\">\n{}</g>\n<g fill-opacity=\"0\" font-family=\"{}\">\n{}</g>\n</svg>\n",
        escape(&fonts::drawable(title)),
        escape(&fonts::drawable(description)),
        sheet.outlines,
        sheet.drawn,
        escape(&fonts::family_stack()),
        sheet.words,
    )
}

/// A length of the page with three decimals: paper is 595.276 points wide.
struct Exact(f64);

impl std::fmt::Display for Exact {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", (self.0 * 1000.0).round() / 1000.0)
    }
}

#[derive(Default)]
struct Sheet {
    /// Glyphs whose outlines are there already, by face and number.
    known: BTreeSet<(usize, u16)>,
    outlines: String,
    drawn: String,
    words: String,
}

impl Sheet {
    fn nodes(&mut self, nodes: &[Node], at: [f64; 2], scale: f64) {
        let spot = |p: [f64; 2]| [at[0] + scale * p[0], at[1] + scale * p[1]];
        for node in nodes {
            match node {
                Node::Group { at: shift, scale: own, nodes, .. } => self.nodes(nodes, spot(*shift), scale * own),
                Node::Text { at, line } => self.line(line, spot(*at), scale),
                Node::Shape(shape) => self.shape(shape, at, scale),
                Node::Picture { at, size, drawing } => {
                    let ([x, y], [w, h]) = (spot(*at), size.map(|side| side * scale));
                    let data = base64::engine::general_purpose::STANDARD.encode(drawing.svg.as_bytes());
                    let _ = writeln!(
                        self.drawn,
                        "<image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" href=\"data:image/svg+xml;base64,{data}\"/>",
                        Num(x),
                        Num(y),
                        Num(w),
                        Num(h)
                    );
                }
            }
        }
    }

    fn shape(&mut self, shape: &Shape, at: [f64; 2], scale: f64) {
        let spot = |p: [f64; 2]| format!("{} {}", Num(at[0] + scale * p[0]), Num(at[1] + scale * p[1]));
        self.drawn.push_str("<path d=\"");
        for segment in &shape.outline {
            let _ = match *segment {
                Segment::Move(p) => write!(self.drawn, "M{}", spot(p)),
                Segment::Line(p) => write!(self.drawn, "L{}", spot(p)),
                Segment::Cubic(a, b, c) => write!(self.drawn, "C{} {} {}", spot(a), spot(b), spot(c)),
                Segment::Close => write!(self.drawn, "Z"),
            };
        }
        let _ = write!(self.drawn, "\" fill=\"{}\"", shape.fill.map_or("none".to_owned(), css));
        if let Some(pen) = shape.pen {
            let _ = write!(self.drawn, " stroke=\"{}\" stroke-width=\"{}\"", css(pen.colour), Num(pen.width * scale));
            if let Some([dash, gap]) = pen.dash {
                let _ = write!(self.drawn, " stroke-dasharray=\"{} {}\"", Num(dash * scale), Num(gap * scale));
            }
        }
        self.drawn.push_str("/>\n");
    }

    fn line(&mut self, line: &TextLine, at: [f64; 2], scale: f64) {
        let size = line.size * scale;
        let clusters: Vec<_> = line.clusters().collect();
        let mut x = 0.0;
        for run in clusters.chunk_by(|a, b| a.face == b.face && a.colour == b.colour) {
            let Some(face) = fonts::face(run[0].face) else { continue };
            let unit = size / f64::from(face.units_per_em().max(1));
            let _ = write!(
                self.drawn,
                "<g transform=\"matrix({unit:.5} 0 0 {:.5} {} {})\" fill=\"{}\">",
                -unit,
                Num(at[0] + x * size),
                Num(at[1]),
                css(run[0].colour)
            );
            let em = f64::from(face.units_per_em());
            let mut within = 0.0;
            for cluster in run {
                for glyph in &cluster.glyphs {
                    if !self.outline(run[0].face, glyph.id) {
                        continue;
                    }
                    let (gx, gy) = ((within + glyph.x) * em, glyph.y * em);
                    let _ =
                        write!(self.drawn, "<use href=\"#g{}-{}\" x=\"{}\"", run[0].face, glyph.id, Num(gx.round()));
                    if gy != 0.0 {
                        let _ = write!(self.drawn, " y=\"{}\"", Num(gy.round()));
                    }
                    self.drawn.push_str("/>");
                }
                within += cluster.advance;
            }
            self.drawn.push_str("</g>\n");
            x += within;
        }
        let text = line.text();
        if !text.trim().is_empty() {
            let _ = writeln!(
                self.words,
                "<text x=\"{}\" y=\"{}\" font-size=\"{}\" textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\">{}</text>",
                Num(at[0]),
                Num(at[1]),
                Num(size),
                Num(line.width * scale),
                escape(text.trim_end())
            );
        }
    }

    /// Makes sure that a glyph's outline can be used; false for one without ink.
    fn outline(&mut self, place: usize, glyph: u16) -> bool {
        let mut data = Outline::default();
        let ink = fonts::face(place).and_then(|face| face.outline_glyph(GlyphId(glyph), &mut data)).is_some();
        if ink && self.known.insert((place, glyph)) {
            let _ = writeln!(self.outlines, "<path id=\"g{place}-{glyph}\" d=\"{}\"/>", data.0);
        }
        ink
    }
}

fn css(colour: Colour) -> String {
    let [r, g, b] = colour.0;
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// The `d` attribute of a glyph's outline, in units of the face.
#[derive(Default)]
struct Outline(String);

impl OutlineBuilder for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        let _ = write!(self.0, "M{x} {y}");
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let _ = write!(self.0, "L{x} {y}");
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let _ = write!(self.0, "Q{x1} {y1} {x} {y}");
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let _ = write!(self.0, "C{x1} {y1} {x2} {y2} {x} {y}");
    }

    fn close(&mut self) {
        self.0.push('Z');
    }
}
