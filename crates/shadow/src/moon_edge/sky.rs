//! Moon and Sun as one place sees them, in the Moon's own axes.
//!
//! The eye, the Moon's centre and the Sun's centre come from the Besselian elements; [`MoonAxes`] turns them into the axes
//! in which the heights are given. Light time and the aberration that Sun and Moon share are in the elements already.

use super::orientation::MoonAxes;
use crate::contacts::Snapshot;
use noonfall_ephemeris::vector::{Vec3, add, cross, dot, norm, scale, sub, unit};

/// Orientation of the Moon as seen from a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Libration {
    /// Longitude of the place on the Moon that has the eye in its zenith, degrees east.
    pub lon_deg: f64,
    /// Latitude of that place, degrees north.
    pub lat_deg: f64,
    /// Position angle of the Moon's north pole, from celestial north through east, degrees, in (−180, 180].
    pub axis_deg: f64,
}

/// Directions that span the sky about the Moon, unit vectors in the Moon's axes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sight {
    /// From the Moon's centre to the eye.
    pub eye: Vec3,
    /// Eastwards in the sky.
    pub east: Vec3,
    /// Northwards in the sky.
    pub north: Vec3,
    /// Distance of the eye from the Moon's centre, km.
    pub distance_km: f64,
}

/// Moon and Sun from a place at an instant.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sky {
    /// How the Moon is seen; east and north are celestial.
    pub sight: Sight,
    /// Direction of the Sun's centre from the eye, in the Moon's axes.
    pub sun: Vec3,
    /// How the Sun's direction moves against the Moon's, per second, in the Moon's axes.
    pub sun_rate: Vec3,
    /// Distance of the Sun, km.
    pub sun_distance_km: f64,
    /// By which part of itself the Moon's distance grows, per second.
    pub receding: f64,
}

impl Sight {
    /// A sight with `north` as the sky's northward direction, as far as it is at right angles to the eye.
    pub(super) fn with_north(eye: Vec3, north: Vec3, distance_km: f64) -> Sight {
        let north = unit(sub(north, scale(eye, dot(north, eye))));
        // East, north and the line of sight (away from the eye) are right-handed.
        Sight { eye, east: cross(eye, north), north, distance_km }
    }

    /// This sight with the axes of another, turned as little as possible.
    pub(super) fn with_axes_of(&self, other: &Sight) -> Sight {
        Sight::with_north(self.eye, other.north, self.distance_km)
    }

    /// Direction in the sky's plane at an angle from north through east.
    pub(super) fn outward(&self, angle_rad: f64) -> Vec3 {
        let (sin, cos) = angle_rad.sin_cos();
        add(scale(self.east, sin), scale(self.north, cos))
    }

    /// A point about the Moon's centre, km, in the plane that touches the sky there: tangents eastwards and northwards.
    pub(super) fn flat_point(&self, point_km: Vec3) -> [f64; 2] {
        let ahead = self.distance_km - dot(point_km, self.eye);
        [dot(point_km, self.east) / ahead, dot(point_km, self.north) / ahead]
    }
}

impl Sky {
    /// The sky at the instant of a snapshot; `radius_km` is the Earth's, in which the snapshot has its lengths.
    pub(super) fn of(Snapshot { moment, relation }: &Snapshot, axes: &MoonAxes, radius_km: f64) -> Sky {
        let [east, north, sunward] = axes.at(moment.tt);
        let in_moon_axes = |v: Vec3| add(add(scale(east, v[0]), scale(north, v[1])), scale(sunward, v[2]));
        let to_moon = moment.moon_z.value - relation.zeta;
        let moon = [relation.u, relation.v, to_moon];
        let sun = [relation.u, relation.v, to_moon + moment.sun_beyond_moon];
        let eye = in_moon_axes(unit(moon)).map(|c| -c);
        Sky {
            sight: Sight::with_north(eye, north, norm(moon) * radius_km),
            sun: in_moon_axes(unit(sun)),
            sun_rate: in_moon_axes(scale([relation.u_rate, relation.v_rate, 0.0], 1.0 / sun[2] - 1.0 / to_moon)),
            sun_distance_km: norm(sun) * radius_km,
            receding: (moment.moon_z.rate - relation.zeta_rate) / to_moon,
        }
    }
}

impl Libration {
    /// How the Moon is turned half way between two sights of it, minutes apart, in which it turns evenly.
    pub(super) fn between(a: &Sight, b: &Sight) -> Libration {
        let eye = unit(add(a.eye, b.eye));
        Libration {
            lon_deg: eye[1].atan2(eye[0]).to_degrees(),
            lat_deg: eye[2].clamp(-1.0, 1.0).asin().to_degrees(),
            axis_deg: (a.east[2] + b.east[2]).atan2(a.north[2] + b.north[2]).to_degrees(),
        }
    }
}
