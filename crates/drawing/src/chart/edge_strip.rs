//! The Moon's edge about the last light and about the first, laid out straight: where the beads stand, and when.
//!
//! Left to right are the hours of the dial (zenith at 12), below lies the Moon, above the sky. Heights are exaggerated by
//! a round factor that the drawing states.

use super::{ChartError, ChartPage, finite, foot_note};
use crate::fonts::{self, Weight};
use crate::palette::{COAST, INK, LAND, PAPER, QUIET_INK, TOTALITY};
use crate::projection::simplified;
use crate::svg::{Anchor, Num, PathData, Svg, TextStyle};
use noonfall_scoring::outlook::edge_strip::{EdgeStrip, STRIP_REACH_DEG, StripBead};
use noonfall_scoring::outlook::words::dial;
use noonfall_shadow::moon_edge::BeadSide;
use std::cmp::Ordering;
use std::fmt::Write as _;

const CHART: &str = "Moon's edge";

/// Length of a degree of the Moon's edge, km: the Moon's mean radius of 1737.4 km.
const KM_A_DEGREE: f64 = 1737.4 * std::f64::consts::PI / 180.0;

/// Factors of exaggeration that are used: the largest with which the heights fit.
const FACTORS: [f64; 13] = [120.0, 100.0, 80.0, 70.0, 60.0, 50.0, 40.0, 30.0, 25.0, 20.0, 15.0, 10.0, 5.0];

/// Points of the edge within this of the line through their neighbours are left out, in sizes of the letters: 0.1 mm
/// in print, less than a pixel on a screen.
const FINEST: f64 = 0.04;

/// A panel on the page.
struct Panel<'a> {
    strip: &'a EdgeStrip,
    left: f64,
    top: f64,
    width: f64,
    height: f64,
    /// Height above the mean edge at the foot, km.
    foot_km: f64,
    /// Drawing units to a km of height.
    unit_km: f64,
}

impl Panel<'_> {
    fn x(&self, along_deg: f64) -> f64 {
        self.left + self.width * (along_deg + STRIP_REACH_DEG) / (2.0 * STRIP_REACH_DEG)
    }

    fn y(&self, km: f64) -> f64 {
        self.top + self.height - (km - self.foot_km) * self.unit_km
    }

    /// Height of the edge at a place of the strip, km.
    fn edge_km(&self, along_deg: f64) -> f64 {
        let near = |p: &noonfall_scoring::outlook::edge_strip::StripPoint| (p.along_deg - along_deg).abs();
        let points = self.strip.points.iter();
        points.min_by(|a, b| near(a).total_cmp(&near(b))).map_or(0.0, |p| p.edge_km)
    }
}

/// The light of the contact in words.
fn light(side: BeadSide) -> &'static str {
    match side {
        BeadSide::C2 => "last light",
        BeadSide::C3 => "first light",
    }
}

fn heading(strip: &EdgeStrip) -> String {
    match strip.side {
        BeadSide::C2 => format!("C2: last light at {}", dial(strip.clock_hour)),
        BeadSide::C3 => format!("C3: first light at {}", dial(strip.clock_hour)),
    }
}

/// What a strip shows, for people who do not see it.
pub fn in_words(strip: &EdgeStrip) -> String {
    let others: Vec<&StripBead> = strip.beads.iter().filter(|b| !b.extreme).collect();
    let furthest = others.iter().map(|b| b.seconds).fold(0.0, f64::max);
    // Rounded up: never shorter than it is.
    let when = format!("in the {:.0} s {}", furthest.ceil(), side_words(strip.side));
    match others.len() {
        0 => format!("{}; no other bead stands apart.", heading(strip)),
        1 => format!("{}; one more bead of Sun {when}.", heading(strip)),
        count => format!("{}; {count} more beads of Sun {when}.", heading(strip)),
    }
}

fn side_words(side: BeadSide) -> &'static str {
    match side {
        BeadSide::C2 => "before",
        BeadSide::C3 => "after",
    }
}

/// Where the words stand that a strip needs to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Note {
    /// At the foot of the drawing.
    InDrawing,
    /// With whatever shows the drawing: [`EdgeDrawing::note`].
    Beside,
}

/// A drawing of the edge.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeDrawing {
    /// The SVG document.
    pub svg: String,
    /// What it shows, and how much its heights are exaggerated.
    pub note: String,
}

/// Draws both strips, below one another, or side by side where the page is wide.
///
/// # Errors
/// [`ChartError`] for a strip without points, a number that is not finite, or too small a page.
pub fn edge_strip(page: &ChartPage, strips: &[EdgeStrip; 2], noted: Note) -> Result<EdgeDrawing, ChartError> {
    let all = || strips.iter().flat_map(|s| &s.points);
    if strips.iter().any(|s| s.points.is_empty()) {
        return Err(ChartError::Empty { chart: CHART, wants: "the edge's heights about both contacts" });
    }
    for strip in strips {
        finite(CHART, "a place on the dial", strip.middle_clockwise_deg)?;
        for p in &strip.points {
            finite(CHART, "a height", p.along_deg + p.edge_km + p.sun_km.unwrap_or(0.0))?;
        }
        for b in &strip.beads {
            finite(CHART, "a bead", b.along_deg + b.seconds + b.lasts_s + b.clock_hour)?;
        }
    }
    let t = page.text;
    let description = format!("{} {}", in_words(&strips[0]), in_words(&strips[1]));
    let (mut svg, top) = page.begin(CHART, "The Moon's edge at the last and the first light", &description)?;
    let beside = page.width > 3.4 * page.height;
    let ruler = 2.9 * t;
    let (head, dial_room) = (3.5 * t, 1.3 * t);
    let panel_width = if beside { (page.width - 3.0 * t) / 2.0 - ruler } else { page.width - 1.6 * t - ruler };
    // The note is measured with the longest factor before the factor is known.
    let note = |factor: f64| {
        format!(
            "The Moon’s edge laid out straight, heights drawn {factor:.0} times as tall as lengths along it; hours of the dial, \
             zenith at 12. Dashed: the Sun’s limb behind the Moon at the contact. Rings: beads, with the seconds before C2 at \
             which they go out, after C3 at which they appear. Every bead is bright Sun: filters stay on for it."
        )
    };
    let size = t * 0.8;
    let lines = |words: &str| fonts::wrapped(words, size, Weight::Regular, page.width - 1.6 * t).len() as f64;
    let foot = match noted {
        Note::InDrawing => lines(&note(FACTORS[0])) * size * 1.28 + t * 0.6,
        Note::Beside => t * 0.4,
    };
    let room = page.height - top - foot;
    let panel_height = if beside { room } else { room / 2.0 } - head - dial_room;
    if panel_height < 3.0 * t {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    let highest = all().map(|p| p.edge_km).fold(f64::NEG_INFINITY, f64::max) + 0.3;
    let lowest = all().map(|p| p.edge_km).fold(f64::INFINITY, f64::min) - 0.8;
    let along = panel_width / (2.0 * STRIP_REACH_DEG * KM_A_DEGREE);
    let fits = |factor: &f64| factor * along * (highest - lowest) <= panel_height;
    let factor = FACTORS.into_iter().find(fits).unwrap_or(FACTORS[FACTORS.len() - 1]);
    let note = note(factor);
    if noted == Note::InDrawing {
        foot_note(&mut svg, page, &note);
    }
    let unit_km = factor * along;
    for (k, strip) in strips.iter().enumerate() {
        let column = if beside { k as f64 * (page.width - t) / 2.0 } else { 0.0 };
        let row = if beside { 0.0 } else { k as f64 * room / 2.0 };
        let foot_km = highest - panel_height / unit_km;
        let panel = Panel {
            strip,
            left: t * 0.8 + ruler + column,
            top: top + row + head,
            width: panel_width,
            height: panel_height,
            foot_km,
            unit_km,
        };
        draw(&mut svg, &panel, t, k);
    }
    Ok(EdgeDrawing { svg: svg.finish(page.fonts), note })
}

fn draw(svg: &mut Svg, panel: &Panel<'_>, t: f64, number: usize) {
    let strip = panel.strip;
    svg.open_group(&heading(strip), &[]);
    svg.text(panel.left, panel.top - t * 2.55, &TextStyle::new(t, INK).strong(), &heading(strip));
    let clip =
        svg.clip_rect(&format!("strip-{number}"), panel.left, panel.top - t * 2.3, panel.width, panel.height + t * 2.3);
    svg.open("g", &[("clip-path", &clip)]);
    let bottom = panel.top + panel.height;
    let crest: Vec<[f64; 2]> = strip.points.iter().map(|p| [panel.x(p.along_deg), panel.y(p.edge_km)]).collect();
    // What lies beside the panel is cut off, the pen's stroke at the sides with it.
    let mut ground = simplified(&crest, FINEST * t);
    ground.extend([[panel.left + panel.width + t, bottom + t], [panel.left - t, bottom + t]]);
    let mut d = PathData::new();
    d.ring(&ground);
    svg.leaf(
        "path",
        &[
            ("d", &d.as_str()),
            ("fill", &LAND),
            ("stroke", &INK),
            ("stroke-width", &Num(t * 0.11)),
            ("stroke-linejoin", &"round"),
        ],
    );
    // The Sun behind the Moon: a paler bay under its limb.
    let limb: Vec<[f64; 2]> = strip
        .points
        .iter()
        .filter_map(|p| p.sun_km.map(|km| [panel.x(p.along_deg), panel.y(km).min(bottom + t)]))
        .collect();
    let limb = simplified(&limb, FINEST * t);
    if let (Some(first), Some(last)) = (limb.first(), limb.last()) {
        let mut bay = limb.clone();
        bay.extend([[last[0] + t, bottom + t], [first[0] - t, bottom + t]]);
        let mut d = PathData::new();
        d.ring(&bay);
        let dashes = format!("{} {}", Num(t * 0.5), Num(t * 0.3));
        svg.leaf(
            "path",
            &[
                ("d", &d.as_str()),
                ("fill", &PAPER),
                ("fill-opacity", &"0.75"),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.09)),
                ("stroke-dasharray", &dashes),
            ],
        );
    }
    svg.close();
    draw_ruler(svg, panel, t);
    draw_dial(svg, panel, t);
    draw_beads(svg, panel, t);
    svg.close();
}

/// Heights at the left: the mean edge and every second kilometre.
fn draw_ruler(svg: &mut Svg, panel: &Panel<'_>, t: f64) {
    let x = panel.left - t * 0.3;
    let top_km = panel.foot_km + panel.height / panel.unit_km;
    let step = if panel.unit_km * 2.0 < t { 4 } else { 2 };
    let mut d = String::new();
    for km in (-20..=20_i32).filter(|km| km % step == 0) {
        let height = f64::from(km);
        if height < panel.foot_km || height > top_km {
            continue;
        }
        let y = panel.y(height);
        d.push_str(&format!("M{} {}h{}", Num(x - t * 0.35), Num(y), Num(t * 0.35)));
        let words = match km {
            0 => "0 km".to_owned(),
            _ if km > 0 => format!("+{km}"),
            _ => format!("\u{2212}{}", -km),
        };
        svg.text(x - t * 0.5, y + t * 0.26, &TextStyle::new(t * 0.74, QUIET_INK).held(Anchor::End), &words);
        if km == 0 {
            let level = format!("M{} {}H{}", Num(panel.left), Num(y), Num(panel.left + panel.width));
            svg.leaf(
                "path",
                &[
                    ("d", &level),
                    ("stroke", &COAST),
                    ("stroke-width", &Num(t * 0.06)),
                    ("stroke-dasharray", &format!("{} {}", Num(t * 0.1), Num(t * 0.3))),
                ],
            );
        }
    }
    d.push_str(&format!("M{} {}V{}", Num(x), Num(panel.top), Num(panel.top + panel.height)));
    svg.leaf("path", &[("d", &d), ("fill", &"none"), ("stroke", &QUIET_INK), ("stroke-width", &Num(t * 0.06))]);
}

/// The hours of the dial along the foot, every half hour.
fn draw_dial(svg: &mut Svg, panel: &Panel<'_>, t: f64) {
    let y = panel.top + panel.height;
    let mut d = format!("M{} {}h{}", Num(panel.left), Num(y), Num(panel.width));
    let first = panel.strip.middle_clockwise_deg - STRIP_REACH_DEG;
    let mut free_from = f64::NEG_INFINITY;
    for step in (first / 15.0).ceil() as i32..=((first + 2.0 * STRIP_REACH_DEG) / 15.0).floor() as i32 {
        let x = panel.x(f64::from(step) * 15.0 - panel.strip.middle_clockwise_deg);
        let whole = step.rem_euclid(2) == 0;
        d.push_str(&format!("M{} {}v{}", Num(x), Num(y), Num(t * if whole { 0.4 } else { 0.25 })));
        let hour = 0.5 * f64::from(step.rem_euclid(24));
        let words = dial(if hour == 0.0 { 12.0 } else { hour });
        let half = fonts::width(&words, t * 0.74, Weight::Regular) / 2.0;
        // Half hours only where whole ones leave them room.
        let apart = panel.width * 15.0 / (2.0 * STRIP_REACH_DEG);
        let inside = x - half > panel.left - t * 2.0 && x + half < panel.left + panel.width + t * 0.6;
        if inside && x - half > free_from && (whole || apart > 5.6 * t) {
            svg.text(x, y + t * 1.15, &TextStyle::new(t * 0.74, INK).held(Anchor::Middle), &words);
            free_from = x + half + t * 0.3;
        }
    }
    svg.leaf("path", &[("d", &d), ("fill", &"none"), ("stroke", &INK), ("stroke-width", &Num(t * 0.07))]);
}

/// Beads as rings in their valleys with the seconds above; the last light a diamond, the first a full disc.
fn draw_beads(svg: &mut Svg, panel: &Panel<'_>, t: f64) {
    let mut order: Vec<&StripBead> =
        panel.strip.beads.iter().filter(|b| b.along_deg.abs() <= STRIP_REACH_DEG).collect();
    // The contact's own light first, then what lasts longest: those get words where there is no room for all.
    order.sort_by(|a, b| b.extreme.cmp(&a.extreme).then(b.lasts_s.total_cmp(&a.lasts_s)));
    let mut taken: Vec<Words> = Vec::new();
    let mut leaders = String::new();
    let mut rings = String::new();
    let mut own = None;
    for bead in order {
        let at = [panel.x(bead.along_deg), panel.y(panel.edge_km(bead.along_deg))];
        let (words, style) = if bead.extreme {
            (light(panel.strip.side).to_owned(), TextStyle::new(t * 0.84, TOTALITY).strong())
        } else {
            (format!("{:.1} s", bead.seconds), TextStyle::new(t * 0.8, INK))
        };
        let half = fonts::width(&words, style.size, style.weight) / 2.0;
        let centre = at[0].clamp(panel.left + half, panel.left + panel.width - half);
        let place = |row| Words { centre, half, row };
        if let Some(new) = [0, 1].map(place).into_iter().find(|new| taken.iter().all(|old| new.clear_of(old, t))) {
            let y = panel.top - t * (0.55 + f64::from(new.row) * 0.95);
            taken.push(new);
            // The leader ends under the words, bent where they had to move.
            let _ = write!(
                leaders,
                "M{} {}L{} {}V{}",
                Num(centre),
                Num(y + t * 0.2),
                Num(at[0]),
                Num(y + t * 0.6),
                Num(at[1])
            );
            svg.text(centre, y, &style.held(Anchor::Middle), &words);
        }
        if bead.extreme {
            own = Some(at);
        } else {
            let r = t * 0.24;
            let _ = write!(rings, "M{} {}a{r} {r} 0 1 1 0 .01Z", Num(at[0] - t * 0.24), Num(at[1]), r = Num(r));
        }
    }
    let look: [(&str, &dyn std::fmt::Display); 2] = [("fill", &"none"), ("stroke", &QUIET_INK)];
    svg.leaf("path", &[&look[..], &[("d", &leaders), ("stroke-width", &Num(t * 0.05))]].concat());
    let pen = Num(t * 0.12);
    if !rings.is_empty() {
        svg.leaf("path", &[("d", &rings), ("fill", &PAPER), ("stroke", &INK), ("stroke-width", &pen)]);
    }
    let Some([x, y]) = own else { return };
    if panel.strip.side == BeadSide::C2 {
        let (a, b) = (Num(t * 0.48), Num(-t * 0.48));
        let d = format!("M{} {}l{a} {a}l{b} {a}l{b} {b}z", Num(x), Num(y - t * 0.48));
        svg.leaf("path", &[("d", &d), ("fill", &PAPER), ("stroke", &TOTALITY), ("stroke-width", &Num(t * 0.2))]);
    } else {
        circle(svg, [x, y], t * 0.42, &[("fill", &TOTALITY), ("stroke", &PAPER), ("stroke-width", &pen)]);
    }
}

/// Words over the strip: the lower row is 0, the upper one 1, from which leaders come down through the lower.
#[derive(Clone, Copy)]
struct Words {
    centre: f64,
    half: f64,
    row: i32,
}

impl Words {
    fn clear_of(&self, other: &Words, t: f64) -> bool {
        let away = (self.centre - other.centre).abs();
        match self.row.cmp(&other.row) {
            Ordering::Equal => away > self.half + other.half + t * 0.35,
            // The upper one's leader must pass beside the lower one's letters.
            Ordering::Greater => away > other.half + t * 0.2,
            Ordering::Less => away > self.half + t * 0.2,
        }
    }
}

fn circle(svg: &mut Svg, at: [f64; 2], radius: f64, look: &[(&str, &dyn std::fmt::Display)]) {
    let (x, y, r) = (Num(at[0]), Num(at[1]), Num(radius));
    let place: [(&str, &dyn std::fmt::Display); 3] = [("cx", &x), ("cy", &y), ("r", &r)];
    svg.leaf("circle", &[&place[..], look].concat());
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_scoring::outlook::edge_strip::StripPoint;

    /// An invented edge: a valley of 3 km in the middle, level elsewhere.
    fn invented(side: BeadSide) -> EdgeStrip {
        let point = |k: i32| {
            let along_deg = f64::from(k) * 0.1;
            let edge_km = if along_deg.abs() < 1.0 { -3.0 } else { 1.0 };
            StripPoint { along_deg, edge_km, sun_km: Some(-3.0 - 0.01 * along_deg * along_deg) }
        };
        let bead = |along_deg: f64, seconds: f64| StripBead {
            along_deg,
            seconds,
            lasts_s: 1.0,
            clock_hour: 2.5,
            extreme: seconds == 0.0,
        };
        EdgeStrip {
            side,
            middle_clockwise_deg: 75.0,
            clock_hour: 2.5,
            points: (-400..=400).map(point).collect(),
            beads: vec![bead(-12.0, 3.2), bead(0.0, 0.0), bead(90.0, 1.0)],
        }
    }

    #[test]
    fn both_strips_say_what_they_show() {
        for (width, height) in [(460.0, 470.0), (540.0, 130.0)] {
            let page = ChartPage { text: if width > 500.0 { 7.5 } else { 13.0 }, ..ChartPage::new("e", width, height) };
            let svg =
                edge_strip(&page, &[invented(BeadSide::C2), invented(BeadSide::C3)], Note::InDrawing).unwrap().svg;
            let document = roxmltree::Document::parse(&svg).unwrap();
            let texts: Vec<&str> =
                document.descendants().filter(|n| n.has_tag_name("text")).filter_map(|n| n.text()).collect();
            let all = document.descendants().filter_map(|n| n.text()).collect::<Vec<_>>().join(" ");
            for words in [
                "last light",
                "first light",
                "3.2 s",
                "times as tall",
                "filters stay on",
                "3 o'clock",
                "2 more beads of Sun in the 4 s before",
            ] {
                assert!(all.contains(words), "{words}: {texts:?}");
            }
            assert!(!svg.contains("NaN"));
        }
        let mut holed = invented(BeadSide::C2);
        holed.points[7].edge_km = f64::NAN;
        let page = ChartPage::new("e", 460.0, 470.0);
        assert!(matches!(
            edge_strip(&page, &[holed, invented(BeadSide::C3)], Note::Beside),
            Err(ChartError::NotFinite { .. })
        ));
        let empty = EdgeStrip { points: Vec::new(), ..invented(BeadSide::C2) };
        assert!(matches!(
            edge_strip(&page, &[empty, invented(BeadSide::C3)], Note::Beside),
            Err(ChartError::Empty { .. })
        ));
    }

    /// Heights and lengths keep the ratio that the note states.
    #[test]
    fn the_stated_factor_is_the_drawn_one() {
        let page = ChartPage::new("e", 460.0, 470.0);
        let strips = [invented(BeadSide::C2), invented(BeadSide::C3)];
        let EdgeDrawing { svg, note } = edge_strip(&page, &strips, Note::Beside).unwrap();
        assert!(!svg.contains("times as tall"));
        let factor = FACTORS.into_iter().find(|f| note.contains(&format!("{f:.0} times"))).unwrap();
        let along = (460.0 - 1.6 * 13.0 - 2.9 * 13.0) / (2.0 * STRIP_REACH_DEG * KM_A_DEGREE);
        // Between the marks of +0 and −2 km of a ruler.
        let document = roxmltree::Document::parse(&svg).unwrap();
        let y = |words: &str| -> f64 {
            let node = document.descendants().find(|n| n.has_tag_name("text") && n.text() == Some(words)).unwrap();
            node.attribute("y").unwrap().parse().unwrap()
        };
        let drawn = (y("\u{2212}2") - y("0 km")) / 2.0;
        assert!((drawn / along / factor - 1.0).abs() < 0.01, "{drawn} {along} {factor}");
    }
}
