//! Land, lakes and borders.

use super::canvas::Canvas;
use crate::basemap::{Area, Basemap};
use crate::palette::{BORDER, COAST, INK, LAND, PAPER, WATER};
use crate::projection::simplified;
use crate::svg::{Num, PathData};
use noonfall_ephemeris::GeoPoint;
use noonfall_words::map::layer;

/// How much of the path's colour sea and lakes take away.
pub(super) const WATER_OVER_PATH: f64 = 0.38;

/// Draws sea, land and lakes.
pub fn draw(canvas: &mut Canvas, basemap: &Basemap) {
    let w = canvas.frame.window();
    canvas.svg.open_group(layer::LAND, &[]);
    canvas.svg.leaf(
        "rect",
        &[("x", &Num(w.x)), ("y", &Num(w.y)), ("width", &Num(w.width)), ("height", &Num(w.height)), ("fill", &WATER)],
    );
    canvas.land = on_page(canvas, &basemap.land);
    canvas.lakes = on_page(canvas, &basemap.lakes);
    for (rings, colour) in [(&canvas.land, LAND), (&canvas.lakes, WATER)] {
        let mut d = PathData::new();
        for ring in rings {
            d.ring(ring);
        }
        if !d.is_empty() {
            canvas.svg.leaf("path", &[("d", &d.as_str()), ("fill", &colour), ("fill-rule", &"evenodd")]);
        }
    }
    canvas.svg.close();
}

/// Pales the path where it runs over water, so that the land's shape shows through its colour. To be drawn inside the
/// path's own group.
pub fn draw_water_over_path(canvas: &mut Canvas) {
    let Some(box_of_path) = bounds(canvas.path_rings.iter().flatten()) else { return };
    let touches = |ring: &[[f64; 2]]| {
        bounds(ring.iter()).is_some_and(|b| (0..2).all(|i| b[i] <= box_of_path[i + 2] && box_of_path[i] <= b[i + 2]))
    };
    let [left, top, right, bottom] = box_of_path;
    let mut sea = PathData::new();
    sea.ring(&[[left, top], [right, top], [right, bottom], [left, bottom]]);
    let mut lakes = PathData::new();
    for (rings, d) in [(&canvas.land, &mut sea), (&canvas.lakes, &mut lakes)] {
        for ring in rings.iter().filter(|ring| touches(ring)) {
            d.ring(ring);
        }
    }
    for d in [sea, lakes] {
        if !d.is_empty() {
            canvas.svg.leaf(
                "path",
                &[
                    ("d", &d.as_str()),
                    ("fill", &WATER),
                    ("fill-rule", &"evenodd"),
                    ("fill-opacity", &Num(WATER_OVER_PATH)),
                ],
            );
        }
    }
}

/// Left, top, right and bottom of some points.
fn bounds<'a>(points: impl Iterator<Item = &'a [f64; 2]>) -> Option<[f64; 4]> {
    points.fold(None, |b: Option<[f64; 4]>, p| {
        let b = b.unwrap_or([p[0], p[1], p[0], p[1]]);
        Some([b[0].min(p[0]), b[1].min(p[1]), b[2].max(p[0]), b[3].max(p[1])])
    })
}

/// Draws coasts, shores and borders; inside the path in ink with a rim of paper, to be seen on all its colours.
pub fn draw_lines(canvas: &mut Canvas, basemap: &Basemap) {
    let t = canvas.page.text;
    let mut shores = Vec::new();
    for (name, areas, opacity) in [("coast", &basemap.land, 1.0), ("shores", &basemap.lakes, 0.7)] {
        let mut d = PathData::new();
        for ring in areas.iter().flatten().filter(|ring| !canvas.frame.misses(&ring.cap)) {
            for run in without_cuts(&ring.points) {
                for piece in canvas.frame.lines(&run) {
                    d.line(&simplified(&piece, 0.25));
                }
            }
        }
        if !d.is_empty() {
            shores.push((canvas.svg.define_path(name, d.as_str()), COAST, "none", opacity));
        }
    }
    let states = ("states", &basemap.state_lines, "1 3", 0.8);
    for (name, lines, dashes, opacity) in [states, ("borders", &basemap.borders, "5 2", 1.0)] {
        let mut d = PathData::new();
        for line in lines.iter().filter(|line| !canvas.frame.misses(&line.cap)) {
            for piece in canvas.frame.lines(&line.points) {
                d.line(&simplified(&piece, 0.3));
            }
        }
        if !d.is_empty() {
            shores.push((canvas.svg.define_path(name, d.as_str()), BORDER, dashes, opacity));
        }
    }
    let mut outline = PathData::new();
    for ring in &canvas.path_rings {
        outline.ring(&simplified(ring, 0.08));
    }
    canvas.svg.open_group(layer::LAND_LINES, &[("fill", &"none")]);
    let draw = |canvas: &mut Canvas, colour: &str, width: f64, dashes: &str, opacity: f64, href: &str| {
        canvas.svg.leaf(
            "use",
            &[
                ("href", &href),
                ("stroke", &colour),
                ("stroke-width", &Num(width)),
                ("stroke-dasharray", &dashes),
                ("stroke-linejoin", &"round"),
                ("stroke-opacity", &Num(opacity)),
            ],
        );
    };
    for (href, colour, dashes, opacity) in &shores {
        draw(canvas, colour, t * 0.045, dashes, *opacity, href);
    }
    if !outline.is_empty() {
        let inside = canvas.svg.clip_path("lines-in-path", outline.as_str());
        canvas.svg.open("g", &[("clip-path", &inside)]);
        for (href, _, dashes, opacity) in &shores {
            if *dashes == "none" {
                draw(canvas, PAPER, t * 0.14, "none", 0.4 * opacity, href);
            }
            draw(canvas, INK, t * 0.055, dashes, 0.75 * opacity, href);
        }
        canvas.svg.close();
    }
    canvas.svg.close();
}

/// The rings of areas as far as they are seen.
fn on_page(canvas: &Canvas, areas: &[Area]) -> Vec<Vec<[f64; 2]>> {
    let rings = areas.iter().flatten().filter(|ring| !canvas.frame.misses(&ring.cap));
    let rings = rings.filter_map(|ring| canvas.frame.area(&ring.points)).map(|ring| simplified(&ring, 0.25));
    // Islands below a third of a square unit are not seen, but would make up most of the file.
    rings.filter(|ring| crate::projection::signed_area(ring).abs() > 0.3).collect()
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
