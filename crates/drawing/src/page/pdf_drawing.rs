//! A drawing (a read SVG document) in a PDF's content stream: paths stay paths and text stays text.
//!
//! What our own drawings use is written as such: groups, opacity, clips, fills and strokes of one colour or a pattern, text. The rest of the
//! format (masks, filters, blending, gradients, images) becomes a raster picture in its place.

use pdf_writer::types::{LineCapStyle, LineJoinStyle, PaintType, TilingType};
use pdf_writer::{Filter, Finish as _, Name, Rect};
use resvg::tiny_skia::Pixmap;
use resvg::usvg::tiny_skia_path::{PathSegment, Point};
use resvg::usvg::{self, BlendMode, ClipPath, FillRule, Group, LineCap, LineJoin, Node, Paint, PaintOrder, Transform};
use rustybuzz::ttf_parser::{GlyphId, OutlineBuilder};

use super::pdf_canvas::{Canvas, RunCluster, compressed, matrix, name, short};
use super::setting::Glyph;
use super::{Colour, Segment};
use crate::fonts;
use crate::raster::face_place;

/// Pixels to a unit of a drawing for what becomes a raster picture, and the most on a side.
const PIXELS: f32 = 3.0;
const MOST_PIXELS: f32 = 4000.0;

impl Canvas<'_> {
    /// Draws a document into a rectangle.
    pub(super) fn drawing(&mut self, tree: &usvg::Tree, at: [f64; 2], size: [f64; 2]) {
        let (width, height) = (tree.size().width(), tree.size().height());
        let fit =
            Transform::from_row(size[0] as f32 / width, 0.0, 0.0, size[1] as f32 / height, at[0] as f32, at[1] as f32);
        let before = self.save(fit);
        self.content.rect(0.0, 0.0, short(width.into()), short(height.into())).clip_nonzero().end_path();
        self.group(tree.root());
        self.restore(before);
    }

    fn children(&mut self, group: &Group) {
        for node in group.children() {
            match node {
                Node::Group(group) if !plain_group(group) => self.raster(node),
                Node::Group(group) => self.group(group),
                Node::Path(path) if plain_path(path) => self.path(path),
                Node::Text(text) if text.layouted().iter().all(plain_span) => self.text(text),
                Node::Path(_) | Node::Text(_) | Node::Image(_) => self.raster(node),
            }
        }
    }

    fn group(&mut self, group: &Group) {
        let before = self.save(group.transform());
        if let Some(clip) = group.clip_path() {
            self.clip(clip);
        }
        if group.opacity().get() < 1.0 {
            self.translucent(group);
        } else {
            self.children(group);
        }
        self.restore(before);
    }

    /// A group of less than full opacity, drawn as one thing.
    fn translucent(&mut self, group: &Group) {
        let bounds = group.layer_bounding_box();
        let mut form = Canvas::new(self.shared);
        form.children(group);
        let content = compressed(&form.content.finish());
        let id = self.shared.next.bump();
        let resources = self.shared.resources;
        let mut object = self.shared.chunk.form_xobject(id, &content);
        object.filter(Filter::FlateDecode);
        object.bbox(rect(bounds.left() - 1.0, bounds.top() - 1.0, bounds.right() + 1.0, bounds.bottom() + 1.0));
        object.pair(Name(b"Resources"), resources);
        object.group().transparency().isolated(true).knockout(false).color_space().device_rgb();
        object.finish();
        self.opacity(group.opacity().get(), group.opacity().get());
        self.stamp(id);
    }

    fn stamp(&mut self, id: pdf_writer::Ref) {
        let number = self.shared.objects.len();
        self.shared.objects.push(id);
        self.content.x_object(Name(&name('X', number)));
    }

    fn clip(&mut self, clip: &ClipPath) {
        if let Some(outer) = clip.clip_path() {
            self.clip(outer);
        }
        let mut paths = Vec::new();
        let rule = clip_paths(clip.root(), clip.transform(), &mut paths);
        if paths.is_empty() {
            self.content.rect(0.0, 0.0, 0.0, 0.0);
        }
        for segments in paths {
            self.outline(&segments, [0.0; 2], 1.0);
        }
        match rule {
            Some(FillRule::EvenOdd) => self.content.clip_even_odd(),
            _ => self.content.clip_nonzero(),
        };
        self.content.end_path();
    }

    fn path(&mut self, path: &usvg::Path) {
        if !path.is_visible() {
            return;
        }
        let segments = segments(path.data(), Transform::identity());
        let before = self.save(Transform::identity());
        let (fill, stroke) = (path.fill(), path.stroke());
        let opacity = |given: Option<f32>| given.unwrap_or(1.0);
        let (ca, stroke_ca) = (opacity(fill.map(|f| f.opacity().get())), opacity(stroke.map(|s| s.opacity().get())));
        if ca < 1.0 || stroke_ca < 1.0 {
            self.opacity(ca, stroke_ca);
        }
        if let Some(fill) = fill {
            self.fill_paint(fill.paint());
        }
        if let Some(stroke) = stroke {
            self.pen(stroke);
        }
        let even_odd = fill.is_some_and(|fill| fill.rule() == FillRule::EvenOdd);
        let passes: &[(bool, bool)] = match (fill.is_some(), stroke.is_some()) {
            (true, true) if path.paint_order() == PaintOrder::StrokeAndFill => &[(false, true), (true, false)],
            // Filled and stroked by one operator, a translucent stroke would not show the fill below it.
            (true, true) if ca < 1.0 || stroke_ca < 1.0 => &[(true, false), (false, true)],
            (true, true) => &[(true, true)],
            (true, false) => &[(true, false)],
            (false, true) => &[(false, true)],
            (false, false) => &[],
        };
        for pass in passes {
            self.outline(&segments, [0.0; 2], 1.0);
            match (pass, even_odd) {
                ((true, true), true) => self.content.fill_even_odd_and_stroke(),
                ((true, true), false) => self.content.fill_nonzero_and_stroke(),
                ((true, false), true) => self.content.fill_even_odd(),
                ((true, false), false) => self.content.fill_nonzero(),
                _ => self.content.stroke(),
            };
        }
        self.restore(before);
    }

    fn pen(&mut self, stroke: &usvg::Stroke) {
        self.stroke_paint(stroke.paint());
        self.content.set_line_width(short(stroke.width().get().into()));
        self.content.set_line_cap(match stroke.linecap() {
            LineCap::Butt => LineCapStyle::ButtCap,
            LineCap::Round => LineCapStyle::RoundCap,
            LineCap::Square => LineCapStyle::ProjectingSquareCap,
        });
        self.content.set_line_join(match stroke.linejoin() {
            LineJoin::Miter | LineJoin::MiterClip => LineJoinStyle::MiterJoin,
            LineJoin::Round => LineJoinStyle::RoundJoin,
            LineJoin::Bevel => LineJoinStyle::BevelJoin,
        });
        self.content.set_miter_limit(stroke.miterlimit().get());
        let dashes: Vec<f32> = stroke.dasharray().unwrap_or_default().iter().map(|d| short((*d).into())).collect();
        self.content.set_dash_pattern(dashes, short(stroke.dashoffset().into()));
    }

    fn fill_paint(&mut self, paint: &Paint) {
        match paint {
            Paint::Pattern(pattern) => {
                let name = self.pattern(pattern);
                self.content.set_fill_color_space(pdf_writer::types::ColorSpaceOperand::Pattern);
                self.content.set_fill_pattern(None, Name(&name));
            }
            other => self.fill_colour(plain_colour(other).unwrap_or(Colour([0; 3]))),
        }
    }

    fn stroke_paint(&mut self, paint: &Paint) {
        match paint {
            Paint::Pattern(pattern) => {
                let name = self.pattern(pattern);
                self.content.set_stroke_color_space(pdf_writer::types::ColorSpaceOperand::Pattern);
                self.content.set_stroke_pattern(None, Name(&name));
            }
            other => self.stroke_colour(plain_colour(other).unwrap_or(Colour([0; 3]))),
        }
    }

    /// A pattern's name in the resources.
    fn pattern(&mut self, pattern: &usvg::Pattern) -> Vec<u8> {
        let cell = pattern.rect();
        let place = self.place.pre_concat(pattern.transform()).pre_translate(cell.x(), cell.y());
        let mut tile = Canvas::new(self.shared);
        tile.group(pattern.root());
        let content = compressed(&tile.content.finish());
        let id = self.shared.next.bump();
        let resources = self.shared.resources;
        let mut out = self.shared.chunk.tiling_pattern(id, &content);
        out.filter(Filter::FlateDecode);
        out.tiling_type(TilingType::ConstantSpacing).paint_type(PaintType::Colored);
        out.bbox(rect(0.0, 0.0, cell.width(), cell.height()));
        out.x_step(short(cell.width().into())).y_step(short(cell.height().into()));
        out.matrix(matrix(place));
        out.pair(Name(b"Resources"), resources);
        out.finish();
        let number = self.shared.patterns.len();
        self.shared.patterns.push(id);
        name('P', number)
    }

    fn text(&mut self, text: &usvg::Text) {
        for span in text.layouted().iter().filter(|span| span.visible) {
            for line in [&span.underline, &span.overline].into_iter().flatten() {
                self.path(line);
            }
            // An outline behind the letters is drawn as a path, so that the words stand on the page once.
            if let Some(stroke) = &span.stroke {
                let first = span.paint_order == PaintOrder::StrokeAndFill || span.fill.is_none();
                if first {
                    self.outlined(span, stroke);
                    self.letters(span);
                } else {
                    self.letters(span);
                    self.outlined(span, stroke);
                }
            } else {
                self.letters(span);
            }
            if let Some(line) = &span.line_through {
                self.path(line);
            }
        }
    }

    fn letters(&mut self, span: &usvg::layout::Span) {
        let before = self.save(Transform::identity());
        match &span.fill {
            Some(fill) => {
                self.fill_paint(fill.paint());
                if fill.opacity().get() < 1.0 {
                    self.opacity(fill.opacity().get(), 1.0);
                }
            }
            // Words without ink can still be searched.
            None => self.opacity(0.0, 1.0),
        }
        let placed: Vec<Placed<'_>> = span.positioned_glyphs.iter().filter_map(Placed::of).collect();
        // Letters that stand on one line, in one face and size, are one run.
        let mut rest = placed.as_slice();
        while let Some(first) = rest.first() {
            let fits = |other: &Placed<'_>| other.face == first.face && other.from(first).is_some();
            let count = rest.iter().take_while(|other| fits(other)).count().max(1);
            let (run, later) = rest.split_at(count);
            let letters = run.iter().filter_map(|one| {
                let (x, y) = one.from(first)?;
                Some(RunCluster { x, y, text: one.text, glyphs: &one.glyph })
            });
            self.run(first.face, first.ems, letters.collect::<Vec<_>>());
            rest = later;
        }
        self.restore(before);
    }

    fn outlined(&mut self, span: &usvg::layout::Span, stroke: &usvg::Stroke) {
        let before = self.save(Transform::identity());
        self.pen(stroke);
        if stroke.opacity().get() < 1.0 {
            self.opacity(1.0, stroke.opacity().get());
        }
        for glyph in &span.positioned_glyphs {
            let Some(face) = face_place(glyph.font).and_then(fonts::face) else { continue };
            let mut outline = Outline { segments: Vec::new(), change: glyph.outline_transform(), at: Point::zero() };
            face.outline_glyph(GlyphId(glyph.id.0), &mut outline);
            self.outline(&outline.segments, [0.0; 2], 1.0);
        }
        self.content.stroke();
        self.restore(before);
    }

    /// What has no counterpart here, as a raster picture.
    fn raster(&mut self, node: &Node) {
        let Some(bounds) = node.abs_layer_bounding_box() else { return };
        let scale = PIXELS.min(MOST_PIXELS / bounds.width().max(bounds.height()));
        let side = |length: f32| (length * scale).ceil().clamp(1.0, MOST_PIXELS) as u32;
        let Some(mut pixels) = Pixmap::new(side(bounds.width()), side(bounds.height())) else { return };
        if resvg::render_node(node, Transform::from_scale(scale, scale), &mut pixels.as_mut()).is_none() {
            return;
        }
        let colours = pixels.pixels().iter().map(|pixel| pixel.demultiply());
        let (mut rgb, mut alpha) = (Vec::new(), Vec::new());
        for colour in colours {
            rgb.extend([colour.red(), colour.green(), colour.blue()]);
            alpha.push(colour.alpha());
        }
        let (width, height) = (pixels.width() as i32, pixels.height() as i32);
        let (id, mask) = (self.shared.next.bump(), self.shared.next.bump());
        let (rgb, alpha) = (compressed(&rgb), compressed(&alpha));
        let mut image = self.shared.chunk.image_xobject(id, &rgb);
        image.filter(Filter::FlateDecode);
        image.width(width).height(height).bits_per_component(8).s_mask(mask).color_space().device_rgb();
        image.finish();
        let mut image = self.shared.chunk.image_xobject(mask, &alpha);
        image.filter(Filter::FlateDecode);
        image.width(width).height(height).bits_per_component(8).color_space().device_gray();
        image.finish();
        // The bounds are those of the whole drawing; the current coordinates are those of the group around the node.
        let around = match node {
            Node::Group(group) => group.abs_transform().pre_concat(group.transform().invert().unwrap_or_default()),
            other => other.abs_transform(),
        };
        let Some(back) = around.invert() else { return };
        let (w, h) = (width as f32 / scale, height as f32 / scale);
        // An image fills the unit square with its foot at y = 0.
        let place = back.pre_concat(Transform::from_row(w, 0.0, 0.0, -h, bounds.x(), bounds.y() + h));
        let before = self.save(place);
        self.stamp(id);
        self.restore(before);
    }
}

/// A glyph of a drawing's text.
struct Placed<'a> {
    face: usize,
    /// From ems (y upwards) to the text's coordinates.
    ems: Transform,
    text: &'a str,
    glyph: [Glyph; 1],
}

impl<'a> Placed<'a> {
    fn of(glyph: &'a usvg::layout::PositionedGlyph) -> Option<Placed<'a>> {
        let place = face_place(glyph.font)?;
        let em = f32::from(u16::try_from(fonts::face(place)?.units_per_em()).unwrap_or(1000));
        let ems = glyph.outline_transform().pre_scale(em, em);
        Some(Placed { face: place, ems, text: &glyph.text, glyph: [Glyph { id: glyph.id.0, x: 0.0, y: 0.0 }] })
    }

    /// Distance from another glyph in ems, if both stand the same way.
    fn from(&self, first: &Placed<'_>) -> Option<(f64, f64)> {
        let (a, b) = (self.ems, first.ems);
        let near = |x: f32, y: f32| (x - y).abs() < 1e-4 * (1.0 + x.abs());
        if !(near(a.sx, b.sx) && near(a.sy, b.sy) && near(a.kx, b.kx) && near(a.ky, b.ky)) {
            return None;
        }
        let mut origin = Point::from_xy(a.tx, a.ty);
        b.invert()?.map_point(&mut origin);
        Some((f64::from(origin.x), f64::from(origin.y)))
    }
}

/// Outline of a glyph in the text's coordinates.
struct Outline {
    segments: Vec<Segment>,
    change: Transform,
    at: Point,
}

impl Outline {
    fn spot(&self, x: f32, y: f32) -> [f64; 2] {
        let mut point = Point::from_xy(x, y);
        self.change.map_point(&mut point);
        [point.x.into(), point.y.into()]
    }
}

impl OutlineBuilder for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        self.segments.push(Segment::Move(self.spot(x, y)));
        self.at = Point::from_xy(x, y);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.segments.push(Segment::Line(self.spot(x, y)));
        self.at = Point::from_xy(x, y);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let two_thirds = |from: f32, to: f32| from + (to - from) * 2.0 / 3.0;
        let a = self.spot(two_thirds(self.at.x, x1), two_thirds(self.at.y, y1));
        let b = self.spot(two_thirds(x, x1), two_thirds(y, y1));
        self.segments.push(Segment::Cubic(a, b, self.spot(x, y)));
        self.at = Point::from_xy(x, y);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.segments.push(Segment::Cubic(self.spot(x1, y1), self.spot(x2, y2), self.spot(x, y)));
        self.at = Point::from_xy(x, y);
    }

    fn close(&mut self) {
        self.segments.push(Segment::Close);
    }
}

fn rect(left: f32, top: f32, right: f32, bottom: f32) -> Rect {
    Rect::new(short(left.into()), short(top.into()), short(right.into()), short(bottom.into()))
}

fn plain_colour(paint: &Paint) -> Option<Colour> {
    match paint {
        Paint::Color(colour) => Some(Colour([colour.red, colour.green, colour.blue])),
        _ => None,
    }
}

fn plain_paint(paint: &Paint) -> bool {
    match paint {
        Paint::Color(_) => true,
        Paint::Pattern(pattern) => plain_tree(pattern.root()),
        Paint::LinearGradient(_) | Paint::RadialGradient(_) => false,
    }
}

fn plain_path(path: &usvg::Path) -> bool {
    path.fill().is_none_or(|fill| plain_paint(fill.paint())) && path.stroke().is_none_or(|s| plain_paint(s.paint()))
}

fn plain_span(span: &usvg::layout::Span) -> bool {
    span.fill.as_ref().is_none_or(|fill| plain_paint(fill.paint()))
        && span.stroke.as_ref().is_none_or(|stroke| plain_paint(stroke.paint()))
        && span.positioned_glyphs.iter().all(|glyph| face_place(glyph.font).is_some())
}

/// Whether everything in a pattern can be written as it is.
fn plain_tree(group: &Group) -> bool {
    plain_group(group)
        && group.children().iter().all(|node| match node {
            Node::Group(group) => plain_tree(group),
            Node::Path(path) => plain_path(path),
            Node::Image(_) | Node::Text(_) => false,
        })
}

fn plain_group(group: &Group) -> bool {
    group.mask().is_none()
        && group.filters().is_empty()
        && group.blend_mode() == BlendMode::Normal
        && group.clip_path().is_none_or(plain_clip)
}

/// Whether a clip is one outline, or several filled by the non-zero rule, which together are their union.
fn plain_clip(clip: &ClipPath) -> bool {
    let (mut count, mut even_odd, mut plain) = (0, false, true);
    count_clips(clip.root(), &mut count, &mut even_odd, &mut plain);
    plain && (count <= 1 || !even_odd) && clip.clip_path().is_none_or(plain_clip)
}

fn count_clips(group: &Group, count: &mut usize, even_odd: &mut bool, plain: &mut bool) {
    *plain &= group.clip_path().is_none();
    for node in group.children() {
        match node {
            Node::Group(group) => count_clips(group, count, even_odd, plain),
            Node::Path(path) => {
                *count += 1;
                *even_odd |= path.fill().is_some_and(|fill| fill.rule() == FillRule::EvenOdd);
            }
            Node::Text(_) | Node::Image(_) => *plain = false,
        }
    }
}

/// Collects the outlines of a clip and gives the rule of the last.
fn clip_paths(group: &Group, around: Transform, out: &mut Vec<Vec<Segment>>) -> Option<FillRule> {
    let change = around.pre_concat(group.transform());
    let mut rule = None;
    for node in group.children() {
        match node {
            Node::Group(group) => rule = clip_paths(group, change, out).or(rule),
            Node::Path(path) => {
                out.push(segments(path.data(), change));
                rule = path.fill().map(usvg::Fill::rule).or(rule);
            }
            Node::Text(_) | Node::Image(_) => {}
        }
    }
    rule
}

fn segments(path: &usvg::tiny_skia_path::Path, change: Transform) -> Vec<Segment> {
    let mut outline = Outline { segments: Vec::new(), change, at: Point::zero() };
    for segment in path.segments() {
        match segment {
            PathSegment::MoveTo(p) => outline.move_to(p.x, p.y),
            PathSegment::LineTo(p) => outline.line_to(p.x, p.y),
            PathSegment::QuadTo(a, p) => outline.quad_to(a.x, a.y, p.x, p.y),
            PathSegment::CubicTo(a, b, p) => outline.curve_to(a.x, a.y, b.x, b.y, p.x, p.y),
            PathSegment::Close => outline.close(),
        }
    }
    outline.segments
}
