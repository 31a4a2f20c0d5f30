//! The ranked table, for a terminal and as `ranking.csv`.

use crate::csv;
use crate::table::{Align, Cell, Column, Sheet};
use noonfall_scoring::rank::{Method, RankedSite, Ranking};
use noonfall_words::WindowFacts;
use noonfall_words::numbers::local_clock;
use std::io::{self, Write};

/// The file of the report folder that holds the table.
pub const RANKING_CSV: &str = "ranking.csv";

/// What only places found by the search carry: how steep the ground is there, and the road they keep near to.
fn found(ranking: &Ranking) -> Vec<&'static str> {
    ["slope_deg", "road_km", "road"]
        .into_iter()
        .filter(|name| ranking.sites.iter().any(|s| s.found_by_search && s.columns.contains_key(*name)))
        .collect()
}

/// Writes the table as CSV, row by row.
///
/// # Errors
/// What the writer says.
pub fn write_table(ranking: &Ranking, mut out: impl Write) -> io::Result<()> {
    let found = found(ranking);
    let head: Vec<Cell> = columns(&ranking.method, &found).into_iter().map(|column| Cell::Text(column.key)).collect();
    let mut line = Vec::new();
    for row in std::iter::once(head).chain(ranking.sites.iter().map(|site| row(&ranking.method, &found, site))) {
        csv::cells(&row, &mut line);
        line.extend_from_slice(csv::LINE_END);
        out.write_all(&line)?;
        line.clear();
    }
    Ok(())
}

/// One row for each site, ranked ones first, rejected ones with their reasons.
pub fn sheet(ranking: &Ranking) -> Sheet {
    let found = found(ranking);
    let rows = ranking.sites.iter().map(|site| row(&ranking.method, &found, site)).collect();
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
pub(super) fn row(method: &Method, found: &[&str], s: &RankedSite) -> Vec<Cell> {
    let zone = s.tz.unwrap_or(chrono_tz::UTC);
    let window = WindowFacts::of(&s.decision);
    let clock = |end: fn(&WindowFacts) -> chrono::DateTime<chrono::Utc>| {
        Cell::maybe_text(window.as_ref().ok().map(|w| local_clock(end(w), zone)))
    };
    let utc = |contact: Option<noonfall_shadow::Contact>| Cell::maybe_text(contact.map(|c| crate::values::utc(c.tt)));
    let mut row = vec![
        Cell::maybe(s.rank.map(|r| r as f64), 0),
        Cell::text(s.name.clone()),
        Cell::number(s.lat_deg, 5),
        Cell::number(s.lon_deg, 5),
        Cell::number(s.elevation_m, 0),
        Cell::maybe_text(s.zone.clone()),
        Cell::maybe(s.score, 3),
        Cell::number(s.totality_s, 1),
        Cell::number(s.sun_altitude_deg, 1),
        Cell::maybe(s.sun_apparent_altitude_deg(), 1),
        Cell::number(s.sun_azimuth_deg, 1),
        Cell::maybe(s.clear_sky_probability, 2),
        Cell::maybe(s.expected_clear_totality_s, 1),
        Cell::maybe(s.horizon_margin_deg, 2),
        Cell::maybe_text(s.rank_low.zip(s.rank_high).map(|(low, high)| format!("{low} to {high}"))),
        Cell::maybe(s.chance_first, 3),
        Cell::maybe(s.chance_top_three, 3),
        utc(s.shown().c1),
        Cell::maybe_text(s.shown().c2.map(|c| local_clock(c.tt.to_utc(), zone))),
        utc(s.shown().c2),
        utc(s.shown().c3),
        utc(s.shown().c4),
        Cell::maybe_text(s.moon_edge.as_ref().map(|edge| edge.edge.to_owned())),
        Cell::maybe_text(s.moon_edge.as_ref().map(|edge| edge.source.clone())),
        clock(|w| w.off_utc),
        clock(|w| w.on_utc),
        Cell::maybe_text(window.as_ref().err().cloned()),
        Cell::maybe_text(s.fallback.as_ref().map(|f| noonfall_words::drives::in_table(&f.name, f.drive_hours))),
        Cell::maybe_text(s.rejected.as_ref().map(|reasons| reasons.join("; "))),
    ];
    row.extend(method.criteria.iter().map(|term| Cell::maybe(s.criterion(&term.name).and_then(|c| c.utility), 3)));
    row.extend(found.iter().map(|name| {
        let value = s.columns.get(*name).filter(|_| s.found_by_search);
        match value.and_then(|v| v.as_f64()) {
            Some(number) => Cell::number(number, if *name == "road_km" { 2 } else { 1 }),
            None => Cell::maybe_text(value.and_then(|v| v.as_str()).map(str::to_owned)),
        }
    }));
    row
}
