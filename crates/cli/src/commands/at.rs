//! `noonfall at`.

use crate::failure::Failure;
use crate::options::{AtFormat, AtOptions, moon_heights};
use crate::output;
use noonfall_exchange::prospects as sheets;
use noonfall_scoring::clouds::{Clouds, wanted_at};
use noonfall_scoring::fault::Fault;
use noonfall_scoring::outlook::air::SNOW_ALBEDO;
use noonfall_scoring::outlook::cloud::CloudOptions;
use noonfall_scoring::outlook::offer::OfferSettings;
use noonfall_scoring::outlook::totality::TotalityRules;
use noonfall_scoring::place::Place;
use noonfall_scoring::prospect::{Prospect, Sources, prospects, read_places};
use noonfall_shadow::Site;
use noonfall_shadow::moon_edge::EdgeSettings;

/// Tells what places will see.
pub fn run(options: &AtOptions) -> Result<(), Failure> {
    let kernel = options.common.kernel()?;
    let eclipse = options.common.eclipse(kernel.get(), options.date)?;
    let places = match &options.sites {
        Some(file) => read_places(file)?,
        None => vec![place(options)?],
    };
    let clouds = match options.clouds.as_slice() {
        [] => Ok(Clouds::default()),
        files => {
            let choice = CloudOptions { kind: options.kind.map(Into::into), ..CloudOptions::default() };
            Clouds::of_files(
                files,
                choice,
                &wanted_at(&eclipse, places.iter().map(|p| (p.site.lat_deg, p.site.lon_deg))),
            )
        }
    };
    let sources = Sources::with_clouds(clouds, options.terrain.as_deref(), options.horizon.as_deref())?;
    let defaults = OfferSettings::default();
    let mut air = defaults.air;
    air.haze = options.haze.unwrap_or(air.haze);
    if options.snow {
        air.ground_albedo = SNOW_ALBEDO;
    }
    let chromosphere_km = options.chromosphere.unwrap_or(defaults.chromosphere_km);
    let settings = OfferSettings { chromosphere_km, air, wind: options.wind };
    let heights = moon_heights(options.moon_grid.as_deref())?;
    let rules = TotalityRules::new(&eclipse, heights, EdgeSettings::default(), options.edge(), options.window());
    let found: Vec<Prospect> = prospects(kernel.get(), &rules, &sources, &settings, places);
    for prospect in &found {
        for warning in prospect.found.warnings() {
            let name = prospect.found.place.given_name().unwrap_or("site");
            output::note(options.common.quiet, &format!("{name}: {warning}"));
        }
    }
    let terrain = sources.terrain();
    for warning in terrain.iter().flat_map(|told| &told.warnings) {
        output::note(options.common.quiet, warning);
    }
    let told = terrain.as_ref();
    // A single place is one object, a file of places a list, however long.
    let single = options.sites.is_none();
    match options.format.unwrap_or(if output::to_terminal() { AtFormat::Table } else { AtFormat::Json }) {
        AtFormat::Table if single => output::data(&sheets::page(&eclipse, &found[0], told, output::screen())),
        AtFormat::Table => output::data(&sheets::table_for_terminal(&found, told, output::screen())),
        AtFormat::Json => output::data(&sheets::json(&eclipse, &found, told, single)),
        AtFormat::Jsonl => output::data(&sheets::json_lines(&eclipse, &found, told)),
        AtFormat::Csv => {
            output::data(&noonfall_exchange::csv::write(&noonfall_exchange::sheets::circumstances(&found))?)
        }
        AtFormat::Ics => output::data(&sheets::calendar(&eclipse, &found)),
    }
}

/// The place of `--lat` and `--lon`.
fn place(options: &AtOptions) -> Result<Place, Failure> {
    let (lat, lon) = (options.lat.unwrap_or_default(), options.lon.unwrap_or_default());
    // The check also covers an elevation that was given.
    let site = Site::new(lat, lon, options.elevation.unwrap_or(0.0))?;
    let zone = match &options.zone {
        None => None,
        Some(name) => Some(name.parse().map_err(|_| {
            Fault::of_key(
                "--zone",
                None,
                name.clone(),
                "this is not an IANA time zone",
                "give one like Pacific/Auckland, or leave it out to have it looked up",
            )
        })?),
    };
    Ok(Place::new(options.name.as_deref().unwrap_or_default(), site.point(), options.elevation, zone))
}
