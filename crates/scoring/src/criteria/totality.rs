//! Seconds of totality.

use super::Criterion;
use crate::utility::Curve;

pub(super) const CRITERION: Criterion = Criterion {
    name: "totality",
    require: "totality_s",
    label: "Totality",
    unit: "s",
    about: "Duration of totality at the site, from the local circumstances; the Moon's true limb moves it by up to a few seconds.",
    default_wish: |scale| Curve::rising(0.0, scale.rounded_totality_s()),
    value: |c| Some(c.totality_s),
    missing: "no totality",
};
