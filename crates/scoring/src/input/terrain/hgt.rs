//! SRTM tiles: one degree of latitude by one of longitude, big-endian 16-bit heights, named by the south-west corner.
//!
//! # Source
//! SRTM topography documentation (NASA/USGS): `N37W105.hgt` covers 37–38° N, 105–104° W; 1201 × 1201 samples (3″) or 3601 × 3601
//! (1″) from north to south, the outer rows and columns shared with the neighbours; metres above EGM96 mean sea level;
//! −32768 marks a void. (From memory; common practice.)

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use super::raster::RasterShape;
use crate::fault::Fault;
use crate::input::zip::{self, Entry};

/// The value that marks a void.
const VOID: i16 = i16::MIN;

/// An SRTM tile, opened but not read.
#[derive(Debug)]
pub struct HgtTile {
    shape: RasterShape,
    bytes: Mutex<Bytes>,
}

/// Where a tile's bytes are.
#[derive(Debug)]
enum Bytes {
    Plain(File),
    /// Packed, to be unpacked into a nameless file when it is first read.
    Gzip(PathBuf, u64),
    Zip(PathBuf, Box<Entry>),
}

impl HgtTile {
    /// Opens a tile, plain or packed with gzip: the name says where it lies, the number of bytes how fine it is.
    ///
    /// # Errors
    /// A fault when the name is not of the form `N37W105.hgt` or the byte count fits neither resolution.
    pub fn open(path: &Path) -> Result<HgtTile, Box<Fault>> {
        let name = path.display().to_string();
        let cannot = |e: std::io::Error| {
            Box::new(Fault::of_file(&name, format!("cannot be read ({e})"), "give a file that can be read"))
        };
        let mut file = File::open(path).map_err(|e| {
            Box::new(Fault::of_file(&name, format!("cannot be opened ({e})"), "give a file that can be read"))
        })?;
        let mut length = file.metadata().map_err(cannot)?.len();
        let stem = path.file_name().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
        let bytes = if stem.to_ascii_lowercase().ends_with(".gz") {
            // RFC 1952: the last four bytes hold the length before packing.
            let mut end = [0; 4];
            if length < 18 {
                return Err(Box::new(Fault::of_file(&name, "is not a gzip file", "fetch it again")));
            }
            file.seek(SeekFrom::End(-4)).and_then(|_| file.read_exact(&mut end)).map_err(cannot)?;
            length = u64::from(u32::from_le_bytes(end));
            Bytes::Gzip(path.to_owned(), length)
        } else {
            Bytes::Plain(file)
        };
        HgtTile::new(&name, &stem, length, bytes)
    }

    /// A tile in a zip archive.
    ///
    /// # Errors
    /// As [`HgtTile::open`].
    pub(crate) fn in_zip(path: &Path, entry: &Entry) -> Result<HgtTile, Box<Fault>> {
        let inside = entry.name.rsplit('/').next().unwrap_or_default();
        let name = format!("{}: {}", path.display(), entry.name);
        HgtTile::new(&name, inside, entry.size, Bytes::Zip(path.to_owned(), Box::new(entry.clone())))
    }

    fn new(name: &str, file_name: &str, length: u64, bytes: Bytes) -> Result<HgtTile, Box<Fault>> {
        let fault = |wrong: String, right: &str| Box::new(Fault::of_file(name, wrong, right));
        let stem = file_name.split('.').next().unwrap_or_default();
        let Some((south, west)) = corner(stem) else {
            let right = "name an SRTM tile by its south-west corner, like S45E169.hgt";
            return Err(fault(format!("{stem:?} does not say where the tile lies"), right));
        };
        let side = [1201_u32, 3601].into_iter().find(|&n| length == u64::from(n) * u64::from(n) * 2);
        let Some(side) = side else {
            let right = "an SRTM tile has 2884802 bytes (1201 × 1201) or 25934402 (3601 × 3601): fetch it again";
            return Err(fault(format!("the tile has {length} bytes"), right));
        };
        let step = 1.0 / f64::from(side - 1);
        let shape = RasterShape {
            west_deg: f64::from(west),
            north_deg: f64::from(south) + 1.0,
            lon_step_deg: step,
            lat_step_deg: step,
            columns: side,
            rows: side,
        };
        Ok(HgtTile { shape, bytes: Mutex::new(bytes) })
    }

    /// Where the samples lie.
    pub fn shape(&self) -> &RasterShape {
        &self.shape
    }

    /// Heights of a rectangle of samples, m, NaN where void.
    ///
    /// # Errors
    /// The reason in words when the file cannot be read there.
    pub fn read(&self, column: u32, row: u32, columns: u32, rows: u32) -> Result<Vec<f32>, String> {
        let mut bytes = self.bytes.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(unpacked) = bytes.unpack()? {
            *bytes = Bytes::Plain(unpacked);
        }
        let Bytes::Plain(file) = &mut *bytes else { return Err("it is packed".to_owned()) };
        let mut line = vec![0_u8; columns as usize * 2];
        let mut samples = Vec::with_capacity(columns as usize * rows as usize);
        for r in row..row + rows {
            let at = (u64::from(r) * u64::from(self.shape.columns) + u64::from(column)) * 2;
            file.seek(SeekFrom::Start(at)).and_then(|_| file.read_exact(&mut line)).map_err(|e| e.to_string())?;
            samples.extend(line.chunks_exact(2).map(|b| match i16::from_be_bytes([b[0], b[1]]) {
                VOID => f32::NAN,
                height => f32::from(height),
            }));
        }
        Ok(samples)
    }
}

impl Bytes {
    /// Unpacks what is packed, to no more than it claims.
    fn unpack(&self) -> Result<Option<File>, String> {
        match self {
            Bytes::Plain(_) => Ok(None),
            Bytes::Gzip(path, length) => {
                let packed = File::open(path).map_err(|e| e.to_string())?;
                let mut out = tempfile::tempfile().map_err(|e| e.to_string())?;
                let mut unpacked = flate2::read::GzDecoder::new(packed).take(length + 1);
                let written = std::io::copy(&mut unpacked, &mut out).map_err(|e| e.to_string())?;
                if written != *length {
                    return Err(format!("it unpacks to {written} bytes, not the {length} it claims"));
                }
                Ok(Some(out))
            }
            Bytes::Zip(path, entry) => {
                let mut archive = File::open(path).map_err(|e| e.to_string())?;
                zip::extract("it", &mut archive, entry).map(Some).map_err(|f| f.wrong)
            }
        }
    }
}

/// The south-west corner that a tile's name gives, degrees.
fn corner(stem: &str) -> Option<(i32, i32)> {
    let stem = stem.to_ascii_uppercase();
    let bytes = stem.as_bytes();
    if !stem.is_ascii() || bytes.len() < 7 || bytes.get(7).is_some_and(u8::is_ascii_alphanumeric) {
        return None;
    }
    let part = |range: std::ops::Range<usize>, limit: i32| {
        let text = &stem[range];
        let digits = text.bytes().all(|b| b.is_ascii_digit());
        text.parse::<i32>().ok().filter(|n| digits && *n <= limit)
    };
    let lat = part(1..3, 90)?;
    let lon = part(4..7, 180)?;
    let south = match bytes[0] {
        b'N' => lat,
        b'S' => -lat,
        _ => return None,
    };
    let west = match bytes[3] {
        b'E' => lon,
        b'W' => -lon,
        _ => return None,
    };
    ((-90..90).contains(&south) && (-180..180).contains(&west)).then_some((south, west))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_give_the_corner() {
        assert_eq!(corner("N37W105"), Some((37, -105)));
        assert_eq!(corner("s45e169"), Some((-45, 169)));
        assert_eq!(corner("S01E000.SRTMGL1"), Some((-1, 0)));
        for wrong in ["", "N37W10", "N95E000", "X37W105", "N37W181", "N37W1050", "N3+W105", "tile", "N37W10é"] {
            assert_eq!(corner(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn samples_are_big_endian_from_the_north_west_and_voids_are_no_height() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("S45E169.hgt");
        let mut bytes = vec![0_u8; 1201 * 1201 * 2];
        let mut put = |row: usize, column: usize, height: i16| {
            let at = (row * 1201 + column) * 2;
            bytes[at..at + 2].copy_from_slice(&height.to_be_bytes());
        };
        put(0, 0, 258);
        put(1200, 1200, -7);
        put(600, 3, i16::MIN);
        std::fs::write(&path, &bytes).unwrap();
        let tile = HgtTile::open(&path).unwrap();
        assert_eq!((tile.shape().north_deg, tile.shape().west_deg), (-44.0, 169.0));
        assert_eq!(tile.read(0, 0, 2, 1).unwrap(), [258.0, 0.0]);
        assert_eq!(tile.read(1199, 1200, 2, 1).unwrap(), [0.0, -7.0]);
        let around = tile.read(2, 600, 3, 1).unwrap();
        assert!(around[1].is_nan() && around[0] == 0.0);
        assert!(tile.read(0, 1200, 1201, 5).is_err());
    }

    #[test]
    fn wrong_byte_counts_and_names_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        for (name, bytes, says) in [
            ("N10E010.hgt", 1000_usize, "the tile has 1000 bytes; an SRTM tile has 2884802 bytes"),
            ("N10E010.hgt", 2_884_801, "the tile has 2884801 bytes"),
            ("N10E010.hgt", 0, "the tile has 0 bytes"),
            ("hill.hgt", 2_884_802, "does not say where the tile lies"),
        ] {
            let path = folder.path().join(name);
            std::fs::write(&path, vec![0; bytes]).unwrap();
            let text = HgtTile::open(&path).unwrap_err().to_string();
            assert!(text.contains(says), "{text}");
        }
    }
}
