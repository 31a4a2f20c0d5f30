//! Ground that is not known: between two files, at their edge, over voids. It is said, and never taken for level.
//!
//! The ground is INVENTED: SRTM tiles at 3″ of a plain at 150 m, in the path of 22 July 2028 (the Sun 9° high in the north-west).

use crate::util::{holds, json, noonfall, number, page_model, stdout, text};
use serde_json::Value;
use std::fs;
use std::path::Path;

const PLAN: &str = "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"sites.csv\"\n[weights]\ntotality = 1\n[terrain]\ndir = \"dem\"\n\
    [robustness]\ndraws = 2000\n[output]\nbriefs = 1\n";

/// An SRTM tile with heights by row and column.
fn tile(folder: &Path, name: &str, height: impl Fn(u32, u32) -> i16) {
    let bytes: Vec<u8> = (0..1201 * 1201).flat_map(|i| height(i / 1201, i % 1201).to_be_bytes()).collect();
    fs::create_dir_all(folder.join("dem")).unwrap();
    fs::write(folder.join("dem").join(name), bytes).unwrap();
}

/// Two tiles side by side; a void in the eastern one.
fn trip(folder: &Path, sites: &str) {
    tile(folder, "S46E168.hgt", |_, _| 150);
    tile(
        folder,
        "S46E169.hgt",
        |row, column| {
            if (800..880).contains(&row) && (800..880).contains(&column) { i16::MIN } else { 150 }
        },
    );
    fs::write(folder.join("plan.toml"), PLAN).unwrap();
    fs::write(folder.join("sites.csv"), format!("name,lat,lon\n{sites}")).unwrap();
}

fn ranked(folder: &Path) -> (Value, String) {
    let (plan, out) = (folder.join("plan.toml"), folder.join("report"));
    stdout(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap(), "--format", "csv", "--quiet"]);
    let ranking = serde_json::from_slice(&fs::read(out.join("ranking.json")).unwrap()).unwrap();
    (ranking, fs::read_to_string(out.join("report.html")).unwrap())
}

fn site<'a>(ranking: &'a Value, name: &str) -> &'a Value {
    ranking["sites"].as_array().unwrap().iter().find(|s| s["name"] == name).unwrap()
}

#[test]
fn sites_between_tiles_at_the_edge_and_over_voids_say_what_is_known() {
    let folder = tempfile::tempdir().unwrap();
    // On the meridian that two tiles share; 1 km inside the western edge, with nothing known before the Sun; 3 km behind the void, seen
    // from the south-east; in the void; beyond the tiles.
    trip(
        folder.path(),
        "Between,-45.4,169.0\nAt the edge,-45.4,168.012\nBehind the void,-45.757,169.762\nIn the void,-45.7,169.7\nBeyond,-45.4,170.1\n",
    );
    let (ranking, page) = ranked(folder.path());
    let warnings = |name: &str| site(&ranking, name)["warnings"].to_string();
    let between = site(&ranking, "Between");
    assert_eq!(number(between, "/elevation_m"), 150.0);
    // The plain's horizon is as good as level: the Sun stands as high above it as its altitude says.
    let margin = number(between, "/horizon_margin_deg") - number(between, "/sun_altitude_deg");
    assert!(margin.abs() < 0.2, "{margin}");
    assert!(!warnings("Between").contains("No terrain file from 0."), "{between}");
    holds(&warnings("At the edge"), &["No terrain file from", "ground above", "would reach the Sun in totality"]);
    holds(&warnings("Behind the void"), &["The terrain has voids from", "would reach the Sun in totality"]);
    for (name, gap) in
        [("In the void", "the terrain has a void at 45.7000° S 169.7000° E"), ("Beyond", "no terrain file covers")]
    {
        let lost = site(&ranking, name);
        assert!(lost["horizon_margin_deg"].is_null(), "{lost}");
        holds(&warnings(name), &["no skyline: ", gap]);
        holds(text(lost, "/elevation_source"), &["sea level taken: ", gap]);
    }
    // The page carries the same words.
    let model = page_model(&page);
    for gap in ["no skyline: the terrain has a void at", "no skyline: no terrain file covers", "No terrain file from"] {
        assert!(model.to_string().contains(gap), "{gap}");
    }
}

/// With the margin among the weights a place without one is rejected, not ranked as if its horizon were level.
#[test]
fn a_weighted_margin_rejects_what_is_not_known() {
    let folder = tempfile::tempdir().unwrap();
    trip(folder.path(), "Between,-45.4,169.0\nIn the void,-45.7,169.7\nBeyond,-45.4,170.1\n");
    fs::write(folder.path().join("plan.toml"), PLAN.replace("totality = 1\n", "totality = 1\nhorizon_margin = 1\n"))
        .unwrap();
    let (ranking, _) = ranked(folder.path());
    assert_eq!(site(&ranking, "Between")["rank"], 1);
    for name in ["In the void", "Beyond"] {
        assert!(site(&ranking, name)["rank"].is_null(), "{name}");
        holds(&site(&ranking, name)["rejected"].to_string(), &["horizon_margin"]);
    }
}

#[test]
fn at_says_where_no_ground_is_known() {
    let folder = tempfile::tempdir().unwrap();
    trip(folder.path(), "Between,-45.4,169.0\n");
    let dem = folder.path().join("dem");
    let at = |lon: &str, lat: &str| {
        let place = [format!("--lat={lat}"), format!("--lon={lon}"), format!("--terrain={}", dem.display())];
        let arguments = ["at", "2028-07-22", &place[0], &place[1], &place[2], "--format", "json"];
        let said = String::from_utf8(noonfall(&arguments).stderr).unwrap();
        (json(&arguments), said)
    };
    let (between, _) = at("169.0", "-45.4");
    assert_eq!(number(&between, "/site/elevation_m"), 150.0);
    assert!(number(&between, "/skyline/margin_max_deg") > 8.0);
    for (lon, lat, gap) in [("169.7", "-45.7", "the terrain has a void"), ("170.1", "-45.4", "no terrain file covers")]
    {
        let (lost, said) = at(lon, lat);
        assert!(lost["skyline"].is_null(), "{lost}");
        holds(&said, &["no skyline: ", gap, "no elevation from the terrain: "]);
    }
    let (_, said) = at("168.012", "-45.4");
    holds(&said, &["No terrain file from", "would reach the Sun in totality"]);
}
