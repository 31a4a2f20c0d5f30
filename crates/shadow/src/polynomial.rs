//! Polynomials on [−1, 1]: fitted at Chebyshev nodes, kept in powers, evaluated by Horner's rule.

use std::f64::consts::PI;

/// The k-th of n Chebyshev nodes in (−1, 1).
pub(crate) fn node(k: usize, n: usize) -> f64 {
    (PI * (k as f64 + 0.5) / n as f64).cos()
}

/// Coefficients in powers, lowest first, of the polynomial through the values of a function at the N Chebyshev nodes.
pub(crate) fn fit<const N: usize>(f: impl Fn(f64) -> f64) -> [f64; N] {
    through(&std::array::from_fn(|k| f(node(k, N))))
}

/// Coefficients in powers of the polynomial through values at the Chebyshev nodes.
pub(crate) fn through<const N: usize>(values: &[f64; N]) -> [f64; N] {
    to_powers(&chebyshev_series(values))
}

/// Chebyshev coefficients through values at the Chebyshev nodes (discrete orthogonality).
fn chebyshev_series<const N: usize>(values: &[f64; N]) -> [f64; N] {
    let n = N as f64;
    std::array::from_fn(|degree| {
        let sum: f64 =
            values.iter().enumerate().map(|(k, value)| value * (PI * degree as f64 * (k as f64 + 0.5) / n).cos()).sum();
        sum * if degree == 0 { 1.0 } else { 2.0 } / n
    })
}

/// A Chebyshev series in powers. At degree ten this costs two digits of the smallest terms and none of the sum.
fn to_powers<const N: usize>(chebyshev: &[f64; N]) -> [f64; N] {
    let mut powers = [0.0; N];
    let (mut before, mut now) = ([0.0; N], [0.0; N]);
    for (degree, &c) in chebyshev.iter().enumerate() {
        let next: [f64; N] = std::array::from_fn(|i| match (degree, i) {
            (0, 0) | (1, 1) => 1.0,
            (0 | 1, _) => 0.0,
            (_, 0) => -before[0],
            _ => 2.0 * now[i - 1] - before[i],
        });
        before = now;
        now = next;
        for (p, t) in powers.iter_mut().zip(now) {
            *p += c * t;
        }
    }
    powers
}

/// Value.
pub(crate) fn horner(p: &[f64], s: f64) -> f64 {
    p.iter().rev().fold(0.0, |sum, &c| sum * s + c)
}

/// Value and derivative.
pub(crate) fn horner_with_slope(p: &[f64], s: f64) -> (f64, f64) {
    p.iter().rev().fold((0.0, 0.0), |(sum, slope), &c| (sum * s + c, slope * s + sum))
}

/// Second derivative.
pub(crate) fn horner_curvature(p: &[f64], s: f64) -> f64 {
    p.iter().enumerate().skip(2).rev().fold(0.0, |sum, (k, &c)| sum * s + (k * (k - 1)) as f64 * c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fit_reproduces_a_polynomial_and_its_derivatives() {
        let p: [f64; 11] = std::array::from_fn(|k| 1.0 / (k as f64 + 1.0));
        let back: [f64; 11] = fit(|s| horner(&p, s));
        for (a, b) in p.iter().zip(back) {
            assert!((a - b).abs() < 1e-11, "{a} {b}");
        }
        let (s, h) = (0.3, 1e-5);
        let slope = (horner(&p, s + h) - horner(&p, s - h)) / (2.0 * h);
        assert!((horner_with_slope(&p, s).1 - slope).abs() < 1e-8);
        let curvature = (horner(&p, s + h) - 2.0 * horner(&p, s) + horner(&p, s - h)) / (h * h);
        assert!((horner_curvature(&p, s) - curvature).abs() < 1e-4);
    }

    /// The error of interpolating sin over ±0.9 by eleven nodes is below 0.9^11/(11! 2^10) = 7.7e-12.
    #[test]
    fn a_sine_is_fitted_to_the_theoretical_error() {
        let p: [f64; 11] = fit(|s| (0.9 * s).sin());
        for k in -100..=100 {
            let s = f64::from(k) / 100.0;
            assert!((horner(&p, s) - (0.9 * s).sin()).abs() < 7.8e-12, "{s}");
        }
    }
}
