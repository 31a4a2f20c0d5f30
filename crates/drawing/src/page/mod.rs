//! A printed page as data: frames of lines of text, shapes and pictures, each part with what it means.
//!
//! Who lays out a page puts frames together ([`Frame::stack`], [`Frame::place`]); lengths are points, y runs downwards. The same frames
//! become a tagged PDF ([`pdf`]) and an SVG document ([`svg`]); a raster image is made from the latter.
//!
//! Read in this order: this file, `setting` (from text to lines of glyphs), then the outputs.

pub mod pdf;
mod pdf_canvas;
mod pdf_drawing;
mod pdf_fonts;
mod pdf_structure;
pub mod setting;
pub mod svg;

use std::sync::Arc;

use resvg::usvg;

use setting::TextLine;

/// Why a page could not be made.
#[derive(Debug, thiserror::Error)]
pub enum TypesetError {
    /// The content did not keep to the page.
    #[error("the content does not hold on one page: {0}")]
    Overfull(String),
    /// A picture handed in is not a readable SVG document.
    #[error("the {which} is not a readable SVG document: {reason}")]
    Picture {
        /// Which picture.
        which: String,
        /// Why.
        reason: String,
    },
    /// A raster image could not be encoded.
    #[error("the image could not be encoded: {0}")]
    Image(String),
    /// A shipped font could not be cut down for embedding.
    #[error("the font {0} could not be embedded")]
    Font(String),
}

/// Red, green, blue.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Colour(pub [u8; 3]);

impl Colour {
    /// White.
    pub const WHITE: Colour = Colour([255; 3]);

    /// From `#rrggbb`; black for anything else.
    pub fn hex(text: &str) -> Colour {
        let value = u32::from_str_radix(text.trim_start_matches('#'), 16).unwrap_or(0);
        Colour([(value >> 16) as u8, (value >> 8) as u8, value as u8])
    }

    /// Mixed with white: 0 leaves it, 1 gives white.
    pub fn lighter(self, share: f64) -> Colour {
        Colour(self.0.map(|part| (f64::from(part) + (255.0 - f64::from(part)) * share).round() as u8))
    }
}

/// What a part of the page is, for screen readers (PDF standard structure types, ISO 32000-1 section 14.8.4).
#[derive(Clone, Debug, PartialEq)]
pub enum Tag {
    /// What belongs to one site.
    Section,
    /// A heading of the first or second level.
    Heading(u8),
    /// A paragraph.
    Paragraph,
    /// A list.
    List,
    /// One item of it.
    ListItem,
    /// The mark before a list item.
    Label,
    /// The words of a list item.
    Body,
    /// A table.
    Table,
    /// A row of it.
    Row,
    /// A cell that names a column.
    ColumnHeader,
    /// A cell that names a row.
    RowHeader,
    /// A cell that names nothing.
    Cell,
    /// A picture or drawing, with its description and size.
    Figure {
        /// What it shows, in words.
        alt: String,
        /// Width and height, points.
        size: [f64; 2],
    },
}

/// One step of an outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Segment {
    /// To a point, without a line.
    Move([f64; 2]),
    /// A straight line.
    Line([f64; 2]),
    /// A cubic curve: two control points, then its end.
    Cubic([f64; 2], [f64; 2], [f64; 2]),
    /// Back to the beginning.
    Close,
}

/// A stroke.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pen {
    /// Colour.
    pub colour: Colour,
    /// Width, points.
    pub width: f64,
    /// Length of dash and gap.
    pub dash: Option<[f64; 2]>,
}

impl Pen {
    /// A line without gaps.
    pub fn new(width: f64, colour: Colour) -> Pen {
        Pen { colour, width, dash: None }
    }
}

/// A filled or stroked outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// Its outline.
    pub outline: Vec<Segment>,
    /// What fills it.
    pub fill: Option<Colour>,
    /// What draws its outline.
    pub pen: Option<Pen>,
}

/// Distance of the control points of a quarter of a circle, in radii (the usual cubic; largest error 0.03 % of the radius).
const QUARTER: f64 = 0.552_284_75;

impl Shape {
    /// Straight lines from point to point.
    pub fn polyline(points: &[[f64; 2]], pen: Pen) -> Shape {
        let steps = points.iter().enumerate();
        let outline = steps.map(|(i, p)| if i == 0 { Segment::Move(*p) } else { Segment::Line(*p) }).collect();
        Shape { outline, fill: None, pen: Some(pen) }
    }

    /// The same, closed.
    pub fn polygon(points: &[[f64; 2]], fill: Option<Colour>, pen: Option<Pen>) -> Shape {
        let steps = points.iter().enumerate();
        let mut outline: Vec<Segment> =
            steps.map(|(i, p)| if i == 0 { Segment::Move(*p) } else { Segment::Line(*p) }).collect();
        outline.push(Segment::Close);
        Shape { outline, fill, pen }
    }

    /// A rectangle by its upper left corner.
    pub fn rectangle(corner: [f64; 2], size: [f64; 2], fill: Option<Colour>, pen: Option<Pen>) -> Shape {
        let ([x, y], [w, h]) = (corner, size);
        Shape::polygon(&[[x, y], [x + w, y], [x + w, y + h], [x, y + h]], fill, pen)
    }

    /// A rectangle with round corners.
    pub fn rounded(corner: [f64; 2], size: [f64; 2], radius: f64, fill: Option<Colour>, pen: Option<Pen>) -> Shape {
        let ([x, y], [w, h]) = (corner, size);
        let r = radius.min(w / 2.0).min(h / 2.0).max(0.0);
        let k = r * (1.0 - QUARTER);
        let outline = vec![
            Segment::Move([x + r, y]),
            Segment::Line([x + w - r, y]),
            Segment::Cubic([x + w - k, y], [x + w, y + k], [x + w, y + r]),
            Segment::Line([x + w, y + h - r]),
            Segment::Cubic([x + w, y + h - k], [x + w - k, y + h], [x + w - r, y + h]),
            Segment::Line([x + r, y + h]),
            Segment::Cubic([x + k, y + h], [x, y + h - k], [x, y + h - r]),
            Segment::Line([x, y + r]),
            Segment::Cubic([x, y + k], [x + k, y], [x + r, y]),
            Segment::Close,
        ];
        Shape { outline, fill, pen }
    }

    /// A circle.
    pub fn circle(centre: [f64; 2], radius: f64, fill: Option<Colour>, pen: Option<Pen>) -> Shape {
        Shape::rounded([centre[0] - radius, centre[1] - radius], [2.0 * radius, 2.0 * radius], radius, fill, pen)
    }
}

/// A drawing of its own inside the page.
#[derive(Clone)]
pub struct Drawing {
    /// The document, its letters all drawable.
    pub svg: Arc<str>,
    /// The same, read.
    pub(crate) tree: Arc<usvg::Tree>,
}

impl Drawing {
    /// Reads an SVG document; `which` names it where it cannot be read.
    ///
    /// # Errors
    /// [`TypesetError::Picture`], where it is no SVG document.
    pub fn read(which: &str, svg: &str) -> Result<Drawing, TypesetError> {
        let svg = crate::fonts::drawable(svg);
        let tree = usvg::Tree::from_str(&svg, &crate::raster::options())
            .map_err(|error| TypesetError::Picture { which: which.into(), reason: error.to_string() })?;
        Ok(Drawing { svg: svg.into(), tree: Arc::new(tree) })
    }

    /// Width and height in its own units.
    pub fn size(&self) -> [f64; 2] {
        [f64::from(self.tree.size().width()), f64::from(self.tree.size().height())]
    }
}

/// One part of a frame.
#[derive(Clone)]
pub enum Node {
    /// Parts that are moved and scaled together.
    Group {
        /// Where their origin lies, points.
        at: [f64; 2],
        /// How much larger they are.
        scale: f64,
        /// What they are together.
        tag: Option<Tag>,
        /// The parts.
        nodes: Vec<Node>,
    },
    /// A line of text, by the left end of its baseline.
    Text {
        /// Left end of the baseline, points.
        at: [f64; 2],
        /// The line.
        line: TextLine,
    },
    /// A shape, by its own points.
    Shape(Shape),
    /// A drawing, by its corner and size.
    Picture {
        /// Upper left corner, points.
        at: [f64; 2],
        /// Width and height, points.
        size: [f64; 2],
        /// The drawing.
        drawing: Drawing,
    },
}

/// A rectangle of the page with what is in it.
#[derive(Clone, Default)]
pub struct Frame {
    /// Points.
    pub width: f64,
    /// Points.
    pub height: f64,
    /// What is in it.
    pub nodes: Vec<Node>,
}

impl Frame {
    /// A frame with nothing in it.
    pub fn empty(width: f64, height: f64) -> Frame {
        Frame { width, height, nodes: Vec::new() }
    }

    /// Puts another frame into this one, by its upper left corner.
    pub fn place(&mut self, x: f64, y: f64, frame: Frame) {
        if !frame.nodes.is_empty() {
            self.nodes.push(Node::Group { at: [x, y], scale: 1.0, tag: None, nodes: frame.nodes });
        }
    }

    /// Adds a shape.
    pub fn draw(&mut self, shape: Shape) {
        self.nodes.push(Node::Shape(shape));
    }

    /// The same frame with a meaning.
    pub fn tagged(self, tag: Tag) -> Frame {
        let node = Node::Group { at: [0.0; 2], scale: 1.0, tag: Some(tag), nodes: self.nodes };
        Frame { nodes: vec![node], ..self }
    }

    /// The same frame as a figure with a description.
    pub fn figure(self, alt: &str) -> Frame {
        let size = [self.width, self.height];
        self.tagged(Tag::Figure { alt: crate::fonts::drawable(alt), size })
    }

    /// The same frame smaller or larger.
    pub fn scaled(self, scale: f64) -> Frame {
        let node = Node::Group { at: [0.0; 2], scale, tag: None, nodes: self.nodes };
        Frame { width: self.width * scale, height: self.height * scale, nodes: vec![node] }
    }

    /// Frames one under another, left edges in line.
    pub fn stack(gap: f64, frames: impl IntoIterator<Item = Frame>) -> Frame {
        let mut out = Frame::default();
        for (i, frame) in frames.into_iter().enumerate() {
            if i > 0 {
                out.height += gap;
            }
            out.width = out.width.max(frame.width);
            let (y, height) = (out.height, frame.height);
            out.place(0.0, y, frame);
            out.height = y + height;
        }
        out
    }

    /// The same in a width of its own: 0 holds it at the left, 0.5 in the middle, 1 at the right.
    pub fn aligned(self, width: f64, share: f64) -> Frame {
        let mut out = Frame::empty(width, self.height);
        let x = (width - self.width) * share;
        out.place(x, 0.0, self);
        out
    }

    /// The same with room around it.
    pub fn inset(self, x: f64, y: f64) -> Frame {
        let mut out = Frame::empty(self.width + 2.0 * x, self.height + 2.0 * y);
        out.place(x, y, self);
        out
    }
}
