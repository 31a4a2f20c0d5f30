//! Which summits of the edge can be where the last light goes out.
//!
//! The Sun is covered while no summit stands inside its disc, so its centre is confined to what the discs of its own radius
//! about all summits leave free in the middle. Only summits whose disc bounds that space can matter: those that a ball of
//! the Sun's size touches as it rolls round inside the edge. In the plane of the sky that is, for each direction θ from the
//! Moon's centre, the least d with |P − d θ| = σ over all summits P. What the ball can reach in a direction says in turn how
//! low a summit must stand to be worth a closer look, so the search goes from few directions to many.

use super::heights::MoonHeights;
use super::sky::Sight;
use super::skyline::{Skyline, Summit};
use std::f64::consts::TAU;
use std::ops::RangeInclusive;

/// Directions about the edge that are searched, a pixel of LDEM_16 apart; between them valleys are sought out.
const DIRECTIONS: usize = 5760;

/// Directions in which the ball is pushed.
const PUSHES: usize = 720;

/// What the ball touches lies within this of the direction in which it is pushed, in pushes: 55°.
const ABREAST: usize = 110;

/// A direction is looked at closely if it stands no more than this above what the ball reaches (tangent, 0.25″): 0.15″
/// because the bottom of a notch may lie between it and the next, the rest for corners between two pushes.
const BETWEEN: f64 = 0.25 / 206_265.0;

/// A summit is kept if it stands no more than this above what the ball reaches (0.06″): from sights half a step
/// apart summits are shifted against one another by 0.025″.
const KEPT: f64 = 0.06 / 206_265.0;

/// Where the edge leaves hardly any totality the ball is let out so far all the same (2″).
const LEAST_OFFSET: f64 = 2.0 / 206_265.0;

/// The summits that can matter from a sight: by angle from its north through east, in [0, 2π).
pub(super) struct Kept {
    pub sight: Sight,
    pub summits: Vec<(f64, Summit)>,
}

/// Searches them for Suns of some radii (tangents).
pub(super) fn summits(heights: &MoonHeights, sight: Sight, suns: &[f64]) -> Kept {
    let step = TAU / DIRECTIONS as f64;
    let mut skyline = Skyline::new(heights, sight);
    let mut seen = vec![false; DIRECTIONS];
    let mut known: Vec<(f64, Summit)> = Vec::new();
    let mut reach = vec![f64::INFINITY; PUSHES];
    for stride in [32, 4, 1] {
        for index in (0..DIRECTIONS).step_by(stride) {
            if std::mem::replace(&mut seen[index], true) {
                continue;
            }
            let angle = index as f64 * step;
            let (summit, whole) = skyline.summit(angle, between(&reach, angle) + BETWEEN);
            if whole {
                known.push((angle, summit));
            }
        }
        reach = reached(&lowest_about_pushes(&known), suns);
        known.retain(|(angle, summit)| summit.tangent <= between(&reach, *angle) + BETWEEN);
    }
    known.sort_by(|a, b| a.0.total_cmp(&b.0));
    let count = known.len();
    let mut all = known.clone();
    for (number, &(angle, summit)) in known.iter().enumerate() {
        let lower = |other: &(f64, Summit)| {
            let away = (other.0 - angle).abs();
            away.min(TAU - away) < 1.5 * step && other.1.tangent < summit.tangent
        };
        if !lower(&known[(number + count - 1) % count]) && !lower(&known[(number + 1) % count]) {
            let (angle, summit) = skyline.lowest(angle, step, summit);
            all.push((angle.rem_euclid(TAU), summit));
        }
    }
    let reach = reached(&all, suns);
    all.retain(|(angle, summit)| summit.tangent <= between(&reach, *angle) + KEPT);
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    // A quarter is left of what was searched, and is kept for hundreds of sights.
    all.shrink_to_fit();
    Kept { sight, summits: all }
}

/// Of summits that were searched for several Suns, those that can matter for some of them and stand no more than `above`
/// (tangent) over what the ball reaches.
pub(super) fn of_these(summits: &[(f64, Summit)], suns: &[f64], above: f64) -> Vec<(f64, Summit)> {
    let reach = reached(summits, suns);
    summits.iter().copied().filter(|(angle, summit)| summit.tangent <= between(&reach, *angle) + above).collect()
}

/// Of the summits nearest to each push the lowest: with fewer the ball is never held too short.
fn lowest_about_pushes(known: &[(f64, Summit)]) -> Vec<(f64, Summit)> {
    let mut lowest: Vec<Option<(f64, Summit)>> = vec![None; PUSHES];
    for &(angle, summit) in known {
        let slot = &mut lowest[(angle / TAU * PUSHES as f64).round() as usize % PUSHES];
        if slot.is_none_or(|(_, other)| summit.tangent < other.tangent) {
            *slot = Some((angle, summit));
        }
    }
    lowest.into_iter().flatten().collect()
}

/// How far the ball can reach in each of the directions, whichever of the Suns it is.
fn reached(known: &[(f64, Summit)], suns: &[f64]) -> Vec<f64> {
    let step = TAU / PUSHES as f64;
    // Sines and cosines of the pushes about one, from furthest before to furthest after it.
    let abreast: Vec<[f64; 2]> =
        (0..=2 * ABREAST).map(|k| ((k as f64 - ABREAST as f64) * step).sin_cos().into()).collect();
    let mut reach = vec![f64::NEG_INFINITY; PUSHES];
    for &sun in suns {
        let offsets = known.iter().map(|(angle, summit)| {
            let place = angle / TAU * PUSHES as f64;
            let first = (place as usize).min(PUSHES - 1);
            let (sin, cos) = ((place - first as f64) * step).sin_cos();
            let (sin, cos) = (sin * summit.tangent, cos * summit.tangent);
            let abreast = &abreast;
            let touched = move |k: usize| {
                let [s, c] = abreast[k];
                let (aside, ahead) = (s * cos - c * sin, c * cos + s * sin);
                // Not a number where the summit stands too far aside to be touched, and then not the least.
                ahead - (sun * sun - aside * aside).sqrt()
            };
            Curve { middle: first, rises: summit.tangent > sun, value: touched }
        });
        let offsets: Vec<_> = offsets.collect();
        let offset = least(&offsets);
        let far: Vec<_> = offset
            .iter()
            .enumerate()
            .map(|(push, offset)| {
                let d = if offset.is_finite() { offset.max(LEAST_OFFSET) } else { LEAST_OFFSET };
                let abreast = &abreast;
                let touched = move |k: usize| {
                    let [s, c] = abreast[k];
                    -(d * c + (sun * sun - d * d * s * s).sqrt())
                };
                Curve { middle: push, rises: true, value: touched }
            })
            .collect();
        reach.iter_mut().zip(least(&far)).for_each(|(cell, far)| *cell = cell.max(-far));
    }
    reach
}

/// Values in the pushes about one, from [`ABREAST`] before it to as many after it.
struct Curve<F: Fn(usize) -> f64> {
    /// The push in the middle.
    middle: usize,
    /// Whether they rise to both sides: from the middle backwards, and from the next push onwards.
    rises: bool,
    /// The value in a push, counted from the first.
    value: F,
}

impl<F: Fn(usize) -> f64> Curve<F> {
    fn put(&self, cells: &mut [f64], pushes: RangeInclusive<usize>) {
        for k in pushes {
            let value = (self.value)(k);
            let cell = &mut cells[(self.middle + k + PUSHES - ABREAST) % PUSHES];
            *cell = if value < *cell { value } else { *cell };
        }
    }
}

/// For each direction the least of the curves; where none is a number, above everything.
fn least<F: Fn(usize) -> f64>(curves: &[Curve<F>]) -> Vec<f64> {
    const NEAR: usize = 8;
    // Pushes for which one value decides whether the curve can matter in any of them.
    const BLOCK: usize = 16;
    // What rounding can hide; the values are tangents of some thousandths.
    const ROUNDING: f64 = 1e-15;
    let mut cells = vec![f64::INFINITY; PUSHES];
    let (first, last) = (ABREAST - NEAR, ABREAST + 1 + NEAR);
    for curve in curves {
        curve.put(&mut cells, if curve.rises { first..=last } else { 0..=2 * ABREAST });
    }
    let highest: Vec<f64> =
        cells.chunks(BLOCK).map(|block| block.iter().copied().fold(f64::NEG_INFINITY, f64::max)).collect();
    for curve in curves.iter().filter(|curve| curve.rises) {
        let place = |k: usize| (curve.middle + k + PUSHES - ABREAST) % PUSHES;
        let matters = |nearest: usize| (curve.value)(nearest) <= highest[place(nearest) / BLOCK] + ROUNDING;
        let mut from = last + 1;
        while from <= 2 * ABREAST {
            let to = (from + BLOCK - 1 - place(from) % BLOCK).min(2 * ABREAST);
            if matters(from) {
                curve.put(&mut cells, from..=to);
            }
            from = to + 1;
        }
        let mut end = first;
        while end > 0 {
            let start = (end - 1).saturating_sub(place(end - 1) % BLOCK);
            if matters(end - 1) {
                curve.put(&mut cells, start..=end - 1);
            }
            end = start;
        }
    }
    cells
}

/// Between two of those directions in a straight line, which is never too low by more than the ball's curve, 0.001″.
fn between(reach: &[f64], angle: f64) -> f64 {
    let place = angle.rem_euclid(TAU) / TAU * PUSHES as f64;
    let first = place as usize % PUSHES;
    let (a, b) = (reach[first], reach[(first + 1) % PUSHES]);
    if a.is_finite() && b.is_finite() { a + (b - a) * place.fract() } else { f64::INFINITY }
}
