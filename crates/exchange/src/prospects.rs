//! What `noonfall at` shows of places: one object, a table, a page of text, a calendar.

use crate::json::{self, AtSite, to_text};
use crate::sheets;
use crate::table::Sheet;
use crate::terminal::Screen;
use crate::values::{self, maybe, number};
use crate::{ExportContact, ExportHead, ExportLine, ExportSite, calendar};
use noonfall_scoring::input::terrain::Told;
use noonfall_scoring::outlook::cloud::CloudOutlook;
use noonfall_scoring::outlook::skyline::Skyline;
use noonfall_scoring::outlook::totality::EdgeShown;
use noonfall_scoring::outlook::true_limit::TrueLimitNear;
use noonfall_scoring::outlook::words::limits::near_true_limit;
use noonfall_scoring::outlook::words::{dial, timeline, window as say};
use noonfall_scoring::prospect::Prospect;
use noonfall_shadow::{Eclipse, Phase};
use noonfall_words::WindowFacts;
use noonfall_words::numbers::{Rounding, local_clock, to_second};
use noonfall_words::safety;
use serde_json::{Map, Value, json};
use std::cell::RefCell;

fn place(prospect: &Prospect) -> AtSite {
    AtSite {
        name: prospect.place.name.clone(),
        lat_deg: prospect.site.lat_deg,
        lon_deg: prospect.site.lon_deg,
        elevation_m: prospect.site.elevation_m,
        zone: prospect.zone,
    }
}

/// What `contacts` are.
const CONTACTS_NOTE: &str =
    "contacts are those of a smooth Moon; moon_edge has second and third contact at the Moon's measured edge";

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
    let mut fields: Map<String, Value> = json::circumstances(eclipse, &place(prospect), &prospect.totality.smooth);
    let null = || Value::Null;
    fields.insert("elevation_source".into(), json!(prospect.elevation_source));
    fields.insert("sunrise_utc".into(), prospect.local().sunrise.map_or_else(null, |tt| json!(values::utc(tt))));
    fields.insert("sunset_utc".into(), prospect.local().sunset.map_or_else(null, |tt| json!(values::utc(tt))));
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
    fields.insert("skyline".into(), prospect.skyline.as_ref().map_or_else(null, skyline));
    fields.insert("cloud".into(), prospect.cloud.as_ref().map_or_else(null, cloud));
    fields.insert("true_limit".into(), prospect.near_limit.as_ref().map_or_else(null, true_limit));
    fields.insert("terrain".into(), terrain.map_or_else(null, terrain_told));
    fields.insert("warnings".into(), json!(prospect.warnings));
    fields.insert("limb_caution".into(), json!(CONTACTS_NOTE));
    fields.insert("caution".into(), json!(safety::one_line(prospect.decision.is_ok())));
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
    json!({
        "margin_c2_deg": maybe(skyline.margin_c2_deg, 3),
        "margin_max_deg": number(skyline.margin_max_deg, 3),
        "margin_c3_deg": maybe(skyline.margin_c3_deg, 3),
        "sun_lost_utc": skyline.sun_lost.map(values::utc),
        "source": skyline.source,
        "disc_margin_deg": number(skyline.disc_margin_deg, 3),
        "margin_sigma_deg": maybe(skyline.margin_sigma_deg, 3),
        "sun_gained_utc": skyline.sun_gained.map(values::utc),
        "notes": skyline.notes,
    })
}

fn cloud(cloud: &CloudOutlook) -> Value {
    json!({
        "cloud_fraction": number(cloud.cloud_fraction, 4),
        "clear_line_of_sight": number(cloud.clear_line_of_sight, 4),
        "low_95": number(cloud.low_95, 4),
        "high_95": number(cloud.high_95, 4),
        "years": cloud.years,
        "source": cloud.source,
        "invented": cloud.invented,
        "layers": cloud.layers.as_ref().map(crate::cloud_archives::layers),
        "notes": cloud.notes,
    })
}

/// A row for each place.
pub fn table(prospects: &[Prospect]) -> Sheet {
    let rows: Vec<_> = prospects
        .iter()
        .map(|p| sheets::CircumstancesRow {
            site: place(p),
            local: p.local(),
            window: WindowFacts::of(&p.decision),
            edge: p.offer.as_ref().and_then(|o| o.moon_edge.as_ref()).map(|e| (e.edge, e.source.as_str())),
        })
        .collect();
    sheets::circumstances(&rows)
}

/// The rows as a terminal shows them, and which edge of the Moon the contacts are at.
pub fn table_for_terminal(prospects: &[Prospect], terrain: Option<&Told>, screen: Screen) -> String {
    let mut text = screen.table(&table(prospects));
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
    Some(noonfall_words::edge::contacts_at(edge.shown(), &edge.source))
}

/// The contacts of every place, for a calendar.
pub fn calendar(eclipse: &Eclipse, prospects: &[Prospect]) -> String {
    let sites: Vec<ExportSite> = prospects.iter().map(export).collect();
    let stamp = noonfall_ephemeris::time_scales::midnight_utc(eclipse.date());
    let edge = edge_sentence(prospects).unwrap_or_default();
    calendar::contacts(&ExportHead { edge, ..ExportHead::of(eclipse) }, &sites, stamp)
}

fn export(prospect: &Prospect) -> ExportSite {
    let local = prospect.local();
    ExportSite {
        rank: None,
        name: prospect.place.name.clone().unwrap_or_else(|| "Site".to_owned()),
        lat_deg: prospect.site.lat_deg,
        lon_deg: prospect.site.lon_deg,
        elevation_m: Some(prospect.site.elevation_m),
        zone: prospect.zone,
        score: None,
        seen: noonfall_words::Seen::of(local),
        totality_s: if local.phase == Phase::Total { local.duration_s } else { 0.0 },
        clear_sky_probability: prospect.cloud.as_ref().map(|c| c.clear_line_of_sight),
        rejected: Vec::new(),
        contacts: ExportContact::all(local),
        window: WindowFacts::of(&prospect.decision),
        lines: prospect.offer.as_ref().map(|o| ExportLine::all(&o.timeline)).unwrap_or_default(),
    }
}

/// A page of text for one place: what it sees, when, and what it offers.
pub fn page(eclipse: &Eclipse, prospect: &Prospect, terrain: Option<&Told>, screen: Screen) -> String {
    let local = prospect.local();
    let site = &prospect.site;
    let text = RefCell::new(String::new());
    let mut line = |words: String| text.borrow_mut().push_str(&screen.line(&words));
    let name = prospect.place.name.as_deref().unwrap_or("Site");
    line(format!(
        "{name}  {:.5}, {:.5}  {:.0} m ({})",
        site.lat_deg, site.lon_deg, site.elevation_m, prospect.elevation_source
    ));
    line(format!("{} solar eclipse of {} (UTC date): {} here", eclipse.kind(), eclipse.date(), local.phase));
    if local.phase == Phase::None {
        line("No eclipse is seen from this place.".to_owned());
        return text.into_inner();
    }
    if local.phase.is_central() {
        let edge = match prospect.offer.as_ref().and_then(|o| o.moon_edge.as_ref()) {
            Some(edge) if edge.shown() == EdgeShown::True => format!(" at the Moon's measured edge of {}", edge.source),
            Some(edge) => format!(" of a smooth Moon (filter times at the measured edge of {})", edge.source),
            None => String::new(),
        };
        line(format!(
            "{:.1} s from second to third contact{edge}, size ratio {:.4}",
            local.duration_s, local.size_ratio
        ));
    }
    if let Some(near) = &prospect.near_limit {
        line(near_true_limit(near));
    }
    window_lines(prospect, &mut line);
    line(format!("magnitude {:.4}, obscuration {:.2} %", local.magnitude, local.obscuration * 100.0));
    line(String::new());
    text.borrow_mut().push_str(&screen.table(&sheets::contacts(local, prospect.zone)));
    for (word, instant) in [("Sunrise", local.sunrise), ("Sunset", local.sunset)] {
        if let Some(tt) = instant {
            line(format!("{word} during the eclipse: {}", values::local(tt, prospect.zone)));
        }
    }
    line(String::new());
    if let Some(offer) = &prospect.offer {
        offer_lines(offer, prospect.zone, &mut line);
    }
    if let Some(s) = &prospect.skyline {
        line(format!(
            "Skyline ({}): the Sun's centre {:.1}° above it at maximum; lower limb {:.1}° at least in the central phase",
            s.source, s.margin_max_deg, s.disc_margin_deg
        ));
        if let Some(lost) = s.sun_lost {
            line(format!("The Sun goes behind the skyline at {}", values::local(lost, prospect.zone)));
        }
    }
    terrain_lines(terrain, &mut line);
    if let Some(c) = &prospect.cloud {
        line(format!(
            "Clear line to the Sun: {:.0} % (95 % interval {:.0} to {:.0} %); mean cloud {:.0} %; {}{}",
            c.clear_line_of_sight * 100.0,
            c.low_95 * 100.0,
            c.high_95 * 100.0,
            c.cloud_fraction * 100.0,
            c.source,
            if c.invented { " (INVENTED DATA)" } else { "" }
        ));
        c.notes.iter().for_each(|note| line(note.clone()));
    } else {
        line("Clear line to the Sun: not known (no cloud data for this place)".to_owned());
    }
    let delta_t = eclipse.delta_t();
    line(String::new());
    line(format!(
        "ΔT {:.2} s ± {:.2} s, {}; one σ moves the path {:.2} km in longitude here.",
        delta_t.seconds,
        delta_t.sigma_s,
        delta_t.origin,
        delta_t.shift_km(site.lat_deg)
    ));
    if eclipse.greatest().tt.utc_is_predicted() {
        line("UTC is held at the last known leap second.".to_owned());
    }
    for caution in safety::cautions(prospect.decision.is_ok()) {
        line(format!("! {}", caution.text));
    }
    text.into_inner()
}

/// The window for unaided eyes, or why there is none and what to do.
fn window_lines(prospect: &Prospect, line: &mut impl FnMut(String)) {
    match &prospect.decision {
        Ok(window) => {
            let clock = |tt: noonfall_ephemeris::Tt| local_clock(tt.to_utc(), prospect.zone);
            line(format!("Filter OFF {}, filter ON {}; {}", clock(window.off), clock(window.on), say::kept(window)));
            line(say::allowed_for(window));
        }
        Err(reason) => line(format!("Filter ON throughout: {} {}", say::why_none(reason), say::FILTERS_THROUGHOUT)),
    }
}

fn offer_lines(offer: &noonfall_scoring::outlook::offer::Offer, zone: chrono_tz::Tz, line: &mut impl FnMut(String)) {
    for entry in &offer.timeline {
        let clock = to_second(entry.instant.to_utc(), Rounding::Nearest).with_timezone(&zone).format("%H:%M:%S");
        line(format!("{clock}  {:<12} {}: {}", entry.filter.word(), entry.title, entry.detail));
    }
    let window = offer.filters.as_ref().is_some_and(|filters| filters.off.is_some());
    line(String::new());
    if let Some(s) = &offer.shadow {
        line(format!(
            "The Moon's shadow: {:.2} km/s over the ground, {:.0} by {:.0} km",
            s.ground_speed_km_s, s.major_axis_km, s.minor_axis_km
        ));
    }
    if let Some(b) = offer.shadow_bands.as_ref().filter(|_| window) {
        line(format!(
            "Shadow bands: {}; relative outlook {:.2} (an ordering, not a probability); bands lie along azimuth {:.0}°",
            b.class.word(),
            b.outlook,
            b.band_azimuth_deg
        ));
        line(format!("  {}", b.drift.as_ref().map_or(timeline::BANDS_MOVE_UNKNOWN.to_owned(), timeline::bands_move)));
        line(format!("  {}", b.held_against_reports));
    }
    if let Some(a) = &offer.air {
        let ground = if a.ground_albedo > 0.4 { "snow all about" } else { "no snow" };
        line(format!(
            "Light and bands for a clear sky with haze of optical depth {:.2}, {ground}, {:.0} m up",
            a.haze,
            a.height_km * 1000.0
        ));
    }
    if let Some(l) = &offer.totality_light {
        line(format!(
            "Light in totality: {:.1} lux ({:.1} to {:.1} under clear skies), {:.0} stops below daylight: {}",
            l.illuminance_lux, l.illuminance_low_lx, l.illuminance_high_lx, l.stops_below_daylight, l.like
        ));
    }
    if let Some(c) = &offer.corona {
        line(c.words.clone());
    }
    if let Some(t) = &offer.temperature_drop {
        let kinds: Vec<String> = t.by_place.iter().map(|p| format!("{} {} to {}", p.kind, p.low_c, p.high_c)).collect();
        line(format!("It cools, °C: {}", kinds.join("; ")));
    }
    // Without a window nobody is sent to look about the sky of totality.
    if let Some(sky) = offer.sky.as_ref().filter(|_| window) {
        let seen: Vec<String> =
            sky.iter().filter(|o| o.visible).map(|o| format!("{} ({:.1})", o.body, o.magnitude)).collect();
        line(format!(
            "In the dark sky of totality: {}",
            if seen.is_empty() { "none of the bright ones".to_owned() } else { seen.join(", ") }
        ));
    }
    if let Some(l) = offer.limb.as_ref().filter(|_| window) {
        line(format!(
            "Chromosphere: {:.0} s after C2, from {:.0} s before C3. Red rim at {}, {:.0} s before C3 (± {:.0} s): look away",
            l.chromosphere_after_c2_s,
            l.chromosphere_before_c3_s,
            dial(l.look_away_clock_hour),
            l.look_away_lead_s,
            l.look_away_spread_s
        ));
    }
    line(String::new());
}
