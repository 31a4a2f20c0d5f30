//! The chance of clear sky at each site, with the range that the years behind it leave open.

use super::{ChartError, ChartPage, finite, foot_note};
use crate::fonts::{self, Weight};
use crate::palette::{HAIRLINE, INK, QUIET_INK, SHADE};
use crate::svg::{Anchor, Num, TextStyle};

/// A site's odds.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteOdds {
    /// Rank, if ranked.
    pub rank: Option<u32>,
    /// Name.
    pub name: String,
    /// Chance of a clear line of sight, 0 to 1.
    pub clear_probability: f64,
    /// Lower end of the 95 % interval.
    pub low_95: f64,
    /// Upper end of the 95 % interval.
    pub high_95: f64,
    /// Years of records behind it; none where only a mean was given.
    pub years: Option<u32>,
}

const CHART: &str = "cloud odds";

/// Draws one row a site, in the order given, as many as the page holds.
///
/// # Errors
/// [`ChartError`] for no site, a number that is not finite, or too small a page.
pub fn cloud_odds(page: &ChartPage, sites: &[SiteOdds]) -> Result<String, ChartError> {
    if sites.is_empty() {
        return Err(ChartError::Empty { chart: CHART, wants: "at least one site with cloud data" });
    }
    for s in sites {
        finite(CHART, &format!("a clear chance for {}", s.name), s.clear_probability + s.low_95 + s.high_95)?;
    }
    let t = page.text;
    let description = format!(
        "Best: {} at {:.0} percent.",
        sites.iter().max_by(|a, b| a.clear_probability.total_cmp(&b.clear_probability)).map_or("", |s| s.name.as_str()),
        sites.iter().map(|s| s.clear_probability).fold(0.0, f64::max) * 100.0
    );
    let (mut svg, top) = page.begin(CHART, "Chance of a clear line of sight to the Sun", &description)?;
    let row = t * 1.75;
    let note = "Dot: best estimate. Bar: 95 % interval from the years of records. An estimate for the date from past years, no forecast.";
    let foot = foot_note(&mut svg, page, note);
    let names = (t * 12.0).min(page.width * 0.34);
    let (left, right) = (t * 0.8 + names + t, page.width - t * 4.4);
    let rows = (((page.height - top - foot - t * 2.0) / row).floor().max(0.0) as usize).min(sites.len());
    if rows == 0 {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    let at = |p: f64| left + (right - left) * p.clamp(0.0, 1.0);
    let bottom = top + t * 1.4 + row * rows as f64;
    for k in 0..=4 {
        let p = f64::from(k) / 4.0;
        svg.leaf(
            "path",
            &[
                ("d", &format!("M{} {}V{}", Num(at(p)), Num(top + t * 1.4), Num(bottom))),
                ("stroke", &HAIRLINE),
                ("stroke-width", &Num(t * 0.06)),
            ],
        );
        let style = TextStyle::new(t * 0.8, QUIET_INK).held(Anchor::Middle);
        svg.text(at(p), top + t, &style, &format!("{:.0} %", p * 100.0));
    }
    for (i, s) in sites.iter().take(rows).enumerate() {
        let y = top + t * 1.4 + row * (i as f64 + 0.5);
        if i % 2 == 0 {
            svg.leaf(
                "rect",
                &[
                    ("x", &Num(t * 0.5)),
                    ("y", &Num(y - row / 2.0)),
                    ("width", &Num(page.width - t)),
                    ("height", &Num(row)),
                    ("fill", &SHADE),
                    ("opacity", &"0.55"),
                ],
            );
        }
        let rank = s.rank.map_or(String::new(), |r| format!("{r}"));
        svg.text(t * 2.2, y + t * 0.34, &TextStyle::new(t * 0.9, INK).strong().held(Anchor::End), &rank);
        let name = fonts::fitted(&s.name, t * 0.9, Weight::Regular, names - t * 1.9);
        svg.text(t * 2.7, y + t * 0.34, &TextStyle::new(t * 0.9, INK), &name);
        svg.leaf(
            "path",
            &[
                ("d", &format!("M{} {}H{}", Num(at(s.low_95)), Num(y), Num(at(s.high_95)))),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.16)),
            ],
        );
        svg.leaf(
            "path",
            &[
                (
                    "d",
                    &format!(
                        "M{a} {u}V{v}M{b} {u}V{v}",
                        a = Num(at(s.low_95)),
                        b = Num(at(s.high_95)),
                        u = Num(y - t * 0.25),
                        v = Num(y + t * 0.25)
                    ),
                ),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.1)),
            ],
        );
        svg.leaf(
            "circle",
            &[("cx", &Num(at(s.clear_probability))), ("cy", &Num(y)), ("r", &Num(t * 0.36)), ("fill", &INK)],
        );
        let words = format!("{:.0} %", s.clear_probability * 100.0);
        svg.text(page.width - t * 0.9, y + t * 0.34, &TextStyle::new(t * 0.95, INK).strong().held(Anchor::End), &words);
    }
    Ok(svg.finish(page.fonts))
}
