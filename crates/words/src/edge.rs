//! Which edge of the Moon times belong to.

use noonfall_scoring::outlook::totality::{EdgeShown, TotalityRules};
use noonfall_scoring::outlook::words::window::left_uncertain;

/// Over the picture of it.
pub const PICTURE: &str = "The Moon's edge at the last and the first light";

/// Which edge of the Moon contacts are shown at, and from which heights.
pub fn contacts_at(shown: EdgeShown, source: &str) -> String {
    match shown {
        EdgeShown::True => format!("C2 and C3 at the Moon's measured edge: {source}."),
        EdgeShown::Smooth => format!("C2 and C3 of a smooth Moon; filter times at the measured edge: {source}."),
    }
}

/// So many letters of a grid's name are printed.
const LONGEST_GRID: usize = 32;

/// The same under a brief, with what is left uncertain.
pub fn on_brief(rules: &TotalityRules) -> String {
    let moon = rules.heights();
    // A file's name may be of any length, and the line has to fit.
    let mut grid: String = moon.grid().chars().take(LONGEST_GRID).collect();
    if grid.len() < moon.grid().len() {
        grid.push('…');
    }
    match rules.edge_shown() {
        EdgeShown::True => format!("C2 and C3 at the Moon's measured edge ({grid}); {}.", left_uncertain(moon)),
        EdgeShown::Smooth => {
            format!(
                "C2 and C3 of a smooth Moon, as handbooks have them; filter times at the Moon's measured edge ({grid})."
            )
        }
    }
}

/// The length of the central phase at a place, with the edge it is taken at.
pub fn length_at_place(duration_s: f64, size_ratio: f64, edge: Option<(EdgeShown, &str)>) -> String {
    let edge = match edge {
        Some((EdgeShown::True, source)) => format!(" at the Moon's measured edge of {source}"),
        Some((EdgeShown::Smooth, source)) => {
            format!(" of a smooth Moon (filter times at the measured edge of {source})")
        }
        None => String::new(),
    };
    format!("{duration_s:.1} s from second to third contact{edge}, size ratio {size_ratio:.4}")
}

/// What the contacts in the JSON of a place are.
pub const CONTACTS_IN_JSON: &str =
    "contacts are those of a smooth Moon; moon_edge has second and third contact at the Moon's measured edge";

/// In files with limits at the measured edge.
pub fn limits_in_file(source: &str) -> String {
    format!("Limits without a moment of totality beyond them at the Moon's measured edge: {source}.")
}

/// On every map that gives times or durations: of a smooth Moon all over, or at the Moon's measured edge where that was computed, from which
/// grid of heights.
pub fn on_map(grid: Option<&str>) -> String {
    match grid {
        None => "Times and durations are those of a smooth Moon; mountains and valleys on its edge move second and third contact by some seconds.".to_owned(),
        Some(grid) => format!(
            "Lengths at the sites are those at the Moon's measured edge ({grid}); shading, central line and solid limits are \
             those of a smooth Moon, some seconds and kilometres off."
        ),
    }
}
