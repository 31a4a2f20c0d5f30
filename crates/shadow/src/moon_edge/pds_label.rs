//! PDS grids of heights: a label in lines of `KEY = value`, and the image beside it.
//!
//! # Source
//! Planetary Data System Standards Reference 3.8, JPL D-7669; the labels of LRO-L-LOLA-4-GDR-V1.0.

use super::grid_file::{Lines, MoonGridError, PER_DEGREE};
use std::collections::HashMap;
use std::fs::File;
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};

/// No label is longer.
const LONGEST_LABEL: u64 = 1 << 20;

/// How a sample is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sample {
    I16 { big: bool },
    I32 { big: bool },
    F32 { big: bool },
}

impl Sample {
    fn bytes(self) -> usize {
        if matches!(self, Sample::I16 { .. }) { 2 } else { 4 }
    }
}

/// A PDS grid, its label read.
pub(super) struct PdsLines {
    image: PathBuf,
    file: BufReader<File>,
    per_degree: usize,
    sample: Sample,
    /// Metres for one unit of a sample, and metres to add.
    scale_m: f64,
    offset_m: f64,
    /// The first sample is at 180° W instead of 0° E.
    from_west: bool,
    bytes: Vec<u8>,
}

impl PdsLines {
    /// Opens an image by its own name or its label's.
    pub(super) fn open(path: &Path) -> Result<PdsLines, MoonGridError> {
        let [label_path, image] = [["lbl", "LBL"], ["img", "IMG"]].map(|names| beside(path, names));
        let cannot = |path: &Path, error: &dyn std::fmt::Display| {
            MoonGridError::new(
                path,
                format!("cannot be read ({error})"),
                "put the image (.img) and its label (.lbl) side by side, with the same name",
            )
        };
        let mut text = Vec::new();
        let file = File::open(&label_path).map_err(|e| cannot(&label_path, &e))?;
        file.take(LONGEST_LABEL).read_to_end(&mut text).map_err(|e| cannot(&label_path, &e))?;
        let label = Label { path: &label_path, values: read(&String::from_utf8_lossy(&text)) };
        let file = File::open(&image).map_err(|e| cannot(&image, &e))?;
        let length = file.metadata().map_err(|e| cannot(&image, &e))?.len();

        label.is("TARGET_NAME", "MOON")?;
        label.is("MAP_PROJECTION_TYPE", "SIMPLE CYLINDRICAL")?;
        let resolution = label.number("MAP_RESOLUTION")?;
        let per_degree = resolution as usize;
        if per_degree as f64 != resolution || !PER_DEGREE.contains(&per_degree) {
            return Err(label.wrong("MAP_RESOLUTION", "a whole number of pixels a degree from 4 to 128"));
        }
        for (key, expected) in [("LINES", 180 * per_degree), ("LINE_SAMPLES", 360 * per_degree)] {
            if label.number(key)? != expected as f64 {
                return Err(label.wrong(key, &format!("{expected}: the whole Moon at {per_degree} pixels a degree")));
            }
        }
        label.is("POSITIVE_LONGITUDE_DIRECTION", "EAST")?;
        let from_west = match label.number("WESTERNMOST_LONGITUDE")? {
            0.0 => false,
            -180.0 | 180.0 => true,
            _ => return Err(label.wrong("WESTERNMOST_LONGITUDE", "0 or -180")),
        };
        let big = |text: &str| text.starts_with("MSB") || text.starts_with("IEEE") || text.starts_with("SUN");
        let kind = label.text("SAMPLE_TYPE")?;
        let sample = match (kind, label.number("SAMPLE_BITS")? as i64) {
            ("LSB_INTEGER" | "MSB_INTEGER", 16) => Sample::I16 { big: big(kind) },
            ("LSB_INTEGER" | "MSB_INTEGER", 32) => Sample::I32 { big: big(kind) },
            ("PC_REAL" | "IEEE_REAL", 32) => Sample::F32 { big: big(kind) },
            _ => return Err(label.wrong("SAMPLE_TYPE", "LSB_INTEGER of 16 or 32 bits, or PC_REAL of 32 bits")),
        };
        let unit_m = match label.text("UNIT")? {
            "METER" | "METERS" | "M" => 1.0,
            "KILOMETER" | "KILOMETERS" | "KM" => 1000.0,
            _ => return Err(label.wrong("UNIT", "METER or KILOMETER")),
        };
        // The offset is the radius of the sphere that heights are counted from.
        let offset_m = label.number("OFFSET")? * unit_m - 1_737_400.0;
        if offset_m.abs() > 1000.0 {
            return Err(label.wrong("OFFSET", "the radius of the Moon's sphere of heights, 1737.4 km"));
        }
        let scale_m = label.number("SCALING_FACTOR")? * unit_m;
        if !(1e-4..=100.0).contains(&scale_m) {
            return Err(label.wrong("SCALING_FACTOR", "the height of one unit of a sample, 0.5 metres as a rule"));
        }
        let expected = (180 * per_degree * 360 * per_degree * sample.bytes()) as u64;
        if length != expected {
            return Err(MoonGridError::new(
                &image,
                format!("{length} bytes long"),
                format!("its label makes it {expected} bytes; fetch the file again, or the label that belongs to it"),
            ));
        }
        let bytes = vec![0; 360 * per_degree * sample.bytes()];
        let file = BufReader::with_capacity(1 << 20, file);
        Ok(PdsLines { image, file, per_degree, sample, scale_m, offset_m, from_west, bytes })
    }
}

impl Lines for PdsLines {
    fn per_degree(&self) -> usize {
        self.per_degree
    }

    fn next(&mut self, line: &mut [f64]) -> Result<(), MoonGridError> {
        self.file.read_exact(&mut self.bytes).map_err(|e| {
            MoonGridError::new(&self.image, format!("cannot be read to its end ({e})"), "fetch the file again")
        })?;
        let half = if self.from_west { line.len() / 2 } else { 0 };
        let count = line.len();
        for (number, raw) in self.bytes.chunks_exact(self.sample.bytes()).enumerate() {
            let value = match (self.sample, raw) {
                (Sample::I16 { big: false }, &[a, b]) => f64::from(i16::from_le_bytes([a, b])),
                (Sample::I16 { big: true }, &[a, b]) => f64::from(i16::from_be_bytes([a, b])),
                (Sample::I32 { big: false }, &[a, b, c, d]) => f64::from(i32::from_le_bytes([a, b, c, d])),
                (Sample::I32 { big: true }, &[a, b, c, d]) => f64::from(i32::from_be_bytes([a, b, c, d])),
                (Sample::F32 { big: false }, &[a, b, c, d]) => f64::from(f32::from_le_bytes([a, b, c, d])),
                (Sample::F32 { big: true }, &[a, b, c, d]) => f64::from(f32::from_be_bytes([a, b, c, d])),
                _ => f64::NAN,
            };
            line[(number + half) % count] = value * self.scale_m + self.offset_m;
        }
        Ok(())
    }
}

/// The file of that ending beside a path: the path itself if it has it, else in the case that exists.
fn beside(path: &Path, endings: [&str; 2]) -> PathBuf {
    if path.extension().is_some_and(|e| e.eq_ignore_ascii_case(endings[0])) {
        return path.to_owned();
    }
    let [small, large] = endings.map(|ending| path.with_extension(ending));
    if !small.exists() && large.exists() { large } else { small }
}

/// `KEY = value` of every line, without quotes and units; the first of a key counts.
fn read(text: &str) -> HashMap<String, String> {
    let mut values = HashMap::new();
    for line in text.lines() {
        if let Some((key, value)) = line.split_once('=') {
            let value = value.split('<').next().unwrap_or_default().trim().trim_matches('"').trim();
            values.entry(key.trim().to_owned()).or_insert_with(|| value.to_owned());
        }
    }
    values
}

struct Label<'a> {
    path: &'a Path,
    values: HashMap<String, String>,
}

impl Label<'_> {
    fn text(&self, key: &str) -> Result<&str, MoonGridError> {
        self.values.get(key).map(String::as_str).ok_or_else(|| {
            MoonGridError::new(
                self.path,
                format!("the label has no {key}"),
                "give the label that belongs to a PDS grid of the Moon's heights",
            )
        })
    }

    fn number(&self, key: &str) -> Result<f64, MoonGridError> {
        let text = self.text(key)?;
        text.parse().ok().filter(|n: &f64| n.is_finite()).ok_or_else(|| self.wrong(key, "a number"))
    }

    fn is(&self, key: &str, expected: &str) -> Result<(), MoonGridError> {
        if self.text(key)?.eq_ignore_ascii_case(expected) { Ok(()) } else { Err(self.wrong(key, expected)) }
    }

    fn wrong(&self, key: &str, right: &str) -> MoonGridError {
        let found = self.values.get(key).map_or("", String::as_str);
        MoonGridError::new(self.path, format!("the label says {key} = {found}"), format!("it has to be {right}"))
    }
}
