//! A folder of its own and a command for each test.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The repository's top folder.
pub fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().unwrap()
}

/// The built program, run in the repository's top folder.
pub fn noonfall(arguments: &[&str]) -> Output {
    command(arguments).output().unwrap()
}

/// The same, before it is started.
pub fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_noonfall"));
    command.args(arguments).current_dir(top()).env("NO_COLOR", "1");
    command
}

/// Standard output of a run that must succeed.
pub fn stdout(arguments: &[&str]) -> String {
    let output = noonfall(arguments);
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// Standard output of a run that must succeed, as JSON that keeps to its schema.
pub fn json(arguments: &[&str]) -> Value {
    let document = serde_json::from_str(&stdout(arguments)).unwrap();
    let faults = crate::schema::faults(arguments[0], &document);
    assert!(faults.is_empty(), "{arguments:?}: {faults:#?}");
    document
}

/// Standard error of a run that must be refused with status 2 and write nothing to standard output.
pub fn refusal(arguments: &[&str]) -> String {
    let output = noonfall(arguments);
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {stderr}");
    assert!(output.stdout.is_empty(), "{arguments:?} printed {}", String::from_utf8_lossy(&output.stdout));
    assert!(!stderr.contains("panicked"), "{arguments:?}: {stderr}");
    stderr
}

/// Asserts that a message holds all of some pieces.
pub fn holds(text: &str, pieces: &[&str]) {
    for piece in pieces {
        assert!(text.contains(piece), "no {piece:?} in:\n{text}");
    }
}

/// The model that a report page carries: gzip of JSON in base 64.
pub fn page_model(page: &str) -> Value {
    use base64::Engine as _;
    let carried = page.split("id=\"model\">").nth(1).unwrap().split("</script>").next().unwrap();
    let packed = base64::engine::general_purpose::STANDARD.decode(carried.trim()).unwrap();
    serde_json::from_reader(flate2::read::GzDecoder::new(packed.as_slice())).unwrap()
}

/// A number of a JSON document by pointer.
pub fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("no number at {pointer} in {value}"))
}

/// A text of a JSON document by pointer.
pub fn text<'a>(value: &'a Value, pointer: &str) -> &'a str {
    value.pointer(pointer).and_then(Value::as_str).unwrap_or_else(|| panic!("no text at {pointer} in {value}"))
}

/// No output holds a number that is none: neither as a word, nor, in JSON (a document, or one on each line), as null where a number is due.
pub fn no_nan(text: &str) {
    let found = not_numbers(text);
    assert!(found.is_empty(), "{found:#?}");
}

/// Where an output holds a number that is none.
fn not_numbers(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for word in ["NaN", "nan", "inf", "Infinity"] {
        if text.split(|c: char| !c.is_alphanumeric()).any(|w| w == word) {
            found.push(format!("{word} in an output"));
        }
    }
    if text.starts_with(['{', '[']) {
        for document in serde_json::Deserializer::from_str(text).into_iter::<Value>() {
            nulls(&document.unwrap(), "", &mut Vec::new(), &mut found);
        }
    }
    found
}

/// Objects, texts and lists that may be missing; every other null stands for a number and needs a reason.
const MAY_BE_MISSING: &str = "C2 C3 air border central cloud corona drift drift_after_c3 exception eyes fallback filter_off filter_on filters forecast \
    horizon_glow libration light light_after_c3 limb missing moon_edge name no_window off on profile rejected \
    search shadow shadow_bands sky skyline sunrise_utc sunset_utc temperature_drop terrain totality_light true_limit \
    utc why_none zone";

/// Why a number is missing: key, and what must be true of the objects around it, innermost last.
type Reason = (&'static [&'static str], fn(&[&Value]) -> bool);
const REASONS: [Reason; 10] = [
    // Of a body of the sky: below the horizon there is no sky behind it.
    (&["sky_cd_m2", "margin_mag"], |around| {
        innermost(around)["apparent_altitude_deg"].as_f64().is_some_and(|altitude| altitude < 0.0)
    }),
    // Of a path: the axis passes beside the Earth.
    (&["width_km", "duration_s", "phase"], |around| missing(around, "central")),
    (&["north", "south"], |around| innermost(around).get("width_km").is_some()),
    // Of a line of equal time: its value is an instant.
    (&["value"], |around| innermost(around)["utc"].is_string()),
    // Of a criterion: without weight, or of a site that is not ranked.
    (&["value", "utility", "share"], |around| innermost(around)["weight"] == 0.0 || rejected(around)),
    (
        &[
            "rank",
            "score",
            "clear_sky_probability",
            "expected_clear_totality_s",
            "rank_low",
            "rank_high",
            "chance_first",
            "chance_top_three",
        ],
        rejected,
    ),
    (&["horizon_margin_deg"], |around| missing(around, "skyline")),
    // Of a comparison of two places, in a quantity that neither has.
    (&["low", "high", "difference"], |around| ["low", "high"].iter().all(|key| missing(around, key))),
    // Of a moment: nothing to look towards. Of a window: none, and it is said why.
    (&["azimuth_deg", "altitude_deg"], |around| innermost(around)["happening"].is_string() && missing(around, "eyes")),
    (&["margin_c2_s", "margin_c3_s", "margin_s"], |around| innermost(around)["why_none"].is_string()),
];

fn innermost<'a>(around: &[&'a Value]) -> &'a Value {
    around.last().unwrap()
}

/// Whether the innermost object has a key, and nothing there.
fn missing(around: &[&Value], key: &str) -> bool {
    innermost(around).get(key).is_some_and(Value::is_null)
}

fn rejected(around: &[&Value]) -> bool {
    around.iter().any(|object| object["rejected"].as_array().is_some_and(|reasons| !reasons.is_empty()))
}

/// Nulls for which there is no reason.
fn nulls<'a>(value: &'a Value, at: &str, around: &mut Vec<&'a Value>, found: &mut Vec<String>) {
    match value {
        Value::Array(items) => {
            for (i, item) in items.iter().enumerate() {
                nulls(item, &format!("{at}/{i}"), around, found);
            }
        }
        Value::Object(fields) => {
            around.push(value);
            for (key, field) in fields {
                nulls(field, &format!("{at}/{key}"), around, found);
            }
            around.pop();
        }
        Value::Null => {
            let key = at.rsplit('/').next().unwrap();
            let reason = || REASONS.iter().any(|(keys, holds)| keys.contains(&key) && holds(around));
            if !(MAY_BE_MISSING.split(' ').any(|one| one == key) || reason()) {
                found.push(format!("null at {at}"));
            }
        }
        _ => {}
    }
}

/// The check finds what it is there for: in a real document, every number in turn made null.
#[test]
fn a_null_for_a_number_is_found() {
    let true_text = stdout(&["at", "2028-07-22", "--lat", "-15.49", "--lon", "128.12", "--format", "json"]);
    assert_eq!(not_numbers(&true_text), Vec::<String>::new());
    let document: Value = serde_json::from_str(&true_text).unwrap();
    let mut numbers = Vec::new();
    fn gather(value: &Value, at: &str, numbers: &mut Vec<String>) {
        match value {
            Value::Array(items) => {
                items.iter().enumerate().for_each(|(i, v)| gather(v, &format!("{at}/{i}"), numbers));
            }
            Value::Object(fields) => fields.iter().for_each(|(k, v)| gather(v, &format!("{at}/{k}"), numbers)),
            Value::Number(_) => numbers.push(at.to_owned()),
            _ => {}
        }
    }
    gather(&document, "", &mut numbers);
    assert!(numbers.len() > 300, "{}", numbers.len());
    for at in numbers {
        let mut doctored = document.clone();
        *doctored.pointer_mut(&at).unwrap() = Value::Null;
        assert_eq!(not_numbers(&doctored.to_string()), [format!("null at {at}")]);
    }
    for (wrong, count) in [("a, NaN, b", 1), ("{\"a\": 1}\n{\"a\": null}\n", 1), ("1 inf, 2 nan", 2), ("finance", 0)] {
        assert_eq!(not_numbers(wrong).len(), count, "{wrong}");
    }
}
