//! The observer's timeline: what happens, when by the local clock, where to look, with which eyes. **The one timeline**:
//! text page, brief, report page and calendar show its entries, all or fewer, in its own words (`words/timeline.rs`).

use super::decimals;
use super::limb::{Limb, clock_hour};
use super::moon_shadow::MoonShadow;
use super::shadow_bands::ShadowBands;
use super::sky::SkyObject;
use super::window::{Decision, Window, whole_second};
use super::words::{Words, timeline as say, window as window_words};
use chrono::SecondsFormat;
use chrono_tz::Tz;
use noonfall_ephemeris::Tt;
use noonfall_shadow::geodesy::compass_point;
use noonfall_shadow::{LocalCircumstances, Phase, View};
use serde::Serialize;

/// Bare eyes are never sent closer to the Sun than this outside the window, degrees.
pub const BARE_EYES_FROM_SUN_DEG: f64 = 45.0;

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

/// With which eyes a direction is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Eyes {
    /// Through a filter: the Sun itself.
    Filtered,
    /// Bare: inside the window, or far from the Sun.
    Bare,
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
    /// A bright planet far from the Sun may show.
    BrightPlanet,
    /// Animals, wind, cold.
    Cooling,
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
    /// Maximum; inside a window that does not hold the maximum, its middle.
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

impl Happening {
    /// How early an entry is left out where room is short: 0 never, then the highest first.
    pub fn priority(self) -> u8 {
        use Happening::*;
        match self {
            FilterOff | FilterOn | LookAway | SecondContact | ThirdContact => 0,
            FirstContact | Maximum | ThinLight | ShadowComes => 1,
            BandsBefore | LastLight | FourthContact | Sunrise | Sunset => 2,
            BandsAfter | BrightPlanet | HalfCovered => 3,
            Ready | Cooling | RimCovered | HalfFree => 4,
        }
    }
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
    /// The same in one line.
    pub short: String,
    /// Where to look: azimuth from north through east, degrees; null where it is the ground or everywhere.
    #[serde(serialize_with = "decimals::four_or_null")]
    pub azimuth_deg: Option<f64>,
    /// Where to look: apparent altitude, degrees.
    #[serde(serialize_with = "decimals::four_or_null")]
    pub altitude_deg: Option<f64>,
    /// With which eyes; null without a direction.
    pub eyes: Option<Eyes>,
    /// State of the filter from this entry on.
    pub filter: FilterState,
    /// The instant.
    #[serde(skip)]
    pub instant: Tt,
}

/// A planet before second contact, where it stands then.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanetBefore {
    /// When.
    pub tt: Tt,
    /// Which, and where at that instant.
    pub object: SkyObjectPlace,
}

/// Name and place of a body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SkyObjectPlace {
    /// Its name.
    pub body: &'static str,
    /// Azimuth, degrees.
    pub azimuth_deg: f64,
    /// Apparent altitude, degrees.
    pub altitude_deg: f64,
    /// Angle from the Sun, degrees.
    pub from_sun_deg: f64,
}

/// What the timeline draws on; the parts of a total eclipse are missing elsewhere.
pub struct TimelineInput<'a> {
    /// Local circumstances, with second and third contact as outputs show them.
    pub local: &'a LocalCircumstances,
    /// Civil time of the place.
    pub zone: Tz,
    /// The window for unaided eyes, or why there is none.
    pub decision: &'a Decision,
    /// Planets and stars at maximum.
    pub sky: Option<&'a [SkyObject]>,
    /// A bright planet some minutes before second contact, far from the Sun.
    pub planet: Option<PlanetBefore>,
    /// The Moon's shadow.
    pub shadow: Option<&'a MoonShadow>,
    /// Shadow bands.
    pub bands: Option<&'a ShadowBands>,
    /// The corona's expected shape, if known.
    pub corona: Option<&'a str>,
    /// The Moon's edge.
    pub limb: Option<&'a Limb>,
}

/// Minutes before first contact at which the timeline begins.
pub const SET_UP_MIN: f64 = 15.0;

/// Seconds before second contact at which a planet is looked for.
pub const PLANET_BEFORE_S: f64 = 480.0;

/// Angle between two directions, degrees; each is azimuth and altitude.
/// ```
/// use noonfall_scoring::outlook::timeline::angle_between_deg;
/// // Due east on the horizon, and the zenith: a right angle, whatever azimuth the zenith is given.
/// assert!((angle_between_deg((90.0, 0.0), (213.0, 90.0)) - 90.0).abs() < 1e-9);
/// ```
pub fn angle_between_deg(a: (f64, f64), b: (f64, f64)) -> f64 {
    let (sin_a, cos_a) = a.1.to_radians().sin_cos();
    let (sin_b, cos_b) = b.1.to_radians().sin_cos();
    let cos_turn = (a.0 - b.0).to_radians().cos();
    (sin_a * sin_b + cos_a * cos_b * cos_turn).clamp(-1.0, 1.0).acos().to_degrees()
}

/// Whether bare eyes may be sent to the low sky of an azimuth: everything from the horizon up to 20° is far from the Sun.
fn is_far_from_sun(view: &View, azimuth_deg: f64) -> bool {
    let sun = (view.sun_azimuth_deg, view.sun_apparent_altitude_deg);
    [0.0, 10.0, 20.0].iter().all(|&altitude| angle_between_deg((azimuth_deg, altitude), sun) >= BARE_EYES_FROM_SUN_DEG)
}

/// The timeline of a place, in order of time. Empty where there is no eclipse.
///
/// `view_at` is the sky of the place at an instant. Outside the window every entry says filter ON, at annular and
/// partial eclipses all of them; without a window nothing speaks of taking filters off or of what only bare eyes see.
pub fn timeline(view_at: impl Fn(Tt) -> View, input: &TimelineInput) -> Vec<TimelineEntry> {
    let local = input.local;
    let (Some(c1), Some(max), Some(c4)) = (local.c1, local.max, local.c4) else { return Vec::new() };
    let mut list = List { view_at, zone: input.zone, entries: Vec::new() };
    list.sun(Happening::Ready, c1.tt.plus(-60.0 * SET_UP_MIN), say::ready());
    list.sun(Happening::FirstContact, c1.tt, say::first_contact(clock_hour(c1.vertex_angle_deg)));
    if let Some(tt) = local.sunrise {
        list.sun(Happening::Sunrise, tt, say::sunrise());
    }
    if let Some(tt) = local.sunset {
        list.sun(Happening::Sunset, tt, say::sunset());
    }
    if local.magnitude > 0.5 {
        let (coming, going) = (half_covered(&list.view_at, c1.tt, max.tt), half_covered(&list.view_at, c4.tt, max.tt));
        list.ground(Happening::HalfCovered, coming, say::half_covered());
        list.sun(Happening::HalfFree, going, say::half_free());
    }
    match (local.phase, local.c2, local.c3) {
        (Phase::Total, Some(c2), Some(c3)) => {
            let window = input.decision.as_ref().ok();
            before_totality(&mut list, input, c2.tt, c2.vertex_angle_deg);
            match input.decision {
                Ok(window) => inside_window(&mut list, input, window, (c2.tt, max.tt, c3.tt), c2.vertex_angle_deg),
                Err(reason) => {
                    let why = window_words::why_none(reason);
                    list.sun(Happening::SecondContact, c2.tt, say::totality_begins(Some(&why)));
                    list.ground(Happening::Maximum, middle(c2.tt, max.tt, c3.tt), say::maximum_without_window());
                }
            }
            let hour = clock_hour(c3.vertex_angle_deg);
            list.sun(Happening::ThirdContact, c3.tt, say::totality_ends(hour, window.is_some()));
            after_totality(&mut list, input, c3.tt);
        }
        (Phase::Annular, Some(c2), Some(c3)) => {
            list.sun(Happening::SecondContact, c2.tt, say::ring_closes());
            list.sun(Happening::Maximum, max.tt, say::ring_middle());
            list.sun(Happening::ThirdContact, c3.tt, say::ring_opens());
        }
        _ => list.sun(Happening::Maximum, max.tt, say::partial(local.obscuration)),
    }
    list.sun(Happening::FourthContact, c4.tt, say::fourth_contact(local.phase == Phase::Total));
    list.finish(input.decision.as_ref().ok())
}

/// When half the diameter is covered, between an outer contact and maximum.
fn half_covered(view_at: &impl Fn(Tt) -> View, contact: Tt, max: Tt) -> Tt {
    let (mut outer, mut inner) = (contact.0, max.0);
    for _ in 0..40 {
        let middle = 0.5 * (outer + inner);
        if view_at(Tt(middle)).magnitude() < 0.5 { outer = middle } else { inner = middle }
    }
    Tt(0.5 * (outer + inner))
}

/// The maximum, or the middle of totality where the Moon's edge is so uneven that the maximum lies outside it: near the edge of
/// the path a valley can end totality before the discs are closest.
fn middle(c2: Tt, max: Tt, c3: Tt) -> Tt {
    if (c2.0..=c3.0).contains(&max.0) { max } else { c2.plus(0.5 * (c3 - c2)) }
}

/// Whether nobody is told to look for shadow bands before totality, and after it: where horizon or skyline keep the Sun from the
/// place there are none, and where there is no window at all the seconds about totality are for nothing but filters.
fn without_bands(decision: &Decision) -> [bool; 2] {
    decision.as_ref().map_or([true; 2], |window| [window.rises_late, window.sets_early])
}

fn before_totality<V: Fn(Tt) -> View>(list: &mut List<V>, input: &TimelineInput, c2: Tt, vertex_angle_deg: f64) {
    let window = input.decision.is_ok();
    list.ground(Happening::ThinLight, c2.plus(-900.0), say::thin_light(window));
    // Far from the Sun itself, and so that whoever scans the sky at that azimuth comes nowhere near it.
    let far = |p: &PlanetBefore| {
        p.object.from_sun_deg >= BARE_EYES_FROM_SUN_DEG && is_far_from_sun(&(list.view_at)(p.tt), p.object.azimuth_deg)
    };
    if let Some(PlanetBefore { tt, object }) = input.planet.filter(far) {
        let words = say::bright_planet(object.body, object.azimuth_deg, object.altitude_deg, object.from_sun_deg);
        list.bare(Happening::BrightPlanet, tt, words, (object.azimuth_deg, object.altitude_deg));
    }
    list.ground(Happening::Cooling, c2.plus(-300.0), say::cooling());
    if let Some(shadow) = input.shadow {
        let (tt, azimuth_deg) = (c2.plus(-120.0), shadow.arrival_azimuth_deg);
        // Between now and second contact the Sun moves by half a degree at most.
        if is_far_from_sun(&(list.view_at)(tt), azimuth_deg) && is_far_from_sun(&(list.view_at)(c2), azimuth_deg) {
            let edge = shadow.edge_altitude_deg.iter().find(|e| e.seconds_before_c2 == 30.0);
            let words = say::shadow_comes(azimuth_deg, edge.map(|e| e.altitude_deg), &shadow.layers);
            list.bare(Happening::ShadowComes, tt, words, (azimuth_deg, 5.0));
        } else {
            list.ground(Happening::ShadowComes, tt, say::shadow_comes_from_the_sun());
        }
    }
    if let Some(bands) = input.bands.filter(|_| !without_bands(input.decision)[0]) {
        let words = say::bands_before(bands.class.word(), bands.band_azimuth_deg, bands.drift.as_ref());
        list.ground(Happening::BandsBefore, c2.plus(-60.0), words);
    }
    list.sun(Happening::LastLight, c2.plus(-15.0), say::last_light(clock_hour(vertex_angle_deg), window));
}

fn inside_window<V: Fn(Tt) -> View>(
    list: &mut List<V>,
    input: &TimelineInput,
    window: &Window,
    (c2, max, c3): (Tt, Tt, Tt),
    vertex_angle_c2_deg: f64,
) {
    list.sun(Happening::SecondContact, c2, say::totality_begins(None));
    list.sun(Happening::FilterOff, window.off, say::filter_off(window));
    if let Some(limb) = input.limb {
        let covered = c2.plus(limb.chromosphere_after_c2_s);
        // What shows only to bare eyes is said only for moments inside the window.
        if !limb.chromosphere_throughout && window.holds(covered) {
            list.sun(Happening::RimCovered, covered, say::rim_covered(clock_hour(vertex_angle_c2_deg)));
        }
        // A whole second, rounded to the early side, and never after the filters are on.
        let sign = whole_second(c3.plus(-limb.look_away_lead_s), false);
        let sign = Tt(sign.0.clamp(window.off.0, window.on.0));
        let words = say::look_away(
            limb.look_away_clock_hour,
            limb.look_away_lead_s,
            limb.look_away_spread_s.max(1.0),
            limb.look_away_lead_s >= c3 - c2,
        );
        list.sun(Happening::LookAway, sign, words);
    }
    let held = window.holds(max);
    let middle = if held { max } else { window.off.plus(0.5 * window.length_s()) };
    list.sun(Happening::Maximum, middle, say::maximum(held, &seen_at_maximum(input), input.corona));
    list.sun(Happening::FilterOn, window.on, say::filter_on(window));
}

fn after_totality<V: Fn(Tt) -> View>(list: &mut List<V>, input: &TimelineInput, c3: Tt) {
    let tt = c3.plus(5.0);
    let away = input
        .shadow
        .map(|s| s.departure_azimuth_deg)
        .filter(|&a| is_far_from_sun(&(list.view_at)(tt), a) && is_far_from_sun(&(list.view_at)(c3.plus(120.0)), a));
    let bands = input.bands.filter(|_| !without_bands(input.decision)[1]);
    let words = say::shadow_leaves(away, bands.map(|b| b.band_azimuth_after_c3_deg));
    match away {
        Some(azimuth_deg) => list.bare(Happening::BandsAfter, tt, words, (azimuth_deg, 5.0)),
        None => list.ground(Happening::BandsAfter, tt, words),
    }
}

/// Planets and stars to find at maximum: name, direction, height.
fn seen_at_maximum(input: &TimelineInput) -> Vec<String> {
    let visible = input.sky.unwrap_or_default().iter().filter(|object| object.visible).take(5);
    visible
        .map(|o| format!("{} {} {:.0}° high", o.body, compass_point(o.azimuth_deg), o.apparent_altitude_deg))
        .collect()
}

struct List<V: Fn(Tt) -> View> {
    view_at: V,
    zone: Tz,
    entries: Vec<TimelineEntry>,
}

impl<V: Fn(Tt) -> View> List<V> {
    /// An entry about the Sun itself.
    fn sun(&mut self, happening: Happening, tt: Tt, words: Words) {
        let view = (self.view_at)(tt);
        let place = (view.sun_azimuth_deg, view.sun_apparent_altitude_deg);
        // Below by more than the Sun's radius and the refraction's doubt: sunrise and sunset themselves are not meant.
        let words = if place.1 < -0.4 {
            let add = |text: String| format!("{text} {}", say::SUN_DOWN);
            Words { detail: add(words.detail), short: add(words.short), ..words }
        } else {
            words
        };
        self.add(happening, tt, words, Some(place), Some(Eyes::Filtered));
    }

    /// An entry that is watched on the ground, or heard.
    fn ground(&mut self, happening: Happening, tt: Tt, words: Words) {
        self.add(happening, tt, words, None, None);
    }

    /// An entry that bare eyes watch far from the Sun.
    fn bare(&mut self, happening: Happening, tt: Tt, words: Words, place: (f64, f64)) {
        self.add(happening, tt, words, Some(place), Some(Eyes::Bare));
    }

    fn add(&mut self, happening: Happening, instant: Tt, words: Words, look: Option<(f64, f64)>, eyes: Option<Eyes>) {
        self.entries.push(TimelineEntry {
            happening,
            tt: instant.rfc3339(),
            utc: instant.to_utc().to_rfc3339_opts(SecondsFormat::Millis, true),
            local: local_time(instant, self.zone),
            title: words.title,
            detail: words.detail,
            short: words.short,
            azimuth_deg: look.map(|l| l.0),
            altitude_deg: look.map(|l| l.1),
            eyes,
            filter: FilterState::On,
            instant,
        });
    }

    fn finish(mut self, window: Option<&Window>) -> Vec<TimelineEntry> {
        self.entries.sort_by(|a, b| a.instant.0.total_cmp(&b.instant.0));
        for entry in self.entries.iter_mut().filter(|e| window.is_some_and(|w| w.holds(e.instant))) {
            entry.filter = FilterState::Off;
            entry.eyes = entry.eyes.map(|_| Eyes::Bare);
        }
        self.entries
    }
}

/// Local civil time of an instant, RFC 3339 with milliseconds and offset.
pub fn local_time(tt: Tt, zone: Tz) -> String {
    tt.to_utc().with_timezone(&zone).to_rfc3339_opts(SecondsFormat::Millis, false)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms: a quarter turn on the horizon, straight up, the same place.
    #[test]
    fn angles_on_the_sky() {
        assert!((angle_between_deg((0.0, 0.0), (90.0, 0.0)) - 90.0).abs() < 1e-9);
        assert!((angle_between_deg((10.0, 20.0), (123.0, 90.0)) - 70.0).abs() < 1e-9);
        assert!(angle_between_deg((350.0, 5.0), (-10.0, 5.0)) < 1e-5);
    }
}
