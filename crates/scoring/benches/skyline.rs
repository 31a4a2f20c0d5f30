//! Rays over a rough made-up terrain of 3 × 3 degrees at 1″, from tiles on disk and through the cache.
//!
//! `cargo bench -p noonfall-scoring --bench skyline`; items are rays. What is timed begins with an empty cache only the first
//! time: the fastest sample is the warm one, the slowest has the tiles read from disk.

#![allow(clippy::unwrap_used)] // A benchmark that cannot be set up should stop.

use std::path::Path;

use divan::counter::ItemsCount;
use noonfall_scoring::input::terrain::Terrain;
use noonfall_scoring::outlook::skyline::{HorizonSearch, RayOptions};
use rayon::prelude::*;

fn main() {
    divan::main();
}

/// Nine SRTM tiles of hills up to 1100 m.
fn tiles(folder: &Path) {
    for (south, west) in (0..9).map(|i| (44 + i / 3, 6 + i % 3)) {
        let mut bytes = Vec::with_capacity(3601 * 3601 * 2);
        for row in 0..3601 {
            for column in 0..3601 {
                let (y, x) = (f64::from(row - south * 3600), f64::from(column + west * 3600));
                let hills = 350.0 * (x * 0.0021).sin() * (y * 0.0017).cos() + 120.0 * (x * 0.013 + y * 0.009).sin();
                let height = 600.0 + hills + 25.0 * (x * 0.11).cos() * (y * 0.07).sin();
                bytes.extend((height as i16).to_be_bytes());
            }
        }
        std::fs::write(folder.join(format!("N{south:02}E{west:03}.hgt")), bytes).unwrap();
    }
}

fn bench(bencher: divan::Bencher, parallel: bool, near: bool) {
    let folder = tempfile::tempdir().unwrap();
    tiles(folder.path());
    let terrain = Terrain::open(folder.path()).unwrap();
    let search = HorizonSearch::new(&terrain, RayOptions::default());
    // From one place along the Sun's track, as for every site of a ranking; or from many places, neighbour after neighbour,
    // towards the setting Sun.
    let cast = |i: u32| {
        let (lat, lon, azimuth) = if near {
            (45.3, 8.5, 270.0 + f64::from(i) * 0.05)
        } else {
            (44.3 + f64::from(i / 200) * 0.06, 8.0 + f64::from(i % 200) * 0.0049, 285.0)
        };
        search.viewpoint(lat, lon).unwrap().ray(azimuth).unwrap().altitude_deg
    };
    let rays: u32 = if near { 600 } else { 8000 };
    bencher.counter(ItemsCount::new(rays)).bench(|| {
        let sum: f64 = if parallel { (0..rays).into_par_iter().map(cast).sum() } else { (0..rays).map(cast).sum() };
        // A skyline over hills of 1100 m stands near the level: fast but wrong would show.
        assert!((-2.0..10.0).contains(&(sum / f64::from(rays))));
        sum
    });
}

#[divan::bench(sample_count = 10)]
fn one_place_one_thread(bencher: divan::Bencher) {
    bench(bencher, false, true);
}

#[divan::bench(sample_count = 10)]
fn one_place_all_threads(bencher: divan::Bencher) {
    bench(bencher, true, true);
}

#[divan::bench(sample_count = 5)]
fn many_places_one_thread(bencher: divan::Bencher) {
    bench(bencher, false, false);
}

#[divan::bench(sample_count = 5)]
fn many_places_all_threads(bencher: divan::Bencher) {
    bench(bencher, true, false);
}
