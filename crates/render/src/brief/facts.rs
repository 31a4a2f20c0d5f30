//! What a brief is made from: plain numbers and names, before any wording.
//!
//! Kept apart from the scoring crate's types so that the wording and the page can be tested with extreme input; the adapter that fills
//! these from a ranking lives beside the ranking's own exports.

use chrono::{DateTime, FixedOffset, NaiveDate, Utc};
use chrono_tz::Tz;
use noonfall_words::{Seen, WindowFacts};

/// One contact, or the local maximum.
/// # Units
/// Degrees. Vertex angle from the zenith, in the sense of position angles (through the left of the disc as seen in the sky).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ContactFacts {
    /// Instant in UTC.
    pub utc: DateTime<Utc>,
    /// Altitude of the Sun's centre, refraction included.
    pub sun_apparent_altitude_deg: f64,
    /// Azimuth from north through east.
    pub sun_azimuth_deg: f64,
    /// Where on the Sun's limb the contact is, from the zenith.
    pub vertex_angle_deg: f64,
    /// Whether the Sun is up.
    pub above_horizon: bool,
}

/// The skyline under the Sun.
#[derive(Clone, Debug, PartialEq)]
pub struct SkylineFacts {
    /// Sun's lower margin above the skyline at local maximum, degrees; negative means hidden.
    pub margin_max_deg: f64,
    /// Smallest margin from C2 to C3, degrees.
    pub margin_least_deg: f64,
    /// When the Sun goes behind the skyline, if it does before C4.
    pub sun_lost_utc: Option<DateTime<Utc>>,
    /// Where the skyline comes from.
    pub source: String,
}

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

/// Odds of a clear line to the Sun.
/// # Units
/// Fractions from 0 to 1.
#[derive(Clone, Debug, PartialEq)]
pub struct CloudFacts {
    /// Probability of a clear line of sight.
    pub clear_line_of_sight: f64,
    /// Lower end of the 95 % interval.
    pub low_95: f64,
    /// Upper end of the 95 % interval.
    pub high_95: f64,
    /// Mean cloud cover.
    pub cloud_fraction: f64,
    /// Years of record behind it.
    pub years: Option<u32>,
    /// Where the figure comes from.
    pub source: String,
    /// Whether the climatology is invented.
    pub invented: bool,
}

/// Where to flee.
#[derive(Clone, Debug, PartialEq)]
pub struct FallbackFacts {
    /// Name of the fallback site.
    pub name: String,
    /// Straight-line distance, kilometres, and direction, degrees from north through east.
    pub away: Option<(f64, f64)>,
    /// Driving time on free roads, hours.
    pub drive_hours: f64,
    /// The two countries where a border lies between.
    pub border: Option<[String; 2]>,
    /// By how much drives are taken for longer than on free roads; departures allow for it.
    pub traffic: f64,
    /// Leave by then to be set up before C1.
    pub leave_by_utc: Option<DateTime<Utc>>,
    /// The very latest, to be there before C2.
    pub latest_utc: Option<DateTime<Utc>>,
    /// Chance of a clear sky at this site or the fallback: low and high bound (equal when known from common records), 0 to 1.
    pub joint_chance: Option<(f64, f64)>,
}

/// The way to the site from where the group sleeps.
#[derive(Clone, Debug, PartialEq)]
pub struct WayFacts {
    /// Name of the base.
    pub base: String,
    /// Drive on free roads, hours.
    pub drive_hours: f64,
    /// The two countries where a border lies between.
    pub border: Option<[String; 2]>,
    /// Leave by then to be set up before C1, by the clocks of the base.
    pub leave_by: DateTime<FixedOffset>,
    /// The very latest, to be there before C2.
    pub latest: DateTime<FixedOffset>,
}

/// ΔT as used, for the foot of the page.
#[derive(Clone, Debug, PartialEq)]
pub struct DeltaTFacts {
    /// TT − UT1, seconds.
    pub seconds: f64,
    /// One sigma, seconds.
    pub sigma_s: f64,
    /// Where the value comes from.
    pub origin: String,
    /// Shift of the path in longitude for one sigma, kilometres.
    pub shift_km: f64,
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
    pub delta_t: DeltaTFacts,
    /// Whether UTC lies past the end of the leap-second table.
    pub utc_is_predicted: bool,
    /// Credits of the data used.
    pub credits: Vec<String>,
    /// Whether any input was invented for a demonstration.
    pub invented: bool,
    /// Version of the program, plan hash and the like, for the foot.
    pub made_by: String,
}
