//! A Float32 GeoTIFF of one band in latitude and longitude, laid out for the cloud: tiles, overviews, directories first.
//!
//! Tiles come in any order and wait, packed, in a nameless temporary file, so that memory does not grow with the picture. Overviews are
//! made as tiles come, each sample the mean of those of its four that are numbers. At the end everything is written in its order:
//! directories, the smallest overview's tiles first, the full picture's last.
//!
//! # Source
//! TIFF 6.0; Adobe's technical note 3 (floating-point predictor); OGC 19-008 GeoTIFF 1.1; OGC 21-026 Cloud Optimized GeoTIFF; GDAL's tag
//! 42113 for the no-data value, 42112 for what the samples are and their unit. BigTIFF where the file grows beyond 4 GB.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};

use noonfall_scoring::input::terrain::RasterShape;
use rayon::prelude::*;

/// Samples on a side of a tile.
pub const TILE: u32 = 512;

/// A picture or one of its overviews.
#[derive(Debug)]
struct Level {
    columns: u32,
    rows: u32,
    /// Offset and length of each tile in the temporary file; length 0 where there is none.
    tiles: Vec<(u64, u32)>,
}

impl Level {
    fn new(columns: u32, rows: u32) -> Level {
        let tiles = columns.div_ceil(TILE) as usize * rows.div_ceil(TILE) as usize;
        Level { columns, rows, tiles: vec![(0, 0); tiles] }
    }

    fn across(&self) -> u32 {
        self.columns.div_ceil(TILE)
    }
}

/// What the samples of a file are, for whoever opens it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct About {
    /// In a sentence, without `<`, `>` and `&`.
    pub description: &'static str,
    /// What to beware of, as a part of that sentence.
    pub caution: &'static str,
    /// Their unit.
    pub unit: &'static str,
    /// Samples are rounded down to a multiple of this. What is below the accuracy anyway costs half of the file otherwise.
    pub step: f32,
}

/// Where a tile lies: its column and row among the tiles of its level.
type Place = (u32, u32);

/// A tile's bytes, and what it shrinks to for the next level.
type Packed = (Vec<u8>, Vec<f32>);

/// A tile that is not full yet, and how many of its samples were put.
#[derive(Debug)]
struct Begun {
    samples: Vec<f32>,
    put: u32,
}

impl Begun {
    fn new() -> Begun {
        Begun { samples: vec![f32::NAN; (TILE * TILE) as usize], put: 0 }
    }
}

/// A GeoTIFF in the making.
#[derive(Debug)]
pub struct GeoTiffWriter {
    grid: RasterShape,
    about: About,
    levels: Vec<Level>,
    /// Tiles that wait for samples, level by level.
    begun: Vec<BTreeMap<Place, Begun>>,
    parts: File,
    end: u64,
}

impl GeoTiffWriter {
    /// Begins a file.
    ///
    /// # Errors
    /// When no temporary file can be made.
    pub fn new(grid: RasterShape, about: About) -> io::Result<GeoTiffWriter> {
        let mut levels = vec![Level::new(grid.columns, grid.rows)];
        while let Some(last) = levels.last().filter(|l| l.columns.max(l.rows) > TILE) {
            let next = Level::new(last.columns.div_ceil(2), last.rows.div_ceil(2));
            levels.push(next);
        }
        let begun = levels.iter().map(|_| BTreeMap::new()).collect();
        Ok(GeoTiffWriter { grid, about, levels, begun, parts: tempfile::tempfile()?, end: 0 })
    }

    /// Puts a rectangle of samples; NaN where there is no data. Tiles are packed when they are full, on all threads: rectangles of whole
    /// tiles keep none waiting.
    ///
    /// # Errors
    /// When the temporary file cannot be written.
    pub fn put(&mut self, column: u32, row: u32, columns: u32, samples: &[f32]) -> io::Result<()> {
        let rows = (samples.len() as u32).checked_div(columns).unwrap_or(0);
        if rows == 0 {
            return Ok(());
        }
        let (all_columns, all_rows) = (self.grid.columns, self.grid.rows);
        let mut full: Vec<(Place, Vec<f32>)> = Vec::new();
        let (step, begun) = (self.about.step, &mut self.begun[0]);
        for y in row / TILE..=(row + rows - 1) / TILE {
            for x in column / TILE..=(column + columns - 1) / TILE {
                let (left, top) = (column.max(x * TILE), row.max(y * TILE));
                let right = (column + columns).min((x + 1) * TILE).min(all_columns);
                let bottom = (row + rows).min((y + 1) * TILE).min(all_rows);
                let wide = right.saturating_sub(left) as usize;
                let tile = begun.entry((x, y)).or_insert_with(Begun::new);
                for r in top..bottom {
                    let from = (r - row) as usize * columns as usize + (left - column) as usize;
                    let to = ((r - y * TILE) * TILE + left - x * TILE) as usize;
                    for (to, sample) in tile.samples[to..to + wide].iter_mut().zip(&samples[from..from + wide]) {
                        *to = (sample / step).floor() * step;
                    }
                }
                tile.put += wide as u32 * bottom.saturating_sub(top);
                let whole = TILE.min(all_columns - x * TILE) * TILE.min(all_rows - y * TILE);
                if tile.put >= whole {
                    full.extend(begun.remove(&(x, y)).map(|tile| ((x, y), tile.samples)));
                }
            }
        }
        self.put_tiles(0, full)
    }

    /// Packs tiles, several at once, keeps them in their order, and puts them into the overviews.
    fn put_tiles(&mut self, level: usize, tiles: Vec<(Place, Vec<f32>)>) -> io::Result<()> {
        let smaller = level + 1 < self.levels.len();
        // A tile without a number is left out: readers take it for no data.
        let packed: Vec<Option<io::Result<Packed>>> = tiles
            .par_iter()
            .map(|(_, tile)| {
                let any = tile.iter().any(|s| !s.is_nan());
                any.then(|| Ok((pack(tile)?, if smaller { halved(tile) } else { Vec::new() })))
            })
            .collect();
        let mut full = Vec::new();
        for ((place, _), packed) in tiles.into_iter().zip(packed) {
            let mut half = Vec::new();
            if let Some(packed) = packed {
                let bytes;
                (bytes, half) = packed?;
                self.parts.seek(SeekFrom::Start(self.end))?;
                self.parts.write_all(&bytes)?;
                let at = (place.1 * self.levels[level].across() + place.0) as usize;
                self.levels[level].tiles[at] = (self.end, bytes.len() as u32);
                self.end += bytes.len() as u64;
            }
            if smaller {
                full.extend(self.put_quarter(level, place, &half));
            }
        }
        if full.is_empty() { Ok(()) } else { self.put_tiles(level + 1, full) }
    }

    /// Puts what a tile shrinks to into the tile of the next level, and takes that out when it is full. Nothing stands for no number.
    fn put_quarter(&mut self, level: usize, (x, y): Place, half: &[f32]) -> Option<(Place, Vec<f32>)> {
        const HALF: usize = TILE as usize / 2;
        let finer = &self.levels[level];
        let of_this = |place: u32, all: u32| 2.min(all - place / 2 * 2);
        let quarters = of_this(x, finer.across()) * of_this(y, finer.rows.div_ceil(TILE));
        let place = (x / 2, y / 2);
        let tile = self.begun[level + 1].entry(place).or_insert_with(Begun::new);
        for (row, line) in half.chunks_exact(HALF).enumerate() {
            let to = ((y % 2) as usize * HALF + row) * TILE as usize + (x % 2) as usize * HALF;
            tile.samples[to..to + HALF].copy_from_slice(line);
        }
        tile.put += 1;
        if tile.put < quarters {
            return None;
        }
        self.begun[level + 1].remove(&place).map(|tile| (place, tile.samples))
    }

    fn packed(&mut self, place: (u64, u32)) -> io::Result<Vec<u8>> {
        let mut bytes = vec![0; place.1 as usize];
        self.parts.seek(SeekFrom::Start(place.0))?;
        self.parts.read_exact(&mut bytes)?;
        Ok(bytes)
    }

    /// Ends the overviews and writes the file.
    ///
    /// # Errors
    /// When a file cannot be read or written.
    pub fn finish(mut self, out: &mut impl Write) -> io::Result<()> {
        // What was never put leaves tiles open, level by level.
        for level in 0..self.levels.len() {
            let begun = std::mem::take(&mut self.begun[level]);
            self.put_tiles(level, begun.into_iter().map(|(place, tile)| (place, tile.samples)).collect())?;
        }
        // Room for directories is below 1 kB each besides their lists.
        let lists: u64 = self.levels.iter().map(|l| l.tiles.len() as u64 * 16 + 1024).sum();
        let big = self.end + lists > 4_000_000_000;
        let sizes: Vec<u64> = (0..self.levels.len()).map(|l| self.directory(l, big, 0, 0, &[]).len() as u64).collect();
        let header = if big { 16 } else { 8 };
        let mut offset = header + sizes.iter().sum::<u64>();
        let mut places: Vec<Vec<u64>> = vec![Vec::new(); self.levels.len()];
        for level in (0..self.levels.len()).rev() {
            for tile in &self.levels[level].tiles {
                places[level].push(if tile.1 == 0 { 0 } else { offset });
                offset += u64::from(tile.1);
            }
        }
        if big {
            out.write_all(b"II\x2b\x00\x08\x00\x00\x00")?;
            out.write_all(&header.to_le_bytes())?;
        } else {
            out.write_all(b"II\x2a\x00")?;
            out.write_all(&(header as u32).to_le_bytes())?;
        }
        let mut at = header;
        for level in 0..self.levels.len() {
            let next = if level + 1 < self.levels.len() { at + sizes[level] } else { 0 };
            out.write_all(&self.directory(level, big, at, next, &places[level]))?;
            at += sizes[level];
        }
        for level in (0..self.levels.len()).rev() {
            for i in 0..self.levels[level].tiles.len() {
                let bytes = self.packed(self.levels[level].tiles[i])?;
                out.write_all(&bytes)?;
            }
        }
        Ok(())
    }

    /// A directory with its lists, as it stands at an offset.
    fn directory(&self, level: usize, big: bool, at: u64, next: u64, places: &[u64]) -> Vec<u8> {
        let this = &self.levels[level];
        let blank = vec![0; this.tiles.len()];
        let places = if places.is_empty() { &blank } else { places };
        let short = |v: &[u16]| (3_u16, v.len(), v.iter().flat_map(|x| x.to_le_bytes()).collect::<Vec<u8>>());
        let long = |v: &[u32]| (4_u16, v.len(), v.iter().flat_map(|x| x.to_le_bytes()).collect::<Vec<u8>>());
        let double = |v: &[f64]| (12_u16, v.len(), v.iter().flat_map(|x| x.to_le_bytes()).collect::<Vec<u8>>());
        let offsets = if big {
            (16_u16, places.len(), places.iter().flat_map(|x| x.to_le_bytes()).collect())
        } else {
            long(&places.iter().map(|&p| p as u32).collect::<Vec<u32>>())
        };
        let counts: Vec<u32> = this.tiles.iter().map(|t| t.1).collect();
        let mut tags = vec![
            (254, long(&[u32::from(level > 0)])),
            (256, long(&[this.columns])),
            (257, long(&[this.rows])),
            (258, short(&[32])),
            (259, short(&[8])),
            (262, short(&[1])),
            (277, short(&[1])),
            (284, short(&[1])),
            (317, short(&[3])),
            (322, short(&[TILE as u16])),
            (323, short(&[TILE as u16])),
            (324, offsets),
            (325, long(&counts)),
            (339, short(&[3])),
        ];
        if level == 0 {
            // Samples stand for the area around them, which begins half a step to the north-west.
            let g = &self.grid;
            let corner = (g.west_deg - g.lon_step_deg / 2.0, g.north_deg + g.lat_step_deg / 2.0);
            tags.push((33550, double(&[g.lon_step_deg, g.lat_step_deg, 0.0])));
            tags.push((33922, double(&[0.0, 0.0, 0.0, corner.0, corner.1, 0.0])));
            tags.push((34735, short(&[1, 1, 0, 4, 1024, 0, 1, 2, 1025, 0, 1, 1, 2048, 0, 1, 4326, 2054, 0, 1, 9102])));
        }
        if level == 0 {
            let item = |name: &str, role: &str, text: &str| {
                format!("<Item name=\"{name}\" sample=\"0\" role=\"{role}\">{text}</Item>")
            };
            let words = format!(
                "<GDALMetadata>{}{}</GDALMetadata>\0",
                item("DESCRIPTION", "description", &format!("{}; {}", self.about.description, self.about.caution)),
                item("UNITTYPE", "unittype", self.about.unit)
            );
            tags.push((42112, (2, words.len(), words.into_bytes())));
        }
        tags.push((42113, (2, 4, b"nan\0".to_vec())));
        let (count_size, entry, inline) = if big { (8, 20, 8) } else { (2, 12, 4) };
        let head = count_size + tags.len() * entry + inline;
        let (mut bytes, mut beyond) = (Vec::new(), Vec::new());
        if big {
            bytes.extend((tags.len() as u64).to_le_bytes());
        } else {
            bytes.extend((tags.len() as u16).to_le_bytes());
        }
        for (tag, (kind, count, mut value)) in tags {
            bytes.extend((tag as u16).to_le_bytes());
            bytes.extend(kind.to_le_bytes());
            if big {
                bytes.extend((count as u64).to_le_bytes());
            } else {
                bytes.extend((count as u32).to_le_bytes());
            }
            if value.len() <= inline {
                value.resize(inline, 0);
                bytes.extend(value);
            } else {
                let place = at + (head + beyond.len()) as u64;
                bytes.extend(&place.to_le_bytes()[..inline]);
                beyond.extend(value);
                // Values begin at even offsets.
                beyond.resize(beyond.len().next_multiple_of(8), 0);
            }
        }
        bytes.extend(&next.to_le_bytes()[..inline]);
        bytes.extend(beyond);
        bytes.resize(bytes.len().next_multiple_of(2), 0);
        bytes
    }
}

/// A tile at half its size: the mean of those of each four samples that are numbers.
fn halved(tile: &[f32]) -> Vec<f32> {
    let side = TILE as usize;
    let mut half = Vec::with_capacity(side * side / 4);
    for lines in tile.chunks_exact(2 * side) {
        let (upper, lower) = lines.split_at(side);
        half.extend(upper.chunks_exact(2).zip(lower.chunks_exact(2)).map(|(a, b)| {
            let four = [a[0], a[1], b[0], b[1]];
            let (sum, count) =
                four.into_iter().filter(|s| !s.is_nan()).fold((0.0, 0.0), |(sum, count), s| (sum + s, count + 1.0));
            if count == 0.0 { f32::NAN } else { sum / count }
        }));
    }
    half
}

/// A tile with the floating-point predictor, deflated.
fn pack(tile: &[f32]) -> io::Result<Vec<u8>> {
    let side = TILE as usize;
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
    let mut planes = vec![0_u8; side * 4];
    for row in tile.chunks_exact(side) {
        for (i, sample) in row.iter().enumerate() {
            for (plane, byte) in sample.to_be_bytes().into_iter().enumerate() {
                planes[plane * side + i] = byte;
            }
        }
        for i in (1..planes.len()).rev() {
            planes[i] = planes[i].wrapping_sub(planes[i - 1]);
        }
        encoder.write_all(&planes)?;
    }
    encoder.finish()
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_scoring::input::terrain::{Height, Terrain};

    /// Read back as an elevation file; GDAL reads it too (overviews 2, no-data nan, EPSG:4326).
    #[test]
    fn what_is_put_is_read_back_where_it_lies() {
        let (columns, rows) = (1200_u32, 700_u32);
        let grid =
            RasterShape { west_deg: 10.0, north_deg: 50.0, lon_step_deg: 0.001, lat_step_deg: 0.002, columns, rows };
        let value = |row: u32, column: u32| if row < 600 { row as f32 * 0.5 - column as f32 * 0.25 } else { f32::NAN };
        // Whole tiles, and rectangles that cut them, give the same bytes.
        let written = |parts: &[(u32, u32, u32, u32)]| {
            let about = About { description: "invented", caution: "no place", unit: "m", step: 0.25 };
            let mut writer = GeoTiffWriter::new(grid, about).unwrap();
            for &(column, row, width, height) in parts {
                let line = |r: u32| (0..width).map(move |c| value(r, column + c));
                let samples: Vec<f32> = (row..row + height).flat_map(line).collect();
                writer.put(column, row, width, &samples).unwrap();
            }
            let mut bytes = Vec::new();
            writer.finish(&mut bytes).unwrap();
            bytes
        };
        let bytes = written(&[(0, 0, 1024, rows), (1024, 0, 176, rows)]);
        let cut = [(0, 0, 700, 300), (700, 0, 500, 300), (0, 300, 700, 400), (700, 300, 500, 400)];
        assert!(bytes == written(&cut));
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.tif");
        std::fs::write(&path, &bytes).unwrap();
        let terrain = Terrain::open(&path).unwrap();
        for (row, column) in [(0, 0), (511, 512), (513, 1023), (300, 1190), (598, 1198)] {
            let place = (50.0 - f64::from(row) * 0.002, 10.0 + f64::from(column) * 0.001);
            let Height::Metres(height) = terrain.height(place.0, place.1).unwrap() else { panic!("{row} {column}") };
            assert!((height - f64::from(value(row, column))).abs() < 1e-3, "{row} {column}: {height}");
        }
        assert_eq!(terrain.height(50.0 - 650.0 * 0.002, 10.5).unwrap(), Height::Void);
    }
}
