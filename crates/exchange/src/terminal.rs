//! Tables and texts for a terminal, as wide as it is.
//!
//! A table that is too wide gets its words wrapped within their columns; where its figures alone do not fit, each row becomes
//! a block of lines. Away from a terminal nothing is wrapped.

use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table, Width, presets};
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::table::{Align, Cell, Sheet};

/// The widest a column of words gets before its cells are cut, where nothing is wrapped.
const WORDS_MOST: usize = 44;

/// The narrowest a column of words gets.
const WORDS_LEAST: usize = 12;

/// Between two columns.
const GAP: usize = 2;

/// How text comes on the terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Screen {
    /// Columns of letters; `None` away from a terminal, where lines are as long as they are.
    pub columns: Option<usize>,
}

impl Screen {
    /// A screen without an edge: a file, a pipe.
    pub const ENDLESS: Screen = Screen { columns: None };

    /// A paragraph with its end of line, wrapped between words; what goes on is indented as far as the paragraph's own text:
    /// behind its leading spaces, its clock time, or its mark.
    /// ```
    /// use noonfall_exchange::terminal::Screen;
    /// let screen = Screen { columns: Some(24) };
    /// assert_eq!(screen.line("! Never without a filter, never."), "! Never without a\n  filter, never.\n");
    /// assert_eq!(Screen::ENDLESS.line("as long as it is"), "as long as it is\n");
    /// ```
    pub fn line(self, text: &str) -> String {
        self.hanging(text, hanging(text))
    }

    /// The same with what goes on indented by so many letters.
    pub fn hanging(self, text: &str, indent: usize) -> String {
        match self.columns {
            Some(columns) if text.width() > columns => {
                let indent = " ".repeat(indent.min(columns / 3));
                let options = textwrap::Options::new(columns).subsequent_indent(&indent);
                textwrap::fill(text, options) + "\n"
            }
            _ => format!("{text}\n"),
        }
    }

    /// A sheet: a line of titles, a line of units where any column has one, a rule, the rows.
    pub fn table(self, sheet: &Sheet) -> String {
        let shown = Shown::of(sheet);
        let rows = |cut| sheet.rows.iter().map(|row| shown.cells(row, cut)).collect::<Vec<_>>();
        // Words are cut only where nobody knows how much room there is.
        let rows = rows(self.columns.is_none());
        let widths = shown.widths(&rows);
        let natural = widths.iter().sum::<usize>() + GAP * widths.len().saturating_sub(1);
        match self.columns {
            Some(columns) if natural > columns => {
                shown.wrapped(&rows, columns).unwrap_or_else(|| shown.blocks(self, &rows))
            }
            _ => shown.plain(&rows, &widths),
        }
    }
}

/// How far a paragraph's own text is indented.
fn hanging(text: &str) -> usize {
    let leading = text.len() - text.trim_start().len();
    let clock = text.as_bytes().get(2) == Some(&b':') && text.starts_with(|c: char| c.is_ascii_digit());
    if clock {
        // Behind the clock and the word about the filter, which stand in columns of their own.
        let column = |from: usize| text[from..].find("  ").map(|at| from + at);
        let behind = |at: usize| at + text[at..].len() - text[at..].trim_start().len();
        let after = column(0).map(behind).and_then(column).map(behind);
        return after.unwrap_or(10);
    }
    leading + if text.trim_start().starts_with("! ") { 2 } else { 0 }.max(if leading > 0 { 2 } else { 0 })
}

/// What of a sheet is shown.
struct Shown {
    places: Vec<usize>,
    titles: Vec<String>,
    units: Vec<String>,
    aligns: Vec<Align>,
}

impl Shown {
    fn of(sheet: &Sheet) -> Shown {
        let places: Vec<usize> = (0..sheet.columns.len()).filter(|&i| sheet.columns[i].on_terminal).collect();
        Shown {
            titles: places.iter().map(|&i| sheet.columns[i].title.clone()).collect(),
            units: places.iter().map(|&i| sheet.columns[i].unit.clone()).collect(),
            aligns: places.iter().map(|&i| sheet.columns[i].align).collect(),
            places,
        }
    }

    fn cells(&self, row: &[Cell], cut: bool) -> Vec<String> {
        let most = if cut { WORDS_MOST } else { usize::MAX };
        self.places
            .iter()
            .map(|&i| match row.get(i) {
                None | Some(Cell::Empty) => "–".to_owned(),
                Some(cell @ Cell::Text(_)) => one_line(&cell.show(), most),
                Some(cell) => cell.show(),
            })
            .collect()
    }

    fn widths(&self, rows: &[Vec<String>]) -> Vec<usize> {
        let widest = |c: usize| {
            let cells = rows.iter().map(|row| &row[c]);
            [&self.titles[c], &self.units[c]].into_iter().chain(cells).map(|text| text.width()).max().unwrap_or(0)
        };
        (0..self.places.len()).map(widest).collect()
    }

    fn plain(&self, rows: &[Vec<String>], widths: &[usize]) -> String {
        let mut out = String::new();
        let mut line = |cells: &[String]| {
            let mut text = String::new();
            for (c, cell) in cells.iter().enumerate() {
                if c > 0 {
                    text.push_str(&" ".repeat(GAP));
                }
                let gap = " ".repeat(widths[c].saturating_sub(cell.width()));
                match self.aligns[c] {
                    Align::Left => text.push_str(&format!("{cell}{gap}")),
                    Align::Right => text.push_str(&format!("{gap}{cell}")),
                }
            }
            out.push_str(text.trim_end());
            out.push('\n');
        };
        line(&self.titles);
        if self.units.iter().any(|unit| !unit.is_empty()) {
            line(&self.units);
        }
        line(&widths.iter().map(|&width| "─".repeat(width)).collect::<Vec<_>>());
        rows.iter().for_each(|row| line(row));
        out
    }

    /// Words wrapped within their columns, figures as they are; `None` where that does not fit.
    fn wrapped(&self, rows: &[Vec<String>], columns: usize) -> Option<String> {
        let widths = self.widths(rows);
        let words = |c: usize| self.aligns[c] == Align::Left && widths[c] > WORDS_LEAST;
        let figures: usize = (0..widths.len()).map(|c| if words(c) { WORDS_LEAST } else { widths[c] } + GAP).sum();
        if figures > columns + GAP {
            return None;
        }
        let mut table = Table::new();
        table.load_preset(presets::NOTHING).set_content_arrangement(ContentArrangement::Dynamic);
        table.set_width(u16::try_from(columns).unwrap_or(u16::MAX));
        let titled = |c: usize| format!("{}\n{}", self.titles[c], self.units[c]).trim_end().to_owned();
        table.set_header((0..widths.len()).map(titled).collect::<Vec<_>>());
        for row in rows {
            table.add_row(row);
        }
        for (c, column) in table.column_iter_mut().enumerate() {
            column.set_padding((0, GAP as u16));
            if self.aligns[c] == Align::Right {
                column.set_cell_alignment(CellAlignment::Right);
            }
            column.set_constraint(if words(c) {
                ColumnConstraint::LowerBoundary(Width::Fixed((WORDS_LEAST + GAP) as u16))
            } else {
                ColumnConstraint::ContentWidth
            });
        }
        let lines = table.trim_fmt();
        lines.lines().all(|line| line.width() <= columns).then(|| lines + "\n")
    }

    /// A block of lines for each row, a line for each figure that there is.
    fn blocks(&self, screen: Screen, rows: &[Vec<String>]) -> String {
        let widest = self.titles.iter().map(|title| title.width()).max().unwrap_or(0);
        let mut out = String::new();
        for row in rows {
            for (c, cell) in row.iter().enumerate().filter(|(_, cell)| *cell != "–") {
                let gap = " ".repeat(widest - self.titles[c].width());
                let unit = if self.units[c].is_empty() { String::new() } else { format!(" {}", self.units[c]) };
                let text = format!("{}{gap}  {cell}{unit}", self.titles[c]);
                let room = screen.columns.unwrap_or(usize::MAX).max(widest + GAP + WORDS_LEAST);
                let options = textwrap::Options::new(room);
                let indent = " ".repeat(widest + GAP);
                out.push_str(&textwrap::fill(&text, options.subsequent_indent(&indent)));
                out.push('\n');
            }
            out.push('\n');
        }
        out
    }
}

/// Words on one line: no control characters (a name must not move the cursor or change colours), no direction overrides, cut
/// to so many columns of the terminal.
fn one_line(text: &str, most: usize) -> String {
    let text = noonfall_words::numbers::clean(text, usize::MAX);
    if text.width() <= most {
        return text;
    }
    let mut out = String::new();
    let mut used = 1;
    for c in text.chars() {
        used += c.width().unwrap_or(0);
        if used > most {
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
    use crate::table::Column;

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

    /// Many figures and a long reason.
    fn wide() -> Sheet {
        let figures = (0..8).map(|k| Column::new(&format!("f{k}"), "figure", "s", Align::Right));
        let reason = Column::new("reason", "rejected", "", Align::Left);
        let words = "outside the path: the eclipse is partial here, and the path lies 12 km to the north";
        let mut row: Vec<Cell> = (0..8).map(|k| Cell::number(f64::from(k) * 100.0, 1)).collect();
        row.push(Cell::text(words));
        Sheet { columns: figures.chain([reason]).collect(), rows: vec![row] }
    }

    #[test]
    fn columns_line_up_and_units_stand_in_the_header() {
        assert_eq!(
            Screen::ENDLESS.table(&sheet()),
            "site       totality\n                  s\n─────────  ────────\nBroome        171.2\n日本 [31m         –\n"
        );
    }

    #[test]
    fn long_words_are_cut_where_nothing_is_wrapped() {
        let text = one_line(&"長い名前".repeat(40), WORDS_MOST);
        assert!(text.width() <= WORDS_MOST && text.ends_with('…'));
    }

    #[test]
    fn nothing_is_wider_than_the_screen_and_no_word_is_lost() {
        for columns in [40, 60, 80, 110, 150] {
            let text = Screen { columns: Some(columns) }.table(&wide());
            assert!(text.lines().all(|line| line.width() <= columns), "{columns}:\n{text}");
            for word in ["outside", "partial", "12", "north", "700.0", "0.0"] {
                assert!(
                    text.split_whitespace().any(|w| w.trim_end_matches([',', ':']) == word),
                    "{columns} {word}:\n{text}"
                );
            }
        }
    }

    #[test]
    fn what_goes_on_is_indented_as_far_as_its_text() {
        let screen = Screen { columns: Some(60) };
        let line = "10:57:39  OFF          Filter OFF: Only once bare eyes would see no bright edge: the sky decides.";
        let wrapped = screen.line(line);
        let second = wrapped.lines().nth(1).unwrap();
        assert_eq!(second.len() - second.trim_start().len(), 20);
        assert!(wrapped.lines().all(|line| line.width() <= 60));
        let held = screen.line("  Held against reports of clear skies, of which there are 23 in all");
        assert!(held.lines().nth(1).is_some_and(|line| line.starts_with("    ") && !line.starts_with("     ")));
    }
}
