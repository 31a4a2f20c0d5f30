//! Duration against the chance of clear sky, with the Sun's altitude as the slant of a needle.

use super::axes::{self, Axes};
use super::{ChartError, ChartPage, finite, foot_note};
use crate::fonts::{self, Weight};
use crate::labels::{Placer, Wanted};
use crate::palette::{HAIRLINE, INK, PAPER, QUIET_INK};
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
    let mut placed = Vec::new();
    for s in order.iter().take(80) {
        let p = plane.at(s.clear_probability.clamp(0.0, 1.0) * 100.0, s.totality_s);
        let radius = t * 0.6;
        if let Some((at, leader)) = placer.place_symbol(p, radius, t * 4.0) {
            placed.push((*s, at, leader, radius));
        }
    }
    for (s, at, leader, radius) in placed.iter().rev() {
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
        let (sin, cos) = s.sun_altitude_deg.to_radians().sin_cos();
        let tip = [at[0] + cos * radius * 2.1, at[1] - sin * radius * 2.1];
        svg.leaf(
            "path",
            &[
                ("d", &format!("M{} {}L{} {}", Num(at[0]), Num(at[1]), Num(tip[0]), Num(tip[1]))),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.14)),
                ("stroke-linecap", &"round"),
            ],
        );
        let (fill, words) = if s.on_front { (INK, PAPER) } else { (PAPER, INK) };
        svg.leaf(
            "circle",
            &[
                ("cx", &Num(at[0])),
                ("cy", &Num(at[1])),
                ("r", &Num(*radius)),
                ("fill", &fill),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.1)),
            ],
        );
        if let Some(rank) = s.rank {
            let size = t * if rank < 10 { 0.84 } else { 0.66 };
            svg.text(
                at[0],
                at[1] + size * 0.36,
                &TextStyle::new(size, words).strong().held(Anchor::Middle),
                &rank.to_string(),
            );
        }
    }
    for (s, at, _, radius) in &placed {
        let size = t * 0.84;
        let name = fonts::fitted(&s.name, size, Weight::Regular, t * 9.0);
        let wanted = Wanted {
            anchor: *at,
            clear: radius * 2.1,
            forms: vec![[fonts::width(&name, size, Weight::Regular) + 2.0, size * 1.15]],
            reach: t * 3.0,
        };
        if let Some(p) = placer.place(&wanted) {
            if let Some([a, b]) = p.leader {
                svg.leaf(
                    "path",
                    &[
                        ("d", &format!("M{} {}L{} {}", Num(a[0]), Num(a[1]), Num(b[0]), Num(b[1]))),
                        ("stroke", &HAIRLINE),
                        ("stroke-width", &Num(t * 0.06)),
                    ],
                );
            }
            let ink = if s.on_front { INK } else { QUIET_INK };
            let style = TextStyle::new(size, ink).held(Anchor::Middle).haloed(PAPER);
            svg.text(p.footprint.centre[0], p.footprint.centre[1] + size * 0.36, &style, &name);
        }
    }
    Ok(svg.finish(page.fonts))
}
