//! The outlook for shadow bands.

use super::Criterion;
use crate::utility::Curve;

pub(super) const CRITERION: Criterion = Criterion {
    name: "shadow_bands",
    require: "shadow_bands",
    label: "Shadow-band outlook",
    unit: "",
    about: "Relative outlook for shadow bands from 0 to 1: an ordering of places, not a probability, and not proven against reports.",
    default_wish: |_| Curve::rising(0.0, 1.0),
    value: |c| c.shadow_bands,
    missing: "no shadow-band outlook for the place",
};
