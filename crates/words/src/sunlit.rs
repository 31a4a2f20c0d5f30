//! From which ground of an area the Sun is free in totality, and which the skyline hides it from.

use std::path::PathBuf;

use noonfall_scoring::outlook::sunlit::survey::{Found, Ground, Survey, THIN_DEG};
use noonfall_shadow::Eclipse;

use crate::{delta_t, numbers, safety};

/// What each file is: three rasters, two pictures.
pub const WHAT: [&str; 5] = [
    "least height of the Sun's centre above the skyline from second to third contact, degrees (GeoTIFF)",
    "when the Sun is lost, seconds from the middle of totality (GeoTIFF)",
    "when the Sun is gained, seconds from the middle of totality (GeoTIFF)",
    "picture (SVG)",
    "picture (PNG)",
];

/// What the samples of each raster are, as it says itself.
pub const SAMPLES: [&str; 3] = [
    "Least height of the centre of the Sun above the skyline from second to third contact, below 0 hidden",
    "Seconds from the middle of totality at which the centre of the Sun goes behind the skyline",
    "Seconds from the middle of totality at which the centre of the Sun comes out from behind the skyline",
];

/// What stands beside it.
pub const CAUTIONS: [&str; 2] = [safety::FREE_SKYLINE, safety::FILTERS.text];

/// Title of the map.
pub fn title(eclipse: &Eclipse) -> String {
    format!("Sunlit ground, {} solar eclipse of {}", eclipse.kind(), numbers::date(eclipse.date()))
}

/// Under it.
pub fn subtitle(found: &Found) -> String {
    format!(
        "{} km² in the path: the skyline hides the Sun in totality from {}, leaves it free on {}; {} not known",
        km2(found.in_path.km2),
        share(found, found.hidden.km2),
        share(found, found.clear.km2 + found.thin.km2),
        share(found, found.without_height.km2 + found.without_skyline.km2)
    )
}

/// Notes beside the map.
pub fn notes(eclipse: &Eclipse, survey: &Survey) -> Vec<String> {
    let mut notes = vec![
        format!(
            "Hatched: the Sun's centre goes behind the skyline in totality. {} nodes {:.0} m apart; eye {:.1} m above the ground; no trees, no houses.",
            survey.found.all.nodes,
            survey.grid.spacing_m().0,
            survey.question.options.ray.eye_height_m
        ),
        format!("Terrain: {}.", survey.terrain.source),
        delta_t::on_map(eclipse),
    ];
    if survey.found.doubtful.nodes > 0 {
        notes.push("Towards missing heights the skyline is that of the known ground only.".to_owned());
    }
    notes
}

/// The page of text: one fact a line; `files` are those that were written, and what they are.
pub fn page(eclipse: &Eclipse, survey: &Survey, files: &[(PathBuf, &str)]) -> Vec<String> {
    let (found, grid, options) = (&survey.found, &survey.grid, &survey.question.options);
    let part = |ground: &Ground, words: &str| {
        format!("  {:>8} km²  {:>7}  {words}", km2(ground.km2), share(found, ground.km2))
    };
    let (size, apart_m) = (format!("{} columns by {} rows", grid.shape.columns, grid.shape.rows), grid.spacing_m().0);
    let clear = format!("the Sun's centre stands {THIN_DEG}° or more above the skyline all through totality");
    let mut lines = vec![
        format!("Sunlit ground, {} solar eclipse of {} (UTC date)", eclipse.kind(), eclipse.date()),
        format!("Area: {}", grid.area().words()),
        format!("Grid: {size}, {apart_m:.0} m apart; the terrain has a height every {:.0} m", grid.sample_m()),
        format!("In the path of totality: {} km²", km2(found.in_path.km2)),
        part(&found.clear, &clear),
        part(&found.thin, &format!("it stands above the skyline, at times by less than {THIN_DEG}°")),
        part(&found.hidden, "it is behind the skyline for a part of totality or all of it"),
        part(&found.without_height, "not known: the terrain has no height there"),
        part(&found.without_skyline, "not known: at the edge of the terrain, no ground towards the Sun"),
    ];
    let heights = |(least, most)| format!("Heights above the skyline: from {least:.2}° to {most:.2}°");
    lines.extend(found.margins_deg.map(heights));
    if let Some(minutes) = options.beyond_totality_min {
        lines.extend([
            format!("From {minutes:.0} min before second contact to {minutes:.0} min after third:"),
            format!("  {:>8} km²  lose the Sun behind the skyline", km2(found.lost.km2)),
            format!("  {:>8} km²  have it come out from behind the skyline", km2(found.gained.km2)),
        ]);
    }
    let ray = &options.ray;
    lines.extend([
        format!(
            "Looked at from {:.1} m above the ground, out to {:.0} km, with refraction of {} of the Earth's curvature. Trees and houses are not known.",
            ray.eye_height_m, ray.farthest_km, ray.refraction_coefficient
        ),
        "Second and third contact are those of a smooth Moon.".to_owned(),
        format!("Terrain: {}", survey.terrain.source),
    ]);
    lines.extend(survey.terrain.notes.iter().cloned());
    lines.extend(survey.warnings.iter().chain(&survey.terrain.warnings).map(|warning| format!("! {warning}")));
    lines.extend(files.iter().map(|(path, what)| format!("Written: {}: {what}", path.display())));
    lines.extend(CAUTIONS.map(|caution| format!("! {caution}")));
    lines
}

fn km2(value: f64) -> String {
    if value < 100.0 { format!("{value:.1}") } else { format!("{value:.0}") }
}

/// A share of the path in the area; what is there never reads as none, nor a part as all.
fn share(found: &Found, km2: f64) -> String {
    match 100.0 * km2 / found.in_path.km2.max(1e-12) {
        none if none <= 0.0 => "0 %".to_owned(),
        little if little < 0.1 => "less than 0.1 %".to_owned(),
        most if most > 99.9 && most < 100.0 - 1e-9 => "more than 99.9 %".to_owned(),
        share => format!("{share:.1} %"),
    }
}
