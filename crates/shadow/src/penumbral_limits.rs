//! Northern and southern limits of the partial eclipse: places whose greatest magnitude is zero, the Sun being up.
//!
//! The edge of the penumbra only just reaches such a place. How deep a place comes to lie in the penumbra is a smooth
//! function over the whole globe, whether the Sun is up or not; the limits are its zero line, cut where the Sun's centre
//! stands on the airless horizon at that instant. There the curves of [`crate::rise_set_curves`] go on.

use crate::contacts::{Cone, Snapshot, deepest, least_separation};
use crate::contour::{Grid, Point, evenly};
use crate::eclipse::Eclipse;
use crate::geodesy::distance_km;
use crate::relation::Station;
use crate::site::Site;
use crate::umbral_limits::Side;
use noonfall_ephemeris::angle::wrap_180;
use noonfall_ephemeris::{GeoPoint, Tt};

/// One stretch of a limit.
#[derive(Clone, Debug, PartialEq)]
pub struct PenumbralLimit {
    /// Which side of the shadow's motion.
    pub side: Side,
    /// The places, each with the instant at which the penumbra's edge touches it.
    pub points: Vec<(Tt, GeoPoint)>,
}

/// Distance of neighbouring points on the ground, km, at most about so much.
const SPACING_KM: f64 = 100.0;

/// Degrees between the nodes in which limits are sought. A region smaller than this (a penumbra that dips less than
/// 2 km into the Earth) may be overlooked.
const NODE_STEP_DEG: f64 = 1.0;

/// A grid over the whole globe in longitude and latitude.
pub(crate) fn globe(step_deg: f64) -> Grid {
    let across = (360.0 / step_deg).round() as usize;
    let mut longitudes = evenly(-180.0, 180.0, across + 1);
    longitudes.pop();
    Grid { x: longitudes, y: evenly(-90.0, 90.0, across / 2 + 1), x_period: Some(360.0) }
}

pub(crate) fn place(p: Point) -> GeoPoint {
    GeoPoint { lat_deg: p[1].clamp(-90.0, 90.0), lon_deg: wrap_180(p[0]) }
}

/// A place against the penumbra, when it is deepest inside or nearest to it.
struct Touch {
    snapshot: Snapshot,
    sun_altitude_deg: f64,
}

fn touch(eclipse: &Eclipse, p: Point) -> Touch {
    let (elements, conventions) = (eclipse.elements(), eclipse.conventions());
    let station = Station::new(&Site::at_sea_level(place(p)), conventions);
    let near = least_separation(elements, &station);
    let snapshot = Snapshot::at(elements, &station, deepest(elements, &station, Cone::Penumbra, near));
    let sun_altitude_deg = station.sun(&snapshot.moment, &snapshot.relation).altitude_deg;
    Touch { snapshot, sun_altitude_deg }
}

/// All limits. A side may have several stretches, one or none.
pub(crate) fn limits(eclipse: &Eclipse) -> Vec<PenumbralLimit> {
    let grid = globe(NODE_STEP_DEG);
    // m − L rather than m² − L²: nearly straight across the edge, so that its root is found quickly.
    let outside = |p: Point| {
        let s = touch(eclipse, p).snapshot;
        s.relation.distance() - s.radius(Cone::Penumbra).0
    };
    let sun_up = |p: Point| touch(eclipse, p).sun_altitude_deg;
    let far = |a: Point, b: Point| distance_km(place(a), place(b)) > SPACING_KM;
    let mut found = Vec::new();
    for line in grid.lines_at(&grid.sampled(outside), outside, 0.0) {
        for part in grid.clipped(&line, outside, 0.0, sun_up) {
            let part = grid.refined(&part, outside, 0.0, far);
            let points: Vec<(Tt, GeoPoint)> =
                part.points.iter().map(|&p| (touch(eclipse, p).snapshot.moment.tt, place(p))).collect();
            let Some(&middle) = part.points.get(part.points.len() / 2) else { continue };
            let r = touch(eclipse, middle).snapshot.relation;
            // The axis moves along (u̇, v̇); the place, at (−u, −v) from it, is left of that or right.
            let left = r.v_rate * r.u - r.u_rate * r.v;
            let mut limit = PenumbralLimit { side: if left > 0.0 { Side::North } else { Side::South }, points };
            // In the direction of time, as other curves.
            if let [(first, _), .., (last, _)] = limit.points[..]
                && first > last
            {
                limit.points.reverse();
            }
            found.push(limit);
        }
    }
    found
}

impl Eclipse {
    /// Northern and southern limits of the partial eclipse at sea level.
    pub fn penumbral_limits(&self) -> Vec<PenumbralLimit> {
        limits(self)
    }
}
