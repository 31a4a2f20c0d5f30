//! Gauss–Legendre quadrature, the one integration rule of the light and shadow-band integrals.

use std::f64::consts::PI;

/// Nodes and weights of a Gauss–Legendre rule on (0, 1).
///
/// # Source
/// Newton's iteration on the Legendre recurrence, Abramowitz & Stegun 1964, 25.4.30. Exact for polynomials up to degree
/// 2n − 1.
#[derive(Clone, Debug, PartialEq)]
pub struct GaussLegendre {
    /// (node, weight) pairs, nodes rising; the weights sum to one.
    pub nodes: Vec<(f64, f64)>,
}

impl GaussLegendre {
    /// A rule of `n` nodes, at least one.
    pub fn new(n: usize) -> GaussLegendre {
        let n = n.max(1);
        let mut nodes = Vec::with_capacity(n);
        for i in (0..n).rev() {
            let mut x = (PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..50 {
                let (p, dp) = legendre(n, x);
                slope = dp;
                let step = p / dp;
                x -= step;
                if step.abs() < 1e-15 {
                    slope = legendre(n, x).1;
                    break;
                }
            }
            nodes.push((0.5 * (1.0 + x), 1.0 / ((1.0 - x * x) * slope * slope)));
        }
        GaussLegendre { nodes }
    }

    /// The integral of `f` from `from` to `to`.
    pub fn integrate(&self, from: f64, to: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
        let span = to - from;
        self.nodes.iter().map(|&(x, w)| w * f(from + span * x)).sum::<f64>() * span
    }

    /// As [`GaussLegendre::integrate`] for an `f` that behaves like a square root at either end of the span: the
    /// variable is replaced by `sin²`, which turns square roots into smooth functions.
    pub fn integrate_root_ends(&self, from: f64, to: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
        let span = to - from;
        self.integrate(0.0, 1.0, |v| {
            let (s, c) = (0.5 * PI * v).sin_cos();
            f(from + span * s * s) * PI * s * c
        }) * span
    }
}

/// Legendre polynomial of degree `n` and its derivative, |x| < 1.
fn legendre(n: usize, x: f64) -> (f64, f64) {
    let (mut p, mut before) = (1.0, 0.0);
    for k in 0..n {
        let k = k as f64;
        (p, before) = (((2.0 * k + 1.0) * x * p - k * before) / (k + 1.0), p);
    }
    (p, n as f64 * (x * p - before) / (x * x - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_for_polynomials_of_its_degree() {
        // ∫₀² x⁷ dx = 32, with four nodes.
        assert!((GaussLegendre::new(4).integrate(0.0, 2.0, |x| x.powi(7)) - 32.0).abs() < 1e-12);
    }

    /// Abramowitz & Stegun 1964, table 25.4: for n = 3 on (−1, 1) the outer node is 0.774 596 669 and weight 0.555 555 556.
    #[test]
    fn agrees_with_the_published_nodes() {
        let rule = GaussLegendre::new(3);
        assert!((rule.nodes[2].0 * 2.0 - 1.0 - 0.774_596_669_241_483).abs() < 1e-14);
        assert!((rule.nodes[2].1 * 2.0 - 0.555_555_555_555_556).abs() < 1e-14);
    }

    #[test]
    fn square_root_ends_are_resolved() {
        // Quarter circle: ∫₀¹ √(1 − x²) dx = π/4.
        let area = GaussLegendre::new(24).integrate_root_ends(0.0, 1.0, |x| (1.0 - x * x).sqrt());
        assert!((area - PI / 4.0).abs() < 1e-12, "{area}");
    }
}
