//! What a brief is made from: plain numbers and names, before any wording.
//!
//! Kept apart from the scoring crate's types so that the wording and the page can be tested with extreme input; `noonfall_render::publish` fills
//! these from a ranking.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use noonfall_scoring::rank::DeltaTNote;

use crate::clouds::CloudFacts;
use crate::contacts::ContactFacts;
use crate::drives::{FallbackFacts, WayFacts};
use crate::skyline::SkylineFacts;
use crate::{Seen, WindowFacts};

/// Something to watch for.
#[derive(Clone, Debug, PartialEq)]
pub struct WatchFacts {
    /// When.
    pub utc: DateTime<Utc>,
    /// What happens and where to look, one short sentence.
    pub what: String,
    /// How much it matters when there is no room for all: 0 stays always, higher numbers go first.
    pub priority: u8,
}

/// The sign to lower binoculars: the red rim on the side where the Sun comes back, in the timeline's words.
#[derive(Clone, Debug, PartialEq)]
pub struct LookAwayFacts {
    /// When.
    pub utc: DateTime<Utc>,
    /// What to look for and what to do.
    pub words: String,
}

/// Everything one brief is made from.
#[derive(Clone, Debug, PartialEq)]
pub struct BriefFacts {
    /// UTC date of greatest eclipse.
    pub eclipse_date: NaiveDate,
    /// Kind of the eclipse as a whole: total, annular, hybrid, partial.
    pub eclipse_kind: String,
    /// The site's name, as the user wrote it.
    pub name: String,
    /// Latitude, degrees, north-positive.
    pub lat_deg: f64,
    /// Longitude, degrees, east-positive.
    pub lon_deg: f64,
    /// Height above the ellipsoid, metres, where known.
    pub elevation_m: Option<f64>,
    /// Local civil time.
    pub zone: Tz,
    /// Rank and number of ranked sites.
    pub rank: Option<(usize, usize)>,
    /// What is seen here.
    pub seen: Seen,
    /// First contact.
    pub c1: Option<ContactFacts>,
    /// Second contact.
    pub c2: Option<ContactFacts>,
    /// Local maximum.
    pub max: Option<ContactFacts>,
    /// Third contact.
    pub c3: Option<ContactFacts>,
    /// Fourth contact.
    pub c4: Option<ContactFacts>,
    /// Duration of totality or annularity, seconds; 0 when there is none.
    pub duration_s: f64,
    /// Fraction of the Sun's area covered at maximum.
    pub obscuration: f64,
    /// The unaided-eye window, or why there is none; must be none unless `seen` is total.
    pub window: Result<WindowFacts, String>,
    /// Why the ranking rejects the place; empty when it does not.
    pub rejected: Vec<String>,
    /// Which edge of the Moon second and third contact belong to, and what is left uncertain, in words.
    pub edge_words: String,
    /// The skyline, where terrain or a surveyed horizon was given.
    pub skyline: Option<SkylineFacts>,
    /// What to watch for: the timeline's lines.
    pub watch: Vec<WatchFacts>,
    /// The look-away sign.
    pub look_away: Option<LookAwayFacts>,
    /// Odds of a clear sky.
    pub cloud: Option<CloudFacts>,
    /// Where to flee.
    pub fallback: Option<FallbackFacts>,
    /// The way from the base, where the plan names one.
    pub way: Option<WayFacts>,
    /// What is said where the plan names a base and no drive leads here from it, a sentence.
    pub no_way: Option<String>,
    /// Regional map, an SVG document.
    pub map_svg: Option<String>,
    /// How near the line beyond which the Moon's measured edge leaves no totality, where that is near: a sentence.
    pub near_limit: Option<String>,
    /// Sky in totality with the zenith up, an SVG document.
    pub sky_svg: Option<String>,
    /// The Moon's edge at the last and the first light, low and wide, an SVG document.
    pub edge_svg: Option<String>,
    /// The same in words.
    pub edge_says: String,
    /// ΔT as used.
    pub delta_t: DeltaTNote,
    /// Whether UTC lies past the end of the leap-second table.
    pub utc_is_predicted: bool,
    /// Credits of the data used.
    pub credits: Vec<String>,
    /// Whether any input was invented for a demonstration.
    pub invented: bool,
    /// Version of the program, plan hash and the like, for the foot.
    pub made_by: String,
}
