//! The page: title, map window and what stands below it; the layers in their order.

use std::collections::BTreeSet;

use super::{
    Furniture, MapError, MapSheet, altitude_isolines, base, canvas::Canvas, clouds, credits, duration_isolines,
    fallback_links, field_grid::FieldGrid, graticule, hidden_ground, inset, land, legend, limits, path_fill,
    ramp::Ramp, relief, roads, scale_bar, sites, time_ticks, towns,
};
use crate::basemap::{Basemap, Detail};
use crate::fonts::{self, Weight};
use crate::labels::Placer;
use crate::palette::{INK, PAPER, QUIET_INK};
use crate::projection::{Frame, ProjectionError, Window};
use crate::svg::{Num, Svg, TextStyle};
use noonfall_words::map::layer;
use noonfall_words::numbers::duration;

/// Draws a map whose frame is made by `fit` for the window that the page leaves.
pub(crate) fn compose(
    sheet: &MapSheet<'_>,
    regional: bool,
    fit: impl Fn(Window) -> Result<Frame, ProjectionError>,
) -> Result<String, MapError> {
    let page = sheet.page;
    let (t, width) = (page.text, page.width);
    let full = sheet.furniture == Furniture::Full;
    let margin = if full { t * 1.3 } else { 1.0 };
    let room = width - 2.0 * margin;
    let no_room = MapError::NoRoom { width: page.width, height: page.height };
    if !(t > 0.0 && room > 12.0 * t && page.height.is_finite()) {
        return Err(no_room);
    }

    let mut svg = Svg::new(width, page.height, &sheet.id, &sheet.title, &description(sheet, regional));
    svg.leaf("rect", &[("width", &Num(width)), ("height", &Num(page.height)), ("fill", &PAPER)]);
    let mut y = margin;
    if full {
        let mut heading = |text: &str, size: f64, style: TextStyle, most: usize| {
            let mut lines = fonts::wrapped(text, size, style.weight, room);
            if lines.len() > most {
                let rest = lines.split_off(most - 1).join(" ");
                lines.push(fonts::fitted(&rest, size, style.weight, room));
            }
            for line in lines {
                y += size * 1.02;
                svg.text(margin, y, &style, &line);
                y += size * 0.26;
            }
        };
        heading(&sheet.title, t * 1.65, TextStyle::new(t * 1.65, INK).strong(), 2);
        heading(&sheet.subtitle, t * 1.05, TextStyle::new(t * 1.05, QUIET_INK), 3);
        if sheet.invented {
            credits::banner(&mut svg, margin, &mut y, t);
        }
        y += t * 0.6;
    }

    let ramp = Ramp::up_to(sheet.path.longest_s);
    let window_over = |foot: &legend::Foot| {
        let below = if full { foot.height + t * 0.9 + margin * 0.8 } else { t * 1.35 };
        let window = Window { x: margin, y, width: room, height: page.height - y - below };
        if window.height < 8.0 * t { Err(no_room.clone()) } else { Ok(window) }
    };
    let mut foot = legend::Foot::measured(sheet, &ramp, room, regional, false);
    let mut window = window_over(&foot)?;
    let mut frame = fit(window)?;
    // A line more in the legend costs the map a little room, which does not undo the decision.
    let apart = limits::are_apart(sheet, &frame);
    if apart && full {
        foot = legend::Foot::measured(sheet, &ramp, room, regional, true);
        window = window_over(&foot)?;
        frame = fit(window)?;
    }
    let basemap = Basemap::shipped(if frame.km_per_unit() < 1.6 { Detail::Fine } else { Detail::Coarse })?;
    let clip = svg.clip_rect("window", window.x, window.y, window.width, window.height);
    let path_rings = frame.areas(&sheet.path.polygon);
    let (step, reach) = if regional { (3.0, f64::INFINITY) } else { (1.5, t * 1.4) };
    let grid = FieldGrid::sampled(&frame, sheet.field, &path_rings, step, reach);
    let mut canvas = Canvas {
        sheet,
        page,
        placer: Placer::new(Window {
            x: window.x + 2.0,
            y: window.y + 2.0,
            width: window.width - 4.0,
            height: window.height - 4.0,
        }),
        frame,
        svg,
        path_rings,
        land: Vec::new(),
        lakes: Vec::new(),
        grid,
        ramp,
        regional,
        limits_apart: apart,
        in_insets: BTreeSet::new(),
        degree_labels: Vec::new(),
        notes: Vec::new(),
    };
    let insets = inset::plan(&mut canvas);
    canvas.in_insets = inset::members(&insets);

    canvas.open_layers(&clip);
    land::draw(&mut canvas, basemap);
    canvas.svg.open_group(layer::GRATICULE, &[]);
    graticule::draw(&mut canvas);
    canvas.svg.close();
    path_fill::draw(&mut canvas);
    relief::draw(&mut canvas);
    hidden_ground::draw(&mut canvas);
    land::draw_lines(&mut canvas, basemap);
    roads::draw(&mut canvas);
    clouds::draw(&mut canvas);
    let lines = limits::on_page(&canvas);
    base::place(&mut canvas);
    // Discs first: everything else makes way for them.
    let placed_sites = sites::place_discs(&mut canvas);
    let bar = scale_bar::place(&mut canvas, &lines);
    let ticks = time_ticks::on_page(&canvas);
    for line in lines.central.iter() {
        canvas.placer.note_line(line, 1.2);
    }
    for line in lines.limits.iter().chain(ticks.iter().map(|t| &t.line)) {
        canvas.placer.note_line(line, 0.6);
    }
    let site_labels = sites::place_labels(&mut canvas, &placed_sites, 0, 12);
    let tick_labels = time_ticks::place(&mut canvas, &ticks);
    let more_labels = sites::place_labels(&mut canvas, &placed_sites, 12, usize::MAX);

    if regional {
        duration_isolines::draw(&mut canvas);
    }
    // A small map of a day's surroundings has one height of the Sun all over, and no room for its lines.
    if full || !regional {
        altitude_isolines::draw(&mut canvas);
    }
    limits::draw(&mut canvas, &lines);
    time_ticks::draw(&mut canvas, &ticks, &tick_labels);
    fallback_links::draw(&mut canvas);
    if regional {
        towns::draw(&mut canvas);
    }
    base::draw(&mut canvas);
    sites::draw(&mut canvas, &placed_sites, &[site_labels, more_labels].concat());
    inset::draw_extents(&mut canvas, &insets);
    canvas.svg.close();
    graticule::draw_labels(&mut canvas);
    if let Some(bar) = bar {
        scale_bar::draw(&mut canvas, &bar);
    }
    for one in &insets {
        inset::draw(&mut canvas, one)?;
    }
    canvas.svg.leaf(
        "rect",
        &[
            ("x", &Num(window.x)),
            ("y", &Num(window.y)),
            ("width", &Num(window.width)),
            ("height", &Num(window.height)),
            ("fill", &"none"),
            ("stroke", &INK),
            ("stroke-width", &Num(t * 0.07)),
        ],
    );
    let foot_top = window.y + window.height + t * 0.9;
    if full {
        foot.draw(&mut canvas, margin, foot_top);
    } else {
        credits::line(&mut canvas, margin, window.y + window.height + t * 0.95, room);
    }
    Ok(canvas.svg.finish(sheet.fonts))
}

// What a screen reader says: the best sites in words, because the picture's point is where to stand.
fn description(sheet: &MapSheet<'_>, regional: bool) -> String {
    let mut ranked: Vec<_> = sheet.sites.iter().filter(|s| s.rank.is_some()).collect();
    ranked.sort_by_key(|s| s.rank);
    let mut out = format!(
        "{} map of the path of {}, shaded by its length in seconds",
        if regional { "Regional" } else { "Overview" },
        sheet.path.centrality.noun()
    );
    if !ranked.is_empty() {
        let best: Vec<String> = ranked
            .iter()
            .take(5)
            .map(|s| {
                let name = fonts::fitted(&s.name, 10.0, Weight::Regular, 300.0);
                format!("{} {} ({})", s.rank.unwrap_or_default(), name, duration(s.totality_s))
            })
            .collect();
        out.push_str(&format!(", with {} ranked sites. Best: {}", ranked.len(), best.join("; ")));
    }
    out.push('.');
    if sheet.invented {
        out.push_str(" Parts of the data are invented for a demonstration.");
    }
    out
}
