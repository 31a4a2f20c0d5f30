//! How far above hills and trees the Sun stands.

use super::Criterion;
use crate::utility::Curve;

pub(super) const CRITERION: Criterion = Criterion {
    name: "horizon_margin",
    require: "horizon_margin_deg",
    label: "Margin above the skyline",
    unit: "deg",
    about: "Least height of the Sun above the skyline between second and third contact, from terrain or a surveyed horizon.",
    // Five degrees clear of the skyline leaves room for trees and sheds that no terrain model knows (common practice, no source).
    default_wish: |_| Curve::rising(0.0, 5.0),
    value: |c| c.horizon_margin_deg,
    missing: "no terrain or horizon for the place",
};
