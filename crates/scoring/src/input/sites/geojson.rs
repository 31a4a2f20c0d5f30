//! GeoJSON points (RFC 7946): a feature with a `Point` is a candidate, its properties are columns; features of other kinds, such as the
//! lines and areas that stand beside them, are passed over.

use geojson::{Feature, GeoJson, GeometryValue, JsonValue};

use super::gather::{Draft, Fields, Gather, nameless, place_of};
use super::{Sites, Spot};
use crate::fault::{Fault, Faults};

/// Properties that name a place, the first found.
const NAME: [&str; 6] = ["name", "title", "site", "place", "town", "label"];
const ELEVATION: [&str; 4] = ["elevation_m", "altitude_m", "height_m", "ele"];
const ZONE: [&str; 3] = ["zone", "timezone", "time_zone"];

/// Reads the points of a GeoJSON text.
///
/// # Errors
/// Every fault of the text.
pub(super) fn read(file: &str, text: &str, limit: u64) -> Result<Sites, Faults> {
    let right = "give a GeoJSON FeatureCollection of Points (RFC 7946)";
    let json: GeoJson = text
        .trim_start_matches('\u{feff}')
        .parse()
        .map_err(|e| Fault::of_file(file, format!("is not GeoJSON ({e})"), right))?;
    let (features, foreign) = match json {
        GeoJson::FeatureCollection(all) => (all.features, all.foreign_members),
        GeoJson::Feature(one) => (vec![one], None),
        GeoJson::Geometry(geometry) => (vec![Feature::from(geometry)], None),
    };
    let crs = foreign.as_ref().and_then(|f| f.get("crs")).map(ToString::to_string);
    if let Some(crs) = crs.filter(|c| !c.contains("CRS84") && !c.contains("EPSG::4326") && !c.contains("EPSG:4326")) {
        let wrong = format!("is in another reference system ({})", crs.chars().take(120).collect::<String>());
        return Err(Fault::of_file(file, wrong, "write it in WGS 84 degrees, as RFC 7946 asks").into());
    }
    let mut gather = Gather::new(file, limit);
    let mut others: Vec<&str> = Vec::new();
    for (i, feature) in features.into_iter().enumerate() {
        let spot = Spot::Feature(i as u64 + 1);
        let point = match feature.geometry.as_ref().map(|g| &g.value) {
            Some(GeometryValue::Point { coordinates }) => coordinates.as_slice().to_vec(),
            Some(GeometryValue::MultiPoint { coordinates }) if coordinates.len() == 1 => {
                coordinates[0].as_slice().to_vec()
            }
            Some(GeometryValue::MultiPoint { coordinates }) => {
                let wrong = format!("a MultiPoint of {} is no single place", coordinates.len());
                gather.faults.0.push(spot.fault(file, "", wrong, "give every place a feature with a Point"));
                continue;
            }
            Some(other) => {
                others.push(other.type_name());
                continue;
            }
            None => {
                others.push("feature without geometry");
                continue;
            }
        };
        if gather.more()
            && let Some(draft) = draft(file, spot, &point, feature, &mut gather.faults)
        {
            gather.push(draft);
        }
    }
    others.sort_unstable();
    others.dedup();
    let none = if others.is_empty() {
        "there is no feature in it".to_owned()
    } else {
        format!("there is no Point in it, only: {}", others.join(", "))
    };
    gather.finish((&none, right))
}

fn draft(file: &str, spot: Spot, point: &[f64], feature: Feature, faults: &mut Faults) -> Option<Draft> {
    let before = faults.0.len();
    let place = match point {
        [lon, lat, ..] => {
            place_of(*lat, *lon).map_err(|(wrong, right)| faults.0.push(spot.fault(file, "", wrong, right))).ok()
        }
        _ => {
            faults.0.push(spot.fault(file, "", "its Point has fewer than two numbers", "give [longitude, latitude]"));
            None
        }
    };
    let mut name = None;
    let mut fields = Fields::named(&ELEVATION, &ZONE);
    fields.elevation_m = point.get(2).copied();
    let properties = feature.properties.unwrap_or_default();
    let named = NAME.iter().find(|n| properties.get(**n).is_some_and(|v| !v.is_null())).copied();
    for (key, value) in properties {
        let text = match value {
            JsonValue::Null => continue,
            JsonValue::String(text) => text,
            other => other.to_string(),
        };
        if Some(key.as_str()) == named {
            name = Some(text.trim().to_owned()).filter(|n| !n.is_empty());
        } else {
            fields.take(file, spot, &key, &text, faults);
        }
    }
    fields.check(file, spot, faults);
    let (lat_deg, lon_deg) = place.filter(|_| faults.0.len() == before)?;
    let name = name.unwrap_or_else(|| nameless(lat_deg, lon_deg));
    let Fields { elevation_m, zone, cells, .. } = fields;
    Some(Draft { name, lat_deg, lon_deg, elevation_m, zone, cells, spot })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::sites::Cell;

    fn of(features: &str) -> Result<Sites, Faults> {
        read("s.geojson", &format!("{{\"type\":\"FeatureCollection\",\"features\":[{features}]}}"), 100)
    }

    #[test]
    fn points_become_candidates_and_properties_columns() {
        let sites = of(r#"
            {"type":"Feature","properties":{"role":"path"},"geometry":{"type":"LineString","coordinates":[[0,0],[1,1]]}},
            {"type":"Feature","properties":{"name":"A","beds":12,"open":true,"note":null},"geometry":{"type":"Point","coordinates":[128.5,-15.5,40]}},
            {"type":"Feature","properties":{"zone":"Australia/Perth","surface":"sand"},"geometry":{"type":"Point","coordinates":[-180,-16]}}"#)
        .unwrap();
        assert_eq!(sites.columns, ["beds", "open", "surface"]);
        let a = &sites.rows[0];
        assert_eq!((a.name.as_str(), a.lat_deg, a.lon_deg, a.elevation_m), ("A", -15.5, 128.5, Some(40.0)));
        assert_eq!(a.cells, [Cell::Number(12.0), Cell::Text("true".into()), Cell::Empty]);
        assert_eq!(sites.rows[1].lon_deg, 180.0);
        assert_eq!(sites.rows[1].zone, Some(chrono_tz::Australia::Perth));
        assert!(!sites.rows[1].name.is_empty());
    }

    #[test]
    fn every_wrong_feature_is_named() {
        let text = of(r#"
            {"type":"Feature","properties":{"name":"A"},"geometry":{"type":"Point","coordinates":[500000,4649776]}},
            {"type":"Feature","properties":{"name":"B","zone":"Mars/Base","elevation_m":"high"},"geometry":{"type":"Point","coordinates":[1,2]}},
            {"type":"Feature","properties":{"name":"C"},"geometry":{"type":"MultiPoint","coordinates":[[1,2],[3,4]]}}"#)
        .unwrap_err()
        .to_string();
        for part in [
            "s.geojson: feature 1: \"4649776\" is not a latitude",
            "s.geojson: column zone: feature 2: \"Mars/Base\" is not a time zone",
            "s.geojson: column elevation_m: feature 2: \"high\" is not an elevation",
            "s.geojson: feature 3: a MultiPoint of 2",
        ] {
            assert!(text.contains(part), "{part}\n{text}");
        }
        let lines =
            of(r#"{"type":"Feature","properties":null,"geometry":{"type":"LineString","coordinates":[[0,0],[1,1]]}}"#);
        assert!(lines.unwrap_err().to_string().contains("there is no Point in it, only: LineString"));
        assert!(read("s.json", "{\"type\":\"Feature\"", 1).unwrap_err().to_string().contains("is not GeoJSON"));
        let crs = r#"{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::25830"}},"features":[]}"#;
        assert!(read("s.json", crs, 1).unwrap_err().to_string().contains("another reference system"));
    }
}
