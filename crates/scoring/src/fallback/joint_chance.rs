//! The chance that at least one of two skies is clear.

use chrono::NaiveDate;

use crate::clocks::rounded;
use crate::wording::percent;

/// Fewest common days from which a joint chance is taken; fewer give bounds.
const FEWEST_DAYS: usize = 30;

/// The sky of one day at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Day {
    /// The day.
    pub date: NaiveDate,
    /// Chance of a cloud-free line of sight under that day's sky.
    pub clear: f64,
}

/// The chance of at least one clear sky of two.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JointChance {
    /// The number to work with: from day records, else midway between the bounds.
    pub chance: f64,
    /// When both skies are grey together: the better of the two alone.
    pub fully_dependent: f64,
    /// When the skies know nothing of each other.
    pub independent: f64,
    /// Common days behind `chance`; `None` when it lies between the bounds.
    pub common_days: Option<usize>,
}

/// The chance of at least one clear sky of two places.
///
/// With at least 30 common days of records it is the mean over those days of 1 − (1 − a)(1 − b), so that spells of
/// weather that both share count as they should; it is kept between the better of the two chances and their sum.
/// Otherwise it lies between full dependence, max(a, b), and independence, 1 − (1 − a)(1 − b), and the middle is taken.
///
/// ```
/// use noonfall_scoring::fallback::joint_chance;
/// let joint = joint_chance(0.6, 0.5, None, None);
/// assert_eq!((joint.fully_dependent, joint.independent), (0.6, 0.8));
/// assert!((joint.chance - 0.7).abs() < 1e-12);
/// ```
pub fn joint_chance(a: f64, b: f64, days_a: Option<&[Day]>, days_b: Option<&[Day]>) -> JointChance {
    let fully_dependent = a.max(b);
    let independent = 1.0 - (1.0 - a) * (1.0 - b);
    let common = match (days_a, days_b) {
        (Some(x), Some(y)) => common_days(x, y),
        _ => None,
    };
    match common {
        Some((mean, count)) => JointChance {
            chance: mean.clamp(fully_dependent, (a + b).min(1.0)),
            fully_dependent,
            independent,
            common_days: Some(count),
        },
        None => JointChance {
            chance: 0.5 * (fully_dependent + independent),
            fully_dependent,
            independent,
            common_days: None,
        },
    }
}

/// Mean over common days of the chance of at least one clear sky, with the number of days.
fn common_days(a: &[Day], b: &[Day]) -> Option<(f64, usize)> {
    let (mut i, mut j) = (0, 0);
    let (mut sum, mut count) = (0.0, 0_usize);
    while let (Some(x), Some(y)) = (a.get(i), b.get(j)) {
        match x.date.cmp(&y.date) {
            std::cmp::Ordering::Less => i += 1,
            std::cmp::Ordering::Greater => j += 1,
            std::cmp::Ordering::Equal => {
                sum += 1.0 - (1.0 - x.clear) * (1.0 - y.clear);
                count += 1;
                i += 1;
                j += 1;
            }
        }
    }
    (count >= FEWEST_DAYS).then(|| (sum / count as f64, count))
}

impl JointChance {
    /// Rounded for an output.
    pub fn rounded(self) -> JointChance {
        JointChance {
            chance: rounded(self.chance, 4),
            fully_dependent: rounded(self.fully_dependent, 4),
            independent: rounded(self.independent, 4),
            common_days: self.common_days,
        }
    }

    /// In words.
    pub fn words(&self) -> String {
        match self.common_days {
            Some(days) => format!(
                "{} chance that at least one sky is clear, from {days} common days of records ({} if the skies were always \
                 grey together, {} if they knew nothing of each other)",
                percent(self.chance),
                percent(self.fully_dependent),
                percent(self.independent)
            ),
            None => format!(
                "between {} (skies always grey together) and {} (skies that know nothing of each other) chance that at least one \
                 sky is clear",
                percent(self.fully_dependent),
                percent(self.independent)
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(clear: impl Fn(u32) -> f64) -> Vec<Day> {
        (0..40)
            .map(|i| Day { date: NaiveDate::from_ymd_opt(2020, 1 + i / 20, 1 + i % 20).unwrap(), clear: clear(i) })
            .collect()
    }

    #[test]
    fn day_records_tell_shared_weather_from_opposite_weather() {
        let even = days(|i| f64::from(i % 2 == 0));
        let odd = days(|i| f64::from(i % 2 == 1));
        let together = joint_chance(0.5, 0.5, Some(&even), Some(&even));
        let opposite = joint_chance(0.5, 0.5, Some(&even), Some(&odd));
        assert_eq!((together.chance, together.common_days), (0.5, Some(40)));
        assert_eq!(opposite.chance, 1.0);
        let few = joint_chance(0.5, 0.5, Some(&even[..29]), Some(&odd));
        assert_eq!((few.chance, few.common_days), (0.625, None));
    }
}
