//! Closer to the day: what a forecast in place of the climatology moves, and why.

use std::collections::HashMap;

use crate::clocks::rounded;
use crate::rank::{CriterionScore, Method, RankedSite};

/// What a forecast moved.
#[derive(Clone, Debug, PartialEq)]
pub struct ForecastMoves {
    /// Forecast file.
    pub file: String,
    /// Every site whose rank changed, and the first three whether or not they moved.
    pub moves: Vec<Move>,
    /// In words.
    pub words: String,
}

/// One site before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// The site.
    pub name: String,
    /// Rank by climatology; `None` if rejected.
    pub rank_before: Option<usize>,
    /// Rank by forecast; `None` if rejected.
    pub rank_after: Option<usize>,
    /// Score by climatology.
    pub score_before: Option<f64>,
    /// Score by forecast.
    pub score_after: Option<f64>,
    /// Why.
    pub why: String,
}

/// Compares the ranking by climatology with that by forecast.
pub fn moves(file: &str, method: &Method, before: &[RankedSite], after: &[RankedSite]) -> ForecastMoves {
    let mut moves = Vec::new();
    let before_by_name: HashMap<&str, &RankedSite> = before.iter().map(|s| (s.name(), s)).collect();
    for now in after {
        let Some(then) = before_by_name.get(now.name()).copied() else { continue };
        if then.rank != now.rank || now.rank.is_some_and(|r| r <= 3) {
            moves.push(Move {
                name: now.name().to_owned(),
                rank_before: then.rank,
                rank_after: now.rank,
                score_before: then.figures().score,
                score_after: now.figures().score,
                why: why(method, then, now),
            });
        }
    }
    let first = |sites: &[RankedSite]| sites.first().filter(|s| s.rank == Some(1)).map(|s| s.name().to_owned());
    let words = match (first(before), first(after)) {
        (Some(old), Some(new)) if old == new => format!("{new} stays first with the forecast of {file}."),
        (Some(old), Some(new)) => format!("With the forecast of {file}, {new} takes first place from {old}."),
        (None, Some(new)) => format!("With the forecast of {file}, {new} is first."),
        _ => format!("With the forecast of {file} no site is left."),
    };
    ForecastMoves { file: file.to_string(), moves, words }
}

/// Why a site moved: the criterion whose share changed most, and where its own did not, that others did.
fn why(method: &Method, then: &RankedSite, now: &RankedSite) -> String {
    let (before, after) = (&then.found.rejected, &now.found.rejected);
    if before.is_empty() && !after.is_empty() {
        return format!("now rejected: {}", after.join("; "));
    }
    if !before.is_empty() && after.is_empty() {
        return "no longer rejected".to_string();
    }
    let change = |a: &CriterionScore, b: &CriterionScore| Some((b.share? - a.share?, a.value?, b.value?));
    let largest = method
        .criteria
        .iter()
        .zip(then.criteria.iter().zip(&now.criteria))
        .filter_map(|(term, (a, b))| change(a, b).filter(|_| term.weight > 0.0).map(|x| (term, x)))
        .max_by(|a, b| a.1.0.abs().total_cmp(&b.1.0.abs()));
    match largest {
        Some((term, (share, before, after))) if share.abs() > 1e-6 => {
            let unit = if term.unit.is_empty() { String::new() } else { format!(" {}", term.unit) };
            let (from, to) = (rounded(before, 2), rounded(after, 2));
            let way = if share > 0.0 { "up" } else { "down" };
            format!("{} {way} from {from}{unit} to {to}{unit}", term.name.replace('_', " "))
        }
        _ if then.rank == now.rank => "unchanged".to_string(),
        _ => "its own figures did not change, others moved past it".to_string(),
    }
}
