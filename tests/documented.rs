//! Every command that the README and the guides under reports/ show runs.

use crate::util::{noonfall, top};
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
