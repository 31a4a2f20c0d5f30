//! All that the report page shows, in plain data.
//!
//! The page is written from this alone: it knows nothing of plans, kernels or rankings, so that a test, a script or a
//! later program can fill it. It is embedded in the page as JSON, the sites in columns (`packed.rs`);
//! the field names below are the keys that the page's scripts read.
//!
//! # Units
//! In the names. Instants are milliseconds of UTC past 1970-01-01 ([`Instant`]), except inside [`Elements`].

use super::edge_entry::EdgeEntry;
use super::ground_entry::GroundEntry;
use chrono::{DateTime, Offset, TimeZone, Utc};
use chrono_tz::Tz;
use noonfall_ephemeris::{DeltaT, Tt};
use noonfall_scoring::clocks::rounded;
use noonfall_shadow::elements::HALF_SPAN_S;
use noonfall_shadow::{Contact, Eclipse};
use serde::Serialize;

/// The whole page.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ReportModel {
    /// Title of the trip or plan.
    pub title: String,
    /// Name of the group; may be empty.
    pub group: String,
    /// The eclipse in a few numbers.
    pub eclipse: EclipseFacts,
    /// The shadow, for places that were not computed beforehand. `None` leaves the tapping of places out.
    pub elements: Option<Elements>,
    /// The Moon's measured edge, for true contacts of such places. `None` shows them those of a smooth Moon.
    pub edge: Option<EdgeEntry>,
    /// The ground under such places. `None` leaves it unknown.
    pub ground: Option<GroundEntry>,
    /// The plan that the ranking came from.
    pub plan: PlanText,
    /// What counts, in the order of [`SiteEntry::utilities`].
    pub criteria: Vec<Criterion>,
    /// What the plan asks of every place.
    pub requirements: Vec<Required>,
    /// Candidates in the order of the ranking: ranked ones first, rejected ones after them. The page carries them in columns.
    #[serde(skip)]
    pub sites: Vec<SiteEntry>,
    /// Two sites to begin the side-by-side with, as indices into `sites`.
    pub pair: Option<[usize; 2]>,
    /// What the two are: `low Sun`, `high Sun`.
    pub pair_labels: [String; 2],
    /// What the side-by-side of that pair says in words.
    pub pair_words: Vec<String>,
    /// What is said of sites that no drive leads to from the group's base; empty where the base is a site.
    pub no_way: String,
    /// The map in one or two formats: the first for wide screens, the second for phones.
    pub maps: Vec<MapDrawing>,
    /// What the map's colours and signs mean.
    pub legend: Legend,
    /// Cautions where totality is seen.
    pub cautions_total: Vec<String>,
    /// Cautions where it is not.
    pub cautions_partial: Vec<String>,
    /// What the reader must know about the numbers: ΔT, the Moon's limb, the UTC forecast.
    pub notes: Vec<String>,
    /// Credits of data.
    pub credits: Vec<String>,
    /// A banner where any input was invented for a demonstration.
    pub invented: Option<String>,
    /// Name and version of the program.
    pub program: String,
}

/// The eclipse in a few numbers.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct EclipseFacts {
    /// UTC date of greatest eclipse, `2028-07-22`.
    pub date: String,
    /// What it is called, `Total solar eclipse of 22 July 2028`.
    pub title: String,
    /// `total`, `annular`, `hybrid`, `partial`.
    pub kind: String,
    /// ΔT, seconds.
    pub delta_t_s: f64,
    /// One sigma of ΔT, seconds.
    pub delta_t_sigma_s: f64,
    /// Where ΔT comes from.
    pub delta_t_origin: String,
    /// Whether UTC rests on a leap-second table that has run out.
    pub utc_is_predicted: bool,
}

/// An instant with the offset of the clock that shows it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Instant {
    /// Milliseconds of UTC past 1970-01-01.
    pub utc_ms: i64,
    /// Local civil time minus UTC at that instant, seconds.
    pub offset_s: i32,
}

/// The shadow as polynomials, with the radii that belong to it: what the page needs to compute any place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Elements {
    /// UTC of the middle of the span, milliseconds past 1970-01-01.
    pub epoch_utc_ms: i64,
    /// Half the span of the polynomials, seconds.
    pub half_span_s: f64,
    /// Coefficients in powers of time over `half_span_s`, lowest first, in the order of
    /// [`noonfall_shadow::elements::BesselianElements::coefficients`].
    pub coefficients: Vec<Vec<f64>>,
    /// Earth rotation angle at the epoch, radians, ΔT included.
    pub earth_rotation_at_epoch_rad: f64,
    /// Rate of the Earth rotation angle, radians per second.
    pub earth_rotation_rad_s: f64,
    /// Equatorial radius of the Earth, km.
    pub earth_equatorial_radius_km: f64,
    /// Polar over equatorial radius.
    pub earth_polar_ratio: f64,
    /// Radius of the Sun, km.
    pub sun_radius_km: f64,
    /// Radius of the Moon for C1 and C4, Earth radii.
    pub moon_k_exterior: f64,
    /// Radius of the Moon for C2 and C3, Earth radii.
    pub moon_k_interior: f64,
    /// Air pressure for refraction, hPa.
    pub pressure_hpa: f64,
    /// Air temperature for refraction, °C.
    pub temperature_c: f64,
}

/// The plan that the ranking came from.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PlanText {
    /// File name.
    pub file: String,
    /// The text, to be given back with other weights.
    pub text: String,
    /// SHA-256 of the text, hexadecimal.
    pub sha256: String,
    /// `arithmetic` or `geometric`.
    pub mean: String,
}

/// One criterion.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Criterion {
    /// Key in the plan.
    pub name: String,
    /// Name for people.
    pub label: String,
    /// Unit of the value; empty for a pure number. `fraction` values are shown in per cent.
    pub unit: String,
    /// What the number is.
    pub about: String,
    /// The utility curve in words.
    pub curve: String,
    /// Weight in the plan.
    pub weight: f64,
    /// Why a site without a value cannot be ranked while the criterion has weight.
    pub missing_words: String,
    /// Corners `[value, utility]` of the curve, for places that were not computed beforehand; empty leaves them unscored.
    pub points: Vec<[f64; 2]>,
    /// Utility of a place without a value; `None` rejects such a place.
    pub missing: Option<f64>,
    /// Whether the engine computes it, so that a place without a value here may have one; `false` for a column of the sites table.
    pub built_in: bool,
}

/// A hard requirement of the plan.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Required {
    /// The key as the plan has it, `min_totality_s`.
    pub key: String,
    /// Name of the criterion or column.
    pub criterion: String,
    /// Its label inside a sentence.
    pub label: String,
    /// Unit as reasons give it; empty for a pure number.
    pub unit: String,
    /// Least value accepted.
    pub at_least: Option<f64>,
    /// Greatest value accepted.
    pub at_most: Option<f64>,
}

/// One candidate.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SiteEntry {
    /// Name as the user wrote it.
    pub name: String,
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east.
    pub lon_deg: f64,
    /// Height, metres.
    pub elevation_m: f64,
    /// IANA name of the zone.
    pub zone: String,
    /// Letters of the clock at maximum eclipse, such as `ACST`, or its offset.
    pub zone_short: String,
    /// Rank under the plan's weights; `None` when rejected.
    pub rank: Option<u32>,
    /// Best and worst rank over the draws.
    pub rank_interval: Option<[u32; 2]>,
    /// Fraction of the draws in which the site comes first.
    pub first_chance: Option<f64>,
    /// Score under the plan's weights, 0 to 1.
    pub score: Option<f64>,
    /// Requirements that the site does not meet, in words: no weight brings it back.
    pub rejected: Vec<String>,
    /// Warnings.
    pub warnings: Vec<String>,
    /// Values in the order of the criteria.
    pub values: Vec<Option<f64>>,
    /// Utilities in the order of the criteria, 0 to 1.
    pub utilities: Vec<Option<f64>>,
    /// `total`, `annular`, `partial`, `none`.
    pub phase: String,
    /// C1, C2, max, C3, C4.
    pub contacts: [Option<ContactEntry>; 5],
    /// Duration of the central phase, seconds; 0 where there is none.
    pub duration_s: f64,
    /// Local magnitude.
    pub magnitude: f64,
    /// Obscuration at maximum, 0 to 1.
    pub obscuration: f64,
    /// The window for unaided eyes as it was decided; `None` where there is none.
    pub window: Option<EyeWindow>,
    /// Why there is none, a sentence; empty where there is one.
    pub no_window: String,
    /// Chance of a clear line to the Sun.
    pub cloud: Option<CloudOdds>,
    /// The fallback.
    pub fallback: Option<Fallback>,
    /// The way here from the base that the plan names.
    pub way: Option<Way>,
    /// The rest, for the sites that are shown in full.
    pub detail: Option<SiteDetail>,
}

/// One contact.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct ContactEntry {
    /// When.
    pub at: Instant,
    /// The Sun's altitude with refraction, degrees.
    pub altitude_deg: f64,
    /// The Sun's azimuth, degrees.
    pub azimuth_deg: f64,
    /// Whether the Sun is up.
    pub up: bool,
}

/// From when to when filters may be off.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct EyeWindow {
    /// No earlier than this.
    pub off: Instant,
    /// No later than this.
    pub on: Instant,
    /// What is kept from C2 and C3, in words.
    pub kept: String,
}

/// Chance of a clear line to the Sun.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct CloudOdds {
    /// Mean cloud fraction.
    pub cloud_fraction: f64,
    /// Probability of a cloud-free line of sight.
    pub clear: f64,
    /// Lower end of the 95 % interval.
    pub low_95: f64,
    /// Upper end.
    pub high_95: f64,
    /// Parameters of the Beta distribution, if there is one.
    pub beta: Option<[f64; 2]>,
    /// Years behind the figure.
    pub years: Option<u32>,
    /// Where it comes from.
    pub source: String,
}

/// Where to go when the morning is grey.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Fallback {
    /// Name of the other place.
    pub name: String,
    /// Drive on free roads, hours; departures allow for traffic besides.
    pub drive_hours: f64,
    /// The two countries, in words, where a border lies between.
    pub border: Option<String>,
    /// Chance that at least one of the two is clear: one number, or the bounds between which it lies; `None` where it is not
    /// known.
    pub joint_clear: Option<[f64; 2]>,
    /// Leave by this instant to be set up before C1.
    pub leave_by: Option<Instant>,
    /// At the very latest, to be set up before C2.
    pub leave_at_worst: Option<Instant>,
}

/// The way to a site from where the group sleeps.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Way {
    /// Name of the base.
    pub base: String,
    /// Drive on free roads, hours.
    pub drive_hours: f64,
    /// The two countries, in words, where a border lies between.
    pub border: Option<String>,
    /// Leave by this instant to be set up before C1, by the clocks of the base.
    pub leave_by: Option<Instant>,
    /// At the very latest, to be set up before C2.
    pub leave_at_worst: Option<Instant>,
}

/// What an observer at the site will meet.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SiteDetail {
    /// What happens when, and where to look, the filter's OFF and ON among it. Empty: the page lists the contacts.
    pub timeline: Vec<TimelineEntry>,
    /// Planets and stars in totality.
    pub sky: Vec<SkyEntry>,
    /// The skyline.
    pub skyline: Option<SkylineEntry>,
    /// The Moon's edge at the contacts, where there is a window for unaided eyes.
    pub edge: Option<EdgePicture>,
    /// Further numbers, each with its caption and note.
    pub facts: Vec<Fact>,
    /// The sign to look away, a full sentence.
    pub look_away: Option<String>,
}

/// The Moon's edge at second and third contact, drawn.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct EdgePicture {
    /// The drawing, whose letters come from the page.
    pub svg: String,
    /// The same in words, a sentence for each contact, and how to read the drawing.
    pub words: Vec<String>,
}

/// One line of the timeline.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TimelineEntry {
    /// When.
    pub at: Instant,
    /// Whether the line is never left out for want of room.
    pub must: bool,
    /// `C1`, `C2`, `max`, `C3`, `C4`, or empty.
    pub mark: String,
    /// `off`, `on`, `rim` for the lines that day mode counts to beside the contacts; empty for the rest.
    pub kind: String,
    /// What happens.
    pub what: String,
    /// Where to look.
    pub look: String,
}

/// One body of the sky in totality.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SkyEntry {
    /// Name.
    pub body: String,
    /// Altitude, degrees.
    pub altitude_deg: f64,
    /// Azimuth, degrees.
    pub azimuth_deg: f64,
    /// Magnitude.
    pub magnitude: f64,
    /// Distance from the Sun, degrees.
    pub sun_separation_deg: f64,
    /// Whether unaided eyes should find it.
    pub visible: bool,
}

/// The skyline around the Sun.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SkylineEntry {
    /// `[azimuth_deg, altitude_deg]` in order of azimuth.
    pub profile: Vec<[f64; 2]>,
    /// How the Sun stands to it, and where it comes from.
    pub words: String,
}

/// A number with its caption.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Fact {
    /// What it is.
    pub label: String,
    /// The number with its unit.
    pub value: String,
    /// What it means, or how far it can be trusted.
    pub note: String,
}

/// What the map's colours and signs mean.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Legend {
    /// What the colours stand for, such as `Seconds of totality`.
    pub title: String,
    /// Colours (`#rrggbb`) with the words that belong to them, in order.
    pub steps: Vec<(String, String)>,
    /// Signs in words, a sentence each.
    pub signs: Vec<String>,
}

/// A map drawing, and how a point on it is turned back into a place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MapDrawing {
    /// The drawing. Set into the page as it is, so it must come from this program's own writer.
    #[serde(skip)]
    pub svg: String,
    /// Left edge, top edge, width and height of the map window in drawing units.
    pub window: [f64; 4],
    /// The way back, if the whole window lies on the globe.
    pub unproject: Option<Unprojection>,
    /// Towns in the window, the largest first, for those who zoom in.
    pub towns: Vec<TownMark>,
}

/// A town on a map drawing.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TownMark {
    /// Its name.
    pub name: String,
    /// Where it is, drawing units.
    pub at: [f64; 2],
}

/// The inverse of any map projection over a window, as Chebyshev series for the three components of a unit vector.
///
/// Smooth over the window, it needs no knowledge of the projection and has no seam at the date line or at a pole.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Unprojection {
    /// Number of terms in each direction.
    pub terms: usize,
    /// For x, y and z: `terms × terms` coefficients, the index of the horizontal term running fastest.
    pub coefficients: [Vec<f64>; 3],
}

impl Instant {
    /// The instant by the clock of a zone.
    pub fn of(tt: Tt, zone: Tz) -> Instant {
        Instant::of_utc(tt.to_utc(), zone)
    }

    /// The same from UTC.
    pub fn of_utc(utc: DateTime<Utc>, zone: Tz) -> Instant {
        let offset_s = zone.offset_from_utc_datetime(&utc.naive_utc()).fix().local_minus_utc();
        Instant { utc_ms: utc.timestamp_millis(), offset_s }
    }
}

impl ContactEntry {
    /// A contact by the clock of a zone.
    pub fn of(contact: &Contact, zone: Tz) -> ContactEntry {
        ContactEntry {
            at: Instant::of(contact.tt, zone),
            altitude_deg: contact.sun_apparent_altitude_deg,
            azimuth_deg: contact.sun_azimuth_deg,
            up: contact.above_horizon,
        }
    }
}

impl EclipseFacts {
    /// The numbers of an eclipse.
    pub fn of(eclipse: &Eclipse) -> EclipseFacts {
        let delta_t: &DeltaT = eclipse.delta_t();
        let date = eclipse.date();
        EclipseFacts {
            date: date.to_string(),
            title: noonfall_words::eclipse::title(&eclipse.kind().to_string(), date),
            kind: eclipse.kind().to_string(),
            delta_t_s: rounded(delta_t.seconds, 3),
            delta_t_sigma_s: rounded(delta_t.sigma_s, 3),
            delta_t_origin: delta_t.origin.clone(),
            utc_is_predicted: eclipse.greatest().tt.utc_is_predicted(),
        }
    }
}

impl Elements {
    /// The elements of an eclipse, with the constants it was computed with.
    pub fn of(eclipse: &Eclipse) -> Elements {
        let (elements, conventions) = (eclipse.elements(), eclipse.conventions());
        Elements {
            epoch_utc_ms: elements.epoch().to_utc().timestamp_millis(),
            half_span_s: HALF_SPAN_S,
            coefficients: elements.coefficients().iter().map(|p| p.to_vec()).collect(),
            earth_rotation_at_epoch_rad: elements.earth_rotation_at_epoch_rad(),
            earth_rotation_rad_s: noonfall_ephemeris::constants::EARTH_ROTATION_RAD_S,
            earth_equatorial_radius_km: conventions.earth_equatorial_radius_km,
            earth_polar_ratio: conventions.ellipsoid().polar_ratio(),
            sun_radius_km: conventions.sun_radius_km,
            moon_k_exterior: conventions.moon_k_exterior,
            moon_k_interior: conventions.moon_k_interior,
            pressure_hpa: conventions.pressure_hpa,
            temperature_c: conventions.temperature_c,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_instant_carries_the_clock_of_its_zone() {
        // 2028-07-22 03:00 UTC; Central Australia keeps UTC+9:30 all year (IANA time-zone database).
        let utc = DateTime::from_timestamp(1_847_847_600, 0).unwrap();
        assert_eq!(
            Instant::of_utc(utc, Tz::Australia__Darwin),
            Instant { utc_ms: 1_847_847_600_000, offset_s: 34_200 }
        );
    }
}
