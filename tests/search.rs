//! `noonfall rank` with `[search]` over ground and along roads: what the files of a report then hold.
//!
//! Ground and roads are INVENTED; lakes, sea and the eclipse are not. What the search finds is checked in the engine's own tests.

use crate::util::{holds, noonfall, number, page_model, refusal, stdout, text, top};
use std::fs;
use std::path::Path;

const PLAN: &str = "[eclipse]\ndate = 2028-07-22\n[weights]\ntotality = 1\nhorizon_margin = 1\n[robustness]\ndraws = 2000\n\
    [terrain]\ndir = \"dem\"\n[search]\nspacing_km = 1\nbest = 3\napart_km = 4\npolygon = \"area.geojson\"\nmax_slope = 30\n\
    roads = \"roads.osm.pbf\"\nroad_distance_km = 0.6\n[output]\nbriefs = 1\n";

fn trip(folder: &Path, plan: &str) {
    fs::write(folder.join("plan.toml"), plan).unwrap();
    let ring = "[[169.2,-45.4],[169.6,-45.4],[169.6,-45.1],[169.2,-45.1],[169.2,-45.4]]";
    fs::write(folder.join("area.geojson"), format!("{{\"type\":\"Polygon\",\"coordinates\":[{ring}]}}")).unwrap();
    fs::copy(top().join("tests/reference/search/roads.osm.pbf"), folder.join("roads.osm.pbf")).unwrap();
    fs::create_dir(folder.join("dem")).unwrap();
    // The SRTM tile S46E169 at 3″: a plain at 150 m, and a wall 900 m high along 169.35° E, before the Sun of what lies to its east.
    let wall = |i: u32| if (418..424).contains(&(i % 1201)) { 900_i16 } else { 150 };
    let tile: Vec<u8> = (0..1201 * 1201).flat_map(|i| wall(i).to_be_bytes()).collect();
    fs::write(folder.join("dem/S46E169.hgt"), tile).unwrap();
}

#[test]
fn places_found_carry_height_margin_slope_and_road() {
    let folder = tempfile::tempdir().unwrap();
    trip(folder.path(), PLAN);
    let out = folder.path().join("report");
    let plan = folder.path().join("plan.toml");
    stdout(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap(), "--format", "csv", "--quiet"]);
    let ranking: serde_json::Value = serde_json::from_slice(&fs::read(out.join("ranking.json")).unwrap()).unwrap();
    let mut table = csv::Reader::from_path(out.join("ranking.csv")).unwrap();
    let headers = table.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 3);
    for (site, row) in ranking["sites"].as_array().unwrap().iter().zip(&rows) {
        let cell = |name: &str| row.get(headers.iter().position(|h| h == name).unwrap()).unwrap();
        assert_eq!(site["found_by_search"], true);
        assert_eq!(number(site, "/elevation_m"), 150.0);
        assert_eq!(cell("elevation_m"), "150");
        assert!(number(site, "/horizon_margin_deg") > 5.0, "{site}");
        assert!(
            (cell("horizon_margin_deg").parse::<f64>().unwrap() - number(site, "/horizon_margin_deg")).abs() < 0.006
        );
        assert_eq!(cell("slope_deg"), "0.0");
        assert!(cell("road_km").parse::<f64>().unwrap() <= 0.6);
        assert!(text(site, "/name").contains(" of ") && text(site, "/name").contains("from "), "{site}");
    }
    let search = &ranking["search"];
    for key in ["sea", "lake", "road", "no_terrain", "slope", "hidden_sun", "skylines_asked"] {
        assert!(search["dropped"][key].is_u64(), "{search}");
    }
    assert!(number(search, "/dropped/road") > 100.0);
    let words = format!("{} points in the path are more than 0.6 km from a road.", search["dropped"]["road"]);
    holds(text(search, "/words"), &[words.as_str()]);
    // The report: the search's own words among the notes, the ground on map and page.
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    holds(&page, &[words.as_str()]);
    assert!(number(&page_model(&page), "/ground/lat_step_deg") > 0.0);
    let map = fs::read_dir(&out).unwrap().map(|e| e.unwrap().path());
    let region = map
        .filter(|p| p.extension().is_some_and(|e| e == "svg"))
        .find(|p| p.file_name().unwrap().to_string_lossy().starts_with("map-"));
    let region = fs::read_to_string(region.unwrap()).unwrap();
    holds(&region, &["aria-label=\"Relief\"", "Ground hides the Sun in totality"]);
    // Same input, same bytes.
    let again = folder.path().join("again");
    stdout(&["rank", plan.to_str().unwrap(), "--out", again.to_str().unwrap(), "--format", "csv", "--quiet"]);
    for name in ["ranking.json", "report.html"] {
        assert!(fs::read(out.join(name)).unwrap() == fs::read(again.join(name)).unwrap(), "{name}");
    }
}

#[test]
fn roads_that_cannot_be_read_are_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    trip(folder.path(), PLAN);
    let whole = fs::read(folder.path().join("roads.osm.pbf")).unwrap();
    let (plan, out) = (folder.path().join("plan.toml"), folder.path().join("report"));
    for (bytes, says) in [(&whole[..whole.len() / 2], "ends inside blob"), (b"{\"type\":\"Feature", "is not GeoJSON")] {
        fs::write(folder.path().join("roads.osm.pbf"), bytes).unwrap();
        let said = refusal(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap()]);
        holds(&said, &["roads.osm.pbf: ", says, "give an OpenStreetMap extract (.osm.pbf) or a GeoJSON of lines"]);
        assert!(!out.exists());
    }
    let unknown = PLAN.replace("max_slope", "max_slop");
    fs::write(&plan, unknown).unwrap();
    let output = noonfall(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    holds(&String::from_utf8_lossy(&output.stderr), &["max_slop", "did you mean max_slope?"]);
}
