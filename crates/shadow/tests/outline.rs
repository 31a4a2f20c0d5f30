//! The outline of the region that sees anything of an eclipse: limits of the partial eclipse, and the curves of
//! beginning, maximum and end at sunrise and sunset.
//!
//! Every point is held against the local circumstances of its place, which are themselves held against a rigorous
//! computation (`tests/reference.rs`); and the pieces against each other: together they must leave no gap.

#![allow(clippy::unwrap_used)]

use noonfall_ephemeris::{GeoPoint, Kernel, Tt};
use noonfall_shadow::geodesy::{bearing_deg, destination, distance_km, distance_to_line_km};
use noonfall_shadow::umbral_limits::Side;
use noonfall_shadow::{
    Contact, Conventions, Eclipse, HorizonCrossing, HorizonEvent, Kind, PenumbralLimit, Phase, RiseSetCurve, Site,
    catalogue,
};
use rayon::prelude::*;
use std::sync::LazyLock;

/// An eclipse with its outline.
struct Outline {
    eclipse: Eclipse,
    limits: Vec<PenumbralLimit>,
    curves: Vec<RiseSetCurve>,
}

/// One eclipse in nineteen, all kinds among them.
static SOME: LazyLock<Vec<Outline>> = LazyLock::new(|| {
    let all = catalogue::list(Kernel::embedded(), 1900, 2100, None, &Conventions::default()).unwrap();
    let some = all.into_par_iter().step_by(19);
    some.map(|eclipse| Outline { limits: eclipse.penumbral_limits(), curves: eclipse.rise_set_curves(), eclipse })
        .collect()
});

fn eclipse(date: &str) -> Eclipse {
    Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
}

fn local(eclipse: &Eclipse, point: GeoPoint) -> noonfall_shadow::LocalCircumstances {
    eclipse.local(&Site::at_sea_level(point))
}

fn ends(points: &[(Tt, GeoPoint)]) -> [GeoPoint; 2] {
    [points[0].1, points[points.len() - 1].1]
}

fn of(curve: &RiseSetCurve, local: &noonfall_shadow::LocalCircumstances) -> Option<Contact> {
    match curve.event {
        HorizonEvent::Begins => local.c1,
        HorizonEvent::Maximum => local.max,
        HorizonEvent::Ends => local.c4,
    }
}

/// On a curve the Sun's centre is level at the very contact, and it rises or sets as the curve says.
///
/// Measured: the contact within 24 µs, the altitude within 1e-7°.
#[test]
fn on_the_curves_the_sun_is_on_the_horizon_at_the_contact() {
    let mut checked = 0;
    for Outline { eclipse, curves, .. } in SOME.iter() {
        assert!(!curves.is_empty(), "{}", eclipse.date());
        for curve in curves {
            for &(tt, point) in curve.points.iter().step_by(7) {
                let local = local(eclipse, point);
                let place = format!("{} {:?} {:?} {point:?}", eclipse.date(), curve.event, curve.crossing);
                if local.magnitude < 1e-4 {
                    // Where beginning and end meet, rounding decides whether there is an eclipse at all.
                    continue;
                }
                let contact = of(curve, &local).unwrap_or_else(|| panic!("{place}: no contact"));
                assert!((contact.tt - tt).abs() < 1e-4, "{place}: {}", contact.tt - tt);
                assert!(contact.sun_altitude_deg.abs() < 1e-6, "{place}: {}", contact.sun_altitude_deg);
                let site = Site::at_sea_level(point);
                let climb = eclipse.view(&site, tt.plus(30.0)).sun_altitude_deg
                    - eclipse.view(&site, tt.plus(-30.0)).sun_altitude_deg;
                // Where the Sun only touches the horizon it does neither.
                if climb.abs() > 1e-4 {
                    assert_eq!(climb > 0.0, curve.crossing == HorizonCrossing::Sunrise, "{place}: {climb}");
                }
                checked += 1;
            }
        }
    }
    assert!(checked > 2000, "{checked}");
}

/// On a limit the magnitude is nought at its greatest, the Sun being up; on one side of it there is a partial eclipse, on
/// the other nothing. Measured: the discs touch within 3e-9″.
#[test]
fn on_the_limits_the_magnitude_is_nought() {
    let mut checked = 0;
    for Outline { eclipse, limits, .. } in SOME.iter() {
        assert!(!limits.is_empty(), "{}", eclipse.date());
        for limit in limits {
            for (k, pair) in limit.points.windows(2).enumerate().step_by(11) {
                let (tt, point) = pair[0];
                let place = format!("{} {:?} {point:?}", eclipse.date(), limit.side);
                let view = eclipse.view(&Site::at_sea_level(point), tt);
                let gap_arcsec = view.separation_arcsec - view.sun_radius_arcsec - view.moon_radius_exterior_arcsec;
                assert!(gap_arcsec.abs() < 1e-8, "{place}: {gap_arcsec}″");
                assert!(view.sun_altitude_deg > -1e-5, "{place}: {}", view.sun_altitude_deg);
                if k == 0 || k + 2 == limit.points.len() || distance_km(point, pair[1].1) < 1.0 {
                    continue;
                }
                // A kilometre to either side of the line.
                let along = bearing_deg(point, pair[1].1);
                let magnitudes =
                    [90.0, -90.0].map(|turn| local(eclipse, destination(point, along + turn, 1.0)).magnitude);
                assert!(
                    magnitudes[0].max(magnitudes[1]) > 0.0 && magnitudes[0].min(magnitudes[1]) == 0.0,
                    "{place}: {magnitudes:?}"
                );
                checked += 1;
            }
        }
    }
    assert!(checked > 350, "{checked}");
}

/// A limit begins and ends where the curves of beginning and end at sunrise or sunset meet: nothing is left open.
#[test]
fn the_pieces_of_the_outline_meet() {
    for Outline { eclipse, limits, curves } in SOME.iter() {
        let corners: Vec<GeoPoint> =
            curves.iter().filter(|c| c.event != HorizonEvent::Maximum).flat_map(|c| ends(&c.points)).collect();
        for end in limits.iter().flat_map(|l| ends(&l.points)) {
            let meeting = corners.iter().filter(|&&corner| distance_km(end, corner) < 0.05).count();
            // Two; more where a piece in between is metres long, as on 1965-11-23 where the Sun only touches the horizon.
            assert!(meeting >= 2, "{}: {end:?} {meeting}", eclipse.date());
        }
        // Beginning and end follow each other without a gap; every end of a piece is the end of another.
        for (k, &corner) in corners.iter().enumerate() {
            let other = corners.iter().enumerate().filter(|&(j, _)| j != k);
            let nearest = other.map(|(_, &c)| distance_km(corner, c)).fold(f64::INFINITY, f64::min);
            assert!(nearest < 0.05, "{}: {corner:?} {nearest}", eclipse.date());
        }
        // The line of maximum runs from corner to corner, or through a point where rising turns into setting. Least
        // separation and deepest immersion are seconds apart: kilometres on the ground.
        for end in curves.iter().filter(|c| c.event == HorizonEvent::Maximum).flat_map(|c| ends(&c.points)) {
            let maxima = curves.iter().filter(|c| c.event == HorizonEvent::Maximum).flat_map(|c| ends(&c.points));
            let nearest_corner = corners.iter().map(|&c| distance_km(end, c)).fold(f64::INFINITY, f64::min);
            let turning = maxima.filter(|&c| distance_km(end, c) < 0.05).count() > 1;
            assert!(nearest_corner < 30.0 || turning, "{}: {end:?} {nearest_corner}", eclipse.date());
        }
    }
}

/// The penumbra's first and last touch of the Earth: no place has its first contact before, or its fourth after.
#[test]
fn nothing_is_seen_outside_the_penumbral_span() {
    for date in ["1991-01-15", "1935-01-05", "2028-07-22"] {
        let eclipse = eclipse(date);
        let (first, last) = eclipse.penumbral_span().unwrap();
        let (mut earliest, mut latest) = (f64::INFINITY, f64::NEG_INFINITY);
        for curve in eclipse.rise_set_curves() {
            for (tt, _) in curve.points {
                (earliest, latest) = (earliest.min(tt.0), latest.max(tt.0));
            }
        }
        // Where the penumbra first touches, its edge and the terminator touch each other; the curve's nearest vertex may
        // lie some kilometres away, in a barest eclipse seconds later.
        assert!((-0.01..10.0).contains(&(earliest - first.0)), "{date}: {}", earliest - first.0);
        assert!((-0.01..10.0).contains(&(last.0 - latest)), "{date}: {}", last.0 - latest);
    }
}

/// Published global circumstances, from memory: the partial eclipse of 2017-08-21 begins on the Earth at 15:46:48 UT and
/// ends at 21:04:19 UT (another ephemeris, a spherical reduction for the flattening; ours is 3.8 s later at the end).
#[test]
fn the_penumbral_span_is_the_published_one() {
    let (first, last) = eclipse("2017-08-21").penumbral_span().unwrap();
    for (tt, published) in [(first, "2017-08-21T15:46:48Z"), (last, "2017-08-21T21:04:19Z")] {
        let late_s = tt - Tt::from_utc(published.parse().unwrap());
        assert!(late_s.abs() < 5.0, "{published}: {late_s}");
    }
}

/// The shape follows from the distance of the axis: a penumbra that comes to lie wholly on the Earth has two limits and
/// two closed lobes; one that does not has one limit, on the side away from the pole that it passes.
#[test]
fn the_number_of_limits_follows_from_gamma() {
    for (date, sides) in [
        ("1919-05-29", vec![Side::North, Side::South]),
        ("2028-07-22", vec![Side::North]),
        ("2027-08-02", vec![Side::North, Side::South]),
        ("2024-04-08", vec![Side::South, Side::North]),
        ("2025-03-29", vec![Side::South]),
        ("2011-07-01", vec![Side::North]),
    ] {
        let eclipse = eclipse(date);
        let mut found: Vec<Side> = eclipse.penumbral_limits().iter().map(|l| l.side).collect();
        found.sort_by_key(|&side| side != sides[0]);
        assert_eq!(found, sides, "{date}");
        assert_eq!(eclipse.kind() == Kind::Partial, eclipse.greatest().gamma.abs() > 1.0, "{date}");
    }
    assert_eq!(local(&eclipse("2028-07-22"), GeoPoint { lat_deg: 60.0, lon_deg: 0.0 }).phase, Phase::None);
}

/// The independent computation of `tests/reference/penumbral_outline.py`: topocentric Sun and Moon, no cones.
///
/// Measured: its points lie within 0.16 km of our lines, which is the sagitta of chords of up to 100 km; at the very
/// points the discs touch within 4e-5″, contacts agree within 1.4 ms and the Sun is level within 4e-6°.
#[test]
fn the_outline_is_where_rigorous_topocentric_geometry_has_it() {
    let path: std::path::PathBuf =
        [env!("CARGO_MANIFEST_DIR"), "../../tests/reference/penumbral_outline.csv"].iter().collect();
    let mut outlines: std::collections::BTreeMap<String, Outline> = std::collections::BTreeMap::new();
    let mut checked = std::collections::BTreeMap::<String, usize>::new();
    let mut worst = [0.0_f64; 4];
    for row in csv::Reader::from_path(path).unwrap().records() {
        let row = row.unwrap();
        let number = |k: usize| row[k].parse::<f64>().unwrap();
        let (date, curve, kind) = (&row[0], &row[2], &row[3]);
        let (place, tt) = (GeoPoint::new(number(4), number(5)).unwrap(), Tt(number(6)));
        let outline = outlines.entry(date.to_owned()).or_insert_with(|| {
            let delta_t = noonfall_ephemeris::DeltaT::given(number(1)).unwrap();
            let eclipse = eclipse(date).with_delta_t(delta_t);
            Outline { limits: eclipse.penumbral_limits(), curves: eclipse.rise_set_curves(), eclipse }
        });
        let lines: Vec<&Vec<(Tt, GeoPoint)>> = if curve == "limit" {
            let side = if kind == "north" { Side::North } else { Side::South };
            outline.limits.iter().filter(|l| l.side == side).map(|l| &l.points).collect()
        } else {
            let same = |c: &&RiseSetCurve| c.event.to_string() == curve && c.crossing.to_string() == kind;
            outline.curves.iter().filter(same).map(|c| &c.points).collect()
        };
        let away_km = lines
            .iter()
            .map(|line| distance_to_line_km(place, &line.iter().map(|&(_, p)| p).collect::<Vec<_>>()))
            .fold(f64::INFINITY, f64::min);
        worst[0] = worst[0].max(away_km);
        let site = Site::at_sea_level(place);
        if curve == "limit" {
            let view = outline.eclipse.view(&site, tt);
            let gap = view.separation_arcsec - view.sun_radius_arcsec - view.moon_radius_exterior_arcsec;
            worst[1] = worst[1].max(gap.abs());
        } else {
            let local = outline.eclipse.local(&site);
            let contact = match curve {
                "begins" => local.c1,
                "ends" => local.c4,
                _ => local.max,
            };
            let contact = contact.unwrap();
            worst[2] = worst[2].max((contact.tt - tt).abs());
            worst[3] = worst[3].max(contact.sun_altitude_deg.abs());
        }
        *checked.entry(curve.to_owned()).or_default() += 1;
    }
    let [away_km, gap_arcsec, late_s, altitude_deg] = worst;
    assert!(away_km < 0.25, "{away_km} km");
    assert!(gap_arcsec < 1e-4, "{gap_arcsec}″");
    assert!(late_s < 0.003, "{late_s} s");
    assert!(altitude_deg < 1e-5, "{altitude_deg}°");
    assert!(
        ["limit", "begins", "maximum", "ends"].iter().all(|&c| checked.get(c).is_some_and(|&n| n >= 10)),
        "{checked:?}"
    );
}
