//! How fast all eclipses of a century are found. Run with `cargo bench -p noonfall-shadow --bench catalogue`.

#![allow(clippy::unwrap_used)]

use noonfall_ephemeris::Kernel;
use noonfall_shadow::{Conventions, catalogue};

fn main() {
    divan::main();
}

/// Every eclipse from 2001 to 2100 with kind, instant and place of greatest eclipse, on so many threads.
#[divan::bench(args = [1, 2], sample_count = 5, sample_size = 1)]
fn a_century(bencher: divan::Bencher<'_, '_>, threads: usize) {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let list =
        || pool.install(|| catalogue::list(Kernel::embedded(), 2001, 2100, None, &Conventions::default()).unwrap());
    // NASA/TP-2006-214141: 224 eclipses.
    assert_eq!(list().len(), 224);
    bencher.bench(list);
}
