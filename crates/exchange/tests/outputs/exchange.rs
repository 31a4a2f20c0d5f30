//! The files for other tools. They are also written to the build's temporary folder, for `tests/exchange/validate.py`.

use std::path::PathBuf;

use noonfall_ephemeris::{GeoPoint, Kernel};
use noonfall_exchange::table::{Align, Cell, Column, Sheet};
use noonfall_exchange::{calendar, csv, geojson, gpx, json, kml};
use noonfall_scoring::place::Place;
use noonfall_shadow::{Conventions, Eclipse};
use serde_json::Value;

use crate::names::HOSTILE;
use crate::samples::{head, instant, path, sites};

fn keep(name: &str, text: &str) {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("exchange-samples");
    std::fs::create_dir_all(&folder).expect("folder");
    std::fs::write(folder.join(name), text).expect("sample written");
}

#[test]
fn geojson_keeps_to_its_bounds_and_never_crosses_the_antimeridian() {
    let text = geojson::feature_collection(&head(), &path(), &sites());
    keep("sites.geojson", &text);
    let value: Value = serde_json::from_str(&text).expect("JSON");
    let features = value["features"].as_array().expect("features");
    assert_eq!(features.len(), 4 + sites().len());
    let line = features.iter().find(|f| f["id"] == "central_line").expect("central line");
    assert_eq!(line["geometry"]["type"], "MultiLineString");
    let area = features.iter().find(|f| f["id"] == "path").expect("path");
    assert_eq!(area["geometry"]["type"], "MultiPolygon");
    fn check(value: &Value) {
        if let Some(items) = value.as_array() {
            if let (Some(lon), Some(lat)) =
                (items.first().and_then(Value::as_f64), items.get(1).and_then(Value::as_f64))
            {
                assert!(lon.abs() <= 180.0 && lat.abs() <= 90.0);
            } else {
                let lons: Vec<f64> = items.iter().filter_map(|p| p[0].as_f64()).collect();
                assert!(lons.windows(2).all(|w| (w[0] - w[1]).abs() < 180.0), "a step over the antimeridian");
                items.iter().for_each(check);
            }
        }
    }
    features.iter().for_each(|f| check(&f["geometry"]["coordinates"]));
    let names: Vec<&str> = features.iter().filter_map(|f| f["properties"]["name"].as_str()).collect();
    for name in HOSTILE {
        assert!(names.contains(&name), "{name:?} came back changed");
    }
}

/// Written feature by feature it is what its library makes of the whole, with a bounding box and without.
#[test]
fn geojson_piece_by_piece_is_as_in_one() {
    for (path, bounded) in [(path(), false), (noonfall_exchange::ExportPath::default(), true)] {
        let text = geojson::feature_collection(&head(), &path, &sites());
        let whole: ::geojson::FeatureCollection = text.parse().expect("a feature collection");
        assert_eq!(whole.bbox.is_some(), bounded);
        assert_eq!(text, format!("{whole}\n"));
    }
}

#[test]
fn outside_the_path_no_format_has_a_filter_off_time() {
    let outside: Vec<_> = sites().into_iter().skip(1).take(1).collect();
    let empty = noonfall_exchange::ExportPath::default();
    let stamp = instant(0, 0, 0);
    let value: Value = serde_json::from_str(&geojson::feature_collection(&head(), &empty, &outside)).expect("JSON");
    assert!(value["features"][0]["properties"]["filter_off"].is_null());
    assert!(!calendar::contacts(&head(), &outside, stamp).to_lowercase().replace("\r\n ", "").contains("filter off"));
}

#[test]
fn kml_and_gpx_hold_every_site() {
    let kml = kml::document(&head(), &path(), &sites()).expect("KML");
    keep("sites.kml", &kml);
    let gpx = gpx::document(&head(), &path(), &sites());
    keep("sites.gpx", &gpx);
    assert_eq!(gpx.matches("<wpt ").count(), sites().len());
    assert_eq!(kml.matches("<Point>").count(), sites().len());
    for text in [&kml, &gpx] {
        assert!(!text.contains("<script>"), "markup in a name must be escaped");
        assert!(!text.contains('\u{7}') && !text.contains('\u{0}'), "XML forbids control characters");
    }
}

#[test]
fn calendar_lines_are_folded_ended_and_escaped_as_the_standard_asks() {
    let stamp = instant(0, 0, 0);
    let text = calendar::contacts(&head(), &sites(), stamp);
    keep("contacts.ics", &text);
    // RFC 5545, section 3.1: lines end with CR LF and hold at most 75 octets.
    assert!(text.ends_with("\r\n"));
    for line in text.split("\r\n") {
        assert!(line.len() <= 75 && !line.contains('\n'), "{} octets: {line}", line.len());
    }
    let unfolded = text.replace("\r\n ", "");
    // Wyndham: C1, C2, filter ON, C3, C4; alarms before C1, C2 and ON. Outside the path C1 and C4.
    assert_eq!(unfolded.matches("BEGIN:VEVENT").count(), 10 * 5 + 2);
    assert_eq!(unfolded.matches("BEGIN:VALARM").count(), 10 * 3 + 1);
    assert!(unfolded.contains("DTSTART:20280722T025831Z"));
    assert!(unfolded.contains("sites\\,semi\\;colon\\,comma"));
    assert_eq!(
        unfolded.matches("DTSTAMP:20280722T000000Z").count(),
        unfolded.matches("DTSTAMP").count(),
        "the clock must not show"
    );
    let uids: Vec<&str> = unfolded.lines().filter(|line| line.starts_with("UID:")).collect();
    let different: std::collections::BTreeSet<_> = uids.iter().collect();
    assert_eq!(different.len(), uids.len());
    assert_eq!(text, calendar::contacts(&head(), &sites(), stamp), "same input, same bytes");
}

#[test]
fn csv_cells_are_never_formulas() {
    let sheet = Sheet {
        columns: vec![
            Column::new("name", "name", "", Align::Left),
            Column::new("lat_deg", "latitude", "°", Align::Right),
        ],
        rows: sites().into_iter().map(|site| vec![Cell::text(site.name), Cell::number(site.lat_deg, 4)]).collect(),
    };
    let text = csv::write(&sheet).expect("CSV");
    keep("sites.csv", &text);
    let mut reader = ::csv::Reader::from_reader(text.as_bytes());
    let mut rows = 0;
    for record in reader.records() {
        let record = record.expect("row");
        rows += 1;
        assert!(!record[0].trim_start().starts_with(['=', '+', '-', '@']), "{:?}", &record[0]);
        assert!(record[1].parse::<f64>().is_ok_and(|lat| lat < 0.0), "{:?}", &record[1]);
    }
    assert_eq!(rows, sites().len());
}

#[test]
fn json_of_the_commands_is_kept_for_the_schemas() {
    let date = chrono::NaiveDate::from_ymd_opt(2028, 7, 22).expect("date");
    let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).expect("eclipse");
    keep("list.json", &json::to_text(&json::listing(std::slice::from_ref(&eclipse)), true));
    keep("trace.json", &json::to_text(&json::trace(&eclipse, &eclipse.path(900.0)), true));
    for (name, lat_deg, lon_deg, zone) in [
        ("wyndham", -15.4825, 128.1228, chrono_tz::Australia::Perth),
        ("alice", -23.7, 133.88, chrono_tz::Australia::Darwin),
        ("london", 51.5, -0.1, chrono_tz::Europe::London),
    ] {
        let place = Place::new(name, GeoPoint { lat_deg, lon_deg }, Some(0.0), Some(zone));
        let at = Value::Object(json::circumstances(&eclipse, &place, &eclipse.local(&place.site)));
        keep(&format!("at-{name}.json"), &json::to_text(&at, true));
        // Three phases of one eclipse: inside the path, beside it, on the other side of the Earth.
        let phase = match name {
            "wyndham" => "total",
            "alice" => "partial",
            _ => "none",
        };
        assert_eq!(at["phase"], phase, "{name}");
        assert!(at["filters"].is_null());
    }
}

#[test]
fn no_sites_and_no_path_are_still_whole_files() {
    let empty = noonfall_exchange::ExportPath::default();
    let value: Value = serde_json::from_str(&geojson::feature_collection(&head(), &empty, &[])).expect("JSON");
    assert_eq!(value["features"].as_array().map(Vec::len), Some(0));
    assert!(kml::document(&head(), &empty, &[]).expect("KML").contains("</Document>"));
    assert!(gpx::document(&head(), &empty, &[]).contains("</gpx>"));
    assert!(calendar::contacts(&head(), &[], instant(0, 0, 0)).contains("END:VCALENDAR"));
}
