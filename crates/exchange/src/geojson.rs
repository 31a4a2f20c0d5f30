//! GeoJSON (RFC 7946): path, lines and sites, cut at the antimeridian, wound by the right-hand rule, longitude first.

use ::geojson::{Bbox, Feature, Geometry, GeometryValue, JsonObject, feature::Id};
use serde_json::{Value, json};

use crate::antimeridian::{LonLat, cut_line, cut_ring};
use crate::export::text;
use crate::{ExportHead, ExportPath, ExportSite};
use noonfall_ephemeris::GeoPoint;
use std::borrow::Borrow;
use std::io::{self, Write};

fn object(value: Value) -> JsonObject {
    match value {
        Value::Object(fields) => fields,
        _ => JsonObject::new(),
    }
}

fn feature(id: &str, geometry: GeometryValue, properties: Value) -> Feature {
    Feature {
        bbox: None,
        geometry: Some(Geometry::new(geometry)),
        id: Some(Id::String(id.into())),
        properties: Some(object(properties)),
        foreign_members: None,
    }
}

fn line_geometry(points: &[GeoPoint]) -> Option<GeometryValue> {
    lines_geometry(cut_line(points))
}

fn lines_geometry(mut pieces: Vec<Vec<LonLat>>) -> Option<GeometryValue> {
    match pieces.len() {
        0 => None,
        1 => pieces.pop().map(GeometryValue::new_line_string),
        _ => Some(GeometryValue::new_multi_line_string(pieces)),
    }
}

fn area_geometry(points: &[GeoPoint]) -> Option<GeometryValue> {
    let mut areas = cut_ring(points);
    match areas.len() {
        0 => None,
        1 => areas.pop().map(GeometryValue::new_polygon),
        _ => Some(GeometryValue::new_multi_polygon(areas)),
    }
}

/// The features of a path: `path`, `central_line`, `north_limit`, `south_limit`, those that exist, and the curves beside it.
fn path_features(head: &ExportHead, path: &ExportPath) -> Vec<Feature> {
    let mut features = Vec::new();
    let mut push = |id: &str, geometry: Option<GeometryValue>| {
        if let Some(geometry) = geometry {
            features.push(feature(
                id,
                geometry,
                json!({ "role": id, "eclipse": head.eclipse.to_string(), "kind": head.kind }),
            ));
        }
    };
    push("path", area_geometry(&path.polygon));
    push("central_line", line_geometry(&path.central_line));
    push("north_limit", line_geometry(&path.north_limit));
    push("south_limit", line_geometry(&path.south_limit));
    features.extend(path.curves.iter().filter_map(|curve| {
        let geometry = lines_geometry(curve.lines.iter().flat_map(|line| cut_line(line)).collect())?;
        let mut properties = object(json!({ "role": curve.role, "name": curve.name }));
        properties.extend(curve.properties.clone());
        properties.extend(object(json!({ "eclipse": head.eclipse.to_string(), "kind": head.kind })));
        Some(feature(&curve.id, geometry, Value::Object(properties)))
    }));
    features
}

fn number(value: Option<f64>) -> Value {
    value.filter(|value| value.is_finite()).map_or(Value::Null, |value| json!(value))
}

/// Where a site lies; none for what is no place.
fn place(site: &ExportSite) -> Option<LonLat> {
    let point = GeoPoint { lat_deg: site.lat_deg, lon_deg: site.lon_deg };
    (site.lat_deg.is_finite() && site.lon_deg.is_finite()).then(|| crate::antimeridian::lon_lat(&point))
}

fn site_feature(index: usize, site: &ExportSite) -> Option<Feature> {
    let [lon, lat] = place(site)?;
    let position = match site.elevation_m.filter(|metres| metres.is_finite()) {
        Some(metres) => vec![lon, lat, metres],
        None => vec![lon, lat],
    };
    let contacts: JsonObject = site
        .contacts
        .iter()
        .map(|contact| {
            (contact.label.to_owned(), json!(contact.utc.to_rfc3339_opts(chrono::SecondsFormat::Millis, true)))
        })
        .collect();
    let window = site.safe_window();
    let local = |utc: chrono::DateTime<chrono::Utc>| {
        utc.with_timezone(&site.zone).to_rfc3339_opts(chrono::SecondsFormat::Millis, false)
    };
    Some(feature(
        &format!("site-{}", index + 1),
        GeometryValue::new_point(position),
        json!({
            "role": "site",
            "rank": site.rank,
            "name": site.name,
            "zone": site.zone.name(),
            "score": number(site.score),
            "phase": site.seen.word(),
            "totality_s": crate::values::number(site.totality_s, 2),
            "clear_sky_probability": number(site.clear_sky_probability),
            "rejected": if site.rejected.is_empty() { Value::Null } else { json!(site.rejected) },
            "contacts_utc": contacts,
            "filter_off": window.map(|window| local(window.off_utc)),
            "filter_on": window.map(|window| local(window.on_utc)),
            "no_window": site.why_none(),
        }),
    ))
}

/// Path and sites as one feature collection, as [`write()`] has it.
pub fn feature_collection(head: &ExportHead, path: &ExportPath, sites: &[ExportSite]) -> String {
    // Memory takes what is written, and every value here has a form in JSON.
    text(|out| write(head, path, sites.iter(), out)).unwrap_or_default()
}

/// Writes path and sites as one feature collection, feature by feature; the sites are gone through twice.
///
/// The head stands in foreign members (RFC 7946, section 6.1). A bounding box is given where nothing crosses the antimeridian.
///
/// # Errors
/// What the writer says.
pub fn write(
    head: &ExportHead,
    path: &ExportPath,
    sites: impl Iterator<Item: Borrow<ExportSite>> + Clone,
    mut out: impl Write,
) -> io::Result<()> {
    let features = path_features(head, path);
    out.write_all(b"{\"type\":\"FeatureCollection\"")?;
    if let Some(bbox) = bounds(&features, sites.clone().filter_map(|site| place(site.borrow()))) {
        out.write_all(b",\"bbox\":")?;
        serde_json::to_writer(&mut out, &bbox)?;
    }
    out.write_all(b",\"features\":[")?;
    let of_sites = sites.enumerate().filter_map(|(i, site)| site_feature(i, site.borrow()));
    for (number, feature) in features.into_iter().chain(of_sites).enumerate() {
        if number > 0 {
            out.write_all(b",")?;
        }
        serde_json::to_writer(&mut out, &feature)?;
    }
    out.write_all(b"]")?;
    let members = object(json!({
        "title": head.title(),
        "eclipse": head.eclipse.to_string(),
        "kind": head.kind,
        "delta_t_s": number(Some(head.delta_t_s)),
        "delta_t_sigma_s": number(Some(head.delta_t_sigma_s)),
        "notes": head.notes(),
    }));
    for (name, value) in &members {
        write!(out, ",\"{name}\":{value}")?;
    }
    out.write_all(b"}\n")
}

/// The box about features without sites, and about places.
fn bounds(features: &[Feature], places: impl Iterator<Item = LonLat>) -> Option<Bbox> {
    let (mut west, mut south, mut east, mut north) =
        (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
    let mut add = |p: &[f64]| {
        west = west.min(p[0]);
        east = east.max(p[0]);
        south = south.min(p[1]);
        north = north.max(p[1]);
    };
    for feature in features {
        match feature.geometry.as_ref().map(|geometry| &geometry.value) {
            Some(GeometryValue::LineString { coordinates }) => coordinates.iter().for_each(|p| add(p.as_slice())),
            Some(GeometryValue::Polygon { coordinates }) => {
                coordinates.iter().flatten().for_each(|p| add(p.as_slice()));
            }
            // Pieces mean that the antimeridian was crossed; a box of such an area needs a reader that knows section 5.2.
            _ => return None,
        }
    }
    places.for_each(|p| add(&p));
    (west <= east && south <= north).then(|| vec![west, south, east, north])
}
