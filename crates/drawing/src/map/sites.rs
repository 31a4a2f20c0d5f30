//! Candidate sites: numbered discs by rank, sized by score, with a ring for the chance of clear sky.

use super::{MapSite, canvas::Canvas};
use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Placed, Wanted};
use crate::palette::{INK, PAPER, QUIET_INK};
use crate::svg::{Anchor, Num, Svg, TextStyle, arc};
use noonfall_words::map::layer;
use noonfall_words::numbers::duration;

/// Sites that get a numbered disc; the rest are dots.
pub const MOST_NUMBERED: usize = 40;
/// Dots at most, so that ten thousand candidates do not make a drawing that no phone opens.
pub const MOST_DOTS: usize = 2000;

/// Of more sites than this only so many are given a name where there is room, the best first.
const MANY: usize = 2000;
const MOST_NAMED_OF_MANY: usize = 100;

/// How a site is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mark {
    /// Numbered disc of this radius.
    Disc(f64),
    /// Dot for a candidate further down the list.
    Dot,
    /// Cross for a rejected one.
    Cross,
}

/// A site with its place on the page.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedSite {
    /// Index in the sheet's list.
    pub index: usize,
    /// Where the symbol stands.
    pub at: [f64; 2],
    /// From the true place to a symbol that had to move.
    pub leader: Option<[[f64; 2]; 2]>,
    /// Symbol.
    pub mark: Mark,
}

/// A site's label with its room.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteLabel {
    lines: Vec<String>,
    placed: Placed,
    quiet: bool,
}

/// Radius of a disc for a score, without its ring.
#[must_use]
pub fn disc_radius(score: f64, text: f64) -> f64 {
    let s = if score.is_nan() { 0.0 } else { score.clamp(0.0, 1.0) };
    text * (0.52 + 0.28 * s)
}

/// Room around a disc for its ring.
#[must_use]
pub fn ring_room(text: f64) -> f64 {
    text * 0.3
}

/// Places the symbols, the best first; discs that would overlap move aside and keep a line to their true place.
#[must_use]
pub fn place_discs(canvas: &mut Canvas) -> Vec<PlacedSite> {
    let t = canvas.page.text;
    let sites = &canvas.sheet.sites;
    let mut order: Vec<usize> = (0..sites.len()).collect();
    order.sort_by_key(|i| (!sites[*i].highlighted, sites[*i].rank.unwrap_or(u32::MAX), *i));
    let mut out = Vec::new();
    let (mut discs, mut dots) = (0, 0);
    for index in order {
        let site = &sites[index];
        let Some(at) = canvas.frame.page_inside(site.point, t * 0.3) else { continue };
        // Disc, cross and name stand in the inset; here a dot marks the place.
        if canvas.in_insets.contains(&index) {
            out.push(PlacedSite { index, at, leader: None, mark: Mark::Dot });
            continue;
        }
        if site.rank.is_some() && discs < MOST_NUMBERED {
            let radius = disc_radius(site.score, t);
            if let Some((centre, leader)) = canvas.placer.place_symbol(at, radius + ring_room(t), t * 9.0) {
                discs += 1;
                out.push(PlacedSite { index, at: centre, leader, mark: Mark::Disc(radius) });
                continue;
            }
        }
        if dots < MOST_DOTS {
            dots += 1;
            let mark = if site.rank.is_some() { Mark::Dot } else { Mark::Cross };
            if mark == Mark::Cross {
                canvas.placer.take_if_free(Footprint::around(at, t * 0.32));
            }
            out.push(PlacedSite { index, at, leader: None, mark });
        }
    }
    out
}

/// Places the labels of the symbols `from..to` in order of rank; rejected sites come last.
#[must_use]
pub fn place_labels(canvas: &mut Canvas, placed: &[PlacedSite], from: usize, to: usize) -> Vec<SiteLabel> {
    let t = canvas.page.text;
    let mut out = Vec::new();
    // Of thousands of crosses hardly one finds room for its words.
    let to = if canvas.sheet.sites.len() > MANY { to.min(MOST_NAMED_OF_MANY) } else { to };
    let labelled = placed.iter().filter(|p| p.mark != Mark::Dot).enumerate();
    for (_, p) in labelled.filter(|(i, _)| (from..to).contains(i)) {
        let site = &canvas.sheet.sites[p.index];
        let (clear, quiet) = match p.mark {
            Mark::Disc(radius) => (radius + ring_room(t), false),
            _ => (t * 0.34, true),
        };
        let name = fonts::fitted(&site.name, t * 0.95, Weight::Bold, t * 12.0);
        let full = vec![name.clone(), detail(site, t)];
        let forms = [full, vec![name]];
        let wanted = Wanted {
            anchor: p.at,
            clear,
            forms: forms.iter().map(|f| size_of(f, t)).collect(),
            reach: clear + if quiet { t * 1.2 } else { t * 4.0 },
        };
        if let Some(placed) = canvas.placer.place(&wanted) {
            out.push(SiteLabel { lines: forms[placed.form].clone(), placed, quiet });
        }
    }
    out
}

fn detail(site: &MapSite, t: f64) -> String {
    match (&site.rejected, site.sun_apparent_altitude_deg) {
        (Some(reason), _) => fonts::fitted(reason, t * 0.8, Weight::Regular, t * 14.0),
        (None, Some(altitude)) => format!("{} · Sun {altitude:.0}°", duration(site.totality_s)),
        (None, None) => duration(site.totality_s),
    }
}

fn size_of(lines: &[String], t: f64) -> [f64; 2] {
    let first = lines.first().map_or(0.0, |l| fonts::width(l, t * 0.95, Weight::Bold));
    let second = lines.get(1).map_or(0.0, |l| fonts::width(l, t * 0.8, Weight::Regular));
    [first.max(second) + 2.0, t * if lines.len() > 1 { 2.0 } else { 1.1 }]
}

/// Draws symbols and labels, the best on top.
pub fn draw(canvas: &mut Canvas, placed: &[PlacedSite], labels: &[SiteLabel]) {
    if placed.is_empty() {
        return;
    }
    let t = canvas.page.text;
    canvas.svg.open_group(layer::SITES, &[]);
    for p in placed.iter().filter(|p| p.mark == Mark::Dot) {
        canvas.svg.leaf(
            "circle",
            &[
                ("cx", &Num(p.at[0])),
                ("cy", &Num(p.at[1])),
                ("r", &Num(t * 0.14)),
                ("fill", &INK),
                ("fill-opacity", &"0.75"),
            ],
        );
    }
    for p in placed.iter().filter(|p| p.mark == Mark::Cross) {
        cross(&mut canvas.svg, p.at, t * 0.26, t);
    }
    for leader in placed.iter().filter_map(|p| p.leader).chain(labels.iter().filter_map(|l| l.placed.leader)) {
        for (colour, width) in [(PAPER, 0.22), (INK, 0.06)] {
            canvas.svg.leaf(
                "line",
                &[
                    ("x1", &Num(leader[0][0])),
                    ("y1", &Num(leader[0][1])),
                    ("x2", &Num(leader[1][0])),
                    ("y2", &Num(leader[1][1])),
                    ("stroke", &colour),
                    ("stroke-width", &Num(t * width)),
                ],
            );
        }
    }
    for p in placed.iter().filter(|p| p.leader.is_some()) {
        if let Some([place, _]) = p.leader {
            canvas.svg.leaf(
                "circle",
                &[("cx", &Num(place[0])), ("cy", &Num(place[1])), ("r", &Num(t * 0.13)), ("fill", &INK)],
            );
        }
    }
    for p in placed.iter().rev() {
        if let Mark::Disc(radius) = p.mark {
            let site = &canvas.sheet.sites[p.index];
            disc(
                &mut canvas.svg,
                p.at,
                radius,
                site.rank.unwrap_or_default(),
                site.clear_probability,
                site.highlighted,
                t,
            );
        }
    }
    for label in labels {
        let f = label.placed.footprint;
        let (x, anchor) = match label.placed.side {
            1 => (f.centre[0] - f.half[0] + 1.0, Anchor::Start),
            -1 => (f.centre[0] + f.half[0] - 1.0, Anchor::End),
            _ => (f.centre[0], Anchor::Middle),
        };
        let top = f.centre[1] - f.half[1];
        let ink = if label.quiet { QUIET_INK } else { INK };
        for (k, line) in label.lines.iter().enumerate() {
            let style = if k == 0 { TextStyle::new(t * 0.95, ink).strong() } else { TextStyle::new(t * 0.8, ink) };
            let y = top + t * if k == 0 { 0.86 } else { 1.78 };
            canvas.svg.text(x, y, &style.held(anchor).haloed(PAPER), line);
        }
    }
    canvas.svg.close();
}

/// Draws one numbered disc with its ring: the share of the ring in ink is the chance of clear sky, clockwise from the top.
pub fn disc(
    svg: &mut Svg,
    at: [f64; 2],
    radius: f64,
    rank: u32,
    clear_probability: Option<f64>,
    highlighted: bool,
    text: f64,
) {
    let ring = radius + text * 0.16;
    let width = Num(text * 0.17);
    svg.leaf(
        "circle",
        &[
            ("cx", &Num(at[0])),
            ("cy", &Num(at[1])),
            ("r", &Num(radius + ring_room(text))),
            ("fill", &PAPER),
            ("stroke", &INK),
            ("stroke-width", &Num(if highlighted { text * 0.16 } else { text * 0.035 })),
        ],
    );
    svg.leaf("circle", &[("cx", &Num(at[0])), ("cy", &Num(at[1])), ("r", &Num(radius - text * 0.03)), ("fill", &INK)]);
    if let Some(p) = clear_probability.filter(|p| p.is_finite() && *p > 0.0) {
        let d = arc(at, ring, 0.0, 360.0 * p.min(1.0));
        svg.leaf("path", &[("d", &d), ("fill", &"none"), ("stroke", &INK), ("stroke-width", &width)]);
    }
    let number = rank.to_string();
    let size = radius
        * match number.len() {
            1 => 1.35,
            2 => 1.12,
            _ => 0.8,
        };
    let style = TextStyle::new(size, PAPER).strong().held(Anchor::Middle);
    svg.text(at[0], at[1] + size * 0.36, &style, &number);
}

/// Draws the cross of a rejected site.
pub fn cross(svg: &mut Svg, at: [f64; 2], arm: f64, text: f64) {
    let d = format!(
        "M{} {}L{} {}M{} {}L{} {}",
        Num(at[0] - arm),
        Num(at[1] - arm),
        Num(at[0] + arm),
        Num(at[1] + arm),
        Num(at[0] - arm),
        Num(at[1] + arm),
        Num(at[0] + arm),
        Num(at[1] - arm)
    );
    for (colour, width) in [(PAPER, 0.34), (INK, 0.14)] {
        svg.leaf("path", &[("d", &d), ("stroke", &colour), ("stroke-width", &Num(text * width)), ("fill", &"none")]);
    }
}
