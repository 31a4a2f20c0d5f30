//! Every command that the README and the guides under reports/ show runs, and what they list is what there is.

use crate::util::{noonfall, stdout, top};
use noonfall_scoring::criteria::BUILT_IN;
use noonfall_words::safety;
use std::fs;
use std::path::Path;
use std::process::Command;

#[test]
fn every_documented_command_runs() {
    let mut pages = fs::read_to_string(top().join("README.md")).unwrap();
    for entry in fs::read_dir(top().join("reports")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|ending| ending == "md") {
            pages.push_str(&fs::read_to_string(path).unwrap());
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let mut ran = 0;
    // Commands stand in fenced blocks only.
    let blocks = pages.split("```sh").skip(1).filter_map(|rest| rest.split("```").next());
    // What makes files of its own is a session, run as it stands in an empty folder.
    let (sessions, blocks): (Vec<&str>, Vec<&str>) = blocks.partition(|block| block.contains("\nprintf "));
    sessions.into_iter().for_each(run_session);
    for line in blocks.into_iter().flat_map(str::lines).filter_map(|line| line.strip_prefix("noonfall ")) {
        // What follows a redirection or a comment is the shell's.
        let words: Vec<String> = shell_words(line.split(['>', '#']).next().unwrap_or_default());
        // Files go to a folder of this test's own.
        let words: Vec<String> = words
            .iter()
            .enumerate()
            .map(|(k, word)| {
                let is_out = k > 0 && words[k - 1] == "--out" || words[0] == "manual" && k == 1;
                if is_out { folder.path().join(word).to_str().unwrap().to_owned() } else { word.clone() }
            })
            .collect();
        let arguments: Vec<&str> = words.iter().map(String::as_str).collect();
        let output = noonfall(&arguments);
        assert!(output.status.success(), "noonfall {line}: {}", String::from_utf8_lossy(&output.stderr));
        ran += 1;
    }
    assert!(ran >= 8, "only {ran} commands are documented");
}

/// What stands in code marks between two pieces of a text.
fn marked<'a>(text: &'a str, from: &str, to: &str) -> Vec<&'a str> {
    let part =
        text.split_once(from).and_then(|(_, rest)| rest.split_once(to)).unwrap_or_else(|| panic!("no {from:?}")).0;
    part.split('`').skip(1).step_by(2).collect()
}

#[test]
fn every_criterion_is_listed_wherever_criteria_are() {
    let readme = fs::read_to_string(top().join("README.md")).unwrap();
    let (names, keys) = (BUILT_IN.map(|c| c.name), BUILT_IN.map(|c| c.require));
    let table = readme.split("### `[weights]`").nth(1).unwrap().split("| any numeric column").next().unwrap();
    let rows: Vec<&str> = table.lines().filter_map(|l| l.strip_prefix("| `")?.split('`').next()).collect();
    assert_eq!(
        rows, names,
        "README.md, [weights]: a row for every criterion, in the order of outputs: value and default wish"
    );
    let required = marked(&readme, "`min_` and `max_` with any of ", ", or a numeric column");
    assert_eq!(required, keys, "README.md, [require]: the key of every criterion, in the order of outputs");
    let searched = marked(&readme, "The search weighs ", "; a weighted column");
    assert_eq!(searched, names, "README.md, [search]: the name of every criterion, in the order of outputs");
}

/// A criterion that the page says nothing of is a row of its own there, without a value at points of the page's own: only names that
/// are none would be wrong.
#[test]
fn the_page_names_no_criterion_that_there_is_not() {
    let script = |name: &str| fs::read_to_string(top().join("crates/render/assets/report").join(name)).unwrap();
    let (assess, beside) = (script("assess.js"), script("beside.js"));
    let known = assess.split("const known = {").nth(1).unwrap().split('}').next().unwrap();
    let known: Vec<&str> = known.lines().filter_map(|l| l.trim().split_once(':')).map(|(name, _)| name).collect();
    let said = beside.split("const said = new Set([").nth(1).unwrap().split(']').next().unwrap();
    let said: Vec<&str> = said.split('\'').skip(1).step_by(2).collect();
    assert_eq!((known.len(), said.len()), (2, 3), "{known:?} {said:?}");
    for (file, name) in known.iter().map(|n| ("assess.js", n)).chain(said.iter().map(|n| ("beside.js", n))) {
        let there_is = BUILT_IN.iter().any(|c| c.name == *name);
        assert!(
            there_is,
            "crates/render/assets/report/{file} speaks of {name}: give it the name in crates/scoring/src/criteria/"
        );
    }
}

#[test]
fn the_caution_stands_in_the_words_of_the_code() {
    let words = |text: &str| {
        text.split_whitespace().filter(|word| *word != ">").collect::<Vec<_>>().join(" ").replace("**", "")
    };
    for page in ["README.md", "reports/guide.md", "crates/cli/README.md"] {
        let text = words(&fs::read_to_string(top().join(page)).unwrap());
        assert!(
            text.contains(safety::INTRODUCTION),
            "{page}: quote noonfall_words::safety::INTRODUCTION: {:?}",
            safety::INTRODUCTION
        );
        assert_eq!(text.matches("can blind").count(), 1, "{page}: the caution stands there once");
    }
    let sunlit = words(&fs::read_to_string(top().join("README.md")).unwrap());
    let short = safety::FREE_SKYLINE.split(':').next().unwrap();
    assert!(sunlit.contains(&format!("{short}. ")), "README.md, sunlit: {short:?} stands there");
    assert!(words(&stdout(&["--help"])).contains(safety::INTRODUCTION));
}

fn run_session(block: &str) {
    if cfg!(unix) {
        let program = Path::new(env!("CARGO_BIN_EXE_noonfall")).parent().unwrap();
        let path = std::env::join_paths(
            std::iter::once(program.to_owned()).chain(std::env::split_paths(&std::env::var_os("PATH").unwrap())),
        );
        let folder = tempfile::tempdir().unwrap();
        let output = Command::new("sh")
            .args(["-e", "-c", block])
            .current_dir(folder.path())
            .env("PATH", path.unwrap())
            .output()
            .unwrap();
        assert!(output.status.success(), "{block}: {}", String::from_utf8_lossy(&output.stderr));
    }
}

/// Words separated by blanks, double quotes kept together.
fn shell_words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let (mut word, mut quoted) = (String::new(), false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            c if c.is_whitespace() && !quoted => {
                if !word.is_empty() {
                    words.push(std::mem::take(&mut word));
                }
            }
            c => word.push(c),
        }
    }
    if !word.is_empty() {
        words.push(word);
    }
    words
}
