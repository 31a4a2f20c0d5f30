//! Odds of a clear line to the Sun.

use noonfall_scoring::outlook::cloud::CloudOutlook;

use crate::numbers::{clean, percent, percent_interval};

/// What the odds are of.
pub const CLEAR_LINE: &str = "Clear line to the Sun";

/// Why no odds are known.
pub const NOT_GIVEN: &str = "no cloud data for this place";

/// On a brief, where no figures were given.
pub(crate) const STILL_OPEN: &str = "No cloud figures for this place: watch the forecast from a week before.";

/// Odds of a clear line to the Sun.
/// # Units
/// Fractions from 0 to 1.
#[derive(Clone, Debug, PartialEq)]
pub struct CloudFacts {
    /// Probability of a clear line of sight.
    pub clear_line_of_sight: f64,
    /// Lower end of the 95 % interval.
    pub low_95: f64,
    /// Upper end of the 95 % interval.
    pub high_95: f64,
    /// Mean cloud cover.
    pub cloud_fraction: f64,
    /// Years of record behind it.
    pub years: Option<u32>,
    /// Where the figure comes from.
    pub source: String,
    /// Whether the climatology is invented.
    pub invented: bool,
}

/// How sure the odds are.
pub(crate) fn interval(cloud: &CloudFacts) -> String {
    interval_of(&percent_interval(cloud.low_95, cloud.high_95))
}

pub(crate) fn interval_of(interval: &str) -> String {
    format!("95 % interval {interval}")
}

/// How long the record is.
pub(crate) fn years(years: &str) -> String {
    format!(", {years} years of records")
}

/// On a brief.
pub(crate) fn on_brief(cloud: &CloudFacts) -> Vec<String> {
    let mut line = format!(
        "{} ({}): mean cloud {:.0} %",
        percent(cloud.clear_line_of_sight),
        interval(cloud),
        cloud.cloud_fraction.clamp(0.0, 1.0) * 100.0
    );
    if let Some(years) = cloud.years {
        line.push_str(&self::years(&years.to_string()));
    }
    let source = clean(&cloud.source, 70);
    if !source.is_empty() {
        line.push_str(&format!(", {source}"));
    }
    if cloud.invented && !source.to_lowercase().contains("invented") {
        line.push_str(", INVENTED for the demo");
    }
    line.push('.');
    let mut lines = vec![line];
    lines.push("A climatology, not a forecast: look at the forecast in the last days.".into());
    lines
}

/// At a place, a sentence a line.
pub fn at_place(cloud: Option<&CloudOutlook>) -> Vec<String> {
    let Some(c) = cloud else { return vec![format!("{CLEAR_LINE}: not known ({NOT_GIVEN})")] };
    let line = format!(
        "{CLEAR_LINE}: {:.0} % (95 % interval {:.0} to {:.0} %); mean cloud {:.0} %; {}{}",
        c.clear_line_of_sight * 100.0,
        c.low_95 * 100.0,
        c.high_95 * 100.0,
        c.cloud_fraction * 100.0,
        c.source,
        if c.invented { " (INVENTED DATA)" } else { "" }
    );
    [line].into_iter().chain(c.notes.iter().cloned()).collect()
}

/// In files for other programs.
pub fn in_file(chance: Option<f64>) -> String {
    match chance.filter(|chance| chance.is_finite()) {
        Some(chance) => format!("{CLEAR_LINE}: {}.", percent(chance)),
        None => format!("{CLEAR_LINE}: not known."),
    }
}
