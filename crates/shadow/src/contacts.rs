//! The instants at which the edge of a cone sweeps over a place: safeguarded Newton iteration.
//!
//! One function serves both cones. With m the distance of the place from the axis and L the radius of the cone in the
//! place's plane, the place is inside while m² < L². That difference is very nearly a parabola in time, so Newton's
//! method needs two or three rounds; a bracket that shrinks with every round catches it where it would stray.

use crate::elements::{BesselianElements, Moment};
use crate::relation::{Relation, Station};
use noonfall_ephemeris::Tt;

/// Which cone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cone {
    /// Exterior contacts: C1 and C4.
    Penumbra,
    /// Interior contacts: C2 and C3.
    Umbra,
}

/// The passage of a cone over a place.
#[derive(Clone, Copy, Debug)]
pub struct Sweep {
    /// The edge arrives.
    pub first: Tt,
    /// The place is deepest inside.
    pub deepest: Tt,
    /// The edge leaves.
    pub last: Tt,
}

/// Instants closer than this are the same, seconds.
const CLOSE_ENOUGH_S: f64 = 1e-6;

/// Newton needs 2 to 5 rounds; the bracket halves the span to a microsecond in under 40.
const MOST_ROUNDS: usize = 60;

/// A place's relation to the shadow at an instant.
#[derive(Clone, Copy, Debug)]
pub struct Snapshot {
    /// The elements.
    pub moment: Moment,
    /// The place against the axis.
    pub relation: Relation,
}

impl Snapshot {
    /// Computes it.
    pub fn at(elements: &BesselianElements, station: &Station, tt: Tt) -> Snapshot {
        let moment = elements.at(tt);
        Snapshot { relation: station.relation(&moment), moment }
    }

    /// Radius of a cone in the plane of the place and its rate; for the umbra negative where total.
    pub fn radius(&self, cone: Cone) -> (f64, f64) {
        let (l, tan_f) = match cone {
            Cone::Penumbra => (self.moment.l1, self.moment.tan_f1),
            Cone::Umbra => (self.moment.l2, self.moment.tan_f2),
        };
        (l.value - self.relation.zeta * tan_f, l.rate - self.relation.zeta_rate * tan_f)
    }

    /// From here, where the place is deepest inside, to the cone's edge by the parabola through this point: good to within
    /// seconds. `None` outside the cone.
    pub(crate) fn half_passage_s(&self, cone: Cone) -> Option<f64> {
        let depth = -self.outside(cone);
        (depth > 0.0).then(|| (depth / self.bend().max(1e-12)).sqrt())
    }

    /// Grows with the rate of the angular separation of the centres, and vanishes with it: negative while they approach.
    pub(crate) fn widening(&self) -> f64 {
        let (r, m) = (&self.relation, &self.moment);
        let to_moon = m.moon_z.value - r.zeta;
        let to_sun = to_moon + m.sun_beyond_moon;
        let approach = m.moon_z.rate - r.zeta_rate;
        let shrink = -approach / to_moon - approach / to_sun;
        r.closing() + (r.u * r.u + r.v * r.v) * shrink
    }

    /// m² − L²: negative inside.
    pub(crate) fn outside(&self, cone: Cone) -> f64 {
        let (radius, _) = self.radius(cone);
        let r = &self.relation;
        r.u * r.u + r.v * r.v - radius * radius
    }

    /// Half the rate of [`Snapshot::outside`].
    pub(crate) fn outside_half_rate(&self, cone: Cone) -> f64 {
        let (radius, rate) = self.radius(cone);
        self.relation.closing() - radius * rate
    }

    /// Rate of the half rate, good enough for Newton.
    fn bend(&self) -> f64 {
        let r = &self.relation;
        r.u_rate * r.u_rate + r.v_rate * r.v_rate + r.u * r.u_acceleration + r.v * r.v_acceleration
    }
}

/// The instant of least angular separation of the centres.
///
/// The separation is m/(z_M − ζ) − m/(z_S − ζ) for all that matters here; its logarithmic rate is set to zero.
pub fn least_separation(elements: &BesselianElements, station: &Station) -> Tt {
    rising_root(elements.span(), elements.epoch(), |tt| {
        let s = Snapshot::at(elements, station, tt);
        (s.widening(), s.bend())
    })
}

/// The instant at which a place is deepest inside a cone, or comes nearest to it.
pub fn deepest(elements: &BesselianElements, station: &Station, cone: Cone, near: Tt) -> Tt {
    rising_root(elements.span(), near, |tt| {
        let s = Snapshot::at(elements, station, tt);
        (s.outside_half_rate(cone), s.bend())
    })
}

/// The passage of a cone over a place, `None` if it passes beside it.
pub fn sweep(elements: &BesselianElements, station: &Station, cone: Cone, near: Tt) -> Option<Sweep> {
    let (start, end) = elements.span();
    let deepest = deepest(elements, station, cone, near);
    let half_s = Snapshot::at(elements, station, deepest).half_passage_s(cone)?;
    let crossing = |bracket: (Tt, Tt), guess: Tt, sign: f64| {
        rising_root(bracket, guess, |tt| {
            let s = Snapshot::at(elements, station, tt);
            (sign * s.outside(cone), sign * 2.0 * s.outside_half_rate(cone))
        })
    };
    Some(Sweep {
        first: crossing((start, deepest), deepest.plus(-half_s), -1.0),
        deepest,
        last: crossing((deepest, end), deepest.plus(half_s), 1.0),
    })
}

/// Root of a function that rises through zero in the bracket; `f` gives value and rate. Newton's steps that leave the
/// bracket, or that find no rise, are replaced by halving it.
fn rising_root(bracket: (Tt, Tt), guess: Tt, f: impl Fn(Tt) -> (f64, f64)) -> Tt {
    let (Tt(mut low), Tt(mut high)) = bracket;
    let mut t = guess.0.clamp(low, high);
    for _ in 0..MOST_ROUNDS {
        let (value, rate) = f(Tt(t));
        if value > 0.0 {
            high = t;
        } else {
            low = t;
        }
        let newton = t - value / rate;
        let next = if rate > 0.0 && newton >= low && newton <= high { newton } else { 0.5 * (low + high) };
        let done = (next - t).abs() < CLOSE_ENOUGH_S;
        t = next;
        if done {
            break;
        }
    }
    Tt(t)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_root_finder_survives_a_bad_guess_and_a_flat_function() {
        let cubic = |t: Tt| (t.0 * t.0 * t.0 - 8.0, 3.0 * t.0 * t.0);
        for guess in [-100.0, 0.0, 0.001, 100.0] {
            let root = rising_root((Tt(-100.0), Tt(100.0)), Tt(guess), cubic);
            assert!((root.0 - 2.0).abs() < 1e-5, "{guess}: {}", root.0);
        }
        let never = rising_root((Tt(0.0), Tt(1.0)), Tt(0.5), |_| (1.0, 0.0));
        assert!(never.0 < 1e-5);
    }
}
