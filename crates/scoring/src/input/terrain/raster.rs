//! What every elevation file has in common: where its samples lie, and the block read from it.

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

/// A rectangle of samples of one file. Neighbouring blocks share their edge, so that interpolation never needs two.
#[derive(Clone, Debug)]
pub struct Block {
    /// Where the block's samples lie.
    pub shape: RasterShape,
    /// Heights, m, row by row; NaN where the file has none.
    samples: Vec<f32>,
    /// The highest sample of each cell of [`CELL`] × [`CELL`] steps, edges included; infinite where a sample is missing.
    highest: Vec<f32>,
    cells_across: usize,
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
        let (across, down) = ((columns - 1).div_ceil(CELL), (rows - 1).div_ceil(CELL));
        let mut highest = Vec::with_capacity(across * down);
        for cell_row in 0..down {
            for cell_column in 0..across {
                let mut top = f32::NEG_INFINITY;
                for row in cell_row * CELL..=((cell_row + 1) * CELL).min(rows - 1) {
                    let from = row * columns + cell_column * CELL;
                    let to = row * columns + ((cell_column + 1) * CELL).min(columns - 1);
                    for &sample in &samples[from..=to] {
                        top = if sample.is_nan() { f32::INFINITY } else { top.max(sample) };
                    }
                }
                highest.push(top);
            }
        }
        Some(Block { shape, samples, highest, cells_across: across, overlaid: false })
    }

    /// Bytes that the block takes.
    pub fn bytes(&self) -> usize {
        (self.samples.len() + self.highest.len()) * size_of::<f32>() + size_of::<Block>()
    }

    /// Height between the four samples around a row and column, m; NaN when one that counts is missing. Places outside
    /// take the nearest edge.
    #[inline]
    pub fn height(&self, y: f64, x: f64) -> f64 {
        let (columns, rows) = (self.shape.columns as usize, self.shape.rows as usize);
        let y = y.clamp(0.0, (rows - 1) as f64);
        let x = x.clamp(0.0, (columns - 1) as f64);
        let (row, column) = ((y as usize).min(rows - 2), (x as usize).min(columns - 2));
        let (v, u) = (y - row as f64, x - column as f64);
        let at = row * columns + column;
        let [a, b] = [self.samples[at], self.samples[at + 1]].map(f64::from);
        let [c, d] = [self.samples[at + columns], self.samples[at + columns + 1]].map(f64::from);
        let north = a + (b - a) * u;
        let south = c + (d - c) * u;
        north + (south - north) * v
    }

    /// The highest sample of the cell around a row and column.
    #[inline]
    pub(crate) fn highest(&self, y: f64, x: f64) -> f64 {
        let (columns, rows) = (self.shape.columns as usize, self.shape.rows as usize);
        let row = (y.clamp(0.0, (rows - 2) as f64) as usize) / CELL;
        let column = (x.clamp(0.0, (columns - 2) as f64) as usize) / CELL;
        f64::from(self.highest[row * self.cells_across + column])
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
    fn places_are_found_across_the_date_line_and_half_a_sample_outside() {
        let shape = shape(101, 11);
        let (y, x) = shape.locate(-40.1, -179.75).unwrap();
        assert!((y - 5.0).abs() < 1e-9 && (x - 75.0).abs() < 1e-9);
        assert!(shape.locate(-40.0 + 0.009, 179.496).is_some());
        assert!(shape.locate(-40.0 + 0.011, 179.5).is_none());
        assert!(shape.locate(-40.1, 0.0).is_none());
    }
}
