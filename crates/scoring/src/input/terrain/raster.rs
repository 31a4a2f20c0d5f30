//! What every elevation file has in common: where its samples lie, and the block read from it.

use std::sync::OnceLock;

/// Where the samples of an elevation file lie: rows from north to south, columns from west to east.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RasterShape {
    /// Longitude of the first column's samples, degrees east.
    pub west_deg: f64,
    /// Latitude of the first row's samples, degrees north.
    pub north_deg: f64,
    /// From column to column, degrees, positive.
    pub lon_step_deg: f64,
    /// From row to row, degrees, positive (southward).
    pub lat_step_deg: f64,
    /// Number of columns.
    pub columns: u32,
    /// Number of rows.
    pub rows: u32,
}

impl RasterShape {
    /// What is wrong with the shape, if anything: steps that are not positive, fewer than two samples, off the Earth.
    pub fn fault(&self) -> Option<String> {
        let numbers = [self.west_deg, self.north_deg, self.lon_step_deg, self.lat_step_deg];
        if !numbers.iter().all(|n| n.is_finite()) || self.lon_step_deg <= 0.0 || self.lat_step_deg <= 0.0 {
            return Some("its georeference is not that of a north-up grid".to_owned());
        }
        if self.columns < 2 || self.rows < 2 {
            return Some(format!("it has only {} × {} samples", self.columns, self.rows));
        }
        let south = self.north_deg - f64::from(self.rows - 1) * self.lat_step_deg;
        let width = f64::from(self.columns - 1) * self.lon_step_deg;
        if self.north_deg > 90.001 || south < -90.001 || self.west_deg.abs() > 360.0 || width > 360.001 {
            return Some(format!(
                "it reaches from {:.3} to {:.3} north and {:.3} to {:.3} east, which is not on the Earth",
                south,
                self.north_deg,
                self.west_deg,
                self.west_deg + width
            ));
        }
        None
    }

    /// West, south, east and north edge, half a sample beyond the outermost samples, degrees, on the turn nearest to a longitude.
    pub fn span_deg(&self, near_lon_deg: f64) -> (f64, f64, f64, f64) {
        let width = f64::from(self.columns) * self.lon_step_deg;
        let middle = self.west_deg + (width - self.lon_step_deg) / 2.0;
        let west = self.west_deg - self.lon_step_deg / 2.0 + ((near_lon_deg - middle) / 360.0).round() * 360.0;
        let north = self.north_deg + self.lat_step_deg / 2.0;
        (west, north - f64::from(self.rows) * self.lat_step_deg, west + width, north)
    }

    /// Row and column, with fractions, of a place; `None` when it is more than half a sample outside.
    pub fn locate(&self, lat_deg: f64, lon_deg: f64) -> Option<(f64, f64)> {
        let y = (self.north_deg - lat_deg) / self.lat_step_deg;
        // The turn that brings the longitude nearest to the middle of the file.
        let middle = self.west_deg + f64::from(self.columns - 1) / 2.0 * self.lon_step_deg;
        let lon = lon_deg - ((lon_deg - middle) / 360.0).round() * 360.0;
        let x = (lon - self.west_deg) / self.lon_step_deg;
        let inside = |v: f64, n: u32| v >= -0.5 && v <= f64::from(n) - 0.5;
        (inside(y, self.rows) && inside(x, self.columns)).then_some((y, x))
    }
}

/// Samples on a side of the cells whose highest sample is kept, so that rays can pass over low ground in one step.
pub const CELL: usize = 16;

/// Heights of a block, m. Most elevation files hold whole metres, which take half the memory: more ground stays at hand.
#[derive(Clone, Debug)]
enum Samples {
    /// Whole metres, [`NONE`] where the file has none.
    Whole(Vec<i16>),
    /// NaN where the file has none.
    Any(Vec<f32>),
}

/// No height among whole metres; no ground lies so deep.
const NONE: i16 = i16::MIN;

/// A height of whole metres; NaN where there is none.
#[inline]
fn metres(whole: i16) -> f32 {
    if whole == NONE { f32::NAN } else { f32::from(whole) }
}

impl Samples {
    fn of(heights: Vec<f32>) -> Samples {
        // Zero below zero would lose its sign, which no output shows.
        let whole = |h: f32| h.is_nan() || (h == h.trunc() && h.abs() < 32_000.0);
        if heights.iter().all(|&h| whole(h)) {
            Samples::Whole(heights.iter().map(|&h| if h.is_nan() { NONE } else { h as i16 }).collect())
        } else {
            Samples::Any(heights)
        }
    }

    /// Two neighbours in a row.
    #[inline]
    fn pair(&self, at: usize) -> [f64; 2] {
        match self {
            Samples::Whole(s) => [s[at], s[at + 1]].map(|h| f64::from(metres(h))),
            Samples::Any(s) => [s[at], s[at + 1]].map(f64::from),
        }
    }

    fn bytes(&self) -> usize {
        match self {
            Samples::Whole(s) => size_of_val(s.as_slice()),
            Samples::Any(s) => size_of_val(s.as_slice()),
        }
    }
}

/// A rectangle of samples of one file. Neighbouring blocks share their edge, so that interpolation never needs two.
#[derive(Clone, Debug)]
pub struct Block {
    /// Where the block's samples lie.
    pub shape: RasterShape,
    /// Heights row by row.
    samples: Samples,
    /// The highest sample of each cell of [`CELL`] × [`CELL`] steps, edges included; infinite where a sample is missing. Made for the first
    /// ray: sweeps do not ask.
    highest: OnceLock<Vec<f32>>,
    /// Whether a finer file lies over a part of it, so that a way over it must ask anew at every step.
    pub(crate) overlaid: bool,
}

impl Block {
    /// A block of samples; `None` when their number does not fit the shape or the shape is too small.
    pub fn new(shape: RasterShape, samples: Vec<f32>) -> Option<Block> {
        let (columns, rows) = (shape.columns as usize, shape.rows as usize);
        if columns < 2 || rows < 2 || samples.len() != columns.checked_mul(rows)? {
            return None;
        }
        Some(Block { shape, samples: Samples::of(samples), highest: OnceLock::new(), overlaid: false })
    }

    /// Cells of [`CELL`] × [`CELL`] steps in a row, and rows of them.
    fn cells(&self) -> (usize, usize) {
        ((self.shape.columns as usize - 1).div_ceil(CELL), (self.shape.rows as usize - 1).div_ceil(CELL))
    }

    fn highest_of_cells(&self, at: impl Fn(usize) -> f32) -> Vec<f32> {
        let (columns, rows) = (self.shape.columns as usize, self.shape.rows as usize);
        let (across, down) = self.cells();
        let top = |cell: usize| {
            let (top_row, left) = (cell / across * CELL, cell % across * CELL);
            let mut top = f32::NEG_INFINITY;
            for row in top_row..=(top_row + CELL).min(rows - 1) {
                for column in left..=(left + CELL).min(columns - 1) {
                    let sample = at(row * columns + column);
                    top = if sample.is_nan() { f32::INFINITY } else { top.max(sample) };
                }
            }
            top
        };
        (0..across * down).map(top).collect()
    }

    /// Bytes that the block takes.
    pub fn bytes(&self) -> usize {
        let (across, down) = self.cells();
        self.samples.bytes() + across * down * size_of::<f32>() + size_of::<Block>()
    }

    /// Height between the four samples around a row and column, m; NaN when one that counts is missing. Places outside
    /// take the nearest edge.
    #[inline]
    pub fn height(&self, y: f64, x: f64) -> f64 {
        let (at, v, u) = self.among(y, x);
        let [a, b] = self.samples.pair(at);
        let [c, d] = self.samples.pair(at + self.shape.columns as usize);
        let north = a + (b - a) * u;
        let south = c + (d - c) * u;
        north + (south - north) * v
    }

    /// The number of the north-western of the four samples around a row and column, and the shares southward and eastward from it.
    #[inline]
    fn among(&self, y: f64, x: f64) -> (usize, f64, f64) {
        let (columns, rows) = (self.shape.columns as usize, self.shape.rows as usize);
        let (y, x) = (y.clamp(0.0, (rows - 1) as f64), x.clamp(0.0, (columns - 1) as f64));
        let (row, column) = ((y as usize).min(rows - 2), (x as usize).min(columns - 2));
        (row * columns + column, y - row as f64, x - column as f64)
    }

    /// Heights along a straight line inside the block, each handed on with its number, m; NaN as in [`Block::height`].
    #[inline]
    pub(crate) fn heights(&self, (y, x): (f64, f64), step: (f64, f64), count: usize, mut take: impl FnMut(usize, f32)) {
        match &self.samples {
            Samples::Whole(s) => self.walk(|i| metres(s[i]), (y, x), step, count, &mut take),
            Samples::Any(s) => self.walk(|i| s[i], (y, x), step, count, &mut take),
        }
    }

    /// The first sample, and from one to the next, of a line that runs from sample to sample but for rounding; `None` where it does not.
    fn samples_along(&self, from: (f64, f64), step: (f64, f64), count: usize) -> Option<(usize, isize)> {
        /// Some millimetres of the ground.
        const ROUNDING: f64 = 1e-4;
        let on = |v: f64, step: f64, samples: u32| {
            let (first, by) = (v.round(), step.round());
            let last = first + by * (count.saturating_sub(1)) as f64;
            let near = (v - first).abs() < ROUNDING && (step - by).abs() * (count as f64) < ROUNDING;
            let inside = |v: f64| v >= 0.0 && v < f64::from(samples);
            (near && inside(first) && inside(last)).then_some((first as usize, by as isize))
        };
        let ((row, down), (column, right)) =
            (on(from.0, step.0, self.shape.rows)?, on(from.1, step.1, self.shape.columns)?);
        let columns = self.shape.columns as usize;
        Some((row * columns + column, down * columns as isize + right))
    }

    #[inline]
    fn walk(
        &self,
        at: impl Fn(usize) -> f32,
        from: (f64, f64),
        step: (f64, f64),
        count: usize,
        take: &mut impl FnMut(usize, f32),
    ) {
        if let Some((first, stride)) = self.samples_along(from, step, count) {
            for k in 0..count {
                take(k, at(first.wrapping_add_signed(stride * k as isize)));
            }
            return;
        }
        let columns = self.shape.columns as usize;
        for k in 0..count {
            let (i, v, u) = self.among(from.0 + step.0 * k as f64, from.1 + step.1 * k as f64);
            let (v, u) = (v as f32, u as f32);
            let (a, b, c, d) = (at(i), at(i + 1), at(i + columns), at(i + columns + 1));
            let (north, south) = (a + (b - a) * u, c + (d - c) * u);
            take(k, north + (south - north) * v);
        }
    }

    /// The highest sample of the cell around a row and column.
    #[inline]
    pub(crate) fn highest(&self, y: f64, x: f64) -> f64 {
        let (columns, rows) = (self.shape.columns as usize, self.shape.rows as usize);
        let row = (y.clamp(0.0, (rows - 2) as f64) as usize) / CELL;
        let column = (x.clamp(0.0, (columns - 2) as f64) as usize) / CELL;
        let highest = self.highest.get_or_init(|| match &self.samples {
            Samples::Whole(s) => self.highest_of_cells(|i| metres(s[i])),
            Samples::Any(s) => self.highest_of_cells(|i| s[i]),
        });
        f64::from(highest[row * self.cells().0 + column])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shape(columns: u32, rows: u32) -> RasterShape {
        RasterShape { west_deg: 179.5, north_deg: -40.0, lon_step_deg: 0.01, lat_step_deg: 0.02, columns, rows }
    }

    #[test]
    fn a_plane_is_interpolated_exactly_and_a_hole_is_never_a_number() {
        let mut samples: Vec<f32> = (0..50 * 40).map(|i| (i / 50) as f32 * 2.0 + (i % 50) as f32).collect();
        let block = Block::new(shape(50, 40), samples.clone()).unwrap();
        for (y, x) in [(0.0, 0.0), (3.25, 7.5), (38.9, 48.2), (39.0, 49.0)] {
            assert!((block.height(y, x) - (2.0 * y + x)).abs() < 1e-5);
            assert!(block.highest(y, x) >= block.height(y, x));
        }
        assert_eq!(block.height(-0.5, -0.5), 0.0);
        samples[5 * 50 + 5] = f32::NAN;
        let block = Block::new(shape(50, 40), samples).unwrap();
        assert!(block.height(5.1, 4.9).is_nan() && block.height(4.5, 4.5).is_nan());
        assert_eq!(block.highest(1.0, 1.0), f64::INFINITY);
        assert!(block.highest(20.0, 20.0).is_finite());
        assert!(Block::new(shape(50, 40), vec![0.0; 7]).is_none());
    }

    #[test]
    fn whole_metres_take_half_the_room_and_are_the_same_heights() {
        let whole: Vec<f32> =
            (0..50 * 40).map(|i| if i == 77 { f32::NAN } else { (i * 13 % 8000) as f32 - 400.0 }).collect();
        let mut other = whole.clone();
        other[1999] += 0.5;
        let (a, b) = (Block::new(shape(50, 40), whole).unwrap(), Block::new(shape(50, 40), other).unwrap());
        assert!(a.bytes() * 10 < b.bytes() * 6, "{} {}", a.bytes(), b.bytes());
        for i in 0..900 {
            let (y, x) = (f64::from(i) * 0.04, f64::from(i % 47) + 0.31);
            assert_eq!(a.height(y, x).to_bits(), b.height(y, x).to_bits());
        }
        // A line of places has the heights of its places.
        let (mut seen, step) = (0, (0.3, -0.2));
        for block in [&a, &b] {
            block.heights((0.1, 40.0), step, 100, |k, height| {
                let one = block.height(0.1 + 0.3 * k as f64, 40.0 - 0.2 * k as f64);
                assert!((one - f64::from(height)).abs() < 2e-3 || (one.is_nan() && height.is_nan()), "{k}");
                seen += 1;
            });
        }
        assert_eq!(seen, 200);
        assert!(a.height(1.0, 27.0).is_nan());
    }

    #[test]
    fn places_are_found_across_the_date_line_and_half_a_sample_outside() {
        let shape = shape(101, 11);
        let (y, x) = shape.locate(-40.1, -179.75).unwrap();
        assert!((y - 5.0).abs() < 1e-9 && (x - 75.0).abs() < 1e-9);
        assert!(shape.locate(-40.0 + 0.009, 179.496).is_some());
        assert!(shape.locate(-40.0 + 0.011, 179.5).is_none());
        assert!(shape.locate(-40.1, 0.0).is_none());
    }
}
