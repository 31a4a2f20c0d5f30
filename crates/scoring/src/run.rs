//! The main job: reads everything a plan names, computes, ranks.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use noonfall_ephemeris::{DeltaT, GeoPoint, Kernel};
use noonfall_shadow::moon_edge::MoonHeights;
use noonfall_shadow::{Eclipse, EclipseError, Kind, Phase, Site};
use rayon::prelude::*;

use crate::assess::{self, Assessed, Candidate, assess};
use crate::clouds::{Clouds, SolarTime};
use crate::contact_times::{Clocks, rounded};
use crate::criteria::EclipseScale;
use crate::fallback::{self, Drives, Fallback, JointChance, Place};
use crate::fault::{Fault, Faults};
use crate::grid::{self, Ground, Search, SearchEdge};
use crate::input::drive_hours::DriveHours;
use crate::input::sites::{Cell, Sites};
use crate::land::{self, Land, Region};
use crate::outlook::offer::{Offer, OfferPlace, OfferSettings, offer};
use crate::outlook::skyline::{Horizons, RayOptions};
use crate::outlook::totality::{EdgeShown, TotalityRules};
use crate::outlook::true_limit::true_limit_near;
use crate::outlook::window::NoWindow;
use crate::outlook::words::limits::near_true_limit;
use crate::plan::{MissingPair, Plan};
use crate::progress::Progress;
use crate::provenance::{InputFile, Provenance};
use crate::rank::{
    self, DeltaTNote, FallbackNote, FallbackPlan, Method, Pair, ParetoFront, RankedSite, Ranking, RequirementTally,
    RobustnessNote, SearchNote, Sensitivity,
};
use crate::robustness::{self, DELTA_T_NODES, Uncertain};
use crate::score::Scorer;
use crate::{compare, criteria, forecast, input, pareto, places, sensitivity, wording, zone};

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
}

impl From<Fault> for RunError {
    fn from(fault: Fault) -> RunError {
        RunError::Faults(fault.into())
    }
}

impl From<grid::Stopped> for RunError {
    fn from(_: grid::Stopped) -> RunError {
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
    let inputs = Inputs::read(&plan, options, &eclipse)?;
    let rules = plan.totality_rules(&eclipse, inputs.moon.clone());
    let scale = EclipseScale { longest_totality_s: longest_totality_s(&eclipse, inputs.sites.as_ref()) };
    let scorer = Scorer::new(&plan, &scale);
    let job = Job { plan: &plan, kernel, eclipse: &eclipse, rules: &rules, scorer: &scorer, scale, progress };

    let mut notes = Vec::new();
    let mut candidates = inputs.sites.as_ref().map(|s| candidates(s, &inputs.horizons)).unwrap_or_default();
    let search = match &plan.search {
        Some(_) => {
            let (note, found) = job.search(&inputs, &candidates)?;
            candidates.extend(found);
            Some(note)
        }
        None => None,
    };
    let ranking = match &inputs.forecast {
        None => job.ranking(&inputs, &inputs.clouds, candidates, search, &mut notes)?,
        Some((file, clouds)) => {
            let before = job.ranking(&inputs, &inputs.clouds, candidates.clone(), search.clone(), &mut Vec::new())?;
            let mut after = job.ranking(&inputs, clouds, candidates, search, &mut notes)?;
            after.forecast = Some(forecast::moves(&name_of(file), &before.sites, &after.sites));
            after
        }
    };
    let clouds = inputs.forecast.map_or(inputs.clouds, |(_, clouds)| clouds);
    Ok(Outcome { ranking, eclipse, kernel: used, rules, plan, clouds })
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

/// Everything a plan names, read.
struct Inputs {
    sites: Option<Sites>,
    clouds: Clouds,
    forecast: Option<(PathBuf, Clouds)>,
    horizons: Horizons,
    drives: Option<DriveHours>,
    region: Option<Region>,
    moon: MoonHeights,
    files: Vec<InputFile>,
}

impl Inputs {
    fn read(plan: &Plan, options: &Options, eclipse: &Eclipse) -> Result<Inputs, Faults> {
        let mut faults = Faults::default();
        let mut keep = |found: Faults| faults.0.extend(found.0);
        let mut files = Vec::new();
        let mut resolve = |role: &'static str, path: &Path| {
            let path = plan.resolve(path);
            files.push(InputFile::of(role, &path));
            path
        };
        for file in plan.sites.iter().flat_map(|keys| &keys.files) {
            resolve("sites", file);
        }
        let sites = plan.sites.as_ref().and_then(|keys| keys.read(plan, eclipse).map_err(&mut keep).ok());
        if let Some(keys) = &plan.clouds {
            for (role, file) in [("day records", &keys.records), ("clouds", &keys.file)] {
                for file in file {
                    resolve(role, file);
                }
            }
        }
        let clouds = Clouds::read(plan, eclipse, sites.as_ref()).map_err(&mut keep).ok();
        let forecast_paths: Vec<PathBuf> = match (&options.forecast, &plan.clouds) {
            (Some(file), _) => vec![file.clone()],
            (None, Some(keys)) => keys.forecast.iter().map(|f| plan.resolve(f)).collect(),
            (None, None) => Vec::new(),
        };
        files.extend(forecast_paths.iter().map(|path| InputFile::of("forecast", path)));
        let none = Clouds::default();
        let forecast = forecast_paths.first().cloned().and_then(|first| {
            let before = clouds.as_ref().unwrap_or(&none);
            let found = before.with_forecast(plan, eclipse, sites.as_ref(), &forecast_paths);
            found.map_err(&mut keep).ok().map(|clouds| (first, clouds))
        });
        if let Some(horizon) = &plan.terrain.horizon {
            files.push(InputFile::of("horizon", &plan.resolve(horizon)));
        }
        if let Some(dir) = &plan.terrain.dir {
            files.push(InputFile::of("terrain", &plan.resolve(dir)));
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
            files.push(InputFile::of("drive hours", &path));
            DriveHours::read(&path, &names).map_err(&mut keep).ok()
        });
        let region = plan.search.as_ref().and_then(|s| s.polygon.as_ref()).and_then(|file| {
            let path = plan.resolve(file);
            files.push(InputFile::of("search polygon", &path));
            input::polygon::read(&path).map_err(&mut keep).ok()
        });
        let moon_grid = options.moon_grid.clone().or_else(|| plan.moon.grid.as_ref().map(|grid| plan.resolve(grid)));
        let moon = match &moon_grid {
            None => Some(MoonHeights::embedded().clone()),
            Some(path) => {
                files.push(InputFile::of("moon grid", path));
                MoonHeights::open(path).map_err(|error| keep(Fault::from(error).into())).ok()
            }
        };
        check_columns(plan, sites.as_ref(), &mut faults);
        faults.or(())?;
        Ok(Inputs {
            sites,
            clouds: clouds.unwrap_or_default(),
            forecast,
            horizons: horizons.unwrap_or(Horizons { terrain: None, survey: None, options: RayOptions::default() }),
            drives,
            region,
            moon: moon.unwrap_or_else(|| MoonHeights::embedded().clone()),
            files,
        })
    }
}

/// Whether the columns that a plan speaks of exist and hold numbers.
fn check_columns(plan: &Plan, sites: Option<&Sites>, faults: &mut Faults) {
    let empty = Sites::default();
    let Some(sites) = sites.or((plan.search.is_some() && plan.sites.is_none()).then_some(&empty)) else { return };
    let known: Vec<&str> =
        criteria::BUILT_IN.iter().map(|c| c.name).chain(sites.columns.iter().map(String::as_str)).collect();
    let asked = plan
        .weights
        .iter()
        .map(|w| (format!("weights.{}", w.criterion), &w.criterion, w.line))
        .chain(plan.requirements.iter().map(|r| (format!("require.{}", r.key), &r.criterion, r.line)))
        .chain(plan.wishes.iter().map(|(name, w)| (format!("wish.{name}"), name, w.line)));
    for (key, name, line) in asked {
        if criteria::built_in(name).is_some() {
            continue;
        }
        let Some(column) = sites.column(name) else {
            let right = match crate::plan::nearest(name, known.iter().copied()) {
                Some(near) => format!("did you mean {near}? Known: {}", known.join(", ")),
                None => format!("known: {}", known.join(", ")),
            };
            let wrong = format!("{name} is neither a criterion nor a column of the sites");
            faults.0.push(Fault::of_key(&plan.file, line, key, wrong, right));
            continue;
        };
        for row in &sites.rows {
            if let Cell::Text(text) = &row.cells[column] {
                let wrong = format!("\"{text}\" is not a number, and the plan uses the column in {key}");
                faults.0.push(row.spot.fault(&sites.file, name, wrong, "give a number or leave it empty"));
            }
        }
    }
    if plan.search.is_some() {
        for weight in plan.weights.iter().filter(|w| w.weight > 0.0 && !grid::can_score(&w.criterion)) {
            if plan.wishes.get(&weight.criterion).is_none_or(|w| w.missing.is_none()) {
                let right = format!(
                    "say in wish.{}.missing what a searched place is worth there (0 to 1), or set the weight to 0",
                    weight.criterion
                );
                let wrong = format!("places found by [search] have no {}", weight.criterion);
                let key = format!("weights.{}", weight.criterion);
                faults.0.push(Fault::of_key(&plan.file, weight.line, key, wrong, right));
            }
        }
    }
    let named = |name: &str| sites.rows.iter().any(|r| r.name == name);
    if let Some(base) = plan.fallback.base.as_deref().filter(|b| !named(b)) {
        let near = crate::plan::nearest(base, sites.rows.iter().map(|r| r.name.as_str()));
        let right = near.map_or("give the name of a site".to_string(), |n| format!("did you mean {n}?"));
        let wrong = format!("\"{base}\" is not one of the sites");
        faults.0.push(Fault::of_key(&plan.file, plan.fallback.base_line, "fallback.base", wrong, right));
    }
    if let Some((one, other)) = &plan.output.compare {
        for name in [one, other].into_iter().filter(|n| !named(n)) {
            let near = crate::plan::nearest(name, sites.rows.iter().map(|r| r.name.as_str()));
            let right = near.map_or("give the name of a site".to_string(), |n| format!("did you mean {n}?"));
            let wrong = format!("\"{name}\" is not one of the sites");
            faults.0.push(Fault::of_key(&plan.file, None, "output.compare", wrong, right));
        }
    }
}

/// The sites of a table as candidates.
fn candidates(sites: &Sites, horizons: &Horizons) -> Vec<Candidate> {
    sites
        .rows
        .par_iter()
        .map(|row| {
            let (mut columns, mut texts) = (BTreeMap::new(), BTreeMap::new());
            for (name, cell) in sites.columns.iter().zip(&row.cells) {
                match cell {
                    Cell::Number(x) => drop(columns.insert(name.clone(), *x)),
                    Cell::Text(t) => drop(texts.insert(name.clone(), t.clone())),
                    Cell::Empty => {}
                }
            }
            let point = GeoPoint { lat_deg: row.lat_deg, lon_deg: row.lon_deg };
            let (elevation_m, elevation_source, height_known) = elevation(row.elevation_m, point, horizons);
            Candidate {
                name: row.name.clone(),
                site: Site { lat_deg: row.lat_deg, lon_deg: row.lon_deg, elevation_m },
                elevation_source,
                height_known,
                zone: row.zone.or_else(|| zone::zone_at(point)),
                columns,
                texts,
                found_by_search: false,
            }
        })
        .collect()
}

/// The elevation of a place, its source and whether it is known: the table's, else the terrain's, else sea level, which is
/// said and not known.
fn elevation(given: Option<f64>, point: GeoPoint, horizons: &Horizons) -> (f64, String, bool) {
    match given {
        Some(m) => (m, "sites table".to_string(), true),
        None => match horizons.site_elevation(point.lat_deg, point.lon_deg) {
            Ok(Some((m, source))) => (m, source, true),
            Ok(None) => (0.0, "sea level taken: no elevation is given".to_string(), false),
            Err(gap) => (0.0, format!("sea level taken: {gap}"), false),
        },
    }
}

/// What there is to see at a site of a ranking.
pub fn offer_at(rules: &TotalityRules, kernel: &Kernel, site: &RankedSite) -> Option<Offer> {
    let zone = site.tz.unwrap_or(chrono_tz::UTC);
    // A place that was too far down the table to be asked gets no window.
    let unasked = Err(NoWindow::NotAsked);
    let decision = site.decision.as_ref().unwrap_or(&unasked);
    let place = OfferPlace { site: &site.site, zone, totality: &site.totality, decision };
    offer(kernel, rules, &mut rules.solver(), &place, &OfferSettings::default())
}

/// Beyond so many candidates the Moon's edge is read from a lattice of profiles, within 0.02 s of asking one by one.
const MOST_ONE_BY_ONE: usize = 2000;

/// For so many places of the table, from the top, the window for unaided eyes is decided.
const MOST_WINDOWS: usize = 2000;

/// What all steps of the job share.
struct Job<'a> {
    plan: &'a Plan,
    kernel: &'a Kernel,
    eclipse: &'a Eclipse,
    rules: &'a TotalityRules,
    scorer: &'a Scorer,
    scale: EclipseScale,
    progress: &'a dyn Progress,
}

impl Job<'_> {
    /// Searches the path and names what it found.
    fn search(&self, inputs: &Inputs, given: &[Candidate]) -> Result<(SearchNote, Vec<Candidate>), RunError> {
        let Some(keys) = &self.plan.search else { return Err(RunError::Stopped) };
        let ground = match &inputs.region {
            Some(region) => Ground::Region(region),
            None => Ground::Land(Land::shipped()),
        };
        // A forecast reaches some places only; the search always weighs by the climatology.
        let lattice = self.rules.lattice();
        let edge = (self.rules.edge_shown() == EdgeShown::True)
            .then_some(SearchEdge { lattice: &lattice, settings: *self.rules.edge() });
        let search = Search {
            eclipse: self.eclipse,
            edge,
            scorer: self.scorer,
            requirements: &self.plan.requirements,
            clouds: &inputs.clouds,
            ground,
            spacing_km: keys.spacing_km,
            best: keys.best,
            apart_km: keys.apart_km,
        };
        let outcome = grid::search(&search, self.progress)?;
        let region = keys.polygon.as_ref().map_or("land".to_string(), |p| name_of(p));
        if outcome.found.is_empty() {
            let (key, wrong, right) = if outcome.in_path == 0 && keys.polygon.is_some() {
                ("search.polygon", format!("no grid point of {region} lies inside the path"), "draw it over the path")
            } else if outcome.in_path == 0 {
                ("search.spacing_km", "no grid point on land lies inside the path".into(), "make the spacing finer")
            } else {
                (
                    "search",
                    format!(
                        "none of {} grid points inside the path meets the requirements and has all figures",
                        outcome.in_path
                    ),
                    "relax [require], or give clouds that cover the path",
                )
            };
            return Err(Fault::of_key(&self.plan.file, keys.line, key, wrong, right).into());
        }
        let mut words = format!(
            "{} places at least {} km apart, from {} grid points {} km apart in the path over {region}",
            outcome.found.len(),
            keys.apart_km,
            outcome.in_path,
            keys.spacing_km
        );
        if outcome.found.len() < keys.best {
            words.push_str(&format!("; {} were asked for, the path holds no more", keys.best));
        }
        words.push('.');
        let left_out = grid::left_out(self.scorer);
        if !left_out.is_empty() {
            words.push_str(&format!(" The search does not weigh {}.", left_out.join(", ")));
        }
        let note = SearchNote {
            spacing_km: keys.spacing_km,
            region,
            points: outcome.points,
            in_path: outcome.in_path,
            eligible: outcome.eligible,
            asked: keys.best,
            found: outcome.found.len(),
            apart_km: keys.apart_km,
            words,
        };
        let mut names: std::collections::HashSet<String> = given.iter().map(|c| c.name.clone()).collect();
        let found = outcome.found.iter().map(|f| {
            let title = places::nearest_town(f.point)
                .map_or_else(|| format!("{:.2}, {:.2}", f.point.lat_deg, f.point.lon_deg), |t| t.words());
            let mut name = title.clone();
            let mut number = 2;
            while !names.insert(name.clone()) {
                name = format!("{title} ({number})");
                number += 1;
            }
            let (elevation_m, elevation_source, height_known) = elevation(None, f.point, &inputs.horizons);
            Candidate {
                name,
                site: Site { lat_deg: f.point.lat_deg, lon_deg: f.point.lon_deg, elevation_m },
                elevation_source,
                height_known,
                zone: zone::zone_at(f.point),
                columns: BTreeMap::new(),
                texts: BTreeMap::new(),
                found_by_search: true,
            }
        });
        let found = found.collect();
        Ok((note, found))
    }

    /// Looks at all candidates and ranks them.
    fn ranking(
        &self,
        inputs: &Inputs,
        clouds: &Clouds,
        candidates: Vec<Candidate>,
        search: Option<SearchNote>,
        notes: &mut Vec<String>,
    ) -> Result<Ranking, RunError> {
        let path = self.eclipse.path(60.0);
        let lattice = (candidates.len() > MOST_ONE_BY_ONE).then(|| self.rules.lattice());
        self.progress.begin("Looking at the sites", candidates.len() as u64);
        // Neighbours one after the other, so that they find the terrain of the one before still in memory.
        let mut numbered: Vec<(usize, Candidate)> = candidates.into_iter().enumerate().collect();
        if inputs.horizons.terrain.is_some() {
            let strip = |c: &Candidate| (c.site.lat_deg * 4.0).floor();
            numbered.sort_by(|(_, a), (_, b)| {
                strip(a).total_cmp(&strip(b)).then(a.site.lon_deg.total_cmp(&b.site.lon_deg))
            });
        }
        let mut numbered: Vec<(usize, Assessed)> = numbered
            .into_par_iter()
            .map(|(number, candidate)| {
                if self.progress.cancelled() {
                    return Err(RunError::Stopped);
                }
                let assessed = assess(
                    self.rules,
                    lattice.as_ref(),
                    &path,
                    clouds,
                    &inputs.horizons,
                    self.plan.terrain.thin_margin_deg,
                    candidate,
                );
                self.progress.advance(1);
                Ok((number, assessed))
            })
            .collect::<Result<_, RunError>>()?;
        numbered.sort_by_key(|(number, _)| *number);
        let mut assessed: Vec<Assessed> = numbered.into_iter().map(|(_, assessed)| assessed).collect();
        let tallies = self.require(&mut assessed);
        let utilities: Vec<Vec<Option<f64>>> = assessed.iter().map(|a| self.scorer.utilities(&a.conditions)).collect();
        for (a, u) in assessed.iter_mut().zip(&utilities) {
            if a.rejected.is_empty() {
                a.rejected = self.scorer.gaps(u);
                if let (false, Some(gap)) = (a.rejected.is_empty(), &a.cloud_gap) {
                    a.rejected.push(gap.clone());
                }
            }
        }
        let scores: Vec<Option<f64>> =
            assessed.iter().zip(&utilities).map(|(a, u)| a.rejected.is_empty().then(|| self.scorer.score(u))).collect();
        let order = rank::order(&assessed, &scores);
        let ranked = scores.iter().flatten().count();
        if ranked == 0 {
            return Err(self.nobody_left(&assessed, &tallies));
        }
        self.decide(&mut assessed, &order);
        let order: Vec<&Assessed> = order.into_iter().map(|i| &assessed[i]).collect();
        let mut sites: Vec<RankedSite> = order
            .iter()
            .enumerate()
            .map(|(i, a)| rank::ranked_site(a, self.scorer, self.rules, (i < ranked).then_some(i + 1)))
            .collect();
        let inside = &order[..ranked];
        let robustness = self.robustness(inside, &mut sites);
        let pareto = self.pareto(inside, &mut sites);
        let sensitivity = self.sensitivity(inside);
        let fallback = self.fallback(&order, ranked, inputs, &mut sites)?;
        let side_by_side = compare::pair(
            &sites,
            self.plan.output.compare.as_ref(),
            self.plan.output.low_sun_below_deg,
            self.plan.output.high_sun_above_deg,
        )
        .map(|(low, high)| {
            let offers = [self.offer(low), self.offer(high)];
            compare::side_by_side([low, high], [offers[0].as_ref(), offers[1].as_ref()], &self.scale)
        });
        let delta_t = self.eclipse.delta_t();
        let utc_is_predicted = self.eclipse.greatest().tt.utc_is_predicted();
        let invented = clouds.invented() || inputs.drives.as_ref().is_some_and(|d| d.invented);
        self.notes(notes, invented, utc_is_predicted, clouds);
        if ranked > fallback::MOST_PLACES {
            notes.push(format!("Fallbacks are looked for among the best {} sites.", fallback::MOST_PLACES));
        }
        if ranked > robustness::MOST_SITES {
            notes.push(format!("Only the best {} sites take part in the draws.", robustness::MOST_SITES));
        }
        Ok(Ranking {
            plan: self.plan.name(),
            title: self.plan.output.title.clone(),
            group: self.plan.output.group.clone(),
            eclipse: self.eclipse.date().to_string(),
            kind: self.eclipse.kind().to_string(),
            delta_t_s: rounded(delta_t.seconds, 3),
            delta_t: DeltaTNote {
                seconds: rounded(delta_t.seconds, 3),
                sigma_s: rounded(delta_t.sigma_s, 3),
                origin: delta_t.origin.clone(),
                sigma_shift_km: rounded(delta_t.shift_km(self.eclipse.greatest().point.lat_deg), 3),
            },
            utc_is_predicted,
            method: Method::of(self.scorer, self.plan.score.profile.clone()),
            requirements: tallies,
            sites,
            robustness,
            sensitivity,
            pareto,
            fallback,
            search,
            forecast: None,
            side_by_side,
            notes: std::mem::take(notes),
            provenance: Provenance {
                program: "noonfall",
                version: env!("CARGO_PKG_VERSION"),
                plan_sha256: self.plan.sha256.clone(),
                inputs: inputs.files.clone(),
                ephemeris: self.eclipse.kernel().to_string(),
                delta_t: delta_t.origin.clone(),
                data: vec![
                    format!("Ephemeris: {}", self.eclipse.kernel()),
                    format!("Delta T: {}", delta_t.origin),
                    format!("Moon's edge: {}", self.rules.heights().source()),
                    format!("Time-zone boundaries: {}", zone::data_version()),
                    places::DATA.to_string(),
                    land::DATA.to_string(),
                ],
                invented,
                credits: vec![
                    places::CREDIT.to_string(),
                    zone::CREDIT.to_string(),
                    "Base map: Natural Earth".to_string(),
                ],
            },
        })
    }

    fn offer(&self, site: &RankedSite) -> Option<Offer> {
        offer_at(self.rules, self.kernel, site)
    }

    /// Decides the window of the first places of the table; the rest is told to ask for itself.
    fn decide(&self, assessed: &mut [Assessed], order: &[usize]) {
        let asked: std::collections::HashSet<usize> = order.iter().take(MOST_WINDOWS).copied().collect();
        assessed.par_iter_mut().enumerate().filter(|(i, _)| asked.contains(i)).for_each(|(_, a)| {
            let c = &a.candidate;
            let mut solver = self.rules.solver();
            let decision = self.rules.decide(&mut solver, &c.site, c.height_known, &a.totality, a.skyline.as_ref());
            let near = true_limit_near(self.rules, &mut solver, &a.totality, &c.site);
            a.warnings.extend(near.iter().map(near_true_limit));
            a.decision = Some(decision);
        });
    }

    /// Applies the hard requirements to every place inside the path.
    fn require(&self, assessed: &mut [Assessed]) -> Vec<RequirementTally> {
        let mut tallies: Vec<RequirementTally> = self
            .plan
            .requirements
            .iter()
            .map(|r| RequirementTally {
                key: r.key.clone(),
                value: r.at_least.or(r.at_most).unwrap_or(0.0),
                removed: 0,
                of: 0,
            })
            .collect();
        for a in assessed.iter_mut().filter(|a| a.rejected.is_empty()) {
            tallies.iter_mut().for_each(|t| t.of += 1);
            for (index, reason) in assess::unmet(&self.plan.requirements, &a.conditions) {
                tallies[index].removed += 1;
                a.rejected.push(reason);
            }
        }
        tallies
    }

    /// Why no candidate is left: every requirement with what it removes, and the best value there is.
    fn nobody_left(&self, assessed: &[Assessed], tallies: &[RequirementTally]) -> RunError {
        let plan = self.plan;
        let inside: Vec<&Assessed> = assessed
            .iter()
            .filter(|a| a.local().phase == Phase::Total && a.local().sun_up_in_central_phase())
            .collect();
        let mut faults = Faults::default();
        if inside.is_empty() {
            let key = match &plan.sites {
                Some(keys) if !keys.files.is_empty() => "sites.file",
                Some(_) => "sites.towns",
                None => "search",
            };
            let wrong = format!("none of the {} candidates sees totality", assessed.len());
            let line = plan.sites.as_ref().and_then(|s| s.line);
            faults.0.push(Fault::of_key(
                &plan.file,
                line,
                key,
                wrong,
                "give places inside the path, or a table [search]",
            ));
            return faults.into();
        }
        for (tally, requirement) in tallies.iter().zip(&plan.requirements).filter(|(t, _)| t.removed > 0) {
            let values = inside.iter().filter_map(|a| criteria::value(&requirement.criterion, &a.conditions));
            let best = match requirement.at_least {
                Some(_) => values.max_by(f64::total_cmp),
                None => values.min_by(f64::total_cmp),
            };
            let wrong = format!(
                "it removes {} of the {} candidates inside the path, and none is left",
                tally.removed, tally.of
            );
            let right = match best {
                Some(best) => format!("relax it; the best value among them is {}", rounded(best, 2)),
                None => "give the data it asks for, or take it out".to_string(),
            };
            faults.0.push(Fault::of_key(&plan.file, requirement.line, format!("require.{}", tally.key), wrong, right));
        }
        if faults.0.is_empty() {
            let reasons = inside.first().map(|a| a.rejected.join("; ")).unwrap_or_default();
            let wrong = format!("no candidate inside the path can be scored ({reasons})");
            let right = "give the data it needs, or set the weight to 0";
            faults.0.push(Fault::of_key(&plan.file, None, "weights", wrong, right));
        }
        faults.into()
    }

    fn robustness(&self, inside: &[&Assessed], sites: &mut [RankedSite]) -> RobustnessNote {
        let keys = &self.plan.robustness;
        let sigma = self.eclipse.delta_t().sigma_s;
        let shifted: Vec<Eclipse> = DELTA_T_NODES
            .iter()
            .map(|node| {
                let mut delta_t = self.eclipse.delta_t().clone();
                delta_t.seconds += node * sigma;
                self.eclipse.with_delta_t(delta_t)
            })
            .collect();
        let part = &inside[..inside.len().min(robustness::MOST_SITES)];
        let uncertain: Vec<Uncertain> = part
            .par_iter()
            .map(|a| {
                // How ΔT changes totality is the smooth Moon's; how long it is, the edge's that is shown.
                let of_edge_s = a.conditions.totality_s - a.totality.smooth.duration_s;
                let mut totality_s = [0.0; DELTA_T_NODES.len()];
                for (slot, eclipse) in totality_s.iter_mut().zip(&shifted) {
                    let q = eclipse.quick(&a.candidate.site);
                    *slot = if q.phase == Phase::Total { (q.duration_s + of_edge_s).max(0.0) } else { 0.0 };
                }
                Uncertain { conditions: a.conditions.clone(), clear_sky: a.cloud.as_ref().map(|c| c.beta), totality_s }
            })
            .collect();
        let drawn = robustness::draw(self.scorer, &uncertain, keys);
        for (site, standing) in sites.iter_mut().zip(&drawn.standings) {
            site.rank_low = Some(standing.rank_low);
            site.rank_high = Some(standing.rank_high);
            site.chance_first = Some(rounded(standing.first, 4));
            site.chance_top_three = Some(rounded(standing.top_three, 4));
        }
        let name = |i: usize| part[i].candidate.name.clone();
        // All neighbours are told of the first ten only: further down the words would bury the ones that matter.
        let pairs = drawn.duels.iter().filter(|d| d.upper < 10).map(|d| Pair {
            upper: name(d.upper),
            lower: name(d.lower),
            chance: rounded(d.chance, 4),
            told_apart: d.chance >= robustness::TOLD_APART,
            words: robustness::words(&name(d.upper), &name(d.lower), d.chance),
        });
        RobustnessNote {
            draws: keys.draws,
            seed: keys.seed,
            weight_spread: keys.weight_spread,
            delta_t_sigma_s: rounded(sigma, 3),
            interval: keys.interval,
            sites: part.len(),
            pairs: pairs.collect(),
        }
    }

    fn pareto(&self, inside: &[&Assessed], sites: &mut [RankedSite]) -> ParetoFront {
        /// Most dominating sites named for one site.
        const NAMED: usize = 3;
        let weighted: Vec<Vec<f64>> = inside
            .iter()
            .map(|a| {
                let utilities = self.scorer.utilities(&a.conditions);
                let terms = self.scorer.terms.iter().zip(utilities).filter(|(t, _)| t.weight > 0.0);
                terms.map(|(_, u)| u.unwrap_or(0.0)).collect()
            })
            .collect();
        for (i, by) in pareto::dominated_by(&weighted, NAMED).into_iter().enumerate() {
            sites[i].dominated_by = by.into_iter().map(|j| inside[j].candidate.name.clone()).collect();
        }
        let axes: Vec<Vec<f64>> = inside
            .iter()
            .map(|a| {
                vec![a.conditions.totality_s, a.conditions.clear_sky.unwrap_or(0.0), a.conditions.sun_altitude_deg]
            })
            .collect();
        let by = pareto::dominated_by(&axes, 1);
        let front = inside.iter().zip(&by).filter(|(_, by)| by.is_empty()).map(|(a, _)| a.candidate.name.clone());
        ParetoFront { axes: ["totality_s", "clear_sky_probability", "sun_altitude_deg"], front: front.collect() }
    }

    fn sensitivity(&self, inside: &[&Assessed]) -> Vec<Sensitivity> {
        /// Only the best can be rivals that matter; this many are held against each site.
        const RIVALS: usize = 1000;
        let part = &inside[..inside.len().min(RIVALS)];
        let all: Vec<Vec<Option<f64>>> = part.iter().map(|a| self.scorer.utilities(&a.conditions)).collect();
        // A criterion of weight 0 may lack values; only one that every rival has can be given more weight.
        let known: Vec<usize> = (0..self.scorer.terms.len()).filter(|&i| all.iter().all(|u| u[i].is_some())).collect();
        let utilities: Vec<Vec<f64>> =
            all.iter().map(|u| known.iter().map(|&i| u[i].unwrap_or(0.0)).collect()).collect();
        let names: Vec<String> = known.iter().map(|&i| self.scorer.terms[i].name.clone()).collect();
        let weights: Vec<f64> = known.iter().map(|&i| self.scorer.terms[i].weight).collect();
        (1..part.len().min(4))
            .map(|i| {
                let site = part[i].candidate.name.clone();
                let mut change = sensitivity::smallest_change(self.scorer.mean, &names, &weights, &utilities, i);
                if let Some(change) = &mut change {
                    change.to = rounded(change.to, 4);
                    change.factor = change.factor.map(|f| rounded(f, 4));
                }
                let words = sensitivity::words(&site, change.as_ref());
                Sensitivity { site, rank: i + 1, change, words }
            })
            .collect()
    }

    /// Fallbacks of the base, of every ranked site, and the best pair.
    fn fallback(
        &self,
        order: &[&Assessed],
        ranked: usize,
        inputs: &Inputs,
        sites: &mut [RankedSite],
    ) -> Result<Option<FallbackPlan>, RunError> {
        let keys = &self.plan.fallback;
        let drives = Drives { matrix: inputs.drives.as_ref(), keys };
        let mut part: Vec<&Assessed> = order[..ranked.min(fallback::MOST_PLACES)].to_vec();
        let base = match &keys.base {
            None => 0,
            Some(name) => match part.iter().position(|a| &a.candidate.name == name) {
                Some(index) => index,
                None => {
                    // A base that is out, or far down, still wants its fallbacks.
                    let Some(a) = order.iter().find(|a| &a.candidate.name == name) else { return Ok(None) };
                    part.push(a);
                    part.len() - 1
                }
            },
        };
        let places: Vec<Place> = part.iter().map(|a| place(a)).collect();
        let missing = drives.missing(&places);
        if keys.missing == MissingPair::Refuse && !missing.is_empty() {
            let file = inputs.drives.as_ref().map(|d| d.file.clone()).unwrap_or_default();
            let fault = |&(i, j, hours): &(usize, usize, f64)| {
                let wrong = format!(
                    "no hours from {} to {} (about {hours:.1} h by great circle and detour)",
                    places[i].name, places[j].name
                );
                Fault::of_file(&file, wrong, "add the pair, or set fallback.missing to \"skip\" or \"estimate\"")
            };
            return Err(Faults(missing.iter().map(fault).collect()).into());
        }
        let note = |f: &Fallback| self.fallback_note(f, &places, &part);
        for (i, site) in sites.iter_mut().enumerate().take(ranked.min(places.len())) {
            site.fallback = fallback::fallbacks(&places, i, &drives).first().map(note);
        }
        let fallbacks: Vec<FallbackNote> =
            fallback::fallbacks(&places, base, &drives).iter().take(keys.list).map(note).collect();
        let best_pair = fallback::best_pair(&places, &drives).as_ref().map(note);
        let best_single = places
            .iter()
            .filter(|p| p.contacts.is_some())
            .filter_map(|p| Some((p.clear? * p.totality_s, &p.name)))
            .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(a.1)))
            .map(|(expected, name)| (name.clone(), rounded(expected, 1)));
        let of_pair = best_pair.as_ref().and_then(|pair| Some((pair, pair.expected_clear_totality_s?)));
        let words = match (of_pair, &best_single) {
            (Some((pair, expected)), Some((name, seconds))) if expected > *seconds => format!(
                "Based at {} with {} to flee to, {expected:.0} s of clear totality can be expected, against {seconds:.0} s at {name} alone.",
                pair.base, pair.name
            ),
            (Some((pair, expected)), Some((name, seconds))) => format!(
                "No pair promises more than {name} alone ({seconds:.0} s of clear totality expected); the best is {} with {} ({expected:.0} s).",
                pair.base, pair.name
            ),
            _ if !fallbacks.is_empty() => {
                "The chance of a clear sky is not known for any two sites within reach of each other.".to_owned()
            }
            _ => format!("No two sites lie within {} h of each other.", keys.limit_hours),
        };
        let drives_words = match &inputs.drives {
            Some(d) => format!("hours from {}", name_of(Path::new(&d.file))),
            None => format!("great-circle distance times {} at {} km/h", keys.detour, keys.speed_km_h),
        };
        Ok(Some(FallbackPlan {
            base: places[base].name.clone(),
            limit_hours: keys.limit_hours,
            setup_minutes: [keys.setup_minutes, keys.least_setup_minutes],
            drives: drives_words,
            fallbacks,
            best_pair,
            best_single,
            words,
            missing_pairs: missing
                .iter()
                .map(|&(i, j, hours)| {
                    format!("{} to {} (about {})", places[i].name, places[j].name, wording::hours(hours))
                })
                .collect(),
        }))
    }

    fn fallback_note(&self, f: &Fallback, places: &[Place], part: &[&Assessed]) -> FallbackNote {
        let (base, to) = (&places[f.base], &places[f.to]);
        let zone = part[f.base].candidate.zone;
        let (leave_by_c1, leave_by_c2) = (Clocks::at(f.leave_by_c1, zone), Clocks::at(f.leave_by_c2, zone));
        let day = Clocks::at(f.leave_by_c2.plus(f.drive_hours * 3600.0), zone).local;
        let clock = |c: &Clocks| {
            let time = c.local.get(11..16).unwrap_or_default();
            // A long drive may have to begin the day before.
            match c.local.get(..10) {
                Some(date) if Some(date) != day.get(..10) => format!("{time} on {date}"),
                _ => time.to_string(),
            }
        };
        let words = format!(
            "{}, {} by road: {}. Leave {} by {} to be set up before first contact, by {} at worst for second contact (clocks of {}).",
            to.name,
            wording::hours(f.drive_hours),
            f.joint.map_or_else(|| "the chance of a clear sky is not known".to_owned(), |joint| joint.words()),
            base.name,
            clock(&leave_by_c1),
            clock(&leave_by_c2),
            base.name
        );
        FallbackNote {
            base: base.name.clone(),
            name: to.name.clone(),
            drive_hours: rounded(f.drive_hours, 2),
            drive_source: f.drive_source,
            base_clear: base.clear.map(|clear| rounded(clear, 4)),
            clear: to.clear.map(|clear| rounded(clear, 4)),
            joint: f.joint.map(JointChance::rounded),
            expected_clear_totality_s: f.expected_clear_totality_s.map(|s| rounded(s, 1)),
            leave_by_c1,
            leave_by_c2,
            words,
        }
    }

    fn notes(&self, notes: &mut Vec<String>, invented: bool, utc_is_predicted: bool, clouds: &Clouds) {
        if invented {
            notes.push("Some figures are INVENTED demo data: do not plan a trip with them.".to_string());
        }
        notes.push(
            match self.rules.edge_shown() {
                EdgeShown::True => format!(
                    "Second and third contact are those of the Moon's measured edge ({}); {}. The sky decides.",
                    self.rules.heights().source(),
                    crate::outlook::words::window::left_uncertain(self.rules.heights())
                ),
                EdgeShown::Smooth => format!(
                    "Second and third contact are those of a smooth Moon, as handbooks have them: the true edge moves them by seconds. \
                     The window for unaided eyes is decided at the true edge ({}). The sky decides.",
                    self.rules.heights().source()
                ),
            },
        );
        if utc_is_predicted {
            notes.push(
                "UTC is counted with the last known leap second: a new one before the eclipse would move all clocks by a second."
                    .to_string(),
            );
        }
        if clouds.is_empty() {
            notes.push("No cloud file is named: the ranking knows nothing of the weather.".to_string());
        } else {
            for source in clouds.sources() {
                notes.push(format!("Clouds: {}.", source.describe()));
                notes.extend(source.doubt().map(str::to_string));
            }
        }
    }
}

/// A candidate as base or fallback.
fn place(a: &Assessed) -> Place {
    let inside = a.rejected.is_empty();
    let contacts = a.local().c1.zip(a.local().c2).map(|(c1, c2)| (c1.tt, c2.tt));
    Place {
        name: a.candidate.name.clone(),
        point: a.candidate.site.point(),
        totality_s: if inside { a.conditions.totality_s } else { 0.0 },
        clear: if inside { a.conditions.clear_sky } else { Some(0.0) },
        contacts: contacts.filter(|_| inside),
        days: a.days.clone(),
    }
}

/// Local mean solar time of maximum at a candidate, for callers that ask the clouds themselves.
pub fn solar_time_at_max(site: &RankedSite) -> Option<SolarTime> {
    site.local.max.map(|m| SolarTime::at(m.tt, site.site.lon_deg))
}
