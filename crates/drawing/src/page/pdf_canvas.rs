//! A content stream of a PDF being written (page, form or pattern), and what all of a document's streams share.

use std::collections::BTreeMap;
use std::io::Write as _;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Chunk, Content, Finish as _, Name, Ref, Str, TextStr};
use resvg::usvg::Transform;

use super::pdf_fonts::{PdfFonts, advance, resource};
use super::setting::Glyph;
use super::{Colour, Pen, Segment, Shape, TypesetError};

/// Fonts, graphics states, patterns and forms of a document; one dictionary of resources serves all streams.
pub(super) struct Shared {
    pub(super) chunk: Chunk,
    pub(super) next: Ref,
    pub(super) fonts: PdfFonts,
    /// Opacity of fills and strokes, thousandths.
    states: BTreeMap<(u16, u16), Ref>,
    pub(super) patterns: Vec<Ref>,
    pub(super) objects: Vec<Ref>,
    pub(super) resources: Ref,
}

/// A resource's name: a letter and a number.
pub(super) fn name(kind: char, number: usize) -> Vec<u8> {
    format!("{kind}{number}").into_bytes()
}

/// Zlib, always at the same level.
pub(super) fn compressed(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(Vec::with_capacity(bytes.len() / 2), Compression::new(6));
    // Writing into memory does not fail.
    let written = encoder.write_all(bytes).and_then(|()| encoder.finish());
    written.unwrap_or_default()
}

/// A number as it is written: three decimals, which is a thousandth of a point.
pub(super) fn short(value: f64) -> f32 {
    if value.is_finite() { ((value * 1000.0).round() / 1000.0) as f32 } else { 0.0 }
}

/// A number of a matrix: more decimals, because others are multiplied by it.
fn fine(value: f64) -> f32 {
    if value.is_finite() { ((value * 1e6).round() / 1e6) as f32 } else { 0.0 }
}

pub(super) fn matrix(t: Transform) -> [f32; 6] {
    [
        fine(f64::from(t.sx)),
        fine(f64::from(t.ky)),
        fine(f64::from(t.kx)),
        fine(f64::from(t.sy)),
        short(f64::from(t.tx)),
        short(f64::from(t.ty)),
    ]
}

impl Shared {
    pub(super) fn new() -> Shared {
        let mut next = Ref::new(1);
        let resources = next.bump();
        Shared {
            chunk: Chunk::new(),
            next,
            fonts: PdfFonts::default(),
            states: BTreeMap::new(),
            patterns: Vec::new(),
            objects: Vec::new(),
            resources,
        }
    }

    fn state(&mut self, fill: f32, stroke: f32) -> Vec<u8> {
        let thousandths = |opacity: f32| (opacity.clamp(0.0, 1.0) * 1000.0).round() as u16;
        let key = (thousandths(fill), thousandths(stroke));
        let next = &mut self.next;
        self.states.entry(key).or_insert_with(|| next.bump());
        state_name(key)
    }

    /// Writes fonts, states and the dictionary of resources.
    pub(super) fn write_resources(&mut self) -> Result<(), TypesetError> {
        let fonts = self.fonts.write(&mut self.chunk, &mut self.next)?;
        for (&(fill, stroke), &id) in &self.states {
            let mut state = self.chunk.ext_graphics(id);
            state.non_stroking_alpha(f32::from(fill) / 1000.0).stroking_alpha(f32::from(stroke) / 1000.0);
        }
        let mut resources = self.chunk.indirect(self.resources).start::<pdf_writer::writers::Resources<'_>>();
        let mut dictionary = resources.fonts();
        for (name, id) in &fonts {
            dictionary.pair(Name(name), *id);
        }
        dictionary.finish();
        let mut dictionary = resources.ext_g_states();
        for (&key, &id) in &self.states {
            dictionary.pair(Name(&state_name(key)), id);
        }
        dictionary.finish();
        let mut dictionary = resources.patterns();
        for (i, &id) in self.patterns.iter().enumerate() {
            dictionary.pair(Name(&name('P', i)), id);
        }
        dictionary.finish();
        let mut dictionary = resources.x_objects();
        for (i, &id) in self.objects.iter().enumerate() {
            dictionary.pair(Name(&name('X', i)), id);
        }
        dictionary.finish();
        resources.finish();
        Ok(())
    }
}

fn state_name((fill, stroke): (u16, u16)) -> Vec<u8> {
    format!("G{fill}-{stroke}").into_bytes()
}

/// One content stream.
pub(super) struct Canvas<'a> {
    pub(super) content: Content,
    pub(super) shared: &'a mut Shared,
    /// From the current coordinates to those the stream began with.
    pub(super) place: Transform,
}

/// A group of letters with its glyphs, at a distance in ems from where the run begins.
pub(super) struct RunCluster<'a> {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) text: &'a str,
    pub(super) glyphs: &'a [Glyph],
}

/// What is shown by one operator: codes and shifts.
enum Shown {
    Codes(Vec<u8>),
    /// Thousandths of an em to the left.
    Shift(f32),
}

impl<'a> Canvas<'a> {
    pub(super) fn new(shared: &'a mut Shared) -> Canvas<'a> {
        Canvas { content: Content::new(), shared, place: Transform::identity() }
    }

    /// Changes the coordinates until [`Canvas::restore`] is given what this gives back.
    pub(super) fn save(&mut self, change: Transform) -> Transform {
        self.content.save_state();
        let before = self.place;
        if !change.is_identity() {
            self.content.transform(matrix(change));
            self.place = before.pre_concat(change);
        }
        before
    }

    pub(super) fn restore(&mut self, before: Transform) {
        self.content.restore_state();
        self.place = before;
    }

    pub(super) fn opacity(&mut self, fill: f32, stroke: f32) {
        let name = self.shared.state(fill, stroke);
        self.content.set_parameters(Name(&name));
    }

    pub(super) fn fill_colour(&mut self, colour: Colour) {
        let [r, g, b] = parts(colour);
        self.content.set_fill_rgb(r, g, b);
    }

    pub(super) fn stroke_colour(&mut self, colour: Colour) {
        let [r, g, b] = parts(colour);
        self.content.set_stroke_rgb(r, g, b);
    }

    pub(super) fn outline(&mut self, segments: &[Segment], at: [f64; 2], scale: f64) {
        let spot = |p: [f64; 2]| [short(at[0] + scale * p[0]), short(at[1] + scale * p[1])];
        for segment in segments {
            match *segment {
                Segment::Move(p) => {
                    let [x, y] = spot(p);
                    self.content.move_to(x, y);
                }
                Segment::Line(p) => {
                    let [x, y] = spot(p);
                    self.content.line_to(x, y);
                }
                Segment::Cubic(a, b, c) => {
                    let ([x1, y1], [x2, y2], [x3, y3]) = (spot(a), spot(b), spot(c));
                    self.content.cubic_to(x1, y1, x2, y2, x3, y3);
                }
                Segment::Close => {
                    self.content.close_path();
                }
            }
        }
    }

    pub(super) fn shape(&mut self, shape: &Shape, at: [f64; 2], scale: f64) {
        if let Some(colour) = shape.fill {
            self.fill_colour(colour);
        }
        if let Some(Pen { colour, width, dash }) = shape.pen {
            self.stroke_colour(colour);
            self.content.set_line_width(short(width * scale));
            let dashes: Vec<f32> = dash.iter().flatten().map(|length| short(length * scale)).collect();
            self.content.set_dash_pattern(dashes, 0.0);
            self.content.set_line_cap(LineCapStyle::ButtCap).set_line_join(LineJoinStyle::MiterJoin);
        }
        self.outline(&shape.outline, at, scale);
        match (shape.fill, shape.pen) {
            (Some(_), Some(_)) => self.content.fill_nonzero_and_stroke(),
            (Some(_), None) => self.content.fill_nonzero(),
            (None, Some(_)) => self.content.stroke(),
            (None, None) => self.content.end_path(),
        };
    }

    /// Letters of one face. `ems` leads from ems (y upwards) to the current coordinates.
    ///
    /// Every glyph has its letters in the font's own table; where a cluster is more than one glyph, or a glyph stands for other letters
    /// here, the letters are given beside it, so that copying and reading aloud give the text as it was written.
    pub(super) fn run<'c>(&mut self, face: usize, ems: Transform, clusters: impl IntoIterator<Item = RunCluster<'c>>) {
        self.content.begin_text();
        self.content.set_font(Name(&resource(face)), 1.0);
        self.content.set_text_matrix(matrix(ems));
        let (mut pen, mut rise) = (0.0f64, 0.0f32);
        let mut shown: Vec<Shown> = Vec::new();
        for cluster in clusters {
            let count = cluster.glyphs.len();
            let mut codes = Vec::with_capacity(count);
            let mut plain = count == 1 && !cluster.text.is_empty();
            for (i, glyph) in cluster.glyphs.iter().enumerate() {
                let one = cluster.text.chars().nth(i).or_else(|| cluster.text.chars().next_back());
                // A glyph that continues the letters of the one before has none of its own: a space without width.
                let own = one.map_or_else(|| "\u{200B}".to_owned(), String::from);
                let letters = if count == 1 && one.is_some() { cluster.text } else { &own };
                let (code, same) = self.shared.fonts.code(face, glyph.id, letters);
                plain &= same;
                codes.push(code);
            }
            if !plain && count > 0 {
                self.show(&mut shown);
                let mut mark = self.content.begin_marked_content_with_properties(Name(b"Span"));
                mark.properties().actual_text(TextStr(cluster.text));
            }
            for (glyph, code) in cluster.glyphs.iter().zip(codes) {
                let wanted_rise = short(cluster.y + glyph.y);
                if wanted_rise != rise {
                    self.show(&mut shown);
                    self.content.set_rise(wanted_rise);
                    rise = wanted_rise;
                }
                let shift = (pen - (cluster.x + glyph.x)) * 1000.0;
                if shift.abs() >= 0.5 {
                    let shift = shift.round();
                    shown.push(Shown::Shift(shift as f32));
                    pen -= shift / 1000.0;
                }
                match shown.last_mut() {
                    Some(Shown::Codes(codes)) => codes.extend_from_slice(&code.to_be_bytes()),
                    _ => shown.push(Shown::Codes(code.to_be_bytes().to_vec())),
                }
                pen += f64::from(advance(face, glyph.id)) / 1000.0;
            }
            if !plain && count > 0 {
                self.show(&mut shown);
                self.content.end_marked_content();
            }
        }
        self.show(&mut shown);
        if rise != 0.0 {
            self.content.set_rise(0.0);
        }
        self.content.end_text();
    }

    fn show(&mut self, shown: &mut Vec<Shown>) {
        if shown.is_empty() {
            return;
        }
        let mut operation = self.content.show_positioned();
        let mut items = operation.items();
        for item in shown.drain(..) {
            match item {
                Shown::Codes(codes) => items.show(Str(&codes)),
                Shown::Shift(shift) => items.adjust(shift),
            };
        }
    }
}

fn parts(colour: Colour) -> [f32; 3] {
    colour.0.map(|part| short(f64::from(part) / 255.0))
}
