//! How high the ground stands along an azimuth: a ray over the terrain, with the Earth's curvature and refraction.
//!
//! # Source
//! Light along the ground bends with about 0.13 of the Earth's curvature by day (Gauss's coefficient of terrestrial refraction; geodesy
//! textbooks, from memory). That is the same as straight light over a sphere of radius R / (1 − k). Real values run from 0 to 0.25
//! and beyond over cold or hot ground.

use crate::input::terrain::ground::Ground;
use crate::input::terrain::tiles::{place, tile_name};
use crate::input::terrain::{Height, Terrain, TerrainError};

/// No ground stands higher, m (Mount Everest, rounded up).
pub const HIGHEST_GROUND_M: f64 = 8850.0;

/// WGS 84: semi-major axis, m, and first eccentricity squared.
pub(crate) const A_M: f64 = 6_378_137.0;
pub(crate) const E2: f64 = 0.006_694_379_990_14;

/// Between computed points of a ray the place runs straight in latitude and longitude, m; half a metre off at most.
const SEGMENT_M: f64 = 5000.0;
/// Step over missing ground, m.
const BLIND_STEP_M: f64 = 250.0;

/// How the skyline is looked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RayOptions {
    /// Eye above the ground, m.
    pub eye_height_m: f64,
    /// Coefficient of terrestrial refraction.
    pub refraction_coefficient: f64,
    /// Ground farther away is not looked at, km.
    pub farthest_km: f64,
}

impl Default for RayOptions {
    /// Eye at 1.7 m, k = 0.13, 200 km.
    fn default() -> RayOptions {
        RayOptions { eye_height_m: 1.7, refraction_coefficient: 0.13, farthest_km: 200.0 }
    }
}

/// Ground that a ray could not see.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unseen {
    /// Where it begins, m from the eye.
    pub from_m: f64,
    /// Where it ends, m.
    pub to_m: f64,
    /// True where no file covers it, false where a file has voids.
    pub missing: bool,
    /// Latitude where it begins, degrees.
    pub lat_deg: f64,
    /// Longitude where it begins, degrees.
    pub lon_deg: f64,
}

impl Unseen {
    /// The SRTM tile that would cover its beginning.
    pub fn tile(&self) -> String {
        tile_name(self.lat_deg, self.lon_deg)
    }
}

/// The skyline along one azimuth.
#[derive(Clone, Debug, PartialEq)]
pub struct Ray {
    /// Azimuth from north through east, degrees.
    pub azimuth_deg: f64,
    /// Altitude of the skyline as seen, degrees; below 0 where the ground falls away.
    pub altitude_deg: f64,
    /// Distance of the ground that makes the skyline, km.
    pub distance_km: f64,
    /// Stretches without heights, nearest first.
    pub unseen: Vec<Unseen>,
}

/// A search for skylines over a terrain.
#[derive(Debug)]
pub struct HorizonSearch<'t> {
    terrain: &'t Terrain,
    options: RayOptions,
    /// Distances at which the ground is looked at, m: an eighth of a sample apart, farther out 1/2000 of the distance.
    steps: Vec<f64>,
    /// From sample to sample of the finest file, m.
    sample_m: f64,
}

impl<'t> HorizonSearch<'t> {
    /// A search with the given options. Options that are not finite or negative are taken at their nearest sensible value.
    pub fn new(terrain: &'t Terrain, options: RayOptions) -> HorizonSearch<'t> {
        let sensible =
            |v: f64, low: f64, high: f64, otherwise: f64| if v.is_finite() { v.clamp(low, high) } else { otherwise };
        let default = RayOptions::default();
        let options = RayOptions {
            eye_height_m: sensible(options.eye_height_m, 0.0, 1000.0, default.eye_height_m),
            refraction_coefficient: sensible(options.refraction_coefficient, -1.0, 0.9, default.refraction_coefficient),
            farthest_km: sensible(options.farthest_km, 0.1, 500.0, default.farthest_km),
        };
        let sample_m = (terrain.finest_step_deg() * 111_000.0).clamp(0.5, 5000.0);
        let mut steps = Vec::new();
        let mut distance = sample_m;
        while distance <= options.farthest_km * 1000.0 {
            steps.push(distance);
            distance += (sample_m / 8.0).max(distance / 2000.0);
        }
        HorizonSearch { terrain, options, steps, sample_m }
    }

    /// The options in force.
    pub fn options(&self) -> &RayOptions {
        &self.options
    }

    /// The eye at a place, above the ground that the terrain has there.
    ///
    /// # Errors
    /// [`TerrainError`] where the terrain has no height there.
    pub fn viewpoint(&self, lat_deg: f64, lon_deg: f64) -> Result<Viewpoint<'_>, TerrainError> {
        let ground_m = match self.terrain.height(lat_deg, lon_deg)? {
            Height::Metres(height) => height,
            Height::Void => return Err(TerrainError::Void { place: place(lat_deg, lon_deg) }),
            Height::Missing => {
                return Err(TerrainError::Missing {
                    place: place(lat_deg, lon_deg),
                    tile: tile_name(lat_deg, lon_deg),
                });
            }
        };
        let (sin_lat, cos_lat) = lat_deg.to_radians().sin_cos();
        let (sin_lon, cos_lon) = lon_deg.to_radians().sin_cos();
        let across = A_M / (1.0 - E2 * sin_lat * sin_lat).sqrt();
        let along = across * (1.0 - E2) / (1.0 - E2 * sin_lat * sin_lat);
        Ok(Viewpoint {
            search: self,
            lat_deg,
            lon_deg,
            ground_m,
            eye_m: ground_m + self.options.eye_height_m,
            radii_m: (along, across),
            foot: [across * cos_lat * cos_lon, across * cos_lat * sin_lon, across * (1.0 - E2) * sin_lat],
            up: [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
            north: [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
            east: [-sin_lon, cos_lon, 0.0],
        })
    }
}

/// An eye above the terrain.
#[derive(Clone, Copy, Debug)]
pub struct Viewpoint<'s> {
    search: &'s HorizonSearch<'s>,
    lat_deg: f64,
    lon_deg: f64,
    ground_m: f64,
    eye_m: f64,
    /// Radii of curvature along the meridian and across it.
    radii_m: (f64, f64),
    foot: [f64; 3],
    up: [f64; 3],
    north: [f64; 3],
    east: [f64; 3],
}

/// The vertical plane of a ray.
struct Plane {
    direction: [f64; 3],
    /// Radius of curvature of the ground in the plane, m, and the same as light sees it.
    radius_m: f64,
    optical_radius_m: f64,
    eye_from_centre_m: f64,
}

impl Plane {
    /// Sine and cosine of the angle at the optical centre, for distances that are small against it.
    #[inline]
    fn turn(&self, distance_m: f64) -> (f64, f64) {
        let a = distance_m / self.optical_radius_m;
        let a2 = a * a;
        (a * (1.0 - a2 / 6.0 * (1.0 - a2 / 20.0)), 1.0 - a2 / 2.0 * (1.0 - a2 / 12.0))
    }

    /// Height that ground at a distance needs to reach a slope of sight, m.
    #[inline]
    fn needed_m(&self, slope: f64, distance_m: f64) -> f64 {
        let (sin, cos) = self.turn(distance_m);
        self.eye_from_centre_m / (cos - slope * sin) - self.optical_radius_m
    }

    /// Slope of sight to ground of a height at a distance.
    #[inline]
    fn slope(&self, height_m: f64, distance_m: f64) -> f64 {
        let (sin, cos) = self.turn(distance_m);
        let r = self.optical_radius_m + height_m;
        (r * cos - self.eye_from_centre_m) / (r * sin)
    }
}

impl Viewpoint<'_> {
    /// Height of the ground here, m.
    pub fn ground_m(&self) -> f64 {
        self.ground_m
    }

    fn plane(&self, azimuth_deg: f64) -> Plane {
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        let radius_m = 1.0 / (cos * cos / self.radii_m.0 + sin * sin / self.radii_m.1);
        let optical_radius_m = radius_m / (1.0 - self.search.options.refraction_coefficient);
        Plane {
            direction: [0, 1, 2].map(|i| cos * self.north[i] + sin * self.east[i]),
            radius_m,
            optical_radius_m,
            eye_from_centre_m: optical_radius_m + self.eye_m,
        }
    }

    /// Latitude and longitude at a distance along the ground, degrees; the longitude runs on across the date line.
    fn along(&self, plane: &Plane, distance_m: f64) -> (f64, f64) {
        let (sin, cos) = (distance_m / plane.radius_m).sin_cos();
        let point = |i: usize| self.foot[i] + plane.radius_m * (sin * plane.direction[i] - (1.0 - cos) * self.up[i]);
        let (x, y, z) = (point(0), point(1), point(2));
        let lat = z.atan2(x.hypot(y) * (1.0 - E2)).to_degrees();
        let turn = (y.atan2(x).to_degrees() - self.lon_deg + 540.0).rem_euclid(360.0) - 180.0;
        (lat, self.lon_deg + turn)
    }

    /// The height that ground between two distances needs at least to stand above an altitude, m.
    ///
    /// # Units
    /// Degrees and metres.
    pub fn needed_m(&self, azimuth_deg: f64, altitude_deg: f64, from_m: f64, to_m: f64) -> f64 {
        let plane = self.plane(azimuth_deg);
        let slope = altitude_deg.clamp(-89.0, 89.0).to_radians().tan();
        plane.needed_m(slope, (-slope * plane.optical_radius_m).clamp(from_m, to_m.max(from_m)))
    }

    /// The skyline along an azimuth.
    ///
    /// # Units
    /// Degrees, from north through east.
    /// # Errors
    /// [`TerrainError::Unreadable`]; [`TerrainError::Missing`] when no ground at all is known along it.
    pub fn ray(&self, azimuth_deg: f64) -> Result<Ray, TerrainError> {
        self.cast::<true>(azimuth_deg)
    }

    /// The crest itself, between the steps beside the highest one.
    fn crest(&self, plane: &Plane, slope: f64, distance_m: f64) -> Result<(f64, f64), TerrainError> {
        const PARTS: i32 = 16;
        let step_m = (self.search.sample_m / 8.0).max(distance_m / 2000.0);
        let mut best = (slope, distance_m);
        let mut ground = Ground::default();
        for part in -PARTS..=PARTS {
            let d = distance_m + step_m * f64::from(part) / f64::from(PARTS);
            let (lat, lon) = self.along(plane, d);
            if d < self.search.sample_m || !(ground.covers(lat, lon) || ground.go(self.search.terrain, lat, lon)?) {
                continue;
            }
            let (y, x) = ground.position(lat, lon);
            let height = ground.block.as_ref().map_or(f64::NAN, |b| b.height(y, x));
            let found = plane.slope(height, d);
            if found > best.0 {
                best = (found, d);
            }
        }
        Ok(best)
    }

    /// With `LEAP`, cells whose highest sample stays below the line of sight are passed over in one step: the same answer, sooner.
    fn cast<const LEAP: bool>(&self, azimuth_deg: f64) -> Result<Ray, TerrainError> {
        let plane = self.plane(azimuth_deg);
        let steps = &self.search.steps;
        let mut slope = f64::NEG_INFINITY;
        let mut distance_of_skyline = 0.0;
        let mut unseen: Vec<Unseen> = Vec::new();
        let mut ground = Ground::default();
        let (mut start, mut end) = (0.0, SEGMENT_M);
        let (mut here, mut there) = ((self.lat_deg, self.lon_deg), self.along(&plane, SEGMENT_M));
        let mut rate = per_metre(here, there, end - start);
        let mut k = 0;
        while let Some(&d) = steps.get(k) {
            if d > end {
                while d > end {
                    (start, end) = (end, end + SEGMENT_M);
                    (here, there) = (there, self.along(&plane, end));
                }
                rate = per_metre(here, there, SEGMENT_M);
            }
            let needed = if slope == f64::NEG_INFINITY { f64::NEG_INFINITY } else { plane.needed_m(slope, d) };
            // Beyond the lowest point of the line of sight, ground would have to be ever higher.
            let turning_m = -slope * plane.optical_radius_m;
            if needed > HIGHEST_GROUND_M && d >= turning_m {
                break;
            }
            let (lat, lon) = (here.0 + rate.0 * (d - start), here.1 + rate.1 * (d - start));
            if !ground.covers(lat, lon) && !ground.go(self.search.terrain, lat, lon)? {
                let to_m = d + BLIND_STEP_M;
                note(&mut unseen, Unseen { from_m: d, to_m, missing: true, lat_deg: lat, lon_deg: lon });
                k = next(steps, k, to_m);
                continue;
            }
            let (y, x) = ground.position(lat, lon);
            let Some(block) = &ground.block else { break };
            if LEAP && needed > f64::NEG_INFINITY && !block.overlaid {
                let leave_m = (d + ground.to_edge_m(y, x, rate)).min(end);
                let least = plane.needed_m(slope, turning_m.clamp(d, leave_m.max(d)));
                if block.highest(y, x) < least {
                    k = next(steps, k, leave_m);
                    continue;
                }
            }
            let height = block.height(y, x);
            if height.is_nan() {
                let to_m = steps.get(k + 1).copied().unwrap_or(d);
                note(&mut unseen, Unseen { from_m: d, to_m, missing: false, lat_deg: lat, lon_deg: lon });
            } else if height > needed {
                slope = plane.slope(height, d);
                distance_of_skyline = d;
            }
            k += 1;
        }
        if slope == f64::NEG_INFINITY {
            let (lat, lon) = unseen.first().map_or((self.lat_deg, self.lon_deg), |u| (u.lat_deg, u.lon_deg));
            return Err(TerrainError::Missing { place: place(lat, lon), tile: tile_name(lat, lon) });
        }
        let (slope, distance_of_skyline) = self.crest(&plane, slope, distance_of_skyline)?;
        Ok(Ray {
            azimuth_deg,
            altitude_deg: slope.atan().to_degrees(),
            distance_km: distance_of_skyline / 1000.0,
            unseen,
        })
    }
}

/// Change of latitude and longitude a metre.
fn per_metre(from: (f64, f64), to: (f64, f64), length_m: f64) -> (f64, f64) {
    ((to.0 - from.0) / length_m, (to.1 - from.1) / length_m)
}

/// The first step after `k` that is not before a distance.
fn next(steps: &[f64], k: usize, distance_m: f64) -> usize {
    let mut next = k + 1;
    while steps.get(next).is_some_and(|&d| d < distance_m) {
        next += 1;
    }
    next
}

/// Adds a stretch, joined to the one before when it follows on; a long list is cut short by joining.
fn note(unseen: &mut Vec<Unseen>, more: Unseen) {
    const MOST: usize = 64;
    let full = unseen.len() >= MOST;
    match unseen.last_mut() {
        Some(last) if full || (last.missing == more.missing && more.from_m <= last.to_m + BLIND_STEP_M / 2.0) => {
            last.to_m = more.to_m;
        }
        _ => unseen.push(more),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::terrain::RasterShape;

    const STEP: f64 = 1.0 / 1200.0;

    /// Heights of latitude and longitude on a 3″ grid.
    fn ground(north: f64, west: f64, columns: u32, rows: u32, height: impl Fn(f64, f64) -> f64) -> Terrain {
        let shape =
            RasterShape { west_deg: west, north_deg: north, lon_step_deg: STEP, lat_step_deg: STEP, columns, rows };
        let mut samples = Vec::new();
        for row in 0..rows {
            for column in 0..columns {
                samples.push(height(north - f64::from(row) * STEP, west + f64::from(column) * STEP) as f32);
            }
        }
        Terrain::from_grid("made", shape, samples).unwrap()
    }

    fn optical_radius(lat: f64, azimuth: f64) -> f64 {
        let (s, (sa, ca)) = (lat.to_radians().sin(), azimuth.to_radians().sin_cos());
        let across = A_M / (1.0 - E2 * s * s).sqrt();
        let along = across * (1.0 - E2) / (1.0 - E2 * s * s);
        1.0 / (ca * ca / along + sa * sa / across) / 0.87
    }

    /// Distance by the geodesic library.
    fn geodesic_m(a: (f64, f64), b: (f64, f64)) -> f64 {
        use geographiclib_rs::{Geodesic, InverseGeodesic};
        Geodesic::wgs84().inverse(a.0, a.1, b.0, b.1)
    }

    /// A wall across the way: its height over its distance, less the curvature, by plane trigonometry.
    #[test]
    fn a_single_ridge_stands_at_its_closed_form_altitude() {
        for (lat, wall_m, away) in [(0.0, 500.0, 360_u32), (-45.0, 1500.0, 480), (60.0, 300.0, 60)] {
            let wall_lon = 10.0 + f64::from(away) * STEP;
            let terrain =
                ground(
                    lat + 0.1,
                    9.95,
                    700,
                    240,
                    |_, lon| if (lon - wall_lon).abs() < STEP * 1.1 { wall_m } else { 0.0 },
                );
            let search = HorizonSearch::new(&terrain, RayOptions::default());
            let ray = search.viewpoint(lat, 10.0).unwrap().ray(90.0).unwrap();
            // The near face's last sample at full height.
            let d = geodesic_m((lat, 10.0), (lat, wall_lon - STEP));
            let theta = d / optical_radius(lat, 90.0);
            let (r, eye) = (optical_radius(lat, 90.0), 1.7);
            let expected =
                (((r + wall_m) * theta.cos() - (r + eye)) / ((r + wall_m) * theta.sin())).atan().to_degrees();
            assert!(
                (ray.altitude_deg - expected).abs() < 0.01 * expected.abs(),
                "{lat}: {} {expected}",
                ray.altitude_deg
            );
            assert!((ray.distance_km * 1000.0 - d).abs() < 120.0);
            // And by the surveyor's rule: h/d − d (1 − k)/2R, within the samples' width.
            let rule = ((wall_m - 1.7) / d - d * 0.87 / (2.0 * 6_371_000.0)).atan().to_degrees();
            assert!((ray.altitude_deg - rule).abs() < 0.012 * expected, "{} {rule}", ray.altitude_deg);
        }
    }

    /// Over a level plain the skyline is the dip of the horizon, the square root of twice the height over the radius.
    #[test]
    fn a_level_plain_gives_the_dip_of_the_horizon() {
        let hill =
            |lat: f64, lon: f64| if lat.abs() < STEP / 2.0 && (lon - 20.0).abs() < STEP / 2.0 { 300.0 } else { 0.0 };
        let terrain = ground(1.0, 19.0, 2400, 2400, hill);
        let search = HorizonSearch::new(&terrain, RayOptions::default());
        let eye = search.viewpoint(0.0, 20.0).unwrap();
        for azimuth in [0.0, 37.0, 90.0, 215.0] {
            let ray = eye.ray(azimuth).unwrap();
            let r = optical_radius(0.0, azimuth);
            let dip = (r / (r + 301.7)).acos().to_degrees();
            assert!((ray.altitude_deg + dip).abs() < 2e-4, "{azimuth}: {} {dip}", ray.altitude_deg);
            // Almanacs: 1.76′ times the root of the height in metres, for a refraction of about 0.16.
            assert!((dip * 60.0 - 1.76 * (301.7_f64 * 0.87 / 0.84).sqrt()).abs() < 0.25);
        }
    }

    /// A cone, against the largest of its closed-form slope on a fine line.
    #[test]
    fn a_cone_stands_at_the_largest_slope_of_its_flank() {
        let (top, flank) = (1200.0, 0.25);
        let height = |lat: f64, lon: f64| (top - flank * geodesic_m((lat, lon), (-30.0, 151.2))).max(0.0);
        let terrain = ground(-29.9, 150.9, 480, 240, height);
        let search = HorizonSearch::new(&terrain, RayOptions::default());
        let eye = search.viewpoint(-30.0, 151.0).unwrap();
        for azimuth in [85.0, 88.0, 90.05, 93.0] {
            let ray = eye.ray(azimuth).unwrap();
            let r = optical_radius(-30.0, azimuth);
            let best = (1..60_000)
                .map(|i| {
                    use geographiclib_rs::{DirectGeodesic, Geodesic};
                    let d = f64::from(i) * 0.5;
                    let (lat, lon): (f64, f64) = Geodesic::wgs84().direct(-30.0, 151.0, azimuth, d);
                    let (h, theta) = (height(lat, lon), d / r);
                    ((r + h) * theta.cos() - (r + 1.7)) / ((r + h) * theta.sin())
                })
                .fold(f64::NEG_INFINITY, f64::max);
            // The grid rounds the top off by a few metres over 20 km.
            assert!(
                (ray.altitude_deg - best.atan().to_degrees()).abs() < 0.02,
                "{azimuth}: {} {}",
                ray.altitude_deg,
                best.atan().to_degrees()
            );
        }
    }

    #[test]
    fn leaping_over_low_ground_changes_nothing() {
        let rough = |lat: f64, lon: f64| {
            let (x, y) = (lat * 700.0, lon * 500.0);
            600.0
                + 400.0 * (x * 0.02).sin() * (y * 0.017).cos()
                + 60.0 * (x * 0.31 + y * 0.23).sin()
                + 9.0 * (x * 1.7).cos() * (y * 2.3).sin()
        };
        let terrain = ground(47.0, 7.0, 1800, 1500, rough);
        let search = HorizonSearch::new(&terrain, RayOptions::default());
        for (lat, lon) in [(46.4, 7.7), (46.9, 8.3), (45.9, 7.1)] {
            let eye = search.viewpoint(lat, lon).unwrap();
            for i in 0..180 {
                let azimuth = f64::from(i) * 2.0 + 0.37;
                let (leapt, plain) = (eye.cast::<true>(azimuth).unwrap(), eye.cast::<false>(azimuth).unwrap());
                assert_eq!(
                    (leapt.altitude_deg, leapt.distance_km),
                    (plain.altitude_deg, plain.distance_km),
                    "{lat} {azimuth}"
                );
            }
        }
    }

    #[test]
    fn rays_cross_the_date_line() {
        let shape = RasterShape {
            west_deg: 179.5,
            north_deg: -16.0,
            lon_step_deg: STEP,
            lat_step_deg: STEP,
            columns: 1200,
            rows: 600,
        };
        let samples = (0..1200 * 600).map(|i| if i % 1200 > 900 { 800.0 } else { 5.0 }).collect();
        let terrain = Terrain::from_grid("made", shape, samples).unwrap();
        let search = HorizonSearch::new(&terrain, RayOptions::default());
        for lon in [179.9, -179.9] {
            let ray = search.viewpoint(-16.2, lon).unwrap().ray(90.0).unwrap();
            let d = geodesic_m((-16.2, lon), (-16.2, -179.75 + STEP));
            assert!((ray.distance_km * 1000.0 - d).abs() < 150.0 && ray.altitude_deg > 1.0, "{ray:?} {d}");
        }
    }

    #[test]
    fn ground_that_is_not_known_is_reported_and_never_taken_for_low() {
        let terrain =
            ground(
                0.1,
                10.0,
                240,
                240,
                |lat, lon| if lat.abs() < 0.01 && (10.1..10.12).contains(&lon) { f64::NAN } else { 20.0 },
            );
        let search = HorizonSearch::new(&terrain, RayOptions::default());
        let eye = search.viewpoint(0.0, 10.05).unwrap();
        let ray = eye.ray(90.0).unwrap();
        let [void, missing, ..] = ray.unseen.as_slice() else { panic!("{ray:?}") };
        assert!(
            !void.missing && (void.from_m - 5500.0).abs() < 150.0 && (void.to_m - 7790.0).abs() < 150.0,
            "{void:?}"
        );
        assert!(
            missing.missing && (missing.from_m - 16_600.0).abs() < 200.0 && missing.to_m > 199_000.0,
            "{missing:?}"
        );
        assert_eq!(missing.tile(), "N00E010");
        // What would hide a Sun at 3° there, by the surveyor's rule.
        let needed = eye.needed_m(90.0, 3.0, missing.from_m, missing.to_m);
        let rule =
            21.7 + missing.from_m * 3.0_f64.to_radians().tan() + missing.from_m.powi(2) * 0.87 / (2.0 * 6_378_000.0);
        assert!((needed - rule).abs() < 2.0, "{needed} {rule}");
        assert!(matches!(search.viewpoint(0.0, 10.11), Err(TerrainError::Void { .. })));
        assert!(matches!(search.viewpoint(5.0, 10.11), Err(TerrainError::Missing { .. })));
    }
}
