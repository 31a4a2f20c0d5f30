//! Which places with figures speak for a point between them, and with what weight.

use noonfall_ephemeris::GeoPoint;
use rstar::RTree;
use rstar::primitives::GeomWithData;

use super::CloudGap;
use crate::input::clouds::{CloudNode, GridShape, wrapped};

/// How far a station's figures are carried unless set otherwise, km (common practice, no source: cloud climates of places
/// farther apart, or across a coast or a range, have little to do with each other).
pub const DEFAULT_REACH_KM: f64 = 150.0;

/// Stations that speak for a point at most.
const MOST: usize = 8;
/// A station this near is the place itself, km.
const HERE_KM: f64 = 1.0;
/// Mean radius of the Earth, km (IUGG).
const EARTH_KM: f64 = 6371.0088;

/// Places and their weights, which sum to 1.
#[derive(Clone, Copy, Debug)]
pub(super) struct Blend {
    items: [(usize, f64); MOST],
    len: usize,
    /// Distance to the nearest place, km.
    pub nearest_km: f64,
    /// Points of the grid are missing.
    pub partial: bool,
}

impl Blend {
    fn new() -> Blend {
        Blend { items: [(0, 0.0); MOST], len: 0, nearest_km: 0.0, partial: false }
    }

    fn push(&mut self, node: usize, weight: f64) {
        if self.len < MOST {
            self.items[self.len] = (node, weight);
            self.len += 1;
        }
    }

    fn normalised(mut self) -> Blend {
        let sum: f64 = self.items[..self.len].iter().map(|i| i.1).sum();
        for item in &mut self.items[..self.len] {
            item.1 /= sum;
        }
        self
    }

    pub fn len(&self) -> usize {
        self.len
    }

    pub fn nodes(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.items[..self.len].iter().copied()
    }

    /// The place with the most weight, the first of equals.
    pub fn heaviest(&self) -> usize {
        self.nodes().fold((0, -1.0), |best, item| if item.1 > best.1 { item } else { best }).0
    }
}

/// How the places lie.
#[derive(Debug)]
pub(super) enum Geometry {
    /// On a regular grid.
    Grid(Lattice),
    /// Anywhere.
    Stations(Stations),
}

impl Geometry {
    /// Of an archive that says where its grid lies, or of places that show it.
    pub fn of(nodes: &[CloudNode], grid: Option<GridShape>) -> Geometry {
        let lattice = match grid {
            Some(shape) => Lattice::of_shape(shape, nodes),
            None => Lattice::of(nodes),
        };
        lattice.map_or_else(|| Geometry::Stations(Stations::of(nodes)), Geometry::Grid)
    }

    /// Side of a grid's cell at a latitude, km: the square of the same area. `None` for stations.
    pub fn cell_km(&self, lat_deg: f64) -> Option<f64> {
        let Geometry::Grid(lattice) = self else { return None };
        let area = lattice.lat_step * lattice.lon_step * lat_deg.to_radians().cos().max(0.01);
        Some(area.sqrt().to_radians() * EARTH_KM)
    }

    pub fn blend(
        &self,
        nodes: &[CloudNode],
        lat_deg: f64,
        lon_deg: f64,
        name: Option<&str>,
        reach_km: f64,
    ) -> Result<Blend, CloudGap> {
        match self {
            Geometry::Grid(lattice) => lattice.blend(nodes, lat_deg, lon_deg),
            Geometry::Stations(stations) => stations.blend(nodes, lat_deg, lon_deg, name, reach_km),
        }
    }
}

pub(super) fn label(node: &CloudNode) -> String {
    node.name.clone().unwrap_or_else(|| place(node.lat_deg, node.lon_deg))
}

fn place(lat_deg: f64, lon_deg: f64) -> String {
    let (ns, ew) = (if lat_deg < 0.0 { "S" } else { "N" }, if lon_deg < 0.0 { "W" } else { "E" });
    format!("{:.2}° {ns} {:.2}° {ew}", lat_deg.abs(), lon_deg.abs())
}

/// Distance on the mean sphere, within 0.5 % of that on the ellipsoid.
pub(super) fn great_circle_km(lat1_deg: f64, lon1_deg: f64, lat2_deg: f64, lon2_deg: f64) -> f64 {
    let (a, b) = (unit(lat1_deg, lon1_deg), unit(lat2_deg, lon2_deg));
    angle_km((0..3).map(|i| (a[i] - b[i]).powi(2)).sum())
}

fn unit(lat_deg: f64, lon_deg: f64) -> [f64; 3] {
    GeoPoint { lat_deg, lon_deg }.direction()
}

/// The arc that belongs to a squared chord of the unit sphere.
fn angle_km(chord_squared: f64) -> f64 {
    2.0 * EARTH_KM * (chord_squared.sqrt() / 2.0).min(1.0).asin()
}

/// Stations anywhere, found by nearness.
#[derive(Debug)]
pub(super) struct Stations {
    tree: RTree<GeomWithData<[f64; 3], usize>>,
    by_name: std::collections::HashMap<String, usize>,
}

impl Stations {
    fn of(nodes: &[CloudNode]) -> Stations {
        let points = nodes.iter().enumerate().map(|(i, n)| GeomWithData::new(unit(n.lat_deg, n.lon_deg), i));
        let names = nodes.iter().enumerate().filter_map(|(i, n)| n.name.as_ref().map(|name| (name.to_lowercase(), i)));
        Stations { tree: RTree::bulk_load(points.collect()), by_name: names.collect() }
    }

    fn blend(
        &self,
        nodes: &[CloudNode],
        lat_deg: f64,
        lon_deg: f64,
        name: Option<&str>,
        reach_km: f64,
    ) -> Result<Blend, CloudGap> {
        let mut blend = Blend::new();
        // A name says which station is meant, as long as it is not merely a namesake far away.
        if let Some(&node) = name.and_then(|n| self.by_name.get(&n.trim().to_lowercase())) {
            let distance_km = great_circle_km(lat_deg, lon_deg, nodes[node].lat_deg, nodes[node].lon_deg);
            if distance_km <= reach_km {
                blend.push(node, 1.0);
                blend.nearest_km = distance_km;
                return Ok(blend);
            }
        }
        let mut near: Vec<(f64, usize)> = Vec::with_capacity(MOST + 1);
        for (point, chord) in self.tree.nearest_neighbor_iter_with_distance_2(&unit(lat_deg, lon_deg)) {
            let distance_km = angle_km(chord);
            if near.len() >= MOST || (distance_km > reach_km && !near.is_empty()) {
                break;
            }
            near.push((distance_km, point.data));
        }
        // Equal distances in the order of the file.
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let Some(&(nearest_km, nearest)) = near.first() else { return Err(CloudGap::Question) };
        if nearest_km > reach_km {
            return Err(CloudGap::TooFar { nearest: label(&nodes[nearest]), distance_km: nearest_km, reach_km });
        }
        blend.nearest_km = nearest_km;
        if nearest_km <= HERE_KM {
            blend.push(nearest, 1.0);
            return Ok(blend);
        }
        for (distance_km, node) in near.into_iter().filter(|n| n.0 <= reach_km) {
            blend.push(node, distance_km.powi(-2));
        }
        Ok(blend.normalised())
    }
}

/// A regular grid of latitude and longitude.
#[derive(Debug)]
pub(super) struct Lattice {
    lat0: f64,
    lat_step: f64,
    rows: usize,
    lon0: f64,
    lon_step: f64,
    columns: usize,
    /// The grid goes round the Earth.
    around: bool,
    /// Node at row × columns + column.
    nodes: Vec<Option<u32>>,
}

impl Lattice {
    /// The grid that an archive describes; only some of its points may have been read.
    fn of_shape(shape: GridShape, nodes: &[CloudNode]) -> Option<Lattice> {
        let GridShape { lat0_deg, lat_step_deg, rows, lon0_deg, lon_step_deg, columns } = shape;
        if rows < 2 || columns < 2 || !(lat_step_deg > 0.0 && lon_step_deg > 0.0) {
            return None;
        }
        let cells = rows.checked_mul(columns).filter(|n| *n < u32::MAX as usize)?;
        let around = (columns as f64 * lon_step_deg - 360.0).abs() < 0.02 * lon_step_deg;
        let mut lattice = Lattice {
            lat0: lat0_deg,
            lat_step: lat_step_deg,
            rows,
            lon0: lon0_deg,
            lon_step: lon_step_deg,
            columns,
            around,
            nodes: vec![None; cells],
        };
        for (i, node) in nodes.iter().enumerate() {
            let row = ((node.lat_deg - lat0_deg) / lat_step_deg).round();
            let column =
                ((node.lon_deg - lon0_deg + 0.25 * lon_step_deg).rem_euclid(360.0) / lon_step_deg - 0.25).round();
            if row < 0.0 || column < 0.0 || row >= rows as f64 || column >= columns as f64 {
                return None;
            }
            lattice.nodes[row as usize * columns + column as usize] = Some(i as u32);
        }
        Some(lattice)
    }

    /// The grid that unnamed places form, when at least 60 % of its points are there.
    fn of(nodes: &[CloudNode]) -> Option<Lattice> {
        if nodes.len() < 4 || nodes.iter().any(|n| n.name.is_some()) || nodes.len() >= u32::MAX as usize {
            return None;
        }
        let unique = |mut values: Vec<f64>| {
            values.sort_by(f64::total_cmp);
            values.dedup();
            values
        };
        let lats = unique(nodes.iter().map(|n| n.lat_deg).collect());
        let lons = unique(nodes.iter().map(|n| n.lon_deg).collect());
        if lats.len() < 2 || lons.len() < 2 {
            return None;
        }
        let lat_step = least_step(&lats)?;
        // The widest gap round the circle is where the grid begins and ends.
        let gap = |i: usize| {
            if i + 1 < lons.len() { lons[i + 1] - lons[i] } else { lons[0] + 360.0 - lons[i] }
        };
        let widest = (0..lons.len()).fold(lons.len() - 1, |w, i| if gap(i) > gap(w) + 1e-9 { i } else { w });
        let start = (widest + 1) % lons.len();
        let lon0 = lons[start];
        let turned: Vec<f64> =
            (0..lons.len()).map(|i| (lons[(start + i) % lons.len()] - lon0).rem_euclid(360.0)).collect();
        let lon_step = least_step(&turned)?;
        let rows = whole(lats[lats.len() - 1] - lats[0], lat_step)? + 1;
        let columns = whole(*turned.last()?, lon_step)? + 1;
        if rows.checked_mul(columns)? > nodes.len() * 5 / 3 + 1 {
            return None;
        }
        let around = (gap(widest) - lon_step).abs() < 0.02 * lon_step;
        let mut lattice = Lattice {
            lat0: lats[0],
            lat_step,
            rows,
            lon0,
            lon_step,
            columns,
            around,
            nodes: vec![None; rows * columns],
        };
        for (i, node) in nodes.iter().enumerate() {
            let row = whole(node.lat_deg - lattice.lat0, lat_step)?;
            let column = whole((node.lon_deg - lon0).rem_euclid(360.0), lon_step)?;
            let cell = lattice.nodes.get_mut(row * columns + column)?;
            if cell.replace(i as u32).is_some() {
                return None;
            }
        }
        Some(lattice)
    }

    fn blend(&self, nodes: &[CloudNode], lat_deg: f64, lon_deg: f64) -> Result<Blend, CloudGap> {
        let (rows, columns) = (self.rows as f64, self.columns as f64);
        let turn = 360.0 / self.lon_step;
        let y = (lat_deg - self.lat0) / self.lat_step;
        let mut x = (lon_deg - self.lon0).rem_euclid(360.0) / self.lon_step;
        if !self.around && x > (columns - 1.0 + turn) / 2.0 {
            x -= turn;
        }
        // A point stands for its cell, half a step about it.
        let half = 0.5 + 1e-9;
        let inside = y >= -half && y <= rows - 1.0 + half && (self.around || (x >= -half && x <= columns - 1.0 + half));
        let (y_in, x_in) = (y.clamp(0.0, rows - 1.0), if self.around { x } else { x.clamp(0.0, columns - 1.0) });
        let (nearest_lat, nearest_lon) =
            (self.lat0 + y_in.round() * self.lat_step, wrapped(self.lon0 + x_in.round() * self.lon_step));
        let distance_km = great_circle_km(lat_deg, lon_deg, nearest_lat, nearest_lon);
        if !inside {
            return Err(CloudGap::OutsideGrid { nearest: place(nearest_lat, nearest_lon), distance_km });
        }
        let (row, column) = ((y_in as usize).min(self.rows - 2), x_in as usize);
        let column = if self.around { column % self.columns } else { column.min(self.columns - 2) };
        let (v, u) = (y_in - row as f64, if self.around { x_in.fract() } else { x_in - column as f64 });
        let mut blend = Blend::new();
        blend.nearest_km = distance_km;
        let mut missing = None;
        let mut lost = 0.0;
        for (dr, dc, weight) in
            [(0, 0, (1.0 - v) * (1.0 - u)), (0, 1, (1.0 - v) * u), (1, 0, v * (1.0 - u)), (1, 1, v * u)]
        {
            if weight <= 1e-12 {
                continue;
            }
            let (r, c) = (row + dr, (column + dc) % self.columns);
            match self.nodes[r * self.columns + c] {
                Some(node) => blend.push(node as usize, weight),
                None => {
                    lost += weight;
                    missing.get_or_insert((r, c));
                }
            }
        }
        if let Some((r, c)) = missing {
            blend.partial = true;
            if lost > 0.5 || blend.len == 0 {
                let (lat, lon) = (self.lat0 + r as f64 * self.lat_step, self.lon0 + c as f64 * self.lon_step);
                return Err(CloudGap::Hole { missing: place(lat, wrapped(lon)) });
            }
        }
        debug_assert!(blend.nodes().all(|(n, _)| n < nodes.len()));
        Ok(blend.normalised())
    }
}

/// The step of sorted values that all lie a whole number of steps apart.
fn least_step(values: &[f64]) -> Option<f64> {
    let step = values.windows(2).map(|w| w[1] - w[0]).fold(f64::INFINITY, f64::min);
    if !(step > 1e-6 && step.is_finite()) {
        return None;
    }
    // Rounded coordinates (0.33, 0.67, 1.00) give a slightly short least step: refine over the whole span.
    let span = values[values.len() - 1] - values[0];
    let steps = (span / step).round();
    let refined = span / steps;
    let fits = |s: f64| values.windows(2).all(|w| whole(w[1] - w[0], s).is_some());
    [refined, step].into_iter().find(|&s| fits(s) && whole(span, s).is_some())
}

/// How many steps a length is, when it is a whole number of them within 2 %.
fn whole(length: f64, step: f64) -> Option<usize> {
    let n = (length / step).round();
    ((length / step - n).abs() < 0.02 && (0.0..1e7).contains(&n)).then_some(n as usize)
}
