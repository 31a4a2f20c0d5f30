//! How far the Sun's disc reaches from the Moon's centre in a direction of the sky.
//!
//! In the plane that touches the sky at the Moon's centre the Sun's rim is where the angle to the Sun's centre has the
//! cosine cos σ. With a the part of the Sun's direction along an outward direction, b its part towards the Moon's centre
//! and t the tangent of the distance, (t a + b)² = cos² σ (1 + t²), which is solved for t. Nothing is taken for flat.

use super::settings::EdgeSettings;
use super::sky::{Sight, Sky};
use super::skyline::Summit;
use noonfall_ephemeris::angle::{ARCSEC_PER_RAD, wrap_180, wrap_360};
use noonfall_ephemeris::vector::dot;

/// What of the Sun counts.
#[derive(Clone, Copy, Debug)]
pub(super) struct SunDisc {
    /// Radius, km.
    pub radius_km: f64,
    /// The edge is taken lower by so much, as a tangent.
    pub lowered: f64,
    /// Directions that count: position angle and how far from it, degrees.
    pub facing: Option<(f64, f64)>,
}

/// The Sun's disc about the Moon's centre at an instant.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    /// Components of the Sun's direction eastwards and northwards.
    pub centre: [f64; 2],
    /// Their length: the sine of the separation.
    pub offset: f64,
    /// How the components grow, per second.
    centre_rate: [f64; 2],
    /// By which part of itself the Moon's distance grows, per second.
    receding: f64,
    cos_separation: f64,
    cos_radius: f64,
    /// sin² σ − sin² d.
    room: f64,
    /// Celestial north in the axes of the sight, eastwards and northwards.
    celestial_north: [f64; 2],
}

impl SunDisc {
    /// As asked for.
    pub(super) fn new(settings: &EdgeSettings) -> SunDisc {
        SunDisc {
            radius_km: settings.sun_radius_km,
            lowered: settings.lowered_arcsec / ARCSEC_PER_RAD,
            facing: settings.facing,
        }
    }

    /// The disc in the sky, in the axes of a sight that differs from the sky's own at most by a turn about the eye.
    pub(super) fn placed(&self, sight: &Sight, sky: &Sky) -> Placed {
        let centre = [dot(sky.sun, sight.east), dot(sky.sun, sight.north)];
        let offset = (centre[0] * centre[0] + centre[1] * centre[1]).sqrt();
        let sin_radius = self.radius_km / sky.sun_distance_km;
        Placed {
            centre,
            offset,
            centre_rate: [dot(sky.sun_rate, sight.east), dot(sky.sun_rate, sight.north)],
            receding: sky.receding,
            cos_separation: (1.0 - offset * offset).sqrt(),
            cos_radius: (1.0 - sin_radius * sin_radius).sqrt(),
            room: sin_radius * sin_radius - offset * offset,
            celestial_north: [dot(sky.sight.north, sight.east), dot(sky.sight.north, sight.north)],
        }
    }
}

impl Placed {
    /// Tangent of the distance to which the disc reaches in a direction along which the Sun's has the part `along`; below
    /// everything where the disc has no point.
    pub(super) fn reach(&self, along: f64) -> f64 {
        let under = along * along + self.room;
        if under < 0.0 {
            return f64::NEG_INFINITY;
        }
        let c = self.cos_radius;
        (along * self.cos_separation + c * under.sqrt()) / (c * c - along * along)
    }

    /// A straight line above [`Placed::reach`] for every direction, which it meets towards the Sun and away from it: value
    /// and slope.
    pub(super) fn reach_at_most(&self) -> [f64; 2] {
        let (ahead, behind) = (self.reach(self.offset), self.reach(-self.offset));
        [0.5 * (ahead + behind), 0.5 * (ahead - behind) / self.offset.max(f64::MIN_POSITIVE)]
    }

    /// How far the Sun reaches beyond a point of the edge; `None` where that direction does not count.
    pub(super) fn beyond(&self, sight: &Sight, summit: &Summit, disc: &SunDisc) -> Option<f64> {
        let [x, y] = sight.flat_point(summit.point_km);
        let tangent = (x * x + y * y).sqrt();
        let along = (self.centre[0] * x + self.centre[1] * y) / tangent;
        let reach = self.reach(along);
        if let Some((towards_deg, within_deg)) = disc.facing
            && !(reach > f64::NEG_INFINITY
                && wrap_180(self.position_angle_deg([x / tangent, y / tangent], reach) - towards_deg).abs()
                    <= within_deg)
        {
            return None;
        }
        Some(reach - (tangent - disc.lowered))
    }

    /// How fast the Sun comes out from behind a point of the edge, as a tangent per second: the slope of the plane formula
    /// a + √(σ² − d² + a²), and the Moon's growing smaller. Good to a thousandth.
    pub(super) fn rate(&self, sight: &Sight, summit: &Summit) -> f64 {
        let [x, y] = sight.flat_point(summit.point_km);
        let tangent = (x * x + y * y).sqrt();
        let along = (self.centre[0] * x + self.centre[1] * y) / tangent;
        let along_rate = (self.centre_rate[0] * x + self.centre_rate[1] * y) / tangent;
        let under = along * along + self.room;
        if under <= 0.0 {
            return 0.0;
        }
        let root = under.sqrt();
        let closing = self.centre[0] * self.centre_rate[0] + self.centre[1] * self.centre_rate[1];
        along_rate * (1.0 + along / root) - closing / root + tangent * self.receding
    }

    /// Position angle about the Sun's centre, from celestial north, of the point to which the disc reaches in a direction.
    fn position_angle_deg(&self, outward: [f64; 2], reach: f64) -> f64 {
        let x = reach * outward[0] - self.centre[0] / self.cos_separation;
        let y = reach * outward[1] - self.centre[1] / self.cos_separation;
        let [east, north] = self.celestial_north;
        wrap_360((x.atan2(y) - east.atan2(north)).to_degrees())
    }

    /// The same for the point of the disc over a point of the edge.
    pub(super) fn position_angle_at_deg(&self, sight: &Sight, summit: &Summit) -> f64 {
        let [x, y] = sight.flat_point(summit.point_km);
        let tangent = (x * x + y * y).sqrt();
        let reach = self.reach((self.centre[0] * x + self.centre[1] * y) / tangent);
        self.position_angle_deg([x / tangent, y / tangent], if reach.is_finite() { reach } else { tangent })
    }
}
