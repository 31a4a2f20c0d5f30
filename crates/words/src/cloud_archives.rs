//! What a cloud archive was understood to hold, and what odds are told of it.

use noonfall_scoring::input::clouds::{place_words, wrapped};
use noonfall_scoring::outlook::cloud_survey::{PlaceSurvey, Survey};
use noonfall_scoring::wording::month;

use crate::clouds::CLEAR_LINE;
use crate::numbers::clean;

/// What it holds: a name and its words each.
pub fn facts(survey: &Survey) -> Vec<(&'static str, String)> {
    let (table, h) = (survey.source.table(), &survey.holdings);
    let unit = if table.stated_unit.is_empty() { "not stated" } else { &table.stated_unit };
    let mut rows = vec![
        ("file", table.file.clone()),
        ("format", table.format.clone()),
        ("variable", table.variable.clone()),
        ("unit", format!("{unit}, read as {}", table.unit.name())),
        ("kind", kind(survey)),
        ("figures", h.step.words().to_owned()),
    ];
    rows.extend(h.from.zip(h.to).map(|(from, to)| ("span", format!("{from} to {to}, {} times", h.times))));
    rows.push(("years", years(&h.years)));
    let months: Vec<&str> = h.months.iter().filter_map(|m| month(*m).get(..3)).collect();
    rows.push(("months", if months.len() == 12 { "all".to_owned() } else { months.join(", ") }));
    if !h.hours_utc.is_empty() {
        rows.push(("hours (UTC)", h.hours_utc.iter().map(f64::to_string).collect::<Vec<_>>().join(", ")));
    }
    if let Some(g) = table.grid {
        let last_lat_deg = g.lat0_deg + g.lat_step_deg * (g.rows - 1) as f64;
        let last_lon_deg = wrapped(g.lon0_deg + g.lon_step_deg * (g.columns - 1) as f64);
        let (first, last) = (place_words(g.lat0_deg, g.lon0_deg), place_words(last_lat_deg, last_lon_deg));
        let steps = format!("{:.4}° by {:.4}°", g.lat_step_deg, g.lon_step_deg);
        rows.push(("grid", format!("{} × {} points, {steps}, from {first} to {last}", g.rows, g.columns)));
    } else if !table.nodes.is_empty() {
        let names: Vec<&str> = table.nodes.iter().take(5).filter_map(|n| n.name.as_deref()).collect();
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
    rows.extend(table.notes.iter().map(|note| ("note", note.clone())));
    rows.into_iter().map(|(name, words)| (name, clean(&words, 400))).collect()
}

fn kind(survey: &Survey) -> String {
    let table = survey.source.table();
    let by = table.kind.map_or("as told with --kind".to_owned(), |_| format!("by {}", table.kind_by));
    match survey.source.kind().map(|k| k.name()) {
        Some("observed") => format!("observed: seen from the ground ({by})"),
        Some(_) => format!("grid: seen from above ({by})"),
        None => {
            "not stated: which is it? Name it with --kind observed (from the ground) or --kind grid (from above)".into()
        }
    }
}

fn years(years: &[i32]) -> String {
    match years {
        [] => "not told".to_owned(),
        [one] => one.to_string(),
        [first, .., last] if years.len() as i32 == last - first + 1 => {
            format!("{first} to {last} ({} years)", years.len())
        }
        [first, .., last] => format!("{} of {first} to {last}", years.len()),
    }
}

/// Over the odds.
pub fn odds(place: &PlaceSurvey) -> String {
    let at = place_words(place.lat_deg, place.lon_deg);
    format!("Odds of a clear line to the Sun at {at} {}", when(place, "over the year"))
}

/// Over their chart.
pub fn chart(place: &PlaceSurvey) -> String {
    format!("{CLEAR_LINE} at {}, {}", place_words(place.lat_deg, place.lon_deg), when(place, "by month"))
}

fn when(place: &PlaceSurvey, without_date: &str) -> String {
    place.date.map_or(without_date.to_owned(), |d| d.format("about %-d %B").to_string())
}

/// Under them: what is to be said of the answer, or why there is none.
pub fn answer(place: &PlaceSurvey) -> Vec<String> {
    place.answer.as_ref().map_or_else(|gap| vec![format!("Unknown: {gap}.")], |o| o.notes.clone())
}
