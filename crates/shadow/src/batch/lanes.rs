//! Eight numbers side by side, and the few functions of them that the solver needs.
//!
//! The vector type and the choice of instruction set at run time come from `fearless_simd`. Used are only additions,
//! multiplications, divisions, square roots, comparisons and choices, which every processor rounds alike; no fused
//! multiply-add, no approximate reciprocals, no minimum or maximum whose answer on NaN depends on the machine. Results
//! are the same bits everywhere.

use fearless_simd::prelude::*;
use fearless_simd::{Simd, f64x8, mask64x8};
use std::f64::consts::PI;

/// Sites worked on together. Two vectors of four keep a core's adders and multipliers busy while results are under way.
pub(super) const LANES: usize = 8;

/// Eight numbers.
pub(super) type Lanes<S> = f64x8<S>;

/// Eight answers.
pub(super) type Mask<S> = mask64x8<S>;

/// The same number in every lane.
#[inline(always)]
pub(super) fn all<S: Simd>(simd: S, value: f64) -> Lanes<S> {
    Lanes::splat(simd, value)
}

/// The larger; `b` where `a` is not a number.
#[inline(always)]
pub(super) fn larger<S: Simd>(a: Lanes<S>, b: Lanes<S>) -> Lanes<S> {
    a.simd_gt(b).select(a, b)
}

/// The smaller; `b` where `a` is not a number.
#[inline(always)]
pub(super) fn smaller<S: Simd>(a: Lanes<S>, b: Lanes<S>) -> Lanes<S> {
    a.simd_lt(b).select(a, b)
}

/// Within ±`reach`; `-reach` where it is not a number.
#[inline(always)]
pub(super) fn clamp<S: Simd>(value: Lanes<S>, reach: f64) -> Lanes<S> {
    let reach = all(value.token(), reach);
    smaller(larger(value, -reach), reach)
}

/// A power series with the same coefficients in every lane, lowest first.
#[inline(always)]
pub(super) fn series<S: Simd, const N: usize>(x: Lanes<S>, coefficients: &[f64; N]) -> Lanes<S> {
    let mut sum = all(x.token(), coefficients[N - 1]);
    for k in (0..N - 1).rev() {
        sum = sum * x + coefficients[k];
    }
    sum
}

/// Sine and cosine of an angle between −180° and 180°: a quarter of the angle by Taylor series truncated below 3e-16,
/// doubled twice.
#[inline(always)]
pub(super) fn sin_cos_deg<S: Simd>(deg: Lanes<S>) -> (Lanes<S>, Lanes<S>) {
    // 1/n! with alternating signs.
    const SIN: [f64; 8] = [
        1.0,
        -1.0 / 6.0,
        1.0 / 120.0,
        -1.0 / 5_040.0,
        1.0 / 362_880.0,
        -1.0 / 39_916_800.0,
        1.0 / 6_227_020_800.0,
        -1.0 / 1_307_674_368_000.0,
    ];
    const COS: [f64; 9] = [
        1.0,
        -1.0 / 2.0,
        1.0 / 24.0,
        -1.0 / 720.0,
        1.0 / 40_320.0,
        -1.0 / 3_628_800.0,
        1.0 / 479_001_600.0,
        -1.0 / 87_178_291_200.0,
        1.0 / 20_922_789_888_000.0,
    ];
    let quarter = deg * (PI / 720.0);
    let square = quarter * quarter;
    let (mut s, mut c) = (quarter * series(square, &SIN), series(square, &COS));
    for _ in 0..2 {
        (s, c) = (s * c * 2.0, 1.0 - s * s * 2.0);
    }
    (s, c)
}

/// The angle of the point (x, y), degrees in [−180, 180]; 0 at the origin.
///
/// Reduced to within π/8 of the middle or the ends of an octant pair; there an odd polynomial of degree 13, a
/// near-minimax fit to the arc tangent with an error of 2.2e-11 rad.
#[inline(always)]
pub(super) fn atan2_deg<S: Simd>(y: Lanes<S>, x: Lanes<S>) -> Lanes<S> {
    const ATAN: [f64; 7] = [
        0.999_999_999_978_398_8,
        -0.333_333_320_976_093_86,
        0.199_998_838_565_513_03,
        -0.142_815_887_726_541_24,
        0.110_404_892_272_182_4,
        -0.084_561_928_869_404_96,
        0.047_073_481_419_680_2,
    ];
    const TAN_EIGHTH: f64 = 0.414_213_562_373_095_03;
    let simd = x.token();
    let zero = all(simd, 0.0);
    let (wide, high) = (x.abs(), y.abs());
    let steep = high.simd_gt(wide);
    let (small, large) = (steep.select(wide, high), steep.select(high, wide));
    let beyond = small.simd_gt(large * TAN_EIGHTH);
    // atan(q) = π/4 + atan((q − 1)/(q + 1)).
    let numerator = beyond.select(small - large, small);
    let denominator = beyond.select(small + large, large);
    // The smallest positive number guards 0/0 and changes nothing else.
    let q = numerator / larger(denominator, all(simd, f64::MIN_POSITIVE));
    let from_ends = q * series(q * q, &ATAN) * (180.0 / PI);
    let acute = from_ends + beyond.select(all(simd, 45.0), zero);
    let first_quadrant = steep.select(90.0 - acute, acute);
    let upper = x.simd_lt(zero).select(180.0 - first_quadrant, first_quadrant);
    y.simd_lt(zero).select(-upper, upper)
}

#[cfg(test)]
mod tests {
    use super::*;
    use fearless_simd::{Level, dispatch};

    #[test]
    fn sines_and_cosines_agree_with_the_standard_library() {
        for k in -1800..=1800 {
            let deg = f64::from(k) / 10.0;
            let (s, c) = dispatch!(Level::new(), simd => {
                let (s, c) = sin_cos_deg(all(simd, deg));
                (s[0], c[7])
            });
            let (sin, cos) = deg.to_radians().sin_cos();
            assert!((s - sin).abs() < 3e-15 && (c - cos).abs() < 3e-15, "{deg}");
        }
    }

    #[test]
    fn angles_agree_with_the_standard_library() {
        let angle = |y: f64, x: f64| dispatch!(Level::new(), simd => atan2_deg(all(simd, y), all(simd, x))[3]);
        for k in -7200..=7200 {
            let deg = f64::from(k) / 40.0;
            let (sin, cos) = deg.to_radians().sin_cos();
            for length in [1e-6, 1.0, 3e5] {
                let (found, expected) =
                    (angle(length * sin, length * cos), (length * sin).atan2(length * cos).to_degrees());
                assert!((found - expected).abs() < 2e-9, "{deg}: {found}");
            }
        }
        assert_eq!(angle(0.0, 0.0), 0.0);
    }
}
