//! Single values as all outputs give them: rounded numbers, instants by RFC 3339.

use noonfall_scoring::outlook::decimals::to_decimals;
pub use noonfall_scoring::zone::{local_rfc3339 as local, utc_rfc3339 as utc};
use serde_json::{Value, json};

/// A number rounded to a number of decimals, or null.
/// # Units
/// Those of the value; rounding keeps digits that the computation stands behind and drops the noise of the last bits.
pub fn number(value: f64, decimals: i32) -> Value {
    if value.is_finite() { json!(to_decimals(value, decimals)) } else { Value::Null }
}

/// The same for a value that may not exist.
pub fn maybe(value: Option<f64>, decimals: i32) -> Value {
    value.map_or(Value::Null, |value| number(value, decimals))
}
