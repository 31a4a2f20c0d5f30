//! A file in another coordinate system, or turned, laid out anew in latitude and longitude at its own resolution.
//!
//! Each new sample takes the height between the four stored ones around it. Coordinates are projected every [`EVERY`] samples and run
//! straight between: half a kilometre of a projection bends by centimetres.

use std::io::{Read, Seek};

use tiff::decoder::Decoder;
use tiff::tags::Tag;

use super::crs::{Crs, System};
use super::geotiff::Samples;
use super::raster::RasterShape;

/// Between projected samples.
const EVERY: usize = 16;
/// Side of the pieces that are laid out one by one.
const PIECE: u32 = 128;
/// Stored samples that a piece may need at most: beyond, the projection is not what the keys say.
const MOST_STORED: u64 = 32 << 20;
/// A transverse Mercator projection is not used farther from its meridian, m.
const FARTHEST_EAST_M: f64 = 2.5e6;

/// From a stored sample's column and row to the file's coordinates: x = a + b·column + c·row, y = d + e·column + f·row.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Affine {
    x: [f64; 3],
    y: [f64; 3],
}

impl Affine {
    /// From pixel scale and tie point, or the transformation.
    pub(crate) fn of<R: Read + Seek>(decoder: &mut Decoder<R>, pixel_is_point: bool) -> Option<Affine> {
        let mut numbers = |tag: Tag| decoder.find_tag(tag).ok().flatten().and_then(|v| v.into_f64_vec().ok());
        let affine =
            if let (Some(scale), Some(tie)) = (numbers(Tag::ModelPixelScaleTag), numbers(Tag::ModelTiepointTag)) {
                let (&[i, j, _, x, y, _], &[sx, sy, ..]) = (tie.get(..6)?, scale.as_slice()) else { return None };
                Affine { x: [x - i * sx, sx, 0.0], y: [y + j * sy, 0.0, -sy] }
            } else {
                let m = numbers(Tag::ModelTransformationTag).filter(|m| m.len() == 16)?;
                Affine { x: [m[3], m[0], m[1]], y: [m[7], m[4], m[5]] }
            };
        // Coordinates of the middle of a pixel.
        let half = if pixel_is_point { 0.0 } else { 0.5 };
        let (x, y) = affine.at(half, half);
        let affine = Affine { x: [x, affine.x[1], affine.x[2]], y: [y, affine.y[1], affine.y[2]] };
        let all = [affine.x, affine.y].concat();
        (all.iter().all(|v| v.is_finite()) && affine.determinant().abs() > 0.0).then_some(affine)
    }

    fn determinant(&self) -> f64 {
        self.x[1] * self.y[2] - self.x[2] * self.y[1]
    }

    fn at(&self, column: f64, row: f64) -> (f64, f64) {
        (self.x[0] + self.x[1] * column + self.x[2] * row, self.y[0] + self.y[1] * column + self.y[2] * row)
    }

    /// Column and row of coordinates.
    fn sample(&self, x: f64, y: f64) -> (f64, f64) {
        let (dx, dy, d) = (x - self.x[0], y - self.y[0], self.determinant());
        ((dx * self.y[2] - dy * self.x[2]) / d, (dy * self.x[1] - dx * self.y[1]) / d)
    }

    /// First x, first y, step eastward and step southward of a grid that is north up.
    pub(crate) fn north_up(&self) -> Option<(f64, f64, f64, f64)> {
        let straight = self.x[2] == 0.0 && self.y[1] == 0.0 && self.x[1] > 0.0 && self.y[2] < 0.0;
        straight.then_some((self.x[0], self.y[0], self.x[1], -self.y[2]))
    }
}

/// The way from new samples to stored ones.
#[derive(Debug)]
pub(crate) struct Warp {
    /// `None` for latitude and longitude of WGS 84.
    crs: Option<Box<Crs>>,
    affine: Affine,
}

impl Warp {
    /// Where a file's new samples lie.
    ///
    /// # Errors
    /// What is wrong and what would be right, where the file does not lie on the Earth as its keys describe it.
    pub(crate) fn new(
        system: System,
        affine: Affine,
        columns: u32,
        rows: u32,
    ) -> Result<(RasterShape, Warp), (String, String)> {
        const RIGHT: &str = "check its coordinate system, and that its x is the easting or longitude and its y the northing or latitude";
        let crs = match system {
            System::LikeWgs84 => None,
            System::Other(crs) => Some(crs),
        };
        let warp = Warp { crs, affine };
        let name = warp.crs.as_ref().map_or("WGS 84", |c| c.name.as_str()).to_owned();
        let refuse = |wrong: String| (wrong, RIGHT.to_owned());
        if columns < 2 || rows < 2 {
            return Err(refuse(format!("it has only {columns} × {rows} samples")));
        }
        let (last_column, last_row) = (f64::from(columns - 1), f64::from(rows - 1));
        let middle = warp.place(last_column / 2.0, last_row / 2.0);
        let outside = || refuse(format!("its coordinates do not lie within {name}"));
        let middle = middle.ok_or_else(outside)?;
        // The rim, and a step in the middle.
        let mut span = (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
        let turn = |lon: f64| middle.1 + (lon - middle.1 + 540.0).rem_euclid(360.0) - 180.0;
        const PARTS: u32 = 32;
        for i in 0..=PARTS {
            let t = f64::from(i) / f64::from(PARTS);
            for (column, row) in
                [(t * last_column, 0.0), (t * last_column, last_row), (0.0, t * last_row), (last_column, t * last_row)]
            {
                let (lat, lon) = warp.place(column, row).ok_or_else(outside)?;
                let lon = turn(lon);
                span = (span.0.min(lon), span.1.min(lat), span.2.max(lon), span.3.max(lat));
            }
        }
        if let Some(crs) = &warp.crs {
            let (x, y) = affine.at(last_column / 2.0, last_row / 2.0);
            let back = crs.of_wgs84(middle.0, middle.1).ok_or_else(outside)?;
            let step = affine.x[1].abs() + affine.x[2].abs();
            if (back.0 - x).hypot(back.1 - y) > step || crs.east_of_meridian_m(x).is_some_and(|d| d > FARTHEST_EAST_M) {
                return Err(outside());
            }
            for pole in [90.0, -90.0] {
                let inside = crs.of_wgs84(pole, 0.0).map(|(x, y)| affine.sample(x, y)).is_some_and(|(column, row)| {
                    (0.0..=last_column).contains(&column) && (0.0..=last_row).contains(&row)
                });
                if inside {
                    span = (-180.0, span.1.min(pole), 180.0, span.3.max(pole));
                }
            }
        }
        // The side of a stored sample on the ground.
        let beside = warp.place(last_column / 2.0 + 1.0, last_row / 2.0).ok_or_else(outside)?;
        let below = warp.place(last_column / 2.0, last_row / 2.0 + 1.0).ok_or_else(outside)?;
        let cos = middle.0.to_radians().cos();
        let side = |to: (f64, f64)| (to.0 - middle.0).hypot((turn(to.1) - middle.1) * cos);
        let step = side(beside).min(side(below));
        let cos_least = span.1.abs().min(span.3.abs()).to_radians().cos().max(0.02);
        let lon_step = (step / if span.2 - span.0 > 180.0 { cos_least } else { cos.max(0.02) }).min(1.0);
        if !(step.is_finite() && step > 1e-9) {
            return Err(outside());
        }
        let count = |length: f64, step: f64| (length / step).ceil() + 1.0;
        let (new_columns, new_rows) = (count(span.2 - span.0, lon_step), count(span.3 - span.1, step));
        if new_columns > 2e7 || new_rows > 2e7 {
            return Err(refuse("it is too fine for its size".to_owned()));
        }
        let shape = RasterShape {
            west_deg: span.0,
            north_deg: span.3.min(90.0),
            lon_step_deg: lon_step,
            lat_step_deg: step,
            columns: (new_columns as u32).max(2),
            rows: (new_rows as u32).max(2),
        };
        match shape.fault() {
            Some(wrong) => Err(refuse(wrong)),
            None => Ok((shape, warp)),
        }
    }

    /// Latitude and longitude of a stored sample.
    fn place(&self, column: f64, row: f64) -> Option<(f64, f64)> {
        let (x, y) = self.affine.at(column, row);
        match &self.crs {
            Some(crs) => crs.to_wgs84(x, y),
            None => (y.abs() <= 90.0 && x.abs() <= 540.0).then_some((y, x)),
        }
    }

    /// Column and row among the stored samples of a place.
    fn sample(&self, lat: f64, lon: f64) -> Option<(f64, f64)> {
        match &self.crs {
            Some(crs) => crs.of_wgs84(lat, lon).map(|(x, y)| self.affine.sample(x, y)),
            None => Some(self.affine.sample(lon, lat)),
        }
    }

    /// New samples of a rectangle.
    pub(crate) fn read(
        &self,
        samples: &Samples,
        shape: &RasterShape,
        at: (u32, u32),
        size: (u32, u32),
    ) -> Result<Vec<f32>, String> {
        let mut out = vec![f32::NAN; size.0 as usize * size.1 as usize];
        for top in (0..size.1).step_by(PIECE as usize) {
            for left in (0..size.0).step_by(PIECE as usize) {
                let part = (PIECE.min(size.0 - left), PIECE.min(size.1 - top));
                let piece = self.piece(samples, shape, (at.0 + left, at.1 + top), part)?;
                for (r, line) in piece.chunks_exact(part.0 as usize).enumerate() {
                    let from = (top as usize + r) * size.0 as usize + left as usize;
                    out[from..from + line.len()].copy_from_slice(line);
                }
            }
        }
        Ok(out)
    }

    fn piece(
        &self,
        samples: &Samples,
        shape: &RasterShape,
        at: (u32, u32),
        size: (u32, u32),
    ) -> Result<Vec<f32>, String> {
        let (columns, rows) = (size.0 as usize, size.1 as usize);
        let knots = |n: usize| (n - 1).div_ceil(EVERY) + 1;
        let (across, down) = (knots(columns).max(2), knots(rows).max(2));
        let known: Vec<(f64, f64)> = (0..across * down)
            .map(|i| {
                let (r, c) = ((i / across * EVERY) as f64, (i % across * EVERY) as f64);
                let lat = shape.north_deg - (f64::from(at.1) + r) * shape.lat_step_deg;
                let lon = shape.west_deg + (f64::from(at.0) + c) * shape.lon_step_deg;
                self.sample(lat.clamp(-90.0, 90.0), lon).unwrap_or((f64::NAN, f64::NAN))
            })
            .collect();
        let mut out = vec![f32::NAN; columns * rows];
        let (width, height) = (f64::from(samples.columns), f64::from(samples.rows));
        let reach = |pick: fn(&(f64, f64)) -> f64, most: f64| {
            let (low, high) = known
                .iter()
                .map(pick)
                .filter(|v| v.is_finite())
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
            let (low, high) = ((low - 1.0).floor().max(0.0), (high + 2.0).ceil().min(most - 1.0));
            (low <= high).then_some((low as u32, (high - low) as u32 + 1))
        };
        let (Some((left, wide)), Some((top, tall))) = (reach(|k| k.0, width), reach(|k| k.1, height)) else {
            return Ok(out);
        };
        if u64::from(wide) * u64::from(tall) > MOST_STORED {
            return Err("its projection is too distorted here".to_owned());
        }
        let stored = samples.read(left, top, wide, tall)?;
        for (i, height_m) in out.iter_mut().enumerate() {
            let (r, c) = (i / columns, i % columns);
            let (j, k) = ((r / EVERY).min(down - 2), (c / EVERY).min(across - 2));
            let (v, u) = ((r - j * EVERY) as f64 / EVERY as f64, (c - k * EVERY) as f64 / EVERY as f64);
            let four = [
                known[j * across + k],
                known[j * across + k + 1],
                known[(j + 1) * across + k],
                known[(j + 1) * across + k + 1],
            ];
            let blend = |pick: fn(&(f64, f64)) -> f64| {
                let [a, b, c, d] = four.each_ref().map(pick);
                let (north, south) = (a + (b - a) * u, c + (d - c) * u);
                north + (south - north) * v
            };
            let (x, y) = (blend(|f| f.0), blend(|f| f.1));
            // Half a sample beyond the outermost the nearest serves.
            let inside = x >= -0.5 && y >= -0.5 && x <= width - 0.5 && y <= height - 0.5;
            if !inside {
                continue;
            }
            let (x, y) = (x.clamp(0.0, width - 1.0) - f64::from(left), y.clamp(0.0, height - 1.0) - f64::from(top));
            *height_m = between(&stored, wide as usize, tall as usize, x, y);
        }
        Ok(out)
    }
}

/// Height between the four samples around a column and row; NaN where one that counts is missing.
fn between(stored: &[f32], wide: usize, tall: usize, x: f64, y: f64) -> f32 {
    let (c, r) = ((x.max(0.0) as usize).min(wide.saturating_sub(2)), (y.max(0.0) as usize).min(tall.saturating_sub(2)));
    let (u, v) = (x - c as f64, y - r as f64);
    let at = |r: usize, c: usize| f64::from(stored[r.min(tall - 1) * wide + c.min(wide - 1)]);
    // A missing neighbour without weight does not matter.
    let mix = |a: f64, b: f64, t: f64| {
        if t < 1e-6 {
            a
        } else if t > 1.0 - 1e-6 {
            b
        } else {
            a + (b - a) * t
        }
    };
    mix(mix(at(r, c), at(r, c + 1), u), mix(at(r + 1, c), at(r + 1, c + 1), u), v) as f32
}
