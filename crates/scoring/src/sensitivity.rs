//! What would have to change: the smallest change of one weight that puts another site first.
//!
//! Both means are linear in the weights once their common sum (and, for the geometric mean, the logarithm) is taken
//! out: site X stands above site J when Σ wᵢ (fᵢ(X) − fᵢ(J)) > 0 with f = u or ln u. With one weight free this is a
//! linear inequality for each rival, so the smallest change is exact for both.

use crate::clocks::rounded;
use crate::plan::Mean;

/// A change of one weight.
#[derive(Clone, Debug, PartialEq)]
pub struct WeightChange {
    /// The criterion whose weight changes.
    pub criterion: String,
    /// The weight now.
    pub from: f64,
    /// The weight at which the site draws level with the best of the others; beyond it the site is first.
    pub to: f64,
    /// `to` over `from`; `None` when the weight is 0 now.
    pub factor: Option<f64>,
}

/// The smallest change of a single weight that puts the site first, `None` where no single weight can.
///
/// `utilities[j][i]` is the utility of site `j` in criterion `i`; `site` is an index into `utilities`. The smallest
/// change is the one that moves the weights' distribution least: |change| over the sum of all weights.
pub fn smallest_change(
    mean: Mean,
    names: &[String],
    weights: &[f64],
    utilities: &[Vec<f64>],
    site: usize,
) -> Option<WeightChange> {
    let ours = utilities.get(site)?;
    let mut best: Option<(f64, usize)> = None;
    for free in 0..weights.len() {
        if let Some(change) = change_of(mean, weights, utilities, ours, site, free)
            && best.is_none_or(|(b, _)| change.abs() < b.abs())
        {
            best = Some((change, free));
        }
    }
    let (change, free) = best?;
    let from = weights[free];
    // Not below zero by rounding.
    let to = (from + change).max(0.0);
    Some(WeightChange { criterion: names.get(free)?.clone(), from, to, factor: (from > 0.0).then(|| to / from) })
}

/// What would put a site first, in words.
///
/// ```
/// use noonfall_scoring::sensitivity::{WeightChange, words};
/// let change = WeightChange { criterion: "clear_sky".into(), from: 3.0, to: 4.5, factor: Some(1.5) };
/// let said = words("Dubbo", Some(&change));
/// assert_eq!(said, "Dubbo would be first if the weight of clear sky rose from 3 to more than 4.5 (50 % more).");
/// assert_eq!(words("Dubbo", None), "No change of a single weight puts Dubbo first.");
/// ```
pub fn words(site: &str, change: Option<&WeightChange>) -> String {
    let Some(change) = change else { return format!("No change of a single weight puts {site} first.") };
    let criterion = change.criterion.replace('_', " ");
    if change.to <= 0.0 {
        return format!("{site} would draw level with the first if {criterion} did not count at all.");
    }
    let (verb, bound) = if change.to >= change.from { ("rose", "more than") } else { ("fell", "less than") };
    // As many decimals as it takes to show that the weight changes at all.
    let to = (2..5).map(|digits| rounded(change.to, digits)).find(|to| *to != change.from).unwrap_or(change.to);
    let how_much = match change.factor {
        Some(factor) if factor >= 2.0 => format!(" ({factor:.1} times as much)"),
        Some(factor) => {
            let percent = 100.0 * (factor - 1.0).abs();
            let amount = if percent < 1.0 { "under 1".to_string() } else { format!("{percent:.0}") };
            format!(" ({amount} % {})", if factor >= 1.0 { "more" } else { "less" })
        }
        None => String::new(),
    };
    format!("{site} would be first if the weight of {criterion} {verb} from {} to {bound} {to}{how_much}.", change.from)
}

/// The change of weight `free` nearest to zero at which `site` is level with or above all others.
fn change_of(
    mean: Mean,
    weights: &[f64],
    utilities: &[Vec<f64>],
    ours: &[f64],
    site: usize,
    free: usize,
) -> Option<f64> {
    let (mut low, mut high) = (-weights[free], f64::INFINITY);
    for (j, theirs) in utilities.iter().enumerate() {
        if j == site {
            continue;
        }
        // level + change * slope >= 0 keeps `site` above `j`.
        let (mut level, mut slope) = (0.0, 0.0);
        for (i, &weight) in weights.iter().enumerate() {
            let difference = difference(mean, ours[i], theirs[i]);
            if weight > 0.0 {
                level += weight * difference;
            }
            if i == free {
                slope = difference;
            }
        }
        if slope > 0.0 {
            low = f64::max(low, -level / slope);
        } else if slope < 0.0 {
            high = f64::min(high, -level / slope);
        } else if level < 0.0 {
            return None;
        }
    }
    // A change must leave some weight: taking the only one away is no answer.
    let rest: f64 = weights.iter().enumerate().filter(|&(i, _)| i != free).map(|(_, w)| w).sum();
    if low > high || (rest <= 0.0 && high <= -weights[free]) {
        return None;
    }
    Some(if low > 0.0 {
        low
    } else if high < 0.0 {
        high
    } else {
        0.0
    })
}

/// Contribution of one criterion to the lead of one site over another, for a unit of weight.
fn difference(mean: Mean, ours: f64, theirs: f64) -> f64 {
    // The floor keeps the logarithm of a zero finite: a utility this small already decides any sum of ordinary weights.
    const FLOOR: f64 = 1e-300;
    match mean {
        Mean::Arithmetic => ours - theirs,
        Mean::Geometric => ours.max(FLOOR).ln() - theirs.max(FLOOR).ln(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::weighted_mean;

    fn names(n: usize) -> Vec<String> {
        (0..n).map(|i| format!("c{i}")).collect()
    }

    fn score(mean: Mean, weights: &[f64], u: &[f64]) -> f64 {
        weighted_mean(mean, u.iter().copied().zip(weights.iter().copied()))
    }

    #[test]
    fn worked_by_hand() {
        // A = (0.9, 0.3), B = (0.5, 0.6), weights (3, 2): A 3.3/5, B 2.7/5. B leads when 2 -> w with 0.3 w >= 1.2: w = 4,
        // a change of 2; or when 3 -> w with 0.4 w <= 0.6: w = 1.5, a change of 1.5, the smaller.
        let u = vec![vec![0.9, 0.3], vec![0.5, 0.6]];
        let change = smallest_change(Mean::Arithmetic, &names(2), &[3.0, 2.0], &u, 1).unwrap();
        assert_eq!(change.criterion, "c0");
        assert!((change.to - 1.5).abs() < 1e-12);
        assert!((change.factor.unwrap() - 0.5).abs() < 1e-12);
    }

    #[test]
    fn words_say_how_large_the_change_is() {
        let of = |from: f64, to: f64| WeightChange {
            criterion: "drive_hours".into(),
            from,
            to,
            factor: (from > 0.0).then(|| to / from),
        };
        let said = |from, to| words("A", Some(&of(from, to)));
        assert!(
            said(3.0, 86.04).ends_with("rose from 3 to more than 86.04 (28.7 times as much)."),
            "{}",
            said(3.0, 86.04)
        );
        assert!(said(2.0, 1.5).ends_with("fell from 2 to less than 1.5 (25 % less)."));
        assert!(said(1.0, 1.0004).ends_with("rose from 1 to more than 1.0004 (under 1 % more)."));
        assert!(said(0.0, 0.5).ends_with("rose from 0 to more than 0.5."));
        assert!(said(1.0, 0.0).ends_with("if drive hours did not count at all."));
    }

    #[test]
    fn a_dominated_site_cannot_be_first() {
        let u = vec![vec![0.9, 0.6], vec![0.5, 0.3]];
        assert_eq!(smallest_change(Mean::Arithmetic, &names(2), &[3.0, 2.0], &u, 1), None);
    }

    #[test]
    fn just_beyond_the_change_the_site_is_first_and_just_short_it_is_not() {
        // A deterministic scatter of 6 sites and 4 criteria, both means.
        let u: Vec<Vec<f64>> = (0..6u32)
            .map(|j| (0..4u32).map(|i| f64::from((j * 37 + i * 53 + j * i * 17) % 97 + 2) / 100.0).collect())
            .collect();
        let weights = [2.0, 1.0, 3.0, 0.5];
        for mean in [Mean::Arithmetic, Mean::Geometric] {
            for site in 0..6 {
                let Some(change) = smallest_change(mean, &names(4), &weights, &u, site) else { continue };
                let free: usize = change.criterion[1..].parse().unwrap();
                if change.to == change.from {
                    continue;
                }
                let first_with = |w: f64| {
                    let mut all = weights;
                    all[free] = w;
                    (0..6).max_by(|&a, &b| score(mean, &all, &u[a]).total_cmp(&score(mean, &all, &u[b]))) == Some(site)
                };
                let step = change.to - change.from;
                assert!(first_with(change.from + step * (1.0 + 1e-9)), "{mean:?} {site} {change:?}");
                assert!(!first_with(change.from + step * (1.0 - 1e-9)), "{mean:?} {site} {change:?}");
            }
        }
    }
}
