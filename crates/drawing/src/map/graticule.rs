//! Meridians and parallels, with their degrees along the frame.

use super::canvas::Canvas;
use crate::fonts::{self, Weight};
use crate::labels::Footprint;
use crate::palette::{HAIRLINE, PAPER, QUIET_INK};
use crate::projection::{latitude_text, longitude_text};
use crate::svg::{Anchor, Num, PathData, TextStyle};
use noonfall_ephemeris::GeoPoint;

/// Spacing of the graticule in degrees: about five lines across the view.
#[must_use]
pub fn spacing_deg(view_km: f64) -> f64 {
    let wanted = view_km / 111.2 / 5.0;
    [0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0].into_iter().find(|s| *s >= wanted).unwrap_or(30.0)
}

/// Draws the lines.
pub fn draw(canvas: &mut Canvas) {
    let w = canvas.frame.window();
    let step = spacing_deg(canvas.frame.km_per_unit() * w.width.min(w.height));
    let mut d = PathData::new();
    let mut ends: Vec<([f64; 2], String)> = Vec::new();
    let decimals = if step >= 1.0 {
        0
    } else if step >= 0.1 {
        1
    } else {
        2
    };
    let mut note = |pieces: Vec<Vec<[f64; 2]>>, text: String, bottom: bool| {
        for piece in pieces {
            d.line(&piece);
            for p in [piece.first(), piece.last()].into_iter().flatten() {
                let at_bottom = p[1] > w.y + w.height - 0.5;
                let at_left = p[0] < w.x + 0.5;
                if if bottom { at_bottom } else { at_left } {
                    ends.push((*p, text.clone()));
                }
            }
        }
    };
    let parallels = (90.0 / step).ceil() as i32;
    for i in (1 - parallels)..parallels {
        let lat = f64::from(i) * step;
        if canvas.frame.misses_parallel(lat) {
            continue;
        }
        // Parallels are not great circles: points close enough for the difference not to show.
        let line: Vec<GeoPoint> =
            (0..=720).map(|k| GeoPoint { lat_deg: lat, lon_deg: f64::from(k) * 0.5 - 180.0 }).collect();
        note(canvas.frame.lines(&line), latitude_text(lat, decimals), false);
    }
    let meridians = (360.0 / step).round() as i32;
    for i in 0..meridians {
        let lon = f64::from(i) * step - 180.0;
        if canvas.frame.misses_meridian(lon) {
            continue;
        }
        let reach = if step < 10.0 && (i * 5) % 2 == 0 { 90.0 - step } else { 80.0 };
        let line: Vec<GeoPoint> =
            (0..=90).map(|k| GeoPoint { lat_deg: -reach + f64::from(k) * reach / 45.0, lon_deg: lon }).collect();
        note(canvas.frame.lines(&line), longitude_text(lon, decimals), true);
    }
    if d.is_empty() {
        return;
    }
    canvas.svg.leaf(
        "path",
        &[
            ("d", &d.as_str()),
            ("fill", &"none"),
            ("stroke", &HAIRLINE),
            ("stroke-width", &Num(canvas.page.text * 0.045)),
        ],
    );
    let size = canvas.page.text * 0.78;
    canvas.degree_labels = ends
        .into_iter()
        .map(|(p, text)| {
            let (tw, th) = (fonts::width(&text, size, Weight::Regular), size * 1.15);
            let at_left = p[0] < w.x + 0.5;
            let f = if at_left {
                Footprint::upright(w.x + 4.0, p[1] - th / 2.0, tw, th)
            } else {
                // With a gap on both sides: towards a pole the meridians crowd, and run-together degrees cannot be read.
                let room = tw + size;
                Footprint::upright(p[0] - room / 2.0, w.y + w.height - th - 3.0, room, th)
            };
            (f, text)
        })
        .collect();
}

/// Draws the degrees where nothing else stands.
pub fn draw_labels(canvas: &mut Canvas) {
    let size = canvas.page.text * 0.78;
    for (footprint, text) in std::mem::take(&mut canvas.degree_labels) {
        if canvas.placer.take_if_free(footprint) {
            let style = TextStyle::new(size, QUIET_INK).held(Anchor::Middle).haloed(PAPER);
            canvas.svg.text(footprint.centre[0], footprint.centre[1] + size * 0.36, &style, &text);
        }
    }
}
