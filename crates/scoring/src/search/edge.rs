//! The Moon's true edge in a search: a bound of what it can do to a score, and its answer for one point.

use noonfall_ephemeris::Tt;
use noonfall_shadow::Site;
use noonfall_shadow::moon_edge::EdgeLattice;

/// The Moon's true edge for the points of a search.
#[derive(Clone, Copy)]
pub struct SearchEdge<'a> {
    /// Profiles of the edge.
    pub lattice: &'a EdgeLattice,
}

/// How much longer, and how much shorter, totality at the true edge may be than the smooth Moon's, seconds: over 70 places
/// of 21 eclipses it was −12 to +3 s (reports/accuracy.md).
const EDGE_GAINS_S: f64 = 8.0;
const EDGE_TAKES_S: f64 = 20.0;

impl SearchEdge<'_> {
    /// Seconds of totality at the true edge, with second and third contact; `None` where it leaves none.
    pub(super) fn totality(&self, site: &Site) -> Option<(f64, Tt, Tt)> {
        self.lattice.totality(site).map(|t| (t.duration_s, t.c2.tt, t.c3.tt))
    }

    /// The best score that the edge could make of a smooth totality, second by second; where the score never falls as totality
    /// grows, that of the longest.
    pub(super) fn best_hope(&self, smooth_s: f64, rises: bool, score: impl Fn(f64) -> Option<f64>) -> f64 {
        if rises {
            return score(smooth_s + EDGE_GAINS_S).unwrap_or(f64::NEG_INFINITY);
        }
        let least = (smooth_s - EDGE_TAKES_S).max(0.0);
        let seconds = (smooth_s + EDGE_GAINS_S - least).ceil() as u32;
        let at = |k: u32| (least + f64::from(k)).min(smooth_s + EDGE_GAINS_S);
        (0..=seconds).filter_map(|k| score(at(k))).fold(f64::NEG_INFINITY, f64::max)
    }
}
