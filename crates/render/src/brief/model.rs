//! Everything a brief's page says, worded and formatted, in typed fields.
//!
//! The page template only places these; it words nothing itself, so what is said can be tested without typesetting. Two rules are kept
//! here by construction: a filter-OFF window exists only where the engine decided one inside the path of totality, and every text is cut
//! to a length that the page can hold.

use chrono::{DateTime, FixedOffset, NaiveDate, Utc};
use noonfall_scoring::outlook::limb::clock_hour;
use noonfall_scoring::outlook::words::dial;
use noonfall_shadow::geodesy::compass_point;
use serde::Serialize;

use super::facts::{BriefFacts, CloudFacts, ContactFacts, WayFacts};
use noonfall_words::numbers::{
    Rounding, capital, clean, clock, clock_minute, compass_words, coordinates, date, drive, duration, fists, percent,
    percent_interval, utc_offset, weekday_date, zone_short,
};
use noonfall_words::safety;
use noonfall_words::{Seen, WindowFacts};

/// The most characters kept of a name.
pub const NAME_MOST: usize = 96;
/// The most things to watch for that are printed.
pub const WATCH_MOST: usize = 10;
/// The same on a page that has neither clouds nor a fallback to speak of.
pub const WATCH_MOST_WITHOUT: usize = 13;

const CLEAR_LINE: &str = "Clear line to the Sun";

/// One page, ready to be placed.
#[derive(Clone, Debug, PartialEq, Serialize)]
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
    /// What is seen here: `total`, `annular`, `partial`, `nothing`.
    pub seen: String,
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
#[derive(Clone, Debug, PartialEq, Serialize)]
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
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Headline {
    /// What it is.
    pub label: String,
    /// The fact.
    pub value: String,
    /// A line under it.
    pub note: String,
}

/// Filter ON and OFF.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
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
#[derive(Clone, Debug, PartialEq, Serialize)]
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
#[derive(Clone, Debug, PartialEq, Serialize)]
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
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WatchLine {
    /// Local clock.
    pub time: String,
    /// What and where.
    pub what: String,
}

/// A mark on the Sun's limb, for a clock face with the zenith up.
#[derive(Clone, Debug, PartialEq, Serialize)]
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
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Picture {
    /// The SVG document; reaches the page as a file, not as part of the data.
    #[serde(skip)]
    pub svg: String,
    /// What it shows, for screen readers.
    pub alt: String,
    /// Caption.
    pub caption: String,
}

impl BriefModel {
    /// Words the facts of one site.
    ///
    /// A figure that is not a finite number is treated as missing, so that none can reach the page.
    pub fn from_facts(facts: &BriefFacts) -> BriefModel {
        let facts = &sound(facts.clone());
        let window = facts.window.is_ok();
        let name = match clean(&facts.name, NAME_MOST) {
            empty if empty.is_empty() => "Unnamed site".to_owned(),
            name => name,
        };
        let reference = facts.max.or(facts.c1).map(|contact| contact.utc);
        let instant =
            reference.unwrap_or_else(|| facts.eclipse_date.and_hms_opt(12, 0, 0).unwrap_or_default().and_utc());
        let local_day = instant.with_timezone(&facts.zone).date_naive();
        let clocks = Clocks {
            zone: facts.zone,
            local_day,
            utc_day: instant.date_naive(),
            short: zone_short(instant, facts.zone),
        };

        let kind = capital(&clean(&facts.eclipse_kind, 24));
        let filters = filters(facts, &clocks);
        let foot = foot(facts);
        BriefModel {
            language: "en".into(),
            title: format!("{name}: brief for the solar eclipse of {}", date(facts.eclipse_date)),
            document_date: facts.eclipse_date,
            eclipse: format!("{kind} solar eclipse"),
            day: weekday_date(local_day),
            place: Place {
                name: name.clone(),
                coordinates: match facts.elevation_m.filter(|metres| metres.is_finite()) {
                    Some(metres) => format!("{}, {metres:.0} m", coordinates(facts.lat_deg, facts.lon_deg)),
                    None => coordinates(facts.lat_deg, facts.lon_deg),
                },
                clock: clock_named(instant, facts.zone),
                rank: facts.rank.map(|(rank, of)| format!("Rank {rank} of {of}")),
            },
            seen: match facts.seen {
                Seen::Total => "total",
                Seen::Annular => "annular",
                Seen::Partial => "partial",
                Seen::Nothing => "nothing",
            }
            .into(),
            rejected: rejected(facts),
            headline: headline(facts, &clocks),
            contacts: contacts(facts, &clocks),
            local_heading: format!("{}, {}", clocks.short, short_day(local_day)),
            utc_heading: format!("UTC, {}", short_day(clocks.utc_day)),
            sun: sun_stand(facts, &clocks),
            watch: watch(facts, &clocks),
            filters,
            limb: limb(facts),
            look_away: look_away(facts, &clocks),
            odds: odds(facts),
            fallback: fallback(facts, &clocks),
            still_open: still_open(facts),
            bring: safety::what_to_bring(window).into_iter().map(str::to_owned).collect(),
            cautions: (facts.near_limit.iter().map(|words| clean(words, 240)))
                .chain(safety::cautions(window).into_iter().map(|caution| caution.text.to_owned()))
                .collect(),
            map: facts.map_svg.as_ref().map(|svg| Picture {
                svg: svg.clone(),
                alt: format!("Regional map around {name}"),
                caption: "Where to stand".into(),
            }),
            sky: facts.sky_svg.as_ref().filter(|_| window).map(|svg| Picture {
                svg: svg.clone(),
                alt: format!("Sky in totality above {name}, zenith up"),
                caption: "The sky in totality, zenith up".into(),
            }),
            edge: facts.edge_svg.as_ref().filter(|_| window).map(|svg| Picture {
                svg: svg.clone(),
                alt: facts.edge_says.clone(),
                caption: "The Moon's edge at the last and the first light".into(),
            }),
            foot,
            invented: facts.invented.then(|| "Contains invented demo data: not for planning a real trip".into()),
        }
    }
}

/// The facts without any part that holds a figure that is not a number.
fn sound(mut facts: BriefFacts) -> BriefFacts {
    let fine = |figures: &[f64]| figures.iter().all(|figure| figure.is_finite());
    for contact in [&mut facts.c1, &mut facts.c2, &mut facts.max, &mut facts.c3, &mut facts.c4] {
        *contact = contact.filter(|c| fine(&[c.sun_apparent_altitude_deg, c.sun_azimuth_deg, c.vertex_angle_deg]));
    }
    // A window without totality, or one that is closed, is none, whatever the caller says.
    let open = |window: &WindowFacts| facts.seen == Seen::Total && window.off_utc < window.on_utc;
    if facts.window.as_ref().is_ok_and(|window| !open(window)) {
        facts.window = Err("There is no totality here.".to_owned());
    }
    facts.skyline = facts.skyline.filter(|skyline| fine(&[skyline.margin_max_deg, skyline.margin_least_deg]));
    facts.cloud = facts
        .cloud
        .filter(|cloud| fine(&[cloud.clear_line_of_sight, cloud.low_95, cloud.high_95, cloud.cloud_fraction]));
    facts.fallback = facts.fallback.filter(|fallback| fine(&[fallback.drive_hours, fallback.traffic]));
    facts.way = facts.way.filter(|way| fine(&[way.drive_hours]));
    if let Some(fallback) = &mut facts.fallback {
        fallback.away = fallback.away.filter(|&(km, bearing)| fine(&[km, bearing]));
        fallback.joint_chance = fallback.joint_chance.filter(|&(low, high)| fine(&[low, high]));
    }
    for figure in [&mut facts.lat_deg, &mut facts.lon_deg, &mut facts.duration_s, &mut facts.obscuration] {
        if !figure.is_finite() {
            *figure = 0.0;
        }
    }
    for figure in [&mut facts.delta_t.seconds, &mut facts.delta_t.sigma_s, &mut facts.delta_t.shift_km] {
        if !figure.is_finite() {
            *figure = 0.0;
        }
    }
    facts
}

/// The clocks of one page.
struct Clocks {
    zone: chrono_tz::Tz,
    local_day: NaiveDate,
    utc_day: NaiveDate,
    short: String,
}

impl Clocks {
    fn local(&self, utc: DateTime<Utc>) -> String {
        clock(utc, self.zone, self.local_day, Rounding::Nearest)
    }
    fn minute(&self, utc: DateTime<Utc>) -> String {
        clock_minute(utc, self.zone, self.local_day)
    }
    fn utc(&self, utc: DateTime<Utc>) -> String {
        clock(utc, chrono_tz::UTC, self.utc_day, Rounding::Nearest)
    }
}

fn short_day(day: NaiveDate) -> String {
    day.format("%-d %b").to_string()
}

fn clock_named(instant: DateTime<Utc>, zone: chrono_tz::Tz) -> String {
    let (short, offset) = (zone_short(instant, zone), utc_offset(instant, zone));
    if short == offset { format!("{} ({offset})", zone.name()) } else { format!("{} ({short}, {offset})", zone.name()) }
}

/// Why the ranking rejects the place.
fn rejected(facts: &BriefFacts) -> Option<String> {
    let reasons: Vec<String> = facts.rejected.iter().map(|reason| clean(reason, 160)).collect();
    (!reasons.is_empty()).then(|| format!("{}.", reasons.join("; ")))
}

fn headline(facts: &BriefFacts, clocks: &Clocks) -> Vec<Headline> {
    let mut lines = Vec::new();
    let line = |label: &str, value: String, note: String| Headline { label: label.into(), value, note };
    match (facts.seen, facts.c2, facts.max) {
        (Seen::Total, Some(c2), _) => {
            if facts.window.is_err() {
                lines.push(line("No time for bare eyes", "filter ON".into(), "from beginning to end".into()));
            }
            lines.push(line(
                "Totality begins",
                clocks.local(c2.utc),
                format!("{} · {} UTC", clocks.short, clocks.utc(c2.utc)),
            ));
            lines.push(line("It lasts", duration(facts.duration_s), "from C2 to C3".into()));
        }
        (Seen::Annular, Some(c2), _) => {
            lines.push(line(
                "Ring begins",
                clocks.local(c2.utc),
                format!("{} · {} UTC", clocks.short, clocks.utc(c2.utc)),
            ));
            lines.push(line("It lasts", duration(facts.duration_s), "filter ON throughout".into()));
        }
        (_, _, Some(max)) if facts.seen != Seen::Nothing => {
            lines.push(line("No totality here", "filter ON".into(), "from beginning to end".into()));
            lines.push(line(
                "Most covered",
                clocks.local(max.utc),
                format!("{} · {} covered", clocks.short, percent(facts.obscuration)),
            ));
        }
        _ => lines.push(line("No eclipse here", "nothing to see".into(), "choose a place inside the path".into())),
    }
    if let Some(max) = facts.max {
        let value = if max.above_horizon {
            format!("{:.0}° up, {}", max.sun_apparent_altitude_deg, compass_point(max.sun_azimuth_deg))
        } else {
            "below the horizon".into()
        };
        let note = if max.above_horizon {
            format!("{} at arm's length", fists(max.sun_apparent_altitude_deg))
        } else {
            "not visible".into()
        };
        lines.push(line("The Sun stands", value, note));
    }
    // What is not known is said, in one cell: the others have its room.
    let grey = facts.fallback.as_ref().map(|fallback| {
        line(
            "If grey, leave by",
            match fallback.leave_by_utc.or(fallback.latest_utc) {
                Some(leave) => clocks.minute(leave),
                None => "no time set".into(),
            },
            format!("for {}", clean(&fallback.name, 34)),
        )
    });
    let clear = facts.cloud.as_ref().map(|cloud| line(CLEAR_LINE, percent(cloud.clear_line_of_sight), interval(cloud)));
    match (clear, grey) {
        (None, None) => lines.push(line("Fallback, clear sky", "not known".into(), "watch the forecast".into())),
        (clear, grey) => {
            lines.push(clear.unwrap_or_else(|| line(CLEAR_LINE, "not known".into(), "watch the forecast".into())));
            lines.push(
                grey.unwrap_or_else(|| line("If grey", "no fallback set".into(), "choose one beforehand".into())),
            );
        }
    }
    lines
}

fn filters(facts: &BriefFacts, clocks: &Clocks) -> Filters {
    let edge = |contact: Option<ContactFacts>| contact.map_or_else(String::new, |contact| clocks.local(contact.utc));
    let (from, to) = (edge(facts.c1), edge(facts.c4));
    match &facts.window {
        Ok(window) => Filters::Window {
            off: clocks.local(window.off_utc),
            on: clocks.local(window.on_utc),
            length: duration((window.on_utc - window.off_utc).num_seconds() as f64),
            margin: window.kept.clone(),
            from,
            to,
        },
        Err(why) => Filters::AlwaysOn { reason: why.clone(), from, to },
    }
}

fn contacts(facts: &BriefFacts, clocks: &Clocks) -> Vec<ContactLine> {
    let interior = match facts.seen {
        Seen::Total => ("totality begins", "totality ends"),
        _ => ("ring begins", "ring ends"),
    };
    // At the Moon's measured edge totality may end before the discs are closest, or begin after it. Where eyes stay behind
    // filters throughout, the middle of totality is nothing to wait for.
    let inside = (facts.seen != Seen::Total || facts.window.is_ok())
        && facts
            .c2
            .zip(facts.c3)
            .is_none_or(|(c2, c3)| facts.max.is_none_or(|max| c2.utc <= max.utc && max.utc <= c3.utc));
    let mut rows = [
        ("C1", "first bite", facts.c1),
        ("C2", interior.0, facts.c2),
        ("max", if inside { "middle of it" } else { "discs closest" }, facts.max),
        ("C3", interior.1, facts.c3),
        ("C4", "last bite", facts.c4),
    ];
    rows.sort_by_key(|(_, _, contact)| contact.map(|contact| contact.utc));
    rows.into_iter()
        .filter_map(|(label, meaning, contact)| contact.map(|contact| (label, meaning, contact)))
        .map(|(label, meaning, contact)| ContactLine {
            label: label.into(),
            meaning: meaning.into(),
            local: clocks.local(contact.utc),
            utc: clocks.utc(contact.utc),
            height: if contact.above_horizon {
                format!("{:.1}°", contact.sun_apparent_altitude_deg)
            } else {
                "down".into()
            },
            direction: format!("{} {:.0}°", compass_point(contact.sun_azimuth_deg), contact.sun_azimuth_deg),
        })
        .collect()
}

fn sun_stand(facts: &BriefFacts, clocks: &Clocks) -> Option<SunStand> {
    let max = facts.max.filter(|max| max.above_horizon)?;
    let altitude = max.sun_apparent_altitude_deg;
    let skyline = match &facts.skyline {
        None => "Skyline not checked: no terrain data given.".to_owned(),
        Some(skyline) => {
            let source = clean(&skyline.source, 32);
            let least = skyline.margin_least_deg;
            let mut text = if least < 0.0 {
                format!("The skyline hides the Sun during totality (by {:.1}°).", -least)
            } else if least < 1.0 {
                format!("Thin margin: only {least:.1}° between Sun and skyline.")
            } else {
                format!("Clears the skyline by {least:.1}°.")
            };
            if let Some(lost) = skyline.sun_lost_utc {
                text.push_str(&format!(" Behind the skyline from {}.", clocks.minute(lost)));
            }
            if !source.is_empty() {
                text.push_str(&format!(" ({source})"));
            }
            text
        }
    };
    Some(SunStand {
        azimuth_deg: max.sun_azimuth_deg,
        altitude_deg: altitude,
        skyline_deg: facts.skyline.as_ref().map(|skyline| altitude - skyline.margin_max_deg),
        direction: format!(
            "Towards {}, {:.0}° from true north",
            compass_words(max.sun_azimuth_deg),
            max.sun_azimuth_deg
        ),
        height: format!("{altitude:.0}° up, {} at arm's length", fists(altitude)),
        skyline,
    })
}

/// The timeline's lines, as many as the page holds: what matters most stays, and of equals the earlier.
fn watch(facts: &BriefFacts, clocks: &Clocks) -> Vec<WatchLine> {
    let mut given: Vec<_> = facts.watch.iter().collect();
    given.sort_by_key(|item| (item.priority, item.utc));
    given.truncate(if facts.cloud.is_none() && facts.fallback.is_none() { WATCH_MOST_WITHOUT } else { WATCH_MOST });
    given.sort_by_key(|item| item.utc);
    given.into_iter().map(|item| WatchLine { time: clocks.local(item.utc), what: clean(&item.what, 130) }).collect()
}

fn limb(facts: &BriefFacts) -> Vec<LimbMark> {
    let words: [(&str, &str, Option<ContactFacts>); 4] = match facts.seen {
        Seen::Total => [
            ("C1", "first bite", facts.c1),
            ("C2", "last light", facts.c2),
            ("C3", if facts.window.is_ok() { "red rim, then first light" } else { "first light" }, facts.c3),
            ("C4", "last bite", facts.c4),
        ],
        Seen::Annular => [
            ("C1", "first bite", facts.c1),
            ("C2", "ring closes", facts.c2),
            ("C3", "ring opens", facts.c3),
            ("C4", "last bite", facts.c4),
        ],
        Seen::Partial | Seen::Nothing => {
            [("C1", "first bite", facts.c1), ("", "", None), ("", "", None), ("C4", "last bite", facts.c4)]
        }
    };
    words
        .into_iter()
        .filter_map(|(label, meaning, contact)| {
            contact.filter(|contact| contact.above_horizon).map(|contact| (label, meaning, contact))
        })
        .map(|(label, meaning, contact)| LimbMark {
            label: label.into(),
            meaning: meaning.into(),
            clockwise_deg: (-contact.vertex_angle_deg).rem_euclid(360.0),
            hour: dial(clock_hour(contact.vertex_angle_deg)),
        })
        .collect()
}

fn look_away(facts: &BriefFacts, clocks: &Clocks) -> Option<String> {
    let sign = facts.look_away.as_ref().filter(|_| facts.window.is_ok())?;
    Some(format!("Near {}: {}", clocks.local(sign.utc), clean(&sign.words, 300)))
}

fn interval(cloud: &CloudFacts) -> String {
    format!("95 % interval {}", percent_interval(cloud.low_95, cloud.high_95))
}

fn odds(facts: &BriefFacts) -> Vec<String> {
    let Some(cloud) = &facts.cloud else {
        return Vec::new();
    };
    let mut line = format!(
        "{} ({}): mean cloud {:.0} %",
        percent(cloud.clear_line_of_sight),
        interval(cloud),
        cloud.cloud_fraction.clamp(0.0, 1.0) * 100.0
    );
    if let Some(years) = cloud.years {
        line.push_str(&format!(", {years} years of records"));
    }
    let source = clean(&cloud.source, 70);
    if !source.is_empty() {
        line.push_str(&format!(", {source}"));
    }
    if cloud.invented && !source.to_lowercase().contains("invented") {
        line.push_str(", INVENTED for the demo");
    }
    line.push('.');
    let mut lines = vec![line];
    lines.push("A climatology, not a forecast: look at the forecast in the last days.".into());
    lines
}

fn fallback(facts: &BriefFacts, clocks: &Clocks) -> Vec<String> {
    let mut lines: Vec<String> = facts.way.iter().flat_map(way).collect();
    lines.extend(facts.no_way.iter().filter(|_| facts.way.is_none()).map(|words| clean(words, 160)));
    let Some(fallback) = &facts.fallback else { return lines };
    lines.push(format!(
        "If grey: {}{}, about {} on free roads{}.",
        clean(&fallback.name, 60),
        fallback.away.map_or_else(String::new, |(km, bearing)| format!(", {km:.0} km {}", compass_words(bearing))),
        drive(fallback.drive_hours),
        over_border(fallback.border.as_ref())
    ));
    if let Some(leave) = fallback.leave_by_utc {
        lines.push(format!("Leave by {} {} to be set up before first contact.", clocks.minute(leave), clocks.short));
    }
    if let Some(latest) = fallback.latest_utc {
        lines.push(format!(
            "After {} {} it cannot be reached before totality: stay.",
            clocks.minute(latest),
            clocks.short
        ));
    }
    // Common practice, no source.
    lines.push(format!(
        "Departures take drives {} times as long as on free roads. After totality all leave at once: worse.",
        fallback.traffic
    ));
    if let Some((low, high)) = fallback.joint_chance {
        let (low, high) = (low.min(high), low.max(high));
        lines.push(if (high - low) < 0.005 {
            format!("Clear at one of the two: {}.", percent(high))
        } else {
            format!("Clear at one of the two: {}.", percent_interval(low, high))
        });
    }
    lines
}

/// What nobody has given is said in a line each, with what to do about it.
fn still_open(facts: &BriefFacts) -> Vec<String> {
    let mut lines = Vec::new();
    if facts.cloud.is_none() {
        lines.push("No cloud figures for this place: watch the forecast from a week before.".into());
    }
    if facts.fallback.is_none() {
        lines.push("No fallback is set: choose a second place inside the path and when to leave for it.".into());
    }
    lines
}

/// The way to the site from where the group sleeps.
fn way(way: &WayFacts) -> [String; 1] {
    let minute = |t: &DateTime<FixedOffset>| t.format("%H:%M").to_string();
    // A long drive begins the day before.
    let day = |t: &DateTime<FixedOffset>| {
        if t.date_naive() == way.latest.date_naive() { String::new() } else { t.format(" on %-d %B").to_string() }
    };
    [format!(
        "From {}, {} on free roads{}: leave by {}{} to be set up before first contact, by {} at the very latest (clocks there).",
        clean(&way.base, 40),
        drive(way.drive_hours),
        over_border(way.border.as_ref()),
        minute(&way.leave_by),
        day(&way.leave_by),
        minute(&way.latest)
    )]
}

fn over_border(border: Option<&[String; 2]>) -> String {
    border.map_or_else(String::new, |[from, to]| format!(", over a border ({from} to {to})"))
}

fn foot(facts: &BriefFacts) -> Vec<String> {
    let dt = &facts.delta_t;
    let mut lines = vec![format!(
        "Delta T {:.2} ± {:.2} s ({}); one sigma moves the path {:.2} km in longitude.",
        dt.seconds,
        dt.sigma_s,
        clean(&dt.origin, 80),
        dt.shift_km
    )];
    if facts.utc_is_predicted {
        lines.push("UTC held at the last known leap second.".into());
    }
    let edge_words = clean(&facts.edge_words, 200);
    if !edge_words.is_empty() {
        lines.push(edge_words);
    }
    lines.push("Directions are from true north, not magnetic.".into());
    if !facts.credits.is_empty() {
        lines.push(format!(
            "Data: {}.",
            facts.credits.iter().map(|credit| clean(credit, 80)).collect::<Vec<_>>().join("; ")
        ));
    }
    let made_by = clean(&facts.made_by, 120);
    if !made_by.is_empty() {
        lines.push(format!("{made_by}."));
    }
    lines
}
