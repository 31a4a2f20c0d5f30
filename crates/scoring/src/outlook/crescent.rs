//! The thinning crescent: its outline, and how its light is spread over angles.
//!
//! Shadow bands and the blur of shadows both depend on nothing but the shape of the bright source.

use super::limb_darkening::LimbDarkening;
use super::quadrature::GaussLegendre;
use std::f64::consts::PI;

/// The bright crescent of an eclipsed Sun, limb-darkened.
///
/// # Units
/// Radians, as seen by the observer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crescent {
    /// Radius of the Sun's disc.
    pub sun_radius_rad: f64,
    /// Radius of the Moon's disc.
    pub moon_radius_rad: f64,
    /// Width at the middle of the crescent.
    pub width_rad: f64,
}

impl Crescent {
    /// The crescent of two discs; none if the Moon leaves no light, does not touch the Sun, or a value is not a
    /// positive number.
    pub fn new(sun_radius_rad: f64, moon_radius_rad: f64, width_rad: f64) -> Option<Crescent> {
        let sound = [sun_radius_rad, moon_radius_rad, width_rad].iter().all(|v| v.is_finite() && *v > 0.0);
        let crescent = Crescent { sun_radius_rad, moon_radius_rad, width_rad };
        let separation = crescent.separation_rad();
        let overlaps =
            separation > (moon_radius_rad - sun_radius_rad).abs() && separation < moon_radius_rad + sun_radius_rad;
        (sound && overlaps).then_some(crescent)
    }

    /// Distance of the two centres.
    pub fn separation_rad(&self) -> f64 {
        self.width_rad + self.moon_radius_rad - self.sun_radius_rad
    }

    /// Half the angle the crescent spans about the Sun's centre, radians.
    ///
    /// # Source
    /// Law of cosines at a cusp, where both limbs meet: `a² + s² + 2 a s cos ψ₀ = b²`.
    pub fn half_angle_rad(&self) -> f64 {
        let (a, b, s) = (self.sun_radius_rad, self.moon_radius_rad, self.separation_rad());
        ((b * b - a * a - s * s) / (2.0 * a * s)).clamp(-1.0, 1.0).acos()
    }

    /// Distance from cusp to cusp.
    pub fn chord_rad(&self) -> f64 {
        2.0 * self.sun_radius_rad * self.half_angle_rad().sin()
    }

    /// Distance from the Sun's centre to the Moon's limb in direction `psi` from the crescent's middle, kept within
    /// the disc.
    fn inner_radius_rad(&self, psi: f64) -> f64 {
        let (sin_psi, cos_psi) = psi.sin_cos();
        let s = self.separation_rad();
        let b = self.moon_radius_rad;
        let inner = -s * cos_psi + (b * b - s * s * sin_psi * sin_psi).max(0.0).sqrt();
        inner.clamp(0.0, self.sun_radius_rad)
    }
}

/// Mean over all directions of the squared, normalised Fourier transform of the crescent's brightness: `G(q)`.
///
/// # Units
/// `q` in rad⁻¹; `G` has none, G(0) = 1.
/// # Source
/// Definition in the incoherent-source filter of Codona 1986, A&A 164, 415–427. Two evaluations meet:
/// below `60/(a ψ₀²)` the azimuthal mean is taken exactly, `G(q) = E[J₀(q d)]` over the distances d of all pairs of points
/// of the source; above it each direction of the crescent sees only the arc facing it (stationary phase), where
/// `G = (2/q) ∫ |∫ I √ρ e^{iqρ} dρ|² dψ / F²`.
/// Check: a = 950″, b = 1.056 a, w = 2″: G(1e4) = 9.59e-2, G(3e4) = 3.16e-2, G(1e5) = 8.96e-3.
#[derive(Clone, Debug)]
pub struct AngularSpectrum {
    /// ln G at equal steps of ln q.
    ln_g: Vec<f64>,
}

const LN_Q_FIRST: f64 = 4.605_170_185_988_092; // 1e2 per radian: even the full disc is a point there
const LN_Q_STEP: f64 = std::f64::consts::LN_10 / 16.0;
const Q_COUNT: usize = 75; // to 4e6 per radian

impl AngularSpectrum {
    /// The spectrum of a crescent.
    pub fn of(crescent: &Crescent, darkening: &LimbDarkening) -> AngularSpectrum {
        let half_angle = crescent.half_angle_rad();
        let crossover = 60.0 / (crescent.sun_radius_rad * half_angle * half_angle);
        let pairs = PairDistances::of(crescent, darkening, crossover);
        let far = FacingArcs::of(crescent, darkening);
        let ln_g = (0..Q_COUNT)
            .map(|i| {
                let q = (LN_Q_FIRST + i as f64 * LN_Q_STEP).exp();
                let g = if q < crossover { pairs.mean_bessel(q) } else { far.spectrum(q) };
                // The tail is positive by definition; the floor only keeps the logarithm finite.
                g.max(1e-30).ln()
            })
            .collect();
        AngularSpectrum { ln_g }
    }

    /// G at `q`, by cubics through the logarithms; beyond the last computed point it falls as q⁻³, as the transform of a
    /// sharp edge does.
    pub fn at(&self, q: f64) -> f64 {
        let position = (q.max(1e-300).ln() - LN_Q_FIRST) / LN_Q_STEP;
        if position <= 0.0 {
            return 1.0;
        }
        let last = self.ln_g.len() - 1;
        if position >= last as f64 {
            return (self.ln_g[last] - 3.0 * (position - last as f64) * LN_Q_STEP).exp();
        }
        let (first, weights) = cubic_weights(position, self.ln_g.len());
        weights.iter().zip(&self.ln_g[first..]).map(|(w, v)| w * v).sum::<f64>().exp()
    }
}

/// The four neighbours of a position on an even grid of `count` points (at least four), and the weights of the cubic
/// through them (Lagrange). At the ends of the grid the outermost four serve.
pub(crate) fn cubic_weights(position: f64, count: usize) -> (usize, [f64; 4]) {
    let first = (position.max(0.0) as usize).saturating_sub(1).min(count.saturating_sub(4));
    let x = position - first as f64;
    let weights = [
        -(x - 1.0) * (x - 2.0) * (x - 3.0) / 6.0,
        x * (x - 2.0) * (x - 3.0) / 2.0,
        -x * (x - 1.0) * (x - 3.0) / 2.0,
        x * (x - 1.0) * (x - 2.0) / 6.0,
    ];
    (first, weights)
}

/// Radial nodes: depth below the Sun's limb as `width · u²`, which makes the limb darkening, a function of its square
/// root, a polynomial.
struct RadialNode {
    radius_rad: f64,
    weight: f64,
}

fn radial_nodes(crescent: &Crescent, darkening: &LimbDarkening, psi: f64, rule: &GaussLegendre) -> Vec<RadialNode> {
    let a = crescent.sun_radius_rad;
    let width = a - crescent.inner_radius_rad(psi);
    rule.nodes
        .iter()
        .map(|&(u, w)| {
            let depth = width * u * u;
            let mu = (depth * (2.0 * a - depth)).max(0.0).sqrt() / a;
            RadialNode { radius_rad: a - depth, weight: darkening.at(mu) * 2.0 * width * u * w }
        })
        .collect()
}

/// How the light of pairs of points is spread over their distance.
struct PairDistances {
    /// (mean distance, share) of each bin.
    bins: Vec<(f64, f64)>,
}

impl PairDistances {
    fn of(crescent: &Crescent, darkening: &LimbDarkening, highest_q: f64) -> PairDistances {
        let half_angle = crescent.half_angle_rad();
        let extent = 2.0 * crescent.sun_radius_rad * if half_angle > 0.5 * PI { 1.0 } else { half_angle.sin() };
        let phase = highest_q * extent;
        let around = GaussLegendre::new(((phase * 0.45) as usize).clamp(60, 900));
        let depth = GaussLegendre::new(5);
        let mut points = Vec::new();
        for &(x, w) in &around.nodes {
            let psi = half_angle * (2.0 * x - 1.0);
            let (sin_psi, cos_psi) = psi.sin_cos();
            for node in radial_nodes(crescent, darkening, psi, &depth) {
                points.push((node.radius_rad * cos_psi, node.radius_rad * sin_psi, w * node.weight * node.radius_rad));
            }
        }
        let total: f64 = points.iter().map(|p| p.2).sum();
        let count = ((phase * 6.0) as usize).clamp(400, 8000);
        let reach = extent.max(crescent.width_rad) * 1.001;
        let per_bin = count as f64 / reach;
        let mut bins = vec![(0.0, 0.0); count + 1];
        let mut own = 0.0;
        for (i, a) in points.iter().enumerate() {
            own += a.2 * a.2;
            for b in &points[..i] {
                let distance = ((a.0 - b.0) * (a.0 - b.0) + (a.1 - b.1) * (a.1 - b.1)).sqrt();
                let share = 2.0 * a.2 * b.2;
                let bin = &mut bins[((distance * per_bin) as usize).min(count)];
                bin.0 += share * distance;
                bin.1 += share;
            }
        }
        let scale = 1.0 / (total * total);
        let mut bins: Vec<(f64, f64)> =
            bins.into_iter().filter(|b| b.1 > 0.0).map(|(moment, share)| (moment / share, share * scale)).collect();
        bins.push((0.0, own * scale));
        PairDistances { bins }
    }

    fn mean_bessel(&self, q: f64) -> f64 {
        self.bins.iter().map(|&(distance, share)| share * libm::j0(q * distance)).sum()
    }
}

/// The radial profiles of all arcs of the crescent, for large q.
struct FacingArcs {
    crescent: Crescent,
    darkening: LimbDarkening,
    flux: f64,
}

impl FacingArcs {
    fn of(crescent: &Crescent, darkening: &LimbDarkening) -> FacingArcs {
        let half_angle = crescent.half_angle_rad();
        let depth = GaussLegendre::new(8);
        let flux = GaussLegendre::new(48).integrate(-half_angle, half_angle, |psi| {
            radial_nodes(crescent, darkening, psi, &depth).iter().map(|n| n.weight * n.radius_rad).sum()
        });
        FacingArcs { crescent: *crescent, darkening: *darkening, flux }
    }

    fn spectrum(&self, q: f64) -> f64 {
        let half_angle = self.crescent.half_angle_rad();
        let a = self.crescent.sun_radius_rad;
        let nodes = ((q * self.crescent.width_rad * 0.7) as usize + 12).min(160);
        let depth = GaussLegendre::new(nodes);
        let arcs = GaussLegendre::new(40).integrate(0.0, half_angle, |psi| {
            let (mut re, mut im) = (0.0, 0.0);
            for node in radial_nodes(&self.crescent, &self.darkening, psi, &depth) {
                let (sin, cos) = (q * (node.radius_rad - a)).sin_cos();
                let amplitude = node.weight * node.radius_rad.sqrt();
                re += amplitude * cos;
                im += amplitude * sin;
            }
            re * re + im * im
        });
        2.0 / q * 2.0 * arcs / (self.flux * self.flux)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outlook::limb_darkening::NECKEL_LABS_550_NM;
    use noonfall_ephemeris::angle::ARCSEC_PER_RAD;

    fn crescent(width_arcsec: f64) -> Crescent {
        let a = 950.0 / ARCSEC_PER_RAD;
        Crescent::new(a, 1.056 * a, width_arcsec / ARCSEC_PER_RAD).unwrap()
    }

    /// Independently computed lengths from cusp to cusp (design fixtures, a = 950″, b = 1.056 a).
    #[test]
    fn length_from_cusp_to_cusp() {
        for (width, length) in [(1.0, 373.0), (2.0, 521.0), (5.0, 792.0), (10.0, 1054.0), (20.0, 1341.0)] {
            assert!((crescent(width).chord_rad() * ARCSEC_PER_RAD - length).abs() < 0.6, "{width}");
        }
    }

    /// Independently computed spectra (design fixtures, SciPy).
    #[test]
    fn spectrum_agrees_with_an_independent_computation() {
        for (width, q, expected) in [
            (2.0, 1e4, 9.59e-2),
            (2.0, 3e4, 3.16e-2),
            (2.0, 1e5, 8.96e-3),
            (10.0, 1e4, 4.50e-2),
            (10.0, 3e4, 1.33e-2),
            (10.0, 1e5, 9.07e-4),
        ] {
            let found = AngularSpectrum::of(&crescent(width), &NECKEL_LABS_550_NM).at(q);
            assert!((found / expected - 1.0).abs() < 0.02, "w {width}, q {q}: {found:e} against {expected:e}");
        }
    }

    /// The brute-force program `tests/reference/sights/light_and_bands.py`: the crescent projected in 900 directions.
    #[test]
    fn spectrum_agrees_with_brute_force() {
        let text = crate::reference("sights/spectrum.csv");
        let mut count = 0;
        for line in text.lines().skip(1) {
            let v: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            let a = v[0] / ARCSEC_PER_RAD;
            let crescent = Crescent::new(a, v[1] * a, v[2] / ARCSEC_PER_RAD).unwrap();
            let found = AngularSpectrum::of(&crescent, &NECKEL_LABS_550_NM).at(v[3]);
            // Over six decades of G; the tail ripples, which the cubic between computed points smooths a little.
            let tolerance = if v[4] > 1e-3 { 0.005 } else { 0.05 };
            assert!((found / v[4] - 1.0).abs() < tolerance, "{line}: {found:e}");
            count += 1;
        }
        assert_eq!(count, 35);
    }

    /// Where the two evaluations meet they must agree: the exact mean and the stationary phase at the same q.
    #[test]
    fn the_two_evaluations_meet() {
        for width in [0.5, 2.0, 8.0, 32.0] {
            let c = crescent(width);
            let psi0 = c.half_angle_rad();
            let crossover = 60.0 / (c.sun_radius_rad * psi0 * psi0);
            let pairs = PairDistances::of(&c, &NECKEL_LABS_550_NM, crossover);
            let arcs = FacingArcs::of(&c, &NECKEL_LABS_550_NM);
            let ratio = arcs.spectrum(crossover) / pairs.mean_bessel(crossover);
            assert!((ratio - 1.0).abs() < 0.002, "{width}: {ratio}");
        }
    }

    #[test]
    fn what_is_no_crescent_is_refused() {
        assert!(Crescent::new(1.0, 1.05, 0.0).is_none());
        assert!(Crescent::new(1.0, 1.05, f64::NAN).is_none());
        assert!(Crescent::new(1.0, 1.05, 2.1).is_none());
        assert!(Crescent::new(0.0, 1.05, 0.1).is_none());
    }
}
