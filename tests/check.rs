//! `noonfall check`: everything is read as for a ranking, nothing is ranked.

use crate::util::{holds, json, refusal, stdout};
use std::fs;

const DEMO: &str = "data/demo/plan.toml";

#[test]
fn the_demo_is_understood() {
    let said = stdout(&["check", DEMO, "--quiet"]);
    let ranking = json(&["rank", DEMO, "--quiet", "--format=json"]);
    let sites = ranking["sites"].as_array().unwrap().len();
    holds(
        &said,
        &[
            "total solar eclipse of 2028-07-22",
            &format!("{sites} places"),
            "inside the path",
            "INVENTED",
            "shadow_bands: weight",
            "drive-hours.csv",
            "Nothing was ranked",
        ],
    );
    // Every file that the ranking's provenance names is named here.
    for file in ranking["provenance"]["inputs"].as_array().unwrap() {
        holds(&said, &[file["file"].as_str().unwrap()]);
    }
    // How many lie inside is counted by the ranking too, at the smooth Moon's circumstances.
    let inside = ranking["sites"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|s| {
            s["rejected"].as_array().is_none_or(|r| !r.iter().any(|r| r.as_str().unwrap().contains("outside the path")))
        })
        .count();
    holds(&said, &[&format!("{inside} inside the path")]);
}

#[test]
fn it_refuses_what_a_ranking_refuses() {
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("plan.toml");
    for (text, pieces) in [
        ("[eclipse]\ndate = 2028-07-23\n[sites]\nfile = \"no.csv\"\n[weights]\ntotality = 1\n", &["2028-07-23"][..]),
        (
            "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"no.csv\"\n[weights]\ntotality = 1\n[clouds]\nfile = \"none.nc\"\n",
            &["no.csv", "none.nc"][..],
        ),
        ("[eclipse]\ndate = 2028-07-22\nwhat = 1\n", &["eclipse.what", "sites"][..]),
    ] {
        fs::write(&plan, text).unwrap();
        let (checked, ranked) =
            (refusal(&["check", plan.to_str().unwrap()]), refusal(&["rank", plan.to_str().unwrap()]));
        assert_eq!(checked, ranked);
        holds(&checked, pieces);
    }
}
