//! How fast true contacts are found: one place, its beads, and very many places. Run with
//! `cargo bench -p noonfall-shadow --bench moon_edge`.

#![allow(clippy::unwrap_used)]

use divan::counter::ItemsCount;
use noonfall_ephemeris::Kernel;
use noonfall_shadow::geodesy::destination;
use noonfall_shadow::moon_edge::{EdgeLattice, EdgeSettings, EdgeSolver, MoonHeights};
use noonfall_shadow::{Conventions, Eclipse, Site};
use rayon::prelude::*;
use std::sync::LazyLock;

fn main() {
    divan::main();
}

static ECLIPSE: LazyLock<Eclipse> = LazyLock::new(|| {
    Eclipse::on_date(Kernel::embedded(), "2028-07-22".parse().unwrap(), None, &Conventions::default()).unwrap()
});

fn kununurra() -> Site {
    Site::new(-15.7782, 128.7421, 45.0).unwrap()
}

/// Places all over the path, a thousand and one to a ring.
fn places(count: usize) -> Vec<Site> {
    let path = ECLIPSE.path(60.0);
    let line: Vec<_> = path.points.iter().filter_map(|p| p.central).collect();
    (0..count)
        .map(|i| {
            let part = i as f64 / count as f64;
            let centre = line[(part * line.len() as f64) as usize];
            let spread = (i as f64 * 0.618_033_988_7).fract();
            Site::at_sea_level(destination(centre, 360.0 * (i as f64 * 0.754_877_666_2).fract(), 100.0 * spread))
        })
        .collect()
}

/// A place with nothing known: heights unpacked already, profile searched.
#[divan::bench]
fn one_place_cold(bencher: divan::Bencher) {
    let (eclipse, site) = (&*ECLIPSE, kununurra());
    let check = eclipse.true_totality(&site, MoonHeights::embedded(), &EdgeSettings::default()).unwrap();
    assert!((check.duration_s - 170.0).abs() < 30.0, "{}", check.duration_s);
    bencher.bench(|| eclipse.true_totality(&site, MoonHeights::embedded(), &EdgeSettings::default()));
}

/// The same again from what a solver has learnt.
#[divan::bench]
fn one_place_warm(bencher: divan::Bencher) {
    let site = kununurra();
    let mut solver = EdgeSolver::new(MoonHeights::embedded());
    solver.totality(&ECLIPSE, &site, &EdgeSettings::default());
    bencher.bench_local(|| solver.totality(&ECLIPSE, &site, &EdgeSettings::default()));
}

#[divan::bench]
fn beads_of_one_place(bencher: divan::Bencher) {
    let site = kununurra();
    bencher.bench(|| ECLIPSE.beads(&site, MoonHeights::embedded(), &EdgeSettings::default()));
}

/// All profiles of an eclipse, and a thousand places of its path.
#[divan::bench(sample_count = 3)]
fn lattice_cold(bencher: divan::Bencher) {
    let places = places(1000);
    bencher.counter(ItemsCount::new(places.len())).bench(|| {
        let lattice = EdgeLattice::new(&ECLIPSE, MoonHeights::embedded(), &EdgeSettings::default());
        places.par_iter().filter_map(|site| lattice.totality(site)).count()
    });
}

#[divan::bench(sample_count = 5)]
fn lattice_warm(bencher: divan::Bencher) {
    let places = places(100_000);
    let lattice = EdgeLattice::new(&ECLIPSE, MoonHeights::embedded(), &EdgeSettings::default());
    let count = || places.par_iter().filter_map(|site| lattice.totality(site)).count();
    assert!(count() > 50_000);
    bencher.counter(ItemsCount::new(places.len())).bench(count);
}

/// Both limits, a point a minute.
#[divan::bench(sample_count = 3)]
fn limits(bencher: divan::Bencher) {
    bencher.bench(|| ECLIPSE.true_limits(MoonHeights::embedded(), &EdgeSettings::default(), 60.0));
}
