//! From the text of a plan to its values.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use noonfall_ephemeris::GeoPoint;
use sha2::{Digest, Sha256};
use toml::de::{DeTable, DeValue};

use super::sites_keys::sites;
use super::sky_keys::sky;
use super::table::{Item, Lines, Table, Walk, checked_number, meant, number, shown};
use super::window_keys::{filters, moon};
use super::{
    CloudKeys, ConventionKeys, EclipseKeys, FallbackKeys, Mean, MissingPair, OutputKeys, Plan, Requirement,
    RobustnessKeys, ScoreKeys, SearchKeys, SvgText, TerrainKeys, Weight, Wish,
};
use crate::criteria;
use crate::fault::{Fault, Faults};
use crate::outlook::line_of_sight::CoverKind;
use crate::profile::{PROFILES, Profile};
use crate::utility::Curve;

/// Least number of draws: fewer would leave more than about 1 % of noise on a chance of one half.
const LEAST_DRAWS: u64 = 2000;
const INF: f64 = f64::INFINITY;

pub(super) fn parse(text: &str, file: &str, folder: &Path) -> Result<Plan, Faults> {
    let lines = Lines::of(text);
    let bare = text.strip_prefix('\u{feff}').unwrap_or(text);
    let shift = text.len() - bare.len();
    let document = DeTable::parse(bare).map_err(|e| {
        let line = e.span().map(|s| lines.line(s.start + shift));
        let wrong = format!("this is not TOML ({})", e.message().replace('\n', ", "));
        Fault { line, ..Fault::of_file(file, wrong, "the README says how a plan is written") }
    })?;
    let mut walk = Walk { file, lines: &lines, faults: Vec::new() };
    let w = &mut walk;
    let mut root = Table::root(document.get_ref());

    let eclipse = eclipse(root.table(w, "eclipse"), w);
    let sites = sites(root.table(w, "sites"), w);
    let clouds = clouds(root.table(w, "clouds"), w);
    let terrain = terrain(root.table(w, "terrain"), w);
    let sky = sky(root.table(w, "sky"), w);
    let (score, profile) = score(root.table(w, "score"), w);
    let weights = root.table(w, "weights");
    let weights_given = weights.present();
    let weights = self::weights(&weights, w, profile);
    let wishes = wishes(&root.table(w, "wish"), w, profile);
    let requirements = requirements(&root.table(w, "require"), w);
    let search = search(root.table(w, "search"), w, terrain.dir.is_some());
    let fallback = fallback(root.table(w, "fallback"), w);
    let robustness = robustness(root.table(w, "robustness"), w, &weights);
    let filters = filters(root.table(w, "filters"), w);
    let moon = moon(root.table(w, "moon"), w);
    let conventions = conventions(root.table(w, "conventions"), w);
    let output = output(root.table(w, "output"), w);
    root.finish(w);

    for weight in &weights {
        let wished = wishes.get(&weight.criterion).is_some_and(|wish| wish.curve.is_some());
        if criteria::built_in(&weight.criterion).is_none() && !wished {
            let right = format!(
                "say which way is better in [wish.{0}] (better, from, to), or correct the name: {1}",
                weight.criterion,
                meant(&weight.criterion, &criteria::BUILT_IN.map(|c| c.name))
            );
            w.fault(weight.line, format!("weights.{}", weight.criterion), "the column has no wish".into(), right);
        }
    }
    if weights.is_empty() && !weights_given {
        let names = PROFILES.map(|p| p.name).join(", ");
        let right = format!("give a table [weights], or score.profile, one of {names}");
        w.fault(None, "weights".into(), "no weights are given".into(), right);
    } else if !weights.iter().any(|x| x.weight > 0.0) && w.faults.is_empty() {
        w.fault(None, "weights".into(), "all weights are zero".into(), "give at least one weight above zero".into());
    }
    if sites.is_none() && search.is_none() && !w.faults.iter().any(|f| f.key.as_deref() == Some("sites.file")) {
        let right = "give sites.file, or a table [search] to look over the whole path".into();
        w.fault(None, "sites.file".into(), "there is nothing to rank".into(), right);
    }

    let faults = Faults(std::mem::take(&mut walk.faults));
    let Some(eclipse) = eclipse else { return Err(faults) };
    let sha256 = Sha256::digest(text.as_bytes()).iter().map(|b| format!("{b:02x}")).collect();
    faults.or(Plan {
        file: file.to_string(),
        text: text.to_string(),
        sha256,
        folder: folder.to_path_buf(),
        eclipse,
        sites,
        clouds,
        terrain,
        sky,
        score,
        weights,
        requirements,
        wishes,
        search,
        fallback,
        robustness,
        filters,
        moon,
        conventions,
        output,
    })
}

pub(super) fn path(w: &mut Walk<'_>, table: &mut Table<'_, '_>, key: &'static str, what: &str) -> Option<PathBuf> {
    table.text(w, key, what).map(PathBuf::from)
}

/// A path, or a list of them.
pub(super) fn paths(w: &mut Walk<'_>, table: &mut Table<'_, '_>, key: &'static str, what: &str) -> Vec<PathBuf> {
    let Some(item) = table.item(w, key) else { return Vec::new() };
    let Some(list) = item.value.as_array() else { return path(w, table, key, what).into_iter().collect() };
    let texts = list.iter().map(|v| v.get_ref().as_str().filter(|t| !t.trim().is_empty()).map(PathBuf::from));
    let found: Option<Vec<PathBuf>> = texts.collect();
    match found {
        Some(found) if !found.is_empty() => found,
        _ => {
            let wrong = "the list holds something else than paths, or nothing".to_string();
            w.fault(Some(item.line), table.key(key), wrong, format!("give {what}, each in quotes"));
            Vec::new()
        }
    }
}

fn eclipse(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> Option<EclipseKeys> {
    let date = match t.item(w, "date") {
        Some(item) => date(w, &t.key("date"), item),
        None => {
            let right = "give the UTC date of greatest eclipse, such as date = \"2028-07-22\"".into();
            w.fault(t.line(), t.key("date"), "the date is missing".into(), right);
            None
        }
    };
    let delta_t_s = t.number(w, "delta_t_s", -10_000.0, 100_000.0, "ΔT in seconds");
    let kernel = path(w, &mut t, "kernel", "the path of an SPK file");
    t.finish(w);
    Some(EclipseKeys { date: date?, delta_t_s, kernel })
}

fn date(w: &mut Walk<'_>, key: &str, item: Item<'_, '_>) -> Option<NaiveDate> {
    let text = match item.value {
        DeValue::String(s) => s.to_string(),
        DeValue::Datetime(d) => d.to_string(),
        _ => String::new(),
    };
    let date = NaiveDate::parse_from_str(&text, "%Y-%m-%d").ok();
    if date.is_none() {
        let wrong = if text.is_empty() { shown(item.value) } else { format!("\"{text}\" is not a date") };
        w.fault(Some(item.line), key.to_string(), wrong, "give year-month-day, such as \"2028-07-22\"".into());
    }
    date
}

fn clouds(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> Option<CloudKeys> {
    if !t.present() {
        return None;
    }
    let keys = CloudKeys {
        file: paths(w, &mut t, "file", "the path of a cloud file or folder, or a list of them"),
        records: paths(w, &mut t, "records", "the path of day records or their folder, or a list of them"),
        forecast: paths(w, &mut t, "forecast", "the path of a forecast, or a list of them"),
        kind: t.choice(w, "kind", &["observed", "grid"]).and_then(|k| CoverKind::from_name(&k)),
        reach_km: t.number(w, "reach_km", 1.0, 2000.0, "a distance in km"),
        half_window_days: t.whole(w, "half_window_days", 0, 90, "a number of days").map(|d| d as u32),
        height_to_diameter: t.number(w, "height_to_diameter", 0.0, 10.0, "a ratio"),
        cover_spread: t.number(w, "cover_spread", 0.01, 1000.0, "a spread"),
        mean_strength_days: t.number(w, "mean_strength_days", 1.0, 100_000.0, "a number of days"),
        layer_height_to_diameter: [
            t.number(w, "low_height_to_diameter", 0.0, 10.0, "a ratio"),
            t.number(w, "middle_height_to_diameter", 0.0, 10.0, "a ratio"),
            t.number(w, "high_height_to_diameter", 0.0, 10.0, "a ratio"),
        ],
        high_see_through: t.number(w, "high_see_through", 0.0, 1.0, "a share"),
    };
    t.finish(w);
    Some(keys)
}

fn terrain(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> TerrainKeys {
    let keys = TerrainKeys {
        dir: path(w, &mut t, "dir", "a folder of elevation tiles"),
        horizon: path(w, &mut t, "horizon", "the path of a horizon CSV"),
        thin_margin_deg: t.number(w, "thin_margin_deg", 0.0, 30.0, "a margin in degrees").unwrap_or(1.0),
        eye_height_m: t.number(w, "eye_height_m", 0.0, 1000.0, "a height in metres"),
        refraction_coefficient: t.number(w, "refraction_coefficient", 0.0, 0.9, "a coefficient"),
        farthest_km: t.number(w, "farthest_km", 1.0, 500.0, "a distance in km"),
    };
    t.finish(w);
    keys
}

fn score(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> (ScoreKeys, Option<&'static Profile>) {
    let mean = match t.choice(w, "mean", &["arithmetic", "geometric"]).as_deref() {
        Some("geometric") => Mean::Geometric,
        _ => Mean::Arithmetic,
    };
    let profile = t.choice(w, "profile", &PROFILES.map(|p| p.name));
    t.finish(w);
    let found = profile.as_deref().and_then(Profile::named);
    (ScoreKeys { mean, profile }, found)
}

fn weights(t: &Table<'_, '_>, w: &mut Walk<'_>, profile: Option<&Profile>) -> Vec<Weight> {
    let mut weights: Vec<Weight> = profile
        .map(|p| p.weights)
        .unwrap_or_default()
        .iter()
        .map(|&(name, weight)| Weight { criterion: name.to_string(), weight, line: None })
        .collect();
    for (name, item) in t.items(w) {
        let key = t.key(&name);
        if let Some(weight) = checked_number(w, &key, item, 0.0, 1e6, "a weight") {
            let new = Weight { criterion: name.clone(), weight, line: Some(item.line) };
            match weights.iter_mut().find(|x| x.criterion == name) {
                Some(old) => *old = new,
                None => weights.push(new),
            }
        }
    }
    // Built-in criteria first, in their fixed order, then columns as the plan gives them.
    let order = |name: &str| criteria::BUILT_IN.iter().position(|c| c.name == name).unwrap_or(usize::MAX);
    weights.sort_by_key(|x| order(&x.criterion));
    weights
}

fn wishes(t: &Table<'_, '_>, w: &mut Walk<'_>, profile: Option<&Profile>) -> BTreeMap<String, Wish> {
    let mut wishes: BTreeMap<String, Wish> = profile
        .map(|p| p.wishes)
        .unwrap_or_default()
        .iter()
        .map(|(name, wish)| {
            (name.to_string(), Wish { curve: Some(wish.curve()), missing: None, unit: None, line: None })
        })
        .collect();
    for (name, item) in t.items(w) {
        let table = Table::from_item(w, t.key(&name), item);
        if let Some(wish) = wish(table, w, &name) {
            wishes.insert(name, wish);
        }
    }
    wishes
}

fn wish(mut t: Table<'_, '_>, w: &mut Walk<'_>, name: &str) -> Option<Wish> {
    let line = t.line();
    let before = w.faults.len();
    let better = t.choice(w, "better", &["higher", "lower", "range"]);
    let from = t.number(w, "from", -INF, INF, "a value");
    let to = t.number(w, "to", -INF, INF, "a value");
    let fade = t.number(w, "fade", 1e-9, INF, "a value above zero");
    let points = t.item(w, "points");
    let missing = t.number(w, "missing", 0.0, 1.0, "a utility");
    let unit = t.text(w, "unit", "a unit");
    let key = t.key("x").trim_end_matches(".x").to_string();
    t.finish(w);
    if w.faults.len() > before {
        return None;
    }
    let mut fault = |wrong: String, right: &str| {
        w.fault(line, key.clone(), wrong, right.to_string());
        None
    };
    let curve = if let Some(item) = points {
        if better.is_some() || from.is_some() || to.is_some() || fade.is_some() {
            return fault("points stand beside better, from, to or fade".into(), "give points alone, or the others");
        }
        let pair = |v: &DeValue<'_>| match v.as_array()?.iter().map(|x| number(x.get_ref())).collect::<Vec<_>>()[..] {
            [Some(x), Some(u)] => Some((x, u)),
            _ => None,
        };
        let corners =
            item.value.as_array().and_then(|a| a.iter().map(|v| pair(v.get_ref())).collect::<Option<Vec<_>>>());
        let Some(corners) = corners else {
            return fault("points is not a list of pairs".into(), "write points = [[0, 0.0], [60, 0.8], [240, 1.0]]");
        };
        match Curve::through(corners) {
            Ok(curve) => Some(curve),
            Err(e) => return fault(e.to_string(), "write points = [[0, 0.0], [60, 0.8], [240, 1.0]]"),
        }
    } else {
        match (better.as_deref(), from, to) {
            (None, None, None) if missing.is_some() || unit.is_some() => None,
            (Some("range"), Some(from), Some(to)) if from <= to => match fade {
                Some(fade) => Some(Curve::range(from, to, fade)),
                None => {
                    return fault("a range has no fade".into(), "give fade, the width over which utility falls to 0");
                }
            },
            (Some("range"), Some(from), Some(to)) => {
                return fault(format!("from {from} is above to {to}"), "give from and to in increasing order");
            }
            (Some(_), Some(from), Some(to)) if from >= to => {
                return fault(format!("from {from} is not below to {to}"), "give from and to in increasing order");
            }
            (Some(_), Some(_), Some(_)) if fade.is_some() => {
                return fault("fade is given without better = \"range\"".into(), "leave fade out, or make it a range");
            }
            (Some("higher"), Some(from), Some(to)) => Some(Curve::rising(from, to)),
            (Some("lower"), Some(from), Some(to)) => Some(Curve::falling(from, to)),
            _ => {
                return fault(
                    format!("the wish for {name} is not complete"),
                    "give better (higher, lower or range), from and to; or points",
                );
            }
        }
    };
    Some(Wish { curve, missing, unit, line })
}

fn requirements(t: &Table<'_, '_>, w: &mut Walk<'_>) -> Vec<Requirement> {
    let mut requirements = Vec::new();
    for (key, item) in t.items(w) {
        let path = t.key(&key);
        let (least, rest) = match (key.strip_prefix("min_"), key.strip_prefix("max_")) {
            (Some(rest), _) => (true, rest),
            (_, Some(rest)) => (false, rest),
            _ => {
                let known: Vec<String> = criteria::BUILT_IN.iter().map(|c| format!("min_{}", c.require)).collect();
                let known: Vec<&str> = known.iter().map(String::as_str).collect();
                let right = format!("write min_ or max_ and a quantity or column; {}", meant(&key, &known));
                w.fault(Some(item.line), path, "there is no such requirement".into(), right);
                continue;
            }
        };
        let Some(value) = checked_number(w, &path, item, -INF, INF, "a value") else { continue };
        let criterion = criteria::built_in_requirement(rest).map_or(rest, |c| c.name).to_string();
        let (at_least, at_most) = if least { (Some(value), None) } else { (None, Some(value)) };
        requirements.push(Requirement { key, criterion, at_least, at_most, line: Some(item.line) });
    }
    requirements
}

/// How far from a road a place may be unless the plan says so, km: what a group carries its things over.
const ROAD_DISTANCE_KM: f64 = 1.0;

fn search(mut t: Table<'_, '_>, w: &mut Walk<'_>, terrain: bool) -> Option<SearchKeys> {
    if !t.present() {
        return None;
    }
    let distance = t.number(w, "road_distance_km", 0.01, 100.0, "a distance in km");
    let keys = SearchKeys {
        spacing_km: t.number(w, "spacing_km", 0.02, 100.0, "the grid spacing in km").unwrap_or(1.0),
        best: t.whole(w, "best", 1, 10_000, "how many places to keep").unwrap_or(10) as usize,
        apart_km: t.number(w, "apart_km", 0.0, 20_000.0, "a distance in km").unwrap_or(50.0),
        polygon: path(w, &mut t, "polygon", "the path of a GeoJSON polygon"),
        land: t.flag(w, "land").unwrap_or(true),
        max_slope_deg: t.number(w, "max_slope", 0.0, 90.0, "a slope in degrees"),
        roads: path(w, &mut t, "roads", "the path of an OpenStreetMap extract or a GeoJSON of lines"),
        road_distance_km: distance.unwrap_or(ROAD_DISTANCE_KM),
        line: t.line(),
    };
    if keys.max_slope_deg.is_some() && !terrain {
        let right = "give terrain.dir, a folder of elevation files, or take max_slope out".into();
        w.fault(t.line(), t.key("max_slope"), "the ground's slope is not known without terrain".into(), right);
    }
    if distance.is_some() && keys.roads.is_none() {
        let right = "give search.roads, or take road_distance_km out".into();
        w.fault(t.line(), t.key("road_distance_km"), "there are no roads to be near to".into(), right);
    }
    t.finish(w);
    Some(keys)
}

fn fallback(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> FallbackKeys {
    let base_line = t.item(w, "base").map(|i| i.line);
    let keys = FallbackKeys {
        base: t.text(w, "base", "the name of a site or a town"),
        base_line,
        base_at: base_at(&mut t, w),
        limit_hours: t.number(w, "limit_hours", 0.0, 240.0, "a drive in hours").unwrap_or(3.0),
        drive_hours: path(w, &mut t, "drive_hours", "the path of a drive-hours CSV"),
        detour: t.number(w, "detour", 1.0, 10.0, "road distance over great-circle distance").unwrap_or(1.3),
        speed_km_h: t.number(w, "speed_km_h", 1.0, 300.0, "a speed in km/h").unwrap_or(70.0),
        traffic: t.number(w, "traffic", 1.0, 10.0, "a factor on the hours of free roads").unwrap_or(1.5),
        setup_minutes: t.number(w, "setup_minutes", 0.0, 1440.0, "minutes").unwrap_or(60.0),
        least_setup_minutes: t.number(w, "least_setup_minutes", 0.0, 1440.0, "minutes").unwrap_or(15.0),
        missing: match t.choice(w, "missing", &["skip", "estimate", "refuse"]).as_deref() {
            Some("estimate") => MissingPair::Estimate,
            Some("refuse") => MissingPair::Refuse,
            _ => MissingPair::Skip,
        },
        list: t.whole(w, "list", 1, 100, "how many fallbacks to list").unwrap_or(3) as usize,
    };
    t.finish(w);
    keys
}

/// Both coordinates of a base, or neither.
fn base_at(t: &mut Table<'_, '_>, w: &mut Walk<'_>) -> Option<GeoPoint> {
    let lines = ["base_lat", "base_lon"].map(|key| t.item(w, key).map(|item| item.line));
    let lat_deg = t.number(w, "base_lat", -90.0, 90.0, "a latitude in degrees");
    let lon_deg = t.number(w, "base_lon", -180.0, 180.0, "a longitude in degrees");
    for (here, there, missing) in [(lines[0], lines[1], "base_lon"), (lines[1], lines[0], "base_lat")] {
        if let (Some(line), None) = (here, there) {
            w.fault(Some(line), t.key(missing), "a base has both coordinates or neither".into(), "give it too".into());
        }
    }
    Some(GeoPoint { lat_deg: lat_deg?, lon_deg: lon_deg? })
}

fn robustness(mut t: Table<'_, '_>, w: &mut Walk<'_>, weights: &[Weight]) -> RobustnessKeys {
    let draws = t.whole(w, "draws", LEAST_DRAWS, 1_000_000, "a number of draws").unwrap_or(4000);
    let seed = t.whole(w, "seed", 0, i64::MAX as u64, "a whole number").unwrap_or(1);
    let weight_spread = t.number(w, "weight_spread", 0.0, 3.0, "a relative spread").unwrap_or(0.25);
    let interval = t.number(w, "interval", 0.5, 0.999, "the width of the rank interval").unwrap_or(0.9);
    let mut spread = BTreeMap::new();
    let table = t.table(w, "spread");
    for (name, item) in table.items(w) {
        let key = table.key(&name);
        if !weights.iter().any(|x| x.criterion == name) {
            let known: Vec<&str> = weights.iter().map(|x| x.criterion.as_str()).collect();
            w.fault(Some(item.line), key, "there is no such weight".into(), meant(&name, &known));
        } else if let Some(s) = checked_number(w, &key, item, 0.0, 3.0, "a relative spread") {
            spread.insert(name, s);
        }
    }
    t.finish(w);
    RobustnessKeys { draws, seed, weight_spread, spread, interval }
}

fn conventions(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> ConventionKeys {
    let keys = ConventionKeys {
        earth_equatorial_radius_km: t.number(w, "earth_equatorial_radius_km", 6300.0, 6450.0, "a radius in km"),
        earth_inverse_flattening: t.number(w, "earth_inverse_flattening", 250.0, 1e9, "an inverse flattening"),
        sun_radius_km: t.number(w, "sun_radius_km", 690_000.0, 702_000.0, "a radius in km"),
        sun_radius_true_edge_km: t.number(w, "sun_radius_true_edge_km", 690_000.0, 702_000.0, "a radius in km"),
        moon_k_exterior: t.number(w, "moon_k_exterior", 0.27, 0.275, "a radius in Earth radii"),
        moon_k_interior: t.number(w, "moon_k_interior", 0.27, 0.275, "a radius in Earth radii"),
        pressure_hpa: t.number(w, "pressure_hpa", 0.0, 1100.0, "a pressure in hPa"),
        temperature_c: t.number(w, "temperature_c", -90.0, 60.0, "a temperature in °C"),
    };
    t.finish(w);
    keys
}

fn output(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> OutputKeys {
    let title = t.text(w, "title", "a title");
    let group = t.text(w, "group", "the name of the group");
    let briefs = t.whole(w, "briefs", 0, 1000, "how many sites get a brief").unwrap_or(3) as usize;
    let group_calendar = t.flag(w, "group_calendar").unwrap_or(false);
    let svg_text = match t.choice(w, "svg_text", &["text", "outlines"]).as_deref() {
        Some("outlines") => SvgText::Outlines,
        _ => SvgText::Text,
    };
    let line = t.item(w, "compare").map(|i| i.line);
    let compare = t.texts(w, "compare", "two site names").and_then(|names| match <[String; 2]>::try_from(names) {
        Ok([one, other]) if one != other => Some((one, other)),
        _ => {
            let right = "write compare = [\"one site\", \"another site\"]".into();
            w.fault(line, t.key("compare"), "this is not a pair of different names".into(), right);
            None
        }
    });
    let low = t.number(w, "low_sun_below_deg", 0.0, 90.0, "an altitude in degrees").unwrap_or(20.0);
    let high = t.number(w, "high_sun_above_deg", 0.0, 90.0, "an altitude in degrees").unwrap_or(40.0);
    if low > high {
        let right = "low_sun_below_deg may be at most high_sun_above_deg".into();
        w.fault(t.line(), t.key("low_sun_below_deg"), format!("{low} is above {high}"), right);
    }
    t.finish(w);
    OutputKeys {
        title,
        group,
        briefs,
        group_calendar,
        svg_text,
        compare,
        low_sun_below_deg: low,
        high_sun_above_deg: high,
    }
}
