//! Heights of the Moon's surface where it can stand on the edge.

use super::tile_code;
use noonfall_ephemeris::vector::Vec3;
use std::borrow::Cow;
use std::f64::consts::TAU;
use std::fmt;
use std::sync::{Arc, LazyLock, OnceLock};

/// Radius of the sphere that heights are counted from, km: the datum of LOLA's grids.
pub(super) const DATUM_KM: f64 = 1737.4;

/// No edge is as low, km: the rule by which `data/moon/build.py` leaves tiles out. The lowest at the eclipse of 2028 is
/// 1733.1 km.
pub(super) const LOWEST_EDGE_KM: f64 = 1731.0;

/// Pixels along the side of a tile, as a power of two.
const TILE_BITS: u32 = 6;
pub(super) const TILE: usize = 1 << TILE_BITS;
/// A tile holds one pixel more to the south and to the east, so that heights can be interpolated inside it.
pub(super) const SIDE: usize = TILE + 1;

/// Pixels along the side of a block, and blocks along that of a tile.
const BLOCK: usize = 4;
const BLOCKS: usize = TILE / BLOCK;

/// No bound is given for ground that lies under more blocks.
const MOST_BLOCKS: usize = 12;

/// Bounds are given for bins of this width.
pub(super) const BOUND_STEP_DEG: f64 = 0.5;

/// What stands in for a place outside the zone: so low that it never shows.
const NOTHING_KM: f64 = -100.0;

/// The embedded heights.
static EMBEDDED: LazyLock<MoonHeights> =
    LazyLock::new(|| MoonHeights(Arc::new(Grid::packed(noonfall_data_moon::EDGE_HEIGHTS))));

/// Heights of the Moon's surface in the zone that can stand on its edge at a solar eclipse. Cheap to clone.
#[derive(Clone)]
pub struct MoonHeights(Arc<Grid>);

/// How the tiles come.
enum Source {
    /// Coded, each from one byte to another.
    Packed { bytes: Cow<'static, [u8]>, spans: Vec<(usize, usize)> },
    /// Computed pixel by pixel from latitude and longitude in degrees, metres.
    #[cfg(test)]
    Computed(Box<dyn Fn(f64, f64) -> f64 + Send + Sync>),
}

struct Grid {
    /// In a word or two, and with how fine and how true it is.
    short: String,
    name: String,
    per_degree: usize,
    /// Tiles in a row.
    columns: usize,
    /// Kilometres in one unit of a pixel.
    unit_km: f64,
    floor_km: f64,
    ceiling_km: f64,
    source: Source,
    tiles: Vec<OnceLock<Option<Tile>>>,
    bounds: Bounds,
}

/// A tile, unpacked.
struct Tile {
    /// [`SIDE`] lines of as many.
    pixels: Box<[i16; SIDE * SIDE]>,
    /// The highest pixel of every block, those on all of its edges among them: nothing between pixels is higher.
    tops: Box<[i16; BLOCKS * BLOCKS]>,
}

impl Tile {
    /// None where it is not whole.
    fn of(pixels: Vec<i16>) -> Option<Tile> {
        let pixels: Box<[i16; SIDE * SIDE]> = pixels.try_into().ok()?;
        let top = |row: usize, column: usize| {
            let lines = row * BLOCK..=(row + 1) * BLOCK;
            let highest = |line: usize| pixels[line * SIDE + column * BLOCK..][..=BLOCK].iter().copied().max();
            lines.filter_map(highest).max().unwrap_or(i16::MAX)
        };
        Some(Tile { tops: Box::new(std::array::from_fn(|at| top(at / BLOCKS, at % BLOCKS))), pixels })
    }
}

/// Tiles as [`tile_code`] has them.
pub(super) struct Coded {
    pub bytes: Vec<u8>,
    /// For each tile the part of the bytes that codes it, empty where it is left out.
    pub spans: Vec<(usize, usize)>,
    pub bounds: Bounds,
}

/// The highest pixel about every direction near the limb.
pub(super) struct Bounds {
    rows: usize,
    columns: usize,
    highest_m: Vec<i16>,
}

impl Bounds {
    /// Nothing anywhere.
    pub(super) fn empty() -> Bounds {
        let (rows, columns) = (72, 640);
        Bounds { rows, columns, highest_m: vec![i16::MIN; rows * columns] }
    }

    /// The highest of all, from the Moon's centre, km.
    fn ceiling_km(&self) -> f64 {
        DATUM_KM + f64::from(self.highest_m.iter().copied().max().unwrap_or(0)) / 1000.0
    }

    fn bin(&self, direction: Vec3) -> Option<usize> {
        // Beyond the last row there is nothing, and no need for an angle.
        if direction[0].abs() > 0.5 {
            return None;
        }
        self.bin_at(direction[0].asin(), direction[1].atan2(direction[2]))
    }

    /// The same to a ten-thousandth of a bin, in half the time.
    fn bin_about(&self, direction: Vec3) -> Option<usize> {
        if direction[0].abs() > 0.5 {
            return None;
        }
        let [depth, x, y] = direction.map(|c| c as f32);
        self.bin_at(f64::from(depth.asin()), f64::from(x.atan2(y)))
    }

    fn bin_at(&self, depth_rad: f64, around_rad: f64) -> Option<usize> {
        let row = (depth_rad.to_degrees() / BOUND_STEP_DEG + self.rows as f64 / 2.0).floor();
        let around = around_rad.rem_euclid(TAU) / TAU;
        let column = ((around * self.columns as f64) as usize).min(self.columns - 1);
        (row >= 0.0 && row < self.rows as f64).then_some(row as usize * self.columns + column)
    }

    /// A pixel, metres.
    pub(super) fn raise(&mut self, direction: Vec3, height_m: i16) {
        if let Some(at) = self.bin(direction) {
            self.highest_m[at] = self.highest_m[at].max(height_m);
        }
    }

    /// Each bin raised to its neighbours.
    pub(super) fn widened(self) -> Bounds {
        let highest = |row: usize, column: usize| {
            let rows = row.saturating_sub(1)..=(row + 1).min(self.rows - 1);
            let beside = [column + self.columns - 1, column, column + 1].map(|c| c % self.columns);
            rows.flat_map(|row| beside.map(|c| self.highest_m[row * self.columns + c])).max().unwrap_or(i16::MIN)
        };
        let highest_m = (0..self.rows * self.columns).map(|at| highest(at / self.columns, at % self.columns)).collect();
        Bounds { highest_m, ..self }
    }
}

impl fmt::Debug for MoonHeights {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("MoonHeights").field("source", &self.0.name).field("per_degree", &self.0.per_degree).finish()
    }
}

impl MoonHeights {
    /// The heights that come with the program: LOLA, 16 a degree, none off by more than 2 m from LDEM_16.
    /// ```
    /// use noonfall_shadow::moon_edge::MoonHeights;
    /// assert!(MoonHeights::embedded().source().contains("LDEM_16"));
    /// ```
    pub fn embedded() -> &'static MoonHeights {
        &EMBEDDED
    }

    /// Where the heights come from, for people.
    pub fn source(&self) -> &str {
        &self.0.name
    }

    /// The grid in a word or two: `LOLA LDEM_16`, or the name of the file.
    pub fn grid(&self) -> &str {
        &self.0.short
    }

    /// Where on the grid a direction from the Moon's centre lies (unit vector in the Moon's axes): line and sample, counted
    /// from the first pixel's centre.
    #[inline]
    pub(super) fn place(&self, direction: Vec3) -> [f64; 2] {
        let per_degree = self.0.per_degree as f64;
        let lat_deg = direction[2].clamp(-1.0, 1.0).asin().to_degrees();
        let lon_deg = direction[1].atan2(direction[0]).to_degrees();
        [(90.0 - lat_deg) * per_degree - 0.5, lon_deg * per_degree - 0.5]
    }

    /// Samples in a line.
    pub(super) fn samples(&self) -> f64 {
        360.0 * self.0.per_degree as f64
    }

    /// Height above the datum at a place of the grid, km: bilinear between pixel centres. Far below the surface outside
    /// the zone. The sample may be off by a turn.
    #[inline]
    pub(super) fn height_km(&self, [line, sample]: [f64; 2]) -> f64 {
        let grid = &*self.0;
        let samples = self.samples();
        let y = line.clamp(0.0, 0.5 * samples - 1.0);
        let x = if sample < 0.0 { sample + samples } else { sample };
        let x = if x >= samples { x - samples } else { x };
        // No grid has more lines or samples than fit, and such numbers are made from floating ones faster than longer ones.
        let (line, sample) = (y as u32 as usize, x as u32 as usize);
        let number = (line >> TILE_BITS) * grid.columns + (sample >> TILE_BITS);
        let Some(Tile { pixels, .. }) = grid.tile(number) else { return NOTHING_KM };
        let at = (line & (TILE - 1)) * SIDE + (sample & (TILE - 1));
        let (dy, dx) = (y - line as f64, x - sample as f64);
        let Some(&[nw, ne]) = pixels.get(at..at + 2) else { return NOTHING_KM };
        let Some(&[sw, se]) = pixels.get(at + SIDE..at + SIDE + 2) else { return NOTHING_KM };
        let between = |west: i16, east: i16| f64::from(west) + (f64::from(east) - f64::from(west)) * dx;
        let (north, south) = (between(nw, ne), between(sw, se));
        (north + (south - north) * dy) * grid.unit_km
    }

    /// No surface between two lines and two samples of the grid is higher than this above the datum, km; `None` where that
    /// would take long to find out.
    pub(super) fn top_km(&self, lines: [f64; 2], samples: [f64; 2]) -> Option<f64> {
        let grid = &*self.0;
        let round = 360 / BLOCK * grid.per_degree;
        let last = 0.5 * self.samples() - 1.0;
        let [north, south] = lines.map(|line| line.clamp(0.0, last) as u32 as usize / BLOCK);
        let [west, east] = samples.map(|sample| {
            let (blocks, whole) = (sample / BLOCK as f64, (sample / BLOCK as f64) as i32);
            whole - i32::from(f64::from(whole) > blocks)
        });
        let across = (east - west) as usize + 1;
        if across * (south - north + 1) > MOST_BLOCKS {
            return None;
        }
        let west = west.rem_euclid(round as i32) as usize;
        let mut top: Option<i16> = None;
        for row in north..=south {
            for column in west..west + across {
                let column = if column >= round { column - round } else { column };
                let number = (row / BLOCKS) * grid.columns + column / BLOCKS;
                let Some(tile) = grid.tile(number) else { continue };
                top = top.max(Some(tile.tops[(row % BLOCKS) * BLOCKS + column % BLOCKS]));
            }
        }
        Some(top.map_or(NOTHING_KM, |top| f64::from(top) * grid.unit_km))
    }

    /// No surface within [`BOUND_STEP_DEG`], less a thousandth, of a direction near the limb is higher than this above the datum, km.
    pub(super) fn highest_about_km(&self, direction: Vec3) -> f64 {
        let bounds = &self.0.bounds;
        bounds.bin_about(direction).map_or(NOTHING_KM, |at| f64::from(bounds.highest_m[at]) / 1000.0)
    }

    /// Heights in a degree.
    pub fn per_degree(&self) -> usize {
        self.0.per_degree
    }

    /// Distance between neighbouring heights along a meridian.
    ///
    /// # Units
    /// Kilometres.
    /// ```
    /// use noonfall_shadow::moon_edge::MoonHeights;
    /// assert!((MoonHeights::embedded().spacing_km() - 1.895).abs() < 0.001);
    /// ```
    pub fn spacing_km(&self) -> f64 {
        DATUM_KM * (1.0 / self.0.per_degree as f64).to_radians()
    }

    /// The edge is nowhere lower than this from the Moon's centre, km.
    pub(super) fn floor_km(&self) -> f64 {
        self.0.floor_km
    }

    /// No part of the edge is further from the Moon's centre than this, km.
    pub(super) fn ceiling_km(&self) -> f64 {
        self.0.ceiling_km
    }

    /// From tiles coded one by one.
    pub(super) fn coded(short: String, per_degree: usize, unit_km: f64, coded: Coded) -> MoonHeights {
        MoonHeights(Arc::new(Grid {
            name: format!("{short} ({per_degree} heights a degree, within {} m)", 500.0 * unit_km),
            short,
            per_degree,
            columns: tiles(per_degree).1,
            unit_km,
            floor_km: LOWEST_EDGE_KM,
            tiles: coded.spans.iter().map(|_| OnceLock::new()).collect(),
            source: Source::Packed { bytes: Cow::Owned(coded.bytes), spans: coded.spans },
            ceiling_km: coded.bounds.ceiling_km(),
            bounds: coded.bounds,
        }))
    }

    /// A Moon made up for a test: heights in metres from latitude and longitude in degrees, none above `highest_m` nor
    /// below `lowest_m`.
    #[cfg(test)]
    pub(super) fn made_up(
        per_degree: usize,
        lowest_m: f64,
        highest_m: f64,
        height_m: impl Fn(f64, f64) -> f64 + Send + Sync + 'static,
    ) -> MoonHeights {
        let (rows, columns) = tiles(per_degree);
        let bounds = Bounds { rows: 72, columns: 1, highest_m: vec![highest_m.ceil() as i16; 72] };
        MoonHeights(Arc::new(Grid {
            short: "made up".to_owned(),
            name: "made up".to_owned(),
            per_degree,
            columns,
            unit_km: 0.001,
            floor_km: DATUM_KM + lowest_m / 1000.0,
            source: Source::Computed(Box::new(height_m)),
            tiles: (0..rows * columns).map(|_| OnceLock::new()).collect(),
            ceiling_km: bounds.ceiling_km(),
            bounds,
        }))
    }
}

/// Rows and columns of tiles of a grid; the last may be cut short by the pole or the meridian.
pub(super) fn tiles(per_degree: usize) -> (usize, usize) {
    ((180 * per_degree).div_ceil(TILE), (360 * per_degree).div_ceil(TILE))
}

impl Grid {
    /// The file that `data/moon/build.py` writes. It is part of the program, so it is not asked whether it is sound; a
    /// test does.
    fn packed(bytes: &'static [u8]) -> Grid {
        let word = |at: usize| -> usize {
            let four = bytes.get(at..at + 4).and_then(|b| b.try_into().ok()).unwrap_or([0; 4]);
            u32::from_le_bytes(four) as usize
        };
        let (per_degree, rows, columns) = (word(8), word(20), word(24));
        let bounds_at = 28;
        let sizes_at = bounds_at + 2 * rows * columns;
        let highest_m = bytes[bounds_at..sizes_at].chunks_exact(2).map(|b| i16::from_le_bytes([b[0], b[1]])).collect();
        let bounds = Bounds { rows, columns, highest_m };
        let (tile_rows, tile_columns) = tiles(per_degree);
        let count = tile_rows * tile_columns;
        let mut at = sizes_at + 4 * count;
        let spans = (0..count)
            .map(|k| {
                let start = at;
                at += word(sizes_at + 4 * k);
                (start, at)
            })
            .collect();
        Grid {
            short: "LOLA LDEM_16".to_owned(),
            name: "NASA LOLA LDEM_16 (16 heights a degree, within 2 m)".to_owned(),
            per_degree,
            columns: tile_columns,
            unit_km: word(16) as f64 * 1e-6,
            floor_km: LOWEST_EDGE_KM,
            source: Source::Packed { bytes: Cow::Borrowed(bytes), spans },
            tiles: (0..count).map(|_| OnceLock::new()).collect(),
            ceiling_km: bounds.ceiling_km(),
            bounds,
        }
    }

    /// A tile, unpacked when first asked for.
    fn tile(&self, number: usize) -> Option<&Tile> {
        self.tiles.get(number)?.get_or_init(|| self.unpacked(number).and_then(Tile::of)).as_ref()
    }

    fn unpacked(&self, number: usize) -> Option<Vec<i16>> {
        match &self.source {
            Source::Packed { bytes, spans } => {
                let &(start, end) = spans.get(number)?;
                (end > start).then(|| tile_code::decode(&bytes[start..end], SIDE))
            }
            #[cfg(test)]
            Source::Computed(height_m) => {
                let (row, column) = (number / self.columns, number % self.columns);
                let per_degree = self.per_degree as f64;
                let pixel = |y: usize, x: usize| {
                    let lat = 90.0 - ((row * TILE + y) as f64 + 0.5) / per_degree;
                    let lon = ((column * TILE + x) as f64 + 0.5) / per_degree;
                    height_m(lat.max(-90.0), lon).round() as i16
                };
                Some((0..SIDE).flat_map(|y| (0..SIDE).map(move |x| (y, x))).map(|(y, x)| pixel(y, x)).collect())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn direction(lat_deg: f64, lon_deg: f64) -> Vec3 {
        noonfall_ephemeris::GeoPoint { lat_deg, lon_deg }.direction()
    }

    /// Along windows laid all round the limb no height is above the bound, and somewhere the bound is nearly met: it holds, and is of use.
    #[test]
    fn the_ground_under_a_window_is_no_higher_than_told() {
        let heights = MoonHeights::embedded();
        let mut closest = f64::INFINITY;
        for k in 0..720 {
            let place = heights.place(direction(89.0 - 0.247 * f64::from(k), if k % 2 == 0 { 90.3 } else { -89.6 }));
            let (line, sample) = ([place[0] - 1.3, place[0] + 2.6], [place[1] - 2.2, place[1] + 1.9]);
            let top_km = heights.top_km(line, sample).unwrap();
            for (i, j) in (0..=12).flat_map(|i| (0..=12).map(move |j| (f64::from(i) / 12.0, f64::from(j) / 12.0))) {
                let at = [line[0] + i * (line[1] - line[0]), sample[0] + j * (sample[1] - sample[0])];
                let height_km = heights.height_km(at);
                assert!(height_km <= top_km + 1e-12, "{at:?}: {height_km} over {top_km}");
                if height_km > NOTHING_KM {
                    closest = closest.min(top_km - height_km);
                }
            }
        }
        assert!(closest < 0.001, "{closest}");
        // A window right round the Moon is no window.
        assert_eq!(heights.top_km([0.0, 100.0], [0.0, 100.0]), None);
    }

    /// Pixels of LDEM_16 read with NumPy from the published file (row, column, value × 0.5 m); rounding leaves 2 m.
    #[test]
    fn pixels_of_the_published_grid() {
        for (line, sample, metres) in PIXELS {
            let lat = 90.0 - (f64::from(line) + 0.5) / 16.0;
            let lon = (f64::from(sample) + 0.5) / 16.0;
            let found = MoonHeights::embedded().height_km(MoonHeights::embedded().place(direction(lat, lon))) * 1000.0;
            assert!((found - metres).abs() <= 2.0 + 1e-6, "{line} {sample}: {found} {metres}");
        }
    }

    const PIXELS: [(i32, i32, f64); 9] = [
        (0, 0, 73.5),
        (0, 4000, -40.5),
        (100, 1440, -973.5),
        (1440, 1440, -3811.0),
        (1440, 4320, 348.5),
        (1500, 1530, 789.5),
        (2000, 4250, 499.0),
        (2879, 5759, 1187.0),
        (2800, 17, -1196.0),
    ];

    #[test]
    fn every_tile_unpacks_to_heights_of_the_moon_below_the_bounds() {
        let heights = MoonHeights::embedded();
        let grid = &heights.0;
        let mut tiles = 0;
        for number in 0..grid.tiles.len() {
            let Some(Tile { pixels, .. }) = grid.tile(number) else { continue };
            tiles += 1;
            let (row, column) = (number / grid.columns, number % grid.columns);
            for (at, &pixel) in pixels.iter().enumerate().step_by(97) {
                let metres = f64::from(pixel) * grid.unit_km * 1000.0;
                // The Moon's lowest and highest places in this grid (Smith et al. 2017: −9.1 and +10.8 km).
                assert!((-9080.0..=10_800.0).contains(&metres), "{number}: {metres}");
                let (y, x) = (at / SIDE, at % SIDE);
                let lat = 90.0 - ((row * TILE + y) as f64 + 0.5) / 16.0;
                let lon = ((column * TILE + x) as f64 + 0.5) / 16.0;
                let n = direction(lat.max(-90.0), lon);
                assert!(
                    n[0].abs() > 18_f64.to_radians().sin() || heights.highest_about_km(n) * 1000.0 >= metres - 1e-6
                );
            }
        }
        assert_eq!(tiles, 1325);
    }

    #[test]
    fn outside_the_zone_there_is_nothing_to_see() {
        let heights = MoonHeights::embedded();
        assert_eq!(heights.height_km(heights.place(direction(0.0, 0.0))), NOTHING_KM);
    }
}
