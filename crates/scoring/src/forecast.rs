//! Closer to the day: what a forecast in place of the climatology moves, and why.

use std::collections::HashMap;

use serde::Serialize;

use crate::contact_times::rounded;
use crate::rank::RankedSite;

/// What a forecast moved.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ForecastMoves {
    /// Forecast file.
    pub file: String,
    /// Every site whose rank changed, and the first three whether or not they moved.
    pub moves: Vec<Move>,
    /// In words.
    pub words: String,
}

/// One site before and after.
#[derive(Clone, Debug, PartialEq, Serialize)]
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
pub fn moves(file: &str, before: &[RankedSite], after: &[RankedSite]) -> ForecastMoves {
    let mut moves = Vec::new();
    let before_by_name: HashMap<&str, &RankedSite> = before.iter().map(|s| (s.name.as_str(), s)).collect();
    for now in after {
        let Some(then) = before_by_name.get(now.name.as_str()).copied() else { continue };
        if then.rank != now.rank || now.rank.is_some_and(|r| r <= 3) {
            moves.push(Move {
                name: now.name.clone(),
                rank_before: then.rank,
                rank_after: now.rank,
                score_before: then.score,
                score_after: now.score,
                why: why(then, now),
            });
        }
    }
    let first = |sites: &[RankedSite]| sites.first().filter(|s| s.rank == Some(1)).map(|s| s.name.clone());
    let words = match (first(before), first(after)) {
        (Some(old), Some(new)) if old == new => format!("{new} stays first with the forecast of {file}."),
        (Some(old), Some(new)) => format!("With the forecast of {file}, {new} takes first place from {old}."),
        (None, Some(new)) => format!("With the forecast of {file}, {new} is first."),
        _ => format!("With the forecast of {file} no site is left."),
    };
    ForecastMoves { file: file.to_string(), moves, words }
}

/// Why a site moved: the criterion whose share changed most, and where its own did not, that others did.
fn why(then: &RankedSite, now: &RankedSite) -> String {
    if let (None, Some(reasons)) = (&then.rejected, &now.rejected) {
        return format!("now rejected: {}", reasons.join("; "));
    }
    if then.rejected.is_some() && now.rejected.is_none() {
        return "no longer rejected".to_string();
    }
    let change = |name: &str| {
        let (a, b) = (then.criterion(name)?, now.criterion(name)?);
        Some((b.share? - a.share?, a.value?, b.value?))
    };
    let largest = now
        .criteria
        .iter()
        .filter_map(|(name, c)| change(name).filter(|_| c.weight > 0.0).map(|x| (name, c, x)))
        .max_by(|a, b| a.2.0.abs().total_cmp(&b.2.0.abs()));
    match largest {
        Some((name, c, (share, before, after))) if share.abs() > 1e-6 => {
            let unit = if c.unit.is_empty() { String::new() } else { format!(" {}", c.unit) };
            let (from, to) = (rounded(before, 2), rounded(after, 2));
            let way = if share > 0.0 { "up" } else { "down" };
            format!("{} {way} from {from}{unit} to {to}{unit}", name.replace('_', " "))
        }
        _ if then.rank == now.rank => "unchanged".to_string(),
        _ => "its own figures did not change, others moved past it".to_string(),
    }
}
