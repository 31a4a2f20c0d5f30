//! The Moon's skyline: which point of the surface stands highest in a direction as seen from a place.
//!
//! In the plane through the eye, the Moon's centre and a direction in the sky, a surface point at an angle β before the
//! plane of the Moon's rim has the radius R = 1737.4 km + h; the tangent of its distance from the Moon's centre is
//! R cos β / (D − R sin β). The skyline is the largest such value over all β. The search goes a pixel at a time wherever
//! the bounds of the heights leave room, and finely about everything that comes close to the top.

use super::heights::{BOUND_STEP_DEG, DATUM_KM, MoonHeights};
use super::sky::Sight;
use noonfall_ephemeris::vector::{Vec3, add, scale};

/// Nothing shows from further before or behind the rim: 10.8 km, the highest there is, over the lowest edge at 1731 km.
const DEPTH_DEG: f64 = 8.5;

/// Between two samples a pixel apart the surface rises by less than this above the higher of them where it matters, km.
const HIDDEN_RISE_KM: f64 = 0.15;

/// Parts into which the space beside a promising sample is divided.
const FINE: i32 = 4;

/// The Sun's reach changes by less than this (tangent) between directions as close as those of a notch: 0.1″, where it is
/// 1.3″ a degree when the centres are 75″ apart. What stands higher by so much needs no closer look.
const STEADY: f64 = 0.1 / 206_265.0;

/// Parts into which the space beside a direction is divided.
const PARTS: i32 = 8;

/// Beyond this sine of the latitude the grid's lines bend too much to be followed by a parabola over half a degree.
const POLAR: f64 = 0.985;

/// A point of the surface on a line of sight.
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
    /// β of the rim of a smooth Moon, which lies a little before the plane through its centre.
    rim_rad: f64,
    step_rad: f64,
    /// Samples in one piece, for which one bound is asked.
    per_piece: i32,
    pieces: i32,
    /// Sine and cosine of β, sample by sample.
    beta: Vec<(f64, f64)>,
    samples: Vec<(i32, f64)>,
}

/// A short arc of a great circle on the grid: a parabola through three points of it, or the circle itself.
enum Trace {
    Parabola { middle: [f64; 2], slope: [f64; 2], bend: [f64; 2] },
    Exact { outward: Vec3, eye: Vec3 },
}

impl<'a> Skyline<'a> {
    /// For the heights as seen from somewhere.
    pub(super) fn new(heights: &'a MoonHeights, sight: Sight) -> Skyline<'a> {
        let step_rad = (1.0 / heights.per_degree() as f64).to_radians();
        let per_piece = ((heights.per_degree() as f64 * BOUND_STEP_DEG) as i32).max(1);
        let pieces = (DEPTH_DEG.to_radians() / (step_rad * f64::from(per_piece))).ceil() as i32;
        let rim_rad = DATUM_KM / sight.distance_km;
        let reach = pieces * per_piece;
        let beta = (-reach..=reach).map(|k| (rim_rad + f64::from(k) * step_rad).sin_cos()).collect();
        Skyline { heights, sight, rim_rad, step_rad, per_piece, pieces, beta, samples: Vec::new() }
    }

    fn beta(&self, k: i32) -> (f64, f64) {
        self.beta[(k + self.pieces * self.per_piece) as usize]
    }

    fn direction(&self, outward: Vec3, (sin, cos): (f64, f64)) -> Vec3 {
        add(scale(outward, cos), scale(self.sight.eye, sin))
    }

    /// The arc about an angle, to so much on either side.
    fn trace(&self, outward: Vec3, middle_rad: f64, half_rad: f64) -> Trace {
        let middle = self.direction(outward, middle_rad.sin_cos());
        if middle[2].abs() > POLAR {
            return Trace::Exact { outward, eye: self.sight.eye };
        }
        let place = |rad: f64| self.heights.place(self.direction(outward, rad.sin_cos()));
        let ends = [place(middle_rad - half_rad), place(middle_rad + half_rad)];
        let middle = self.heights.place(middle);
        let samples = self.heights.samples();
        let near = |x: f64| x - ((x - middle[1]) / samples).round() * samples;
        let (before, after) = ([ends[0][0], near(ends[0][1])], [ends[1][0], near(ends[1][1])]);
        Trace::Parabola {
            middle,
            slope: std::array::from_fn(|i| 0.5 * (after[i] - before[i])),
            bend: std::array::from_fn(|i| 0.5 * (after[i] + before[i]) - middle[i]),
        }
    }

    /// Radius of the surface, km, on an arc: `part` from −1 to 1 along it, or sine and cosine of β.
    fn radius_km(&self, trace: &Trace, part: f64, beta: (f64, f64)) -> f64 {
        let place = match trace {
            Trace::Parabola { middle, slope, bend } => {
                std::array::from_fn(|i| middle[i] + part * (slope[i] + part * bend[i]))
            }
            Trace::Exact { outward, eye } => self.heights.place(add(scale(*outward, beta.1), scale(*eye, beta.0))),
        };
        DATUM_KM + self.heights.height_km(place)
    }

    fn tangent(&self, radius_km: f64, (sin, cos): (f64, f64)) -> f64 {
        radius_km * cos / (self.sight.distance_km - radius_km * sin)
    }

    fn summit_at(&self, outward: Vec3, beta: (f64, f64), radius_km: f64) -> Summit {
        Summit { point_km: scale(self.direction(outward, beta), radius_km), tangent: self.tangent(radius_km, beta) }
    }

    /// The skyline in a direction (angle from the sight's north through east, radians), or the first point found that
    /// stands at least as high as `enough`; whether it is the skyline.
    pub(super) fn summit(&mut self, angle_rad: f64, enough: f64) -> (Summit, bool) {
        let outward = self.sight.outward(angle_rad);
        let mut samples = std::mem::take(&mut self.samples);
        samples.clear();
        // Highest tangent, its sample and the radius there.
        let mut best = (f64::NEG_INFINITY, 0, 0.0);
        let half = 0.5 * f64::from(self.per_piece);
        let mut whole = true;
        'search: for (piece, side) in (0..self.pieces).flat_map(|piece| [(piece, 1), (piece, -1)]) {
            let first = piece * self.per_piece;
            let middle_rad = self.rim_rad + f64::from(side) * (f64::from(first) + half) * self.step_rad;
            let highest = self.heights.highest_about_km(self.direction(outward, middle_rad.sin_cos()));
            // Of a sphere the end that is nearer to the rim stands highest.
            if self.tangent(DATUM_KM + highest, self.beta(side * first)) < best.0 {
                continue;
            }
            let trace = self.trace(outward, middle_rad, half * self.step_rad);
            // The rim itself belongs to the first piece.
            let start = if first == 0 && side == 1 { 0 } else { first + 1 };
            for k in start..=first + self.per_piece {
                let beta = self.beta(side * k);
                let radius_km = self.radius_km(&trace, f64::from(side) * (f64::from(k - first) / half - 1.0), beta);
                let tangent = self.tangent(radius_km, beta);
                samples.push((side * k, tangent));
                if tangent > best.0 {
                    best = (tangent, side * k, radius_km);
                    if tangent >= enough {
                        whole = false;
                        break 'search;
                    }
                }
            }
        }
        let mut summit = self.summit_at(outward, self.beta(best.1), best.2);
        if whole {
            samples.sort_unstable_by_key(|&(k, _)| k);
            let threshold = best.0 - HIDDEN_RISE_KM / self.sight.distance_km;
            for at in 0..samples.len() {
                let (k, tangent) = samples[at];
                let higher =
                    |other: Option<&(i32, f64)>| other.is_some_and(|&(j, t)| (j - k).abs() == 1 && t > tangent);
                let before = at.checked_sub(1).and_then(|at| samples.get(at));
                if tangent >= threshold && !higher(before) && !higher(samples.get(at + 1)) {
                    self.climb(outward, k, &mut summit);
                }
            }
        }
        self.samples = samples;
        (summit, whole)
    }

    /// The top within a pixel of a sample: finer samples, then golden section about the best of them, because along a line
    /// a pixel's surface has one top.
    fn climb(&self, outward: Vec3, k: i32, best: &mut Summit) {
        const GOLDEN: f64 = 0.618_033_988_749_895;
        let middle_rad = self.rim_rad + f64::from(k) * self.step_rad;
        let trace = self.trace(outward, middle_rad, self.step_rad);
        let look = |part: f64| {
            let beta = (middle_rad + part * self.step_rad).sin_cos();
            let radius_km = self.radius_km(&trace, part, beta);
            (self.tangent(radius_km, beta), beta, radius_km)
        };
        let mut top = (f64::NEG_INFINITY, 0.0);
        for j in 1 - FINE..FINE {
            let part = f64::from(j) / f64::from(FINE);
            let found = look(part).0;
            if found > top.0 {
                top = (found, part);
            }
        }
        let (mut low, mut high) = (top.1 - 1.0 / f64::from(FINE), top.1 + 1.0 / f64::from(FINE));
        let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        let (mut at_a, mut at_b) = (look(a), look(b));
        for _ in 0..6 {
            if at_a.0 > at_b.0 {
                (high, b, at_b) = (b, a, at_a);
                a = high - GOLDEN * (high - low);
                at_a = look(a);
            } else {
                (low, a, at_a) = (a, b, at_b);
                b = low + GOLDEN * (high - low);
                at_b = look(b);
            }
        }
        for (tangent, beta, radius_km) in [at_a, at_b, look(top.1)] {
            if tangent > best.tangent {
                *best = self.summit_at(outward, beta, radius_km);
            }
        }
    }

    /// The summit that `gap` (greater where it matters more) makes most of, in a direction or up to `space_rad` to either
    /// side of it, beginning with the one in that direction. Between directions valleys are notches, so the space about the
    /// best is halved again and again.
    pub(super) fn notch(
        &mut self,
        middle_rad: f64,
        space_rad: f64,
        first: Summit,
        gap: impl Fn(&Summit) -> f64,
    ) -> (f64, Summit) {
        let part = space_rad / f64::from(PARTS);
        let mut best = (gap(&first), middle_rad, first);
        let look = |skyline: &mut Skyline, angle: f64, best: &mut (f64, f64, Summit)| {
            let (summit, _) = skyline.summit(angle, best.2.tangent + STEADY);
            let found = gap(&summit);
            if found > best.0 {
                *best = (found, angle, summit);
            }
        };
        for j in (1 - PARTS..PARTS).filter(|&j| j != 0) {
            look(self, middle_rad + f64::from(j) * part, &mut best);
        }
        let mut half = 0.5 * part;
        for _ in 0..4 {
            let centre = best.1;
            look(self, centre - half, &mut best);
            look(self, centre + half, &mut best);
            half *= 0.5;
        }
        (best.1, best.2)
    }
}
