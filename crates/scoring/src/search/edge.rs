//! The Moon's true edge in a search: a bound of what it can do to a score, and its answer for one point.

use noonfall_ephemeris::Tt;
use noonfall_shadow::Site;
use noonfall_shadow::moon_edge::EdgeLattice;

use super::point_score::Span;

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

    /// What the edge can make of a smooth totality, seconds.
    pub(super) fn span_s(smooth_s: f64) -> Span {
        Span { least: (smooth_s - EDGE_TAKES_S).max(0.0), most: smooth_s + EDGE_GAINS_S }
    }
}
