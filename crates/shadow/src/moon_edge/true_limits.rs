//! The true limits on the ground: beyond them no place has a moment without sunlight.
//!
//! They lie within some kilometres of the smooth Moon's limits and are sought from those, at right angles: outwards or
//! inwards until totality ends or begins, then by halving.

use super::heights::MoonHeights;
use super::lattice::EdgeLattice;
use super::settings::EdgeSettings;
use crate::eclipse::Eclipse;
use crate::geodesy::{bearing_deg, destination, distance_km};
use crate::site::Site;
use noonfall_ephemeris::GeoPoint;
use rayon::prelude::*;
use std::sync::{Arc, OnceLock};

/// The limit is found to this, km.
const CLOSE_ENOUGH_KM: f64 = 0.02;

/// The limit is not sought further than this from the smooth one, km. In the middle of the path it lies within a few
/// kilometres; near its ends, where the shadow grazes the Earth, ten times as far.
const FURTHEST_KM: f64 = 80.0;

/// Both limits, at sea level, in order of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TrueLimits {
    /// The northern one; empty where there is none.
    pub north: Vec<GeoPoint>,
    /// The southern one; empty where there is none.
    pub south: Vec<GeoPoint>,
}

impl Eclipse {
    /// The lines beyond which the Moon's true edge leaves no totality, a point for each of the smooth limits' every so many
    /// seconds. Points near the very ends of the path, and where a hybrid eclipse is not total, are left out.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// use noonfall_shadow::moon_edge::{EdgeSettings, MoonHeights};
    /// let limits = eclipse.true_limits(MoonHeights::embedded(), &EdgeSettings::default(), 1800.0);
    /// assert!(limits.north.len() > 2 && limits.south.len() > 2);
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn true_limits(&self, heights: &MoonHeights, settings: &EdgeSettings, every_s: f64) -> TrueLimits {
        EdgeLattice::new(self, heights, settings).true_limits(every_s)
    }
}

impl EdgeLattice {
    /// As [`Eclipse::true_limits`].
    pub fn true_limits(&self, every_s: f64) -> TrueLimits {
        let [north, south] = self
            .smooth_limits(every_s)
            .map(|smooth| (0..smooth.len()).into_par_iter().filter_map(|k| self.limit_at(&smooth, k)).collect());
        TrueLimits { north, south }
    }

    /// The smooth Moon's limits, northern and southern.
    fn smooth_limits(&self, every_s: f64) -> [Vec<GeoPoint>; 2] {
        let path = self.eclipse().path(every_s);
        let sides: [fn(&crate::path::PathPoint) -> Option<GeoPoint>; 2] = [|p| p.north, |p| p.south];
        sides.map(|side| path.points.iter().filter_map(side).collect())
    }

    /// The limit near one point of the smooth one.
    fn limit_at(&self, smooth: &[GeoPoint], k: usize) -> Option<GeoPoint> {
        let (before, after) = (smooth[k.saturating_sub(1)], smooth[(k + 1).min(smooth.len() - 1)]);
        let along_deg =
            if before == smooth[k] { bearing_deg(smooth[k], after) } else { bearing_deg(smooth[k], before) + 180.0 };
        self.limit_across(smooth[k], along_deg)
    }

    /// The limit on the geodesic at right angles to the smooth one.
    fn limit_across(&self, smooth: GeoPoint, along_deg: f64) -> Option<GeoPoint> {
        let longer = |deg: f64| {
            let place = destination(smooth, deg, 3.0);
            self.eclipse().quick(&Site::at_sea_level(place)).duration_s
        };
        let inwards_deg =
            if longer(along_deg + 90.0) > longer(along_deg - 90.0) { along_deg + 90.0 } else { along_deg - 90.0 };
        let at = |inwards_km: f64| destination(smooth, inwards_deg, inwards_km);
        let total = |inwards_km: f64| self.totality(&Site::at_sea_level(at(inwards_km))).is_some();
        // Outwards from a place that has totality, inwards from one that has none.
        let start = total(0.0);
        let sign = if start { -1.0 } else { 1.0 };
        let (mut low, mut high) = (0.0, 0.5);
        while total(sign * high) == start {
            (low, high) = (high, 2.0 * high);
            if high > FURTHEST_KM {
                return None;
            }
        }
        while high - low > CLOSE_ENOUGH_KM {
            let middle = 0.5 * (low + high);
            if total(sign * middle) == start { low = middle } else { high = middle }
        }
        Some(at(sign * 0.5 * (low + high)))
    }
}

/// The true limits, point by point found where they are asked for, and kept. Any number of threads may use it at once.
#[derive(Debug)]
pub struct LimitSearch {
    lattice: Arc<EdgeLattice>,
    sides: [Side; 2],
}

/// The limit on one side of the path.
#[derive(Debug)]
struct Side {
    smooth: Vec<GeoPoint>,
    /// How far each of those lies from the next, km.
    steps_km: Vec<f64>,
    found: Vec<OnceLock<Option<GeoPoint>>>,
}

impl LimitSearch {
    /// For limits as [`EdgeLattice::true_limits`] has them. Nothing is sought yet.
    pub fn new(lattice: Arc<EdgeLattice>, every_s: f64) -> LimitSearch {
        let sides = lattice.smooth_limits(every_s).map(|smooth| Side {
            steps_km: smooth.windows(2).map(|pair| distance_km(pair[0], pair[1])).collect(),
            found: smooth.iter().map(|_| OnceLock::new()).collect(),
            smooth,
        });
        LimitSearch { lattice, sides }
    }

    /// Whether there is a line on either side: two points of it, sought from the middle of the path.
    pub fn any(&self) -> bool {
        self.sides.iter().any(|side| {
            let count = side.smooth.len();
            let outwards = (0..count).map(|k| if k % 2 == 0 { count / 2 + k / 2 } else { count / 2 - k.div_ceil(2) });
            outwards.filter_map(|k| self.point(side, k)).take(2).count() == 2
        })
    }

    /// Those pieces of both lines that may come within a distance of a place, northern ones first.
    pub fn near(&self, centre: GeoPoint, reach_km: f64) -> Vec<Vec<GeoPoint>> {
        self.sides.iter().flat_map(|side| self.pieces(side, centre, reach_km)).collect()
    }

    fn point(&self, side: &Side, k: usize) -> Option<GeoPoint> {
        *side.found[k].get_or_init(|| self.lattice.limit_at(&side.smooth, k))
    }

    fn pieces(&self, side: &Side, centre: GeoPoint, reach_km: f64) -> Vec<Vec<GeoPoint>> {
        let count = side.smooth.len();
        // Between two points that lie further away than that no line comes so near.
        let wanted = |&k: &usize| {
            let around = &side.steps_km[k.saturating_sub(1)..(k + 1).min(side.steps_km.len())];
            let step_km = around.iter().copied().fold(0.0, f64::max);
            distance_km(side.smooth[k], centre) < reach_km + FURTHEST_KM + 2.0 * step_km
        };
        let wanted: Vec<usize> = (0..count).filter(wanted).collect();
        wanted
            .chunk_by(|a, b| a + 1 == *b)
            .map(|run| {
                // Where there is no point, the line goes on to the next that there is.
                let before = (0..run[0]).rev().take_while(|_| self.point(side, run[0]).is_none());
                let before = before.map(|k| self.point(side, k)).find(Option::is_some).flatten();
                let last = run[run.len() - 1];
                let after = (last + 1..count).take_while(|_| self.point(side, last).is_none());
                let after = after.map(|k| self.point(side, k)).find(Option::is_some).flatten();
                let between: Vec<GeoPoint> = run.par_iter().filter_map(|&k| self.point(side, k)).collect();
                before.into_iter().chain(between).chain(after).collect::<Vec<_>>()
            })
            .filter(|piece| piece.len() > 1)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Conventions;
    use noonfall_ephemeris::Kernel;

    /// A hundred metres inside each limit the plain way finds totality, a hundred metres outside none; and the limits lie
    /// within some kilometres of the smooth ones.
    #[test]
    fn totality_ends_at_the_limits() {
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let lattice = EdgeLattice::new(&eclipse, MoonHeights::embedded(), &EdgeSettings::default());
        let settings = EdgeSettings::default();
        let path = eclipse.path(3600.0);
        let point = path.points.iter().find(|p| p.north.is_some() && p.south.is_some() && p.central.is_some()).unwrap();
        let (north, south) = (point.north.unwrap(), point.south.unwrap());
        for (smooth, other) in [(north, south), (south, north)] {
            let across_deg = bearing_deg(smooth, other);
            let found = lattice.limit_across(smooth, across_deg + 90.0).unwrap();
            let away_km = crate::geodesy::distance_km(smooth, found);
            assert!(away_km > 0.02 && away_km < 12.0, "{away_km}");
            let inwards_deg = bearing_deg(found, other);
            let total = |km: f64| {
                let site = Site::at_sea_level(destination(found, inwards_deg, km));
                eclipse.true_totality(&site, MoonHeights::embedded(), &settings).is_some()
            };
            assert!(total(0.1) && !total(-0.1), "{smooth:?}");
        }
    }

    /// What is found for one place is a piece of the whole line, and all of it that comes near.
    #[test]
    fn pieces_near_a_place_are_those_of_the_whole_lines() {
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let settings = EdgeSettings::default();
        let lattice = Arc::new(EdgeLattice::new(&eclipse, MoonHeights::embedded(), &settings));
        let whole = lattice.true_limits(300.0);
        let search = LimitSearch::new(lattice, 300.0);
        assert!(search.any());
        // In the middle, and about the western end, where points are missing.
        for centre in [whole.north[whole.north.len() / 2], whole.south[0]] {
            let pieces = search.near(centre, 200.0);
            assert!((1..=2).contains(&pieces.len()), "{}", pieces.len());
            let (mut near, mut all) = (0, 0);
            for (piece, line) in pieces.iter().zip([&whole.north, &whole.south]) {
                assert!(line.windows(piece.len()).any(|part| part == piece.as_slice()));
                near += piece.iter().filter(|p| distance_km(**p, centre) < 200.0).count();
                all += line.iter().filter(|p| distance_km(**p, centre) < 200.0).count();
                assert!(piece.len() < line.len() / 2);
            }
            assert!(near > 0 && near == all, "{near} of {all}");
        }
        let far = GeoPoint { lat_deg: 60.0, lon_deg: -30.0 };
        assert!(search.near(far, 200.0).is_empty());
    }
}
