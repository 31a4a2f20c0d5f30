//! The one-page brief that a leader hands out: what it is made from, what it says, how it is set, and in which formats.
//!
//! Read in this order: `facts` (numbers in), `model` (numbers into words, with [`noonfall_words::numbers`]), `layout`, `filters` and `drawings` (where the
//! words stand), `fit` (the page is kept to one), then the outputs; what a page is made of is in [`noonfall_drawing::page`].

mod drawings;
mod facts;
mod filters;
mod fit;
mod layout;
mod model;
mod pdf;
mod png;
mod svg;

pub use facts::{
    BriefFacts, CloudFacts, ContactFacts, DeltaTFacts, FallbackFacts, LookAwayFacts, SkylineFacts, WatchFacts, WayFacts,
};
pub use fit::Paper;
pub use model::{
    BriefModel, ContactLine, Filters, Headline, LimbMark, NAME_MOST, Picture, Place, SunStand, WATCH_MOST,
    WATCH_MOST_WITHOUT, WatchLine,
};
pub use pdf::brief_pdf;
pub use png::brief_png;
pub use svg::brief_svg;

pub use noonfall_drawing::page::TypesetError;
