//! Everything a place will offer, for places that are asked about one by one rather than ranked.

use std::path::Path;

use chrono_tz::Tz;
use noonfall_ephemeris::{GeoPoint, Kernel};
use noonfall_shadow::{LocalCircumstances, Site};
use rayon::prelude::*;

use crate::clouds::{Clouds, SolarTime};
use crate::elevation::Elevation;
use crate::fault::Faults;
use crate::input::sites::Sites;
use crate::input::terrain::{Terrain, Told};
use crate::outlook::cloud::CloudOutlook;
use crate::outlook::offer::{Offer, OfferPlace, OfferSettings, offer};
use crate::outlook::skyline::{Horizons, Skyline};
use crate::outlook::totality::{Totality, TotalityRules};
use crate::outlook::true_limit::{TrueLimitNear, true_limit_near};
use crate::outlook::window::Decision;
use crate::outlook::words::limits::near_true_limit;
use crate::zone::zone_at;

/// Most rows of a sites table that are answered one by one: each answer takes some twenty kilobytes.
const MOST_PLACES: u64 = 20_000;

/// A place that is asked about.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Its name, if it has one.
    pub name: Option<String>,
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east.
    pub lon_deg: f64,
    /// Metres above sea level, where given.
    pub elevation_m: Option<f64>,
    /// Civil time zone, where given.
    pub zone: Option<Tz>,
}

impl Place {
    /// The places of a sites table.
    ///
    /// # Errors
    /// Every fault of the table.
    pub fn read(file: &Path) -> Result<Vec<Place>, Faults> {
        let sites = Sites::read(file, MOST_PLACES).map_err(|mut faults| {
            // A table that is too long is refused with advice for plans; here there is none.
            for fault in faults.0.iter_mut().filter(|f| f.right == crate::input::sites::TOO_LONG) {
                fault.right = "ask in several parts, or rank the places with a plan".to_owned();
            }
            faults
        })?;
        let place = |row: crate::input::sites::SiteRow| Place {
            name: Some(row.name),
            lat_deg: row.lat_deg,
            lon_deg: row.lon_deg,
            elevation_m: row.elevation_m,
            zone: row.zone,
        };
        Ok(sites.rows.into_iter().map(place).collect())
    }
}

/// What is known of sky and ground.
#[derive(Debug, Default)]
pub struct Sources {
    clouds: Clouds,
    horizons: Horizons,
}

impl Sources {
    /// Opens a cloud file, a folder of terrain tiles and a surveyed horizon, each if given.
    ///
    /// # Errors
    /// Every fault of all of them.
    pub fn read(clouds: Option<&Path>, terrain: Option<&Path>, horizon: Option<&Path>) -> Result<Sources, Faults> {
        let clouds = clouds.map_or(Ok(Clouds::default()), Clouds::of_file);
        Sources::with_clouds(clouds, terrain, horizon)
    }

    /// As [`Sources::read`], with the clouds read already.
    ///
    /// # Errors
    /// Every fault of all of them.
    pub fn with_clouds(
        clouds: Result<Clouds, Faults>,
        terrain: Option<&Path>,
        horizon: Option<&Path>,
    ) -> Result<Sources, Faults> {
        let mut faults = Faults::default();
        let mut keep = |found: Faults| faults.0.extend(found.0);
        let clouds = clouds.map_err(&mut keep).ok();
        let horizons = Horizons::open(terrain, horizon).map_err(&mut keep).ok();
        faults.or(Sources { clouds: clouds.unwrap_or_default(), horizons: horizons.unwrap_or_default() })
    }

    /// What outputs say of the terrain, where there is one; ask after the work.
    pub fn terrain(&self) -> Option<Told> {
        self.horizons.terrain.as_ref().map(Terrain::told)
    }
}

/// A place with everything found out about it.
#[derive(Clone, Debug)]
pub struct Prospect {
    /// The place as asked about.
    pub place: Place,
    /// The place as computed with: its elevation decided.
    pub site: Site,
    /// Where the elevation comes from.
    pub elevation_source: String,
    /// Civil time zone.
    pub zone: Tz,
    /// What totality it gets.
    pub totality: Totality,
    /// The window for unaided eyes, or why there is none.
    pub decision: Decision,
    /// What there is to see; `None` where there is no eclipse.
    pub offer: Option<Offer>,
    /// Chance of a clear line of sight.
    pub cloud: Option<CloudOutlook>,
    /// The skyline along the Sun's track.
    pub skyline: Option<Skyline>,
    /// How near the line beyond which the Moon's true edge leaves no totality, where that is near.
    pub near_limit: Option<TrueLimitNear>,
    /// What could not be found out, and what to beware of.
    pub warnings: Vec<String>,
}

impl Prospect {
    /// Local circumstances as outputs show them.
    pub fn local(&self) -> &LocalCircumstances {
        &self.totality.shown
    }
}

/// Finds out everything about places, in their order.
pub fn prospects(
    kernel: &Kernel,
    rules: &TotalityRules,
    sources: &Sources,
    settings: &OfferSettings,
    places: Vec<Place>,
) -> Vec<Prospect> {
    places.into_par_iter().map(|place| prospect(kernel, rules, sources, settings, place)).collect()
}

fn prospect(
    kernel: &Kernel,
    rules: &TotalityRules,
    sources: &Sources,
    settings: &OfferSettings,
    place: Place,
) -> Prospect {
    let eclipse = rules.eclipse();
    let point = GeoPoint { lat_deg: place.lat_deg, lon_deg: place.lon_deg };
    let elevation = Elevation::of(place.elevation_m, point, &sources.horizons);
    let mut warnings = Vec::new();
    warnings.extend(elevation.gap.map(|gap| format!("no elevation from the terrain: {gap}")));
    let site = Site { lat_deg: place.lat_deg, lon_deg: place.lon_deg, elevation_m: elevation.metres };
    let zone = place.zone.or_else(|| zone_at(point)).unwrap_or(chrono_tz::UTC);
    let mut solver = rules.solver();
    let totality = rules.totality(&mut solver, &site);
    let local = &totality.shown;
    let name = place.name.as_deref();
    let skyline = match sources.horizons.skyline(eclipse, &site, local, name) {
        Ok(skyline) => skyline,
        Err(gap) => {
            warnings.push(format!("no skyline: {gap}"));
            None
        }
    };
    let near_limit = true_limit_near(rules, &mut solver, &totality, &site);
    warnings.extend(near_limit.iter().map(near_true_limit));
    warnings.extend(skyline.iter().flat_map(|s| s.warnings.iter().cloned()));
    let mut cloud = None;
    if let Some(max) = local.max.filter(|_| !sources.clouds.is_empty()) {
        let time = SolarTime::at(max.tt, site.lon_deg);
        match sources.clouds.outlook(&time.query(site.lat_deg, site.lon_deg, max.sun_altitude_deg, name)) {
            Ok(outlook) => cloud = Some(outlook),
            Err(gaps) => warnings.extend(gaps.last().map(|gap| format!("no cloud figure: {gap}"))),
        }
    }
    let decision = rules.decide(&mut solver, &site, elevation.known, &totality, skyline.as_ref());
    let offered = OfferPlace { site: &site, zone, totality: &totality, decision: &decision };
    let offer = offer(kernel, rules, &mut solver, &offered, settings);
    let elevation_source = elevation.source;
    Prospect { place, site, elevation_source, zone, totality, decision, offer, cloud, skyline, near_limit, warnings }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_too_long_is_refused_with_advice_that_helps_here() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("s.csv");
        let rows: String = (0..=MOST_PLACES).map(|i| format!("s{i},-30,146\n")).collect();
        std::fs::write(&file, format!("name,lat,lon\n{rows}")).unwrap();
        let text = Place::read(&file).unwrap_err().to_string();
        assert!(text.contains("there are 20001 rows, more than the 20000 accepted; ask in several parts"), "{text}");
    }
}
