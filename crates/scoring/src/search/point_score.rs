//! The score of a grid point, and the best that it can be while its skyline is not yet known.

use super::Search;
use crate::criteria::{self, Criterion, Numbers};
use crate::plan::Mean;
use crate::score::Scorer;
use crate::utility::Curve;

/// Whether the grid can score a criterion; one of the skyline only where there is terrain.
pub fn can_score(criterion: &str, terrain: bool) -> bool {
    scorable(criterion, terrain).is_some()
}

fn scorable(criterion: &str, terrain: bool) -> Option<&'static Criterion> {
    criteria::built_in(criterion).filter(|c| terrain || !c.is_of_skyline())
}

/// The names of weighted criteria that a grid point cannot have.
pub fn left_out(scorer: &Scorer, terrain: bool) -> Vec<&str> {
    let weighted = scorer.terms.iter().filter(|t| t.weight > 0.0);
    weighted.filter(|t| !can_score(&t.name, terrain)).map(|t| t.name.as_str()).collect()
}

/// What a figure may come to: one value once it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Span {
    pub least: f64,
    pub most: f64,
}

/// What is known of a point.
#[derive(Clone, Copy)]
pub(super) struct Point {
    /// Its numbers; of those that are not known yet, the most that they may come to.
    pub most: Numbers,
    /// The least that totality may last.
    pub least_totality_s: f64,
    /// Whether the margin above the skyline is still to be asked for.
    pub margin_open: bool,
}

impl Point {
    /// With another totality.
    pub fn lasting(self, totality_s: Span) -> Point {
        let most = Numbers { totality_s: totality_s.most, ..self.most };
        Point { most, least_totality_s: totality_s.least, ..self }
    }

    /// With a margin above the skyline that is known, or with the most that it may be.
    pub fn with_margin(self, deg: f64, margin_open: bool) -> Point {
        Point { most: Numbers { horizon_margin_deg: Some(deg), ..self.most }, margin_open, ..self }
    }

    /// The least that its numbers may come to; `None` where all are known.
    fn least(&self) -> Option<Numbers> {
        if !self.margin_open && self.least_totality_s == self.most.totality_s {
            return None;
        }
        let horizon_margin_deg = if self.margin_open { Some(f64::NEG_INFINITY) } else { self.most.horizon_margin_deg };
        Some(Numbers { totality_s: self.least_totality_s, horizon_margin_deg, ..self.most })
    }
}

/// The number of a criterion.
type Value = fn(&Numbers) -> Option<f64>;

/// What a criterion's number may come to between the least and the most of a point's: [`Criterion::value`] never falls.
fn span(value: Value, least: Option<&Numbers>, most: &Numbers) -> Option<Span> {
    let most = value(most)?;
    let least = match least {
        Some(least) => value(least)?,
        None => most,
    };
    Some(Span { least, most })
}

impl Span {
    /// The greatest utility that it may have.
    fn utility(self, curve: &Curve) -> f64 {
        if self.least == self.most { curve.utility(self.most) } else { curve.best_within(self.least, self.most) }
    }
}

/// A weighted criterion of a point.
struct Term<'a> {
    value: Value,
    curve: &'a Curve,
    weight: f64,
    /// Utility of a margin that no terrain can tell, where the wish gives one.
    missing: Option<f64>,
}

/// The score of a point, by the terms that it has.
pub(super) struct PointScorer<'a> {
    mean: Mean,
    terms: Vec<Term<'a>>,
    total_weight: f64,
    requirements: Vec<(Value, Option<f64>, Option<f64>)>,
    /// Whether any of them asks for the chance of a clear sky.
    pub needs_clouds: bool,
    /// Whether any of them asks for the outlook for shadow bands.
    pub needs_bands: bool,
    /// Whether a point that no terrain covers can be in: where the wish says what a missing margin is worth.
    pub takes_unknown_ground: bool,
}

impl<'a> PointScorer<'a> {
    pub fn new(search: &Search<'a>) -> PointScorer<'a> {
        let known = |name: &str| scorable(name, search.ground.is_some());
        let weighted = search.scorer.terms.iter().filter(|t| t.weight > 0.0);
        let weighted: Vec<_> = weighted.filter_map(|t| Some((known(&t.name)?, t))).collect();
        let required: Vec<_> = search.requirements.iter().filter_map(|r| Some((known(&r.criterion)?, r))).collect();
        let asked: Vec<&Criterion> = weighted.iter().map(|w| w.0).chain(required.iter().map(|r| r.0)).collect();
        let needs = |of: fn(&Criterion) -> bool| asked.iter().any(|c| of(c));
        let terms: Vec<Term> = weighted
            .iter()
            .map(|(criterion, t)| Term {
                value: criterion.value,
                curve: &t.curve,
                weight: t.weight,
                missing: t.missing.filter(|_| criterion.is_of_skyline()),
            })
            .collect();
        PointScorer {
            mean: search.scorer.mean,
            total_weight: terms.iter().map(|t| t.weight).sum(),
            requirements: required.iter().map(|(criterion, r)| (criterion.value, r.at_least, r.at_most)).collect(),
            needs_clouds: needs(Criterion::is_of_cloud),
            needs_bands: needs(Criterion::is_of_bands),
            takes_unknown_ground: terms.iter().any(|t| t.missing.is_some())
                && !required.iter().any(|(criterion, _)| criterion.is_of_skyline()),
            terms,
        }
    }

    /// The score; of figures that are not known yet, a score that it cannot surpass. `None` where a requirement cannot be
    /// met or a figure is missing.
    pub fn score(&self, p: &Point) -> Option<f64> {
        let least = p.least();
        for (value, at_least, at_most) in &self.requirements {
            let span = span(*value, least.as_ref(), &p.most)?;
            if at_least.is_some_and(|l| span.most < l) || at_most.is_some_and(|m| span.least > m) {
                return None;
            }
        }
        let mut sum = 0.0;
        for Term { value, curve, weight, missing } in &self.terms {
            let utility = span(*value, least.as_ref(), &p.most).map(|span| span.utility(curve)).or(*missing)?;
            sum += weight
                * match self.mean {
                    Mean::Arithmetic => utility,
                    Mean::Geometric => utility.ln(),
                };
        }
        let mean = if self.total_weight > 0.0 { sum / self.total_weight } else { 0.0 };
        Some(match self.mean {
            Mean::Arithmetic => mean,
            Mean::Geometric => mean.exp(),
        })
    }
}
