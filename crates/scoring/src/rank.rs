//! The ranking: every candidate with what was found out about it, its score and its place.

use crate::assess::Assessed;
use crate::clocks::Clocks;
use crate::compare::SideBySide;
use crate::fallback::{DriveSource, JointChance};
use crate::forecast::ForecastMoves;
use crate::plan::Mean;
use crate::provenance::Provenance;
use crate::score::{Scorer, Term};
use crate::sensitivity::WeightChange;
use crate::wording;

/// The whole result of the main job.
#[derive(Clone, Debug)]
pub struct Ranking {
    /// File name of the plan.
    pub plan: String,
    /// Title of the report, where the plan gives one.
    pub title: Option<String>,
    /// Name of the group, where the plan gives one.
    pub group: Option<String>,
    /// UTC date of greatest eclipse.
    pub eclipse: String,
    /// Kind of the eclipse.
    pub kind: String,
    /// ΔT in use, s.
    pub delta_t_s: f64,
    /// ΔT with its origin and what its uncertainty means on the ground.
    pub delta_t: DeltaTNote,
    /// Whether UTC lies past the end of the leap-second table, so that clocks may differ by a second.
    pub utc_is_predicted: bool,
    /// How the score is made.
    pub method: Method,
    /// What each hard requirement removed.
    pub requirements: Vec<RequirementTally>,
    /// All candidates: ranked ones in order, then the rejected ones in the order of the input.
    pub sites: Vec<RankedSite>,
    /// How sure the order is.
    pub robustness: RobustnessNote,
    /// What would have to change for each of the next sites to be first.
    pub sensitivity: Vec<Sensitivity>,
    /// Places that no other beats in duration, clear sky and Sun's altitude together.
    pub pareto: ParetoFront,
    /// Base, fallbacks and the best pair.
    pub fallback: Option<FallbackPlan>,
    /// What the search of the path did.
    pub search: Option<SearchNote>,
    /// What a forecast moved.
    pub forecast: Option<ForecastMoves>,
    /// Low Sun against high Sun.
    pub side_by_side: Option<SideBySide>,
    /// What a reader must know about the figures, a sentence each.
    pub notes: Vec<String>,
    /// Where everything comes from.
    pub provenance: Provenance,
}

/// ΔT as an output gives it.
#[derive(Clone, Debug, PartialEq)]
pub struct DeltaTNote {
    /// Value, s.
    pub seconds: f64,
    /// One standard deviation, s.
    pub sigma_s: f64,
    /// Where it comes from.
    pub origin: String,
    /// How far one standard deviation moves the path in longitude at the latitude of greatest eclipse, km.
    pub sigma_shift_km: f64,
}

/// How the score is made.
#[derive(Clone, Debug)]
pub struct Method {
    /// Which mean.
    pub mean: Mean,
    /// The profile that the weights started from.
    pub profile: Option<String>,
    /// How the shares make up the score.
    pub shares: &'static str,
    /// The criteria, with weight, wish and unit.
    pub criteria: Vec<Term>,
}

impl Method {
    /// How a scorer makes the score.
    pub fn of(scorer: &Scorer, profile: Option<String>) -> Method {
        let shares = match scorer.mean {
            Mean::Arithmetic => "the shares add up to the score",
            Mean::Geometric => "the shares multiply to the score",
        };
        Method { mean: scorer.mean, profile, shares, criteria: scorer.terms.clone() }
    }
}

/// What a hard requirement removed.
#[derive(Clone, Debug, PartialEq)]
pub struct RequirementTally {
    /// The key in the plan.
    pub key: String,
    /// The value required.
    pub value: f64,
    /// How many candidates inside the path do not meet it.
    pub removed: usize,
    /// How many candidates inside the path were asked.
    pub of: usize,
}

/// One criterion of one site.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CriterionScore {
    /// The value, `None` where the input for it is missing.
    pub value: Option<f64>,
    /// Utility, 0 to 1.
    pub utility: Option<f64>,
    /// What it contributes to the score, see [`Method::shares`].
    pub share: Option<f64>,
}

/// One candidate in the ranking.
#[derive(Clone, Debug)]
pub struct RankedSite {
    /// Rank, from 1; `None` for a rejected site.
    pub rank: Option<usize>,
    /// What was found out about it.
    pub found: Assessed,
    /// Score, 0 to 1; `None` for a rejected site.
    pub score: Option<f64>,
    /// In the order of [`Method::criteria`].
    pub criteria: Vec<CriterionScore>,
    /// What to beware of although the site is in.
    pub warnings: Vec<String>,
    /// Best and worst rank of the interval.
    pub rank_interval: Option<[usize; 2]>,
    /// Chance of being first.
    pub chance_first: Option<f64>,
    /// Chance of being among the first three.
    pub chance_top_three: Option<f64>,
    /// Sites that are at least as good in every weighted criterion and better in one.
    pub dominated_by: Vec<String>,
    /// The best fallback of this site as a base.
    pub fallback: Option<FallbackNote>,
    /// The way here from the base that the plan names.
    pub from_base: Option<FallbackNote>,
}

impl RankedSite {
    /// Before what the draws and the fallbacks add.
    pub fn new(found: Assessed, scorer: &Scorer, rank: Option<usize>) -> RankedSite {
        let utilities = scorer.utilities(&found.conditions());
        let values = scorer.values(&found.conditions()).into_iter();
        let scored = values.zip(&utilities).zip(scorer.shares(&utilities));
        RankedSite {
            rank,
            score: found.rejected.is_empty().then(|| scorer.score(&utilities)),
            criteria: scored.map(|((value, &utility), share)| CriterionScore { value, utility, share }).collect(),
            found,
            warnings: Vec::new(),
            rank_interval: None,
            chance_first: None,
            chance_top_three: None,
            dominated_by: Vec::new(),
            fallback: None,
            from_base: None,
        }
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.found.place.name
    }
}

/// How sure the order is.
#[derive(Clone, Debug, PartialEq)]
pub struct RobustnessNote {
    /// Number of draws.
    pub draws: u64,
    /// Seed.
    pub seed: u64,
    /// Relative spread of the weights.
    pub weight_spread: f64,
    /// One standard deviation of ΔT, s.
    pub delta_t_sigma_s: f64,
    /// Fraction of the draws inside a rank interval.
    pub interval: f64,
    /// How many sites took part.
    pub sites: usize,
    /// Pairs of sites.
    pub pairs: Vec<Pair>,
}

/// Two sites over the draws.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// The site ranked higher.
    pub upper: String,
    /// The site ranked lower.
    pub lower: String,
    /// Fraction of the draws in which the upper one comes out above.
    pub chance: f64,
    /// Whether the two can be told apart.
    pub told_apart: bool,
    /// The same in words.
    pub words: String,
}

/// What would put a site first.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensitivity {
    /// The site.
    pub site: String,
    /// Its rank.
    pub rank: usize,
    /// The smallest change of one weight, `None` where no single weight does it.
    pub change: Option<WeightChange>,
    /// The same in words.
    pub words: String,
}

/// The Pareto front.
#[derive(Clone, Debug, PartialEq)]
pub struct ParetoFront {
    /// The quantities held against each other; more of each is better.
    pub axes: [&'static str; 3],
    /// Names of the sites on the front, by rank.
    pub front: Vec<String>,
}

/// A fallback as an output gives it.
#[derive(Clone, Debug, PartialEq)]
pub struct FallbackNote {
    /// Where to stay.
    pub base: String,
    /// Where to flee.
    pub name: String,
    /// Drive on free roads, hours; departures allow for traffic besides.
    pub drive_hours: f64,
    /// Where the drive comes from.
    pub drive_source: DriveSource,
    /// The two countries (ISO 3166-1 alpha-2) where the drive goes over a border; null within one.
    pub border: Option<[String; 2]>,
    /// Chance of a clear sky at the base alone; null where it is not known.
    pub base_clear: Option<f64>,
    /// Chance of a clear sky at the fallback alone; null where it is not known.
    pub clear: Option<f64>,
    /// Chance of at least one clear sky; null where either is not known.
    pub joint: Option<JointChance>,
    /// Expected seconds of clear totality of the pair; null where a chance is not known.
    pub expected_clear_totality_s: Option<f64>,
    /// Latest time to decide and leave so as to be set up before first contact, by the clocks of the base.
    pub leave_by_c1: Clocks,
    /// Latest time to decide and leave so as to be set up, at worst, before second contact.
    pub leave_by_c2: Clocks,
    /// In words.
    pub words: String,
}

/// Base and fallbacks.
#[derive(Clone, Debug, PartialEq)]
pub struct FallbackPlan {
    /// The base.
    pub base: String,
    /// Where the base is.
    pub base_at: BaseNote,
    /// Longest drive accepted, hours.
    pub limit_hours: f64,
    /// Departures allow for drives so many times as long as on free roads.
    pub traffic: f64,
    /// Minutes to set up before first contact, and at worst before second contact.
    pub setup_minutes: [f64; 2],
    /// How drives were found.
    pub drives: String,
    /// The base's fallbacks, best first.
    pub fallbacks: Vec<FallbackNote>,
    /// The best base and fallback of all candidates.
    pub best_pair: Option<FallbackNote>,
    /// The best single site by expected clear totality and its seconds.
    pub best_single: Option<(String, f64)>,
    /// Whether the best pair promises more than the best single site, in words.
    pub words: String,
    /// Pairs that the matrix lacks although they might be within the limit.
    pub missing_pairs: Vec<String>,
    /// The nearest pairs that the estimate does not offer because water lies between.
    pub over_water: Vec<String>,
}

impl Ranking {
    /// What is said of a ranked site that no drive leads to from the group's own base.
    pub fn without_a_way(&self, site: &RankedSite) -> Option<String> {
        let plan = self.fallback.as_ref().filter(|_| site.rank.is_some() && site.from_base.is_none())?;
        plan.without_a_way()
    }
}

impl FallbackPlan {
    /// Said of every site that no drive leads to from a base of the group's own: nobody must take another departure for that one.
    pub fn without_a_way(&self) -> Option<String> {
        (!self.base_at.is_site).then(|| {
            format!(
                "No drive from {} within {} is known, so no time to leave there is told.",
                self.base,
                wording::hours(self.limit_hours)
            )
        })
    }
}

/// Where a base is.
#[derive(Clone, Debug, PartialEq)]
pub struct BaseNote {
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east.
    pub lon_deg: f64,
    /// Civil time zone.
    pub zone: Option<String>,
    /// Whether it is one of the sites.
    pub is_site: bool,
    /// Seconds of totality at the base itself; 0 outside the path or for a rejected site.
    pub totality_s: f64,
}

/// What the search did.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchNote {
    /// Grid spacing, km.
    pub spacing_km: f64,
    /// Where was searched, in words: `land`, or the polygon's file.
    pub region: String,
    /// Whether height and skyline of the ground were used.
    pub terrain: bool,
    /// How far from a road the places may be, km; null without roads.
    pub road_distance_km: Option<f64>,
    /// Grid points of the region near the path.
    pub points: u64,
    /// Of those, inside the path with the Sun up.
    pub in_path: u64,
    /// Of those, with a cloud figure and meeting the requirements.
    pub eligible: u64,
    /// Grid points that were left out, by the reason.
    pub dropped: SearchDropped,
    /// How many places were asked for and how many found.
    pub asked: usize,
    /// How many were found.
    pub found: usize,
    /// Least distance between them, km.
    pub apart_km: f64,
    /// In words.
    pub words: String,
}

/// How many grid points a search left out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SearchDropped {
    /// Near the path, at sea.
    pub sea: u64,
    /// Near the path, on lakes.
    pub lake: u64,
    /// In the path, too far from every road.
    pub road: u64,
    /// In the path, where the terrain has no height.
    pub no_terrain: u64,
    /// In the path, too steep.
    pub slope: u64,
    /// In the path, with the Sun behind the skyline in totality, of those that were asked; of a swept tile those that it hides at maximum.
    pub hidden_sun: u64,
    /// How many were asked: those that could be among the best with a free horizon.
    pub skylines_asked: u64,
}

/// What decides where a place comes in the ranking.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Score; below 0 for a rejected place.
    pub score: f64,
    /// Expected seconds of clear totality; below 0 where there is no cloud figure.
    pub expected_s: f64,
    /// Seconds of totality.
    pub totality_s: f64,
    /// Place in the input.
    pub index: u64,
}

impl Standing {
    /// Of a place; `score` is `None` for a rejected one.
    pub fn of(assessed: &Assessed, score: Option<f64>, index: u64) -> Standing {
        let Some(score) = score else { return Standing { score: -1.0, expected_s: 0.0, totality_s: 0.0, index } };
        let totality_s = assessed.numbers.totality_s;
        // A place without a cloud figure comes after one with the same score and any.
        let expected_s = assessed.numbers.clear_sky.map_or(-1.0, |clear| clear * totality_s);
        Standing { score, expected_s, totality_s, index }
    }

    /// Whether the place is ranked.
    pub fn is_ranked(&self) -> bool {
        self.score >= 0.0
    }

    /// Order of the ranking: by score; equal scores by expected clear totality, totality, name, and order of the input. Rejected places
    /// follow in the order of the input.
    pub fn before(&self, name: &str, other: &Standing, other_name: &str) -> std::cmp::Ordering {
        let by_figures = other
            .score
            .total_cmp(&self.score)
            .then_with(|| other.expected_s.total_cmp(&self.expected_s))
            .then_with(|| other.totality_s.total_cmp(&self.totality_s));
        let by_name = || if self.is_ranked() { name.cmp(other_name) } else { std::cmp::Ordering::Equal };
        by_figures.then_with(by_name).then_with(|| self.index.cmp(&other.index))
    }
}

/// Order of the ranking, see [`Standing::before`].
///
/// `scores[i]` is `None` for a rejected site.
pub fn order(assessed: &[Assessed], scores: &[Option<f64>]) -> Vec<usize> {
    let mut standings: Vec<Standing> =
        assessed.iter().zip(scores).zip(0..).map(|((a, score), i)| Standing::of(a, *score, i)).collect();
    let name = |s: &Standing| assessed[s.index as usize].place.name.as_str();
    standings.sort_unstable_by(|a, b| a.before(name(a), b, name(b)));
    standings.iter().map(|s| s.index as usize).collect()
}
