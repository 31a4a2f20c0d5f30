//! All candidates looked at, held against the requirements, scored and put in order.

use noonfall_shadow::{Path, Phase};
use rayon::prelude::*;

use super::inputs::Inputs;
use super::{RunError, Trip};
use crate::assess::{self, About, Assessed};
use crate::clocks::rounded;
use crate::clouds::Clouds;
use crate::fallback;
use crate::fault::{Fault, Faults};
use crate::land;
use crate::outlook::band_outlook::Bands;
use crate::outlook::offer::Offer;
use crate::place::Place;
use crate::plan::{Plan, Requirement};
use crate::provenance::Provenance;
use crate::rank::{self, DeltaTNote, Method, RankedSite, Ranking, RequirementTally, SearchNote};
use crate::robustness;
use crate::{compare, criteria, places, zone};

/// Beyond so many candidates the Moon's edge is read from a lattice of profiles, within hundredths
/// of a second of asking one by one as a rule.
pub(super) const MOST_ONE_BY_ONE: usize = 2000;

/// Of a longer table the window for unaided eyes is decided for so many places from the top; of a shorter one for all. It takes longer than
/// everything else together.
pub(super) const WINDOWS_AMONG_MANY: usize = 100;

/// What became of the candidates, counted while they are judged one by one.
#[derive(Clone, Debug)]
pub(super) struct Toll {
    pub(super) candidates: u64,
    pub(super) ranked: usize,
    pub(super) tallies: Vec<RequirementTally>,
    inside: u64,
    /// The best value of each requirement's criterion inside the path.
    best: Vec<Option<f64>>,
    /// Why the first place inside the path is out.
    first_inside: Option<Vec<String>>,
}

impl Toll {
    pub(super) fn new(plan: &Plan) -> Toll {
        let tally = |r: &Requirement| RequirementTally {
            key: r.key.clone(),
            value: r.at_least.or(r.at_most).unwrap_or(0.0),
            removed: 0,
            of: 0,
        };
        Toll {
            candidates: 0,
            ranked: 0,
            tallies: plan.requirements.iter().map(tally).collect(),
            inside: 0,
            best: vec![None; plan.requirements.len()],
            first_inside: None,
        }
    }

    /// Counts those that come after these.
    pub(super) fn add(&mut self, later: Toll, plan: &Plan) {
        self.candidates += later.candidates;
        self.ranked += later.ranked;
        self.inside += later.inside;
        for (tally, more) in self.tallies.iter_mut().zip(later.tallies) {
            tally.removed += more.removed;
            tally.of += more.of;
        }
        for ((best, other), requirement) in self.best.iter_mut().zip(later.best).zip(&plan.requirements) {
            *best = better(*best, other, requirement);
        }
        if self.first_inside.is_none() {
            self.first_inside = later.first_inside;
        }
    }
}

/// The value that comes nearer to meeting a requirement.
fn better(a: Option<f64>, b: Option<f64>, requirement: &Requirement) -> Option<f64> {
    let by = |a: f64, b: f64| match requirement.at_least {
        Some(_) => a.max(b),
        None => a.min(b),
    };
    a.zip(b).map(|(a, b)| by(a, b)).or(a).or(b)
}

impl Trip<'_> {
    /// Looks at all candidates and ranks them.
    pub(super) fn ranking(
        &self,
        inputs: &Inputs,
        clouds: &Clouds,
        candidates: Vec<Place>,
        search: Option<SearchNote>,
        notes: &mut Vec<String>,
    ) -> Result<Ranking, RunError> {
        let path = self.eclipse.path(60.0);
        let many = candidates.len() > MOST_ONE_BY_ONE;
        self.progress.begin("Looking at the sites", candidates.len() as u64);
        // Neighbours one after the other, so that they find the terrain of the one before still in memory.
        let mut numbered: Vec<(usize, Place)> = candidates.into_iter().enumerate().collect();
        if inputs.horizons.terrain.is_some() {
            let strip = |c: &Place| (c.site.lat_deg * 4.0).floor();
            numbered.sort_by(|(_, a), (_, b)| {
                strip(a).total_cmp(&strip(b)).then(a.site.lon_deg.total_cmp(&b.site.lon_deg))
            });
        }
        let bands = Bands::of(self.plan.sky.air);
        let about = self.about(inputs, clouds, &bands, &path, true);
        // As many results as candidates, put together where they are: a list of many large things is not kept twice.
        let looked_at: Vec<Result<(usize, Assessed), RunError>> = numbered
            .into_par_iter()
            .map(|(number, candidate)| {
                if self.progress.cancelled() {
                    return Err(RunError::Stopped);
                }
                let assessed = self.look_at(about, many, candidate);
                self.progress.advance(1);
                Ok((number, assessed))
            })
            .collect();
        let mut numbered: Vec<(usize, Assessed)> = looked_at.into_iter().collect::<Result<_, RunError>>()?;
        numbered.sort_unstable_by_key(|(number, _)| *number);
        let mut assessed: Vec<Assessed> = numbered.into_iter().map(|(_, assessed)| assessed).collect();
        let mut toll = Toll::new(self.plan);
        let scores: Vec<Option<f64>> = assessed.iter_mut().map(|a| self.judge(a, &mut toll)).collect();
        let order = rank::order(&assessed, &scores);
        let ranked = toll.ranked;
        if ranked == 0 {
            return Err(self.nobody_left(&toll));
        }
        self.decide(&mut assessed, if many { &order[..order.len().min(WINDOWS_AMONG_MANY)] } else { &order });
        let candidates = assessed.len();
        let mut found: Vec<Option<Assessed>> = assessed.into_iter().map(Some).collect();
        let in_order = order.into_iter().filter_map(|i| found[i].take());
        let mut sites = self.ranked_sites(in_order, ranked, clouds);
        drop(found);
        let inside = &mut sites[..ranked];
        let robustness = self.robustness(inside);
        let pareto = self.pareto(inside);
        let sensitivity = self.sensitivity(inside);
        let base = self.base(inputs, about);
        let asked = fallback::told::Asked {
            keys: &self.plan.fallback,
            matrix: inputs.drives.as_ref(),
            clouds,
            ranked,
            base: base.as_ref(),
        };
        let fallback = fallback::told::plan(&asked, &mut sites)?;
        let method = Method::of(self.scorer, self.plan.score.profile.clone());
        let side_by_side = compare::pair(
            &sites,
            self.plan.output.compare.as_ref(),
            self.plan.output.low_sun_below_deg,
            self.plan.output.high_sun_above_deg,
        )
        .map(|(low, high)| {
            let offers = [self.offer(low), self.offer(high)];
            compare::side_by_side(&method, [low, high], [offers[0].as_ref(), offers[1].as_ref()], &self.scale)
        });
        let delta_t = self.eclipse.delta_t();
        let utc_is_predicted = self.eclipse.greatest().tt.utc_is_predicted();
        let invented = clouds.invented() || inputs.drives.as_ref().is_some_and(|d| d.invented);
        self.notes(notes, invented, utc_is_predicted, clouds);
        self.notes_of_size(notes, inputs, search.as_ref(), ranked, candidates);
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
            method,
            requirements: toll.tallies,
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
                inputs: inputs.files.told.clone(),
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

    pub(super) fn offer(&self, site: &RankedSite) -> Option<Offer> {
        let mut solver = self.rules.solver();
        site.found.offer(self.kernel, self.rules, &mut solver, &self.plan.sky.offer_settings())
    }

    /// What is known of sky and ground, for looking at places.
    pub(super) fn about<'a>(
        &self,
        inputs: &'a Inputs,
        clouds: &'a Clouds,
        bands: &'a Bands,
        path: &'a Path,
        in_full: bool,
    ) -> About<'a> {
        About { clouds, horizons: &inputs.horizons, bands: Some(bands), path: Some(path), in_full }
    }

    /// The sites as outputs have them, in order, before what the draws and the fallbacks add.
    pub(super) fn ranked_sites(
        &self,
        in_order: impl IntoIterator<Item = Assessed>,
        ranked: usize,
        clouds: &Clouds,
    ) -> Vec<RankedSite> {
        let site = |(i, found): (usize, Assessed)| {
            let warnings = found.warnings_in_ranking(self.plan.terrain.thin_margin_deg, clouds.has_forecast());
            RankedSite { warnings, ..RankedSite::new(found, self.scorer, (i < ranked).then_some(i + 1)) }
        };
        in_order.into_iter().enumerate().map(site).collect()
    }

    /// Decides the window of some places; the rest is told to ask for itself.
    pub(super) fn decide(&self, assessed: &mut [Assessed], asked: &[usize]) {
        let asked: std::collections::HashSet<usize> = asked.iter().copied().collect();
        // One by one: those that are asked stand together, and each takes milliseconds.
        let each = assessed.par_iter_mut().enumerate().with_max_len(1);
        each.filter(|(i, _)| asked.contains(i)).for_each(|(_, a)| a.decide(self.rules, &mut self.rules.solver()));
    }

    /// Holds a place against the requirements and the criteria: what speaks against it is noted and counted, a place that stays in gets
    /// its score.
    pub(super) fn judge(&self, a: &mut Assessed, toll: &mut Toll) -> Option<f64> {
        let requirements = &self.plan.requirements;
        toll.candidates += 1;
        if a.rejected.is_empty() {
            toll.tallies.iter_mut().for_each(|t| t.of += 1);
            for (index, reason) in assess::unmet(requirements, &a.conditions()) {
                toll.tallies[index].removed += 1;
                a.rejected.push(reason);
            }
        }
        let utilities = self.scorer.utilities(&a.conditions());
        if a.rejected.is_empty() {
            a.rejected = self.scorer.gaps(&utilities);
            // Why there is no cloud figure is a reason only where one is missed.
            if self.scorer.misses_cloud(&utilities) {
                a.rejected.push(a.cloud_gap.clone().unwrap_or_else(|| "the plan names no cloud file".to_string()));
            }
        }
        if a.local().phase == Phase::Total && a.local().sun_up_in_central_phase() {
            toll.inside += 1;
            toll.first_inside.get_or_insert_with(|| a.rejected.clone());
            for (best, requirement) in toll.best.iter_mut().zip(requirements) {
                *best = better(*best, criteria::value(&requirement.criterion, &a.conditions()), requirement);
            }
        }
        let score = a.rejected.is_empty().then(|| self.scorer.score(&utilities));
        toll.ranked += usize::from(score.is_some());
        score
    }

    /// What is said of the ground, of the search, and of what only the best of a long table get.
    pub(super) fn notes_of_size(
        &self,
        notes: &mut Vec<String>,
        inputs: &Inputs,
        search: Option<&SearchNote>,
        ranked: usize,
        candidates: usize,
    ) {
        if let Some(terrain) = &inputs.horizons.terrain {
            let told = terrain.told();
            notes.push(format!("Terrain: {}.", told.source));
            notes.extend(told.notes);
            notes.extend(told.warnings);
        }
        notes.extend(search.iter().map(|search| format!("The search found {}", search.words)));
        if candidates > MOST_ONE_BY_ONE {
            notes.push(format!(
                "The window for unaided eyes is decided for the first {WINDOWS_AMONG_MANY} places of the table only; \
                 ask for any other by itself."
            ));
        }
        if ranked > fallback::MOST_PLACES {
            notes.push(format!("Fallbacks are looked for among the best {} sites.", fallback::MOST_PLACES));
        }
        if ranked > robustness::MOST_SITES {
            notes.push(format!("Only the best {} sites take part in the draws.", robustness::MOST_SITES));
        }
    }

    /// Why no candidate is left: every requirement with what it removes, and the best value there is.
    pub(super) fn nobody_left(&self, toll: &Toll) -> RunError {
        let plan = self.plan;
        let mut faults = Faults::default();
        if toll.inside == 0 {
            let key = match &plan.sites {
                Some(keys) if !keys.files.is_empty() => "sites.file",
                Some(_) => "sites.towns",
                None => "search",
            };
            let wrong = format!("none of the {} candidates sees totality", toll.candidates);
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
        let tallies = toll.tallies.iter().zip(&toll.best).zip(&plan.requirements);
        for ((tally, best), requirement) in tallies.filter(|((t, _), _)| t.removed > 0) {
            let wrong = format!(
                "it removes {} of the {} candidates inside the path, and none is left",
                tally.removed, tally.of
            );
            let right = match best {
                Some(best) => format!("relax it; the best value among them is {}", rounded(*best, 2)),
                None => "give the data it asks for, or take it out".to_string(),
            };
            faults.0.push(Fault::of_key(&plan.file, requirement.line, format!("require.{}", tally.key), wrong, right));
        }
        if faults.0.is_empty() {
            let reasons = toll.first_inside.as_ref().map(|reasons| reasons.join("; ")).unwrap_or_default();
            let wrong = format!("no candidate inside the path can be scored ({reasons})");
            let right = "give the data it needs, or set the weight to 0";
            faults.0.push(Fault::of_key(&plan.file, None, "weights", wrong, right));
        }
        faults.into()
    }
}
