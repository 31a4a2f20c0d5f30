//! Curves beside the path, for the map formats: outline of the partial eclipse, isolines, limits at the Moon's true edge.

use noonfall_ephemeris::{GeoPoint, Tt};
use noonfall_shadow::moon_edge::{MoonHeights, TrueLimits};
use noonfall_shadow::umbral_limits::Side;
use noonfall_shadow::{HorizonCrossing, HorizonEvent, Isoline, Outline, Quantity};
use serde_json::{Map, Value, json};

use crate::values::{number, utc};

/// A curve with what it is, for export.
#[derive(Clone, Debug, PartialEq)]
pub struct ExportCurve {
    /// Identifier, unique in a file.
    pub id: String,
    /// `penumbral_limit`, `rise_set`, `isoline`, `true_north_limit` or `true_south_limit`.
    pub role: &'static str,
    /// In words.
    pub name: String,
    /// What tells it from others of its role.
    pub properties: Map<String, Value>,
    /// Its pieces on the ground.
    pub lines: Vec<Vec<GeoPoint>>,
}

/// `north` or `south`.
pub(crate) fn side_word(side: Side) -> &'static str {
    match side {
        Side::North => "north",
        Side::South => "south",
    }
}

/// The unit in which an isoline's value is given.
pub(crate) fn unit(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Duration => "s",
        Quantity::SunAltitude => "deg",
        Quantity::Obscuration => "fraction",
        Quantity::Maximum => "UTC",
    }
}

/// Value as a number, null for a time; UTC for a time, else null.
pub(crate) fn value_and_utc(isoline: &Isoline) -> (Value, Value) {
    match isoline.quantity {
        Quantity::Maximum => (Value::Null, json!(utc(Tt(isoline.value)))),
        _ => (number(isoline.value, 6), Value::Null),
    }
}

/// The outline's curves, one for each side and for each event at sunrise and sunset.
pub fn outline(outline: &Outline) -> Vec<ExportCurve> {
    let mut curves = Vec::new();
    for (side, title) in [(Side::North, "Northern"), (Side::South, "Southern")] {
        let stretches = outline.limits.iter().filter(|limit| limit.side == side);
        curves.push(ExportCurve {
            id: format!("penumbral_limit-{}", side_word(side)),
            role: "penumbral_limit",
            name: format!("{title} limit of the partial eclipse"),
            properties: fields(json!({ "side": side_word(side) })),
            lines: stretches.map(|limit| places(&limit.points)).collect(),
        });
    }
    for (event, words) in
        [(HorizonEvent::Begins, "Begins"), (HorizonEvent::Maximum, "Maximum"), (HorizonEvent::Ends, "Ends")]
    {
        for crossing in [HorizonCrossing::Sunrise, HorizonCrossing::Sunset] {
            let pieces = outline.rise_set.iter().filter(|c| c.event == event && c.crossing == crossing);
            curves.push(ExportCurve {
                id: format!("{event}-at-{crossing}"),
                role: "rise_set",
                name: format!("{words} at {crossing}"),
                properties: fields(json!({ "event": event.to_string(), "at": crossing.to_string() })),
                lines: pieces.map(|curve| places(&curve.points)).collect(),
            });
        }
    }
    curves.retain(|curve| !curve.lines.is_empty());
    curves
}

/// One curve for each value that is reached anywhere.
pub fn isolines(isolines: &[Isoline]) -> Vec<ExportCurve> {
    let reached = isolines.iter().filter(|isoline| !isoline.lines.is_empty());
    reached
        .map(|isoline| {
            let (value, utc) = value_and_utc(isoline);
            let words = match isoline.quantity {
                Quantity::Duration => format!("Central phase of {:.0} s", isoline.value),
                Quantity::SunAltitude => format!("Sun {:.0}° high at maximum, airless", isoline.value),
                Quantity::Obscuration => format!("Obscuration {:.0} %", 100.0 * isoline.value),
                Quantity::Maximum => format!("Maximum at {} UTC", Tt(isoline.value).to_utc().format("%H:%M")),
            };
            let label = match isoline.quantity {
                Quantity::Maximum => Tt(isoline.value).to_utc().format("%H%M").to_string(),
                _ => number(isoline.value, 6).to_string(),
            };
            ExportCurve {
                id: format!("isoline-{}-{label}", isoline.quantity),
                role: "isoline",
                name: words,
                properties: fields(json!({
                    "quantity": isoline.quantity.name(),
                    "value": value,
                    "unit": unit(isoline.quantity),
                    "utc": utc,
                })),
                lines: isoline.lines.clone(),
            }
        })
        .collect()
}

/// The lines beyond which no place has a moment without sunlight, those that exist.
pub fn true_limits(limits: &TrueLimits, heights: &MoonHeights) -> Vec<ExportCurve> {
    let sides = [
        ("true_north_limit", Side::North, "Northern", &limits.north),
        ("true_south_limit", Side::South, "Southern", &limits.south),
    ];
    let there = sides.into_iter().filter(|(.., line)| line.len() > 1);
    there
        .map(|(role, side, title, line)| ExportCurve {
            id: role.to_owned(),
            role,
            name: format!("{title} limit at the Moon's measured edge: beyond it no moment without sunlight"),
            properties: fields(json!({ "side": side_word(side), "edge": "true", "edge_source": heights.source() })),
            lines: vec![line.clone()],
        })
        .collect()
}

fn places(points: &[(Tt, GeoPoint)]) -> Vec<GeoPoint> {
    points.iter().map(|&(_, place)| place).collect()
}

fn fields(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(fields) => fields,
        _ => Map::new(),
    }
}
