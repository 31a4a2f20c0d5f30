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

/// Standard output of a run that must succeed, as JSON.
pub fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&stdout(arguments)).unwrap()
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

/// No number in a JSON document may have come from NaN or infinity: they would stand as null where a number belongs.
/// The document's own nulls are allowed; what is checked is that no text says so.
pub fn no_nan(text: &str) {
    for word in ["NaN", "nan", "inf", "Infinity"] {
        let alone = text.split(|c: char| !c.is_alphanumeric()).any(|w| w == word);
        assert!(!alone, "{word} in an output");
    }
}
