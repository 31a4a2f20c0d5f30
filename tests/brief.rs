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

/// What a brief says of bare eyes: its words are read as they stand one after another, whatever line or element they stand in.
fn says_of_bare_eyes(svg: &str) -> Vec<&'static str> {
    let words = |piece: &str| piece.split('>').nth(1).unwrap_or_default().to_lowercase();
    let all: Vec<String> =
        svg.split("</text>").map(|before| words(&before[before.rfind("<text").unwrap_or(0)..])).collect();
    let all = all.join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
    ["filter off", "filters off", "binoculars", "corona", "uncover"]
        .into_iter()
        .filter(|word| all.contains(word))
        .collect()
}

/// Outside the path there is no filter-OFF window, on paper either. The check finds one in a brief that has it, and in one that was
/// doctored.
#[test]
fn a_brief_outside_the_path_keeps_filters_on() {
    let folder = tempfile::tempdir().unwrap();
    let brief = |site: &str| {
        let file = folder.path().join("b.svg");
        stdout(&["brief", "data/demo/plan.toml", "--site", site, "--out", file.to_str().unwrap(), "--quiet"]);
        fs::read_to_string(&file).unwrap()
    };
    let outside = brief("Oamaru");
    // Binoculars stand in the caution of every brief: never without a filter.
    assert_eq!(says_of_bare_eyes(&outside), ["binoculars"]);
    assert_eq!(says_of_bare_eyes(&brief("Wyndham")), ["filter off", "binoculars", "corona", "uncover"]);
    let line = "Half free again: filters on to the end.";
    assert!(outside.contains(line));
    for (doctored, word) in
        [("Half free again: filter</text><text>OFF to the end.", "filter off"), ("Half free: the corona.", "corona")]
    {
        assert!(says_of_bare_eyes(&outside.replace(line, doctored)).contains(&word), "{doctored}");
    }
}
