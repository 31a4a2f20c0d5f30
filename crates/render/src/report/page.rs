//! From the model to the page: the template with its parts set in, everything that a user wrote escaped.

use super::model::{Instant, ReportModel, SiteEntry};
use super::packed::packed;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use chrono::{DateTime, FixedOffset};
use noonfall_drawing::svg::escape;
use noonfall_words::numbers::{azimuth, duration};
use noonfall_words::{clouds, drives, files, page as words, seen, window};
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;

const TEMPLATE: &str = include_str!("../../assets/report/page.html");

/// The styles in the order in which they overrule one another.
const STYLES: [&str; 4] = [
    include_str!("../../assets/report/page.css"),
    include_str!("../../assets/report/tables.css"),
    include_str!("../../assets/report/day.css"),
    include_str!("../../assets/report/print.css"),
];

/// The scripts in the order in which they need one another.
const SCRIPTS: [&str; 30] = [
    include_str!("../../assets/report/vendor/panzoom/panzoom.min.js"),
    include_str!("../../assets/report/base64.js"),
    include_str!("../../assets/report/inflate.js"),
    include_str!("../../assets/report/say.js"),
    include_str!("../../assets/report/model.js"),
    include_str!("../../assets/report/memory.js"),
    include_str!("../../assets/report/circumstances.js"),
    include_str!("../../assets/report/edge.js"),
    include_str!("../../assets/report/scoring.js"),
    include_str!("../../assets/report/clock.js"),
    include_str!("../../assets/report/draw.js"),
    include_str!("../../assets/report/filters.js"),
    include_str!("../../assets/report/site.js"),
    include_str!("../../assets/report/ground_entry.js"),
    include_str!("../../assets/report/assess.js"),
    include_str!("../../assets/report/exchange.js"),
    include_str!("../../assets/report/map_marks.js"),
    include_str!("../../assets/report/hidden_ground.js"),
    include_str!("../../assets/report/map.js"),
    include_str!("../../assets/report/point.js"),
    include_str!("../../assets/report/countdown.js"),
    include_str!("../../assets/report/weights.js"),
    include_str!("../../assets/report/long_table.js"),
    include_str!("../../assets/report/order.js"),
    include_str!("../../assets/report/beside.js"),
    include_str!("../../assets/report/day_clock.js"),
    include_str!("../../assets/report/day_signal.js"),
    include_str!("../../assets/report/day_mode.js"),
    include_str!("../../assets/report/sheet.js"),
    include_str!("../../assets/report/page.js"),
];

/// A table up to so long stands in the page whole before its scripts run (`assets/report/order.js` has both numbers too).
const ALL_ROWS: usize = 100;

/// Rows of a longer one: each costs a slow phone time before the first screen stands; the scripts show the rest.
const FIRST_ROWS: usize = 40;

/// Why the page could not be written.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// A number in the model is not finite, or a list is not as long as the list of criteria.
    #[error("the report cannot be written: {0}")]
    Model(String),
    /// The model could not be turned into JSON.
    #[error("the report's data cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// The report page as one self-contained HTML text.
///
/// # Errors
/// [`ReportError`] if the model contradicts itself; nothing in a model read from files can bring that about.
pub fn report_html(model: &ReportModel) -> Result<String, ReportError> {
    check(model)?;
    let script = SCRIPTS.join("\n");
    let first_rows = if model.sites.len() > ALL_ROWS { FIRST_ROWS } else { ALL_ROWS };
    let mut parts: Vec<(&str, String)> = vec![
        ("program", escape(&model.program)),
        ("title", escape(&model.title)),
        ("style", style()),
        ("eclipse", escape(&model.eclipse.title)),
        ("group", if model.group.is_empty() { String::new() } else { format!("<p>{}</p>", escape(&model.group)) }),
        (
            "invented",
            model.invented.as_ref().map_or(String::new(), |text| format!("<p class=\"invented\">{}</p>", escape(text))),
        ),
        ("answer", answer(model)),
        ("maps", maps(model)),
        ("legend", legend(model)),
        ("caption", escape(&caption(model))),
        ("heads", heads()),
        ("rows", model.sites.iter().take(first_rows).map(row).collect()),
        ("cautions", cautions(model)),
        ("notes", list(&model.notes)),
        ("credits", escape(&credits(model))),
        ("model", packed(model)?),
        ("policy", policy(&script)),
        ("script", script),
    ];
    if model.cautions_total.is_empty() || model.cautions_partial.is_empty() {
        return Err(ReportError::Model("it carries no cautions".into()));
    }
    set_in(TEMPLATE, &mut parts)
}

/// Replaces every `{{name}}` of the template by a part, and every `{{say key}}` by what the page says; what is set in is not read again.
fn set_in(template: &str, parts: &mut [(&str, String)]) -> Result<String, ReportError> {
    let mut out = String::with_capacity(template.len() + parts.iter().map(|p| p.1.len()).sum::<usize>());
    let mut rest = template;
    while let Some((before, after)) = rest.split_once("{{") {
        out.push_str(before);
        let (name, after) =
            after.split_once("}}").ok_or_else(|| ReportError::Model("the template has an open place".into()))?;
        let said = name.strip_prefix("say ").and_then(words::said).map(escape);
        let part = said.as_ref().or_else(|| parts.iter().find(|p| p.0 == name).map(|p| &p.1));
        out.push_str(
            part.ok_or_else(|| ReportError::Model(format!("the template asks for {name:?}, which there is not")))?,
        );
        rest = after;
    }
    out.push_str(rest);
    Ok(out)
}

/// A model whose lists and numbers hang together.
fn check(model: &ReportModel) -> Result<(), ReportError> {
    let wrong = |what: String| Err(ReportError::Model(what));
    let finite = |values: &[f64]| values.iter().all(|v| v.is_finite());
    if !model.criteria.iter().all(|c| c.weight.is_finite() && c.weight >= 0.0) {
        return wrong("a weight is not a number".into());
    }
    for site in &model.sites {
        if site.values.len() != model.criteria.len() || site.utilities.len() != model.criteria.len() {
            return wrong(format!("{:?} has not one value and one utility for each criterion", site.name));
        }
        let numbers = [site.lat_deg, site.lon_deg, site.elevation_m, site.duration_s, site.magnitude, site.obscuration];
        let seen = site.contacts.iter().flatten().flat_map(|c| [c.altitude_deg, c.azimuth_deg]);
        let optional: Vec<f64> =
            site.values.iter().chain(&site.utilities).flatten().copied().chain(site.score).chain(seen).collect();
        if !finite(&numbers) || !finite(&optional) {
            return wrong(format!("a number of {:?} is not finite", site.name));
        }
        if site.window.is_some() && site.phase != "total" {
            return wrong(format!("{:?} has a window for unaided eyes outside totality", site.name));
        }
    }
    if let Some(pair) = model.pair
        && pair.iter().any(|&i| i >= model.sites.len())
    {
        return wrong("the pair to compare is not among the sites".into());
    }
    if let Some(elements) = &model.elements
        && !elements.coefficients.iter().all(|p| finite(p))
    {
        return wrong("an element is not finite".into());
    }
    Ok(())
}

/// The page's own policy: no connection of any kind, no script but the one it came with (Content Security Policy Level 3,
/// W3C: a hash of the text between the tags).
fn policy(script: &str) -> String {
    let hash = STANDARD.encode(Sha256::digest(format!("\n{script}\n")));
    format!(
        "default-src 'none'; script-src 'sha256-{hash}'; style-src 'unsafe-inline'; img-src data: blob:; font-src data:; \
         base-uri 'none'; form-action 'none'"
    )
}

/// The styles, with what they say themselves.
fn style() -> String {
    let wider = words::frame::WIDER.replace(['\\', '"'], "");
    format!("{}:root {{\n  --wider: \"{wider}\";\n}}\n", STYLES.concat())
}

fn caption(model: &ReportModel) -> String {
    let ranked = model.sites.iter().filter(|s| s.rank.is_some()).count();
    let rejected = model.sites.len() - ranked;
    let drawn = model.sites.iter().any(|s| s.rank_interval.is_some());
    words::frame::caption(ranked, rejected, &model.plan.file, drawn)
}

fn credits(model: &ReportModel) -> String {
    let mut out = model.credits.join("; ");
    if !model.plan.sha256.is_empty() {
        let _ = write!(out, ". {}", words::frame::plan_sum(&model.plan.sha256));
    }
    let _ = write!(out, ". {}", model.program);
    out.trim_start_matches(". ").to_owned()
}

/// The cautions: those of totality only where this eclipse is total somewhere.
fn cautions(model: &ReportModel) -> String {
    let partial = format!("<ul>\n{}</ul>", list(&model.cautions_partial));
    if !matches!(model.eclipse.kind.as_str(), "total" | "hybrid") {
        return partial;
    }
    format!(
        "<h3>{}</h3>\n<ul>\n{}</ul>\n<h3>{}</h3>\n{partial}",
        words::frame::IN_THE_PATH,
        list(&model.cautions_total),
        words::frame::ELSEWHERE
    )
}

fn list(texts: &[String]) -> String {
    texts.iter().map(|text| format!("<li>{}</li>\n", escape(text))).collect()
}

fn maps(model: &ReportModel) -> String {
    let mut out = String::new();
    for (map, class) in model.maps.iter().zip(["wide", "narrow"]) {
        // A drawing for a file of its own may begin with an XML declaration, which HTML does not know.
        let svg = map.svg.find("<svg").map_or("", |start| &map.svg[start..]);
        let _ = writeln!(out, "<div class=\"plate {class}\"><div>\n{svg}</div></div>");
    }
    out
}

/// The map's key: swatches with their words.
fn legend(model: &ReportModel) -> String {
    let legend = &model.legend;
    if legend.steps.is_empty() && legend.signs.is_empty() {
        return String::new();
    }
    let mut out = format!("<div class=\"legend\"><p><b>{}</b></p><ul class=\"swatches\">", escape(&legend.title));
    for (colour, words) in &legend.steps {
        let _ = write!(out, "<li><span style=\"background:{}\"></span>{}</li>", escape(colour), escape(words));
    }
    out.push_str("</ul>");
    for sign in &legend.signs {
        let _ = write!(out, "<p class=\"quiet\">{}</p>", escape(sign));
    }
    out.push_str("</div>");
    out
}

fn clock(at: Instant) -> String {
    FixedOffset::east_opt(at.offset_s)
        .zip(DateTime::from_timestamp_millis(at.utc_ms + 500))
        .map_or(String::new(), |(offset, utc)| utc.with_timezone(&offset).format("%H:%M:%S").to_string())
}

/// The best site in a few lines, for where scripts do not run.
fn answer(model: &ReportModel) -> String {
    let Some(site) = model.sites.iter().find(|s| s.rank == Some(1)) else {
        return format!("<p class=\"warn\">{}</p>", words::NO_SITE);
    };
    let mut facts: Vec<(&str, String)> = Vec::new();
    if site.phase == "total" {
        facts.push((words::TOTALITY_LASTS, duration(site.duration_s)));
    }
    if let (Some(c2), "total") = (&site.contacts[1], site.phase.as_str()) {
        facts.push((words::TOTALITY_BEGINS, format!("{} {}", clock(c2.at), site.zone_short)));
    }
    let open = site.window.as_ref().filter(|_| site.phase == "total");
    let ends = open.map(|window| (clock(later(window.off)), clock(earlier(window.on))));
    let ends = ends.as_ref().map(|(off, on)| (off.as_str(), on.as_str()));
    facts.push((window::FILTERS, window::on_page(ends)));
    if let Some(max) = site.contacts[2] {
        let stands = if max.up {
            words::frame::sun_stands(max.altitude_deg, &azimuth(max.azimuth_deg))
        } else {
            seen::BELOW_HORIZON.into()
        };
        facts.push((words::frame::SUN_STANDS, stands));
    }
    if let Some(cloud) = &site.cloud {
        facts.push((clouds::CLEAR_LINE, format!("{:.0} %", cloud.clear * 100.0)));
    }
    if let Some(way) = &site.way {
        facts.push((drives::FROM_BASE, way.base.clone()));
    }
    if let Some(fallback) = &site.fallback {
        facts.push((drives::IF_GREY, fallback.name.clone()));
    }
    let mut out = format!("<p class=\"place\"><bdi>{}</bdi></p>\n<dl class=\"facts\">\n", escape(&site.name));
    for (label, value) in facts {
        let _ = writeln!(out, "<div><dt>{label}</dt><dd><b>{}</b></dd></div>", escape(&value));
    }
    out.push_str("</dl>");
    out
}

/// Up to the next whole second: filters never come off too early. Half a second less, because [`clock`] rounds.
fn later(at: Instant) -> Instant {
    Instant { utc_ms: at.utc_ms.div_euclid(1000) * 1000 + if at.utc_ms.rem_euclid(1000) > 0 { 1000 } else { 0 }, ..at }
}

/// Down to the whole second: filters are never on too late.
fn earlier(at: Instant) -> Instant {
    Instant { utc_ms: at.utc_ms.div_euclid(1000) * 1000, ..at }
}

fn heads() -> String {
    let names =
        [words::RANK, words::SITE, words::SCORE, words::TOTALITY, words::BEGINS, words::SUN_HEIGHT, words::CLEAR];
    names.iter().map(|name| format!("<th scope=\"col\">{name}</th>")).collect()
}

fn row(site: &SiteEntry) -> String {
    let total = site.phase == "total";
    let rank = site.rank.map_or(words::DASH.into(), |rank| rank.to_string());
    let score = site.score.map_or(words::DASH.into(), |score| format!("{score:.3}"));
    let begins = match (&site.contacts[1], total) {
        (Some(c2), true) => format!("{} {}", clock(c2.at), site.zone_short),
        _ => words::DASH.into(),
    };
    let height = site.contacts[2]
        .map_or(words::DASH.into(), |max| if max.up { format!("{:.1}°", max.altitude_deg) } else { seen::DOWN.into() });
    let clear = site.cloud.as_ref().map_or(words::DASH.into(), |cloud| format!("{:.0} %", cloud.clear * 100.0));
    let why = if site.rejected.is_empty() {
        String::new()
    } else {
        format!("<div class=\"why\">{}</div>", escape(&files::rejected(&site.rejected)))
    };
    let cells: String =
        [score, if total { duration(site.duration_s) } else { words::NONE.into() }, begins, height, clear]
            .iter()
            .map(|cell| format!("<td class=\"n\">{}</td>", escape(cell)))
            .collect();
    format!(
        "<tr><td class=\"n\">{rank}</td><th scope=\"row\"><bdi>{}</bdi>{why}</th>{cells}</tr>\n",
        escape(&site.name)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::{CloudOdds, ContactEntry, Criterion, EyeWindow};

    fn model() -> ReportModel {
        ReportModel {
            title: "A trip".into(),
            cautions_total: vec!["Filters on outside totality.".into()],
            cautions_partial: vec!["Filters on throughout.".into()],
            criteria: vec![Criterion { name: "totality".into(), weight: 1.0, ..Criterion::default() }],
            ..ReportModel::default()
        }
    }

    fn site(name: &str) -> SiteEntry {
        SiteEntry {
            name: name.into(),
            phase: "total".into(),
            rank: Some(1),
            score: Some(0.5),
            values: vec![Some(100.0)],
            utilities: vec![Some(0.5)],
            contacts: [None, Some(ContactEntry::default()), Some(ContactEntry::default()), None, None],
            cloud: Some(CloudOdds { clear: 0.5, ..CloudOdds::default() }),
            ..SiteEntry::default()
        }
    }

    #[test]
    fn names_cannot_become_markup_or_end_the_script() {
        let mut model = model();
        let name = "<script>alert(1)</script> \"&' </script><!--";
        model.sites = vec![site(name)];
        model.title = name.into();
        let html = report_html(&model).unwrap();
        assert!(!html.contains("<script>alert"), "raw name in the page");
        // The model, the scripts: two openings and two ends, no more.
        assert_eq!(html.matches("</script>").count(), 2);
        assert!(html.contains("&lt;script&gt;alert(1)"));
        let carried = html.split("id=\"model\">").nth(1).unwrap().split("</script>").next().unwrap();
        let bytes = STANDARD.decode(carried).unwrap();
        let back: serde_json::Value = serde_json::from_reader(flate2::read::GzDecoder::new(&bytes[..])).unwrap();
        assert_eq!(back["sites"]["columns"]["name"]["v"][0], name);
    }

    #[test]
    fn what_is_set_in_is_not_read_as_template() {
        let mut model = model();
        model.title = "{{model}} {{nothing}}".into();
        assert!(report_html(&model).unwrap().contains("<h1>{{model}} {{nothing}}</h1>"));
    }

    #[test]
    fn the_frame_has_no_words_to_spare() {
        for key in words::frame_keys() {
            assert!(TEMPLATE.contains(&format!("{{{{say {key}}}}}")), "nobody asks for {key}");
        }
    }

    #[test]
    fn a_window_outside_totality_is_refused() {
        let mut model = model();
        model.sites = vec![SiteEntry { phase: "partial".into(), window: Some(EyeWindow::default()), ..site("x") }];
        assert!(matches!(report_html(&model), Err(ReportError::Model(_))));
    }

    #[test]
    fn a_number_that_is_none_is_refused() {
        let mut model = model();
        model.sites = vec![SiteEntry { values: vec![Some(f64::NAN)], ..site("x") }];
        assert!(matches!(report_html(&model), Err(ReportError::Model(_))));
        model.sites = vec![SiteEntry { utilities: vec![], ..site("x") }];
        assert!(matches!(report_html(&model), Err(ReportError::Model(_))));
    }

    #[test]
    fn a_page_without_cautions_is_refused() {
        assert!(report_html(&ReportModel::default()).is_err());
    }

    #[test]
    fn no_site_is_a_page_too() {
        let html = report_html(&model()).unwrap();
        assert!(html.contains("No site can be ranked"));
        assert!(!html.contains("http://") || !html.contains("src=\"http"), "nothing is fetched");
    }

    #[test]
    fn the_sun_below_the_horizon_is_told_so_and_north_is_no_full_turn() {
        let stands = |altitude_deg, azimuth_deg, up| {
            let max = ContactEntry { altitude_deg, azimuth_deg, up, ..ContactEntry::default() };
            let site = SiteEntry { contacts: [None, None, Some(max), None, None], ..site("x") };
            (row(&site), answer(&ReportModel { sites: vec![site], ..model() }))
        };
        let (row, answer) = stands(9.44, 359.7, true);
        assert!(row.contains("<td class=\"n\">9.4°</td>") && answer.contains("<b>9°, 0° from north"), "{row} {answer}");
        let (row, answer) = stands(-0.4, 292.0, false);
        assert!(
            row.contains("<td class=\"n\">down</td>") && answer.contains("<b>below the horizon</b>"),
            "{row} {answer}"
        );
    }

    #[test]
    fn filter_times_are_rounded_to_the_safe_side() {
        let at = |utc_ms| Instant { utc_ms, offset_s: 3600 };
        assert_eq!(clock(later(at(1_000))), "01:00:01");
        assert_eq!(clock(later(at(1_001))), "01:00:02");
        assert_eq!(clock(earlier(at(1_999))), "01:00:01");
    }
}
