//! Input that is allowed but awkward: no candidate, one, ten thousand; names that would break a page, a table or a spreadsheet.

use crate::util::{holds, noonfall, refusal, stdout};
use serde_json::Value;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

/// A folder with a plan of its own for the eclipse of 22 July 2028 and a sites table; gives the plan's path.
fn plan_for(sites: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("sites.csv"), sites).unwrap();
    let plan = folder.path().join("plan.toml");
    fs::write(
        &plan,
        "[eclipse]\ndate = \"2028-07-22\"\n[sites]\nfile = \"sites.csv\"\n[weights]\ntotality = 1\nsun_altitude = 1\n[output]\nbriefs = 1\n",
    )
    .unwrap();
    (folder, plan)
}

fn ranked(plan: &Path, out: &Path) -> Value {
    stdout(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap(), "--quiet", "--format", "csv"]);
    serde_json::from_str(&fs::read_to_string(out.join("ranking.json")).unwrap()).unwrap()
}

#[test]
fn no_site_is_refused() {
    let (folder, plan) = plan_for("name,lat,lon\n");
    let out = folder.path().join("out");
    let message = refusal(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    holds(&message, &["sites.csv", "no"]);
    assert!(!out.exists());
}

#[test]
fn one_site_makes_a_whole_report() {
    let (folder, plan) = plan_for("name,lat,lon\nWyndham,-15.4869,128.1243\n");
    let out = folder.path().join("out");
    let ranking = ranked(&plan, &out);
    assert_eq!(ranking["sites"].as_array().unwrap().len(), 1);
    for name in ["report.html", "map.svg", "path.svg", "comparison.svg", "brief-wyndham.pdf", "map-wyndham.svg"] {
        assert!(out.join(name).is_file(), "{name}");
    }
}

#[test]
fn ten_thousand_sites_are_ranked() {
    let mut sites = "name,lat,lon\n".to_owned();
    for k in 0..10_000 {
        // A raster over the Kimberley, which the path crosses.
        let (row, column) = (k / 100, k % 100);
        let (lat, lon) = (-17.5 + 0.03 * f64::from(row), 126.0 + 0.04 * f64::from(column));
        let _ = writeln!(sites, "Place {k},{lat:.4},{lon:.4}");
    }
    let (folder, plan) = plan_for(&sites);
    let out = folder.path().join("out");
    let ranking = ranked(&plan, &out);
    let sites = ranking["sites"].as_array().unwrap();
    assert_eq!(sites.len(), 10_000);
    let ranks: Vec<u64> = sites.iter().filter_map(|s| s["rank"].as_u64()).collect();
    assert!(ranks.len() > 5_000 && ranks.windows(2).all(|pair| pair[1] == pair[0] + 1));
    assert!(fs::read_to_string(out.join("report.html")).unwrap().contains("Place "));
}

#[test]
fn hostile_names_stay_text() {
    let long = "x".repeat(300);
    let names = [
        "=cmd|' /C calc'!A0",
        "<script>alert(1)</script>",
        "\"\"\"quoted\"\" & 'apostrophe' ]]>\"",
        "🌘 Camp",
        "מצפה \u{202E}רמון",
        &long,
    ];
    let mut sites = "name,lat,lon\n".to_owned();
    for (k, name) in names.iter().enumerate() {
        let _ = writeln!(sites, "{name},{:.3},128.1", -15.4 - 0.02 * k as f64);
    }
    let (folder, plan) = plan_for(&sites);
    let out = folder.path().join("out");
    let ranking = ranked(&plan, &out);
    assert_eq!(ranking["sites"].as_array().unwrap().len(), names.len());
    for entry in fs::read_dir(&out).unwrap() {
        let path = entry.unwrap().path();
        let Ok(text) = fs::read_to_string(&path) else { continue };
        let ending = path.extension().unwrap_or_default();
        if ending == "svg" || ending == "html" || ending == "kml" || ending == "gpx" {
            assert!(!text.contains("<script>alert"), "{}", path.display());
        }
        if ending == "csv" {
            assert!(
                !text.lines().any(|line| line.split(',').any(|cell| cell.trim_matches('"').starts_with('='))),
                "a formula"
            );
        }
    }
}

/// One PDF for several buses: a page for each site that was asked for.
/// Letters that the fonts hold are set, others are written in Latin and that is said; file names are plain.
#[test]
fn names_in_any_script_are_set_or_said() {
    let (folder, plan) = plan_for(
        "name,lat,lon\nالأقصر,-15.49,128.12\nصلالة Salalah,-15.6,128.3\n哈密,-15.7,128.5\nמצפה (3),-15.65,128.4\n",
    );
    let plans = fs::read_to_string(&plan).unwrap().replace("briefs = 1", "briefs = 4");
    fs::write(&plan, plans).unwrap();
    let out = folder.path().join("out");
    let said = noonfall(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap(), "--format", "csv"]);
    assert!(said.status.success());
    holds(&String::from_utf8_lossy(&said.stderr), &["\"哈密\" is written \"HaMi\""]);
    assert!(!String::from_utf8_lossy(&said.stderr).contains("Salalah"));
    for name in ["brief-alaqsr.pdf", "brief-slalh-salalah.pdf", "map-hami.svg", "brief-mtsfh-3.pdf"] {
        assert!(out.join(name).is_file(), "{name}: {:?}", fs::read_dir(&out).unwrap().collect::<Vec<_>>());
    }
    let map = fs::read_to_string(out.join("map.svg")).unwrap();
    holds(&map, &["HaMi", "الأقصر", "<tspan font-family=\"Noto Sans Arabic\">صلالة"]);
    // Names for screen readers keep their letters.
    assert!(!map.contains(">哈") && !map.contains('□'));
}

#[test]
fn a_group_brief_has_a_page_for_each_site() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("group.pdf");
    let (out, plan) = (file.to_str().unwrap(), "data/demo/plan.toml");
    stdout(&["brief", plan, "--site", "Wyndham", "--site", "Dunedin", "--site", "Oamaru", "--out", out, "--quiet"]);
    let info = std::process::Command::new("pdfinfo").arg(&file).output().unwrap();
    let info = String::from_utf8_lossy(&info.stdout).into_owned();
    assert!(info.lines().any(|line| line.starts_with("Pages:") && line.ends_with(" 3")), "{info}");
    let picture = folder.path().join("group.png");
    let both = ["brief", plan, "--site", "Wyndham", "--site", "Dunedin", "--out", picture.to_str().unwrap()];
    assert_eq!(noonfall(&both).status.code(), Some(2));
    assert!(!picture.exists());
}
