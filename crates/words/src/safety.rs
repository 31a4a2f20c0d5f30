//! The cautions, in one place: what every output that could lead someone to look at the Sun must say.
//!
//! The words are this project's own; the facts behind them are the usual advice of eye-care bodies and space agencies and the scope of
//! ISO 12312-2. Nothing here replaces local rules, the officer in charge of a site, or an eye-care professional.

/// One caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// Short stable key, for tests and for pages that refer to a single caution.
    pub key: &'static str,
    /// The caution as a full sentence.
    pub text: &'static str,
    /// Whether it stands only where there is a window for bare eyes, of which it speaks.
    pub needs_window: bool,
}

/// Filters at every moment outside totality.
pub const FILTERS: Caution = Caution {
    key: "filters",
    text: "Outside totality look at the Sun only through a filter that meets ISO 12312-2, unscratched and without holes, at every moment.",
    needs_window: true,
};

/// The same where there is no window for bare eyes: no totality, or none that is sure and long enough.
pub const FILTERS_THROUGHOUT: Caution = Caution {
    key: "filters-throughout",
    text: "There is no time for bare eyes here: look at the Sun only through a filter that meets ISO 12312-2, unscratched and without holes, from beginning to end.",
    needs_window: false,
};

/// Partial and annular eclipses never allow bare eyes.
pub const NEVER_PARTIAL: Caution = Caution {
    key: "never-partial",
    text: "A partial or annular eclipse is never safe for bare eyes, not even with 99 % of the Sun covered. The retina feels no pain while it burns.",
    needs_window: false,
};

/// No optics without a filter over the front.
pub const OPTICS: Caution = Caution {
    key: "optics",
    text: "Never point binoculars, telescopes or cameras at the Sun without a solar filter over the FRONT; eclipse glasses behind optics burn through.",
    needs_window: false,
};

/// The sky decides, not the clock.
pub const SKY_DECIDES: Caution = Caution {
    key: "sky-decides",
    text: "Printed times are predictions; the sky decides. Filter off only when no bright Sun is left, filter on before the first bright bead returns.",
    needs_window: true,
};

/// What the window cannot know.
pub const TRUE_LIMB: Caution = Caution {
    key: "true-limb",
    text: "The times allow for the Moon's measured edge and for what is uncertain; they cannot know where you will really stand, nor your watch. Near the edge of the path beads of Sun last longer.",
    needs_window: true,
};

/// Children.
pub const CHILDREN: Caution = Caution {
    key: "children",
    text: "Watch over children all the time, and anyone who cannot judge the moment alone.",
    needs_window: false,
};

/// Others have the last word.
pub const LAST_WORD: Caution = Caution {
    key: "last-word",
    text: "Local rules, site safety officers and eye-care professionals have the last word.",
    needs_window: false,
};

/// Every caution, in the order in which they are printed.
pub const ALL: [Caution; 8] =
    [FILTERS, FILTERS_THROUGHOUT, NEVER_PARTIAL, OPTICS, SKY_DECIDES, TRUE_LIMB, CHILDREN, LAST_WORD];

/// The cautions to print where there is a window for bare eyes (`true`) or is none (`false`).
pub fn cautions(window: bool) -> Vec<&'static Caution> {
    ALL.iter()
        .filter(|caution| if window { caution.key != "filters-throughout" } else { !caution.needs_window })
        .collect()
}

/// One line for terminals and for the notes of exported files: where there is a window for bare eyes, and where there is
/// none.
pub fn one_line(window: bool) -> &'static str {
    if window {
        "Filters meeting ISO 12312-2 on at every moment outside totality; no optics at the Sun without a filter over the front. \
         Times are predictions, the sky decides. Local rules, site safety officers and eye-care professionals have the last word."
    } else {
        "No time for bare eyes here: filters meeting ISO 12312-2 on from beginning to end; no optics at the Sun without a filter \
         over the front. Local rules, site safety officers and eye-care professionals have the last word."
    }
}

/// On a screen that counts to filters: what it cannot decide.
pub const SKY_DECIDES_NOW: &str =
    "The sky decides, not the clock: the moment any bright edge of the Sun shows, filters go back on.";

/// Over a screen that only practises.
pub const REHEARSAL: &str = "REHEARSAL: not the eclipse. Do not look at the Sun.";

/// Where the program and its guides introduce themselves.
pub const INTRODUCTION: &str = "Looking at the Sun can blind. At every moment outside totality use filters that meet ISO 12312-2, \
and a filter over the front of every instrument. A partial or annular eclipse never allows a bare eye. Printed times are \
predictions: the sky decides. Local rules, site safety officers and eye-care professionals have the last word.";

/// Beside heights above the skyline: what no skyline can tell.
pub const FREE_SKYLINE: &str = "A free skyline is no window for bare eyes: when filters may come off is told for one place by \
`noonfall at` and the brief.";

/// The same in a few words, for what a file says of its samples: of heights above the skyline, and of times near totality.
pub const OF_HEIGHTS: &str = "no window for bare eyes";
/// See [`OF_HEIGHTS`].
pub const OF_TIMES: &str = "filters stay on outside totality";

/// On every map: where the Sun could hurt someone, say so.
pub const ON_MAP: &str = "Filters that meet ISO 12312-2 over eyes, and over the front of every instrument, at every moment \
outside totality. Times are predictions: the sky decides. Local rules, site safety officers and eye-care professionals \
have the last word.";

/// The same for a path without totality.
pub const ON_MAP_ANNULAR: &str = "This eclipse is nowhere safe to watch unfiltered where it is annular or partial: filters that meet \
ISO 12312-2 over eyes, and over the front of every instrument, throughout. Local rules, site safety officers and eye-care \
professionals have the last word.";

/// What to bring, in the order in which it is packed, where there is a window for bare eyes and where there is none. Common
/// practice, no source.
pub fn what_to_bring(window: bool) -> Vec<&'static str> {
    let mut things = vec![
        "a filter for every pair of eyes (ISO 12312-2), and a spare",
        "a solar filter over the front of every instrument, fixed so that wind cannot lift it",
    ];
    if window {
        things.push("an eye patch: cover one eye 15 minutes before C2 so that it is used to the dark");
        things.push("a light jacket: it cools quickly");
        things.push("a red torch and a white sheet for shadow bands");
    }
    things.push("a colander or anything with small holes, to project crescents");
    things.push("water, hat, sun cream");
    things
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outside_the_path_no_caution_speaks_of_taking_a_filter_off() {
        let cautions = cautions(false);
        for caution in &cautions {
            assert!(!caution.text.to_lowercase().contains("filter off"), "{}", caution.key);
        }
        let keys: Vec<_> = cautions.iter().map(|caution| caution.key).collect();
        assert_eq!(keys, ["filters-throughout", "never-partial", "optics", "children", "last-word"]);
        assert!(!one_line(false).to_lowercase().contains("filter off"));
    }

    #[test]
    fn inside_the_path_every_required_caution_is_there() {
        let keys: Vec<_> = cautions(true).iter().map(|caution| caution.key).collect();
        for key in ["filters", "never-partial", "optics", "sky-decides", "true-limb", "last-word"] {
            assert!(keys.contains(&key), "{key}");
        }
        assert!(!keys.contains(&"filters-throughout"));
    }

    #[test]
    fn the_standard_is_named_in_both_cases() {
        for inside in [true, false] {
            assert!(cautions(inside).iter().any(|caution| caution.text.contains("ISO 12312-2")));
            assert!(one_line(inside).contains("ISO 12312-2"));
            assert!(what_to_bring(inside).iter().any(|thing| thing.contains("front of every instrument")));
        }
    }
}
