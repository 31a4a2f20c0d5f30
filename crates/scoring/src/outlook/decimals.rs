//! As many digits in print as mean something: serialisers that round.
//!
//! Inside, numbers keep their full precision; in JSON an angle has four decimals, a time three, a contrast four figures.
//! Besides being readable, this keeps the last bits of the arithmetic out of the files.

use serde::Serializer;

/// The number to a count of decimals, without a negative zero.
pub fn to_decimals(value: f64, decimals: i32) -> f64 {
    let scale = 10f64.powi(decimals);
    let rounded = (value * scale).round() / scale;
    if rounded.is_finite() { rounded + 0.0 } else { value }
}

/// The number to a count of significant figures.
pub fn to_figures(value: f64, figures: i32) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let decimals = figures - 1 - value.abs().log10().floor() as i32;
    if decimals > 300 { value } else { to_decimals(value, decimals) }
}

/// Two decimals: seconds of totality.
///
/// # Errors
/// Those of the serialiser.
pub fn two<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(to_decimals(*value, 2))
}

/// Three decimals: seconds, kilometres, magnitudes.
///
/// # Errors
/// Those of the serialiser.
pub fn three<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(to_decimals(*value, 3))
}

/// Four decimals: degrees, arcseconds, outlooks.
///
/// # Errors
/// Those of the serialiser.
pub fn four<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(to_decimals(*value, 4))
}

/// Four decimals, or null.
///
/// # Errors
/// Those of the serialiser.
pub fn four_or_null<S: Serializer>(value: &Option<f64>, serializer: S) -> Result<S::Ok, S::Error> {
    match value {
        Some(number) => serializer.serialize_some(&to_decimals(*number, 4)),
        None => serializer.serialize_none(),
    }
}

/// Three decimals, or null.
///
/// # Errors
/// Those of the serialiser.
pub fn three_or_null<S: Serializer>(value: &Option<f64>, serializer: S) -> Result<S::Ok, S::Error> {
    match value {
        Some(number) => serializer.serialize_some(&to_decimals(*number, 3)),
        None => serializer.serialize_none(),
    }
}

/// Seven decimals: obscurations, whose distance from one matters.
///
/// # Errors
/// Those of the serialiser.
pub fn seven<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(to_decimals(*value, 7))
}

/// Four significant figures: contrasts and fractions of light.
///
/// # Errors
/// Those of the serialiser.
pub fn four_figures<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(to_figures(*value, 4))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounding() {
        assert_eq!(to_decimals(-0.00001, 4).to_string(), "0");
        assert_eq!(to_decimals(12.345_67, 3), 12.346);
        assert_eq!(to_figures(0.000_011_529_025, 4), 0.000_011_53);
        assert_eq!(to_figures(0.0, 4), 0.0);
        assert!(to_figures(f64::MIN_POSITIVE, 4).is_finite());
    }
}
