//! The outlook for shadow bands.

use noonfall_ephemeris::Tt;
use noonfall_shadow::{Eclipse, Site, View};

use super::Criterion;
use crate::outlook::shadow_bands::{self, WATCHED_S};
use crate::utility::Curve;

pub(super) const CRITERION: Criterion = Criterion {
    name: "shadow_bands",
    require: "shadow_bands",
    label: "Shadow-band outlook",
    unit: "",
    about: "Relative outlook for shadow bands from 0 to 1: an ordering of places, not a calibrated probability.",
    default_wish: |_| Curve::rising(0.0, 1.0),
    value: |c| c.shadow_bands,
    missing: "no shadow-band outlook for the place",
};

/// Relative shadow-band outlook of a place, 0 to 1: an ordering, not a calibrated probability.
///
/// `at_max` is the sky at maximum, `watched` the sky [`WATCHED_S`] before second contact. 0 with the Sun below the horizon.
/// The physics is that of [`crate::outlook::shadow_bands::relative_outlook`].
pub fn outlook(at_max: &View, watched: &View) -> f64 {
    shadow_bands::relative_outlook(at_max.sun_altitude_deg, shadow_bands::growth_arcsec_s(watched), at_max.size_ratio())
}

/// The outlook of a place with a second contact and a maximum.
pub fn outlook_at(eclipse: &Eclipse, site: &Site, c2: Tt, max: Tt) -> f64 {
    outlook(&eclipse.view(site, max), &eclipse.view(site, c2.plus(-WATCHED_S)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::Conventions;

    /// Common practice, no source: a low Sun is favourable for shadow bands, a high Sun hardly worth it.
    #[test]
    fn lower_sun_gives_the_better_outlook() {
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let at = |lat: f64, lon: f64| {
            let site = Site::new(lat, lon, 0.0).unwrap();
            let local = eclipse.local(&site);
            outlook_at(&eclipse, &site, local.c2.unwrap().tt, local.max.unwrap().tt)
        };
        let (alexandra, dubbo, wyndham) = (at(-45.2484, 169.3701), at(-32.243, 148.6048), at(-15.4869, 128.1243));
        assert!(alexandra > dubbo && dubbo > wyndham, "{alexandra} {dubbo} {wyndham}");
        assert!([alexandra, dubbo, wyndham].iter().all(|o| (0.0..=1.0).contains(o)));
    }
}
