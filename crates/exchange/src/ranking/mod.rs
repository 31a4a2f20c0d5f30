//! What other programs get, from a ranking: its sites for the map formats, and the ranked table.

mod json;
mod lines;
mod sheet;

use crate::{ExportContact, ExportHead, ExportLine, ExportSite};
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::rank::RankedSite;
use noonfall_scoring::trip::Outcome;
use noonfall_words::{Seen, WindowFacts, edge};

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
    let local = site.shown();
    ExportSite {
        rank: site.rank,
        name: site.name.clone(),
        lat_deg: site.lat_deg,
        lon_deg: site.lon_deg,
        elevation_m: Some(site.elevation_m),
        zone: site.tz.unwrap_or(chrono_tz::UTC),
        score: site.score,
        seen: Seen::of(local),
        totality_s: site.totality_s,
        clear_sky_probability: site.clear_sky_probability,
        rejected: site.rejected.clone().unwrap_or_default(),
        contacts: ExportContact::all(local),
        window: WindowFacts::of(&site.decision),
        lines: offer.map(|o| ExportLine::all(&o.timeline)).unwrap_or_default(),
    }
}
