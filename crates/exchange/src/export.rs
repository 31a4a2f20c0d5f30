//! What every map format is written from: sites, the path, the head of a file.

use std::io;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use noonfall_ephemeris::GeoPoint;
use noonfall_scoring::assess::Assessed;
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::outlook::timeline::{Happening, TimelineEntry};
use noonfall_shadow::{Contact, Eclipse, LocalCircumstances, Path};

use crate::curves::ExportCurve;

use noonfall_words::{self as words, Seen, WindowFacts};

/// Why a file could not be written.
#[derive(Debug, thiserror::Error)]
pub enum ExchangeError {
    /// The writer of a format refused the content.
    #[error("the {format} could not be written: {reason}")]
    Refused {
        /// Which format.
        format: &'static str,
        /// Why.
        reason: String,
    },
}

impl ExchangeError {
    pub(crate) fn refused(format: &'static str, reason: impl std::fmt::Display) -> ExchangeError {
        ExchangeError::Refused { format, reason: reason.to_string() }
    }
}

/// What is written piece by piece, as one text.
pub(crate) fn text(write: impl FnOnce(&mut Vec<u8>) -> io::Result<()>) -> io::Result<String> {
    let mut bytes = Vec::new();
    write(&mut bytes)?;
    String::from_utf8(bytes).map_err(io::Error::other)
}

/// A contact, for export.
#[derive(Clone, Debug, PartialEq)]
pub struct ExportContact {
    /// `C1`, `C2`, `max`, `C3` or `C4`.
    pub label: &'static str,
    /// Instant in UTC.
    pub utc: DateTime<Utc>,
    /// Whether the Sun is up.
    pub above_horizon: bool,
}

impl ExportContact {
    /// The contacts of a place, in order of time; those it does not have are left out.
    pub fn all(local: &LocalCircumstances) -> Vec<ExportContact> {
        let named = [("C1", local.c1), ("C2", local.c2), ("max", local.max), ("C3", local.c3), ("C4", local.c4)];
        let contact = |(label, contact): (&'static str, Option<Contact>)| {
            contact.map(|c| ExportContact { label, utc: c.tt.to_utc(), above_horizon: c.above_horizon })
        };
        named.into_iter().filter_map(contact).collect()
    }
}

/// A site, for export.
#[derive(Clone, Debug, PartialEq)]
pub struct ExportSite {
    /// Rank, from 1; none for a rejected or unranked site.
    pub rank: Option<usize>,
    /// Name as the user wrote it.
    pub name: String,
    /// Latitude, degrees.
    pub lat_deg: f64,
    /// Longitude, degrees.
    pub lon_deg: f64,
    /// Height above the ellipsoid, metres.
    pub elevation_m: Option<f64>,
    /// Local civil time.
    pub zone: Tz,
    /// Score from 0 to 1.
    pub score: Option<f64>,
    /// What is seen.
    pub seen: Seen,
    /// Duration of totality, seconds.
    pub totality_s: f64,
    /// Chance of a clear line to the Sun, 0 to 1.
    pub clear_sky_probability: Option<f64>,
    /// Why it was rejected; empty when it was not.
    pub rejected: Vec<String>,
    /// Contacts in order of time.
    pub contacts: Vec<ExportContact>,
    /// Unaided-eye window, or why there is none.
    pub window: Result<WindowFacts, String>,
    /// The timeline's lines that a calendar has events for; may be empty.
    pub lines: Vec<ExportLine>,
}

impl ExportSite {
    /// A place, not ranked, with what there is to see of it.
    pub fn of(found: &Assessed, offer: Option<&Offer>) -> ExportSite {
        let (place, local) = (&found.place, found.local());
        ExportSite {
            rank: None,
            name: place.name.clone(),
            lat_deg: place.site.lat_deg,
            lon_deg: place.site.lon_deg,
            elevation_m: Some(place.site.elevation_m),
            zone: place.clock_zone(),
            score: None,
            seen: Seen::of(local),
            totality_s: found.numbers.totality_s,
            clear_sky_probability: found.numbers.clear_sky,
            rejected: Vec::new(),
            contacts: ExportContact::all(local),
            window: WindowFacts::of(&found.decision),
            lines: offer.map(|o| ExportLine::all(&o.timeline)).unwrap_or_default(),
        }
    }

    /// The window, and never one where the eclipse is not total.
    pub fn safe_window(&self) -> Option<&WindowFacts> {
        self.window.as_ref().ok().filter(|window| self.seen == Seen::Total && window.off_utc < window.on_utc)
    }

    /// Why there is no window, where there is none.
    pub fn why_none(&self) -> Option<&str> {
        match (&self.window, self.safe_window()) {
            (Err(why), _) => Some(why),
            (Ok(_), None) => Some(words::window::NO_TOTALITY),
            (Ok(_), Some(_)) => None,
        }
    }
}

/// A line of the timeline, for a calendar.
#[derive(Clone, Debug, PartialEq)]
pub struct ExportLine {
    /// `C1`, `C2`, `OFF`, `max`, `ON`, `C3` or `C4`.
    pub mark: &'static str,
    /// When.
    pub utc: DateTime<Utc>,
    /// A few words.
    pub title: String,
    /// What to do.
    pub detail: String,
}

impl ExportLine {
    /// The lines of a timeline that a calendar has events for, with their marks.
    pub fn all(timeline: &[TimelineEntry]) -> Vec<ExportLine> {
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
}

/// The path, for export.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ExportPath {
    /// Central line.
    pub central_line: Vec<GeoPoint>,
    /// Northern limit.
    pub north_limit: Vec<GeoPoint>,
    /// Southern limit.
    pub south_limit: Vec<GeoPoint>,
    /// The whole path, a ring.
    pub polygon: Vec<GeoPoint>,
    /// Curves beside the path: outline of the partial eclipse, isolines.
    pub curves: Vec<ExportCurve>,
}

/// What the file is about, for its head.
#[derive(Clone, Debug, PartialEq)]
pub struct ExportHead {
    /// UTC date of greatest eclipse.
    pub eclipse: NaiveDate,
    /// Kind: total, annular, hybrid, partial.
    pub kind: String,
    /// ΔT used, seconds.
    pub delta_t_s: f64,
    /// One sigma of ΔT, seconds.
    pub delta_t_sigma_s: f64,
    /// Credits of the data.
    pub credits: Vec<String>,
    /// Whether any input was invented for a demonstration.
    pub invented: bool,
    /// Which edge of the Moon second and third contact are shown at, and from which heights: a sentence, empty where no
    /// place's contacts are told.
    pub edge: String,
}

impl ExportPath {
    /// The lines of a traced path.
    pub fn of(path: &Path) -> ExportPath {
        ExportPath {
            central_line: path.central_line.clone(),
            north_limit: path.north_limit.clone(),
            south_limit: path.south_limit.clone(),
            polygon: path.polygon.clone(),
            curves: Vec::new(),
        }
    }
}

impl ExportHead {
    /// The head of a file about an eclipse, with nothing but the ephemeris to credit.
    pub fn of(eclipse: &Eclipse) -> ExportHead {
        ExportHead {
            eclipse: eclipse.date(),
            kind: eclipse.kind().to_string(),
            delta_t_s: eclipse.delta_t().seconds,
            delta_t_sigma_s: eclipse.delta_t().sigma_s,
            credits: vec![eclipse.kernel().to_owned()],
            invented: false,
            edge: String::new(),
        }
    }

    /// `Total solar eclipse of 2028-07-22`.
    pub fn title(&self) -> String {
        words::eclipse::title_of_file(&self.kind, self.eclipse)
    }

    /// The notes that every file carries.
    pub(crate) fn notes(&self) -> String {
        let delta_t = words::delta_t::in_file(self.delta_t_s, self.delta_t_sigma_s);
        let mut text = format!("{delta_t} {}", words::safety::one_line(self.kind != "partial"));
        if !self.edge.is_empty() {
            text.push_str(&format!(" {}", self.edge));
        }
        if self.invented {
            text.push_str(&format!(" {}", words::invented::IN_FILE));
        }
        if !self.credits.is_empty() {
            text.push_str(&format!(" {}", words::origins::data(&self.credits)));
        }
        text
    }
}

/// Text without the characters that XML 1.0 forbids.
pub(crate) fn xml_text(text: &str) -> String {
    text.chars()
        .filter(|&c| {
            matches!(c, '\t' | '\n' | '\r') || (c >= ' ' && !matches!(c, '\u{7f}'..='\u{9f}' | '\u{fffe}' | '\u{ffff}'))
        })
        .collect()
}

/// What is known of a site in one or two sentences: rank, duration, window, odds.
pub(crate) fn site_words(site: &ExportSite) -> String {
    let mut lines = Vec::new();
    lines.extend(site.rank.map(|rank| words::files::rank(rank, site.score)));
    if !site.rejected.is_empty() {
        lines.push(words::files::rejected(&site.rejected));
    }
    lines.push(site.seen.in_file(site.totality_s));
    lines.extend(site.contacts.iter().map(|c| words::files::contact(c.label, c.utc, site.zone, c.above_horizon)));
    match site.safe_window() {
        Some(window) => lines.push(words::window::in_file(window, site.zone)),
        None => lines.extend(site.why_none().map(words::window::none_in_file)),
    }
    lines.push(words::clouds::in_file(site.clear_sky_probability));
    lines.push(words::safety::one_line(site.safe_window().is_some()).into());
    lines.join(" ")
}
