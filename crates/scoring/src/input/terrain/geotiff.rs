//! Elevation GeoTIFFs in geographic coordinates.
//!
//! # Source
//! OGC 19-008 GeoTIFF 1.1: tags ModelPixelScale, ModelTiepoint, ModelTransformation, GeoKeyDirectory; keys 1024 (model type),
//! 1025 (pixel is area or point), 2048 (geodetic system), 3072 (projected system), 4099 (vertical unit). The no-data value stands
//! in GDAL's tag 42113.

use std::fs::File;
use std::io::{BufReader, Read, Seek};
use std::path::Path;
use std::sync::{Mutex, PoisonError};

use tiff::ColorType;
use tiff::decoder::{ChunkType, Decoder, DecodingResult, Limits};
use tiff::tags::Tag;

use super::raster::RasterShape;
use crate::fault::Fault;

/// Bytes that one strip or tile may decode to.
const LARGEST_CHUNK: usize = 64 << 20;
/// Samples that a block aims at on a side.
const BLOCK: u32 = 1024;

/// Geodetic systems that differ from WGS 84 by metres at most: WGS 84 (2D, 3D), ETRS89, NAD83, GDA94, GDA2020, NZGD2000.
const LIKE_WGS84: [u16; 7] = [4326, 4979, 4258, 4269, 4283, 7844, 4167];
/// "User-defined" in a GeoKey: nothing is known, so WGS 84 is taken on trust when degrees are used.
const USER_DEFINED: u16 = 32767;

/// An elevation GeoTIFF, its directory read, its samples still on disk.
pub struct GeoTiff {
    shape: RasterShape,
    chunk: (u32, u32),
    tiled: bool,
    no_data: Option<f64>,
    decoder: Mutex<Decoder<BufReader<File>>>,
}

impl std::fmt::Debug for GeoTiff {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("GeoTiff").field("shape", &self.shape).field("chunk", &self.chunk).finish_non_exhaustive()
    }
}

impl GeoTiff {
    /// Opens an elevation GeoTIFF.
    ///
    /// # Errors
    /// A fault when it is no GeoTIFF, in a projected or foreign system (and which is needed), of several bands, rotated,
    /// truncated, with heights in feet, or stored in pieces too large to read one by one.
    pub fn open(path: &Path) -> Result<GeoTiff, Box<Fault>> {
        let name = path.display().to_string();
        let file = File::open(path).map_err(|e| {
            Box::new(Fault::of_file(&name, format!("cannot be opened ({e})"), "give a file that can be read"))
        })?;
        let bytes = file.metadata().map_or(u64::MAX, |m| m.len());
        GeoTiff::from_file(file, bytes).map_err(|(wrong, right)| Box::new(Fault::of_file(&name, wrong, right)))
    }

    fn from_file(file: File, bytes: u64) -> Result<GeoTiff, (String, String)> {
        const GIVE: &str =
            "give an elevation GeoTIFF in EPSG:4326 (WGS 84 latitude and longitude), one band of heights in metres";
        let unreadable = |e: tiff::TiffError| (format!("is not a readable TIFF ({e})"), GIVE.to_owned());
        let mut limits = Limits::default();
        limits.decoding_buffer_size = LARGEST_CHUNK;
        limits.intermediate_buffer_size = LARGEST_CHUNK;
        limits.ifd_value_size = 16 << 20;
        let mut decoder = Decoder::new(BufReader::new(file)).map_err(unreadable)?.with_limits(limits);
        let (columns, rows) = decoder.dimensions().map_err(unreadable)?;
        match decoder.colortype().map_err(unreadable)? {
            ColorType::Gray(_) => {}
            other => return Err((format!("its samples are {other:?}, not one height each"), GIVE.to_owned())),
        }
        let pixel_is_point = system(&mut decoder)?;
        let shape = shape(&mut decoder, columns, rows, pixel_is_point).ok_or_else(|| {
            let right = "give a north-up GeoTIFF with pixel scale and tie point (rotated or skewed grids are not read)";
            ("has no usable georeference".to_owned(), right.to_owned())
        })?;
        if let Some(wrong) = shape.fault() {
            return Err((wrong, GIVE.to_owned()));
        }
        let chunk = decoder.chunk_dimensions();
        if chunk.0 == 0 || chunk.1 == 0 || u64::from(chunk.0) * u64::from(chunk.1) * 4 > LARGEST_CHUNK as u64 {
            let wrong = format!("it is stored in pieces of {} × {} samples", chunk.0, chunk.1);
            return Err((wrong, "store it in tiles, of 512 × 512 for instance".to_owned()));
        }
        let tiled = decoder.get_chunk_type() == ChunkType::Tile;
        complete(&mut decoder, tiled, bytes)?;
        let no_data = decoder.find_tag(Tag::GdalNodata).ok().flatten().and_then(|v| v.into_string().ok());
        let no_data = no_data.and_then(|t| t.trim_matches(|c: char| c.is_whitespace() || c == '\0').parse().ok());
        Ok(GeoTiff { shape, chunk, tiled, no_data, decoder: Mutex::new(decoder) })
    }

    /// Where the samples lie.
    pub fn shape(&self) -> &RasterShape {
        &self.shape
    }

    /// The size of blocks that the file is best read in.
    pub fn block_size(&self) -> (u32, u32) {
        let (width, height) = self.chunk;
        if self.tiled {
            let times = |side: u32| side.saturating_mul((BLOCK / side).max(1));
            (times(width), times(height))
        } else {
            let most = (BLOCK * BLOCK / self.shape.columns.max(1)).max(1);
            (self.shape.columns, height.saturating_mul((most / height).max(1)))
        }
    }

    /// Heights of a rectangle of samples, m, NaN where there is no data.
    ///
    /// # Errors
    /// The reason in words when a piece of the file cannot be decoded.
    pub fn read(&self, column: u32, row: u32, columns: u32, rows: u32) -> Result<Vec<f32>, String> {
        let mut decoder = self.decoder.lock().unwrap_or_else(PoisonError::into_inner);
        let (width, height) = self.chunk;
        let across = self.shape.columns.div_ceil(width);
        let mut samples = vec![f32::NAN; columns as usize * rows as usize];
        for chunk_row in row / height..=(row + rows - 1) / height {
            for chunk_column in column / width..=(column + columns - 1) / width {
                let index = chunk_row * across + chunk_column;
                let (data_width, data_height) = decoder.chunk_data_dimensions(index);
                let heights = decoder.read_chunk(index).map_err(|e| e.to_string())?;
                let heights = self.heights(heights)?;
                if heights.len() < data_width as usize * data_height as usize {
                    return Err(format!("piece {index} is short"));
                }
                let (left, top) = (chunk_column * width, chunk_row * height);
                for r in row.max(top)..(row + rows).min(top + data_height) {
                    let (from, to) = (column.max(left), (column + columns).min(left + data_width));
                    if from >= to {
                        continue;
                    }
                    let source = (r - top) as usize * data_width as usize + (from - left) as usize;
                    let target = (r - row) as usize * columns as usize + (from - column) as usize;
                    let length = (to - from) as usize;
                    samples[target..target + length].copy_from_slice(&heights[source..source + length]);
                }
            }
        }
        Ok(samples)
    }

    fn heights(&self, decoded: DecodingResult) -> Result<Vec<f32>, String> {
        fn all<T: Copy>(values: Vec<T>, height: impl Fn(T) -> f32) -> Vec<f32> {
            values.into_iter().map(height).collect()
        }
        let no_data = self.no_data;
        // −32768 marks a void in SRTM-born files that forget to say so; nothing on Earth stands outside −12 to 9 km.
        let height = move |h: f64| {
            if no_data == Some(h) || !(-12_000.0..=9_000.0).contains(&h) { f32::NAN } else { h as f32 }
        };
        Ok(match decoded {
            DecodingResult::U8(v) => all(v, |h| height(f64::from(h))),
            DecodingResult::U16(v) => all(v, |h| height(f64::from(h))),
            DecodingResult::U32(v) => all(v, |h| height(f64::from(h))),
            DecodingResult::I8(v) => all(v, |h| height(f64::from(h))),
            DecodingResult::I16(v) => all(v, |h| height(f64::from(h))),
            DecodingResult::I32(v) => all(v, |h| height(f64::from(h))),
            DecodingResult::F32(v) => all(v, |h| {
                // A no-data value written in decimal is compared as the file stores it.
                if no_data.is_some_and(|n| n as f32 == h) { f32::NAN } else { height(f64::from(h)) }
            }),
            DecodingResult::F64(v) => all(v, height),
            _ => return Err("its samples are of a kind that heights are not kept in".to_owned()),
        })
    }
}

/// Checks the coordinate system; true when samples stand at points, false when they fill areas.
pub(crate) fn system<R: Read + Seek>(decoder: &mut Decoder<R>) -> Result<bool, (String, String)> {
    const NEED: &str =
        "reproject it to EPSG:4326, WGS 84 latitude and longitude in degrees (gdalwarp -t_srs EPSG:4326 does it)";
    let directory = decoder.find_tag_unsigned_vec::<u16>(Tag::GeoKeyDirectoryTag).ok().flatten();
    let Some(directory) = directory.filter(|d| d.len() >= 4) else {
        return Err(("says nothing of its coordinate system (no GeoTIFF keys)".to_owned(), NEED.to_owned()));
    };
    let key =
        |wanted: u16| directory[4..].chunks_exact(4).find(|k| k[0] == wanted && k[1] == 0 && k[2] == 1).map(|k| k[3]);
    match key(1024) {
        Some(2) => {}
        Some(1) => {
            let which = key(3072).filter(|&e| e != USER_DEFINED).map(|e| format!(" (EPSG:{e})")).unwrap_or_default();
            return Err((format!("is in a projected coordinate system{which}"), NEED.to_owned()));
        }
        other => {
            let which = other.map_or("no model type".to_owned(), |m| format!("model type {m}"));
            return Err((format!("is not in a geographic coordinate system ({which})"), NEED.to_owned()));
        }
    }
    if let Some(epsg) = key(2048).filter(|e| *e != USER_DEFINED && !LIKE_WGS84.contains(e)) {
        return Err((format!("is in the geographic system EPSG:{epsg}, which is not WGS 84"), NEED.to_owned()));
    }
    if let Some(unit) = key(2054).filter(|&u| u != 9102 && u != USER_DEFINED) {
        return Err((format!("its angular unit is EPSG:{unit}, not the degree (EPSG:9102)"), NEED.to_owned()));
    }
    if let Some(unit) = key(4099).filter(|&u| u != 9001 && u != USER_DEFINED) {
        let right = "convert the heights to metres".to_owned();
        return Err((format!("its vertical unit is EPSG:{unit}, not the metre (EPSG:9001)"), right));
    }
    Ok(key(1025) == Some(2))
}

pub(crate) fn shape<R: Read + Seek>(
    decoder: &mut Decoder<R>,
    columns: u32,
    rows: u32,
    pixel_is_point: bool,
) -> Option<RasterShape> {
    let mut numbers = |tag: Tag| decoder.find_tag(tag).ok().flatten().and_then(|v| v.into_f64_vec().ok());
    let (corner_lon, corner_lat, lon_step_deg, lat_step_deg) =
        if let (Some(scale), Some(tie)) = (numbers(Tag::ModelPixelScaleTag), numbers(Tag::ModelTiepointTag)) {
            let (&[i, j, _, x, y, _], &[sx, sy, ..]) = (tie.get(..6)?, scale.as_slice()) else { return None };
            (x - i * sx, y + j * sy, sx, sy)
        } else {
            let m = numbers(Tag::ModelTransformationTag).filter(|m| m.len() == 16)?;
            // North up: no turn between rows and longitude or columns and latitude.
            if m[1] != 0.0 || m[4] != 0.0 {
                return None;
            }
            (m[3], m[7], m[0], -m[5])
        };
    let half = if pixel_is_point { 0.0 } else { 0.5 };
    Some(RasterShape {
        west_deg: corner_lon + half * lon_step_deg,
        north_deg: corner_lat - half * lat_step_deg,
        lon_step_deg,
        lat_step_deg,
        columns,
        rows,
    })
}

/// Every strip or tile must lie inside the file.
fn complete<R: Read + Seek>(decoder: &mut Decoder<R>, tiled: bool, bytes: u64) -> Result<(), (String, String)> {
    let (offsets, counts) =
        if tiled { (Tag::TileOffsets, Tag::TileByteCounts) } else { (Tag::StripOffsets, Tag::StripByteCounts) };
    let mut list = |tag: Tag| decoder.find_tag_unsigned_vec::<u64>(tag).ok().flatten();
    let (Some(offsets), Some(counts)) = (list(offsets), list(counts)) else {
        return Err(("has no list of its pieces".to_owned(), "fetch the file again".to_owned()));
    };
    let ends = offsets.iter().zip(&counts).map(|(o, c)| o.saturating_add(*c));
    match ends.max() {
        Some(end) if end <= bytes => Ok(()),
        Some(end) => Err((
            format!("is truncated: it has {bytes} bytes, its samples end at {end}"),
            "fetch the file again".to_owned(),
        )),
        None => Err(("holds no samples".to_owned(), "fetch the file again".to_owned())),
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use tiff::encoder::colortype::{Gray16, Gray32Float, GrayI16, RGB8};
    use tiff::encoder::{Compression, DeflateLevel, TiffEncoder};

    /// Writes a small GeoTIFF of a plane, 10 × row + column, with the given keys.
    fn write(path: &Path, keys: &[u16], compression: Compression, rows_per_strip: u32) {
        let mut encoder = TiffEncoder::new(File::create(path).unwrap()).unwrap().with_compression(compression);
        let mut image = encoder.new_image::<Gray32Float>(30, 20).unwrap();
        image.rows_per_strip(rows_per_strip).unwrap();
        let samples: Vec<f32> = (0..600_u16).map(|i| f32::from(i / 30) * 10.0 + f32::from(i % 30)).collect();
        image.encoder().write_tag(Tag::ModelPixelScaleTag, &[0.1, 0.2, 0.0][..]).unwrap();
        image.encoder().write_tag(Tag::ModelTiepointTag, &[0.0, 0.0, 0.0, 170.0, -40.0, 0.0][..]).unwrap();
        image.encoder().write_tag(Tag::GeoKeyDirectoryTag, keys).unwrap();
        image.encoder().write_tag(Tag::GdalNodata, "131").unwrap();
        image.write_data(&samples).unwrap();
    }

    const AREA: [u16; 16] = [1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 1, 2048, 0, 1, 4326];

    fn with(key: u16, value: u16) -> Vec<u16> {
        let mut keys: Vec<u16> = AREA.to_vec();
        match keys[4..].chunks_exact(4).position(|k| k[0] == key) {
            Some(i) => keys[4 + i * 4 + 3] = value,
            None => keys.extend([key, 0, 1, value]),
        }
        keys
    }

    #[test]
    fn float_strips_with_and_without_deflate_read_back_where_they_lie() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.tif");
        for compression in [Compression::Uncompressed, Compression::Deflate(DeflateLevel::Balanced), Compression::Lzw] {
            write(&path, &AREA, compression, 7);
            let file = GeoTiff::open(&path).unwrap();
            // Pixel is area: the first sample lies half a step inside the corner.
            assert!((file.shape().west_deg - 170.05).abs() < 1e-9 && (file.shape().north_deg + 40.1).abs() < 1e-9);
            let part = file.read(5, 6, 3, 9).unwrap();
            assert_eq!(part[..3], [65.0, 66.0, 67.0]);
            assert_eq!(part[24..], [145.0, 146.0, 147.0]);
            // The no-data value 131 stands at row 13, column 1.
            assert!(file.read(0, 13, 3, 1).unwrap()[1].is_nan());
        }
        write(&path, &with(1025, 2), Compression::Uncompressed, 7);
        assert!((GeoTiff::open(&path).unwrap().shape().west_deg - 170.0).abs() < 1e-9);
    }

    #[test]
    fn integers_are_read_and_their_void_is_no_height() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.tif");
        let mut encoder = TiffEncoder::new(File::create(&path).unwrap()).unwrap();
        let mut image = encoder.new_image::<GrayI16>(2, 2).unwrap();
        image.encoder().write_tag(Tag::ModelPixelScaleTag, &[0.1, 0.1, 0.0][..]).unwrap();
        image.encoder().write_tag(Tag::ModelTiepointTag, &[0.0, 0.0, 0.0, 0.0, 0.0, 0.0][..]).unwrap();
        image.encoder().write_tag(Tag::GeoKeyDirectoryTag, &AREA[..]).unwrap();
        image.write_data(&[-5, i16::MIN, 7, 8]).unwrap();
        let samples = GeoTiff::open(&path).unwrap().read(0, 0, 2, 2).unwrap();
        assert!(samples[0] == -5.0 && samples[1].is_nan() && samples[3] == 8.0);
    }

    #[test]
    fn foreign_systems_are_refused_saying_which_is_needed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.tif");
        let mut projected = with(1024, 1);
        projected.extend([3072, 0, 1, 28355]);
        for (keys, says) in [
            (projected, "is in a projected coordinate system (EPSG:28355); reproject it to EPSG:4326"),
            (with(1024, 3), "is not in a geographic coordinate system (model type 3)"),
            (with(2048, 4277), "EPSG:4277, which is not WGS 84"),
            (with(2054, 9105), "angular unit is EPSG:9105"),
            (with(4099, 9002), "vertical unit is EPSG:9002, not the metre"),
            (vec![1, 1], "says nothing of its coordinate system"),
        ] {
            write(&path, &keys, Compression::Uncompressed, 7);
            let text = GeoTiff::open(&path).unwrap_err().to_string();
            assert!(text.contains(says), "{text}");
        }
    }

    #[test]
    fn truncated_coloured_and_unreferenced_files_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.tif");
        write(&path, &AREA, Compression::Uncompressed, 7);
        let whole = std::fs::read(&path).unwrap();
        let refused = |bytes: &[u8]| {
            std::fs::write(&path, bytes).unwrap();
            GeoTiff::open(&path).unwrap_err().to_string()
        };
        assert!(refused(&whole[..40]).contains("not a readable TIFF"));
        assert!(refused(b"").contains("not a readable TIFF"));
        // The writer puts the directory last: bring it forward by cutting out samples, and their end is missing.
        let mut encoder = TiffEncoder::new(File::create(&path).unwrap()).unwrap();
        let image = encoder.new_image::<RGB8>(2, 2).unwrap();
        image.write_data(&[0; 12]).unwrap();
        drop(encoder);
        assert!(GeoTiff::open(&path).unwrap_err().to_string().contains("not one height each"));
        let mut encoder = TiffEncoder::new(File::create(&path).unwrap()).unwrap();
        let mut image = encoder.new_image::<Gray16>(2, 2).unwrap();
        image.encoder().write_tag(Tag::GeoKeyDirectoryTag, &AREA[..]).unwrap();
        image.write_data(&[0; 4]).unwrap();
        drop(encoder);
        assert!(GeoTiff::open(&path).unwrap_err().to_string().contains("no usable georeference"));
    }
}
