//! The ground under a ray, or under places that are asked one after the other: the block of samples looked at last.

use std::sync::Arc;

use super::raster::{Block, CELL};
use super::{Terrain, TerrainError};

/// The block under the ray, or under a line of places that are asked one after the other.
#[derive(Default)]
pub(crate) struct Ground {
    pub(crate) block: Option<Arc<Block>>,
    /// Turns of 360° from the ray's longitude to the block's.
    shift_deg: f64,
    per_lat: f64,
    per_lon: f64,
    last: (f64, f64),
}

impl Ground {
    /// Height of the ground at a place, m; NaN where no file covers it or the file has none there.
    #[inline]
    pub(crate) fn height_m(&mut self, terrain: &Terrain, lat: f64, lon: f64) -> Result<f64, TerrainError> {
        if !(self.covers(lat, lon) || self.go(terrain, lat, lon)?) {
            return Ok(f64::NAN);
        }
        let (y, x) = self.position(lat, lon);
        Ok(self.block.as_ref().map_or(f64::NAN, |b| b.height(y, x)))
    }

    /// Heights at places in a straight line, a step of latitude and longitude apart, each handed on with its number; NaN as in
    /// [`Ground::height_m`].
    ///
    /// # Units
    /// Degrees; metres.
    pub(crate) fn line(
        &mut self,
        terrain: &Terrain,
        first: (f64, f64),
        step: (f64, f64),
        count: usize,
        mut take: impl FnMut(usize, f32),
    ) -> Result<(), TerrainError> {
        let mut k = 0;
        while k < count {
            let (lat, lon) = (first.0 + step.0 * k as f64, first.1 + step.1 * k as f64);
            if !(self.covers(lat, lon) || self.go(terrain, lat, lon)?) {
                take(k, f32::NAN);
                k += 1;
                continue;
            }
            let (y, x) = self.position(lat, lon);
            let along = (-step.0 * self.per_lat, step.1 * self.per_lon);
            let more = self.steps_inside((y, x), along).min(count - k - 1);
            if let Some(block) = &self.block {
                block.heights((y, x), along, more + 1, |i, height| take(k + i, height));
            }
            k += more + 1;
        }
        Ok(())
    }

    /// How many more steps of rows and columns stay in the block.
    fn steps_inside(&self, (y, x): (f64, f64), step: (f64, f64)) -> usize {
        if self.block.as_ref().is_none_or(|b| b.overlaid) {
            return 0;
        }
        let steps = |v: f64, step: f64, last: f64| match step {
            up if up > 0.0 => (last - v) / up,
            down if down < 0.0 => v / -down,
            _ => f64::INFINITY,
        };
        // A hair less: the last step must not leave by rounding.
        let inside = steps(y, step.0, self.last.0).min(steps(x, step.1, self.last.1)) - 1e-6;
        if inside > 0.0 { inside.min(f64::from(u32::MAX)) as usize } else { 0 }
    }

    #[inline]
    pub(crate) fn position(&self, lat: f64, lon: f64) -> (f64, f64) {
        match &self.block {
            Some(b) => {
                ((b.shape.north_deg - lat) * self.per_lat, (lon + self.shift_deg - b.shape.west_deg) * self.per_lon)
            }
            None => (0.0, 0.0),
        }
    }

    #[inline]
    pub(crate) fn covers(&self, lat: f64, lon: f64) -> bool {
        let (y, x) = self.position(lat, lon);
        let free = self.block.as_ref().is_some_and(|b| !b.overlaid);
        free && y >= 0.0 && x >= 0.0 && y <= self.last.0 && x <= self.last.1
    }

    /// Moves to the block around a place; false where there is none.
    pub(crate) fn go(&mut self, terrain: &Terrain, lat: f64, lon: f64) -> Result<bool, TerrainError> {
        self.block = terrain.block(lat, lon)?;
        let Some(block) = &self.block else { return Ok(false) };
        let shape = &block.shape;
        let middle = shape.west_deg + f64::from(shape.columns - 1) / 2.0 * shape.lon_step_deg;
        self.shift_deg = -((lon - middle) / 360.0).round() * 360.0;
        (self.per_lat, self.per_lon) = (1.0 / shape.lat_step_deg, 1.0 / shape.lon_step_deg);
        self.last = (f64::from(shape.rows - 1), f64::from(shape.columns - 1));
        Ok(true)
    }

    /// Metres to where the ray leaves the cell around a row and column.
    #[inline]
    pub(crate) fn to_edge_m(&self, y: f64, x: f64, rate: (f64, f64)) -> f64 {
        let to = |v: f64, speed: f64| {
            let cell = CELL as f64;
            let low = (v / cell).floor() * cell;
            if speed > 0.0 {
                (low + cell - v) / speed
            } else if speed < 0.0 {
                (low - v) / speed
            } else {
                f64::INFINITY
            }
        };
        to(y, -rate.0 * self.per_lat).min(to(x, rate.1 * self.per_lon)).max(0.0)
    }
}
