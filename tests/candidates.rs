//! Candidates in the formats that people have them in.

use std::collections::BTreeMap;

use crate::util::{refusal, stdout};

/// A folder that goes when the test ends.
struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Folder {
        Folder(tempfile::tempdir().unwrap())
    }

    /// Writes a file and gives its path.
    fn write(&self, name: &str, content: &str) -> String {
        let path = self.0.path().join(name);
        std::fs::write(&path, content).unwrap();
        path.display().to_string()
    }
}

/// Name and second contact of every place that `at` answers for.
fn answers(file: &str) -> BTreeMap<String, String> {
    let text = stdout(&["at", "2028-07-22", "--sites", file, "--quiet", "--format", "csv"]);
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let head = rows.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|h| h == name).unwrap();
    let (name, c2) = (column("name"), column("c2_utc"));
    // Places found again in another format may have lost their height: a second contact moves by less than a second.
    rows.records().map(Result::unwrap).map(|r| (r[name].to_owned(), r[c2].chars().take(16).collect())).collect()
}

#[test]
fn what_the_program_writes_it_reads() {
    let given = answers("data/demo/sites.csv");
    assert!(given.len() > 10 && given.values().filter(|c2| !c2.is_empty()).count() > 5, "{given:?}");
    for file in ["ranking.csv", "sites.geojson", "sites.kml", "sites.gpx"] {
        assert_eq!(answers(&format!("reports/demo/{file}")), given, "{file}");
    }
}

#[test]
fn several_files_of_candidates_are_ranked_together() {
    let folder = Folder::new();
    folder.write("a.csv", "name,lat,lon,elevation_m,beds\nBedourie,-24.36,139.47,90,30\n");
    // As the report page hands out the points that somebody kept.
    folder.write(
        "own-points.geojson",
        r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"Dune <camp>","elevation_m":90},"geometry":{"type":"Point","coordinates":[139.5,-24.3]}}]}"#,
    );
    let text = "[eclipse]\ndate = \"2028-07-22\"\n[sites]\nfile = [\"a.csv\", \"own-points.geojson\"]\n[weights]\ntotality = 1\n[robustness]\ndraws = 2000\n";
    let plan = folder.write("plan.toml", text);
    let ranked = stdout(&["rank", &plan, "--quiet", "--format", "csv"]);
    assert!(ranked.contains("Bedourie") && ranked.contains("Dune <camp>"), "{ranked}");
    let wrong = folder.write("wrong.toml", &text.replace("\"own-points.geojson\"", "7"));
    assert!(refusal(&["rank", &wrong]).contains("key sites.file"));
    let wrong = folder.write("wrong.toml", &text.replace("own-points", "none"));
    assert!(refusal(&["rank", &wrong]).contains("none.geojson"));
}

#[test]
fn towns_of_the_own_table_are_ranked() {
    let folder = Folder::new();
    let plan = folder.write(
        "plan.toml",
        "[eclipse]\ndate = \"2028-07-22\"\n[sites.towns]\ncountries = [\"NZ\", \"AU\"]\npopulation = 20000\n[weights]\ntotality = 1\npopulation = 0.1\n[wish.population]\nbetter = \"higher\"\nfrom = 0\nto = 1000000\n[robustness]\ndraws = 2000\n",
    );
    let ranked = stdout(&["rank", &plan, "--quiet", "--format", "csv"]);
    // Totality of 2028 crosses Sydney and Dunedin (eclipse catalogues); Canberra and Melbourne lie outside.
    for town in ["Sydney", "Dunedin", "Dubbo"] {
        assert!(ranked.lines().any(|l| l.contains(&format!(",{town},"))), "{town}\n{ranked}");
    }
    assert!(!ranked.contains("Melbourne") && !ranked.contains("Canberra"));
    let text = std::fs::read_to_string(&plan).unwrap();
    let wrong = folder
        .write("wrong.toml", &text.replace("\"NZ\"", "\"Zealand\"").replace("population = 20000", "population = -1"));
    assert!(refusal(&["rank", &wrong]).contains("key sites.towns.population"));
    let wrong = folder.write("wrong.toml", &text.replace("\"NZ\"", "\"Zealand\""));
    assert!(refusal(&["rank", &wrong]).contains("\"ZEALAND\" is no country of the table of towns"));
    let none = folder.write("none.toml", &text.replace("20000", "90000000"));
    assert!(refusal(&["rank", &none]).contains("key sites.towns: no town fits"));
}

#[test]
fn files_that_are_no_candidates_are_named() {
    let folder = Folder::new();
    for (name, content, says) in [
        (
            "a.html",
            "<!doctype html><html><body>towns</body></html>",
            "is XML of another kind (its outermost element is html)",
        ),
        (
            "b.kml",
            "<kml><Document><Placemark><name>x</name></Placemark></Document></kml>",
            "none of its 1 placemarks has a Point",
        ),
        ("c.geojson", "{\"type\":\"FeatureCollection\",\"features\":[]}", "there is no feature in it"),
        ("d.kmz", "PK\u{3}\u{4}and nothing more", "is not a readable zip archive"),
        ("e.gpx", "<gpx><wpt lat='1' lon='2'>", "e.gpx:1: is not readable XML"),
    ] {
        let file = folder.write(name, content);
        let text = refusal(&["at", "2028-07-22", "--sites", &file]);
        assert!(text.contains(says), "{name}: {text}");
    }
}

/// LibreOffice's tables, whatever separator, encoding and decimal sign it was told to write (`tests/reference/candidates/ORIGIN.md`).
#[test]
fn tables_of_a_spreadsheet_program_are_read_alike() {
    let folder = "tests/reference/candidates";
    let contacts = |name: &str| {
        stdout(&["at", "2026-08-12", "--sites", &format!("{folder}/{name}"), "--quiet", "--format", "csv"])
    };
    let first = contacts("comma.csv");
    for part in
        ["\"Córdoba, old town\",37.88470,-4.77920,", "Maó,39.88850,4.26580,12,", "Ñandú camp,40.50000,-3.25000,655,"]
    {
        assert!(first.contains(part), "{part}: {first}");
    }
    for name in [
        "quoted.csv",
        "tab-windows-1252.tsv",
        "tab-utf-16.tsv",
        "semicolon-decimal-comma.csv",
        "semicolon-windows-1252.csv",
    ] {
        assert_eq!(contacts(name), first, "{name}");
    }
}
