//! The score of a grid point, and the best that it can be while its skyline is not yet known.

use super::Search;
use crate::criteria;
use crate::plan::Mean;
use crate::score::Scorer;
use crate::utility::Curve;

/// A criterion as the grid computes it.
enum Kind {
    Totality,
    SunAltitude,
    ClearSky,
    ClearTotality,
    ShadowBands,
    HorizonMargin,
}

fn kind(name: &str) -> Option<Kind> {
    Some(match name {
        "totality" => Kind::Totality,
        "sun_altitude" => Kind::SunAltitude,
        "clear_sky" => Kind::ClearSky,
        "clear_totality" => Kind::ClearTotality,
        "shadow_bands" => Kind::ShadowBands,
        "horizon_margin" => Kind::HorizonMargin,
        _ => return None,
    })
}

/// Whether the grid can score a criterion; a margin above the skyline only where there is terrain.
pub fn can_score(criterion: &str, terrain: bool) -> bool {
    let known = kind(criterion).filter(|k| terrain || !matches!(k, Kind::HorizonMargin));
    known.is_some() && criteria::built_in(criterion).is_some()
}

/// The names of weighted criteria that a grid point cannot have.
pub fn left_out(scorer: &Scorer, terrain: bool) -> Vec<&str> {
    let weighted = scorer.terms.iter().filter(|t| t.weight > 0.0);
    weighted.filter(|t| !can_score(&t.name, terrain)).map(|t| t.name.as_str()).collect()
}

/// How far the Sun stands above the skyline in totality, as far as that is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Margin {
    /// There is no skyline to ask, or none for this point.
    None,
    /// Not more than this, degrees.
    AtMost(f64),
    /// This, degrees.
    Known(f64),
}

/// Plain numbers of a point.
#[derive(Clone, Copy)]
pub(super) struct Point {
    pub totality_s: f64,
    pub sun_altitude_deg: f64,
    pub clear_sky: Option<f64>,
    pub shadow_bands: f64,
    pub margin: Margin,
}

impl Kind {
    fn value(&self, p: &Point) -> Option<f64> {
        match self {
            Kind::Totality => Some(p.totality_s),
            Kind::SunAltitude => Some(p.sun_altitude_deg),
            Kind::ClearSky => p.clear_sky,
            Kind::ClearTotality => p.clear_sky.map(|c| c * p.totality_s),
            Kind::ShadowBands => Some(p.shadow_bands),
            Kind::HorizonMargin => match p.margin {
                Margin::None => None,
                Margin::AtMost(deg) | Margin::Known(deg) => Some(deg),
            },
        }
    }

    fn needs_clouds(&self) -> bool {
        matches!(self, Kind::ClearSky | Kind::ClearTotality)
    }

    /// Utility of a point: of a margin that is not known yet, the best that it may come to.
    fn utility(&self, curve: &Curve, p: &Point) -> Option<f64> {
        match (self, p.margin) {
            (Kind::HorizonMargin, Margin::AtMost(most)) => {
                let corners = curve.points.iter().filter(|c| c.0 <= most).map(|c| c.1);
                Some(corners.fold(curve.utility(most), f64::max))
            }
            _ => self.value(p).map(|value| curve.utility(value)),
        }
    }
}

/// A weighted criterion of a point.
struct Term<'a> {
    kind: Kind,
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
    requirements: Vec<(Kind, Option<f64>, Option<f64>)>,
    /// Whether a longer totality never makes a lower score.
    pub rises_with_totality: bool,
}

impl<'a> PointScorer<'a> {
    pub fn new(search: &Search<'a>) -> PointScorer<'a> {
        let terrain = search.ground.is_some();
        let kind = |name: &str| kind(name).filter(|_| can_score(name, terrain));
        let weighted = search.scorer.terms.iter().filter(|t| t.weight > 0.0);
        let terms: Vec<Term> = weighted
            .filter_map(|t| Some(Term { kind: kind(&t.name)?, curve: &t.curve, weight: t.weight, missing: t.missing }))
            .collect();
        let requirements: Vec<(Kind, Option<f64>, Option<f64>)> =
            search.requirements.iter().filter_map(|r| Some((kind(&r.criterion)?, r.at_least, r.at_most))).collect();
        let total_weight = terms.iter().map(|t| t.weight).sum();
        let of_totality = |k: &Kind| matches!(k, Kind::Totality | Kind::ClearTotality);
        let rising = |curve: &Curve| curve.points.windows(2).all(|c| c[0].1 <= c[1].1);
        let rises_with_totality = terms.iter().filter(|t| of_totality(&t.kind)).all(|t| rising(t.curve))
            && !requirements.iter().any(|r| of_totality(&r.0) && r.2.is_some());
        PointScorer { mean: search.scorer.mean, terms, total_weight, requirements, rises_with_totality }
    }

    fn needs(&self, wanted: impl Fn(&Kind) -> bool) -> bool {
        self.terms.iter().any(|t| wanted(&t.kind)) || self.requirements.iter().any(|r| wanted(&r.0))
    }

    pub fn needs_clouds(&self) -> bool {
        self.needs(Kind::needs_clouds)
    }

    pub fn needs_bands(&self) -> bool {
        self.needs(|k| matches!(k, Kind::ShadowBands))
    }

    /// Whether a point that no terrain covers can be in: where the wish says what a missing margin is worth.
    pub fn takes_unknown_ground(&self) -> bool {
        let told = self.terms.iter().any(|t| matches!(t.kind, Kind::HorizonMargin) && t.missing.is_some());
        told && !self.requirements.iter().any(|r| matches!(r.0, Kind::HorizonMargin))
    }

    /// `None` where a requirement is not met or a figure is missing.
    pub fn score(&self, p: &Point) -> Option<f64> {
        for (kind, least, most) in &self.requirements {
            let value = kind.value(p)?;
            // A margin that is not known yet may still turn out less.
            let open = matches!(kind, Kind::HorizonMargin) && matches!(p.margin, Margin::AtMost(_));
            if least.is_some_and(|l| value < l) || !open && most.is_some_and(|m| value > m) {
                return None;
            }
        }
        let mut sum = 0.0;
        for Term { kind, curve, weight, missing } in &self.terms {
            let margin = if matches!(kind, Kind::HorizonMargin) { *missing } else { None };
            let utility = kind.utility(curve, p).or(margin)?;
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
