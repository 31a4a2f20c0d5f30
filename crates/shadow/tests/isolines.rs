//! Isolines: every point is held against the local circumstances of its place, and the lines as a whole against what is
//! known of their shape.

#![allow(clippy::unwrap_used)]

use noonfall_ephemeris::{GeoPoint, Kernel, Tt};
use noonfall_shadow::geodesy::distance_km;
use noonfall_shadow::{Conventions, Eclipse, Isoline, LocalCircumstances, Phase, Quantity, Site};
use rayon::prelude::*;
use std::sync::LazyLock;

fn eclipse(date: &str) -> Eclipse {
    Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
}

fn local(eclipse: &Eclipse, point: GeoPoint) -> LocalCircumstances {
    eclipse.local(&Site::at_sea_level(point))
}

fn usual(eclipse: &Eclipse, quantity: Quantity) -> Vec<Isoline> {
    eclipse.isolines(quantity, &eclipse.usual_isoline_values(quantity))
}

const DATES: [&str; 7] = [
    "2028-07-22", // total, one penumbral limit
    "2027-08-02", // total, long, two penumbral limits
    "2033-03-30", // total, polar, wide
    "2012-11-13", // over the date line
    "2023-04-20", // hybrid
    "2014-04-29", // annular, non-central
    "2025-03-29", // partial
];

/// All usual lines of those eclipses.
static LINES: LazyLock<Vec<(Eclipse, Vec<Isoline>)>> = LazyLock::new(|| {
    let lines = |date| {
        let eclipse = eclipse(date);
        let lines = Quantity::ALL.into_iter().flat_map(|quantity| usual(&eclipse, quantity)).collect();
        (eclipse, lines)
    };
    DATES.into_par_iter().map(lines).collect()
});

/// Where the Sun is all but set, a double's 1e-7 s of the century is metres on the ground and half a millisecond of
/// duration; elsewhere the point is exact.
#[test]
fn every_point_has_the_value() {
    let mut checked = [0; 4];
    for (eclipse, lines) in LINES.iter() {
        let date = eclipse.date();
        for Isoline { quantity, value, lines } in lines {
            for &point in lines.iter().flatten().step_by(5) {
                let found = local(eclipse, point);
                let max = found.max.unwrap();
                let (k, here, tolerance) = match quantity {
                    Quantity::Duration if max.sun_altitude_deg < 0.5 => (0, found.duration_s, 2e-3),
                    Quantity::Duration => (0, found.duration_s, 1e-5),
                    Quantity::SunAltitude => (1, max.sun_altitude_deg, 1e-6),
                    Quantity::Obscuration => (2, found.obscuration, 1e-8),
                    Quantity::Maximum => (3, max.tt.0, 1e-3),
                };
                assert!((here - value).abs() < tolerance, "{date} {quantity} {value}: {here} at {point:?}");
                assert!(max.sun_altitude_deg > -1e-4, "{date} {quantity} {value}: {point:?}");
                checked[k] += 1;
            }
        }
    }
    assert!(checked.iter().all(|&n| n > 150), "{checked:?}");
}

#[test]
fn lines_run_on_without_a_jump() {
    for (eclipse, lines) in LINES.iter() {
        for isoline in lines {
            for line in &isoline.lines {
                let widest = line.windows(2).map(|w| distance_km(w[0], w[1])).fold(0.0, f64::max);
                assert!(widest < 130.0, "{} {} {}: {widest} km", eclipse.date(), isoline.quantity, isoline.value);
            }
        }
    }
}

/// Nested lines of duration: a longer totality is enclosed by a shorter one, and the longest value below the maximum has
/// a closed line about the point of greatest duration.
#[test]
fn lines_of_duration_lie_inside_the_path_and_about_the_longest() {
    let eclipse = eclipse("2028-07-22");
    let lines = eclipse.isolines(Quantity::Duration, &[60.0, 300.0, 309.0, 400.0]);
    assert_eq!(lines.len(), 4);
    // The path touches sunrise and sunset: a short duration has its lines left and right, ending there.
    assert_eq!(lines[0].lines.len(), 2);
    assert!(lines[0].lines.iter().all(|l| l.first() != l.last()));
    assert!(lines[3].lines.is_empty(), "nowhere is totality that long");
    assert_eq!(lines[2].lines.len(), 1);
    let ring = &lines[2].lines[0];
    assert_eq!(ring.first(), ring.last());
    // NASA/TP-2006-214141: greatest eclipse at 15.6° S, 126.7° E; the longest totality is within tens of kilometres.
    let reach = ring.iter().map(|&p| distance_km(p, GeoPoint { lat_deg: -15.6, lon_deg: 126.7 })).fold(0.0, f64::max);
    assert!(reach < 1500.0, "{reach}");
    let inside = ring.iter().all(|&p| local(&eclipse, p).phase == Phase::Total);
    assert!(inside);
    let length =
        |i: &Isoline| -> f64 { i.lines.iter().flat_map(|l| l.windows(2)).map(|w| distance_km(w[0], w[1])).sum() };
    assert!(length(&lines[0]) > length(&lines[1]) && length(&lines[1]) > length(&lines[2]));
}

#[test]
fn the_usual_values_are_round_and_within_reach() {
    let e = eclipse("2028-07-22");
    assert_eq!(e.usual_isoline_values(Quantity::Duration), (1..=10).map(|k| 30.0 * f64::from(k)).collect::<Vec<_>>());
    let times = e.usual_isoline_values(Quantity::Maximum);
    assert_eq!(Tt(times[0]).to_utc().to_rfc3339(), "2028-07-22T00:30:00+00:00");
    assert_eq!(Tt(times[times.len() - 1]).to_utc().to_rfc3339(), "2028-07-22T05:00:00+00:00");
    assert!(eclipse("2025-03-29").usual_isoline_values(Quantity::Duration).is_empty());
    assert!("width".parse::<Quantity>().unwrap_err().contains("duration, altitude, obscuration or time"));
    assert!(Quantity::ALL.into_iter().all(|q| q.name().parse() == Ok(q)));
}

#[test]
fn absurd_values_give_no_lines() {
    let eclipse = eclipse("2028-07-22");
    for quantity in Quantity::ALL {
        for value in [f64::NAN, f64::INFINITY, -1e300, -1.0, 1e300] {
            let found = eclipse.isolines(quantity, &[value]);
            assert!(found[0].lines.is_empty(), "{quantity} {value}");
        }
    }
}
