//! How fast a path is traced and an eclipse is prepared. Run with `cargo bench -p noonfall-shadow --bench path`.

#![allow(clippy::unwrap_used)]

use noonfall_ephemeris::Kernel;
use noonfall_shadow::{Conventions, Eclipse};

fn main() {
    divan::main();
}

fn eclipse() -> Eclipse {
    Eclipse::on_date(Kernel::embedded(), "2028-07-22".parse().unwrap(), None, &Conventions::default()).unwrap()
}

/// From a date to an eclipse that can be asked about places.
#[divan::bench(sample_count = 50)]
fn prepare_an_eclipse(bencher: divan::Bencher<'_, '_>) {
    assert!((eclipse().greatest().gamma + 0.6056).abs() < 1e-4);
    bencher.bench(eclipse);
}

/// Central line, limits, width and polygon with a point every so many seconds.
#[divan::bench(args = [60.0, 10.0], sample_count = 10, sample_size = 1)]
fn trace_a_path(bencher: divan::Bencher<'_, '_>, every_s: f64) {
    let eclipse = eclipse();
    let path = eclipse.path(every_s);
    let longest_s = path.points.iter().filter_map(|p| p.duration_s).fold(0.0, f64::max);
    // NASA/TP-2006-214141: 5 min 10 s at greatest eclipse.
    assert!((longest_s - 310.0).abs() < 1.5, "{longest_s}");
    assert_eq!(path.polygon.first(), path.polygon.last());
    bencher
        .counter(divan::counter::ItemsCount::new(path.points.len()))
        .bench(|| eclipse.path(divan::black_box(every_s)));
}
