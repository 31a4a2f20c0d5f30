//! How bad input is reported: place, what is wrong, what would be right.

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
}

impl Fault {
    /// A fault of a whole file.
    pub fn of_file(file: impl Into<String>, wrong: impl Into<String>, right: impl Into<String>) -> Fault {
        Fault { file: file.into(), line: None, column: None, key: None, wrong: wrong.into(), right: right.into() }
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
        write!(f, ": {}; {}", self.wrong, self.right)
    }
}

impl std::error::Error for Fault {}

/// All the faults found in one reading, in the order of the input.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Faults(pub Vec<Fault>);

/// How many faults are listed one by one before the rest is only counted.
const LISTED: usize = 20;

impl Faults {
    /// `Ok(value)` when nothing was found, otherwise the faults.
    ///
    /// # Errors
    /// `self`, if it holds any fault.
    pub fn or<T>(self, value: T) -> Result<T, Faults> {
        if self.0.is_empty() { Ok(value) } else { Err(self) }
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
        if self.0.len() > LISTED {
            write!(f, "\n… and {} more", self.0.len() - LISTED)?;
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

    #[test]
    fn the_twenty_first_fault_is_only_counted() {
        let faults = Faults((0..23).map(|i| Fault::of_file(format!("f{i}"), "wrong", "right")).collect());
        let text = faults.to_string();
        assert_eq!(text.lines().count(), 21);
        assert!(text.ends_with("… and 3 more"));
    }
}
