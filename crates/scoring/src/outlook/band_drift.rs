//! Speed and direction of shadow bands, where the wind is given.

use serde::Serialize;

use super::decimals;

/// Wind over the place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wind {
    /// Where it blows from, degrees from north through east.
    pub from_deg: f64,
    /// Metres a second.
    pub speed_m_s: f64,
}

/// Highest speed taken for a wind, m/s.
const FASTEST_M_S: f64 = 100.0;

impl Wind {
    fn parse(text: &str) -> Option<Wind> {
        let (from, speed) = text.split_once(',')?;
        const POINTS: [&str; 16] =
            ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];
        let point = POINTS.iter().position(|p| p.eq_ignore_ascii_case(from.trim()));
        let from_deg = match point {
            Some(i) => 22.5 * i as f64,
            None => from.trim().parse().ok().filter(|d| (0.0..=360.0).contains(d))?,
        };
        let speed_m_s = speed.trim().parse().ok().filter(|v| (0.0..=FASTEST_M_S).contains(v))?;
        Some(Wind { from_deg: from_deg % 360.0, speed_m_s })
    }
}

/// From words: where from (degrees or a point of the compass) and metres a second, with a comma between them.
///
/// # Errors
/// What would be right.
/// ```
/// use noonfall_scoring::outlook::band_drift::Wind;
/// assert_eq!("W,5".parse::<Wind>(), Ok(Wind { from_deg: 270.0, speed_m_s: 5.0 }));
/// assert_eq!("225, 3.5".parse::<Wind>(), Ok(Wind { from_deg: 225.0, speed_m_s: 3.5 }));
/// assert!("west".parse::<Wind>().is_err());
/// ```
impl std::str::FromStr for Wind {
    type Err = String;

    fn from_str(text: &str) -> Result<Wind, String> {
        let right = "give where the wind comes from (degrees or a point of the compass) and its speed in m/s, such as W,5 or 225,3.5";
        Wind::parse(text).ok_or_else(|| right.to_owned())
    }
}

/// How the bands move over level ground.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BandDrift {
    /// Where they move to, at right angles to their length: degrees from north through east.
    #[serde(serialize_with = "decimals::four")]
    pub towards_deg: f64,
    /// How fast, m/s.
    #[serde(serialize_with = "decimals::three")]
    pub speed_m_s: f64,
}

impl BandDrift {
    /// The drift under a wind of bands that lie along an azimuth on level ground.
    ///
    /// # Source
    /// The pattern is carried along by the air that makes it; thrown along the light, a layer that moves level moves its pattern
    /// on level ground alike. Of stripes only the part across them shows (Codona 1986, Astron. Astrophys. 164, 415, from memory).
    /// # Validity
    /// For the wind of the layer that makes the bands, some ten to a few hundred metres up by day, which is stronger than at head height
    /// and may have another direction.
    /// ```
    /// use noonfall_scoring::outlook::band_drift::{BandDrift, Wind};
    /// // Bands from north to south under a wind from the south-west of 4 m/s: to the east with its east part.
    /// let drift = BandDrift::of(Wind { from_deg: 225.0, speed_m_s: 4.0 }, 0.0);
    /// assert!((drift.towards_deg - 90.0).abs() < 1e-9 && (drift.speed_m_s - 2.828_427).abs() < 1e-6);
    /// ```
    pub fn of(wind: Wind, band_azimuth_deg: f64) -> BandDrift {
        let across = band_azimuth_deg + 90.0;
        let along_wind = (wind.from_deg + 180.0 - across).to_radians().cos() * wind.speed_m_s;
        let towards_deg = if along_wind < 0.0 { across + 180.0 } else { across };
        BandDrift { towards_deg: towards_deg.rem_euclid(360.0), speed_m_s: along_wind.abs() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By vectors: the wind's part along the bands' normal, for all directions; along the bands nothing moves.
    #[test]
    fn only_the_part_across_the_bands_shows() {
        for wind in (0..36).map(|i| Wind { from_deg: 10.0 * f64::from(i), speed_m_s: 5.0 }) {
            for azimuth in [0.0_f64, 33.0, 90.0, 179.0] {
                let drift = BandDrift::of(wind, azimuth);
                let (we, wn) = (wind.from_deg + 180.0).to_radians().sin_cos();
                let (be, bn) = azimuth.to_radians().sin_cos();
                let along = 5.0 * (we * be + wn * bn);
                let (de, dn) = drift.towards_deg.to_radians().sin_cos();
                let seen = [de * drift.speed_m_s, dn * drift.speed_m_s];
                let expected = [5.0 * we - along * be, 5.0 * wn - along * bn];
                assert!((0..2).all(|i| (seen[i] - expected[i]).abs() < 1e-9), "{wind:?} {azimuth}: {drift:?}");
            }
        }
    }

    #[test]
    fn words_of_winds() {
        for bad in ["", "W", "5,W", "W,-1", "361,2", "W,NaN", "W,200", "nan,3"] {
            assert!(bad.parse::<Wind>().unwrap_err().contains("such as W,5"), "{bad}");
        }
        assert_eq!("nnw,0".parse(), Ok(Wind { from_deg: 337.5, speed_m_s: 0.0 }));
    }
}
