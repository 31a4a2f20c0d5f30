//! Limits: the curves beside the path along which the edge of a cone only just reaches.
//!
//! At an instant the point of a limit is where the edge of the cone meets the ground and moves neither into nor out of
//! the shadow there: the place's maximum eclipse is at that instant. With r the radius of the cone at the place and
//! (u̇, v̇) the motion of the axis over it, the edge at angle Q about the axis has that property where
//! `u̇ sin Q + v̇ cos Q + ṙ = 0` (Explanatory Supplement 1961, ch. 9, limits, written for the moving place).

use crate::contacts::Cone;
use crate::eclipse::Eclipse;
use crate::elements::Moment;
use crate::kind::Kind;
use crate::surface::{Footprint, ShadowLine, Surface};
use noonfall_ephemeris::{GeoPoint, Tt};

/// Which side of the path, looking along the shadow plane's north.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Left of the shadow's motion.
    North,
    /// Right of it.
    South,
}

/// The point of an umbral limit at sea level whose maximum eclipse is at an instant, `None` where there is none.
pub fn limit_point(eclipse: &Eclipse, side: Side, tt: Tt) -> Option<GeoPoint> {
    let m = eclipse.elements().at(tt);
    limit(&Surface::at_height(eclipse.conventions(), 0.0), &m, Cone::Umbra, side).map(|(footprint, _)| footprint.point)
}

/// Motion of the axis and growth of a cone's radius over a place, per second.
pub(crate) struct EdgeMotion {
    u_rate: f64,
    v_rate: f64,
    radius_rate: f64,
}

impl EdgeMotion {
    pub(crate) fn at(m: &Moment, cone: Cone, fundamental: [f64; 3]) -> EdgeMotion {
        let [xi, eta, zeta] = fundamental;
        let turn = m.mu.rate;
        // η̇ and ζ̇ of a place fixed to the Earth; `across` is its distance from the axis towards the shadow's meridian.
        let across = zeta * m.cos_d - eta * m.sin_d;
        let zeta_rate = -turn * xi * m.cos_d + eta * m.d_rate;
        let radius_rate = match cone {
            Cone::Penumbra => m.l1.rate - zeta_rate * m.tan_f1,
            Cone::Umbra => -m.l2.rate + zeta_rate * m.tan_f2,
        };
        EdgeMotion {
            u_rate: m.x.rate + m.slope[0] * zeta_rate - turn * across,
            v_rate: m.y.rate + m.slope[1] * zeta_rate - (turn * xi * m.sin_d - zeta * m.d_rate),
            radius_rate,
        }
    }

    /// Direction in which the axis moves over the place, radians from north through east in the shadow plane.
    pub(crate) fn heading_rad(&self) -> f64 {
        self.u_rate.atan2(self.v_rate)
    }

    /// Positive where the edge at the angle moves over the place into the light beyond: totality is about to begin there.
    pub(crate) fn advance(&self, angle_rad: f64) -> f64 {
        let (sin_q, cos_q) = angle_rad.sin_cos();
        self.u_rate * sin_q + self.v_rate * cos_q + self.radius_rate
    }
}

/// Point of a limit at an instant, with the angle of its generator about the axis; `None` where there is none.
pub(crate) fn limit(surface: &Surface, m: &Moment, cone: Cone, side: Side) -> Option<(Footprint, f64)> {
    // Start from the motion over the foot of the axis; the motion changes little across an umbra.
    let start = surface.nearest(m, &ShadowLine::axis(m)).fundamental;
    let radius = match cone {
        Cone::Penumbra => 1.0,
        Cone::Umbra => -(m.l2.value - start[2] * m.tan_f2),
    };
    // Beyond the tip of the cone the generator's angle points to the far side.
    let flip = if radius < 0.0 { -1.0 } else { 1.0 };
    let turn = flip
        * match side {
            Side::North => -1.0,
            Side::South => 1.0,
        };
    let mut motion = EdgeMotion::at(m, cone, start);
    let mut angle = f64::NAN;
    for _ in 0..40 {
        let speed = motion.u_rate.hypot(motion.v_rate);
        let ratio = -motion.radius_rate / speed;
        if ratio.is_nan() || ratio.abs() > 1.0 {
            return None;
        }
        let next = motion.u_rate.atan2(motion.v_rate) + turn * ratio.acos();
        let footprint = surface.meet(m, &ShadowLine::generator(m, cone, next))?;
        let moved = (next - angle).abs();
        angle = next;
        if moved < 1e-12 {
            return Some((footprint, angle));
        }
        motion = EdgeMotion::at(m, cone, footprint.fundamental);
    }
    None
}

impl Eclipse {
    /// Whether the path has a northern and a southern limit.
    pub fn limits(&self) -> (bool, bool) {
        if self.kind() == Kind::Partial {
            return (false, false);
        }
        let surface = Surface::at_height(self.conventions(), 0.0);
        let exists = |side: Side| {
            (-24..=24).any(|k| {
                let m = self.elements().at(self.greatest().tt.plus(f64::from(k) * 300.0));
                limit(&surface, &m, Cone::Umbra, side).is_some()
            })
        };
        (exists(Side::North), exists(Side::South))
    }
}
