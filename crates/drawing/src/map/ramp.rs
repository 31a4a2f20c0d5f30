//! Steps of colour for seconds of totality.

use crate::palette;

/// Steps of the ramp: the fill is stepped so that a colour on the map can be found in the legend.
#[derive(Clone, Debug, PartialEq)]
pub struct Ramp {
    /// Lower bounds of the steps, seconds, from 0.
    pub bounds_s: Vec<f64>,
    /// End of the last step, seconds.
    pub end_s: f64,
}

impl Ramp {
    /// Five to eight steps of a round length up to the longest duration.
    #[must_use]
    pub fn up_to(longest_s: f64) -> Ramp {
        let longest = if longest_s.is_finite() { longest_s.max(1.0) } else { 1.0 };
        let step = [1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0, 120.0]
            .into_iter()
            .find(|s| longest / s <= 8.0)
            .unwrap_or(180.0);
        let n = (longest / step).ceil().max(1.0) as usize;
        Ramp { bounds_s: (0..n).map(|i| i as f64 * step).collect(), end_s: n as f64 * step }
    }

    /// Colour of a step.
    #[must_use]
    pub fn colour(&self, step: usize) -> String {
        let last = self.bounds_s.len().saturating_sub(1).max(1);
        palette::totality(step as f64 / last as f64)
    }

    /// The step that a duration falls into.
    #[must_use]
    pub fn step_of(&self, duration_s: f64) -> usize {
        self.bounds_s.iter().rposition(|b| *b <= duration_s).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ramps_have_five_to_eight_round_steps() {
        for longest in [4.0, 7.9, 62.0, 159.0, 310.0, 449.0, 750.0] {
            let ramp = Ramp::up_to(longest);
            assert!((4..=8).contains(&ramp.bounds_s.len()), "{longest}: {ramp:?}");
            assert!(ramp.end_s >= longest && ramp.end_s < longest * 1.5 + 1.0);
        }
        let ramp = Ramp::up_to(310.0);
        assert_eq!(ramp.bounds_s[1], 45.0);
        assert_eq!((ramp.step_of(0.0), ramp.step_of(44.9), ramp.step_of(45.0), ramp.step_of(9e9)), (0, 0, 1, 6));
        assert_eq!(Ramp::up_to(f64::NAN).bounds_s, [0.0]);
    }
}
