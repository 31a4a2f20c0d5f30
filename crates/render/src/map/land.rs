//! Land, lakes and borders.

use super::sheet::Canvas;
use crate::basemap::{Area, Basemap};
use crate::palette::{BORDER, COAST, LAND, WATER};
use crate::projection::simplified;
use crate::svg::{Num, PathData};
use noonfall_ephemeris::GeoPoint;

/// Draws sea, land, lakes and borders.
pub fn draw(canvas: &mut Canvas, basemap: &Basemap) {
    let w = canvas.frame.window();
    canvas.svg.open_group("Land, lakes and borders", &[("clip-path", &canvas.clip.clone())]);
    canvas.svg.leaf(
        "rect",
        &[("x", &Num(w.x)), ("y", &Num(w.y)), ("width", &Num(w.width)), ("height", &Num(w.height)), ("fill", &WATER)],
    );
    fill(canvas, &basemap.land, LAND);
    fill(canvas, &basemap.lakes, WATER);
    let line_width = Num(canvas.page.text * 0.045);
    for (areas, opacity) in [(&basemap.land, 1.0), (&basemap.lakes, 0.7)] {
        let mut coast = PathData::new();
        for ring in areas.iter().flatten() {
            for run in without_cuts(ring) {
                for piece in canvas.frame.lines(&run) {
                    coast.line(&simplified(&piece, 0.25));
                }
            }
        }
        if !coast.is_empty() {
            canvas.svg.leaf(
                "path",
                &[
                    ("d", &coast.as_str()),
                    ("fill", &"none"),
                    ("stroke", &COAST),
                    ("stroke-width", &line_width),
                    ("opacity", &Num(opacity)),
                ],
            );
        }
    }
    for (lines, dashes, opacity) in [(&basemap.state_lines, "1 3", 0.8), (&basemap.borders, "5 2", 1.0)] {
        let mut d = PathData::new();
        for line in lines {
            for piece in canvas.frame.lines(line) {
                d.line(&simplified(&piece, 0.3));
            }
        }
        if !d.is_empty() {
            canvas.svg.leaf(
                "path",
                &[
                    ("d", &d.as_str()),
                    ("fill", &"none"),
                    ("stroke", &BORDER),
                    ("stroke-width", &line_width),
                    ("stroke-dasharray", &dashes),
                    ("opacity", &Num(opacity)),
                ],
            );
        }
    }
    canvas.svg.close();
}

fn fill(canvas: &mut Canvas, areas: &[Area], colour: &str) {
    let mut d = PathData::new();
    for area in areas {
        for ring in canvas.frame.areas(area) {
            let ring = simplified(&ring, 0.25);
            // Islands below a third of a square unit are not seen, but would make up most of the file.
            if crate::projection::signed_area(&ring).abs() > 0.3 {
                d.ring(&ring);
            }
        }
    }
    if !d.is_empty() {
        canvas.svg.leaf("path", &[("d", &d.as_str()), ("fill", &colour), ("fill-rule", &"evenodd")]);
    }
}

// Base maps cut continents at the date line and close Antarctica along the pole; those edges are no coast.
fn without_cuts(ring: &[GeoPoint]) -> Vec<Vec<GeoPoint>> {
    let on_cut = |a: &GeoPoint, b: &GeoPoint| {
        (a.lon_deg.abs() > 179.999 && b.lon_deg.abs() > 179.999) || (a.lat_deg < -89.9 || b.lat_deg < -89.9)
    };
    let mut runs = Vec::new();
    let mut run: Vec<GeoPoint> = Vec::new();
    for p in ring {
        if run.last().is_some_and(|last| on_cut(last, p)) {
            runs.push(std::mem::take(&mut run));
        }
        run.push(*p);
    }
    runs.push(run);
    runs
}
