//! Tables: rows and columns once, shown on a terminal or written as CSV.
//!
//! On a terminal the columns line up, units stand in the header, and a value that does not exist is a dash.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

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

/// The widest a column of words gets on a terminal before its cells are cut.
const WORDS_MOST: usize = 44;

impl Sheet {
    /// The sheet for a terminal: a line of titles, a line of units where any column has one, a rule, the rows.
    pub fn to_terminal(&self) -> String {
        let shown: Vec<usize> = (0..self.columns.len()).filter(|&i| self.columns[i].on_terminal).collect();
        let titles: Vec<String> = shown.iter().map(|&i| self.columns[i].title.clone()).collect();
        let units: Vec<String> = shown.iter().map(|&i| self.columns[i].unit.clone()).collect();
        let body: Vec<Vec<String>> = self
            .rows
            .iter()
            .map(|row| {
                shown
                    .iter()
                    .map(|&i| match row.get(i) {
                        None | Some(Cell::Empty) => "–".to_owned(),
                        Some(cell @ Cell::Text(_)) => one_line(&cell.show()),
                        Some(cell) => cell.show(),
                    })
                    .collect()
            })
            .collect();
        let widths: Vec<usize> = (0..shown.len())
            .map(|c| {
                [&titles[c], &units[c]]
                    .into_iter()
                    .chain(body.iter().map(|row| &row[c]))
                    .map(|text| text.width())
                    .max()
                    .unwrap_or(0)
            })
            .collect();
        let mut out = String::new();
        let mut line = |cells: &[String]| {
            let mut text = String::new();
            for (c, cell) in cells.iter().enumerate() {
                if c > 0 {
                    text.push_str("  ");
                }
                let gap = " ".repeat(widths[c].saturating_sub(cell.width()));
                match self.columns[shown[c]].align {
                    Align::Left => text.push_str(&format!("{cell}{gap}")),
                    Align::Right => text.push_str(&format!("{gap}{cell}")),
                }
            }
            out.push_str(text.trim_end());
            out.push('\n');
        };
        line(&titles);
        if units.iter().any(|unit| !unit.is_empty()) {
            line(&units);
        }
        line(&widths.iter().map(|&width| "─".repeat(width)).collect::<Vec<_>>());
        for row in &body {
            line(row);
        }
        out
    }
}

/// Words on one line: no control characters (a name must not move the cursor or change colours), no direction overrides, cut to
/// [`WORDS_MOST`] columns of the terminal.
fn one_line(text: &str) -> String {
    let text = crate::wording::clean(text, usize::MAX);
    if text.width() <= WORDS_MOST {
        return text;
    }
    let mut out = String::new();
    let mut used = 1;
    for c in text.chars() {
        used += c.width().unwrap_or(0);
        if used > WORDS_MOST {
            break;
        }
        out.push(c);
    }
    out.push('…');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> Sheet {
        Sheet {
            columns: vec![
                Column::new("name", "site", "", Align::Left),
                Column::new("totality_s", "totality", "s", Align::Right),
                Column::for_files("zone"),
            ],
            rows: vec![
                vec![Cell::text("Broome"), Cell::number(171.25, 1), Cell::text("Australia/Perth")],
                vec![Cell::text("日本\u{1b}[31m"), Cell::Empty, Cell::text("Asia/Tokyo")],
            ],
        }
    }

    #[test]
    fn columns_line_up_and_units_stand_in_the_header() {
        assert_eq!(
            sheet().to_terminal(),
            "site       totality\n                  s\n─────────  ────────\nBroome        171.2\n日本 [31m         –\n"
        );
    }

    #[test]
    fn no_negative_zero_and_no_nan() {
        assert_eq!(Cell::number(-0.001, 2).show(), "0.00");
        assert_eq!(Cell::number(f64::INFINITY, 2), Cell::Empty);
        assert_eq!(Cell::number(-1.5, 1).show(), "-1.5");
    }

    #[test]
    fn long_words_are_cut_to_the_terminal() {
        let text = one_line(&"長い名前".repeat(40));
        assert!(text.width() <= WORDS_MOST && text.ends_with('…'));
    }
}
