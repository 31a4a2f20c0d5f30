//! One place, looked at: local circumstances, clouds, skyline, window, and the reasons that speak against it. The one value for what is known
//! of a place, whether it is asked about by itself or ranked among many.

use noonfall_ephemeris::{GeoPoint, Kernel};
use noonfall_shadow::geodesy::distance_km;
use noonfall_shadow::moon_edge::EdgeSolver;
use noonfall_shadow::{Contact, LocalCircumstances, Path, Phase, Site};

use crate::clouds::{Clouds, SolarTime};
use crate::criteria::{self, Conditions, Numbers};
use crate::fallback::Day;
use crate::outlook::band_outlook::Bands;
use crate::outlook::cloud::{CloudOutlook, CloudQuery};
use crate::outlook::offer::{Offer, OfferPlace, OfferSettings, offer};
use crate::outlook::skyline::{Horizons, Skyline};
use crate::outlook::totality::{Totality, TotalityRules};
use crate::outlook::true_limit::{TrueLimitNear, true_limit_near};
use crate::outlook::window::{Decision, NoWindow};
use crate::outlook::words::limits::near_true_limit;
use crate::outlook::words::reasons;
use crate::place::{Height, Place};
use crate::plan::Requirement;
use crate::wording::{figure, kilometres};

/// A place with all that was found out about it, in full precision.
#[derive(Clone, Debug)]
pub struct Assessed {
    /// The place.
    pub place: Place,
    /// What totality it gets.
    pub totality: Totality,
    /// The window for unaided eyes, or why there is none: at first that nobody asked, see [`Assessed::decide`].
    pub decision: Decision,
    /// How near the line beyond which the Moon's true edge leaves no totality, where that is near; found with the window.
    pub near_limit: Option<TrueLimitNear>,
    /// Chance of a clear line of sight.
    pub cloud: Option<CloudOutlook>,
    /// Why there is no cloud figure although there are cloud files.
    pub cloud_gap: Option<String>,
    /// The skyline along the Sun's track.
    pub skyline: Option<Skyline>,
    /// Why there is none although there is terrain or a survey.
    pub skyline_gap: Option<String>,
    /// What the built-in criteria look at.
    pub numbers: Numbers,
    /// Why a ranking leaves the place out, physical reasons first; empty for a place that stays in.
    pub rejected: Vec<String>,
}

/// What is known of sky and ground.
#[derive(Clone, Copy)]
pub struct About<'a> {
    /// Cloud files.
    pub clouds: &'a Clouds,
    /// Skylines.
    pub horizons: &'a Horizons,
    /// Shadow bands under the plan's haze and over its ground, where a ranking asks for them.
    pub bands: Option<&'a Bands>,
    /// The path of a ranking: a place that sees no totality is rejected, with the distance to it, and asked no further.
    pub path: Option<&'a Path>,
    /// Whether the cloud's interval and its words are wanted; the chance itself is the same without.
    pub in_full: bool,
}

/// Looks at one place that gets a totality.
pub fn assess(rules: &TotalityRules, about: About<'_>, totality: Totality, place: Place) -> Assessed {
    let local = &totality.shown;
    let unseen = about.path.and_then(|path| unseen(&totality, path, place.site.point()));
    let mut rejected: Vec<String> = unseen.into_iter().collect();
    let asked = rejected.is_empty();
    let (mut cloud, mut clear_sky, mut cloud_gap) = (None, None, None);
    if let Some(max) = local.max.filter(|_| asked) {
        let query = cloud_query(&place, &max);
        let found = if about.in_full {
            about.clouds.outlook(&query).map(|outlook| cloud.insert(outlook).clear_line_of_sight)
        } else {
            about.clouds.figure(&query).map(|figure| figure.clear_line_of_sight)
        };
        match found {
            Ok(chance) => clear_sky = Some(chance),
            Err(gaps) => cloud_gap = gaps.last().map(ToString::to_string),
        }
    }
    let skyline = || about.horizons.skyline(rules.eclipse(), &place.site, local, place.given_name());
    let (skyline, skyline_gap) = match asked.then(skyline).transpose() {
        Ok(skyline) => (skyline.flatten(), None),
        Err(gap) => (None, Some(gap.to_string())),
    };
    let margin_deg = skyline.as_ref().map(Skyline::least_margin_deg);
    if let (Some(skyline), Some(margin_deg)) = (&skyline, margin_deg.filter(|&m| m < 0.0 && about.path.is_some())) {
        rejected.push(format!(
            "the skyline hides the Sun in totality: its centre stands {:.2}° behind it ({})",
            -margin_deg, skyline.source
        ));
    }
    let central = local.max.zip(about.bands).filter(|_| local.phase == Phase::Total);
    let numbers = Numbers {
        totality_s: if local.phase == Phase::Total { local.duration_s } else { 0.0 },
        sun_altitude_deg: local.max.map_or(0.0, |m| m.sun_altitude_deg),
        clear_sky,
        shadow_bands: central.map(|(max, bands)| bands.at(rules.eclipse(), &place.site, max.tt)),
        horizon_margin_deg: margin_deg,
    };
    let decision = Err(NoWindow::NotAsked);
    let near_limit = None;
    Assessed { place, totality, decision, near_limit, cloud, cloud_gap, skyline, skyline_gap, numbers, rejected }
}

/// What the cloud files are asked for a place.
fn cloud_query<'a>(place: &'a Place, max: &Contact) -> CloudQuery<'a> {
    let Site { lat_deg, lon_deg, .. } = place.site;
    SolarTime::at(max.tt, lon_deg).query(lat_deg, lon_deg, max.sun_altitude_deg, place.given_name())
}

impl Assessed {
    /// Local circumstances as outputs show them: second and third contact at the edge of the Moon that they are asked for.
    pub fn local(&self) -> &LocalCircumstances {
        &self.totality.shown
    }

    /// The Sun's altitude at maximum as people are told it, refraction included; `None` where there is no eclipse.
    ///
    /// # Units
    /// Degrees.
    pub fn sun_apparent_altitude_deg(&self) -> Option<f64> {
        self.local().max.map(|max| max.sun_apparent_altitude_deg)
    }

    /// The Sun's azimuth at maximum, degrees; 0 where there is no eclipse.
    pub fn sun_azimuth_deg(&self) -> f64 {
        self.local().max.map_or(0.0, |max| max.sun_azimuth_deg)
    }

    /// What all criteria look at.
    pub fn conditions(&self) -> Conditions<'_> {
        Conditions { numbers: self.numbers, columns: &self.place.columns }
    }

    /// Decides the window for unaided eyes.
    pub fn decide(&mut self, rules: &TotalityRules, solver: &mut EdgeSolver<'_>) {
        let Place { site, height, .. } = &self.place;
        self.decision = rules.decide(solver, site, height.is_known(), &self.totality, self.skyline.as_ref());
        self.near_limit = true_limit_near(rules, solver, &self.totality, site);
    }

    /// What there is to see; `None` where there is no eclipse.
    pub fn offer(
        &self,
        kernel: &Kernel,
        rules: &TotalityRules,
        solver: &mut EdgeSolver<'_>,
        settings: &OfferSettings,
    ) -> Option<Offer> {
        let Assessed { place, totality, decision, .. } = self;
        let place = OfferPlace { site: &place.site, zone: place.clock_zone(), totality, decision };
        offer(kernel, rules, solver, &place, settings)
    }

    /// The day records for joint chances of a place inside the path with the Sun up.
    pub fn days(&self, clouds: &Clouds) -> Option<Vec<Day>> {
        let local = self.local();
        let max = local.max.filter(|_| local.phase == Phase::Total && local.sun_up_in_central_phase())?;
        clouds.days(&cloud_query(&self.place, &max))
    }

    /// What could not be found out of a place that is asked about by itself, and what to beware of.
    pub fn warnings(&self) -> Vec<String> {
        let mut warnings = Vec::new();
        if let Height::Gap(gap) = &self.place.height {
            warnings.push(format!("no elevation from the terrain: {gap}"));
        }
        warnings.extend(self.skyline_gap.iter().map(|gap| format!("no skyline: {gap}")));
        warnings.extend(self.near_limit.iter().map(near_true_limit));
        warnings.extend(self.skyline.iter().flat_map(|s| s.warnings.iter().cloned()));
        warnings.extend(self.cloud_gap.iter().map(|gap| format!("no cloud figure: {gap}")));
        warnings
    }

    /// What to beware of at a place of a ranking, thin margins over the skyline too; reasons to reject it are told apart.
    pub fn warnings_in_ranking(&self, thin_margin_deg: f64, forecast: bool) -> Vec<String> {
        let mut warnings = Vec::new();
        if forecast && self.cloud.as_ref().is_some_and(|cloud| !cloud.forecast) {
            warnings.push("the forecast does not reach this place: its climatology is used".to_string());
        }
        warnings.extend(self.skyline_gap.iter().map(|gap| format!("no skyline: {gap}")));
        if let Some(skyline) = &self.skyline {
            warnings.extend(skyline.thin_warning(thin_margin_deg));
            warnings.extend(skyline.warnings.iter().cloned());
        }
        warnings.extend(self.near_limit.iter().map(near_true_limit));
        warnings
    }
}

/// Why no totality is seen from a place; `None` inside the path with the Sun up.
fn unseen(totality: &Totality, path: &Path, point: GeoPoint) -> Option<String> {
    let local = &totality.shown;
    let below = || {
        let apparent_deg = local.max.map_or(0.0, |m| m.sun_apparent_altitude_deg);
        reasons::sun_down(&format!("{apparent_deg:.1}"))
    };
    outside(totality, path, point).or_else(|| (!local.sun_up_in_central_phase()).then(below))
}

/// Why a place does not see totality at all; `None` inside the path.
fn outside(totality: &Totality, path: &Path, point: GeoPoint) -> Option<String> {
    let local = &totality.shown;
    match local.phase {
        Phase::Partial if totality.smooth.phase == Phase::Total => {
            Some(reasons::edge_leaves_none(&format!("{:.1}", totality.smooth.duration_s)))
        }
        Phase::Total => None,
        Phase::None => Some(reasons::NO_ECLIPSE.to_string()),
        Phase::Annular => Some(format!("{} (size ratio {:.4})", reasons::ANNULAR, local.size_ratio)),
        Phase::Partial => {
            let mut text = reasons::partial(&format!("{:.4}", local.magnitude));
            // Far away the distance means little.
            if local.magnitude > 0.9
                && let Some((km, side)) = limit_distance_km(path, point)
            {
                text.push_str(&format!(", {} from the {side} limit", kilometres(km)));
            }
            Some(text)
        }
    }
}

/// Distance to the nearer limit of the path and that limit's name; `None` without limits.
///
/// # Units
/// Kilometres on the ellipsoid.
pub fn limit_distance_km(path: &Path, point: GeoPoint) -> Option<(f64, &'static str)> {
    let sides = [(&path.north_limit, "northern"), (&path.south_limit, "southern")];
    sides
        .into_iter()
        .filter_map(|(line, side)| Some((line_distance_km(line, point)?, side)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

/// Distance from a place to a line of places: the nearest point is found segment by segment in the plane that touches the
/// Earth at the place, then measured on the ellipsoid.
fn line_distance_km(line: &[GeoPoint], point: GeoPoint) -> Option<f64> {
    let scale = point.lat_deg.to_radians().cos();
    let plane = |p: &GeoPoint| {
        let east = (p.lon_deg - point.lon_deg + 180.0).rem_euclid(360.0) - 180.0;
        [east * scale, p.lat_deg - point.lat_deg]
    };
    let nearest = line.windows(2).map(|pair| {
        let (a, b) = (plane(&pair[0]), plane(&pair[1]));
        let step = [b[0] - a[0], b[1] - a[1]];
        let length = step[0] * step[0] + step[1] * step[1];
        let along = if length > 0.0 { (-(a[0] * step[0] + a[1] * step[1]) / length).clamp(0.0, 1.0) } else { 0.0 };
        let foot = [a[0] + along * step[0], a[1] + along * step[1]];
        (foot[0] * foot[0] + foot[1] * foot[1], foot)
    });
    let (_, foot) = nearest.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let foot = GeoPoint { lat_deg: point.lat_deg + foot[1], lon_deg: point.lon_deg + foot[0] / scale.max(1e-9) };
    Some(distance_km(point, foot))
}

/// The requirements that a place does not meet, in words, with the index of each.
pub fn unmet(requirements: &[Requirement], conditions: &Conditions<'_>) -> Vec<(usize, String)> {
    let mut unmet = Vec::new();
    for (index, requirement) in requirements.iter().enumerate() {
        let (label, unit) = match criteria::built_in(&requirement.criterion) {
            Some(c) => (criteria::in_a_sentence(c.label), c.unit),
            None => (requirement.criterion.replace('_', " "), ""),
        };
        let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
        let Some(value) = criteria::value(&requirement.criterion, conditions) else {
            let missing = criteria::built_in(&requirement.criterion).map_or("no value in the column", |c| c.missing);
            unmet.push((index, format!("{} cannot be checked: {missing}", requirement.key)));
            continue;
        };
        let told = format!("{label} {}{unit}", figure(value));
        if let Some(least) = requirement.at_least.filter(|&least| value < least) {
            unmet.push((index, reasons::below(&told, &format!("{least}{unit}"), &requirement.key)));
        }
        if let Some(most) = requirement.at_most.filter(|&most| value > most) {
            unmet.push((index, reasons::above(&told, &format!("{most}{unit}"), &requirement.key)));
        }
    }
    unmet
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_to_a_line_is_that_to_its_nearest_point() {
        let line: Vec<GeoPoint> =
            [178.0, 179.0, 180.0, -179.0].map(|lon_deg| GeoPoint { lat_deg: -20.0, lon_deg }).to_vec();
        // Half a degree of latitude at 20 degrees is 55.36 km on WGS 84.
        let d = line_distance_km(&line, GeoPoint { lat_deg: -20.5, lon_deg: -179.6 }).unwrap();
        assert!((d - 55.36).abs() < 0.03, "{d}");
        assert_eq!(line_distance_km(&[], line[0]), None);
    }

    #[test]
    fn unmet_requirements_are_said_in_words() {
        let requirement = |key: &str, criterion: &str, at_least, at_most| Requirement {
            key: key.into(),
            criterion: criterion.into(),
            at_least,
            at_most,
            line: None,
        };
        let requirements = [
            requirement("min_totality_s", "totality", Some(60.0), None),
            requirement("max_drive_hours", "drive_hours", None, Some(4.0)),
            requirement("min_clear_probability", "clear_sky", Some(0.3), None),
        ];
        let conditions = Conditions {
            numbers: Numbers { totality_s: 10.25, ..Numbers::default() },
            columns: &[("drive_hours".to_string(), 5.5)].into(),
        };
        let words: Vec<String> = unmet(&requirements, &conditions).into_iter().map(|r| r.1).collect();
        assert_eq!(
            words,
            [
                "totality 10.2 s is below the 60 s required (min_totality_s)",
                "drive hours 5.50 is above the 4 allowed (max_drive_hours)",
                "min_clear_probability cannot be checked: no cloud figure for the place",
            ]
        );
    }
}
