//! All elevation files of a folder as one surface, read in blocks behind a bounded cache.

use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

use quick_cache::{OptionsBuilder, Weighter, sync::Cache};

use super::geotiff::GeoTiff;
use super::hgt::HgtTile;
use super::raster::{Block, RasterShape};
use crate::fault::{Fault, Faults};

/// Memory that blocks may take unless set otherwise, bytes.
pub const DEFAULT_CACHE_BYTES: u64 = 128 << 20;

/// Samples on a side of a block of an SRTM tile or of a raster in memory.
const BLOCK: u32 = 512;

/// The height of the ground at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Height {
    /// Metres, as the file gives them.
    Metres(f64),
    /// A file covers the place but has no height there.
    Void,
    /// No file covers the place.
    Missing,
}

/// Why the terrain cannot answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TerrainError {
    /// A file that opened well cannot be read.
    #[error("{file}: cannot be read ({why}); fetch the file again")]
    Unreadable {
        /// The file.
        file: String,
        /// The reason.
        why: String,
    },
    /// No file covers the place.
    #[error("no terrain file covers {place} (an SRTM tile would be {tile}.hgt)")]
    Missing {
        /// Coordinates.
        place: String,
        /// The name of the SRTM tile that would cover it.
        tile: String,
    },
    /// A file covers the place but has no height there.
    #[error("the terrain has a void at {place}")]
    Void {
        /// Coordinates.
        place: String,
    },
}

#[derive(Debug)]
enum Source {
    Hgt(HgtTile),
    Tiff(Box<GeoTiff>),
    Memory { shape: RasterShape, samples: Vec<f32> },
}

#[derive(Debug)]
struct Raster {
    name: String,
    source: Source,
}

impl Raster {
    fn shape(&self) -> &RasterShape {
        match &self.source {
            Source::Hgt(tile) => tile.shape(),
            Source::Tiff(tiff) => tiff.shape(),
            Source::Memory { shape, .. } => shape,
        }
    }

    fn block_size(&self) -> (u32, u32) {
        match &self.source {
            Source::Tiff(tiff) => tiff.block_size(),
            _ => (BLOCK, BLOCK),
        }
    }

    fn read(&self, column: u32, row: u32, columns: u32, rows: u32) -> Result<Vec<f32>, String> {
        match &self.source {
            Source::Hgt(tile) => tile.read(column, row, columns, rows),
            Source::Tiff(tiff) => tiff.read(column, row, columns, rows),
            Source::Memory { shape, samples } => {
                let line = |r: u32| {
                    let from = r as usize * shape.columns as usize + column as usize;
                    samples.get(from..from + columns as usize)
                };
                let lines: Option<Vec<&[f32]>> = (row..row + rows).map(line).collect();
                lines.map(|l| l.concat()).ok_or_else(|| "it is too short".to_owned())
            }
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Key {
    raster: u32,
    column: u32,
    row: u32,
}

#[derive(Clone, Debug)]
struct ByBytes;

impl Weighter<Key, Arc<Block>> for ByBytes {
    fn weight(&self, _: &Key, block: &Arc<Block>) -> u64 {
        block.bytes() as u64
    }
}

/// A surface made of elevation files. Where files overlap, the finer serves, then the first by name.
pub struct Terrain {
    rasters: Vec<Raster>,
    /// Rasters that touch a cell of one degree, by the floor of latitude and of longitude.
    by_degree: HashMap<(i32, i32), Vec<u32>>,
    cache: Cache<Key, Arc<Block>, ByBytes>,
    source: String,
    /// The finest step from sample to sample northward, degrees.
    finest_deg: f64,
}

impl std::fmt::Debug for Terrain {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Terrain").field("rasters", &self.rasters).finish_non_exhaustive()
    }
}

impl Terrain {
    /// Opens a folder of `.hgt`, `.tif` and `.tiff` files, or one such file. Only directories and sizes are read now.
    ///
    /// # Errors
    /// Every faulty file; a folder that holds none.
    pub fn open(path: &Path) -> Result<Terrain, Faults> {
        Terrain::open_with(path, DEFAULT_CACHE_BYTES)
    }

    /// As [`Terrain::open`], with the memory that blocks may take, in bytes.
    ///
    /// # Errors
    /// As [`Terrain::open`].
    pub fn open_with(path: &Path, cache_bytes: u64) -> Result<Terrain, Faults> {
        const GIVE: &str = "give a folder of SRTM .hgt tiles or GeoTIFFs";
        let name = path.display().to_string();
        let unreadable = |e: std::io::Error| Fault::of_file(&name, format!("cannot be read ({e})"), GIVE);
        let mut paths = Vec::new();
        if path.is_dir() {
            for entry in std::fs::read_dir(path).map_err(unreadable)? {
                paths.push(entry.map_err(unreadable)?.path());
            }
            paths.sort();
        } else {
            paths.push(path.to_owned());
        }
        let (mut rasters, mut faults) = (Vec::new(), Faults::default());
        for file in paths {
            match open_one(&file) {
                Ok(Some(raster)) => rasters.push(raster),
                Ok(None) => {}
                Err(fault) => faults.0.push(*fault),
            }
        }
        if rasters.is_empty() && faults.0.is_empty() {
            faults.0.push(Fault::of_file(&name, "holds no elevation file", GIVE));
        }
        let label = path.file_name().map_or(name.clone(), |n| n.to_string_lossy().into_owned());
        faults.or(Terrain::new(rasters, label, cache_bytes))
    }

    /// A surface from heights in memory, row by row from the north-west; NaN where there is none.
    ///
    /// # Errors
    /// What is wrong with the shape, or a number of samples that does not fit it.
    pub fn from_grid(name: &str, shape: RasterShape, samples: Vec<f32>) -> Result<Terrain, Faults> {
        let wrong = shape.fault().or_else(|| {
            let expected = shape.columns as usize * shape.rows as usize;
            (samples.len() != expected).then(|| format!("it has {} samples instead of {expected}", samples.len()))
        });
        if let Some(wrong) = wrong {
            return Err(Fault::of_file(name, wrong, "give columns × rows heights on a north-up grid").into());
        }
        let raster = Raster { name: name.to_owned(), source: Source::Memory { shape, samples } };
        Ok(Terrain::new(vec![raster], name.to_owned(), DEFAULT_CACHE_BYTES))
    }

    fn new(mut rasters: Vec<Raster>, label: String, cache_bytes: u64) -> Terrain {
        rasters.sort_by(|a, b| a.shape().lat_step_deg.total_cmp(&b.shape().lat_step_deg).then(a.name.cmp(&b.name)));
        let mut by_degree: HashMap<(i32, i32), Vec<u32>> = HashMap::new();
        for (i, raster) in rasters.iter().enumerate() {
            let s = raster.shape();
            let (half_lat, half_lon) = (s.lat_step_deg / 2.0, s.lon_step_deg / 2.0);
            let south = s.north_deg - f64::from(s.rows - 1) * s.lat_step_deg - half_lat;
            let east = s.west_deg + f64::from(s.columns - 1) * s.lon_step_deg + half_lon;
            let floor = |v: f64| v.floor() as i32;
            for lat in floor(south).max(-91)..=floor(s.north_deg + half_lat).min(90) {
                for lon in floor(s.west_deg - half_lon)..=floor(east) {
                    let cell = by_degree.entry((lat, (lon + 180).rem_euclid(360) - 180)).or_default();
                    if cell.last() != Some(&(i as u32)) {
                        cell.push(i as u32);
                    }
                }
            }
        }
        let finest_deg = rasters.iter().map(|r| r.shape().lat_step_deg).fold(1.0, f64::min);
        let source = match rasters.as_slice() {
            [one] => format!("terrain file {}", one.name),
            many => format!("{} terrain files of {label}", many.len()),
        };
        // One shard: the budget counts as a whole, whatever the number of threads.
        let mut options = OptionsBuilder::new();
        options.shards(1).estimated_items_capacity(256).weight_capacity(cache_bytes);
        let cache = match options.build() {
            Ok(options) => Cache::with_options(options, ByBytes, Default::default(), Default::default()),
            // Every option is set, so this is not reached; a cache of the same size without the single shard.
            Err(_) => Cache::with_weighter(256, cache_bytes, ByBytes),
        };
        Terrain { rasters, by_degree, cache, source, finest_deg }
    }

    /// What the surface is made of, for outputs.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// The finest step from sample to sample, degrees of latitude.
    pub fn finest_step_deg(&self) -> f64 {
        self.finest_deg
    }

    /// What all files together span: west, south, east and north, degrees; west lies nearest to a longitude and east may run past
    /// 180°. Half a sample beyond the outermost samples counts.
    pub fn span_deg(&self, near_lon_deg: f64) -> (f64, f64, f64, f64) {
        let mut span = (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
        for raster in &self.rasters {
            let (west, south, east, north) = raster.shape().span_deg(near_lon_deg);
            span = (span.0.min(west), span.1.min(south), span.2.max(east), span.3.max(north));
        }
        span
    }

    /// The finest steps from sample to sample, latitude and longitude, degrees, of the files that touch a rectangle; `None` where
    /// no file does.
    ///
    /// # Units
    /// Degrees: west, south, east, north; east not less than west.
    pub fn steps_in_deg(&self, west: f64, south: f64, east: f64, north: f64) -> Option<(f64, f64)> {
        let mut steps: Option<(f64, f64)> = None;
        for raster in &self.rasters {
            let shape = raster.shape();
            let span = shape.span_deg((west + east) / 2.0);
            if span.0 <= east && span.2 >= west && span.1 <= north && span.3 >= south {
                let (lat, lon) = steps.unwrap_or((f64::INFINITY, f64::INFINITY));
                steps = Some((lat.min(shape.lat_step_deg), lon.min(shape.lon_step_deg)));
            }
        }
        steps
    }

    /// Bytes that blocks take now.
    pub fn cached_bytes(&self) -> u64 {
        self.cache.weight()
    }

    /// The height of the ground at a place, between the samples around it.
    ///
    /// # Units
    /// Degrees; metres.
    /// # Errors
    /// [`TerrainError::Unreadable`].
    pub fn height(&self, lat_deg: f64, lon_deg: f64) -> Result<Height, TerrainError> {
        let Some(found) = self.block(lat_deg, lon_deg)? else { return Ok(Height::Missing) };
        let Some((y, x)) = found.shape.locate(lat_deg, lon_deg) else { return Ok(Height::Missing) };
        let height = found.height(y, x);
        Ok(if height.is_nan() { Height::Void } else { Height::Metres(height) })
    }

    /// The height of the ground for a site that gives none, and the source to name beside it.
    ///
    /// # Units
    /// Metres above mean sea level.
    /// # Errors
    /// [`TerrainError`]: a missing file or a void is never turned into a number.
    pub fn site_elevation(&self, lat_deg: f64, lon_deg: f64) -> Result<(f64, String), TerrainError> {
        match self.height(lat_deg, lon_deg)? {
            Height::Metres(height) => Ok((height, format!("{}, above mean sea level", self.source))),
            Height::Void => Err(TerrainError::Void { place: place(lat_deg, lon_deg) }),
            Height::Missing => {
                Err(TerrainError::Missing { place: place(lat_deg, lon_deg), tile: tile_name(lat_deg, lon_deg) })
            }
        }
    }

    /// The block around a place; `None` where no file covers it.
    pub(crate) fn block(&self, lat_deg: f64, lon_deg: f64) -> Result<Option<Arc<Block>>, TerrainError> {
        if !(lat_deg.is_finite() && lon_deg.is_finite()) {
            return Ok(None);
        }
        let lon = (lon_deg + 180.0).rem_euclid(360.0) - 180.0;
        let cell = (lat_deg.floor() as i32, lon.floor() as i32);
        for &i in self.by_degree.get(&cell).map(Vec::as_slice).unwrap_or_default() {
            let raster = &self.rasters[i as usize];
            let shape = raster.shape();
            if let Some((y, x)) = shape.locate(lat_deg, lon_deg) {
                let (width, height) = raster.block_size();
                let inner = |v: f64, n: u32| (v.max(0.0) as u32).min(n - 2);
                let key =
                    Key { raster: i, column: inner(x, shape.columns) / width, row: inner(y, shape.rows) / height };
                return self.cache.get_or_insert_with(&key, || read_block(raster, key)).map(Some);
            }
        }
        Ok(None)
    }
}

/// Reads a block, one more row and column than its size where the file has them.
fn read_block(raster: &Raster, key: Key) -> Result<Arc<Block>, TerrainError> {
    let unreadable = |why: String| TerrainError::Unreadable { file: raster.name.clone(), why };
    let shape = raster.shape();
    let (width, height) = raster.block_size();
    let (column, row) = (key.column * width, key.row * height);
    let columns = width.saturating_add(1).min(shape.columns - column);
    let rows = height.saturating_add(1).min(shape.rows - row);
    let samples = raster.read(column, row, columns, rows).map_err(unreadable)?;
    let shape = RasterShape {
        west_deg: shape.west_deg + f64::from(column) * shape.lon_step_deg,
        north_deg: shape.north_deg - f64::from(row) * shape.lat_step_deg,
        columns,
        rows,
        ..*shape
    };
    Block::new(shape, samples).map(Arc::new).ok_or_else(|| unreadable("its samples do not fit its size".to_owned()))
}

/// Opens an elevation file by its extension; `None` for other files.
fn open_one(path: &Path) -> Result<Option<Raster>, Box<Fault>> {
    let file_name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let lower = file_name.to_ascii_lowercase();
    let source = if lower.ends_with(".hgt") {
        Source::Hgt(HgtTile::open(path)?)
    } else if lower.ends_with(".tif") || lower.ends_with(".tiff") {
        Source::Tiff(Box::new(GeoTiff::open(path)?))
    } else if lower.contains(".hgt.") && (lower.ends_with(".zip") || lower.ends_with(".gz")) {
        let right = "unpack it beside the others, so that its name ends in .hgt";
        return Err(Box::new(Fault::of_file(path.display().to_string(), "is a packed tile", right)));
    } else {
        return Ok(None);
    };
    Ok(Some(Raster { name: file_name, source }))
}

/// The name of the SRTM tile that covers a place.
pub(crate) fn tile_name(lat_deg: f64, lon_deg: f64) -> String {
    let (lat, lon) = (lat_deg.floor() as i32, ((lon_deg + 180.0).rem_euclid(360.0) - 180.0).floor() as i32);
    let (ns, ew) = (if lat < 0 { 'S' } else { 'N' }, if lon < 0 { 'W' } else { 'E' });
    format!("{ns}{:02}{ew}{:03}", lat.abs(), lon.abs())
}

pub(crate) fn place(lat_deg: f64, lon_deg: f64) -> String {
    let (ns, ew) = (if lat_deg < 0.0 { "S" } else { "N" }, if lon_deg < 0.0 { "W" } else { "E" });
    format!("{:.4}° {ns} {:.4}° {ew}", lat_deg.abs(), lon_deg.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tile whose height is a known plane: 10 m a row southward, 1 m a column eastward, void in one corner.
    fn tile(folder: &Path, name: &str) {
        let mut bytes = Vec::with_capacity(1201 * 1201 * 2);
        for row in 0..1201_i16 {
            for column in 0..1201_i16 {
                let height = if row > 1150 && column > 1150 { i16::MIN } else { row * 10 + column };
                bytes.extend(height.to_be_bytes());
            }
        }
        std::fs::write(folder.join(name), bytes).unwrap();
    }

    #[test]
    fn a_folder_of_tiles_is_one_surface_within_its_memory() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["S45E169.hgt", "S45E170.hgt", "S44E169.hgt"] {
            tile(folder.path(), name);
        }
        std::fs::write(folder.path().join("notes.txt"), "kept").unwrap();
        let budget = 3 << 20;
        let terrain = Terrain::open_with(folder.path(), budget).unwrap();
        for (lat, lon) in [(-44.5, 169.5), (-44.123, 170.9), (-43.75, 169.03), (-44.0, 169.25)] {
            let Height::Metres(height) = terrain.height(lat, lon).unwrap() else { panic!("{lat} {lon}") };
            // On the seam the northern tile's last row answers.
            let row = if lat == -44.0 { 1200.0 } else { (-lat).rem_euclid(1.0) * 1200.0 };
            let expected = row * 10.0 + f64::rem_euclid(lon, 1.0) * 1200.0;
            assert!((height - expected).abs() < 1e-6, "{lat} {lon}: {height} {expected}");
        }
        for i in 0..2000 {
            let lat = -44.999 + f64::from(i % 50) * 0.019;
            terrain.height(lat, 169.01 + f64::from(i / 50) * 0.024).unwrap();
            assert!(terrain.cached_bytes() <= budget);
        }
        assert_eq!(terrain.height(-44.999, 169.999).unwrap(), Height::Void);
        assert_eq!(terrain.height(-46.5, 169.5).unwrap(), Height::Missing);
        assert_eq!(terrain.height(f64::NAN, 169.5).unwrap(), Height::Missing);
        assert_eq!(
            terrain.source(),
            format!("3 terrain files of {}", folder.path().file_name().unwrap().to_string_lossy())
        );
    }

    #[test]
    fn a_site_gets_its_elevation_and_source_or_a_reason() {
        let folder = tempfile::tempdir().unwrap();
        tile(folder.path(), "S45E169.hgt");
        let terrain = Terrain::open(folder.path()).unwrap();
        let (height, source) = terrain.site_elevation(-44.5, 169.5).unwrap();
        assert!((height - 6600.0).abs() < 1e-6);
        assert_eq!(source, "terrain file S45E169.hgt, above mean sea level");
        let text = |lat, lon| terrain.site_elevation(lat, lon).unwrap_err().to_string();
        assert_eq!(text(-44.999, 169.999), "the terrain has a void at 44.9990° S 169.9990° E");
        assert_eq!(
            text(-42.5, -0.5),
            "no terrain file covers 42.5000° S 0.5000° W (an SRTM tile would be S43W001.hgt)"
        );
    }

    #[test]
    fn every_faulty_file_of_a_folder_is_listed() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("N10E010.hgt"), [0; 10]).unwrap();
        std::fs::write(folder.path().join("N10E011.hgt.zip"), [0; 10]).unwrap();
        std::fs::write(folder.path().join("a.tif"), [0; 10]).unwrap();
        let text = Terrain::open(folder.path()).unwrap_err().to_string();
        assert_eq!(text.lines().count(), 3, "{text}");
        assert!(text.contains("the tile has 10 bytes") && text.contains("is a packed tile"), "{text}");
        let empty = tempfile::tempdir().unwrap();
        assert!(Terrain::open(empty.path()).unwrap_err().to_string().contains("holds no elevation file"));
        assert!(Terrain::open(&empty.path().join("none.hgt")).is_err());
    }

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig::with_cases(128))]
        #[test]
        fn no_bytes_upset_the_elevation_readers(
            noise in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..600),
            changes in proptest::collection::vec((0_usize..4000, proptest::prelude::any::<u8>()), 1..12),
            cut in 0_usize..4000,
        ) {
            let folder = tempfile::tempdir().unwrap();
            let real = include_bytes!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/terrain/small.tif"));
            let mut damaged = real.to_vec();
            for (at, byte) in changes {
                let at = at % damaged.len();
                damaged[at] = byte;
            }
            let mut short = damaged.clone();
            short.truncate(cut);
            for (name, bytes) in [("a.tif", noise.clone()), ("b.tif", damaged), ("c.tif", short), ("N01E001.hgt", noise)] {
                let path = folder.path().join(name);
                std::fs::write(&path, bytes).unwrap();
                if let Ok(terrain) = Terrain::open_with(&path, 1 << 20) {
                    let shape = *terrain.rasters[0].shape();
                    for share in [0.0, 0.37, 0.99] {
                        let lat = shape.north_deg - f64::from(shape.rows - 1) * shape.lat_step_deg * share;
                        let lon = shape.west_deg + f64::from(shape.columns - 1) * shape.lon_step_deg * share;
                        if let Ok(Height::Metres(height)) = terrain.height(lat, lon) {
                            proptest::prop_assert!(height.is_finite());
                        }
                    }
                }
            }
        }
    }
}
