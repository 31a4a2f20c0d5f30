//! `noonfall trace`.

use crate::util::{json, no_nan, number, stdout, text};
use serde_json::Value;

/// NASA/TP-2006-214141, 2015-03-20: at greatest eclipse the Sun stands 18.5° high; the path is about 465 km wide on the
/// ground there (published plane width 462.5 km).
#[test]
fn a_low_sun_widens_the_path() {
    let trace = json(&["trace", "2015-03-20", "--every", "60", "--delta-t", "69.1", "--format", "json"]);
    let points = trace["points"].as_array().unwrap();
    let near = points
        .iter()
        .filter(|p| p["width_km"].is_number())
        .min_by_key(|p| ((number(p, "/sun_altitude_deg") - 18.46).abs() * 1e6) as i64)
        .unwrap();
    assert!((number(near, "/width_km") - 465.0).abs() < 3.0, "{near}");
}

/// Common practice, no source: totality on the central line of 2021-12-04 and 2023-04-20 lasted one to two minutes at
/// the very best.
#[test]
fn short_totalities_are_short() {
    for date in ["2021-12-04", "2023-04-20"] {
        let trace = json(&["trace", date, "--every", "120", "--format", "json"]);
        let best =
            trace["points"].as_array().unwrap().iter().filter_map(|p| p["duration_s"].as_f64()).fold(0.0, f64::max);
        assert!((60.0..120.0).contains(&best), "{date}: {best}");
    }
}

#[test]
fn geojson_is_cut_at_the_antimeridian() {
    // The path of 2012-11-13 crosses the date line north of New Zealand (NASA/TP-2006-214141: greatest at 161.3 W).
    let document: Value = serde_json::from_str(&stdout(&["trace", "2012-11-13", "--format", "geojson"])).unwrap();
    assert_eq!(text(&document, "/type"), "FeatureCollection");
    fn lines(value: &Value, found: &mut Vec<Vec<f64>>) {
        match value {
            Value::Array(items) if items.first().is_some_and(|i| i.get(0).is_some_and(Value::is_number)) => {
                found.push(items.iter().map(|i| i[0].as_f64().unwrap()).collect());
            }
            Value::Array(items) => items.iter().for_each(|i| lines(i, found)),
            Value::Object(map) => map.values().for_each(|v| lines(v, found)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    lines(&document, &mut found);
    assert!(!found.is_empty());
    for line in found {
        assert!(line.iter().all(|lon| (-180.0..=180.0).contains(lon)));
        assert!(line.windows(2).all(|w| (w[0] - w[1]).abs() < 180.0), "a line jumps across the date line");
    }
}

#[test]
fn every_format_speaks() {
    for format in ["table", "json", "jsonl", "csv", "geojson", "kml"] {
        let text = stdout(&["trace", "2028-07-22", "--every", "600", "--format", format]);
        assert!(text.len() > 500, "{format}");
        no_nan(&text);
    }
}

/// All curves of the world map, of a total and of a partial eclipse.
#[test]
fn outline_and_isolines_go_to_json_geojson_and_kml() {
    let all = [
        "--outline",
        "--isolines",
        "altitude",
        "--isolines",
        "obscuration",
        "--isolines",
        "time",
        "--isolines",
        "duration",
    ];
    for (date, limits) in [("2028-07-22", 1), ("2025-03-29", 1), ("2027-08-02", 2)] {
        let arguments = |format| [&["trace", date, "--every", "600", "--format", format][..], &all[..]].concat();
        let trace = json(&arguments("json"));
        no_nan(&trace.to_string());
        assert_eq!(trace["outline"]["limits"].as_array().unwrap().len(), limits, "{date}");
        let begins = text(&trace, "/outline/begins_utc");
        assert!(begins.starts_with(date) && begins.ends_with('Z') && begins < text(&trace, "/outline/ends_utc"));
        let rise_set = trace["outline"]["rise_set"].as_array().unwrap();
        for event in ["begins", "maximum", "ends"] {
            assert!(
                rise_set.iter().any(|c| c["event"] == event && c["points"].as_array().unwrap().len() > 10),
                "{event}"
            );
        }
        let isolines = trace["isolines"].as_array().unwrap();
        for (quantity, unit) in [("altitude", "deg"), ("obscuration", "fraction"), ("time", "UTC")] {
            let lines =
                isolines.iter().filter(|i| i["quantity"] == quantity && !i["lines"].as_array().unwrap().is_empty());
            let lines: Vec<&Value> = lines.collect();
            assert!(lines.len() >= 2 && lines.iter().all(|i| i["unit"] == unit), "{date} {quantity}: {}", lines.len());
            assert!(lines.iter().all(|i| i["value"].is_number() != i["utc"].is_string()), "{date} {quantity}");
        }
        assert_eq!(isolines.iter().any(|i| i["quantity"] == "duration"), date != "2025-03-29");

        let map: Value = serde_json::from_str(&stdout(&arguments("geojson"))).unwrap();
        let features = map["features"].as_array().unwrap();
        let roles = |role: &str| features.iter().filter(|f| f["properties"]["role"] == role).count();
        assert_eq!(roles("penumbral_limit"), limits, "{date}");
        assert!(roles("rise_set") >= 4 && roles("isoline") >= 6, "{date}");
        let mut ids: Vec<&str> = features.iter().map(|f| f["id"].as_str().unwrap()).collect();
        ids.sort_unstable();
        assert!(ids.windows(2).all(|w| w[0] != w[1]), "{ids:?}");
        let kml = stdout(&arguments("kml"));
        assert_eq!(kml.matches("<Placemark").count(), features.len(), "{date}");
        no_nan(&kml);
    }
}

#[test]
fn a_table_has_no_place_for_curves_and_an_unknown_quantity_is_refused() {
    for format in ["table", "csv", "jsonl"] {
        let message = crate::util::refusal(&["trace", "2028-07-22", "--outline", "--format", format]);
        crate::util::holds(&message, &["geojson", "kml"]);
    }
    let message = crate::util::refusal(&["trace", "2028-07-22", "--isolines", "width"]);
    crate::util::holds(&message, &["width", "duration", "altitude", "obscuration", "time"]);
}

/// The lines at the measured edge stand beside the handbook's, which stay as they are; what they claim holds for places on
/// either side of them, by the command for a place.
#[test]
fn true_limits_stand_beside_the_smooth_ones() {
    use noonfall_ephemeris::GeoPoint;
    use noonfall_shadow::geodesy::{bearing_deg, destination};
    let plain = json(&["trace", "2028-07-22", "--every", "900", "--format", "json"]);
    let arguments = |format| ["trace", "2028-07-22", "--every", "900", "--edge", "true", "--format", format];
    let both = json(&arguments("json"));
    assert!(plain.get("true_limits").is_none());
    assert_eq!(plain["points"], both["points"]);
    assert!(text(&both, "/true_limits/source").contains("LOLA") && both["true_limits"]["edge"] == "true");
    // Quaglia et al. 2021, Astrophys. J. Suppl. 256, 36: 959.95 arcseconds.
    assert!((number(&both, "/true_limits/sun_radius_arcsec") - 959.95).abs() < 0.01);
    let line = |side: &str| -> Vec<GeoPoint> {
        let points = both["true_limits"][side].as_array().unwrap();
        points.iter().map(|p| GeoPoint::new(number(p, "/lat_deg"), number(p, "/lon_deg")).unwrap()).collect()
    };
    let (north, south) = (line("north"), line("south"));
    assert!(north.len() > 5 && south.len() > 5, "{} {}", north.len(), south.len());
    for (limit, other) in [(&north, &south), (&south, &north)] {
        let (here, there) = (limit[limit.len() / 2], other[other.len() / 2]);
        for (inside_km, total) in [(0.4, true), (-0.4, false)] {
            let place = destination(here, bearing_deg(here, there), inside_km);
            let (lat, lon) = (place.lat_deg.to_string(), place.lon_deg.to_string());
            let place = ["at", "2028-07-22", "--lat", &lat, "--lon", &lon, "--elevation", "0", "--format", "json"];
            let seen = json(&place);
            assert_eq!(seen["moon_edge"]["C2"].is_object(), total, "{inside_km} km inside: {seen}");
        }
    }
    let map: Value = serde_json::from_str(&stdout(&arguments("geojson"))).unwrap();
    let kml = stdout(&arguments("kml"));
    for role in ["true_north_limit", "true_south_limit"] {
        assert_eq!(map["features"].as_array().unwrap().iter().filter(|f| f["properties"]["role"] == role).count(), 1);
        assert!(kml.contains(&format!("#{role}")));
    }
    no_nan(&kml);
    // A ring has no such lines.
    let ring = json(&["trace", "2027-02-06", "--every", "900", "--edge", "true", "--format", "json"]);
    assert!(["north", "south"].iter().all(|side| ring["true_limits"][*side].as_array().unwrap().is_empty()));
    for refused in [["--edge", "true", "--format", "csv"], ["--edge", "round", "--format", "json"]] {
        crate::util::refusal(&[&["trace", "2028-07-22"][..], &refused].concat());
    }
}
