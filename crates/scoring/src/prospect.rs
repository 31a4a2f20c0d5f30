//! Everything a place will offer, for places that are asked about one by one rather than ranked.

use std::path::Path;

use noonfall_ephemeris::Kernel;
use rayon::prelude::*;

use crate::assess::{About, Assessed, assess};
use crate::clouds::Clouds;
use crate::fault::Faults;
use crate::input::sites::Sites;
use crate::input::terrain::{Terrain, Told};
use crate::outlook::offer::{Offer, OfferSettings};
use crate::outlook::skyline::Horizons;
use crate::outlook::totality::TotalityRules;
use crate::place::Place;

/// Most rows of a sites table that are answered one by one: each answer takes some twenty kilobytes.
const MOST_PLACES: u64 = 20_000;

/// The places of a sites table, as given.
///
/// # Errors
/// Every fault of the table.
pub fn read_places(file: &Path) -> Result<Vec<Place>, Faults> {
    let sites = Sites::read(file, MOST_PLACES).map_err(|mut faults| {
        // A table that is too long is refused with advice for plans; here there is none.
        for fault in faults.0.iter_mut().filter(|f| f.right == crate::input::sites::TOO_LONG) {
            fault.right = "ask in several parts, or rank the places with a plan".to_owned();
        }
        faults
    })?;
    Ok(sites.rows.iter().map(Place::of).collect())
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

/// A place with everything found out about it, and what there is to see.
#[derive(Clone, Debug)]
pub struct Prospect {
    /// What was found out.
    pub found: Assessed,
    /// What there is to see; `None` where there is no eclipse.
    pub offer: Option<Offer>,
}

/// Finds out everything about places, in their order.
pub fn prospects(
    kernel: &Kernel,
    rules: &TotalityRules,
    sources: &Sources,
    settings: &OfferSettings,
    places: Vec<Place>,
) -> Vec<Prospect> {
    let Sources { clouds, horizons } = sources;
    let about = About { clouds, horizons, bands: None, path: None, in_full: true };
    let prospect = |place: Place| {
        let place = place.looked_up(horizons);
        let mut solver = rules.solver();
        let totality = rules.totality(&mut solver, &place.site);
        let mut found = assess(rules, about, totality, place);
        found.decide(rules, &mut solver);
        let offer = found.offer(kernel, rules, &mut solver, settings);
        Prospect { found, offer }
    };
    places.into_par_iter().map(prospect).collect()
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
        let text = read_places(&file).unwrap_err().to_string();
        assert!(text.contains("there are 20001 rows, more than the 20000 accepted; ask in several parts"), "{text}");
    }
}
