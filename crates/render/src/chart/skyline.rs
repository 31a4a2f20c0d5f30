//! The horizon as seen from a site, with the Sun's track across it.

use super::axes::{self, Axes};
use super::{ChartError, ChartPage, finite, foot_note};
use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Placer, Wanted};
use crate::palette::{INK, LAND, PAPER};
use crate::projection::{Window, cut_line, cut_ring};
use crate::svg::{Anchor, Num, PathData, TextStyle};

/// A direction: azimuth from north through east and altitude, degrees.
pub type Direction = (f64, f64);

/// An instant on the Sun's track.
#[derive(Clone, Debug, PartialEq)]
pub struct TrackMark {
    /// Name, such as `C2`.
    pub name: String,
    /// Local time in words.
    pub time: String,
    /// Where the Sun stands.
    pub direction: Direction,
    /// Whether it is part of totality, and so is drawn as a covered Sun.
    pub covered: bool,
}

/// All that the chart shows.
#[derive(Clone, Debug, PartialEq)]
pub struct SkylineChart {
    /// Name of the site.
    pub site: String,
    /// Height of the skyline by azimuth, degrees.
    pub profile: Vec<Direction>,
    /// The Sun's track from first to fourth contact.
    pub track: Vec<Direction>,
    /// Contacts on it.
    pub marks: Vec<TrackMark>,
    /// A sentence on the margin, such as `Sun's centre 6.2° above the skyline at maximum`.
    pub margin: String,
    /// Where the skyline comes from.
    pub source: String,
}

const CHART: &str = "skyline";

/// Draws the chart.
///
/// # Errors
/// [`ChartError`] for an empty track, a number that is not finite, or too small a page.
pub fn skyline(page: &ChartPage, chart: &SkylineChart) -> Result<String, ChartError> {
    let Some(first) = chart.track.first() else {
        return Err(ChartError::Empty { chart: CHART, wants: "the Sun's track" });
    };
    for (azimuth, altitude) in chart.track.iter().chain(&chart.profile) {
        finite(CHART, "a direction", azimuth + altitude)?;
    }
    for mark in &chart.marks {
        finite(CHART, "a contact", mark.direction.0 + mark.direction.1)?;
    }
    let t = page.text;
    // Azimuths are unwrapped about the track's start: a track through north must not jump.
    let unwrap = |azimuth: f64| first.0 + (azimuth - first.0 + 180.0).rem_euclid(360.0) - 180.0;
    let track: Vec<Direction> = chart.track.iter().map(|d| (unwrap(d.0), d.1)).collect();
    let (low, high) = track.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), d| (l.min(d.0), h.max(d.0)));
    let spare = ((high - low) * 0.12).max(6.0);
    let (low, high) = (low - spare, high + spare);
    let mut profile: Vec<Direction> = chart.profile.iter().map(|d| (unwrap(d.0), d.1)).collect();
    profile.sort_by(|a, b| a.0.total_cmp(&b.0));
    let inside = |d: &&Direction| d.0 >= low && d.0 <= high;
    let top_of = track.iter().chain(profile.iter().filter(inside)).map(|d| d.1).fold(5.0, f64::max);
    let title =
        format!("Skyline and the Sun’s track from {}", fonts::fitted(&chart.site, 10.0, Weight::Regular, 260.0));
    let (mut svg, top) = page.begin(CHART, &title, &chart.margin)?;
    let note = if chart.source.is_empty() {
        chart.margin.clone()
    } else {
        format!("{} Skyline: {}.", chart.margin, chart.source.trim_end_matches('.'))
    };
    let foot = foot_note(&mut svg, page, &note);
    let window = Window { x: 0.0, y: top, width: page.width, height: page.height - top - foot };
    if window.height < 9.0 * t {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    let axes = Axes {
        x: [low, high],
        y: [-1.0, top_of * 1.18 + 1.0],
        x_title: "Azimuth, ° (N 0, E 90, S 180, W 270)",
        y_title: "Altitude, °",
        x_marks: 8,
        y_marks: 6,
    };
    let plane = axes::draw_azimuth(&mut svg, window, t, &axes)?;
    let w = plane.window;
    let mut placer = Placer::new(w);
    if profile.is_empty() {
        profile = vec![(low, 0.0), (high, 0.0)];
    }
    let crest: Vec<[f64; 2]> = profile.iter().map(|d| plane.at(d.0, d.1)).collect();
    let mut ground = crest.clone();
    if let (Some(a), Some(b)) = (crest.first(), crest.last()) {
        ground.push([b[0], w.y + w.height + 4.0]);
        ground.push([a[0], w.y + w.height + 4.0]);
    }
    let mut d = PathData::new();
    d.ring(&cut_ring(ground, w, 0.0));
    svg.leaf("path", &[("d", &d.as_str()), ("fill", &LAND)]);
    let line = |points: &[[f64; 2]], placer: &mut Placer, weight: f64| {
        let mut pieces = Vec::new();
        cut_line(points, w, &mut pieces);
        let mut d = PathData::new();
        for piece in &pieces {
            d.line(piece);
            placer.note_line(piece, weight);
        }
        d
    };
    let d = line(&crest, &mut placer, 0.5);
    svg.leaf("path", &[("d", &d.as_str()), ("fill", &"none"), ("stroke", &INK), ("stroke-width", &Num(t * 0.11))]);
    let points: Vec<[f64; 2]> = track.iter().map(|d| plane.at(d.0, d.1)).collect();
    let d = line(&points, &mut placer, 1.0);
    svg.leaf(
        "path",
        &[
            ("d", &d.as_str()),
            ("fill", &"none"),
            ("stroke", &INK),
            ("stroke-width", &Num(t * 0.08)),
            ("stroke-dasharray", &"5 3"),
        ],
    );
    let radius = t * 0.48;
    let marks: Vec<(&TrackMark, [f64; 2])> =
        chart.marks.iter().map(|m| (m, plane.at(unwrap(m.direction.0), m.direction.1))).collect();
    // Contacts of totality lie seconds apart: drawn once, named together.
    let mut groups: Vec<(Vec<&TrackMark>, [f64; 2])> = Vec::new();
    for (mark, at) in marks {
        match groups.iter_mut().find(|(_, p)| (p[0] - at[0]).hypot(p[1] - at[1]) < radius * 1.6) {
            Some((together, _)) => together.push(mark),
            None => groups.push((vec![mark], at)),
        }
    }
    for (_, at) in &groups {
        placer.take(Footprint::around(*at, radius));
    }
    for (together, at) in &groups {
        let covered = together.iter().any(|m| m.covered);
        svg.leaf(
            "circle",
            &[
                ("cx", &Num(at[0])),
                ("cy", &Num(at[1])),
                ("r", &Num(radius)),
                ("fill", &(if covered { INK } else { PAPER })),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.1)),
            ],
        );
        let words: Vec<String> = together.iter().map(|m| format!("{} {}", m.name, m.time)).collect();
        let size = t * 0.84;
        let width = words.iter().map(|l| fonts::width(l, size, Weight::Regular)).fold(0.0, f64::max);
        let wanted = Wanted {
            anchor: *at,
            clear: radius,
            forms: vec![[width + 2.0, size * 1.2 * words.len() as f64]],
            reach: t * 5.0,
        };
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
            let f = p.footprint;
            for (k, line) in words.iter().enumerate() {
                let y = f.centre[1] - f.half[1] + size * (0.95 + 1.2 * k as f64);
                svg.text(f.centre[0], y, &TextStyle::new(size, INK).held(Anchor::Middle).haloed(PAPER), line);
            }
        }
    }
    Ok(svg.finish(page.fonts))
}
