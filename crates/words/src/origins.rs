//! Where figures come from, and what made a file.

/// The data behind an output: `Data: JPL DE440; GeoNames (CC BY 4.0).`
pub fn data(credits: &[String]) -> String {
    format!("Data: {}.", credits.join("; "))
}

/// On a map: the plan and the program.
pub fn plan(plan: &str, sha256: &str, program: &str, version: &str) -> String {
    format!("Plan {plan} ({}), {program} {version}.", sha256.get(..12).unwrap_or_default())
}

/// Under a brief: the program and the plan.
pub fn made_by(program: &str, version: &str, sha256: &str) -> String {
    format!("{program} {version}, plan {}", sha256.get(..8).unwrap_or_default())
}

/// The ephemeris.
pub fn ephemeris(name: &str) -> String {
    format!("Ephemeris: {name}.")
}

/// The files of a plan.
pub fn files(names: &[&str]) -> String {
    format!("Read from: {}.", names.join(", "))
}

/// What the ranges of ranks rest on; `interval` is a fraction.
pub fn rank_ranges(interval: f64, draws: impl std::fmt::Display, seed: impl std::fmt::Display, spread: f64) -> String {
    format!(
        "Rank ranges hold {:.0} % of {draws} draws (seed {seed}) of cloud odds, ΔT and weights (relative spread {spread}).",
        interval * 100.0
    )
}
