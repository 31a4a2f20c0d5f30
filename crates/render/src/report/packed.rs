//! The model as the page carries it: the sites in columns, everything compressed.
//!
//! Twenty thousand places are some thirty megabytes as a list of JSON objects. In columns of whole numbers, deflated and in
//! base 64, they are a few; `assets/report/model.js` reads them back and hands the page's other scripts the same fields as
//! [`SiteEntry`] has.

use super::model::{CloudOdds, Instant, ReportModel, SiteEntry};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::GzEncoder;
use noonfall_words::page::{ScriptWords, for_scripts};
use serde::ser::{Error as _, SerializeMap as _};
use serde::{Serialize, Serializer};
use serde_json::{Value, json};
use std::collections::{BTreeMap, HashMap};
use std::io::{BufWriter, Write as _};

/// From this many sites on, numbers carry hardly more decimals than the page shows.
const MANY: usize = 2_000;

/// A hundredth more than the best level would leave, in a quarter of its time.
const LEVEL: u32 = 6;

/// Sites of a long table that keep the whole curve of their chance of clear sky.
const WITH_CURVE: usize = 300;

/// The model as gzip (RFC 1952) of JSON in base 64 (RFC 4648).
///
/// # Errors
/// If it cannot be written as JSON, or compressed.
pub(super) fn packed(model: &ReportModel) -> Result<String, serde_json::Error> {
    let mut gzip = BufWriter::with_capacity(1 << 16, GzEncoder::new(Vec::new(), Compression::new(LEVEL)));
    serde_json::to_writer(&mut gzip, &Page { model, sites: Sites(model), words: words() })?;
    gzip.flush().map_err(serde_json::Error::io)?;
    let gzip = gzip.into_inner().map_err(|error| serde_json::Error::io(error.into_error()))?;
    Ok(STANDARD.encode(gzip.finish().map_err(serde_json::Error::io)?))
}

/// The model with its sites in columns, which are made one by one as they are written.
#[derive(Serialize)]
struct Page<'a> {
    #[serde(flatten)]
    model: &'a ReportModel,
    sites: Sites<'a>,
    words: BTreeMap<&'static str, Value>,
}

/// What the page's scripts say, by key.
fn words() -> BTreeMap<&'static str, Value> {
    let ScriptWords { said, lists } = for_scripts();
    let said = said.into_iter().map(|(key, text)| (key, Value::from(text)));
    said.chain(lists.into_iter().map(|(key, list)| (key, Value::from(list)))).collect()
}

/// `{count, base_ms, columns}`; every column has one value a site.
struct Sites<'a>(&'a ReportModel);

impl Serialize for Sites<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let all = &self.0.sites;
        let base_ms = all.iter().flat_map(|s| s.contacts).flatten().map(|c| c.at.utc_ms).min().unwrap_or(0);
        let base_ms = base_ms.div_euclid(1000) * 1000;
        let mut fields = serializer.serialize_map(Some(3))?;
        fields.serialize_entry("count", &all.len())?;
        fields.serialize_entry("base_ms", &base_ms)?;
        fields.serialize_entry("columns", &Columns { model: self.0, base_ms })?;
        fields.end()
    }
}

struct Columns<'a> {
    model: &'a ReportModel,
    base_ms: i64,
}

impl Serialize for Columns<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        let mut written = Ok(());
        columns(self.model, self.base_ms, |name, column| {
            if written.is_ok() {
                written = map.serialize_entry(&name, &column);
            }
        })
        .map_err(S::Error::custom)?;
        written?;
        map.end()
    }
}

/// Hands on the columns, one by one.
fn columns(model: &ReportModel, base_ms: i64, mut put: impl FnMut(String, Value)) -> Result<(), serde_json::Error> {
    let all = &model.sites;
    let fine = all.len() <= MANY;
    let decimals = |fine_decimals: i32, many: i32| if fine { fine_decimals } else { many };

    put("name".into(), json!({ "v": all.iter().map(|s| s.name.as_str()).collect::<Vec<_>>() }));
    let number = |f: &dyn Fn(&SiteEntry) -> Option<f64>, most: i32| numbers(all.iter().map(f).collect(), most);
    let text = |f: &dyn Fn(&SiteEntry) -> Option<Value>| shared(all.iter().map(f));
    let words = |f: fn(&SiteEntry) -> &String| shared(all.iter().map(|s| Some(json!(f(s)))));
    put("lat_deg".into(), number(&|s| Some(s.lat_deg), 6));
    put("lon_deg".into(), number(&|s| Some(s.lon_deg), 6));
    put("elevation_m".into(), number(&|s| Some(s.elevation_m), decimals(2, 0)));
    put("zone".into(), words(|s| &s.zone));
    put("zone_short".into(), words(|s| &s.zone_short));
    put("rank".into(), number(&|s| s.rank.map(f64::from), 0));
    put("rank_low".into(), number(&|s| s.rank_interval.map(|r| f64::from(r[0])), 0));
    put("rank_high".into(), number(&|s| s.rank_interval.map(|r| f64::from(r[1])), 0));
    put("first_chance".into(), number(&|s| s.first_chance, 6));
    put("score".into(), number(&|s| s.score, 6));
    put("rejected".into(), text(&|s| Some(json!(s.rejected))));
    put("warnings".into(), text(&|s| Some(json!(s.warnings))));
    for k in 0..model.criteria.len() {
        put(format!("value.{k}"), number(&|s| s.values[k], decimals(6, 4)));
        put(format!("utility.{k}"), number(&|s| s.utilities[k], decimals(6, 5)));
    }
    put("phase".into(), words(|s| &s.phase));
    for k in 0..5 {
        let contact = |s: &SiteEntry| s.contacts[k];
        instants(&mut put, &format!("contact.{k}"), all, base_ms, &|s| contact(s).map(|c| c.at));
        put(format!("contact.{k}.altitude_deg"), number(&|s| contact(s).map(|c| c.altitude_deg), decimals(3, 2)));
        put(format!("contact.{k}.azimuth_deg"), number(&|s| contact(s).map(|c| c.azimuth_deg), decimals(3, 1)));
        put(format!("contact.{k}.up"), number(&|s| contact(s).map(|c| f64::from(u8::from(c.up))), 0));
    }
    put("duration_s".into(), number(&|s| Some(s.duration_s), decimals(3, 1)));
    put("magnitude".into(), number(&|s| Some(s.magnitude), decimals(5, 4)));
    put("obscuration".into(), number(&|s| Some(s.obscuration), decimals(6, 4)));
    let window = |s: &SiteEntry| s.window.clone();
    instants(&mut put, "off", all, base_ms, &|s| window(s).map(|w| w.off));
    instants(&mut put, "on", all, base_ms, &|s| window(s).map(|w| w.on));
    put("kept".into(), text(&|s| s.window.as_ref().map(|w| json!(w.kept))));
    put("no_window".into(), words(|s| &s.no_window));
    let cloud = |f: fn(&CloudOdds) -> f64| number(&|s| s.cloud.as_ref().map(f), decimals(6, 3));
    put("cloud.cloud_fraction".into(), cloud(|c| c.cloud_fraction));
    put("cloud.clear".into(), cloud(|c| c.clear));
    put("cloud.low_95".into(), cloud(|c| c.low_95));
    put("cloud.high_95".into(), cloud(|c| c.high_95));
    put("cloud.years".into(), number(&|s| s.cloud.as_ref()?.years.map(f64::from), 0));
    put("cloud.source".into(), text(&|s| s.cloud.as_ref().map(|c| json!(c.source))));
    for k in 0..2 {
        let curve = |(index, s): (usize, &SiteEntry)| {
            s.cloud.as_ref()?.beta.filter(|_| fine || index < WITH_CURVE).map(|beta| beta[k])
        };
        put(format!("cloud.beta.{k}"), numbers(all.iter().enumerate().map(curve).collect(), 4));
    }
    put("fallback".into(), rows(all.iter().map(|s| s.fallback.as_ref()))?);
    put("way".into(), rows(all.iter().map(|s| s.way.as_ref()))?);
    put("detail".into(), rows(all.iter().map(|s| s.detail.as_ref()))?);
    Ok(())
}

/// Two columns: milliseconds past `base_ms`, and the clock's offset.
fn instants(
    put: &mut impl FnMut(String, Value),
    name: &str,
    all: &[SiteEntry],
    base_ms: i64,
    of: &dyn Fn(&SiteEntry) -> Option<Instant>,
) {
    let ms = all.iter().map(|s| of(s).map(|at| (at.utc_ms - base_ms) as f64)).collect();
    put(format!("{name}.ms"), numbers(ms, 0));
    put(format!("{name}.offset_s"), numbers(all.iter().map(|s| of(s).map(|at| f64::from(at.offset_s))).collect(), 0));
}

/// Numbers as whole ones: `{d, v}` with `value = v / 10^d`, `d` the least that loses nothing but at most `most` (which
/// rounds, see [`carried`]), from thousands down; `{all}` where every site has the same.
fn numbers(values: Vec<Option<f64>>, most: i32) -> Value {
    let d = (-3..most).find(|&d| values.iter().flatten().all(|&v| loses_nothing(d, v))).unwrap_or(most);
    let scaled: Vec<Option<i64>> = values.iter().map(|v| v.map(|v| carried(d, v))).collect();
    match scaled.split_first() {
        Some((first, rest)) if rest.iter().all(|v| v == first) => json!({ "d": d, "all": first }),
        _ => json!({ "d": d, "v": scaled }),
    }
}

fn whole(d: i32, v: f64) -> f64 {
    (v * 10_f64.powi(d)).round() + 0.0
}

fn loses_nothing(d: i32, v: f64) -> bool {
    (whole(d, v) / 10_f64.powi(d) - v).abs() <= 1e-9 * v.abs()
}

/// A number to `d` decimals, as a whole one. The page rounds what it shows to fewer decimals still, and what it shows must
/// be the number rounded once: so one that is not half-way between two of fewer decimals, nor 0, nor 1 (a certain chance),
/// does not become so, but stays by one unit of the last decimal on its own side.
fn carried(d: i32, v: f64) -> i64 {
    let n = whole(d, v) as i64;
    let half_way = (1..=d).any(|k| n.abs() % 10_i64.pow(k.unsigned_abs()) == 5 * 10_i64.pow(k.unsigned_abs() - 1));
    let bound = d > 0 && (n == 0 || n == 10_i64.pow(d.unsigned_abs()));
    if !(half_way || bound) || loses_nothing(d, v) {
        return n;
    }
    if v * 10_f64.powi(d) < n as f64 { n - 1 } else { n + 1 }
}

/// Values that many sites share, told once: `{t: [values], v: [index]}`, null where a site has none.
fn shared(values: impl Iterator<Item = Option<Value>>) -> Value {
    let mut table: Vec<Value> = Vec::new();
    let mut known: HashMap<String, usize> = HashMap::new();
    let indices: Vec<Option<usize>> = values
        .map(|value| {
            value.map(|value| {
                *known.entry(value.to_string()).or_insert_with(|| {
                    table.push(value);
                    table.len() - 1
                })
            })
        })
        .collect();
    match indices.split_first() {
        Some((first, rest)) if rest.iter().all(|v| v == first) => json!({ "t": table, "all": first }),
        _ => json!({ "t": table, "v": indices }),
    }
}

/// What few sites have: `{rows: [[index, value]]}`.
fn rows<T: serde::Serialize>(values: impl Iterator<Item = Option<T>>) -> Result<Value, serde_json::Error> {
    let some = values.enumerate().filter_map(|(k, value)| Some((k, value?)));
    let pairs = some.map(|(k, value)| Ok(json!([k, serde_json::to_value(value)?]))).collect::<Result<Vec<_>, _>>()?;
    Ok(json!({ "rows": pairs }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::{ContactEntry, Criterion, EyeWindow};
    use std::io::Read as _;

    fn unpacked(model: &ReportModel) -> Value {
        let bytes = STANDARD.decode(packed(model).unwrap()).unwrap();
        let mut text = String::new();
        flate2::read::GzDecoder::new(&bytes[..]).read_to_string(&mut text).unwrap();
        serde_json::from_str(&text).unwrap()
    }

    #[test]
    fn numbers_keep_their_decimals_and_gaps() {
        assert_eq!(numbers(vec![Some(1.25), None, Some(-3.0)], 6), json!({ "d": 2, "v": [125, null, -300] }));
        assert_eq!(numbers(vec![Some(2000.0), Some(5000.0)], 0), json!({ "d": -3, "v": [2, 5] }));
        assert_eq!(numbers(vec![Some(0.123_456_78), Some(1.0)], 6), json!({ "d": 6, "v": [123_457, 1_000_000] }));
        assert_eq!(numbers(vec![Some(7.0), Some(7.0)], 3), json!({ "d": 0, "all": 7 }));
        assert_eq!(numbers(vec![None, None], 3)["all"], Value::Null);
    }

    #[test]
    fn what_the_page_shows_is_rounded_once() {
        for (value, d) in [(9.4496, 3), (9.4504, 3), (9.496, 2), (0.634_6, 3), (11.249_8, 3), (-2.4996, 3), (59.46, 1)]
        {
            let back = carried(d, value) as f64 / 10_f64.powi(d);
            assert!((back - value).abs() < 1.01 * 10_f64.powi(-d), "{value}: {back}");
            for shown in 0..d as usize {
                assert_eq!(format!("{back:.shown$}"), format!("{value:.shown$}"), "{value} to {d} decimals");
            }
        }
        // A chance does not become certain, nor none, on its way.
        assert_eq!((carried(3, 0.9996), carried(3, 1.0), carried(3, 0.0004), carried(3, 0.0)), (999, 1000, 1, 0));
        assert_eq!((carried(3, 9.45), carried(0, 5.4), carried(1, 5.04)), (9450, 5, 50));
    }

    #[test]
    fn of_many_sites_too_the_suns_altitude_is_rounded_once() {
        let max = |altitude_deg| Some(ContactEntry { altitude_deg, azimuth_deg: 311.46, ..ContactEntry::default() });
        let site = |k: usize| SiteEntry {
            name: k.to_string(),
            contacts: [None, None, max(if k == 0 { 9.4704 } else { 20.0 }), None, None],
            ..SiteEntry::default()
        };
        let model = ReportModel { sites: (0..=MANY).map(site).collect(), ..ReportModel::default() };
        let columns = &unpacked(&model)["sites"]["columns"];
        let altitude = &columns["contact.2.altitude_deg"];
        let back = altitude["v"][0].as_f64().unwrap() / 10_f64.powi(altitude["d"].as_i64().unwrap() as i32);
        assert_eq!((format!("{back:.1}"), format!("{back:.0}")), ("9.5".into(), "9".into()));
        let azimuth = &columns["contact.2.azimuth_deg"];
        assert_eq!((azimuth["d"].as_i64(), azimuth["all"].as_i64()), (Some(1), Some(3114)), "shown as 311°");
    }

    #[test]
    fn the_window_comes_back_to_the_millisecond() {
        let at = |utc_ms| Instant { utc_ms, offset_s: 34_200 };
        let contact = |utc_ms| Some(ContactEntry { at: at(utc_ms), ..ContactEntry::default() });
        let site = SiteEntry {
            name: "x".into(),
            phase: "total".into(),
            values: vec![None],
            utilities: vec![Some(0.5)],
            contacts: [contact(1_000_123), contact(4_000_456), None, contact(4_100_789), None],
            window: Some(EyeWindow { off: at(4_003_000), on: at(4_097_000), kept: "2 s".into() }),
            ..SiteEntry::default()
        };
        let other = SiteEntry { window: None, phase: "partial".into(), ..site.clone() };
        let model =
            ReportModel { criteria: vec![Criterion::default()], sites: vec![site, other], ..ReportModel::default() };
        let sites = &unpacked(&model)["sites"];
        assert_eq!(sites["count"], 2);
        let (base, columns) = (sites["base_ms"].as_i64().unwrap(), &sites["columns"]);
        let ms = |name: &str, k: usize| {
            let column = &columns[format!("{name}.ms")];
            let d = column["d"].as_i64().unwrap() as i32;
            let value = column.get("all").unwrap_or(&column["v"][k]);
            value.as_i64().map(|v| base + (v as f64 / 10_f64.powi(d)).round() as i64)
        };
        assert_eq!(ms("off", 0), Some(4_003_000));
        assert_eq!(ms("on", 0), Some(4_097_000));
        assert_eq!((ms("off", 1), ms("on", 1)), (None, None));
        assert_eq!(ms("contact.1", 0), Some(4_000_456));
        assert_eq!(ms("contact.3", 1), Some(4_100_789));
        assert_eq!(ms("contact.2", 0), None);
    }
}
