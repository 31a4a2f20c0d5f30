//! From utilities and weights to one score: a weighted mean, arithmetic or geometric.

use crate::criteria::{self, BUILT_IN, Conditions, Criterion, EclipseScale};
use crate::outlook::words::reasons;
use crate::plan::{Mean, Plan};
use crate::utility::Curve;

/// One criterion as it enters the score.
#[derive(Clone, Debug, PartialEq)]
pub struct Term {
    /// Name in plans and outputs.
    pub name: String,
    /// Name for people.
    pub label: String,
    /// Unit of the value; empty for a pure number.
    pub unit: String,
    /// What the number is.
    pub about: String,
    /// Weight as the plan gives it.
    pub weight: f64,
    /// Utility by value.
    pub curve: Curve,
    /// Utility of a place without a value; `None` rejects such a place.
    pub missing: Option<f64>,
    /// What is missing when there is no value, for a reason in words.
    pub missing_words: String,
}

impl Term {
    /// Why a place without a value cannot be scored, where the term has weight.
    pub fn gap(&self) -> String {
        reasons::cannot_be_scored(&self.name, &self.missing_words)
    }
}

/// Every criterion of a plan, and how they are put together.
#[derive(Clone, Debug, PartialEq)]
pub struct Scorer {
    /// Which mean.
    pub mean: Mean,
    /// The built-in criteria in their fixed order (weight 0 where the plan gives none), then the plan's columns.
    pub terms: Vec<Term>,
}

impl Scorer {
    /// The criteria of a plan, with the default wishes set by the eclipse where the plan gives none.
    pub fn new(plan: &Plan, scale: &EclipseScale) -> Scorer {
        let weight = |name: &str| plan.weights.iter().find(|w| w.criterion == name).map_or(0.0, |w| w.weight);
        let built_in = BUILT_IN.iter().map(|c| {
            let wish = plan.wishes.get(c.name);
            Term {
                name: c.name.to_string(),
                label: c.label.to_string(),
                unit: c.unit.to_string(),
                about: c.about.to_string(),
                weight: weight(c.name),
                curve: wish.and_then(|w| w.curve.clone()).unwrap_or_else(|| (c.default_wish)(scale)),
                missing: wish.and_then(|w| w.missing),
                missing_words: c.missing.to_string(),
            }
        });
        let columns =
            plan.wishes.iter().filter(|(name, _)| criteria::built_in(name).is_none()).filter_map(|(name, wish)| {
                Some(Term {
                    name: name.clone(),
                    label: name.replace('_', " "),
                    unit: wish.unit.clone().unwrap_or_default(),
                    about: format!("Column {name} of the sites table."),
                    weight: weight(name),
                    curve: wish.curve.clone()?,
                    missing: wish.missing,
                    missing_words: format!("no value in column {name}"),
                })
            });
        Scorer { mean: plan.score.mean, terms: built_in.chain(columns).collect() }
    }

    /// Weights in the order of the terms.
    pub fn weights(&self) -> Vec<f64> {
        self.terms.iter().map(|t| t.weight).collect()
    }

    /// Values in the order of the terms.
    pub fn values(&self, conditions: &Conditions<'_>) -> Vec<Option<f64>> {
        self.terms.iter().map(|t| criteria::value(&t.name, conditions)).collect()
    }

    /// Utilities in the order of the terms; the plan's own utility for a missing value, else `None`.
    pub fn utilities(&self, conditions: &Conditions<'_>) -> Vec<Option<f64>> {
        let values = self.values(conditions);
        self.terms.iter().zip(values).map(|(t, v)| v.map(|v| t.curve.utility(v)).or(t.missing)).collect()
    }

    /// Why a place cannot be scored: one reason for every weighted criterion without a value.
    pub fn gaps(&self, utilities: &[Option<f64>]) -> Vec<String> {
        self.terms.iter().zip(utilities).filter(|(t, u)| t.weight > 0.0 && u.is_none()).map(|(t, _)| t.gap()).collect()
    }

    /// Whether a place cannot be scored for want of a cloud figure.
    pub fn misses_cloud(&self, utilities: &[Option<f64>]) -> bool {
        let of_cloud = |name: &str| criteria::built_in(name).is_some_and(Criterion::is_of_cloud);
        self.terms.iter().zip(utilities).any(|(t, u)| t.weight > 0.0 && u.is_none() && of_cloud(&t.name))
    }

    /// The score, 0 to 1. A term without a utility counts as 0; [`Scorer::gaps`] tells of those that matter.
    pub fn score(&self, utilities: &[Option<f64>]) -> f64 {
        weighted_mean(self.mean, self.terms.iter().zip(utilities).map(|(t, u)| (u.unwrap_or(0.0), t.weight)))
    }

    /// What each criterion contributes: for the arithmetic mean the addends, for the geometric mean the factors, of the
    /// score. `None` where there is no utility; a term of weight 0 adds 0 or multiplies by 1.
    pub fn shares(&self, utilities: &[Option<f64>]) -> Vec<Option<f64>> {
        let total: f64 = self.terms.iter().map(|t| t.weight).sum();
        let share = |(t, u): (&Term, &Option<f64>)| {
            let u = (*u)?;
            let part = t.weight / total;
            Some(match self.mean {
                Mean::Arithmetic => part * u,
                Mean::Geometric => u.powf(part),
            })
        };
        self.terms.iter().zip(utilities).map(share).collect()
    }
}

/// Weighted mean of `(utility, weight)` pairs; 0 when all weights are 0.
///
/// The geometric mean is 0 as soon as one weighted utility is 0.
///
/// ```
/// use noonfall_scoring::plan::Mean;
/// use noonfall_scoring::score::weighted_mean;
/// let pairs = [(1.0, 1.0), (0.25, 1.0)];
/// assert_eq!(weighted_mean(Mean::Arithmetic, pairs), 0.625);
/// assert_eq!(weighted_mean(Mean::Geometric, pairs), 0.5);
/// ```
pub fn weighted_mean(mean: Mean, pairs: impl IntoIterator<Item = (f64, f64)>) -> f64 {
    let (mut sum, mut weights) = (0.0, 0.0);
    for (utility, weight) in pairs {
        if weight > 0.0 {
            weights += weight;
            sum += match mean {
                Mean::Arithmetic => weight * utility,
                Mean::Geometric => weight * utility.ln(),
            };
        }
    }
    if weights <= 0.0 {
        return 0.0;
    }
    match mean {
        Mean::Arithmetic => sum / weights,
        Mean::Geometric => (sum / weights).exp(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::criteria::Numbers;
    use std::collections::BTreeMap;
    use std::path::Path;
    use std::sync::LazyLock;

    fn scorer(mean: &str) -> Scorer {
        let text = format!(
            "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n[score]\nmean = \"{mean}\"\n[weights]\ntotality = 2\nclear_sky = 1\ndrive_hours = 1\n\
             [wish.totality]\nbetter = \"higher\"\nfrom = 0\nto = 200\n[wish.drive_hours]\nbetter = \"lower\"\nfrom = 0\nto = 10\nunit = \"h\"\n"
        );
        let plan = Plan::parse(&text, "plan.toml", Path::new("")).unwrap();
        Scorer::new(&plan, &EclipseScale { longest_totality_s: 300.0 })
    }

    fn conditions() -> Conditions<'static> {
        static COLUMNS: LazyLock<BTreeMap<String, f64>> = LazyLock::new(|| [("drive_hours".to_string(), 5.0)].into());
        let numbers = Numbers { totality_s: 100.0, sun_altitude_deg: 30.0, clear_sky: Some(0.8), ..Numbers::default() };
        Conditions { numbers, columns: &COLUMNS }
    }

    #[test]
    fn worked_by_hand_arithmetic() {
        // u: totality 100/200 = 0.5 (weight 2), clear 0.8 (1), drive (10-5)/10 = 0.5 (1): (1.0 + 0.8 + 0.5) / 4 = 0.575.
        let s = scorer("arithmetic");
        let u = s.utilities(&conditions());
        assert!((s.score(&u) - 0.575).abs() < 1e-15);
        let shares: f64 = s.shares(&u).into_iter().flatten().sum();
        assert!((shares - 0.575).abs() < 1e-15, "shares add up to the score");
        assert!(s.gaps(&u).is_empty(), "a criterion of weight 0 may lack its value");
    }

    #[test]
    fn worked_by_hand_geometric() {
        // (0.5^2 * 0.8 * 0.5)^(1/4) = 0.1^(1/4) = 0.562341...
        let s = scorer("geometric");
        let u = s.utilities(&conditions());
        assert!((s.score(&u) - 0.562_341_325_190_349_1).abs() < 1e-14);
        let shares: f64 = s.shares(&u).into_iter().flatten().product();
        assert!((shares - s.score(&u)).abs() < 1e-14, "shares multiply to the score");
        let mut grey = conditions();
        grey.numbers.clear_sky = Some(0.0);
        assert_eq!(s.score(&s.utilities(&grey)), 0.0);
    }

    #[test]
    fn a_missing_value_is_a_gap_unless_the_plan_says_what_it_is_worth() {
        let mut s = scorer("arithmetic");
        let lost = conditions().numbers.into();
        assert_eq!(s.gaps(&s.utilities(&lost)), ["drive_hours cannot be scored: no value in column drive_hours"]);
        if let Some(term) = s.terms.iter_mut().find(|t| t.name == "drive_hours") {
            term.missing = Some(0.25);
        }
        // (1.0 + 0.8 + 0.25) / 4
        assert!((s.score(&s.utilities(&lost)) - 0.5125).abs() < 1e-15);
    }
}
