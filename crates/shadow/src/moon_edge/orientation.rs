//! How the Moon is turned: IAU WGCCRE 2015.
//!
//! # Source
//! Archinal et al. 2018, Celest. Mech. Dyn. Astron. 130, 22: right ascension and declination of the north pole and the
//! angle of the prime meridian in ICRF, mean-Earth/polar-axis frame, good to some 150 m on the Moon. The coefficients are
//! held by the worked example of Meeus (see the tests) and by the librations of an independent program.

use crate::elements::{BesselianElements, HALF_SPAN_S};
use crate::polynomial::{horner, node, through};
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::constants::DAY_S;
use noonfall_ephemeris::constants::{EARTH_RADIUS_KM, SPEED_OF_LIGHT_KM_S};
use noonfall_ephemeris::vector::{Mat3, Vec3, add, rotate, rotate_back, scale};

/// Arguments E1 to E13: degrees at J2000.0, degrees a day.
const ARGUMENTS: [(f64, f64); 13] = [
    (125.045, -0.052_992_1),
    (250.089, -0.105_984_2),
    (260.008, 13.012_000_9),
    (176.625, 13.340_715_4),
    (357.529, 0.985_600_3),
    (311.589, 26.405_708_4),
    (134.963, 13.064_993_0),
    (276.617, 0.328_714_6),
    (34.226, 1.748_487_7),
    (15.134, -0.158_976_3),
    (119.743, 0.003_609_6),
    (239.961, 0.164_357_3),
    (25.053, 12.959_008_8),
];

/// Terms of the pole's right ascension (sines), its declination (cosines) and the prime meridian (sines), degrees.
const POLE_AND_MERIDIAN: [[f64; 3]; 13] = [
    [-3.8787, 1.5419, 3.5610],
    [-0.1204, 0.0239, 0.1208],
    [0.0700, -0.0278, -0.0642],
    [-0.0172, 0.0068, 0.0158],
    [0.0, 0.0, 0.0252],
    [0.0072, -0.0029, -0.0066],
    [0.0, 0.0009, -0.0047],
    [0.0, 0.0, -0.0046],
    [0.0, 0.0, 0.0028],
    [-0.0052, 0.0008, 0.0052],
    [0.0, 0.0, 0.0040],
    [0.0, 0.0, 0.0019],
    [0.0043, -0.0009, -0.0044],
];

/// Rotation from ICRF axes to the Moon's: the third axis is its north pole, the first its mean side to the Earth.
pub(super) fn icrf_to_moon(tt: Tt) -> Mat3 {
    let days = tt.0 / DAY_S;
    let centuries = days / 36_525.0;
    let mut ra_deg = 269.9949 + 0.0031 * centuries;
    let mut dec_deg = 66.5392 + 0.0130 * centuries;
    let mut meridian_deg = 38.3213 + 13.176_358_15 * days - 1.4e-12 * days * days;
    for ((start_deg, rate_deg), [ra, dec, meridian]) in ARGUMENTS.into_iter().zip(POLE_AND_MERIDIAN) {
        let (sin, cos) = (start_deg + rate_deg * days).to_radians().sin_cos();
        ra_deg += ra * sin;
        dec_deg += dec * cos;
        meridian_deg += meridian * sin;
    }
    let (sin_ra, cos_ra) = ra_deg.to_radians().sin_cos();
    let (sin_dec, cos_dec) = dec_deg.to_radians().sin_cos();
    let (sin_w, cos_w) = meridian_deg.to_radians().sin_cos();
    // The ascending node of the Moon's equator on ICRF's, and the point of the equator a quarter turn on.
    let node: Vec3 = [-sin_ra, cos_ra, 0.0];
    let quarter: Vec3 = [-cos_ra * sin_dec, -sin_ra * sin_dec, cos_dec];
    [
        add(scale(node, cos_w), scale(quarter, sin_w)),
        add(scale(node, -sin_w), scale(quarter, cos_w)),
        [cos_ra * cos_dec, sin_ra * cos_dec, sin_dec],
    ]
}

/// Nodes of the polynomials: the Moon turns by 4° over the span, and a sixth power leaves less than 1e-9.
const NODES: usize = 7;

/// Rotation from the fundamental frame (east, north, towards the Sun) to the Moon's axes, through one eclipse.
#[derive(Clone, Debug)]
pub(super) struct MoonAxes {
    epoch: Tt,
    columns: [[[f64; NODES]; 3]; 3],
}

impl MoonAxes {
    /// For the eclipse of some elements.
    pub(super) fn of(elements: &BesselianElements) -> MoonAxes {
        let epoch = elements.epoch();
        let columns: [[Vec3; 3]; NODES] = std::array::from_fn(|k| {
            let tt = epoch.plus(node(k, NODES) * HALF_SPAN_S);
            let axis = elements.axis(tt);
            let (sin_ra, cos_ra) = axis.right_ascension_rad.sin_cos();
            let (sin_dec, cos_dec) = axis.declination_rad.sin_cos();
            // The Moon as it was when the light left it. The Earth's radius of difference between places turns it by 3e-6°.
            let to_moon = icrf_to_moon(tt.plus(-axis.moon_z * EARTH_RADIUS_KM / SPEED_OF_LIGHT_KM_S));
            let east = [-sin_ra, cos_ra, 0.0];
            let north = [-sin_dec * cos_ra, -sin_dec * sin_ra, cos_dec];
            let sunward = [cos_dec * cos_ra, cos_dec * sin_ra, sin_dec];
            [east, north, sunward].map(|v| rotate(&to_moon, rotate_back(elements.celestial_to_intermediate(), v)))
        });
        let fit = |axis: usize, row: usize| through(&std::array::from_fn(|k| columns[k][axis][row]));
        MoonAxes { epoch, columns: std::array::from_fn(|axis| std::array::from_fn(|row| fit(axis, row))) }
    }

    /// The components' coefficients in powers of the time since the elements' epoch over their half span.
    pub(super) fn polynomials(&self) -> [[Vec<f64>; 3]; 3] {
        std::array::from_fn(|axis| std::array::from_fn(|row| self.columns[axis][row].to_vec()))
    }

    /// East, north and sunward in the Moon's axes.
    pub(super) fn at(&self, tt: Tt) -> [Vec3; 3] {
        let s = (tt - self.epoch) / HALF_SPAN_S;
        std::array::from_fn(|axis| std::array::from_fn(|row| horner(&self.columns[axis][row], s)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::vector::{dot, sub, unit};
    use noonfall_ephemeris::{Body, Kernel, apparent};

    /// Meeus, Astronomical Algorithms (2nd ed.), example 53.a: 1992-04-12 0h TD, l = −1.23°, b = +4.20°, position angle
    /// of the axis 15.08°. Tolerance: mean-Earth axes against the analytical theory's (0.03°), equator of date against
    /// ICRF (0.04° in the angle).
    #[test]
    fn librations_of_meeus_example_53a() {
        let tt = Tt::from_calendar(1992, 4, 12, 0.0);
        let moon = apparent::from_earth(Kernel::embedded(), Body::Moon, tt).unwrap();
        let axes = icrf_to_moon(tt.plus(-moon.light_time_s));
        let towards_earth = rotate(&axes, unit(scale(moon.position_km, -1.0)));
        let lon_deg = towards_earth[1].atan2(towards_earth[0]).to_degrees();
        let lat_deg = towards_earth[2].asin().to_degrees();
        assert!((lon_deg + 1.23).abs() < 0.01, "{lon_deg}");
        assert!((lat_deg - 4.20).abs() < 0.03, "{lat_deg}");
        let sight = unit(moon.position_km);
        let north = sub([0.0, 0.0, 1.0], scale(sight, sight[2]));
        let east = noonfall_ephemeris::vector::cross(north, sight);
        let axis_deg = dot(axes[2], east).atan2(dot(axes[2], north)).to_degrees();
        assert!((axis_deg - 15.08).abs() < 0.04, "{axis_deg}");
    }

    #[test]
    fn the_polynomials_follow_the_formula() {
        let epoch = Tt::from_calendar(2028, 7, 22, 3.0);
        let elements = BesselianElements::about(Kernel::embedded(), epoch, 69.0, &Default::default()).unwrap();
        let axes = MoonAxes::of(&elements);
        for k in -10..=10 {
            let tt = epoch.plus(f64::from(k) * 0.1 * HALF_SPAN_S);
            let [_, _, sunward] = axes.at(tt);
            let shadow = elements.axis(tt);
            let (sin_ra, cos_ra) = shadow.right_ascension_rad.sin_cos();
            let (sin_dec, cos_dec) = shadow.declination_rad.sin_cos();
            let to_intermediate = noonfall_ephemeris::earth_orientation::celestial_to_intermediate(tt);
            let direct = rotate(
                &icrf_to_moon(tt.plus(-shadow.moon_z * EARTH_RADIUS_KM / SPEED_OF_LIGHT_KM_S)),
                rotate_back(&to_intermediate, [cos_dec * cos_ra, cos_dec * sin_ra, sin_dec]),
            );
            // 1e-7 rad is 0.2 m on the Moon; most of it is the nutation of a few hours.
            assert!(sub(direct, sunward).iter().all(|d| d.abs() < 1e-7), "{k}: {:?}", sub(direct, sunward));
        }
    }
}
