//! What there is to see, held against brute force from the ephemeris up: `tests/reference/sights/shadow_and_limb.py`.

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeMap;

use noonfall_ephemeris::angle::wrap_180;
use noonfall_ephemeris::{DeltaT, Kernel};
use noonfall_scoring::outlook::offer::{Offer, OfferPlace, OfferSettings, offer};
use noonfall_scoring::outlook::shadow_bands::crescent_width_arcsec;
use noonfall_scoring::outlook::timeline::{Happening, TimelineEntry};
use noonfall_scoring::outlook::totality::{EdgeShown, TotalityRules};
use noonfall_scoring::outlook::window::{Decision, NoWindow, Window, WindowSettings};
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

/// The timeline of Wyndham on 22 July 2028 under a decision and a third contact of the test's own making (invented).
fn invented_timeline(change: impl Fn(&mut LocalCircumstances) -> Decision) -> (LocalCircumstances, Vec<TimelineEntry>) {
    let date = "2028-07-22".parse().unwrap();
    let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
    let site = Site::new(-15.4869, 128.1243, 4.0).unwrap();
    let (edge, window) = (EdgeSettings::default(), WindowSettings::default());
    let rules = TotalityRules::new(&eclipse, MoonHeights::embedded().clone(), edge, EdgeShown::True, window);
    let mut solver = rules.solver();
    let mut totality = rules.totality(&mut solver, &site);
    let decision = change(&mut totality.shown);
    let place = OfferPlace { site: &site, zone: chrono_tz::UTC, totality: &totality, decision: &decision };
    let offer = offer(Kernel::embedded(), &rules, &mut solver, &place, &OfferSettings::default()).unwrap();
    (totality.shown.clone(), offer.timeline)
}

fn whole_window(local: &LocalCircumstances, rises_late: bool, sets_early: bool) -> Decision {
    let (c2, c3) = (local.c2.unwrap().tt, local.c3.unwrap().tt);
    let (margin_c2_s, margin_c3_s) = (4.0, 4.0);
    let (off, on) = (c2.plus(margin_c2_s), c3.plus(-margin_c3_s));
    Ok(Window { off, on, margin_c2_s, margin_c3_s, allowances: Vec::new(), rises_late, sets_early })
}

/// Nobody behind a ridge is sent to look for shadow bands, which need the Sun, and nobody who has no window.
#[test]
fn without_sun_or_window_there_are_no_shadow_bands_to_look_for() {
    let told = |decide: &dyn Fn(&LocalCircumstances) -> Decision| -> [bool; 2] {
        let (local, entries) = invented_timeline(|local| decide(local));
        let max = local.max.unwrap().tt;
        let bands =
            |e: &&TimelineEntry| format!("{} {} {}", e.title, e.detail, e.short).to_lowercase().contains("bands");
        let [before, after]: [Vec<_>; 2] = [
            entries.iter().filter(|e| e.instant < max).collect(),
            entries.iter().filter(|e| e.instant > max).collect(),
        ];
        [before.iter().any(&bands), after.iter().any(&bands)]
    };
    assert_eq!(told(&|local| whole_window(local, false, false)), [true, true]);
    assert_eq!(told(&|_| Err(NoWindow::TooShort { totality_s: 6.0, kept_s: 8.0 })), [false, false]);
    assert_eq!(told(&|_| Err(NoWindow::Skyline)), [false, false]);
    assert_eq!(told(&|_| Err(NoWindow::Horizon)), [false, false]);
    assert_eq!(told(&|local| whole_window(local, true, false)), [false, true]);
    assert_eq!(told(&|local| whole_window(local, false, true)), [true, false]);
}

/// Near the edge of the path totality at the Moon's measured edge can end before the discs are closest.
#[test]
fn a_maximum_outside_totality_is_not_called_its_middle() {
    let early = |local: &mut LocalCircumstances| {
        let max = local.max.unwrap().tt;
        let c3 = local.c3.as_mut().unwrap();
        c3.tt = max.plus(-2.0);
    };
    for with_window in [true, false] {
        let (local, entries) = invented_timeline(|local| {
            early(local);
            if with_window {
                whole_window(local, false, false)
            } else {
                Err(NoWindow::TooShort { totality_s: 6.0, kept_s: 8.0 })
            }
        });
        let (c2, c3) = (local.c2.unwrap().tt, local.c3.unwrap().tt);
        assert!(local.max.unwrap().tt > c3);
        let middle: Vec<_> = entries.iter().filter(|e| e.happening == Happening::Maximum).collect();
        assert_eq!(middle.len(), 1);
        assert!(c2 < middle[0].instant && middle[0].instant < c3);
        assert_ne!(middle[0].title, "Middle of totality");
    }
    let (_, entries) = invented_timeline(|local| whole_window(local, false, false));
    assert!(entries.iter().any(|e| e.happening == Happening::Maximum && e.title == "Middle of totality"));
}
