//! `noonfall rank`.

use crate::util::{command, json, no_nan, number, stdout, text};
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
        "contacts-wyndham.ics",
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

/// A calendar is of one place; the whole group's is written when it is asked for.
#[test]
fn the_groups_calendar_is_written_on_request() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("sites.csv"), "name,lat,lon\nWyndham,-15.4869,128.1243\nBourke,-30.0917,145.9339\n")
        .unwrap();
    let plan = folder.path().join("plan.toml");
    for (keys, files) in [("briefs = 1", 1), ("briefs = 1\ngroup_calendar = true", 2), ("briefs = 2", 2)] {
        let text = format!(
            "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"sites.csv\"\n[weights]\ntotality = 1\n[output]\n{keys}\n"
        );
        fs::write(&plan, text).unwrap();
        let out = folder.path().join(format!("out-{files}-{}", keys.len()));
        stdout(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap(), "--format", "csv", "--quiet"]);
        let calendars: Vec<String> = fs::read_dir(&out)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|e| e == "ics"))
            .map(|path| fs::read_to_string(path).unwrap())
            .collect();
        assert_eq!(calendars.len(), files, "{keys}");
        let places = |text: &str| {
            ["Wyndham", "Bourke"]
                .iter()
                .filter(|name| text.contains(&format!("SUMMARY:C2 Second contact: totality begins — {name}")))
                .count()
        };
        let most = calendars.iter().map(|text| places(&text.replace("\r\n ", ""))).max();
        assert_eq!(most, Some(if keys.contains("true") { 2 } else { 1 }), "{keys}");
        // Three reminders a place, no more.
        assert!(
            calendars.iter().all(|text| text.matches("BEGIN:VALARM").count() == 3 * places(&text.replace("\r\n ", "")))
        );
    }
}

/// Programs that ignore embedded fonts keep the width of every line, or get outlines where the plan asks for them.
#[test]
fn svg_files_hold_their_widths_or_are_outlines_on_request() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("sites.csv"), "name,lat,lon\nWyndham,-15.4869,128.1243\nBourke,-30.0917,145.9339\n")
        .unwrap();
    let plan = folder.path().join("plan.toml");
    for (keys, outlines) in [("briefs = 1", false), ("briefs = 1\nsvg_text = \"outlines\"", true)] {
        let text = format!(
            "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"sites.csv\"\n[weights]\ntotality = 1\n[output]\n{keys}\n"
        );
        fs::write(&plan, text).unwrap();
        let out = folder.path().join(format!("out-{outlines}"));
        stdout(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap(), "--format", "csv", "--quiet"]);
        for name in ["map.svg", "path.svg", "comparison.svg", "map-bourke.svg"] {
            let svg = fs::read_to_string(out.join(name)).unwrap();
            let (texts, widths) = (svg.matches("<text").count(), svg.matches("textLength=").count());
            assert!(svg.contains("<title"), "{name}");
            if outlines {
                assert_eq!((texts, svg.contains("font-face")), (0, false), "{name}");
            } else {
                // All but single letters and figures.
                assert!(widths * 4 > texts * 3 && texts > 10, "{name}: {widths} of {texts}");
            }
        }
    }
}
