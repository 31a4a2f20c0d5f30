//! An SPK file kept small: its records unpacked one by one, as they are asked for.
//!
//! `data/ephemeris/packed.py` writes the form and describes it. Read through [`Packed::read`] it is an ordinary SPK file, byte
//! for byte the one that the recipe unpacks; nothing of it is ever unpacked as a whole.

use crate::spk_error::SpkError;

const MAGIC: &[u8] = b"SPKPACK1";
/// Bytes before the directory, of a segment's table without its list of bits, and of zeros at the end.
const HEAD: usize = 24;
const TABLE: usize = 48;
const TAIL: usize = 16;
/// Words that a record begins with: its middle and half its length.
const MIDDLE_AND_RADIUS: u64 = 2;
/// Words that end a segment: start, length, words of a record, records.
const CLOSING: u64 = 4;

/// A packed SPK file.
pub(crate) struct Packed {
    bytes: &'static [u8],
    directory: &'static [u8],
    length: u64,
    parts: Vec<Part>,
}

/// The records of one segment.
struct Part {
    /// The words of the SPK file, counted from 0: the first, and the one after the last.
    words: std::ops::Range<u64>,
    /// Where the packed records begin.
    at: usize,
    record_bytes: usize,
    record_words: u64,
    records: u64,
    start_et: f64,
    interval_s: f64,
    /// What one step of a coefficient is, km.
    step_km: f64,
    /// Of each coefficient the first bit in the packed record, and how many bits.
    bits: Vec<(usize, u32)>,
}

impl Packed {
    /// Reads the directory and the tables of the segments.
    ///
    /// # Errors
    /// [`SpkError`] if the bytes are none of this form, or contradict themselves.
    pub(crate) fn new(bytes: &'static [u8]) -> Result<Packed, SpkError> {
        if !bytes.starts_with(MAGIC) {
            return Err(SpkError::NotSpk("its first bytes are not those of a packed file".to_owned()));
        }
        let short = || SpkError::Damaged("the packed file ends too early".to_owned());
        let (directory_bytes, segments) = (size(bytes, 8).ok_or_else(short)?, size(bytes, 12).ok_or_else(short)?);
        let length = long(bytes, 16).ok_or_else(short)?;
        let directory = bytes.get(HEAD..HEAD + directory_bytes).ok_or_else(short)?;
        let mut packed = Packed { bytes, directory, length, parts: Vec::new() };
        let mut table = HEAD + directory_bytes;
        for _ in 0..segments {
            let part = Part::read(bytes, table).ok_or_else(short)?;
            table += TABLE + part.bits.len();
            packed.parts.push(part);
        }
        Ok(packed)
    }

    /// Bytes of the SPK file that it stands for.
    pub(crate) fn len(&self) -> u64 {
        self.length
    }

    /// Fills a buffer from a byte of the SPK file on; the range lies inside the file.
    pub(crate) fn read(&self, offset: u64, into: &mut [u8]) {
        // What is asked for nearly always: whole words of one record.
        if offset.is_multiple_of(8)
            && into.len().is_multiple_of(8)
            && let Some((part, record, column)) = self.place(offset / 8)
            && column + into.len() as u64 / 8 <= part.record_words
            && record < part.records
        {
            let row = part.row(self.bytes, record);
            for (column, word) in (column..).zip(into.chunks_exact_mut(8)) {
                word.copy_from_slice(&part.word(row, record, column).to_le_bytes());
            }
            return;
        }
        let (mut at, mut rest) = (offset, into);
        while !rest.is_empty() {
            let within = (at % 8) as usize;
            let word = match self.place(at / 8) {
                Some((part, record, column)) => part.word(part.row(self.bytes, record), record, column).to_le_bytes(),
                None => self.plain(at / 8),
            };
            let (now, later) = rest.split_at_mut((8 - within).min(rest.len()));
            now.copy_from_slice(&word[within..within + now.len()]);
            at += now.len() as u64;
            rest = later;
        }
    }

    /// The segment, record and column of a word of the SPK file.
    fn place(&self, word: u64) -> Option<(&Part, u64, u64)> {
        let part = self.parts.iter().find(|part| part.words.contains(&word))?;
        let word = word - part.words.start;
        Some((part, word / part.record_words, word % part.record_words))
    }

    /// A word of the SPK file outside all segments; past the directory they are zero.
    fn plain(&self, word: u64) -> [u8; 8] {
        let from = word as usize * 8;
        self.directory.get(from..from + 8).and_then(|w| w.try_into().ok()).unwrap_or_default()
    }
}

impl Part {
    /// A segment's table; `None` where the file ends before what it announces.
    fn read(bytes: &[u8], table: usize) -> Option<Part> {
        let (first_byte, at) = (long(bytes, table)?, usize::try_from(long(bytes, table + 8)?).ok()?);
        let (start_et, interval_s) =
            (f64::from_bits(long(bytes, table + 16)?), f64::from_bits(long(bytes, table + 24)?));
        let (records, record_words) = (size(bytes, table + 32)?, size(bytes, table + 36)?);
        let (record_bytes, fineness) = (size(bytes, table + 40)?, size(bytes, table + 44)?);
        let widths = bytes.get(table + TABLE..(table + TABLE).checked_add(record_words.checked_sub(2)?)?)?;
        let mut next = 0;
        let mut bits = Vec::with_capacity(widths.len());
        for &width in widths {
            bits.push((next, u32::from(width)));
            next += usize::from(width);
        }
        let fits = widths.iter().all(|width| (1..=64).contains(width)) && next <= record_bytes * 8;
        let end = records.checked_mul(record_bytes)?.checked_add(at)?.checked_add(TAIL)?;
        let words = (records as u64 * record_words as u64) + CLOSING;
        (fits && records > 0 && end <= bytes.len() && fineness < 1000).then(|| Part {
            words: first_byte / 8..first_byte / 8 + words,
            at,
            record_bytes,
            record_words: record_words as u64,
            records: records as u64,
            start_et,
            interval_s,
            step_km: (-(fineness as f64)).exp2(),
            bits,
        })
    }

    /// A packed record, with enough behind it that sixteen bytes may be taken anywhere in it.
    fn row<'a>(&self, bytes: &'a [u8], record: u64) -> &'a [u8] {
        let from = self.at + record as usize * self.record_bytes;
        &bytes[from..from + self.record_bytes.min(bytes.len() - TAIL - from) + TAIL]
    }

    /// A word of a record; the record past the last is the segment's closing.
    fn word(&self, row: &[u8], record: u64, column: u64) -> f64 {
        if record == self.records {
            return match column {
                0 => self.start_et,
                1 => self.interval_s,
                2 => self.record_words as f64,
                _ => self.records as f64,
            };
        }
        match column {
            0 => self.start_et + (record as f64 + 0.5) * self.interval_s,
            1 => self.interval_s / 2.0,
            _ => {
                let (first_bit, width) = self.bits[(column - MIDDLE_AND_RADIUS) as usize];
                let mut window = [0; TAIL];
                window.copy_from_slice(&row[first_bit / 8..first_bit / 8 + TAIL]);
                // The wanted bits to the bottom, then to the top and down again, which spreads the sign.
                let raw = (u128::from_le_bytes(window) >> (first_bit % 8)) as u64;
                let whole = ((raw << (64 - width)) as i64) >> (64 - width);
                whole as f64 * self.step_km
            }
        }
    }
}

fn size(bytes: &[u8], at: usize) -> Option<usize> {
    Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?) as usize)
}

fn long(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(bytes.get(at..at + 8)?.try_into().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_data_ephemeris::DE440_1900_2100;

    #[test]
    fn any_part_reads_as_the_whole_does() {
        let packed = Packed::new(DE440_1900_2100).unwrap();
        let mut whole = vec![0; packed.len() as usize];
        packed.read(0, &mut whole);
        assert!(whole.starts_with(b"DAF/SPK ") && whole.len() > 14_000_000);
        for (offset, length) in
            [(0, 1), (1021, 9), (packed.directory.len() - 3, 11), (5_000_001, 700), (whole.len() - 5, 5)]
        {
            let mut part = vec![0; length];
            packed.read(offset as u64, &mut part);
            assert_eq!(part, whole[offset..offset + length], "{offset}");
        }
    }

    #[test]
    fn damaged_tables_are_refused() {
        for keep in [0, 7, 20, 1000, 4000, 1_000_000] {
            assert!(Packed::new(&DE440_1900_2100[..keep]).is_err(), "{keep}");
        }
        let table = HEAD + size(DE440_1900_2100, 8).unwrap();
        for (at, value) in [
            (8, 0xff),
            (table + 15, 0x7f),
            (table + 35, 0xff),
            (table + 36, 1),
            (table + TABLE, 65),
            (table + TABLE, 0),
        ] {
            let mut bytes = DE440_1900_2100.to_vec();
            bytes[at] = value;
            bytes[at + 1] = if at == table + 36 { 0 } else { bytes[at + 1] };
            assert!(Packed::new(bytes.leak()).is_err(), "byte {at}");
        }
    }
}
