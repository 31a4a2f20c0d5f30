//! How much colder it gets: a published range, not a forecast.

use serde::Serialize;

/// Fall of the air's temperature at head height.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TemperatureDrop {
    /// Lower end of the range, °C.
    pub low_c: f64,
    /// Upper end of the range, °C.
    pub high_c: f64,
    /// How long after the greatest dimming the coldest moment comes, minutes.
    pub lag_min: f64,
    /// What the range rests on, in words.
    pub source: &'static str,
    /// What else follows from the cooling, in words.
    pub note: &'static str,
}

/// The range for a total eclipse.
///
/// # Source
/// 266 British stations in the deep partial eclipse of March 2015: 0.03 to 4.2 °C, median 1.0, lag 15 min, larger in
/// clear, calm, inland places (Phil. Trans. R. Soc. A, 2016, abstract); an annular eclipse of 1994, up to 6 °C, and a model
/// for a total one, up to 7 °C on a spring morning in middle latitudes (Bull. Am. Meteorol. Soc. 77, 89, 1996). Largest
/// inland under a clear sky with a high Sun and little wind; smallest by the sea, in wind, under cloud and with a low Sun,
/// which warms little to begin with. Not computed for the place.
pub const TOTAL_ECLIPSE: TemperatureDrop = TemperatureDrop {
    low_c: 1.0,
    high_c: 7.0,
    lag_min: 15.0,
    source: "published range: measured median 1 °C and up to 4 to 6 °C in deep partial and annular eclipses (2015, 1994), \
             modelled up to 7 °C for a total one; least by the sea, in wind, under cloud and with a low Sun",
    note: "the cooling often dissolves shallow cumulus over land in the last half hour (common practice); not scored",
};
