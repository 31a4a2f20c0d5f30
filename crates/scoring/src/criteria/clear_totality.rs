//! Expected seconds of clear totality: what one attempt is worth on average.

use super::Criterion;
use crate::utility::Curve;

pub(super) const CRITERION: Criterion = Criterion {
    name: "clear_totality",
    require: "clear_totality_s",
    label: "Expected clear totality",
    unit: "s",
    about: "Duration of totality times the probability of a clear line of sight.",
    default_wish: |scale| Curve::rising(0.0, scale.rounded_totality_s()),
    value: |c| c.clear_sky.map(|p| expected_clear_totality_s(c.totality_s, p)),
    missing: "no cloud figure for the place",
};

/// Expected seconds of clear totality.
///
/// # Units
/// Duration in seconds, probability from 0 to 1; the result in seconds.
fn expected_clear_totality_s(totality_s: f64, clear_probability: f64) -> f64 {
    totality_s * clear_probability
}
