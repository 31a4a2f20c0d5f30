//! Contacts on a line, and when filters are on and off: in word, in hatching and in shape.

use noonfall_ephemeris::Tt;

use super::{ChartError, ChartPage, finite};
use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Placer};
use crate::palette::{INK, PAPER, QUIET_INK, TOTALITY};
use crate::projection::Window;
use crate::svg::{Anchor, Num, Svg, TextStyle};

/// An instant with its local time in words.
#[derive(Clone, Debug, PartialEq)]
pub struct TimedMark {
    /// Name, such as `C2`.
    pub name: String,
    /// Instant.
    pub tt: Tt,
    /// Local time, such as `16:12:04`.
    pub local: String,
}

/// The unaided-eye window.
#[derive(Clone, Debug, PartialEq)]
pub struct FilterWindow {
    /// Filter may come off.
    pub off: TimedMark,
    /// Filter must be on again.
    pub on: TimedMark,
}

/// All that the chart shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Timeline {
    /// The zone of the local times, such as `NZST, UTC+12`.
    pub zone: String,
    /// First and fourth contact, with what lies between, in order of time.
    pub contacts: Vec<TimedMark>,
    /// Window for unaided eyes; none for a place without totality, or with one too short for its margins.
    pub window: Option<FilterWindow>,
    /// What to watch for around totality, in order of time.
    pub events: Vec<TimedMark>,
}

const CHART: &str = "timeline";

/// Draws the whole eclipse as one bar and, below it, the minutes around totality drawn larger.
///
/// # Errors
/// [`ChartError`] for fewer than two contacts, an instant that is not finite, or too small a page.
pub fn timeline(page: &ChartPage, data: &Timeline) -> Result<String, ChartError> {
    let (Some(first), Some(last)) = (data.contacts.first(), data.contacts.last()) else {
        return Err(ChartError::Empty { chart: CHART, wants: "first and fourth contact" });
    };
    let marks = data.contacts.iter().chain(&data.events);
    for m in marks.chain(data.window.iter().flat_map(|w| [&w.off, &w.on])) {
        finite(CHART, &format!("an instant for {}", m.name), m.tt.0)?;
    }
    let span = last.tt - first.tt;
    if span <= 0.0 {
        return Err(ChartError::Empty { chart: CHART, wants: "a fourth contact after the first" });
    }
    let t = page.text;
    let title = format!("Timeline, local time ({})", data.zone);
    let description = match &data.window {
        Some(w) => format!(
            "Filter ON from {} until {}. Filter OFF from {} to {}. Filter ON again until {}.",
            first.local, w.off.local, w.off.local, w.on.local, last.local
        ),
        None => format!("Filter ON throughout, from {} to {}.", first.local, last.local),
    };
    let (mut svg, top) = page.begin(CHART, &title, &description)?;
    if page.height - top < t * 5.0 {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    let hatch = svg.hatch("on", t * 0.42, INK, t * 0.08, PAPER);
    let (left, right) = (t * 1.2, page.width - t * 1.2);
    let x = |tt: Tt| left + (tt - first.tt) / span * (right - left);

    // The whole eclipse.
    let bar = Bar { top: top + t * 2.1, height: t * 1.7, hatch: &hatch, t };
    bar.filtered(&mut svg, left, right);
    let mut placer = Placer::new(Window { x: 0.0, y: top, width: page.width, height: page.height - top });
    let times_top = bar.top - t * 0.45;
    for contact in [first, last].into_iter().chain(data.contacts.iter().filter(|c| c.name == "max")) {
        bar.tick(&mut svg, x(contact.tt), -1.0);
        let words = format!("{} {}", contact.name, contact.local);
        write_centred(&mut svg, &mut placer, [x(contact.tt), times_top], &words, t, false, [left, right]);
    }
    let Some(window) = &data.window else {
        bar.word(&mut svg, left, right, "FILTER ON throughout", true);
        return Ok(svg.finish(page.fonts));
    };
    let (off, on) = (x(window.off.tt), x(window.on.tt));
    bar.word(&mut svg, left, off, "FILTER ON", true);
    bar.word(&mut svg, on, right, "FILTER ON", true);
    let sliver = (on - off).max(t * 0.25);
    svg.leaf(
        "rect",
        &[
            ("x", &Num((off + on) / 2.0 - sliver / 2.0)),
            ("y", &Num(bar.top)),
            ("width", &Num(sliver)),
            ("height", &Num(bar.height)),
            ("fill", &TOTALITY),
        ],
    );

    // The minutes around totality, with a quarter of their length to either side.
    let spare = ((window.on.tt - window.off.tt) * 0.55).max(20.0);
    let (from, to) = (window.off.tt.plus(-spare), window.on.tt.plus(spare));
    let zoom = |tt: Tt| left + (tt - from) / (to - from) * (right - left);
    let large = Bar { top: bar.top + bar.height + t * 4.4, height: t * 2.3, hatch: &hatch, t };
    for (a, b) in [(x(from), left), (x(to), right)] {
        svg.leaf(
            "path",
            &[
                (
                    "d",
                    &format!(
                        // Spread out above the words, then straight down beside them.
                        "M{} {}L{} {}V{}",
                        Num(a.clamp(left, right)),
                        Num(bar.top + bar.height),
                        Num(b),
                        Num(large.top - t * 2.1),
                        Num(large.top)
                    ),
                ),
                ("stroke", &QUIET_INK),
                ("stroke-width", &Num(t * 0.06)),
                ("stroke-dasharray", &"3 3"),
                ("fill", &"none"),
            ],
        );
    }
    let (off, on) = (zoom(window.off.tt), zoom(window.on.tt));
    large.filtered(&mut svg, left, off);
    large.filtered(&mut svg, on, right);
    // Off is an open box with round ends and a heavy rim: another shape, not only another shade.
    svg.leaf(
        "rect",
        &[
            ("x", &Num(off)),
            ("y", &Num(large.top - t * 0.25)),
            ("width", &Num(on - off)),
            ("height", &Num(large.height + t * 0.5)),
            ("rx", &Num(t * 0.9)),
            ("fill", &PAPER),
            ("stroke", &TOTALITY),
            ("stroke-width", &Num(t * 0.24)),
        ],
    );
    large.word(&mut svg, left, off, "ON", true);
    large.word(&mut svg, off, on, "FILTER OFF", false);
    large.word(&mut svg, on, right, "ON", true);
    let above = large.top - t * 0.85;
    for (mark, words) in [(&window.off, "OFF from"), (&window.on, "ON by")] {
        let words = format!("{words} {}", mark.local);
        write_centred(&mut svg, &mut placer, [zoom(mark.tt), above], &words, t * 1.05, true, [left, right]);
    }
    let below = large.top + large.height + t * 1.75;
    for contact in data.contacts.iter().filter(|c| c.tt >= from && c.tt <= to) {
        large.tick(&mut svg, zoom(contact.tt), 1.0);
        let words = format!("{} {}", contact.name, contact.local);
        write_centred(&mut svg, &mut placer, [zoom(contact.tt), below], &words, t, false, [left, right]);
    }
    // What to watch for, numbered in order, as many lines as there is room for.
    let mut y = below + t * 1.6;
    for event in &data.events {
        if y > page.height - t * 0.4 {
            break;
        }
        svg.text(left + t * 5.0, y, &TextStyle::new(t * 0.92, INK).strong().held(Anchor::End), &event.local);
        let words = fonts::fitted(&event.name, t * 0.92, Weight::Regular, right - left - t * 5.6);
        svg.text(left + t * 5.6, y, &TextStyle::new(t * 0.92, INK), &words);
        y += t * 1.3;
    }
    Ok(svg.finish(page.fonts))
}

struct Bar<'a> {
    top: f64,
    height: f64,
    hatch: &'a str,
    t: f64,
}

impl Bar<'_> {
    fn filtered(&self, svg: &mut Svg, from: f64, to: f64) {
        if to - from < 0.5 {
            return;
        }
        svg.leaf(
            "rect",
            &[
                ("x", &Num(from)),
                ("y", &Num(self.top)),
                ("width", &Num(to - from)),
                ("height", &Num(self.height)),
                ("fill", &self.hatch),
                ("stroke", &INK),
                ("stroke-width", &Num(self.t * 0.1)),
            ],
        );
    }

    // A word on the bar, on a plate where the ground is hatched; left out when it does not fit.
    fn word(&self, svg: &mut Svg, from: f64, to: f64, word: &str, plate: bool) {
        let size = self.t * 0.95;
        let width = fonts::width(word, size, Weight::Bold);
        if to - from < width + self.t * 0.9 {
            return;
        }
        let middle = (from + to) / 2.0;
        if plate {
            svg.leaf(
                "rect",
                &[
                    ("x", &Num(middle - width / 2.0 - self.t * 0.35)),
                    ("y", &Num(self.top + self.height / 2.0 - size * 0.66)),
                    ("width", &Num(width + self.t * 0.7)),
                    ("height", &Num(size * 1.32)),
                    ("fill", &PAPER),
                ],
            );
        }
        let style = TextStyle::new(size, INK).strong().held(Anchor::Middle);
        svg.text(middle, self.top + self.height / 2.0 + size * 0.36, &style, word);
    }

    fn tick(&self, svg: &mut Svg, x: f64, sign: f64) {
        let (a, b) = if sign < 0.0 {
            (self.top - self.t * 0.3, self.top + self.height)
        } else {
            // Below the bar only: its words stay whole.
            (self.top + self.height - self.t * 0.1, self.top + self.height + self.t * 0.6)
        };
        svg.leaf(
            "path",
            &[
                ("d", &format!("M{} {}V{}", Num(x), Num(a), Num(b))),
                ("stroke", &INK),
                ("stroke-width", &Num(self.t * 0.12)),
            ],
        );
    }
}

// Words centred over an instant, moved inwards at the edges, left out where they would touch others.
fn write_centred(
    svg: &mut Svg,
    placer: &mut Placer,
    at: [f64; 2],
    words: &str,
    t: f64,
    strong: bool,
    [left, right]: [f64; 2],
) {
    let size = t * 0.9;
    let weight = if strong { Weight::Bold } else { Weight::Regular };
    let half = fonts::width(words, size, weight) / 2.0 + 2.0;
    let x = at[0].clamp((left + half - t * 0.4).min(right - half), (right - half + t * 0.4).max(left + half));
    let footprint = Footprint { centre: [x, at[1] - size * 0.36], half: [half, size * 0.5], turn_deg: 0.0 };
    if placer.take_if_free(footprint) {
        let mut style = TextStyle::new(size, INK).held(Anchor::Middle);
        style.weight = weight;
        svg.text(x, at[1], &style, words);
    }
}
