//! What a site is judged by: one file for each built-in criterion, and any numeric column of the sites table.
//!
//! A criterion turns the [`Numbers`] of a site into one number with a unit. The wish of the plan (or the default
//! stated here) turns that number into a utility, see [`crate::utility`].

mod clear_sky;
mod clear_totality;
mod horizon_margin;
pub mod shadow_bands;
mod sun_altitude;
mod totality;

use std::collections::BTreeMap;

use crate::utility::Curve;

/// What the built-in criteria look at: the plain numbers of one site.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Numbers {
    /// Duration of totality, s; 0 outside the path.
    pub totality_s: f64,
    /// Airless altitude of the Sun's centre at maximum, degrees.
    pub sun_altitude_deg: f64,
    /// Probability of a cloud-free line of sight at maximum, 0 to 1.
    pub clear_sky: Option<f64>,
    /// Relative shadow-band outlook, 0 to 1.
    pub shadow_bands: Option<f64>,
    /// Least height of the Sun above the skyline during totality, degrees.
    pub horizon_margin_deg: Option<f64>,
}

impl Numbers {
    /// Expected seconds of clear totality, where a chance of clear sky is known.
    pub fn expected_clear_totality_s(&self) -> Option<f64> {
        self.clear_sky.map(|clear| clear * self.totality_s)
    }
}

/// What all criteria look at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions<'a> {
    /// What the built-in ones look at.
    pub numbers: Numbers,
    /// Numeric columns of the sites table.
    pub columns: &'a BTreeMap<String, f64>,
}

impl From<Numbers> for Conditions<'_> {
    /// Those of a place without further columns.
    fn from(numbers: Numbers) -> Self {
        static NONE: BTreeMap<String, f64> = BTreeMap::new();
        Conditions { numbers, columns: &NONE }
    }
}

/// The scale that an eclipse sets for the default wishes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EclipseScale {
    /// Longest totality anywhere on the path, s.
    pub longest_totality_s: f64,
}

impl EclipseScale {
    /// The longest totality, rounded up to the next ten seconds so that the curve is easy to read.
    pub fn rounded_totality_s(&self) -> f64 {
        ((self.longest_totality_s / 10.0).ceil() * 10.0).max(10.0)
    }
}

/// A built-in criterion.
#[derive(Clone, Copy)]
pub struct Criterion {
    /// Name in plans and outputs.
    pub name: &'static str,
    /// Name in the keys of `[require]`, after `min_` or `max_`; it carries the unit.
    pub require: &'static str,
    /// Name for people.
    pub label: &'static str,
    /// Unit of the value; empty for a pure number.
    pub unit: &'static str,
    /// What the number is and where it comes from, in one sentence.
    pub about: &'static str,
    /// The wish when the plan gives none.
    pub default_wish: fn(&EclipseScale) -> Curve,
    /// The number itself; `None` when the input for it is missing. It never falls where one of the site's numbers grows, the others
    /// staying: the search of the path bounds it by the least and the most that those can be.
    pub value: fn(&Numbers) -> Option<f64>,
    /// What is missing when there is no number.
    pub missing: &'static str,
}

impl std::fmt::Debug for Criterion {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Criterion").field("name", &self.name).finish_non_exhaustive()
    }
}

impl Criterion {
    /// Whether it has no number without a cloud figure, and one with it.
    pub fn is_of_cloud(&self) -> bool {
        self.needs(|n| n.clear_sky = None)
    }

    /// Whether it has no number without an outlook for shadow bands, and one with it.
    pub fn is_of_bands(&self) -> bool {
        self.needs(|n| n.shadow_bands = None)
    }

    /// Whether it has no number without a margin above the skyline, and one with it.
    pub fn is_of_skyline(&self) -> bool {
        self.needs(|n| n.horizon_margin_deg = None)
    }

    /// Whether it loses its number where one of the site's numbers is taken away.
    fn needs(&self, take_away: impl Fn(&mut Numbers)) -> bool {
        let all = Numbers {
            totality_s: 100.0,
            sun_altitude_deg: 30.0,
            clear_sky: Some(0.5),
            shadow_bands: Some(0.5),
            horizon_margin_deg: Some(5.0),
        };
        let mut without = all;
        take_away(&mut without);
        (self.value)(&all).is_some() && (self.value)(&without).is_none()
    }
}

/// All built-in criteria, in the order of outputs.
pub const BUILT_IN: [Criterion; 6] = [
    totality::CRITERION,
    sun_altitude::CRITERION,
    clear_sky::CRITERION,
    clear_totality::CRITERION,
    shadow_bands::CRITERION,
    horizon_margin::CRITERION,
];

/// The built-in criterion of that name.
pub fn built_in(name: &str) -> Option<&'static Criterion> {
    BUILT_IN.iter().find(|c| c.name == name)
}

/// The built-in criterion whose requirement key (without `min_` or `max_`) is `key`.
pub fn built_in_requirement(key: &str) -> Option<&'static Criterion> {
    BUILT_IN.iter().find(|c| c.require == key)
}

/// A label inside a sentence: its first letter small, but for the Sun's.
pub fn in_a_sentence(label: &str) -> String {
    if label.starts_with("Sun") {
        return format!("the {label}");
    }
    let mut letters = label.chars();
    letters.next().map_or(String::new(), |first| first.to_lowercase().collect::<String>() + letters.as_str())
}

/// Value of a criterion by name: a built-in one, or a numeric column of the sites table.
pub fn value(name: &str, conditions: &Conditions<'_>) -> Option<f64> {
    match built_in(name) {
        Some(criterion) => (criterion.value)(&conditions.numbers),
        None => conditions.columns.get(name).copied(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_criterion_reads_its_own_number() {
        let numbers = Numbers {
            totality_s: 200.0,
            sun_altitude_deg: 35.0,
            clear_sky: Some(0.6),
            shadow_bands: Some(0.4),
            horizon_margin_deg: None,
        };
        let c = Conditions { numbers, columns: &BTreeMap::from([("drive_hours".to_string(), 3.5)]) };
        assert_eq!(value("totality", &c), Some(200.0));
        assert_eq!(value("sun_altitude", &c), Some(35.0));
        assert_eq!(value("clear_sky", &c), Some(0.6));
        assert_eq!(value("clear_totality", &c), Some(120.0));
        assert_eq!(value("shadow_bands", &c), Some(0.4));
        assert_eq!(value("horizon_margin", &c), None);
        assert_eq!(value("drive_hours", &c), Some(3.5));
        assert_eq!(value("beds", &c), None);
    }

    #[test]
    fn two_criteria_want_a_cloud_figure() {
        let of_cloud: Vec<&str> = BUILT_IN.iter().filter(|c| c.is_of_cloud()).map(|c| c.name).collect();
        assert_eq!(of_cloud, ["clear_sky", "clear_totality"]);
    }

    #[test]
    fn no_criterion_falls_where_a_number_grows() {
        type Grow = fn(&mut Numbers, f64);
        let numbers: [Grow; 5] = [
            |n, up| n.totality_s += 200.0 * up,
            |n, up| n.sun_altitude_deg += 80.0 * up,
            |n, up| n.clear_sky = n.clear_sky.map(|p| p + 0.9 * up),
            |n, up| n.shadow_bands = n.shadow_bands.map(|b| b + 0.9 * up),
            |n, up| n.horizon_margin_deg = n.horizon_margin_deg.map(|m| m + 90.0 * up),
        ];
        let low = Numbers {
            totality_s: 5.0,
            sun_altitude_deg: 1.0,
            clear_sky: Some(0.05),
            shadow_bands: Some(0.05),
            horizon_margin_deg: Some(-5.0),
        };
        for criterion in BUILT_IN {
            // From every corner of what the numbers can be, along each of them.
            for corner in 0..1_u32 << numbers.len() {
                let mut from = low;
                let raised = |k: usize| corner >> k & 1 == 1;
                (0..numbers.len()).filter(|&k| raised(k)).for_each(|k| numbers[k](&mut from, 1.0));
                for (_, grow) in numbers.iter().enumerate().filter(|(k, _)| !raised(*k)) {
                    let values: Vec<f64> = (0..=20_u32)
                        .filter_map(|step| {
                            let mut at = from;
                            grow(&mut at, f64::from(step) / 20.0);
                            (criterion.value)(&at)
                        })
                        .collect();
                    assert!(
                        values.is_sorted(),
                        "criterion {} falls where a number grows ({values:?}): turn it round, for the search bounds it by the least and \
                         the most of its numbers",
                        criterion.name
                    );
                }
            }
        }
    }

    #[test]
    fn default_wishes_are_curves_from_zero_to_one() {
        let scale = EclipseScale { longest_totality_s: 303.2 };
        assert_eq!(scale.rounded_totality_s(), 310.0);
        for criterion in BUILT_IN {
            let curve = (criterion.default_wish)(&scale);
            let utilities: Vec<f64> = curve.points.iter().map(|p| p.1).collect();
            assert!(utilities.contains(&0.0) && utilities.contains(&1.0), "{}", criterion.name);
            assert!(Curve::through(curve.points).is_ok(), "{}", criterion.name);
        }
    }
}
