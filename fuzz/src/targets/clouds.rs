//! Cloud archives, one target for each format.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use flate2::Compression;
use flate2::write::GzEncoder;
use noonfall_scoring::input::clouds::{self, CloudTable, Wanted, WantedPlace};
use noonfall_scoring::outlook::cloud::{CloudOptions, CloudQuery, CloudSource};
use noonfall_scoring::outlook::line_of_sight::CoverKind;

use super::{is_place, refused};
use crate::target::{PLAIN, Target, top};

const ARCHIVES: &str = "tests/reference/clouds/archives/";

pub(super) fn targets() -> Vec<Target> {
    vec![
        Target {
            name: "netcdf",
            file: "a.nc",
            seeds: &[
                "tests/reference/clouds/archives/classic.nc",
                "tests/reference/clouds/archives/cdf5.nc",
                "tests/reference/clouds/archives/offset64-unlimited.nc",
                "tests/reference/clouds/archives/nc4-packed.nc",
                "tests/reference/clouds/archives/store.nc",
                "tests/reference/clouds/archives/groups.nc",
                "tests/reference/clouds/archives/expver.nc",
                "tests/reference/clouds/archives/layers.nc",
                "tests/reference/clouds/archives/monthly-by-hour.nc",
                "tests/reference/clouds/archives/loop.nc",
            ],
            words: &[
                "scale_factor",
                "add_offset",
                "_FillValue",
                "units",
                "days since ",
                "calendar",
                "360_day",
                "tcc",
                "OHDR",
                "TREE",
                "SNOD",
            ],
            read: |path| archive(&[path.to_owned()], path),
            ..PLAIN
        },
        Target {
            name: "zip",
            file: "a.zip",
            seeds: &["tests/reference/clouds/archives/store.zip"],
            words: &["PK\u{3}\u{4}", "PK\u{1}\u{2}", "PK\u{5}\u{6}", "../", ".nc"],
            read: |path| archive(&[path.to_owned()], path),
            ..PLAIN
        },
        Target {
            name: "geotiff",
            file: "cover-2020-07.tif",
            seeds: &[
                "tests/reference/clouds/archives/cover-2020-07.tif",
                "tests/reference/clouds/archives/bands-band.tif",
                "tests/reference/clouds/archives/bands-pixel.tif",
            ],
            words: &["<Item name=\"scale\" sample=\"0\" role=\"scale\">", "</Item>", "unittype", "II*\0", "MM\0*"],
            read: |path| archive(&[path.to_owned()], path),
            ..PLAIN
        },
        Target {
            name: "matrix",
            file: "matrix-2020-07.csv",
            seeds: &["tests/reference/clouds/archives/matrix-2020-07.csv"],
            words: &["lat/lon", "99999.0", ",", "\n", "\u{feff}"],
            read: |path| archive(&[path.to_owned()], path),
            ..PLAIN
        },
        Target {
            name: "isd-lite",
            file: "999991-99999-2019",
            made: || vec![station_year()],
            beside: || vec![("isd-history.csv", stations())],
            words: &["-9999", "   ", "\n", "2020 02 29"],
            read: |path| archive(&[path.to_owned(), path.with_file_name("isd-history.csv")], path),
            ..PLAIN
        },
        Target {
            name: "gzip",
            file: "999991-99999-2019.gz",
            seeds: &["tests/reference/clouds/archives/999991-99999-2019.gz"],
            made: || {
                vec![
                    packed(&station_year()),
                    packed(&vec![b' '; 3_000_000]),
                    [packed(b"2019 01"), packed(b" 01 00")].concat(),
                ]
            },
            beside: || vec![("isd-history.csv", stations())],
            words: &["\u{1f}"],
            read: |path| archive(&[path.to_owned(), path.with_file_name("isd-history.csv")], path),
        },
        Target {
            name: "ghcnh",
            file: "X.psv",
            made: || {
                // The first hours of the station's file: short lines read quickly.
                let whole = std::fs::read(top().join(ARCHIVES).join("INVENTED.psv")).unwrap_or_default();
                vec![whole.split_inclusive(|b| *b == b'\n').take(40).flatten().copied().collect()]
            },
            words: &["CLR:00", "OVC:08", "VV:09", "X:10", "|", "sky_cover_1", "DATE", "STATION", "2025-03-01T12:00:00"],
            read: |path| archive(&[path.to_owned()], path),
            ..PLAIN
        },
        Target {
            name: "metar",
            file: "m.csv",
            made: || {
                vec![
                    b"station,time,lat,lon,metar\nXXXX,2020-07-22 04:00,-15.1,127.6,XXXX 220400Z 12008KT 9999 FEW030 SCT250 28/12 Q1016\n\
                      XXXX,2020-07-22 05:00,-15.1,127.6,XXXX 220500Z 12008KT CAVOK 28/12 Q1016\n"
                        .to_vec(),
                    b"station;valid;lat;lon;report\nXXXX;2020-07-22T04:00Z;-15,1;127,6;METAR XXXX 220400Z VV002 BKN///CB\n".to_vec(),
                ]
            },
            words: &["FEW", "SCT", "BKN", "OVC", "VV", "///", "CB", "NSC", "CLR", "CAVOK", "RMK", "TEMPO"],
            read: |path| archive(&[path.to_owned()], path),
            ..PLAIN
        },
        Target {
            name: "epw",
            file: "y.epw",
            made: || vec![weather_day()],
            words: &["LOCATION", "DATA PERIODS", "99", "24:00", ","],
            read: |path| archive(&[path.to_owned()], path),
            ..PLAIN
        },
        Target {
            name: "plain-clouds",
            file: "c.csv",
            made: || {
                let mut all: Vec<Vec<u8>> = [
                    "lat,lon,month,cloud_percent,kind,source\n-15,127.5,7,22,grid,INVENTED\n-15,130,7,30,grid,\n-12.5,127.5,7,5,grid,\n-12.5,130,7,9,grid,\n",
                    "lat,lon,month,hour_utc,cloud_fraction,kind,years,years_deviation\n-15,127.5,7,4,0.22,grid,20,0.06\n",
                    "name,lat,lon,date,hour,cloud_okta,kind\nHill,-15.1,127.6,2020-07-22,13,3,observed\nHill,-15.1,127.6,2020-07-23,13,8,observed\n",
                    "latitude,longitude,valid_time,tcc,lcc,mcc,hcc\n-15.0,127.5,2020-07-22 04:00:00,0.44,0.31,0.02,0.17\n",
                    "lat;lon;month;cloud;unit;kind\n-15,5;127,5;7;22,5;percent;grid\n",
                ]
                .map(|t| t.as_bytes().to_vec())
                .to_vec();
                all.push(
                    [0xff, 0xfe]
                        .into_iter()
                        .chain("lat\tlon\tmonth\ttcc\n1\t2\t7\t0.5\n".encode_utf16().flat_map(u16::to_le_bytes))
                        .collect(),
                );
                all
            },
            words: &[
                "lat", "lon", "kind", "grid", "observed", "unit", "okta", "hour_utc", "date", "\u{feff}", ";", "\t",
                "\"", "\r\n",
            ],
            read: |path| archive(&[path.to_owned()], path),
            ..PLAIN
        },
    ]
}

/// Reads an archive whole and as far as a question goes, and asks it the question.
fn archive(paths: &[PathBuf], path: &Path) -> String {
    let place = WantedPlace { lat_deg: -25.3, lon_deg: 141.1, solar_hour: Some(13.0) };
    let part = Wanted { places: vec![place], day: Some((7, 13)), ..Wanted::default() };
    let told = match clouds::read(paths, &Wanted::default()) {
        Ok(table) => answered(table),
        Err(faults) => refused(&faults, path),
    };
    match clouds::read(paths, &part) {
        Ok(table) => format!("{told} {}", answered(table).len()),
        Err(faults) => format!("{told} / {}", refused(&faults, path)),
    }
}

fn answered(table: CloudTable) -> String {
    assert!(table.covers().all(|c| (0.0..=1.0).contains(&c)), "a cover is none");
    assert!(table.nodes.iter().all(|n| is_place(n.lat_deg, n.lon_deg)), "{:?}", table.nodes);
    let here = table.nodes.first().map(|n| (n.lat_deg, n.lon_deg));
    let words = format!("read {} {} {:?}", table.format, table.nodes.len().min(2), table.kind);
    let options = CloudOptions { kind: Some(CoverKind::Grid), ..CloudOptions::default() };
    let source = CloudSource::from_table(table, options);
    for (lat_deg, lon_deg) in here.into_iter().chain([(-25.3, 141.1)]) {
        let query = CloudQuery {
            lat_deg,
            lon_deg,
            name: None,
            month: 7,
            day: 13,
            local_solar_hour: 13.0,
            sun_altitude_deg: 35.0,
        };
        if let Ok(o) = source.outlook(&query) {
            let all = [o.cloud_fraction, o.clear_line_of_sight, o.low_95, o.high_95];
            assert!(all.iter().all(|c| (0.0..=1.0).contains(c)) && o.low_95 <= o.high_95, "{o:?}");
        }
    }
    words
}

fn stations() -> Vec<u8> {
    std::fs::read(top().join(ARCHIVES).join("isd-history.csv")).unwrap_or_default()
}

/// INVENTED: the first days of July.
fn station_year() -> Vec<u8> {
    let mut text = String::new();
    for (i, code) in (0..20).chain([-9999]).enumerate() {
        text += &format!(
            "2019 07 {:02} {:02}   231   124 10152   270    36 {code:5}    -1 -9999\n",
            1 + i / 12,
            2 * (i % 12)
        );
    }
    text.into_bytes()
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::fast());
    let _ = encoder.write_all(bytes);
    encoder.finish().unwrap_or_default()
}

/// INVENTED: a weather year of one day.
fn weather_day() -> Vec<u8> {
    let mut text = String::from("LOCATION,Testville,-,AUS,Invented,000000,-30.00,150.00,10.0,100.0\n");
    text += "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\nHOLIDAYS,No,0,0,0\n";
    text += "COMMENTS 1,invented\nCOMMENTS 2,\nDATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n";
    for hour in 1..=24 {
        text += &format!("2001,7,22,{hour},60,{},5,{}\n", ["0"; 17].join(","), ["0"; 12].join(","));
    }
    text.into_bytes()
}
