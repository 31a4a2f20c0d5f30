//! Angles in degrees.

/// Arcseconds in a radian.
pub const ARCSEC_PER_RAD: f64 = 206_264.806_247_096_36;

/// The angle in (−180, 180].
///
/// ```
/// assert_eq!(noonfall_ephemeris::angle::wrap_180(190.0), -170.0);
/// assert_eq!(noonfall_ephemeris::angle::wrap_180(-180.0), 180.0);
/// ```
pub fn wrap_180(deg: f64) -> f64 {
    let wrapped = wrap_360(deg);
    if wrapped > 180.0 { wrapped - 360.0 } else { wrapped }
}

/// The angle in [0, 360).
///
/// ```
/// assert_eq!(noonfall_ephemeris::angle::wrap_360(-90.0), 270.0);
/// ```
pub fn wrap_360(deg: f64) -> f64 {
    let wrapped = deg.rem_euclid(360.0);
    // A tiny negative angle rounds up to the full turn.
    if wrapped >= 360.0 { 0.0 } else { wrapped }
}
