//! How much the air lifts the Sun.

/// Refraction at a true (airless) altitude.
///
/// # Units
/// Altitude in degrees, pressure in hPa, temperature in °C; the result in degrees, never negative.
/// # Source
/// Saemundsson 1986, Sky & Telescope 72, 70: R′ = 1.02 cot(h + 10.3/(h + 5.11)), for 1010 hPa and 10 °C, scaled by
/// pressure and temperature. From 15° up it gives 4 to 5 % (at most 0.15′) more than ERFA's `refco`; below the horizon the value at −1° fades out to nothing at −5°,
/// since nothing is seen there. Real refraction at the horizon scatters by several arcminutes.
/// ```
/// // At a true altitude of 5° the formula gives 9.674′.
/// let r = noonfall_ephemeris::refraction_deg(5.0, 1010.0, 10.0);
/// assert!((r * 60.0 - 9.674).abs() < 0.001);
/// ```
pub fn refraction_deg(true_altitude_deg: f64, pressure_hpa: f64, temperature_c: f64) -> f64 {
    const LOWEST_DEG: f64 = -1.0;
    let h = true_altitude_deg.max(LOWEST_DEG);
    let arcmin = 1.02 / (h + 10.3 / (h + 5.11)).to_radians().tan();
    let fade = ((true_altitude_deg + 5.0) / (LOWEST_DEG + 5.0)).clamp(0.0, 1.0);
    (arcmin / 60.0 * fade * pressure_hpa / 1010.0 * 283.0 / (273.0 + temperature_c)).max(0.0)
}

/// The altitude at which the body is seen through a standard atmosphere (1010 hPa, 10 °C).
///
/// # Units
/// Degrees.
/// ```
/// // On the true horizon the air lifts a body by 29′.
/// assert!((noonfall_ephemeris::apparent_altitude_deg(0.0) * 60.0 - 28.98).abs() < 0.01);
/// ```
pub fn apparent_altitude_deg(true_altitude_deg: f64) -> f64 {
    true_altitude_deg + refraction_deg(true_altitude_deg, 1010.0, 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Saemundsson's formula tabulated independently; it inverts Bennett 1982 within 0.062′ from −0.5° to 85°.
    #[test]
    fn agrees_with_the_table_and_inverts_bennett() {
        for (h, arcmin) in [(0.0, 28.982), (1.0, 21.744), (10.0, 5.408), (20.0, 2.741), (45.0, 1.013)] {
            assert!((refraction_deg(h, 1010.0, 10.0) * 60.0 - arcmin).abs() < 0.001, "{h}");
        }
        for tenth in -5..850 {
            let h = f64::from(tenth) / 10.0;
            let apparent = apparent_altitude_deg(h);
            let bennett = 1.0 / (apparent + 7.31 / (apparent + 4.4)).to_radians().tan();
            assert!(((apparent - h) * 60.0 - bennett).abs() < 0.062, "{h}");
        }
    }

    #[test]
    fn never_negative_and_gone_far_below_the_horizon() {
        assert_eq!(refraction_deg(90.0, 1010.0, 10.0), 0.0);
        assert_eq!(refraction_deg(-10.0, 1010.0, 10.0), 0.0);
        assert!(refraction_deg(10.0, 700.0, 10.0) < refraction_deg(10.0, 1010.0, 10.0));
    }
}
