//! How high a place lies, and who says so.

use noonfall_ephemeris::GeoPoint;

use crate::outlook::skyline::Horizons;

/// The height that a place is computed with.
#[derive(Clone, Debug, PartialEq)]
pub struct Elevation {
    /// Metres above mean sea level.
    pub metres: f64,
    /// Where it comes from, in words.
    pub source: String,
    /// Whether it is known: sea level that was taken for want of anything else is not.
    pub known: bool,
    /// Why the terrain has none, where it was asked in vain.
    pub gap: Option<String>,
}

impl Elevation {
    /// The height given with the place, else the terrain's, else sea level, which is said and not known.
    pub fn of(given: Option<f64>, point: GeoPoint, horizons: &Horizons) -> Elevation {
        let (metres, source, known, gap) = match given {
            Some(metres) => (metres, "given with the site".to_owned(), true, None),
            None => match horizons.site_elevation(point.lat_deg, point.lon_deg) {
                Ok(Some((metres, source))) => (metres, source, true, None),
                Ok(None) => (0.0, "sea level taken: no elevation is given".to_owned(), false, None),
                Err(gap) => (0.0, format!("sea level taken: {gap}"), false, Some(gap.to_string())),
            },
        };
        Elevation { metres, source, known, gap }
    }
}
