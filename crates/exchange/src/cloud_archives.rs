//! What a cloud archive was understood to hold, and the odds it gives: as a page of text, a table and JSON.

use noonfall_scoring::outlook::cloud_survey::{Odds, PlaceSurvey, Survey};
use noonfall_words::cloud_archives as words;
use serde_json::{Value, json};

use crate::json::to_text;
use crate::table::{Align, Cell, Column, Sheet};
use crate::terminal::Screen;
use crate::values::number;

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
    if survey.source.table().invented {
        text += &format!("{}\n\n", noonfall_words::invented::ARCHIVE);
    }
    for (name, words) in words::facts(survey) {
        text += &screen.hanging(&format!("{name:<12} {words}"), 13);
    }
    let Some(place) = &survey.place else { return text };
    text += &format!("\n{}\n\n", words::odds(place));
    let sheet = sheet(place);
    if place.answer.is_ok() && !sheet.rows.is_empty() {
        text += &screen.table(&sheet);
        text.push('\n');
    }
    text.extend(words::answer(place).iter().map(|line| screen.line(line)));
    text
}

/// The same as JSON: `pretty` for a person or a file, else on one line.
pub fn json(survey: &Survey, pretty: bool) -> String {
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
    let document = json!({
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
    });
    to_text(&document, pretty)
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
