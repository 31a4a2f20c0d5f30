//! The main job: reads everything a plan names, computes, ranks.
//!
//! In the order of the work: `inputs` (read, all faults at once) and `checks` (do they fit together); `candidates` (what the
//! plan gives) and `found` (what the search adds); `ranking` (looked at, required, scored, put in order); `sureness` (how
//! sure the order is); `notes` (what must be said of it all). `long_table` ranks a table that need
//! not fit into memory. `understood` reads as the job does and ranks nothing. What the steps share is `Trip`.

mod candidates;
mod checks;
mod found;
mod inputs;
mod long_table;
mod notes;
mod ranking;
mod sureness;
mod understood;

pub use long_table::{Lines, LongRanking, run_long, run_longer_than};
pub use understood::{Understood, check};

use std::path::{Path, PathBuf};

use crate::clouds::Clouds;
use crate::criteria::EclipseScale;
use crate::fault::{Fault, Faults};
use crate::forecast;
use crate::input::roads::Roads;
use crate::input::sites::Sites;
use crate::outlook::offer::Offer;
use crate::outlook::skyline::Horizons;
use crate::outlook::totality::TotalityRules;
use crate::plan::Plan;
use crate::progress::Progress;
use crate::rank::{RankedSite, Ranking};
use crate::score::Scorer;
use crate::search;
use candidates::candidates;
use inputs::Inputs;
use noonfall_ephemeris::{DeltaT, GeoPoint, Kernel};
use noonfall_shadow::{Eclipse, EclipseError, Kind, Site};

/// What a caller may lay over the plan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Options {
    /// ΔT in seconds, in place of the plan's.
    pub delta_t_s: Option<f64>,
    /// SPK kernel, in place of the plan's.
    pub kernel: Option<PathBuf>,
    /// Forecast CSV, in place of the plan's.
    pub forecast: Option<PathBuf>,
    /// Grid of the Moon's heights, in place of the plan's.
    pub moon_grid: Option<PathBuf>,
}

/// The result, with what the renderers draw from.
#[derive(Debug)]
pub struct Outcome {
    /// The plan.
    pub plan: Plan,
    /// The eclipse.
    pub eclipse: Eclipse,
    /// The kernel that the ranking used.
    pub kernel: UsedKernel,
    /// The rules by which totality and its window were found.
    pub rules: TotalityRules,
    /// The ranking.
    pub ranking: Ranking,
    /// The cloud data that the ranking used, for a map's cloud layer.
    pub clouds: Clouds,
    /// Terrain and surveyed horizons that the ranking used, for a map's ground.
    pub horizons: Horizons,
    /// Roads that the search kept near to, for a map's lines.
    pub roads: Option<Roads>,
}

/// The ephemeris of a ranking.
#[derive(Debug)]
pub enum UsedKernel {
    /// The embedded one.
    Embedded,
    /// A file's.
    File(Box<Kernel>),
}

impl UsedKernel {
    /// The kernel.
    pub fn get(&self) -> &Kernel {
        match self {
            UsedKernel::Embedded => Kernel::embedded(),
            UsedKernel::File(kernel) => kernel,
        }
    }
}

/// Why there is no ranking.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// Something is wrong with the plan or a file it names.
    #[error(transparent)]
    Faults(#[from] Faults),
    /// The ephemeris cannot serve.
    #[error(transparent)]
    Eclipse(#[from] EclipseError),
    /// The listener wanted to stop.
    #[error("stopped before the end; nothing was written")]
    Stopped,
    /// The lines of a long table could not be kept on disk.
    #[error("the table cannot be put in order in the folder for temporary files ({0}); make room there")]
    Disk(std::io::Error),
}

impl From<Fault> for RunError {
    fn from(fault: Fault) -> RunError {
        RunError::Faults(fault.into())
    }
}

impl From<search::Stopped> for RunError {
    fn from(_: search::Stopped) -> RunError {
        RunError::Stopped
    }
}

/// Reads the plan at a path and does the main job.
///
/// # Errors
/// [`RunError`] with everything that is wrong with the input.
pub fn run(plan_path: &Path, options: &Options, progress: &dyn Progress) -> Result<Outcome, RunError> {
    run_plan(Plan::read(plan_path)?, options, progress)
}

/// Does the main job for a plan already read.
///
/// # Errors
/// As [`run`].
pub fn run_plan(plan: Plan, options: &Options, progress: &dyn Progress) -> Result<Outcome, RunError> {
    let used = kernel(&plan, options)?.map_or(UsedKernel::Embedded, |kernel| UsedKernel::File(Box::new(kernel)));
    let kernel = used.get();
    let eclipse = eclipse(&plan, options, kernel)?;
    let inputs = Inputs::read(&plan, options, &eclipse, progress)?;
    let rules = plan.totality_rules(&eclipse, inputs.moon.clone());
    let scale = EclipseScale { longest_totality_s: longest_totality_s(&eclipse, inputs.sites.as_ref()) };
    let scorer = Scorer::new(&plan, &scale);
    let trip = Trip { plan: &plan, kernel, eclipse: &eclipse, rules: &rules, scorer: &scorer, scale, progress };

    let mut notes = Vec::new();
    let mut candidates = inputs.sites.as_ref().map(|s| candidates(s, &inputs.horizons)).unwrap_or_default();
    let search = match &plan.search {
        Some(_) => {
            let (note, found) = trip.search(&inputs, &candidates)?;
            candidates.extend(found);
            Some(note)
        }
        None => None,
    };
    let ranking = match &inputs.forecast {
        None => trip.ranking(&inputs, &inputs.clouds, candidates, search, &mut notes)?,
        Some((file, clouds)) => {
            let before = trip.ranking(&inputs, &inputs.clouds, candidates.clone(), search.clone(), &mut Vec::new())?;
            let mut after = trip.ranking(&inputs, clouds, candidates, search, &mut notes)?;
            after.forecast = Some(forecast::moves(&name_of(file), &after.method, &before.sites, &after.sites));
            after
        }
    };
    inputs.files.unchanged()?;
    let clouds = inputs.forecast.map_or(inputs.clouds, |(_, clouds)| clouds);
    Ok(Outcome { ranking, eclipse, kernel: used, rules, plan, clouds, horizons: inputs.horizons, roads: inputs.roads })
}

fn name_of(path: &Path) -> String {
    path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()
}

/// The kernel that the caller or the plan names; `None` for the embedded one.
fn kernel(plan: &Plan, options: &Options) -> Result<Option<Kernel>, RunError> {
    let path = options.kernel.clone().or_else(|| plan.eclipse.kernel.as_ref().map(|k| plan.resolve(k)));
    Ok(path.map(|path| Kernel::open(&path)).transpose().map_err(EclipseError::from)?)
}

/// The eclipse of a plan, refused when there is no totality to stand in.
fn eclipse(plan: &Plan, options: &Options, kernel: &Kernel) -> Result<Eclipse, RunError> {
    let fault = |key: &str, wrong: String, right: &str| Fault::of_key(&plan.file, None, key, wrong, right);
    let delta_t = match options.delta_t_s.or(plan.eclipse.delta_t_s) {
        Some(seconds) => Some(DeltaT::given(seconds).map_err(|e| {
            fault("eclipse.delta_t_s", e.to_string(), "give seconds, or leave it out to have it computed")
        })?),
        None => None,
    };
    let date = plan.eclipse.date;
    let eclipse = match Eclipse::on_date(kernel, date, delta_t, &plan.conventions()) {
        Ok(eclipse) => eclipse,
        Err(EclipseError::NoEclipse { date, nearest }) => {
            let near: Vec<String> = nearest.iter().map(|(d, k)| format!("{d} ({k})")).collect();
            let wrong = format!("there is no solar eclipse on {date} (UTC of greatest eclipse)");
            return Err(fault("eclipse.date", wrong, &format!("the nearest are {}", near.join(" and "))).into());
        }
        Err(other) => return Err(other.into()),
    };
    match eclipse.kind() {
        Kind::Total | Kind::Hybrid => Ok(eclipse),
        kind => {
            let wrong = format!("the eclipse of {date} is {kind}: there is no totality to stand in");
            Err(fault("eclipse.date", wrong, "give the date of a total or hybrid eclipse").into())
        }
    }
}

/// The longest totality: at greatest eclipse, or among the sites where the axis misses the Earth.
fn longest_totality_s(eclipse: &Eclipse, sites: Option<&Sites>) -> f64 {
    eclipse.greatest().central_duration_s.unwrap_or_else(|| {
        let rows = sites.map(|s| s.rows.as_slice()).unwrap_or_default();
        rows.iter()
            .map(|r| eclipse.quick(&Site::at_sea_level(GeoPoint { lat_deg: r.lat_deg, lon_deg: r.lon_deg })).duration_s)
            .fold(60.0, f64::max)
    })
}

/// What all steps of the main job share.
struct Trip<'a> {
    plan: &'a Plan,
    kernel: &'a Kernel,
    eclipse: &'a Eclipse,
    rules: &'a TotalityRules,
    scorer: &'a Scorer,
    scale: EclipseScale,
    progress: &'a dyn Progress,
}

impl Outcome {
    /// What there is to see at a site of the ranking; `None` where there is no eclipse.
    pub fn offer(&self, site: &RankedSite) -> Option<Offer> {
        let settings = self.plan.sky.offer_settings();
        site.found.offer(self.kernel.get(), &self.rules, &mut self.rules.solver(), &settings)
    }
}
