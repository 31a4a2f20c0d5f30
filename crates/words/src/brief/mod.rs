//! What the one-page brief says: numbers in (`facts`), words out (`model`, made by `wording`), and the page's own `headings`. How it is set is another crate's.

mod facts;
pub mod headings;
mod model;
mod wording;

pub use facts::{BriefFacts, LookAwayFacts, WatchFacts};
pub use model::{
    BriefModel, ContactLine, Filters, Headline, LimbMark, NAME_MOST, Picture, Place, SunStand, WATCH_MOST,
    WATCH_MOST_WITHOUT, WatchLine,
};

pub use crate::clouds::CloudFacts;
pub use crate::contacts::ContactFacts;
pub use crate::drives::{FallbackFacts, WayFacts};
pub use crate::skyline::SkylineFacts;
