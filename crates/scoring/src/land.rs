//! Where one can stand: land without lakes, or a polygon that the reader gives, as spans along parallels.
//!
//! A search asks row by row, so a region answers with the spans of longitude inside it along a parallel. Edges are
//! sorted into bands of latitude once; a row then looks only at the edges of its band.
//!
//! # Source
//! Natural Earth 1:10m land and lakes (public domain), as described in `data/basemap/ORIGIN.md`.

use std::sync::LazyLock;

use noonfall_ephemeris::GeoPoint;

use crate::outlines::{Layer, Outlines};

/// The shipped outlines and their version.
pub const DATA: &str = "Land and lakes: Natural Earth 4.1.0, 1:10m";

/// Height of a band of edges, degrees.
const BAND_DEG: f64 = 0.25;
/// An edge whose ends both lie so near to the meridian of 180° was made by a cut there: half a quantum of the shipped file, degrees.
const SEAM_DEG: f64 = 0.002;
const BANDS: usize = (180.0 / BAND_DEG) as usize;

/// Spans of longitude along a parallel, ascending, degrees in [−180, 180].
pub type Spans = Vec<(f64, f64)>;

/// An edge of a ring: from a vertex, longitude in [−180, 180), by a step of less than half a turn.
#[derive(Clone, Copy, Debug)]
struct Edge {
    lat: f64,
    lon: f64,
    lat_step: f64,
    lon_step: f64,
    /// Which of the region's shapes it bounds.
    shape: u32,
}

/// A region on the globe bounded by closed rings, taken by the even-odd rule.
///
/// Rings may cross the antimeridian and may go round the south pole. The north pole itself must lie outside.
#[derive(Clone, Debug)]
pub struct Region {
    edges: Vec<Edge>,
    bands: Vec<Vec<u32>>,
    /// Latitudes at which an edge crosses the meridian of 180°, ascending, and whose edge.
    seam: Vec<(f64, u32)>,
}

/// Land without lakes.
#[derive(Clone, Debug)]
pub struct Land {
    land: Region,
    lakes: Region,
    /// Of each shape of land the first of those that it hangs together with across the meridian of 180°.
    masses: Vec<u32>,
}

static LAND: LazyLock<Land> = LazyLock::new(|| {
    let land = Region::of_outlines(Layer::Countries10m, "land");
    Land { masses: land.joined_at_the_seam(), land, lakes: Region::of_outlines(Layer::Lakes10m, "lakes") }
});

impl Land {
    /// The land of the Earth. The first call unpacks the shipped outlines (some tenths of a second).
    pub fn shipped() -> &'static Land {
        &LAND
    }

    /// Spans of longitude of dry land along a parallel, ascending.
    ///
    /// # Units
    /// Degrees; spans lie in [−180, 180].
    pub fn spans(&self, lat_deg: f64) -> Vec<(f64, f64)> {
        subtract(&self.land.spans(lat_deg), &self.lakes.spans(lat_deg))
    }

    /// Which of the Earth's lands a place lies on; `None` in the sea. Places have the same number when one can walk from one
    /// to the other, lakes or not. The outlines are cut at the meridian of 180°; both parts of a land across it have one number.
    pub fn mass(&self, point: GeoPoint) -> Option<u32> {
        let shape = self.land.shape_at(point)?;
        Some(self.masses.get(shape as usize).copied().unwrap_or(shape))
    }

    /// The widest stretch of sea or lake on the straight line between two places, as a part of the line.
    /// ```
    /// use noonfall_ephemeris::GeoPoint;
    /// use noonfall_scoring::land::Land;
    /// // From Spain to Morocco across the Strait of Gibraltar all is sea but the shores.
    /// let [tarifa, ceuta] = [(36.05, -5.6), (35.85, -5.4)].map(|(lat_deg, lon_deg)| GeoPoint { lat_deg, lon_deg });
    /// assert!(Land::shipped().widest_water(tarifa, ceuta) > 0.5);
    /// ```
    pub fn widest_water(&self, from: GeoPoint, to: GeoPoint) -> f64 {
        let mut turns: Vec<(f64, bool)> = self.land.crossings(from, to).into_iter().map(|at| (at, true)).collect();
        turns.extend(self.lakes.crossings(from, to).into_iter().map(|at| (at, false)));
        turns.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut on_land, mut on_lake) = (self.land.contains(from), self.lakes.contains(from));
        let (mut widest, mut since) = (0.0_f64, 0.0);
        for (at, coast) in turns.into_iter().chain([(1.0, true)]) {
            let wet = !on_land || on_lake;
            if coast {
                on_land = !on_land
            } else {
                on_lake = !on_lake
            }
            let wet_after = !on_land || on_lake;
            if wet && (!wet_after || at == 1.0) {
                widest = widest.max(at - since);
            }
            if !wet && wet_after {
                since = at;
            }
        }
        widest
    }

    /// Spans of longitude of land with its lakes, and of lakes alone, along a parallel, ascending.
    ///
    /// # Units
    /// Degrees; spans lie in [−180, 180].
    pub fn land_and_lakes(&self, lat_deg: f64) -> (Spans, Spans) {
        (self.land.spans(lat_deg), self.lakes.spans(lat_deg))
    }

    /// Whether a place is on dry land.
    ///
    /// ```
    /// use noonfall_ephemeris::GeoPoint;
    /// use noonfall_scoring::land::Land;
    /// assert!(Land::shipped().contains(GeoPoint { lat_deg: -30.09, lon_deg: 145.94 }));
    /// assert!(!Land::shipped().contains(GeoPoint { lat_deg: -40.0, lon_deg: 160.0 }));
    /// ```
    pub fn contains(&self, point: GeoPoint) -> bool {
        self.land.contains(point) && !self.lakes.contains(point)
    }
}

impl Region {
    /// A region of closed rings of `(lon, lat)` vertices, first and last equal or not.
    ///
    /// # Units
    /// Degrees, any turn of longitude; between neighbouring vertices the shorter way round is meant.
    pub fn of_rings<R: IntoIterator<Item = (f64, f64)>>(rings: impl IntoIterator<Item = R>) -> Region {
        Region::of_shapes(rings.into_iter().map(|ring| [ring]))
    }

    /// The same of shapes of rings: an outline and its holes.
    fn of_shapes<R, S>(shapes: impl IntoIterator<Item = S>) -> Region
    where
        R: IntoIterator<Item = (f64, f64)>,
        S: IntoIterator<Item = R>,
    {
        let mut region = Region { edges: Vec::new(), bands: vec![Vec::new(); BANDS], seam: Vec::new() };
        for (shape, rings) in (0..).zip(shapes) {
            for ring in rings {
                let ring: Vec<(f64, f64)> = ring.into_iter().collect();
                for (i, &(lon, lat)) in ring.iter().enumerate() {
                    let (next_lon, next_lat) = ring[(i + 1) % ring.len()];
                    region.add((half_turn(lon), lat), (half_turn(next_lon - lon), next_lat - lat), shape);
                }
            }
        }
        region.seam.sort_by(|a, b| a.0.total_cmp(&b.0));
        region.edges.shrink_to_fit();
        region
    }

    fn of_outlines(layer: Layer, object: &str) -> Region {
        // The file is part of the program; a damaged copy reads as no land, which the tests below would catch.
        Region::of_shapes(Outlines::shipped(layer).map(|outlines| outlines.shapes(object)).unwrap_or_default())
    }

    fn add(&mut self, (lon, lat): (f64, f64), (lon_step, lat_step): (f64, f64), shape: u32) {
        if lon_step == 0.0 && lat_step == 0.0 {
            return;
        }
        let end = lon + lon_step;
        if !(-180.0..180.0).contains(&end) {
            let at = if end < -180.0 { -180.0 } else { 180.0 };
            self.seam.push((lat + lat_step * ((at - lon) / lon_step), shape));
        }
        if lat_step != 0.0 {
            let index = self.edges.len() as u32;
            self.edges.push(Edge { lat, lon, lat_step, lon_step, shape });
            let (low, high) = if lat_step > 0.0 { (lat, lat + lat_step) } else { (lat + lat_step, lat) };
            for band in band(low)..=band(high) {
                self.bands[band].push(index);
            }
        }
    }

    /// Spans of longitude inside the region along a parallel, ascending.
    ///
    /// # Units
    /// Degrees; spans lie in [−180, 180].
    pub fn spans(&self, lat_deg: f64) -> Vec<(f64, f64)> {
        let mut crossings: Vec<f64> = self.bands[band(lat_deg)]
            .iter()
            .filter_map(|&i| {
                let e = &self.edges[i as usize];
                let meets = (e.lat <= lat_deg) != (e.lat + e.lat_step <= lat_deg);
                meets.then(|| half_turn(e.lon + e.lon_step * ((lat_deg - e.lat) / e.lat_step)))
            })
            .collect();
        crossings.sort_by(f64::total_cmp);
        // Inside or outside at the meridian of 180°: by the number of edges that cross it between here and the north pole.
        let north_of_here = self.seam.len() - self.seam.partition_point(|s| s.0 <= lat_deg);
        let mut inside = north_of_here % 2 == 1;
        let mut spans = Vec::new();
        let mut from = -180.0;
        for at in crossings {
            if inside && at > from {
                spans.push((from, at));
            }
            from = at;
            inside = !inside;
        }
        if inside {
            spans.push((from, 180.0));
        }
        spans
    }

    /// Whether a place lies inside the region.
    pub fn contains(&self, point: GeoPoint) -> bool {
        let lon = half_turn(point.lon_deg);
        self.spans(point.lat_deg).iter().any(|&(west, east)| west <= lon && lon < east)
    }

    /// Which shape holds a place.
    fn shape_at(&self, point: GeoPoint) -> Option<u32> {
        let (lat, lon) = (point.lat_deg, half_turn(point.lon_deg));
        // A shape holds it that is left or entered an odd number of times from the north pole down the meridian of 180° and
        // along the parallel.
        let seam = self.seam.iter().filter(|s| s.0 > lat).map(|s| s.1);
        let parallel = self.bands[band(lat)].iter().filter_map(|&i| {
            let e = &self.edges[i as usize];
            let meets = (e.lat <= lat) != (e.lat + e.lat_step <= lat);
            (meets && half_turn(e.lon + e.lon_step * ((lat - e.lat) / e.lat_step)) <= lon).then_some(e.shape)
        });
        let mut odd = std::collections::BTreeSet::new();
        for shape in seam.chain(parallel) {
            if !odd.remove(&shape) {
                odd.insert(shape);
            }
        }
        odd.first().copied()
    }

    /// Of each shape the first of those that it hangs together with across the meridian of 180°: shapes whose outlines run along
    /// that meridian through the same latitudes were one before they were cut there.
    fn joined_at_the_seam(&self) -> Vec<u32> {
        let count = self.edges.iter().map(|e| e.shape as usize + 1).max().unwrap_or(0);
        let mut first: Vec<u32> = (0..count as u32).collect();
        let on_seam = |lon: f64| 180.0 - half_turn(lon).abs() < SEAM_DEG;
        let cut: Vec<(f64, f64, u32)> = self
            .edges
            .iter()
            .filter(|e| on_seam(e.lon) && on_seam(e.lon + e.lon_step))
            .map(|e| (e.lat.min(e.lat + e.lat_step), e.lat.max(e.lat + e.lat_step), e.shape))
            .collect();
        for (i, a) in cut.iter().enumerate() {
            for b in &cut[..i] {
                let (one, other) = (first[a.2 as usize], first[b.2 as usize]);
                if one != other && a.0.max(b.0) < a.1.min(b.1) {
                    let (low, high) = (one.min(other), one.max(other));
                    first.iter_mut().filter(|f| **f == high).for_each(|f| *f = low);
                }
            }
        }
        first
    }

    /// Where the straight line in longitude and latitude from one place to another crosses edges, from 0 to 1, ascending.
    fn crossings(&self, from: GeoPoint, to: GeoPoint) -> Vec<f64> {
        let (lon, lat) = (from.lon_deg, from.lat_deg);
        let (lon_step, lat_step) = (half_turn(to.lon_deg - lon), to.lat_deg - lat);
        let bands = [band(lat.min(to.lat_deg)), band(lat.max(to.lat_deg))];
        // Most edges of a band lie far to the east or west.
        let near = |&&i: &&u32| {
            let e = &self.edges[i as usize];
            let apart = (e.lon - lon).abs();
            apart.min(360.0 - apart) <= lon_step.abs() + e.lon_step.abs() + 1e-9
        };
        let mut edges: Vec<u32> = self.bands[bands[0]..=bands[1]].iter().flatten().filter(near).copied().collect();
        edges.sort_unstable();
        edges.dedup();
        let mut at: Vec<f64> = edges
            .into_iter()
            .filter_map(|i| {
                let e = &self.edges[i as usize];
                let (x, y) = (half_turn(e.lon - lon), e.lat - lat);
                let cross = lon_step * e.lat_step - lat_step * e.lon_step;
                let (line, edge) = ((x * e.lat_step - y * e.lon_step) / cross, (x * lat_step - y * lon_step) / cross);
                ((0.0..1.0).contains(&line) && (0.0..1.0).contains(&edge)).then_some(line)
            })
            .collect();
        at.sort_by(f64::total_cmp);
        at
    }

    /// Whether the region has no edge at all.
    pub fn is_empty(&self) -> bool {
        self.edges.is_empty()
    }
}

/// An angle in [−180, 180).
pub(crate) fn half_turn(deg: f64) -> f64 {
    (deg + 180.0).rem_euclid(360.0) - 180.0
}

fn band(lat_deg: f64) -> usize {
    (((lat_deg + 90.0) / BAND_DEG).floor().max(0.0) as usize).min(BANDS - 1)
}

/// What of the first spans is in the second too. Both ascending and without overlap.
pub(crate) fn intersect(one: &[(f64, f64)], other: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    let (mut i, mut j) = (0, 0);
    while let (Some(a), Some(b)) = (one.get(i), other.get(j)) {
        let (west, east) = (a.0.max(b.0), a.1.min(b.1));
        if west < east {
            out.push((west, east));
        }
        if a.1 < b.1 { i += 1 } else { j += 1 }
    }
    out
}

/// What of the first spans is not in the second. Both ascending and without overlap.
pub(crate) fn subtract(from: &[(f64, f64)], holes: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut out = Vec::with_capacity(from.len());
    for &(west, east) in from {
        let mut start = west;
        for &(hole_west, hole_east) in holes.iter().filter(|h| h.1 > west && h.0 < east) {
            if hole_west > start {
                out.push((start, hole_west));
            }
            start = start.max(hole_east);
        }
        if start < east {
            out.push((start, east));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dry(lat_deg: f64, lon_deg: f64) -> bool {
        Land::shipped().contains(GeoPoint { lat_deg, lon_deg })
    }

    #[test]
    fn lands_are_told_apart() {
        let mass = |lat_deg, lon_deg| Land::shipped().mass(GeoPoint { lat_deg, lon_deg });
        // Madrid, Magadan, Utrecht and Cape Town hang together; Mallorca, Tasmania, America and Antarctica do not.
        let old_world = mass(40.4, -3.7);
        assert!(old_world.is_some());
        for (lat, lon) in [(59.6, 150.8), (-33.9, 18.6), (52.1, 5.1)] {
            assert_eq!(mass(lat, lon), old_world, "{lat} {lon}");
        }
        for (lat, lon) in [(39.6, 2.9), (-42.0, 146.5), (40.0, -100.0), (-80.0, 0.0)] {
            assert!(mass(lat, lon).is_some() && mass(lat, lon) != old_world, "{lat} {lon}");
        }
        assert_eq!(mass(-40.0, 160.0), None);
    }

    /// Towns and capes of Chukotka, the two shores of Wrangel Island and of Taveuni (Fiji) lie on either side of the meridian of 180°;
    /// coordinates from memory, rounded to a hundredth of a degree.
    #[test]
    fn a_land_across_the_date_line_is_one() {
        let mass = |lat_deg, lon_deg| Land::shipped().mass(GeoPoint { lat_deg, lon_deg });
        let chukotka = mass(69.0, 171.0);
        assert!(chukotka.is_some());
        for (lat, lon) in [(68.5, -179.0), (66.6, -175.0), (40.4, -3.7)] {
            assert_eq!(mass(lat, lon), chukotka, "{lat} {lon}");
        }
        let wrangel = [mass(71.2, 179.4), mass(71.2, -179.3)];
        assert!(wrangel[0].is_some() && wrangel[0] == wrangel[1] && wrangel[0] != chukotka, "{wrangel:?}");
        let taveuni = [mass(-16.88, 179.96), mass(-16.88, -179.96)];
        assert!(taveuni[0].is_some() && taveuni[0] == taveuni[1], "{taveuni:?}");
        // Vanua Levu and Viti Levu are islands of their own.
        let others = [mass(-16.6, 179.3), mass(-17.8, 178.0)];
        assert!(others.iter().all(|m| m.is_some() && *m != taveuni[0]) && others[0] != others[1], "{others:?}");
        // Alaska is over the strait.
        assert_ne!(mass(65.0, -160.0), chukotka);
    }

    #[test]
    fn known_places_are_land_or_water() {
        for (lat, lon) in [
            (-25.0, 134.0),
            (-45.05, 169.2),
            (-89.9, 10.0),
            (-85.0, 179.99),
            (-85.0, -179.99),
            (66.5, 179.5),
            (66.5, -179.5),
            (60.0, 100.0),
            (-17.8, 178.0),
        ] {
            assert!(dry(lat, lon), "{lat} {lon} is land");
        }
        for (lat, lon) in [(-40.0, 160.0), (89.9, 10.0), (0.0, 180.0), (0.0, -150.0), (-60.0, 0.0), (-17.0, -179.5)] {
            assert!(!dry(lat, lon), "{lat} {lon} is sea");
        }
    }

    #[test]
    fn lakes_are_not_land() {
        assert!(!dry(-38.8, 175.9), "Lake Taupo");
        assert!(!dry(53.5, 108.2), "Lake Baikal");
        assert!(!dry(47.7, -87.5), "Lake Superior");
    }

    #[test]
    fn the_share_of_land_is_known() {
        // 29.2 % of the Earth is land (common geography); inland waters take about 1 % of the land.
        let (mut land, mut all) = (0.0, 0.0);
        for row in 0..720 {
            let lat = -89.875 + 0.25 * f64::from(row);
            let weight = lat.to_radians().cos();
            land += weight * Land::shipped().spans(lat).iter().map(|s| s.1 - s.0).sum::<f64>();
            all += weight * 360.0;
        }
        assert!((land / all - 0.288).abs() < 0.006, "{}", land / all);
    }

    #[test]
    fn a_ring_across_the_date_line_and_its_complement_by_longitude() {
        let box_ring = vec![(170.0, -10.0), (-170.0, -10.0), (-170.0, 10.0), (170.0, 10.0)];
        let region = Region::of_rings([box_ring]);
        assert_eq!(region.spans(0.0), [(-180.0, -170.0), (170.0, 180.0)]);
        assert!(region.spans(20.0).is_empty());
    }

    #[test]
    fn spans_subtract() {
        assert_eq!(subtract(&[(0.0, 10.0)], &[(2.0, 3.0), (9.0, 12.0)]), [(0.0, 2.0), (3.0, 9.0)]);
        assert_eq!(subtract(&[(0.0, 10.0)], &[(-5.0, 15.0)]), []);
        assert_eq!(subtract(&[(0.0, 4.0), (6.0, 8.0)], &[(3.0, 7.0)]), [(0.0, 3.0), (7.0, 8.0)]);
        assert_eq!(
            intersect(&[(0.0, 4.0), (6.0, 8.0)], &[(3.0, 7.0), (7.5, 9.0)]),
            [(3.0, 4.0), (6.0, 7.0), (7.5, 8.0)]
        );
        assert_eq!(intersect(&[(0.0, 1.0)], &[(1.0, 2.0)]), []);
    }
}
