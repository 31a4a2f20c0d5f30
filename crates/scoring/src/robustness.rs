//! How sure is the order: many rankings with the uncertain inputs drawn anew.
//!
//! In each draw every site's chance of a clear sky comes from its Beta posterior, ΔT from a normal distribution about
//! its value, and each weight from a log-normal spread about what the plan gives. The draws of different sites' skies
//! are independent, although neighbours share their weather: the order of neighbours is therefore, if anything, surer
//! than stated. Each draw has its own ChaCha stream (Bernstein 2008), so that the result does not depend on threads.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Beta, Distribution, StandardNormal};
use rayon::prelude::*;

use crate::criteria::{self, Conditions, Criterion, Numbers};
use crate::plan::RobustnessKeys;
use crate::score::{Scorer, weighted_mean};
use crate::wording::percent;

/// Most sites that take part in the draws: the best by score.
pub const MOST_SITES: usize = 1000;

/// How many standard deviations of ΔT the nodes reach to either side.
const NODE_REACH: f64 = 4.0;

/// Offsets of ΔT, in standard deviations, at which a site's totality is computed; between them it is interpolated.
pub const DELTA_T_NODES: [f64; 9] = [-4.0, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0];

/// One site with what is uncertain about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Uncertain<'a> {
    /// The best estimate.
    pub conditions: Conditions<'a>,
    /// Beta posterior of the chance of a clear sky.
    pub clear_sky: Option<(f64, f64)>,
    /// Seconds of totality at each of [`DELTA_T_NODES`].
    pub totality_s: [f64; DELTA_T_NODES.len()],
}

/// What the draws say about one site.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Best rank of the interval.
    pub rank_low: usize,
    /// Worst rank of the interval.
    pub rank_high: usize,
    /// Fraction of the draws in which the site is first.
    pub first: f64,
    /// Fraction of the draws in which it is among the first three.
    pub top_three: f64,
}

/// How two sites compare over the draws.
#[derive(Clone, Debug, PartialEq)]
pub struct Duel {
    /// Index of the site ranked higher.
    pub upper: usize,
    /// Index of the site ranked lower.
    pub lower: usize,
    /// Fraction of the draws in which the upper one comes out above.
    pub chance: f64,
}

/// What the draws say.
#[derive(Clone, Debug, PartialEq)]
pub struct Robustness {
    /// One for each site, in the order given.
    pub standings: Vec<Standing>,
    /// Neighbours in the ranking, and the pairs among the first four.
    pub duels: Vec<Duel>,
}

/// Below this fraction of the draws two sites cannot be told apart (a choice of ours: less than three in four).
pub const TOLD_APART: f64 = 0.75;

/// From this fraction on one site is clearly ahead.
pub const CLEARLY_AHEAD: f64 = 0.9;

/// A duel in words.
/// ```
/// use noonfall_scoring::robustness::words;
/// assert_eq!(words("Bourke", "Dubbo", 0.62), "Bourke and Dubbo cannot be told apart: Bourke is ahead in 62 % of the draws.");
/// ```
pub fn words(upper: &str, lower: &str, chance: f64) -> String {
    let draws = if chance >= 1.0 { "all draws".to_string() } else { format!("{} of the draws", percent(chance)) };
    if chance >= CLEARLY_AHEAD {
        format!("{upper} is ahead of {lower} in {draws}.")
    } else if chance >= TOLD_APART {
        format!("{upper} is probably ahead of {lower} ({draws}).")
    } else {
        format!("{upper} and {lower} cannot be told apart: {upper} is ahead in {draws}.")
    }
}

/// Counts of one batch of draws.
struct Tally {
    ranks: Vec<u32>,
    duels: Vec<u32>,
}

/// Draws rankings. `sites` are in the order of their rank, best first, at most [`MOST_SITES`].
///
/// The result depends on `keys.seed` and the input alone, not on the number of threads.
pub fn draw(scorer: &Scorer, sites: &[Uncertain<'_>], keys: &RobustnessKeys) -> Robustness {
    let n = sites.len();
    let pairs = duel_pairs(n);
    let spreads: Vec<f64> =
        scorer.terms.iter().map(|t| keys.spread.get(&t.name).copied().unwrap_or(keys.weight_spread)).collect();
    let built_in = scorer.terms.iter().map(|t| criteria::built_in(&t.name)).collect();
    let betas: Vec<Option<Beta<f64>>> =
        sites.iter().map(|s| s.clear_sky.and_then(|(a, b)| Beta::new(a, b).ok())).collect();
    let draws = Draws { scorer, built_in, spreads, sites, betas, seed: keys.seed };
    let empty = || Tally { ranks: vec![0; n * n], duels: vec![0; pairs.len()] };
    let tally = (0..keys.draws as usize)
        .into_par_iter()
        // Few batches, so that their tables of counts stay small together.
        .with_min_len((keys.draws as usize / 16).max(1))
        .fold(
            || (empty(), vec![0.0; n], Vec::with_capacity(n)),
            |(mut tally, mut scores, mut order), index| {
                draws.one(index as u64, &mut scores);
                order.clear();
                order.extend(0..n);
                // Equal scores keep the order of the ranking.
                order.sort_by(|&a: &usize, &b: &usize| scores[b].total_cmp(&scores[a]).then(a.cmp(&b)));
                for (rank, &site) in order.iter().enumerate() {
                    tally.ranks[site * n + rank] += 1;
                }
                for (count, &(upper, lower)) in tally.duels.iter_mut().zip(&pairs) {
                    *count += u32::from(scores[upper] >= scores[lower]);
                }
                (tally, scores, order)
            },
        )
        .map(|(tally, _, _)| tally)
        .reduce(empty, |mut a, b| {
            a.ranks.iter_mut().zip(b.ranks).for_each(|(x, y)| *x += y);
            a.duels.iter_mut().zip(b.duels).for_each(|(x, y)| *x += y);
            a
        });
    let of = keys.draws as f64;
    let standings = (0..n).map(|i| standing(i, &tally.ranks[i * n..(i + 1) * n], of, keys.interval)).collect();
    let duels = pairs
        .iter()
        .zip(&tally.duels)
        .map(|(&(upper, lower), &count)| Duel { upper, lower, chance: f64::from(count) / of })
        .collect();
    Robustness { standings, duels }
}

/// Neighbours, and all pairs among the first four.
fn duel_pairs(n: usize) -> Vec<(usize, usize)> {
    let mut pairs = Vec::new();
    for upper in 0..n {
        for lower in upper + 1..n {
            if lower == upper + 1 || lower < 4 {
                pairs.push((upper, lower));
            } else {
                break;
            }
        }
    }
    pairs
}

/// What every draw works with.
struct Draws<'a> {
    scorer: &'a Scorer,
    /// Of each term the criterion; `None` for a column.
    built_in: Vec<Option<&'static Criterion>>,
    /// Of each term the relative spread of its weight.
    spreads: Vec<f64>,
    sites: &'a [Uncertain<'a>],
    /// Of each site the distribution of its chance of a clear sky.
    betas: Vec<Option<Beta<f64>>>,
    seed: u64,
}

impl Draws<'_> {
    /// The scores of one draw.
    fn one(&self, index: u64, scores: &mut [f64]) {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        rng.set_stream(index);
        let delta_t: f64 = StandardNormal.sample(&mut rng);
        let weights: Vec<f64> = self
            .scorer
            .terms
            .iter()
            .zip(&self.spreads)
            .map(|(t, spread)| {
                let z: f64 = StandardNormal.sample(&mut rng);
                t.weight * (spread * z).exp()
            })
            .collect();
        for ((site, beta), score) in self.sites.iter().zip(&self.betas).zip(scores.iter_mut()) {
            let clear = match beta {
                Some(beta) => Some(beta.sample(&mut rng)),
                None => site.conditions.numbers.clear_sky,
            };
            let totality_s = at_delta_t(&site.totality_s, delta_t);
            // A draw in which the limit moves across the site puts it below every site that keeps its totality.
            if totality_s <= 0.0 {
                *score = -1.0;
                continue;
            }
            let drawn = Numbers { totality_s, clear_sky: clear, ..site.conditions.numbers };
            *score = weighted_mean(
                self.scorer.mean,
                self.scorer.terms.iter().zip(&self.built_in).zip(&weights).filter(|(_, w)| **w > 0.0).map(
                    |((t, built_in), &w)| {
                        let value = match built_in {
                            Some(criterion) => (criterion.value)(&drawn),
                            None => site.conditions.columns.get(&t.name).copied(),
                        };
                        (value.map(|v| t.curve.utility(v)).or(t.missing).unwrap_or(0.0), w)
                    },
                ),
            );
        }
    }
}

/// Totality at a ΔT that lies `offset` standard deviations from its value: linear between the nodes.
fn at_delta_t(nodes: &[f64; DELTA_T_NODES.len()], offset: f64) -> f64 {
    let place = offset.clamp(-NODE_REACH, NODE_REACH) + NODE_REACH;
    let below = (place.floor() as usize).min(nodes.len() - 2);
    let (a, b) = (nodes[below], nodes[below + 1]);
    a + (b - a) * (place - below as f64)
}

fn standing(site: usize, ranks: &[u32], draws: f64, interval: f64) -> Standing {
    let tail = (1.0 - interval) / 2.0;
    let at_least = |fraction: f64| {
        let mut seen = 0.0;
        for (rank, &count) in ranks.iter().enumerate() {
            seen += f64::from(count);
            if seen >= fraction * draws {
                return rank + 1;
            }
        }
        ranks.len()
    };
    let fraction = |most: usize| f64::from(ranks.iter().take(most).sum::<u32>()) / draws;
    Standing {
        // The interval always holds the rank of the best estimate.
        rank_low: at_least(tail.max(f64::MIN_POSITIVE)).min(site + 1),
        rank_high: at_least(1.0 - tail).max(site + 1),
        first: fraction(1),
        top_three: fraction(3),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::criteria::EclipseScale;
    use crate::plan::Plan;
    use std::path::Path;

    fn scorer(weights: &str) -> Scorer {
        let text = format!("[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n[weights]\n{weights}\n");
        let plan = Plan::parse(&text, "plan.toml", Path::new("")).unwrap();
        Scorer::new(&plan, &EclipseScale { longest_totality_s: 300.0 })
    }

    fn keys(draws: u64) -> RobustnessKeys {
        RobustnessKeys { draws, seed: 7, weight_spread: 0.25, spread: Default::default(), interval: 0.9 }
    }

    fn conditions(totality_s: f64, clear: f64) -> Conditions<'static> {
        Numbers { totality_s, sun_altitude_deg: 30.0, clear_sky: Some(clear), ..Numbers::default() }.into()
    }

    fn site(totality_s: f64, clear: (f64, f64)) -> Uncertain<'static> {
        Uncertain {
            conditions: conditions(totality_s, clear.0 / (clear.0 + clear.1)),
            clear_sky: Some(clear),
            totality_s: [totality_s; DELTA_T_NODES.len()],
        }
    }

    #[test]
    fn the_same_on_one_thread_and_on_many() {
        let scorer = scorer("totality = 1\nclear_sky = 2");
        let sites: Vec<Uncertain> =
            (0..12).map(|i| site(200.0 - 10.0 * f64::from(i), (4.0 + f64::from(i), 6.0))).collect();
        let with = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| draw(&scorer, &sites, &keys(2000)))
        };
        assert_eq!(with(1), with(2));
        assert_eq!(with(1), with(7));
    }

    #[test]
    fn chances_are_whole_and_intervals_hold_the_rank() {
        let scorer = scorer("totality = 1\nclear_sky = 2");
        let sites: Vec<Uncertain> = (0..6).map(|i| site(250.0 - 30.0 * f64::from(i), (6.0, 4.0))).collect();
        let r = draw(&scorer, &sites, &keys(2000));
        let firsts: f64 = r.standings.iter().map(|s| s.first).sum();
        let threes: f64 = r.standings.iter().map(|s| s.top_three).sum();
        assert!((firsts - 1.0).abs() < 1e-12 && (threes - 3.0).abs() < 1e-12);
        for (i, s) in r.standings.iter().enumerate() {
            assert!(s.rank_low <= i + 1 && i < s.rank_high && s.rank_high <= 6);
        }
    }

    #[test]
    fn without_uncertainty_the_order_is_certain() {
        let scorer = scorer("totality = 1");
        let mut sites: Vec<Uncertain> = (0..4).map(|i| site(250.0 - 30.0 * f64::from(i), (6.0, 4.0))).collect();
        sites.iter_mut().for_each(|s| s.clear_sky = None);
        let r = draw(&scorer, &sites, &keys(2000));
        for (i, s) in r.standings.iter().enumerate() {
            assert_eq!((s.rank_low, s.rank_high), (i + 1, i + 1));
        }
        assert_eq!(r.duels[0].chance, 1.0);
    }

    #[test]
    fn totality_follows_delta_t_between_the_nodes() {
        let nodes = [0.0, 0.0, 0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0];
        assert_eq!(at_delta_t(&nodes, 0.0), 20.0);
        assert_eq!(at_delta_t(&nodes, 0.5), 25.0);
        assert_eq!(at_delta_t(&nodes, -9.0), 0.0);
        assert_eq!(at_delta_t(&nodes, 9.0), 60.0);
    }

    const REFERENCE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/scoring/");

    fn reference(name: &str) -> Vec<Vec<f64>> {
        let mut reader = csv::Reader::from_path(format!("{REFERENCE}{name}")).unwrap();
        reader.records().map(|r| r.unwrap().iter().map(|x| x.parse().unwrap()).collect()).collect()
    }

    /// Four standard deviations of a fraction of 20 000 draws are at most 0.0142.
    const DRAWS: u64 = 20_000;
    const FOUR_SIGMA: f64 = 0.0142;

    /// Reference: scipy.integrate over scipy.stats.beta, tests/reference/scoring.
    #[test]
    fn chances_of_the_clearest_sky_agree_with_scipy() {
        let scorer = scorer("clear_sky = 1");
        let rows = reference("first-of-three.csv");
        assert_eq!(rows.len(), 10);
        for row in rows {
            let sites = [site(100.0, (row[0], row[1])), site(100.0, (row[2], row[3])), site(100.0, (row[4], row[5]))];
            let r = draw(&scorer, &sites, &keys(DRAWS));
            for (standing, expected) in r.standings.iter().zip(&row[6..9]) {
                assert!((standing.first - expected).abs() < FOUR_SIGMA, "{row:?} {standing:?}");
            }
            assert!((r.duels[0].chance - row[9]).abs() < FOUR_SIGMA, "{row:?} {:?}", r.duels[0]);
        }
    }

    /// Reference: closed form through scipy.stats.norm, tests/reference/scoring.
    #[test]
    fn spread_weights_agree_with_the_closed_form() {
        for row in reference("weighed-two-ways.csv") {
            let [w1, w2, d1, d2, spread, expected] = row[..] else { panic!("{row:?}") };
            let scorer = scorer(&format!(
                "totality = {w1:?}\nclear_sky = {w2:?}\n[wish.totality]\nbetter = \"higher\"\nfrom = 0\nto = 100"
            ));
            let certain = |totality_s: f64, clear: f64| Uncertain {
                clear_sky: None,
                conditions: conditions(totality_s, clear),
                totality_s: [totality_s; DELTA_T_NODES.len()],
            };
            let sites = [certain(40.0 + 100.0 * d1, 0.4), certain(40.0, 0.4 + d2)];
            let r = draw(&scorer, &sites, &RobustnessKeys { weight_spread: spread, ..keys(DRAWS) });
            assert!((r.duels[0].chance - expected).abs() < FOUR_SIGMA, "{row:?} {:?}", r.duels[0]);
        }
    }

    #[test]
    fn words_say_when_two_sites_cannot_be_told_apart() {
        assert!(words("A", "B", 0.56).contains("cannot be told apart: A is ahead in 56 %"));
        assert!(words("A", "B", 0.8).contains("probably ahead"));
        assert!(words("A", "B", 0.97).contains("A is ahead of B in 97 %"));
    }
}
