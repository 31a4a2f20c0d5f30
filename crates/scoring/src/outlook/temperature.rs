//! How much colder it gets: a range by the Sun's altitude and the kind of place, not a forecast.

use serde::Serialize;

/// Fall of the air's temperature at head height.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TemperatureDrop {
    /// Lower end over all kinds of place, °C.
    pub low_c: f64,
    /// Upper end over all kinds of place, °C.
    pub high_c: f64,
    /// How long after the greatest dimming the coldest moment comes, minutes: the middle.
    pub lag_min: f64,
    /// The lag's range, minutes.
    pub lag_range_min: [f64; 2],
    /// The range for each kind of place.
    pub by_place: Vec<DropAtPlace>,
    /// What the range rests on, in words.
    pub source: &'static str,
    /// What else follows from the cooling, in words.
    pub note: &'static str,
}

/// The range for a kind of place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DropAtPlace {
    /// In words.
    pub kind: &'static str,
    /// °C.
    pub low_c: f64,
    /// °C.
    pub high_c: f64,
}

/// Kinds of place and their share of the inland fall (chosen from the rows that the source names).
pub const KINDS: [(&str, f64); 3] =
    [("inland, clear and calm", 1.0), ("coast, wind or part cloud", 0.5), ("sea or overcast", 0.2)];

/// Fall inland, clear and calm, with the Sun overhead, °C.
const OVERHEAD_C: f64 = 4.5;

/// Factor either way.
const SPREAD: f64 = 1.7;

/// The range for the Sun at an altitude.
///
/// # Units
/// Degrees; the range in half degrees Celsius, finer than the rows bear.
/// # Source
/// 4.5 °C × sin h through eight measured rows (rms 0.8 °C; selected rows, not a law), given as a factor of 1.7 either way: western
/// Kentucky 2017 3.3–5.6 (64°), airports 2017 3–4 (60°), New York 2024 mean 2.8 (44°), Turkey 1999 to 4 (57°), Greece 2006 1.6–3.9
/// (55°), Niger 2006 5.6 (63°), Chile 2019 1–2 (13°), Svalbard 2015 hardly anything (11°). 266 British stations in 2015: −0.03 to
/// −4.2 °C, median −1.0, more inland, clear and calm. Coldest 5 to 20 minutes after.
/// ```
/// use noonfall_scoring::outlook::temperature::temperature_drop;
/// // Airports of 2017, Sun at 60°: 3 to 4 °C.
/// let inland = &temperature_drop(60.0).by_place[0];
/// assert!(inland.low_c <= 3.0 && inland.high_c >= 4.0);
/// ```
pub fn temperature_drop(sun_altitude_deg: f64) -> TemperatureDrop {
    let inland = OVERHEAD_C * sun_altitude_deg.to_radians().sin().max(0.0);
    let (down, up) = (|c: f64| (2.0 * c).floor() / 2.0, |c: f64| (2.0 * c).ceil() / 2.0);
    let by_place: Vec<DropAtPlace> = KINDS
        .iter()
        .map(|&(kind, share)| DropAtPlace {
            kind,
            low_c: down(inland * share / SPREAD),
            high_c: up(inland * share * SPREAD).max(0.5),
        })
        .collect();
    TemperatureDrop {
        low_c: by_place.iter().map(|p| p.low_c).fold(f64::MAX, f64::min),
        high_c: by_place.iter().map(|p| p.high_c).fold(0.0, f64::max),
        lag_min: 12.0,
        lag_range_min: [5.0, 20.0],
        by_place,
        source: "range through eight measured eclipses by the Sun's altitude, a factor of 1.7 either way; least by the sea, in wind, under \
                 cloud and with a low Sun",
        note: "the cooling often dissolves shallow cumulus over land in the last half hour (common practice); not scored",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Measured rows (found: papers, abstracts, newspapers as the source lists): each lies inside the range of some kind of place.
    #[test]
    fn measured_rows_lie_inside() {
        for (altitude, low, high) in
            [(64.0, 3.3, 5.6), (60.0, 3.0, 4.0), (44.0, 2.8, 2.8), (55.0, 1.6, 3.9), (63.0, 5.6, 5.6), (13.0, 1.0, 2.0)]
        {
            let range = temperature_drop(altitude);
            assert!(range.low_c <= low && high <= range.high_c + 0.5, "{altitude}: {range:?}");
        }
    }

    #[test]
    fn a_low_sun_cools_less() {
        let mut before = 0.0;
        for altitude in 0..=90 {
            let range = temperature_drop(f64::from(altitude));
            assert!(range.high_c >= before && range.low_c <= range.high_c);
            before = range.high_c;
        }
        assert_eq!(temperature_drop(-5.0).low_c, 0.0);
    }
}
