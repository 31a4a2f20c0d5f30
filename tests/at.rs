//! `noonfall at`.

use crate::util::{holds, json, no_nan, number, refusal, stdout, text};
use serde_json::Value;

fn at(date: &str, lat: &str, lon: &str) -> Value {
    json(&["at", date, "--lat", lat, "--lon", lon, "--format", "json"])
}

fn seconds_between(value: &Value, from: &str, to: &str) -> f64 {
    let instant = |key: &str| {
        let utc = text(value, &format!("/contacts/{key}/utc"));
        chrono::DateTime::parse_from_rfc3339(utc).unwrap().timestamp_millis() as f64 / 1000.0
    };
    instant(to) - instant(from)
}

/// Common practice, no source: about 70 minutes pass from first to second contact. Of one eclipse it is from one hour to one and a half, and
/// place by place what rigorous topocentric geometry says (tests/reference/ORIGIN.md: `local_circumstances.csv`).
#[test]
fn about_seventy_minutes_of_partial_phase() {
    let rows = std::fs::read_to_string(crate::util::top().join("tests/reference/local_circumstances.csv")).unwrap();
    let (mut least, mut most) = (f64::MAX, 0.0_f64);
    for tag in ["path end", "path", "central line", "grazing"] {
        let of_tag = rows.lines().map(|row| row.split(',').collect::<Vec<_>>()).filter(|row| {
            row[0] == "2028-07-22" && row[5] == "total" && row.last().is_some_and(|of| of.starts_with(tag))
        });
        for row in of_tag.step_by(3).take(4) {
            let arguments =
                ["at", row[0], "--delta-t", row[1], "--lat", row[2], "--lon", row[3], "--elevation", row[4]];
            let seen = json(&[&arguments[..], &["--edge", "smooth", "--format", "json"]].concat());
            let (seconds, [c1, c2]) =
                (seconds_between(&seen, "C1", "C2"), [6, 7].map(|column| row[column].parse::<f64>().unwrap()));
            assert!((seconds - (c2 - c1)).abs() < 0.05, "{row:?}: {seconds} s");
            (least, most) = (least.min(seconds / 60.0), most.max(seconds / 60.0));
        }
    }
    assert!((57.0..60.0).contains(&least) && (90.0..94.0).contains(&most), "{least} to {most} min");
}

/// Common practice, no source: in Texas in 2024 the Sun was high at totality, in Spain in 2026 very low.
#[test]
fn high_in_texas_low_in_spain() {
    // Near Junction, Texas; near Palma de Mallorca, Spain. Coordinates from GeoNames.
    let texas = at("2024-04-08", "30.489", "-99.772");
    let spain = at("2026-08-12", "39.5694", "2.6502");
    assert_eq!((text(&texas, "/phase"), text(&spain, "/phase")), ("total", "total"));
    assert!(number(&texas, "/contacts/max/sun_altitude_deg") > 60.0);
    assert!((0.0..6.0).contains(&number(&spain, "/contacts/max/sun_altitude_deg")));
}

/// Common practice, no source: Mercury and Venus stood above the horizon in totality in western Siberia in August 2008.
#[test]
fn mercury_and_venus_over_siberia_in_2008() {
    // Novosibirsk, from GeoNames.
    let sky = at("2008-08-01", "55.0415", "82.9346");
    assert_eq!(text(&sky, "/phase"), "total");
    for body in ["Mercury", "Venus"] {
        let row = sky["sky"].as_array().unwrap().iter().find(|r| r["body"] == body).unwrap();
        assert!(number(row, "/altitude_deg") > 5.0, "{row}");
    }
}

#[test]
fn all_keys_are_there_inside_the_path() {
    let inside = at("2028-07-22", "-44.67", "167.93");
    for key in ["C1", "C2", "max", "C3", "C4"] {
        let contact = &inside["contacts"][key];
        for field in [
            "tt",
            "utc",
            "local",
            "sun_altitude_deg",
            "sun_apparent_altitude_deg",
            "sun_azimuth_deg",
            "position_angle_deg",
            "vertex_angle_deg",
            "above_horizon",
        ] {
            assert!(!contact[field].is_null(), "{key}.{field}");
        }
    }
    for key in ["filters", "sky", "shadow", "shadow_bands", "limb", "light"] {
        assert!(!inside[key].is_null(), "{key}");
    }
    assert_eq!(text(&inside, "/site/zone"), "Pacific/Auckland");
    // New Zealand keeps standard time in July: UTC+12.
    assert!(text(&inside, "/contacts/C2/local").ends_with("+12:00"));
}

/// Outside the path there must never be a filter-OFF window, nor inside an annular one.
#[test]
fn no_window_for_bare_eyes_outside_totality() {
    // Adelaide in 2028 (partial); Albuquerque in 2023 (annular), from GeoNames.
    for (date, lat, lon, phase) in
        [("2028-07-22", "-34.9287", "138.5986", "partial"), ("2023-10-14", "35.0845", "-106.6511", "annular")]
    {
        let place = at(date, lat, lon);
        assert_eq!(text(&place, "/phase"), phase);
        assert!(place["filters"].is_null());
        let page = stdout(&["at", date, "--lat", lat, "--lon", lon, "--format", "table"]);
        assert!(!page.to_uppercase().contains("FILTER OFF"), "{page}");
    }
}

/// In totality the window must lie inside C2 to C3 of the Moon's true edge with its margins.
#[test]
fn the_window_keeps_its_margin() {
    let place = at("2028-07-22", "-44.67", "167.93");
    let instant = |pointer: &str| chrono::DateTime::parse_from_rfc3339(text(&place, pointer)).unwrap();
    let margins = [number(&place, "/filters/margin_c2_s"), number(&place, "/filters/margin_c3_s")];
    assert!(margins.iter().all(|&margin| margin >= 2.0));
    assert_eq!(number(&place, "/filters/margin_s"), margins[0].max(margins[1]));
    let off = (instant("/filters/off") - instant("/moon_edge/C2/local")).num_milliseconds() as f64 / 1000.0;
    let on = (instant("/moon_edge/C3/local") - instant("/filters/on")).num_milliseconds() as f64 / 1000.0;
    assert!((off - margins[0]).abs() < 0.002 && (on - margins[1]).abs() < 0.002, "{off} {on} {margins:?}");
    for end in ["off", "on"] {
        assert!(text(&place, &format!("/filters/{end}")).contains(".000+"), "a whole second");
    }
}

/// A wider margin shrinks the window by as much on both sides; a deeper chromosphere shows for longer; a margin below
/// the floor is refused, and one that leaves no window says so.
#[test]
fn margin_and_chromosphere_can_be_set() {
    let with = |more: &[&str]| {
        let mut arguments =
            vec!["at", "2028-07-22", "--lat", "-15.4869", "--lon", "128.1243", "--format", "json", "--quiet"];
        arguments.extend(more);
        json(&arguments)
    };
    let (usual, wide) = (with(&[]), with(&["--margin", "7"]));
    assert!((number(&wide, "/filters/margin_s") - number(&usual, "/filters/margin_s") - 5.0).abs() < 1e-6);
    let deep = with(&["--chromosphere", "5000"]);
    let lead = "/limb/look_away_lead_s";
    assert!(number(&deep, lead) > 1.5 * number(&usual, lead));
    let none = with(&["--margin", "150"]);
    assert!(none["filters"]["off"].is_null() && text(&none, "/filters/why_none").contains("too short"));
    // Below the floor, negative, no number; a place tolerance and a range of heights that are none.
    for (option, wrong, right) in [
        ("--margin", "0", "2 s or more"),
        ("--margin", "1.9", "2 s or more"),
        ("--margin", "-1", "2 s or more"),
        ("--margin", "nan", "number"),
        ("--place-within", "-5", "metres from 0"),
        ("--place-within", "1e9", "metres from 0"),
        ("--height-range", "500,100", "the lower first"),
        ("--height-range", "500", "two heights"),
        ("--edge", "round", "smooth"),
    ] {
        let said = refusal(&["at", "2028-07-22", "--lat", "-15", "--lon", "128", option, wrong]);
        holds(&said, &[option, right]);
    }
}

#[test]
fn no_eclipse_at_all_is_said_plainly() {
    let oslo = at("2028-07-22", "59.91", "10.75");
    assert_eq!(text(&oslo, "/phase"), "none");
    assert!(oslo["contacts"]["C1"].is_null());
    assert_eq!(number(&oslo, "/duration_s"), 0.0);
}

#[test]
fn many_sites_and_every_format() {
    let sites = ["at", "2028-07-22", "--sites", "data/demo/sites.csv", "--format"];
    let with = |format: &'static str| stdout(&[&sites[..], &[format]].concat());
    let rows = std::fs::read_to_string(crate::util::top().join("data/demo/sites.csv")).unwrap().lines().count() - 1;
    assert_eq!(with("jsonl").lines().count(), rows);
    let parsed: Value = serde_json::from_str(&with("json")).unwrap();
    assert_eq!(parsed.as_array().unwrap().len(), rows);
    for format in ["table", "json", "jsonl", "csv", "ics"] {
        no_nan(&with(format));
    }
    assert!(with("ics").starts_with("BEGIN:VCALENDAR\r\n"));
}

#[test]
fn elevation_counts() {
    let low = at("2028-07-22", "-32.24", "148.61");
    let high =
        json(&["at", "2028-07-22", "--lat", "-32.24", "--lon", "148.61", "--elevation", "4000", "--format", "json"]);
    let shift = seconds_between(&low, "C2", "C3") - seconds_between(&high, "C2", "C3");
    assert!(shift.abs() > 0.01, "{shift}");
}
