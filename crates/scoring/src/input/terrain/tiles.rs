//! All elevation files of a folder as one surface, read in blocks behind a bounded cache.

use std::collections::HashMap;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::geotiff::GeoTiff;
use super::hgt::HgtTile;
use super::kept::Kept;
use super::piece_cache::PieceCache;
use super::raster::{Block, RasterShape};
use crate::fault::{Fault, Faults};
use crate::input::zip;
use crate::land::half_turn;

mod told;

pub use told::Told;

/// Memory that blocks may take unless set otherwise, bytes.
pub const DEFAULT_CACHE_BYTES: u64 = 240 << 20;

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
    /// Whether a block of it was read.
    used: AtomicBool,
}

impl Raster {
    fn new(name: String, source: Source) -> Raster {
        Raster { name, source, used: AtomicBool::new(false) }
    }

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

/// A surface made of elevation files. Where files overlap, the finer serves, then the first by name.
pub struct Terrain {
    rasters: Vec<Raster>,
    /// Rasters that touch a cell of one degree, by the floor of latitude and of longitude.
    by_degree: HashMap<(i32, i32), Vec<u32>>,
    cache: Kept<Key, Arc<Block>>,
    pieces: Arc<PieceCache>,
    source: String,
    /// The finest step from sample to sample northward, degrees.
    finest_deg: f64,
    /// Files that look like elevation and are not read, each with the reason.
    unread: Vec<String>,
}

impl std::fmt::Debug for Terrain {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Terrain").field("rasters", &self.rasters).finish_non_exhaustive()
    }
}

impl Terrain {
    /// Opens a folder of `.hgt`, `.hgt.gz`, `.tif`, `.tiff` and `.zip` files, with the folders in it, or one such file. Only directories
    /// and sizes are read now.
    ///
    /// # Errors
    /// Every faulty file; a folder that holds none. Elevation files of formats that are not read are faults where nothing else is
    /// there, and [`Terrain::warnings`] otherwise.
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
        let (mut paths, mut faults) = (Vec::new(), Faults::default());
        if let Err(error) = std::fs::metadata(path) {
            return Err(Fault::of_file(&name, format!("cannot be read ({error})"), GIVE).into());
        }
        if path.is_dir() {
            gather(path, 0, &mut paths, &mut faults);
            paths.sort();
        } else {
            paths.push(path.to_owned());
        }
        let (mut rasters, mut unread) = (Vec::new(), Vec::new());
        for file in paths {
            // Files of one name in several folders are told apart by the folder.
            let shown = file.strip_prefix(path).ok().filter(|p| !p.as_os_str().is_empty());
            let shown = shown.map_or_else(|| file.file_name().unwrap_or_default().into(), Path::to_path_buf);
            match open_one(&file, &shown.to_string_lossy()) {
                Ok(Opened::Rasters(more)) => rasters.extend(more),
                Ok(Opened::Other) => {}
                Ok(Opened::Unread(fault)) => unread.push(*fault),
                Err(more) => faults.0.extend(more.0),
            }
        }
        if rasters.is_empty() && faults.0.is_empty() {
            faults.0.append(&mut unread);
        }
        if rasters.is_empty() && faults.0.is_empty() {
            faults.0.push(Fault::of_file(&name, "holds no elevation file", GIVE));
        }
        let label = path.file_name().map_or(name.clone(), |n| n.to_string_lossy().into_owned());
        let mut terrain = Terrain::new(rasters, label, cache_bytes);
        terrain.unread = unread.iter().map(|f| format!("Left unread: {f}")).collect();
        faults.or(terrain)
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
        let raster = Raster::new(name.to_owned(), Source::Memory { shape, samples });
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
        // A quarter of the memory for pieces of files as they are unpacked, the rest for blocks.
        let pieces = Arc::new(PieceCache::new(cache_bytes / 4));
        let cache_bytes = cache_bytes - cache_bytes / 4;
        for (i, raster) in rasters.iter_mut().enumerate() {
            if let Source::Tiff(tiff) = &mut raster.source {
                tiff.keep_pieces(&pieces, i as u32);
            }
        }
        let cache = Kept::new(cache_bytes);
        Terrain { rasters, by_degree, cache, pieces, source, finest_deg, unread: Vec::new() }
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

    /// What each file spans: west, south, east and north, degrees, as [`Terrain::span_deg`].
    pub fn spans_deg(&self, near_lon_deg: f64) -> Vec<(f64, f64, f64, f64)> {
        self.rasters.iter().map(|r| r.shape().span_deg(near_lon_deg)).collect()
    }

    /// The samples of the finest file that touches a rectangle, laid out over all of the rectangle; `None` where no file does. The
    /// file keeps its grid, so that heights there are its samples.
    ///
    /// # Units
    /// Degrees: west, south, east, north; east not less than west.
    pub fn samples_in_deg(&self, west: f64, south: f64, east: f64, north: f64) -> Option<RasterShape> {
        // Files are in order, the finest first.
        let (shape, span) = self.rasters.iter().find_map(|raster| {
            let shape = raster.shape();
            let span = shape.span_deg((west + east) / 2.0);
            (span.0 <= east && span.2 >= west && span.1 <= north && span.3 >= south).then_some((shape, span))
        })?;
        let first_lon = span.0 + shape.lon_step_deg / 2.0;
        // Samples that lie on the rectangle's edge, but for rounding, are in it.
        let from = |edge: f64, first: f64, step: f64| ((edge - first) / step - 1e-6).ceil();
        let to = |edge: f64, first: f64, step: f64| ((edge - first) / step + 1e-6).floor();
        let (left, right) = (from(west, first_lon, shape.lon_step_deg), to(east, first_lon, shape.lon_step_deg));
        let (top, bottom) =
            (from(-north, -shape.north_deg, shape.lat_step_deg), to(-south, -shape.north_deg, shape.lat_step_deg));
        let count = |a: f64, b: f64| (b - a + 1.0).clamp(0.0, f64::from(u32::MAX)) as u32;
        Some(RasterShape {
            west_deg: first_lon + left * shape.lon_step_deg,
            north_deg: shape.north_deg - top * shape.lat_step_deg,
            columns: count(left, right),
            rows: count(top, bottom),
            ..*shape
        })
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

    /// Bytes that blocks and unpacked pieces of files take now.
    pub fn cached_bytes(&self) -> u64 {
        self.cache.bytes() + self.pieces.bytes()
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

    /// The height that one file has at a place.
    fn height_of(&self, raster: usize, lat_deg: f64, lon_deg: f64) -> Result<Option<f64>, TerrainError> {
        let Some((y, x)) = self.rasters[raster].shape().locate(lat_deg, lon_deg) else { return Ok(None) };
        let block = self.block_of(raster as u32, y, x)?;
        let Some((y, x)) = block.shape.locate(lat_deg, lon_deg) else { return Ok(None) };
        Ok(Some(block.height(y, x)).filter(|h| !h.is_nan()))
    }

    /// The block of a file around a row and column.
    fn block_of(&self, i: u32, y: f64, x: f64) -> Result<Arc<Block>, TerrainError> {
        let raster = &self.rasters[i as usize];
        let shape = raster.shape();
        let (width, height) = raster.block_size();
        let inner = |v: f64, n: u32| (v.max(0.0) as u32).min(n - 2);
        let key = Key { raster: i, column: inner(x, shape.columns) / width, row: inner(y, shape.rows) / height };
        self.cache.get(key, |block| block.bytes() as u64, || self.read_block(i, key))
    }

    /// Reads a block, one more row and column than its size where the file has them. Samples that the file lacks are taken from the
    /// next file that has them.
    fn read_block(&self, i: u32, key: Key) -> Result<Arc<Block>, TerrainError> {
        let raster = &self.rasters[i as usize];
        raster.used.store(true, Ordering::Relaxed);
        let unreadable = |why: String| TerrainError::Unreadable { file: raster.name.clone(), why };
        let shape = raster.shape();
        let (width, height) = raster.block_size();
        let (column, row) = (key.column * width, key.row * height);
        let columns = width.saturating_add(1).min(shape.columns - column);
        let rows = height.saturating_add(1).min(shape.rows - row);
        let mut samples = raster.read(column, row, columns, rows).map_err(unreadable)?;
        let shape = RasterShape {
            west_deg: shape.west_deg + f64::from(column) * shape.lon_step_deg,
            north_deg: shape.north_deg - f64::from(row) * shape.lat_step_deg,
            columns,
            rows,
            ..*shape
        };
        if samples.iter().any(|h| h.is_nan()) {
            self.fill_from_others(i, &shape, &mut samples)?;
        }
        let overlaid = self.overlaid(i, &shape);
        let block = Block::new(shape, samples).map(|mut block| {
            block.overlaid = overlaid;
            Arc::new(block)
        });
        block.ok_or_else(|| unreadable("its samples do not fit its size".to_owned()))
    }

    /// Whether a file that is asked before this one lies over a part of a block. Neighbours share a row or so, which is the same.
    fn overlaid(&self, i: u32, shape: &RasterShape) -> bool {
        const SHARED_STEPS: f64 = 2.5;
        let span = shape.span_deg(shape.west_deg);
        let (lat, lon) = (SHARED_STEPS * shape.lat_step_deg, SHARED_STEPS * shape.lon_step_deg);
        self.rasters[..i as usize].iter().map(|r| r.shape().span_deg(span.0)).any(|other| {
            other.0 + lon < span.2 && other.2 - lon > span.0 && other.1 + lat < span.3 && other.3 - lat > span.1
        })
    }

    /// Fills missing samples of a block from files that come after its own. Those only look at files after theirs, so that this ends.
    fn fill_from_others(&self, i: u32, shape: &RasterShape, samples: &mut [f32]) -> Result<(), TerrainError> {
        let span = shape.span_deg(shape.west_deg);
        let others: Vec<usize> = (i as usize + 1..self.rasters.len())
            .filter(|&j| {
                let other = self.rasters[j].shape().span_deg(span.0);
                other.0 < span.2 && other.2 > span.0 && other.1 < span.3 && other.3 > span.1
            })
            .collect();
        if others.is_empty() {
            return Ok(());
        }
        for (k, sample) in samples.iter_mut().enumerate().filter(|(_, s)| s.is_nan()) {
            let (row, column) = (k / shape.columns as usize, k % shape.columns as usize);
            let lat = shape.north_deg - row as f64 * shape.lat_step_deg;
            let lon = shape.west_deg + column as f64 * shape.lon_step_deg;
            for &j in &others {
                if let Some(height) = self.height_of(j, lat, lon)? {
                    *sample = height as f32;
                    break;
                }
            }
        }
        Ok(())
    }

    /// The block around a place; `None` where no file covers it.
    pub(crate) fn block(&self, lat_deg: f64, lon_deg: f64) -> Result<Option<Arc<Block>>, TerrainError> {
        if !(lat_deg.is_finite() && lon_deg.is_finite()) {
            return Ok(None);
        }
        let lon = half_turn(lon_deg);
        let cell = (lat_deg.floor() as i32, lon.floor() as i32);
        for &i in self.by_degree.get(&cell).map(Vec::as_slice).unwrap_or_default() {
            let shape = self.rasters[i as usize].shape();
            if let Some((y, x)) = shape.locate(lat_deg, lon_deg) {
                return self.block_of(i, y, x).map(Some);
            }
        }
        Ok(None)
    }
}

/// What a path turned out to be.
enum Opened {
    Rasters(Vec<Raster>),
    /// An elevation file of a format that is not read.
    Unread(Box<Fault>),
    /// No elevation file.
    Other,
}

/// Folders in folders are followed this deep.
const DEEPEST: u32 = 16;

/// All files of a folder and of those in it.
fn gather(folder: &Path, depth: u32, paths: &mut Vec<PathBuf>, faults: &mut Faults) {
    let unreadable = |e: std::io::Error| {
        Fault::of_file(folder.display().to_string(), format!("cannot be read ({e})"), "give a folder that can be read")
    };
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) => return faults.0.push(unreadable(e)),
    };
    for entry in entries {
        match entry.map(|e| e.path()) {
            // A link that leads back up ends by the depth.
            Ok(path) if path.is_dir() && depth < DEEPEST => gather(&path, depth + 1, paths, faults),
            Ok(path) if path.is_dir() => {}
            Ok(path) => paths.push(path),
            Err(e) => faults.0.push(unreadable(e)),
        }
    }
}

/// Opens an elevation file by its extension.
fn open_one(path: &Path, shown: &str) -> Result<Opened, Faults> {
    let lower = path.file_name().map(|n| n.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    let one = |source: Source| Ok(Opened::Rasters(vec![Raster::new(shown.to_owned(), source)]));
    let boxed = |fault: Box<Fault>| Faults(vec![*fault]);
    let is = |endings: &[&str]| endings.iter().any(|e| lower.ends_with(e));
    if is(&[".hgt", ".hgt.gz"]) {
        return one(Source::Hgt(HgtTile::open(path).map_err(boxed)?));
    }
    if is(&[".tif", ".tiff"]) {
        return one(Source::Tiff(Box::new(GeoTiff::open(path).map_err(boxed)?)));
    }
    if is(&[".zip"]) {
        return open_zip(path, shown);
    }
    // Formats of elevation by common practice; a list of files (.vrt) or a picture's companion (.aux.xml, .prj) holds no heights.
    let others = [
        ".asc", ".dem", ".bil", ".img", ".jp2", ".adf", ".dt0", ".dt1", ".dt2", ".grd", ".xyz", ".las", ".laz", ".flt",
        ".tif.gz",
    ];
    if is(&others) {
        let right = "turn it into a GeoTIFF (gdal_translate does it)";
        let wrong = "is of an elevation format that is not read";
        return Ok(Opened::Unread(Box::new(Fault::of_file(path.display().to_string(), wrong, right))));
    }
    Ok(Opened::Other)
}

/// Tiles and GeoTIFFs in a zip archive.
fn open_zip(path: &Path, shown: &str) -> Result<Opened, Faults> {
    let name = path.display().to_string();
    let mut archive = File::open(path).map_err(|e| {
        Faults::from(Fault::of_file(&name, format!("cannot be opened ({e})"), "give a file that can be read"))
    })?;
    let entries = zip::entries(&name, &mut archive)?;
    let (mut rasters, mut faults) = (Vec::new(), Faults::default());
    for entry in &entries {
        let lower = entry.name.to_ascii_lowercase();
        let shown = format!("{shown}: {}", entry.name);
        let source = if lower.ends_with(".hgt") {
            HgtTile::in_zip(path, entry).map(Source::Hgt)
        } else if lower.ends_with(".tif") || lower.ends_with(".tiff") {
            zip::extract(&name, &mut archive, entry)
                .map_err(Box::new)
                .and_then(|file| GeoTiff::unpacked(file, &shown).map(|t| Source::Tiff(Box::new(t))))
        } else {
            continue;
        };
        match source {
            Ok(source) => rasters.push(Raster::new(shown, source)),
            Err(fault) => faults.0.push(*fault),
        }
    }
    if rasters.is_empty() && faults.0.is_empty() {
        let right = "take it out of the folder, or unpack it";
        return Ok(Opened::Unread(Box::new(Fault::of_file(&name, "holds no .hgt tile and no GeoTIFF", right))));
    }
    faults.or(Opened::Rasters(rasters))
}

/// The name of the SRTM tile that covers a place.
pub(crate) fn tile_name(lat_deg: f64, lon_deg: f64) -> String {
    let (lat, lon) = (lat_deg.floor() as i32, half_turn(lon_deg).floor() as i32);
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
        assert!(text.contains("the tile has 10 bytes") && text.contains("is not a readable zip archive"), "{text}");
        let empty = tempfile::tempdir().unwrap();
        assert!(Terrain::open(empty.path()).unwrap_err().to_string().contains("holds no elevation file"));
        assert!(Terrain::open(&empty.path().join("none")).unwrap_err().to_string().contains("cannot be read"));
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
            let real = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/terrain/small.tif");
            let mut damaged = std::fs::read(real).unwrap();
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
