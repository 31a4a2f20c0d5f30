//! A table longer than memory, block by block: whole rows at a time.

use std::io::Read;

/// Bytes of a block: some thousand rows.
const SIZE: usize = 128 << 10;

/// A row longer than this is none: a quote was opened and never closed.
const LONGEST_ROW: usize = 16 << 20;

/// Whole rows of a file.
pub(crate) struct Block {
    /// The rows as they stand in the file.
    pub bytes: Vec<u8>,
    /// Number of the first line, from 1.
    pub line: u64,
}

/// Why there is no next block.
#[derive(Debug)]
pub(crate) enum BlockError {
    /// The file cannot be read.
    Read(std::io::Error),
    /// The row that begins after this line does not end.
    Endless(u64),
}

/// Where in a row the scan stands, as the CSV library reads it: a quote opens only at the beginning of a cell.
#[derive(Clone, Copy, PartialEq)]
enum At {
    Row,
    Cell,
    Plain,
    Quoted,
    QuoteInQuoted,
}

/// The blocks of a file.
pub(crate) struct Blocks<R> {
    source: R,
    separator: u8,
    kept: Vec<u8>,
    /// So far of what is kept is scanned, and a row begins here.
    scanned: usize,
    begins: usize,
    at: At,
    line: u64,
    ended: bool,
}

impl<R: Read> Blocks<R> {
    pub fn new(source: R, separator: u8) -> Blocks<R> {
        Blocks { source, separator, kept: Vec::new(), scanned: 0, begins: 0, at: At::Row, line: 1, ended: false }
    }

    /// The next block; `None` at the end.
    ///
    /// # Errors
    /// A file that cannot be read, a row without an end.
    pub fn next(&mut self) -> Result<Option<Block>, BlockError> {
        loop {
            if !self.ended {
                let wanted = self.source.by_ref().take(SIZE as u64);
                let read = { wanted }.read_to_end(&mut self.kept).map_err(BlockError::Read)?;
                self.ended = read < SIZE;
            }
            self.scan();
            let end = if self.ended { self.kept.len() } else { self.begins };
            if end > 0 {
                let rest = self.kept.split_off(end);
                let bytes = std::mem::replace(&mut self.kept, rest);
                (self.scanned, self.begins) = (self.scanned - end, 0);
                let line = self.line;
                self.line += bytes.iter().filter(|&&b| b == b'\n').count() as u64;
                return Ok(Some(Block { bytes, line }));
            }
            if self.ended {
                return Ok(None);
            }
            if self.kept.len() > LONGEST_ROW {
                return Err(BlockError::Endless(self.line));
            }
        }
    }

    fn scan(&mut self) {
        let (mut at, separator) = (self.at, self.separator);
        for (i, &b) in self.kept.iter().enumerate().skip(self.scanned) {
            let ends = b == b'\n' || b == b'\r';
            at = match at {
                At::Quoted if b != b'"' => At::Quoted,
                At::Quoted => At::QuoteInQuoted,
                At::QuoteInQuoted if b == b'"' => At::Quoted,
                _ if ends => At::Row,
                _ => {
                    if at == At::Row {
                        self.begins = i;
                    }
                    match (at, b) {
                        (At::Row | At::Cell, b'"') => At::Quoted,
                        _ if b == separator => At::Cell,
                        _ => At::Plain,
                    }
                }
            };
        }
        (self.at, self.scanned) = (at, self.kept.len());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Faults;
    use crate::input::table::Table;

    /// A reader that gives little at a time.
    struct Slow<'a>(&'a [u8]);

    impl Read for Slow<'_> {
        fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
            let n = into.len().min(self.0.len()).min(777);
            into[..n].copy_from_slice(&self.0[..n]);
            self.0 = &self.0[n..];
            Ok(n)
        }
    }

    /// Quotes with line ends, separators and quotes in them, stray quotes, blank lines, all line ends: the rows of the blocks are those of
    /// the whole, with their lines.
    #[test]
    fn blocks_hold_the_rows_of_the_whole() {
        let mut text = String::from("name,lat\r\n");
        for i in 0..40_000 {
            text += match i % 7 {
                0 => "\"a\nb, \"\"c\"\"\",1\n",
                1 => "5\" pipe,2\r\n",
                2 => "\n\nplain,3\n",
                3 => "\"quoted\"tail\",4\n",
                4 => " \"not quoted,5\n",
                5 => "x,\"6\r\n\"\r\n",
                _ => "too,many,cells\n",
            };
        }
        let table = Table::from_bytes("t.csv", text.as_bytes().to_vec()).unwrap();
        let (mut whole, mut faults) = (Vec::new(), Faults::default());
        let kept = |row: &crate::input::table::Row<'_>| (row.line(), row.text(0).to_owned(), row.text(1).to_owned());
        table.rows(&mut faults, |row, _| whole.push(kept(row)));
        let (mut parts, mut part_faults, mut count) = (Vec::new(), Faults::default(), 0);
        let mut blocks = Blocks::new(Slow(text.as_bytes()), table.separator());
        while let Some(block) = blocks.next().unwrap() {
            table.rows_of(&block.bytes, block.line, count == 0, &mut part_faults, |row, _| parts.push(kept(row)));
            count += 1;
        }
        assert!(count > 3 && whole.len() > 30_000, "{count} {}", whole.len());
        assert_eq!(whole, parts);
        assert_eq!(faults.to_string(), part_faults.to_string());
    }

    #[test]
    fn a_quote_that_is_never_closed_is_told() {
        let text = format!("name,lat\na,1\n\"{}", "b\n".repeat(LONGEST_ROW / 2 + SIZE));
        let mut blocks = Blocks::new(text.as_bytes(), b',');
        let end = loop {
            match blocks.next() {
                Ok(Some(_)) => {}
                Ok(None) => break None,
                Err(error) => break Some(error),
            }
        };
        assert!(matches!(end, Some(BlockError::Endless(3))));
        assert!(Blocks::new(&b""[..], b',').next().unwrap().is_none());
    }
}
