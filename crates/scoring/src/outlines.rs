//! The shipped outlines of land, borders and lakes, read once: for where one can stand, and for every map.
//!
//! # Source
//! Natural Earth (public domain), as described in `data/basemap/ORIGIN.md`; the form is quantised TopoJSON (TopoJSON format
//! specification, section 2.1), packed with gzip.

use std::collections::BTreeMap;
use std::io::Read;
use std::sync::OnceLock;

use noonfall_data::basemap as shipped;
use serde::Deserialize;

/// A file of the base map.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layer {
    /// Countries and land, 1:10 million: `countries`, `land`.
    Countries10m,
    /// Countries and land, 1:50 million: `countries`, `land`.
    Countries50m,
    /// Lakes, 1:10 million: `lakes`.
    Lakes10m,
    /// Lakes for maps of 1:50 million: `lakes`.
    Lakes50m,
    /// Lines between states and provinces: `state_lines`.
    StateLines50m,
}

impl Layer {
    const ALL: [Layer; 5] =
        [Layer::Countries10m, Layer::Countries50m, Layer::Lakes10m, Layer::Lakes50m, Layer::StateLines50m];

    fn packed(self) -> &'static [u8] {
        match self {
            Layer::Countries10m => shipped::COUNTRIES_10M,
            Layer::Countries50m => shipped::COUNTRIES_50M,
            Layer::Lakes10m => shipped::LAKES_10M,
            Layer::Lakes50m => shipped::LAKES_50M,
            Layer::StateLines50m => shipped::STATE_LINES_50M,
        }
    }
}

/// Why outlines could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum OutlinesError {
    /// Not a packed TopoJSON topology.
    #[error("the base map {layer:?} is not a packed TopoJSON topology: {reason}")]
    Form {
        /// Which file.
        layer: Layer,
        /// What the reader said.
        reason: String,
    },
}

/// A line of `(lon, lat)` vertices, degrees.
pub type Line = Vec<(f64, f64)>;

/// The outlines of one file: arcs, and shapes made of them.
#[derive(Debug, Deserialize)]
pub struct Outlines {
    transform: Transform,
    /// Chains of steps in quanta, read straight into small numbers: reading them takes most of the time of a coarse search.
    arcs: Vec<Vec<(i32, i32)>>,
    objects: BTreeMap<String, Geometry>,
}

#[derive(Debug, Deserialize)]
struct Transform {
    scale: (f64, f64),
    translate: (f64, f64),
}

/// Numbers of the arcs of one line; the ones' complement of a number is the arc walked backwards.
type ArcIndexes = Vec<i32>;

/// A geometry whose lines are numbers of arcs.
#[derive(Debug, Deserialize)]
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

impl Outlines {
    /// The shipped outlines of a layer, unpacked by the first call.
    ///
    /// # Errors
    /// [`OutlinesError`] if the embedded file is damaged, which only a faulty build can bring about.
    pub fn shipped(layer: Layer) -> Result<&'static Outlines, OutlinesError> {
        static READ: [OnceLock<Result<Outlines, OutlinesError>>; Layer::ALL.len()] =
            [const { OnceLock::new() }; Layer::ALL.len()];
        READ[layer as usize].get_or_init(|| Outlines::read(layer)).as_ref().map_err(Clone::clone)
    }

    fn read(layer: Layer) -> Result<Outlines, OutlinesError> {
        let form = |reason: String| OutlinesError::Form { layer, reason };
        let mut text = Vec::new();
        flate2::read::GzDecoder::new(layer.packed()).read_to_end(&mut text).map_err(|e| form(e.to_string()))?;
        serde_json::from_slice(&text).map_err(|e| form(e.to_string()))
    }

    /// All areas of an object, each an outline and its holes; none where the file does not hold the object.
    ///
    /// # Units
    /// Degrees, as the file has them: longitudes may lie a quantum beyond 180°.
    ///
    /// ```
    /// use noonfall_scoring::outlines::{Layer, Outlines};
    /// // Natural Earth 1:50 million has some 1400 islands and continents.
    /// let land = Outlines::shipped(Layer::Countries50m)?.shapes("land");
    /// assert!((1300..1600).contains(&land.len()));
    /// # Ok::<(), noonfall_scoring::outlines::OutlinesError>(())
    /// ```
    pub fn shapes(&self, object: &str) -> Vec<Vec<Line>> {
        let mut shapes = Vec::new();
        if let Some(geometry) = self.objects.get(object) {
            geometry.each(&mut |rings| shapes.push(rings.iter().map(|ring| self.joined(ring)).collect()), &mut |_| {});
        }
        shapes
    }

    /// All lines of an object.
    ///
    /// # Units
    /// As [`Outlines::shapes`].
    pub fn lines(&self, object: &str) -> Vec<Line> {
        let mut lines = Vec::new();
        if let Some(geometry) = self.objects.get(object) {
            geometry.each(&mut |_| {}, &mut |line| lines.push(self.joined(line)));
        }
        lines
    }

    /// The arcs that two areas of an object have in common: of countries the borders without coasts.
    ///
    /// # Units
    /// As [`Outlines::shapes`].
    pub fn shared_lines(&self, object: &str) -> Vec<Line> {
        let mut uses = vec![0_u32; self.arcs.len()];
        if let Some(geometry) = self.objects.get(object) {
            let mut count = |rings: &[ArcIndexes]| {
                for &index in rings.iter().flatten() {
                    if let Some(uses) = uses.get_mut(arc(index).0) {
                        *uses += 1;
                    }
                }
            };
            geometry.each(&mut count, &mut |_| {});
        }
        (0..).zip(&uses).filter(|(_, uses)| **uses > 1).map(|(index, _)| self.joined(&[index])).collect()
    }

    /// The vertices of arcs one after another.
    fn joined(&self, indexes: &[i32]) -> Line {
        let mut vertices: Line = Vec::new();
        for &index in indexes {
            let (number, backwards) = arc(index);
            let Some(arc) = self.arcs.get(number) else { continue };
            let (scale, shift) = (self.transform.scale, self.transform.translate);
            let unpacked = arc.iter().scan((0, 0), |at, step| {
                *at = (at.0 + step.0, at.1 + step.1);
                Some((f64::from(at.0) * scale.0 + shift.0, f64::from(at.1) * scale.1 + shift.1))
            });
            // An arc begins where the one before it ended.
            vertices.pop();
            let from = vertices.len();
            vertices.extend(unpacked);
            if backwards {
                vertices[from..].reverse();
            }
        }
        vertices
    }
}

/// Number of an arc, and whether it is walked backwards.
fn arc(index: i32) -> (usize, bool) {
    if index < 0 { (!index as usize, true) } else { (index as usize, false) }
}

impl Geometry {
    /// Hands over the rings of each area, and each line.
    fn each(&self, area: &mut impl FnMut(&[ArcIndexes]), line: &mut impl FnMut(&[i32])) {
        match self {
            Geometry::LineString { arcs } => line(arcs),
            Geometry::MultiLineString { arcs } => arcs.iter().for_each(|arcs| line(arcs)),
            Geometry::Polygon { arcs } => area(arcs),
            Geometry::MultiPolygon { arcs } => arcs.iter().for_each(|arcs| area(arcs)),
            Geometry::Collection { geometries } => {
                for geometry in geometries {
                    geometry.each(area, line);
                }
            }
            Geometry::Other => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_layer_is_whole_and_under_its_own_number() {
        // How many there are by `data/basemap/ORIGIN.md`.
        for (number, (layer, object, least)) in (0..).zip([
            (Layer::Countries10m, "land", 4000),
            (Layer::Countries50m, "land", 1300),
            (Layer::Lakes10m, "lakes", 1300),
            (Layer::Lakes50m, "lakes", 800),
            (Layer::StateLines50m, "state_lines", 500),
        ]) {
            assert_eq!((layer as usize, Layer::ALL[number]), (number, layer));
            let outlines = Outlines::shipped(layer).unwrap();
            let found = outlines.shapes(object).len() + outlines.lines(object).len();
            assert!(found > least, "{layer:?}: {found}");
        }
    }
}
