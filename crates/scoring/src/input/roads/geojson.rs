//! Roads from a GeoJSON of lines (RFC 7946).

use std::path::Path;

use geojson::{Feature, GeoJson, Geometry, GeometryValue, Position};
use noonfall_ephemeris::GeoPoint;

use super::{GIVE, Roads, called, drivable, too_many};
use crate::fault::{Fault, Faults};
use crate::input::table::read_bytes;

/// Adds the lines of a file. Where any feature has a `highway`, all are held to the classes of OpenStreetMap; else all lines
/// are roads.
pub(super) fn read(path: &Path, file: &str, near: &impl Fn(GeoPoint) -> bool, roads: &mut Roads) -> Result<(), Faults> {
    let bytes = read_bytes(path)?;
    let text = std::str::from_utf8(&bytes).map_err(|_| Fault::of_file(file, "is not UTF-8 text", GIVE))?;
    let text = text.trim_start_matches('\u{feff}');
    let geojson: GeoJson = text.parse().map_err(|e| Fault::of_file(file, format!("is not GeoJSON ({e})"), GIVE))?;
    let has_class = |feature: &Feature| feature.property("highway").is_some();
    let classed = match &geojson {
        GeoJson::Geometry(_) => false,
        GeoJson::Feature(feature) => has_class(feature),
        GeoJson::FeatureCollection(all) => all.features.iter().any(has_class),
    };
    let mut faults = Faults::default();
    let mut add = |number: usize, feature: Option<&Feature>, geometry: &Geometry| -> Result<(), Faults> {
        let tag = |key: &str| feature.and_then(|f| f.property(key)).and_then(|v| v.as_str());
        if classed && !drivable(tag) {
            return Ok(());
        }
        let name = roads.number(called(tag));
        let mut lines = Vec::new();
        if let Err(other) = collect(&geometry.value, &mut lines) {
            faults.0.push(Fault::of_file(file, format!("feature {number} is a {other}"), GIVE));
        }
        for line in lines {
            let points: Vec<Option<GeoPoint>> = line.iter().map(point).collect();
            if let Some(at) = points.iter().position(Option::is_none) {
                let p = line[at].as_slice();
                faults.0.push(Fault::of_file(
                    file,
                    format!("feature {number}: vertex {} {p:?} is not on the globe", at + 1),
                    "give longitude from -180 to 180, then latitude from -90 to 90",
                ));
                continue;
            }
            let points: Vec<GeoPoint> = points.into_iter().flatten().collect();
            for pair in points.windows(2).filter(|pair| may_matter(pair[0], pair[1], near)) {
                if !roads.add(pair[0], pair[1], name) {
                    return Err(too_many(file));
                }
            }
        }
        Ok(())
    };
    match &geojson {
        GeoJson::Geometry(g) => add(1, None, g)?,
        GeoJson::Feature(f) => f.geometry.iter().try_for_each(|g| add(1, Some(f), g))?,
        GeoJson::FeatureCollection(all) => {
            for (i, f) in all.features.iter().enumerate() {
                f.geometry.iter().try_for_each(|g| add(i + 1, Some(f), g))?;
            }
        }
    }
    faults.keep_short();
    faults.or(())
}

/// Whether a straight piece comes near the path: either end, or one of the points every 10 km between them.
fn may_matter(from: GeoPoint, to: GeoPoint, near: &impl Fn(GeoPoint) -> bool) -> bool {
    let lon_step = (to.lon_deg - from.lon_deg + 540.0).rem_euclid(360.0) - 180.0;
    let lat_step = to.lat_deg - from.lat_deg;
    let parts = (lat_step.abs().max(lon_step.abs()) / 0.1).ceil().max(1.0) as u32;
    (0..=parts).any(|part| {
        let t = f64::from(part) / f64::from(parts);
        near(GeoPoint { lat_deg: from.lat_deg + t * lat_step, lon_deg: from.lon_deg + t * lon_step })
    })
}

fn point(position: &Position) -> Option<GeoPoint> {
    let p = position.as_slice();
    let (lon, lat) = (*p.first()?, *p.get(1)?);
    let fits = (-180.0..=180.0).contains(&lon) && (-90.0..=90.0).contains(&lat);
    fits.then_some(GeoPoint { lat_deg: lat, lon_deg: lon })
}

fn collect<'a>(value: &'a GeometryValue, lines: &mut Vec<&'a [Position]>) -> Result<(), &'static str> {
    match value {
        GeometryValue::LineString { coordinates } => lines.push(coordinates),
        GeometryValue::MultiLineString { coordinates } => lines.extend(coordinates.iter().map(Vec::as_slice)),
        GeometryValue::GeometryCollection { geometries } => {
            geometries.iter().try_for_each(|g| collect(&g.value, lines))?;
        }
        GeometryValue::Point { .. } => return Err("Point"),
        GeometryValue::MultiPoint { .. } => return Err("MultiPoint"),
        GeometryValue::Polygon { .. } => return Err("Polygon"),
        GeometryValue::MultiPolygon { .. } => return Err("MultiPolygon"),
    }
    Ok(())
}
