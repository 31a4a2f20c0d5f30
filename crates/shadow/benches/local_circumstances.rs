//! How fast places are computed: one by one, and a million at once. Run with
//! `cargo bench -p noonfall-shadow --bench local_circumstances`.

#![allow(clippy::unwrap_used)]

use divan::counter::ItemsCount;
use noonfall_ephemeris::Kernel;
use noonfall_shadow::batch::LocalBatch;
use noonfall_shadow::geodesy::destination;
use noonfall_shadow::{BatchSolver, Conventions, Eclipse, Phase, Site, SiteBatch};
use std::sync::LazyLock;

const MILLION: usize = 1_000_000;

fn main() {
    divan::main();
}

static ECLIPSE: LazyLock<Eclipse> = LazyLock::new(|| {
    Eclipse::on_date(Kernel::embedded(), "2028-07-22".parse().unwrap(), None, &Conventions::default()).unwrap()
});

/// A million places as columns.
struct Places {
    lat_deg: Vec<f64>,
    lon_deg: Vec<f64>,
    elevation_m: Vec<f64>,
}

impl Places {
    /// `place` gives latitude and longitude for two numbers from 0 to 1.
    fn of(place: impl Fn(f64, f64) -> (f64, f64)) -> Places {
        let (lat_deg, lon_deg) =
            (0..MILLION).map(|i| place((i / 1000) as f64 / 1000.0, (i % 1000) as f64 / 1000.0)).unzip();
        Places { lat_deg, lon_deg, elevation_m: vec![300.0; MILLION] }
    }

    fn batch(&self) -> SiteBatch<'_> {
        SiteBatch { lat_deg: &self.lat_deg, lon_deg: &self.lon_deg, elevation_m: &self.elevation_m }
    }
}

/// Every place inside the path: five instants each.
static INSIDE: LazyLock<Places> = LazyLock::new(|| {
    let centre = ECLIPSE.greatest().point;
    Places::of(|a, b| {
        let place = destination(centre, 360.0 * b, 90.0 * a.sqrt());
        (place.lat_deg, place.lon_deg)
    })
});

/// Places over all of Australia, the path and the partial eclipse on both sides: three instants for most, five for some.
static AROUND: LazyLock<Places> = LazyLock::new(|| Places::of(|a, b| (-44.0 + 34.0 * a, 113.0 + 41.0 * b)));

/// A fast answer that is wrong would show here: rows spread over the batch against the plain path.
fn check(places: &Places, found: &LocalBatch) {
    for row in (0..MILLION).step_by(9973) {
        let site = Site::new(places.lat_deg[row], places.lon_deg[row], places.elevation_m[row]).unwrap();
        let plain = ECLIPSE.local(&site);
        assert_eq!(found.phase[row], plain.phase);
        assert!((found.duration_s[row] - plain.duration_s).abs() < 1e-4);
        let (c4, max) = (plain.c4.unwrap(), plain.max.unwrap());
        assert!((found.epoch.plus(found.c4.after_epoch_s[row]) - c4.tt).abs() < 1e-4);
        assert!((found.max.sun_altitude_deg[row] - max.sun_altitude_deg).abs() < 1e-5);
    }
}

fn local_of(bencher: divan::Bencher<'_, '_>, places: &Places, threads: usize) {
    let solver = BatchSolver::new(&ECLIPSE);
    let mut out = LocalBatch::empty(ECLIPSE.elements().epoch());
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    pool.install(|| solver.local_into(places.batch(), &mut out).unwrap());
    check(places, &out);
    bencher
        .counter(ItemsCount::new(MILLION))
        .bench_local(|| pool.install(|| solver.local_into(divan::black_box(places.batch()), &mut out).unwrap()));
}

/// Full circumstances of a million places inside the path, on so many threads.
#[divan::bench(args = [1, 2], sample_count = 10, sample_size = 1)]
fn million_inside_the_path(bencher: divan::Bencher<'_, '_>, threads: usize) {
    assert_eq!(
        ECLIPSE.quick(&Site { lat_deg: INSIDE.lat_deg[5], lon_deg: INSIDE.lon_deg[5], elevation_m: 300.0 }).phase,
        Phase::Total
    );
    local_of(bencher, &INSIDE, threads);
}

/// The same over the whole of Australia.
#[divan::bench(args = [1, 2], sample_count = 10, sample_size = 1)]
fn million_over_australia(bencher: divan::Bencher<'_, '_>, threads: usize) {
    local_of(bencher, &AROUND, threads);
}

/// Phase, maximum, duration and altitude only, as a search over a grid needs them.
#[divan::bench(args = [1, 2], sample_count = 10, sample_size = 1)]
fn million_quick_over_australia(bencher: divan::Bencher<'_, '_>, threads: usize) {
    let solver = BatchSolver::new(&ECLIPSE);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let mut out = solver.quick(AROUND.batch()).unwrap();
    let whole = solver.local(AROUND.batch()).unwrap();
    assert_eq!(out.phase, whole.phase);
    bencher
        .counter(ItemsCount::new(MILLION))
        .bench_local(|| pool.install(|| solver.quick_into(divan::black_box(AROUND.batch()), &mut out).unwrap()));
}

/// Everything about one place by the plain path.
#[divan::bench(sample_count = 200)]
fn one_site(bencher: divan::Bencher<'_, '_>) {
    let wyndham = Site::new(-15.49, 128.12, 11.0).unwrap();
    assert_eq!(ECLIPSE.local(&wyndham).duration_s.round(), 201.0);
    bencher.counter(ItemsCount::new(1_usize)).bench(|| ECLIPSE.local(divan::black_box(&wyndham)));
}
