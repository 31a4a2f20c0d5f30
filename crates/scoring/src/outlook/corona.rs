//! The shape of the corona that a year should show, by the phase of the Sun's cycle.

use super::decimals;
use serde::Serialize;

/// Expected shape of the corona.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CoronaShape {
    /// Phase between minimum (0) and maximum (1) of the Sun's cycle.
    #[serde(serialize_with = "decimals::three")]
    pub phase: f64,
    /// Expected flattening (Ludendorff's a + b): 0 a round corona, 0.4 one drawn out along the Sun's equator.
    #[serde(serialize_with = "decimals::three")]
    pub flattening: f64,
    /// Scatter of measured eclipses about it, either way.
    #[serde(serialize_with = "decimals::three")]
    pub spread: f64,
    /// The shape in a few words.
    pub shape: &'static str,
    /// The same in one line, with its flattening and why.
    pub words: String,
    /// What it rests on.
    pub source: &'static str,
}

const SOURCE: &str = "straight line through published ranges of the flattening, 0.3 to 0.4 at minimum and 0 to 0.1 at maximum \
                      (69 eclipses 1851 to 2020, Pishkalo 2023); streamers cannot be foretold";

/// Minimum, maximum and next minimum of the Sun's cycles, in years. Smoothed sunspot numbers, from memory; the minimum of December
/// 2019 and the maximum of October 2024 as announced; the next minimum is assumed (2030.5 to 2031.5 in forecasts).
const CYCLES: [[f64; 3]; 7] = [
    [1954.3, 1958.2, 1964.8],
    [1964.8, 1968.9, 1976.2],
    [1976.2, 1979.9, 1986.7],
    [1986.7, 1989.9, 1996.6],
    [1996.6, 2001.9, 2008.9],
    [2008.9, 2014.3, 2019.95],
    [2019.95, 2024.8, 2031.0],
];

/// Shape of the corona at a date, `None` outside the cycles known or assumed (April 1954 to the end of 2030).
///
/// # Units
/// Years and their fraction.
/// # Source
/// a + b = 0.33 − 0.28 Φ through the ranges that Pishkalo 2023 (abstract) gives; scatter 0.07 in the rising and 0.09 in the falling
/// part, as its correlations imply. Phase taken linear between minimum and maximum. Check: 2026 0.13, 2027 0.18, 2028 0.22.
/// ```
/// use noonfall_scoring::outlook::corona::corona_of_year;
/// let shape = corona_of_year(2028.55).expect("the cycle is known");
/// assert!((shape.flattening - 0.22).abs() < 0.005);
/// assert!(corona_of_year(2045.0).is_none());
/// ```
pub fn corona_of_year(year: f64) -> Option<CoronaShape> {
    let [minimum, maximum, next] = CYCLES.into_iter().find(|[from, _, to]| (*from..*to).contains(&year))?;
    let rising = year < maximum;
    let phase = if rising { (year - minimum) / (maximum - minimum) } else { (next - year) / (next - maximum) };
    let (flattening, spread) = (0.33 - 0.28 * phase, if rising { 0.07 } else { 0.09 });
    let shape = if phase > 0.7 {
        "nearly round, with streamers on all sides"
    } else if phase > 0.35 {
        "between round and drawn out"
    } else {
        "drawn out along the Sun's equator"
    };
    let when = if rising { "rising towards" } else { "falling from" };
    Some(CoronaShape {
        phase,
        flattening,
        spread,
        shape,
        words: format!(
            "Corona: expected {shape} (flattening {flattening:.2} ± {spread:.2}; the Sun's cycle is {when} its maximum of {:.0}).",
            maximum.floor()
        ),
        source: SOURCE,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published: most eclipses near a maximum show 0 to 0.1, near a minimum 0.3 to 0.4 (Pishkalo 2023, abstract).
    #[test]
    fn within_the_published_ranges() {
        for [minimum, maximum, _] in CYCLES {
            let at = |year: f64| corona_of_year(year).unwrap();
            let (low, high) = (at(minimum + 0.05), at(maximum));
            assert!((0.3..0.4).contains(&low.flattening) && (0.0..0.1).contains(&high.flattening), "{low:?} {high:?}");
            assert!(low.words.contains("drawn out along") && high.words.contains("nearly round"));
        }
        assert!((corona_of_year(2026.61).unwrap().flattening - 0.13).abs() < 0.006);
        assert!((corona_of_year(2027.58).unwrap().flattening - 0.18).abs() < 0.006);
        assert!(corona_of_year(1900.0).is_none() && corona_of_year(f64::NAN).is_none());
    }
}
