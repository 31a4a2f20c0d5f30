//! `noonfall clouds`: what is understood of an archive, and the same odds whichever way it goes.
//!
//! The archives are INVENTED and made by other programs: tests/reference/clouds/archives.

use crate::util::{holds, json, noonfall, number, refusal, stdout, text, top};
use std::fs;

const ARCHIVES: &str = "tests/reference/clouds/archives";

fn archive(name: &str) -> String {
    format!("{ARCHIVES}/{name}")
}

#[test]
fn an_archive_says_what_it_holds_without_reading_its_figures() {
    let value = json(&["clouds", &archive("store.zip")]);
    assert_eq!(text(&value, "/format"), "NetCDF-4 (HDF5)");
    assert_eq!((text(&value, "/unit"), text(&value, "/stated_unit")), ("fraction", "(0 - 1)"));
    assert_eq!(text(&value, "/kind"), "grid");
    assert!(text(&value, "/kind_by").contains("cloud_area_fraction"));
    assert_eq!((text(&value, "/from"), text(&value, "/to")), ("2019-07-01", "2020-07-25"));
    assert_eq!(number(&value, "/times"), 200.0);
    assert_eq!(value["hours_utc"], serde_json::json!([0.0, 6.0, 12.0, 18.0]));
    assert_eq!(value["invented"], true);
    let page = stdout(&["clouds", &archive("monthly.nc"), "--format", "table"]);
    holds(&page, &["INVENTED DATA", "monthly means", "2019-08 missing", "3 × 3 points", "2018 to 2020 (3 years)"]);
}

#[test]
fn odds_at_a_place_come_by_hour_and_by_day_with_their_intervals() {
    let value = json(&["clouds", &archive("layers.nc"), "--near", "-25.3,141.1", "--date", "2028-07-13"]);
    let days = value.pointer("/near/by_day").and_then(|d| d.as_array()).unwrap();
    assert!(days.len() >= 5, "{value}");
    for odds in days.iter().chain(value.pointer("/near/by_hour").and_then(|d| d.as_array()).unwrap()) {
        let (low, chance, high) =
            (number(odds, "/low_95"), number(odds, "/clear_line_of_sight"), number(odds, "/high_95"));
        assert!(low < chance && chance < high && (0.0..=1.0).contains(&low) && high <= 1.0, "{odds}");
        assert!(number(odds, "/layers/low_takes") > 0.0);
    }
    let far = json(&["clouds", &archive("layers.nc"), "--near", "40,10", "--date", "2028-07-13"]);
    assert!(text(&far, "/near/unknown").contains("outside the cloud grid"), "{far}");
    assert_eq!(far.pointer("/near/by_day").unwrap().as_array().unwrap().len(), 0);
}

#[test]
fn a_table_a_chart_and_a_picture_are_written_and_the_table_gives_the_same_odds_to_a_place() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (csv, svg, png) = (file("near.csv"), file("odds.svg"), file("odds.png"));
    let near = ["--near", "-15.6,128.2", "--date", "2028-07-22", "--out", &csv, "--out", &svg, "--out", &png];
    let first = json(&[&["clouds", "data/demo/day-records.csv"][..], &near].concat());
    assert!(fs::read_to_string(&svg).unwrap().contains("INVENTED"));
    assert!(fs::read(&png).unwrap().starts_with(b"\x89PNG"));
    let second = json(&["clouds", &csv, "--near", "-15.6,128.2", "--date", "2028-07-22"]);
    let (a, b) = (first.pointer("/near/by_day").unwrap(), second.pointer("/near/by_day").unwrap());
    assert_eq!(a.as_array().unwrap().len(), b.as_array().unwrap().len());
    for (a, b) in a.as_array().unwrap().iter().zip(b.as_array().unwrap()) {
        for key in ["/clear_line_of_sight", "/low_95", "/high_95"] {
            assert!((number(a, key) - number(b, key)).abs() < 0.002, "{a} {b}");
        }
    }
    let at = |clouds: &str| json(&["at", "2028-07-22", "--lat", "-15.6", "--lon", "128.2", "--clouds", clouds]);
    let (a, b) = (at("data/demo/day-records.csv"), at(&csv));
    assert!((number(&a, "/cloud/clear_line_of_sight") - number(&b, "/cloud/clear_line_of_sight")).abs() < 0.002);
}

#[test]
fn a_plan_takes_an_archive_a_folder_and_a_list() {
    let folder = tempfile::tempdir().unwrap();
    let sites = "name,lat,lon\nEromanga,-26.7,143.267\nThargomindah,-27.9864,143.811\n";
    fs::write(folder.path().join("sites.csv"), sites).unwrap();
    let top = top();
    let archives = top.join(ARCHIVES);
    let isd = folder.path().join("isd");
    fs::create_dir(&isd).unwrap();
    for name in ["999991-99999-2019.gz", "999991-99999-2020.gz", "isd-history.csv"] {
        fs::copy(archives.join(name), isd.join(name)).unwrap();
    }
    let rank = |clouds: &str| {
        let plan = format!(
            "[eclipse]\ndate = \"2028-07-22\"\n[sites]\nfile = \"sites.csv\"\n[clouds]\n{clouds}\n[weights]\ntotality = 1\nsun_altitude = 1\n"
        );
        let file = folder.path().join("plan.toml");
        fs::write(&file, plan).unwrap();
        noonfall(&["rank", file.to_str().unwrap(), "--format", "json", "--quiet"])
    };
    let quoted = |name: &str| format!("'{}'", archives.join(name).display());
    for clouds in [
        format!("file = {}", quoted("store.zip")),
        format!("file = {}", quoted("monthly-by-hour.nc")),
        format!("file = [{}, {}]", quoted("cover-2020-07.tif"), quoted("matrix-2020-07.csv")),
        format!("file = {}\nkind = 'grid'", quoted("bands-pixel.tif")),
        "records = \"isd\"\nreach_km = 1500".to_owned(),
    ] {
        let output = rank(&clouds);
        let stderr = String::from_utf8_lossy(&output.stderr).into_owned();
        if clouds.starts_with("file = [") {
            // Two pictures of one month are one too many.
            assert!(stderr.contains("is of the same month as"), "{stderr}");
            continue;
        }
        assert!(output.status.success(), "{clouds}: {stderr}");
        let value: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let seen = value.to_string();
        assert!(
            seen.contains("clear_sky_probability") && !seen.contains("\"clear_sky_probability\":null"),
            "{clouds}: {seen}"
        );
    }
}

#[test]
fn what_cannot_be_read_is_refused_with_the_way_out() {
    let folder = tempfile::tempdir().unwrap();
    let with = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let hdf4 = with("mod08.hdf", b"\x0e\x03\x13\x01 and more");
    holds(&refusal(&["clouds", &hdf4]), &["mod08.hdf", "HDF4", "gdal_translate"]);
    holds(&refusal(&["clouds", &with("a.grib", b"GRIB....")]), &["GRIB", "NetCDF"]);
    holds(&refusal(&["clouds", &with("none.csv", b"")]), &["none.csv", "empty"]);
    holds(&refusal(&["clouds", &archive("kelvin.nc")]), &["tcc", "\"K\"", "no unit of cloud cover"]);
    let here = ["--near", "-25,141", "--date", "2028-07-02"];
    let much = refusal(&[&["clouds", &archive("too-much.nc")][..], &here].concat());
    holds(&much, &["tcc", "1.4", "no cloud cover"]);
    // How the cover was seen is asked for; what else the file holds is told.
    let plain = with("plain.csv", b"name,lat,lon,month,cloud_okta\nA,-25,141,7,4\n");
    holds(
        &stdout(&["clouds", &plain, "--format", "table"]),
        &["kind         not stated: which is it?", "--kind observed"],
    );
    assert!(json(&["clouds", &plain]).pointer("/kind").unwrap().is_null());
    let asks = refusal(&[&["clouds", &plain][..], &here].concat());
    holds(
        &asks,
        &["plain.csv", "seen from the ground or from above", "a column kind, --kind, or in a plan [clouds] kind"],
    );
    let at = ["at", "2028-07-22", "--lat=-25", "--lon=141", "--clouds", &plain];
    assert!(refusal(&at).contains("plain.csv"));
    let chance = |kind: &str| number(&json(&[&at[..], &["--kind", kind]].concat()), "/cloud/clear_line_of_sight");
    assert!(chance("observed") != chance("grid"));
    holds(&refusal(&["clouds", "no-such-folder/x.nc"]), &["x.nc", "cannot be opened"]);
    let out = folder.path().join("odds.pdf");
    let out = out.to_str().unwrap();
    holds(
        &refusal(&["clouds", &archive("store.nc"), "--near", "-25,141", "--out", out]),
        &["odds.pdf", ".csv, .svg or .png"],
    );
    holds(&refusal(&["clouds", &archive("store.nc"), "--format", "csv"]), &["no place", "--near"]);
    let whole = fs::read(top().join(archive("store.nc"))).unwrap();
    let cut = with("cut.nc", &whole[..whole.len() / 2]);
    assert_eq!(refusal(&[&["clouds", &cut][..], &here].concat()).lines().count(), 1);
}
