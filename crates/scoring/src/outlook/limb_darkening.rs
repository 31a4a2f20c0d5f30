//! Limb darkening: the Sun's disc from centre to limb, and how much of its light the Moon leaves.

use super::quadrature::GaussLegendre;
use std::sync::LazyLock;

/// Brightness of the Sun's disc from centre to limb, `I(μ)/I(1) = Σ Aᵢ μⁱ`, μ the cosine of the angle at the Sun's surface.
///
/// # Source
/// Form and coefficients of Neckel & Labs 1994, Solar Phys. 153, 91–114; valid 303–1099 nm. The coefficients sum to one,
/// and the mean over the disc, `2 Σ Aᵢ/(i + 2)`, reproduces the published column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimbDarkening {
    /// A₀ … A₅.
    pub coefficients: [f64; 6],
}

/// Limb darkening at 550 nm, where the eye is most sensitive: between the rows at 541.76 and 559.95 nm of Neckel & Labs
/// 1994, linearly. Mean over centre 0.8028.
pub const NECKEL_LABS_550_NM: LimbDarkening =
    LimbDarkening { coefficients: [0.26444, 1.30550, -1.43070, 1.67101, -1.12351, 0.31327] };

/// A disc of even brightness: area instead of light.
pub const EVEN_DISC: LimbDarkening = LimbDarkening { coefficients: [1.0, 0.0, 0.0, 0.0, 0.0, 0.0] };

static RULE: LazyLock<GaussLegendre> = LazyLock::new(|| GaussLegendre::new(40));

impl LimbDarkening {
    /// Brightness at μ over that at the centre of the disc.
    pub fn at(&self, mu: f64) -> f64 {
        self.coefficients.iter().rev().fold(0.0, |sum, a| sum * mu + a)
    }

    /// Mean brightness of the whole disc over that at its centre.
    pub fn mean_over_centre(&self) -> f64 {
        self.coefficients.iter().enumerate().map(|(i, a)| 2.0 * a / (i as f64 + 2.0)).sum()
    }

    /// Fraction of the Sun's light that the Moon leaves.
    ///
    /// # Units
    /// Radius of the Moon and distance of the centres in radii of the Sun; 0 to 1 out.
    /// # Source
    /// Ring by ring about the Sun's centre, each dimmed by the arc the Moon covers (plane discs). Check values for a
    /// Moon of 1.056: at a distance of 1.056 (half the diameter covered) 0.59647; 1 % of the diameter left, 0.003181.
    /// ```
    /// use noonfall_scoring::outlook::limb_darkening::NECKEL_LABS_550_NM;
    /// let left = NECKEL_LABS_550_NM.light_left(1.056, 1.056);
    /// assert!((left - 0.59647).abs() < 1e-5);
    /// ```
    pub fn light_left(&self, moon_radius: f64, separation: f64) -> f64 {
        let (r, s) = (moon_radius.max(0.0), separation.abs());
        if !(r.is_finite() && s.is_finite()) || s >= 1.0 + r {
            return 1.0;
        }
        if r >= 1.0 + s {
            return 0.0;
        }
        // Radii at which the Moon's limb begins and ceases to cross the ring.
        let crossing = ((r - s).abs().clamp(0.0, 1.0), (r + s).clamp(0.0, 1.0));
        let ring = |t: f64| {
            let (rho, mu) = t.sin_cos();
            let cosine = (rho * rho + s * s - r * r) / (2.0 * rho * s).max(1e-300);
            let covered = cosine.clamp(-1.0, 1.0).acos() / std::f64::consts::PI;
            self.at(mu) * (1.0 - covered) * rho * mu
        };
        let edges = [0.0, crossing.0.asin(), crossing.1.asin(), std::f64::consts::FRAC_PI_2];
        let left: f64 = edges
            .windows(2)
            .filter(|edge| edge[1] > edge[0])
            .map(|edge| RULE.integrate_root_ends(edge[0], edge[1], ring))
            .sum();
        (2.0 * left / self.mean_over_centre()).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published mean over centre of the disc, Neckel & Labs 1994.
    #[test]
    fn mean_brightness_is_the_published_one() {
        let rows = [
            ([0.15248, 1.38517, -1.49615, 1.99886, -1.48155, 0.44119], 0.7596),
            ([0.26892, 1.34319, -1.58427, 1.91271, -1.31350, 0.37295], 0.8061),
            ([0.33644, 1.30590, -1.79238, 2.45040, -1.89979, 0.59943], 0.8290),
            (NECKEL_LABS_550_NM.coefficients, 0.8028),
        ];
        for (coefficients, mean) in rows {
            let darkening = LimbDarkening { coefficients };
            assert!((darkening.mean_over_centre() - mean).abs() < 6e-5);
            assert!((darkening.at(1.0) - 1.0).abs() < 2e-5);
        }
    }

    /// Independently computed (design fixtures), Moon 1.056, distance 1 + R − 2m for magnitude m.
    #[test]
    fn light_and_area_left_agree_with_an_independent_computation() {
        let rows = [
            (0.5, 0.60291, 0.59647),
            (0.8, 0.24070, 0.20525),
            (0.9, 0.11359, 0.08463),
            (0.95, 0.05110, 0.03329),
            (0.98, 0.01628, 0.00900),
            (0.99, 0.006414, 0.003181),
            (0.995, 0.002419, 0.001093),
            (0.999, 0.000229, 0.000089),
        ];
        for (m, area, light) in rows {
            let s = 2.056 - 2.0 * m;
            // The fixtures carry five decimals and a rounded row of coefficients.
            let digits = if m < 0.985 { 1e-5 } else { 1e-6 };
            assert!((EVEN_DISC.light_left(1.056, s) - area).abs() < digits, "{m}");
            assert!((NECKEL_LABS_550_NM.light_left(1.056, s) - light).abs() < digits, "{m}");
        }
    }
}
