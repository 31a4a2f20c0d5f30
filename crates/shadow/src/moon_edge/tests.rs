//! True contacts against an independent program, and against Moons made up so that the answer is known.

use super::orientation::MoonAxes;
use super::sky::Sight;
use super::true_contacts::Scene;
use super::*;
use crate::{Conventions, Eclipse, Site};
use noonfall_ephemeris::angle::wrap_180;
use noonfall_ephemeris::vector::dot;
use noonfall_ephemeris::{DeltaT, GeoPoint, Kernel, Tt};

fn eclipse_with(date: &str, delta_t_s: f64, conventions: &Conventions) -> Eclipse {
    let delta_t = DeltaT::given(delta_t_s).unwrap();
    Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), Some(delta_t), conventions).unwrap()
}

fn eclipse_of_2028() -> Eclipse {
    eclipse_with("2028-07-22", 69.49, &Conventions::default())
}

fn sydney() -> Site {
    Site::new(-33.8688, 151.2093, 20.0).unwrap()
}

/// Latitude, longitude, height; libration; C2 and C3 after the smooth contacts with 959.63″ and with 959.95″; position
/// angles of last and first light.
type Row = (&'static str, [f64; 3], [f64; 3], [f64; 4], [f64; 2]);

/// LDEM_16 read by an independent program: DE440, ERFA `c2t06a`, bilinear, sampled by 0.05° along the edge and across.
/// Position angles are about the Moon's centre and from the north of ICRF.
const WORKED: [Row; 5] = [
    ("Wyndham", [-15.4869, 128.1243, 4.0], [-3.343, 0.171, 10.515], [-1.80, -5.79, -0.29, -7.00], [64.1, 342.5]),
    ("Kununurra", [-15.7782, 128.7421, 45.0], [-3.361, 0.171, 10.515], [-1.12, -3.37, 0.39, -4.89], [64.1, 353.7]),
    ("Bedourie", [-24.3461, 139.46, 91.0], [-3.657, 0.164, 10.525], [-0.59, 0.49, 0.23, -0.33], [117.2, 314.9]),
    ("Sydney", [-33.8688, 151.2093, 20.0], [-3.870, 0.161, 10.532], [2.89, -1.34, 3.61, -2.05], [120.3, 300.0]),
    ("Dunedin", [-45.8742, 170.5036, 1.0], [-4.004, 0.162, 10.535], [2.10, -1.18, 2.71, -1.79], [120.2, 300.0]),
];

/// Tolerances: 0.075 s, of which nearly all is the other program's sampling (no point nearer than 0.025° to the bottom of
/// a valley, nor to the top of a ridge). Librations: 0.006°, the aberration of 20″ that the other program leaves out.
/// Angle of the axis: 0.15°, equator of date against ICRF. Directions: 0.9°, about the Sun's centre and from the north of
/// date here.
#[test]
fn the_eclipse_of_2028_against_an_independent_program() {
    let eclipse = eclipse_of_2028();
    let mut apart = Vec::new();
    for (name, [lat, lon, elevation], libration, shifts, angles) in WORKED {
        let site = Site::new(lat, lon, elevation).unwrap();
        let smooth = eclipse.quick(&site);
        let mut solver = EdgeSolver::new(MoonHeights::embedded());
        for (radius_km, expected) in [(695_989.0, &shifts[..2]), (SUN_RADIUS_KM, &shifts[2..])] {
            let settings = EdgeSettings { sun_radius_km: radius_km, ..EdgeSettings::default() };
            let found = solver.totality(&eclipse, &site, &settings).unwrap();
            let shift = [found.c2.tt - smooth.c2.unwrap(), found.c3.tt - smooth.c3.unwrap()];
            for (found, expected) in shift.iter().zip(expected) {
                assert!((found - expected).abs() < 0.075, "{name}: {found} {expected}");
                apart.push((found - expected).abs());
            }
            for (contact, expected) in [found.c2, found.c3].iter().zip(angles) {
                assert!(wrap_180(contact.position_angle_deg - expected).abs() < 0.9, "{name}: {contact:?} {expected}");
                assert!(contact.uncovering_arcsec_per_s > 0.15 && contact.uncovering_arcsec_per_s < 0.55);
            }
            let Libration { lon_deg, lat_deg, axis_deg } = found.libration;
            assert!((lon_deg - libration[0]).abs() < 0.006, "{name}: {lon_deg}");
            assert!((lat_deg - libration[1]).abs() < 0.002, "{name}: {lat_deg}");
            assert!((axis_deg - libration[2] - 0.146).abs() < 0.003, "{name}: {axis_deg}");
            assert_eq!(found.duration_s, found.c3.tt - found.c2.tt);
        }
    }
    apart.sort_by(f64::total_cmp);
    assert!(apart[apart.len() / 2] < 0.035, "median {}", apart[apart.len() / 2]);
}

/// How Sydney sees the Moon at the smooth second contact.
fn sight_at(eclipse: &Eclipse, site: &Site, tt: Tt) -> Sight {
    Scene::new(eclipse, site, &MoonAxes::of(eclipse.elements())).sky(tt).sight
}

/// A Moon whose height depends on the position angle alone, as seen from a sight.
fn moon_by_angle(
    sight: Sight,
    range_m: [f64; 2],
    height_m: impl Fn(f64) -> f64 + Send + Sync + 'static,
) -> MoonHeights {
    MoonHeights::made_up(16, range_m[0], range_m[1], move |lat_deg, lon_deg| {
        let n = GeoPoint { lat_deg, lon_deg }.direction();
        height_m(dot(n, sight.east).atan2(dot(n, sight.north)).to_degrees())
    })
}

/// A smooth Moon of some height, handled by the classical contacts with that radius.
fn smooth_eclipse(height_km: f64, sun_radius_km: f64) -> Eclipse {
    let moon_k_interior = (1737.4 + height_km) / 6378.137;
    eclipse_with("2028-07-22", 69.49, &Conventions { moon_k_interior, sun_radius_km, ..Conventions::default() })
}

#[test]
fn a_smooth_moon_gives_the_classical_contacts() {
    let smooth = smooth_eclipse(1.0, SUN_RADIUS_KM);
    let heights = MoonHeights::made_up(16, 1000.0, 1000.0, |_, _| 1000.0);
    for site in [sydney(), Site::new(-15.7782, 128.7421, 45.0).unwrap()] {
        let (local, found) =
            (smooth.local(&site), smooth.true_totality(&site, &heights, &EdgeSettings::default()).unwrap());
        for (classical, found) in [(local.c2.unwrap(), found.c2), (local.c3.unwrap(), found.c3)] {
            assert!((found.tt - classical.tt).abs() < 1e-3, "{}", found.tt - classical.tt);
            // The directions are sampled by 0.03°, and the widest gap is flat.
            assert!(
                wrap_180(found.position_angle_deg - classical.position_angle_deg).abs() < 0.05,
                "{found:?} {classical:?}"
            );
            assert!(wrap_180(found.vertex_angle_deg - classical.vertex_angle_deg).abs() < 0.05);
        }
    }
}

/// A valley one degree wide and 2 km deep where the last light goes out: contact as with a smooth Moon 2 km smaller. The
/// third contact, far from it, stays.
#[test]
fn one_valley_holds_the_light_as_long_as_a_smaller_moon() {
    let (large, small) = (smooth_eclipse(0.0, SUN_RADIUS_KM), smooth_eclipse(-2.0, SUN_RADIUS_KM));
    let expected = small.local(&sydney()).c2.unwrap();
    let (tt, at_deg) = (expected.tt, expected.position_angle_deg);
    let heights = moon_by_angle(sight_at(&large, &sydney(), tt), [-2000.0, 0.0], move |angle_deg| {
        if wrap_180(angle_deg - at_deg).abs() < 0.5 { -2000.0 } else { 0.0 }
    });
    let found = large.true_totality(&sydney(), &heights, &EdgeSettings::default()).unwrap();
    assert!((found.c2.tt - tt).abs() < 2e-3, "{}", found.c2.tt - tt);
    assert!(tt - large.quick(&sydney()).c2.unwrap() > 1.0);
    assert!((found.c3.tt - large.quick(&sydney()).c3.unwrap()).abs() < 2e-3);
}

/// Separation and radii as the plain view has them, arcseconds: how far the Sun reaches beyond a smooth Moon, in the plane,
/// at an angle from the direction of the Sun's centre.
fn reach_in_plane(eclipse: &Eclipse, tt: Tt, sun_position_angle_deg: &mut f64, angle_deg: f64) -> (f64, f64) {
    let view = eclipse.view(&sydney(), tt);
    *sun_position_angle_deg = view.moon_position_angle_deg + 180.0;
    let (sin, cos) = (angle_deg - *sun_position_angle_deg).to_radians().sin_cos();
    let (d, s) = (view.separation_arcsec, view.sun_radius_arcsec);
    let arcsec_per_km = view.moon_radius_interior_arcsec / (eclipse.conventions().moon_k_interior * 6378.137);
    (d * cos + (s * s - d * d * sin * sin).sqrt(), arcsec_per_km)
}

/// First instant about a guess at which no direction has light left, by bisection over a fine sweep of directions.
fn last_light(eclipse: &Eclipse, guess: Tt, height_km: impl Fn(f64) -> f64) -> Tt {
    let lit = |tt: Tt| {
        let mut sun_deg = 0.0;
        (0..36_000).any(|k| {
            let angle_deg = f64::from(k) * 0.01;
            let (reach, arcsec_per_km) = reach_in_plane(eclipse, tt, &mut sun_deg, angle_deg);
            reach > (1737.4 + height_km(angle_deg)) * arcsec_per_km
        })
    };
    let (mut low, mut high) = (guess.plus(-20.0), guess.plus(20.0));
    assert!(lit(low) && !lit(high));
    for _ in 0..16 {
        let middle = low.plus(0.5 * (high - low));
        if lit(middle) { low = middle } else { high = middle }
    }
    low
}

/// A mountain of 8 km over forty degrees about the smooth contact: the last light stands beside it.
#[test]
fn one_mountain_puts_out_the_light_before_it() {
    let eclipse = smooth_eclipse(0.0, SUN_RADIUS_KM);
    let smooth = eclipse.local(&sydney()).c2.unwrap();
    let at_deg = smooth.position_angle_deg;
    let height_m = move |angle_deg: f64| if wrap_180(angle_deg - at_deg).abs() < 20.0 { 8000.0 } else { 0.0 };
    let heights = moon_by_angle(sight_at(&eclipse, &sydney(), smooth.tt), [0.0, 8000.0], height_m);
    let found = eclipse.true_totality(&sydney(), &heights, &EdgeSettings::default()).unwrap();
    let expected = last_light(&eclipse, smooth.tt, |angle_deg| height_m(angle_deg) / 1000.0);
    // The mountain's side takes one or two pixels, 0.06° to 0.12° of the edge, at 0.3″ a degree.
    assert!((found.c2.tt - expected).abs() < 0.1, "{}", found.c2.tt - expected);
    assert!(found.c2.tt - smooth.tt < -1.0);
    let aside = wrap_180(found.c2.position_angle_deg - at_deg).abs();
    assert!((19.5..24.0).contains(&aside), "{aside}");
}

/// A belt of hills, a cosine along the edge: 24 waves of 1 km.
#[test]
fn a_cosine_belt() {
    let eclipse = smooth_eclipse(0.0, SUN_RADIUS_KM);
    let smooth = eclipse.local(&sydney()).c2.unwrap();
    let height_m = |angle_deg: f64| 1000.0 * (24.0 * angle_deg).to_radians().cos();
    let heights = moon_by_angle(sight_at(&eclipse, &sydney(), smooth.tt), [-1000.0, 1000.0], height_m);
    let found = eclipse.true_totality(&sydney(), &heights, &EdgeSettings::default()).unwrap();
    let expected = last_light(&eclipse, smooth.tt, |angle_deg| height_m(angle_deg) / 1000.0);
    // Whole metres of height, and what bilinear pixels leave of a wave of 15°.
    assert!((found.c2.tt - expected).abs() < 5e-3, "{}", found.c2.tt - expected);
}

#[test]
fn a_lower_edge_or_a_larger_sun_shortens_totality_until_none_is_left() {
    let eclipse = eclipse_of_2028();
    let mut solver = EdgeSolver::new(MoonHeights::embedded());
    let mut before = f64::INFINITY;
    for lowered_arcsec in [-1.0, 0.0, 1.0, 5.0] {
        let settings = EdgeSettings { lowered_arcsec, ..EdgeSettings::default() };
        let found = solver.totality(&eclipse, &sydney(), &settings).unwrap();
        assert!(found.duration_s < before - 1.0);
        before = found.duration_s;
    }
    let settings = EdgeSettings { lowered_arcsec: 60.0, ..EdgeSettings::default() };
    assert_eq!(solver.totality(&eclipse, &sydney(), &settings), None);
    let layer = EdgeSettings { sun_radius_km: SUN_RADIUS_KM + 2500.0, ..EdgeSettings::default() };
    // 2500 km is 3.4″ at the Sun, and the edge passes over them at 0.42″/s.
    let covered = solver.totality(&eclipse, &sydney(), &layer).unwrap();
    let bare = solver.totality(&eclipse, &sydney(), &EdgeSettings::default()).unwrap();
    let later = covered.c2.tt - bare.c2.tt;
    assert!((6.0..9.5).contains(&later), "{later}");
}

#[test]
fn only_directions_that_count_are_asked() {
    let eclipse = eclipse_of_2028();
    let mut solver = EdgeSolver::new(MoonHeights::embedded());
    let all = solver.totality(&eclipse, &sydney(), &EdgeSettings::default()).unwrap();
    let towards = |deg: f64| EdgeSettings { facing: Some((deg, 35.0)), ..EdgeSettings::default() };
    let about_c2 = solver.totality(&eclipse, &sydney(), &towards(all.c2.position_angle_deg)).unwrap();
    assert!((about_c2.c2.tt - all.c2.tt).abs() < 1e-4);
    // On that side the Sun stays covered long after it has come out on the other.
    assert!(about_c2.c3.tt - all.c3.tt > 60.0);
    let away = solver.totality(&eclipse, &sydney(), &towards(all.c2.position_angle_deg + 90.0)).unwrap();
    assert!(away.c2.tt - all.c2.tt < -1.0);
    for found in [about_c2, away] {
        for c in [found.c2, found.c3] {
            assert!(c.tt.0.is_finite() && c.position_angle_deg.is_finite() && c.vertex_angle_deg.is_finite());
        }
    }
}

/// Twice as many directions, and a profile of its own for every instant, move no contact by more than 0.02 s; what a
/// solver has learnt near by moves none by more than 0.005″.
#[test]
fn sampling_is_fine_enough_and_profiles_may_be_used_again() {
    let eclipse = eclipse_of_2028();
    let mut solver = EdgeSolver::new(MoonHeights::embedded());
    let near_two_places = [
        (-15.7782, 128.7421),
        (-15.78, 128.75),
        (-15.9, 128.8),
        (-15.7, 128.65),
        (-33.8688, 151.2093),
        (-33.87, 151.21),
        (-33.95, 151.2),
        (-33.75, 151.1),
    ];
    for (lat, lon) in near_two_places {
        let site = Site::new(lat, lon, 30.0).unwrap();
        let again = solver.totality(&eclipse, &site, &EdgeSettings::default()).unwrap();
        let plain = eclipse.true_totality(&site, MoonHeights::embedded(), &EdgeSettings::default()).unwrap();
        let fine =
            EdgeSolver::finer(MoonHeights::embedded()).totality(&eclipse, &site, &EdgeSettings::default()).unwrap();
        for ((again, plain), fine) in [(again.c2, plain.c2), (again.c3, plain.c3)].into_iter().zip([fine.c2, fine.c3]) {
            let (reused, halved) = (again.tt - plain.tt, fine.tt - plain.tt);
            assert!((reused * plain.uncovering_arcsec_per_s).abs() < 0.005, "{lat} {lon}: {reused} s");
            assert!(halved.abs() < 0.02, "{lat} {lon}: {halved} s");
        }
    }
}

/// From the middle of the path out to the limit and beyond: totality shrinks to nothing, and no place has a contact that
/// is not one.
#[test]
fn across_the_path_to_where_nothing_is_left() {
    let eclipse = eclipse_of_2028();
    let mut solver = EdgeSolver::new(MoonHeights::embedded());
    let mut ended = 0;
    let mut shortest = f64::INFINITY;
    for k in 0..60 {
        let site = Site::new(-33.0 + 0.05 * f64::from(k), 151.2093, 0.0).unwrap();
        match solver.totality(&eclipse, &site, &EdgeSettings::default()) {
            Some(found) => {
                assert_eq!(ended, 0, "totality again beyond the limit");
                assert!(found.duration_s > 0.0 && found.duration_s < 240.0);
                assert!(found.c2.uncovering_arcsec_per_s > 0.0 && found.c3.uncovering_arcsec_per_s > 0.0);
                shortest = shortest.min(found.duration_s);
            }
            None => ended += 1,
        }
        let smooth = eclipse.quick(&site).duration_s;
        if smooth == 0.0 && ended > 5 {
            break;
        }
    }
    assert!(shortest < 40.0 && ended > 0, "{shortest} {ended}");
}

/// What 70 places of 21 total eclipses chosen at random had to say, by an independent program: second contact −3.0 to
/// +4.4 s from the smooth one with 959.63″, third −11.4 to +0.2 s, of which the middle half −1.0 to +1.0 and −3.6 to −1.7.
/// Here other places: near the central lines of six eclipses, ΔT 60 s.
#[test]
fn contacts_lie_where_an_independent_program_finds_them() {
    let dates = ["1919-05-29", "1970-03-07", "1999-08-11", "2017-08-21", "2027-08-02", "2045-08-12"];
    let (mut second, mut third) = (Vec::new(), Vec::new());
    for (number, date) in dates.into_iter().enumerate() {
        let eclipse = eclipse_with(date, 60.0, &Conventions::default());
        let (first, last) = eclipse.central_span().unwrap();
        for k in 0..4 {
            let part = (0.12 + 0.21 * f64::from(k) + 0.01 * number as f64).min(0.95);
            let Some(umbra) = eclipse.umbra(first.plus(part * (last - first))) else { continue };
            let site = Site::at_sea_level(umbra.centre);
            let smooth = eclipse.quick(&site);
            let found = eclipse.true_totality(&site, MoonHeights::embedded(), &EdgeSettings::default()).unwrap();
            second.push(found.c2.tt - smooth.c2.unwrap());
            third.push(found.c3.tt - smooth.c3.unwrap());
            let per_s = |arcsec_per_s: f64| assert!(arcsec_per_s > 0.05 && arcsec_per_s < 0.8, "{date} {arcsec_per_s}");
            per_s(found.c2.uncovering_arcsec_per_s);
            per_s(found.c3.uncovering_arcsec_per_s);
        }
    }
    for (shifts, whole, half) in [(&mut second, [-4.5, 5.5], [-1.3, 1.3]), (&mut third, [-11.5, 0.5], [-4.0, -1.3])] {
        shifts.sort_by(f64::total_cmp);
        assert!(shifts[0] > whole[0] && shifts[shifts.len() - 1] < whole[1], "{shifts:?}");
        let median = shifts[shifts.len() / 2];
        assert!(median > half[0] && median < half[1], "{median}");
    }
}

/// On a belt of hills the beads stand in its valleys (every 15°, half way between the tops), and each goes out when the
/// smooth Moon of that depth would cover it there.
#[test]
fn beads_of_a_cosine_belt_stand_in_its_valleys() {
    let eclipse = smooth_eclipse(0.0, SUN_RADIUS_KM);
    let smooth = eclipse.local(&sydney()).c2.unwrap();
    let height_m = |angle_deg: f64| 1000.0 * (24.0 * angle_deg).to_radians().cos();
    let sight = sight_at(&eclipse, &sydney(), smooth.tt);
    let heights = moon_by_angle(sight, [-1000.0, 1000.0], height_m);
    let beads = eclipse.beads(&sydney(), &heights, &EdgeSettings::default());
    let totality = eclipse.true_totality(&sydney(), &heights, &EdgeSettings::default()).unwrap();
    let before: Vec<&Bead> = beads.iter().filter(|b| b.side == BeadSide::C2).collect();
    assert!(before.len() >= 2, "{before:?}");
    for bead in &before {
        // The angle is about the Moon's centre in the belt, about the Sun's in the bead: 2.5° apart at most.
        let from_valley = (bead.position_angle_deg - 7.5).rem_euclid(15.0);
        assert!(from_valley.min(15.0 - from_valley) < 2.6, "{bead:?}");
        assert!(bead.to - bead.from >= BEAD_LASTS_S && totality.c2.tt - bead.from <= BEADS_WITHIN_S + 1e-6);
        assert_eq!(bead.extreme, bead.to == totality.c2.tt);
    }
    for side in [BeadSide::C2, BeadSide::C3] {
        assert_eq!(beads.iter().filter(|b| b.side == side && b.extreme).count(), 1);
    }
}

/// The mean of the edge at the eclipse of 2028 is 1737.9 km, the lowest 1733.1 km, the highest 1743.7 km (independent
/// program, Sydney's sight); the handbook's exterior k stands for 1738.09 km.
#[test]
fn the_edge_all_round() {
    let eclipse = eclipse_of_2028();
    let tt = eclipse.quick(&sydney()).max;
    let edge = eclipse.edge_profile(&sydney(), MoonHeights::embedded(), tt, 0.5);
    assert_eq!(edge.len(), 720);
    let mean = edge.iter().map(|p| p.height_km).sum::<f64>() / 720.0;
    assert!((mean - 0.5).abs() < 0.15, "{mean}");
    let lowest = edge.iter().map(|p| p.height_km).fold(f64::INFINITY, f64::min);
    let highest = edge.iter().map(|p| p.height_km).fold(f64::NEG_INFINITY, f64::max);
    assert!((lowest + 4.3).abs() < 0.5 && (highest - 6.3).abs() < 0.8, "{lowest} {highest}");
    // 1 km at 360 000 to 400 000 km is 0.52″ to 0.57″.
    assert!(edge.iter().all(|p| p.height_km.abs() < 0.01 || (0.5..0.6).contains(&(p.height_arcsec / p.height_km))));
}
