//! A table of candidates that need not fit into memory: read through once to know it (every fault, namesakes), then as often as wanted,
//! some thousand rows at a time.
//!
//! What is kept of it all is eight bytes a row, and only until the namesakes are known.

use std::collections::{BTreeSet, HashMap, HashSet};
use std::fs::File;
use std::hash::{BuildHasher, BuildHasherDefault, DefaultHasher};
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use rayon::prelude::*;

use super::gather::tell_apart_among;
use super::table::{Columns, NO_ROW};
use super::{SiteRow, Sites};
use crate::fault::{Fault, Faults};
use crate::input::blocks::{Block, BlockError, Blocks};
use crate::input::stamp::Stamped;
use crate::input::table::Table;

/// Blocks that are worked on together, and so held together.
const TOGETHER: usize = 16;

/// So many bytes tell what a file is.
const HEAD: usize = 64 << 10;

/// So many rows may share their names with others: those are held together to be told apart.
const MOST_NAMESAKES: usize = 200_000;

const BYTE_ORDER_MARK: &[u8] = &[0xef, 0xbb, 0xbf];

/// A long table of candidates.
#[derive(Debug)]
pub(crate) struct LongTable {
    file: String,
    handle: File,
    /// The same as it was before that.
    stamped: Stamped,
    table: Table,
    columns: Columns,
    /// Names of the further columns.
    pub names: Vec<String>,
    /// Where the rows begin, after a mark of the byte order.
    start: u64,
    /// The text is no UTF-8: every byte is a letter of Latin-1.
    latin: bool,
    renamed: HashMap<u64, String>,
}

/// What the survey of a table looks for besides faults.
pub(crate) struct Asked<'a> {
    /// Most rows accepted.
    pub limit: u64,
    /// Further columns that must hold numbers, with the plan's key that says so.
    pub numbers: &'a [(usize, String)],
    /// Names that the plan mentions.
    pub named: &'a [&'a str],
    /// The length of totality, or anything else whose greatest value is wanted.
    pub greatest: Option<&'a (dyn Fn(&SiteRow) -> f64 + Sync)>,
}

/// What a survey found.
#[derive(Debug, Default)]
pub(crate) struct Survey {
    /// Rows.
    pub count: u64,
    /// Which of the names asked for there are.
    pub named: HashSet<String>,
    /// A place in each quarter of a degree that has any.
    pub quarters: Vec<SiteRow>,
    /// The greatest value of what was asked.
    pub greatest: f64,
    /// Words where the plan wants numbers: faults of the plan and the table together, told with others of that kind.
    pub in_columns: Faults,
}

/// A block's rows, those that are sound, and what is wrong with the others.
struct Parsed {
    rows: Vec<SiteRow>,
    faults: Faults,
    counted: u64,
    is_utf8: bool,
}

fn hash_of(name: &str) -> u64 {
    BuildHasherDefault::<DefaultHasher>::default().hash_one(name)
}

fn quarter_of(row: &SiteRow) -> (i32, i32) {
    ((row.lat_deg * 4.0).round() as i32, (row.lon_deg * 4.0).round() as i32)
}

impl LongTable {
    /// A table of more than `least` lines; `None` for any other file, which is for the usual readers to read or to refuse.
    ///
    /// # Errors
    /// What is wrong with its header.
    pub fn open(path: &Path, least: u64) -> Result<Option<LongTable>, Faults> {
        let file = path.display().to_string();
        let stamped = Stamped::of(path);
        let Ok(mut handle) = File::open(path) else { return Ok(None) };
        // Only a file can be read twice.
        if !handle.metadata().is_ok_and(|m| m.is_file()) {
            return Ok(None);
        }
        let mut head = Vec::new();
        if handle.by_ref().take(HEAD as u64).read_to_end(&mut head).is_err() || head.contains(&0) {
            return Ok(None);
        }
        let start = if head.starts_with(BYTE_ORDER_MARK) { BYTE_ORDER_MARK.len() } else { 0 };
        let first = head[start..].iter().find(|b| !b.is_ascii_whitespace());
        if first.is_none_or(|b| b"{<".contains(b))
            || [&b"PK\x03\x04"[..], &[0xff, 0xfe], &[0xfe, 0xff]].iter().any(|m| head.starts_with(m))
        {
            return Ok(None);
        }
        let Some(end) = head.iter().rposition(|&b| b == b'\n') else { return Ok(None) };
        if !longer_than(&handle, least) {
            return Ok(None);
        }
        head.truncate(end + 1);
        let table = Table::from_bytes(&file, head)?;
        let columns = Columns::of(&table)?;
        let names = columns.names(&table);
        Ok(Some(LongTable {
            file,
            handle,
            stamped,
            table,
            columns,
            names,
            start: start as u64,
            latin: false,
            renamed: HashMap::new(),
        }))
    }

    /// The table's file and columns as those of candidates, its rows left out.
    pub fn without_rows(&self) -> Sites {
        Sites { file: self.file.clone(), columns: self.names.clone(), rows: Vec::new() }
    }

    /// Reads the table through: every fault, namesakes told apart.
    ///
    /// # Errors
    /// Every fault of the table.
    pub fn survey(&mut self, asked: &Asked<'_>) -> Result<Survey, Faults> {
        let mut survey = Survey::default();
        let mut faults = Faults::default();
        let mut in_columns = Faults::default();
        let mut hashes: Vec<u64> = Vec::new();
        let mut quarters = BTreeSet::new();
        let mut is_utf8 = true;
        self.parsed(|_, blocks| -> Result<(), Faults> {
            for block in &blocks {
                is_utf8 &= block.is_utf8;
                survey.count += block.counted;
            }
            let looked: Vec<_> = blocks
                .into_par_iter()
                .map(|block| {
                    let hashes: Vec<u64> = block.rows.iter().map(|row| hash_of(&row.name)).collect();
                    let mut in_columns = Faults::default();
                    let (mut named, mut greatest) = (Vec::new(), 0.0_f64);
                    let mut by_quarter = std::collections::BTreeMap::new();
                    for row in &block.rows {
                        for (column, key) in asked.numbers {
                            let column = (*column, self.names[*column].as_str());
                            in_columns.0.extend(row.word_for_a_number(&self.file, column, key));
                            in_columns.keep_short();
                        }
                        named.extend(
                            asked.named.iter().filter(|name| **name == row.name).map(|name| (*name).to_owned()),
                        );
                        greatest = asked.greatest.map_or(greatest, |of| greatest.max(of(row)));
                        by_quarter.entry(quarter_of(row)).or_insert_with(|| row.clone());
                    }
                    (block.faults, in_columns, hashes, named, greatest, by_quarter)
                })
                .collect();
            for (found, columns, some_hashes, named, greatest, by_quarter) in looked {
                faults.0.extend(found.0);
                faults.keep_short();
                in_columns.0.extend(columns.0);
                in_columns.keep_short();
                hashes.extend(some_hashes);
                survey.named.extend(named);
                survey.greatest = survey.greatest.max(greatest);
                for (quarter, row) in by_quarter {
                    if quarters.insert(quarter) {
                        survey.quarters.push(row);
                    }
                }
            }
            Ok(())
        })?;
        if !is_utf8 && !self.latin {
            self.latin = true;
            return self.survey(asked);
        }
        if survey.count > asked.limit {
            let wrong = format!("there are {} rows, more than the {} accepted", survey.count, asked.limit);
            faults.0.insert(0, Fault::of_file(&self.file, wrong, "raise sites.limit in the plan (10000000 at most)"));
        }
        if survey.count == 0 && faults.0.is_empty() {
            faults.0.push(Fault::of_file(&self.file, NO_ROW.0, NO_ROW.1));
        }
        hashes.par_sort_unstable();
        let shared: HashSet<u64> = hashes.windows(2).filter(|pair| pair[0] == pair[1]).map(|pair| pair[0]).collect();
        if !shared.is_empty() {
            self.tell_apart(&shared, |name| hashes.binary_search(&hash_of(name)).is_ok(), &mut faults)?;
        }
        survey.in_columns = in_columns;
        faults.or(survey)
    }

    /// Gives namesakes names of their own.
    fn tell_apart(
        &mut self,
        shared: &HashSet<u64>,
        taken: impl Fn(&str) -> bool,
        faults: &mut Faults,
    ) -> Result<(), Faults> {
        let mut numbers = Vec::new();
        let mut rows = Vec::new();
        self.parsed(|first, blocks| -> Result<(), Faults> {
            for (number, row) in (first..).zip(blocks.into_iter().flat_map(|block| block.rows)) {
                if shared.contains(&hash_of(&row.name)) {
                    numbers.push(number);
                    rows.push(row);
                }
            }
            if rows.len() > MOST_NAMESAKES {
                let wrong = format!("more than {MOST_NAMESAKES} rows share their names with others");
                return Err(
                    Fault::of_file(&self.file, wrong, "give every place a name of its own, a number will do").into()
                );
            }
            Ok(())
        })?;
        let before: Vec<String> = rows.iter().map(|row| row.name.clone()).collect();
        tell_apart_among(&self.file, &self.names, &mut rows, taken, faults);
        let changed = numbers.into_iter().zip(rows.into_iter().zip(before));
        self.renamed =
            changed.filter(|(_, (row, before))| row.name != *before).map(|(n, (row, _))| (n, row.name)).collect();
        Ok(())
    }

    /// Hands over all rows, a block of some thousand at a time with the number of its first, several blocks together. The table has been
    /// surveyed.
    ///
    /// # Errors
    /// Faults that were not there before: the file was changed meanwhile; what `work` returns.
    pub fn rows<E: From<Faults>>(
        &self,
        mut work: impl FnMut(Vec<(u64, Vec<SiteRow>)>) -> Result<(), E>,
    ) -> Result<(), E> {
        self.parsed(|first, blocks| {
            let mut number = first;
            let mut numbered = Vec::with_capacity(blocks.len());
            for mut block in blocks {
                block.faults.or(())?;
                let from = number;
                number += block.rows.len() as u64;
                if !self.renamed.is_empty() {
                    for (row, number) in block.rows.iter_mut().zip(from..) {
                        if let Some(name) = self.renamed.get(&number) {
                            row.name.clone_from(name);
                        }
                    }
                }
                numbered.push((from, block.rows));
            }
            work(numbered)
        })?;
        self.stamped.changed_under(&self.handle).map_or(Ok(()), |fault| Err(Faults::from(fault).into()))
    }

    /// Hands over blocks parsed side by side, in order, with the number of the first row among the sound ones.
    fn parsed<E: From<Faults>>(&self, mut take: impl FnMut(u64, Vec<Parsed>) -> Result<(), E>) -> Result<(), E> {
        let wrong = |error: BlockError| {
            let (wrong, right) = match error {
                BlockError::Read(error) => (format!("cannot be read ({error})"), "give a file that can be read"),
                BlockError::Endless(line) => (
                    format!("the row after line {line} does not end"),
                    "close the quote that is open there, or take it out",
                ),
            };
            E::from(Faults::from(Fault::of_file(&self.file, wrong, right)))
        };
        let mut source = &self.handle;
        source.seek(SeekFrom::Start(self.start)).map_err(|e| wrong(BlockError::Read(e)))?;
        let mut blocks = Blocks::new(source, self.table.separator());
        let (mut first, mut header, mut more) = (0, true, true);
        while more {
            let mut together = Vec::with_capacity(TOGETHER);
            while together.len() < TOGETHER && more {
                match blocks.next().map_err(wrong)? {
                    Some(block) => together.push((std::mem::replace(&mut header, false), block)),
                    None => more = false,
                }
            }
            let parsed: Vec<Parsed> =
                together.into_par_iter().map(|(header, block)| self.parse(block, header)).collect();
            let count: u64 = parsed.iter().map(|p| p.rows.len() as u64).sum();
            take(first, parsed)?;
            first += count;
        }
        Ok(())
    }

    fn parse(&self, block: Block, header: bool) -> Parsed {
        let is_utf8 = std::str::from_utf8(&block.bytes).is_ok();
        let bytes = match self.latin && !block.bytes.is_ascii() {
            true => block.bytes.iter().map(|&b| char::from(b)).collect::<String>().into_bytes(),
            false => block.bytes,
        };
        let mut parsed = Parsed { rows: Vec::new(), faults: Faults::default(), counted: 0, is_utf8 };
        self.table.rows_of(&bytes, block.line, header, &mut parsed.faults, |row, faults| {
            parsed.counted += 1;
            parsed.rows.extend(self.columns.row(row, faults));
        });
        parsed
    }
}

/// Whether a file has more than so many lines.
fn longer_than(mut file: &File, lines: u64) -> bool {
    let mut buffer = vec![0; 1 << 20];
    let mut count = 0;
    if file.seek(SeekFrom::Start(0)).is_err() {
        return false;
    }
    while let Ok(n @ 1..) = file.read(&mut buffer) {
        count += buffer[..n].iter().filter(|&&b| b == b'\n').count() as u64;
        if count > lines {
            return true;
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    fn both(bytes: &[u8]) -> (Result<Vec<SiteRow>, String>, Result<Vec<SiteRow>, String>) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("s.csv");
        std::fs::write(&path, bytes).unwrap();
        let held = Sites::read(&path, 1_000_000).map(|sites| sites.rows).map_err(|f| f.to_string());
        let long = || {
            let mut table = LongTable::open(&path, 1000)?.unwrap();
            let asked = Asked { limit: 1_000_000, numbers: &[], named: &["Villa"], greatest: None };
            let survey = table.survey(&asked)?;
            let mut rows = Vec::new();
            table.rows(|blocks| {
                for (first, some) in blocks {
                    assert_eq!(first, rows.len() as u64);
                    rows.extend(some);
                }
                Ok::<(), Faults>(())
            })?;
            assert_eq!((survey.count, survey.named.contains("Villa")), (rows.len() as u64, true));
            Ok(rows)
        };
        (held, long().map_err(|f: Faults| f.to_string()))
    }

    /// Semicolons and decimal commas, a mark of the byte order, Latin-1, line ends of all kinds, namesakes: the rows are those of the plain reader.
    #[test]
    fn rows_are_those_of_the_table_read_whole() {
        let row = |i: u32| format!("{};-{},{i:04};13{}.5;{i}\r\n", ["Camp", "R\u{ed}o"][i as usize % 2], i % 60, i % 9);
        let rows: String =
            (0..9000).map(|i| if i % 3 == 0 { row(i) } else { format!("p{i};-20,{i};130;\n") }).collect();
        let text = format!("name;lat;lon;beds\n\nVilla;-30;130;\n{rows}");
        let latin: Vec<u8> = text.chars().map(|c| c as u8).collect();
        for bytes in [text.clone().into_bytes(), format!("\u{feff}{text}").into_bytes(), latin] {
            let (held, long) = both(&bytes);
            let held = held.unwrap();
            assert!(held.len() == 9001 && held.iter().any(|row| row.name == "R\u{ed}o (7)"));
            assert_eq!(held, long.unwrap());
        }
    }

    #[test]
    fn the_same_place_twice_is_told_however_far_apart_the_rows_are() {
        let rows: String = (0..20_000).map(|i| format!("p{i},-20.{i:05},130\n")).collect();
        let (held, long) =
            both(format!("name,lat,lon\nVilla,-30,130\n{rows}p7,-20.00007,130\np8,-20,131\n").as_bytes());
        let told = long.unwrap_err();
        assert!(
            told.contains("s.csv:20003: column name: \"p7\" is already the name of the same place (line 10)"),
            "{told}"
        );
        assert_eq!(held.unwrap_err(), told);
    }

    #[test]
    fn what_is_no_long_table_is_left_to_the_usual_readers() {
        let folder = tempfile::tempdir().unwrap();
        let is_none = |bytes: &[u8]| {
            let path = folder.path().join("s");
            std::fs::write(&path, bytes).unwrap();
            LongTable::open(&path, 2).unwrap().is_none()
        };
        assert!(is_none(b"name,lat,lon\na,1,2\n") && is_none(b"") && is_none(b"{\n\n\n}") && is_none(b" <\n\n\n\n"));
        assert!(is_none(b"\xff\xfen\0\n\0\n\0\n\0") && is_none(b"PK\x03\x04\n\n\n\n"));
        assert!(!is_none(b"name,lat,lon\na,1,2\nb,1,2\n"));
        assert!(LongTable::open(folder.path(), 2).unwrap().is_none());
    }
}
