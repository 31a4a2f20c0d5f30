//! What stands on and beside maps.

use crate::numbers::duration;

/// The legend's words for its signs.
pub mod key {
    /// Central line.
    pub const CENTRAL: &str = "Central line";
    /// Limit at the Moon's measured edge.
    pub const TRUE_LIMIT: &str = "No totality beyond: Moon’s measured edge";
    /// Lines of equal altitude.
    pub const ALTITUDE: &str = "Sun’s altitude at maximum eclipse";
    /// Stipple.
    pub const CLOUD: &str = "Mean cloud amount: 20, 50, 90 %";
    /// Colours over water.
    pub const WATER: &str = "Paler over sea and lakes";
    /// Roads.
    pub const ROAD: &str = "Road; where many run close, the longest";
    /// Ground that was not looked at.
    pub const UNKNOWN: &str = "Not looked at, or no terrain: not known";
    /// Ticks across the path.
    pub const TICK: &str = "Time of maximum eclipse";
    /// From base to fallback.
    pub const LINK: &str = "From a base to its fallback";
    /// Discs of sites.
    pub const DISC: &str = "Site by rank; larger: higher score";
    /// Rings around them.
    pub const RING: &str = "Ring: chance of clear sky, 30, 70 %";
    /// Dots.
    pub const DOT: &str = "Further candidate";
    /// Crosses.
    pub const CROSS: &str = "Rejected, with the reason";
    /// Towns.
    pub const TOWN: &str = "Town";

    /// Limit of the path; `noun` is totality or annularity.
    pub fn limit(noun: &str) -> String {
        format!("Limit of {noun}")
    }

    /// Hatching.
    pub fn hidden(noun: &str) -> String {
        format!("Ground hides the Sun in {noun}")
    }
}

/// What the layers of a map are called, for screen readers and where they are shown and hidden; the report page finds them by these names.
pub mod layer {
    /// Land and water.
    pub const LAND: &str = "Land and lakes";
    /// Lines on it.
    pub const LAND_LINES: &str = "Land lines: coasts, shores, borders";
    /// Shaded ground.
    pub const RELIEF: &str = "Relief";
    /// Parallels and meridians.
    pub const GRATICULE: &str = "Graticule";
    /// How the name of the path's fill begins.
    pub const PATH: &str = "Path";
    /// Limits and central line.
    pub const LIMITS: &str = "Limits and central line";
    /// Lines of equal duration.
    pub const DURATIONS: &str = "Lines of equal duration";
    /// Lines of equal altitude.
    pub const ALTITUDES: &str = "Sun's altitude at maximum eclipse";
    /// Ticks across the path.
    pub const TIMES: &str = super::key::TICK;
    /// Stipple.
    pub const CLOUDS: &str = "Mean cloud amount";
    /// Hatching.
    pub const HIDDEN: &str = "Ground that hides the Sun in totality";
    /// Ground that was not looked at.
    pub const UNKNOWN: &str = "Ground of which nothing is known";
    /// Roads.
    pub const ROADS: &str = "Roads of the plan";
    /// Towns.
    pub const TOWNS: &str = "Towns";
    /// Where the group sleeps.
    pub const BASE: &str = "Base";
    /// From a base to its fallback.
    pub const LINKS: &str = "Fallback links";
    /// Discs, dots and crosses.
    pub const SITES: &str = "Candidate sites";
    /// What insets enlarge.
    pub const INSETS: &str = "Extents of the insets";
    /// The key.
    pub const LEGEND: &str = "Legend";
    /// The bar.
    pub const SCALE: &str = "Scale";

    /// The path's fill; `noun` is totality or annularity.
    pub fn path(noun: &str) -> String {
        format!("{PATH}, filled by seconds of {noun}")
    }

    /// Hatching, with how closely the ground was looked at.
    pub fn hidden(every_km: f64) -> String {
        format!("{HIDDEN}, looked at every {every_km:.1} km")
    }

    /// An inset.
    pub fn inset(letter: impl std::fmt::Display, places: usize, times: impl std::fmt::Display) -> String {
        format!("Inset {letter}: {places} places, enlarged {times}")
    }
}

/// What a map's PDF says of it to a screen reader.
pub const DESCRIPTION: &str =
    "Map of the path of totality with the ranked sites; the table beside it has the same in words.";

/// Title of the ramp of colours.
pub fn seconds_of(noun: &str) -> String {
    format!("Seconds of {noun}")
}

/// Where more sites are ranked than can be numbered.
pub fn numbered(most: usize, ranked: usize, most_dots: usize) -> String {
    let dots = if ranked - most > most_dots {
        format!("the next {most_dots} are dots, the rest are left out")
    } else {
        "the others are dots".to_owned()
    };
    format!("The best {most} of {ranked} sites are numbered; {dots}.")
}

/// Under the title of a map with all sites.
pub fn all_sites(title: Option<&str>, ranked: usize) -> String {
    match title {
        Some(title) => format!("{title}: {ranked} sites ranked"),
        None => format!("Where to stand: {ranked} sites ranked"),
    }
}

/// Under the title of a map around one site.
pub fn around(name: &str, rank: Option<usize>, totality_s: f64) -> String {
    match rank {
        Some(rank) => format!("Around {name}, rank {rank}: {}", duration(totality_s)),
        None => format!("Around {name}"),
    }
}

/// What the report page's maps show.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shown<'a> {
    /// Totality or annularity.
    pub noun: &'a str,
    /// Limits at the Moon's measured edge.
    pub true_limits: bool,
    /// Chances of a clear sky.
    pub odds: bool,
    /// Sites that were rejected.
    pub rejected: bool,
    /// Clouds.
    pub clouds: bool,
    /// Ground that hides the Sun, looked at every so many kilometres.
    pub hidden_every_km: Option<f64>,
}

/// The legend of the report page's maps, a sign a line.
pub fn signs(shown: &Shown<'_>) -> Vec<String> {
    let mut signs = vec![format!(
        "Dash-dotted: central line. Thin: limits. Across the path: where the deepest moment of {} falls at the time beside it. Dotted: the Sun’s height.",
        shown.noun
    )];
    if shown.true_limits {
        signs.push("Shading, central line and limits are those of a smooth Moon; at the Moon’s measured edge, by which the lengths at the sites are told, the limits lie up to some kilometres off: finely dotted beside them where the map’s scale shows it.".into());
    }
    if shown.odds {
        signs.push("Numbered discs: sites by rank, larger for a better score; the ring round a disc closes with the chance of a clear line to the Sun.".into());
    } else {
        signs.push("Numbered discs: sites by rank, larger for a better score.".into());
    }
    if shown.rejected {
        signs.push("Crosses: rejected sites.".into());
    }
    if shown.clouds {
        signs.push("Stipple: mean cloud, denser for more.".into());
    }
    signs.push("Paler colours: over sea and lakes.".into());
    if let Some(km) = shown.hidden_every_km {
        signs.push(format!(
            "Hatched: ground from which hills hide the Sun in {}, looked at every {km:.1} km. Trees and houses are not in it.",
            shown.noun
        ));
    }
    signs
}
