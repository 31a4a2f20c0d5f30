//! Numbers in sentences, in one way everywhere.

/// A chance in words: whole percent, but never certainty that is none.
///
/// ```
/// use noonfall_scoring::wording::percent;
/// assert_eq!(percent(0.634), "63 %");
/// assert_eq!(percent(0.9998), "over 99 %");
/// assert_eq!(percent(0.002), "under 1 %");
/// assert_eq!(percent(1.0), "100 %");
/// ```
pub fn percent(chance: f64) -> String {
    match (chance * 100.0).round() {
        p if p >= 100.0 && chance < 1.0 => "over 99 %".to_string(),
        p if p <= 0.0 && chance > 0.0 => "under 1 %".to_string(),
        p => format!("{p} %"),
    }
}

/// A drive in words: whole minutes, never fewer than it takes.
///
/// ```
/// use noonfall_scoring::wording::hours;
/// assert_eq!([0.5, 3.0, 1.08, 2.26].map(hours), ["30 min", "3 h", "1 h 05 min", "2 h 16 min"]);
/// ```
pub fn hours(hours: f64) -> String {
    // 1.1 h are 66 min, and a last bit of the arithmetic more.
    let minutes = (hours * 60.0 - 1e-9).ceil().max(0.0) as u64;
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m:02} min"),
    }
}

/// An azimuth in whole degrees, from 0° to 359°.
///
/// ```
/// use noonfall_scoring::wording::azimuth;
/// assert_eq!([292.4, 359.7, -90.0].map(azimuth), ["292°", "0°", "270°"]);
/// ```
pub fn azimuth(azimuth_deg: f64) -> String {
    format!("{:.0}°", azimuth_deg.rem_euclid(360.0).round() % 360.0)
}

/// A month's name, from 1 to 12; nothing for what is none.
pub fn month(month: u32) -> &'static str {
    u8::try_from(month).ok().and_then(|m| chrono::Month::try_from(m).ok()).map_or("", |m| m.name())
}

/// A distance in words: a decimal below 10 km.
///
/// ```
/// use noonfall_scoring::wording::kilometres;
/// assert_eq!((kilometres(3.72).as_str(), kilometres(11.4).as_str()), ("3.7 km", "11 km"));
/// ```
pub fn kilometres(km: f64) -> String {
    if km < 10.0 { format!("{km:.1} km") } else { format!("{km:.0} km") }
}

/// A value of some quantity: three significant figures at least, no more decimals than help.
/// ```
/// use noonfall_scoring::wording::figure;
/// assert_eq!([228.26, 28.88, 0.345].map(figure), ["228", "28.9", "0.34"]);
/// ```
pub fn figure(value: f64) -> String {
    match value.abs() {
        a if a >= 100.0 => format!("{value:.0}"),
        a if a >= 10.0 => format!("{value:.1}"),
        _ => format!("{value:.2}"),
    }
}
