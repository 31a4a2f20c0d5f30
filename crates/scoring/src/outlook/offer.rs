//! What there is to see at a place, gathered: the one thing the callers above need.

use super::filters::{Allowance, FilterWindow, filter_window};
use super::horizon_glow::{HorizonGlow, horizon_glow};
use super::light::{LightAfter, LightRow, TOTALITY_LIGHT, TotalityLight, light_rows, light_rows_after};
use super::limb::{CHROMOSPHERE_KM, Limb, limb};
use super::moon_shadow::{MoonShadow, moon_shadow};
use super::shadow_bands::{ShadowBands, shadow_bands};
use super::sky::{SkyObject, sky_at};
use super::temperature::{TOTAL_ECLIPSE, TemperatureDrop};
use super::timeline::{TimelineEntry, TimelineInput, timeline};
use super::turbulence::Turbulence;
use chrono_tz::Tz;
use noonfall_ephemeris::{DeltaT, Kernel, Tt};
use noonfall_shadow::{Eclipse, LocalCircumstances, Phase, Site};
use serde::Serialize;

/// What a caller may set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OfferSettings {
    /// Allowance of the filter window on top of the timing uncertainty.
    pub allowance: Allowance,
    /// Depth of the chromosphere, km.
    pub chromosphere_km: f64,
    /// The turbulence for which shadow bands are stated.
    pub turbulence: Turbulence,
}

impl Default for OfferSettings {
    fn default() -> OfferSettings {
        OfferSettings {
            allowance: Allowance::default(),
            chromosphere_km: CHROMOSPHERE_KM,
            turbulence: Turbulence::STATED,
        }
    }
}

/// What a place offers. Everything but the timeline belongs to places inside the path of totality with the Sun up, and is
/// `None` (null) elsewhere; the caller adds cloud and skyline.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Offer {
    /// Window for the unaided eye.
    pub filters: Option<FilterWindow>,
    /// Planets and stars at maximum.
    pub sky: Option<Vec<SkyObject>>,
    /// The Moon's shadow.
    pub shadow: Option<MoonShadow>,
    /// Shadow bands.
    pub shadow_bands: Option<ShadowBands>,
    /// Chromosphere, prominences, the sign to look away.
    pub limb: Option<Limb>,
    /// Light and sharpness of shadows before second contact.
    pub light: Option<Vec<LightRow>>,
    /// The same after third contact.
    pub light_after_c3: Option<Vec<LightAfter>>,
    /// Light in totality, a usual range.
    pub totality_light: Option<TotalityLight>,
    /// Glow along the horizon at maximum.
    pub horizon_glow: Option<HorizonGlow>,
    /// Expected fall of temperature, a published range.
    pub temperature_drop: Option<TemperatureDrop>,
    /// From first contact less a quarter of an hour to fourth contact.
    pub timeline: Vec<TimelineEntry>,
}

/// What a place offers; `None` where there is no eclipse.
///
/// `local` are the circumstances of `site` at `eclipse`; `zone` is its civil time.
pub fn offer(
    kernel: &Kernel,
    eclipse: &Eclipse,
    site: &Site,
    zone: Tz,
    local: &LocalCircumstances,
    settings: &OfferSettings,
) -> Option<Offer> {
    if local.phase == Phase::None {
        return None;
    }
    let mut offer = match (local.phase, local.c2, local.max, local.c3) {
        (Phase::Total, Some(c2), Some(max), Some(c3)) if max.above_horizon => {
            let before = |t: f64| eclipse.view(site, c2.tt.plus(-t));
            let after = |t: f64| eclipse.view(site, c3.tt.plus(t));
            let instants = (c2.tt, max.tt, c3.tt);
            Offer {
                filters: filter_window(
                    c2.tt,
                    c3.tt,
                    settings.allowance,
                    timing_uncertainty_s(eclipse, site, c2.tt, c3.tt),
                    zone,
                ),
                // An eclipse that the kernel could compute has its planets too, but for a user's excerpt without them.
                sky: sky_at(kernel, site, max.tt, eclipse.delta_t().seconds).ok(),
                shadow: moon_shadow(eclipse, site, instants),
                shadow_bands: shadow_bands(
                    before,
                    after,
                    (c2.vertex_angle_deg, c3.vertex_angle_deg),
                    site.elevation_m,
                    &settings.turbulence,
                ),
                limb: Some(limb(
                    |tt| eclipse.view(site, tt),
                    instants,
                    (c2.position_angle_deg, c3.position_angle_deg),
                    c3.vertex_angle_deg,
                    settings.chromosphere_km,
                )),
                light: Some(light_rows(before, local.c1.map_or(0.0, |c1| c2.tt - c1.tt))),
                light_after_c3: Some(light_rows_after(after, local.c4.map_or(0.0, |c4| c4.tt - c3.tt))),
                totality_light: Some(TOTALITY_LIGHT),
                horizon_glow: horizon_glow(eclipse, site, max.tt),
                temperature_drop: Some(TOTAL_ECLIPSE),
                timeline: Vec::new(),
            }
        }
        _ => Offer {
            filters: None,
            sky: None,
            shadow: None,
            shadow_bands: None,
            limb: None,
            light: None,
            light_after_c3: None,
            totality_light: None,
            horizon_glow: None,
            temperature_drop: None,
            timeline: Vec::new(),
        },
    };
    offer.timeline = timeline(
        |tt| eclipse.view(site, tt),
        &TimelineInput {
            local,
            zone,
            filters: offer.filters.as_ref(),
            sky: offer.sky.as_deref(),
            shadow: offer.shadow.as_ref(),
            bands: offer.shadow_bands.as_ref(),
            limb: offer.limb.as_ref(),
        },
    );
    Some(offer)
}

/// How far one standard deviation of ΔT moves second or third contact, seconds: the larger of both, in either direction.
///
/// Where the shift would put the place outside the path, the deviation itself stands for it, or half of totality if that
/// is more: such a place must not get a window.
pub fn timing_uncertainty_s(eclipse: &Eclipse, site: &Site, c2: Tt, c3: Tt) -> f64 {
    let sigma_s = eclipse.delta_t().sigma_s;
    if sigma_s <= 0.0 {
        return 0.0;
    }
    let shifted = |by: f64| -> Option<f64> {
        let delta_t = DeltaT { seconds: eclipse.delta_t().seconds + by, ..eclipse.delta_t().clone() };
        let moved = eclipse.with_delta_t(delta_t).quick(site);
        (moved.phase == Phase::Total).then_some(())?;
        Some((moved.c2? - c2).abs().max((moved.c3? - c3).abs()))
    };
    [shifted(sigma_s), shifted(-sigma_s)]
        .into_iter()
        .map(|moved| moved.unwrap_or_else(|| sigma_s.max(0.5 * (c3 - c2))))
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outlook::timeline::{FilterState, Happening};
    use noonfall_shadow::Conventions;

    fn eclipse(date: &str) -> Eclipse {
        Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
    }

    fn at(eclipse: &Eclipse, lat: f64, lon: f64) -> (LocalCircumstances, Option<Offer>) {
        let site = Site::new(lat, lon, 0.0).unwrap();
        let local = eclipse.local(&site);
        let offer =
            offer(Kernel::embedded(), eclipse, &site, chrono_tz::Australia::Sydney, &local, &OfferSettings::default());
        (local, offer)
    }

    /// No number in the output that is not a number, anywhere in the path, near its limits and ends.
    #[test]
    fn whole_and_finite_all_over_the_path() {
        for date in ["2028-07-22", "2026-08-12", "2021-12-04", "2033-03-30"] {
            let eclipse = eclipse(date);
            let path = eclipse.path(600.0);
            let mut totals = 0;
            for point in &path.points {
                for place in [point.central, point.north, point.south].into_iter().flatten() {
                    let (local, offer) = at(&eclipse, place.lat_deg, place.lon_deg);
                    let Some(offer) = offer else { continue };
                    let text = serde_json::to_string(&offer).unwrap();
                    // serde_json writes null for what is not a number; compare with the fields that may be null.
                    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
                    for key in ["shadow", "shadow_bands", "limb", "light", "light_after_c3", "sky"] {
                        assert!(
                            // The one field that may be null: most bands are what the Sun's altitude makes them.
                            !value[key].to_string().replace("\"exception\":null", "").contains("null")
                                || value[key].is_null(),
                            "{date} {place:?} {key}"
                        );
                    }
                    assert!(offer.timeline.windows(2).all(|w| w[0].instant <= w[1].instant));
                    if let Some(window) = &offer.filters {
                        let (c2, c3) = (local.c2.unwrap().tt, local.c3.unwrap().tt);
                        assert!(window.off_tt - c2 >= 2.0 - 1e-3 && c3 - window.on_tt >= 2.0 - 1e-3);
                        totals += 1;
                    }
                }
            }
            assert!(totals > 2, "{date}: {totals}");
        }
    }

    /// Outside the path, and at an annular eclipse, nothing ever says OFF.
    #[test]
    fn never_off_outside_totality() {
        let total = eclipse("2028-07-22");
        let annular = eclipse("2023-10-14");
        let greatest = annular.greatest().point;
        for (eclipse, lat, lon) in
            [(&total, -37.8, 144.96), (&total, -12.5, 130.8), (&annular, greatest.lat_deg, greatest.lon_deg)]
        {
            let (local, offer) = at(eclipse, lat, lon);
            assert_ne!(local.phase, Phase::Total);
            let offer = offer.unwrap();
            assert!(offer.filters.is_none() && offer.limb.is_none());
            assert!(!offer.timeline.is_empty());
            assert!(offer.timeline.iter().all(|entry| entry.filter == FilterState::On));
        }
        let (_, none) = at(&total, 60.0, -100.0);
        assert!(none.is_none());
    }

    /// In totality the filter is OFF exactly from one entry to the next, and the sign to look away comes before the end.
    #[test]
    fn the_timeline_of_sydney_in_2028() {
        let (local, offer) = at(&eclipse("2028-07-22"), -33.87, 151.21);
        let offer = offer.unwrap();
        let happenings: Vec<Happening> = offer.timeline.iter().map(|e| e.happening).collect();
        let off = happenings.iter().position(|h| *h == Happening::FilterOff).unwrap();
        let on = happenings.iter().position(|h| *h == Happening::FilterOn).unwrap();
        for (i, entry) in offer.timeline.iter().enumerate() {
            assert_eq!(entry.filter == FilterState::Off, (off..on).contains(&i), "{entry:?}");
        }
        let instant = |h: Happening| offer.timeline.iter().find(|e| e.happening == h).unwrap().instant;
        assert!(instant(Happening::LookAway) < local.c3.unwrap().tt);
        assert!(instant(Happening::LookAway) > local.max.unwrap().tt);
        // The light comes back as it went: the same rows, from a second to the last minutes, ever brighter and softer.
        let after = offer.light_after_c3.as_ref().unwrap();
        assert_eq!(after[0].seconds_after_c3, 1.0);
        assert!(
            after.len() >= 13
                && after.windows(2).all(|w| {
                    w[0].seconds_after_c3 < w[1].seconds_after_c3
                        && w[0].illuminance_fraction < w[1].illuminance_fraction
                        && w[0].obscuration > w[1].obscuration
                })
        );
        for (before, after) in offer.light.as_ref().unwrap().iter().rev().zip(after).take(6) {
            assert_eq!(before.seconds_before_c2, after.seconds_after_c3);
            assert!(
                (before.illuminance_fraction / after.illuminance_fraction - 1.0).abs() < 0.2,
                "{before:?} {after:?}"
            );
        }
        // Common practice, no source: about 70 minutes from first to second contact.
        let partial_min = (instant(Happening::SecondContact) - instant(Happening::FirstContact)) / 60.0;
        assert!((48.0..110.0).contains(&partial_min), "{partial_min}");
        // The design notes: the chromosphere is gone 5 to 12 s after second contact at usual rates.
        let limb = offer.limb.unwrap();
        assert!((4.0..13.0).contains(&limb.chromosphere_after_c2_s), "{limb:?}");
        assert!((4.0..13.0).contains(&limb.look_away_lead_s), "{limb:?}");
    }

    /// A low Sun against a high one, the same eclipse: longer shadow, better bands.
    #[test]
    fn low_sun_against_high_sun() {
        let eclipse = eclipse("2028-07-22");
        let (high_local, high) = at(&eclipse, -16.5, 128.0);
        let (low_local, low) = at(&eclipse, -45.6, 170.4);
        let (high, low) = (high.unwrap(), low.unwrap());
        assert!(high_local.max.unwrap().sun_altitude_deg > 45.0 && low_local.max.unwrap().sun_altitude_deg < 15.0);
        assert!(low.shadow.unwrap().elongation > 3.0 * high.shadow.unwrap().elongation);
        let (low_bands, high_bands) = (low.shadow_bands.unwrap(), high.shadow_bands.unwrap());
        assert!(low_bands.outlook > high_bands.outlook + 0.2, "{} {}", low_bands.outlook, high_bands.outlook);
        assert!(low_bands.class > high_bands.class);
    }
}
