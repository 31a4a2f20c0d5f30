//! How much of the Sun's disc the Moon covers.

/// Why two discs cannot be laid over each other.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DiscError {
    /// A radius is zero, negative or not a number, or the separation is negative or not a number.
    #[error("a disc needs a positive radius and a separation of zero or more; got {0}")]
    NotPositive(f64),
}

/// Obscuration: the fraction of the area of the Sun's disc that the Moon covers, 0 to 1.
/// # Units
/// All three arguments in one common angular unit; the discs are taken as flat.
/// # Errors
/// [`DiscError::NotPositive`], with the value, if a radius is zero, negative or not finite.
/// # Source
/// Plane geometry of two circles. Exact check: equal discs at magnitude 0.5 give 2/3 − √3/(2π) = 0.391002.
/// ```
/// let half = noonfall_shadow::obscuration(1.0, 1.0, 1.0)?;
/// assert!((half - 0.391_002).abs() < 1e-6);
/// # Ok::<(), noonfall_shadow::DiscError>(())
/// ```
pub fn obscuration(sun_radius: f64, moon_radius: f64, separation: f64) -> Result<f64, DiscError> {
    for value in [sun_radius, moon_radius] {
        if !(value.is_finite() && value > 0.0) {
            return Err(DiscError::NotPositive(value));
        }
    }
    if !(separation.is_finite() && separation >= 0.0) {
        return Err(DiscError::NotPositive(separation));
    }
    Ok(covered(sun_radius, moon_radius, separation))
}

/// The same for arguments known to be good.
pub(crate) fn covered(a: f64, b: f64, s: f64) -> f64 {
    if s >= a + b {
        return 0.0;
    }
    if s <= (a - b).abs() {
        return (b / a).powi(2).min(1.0);
    }
    let angle_a = ((s * s + a * a - b * b) / (2.0 * s * a)).clamp(-1.0, 1.0).acos();
    let angle_b = ((s * s + b * b - a * a) / (2.0 * s * b)).clamp(-1.0, 1.0).acos();
    let lens = a * a * (angle_a - angle_a.sin() * angle_a.cos()) + b * b * (angle_b - angle_b.sin() * angle_b.cos());
    (lens / (std::f64::consts::PI * a * a)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limits_are_exact() {
        assert_eq!(obscuration(1.0, 1.05, 0.01), Ok(1.0));
        assert_eq!(obscuration(1.0, 1.05, 2.1), Ok(0.0));
        // An annular eclipse covers the square of the ratio.
        assert!((obscuration(1.0, 0.95, 0.0).unwrap() - 0.9025).abs() < 1e-15);
        assert!(obscuration(0.0, 1.0, 0.0).is_err() && obscuration(1.0, f64::NAN, 0.0).is_err());
    }

    /// Areas left uncovered, R = 1.056, magnitude m = (1 + R − s)/2, integrated numerically by an independent program.
    #[test]
    fn agrees_with_integrated_areas() {
        for (magnitude, left) in [(0.5, 0.60291), (0.9, 0.11359), (0.99, 0.006414), (0.999, 0.000229)] {
            let s = 1.0 + 1.056 - 2.0 * magnitude;
            assert!((1.0 - obscuration(1.0, 1.056, s).unwrap() - left).abs() < 1e-5, "{magnitude}");
        }
    }
}
