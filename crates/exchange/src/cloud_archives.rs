//! What a cloud archive was understood to hold, and the odds it gives: as a page of text, a table and JSON.

use noonfall_scoring::input::clouds::place_words;
use noonfall_scoring::outlook::cloud_survey::{Odds, PlaceSurvey, Survey};
use serde_json::{Value, json};

use crate::table::{Align, Cell, Column, Sheet};
use crate::terminal::Screen;
use crate::values::number;

fn kind_words(survey: &Survey) -> String {
    let kind = match survey.source.kind().map(|k| k.name()) {
        Some("observed") => "observed: seen from the ground",
        Some(_) => "grid: seen from above",
        None => return "not stated: which is it? Name it with --kind observed (from the ground) or --kind grid (from above)".to_owned(),
    };
    let table = survey.source.table();
    match table.kind {
        Some(_) => format!("{kind} (by {})", table.kind_by),
        None => format!("{kind} (as told with --kind)"),
    }
}

/// The rows of facts, a name and its words each.
fn facts(survey: &Survey) -> Vec<(&'static str, String)> {
    let table = survey.source.table();
    let h = &survey.holdings;
    let list = |years: &[i32]| match years {
        [] => "not told".to_owned(),
        [one] => one.to_string(),
        [first, .., last] if years.len() as i32 == last - first + 1 => {
            format!("{first} to {last} ({} years)", years.len())
        }
        [first, .., last] => format!("{} of {first} to {last}", years.len()),
    };
    let mut rows = vec![("file", table.file.clone()), ("format", table.format.clone())];
    rows.push(("variable", table.variable.clone()));
    let unit = if table.stated_unit.is_empty() { "not stated" } else { &table.stated_unit };
    rows.push(("unit", format!("{unit}, read as {}", table.unit.name())));
    rows.push(("kind", kind_words(survey)));
    rows.push(("figures", h.step.words().to_owned()));
    if let (Some(from), Some(to)) = (h.from, h.to) {
        rows.push(("span", format!("{from} to {to}, {} times", h.times)));
    }
    rows.push(("years", list(&h.years)));
    const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let months: Vec<&str> = h.months.iter().filter_map(|m| MONTHS.get(*m as usize - 1)).copied().collect();
    rows.push(("months", if months.len() == 12 { "all".to_owned() } else { months.join(", ") }));
    if !h.hours_utc.is_empty() {
        let hours: Vec<String> = h.hours_utc.iter().map(|h| format!("{h}")).collect();
        rows.push(("hours (UTC)", hours.join(", ")));
    }
    if let Some(g) = table.grid {
        rows.push((
            "grid",
            format!(
                "{} × {} points, {:.4}° by {:.4}°, from {} to {}",
                g.rows,
                g.columns,
                g.lat_step_deg,
                g.lon_step_deg,
                place_words(g.lat0_deg, g.lon0_deg),
                place_words(
                    g.lat0_deg + g.lat_step_deg * (g.rows - 1) as f64,
                    noonfall_scoring::input::clouds::wrapped(g.lon0_deg + g.lon_step_deg * (g.columns - 1) as f64)
                )
            ),
        ));
    } else if !table.nodes.is_empty() {
        let names: Vec<String> = table.nodes.iter().take(5).filter_map(|n| n.name.clone()).collect();
        let more = if table.nodes.len() > 5 { " …" } else { "" };
        rows.push(("places", format!("{} {}{more}", table.nodes.len(), names.join(", ")).trim_end().to_owned()));
    }
    rows.push(("gaps", if h.gaps.is_empty() { "none".to_owned() } else { h.gaps.join("; ") }));
    if table.missing > 0 {
        rows.push(("missing", format!("{} figures of what was read", table.missing)));
    }
    if !table.sources.is_empty() {
        rows.push(("source", table.sources.join("; ")));
    }
    rows
}

/// The odds as rows of a table, hours first.
pub fn sheet(place: &PlaceSurvey) -> Sheet {
    let layered = place.by_hour.iter().chain(&place.by_day).any(|o| o.layers.is_some());
    let mut columns = vec![
        Column::new("by", "by", "", Align::Left),
        Column::new("month", "month", "", Align::Right),
        Column::new("day", "day", "", Align::Right),
        Column::new("local_solar_hour", "solar hour", "h", Align::Right),
        Column::new("sun_altitude_deg", "Sun, airless", "°", Align::Right),
        Column::new("cloud_fraction", "cloud", "", Align::Right),
        Column::new("clear_line_of_sight", "clear", "", Align::Right),
        Column::new("low_95", "from", "95 %", Align::Right),
        Column::new("high_95", "to", "95 %", Align::Right),
    ];
    if layered {
        for (key, title) in [("low_takes", "low"), ("middle_takes", "middle"), ("high_takes", "high")] {
            columns.push(Column::new(key, title, "takes", Align::Right));
        }
        columns.push(Column::new("clear_of_all_cloud", "no cloud", "at all", Align::Right));
    }
    let row = |by: &str, o: &Odds| {
        let mut cells = vec![
            Cell::text(by),
            Cell::Whole(i64::from(o.day.0)),
            Cell::Whole(i64::from(o.day.1)),
            Cell::number(o.solar_hour, 1),
            Cell::number(o.sun_altitude_deg, 1),
            Cell::number(o.cloud_fraction, 3),
            Cell::number(o.clear_line_of_sight, 3),
            Cell::number(o.low_95, 3),
            Cell::number(o.high_95, 3),
        ];
        if layered {
            cells.extend((0..3).map(|i| Cell::maybe(o.layers.map(|l| l.taken[i]), 3)));
            cells.push(Cell::maybe(o.layers.map(|l| l.strict), 3));
        }
        cells
    };
    let hours = place.by_hour.iter().map(|o| row("hour", o));
    Sheet { columns, rows: hours.chain(place.by_day.iter().map(|o| row("day", o))).collect() }
}

/// The page of text.
pub fn page(survey: &Survey, screen: Screen) -> String {
    let mut text = String::new();
    let table = survey.source.table();
    if table.invented {
        text += &format!("{}\n\n", noonfall_words::invented::ARCHIVE);
    }
    for (name, words) in facts(survey) {
        text += &screen.hanging(&format!("{name:<12} {}", noonfall_words::numbers::clean(&words, 400)), 13);
    }
    for note in &table.notes {
        text += &screen.hanging(&format!("{:<12} {}", "note", noonfall_words::numbers::clean(note, 400)), 13);
    }
    let Some(place) = &survey.place else { return text };
    let when = place.date.map_or("over the year".to_owned(), |d| format!("about {}", d.format("%-d %B")));
    let at = place_words(place.lat_deg, place.lon_deg);
    text += &format!("\nOdds of a clear line to the Sun at {at} {when}\n\n");
    match &place.answer {
        Ok(o) => {
            let sheet = sheet(place);
            if !sheet.rows.is_empty() {
                text += &screen.table(&sheet);
                text.push('\n');
            }
            for note in &o.notes {
                text += &screen.line(note);
            }
        }
        Err(gap) => {
            text += &screen.line(&format!("Unknown: {gap}."));
        }
    }
    text
}

/// The same as JSON.
pub fn json(survey: &Survey) -> String {
    let mut text = serde_json::to_string_pretty(&value(survey)).unwrap_or_default();
    text.push('\n');
    text
}

/// The same as JSON on one line.
pub fn json_line(survey: &Survey) -> String {
    format!("{}\n", value(survey))
}

fn value(survey: &Survey) -> Value {
    let table = survey.source.table();
    let h = &survey.holdings;
    let odds = |o: &Odds| {
        let mut value = json!({
            "month": o.day.0,
            "day": o.day.1,
            "local_solar_hour": number(o.solar_hour, 2),
            "sun_altitude_deg": number(o.sun_altitude_deg, 2),
            "cloud_fraction": number(o.cloud_fraction, 4),
            "clear_line_of_sight": number(o.clear_line_of_sight, 4),
            "low_95": number(o.low_95, 4),
            "high_95": number(o.high_95, 4),
        });
        if let (Some(l), Some(fields)) = (o.layers, value.as_object_mut()) {
            fields.insert("layers".into(), layers(&l));
        }
        value
    };
    json!({
        "file": table.file,
        "format": table.format,
        "variable": table.variable,
        "unit": table.unit.name(),
        "stated_unit": table.stated_unit,
        "kind": survey.source.kind().map(|k| k.name()),
        "kind_stated": survey.source.kind().is_some(),
        "kind_by": table.kind_by,
        "invented": table.invented,
        "figures": h.step.words(),
        "from": h.from.map(|d| d.to_string()),
        "to": h.to.map(|d| d.to_string()),
        "times": h.times,
        "years": h.years,
        "months": h.months,
        "hours_utc": h.hours_utc,
        "gaps": h.gaps,
        "grid": table.grid.map(|g| json!({
            "rows": g.rows, "columns": g.columns, "south_deg": number(g.lat0_deg, 5), "west_deg": number(g.lon0_deg, 5),
            "lat_step_deg": number(g.lat_step_deg, 6), "lon_step_deg": number(g.lon_step_deg, 6),
        })),
        "places": table.nodes.len(),
        "missing": table.missing,
        "sources": table.sources,
        "notes": table.notes,
        "near": survey.place.as_ref().map(|p| json!({
            "lat_deg": number(p.lat_deg, 6),
            "lon_deg": number(p.lon_deg, 6),
            "date": p.date.map(|d| d.to_string()),
            "by_hour": p.by_hour.iter().map(odds).collect::<Vec<_>>(),
            "by_day": p.by_day.iter().map(odds).collect::<Vec<_>>(),
            "unknown": p.answer.as_ref().err().map(ToString::to_string),
            "notes": p.answer.as_ref().map(|o| o.notes.clone()).unwrap_or_default(),
        })),
    })
}

/// What layers leave and take, as JSON.
pub fn layers(l: &noonfall_scoring::outlook::cloud_layers::LayeredChance) -> Value {
    json!({
        "low_takes": number(l.taken[0], 4),
        "middle_takes": number(l.taken[1], 4),
        "high_takes": number(l.taken[2], 4),
        "clear_of_all_cloud": number(l.strict, 4),
    })
}
