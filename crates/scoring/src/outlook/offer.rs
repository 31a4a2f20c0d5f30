//! What there is to see at a place, gathered: the one thing the callers above need.

use super::air::Air;
use super::band_drift::Wind;
use super::band_outlook::{BandSky, Bands};
use super::corona::{CoronaShape, corona_of_year};
use super::decimals;
use super::horizon_glow::{HorizonGlow, horizon_glow};
use super::light::{LightAfter, LightRow, TotalityLight, light_rows, light_rows_after, totality_light};
use super::limb::{CHROMOSPHERE_KM, Limb, LimbEdge, covered_by_smooth_moon, limb};
use super::moon_edge::{BeadRow, MoonEdge};
use super::moon_shadow::{MoonShadow, moon_shadow};
use super::shadow_bands::{ShadowBands, shadow_bands};
use super::sky::{SkyObject, sky_at};
use super::temperature::{TemperatureDrop, temperature_drop};
use super::timeline::{
    PLANET_BEFORE_S, PlanetBefore, SkyObjectPlace, TimelineEntry, TimelineInput, local_time, timeline,
};
use super::totality::{EdgeShown, Totality, TotalityRules};
use super::umbra_sky::UmbraSky;
use super::window::Decision;
use super::window::allowances::edge_sigma_arcsec;
use super::words::window as say;
use chrono::Datelike;
use chrono_tz::Tz;
use noonfall_ephemeris::{Kernel, Tt};
use noonfall_shadow::moon_edge::{EdgeSettings, EdgeSolver};
use noonfall_shadow::{Contact, Eclipse, Phase, Site};
use serde::Serialize;

/// What a caller may set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OfferSettings {
    /// Depth of the chromosphere, km.
    pub chromosphere_km: f64,
    /// Haze and ground; its height does not count, each place has its own.
    pub air: Air,
    /// Wind that moves the shadow bands, where it is given.
    pub wind: Option<Wind>,
}

impl Default for OfferSettings {
    fn default() -> OfferSettings {
        OfferSettings { chromosphere_km: CHROMOSPHERE_KM, air: Air::STANDARD, wind: None }
    }
}

/// The window for unaided eyes as files give it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Filters {
    /// Filter OFF, local time, RFC 3339; null where there is no window.
    pub off: Option<String>,
    /// Filter ON, local time, RFC 3339; null where there is no window.
    pub on: Option<String>,
    /// From true second contact to OFF, seconds.
    #[serde(serialize_with = "decimals::three_or_null")]
    pub margin_c2_s: Option<f64>,
    /// From ON to true third contact, seconds.
    #[serde(serialize_with = "decimals::three_or_null")]
    pub margin_c3_s: Option<f64>,
    /// The larger of the two.
    #[serde(serialize_with = "decimals::three_or_null")]
    pub margin_s: Option<f64>,
    /// What the margins are made of.
    pub allowances: Vec<AllowanceRow>,
    /// Why there is none, a sentence; null where there is one.
    pub why_none: Option<String>,
}

/// What is kept for one cause.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AllowanceRow {
    /// The cause.
    pub cause: &'static str,
    /// After second contact, seconds.
    #[serde(serialize_with = "decimals::three")]
    pub c2_s: f64,
    /// Before third contact, seconds.
    #[serde(serialize_with = "decimals::three")]
    pub c3_s: f64,
}

impl Filters {
    /// A decision by the clock of a zone.
    pub fn of(decision: &Decision, zone: Tz) -> Filters {
        let window = decision.as_ref().ok();
        let row = |a: &super::window::allowances::Allowance| AllowanceRow {
            cause: a.cause.name(),
            c2_s: a.c2_s,
            c3_s: a.c3_s,
        };
        Filters {
            off: window.map(|w| local_time(w.off, zone)),
            on: window.map(|w| local_time(w.on, zone)),
            margin_c2_s: window.map(|w| w.margin_c2_s),
            margin_c3_s: window.map(|w| w.margin_c3_s),
            margin_s: window.map(|w| w.margin_c2_s.max(w.margin_c3_s)),
            allowances: window.map(|w| w.allowances.iter().map(row).collect()).unwrap_or_default(),
            why_none: decision.as_ref().err().map(say::why_none),
        }
    }
}

/// What a place offers. Everything but the timeline belongs to places inside the path of totality with the Sun up, and is
/// `None` (null) elsewhere; the caller adds cloud and skyline.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Offer {
    /// The Moon's true edge; inside the path.
    pub moon_edge: Option<MoonEdge>,
    /// Window for the unaided eye, or why there is none; inside the path of a smooth Moon or of the true one.
    pub filters: Option<Filters>,
    /// Planets and stars at maximum.
    pub sky: Option<Vec<SkyObject>>,
    /// The Moon's shadow.
    pub shadow: Option<MoonShadow>,
    /// Shadow bands.
    pub shadow_bands: Option<ShadowBands>,
    /// Chromosphere, prominences, the sign to look away; only where there is a window for unaided eyes.
    pub limb: Option<Limb>,
    /// Light and sharpness of shadows before second contact.
    pub light: Option<Vec<LightRow>>,
    /// The same after third contact.
    pub light_after_c3: Option<Vec<LightAfter>>,
    /// Haze, ground and height that light and bands were computed for.
    pub air: Option<AirTaken>,
    /// Light in totality.
    pub totality_light: Option<TotalityLight>,
    /// Glow along the horizon at maximum.
    pub horizon_glow: Option<HorizonGlow>,
    /// Expected fall of temperature, a range.
    pub temperature_drop: Option<TemperatureDrop>,
    /// Expected shape of the corona; only where there is a window for unaided eyes, elsewhere not even its name is written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub corona: Option<CoronaShape>,
    /// From first contact less a quarter of an hour to fourth contact.
    pub timeline: Vec<TimelineEntry>,
}

/// The air that the light was computed for, for files.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AirTaken {
    /// Optical depth of haze at 550 nm.
    #[serde(serialize_with = "decimals::three")]
    pub haze: f64,
    /// Reflectance of the ground about.
    #[serde(serialize_with = "decimals::three")]
    pub ground_albedo: f64,
    /// Height of the place, km.
    #[serde(serialize_with = "decimals::three")]
    pub height_km: f64,
}

impl AirTaken {
    fn of(air: &Air) -> AirTaken {
        AirTaken { haze: air.haze, ground_albedo: air.ground_albedo, height_km: air.height_km }
    }
}

/// A place with what is known of its totality.
pub struct OfferPlace<'a> {
    /// Where.
    pub site: &'a Site,
    /// Its civil time.
    pub zone: Tz,
    /// What totality it gets.
    pub totality: &'a Totality,
    /// The window for unaided eyes, or why there is none.
    pub decision: &'a Decision,
}

/// What a place offers; `None` where there is no eclipse.
pub fn offer(
    kernel: &Kernel,
    rules: &TotalityRules,
    solver: &mut EdgeSolver<'_>,
    place: &OfferPlace<'_>,
    settings: &OfferSettings,
) -> Option<Offer> {
    let (eclipse, site, local) = (rules.eclipse(), place.site, &place.totality.shown);
    if local.phase == Phase::None {
        return None;
    }
    let mut offer = Offer {
        moon_edge: MoonEdge::of(rules, place.totality, place.zone),
        filters: place.totality.inside().then(|| Filters::of(place.decision, place.zone)),
        sky: None,
        shadow: None,
        shadow_bands: None,
        limb: None,
        light: None,
        light_after_c3: None,
        air: None,
        totality_light: None,
        horizon_glow: None,
        temperature_drop: None,
        corona: None,
        timeline: Vec::new(),
    };
    let totality = match (local.phase, local.c2, local.max, local.c3) {
        (Phase::Total, Some(c2), Some(max), Some(c3)) if max.above_horizon => Some([c2, max, c3]),
        _ => None,
    };
    let has_edge = offer.moon_edge.is_some();
    // The Moon's edge and the light have nothing to do with each other, and each takes its time.
    let ((beads, limb), planet) = rayon::join(
        || {
            let beads = has_edge.then(|| solver.beads(eclipse, site, rules.edge()));
            // What shows at the Moon's edge is for those who may look.
            let looks = totality.filter(|_| place.decision.is_ok());
            (beads, looks.map(|[c2, max, c3]| limb_at(rules, solver, site, [c2, c3], max.tt, settings.chromosphere_km)))
        },
        || totality.and_then(|contacts| offer.see_the_light(kernel, eclipse, place, settings, contacts)),
    );
    if let (Some(edge), Some(beads)) = (&mut offer.moon_edge, beads) {
        edge.beads = Some(beads.iter().map(|bead| BeadRow::of(bead, place.zone)).collect());
    }
    offer.limb = limb;
    offer.timeline = timeline(
        |tt| eclipse.view(site, tt),
        &TimelineInput {
            local,
            zone: place.zone,
            decision: place.decision,
            sky: offer.sky.as_deref(),
            planet,
            shadow: offer.shadow.as_ref(),
            bands: offer.shadow_bands.as_ref(),
            corona: offer.corona.as_ref().map(|c| c.shape),
            limb: offer.limb.as_ref(),
        },
    );
    Some(offer)
}

impl Offer {
    /// Fills in what light and sky do around totality; gives the planet that may show before it.
    fn see_the_light(
        &mut self,
        kernel: &Kernel,
        eclipse: &Eclipse,
        place: &OfferPlace<'_>,
        settings: &OfferSettings,
        [c2, max, c3]: [Contact; 3],
    ) -> Option<PlanetBefore> {
        let (site, local) = (place.site, &place.totality.shown);
        let (last, first) = place.totality.of_the_crescent().unwrap_or((c2, c3));
        let at = |tt: Tt| eclipse.view(site, tt);
        let before = |t: f64| at(last.tt.plus(-t));
        let after = |t: f64| at(first.tt.plus(t));
        let air = settings.air.at_height(site.elevation_m);
        let umbra = UmbraSky::of(&at(max.tt), air);
        // An eclipse that the kernel could compute has its planets too, but for a user's excerpt without them.
        let delta_t_s = eclipse.delta_t().seconds;
        self.sky = sky_at(kernel, site, max.tt, delta_t_s, Some(&umbra)).ok();
        self.shadow = moon_shadow(eclipse, site, (c2.tt, max.tt, c3.tt));
        self.shadow_bands = shadow_bands(
            &BandSky::at(eclipse, site, max.tt),
            before,
            after,
            (last.vertex_angle_deg, first.vertex_angle_deg),
            &Bands::of(settings.air),
            settings.wind,
        );
        self.air = Some(AirTaken::of(&air));
        self.light = Some(light_rows(before, local.c1.map_or(0.0, |c1| last.tt - c1.tt), &air));
        self.light_after_c3 = Some(light_rows_after(after, local.c4.map_or(0.0, |c4| c4.tt - first.tt), &air));
        self.totality_light = Some(totality_light(&at(max.tt), &at(last.tt.plus(1.0)), &at(first.tt.plus(-1.0)), &air));
        self.horizon_glow = horizon_glow(eclipse, site, max.tt, &air);
        self.temperature_drop = Some(temperature_drop(max.sun_altitude_deg));
        if place.decision.is_ok() {
            self.corona = corona_of_year(year_of(max.tt));
        }
        bright_planet(c2.tt.plus(-PLANET_BEFORE_S), |tt| sky_at(kernel, site, tt, delta_t_s, Some(&umbra)).ok())
    }
}

/// An instant as a year and its fraction, to within a day.
fn year_of(tt: Tt) -> f64 {
    let utc = tt.to_utc();
    f64::from(utc.year()) + f64::from(utc.ordinal0()) / 365.25
}

/// What shows at the edge that outputs show, between two contacts.
fn limb_at(
    rules: &TotalityRules,
    solver: &mut EdgeSolver<'_>,
    site: &Site,
    [c2, c3]: [Contact; 2],
    max: Tt,
    chromosphere_km: f64,
) -> Limb {
    let (eclipse, edge) = (rules.eclipse(), rules.edge());
    let view_at = |tt: Tt| eclipse.view(site, tt);
    let with = |height_km: f64, facing| EdgeSettings { sun_radius_km: edge.sun_radius_km + height_km, facing, ..*edge };
    let solver = std::cell::RefCell::new(solver);
    let smooth = std::cell::RefCell::new(covered_by_smooth_moon(view_at, (c2.tt, c3.tt)));
    let mut true_whole = |height_km: f64| {
        let totality = solver.borrow_mut().totality(eclipse, site, &with(height_km, None));
        totality.map(|t| (t.c2.tt, t.c3.tt))
    };
    let mut true_return = |height_km: f64, side: (f64, f64)| {
        solver.borrow_mut().third_contact(eclipse, site, &with(height_km, Some(side))).map(|c| c.tt)
    };
    let mut smooth_whole = |height_km: f64| (smooth.borrow_mut())(height_km, None);
    let mut smooth_return = |height_km: f64, side: (f64, f64)| Some((smooth.borrow_mut())(height_km, Some(side))?.1);
    let mut prominence = |height_km: f64, side| (smooth.borrow_mut())(height_km, side);
    let sigma_arcsec = edge_sigma_arcsec(rules.heights());
    let mut shown = match rules.edge_shown() {
        EdgeShown::True => {
            LimbEdge { sigma_arcsec, whole: &mut true_whole, returning: &mut true_return, prominence: &mut prominence }
        }
        EdgeShown::Smooth => LimbEdge {
            sigma_arcsec,
            whole: &mut smooth_whole,
            returning: &mut smooth_return,
            prominence: &mut prominence,
        },
    };
    let contacts = [c2, c3].map(|c| (c.tt, c.position_angle_deg));
    limb(&mut shown, contacts, &view_at(max), c3.vertex_angle_deg, chromosphere_km)
}

/// The brightest planet that may show some minutes before totality, where it stands **then**.
fn bright_planet(tt: Tt, sky: impl Fn(Tt) -> Option<Vec<SkyObject>>) -> Option<PlanetBefore> {
    let found = sky(tt)?.into_iter().find(|o| o.visible && o.magnitude < -3.0)?;
    let object = SkyObjectPlace {
        body: found.body,
        azimuth_deg: found.azimuth_deg,
        altitude_deg: found.apparent_altitude_deg,
        from_sun_deg: found.sun_separation_deg,
    };
    Some(PlanetBefore { tt, object })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outlook::timeline::{FilterState, Happening};
    use noonfall_shadow::{Conventions, Eclipse};

    fn eclipse(date: &str) -> Eclipse {
        Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
    }

    fn at(eclipse: &Eclipse, lat: f64, lon: f64) -> (Totality, Decision, Option<Offer>) {
        let site = Site::new(lat, lon, 0.0).unwrap();
        let rules = TotalityRules::usual(eclipse);
        let mut solver = rules.solver();
        let totality = rules.totality(&mut solver, &site);
        let decision = rules.decide(&mut solver, &site, true, &totality, None);
        let zone = chrono_tz::Australia::Sydney;
        let place = OfferPlace { site: &site, zone, totality: &totality, decision: &decision };
        let offer = offer(Kernel::embedded(), &rules, &mut solver, &place, &OfferSettings::default());
        (totality, decision, offer)
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
                    let (totality, decision, offer) = at(&eclipse, place.lat_deg, place.lon_deg);
                    let Some(offer) = offer else { continue };
                    let text = serde_json::to_string(&offer).unwrap();
                    // serde_json writes null for what is not a number; compare with the fields that may be null.
                    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
                    for key in ["shadow", "shadow_bands", "limb", "light", "light_after_c3", "sky"] {
                        assert!(
                            // What may be null: most bands are what the Sun's altitude makes them, and some never show.
                            ![
                                "exception",
                                "from_s",
                                "to_s",
                                "sky_cd_m2",
                                "margin_mag",
                                "drift",
                                "drift_after_c3",
                                "clears_10_deg_s"
                            ]
                            .iter()
                            .fold(value[key].to_string(), |text, may| text.replace(&format!("\"{may}\":null"), ""))
                            .contains("null")
                                || value[key].is_null(),
                            "{date} {place:?} {key}"
                        );
                    }
                    assert!(offer.timeline.windows(2).all(|w| w[0].instant <= w[1].instant));
                    if let Ok(window) = &decision {
                        let truth = totality.truth.unwrap();
                        assert!(window.off - truth.c2.tt >= 2.0 - 1e-3 && truth.c3.tt - window.on >= 2.0 - 1e-3);
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
            let (totality, decision, offer) = at(eclipse, lat, lon);
            assert_ne!(totality.shown.phase, Phase::Total);
            let offer = offer.unwrap();
            assert!(decision.is_err() && offer.filters.is_none() && offer.limb.is_none());
            assert!(!offer.timeline.is_empty());
            assert!(offer.timeline.iter().all(|entry| entry.filter == FilterState::On));
        }
        let (_, _, none) = at(&total, 60.0, -100.0);
        assert!(none.is_none());
    }

    /// In totality the filter is OFF exactly from one entry to the next, and the sign to look away comes before the end.
    #[test]
    fn the_timeline_of_sydney_in_2028() {
        let (totality, _, offer) = at(&eclipse("2028-07-22"), -33.87, 151.21);
        let (local, offer) = (totality.shown, offer.unwrap());
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
        // From first to second contact of the timeline: that of the contacts.
        let partial_s = instant(Happening::SecondContact) - instant(Happening::FirstContact);
        assert!((partial_s - (local.c2.unwrap().tt - local.c1.unwrap().tt)).abs() < 1e-6, "{partial_s}");
        // The design notes: the chromosphere is gone 5 to 12 s after second contact at usual rates.
        let limb = offer.limb.unwrap();
        assert!((4.0..13.0).contains(&limb.chromosphere_after_c2_s), "{limb:?}");
        assert!((4.0..13.0).contains(&limb.look_away_lead_s), "{limb:?}");
    }

    /// A low Sun against a high one, the same eclipse: longer shadow, better bands.
    #[test]
    fn low_sun_against_high_sun() {
        let eclipse = eclipse("2028-07-22");
        let (high_totality, _, high) = at(&eclipse, -16.5, 128.0);
        let (low_totality, _, low) = at(&eclipse, -45.6, 170.4);
        let (high, low) = (high.unwrap(), low.unwrap());
        let altitude = |totality: &Totality| totality.shown.max.unwrap().sun_altitude_deg;
        assert!(altitude(&high_totality) > 45.0 && altitude(&low_totality) < 15.0);
        assert!(low.shadow.unwrap().elongation > 3.0 * high.shadow.unwrap().elongation);
        let (low_bands, high_bands) = (low.shadow_bands.unwrap(), high.shadow_bands.unwrap());
        assert!(low_bands.outlook > high_bands.outlook + 0.1, "{} {}", low_bands.outlook, high_bands.outlook);
        assert!(low_bands.class > high_bands.class);
    }
}
