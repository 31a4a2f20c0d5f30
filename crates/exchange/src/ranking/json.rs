//! The ranking as JSON, written as it is put into words: with ten thousands of places it is a hundred megabytes.

use noonfall_scoring::rank::Ranking;
use std::io::{self, Write};

/// The file of the report folder that holds the whole ranking.
pub const RANKING_JSON: &str = "ranking.json";

/// Writes a ranking as it stands in [`RANKING_JSON`].
///
/// # Errors
/// What the writer says.
pub fn write_ranking(ranking: &Ranking, mut out: impl Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut out, ranking)?;
    out.write_all(b"\n")
}

/// Writes its sites, one on a line.
///
/// # Errors
/// What the writer says.
pub fn write_sites(ranking: &Ranking, mut out: impl Write) -> io::Result<()> {
    for site in &ranking.sites {
        serde_json::to_writer(&mut out, site)?;
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
        let ranking = trip::run(&plan, &trip::Options::default(), &Silent).unwrap().ranking;
        let value = serde_json::to_value(&ranking).unwrap();
        let mut written = Vec::new();
        write_ranking(&ranking, &mut written).unwrap();
        assert_eq!(String::from_utf8(written).unwrap(), format!("{}\n", serde_json::to_string_pretty(&value).unwrap()));
        let mut table = Vec::new();
        crate::ranking::write_table(&ranking, &mut table).unwrap();
        assert_eq!(String::from_utf8(table).unwrap(), crate::csv::write(&crate::ranking::sheet(&ranking)).unwrap());
        let mut lines = Vec::new();
        write_sites(&ranking, &mut lines).unwrap();
        let lines = String::from_utf8(lines).unwrap();
        assert_eq!(lines.lines().count(), ranking.sites.len());
        for (line, site) in lines.lines().zip(value["sites"].as_array().unwrap()) {
            assert_eq!(line, site.to_string());
        }
    }
}
