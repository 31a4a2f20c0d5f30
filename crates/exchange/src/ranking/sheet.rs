//! The ranked table, for a terminal and as `ranking.csv`.

use crate::csv;
use crate::table::{Align, Cell, Column, Sheet};
use noonfall_scoring::assess::Assessed;
use noonfall_scoring::outlook::totality::TotalityRules;
use noonfall_scoring::place::Place;
use noonfall_scoring::rank::{Method, RankedSite, Ranking};
use noonfall_scoring::trip::Outcome;
use noonfall_words::WindowFacts;
use noonfall_words::numbers::local_clock;
use std::io::{self, Write};

/// The file of the report folder that holds the table.
pub const RANKING_CSV: &str = "ranking.csv";

/// What only places found by the search carry: how steep the ground is there, and the road they keep near to.
fn found(ranking: &Ranking) -> Vec<&'static str> {
    ["slope_deg", "road_km", "road"]
        .into_iter()
        .filter(|name| ranking.sites.iter().any(|s| cell(&s.found.place, name).is_some()))
        .collect()
}

/// Writes the table as CSV, row by row.
///
/// # Errors
/// What the writer says.
pub fn write_table(outcome: &Outcome, mut out: impl Write) -> io::Result<()> {
    let (ranking, rules) = (&outcome.ranking, &outcome.rules);
    let found = found(ranking);
    let head: Vec<Cell> = columns(&ranking.method, &found).into_iter().map(|column| Cell::Text(column.key)).collect();
    let mut line = Vec::new();
    for row in std::iter::once(head).chain(ranking.sites.iter().map(|site| row(rules, &found, site))) {
        csv::cells(&row, &mut line);
        line.extend_from_slice(csv::LINE_END);
        out.write_all(&line)?;
        line.clear();
    }
    Ok(())
}

/// One row for each site, ranked ones first, rejected ones with their reasons.
pub fn sheet(outcome: &Outcome) -> Sheet {
    let (ranking, rules) = (&outcome.ranking, &outcome.rules);
    let found = found(ranking);
    let rows = ranking.sites.iter().map(|site| row(rules, &found, site)).collect();
    Sheet { columns: columns(&ranking.method, &found), rows }
}

/// The columns, with those of places that were found by the search.
pub(super) fn columns(method: &Method, found: &[&str]) -> Vec<Column> {
    let mut columns = vec![
        Column::new("rank", "rank", "", Align::Right),
        Column::new("name", "site", "", Align::Left),
        Column::for_files("lat_deg"),
        Column::for_files("lon_deg"),
        Column::for_files("elevation_m"),
        Column::for_files("zone"),
        Column::new("score", "score", "", Align::Right),
        Column::new("totality_s", "totality", "s", Align::Right),
        Column::for_files("sun_altitude_deg"),
        Column::new("sun_apparent_altitude_deg", "Sun's alt.", "°", Align::Right),
        Column::for_files("sun_azimuth_deg"),
        Column::new("clear_sky_probability", "clear sky", "", Align::Right),
        Column::new("expected_clear_totality_s", "clear totality", "s", Align::Right),
        Column::new("horizon_margin_deg", "skyline margin", "°", Align::Right),
        Column::new("rank_interval", "rank interval", "", Align::Left),
        Column::for_files("chance_first"),
        Column::for_files("chance_top_three"),
        Column::for_files("c1_utc"),
        Column::new("c2_local", "C2 by local clock", "", Align::Left),
        Column::for_files("c2_utc"),
        Column::for_files("c3_utc"),
        Column::for_files("c4_utc"),
        Column::for_files("edge"),
        Column::for_files("edge_source"),
        Column::new("filter_off_local", "filter OFF", "", Align::Left),
        Column::new("filter_on_local", "filter ON", "", Align::Left),
        Column::for_files("no_window"),
        Column::new("fallback", "fallback", "", Align::Left),
        Column::new("rejected", "rejected", "", Align::Left),
    ];
    columns.extend(method.criteria.iter().map(|term| Column::for_files(&format!("utility_{}", term.name))));
    columns.extend(found.iter().map(|name| Column::for_files(name)));
    columns
}

/// The row of a site, its rank in front.
pub(super) fn row(rules: &TotalityRules, columns: &[&str], s: &RankedSite) -> Vec<Cell> {
    let Assessed { place, totality, decision, rejected, .. } = &s.found;
    let (told, local, zone) = (s.figures(), s.found.local(), place.clock_zone());
    let window = WindowFacts::of(decision);
    let edge = |word: &str| Cell::maybe_text(totality.inside().then(|| word.to_owned()));
    let clock = |end: fn(&WindowFacts) -> chrono::DateTime<chrono::Utc>| {
        Cell::maybe_text(window.as_ref().ok().map(|w| local_clock(end(w), zone)))
    };
    let utc = |contact: Option<noonfall_shadow::Contact>| Cell::maybe_text(contact.map(|c| crate::values::utc(c.tt)));
    let mut row = vec![
        Cell::maybe(s.rank.map(|r| r as f64), 0),
        Cell::text(place.name.clone()),
        Cell::number(told.lat_deg, 5),
        Cell::number(told.lon_deg, 5),
        Cell::number(told.elevation_m, 0),
        Cell::maybe_text(place.zone.map(|zone| zone.name().to_owned())),
        Cell::maybe(told.score, 3),
        Cell::number(told.numbers.totality_s, 1),
        Cell::number(told.numbers.sun_altitude_deg, 1),
        Cell::maybe(s.found.sun_apparent_altitude_deg(), 1),
        Cell::number(told.sun_azimuth_deg, 1),
        Cell::maybe(told.numbers.clear_sky, 2),
        Cell::maybe(told.expected_clear_totality_s, 1),
        Cell::maybe(told.numbers.horizon_margin_deg, 2),
        Cell::maybe_text(s.rank_interval.map(|[low, high]| format!("{low} to {high}"))),
        Cell::maybe(s.chance_first, 3),
        Cell::maybe(s.chance_top_three, 3),
        utc(local.c1),
        Cell::maybe_text(local.c2.map(|c| local_clock(c.tt.to_utc(), zone))),
        utc(local.c2),
        utc(local.c3),
        utc(local.c4),
        edge(rules.edge_shown().word()),
        edge(rules.heights().source()),
        clock(|w| w.off_utc),
        clock(|w| w.on_utc),
        Cell::maybe_text(window.as_ref().err().cloned()),
        Cell::maybe_text(s.fallback.as_ref().map(|f| noonfall_words::drives::in_table(&f.name, f.drive_hours))),
        Cell::maybe_text((!rejected.is_empty()).then(|| rejected.join("; "))),
    ];
    row.extend(s.criteria.iter().map(|c| Cell::maybe(c.told().utility, 3)));
    row.extend(columns.iter().map(|name| cell(place, name).unwrap_or(Cell::Empty)));
    row
}

/// What a place that was found by the search has in a column.
fn cell(place: &Place, name: &str) -> Option<Cell> {
    let number = place.columns.get(name).map(|&x| Cell::number(x, if name == "road_km" { 2 } else { 1 }));
    number.or_else(|| place.texts.get(name).cloned().map(Cell::text)).filter(|_| place.found_by_search)
}
