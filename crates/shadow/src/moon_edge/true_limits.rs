//! The true limits on the ground: beyond them no place has a moment without sunlight.
//!
//! They lie within some kilometres of the smooth Moon's limits and are sought from those, at right angles: outwards or
//! inwards until totality ends or begins, then by halving.

use super::heights::MoonHeights;
use super::lattice::EdgeLattice;
use super::settings::EdgeSettings;
use crate::eclipse::Eclipse;
use crate::geodesy::{bearing_deg, destination};
use crate::site::Site;
use noonfall_ephemeris::GeoPoint;
use rayon::prelude::*;

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
    pub fn true_limits(&self, heights: &MoonHeights, settings: &EdgeSettings, every_s: f64) -> TrueLimits {
        EdgeLattice::new(self, heights, settings).true_limits(every_s)
    }
}

impl EdgeLattice {
    /// As [`Eclipse::true_limits`].
    pub fn true_limits(&self, every_s: f64) -> TrueLimits {
        let path = self.eclipse().path(every_s);
        let smooth = |side: fn(&crate::path::PathPoint) -> Option<GeoPoint>| -> Vec<GeoPoint> {
            path.points.iter().filter_map(side).collect()
        };
        TrueLimits { north: self.limit_near(&smooth(|p| p.north)), south: self.limit_near(&smooth(|p| p.south)) }
    }

    fn limit_near(&self, smooth: &[GeoPoint]) -> Vec<GeoPoint> {
        (0..smooth.len())
            .into_par_iter()
            .filter_map(|k| {
                let (before, after) = (smooth[k.saturating_sub(1)], smooth[(k + 1).min(smooth.len() - 1)]);
                let along_deg = if before == smooth[k] {
                    bearing_deg(smooth[k], after)
                } else {
                    bearing_deg(smooth[k], before) + 180.0
                };
                self.limit_across(smooth[k], along_deg)
            })
            .collect()
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
}
