//! The central line: where the axis meets the ground.

use crate::eclipse::Eclipse;
use crate::surface::{Footprint, ShadowLine, Surface};
use noonfall_ephemeris::{GeoPoint, Tt};

/// The place on the ellipsoid under the axis at an instant, `None` while the axis misses the Earth.
pub fn central_point(eclipse: &Eclipse, tt: Tt) -> Option<GeoPoint> {
    footprint(eclipse, tt).map(|f| f.point)
}

pub(crate) fn footprint(eclipse: &Eclipse, tt: Tt) -> Option<Footprint> {
    let m = eclipse.elements().at(tt);
    Surface::at_height(eclipse.conventions(), 0.0).meet(&m, &ShadowLine::axis(&m))
}

/// First and last instant at which the axis touches the Earth, `None` where it never does.
pub fn central_span(eclipse: &Eclipse) -> Option<(Tt, Tt)> {
    let surface = Surface::at_height(eclipse.conventions(), 0.0);
    let depth = |tt: Tt| {
        let m = eclipse.elements().at(tt);
        surface.depth(&m, &ShadowLine::axis(&m))
    };
    span_of_positive(depth, eclipse.greatest().tt, 4.0 * 3600.0)
}

/// Direction in which the axis moves over the ground, degrees from north through east, and its speed, km/s.
pub fn ground_motion(eclipse: &Eclipse, tt: Tt) -> Option<(f64, f64)> {
    // Half a second keeps the difference exact to a millimetre per second even near the path's ends.
    const HALF_STEP_S: f64 = 0.5;
    let here = central_point(eclipse, tt);
    let before = central_point(eclipse, tt.plus(-HALF_STEP_S)).or(here)?;
    let after = central_point(eclipse, tt.plus(HALF_STEP_S)).or(here)?;
    let spans =
        [tt.plus(-HALF_STEP_S), tt.plus(HALF_STEP_S)].iter().filter(|&&t| central_point(eclipse, t).is_some()).count();
    if spans == 0 {
        return None;
    }
    let distance = crate::geodesy::distance_km(before, after);
    Some((crate::geodesy::bearing_deg(before, after), distance / (HALF_STEP_S * spans as f64)))
}

/// The span about an instant in which a function of one hump is positive, found to a microsecond. The hump's top is
/// sought within 40 minutes of the instant, since the flattening of the Earth moves it a little.
pub(crate) fn span_of_positive(f: impl Fn(Tt) -> f64, about: Tt, reach_s: f64) -> Option<(Tt, Tt)> {
    let top = highest(&f, about, 2400.0);
    if f(top) <= 0.0 {
        return None;
    }
    Some(edges_of_positive(f, top, reach_s))
}

/// The ends of the span about an instant at which a function is positive, to a microsecond; it must be positive from there
/// to the ends and negative from the ends to the reach.
pub(crate) fn edges_of_positive(f: impl Fn(Tt) -> f64, inside: Tt, reach_s: f64) -> (Tt, Tt) {
    let edge = |direction: f64| {
        let (mut within, mut beyond) = (0.0, reach_s);
        while beyond - within > 1e-6 {
            let middle = 0.5 * (within + beyond);
            if f(inside.plus(direction * middle)) > 0.0 {
                within = middle;
            } else {
                beyond = middle;
            }
        }
        inside.plus(direction * within)
    };
    (edge(-1.0), edge(1.0))
}

/// Top of a function of one hump, by golden section.
pub(crate) fn highest(f: impl Fn(Tt) -> f64, about: Tt, reach_s: f64) -> Tt {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut high) = (-reach_s, reach_s);
    let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut fa, mut fb) = (f(about.plus(a)), f(about.plus(b)));
    while high - low > 0.01 {
        if fa > fb {
            high = b;
            (b, fb) = (a, fa);
            a = high - GOLDEN * (high - low);
            fa = f(about.plus(a));
        } else {
            low = a;
            (a, fa) = (b, fb);
            b = low + GOLDEN * (high - low);
            fb = f(about.plus(b));
        }
    }
    about.plus(0.5 * (low + high))
}
