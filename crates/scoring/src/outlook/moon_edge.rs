//! Second and third contact at the Moon's true edge, as files give them.

use super::decimals;
use super::timeline::local_time;
use super::totality::{EdgeShown, Totality, TotalityRules};
use chrono::SecondsFormat;
use chrono_tz::Tz;
use noonfall_ephemeris::AU_KM;
use noonfall_ephemeris::angle::ARCSEC_PER_RAD;
use noonfall_shadow::moon_edge::{Bead, BeadSide, EdgeContact};
use noonfall_shadow::{Contact, Phase};
use serde::Serialize;

/// The Moon's edge at a place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MoonEdge {
    /// Which edge the outputs show: `true` or `smooth`. The window for unaided eyes is decided at the true one always.
    pub edge: &'static str,
    /// Where the heights come from.
    pub source: String,
    /// The Sun's radius that belongs with it, arcseconds at one astronomical unit.
    #[serde(serialize_with = "decimals::three")]
    pub sun_radius_arcsec: f64,
    /// How the Moon is turned towards the place in mid-totality; null where the true edge leaves none.
    pub libration: Option<LibrationRow>,
    /// Second contact; null where the true edge leaves no totality.
    #[serde(rename = "C2")]
    pub c2: Option<EdgeContactRow>,
    /// Third contact; null where the true edge leaves no totality.
    #[serde(rename = "C3")]
    pub c3: Option<EdgeContactRow>,
    /// From second to third contact, seconds; 0 where there is neither.
    #[serde(serialize_with = "decimals::three")]
    pub duration_s: f64,
    /// Arcs of light that stand apart before second and after third contact; left out where nobody asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beads: Option<Vec<BeadRow>>,
}

/// An arc of light that stands apart.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BeadRow {
    /// `C2` or `C3`.
    pub contact: &'static str,
    /// Where on the Sun's limb, from celestial north through east, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub position_angle_deg: f64,
    /// From when it stands apart, local time.
    pub from: String,
    /// To when, local time.
    pub to: String,
    /// Whether it is the last light before second or the first after third contact.
    pub last_or_first: bool,
}

impl BeadRow {
    /// A bead by the clock of a zone.
    pub fn of(bead: &Bead, zone: Tz) -> BeadRow {
        BeadRow {
            contact: match bead.side {
                BeadSide::C2 => "C2",
                BeadSide::C3 => "C3",
            },
            position_angle_deg: bead.position_angle_deg,
            from: local_time(bead.from, zone),
            to: local_time(bead.to, zone),
            last_or_first: bead.extreme,
        }
    }
}

/// How the Moon is turned.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LibrationRow {
    /// Longitude of the point of the Moon that faces the place, degrees east.
    #[serde(serialize_with = "decimals::four")]
    pub lon_deg: f64,
    /// Its latitude, degrees north.
    #[serde(serialize_with = "decimals::four")]
    pub lat_deg: f64,
    /// Position angle of the Moon's axis, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub axis_deg: f64,
}

/// A contact at the true edge.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EdgeContactRow {
    /// TT, RFC 3339 without offset.
    pub tt: String,
    /// UTC.
    pub utc: String,
    /// Local time.
    pub local: String,
    /// Seconds after the contact of the smooth Moon, negative before it; null where that has none.
    #[serde(serialize_with = "decimals::three_or_null")]
    pub after_smooth_s: Option<f64>,
    /// Where on the Sun's limb the last or first light shows, from celestial north through east, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub position_angle_deg: f64,
    /// The same from the zenith.
    #[serde(serialize_with = "decimals::four")]
    pub vertex_angle_deg: f64,
}

impl MoonEdge {
    /// Which edge the outputs show.
    pub fn shown(&self) -> EdgeShown {
        if self.edge == EdgeShown::Smooth.word() { EdgeShown::Smooth } else { EdgeShown::True }
    }

    /// The edge at a place inside the path of either Moon; `None` elsewhere.
    pub fn of(rules: &TotalityRules, totality: &Totality, zone: Tz) -> Option<MoonEdge> {
        if !totality.inside() {
            return None;
        }
        let row = |contact: &EdgeContact, smooth: Option<Contact>| EdgeContactRow {
            tt: contact.tt.rfc3339(),
            utc: contact.tt.to_utc().to_rfc3339_opts(SecondsFormat::Millis, true),
            local: local_time(contact.tt, zone),
            after_smooth_s: smooth.filter(|_| totality.smooth.phase == Phase::Total).map(|s| contact.tt - s.tt),
            position_angle_deg: contact.position_angle_deg,
            vertex_angle_deg: contact.vertex_angle_deg,
        };
        let truth = totality.truth.as_ref();
        Some(MoonEdge {
            edge: rules.edge_shown().word(),
            source: rules.heights().source().to_owned(),
            sun_radius_arcsec: (rules.edge().sun_radius_km / AU_KM).asin() * ARCSEC_PER_RAD,
            libration: truth.map(|t| LibrationRow {
                lon_deg: t.libration.lon_deg,
                lat_deg: t.libration.lat_deg,
                axis_deg: t.libration.axis_deg,
            }),
            c2: truth.map(|t| row(&t.c2, totality.smooth.c2)),
            c3: truth.map(|t| row(&t.c3, totality.smooth.c3)),
            duration_s: truth.map_or(0.0, |t| t.duration_s),
            beads: None,
        })
    }
}
