//! The chance of a clear sky along the line to the Sun.

use super::Criterion;
use crate::utility::Curve;

pub(super) const CRITERION: Criterion = Criterion {
    name: "clear_sky",
    require: "clear_probability",
    label: "Clear sky",
    unit: "",
    about: "Probability of a cloud-free line of sight to the Sun at maximum, from the cloud data of the plan.",
    default_wish: |_| Curve::rising(0.0, 1.0),
    value: |c| c.clear_sky,
    missing: "no cloud figure for the place",
};
