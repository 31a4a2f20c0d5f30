//! How dark it gets, in words that a traveller knows: the twilight of as much light.

/// Illuminance of level ground under a clear sky by the Sun's depth below the horizon: degrees, lux. Handbook values, from memory
/// (sunset 450, end of civil twilight 3.4, of nautical twilight 0.008); lunar light apart.
const TWILIGHT: [(f64, f64); 4] = [(0.8, 453.0), (6.0, 3.4), (12.0, 0.0083), (18.0, 0.00065)];

/// Minutes that the Sun takes from a depth to the next degree in middle latitudes: 6° in half an hour.
const MINUTES_PER_DEGREE: f64 = 5.2;

/// Depth of the Sun below the horizon, degrees, at which a clear evening is as dark; 0.8 (sunset) for anything brighter.
///
/// ```
/// use noonfall_scoring::outlook::darkness::twilight_depth_deg;
/// assert!((twilight_depth_deg(3.4) - 6.0).abs() < 1e-9);
/// ```
pub fn twilight_depth_deg(lux: f64) -> f64 {
    let ln = lux.max(1e-6).ln();
    let cell = TWILIGHT.windows(2).find(|w| ln >= w[1].1.ln()).or(TWILIGHT.windows(2).last());
    match cell {
        Some([a, b]) => (a.0 + (a.1.ln() - ln) / (a.1.ln() - b.1.ln()) * (b.0 - a.0)).clamp(0.8, 18.0),
        _ => 0.8,
    }
}

/// "as dark as some 25 minutes after sunset (the Sun 5.4° down)".
/// ```
/// use noonfall_scoring::outlook::darkness::as_dark_as;
/// // Civil twilight ends with 3.4 lx, the Sun 6° down (from memory).
/// assert_eq!(as_dark_as(3.4), "as dark as a clear evening some 25 minutes after sunset in middle latitudes");
/// ```
pub fn as_dark_as(lux: f64) -> String {
    let depth = twilight_depth_deg(lux);
    let minutes = 5.0 * ((depth - 0.8) * MINUTES_PER_DEGREE / 5.0).round();
    if minutes < 5.0 {
        "no darker than at sunset".to_owned()
    } else {
        format!("as dark as a clear evening some {minutes:.0} minutes after sunset in middle latitudes")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn darker_is_later() {
        let mut before = 0.0;
        for i in 0..60 {
            let depth = twilight_depth_deg(1000.0 * 0.8_f64.powi(i));
            assert!(depth >= before);
            before = depth;
        }
        assert_eq!(twilight_depth_deg(1e5), 0.8);
        assert!((twilight_depth_deg(0.0083) - 12.0).abs() < 1e-9);
        assert_eq!(as_dark_as(1e4), "no darker than at sunset");
        assert!(as_dark_as(3.4).contains("25 minutes"));
    }
}
