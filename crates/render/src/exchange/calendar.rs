//! iCalendar (RFC 5545): the contacts of each site as events, with alarms before C1, C2 and C3.
//!
//! Times are UTC, so that no reader needs a zone table; the local clock stands in words in each event. The format holds whole seconds only:
//! contacts are rounded to the nearest, and every event says that the sky decides.

use chrono::{DateTime, Duration, Utc};
use icalendar::{Alarm, Calendar, Component, Event, EventLike, Property, Trigger};

use super::slug::{fingerprint, slug};
use super::{ExportContact, ExportHead, ExportSite};
use crate::brief::Seen;
use crate::wording::{Rounding, length, local_stamp, to_second};

/// When alarms ring, seconds before a contact.
const BEFORE_C1_S: [i64; 2] = [30 * 60, 5 * 60];
const BEFORE_C2_S: [i64; 2] = [15 * 60, 2 * 60];
const BEFORE_C3_S: [i64; 1] = [20];

const ALARM_NOTE: &str =
    "Alarms follow the device's own clock and may ring late: set it by the network, and let the sky decide.";

/// Control characters out; the library escapes the rest.
fn text(words: &str) -> String {
    words.chars().filter(|c| !c.is_control()).collect()
}

struct Entry<'a> {
    site: &'a ExportSite,
    contact: &'a ExportContact,
    ends: DateTime<Utc>,
    summary: String,
    words: String,
    alarms: Vec<(i64, String)>,
}

/// The calendar of the given sites.
///
/// `stamp` is the instant written as the time of making (DTSTAMP); give one that depends on the data, not on the clock, and the same input
/// gives the same bytes.
pub fn contacts(head: &ExportHead, sites: &[ExportSite], stamp: DateTime<Utc>) -> String {
    let mut calendar = Calendar::new();
    // The library writes its own product identifier unless told otherwise.
    calendar.properties.retain(|property| property.key() != "PRODID");
    calendar.append_property(Property::new("PRODID", "-//noonfall//contacts//EN"));
    calendar.append_property(Property::new("METHOD", "PUBLISH"));
    calendar.name(&text(&head.title()));
    for site in sites {
        for entry in entries(site) {
            calendar.push(event(head, &entry, stamp));
        }
    }
    without_alarm_stamps(&calendar.to_string())
}

/// The library gives each alarm an instant of making and a random identifier, which RFC 5545 does not ask of alarms (section 3.6.6) and which
/// would make two runs differ: both lines are left out.
fn without_alarm_stamps(text: &str) -> String {
    let mut in_alarm = false;
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive("\r\n") {
        match line.trim_end() {
            "BEGIN:VALARM" => in_alarm = true,
            "END:VALARM" => in_alarm = false,
            _ => {}
        }
        if !(in_alarm && (line.starts_with("DTSTAMP:") || line.starts_with("UID:"))) {
            out.push_str(line);
        }
    }
    out
}

/// `30 minutes`, `20 seconds`.
fn before(seconds: i64) -> String {
    if seconds % 60 == 0 { format!("{} minutes", seconds / 60) } else { format!("{seconds} seconds") }
}

fn entries(site: &ExportSite) -> Vec<Entry<'_>> {
    let mut list = Vec::new();
    let inside = site.seen == Seen::Total;
    let window = site.safe_window();
    let short = Duration::minutes(1);
    let mut push =
        |label: &str, ends: Option<DateTime<Utc>>, summary: &str, words: String, alarms: Vec<(i64, String)>| {
            if let Some(contact) = site.contact(label) {
                let down = if contact.above_horizon { "" } else { " (Sun below the horizon)" };
                list.push(Entry {
                    site,
                    contact,
                    ends: ends.unwrap_or(contact.utc + short),
                    summary: format!("{label} {summary}{down}"),
                    words,
                    alarms,
                });
            }
        };
    let alarms = |seconds: &[i64], what: &str| {
        seconds.iter().map(|&s| (s, format!("{} to {what}", before(s)))).collect::<Vec<_>>()
    };
    push("C1", None, "First bite", "Filter ON from here.".into(), alarms(&BEFORE_C1_S, "first contact; filters ready"));
    if inside {
        let words = match window {
            Some(window) => format!(
                "Filter OFF not before {}, and only when no bright Sun is left. Filter ON not later than {}.",
                local_stamp(to_second(window.off_utc, Rounding::Later), site.zone),
                local_stamp(to_second(window.on_utc, Rounding::Earlier), site.zone)
            ),
            None => "Totality is too short here for a safe window: filter ON throughout.".into(),
        };
        push(
            "C2",
            site.contact("C3").map(|c3| c3.utc),
            &format!("Totality begins, {}", length(site.totality_s)),
            words,
            alarms(&BEFORE_C2_S, "second contact; filter stays ON until no bright Sun is left"),
        );
        push(
            "C3",
            None,
            "Totality ends: filter ON",
            "Filter ON before the first bead of light.".into(),
            alarms(&BEFORE_C3_S, "third contact: filter ON"),
        );
    } else if site.seen == Seen::Annular {
        push(
            "C2",
            site.contact("C3").map(|c3| c3.utc),
            "Ring begins: filter stays ON",
            "Filter ON throughout.".into(),
            alarms(&BEFORE_C2_S, "second contact; filter stays ON"),
        );
        push(
            "C3",
            None,
            "Ring ends: filter stays ON",
            "Filter ON throughout.".into(),
            alarms(&BEFORE_C3_S, "third contact; filter stays ON"),
        );
    } else {
        push(
            "max",
            None,
            "Most covered: filter stays ON",
            "No totality here: filter ON throughout.".into(),
            Vec::new(),
        );
    }
    push("C4", None, "Last bite", "Filter ON to the end.".into(), Vec::new());
    list
}

fn event(head: &ExportHead, entry: &Entry<'_>, stamp: DateTime<Utc>) -> Event {
    let (site, contact) = (entry.site, entry.contact);
    let starts = to_second(contact.utc, Rounding::Nearest);
    let ends = to_second(entry.ends, Rounding::Nearest).max(starts + Duration::seconds(1));
    let place = format!("{:.5},{:.5}", site.lat_deg, site.lon_deg);
    let uid = format!(
        "{}-{}-{}-{}@noonfall",
        head.eclipse.format("%Y%m%d"),
        contact.label.to_lowercase(),
        slug(&site.name),
        fingerprint(&format!("{}|{place}", site.name))
    );
    let words = format!(
        "{} Local clock: {}. Sun {:.0}° up, azimuth {:.0}°. {} {} {}",
        entry.words,
        local_stamp(contact.utc, site.zone),
        contact.sun_apparent_altitude_deg,
        contact.sun_azimuth_deg,
        crate::safety::one_line(site.seen == Seen::Total),
        ALARM_NOTE,
        if head.invented { "Contains invented demo data." } else { "" }
    );
    let mut event = Event::new();
    event
        .uid(&uid)
        .timestamp(stamp)
        .starts(starts)
        .ends(ends)
        .summary(&text(&format!("{} — {}", entry.summary, site.name)))
        .location(&text(&site.name))
        .description(&text(words.trim_end()));
    event.append_property(Property::new("GEO", format!("{:.6};{:.6}", site.lat_deg, site.lon_deg)));
    event.append_property(Property::new("TRANSP", "TRANSPARENT"));
    for (seconds, what) in &entry.alarms {
        event.alarm(Alarm::display(
            &text(&format!("{what} — {}", site.name)),
            Trigger::before_start(Duration::seconds(*seconds)),
        ));
    }
    event.done()
}
