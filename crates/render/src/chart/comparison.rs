//! Low Sun against high Sun: every site by the Sun's altitude, and two of them quantity by quantity.

use super::axes::{self, Axes};
use super::{ChartError, ChartPage, finite, foot_note};
use crate::fonts::{self, Weight};
use crate::labels::{Placer, Wanted};
use crate::map::duration_text;
use crate::palette::{INK, PAPER, QUIET_INK, SHADE, TOTALITY};
use crate::projection::Window;
use crate::svg::{Anchor, Num, Svg, TextStyle};
use noonfall_scoring::outlook::totality::EdgeShown;

/// A site in the comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedSite {
    /// Rank, if ranked.
    pub rank: Option<u32>,
    /// Name.
    pub name: String,
    /// Sun's altitude at maximum, degrees.
    pub sun_altitude_deg: f64,
    /// Seconds of totality.
    pub totality_s: f64,
    /// Expected seconds of clear totality: totality times the chance of clear sky; none without cloud data.
    pub expected_clear_totality_s: Option<f64>,
}

/// One quantity of two sites, for the panel below.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedQuantity {
    /// Name with its unit.
    pub name: String,
    /// At the low-Sun site: a length from 0 to 1 for the bar, and the value in words.
    pub low: (f64, String),
    /// At the high-Sun site.
    pub high: (f64, String),
}

/// Two sites side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// Name of the low-Sun site.
    pub low: String,
    /// Name of the high-Sun site.
    pub high: String,
    /// What is compared, in order.
    pub quantities: Vec<ComparedQuantity>,
}

/// Altitude below which a Sun is called low here, and above which it is called high, degrees (common practice, no source).
pub const LOW_BELOW_DEG: f64 = 20.0;
/// See [`LOW_BELOW_DEG`].
pub const HIGH_ABOVE_DEG: f64 = 40.0;

const CHART: &str = "comparison";

/// Draws the chart; the pair's panel is left out when there is no pair. `edge` is the Moon's edge that the durations are for.
///
/// # Errors
/// [`ChartError`] for no site, a number that is not finite, or too small a page.
pub fn comparison(
    page: &ChartPage,
    sites: &[ComparedSite],
    pair: Option<&Pair>,
    edge: EdgeShown,
) -> Result<String, ChartError> {
    if sites.is_empty() {
        return Err(ChartError::Empty { chart: CHART, wants: "at least one site inside the path" });
    }
    for s in sites {
        finite(CHART, &format!("a Sun's altitude for {}", s.name), s.sun_altitude_deg)?;
        finite(CHART, &format!("a duration for {}", s.name), s.totality_s)?;
    }
    let t = page.text;
    let title = "Seconds of totality by the Sun’s altitude";
    let description = format!(
        "{} sites, from a Sun {:.0} degrees high to {:.0} degrees.",
        sites.len(),
        sites.iter().map(|s| s.sun_altitude_deg).fold(90.0, f64::min),
        sites.iter().map(|s| s.sun_altitude_deg).fold(-90.0, f64::max)
    );
    let (mut svg, top) = page.begin(CHART, title, &description)?;
    let of_edge = match edge {
        EdgeShown::True => "at the Moon’s measured edge",
        EdgeShown::Smooth => "of a smooth Moon",
    };
    let note = format!(
        "Stem: all of totality. Thick part: expected seconds under a clear sky, which is totality times the chance of clear sky. \
         Durations are those {of_edge}."
    );
    let foot = foot_note(&mut svg, page, &note);
    let panel = pair.map_or(0.0, |p| t * (2.6 + 1.9 * p.quantities.len() as f64));
    let window = Window { x: 0.0, y: top, width: page.width, height: page.height - top - foot - panel };
    if window.height < 12.0 * t {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    let longest = sites.iter().map(|s| s.totality_s).fold(10.0, f64::max);
    let highest = sites.iter().map(|s| s.sun_altitude_deg).fold(45.0, f64::max);
    let axes = Axes {
        x: [0.0, (highest / 10.0).ceil() * 10.0 + 5.0],
        y: [0.0, longest * 1.28],
        x_title: "Sun’s altitude at maximum eclipse, °",
        y_title: "Seconds",
        x_marks: 10,
        y_marks: 6,
    };
    let plane = axes::draw(&mut svg, window, t, &axes)?;
    let w = plane.window;
    for (from, to, words) in [(0.0, LOW_BELOW_DEG, "low Sun"), (HIGH_ABOVE_DEG, axes.x[1], "high Sun")] {
        let (a, b) = (plane.at(from, 0.0)[0], plane.at(to, 0.0)[0]);
        svg.leaf(
            "rect",
            &[
                ("x", &Num(a)),
                ("y", &Num(w.y)),
                ("width", &Num(b - a)),
                ("height", &Num(w.height)),
                ("fill", &SHADE),
                ("opacity", &"0.75"),
            ],
        );
        svg.text((a + b) / 2.0, w.y + t * 1.1, &TextStyle::new(t * 0.84, QUIET_INK).held(Anchor::Middle), words);
    }
    draw_stems(&mut svg, &plane, sites, t);
    if let Some(pair) = pair {
        draw_pair(&mut svg, page, pair, window.y + window.height, panel)?;
    }
    Ok(svg.finish(page.fonts))
}

fn draw_stems(svg: &mut Svg, plane: &axes::Plane, sites: &[ComparedSite], t: f64) {
    let mut placer = Placer::new(plane.window);
    let mut order: Vec<&ComparedSite> = sites.iter().collect();
    order.sort_by_key(|s| s.rank.unwrap_or(u32::MAX));
    for s in &order {
        let (foot, head) = (plane.at(s.sun_altitude_deg, 0.0), plane.at(s.sun_altitude_deg, s.totality_s));
        svg.leaf(
            "path",
            &[
                ("d", &format!("M{} {}V{}", Num(foot[0]), Num(foot[1]), Num(head[1]))),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.07)),
            ],
        );
        if let Some(clear) = s.expected_clear_totality_s.filter(|c| c.is_finite()) {
            let to = plane.at(s.sun_altitude_deg, clear.clamp(0.0, s.totality_s));
            svg.leaf(
                "path",
                &[
                    ("d", &format!("M{} {}V{}", Num(foot[0]), Num(foot[1]), Num(to[1]))),
                    ("stroke", &TOTALITY),
                    ("stroke-width", &Num(t * 0.4)),
                ],
            );
        }
        placer.note_line(&[foot, head], 1.6);
    }
    let mut heads = Vec::new();
    for s in order.iter().take(60) {
        let head = plane.at(s.sun_altitude_deg, s.totality_s);
        let radius = t * 0.62;
        if let Some((at, leader)) = placer.place_symbol(head, radius, t * 4.0) {
            heads.push((*s, at, leader, radius));
        }
    }
    for (s, at, leader, radius) in heads.iter().rev() {
        if let Some([a, b]) = leader {
            svg.leaf(
                "path",
                &[
                    ("d", &format!("M{} {}L{} {}", Num(a[0]), Num(a[1]), Num(b[0]), Num(b[1]))),
                    ("stroke", &INK),
                    ("stroke-width", &Num(t * 0.05)),
                ],
            );
        }
        svg.leaf(
            "circle",
            &[
                ("cx", &Num(at[0])),
                ("cy", &Num(at[1])),
                ("r", &Num(*radius)),
                ("fill", &INK),
                ("stroke", &PAPER),
                ("stroke-width", &Num(t * 0.1)),
            ],
        );
        if let Some(rank) = s.rank {
            let size = t * if rank < 10 { 0.84 } else { 0.7 };
            let style = TextStyle::new(size, PAPER).strong().held(Anchor::Middle);
            svg.text(at[0], at[1] + size * 0.36, &style, &rank.to_string());
        }
    }
    for (s, at, _, radius) in &heads {
        let size = t * 0.84;
        // The rank again before the name: where discs crowd, a name alone could be read as its neighbour's.
        let name = s.rank.map_or_else(|| s.name.clone(), |rank| format!("{rank} {}", s.name));
        let name = fonts::fitted(&name, size, Weight::Regular, t * 9.0);
        let width = fonts::width(&name, size, Weight::Regular) + 2.0;
        let wanted = Wanted { anchor: *at, clear: *radius, forms: vec![[width, size * 1.15]], reach: t * 2.5 };
        if let Some(p) = placer.place(&wanted) {
            if let Some([a, b]) = p.leader {
                svg.leaf(
                    "path",
                    &[
                        ("d", &format!("M{} {}L{} {}", Num(a[0]), Num(a[1]), Num(b[0]), Num(b[1]))),
                        ("stroke", &INK),
                        ("stroke-width", &Num(t * 0.05)),
                    ],
                );
            }
            let style = TextStyle::new(size, INK).held(Anchor::Middle).haloed(PAPER);
            svg.text(p.footprint.centre[0], p.footprint.centre[1] + size * 0.36, &style, &name);
        }
    }
}

// Two bars a row, growing from a middle column of names: low Sun to the left, high Sun to the right.
fn draw_pair(svg: &mut Svg, page: &ChartPage, pair: &Pair, top: f64, height: f64) -> Result<(), ChartError> {
    let t = page.text;
    let middle = page.width / 2.0;
    let names = (t * 13.0).min(page.width * 0.36);
    let bar = middle - names / 2.0 - t * 1.2;
    svg.open_group("Two sites side by side", &[]);
    let heading = |name: &str, room: f64| fonts::fitted(name, t * 0.95, Weight::Bold, room);
    let left = TextStyle::new(t * 0.95, INK).strong().held(Anchor::End);
    svg.text(middle - names / 2.0, top + t * 1.5, &left, &heading(&pair.low, bar));
    let right = TextStyle::new(t * 0.95, INK).strong();
    svg.text(middle + names / 2.0, top + t * 1.5, &right, &heading(&pair.high, bar));
    let mut y = top + t * 2.2;
    for q in &pair.quantities {
        finite(CHART, &q.name, q.low.0 + q.high.0)?;
        if y > top + height {
            break;
        }
        let style = TextStyle::new(t * 0.84, QUIET_INK).held(Anchor::Middle);
        svg.text(middle, y + t * 0.95, &style, &fonts::fitted(&q.name, t * 0.84, Weight::Regular, names - t * 0.6));
        for (share, words, sign) in [(q.low.0, &q.low.1, -1.0), (q.high.0, &q.high.1, 1.0)] {
            // Room for the words at the far end of the bar.
            let length = (bar - t * 7.5).max(t) * share.clamp(0.0, 1.0);
            let edge = middle + sign * names / 2.0;
            svg.leaf(
                "rect",
                &[
                    ("x", &Num(if sign < 0.0 { edge - length } else { edge })),
                    ("y", &Num(y + t * 0.2)),
                    ("width", &Num(length)),
                    ("height", &Num(t)),
                    ("fill", &TOTALITY),
                    ("opacity", &(if sign < 0.0 { "0.55" } else { "0.9" })),
                ],
            );
            let anchor = if sign < 0.0 { Anchor::End } else { Anchor::Start };
            let words = fonts::fitted(words, t * 0.9, Weight::Regular, t * 7.0);
            svg.text(
                edge + sign * (length + t * 0.4),
                y + t * 0.98,
                &TextStyle::new(t * 0.9, INK).held(anchor),
                &words,
            );
        }
        y += t * 1.9;
    }
    svg.close();
    Ok(())
}

/// The quantities that every ranking has, ready for a [`Pair`]: totality, expected clear seconds, Sun's altitude.
#[must_use]
pub fn common_quantities(low: &ComparedSite, high: &ComparedSite) -> Vec<ComparedQuantity> {
    let mut out = Vec::new();
    let mut add = |name: &str, a: f64, b: f64, words: &dyn Fn(f64) -> String| {
        let most = a.max(b).max(1e-9);
        out.push(ComparedQuantity {
            name: name.to_owned(),
            low: ((a / most).max(0.0), words(a)),
            high: ((b / most).max(0.0), words(b)),
        });
    };
    add("Totality", low.totality_s, high.totality_s, &duration_text);
    if let (Some(a), Some(b)) = (low.expected_clear_totality_s, high.expected_clear_totality_s) {
        add("Expected under clear sky", a, b, &duration_text);
    }
    add("Sun’s altitude", low.sun_altitude_deg, high.sun_altitude_deg, &|v| format!("{v:.0}°"));
    out
}
