//! The Moon's true edge in a search: bounds of what it can do to a score, and its answer for one point.

use std::collections::HashMap;

use noonfall_ephemeris::{GeoPoint, Tt};
use noonfall_shadow::moon_edge::EdgeLattice;
use noonfall_shadow::{Eclipse, Phase, Site};

use super::KM_PER_DEG;
use super::point_score::Span;
use super::tiles::{TILE_DEG, Tile};
use crate::land::half_turn;

/// The Moon's true edge for the points of a search.
#[derive(Clone, Copy)]
pub struct SearchEdge<'a> {
    /// Profiles of the edge.
    pub lattice: &'a EdgeLattice,
}

/// How much longer totality at the true edge may be than the smooth Moon's, seconds, where the smooth one is short, and elsewhere; and how
/// much shorter. Over 70 places of 21 eclipses it was −12 to +3 s (reports/accuracy.md), over 150 000 points of the paths of each of 13
/// eclipses up to +10.8 s, below a minute and beside the limits, and some −60 s there.
const EDGE_GAINS_S: (f64, f64) = (14.0, 8.0);
const SHORT_S: f64 = 60.0;
const EDGE_TAKES_S: f64 = 80.0;

impl SearchEdge<'_> {
    /// Seconds of totality at the true edge, with second and third contact; `None` where it leaves none.
    pub(super) fn totality(&self, site: &Site) -> Option<(f64, Tt, Tt)> {
        self.lattice.totality(site).map(|t| (t.duration_s, t.c2.tt, t.c3.tt))
    }

    /// What the edge can make of a smooth totality, seconds.
    pub(super) fn span_s(smooth_s: f64) -> Span {
        let gains = if smooth_s < SHORT_S { EDGE_GAINS_S.0 } else { EDGE_GAINS_S.1 };
        Span { least: (smooth_s - EDGE_TAKES_S).max(0.0), most: smooth_s + gains }
    }
}

/// Kilometres between the nodes of [`EdgeGains`].
const GAINS_KM: f64 = 2.0;
/// The Sun stands at least so high, degrees: below, a mountain is thrown far aside.
const GAINS_FROM_ALTITUDE_DEG: f64 = 4.0;
/// The nodes around a point differ by at most so much, seconds.
const GAINS_SPAN_S: f64 = 5.0;
/// A point may gain more than the nodes around it by this, seconds, and by this part of what they differ by. Of 150 000 points of the paths
/// of each of 13 eclipses, at heights up to 2500 m, none with a minute of totality gained more than 1.3 s more but where they differ by 60 s. It
/// may lose far more: a valley that it alone sees between two hills of the edge.
const GAINS_SPARE: (f64, f64) = (2.0, 0.5);

/// How much longer totality is at the true edge than the smooth Moon's, at nodes around a tile that are asked as they are needed: a closer
/// bound than [`SearchEdge::span_s`] where many points of a tile would have to be asked.
pub(super) struct EdgeGains<'a> {
    edge: SearchEdge<'a>,
    eclipse: &'a Eclipse,
    south: f64,
    west: f64,
    /// From node to node, degrees of latitude and longitude.
    step: (f64, f64),
    /// How far a point's sight line to the Sun comes down beside it, steps of latitude and longitude to a metre of its height where the
    /// Sun stands 45° high.
    aside: (f64, f64),
    nodes: HashMap<(i32, i32), Option<f64>>,
}

impl<'a> EdgeGains<'a> {
    pub(super) fn around(edge: SearchEdge<'a>, eclipse: &'a Eclipse, tile: &Tile) -> EdgeGains<'a> {
        let (lat_deg, lon_deg) = (tile.south() + 0.5 * TILE_DEG, 0.5 * (tile.west + tile.east));
        let site = Site::at_sea_level(GeoPoint { lat_deg, lon_deg });
        let azimuth_deg = eclipse.view(&site, eclipse.quick(&site).max).sun_azimuth_deg;
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        let step_deg = GAINS_KM / KM_PER_DEG;
        let a_metre = 1e-3 / GAINS_KM;
        EdgeGains {
            edge,
            eclipse,
            south: tile.south(),
            west: tile.west,
            step: (step_deg, step_deg / lat_deg.to_radians().cos().max(0.01)),
            aside: (-cos * a_metre, -sin * a_metre),
            nodes: HashMap::new(),
        }
    }

    /// What the edge can make of the smooth totality of a point, seconds; of the Sun its altitude.
    pub(super) fn span_s(&mut self, site: &Site, smooth_s: f64, sun_altitude_deg: f64) -> Span {
        let any = SearchEdge::span_s(smooth_s);
        // Near the limits of the path the edge decides whether there is any.
        if smooth_s < SHORT_S || sun_altitude_deg < GAINS_FROM_ALTITUDE_DEG {
            return any;
        }
        // A point sees what the place sees at which its sight line meets sea level.
        let aside = site.elevation_m / sun_altitude_deg.to_radians().tan();
        let y = (site.lat_deg - self.south) / self.step.0 + self.aside.0 * aside;
        let x = (site.lon_deg - self.west) / self.step.1 + self.aside.1 * aside;
        let (row, column) = (y.floor() as i32, x.floor() as i32);
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for node in [(row, column), (row, column + 1), (row + 1, column), (row + 1, column + 1)] {
            let Some(gain) = self.gain_s(node) else { return any };
            (least, most) = (least.min(gain), most.max(gain));
        }
        if most - least > GAINS_SPAN_S {
            return any;
        }
        let spare = GAINS_SPARE.0 + GAINS_SPARE.1 * (most - least);
        Span { most: (smooth_s + most + spare).min(any.most), ..any }
    }

    /// The gain at a node; `None` where it is too near to the limits, or no place.
    fn gain_s(&mut self, node: (i32, i32)) -> Option<f64> {
        let (south, west, step) = (self.south, self.west, self.step);
        let (edge, eclipse) = (&self.edge, self.eclipse);
        *self.nodes.entry(node).or_insert_with(|| {
            let lat_deg = south + f64::from(node.0) * step.0;
            let lon_deg = west + f64::from(node.1) * step.1;
            let site = Site::new(lat_deg, half_turn(lon_deg), 0.0).ok()?;
            let smooth = eclipse.quick(&site);
            if smooth.phase != Phase::Total || smooth.duration_s < SHORT_S {
                return None;
            }
            edge.totality(&site).map(|(true_s, ..)| true_s - smooth.duration_s)
        })
    }
}
