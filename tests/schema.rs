//! JSON documents held against the schemas under `data/schema`, keyword by keyword (JSON Schema, draft 2020-12, as far as they use it).
//!
//! Every document that a test asks the program for goes through here; `tests/exchange/validate.py` does the same with a whole validator,
//! patterns of texts too.

use crate::util::top;
use serde_json::{Map, Value};

/// Keywords that say nothing to hold a document to, and `pattern`, which the other validator reads.
const SILENT: [&str; 7] = ["$schema", "$id", "$defs", "title", "description", "default", "pattern"];

/// What of a command's document is not as its schema has it; nothing where the command has none.
pub fn faults(command: &str, document: &Value) -> Vec<String> {
    let name = if command == "rank" { "ranking" } else { command };
    let Ok(text) = std::fs::read_to_string(top().join(format!("data/schema/{name}.schema.json"))) else {
        return Vec::new();
    };
    let root: Value = serde_json::from_str(&text).unwrap();
    let mut faults = Vec::new();
    hold(&root, &root, document, "", &mut faults);
    faults
}

fn hold(root: &Value, schema: &Value, value: &Value, at: &str, faults: &mut Vec<String>) {
    let Some(keywords) = schema.as_object() else {
        assert_eq!(schema, &Value::Bool(true), "{at}: a schema that is no table");
        return;
    };
    for (keyword, wanted) in keywords {
        if SILENT.contains(&keyword.as_str()) {
            continue;
        }
        if !holds(root, keywords, keyword, wanted, value, at, faults) {
            let shown: String = value.to_string().chars().take(80).collect();
            faults.push(format!("{at}: {shown} is not as {keyword} {wanted} has it"));
        }
    }
}

/// Whether one keyword holds; faults further in are told where they are.
fn holds(
    root: &Value,
    schema: &Map<String, Value>,
    keyword: &str,
    wanted: &Value,
    value: &Value,
    at: &str,
    faults: &mut Vec<String>,
) -> bool {
    let ordered = |right: fn(f64, f64) -> bool| value.as_f64().is_none_or(|x| right(x, wanted.as_f64().unwrap()));
    let fits = |schema: &&Value| {
        let mut inner = Vec::new();
        hold(root, schema, value, at, &mut inner);
        inner.is_empty()
    };
    let choices = || wanted.as_array().unwrap().iter();
    match keyword {
        "type" if wanted.is_array() => choices().any(|kind| is_a(value, kind.as_str().unwrap())),
        "type" => is_a(value, wanted.as_str().unwrap()),
        "const" => value == wanted,
        "enum" => choices().any(|choice| choice == value),
        "minimum" => ordered(|x, limit| x >= limit),
        "maximum" => ordered(|x, limit| x <= limit),
        "exclusiveMinimum" => ordered(|x, limit| x > limit),
        "exclusiveMaximum" => ordered(|x, limit| x < limit),
        "minItems" => value.as_array().is_none_or(|items| items.len() as u64 >= wanted.as_u64().unwrap()),
        "anyOf" => choices().any(|schema| fits(&schema)),
        "oneOf" => choices().filter(fits).count() == 1,
        "required" => value.as_object().is_none_or(|o| choices().all(|key| o.contains_key(key.as_str().unwrap()))),
        "$ref" => {
            let path = wanted.as_str().and_then(|path| path.strip_prefix('#')).unwrap();
            hold(root, root.pointer(path).unwrap(), value, at, faults);
            true
        }
        "items" => {
            for (i, item) in value.as_array().into_iter().flatten().enumerate() {
                hold(root, wanted, item, &format!("{at}/{i}"), faults);
            }
            true
        }
        "properties" => {
            for (key, schema) in wanted.as_object().unwrap() {
                if let Some(inner) = value.get(key) {
                    hold(root, schema, inner, &format!("{at}/{key}"), faults);
                }
            }
            true
        }
        "additionalProperties" => {
            let named = schema.get("properties").and_then(Value::as_object);
            let others = value.as_object().into_iter().flatten();
            for (key, inner) in others.filter(|(key, _)| !named.is_some_and(|n| n.contains_key(*key))) {
                if wanted == &Value::Bool(false) {
                    faults.push(format!("{at}/{key}: not a key of the schema"));
                } else {
                    hold(root, wanted, inner, &format!("{at}/{key}"), faults);
                }
            }
            true
        }
        other => panic!("{at}: the keyword {other} is not read here"),
    }
}

fn is_a(value: &Value, kind: &str) -> bool {
    match kind {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        "number" => value.is_number(),
        "integer" => value.as_f64().is_some_and(|x| x.fract() == 0.0),
        other => panic!("no kind of value: {other}"),
    }
}

/// Doctored documents are found out: a null for a number, a number out of its range, a key that is gone, a word that is none of the list.
#[test]
fn doctored_documents_are_found_out() {
    let rows = crate::util::json(&["list", "--from", "2026", "--to", "2028", "--format", "json"]);
    for (key, wrong) in
        [("gamma", Value::Null), ("greatest_lat_deg", 91.into()), ("kind", "great".into()), ("date", 2026.into())]
    {
        let mut doctored = rows.clone();
        doctored[0][key] = wrong;
        let found = faults("list", &doctored);
        assert!(found.len() == 1 && found[0].starts_with(&format!("/0/{key}: ")), "{key}: {found:?}");
    }
    let mut doctored = rows;
    doctored[1].as_object_mut().unwrap().remove("gamma");
    assert_eq!(faults("list", &doctored).len(), 1);
}
