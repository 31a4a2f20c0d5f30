//! A few hundred damaged files for every reader, the same ones every time, and everything that was found before.

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used)]

use noonfall_fuzz::run::{Until, run};
use noonfall_fuzz::targets::all;

/// Files a reader is given here; the readers that take longest get fewer.
fn cases(name: &str) -> u64 {
    match name {
        "moon-label" | "moon-tiff" => 40,
        "terrain-hgt" => 200,
        "netcdf" | "zip" => 300,
        _ => 600,
    }
}

macro_rules! short_runs {
    ($($test:ident: $name:literal,)*) => {
        $(
            #[test]
            fn $test() {
                let targets = all();
                let target = targets.iter().find(|t| t.name == $name).unwrap();
                let folder = tempfile::tempdir().unwrap();
                let tally = run(target, folder.path(), 7, Until::Cases(cases($name))).unwrap();
                assert!(tally.panics.is_empty(), "{:?}", tally.panics);
                // The good files were good, and the damage reached the reader.
                assert!(tally.accepted > 0 && tally.outcomes.len() > 1, "{tally:?}");
            }
        )*

        #[test]
        fn every_target_is_run() {
            let mut names = vec![$($name),*];
            names.sort_unstable();
            let mut all: Vec<&str> = all().iter().map(|t| t.name).collect();
            all.sort_unstable();
            assert_eq!(names, all);
        }
    };
}

short_runs! {
    netcdf: "netcdf",
    zip: "zip",
    geotiff: "geotiff",
    matrix: "matrix",
    isd_lite: "isd-lite",
    gzip: "gzip",
    ghcnh: "ghcnh",
    metar: "metar",
    epw: "epw",
    plain_clouds: "plain-clouds",
    plan: "plan",
    sites_table: "sites-table",
    sites_geojson: "sites-geojson",
    sites_kml: "sites-kml",
    sites_kmz: "sites-kmz",
    sites_gpx: "sites-gpx",
    drives: "drives",
    polygon: "polygon",
    horizon: "horizon",
    terrain_hgt: "terrain-hgt",
    terrain_tiff: "terrain-tiff",
    spk: "spk",
    moon_label: "moon-label",
    moon_tiff: "moon-tiff",
}
