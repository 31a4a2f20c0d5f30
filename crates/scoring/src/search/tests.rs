//! The search against the plain path: every point of the lattice on its own.

use super::tiles::TILE_DEG;
use super::*;
use crate::clouds::SolarTime;
use crate::criteria::EclipseScale;
use crate::land::Region;
use crate::outlook::air::Air;
use crate::outlook::band_outlook::Bands;
use crate::plan::Plan;
use crate::progress::Silent;
use noonfall_ephemeris::Kernel;
use noonfall_shadow::Conventions;
use noonfall_shadow::geodesy::distance_km;
use noonfall_shadow::moon_edge::{EdgeLattice, EdgeSettings, MoonHeights};
use noonfall_shadow::{Phase, Site};
use std::path::Path;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo");

fn eclipse(date: &str) -> Eclipse {
    Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
}

fn plan(more: &str) -> Plan {
    let text = format!(
        "[eclipse]\ndate = 2028-07-22\n[clouds]\nfile = \"clouds.csv\"\n[weights]\ntotality = 2\nclear_sky = 1\nsun_altitude = 1\nshadow_bands = 1\n[search]\n{more}"
    );
    Plan::parse(&text, "plan.toml", Path::new(DEMO)).unwrap()
}

fn region() -> Region {
    // About 110 km by 110 km over the northern limit west of Sydney.
    Region::of_rings([vec![(148.0, -32.0), (149.2, -32.0), (149.2, -31.0), (148.0, -31.0)]])
}

struct Case {
    eclipse: Eclipse,
    plan: Plan,
    scorer: Scorer,
    clouds: Clouds,
    bands: std::sync::Arc<Bands>,
    region: Region,
}

fn case(more: &str) -> Case {
    let plan = plan(more);
    let scorer = Scorer::new(&plan, &EclipseScale { longest_totality_s: 300.0 });
    let eclipse = eclipse("2028-07-22");
    let clouds = Clouds::read(&plan, &eclipse, None).unwrap();
    Case { eclipse, plan, scorer, clouds, bands: Bands::of(Air::STANDARD), region: region() }
}

impl Case {
    fn search(&self, spacing_km: f64, best: usize, apart_km: f64) -> Search<'_> {
        Search {
            eclipse: &self.eclipse,
            edge: None,
            scorer: &self.scorer,
            requirements: &self.plan.requirements,
            clouds: &self.clouds,
            bands: &self.bands,
            area: Area { land: None, region: Some(&self.region) },
            ground: None,
            roads: None,
            spacing_km,
            best,
            apart_km,
        }
    }
}

/// The plain path: every point of the lattice on its own, sorted, taken greedily.
fn plainly(
    case: &Case,
    edge: Option<&SearchEdge>,
    spacing_km: f64,
    best: usize,
    apart_km: f64,
) -> (usize, Vec<GeoPoint>) {
    let step = spacing_km / KM_PER_DEG;
    let mut points: Vec<(f64, GeoPoint)> = Vec::new();
    let mut inside = 0;
    let rows =
        (0..(180.0 / step) as u64).map(|j| -90.0 + (j as f64 + 0.5) * step).filter(|l| (-32.5..-30.5).contains(l));
    for lat_deg in rows {
        let lon_step = spacing_km / (KM_PER_DEG * lat_deg.to_radians().cos());
        let row = (0..(360.0 / lon_step) as u64).map(|k| -180.0 + (k as f64 + 0.5) * lon_step);
        for lon_deg in row.filter(|l| (147.5..150.0).contains(l)) {
            let point = GeoPoint { lat_deg, lon_deg };
            let site = Site::at_sea_level(point);
            let local = case.eclipse.local(&site);
            if !case.region.contains(point) || local.phase != Phase::Total {
                continue;
            }
            inside += 1;
            let max = local.max.unwrap();
            let query = SolarTime::at(max.tt, lon_deg).query(lat_deg, lon_deg, max.sun_altitude_deg, None);
            let totality_s = match edge {
                None => local.duration_s,
                Some(edge) => match edge.totality(&Site::at_sea_level(point)).map(|t| t.0) {
                    Some(seconds) => seconds,
                    None => continue,
                },
            };
            let numbers = crate::criteria::Numbers {
                totality_s,
                sun_altitude_deg: max.sun_altitude_deg,
                clear_sky: Some(case.clouds.outlook(&query).unwrap().clear_line_of_sight),
                shadow_bands: Some(case.bands.at(&case.eclipse, &site, max.tt)),
                ..Default::default()
            };
            points.push((case.scorer.score(&case.scorer.utilities(&numbers.into())), point));
        }
    }
    points.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut taken: Vec<GeoPoint> = Vec::new();
    for (_, point) in points {
        if taken.len() < best && taken.iter().all(|t| sphere_km(*t, point) >= apart_km * SPHERE_EXCESS) {
            taken.push(point);
        }
    }
    (inside, taken)
}

#[test]
fn finds_what_the_plain_path_finds() {
    let case = case("");
    let outcome = search(&case.search(4.0, 8, 30.0), &Silent).unwrap();
    let (inside, plain) = plainly(&case, None, 4.0, 8, 30.0);
    assert_eq!(outcome.in_path, inside as u64);
    let found: Vec<GeoPoint> = outcome.found.iter().map(|f| f.point).collect();
    assert_eq!(found, plain);
    for f in &outcome.found {
        let site = Site::at_sea_level(f.point);
        let full = case.bands.at(&case.eclipse, &site, case.eclipse.local(&site).max.unwrap().tt);
        // The instants of maximum differ by milliseconds.
        assert!(f.shadow_bands.is_none_or(|b| (b - full).abs() < 1e-6), "{f:?} {full}");
    }
    for (i, a) in found.iter().enumerate() {
        assert!(found[..i].iter().all(|b| distance_km(*a, *b) >= 30.0));
    }
}

/// With the Moon's true edge the search asks it of few points, and finds what asking it of all of them finds.
#[test]
fn finds_what_the_plain_path_finds_at_the_true_edge() {
    let case = case("");
    let lattice = EdgeLattice::new(&case.eclipse, MoonHeights::embedded(), &EdgeSettings::default());
    let edge = SearchEdge { lattice: &lattice };
    let outcome = search(&Search { edge: Some(edge), ..case.search(8.0, 5, 30.0) }, &Silent).unwrap();
    let (_, plain) = plainly(&case, Some(&edge), 8.0, 5, 30.0);
    assert_eq!(outcome.found.iter().map(|f| f.point).collect::<Vec<_>>(), plain);
    for found in &outcome.found {
        assert_eq!(edge.totality(&Site::at_sea_level(found.point)).map(|t| t.0), Some(found.totality_s));
    }
}

/// What nodes around a tile tell of the true edge bounds every point of it, on ground up to 2500 m, far closer than what holds
/// everywhere. The edge itself is held to independent computations in noonfall-shadow.
#[test]
fn nodes_around_a_tile_bound_what_the_edge_does_to_its_points() {
    use super::edge::EdgeGains;
    use rand_chacha::rand_core::SeedableRng;
    use rand_distr::{Distribution, StandardUniform};
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(14);
    let mut share = || -> f64 { StandardUniform.sample(&mut rng) };
    let (mut asked, mut closer) = (0, 0);
    for date in ["2026-08-12", "2028-07-22", "2019-07-02"] {
        let eclipse = eclipse(date);
        let lattice = EdgeLattice::new(&eclipse, MoonHeights::embedded(), &EdgeSettings::default());
        let edge = SearchEdge { lattice: &lattice };
        let tiles = tiles_near_path(&eclipse, &Silent).unwrap();
        for tile in tiles.iter().step_by(tiles.len() / 100) {
            let mut gains = EdgeGains::around(edge, &eclipse, tile);
            for _ in 0..60 {
                let site = Site {
                    lat_deg: tile.south() + TILE_DEG * share(),
                    lon_deg: tile.west + (tile.east - tile.west) * share(),
                    elevation_m: 2500.0 * share(),
                };
                let seen = eclipse.quick(&site);
                if seen.phase != Phase::Total || seen.sun_altitude_deg < 0.0 {
                    continue;
                }
                let span = gains.span_s(&site, seen.duration_s, seen.sun_altitude_deg);
                let anywhere = SearchEdge::span_s(seen.duration_s);
                assert!(span.least == anywhere.least && span.most <= anywhere.most, "{date} {site:?}");
                let Some((true_s, ..)) = edge.totality(&site) else { continue };
                asked += 1;
                closer += usize::from(span.most < anywhere.most - 3.0);
                let within = span.least <= true_s && true_s <= span.most;
                assert!(within || span == anywhere, "{date} {site:?}: {true_s} s, {span:?}");
            }
        }
    }
    assert!(asked > 4000 && closer * 2 > asked, "{closer} of {asked}");
}

#[test]
fn the_same_on_any_number_of_threads() {
    let case = case("");
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| search(&case.search(5.0, 5, 20.0), &Silent).unwrap())
    };
    assert_eq!(with(1), with(3));
}

#[test]
fn more_than_the_path_holds_gives_what_there_is() {
    let case = case("");
    let outcome = search(&case.search(10.0, 50, 80.0), &Silent).unwrap();
    assert!(!outcome.found.is_empty() && outcome.found.len() < 5, "{}", outcome.found.len());
}

#[test]
fn no_tile_of_the_path_is_dropped() {
    // Central, polar and non-central paths, and one across the date line: every traced point lies in a kept tile.
    for date in ["2028-07-22", "2015-03-20", "2021-12-04", "2033-03-30", "2009-07-22", "2043-04-09"] {
        let eclipse = eclipse(date);
        let tiles = tiles_near_path(&eclipse, &Silent).unwrap();
        let path = eclipse.path(120.0);
        assert!(!path.polygon.is_empty(), "{date}");
        for p in path.central_line.iter().chain(&path.north_limit).chain(&path.south_limit) {
            // Points whose Sun is down at maximum are not searched for.
            if eclipse.quick(&Site::at_sea_level(*p)).sun_altitude_deg <= 0.0 {
                continue;
            }
            let strip = (((p.lat_deg + 90.0) / TILE_DEG) as usize).min(719);
            let kept = tiles.iter().any(|t| t.strip == strip && t.west <= p.lon_deg && p.lon_deg <= t.east);
            assert!(kept, "{date}: {p:?}");
        }
    }
}

#[test]
fn a_listener_can_stop_it() {
    struct Impatient;
    impl Progress for Impatient {
        fn begin(&self, _: &str, _: u64) {}
        fn advance(&self, _: u64) {}
        fn cancelled(&self) -> bool {
            true
        }
    }
    let case = case("");
    assert_eq!(search(&case.search(5.0, 5, 20.0), &Impatient), Err(Stopped.into()));
}
