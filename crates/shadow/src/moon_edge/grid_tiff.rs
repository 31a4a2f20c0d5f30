//! GeoTIFFs of the Moon's heights: the whole Moon, simple cylindrical, in degrees or in metres.
//!
//! # Source
//! OGC 19-008 GeoTIFF 1.1: tags ModelPixelScale, ModelTiepoint, GeoKeyDirectory, GeoDoubleParams, GeoAsciiParams; keys 1025
//! (pixel is area or point), 2048 (geodetic system), 2057 (semi-major axis).

use super::grid_file::{Lines, MoonGridError, PER_DEGREE};
use super::heights::DATUM_KM;
use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use tiff::ColorType;
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;

/// Bytes that one strip or tile may decode to, and samples that a row of them may hold.
const LARGEST_CHUNK: usize = 64 << 20;
const LARGEST_ROW: usize = 32 << 20;

const GIVE: &str = "give the whole Moon, simple cylindrical, 4 to 128 pixels a degree, one band of heights in metres";

/// A GeoTIFF, its directory read.
pub(super) struct TiffLines {
    path: PathBuf,
    decoder: Decoder<BufReader<File>>,
    per_degree: usize,
    from_west: bool,
    chunk: (usize, usize),
    /// Lines of the row of strips or tiles in hand, and the number of the next line.
    row: Vec<f64>,
    next: usize,
}

impl TiffLines {
    pub(super) fn open(path: &Path) -> Result<TiffLines, MoonGridError> {
        let file = File::open(path)
            .map_err(|e| MoonGridError::new(path, format!("cannot be opened ({e})"), "give a file that can be read"))?;
        let wrong = |wrong: String| MoonGridError::new(path, wrong, GIVE);
        let unreadable = |e: tiff::TiffError| wrong(format!("is not a readable TIFF ({e})"));
        let mut limits = Limits::default();
        limits.decoding_buffer_size = LARGEST_CHUNK;
        limits.intermediate_buffer_size = LARGEST_CHUNK;
        limits.ifd_value_size = 16 << 20;
        let mut decoder = Decoder::new(BufReader::new(file)).map_err(unreadable)?.with_limits(limits);
        let (width, height) = decoder.dimensions().map_err(unreadable)?;
        match decoder.colortype().map_err(unreadable)? {
            ColorType::Gray(_) => {}
            other => return Err(wrong(format!("its samples are {other:?}, not one height each"))),
        }
        let per_degree = width as usize / 360;
        if width % 360 != 0 || !PER_DEGREE.contains(&per_degree) || height as usize != 180 * per_degree {
            return Err(wrong(format!("it has {width} × {height} samples")));
        }
        of_the_moon(path, &mut decoder)?;
        let numbers = |decoder: &mut Decoder<BufReader<File>>, tag: Tag| {
            decoder.find_tag(tag).ok().flatten().and_then(|v| v.into_f64_vec().ok())
        };
        let (scale, tie) =
            (numbers(&mut decoder, Tag::ModelPixelScaleTag), numbers(&mut decoder, Tag::ModelTiepointTag));
        let (Some(&[sx, sy, ..]), Some(&[i, j, _, x, y, _])) =
            (scale.as_deref(), tie.as_deref().and_then(|t| t.get(..6)))
        else {
            return Err(wrong("has no pixel scale and tie point".to_owned()));
        };
        // Degrees, or metres on the Moon's sphere.
        let degree = if sx > 1.0 { DATUM_KM * 1000.0 * 1_f64.to_radians() } else { 1.0 };
        let step = 1.0 / per_degree as f64;
        let near = |value: f64, expected: f64| (value / degree - expected).abs() < 0.01 * step;
        let (west, north) = (x - i * sx, y + j * sy);
        let from_west = near(west, -180.0);
        if (sx / degree / step - 1.0).abs() > 1e-4 || (sy / degree / step - 1.0).abs() > 1e-4 {
            return Err(wrong(format!("its pixels measure {sx} × {sy}, not a {per_degree}th of a degree")));
        }
        if !(from_west || near(west, 0.0)) || !near(north, 90.0) {
            return Err(wrong(format!("its corner lies at {west}, {north}, not at 90° N and 0° or 180° W")));
        }
        let (chunk_width, chunk_height) = decoder.chunk_dimensions();
        let chunk = (chunk_width as usize, chunk_height as usize);
        let samples = chunk.1.min(height as usize).saturating_mul(width as usize);
        if chunk.0 == 0 || chunk.1 == 0 || samples > LARGEST_ROW {
            let right = "store it in strips of a few lines or in tiles of 256 × 256";
            return Err(MoonGridError::new(
                path,
                format!("it is stored in pieces of {} × {} samples", chunk.0, chunk.1),
                right,
            ));
        }
        Ok(TiffLines { path: path.to_owned(), decoder, per_degree, from_west, chunk, row: Vec::new(), next: 0 })
    }

    /// The row of strips or tiles that begins with the next line.
    fn fetch(&mut self) -> Result<(), MoonGridError> {
        let damaged = |path: &Path, wrong: String| MoonGridError::new(path, wrong, "fetch the file again");
        let (width, height) = (360 * self.per_degree, 180 * self.per_degree);
        let across = width.div_ceil(self.chunk.0);
        let lines = self.chunk.1.min(height - self.next);
        self.row.clear();
        self.row.resize(lines * width, f64::NAN);
        let chunk_row = self.next / self.chunk.1;
        for chunk_column in 0..across {
            let index = (chunk_row * across + chunk_column) as u32;
            let (data_width, data_height) = self.decoder.chunk_data_dimensions(index);
            let (data_width, data_height) = (data_width as usize, data_height as usize);
            let decoded = self.decoder.read_chunk(index);
            let decoded = decoded.map_err(|e| damaged(&self.path, format!("cannot be read to its end ({e})")))?;
            let heights = heights(decoded).ok_or_else(|| {
                MoonGridError::new(&self.path, "its samples are of a kind that heights are not kept in", GIVE)
            })?;
            if heights.len() < data_width * data_height {
                return Err(damaged(&self.path, format!("piece {index} is short")));
            }
            let left = chunk_column * self.chunk.0;
            for y in 0..lines.min(data_height) {
                let to = &mut self.row[y * width + left..][..data_width.min(width - left)];
                to.copy_from_slice(&heights[y * data_width..][..to.len()]);
            }
        }
        Ok(())
    }
}

impl Lines for TiffLines {
    fn per_degree(&self) -> usize {
        self.per_degree
    }

    fn next(&mut self, line: &mut [f64]) -> Result<(), MoonGridError> {
        let within = self.next % self.chunk.1;
        if within == 0 {
            self.fetch()?;
        }
        let width = line.len();
        let from = &self.row[within * width..][..width];
        let half = if self.from_west { width / 2 } else { 0 };
        line[half..].copy_from_slice(&from[..width - half]);
        line[..half].copy_from_slice(&from[width - half..]);
        self.next += 1;
        Ok(())
    }
}

fn heights(decoded: DecodingResult) -> Option<Vec<f64>> {
    fn all<T: Into<f64>>(values: Vec<T>) -> Option<Vec<f64>> {
        Some(values.into_iter().map(Into::into).collect())
    }
    match decoded {
        DecodingResult::I16(v) => all(v),
        DecodingResult::I32(v) => all(v),
        DecodingResult::F32(v) => all(v),
        DecodingResult::F64(v) => all(v),
        _ => None,
    }
}

/// The body is told by the sphere's radius, or else by its name in the keys' text.
fn of_the_moon(path: &Path, decoder: &mut Decoder<BufReader<File>>) -> Result<(), MoonGridError> {
    const NEED: &str = "give a GeoTIFF of the Moon, whose keys say so: a sphere of 1737.4 km, or the name Moon";
    let directory = decoder.find_tag_unsigned_vec::<u16>(Tag::GeoKeyDirectoryTag).ok().flatten().unwrap_or_default();
    let doubles = decoder.find_tag(Tag::GeoDoubleParamsTag).ok().flatten().and_then(|v| v.into_f64_vec().ok());
    let text = decoder.find_tag(Tag::GeoAsciiParamsTag).ok().flatten().and_then(|v| v.into_string().ok());
    let key = |wanted: u16| directory.get(4..).unwrap_or(&[]).chunks_exact(4).find(|k| k[0] == wanted);
    if key(1025).is_some_and(|k| k[3] == 2) {
        return Err(MoonGridError::new(path, "its samples stand at points, not for areas", GIVE));
    }
    let axis_m = key(2057).and_then(|k| doubles.as_deref().unwrap_or(&[]).get(usize::from(k[3])).copied());
    if let Some(axis_m) = axis_m {
        return if (axis_m - DATUM_KM * 1000.0).abs() < 1000.0 {
            Ok(())
        } else {
            Err(MoonGridError::new(path, format!("its body has a semi-major axis of {axis_m} m"), NEED))
        };
    }
    if let Some(epsg) = key(2048).map(|k| k[3]).filter(|&e| e != 32767) {
        return Err(MoonGridError::new(path, format!("is in the Earth's geographic system EPSG:{epsg}"), NEED));
    }
    match text {
        Some(text) if text.to_ascii_lowercase().contains("moon") => Ok(()),
        _ => Err(MoonGridError::new(path, "does not say of which body it is", NEED)),
    }
}
