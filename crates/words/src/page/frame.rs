//! The page's frame: what stands in `page.html`, which asks for it by `{{say key}}`.

/// Keys and texts.
pub(super) const SAID: &[(&str, &str)] = &[
    ("language", crate::LANGUAGE),
    ("skip", "To the answer"),
    ("parts", "Parts of this page"),
    ("short", "In short"),
    ("ground", "The ground"),
    ("order", "The order"),
    ("day", "The day"),
    ("beside", "Side by side"),
    ("point", "What one point would see"),
    (
        "point_how",
        "Tap the map, give a latitude and longitude, or ask this device where it is. All is worked out here, for a level \
         horizon; nothing is sent.",
    ),
    ("latitude", "Latitude, ° north"),
    ("longitude", "Longitude, ° east"),
    ("height_m", "Height, m"),
    ("work_out", "Work it out"),
    ("where_i_am", "Where I am"),
    ("what_counts", "What counts, and how much"),
    ("put_together", "Put together as"),
    ("arithmetic", "sum: a strength can make up for a weakness"),
    ("geometric", "product: a zero anywhere is a zero"),
    ("plans_weights", "Back to the plan’s weights"),
    ("save_plan", "Save as a plan"),
    ("find", "Find a place by its name"),
    ("ranking_table", "Table of the sites in their order"),
    ("show_all", "Show all"),
    ("day_at", "The day at"),
    ("site_to_show", "Site to show in full"),
    ("day_mode", "Day mode"),
    ("small_print", "Small print"),
    (
        "no_scripts",
        "Scripts do not run here: the answer, the map, the table and the cautions stand as computed; sliders, tapping and \
         the countdown need a browser that runs scripts.",
    ),
];

/// In the styles, before a table that sticks out of its box.
pub const WIDER: &str = "Wider than the screen: swipe, or use the arrow keys.";

/// Over the cautions of an eclipse that is total somewhere: where it is.
pub const IN_THE_PATH: &str = "In the path of totality";
/// The same for the rest.
pub const ELSEWHERE: &str = "Everywhere else";

/// The best site's height and direction of the Sun, where scripts do not run: the label.
pub const SUN_STANDS: &str = "Sun’s height and direction";

/// The same in figures.
pub fn sun_stands(altitude_deg: f64, azimuth: &str) -> String {
    format!("{altitude_deg:.0}°, {azimuth} from north through east")
}

/// Under the table of sites; `drawn` tells whether ranks have ranges.
pub fn caption(ranked: usize, rejected: usize, plan: &str, drawn: bool) -> String {
    let draws = if drawn { " Under a rank: its range when the uncertain inputs are drawn anew." } else { "" };
    let plan = if plan.is_empty() { String::new() } else { format!(" Plan: {plan}.") };
    format!(
        "{ranked} sites ranked, {rejected} rejected with the reason.{plan} Local times by the clock of each site; a name shows the site in full.{draws}"
    )
}

/// In the small print: the sum of the plan's text.
pub fn plan_sum(sha256: &str) -> String {
    format!("Plan SHA-256 {sha256}")
}
