//! What the skyline does.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use noonfall_scoring::outlook::skyline::Skyline;
use noonfall_scoring::zone::local_rfc3339;

use crate::numbers::{clean, local_clock};

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

/// On a brief; `minute` gives the local clock.
pub(crate) fn under_the_sun(skyline: Option<&SkylineFacts>, minute: impl Fn(DateTime<Utc>) -> String) -> String {
    match skyline {
        None => "Skyline not checked: no terrain data given.".to_owned(),
        Some(skyline) => {
            let source = clean(&skyline.source, 32);
            let least = skyline.margin_least_deg;
            let mut text = in_totality(least);
            if let Some(lost) = skyline.sun_lost_utc {
                text.push_str(&behind_from(&minute(lost)));
            }
            if !source.is_empty() {
                text.push_str(&format!(" ({source})"));
            }
            text
        }
    }
}

fn in_totality(least_margin_deg: f64) -> String {
    if least_margin_deg < 0.0 {
        format!("The skyline hides the Sun during totality (by {:.1}°).", -least_margin_deg)
    } else if least_margin_deg < 1.0 {
        format!("Thin margin: only {least_margin_deg:.1}° between Sun and skyline.")
    } else {
        format!("Clears the skyline by {least_margin_deg:.1}°.")
    }
}

fn behind_from(time: &str) -> String {
    format!(" Behind the skyline from {time}.")
}

/// Under the page's picture of the Sun's track.
pub fn on_page(skyline: &Skyline, zone: Tz) -> String {
    let lost = skyline.sun_lost.map_or_else(String::new, |lost| behind_from(&local_clock(lost.to_utc(), zone)));
    format!("{}{lost} Skyline: {}.", in_totality(skyline.least_margin_deg()), skyline.source)
}

/// At a place, a sentence a line.
pub fn at_place(skyline: &Skyline, zone: Tz) -> Vec<String> {
    let mut lines = vec![format!(
        "Skyline ({}): the Sun's centre {:.1}° above it at maximum; lower limb {:.1}° at least in the central phase",
        skyline.source, skyline.margin_max_deg, skyline.disc_margin_deg
    )];
    lines.extend(
        skyline.sun_lost.map(|lost| format!("The Sun goes behind the skyline at {}", local_rfc3339(lost, zone))),
    );
    lines
}
