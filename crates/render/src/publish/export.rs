//! What other programs get, from a ranking.

use crate::brief::{Seen, WindowFacts};
use crate::exchange::{ExportContact, ExportHead, ExportPath, ExportSite};
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::rank::RankedSite;
use noonfall_scoring::run::Outcome;
use noonfall_shadow::{LocalCircumstances, Path, Phase};

/// The head of every file.
pub(super) fn head(outcome: &Outcome) -> ExportHead {
    let ranking = &outcome.ranking;
    ExportHead {
        credits: ranking.provenance.credits.clone(),
        invented: ranking.provenance.invented,
        ..ExportHead::of(&outcome.eclipse)
    }
}

/// The path.
pub(super) fn path(path: &Path) -> ExportPath {
    ExportPath::of(path)
}

/// What is seen at a place.
pub(crate) fn seen(local: &LocalCircumstances) -> Seen {
    match local.phase {
        Phase::Total => Seen::Total,
        Phase::Annular => Seen::Annular,
        Phase::Partial => Seen::Partial,
        Phase::None => Seen::Nothing,
    }
}

/// The window for unaided eyes, `None` unless the place is inside the path.
pub(super) fn window(offer: Option<&Offer>) -> Option<WindowFacts> {
    let filters = offer?.filters.as_ref()?;
    Some(WindowFacts { off_utc: filters.off_tt.to_utc(), on_utc: filters.on_tt.to_utc(), margin_s: filters.margin_s })
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
        seen: seen(local),
        totality_s: site.totality_s,
        clear_sky_probability: site.clear_sky_probability,
        rejected: site.rejected.clone().unwrap_or_default(),
        contacts: ExportContact::all(local),
        window: window(offer),
    }
}
