//! How well the sweep agrees with single rays, at every cell of a tile, and how fast it is.
//!
//! `cargo run --release -p noonfall-scoring --example sunlit_figures` prints the figures, with `-- speed` only how fast it is: single
//! rays to all cells take minutes. The ground is invented.

#![allow(clippy::unwrap_used, clippy::print_stdout)] // A program for developers: it prints, and stops at what it cannot do.

use std::time::Instant;

use noonfall_ephemeris::Kernel;
use noonfall_scoring::input::terrain::{RasterShape, Terrain};
use noonfall_scoring::outlook::skyline::{HorizonSearch, RayOptions, SunTrack};
use noonfall_scoring::outlook::sunlit::{SunlitOptions, sunlit_block};
use noonfall_shadow::{Conventions, Eclipse, Site};
use rayon::prelude::*;

const SIDE: u32 = 1000;

/// Rough ground of a grid: hills of 350 m, ridges of 90 m, and 25 m from sample to sample.
fn rough(north: f64, west: f64, step: f64, columns: u32, rows: u32) -> Terrain {
    let shape = RasterShape { west_deg: west, north_deg: north, lon_step_deg: step, lat_step_deg: step, columns, rows };
    let height = |i: u32| {
        let (x, y) = (f64::from(i % columns), f64::from(i / columns));
        let hills = 350.0 * (x * 0.021).sin() * (y * 0.017).cos() + 90.0 * (x * 0.13 + y * 0.09).sin();
        (600.0 + hills + 25.0 * (x * 1.1).cos() * (y * 0.7).sin()) as f32
    };
    Terrain::from_grid("made", shape, (0..columns * rows).into_par_iter().map(height).collect()).unwrap()
}

fn eclipse(date: &str) -> Eclipse {
    Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
}

fn main() {
    println!("threads: {}", rayon::current_num_threads());
    let tiles = [
        ("2026-08-12", 42.2, -1.6, 1.0 / 1200.0),
        ("2028-07-22", -44.2, 168.6, 1.0 / 1200.0),
        ("2026-08-12", 41.6, -1.0, 1.0 / 3600.0),
    ];
    if std::env::args().nth(1).as_deref() != Some("speed") {
        for (date, north, west, step) in tiles {
            agreement(date, north, west, step);
        }
    }
    speed();
}

/// The margins of all cells of a tile, by the sweep and ray by ray.
fn agreement(date: &str, north: f64, west: f64, step: f64) {
    let terrain = rough(north, west, step, 1500, 1500);
    let shape = RasterShape {
        west_deg: west + 250.0 * step,
        north_deg: north - 250.0 * step,
        lon_step_deg: step,
        lat_step_deg: step,
        columns: SIDE,
        rows: SIDE,
    };
    let eclipse = eclipse(date);
    let start = Instant::now();
    let block = sunlit_block(&terrain, &eclipse, &shape, &SunlitOptions::default()).unwrap();
    let swept_s = start.elapsed().as_secs_f64();
    let search = HorizonSearch::new(&terrain, RayOptions::default());
    let start = Instant::now();
    let mut errors: Vec<f64> = (0..(SIDE * SIDE) as usize)
        .into_par_iter()
        .filter_map(|at| {
            let (row, column) = (at / SIDE as usize, at % SIDE as usize);
            let (lat, lon) = (shape.north_deg - row as f64 * step, shape.west_deg + column as f64 * step);
            let eye = search.viewpoint(lat, lon).ok()?;
            let site = Site::new(lat, lon, eye.ground_m()).ok()?;
            let local = eclipse.local(&site);
            let (c2, c3) = (local.c2?.tt, local.c3?.tt);
            let track = SunTrack::of(&eclipse, &site, &local)?;
            let margins = (0..=8).map(|i| {
                let sun = track.at(c2.plus((c3 - c2) * f64::from(i) / 8.0));
                eye.ray(sun.azimuth_deg).map(|r| sun.apparent_altitude_deg - r.altitude_deg)
            });
            let least = margins.collect::<Result<Vec<f64>, _>>().ok()?.into_iter().fold(f64::INFINITY, f64::min);
            Some((f64::from(block.margin_deg[at]) - least).abs())
        })
        .collect();
    let rays_s = start.elapsed().as_secs_f64();
    assert!(errors.iter().all(|e| e.is_finite()));
    errors.sort_by(f64::total_cmp);
    let at = |q: f64| errors[((errors.len() - 1) as f64 * q) as usize];
    println!(
        "{date}, samples {:.0} m: {} cells compared; median {:.4}°, 95 % {:.4}°, 99 % {:.4}°, worst {:.3}°; {} sweeps in {swept_s:.2} s, single \
         rays {rays_s:.0} s",
        step * 111_195.0,
        errors.len(),
        at(0.5),
        at(0.95),
        at(0.99),
        at(1.0),
        block.sweeps
    );
}

/// What one more sweep takes: a block asked with few instants and with many.
fn speed() {
    let step = 1.0 / 3600.0;
    let terrain = rough(42.6, -2.6, step, 3000, 3000);
    let shape = RasterShape {
        west_deg: -2.6 + 900.0 * step,
        north_deg: 42.6 - 400.0 * step,
        lon_step_deg: step,
        lat_step_deg: step,
        columns: 2048,
        rows: 2048,
    };
    let eclipse = eclipse("2026-08-12");
    let timed = |minutes: f64| {
        let options = SunlitOptions { beyond_totality_min: Some(minutes), ..SunlitOptions::default() };
        let runs = (0..3).map(|_| {
            let start = Instant::now();
            let block = sunlit_block(&terrain, &eclipse, &shape, &options).unwrap();
            (start.elapsed().as_secs_f64(), block)
        });
        runs.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap()
    };
    let ((few_s, few), (many_s, many)) = (timed(0.0), timed(20.0));
    let a_sweep = (many_s - few_s) / f64::from(many.sweeps - few.sweeps);
    println!(
        "a block of 2048 × 2048 places at 1″: {few_s:.2} s with {} sweeps, {many_s:.2} s with {}; a sweep more {a_sweep:.3} s, {:.1} million cells a \
         second of {:.1} million passed, {:.1} million places a second",
        few.sweeps,
        many.sweeps,
        many.swept_cells as f64 / a_sweep / 1e6,
        many.swept_cells as f64 / 1e6,
        many.margin_deg.len() as f64 / a_sweep / 1e6
    );
}
