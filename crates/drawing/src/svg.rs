//! A small writer of SVG: escaping, titles and descriptions, nested groups, compact paths, embedded fonts.
//!
//! Only presentation attributes are written, never style sheets with class names, so that several drawings can be put
//! into one page without their rules meeting; identifiers carry the drawing's own prefix for the same reason.

use std::fmt::{self, Display, Write as _};

use base64::Engine as _;

use crate::fonts::{self, Weight};

/// A number as it is written into a drawing: two decimals at most, no trailing zeros, never `NaN` or infinite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Num(pub f64);

impl Display for Num {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // A drawing must never carry a value that a reader of SVG rejects; geometry code drops such points earlier.
        let value = if self.0.is_finite() { self.0 } else { 0.0 };
        let hundredths = (value * 100.0).round() as i64;
        let (whole, part) = (hundredths / 100, (hundredths % 100).abs());
        if hundredths < 0 && whole == 0 {
            f.write_str("-")?;
        }
        match (part, part % 10) {
            (0, _) => write!(f, "{whole}"),
            (_, 0) => write!(f, "{whole}.{}", part / 10),
            _ => write!(f, "{whole}.{part:02}"),
        }
    }
}

/// Escapes text for element content and quoted attribute values of XML and HTML, and drops the characters that they forbid: control
/// characters (XML 1.0, section 2.2; HTML, 13.1.4) other than tab, line feed and carriage return, which become blanks.
#[must_use]
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            c if c.is_control() || c == '\u{fffe}' || c == '\u{ffff}' => {}
            c => out.push(c),
        }
    }
    out
}

/// Where a line of text is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// At its beginning.
    Start,
    /// At its middle.
    Middle,
    /// At its end.
    End,
}

/// How a line of text looks.
#[derive(Clone, Debug)]
pub struct TextStyle {
    /// Size in drawing units.
    pub size: f64,
    /// Weight of the face.
    pub weight: Weight,
    /// Colour, as SVG writes it.
    pub fill: String,
    /// Where the line is held.
    pub anchor: Anchor,
    /// Colour of an outline behind the letters, so that they stay readable on lines; none when absent.
    pub halo: Option<String>,
    /// Turn about the anchor point, degrees clockwise.
    pub turn_deg: f64,
}

impl TextStyle {
    /// A plain style: regular weight, held at its beginning.
    #[must_use]
    pub fn new(size: f64, fill: &str) -> Self {
        Self { size, weight: Weight::Regular, fill: fill.to_owned(), anchor: Anchor::Start, halo: None, turn_deg: 0.0 }
    }

    /// The same style in bold.
    #[must_use]
    pub fn strong(mut self) -> Self {
        self.weight = Weight::Bold;
        self
    }

    /// The same style with another anchor.
    #[must_use]
    pub fn held(mut self, anchor: Anchor) -> Self {
        self.anchor = anchor;
        self
    }

    /// The same style with an outline of the given colour behind the letters.
    #[must_use]
    pub fn haloed(mut self, colour: &str) -> Self {
        self.halo = Some(colour.to_owned());
        self
    }

    /// The same style turned about its anchor point, degrees clockwise.
    #[must_use]
    pub fn turned(mut self, degrees: f64) -> Self {
        self.turn_deg = degrees;
        self
    }
}

/// Whether a finished drawing carries its fonts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FontEmbedding {
    /// Fonts are embedded: the drawing looks the same anywhere, as a file of its own.
    Embedded,
    /// Fonts come from the page around the drawing, which must define the family [`fonts::FAMILY`].
    FromPage,
}

/// A drawing being written.
pub struct Svg {
    width: f64,
    height: f64,
    id: String,
    title: String,
    description: String,
    defs: String,
    body: String,
    open: Vec<&'static str>,
    // Every letter written, for the fonts that go along.
    letters: String,
}

impl Svg {
    /// Begins a drawing of the given size in drawing units (1 unit is 1 CSS pixel at natural size). `id` prefixes every
    /// identifier in it; characters other than ASCII letters, digits and `-` are replaced.
    #[must_use]
    pub fn new(width: f64, height: f64, id: &str, title: &str, description: &str) -> Self {
        let mut clean: String =
            id.chars().map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '-' }).collect();
        if !clean.starts_with(|c: char| c.is_ascii_alphabetic()) {
            clean.insert(0, 'd');
        }
        Self {
            width,
            height,
            id: clean,
            title: title.to_owned(),
            description: description.to_owned(),
            defs: String::new(),
            body: String::new(),
            open: Vec::new(),
            letters: String::new(),
        }
    }

    /// Width in drawing units.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.width
    }

    /// Height in drawing units.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.height
    }

    /// An identifier of this drawing, prefixed.
    #[must_use]
    pub fn id(&self, name: &str) -> String {
        format!("{}-{name}", self.id)
    }

    /// Changes what prefixes identifiers from here on, for a drawing within the drawing; gives the prefix in use so far.
    pub(crate) fn renamed(&mut self, id: String) -> String {
        std::mem::replace(&mut self.id, id)
    }

    fn attributes(out: &mut String, attributes: &[(&str, &dyn Display)]) {
        for (name, value) in attributes {
            let _ = write!(out, " {name}=\"{}\"", escape(&value.to_string()));
        }
    }

    /// Opens an element; [`Svg::close`] ends it.
    pub fn open(&mut self, name: &'static str, attributes: &[(&str, &dyn Display)]) {
        let _ = write!(self.body, "<{name}");
        Self::attributes(&mut self.body, attributes);
        self.body.push_str(">\n");
        self.open.push(name);
    }

    /// Opens a group that a screen reader announces under the given label.
    pub fn open_group(&mut self, label: &str, attributes: &[(&str, &dyn Display)]) {
        self.body.push_str("<g");
        let _ = write!(self.body, " role=\"group\" aria-label=\"{}\"", escape(label));
        Self::attributes(&mut self.body, attributes);
        self.body.push_str(">\n");
        self.open.push("g");
    }

    /// Ends the element opened last; does nothing when none is open.
    pub fn close(&mut self) {
        if let Some(name) = self.open.pop() {
            let _ = writeln!(self.body, "</{name}>");
        }
    }

    /// Writes an element without content.
    pub fn leaf(&mut self, name: &str, attributes: &[(&str, &dyn Display)]) {
        let _ = write!(self.body, "<{name}");
        Self::attributes(&mut self.body, attributes);
        self.body.push_str("/>\n");
    }

    /// Writes an element whose only content is a title, which a pointer or screen reader shows.
    pub fn leaf_titled(&mut self, name: &str, attributes: &[(&str, &dyn Display)], title: &str) {
        let _ = write!(self.body, "<{name}");
        Self::attributes(&mut self.body, attributes);
        let _ = writeln!(self.body, "><title>{}</title></{name}>", escape(title));
    }

    /// Writes one line of text. Figures are tabular.
    pub fn text(&mut self, x: f64, y: f64, style: &TextStyle, text: &str) {
        if text.is_empty() {
            return;
        }
        let text = &*fonts::readable(text);
        self.letters.push_str(text);
        let anchor = match style.anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let _ = write!(
            self.body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\"",
            Num(x),
            Num(y),
            Num(style.size),
            escape(&style.fill)
        );
        if style.weight == Weight::Bold {
            self.body.push_str(" font-weight=\"700\"");
        }
        if style.anchor != Anchor::Start {
            let _ = write!(self.body, " text-anchor=\"{anchor}\"");
        }
        if style.turn_deg != 0.0 {
            let _ = write!(self.body, " transform=\"rotate({} {} {})\"", Num(style.turn_deg), Num(x), Num(y));
        }
        if let Some(halo) = &style.halo {
            let _ = write!(
                self.body,
                " stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\" paint-order=\"stroke\"",
                escape(halo),
                Num((style.size * 0.26).max(2.0))
            );
        }
        let _ = writeln!(self.body, ">{}</text>", in_faces(text, style.weight));
    }

    /// Appends markup that this crate's own code has already made well-formed, such as a chart's inner drawing.
    pub(crate) fn raw(&mut self, markup: &str) {
        self.letters.push_str(markup);
        self.body.push_str(markup);
    }

    /// Adds a rectangular clip and returns the value for a `clip-path` attribute.
    pub fn clip_rect(&mut self, name: &str, x: f64, y: f64, width: f64, height: f64) -> String {
        let id = self.id(name);
        let _ = writeln!(
            self.defs,
            "<clipPath id=\"{id}\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath>",
            Num(x),
            Num(y),
            Num(width),
            Num(height)
        );
        format!("url(#{id})")
    }

    /// Adds a clip by a path (even-odd) and returns the value for a `clip-path` attribute.
    pub fn clip_path(&mut self, name: &str, d: &str) -> String {
        let id = self.id(name);
        let _ =
            writeln!(self.defs, "<clipPath id=\"{id}\"><path d=\"{}\" clip-rule=\"evenodd\"/></clipPath>", escape(d));
        format!("url(#{id})")
    }

    /// Keeps a path that is drawn more than once and returns the value for the `href` of a `use` element.
    pub fn define_path(&mut self, name: &str, d: &str) -> String {
        let id = self.id(name);
        let _ = writeln!(self.defs, "<path id=\"{id}\" d=\"{}\"/>", escape(d));
        format!("#{id}")
    }

    /// Adds a pattern of slanting lines and returns the value for a `fill` attribute.
    pub fn hatch(&mut self, name: &str, spacing: f64, stroke: &str, stroke_width: f64, ground: &str) -> String {
        let tile = format!(
            "<rect width=\"{s}\" height=\"{s}\" fill=\"{g}\"/><path d=\"M0 0V{s}\" stroke=\"{c}\" stroke-width=\"{w}\"/>",
            s = Num(spacing),
            g = escape(ground),
            c = escape(stroke),
            w = Num(stroke_width)
        );
        self.pattern(name, spacing, 45, &tile)
    }

    /// Adds a pattern of dots on nothing and returns the value for a `fill` attribute.
    pub fn dots(&mut self, name: &str, spacing: f64, colour: &str, radius: f64) -> String {
        let (middle, radius) = (Num(spacing / 2.0), Num(radius));
        let tile = format!("<circle cx=\"{middle}\" cy=\"{middle}\" r=\"{radius}\" fill=\"{}\"/>", escape(colour));
        self.pattern(name, spacing, 30, &tile)
    }

    /// Adds a pattern of square tiles, turned by so many degrees, and returns the value for a `fill` attribute.
    fn pattern(&mut self, name: &str, spacing: f64, turn_deg: u32, tile: &str) -> String {
        let id = self.id(name);
        let _ = writeln!(
            self.defs,
            "<pattern id=\"{id}\" width=\"{s}\" height=\"{s}\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate({turn_deg})\">{tile}</pattern>",
            s = Num(spacing),
        );
        format!("url(#{id})")
    }

    /// Ends the drawing, closing whatever is open, and returns it as text.
    #[must_use]
    pub fn finish(mut self, fonts: FontEmbedding) -> String {
        while !self.open.is_empty() {
            self.close();
        }
        let mut out = String::with_capacity(self.body.len() + 4096);
        let (title_id, description_id) = (self.id("title"), self.id("desc"));
        let _ = writeln!(
            out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" role=\"img\" \
             aria-labelledby=\"{title_id} {description_id}\" font-family=\"{family}\" \
             style=\"font-variant-numeric:tabular-nums\">",
            w = Num(self.width),
            h = Num(self.height),
            family = escape(&fonts::family_stack()),
        );
        let _ = writeln!(out, "<title id=\"{title_id}\">{}</title>", escape(&self.title));
        let _ = writeln!(out, "<desc id=\"{description_id}\">{}</desc>", escape(&self.description));
        if fonts == FontEmbedding::Embedded {
            out.push_str("<style>");
            out.push_str(&font_faces(&self.letters));
            out.push_str("</style>\n");
        }
        if !self.defs.is_empty() {
            let _ = writeln!(out, "<defs>\n{}</defs>", self.defs);
        }
        out.push_str(&self.body);
        out.push_str("</svg>\n");
        out
    }
}

/// The `@font-face` rules of the main face, with the fonts inside as base64: only the letters of `text`.
#[must_use]
pub fn font_faces(text: &str) -> String {
    let mut out = String::new();
    for weight in [Weight::Regular, Weight::Bold] {
        let number = match weight {
            Weight::Regular => 400,
            Weight::Bold => 700,
        };
        let _ = write!(
            out,
            "@font-face{{font-family:'{}';font-weight:{number};src:url(data:font/ttf;base64,{})}}",
            fonts::FAMILY,
            base64::engine::general_purpose::STANDARD.encode(fonts::subset(weight, text))
        );
    }
    out
}

/// A path's `d` attribute, written with one decimal and relative steps.
#[derive(Default)]
pub struct PathData {
    out: String,
    // Position in tenths, as written so far: steps are differences of rounded positions, so that rounding never adds up.
    at: (i64, i64),
}

impl PathData {
    /// An empty path.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds an open line through the points. Points that are not finite are left out.
    pub fn line(&mut self, points: &[[f64; 2]]) -> &mut Self {
        self.add(points, false);
        self
    }

    /// Adds a closed ring through the points.
    pub fn ring(&mut self, points: &[[f64; 2]]) -> &mut Self {
        self.add(points, true);
        self
    }

    fn add(&mut self, points: &[[f64; 2]], closed: bool) {
        let tenths = |v: f64| (v * 10.0).round() as i64;
        let mut started = false;
        for p in points.iter().filter(|p| p[0].is_finite() && p[1].is_finite()) {
            let (x, y) = (tenths(p[0]), tenths(p[1]));
            if started {
                let (dx, dy) = (x - self.at.0, y - self.at.1);
                if dx == 0 && dy == 0 {
                    continue;
                }
                self.out.push('l');
                push_tenths(&mut self.out, dx);
                if dy >= 0 {
                    self.out.push(' ');
                }
                push_tenths(&mut self.out, dy);
            } else {
                self.out.push('M');
                push_tenths(&mut self.out, x);
                self.out.push(' ');
                push_tenths(&mut self.out, y);
                started = true;
            }
            self.at = (x, y);
        }
        if closed && started {
            self.out.push('Z');
            // After Z the position is the ring's start; every ring begins with an absolute M, so it need not be kept.
        }
    }

    /// Whether nothing was added.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.out.is_empty()
    }

    /// The attribute's text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.out
    }
}

fn push_tenths(out: &mut String, tenths: i64) {
    if tenths < 0 {
        out.push('-');
    }
    let t = tenths.abs();
    let _ = if t % 10 == 0 { write!(out, "{}", t / 10) } else { write!(out, "{}.{}", t / 10, t % 10) };
}

/// The `d` attribute of an arc of a circle, clockwise on the page from `from_deg`, degrees from the page's top.
/// A sweep of 360 or more gives the whole circle.
#[must_use]
pub fn arc(centre: [f64; 2], radius: f64, from_deg: f64, sweep_deg: f64) -> String {
    let at = |deg: f64| {
        let (s, c) = deg.to_radians().sin_cos();
        [centre[0] + radius * s, centre[1] - radius * c]
    };
    let start = at(from_deg);
    if sweep_deg >= 359.9 {
        let half = at(from_deg + 180.0);
        return format!(
            "M{} {}A{r} {r} 0 1 1 {} {}A{r} {r} 0 1 1 {} {}Z",
            Num(start[0]),
            Num(start[1]),
            Num(half[0]),
            Num(half[1]),
            Num(start[0]),
            Num(start[1]),
            r = Num(radius)
        );
    }
    let end = at(from_deg + sweep_deg.max(0.0));
    format!(
        "M{} {}A{r} {r} 0 {} 1 {} {}",
        Num(start[0]),
        Num(start[1]),
        u8::from(sweep_deg > 180.0),
        Num(end[0]),
        Num(end[1]),
        r = Num(radius)
    )
}

/// Text with every stretch of letters that the main face lacks in an element that names the face which has it: programs that choose a
/// face for a whole line would leave out the letters of the other.
fn in_faces(text: &str, weight: Weight) -> String {
    let main = fonts::stack(weight).next();
    let mut out = String::with_capacity(text.len());
    for (place, stretch) in fonts::stretches(text, weight) {
        let lettered = stretch.chars().any(char::is_alphabetic);
        match place.filter(|place| lettered && Some(*place) != main).and_then(fonts::family_of) {
            Some(family) => {
                let _ = write!(out, "<tspan font-family=\"{family}\">{}</tspan>", escape(stretch));
            }
            None => out.push_str(&escape(stretch)),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_always_finite() {
        for (value, text) in
            [(1.0, "1"), (-0.25, "-0.25"), (1.005e3, "1005"), (2.5, "2.5"), (f64::NAN, "0"), (-0.001, "0")]
        {
            assert_eq!(Num(value).to_string(), text);
        }
    }

    #[test]
    fn hostile_text_comes_back_whole_from_an_independent_parser() {
        let text = "O\"Hara's <b>&amp; ☀ قرية \u{1}\u{0}=cmd|' /C calc'!A0";
        let mut svg = Svg::new(10.0, 10.0, "9 <x>", text, text);
        svg.open_group(text, &[("data-name", &text)]);
        svg.text(1.0, 2.0, &TextStyle::new(3.0, "#000"), text);
        let out = svg.finish(FontEmbedding::Embedded);
        let document = roxmltree::Document::parse(&out).expect("well-formed");
        let written = document.descendants().find(|n| n.has_tag_name("text")).unwrap();
        let written: String = written.descendants().filter(|n| n.is_text()).filter_map(|n| n.text()).collect();
        assert_eq!(written, "O\"Hara's <b>&amp; ☀ قرية =cmd|' /C calc'!A0");
        assert!(document.descendants().any(|n| n.has_tag_name("desc")));
    }

    #[test]
    fn relative_steps_do_not_add_up_rounding() {
        let points: Vec<[f64; 2]> = (0..=1000).map(|i| [f64::from(i) * 0.149, 0.0]).collect();
        let mut path = PathData::new();
        path.line(&points);
        let sum: f64 = path.as_str()[1..]
            .split('l')
            .map(|s| s.split(' ').next().and_then(|v| v.parse::<f64>().ok()).unwrap_or(0.0))
            .sum();
        assert!((sum - 149.0).abs() < 0.051, "{sum}");
    }
}
