//! Everything that a plan names, read; everything that is wrong with it, told at once.

use super::checks::check_columns;
use super::{Options, RunError};
use crate::clouds::{AROUND_DEG, Clouds};
use crate::fallback;
use crate::fault::{Fault, Faults};
use crate::input;
use crate::input::drive_hours::DriveHours;
use crate::input::roads::{self, Roads};
use crate::input::sites::{Sites, Survey};
use crate::input::stamp::Stamped;
use crate::land::Region;
use crate::outlook::skyline::{Horizons, RayOptions};
use crate::plan::{Plan, SitesKeys};
use crate::progress::Progress;
use crate::provenance::InputFile;
use crate::search::NearPath;
use noonfall_shadow::Eclipse;
use noonfall_shadow::moon_edge::MoonHeights;
use std::path::{Path, PathBuf};

/// A table whose rows are not held: its columns, and what the reading of it found.
pub(super) struct Surveyed {
    pub(super) table: Sites,
    pub(super) survey: Result<Survey, Faults>,
}

/// Everything a plan names, read.
pub(super) struct Inputs {
    pub(super) sites: Option<Sites>,
    pub(super) clouds: Clouds,
    pub(super) forecast: Option<(PathBuf, Clouds)>,
    pub(super) horizons: Horizons,
    pub(super) drives: Option<DriveHours>,
    pub(super) region: Option<Region>,
    pub(super) base: Option<fallback::base::Base>,
    pub(super) roads: Option<Roads>,
    pub(super) moon: MoonHeights,
    pub(super) files: Files,
}

/// The files of a plan, each noted before it is read.
#[derive(Default)]
pub(super) struct Files {
    pub(super) told: Vec<InputFile>,
    stamps: Vec<Stamped>,
}

impl Files {
    fn note(&mut self, role: &'static str, path: &Path) {
        self.stamps.push(Stamped::of(path));
        self.told.push(InputFile::of(role, path));
    }

    /// To be asked when all is done.
    ///
    /// # Errors
    /// Those that are no longer what was read.
    pub(super) fn unchanged(&self) -> Result<(), Faults> {
        Faults(self.stamps.iter().filter_map(Stamped::changed).collect()).or(())
    }
}

impl Inputs {
    pub(super) fn read(
        plan: &Plan,
        options: &Options,
        eclipse: &Eclipse,
        progress: &dyn Progress,
    ) -> Result<Inputs, RunError> {
        Inputs::read_with(plan, options, eclipse, progress, None)
    }

    /// The same for a table whose rows are not held, but were surveyed.
    pub(super) fn read_with(
        plan: &Plan,
        options: &Options,
        eclipse: &Eclipse,
        progress: &dyn Progress,
        surveyed: Option<Surveyed>,
    ) -> Result<Inputs, RunError> {
        let mut faults = Faults::default();
        let mut keep = |found: Faults| faults.0.extend(found.0);
        let mut files = Files::default();
        let held = surveyed.is_none();
        let mut resolve = |role: &'static str, path: &Path| {
            let path = plan.resolve(path);
            files.note(role, &path);
            path
        };
        let (sites, survey, around_deg) = match surveyed {
            None => {
                for file in plan.sites.iter().flat_map(|keys| &keys.files) {
                    resolve("sites", file);
                }
                let read = |keys: &SitesKeys| keys.read(plan, eclipse).map_err(&mut keep).ok();
                (plan.sites.as_ref().and_then(read), Survey::default(), 0.0)
            }
            Some(Surveyed { table, survey }) => {
                let survey = survey.map_err(&mut keep).ok();
                // Where rows are wrong it is not known what else there is.
                (survey.is_some().then_some(table), survey.unwrap_or_default(), AROUND_DEG)
            }
        };
        let quarters =
            sites.as_ref().filter(|_| !held).map(|sites| Sites { rows: survey.quarters.clone(), ..sites.clone() });
        let places = quarters.as_ref().or(sites.as_ref());
        if let Some(keys) = &plan.clouds {
            for (role, file) in [("day records", &keys.records), ("clouds", &keys.file)] {
                for file in file {
                    resolve(role, file);
                }
            }
        }
        let clouds = Clouds::read_around(plan, eclipse, places, around_deg).map_err(&mut keep).ok();
        let forecast_paths: Vec<PathBuf> = match (&options.forecast, &plan.clouds) {
            (Some(file), _) => vec![file.clone()],
            (None, Some(keys)) => keys.forecast.iter().map(|f| plan.resolve(f)).collect(),
            (None, None) => Vec::new(),
        };
        forecast_paths.iter().for_each(|path| files.note("forecast", path));
        let none = Clouds::default();
        let forecast = forecast_paths.first().cloned().and_then(|first| {
            let before = clouds.as_ref().unwrap_or(&none);
            let found = before.with_forecast(plan, eclipse, places, around_deg, &forecast_paths);
            found.map_err(&mut keep).ok().map(|clouds| (first, clouds))
        });
        if let Some(horizon) = &plan.terrain.horizon {
            files.note("horizon", &plan.resolve(horizon));
        }
        if let Some(dir) = &plan.terrain.dir {
            files.note("terrain", &plan.resolve(dir));
        }
        let terrain = [&plan.terrain.dir, &plan.terrain.horizon].map(|p| p.as_ref().map(|p| plan.resolve(p)));
        let mut horizons = Horizons::open(terrain[0].as_deref(), terrain[1].as_deref()).map_err(&mut keep).ok();
        if let Some(horizons) = &mut horizons {
            let rays = &mut horizons.options;
            rays.eye_height_m = plan.terrain.eye_height_m.unwrap_or(rays.eye_height_m);
            rays.refraction_coefficient = plan.terrain.refraction_coefficient.unwrap_or(rays.refraction_coefficient);
            rays.farthest_km = plan.terrain.farthest_km.unwrap_or(rays.farthest_km);
        }
        let names: Vec<&str> = sites.iter().flat_map(|s| s.rows.iter().map(|r| r.name.as_str())).collect();
        // Names can only be checked against sites that could be read.
        let drives = plan.fallback.drive_hours.as_ref().filter(|_| sites.is_some()).and_then(|file| {
            let path = plan.resolve(file);
            files.note("drive hours", &path);
            DriveHours::read(&path, &names).map_err(&mut keep).ok()
        });
        let region = plan.search.as_ref().and_then(|s| s.polygon.as_ref()).and_then(|file| {
            let path = plan.resolve(file);
            files.note("search polygon", &path);
            input::polygon::read(&path).map_err(&mut keep).ok()
        });
        let mut roads = None;
        if let Some((keys, file)) = plan.search.as_ref().and_then(|s| Some((s, s.roads.as_ref()?))) {
            let path = plan.resolve(file);
            files.note("roads", &path);
            let near = NearPath::of(eclipse, keys.road_distance_km, progress)?;
            roads = roads::read(&path, keys.road_distance_km, |p| near.contains(p)).map_err(&mut keep).ok();
        }
        let moon_grid = options.moon_grid.clone().or_else(|| plan.moon.grid.as_ref().map(|grid| plan.resolve(grid)));
        let moon = match &moon_grid {
            None => Some(MoonHeights::embedded().clone()),
            Some(path) => {
                files.note("moon grid", path);
                MoonHeights::open(path).map_err(|error| keep(Fault::from(error).into())).ok()
            }
        };
        let named = |name: &str| {
            survey.named.contains(name) || sites.iter().any(|sites| sites.rows.iter().any(|row| row.name == name))
        };
        faults.0.extend(survey.in_columns.0.iter().cloned());
        check_columns(plan, sites.as_ref(), named, &mut faults);
        let base = match places.map(|places| fallback::base::resolve(plan, places, named)) {
            Some(Err(fault)) => {
                faults.0.push(fault);
                None
            }
            found => found.and_then(Result::ok).flatten(),
        };
        faults.or(())?;
        Ok(Inputs {
            sites,
            clouds: clouds.unwrap_or_default(),
            forecast,
            horizons: horizons.unwrap_or(Horizons { terrain: None, survey: None, options: RayOptions::default() }),
            drives,
            region,
            base,
            roads,
            moon: moon.unwrap_or_else(|| MoonHeights::embedded().clone()),
            files,
        })
    }
}
