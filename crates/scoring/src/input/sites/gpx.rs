//! GPX waypoints (Topografix GPX 1.0 and 1.1); routes and tracks are passed over.

use super::gather::{A_HEIGHT, Draft, Gather, HEIGHTS_M, cell_of, nameless, place_of};
use super::xml::{LineCount, open, text_of};
use super::{Cell, Sites, Spot};
use crate::fault::Faults;

/// Texts of a waypoint that become columns.
const COLUMNS: [&str; 4] = ["type", "sym", "cmt", "desc"];

/// Reads the waypoints of a GPX text.
///
/// # Errors
/// Every fault of the text.
pub(super) fn read(file: &str, text: &str, limit: u64) -> Result<Sites, Faults> {
    let document = open(file, text)?;
    let mut lines = LineCount::of(&document);
    let mut gather = Gather::new(file, limit);
    for waypoint in document.root_element().children().filter(|n| n.is_element() && n.tag_name().name() == "wpt") {
        if !gather.more() {
            continue;
        }
        let spot = Spot::Line(lines.line(waypoint));
        let before = gather.faults.0.len();
        let mut number = |name: &str| {
            let given = waypoint.attribute(name);
            given.and_then(|g| g.trim().parse::<f64>().ok()).filter(|x| x.is_finite()).unwrap_or_else(|| {
                let wrong = given.map_or("it is missing".to_owned(), |g| format!("\"{g}\" is not a number"));
                gather.faults.0.push(spot.fault(file, name, wrong, "give degrees"));
                0.0
            })
        };
        let place = place_of(number("lat"), number("lon"))
            .map_err(|(wrong, right)| gather.faults.0.push(spot.fault(file, "", wrong, right)))
            .ok();
        let elevation_m = text_of(waypoint, "ele").and_then(|ele| {
            let metres = ele.parse::<f64>().ok().filter(|m| HEIGHTS_M.contains(m));
            if metres.is_none() {
                gather.faults.0.push(spot.fault(file, "ele", format!("\"{ele}\" is not an elevation"), A_HEIGHT));
            }
            metres
        });
        let Some((lat_deg, lon_deg)) = place.filter(|_| gather.faults.0.len() == before) else { continue };
        let texts = COLUMNS.iter().filter_map(|c| Some((c, text_of(waypoint, c)?)));
        let cells = texts.filter_map(|(c, t)| Some(((*c).to_owned(), cell_of(t).ok().filter(|c| *c != Cell::Empty)?)));
        let cells = cells.collect();
        let name = text_of(waypoint, "name").map_or_else(|| nameless(lat_deg, lon_deg), str::to_owned);
        gather.push(Draft { name, lat_deg, lon_deg, elevation_m, zone: None, cells, spot });
    }
    gather.finish(("there is no waypoint in it", "give wpt elements; routes and tracks are no candidates"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waypoints_become_candidates() {
        let text = "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n\
            <wpt lat=\"-15.5\" lon=\"128.5\"><ele>40</ele><name>A &amp; B</name><type>camp</type></wpt>\n\
            <trk><trkseg><trkpt lat=\"1\" lon=\"2\"/></trkseg></trk>\n</gpx>";
        let sites = read("s.gpx", text, 10).unwrap();
        assert_eq!((sites.rows[0].name.as_str(), sites.rows[0].elevation_m), ("A & B", Some(40.0)));
        assert_eq!(sites.rows[0].spot, Spot::Line(3));
        assert_eq!(sites.columns, ["type"]);
        let bad = text.replace("-15.5", "abc").replace(">40<", ">high<");
        let faults = read("s.gpx", &bad, 10).unwrap_err().to_string();
        assert!(faults.contains("s.gpx:3: column lat: \"abc\" is not a number"), "{faults}");
        assert!(faults.contains("s.gpx:3: column ele: \"high\" is not an elevation"), "{faults}");
        let none = read("s.gpx", &text.replace("wpt", "rte"), 10).unwrap_err().to_string();
        assert!(none.contains("there is no waypoint in it"), "{none}");
    }
}
