//! From numbers to the words of a brief, part by part.

use chrono::{DateTime, NaiveDate, Utc};
use noonfall_scoring::outlook::limb::clock_hour;
use noonfall_scoring::outlook::words::dial;
use noonfall_shadow::geodesy::compass_point;

use super::facts::BriefFacts;
use super::model::{
    BriefModel, ContactLine, Filters, Headline, LimbMark, NAME_MOST, Picture, Place, SunStand, WATCH_MOST,
    WATCH_MOST_WITHOUT, WatchLine,
};
use crate::contacts::{ContactFacts, meanings, on_limb};
use crate::numbers::{
    Rounding, at_arms_length, azimuth, clean, clock, clock_minute, compass_words, coordinates, date, duration, fists,
    percent, utc_offset, weekday_date, zone_short,
};
use crate::{Seen, WindowFacts};
use crate::{clouds, delta_t, drives, eclipse, edge, invented, origins, safety, seen, skyline, window};

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

        let filters = filters(facts, &clocks);
        let foot = foot(facts);
        BriefModel {
            language: crate::LANGUAGE.into(),
            title: format!("{name}: brief for the solar eclipse of {}", date(facts.eclipse_date)),
            document_date: facts.eclipse_date,
            eclipse: eclipse::name(&clean(&facts.eclipse_kind, 24)),
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
            odds: facts.cloud.as_ref().map_or_else(Vec::new, clouds::on_brief),
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
                caption: edge::PICTURE.into(),
            }),
            foot,
            invented: facts.invented.then(|| invented::ON_BRIEF.into()),
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
        facts.window = Err(window::NO_TOTALITY.to_owned());
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
    for figure in [&mut facts.delta_t.seconds, &mut facts.delta_t.sigma_s, &mut facts.delta_t.sigma_shift_km] {
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
            seen::BELOW_HORIZON.into()
        };
        let note = if max.above_horizon {
            at_arms_length(&fists(max.sun_apparent_altitude_deg))
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
    let clear = facts
        .cloud
        .as_ref()
        .map(|cloud| line(clouds::CLEAR_LINE, percent(cloud.clear_line_of_sight), clouds::interval(cloud)));
    match (clear, grey) {
        (None, None) => lines.push(line("Fallback, clear sky", "not known".into(), "watch the forecast".into())),
        (clear, grey) => {
            lines.push(
                clear.unwrap_or_else(|| line(clouds::CLEAR_LINE, "not known".into(), "watch the forecast".into())),
            );
            lines.push(
                grey.unwrap_or_else(|| line(drives::IF_GREY, "no fallback set".into(), "choose one beforehand".into())),
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
    // At the Moon's measured edge totality may end before the discs are closest, or begin after it. Where eyes stay behind
    // filters throughout, the middle of totality is nothing to wait for.
    let inside = (facts.seen != Seen::Total || facts.window.is_ok())
        && facts
            .c2
            .zip(facts.c3)
            .is_none_or(|(c2, c3)| facts.max.is_none_or(|max| c2.utc <= max.utc && max.utc <= c3.utc));
    let meanings = meanings(facts.seen, inside);
    let given = [facts.c1, facts.c2, facts.max, facts.c3, facts.c4];
    let mut rows: Vec<_> =
        meanings.into_iter().zip(given).map(|((label, meaning), contact)| (label, meaning, contact)).collect();
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
                seen::DOWN.into()
            },
            direction: format!("{} {}", compass_point(contact.sun_azimuth_deg), azimuth(contact.sun_azimuth_deg)),
        })
        .collect()
}

fn sun_stand(facts: &BriefFacts, clocks: &Clocks) -> Option<SunStand> {
    let max = facts.max.filter(|max| max.above_horizon)?;
    let altitude = max.sun_apparent_altitude_deg;
    let skyline = skyline::under_the_sun(facts.skyline.as_ref(), |utc| clocks.minute(utc));
    Some(SunStand {
        azimuth_deg: max.sun_azimuth_deg,
        altitude_deg: altitude,
        skyline_deg: facts.skyline.as_ref().map(|skyline| altitude - skyline.margin_max_deg),
        direction: format!(
            "Towards {}, {} from true north",
            compass_words(max.sun_azimuth_deg),
            azimuth(max.sun_azimuth_deg)
        ),
        height: format!("{altitude:.0}° up, {}", at_arms_length(&fists(altitude))),
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
    let given = [facts.c1, facts.c2, facts.c3, facts.c4];
    let words = on_limb(facts.seen, facts.window.is_ok()).into_iter().zip(given);
    words
        .filter_map(|(words, contact)| {
            let (label, meaning) = words?;
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

fn fallback(facts: &BriefFacts, clocks: &Clocks) -> Vec<String> {
    let mut lines: Vec<String> = facts.way.iter().map(drives::way).collect();
    lines.extend(facts.no_way.iter().filter(|_| facts.way.is_none()).map(|words| clean(words, 160)));
    let told = |fallback| drives::fallback(fallback, |utc| clocks.minute(utc), &clocks.short);
    lines.extend(facts.fallback.iter().flat_map(told));
    lines
}

/// What nobody has given is said in a line each, with what to do about it.
fn still_open(facts: &BriefFacts) -> Vec<String> {
    let mut lines = Vec::new();
    if facts.cloud.is_none() {
        lines.push(clouds::STILL_OPEN.into());
    }
    if facts.fallback.is_none() {
        lines.push(drives::STILL_OPEN.into());
    }
    lines
}

fn foot(facts: &BriefFacts) -> Vec<String> {
    let mut lines = vec![delta_t::on_brief(&facts.delta_t, &clean(&facts.delta_t.origin, 80))];
    if facts.utc_is_predicted {
        lines.push(delta_t::UTC_HELD.into());
    }
    let edge_words = clean(&facts.edge_words, 200);
    if !edge_words.is_empty() {
        lines.push(edge_words);
    }
    lines.push("Directions are from true north, not magnetic.".into());
    if !facts.credits.is_empty() {
        lines.push(origins::data(&facts.credits.iter().map(|credit| clean(credit, 80)).collect::<Vec<_>>()));
    }
    let made_by = clean(&facts.made_by, 120);
    if !made_by.is_empty() {
        lines.push(format!("{made_by}."));
    }
    lines
}
