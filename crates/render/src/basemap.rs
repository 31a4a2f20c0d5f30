//! Land, borders and lakes of the shipped base map.

use std::collections::{BTreeMap, HashMap};
use std::sync::OnceLock;

use noonfall_ephemeris::GeoPoint;
use serde::Deserialize;

/// A topology as far as the shipped files use it (TopoJSON format specification, section 2.1).
#[derive(Deserialize)]
struct Topology {
    transform: Option<Transform>,
    objects: BTreeMap<String, Geometry>,
    arcs: Vec<Vec<Vec<f64>>>,
}

#[derive(Deserialize)]
struct Transform {
    scale: [f64; 2],
    translate: [f64; 2],
}

/// Numbers of the arcs of one line.
type ArcIndexes = Vec<i32>;

/// A geometry whose lines are numbers of arcs.
#[derive(Deserialize)]
#[serde(tag = "type")]
enum Geometry {
    LineString {
        arcs: ArcIndexes,
    },
    MultiLineString {
        arcs: Vec<ArcIndexes>,
    },
    Polygon {
        arcs: Vec<ArcIndexes>,
    },
    MultiPolygon {
        arcs: Vec<Vec<ArcIndexes>>,
    },
    #[serde(rename = "GeometryCollection")]
    Collection {
        geometries: Vec<Geometry>,
    },
    #[serde(other)]
    Other,
}

/// Why the base map could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BasemapError {
    /// Not a TopoJSON topology.
    #[error("the base map {name} is not a TopoJSON topology: {reason}")]
    Form {
        /// Which file.
        name: &'static str,
        /// What the reader said.
        reason: String,
    },
}

/// How fine a coast is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// 1:10 million, for regional maps.
    Fine,
    /// 1:50 million, for overviews.
    Coarse,
}

/// Rings of one outline and its holes, to be filled by the even-odd rule.
pub type Area = Vec<Vec<GeoPoint>>;

/// The base map at one scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Basemap {
    /// Land, one entry an island or continent.
    pub land: Vec<Area>,
    /// Borders between countries, without coasts.
    pub borders: Vec<Vec<GeoPoint>>,
    /// Lakes.
    pub lakes: Vec<Area>,
    /// Lines between states and provinces; they carry the borders of time zones inside a country.
    pub state_lines: Vec<Vec<GeoPoint>>,
}

type Files = &'static [(&'static str, &'static [u8])];
const FINE_FILES: Files = &[
    ("countries-10m.json", include_bytes!("../../../data/basemap/countries-10m.json")),
    ("lakes-10m.json", include_bytes!("../../../data/basemap/lakes-10m.json")),
    STATE_LINES,
];
const COARSE_FILES: Files = &[
    ("countries-50m.json", include_bytes!("../../../data/basemap/countries-50m.json")),
    ("lakes-50m.json", include_bytes!("../../../data/basemap/lakes-50m.json")),
    STATE_LINES,
];
const STATE_LINES: (&str, &[u8]) =
    ("state-lines-50m.json", include_bytes!("../../../data/basemap/state-lines-50m.json"));

/// Words that must stand on every map that shows the base map.
pub const CREDIT: &str = "Coasts, borders, lakes: Natural Earth (public domain)";

impl Basemap {
    /// The shipped map at a scale, read once.
    ///
    /// # Errors
    /// [`BasemapError`] if the embedded file is damaged, which only a faulty build can bring about.
    pub fn shipped(detail: Detail) -> Result<&'static Basemap, BasemapError> {
        static FINE: OnceLock<Result<Basemap, BasemapError>> = OnceLock::new();
        static COARSE: OnceLock<Result<Basemap, BasemapError>> = OnceLock::new();
        let read = |files: Files| {
            let mut map = Basemap::default();
            for (name, bytes) in files {
                map.add(name, bytes)?;
            }
            Ok(map)
        };
        match detail {
            Detail::Fine => FINE.get_or_init(|| read(FINE_FILES)),
            Detail::Coarse => COARSE.get_or_init(|| read(COARSE_FILES)),
        }
        .as_ref()
        .map_err(Clone::clone)
    }

    // Adds what one TopoJSON file holds: objects `land`, `lakes`, `countries` (giving the borders) and `state_lines`.
    fn add(&mut self, name: &'static str, bytes: &[u8]) -> Result<(), BasemapError> {
        let form = |reason: String| BasemapError::Form { name, reason };
        let topology: Topology = serde_json::from_slice(bytes).map_err(|e| form(e.to_string()))?;
        let arcs = unpacked(&topology.arcs, topology.transform.as_ref());
        for (object, geometry) in &topology.objects {
            match object.as_str() {
                "land" => collect_areas(geometry, &arcs, &mut self.land),
                "lakes" => collect_areas(geometry, &arcs, &mut self.lakes),
                "state_lines" => collect_lines(geometry, &arcs, &mut self.state_lines),
                "countries" => self.borders.extend(shared_arcs(geometry, &arcs)),
                _ => {}
            }
        }
        Ok(())
    }
}

// Positions of an arc in a quantised topology are steps in whole numbers (TopoJSON format specification, section 2.1.2).
fn unpacked(arcs: &[Vec<Vec<f64>>], transform: Option<&Transform>) -> Vec<Vec<GeoPoint>> {
    arcs.iter()
        .map(|arc| {
            let (mut x, mut y) = (0.0, 0.0);
            arc.iter()
                .filter(|p| p.len() >= 2)
                .map(|p| {
                    let (lon, lat) = match transform {
                        Some(t) => {
                            x += p[0];
                            y += p[1];
                            (x * t.scale[0] + t.translate[0], y * t.scale[1] + t.translate[1])
                        }
                        None => (p[0], p[1]),
                    };
                    GeoPoint { lat_deg: lat.clamp(-90.0, 90.0), lon_deg: lon.clamp(-180.0, 180.0) }
                })
                .collect()
        })
        .collect()
}

fn ring(indexes: &ArcIndexes, arcs: &[Vec<GeoPoint>]) -> Vec<GeoPoint> {
    let mut out: Vec<GeoPoint> = Vec::new();
    for &i in indexes {
        // A negative index is the ones' complement of an arc to be walked backwards.
        let (at, reversed) = if i < 0 { (!i as usize, true) } else { (i as usize, false) };
        let Some(arc) = arcs.get(at) else { continue };
        if !out.is_empty() {
            out.pop();
        }
        if reversed {
            out.extend(arc.iter().rev());
        } else {
            out.extend(arc.iter());
        }
    }
    out
}

fn collect_areas(geometry: &Geometry, arcs: &[Vec<GeoPoint>], areas: &mut Vec<Area>) {
    match geometry {
        Geometry::Polygon { arcs: rings } => areas.push(rings.iter().map(|r| ring(r, arcs)).collect()),
        Geometry::MultiPolygon { arcs: polygons } => {
            areas.extend(polygons.iter().map(|rings| rings.iter().map(|r| ring(r, arcs)).collect()));
        }
        Geometry::Collection { geometries } => geometries.iter().for_each(|g| collect_areas(g, arcs, areas)),
        _ => {}
    }
}

fn collect_lines(geometry: &Geometry, arcs: &[Vec<GeoPoint>], lines: &mut Vec<Vec<GeoPoint>>) {
    match geometry {
        Geometry::LineString { arcs: indexes } => lines.push(ring(indexes, arcs)),
        Geometry::MultiLineString { arcs: many } => lines.extend(many.iter().map(|indexes| ring(indexes, arcs))),
        Geometry::Collection { geometries } => geometries.iter().for_each(|g| collect_lines(g, arcs, lines)),
        _ => {}
    }
}

// Arcs used by two countries are borders; arcs used by one are coast.
fn shared_arcs(countries: &Geometry, arcs: &[Vec<GeoPoint>]) -> Vec<Vec<GeoPoint>> {
    fn count(geometry: &Geometry, uses: &mut HashMap<usize, u32>) {
        let note = |indexes: &ArcIndexes| {
            for &i in indexes {
                *uses.entry(if i < 0 { !i as usize } else { i as usize }).or_default() += 1;
            }
        };
        match geometry {
            Geometry::Polygon { arcs } => arcs.iter().for_each(note),
            Geometry::MultiPolygon { arcs } => arcs.iter().flatten().for_each(note),
            Geometry::Collection { geometries } => geometries.iter().for_each(|g| count(g, uses)),
            _ => {}
        }
    }
    let mut uses = HashMap::new();
    count(countries, &mut uses);
    (0..arcs.len()).filter(|i| uses.get(i).is_some_and(|n| *n > 1)).map(|i| arcs[i].clone()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::projection::{angle_deg, unit_vector};

    #[test]
    fn both_scales_hold_land_lakes_and_borders() {
        for (detail, least) in [(Detail::Fine, 3000), (Detail::Coarse, 1000)] {
            let map = Basemap::shipped(detail).expect("shipped map");
            assert!(map.land.len() > least, "{}", map.land.len());
            assert!(map.lakes.len() > 400 && map.borders.len() > 200 && map.state_lines.len() > 500);
        }
    }

    #[test]
    fn borders_run_where_countries_meet_and_not_along_coasts() {
        let map = Basemap::shipped(Detail::Fine).expect("shipped map");
        let nearest = |lat_deg, lon_deg| {
            let v = unit_vector(GeoPoint { lat_deg, lon_deg });
            map.borders.iter().flatten().map(|p| angle_deg(v, unit_vector(*p))).fold(180.0, f64::min)
        };
        // Public coordinates, from memory: the border at the 141st meridian of New Guinea, and Sydney's coast.
        assert!(nearest(-4.0, 141.0) < 0.6);
        assert!(nearest(-33.9, 151.3) > 20.0);
    }
}
