//! CSV (RFC 4180) of a sheet: one header line with the contract's keys, text cells guarded against being read as formulas.

use crate::table::{Cell, Sheet};

use crate::ExchangeError;

/// Text that a spreadsheet would take for a formula gets an apostrophe in front, which spreadsheets take as "this is text".
///
/// Guarded: a first visible character of `=`, `+`, `-`, `@` or one of their full-width forms, and a first character of tab or carriage return
/// (common practice against formula injection). Numbers are written by this program and need no guard.
pub fn guarded(text: &str) -> String {
    if is_risky(text) { format!("'{text}") } else { text.to_owned() }
}

fn is_risky(text: &str) -> bool {
    text.starts_with(['\t', '\r', '\n'])
        || text.trim_start().starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠', '−'])
}

/// A sheet as CSV, lines ended by CR LF as the standard has it.
/// # Errors
/// [`ExchangeError`], if the writer refuses.
pub fn write(sheet: &Sheet) -> Result<String, ExchangeError> {
    let refused = |error: &dyn std::fmt::Display| ExchangeError::refused("CSV", error);
    let mut writer = ::csv::WriterBuilder::new().terminator(::csv::Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(sheet.columns.iter().map(|column| guarded(&column.key))).map_err(|error| refused(&error))?;
    for row in &sheet.rows {
        let cells: Vec<String> = row
            .iter()
            .map(|cell| match cell {
                Cell::Text(text) => guarded(text),
                Cell::Number { .. } | Cell::Whole(_) => cell.show(),
                Cell::Empty => String::new(),
            })
            .collect();
        writer.write_record(&cells).map_err(|error| refused(&error))?;
    }
    let bytes = writer.into_inner().map_err(|error| refused(&error))?;
    String::from_utf8(bytes).map_err(|error| refused(&error))
}

/// Cells as a piece of a CSV line, separated, without an end: as [`write()`] has them, for tables that are written line by line.
pub fn cells(cells: &[Cell], into: &mut Vec<u8>) {
    for (i, cell) in cells.iter().enumerate() {
        if i > 0 {
            into.push(b',');
        }
        match cell {
            Cell::Text(text) => {
                if is_risky(text) {
                    quoted_where_needed(&guarded(text), into);
                } else {
                    quoted_where_needed(text, into);
                }
            }
            Cell::Number { .. } | Cell::Whole(_) => into.extend_from_slice(cell.show().as_bytes()),
            Cell::Empty => {}
        }
    }
}

/// The end of a line.
pub const LINE_END: &[u8] = b"\r\n";

fn quoted_where_needed(text: &str, into: &mut Vec<u8>) {
    if !text.contains(['"', ',', '\r', '\n']) {
        into.extend_from_slice(text.as_bytes());
        return;
    }
    into.push(b'"');
    for byte in text.bytes() {
        if byte == b'"' {
            into.push(b'"');
        }
        into.push(byte);
    }
    into.push(b'"');
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::{Align, Column};

    #[test]
    fn formulas_are_guarded_and_numbers_are_not() {
        for text in ["=cmd|' /C calc'!A0", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1", "＝1"] {
            assert!(guarded(text).starts_with('\''), "{text:?}");
        }
        assert_eq!(guarded("Alice Springs"), "Alice Springs");
        let sheet = Sheet {
            columns: vec![
                Column::new("name", "name", "", Align::Left),
                Column::new("lat_deg", "latitude", "°", Align::Right),
            ],
            rows: vec![
                vec![Cell::Text("=cmd, \"x\"\nline".into()), Cell::number(-23.5, 2)],
                vec![Cell::Empty, Cell::number(f64::NAN, 2)],
            ],
        };
        let text = write(&sheet).expect("csv");
        assert_eq!(text, "name,lat_deg\r\n\"'=cmd, \"\"x\"\"\nline\",-23.50\r\n,\r\n");
    }

    /// Lines written one by one are those of the whole sheet.
    #[test]
    fn single_lines_are_those_of_the_sheet() {
        let texts = [
            "plain",
            "",
            "a,b",
            "say \"so\"",
            "two\nlines",
            "cr\rhere",
            "=1,2",
            "-x",
            "Ürümqi; tab\there",
            " spaced ",
            "'",
        ];
        let columns: Vec<Column> = (0..4).map(|i| Column::for_files(&format!("k{i}"))).collect();
        let rows: Vec<Vec<Cell>> = texts
            .iter()
            .zip(texts.iter().cycle().skip(3))
            .map(|(a, b)| vec![Cell::text(*a), Cell::number(-0.004, 2), Cell::text(*b), Cell::Whole(-3)])
            .collect();
        let mut bytes = b"k0,k1,k2,k3\r\n".to_vec();
        for row in &rows {
            cells(row, &mut bytes);
            bytes.extend_from_slice(LINE_END);
        }
        assert_eq!(write(&Sheet { columns, rows }).expect("csv"), String::from_utf8(bytes).expect("text"));
    }
}
