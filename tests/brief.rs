//! `noonfall brief`.

use crate::util::stdout;
use std::fs;

#[test]
fn a_brief_in_every_format_and_paper() {
    let folder = tempfile::tempdir().unwrap();
    for (name, magic) in [("b.pdf", &b"%PDF-"[..]), ("b.svg", b"<svg"), ("b.png", b"\x89PNG")] {
        let file = folder.path().join(name);
        stdout(&["brief", "data/demo/plan.toml", "--site", "Wyndham", "--out", file.to_str().unwrap(), "--quiet"]);
        assert!(fs::read(&file).unwrap().starts_with(magic), "{name}");
    }
    let file = folder.path().join("letter.pdf");
    stdout(&[
        "brief",
        "data/demo/plan.toml",
        "--site",
        "Wyndham",
        "--paper",
        "letter",
        "--out",
        file.to_str().unwrap(),
        "--quiet",
    ]);
    assert!(fs::read(&file).unwrap().starts_with(b"%PDF-"));
}

/// Outside the path there is no filter-OFF window, on paper either.
#[test]
fn a_brief_outside_the_path_keeps_filters_on() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("b.svg");
    stdout(&["brief", "data/demo/plan.toml", "--site", "Oamaru", "--out", file.to_str().unwrap(), "--quiet"]);
    assert!(!fs::read_to_string(&file).unwrap().to_uppercase().contains("FILTER OFF"));
}
