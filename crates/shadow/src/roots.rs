//! Roots and tops of functions of one variable: the finders that the curves on the ground share.

use noonfall_ephemeris::Tt;

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

/// Where a function that is negative at 0 and positive at `reach` becomes positive, to a metre: the secant rule of the
/// Illinois variant, which keeps the bracket.
pub(crate) fn falling_edge(f: impl Fn(f64) -> f64, reach: f64) -> f64 {
    let (mut a, mut fa, mut b, mut fb) = (0.0, f(0.0), reach, f(reach));
    if fa >= 0.0 {
        return 0.0;
    }
    for _ in 0..60 {
        let c = (a * fb - b * fa) / (fb - fa);
        let fc = f(c);
        if (b - a).abs() < 1e-3 || fc == 0.0 {
            return c;
        }
        if (fc > 0.0) == (fb > 0.0) {
            b = c;
            fb = fc;
            fa *= 0.5;
        } else {
            (a, fa, b, fb) = (b, fb, c, fc);
        }
    }
    0.5 * (a + b)
}

/// The two ends between which an answer changes, after so many halvings of the way from `low`, where it is yes, to `high`, where it is no.
pub(crate) fn bisected(yes: impl Fn(f64) -> bool, low: f64, high: f64, halvings: usize) -> (f64, f64) {
    (0..halvings).fold((low, high), |(low, high), _| {
        let middle = 0.5 * (low + high);
        if yes(middle) { (middle, high) } else { (low, middle) }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exact: a parabola about 3 with its roots 2 to either side; the square root of two.
    #[test]
    fn known_roots_and_tops_are_found() {
        let hump = |tt: Tt| 4.0 - (tt.0 - 3.0).powi(2);
        assert!((highest(hump, Tt(0.0), 2400.0).0 - 3.0).abs() < 0.01);
        let (first, last) = span_of_positive(hump, Tt(0.0), 3600.0).unwrap();
        assert!((first.0 - 1.0).abs() < 2e-6 && (last.0 - 5.0).abs() < 2e-6);
        assert_eq!(span_of_positive(|tt| hump(tt) - 5.0, Tt(0.0), 3600.0), None);
        assert!((falling_edge(|km| km * km - 2.0, 150.0) - 2.0_f64.sqrt()).abs() < 1e-3);
        let (low, high) = bisected(|x| x * x < 2.0, 0.0, 2.0, 50);
        assert!(low <= 2.0_f64.sqrt() && 2.0_f64.sqrt() <= high && high - low < 1e-14);
    }
}
