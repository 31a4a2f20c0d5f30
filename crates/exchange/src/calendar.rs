//! iCalendar (RFC 5545): the contacts of each site as events, with an alarm before each of C1, C2 and filter ON.
//!
//! Times are UTC, so that no reader needs a zone table; the local clock stands in words in each event. The format holds whole seconds only:
//! contacts are rounded to the nearest, and every event says that the sky decides.

use chrono::{DateTime, Duration, Utc};
use icalendar::{Alarm, Calendar, Component, Event, EventLike, Property, Trigger};

use crate::slug::{fingerprint, slug};
use crate::{ExportHead, ExportSite};
use noonfall_words::numbers::{Rounding, to_second};
use noonfall_words::{self as words, Seen};

/// When alarms ring, seconds before a contact, and before filters are on again: few, since nobody hears the tenth.
const BEFORE_C1_S: i64 = 30 * 60;
const BEFORE_C2_S: i64 = 5 * 60;
const BEFORE_ON_S: i64 = 20;

/// Control characters out; the library escapes the rest.
fn text(words: &str) -> String {
    words.chars().filter(|c| !c.is_control()).collect()
}

struct Entry<'a> {
    site: &'a ExportSite,
    mark: &'static str,
    starts: DateTime<Utc>,
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
    refolded(&without_alarm_stamps(&calendar.to_string()))
}

/// Longest line of a calendar in octets, its end not counted (RFC 5545, section 3.1).
const LINE_OCTETS: usize = 75;

/// The same lines, folded anew: the library forgets the space that opens a continued line, which makes its last piece one octet too long
/// when the words end there.
fn refolded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.replace("\r\n ", "").split_terminator("\r\n") {
        let mut octets = 0;
        for letter in line.chars() {
            if octets + letter.len_utf8() > LINE_OCTETS {
                out.push_str("\r\n ");
                octets = 1;
            }
            out.push(letter);
            octets += letter.len_utf8();
        }
        out.push_str("\r\n");
    }
    out
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

/// The events of a site: the timeline's own lines, those of OFF told with second contact, and an event of its own for
/// filter ON.
fn entries(site: &ExportSite) -> Vec<Entry<'_>> {
    let window = site.safe_window();
    let line = |mark: &str| site.lines.iter().find(|line| line.mark == mark);
    let alarms = |seconds: i64, what: &str| vec![(seconds, words::calendar::alarm(seconds, what))];
    let totality = site.seen == Seen::Total || site.seen == Seen::Annular;
    let told = site.lines.iter().filter(|line| match line.mark {
        "OFF" => false,
        "ON" => window.is_some(),
        "max" => !totality,
        _ => true,
    });
    told.map(|told| {
        let mut said = told.detail.clone();
        let mut ends = told.utc + Duration::minutes(1);
        let alarms = match told.mark {
            "C1" => alarms(BEFORE_C1_S, words::calendar::TO_C1),
            "C2" => {
                ends = line("C3").map_or(ends, |c3| c3.utc);
                if let (Some(window), Some(off)) = (window, line("OFF")) {
                    said.push_str(&format!(" {}", words::calendar::window(window, &off.detail, site.zone)));
                }
                alarms(BEFORE_C2_S, words::calendar::TO_C2)
            }
            "ON" => alarms(BEFORE_ON_S, words::calendar::TO_ON),
            _ => Vec::new(),
        };
        // The device's own marks of the contacts; ON and OFF speak for themselves.
        let summary = if told.mark == "ON" { told.title.clone() } else { format!("{} {}", told.mark, told.title) };
        Entry { site, mark: told.mark, starts: told.utc, ends, summary, words: said, alarms }
    })
    .collect()
}

fn event(head: &ExportHead, entry: &Entry<'_>, stamp: DateTime<Utc>) -> Event {
    let site = entry.site;
    let starts = to_second(entry.starts, Rounding::Nearest);
    let ends = to_second(entry.ends, Rounding::Nearest).max(starts + Duration::seconds(1));
    let place = format!("{:.5},{:.5}", site.lat_deg, site.lon_deg);
    let uid = format!(
        "{}-{}-{}-{}@noonfall",
        head.eclipse.format("%Y%m%d"),
        entry.mark.to_lowercase(),
        slug(&site.name),
        fingerprint(&format!("{}|{place}", site.name))
    );
    let said = format!(
        "{} {} {}{}{} {} {}",
        entry.words,
        words::calendar::local_clock(entry.starts, site.zone),
        head.edge,
        if head.edge.is_empty() { "" } else { " " },
        words::safety::one_line(site.safe_window().is_some()),
        words::calendar::ALARMS,
        if head.invented { words::invented::IN_FILE } else { "" }
    );
    let mut event = Event::new();
    event
        .uid(&uid)
        .timestamp(stamp)
        .starts(starts)
        .ends(ends)
        .summary(&text(&format!("{} — {}", entry.summary, site.name)))
        .location(&text(&site.name))
        .description(&text(said.trim_end()));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_any_length_are_folded_within_the_line_and_read_back() {
        for length in 1..400 {
            let words: String = "Où? Clear ridge, 20 s; 月. ".chars().cycle().take(length).collect();
            let mut calendar = Calendar::new();
            calendar.push(Event::new().uid("one").description(&words).done());
            let text = refolded(&calendar.to_string());
            assert!(
                text.ends_with("\r\n") && text.split("\r\n").all(|line| line.len() <= LINE_OCTETS),
                "{length}: {text}"
            );
            let escaped = words.replace(',', "\\,").replace(';', "\\;");
            let unfolded = text.replace("\r\n ", "");
            assert!(unfolded.contains(&format!("\r\nDESCRIPTION:{escaped}\r\n")), "{length}: {unfolded}");
        }
    }
}
