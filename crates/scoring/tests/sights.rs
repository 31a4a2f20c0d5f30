//! What there is to see, held against brute force from the ephemeris up: `tests/reference/sights/shadow_and_limb.py`.

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeMap;

use noonfall_ephemeris::angle::wrap_180;
use noonfall_ephemeris::{DeltaT, Kernel};
use noonfall_scoring::outlook::offer::{Offer, OfferPlace, OfferSettings, offer};
use noonfall_scoring::outlook::shadow_bands::crescent_width_arcsec;
use noonfall_scoring::outlook::totality::{EdgeShown, TotalityRules};
use noonfall_scoring::outlook::window::WindowSettings;
use noonfall_shadow::moon_edge::{EdgeSettings, MoonHeights};
use noonfall_shadow::{Conventions, Eclipse, LocalCircumstances, Site};

const REFERENCE: &str = include_str!("../../../tests/reference/sights/shadow_and_limb.csv");

/// A place of the reference with everything the engine says of it.
struct Seen {
    eclipse: Eclipse,
    site: Site,
    local: LocalCircumstances,
    offer: Offer,
}

fn seen(place: &[&str]) -> Seen {
    let [date, delta_t, lat, lon, elevation] = place else { panic!("{place:?}") };
    let number = |text: &str| text.parse::<f64>().unwrap();
    let delta_t = DeltaT::given(number(delta_t)).unwrap();
    let eclipse =
        Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), Some(delta_t), &Conventions::default()).unwrap();
    let site = Site::new(number(lat), number(lon), number(elevation)).unwrap();
    // The reference has the handbook's smooth Moon.
    let heights = MoonHeights::embedded().clone();
    let (edge, window) = (EdgeSettings::default(), WindowSettings::default());
    let rules = TotalityRules::new(&eclipse, heights, edge, EdgeShown::Smooth, window);
    let mut solver = rules.solver();
    let totality = rules.totality(&mut solver, &site);
    let decision = rules.decide(&mut solver, &site, true, &totality, None);
    let place = OfferPlace { site: &site, zone: chrono_tz::UTC, totality: &totality, decision: &decision };
    let offer = offer(Kernel::embedded(), &rules, &mut solver, &place, &OfferSettings::default()).unwrap();
    let local = totality.shown.clone();
    Seen { eclipse, site, local, offer }
}

impl Seen {
    /// The engine's value of a quantity, and how far it may be from the reference.
    fn value(&self, quantity: &str, argument: &str, reference: f64) -> (f64, f64) {
        let t = || argument.parse::<f64>().unwrap();
        let (c2, c3) = (self.local.c2.unwrap().tt, self.local.c3.unwrap().tt);
        let shadow = self.offer.shadow.as_ref().unwrap();
        let limb = self.offer.limb.as_ref().unwrap();
        let bands = self.offer.shadow_bands.as_ref().unwrap();
        let glow = self.offer.horizon_glow.as_ref().unwrap();
        let prominence = || *limb.prominences.iter().find(|p| p.height_km == t()).unwrap();
        match quantity {
            "totality_s" => (self.local.duration_s, 0.01),
            "width_before_c2_arcsec" => {
                let listed = bands.contrast.iter().find(|c| c.seconds_before_c2 == t()).unwrap();
                let view = self.eclipse.view(&self.site, c2.plus(-t()));
                assert!((crescent_width_arcsec(&view) - listed.bands.crescent_width_arcsec).abs() < 1e-9);
                (listed.bands.crescent_width_arcsec, 0.005)
            }
            "width_after_c3_arcsec" => {
                let listed = bands.contrast_after_c3.iter().find(|c| c.seconds_after_c3 == t()).unwrap();
                assert!(
                    (crescent_width_arcsec(&self.eclipse.view(&self.site, c3.plus(t())))
                        - listed.bands.crescent_width_arcsec)
                        .abs()
                        < 1e-9
                );
                (listed.bands.crescent_width_arcsec, 0.005)
            }
            "band_azimuth_deg" if argument == "c2" => (bands.band_azimuth_deg, 0.05),
            "band_azimuth_deg" => (bands.band_azimuth_after_c3_deg, 0.05),
            "arrival_azimuth_deg" => (shadow.arrival_azimuth_deg, 0.02),
            "departure_azimuth_deg" => (shadow.departure_azimuth_deg, 0.02),
            "ground_speed_km_s" => (shadow.ground_speed_km_s, 0.005 * reference),
            "edge_before_c2_deg" => {
                let edge = shadow.edge_altitude_deg.iter().find(|e| e.seconds_before_c2 == t()).unwrap();
                (edge.altitude_deg, 0.2)
            }
            "edge_after_c3_deg" => {
                let edge = shadow.edge_altitude_after_c3_deg.iter().find(|e| e.seconds_after_c3 == t()).unwrap();
                (edge.altitude_deg, 0.2)
            }
            // The outline's 120 sides, and what a tenth of a second of the reference's own search leaves.
            "clears_10_deg_s" => {
                let layer = shadow.layers.iter().find(|l| l.height_km == t()).unwrap();
                (layer.clears_10_deg_s.unwrap(), 0.3 + 0.005 * reference)
            }
            "glow_nearest_km" => (glow.nearest.distance_km, 0.004 * reference),
            "glow_km" => {
                let air = glow.by_compass.iter().find(|a| a.azimuth_deg == t()).unwrap();
                (air.distance_km, 0.004 * reference)
            }
            "chromosphere_after_c2_s" => (limb.chromosphere_after_c2_s, 0.01),
            "chromosphere_before_c3_s" => (limb.chromosphere_before_c3_s, 0.01),
            // The reference has the point of third contact alone; red may show earlier beside it, but not before it shows
            // anywhere.
            "look_away_lead_s" => {
                let lead_s = limb.look_away_lead_s;
                assert!(lead_s <= limb.chromosphere_before_c3_s + 0.01 || limb.chromosphere_throughout);
                (if lead_s > reference { reference } else { lead_s }, 0.01)
            }
            "prominence_after_c2_s" => (prominence().after_c2_s, 0.02),
            "prominence_before_c3_s" => (prominence().before_c3_s, 0.02),
            "hidden_km" => {
                let h = limb.hidden_height_km;
                let by_name =
                    BTreeMap::from([("north", h.north), ("east", h.east), ("south", h.south), ("west", h.west)]);
                (by_name[argument], 5.0)
            }
            other => panic!("{other}"),
        }
    }
}

#[test]
fn shadow_bands_direction_shadow_and_limb_agree_with_brute_force() {
    let mut places: BTreeMap<Vec<&str>, Seen> = BTreeMap::new();
    let mut worst: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
    let mut wrong = Vec::new();
    for line in REFERENCE.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let place = places.entry(cells[..5].to_vec()).or_insert_with(|| seen(&cells[..5]));
        let (quantity, argument, reference) = (cells[5], cells[6], cells[7].parse::<f64>().unwrap());
        let (value, tolerance) = place.value(quantity, argument, reference);
        let miss = match quantity {
            // A line on the ground has no head and no tail.
            "band_azimuth_deg" => 0.5 * wrap_180(2.0 * (value - reference)).abs(),
            q if q.ends_with("azimuth_deg") => wrap_180(value - reference).abs(),
            _ => (value - reference).abs(),
        };
        if miss > tolerance {
            wrong.push(format!("{line}: {value} misses by {miss}"));
        }
        let entry = worst.entry(quantity).or_insert((0.0, tolerance));
        if miss / tolerance > entry.0 / entry.1 {
            *entry = (miss, tolerance);
        }
    }
    println!("worst miss and tolerance: {worst:#?}");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!(places.len(), 5);
    assert_eq!(worst.len(), 18);
}
