//! The tables of a plan that steer the window for unaided eyes: `[filters]` and `[moon]`.

use toml::de::DeValue;

use super::read::path;
use super::table::{Table, Walk, number, shown};
use super::{FilterKeys, MoonKeys};
use crate::outlook::totality::EdgeShown;
use crate::outlook::window::{SettingError, WindowSettings};

pub(super) fn filters(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> FilterKeys {
    type With = fn(WindowSettings, f64) -> Result<WindowSettings, SettingError>;
    let numbers: [(&'static str, &str, With); 3] = [
        ("margin_s", "a margin in seconds", WindowSettings::with_margin_s),
        ("place_m", "a distance in metres", WindowSettings::with_place_m),
        ("height_m", "a tolerance of heights in metres", WindowSettings::with_height_m),
    ];
    let mut window = WindowSettings::default();
    for (key, what, with) in numbers {
        let line = t.item(w, key).map(|item| item.line);
        if let Some(value) = t.number(w, key, f64::NEG_INFINITY, f64::INFINITY, what) {
            window = kept(w, line, t.key(key), window, with(window, value));
        }
    }
    if let Some(item) = t.item(w, "unknown_height_m") {
        let ends: Option<Vec<f64>> =
            item.value.as_array().and_then(|ends| ends.iter().map(|end| number(end.get_ref())).collect());
        let key = t.key("unknown_height_m");
        match ends.as_deref() {
            Some(&[low, high]) => {
                window = kept(w, Some(item.line), key, window, window.with_unknown_height_m([low, high]));
            }
            _ => {
                let right = "write unknown_height_m = [lowest, highest], metres".to_owned();
                w.fault(Some(item.line), key, not_a_range(item.value), right);
            }
        }
    }
    t.finish(w);
    FilterKeys { window }
}

fn not_a_range(value: &DeValue<'_>) -> String {
    match value.as_array() {
        Some(ends) => format!("a list of {} is not a range of two heights", ends.len()),
        None => shown(value),
    }
}

/// The settings with a change, or as before and a fault.
fn kept(
    w: &mut Walk<'_>,
    line: Option<u64>,
    key: String,
    before: WindowSettings,
    changed: Result<WindowSettings, SettingError>,
) -> WindowSettings {
    changed.unwrap_or_else(|error| {
        let text = error.to_string();
        let (wrong, right) = text.split_once("; ").unwrap_or((&text, ""));
        w.fault(line, key, wrong.to_owned(), right.to_owned());
        before
    })
}

pub(super) fn moon(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> MoonKeys {
    let words = [EdgeShown::True.word(), EdgeShown::Smooth.word()];
    let edge = match t.choice(w, "edge", &words).as_deref() {
        Some(word) if word == EdgeShown::Smooth.word() => EdgeShown::Smooth,
        _ => EdgeShown::True,
    };
    let grid = path(w, &mut t, "grid", "the path of a grid of the Moon's heights");
    t.finish(w);
    MoonKeys { edge, grid }
}
