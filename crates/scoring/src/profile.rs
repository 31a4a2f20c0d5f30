//! Ready sets of weights for kinds of groups: named, printable, to be copied into a plan and changed.

use std::fmt::Write as _;

use crate::utility::Curve;

/// A named set of weights, with the wishes that belong to it.
#[derive(Clone, Copy, Debug)]
pub struct Profile {
    /// Name in `score.profile`.
    pub name: &'static str,
    /// The observers, for the start of a sentence.
    pub label: &'static str,
    /// Who it is for, in one sentence.
    pub about: &'static str,
    /// Weights by criterion.
    pub weights: &'static [(&'static str, f64)],
    /// Wishes that differ from the defaults.
    pub wishes: &'static [(&'static str, ProfileWish)],
}

/// A wish in a profile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ProfileWish {
    /// Rising from 0 at the first value to 1 at the second.
    Higher(f64, f64),
    /// Best between two values, fading over the third.
    Range(f64, f64, f64),
}

impl ProfileWish {
    /// The utility curve of the wish.
    pub fn curve(self) -> Curve {
        match self {
            ProfileWish::Higher(from, to) => Curve::rising(from, to),
            ProfileWish::Range(from, to, fade) => Curve::range(from, to, fade),
        }
    }
}

/// All ready profiles. The weights are a judgement (common practice, no source): print, copy and change them.
pub const PROFILES: [Profile; 5] = [
    Profile {
        name: "first-timers",
        label: "First-timers",
        about: "First-timers with naked eyes: a clear sky first, then enough time to take it all in.",
        weights: &[
            ("clear_sky", 5.0),
            ("totality", 3.0),
            ("sun_altitude", 1.0),
            ("clear_totality", 1.0),
            ("shadow_bands", 0.5),
        ],
        wishes: &[("totality", ProfileWish::Higher(0.0, 150.0)), ("sun_altitude", ProfileWish::Higher(5.0, 25.0))],
    },
    Profile {
        name: "binoculars",
        label: "Binocular observers",
        about: "Binocular observers after prominences and corona: long totality in steady air, high above haze.",
        weights: &[("clear_totality", 4.0), ("totality", 3.0), ("sun_altitude", 2.0), ("clear_sky", 2.0)],
        wishes: &[("sun_altitude", ProfileWish::Higher(15.0, 50.0))],
    },
    Profile {
        name: "shadow-chasers",
        label: "Shadow chasers",
        about: "Shadow and shadow-band chasers: a low Sun over an open country, the shadow seen coming.",
        weights: &[("shadow_bands", 4.0), ("clear_sky", 3.0), ("sun_altitude", 2.0), ("totality", 1.0)],
        wishes: &[
            ("sun_altitude", ProfileWish::Range(8.0, 20.0, 12.0)),
            ("shadow_bands", ProfileWish::Higher(0.4, 0.7)),
            ("totality", ProfileWish::Higher(0.0, 120.0)),
        ],
    },
    Profile {
        name: "landscape-photographers",
        label: "Landscape photographers",
        about: "Photographers who want the eclipsed Sun near the landscape: low, but safely above the skyline.",
        weights: &[("sun_altitude", 4.0), ("clear_sky", 3.0), ("totality", 1.0)],
        wishes: &[("sun_altitude", ProfileWish::Range(6.0, 14.0, 8.0)), ("totality", ProfileWish::Higher(0.0, 90.0))],
    },
    Profile {
        name: "families",
        label: "Families",
        about: "Families who want comfort: a good chance of seeing it with the Sun at an easy height; add columns such as drive hours or cost.",
        weights: &[("clear_sky", 5.0), ("sun_altitude", 2.0), ("totality", 1.0)],
        wishes: &[
            ("sun_altitude", ProfileWish::Range(20.0, 50.0, 15.0)),
            ("totality", ProfileWish::Higher(0.0, 100.0)),
        ],
    },
];

impl Profile {
    /// The profile of that name.
    pub fn named(name: &str) -> Option<&'static Profile> {
        PROFILES.iter().find(|p| p.name == name)
    }

    /// The profile as the tables of a plan, ready to be copied and changed.
    ///
    /// ```
    /// let text = noonfall_scoring::profile::Profile::named("families").unwrap().to_toml();
    /// assert!(text.contains("clear_sky = 5.0"));
    /// ```
    pub fn to_toml(&self) -> String {
        let mut out = format!("# {}: {}\n[weights]\n", self.name, self.about);
        for (name, weight) in self.weights {
            let _ = writeln!(out, "{name} = {weight:?}");
        }
        for (name, wish) in self.wishes {
            let _ = match wish {
                ProfileWish::Higher(from, to) => {
                    writeln!(out, "\n[wish.{name}]\nbetter = \"higher\"\nfrom = {from:?}\nto = {to:?}")
                }
                ProfileWish::Range(from, to, fade) => {
                    writeln!(out, "\n[wish.{name}]\nbetter = \"range\"\nfrom = {from:?}\nto = {to:?}\nfade = {fade:?}")
                }
            };
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::criteria;

    #[test]
    fn profiles_speak_of_built_in_criteria_only() {
        for profile in PROFILES {
            for name in profile.weights.iter().map(|w| w.0).chain(profile.wishes.iter().map(|w| w.0)) {
                assert!(criteria::built_in(name).is_some(), "{}: {name}", profile.name);
            }
            assert!(profile.weights.iter().all(|w| w.1 > 0.0));
        }
    }
}
