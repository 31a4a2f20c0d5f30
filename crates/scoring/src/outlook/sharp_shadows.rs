//! How sharp shadows become: the blur behind an edge, across and along the crescent.
//!
//! Every point of the Sun throws its own shadow, so the blur behind an edge is the Sun's outline, seen across that edge,
//! thrown over the distance. As the Sun shrinks to a crescent, edges that run along it grow sharp while those across it
//! stay as soft as before. The crescent is curved, which keeps even the sharp direction from becoming as fine as its width.

use super::limb_darkening::NECKEL_LABS_550_NM;
use super::quadrature::GaussLegendre;
use noonfall_ephemeris::angle::ARCSEC_PER_RAD;
use std::f64::consts::PI;
use std::sync::LazyLock;

/// Blur behind the edge of an object.
///
/// # Units
/// Millimetres on a screen across the light, for each metre between object and screen: the strip over which the light
/// falls from 90 % to 10 %.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShadowBlur {
    /// At an edge along the crescent.
    pub across_mm_per_m: f64,
    /// At an edge across the crescent.
    pub along_mm_per_m: f64,
}

static RULE: LazyLock<GaussLegendre> = LazyLock::new(|| GaussLegendre::new(96));

/// One ring of the Sun's disc: its radius, the light of all of it, half the arc that is visible.
struct Ring {
    radius: f64,
    light: f64,
    half_arc: f64,
}

/// Blur of shadows for a Moon at a distance from the Sun's centre.
///
/// # Units
/// Radius of the Moon and distance of the centres in radii of the Sun; the Sun's radius in arcseconds.
/// Zero if no light is left.
/// # Source
/// Geometry; limb darkening of Neckel & Labs 1994. The usual measure of an edge's sharpness, its 10–90 % width. Closed
/// form: an even disc of radius a holds the middle 80 % of its light within 1.3746 a.
/// ```
/// use noonfall_scoring::outlook::sharp_shadows::shadow_blur;
/// let full = shadow_blur(1.0, 3.0, 959.63);
/// assert!((full.across_mm_per_m - full.along_mm_per_m).abs() < 0.01);
/// assert!((5.5..6.4).contains(&full.across_mm_per_m));
/// ```
pub fn shadow_blur(moon_radius: f64, separation: f64, sun_radius_arcsec: f64) -> ShadowBlur {
    let rings = visible_rings(moon_radius, separation, |mu| NECKEL_LABS_550_NM.at(mu));
    let scale = 1000.0 * sun_radius_arcsec / ARCSEC_PER_RAD;
    let (across, along) = blur_of(&rings);
    ShadowBlur { across_mm_per_m: across * scale, along_mm_per_m: along * scale }
}

fn visible_rings(moon_radius: f64, separation: f64, brightness: impl Fn(f64) -> f64) -> Vec<Ring> {
    if !(moon_radius.is_finite() && separation.is_finite()) {
        return Vec::new();
    }
    let (r, s) = (moon_radius.max(0.0), separation.abs());
    let crossing = ((r - s).abs().clamp(0.0, 1.0), (r + s).clamp(0.0, 1.0));
    let edges = [0.0, crossing.0.asin(), crossing.1.asin(), 0.5 * PI];
    let mut rings = Vec::new();
    for edge in edges.windows(2).filter(|edge| edge[1] > edge[0]) {
        for &(x, w) in &RULE.nodes {
            // Square roots at both ends of the span, smoothed by sin².
            let (sin_v, cos_v) = (0.5 * PI * x).sin_cos();
            let (rho, mu) = (edge[0] + (edge[1] - edge[0]) * sin_v * sin_v).sin_cos();
            let cosine = (rho * rho + s * s - r * r) / (2.0 * rho * s).max(1e-300);
            let half_arc = PI - cosine.clamp(-1.0, 1.0).acos();
            let light = brightness(mu) * rho * mu * w * PI * sin_v * cos_v * (edge[1] - edge[0]);
            if half_arc > 0.0 {
                rings.push(Ring { radius: rho, light, half_arc });
            }
        }
    }
    rings
}

/// Widths that hold the middle 80 % of the light, across and along, in radii of the Sun.
fn blur_of(rings: &[Ring]) -> (f64, f64) {
    let total: f64 = rings.iter().map(|ring| ring.light * ring.half_arc).sum();
    if total <= 0.0 {
        return (0.0, 0.0);
    }
    // Light further out than x in the direction of the crescent's middle.
    let beyond = |x: f64| -> f64 {
        rings.iter().map(|ring| ring.light * ring.half_arc.min((x / ring.radius).clamp(-1.0, 1.0).acos())).sum::<f64>()
            / total
    };
    // Light further from the crescent's axis than y, on one side.
    let beside = |y: f64| -> f64 {
        rings
            .iter()
            .map(|ring| {
                let from = (y / ring.radius).clamp(0.0, 1.0).asin();
                ring.light * (ring.half_arc.min(PI - from) - from).max(0.0)
            })
            .sum::<f64>()
            * 0.5
            / total
    };
    let across = falling_root(beyond, 0.1, -1.0, 1.0) - falling_root(beyond, 0.9, -1.0, 1.0);
    let along = 2.0 * falling_root(beside, 0.1, 0.0, 1.0);
    (across.max(0.0), along.max(0.0))
}

/// Where a falling function takes a value: false position, an end that stays for a second time weighed half (Illinois).
fn falling_root(f: impl Fn(f64) -> f64, value: f64, mut low: f64, mut high: f64) -> f64 {
    let (mut above, mut below) = (f(low) - value, f(high) - value);
    let mut stayed = 0;
    for _ in 0..60 {
        if high - low < 1e-12 || above <= 0.0 || below >= 0.0 {
            break;
        }
        let at = low + (high - low) * above / (above - below);
        let here = f(at) - value;
        if here.abs() < 1e-13 {
            return at;
        }
        if here > 0.0 {
            (low, above) = (at, here);
            below *= if stayed == 1 { 0.5 } else { 1.0 };
            stayed = 1;
        } else {
            (high, below) = (at, here);
            above *= if stayed == -1 { 0.5 } else { 1.0 };
            stayed = -1;
        }
    }
    if above <= 0.0 {
        low
    } else if below >= 0.0 {
        high
    } else {
        0.5 * (low + high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form for an even disc: the share beyond x is (arccos x − x √(1 − x²))/π, a tenth at x = 0.687 05.
    #[test]
    fn an_even_full_disc() {
        let (across, along) = blur_of(&visible_rings(1.0, 3.0, |_| 1.0));
        assert!((across - 1.374_1).abs() < 2e-3, "{across}");
        assert!((along - 1.374_1).abs() < 2e-3, "{along}");
        let x: f64 = 0.5 * across;
        assert!(((x.acos() - x * (1.0 - x * x).sqrt()) / PI - 0.1).abs() < 1e-3);
    }

    /// The brute-force program `tests/reference/sights/light_and_bands.py`: quantiles of a dense cloud of points.
    #[test]
    fn agrees_with_a_cloud_of_points() {
        let text = crate::reference("sights/blur.csv");
        let mut count = 0;
        for line in text.lines().skip(1) {
            let v: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            let found = shadow_blur(v[1], v[2] / v[0] + v[1] - 1.0, v[0]);
            for (found, expected) in [(found.across_mm_per_m, v[3] * 1e3), (found.along_mm_per_m, v[4] * 1e3)] {
                assert!((found / expected - 1.0).abs() < 0.01, "{line}: {found} against {expected}");
            }
            count += 1;
        }
        assert_eq!(count, 6);
    }

    #[test]
    fn nothing_left_no_blur() {
        assert_eq!(shadow_blur(1.05, 0.0, 950.0), ShadowBlur { across_mm_per_m: 0.0, along_mm_per_m: 0.0 });
        assert_eq!(shadow_blur(f64::NAN, 0.5, 950.0).across_mm_per_m, 0.0);
    }
}
