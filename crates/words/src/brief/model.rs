//! Everything a brief's page says, worded and formatted, in typed fields.
//!
//! Who sets the page only places these and words nothing, so what is said can be tested without typesetting. Two rules are kept
//! here by construction: a filter-OFF window exists only where the engine decided one inside the path of totality, and every text is cut
//! to a length that the page can hold.

use chrono::NaiveDate;

/// The most characters kept of a name.
pub const NAME_MOST: usize = 96;
/// The most things to watch for that are printed.
pub const WATCH_MOST: usize = 10;
/// The same on a page that has neither clouds nor a fallback to speak of.
pub const WATCH_MOST_WITHOUT: usize = 13;

/// One page, ready to be placed.
#[derive(Clone, Debug, PartialEq)]
pub struct BriefModel {
    /// Language of the words, BCP 47.
    pub language: String,
    /// Title of the document: eclipse and place.
    pub title: String,
    /// Date written into the document's metadata (that of the eclipse, so that the same input gives the same bytes).
    pub document_date: NaiveDate,
    /// The eclipse: `Total solar eclipse`.
    pub eclipse: String,
    /// Local date with the weekday.
    pub day: String,
    /// The place.
    pub place: Place,
    /// The four or five facts in large type.
    pub headline: Vec<Headline>,
    /// Why the ranking rejects the place: then the page is headed by that.
    pub rejected: Option<String>,
    /// Filter ON and OFF.
    pub filters: Filters,
    /// Contacts, in order.
    pub contacts: Vec<ContactLine>,
    /// Heading of the local-time column.
    pub local_heading: String,
    /// Heading of the UTC column.
    pub utc_heading: String,
    /// Where the Sun stands.
    pub sun: Option<SunStand>,
    /// What to watch for, in order of time.
    pub watch: Vec<WatchLine>,
    /// Marks on the Sun's limb.
    pub limb: Vec<LimbMark>,
    /// The look-away sign, a full sentence.
    pub look_away: Option<String>,
    /// Odds of a clear sky; empty where no cloud data were given.
    pub odds: Vec<String>,
    /// Where to flee, and the way from the base; empty where neither is known.
    pub fallback: Vec<String>,
    /// What to do about a missing figure of the two above; empty where both are known.
    pub still_open: Vec<String>,
    /// What to bring.
    pub bring: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Regional map.
    pub map: Option<Picture>,
    /// Sky in totality.
    pub sky: Option<Picture>,
    /// The Moon's edge at the last and the first light; stands on the page where there is room.
    pub edge: Option<Picture>,
    /// Small print: ΔT, the true limb, credits.
    pub foot: Vec<String>,
    /// A banner where any input is invented.
    pub invented: Option<String>,
}

/// Where the page is about.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Name, cut to [`NAME_MOST`] characters.
    pub name: String,
    /// Coordinates and height.
    pub coordinates: String,
    /// The clock used: zone name, letters, offset.
    pub clock: String,
    /// `Rank 1 of 16`.
    pub rank: Option<String>,
}

/// One fact in large type.
#[derive(Clone, Debug, PartialEq)]
pub struct Headline {
    /// What it is.
    pub label: String,
    /// The fact.
    pub value: String,
    /// A line under it.
    pub note: String,
}

/// Filter ON and OFF.
#[derive(Clone, Debug, PartialEq)]
pub enum Filters {
    /// There is a window for unaided eyes.
    Window {
        /// First moment without a filter, local clock, rounded later.
        off: String,
        /// Filter back on, local clock, rounded earlier.
        on: String,
        /// How long.
        length: String,
        /// Which margins were kept.
        margin: String,
        /// First contact, local clock, if seen.
        from: String,
        /// Last contact, local clock, if seen.
        to: String,
    },
    /// Filters stay on throughout.
    AlwaysOn {
        /// Why.
        reason: String,
        /// First contact, local clock.
        from: String,
        /// Last contact, local clock.
        to: String,
    },
}

/// One row of the contact table.
#[derive(Clone, Debug, PartialEq)]
pub struct ContactLine {
    /// `C1` … `C4`, `max`.
    pub label: String,
    /// What it means.
    pub meaning: String,
    /// Local clock.
    pub local: String,
    /// UTC.
    pub utc: String,
    /// Height of the Sun, or a word when it is down.
    pub height: String,
    /// Direction of the Sun.
    pub direction: String,
}

/// Where the Sun stands at maximum, for the words and for the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct SunStand {
    /// Azimuth, degrees.
    pub azimuth_deg: f64,
    /// Apparent altitude, degrees.
    pub altitude_deg: f64,
    /// Altitude of the skyline under the Sun, degrees, where known.
    pub skyline_deg: Option<f64>,
    /// `west-north-west, 292° true`.
    pub direction: String,
    /// `9° up: 1 fist at arm's length`.
    pub height: String,
    /// What the skyline does.
    pub skyline: String,
}

/// One thing to watch for.
#[derive(Clone, Debug, PartialEq)]
pub struct WatchLine {
    /// Local clock.
    pub time: String,
    /// What and where.
    pub what: String,
}

/// A mark on the Sun's limb, for a clock face with the zenith up.
#[derive(Clone, Debug, PartialEq)]
pub struct LimbMark {
    /// `C1` … `C4`.
    pub label: String,
    /// What shows there.
    pub meaning: String,
    /// Angle clockwise from the zenith, degrees.
    pub clockwise_deg: f64,
    /// `10 o'clock`.
    pub hour: String,
}

/// A picture handed in as an SVG document.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// The SVG document.
    pub svg: String,
    /// What it shows, for screen readers.
    pub alt: String,
    /// Caption.
    pub caption: String,
}
