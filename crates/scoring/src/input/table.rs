//! A table as people hand it in: CSV with a header, comma, semicolon or tab, in any usual encoding ([`super::text`]).
//!
//! The readers of the single formats share this one so that every table is opened, counted and complained about in the
//! same way. With semicolons or tabs a decimal comma is understood, as spreadsheets of many countries write it.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::coordinates::{Axis, angle, signed_longitude};
use super::text::text_of;
use crate::fault::{Fault, Faults};

/// Files longer than this are refused, in bytes (256 MiB): millions of rows.
const LONGEST: u64 = 256 << 20;

/// The whole content of a file the user named, refused with a clear message when it cannot be read or is beyond reason.
///
/// # Errors
/// One fault naming the file.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, Faults> {
    let name = path.display().to_string();
    let refuse = |wrong: String| Faults::from(Fault::of_file(&name, wrong, "give a file that can be read"));
    let file = File::open(path).map_err(|e| refuse(format!("cannot be opened ({e})")))?;
    if file.metadata().is_ok_and(|m| m.is_dir()) {
        return Err(refuse("is a folder".to_owned()));
    }
    let too_long = || Faults::from(Fault::of_file(&name, "is longer than 256 MiB", "give a part of it"));
    // The size is asked first; what has none, such as a pipe, is read until it is too long.
    if file.metadata().is_ok_and(|m| m.len() > LONGEST) {
        return Err(too_long());
    }
    let mut bytes = Vec::new();
    file.take(LONGEST + 1).read_to_end(&mut bytes).map_err(|e| refuse(format!("cannot be read ({e})")))?;
    if bytes.len() as u64 > LONGEST {
        return Err(too_long());
    }
    Ok(bytes)
}

/// A CSV table with its header read and its rows still to come.
#[derive(Clone, Debug)]
pub struct Table {
    file: String,
    bytes: Vec<u8>,
    separator: u8,
    columns: Vec<String>,
}

impl Table {
    /// Opens a CSV file.
    ///
    /// # Errors
    /// As [`Table::from_bytes`], and when the file cannot be read.
    pub fn open(path: &Path) -> Result<Table, Faults> {
        Table::from_bytes(&path.display().to_string(), read_bytes(path)?)
    }

    /// Reads the header of CSV text; `file` is the name used in messages.
    ///
    /// # Errors
    /// An empty file, one that is no text, a header with a column named twice.
    pub fn from_bytes(file: &str, bytes: Vec<u8>) -> Result<Table, Faults> {
        const UTF8: &str = "save the table as CSV in UTF-8";
        let mut bytes = text_of(file, bytes)?;
        if bytes.starts_with(&[0xef, 0xbb, 0xbf]) {
            bytes.drain(..3);
        }
        if bytes.iter().all(u8::is_ascii_whitespace) {
            return Err(Fault::of_file(file, "is empty", "give a header line and at least one row").into());
        }
        let first = bytes.split(|&b| b == b'\n').find(|l| !l.iter().all(u8::is_ascii_whitespace)).unwrap_or_default();
        let count = |wanted: u8| first.iter().filter(|&&b| b == wanted).count();
        let separator = if count(b'\t') > count(b',').max(count(b';')) {
            b'\t'
        } else if count(b';') > count(b',') {
            b';'
        } else {
            b','
        };

        let mut table = Table { file: file.to_owned(), bytes, separator, columns: Vec::new() };
        let columns: Vec<String> = match table.reader(&table.bytes).records().next() {
            Some(Ok(header)) => header.iter().map(|c| c.trim().to_owned()).collect(),
            Some(Err(e)) => return Err(Fault::of_file(file, format!("has no readable header ({e})"), UTF8).into()),
            None => return Err(Fault::of_file(file, "is empty", "give a header line and at least one row").into()),
        };
        let mut faults = Faults::default();
        for (i, column) in columns.iter().enumerate() {
            if !column.is_empty() && columns[..i].iter().any(|c| c.eq_ignore_ascii_case(column)) {
                faults.0.push(Fault::of_cell(file, 1, column, "the header names it twice", "name each column once"));
            }
        }
        table.columns = columns;
        faults.or(table)
    }

    /// The file's name, as used in messages.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The column names of the header, trimmed.
    pub fn columns(&self) -> &[String] {
        &self.columns
    }

    /// Where a column stands, by name, upper or lower case alike.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|c| c.eq_ignore_ascii_case(name))
    }

    /// Where a column stands that must be there; when it is not, a fault that shows the header found.
    pub fn required(&self, name: &str, faults: &mut Faults) -> Option<usize> {
        let found = self.column(name);
        if found.is_none() {
            let wrong = if self.columns.iter().any(|c| c.parse::<f64>().is_ok()) {
                format!("the first line is data, not a header (\"{}\")", self.columns.join(", "))
            } else {
                format!("the column is missing (the header has: {})", self.columns.join(", "))
            };
            faults.0.push(Fault::of_cell(&self.file, 1, name, wrong, "add it to the header, as the README describes"));
        }
        found
    }

    /// Hands every row to `visit`. A row with too few or too many cells becomes a fault and is not handed on. Of very many
    /// faults only the first thousand are kept, the rest counted.
    pub fn rows(&self, faults: &mut Faults, visit: impl FnMut(&Row<'_>, &mut Faults)) {
        self.rows_of(&self.bytes, 1, true, faults, visit);
    }

    /// As [`Table::rows`] for rows that stand elsewhere than in the table's own bytes: a block of the same file, the number of its first
    /// line, and whether the header is among them.
    pub(crate) fn rows_of(
        &self,
        bytes: &[u8],
        mut line: u64,
        mut header: bool,
        faults: &mut Faults,
        mut visit: impl FnMut(&Row<'_>, &mut Faults),
    ) {
        let mut reader = self.reader(bytes);
        let mut cells = csv::StringRecord::new();
        let mut counted_to = 0_usize;
        loop {
            faults.keep_short();
            match reader.read_record(&mut cells) {
                Ok(true) => {}
                Ok(false) => return,
                Err(e) => {
                    let line = Some(line);
                    faults.0.push(Fault {
                        line,
                        ..Fault::of_file(&self.file, format!("cannot be read ({e})"), "save as CSV in UTF-8")
                    });
                    continue;
                }
            }
            // The CSV library counts lines differently when blank lines or CR LF stand before a record, so count here.
            let mut start = cells.position().map_or(counted_to, |p| p.byte() as usize).min(bytes.len());
            while bytes.get(start).is_some_and(|b| matches!(b, b'\r' | b'\n')) {
                start += 1;
            }
            line += bytes[counted_to..start].iter().filter(|&&b| b == b'\n').count() as u64;
            counted_to = start;
            if std::mem::replace(&mut header, false) {
                continue;
            }
            if cells.len() == 1 && cells.get(0).is_some_and(|c| c.trim().is_empty()) {
                continue;
            }
            if cells.len() != self.columns.len() {
                faults.0.push(Fault {
                    line: Some(line),
                    ..Fault::of_file(
                        &self.file,
                        format!("the row has {} cells, the header {}", cells.len(), self.columns.len()),
                        "give one cell for each column (put text with separators in quotes)",
                    )
                });
                continue;
            }
            let row = Row { table: self, line, cells: &cells };
            visit(&row, faults);
        }
    }

    fn reader<'b>(&self, bytes: &'b [u8]) -> csv::Reader<&'b [u8]> {
        csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(self.separator).from_reader(bytes)
    }

    /// What stands between two cells.
    pub(crate) fn separator(&self) -> u8 {
        self.separator
    }
}

/// One row of a [`Table`].
#[derive(Clone, Copy, Debug)]
pub struct Row<'t> {
    table: &'t Table,
    line: u64,
    cells: &'t csv::StringRecord,
}

impl Row<'_> {
    /// The row's line number in the file, from 1.
    pub fn line(&self) -> u64 {
        self.line
    }

    /// The trimmed text of a cell; empty where there is none.
    pub fn text(&self, column: usize) -> &str {
        self.cells.get(column).unwrap_or_default().trim()
    }

    /// A fault of one cell of this row.
    pub fn fault(&self, column: usize, wrong: impl Into<String>, right: impl Into<String>) -> Fault {
        let name = self.table.columns.get(column).filter(|c| !c.is_empty());
        let name = name.cloned().unwrap_or_else(|| (column + 1).to_string());
        Fault::of_cell(&self.table.file, self.line, name, wrong, right)
    }

    /// The finite number in a cell.
    ///
    /// # Errors
    /// A fault for an empty cell, text, NaN or infinity; `right` says what would be right.
    pub fn number(&self, column: usize, right: &str) -> Result<f64, Fault> {
        let text = self.text(column);
        if text.is_empty() {
            return Err(self.fault(column, "the cell is empty", right));
        }
        let decimal_comma = self.table.separator != b',' && text.matches(',').count() == 1 && !text.contains('.');
        let parsed = if decimal_comma { text.replace(',', ".").parse() } else { text.parse::<f64>() };
        match parsed {
            Ok(value) if value.is_finite() => Ok(value),
            Ok(_) => Err(self.fault(column, format!("{text:?} is not a finite number"), right)),
            Err(_) => Err(self.fault(column, format!("{text:?} is not a number"), right)),
        }
    }

    /// The number in a cell when it lies in a closed range.
    ///
    /// # Errors
    /// As [`Row::number`], and a fault saying that it is not `what` when it is outside the range.
    pub fn number_within(&self, column: usize, low: f64, high: f64, what: &str, right: &str) -> Result<f64, Fault> {
        let value = self.number(column, right)?;
        if (low..=high).contains(&value) {
            Ok(value)
        } else {
            Err(self.fault(column, format!("{:?} is not {what}", self.text(column)), right))
        }
    }

    /// The angle in a cell, a number or any of the usual spellings ([`super::coordinates`]), when it lies in a closed range.
    fn angle_within(
        &self,
        column: usize,
        axis: Axis,
        (low, high): (f64, f64),
        what: &str,
        right: &str,
    ) -> Result<f64, Fault> {
        let text = self.text(column);
        if self.number(column, right).is_ok() || !text.contains(|c: char| c.is_ascii_digit()) {
            return self.number_within(column, low, high, what, right);
        }
        let wrong = match angle(text, axis) {
            Ok(value) if (low..=high).contains(&value) => return Ok(value),
            Ok(_) => format!("is not {what}"),
            Err(wrong) => wrong,
        };
        Err(self.fault(column, format!("{text:?} {wrong}"), right))
    }

    /// The latitude in a cell.
    ///
    /// # Units
    /// Degrees, north-positive.
    /// # Errors
    /// As [`Row::number_within`].
    pub fn latitude(&self, column: usize) -> Result<f64, Fault> {
        self.angle_within(
            column,
            Axis::Latitude,
            (-90.0, 90.0),
            "a latitude",
            "give degrees from -90 to 90, or 36°30′15″ S",
        )
    }

    /// The longitude in a cell; 180 to 360 is taken as west of Greenwich.
    ///
    /// # Units
    /// Degrees, east-positive, in (−180, 180].
    /// # Errors
    /// As [`Row::number_within`].
    pub fn longitude(&self, column: usize) -> Result<f64, Fault> {
        let right = "give degrees from -180 to 180 (or 0 to 360), east-positive";
        let lon = self.angle_within(column, Axis::Longitude, (-180.0, 360.0), "a longitude", right)?;
        Ok(signed_longitude(lon))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<u64> {
        let table = Table::from_bytes("t.csv", text.as_bytes().to_vec()).unwrap();
        let (mut seen, mut faults) = (Vec::new(), Faults::default());
        table.rows(&mut faults, |row, _| seen.push(row.line()));
        assert_eq!(faults, Faults::default());
        seen
    }

    #[test]
    fn lines_are_counted_through_blank_lines_crlf_and_quoted_breaks() {
        assert_eq!(lines("a,b\n1,2\n3,4"), [2, 3]);
        assert_eq!(lines("a,b\r\n1,2\r\n3,4\r\n"), [2, 3]);
        assert_eq!(lines("a,b\n\n1,2\n\n\n3,4\n"), [3, 6]);
        assert_eq!(lines("a,b\n\"x\ny\",2\n3,4\n"), [2, 4]);
    }

    #[test]
    fn semicolons_a_decimal_comma_and_a_byte_order_mark_are_understood() {
        let table = Table::from_bytes("t.csv", "\u{feff}Lat; lon\n-24,5;200\n".as_bytes().to_vec()).unwrap();
        let mut faults = Faults::default();
        let (lat, lon) = (table.column("lat").unwrap(), table.column("LON").unwrap());
        let mut seen = Vec::new();
        table.rows(&mut faults, |row, _| seen.push((row.latitude(lat).unwrap(), row.longitude(lon).unwrap())));
        assert_eq!(seen, [(-24.5, -160.0)]);
    }

    #[test]
    fn what_is_no_table_is_refused_with_its_reason() {
        for (bytes, says) in [
            (b"".to_vec(), "is empty"),
            (b" \n\n".to_vec(), "is empty"),
            (b"a,a\n1,2".to_vec(), "names it twice"),
            (b"a,b\n\0,2\n".to_vec(), "is binary"),
        ] {
            let text = Table::from_bytes("t.csv", bytes).unwrap_err().to_string();
            assert!(text.contains(says), "{text}");
        }
        let table = Table::from_bytes("t.csv", b"-30,140,7,20\n".to_vec()).unwrap();
        let mut faults = Faults::default();
        assert_eq!(table.required("lat", &mut faults), None);
        assert!(faults.to_string().contains("the first line is data, not a header"), "{faults}");
    }

    #[test]
    fn every_wrong_row_is_listed() {
        let table = Table::from_bytes("t.csv", b"lat\n95\nabc\nNaN\n\"\"\n1,2\ninf\n".to_vec()).unwrap();
        let mut faults = Faults::default();
        table.rows(&mut faults, |row, faults| {
            if let Err(f) = row.latitude(0) {
                faults.0.push(f);
            }
        });
        let text = faults.to_string();
        assert_eq!(text.lines().count(), 5, "{text}");
        assert!(text.contains("t.csv:2: column lat: \"95\" is not a latitude; give degrees from -90 to 90"), "{text}");
        assert!(text.contains("t.csv:7: column lat: \"inf\" is not a finite number"), "{text}");
    }
}
