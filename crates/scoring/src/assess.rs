//! One candidate, looked at: local circumstances, sky, skyline, and the reasons that speak against it.

use chrono_tz::Tz;
use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::geodesy::distance_km;
use noonfall_shadow::{Contact, Eclipse, LocalCircumstances, Path, Phase, Site};

use crate::clouds::{Clouds, SolarTime};
use crate::criteria::{Conditions, Numbers};
use crate::outlook::band_outlook::Bands;
use crate::outlook::cloud::{CloudGap, CloudOutlook, CloudQuery};
use crate::outlook::skyline::{Horizons, Skyline};
use crate::outlook::totality::{Totality, TotalityRules};
use crate::outlook::window::Decision;
use crate::outlook::words::reasons;
use crate::plan::Requirement;
use crate::wording::{figure, kilometres};
use crate::{criteria, fallback};

/// A candidate before it is looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Name, unique.
    pub name: String,
    /// Where it is.
    pub site: Site,
    /// Where the elevation comes from.
    pub elevation_source: String,
    /// Whether the elevation is known; where it is not, sea level is taken.
    pub height_known: bool,
    /// Civil time zone.
    pub zone: Option<Tz>,
    /// Numeric columns of the sites table.
    pub columns: std::collections::BTreeMap<String, f64>,
    /// Text columns of the sites table.
    pub texts: std::collections::BTreeMap<String, String>,
    /// Whether the search found it.
    pub found_by_search: bool,
}

/// A candidate with all that was found out about it.
#[derive(Clone, Debug)]
pub struct Assessed {
    /// The candidate.
    pub candidate: Candidate,
    /// What totality it gets.
    pub totality: Totality,
    /// The window for unaided eyes, or why there is none; `None` until it is asked for.
    pub decision: Option<Decision>,
    /// Chance of clear sky.
    pub cloud: Option<CloudOutlook>,
    /// Day records for joint chances.
    pub days: Option<Vec<fallback::Day>>,
    /// What the criteria look at.
    pub conditions: Conditions,
    /// Why the place is out, physical reasons first; empty for a place that stays in.
    pub rejected: Vec<String>,
    /// What to beware of although the place stays in.
    pub warnings: Vec<String>,
    /// The skyline along the Sun's track.
    pub skyline: Option<Skyline>,
    /// Why there is no cloud figure.
    pub cloud_gap: Option<String>,
}

/// What is known of sky and ground.
#[derive(Clone, Copy)]
pub struct About<'a> {
    /// Cloud files.
    pub clouds: &'a Clouds,
    /// Skylines.
    pub horizons: &'a Horizons,
    /// Below this margin over the skyline, degrees, a place is warned about.
    pub thin_margin_deg: f64,
    /// Shadow bands under the plan's haze and over its ground.
    pub bands: &'a Bands,
    /// Whether the cloud's interval and its words are wanted; the chance itself is the same without.
    pub in_full: bool,
    /// Whether its days are wanted besides: some kilobytes a place. [`days_of`] finds them later too.
    pub days: bool,
}

/// Looks at one candidate, by the kept profiles of the Moon's edge where there are `many`. `path` words how far outside a
/// place lies.
pub fn assess(rules: &TotalityRules, many: bool, path: &Path, about: About<'_>, candidate: Candidate) -> Assessed {
    let About { clouds, horizons, thin_margin_deg, .. } = about;
    let eclipse = rules.eclipse();
    let totality = if many {
        rules.totality_among_many(&candidate.site)
    } else {
        rules.totality(&mut rules.solver(), &candidate.site)
    };
    let local = &totality.shown;
    let mut rejected = Vec::new();
    let mut warnings = Vec::new();
    if let Some(reason) = outside(&totality, path, candidate.site.point()) {
        rejected.push(reason);
    } else if !local.sun_up_in_central_phase() {
        let apparent_deg = local.max.map_or(0.0, |m| m.sun_apparent_altitude_deg);
        rejected.push(reasons::sun_down(&format!("{apparent_deg:.1}")));
    }
    let (mut cloud, mut clear_sky, mut days, mut cloud_gap) = (None, None, None, None);
    if let Some(max) = local.max.filter(|_| rejected.is_empty()) {
        let query = cloud_query(&candidate, &max);
        let mut gap = |gaps: Vec<CloudGap>| {
            let no_file = || "the plan names no cloud file".to_string();
            cloud_gap = Some(gaps.last().map_or_else(no_file, ToString::to_string));
        };
        if about.in_full {
            cloud = clouds.outlook(&query).map_err(&mut gap).ok();
            clear_sky = cloud.as_ref().map(|c| c.clear_line_of_sight);
            days = if about.days { clouds.days(&query) } else { None };
        } else {
            clear_sky = clouds.figure(&query).map_err(&mut gap).ok().map(|figure| figure.clear_line_of_sight);
        }
    }
    if let Some(outlook) = &cloud
        && clouds.has_forecast()
        && !outlook.forecast
    {
        warnings.push("the forecast does not reach this place: its climatology is used".to_string());
    }
    let skyline = skyline(eclipse, horizons, thin_margin_deg, &candidate, local, &mut rejected, &mut warnings);
    let numbers = Numbers {
        totality_s: if local.phase == Phase::Total { local.duration_s } else { 0.0 },
        sun_altitude_deg: local.max.map_or(0.0, |m| m.sun_altitude_deg),
        clear_sky,
        shadow_bands: local
            .max
            .filter(|_| local.phase == Phase::Total)
            .map(|max| about.bands.at(eclipse, &candidate.site, max.tt)),
        horizon_margin_deg: skyline.as_ref().map(Skyline::least_margin_deg),
    };
    let conditions = Conditions { numbers, columns: candidate.columns.clone() };
    Assessed { candidate, totality, decision: None, cloud, days, conditions, rejected, warnings, skyline, cloud_gap }
}

/// What the cloud files are asked for a place.
fn cloud_query<'a>(candidate: &'a Candidate, max: &Contact) -> CloudQuery<'a> {
    let Site { lat_deg, lon_deg, .. } = candidate.site;
    SolarTime::at(max.tt, lon_deg).query(lat_deg, lon_deg, max.sun_altitude_deg, Some(&candidate.name))
}

/// The day records for joint chances of a place inside the path with the Sun up, where [`assess`] was not asked for them.
pub fn days_of(clouds: &Clouds, assessed: &Assessed) -> Option<Vec<fallback::Day>> {
    let local = assessed.local();
    let max = local.max.filter(|_| local.phase == Phase::Total && local.sun_up_in_central_phase())?;
    clouds.days(&cloud_query(&assessed.candidate, &max))
}

impl Assessed {
    /// Local circumstances as outputs show them.
    pub fn local(&self) -> &LocalCircumstances {
        &self.totality.shown
    }
}

/// The skyline of a place inside the path, with what it rejects and warns of.
fn skyline(
    eclipse: &Eclipse,
    horizons: &Horizons,
    thin_margin_deg: f64,
    candidate: &Candidate,
    local: &LocalCircumstances,
    rejected: &mut Vec<String>,
    warnings: &mut Vec<String>,
) -> Option<Skyline> {
    if !rejected.is_empty() {
        return None;
    }
    match horizons.skyline(eclipse, &candidate.site, local, Some(&candidate.name)) {
        Ok(None) => None,
        Ok(Some(skyline)) => {
            let margin = skyline.least_margin_deg();
            if margin < 0.0 {
                rejected.push(format!(
                    "the skyline hides the Sun in totality: its centre stands {:.2}° behind it ({})",
                    -margin, skyline.source
                ));
            }
            warnings.extend(skyline.thin_warning(thin_margin_deg));
            warnings.extend(skyline.warnings.iter().cloned());
            Some(skyline)
        }
        Err(gap) => {
            warnings.push(format!("no skyline: {gap}"));
            None
        }
    }
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
pub fn unmet(requirements: &[Requirement], conditions: &Conditions) -> Vec<(usize, String)> {
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
            columns: [("drive_hours".to_string(), 5.5)].into(),
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
