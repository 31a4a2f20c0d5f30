//! `noonfall rank`.

use crate::util::{command, json, no_nan, number, stdout, text, top};
use std::fs;

const DEMO: &str = "data/demo/plan.toml";

#[test]
fn the_demo_ranks_and_rejects() {
    let ranking = json(&["rank", DEMO, "--format", "json", "--quiet"]);
    let sites = ranking["sites"].as_array().unwrap();
    let ranked: Vec<u64> = sites.iter().filter_map(|s| s["rank"].as_u64()).collect();
    assert_eq!(ranked, (1..=ranked.len() as u64).collect::<Vec<_>>());
    assert!(ranked.len() >= 10);
    // Birdsville lies 4 km south of the path and Oamaru 11 km north of it, by the rigorous program under tests/reference.
    for name in ["Birdsville", "Oamaru"] {
        let site = sites.iter().find(|s| s["name"] == name).unwrap();
        assert!(site["rank"].is_null());
        assert!(text(site, "/rejected/0").contains("outside the path"), "{site}");
    }
    // Scores fall with the rank.
    let scores: Vec<f64> = sites.iter().filter_map(|s| s["score"].as_f64()).collect();
    assert!(scores.windows(2).all(|w| w[0] >= w[1]));
}

/// Expected clear totality is totality times the chance of a clear line, by definition.
#[test]
fn expected_clear_totality_is_the_product() {
    let ranking = json(&["rank", DEMO, "--format", "json", "--quiet"]);
    for site in ranking["sites"].as_array().unwrap().iter().filter(|s| s["rank"].is_u64()) {
        let product = number(site, "/totality_s") * number(site, "/clear_sky_probability");
        assert!((product - number(site, "/expected_clear_totality_s")).abs() < 0.1, "{site}");
    }
}

/// One outlook for shadow bands in every output, to the digit that it is printed with; and each says what it was held against.
#[test]
fn ranking_and_at_give_the_same_shadow_band_outlook() {
    let ranking = json(&["rank", DEMO, "--format", "json", "--quiet"]);
    for name in ["Wyndham", "Dunedin"] {
        let site = ranking["sites"].as_array().unwrap().iter().find(|s| s["name"] == name).unwrap();
        let [lat, lon, height] = ["/lat_deg", "/lon_deg", "/elevation_m"].map(|key| number(site, key).to_string());
        let place = ["at", "2028-07-22", "--lat", &lat, "--lon", &lon, "--elevation", &height, "--format", "json"];
        let at = json(&place);
        let (ranked, alone) = (number(site, "/criteria/shadow_bands/value"), number(&at, "/shadow_bands/outlook"));
        assert!((ranked - alone).abs() < 1e-4 && (0.0..1.0).contains(&alone), "{name}: {ranked} {alone}");
        assert!(text(&at, "/shadow_bands/held_against_reports").contains("not distinguishable from chance"));
        let lux = number(&at, "/totality_light/illuminance_lux");
        assert!((0.3..20.0).contains(&lux), "{name}: {lux}");
    }
}

#[test]
fn all_files_of_the_report_are_written() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("report");
    stdout(&["rank", DEMO, "--out", out.to_str().unwrap(), "--format", "csv", "--quiet"]);
    for name in [
        "ranking.csv",
        "ranking.json",
        "map.svg",
        "path.svg",
        "map-wyndham.svg",
        "comparison.svg",
        "report.html",
        "sites.geojson",
        "sites.kml",
        "sites.gpx",
        "contacts.ics",
    ] {
        let content = fs::read_to_string(out.join(name)).unwrap();
        assert!(content.len() > 200, "{name}");
        if name.ends_with(".json") || name.ends_with(".csv") || name.ends_with("json") {
            no_nan(&content);
        }
        // The demo's clouds are invented, and every output that shows them must say so.
        if !name.ends_with(".csv") {
            assert!(content.to_lowercase().contains("invented"), "{name} does not say that data are invented");
        }
    }
    assert!(fs::read(out.join("map.png")).unwrap().starts_with(b"\x89PNG"));
    assert!(fs::read(out.join("map.pdf")).unwrap().starts_with(b"%PDF-"));
    let briefs =
        fs::read_dir(&out).unwrap().filter(|e| e.as_ref().unwrap().file_name().to_string_lossy().starts_with("brief-"));
    assert_eq!(briefs.count(), 3);
    let parts =
        fs::read_dir(&out).unwrap().filter(|e| e.as_ref().unwrap().file_name().to_string_lossy().contains(".part"));
    assert_eq!(parts.count(), 0);
}

#[test]
fn the_bytes_do_not_depend_on_the_number_of_threads() {
    let run = |threads: &str| {
        let output =
            command(&["rank", DEMO, "--format", "json", "--quiet"]).env("RAYON_NUM_THREADS", threads).output().unwrap();
        assert!(output.status.success());
        output.stdout
    };
    assert!(run("1") == run("3"));
}

#[test]
fn the_ranking_fits_its_schema_file() {
    assert!(top().join("data/schema/ranking.schema.json").is_file());
}
