//! The sky in totality: facing the Sun, zenith up.

use super::{ChartError, ChartPage, finite, foot_note};
use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Placed, Placer, Wanted};
use crate::palette::{HAIRLINE, INK, LAND, PAPER, QUIET_INK, SHADE, TOTALITY};
use crate::projection::{Window, cut_line, cut_ring};
use crate::svg::{Anchor, Num, PathData, TextStyle};

/// What kind of light it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SkyKind {
    /// Planet.
    Planet,
    /// Star.
    Star,
}

/// A light in the sky.
#[derive(Clone, Debug, PartialEq)]
pub struct SkyObject {
    /// Name.
    pub name: String,
    /// Planet or star.
    pub kind: SkyKind,
    /// Altitude, degrees.
    pub altitude_deg: f64,
    /// Azimuth, degrees.
    pub azimuth_deg: f64,
    /// Visual magnitude.
    pub magnitude: f64,
    /// Whether the unaided eye should find it.
    pub visible: bool,
}

/// All that the chart shows.
#[derive(Clone, Debug, PartialEq)]
pub struct SkyChart {
    /// Sun's altitude with refraction, degrees.
    pub sun_apparent_altitude_deg: f64,
    /// Sun's azimuth, degrees.
    pub sun_azimuth_deg: f64,
    /// Planets and stars, those below the horizon too.
    pub objects: Vec<SkyObject>,
    /// Skyline by azimuth, degrees; empty for a level horizon.
    pub skyline: Vec<(f64, f64)>,
}

const CHART: &str = "sky";

// A name with its room, whether it is strong, and its ink.
type Named<'a> = (Placed, &'a str, bool, &'a str);

// Stereographic about a point in the Sun's azimuth: angles stay true, and the horizon stays a gentle arc
// (Snyder 1987, USGS Professional Paper 1395, equations 21-2 to 21-4, on a sphere).
struct Dome {
    azimuth_deg: f64,
    tilt_deg: f64,
    centre: [f64; 2],
    scale: f64,
}

impl Dome {
    fn project(&self, azimuth_deg: f64, altitude_deg: f64) -> [f64; 2] {
        let (sin_alt, cos_alt) = altitude_deg.to_radians().sin_cos();
        let (sin_az, cos_az) = (azimuth_deg - self.azimuth_deg).to_radians().sin_cos();
        let (sin_tilt, cos_tilt) = self.tilt_deg.to_radians().sin_cos();
        let k = 2.0 / (1.0 + sin_tilt * sin_alt + cos_tilt * cos_alt * cos_az).max(0.02);
        [k * cos_alt * sin_az, k * (cos_tilt * sin_alt - sin_tilt * cos_alt * cos_az)]
    }

    fn at(&self, azimuth_deg: f64, altitude_deg: f64) -> [f64; 2] {
        let p = self.project(azimuth_deg, altitude_deg);
        [self.centre[0] + p[0] * self.scale, self.centre[1] - p[1] * self.scale]
    }
}

/// Draws the chart.
///
/// # Errors
/// [`ChartError`] for a number that is not finite or too small a page.
pub fn sky(page: &ChartPage, chart: &SkyChart) -> Result<String, ChartError> {
    finite(CHART, "a place of the Sun", chart.sun_apparent_altitude_deg + chart.sun_azimuth_deg)?;
    for o in &chart.objects {
        finite(CHART, &format!("a place for {}", o.name), o.altitude_deg + o.azimuth_deg + o.magnitude)?;
    }
    for d in &chart.skyline {
        finite(CHART, "a skyline", d.0 + d.1)?;
    }
    let t = page.text;
    let visible: Vec<&str> =
        chart.objects.iter().filter(|o| o.visible && o.altitude_deg > 0.0).map(|o| o.name.as_str()).collect();
    let facing = noonfall_shadow::geodesy::compass_point(chart.sun_azimuth_deg);
    let description = format!(
        "Facing {facing}, the Sun {:.0} degrees high. To look for: {}.",
        chart.sun_apparent_altitude_deg,
        if visible.is_empty() { "nothing".to_owned() } else { visible.join(", ") }
    );
    let (mut svg, top) =
        page.begin(CHART, &format!("The sky in totality, facing {facing}, zenith up"), &description)?;

    let reach = 100.0;
    let in_view = |o: &&SkyObject| {
        let turn = (o.azimuth_deg - chart.sun_azimuth_deg + 180.0).rem_euclid(360.0) - 180.0;
        turn.abs() <= reach
    };
    let behind: Vec<String> = chart
        .objects
        .iter()
        .filter(|o| o.visible && o.altitude_deg > 0.0 && !in_view(o))
        .map(|o| {
            format!(
                "{} {:.0}° high in {}",
                o.name,
                o.altitude_deg,
                noonfall_shadow::geodesy::compass_point(o.azimuth_deg)
            )
        })
        .collect();
    let mut note =
        String::from("Full dots: should show to the unaided eye. Rings: perhaps, in binoculars during totality only.");
    if !behind.is_empty() {
        note.push_str(&format!(" Behind you: {}.", behind.join("; ")));
    }
    let foot = foot_note(&mut svg, page, &note);
    let window = Window { x: t * 0.8, y: top, width: page.width - t * 1.6, height: page.height - top - foot };
    if window.height < 9.0 * t {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }

    // The horizon lies near the window's foot, the zenith near its top.
    let mut dome = Dome { azimuth_deg: chart.sun_azimuth_deg, tilt_deg: 32.0, centre: [0.0, 0.0], scale: 1.0 };
    let (zenith, foot_point) = (dome.project(chart.sun_azimuth_deg, 90.0), dome.project(chart.sun_azimuth_deg, -8.0));
    let side = dome.project(chart.sun_azimuth_deg + 75.0, 8.0)[0];
    dome.scale = ((window.height - t * 2.0) / (zenith[1] - foot_point[1])).min(window.width / 2.0 / side);
    dome.centre = [page.width / 2.0, window.y + window.height + foot_point[1] * dome.scale];

    svg.leaf(
        "rect",
        &[
            ("x", &Num(window.x)),
            ("y", &Num(window.y)),
            ("width", &Num(window.width)),
            ("height", &Num(window.height)),
            ("fill", &SHADE),
            ("stroke", &INK),
            ("stroke-width", &Num(t * 0.06)),
        ],
    );
    let clip = svg.clip_rect("sky", window.x, window.y, window.width, window.height);
    svg.open("g", &[("clip-path", &clip)]);
    let arc_at = |altitude: f64| -> Vec<[f64; 2]> {
        (-60..=60).map(|i| dome.at(chart.sun_azimuth_deg + f64::from(i) * 2.5, altitude)).collect()
    };
    let mut placer = Placer::new(window);
    for altitude in [30.0, 60.0] {
        let mut pieces = Vec::new();
        cut_line(&arc_at(altitude), window, &mut pieces);
        let mut d = PathData::new();
        for p in &pieces {
            d.line(p);
        }
        svg.leaf(
            "path",
            &[
                ("d", &d.as_str()),
                ("fill", &"none"),
                ("stroke", &HAIRLINE),
                ("stroke-width", &Num(t * 0.09)),
                ("stroke-dasharray", &"2 3"),
            ],
        );
        let p = dome.at(chart.sun_azimuth_deg + if altitude < 45.0 { 52.0 } else { 75.0 }, altitude);
        let words = format!("{altitude:.0}°");
        let half = [fonts::width(&words, t * 0.78, Weight::Regular) / 2.0 + 1.0, t * 0.45];
        if placer.take_if_free(Footprint { centre: p, half, turn_deg: 0.0 }) {
            let style = TextStyle::new(t * 0.78, QUIET_INK).held(Anchor::Middle).haloed(SHADE);
            svg.text(p[0], p[1] + t * 0.28, &style, &words);
        }
    }
    let skyline = |azimuth: f64| -> f64 {
        // Between the profile's neighbours; level where there is none.
        let key = |a: f64| (a - azimuth + 180.0).rem_euclid(360.0) - 180.0;
        let below = chart.skyline.iter().filter(|d| key(d.0) <= 0.0).max_by(|a, b| key(a.0).total_cmp(&key(b.0)));
        let above = chart.skyline.iter().filter(|d| key(d.0) >= 0.0).min_by(|a, b| key(a.0).total_cmp(&key(b.0)));
        match (below, above) {
            (Some(a), Some(b)) if key(b.0) - key(a.0) < 20.0 => {
                let span = key(b.0) - key(a.0);
                if span < 1e-9 { a.1 } else { a.1 + (b.1 - a.1) * (-key(a.0) / span) }
            }
            _ => 0.0,
        }
    };
    let crest: Vec<[f64; 2]> = (-150..=150)
        .map(|i| {
            let azimuth = chart.sun_azimuth_deg + f64::from(i);
            dome.at(azimuth, skyline(azimuth))
        })
        .collect();
    let mut ground = crest.clone();
    ground.extend((-150..=150).rev().map(|i| dome.at(chart.sun_azimuth_deg + f64::from(i), -60.0)));
    let mut d = PathData::new();
    d.ring(&cut_ring(ground, window, 1.0));
    svg.leaf("path", &[("d", &d.as_str()), ("fill", &LAND)]);
    let mut pieces = Vec::new();
    cut_line(&crest, window, &mut pieces);
    let mut d = PathData::new();
    for p in &pieces {
        d.line(p);
        placer.note_line(p, 0.4);
    }
    svg.leaf("path", &[("d", &d.as_str()), ("fill", &"none"), ("stroke", &INK), ("stroke-width", &Num(t * 0.1))]);
    for k in 0..16 {
        let azimuth = f64::from(k) * 22.5;
        let turn = (azimuth - chart.sun_azimuth_deg + 180.0).rem_euclid(360.0) - 180.0;
        if turn.abs() > 80.0 || (k % 2 == 1 && page.width < t * 40.0) {
            continue;
        }
        let p = dome.at(azimuth, -1.0);
        let words = noonfall_shadow::geodesy::compass_point(azimuth);
        let half = [fonts::width(words, t * 0.84, Weight::Bold) / 2.0 + 1.0, t * 0.5];
        let centre = [p[0], p[1] + t * 0.8];
        if placer.take_if_free(Footprint { centre, half, turn_deg: 0.0 }) {
            svg.text(p[0], p[1] + t * 1.1, &TextStyle::new(t * 0.84, INK).strong().held(Anchor::Middle), words);
        }
    }
    let zenith = dome.at(chart.sun_azimuth_deg, 90.0);
    svg.leaf(
        "path",
        &[
            (
                "d",
                &format!(
                    "M{} {}h{a}M{} {}v{a}",
                    Num(zenith[0] - t * 0.4),
                    Num(zenith[1]),
                    Num(zenith[0]),
                    Num(zenith[1] - t * 0.4),
                    a = Num(t * 0.8)
                ),
            ),
            ("stroke", &QUIET_INK),
            ("stroke-width", &Num(t * 0.08)),
        ],
    );
    let words_at = [zenith[0] + t * 0.7, zenith[1] + t * 0.3];
    let zenith_room = Footprint::upright(zenith[0] - t * 0.5, zenith[1] - t * 0.5, t * 5.0, t);
    if placer.take_if_free(zenith_room) {
        svg.text(words_at[0], words_at[1], &TextStyle::new(t * 0.78, QUIET_INK), "zenith");
    }

    let sun = dome.at(chart.sun_azimuth_deg, chart.sun_apparent_altitude_deg);
    let sun_radius = t * 0.5;
    for (grow, opacity) in [(2.1, "0.14"), (1.6, "0.3")] {
        svg.leaf(
            "circle",
            &[
                ("cx", &Num(sun[0])),
                ("cy", &Num(sun[1])),
                ("r", &Num(sun_radius * grow)),
                ("fill", &TOTALITY),
                ("opacity", &opacity),
            ],
        );
    }
    svg.leaf("circle", &[("cx", &Num(sun[0])), ("cy", &Num(sun[1])), ("r", &Num(sun_radius)), ("fill", &INK)]);
    placer.take(Footprint::around(sun, sun_radius * 1.2));
    let mut objects: Vec<&SkyObject> = chart.objects.iter().filter(in_view).filter(|o| o.altitude_deg > 0.0).collect();
    // What will be seen comes first, the brightest before all: those have their names whatever crowds.
    objects.sort_by(|a, b| {
        (b.visible.cmp(&a.visible)).then(a.magnitude.total_cmp(&b.magnitude)).then_with(|| a.name.cmp(&b.name))
    });
    // All discs before any name, so that no name is written over a disc.
    let mut discs = Vec::new();
    for o in objects {
        let p = dome.at(o.azimuth_deg, o.altitude_deg);
        if !window.holds(p, 2.0) {
            continue;
        }
        // Brighter is larger: each magnitude takes a seventh off the radius, between hand-picked ends.
        let radius = (t * 0.34 * (1.0 - o.magnitude / 7.0)).clamp(t * 0.14, t * 0.55);
        placer.take(Footprint::around(p, radius));
        discs.push((o, p, radius));
    }
    for (o, p, radius) in discs.iter().rev() {
        // Before the Sun's disc, which is drawn larger than it is, a light rim keeps a planet's apart.
        let near = (p[0] - sun[0]).hypot(p[1] - sun[1]) < sun_radius + radius;
        let (fill, ink) = if o.visible { (INK, if near { PAPER } else { INK }) } else { (PAPER, QUIET_INK) };
        svg.leaf(
            "circle",
            &[
                ("cx", &Num(p[0])),
                ("cy", &Num(p[1])),
                ("r", &Num(*radius)),
                ("fill", &fill),
                ("stroke", &ink),
                ("stroke-width", &Num(t * 0.09)),
            ],
        );
    }
    let sun_words = format!("Sun {:.0}°", chart.sun_apparent_altitude_deg);
    let named = discs.iter().map(|(o, p, radius)| {
        let ink = if o.visible { INK } else { QUIET_INK };
        (*p, radius + 1.0, o.name.as_str(), o.kind == SkyKind::Planet && o.visible, ink)
    });
    let mut asked: Vec<_> =
        std::iter::once((sun, sun_radius * 1.2, sun_words.as_str(), true, INK)).chain(named).collect();
    let size = t * 0.86;
    let weight = |strong: bool| if strong { Weight::Bold } else { Weight::Regular };
    // A name that finds no room among those placed before it is placed first the next time.
    let (mut fewest, mut best): (usize, Vec<Named<'_>>) = (usize::MAX, Vec::new());
    for _ in 0..12 {
        let mut placer = placer.clone();
        let (mut placed, mut left_out) = (Vec::new(), Vec::new());
        for (i, &(at, clear, text, strong, ink)) in asked.iter().enumerate() {
            let form = [fonts::width(text, size, weight(strong)) + 2.0, size * 1.15];
            let reach = clear + t * if strong { 7.0 } else { 3.0 };
            match placer.place_around(&Wanted { anchor: at, clear, forms: vec![form], reach }) {
                Some(p) => placed.push((p, text, strong, ink)),
                None if strong => left_out.push(i),
                None => {}
            }
        }
        let (missing, first) = (left_out.len(), left_out.first().copied());
        if missing < fewest {
            (fewest, best) = (missing, placed);
        }
        let Some(first) = first else { break };
        asked[..=first].rotate_right(1);
    }
    for (p, text, strong, ink) in best {
        if let Some([a, b]) = p.leader {
            svg.leaf(
                "path",
                &[
                    ("d", &format!("M{} {}L{} {}", Num(a[0]), Num(a[1]), Num(b[0]), Num(b[1]))),
                    ("stroke", &QUIET_INK),
                    ("stroke-width", &Num(t * 0.07)),
                ],
            );
        }
        let mut style = TextStyle::new(size, ink).held(Anchor::Middle).haloed(SHADE);
        style.weight = weight(strong);
        svg.text(p.footprint.centre[0], p.footprint.centre[1] + size * 0.36, &style, text);
    }
    svg.close();
    Ok(svg.finish(page.fonts))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zenith_is_up_and_azimuth_grows_to_the_right() {
        let dome = Dome { azimuth_deg: 300.0, tilt_deg: 32.0, centre: [0.0, 0.0], scale: 1.0 };
        let up = dome.project(300.0, 90.0);
        assert!(up[0].abs() < 1e-12 && up[1] > dome.project(300.0, 40.0)[1]);
        assert!(dome.project(320.0, 10.0)[0] > 0.0 && dome.project(280.0, 10.0)[0] < 0.0);
        // Snyder's stereographic with k0 = 1: 90° from the centre lies at twice the sphere's radius.
        let right = Dome { azimuth_deg: 0.0, tilt_deg: 0.0, centre: [0.0, 0.0], scale: 1.0 }.project(90.0, 0.0);
        assert!((right[0] - 2.0).abs() < 1e-12);
    }

    // Boxes of the written lines, by the widths of the face.
    fn written(svg: &str) -> Vec<(String, Footprint)> {
        let document = roxmltree::Document::parse(svg).unwrap();
        let lines =
            document.descendants().filter(|n| n.has_tag_name("text") && n.attribute("text-anchor") == Some("middle"));
        lines
            .map(|n| {
                let number = |key| n.attribute(key).unwrap().parse::<f64>().unwrap();
                let text: String = n.descendants().filter_map(|d| d.is_text().then(|| d.text()).flatten()).collect();
                let weight = if n.attribute("font-weight").is_some() { Weight::Bold } else { Weight::Regular };
                let size = number("font-size");
                let half = [fonts::width(&text, size, weight) / 2.0, size * 0.4];
                (text, Footprint { centre: [number("x"), number("y") - size * 0.36], half, turn_deg: 0.0 })
            })
            .collect()
    }

    #[test]
    fn planets_close_to_the_sun_have_names_that_meet_neither_disc_nor_name() {
        // Invented: five planets within three degrees of a Sun that stands at 3°, and at 40°.
        for sun_apparent_altitude_deg in [3.0, 40.0] {
            let offsets = [
                ("Mercury", 1.0, 0.5),
                ("Venus", -0.8, 1.0),
                ("Mars", 0.4, 2.0),
                ("Jupiter", 2.0, 2.0),
                ("Saturn", -2.0, 0.2),
            ];
            let objects = offsets
                .map(|(name, across, up)| SkyObject {
                    name: name.to_owned(),
                    kind: SkyKind::Planet,
                    altitude_deg: sun_apparent_altitude_deg + up,
                    azimuth_deg: 290.0 + across,
                    magnitude: -1.0,
                    visible: true,
                })
                .to_vec();
            let chart = SkyChart { sun_apparent_altitude_deg, sun_azimuth_deg: 290.0, objects, skyline: Vec::new() };
            let page = ChartPage { heading: false, ..ChartPage::new("s", 300.0, 270.0) };
            let svg = sky(&page, &chart).unwrap();
            let lines = written(&svg);
            for (name, _, _) in offsets {
                assert!(lines.iter().any(|(text, _)| text == name), "{name} at {sun_apparent_altitude_deg}");
            }
            let document = roxmltree::Document::parse(&svg).unwrap();
            let discs: Vec<Footprint> = document
                .descendants()
                .filter(|n| n.has_tag_name("circle") && n.attribute("opacity").is_none())
                .map(|n| {
                    let number = |key| n.attribute(key).unwrap().parse::<f64>().unwrap();
                    Footprint::around([number("cx"), number("cy")], number("r"))
                })
                .collect();
            assert_eq!(discs.len(), 6);
            for (i, (text, at)) in lines.iter().enumerate() {
                assert!(!discs.iter().any(|d| d.overlaps(at)), "{text} over a disc");
                for (other, there) in &lines[..i] {
                    assert!(!there.overlaps(at), "{text} over {other}");
                }
            }
        }
    }
}
