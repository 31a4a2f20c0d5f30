//! How sure the order is: draws, dominance, and how little would turn it.

use noonfall_shadow::{Eclipse, Phase};
use rayon::prelude::*;

use super::Trip;
use crate::clocks::rounded;
use crate::rank::{Pair, ParetoFront, RankedSite, RobustnessNote, Sensitivity};
use crate::robustness::{self, DELTA_T_NODES, Uncertain};
use crate::{pareto, sensitivity};

impl Trip<'_> {
    pub(super) fn robustness(&self, inside: &mut [RankedSite]) -> RobustnessNote {
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
            .map(|RankedSite { found: a, .. }| {
                // How ΔT changes totality is the smooth Moon's; how long it is, the edge's that is shown.
                let of_edge_s = a.numbers.totality_s - a.totality.smooth.duration_s;
                let mut totality_s = [0.0; DELTA_T_NODES.len()];
                for (slot, eclipse) in totality_s.iter_mut().zip(&shifted) {
                    let q = eclipse.quick(&a.place.site);
                    *slot = if q.phase == Phase::Total { (q.duration_s + of_edge_s).max(0.0) } else { 0.0 };
                }
                Uncertain { conditions: a.conditions(), clear_sky: a.cloud.as_ref().map(|c| c.beta), totality_s }
            })
            .collect();
        let drawn = robustness::draw(self.scorer, &uncertain, keys);
        let name = |i: usize| part[i].name().to_owned();
        // All neighbours are told of the first ten only: further down the words would bury the ones that matter.
        let pairs = drawn.duels.iter().filter(|d| d.upper < 10).map(|d| Pair {
            upper: name(d.upper),
            lower: name(d.lower),
            chance: rounded(d.chance, 4),
            told_apart: d.chance >= robustness::TOLD_APART,
            words: robustness::words(&name(d.upper), &name(d.lower), d.chance),
        });
        let (pairs, sites) = (pairs.collect(), part.len());
        for (site, standing) in inside.iter_mut().zip(&drawn.standings) {
            site.rank_interval = Some([standing.rank_low, standing.rank_high]);
            site.chance_first = Some(standing.first);
            site.chance_top_three = Some(standing.top_three);
        }
        RobustnessNote {
            draws: keys.draws,
            seed: keys.seed,
            weight_spread: keys.weight_spread,
            delta_t_sigma_s: rounded(sigma, 3),
            interval: keys.interval,
            sites,
            pairs,
        }
    }

    pub(super) fn pareto(&self, inside: &mut [RankedSite]) -> ParetoFront {
        /// Most dominating sites named for one site.
        const NAMED: usize = 3;
        let weighted: Vec<Vec<f64>> = inside
            .iter()
            .map(|a| {
                let terms = self.scorer.terms.iter().zip(&a.criteria).filter(|(t, _)| t.weight > 0.0);
                terms.map(|(_, c)| c.utility.unwrap_or(0.0)).collect()
            })
            .collect();
        for (i, by) in pareto::dominated_by(&weighted, NAMED).into_iter().enumerate() {
            inside[i].dominated_by = by.into_iter().map(|j| inside[j].name().to_owned()).collect();
        }
        let axes: Vec<Vec<f64>> = inside
            .iter()
            .map(|RankedSite { found: a, .. }| {
                vec![a.numbers.totality_s, a.numbers.clear_sky.unwrap_or(0.0), a.numbers.sun_altitude_deg]
            })
            .collect();
        let by = pareto::dominated_by(&axes, 1);
        let front = inside.iter().zip(&by).filter(|(_, by)| by.is_empty()).map(|(a, _)| a.name().to_owned());
        ParetoFront { axes: ["totality_s", "clear_sky_probability", "sun_altitude_deg"], front: front.collect() }
    }

    pub(super) fn sensitivity(&self, inside: &[RankedSite]) -> Vec<Sensitivity> {
        /// Only the best can be rivals that matter; this many are held against each site.
        const RIVALS: usize = 1000;
        let part = &inside[..inside.len().min(RIVALS)];
        let all: Vec<Vec<Option<f64>>> =
            part.iter().map(|site| site.criteria.iter().map(|c| c.utility).collect()).collect();
        // A criterion of weight 0 may lack values; only one that every rival has can be given more weight.
        let known: Vec<usize> = (0..self.scorer.terms.len()).filter(|&i| all.iter().all(|u| u[i].is_some())).collect();
        let utilities: Vec<Vec<f64>> =
            all.iter().map(|u| known.iter().map(|&i| u[i].unwrap_or(0.0)).collect()).collect();
        let names: Vec<String> = known.iter().map(|&i| self.scorer.terms[i].name.clone()).collect();
        let weights: Vec<f64> = known.iter().map(|&i| self.scorer.terms[i].weight).collect();
        (1..part.len().min(4))
            .map(|i| {
                let site = part[i].name().to_owned();
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
}
