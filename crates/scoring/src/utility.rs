//! From a value to a utility between 0 and 1, by a curve that is always shown.
//!
//! Every curve is piecewise linear and flat beyond its ends, so that a reader can redo the sum with a pencil.

/// Which way a criterion is wished.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// More is better: utility 0 up to `from`, 1 from `to` on.
    Higher,
    /// Less is better: utility 1 up to `from`, 0 from `to` on.
    Lower,
    /// Best between `from` and `to`, fading to 0 over `fade` on both sides.
    Range,
    /// A curve given point by point.
    Curve,
}

impl Better {
    /// The word used in plans and outputs.
    pub fn word(self) -> &'static str {
        match self {
            Better::Higher => "higher",
            Better::Lower => "lower",
            Better::Range => "range",
            Better::Curve => "curve",
        }
    }
}

/// A piecewise linear utility curve.
///
/// # Units
/// Abscissae in the unit of the criterion, ordinates from 0 to 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Which wish made the curve.
    pub better: Better,
    /// Corners `(value, utility)`, values strictly increasing.
    pub points: Vec<(f64, f64)>,
}

/// Why corners do not make a curve.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CurveError {
    /// Fewer than two corners.
    #[error("a curve of {0} points; give at least two [value, utility] pairs")]
    TooFew(usize),
    /// Values do not increase from one corner to the next.
    #[error("value {1} follows {0}; values must increase from point to point")]
    NotIncreasing(f64, f64),
    /// A utility outside 0 to 1, or a number that is not finite.
    #[error("[{0}, {1}] is not a point of a utility curve; give a finite value and a utility from 0 to 1")]
    OutOfRange(f64, f64),
}

impl Curve {
    /// Utility rising from 0 at `from` to 1 at `to`. `from` must be less than `to`.
    /// ```
    /// use noonfall_scoring::utility::Curve;
    /// let at = |value| Curve::rising(60.0, 240.0).utility(value);
    /// assert_eq!((at(30.0), at(150.0), at(300.0)), (0.0, 0.5, 1.0));
    /// ```
    pub fn rising(from: f64, to: f64) -> Curve {
        Curve { better: Better::Higher, points: vec![(from, 0.0), (to, 1.0)] }
    }

    /// Utility falling from 1 at `from` to 0 at `to`. `from` must be less than `to`.
    pub fn falling(from: f64, to: f64) -> Curve {
        Curve { better: Better::Lower, points: vec![(from, 1.0), (to, 0.0)] }
    }

    /// Utility 1 between `from` and `to`, fading to 0 over `fade` outside. `fade` must be positive, `from` at most `to`.
    /// ```
    /// use noonfall_scoring::utility::Curve;
    /// let at = |value| Curve::range(20.0, 40.0, 10.0).utility(value);
    /// assert_eq!((at(15.0), at(30.0), at(60.0)), (0.5, 1.0, 0.0));
    /// ```
    pub fn range(from: f64, to: f64, fade: f64) -> Curve {
        let mut points = vec![(from - fade, 0.0), (from, 1.0)];
        if to > from {
            points.push((to, 1.0));
        }
        points.push((to + fade, 0.0));
        Curve { better: Better::Range, points }
    }

    /// A curve through given corners.
    ///
    /// # Errors
    /// [`CurveError`] for fewer than two corners, values that do not increase, or utilities outside 0 to 1.
    pub fn through(points: Vec<(f64, f64)>) -> Result<Curve, CurveError> {
        if points.len() < 2 {
            return Err(CurveError::TooFew(points.len()));
        }
        for &(x, u) in &points {
            if !x.is_finite() || !(0.0..=1.0).contains(&u) {
                return Err(CurveError::OutOfRange(x, u));
            }
        }
        for pair in points.windows(2) {
            if pair[1].0 <= pair[0].0 {
                return Err(CurveError::NotIncreasing(pair[0].0, pair[1].0));
            }
        }
        Ok(Curve { better: Better::Curve, points })
    }

    /// Utility of a value, 0 to 1.
    ///
    /// ```
    /// use noonfall_scoring::utility::Curve;
    /// assert_eq!(Curve::rising(0.0, 240.0).utility(60.0), 0.25);
    /// assert_eq!(Curve::falling(1.0, 5.0).utility(2.0), 0.75);
    /// assert_eq!(Curve::range(8.0, 20.0, 4.0).utility(6.0), 0.5);
    /// ```
    pub fn utility(&self, value: f64) -> f64 {
        let Some(&(first_x, first_u)) = self.points.first() else { return 0.0 };
        if value <= first_x {
            return first_u;
        }
        for pair in self.points.windows(2) {
            let ((x0, u0), (x1, u1)) = (pair[0], pair[1]);
            if value <= x1 {
                return u0 + (u1 - u0) * ((value - x0) / (x1 - x0));
            }
        }
        self.points.last().map_or(0.0, |p| p.1)
    }

    /// The greatest utility of all values from `least` to `most`; `least` may be −∞.
    ///
    /// ```
    /// use noonfall_scoring::utility::Curve;
    /// assert_eq!(Curve::range(8.0, 20.0, 4.0).best_within(0.0, 9.0), 1.0);
    /// assert_eq!(Curve::range(8.0, 20.0, 4.0).best_within(f64::NEG_INFINITY, 6.0), 0.5);
    /// assert_eq!(Curve::rising(0.0, 240.0).best_within(60.0, 120.0), 0.5);
    /// ```
    pub fn best_within(&self, least: f64, most: f64) -> f64 {
        let at_ends = self.utility(least).max(self.utility(most));
        let between = self.points.iter().filter(|(x, _)| (least..=most).contains(x));
        between.fold(at_ends, |best, (_, u)| best.max(*u))
    }

    /// The curve in words, with the unit: `0 at 0 s, 1 at 310 s`.
    pub fn words(&self, unit: &str) -> String {
        let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
        let corner = |&(x, u): &(f64, f64)| format!("{u} at {x}{unit}");
        self.points.iter().map(corner).collect::<Vec<_>>().join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flat_beyond_the_ends() {
        let curve = Curve::rising(10.0, 20.0);
        assert_eq!(curve.utility(-1e9), 0.0);
        assert_eq!(curve.utility(10.0), 0.0);
        assert_eq!(curve.utility(20.0), 1.0);
        assert_eq!(curve.utility(1e9), 1.0);
    }

    #[test]
    fn a_range_of_one_value_is_a_tent() {
        let curve = Curve::range(10.0, 10.0, 5.0);
        assert_eq!(curve.points.len(), 3);
        assert_eq!(curve.utility(10.0), 1.0);
        assert_eq!(curve.utility(12.5), 0.5);
    }

    #[test]
    fn corners_are_met_exactly_and_bad_ones_refused() {
        let curve = Curve::through(vec![(0.0, 0.0), (60.0, 0.8), (240.0, 1.0)]).unwrap();
        assert_eq!(curve.utility(60.0), 0.8);
        assert!((curve.utility(150.0) - 0.9).abs() < 1e-15);
        assert_eq!(Curve::through(vec![(0.0, 0.0)]), Err(CurveError::TooFew(1)));
        assert_eq!(Curve::through(vec![(1.0, 0.0), (1.0, 1.0)]), Err(CurveError::NotIncreasing(1.0, 1.0)));
        assert_eq!(Curve::through(vec![(1.0, 0.0), (2.0, 1.5)]), Err(CurveError::OutOfRange(2.0, 1.5)));
    }
}
