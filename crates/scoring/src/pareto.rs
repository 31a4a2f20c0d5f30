//! Which places are beaten by another in every respect, and which are not.

/// Whether `a` is at least as good as `b` in every respect and better in one. Higher is better throughout.
pub fn dominates(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(x, y)| x >= y) && a.iter().zip(b).any(|(x, y)| x > y)
}

/// For each point the indices of the points that dominate it, in increasing order, at most `most` of them.
///
/// Points that nothing dominates are the Pareto front.
///
/// ```
/// use noonfall_scoring::pareto::dominated_by;
/// let points = vec![vec![1.0, 3.0], vec![2.0, 2.0], vec![1.0, 2.0], vec![3.0, 1.0]];
/// assert_eq!(dominated_by(&points, 5), [vec![], vec![], vec![0, 1], vec![]]);
/// ```
pub fn dominated_by(points: &[Vec<f64>], most: usize) -> Vec<Vec<usize>> {
    // A point can only be dominated by one with a larger or equal sum, so most comparisons can be skipped.
    let sums: Vec<f64> = points.iter().map(|p| p.iter().sum()).collect();
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by(|&a, &b| sums[b].total_cmp(&sums[a]).then(a.cmp(&b)));
    let mut by = vec![Vec::new(); points.len()];
    for (place, &i) in order.iter().enumerate() {
        for &j in &order[..place] {
            if by[i].len() >= most {
                break;
            }
            if dominates(&points[j], &points[i]) {
                by[i].push(j);
            }
        }
        by[i].sort_unstable();
    }
    by
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
}
