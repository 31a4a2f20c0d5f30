//! How high the Sun stands at maximum.

use super::Criterion;
use crate::utility::Curve;

pub(super) const CRITERION: Criterion = Criterion {
    name: "sun_altitude",
    require: "sun_altitude_deg",
    label: "Sun's airless altitude",
    unit: "deg",
    about: "Airless altitude of the Sun's centre at maximum.",
    // Below 5 degrees haze and hills decide; above 45 degrees more height no longer helps (common practice, no source).
    default_wish: |_| Curve::rising(5.0, 45.0),
    value: |c| Some(c.sun_altitude_deg),
    missing: "no altitude of the Sun",
};
