//! Kernels given by the user: what they hold decides, and a kernel that cannot serve says why.
//!
//! The files are written here, from the embedded DE440 about 22 July 2028.

#![allow(clippy::unwrap_used)]

#[path = "../../ephemeris/tests/spk_writer/mod.rs"]
mod spk_writer;

use noonfall_ephemeris::vector::{add, scale, sub};
use noonfall_ephemeris::{Body, Kernel, Tt};
use noonfall_shadow::{Conventions, Eclipse, EclipseError, Phase, Site, catalogue};
use spk_writer::{Segment, chebyshev_segment, spk};
use std::path::PathBuf;

const DAY_S: f64 = 86_400.0;

/// Middle of the files, TDB seconds past J2000: close to greatest eclipse.
fn middle_et() -> f64 {
    Tt::from_calendar(2028, 7, 22, 3.0).0
}

/// A body of the embedded kernel relative to the barycentre of Earth and Moon (the Moon) or of the solar system.
fn state(body: Body, et: f64) -> ([f64; 3], [f64; 3]) {
    let kernel = Kernel::embedded();
    // The kernel's argument is TT: as seen from a TT of the same count, TDB is TDB − TT earlier.
    let at = |body| {
        let tdb = Tt(et);
        kernel.state_after(body, tdb, -tdb.tdb_minus_tt_s()).unwrap()
    };
    let (own, centre) = (at(body), at(Body::EarthMoonBarycentre));
    if body == Body::Moon {
        (sub(own.position_km, centre.position_km), sub(own.velocity_km_s, centre.velocity_km_s))
    } else {
        (own.position_km, own.velocity_km_s)
    }
}

/// Sun, barycentre and Moon from some days before to some days after.
fn segments(data_type: i32, days: (f64, f64)) -> Vec<Segment> {
    let span = (middle_et() + days.0 * DAY_S, middle_et() + days.1 * DAY_S);
    let of = |body, ids, interval_days: f64, n| {
        chebyshev_segment(data_type, ids, span, interval_days * DAY_S, n, move |et| state(body, et))
    };
    vec![
        of(Body::Sun, (10, 0), 2.0, 11),
        of(Body::EarthMoonBarycentre, (3, 0), 2.0, 13),
        of(Body::Moon, (301, 3), 1.0, 13),
    ]
}

fn file(name: &str, segments: &[Segment]) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, spk(segments, true)).unwrap();
    path
}

fn on(path: &std::path::Path, date: &str) -> Result<Eclipse, EclipseError> {
    let kernel = Kernel::open(path).unwrap();
    Eclipse::on_date(&kernel, date.parse().unwrap(), None, &Conventions::default())
}

fn refusal(path: &std::path::Path, date: &str) -> String {
    on(path, date).unwrap_err().to_string()
}

/// The same contacts from the kernel's own records, from positions alone and from positions with velocities.
#[test]
fn types_2_and_3_give_the_contacts_of_the_embedded_kernel() {
    let site = Site::new(-15.49, 128.12, 11.0).unwrap();
    let date = "2028-07-22".parse().unwrap();
    let embedded = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap().local(&site);
    assert_eq!(embedded.phase, Phase::Total);
    for data_type in [2, 3] {
        let path = file(&format!("type-{data_type}.bsp"), &segments(data_type, (-6.0, 6.0)));
        let found = on(&path, "2028-07-22").unwrap();
        assert_eq!(found.kernel(), format!("type-{data_type}.bsp"));
        let local = found.local(&site);
        for (a, b) in
            [(local.c1, embedded.c1), (local.c2, embedded.c2), (local.c3, embedded.c3), (local.c4, embedded.c4)]
        {
            let late_s = a.unwrap().tt - b.unwrap().tt;
            assert!(late_s.abs() < 1e-4, "type {data_type}: {late_s}");
        }
    }
}

#[test]
fn a_gap_over_the_eclipse_is_named_with_what_is_covered() {
    let whole = segments(2, (-6.0, 6.0));
    let moon = |from: f64, to: f64| segments(2, (from, to)).remove(2);
    let path = file("gap.bsp", &[whole[0].clone(), whole[1].clone(), moon(-6.0, -0.1), moon(0.1, 6.0)]);
    let message = refusal(&path, "2028-07-22");
    for part in [
        "gap.bsp",
        "does not cover 2028-07-22T0",
        "Moon",
        "2028-07-16 to 2028-07-22T00:36",
        "2028-07-22T05:24",
        "2028-07-28",
    ] {
        assert!(message.contains(part), "{part}: {message}");
    }
    // A gap elsewhere does not matter.
    let path = file("gap-elsewhere.bsp", &[whole[0].clone(), whole[1].clone(), moon(-6.0, -2.0), moon(-1.5, 6.0)]);
    assert!(on(&path, "2028-07-22").is_ok());
}

#[test]
fn a_kernel_that_ends_in_the_middle_of_the_eclipse_is_refused() {
    for (name, days) in [("late.bsp", (-0.05, 6.0)), ("early.bsp", (-6.0, 0.05))] {
        let path = file(name, &segments(2, days));
        let message = refusal(&path, "2028-07-22");
        assert!(message.contains(name) && message.contains("it covers"), "{message}");
    }
}

#[test]
fn a_date_outside_says_what_is_covered() {
    let path = file("short.bsp", &segments(2, (-6.0, 6.0)));
    for date in ["2017-08-21", "2030-11-25"] {
        let message = refusal(&path, date);
        for part in ["short.bsp", &date[..4], "2028-07-16 to 2028-07-28"] {
            assert!(message.contains(part), "{part}: {message}");
        }
    }
    let kernel = Kernel::open(&path).unwrap();
    let message = catalogue::list(&kernel, 2020, 2030, None, &Conventions::default()).unwrap_err().to_string();
    assert!(message.contains("it covers 2028-07-16 to 2028-07-28"), "{message}");
    // A day without an eclipse inside the kernel is no fault of the kernel.
    assert!(matches!(on(&path, "2028-07-23"), Err(EclipseError::NoEclipse { .. })));
}

#[test]
fn a_kernel_of_another_type_frame_or_content_is_refused_by_name() {
    let whole = segments(2, (-6.0, 6.0));
    let changed = |change: fn(&mut Segment)| {
        let mut all = whole.clone();
        change(&mut all[2]);
        all
    };
    let cases = [
        ("type-13.bsp", changed(|s| s.data_type = 13), "only as SPK type 13"),
        ("ecliptic.bsp", changed(|s| s.frame = 17), "in frame 17"),
        ("no-moon.bsp", whole[..2].to_vec(), "no positions of Moon"),
        ("no-sun.bsp", whole[1..].to_vec(), "no positions of Sun"),
        ("chain.bsp", changed(|s| s.centre = 301), "does not reach the barycentre"),
    ];
    for (name, segments, message) in cases {
        let found = refusal(&file(name, &segments), "2028-07-22");
        assert!(found.contains(name) && found.contains(message), "{found}");
    }
    assert!(refusal(&file("held.bsp", &whole[1..]), "2028-07-22").contains("[3, 301]"));
}

/// A record that has been overwritten gives numbers, but not a shadow that moves smoothly.
#[test]
fn a_damaged_record_does_not_pass_for_an_eclipse() {
    let mut all = segments(2, (-6.0, 6.0));
    let record = 2 + 3 * 13;
    // Coefficients of the third degree in the Moon's record of the day, a thousand kilometres off.
    for axis in 0..3 {
        all[2].words[6 * record + 2 + 13 * axis + 3] += 1000.0;
    }
    match on(&file("bent.bsp", &all), "2028-07-22") {
        Err(error) => assert!(error.to_string().contains("damaged"), "{error}"),
        // Bent as smoothly as this it is another Moon, and the eclipse is somewhere else.
        Ok(eclipse) => assert!((eclipse.greatest().gamma + 0.6056).abs() > 0.01),
    }
    // Another body in the Moon's place: no new moon leads to an eclipse.
    let mut all = segments(2, (-6.0, 6.0));
    let shift = |et: f64| add(state(Body::Moon, et).0, scale([1.0, 1.0, 1.0], 1e6));
    let span = (all[2].start_et, all[2].end_et);
    all[2] = chebyshev_segment(2, (301, 3), span, DAY_S, 13, |et| (shift(et), [0.0; 3]));
    assert!(on(&file("elsewhere.bsp", &all), "2028-07-22").is_err());
}

/// The ends of what a place may be are places too.
#[test]
fn extreme_places_are_computed_and_absurd_ones_refused() {
    let date = "2033-03-30".parse().unwrap();
    let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
    for lat_deg in [-90.0, 90.0] {
        for lon_deg in [-180.0, 0.0, 180.0, 360.0] {
            for elevation_m in [-500.0, 30_000.0] {
                let local = eclipse.local(&Site::new(lat_deg, lon_deg, elevation_m).unwrap());
                assert!(local.magnitude.is_finite() && local.duration_s.is_finite());
            }
        }
    }
    for (lat, lon, elevation_m, part) in [
        (90.000_001, 0.0, 0.0, "latitude"),
        (0.0, 360.1, 0.0, "longitude"),
        (0.0, 0.0, 1e7, "10000000 m"),
        (0.0, 0.0, f64::NAN, "elevation"),
        (f64::INFINITY, 0.0, 0.0, "latitude"),
    ] {
        let message = Site::new(lat, lon, elevation_m).unwrap_err().to_string();
        assert!(message.contains(part), "{message}");
    }
}
