//! All candidates looked at, held against the requirements, scored and put in order.

use noonfall_shadow::Phase;
use rayon::prelude::*;

use super::inputs::Inputs;
use super::{RunError, Trip, offer_at};
use crate::assess::{self, About, Assessed, Candidate, assess};
use crate::clouds::Clouds;
use crate::contact_times::rounded;
use crate::fallback;
use crate::fault::{Fault, Faults};
use crate::land;
use crate::outlook::band_outlook::Bands;
use crate::outlook::offer::Offer;
use crate::outlook::true_limit::true_limit_near;
use crate::outlook::words::limits::near_true_limit;
use crate::provenance::Provenance;
use crate::rank::{self, DeltaTNote, Method, RankedSite, Ranking, RequirementTally, SearchNote};
use crate::robustness;
use crate::{compare, criteria, places, zone};

/// Beyond so many candidates the Moon's edge is read from a lattice of profiles, within hundredths
/// of a second of asking one by one as a rule.
const MOST_ONE_BY_ONE: usize = 2000;

/// For so many places of the table, from the top, the window for unaided eyes is decided.
const MOST_WINDOWS: usize = 2000;

impl Trip<'_> {
    /// Looks at all candidates and ranks them.
    pub(super) fn ranking(
        &self,
        inputs: &Inputs,
        clouds: &Clouds,
        candidates: Vec<Candidate>,
        search: Option<SearchNote>,
        notes: &mut Vec<String>,
    ) -> Result<Ranking, RunError> {
        let path = self.eclipse.path(60.0);
        let many = candidates.len() > MOST_ONE_BY_ONE;
        self.progress.begin("Looking at the sites", candidates.len() as u64);
        // Neighbours one after the other, so that they find the terrain of the one before still in memory.
        let mut numbered: Vec<(usize, Candidate)> = candidates.into_iter().enumerate().collect();
        if inputs.horizons.terrain.is_some() {
            let strip = |c: &Candidate| (c.site.lat_deg * 4.0).floor();
            numbered.sort_by(|(_, a), (_, b)| {
                strip(a).total_cmp(&strip(b)).then(a.site.lon_deg.total_cmp(&b.site.lon_deg))
            });
        }
        let bands = Bands::of(self.plan.sky.air);
        let about = About {
            clouds,
            horizons: &inputs.horizons,
            thin_margin_deg: self.plan.terrain.thin_margin_deg,
            bands: &bands,
        };
        let mut numbered: Vec<(usize, Assessed)> = numbered
            .into_par_iter()
            .map(|(number, candidate)| {
                if self.progress.cancelled() {
                    return Err(RunError::Stopped);
                }
                let assessed = assess(self.rules, many, &path, about, candidate);
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
                // Why there is no cloud figure is a reason only where one is missed.
                if let Some(gap) = a.cloud_gap.as_ref().filter(|_| self.scorer.misses_cloud(u)) {
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
        let base = self.base(inputs, &path, about);
        let asked = fallback::told::Asked {
            keys: &self.plan.fallback,
            matrix: inputs.drives.as_ref(),
            order: &order,
            ranked,
            base: base.as_ref(),
        };
        let fallback = fallback::told::plan(&asked, &mut sites)?;
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
        if let Some(terrain) = &inputs.horizons.terrain {
            let told = terrain.told();
            notes.push(format!("Terrain: {}.", told.source));
            notes.extend(told.notes);
            notes.extend(told.warnings);
        }
        notes.extend(search.iter().map(|search| format!("The search found {}", search.words)));
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

    pub(super) fn offer(&self, site: &RankedSite) -> Option<Offer> {
        offer_at(self.rules, self.kernel, &self.plan.sky.offer_settings(), site)
    }

    /// Decides the window of the first places of the table; the rest is told to ask for itself.
    pub(super) fn decide(&self, assessed: &mut [Assessed], order: &[usize]) {
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
    pub(super) fn require(&self, assessed: &mut [Assessed]) -> Vec<RequirementTally> {
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
    pub(super) fn nobody_left(&self, assessed: &[Assessed], tallies: &[RequirementTally]) -> RunError {
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
}
