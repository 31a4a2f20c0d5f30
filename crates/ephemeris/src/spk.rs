//! Reader for SPK files: the DAF container and Chebyshev segments of types 2 and 3.
//!
//! Written after the public format description (NAIF, "DAF Required Reading" and "SPK Required Reading"). Nothing in a
//! file is trusted: every address is checked against the file before it is followed, and nothing larger than one record
//! is ever allocated.

use crate::packed::Packed;
pub use crate::spk_error::SpkError;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Mutex;

/// Bytes in a DAF record.
const RECORD_BYTES: u64 = 1024;

/// Most coefficients per coordinate that a segment may have; published kernels stay below 30.
const MAX_COEFFICIENTS: usize = 64;

enum Source {
    Embedded(&'static [u8]),
    Packed(Packed),
    File { file: Mutex<File>, bytes: u64 },
}

impl Source {
    fn len(&self) -> u64 {
        match self {
            Source::Embedded(bytes) => bytes.len() as u64,
            Source::Packed(packed) => packed.len(),
            Source::File { bytes, .. } => *bytes,
        }
    }

    fn read(&self, offset: u64, into: &mut [u8]) -> Result<(), SpkError> {
        let end = offset.checked_add(into.len() as u64).filter(|&end| end <= self.len());
        if end.is_none() {
            return Err(SpkError::Damaged(format!("byte {offset} lies past its end of {} bytes", self.len())));
        }
        match self {
            Source::Embedded(bytes) => {
                let start = offset as usize;
                into.copy_from_slice(&bytes[start..start + into.len()]);
            }
            Source::Packed(packed) => packed.read(offset, into),
            Source::File { file, .. } => {
                let mut file = file.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                file.seek(SeekFrom::Start(offset))?;
                file.read_exact(into)?;
            }
        }
        Ok(())
    }
}

/// One segment: Chebyshev polynomials for one body relative to another over a span.
#[derive(Clone, Debug)]
pub struct Segment {
    /// NAIF number of the body.
    pub target: i32,
    /// NAIF number of the body it is relative to.
    pub centre: i32,
    /// Reference frame; 1 is the ICRF.
    pub frame: i32,
    /// SPK data type.
    pub data_type: i32,
    /// First instant, TDB seconds past J2000.
    pub start_et: f64,
    /// Last instant, TDB seconds past J2000.
    pub end_et: f64,
    /// First word of the segment, counted from 1.
    first_word: u64,
    /// Start of the first record, TDB seconds past J2000.
    init_et: f64,
    /// Length of the span of one record, seconds.
    interval_s: f64,
    /// Words in a record.
    record_words: usize,
    /// Records in the segment.
    records: u64,
}

impl Segment {
    /// Whether positions can be read from the segment.
    pub fn is_readable(&self) -> bool {
        matches!(self.data_type, 2 | 3) && self.frame == 1
    }

    /// Whether the segment covers an instant (TDB seconds past J2000).
    pub fn covers(&self, et: f64) -> bool {
        self.start_et <= et && et <= self.end_et
    }
}

/// An open SPK file.
pub struct Spk {
    source: Source,
    little_endian: bool,
    segments: Vec<Segment>,
}

impl std::fmt::Debug for Spk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Spk").field("segments", &self.segments.len()).finish_non_exhaustive()
    }
}

impl Spk {
    /// Opens a file; only its directory is read.
    ///
    /// # Errors
    /// [`SpkError`] if it cannot be read, is no SPK file, or is damaged.
    pub fn open(path: &Path) -> Result<Spk, SpkError> {
        let file = File::open(path)?;
        let metadata = file.metadata()?;
        if metadata.is_dir() {
            return Err(SpkError::NotSpk("it is a folder".to_owned()));
        }
        Spk::from_source(Source::File { bytes: metadata.len(), file: Mutex::new(file) })
    }

    /// Reads from bytes that live as long as the program.
    ///
    /// # Errors
    /// [`SpkError`] if the bytes are no SPK file, or a damaged one.
    pub fn from_static(bytes: &'static [u8]) -> Result<Spk, SpkError> {
        Spk::from_source(Source::Embedded(bytes))
    }

    /// Reads the form in which the excerpt of DE440 is shipped.
    pub(crate) fn from_packed(bytes: &'static [u8]) -> Result<Spk, SpkError> {
        Spk::from_source(Source::Packed(Packed::new(bytes)?))
    }

    /// The whole file, as other programs read it.
    ///
    /// # Errors
    /// [`SpkError::Io`] if it cannot be read any more.
    pub fn bytes(&self) -> Result<Vec<u8>, SpkError> {
        let mut bytes = vec![0; self.source.len() as usize];
        self.source.read(0, &mut bytes)?;
        Ok(bytes)
    }

    /// The segments, in file order.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    fn from_source(source: Source) -> Result<Spk, SpkError> {
        let mut head = [0u8; RECORD_BYTES as usize];
        if source.len() < RECORD_BYTES {
            return Err(SpkError::NotSpk(format!("it has only {} bytes", source.len())));
        }
        source.read(0, &mut head)?;
        if !head.starts_with(b"DAF/SPK") && !head.starts_with(b"NAIF/DAF") {
            return Err(SpkError::NotSpk("its first bytes are not DAF/SPK".to_owned()));
        }
        let little_endian = match &head[88..96] {
            b"LTL-IEEE" => true,
            b"BIG-IEEE" => false,
            other => {
                return Err(SpkError::NotSpk(format!(
                    "its number format is {}",
                    String::from_utf8_lossy(other).trim()
                )));
            }
        };
        let mut spk = Spk { source, little_endian, segments: Vec::new() };
        let (doubles, integers) = (spk.int(&head, 8), spk.int(&head, 12));
        if (doubles, integers) != (2, 6) {
            return Err(SpkError::NotSpk(format!(
                "its summaries hold {doubles} doubles and {integers} integers, not 2 and 6"
            )));
        }
        spk.read_directory(spk.int(&head, 76))?;
        if spk.segments.is_empty() {
            return Err(SpkError::Damaged("it has no segments".to_owned()));
        }
        Ok(spk)
    }

    /// Follows the chain of summary records; each may be visited once, so a looping chain ends.
    fn read_directory(&mut self, first: i32) -> Result<(), SpkError> {
        let most = self.source.len() / RECORD_BYTES;
        let mut number = first;
        for _ in 0..=most {
            if number == 0 {
                return Ok(());
            }
            let offset = u64::try_from(number)
                .ok()
                .filter(|&n| n >= 1 && n <= most)
                .map(|n| (n - 1) * RECORD_BYTES)
                .ok_or_else(|| SpkError::Damaged(format!("summary record {number} lies outside the file")))?;
            let mut record = [0u8; RECORD_BYTES as usize];
            self.source.read(offset, &mut record)?;
            let (next, count) = (self.double(&record, 0), self.double(&record, 16));
            if !(0.0..=25.0).contains(&count) || !(0.0..=f64::from(i32::MAX)).contains(&next) {
                return Err(SpkError::Damaged(format!("summary record {number} makes no sense")));
            }
            for i in 0..count as usize {
                let segment = self.read_summary(&record, 24 + i * 40)?;
                self.segments.push(segment);
            }
            number = next as i32;
        }
        Err(SpkError::Damaged("its summary records form a loop".to_owned()))
    }

    fn read_summary(&self, record: &[u8; RECORD_BYTES as usize], at: usize) -> Result<Segment, SpkError> {
        let int = |i: usize| self.int(record, at + 16 + 4 * i);
        let mut segment = Segment {
            start_et: self.double(record, at),
            end_et: self.double(record, at + 8),
            target: int(0),
            centre: int(1),
            frame: int(2),
            data_type: int(3),
            first_word: 0,
            init_et: 0.0,
            interval_s: 1.0,
            record_words: 0,
            records: 0,
        };
        let damaged = |what: &str| SpkError::Damaged(format!("segment of body {}: {what}", segment.target));
        let (first, last) = (int(4), int(5));
        let words = self.source.len() / 8;
        let (Ok(first), Ok(last)) = (u64::try_from(first), u64::try_from(last)) else {
            return Err(damaged("negative address"));
        };
        if first < 1 || last < first + 4 || last > words {
            return Err(damaged("its data lie outside the file"));
        }
        if !(segment.start_et.is_finite() && segment.end_et.is_finite() && segment.start_et <= segment.end_et) {
            return Err(damaged("its span is not a span"));
        }
        if !matches!(segment.data_type, 2 | 3) {
            // Kept in the directory, so that the error can say what the file does hold.
            return Ok(segment);
        }
        let mut tail = [0u8; 32];
        self.source.read((last - 4) * 8, &mut tail)?;
        let (init, interval, record_words, records) =
            (self.double(&tail, 0), self.double(&tail, 8), self.double(&tail, 16), self.double(&tail, 24));
        let coordinates = if segment.data_type == 2 { 3.0 } else { 6.0 };
        let coefficients = (record_words - 2.0) / coordinates;
        let whole = |x: f64| x.is_finite() && x.fract() == 0.0 && x >= 1.0;
        if !whole(coefficients) || coefficients > MAX_COEFFICIENTS as f64 || !whole(records) || records > words as f64 {
            return Err(damaged("its records have an impossible size"));
        }
        if !(init.is_finite() && interval.is_finite() && interval > 0.0) {
            return Err(damaged("its records cover no time"));
        }
        if records as u64 * record_words as u64 + 4 != last - first + 1 {
            return Err(damaged("its records do not fill it"));
        }
        segment.first_word = first;
        segment.init_et = init;
        segment.interval_s = interval;
        segment.record_words = record_words as usize;
        segment.records = records as u64;
        Ok(segment)
    }

    /// Position (km) and velocity (km/s) of a segment's body relative to its centre.
    ///
    /// # Errors
    /// [`SpkError::Damaged`] if the record holds something that is not a number, or is not the record of that instant.
    pub fn evaluate(&self, segment: &Segment, et: f64) -> Result<([f64; 3], [f64; 3]), SpkError> {
        let damaged = |what: &str| SpkError::Damaged(format!("segment of body {}: {what}", segment.target));
        if segment.records == 0 {
            return Err(damaged("it holds no Chebyshev records"));
        }
        let index = ((et - segment.init_et) / segment.interval_s).floor();
        let index = (index.max(0.0) as u64).min(segment.records - 1);
        let start = (segment.first_word - 1 + index * segment.record_words as u64) * 8;
        let mut bytes = [0u8; (2 + 6 * MAX_COEFFICIENTS) * 8];
        let bytes = &mut bytes[..segment.record_words * 8];
        self.source.read(start, bytes)?;
        let (middle, radius) = (self.double(bytes, 0), self.double(bytes, 8));
        let s = (et - middle) / radius;
        // Half a part in a million lets an instant on the seam belong to either side.
        if s.is_nan() || s.abs() > 1.0 + 5e-7 {
            return Err(damaged("a record does not cover the span its place says"));
        }
        let coordinates = if segment.data_type == 2 { 3 } else { 6 };
        let n = (segment.record_words - 2) / coordinates;
        let mut position = [0.0; 3];
        let mut velocity = [0.0; 3];
        let mut series = [0.0; MAX_COEFFICIENTS];
        for coordinate in 0..coordinates {
            for (k, coefficient) in series.iter_mut().enumerate().take(n) {
                *coefficient = self.double(bytes, 16 + 8 * (coordinate * n + k));
            }
            let (value, slope) = chebyshev(&series[..n], s);
            if !(value.is_finite() && slope.is_finite()) {
                return Err(damaged("a record holds something that is not a number"));
            }
            if coordinate < 3 {
                position[coordinate] = value;
                if coordinates == 3 {
                    velocity[coordinate] = slope / radius;
                }
            } else {
                velocity[coordinate - 3] = value;
            }
        }
        Ok((position, velocity))
    }

    fn double(&self, bytes: &[u8], at: usize) -> f64 {
        let mut word = [0u8; 8];
        word.copy_from_slice(&bytes[at..at + 8]);
        if self.little_endian { f64::from_le_bytes(word) } else { f64::from_be_bytes(word) }
    }

    fn int(&self, bytes: &[u8], at: usize) -> i32 {
        let mut word = [0u8; 4];
        word.copy_from_slice(&bytes[at..at + 4]);
        if self.little_endian { i32::from_le_bytes(word) } else { i32::from_be_bytes(word) }
    }
}

/// Value and derivative of a Chebyshev series at `s` in [−1, 1], by Clenshaw's recurrence.
pub fn chebyshev(coefficients: &[f64], s: f64) -> (f64, f64) {
    let (mut b1, mut b2, mut d1, mut d2) = (0.0, 0.0, 0.0, 0.0);
    for &c in coefficients.iter().skip(1).rev() {
        let d = 2.0 * b1 + 2.0 * s * d1 - d2;
        d2 = d1;
        d1 = d;
        let b = c + 2.0 * s * b1 - b2;
        b2 = b1;
        b1 = b;
    }
    let first = coefficients.first().copied().unwrap_or(0.0);
    (first + s * b1 - b2, b1 + s * d1 - d2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn clenshaw_agrees_with_the_polynomials_written_out() {
        let s: f64 = 0.3;
        let (t2, t3) = (2.0 * s * s - 1.0, 4.0 * s * s * s - 3.0 * s);
        let (value, slope) = chebyshev(&[1.0, -2.0, 0.5, 0.25], s);
        assert!((value - (1.0 - 2.0 * s + 0.5 * t2 + 0.25 * t3)).abs() < 1e-15);
        assert!((slope - (-2.0 + 0.5 * 4.0 * s + 0.25 * (12.0 * s * s - 3.0))).abs() < 1e-15);
    }

    fn read(bytes: Vec<u8>) -> Result<Spk, SpkError> {
        Spk::from_static(Box::leak(bytes.into_boxed_slice()))
    }

    /// The embedded kernel as a plain file.
    fn excerpt() -> &'static [u8] {
        static BYTES: std::sync::LazyLock<Vec<u8>> =
            std::sync::LazyLock::new(|| crate::Kernel::embedded().spk_bytes().unwrap());
        &BYTES
    }

    #[test]
    fn a_truncated_file_is_refused() {
        for keep in [0, 10, 1000, 1024, 5000, excerpt().len() / 2] {
            assert!(read(excerpt()[..keep].to_vec()).is_err(), "{keep}");
        }
    }

    #[test]
    fn a_looping_directory_ends() {
        let mut bytes = excerpt()[..8192].to_vec();
        let first = i32::from_le_bytes(bytes[76..80].try_into().unwrap());
        let at = (first as usize - 1) * 1024;
        bytes[at..at + 8].copy_from_slice(&f64::from(first).to_le_bytes());
        bytes[at + 16..at + 24].copy_from_slice(&0f64.to_le_bytes());
        assert!(matches!(read(bytes), Err(SpkError::Damaged(what)) if what.contains("loop")));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(300))]

        /// Whatever the bytes, the reader ends, without a panic and without a huge allocation; `tests/spk_files.rs` does
        /// the same to small files that are otherwise whole.
        #[test]
        fn any_bytes_are_survived(flips in prop::collection::vec((0usize..6000, any::<u8>()), 1..40)) {
            let mut bytes = excerpt()[..200_000].to_vec();
            for (at, value) in flips {
                bytes[at] = value;
            }
            if let Ok(spk) = read(bytes) {
                for segment in spk.segments() {
                    let _ = spk.evaluate(segment, 0.5 * (segment.start_et + segment.end_et));
                }
            }
        }

        #[test]
        fn random_bytes_are_refused(bytes in prop::collection::vec(any::<u8>(), 0..4096)) {
            prop_assert!(read(bytes).is_err());
        }
    }
}
