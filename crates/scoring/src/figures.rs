//! The figures of a ranked place as every output tells them: rounded in this one place, so that no two of them part by a last digit, and
//! the last bits of the arithmetic stay out of files.

use crate::clocks::rounded;
use crate::criteria::Numbers;
use crate::outlook::cloud::CloudOutlook;
use crate::rank::{CriterionScore, RankedSite};

/// Figures to as many digits as files carry; whoever shows fewer rounds again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east.
    pub lon_deg: f64,
    /// Height above the ellipsoid, metres.
    pub elevation_m: f64,
    /// Score, 0 to 1; `None` for a rejected site.
    pub score: Option<f64>,
    /// What the built-in criteria look at; the seconds of totality in full, whoever prints them rounds them once.
    pub numbers: Numbers,
    /// Expected seconds of clear totality.
    pub expected_clear_totality_s: Option<f64>,
    /// Azimuth of the Sun at maximum, degrees; 0 where there is no eclipse.
    pub sun_azimuth_deg: f64,
    /// Moon over Sun in size.
    pub size_ratio: f64,
    /// Clear sky with its uncertainty.
    pub cloud: Option<CloudFigures>,
}

/// The fractions of a cloud outlook.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CloudFigures {
    /// Mean cloud cover, 0 to 1.
    pub cloud_fraction: f64,
    /// Probability of a clear line of sight.
    pub clear_line_of_sight: f64,
    /// Lower end of the central 95 % of that probability's distribution.
    pub low_95: f64,
    /// Upper end of it.
    pub high_95: f64,
}

impl CriterionScore {
    /// As outputs tell it.
    #[must_use]
    pub fn told(self) -> CriterionScore {
        let round = |value: Option<f64>, decimals| value.map(|value| rounded(value, decimals));
        CriterionScore { value: round(self.value, 4), utility: round(self.utility, 6), share: round(self.share, 6) }
    }
}

impl RankedSite {
    /// Its figures as outputs tell them.
    pub fn figures(&self) -> Figures {
        let (found, site) = (&self.found, &self.found.place.site);
        let round = |value: Option<f64>, decimals| value.map(|value| rounded(value, decimals));
        let Numbers { totality_s, sun_altitude_deg, clear_sky, shadow_bands, horizon_margin_deg } = found.numbers;
        Figures {
            lat_deg: rounded(site.lat_deg, 6),
            lon_deg: rounded(site.lon_deg, 6),
            elevation_m: rounded(site.elevation_m, 1),
            score: round(self.score, 6),
            numbers: Numbers {
                totality_s,
                sun_altitude_deg: rounded(sun_altitude_deg, 3),
                clear_sky: round(clear_sky, 4),
                shadow_bands: round(shadow_bands, 4),
                horizon_margin_deg: round(horizon_margin_deg, 2),
            },
            expected_clear_totality_s: round(found.numbers.expected_clear_totality_s(), 2),
            sun_azimuth_deg: rounded(found.sun_azimuth_deg(), 3),
            size_ratio: rounded(found.local().size_ratio, 5),
            cloud: found.cloud.as_ref().map(CloudFigures::of),
        }
    }
}

impl CloudFigures {
    /// Those of an outlook.
    pub fn of(cloud: &CloudOutlook) -> CloudFigures {
        CloudFigures {
            cloud_fraction: rounded(cloud.cloud_fraction, 4),
            clear_line_of_sight: rounded(cloud.clear_line_of_sight, 4),
            low_95: rounded(cloud.low_95, 4),
            high_95: rounded(cloud.high_95, 4),
        }
    }
}
