//! What there is to see: the fast path for rankings, the integrals behind it, and everything for one place.
//!
//! `cargo bench -p noonfall-scoring --bench sights`. Each bench checks its answer beside the time.

use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use noonfall_ephemeris::Kernel;
use noonfall_ephemeris::angle::ARCSEC_PER_RAD;
use noonfall_scoring::outlook::air::Air;
use noonfall_scoring::outlook::band_outlook::{BandSky, Bands, outlook, outlook_in_full};
use noonfall_scoring::outlook::crescent::Crescent;
use noonfall_scoring::outlook::offer::{OfferPlace, OfferSettings, offer};
use noonfall_scoring::outlook::scintillation::{LayerWeights, SlantPath};
use noonfall_scoring::outlook::totality::TotalityRules;
use noonfall_scoring::outlook::turbulence::Turbulence;
use noonfall_shadow::{Conventions, Eclipse, Site};
use rayon::prelude::*;

fn main() {
    // The tables are built once for a process; not part of what is timed.
    assert!(outlook(&LOW_SUN) > 0.0);
    divan::main();
}

const LOW_SUN: BandSky = BandSky { sun_altitude_deg: 12.0, width_arcsec: 4.5, size_ratio: 1.045, elevation_m: 0.0 };

#[divan::bench]
fn outlook_from_the_table(bencher: Bencher) {
    bencher.bench(|| {
        let found = outlook(black_box(&LOW_SUN));
        assert!((0.0..1.0).contains(&found));
        found
    });
}

/// As a search asks for it: from the eclipse and the place, very many of them.
#[divan::bench(sample_count = 10)]
fn outlook_of_many_places(bencher: Bencher) {
    let date = chrono::NaiveDate::from_ymd_opt(2028, 7, 22).unwrap_or_default();
    let Ok(eclipse) = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()) else { return };
    let bands = Bands::of(Air::STANDARD);
    let max = eclipse.greatest().tt;
    let site = |k: u32| Site {
        lat_deg: -15.0 - 1e-6 * f64::from(k),
        lon_deg: 126.0 + 1e-6 * f64::from(k),
        elevation_m: f64::from(k % 500),
    };
    let sum = || (0..1_000_000_u32).into_par_iter().map(|k| bands.at(&eclipse, &site(k), max)).sum::<f64>();
    assert!((1e4..1e6).contains(&sum()));
    bencher.counter(ItemsCount::new(1_000_000_u32)).bench(sum);
}

#[divan::bench]
fn outlook_in_full_at_one_place(bencher: Bencher) {
    bencher.bench(|| {
        let found = outlook_in_full(black_box(&LOW_SUN), Air::STANDARD);
        assert!((found - outlook(&LOW_SUN)).abs() < 0.012);
        found
    });
}

#[divan::bench]
fn contrast_from_the_crescent_up(bencher: Bencher) {
    let a = 959.63 / ARCSEC_PER_RAD;
    bencher.bench(|| {
        let crescent = Crescent::new(a, 1.056 * a, black_box(5.0) / ARCSEC_PER_RAD);
        let weights = crescent.map(|c| LayerWeights::computed(&c));
        let contrast = weights.map(|w| SlantPath::new(30.0, 0.0, &Turbulence::STATED).contrast(&w, 1.7e-14));
        assert!(contrast.is_some_and(|c| (c - 0.0341).abs() < 0.0005));
        contrast
    });
}

#[divan::bench]
fn everything_for_one_place(bencher: Bencher) {
    let kernel = Kernel::embedded();
    let date = chrono::NaiveDate::from_ymd_opt(2028, 7, 22).unwrap_or_default();
    let Ok(eclipse) = Eclipse::on_date(kernel, date, None, &Conventions::default()) else { return };
    let site = Site { lat_deg: -45.6, lon_deg: 170.4, elevation_m: 0.0 };
    let rules = TotalityRules::usual(&eclipse);
    bencher.bench(|| {
        let mut solver = rules.solver();
        let totality = rules.totality(&mut solver, &site);
        let decision = rules.decide(&mut solver, &site, true, &totality, None);
        assert!(decision.is_ok());
        let place = OfferPlace { site: &site, zone: chrono_tz::UTC, totality: &totality, decision: &decision };
        offer(kernel, &rules, &mut solver, &place, &OfferSettings::default())
    });
}
