//! The observer's timeline: what happens, when by the local clock, where to look, and whether the filter is on.

use super::decimals;
use super::filters::{FilterWindow, local_time};
use super::limb::{Limb, clock_hour};
use super::moon_shadow::MoonShadow;
use super::shadow_bands::ShadowBands;
use super::sky::SkyObject;
use chrono::SecondsFormat;
use chrono_tz::Tz;
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::wrap_180;
use noonfall_shadow::geodesy::compass_point;
use noonfall_shadow::{LocalCircumstances, Phase, View};
use serde::Serialize;

/// Whether the eyes' filter is on or off from an entry onwards.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum FilterState {
    /// Filters on eyes and on the front of all optics.
    On,
    /// Bare eyes allowed, within the window only.
    Off,
}

impl FilterState {
    /// The word, in capitals.
    pub fn word(self) -> &'static str {
        match self {
            FilterState::On => "ON",
            FilterState::Off => "OFF",
        }
    }
}

/// What an entry is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Happening {
    /// Be set up.
    Ready,
    /// First contact.
    FirstContact,
    /// Half the Sun's diameter is covered.
    HalfCovered,
    /// Light thins, shadows sharpen.
    ThinLight,
    /// The brightest planet may show.
    BrightPlanet,
    /// The Moon's shadow comes up.
    ShadowComes,
    /// Shadow bands before totality.
    BandsBefore,
    /// Last thread of light.
    LastLight,
    /// Second contact.
    SecondContact,
    /// Filter OFF.
    FilterOff,
    /// The red rim on the side of the last light is covered.
    RimCovered,
    /// Maximum.
    Maximum,
    /// The red rim appears on the other side: look away.
    LookAway,
    /// Filter ON.
    FilterOn,
    /// Third contact.
    ThirdContact,
    /// The shadow leaves; bands again.
    BandsAfter,
    /// Half the Sun's diameter is free again.
    HalfFree,
    /// Sunrise during the eclipse.
    Sunrise,
    /// Sunset during the eclipse.
    Sunset,
    /// Fourth contact.
    FourthContact,
}

/// One entry of the timeline.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TimelineEntry {
    /// What it is about.
    pub happening: Happening,
    /// Instant in TT, RFC 3339 without offset.
    pub tt: String,
    /// The same in UTC.
    pub utc: String,
    /// The same by the local clock.
    pub local: String,
    /// A few words.
    pub title: String,
    /// What to do, where to look.
    pub detail: String,
    /// Where to look: azimuth from north through east, degrees; null where it is the ground or everywhere.
    #[serde(serialize_with = "decimals::four_or_null")]
    pub azimuth_deg: Option<f64>,
    /// Where to look: apparent altitude, degrees.
    #[serde(serialize_with = "decimals::four_or_null")]
    pub altitude_deg: Option<f64>,
    /// State of the filter from this entry on.
    pub filter: FilterState,
    /// The instant.
    #[serde(skip)]
    pub instant: Tt,
}

/// What the timeline draws on; the parts of a total eclipse are missing elsewhere.
pub struct TimelineInput<'a> {
    /// Local circumstances.
    pub local: &'a LocalCircumstances,
    /// Civil time of the place.
    pub zone: Tz,
    /// The unaided-eye window.
    pub filters: Option<&'a FilterWindow>,
    /// Planets and stars at maximum.
    pub sky: Option<&'a [SkyObject]>,
    /// The Moon's shadow.
    pub shadow: Option<&'a MoonShadow>,
    /// Shadow bands.
    pub bands: Option<&'a ShadowBands>,
    /// The Moon's edge.
    pub limb: Option<&'a Limb>,
}

/// Minutes before first contact at which the timeline begins.
pub const SET_UP_MIN: f64 = 15.0;

/// The timeline of a place, in order of time. Empty where there is no eclipse.
///
/// `view_at` is the sky of the place at an instant. Outside totality's window every entry says filter ON, at annular and
/// partial eclipses all of them.
pub fn timeline(view_at: impl Fn(Tt) -> View, input: &TimelineInput) -> Vec<TimelineEntry> {
    let local = input.local;
    let (Some(c1), Some(max), Some(c4)) = (local.c1, local.max, local.c4) else { return Vec::new() };
    let mut list = List { zone: input.zone, entries: Vec::new() };
    let at_sun = |tt: Tt| {
        let view = view_at(tt);
        Some((view.sun_azimuth_deg, view.sun_apparent_altitude_deg))
    };
    let direction = |azimuth_deg: f64| format!("{} (azimuth {:.0}°)", compass_point(azimuth_deg), azimuth_deg);

    list.add(
        Happening::Ready,
        c1.tt.plus(-60.0 * SET_UP_MIN),
        "Be ready",
        "Set up and check that every filter is whole and firmly on: on all eyes, and over the front of every instrument.",
        at_sun(c1.tt.plus(-60.0 * SET_UP_MIN)),
    );
    list.add(
        Happening::FirstContact,
        c1.tt,
        "First contact",
        &format!("The Moon takes the first bite, at {} on the Sun's dial.", dial(clock_hour(c1.vertex_angle_deg))),
        at_sun(c1.tt),
    );
    for (happening, tt, title, detail) in [
        (Happening::Sunrise, local.sunrise, "Sunrise", "The eclipsed Sun comes up. Filters on from the first ray."),
        (Happening::Sunset, local.sunset, "Sunset", "The eclipsed Sun goes down. Filters on to the last ray."),
    ] {
        if let Some(tt) = tt {
            list.add(happening, tt, title, detail, at_sun(tt));
        }
    }
    // Half the diameter covered: magnitude one half, on either side of maximum.
    if local.magnitude > 0.5 {
        let half = |from: Tt| {
            let (mut outer, mut inner) = (from.0, max.tt.0);
            for _ in 0..40 {
                let middle = 0.5 * (outer + inner);
                if view_at(Tt(middle)).magnitude() < 0.5 { outer = middle } else { inner = middle }
            }
            Tt(0.5 * (outer + inner))
        };
        let (coming, going) = (half(c1.tt), half(c4.tt));
        list.add(
            Happening::HalfCovered,
            coming,
            "Half the diameter covered",
            "Hold anything with small holes over white paper: every hole throws a small crescent.",
            at_sun(coming),
        );
        list.add(Happening::HalfFree, going, "Half the diameter free", "Filters stay on to the end.", at_sun(going));
    }
    match (local.phase, local.c2, local.c3) {
        (Phase::Total, Some(c2), Some(c3)) => {
            list.add(
                Happening::ThinLight,
                c2.tt.plus(-900.0),
                "The light thins",
                "Shadows sharpen along one direction, colours turn metallic, the air begins to cool.",
                None,
            );
            if let Some(planet) = input.sky.and_then(|sky| sky.iter().find(|o| o.visible && o.magnitude < -3.0)) {
                list.add(
                    Happening::BrightPlanet,
                    c2.tt.plus(-480.0),
                    &format!("{} may show", planet.body),
                    &format!(
                        "Look {}, {:.0}° high, with the Sun hidden behind something solid.",
                        direction(planet.azimuth_deg),
                        planet.apparent_altitude_deg
                    ),
                    Some((planet.azimuth_deg, planet.apparent_altitude_deg)),
                );
            }
            if let Some(shadow) = input.shadow {
                let edge = shadow.edge_altitude_deg.iter().find(|e| e.seconds_before_c2 == 30.0);
                let height = match edge.map(|e| e.altitude_deg) {
                    Some(high) if high >= 90.0 => " Its edge passes overhead half a minute before totality.".to_owned(),
                    Some(high) if high > 0.0 => {
                        format!(" Its edge stands {high:.0}° high half a minute before totality.")
                    }
                    _ => String::new(),
                };
                // Where the shadow comes up below the Sun itself, nobody may be sent to look there with bare eyes.
                let towards_sun = wrap_180(shadow.arrival_azimuth_deg - c2.sun_azimuth_deg).abs() < 45.0;
                let how = if towards_sun {
                    "It comes from below the Sun: hide the Sun behind something solid, filters on, and watch the sky"
                } else {
                    "Turn away from the Sun and watch the sky"
                };
                list.add(
                    Happening::ShadowComes,
                    c2.tt.plus(-120.0),
                    "The Moon's shadow comes",
                    &format!("{how} low in the {} darken.{height}", direction(shadow.arrival_azimuth_deg)),
                    Some((shadow.arrival_azimuth_deg, 5.0)),
                );
            }
            if let Some(bands) = input.bands {
                list.add(
                    Happening::BandsBefore,
                    c2.tt.plus(-60.0),
                    &format!("Shadow bands: {}", bands.class.word()),
                    &format!(
                        "Watch a white sheet that faces the Sun. On level ground the bands run along {:.0}°–{:.0}°.",
                        bands.band_azimuth_deg,
                        bands.band_azimuth_deg + 180.0
                    ),
                    None,
                );
            }
            list.add(
                Happening::LastLight,
                c2.tt.plus(-15.0),
                "Last light",
                &format!(
                    "The crescent shrinks to a bead, at {} on the dial. Filters stay on.",
                    dial(clock_hour(c2.vertex_angle_deg))
                ),
                at_sun(c2.tt),
            );
            list.add(
                Happening::SecondContact,
                c2.tt,
                "Second contact: totality begins",
                if input.filters.is_some() {
                    "Filters stay on until the last bead has gone."
                } else {
                    "Totality here is too short for a safe look without filters: they stay on."
                },
                at_sun(c2.tt),
            );
            if let Some(window) = input.filters {
                list.add(
                    Happening::FilterOff,
                    window.off_tt,
                    "Filter OFF",
                    "Only once no bright edge shows. The sky decides, not the clock.",
                    at_sun(window.off_tt),
                );
                list.add(
                    Happening::FilterOn,
                    window.on_tt,
                    "Filter ON",
                    "On eyes and instruments, before the bright edge returns; at once if any bright edge shows earlier.",
                    at_sun(window.on_tt),
                );
            }
            // Without a window for the unaided eye there is nothing to see at the Moon's edge.
            if let (Some(limb), Some(_)) = (input.limb, input.filters) {
                let covered = c2.tt.plus(limb.chromosphere_after_c2_s);
                if !limb.chromosphere_throughout {
                    list.add(
                        Happening::RimCovered,
                        covered,
                        "Red rim covered",
                        &format!(
                            "The chromosphere at {} on the dial is gone; prominences and corona remain.",
                            dial(clock_hour(c2.vertex_angle_deg))
                        ),
                        at_sun(covered),
                    );
                }
                let sign = c3.tt.plus(-limb.look_away_lead_s);
                list.add(
                    Happening::LookAway,
                    sign,
                    "Red rim returns: lower all optics",
                    &format!(
                        "The chromosphere appears at {} on the dial, some {:.0} s (give or take {:.0}) before the Sun: \
                         look away from every eyepiece now.",
                        dial(limb.look_away_clock_hour),
                        limb.look_away_lead_s,
                        limb.look_away_spread_s
                    ),
                    at_sun(sign),
                );
            }
            let detail = if input.filters.is_some() {
                at_maximum(input)
            } else {
                "Watch the dark sky and the glow along the horizon, not the Sun.".to_owned()
            };
            list.add(Happening::Maximum, max.tt, "Maximum", &detail, at_sun(max.tt));
            list.add(
                Happening::ThirdContact,
                c3.tt,
                "Third contact: totality ends",
                &format!("The Sun returns at {} on the dial. Filters on.", dial(clock_hour(c3.vertex_angle_deg))),
                at_sun(c3.tt),
            );
            let leaving = input.shadow.map(|s| {
                // As when it came: nobody may be sent to look below the Sun with bare eyes.
                let under_sun = wrap_180(s.departure_azimuth_deg - c3.sun_azimuth_deg).abs() < 45.0;
                let how =
                    if under_sun { ", below the Sun: hide the Sun behind something solid, filters on" } else { "" };
                format!("It leaves towards the {}{how}.", direction(s.departure_azimuth_deg))
            });
            let bands = input.bands.map(|b| {
                format!(
                    " Shadow bands once more on the sheet, along {:.0}° on level ground.",
                    b.band_azimuth_after_c3_deg
                )
            });
            list.add(
                Happening::BandsAfter,
                c3.tt.plus(5.0),
                "The shadow leaves",
                &format!("{}{}", leaving.unwrap_or_default(), bands.unwrap_or_default()),
                input.shadow.map(|s| (s.departure_azimuth_deg, 5.0)),
            );
        }
        (Phase::Annular, Some(c2), Some(c3)) => {
            let detail = "Never without a filter: the ring is as dangerous as the whole Sun.";
            list.add(Happening::SecondContact, c2.tt, "Second contact: the ring closes", detail, at_sun(c2.tt));
            list.add(Happening::Maximum, max.tt, "Maximum", detail, at_sun(max.tt));
            list.add(Happening::ThirdContact, c3.tt, "Third contact: the ring opens", detail, at_sun(c3.tt));
        }
        _ => list.add(
            Happening::Maximum,
            max.tt,
            "Greatest partial eclipse",
            &format!(
                "{:.1} % of the Sun's disc is covered. What is left is still dangerous: filters stay on.",
                // Never rounded up to a whole Sun.
                (1000.0 * local.obscuration).floor() / 10.0
            ),
            at_sun(max.tt),
        ),
    }
    list.add(Happening::FourthContact, c4.tt, "Fourth contact", "The Moon leaves the Sun.", at_sun(c4.tt));
    list.finish(input.filters)
}

/// What to look for at maximum, in words.
fn at_maximum(input: &TimelineInput) -> String {
    let mut text = String::from("Corona; glow all round the horizon.");
    let seen: Vec<String> = input
        .sky
        .unwrap_or_default()
        .iter()
        .filter(|object| object.visible)
        .take(5)
        .map(|o| format!("{} {} {:.0}° high", o.body, compass_point(o.azimuth_deg), o.apparent_altitude_deg))
        .collect();
    if !seen.is_empty() {
        text.push_str(&format!(" In the sky: {}.", seen.join(", ")));
    }
    text
}

/// An hour of the dial in words: "3 o'clock", "half past 3".
fn dial(hour: f64) -> String {
    let whole = hour.floor();
    if hour - whole > 0.25 {
        format!("half past {:.0}", if whole == 0.0 { 12.0 } else { whole })
    } else {
        format!("{whole:.0} o'clock")
    }
}

struct List {
    zone: Tz,
    entries: Vec<TimelineEntry>,
}

impl List {
    fn add(&mut self, happening: Happening, instant: Tt, title: &str, detail: &str, look: Option<(f64, f64)>) {
        self.entries.push(TimelineEntry {
            happening,
            tt: instant.rfc3339(),
            utc: instant.to_utc().to_rfc3339_opts(SecondsFormat::Millis, true),
            local: local_time(instant, self.zone),
            title: title.to_owned(),
            detail: match look {
                // Below by more than the Sun's radius and the refraction's doubt: sunrise and sunset themselves are not meant.
                Some((_, altitude_deg)) if altitude_deg < -0.4 => {
                    format!("{} The Sun is below the horizon then.", detail.trim())
                }
                _ => detail.trim().to_owned(),
            },
            azimuth_deg: look.map(|l| l.0),
            altitude_deg: look.map(|l| l.1),
            filter: FilterState::On,
            instant,
        });
    }

    fn finish(mut self, window: Option<&FilterWindow>) -> Vec<TimelineEntry> {
        self.entries.sort_by(|a, b| a.instant.0.total_cmp(&b.instant.0));
        for entry in &mut self.entries {
            let off = window.is_some_and(|w| entry.instant >= w.off_tt && entry.instant < w.on_tt);
            entry.filter = if off { FilterState::Off } else { FilterState::On };
        }
        self.entries
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_dial_in_words() {
        assert_eq!(dial(3.0), "3 o'clock");
        assert_eq!(dial(3.5), "half past 3");
        assert_eq!(dial(0.5), "half past 12");
        assert_eq!(dial(12.0), "12 o'clock");
    }
}
