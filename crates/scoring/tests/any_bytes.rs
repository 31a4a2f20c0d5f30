//! Whatever bytes a file holds, the readers answer or refuse: they never panic and never let a number through that is none.

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used)]

use noonfall_scoring::input::clouds::{self, CloudSeries, CloudTable, Wanted};
use noonfall_scoring::input::drive_hours::DriveHours;
use noonfall_scoring::input::sites::{Cell, Sites};
use noonfall_scoring::input::terrain::{Height, Terrain};
use noonfall_scoring::input::{epw, polygon};
use noonfall_scoring::plan::Plan;
use proptest::prelude::*;

/// A text with some bytes changed and its end cut off, as a bad download or a slip of the hand would leave it.
fn damaged(text: &[u8], changes: &[(usize, u8)], cut: usize) -> Vec<u8> {
    let mut bytes = text.to_vec();
    for &(at, byte) in changes {
        let at = at % bytes.len();
        bytes[at] = byte;
    }
    bytes.truncate(bytes.len() - cut % (bytes.len() / 4 + 1));
    bytes
}

/// A made-up weather year of one day.
fn weather_day() -> String {
    let mut text = String::from("LOCATION,Testville,-,AUS,Invented,000000,-30.00,150.00,10.0,100.0\n");
    text += "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\nHOLIDAYS,No,0,0,0\n";
    text += "COMMENTS 1,invented\nCOMMENTS 2,\nDATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n";
    for hour in 1..=24 {
        text += &format!("2001,7,22,{hour},60,{},5,{}\n", ["0"; 17].join(","), ["0"; 12].join(","));
    }
    text
}

const SITES: &[u8] = b"name,lat,lon,elevation_m,zone,beds\nA,-30.5,145.9,120,Australia/Sydney,12\nB,-31,-170,,,\n\"C, by the river\",-32,146,3,,4\n";
const SITES_GEOJSON: &[u8] = b"{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"properties\":{\"name\":\"A\",\"beds\":3,\"zone\":\"Australia/Perth\"},\"geometry\":{\"type\":\"Point\",\"coordinates\":[145.9,-30.5,12]}}]}";
const SITES_KML: &[u8] = b"<?xml version=\"1.0\"?><kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document><Folder><name>F</name><Placemark><name>A</name><ExtendedData><Data name=\"beds\"><value>3</value></Data></ExtendedData><Point><coordinates>145.9,-30.5,0</coordinates></Point></Placemark></Folder></Document></kml>";
const SITES_GPX: &[u8] = b"<?xml version=\"1.0\"?><gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\"><wpt lat=\"-30.5\" lon=\"145.9\"><ele>12</ele><name>A</name></wpt></gpx>";
/// Angles in the usual spellings, tabs, UTF-16.
const SITES_TABS: &str = "Site\tLatitude\tLongitude\nA\t30\u{b0}30\u{2032}S\t145 54 E\n";
const CLOUDS: &[u8] = b"name,lat,lon,date,hour,cloud,unit,kind,source,years\nA,-30,145,2020-07-22,13,4,okta,observed,made up,9\nA,-30,145,2020-07-23,13,8,okta,observed,made up,9\nB,-31,146,2020-07-22,12.5,0,okta,observed,,\n";
const DRIVES: &[u8] = b"from,to,hours,source\nA,B,1.5,INVENTED\nB,A,1.75,x\nB,C,5,x\n";
const POLYGON: &[u8] = b"{\"type\":\"Feature\",\"properties\":{},\"geometry\":{\"type\":\"MultiPolygon\",\"coordinates\":[[[[140,-30],[150,-30],[150,-20],[140,-20],[140,-30]],[[144,-26],[146,-26],[146,-24],[144,-24],[144,-26]]],[[[100,0],[101,0],[101,1],[100,0]]]]}}";
const PLAN: &[u8] = b"[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n[weights]\ntotality = 2\nbeds = 1\n[wish.beds]\nbetter = \"range\"\nfrom = 2\nto = 8\nfade = 3\n[require]\nmin_totality_s = 30\n[search]\nspacing_km = 5\n[robustness]\ndraws = 3000\nspread.beds = 0.5\n";

fn read_all(bytes: &[u8]) -> Result<(), TestCaseError> {
    if let Ok(sites) = Sites::from_bytes("s.csv", bytes.to_vec(), 1000) {
        for row in &sites.rows {
            prop_assert!(row.lat_deg.abs() <= 90.0 && row.lon_deg > -180.0 && row.lon_deg <= 180.0);
            prop_assert!(row.elevation_m.is_none_or(f64::is_finite) && !row.name.is_empty());
            prop_assert!(row.cells.iter().all(|c| !matches!(c, Cell::Number(x) if !x.is_finite())));
        }
    }
    if let Ok(table) = CloudTable::from_bytes("c.csv", bytes.to_vec()) {
        prop_assert!(table.covers().all(|c| (0.0..=1.0).contains(&c)));
    }
    if let Ok(table) = epw::from_bytes("y.epw", bytes) {
        let CloudSeries::Days(days) = &table.series else { return Err(TestCaseError::fail("days expected")) };
        prop_assert!(days.iter().flatten().all(|d| (0.0..=1.0).contains(&d.cover)));
    }
    if let Ok(drives) = DriveHours::from_bytes("d.csv", bytes.to_vec(), &["A", "B", "C"]) {
        for (from, to) in [("A", "B"), ("B", "C"), ("C", "A")] {
            prop_assert!(drives.between(from, to).is_none_or(|h| (0.0..=240.0).contains(&h)));
        }
    }
    let _ = polygon::from_bytes("p.geojson", bytes);
    let _ = Plan::parse(&String::from_utf8_lossy(bytes), "plan.toml", std::path::Path::new(""));
    Ok(())
}

proptest! {
    #[test]
    fn noise(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        read_all(&bytes)?;
    }

    #[test]
    fn cells_of_all_kinds_under_the_right_header(
        head in 0_usize..4,
        cells in proptest::collection::vec("(-?[0-9]{1,3}(\\.[0-9]{1,3})?|[A-C]|NaN|-inf|1e999|2020-0[0-9]-3[0-2]|okta|\"|\n|;|)", 0..60),
    ) {
        let heads: [&[u8]; 4] = [SITES, CLOUDS, DRIVES, b"lat,lon,month,hour_utc,cloud_percent\n"];
        let header = heads[head].split_inclusive(|&b| b == b'\n').next().unwrap();
        let columns = header.iter().filter(|&&b| b == b',').count() + 1;
        let body: Vec<String> = cells.chunks(columns).map(|row| row.join(",")).collect();
        read_all(&[header, body.join("\n").as_bytes()].concat())?;
    }

    #[test]
    fn good_files_damaged(
        which in 0_usize..10,
        changes in proptest::collection::vec((any::<usize>(), any::<u8>()), 0..6),
        cut in any::<usize>(),
    ) {
        let year = weather_day();
        let tabs: Vec<u8> = [0xff, 0xfe].into_iter().chain(SITES_TABS.encode_utf16().flat_map(u16::to_le_bytes)).collect();
        let files = [
            SITES, CLOUDS, DRIVES, POLYGON, PLAN, year.as_bytes(), SITES_GEOJSON, SITES_KML, SITES_GPX, &tabs,
        ];
        read_all(&damaged(files[which], &changes, cut))?;
    }

    /// Digits changed in a polygon: rings that touch, fold and cross in every way.
    #[test]
    fn polygons_of_all_shapes(ring in proptest::collection::vec((-3_i32..3, -3_i32..3), 0..8), close in any::<bool>()) {
        let mut points: Vec<String> = ring.iter().map(|(x, y)| format!("[{x},{y}]")).collect();
        if let (true, Some(first)) = (close, points.first().cloned()) {
            points.push(first);
        }
        let text = format!("{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}", points.join(","));
        let _ = polygon::from_bytes("p.geojson", text.as_bytes());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    /// A tile of the right length may hold any heights; of any other length it is refused.
    #[test]
    fn tiles_of_any_bytes(
        bytes in proptest::collection::vec((0_u64..2_884_802, any::<u8>()), 0..200),
        length in prop_oneof![3 => Just(2_884_802_u64), 1 => 0_u64..30_000_000],
    ) {
        use std::io::{Seek, SeekFrom, Write};
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("S45E169.hgt");
        let mut file = std::fs::File::create(&path).unwrap();
        file.set_len(length).unwrap();
        for &(at, byte) in bytes.iter().filter(|b| b.0 < length) {
            file.seek(SeekFrom::Start(at)).unwrap();
            file.write_all(&[byte]).unwrap();
        }
        match Terrain::open(folder.path()) {
            Ok(terrain) => {
                prop_assert!(length == 2_884_802 || length == 25_934_402);
                for (at, _) in bytes {
                    let (row, column) = (at / 2 / 1201, at / 2 % 1201);
                    let height = terrain.height(-44.0 - row as f64 / 1200.0, 169.0 + column as f64 / 1200.0).unwrap();
                    prop_assert!(matches!(height, Height::Void) || matches!(height, Height::Metres(h) if h.is_finite()), "{height:?}");
                }
            }
            Err(faults) => prop_assert!(faults.to_string().contains("an SRTM tile has 2884802 bytes")),
        }
    }
}

/// Archives in every format, small and whole: tests/reference/clouds/archives.
const ARCHIVES: [&str; 14] = [
    "classic.nc",
    "cdf5.nc",
    "offset64-unlimited.nc",
    "nc4-packed.nc",
    "store.nc",
    "groups.nc",
    "store.zip",
    "cover-2020-07.tif",
    "bands-band.tif",
    "matrix-2020-07.csv",
    "INVENTED.psv",
    "isd-history.csv",
    "999991-99999-2019.gz",
    "leap.csv",
];

/// Reads a file of some bytes, with the list of stations beside it, and checks every figure that comes out.
fn read_archive(name: &str, bytes: &[u8]) -> Result<(), TestCaseError> {
    let archives = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/clouds/archives/");
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    let mut paths = vec![path];
    if name.ends_with(".gz") {
        paths.push(format!("{archives}isd-history.csv").into());
    }
    match clouds::read(&paths, &Wanted::default()) {
        Ok(table) => {
            prop_assert!(table.covers().all(|c| (0.0..=1.0).contains(&c)));
            prop_assert!(
                table.nodes.iter().all(|n| n.lat_deg.abs() <= 90.0 && n.lon_deg > -180.0 && n.lon_deg <= 180.0)
            );
        }
        Err(faults) => prop_assert!(!faults.0.is_empty() && faults.to_string().lines().count() <= 21),
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]
    #[test]
    fn archives_damaged(
        which in 0_usize..ARCHIVES.len(),
        changes in proptest::collection::vec((any::<usize>(), any::<u8>()), 0..8),
        cut in any::<usize>(),
        whole in any::<bool>(),
    ) {
        let name = ARCHIVES[which];
        let archives = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/clouds/archives/");
        let bytes = std::fs::read(format!("{archives}{name}")).unwrap();
        read_archive(name, &damaged(&bytes, &changes, if whole { 0 } else { cut }))?;
        // Structure stands at the front: damage there alone.
        let front: Vec<(usize, u8)> = changes.iter().map(|&(at, byte)| (at % 2000.min(bytes.len()), byte)).collect();
        read_archive(name, &damaged(&bytes, &front, 0))?;
    }

    #[test]
    fn archives_of_noise_behind_the_right_beginning(
        which in 0_usize..6,
        noise in proptest::collection::vec(any::<u8>(), 0..600),
    ) {
        let heads: [&[u8]; 6] = [b"CDF\x01", b"CDF\x05", b"\x89HDF\r\n\x1a\n", b"II\x2a\0", b"PK\x03\x04", b"\x1f\x8b\x08"];
        read_archive("noise-2020-07.bin", &[heads[which], &noise].concat())?;
    }
}

/// A small file that declares a chunk of two gigabytes, and a group that holds itself: refused or read, in little memory and time.
#[test]
fn a_chunk_of_two_gigabytes_and_a_loop_are_no_trap() {
    let archives = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/clouds/archives/");
    let mut bytes = std::fs::read(format!("{archives}nc4-packed.nc")).unwrap();
    // The layout message: chunks of 50 × 3 × 3 numbers of two bytes.
    let layout: Vec<u8> = [50_u32, 3, 3, 2].iter().flat_map(|n| n.to_le_bytes()).collect();
    let at = bytes.windows(layout.len()).position(|w| w == layout).unwrap();
    bytes[at..at + 4].copy_from_slice(&120_000_000_u32.to_le_bytes());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("huge.nc");
    std::fs::write(&path, &bytes).unwrap();
    let text = clouds::read(&[path], &Wanted::default()).unwrap_err().to_string();
    assert!(text.contains("huge.nc") && text.lines().count() == 1, "{text}");
    match clouds::read(&[format!("{archives}loop.nc").into()], &Wanted::default()) {
        Ok(table) => assert!(table.covers().all(|c| (0.0..=1.0).contains(&c)) && table.covers().count() > 0),
        Err(faults) => assert_eq!(faults.to_string().lines().count(), 1, "{faults}"),
    }
}
