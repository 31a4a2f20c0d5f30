//! The Moon's skyline: which point of the surface stands highest in a direction as seen from a place.
//!
//! In the plane through the eye, the Moon's centre and a direction in the sky, a surface point at an angle β before the
//! plane of the Moon's rim has the radius R = 1737.4 km + h; the tangent of its distance from the Moon's centre is
//! R cos β / (D − R sin β). The skyline is the largest such value over all β. The search goes a pixel at a time wherever
//! the bounds of the heights leave room, and finely about everything that comes close to the top.

use super::heights::{BOUND_STEP_DEG, DATUM_KM, MoonHeights};
use super::sky::Sight;
use noonfall_ephemeris::vector::{Vec3, add, scale, sub};
use std::f64::consts::TAU;

/// Nothing shows from further before or behind the rim: 10.8 km, the highest there is, over the lowest edge at 1731 km.
const DEPTH_DEG: f64 = 8.5;

/// Between two samples a pixel apart the surface rises by less than this above the higher of them where it matters, km.
const HIDDEN_RISE_KM: f64 = 0.15;

/// Whatever the samples say, a top of so much may hide beside one, km.
const LEAST_RISE_KM: f64 = 0.02;

/// Lines of the grid that are looked for beside a sample.
const MOST_CROSSINGS: usize = 24;

/// The Sun's reach changes by less than this (tangent) between directions as close as those of a notch: 0.04″, where it is
/// 1.3″ a degree when the centres are 75″ apart. What stands higher by so much needs no closer look.
const STEADY: f64 = 0.04 / 206_265.0;

/// How often the space beside a direction is halved: 0.03° to 0.0005°, 15 m of the edge.
const HALVINGS: i32 = 6;

/// Sectors for which bounds are asked together: 0.75° wide, so that with half a piece, 0.25°, all lies within the 0.5° for
/// which a bound holds.
const SECTORS: usize = 480;

/// Samples of a piece that are bounded together by the ground under them.
const PART: usize = 4;

/// What an arc followed by one parabola leaves against the next, pixels: far less than this.
const TRACE_ROOM: f64 = 0.05;

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

/// No surface about a piece of a line of sight is higher than this above the datum, km: in that piece, and in that and all further ones.
#[derive(Clone, Copy)]
struct Bound {
    here_km: f64,
    onwards_km: f64,
}

/// A search under way.
struct Scan {
    /// Highest tangent, its sample and the radius there.
    best: (f64, i32, f64),
    /// Tangents, sample by sample; below everything where none was taken.
    samples: Vec<f64>,
    /// How far samples were taken.
    taken: [i32; 2],
    /// A tangent at which to stop.
    enough: f64,
    /// What was found to stand so high, where that is not the best sample itself.
    found: Option<Summit>,
}

/// Searches skylines from one sight.
pub(super) struct Skyline<'a> {
    heights: &'a MoonHeights,
    sight: Sight,
    step_rad: f64,
    /// Samples in one piece, for which one bound is asked.
    per_piece: i32,
    pieces: i32,
    /// Sine and cosine of β, sample by sample.
    beta: Vec<(f64, f64)>,
    /// The same in the middle of the pieces, each before and behind the rim.
    middles: Vec<[(f64, f64); 2]>,
    /// Tangents of the search under way, sample by sample; below everything where none was taken.
    samples: Vec<f64>,
    /// The highest surfaces about the pieces, sector by sector, as far as they have been asked for.
    bounds: Vec<Option<Box<[Bound]>>>,
    /// Samples where the last skylines stood highest: good places to begin.
    hints: [i32; 2],
}

/// A short arc of a great circle on the grid: a parabola through three points of it, or the circle itself.
enum Trace {
    Parabola { middle: [f64; 2], slope: [f64; 2], bend: [f64; 2] },
    Exact { outward: Vec3, eye: Vec3 },
}

impl Trace {
    /// Where lines of the grid are crossed, from −1 to 1, and both ends and the middle; how many.
    fn crossings(&self, parts: &mut [f64; MOST_CROSSINGS + 3]) -> usize {
        parts[..3].copy_from_slice(&[-1.0, 0.0, 1.0]);
        let mut count = 3;
        match self {
            Trace::Parabola { middle, slope, bend } => {
                for i in 0..2 {
                    let (m, s, b) = (middle[i], slope[i], bend[i]);
                    let (low, high) = (m - s.abs() + b.min(0.0), m + s.abs() + b.max(0.0));
                    let mut line = low.ceil();
                    while line <= high && count < parts.len() {
                        let guess = (line - m) / s;
                        let part = guess - (m + guess * (s + guess * b) - line) / (s + 2.0 * b * guess);
                        if part.abs() < 1.0 {
                            parts[count] = part;
                            count += 1;
                        }
                        line += 1.0;
                    }
                }
            }
            Trace::Exact { .. } => {
                for j in 0..16 {
                    parts[count] = (f64::from(j) - 7.5) / 8.0;
                    count += 1;
                }
            }
        }
        count
    }
}

impl<'a> Skyline<'a> {
    /// For the heights as seen from somewhere.
    pub(super) fn new(heights: &'a MoonHeights, sight: Sight) -> Skyline<'a> {
        let step_rad = (1.0 / heights.per_degree() as f64).to_radians();
        let per_piece = ((heights.per_degree() as f64 * BOUND_STEP_DEG) as i32).max(1);
        let pieces = (DEPTH_DEG.to_radians() / (step_rad * f64::from(per_piece))).ceil() as i32;
        // β of the rim of a smooth Moon, which lies a little before the plane through its centre.
        let rim_rad = DATUM_KM / sight.distance_km;
        let reach = pieces * per_piece;
        let samples = vec![f64::NEG_INFINITY; 2 * reach as usize + 1];
        let beta: Vec<_> = (-reach..=reach).map(|k| (rim_rad + f64::from(k) * step_rad).sin_cos()).collect();
        let half = 0.5 * f64::from(per_piece);
        let middle =
            |piece: i32, side: f64| (rim_rad + side * (f64::from(piece * per_piece) + half) * step_rad).sin_cos();
        let middles = (0..pieces).map(|piece| [middle(piece, 1.0), middle(piece, -1.0)]).collect();
        Skyline {
            heights,
            sight,
            step_rad,
            per_piece,
            pieces,
            beta,
            middles,
            samples,
            bounds: vec![None; SECTORS],
            hints: [0; 2],
        }
    }

    fn beta(&self, k: i32) -> (f64, f64) {
        self.beta[(k + self.pieces * self.per_piece) as usize]
    }

    fn direction(&self, outward: Vec3, (sin, cos): (f64, f64)) -> Vec3 {
        add(scale(outward, cos), scale(self.sight.eye, sin))
    }

    /// The arc about an angle (its sine and cosine), to so much on either side.
    fn trace(&self, outward: Vec3, (sin, cos): (f64, f64), half_rad: f64) -> Trace {
        let [x, y, z] = self.direction(outward, (sin, cos));
        if z.abs() > POLAR {
            return Trace::Exact { outward, eye: self.sight.eye };
        }
        // Along the circle the direction p goes on by p' and bends by −p; latitude is asin z, longitude atan2(y, x).
        let [dx, dy, dz] = sub(scale(self.sight.eye, cos), scale(outward, sin));
        let level = 1.0 - z * z;
        let cos_lat = level.sqrt();
        let lat = [dz / cos_lat, -z * (level - dz * dz) / (level * cos_lat)];
        let lon = (x * dy - y * dx) / level;
        let lon = [lon, 2.0 * lon * z * dz / level];
        let per_rad = self.heights.samples() / TAU * half_rad;
        Trace::Parabola {
            middle: self.heights.place([x, y, z]),
            slope: [-lat[0] * per_rad, lon[0] * per_rad],
            bend: [-0.5 * lat[1] * per_rad * half_rad, 0.5 * lon[1] * per_rad * half_rad],
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

    /// No surface along a part of an arc (from −1 to 1) is higher than this above the datum, where that is known.
    fn top_km(&self, trace: &Trace, part: [f64; 2]) -> Option<f64> {
        let Trace::Parabola { middle, slope, bend } = trace else { return None };
        let wide = 0.25 * (part[1] - part[0]) * (part[1] - part[0]);
        let [lines, samples] = [0, 1].map(|i| {
            let [a, b] = part.map(|p| middle[i] + p * (slope[i] + p * bend[i]));
            // A parabola leaves its chord by a quarter of the bend for each square of the length.
            let room = wide * bend[i].abs() + TRACE_ROOM;
            [a.min(b) - room, a.max(b) + room]
        });
        self.heights.top_km(lines, samples)
    }

    fn tangent(&self, radius_km: f64, (sin, cos): (f64, f64)) -> f64 {
        radius_km * cos / (self.sight.distance_km - radius_km * sin)
    }

    fn summit_at(&self, outward: Vec3, beta: (f64, f64), radius_km: f64) -> Summit {
        Summit { point_km: scale(self.direction(outward, beta), radius_km), tangent: self.tangent(radius_km, beta) }
    }

    /// Bounds of the pieces, before and behind the rim by turns, in a sector narrow enough for the bounds' width.
    fn bounds_of(&self, sector: usize) -> Box<[Bound]> {
        let outward = self.sight.outward((sector as f64 + 0.5) * TAU / SECTORS as f64);
        let mut bounds: Box<[Bound]> = (0..2 * self.middles.len())
            .map(|number| {
                let middle = self.middles[number / 2][number % 2];
                let direction = self.direction(outward, middle);
                let here_km = self.heights.highest_about_km(direction);
                Bound { here_km, onwards_km: here_km }
            })
            .collect();
        for number in (0..bounds.len() - 2).rev() {
            bounds[number].onwards_km = bounds[number].here_km.max(bounds[number + 2].onwards_km);
        }
        bounds
    }

    /// The skyline in a direction (angle from the sight's north through east, radians), or the first point found that
    /// stands at least as high as `enough`; whether it is the skyline.
    pub(super) fn summit(&mut self, angle_rad: f64, enough: f64) -> (Summit, bool) {
        let outward = self.sight.outward(angle_rad);
        if enough < f64::INFINITY {
            for k in self.hints {
                let beta = self.beta(k);
                let radius_km = DATUM_KM + self.heights.height_km(self.heights.place(self.direction(outward, beta)));
                if self.tangent(radius_km, beta) >= enough {
                    return (self.summit_at(outward, beta, radius_km), false);
                }
            }
        }
        let sector = (angle_rad.rem_euclid(TAU) / TAU * SECTORS as f64) as usize % SECTORS;
        let bounds = self.bounds[sector].take().unwrap_or_else(|| self.bounds_of(sector));
        let zero = self.pieces * self.per_piece;
        let mut scan = Scan {
            best: (f64::NEG_INFINITY, 0, 0.0),
            samples: std::mem::take(&mut self.samples),
            taken: [zero, zero],
            enough,
            found: None,
        };
        let whole = self.scan(outward, &bounds, &mut scan);
        let Scan { best, mut samples, taken, found, .. } = scan;
        let mut summit = found.unwrap_or_else(|| self.summit_at(outward, self.beta(best.1), best.2));
        let [from, to] = taken.map(|at| at as usize);
        if whole {
            self.climb(outward, best.1, &mut summit);
            let per_km = 1.0 / self.sight.distance_km;
            for at in from + 1..to {
                let (before, tangent, after) = (samples[at - 1], samples[at], samples[at + 1]);
                let k = at as i32 - zero;
                if tangent + (HIDDEN_RISE_KM + LEAST_RISE_KM) * per_km < summit.tangent
                    || tangent < before
                    || tangent < after
                    || k == best.1
                {
                    continue;
                }
                let rise = self.rise(before, tangent, after);
                if tangent + rise > summit.tangent {
                    self.climb(outward, k, &mut summit);
                }
            }
        }
        samples[from..=to].fill(f64::NEG_INFINITY);
        self.bounds[sector] = Some(bounds);
        self.hints = if self.hints[0] == best.1 { self.hints } else { [best.1, self.hints[0]] };
        self.samples = samples;
        (summit, whole)
    }

    /// Takes samples wherever the skyline may be; whether all of them, none being high enough.
    fn scan(&self, outward: Vec3, bounds: &[Bound], scan: &mut Scan) -> bool {
        // Where the last skylines stood is a good place to begin: what cannot stand higher need not be looked at.
        let hinted = self.hints.map(|k| ((k.abs() - 1).max(0) / self.per_piece, if k < 0 { -1 } else { 1 }));
        let [one, other] = hinted;
        for at in [Some(one), (other != one).then_some(other)].into_iter().flatten() {
            if self.scan_piece(outward, bounds, at, scan) {
                return false;
            }
        }
        if let Some(summit) = self.climbed_enough(outward, scan) {
            scan.found = Some(summit);
            return false;
        }
        for side in [1, -1] {
            for piece in 0..self.pieces {
                // Of a sphere the end that is nearer to the rim stands highest.
                let bound = &bounds[(2 * piece + i32::from(side < 0)) as usize];
                if self.tangent(DATUM_KM + bound.onwards_km, self.beta(side * piece * self.per_piece)) < scan.best.0 {
                    break;
                }
                if !hinted.contains(&(piece, side)) && self.scan_piece(outward, bounds, (piece, side), scan) {
                    return false;
                }
            }
        }
        true
    }

    /// The top of the best of these samples, where that is high enough and no other would be asked for a higher one.
    fn climbed_enough(&self, outward: Vec3, scan: &Scan) -> Option<Summit> {
        let (tangent, k, radius_km) = scan.best;
        let at = (k + self.pieces * self.per_piece) as usize;
        let (before, after) = (*scan.samples.get(at.wrapping_sub(1))?, *scan.samples.get(at + 1)?);
        let most = tangent + self.rise(before, tangent, after);
        if before == f64::NEG_INFINITY || after == f64::NEG_INFINITY || most < scan.enough {
            return None;
        }
        let mut summit = self.summit_at(outward, self.beta(k), radius_km);
        self.climb(outward, k, &mut summit);
        (scan.enough..=most).contains(&summit.tangent).then_some(summit)
    }

    /// By how much the top within a pixel of a sample is expected to stand above it at most: what climbs steeply may climb on for
    /// half a pixel.
    fn rise(&self, before: f64, tangent: f64, after: f64) -> f64 {
        let per_km = 1.0 / self.sight.distance_km;
        (0.6 * (tangent - before.min(after))).min(HIDDEN_RISE_KM * per_km) + LEAST_RISE_KM * per_km
    }

    /// Takes the samples of a piece before (1) or behind (−1) the rim; whether one is high enough.
    fn scan_piece(&self, outward: Vec3, bounds: &[Bound], (piece, side): (i32, i32), scan: &mut Scan) -> bool {
        let first = piece * self.per_piece;
        let highest_km = bounds[(2 * piece + i32::from(side < 0)) as usize].here_km;
        if self.tangent(DATUM_KM + highest_km, self.beta(side * first)) < scan.best.0 {
            return false;
        }
        let zero = self.pieces * self.per_piece;
        let half = 0.5 * f64::from(self.per_piece);
        let middle = self.middles[piece as usize][usize::from(side < 0)];
        let trace = self.trace(outward, middle, half * self.step_rad);
        let end = zero + side * (first + self.per_piece);
        scan.taken = [scan.taken[0].min(end), scan.taken[1].max(end)];
        // From one end to the other of the piece the arc runs from −1 to 1, or back.
        let along = |k: i32| f64::from(side) * (f64::from(k - first) / half - 1.0);
        for from in (first..first + self.per_piece).step_by(PART) {
            let to = (from + PART as i32).min(first + self.per_piece);
            if let Some(top_km) = self.top_km(&trace, [along(from), along(to)])
                && self.tangent(DATUM_KM + top_km, self.beta(side * from)) < scan.best.0
            {
                continue;
            }
            // The rim itself belongs to the first piece.
            let start = if from == 0 && side == 1 { 0 } else { from + 1 };
            for k in start..=to {
                let beta = self.beta(side * k);
                let radius_km = self.radius_km(&trace, along(k), beta);
                let tangent = self.tangent(radius_km, beta);
                scan.samples[(zero + side * k) as usize] = tangent;
                if tangent > scan.best.0 {
                    scan.best = (tangent, side * k, radius_km);
                    if tangent >= scan.enough {
                        return true;
                    }
                }
            }
        }
        false
    }

    /// The top within a pixel of a sample. Along a line the surface is a parabola from one line of the grid to the next, so
    /// the crossings are looked at, and the parabolas beside the highest.
    fn climb(&self, outward: Vec3, k: i32, best: &mut Summit) {
        let (sin_k, cos_k) = self.beta(k);
        let trace = self.trace(outward, (sin_k, cos_k), self.step_rad);
        let look = |part: f64| {
            let delta = part * self.step_rad;
            let (sin, cos) = (delta * (1.0 - delta * delta / 6.0), 1.0 - 0.5 * delta * delta);
            let beta = (sin_k * cos + cos_k * sin, cos_k * cos - sin_k * sin);
            let radius_km = self.radius_km(&trace, part, beta);
            (self.tangent(radius_km, beta), beta, radius_km)
        };
        let mut parts = [0.0; MOST_CROSSINGS + 3];
        let count = trace.crossings(&mut parts);
        let parts = &mut parts[..count];
        parts.sort_unstable_by(f64::total_cmp);
        let mut top = (f64::NEG_INFINITY, 0);
        let mut at = [0.0; MOST_CROSSINGS + 3];
        for (number, &part) in parts.iter().enumerate() {
            let found = look(part);
            at[number] = found.0;
            if found.0 > top.0 {
                top = (found.0, number);
            }
            if found.0 > best.tangent {
                *best = self.summit_at(outward, found.1, found.2);
            }
        }
        for first in [top.1.wrapping_sub(1), top.1] {
            let (Some(&low), Some(&high)) = (parts.get(first), parts.get(first.wrapping_add(1))) else { continue };
            let middle = look(0.5 * (low + high)).0;
            // The parabola through both ends and the middle, from −1 to 1.
            let (slope, bend) = (0.5 * (at[first + 1] - at[first]), 0.5 * (at[first + 1] + at[first]) - middle);
            let vertex = -0.5 * slope / bend;
            if bend < 0.0 && vertex.abs() < 1.0 {
                let found = look(0.5 * (low + high) + 0.5 * vertex * (high - low));
                if found.0 > best.tangent {
                    *best = self.summit_at(outward, found.1, found.2);
                }
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
        self.best_about(middle_rad, space_rad, first, STEADY, gap)
    }

    /// The lowest summit in a direction or up to `space_rad` to either side of it, as [`Skyline::notch`] has it.
    pub(super) fn lowest(&mut self, middle_rad: f64, space_rad: f64, first: Summit) -> (f64, Summit) {
        // What stands as high as the lowest is not lower, wherever the Sun is.
        self.best_about(middle_rad, space_rad, first, 0.0, |summit| -summit.tangent)
    }

    /// A summit that stands higher than the best by `steady` (tangent) cannot be better.
    fn best_about(
        &mut self,
        middle_rad: f64,
        space_rad: f64,
        first: Summit,
        steady: f64,
        gap: impl Fn(&Summit) -> f64,
    ) -> (f64, Summit) {
        let mut best = (gap(&first), middle_rad, first);
        let look = |skyline: &mut Skyline, angle: f64, best: &mut (f64, f64, Summit)| {
            let (summit, _) = skyline.summit(angle, best.2.tangent + steady);
            let found = gap(&summit);
            if found > best.0 {
                *best = (found, angle, summit);
            }
        };
        let mut half = 0.5 * space_rad;
        for _ in 0..HALVINGS {
            let centre = best.1;
            look(self, centre - half, &mut best);
            look(self, centre + half, &mut best);
            half *= 0.5;
        }
        (best.1, best.2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where a search begins, and what it leaves out, changes nothing of what it finds; and where it stops at a point that is high
    /// enough, the skyline is as high.
    #[test]
    fn what_was_found_before_changes_nothing() {
        let heights = MoonHeights::embedded();
        let sight = Sight::with_north([0.998, 0.05, 0.03], [0.0, 0.0, 1.0], 360_000.0);
        let mut used = Skyline::new(heights, sight);
        for k in 0..400 {
            let angle = f64::from(k) * 2.399_963;
            let (plain, whole) = Skyline::new(heights, sight).summit(angle, f64::INFINITY);
            assert!(whole);
            assert_eq!(used.summit(angle, f64::INFINITY), (plain, true), "{angle}");
            for above in [2e-8, 0.0, -1e-9, -3e-7] {
                let enough = plain.tangent + above;
                let (found, whole) = used.summit(angle, enough);
                if above > 0.0 {
                    assert_eq!((found, whole), (plain, true), "{angle}");
                }
                assert!(whole && found == plain || found.tangent >= enough && found.tangent < plain.tangent + 1e-8);
            }
        }
    }
}
