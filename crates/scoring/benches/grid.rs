//! How fast the whole path is searched: 22 July 2028, dry land, clouds on. Run with `cargo bench -p noonfall-scoring --bench grid`.

use std::path::Path;

use noonfall_ephemeris::Kernel;
use noonfall_scoring::clouds::Clouds;
use noonfall_scoring::criteria::EclipseScale;
use noonfall_scoring::land::Land;
use noonfall_scoring::outlook::air::Air;
use noonfall_scoring::outlook::band_outlook::Bands;
use noonfall_scoring::plan::Plan;
use noonfall_scoring::progress::Silent;
use noonfall_scoring::score::Scorer;
use noonfall_scoring::search::{Area, Outcome, Search, search};
use noonfall_shadow::{Conventions, Eclipse, Site};

const PLAN: &str = "[eclipse]\ndate = 2028-07-22\n[clouds]\nfile = \"clouds.csv\"\n[weights]\ntotality = 2\nclear_sky = 3\n\
                    clear_totality = 4\nsun_altitude = 1\n[search]\n";

fn main() {
    divan::main();
}

struct Ready {
    eclipse: Eclipse,
    plan: Plan,
    scorer: Scorer,
    clouds: Clouds,
}

fn ready() -> Option<Ready> {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo"));
    let plan = Plan::parse(PLAN, "bench.toml", folder).ok()?;
    let eclipse = Eclipse::on_date(Kernel::embedded(), plan.eclipse.date, None, &Conventions::default()).ok()?;
    let scale = EclipseScale { longest_totality_s: eclipse.greatest().central_duration_s? };
    let scorer = Scorer::new(&plan, &scale);
    let clouds = Clouds::read(&plan, &eclipse, None).ok()?;
    Some(Ready { eclipse, plan, scorer, clouds })
}

fn run(ready: &Ready, spacing_km: f64) -> Outcome {
    let outcome = search(
        &Search {
            eclipse: &ready.eclipse,
            edge: None,
            scorer: &ready.scorer,
            requirements: &ready.plan.requirements,
            clouds: &ready.clouds,
            area: Area { land: Some(Land::shipped()), region: None },
            ground: None,
            roads: None,
            bands: &Bands::of(Air::STANDARD),
            spacing_km,
            best: 20,
            apart_km: 50.0,
        },
        &Silent,
    )
    .unwrap_or_default();
    // A fast search that finds the wrong places would show here.
    assert_eq!(outcome.found.len(), 20);
    outcome
}

#[divan::bench(args = [4.0, 1.0, 0.25], sample_count = 3, sample_size = 1)]
fn whole_path(bencher: divan::Bencher<'_, '_>, spacing_km: f64) {
    if let Some(ready) = ready() {
        bencher
            .counter(divan::counter::ItemsCount::new(run(&ready, spacing_km).points))
            .bench(|| run(&ready, spacing_km));
    }
}

#[divan::bench(sample_count = 20)]
fn one_quick_site(bencher: divan::Bencher<'_, '_>) {
    if let Some(ready) = ready() {
        let site = Site { lat_deg: -30.0, lon_deg: 146.0, elevation_m: 0.0 };
        bencher.bench(|| ready.eclipse.quick(divan::black_box(&site)));
    }
}
