//! Besselian elements: the shadow axis as Chebyshev polynomials over the whole eclipse.
//!
//! The polynomials are fitted to [`ShadowAxis`] at Chebyshev nodes and compared with it between the nodes; a fit that
//! is off by more than [`LARGEST_FIT_ERROR`] is refused. They hold TT alone: ΔT only turns the Earth under them.

use crate::conventions::Conventions;
use crate::polynomial::{horner, horner_curvature, horner_with_slope, node, through};
use crate::shadow_axis::{QUANTITIES, ShadowAxis};
use noonfall_ephemeris::earth_orientation::{celestial_to_intermediate, earth_rotation_angle_rad};
use noonfall_ephemeris::vector::Mat3;
use noonfall_ephemeris::{Kernel, KernelError, Tt};

/// Half the span of the polynomials, seconds. No eclipse lasts longer than 6 h 30 min on the whole Earth.
pub const HALF_SPAN_S: f64 = 3.6 * 3600.0;

/// Number of coefficients of each polynomial.
pub const COEFFICIENTS: usize = 11;

/// Largest disagreement between the polynomials and the ephemeris that is accepted, Earth radii and radians: 1e-9 is
/// 6 mm on the fundamental plane.
pub const LARGEST_FIT_ERROR: f64 = 1e-9;

/// Number of nodes at which precession and nutation are computed; they change so slowly that a parabola serves.
const ORIENTATION_NODES: usize = 4;

/// Coefficients of one quantity in powers of the scaled time, lowest first.
pub type Polynomial = [f64; COEFFICIENTS];

/// Value and rate of a quantity.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rated {
    /// The value.
    pub value: f64,
    /// Its change per second.
    pub rate: f64,
}

/// The shadow of one eclipse as polynomials in time.
#[derive(Clone, Debug, PartialEq)]
pub struct BesselianElements {
    epoch: Tt,
    delta_t_s: f64,
    power: [Polynomial; QUANTITIES],
    fit_error: f64,
    to_intermediate: Mat3,
}

/// The elements at one instant, with rates per second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// The instant.
    pub tt: Tt,
    /// Axis eastwards of the Earth's centre.
    pub x: Rated,
    /// Axis northwards of the Earth's centre.
    pub y: Rated,
    /// Acceleration of x, Earth radii per second squared.
    pub x_acceleration: f64,
    /// Acceleration of y, Earth radii per second squared.
    pub y_acceleration: f64,
    /// Sine of the declination of the axis.
    pub sin_d: f64,
    /// Cosine of the declination of the axis.
    pub cos_d: f64,
    /// Rate of the declination, radians per second.
    pub d_rate: f64,
    /// Greenwich hour angle of the axis, radians, with its rate.
    pub mu: Rated,
    /// Radius of the penumbra in the fundamental plane.
    pub l1: Rated,
    /// Radius of the umbra in the fundamental plane, negative where total.
    pub l2: Rated,
    /// Tangent of the half-angle of the penumbra.
    pub tan_f1: f64,
    /// Tangent of the half-angle of the umbra.
    pub tan_f2: f64,
    /// Change of x and y with ζ, by light time.
    pub slope: [f64; 2],
    /// Distance of the Moon from the fundamental plane.
    pub moon_z: Rated,
    /// Distance from the Moon to the Sun.
    pub sun_beyond_moon: f64,
}

/// Why elements could not be made.
#[derive(Debug, thiserror::Error)]
pub enum ElementsError {
    /// The kernel does not cover the eclipse.
    #[error(transparent)]
    Kernel(#[from] KernelError),
    /// The polynomials do not follow the ephemeris: the kernel is damaged, or holds something other than Sun and Moon.
    #[error(
        "the shadow computed from kernel {kernel} does not run smoothly (fit error {error:.1e} Earth radii); the kernel is damaged"
    )]
    Rough {
        /// The kernel.
        kernel: String,
        /// The fit error found.
        error: f64,
    },
}

impl BesselianElements {
    /// Elements about an instant near greatest eclipse.
    ///
    /// # Errors
    /// [`ElementsError`] if the kernel does not cover the span, or covers it with something that is not smooth.
    pub fn about(
        kernel: &Kernel,
        epoch: Tt,
        delta_t_s: f64,
        conventions: &Conventions,
    ) -> Result<BesselianElements, ElementsError> {
        let orientation = Orientation::about(epoch);
        let at = |s: f64| -> Result<[f64; QUANTITIES], KernelError> {
            let tt = epoch.plus(s * HALF_SPAN_S);
            Ok(ShadowAxis::at(kernel, tt, &orientation.at(s), conventions)?.to_array())
        };
        let mut samples = [[0.0; QUANTITIES]; COEFFICIENTS];
        for (k, sample) in samples.iter_mut().enumerate() {
            *sample = at(node(k, COEFFICIENTS))?;
        }
        unwrap_right_ascension(&mut samples);
        let mut power = [[0.0; COEFFICIENTS]; QUANTITIES];
        for (quantity, polynomial) in power.iter_mut().enumerate() {
            let values: [f64; COEFFICIENTS] = std::array::from_fn(|k| samples[k][quantity]);
            *polynomial = through(&values);
        }
        let to_intermediate = orientation.at(0.0);
        let mut elements = BesselianElements { epoch, delta_t_s, power, fit_error: 0.0, to_intermediate };
        // Between the nodes, and near both ends, where a poor fit shows first.
        for s in [-0.99, -0.93, -0.62, -0.21, 0.04, 0.37, 0.78, 0.93, 0.99] {
            let direct = at(s)?;
            for (quantity, &value) in direct.iter().enumerate() {
                let mut error = (horner(&elements.power[quantity], s) - value).abs();
                if quantity == RIGHT_ASCENSION {
                    let turn = std::f64::consts::TAU;
                    error = (error - (error / turn).round() * turn).abs();
                }
                // Distances of thousands of radii are judged by how they move the edge of the cone.
                let weight = match quantity {
                    MOON_Z => 0.005,
                    SUN_BEYOND_MOON => 1e-6,
                    _ => 1.0,
                };
                elements.fit_error = elements.fit_error.max(error * weight);
            }
        }
        if elements.fit_error.is_nan() || elements.fit_error > LARGEST_FIT_ERROR {
            return Err(ElementsError::Rough { kernel: kernel.describe(), error: elements.fit_error });
        }
        Ok(elements)
    }

    /// The same shadow over an Earth turned by another ΔT.
    pub fn with_delta_t(&self, delta_t_s: f64) -> BesselianElements {
        BesselianElements { delta_t_s, ..self.clone() }
    }

    /// The middle of the span.
    pub fn epoch(&self) -> Tt {
        self.epoch
    }

    /// ΔT, seconds.
    pub fn delta_t_s(&self) -> f64 {
        self.delta_t_s
    }

    /// Rotation from ICRF axes to those of the pole of date and the intermediate origin, at the middle of the span; over the
    /// span it changes by 0.01″.
    pub fn celestial_to_intermediate(&self) -> &Mat3 {
        &self.to_intermediate
    }

    /// Largest disagreement found between the polynomials and the ephemeris, Earth radii and radians.
    pub fn fit_error(&self) -> f64 {
        self.fit_error
    }

    /// First and last instant for which the elements hold.
    pub fn span(&self) -> (Tt, Tt) {
        (self.epoch.plus(-HALF_SPAN_S), self.epoch.plus(HALF_SPAN_S))
    }

    /// Coefficients in powers of `(tt − epoch) / HALF_SPAN_S`, in the order x, y, declination, right ascension, distance
    /// of the Moon, of the Sun beyond the Moon, light-time slopes of x and y, l1, l2, tan f1, tan f2.
    pub fn coefficients(&self) -> &[Polynomial; QUANTITIES] {
        &self.power
    }

    /// Greenwich hour angle of the axis at the epoch (radians) and the Earth's part of its rate (radians per second);
    /// the right ascension of the axis is to be subtracted.
    pub fn earth_rotation_at_epoch_rad(&self) -> f64 {
        earth_rotation_angle_rad(self.epoch, self.delta_t_s).rem_euclid(std::f64::consts::TAU)
    }

    /// The shadow at an instant, as the ephemeris would give it.
    pub fn axis(&self, tt: Tt) -> ShadowAxis {
        let s = (tt - self.epoch) / HALF_SPAN_S;
        ShadowAxis::from_array(std::array::from_fn(|i| horner(&self.power[i], s)))
    }

    /// The elements at an instant, ready for a place.
    pub fn at(&self, tt: Tt) -> Moment {
        let dt = tt - self.epoch;
        let s = dt / HALF_SPAN_S;
        let rated = |quantity: usize| {
            let (value, slope) = horner_with_slope(&self.power[quantity], s);
            Rated { value, rate: slope / HALF_SPAN_S }
        };
        let declination = rated(DECLINATION);
        let right_ascension = rated(RIGHT_ASCENSION);
        let (sin_d, cos_d) = declination.value.sin_cos();
        let turn_rad = noonfall_ephemeris::constants::EARTH_ROTATION_RAD_S;
        Moment {
            tt,
            x: rated(X),
            y: rated(Y),
            x_acceleration: horner_curvature(&self.power[X], s) / (HALF_SPAN_S * HALF_SPAN_S),
            y_acceleration: horner_curvature(&self.power[Y], s) / (HALF_SPAN_S * HALF_SPAN_S),
            sin_d,
            cos_d,
            d_rate: declination.rate,
            mu: Rated {
                value: self.earth_rotation_at_epoch_rad() + turn_rad * dt - right_ascension.value,
                rate: turn_rad - right_ascension.rate,
            },
            l1: rated(L1),
            l2: rated(L2),
            tan_f1: horner(&self.power[TAN_F1], s),
            tan_f2: horner(&self.power[TAN_F2], s),
            slope: [horner(&self.power[X_SLOPE], s), horner(&self.power[Y_SLOPE], s)],
            moon_z: rated(MOON_Z),
            sun_beyond_moon: horner(&self.power[SUN_BEYOND_MOON], s),
        }
    }
}

const X: usize = 0;
const Y: usize = 1;
const DECLINATION: usize = 2;
const RIGHT_ASCENSION: usize = 3;
const MOON_Z: usize = 4;
const SUN_BEYOND_MOON: usize = 5;
const X_SLOPE: usize = 6;
const Y_SLOPE: usize = 7;
const L1: usize = 8;
const L2: usize = 9;
const TAN_F1: usize = 10;
const TAN_F2: usize = 11;

/// Precession and nutation over the span, as a polynomial through a few exact matrices.
///
/// Over seven hours the matrix changes by a few 1e-9; a cubic through it is exact far beyond double precision's need.
struct Orientation {
    nodes: [(f64, Mat3); ORIENTATION_NODES],
}

impl Orientation {
    fn about(epoch: Tt) -> Orientation {
        Orientation {
            nodes: std::array::from_fn(|k| {
                let s = node(k, ORIENTATION_NODES);
                (s, celestial_to_intermediate(epoch.plus(s * HALF_SPAN_S)))
            }),
        }
    }

    /// Lagrange interpolation between the nodes.
    fn at(&self, s: f64) -> Mat3 {
        let mut m = [[0.0; 3]; 3];
        for (k, (sk, matrix)) in self.nodes.iter().enumerate() {
            let weight: f64 = self
                .nodes
                .iter()
                .enumerate()
                .filter(|&(j, _)| j != k)
                .map(|(_, (sj, _))| (s - sj) / (sk - sj))
                .product();
            for (row, source) in m.iter_mut().zip(matrix) {
                for (cell, value) in row.iter_mut().zip(source) {
                    *cell += weight * value;
                }
            }
        }
        m
    }
}

/// Right ascension jumps by a turn at the intermediate origin; the fit needs it smooth.
fn unwrap_right_ascension(samples: &mut [[f64; QUANTITIES]; COEFFICIENTS]) {
    let turn = std::f64::consts::TAU;
    let first = samples[0][RIGHT_ASCENSION];
    for sample in samples.iter_mut() {
        let away = sample[RIGHT_ASCENSION] - first;
        sample[RIGHT_ASCENSION] -= (away / turn).round() * turn;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fit_error_is_millimetres_over_two_centuries() {
        for (year, month, day, hour) in
            [(1900, 5, 28, 15.0), (1955, 6, 20, 4.0), (2028, 7, 22, 3.0), (2099, 9, 14, 17.0)]
        {
            let epoch = Tt::from_calendar(year, month, day, hour);
            let elements = BesselianElements::about(Kernel::embedded(), epoch, 69.0, &Conventions::default()).unwrap();
            assert!(elements.fit_error() < 3e-10, "{year}: {}", elements.fit_error());
        }
    }

    #[test]
    fn rates_are_slopes() {
        let epoch = Tt::from_calendar(2028, 7, 22, 3.0);
        let e = BesselianElements::about(Kernel::embedded(), epoch, 69.0, &Conventions::default()).unwrap();
        let (before, now, after) = (e.at(epoch.plus(-1.0)), e.at(epoch), e.at(epoch.plus(1.0)));
        for (a, m, b) in [(before.x, now.x, after.x), (before.mu, now.mu, after.mu), (before.l2, now.l2, after.l2)] {
            assert!(((b.value - a.value) / 2.0 - m.rate).abs() < 1e-12);
        }
    }
}
