//! Elevation GeoTIFFs, as surveys and agencies hand them out.
//!
//! In latitude and longitude of WGS 84, north up, samples are read as they lie. Any other system that the keys describe, and a turned
//! or mirrored grid, is laid out anew in latitude and longitude at the file's own resolution, block by block as it is asked for
//! (`super::warp`).
//!
//! # Source
//! OGC 19-008 GeoTIFF 1.1: tags ModelPixelScale, ModelTiepoint, ModelTransformation, GeoKeyDirectory; keys 1024 (model type),
//! 1025 (pixel is area or point). No-data value, scale, offset and unit stand in GDAL's tags 42113 and 42112.

use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use tiff::decoder::{ChunkType, Decoder, Limits};
use tiff::tags::Tag;

use super::chunk::{self, Layout, Packing, Sample};
use super::crs::{self, Keys, System, Vertical};
use super::piece_cache::{self, Piece, PieceCache};
use super::raster::RasterShape;
use super::warp::{Affine, Warp};
use crate::fault::Fault;

/// Bytes that one strip or tile may decode to.
const LARGEST_CHUNK: usize = 64 << 20;
/// Samples that a block aims at on a side.
const BLOCK: u32 = 1024;
/// Nothing on Earth stands outside, m. −32768 marks a void in SRTM-born files that forget to say so.
const HEIGHTS_M: std::ops::RangeInclusive<f64> = -12_000.0..=9_000.0;

/// An elevation GeoTIFF, its directory read, its samples still on disk.
pub struct GeoTiff {
    shape: RasterShape,
    warp: Option<Warp>,
    vertical: Vertical,
    feet_across: bool,
    samples: Samples,
}

/// The samples of a file as they are stored.
pub(crate) struct Samples {
    pub(crate) columns: u32,
    pub(crate) rows: u32,
    layout: Layout,
    /// Size of a strip or tile.
    chunk: (u32, u32),
    tiled: bool,
    offsets: Vec<u64>,
    counts: Vec<u64>,
    no_data: Option<f64>,
    /// Metres of a stored unit, and metres to add.
    scale: (f64, f64),
    file: Mutex<File>,
    /// Pieces unpacked lately, and the file's number among them.
    kept: Option<(Arc<PieceCache>, u32)>,
}

impl std::fmt::Debug for GeoTiff {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("GeoTiff")
            .field("shape", &self.shape)
            .field("chunk", &self.samples.chunk)
            .finish_non_exhaustive()
    }
}

type Refusal = (String, String);

impl GeoTiff {
    /// Opens an elevation GeoTIFF.
    ///
    /// # Errors
    /// A fault when it is no GeoTIFF, in a system that is not known (and which), of several bands, packed in a way that is not read,
    /// truncated, or stored in pieces too large to read one by one.
    pub fn open(path: &Path) -> Result<GeoTiff, Box<Fault>> {
        let name = path.display().to_string();
        let file = File::open(path).map_err(|e| {
            Box::new(Fault::of_file(&name, format!("cannot be opened ({e})"), "give a file that can be read"))
        })?;
        GeoTiff::from_file(file).map_err(|(wrong, right)| Box::new(Fault::of_file(&name, wrong, right)))
    }

    /// A GeoTIFF taken out of an archive, by the name to tell it by.
    pub(crate) fn unpacked(file: File, name: &str) -> Result<GeoTiff, Box<Fault>> {
        GeoTiff::from_file(file).map_err(|(wrong, right)| Box::new(Fault::of_file(name, wrong, right)))
    }

    fn from_file(file: File) -> Result<GeoTiff, Refusal> {
        const GIVE: &str = "give an elevation GeoTIFF: one band of heights, with its coordinate system";
        let unreadable = |e: tiff::TiffError| (format!("is not a readable TIFF ({e})"), GIVE.to_owned());
        let bytes = file.metadata().map_or(u64::MAX, |m| m.len());
        let again = file.try_clone().map_err(|e| (format!("cannot be read ({e})"), GIVE.to_owned()))?;
        let mut limits = Limits::default();
        limits.decoding_buffer_size = LARGEST_CHUNK;
        limits.intermediate_buffer_size = LARGEST_CHUNK;
        limits.ifd_value_size = 16 << 20;
        let mut decoder = Decoder::new(BufReader::new(file)).map_err(unreadable)?.with_limits(limits);
        let (columns, rows) = decoder.dimensions().map_err(unreadable)?;
        let word = |d: &mut Decoder<BufReader<File>>, tag: Tag, otherwise: u16| {
            d.find_tag_unsigned_vec::<u16>(tag).ok().flatten().and_then(|v| v.first().copied()).unwrap_or(otherwise)
        };
        let bands = word(&mut decoder, Tag::SamplesPerPixel, 1);
        if bands != 1 {
            return Err((format!("has {bands} bands, not one height each"), GIVE.to_owned()));
        }
        let (format, bits) = (word(&mut decoder, Tag::SampleFormat, 1), word(&mut decoder, Tag::BitsPerSample, 1));
        let sample = Sample::of(format, bits).ok_or_else(|| {
            (
                format!("its samples are of {bits} bits and format {format}, which heights are not kept in"),
                GIVE.to_owned(),
            )
        })?;
        let packing = Packing::of(word(&mut decoder, Tag::Compression, 1)).map_err(|which| {
            let right = "store it with deflate, LZW or ZSTD (gdal_translate -co COMPRESS=DEFLATE does it)";
            (format!("is packed with {which}, which is not read"), right.to_owned())
        })?;
        let predictor = word(&mut decoder, Tag::Predictor, 1);
        if !(1..=3).contains(&predictor) || (predictor == 3 && !matches!(sample, Sample::Float(_))) {
            return Err((format!("has predictor {predictor}, which does not fit its samples"), GIVE.to_owned()));
        }
        let chunk = decoder.chunk_dimensions();
        let size = u64::from(chunk.0) * u64::from(chunk.1) * 8;
        if chunk.0 == 0 || chunk.1 == 0 || size > 2 * LARGEST_CHUNK as u64 {
            let wrong = format!("it is stored in pieces of {} × {} samples", chunk.0, chunk.1);
            return Err((wrong, "store it in tiles, of 512 × 512 for instance".to_owned()));
        }
        let tiled = decoder.get_chunk_type() == ChunkType::Tile;
        let (offsets, counts) = pieces(&mut decoder, tiled, bytes)?;
        let wanted = u64::from(columns.div_ceil(chunk.0)) * u64::from(rows.div_ceil(chunk.1));
        if (offsets.len() as u64) < wanted || counts.len() < offsets.len() {
            let wrong = format!("lists {} of its {wanted} pieces", offsets.len().min(counts.len()));
            return Err((wrong, "fetch the file again".to_owned()));
        }
        let text = |d: &mut Decoder<BufReader<File>>, tag: Tag| {
            d.find_tag(tag).ok().flatten().and_then(|v| v.into_string().ok()).map(|t| t.trim_matches('\0').to_owned())
        };
        let keys = keys(&mut decoder).ok_or_else(|| {
            let right = "give the file that holds them, or put them in (gdal_translate -a_srs does it)";
            ("says nothing of its coordinate system (no GeoTIFF keys)".to_owned(), right.to_owned())
        })?;
        let metadata = text(&mut decoder, Tag::Unknown(42112)).unwrap_or_default();
        let [unit, scale, offset] = ["unittype", "scale", "offset"].map(|role| of_role(&metadata, role));
        let vertical = crs::vertical(&keys, unit.as_deref())
            .map_err(|wrong| (wrong, "convert the heights to metres".to_owned()))?;
        let number = |t: Option<String>, otherwise: f64| t.and_then(|t| t.trim().parse().ok()).unwrap_or(otherwise);
        let (scale, offset) = (number(scale, 1.0) * vertical.unit_m, number(offset, 0.0) * vertical.unit_m);
        let no_data = text(&mut decoder, Tag::GdalNodata).and_then(|t| t.trim().parse().ok());
        let affine = Affine::of(&mut decoder, keys.code(1025) == Some(2)).ok_or_else(|| {
            let right = "give a GeoTIFF with pixel scale and tie point, or a transformation";
            ("has no usable georeference".to_owned(), right.to_owned())
        })?;
        let system = crs::system(&keys)?;
        let big_endian = decoder.byte_order() == tiff::tags::ByteOrder::BigEndian;
        let layout = Layout { packing, sample, predictor, big_endian, width: chunk.0 as usize };
        let samples = Samples {
            columns,
            rows,
            layout,
            chunk,
            tiled,
            offsets,
            counts,
            no_data,
            scale: (scale, offset),
            file: Mutex::new(again),
            kept: None,
        };
        let feet_across = matches!(&system, System::Other(c) if (c.unit_m - 0.3048).abs() < 1e-3);
        let (shape, warp) = match (&system, affine.north_up()) {
            (System::LikeWgs84, Some((x, y, dx, dy))) => {
                let shape =
                    RasterShape { west_deg: x, north_deg: y, lon_step_deg: dx, lat_step_deg: dy, columns, rows };
                if let Some(wrong) = shape.fault() {
                    let turned = RasterShape { west_deg: y, north_deg: x, columns: rows, rows: columns, ..shape };
                    let right = if turned.fault().is_none() && columns > 1 && rows > 1 {
                        "its latitude and longitude may have changed places: x must be the longitude"
                    } else {
                        GIVE
                    };
                    return Err((wrong, right.to_owned()));
                }
                (shape, None)
            }
            _ => {
                let (shape, warp) = Warp::new(system, affine, columns, rows)?;
                (shape, Some(warp))
            }
        };
        Ok(GeoTiff { shape, warp, vertical, feet_across, samples })
    }

    /// Keeps unpacked pieces among those of other files, under a number of its own.
    pub(crate) fn keep_pieces(&mut self, cache: &Arc<PieceCache>, number: u32) {
        self.samples.kept = Some((Arc::clone(cache), number));
    }

    /// Where the samples lie; where the file is laid out anew, where its new samples do.
    pub fn shape(&self) -> &RasterShape {
        &self.shape
    }

    /// What its heights count from.
    pub fn vertical_datum(&self) -> &crs::VerticalDatum {
        &self.vertical.datum
    }

    /// Metres of the unit of its heights; `None` where the file does not say it and metres are taken.
    pub fn vertical_unit_m(&self) -> Option<f64> {
        self.vertical.unit_said.then_some(self.vertical.unit_m)
    }

    /// Whether its horizontal coordinates are in feet.
    pub fn feet_across(&self) -> bool {
        self.feet_across
    }

    /// The size of blocks that the file is best read in.
    pub fn block_size(&self) -> (u32, u32) {
        let ((width, height), columns) = (self.samples.chunk, self.shape.columns);
        match (&self.warp, self.samples.tiled) {
            (None, true) => {
                let times = |side: u32| side.saturating_mul((BLOCK / side).max(1));
                (times(width), times(height))
            }
            (None, false) => {
                let most = (BLOCK * BLOCK / columns.max(1)).max(1);
                (columns, height.saturating_mul((most / height).max(1)))
            }
            (Some(_), true) => (BLOCK / 2, BLOCK / 2),
            (Some(_), false) => (BLOCK * 4, BLOCK / 4),
        }
    }

    /// Heights of a rectangle of samples, m, NaN where there is no data.
    ///
    /// # Errors
    /// The reason in words when a piece of the file cannot be decoded.
    pub fn read(&self, column: u32, row: u32, columns: u32, rows: u32) -> Result<Vec<f32>, String> {
        match &self.warp {
            Some(warp) => warp.read(&self.samples, &self.shape, (column, row), (columns, rows)),
            None => self.samples.read(column, row, columns, rows),
        }
    }
}

impl Samples {
    /// Heights of a rectangle of stored samples, m, NaN where there is no data.
    pub(crate) fn read(&self, column: u32, row: u32, columns: u32, rows: u32) -> Result<Vec<f32>, String> {
        let (width, height) = self.chunk;
        let across = self.columns.div_ceil(width);
        let mut samples = vec![f32::NAN; columns as usize * rows as usize];
        for chunk_row in row / height..=(row + rows - 1) / height {
            for chunk_column in column / width..=(column + columns - 1) / width {
                let index = (chunk_row as usize) * across as usize + chunk_column as usize;
                let (left, top) = (chunk_column * width, chunk_row * height);
                let stored = if self.tiled { height } else { height.min(self.rows - top) };
                let Some(heights) = self.piece(index, stored as usize)? else { continue };
                let (from, to) = (column.max(left), (column + columns).min(left + width).min(self.columns));
                if from >= to {
                    continue;
                }
                for r in row.max(top)..(row + rows).min(top + height).min(self.rows) {
                    let source = (r - top) as usize * width as usize + (from - left) as usize;
                    let target = (r - row) as usize * columns as usize + (from - column) as usize;
                    let length = (to - from) as usize;
                    samples[target..target + length].copy_from_slice(&heights[source..source + length]);
                }
            }
        }
        Ok(samples)
    }

    /// A strip or tile, kept or unpacked now.
    fn piece(&self, index: usize, rows: usize) -> Result<Piece, String> {
        let unpacked = || Ok(self.unpacked(index, rows)?.map(Arc::new));
        match &self.kept {
            Some((cache, number)) => cache.get((*number, index), piece_cache::bytes, unpacked),
            None => unpacked(),
        }
    }

    /// A strip or tile; `None` where the file leaves it out.
    fn unpacked(&self, index: usize, rows: usize) -> Result<Option<Vec<f32>>, String> {
        let (offset, count) = (self.offsets[index], self.counts[index]);
        if offset == 0 && count == 0 {
            return Ok(None);
        }
        let most = (self.layout.width * rows * self.layout.sample.bytes()) as u64;
        if count > most.saturating_mul(2) + 4096 {
            return Err(format!("piece {index} claims {count} bytes for {most}"));
        }
        let mut packed = vec![0; count as usize];
        {
            let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
            file.seek(SeekFrom::Start(offset)).and_then(|_| file.read_exact(&mut packed)).map_err(|e| e.to_string())?;
        }
        let single = self.layout.sample == Sample::Float(4);
        let height = |stored: f64| {
            // A no-data value written in decimal is compared as the file stores it.
            let none = self.no_data.is_some_and(|n| n == stored || (single && f64::from(n as f32) == stored));
            let height = stored * self.scale.0 + self.scale.1;
            if none || stored == -32768.0 || !HEIGHTS_M.contains(&height) { f32::NAN } else { height as f32 }
        };
        chunk::decode(&self.layout, &packed, rows, height).map(Some).map_err(|e| format!("piece {index}: {e}"))
    }
}

/// The keys of the coordinate system.
fn keys<R: Read + Seek>(decoder: &mut Decoder<R>) -> Option<Keys> {
    let directory = decoder.find_tag_unsigned_vec::<u16>(Tag::GeoKeyDirectoryTag).ok().flatten()?;
    let doubles = decoder.find_tag(Tag::GeoDoubleParamsTag).ok().flatten().and_then(|v| v.into_f64_vec().ok());
    let ascii = decoder.find_tag(Tag::GeoAsciiParamsTag).ok().flatten().and_then(|v| v.into_string().ok());
    Keys::new(directory, doubles.unwrap_or_default(), ascii.unwrap_or_default())
}

/// An item of GDAL's metadata of the first band by its role.
fn of_role(metadata: &str, role: &str) -> Option<String> {
    let document = roxmltree::Document::parse(metadata).ok()?;
    let item = document
        .descendants()
        .find(|n| n.attribute("role") == Some(role) && n.attribute("sample").is_none_or(|s| s == "0"))?;
    item.text().map(str::to_owned)
}

/// Offsets and sizes of strips or tiles, each inside the file.
fn pieces<R: Read + Seek>(decoder: &mut Decoder<R>, tiled: bool, bytes: u64) -> Result<(Vec<u64>, Vec<u64>), Refusal> {
    let (offsets, counts) =
        if tiled { (Tag::TileOffsets, Tag::TileByteCounts) } else { (Tag::StripOffsets, Tag::StripByteCounts) };
    let mut list = |tag: Tag| decoder.find_tag_unsigned_vec::<u64>(tag).ok().flatten();
    let again = || "fetch the file again".to_owned();
    let (Some(offsets), Some(counts)) = (list(offsets), list(counts)) else {
        return Err(("has no list of its pieces".to_owned(), again()));
    };
    match offsets.iter().zip(&counts).map(|(o, c)| o.saturating_add(*c)).max() {
        Some(end) if end <= bytes => Ok((offsets, counts)),
        Some(end) => Err((format!("is truncated: it has {bytes} bytes, its samples end at {end}"), again())),
        None => Err(("holds no samples".to_owned(), again())),
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
    fn unknown_systems_are_refused_saying_which_is_needed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.tif");
        let mut projected = with(1024, 1);
        projected.extend([3072, 0, 1, 1]);
        for (keys, says) in [
            (projected, "is in EPSG:1, a projected system that is not known"),
            (with(1024, 1), "is in a projected system that its keys do not describe; reproject it to"),
            (with(1024, 3), "is neither in a geographic nor in a projected coordinate system (model type 3)"),
            (with(2048, 4000), "EPSG:4000, for which no way to WGS 84 is known"),
            (with(2054, 9109), "angular unit is EPSG:9109"),
            (with(4099, 9999), "vertical unit is EPSG:9999; convert the heights to metres"),
            (vec![1, 1], "says nothing of its coordinate system"),
        ] {
            write(&path, &keys, Compression::Uncompressed, 7);
            let text = GeoTiff::open(&path).unwrap_err().to_string();
            assert!(text.contains(says), "{text}");
        }
    }

    #[test]
    fn feet_by_the_keys_become_metres() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.tif");
        write(&path, &with(4099, 9002), Compression::Uncompressed, 7);
        let file = GeoTiff::open(&path).unwrap();
        assert!((file.read(5, 6, 1, 1).unwrap()[0] - 65.0 * 0.3048).abs() < 1e-5);
        assert_eq!((file.vertical_unit_m(), file.vertical_datum()), (Some(0.3048), &crs::VerticalDatum::Unsaid));
        write(&path, &with(4096, 5773), Compression::Uncompressed, 7);
        let file = GeoTiff::open(&path).unwrap();
        assert_eq!(file.vertical_datum(), &crs::VerticalDatum::SeaLevel(Some("EGM96".to_owned())));
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
        assert!(GeoTiff::open(&path).unwrap_err().to_string().contains("has 3 bands, not one height each"));
        let mut encoder = TiffEncoder::new(File::create(&path).unwrap()).unwrap();
        let mut image = encoder.new_image::<Gray16>(2, 2).unwrap();
        image.encoder().write_tag(Tag::GeoKeyDirectoryTag, &AREA[..]).unwrap();
        image.write_data(&[0; 4]).unwrap();
        drop(encoder);
        assert!(GeoTiff::open(&path).unwrap_err().to_string().contains("no usable georeference"));
    }
}
