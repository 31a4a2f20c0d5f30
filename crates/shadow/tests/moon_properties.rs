//! What has to hold of the Moon's true edge at any place, whatever its mountains.

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used, clippy::panic)]

use noonfall_ephemeris::{DeltaT, GeoPoint, Kernel};
use noonfall_shadow::geodesy::destination;
use noonfall_shadow::moon_edge::{EdgeLattice, EdgeSettings, EdgeSolver, MoonHeights, SUN_RADIUS_KM, TrueTotality};
use noonfall_shadow::{Conventions, Eclipse, Site};

const DATES: [&str; 4] = ["1999-08-11", "2017-08-21", "2027-08-02", "2028-07-22"];

/// Radius of the sphere that the Moon's heights are counted from, and the Earth's radius in which k is given, km.
const DATUM_KM: f64 = 1737.4;
const EARTH_KM: f64 = 6378.137;

fn eclipse(date: &str, conventions: &Conventions) -> Eclipse {
    let delta_t = DeltaT::given(66.0).unwrap();
    Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), Some(delta_t), conventions).unwrap()
}

/// Numbers from 0 to 1 that fill the interval evenly (multiples of an irrational number).
fn spread(k: usize, by: f64) -> f64 {
    (0.5 + k as f64 * by).fract()
}

/// Places all over a path, also near its limits and at some height.
fn places(eclipse: &Eclipse, count: usize) -> Vec<Site> {
    let line: Vec<GeoPoint> = eclipse.path(120.0).points.iter().filter_map(|p| p.central).collect();
    (0..count)
        .map(|k| {
            let centre = line[(spread(k, 0.754_877_67) * line.len() as f64) as usize];
            let place = destination(centre, 360.0 * spread(k, 0.618_033_99), 90.0 * spread(k, 0.569_840_29));
            Site::new(place.lat_deg, place.lon_deg, 3000.0 * spread(k, 0.430_159_71)).unwrap()
        })
        .collect()
}

/// A smooth Moon as high as the highest point of the edge covers the Sun for longer, and one as low as the lowest for less
/// long: second and third contact lie between theirs.
#[test]
fn true_contacts_lie_between_those_of_the_highest_and_of_the_lowest_edge() {
    // Heights are packed to 2 m, and between two directions 0.05° apart the edge may stand a little higher or lower.
    const ROOM_KM: f64 = 0.15;
    let heights = MoonHeights::embedded();
    let (mut held, mut longest_s) = (0, f64::INFINITY);
    for date in DATES {
        let usual = eclipse(date, &Conventions::default());
        for site in places(&usual, 12) {
            let Some(found) = usual.true_totality(&site, heights, &EdgeSettings::default()) else { continue };
            let middle = found.c2.tt.plus(0.5 * found.duration_s);
            let edge = usual.edge_profile(&site, heights, middle, 0.05);
            let smooth = |height_km: f64| {
                let moon_k_interior = (DATUM_KM + height_km) / EARTH_KM;
                let conventions =
                    Conventions { moon_k_interior, sun_radius_km: SUN_RADIUS_KM, ..Conventions::default() };
                eclipse(date, &conventions).local(&site)
            };
            let highest = edge.iter().map(|p| p.height_km).fold(f64::NEG_INFINITY, f64::max) + ROOM_KM;
            let lowest = edge.iter().map(|p| p.height_km).fold(f64::INFINITY, f64::min) - ROOM_KM;
            let (high, low) = (smooth(highest), smooth(lowest));
            let (c2, c3) = (high.c2.unwrap().tt, high.c3.unwrap().tt);
            assert!(found.c2.tt - c2 > 0.0 && c3 - found.c3.tt > 0.0, "{date} {site:?} {found:?} {high:?}");
            assert!(found.duration_s < high.duration_s);
            longest_s = longest_s.min(high.duration_s - found.duration_s);
            if let (Some(c2), Some(c3)) = (low.c2, low.c3) {
                assert!(c2.tt - found.c2.tt > 0.0 && found.c3.tt - c3.tt > 0.0);
            }
            held += 1;
        }
    }
    println!("{held} places; the highest edge allows {longest_s:.1} s more at least");
    assert!(held >= 25, "{held}");
}

/// A way to find totality at a place.
type Way<'a> = Box<dyn FnMut(&Site) -> Option<TrueTotality> + 'a>;

/// From place to place contacts move no more than the Moon does. 100 m on the ground are at most 0.058″ at the Moon
/// (357 000 km at its nearest), the gap between Sun and edge is convex in time, so a contact moves by no more than that over
/// the lesser of the rates at which the edge passes; and no place has totality between two neighbours that have none.
#[test]
fn contacts_move_evenly_from_place_to_place() {
    const STEP_KM: f64 = 0.1;
    const SHIFT_ARCSEC: f64 = 0.058;
    let heights = MoonHeights::embedded();
    let settings = EdgeSettings::default();
    let mut compared = 0;
    for date in DATES {
        let eclipse = eclipse(date, &Conventions::default());
        let lattice = EdgeLattice::new(&eclipse, heights, &settings);
        for (number, start) in places(&eclipse, 4).into_iter().enumerate() {
            let mut solver = EdgeSolver::new(heights);
            let mut ways: [(&str, f64, Way); 2] = [
                // What a solver has learnt serves within 0.005″, and two profiles of the lattice agree within 0.02″.
                ("solver", 0.01, Box::new(|site| solver.totality(&eclipse, site, &settings))),
                ("lattice", 0.02, Box::new(|site| lattice.totality(site))),
            ];
            for (name, room_arcsec, way) in &mut ways {
                let along = |k: usize| {
                    let place = destination(start.point(), 77.0 * number as f64, STEP_KM * k as f64);
                    Site { lat_deg: place.lat_deg, lon_deg: place.lon_deg, ..start }
                };
                let found: Vec<Option<TrueTotality>> = (0..40).map(|k| way(&along(k))).collect();
                for pair in found.windows(2) {
                    let [Some(here), Some(there)] = pair else { continue };
                    for (a, b) in [(here.c2, there.c2), (here.c3, there.c3)] {
                        let rate = a.uncovering_arcsec_per_s.min(b.uncovering_arcsec_per_s);
                        let moved_arcsec = (a.tt - b.tt).abs() * rate;
                        assert!(
                            moved_arcsec < SHIFT_ARCSEC + *room_arcsec,
                            "{date} {name}: {moved_arcsec}″ {a:?} {b:?}"
                        );
                        compared += 1;
                    }
                }
                let changes = found.windows(2).filter(|p| p[0].is_some() != p[1].is_some()).count();
                assert!(changes <= 1, "{date} {name}: totality comes and goes {changes} times along 4 km");
            }
        }
    }
    assert!(compared > 800, "{compared}");
}

/// The mean of the edge lies within 0.5 km of the handbook's exterior radius, k = 0.2725076 (IAU 1982), as it should: that is
/// a mean of the edge over librations. The lowest and the highest edge lie kilometres from it.
#[test]
fn the_mean_of_the_edge_is_the_exterior_radius_of_handbooks() {
    let exterior_km = Conventions::default().moon_k_exterior * EARTH_KM;
    let mut means = Vec::new();
    for date in DATES {
        let eclipse = eclipse(date, &Conventions::default());
        for site in places(&eclipse, 3) {
            let edge = eclipse.edge_profile(&site, MoonHeights::embedded(), eclipse.quick(&site).max, 0.5);
            let mean_km = DATUM_KM + edge.iter().map(|p| p.height_km).sum::<f64>() / edge.len() as f64;
            assert!((mean_km - exterior_km).abs() < 0.5, "{date}: {mean_km} {exterior_km}");
            assert!(edge.iter().any(|p| p.height_km < -2.0) && edge.iter().any(|p| p.height_km > 3.0), "{date}");
            means.push(mean_km);
        }
    }
    println!("exterior radius {exterior_km:.2} km, means of the edge {means:.2?}");
}
