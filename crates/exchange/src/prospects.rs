//! What `noonfall at` shows of places: one object, a table, a page of text, a calendar.

use crate::json::{self, to_text};
use crate::sheets;
use crate::terminal::Screen;
use crate::values::{self, maybe, number};
use crate::{ExportHead, ExportSite, calendar};
use noonfall_scoring::input::terrain::Told;
use noonfall_scoring::outlook::cloud::CloudOutlook;
use noonfall_scoring::outlook::skyline::Skyline;
use noonfall_scoring::outlook::true_limit::TrueLimitNear;
use noonfall_scoring::outlook::words::limits::near_true_limit;
use noonfall_scoring::prospect::Prospect;
use noonfall_shadow::{Eclipse, Phase};
use noonfall_words::{self as words, safety};
use serde_json::{Map, Value, json};
use std::cell::RefCell;

/// What a place without a name is called.
const NAMELESS: &str = "Site";

/// One object for a single place, an array otherwise.
pub fn json(eclipse: &Eclipse, prospects: &[Prospect], terrain: Option<&Told>, single: bool) -> String {
    let mut objects: Vec<Value> = prospects.iter().map(|p| object(eclipse, p, terrain)).collect();
    match (single, objects.len()) {
        (true, 1) => to_text(&objects.remove(0), true),
        _ => to_text(&Value::Array(objects), true),
    }
}

/// One object on each line.
pub fn json_lines(eclipse: &Eclipse, prospects: &[Prospect], terrain: Option<&Told>) -> String {
    prospects.iter().map(|p| to_text(&object(eclipse, p, terrain), false)).collect()
}

/// What is said of the terrain.
pub fn terrain_told(told: &Told) -> Value {
    json!({ "source": told.source, "notes": told.notes, "warnings": told.warnings })
}

fn object(eclipse: &Eclipse, prospect: &Prospect, terrain: Option<&Told>) -> Value {
    let found = &prospect.found;
    let mut fields: Map<String, Value> = json::circumstances(eclipse, &found.place, &found.totality.smooth);
    let null = || Value::Null;
    fields.insert("elevation_source".into(), json!(found.place.height.to_string()));
    fields.insert("sunrise_utc".into(), found.local().sunrise.map_or_else(null, |tt| json!(values::utc(tt))));
    fields.insert("sunset_utc".into(), found.local().sunset.map_or_else(null, |tt| json!(values::utc(tt))));
    // The offer's own keys are those of the contract; where there is none they are all null.
    let keys = ["moon_edge", "filters", "sky", "shadow", "shadow_bands", "limb", "light", "light_after_c3"];
    for key in keys {
        fields.insert(key.into(), Value::Null);
    }
    let offer = prospect.offer.as_ref().and_then(|offer| serde_json::to_value(offer).ok());
    if let Some(Value::Object(offer)) = offer {
        for (key, value) in offer {
            fields.insert(key, rounded(value));
        }
    }
    fields.insert("skyline".into(), found.skyline.as_ref().map_or_else(null, skyline));
    fields.insert("cloud".into(), found.cloud.as_ref().map_or_else(null, cloud));
    fields.insert("true_limit".into(), found.near_limit.as_ref().map_or_else(null, true_limit));
    fields.insert("terrain".into(), terrain.map_or_else(null, terrain_told));
    fields.insert("warnings".into(), json!(found.warnings()));
    fields.insert("limb_caution".into(), json!(words::edge::CONTACTS_IN_JSON));
    fields.insert("caution".into(), json!(safety::one_line(found.decision.is_ok())));
    Value::Object(fields)
}

/// Computed figures to five significant digits after the point: more is noise.
fn rounded(value: Value) -> Value {
    match value {
        Value::Number(n) if n.is_f64() => n.as_f64().map_or(Value::Null, |x| number(x, 5)),
        Value::Array(items) => Value::Array(items.into_iter().map(rounded).collect()),
        Value::Object(fields) => Value::Object(fields.into_iter().map(|(k, v)| (k, rounded(v))).collect()),
        other => other,
    }
}

/// The line beyond which the Moon's measured edge leaves no totality, as seen from a place inside it.
fn true_limit(near: &TrueLimitNear) -> Value {
    json!({ "inside_km": number(near.km, 2), "outwards_deg": number(near.outwards_deg, 1) })
}

fn skyline(skyline: &Skyline) -> Value {
    let mut fields = json::skyline(skyline, 3);
    fields.extend(json::object(json!({
        "disc_margin_deg": number(skyline.disc_margin_deg, 3),
        "margin_sigma_deg": maybe(skyline.margin_sigma_deg, 3),
        "sun_gained_utc": skyline.sun_gained.map(values::utc),
        "notes": skyline.notes,
    })));
    Value::Object(fields)
}

fn cloud(cloud: &CloudOutlook) -> Value {
    let mut fields = json::cloud(cloud);
    fields.insert("layers".into(), json!(cloud.layers.as_ref().map(crate::cloud_archives::layers)));
    fields.insert("notes".into(), json!(cloud.notes));
    Value::Object(fields)
}

/// The rows as a terminal shows them, and which edge of the Moon the contacts are at.
pub fn table_for_terminal(prospects: &[Prospect], terrain: Option<&Told>, screen: Screen) -> String {
    let mut text = screen.table(&sheets::circumstances(prospects));
    if let Some(edge) = edge_sentence(prospects) {
        text.push_str(&screen.line(&edge));
    }
    terrain_lines(terrain, &mut |words: String| text.push_str(&screen.line(&words)));
    text
}

fn terrain_lines(terrain: Option<&Told>, line: &mut impl FnMut(String)) {
    let Some(told) = terrain else { return };
    told.notes.iter().for_each(|note| line(note.clone()));
    told.warnings.iter().for_each(|warning| line(format!("! {warning}")));
}

/// Which edge of the Moon the contacts of the places are at; nothing where none of them lies near the path.
fn edge_sentence(prospects: &[Prospect]) -> Option<String> {
    let edge = prospects.iter().find_map(|p| p.offer.as_ref()?.moon_edge.as_ref())?;
    Some(words::edge::contacts_at(edge.shown(), &edge.source))
}

/// The contacts of every place, for a calendar.
pub fn calendar(eclipse: &Eclipse, prospects: &[Prospect]) -> String {
    let sites: Vec<ExportSite> = prospects.iter().map(export).collect();
    let stamp = noonfall_ephemeris::time_scales::midnight_utc(eclipse.date());
    let edge = edge_sentence(prospects).unwrap_or_default();
    calendar::contacts(&ExportHead { edge, ..ExportHead::of(eclipse) }, &sites, stamp)
}

fn export(prospect: &Prospect) -> ExportSite {
    let mut site = ExportSite::of(&prospect.found, prospect.offer.as_ref());
    if site.name.is_empty() {
        site.name = NAMELESS.to_owned();
    }
    site
}

/// A page of text for one place: what it sees, when, and what it offers.
pub fn page(eclipse: &Eclipse, prospect: &Prospect, terrain: Option<&Told>, screen: Screen) -> String {
    let found = &prospect.found;
    let (local, site, zone) = (found.local(), &found.place.site, found.place.clock_zone());
    let text = RefCell::new(String::new());
    let mut line = |words: String| text.borrow_mut().push_str(&screen.line(&words));
    let name = found.place.given_name().unwrap_or(NAMELESS);
    line(format!(
        "{name}  {:.5}, {:.5}  {:.0} m ({})",
        site.lat_deg, site.lon_deg, site.elevation_m, found.place.height
    ));
    line(words::eclipse::at_place(&eclipse.kind().to_string(), eclipse.date(), local.phase));
    if local.phase == Phase::None {
        line(words::seen::NO_ECLIPSE.to_owned());
        return text.into_inner();
    }
    if local.phase.is_central() {
        let edge = prospect.offer.as_ref().and_then(|o| o.moon_edge.as_ref()).map(|e| (e.shown(), e.source.as_str()));
        line(words::edge::length_at_place(local.duration_s, local.size_ratio, edge));
    }
    if let Some(near) = &found.near_limit {
        line(near_true_limit(near));
    }
    words::window::at_place(&found.decision, zone).into_iter().for_each(&mut line);
    line(words::seen::depth(local));
    line(String::new());
    text.borrow_mut().push_str(&screen.table(&sheets::contacts(local, zone)));
    words::seen::sunrise_and_sunset(local, zone).for_each(&mut line);
    line(String::new());
    if let Some(offer) = &prospect.offer {
        words::offer::lines(offer, zone, &mut line);
    }
    if let Some(skyline) = &found.skyline {
        words::skyline::at_place(skyline, zone).into_iter().for_each(&mut line);
    }
    terrain_lines(terrain, &mut line);
    words::clouds::at_place(found.cloud.as_ref()).into_iter().for_each(&mut line);
    line(String::new());
    line(words::delta_t::at_place(eclipse, site.lat_deg));
    if eclipse.greatest().tt.utc_is_predicted() {
        line(words::delta_t::UTC_HELD.to_owned());
    }
    for caution in safety::cautions(found.decision.is_ok()) {
        line(format!("! {}", caution.text));
    }
    text.into_inner()
}
