//! Bases and fallbacks: where the group sleeps, what water bars, what traffic costs.

use crate::util::{holds, json, refusal, stdout, text};
use serde_json::Value;
use std::fs;
use std::path::PathBuf;

/// A plan for the eclipse of 12 August 2026 with some places of the Balearic Islands and Aragon, and keys of `[fallback]`.
fn plan_with(keys: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let sites =
        "name,lat,lon\nPalma,39.57,2.65\nInca,39.72,2.91\nMaó,39.89,4.26\nTeruel,40.34,-1.11\nZaragoza,41.65,-0.88\n";
    fs::write(folder.path().join("sites.csv"), sites).unwrap();
    let plan = folder.path().join("plan.toml");
    let text = format!(
        "[eclipse]\ndate = 2026-08-12\n[sites]\nfile = \"sites.csv\"\n[weights]\ntotality = 1\n[output]\nbriefs = 1\n[fallback]\n{keys}\n"
    );
    fs::write(&plan, text).unwrap();
    (folder, plan)
}

fn ranked(plan: &std::path::Path) -> Value {
    json(&["rank", plan.to_str().unwrap(), "--quiet", "--format=json"])
}

fn site<'a>(ranking: &'a Value, name: &str) -> &'a Value {
    ranking["sites"].as_array().unwrap().iter().find(|s| s["name"] == name).unwrap()
}

/// Palma lies some 140 km from Maó as the crow flies, but on another island.
#[test]
fn a_drive_over_the_sea_is_not_offered() {
    let (_folder, plan) = plan_with("limit_hours = 5");
    let ranking = ranked(&plan);
    assert_eq!(site(&ranking, "Palma")["fallback"]["name"], "Inca");
    assert!(site(&ranking, "Maó")["fallback"].is_null());
    assert_eq!(site(&ranking, "Teruel")["fallback"]["name"], "Zaragoza");
    let told = ranking["fallback"]["over_water"].as_array().unwrap();
    assert!(told.iter().any(|t| t.as_str().unwrap().contains("Maó") && t.as_str().unwrap().contains("no way round")));
    // Hours of the reader's own matrix are believed: there are ferries.
    fs::write(plan.with_file_name("drives.csv"), "from,to,hours\nPalma,Maó,4.5\n").unwrap();
    let with_matrix = fs::read_to_string(&plan).unwrap() + "drive_hours = \"drives.csv\"\n";
    fs::write(&plan, with_matrix).unwrap();
    assert_eq!(site(&ranked(&plan), "Maó")["fallback"]["name"], "Palma");
}

/// Departure = contact − traffic × drive − setting up, from the figures of the same output.
#[test]
fn departures_allow_for_traffic() {
    let seconds = |text: &str| chrono::DateTime::parse_from_rfc3339(text).unwrap().timestamp_millis() as f64 / 1000.0;
    for (keys, traffic) in [("", 1.5), ("traffic = 2", 2.0), ("traffic = 1", 1.0)] {
        let (_folder, plan) = plan_with(keys);
        let ranking = ranked(&plan);
        let note = &site(&ranking, "Palma")["fallback"];
        let contact = seconds(text(site(&ranking, "Inca"), "/contacts/C2/utc"));
        let before = contact - seconds(text(note, "/leave_by_c2/utc"));
        // The drive is rounded to a hundredth of an hour, times of day to what the output shows.
        let expected = traffic * note["drive_hours"].as_f64().unwrap() * 3600.0 + 15.0 * 60.0;
        assert!((before - expected).abs() < 20.0 * traffic, "{keys}: {before} {expected}");
        assert_eq!(ranking["fallback"]["traffic"], traffic);
    }
    let (_folder, plan) = plan_with("traffic = 0.5");
    holds(&refusal(&["rank", plan.to_str().unwrap()]), &["plan.toml", "fallback.traffic", "0.5"]);
}

#[test]
fn a_base_may_be_a_town_or_a_place_of_its_own() {
    // Madrid lies outside the path, in the same country as Teruel; a Barcelona of Venezuela is further away than Spain's.
    let (folder, plan) = plan_with("base = \"Madrid\"\nlimit_hours = 6");
    let ranking = ranked(&plan);
    let base = &ranking["fallback"];
    assert_eq!((text(base, "/base"), &base["base_at"]["is_site"]), ("Madrid", &Value::Bool(false)));
    assert_eq!(base["base_at"]["totality_s"], 0.0);
    assert!(ranking["sites"].as_array().unwrap().iter().all(|s| s["name"] != "Madrid"));
    let way = &site(&ranking, "Teruel")["from_base"];
    assert_eq!(text(way, "/base"), "Madrid");
    assert!(text(way, "/leave_by_c1/local") < text(way, "/leave_by_c2/local"));
    assert!(site(&ranking, "Palma")["from_base"].is_null());
    let brief = folder.path().join("brief.svg");
    stdout(&["brief", plan.to_str().unwrap(), "--site", "Teruel", "--quiet", "--out", brief.to_str().unwrap()]);
    holds(&fs::read_to_string(brief).unwrap(), &["From Madrid"]);
    // A place that no drive leads to says so: its fallback's departure is not one from the base.
    let brief = folder.path().join("palma.svg");
    stdout(&["brief", plan.to_str().unwrap(), "--site", "Palma", "--quiet", "--out", brief.to_str().unwrap()]);
    holds(&fs::read_to_string(brief).unwrap(), &["No drive from Madrid within 6 h"]);

    let (_folder, plan) = plan_with("base = \"Refugio\"\nbase_lat = 42.7\nbase_lon = 0.5\nlimit_hours = 8");
    let ranking = ranked(&plan);
    let base = &ranking["fallback"]["base_at"];
    assert_eq!((base["lat_deg"].as_f64(), base["lon_deg"].as_f64()), (Some(42.7), Some(0.5)));
    assert_eq!(site(&ranking, "Zaragoza")["from_base"]["base"], "Refugio");
    // A site as base is told apart from one that is none.
    let (_folder, plan) = plan_with("base = \"Teruel\"");
    assert_eq!(ranked(&plan)["fallback"]["base_at"]["is_site"], true);
}

#[test]
fn a_drive_over_a_border_says_so() {
    let (_folder, plan) = plan_with("base = \"Tarbes\"\nlimit_hours = 8");
    let ranking = ranked(&plan);
    let way = &site(&ranking, "Zaragoza")["from_base"];
    assert_eq!(way["border"], serde_json::json!(["FR", "ES"]));
    holds(text(way, "/words"), &["border", "FR", "ES"]);
}

#[test]
fn bad_bases() {
    for (keys, pieces) in [
        ("base = \"Zaragosa\"", &["fallback.base", "Zaragosa", "did you mean Zaragoza", "plan.toml:10"][..]),
        ("base = \"Nowhere at all\"", &["neither one of the sites nor a town", "base_lat"][..]),
        ("base_lat = 40", &["fallback.base_lon", "both coordinates"][..]),
        ("base_lat = 95\nbase_lon = 0", &["fallback.base_lat", "95"][..]),
        ("base = \"Palma\"\nbase_lat = 40\nbase_lon = 0", &["Palma", "one of the sites"][..]),
    ] {
        let (_folder, plan) = plan_with(keys);
        holds(&refusal(&["rank", plan.to_str().unwrap()]), pieces);
    }
}
