//! The Moon's true edge against an independent program: `tests/reference/moon/` (full DE440, ERFA, the lunar heights
//! themselves; its `ORIGIN.md` tells how).

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};

use noonfall_ephemeris::GeoPoint;
use noonfall_ephemeris::angle::wrap_180;
use noonfall_ephemeris::{DeltaT, Kernel, Tt};
use noonfall_shadow::geodesy::{bearing_deg, destination, distance_km};
use noonfall_shadow::moon_edge::{EdgeLattice, EdgeSettings, EdgeSolver, MoonHeights};
use noonfall_shadow::{Conventions, Eclipse, Site};

const CONTACTS: &str = include_str!("../../../tests/reference/moon/contacts.csv");
const PROFILES: &str = include_str!("../../../tests/reference/moon/profiles.csv");
const LIMITS: &str = include_str!("../../../tests/reference/moon/limits.csv");

type Row = BTreeMap<&'static str, &'static str>;

fn rows(text: &'static str) -> Vec<Row> {
    let mut lines = text.lines();
    let header: Vec<&'static str> = lines.next().unwrap().split(',').collect();
    lines.map(|line| header.iter().copied().zip(line.split(',')).collect()).collect()
}

fn number(row: &Row, name: &str) -> Option<f64> {
    let text = row[name];
    (!text.is_empty()).then(|| text.parse().unwrap_or_else(|_| panic!("{name}: {text}")))
}

fn eclipse(row: &Row) -> Eclipse {
    let delta_t = DeltaT::given(number(row, "delta_t_s").unwrap()).unwrap();
    let date = row["date"].parse().unwrap();
    Eclipse::on_date(Kernel::embedded(), date, Some(delta_t), &Conventions::default()).unwrap()
}

fn site(row: &Row) -> Site {
    let get = |name: &str| number(row, name).unwrap();
    Site::new(get("lat_deg"), get("lon_deg"), get("elevation_m")).unwrap()
}

/// Median, and the values below which 95 % and all of them lie.
fn spread(mut values: Vec<f64>) -> (f64, f64, f64) {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| values[((values.len() - 1) as f64 * share).round() as usize];
    (at(0.5), at(0.95), at(1.0))
}

/// Contacts: median within 0.03 s, 95 % within 0.15 s, worst within 0.4 s where at least 3 s of true totality remain;
/// libration within 0.02°; the points of last and first light, where the edge does not run level with the Sun's limb.
#[test]
fn contacts_and_librations_of_280_places() {
    let all = rows(CONTACTS);
    let dates: BTreeSet<&str> = all.iter().map(|row| row["date"]).collect();
    assert!(all.len() >= 250 && dates.len() >= 25, "{} places of {} eclipses", all.len(), dates.len());
    let heights = MoonHeights::embedded();
    let mut eclipses: BTreeMap<(&str, &str), Eclipse> = BTreeMap::new();
    let (mut off_s, mut turned_deg, mut angles_deg, mut wrong) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let (mut both, mut neither) = (0, 0);
    for row in &all {
        let eclipse = eclipses.entry((row["date"], row["delta_t_s"])).or_insert_with(|| eclipse(row));
        let settings = EdgeSettings { sun_radius_km: number(row, "sun_radius_km").unwrap(), ..EdgeSettings::default() };
        let found = EdgeSolver::new(heights).totality(eclipse, &site(row), &settings);
        let libration = eclipse.libration(&site(row), Tt(number(row, "max_tt").unwrap()));
        turned_deg.push((libration.lon_deg - number(row, "libration_lon_deg").unwrap()).abs());
        turned_deg.push((libration.lat_deg - number(row, "libration_lat_deg").unwrap()).abs());
        turned_deg.push(wrap_180(libration.axis_deg - number(row, "axis_deg").unwrap()).abs());
        let (c2, c3) = (number(row, "c2_tt"), number(row, "c3_tt"));
        let (Some(c2), Some(c3)) = (c2, c3) else {
            neither += 1;
            // Where totality is missed by less than a hundredth of an arcsecond either answer is right.
            if found.is_some() && number(row, "least_arcsec").is_some_and(|least| least > 0.01) {
                wrong.push(format!("totality where there is none: {row:?} {found:?}"));
            }
            continue;
        };
        let Some(found) = found else {
            if number(row, "least_arcsec").is_none_or(|least| least < -0.01) {
                wrong.push(format!("no totality where there is one: {row:?}"));
            }
            continue;
        };
        both += 1;
        if c3 - c2 < 3.0 {
            continue;
        }
        for (ours, theirs, angle) in [(found.c2, c2, "last_light_deg"), (found.c3, c3, "first_light_deg")] {
            let miss_s = (ours.tt.0 - theirs).abs();
            off_s.push(miss_s);
            if miss_s > 0.4 {
                wrong.push(format!("{angle} off by {miss_s:.3} s: {row:?} {ours:?}"));
            }
            angles_deg.push(wrap_180(ours.position_angle_deg - number(row, angle).unwrap()).abs());
        }
    }
    let (median, most, worst) = spread(off_s);
    let turned = spread(turned_deg).2;
    println!("{both} places with totality, {neither} without; contacts off by {median:.4} {most:.4} {worst:.4} s");
    println!("libration off by {turned:.4} deg at worst; points of light off by {:?} deg", spread(angles_deg.clone()));
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(median < 0.03 && most < 0.15 && worst < 0.4, "{median} {most} {worst}");
    assert!(turned < 0.02, "{turned}");
    assert!(spread(angles_deg).1 < 1.0, "the same valley in nineteen of twenty");
    assert!(both >= 150 && neither >= 20, "{both} {neither}");
}

/// The edge every degree from three quite different sides.
#[test]
fn edge_profiles_from_three_sides() {
    let mut by_site: BTreeMap<(&str, &str), Vec<Row>> = BTreeMap::new();
    for row in rows(PROFILES) {
        by_site.entry((row["date"], row["place"])).or_default().push(row);
    }
    assert!(by_site.len() >= 3, "{:?}", by_site.keys());
    let mut off_m = Vec::new();
    for of_site in by_site.values() {
        let first = &of_site[0];
        let (eclipse, tt) = (eclipse(first), Tt(number(first, "tt").unwrap()));
        const STEP_DEG: f64 = 0.02;
        let profile = eclipse.edge_profile(&site(first), MoonHeights::embedded(), tt, STEP_DEG);
        for row in of_site {
            let at = number(row, "angle_from_north_deg").unwrap().rem_euclid(360.0) / STEP_DEG;
            let (k, share) = (at.floor() as usize % profile.len(), at.fract());
            let (a, b) = (profile[k].height_km, profile[(k + 1) % profile.len()].height_km);
            let ours_km = a + share * (b - a);
            off_m.push(1000.0 * (1737.4 + ours_km - number(row, "edge_km").unwrap()).abs());
        }
    }
    let (median, most, worst) = spread(off_m);
    println!("edge off by {median:.1} {most:.1} {worst:.1} m");
    // Heights are packed to 2 m; the worst is the straight line between two directions 0.02° (600 m) apart.
    assert!(median < 10.0 && most < 60.0 && worst < 300.0, "{median} {most} {worst}");
}

/// The true limits on flat ground at 60 points of ten eclipses: within 100 m of each, along its meridian or parallel (so
/// across the limit by less), totality begins. Both the plain way and the lattice, which draws the lines, are held.
#[test]
fn true_limits_at_sixty_points() {
    const WITHIN_KM: f64 = 0.1;
    let all = rows(LIMITS);
    assert_eq!(all.len(), 60);
    let dates: BTreeSet<&str> = all.iter().map(|row| row["date"]).collect();
    let heights = MoonHeights::embedded();
    let (mut wrong, mut off_m) = (Vec::new(), Vec::new());
    for date in dates {
        let of_date: Vec<&Row> = all.iter().filter(|row| row["date"] == date).collect();
        let eclipse = eclipse(of_date[0]);
        let lattice = EdgeLattice::new(&eclipse, heights, &EdgeSettings::default());
        for row in of_date {
            let settings =
                EdgeSettings { sun_radius_km: number(row, "sun_radius_km").unwrap(), ..EdgeSettings::default() };
            let limit = GeoPoint::new(number(row, "lat_deg").unwrap(), number(row, "lon_deg").unwrap()).unwrap();
            let outwards_deg = outwards_deg(row, limit);
            let total = |km: f64| lattice.totality(&Site::at_sea_level(destination(limit, outwards_deg, km)));
            for km in [-WITHIN_KM, WITHIN_KM] {
                let site = Site::at_sea_level(destination(limit, outwards_deg, km));
                let plain = eclipse.true_totality(&site, heights, &settings);
                if plain.is_some() != (km < 0.0) || total(km).is_some() != (km < 0.0) {
                    wrong.push(format!("{km} km beyond: {:?} {:?} {row:?}", plain.is_some(), total(km).is_some()));
                }
            }
            let (mut inside, mut outside) = (-WITHIN_KM, WITHIN_KM);
            while outside - inside > 0.001 {
                let middle = 0.5 * (inside + outside);
                if total(middle).is_some() { inside = middle } else { outside = middle }
            }
            off_m.push(500.0 * (inside + outside).abs());
        }
    }
    let (median, most, worst) = spread(off_m);
    println!("limits off by {median:.0} {most:.0} {worst:.0} m along the meridian or parallel");
    assert!(wrong.is_empty(), "{} of 60:\n{}", wrong.len(), wrong.join("\n"));
}

/// Out of the path along the row's meridian or parallel: the way from the smooth limit to the true one, or back where that
/// lies within.
fn outwards_deg(row: &Row, limit: GeoPoint) -> f64 {
    let smooth = number(row, "smooth_limit_deg").unwrap();
    let (away_deg, bearings) = match row["line"] {
        "meridian" => (limit.lat_deg - smooth, [180.0, 0.0]),
        _ => (wrap_180(limit.lon_deg - smooth), [270.0, 90.0]),
    };
    bearings[usize::from(away_deg * number(row, "beyond_smooth_km").unwrap() > 0.0)]
}

/// The lines themselves pass within 100 m of the reference's points of 2028: the points of a line are some 15 km apart, and
/// between two of them it bends by some 20 m.
#[test]
fn the_lines_of_2028_pass_through_the_limits() {
    let of_2028: Vec<Row> = rows(LIMITS).into_iter().filter(|row| row["date"] == "2028-07-22").collect();
    assert_eq!(of_2028.len(), 6);
    let lines = eclipse(&of_2028[0]).true_limits(MoonHeights::embedded(), &EdgeSettings::default(), 20.0);
    for row in of_2028 {
        let point = GeoPoint::new(number(&row, "lat_deg").unwrap(), number(&row, "lon_deg").unwrap()).unwrap();
        let line = if row["side"] == "north" { &lines.north } else { &lines.south };
        let away_km = line.windows(2).map(|ends| away_km(point, ends)).fold(f64::INFINITY, f64::min);
        assert!(away_km < 0.1, "{away_km} {row:?}");
    }
}

/// Distance of a point from the straight line between two others some kilometres apart; without end beside it.
fn away_km(point: GeoPoint, ends: &[GeoPoint]) -> f64 {
    let (whole, part) = (distance_km(ends[0], ends[1]), distance_km(ends[0], point));
    let turn = (bearing_deg(ends[0], point) - bearing_deg(ends[0], ends[1])).to_radians();
    let along = part * turn.cos();
    if (-1.0..=whole + 1.0).contains(&along) { (part * turn.sin()).abs() } else { f64::INFINITY }
}
