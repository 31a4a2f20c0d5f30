//! What must hold at any place of any eclipse from 1900 to 2100, whatever the numbers are.

#![allow(clippy::unwrap_used)]

use noonfall_ephemeris::angle::wrap_180;
use noonfall_ephemeris::constants::EARTH_ROTATION_RAD_S;
use noonfall_ephemeris::{DeltaT, GeoPoint, Kernel};
use noonfall_shadow::central_line::{central_point, ground_motion};
use noonfall_shadow::geodesy::{bearing_deg, destination, distance_km};
use noonfall_shadow::umbral_limits::{Side, limit_point};
use noonfall_shadow::{Contact, Conventions, Eclipse, LocalCircumstances, Phase, Site, SiteBatch, catalogue};
use proptest::prelude::*;
use std::sync::LazyLock;

static ALL: LazyLock<Vec<Eclipse>> =
    LazyLock::new(|| catalogue::list(Kernel::embedded(), 1900, 2100, None, &Conventions::default()).unwrap());

/// Those with a central line and both limits, but for the shortest hybrids, whose path is metres wide in places.
static WITH_A_PATH: LazyLock<Vec<&'static Eclipse>> = LazyLock::new(|| {
    ALL.iter()
        .filter(|e| e.is_central() && e.limits() == (true, true))
        .filter(|e| e.greatest().central_duration_s.is_some_and(|s| s > 20.0))
        .collect()
});

/// An eclipse that a failing case names by its date.
#[derive(Clone, Copy)]
struct Named(&'static Eclipse);

impl std::fmt::Debug for Named {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.0.date())
    }
}

fn any_eclipse() -> impl Strategy<Value = Named> {
    (0..ALL.len()).prop_map(|i| Named(&ALL[i]))
}

fn with_a_path() -> impl Strategy<Value = Named> {
    (0..WITH_A_PATH.len()).prop_map(|i| Named(WITH_A_PATH[i]))
}

/// Anywhere on the Earth, or, half the time, within 400 km of the place of greatest eclipse.
fn place(eclipse: &Eclipse, anywhere: bool, a: f64, b: f64, elevation_m: f64) -> Site {
    let point = if anywhere {
        GeoPoint { lat_deg: 180.0 * a - 90.0, lon_deg: wrap_180(360.0 * b) }
    } else {
        destination(eclipse.greatest().point, 360.0 * a, 400.0 * b)
    };
    Site::new(point.lat_deg, point.lon_deg, elevation_m).unwrap()
}

fn contacts(local: &LocalCircumstances) -> [Option<Contact>; 5] {
    [local.c1, local.c2, local.max, local.c3, local.c4]
}

/// Seconds between equal contacts of two answers; infinite where one has a contact that the other lacks.
fn apart_s(a: &LocalCircumstances, b: &LocalCircumstances) -> f64 {
    contacts(a).into_iter().zip(contacts(b)).fold(0.0, |worst: f64, pair| match pair {
        (Some(a), Some(b)) => worst.max((a.tt - b.tt).abs()),
        (None, None) => worst,
        _ => f64::INFINITY,
    })
}

/// Instant, `share` of the way through the time in which the axis is on the Earth, the outer tenths left out.
fn on_the_path(eclipse: &Eclipse, share: f64) -> noonfall_ephemeris::Tt {
    let (first, last) = eclipse.central_span().unwrap();
    first.plus((last - first) * (0.1 + 0.8 * share))
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    #[test]
    fn contacts_come_in_order_and_every_number_is_a_number(
        Named(eclipse) in any_eclipse(),
        anywhere: bool,
        (a, b) in (0.0..1.0, 0.0..1.0),
        elevation_m in -400.0..9000.0,
    ) {
        let site = place(eclipse, anywhere, a, b, elevation_m);
        let local = eclipse.local(&site);
        let at: Vec<f64> = contacts(&local).iter().flatten().map(|c| c.tt.0).collect();
        match local.phase {
            Phase::None => prop_assert!(at.is_empty()),
            Phase::Partial => prop_assert_eq!(at.len(), 3),
            Phase::Total | Phase::Annular => prop_assert_eq!(at.len(), 5),
        }
        // Least separation may fall a few seconds outside a grazing central phase, so it is held to C1 and C4 first.
        if let (Some(c1), Some(max), Some(c4)) = (local.c1, local.max, local.c4) {
            prop_assert!(c1.tt < max.tt && max.tt < c4.tt);
        }
        if let (Some(c1), Some(c2), Some(c3), Some(c4)) = (local.c1, local.c2, local.c3, local.c4) {
            prop_assert!(c1.tt < c2.tt && c2.tt < c3.tt && c3.tt < c4.tt);
            prop_assert!((c3.tt - c2.tt - local.duration_s).abs() < 1e-9);
            if local.duration_s > 20.0 {
                prop_assert!(at.is_sorted());
            }
        } else {
            prop_assert_eq!(local.duration_s, 0.0);
        }
        for c in contacts(&local).iter().flatten() {
            prop_assert!((-90.0..=90.0).contains(&c.sun_altitude_deg));
            prop_assert!(c.sun_apparent_altitude_deg >= c.sun_altitude_deg);
            for angle in [c.sun_azimuth_deg, c.position_angle_deg, c.vertex_angle_deg] {
                prop_assert!((0.0..360.0).contains(&angle), "{}", angle);
            }
        }
        prop_assert!(local.magnitude.is_finite() && local.magnitude >= 0.0);
        prop_assert!((0.0..=1.0).contains(&local.obscuration));
        // Over the 1.4 km beside a path where the exterior radius covers the Sun and the interior one does not, it may be
        // 1 in a partial phase too.
        prop_assert!(local.phase != Phase::Total || local.obscuration == 1.0);
        prop_assert!(local.phase == Phase::None || (0.88..1.1).contains(&local.size_ratio));
        if let Some(rise) = local.sunrise {
            prop_assert!(local.c1.unwrap().tt <= rise && rise <= local.c4.unwrap().tt);
        }
    }

    /// From the central line to a limit the square of the duration falls without a jump, to nothing at the limit, and
    /// there is none beyond it. (The duration itself falls like the height of a half circle, steep at the end.)
    #[test]
    fn duration_is_continuous_inside_the_path_and_vanishes_at_the_limits(
        Named(eclipse) in with_a_path(), share in 0.0..1.0, north: bool, f in 0.0..0.98,
    ) {
        let tt = on_the_path(eclipse, share);
        let side = if north { Side::North } else { Side::South };
        let (Some(centre), Some(limit)) = (central_point(eclipse, tt), limit_point(eclipse, side, tt)) else {
            return Ok(());
        };
        let (towards, whole_km) = (bearing_deg(centre, limit), distance_km(centre, limit));
        let at = |f: f64| eclipse.quick(&Site::at_sea_level(destination(centre, towards, f * whole_km)));
        let longest_s = at(0.0).duration_s;
        prop_assert!(longest_s > 0.0);
        let square = |f: f64| (at(f).duration_s / longest_s).powi(2);
        // The whole fall from 1 to 0 happens over f = 1; along a slanting line it may rise a little first.
        prop_assert!((square(f) - square(f + 1e-4)).abs() < 6e-4, "{} {}", square(f), square(f + 1e-4));
        prop_assert!(square(f) > 0.0);
        prop_assert!(square(1.0 - 1e-4) < 1e-3, "{}", square(1.0 - 1e-4));
        prop_assert!(!at(1.0 + 1e-4).phase.is_central());
    }

    #[test]
    fn the_limits_lie_on_both_sides_of_the_central_line(Named(eclipse) in with_a_path(), share in 0.0..1.0) {
        let tt = on_the_path(eclipse, share);
        let (Some(centre), Some((azimuth, _))) = (central_point(eclipse, tt), ground_motion(eclipse, tt)) else {
            return Ok(());
        };
        // Left of the motion is north in the shadow's plane, right is south.
        for (side, sign) in [(Side::North, -1.0), (Side::South, 1.0)] {
            if let Some(limit) = limit_point(eclipse, side, tt) {
                let turn = (bearing_deg(centre, limit) - azimuth).to_radians();
                prop_assert!(sign * turn.sin() > 0.02, "{:?}: {}", side, turn.to_degrees());
            }
        }
    }

    #[test]
    fn a_whole_turn_of_longitude_changes_nothing(
        Named(eclipse) in any_eclipse(), lat_deg in -90.0..=90.0, lon_deg in -180.0..0.0,
    ) {
        let here = eclipse.local(&Site::new(lat_deg, lon_deg, 0.0).unwrap());
        let there = eclipse.local(&Site::new(lat_deg, lon_deg + 360.0, 0.0).unwrap());
        prop_assert!(apart_s(&here, &there) < 1e-6);
        let batch = eclipse.local_batch(SiteBatch {
            lat_deg: &[lat_deg; 2],
            lon_deg: &[lon_deg, lon_deg + 360.0],
            elevation_m: &[0.0; 2],
        }).unwrap();
        prop_assert!((batch.c4.after_epoch_s[0] - batch.c4.after_epoch_s[1]).abs() < 1e-6);
        prop_assert_eq!(batch.phase[0], batch.phase[1]);
    }

    /// The two names of the date line are one line, and a step over it is as small as any other.
    #[test]
    fn the_date_line_is_no_seam(Named(eclipse) in any_eclipse(), lat_deg in -89.0..89.0) {
        let at = |lon_deg: f64| eclipse.local(&Site::new(lat_deg, lon_deg, 0.0).unwrap());
        prop_assert!(apart_s(&at(180.0), &at(-180.0)) < 1e-6);
        let (east, west) = (at(179.999_999), at(-179.999_999));
        if east.phase == west.phase && east.phase != Phase::None && east.magnitude > 0.001 {
            // Outside grazing phases a step of 0.2 m changes a contact by less than a millisecond.
            let (Some(a), Some(b)) = (east.c1, west.c1) else { return Ok(()) };
            prop_assert!((a.tt - b.tt).abs() < 1e-2, "{}", a.tt - b.tt);
            prop_assert!((east.magnitude - west.magnitude).abs() < 1e-6);
        }
    }

    /// At a pole longitude is only a name: nothing but azimuths, counted from its meridian, depends on it.
    #[test]
    fn the_poles_are_one_place_each(Named(eclipse) in any_eclipse(), south: bool, a in -180.0..180.0, b in -180.0..180.0) {
        let lat_deg = if south { -90.0 } else { 90.0 };
        let at = |lon_deg: f64| eclipse.local(&Site::new(lat_deg, lon_deg, 0.0).unwrap());
        let (one, other) = (at(a), at(b));
        prop_assert_eq!(one.phase, other.phase);
        prop_assert!(apart_s(&one, &other) < 1e-5);
        prop_assert!((one.magnitude - other.magnitude).abs() < 1e-9);
        if let (Some(x), Some(y)) = (one.max, other.max) {
            prop_assert!((x.sun_altitude_deg - y.sun_altitude_deg).abs() < 1e-9);
            // Azimuths turn with the meridian: backwards at the south pole.
            let turn = if south { x.sun_azimuth_deg + a } else { x.sun_azimuth_deg - a };
            let other_turn = if south { y.sun_azimuth_deg + b } else { y.sun_azimuth_deg - b };
            prop_assert!(wrap_180(turn - other_turn).abs() < 1e-6);
            prop_assert!(wrap_180(x.position_angle_deg - y.position_angle_deg).abs() < 1e-6);
        }
        let beside = eclipse.local(&Site::new(lat_deg * (1.0 - 1e-10), a, 0.0).unwrap());
        prop_assert!(one.phase != beside.phase || (one.magnitude - beside.magnitude).abs() < 1e-9);
    }

    #[test]
    fn the_batch_gives_what_one_site_gives(
        Named(eclipse) in any_eclipse(),
        spots in prop::collection::vec((any::<bool>(), 0.0..1.0, 0.0..1.0, -400.0..9000.0), 1..30),
    ) {
        let sites: Vec<Site> = spots.iter().map(|&(any, a, b, m)| place(eclipse, any, a, b, m)).collect();
        let column = |f: fn(&Site) -> f64| sites.iter().map(f).collect::<Vec<f64>>();
        let (lat_deg, lon_deg, elevation_m) = (column(|s| s.lat_deg), column(|s| s.lon_deg), column(|s| s.elevation_m));
        let batch = SiteBatch { lat_deg: &lat_deg, lon_deg: &lon_deg, elevation_m: &elevation_m };
        let (found, quick) = (eclipse.local_batch(batch).unwrap(), eclipse.quick_batch(batch).unwrap());
        for (row, site) in sites.iter().enumerate() {
            let plain = eclipse.local(site);
            prop_assert_eq!(found.phase[row], plain.phase);
            prop_assert_eq!(quick.phase[row], plain.phase);
            prop_assert!((found.duration_s[row] - plain.duration_s).abs() < 1e-4);
            prop_assert!((quick.duration_s[row] - plain.duration_s).abs() < 1e-4);
            prop_assert!((found.magnitude[row] - plain.magnitude).abs() < 1e-8);
            let columns = [&found.c1, &found.c2, &found.max, &found.c3, &found.c4];
            for (column, plain) in columns.into_iter().zip(contacts(&plain)) {
                let Some(plain) = plain else { continue };
                let late_s = found.epoch.plus(column.after_epoch_s[row]) - plain.tt;
                prop_assert!(late_s.abs() < 1e-4, "{}", late_s);
                prop_assert!((column.sun_altitude_deg[row] - plain.sun_altitude_deg).abs() < 1e-5);
            }
        }
    }

    /// ΔT does nothing but turn the Earth: the same sky stands over the longitude that the turn brings there.
    #[test]
    fn delta_t_is_a_shift_of_longitude(Named(eclipse) in any_eclipse(), lat_deg in -80.0..80.0, lon_deg in -170.0..170.0,
                                       later_s in -300.0..300.0_f64) {
        let delta_t = DeltaT::given(eclipse.delta_t().seconds + later_s).unwrap();
        let turned_deg: f64 = f64::to_degrees(EARTH_ROTATION_RAD_S * later_s);
        let here = eclipse.local(&Site::new(lat_deg, lon_deg, 0.0).unwrap());
        let shifted = Site::new(lat_deg, lon_deg + turned_deg, 0.0).unwrap();
        let there = eclipse.with_delta_t(delta_t).local(&shifted);
        prop_assert_eq!(here.phase, there.phase);
        prop_assert!((here.magnitude - there.magnitude).abs() < 1e-9);
        if here.magnitude > 1e-4 {
            prop_assert!(apart_s(&here, &there) < 1e-4, "{}", apart_s(&here, &there));
        }
    }
}
