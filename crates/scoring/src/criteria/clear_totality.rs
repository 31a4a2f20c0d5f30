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
    value: super::Numbers::expected_clear_totality_s,
    missing: "no cloud figure for the place",
};
