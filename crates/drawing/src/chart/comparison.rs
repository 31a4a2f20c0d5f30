//! Low Sun against high Sun: every site by the Sun's altitude, and two of them quantity by quantity.

use std::fmt::Write as _;

use super::axes::{self, Axes};
use super::values::{self, ValueMark};
use super::{ChartError, ChartPage, finite, foot_note};
use crate::fonts::{self, Weight};
use crate::labels::Placer;
use crate::palette::{INK, PAPER, QUIET_INK, SHADE, TOTALITY};
use crate::projection::Window;
use crate::svg::{Anchor, Num, Svg, TextStyle};
use noonfall_scoring::outlook::totality::EdgeShown;
use noonfall_words::numbers::duration;

/// A site in the comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedSite {
    /// Rank, if ranked.
    pub rank: Option<u32>,
    /// Name.
    pub name: String,
    /// Sun's altitude at maximum with refraction, degrees.
    pub sun_apparent_altitude_deg: f64,
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

/// Of more sites than this only the best are drawn: thousands of stems are one block of ink.
pub const MOST_DRAWN: usize = 2000;
/// So many of them.
pub const DRAWN_OF_MANY: usize = 200;

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
        finite(CHART, &format!("a Sun's altitude for {}", s.name), s.sun_apparent_altitude_deg)?;
        finite(CHART, &format!("a duration for {}", s.name), s.totality_s)?;
    }
    let t = page.text;
    let title = "Seconds of totality by the Sun’s altitude";
    let description = format!(
        "{} sites, from a Sun {:.0} degrees high to {:.0} degrees.",
        sites.len(),
        sites.iter().map(|s| s.sun_apparent_altitude_deg).fold(90.0, f64::min),
        sites.iter().map(|s| s.sun_apparent_altitude_deg).fold(-90.0, f64::max)
    );
    let (mut svg, top) = page.begin(CHART, title, &description)?;
    let of_edge = match edge {
        EdgeShown::True => "at the Moon’s measured edge",
        EdgeShown::Smooth => "of a smooth Moon",
    };
    let mut order: Vec<&ComparedSite> = sites.iter().collect();
    order.sort_by_key(|s| s.rank.unwrap_or(u32::MAX));
    let mut only = String::new();
    if order.len() > MOST_DRAWN {
        only = format!(" Drawn are the best {DRAWN_OF_MANY} of {} sites.", order.len());
        order.truncate(DRAWN_OF_MANY);
    }
    let note = format!(
        "Disc: all of totality, where its centre stands. Thick part up to the cross stroke: expected seconds under a clear sky, which is \
         totality times the chance of clear sky. Durations are those {of_edge}.{only}"
    );
    let foot = foot_note(&mut svg, page, &note);
    let panel = pair.map_or(0.0, |p| t * (2.6 + 1.9 * p.quantities.len() as f64));
    let window = Window { x: 0.0, y: top, width: page.width, height: page.height - top - foot - panel };
    if window.height < 12.0 * t {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    let longest = sites.iter().map(|s| s.totality_s).fold(10.0, f64::max);
    let highest = sites.iter().map(|s| s.sun_apparent_altitude_deg).fold(45.0, f64::max);
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
                ("opacity", &"0.6"),
            ],
        );
        svg.text((a + b) / 2.0, w.y + t * 1.1, &TextStyle::new(t * 0.84, QUIET_INK).held(Anchor::Middle), words);
    }
    if let Some(words) = values::unnamed(draw_stems(&mut svg, &plane, &order, t)) {
        let style = TextStyle::new(t * 0.78, QUIET_INK).held(Anchor::End).haloed(PAPER);
        svg.text(w.x + w.width - 4.0, w.y + w.height - 5.0, &style, &words);
    }
    if let Some(pair) = pair {
        draw_pair(&mut svg, page, pair, window.y + window.height, panel)?;
    }
    Ok(svg.finish(page.fonts))
}

// Gives the number of sites without a name.
fn draw_stems(svg: &mut Svg, plane: &axes::Plane, order: &[&ComparedSite], t: f64) -> usize {
    let mut placer = Placer::new(plane.window);
    let mut columns: Vec<f64> = order.iter().map(|s| plane.at(s.sun_apparent_altitude_deg, 0.0)[0]).collect();
    columns.sort_by(f64::total_cmp);
    // Thick parts come first, as wide as their neighbours leave room for; then all stems, so that none is hidden under a thick part.
    for s in order {
        let foot = plane.at(s.sun_apparent_altitude_deg, 0.0);
        let Some(clear) = clear_seconds(s) else { continue };
        let to = plane.at(s.sun_apparent_altitude_deg, clear);
        let near = columns.partition_point(|x| *x < foot[0]);
        let gap = [near.checked_sub(1), Some(near + 1)]
            .into_iter()
            .flatten()
            .filter_map(|i| columns.get(i).map(|x| (x - foot[0]).abs()))
            .fold(f64::INFINITY, f64::min);
        svg.leaf(
            "path",
            &[
                ("d", &format!("M{} {}V{}", Num(foot[0]), Num(foot[1]), Num(to[1]))),
                ("stroke", &TOTALITY),
                ("stroke-width", &Num((gap * 0.7).clamp(t * 0.16, t * 0.4))),
            ],
        );
    }
    for s in order {
        let (foot, head) =
            (plane.at(s.sun_apparent_altitude_deg, 0.0), plane.at(s.sun_apparent_altitude_deg, s.totality_s));
        let mut d = format!("M{} {}V{}", Num(foot[0]), Num(foot[1]), Num(head[1]));
        // A cross stroke ends the thick part: two that stand on one another are still told apart.
        if let Some(clear) = clear_seconds(s) {
            let end = plane.at(s.sun_apparent_altitude_deg, clear);
            let _ = write!(d, "M{} {}h{}", Num(end[0] - t * 0.2), Num(end[1]), Num(t * 0.4));
        }
        svg.leaf("path", &[("d", &d), ("fill", &"none"), ("stroke", &INK), ("stroke-width", &Num(t * 0.07))]);
        placer.note_line(&[foot, head], 4.0);
    }
    let marks: Vec<ValueMark<'_>> = order
        .iter()
        .map(|s| ValueMark {
            rank: s.rank,
            name: &s.name,
            at: plane.at(s.sun_apparent_altitude_deg, s.totality_s),
            words: format!("{}: {:.1} s, Sun {:.1}°", s.name, s.totality_s, s.sun_apparent_altitude_deg),
            ink: INK,
            filled: true,
        })
        .collect();
    values::draw(svg, &mut placer, &marks, t)
}

fn clear_seconds(site: &ComparedSite) -> Option<f64> {
    site.expected_clear_totality_s.filter(|c| c.is_finite()).map(|c| c.clamp(0.0, site.totality_s.max(0.0)))
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
    add("Totality", low.totality_s, high.totality_s, &duration);
    if let (Some(a), Some(b)) = (low.expected_clear_totality_s, high.expected_clear_totality_s) {
        add("Expected under clear sky", a, b, &duration);
    }
    add("Sun’s altitude", low.sun_apparent_altitude_deg, high.sun_apparent_altitude_deg, &|v| format!("{v:.0}°"));
    out
}
