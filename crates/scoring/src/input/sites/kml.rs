//! KML placemarks (OGC 07-147r2), in folders too, and KMZ, the archive around one. A placemark with a `Point` is a candidate, its extended
//! data are columns and so is the name of its folder; lines and areas are passed over.

use std::io::{Cursor, Read};

use roxmltree::Node;

use super::gather::{Draft, Fields, Gather, nameless, place_of};
use super::xml::{LineCount, open, text_of};
use super::{Cell, Sites, Spot};
use crate::fault::{Fault, Faults};
use crate::input::zip;

/// The longest KML taken out of an archive, bytes.
const LONGEST: u64 = 512 << 20;

/// The KML inside a KMZ: `doc.kml` where there is one, else the first.
///
/// # Errors
/// One fault for an archive that is broken, too large, or without KML.
pub(super) fn of_archive(file: &str, bytes: &[u8]) -> Result<String, Faults> {
    let unpacked = |e: std::io::Error| Fault::of_file(file, format!("cannot be unpacked ({e})"), "unpack it first");
    let mut archive = Cursor::new(bytes);
    let entries = zip::entries(file, &mut archive)?;
    let is_kml = |name: &str| name.to_ascii_lowercase().ends_with(".kml");
    let first = entries.iter().find(|e| e.name.eq_ignore_ascii_case("doc.kml"));
    let Some(entry) = first.or_else(|| entries.iter().find(|e| is_kml(&e.name))) else {
        return Err(Fault::of_file(file, "is an archive without a KML file", "give a KMZ, or unpack it first").into());
    };
    if entry.size > LONGEST {
        let wrong = format!("{} in it is longer than {} MB", entry.name, LONGEST >> 20);
        return Err(Fault::of_file(file, wrong, "give fewer placemarks").into());
    }
    let mut text = Vec::new();
    zip::extract(file, &mut archive, entry)?.read_to_end(&mut text).map_err(unpacked)?;
    let text = crate::input::text::text_of(file, text)?;
    Ok(String::from_utf8_lossy(&text).into_owned())
}

/// Reads the placemarks of a KML text.
///
/// # Errors
/// Every fault of the text.
pub(super) fn read(file: &str, text: &str, limit: u64) -> Result<Sites, Faults> {
    let document = open(file, text)?;
    let mut lines = LineCount::of(&document);
    let mut gather = Gather::new(file, limit);
    let mut others = 0_u64;
    for placemark in document.descendants().filter(|n| n.tag_name().name() == "Placemark") {
        let Some(point) = placemark.descendants().find(|n| n.tag_name().name() == "Point") else {
            others += 1;
            continue;
        };
        if gather.more() {
            let spot = Spot::Line(lines.line(placemark));
            if let Some(draft) = draft(file, spot, placemark, point, &mut gather.faults) {
                gather.push(draft);
            }
        }
    }
    let none = match others {
        0 => "there is no placemark in it".to_owned(),
        others => format!("none of its {others} placemarks has a Point"),
    };
    gather.finish((&none, "give placemarks with a Point"))
}

fn draft(file: &str, spot: Spot, placemark: Node<'_, '_>, point: Node<'_, '_>, faults: &mut Faults) -> Option<Draft> {
    let before = faults.0.len();
    let written = text_of(point, "coordinates").unwrap_or_default();
    let numbers: Option<Vec<f64>> = written.split(',').map(|n| n.trim().parse().ok()).collect();
    let numbers = numbers.filter(|n| n.len() >= 2 && n.iter().all(|x| x.is_finite()));
    let place = match &numbers {
        Some(n) => place_of(n[1], n[0])
            .map_err(|(wrong, right)| faults.0.push(spot.fault(file, "coordinates", wrong, right)))
            .ok(),
        None => {
            let wrong = format!("\"{}\" is not a place", written.chars().take(60).collect::<String>());
            faults.0.push(spot.fault(file, "coordinates", wrong, "give longitude,latitude in degrees"));
            None
        }
    };
    // The height of a point counts only where the file says that it is one above sea level.
    let mut fields = Fields::named(&["elevation_m"], &["zone"]);
    let height_m = numbers.as_ref().and_then(|n| n.get(2).copied());
    fields.elevation_m = height_m.filter(|_| text_of(point, "altitudeMode") == Some("absolute"));
    let folder = placemark.ancestors().find(|a| a.tag_name().name() == "Folder").and_then(|f| text_of(f, "name"));
    if let Some(folder) = folder {
        fields.cells.push(("folder".to_owned(), Cell::Text(folder.to_owned())));
    }
    for (key, text) in placemark.descendants().filter_map(field) {
        fields.take(file, spot, key, text, faults);
    }
    fields.check(file, spot, faults);
    let (lat_deg, lon_deg) = place.filter(|_| faults.0.len() == before)?;
    let name = text_of(placemark, "name").map_or_else(|| nameless(lat_deg, lon_deg), str::to_owned);
    let Fields { elevation_m, zone, cells, .. } = fields;
    Some(Draft { name, lat_deg, lon_deg, elevation_m, zone, cells, spot })
}

/// A field of extended data: `Data` with a `value`, or `SimpleData`.
fn field<'a>(node: Node<'a, '_>) -> Option<(&'a str, &'a str)> {
    let name = node.attribute("name")?;
    match node.tag_name().name() {
        "Data" => Some((name, text_of(node, "value")?)),
        "SimpleData" => Some((name, node.text()?.trim())),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "<?xml version=\"1.0\"?>\n<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document>\n\
        <Folder><name>Camps</name>\n<Placemark><name>A</name><ExtendedData><Data name=\"beds\"><value>12</value></Data>\
        <Data name=\"zone\"><value>Australia/Perth</value></Data></ExtendedData>\
        <Point><coordinates> 128.5,-15.5,40 </coordinates></Point></Placemark></Folder>\n\
        <Placemark><name>line</name><LineString><coordinates>1,2 3,4</coordinates></LineString></Placemark>\n\
        <Placemark><Point><altitudeMode>absolute</altitudeMode><coordinates>129,-16,55</coordinates></Point></Placemark>\n\
        </Document></kml>";

    #[test]
    fn placemarks_become_candidates() {
        let sites = read("s.kml", TEXT, 10).unwrap();
        assert_eq!(sites.columns, ["folder", "beds"]);
        let [a, b] = sites.rows.as_slice() else { panic!("{sites:?}") };
        assert_eq!((a.name.as_str(), a.lat_deg, a.lon_deg, a.elevation_m), ("A", -15.5, 128.5, None));
        assert_eq!(
            (a.cells.as_slice(), a.spot),
            (&[Cell::Text("Camps".into()), Cell::Number(12.0)][..], Spot::Line(4))
        );
        assert_eq!((b.elevation_m, b.spot), (Some(55.0), Spot::Line(6)));
        assert!(!b.name.is_empty());
    }

    #[test]
    fn every_wrong_placemark_is_named() {
        let bad = TEXT
            .replace("128.5,-15.5", "128.5;-15.5")
            .replace("129,-16", "129,-96")
            .replace("Australia/Perth", "Perth");
        let text = read("s.kml", &bad, 10).unwrap_err().to_string();
        for part in [
            "s.kml:4: column coordinates: \"128.5;-15.5,40\" is not a place",
            "s.kml:4: column zone: \"Perth\" is not a time zone",
            "s.kml:6: column coordinates: \"-96\" is not a latitude",
        ] {
            assert!(text.contains(part), "{part}\n{text}");
        }
        let cut = read("s.kml", &TEXT[..300], 10).unwrap_err().to_string();
        assert!(cut.contains("is not readable XML"), "{cut}");
        let bomb = format!("<!DOCTYPE kml [<!ENTITY a \"aaaa\"><!ENTITY b \"&a;&a;&a;\">]>{TEXT}")
            .replace("<?xml version=\"1.0\"?>", "");
        assert!(read("s.kml", &bomb, 10).unwrap_err().to_string().contains("is not readable XML"));
    }
}
