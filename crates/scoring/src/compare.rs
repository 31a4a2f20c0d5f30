//! Two sites side by side: every quantity, the difference, and which is better for which kind of observer.

use noonfall_ephemeris::angle::wrap_180;

use crate::assess::Assessed;
use crate::clocks::rounded;
use crate::criteria::EclipseScale;
use crate::figures::Figures;
use crate::outlook::offer::Offer;
use crate::outlook::window::Window;
use crate::profile::{PROFILES, Profile};
use crate::rank::{Method, RankedSite};
use crate::score::weighted_mean;
use crate::wording::percent;
use crate::{criteria, plan::Mean};

/// Two sites held side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct SideBySide {
    /// First site: the one with the lower Sun.
    pub low: String,
    /// Second site: the one with the higher Sun.
    pub high: String,
    /// Quantities.
    pub rows: Vec<Row>,
    /// What there is to see, in numbers.
    pub sights: Vec<Row>,
    /// Kinds of observers.
    pub observers: Vec<Observer>,
    /// In words.
    pub words: Vec<String>,
}

/// One quantity of both.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The quantity.
    pub quantity: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// At the site with the lower Sun.
    pub low: Option<f64>,
    /// At the site with the higher Sun.
    pub high: Option<f64>,
    /// Higher Sun minus lower Sun.
    pub difference: Option<f64>,
}

/// What the two are worth to a kind of observer.
#[derive(Clone, Debug, PartialEq)]
pub struct Observer {
    /// Name of the ready profile.
    pub profile: &'static str,
    /// Who that is.
    pub about: &'static str,
    /// Score of the site with the lower Sun by that profile.
    pub low: f64,
    /// Score of the site with the higher Sun by that profile.
    pub high: f64,
    /// Name of the better one, `None` when they are level.
    pub better: Option<String>,
    /// In words, with the criterion that decides.
    pub words: String,
}

/// The two sites to compare: those named, else the best ranked with the Sun below `low_deg` and above `high_deg`.
pub fn pair<'s>(
    sites: &'s [RankedSite],
    named: Option<&(String, String)>,
    low_deg: f64,
    high_deg: f64,
) -> Option<(&'s RankedSite, &'s RankedSite)> {
    let sun_altitude_deg = |site: &RankedSite| site.figures().numbers.sun_altitude_deg;
    let (a, b) = match named {
        Some((one, other)) => {
            let find = |name: &String| sites.iter().find(|s| s.name() == name);
            (find(one)?, find(other)?)
        }
        None => {
            let best =
                |wanted: &dyn Fn(f64) -> bool| sites.iter().find(|s| s.rank.is_some() && wanted(sun_altitude_deg(s)));
            (best(&|a| a < low_deg)?, best(&|a| a > high_deg)?)
        }
    };
    Some(if sun_altitude_deg(a) <= sun_altitude_deg(b) { (a, b) } else { (b, a) })
}

/// One of the two, with its figures as other outputs tell them too.
struct Side<'a> {
    name: &'a str,
    found: &'a Assessed,
    told: Figures,
}

/// Seconds before second contact for which light and shadow bands are held side by side.
const BEFORE_C2_S: f64 = 10.0;

/// Holds two sites side by side, the one with the lower Sun first; `offers` are what there is to see at them.
pub fn side_by_side(
    method: &Method,
    sites: [&RankedSite; 2],
    offers: [Option<&Offer>; 2],
    scale: &EclipseScale,
) -> SideBySide {
    let [low, high] = sites;
    let sides = sites.map(|site| Side { name: site.name(), found: &site.found, told: site.figures() });
    let [at_low, at_high] = &sides;
    let row = |quantity, unit, value: &dyn Fn(&Side) -> Option<f64>, digits| {
        both(quantity, unit, [value(at_low), value(at_high)], digits)
    };
    let partial_minutes = |s: &Side| Some((s.found.local().c2?.tt - s.found.local().c1?.tt) / 60.0);
    let rows = vec![
        row("Totality", "s", &|s| Some(s.told.numbers.totality_s), 1),
        row("Sun's altitude", "deg", &|s| s.found.sun_apparent_altitude_deg(), 1),
        Row {
            // The short way round.
            difference: Some(rounded(wrap_180(at_high.told.sun_azimuth_deg - at_low.told.sun_azimuth_deg), 1)),
            ..row("Sun's azimuth", "deg", &|s| Some(s.told.sun_azimuth_deg), 1)
        },
        row("Clear sky", "%", &|s| s.told.numbers.clear_sky.map(|p| p * 100.0), 0),
        row("Cloud cover", "%", &|s| s.told.cloud.map(|c| c.cloud_fraction * 100.0), 0),
        row("Expected clear totality", "s", &|s| s.told.expected_clear_totality_s, 1),
        row("Shadow-band outlook", "", &|s| s.told.numbers.shadow_bands, 2),
        row("Margin above the skyline", "deg", &|s| s.told.numbers.horizon_margin_deg, 1),
        row("First to second contact", "min", &partial_minutes, 1),
        row("Moon over Sun in size", "", &|s| Some(s.told.size_ratio), 4),
        row("Air mass towards the Sun", "", &|s| air_mass(s.told.numbers.sun_altitude_deg), 1),
        row("Score in this plan", "", &|s| s.told.score, 3),
    ];
    let windows_s = [at_low, at_high].map(|s| s.found.decision.as_ref().ok().map(Window::length_s));
    let observers = PROFILES.iter().map(|p| observer(p, at_low, at_high, scale)).collect();
    let mut words = words(at_low, at_high);
    words.extend(order_words(method, low, high));
    if let [Some(a), Some(b)] = offers {
        words.extend(words_of_sights(sites.map(RankedSite::name), [a, b]));
    }
    SideBySide {
        low: low.name().to_owned(),
        high: high.name().to_owned(),
        rows,
        sights: sights(windows_s, offers),
        observers,
        words,
    }
}

/// One quantity of both, to so many digits.
fn both(quantity: &'static str, unit: &'static str, [low, high]: [Option<f64>; 2], digits: i32) -> Row {
    let round = |x: f64| rounded(x, digits);
    let difference = low.zip(high).map(|(low, high)| round(high - low));
    Row { quantity, unit, low: low.map(round), high: high.map(round), difference }
}

/// What there is to see at both, in numbers.
fn sights(windows_s: [Option<f64>; 2], offers: [Option<&Offer>; 2]) -> Vec<Row> {
    let row = |quantity, unit, value: &dyn Fn(&Offer) -> Option<f64>, digits| {
        both(quantity, unit, offers.map(|offer| offer.and_then(value)), digits)
    };
    let light = |o: &Offer| o.light.as_ref()?.iter().find(|l| l.seconds_before_c2 == BEFORE_C2_S).copied();
    let contrast = |o: &Offer| {
        o.shadow_bands.as_ref()?.contrast.iter().find(|c| c.seconds_before_c2 == BEFORE_C2_S).map(|c| c.bands)
    };
    let prominence = |o: &Offer| {
        let views = &o.limb.as_ref()?.prominences;
        views.iter().find(|p| p.height_km == PROMINENCE_KM).copied()
    };
    let edge = |o: &Offer| {
        let edges = &o.shadow.as_ref()?.edge_altitude_deg;
        edges.iter().find(|e| e.seconds_before_c2 == BEFORE_C2_S).map(|e| e.altitude_deg)
    };
    let objects = |o: &Offer| o.sky.as_ref().map(|sky| sky.iter().filter(|s| s.visible).count() as f64);
    let window = {
        let [low, high] = windows_s;
        let difference = low.zip(high).map(|(a, b)| b - a);
        Row { quantity: "Window for the unaided eye", unit: "s", low, high, difference }
    };
    vec![
        window,
        row("Speed of the Moon's shadow", "km/s", &|o| o.shadow.as_ref().map(|s| s.ground_speed_km_s), 2),
        row("Umbra, length over width", "", &|o| o.shadow.as_ref().map(|s| s.elongation), 1),
        row("Shadow's edge 10 s before totality", "deg", &edge, 0),
        row("Nearest sunlit air in totality", "km", &|o| o.horizon_glow.as_ref().map(|g| g.nearest.distance_km), 0),
        row("Shadow-band contrast 10 s before, middle air", "%", &|o| contrast(o).map(|c| 100.0 * c.contrast), 2),
        row("The same in calm air", "%", &|o| contrast(o).map(|c| 100.0 * c.contrast_low), 2),
        row("The same in rough air", "%", &|o| contrast(o).map(|c| 100.0 * c.contrast_high), 2),
        row("Share of direct light on a sheet then", "%", &|o| contrast(o).map(|c| 100.0 * c.direct_share_sheet), 0),
        row("Bands over the eye's threshold then, middle air", "", &|o| contrast(o).map(|c| c.over_threshold), 2),
        row("Light left 10 s before totality", "%", &|o| light(o).map(|l| 100.0 * l.illuminance_fraction), 3),
        row("Light on level ground in totality", "lx", &|o| o.totality_light.as_ref().map(|l| l.illuminance_lux), 1),
        row("Sky overhead in totality", "cd/m²", &|o| o.totality_light.as_ref().map(|l| l.zenith_cd_m2), 2),
        row("Darker than daylight by", "stops", &|o| o.totality_light.as_ref().map(|l| l.stops_below_daylight), 1),
        row("Glow on the horizon, brightest over darkest", "", &|o| o.horizon_glow.as_ref().map(|g| g.contrast), 1),
        row("Blur of a shadow's edge then, across", "mm/m", &|o| light(o).map(|l| l.blur_across_mm_per_m), 2),
        row("The same, along the crescent", "mm/m", &|o| light(o).map(|l| l.blur_along_mm_per_m), 2),
        row("Chromosphere after second contact", "s", &|o| Some(o.limb.as_ref()?.chromosphere_after_c2_s), 1),
        row("Look-away lead before third contact", "s", &|o| Some(o.limb.as_ref()?.look_away_lead_s), 1),
        row("Prominence of 30 000 km, after second contact", "s", &|o| Some(prominence(o)?.after_c2_s), 0),
        row("Planets and stars to be seen", "", &objects, 0),
    ]
}

/// Height of the prominence that two sites are compared by, km.
const PROMINENCE_KM: f64 = 30_000.0;

/// The same in plain sentences, each computed from the numbers.
fn words_of_sights([low, high]: [&str; 2], offers: [&Offer; 2]) -> Vec<String> {
    let mut words = Vec::new();
    if let [Some(a), Some(b)] = offers.map(|o| o.shadow.as_ref()) {
        words.push(format!(
            "The Moon's shadow crosses {low} at {:.1} km/s, {:.1} times as long as wide, and {high} at {:.1} km/s, {:.1} \
             times: the lower the Sun, the faster and the longer the shadow.",
            a.ground_speed_km_s, a.elongation, b.ground_speed_km_s, b.elongation
        ));
    }
    if let [Some(a), Some(b)] = offers.map(|o| o.shadow_bands.as_ref()) {
        words.push(format!(
            "Shadow bands are {} at {low} and {} at {high}: a word for their outlook, which orders places and is no \
             probability. {}",
            a.class.word(),
            b.class.word(),
            a.held_against_reports
        ));
        words.extend(
            [(low, a), (high, b)]
                .into_iter()
                .filter_map(|(name, bands)| bands.exception.as_ref().map(|why| format!("At {name}: {why}"))),
        );
    }
    if let [Some(a), Some(b)] = offers.map(|o| o.limb.as_ref()) {
        words.push(format!(
            "The red rim warns of the returning Sun some {:.0} s ahead at {low} and {:.0} s at {high}.",
            a.look_away_lead_s, b.look_away_lead_s
        ));
    }
    words
}

/// What the order of the two owes to the criteria on which opinions about low and high Sun part, in words; for plans that
/// weigh them with the arithmetic mean.
fn order_words(method: &Method, low: &RankedSite, high: &RankedSite) -> Option<String> {
    const DISPUTED: [(&str, &str); 2] = [("sun_altitude", "the Sun's altitude"), ("shadow_bands", "shadow bands")];
    let score = |site: &RankedSite, left_out: &[&str]| -> Option<f64> {
        // A criterion without weight may be without a figure too.
        let all = method.criteria.iter().zip(&site.criteria);
        let kept = all.filter(|(t, _)| t.weight > 0.0 && !left_out.contains(&t.name.as_str()));
        let pairs: Option<Vec<(f64, f64)>> = kept.map(|(t, c)| c.utility.map(|u| (u, t.weight))).collect();
        Some(weighted_mean(Mean::Arithmetic, pairs?))
    };
    // Only where that is how the plan reckons.
    for site in [low, high] {
        if (score(site, &[])? - site.score?).abs() > 1e-3 {
            return None;
        }
    }
    let weighs = |name: &str| method.criteria.iter().any(|t| t.name == name && t.weight > 0.0);
    let weighed: Vec<(&str, &str)> = DISPUTED.into_iter().filter(|(name, _)| weighs(name)).collect();
    if weighed.is_empty() {
        return None;
    }
    let first = |left_out: &[&str]| {
        let (a, b) = (score(low, left_out)?, score(high, left_out)?);
        let (better, a, b) = if a >= b { (low, a, b) } else { (high, b, a) };
        Some((better.name(), a, b))
    };
    let (now, a, b) = first(&[])?;
    let mut words = format!("By this plan {now} stands before the other, {a:.3} to {b:.3}.");
    for (name, label) in weighed {
        let (then, a, b) = first(&[name])?;
        words.push_str(&if then == now {
            format!(" Without the weight of {label} the order stays: {a:.3} to {b:.3}.")
        } else {
            format!(" Without the weight of {label} the order turns round: {then} first, {a:.3} to {b:.3}.")
        });
    }
    Some(words)
}

/// Relative air mass towards a Sun at an altitude, `None` below the horizon.
///
/// # Units
/// True altitude in degrees; 1 at the zenith.
/// # Source
/// Kasten & Young 1989, Appl. Opt. 28, 4735: 1 / (sin h + 0.50572 (h + 6.07995)^−1.6364), given for apparent altitude;
/// 37.9 to 38.1 on the horizon, 5.6 at 10°. Formula from memory.
/// ```
/// use noonfall_scoring::compare::air_mass;
/// // Published with the formula: 38 on the horizon, 5.6 at 10°.
/// assert!((air_mass(0.0).unwrap() - 38.0).abs() < 0.2 && (air_mass(10.0).unwrap() - 5.6).abs() < 0.05);
/// assert_eq!(air_mass(-1.0), None);
/// ```
pub fn air_mass(altitude_deg: f64) -> Option<f64> {
    if altitude_deg < 0.0 {
        return None;
    }
    Some(1.0 / (altitude_deg.to_radians().sin() + 0.505_72 * (altitude_deg + 6.079_95).powf(-1.636_4)))
}

/// Utilities of a profile's criteria at a site, `(name, utility, weight)`; a missing figure counts as 0.
fn utilities(profile: &Profile, site: &Side, scale: &EclipseScale) -> Vec<(&'static str, f64, f64)> {
    profile
        .weights
        .iter()
        .filter_map(|&(name, weight)| {
            let criterion = criteria::built_in(name)?;
            let wish = profile.wishes.iter().find(|w| w.0 == name).map(|w| w.1.curve());
            let curve = wish.unwrap_or_else(|| (criterion.default_wish)(scale));
            let utility = (criterion.value)(&site.told.numbers).map_or(0.0, |v| curve.utility(v));
            Some((name, utility, weight))
        })
        .collect()
}

/// Scores this near to each other are called level: a choice of ours, and said beside the word.
const LEVEL: f64 = 0.02;

fn observer(profile: &'static Profile, low: &Side, high: &Side, scale: &EclipseScale) -> Observer {
    let (a, b) = (utilities(profile, low, scale), utilities(profile, high, scale));
    let score = |u: &[(&str, f64, f64)]| weighted_mean(Mean::Arithmetic, u.iter().map(|x| (x.1, x.2)));
    let (low_score, high_score) = (score(&a), score(&b));
    let lead = high_score - low_score;
    // What decides is the criterion that does most for the better one.
    let decides = a
        .iter()
        .zip(&b)
        .map(|(x, y)| (x.0, (y.1 - x.1) * x.2 * lead.signum()))
        .max_by(|x, y| x.1.total_cmp(&y.1))
        .map_or("", |d| d.0);
    let label = criteria::built_in(decides).map_or(String::new(), |c| criteria::in_a_sentence(c.label));
    let level = lead.abs() < LEVEL;
    let (better, other) = if lead > 0.0 { (high, low) } else { (low, high) };
    let words = if level {
        format!("{}: {} and {} are level (scores less than {LEVEL} apart).", profile.label, low.name, high.name)
    } else {
        format!("{}: {} over {}, mostly for {label}.", profile.label, better.name, other.name)
    };
    Observer {
        profile: profile.name,
        about: profile.about,
        low: rounded(low_score, 3),
        high: rounded(high_score, 3),
        better: (!level).then(|| better.name.to_owned()),
        words,
    }
}

/// The comparison in plain sentences, each computed from the numbers.
fn words(low: &Side, high: &Side) -> Vec<String> {
    let mut words = Vec::new();
    if let (Some(a), Some(b)) = (low.found.sun_apparent_altitude_deg(), high.found.sun_apparent_altitude_deg()) {
        words.push(format!("At {} the Sun stands {a:.0}° high in totality, at {} {b:.0}°.", low.name, high.name));
    }
    let longer = |a: &Side, b: &Side| {
        format!(
            "Totality lasts {:.0} s at {} against {:.0} s at {}.",
            a.told.numbers.totality_s, a.name, b.told.numbers.totality_s, b.name
        )
    };
    words.push(if low.told.numbers.totality_s >= high.told.numbers.totality_s {
        longer(low, high)
    } else {
        longer(high, low)
    });
    if let (Some(p), Some(q)) = (low.told.cloud, high.told.cloud) {
        let overlap = p.low_95 <= q.high_95 && q.low_95 <= p.high_95;
        let (better, worse, b, w) =
            if p.clear_line_of_sight >= q.clear_line_of_sight { (low, high, p, q) } else { (high, low, q, p) };
        let sure = if overlap { ", but their 95 % ranges overlap" } else { ", and their 95 % ranges do not overlap" };
        words.push(format!(
            "The chance of a clear view is {} at {} against {} at {}{sure}.",
            percent(b.clear_line_of_sight),
            better.name,
            percent(w.clear_line_of_sight),
            worse.name
        ));
    }
    if let (Some(a), Some(b)) = (low.told.expected_clear_totality_s, high.told.expected_clear_totality_s) {
        let (better, x, y) = if a >= b { (low, a, b) } else { (high, b, a) };
        words.push(format!("On average {} gives more clear totality: {x:.0} s against {y:.0} s.", better.name));
    }
    if let (Some(a), Some(b)) =
        (air_mass(low.told.numbers.sun_altitude_deg), air_mass(high.told.numbers.sun_altitude_deg))
    {
        words.push(format!(
            "The light comes through {:.1} times as much air at {}: redder, hazier, and more striking shadow and horizon colours there; \
             steadier and finer corona at {}.",
            a / b,
            low.name,
            high.name
        ));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn air_mass_meets_its_known_values() {
        assert!((air_mass(90.0).unwrap() - 1.0).abs() < 0.001);
        assert!((air_mass(30.0).unwrap() - 1.99).abs() < 0.01);
        assert!((air_mass(10.0).unwrap() - 5.59).abs() < 0.03);
        assert!((air_mass(0.0).unwrap() - 38.0).abs() < 0.2);
        assert_eq!(air_mass(-1.0), None);
    }

    #[test]
    fn sights_are_missing_where_there_are_none_and_never_a_number_that_is_none() {
        let rows = sights([None, None], [None, None]);
        assert!(rows.len() >= 12);
        assert!(rows.iter().all(|r| r.low.is_none() && r.high.is_none() && r.difference.is_none()));
    }
}
