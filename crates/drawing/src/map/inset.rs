//! An inset where places crowd: part of the map enlarged in its own frame, in a corner that hides nothing, with its extent marked on
//! the map by the same letter. On the map its places are dots; discs and names stand in the inset, where there is room for them.

use std::collections::BTreeSet;

use super::canvas::Canvas;
use super::{Furniture, field_grid::FieldGrid, land, limits, path_fill, scale_bar, sites};
use crate::basemap::{Basemap, BasemapError, Detail};
use crate::fonts::{self, Weight};
use crate::labels::{Footprint, Placer};
use crate::palette::{INK, PAPER};
use crate::projection::{Frame, Window};
use crate::svg::{Anchor, Num, PathData, Svg, TextStyle};
use noonfall_words::map::layer;

/// So many discs that would lie on one another make a crowd: two are parted by moving one a little.
const LEAST_CROWD: usize = 3;
/// Insets at most.
const MOST_INSETS: usize = 2;
/// An inset that enlarges less parts nothing.
const LEAST_TIMES: f64 = 2.0;

/// An inset with its room.
pub struct Inset {
    letter: char,
    frame: Frame,
    /// Indexes of the sites in it.
    pub members: Vec<usize>,
    /// Its extent on the map.
    extent: Vec<[f64; 2]>,
    /// How many times larger than the map.
    times: f64,
}

/// Finds the crowds and takes a corner of the map for each; none where no discs crowd, or where every corner is in use.
#[must_use]
pub fn plan(canvas: &mut Canvas) -> Vec<Inset> {
    let mut insets = Vec::new();
    if canvas.regional || canvas.sheet.furniture != Furniture::Full {
        return insets;
    }
    let t = canvas.page.text;
    for crowd in crowds(canvas) {
        if insets.len() == MOST_INSETS {
            break;
        }
        let Some(window) = corner(canvas, &crowd) else { continue };
        let points: Vec<_> = crowd.iter().map(|(index, _)| canvas.sheet.sites[*index].point).collect();
        let Ok(frame) = Frame::fit(&points, window, t * 4.2) else { continue };
        let times = canvas.frame.km_per_unit() / frame.km_per_unit();
        let extent = extent_on_map(&canvas.frame, &frame);
        if times < LEAST_TIMES || extent.len() < 4 {
            continue;
        }
        let sites = canvas.sheet.sites.iter().enumerate();
        let members = sites.filter(|(_, s)| frame.page_inside(s.point, 0.0).is_some()).map(|(i, _)| i).collect();
        canvas.placer.take(around(&[window_corners(window).as_slice()].concat(), t * 0.4));
        canvas.placer.take(around(&extent, t * 0.2));
        canvas.placer.take(Footprint::around(letter_at(canvas, &extent), t * 0.8));
        let letter = if insets.is_empty() { 'A' } else { 'B' };
        insets.push(Inset { letter, frame, members, extent, times });
    }
    insets
}

/// The sites whose discs and names stand in insets.
#[must_use]
pub fn members(insets: &[Inset]) -> BTreeSet<usize> {
    insets.iter().flat_map(|inset| inset.members.iter().copied()).collect()
}

// Groups of numbered sites whose discs would touch, each with its places on the page; the largest first, then the best.
fn crowds(canvas: &Canvas) -> Vec<Vec<(usize, [f64; 2])>> {
    let t = canvas.page.text;
    let sites = &canvas.sheet.sites;
    let mut numbered: Vec<(u32, usize, [f64; 2], f64)> = sites
        .iter()
        .enumerate()
        .filter_map(|(i, s)| {
            let at = canvas.frame.page_inside(s.point, t * 0.3)?;
            Some((s.rank?, i, at, sites::disc_radius(s.score, t) + sites::ring_room(t)))
        })
        .collect();
    numbered.sort_by_key(|(rank, index, ..)| (*rank, *index));
    numbered.truncate(sites::MOST_NUMBERED);
    let mut group: Vec<usize> = (0..numbered.len()).collect();
    for i in 0..numbered.len() {
        for j in 0..i {
            let (a, b) = (&numbered[i], &numbered[j]);
            let (one, other) = (group[i], group[j]);
            if one != other && (a.2[0] - b.2[0]).hypot(a.2[1] - b.2[1]) < 0.85 * (a.3 + b.3) {
                let (low, high) = (one.min(other), one.max(other));
                group.iter_mut().filter(|g| **g == high).for_each(|g| *g = low);
            }
        }
    }
    let mut crowds: Vec<Vec<(usize, [f64; 2])>> = (0..numbered.len())
        .map(|root| {
            let own = group.iter().zip(&numbered).filter(|(g, _)| **g == root);
            own.map(|(_, (_, index, at, _))| (*index, *at)).collect()
        })
        .filter(|crowd: &Vec<_>| crowd.len() >= LEAST_CROWD)
        .collect();
    // Stable: of equal crowds the one with the better site comes first.
    crowds.sort_by_key(|crowd| std::cmp::Reverse(crowd.len()));
    crowds
}

// The corner that hides least of the path, and no site at all.
fn corner(canvas: &Canvas, crowd: &[(usize, [f64; 2])]) -> Option<Window> {
    let t = canvas.page.text;
    let w = canvas.frame.window();
    let (width, height) = ((w.width * 0.3).clamp(t * 14.0, t * 26.0), (w.height * 0.42).clamp(t * 11.0, t * 18.0));
    if width > w.width * 0.48 || height > w.height * 0.48 {
        return None;
    }
    let gap = t * 0.7;
    let (left, right) = (w.x + gap, w.x + w.width - gap - width);
    let (top, bottom) = (w.y + gap, w.y + w.height - gap - height);
    let places: Vec<[f64; 2]> =
        canvas.sheet.sites.iter().filter_map(|s| canvas.frame.page_inside(s.point, 0.0)).collect();
    let middle = [0, 1].map(|k| crowd.iter().map(|(_, at)| at[k]).sum::<f64>() / crowd.len().max(1) as f64);
    [(left, bottom), (right, bottom), (left, top), (right, top)]
        .into_iter()
        .map(|(x, y)| Window { x, y, width, height })
        .filter(|room| {
            let footprint = around(&window_corners(*room), t);
            canvas.placer.is_free(&Footprint::upright(room.x, room.y, width, height))
                && !places.iter().any(|p| footprint.holds(*p, t))
        })
        .min_by(|a, b| {
            let cost = |room: &Window| {
                let far = (room.centre()[0] - middle[0]).hypot(room.centre()[1] - middle[1]);
                400.0 * hidden(canvas, *room) + far / w.width
            };
            cost(a).total_cmp(&cost(b))
        })
        .filter(|room| hidden(canvas, *room) < 0.2)
}

// How much of a room the path takes, 0 to 1.
fn hidden(canvas: &Canvas, room: Window) -> f64 {
    let nodes = (0..13).flat_map(|i| (0..13).map(move |j| (i, j)));
    let spots =
        nodes.map(|(i, j)| [room.x + room.width * f64::from(i) / 12.0, room.y + room.height * f64::from(j) / 12.0]);
    let inside = spots.filter(|p| canvas.path_rings.iter().filter(|ring| holds(ring, *p)).count() % 2 == 1).count();
    inside as f64 / 169.0
}

// Whether a ring holds a point, by the even-odd rule.
fn holds(ring: &[[f64; 2]], p: [f64; 2]) -> bool {
    let mut inside = false;
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
            inside = !inside;
        }
    }
    inside
}

fn window_corners(w: Window) -> [[f64; 2]; 4] {
    [[w.x, w.y], [w.x + w.width, w.y], [w.x + w.width, w.y + w.height], [w.x, w.y + w.height]]
}

// The upright rectangle about some points.
fn around(points: &[[f64; 2]], spare: f64) -> Footprint {
    let low = [0, 1].map(|k| points.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min) - spare);
    let high = [0, 1].map(|k| points.iter().map(|p| p[k]).fold(f64::NEG_INFINITY, f64::max) + spare);
    Footprint::upright(low[0], low[1], high[0] - low[0], high[1] - low[1])
}

// The edge of the inset's window as it runs over the map.
fn extent_on_map(map: &Frame, inset: &Frame) -> Vec<[f64; 2]> {
    let corners = window_corners(inset.window());
    let edge = (0..4).flat_map(|k| {
        let (a, b) = (corners[k], corners[(k + 1) % 4]);
        (0..6).map(move |i| {
            let s = f64::from(i) / 6.0;
            [a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])]
        })
    });
    edge.filter_map(|p| map.page(inset.place(p)?)).collect()
}

/// Marks the extents on the map, each with its letter.
pub fn draw_extents(canvas: &mut Canvas, insets: &[Inset]) {
    if insets.is_empty() {
        return;
    }
    let t = canvas.page.text;
    canvas.svg.open_group(layer::INSETS, &[]);
    for inset in insets {
        let mut d = PathData::new();
        d.ring(&inset.extent);
        for (colour, width) in [(PAPER, 0.3), (INK, 0.12)] {
            canvas.svg.leaf(
                "path",
                &[("d", &d.as_str()), ("fill", &"none"), ("stroke", &colour), ("stroke-width", &Num(t * width))],
            );
        }
        let at = letter_at(canvas, &inset.extent);
        letter(&mut canvas.svg, at, inset.letter, t);
    }
    canvas.svg.close();
}

// Where an extent's letter stands: above it or, at the top of the map, below.
fn letter_at(canvas: &Canvas, extent: &[[f64; 2]]) -> [f64; 2] {
    let t = canvas.page.text;
    let f = around(extent, 0.0);
    let top = f.centre[1] - f.half[1] - t * 1.9;
    let y = if top > canvas.frame.window().y { top } else { f.centre[1] + f.half[1] + t * 0.3 };
    [f.centre[0], y + t * 0.8]
}

fn letter(svg: &mut Svg, at: [f64; 2], letter: char, t: f64) {
    let side = t * 1.4;
    svg.leaf(
        "rect",
        &[
            ("x", &Num(at[0] - side / 2.0)),
            ("y", &Num(at[1] - side / 2.0)),
            ("width", &Num(side)),
            ("height", &Num(side)),
            ("fill", &INK),
            ("stroke", &PAPER),
            ("stroke-width", &Num(t * 0.1)),
        ],
    );
    let style = TextStyle::new(t, PAPER).strong().held(Anchor::Middle);
    svg.text(at[0], at[1] + t * 0.36, &style, &letter.to_string());
}

/// Draws an inset over the map.
///
/// # Errors
/// [`BasemapError`] if the shipped base map cannot be read.
pub fn draw(canvas: &mut Canvas, inset: &Inset) -> Result<(), BasemapError> {
    let t = canvas.page.text;
    let frame = inset.frame.clone();
    let w = frame.window();
    let basemap = Basemap::shipped(if frame.km_per_unit() < 1.6 { Detail::Fine } else { Detail::Coarse })?;
    let mut svg = std::mem::replace(&mut canvas.svg, Svg::new(1.0, 1.0, "", "", ""));
    let id = svg.id(&format!("inset-{}", inset.letter.to_ascii_lowercase()));
    let outer = svg.renamed(id);
    let times = format!("{:.0} times", inset.times);
    svg.open_group(&layer::inset(inset.letter, inset.members.len(), &times), &[]);
    let clip = svg.clip_rect("window", w.x, w.y, w.width, w.height);
    let path_rings = frame.areas(&canvas.sheet.path.polygon);
    let grid = FieldGrid::sampled(&frame, canvas.sheet.field, &path_rings, 1.5, t * 1.4);
    let mut inner = Canvas {
        sheet: canvas.sheet,
        page: canvas.page,
        placer: Placer::new(Window { x: w.x + 2.0, y: w.y + 2.0, width: w.width - 4.0, height: w.height - 4.0 }),
        limits_apart: limits::are_apart(canvas.sheet, &frame),
        frame,
        svg,
        path_rings,
        land: Vec::new(),
        lakes: Vec::new(),
        grid,
        ramp: canvas.ramp.clone(),
        regional: false,
        in_insets: BTreeSet::new(),
        degree_labels: Vec::new(),
        notes: Vec::new(),
    };
    // The heading first: all else makes way for it.
    let heading = format!("enlarged {times}");
    let room = fonts::width(&heading, t * 0.84, Weight::Regular);
    inner.placer.take(Footprint::upright(w.x, w.y, t * 2.6 + room, t * 2.0));
    inner.open_layers(&clip);
    land::draw(&mut inner, basemap);
    path_fill::draw(&mut inner);
    land::draw_lines(&mut inner, basemap);
    let lines = limits::on_page(&inner);
    let placed = sites::place_discs(&mut inner);
    let bar = scale_bar::place(&mut inner, &lines);
    for line in lines.central.iter().chain(&lines.limits) {
        inner.placer.note_line(line, 0.8);
    }
    let labels = sites::place_labels(&mut inner, &placed, 0, usize::MAX);
    limits::draw(&mut inner, &lines);
    sites::draw(&mut inner, &placed, &labels);
    inner.svg.close();
    if let Some(bar) = bar {
        scale_bar::draw(&mut inner, &bar);
    }
    letter(&mut inner.svg, [w.x + t * 1.2, w.y + t * 1.2], inset.letter, t);
    let style = TextStyle::new(t * 0.84, INK).haloed(PAPER);
    inner.svg.text(w.x + t * 2.2, w.y + t * 1.5, &style, &heading);
    inner.svg.leaf(
        "rect",
        &[
            ("x", &Num(w.x)),
            ("y", &Num(w.y)),
            ("width", &Num(w.width)),
            ("height", &Num(w.height)),
            ("fill", &"none"),
            ("stroke", &INK),
            ("stroke-width", &Num(t * 0.12)),
        ],
    );
    inner.svg.close();
    canvas.svg = inner.svg;
    let _ = canvas.svg.renamed(outer);
    Ok(())
}
