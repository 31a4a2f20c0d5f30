//! What a target is.

use std::path::{Path, PathBuf};

/// A reader under damaged files.
pub struct Target {
    /// Its name on the command line.
    pub name: &'static str,
    /// The name that a case's file gets; readers tell some formats by it.
    pub file: &'static str,
    /// Files beside it that stay whole.
    pub beside: fn() -> Vec<(&'static str, Vec<u8>)>,
    /// Good files to start from: paths from the project's top folder; those of `corpus/NAME` come of themselves.
    pub seeds: &'static [&'static str],
    /// Good files that are made rather than kept.
    pub made: fn() -> Vec<Vec<u8>>,
    /// Words of the format.
    pub words: &'static [&'static str],
    /// Reads a file and says what came of it. Panics where that is no answer.
    pub read: fn(&Path) -> String,
}

/// A target without anything beside it.
pub const PLAIN: Target =
    Target { name: "", file: "", beside: Vec::new, seeds: &[], made: Vec::new, words: &[], read: |_| String::new() };

/// The project's top folder.
pub fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

impl Target {
    /// The folder of its good files and of what was found.
    pub fn corpus(&self) -> PathBuf {
        top().join("fuzz/corpus").join(self.name)
    }

    /// All good files and earlier findings, by name.
    ///
    /// # Errors
    /// A seed that cannot be read.
    pub fn starts(&self) -> std::io::Result<Vec<(String, Vec<u8>)>> {
        let mut all = Vec::new();
        for seed in self.seeds {
            all.push(((*seed).to_owned(), std::fs::read(top().join(seed))?));
        }
        for (i, made) in (self.made)().into_iter().enumerate() {
            all.push((format!("made {i}"), made));
        }
        if let Ok(kept) = std::fs::read_dir(self.corpus()) {
            let mut paths: Vec<PathBuf> = kept.filter_map(|e| Some(e.ok()?.path())).collect();
            paths.sort();
            for path in paths {
                all.push((path.display().to_string(), std::fs::read(&path)?));
            }
        }
        Ok(all)
    }
}

/// The words of an outcome without what differs from file to file: of its first line the first ten words that are lower-case letters
/// throughout. Names, numbers and what a message repeats of a file fall away, but for plain words.
pub fn essence(words: &str) -> String {
    let first = words.lines().next().unwrap_or_default();
    let plain =
        |w: &&str| !w.is_empty() && w.trim_end_matches([',', ';', ':', '.']).bytes().all(|b| b.is_ascii_lowercase());
    first.split(' ').filter(plain).take(10).collect::<Vec<&str>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_essence_forgets_numbers_and_quotes() {
        assert_eq!(essence("a.csv:12: \"1e9\" is wrong"), essence("a.csv:7: \"x\" is wrong"));
        assert_eq!(essence("/a.csv:1: no column lat, but \u{7f}q"), "no column lat, but");
        assert_ne!(essence("a.csv: short"), essence("a.csv: long"));
    }
}
