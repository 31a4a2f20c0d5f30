//! What other programs get, from a ranking: its sites for the map formats, and the ranked table.

mod json;
mod lines;
mod sheet;
mod wire;

use crate::{ExportHead, ExportSite};
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::rank::RankedSite;
use noonfall_scoring::trip::Outcome;
use noonfall_words::edge;

pub use json::{RANKING_JSON, write_ranking, write_sites};
pub use lines::CsvLines;
pub use sheet::{RANKING_CSV, sheet, write_table};

/// The head of every file.
pub fn head(outcome: &Outcome) -> ExportHead {
    let ranking = &outcome.ranking;
    ExportHead {
        credits: ranking.provenance.credits.clone(),
        invented: ranking.provenance.invented,
        edge: edge::contacts_at(outcome.rules.edge_shown(), outcome.rules.heights().source()),
        ..ExportHead::of(&outcome.eclipse)
    }
}

/// One site.
pub fn site(site: &RankedSite, offer: Option<&Offer>) -> ExportSite {
    let told = site.figures();
    ExportSite {
        rank: site.rank,
        lat_deg: told.lat_deg,
        lon_deg: told.lon_deg,
        elevation_m: Some(told.elevation_m),
        score: told.score,
        clear_sky_probability: told.numbers.clear_sky,
        rejected: site.found.rejected.clone(),
        ..ExportSite::of(&site.found, offer)
    }
}
