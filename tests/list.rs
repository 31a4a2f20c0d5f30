//! `noonfall list`.

use crate::util::{json, number, stdout, text};
use serde_json::Value;

/// NASA/TP-2006-214141 (Five Millennium Canon), as quoted for the published rows: of the 224 eclipses of 2001–2100,
/// 68 are total, 72 annular, 7 hybrid, 77 partial.
#[test]
fn the_century_has_the_published_counts() {
    let all = json(&["list", "--from", "2001", "--to", "2100", "--format", "json"]);
    let count = |kind: &str| all.as_array().unwrap().iter().filter(|e| text(e, "/kind") == kind).count();
    assert_eq!([count("total"), count("annular"), count("hybrid"), count("partial")], [68, 72, 7, 77]);
}

/// The row of 2028-07-22 in NASA/TP-2006-214141: TD 02:56:40, gamma −0.6056, ratio 1.0560, 15.6 S 126.7 E, Sun 52.6°,
/// width 230.2 km, 310 s, ΔT 76.6 s.
#[test]
fn a_row_agrees_with_the_published_catalogue() {
    let all = json(&["list", "--from", "2028", "--to", "2028", "--delta-t", "76.6", "--format", "json"]);
    let row = all.as_array().unwrap().iter().find(|e| text(e, "/date") == "2028-07-22").unwrap();
    assert!(text(row, "/greatest_tt").starts_with("2028-07-22T02:56:39.5"));
    for (key, published, tolerance) in [
        ("/gamma", -0.6056, 6e-5),
        ("/magnitude", 1.0560, 6e-5),
        ("/greatest_lat_deg", -15.6, 0.06),
        ("/greatest_lon_deg", 126.7, 0.06),
        ("/sun_altitude_deg", 52.6, 0.06),
        ("/path_width_km", 230.2, 0.2),
        ("/central_duration_s", 310.0, 0.7),
        ("/delta_t_s", 76.6, 0.0),
    ] {
        assert!((number(row, key) - published).abs() <= tolerance, "{key}: {} against {published}", number(row, key));
    }
}

/// Common practice, no source: New York saw totality on 1925-01-24 and will not again this century; Sydney waits for
/// 2028-07-22.
#[test]
fn near_a_place() {
    let sydney = json(&[
        "list",
        "--from",
        "2020",
        "--to",
        "2035",
        "--near",
        "-33.87,151.21",
        "--within",
        "30",
        "--format",
        "json",
    ]);
    let dates: Vec<&str> = sydney.as_array().unwrap().iter().map(|e| text(e, "/date")).collect();
    assert_eq!(dates, ["2028-07-22"]);
}

#[test]
fn values_that_a_kind_does_not_have_are_null() {
    let all = json(&["list", "--from", "2025", "--to", "2025", "--kind", "partial", "--format", "json"]);
    for row in all.as_array().unwrap() {
        assert_eq!(row["central_duration_s"], Value::Null);
        assert_eq!(row["path_width_km"], Value::Null);
    }
}

#[test]
fn every_format_has_the_same_rows() {
    let arguments = |format| ["list", "--from", "2026", "--to", "2030", "--format", format];
    let rows = json(&arguments("json")).as_array().unwrap().len();
    assert_eq!(stdout(&arguments("jsonl")).lines().count(), rows);
    assert_eq!(stdout(&arguments("csv")).lines().count(), rows + 1);
    assert!(stdout(&arguments("table")).lines().count() > rows);
}
