//! The Moon's skyline: which point of the surface stands highest in a direction as seen from a place.
//!
//! In the plane through the eye, the Moon's centre and a direction in the sky, a surface point at an angle β before the
//! Moon's rim has the height R + h; its tangent of distance from the Moon's centre is (R + h) cos β / (D − (R + h) sin β).
//! The skyline is the largest such value over all β. The search is exhaustive where the bounds of the heights leave room,
//! a pixel at a time, and fine about everything that comes close to the top.

use super::heights::{DATUM_KM, MoonHeights};
use super::sky::Sight;
use noonfall_ephemeris::vector::{Vec3, add, scale};

/// Nothing shows from further before or behind the rim: 10.8 km, the highest there is, over the lowest edge at 1731 km.
const DEPTH_DEG: f64 = 8.5;

/// Pieces for which one bound is asked.
const PIECE_DEG: f64 = 0.5;

/// Between two samples a pixel apart the surface rises by less than this above the higher of them where it matters, km.
const HIDDEN_RISE_KM: f64 = 0.15;

/// Parts into which the space beside a promising sample is divided.
const FINE: i32 = 4;

/// A surface on a line of sight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Summit {
    /// The point about the Moon's centre, km, in the Moon's axes.
    pub point_km: Vec3,
    /// Tangent of its distance from the Moon's centre in the sky.
    pub tangent: f64,
}

/// Searches skylines from one sight.
pub(super) struct Skyline<'a> {
    heights: &'a MoonHeights,
    sight: Sight,
    step_rad: f64,
    samples: Vec<(i32, f64)>,
}

impl<'a> Skyline<'a> {
    /// For the heights as seen from somewhere.
    pub(super) fn new(heights: &'a MoonHeights, sight: Sight) -> Skyline<'a> {
        Skyline { heights, sight, step_rad: (1.0 / heights.per_degree() as f64).to_radians(), samples: Vec::new() }
    }

    /// A surface point β before the rim.
    fn surface(&self, outward: Vec3, beta_rad: f64) -> Summit {
        let (sin, cos) = beta_rad.sin_cos();
        let direction = add(scale(outward, cos), scale(self.sight.eye, sin));
        let radius_km = DATUM_KM + self.heights.height_km(direction);
        Summit {
            point_km: scale(direction, radius_km),
            tangent: radius_km * cos / (self.sight.distance_km - radius_km * sin),
        }
    }

    /// The skyline in a direction (angle from the sight's north through east, radians), or the first point found that
    /// stands at least as high as `enough`; whether it is the skyline.
    pub(super) fn summit(&mut self, angle_rad: f64, enough: f64) -> (Summit, bool) {
        let outward = self.sight.outward(angle_rad);
        let distance = self.sight.distance_km;
        // The rim of a smooth Moon lies a little before the plane through its centre.
        let rim = DATUM_KM / distance;
        let mut best = (self.surface(outward, rim), 0);
        self.samples.clear();
        self.samples.push((0, best.0.tangent));
        let per_piece = (PIECE_DEG.to_radians() / self.step_rad).round().max(1.0) as i32;
        let pieces = (DEPTH_DEG / PIECE_DEG).ceil() as i32;
        for (piece, side) in (0..pieces).flat_map(|piece| [(piece, 1), (piece, -1)]) {
            if best.0.tangent >= enough {
                return (best.0, false);
            }
            let first = piece * per_piece;
            let beta = |k: f64| rim + f64::from(side) * k * self.step_rad;
            let (sin, cos) = beta(f64::from(first) + 0.5 * f64::from(per_piece)).sin_cos();
            let highest = self.heights.highest_about_km(add(scale(outward, cos), scale(self.sight.eye, sin)));
            // Of a sphere the nearer end of the piece stands highest.
            let (sin, cos) = beta(f64::from(first)).sin_cos();
            let radius_km = DATUM_KM + highest;
            if radius_km * cos / (distance - radius_km * sin) < best.0.tangent {
                continue;
            }
            for k in first + 1..=first + per_piece {
                let found = self.surface(outward, beta(f64::from(k)));
                self.samples.push((side * k, found.tangent));
                if found.tangent > best.0.tangent {
                    best = (found, side * k);
                    if found.tangent >= enough {
                        return (found, false);
                    }
                }
            }
        }
        let mut best_rad = rim + f64::from(best.1) * self.step_rad;
        let mut best = best.0;
        let threshold = best.tangent - HIDDEN_RISE_KM / distance;
        self.samples.sort_unstable_by_key(|&(k, _)| k);
        for at in 0..self.samples.len() {
            let (k, tangent) = self.samples[at];
            let higher = |other: Option<&(i32, f64)>| other.is_some_and(|&(j, t)| (j - k).abs() == 1 && t > tangent);
            let before = at.checked_sub(1).and_then(|at| self.samples.get(at));
            if tangent < threshold || higher(before) || higher(self.samples.get(at + 1)) {
                continue;
            }
            for j in 1 - FINE..FINE {
                let beta = rim + (f64::from(k) + f64::from(j) / f64::from(FINE)) * self.step_rad;
                let found = self.surface(outward, beta);
                if found.tangent > best.tangent {
                    (best, best_rad) = (found, beta);
                }
            }
        }
        (self.climb(outward, best_rad, self.step_rad / f64::from(FINE), best), true)
    }

    /// The top between the neighbours of the best sample, by golden section: a pixel's surface is bilinear, so there is one.
    fn climb(&self, outward: Vec3, middle: f64, half: f64, mut best: Summit) -> Summit {
        const GOLDEN: f64 = 0.618_033_988_749_895;
        let (mut low, mut high) = (middle - half, middle + half);
        for _ in 0..6 {
            let (a, b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
            let (at_a, at_b) = (self.surface(outward, a), self.surface(outward, b));
            for found in [at_a, at_b] {
                if found.tangent > best.tangent {
                    best = found;
                }
            }
            if at_a.tangent > at_b.tangent { high = b } else { low = a }
        }
        best
    }
}
