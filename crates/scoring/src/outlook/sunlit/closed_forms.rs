//! The sweep over ground whose skyline is known in closed form: a wall, a staircase, a plane, a cone.
//!
//! A point of height h at a distance s stands at the altitude a with tan a = ((R + h) cos(s/R) − (R + e)) / ((R + h) sin(s/R)) over an
//! eye of height e (plane triangle; R the optical radius of the Earth in that azimuth). Distances are geodesics by the library.

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

use super::tests::{eclipse, part};
use super::*;
use crate::outlook::skyline::SunTrack;
use crate::outlook::skyline::ray::{A_M, E2};

const STEP: f64 = 1.0 / 1200.0;
/// Totality in Aragon with the Sun some 8° up in the west.
const DATE: &str = "2026-08-12";
const NORTH: f64 = 41.2;
const WEST: f64 = -1.4;
const COLUMNS: u32 = 700;
const ROWS: u32 = 500;

/// Ground of a height that is known everywhere, on a 3″ grid.
fn ground(height_m: impl Fn(f64, f64) -> f64) -> Terrain {
    let shape = part(NORTH, WEST, COLUMNS, ROWS, STEP);
    let at = |i: u32| height_m(NORTH - f64::from(i / COLUMNS) * STEP, WEST + f64::from(i % COLUMNS) * STEP) as f32;
    Terrain::from_grid("made", shape, (0..COLUMNS * ROWS).map(at).collect()).unwrap()
}

/// Radii of curvature along the meridian and across it, m.
fn radii(lat: f64) -> (f64, f64) {
    let w2 = 1.0 - E2 * lat.to_radians().sin().powi(2);
    let across = A_M / w2.sqrt();
    (across * (1.0 - E2) / w2, across)
}

/// Altitude of a point over an eye, degrees.
fn altitude_deg(lat: f64, azimuth_deg: f64, eye_m: f64, height_m: f64, distance_m: f64, k: f64) -> f64 {
    let (along, across) = radii(lat);
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    let radius = 1.0 / (cos * cos / along + sin * sin / across) / (1.0 - k);
    let (sin, cos) = (distance_m / radius).sin_cos();
    let far = radius + height_m;
    ((far * cos - radius - eye_m) / (far * sin)).atan().to_degrees()
}

/// Distance along an azimuth to a meridian in the west, m.
fn to_meridian_m(lat: f64, lon: f64, azimuth_deg: f64, meridian: f64) -> f64 {
    let (mut low, mut high) = (0.0, 120_000.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        let (_, there): (f64, f64) = Geodesic::wgs84().direct(lat, lon, azimuth_deg, middle);
        if there > meridian { low = middle } else { high = middle }
    }
    low
}

/// The block's margins at every so manieth node against those of a skyline that is known; the largest differences where `fair` allows.
fn worst(
    terrain: &Terrain,
    asked: &RasterShape,
    ray: RayOptions,
    every: usize,
    skyline_deg: impl Fn(f64, f64, f64, f64) -> Option<f64>,
) -> (f64, usize) {
    let eclipse = eclipse(DATE);
    let options = SunlitOptions { ray, ..SunlitOptions::default() };
    let block = sunlit_block(terrain, &eclipse, asked, &options).unwrap();
    let (mut worst, mut compared) = (0.0_f64, 0);
    for at in (0..block.margin_deg.len()).step_by(every) {
        let (row, column) = (at / asked.columns as usize, at % asked.columns as usize);
        let (lat, lon) = (asked.north_deg - row as f64 * STEP, asked.west_deg + column as f64 * STEP);
        let ground_m = f64::from(block.ground_m[at]);
        let site = Site::new(lat, lon, ground_m).unwrap();
        let local = eclipse.local(&site);
        let track = SunTrack::of(&eclipse, &site, &local).unwrap();
        let (c2, c3) = (local.c2.unwrap().tt, local.c3.unwrap().tt);
        let margins: Option<Vec<f64>> = (0..=12)
            .map(|i| {
                let sun = track.at(c2.plus((c3 - c2) * f64::from(i) / 12.0));
                skyline_deg(lat, lon, sun.azimuth_deg.rem_euclid(360.0), ground_m + ray.eye_height_m)
                    .map(|sky| sun.apparent_altitude_deg - sky)
            })
            .collect();
        let Some(margins) = margins else { continue };
        let least = margins.into_iter().fold(f64::INFINITY, f64::min);
        worst = worst.max((f64::from(block.margin_deg[at]) - least).abs());
        compared += 1;
    }
    (worst, compared)
}

/// A wall along a meridian, 800 m over a plain: its eastern upper edge is the skyline.
#[test]
fn behind_a_wall_the_skyline_is_its_edge() {
    let edge_column = 200.0;
    let edge = WEST + edge_column * STEP;
    let terrain = ground(|_, lon| if ((lon - WEST) / STEP - 198.0).abs() < 2.5 { 1000.0 } else { 200.0 });
    let ray = RayOptions::default();
    let wall = |lat: f64, lon: f64, azimuth: f64, eye: f64| {
        let distance = to_meridian_m(lat, lon, azimuth, edge);
        Some(altitude_deg(lat, azimuth, eye, 1000.0, distance, ray.refraction_coefficient))
    };
    // From 3 to 13 km behind it, within the ground that is looked at sample by sample.
    let (near, compared) = worst(&terrain, &part(NORTH - 0.15, WEST + 245.0 * STEP, 120, 100, STEP), ray, 37, wall);
    println!("wall, near: {near:.4}° of {compared}");
    assert!(compared > 300 && near < 0.01, "{near} of {compared}");
    // From 24 to 31 km, where four rows count as one: a wall 70 m nearer or farther.
    let (far, compared) = worst(&terrain, &part(NORTH - 0.15, WEST + 550.0 * STEP, 100, 100, STEP), ray, 37, wall);
    println!("wall, far: {far:.4}° of {compared}");
    assert!(compared > 250 && far < 0.04, "{far} of {compared}");
}

/// Steps up to the west: which edge makes the skyline changes with the distance.
#[test]
fn before_a_staircase_the_skyline_is_the_highest_edge() {
    let steps: Vec<(f64, f64)> =
        (0..8).map(|i| (280.0 - 12.0 * f64::from(i), 300.0 + 90.0 * f64::from(i + 1))).collect();
    let of = steps.clone();
    let terrain = ground(move |_, lon| {
        let column = ((lon - WEST) / STEP).round();
        of.iter().filter(|(edge, _)| column <= *edge).map(|s| s.1).fold(300.0, f64::max)
    });
    let ray = RayOptions::default();
    let (error, compared) =
        worst(&terrain, &part(NORTH - 0.15, WEST + 300.0 * STEP, 120, 100, STEP), ray, 37, |lat, lon, azimuth, eye| {
            let edge = |&(column, height): &(f64, f64)| {
                let distance = to_meridian_m(lat, lon, azimuth, WEST + column * STEP);
                altitude_deg(lat, azimuth, eye, height, distance, ray.refraction_coefficient)
            };
            steps.iter().map(edge).reduce(f64::max)
        });
    println!("staircase: {error:.4}° of {compared}");
    assert!(compared > 300 && error < 0.01, "{error} of {compared}");
}

/// A plane in space, tilted up towards the Sun, from which the Earth curves away: looked at in its own direction it stands at one altitude,
/// whatever the distance, for light that runs straight.
#[test]
fn along_a_tilted_plane_the_skyline_is_its_tilt() {
    let (lat0, lon0, tilt, towards) = (NORTH - 0.2, WEST + 450.0 * STEP, 2.0_f64, 284.0_f64);
    let frame = |lat: f64, lon: f64| {
        let ((sin_lat, cos_lat), (sin_lon, cos_lon)) = (lat.to_radians().sin_cos(), lon.to_radians().sin_cos());
        let across = radii(lat).1;
        let foot = [across * cos_lat * cos_lon, across * cos_lat * sin_lon, across * (1.0 - E2) * sin_lat];
        let up = [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat];
        (foot, up, [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat], [-sin_lon, cos_lon, 0.0])
    };
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let level = |f: &([f64; 3], [f64; 3], [f64; 3], [f64; 3]), azimuth: f64| {
        let (sin, cos) = azimuth.to_radians().sin_cos();
        [0, 1, 2].map(|i| cos * f.2[i] + sin * f.3[i])
    };
    let at = frame(lat0, lon0);
    let (sin, cos) = tilt.to_radians().sin_cos();
    let ahead = level(&at, towards);
    let normal = [0, 1, 2].map(|i| cos * at.1[i] - sin * ahead[i]);
    // 1500 m high at its middle.
    let through = [0, 1, 2].map(|i| at.0[i] + 1500.0 * at.1[i]);
    let terrain = ground(|lat, lon| {
        let f = frame(lat, lon);
        dot(normal, [0, 1, 2].map(|i| through[i] - f.0[i])) / dot(normal, f.1)
    });
    let ray = RayOptions { refraction_coefficient: 0.0, ..RayOptions::default() };
    let (error, compared) =
        worst(&terrain, &part(NORTH - 0.15, WEST + 400.0 * STEP, 120, 100, STEP), ray, 37, |lat, lon, azimuth, _| {
            let f = frame(lat, lon);
            Some((-dot(normal, level(&f, azimuth)) / dot(normal, f.1)).atan().to_degrees())
        });
    println!("plane: {error:.4}° of {compared}");
    // The eye stands 1.7 m above it and sees its end, 25 km away and more, so much lower: 0.004°.
    assert!(compared > 300 && error < 0.006, "{error} of {compared}");
}

/// A cone on a plain. Towards the summit the skyline is the summit; beside it, the highest of the cone along the azimuth.
#[test]
fn behind_a_cone_the_skyline_is_its_outline() {
    let (summit_lat, summit_lon) = (NORTH - 240.0 * STEP, WEST + 230.0 * STEP);
    let cone = |lat: f64, lon: f64| {
        let away: f64 = Geodesic::wgs84().inverse(lat, lon, summit_lat, summit_lon);
        (1400.0 - 0.25 * away).max(300.0)
    };
    let terrain = ground(cone);
    let ray = RayOptions::default();
    let skyline = |lat: f64, lon: f64, azimuth: f64, eye: f64| {
        let point = |distance: f64| {
            let (there_lat, there_lon): (f64, f64) = Geodesic::wgs84().direct(lat, lon, azimuth, distance);
            altitude_deg(lat, azimuth, eye, cone(there_lat, there_lon), distance, ray.refraction_coefficient)
        };
        let coarse = |i: u32| 1000.0 + 40.0 * f64::from(i);
        let best = (0..450).map(coarse).max_by(|a, b| point(*a).total_cmp(&point(*b)))?;
        let fine = (-40..=40).map(|i| point(best + f64::from(i))).fold(f64::NEG_INFINITY, f64::max);
        Some(fine)
    };
    let (error, compared) = worst(&terrain, &part(NORTH - 0.19, WEST + 300.0 * STEP, 120, 80, STEP), ray, 53, skyline);
    println!("cone: {error:.4}° of {compared}");
    // The grid cuts the summit: up to 11 m of it, half a diagonal of the samples times the slope, at 6 km and more.
    assert!(compared > 150 && error < 0.1, "{error} of {compared}");
}
