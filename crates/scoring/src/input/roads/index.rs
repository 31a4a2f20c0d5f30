//! Pieces of road in cells, asked for the nearest.

use std::collections::HashMap;

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::geodesy;

use super::MOST_PIECES;

/// WGS 84: semi-major axis, m, and first eccentricity squared.
const A_M: f64 = 6_378_137.0;
const E2: f64 = 0.006_694_379_990_14;

/// Degrees that the unit of a stored coordinate stands for: a centimetre, and OpenStreetMap's own.
const UNIT_DEG: f64 = 1e-7;

/// A straight piece of road: its ends, latitude and longitude, and the number of its name.
#[derive(Clone, Copy, Debug)]
struct Piece {
    from: [i32; 2],
    to: [i32; 2],
    name: u32,
}

/// The roads near the path.
#[derive(Clone, Debug)]
pub struct Roads {
    file: String,
    within_km: f64,
    /// Whether they come from an OpenStreetMap extract.
    openstreetmap: bool,
    /// Size of a cell in both directions, degrees.
    cell_deg: f64,
    names: Vec<String>,
    numbers: HashMap<String, u32>,
    pieces: Vec<Piece>,
    /// From where to where the pieces of a cell stand in `sorted`.
    cells: HashMap<(i32, i32), (u32, u32)>,
    sorted: Vec<u32>,
}

/// The road nearest to a place.
#[derive(Clone, Debug, PartialEq)]
pub struct NearRoad {
    /// Distance, km.
    pub distance_km: f64,
    /// Name or number; `None` where the file gives none.
    pub name: Option<String>,
}

impl Roads {
    pub(super) fn new(file: &str, within_km: f64) -> Roads {
        Roads {
            file: file.to_owned(),
            within_km,
            openstreetmap: false,
            cell_deg: (within_km / 111.0).clamp(0.005, 0.5),
            names: Vec::new(),
            numbers: HashMap::new(),
            pieces: Vec::new(),
            cells: HashMap::new(),
            sorted: Vec::new(),
        }
    }

    /// The file they come from.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// Notes that they come from an OpenStreetMap extract.
    pub(super) fn note_openstreetmap(&mut self) {
        self.openstreetmap = true;
    }

    /// Who must be named beside a drawing of them; `None` where the file does not say.
    pub fn credit(&self) -> Option<&'static str> {
        self.openstreetmap.then_some("Roads: OpenStreetMap contributors, ODbL")
    }

    /// The roads about a place as lines, in the order of the file: pieces that follow one another there are one line.
    ///
    /// # Units
    /// Kilometres; the distance is right within a few per cent.
    pub fn lines_near(&self, centre: GeoPoint, reach_km: f64) -> Vec<Vec<GeoPoint>> {
        let plane = Plane::at(centre);
        let mut lines: Vec<Vec<GeoPoint>> = Vec::new();
        let mut end = None;
        for piece in self.pieces.iter().filter(|piece| plane.foot(piece).0 <= reach_km) {
            let (lat_deg, lon_deg, lat_step, lon_step) = piece.unpacked();
            let to = GeoPoint { lat_deg: lat_deg + lat_step, lon_deg: lon_deg + lon_step };
            match lines.last_mut().filter(|_| end == Some((piece.from, piece.name))) {
                Some(line) => line.push(to),
                None => lines.push(vec![GeoPoint { lat_deg, lon_deg }, to]),
            }
            end = Some((piece.to, piece.name));
        }
        lines
    }

    /// How far from a road a place may be, km.
    pub fn within_km(&self) -> f64 {
        self.within_km
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.pieces.is_empty()
    }

    /// How many straight pieces there are.
    pub fn pieces(&self) -> usize {
        self.pieces.len()
    }

    /// The number of a name; 0 stands for none.
    pub(super) fn number(&mut self, name: Option<&str>) -> u32 {
        let Some(name) = name else { return 0 };
        if let Some(&number) = self.numbers.get(name) {
            return number;
        }
        self.names.push(name.to_owned());
        let number = self.names.len() as u32;
        self.numbers.insert(name.to_owned(), number);
        number
    }

    /// Adds a piece; `false` when there are too many.
    pub(super) fn add(&mut self, from: GeoPoint, to: GeoPoint, name: u32) -> bool {
        let packed = |p: GeoPoint| [(p.lat_deg / UNIT_DEG).round() as i32, (p.lon_deg / UNIT_DEG).round() as i32];
        if self.pieces.len() >= MOST_PIECES {
            return false;
        }
        self.pieces.push(Piece { from: packed(from), to: packed(to), name });
        true
    }

    /// Sorts the pieces into cells: into every cell that holds one of the points that lie half a cell apart along them.
    pub(super) fn finish(&mut self) {
        self.numbers = HashMap::new();
        let mut places: Vec<((i32, i32), u32)> = Vec::with_capacity(self.pieces.len() + self.pieces.len() / 4);
        for (i, piece) in self.pieces.iter().enumerate() {
            let (lat, lon, lat_step, lon_step) = piece.unpacked();
            let parts = (lat_step.abs().max(lon_step.abs()) / (0.5 * self.cell_deg)).ceil().max(1.0) as u32;
            let mut last = None;
            for part in 0..=parts {
                let t = f64::from(part) / f64::from(parts);
                let cell = self.cell(lat + t * lat_step, lon + t * lon_step);
                if last != Some(cell) {
                    places.push((cell, i as u32));
                    last = Some(cell);
                }
            }
        }
        places.sort_unstable();
        places.dedup();
        self.sorted = places.iter().map(|p| p.1).collect();
        let mut from = 0;
        for group in places.chunk_by(|a, b| a.0 == b.0) {
            let to = from + group.len() as u32;
            self.cells.insert(group[0].0, (from, to));
            from = to;
        }
    }

    fn cell(&self, lat_deg: f64, lon_deg: f64) -> (i32, i32) {
        let lon = (lon_deg + 180.0).rem_euclid(360.0);
        ((lat_deg / self.cell_deg).floor() as i32, (lon / self.cell_deg).floor() as i32)
    }

    /// Whether a road is near enough.
    pub fn within(&self, point: GeoPoint) -> bool {
        let plane = Plane::at(point);
        let near = |piece: &Piece| {
            let (km, foot) = plane.foot(piece);
            // In the plane a distance is right within 3 %.
            km <= 0.97 * self.within_km
                || km <= 1.03 * self.within_km && geodesy::distance_km(point, foot) <= self.within_km
        };
        // Most places near a road have it in their own cell.
        self.of_cell(self.cell(point.lat_deg, point.lon_deg)).any(near) || self.around(&plane).any(near)
    }

    /// The nearest road within the distance; among equally near ones the first of the file.
    pub fn nearest(&self, point: GeoPoint) -> Option<NearRoad> {
        let plane = Plane::at(point);
        let of = |piece: &Piece| (plane.foot(piece), piece.name);
        let ((_, foot), name) = self.around(&plane).map(of).min_by(|a, b| a.0.0.total_cmp(&b.0.0))?;
        let distance_km = geodesy::distance_km(point, foot);
        let name = (name as usize).checked_sub(1).and_then(|i| self.names.get(i)).cloned();
        (distance_km <= self.within_km).then_some(NearRoad { distance_km, name })
    }

    fn of_cell(&self, cell: (i32, i32)) -> impl Iterator<Item = &Piece> {
        let (from, to) = self.cells.get(&cell).copied().unwrap_or_default();
        let numbers = self.sorted.get(from as usize..to as usize).unwrap_or_default();
        numbers.iter().filter_map(|&i| self.pieces.get(i as usize))
    }

    /// The pieces of all cells within the distance, and a quarter of a cell more for points between those sorted by.
    fn around(&self, plane: &Plane) -> impl Iterator<Item = &Piece> {
        let more = 0.25 * self.cell_deg;
        let (up, across) = (self.within_km / plane.lat_km + more, self.within_km / plane.lon_km + more);
        let at = |v: f64| (v / self.cell_deg).floor() as i64;
        let rows = at(plane.lat - up)..=at(plane.lat + up);
        let whole = (360.0 / self.cell_deg).ceil() as i64;
        let lon = plane.lon + 180.0;
        let (first, last) = (at(lon - across), at(lon + across));
        let columns = first..=last.min(first + whole);
        rows.flat_map(move |row| columns.clone().map(move |column| (row, column))).flat_map(move |(row, column)| {
            // The last cell before the date line may be a narrow one.
            let lon = (column as f64 + 0.5) * self.cell_deg;
            let lon = if (0.0..360.0).contains(&lon) { lon } else { lon.rem_euclid(360.0) };
            self.of_cell((row as i32, (lon / self.cell_deg).floor() as i32))
        })
    }
}

impl Piece {
    /// Latitude and longitude of its beginning and the step to its end, the shorter way round, degrees.
    fn unpacked(&self) -> (f64, f64, f64, f64) {
        let of = |v: i32| f64::from(v) * UNIT_DEG;
        let lon_step = (of(self.to[1]) - of(self.from[1]) + 540.0).rem_euclid(360.0) - 180.0;
        (of(self.from[0]), of(self.from[1]), of(self.to[0]) - of(self.from[0]), lon_step)
    }
}

/// The plane that touches the ellipsoid at a place.
struct Plane {
    lat: f64,
    lon: f64,
    /// Kilometres of a degree.
    lat_km: f64,
    lon_km: f64,
}

impl Plane {
    fn at(point: GeoPoint) -> Plane {
        let (sin, cos) = point.lat_deg.to_radians().sin_cos();
        let w = 1.0 - E2 * sin * sin;
        let across = A_M / w.sqrt();
        Plane {
            lat: point.lat_deg,
            lon: point.lon_deg,
            lat_km: across * (1.0 - E2) / w * 1f64.to_radians() / 1000.0,
            lon_km: (across * cos * 1f64.to_radians() / 1000.0).max(1e-6),
        }
    }

    /// The nearest point of a piece, and its distance in the plane, km.
    fn foot(&self, piece: &Piece) -> (f64, GeoPoint) {
        let (lat, lon, lat_step, lon_step) = piece.unpacked();
        let from = [((lon - self.lon + 540.0).rem_euclid(360.0) - 180.0) * self.lon_km, (lat - self.lat) * self.lat_km];
        let step = [lon_step * self.lon_km, lat_step * self.lat_km];
        let length = step[0] * step[0] + step[1] * step[1];
        let t = if length > 0.0 { (-(from[0] * step[0] + from[1] * step[1]) / length).clamp(0.0, 1.0) } else { 0.0 };
        let foot = GeoPoint { lat_deg: lat + t * lat_step, lon_deg: lon + t * lon_step };
        ((from[0] + t * step[0]).hypot(from[1] + t * step[1]), foot)
    }
}
