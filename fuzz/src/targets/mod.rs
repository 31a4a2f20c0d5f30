//! One target for each reader.

mod clouds;
mod heights;
mod trip;

use std::path::Path;

use crate::target::Target;

/// All targets, in the order of their rooms.
pub fn all() -> Vec<Target> {
    let mut all = clouds::targets();
    all.extend(trip::targets());
    all.extend(heights::targets());
    all
}

/// A refusal's words, held to what every refusal promises: a line for each fault, none of them empty, none of them endless.
fn refused(faults: &impl ToString, path: &Path) -> String {
    let words = faults.to_string();
    let lines = words.lines().count();
    assert!((1..=21).contains(&lines), "{lines} lines: {words}");
    assert!(words.lines().all(|l| !l.trim().is_empty() && l.len() < 4000), "{words}");
    let folder = path.parent().map(|p| p.display().to_string()).unwrap_or_default();
    words.replace(&folder, "")
}

/// Whether a place is one on the Earth.
fn is_place(lat_deg: f64, lon_deg: f64) -> bool {
    lat_deg.abs() <= 90.0 && lon_deg > -180.0 && lon_deg <= 180.0
}
