//! The contacts and what they mean.

use chrono::{DateTime, Utc};

use crate::Seen;

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

/// The label of each contact and what it means, in order of time; `inside` tells whether the discs are closest between second and third.
pub(crate) fn meanings(seen: Seen, inside: bool) -> [(&'static str, &'static str); 5] {
    let interior = match seen {
        Seen::Total => ("totality begins", "totality ends"),
        _ => ("ring begins", "ring ends"),
    };
    [
        ("C1", "first bite"),
        ("C2", interior.0),
        ("max", if inside { "middle of it" } else { "discs closest" }),
        ("C3", interior.1),
        ("C4", "last bite"),
    ]
}

/// What shows on the Sun's limb at first, second, third and fourth contact, where there is one.
pub(crate) fn on_limb(seen: Seen, window: bool) -> [Option<(&'static str, &'static str)>; 4] {
    let (second, third) = match seen {
        Seen::Total => ("last light", if window { "red rim, then first light" } else { "first light" }),
        Seen::Annular => ("ring closes", "ring opens"),
        Seen::Partial | Seen::Nothing => return [Some(("C1", "first bite")), None, None, Some(("C4", "last bite"))],
    };
    [Some(("C1", "first bite")), Some(("C2", second)), Some(("C3", third)), Some(("C4", "last bite"))]
}
