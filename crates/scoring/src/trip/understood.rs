//! What a plan and its files were understood to say, without ranking anything.

use std::path::Path;

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::{Phase, Site};

use super::inputs::Inputs;
use super::{Options, RunError, UsedKernel, eclipse, kernel, name_of};
use crate::plan::Plan;
use crate::progress::Progress;
use crate::wording::{figure, kilometres};

/// What was understood: a heading and its lines, in the order of a plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Understood {
    /// What part of the plan the lines speak of.
    pub part: &'static str,
    /// In words.
    pub lines: Vec<String>,
}

/// Reads a plan and everything that it names, as the main job does, and tells what was understood.
///
/// # Errors
/// [`RunError`] with everything that is wrong with the input.
pub fn check(plan_path: &Path, options: &Options, progress: &dyn Progress) -> Result<Vec<Understood>, RunError> {
    let plan = Plan::read(plan_path)?;
    let used = kernel(&plan, options)?.map_or(UsedKernel::Embedded, |kernel| UsedKernel::File(Box::new(kernel)));
    let eclipse = eclipse(&plan, options, used.get())?;
    let inputs = Inputs::read(&plan, options, &eclipse, progress)?;
    let mut told = vec![Understood {
        part: "Eclipse",
        lines: vec![
            format!("{} solar eclipse of {} (UTC date of greatest eclipse).", eclipse.kind(), eclipse.date()),
            format!(
                "Ephemeris: {}. ΔT {:.2} s, {}.",
                eclipse.kernel(),
                eclipse.delta_t().seconds,
                eclipse.delta_t().origin
            ),
            format!("The Moon's edge: {}.", inputs.moon.source()),
        ],
    }];
    let total =
        |lat_deg, lon_deg| eclipse.quick(&Site::at_sea_level(GeoPoint { lat_deg, lon_deg })).phase == Phase::Total;
    told.push(Understood { part: "Places", lines: places(&plan, &inputs, total) });
    told.push(Understood { part: "Clouds", lines: clouds(&inputs) });
    told.push(Understood { part: "Ground", lines: ground(&inputs) });
    told.push(Understood { part: "Score", lines: score(&plan) });
    told.push(Understood { part: "Fallback", lines: fallback(&plan, &inputs) });
    let files = inputs.files.told.iter().map(|file| format!("{}: {}", file.role, file.file));
    told.push(Understood { part: "Files read", lines: files.collect() });
    Ok(told)
}

fn places(plan: &Plan, inputs: &Inputs, total: impl Fn(f64, f64) -> bool) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(sites) = &inputs.sites {
        let inside = sites.rows.iter().filter(|row| total(row.lat_deg, row.lon_deg)).count();
        lines.push(format!(
            "{} places; {inside} inside the path of a smooth Moon, {} outside.",
            sites.rows.len(),
            sites.rows.len() - inside
        ));
        let with =
            |known: fn(&crate::input::sites::SiteRow) -> bool| sites.rows.iter().filter(|row| known(row)).count();
        lines.push(format!(
            "Heights are given for {}, time zones for {}; the others are looked up.",
            with(|row| row.elevation_m.is_some()),
            with(|row| row.zone.is_some())
        ));
        if !sites.columns.is_empty() {
            lines.push(format!("Further columns: {}.", sites.columns.join(", ")));
        }
    }
    if let Some(search) = &plan.search {
        let polygon = search.polygon.as_ref().map_or_else(String::new, |file| format!(", inside {}", name_of(file)));
        lines.push(format!(
            "The path is searched every {} km for {} places at least {} apart{polygon}.",
            search.spacing_km,
            search.best,
            kilometres(search.apart_km)
        ));
    }
    if let Some(roads) = &inputs.roads {
        lines.push(format!("Roads: {} pieces near the path, in {}.", roads.pieces(), name_of(Path::new(roads.file()))));
    }
    lines
}

fn clouds(inputs: &Inputs) -> Vec<String> {
    let mut lines: Vec<String> =
        inputs.clouds.sources().iter().map(|source| format!("{}.", source.describe())).collect();
    lines.extend(inputs.clouds.sources().iter().filter_map(|source| source.doubt()).map(str::to_owned));
    if let Some((file, _)) = &inputs.forecast {
        lines.push(format!("Forecast: {}, before the climatology where it reaches.", name_of(file)));
    }
    if lines.is_empty() {
        lines.push("None named: nothing would be known of the weather.".to_owned());
    }
    lines
}

fn ground(inputs: &Inputs) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(terrain) = &inputs.horizons.terrain {
        lines.push(format!("Terrain: {}, finest step {:.5}°.", terrain.source(), terrain.finest_step_deg()));
        let told = terrain.told();
        lines.extend(told.notes);
        lines.extend(told.warnings);
    }
    if inputs.horizons.survey.is_some() {
        lines.push("Surveyed skylines are given.".to_owned());
    }
    if lines.is_empty() {
        lines.push("No terrain and no surveyed skyline: horizons would be taken as level.".to_owned());
    }
    lines
}

fn score(plan: &Plan) -> Vec<String> {
    let mut lines: Vec<String> =
        plan.weights.iter().map(|w| format!("{}: weight {}.", w.criterion, figure(w.weight))).collect();
    lines.extend(plan.requirements.iter().map(|r| {
        let bound = match (r.at_least, r.at_most) {
            (Some(least), _) => format!("at least {}", figure(least)),
            (_, Some(most)) => format!("at most {}", figure(most)),
            _ => "known".to_owned(),
        };
        format!("{}: required, {bound}.", r.criterion)
    }));
    lines
}

fn fallback(plan: &Plan, inputs: &Inputs) -> Vec<String> {
    let keys = &plan.fallback;
    let base = match (&keys.base, &inputs.base) {
        (_, Some(base)) => {
            format!("Base: {}, {:.4}, {:.4}, none of the places.", base.name, base.point.lat_deg, base.point.lon_deg)
        }
        (Some(name), None) => format!("Base: {name}, one of the places."),
        (None, None) => "Base: the best place.".to_owned(),
    };
    let drives = match &inputs.drives {
        Some(drives) => format!(
            "Drives of up to {} h: {} hours given in {}.",
            keys.limit_hours,
            drives.len(),
            name_of(Path::new(&drives.file))
        ),
        None => format!("Drives of up to {} h, estimated by land.", keys.limit_hours),
    };
    vec![base, drives, format!("Departures allow for drives {} times as long as on free roads.", keys.traffic)]
}
