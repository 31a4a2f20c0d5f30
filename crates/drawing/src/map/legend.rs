//! What stands below the map: the ramp, the key, the notes, the caution.

use super::{MapSheet, canvas::Canvas, hidden_ground, ramp::Ramp, roads, sites};
use crate::fonts::{self, Weight};
use crate::map::credits;
use crate::palette::{self, CLOUD, INK, PAPER, QUIET_INK, WATER};
use crate::svg::{Anchor, Num, Svg, TextStyle, arc};
use noonfall_words::map::layer;
use noonfall_words::map::{key as say, seconds_of};

/// The foot of the page, measured before the map window is laid out.
pub struct Foot {
    /// Height, drawing units.
    pub height: f64,
    room: f64,
    columns: Vec<f64>,
    lines: Vec<LineKey>,
    symbols: Vec<SymbolKey>,
    notes: Vec<String>,
    caution: Vec<String>,
    body: f64,
}

#[derive(Clone, Copy)]
enum LineKey {
    Central,
    Limit,
    TrueLimit,
    Tick,
    Altitude,
    Cloud,
    Water,
    Road,
    Hidden,
    Unknown,
    Link,
}

#[derive(Clone, Copy)]
enum SymbolKey {
    Disc,
    Ring,
    Dot,
    Cross,
    Town,
}

const SMALL: f64 = 0.84;
const ROW: f64 = 1.4;
// Longest projection name with its parameters; the real one is only known once the window is.
const PROJECTION_PLACEHOLDER: &str = "Lambert conformal conic, standard parallels 88.8° S and 88.8° S.";

impl Foot {
    /// Lays out the foot for a width.
    #[must_use]
    pub fn measured(sheet: &MapSheet<'_>, ramp: &Ramp, room: f64, regional: bool, limits_apart: bool) -> Foot {
        let t = sheet.page.text;
        let wide = room > 56.0 * t;
        let columns = if wide { vec![0.3 * room, 0.26 * room, 0.44 * room] } else { vec![room] };
        let mut lines = vec![LineKey::Central, LineKey::Limit, LineKey::Tick, LineKey::Altitude];
        if limits_apart {
            lines.insert(2, LineKey::TrueLimit);
        }
        lines.push(LineKey::Water);
        if roads::is_drawn(sheet, regional) {
            lines.push(LineKey::Road);
        }
        if sheet.ground.is_some() && hidden_ground::is_drawn(regional) {
            lines.push(LineKey::Hidden);
        }
        if hidden_ground::tells_unknown(sheet, regional) {
            lines.push(LineKey::Unknown);
        }
        if sheet.clouds.is_some() {
            lines.push(LineKey::Cloud);
        }
        if !sheet.links.is_empty() {
            lines.push(LineKey::Link);
        }
        let mut symbols = Vec::new();
        let ranked = sheet.sites.iter().filter(|s| s.rank.is_some()).count();
        if ranked > 0 {
            symbols.push(SymbolKey::Disc);
            if sheet.sites.iter().any(|s| s.clear_probability.is_some()) {
                symbols.push(SymbolKey::Ring);
            }
        }
        if ranked > sites::MOST_NUMBERED {
            symbols.push(SymbolKey::Dot);
        }
        if sheet.sites.iter().any(|s| s.rank.is_none()) {
            symbols.push(SymbolKey::Cross);
        }
        if regional && !sheet.towns.is_empty() {
            symbols.push(SymbolKey::Town);
        }
        let notes_room = if wide { columns[2] } else { room };
        let mut notes = fonts::wrapped(PROJECTION_PLACEHOLDER, t * SMALL, Weight::Regular, notes_room);
        for note in credits::notes(sheet) {
            notes.extend(fonts::wrapped(&note, t * SMALL, Weight::Regular, notes_room));
        }
        let caution = fonts::wrapped(credits::caution(sheet.path.centrality), t * 0.88, Weight::Bold, room);
        let ramp_height = t * if ramp.bounds_s.len() > 1 { 3.1 } else { 2.4 };
        let notes_height = notes.len() as f64 * t * SMALL * 1.28;
        let body = if wide {
            (ramp_height + t * ROW * lines.len() as f64).max(t * ROW * 1.25 * symbols.len() as f64).max(notes_height)
        } else {
            ramp_height + t * ROW * (lines.len().max(symbols.len()) as f64) + t * 0.4 + notes_height
        };
        let height = body + t * 0.5 + caution.len() as f64 * t * 0.88 * 1.28;
        Foot { height, room, columns, lines, symbols, notes, caution, body }
    }

    /// Draws it with its top left corner at the given point.
    pub fn draw(&self, canvas: &mut Canvas, x: f64, top: f64) {
        let t = canvas.page.text;
        let wide = self.columns.len() > 1;
        let ramp = canvas.ramp.clone();
        let noun = canvas.sheet.path.centrality.noun();
        let ramp_width = if wide { self.columns[0] - t * 2.0 } else { self.room };
        let ramp_height = t * if ramp.bounds_s.len() > 1 { 3.1 } else { 2.4 };
        canvas.svg.open_group(layer::LEGEND, &[]);
        draw_ramp(&mut canvas.svg, [x, top], ramp_width, &ramp, noun, t);
        let mut y = top + ramp_height;
        for key in &self.lines {
            draw_line_key(&mut canvas.svg, [x, y], *key, &ramp, noun, t);
            y += t * ROW;
        }
        let (symbols_x, mut y) =
            if wide { (x + self.columns[0], top) } else { (x + self.room * 0.5, top + ramp_height) };
        for key in &self.symbols {
            draw_symbol_key(&mut canvas.svg, [symbols_x, y], *key, t);
            y += t * ROW * if wide { 1.25 } else { 1.0 };
        }
        let (notes_x, notes_room, mut y) = if wide {
            (x + self.columns[0] + self.columns[1], self.columns[2], top)
        } else {
            let rows = self.lines.len().max(self.symbols.len()) as f64;
            (x, self.room, top + ramp_height + t * ROW * rows + t * 0.4)
        };
        let name = format!("{}.", canvas.frame.projection().name());
        let mut notes = fonts::wrapped(&name, t * SMALL, Weight::Regular, notes_room);
        for note in credits::notes(canvas.sheet) {
            notes.extend(fonts::wrapped(&note, t * SMALL, Weight::Regular, notes_room));
        }
        for note in notes.iter().take(self.notes.len().max(1)) {
            y += t * SMALL;
            canvas.svg.text(notes_x, y, &TextStyle::new(t * SMALL, QUIET_INK), note);
            y += t * SMALL * 0.28;
        }
        let mut y = top + self.body + t * 0.5;
        for line in &self.caution {
            y += t * 0.88;
            canvas.svg.text(x, y, &TextStyle::new(t * 0.88, INK).strong(), line);
            y += t * 0.88 * 0.28;
        }
        canvas.svg.close();
    }
}

/// Draws the ramp with its bounds beneath.
pub fn draw_ramp(svg: &mut Svg, at: [f64; 2], width: f64, ramp: &Ramp, noun: &str, t: f64) {
    svg.text(at[0], at[1] + t * 0.9, &TextStyle::new(t * SMALL, INK).strong(), &seconds_of(noun));
    let n = ramp.bounds_s.len();
    let step = width / n as f64;
    let size = t * 0.8;
    let last = format!("{:.0} s", ramp.end_s);
    // Figures that would touch the last one, or one another, are left out.
    let (gap, end) = (size * 0.4, at[0] + width - fonts::width(&last, size, Weight::Regular));
    let mut taken = f64::NEG_INFINITY;
    for (i, bound) in ramp.bounds_s.iter().enumerate() {
        let x = at[0] + i as f64 * step;
        svg.leaf(
            "rect",
            &[
                ("x", &Num(x)),
                ("y", &Num(at[1] + t * 1.2)),
                ("width", &Num(step)),
                ("height", &Num(t * 0.72)),
                ("fill", &ramp.colour(i)),
            ],
        );
        let figure = format!("{bound:.0}");
        let wide = fonts::width(&figure, size, Weight::Regular);
        let (anchor, left) = if i == 0 { (Anchor::Start, x) } else { (Anchor::Middle, x - 0.5 * wide) };
        if left > taken + gap && left + wide + gap < end {
            svg.text(x, at[1] + t * 2.7, &TextStyle::new(size, INK).held(anchor), &figure);
            taken = left + wide;
        }
    }
    svg.text(at[0] + width, at[1] + t * 2.7, &TextStyle::new(size, INK).held(Anchor::End), &last);
    svg.leaf(
        "rect",
        &[
            ("x", &Num(at[0])),
            ("y", &Num(at[1] + t * 1.2)),
            ("width", &Num(width)),
            ("height", &Num(t * 0.72)),
            ("fill", &"none"),
            ("stroke", &INK),
            ("stroke-width", &Num(t * 0.05)),
        ],
    );
}

fn draw_line_key(svg: &mut Svg, at: [f64; 2], key: LineKey, ramp: &Ramp, noun: &str, t: f64) {
    let (x, y) = (at[0], at[1] + t * 0.7);
    let end = x + t * 2.6;
    let mut stroke = |width: f64, dashes: String, cap: &str, colour: &str| {
        svg.leaf(
            "path",
            &[
                ("d", &format!("M{} {}H{}", Num(x), Num(y), Num(end))),
                ("fill", &"none"),
                ("stroke", &colour),
                ("stroke-width", &Num(width)),
                ("stroke-dasharray", &dashes),
                ("stroke-linecap", &cap),
            ],
        );
    };
    let text = match key {
        LineKey::Central => {
            stroke(
                t * 0.065,
                format!("{} {} {} {}", Num(t * 0.75), Num(t * 0.22), Num(t * 0.1), Num(t * 0.22)),
                "butt",
                INK,
            );
            say::CENTRAL.to_owned()
        }
        LineKey::Limit => {
            stroke(t * 0.055, "none".to_owned(), "butt", INK);
            say::limit(noun)
        }
        LineKey::TrueLimit => {
            let look = super::limits::TrueLimitLook::of(t);
            stroke(look.width, look.dashes, "butt", INK);
            say::TRUE_LIMIT.to_owned()
        }
        LineKey::Altitude => {
            stroke(t * 0.08, format!("0 {}", Num(t * 0.24)), "round", INK);
            say::ALTITUDE.to_owned()
        }
        LineKey::Cloud => {
            for (i, share) in [0.2, 0.5, 0.9].into_iter().enumerate() {
                svg.leaf(
                    "circle",
                    &[
                        ("cx", &Num(x + t * (0.4 + 0.9 * i as f64))),
                        ("cy", &Num(y)),
                        ("r", &Num(t * 0.9 * super::clouds::dot_share(share) / 2.0)),
                        ("fill", &CLOUD),
                    ],
                );
            }
            say::CLOUD.to_owned()
        }
        LineKey::Water => {
            let steps = [ramp.bounds_s.len() / 2, ramp.bounds_s.len() / 2];
            for (i, (step, over)) in steps.into_iter().zip([false, true]).enumerate() {
                let (left, top) = (Num(x + t * 1.3 * i as f64), Num(y - t * 0.36));
                let mut swatch = |fill: &str, opacity: f64| {
                    svg.leaf(
                        "rect",
                        &[
                            ("x", &left),
                            ("y", &top),
                            ("width", &Num(t * 1.3)),
                            ("height", &Num(t * 0.72)),
                            ("fill", &fill),
                            ("fill-opacity", &Num(opacity)),
                        ],
                    );
                };
                swatch(&ramp.colour(step), 1.0);
                if over {
                    swatch(WATER, super::land::WATER_OVER_PATH);
                }
            }
            say::WATER.to_owned()
        }
        LineKey::Road => {
            for (stroke, width, opacity) in roads::look(t) {
                svg.leaf(
                    "path",
                    &[
                        ("d", &format!("M{} {}H{}", Num(x), Num(y), Num(end))),
                        ("fill", &"none"),
                        ("stroke", &stroke),
                        ("stroke-width", &Num(width)),
                        ("stroke-opacity", &Num(opacity)),
                    ],
                );
            }
            say::ROAD.to_owned()
        }
        LineKey::Hidden | LineKey::Unknown => {
            let (fill, words) = if matches!(key, LineKey::Hidden) {
                (hidden_ground::hatch(svg, "key", t), say::hidden(noun))
            } else {
                (hidden_ground::dots(svg, "key", t), say::UNKNOWN.to_owned())
            };
            svg.leaf(
                "rect",
                &[
                    ("x", &Num(x)),
                    ("y", &Num(y - t * 0.36)),
                    ("width", &Num(t * 2.6)),
                    ("height", &Num(t * 0.72)),
                    ("fill", &fill),
                ],
            );
            words
        }
        LineKey::Tick => {
            svg.leaf(
                "path",
                &[
                    ("d", &format!("M{} {}v{}", Num(x + t * 1.3), Num(y - t * 0.5), Num(t))),
                    ("stroke", &INK),
                    ("stroke-width", &Num(t * 0.055)),
                ],
            );
            say::TICK.to_owned()
        }
        LineKey::Link => {
            stroke(t * 0.12, "none".to_owned(), "butt", INK);
            svg.leaf(
                "path",
                &[
                    (
                        "d",
                        &format!(
                            "M{} {}l{} {}v{}Z",
                            Num(end + t * 0.1),
                            Num(y),
                            Num(-t * 0.7),
                            Num(-t * 0.3),
                            Num(t * 0.6)
                        ),
                    ),
                    ("fill", &INK),
                ],
            );
            say::LINK.to_owned()
        }
    };
    svg.text(x + t * 3.1, y + t * 0.3, &TextStyle::new(t * SMALL, INK), &text);
}

fn draw_symbol_key(svg: &mut Svg, at: [f64; 2], key: SymbolKey, t: f64) {
    let (x, y) = (at[0] + t * 1.3, at[1] + t * 0.7);
    let text = match key {
        SymbolKey::Disc => {
            sites::disc(svg, [x - t * 0.65, y], t * 0.42, 9, None, false, t * 0.7);
            sites::disc(svg, [x + t * 0.65, y], t * 0.62, 1, None, false, t * 0.7);
            say::DISC
        }
        SymbolKey::Ring => {
            for (i, p) in [0.3, 0.7].into_iter().enumerate() {
                let c = [x + t * (-0.65 + 1.3 * i as f64), y];
                svg.leaf(
                    "path",
                    &[
                        ("d", &arc(c, t * 0.45, 0.0, 360.0 * p)),
                        ("fill", &"none"),
                        ("stroke", &INK),
                        ("stroke-width", &Num(t * 0.17)),
                    ],
                );
            }
            say::RING
        }
        SymbolKey::Dot => {
            svg.leaf("circle", &[("cx", &Num(x)), ("cy", &Num(y)), ("r", &Num(t * 0.14)), ("fill", &INK)]);
            say::DOT
        }
        SymbolKey::Cross => {
            sites::cross(svg, [x, y], t * 0.26, t);
            say::CROSS
        }
        SymbolKey::Town => {
            svg.leaf(
                "circle",
                &[
                    ("cx", &Num(x)),
                    ("cy", &Num(y)),
                    ("r", &Num(t * 0.15)),
                    ("fill", &PAPER),
                    ("stroke", &INK),
                    ("stroke-width", &Num(t * 0.07)),
                ],
            );
            say::TOWN
        }
    };
    svg.text(at[0] + t * 3.1, y + t * 0.3, &TextStyle::new(t * SMALL, palette::INK), text);
}
