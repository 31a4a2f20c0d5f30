//! One altitude of the Sun for people: whatever they read tells the apparent one, refraction included; machine keys keep both apart.
//!
//! The place near Alexandra, New Zealand, sees the eclipse of 22 July 2028 with the Sun at an airless 9.46°, lifted by the
//! air to 9.56°: either rounding, to whole degrees and to tenths, tells the two apart.

use crate::util::{holds, number, page_model, stdout};
use serde_json::Value;
use std::fs;
use std::process::Command;

const PLAN: &str = "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"sites.csv\"\n[weights]\ntotality = 1\nsun_altitude = 1\n\
    [robustness]\ndraws = 2000\n[output]\nbriefs = 2\n";

const SITES: &str = "name,lat,lon,elevation_m\nHigh,-15.4825,128.1228,11\nLow,-45.4,169.0,200\n";

/// A value of a column that the page carries.
fn carried(page: &Value, column: &str, site: usize) -> f64 {
    let column = &page["sites"]["columns"][column];
    number(column, &format!("/v/{site}")) / 10f64.powf(number(column, "/d"))
}

#[test]
fn a_low_suns_altitude_is_the_same_in_all_that_people_read() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    fs::write(folder.path().join("sites.csv"), SITES).unwrap();
    let (plan, out) = (folder.path().join("plan.toml"), folder.path().join("report"));
    let table =
        stdout(&["rank", plan.to_str().unwrap(), "--out", out.to_str().unwrap(), "--format", "table", "--quiet"]);
    let read = |name: &str| fs::read_to_string(out.join(name)).unwrap();

    let ranking: Value = serde_json::from_str(&read("ranking.json")).unwrap();
    let low = ranking["sites"].as_array().unwrap().iter().position(|s| s["name"] == "Low").unwrap();
    let max = ranking["sites"][low]["contacts"]["max"].clone();
    let (airless, apparent) = (number(&max, "/sun_altitude_deg"), number(&max, "/sun_apparent_altitude_deg"));
    let tell = |altitude: f64| (format!("{altitude:.1}"), format!("{altitude:.0}"));
    let ((tenths, whole), (airless_tenths, airless_whole)) = (tell(apparent), tell(airless));
    assert!(tenths != airless_tenths && whole != airless_whole, "{airless} {apparent}");

    // What other programs read keeps both, each under its key.
    assert!((number(&ranking["sites"][low], "/sun_altitude_deg") - airless).abs() < 1e-3);
    let (csv, row) = (read("ranking.csv"), |text: &str| text.lines().find(|l| l.contains("Low")).unwrap().to_owned());
    let (heads, cells) = (csv.lines().next().unwrap(), row(&csv));
    let cell = |key: &str| cells.split(',').nth(heads.split(',').position(|k| k == key).unwrap()).unwrap().to_owned();
    assert_eq!((cell("sun_altitude_deg"), cell("sun_apparent_altitude_deg")), (airless_tenths.clone(), tenths.clone()));

    // The length of totality, 161.454 s, comes out of table and comparison alike too: it is rounded once.
    assert_eq!(cell("totality_s"), ranking["side_by_side"]["rows"][0]["low"].to_string());

    // The table, the words of the comparison and its picture.
    let (table_row, holds_airless) = (row(&table), |text: &str| text.contains(&airless_tenths));
    assert!(table_row.contains(&tenths) && !holds_airless(&table_row), "{table_row}");
    holds(
        &ranking["side_by_side"]["words"].to_string(),
        &[&format!("At Low the Sun stands {whole}° high in totality")],
    );
    let compared = &ranking["side_by_side"]["rows"].as_array().unwrap()[1];
    assert_eq!((compared["quantity"].as_str(), compared["low"].to_string()), (Some("Sun's altitude"), tenths.clone()));
    holds(&read("comparison.svg"), &[&format!("Sun {tenths}°"), &format!(">{tenths}°<")]);

    // The map around the place and its brief: the small map, the sky, the headline, the contacts.
    holds(&read("map-low.svg"), &[&format!("· Sun {whole}°")]);
    let brief = Command::new("pdftotext").arg("-raw").arg(out.join("brief-low.pdf")).arg("-").output();
    let brief = String::from_utf8(brief.expect("pdftotext does not run: install poppler-utils").stdout).unwrap();
    holds(&brief, &[&format!("{whole}° up, "), &format!("· Sun {whole}°"), &format!("\nSun {whole}°\n")]);
    let contact = brief.lines().find(|l| l.starts_with("max ")).unwrap();
    assert!(contact.contains(&format!(" {tenths}° ")), "{contact}");

    // The page: its table, the numbers behind it, and the criterion, which says that it is airless.
    let report = read("report.html");
    holds(&report, &[&format!("<td class=\"n\">{tenths}°</td>")]);
    let page = page_model(&report);
    assert!((carried(&page, "contact.2.altitude_deg", low) - apparent).abs() < 2e-3);
    let criterion = page["criteria"].as_array().unwrap().iter().position(|c| c["name"] == "sun_altitude").unwrap();
    assert!((carried(&page, &format!("value.{criterion}"), low) - airless).abs() < 2e-3);
    assert_eq!(page["criteria"][criterion]["label"], "Sun's airless altitude");

    // And the place asked for by itself.
    let at = ["at", "2028-07-22", "--lat=-45.4", "--lon=169.0", "--elevation=200", "--format", "table"];
    holds(&stdout(&at), &[&format!(" {apparent:.2} ")]);
}
