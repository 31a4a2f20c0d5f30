//! How bad input is reported: place, what is wrong, what would be right.

use noonfall_shadow::moon_edge::MoonGridError;
use std::fmt;

/// One thing wrong with an input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// File name as the user gave it.
    pub file: String,
    /// Line number, counted from 1, where the fault is.
    pub line: Option<u64>,
    /// Column name or number.
    pub column: Option<String>,
    /// Plan key, dotted (`weights.totality`).
    pub key: Option<String>,
    /// What is wrong, with the offending text.
    pub wrong: String,
    /// What would be right.
    pub right: String,
    /// How many faults it stands for: 1, or more where a long list was cut, see [`Faults::keep_short`].
    pub stands_for: u64,
}

impl From<MoonGridError> for Fault {
    fn from(error: MoonGridError) -> Fault {
        Fault::of_file(error.file, error.wrong, error.right)
    }
}

impl Fault {
    /// A fault of a whole file.
    pub fn of_file(file: impl Into<String>, wrong: impl Into<String>, right: impl Into<String>) -> Fault {
        Fault {
            file: file.into(),
            line: None,
            column: None,
            key: None,
            wrong: wrong.into(),
            right: right.into(),
            stands_for: 1,
        }
    }

    /// A fault of one cell of a table.
    pub fn of_cell(
        file: impl Into<String>,
        line: u64,
        column: impl Into<String>,
        wrong: impl Into<String>,
        right: impl Into<String>,
    ) -> Fault {
        Fault { line: Some(line), column: Some(column.into()), ..Fault::of_file(file, wrong, right) }
    }

    /// A fault of a plan key.
    pub fn of_key(
        file: impl Into<String>,
        line: Option<u64>,
        key: impl Into<String>,
        wrong: impl Into<String>,
        right: impl Into<String>,
    ) -> Fault {
        Fault { line, key: Some(key.into()), ..Fault::of_file(file, wrong, right) }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ": column {column}")?;
        }
        if let Some(key) = &self.key {
            write!(f, ": key {key}")?;
        }
        write!(f, ": {}; {}", shown(&self.wrong), shown(&self.right))
    }
}

impl std::error::Error for Fault {}

/// Characters of what is wrong that are shown at most: a library's own words may repeat half a broken file.
const LONGEST: usize = 600;

/// Words of a message on one line and not endless, whatever they repeat of a file.
fn shown(words: &str) -> String {
    let mut out: String = words.chars().take(LONGEST).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if words.chars().nth(LONGEST).is_some() {
        out.push_str(" …");
    }
    out
}

/// All the faults found in one reading, in the order of the input.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Faults(pub Vec<Fault>);

/// How many faults are listed one by one before the rest is only counted.
pub(crate) const LISTED: usize = 20;

/// How many faults of one table are kept; of a table with more, the last one kept stands for the rest.
const KEPT: usize = 1000;

impl Faults {
    /// `Ok(value)` when nothing was found, otherwise the faults.
    ///
    /// # Errors
    /// `self`, if it holds any fault.
    pub fn or<T>(self, value: T) -> Result<T, Faults> {
        if self.0.is_empty() { Ok(value) } else { Err(self) }
    }
}

impl Faults {
    /// Keeps the memory of a long list bounded: beyond a thousand the faults are counted, not kept. Only ever called
    /// while one file is read, so that the faults of another file are never swallowed.
    pub fn keep_short(&mut self) {
        while self.0.len() > KEPT {
            let Some(rest) = self.0.pop() else { return };
            if let Some(last) = self.0.last_mut() {
                last.stands_for += rest.stands_for;
            }
        }
    }

    /// How many faults there are, kept or only counted.
    pub fn count(&self) -> u64 {
        self.0.iter().map(|f| f.stands_for).sum()
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Faults {
        Faults(vec![fault])
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.0.iter().take(LISTED).enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        let more: u64 = self.0.iter().skip(LISTED).map(|f| f.stands_for).sum();
        if more > 0 {
            write!(f, "\n… and {more} more")?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_fault_names_file_line_column_and_what_would_be_right() {
        let fault = Fault::of_cell("sites.csv", 7, "lat", "\"95\" is not a latitude", "give degrees from -90 to 90");
        assert_eq!(fault.to_string(), "sites.csv:7: column lat: \"95\" is not a latitude; give degrees from -90 to 90");
    }

    /// Found by damaging files: a TIFF with ten thousand sample formats was refused with all of them.
    #[test]
    fn what_is_wrong_is_never_endless() {
        let text = Fault::of_file("a.tif", "é".repeat(100_000), "give another").to_string();
        assert!(text.chars().count() < 700 && text.ends_with("é …; give another"), "{text}");
        // A quotation mark that is never closed makes one cell of many lines.
        let text = Fault::of_file("h.csv", "the header has: a\nb\r\n\u{1b}[2J", "add it").to_string();
        assert_eq!(text, "h.csv: the header has: a b   [2J; add it");
    }

    #[test]
    fn the_twenty_first_fault_is_only_counted() {
        let faults = Faults((0..23).map(|i| Fault::of_file(format!("f{i}"), "wrong", "right")).collect());
        let text = faults.to_string();
        assert_eq!(text.lines().count(), 21);
        assert!(text.ends_with("… and 3 more"));
    }

    #[test]
    fn a_million_faults_are_counted_and_a_thousand_kept() {
        let mut faults = Faults::default();
        for i in 0..1_000_000 {
            faults.0.push(Fault::of_cell("f", i + 2, "lat", "wrong", "right"));
            faults.keep_short();
        }
        assert_eq!((faults.0.len(), faults.count()), (1000, 1_000_000));
        assert!(faults.to_string().ends_with("… and 999980 more"));
    }
}
