//! What an eye sees in moving stripes: contrast sensitivity.

use std::f64::consts::{PI, TAU};

/// Distance from the eye to the sheet, m: a watcher who stands before it. Chosen.
pub const SHEET_DISTANCE_M: f64 = 1.5;

/// Speeds at which bands move over the eye's retina, as speeds on the sheet, m/s. Reported drifts are 1 to 4 m/s (1.8 m/s
/// measured in 1991, Jones & Jones 1994); an eye that follows them takes part of that away. Chosen, weighed alike.
pub const RETINAL_SPEEDS_M_S: [f64; 3] = [0.5, 1.0, 2.0];

/// Luminance above which the threshold no longer depends on the light, cd/m².
pub const BRIGHT_ENOUGH_CD_M2: f64 = 3.0;

/// Reflectance of a white sheet. Common practice, no source.
pub const SHEET_REFLECTANCE: f64 = 0.8;

/// Sensitivity to a drifting grating: the inverse of the amplitude (Michelson contrast) that is just seen.
///
/// # Units
/// Cycles per degree, cycles per second.
/// # Source
/// Kelly 1979, J. Opt. Soc. Am. 69, 1340 (abstract read; formula from memory):
/// `G = [6.1 + 7.3 |log₁₀(v/3)|³] v a² exp(−2a/a_m)`, a = 2π × cycles per degree, v = speed in degrees a second,
/// a_m = 45.9/(v + 2).
/// # Validity
/// Measured at 0.1 to some 10 cycles per degree with a stabilised image; wide stripes lie at its edge. Check values, distance
/// 1.5 m: stripes of 10 cm at 4 Hz 1/G = 1.0 %, of 30 cm 1.3 %, of 5 cm at 20 Hz 4.8 %.
pub fn sensitivity(cycles_per_degree: f64, hertz: f64) -> f64 {
    let (a, v) = (TAU * cycles_per_degree.max(1e-9), hertz.max(1e-9) / cycles_per_degree.max(1e-9));
    let peak = 45.9 / (v + 2.0);
    (6.1 + 7.3 * (v / 3.0).log10().abs().powi(3)) * v * a * a * (-2.0 * a / peak).exp()
}

/// Square of contrast over threshold for each unit of brightness variance in stripes of one wave number on the sheet.
///
/// The threshold of [`sensitivity`] is an amplitude; a sine of amplitude a has the variance a²/2. Mean over
/// [`RETINAL_SPEEDS_M_S`].
///
/// # Units
/// Radians per metre.
pub fn seen_of_variance(wave_number_per_m: f64) -> f64 {
    let cycles_per_m = wave_number_per_m / TAU;
    let cycles_per_degree = cycles_per_m * SHEET_DISTANCE_M * PI / 180.0;
    let squares = RETINAL_SPEEDS_M_S.iter().map(|speed| sensitivity(cycles_per_degree, speed * cycles_per_m).powi(2));
    2.0 * squares.sum::<f64>() / RETINAL_SPEEDS_M_S.len() as f64
}

/// How far a sheet's dimness lowers contrast over threshold: 1 down to [`BRIGHT_ENOUGH_CD_M2`], then as the square root of
/// the luminance (de Vries–Rose law, from memory).
///
/// # Units
/// Illuminance of the sheet in lux.
pub fn dimness(sheet_lux: f64) -> f64 {
    let luminance = sheet_lux.max(0.0) * SHEET_REFLECTANCE / PI;
    (luminance / BRIGHT_ENOUGH_CD_M2).min(1.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Design notes, computed apart from this code (Kelly's surface at 1.5 m), thresholds in percent.
    #[test]
    fn thresholds_of_stripes() {
        let rows = [
            (0.05, [0.9, 0.7, 0.8, 1.3, 2.4, 4.8]),
            (0.10, [1.5, 1.0, 0.9, 1.4, 2.5, 5.1]),
            (0.30, [2.4, 1.3, 1.1, 1.7, 3.2, 6.6]),
        ];
        for (spacing_m, expected) in rows {
            let cpd = SHEET_DISTANCE_M * PI / 180.0 / spacing_m;
            for (hertz, percent) in [2.0, 4.0, 8.0, 12.0, 16.0, 20.0].into_iter().zip(expected) {
                let found = 100.0 / sensitivity(cpd, hertz);
                assert!(
                    (found / percent - 1.0_f64).abs() < 0.07,
                    "{spacing_m} m, {hertz} Hz: {found} against {percent}"
                );
            }
        }
    }

    #[test]
    fn a_dim_sheet_hides_bands() {
        assert_eq!(dimness(100.0), 1.0);
        assert!((dimness(3.0) - (3.0 * 0.8 / PI / 3.0_f64).sqrt()).abs() < 1e-12);
        assert_eq!(dimness(-1.0), 0.0);
        assert!(seen_of_variance(0.0).is_finite() && seen_of_variance(1e9) >= 0.0);
    }
}
