//! The edge as seen from about one place, found where it is asked for and kept.
//!
//! A profile belongs to one sight. Its summits are points of the surface in the Moon's axes, so they may be looked at from
//! a sight nearby: each is then projected anew, and all that is left out is that another point of the same direction may
//! have become the highest. [`REUSE_RAD`] says how far that serves.

use super::heights::MoonHeights;
use super::sky::{Sight, Sky};
use super::skyline::{Skyline, Summit};
use super::sun_disc::SunDisc;
use noonfall_ephemeris::vector::{norm, sub};
use std::collections::VecDeque;
use std::f64::consts::TAU;

/// Directions about the edge at which the skyline is sampled: half a pixel of LDEM_16 apart. Between them it is refined
/// where it matters.
pub(super) const DIRECTIONS: usize = 11_520;

/// Sights whose eyes lie closer than this over the Moon may share a profile: 0.003°, 20 km on the ground, by which the
/// contacts change by less than 0.005″ (see the tests; at 0.01° the worst of 120 contacts was 0.013″).
pub(super) const REUSE_RAD: f64 = 0.003 * std::f64::consts::PI / 180.0;

/// Sights may differ so much in distance, as a part of it.
const REUSE_DISTANCE: f64 = 2e-3;

/// A gap so much smaller than the widest (tangent) may hide a wider one between the directions: 0.3″.
const REFINE_BELOW: f64 = 0.3 / 206_265.0;

/// Where the Sun reaches furthest beyond the edge, or comes nearest to it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Gap {
    /// Sun beyond the edge, as a tangent about the Moon's centre; negative where it is covered.
    pub height: f64,
    /// The point of the edge.
    pub summit: Summit,
}

/// The edge from one sight.
pub(super) struct Profile<'a> {
    heights: &'a MoonHeights,
    sight: Sight,
    skyline: Skyline<'a>,
    directions: usize,
    summits: Vec<Option<(Summit, bool)>>,
    refined: Vec<Option<Summit>>,
    /// Room for the directions that a search looks at, in order round the edge.
    seen: VecDeque<(usize, f64)>,
}

impl<'a> Profile<'a> {
    /// Nothing is searched yet.
    pub(super) fn new(heights: &'a MoonHeights, sight: Sight, directions: usize) -> Profile<'a> {
        Profile {
            heights,
            sight,
            skyline: Skyline::new(heights, sight),
            directions,
            summits: vec![None; directions],
            refined: vec![None; directions],
            seen: VecDeque::new(),
        }
    }

    /// Whether it serves for a sight.
    pub(super) fn serves(&self, sight: &Sight) -> bool {
        norm(sub(self.sight.eye, sight.eye)) < REUSE_RAD
            && (sight.distance_km / self.sight.distance_km - 1.0).abs() < REUSE_DISTANCE
    }

    /// The point at which the Sun reaches furthest beyond the edge, among those that count.
    pub(super) fn widest(&mut self, sky: &Sky, disc: &SunDisc) -> Option<Gap> {
        let sight = sky.sight.with_axes_of(&self.sight);
        let sun = disc.placed(&sight, sky);
        let step = TAU / self.directions as f64;
        let floor = {
            let (d, r) = (sight.distance_km, self.heights.floor_km());
            r / (d * d - r * r).sqrt() - disc.lowered
        };
        // The Sun reaches furthest on its own side of the Moon's centre, and less and less to either side of that.
        let towards = (sun.centre[0].atan2(sun.centre[1]) / step).round() as i64;
        let mut best: Option<Gap> = None;
        let mut seen = std::mem::take(&mut self.seen);
        seen.clear();
        let half = self.directions as i64 / 2;
        for away in 0..=half {
            let reach = sun.reach((away as f64 * step).cos() * sun.offset);
            if best.is_some_and(|b| reach - floor < b.height) {
                break;
            }
            for (number, onwards) in [(towards + away, true), (towards - away, false)] {
                let index = number.rem_euclid(self.directions as i64) as usize;
                // What lies so far below the widest gap needs no closer look: its edge is only higher.
                let enough = best.map_or(f64::INFINITY, |b| reach + disc.lowered - b.height + REFINE_BELOW);
                let summit = self.summit(index, enough);
                let Some(height) = sun.beyond(&sight, &summit, disc) else { continue };
                if onwards {
                    seen.push_back((index, height))
                } else {
                    seen.push_front((index, height))
                }
                if best.is_none_or(|b| height > b.height) {
                    best = Some(Gap { height, summit });
                }
                if away == 0 || away == half {
                    break;
                }
            }
        }
        let threshold = best?.height - REFINE_BELOW;
        for at in 0..seen.len() {
            let (index, height) = seen[at];
            let (before, after) = (seen[(at + seen.len() - 1) % seen.len()].1, seen[(at + 1) % seen.len()].1);
            if height < threshold || height < before || height < after {
                continue;
            }
            let summit = self.refined(index, |summit| sun.beyond(&sight, summit, disc));
            let Some(height) = sun.beyond(&sight, &summit, disc) else { continue };
            if best.is_none_or(|b| height > b.height) {
                best = Some(Gap { height, summit });
            }
        }
        self.seen = seen;
        best
    }

    /// The skyline in one of the directions, or a point of it that is high enough.
    fn summit(&mut self, index: usize, enough: f64) -> Summit {
        if let Some((summit, whole)) = self.summits[index]
            && (whole || summit.tangent >= enough)
        {
            return summit;
        }
        let found = self.skyline.summit(index as f64 * TAU / self.directions as f64, enough);
        self.summits[index] = Some(found);
        found.0
    }

    /// The lowest point of the edge, as the Sun has it, as far as the neighbouring directions.
    fn refined(&mut self, index: usize, beyond: impl Fn(&Summit) -> Option<f64>) -> Summit {
        if let Some(summit) = self.refined[index] {
            return summit;
        }
        let step = TAU / self.directions as f64;
        let first = self.summit(index, f64::INFINITY);
        let gap = |summit: &Summit| beyond(summit).unwrap_or(f64::NEG_INFINITY);
        let (_, summit) = self.skyline.notch(index as f64 * step, step, first, gap);
        self.refined[index] = Some(summit);
        summit
    }

    /// The summits in all directions in order, from north (of the sight the profile was made for) through east; a summit
    /// of which the second value is false is only a point at least as high as `enough` says for its direction.
    pub(super) fn around(&mut self, enough: impl Fn(f64) -> f64) -> Vec<(Summit, bool)> {
        let step = TAU / self.directions as f64;
        (0..self.directions)
            .map(|index| {
                let summit = self.summit(index, enough(index as f64 * step));
                (summit, self.summits[index].is_some_and(|(_, whole)| whole))
            })
            .collect()
    }

    /// The lowest point of the edge about one of those directions.
    pub(super) fn lowest_about(&mut self, index: usize) -> Summit {
        let step = TAU / self.directions as f64;
        let first = self.summit(index, f64::INFINITY);
        self.skyline.lowest(index as f64 * step, step, first).1
    }

    /// The sight it was made for.
    pub(super) fn sight(&self) -> &Sight {
        &self.sight
    }
}
