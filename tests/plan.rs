//! `noonfall plan`.

use crate::util::{holds, noonfall, stdout};

/// A new plan must be a plan: ranking it with the demo's sites works.
#[test]
fn a_new_plan_is_a_valid_plan() {
    let text = stdout(&["plan", "new", "2028-07-22"]);
    holds(&text, &["2028-07-22", "[weights]", "#"]);
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("plan.toml"), &text).unwrap();
    std::fs::copy(crate::util::top().join("data/demo/sites.csv"), folder.path().join("sites.csv")).unwrap();
    let output = noonfall(&["rank", folder.path().join("plan.toml").to_str().unwrap(), "--format", "csv"]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn profiles_are_printed_as_plan_text() {
    let all = stdout(&["plan", "profiles"]);
    let names: Vec<&str> =
        all.lines().filter_map(|l| l.strip_prefix("# ")?.split_once(':').map(|(name, _)| name)).collect();
    assert_eq!(names.len(), 5, "{all}");
    for name in names {
        let one = stdout(&["plan", "profiles", name]);
        assert!(one.parse::<toml::Table>().is_ok(), "{one}");
    }
}

#[test]
fn completions_and_manual_pages() {
    for shell in ["bash", "zsh", "fish"] {
        holds(&stdout(&["completions", shell]), &["noonfall", "rank"]);
    }
    let folder = tempfile::tempdir().unwrap();
    stdout(&["manual", folder.path().to_str().unwrap()]);
    for page in ["noonfall.1", "noonfall-rank.1", "noonfall-plan-new.1"] {
        assert!(folder.path().join(page).is_file(), "{page}");
    }
}

/// Every command explains itself with an example.
#[test]
fn every_help_has_an_example() {
    for command in [
        &["list"][..],
        &["trace"],
        &["at"],
        &["rank"],
        &["brief"],
        &["plan", "new"],
        &["plan", "profiles"],
        &["completions"],
        &["manual"],
    ] {
        let text = stdout(&[command, &["--help"]].concat());
        holds(&text, &["Example"]);
    }
}
