//! The report page: one HTML file that works from disk, without a connection.
//!
//! [`report_html`] writes it from a [`ReportModel`]. What is plain text and table is written here, so that the page can
//! be read where scripts do not run; the rest (re-ranking, tapping the map, the site's charts, the countdown) is done by
//! the scripts under `assets/report/`, which read the same model, embedded in the page (`packed.rs`).

mod edge_entry;
mod from_ranking;
mod ground_entry;
mod model;
mod packed;
mod page;
mod unprojection;

pub use edge_entry::EdgeEntry;
pub use from_ranking::{ReportInput, report_model};
pub use ground_entry::GroundEntry;
pub use model::{
    CloudOdds, ContactEntry, Criterion, EclipseFacts, EdgePicture, Elements, EyeWindow, Fact, Fallback, Instant,
    MapDrawing, PlanText, ReportModel, Required, SiteDetail, SiteEntry, SkyEntry, SkylineEntry, TimelineEntry,
    TownMark, Unprojection, Way,
};
pub use page::{ReportError, report_html};
