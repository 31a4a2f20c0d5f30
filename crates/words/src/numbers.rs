//! Numbers into words: times, directions, heights, odds, and names cut to length.

use chrono::{DateTime, Datelike, Duration, NaiveDate, Offset, TimeZone, Timelike, Utc};
use chrono_tz::{OffsetName, Tz};
use noonfall_shadow::geodesy::compass_point;

// A chance, an azimuth and a drive are said in one way everywhere.
pub use noonfall_scoring::wording::{azimuth, hours, percent};

/// A name or sentence made fit for print: no control characters, no invisible direction overrides, single spaces, at most `most` characters
/// with an ellipsis where it was cut.
pub fn clean(text: &str, most: usize) -> String {
    let mut out = String::new();
    let mut count = 0;
    let mut gap = false;
    for c in text.chars() {
        if c.is_whitespace() || c.is_control() {
            gap = count > 0;
            continue;
        }
        if is_invisible(c) {
            continue;
        }
        let needed = if gap { 2 } else { 1 };
        if count + needed > most.max(1) {
            // The ellipsis takes the place of the last character that fitted.
            while count + 1 > most.max(1) || out.ends_with(' ') {
                if out.pop().is_none() {
                    break;
                }
                count -= 1;
            }
            out.push('…');
            return out;
        }
        if gap {
            out.push(' ');
            count += 1;
            gap = false;
        }
        out.push(c);
        count += 1;
    }
    out
}

/// Characters that show nothing but can turn a line of text around or hide in it: direction marks and overrides, word joiners, a stray
/// byte-order mark, tags.
fn is_invisible(c: char) -> bool {
    matches!(c, '\u{00AD}' | '\u{061C}' | '\u{200B}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{206F}'
        | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E007F}')
}

/// A finite number, or nothing: guards every figure on the page.
pub fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// `23.6987° S, 133.8807° E`.
pub fn coordinates(lat_deg: f64, lon_deg: f64) -> String {
    let north = if lat_deg < 0.0 { "S" } else { "N" };
    let east = if lon_deg < 0.0 { "W" } else { "E" };
    format!("{:.4}° {north}, {:.4}° {east}", lat_deg.abs(), lon_deg.abs())
}

/// The nearest of sixteen directions in words: `west-north-west`.
pub fn compass_words(azimuth_deg: f64) -> String {
    let word = |letter: char| match letter {
        'N' => "north",
        'E' => "east",
        'S' => "south",
        _ => "west",
    };
    compass_point(azimuth_deg).chars().map(word).collect::<Vec<_>>().join("-")
}

/// Height in fists at arm's length, one fist to ten degrees (common practice, no source), to the nearest half.
pub fn fists(altitude_deg: f64) -> String {
    let halves = (altitude_deg / 5.0).round() as i64;
    match halves {
        i64::MIN..=0 => "on the horizon".into(),
        1 => "half a fist".into(),
        2 => "1 fist".into(),
        _ if halves % 2 == 0 => format!("{} fists", halves / 2),
        _ => format!("{}½ fists", halves / 2),
    }
}

/// How such a height is measured.
pub fn at_arms_length(fists: &str) -> String {
    format!("{fists} at arm's length")
}

/// `2 min 54 s`, `48 s`, rounded to the second.
pub fn duration(seconds: f64) -> String {
    let whole = seconds.round().max(0.0) as u64;
    if whole < 60 { format!("{whole} s") } else { format!("{} min {:02} s", whole / 60, whole % 60) }
}

/// A word or sentence with a capital letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// An interval of chances: `48–75 %`.
pub fn percent_interval(low: f64, high: f64) -> String {
    let (low, high) = (low.clamp(0.0, 1.0) * 100.0, high.clamp(0.0, 1.0) * 100.0);
    format!("{low:.0}–{high:.0} %")
}

/// Which way a time is rounded to the second it is printed with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rounding {
    /// To the nearest second: contacts.
    Nearest,
    /// Up: the moment when filters may come off, never printed too early.
    Later,
    /// Down: the moment when filters are on again, never printed too late; and departures.
    Earlier,
}

/// An instant rounded to whole seconds.
pub fn to_second(utc: DateTime<Utc>, rounding: Rounding) -> DateTime<Utc> {
    let nanos = i64::from(utc.nanosecond() % 1_000_000_000);
    let floor = utc - Duration::nanoseconds(nanos);
    let up = match rounding {
        Rounding::Nearest => nanos >= 500_000_000,
        Rounding::Later => nanos > 0,
        Rounding::Earlier => false,
    };
    if up { floor + Duration::seconds(1) } else { floor }
}

/// `12:43:10` by the clock of a zone; with `+1 d` or `−1 d` where the date is not `date`.
pub fn clock(utc: DateTime<Utc>, zone: Tz, date: NaiveDate, rounding: Rounding) -> String {
    let local = to_second(utc, rounding).with_timezone(&zone);
    format!("{}{}", local.format("%H:%M:%S"), other_day(local.date_naive(), date))
}

/// `12:43`, rounded down to the minute: for departures, which must not be printed too late.
pub fn clock_minute(utc: DateTime<Utc>, zone: Tz, date: NaiveDate) -> String {
    let local = utc.with_timezone(&zone);
    format!("{}{}", local.format("%H:%M"), other_day(local.date_naive(), date))
}

fn other_day(day: NaiveDate, date: NaiveDate) -> String {
    match (day - date).num_days() {
        0 => String::new(),
        days if days > 0 => format!(" +{days} d"),
        days => format!(" −{} d", -days),
    }
}

/// `2028-07-22 12:43:10 ACST (UTC+9:30)`, to the nearest second: a local time that stands alone.
pub fn local_stamp(utc: DateTime<Utc>, zone: Tz) -> String {
    let (local, short, offset) =
        (to_second(utc, Rounding::Nearest).with_timezone(&zone), zone_short(utc, zone), utc_offset(utc, zone));
    if short == offset {
        format!("{} {offset}", local.format("%Y-%m-%d %H:%M:%S"))
    } else {
        format!("{} {short} ({offset})", local.format("%Y-%m-%d %H:%M:%S"))
    }
}

/// `12:43:10 ACST`, to the nearest second: a local time whose day is known.
pub fn local_clock(utc: DateTime<Utc>, zone: Tz) -> String {
    let local = to_second(utc, Rounding::Nearest).with_timezone(&zone);
    format!("{} {}", local.format("%H:%M:%S"), zone_short(utc, zone))
}

/// `22 July 2028`.
pub fn date(day: NaiveDate) -> String {
    format!("{} {}", day.day(), day.format("%B %Y"))
}

/// `Saturday 22 July 2028`.
pub fn weekday_date(day: NaiveDate) -> String {
    format!("{} {}", day.format("%A"), date(day))
}

/// Short name of the clock at an instant: `ACST`, or `UTC+9:30` where the zone has no letters for it.
pub fn zone_short(utc: DateTime<Utc>, zone: Tz) -> String {
    let offset = zone.offset_from_utc_datetime(&utc.naive_utc());
    match offset.abbreviation() {
        Some(letters) if letters.chars().all(|c| c.is_ascii_alphabetic()) => letters.to_owned(),
        _ => utc_offset(utc, zone),
    }
}

/// `UTC+9:30`.
pub fn utc_offset(utc: DateTime<Utc>, zone: Tz) -> String {
    let seconds = zone.offset_from_utc_datetime(&utc.naive_utc()).fix().local_minus_utc();
    let sign = if seconds < 0 { '−' } else { '+' };
    let minutes = seconds.abs() / 60;
    if minutes % 60 == 0 {
        format!("UTC{sign}{}", minutes / 60)
    } else {
        format!("UTC{sign}{}:{:02}", minutes / 60, minutes % 60)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_names_are_cut_with_an_ellipsis_and_hidden_characters_go() {
        assert_eq!(clean("  A\u{202E}lice\n\nSprings\u{0} ", 40), "Alice Springs");
        let cut = clean(&"x".repeat(300), 20);
        assert_eq!(cut.chars().count(), 20);
        assert!(cut.ends_with('…'));
        assert_eq!(clean("abcd efgh", 6), "abcd…");
        assert_eq!(clean("abc", 3), "abc");
    }

    #[test]
    fn directions_in_words() {
        assert_eq!(compass_words(0.0), "north");
        assert_eq!(compass_words(135.0), "south-east");
        assert_eq!(compass_words(292.5), "west-north-west");
        assert_eq!(compass_words(-90.0), "west");
    }

    #[test]
    fn heights_in_fists() {
        assert_eq!(fists(1.0), "on the horizon");
        assert_eq!(fists(9.0), "1 fist");
        assert_eq!(fists(52.0), "5 fists");
        assert_eq!(fists(36.0), "3½ fists");
        assert_eq!(fists(4.0), "half a fist");
    }

    #[test]
    fn filter_times_are_rounded_to_the_safe_side() {
        let utc = Utc
            .with_ymd_and_hms(2028, 7, 22, 3, 13, 9)
            .single()
            .map(|t| t + Duration::milliseconds(600))
            .unwrap_or_default();
        let date = NaiveDate::from_ymd_opt(2028, 7, 22).unwrap_or_default();
        assert_eq!(clock(utc, Tz::Australia__Darwin, date, Rounding::Later), "12:43:10");
        assert_eq!(clock(utc, Tz::Australia__Darwin, date, Rounding::Earlier), "12:43:09");
        assert_eq!(clock(utc, Tz::UTC, date, Rounding::Nearest), "03:13:10");
        assert_eq!(clock(utc, Tz::America__Los_Angeles, date, Rounding::Nearest), "20:13:10 −1 d");
    }

    #[test]
    fn zones_have_a_name_and_an_offset() {
        let utc = Utc.with_ymd_and_hms(2028, 7, 22, 3, 0, 0).single().unwrap_or_default();
        assert_eq!(zone_short(utc, Tz::Australia__Darwin), "ACST");
        assert_eq!(utc_offset(utc, Tz::Australia__Darwin), "UTC+9:30");
        assert_eq!(utc_offset(utc, Tz::America__Sao_Paulo), "UTC−3");
        assert_eq!(zone_short(utc, Tz::America__Sao_Paulo), "UTC−3");
    }

    #[test]
    fn durations_and_odds() {
        assert_eq!(duration(174.4), "2 min 54 s");
        assert_eq!(duration(59.7), "1 min 00 s");
        assert_eq!(duration(12.2), "12 s");
        assert_eq!(percent(0.003), "under 1 %");
        assert_eq!(percent(0.62), "62 %");
        assert_eq!(percent_interval(0.483, 0.751), "48–75 %");
    }
}
