//! The ranking as JSON, written as it is put into words: with ten thousands of places it is a hundred megabytes.

use super::wire::{Site, Whole};
use noonfall_scoring::trip::Outcome;
use std::io::{self, Write};

/// The file of the report folder that holds the whole ranking.
pub const RANKING_JSON: &str = "ranking.json";

/// Writes a ranking as it stands in [`RANKING_JSON`].
///
/// # Errors
/// What the writer says.
pub fn write_ranking(outcome: &Outcome, mut out: impl Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut out, &Whole(outcome))?;
    out.write_all(b"\n")
}

/// Writes its sites, one on a line.
///
/// # Errors
/// What the writer says.
pub fn write_sites(outcome: &Outcome, mut out: impl Write) -> io::Result<()> {
    for site in &outcome.ranking.sites {
        serde_json::to_writer(&mut out, &Site { outcome, site })?;
        out.write_all(b"\n")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_scoring::progress::Silent;
    use noonfall_scoring::trip;
    use std::path::Path;

    /// Written piece by piece it is what it is when built in memory first, by the same library's plain way.
    #[test]
    fn piece_by_piece_is_as_in_one() {
        let plan = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/demo/plan.toml");
        let outcome = trip::run(&plan, &trip::Options::default(), &Silent).unwrap();
        let value = serde_json::to_value(Whole(&outcome)).unwrap();
        let mut written = Vec::new();
        write_ranking(&outcome, &mut written).unwrap();
        assert_eq!(String::from_utf8(written).unwrap(), format!("{}\n", serde_json::to_string_pretty(&value).unwrap()));
        let mut table = Vec::new();
        crate::ranking::write_table(&outcome, &mut table).unwrap();
        assert_eq!(String::from_utf8(table).unwrap(), crate::csv::write(&crate::ranking::sheet(&outcome)).unwrap());
        let mut lines = Vec::new();
        write_sites(&outcome, &mut lines).unwrap();
        let lines = String::from_utf8(lines).unwrap();
        assert_eq!(lines.lines().count(), outcome.ranking.sites.len());
        for (line, site) in lines.lines().zip(value["sites"].as_array().unwrap()) {
            assert_eq!(line, site.to_string());
        }
        let site = value["sites"][0].as_object().unwrap();
        let contract = "rank name lat_deg lon_deg elevation_m zone score criteria totality_s sun_altitude_deg sun_azimuth_deg \
            clear_sky_probability expected_clear_totality_s horizon_margin_deg rejected rank_low rank_high fallback";
        for key in contract.split_whitespace() {
            assert!(site.contains_key(key), "{key}");
        }
        let mut clocks =
            value["sites"].as_array().unwrap().iter().filter_map(|s| s["contacts"]["C2"]["local"].as_str());
        assert!(clocks.any(|local| local.ends_with("+10:00")));
    }
}
