//! The same numbers give the same odds, whichever archive's layout they come in.
//!
//! The files are made by netCDF-C, h5netcdf, GDAL and by hand from one INVENTED field: tests/reference/clouds/archives.

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used)]

use std::path::PathBuf;

use noonfall_scoring::input::clouds::holdings::{Holdings, Step};
use noonfall_scoring::input::clouds::{self, CloudTable, Wanted, WantedPlace};
use noonfall_scoring::outlook::cloud::{CloudOptions, CloudOutlook, CloudQuery, CloudSource};
use noonfall_scoring::outlook::line_of_sight::CoverKind;

fn path(name: &str) -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/clouds/archives")).join(name)
}

fn paths(names: &[&str]) -> Vec<PathBuf> {
    names.iter().map(|n| path(n)).collect()
}

fn table(names: &[&str]) -> CloudTable {
    clouds::read(&paths(names), &Wanted::default()).unwrap()
}

fn refused(name: &str) -> String {
    clouds::read(&[path(name)], &Wanted::default()).unwrap_err().to_string()
}

#[derive(Clone, Copy)]
struct Ask {
    lat_deg: f64,
    lon_deg: f64,
    day: (u32, u32),
    hour: f64,
    altitude: f64,
}

/// For what does not tell: GeoTIFF and matrix. Where the file tells, it is believed.
fn seen_from_above() -> CloudOptions {
    CloudOptions { kind: Some(CoverKind::Grid), ..CloudOptions::default() }
}

/// The outlook from files, read whole or only as far as the question goes.
fn outlook(names: &[&str], ask: Ask, only_wanted: bool) -> CloudOutlook {
    let place = WantedPlace { lat_deg: ask.lat_deg, lon_deg: ask.lon_deg, solar_hour: Some(ask.hour) };
    let wanted = Wanted { places: vec![place], day: Some(ask.day), ..Wanted::default() };
    let wanted = if only_wanted { wanted } else { Wanted::default() };
    let source = CloudSource::open(&paths(names), seen_from_above(), &wanted).unwrap();
    let query = CloudQuery {
        lat_deg: ask.lat_deg,
        lon_deg: ask.lon_deg,
        name: None,
        month: ask.day.0,
        day: ask.day.1,
        local_solar_hour: ask.hour,
        sun_altitude_deg: ask.altitude,
    };
    source.outlook(&query).unwrap()
}

/// Both ways of reading, against the plain table.
fn agrees(names: &[&str], plain: &str, asks: &[Ask]) {
    for &ask in asks {
        let expected = outlook(&[plain], ask, false);
        assert!((0.02..0.98).contains(&expected.clear_line_of_sight), "{plain}: {expected:?}");
        for only_wanted in [false, true] {
            let ours = outlook(names, ask, only_wanted);
            for (a, b) in [
                (ours.clear_line_of_sight, expected.clear_line_of_sight),
                (ours.cloud_fraction, expected.cloud_fraction),
                (ours.low_95, expected.low_95),
                (ours.high_95, expected.high_95),
            ] {
                assert!((a - b).abs() < 0.002, "{names:?} {only_wanted}: {ours:?} {expected:?}");
            }
            assert_eq!(ours.kind, expected.kind);
            assert_eq!(ours.years, expected.years);
            assert!(ours.invented);
        }
    }
}

const HERE: [Ask; 3] = [
    Ask { lat_deg: -25.3, lon_deg: 141.1, day: (7, 13), hour: 15.4, altitude: 31.0 },
    Ask { lat_deg: -28.0, lon_deg: 145.0, day: (7, 10), hour: 9.0, altitude: 12.0 },
    Ask { lat_deg: -24.9, lon_deg: 144.0, day: (7, 13), hour: 3.2, altitude: 55.0 },
];

#[test]
fn every_layout_of_an_hourly_series_gives_the_odds_of_the_plain_table() {
    for name in [
        "classic.nc",
        "offset64-unlimited.nc",
        "cdf5.nc",
        "nc4-packed.nc",
        "nc4-percent-up.nc",
        "nc4-lon-first.nc",
        "expver.nc",
        "store.nc",
        "store.zip",
    ] {
        agrees(&[name], "hourly.csv", &HERE);
    }
}

#[test]
fn hours_across_midnight_at_the_date_line_are_the_same_in_both_ways_of_counting_longitude() {
    let asks = [(-25.0, 179.0, 13.0), (-27.1, -179.2, 11.4), (-24.2, -177.6, 0.3), (-24.2, 179.9, 23.8)]
        .map(|(lat_deg, lon_deg, hour)| Ask { lat_deg, lon_deg, day: (7, 13), hour, altitude: 40.0 });
    agrees(&["dateline-360.nc"], "dateline.csv", &asks);
    agrees(&["dateline-180.nc"], "dateline.csv", &asks);
}

#[test]
fn leap_days_are_days_and_calendars_without_them_lose_none_other() {
    let asks = [Ask { day: (2, 29), hour: 9.5, ..HERE[0] }, Ask { day: (3, 2), hour: 21.0, ..HERE[1] }];
    agrees(&["leap.nc"], "leap.csv", &asks);
    agrees(&["noleap.nc"], "noleap.csv", &asks);
}

#[test]
fn monthly_means_by_year_and_by_hour_agree_and_missing_months_are_told() {
    let asks = [Ask { day: (7, 22), ..HERE[1] }, Ask { day: (8, 12), ..HERE[1] }];
    agrees(&["monthly.nc"], "monthly.csv", &asks);
    agrees(&["monthly-by-hour.nc"], "monthly-by-hour.csv", &HERE);
    let held = Holdings::of_table(&table(&["monthly.nc"]));
    assert_eq!(held.step, Step::Monthly);
    assert_eq!((held.years.as_slice(), held.months.as_slice()), (&[2018, 2019, 2020][..], &[6, 7, 8][..]));
    assert_eq!(held.gaps, ["2019-08 missing"]);
    let by_hour = Holdings::of_table(&table(&["monthly-by-hour.nc"]));
    assert_eq!((by_hour.step, by_hour.hours_utc.len()), (Step::MonthlyByHour, 8));
}

#[test]
fn a_point_without_data_is_unknown_and_not_clear() {
    let source = CloudSource::open(&[path("monthly.nc")], CloudOptions::default(), &Wanted::default()).unwrap();
    let query = CloudQuery {
        lat_deg: -24.0,
        lon_deg: 140.0,
        name: None,
        month: 7,
        day: 16,
        local_solar_hour: 13.0,
        sun_altitude_deg: 30.0,
    };
    let gap = source.outlook(&query).unwrap_err();
    assert!(gap.to_string().contains("no cloud figures"), "{gap}");
    assert!(
        source
            .outlook(&CloudQuery { lat_deg: 10.0, ..query })
            .unwrap_err()
            .to_string()
            .contains("outside the cloud grid")
    );
}

#[test]
fn months_as_pictures_agree() {
    let asks = [Ask { lat_deg: -25.3, day: (7, 16), ..HERE[0] }];
    agrees(&["bands-pixel.tif"], "year.csv", &asks);
    agrees(&["bands-band.tif"], "year.csv", &asks);
    // Bytes hold half percents: within one of them.
    for name in ["cover-2020-07.tif", "matrix-2020-07.csv"] {
        let ours = outlook(&[name], asks[0], false);
        let expected = outlook(&["year.csv"], asks[0], false);
        assert!((ours.cloud_fraction - expected.cloud_fraction).abs() < 0.003, "{name}: {ours:?} {expected:?}");
        let asked = CloudSource::read(&path(name)).unwrap_err().to_string();
        assert!(asked.contains(name) && asked.contains("seen from the ground or from above"), "{asked}");
        let source = CloudSource::read_with(&path(name), seen_from_above()).unwrap();
        let query = CloudQuery {
            lat_deg: -28.0,
            lon_deg: 145.0,
            name: None,
            month: 7,
            day: 16,
            local_solar_hour: 12.0,
            sun_altitude_deg: 30.0,
        };
        assert!(source.outlook(&query).is_err(), "{name}: the corner has no data");
    }
}

#[test]
fn station_years_agree() {
    let asks = [Ask { lat_deg: -30.0, lon_deg: 150.0, day: (7, 13), hour: 13.0, altitude: 30.0 }];
    let isd = ["999991-99999-2019.gz", "999991-99999-2020.gz", "isd-history.csv"];
    for only_wanted in [false, true] {
        let ours = outlook(&isd, asks[0], only_wanted);
        let expected = outlook(&["station.csv"], asks[0], false);
        assert!((ours.clear_line_of_sight - expected.clear_line_of_sight).abs() < 1e-9, "{ours:?} {expected:?}");
        assert_eq!((ours.years, ours.kind), (Some(2), CoverKind::Observed));
    }
    let ours = outlook(&["INVENTED.psv"], asks[0], true);
    let expected = outlook(&["station-3h.csv"], asks[0], false);
    assert!((ours.clear_line_of_sight - expected.clear_line_of_sight).abs() < 1e-9, "{ours:?} {expected:?}");
}

/// Reference: xarray's means of the same files.
#[test]
fn series_at_points_are_those_that_xarray_reads() {
    let mut reader = csv::Reader::from_path(path("xarray.csv")).unwrap();
    let mut seen = 0;
    for row in reader.records().map(Result::unwrap) {
        let number = |i: usize| row[i].parse::<f64>().unwrap();
        let (lat, lon) = (number(2), (number(3) + 180.0).rem_euclid(360.0) - 180.0);
        let table = table(&[&row[0]]);
        let node =
            table.nodes.iter().position(|n| (n.lat_deg - lat).abs() < 1e-6 && (n.lon_deg - lon).abs() < 1e-6).unwrap();
        let days = table.days(node);
        let high = &row[1] == "hcc";
        let figure = |d: &noonfall_scoring::input::day_records::DayCover| {
            if high { f64::from(d.layers.unwrap().high) } else { d.cover }
        };
        let mean = days.iter().map(figure).sum::<f64>() / days.len() as f64;
        assert!((mean - number(4)).abs() < 2e-5, "{row:?}: {mean}");
        assert_eq!(days.len() as f64, number(5), "{row:?}");
        seen += 1;
    }
    assert_eq!(seen, 22);
}

#[test]
fn layers_are_read_and_what_they_take_away_is_told() {
    let o = outlook(&["layers.nc"], HERE[0], true);
    let layers = o.layers.unwrap();
    assert!(layers.taken[0] > layers.taken[1] && layers.taken.iter().all(|t| *t > 0.0), "{layers:?}");
    assert!(layers.strict < o.clear_line_of_sight);
    assert!(o.notes.iter().any(|n| n.contains("Without low cloud the chance would be")), "{:?}", o.notes);
    assert!(outlook(&["store.nc"], HERE[0], true).layers.is_none());
}

#[test]
fn only_what_is_wanted_is_read() {
    let place = WantedPlace { lat_deg: -25.3, lon_deg: 141.1, solar_hour: Some(15.4) };
    let wanted = Wanted { places: vec![place], day: Some((7, 13)), half_window_days: 3, ..Wanted::default() };
    let some = clouds::read(&[path("store.nc")], &wanted).unwrap();
    assert_eq!(some.nodes.len(), 4);
    assert!(some.covers().count() <= 4 * 2 * 9 * 2, "{}", some.covers().count());
    let axes = clouds::read(&[path("store.nc")], &Wanted { axes_only: true, ..Wanted::default() }).unwrap();
    assert!(axes.nodes.is_empty());
    let held = axes.held.unwrap();
    assert_eq!((held.step, held.times, held.years), (Step::Hourly, 200, vec![2019, 2020]));
    assert_eq!((axes.format.as_str(), axes.stated_unit.as_str()), ("NetCDF-4 (HDF5)", "(0 - 1)"));
    assert_eq!(axes.kind, Some(CoverKind::Grid));
}

#[test]
fn files_that_mislead_are_refused_in_one_clear_message() {
    for (name, says) in [
        ("kelvin.nc", "variable tcc is in \"K\", which is no unit of cloud cover"),
        ("too-much.nc", "is no cloud cover"),
        ("no-time-units.nc", "its time axis time has no units"),
        ("cesm2-surface.nc", "has no variable of cloud cover"),
    ] {
        let text = refused(name);
        assert!(text.lines().count() == 1 && text.contains(says) && text.contains(name), "{text}");
    }
    let groups = table(&["groups.nc"]);
    assert_eq!(groups.variable, "Cloud_Mask_Fraction/Mean");
    assert!((groups.covers().next().unwrap() - 0.5).abs() < 0.51);
    let mixed = clouds::read(&paths(&["store.nc", "INVENTED.psv"]), &Wanted::default()).unwrap_err().to_string();
    assert!(mixed.contains("are of different kinds"), "{mixed}");
}

#[test]
fn files_cut_short_at_any_place_are_refused_or_read_but_never_break() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["classic.nc", "store.nc", "store.zip", "cover-2020-07.tif", "999991-99999-2019.gz", "nc4-packed.nc"] {
        let whole = std::fs::read(path(name)).unwrap();
        for part in 1..16 {
            let cut = folder.path().join(name);
            std::fs::write(&cut, &whole[..whole.len() * part / 16]).unwrap();
            if let Err(faults) = clouds::read(&[cut], &Wanted::default()) {
                assert!(!faults.0.is_empty() && faults.to_string().lines().count() <= 21, "{name}: {faults}");
            }
        }
    }
}
