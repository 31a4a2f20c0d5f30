//! Which places are beaten by another in every respect, and which are not.

use rayon::prelude::*;

/// Whether `a` is at least as good as `b` in every respect and better in one. Higher is better throughout.
/// ```
/// use noonfall_scoring::pareto::dominates;
/// assert!(dominates(&[200.0, 0.6], &[180.0, 0.6]));
/// assert!(!dominates(&[200.0, 0.5], &[180.0, 0.6]) && !dominates(&[200.0], &[200.0]));
/// ```
pub fn dominates(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(x, y)| x >= y) && a.iter().zip(b).any(|(x, y)| x > y)
}

/// For each point the indices of points that dominate it: the smallest ones, in increasing order, at most `most` of them.
///
/// With points in the order of a ranking these are the best ranked of those that dominate. Points that nothing dominates
/// are the Pareto front. A hundred thousand points take seconds at worst: a tree of boxes is searched for each, and boxes whose
/// best corner is no better are passed over.
///
/// ```
/// use noonfall_scoring::pareto::dominated_by;
/// let points = vec![vec![1.0, 3.0], vec![2.0, 2.0], vec![1.0, 2.0], vec![3.0, 1.0]];
/// assert_eq!(dominated_by(&points, 5), [vec![], vec![], vec![0, 1], vec![]]);
/// ```
pub fn dominated_by(points: &[Vec<f64>], most: usize) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..points.len()).collect();
    let root = Branch::over(points, &mut order);
    points
        .par_iter()
        .map(|point| {
            let mut by = Vec::new();
            if let (Some(root), true) = (&root, most > 0) {
                root.dominators(points, point, most, &mut by);
            }
            by
        })
        .collect()
}

/// Points in a leaf of the tree.
const LEAF: usize = 16;

/// Some of the points, in a box.
struct Branch {
    /// The best that any point of the branch has, respect by respect.
    best: Vec<f64>,
    /// The smallest index in the branch.
    first: usize,
    inside: Inside,
}

enum Inside {
    /// Indices, in increasing order.
    Leaf(Vec<usize>),
    /// Two halves, the one with the smaller first index in front.
    Halves(Box<[Branch; 2]>),
}

impl Branch {
    /// The tree over the points of some indices; `None` over none. The indices are brought into another order.
    fn over(points: &[Vec<f64>], indices: &mut [usize]) -> Option<Branch> {
        let first = *indices.iter().min()?;
        let respects = points[first].len();
        let range = |k: usize| {
            let values = indices.iter().map(|&i| points[i].get(k).copied().unwrap_or(f64::NEG_INFINITY));
            values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
        };
        let ranges: Vec<(f64, f64)> = (0..respects).map(range).collect();
        let best: Vec<f64> = ranges.iter().map(|r| r.1).collect();
        let widest = (0..respects).max_by(|&a, &b| {
            let width = |k: usize| ranges[k].1 - ranges[k].0;
            width(a).total_cmp(&width(b))
        });
        let Some(k) = widest.filter(|_| indices.len() > LEAF) else {
            indices.sort_unstable();
            return Some(Branch { best, first, inside: Inside::Leaf(indices.to_vec()) });
        };
        let middle = indices.len() / 2;
        indices.select_nth_unstable_by(middle, |&a, &b| points[a][k].total_cmp(&points[b][k]).then(a.cmp(&b)));
        let (low, high) = indices.split_at_mut(middle);
        let mut halves = [Branch::over(points, low)?, Branch::over(points, high)?];
        halves.sort_by_key(|half| half.first);
        Some(Branch { best, first, inside: Inside::Halves(Box::new(halves)) })
    }

    /// Adds the indices that dominate `point`, keeping the `most` smallest in increasing order.
    fn dominators(&self, points: &[Vec<f64>], point: &[f64], most: usize, by: &mut Vec<usize>) {
        let full = |by: &Vec<usize>| by.len() >= most && by.last().is_some_and(|&last| self.first > last);
        if full(by) || !dominates(&self.best, point) {
            return;
        }
        match &self.inside {
            Inside::Halves(halves) => halves.iter().for_each(|half| half.dominators(points, point, most, by)),
            Inside::Leaf(indices) => {
                for &i in indices.iter().filter(|&&i| dominates(&points[i], point)) {
                    by.insert(by.partition_point(|&j| j < i), i);
                    by.truncate(most);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_points_do_not_dominate_each_other() {
        let points = vec![vec![1.0, 1.0], vec![1.0, 1.0]];
        assert!(dominated_by(&points, 5).iter().all(Vec::is_empty));
    }

    #[test]
    fn agrees_with_the_definition_on_a_lattice() {
        let points: Vec<Vec<f64>> =
            (0..60u32).map(|i| (0..3).map(|k| f64::from((i * 7 + k * 13 + i * i * (k + 1)) % 11)).collect()).collect();
        let fast = dominated_by(&points, usize::MAX);
        for (i, p) in points.iter().enumerate() {
            let slow: Vec<usize> = (0..points.len()).filter(|&j| dominates(&points[j], p)).collect();
            assert_eq!(fast[i], slow);
        }
    }

    /// A deterministic scatter; with `trade` the respects add up to a constant, so that nothing dominates anything.
    fn scatter(count: usize, respects: usize, trade: bool) -> Vec<Vec<f64>> {
        let mut state = 42_u64;
        let mut random = move || {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            (state >> 40) as f64 / (1_u64 << 24) as f64
        };
        (0..count)
            .map(|_| {
                let mut p: Vec<f64> = (0..respects).map(|_| random()).collect();
                if trade {
                    let rest: f64 = p[1..].iter().sum();
                    p[0] = respects as f64 - rest;
                }
                p
            })
            .collect()
    }

    #[test]
    fn agrees_with_the_definition_on_a_scatter_with_equal_points() {
        for (count, respects) in [(500, 2), (500, 4), (300, 6)] {
            let mut points = scatter(count, respects, false);
            points.extend_from_within(..40);
            let fast = dominated_by(&points, 3);
            for (i, p) in points.iter().enumerate() {
                let slow: Vec<usize> = (0..points.len()).filter(|&j| dominates(&points[j], p)).take(3).collect();
                assert_eq!(fast[i], slow, "{i}");
            }
        }
    }

    /// Every pair looked at would be five thousand million comparisons here: this ends only because they are not.
    #[test]
    fn a_hundred_thousand_equal_or_incomparable_points_are_no_trouble() {
        assert!(dominated_by(&vec![vec![1.0, 0.5, 0.25]; 100_000], 3).iter().all(Vec::is_empty));
        assert!(dominated_by(&scatter(100_000, 3, true), 3).iter().all(Vec::is_empty));
    }

    #[test]
    fn no_points_and_none_wanted() {
        assert!(dominated_by(&[], 3).is_empty());
        assert_eq!(dominated_by(&[vec![1.0], vec![2.0]], 0), vec![Vec::<usize>::new(); 2]);
        assert_eq!(dominated_by(&[vec![], vec![]], 3), vec![Vec::<usize>::new(); 2]);
    }
}
