//! Where on the Sun's disc the last and the first light appear, zenith up, as the unaided eye sees it.

use super::{ChartError, ChartPage, finite, foot_note};
use crate::palette::{INK, PAPER, QUIET_INK, TOTALITY};
use crate::svg::{Anchor, Num, Svg, TextStyle, arc};

/// A direction on the limb, degrees from the zenith towards the east limb, which with the zenith up is anticlockwise.
pub type VertexAngle = f64;

/// All that the chart shows.
#[derive(Clone, Debug, PartialEq)]
pub struct SolarDisc {
    /// Whether second and third contact are those of totality; else of a ring, and no light goes or returns.
    pub total: bool,
    /// First contact: where the Moon's first bite appears.
    pub c1_deg: Option<VertexAngle>,
    /// Second contact: where the last light goes.
    pub c2_deg: Option<VertexAngle>,
    /// Third contact: where the first light returns.
    pub c3_deg: Option<VertexAngle>,
    /// Fourth contact: where the Moon leaves.
    pub c4_deg: Option<VertexAngle>,
    /// Seconds before third contact at which red light shows on the limb that the Sun returns from.
    pub look_away_lead_s: Option<f64>,
}

/// The hour of a clock face laid over the disc, 12 at the zenith: 1 to 12, to the nearest hour.
#[must_use]
pub fn clock_hour(vertex_deg: VertexAngle) -> u32 {
    let clockwise = (360.0 - vertex_deg).rem_euclid(360.0);
    match (clockwise / 30.0).round() as u32 % 12 {
        0 => 12,
        h => h,
    }
}

const CHART: &str = "solar disc";

/// Draws the chart.
///
/// # Errors
/// [`ChartError`] when no contact is given, one is not finite, or the page is too small.
pub fn solar_disc(page: &ChartPage, disc: &SolarDisc) -> Result<String, ChartError> {
    let contacts = [("C1", disc.c1_deg), ("C2", disc.c2_deg), ("C3", disc.c3_deg), ("C4", disc.c4_deg)];
    if contacts.iter().all(|(_, d)| d.is_none()) {
        return Err(ChartError::Empty { chart: CHART, wants: "at least one contact's vertex angle" });
    }
    for (name, degrees) in contacts {
        finite(CHART, &format!("a vertex angle for {name}"), degrees.unwrap_or(0.0))?;
    }
    let t = page.text;
    let hour = |d: Option<f64>| d.map(|d| format!("{} o’clock", clock_hour(d)));
    let central = disc.total && disc.c2_deg.is_some() && disc.c3_deg.is_some();
    let title = if central { "Where the last and first light appear" } else { "Where the Moon comes and goes" };
    let mut words = Vec::new();
    for (degrees, what) in [(disc.c2_deg, "Last light at"), (disc.c3_deg, "first light returns at")] {
        if let Some(h) = hour(degrees).filter(|_| central) {
            words.push(format!("{what} {h}"));
        }
    }
    let (mut svg, top) = page.begin(CHART, title, &format!("{}.", words.join(", ")))?;
    let note = match (central, disc.look_away_lead_s.filter(|s| s.is_finite()), hour(disc.c3_deg)) {
        (true, Some(lead), Some(h)) => format!(
            "Red light at {h}, about {lead:.0} s before third contact, is the sign to lower binoculars: filter ON. \
             The Moon’s real limb moves this by seconds. Zenith up, as the unaided eye sees it."
        ),
        (true, None, Some(h)) => {
            format!("The first bead at {h} ends totality: filter ON at once. Zenith up, as the unaided eye sees it.")
        }
        _ => "Filter ON throughout. Zenith up, as the eye sees it through a filter.".to_owned(),
    };
    let foot = foot_note(&mut svg, page, &note);
    let room = [page.width, page.height - top - foot];
    let radius = ((room[1] - t * 3.2) / 2.0 / 1.36).min((room[0] - t * 18.0) / 2.0 / 1.5);
    if radius < 2.2 * t {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    let c = [page.width / 2.0, top + room[1] / 2.0];
    // Clock face.
    for h in 0..12 {
        let (s, k) = (f64::from(h) * 30.0).to_radians().sin_cos();
        let (a, b) = (radius * 1.25, radius * if h % 3 == 0 { 1.34 } else { 1.3 });
        svg.leaf(
            "path",
            &[
                (
                    "d",
                    &format!(
                        "M{} {}L{} {}",
                        Num(c[0] + a * s),
                        Num(c[1] - a * k),
                        Num(c[0] + b * s),
                        Num(c[1] - b * k)
                    ),
                ),
                ("stroke", &QUIET_INK),
                ("stroke-width", &Num(t * 0.07)),
            ],
        );
    }
    svg.text(
        c[0],
        c[1] - radius * 1.36 - t * 0.25,
        &TextStyle::new(t * 0.84, QUIET_INK).held(Anchor::Middle),
        "12 · zenith",
    );
    svg.text(c[0], c[1] + radius * 1.36 + t * 0.85, &TextStyle::new(t * 0.84, QUIET_INK).held(Anchor::Middle), "6");
    if central {
        // The covered Sun with a rim of light that stands for the corona.
        for (grow, opacity) in [(1.2, "0.12"), (1.12, "0.2"), (1.06, "0.35")] {
            svg.leaf(
                "circle",
                &[
                    ("cx", &Num(c[0])),
                    ("cy", &Num(c[1])),
                    ("r", &Num(radius * grow)),
                    ("fill", &TOTALITY),
                    ("opacity", &opacity),
                ],
            );
        }
        svg.leaf("circle", &[("cx", &Num(c[0])), ("cy", &Num(c[1])), ("r", &Num(radius)), ("fill", &INK)]);
    } else {
        svg.leaf(
            "circle",
            &[
                ("cx", &Num(c[0])),
                ("cy", &Num(c[1])),
                ("r", &Num(radius)),
                ("fill", &PAPER),
                ("stroke", &INK),
                ("stroke-width", &Num(t * 0.12)),
            ],
        );
    }
    // In totality only the two instants that matter: when the filter may come off, and when it must be on.
    let shown = if central {
        vec![("C2", disc.c2_deg, "last light"), ("C3", disc.c3_deg, "first light")]
    } else {
        vec![
            ("C1", disc.c1_deg, "Moon’s first bite"),
            ("C2", disc.c2_deg, "ring begins"),
            ("C3", disc.c3_deg, "ring ends"),
            ("C4", disc.c4_deg, "Moon leaves"),
        ]
    };
    let size = t * 0.88;
    let (highest, lowest) = (top + size * 1.2, top + room[1] - size * 1.6);
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for (name, degrees, what) in shown {
        let Some(v) = degrees else { continue };
        mark(&mut svg, c, radius, v, name, t, central);
        let side = if v.to_radians().sin() > 0.0 { -1.0 } else { 1.0 };
        // Beside the disc, and apart from words already written on that side.
        let mut y = at(c, radius * 1.42, v)[1].clamp(highest, lowest);
        let step = if y > c[1] { -size * 0.5 } else { size * 0.5 };
        while taken.iter().any(|(s, o)| *s == side && (o - y).abs() < size * 2.6)
            && (highest..=lowest).contains(&(y + step))
        {
            y += step;
        }
        taken.push((side, y));
        let x = c[0] + side * radius * 1.5;
        let from = at(c, radius * 1.1, v);
        svg.leaf(
            "path",
            &[
                ("d", &format!("M{} {}L{} {}", Num(from[0]), Num(from[1]), Num(x), Num(y))),
                ("fill", &"none"),
                ("stroke", &QUIET_INK),
                ("stroke-width", &Num(t * 0.07)),
            ],
        );
        let anchor = if side > 0.0 { Anchor::Start } else { Anchor::End };
        let mut style = TextStyle::new(size, INK).held(anchor);
        svg.text(x + side * t * 0.3, y + size * 1.3, &style, &format!("{} o’clock", clock_hour(v)));
        style = style.strong();
        svg.text(x + side * t * 0.3, y + size * 0.2, &style, &format!("{name} {what}"));
    }
    Ok(svg.finish(page.fonts))
}

fn at(c: [f64; 2], radius: f64, vertex_deg: f64) -> [f64; 2] {
    let (s, k) = vertex_deg.to_radians().sin_cos();
    [c[0] - radius * s, c[1] - radius * k]
}

// Second contact is a hollow bead, third a full one with rays: the shapes differ, not only the words.
fn mark(svg: &mut Svg, c: [f64; 2], radius: f64, v: f64, name: &str, t: f64, light: bool) {
    let p = at(c, radius, v);
    if !light {
        let d = arc(c, radius, (360.0 - v) - 5.0, 10.0);
        svg.leaf("path", &[("d", &d), ("fill", &"none"), ("stroke", &INK), ("stroke-width", &Num(t * 0.34))]);
        return;
    }
    if name == "C3" {
        for k in 0..8 {
            let (s, q) = (f64::from(k) * 45.0).to_radians().sin_cos();
            svg.leaf(
                "path",
                &[
                    (
                        "d",
                        &format!(
                            "M{} {}L{} {}",
                            Num(p[0] + t * 0.5 * s),
                            Num(p[1] - t * 0.5 * q),
                            Num(p[0] + t * 0.85 * s),
                            Num(p[1] - t * 0.85 * q)
                        ),
                    ),
                    ("stroke", &INK),
                    ("stroke-width", &Num(t * 0.1)),
                ],
            );
        }
    }
    svg.leaf(
        "circle",
        &[
            ("cx", &Num(p[0])),
            ("cy", &Num(p[1])),
            ("r", &Num(t * 0.42)),
            ("fill", &PAPER),
            ("stroke", &INK),
            ("stroke-width", &Num(t * if name == "C3" { 0.2 } else { 0.1 })),
        ],
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn east_of_the_zenith_is_before_twelve() {
        // With the zenith up, the sky's position-angle sense (through east) is anticlockwise: 90° is at nine o'clock.
        for (vertex, hour) in [(0.0, 12), (90.0, 9), (180.0, 6), (270.0, 3), (330.0, 1), (359.0, 12), (-30.0, 1)] {
            assert_eq!(clock_hour(vertex), hour, "{vertex}");
        }
        let p = at([0.0, 0.0], 1.0, 90.0);
        assert!((p[0] + 1.0).abs() < 1e-12 && p[1].abs() < 1e-12);
    }
}
