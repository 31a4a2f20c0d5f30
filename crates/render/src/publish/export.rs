//! What other programs get, from a ranking.

use crate::exchange::{ExportContact, ExportHead, ExportLine, ExportPath, ExportSite};
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::outlook::timeline::{Happening, TimelineEntry};
use noonfall_scoring::rank::RankedSite;
use noonfall_scoring::trip::Outcome;
use noonfall_shadow::Path;
use noonfall_words::{Seen, WindowFacts, edge};

/// The head of every file.
pub(super) fn head(outcome: &Outcome) -> ExportHead {
    let ranking = &outcome.ranking;
    ExportHead {
        credits: ranking.provenance.credits.clone(),
        invented: ranking.provenance.invented,
        edge: edge::contacts_at(outcome.rules.edge_shown(), outcome.rules.heights().source()),
        ..ExportHead::of(&outcome.eclipse)
    }
}

/// The path.
pub(super) fn path(path: &Path) -> ExportPath {
    ExportPath::of(path)
}

/// The lines of a timeline that a calendar has events for, with their marks.
pub(crate) fn calendar_lines(timeline: &[TimelineEntry]) -> Vec<ExportLine> {
    let mark = |happening: Happening| match happening {
        Happening::FirstContact => Some("C1"),
        Happening::SecondContact => Some("C2"),
        Happening::FilterOff => Some("OFF"),
        Happening::Maximum => Some("max"),
        Happening::FilterOn => Some("ON"),
        Happening::ThirdContact => Some("C3"),
        Happening::FourthContact => Some("C4"),
        _ => None,
    };
    let line = |entry: &TimelineEntry| {
        Some(ExportLine {
            mark: mark(entry.happening)?,
            utc: entry.instant.to_utc(),
            title: entry.title.clone(),
            detail: entry.detail.clone(),
        })
    };
    timeline.iter().filter_map(line).collect()
}

/// One site.
pub(super) fn site(site: &RankedSite, offer: Option<&Offer>) -> ExportSite {
    let local = &site.local;
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
        window: WindowFacts::at(site),
        lines: offer.map(|o| calendar_lines(&o.timeline)).unwrap_or_default(),
    }
}
