//! The plan, its candidates and its tables.

use std::path::Path;

use noonfall_ephemeris::GeoPoint;
use noonfall_scoring::input::drive_hours::DriveHours;
use noonfall_scoring::input::horizon::HorizonSurvey;
use noonfall_scoring::input::polygon;
use noonfall_scoring::input::sites::{Cell, Sites};
use noonfall_scoring::plan::Plan;

use super::{is_place, refused};
use crate::target::{PLAIN, Target};

const GEOJSON: &[u8] = br#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"A","beds":3,"zone":"Australia/Perth"},"geometry":{"type":"Point","coordinates":[145.9,-30.5,12]}},{"type":"Feature","properties":{"title":"B"},"geometry":{"type":"Point","coordinates":[-170,-31]}}]}"#;
const KML: &[u8] = br#"<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder><name>F</name><Placemark><name>A</name><ExtendedData><Data name="beds"><value>3</value></Data></ExtendedData><Point><altitudeMode>absolute</altitudeMode><coordinates>145.9,-30.5,40</coordinates></Point></Placemark></Folder></Document></kml>"#;
const GPX: &[u8] = br#"<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="-30.5" lon="145.9"><ele>12</ele><name>A</name><sym>Camp</sym></wpt><wpt lat="-31" lon="146"/></gpx>"#;
const PLAN: &[u8] = b"[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n[weights]\ntotality = 2\nbeds = 1\n[wish.beds]\nbetter = \"range\"\nfrom = 2\nto = 8\nfade = 3\n[require]\nmin_totality_s = 30\n[search]\nspacing_km = 5\n[robustness]\ndraws = 3000\nspread.beds = 0.5\n";

pub(super) fn targets() -> Vec<Target> {
    vec![
        Target {
            name: "plan",
            file: "plan.toml",
            seeds: &["data/demo/plan.toml"],
            made: || vec![PLAN.to_vec()],
            words: &[
                "[wish.",
                "points = [[0, 0], [1, 1]]",
                "kind = \"grid\"",
                "towns = {}",
                "= [",
                "\"",
                "inf",
                "nan",
                "1979-05-27",
                "[[",
                "'''",
            ],
            read: plan,
            ..PLAIN
        },
        Target {
            name: "sites-table",
            file: "s.csv",
            seeds: &["data/demo/sites.csv"],
            made: || {
                let tabs = "Site\tLatitude\tLongitude\nA\t30\u{b0}30\u{2032}S\t145 54 E\n";
                vec![
                    b"name,lat,lon,elevation_m,zone,beds\nA,-30.5,145.9,120,Australia/Sydney,12\n\"C, by the river\",-32,146,3,,4\n".to_vec(),
                    [0xff, 0xfe].into_iter().chain(tabs.encode_utf16().flat_map(u16::to_le_bytes)).collect(),
                    b"lat;lon;hoehe_m\n-15,5;127,5;12,5\n".to_vec(),
                ]
            },
            words: &[
                "lat",
                "lon",
                "zone",
                "15\u{b0}29\u{2032}13\u{2033} S",
                "S 15 29.22",
                "\"",
                "\r\n",
                ";",
                "\t",
                "\u{feff}",
            ],
            read: sites,
            ..PLAIN
        },
        Target {
            name: "sites-geojson",
            file: "s.geojson",
            made: || vec![GEOJSON.to_vec()],
            words: &[
                "[[[[",
                "\"type\":",
                "null",
                "\"Point\"",
                "\"MultiPoint\"",
                "{\"",
                "}",
                "]",
                "1e400",
                "\\u0000",
                "\\ud800",
            ],
            read: sites,
            ..PLAIN
        },
        Target {
            name: "sites-kml",
            file: "s.kml",
            made: || vec![KML.to_vec()],
            words: &[
                "<Folder>",
                "</Folder>",
                "<Placemark>",
                "<!DOCTYPE a [<!ENTITY b \"cc\">]>",
                "&b;",
                "<![CDATA[",
                "]]>",
                "&#0;",
                "<a>",
            ],
            read: sites,
            ..PLAIN
        },
        Target {
            name: "sites-kmz",
            file: "s.kmz",
            made: || vec![stored_in_a_zip("doc.kml", KML)],
            words: &["PK\u{3}\u{4}", "PK\u{1}\u{2}", "PK\u{5}\u{6}", "../", ".kml"],
            read: sites,
            ..PLAIN
        },
        Target {
            name: "sites-gpx",
            file: "s.gpx",
            made: || vec![GPX.to_vec()],
            words: &[
                "<wpt lat=\"1\" lon=\"2\">",
                "</wpt>",
                "<ele>",
                "<name>",
                "<!DOCTYPE a [<!ENTITY b \"cc\">]>",
                "&b;",
                "<trk>",
            ],
            read: sites,
            ..PLAIN
        },
        Target {
            name: "drives",
            file: "d.csv",
            made: || vec![b"from,to,hours,source\nA,B,1.5,INVENTED\nB,A,1.75,x\nB,C,5,x\n".to_vec()],
            words: &["from", "hours", "A", "\"", ";", "\r\n"],
            read: drives,
            ..PLAIN
        },
        Target {
            name: "polygon",
            file: "p.geojson",
            made: || {
                vec![br#"{"type":"Feature","properties":{},"geometry":{"type":"MultiPolygon","coordinates":[[[[140,-30],[150,-30],[150,-20],[140,-20],[140,-30]],[[144,-26],[146,-26],[146,-24],[144,-24],[144,-26]]],[[[100,0],[101,0],[101,1],[100,0]]]]}}"#.to_vec()]
            },
            words: &["[[[", "]]]", "\"Polygon\"", "null", "[180,0]", "[-180,0]", "[0,90]"],
            read: area,
            ..PLAIN
        },
        Target {
            name: "horizon",
            file: "h.csv",
            made: || {
                let point =
                    |i: u32| format!("{},{},{}\n", if i < 18 { "A" } else { "B" }, i * 10, 0.5 + f64::from(i % 5));
                let points: String = (0..36).map(point).collect();
                vec![format!("name,azimuth_deg,altitude_deg\n{points}").into_bytes()]
            },
            words: &["name", "azimuth_deg", "360", "\"", ";"],
            read: horizon,
            ..PLAIN
        },
    ]
}

fn plan(path: &Path) -> String {
    match Plan::read(path) {
        Ok(plan) => format!("read plan {} {}", plan.search.is_some(), plan.clouds.is_some()),
        Err(faults) => refused(&faults, path),
    }
}

fn sites(path: &Path) -> String {
    match Sites::read(path, 1000) {
        Ok(sites) => {
            for row in &sites.rows {
                assert!(is_place(row.lat_deg, row.lon_deg) && !row.name.is_empty(), "{row:?}");
                assert!(row.elevation_m.is_none_or(f64::is_finite), "{row:?}");
                assert!(row.cells.iter().all(|c| !matches!(c, Cell::Number(x) if !x.is_finite())), "{row:?}");
                assert_eq!(row.cells.len(), sites.columns.len(), "{row:?}");
            }
            format!("read sites {} {}", sites.rows.len().min(3), sites.columns.len().min(9))
        }
        Err(faults) => refused(&faults, path),
    }
}

fn drives(path: &Path) -> String {
    match DriveHours::read(path, &["A", "B", "C"]) {
        Ok(drives) => {
            let pairs = [("A", "B"), ("B", "C"), ("C", "A")].map(|(from, to)| drives.between(from, to));
            assert!(pairs.iter().flatten().all(|h| (0.0..=240.0).contains(h)), "{pairs:?}");
            format!("read drives {}", pairs.iter().flatten().count())
        }
        Err(faults) => refused(&faults, path),
    }
}

fn area(path: &Path) -> String {
    match polygon::read(path) {
        Ok(region) => {
            let inside = [(-25.0, 141.0), (-25.0, 145.0), (0.2, 100.8)]
                .map(|(lat_deg, lon_deg)| region.contains(GeoPoint { lat_deg, lon_deg }));
            format!("read polygon {inside:?}")
        }
        Err(faults) => refused(&faults, path),
    }
}

fn horizon(path: &Path) -> String {
    match HorizonSurvey::open(path) {
        Ok(survey) => {
            for name in survey.names().map(Some).chain([None]) {
                let Some(found) = survey.of(name) else { continue };
                assert!(found.points().iter().all(|p| p.0.is_finite() && p.1.abs() <= 90.0), "{found:?}");
            }
            format!("read horizon {}", survey.names().count().min(3))
        }
        Err(faults) => refused(&faults, path),
    }
}

/// A zip of one file, stored as it is (PKWARE APPNOTE 4.3: local header, central directory, end).
fn stored_in_a_zip(name: &str, bytes: &[u8]) -> Vec<u8> {
    let mut crc = flate2::Crc::new();
    crc.update(bytes);
    let (size, length) = (bytes.len() as u32, name.len() as u16);
    let mut about = Vec::new();
    about.extend([20, 0, 0, 0, 0, 0, 0, 0, 0, 0]);
    about.extend(crc.sum().to_le_bytes());
    about.extend(size.to_le_bytes());
    about.extend(size.to_le_bytes());
    about.extend(length.to_le_bytes());
    about.extend([0, 0]);
    let local = [b"PK\x03\x04", &about[..], name.as_bytes(), bytes].concat();
    let central = [b"PK\x01\x02", &[20, 0][..], &about, &[0; 14], name.as_bytes()].concat();
    let mut end = b"PK\x05\x06\0\0\0\0\x01\0\x01\0".to_vec();
    end.extend((central.len() as u32).to_le_bytes());
    end.extend((local.len() as u32).to_le_bytes());
    end.extend([0, 0]);
    [local, central, end].concat()
}
