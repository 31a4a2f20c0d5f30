//! GeoJSON polygon to search in: `Polygon` or `MultiPolygon`, bare, as a feature, or in a collection (RFC 7946).

use std::path::Path;

use geo::{LineString, Polygon, Validation};
use geojson::{GeoJson, GeometryValue, Position};
use rstar::primitives::{GeomWithData, Line};
use rstar::{RTree, RTreeObject};

use super::table::read_bytes;
use crate::fault::{Fault, Faults};
use crate::land::Region;

/// Reads the region to search in.
///
/// # Errors
/// Every fault of the file: no GeoJSON, no polygon, rings that are open or cross themselves, places off the globe.
pub fn read(path: &Path) -> Result<Region, Faults> {
    from_bytes(&path.display().to_string(), &read_bytes(path)?)
}

/// Reads the region from GeoJSON text; `file` names it in messages.
///
/// # Errors
/// Every fault of the text.
pub fn from_bytes(file: &str, bytes: &[u8]) -> Result<Region, Faults> {
    let right = "give a GeoJSON Polygon or MultiPolygon (RFC 7946)";
    let text = std::str::from_utf8(bytes).map_err(|_| Fault::of_file(file, "is not UTF-8 text", right))?;
    let text = text.trim_start_matches('\u{feff}');
    let geojson: GeoJson = text.parse().map_err(|e| Fault::of_file(file, format!("is not GeoJSON ({e})"), right))?;
    let mut polygons: Vec<Vec<Vec<Position>>> = Vec::new();
    let mut others: Vec<&'static str> = Vec::new();
    match &geojson {
        GeoJson::Geometry(g) => collect(&g.value, &mut polygons, &mut others),
        GeoJson::Feature(f) => {
            f.geometry.iter().for_each(|g| collect(&g.value, &mut polygons, &mut others));
        }
        GeoJson::FeatureCollection(all) => {
            all.features
                .iter()
                .filter_map(|f| f.geometry.as_ref())
                .for_each(|g| collect(&g.value, &mut polygons, &mut others));
        }
    }
    let mut faults = Faults::default();
    for other in others {
        faults.0.push(Fault::of_file(file, format!("there is a {other} in it"), right));
    }
    if polygons.is_empty() && faults.0.is_empty() {
        faults.0.push(Fault::of_file(file, "there is no polygon in it", right));
    }
    let mut rings: Vec<Vec<(f64, f64)>> = Vec::new();
    for (p, polygon) in polygons.iter().enumerate() {
        let before = faults.0.len();
        let mut checked: Vec<Vec<(f64, f64)>> = Vec::new();
        for (r, ring) in polygon.iter().enumerate() {
            let name = format!("polygon {}, ring {}", p + 1, r + 1);
            checked.push(ring_of(file, &name, ring, &mut faults));
        }
        if faults.0.len() == before {
            crossings(file, p, &checked, &mut faults);
        }
        rings.extend(checked);
    }
    faults.or(()).map(|()| Region::of_rings(rings))
}

fn collect(value: &GeometryValue, polygons: &mut Vec<Vec<Vec<Position>>>, others: &mut Vec<&'static str>) {
    match value {
        GeometryValue::Polygon { coordinates } => polygons.push(coordinates.clone()),
        GeometryValue::MultiPolygon { coordinates } => polygons.extend(coordinates.iter().cloned()),
        GeometryValue::GeometryCollection { geometries } => {
            geometries.iter().for_each(|g| collect(&g.value, polygons, others));
        }
        GeometryValue::Point { .. } => others.push("Point"),
        GeometryValue::MultiPoint { .. } => others.push("MultiPoint"),
        GeometryValue::LineString { .. } => others.push("LineString"),
        GeometryValue::MultiLineString { .. } => others.push("MultiLineString"),
    }
}

fn ring_of(file: &str, name: &str, ring: &[Position], faults: &mut Faults) -> Vec<(f64, f64)> {
    let mut vertices = Vec::with_capacity(ring.len());
    for (i, position) in ring.iter().enumerate() {
        let p = position.as_slice();
        let (lon, lat) = (p.first().copied().unwrap_or(f64::NAN), p.get(1).copied().unwrap_or(f64::NAN));
        if !(-180.0..=180.0).contains(&lon) || !(-90.0..=90.0).contains(&lat) {
            faults.0.push(Fault::of_file(
                file,
                format!("{name}: vertex {} ({lon}, {lat}) is not on the globe", i + 1),
                "give longitude from -180 to 180, then latitude from -90 to 90",
            ));
        }
        vertices.push((lon, lat));
    }
    if vertices.len() < 4 {
        let wrong = format!("{name}: it has {} vertices", vertices.len());
        faults.0.push(Fault::of_file(file, wrong, "give at least four, the last equal to the first"));
    } else if vertices.first() != vertices.last() {
        let wrong = format!("{name}: the ring is open");
        faults.0.push(Fault::of_file(file, wrong, "end it at the vertex it began with"));
    }
    vertices
}

/// Polygons of more vertices are checked for crossings only: the library's full check takes the square of their number.
const FULLY_CHECKED: usize = 2000;

const NO_CROSSING: &str =
    "draw rings that do not cross themselves or each other; cut a polygon at the antimeridian in two (RFC 7946)";

/// An edge of a ring with the ring's number and its own.
type Edge = GeomWithData<Line<[f64; 2]>, (usize, usize)>;

/// Faults for edges of a polygon that cross each other, found by a tree of the edges' boxes.
fn crossing_edges(file: &str, index: usize, rings: &[Vec<(f64, f64)>], faults: &mut Faults) {
    let edges: Vec<Edge> = rings
        .iter()
        .enumerate()
        .flat_map(|(r, ring)| {
            let line = |pair: &[(f64, f64)]| Line::new([pair[0].0, pair[0].1], [pair[1].0, pair[1].1]);
            ring.windows(2).enumerate().map(move |(i, pair)| Edge::new(line(pair), (r, i)))
        })
        .collect();
    let tree = RTree::bulk_load(edges.clone());
    for edge in &edges {
        for other in tree.locate_in_envelope_intersecting(&edge.envelope()).filter(|o| o.data > edge.data) {
            let Some((lon, lat)) = crossing(edge.geom(), other.geom()) else { continue };
            let (ring, other_ring) = (edge.data.0 + 1, other.data.0 + 1);
            let what = if ring == other_ring {
                format!("ring {ring} crosses itself (self-intersection)")
            } else {
                format!("ring {ring} crosses ring {other_ring}")
            };
            let wrong = format!("polygon {}, {what} near longitude {lon:.4}, latitude {lat:.4}", index + 1);
            faults.0.push(Fault::of_file(file, wrong, NO_CROSSING));
            faults.keep_short();
        }
    }
}

/// Where two edges cross, each in the inside of the other; edges that only touch do not.
fn crossing(a: &Line<[f64; 2]>, b: &Line<[f64; 2]>) -> Option<(f64, f64)> {
    // On which side of the line from p to q a point lies.
    let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    let (from, to) = (side(b.from, b.to, a.from), side(b.from, b.to, a.to));
    let apart = side(a.from, a.to, b.from) * side(a.from, a.to, b.to) < 0.0 && from * to < 0.0;
    let share = from / (from - to);
    apart.then(|| (a.from[0] + share * (a.to[0] - a.from[0]), a.from[1] + share * (a.to[1] - a.from[1])))
}

fn crossings(file: &str, index: usize, rings: &[Vec<(f64, f64)>], faults: &mut Faults) {
    let before = faults.0.len();
    crossing_edges(file, index, rings, faults);
    if faults.0.len() > before || rings.iter().map(Vec::len).sum::<usize>() > FULLY_CHECKED {
        return;
    }
    let line = |ring: &Vec<(f64, f64)>| LineString::from(ring.clone());
    let Some(exterior) = rings.first() else {
        faults.0.push(Fault::of_file(file, format!("polygon {}: it has no ring", index + 1), "give at least one ring"));
        return;
    };
    let polygon = Polygon::new(line(exterior), rings[1..].iter().map(line).collect());
    for error in polygon.validation_errors() {
        let wrong = format!("polygon {}: {error}", index + 1);
        faults.0.push(Fault::of_file(file, wrong, NO_CROSSING));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::GeoPoint;

    fn read(coordinates: &str) -> Result<Region, Faults> {
        from_bytes("area.geojson", format!("{{\"type\":\"Polygon\",\"coordinates\":{coordinates}}}").as_bytes())
    }

    #[test]
    fn a_square_with_a_hole() {
        let region = read(
            "[[[140,-30],[150,-30],[150,-20],[140,-20],[140,-30]],[[144,-26],[146,-26],[146,-24],[144,-24],[144,-26]]]",
        )
        .unwrap();
        let holds = |lat_deg, lon_deg| region.contains(GeoPoint { lat_deg, lon_deg });
        assert!(holds(-29.0, 141.0));
        assert!(!holds(-25.0, 145.0));
        assert!(!holds(-25.0, 151.0));
    }

    #[test]
    fn open_crossing_and_impossible_rings_are_named() {
        let open = read("[[[140,-30],[150,-30],[150,-20],[140,-20]]]").unwrap_err().to_string();
        assert!(open.contains("area.geojson: polygon 1, ring 1: the ring is open"), "{open}");
        let bow = read("[[[140,-30],[150,-20],[150,-30],[140,-20],[140,-30]]]").unwrap_err().to_string();
        assert!(bow.contains("self-intersection"), "{bow}");
        let off = read("[[[140,-30],[150,-30],[150,-95],[140,-20],[140,-30]]]").unwrap_err().to_string();
        assert!(off.contains("vertex 3 (150, -95) is not on the globe"), "{off}");
    }

    /// A coast of fifty thousand vertices; then the same with two of them exchanged.
    #[test]
    fn a_long_coast_is_read_and_its_one_crossing_found() {
        let coast = |swapped: bool| {
            let vertex = |i: u32| {
                let angle = f64::from(i % 50_000) / 50_000.0 * std::f64::consts::TAU;
                let far = 1.0 + 0.05 * (20.0 * angle).sin();
                format!("[{},{}]", 135.0 + 10.0 * far * angle.cos(), -25.0 + 8.0 * far * angle.sin())
            };
            let mut vertices: Vec<String> = (0..=50_000).map(vertex).collect();
            if swapped {
                vertices.swap(12_000, 12_040);
            }
            read(&format!("[[{}]]", vertices.join(",")))
        };
        assert!(coast(false).is_ok());
        let text = coast(true).unwrap_err().to_string();
        assert!(
            text.contains("area.geojson: polygon 1, ring 1 crosses itself (self-intersection) near longitude 13"),
            "{text}"
        );
    }

    #[test]
    fn anything_else_is_refused() {
        for (text, says) in [
            ("", "is not GeoJSON"),
            ("{\"type\":\"Point\",\"coordinates\":[1,2]}", "there is a Point in it"),
            ("{\"type\":\"FeatureCollection\",\"features\":[]}", "there is no polygon in it"),
        ] {
            let wrong = from_bytes("a.geojson", text.as_bytes()).err().map(|e| e.to_string()).unwrap_or_default();
            assert!(wrong.contains(says), "{wrong}");
        }
    }
}
