//! The ground as the page carries it: heights and margins above the skyline on a grid whose size is bounded.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use noonfall_ephemeris::GeoPoint;
use noonfall_scoring::input::terrain::{RasterShape, Terrain, TerrainError};
use noonfall_scoring::outlook::skyline::{GroundView, RayOptions};
use noonfall_scoring::outlook::sunlit::area::part_in_path;
use noonfall_scoring::outlook::sunlit::{SunlitOptions, blocks, sunlit_block};
use noonfall_shadow::Eclipse;
use rayon::prelude::*;
use serde::Serialize;

/// Nodes at most: three bytes each, in base 64 not more than 400 kB.
const MOST_NODES: f64 = 99_000.0;
/// Cells of terrain that are swept for it at most; a larger area gets fewer nodes, asked one by one.
const MOST_CELLS: f64 = 60e6;
const MOST_ASKED: f64 = 12_000.0;
/// Cells of the terrain from node to node that a sweep still looks at one by one.
const SWEPT_STEPS: f64 = 8.0;

/// No height, and no margin.
const NO_HEIGHT: i16 = i16::MIN;
const NO_MARGIN: u8 = 255;

/// A grid of nodes, north up, row by row from the north-west.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct GroundEntry {
    /// Longitude of the first column, degrees.
    pub west_deg: f64,
    /// Latitude of the first row, degrees.
    pub north_deg: f64,
    /// From column to column, degrees.
    pub lon_step_deg: f64,
    /// From row to row, southward, degrees.
    pub lat_step_deg: f64,
    /// Number of columns.
    pub columns: u32,
    /// Number of rows.
    pub rows: u32,
    /// Heights, m, sixteen bits, low byte first, in base 64; −32768 where there is none.
    pub heights: String,
    /// Least margin of the Sun's centre above the skyline in totality, a byte, in base 64: fifths of a degree above −20°, 250 for
    /// all from 30° up; 255 outside the path and where it is not known.
    pub margins: String,
}

impl GroundEntry {
    /// The grid over the part of the terrain that lies in the path; `None` where none does.
    ///
    /// # Errors
    /// [`TerrainError`] when an elevation file cannot be read.
    pub fn over(
        eclipse: &Eclipse,
        terrain: &Terrain,
        rays: RayOptions,
        near_lon_deg: f64,
    ) -> Result<Option<GroundEntry>, TerrainError> {
        let span = terrain.span_deg(near_lon_deg);
        let Some(part) = part_in_path(eclipse, span) else { return Ok(None) };
        let (west, south, east, north) = part;
        let Some((native_lat, native_lon)) = terrain.steps_in_deg(west, south, east, north) else { return Ok(None) };
        let cells = (east - west) / native_lon * ((north - south) / native_lat);
        let swept = cells <= MOST_CELLS;
        let shrink = (0.5 * (south + north)).to_radians().cos().max(0.05);
        let area = (east - west) * shrink * (north - south);
        let most = if swept { MOST_NODES } else { MOST_ASKED };
        // Rows and columns about as far apart, a whole number of swept nodes.
        let wanted = (1.04 * area / most).sqrt();
        let unit = SWEPT_STEPS * native_lat;
        let every = (wanted / unit).ceil().max(1.0);
        let lat_step_deg = every * unit;
        let lon_step_deg = lat_step_deg / shrink;
        let shape = RasterShape {
            west_deg: west,
            north_deg: north,
            lon_step_deg,
            lat_step_deg,
            columns: ((east - west) / lon_step_deg).floor() as u32 + 1,
            rows: ((north - south) / lat_step_deg).floor() as u32 + 1,
        };
        if shape.columns < 2 || shape.rows < 2 {
            return Ok(None);
        }
        let view = GroundView::new(eclipse, terrain, rays);
        let place = |i: u32| GeoPoint {
            lat_deg: shape.north_deg - f64::from(i / shape.columns) * shape.lat_step_deg,
            lon_deg: shape.west_deg + f64::from(i % shape.columns) * shape.lon_step_deg,
        };
        let count = shape.columns * shape.rows;
        let heights: Vec<i16> = (0..count)
            .into_par_iter()
            .map(|i| view.height_m(place(i)).map_or(NO_HEIGHT, |m| m.round().clamp(-32000.0, 32000.0) as i16))
            .collect();
        let margins: Vec<u8> = if swept {
            swept_margins(eclipse, terrain, rays, &shape, every as u32)?
        } else {
            (0..count).into_par_iter().map(|i| packed(view.margin_deg(place(i)).unwrap_or(f64::NAN))).collect()
        };
        if margins.iter().all(|m| *m == NO_MARGIN) {
            return Ok(None);
        }
        let bytes: Vec<u8> = heights.iter().flat_map(|h| h.to_le_bytes()).collect();
        Ok(Some(GroundEntry {
            west_deg: shape.west_deg,
            north_deg: shape.north_deg,
            lon_step_deg,
            lat_step_deg,
            columns: shape.columns,
            rows: shape.rows,
            heights: STANDARD.encode(bytes),
            margins: STANDARD.encode(margins),
        }))
    }
}

/// Margins by the sweep, on a grid `every` times as fine, of which every so manieth node is kept.
fn swept_margins(
    eclipse: &Eclipse,
    terrain: &Terrain,
    ray: RayOptions,
    shape: &RasterShape,
    every: u32,
) -> Result<Vec<u8>, TerrainError> {
    let fine = RasterShape {
        lon_step_deg: shape.lon_step_deg / f64::from(every),
        lat_step_deg: shape.lat_step_deg / f64::from(every),
        columns: (shape.columns - 1) * every + 1,
        rows: (shape.rows - 1) * every + 1,
        ..*shape
    };
    let options = SunlitOptions { ray, ..SunlitOptions::default() };
    let mut margins = vec![NO_MARGIN; (shape.columns * shape.rows) as usize];
    for (column, row, part) in blocks(terrain, &fine, every) {
        // A single row or column at the end is no grid; its neighbours serve.
        if part.columns < 2 || part.rows < 2 {
            continue;
        }
        let block = sunlit_block(terrain, eclipse, &part, &options)?;
        for y in (0..part.rows).filter(|y| (row + y) % every == 0) {
            for x in (0..part.columns).filter(|x| (column + x) % every == 0) {
                let at = ((row + y) / every * shape.columns + (column + x) / every) as usize;
                margins[at] = packed(f64::from(block.margin_deg[(y * part.columns + x) as usize]));
            }
        }
    }
    Ok(margins)
}

/// A margin as a byte.
fn packed(margin_deg: f64) -> u8 {
    if margin_deg.is_finite() { (margin_deg * 5.0 + 100.0).round().clamp(0.0, 250.0) as u8 } else { NO_MARGIN }
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::Conventions;

    /// Invented ground near Alexandra, New Zealand: a wall before the Sun in the north-west.
    fn ground() -> (Eclipse, Terrain) {
        let eclipse =
            Eclipse::on_date(Kernel::embedded(), "2028-07-22".parse().expect("a date"), None, &Conventions::default())
                .expect("an eclipse");
        let shape = RasterShape {
            west_deg: 169.0,
            north_deg: -45.0,
            lon_step_deg: 1.0 / 1200.0,
            lat_step_deg: 1.0 / 1200.0,
            columns: 601,
            rows: 601,
        };
        let height = |i: u32| if (200..210).contains(&(i % 601)) { 1200.0 } else { 100.0 };
        let terrain = Terrain::from_grid("made", shape, (0..601 * 601).map(height).collect()).expect("terrain");
        (eclipse, terrain)
    }

    #[test]
    fn the_grid_has_the_grounds_heights_and_margins_and_keeps_its_size() {
        let (eclipse, terrain) = ground();
        let rays = RayOptions::default();
        let entry = GroundEntry::over(&eclipse, &terrain, rays, 169.0).expect("readable").expect("in the path");
        assert!(entry.heights.len() + entry.margins.len() <= 400_000);
        let heights = STANDARD.decode(&entry.heights).expect("base 64");
        let margins = STANDARD.decode(&entry.margins).expect("base 64");
        assert_eq!(heights.len(), 2 * margins.len());
        assert_eq!(margins.len() as u32, entry.columns * entry.rows);
        let view = GroundView::new(&eclipse, &terrain, rays);
        let (mut hidden, mut free) = (0, 0);
        for (i, margin) in margins.iter().enumerate() {
            let (row, column) = (i as u32 / entry.columns, i as u32 % entry.columns);
            let at = GeoPoint {
                lat_deg: entry.north_deg - f64::from(row) * entry.lat_step_deg,
                lon_deg: entry.west_deg + f64::from(column) * entry.lon_step_deg,
            };
            let height = i16::from_le_bytes([heights[2 * i], heights[2 * i + 1]]);
            match view.height_m(at) {
                Some(m) => assert!((f64::from(height) - m).abs() <= 0.5),
                None => assert_eq!(height, NO_HEIGHT),
            }
            let (Some(asked), true) = (view.margin_deg(at), *margin != NO_MARGIN) else { continue };
            let carried = f64::from(*margin) / 5.0 - 20.0;
            // Beside the wall a cell more or less decides; away from it the sweep and the single ray agree.
            if (asked - carried).abs() < 0.3 || asked < 0.0 && carried < 0.0 {
                if carried < 0.0 { hidden += 1 } else { free += 1 }
            }
        }
        assert!(hidden > 20 && free > 20, "{hidden} {free}");
        assert!(hidden + free > margins.len() * 9 / 10, "{hidden} {free} of {}", margins.len());
        // Elsewhere on Earth there is nothing to carry.
        let shape = RasterShape {
            west_deg: 10.0,
            north_deg: 50.0,
            lon_step_deg: 0.01,
            lat_step_deg: 0.01,
            columns: 50,
            rows: 50,
        };
        let away = Terrain::from_grid("away", shape, vec![0.0; 2500]).expect("terrain");
        assert_eq!(GroundEntry::over(&eclipse, &away, rays, 10.0), Ok(None));
    }
}
