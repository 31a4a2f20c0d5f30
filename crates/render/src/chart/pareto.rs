//! Duration against the chance of clear sky, with the Sun's altitude as the slant of a needle.

use super::axes::{self, Axes};
use super::values::{self, ValueMark};
use super::{ChartError, ChartPage, finite, foot_note};
use crate::fonts::{self, Weight};
use crate::labels::Placer;
use crate::palette::{INK, PAPER, QUIET_INK};
use crate::projection::{Window, cut_line};
use crate::svg::{Anchor, Num, PathData, TextStyle};

/// A site by three qualities.
#[derive(Clone, Debug, PartialEq)]
pub struct ParetoSite {
    /// Rank, if ranked.
    pub rank: Option<u32>,
    /// Name.
    pub name: String,
    /// Seconds of totality.
    pub totality_s: f64,
    /// Chance of clear sky, 0 to 1.
    pub clear_probability: f64,
    /// Sun's altitude at maximum, degrees.
    pub sun_altitude_deg: f64,
    /// Whether no other site is at least as good in all three and better in one.
    pub on_front: bool,
}

const CHART: &str = "trade-off";

/// Draws the chart. Sites on the front are filled, the others hollow; dotted curves join equal expected clear seconds.
///
/// # Errors
/// [`ChartError`] for no site, a number that is not finite, or too small a page.
pub fn pareto(page: &ChartPage, sites: &[ParetoSite]) -> Result<String, ChartError> {
    if sites.is_empty() {
        return Err(ChartError::Empty { chart: CHART, wants: "at least one site with cloud data" });
    }
    for s in sites {
        for (what, value) in
            [("duration", s.totality_s), ("clear chance", s.clear_probability), ("Sun’s altitude", s.sun_altitude_deg)]
        {
            finite(CHART, &format!("a {what} for {}", s.name), value)?;
        }
    }
    let t = page.text;
    let front = sites.iter().filter(|s| s.on_front).count();
    let description = format!("{} sites, of which {front} are beaten by no other in everything.", sites.len());
    let (mut svg, top) = page.begin(CHART, "What you trade: long totality against clear sky", &description)?;
    let foot = foot_note(
        &mut svg,
        page,
        "Filled: no other site is as good in duration, clear sky and Sun’s height together. Hollow: some site beats it. \
         Needle: the Sun’s height, from level to upright. Dotted: equal expected seconds under a clear sky.",
    );
    let window = Window { x: 0.0, y: top, width: page.width, height: page.height - top - foot };
    if window.height < 12.0 * t {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    let longest = sites.iter().map(|s| s.totality_s).fold(10.0, f64::max) * 1.15;
    let axes = Axes {
        x: [0.0, 100.0],
        y: [0.0, longest],
        x_title: "Chance of clear sky, %",
        y_title: "Seconds of totality",
        x_marks: 11,
        y_marks: 6,
    };
    let plane = axes::draw(&mut svg, window, t, &axes)?;
    let w = plane.window;
    let mut placer = Placer::new(w);
    let step = [5.0, 10.0, 20.0, 30.0, 60.0].into_iter().find(|s| longest / s <= 6.0).unwrap_or(120.0);
    for i in 1..6 {
        let seconds = f64::from(i) * step;
        let curve: Vec<[f64; 2]> =
            (1..=100).map(|p| plane.at(f64::from(p), seconds / (f64::from(p) / 100.0))).collect();
        let mut pieces = Vec::new();
        cut_line(&curve, w, &mut pieces);
        let mut d = PathData::new();
        for piece in &pieces {
            d.line(piece);
            placer.note_line(piece, 0.15);
        }
        if d.is_empty() {
            continue;
        }
        svg.leaf(
            "path",
            &[
                ("d", &d.as_str()),
                ("fill", &"none"),
                ("stroke", &QUIET_INK),
                ("stroke-width", &Num(t * 0.08)),
                ("stroke-dasharray", &format!("0 {}", Num(t * 0.3))),
                ("stroke-linecap", &"round"),
            ],
        );
        // Written where the curve meets the right edge of the axes.
        if let Some(end) = pieces.last().and_then(|p| p.last()).filter(|e| e[0] > w.x + w.width - t * 6.0) {
            let style = TextStyle::new(t * 0.78, QUIET_INK).held(Anchor::End).haloed(PAPER);
            let words = format!("{seconds:.0} s clear");
            let half = [fonts::width(&words, t * 0.78, Weight::Regular) / 2.0, t * 0.5];
            let footprint = crate::labels::Footprint {
                centre: [w.x + w.width - half[0] - 3.0, end[1] - t * 0.6],
                half,
                turn_deg: 0.0,
            };
            if placer.take_if_free(footprint) {
                svg.text(w.x + w.width - 3.0, end[1] - t * 0.33, &style, &words);
            }
        }
    }
    let mut order: Vec<&ParetoSite> = sites.iter().collect();
    order.sort_by_key(|s| (!s.on_front, s.rank.unwrap_or(u32::MAX)));
    let radius = values::radius(t);
    let mut marks = Vec::new();
    for s in &order {
        let at = plane.at(s.clear_probability.clamp(0.0, 1.0) * 100.0, s.totality_s);
        let (sin, cos) = s.sun_altitude_deg.to_radians().sin_cos();
        let tip = [at[0] + cos * radius * 3.2, at[1] - sin * radius * 3.2];
        svg.leaf(
            "path",
            &[
                ("d", &format!("M{} {}L{} {}", Num(at[0]), Num(at[1]), Num(tip[0]), Num(tip[1]))),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.1)),
                ("stroke-linecap", &"round"),
            ],
        );
        placer.note_line(&[at, tip], 3.0);
        marks.push(ValueMark {
            rank: s.rank,
            name: &s.name,
            at,
            words: format!("{}: {:.1} s, {:.0} % clear", s.name, s.totality_s, s.clear_probability * 100.0),
            ink: if s.on_front { INK } else { QUIET_INK },
            filled: s.on_front,
        });
    }
    if let Some(words) = values::unnamed(values::draw(&mut svg, &mut placer, &marks, t)) {
        let style = TextStyle::new(t * 0.78, QUIET_INK).haloed(PAPER);
        svg.text(w.x + 4.0, w.y + w.height - 5.0, &style, &words);
    }
    Ok(svg.finish(page.fonts))
}
