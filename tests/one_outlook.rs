//! One outlook for shadow bands: the same number for a place from `at`, the ranking, the search's places and the page; and what haze,
//! snow and wind change in it.

use crate::util::{holds, json, noonfall, number, page_model, refusal, stdout, text};
use serde_json::Value;
use std::fs;

/// A sky that is not the standard one, so that an output that forgot the plan's would show.
const SKY: &str = "[sky]\nhaze = \"hazy\"\nsnow = true\nwind = \"W,5\"\n";

#[test]
fn at_ranking_search_and_page_give_one_number() {
    let folder = tempfile::tempdir().unwrap();
    let plan = format!(
        "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"sites.csv\"\n{SKY}[search]\nspacing_km = 16\nbest = 6\napart_km = 150\n\
         [weights]\ntotality = 1\nshadow_bands = 2\n[robustness]\ndraws = 2000\n[output]\nbriefs = 1\n"
    );
    let sites = "name,lat,lon,elevation_m\nWyndham,-15.4869,128.1243,4\nTennant,-19.6487,134.19,375\nHills,-24.3461,139.46,2600\n\
                 Eromanga,-26.7,143.267,200\nDubbo,-32.243,148.6048,285\nMudgee,-32.5943,149.5871,471\nSydney,-33.8678,151.2073,6\n\
                 Queenstown,-45.0302,168.6627,355\n";
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    fs::write(folder.path().join("sites.csv"), sites).unwrap();
    let (plan, out) = (folder.path().join("plan.toml"), folder.path().join("out"));
    let ran =
        noonfall(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap(), "--quiet", "--format", "json"]);
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let ranking: Value = serde_json::from_str(&fs::read_to_string(out.join("ranking.json")).unwrap()).unwrap();
    let model = page_model(&fs::read_to_string(out.join("report.html")).unwrap());
    let columns = &model["sites"]["columns"];
    let criterion =
        model["criteria"].as_array().unwrap().iter().position(|c| c["name"] == "shadow_bands").unwrap().to_string();
    let (mut compared, mut found) = (0, 0);
    for (i, site) in ranking["sites"].as_array().unwrap().iter().enumerate() {
        let ranked = number(site, "/criteria/shadow_bands/value");
        assert_eq!(columns["name"]["v"][i], site["name"]);
        let column = &columns[format!("value.{criterion}")];
        let carried = column["v"][i].as_f64().unwrap() / 10_f64.powf(column["d"].as_f64().unwrap());
        assert!((carried - ranked).abs() < 1e-9, "{carried} {site}");
        let flag = |name: &str, key: &str| format!("--{name}={}", site[key]);
        let at =
            ["at", "2028-07-22", &flag("lat", "lat_deg"), &flag("lon", "lon_deg"), &flag("elevation", "elevation_m")];
        let told = json(&[&at[..], &["--haze=hazy", "--snow", "--wind=W,5", "--format=json"]].concat());
        // Coordinates of found places have four decimals in the file: ten metres, which no fourth digit of an outlook notices.
        let of_at = number(&told, "/shadow_bands/outlook");
        assert!((of_at - ranked).abs() < 1.001e-4, "{}: {of_at} {ranked}", site["name"]);
        assert_eq!(number(&told, "/air/haze"), 0.3);
        compared += 1;
        found += u32::from(site["found_by_search"] == true);
    }
    assert!(compared >= 10 && found >= 4, "{compared} {found}");
}

#[test]
fn haze_snow_height_and_wind_tell() {
    let at = |more: &[&str]| {
        let place = ["at", "2028-07-22", "--lat=-32.5943", "--lon=149.5871", "--format=json"];
        json(&[&place[..], more].concat())
    };
    let usual = at(&["--elevation=471"]);
    let lux = |v: &Value| number(v, "/totality_light/illuminance_lux");
    let outlook = |v: &Value| number(v, "/shadow_bands/outlook");
    let hazy = at(&["--elevation=471", "--haze=hazy"]);
    assert!(lux(&hazy) < lux(&usual) && outlook(&hazy) < outlook(&usual));
    let snow = at(&["--elevation=471", "--snow"]);
    assert!(lux(&snow) > 1.2 * lux(&usual) && outlook(&snow) < outlook(&usual));
    let clear = at(&["--elevation=471", "--haze=0.05"]);
    assert!(outlook(&clear) > outlook(&usual));
    assert!(outlook(&at(&["--elevation=3000"])) != outlook(&usual));
    // The wind moves the bands and changes nothing else; without one nothing is told of their motion.
    assert!(usual.pointer("/shadow_bands/drift").unwrap().is_null());
    let blown = at(&["--elevation=471", "--wind=W,5"]);
    assert_eq!(outlook(&blown), outlook(&usual));
    let along = number(&blown, "/shadow_bands/band_azimuth_deg");
    let (speed, towards) =
        (number(&blown, "/shadow_bands/drift/speed_m_s"), number(&blown, "/shadow_bands/drift/towards_deg"));
    assert!((speed - 5.0 * along.to_radians().cos().abs()).abs() < 0.002, "{speed} {along}");
    assert!((towards - along).rem_euclid(180.0) - 90.0 < 1e-3, "{towards} {along}");
    let page = |more: &[&str]| {
        stdout(&[&["at", "2028-07-22", "--lat=-32.5943", "--lon=149.5871", "--format=table"][..], more].concat())
    };
    holds(
        &page(&[]),
        &["hang on the wind, which is unknown, so they are not told", "haze of optical depth 0.10, no snow"],
    );
    holds(&page(&["--wind=SW,4", "--snow"]), &["Under the wind given they move towards the", "snow all about"]);
    for (option, right) in
        [("--haze=fog", "clear, average, hazy"), ("--haze=0.9", "0 to 0.6"), ("--wind=5", "such as W,5")]
    {
        holds(&refusal(&["at", "2028-07-22", "--lat=-32.6", "--lon=149.6", option]), &[right]);
    }
}

/// The shadow's edge on cloud and haze is told, from geometry, where the shadow comes from far from the Sun.
#[test]
fn the_edge_on_high_cloud_and_haze_is_told() {
    let told = json(&["at", "2028-07-22", "--lat=-16.5", "--lon=128", "--elevation=0", "--format=json"]);
    let layers = told.pointer("/shadow/layers").unwrap().as_array().unwrap();
    let clears = |i: usize| number(&layers[i], "/clears_10_deg_s");
    assert_eq!((text(&layers[0], "/layer"), text(&layers[1], "/layer")), ("high cloud", "haze"));
    // High cloud shows the edge far away, low haze only near.
    assert!(clears(0) > 3.0 * clears(1) && clears(1) > 5.0, "{layers:?}");
    let entry = told["timeline"].as_array().unwrap().iter().find(|e| e["happening"] == "shadow_comes").unwrap();
    holds(
        text(entry, "/detail"),
        &["10° (a fist) high on high cloud (10 km up)", "on haze (2 km up)", "s before totality"],
    );
}

#[test]
fn a_plan_with_a_wrong_sky_is_refused_with_what_would_be_right() {
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("plan.toml");
    fs::write(folder.path().join("s.csv"), "name,lat,lon\nA,-26.7,143.267\n").unwrap();
    let head = "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n[weights]\ntotality = 1\n[sky]\n";
    for (line, pieces) in [
        ("haze = \"thick\"", ["plan.toml:8", "sky.haze", "clear, average, hazy"]),
        ("haze = 2.5", ["plan.toml:8", "sky.haze", "0 to 0.6"]),
        ("wind = \"west\"", ["plan.toml:8", "sky.wind", "such as W,5"]),
        ("snow = 3", ["plan.toml:8", "sky.snow", "true"]),
        ("hase = 1", ["plan.toml:8", "hase", "haze"]),
    ] {
        fs::write(&plan, format!("{head}{line}\n")).unwrap();
        holds(&refusal(&["rank", plan.to_str().unwrap()]), &pieces);
    }
}
