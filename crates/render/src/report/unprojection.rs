//! From a point of a map drawing back to the globe, without the projection: tensor Chebyshev interpolation.

use super::model::Unprojection;
use noonfall_drawing::projection::unit_vector;
use noonfall_ephemeris::GeoPoint;

/// Terms in each direction. At 16 the series follows every projection used here to well under a metre on a regional map
/// and to some tens of metres over half a globe.
const TERMS: usize = 16;

impl Unprojection {
    /// Samples the inverse of a projection over a window `[left, top, width, height]`; `None` if any sample has no place
    /// on the globe.
    ///
    /// # Source
    /// Discrete orthogonality of Chebyshev polynomials at their nodes (Mason and Handscomb 2003, Chebyshev Polynomials,
    /// section 4.6; page from memory).
    pub fn sample(window: [f64; 4], place: impl Fn([f64; 2]) -> Option<GeoPoint>) -> Option<Unprojection> {
        let [left, top, width, height] = window;
        let node = |k: usize| (std::f64::consts::PI * (k as f64 + 0.5) / TERMS as f64).cos();
        let mut values = vec![[0.0; 3]; TERMS * TERMS];
        for row in 0..TERMS {
            for column in 0..TERMS {
                let point = [left + width * 0.5 * (node(column) + 1.0), top + height * 0.5 * (node(row) + 1.0)];
                values[row * TERMS + column] = unit_vector(place(point)?);
            }
        }
        let basis = |degree: usize, k: usize| {
            (std::f64::consts::PI * degree as f64 * (k as f64 + 0.5) / TERMS as f64).cos()
                * if degree == 0 { 1.0 } else { 2.0 }
                / TERMS as f64
        };
        let series = |component: usize| {
            let mut coefficients = Vec::with_capacity(TERMS * TERMS);
            for j in 0..TERMS {
                for i in 0..TERMS {
                    let mut sum = 0.0;
                    for row in 0..TERMS {
                        for column in 0..TERMS {
                            sum += values[row * TERMS + column][component] * basis(j, row) * basis(i, column);
                        }
                    }
                    // A ten-billionth of the Earth's radius is under a millimetre.
                    coefficients.push((sum * 1e10).round() / 1e10 + 0.0);
                }
            }
            coefficients
        };
        Some(Unprojection { terms: TERMS, coefficients: [series(0), series(1), series(2)] })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn evaluate(series: &Unprojection, window: [f64; 4], point: [f64; 2]) -> [f64; 3] {
        let scaled = [2.0 * (point[0] - window[0]) / window[2] - 1.0, 2.0 * (point[1] - window[1]) / window[3] - 1.0];
        let t = |degree: usize, x: f64| (degree as f64 * x.acos()).cos();
        std::array::from_fn(|component| {
            let mut sum = 0.0;
            for j in 0..series.terms {
                for i in 0..series.terms {
                    sum += series.coefficients[component][j * series.terms + i] * t(i, scaled[0]) * t(j, scaled[1]);
                }
            }
            sum
        })
    }

    /// Lambert's azimuthal equal-area projection of the sphere about (0, 0), written out (Snyder 1987, Map Projections:
    /// A Working Manual, USGS Professional Paper 1395, equations 20-14 to 20-18).
    #[test]
    fn follows_a_projection_over_half_a_globe() {
        let window = [0.0, 0.0, 1200.0, 900.0];
        let inverse = |p: [f64; 2]| {
            let (x, y) = ((p[0] - 600.0) / 600.0, (450.0 - p[1]) / 600.0);
            let rho = x.hypot(y);
            let c = 2.0 * (rho / 2.0).asin();
            let lat = if rho == 0.0 { 0.0 } else { (y * c.sin() / rho).asin() };
            let lon = (x * c.sin()).atan2(rho * c.cos());
            GeoPoint::new(lat.to_degrees(), lon.to_degrees()).ok()
        };
        let series = Unprojection::sample(window, inverse).unwrap();
        let mut worst: f64 = 0.0;
        for i in 0..=40 {
            for j in 0..=40 {
                let p = [30.0 * i as f64, 22.5 * j as f64];
                let (found, expected) = (evaluate(&series, window, p), unit_vector(inverse(p).unwrap()));
                let off = (0..3).map(|k| (found[k] - expected[k]).powi(2)).sum::<f64>().sqrt();
                worst = worst.max(off * 6_371_000.0);
            }
        }
        assert!(worst < 60.0, "{worst} m");
    }

    #[test]
    fn a_window_that_reaches_off_the_globe_has_no_way_back() {
        assert!(Unprojection::sample([0.0, 0.0, 10.0, 10.0], |_| None).is_none());
    }
}
