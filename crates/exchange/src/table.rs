//! Tables: rows and columns once, shown on a terminal ([`crate::terminal`]) or written as CSV.

/// How a column is aligned on a terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// One column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    /// Stable key with its unit in the name: the header of a CSV file.
    pub key: String,
    /// Short title for people.
    pub title: String,
    /// Unit for people; empty where there is none.
    pub unit: String,
    /// Alignment.
    pub align: Align,
    /// Shown on a terminal; a CSV file has every column.
    pub on_terminal: bool,
}

impl Column {
    /// A column shown everywhere.
    pub fn new(key: &str, title: &str, unit: &str, align: Align) -> Column {
        Column { key: key.into(), title: title.into(), unit: unit.into(), align, on_terminal: true }
    }

    /// A column for files only.
    pub fn for_files(key: &str) -> Column {
        Column { on_terminal: false, ..Column::new(key, key, "", Align::Left) }
    }
}

/// One cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Words.
    Text(String),
    /// A number with a fixed number of decimals.
    Number {
        /// The value; always finite.
        value: f64,
        /// Digits after the point.
        decimals: usize,
    },
    /// A whole number.
    Whole(i64),
    /// A value that does not exist.
    Empty,
}

impl Cell {
    /// A number, or nothing where it is not finite.
    pub fn number(value: f64, decimals: usize) -> Cell {
        if value.is_finite() { Cell::Number { value, decimals } } else { Cell::Empty }
    }

    /// A number that may not exist.
    pub fn maybe(value: Option<f64>, decimals: usize) -> Cell {
        value.map_or(Cell::Empty, |value| Cell::number(value, decimals))
    }

    /// Words.
    pub fn text(words: impl Into<String>) -> Cell {
        Cell::Text(words.into())
    }

    /// Words that may not exist.
    pub fn maybe_text(words: Option<impl Into<String>>) -> Cell {
        words.map_or(Cell::Empty, |words| Cell::Text(words.into()))
    }

    /// As it is written in a file.
    pub fn show(&self) -> String {
        match self {
            Cell::Text(text) => text.clone(),
            Cell::Number { value, decimals } => {
                let text = format!("{value:.decimals$}");
                // No negative zero: "-0.00" is "0.00".
                match text.strip_prefix('-') {
                    Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
                    _ => text,
                }
            }
            Cell::Whole(value) => value.to_string(),
            Cell::Empty => String::new(),
        }
    }
}

/// Columns and rows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// Columns in order.
    pub columns: Vec<Column>,
    /// Rows, each with one cell for each column.
    pub rows: Vec<Vec<Cell>>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_negative_zero_and_no_nan() {
        assert_eq!(Cell::number(-0.001, 2).show(), "0.00");
        assert_eq!(Cell::number(f64::INFINITY, 2), Cell::Empty);
        assert_eq!(Cell::number(-1.5, 1).show(), "-1.5");
    }
}
