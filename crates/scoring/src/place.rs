//! A place as it is asked about: where it lies, how high, by which clocks, and what its table says besides.

use std::collections::BTreeMap;
use std::fmt;

use chrono_tz::Tz;
use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::Site;

use crate::input::sites::SiteRow;
use crate::outlook::skyline::Horizons;
use crate::zone::zone_at;

/// A place before it is looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Name, unique among candidates; empty for a place that was asked about without one.
    pub name: String,
    /// Where it is, at sea level until its height is known.
    pub site: Site,
    /// Where the height comes from.
    pub height: Height,
    /// Civil time zone, where known.
    pub zone: Option<Tz>,
    /// Numeric columns of the sites table.
    pub columns: BTreeMap<String, f64>,
    /// Text columns of the sites table.
    pub texts: BTreeMap<String, String>,
    /// Whether the search found it.
    pub found_by_search: bool,
}

/// Who says how high a place lies; displayed in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Height {
    /// Whoever gave the place.
    Given,
    /// The terrain, by its source.
    Terrain(String),
    /// Nobody.
    Unknown,
    /// The terrain was asked in vain, and why.
    Gap(String),
}

impl Height {
    /// Whether it is known: sea level that was taken for want of anything else is not.
    pub fn is_known(&self) -> bool {
        matches!(self, Height::Given | Height::Terrain(_))
    }
}

impl fmt::Display for Height {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Height::Given => f.write_str("given with the site"),
            Height::Terrain(source) => f.write_str(source),
            Height::Unknown => f.write_str("sea level taken: no elevation is given"),
            Height::Gap(why) => write!(f, "sea level taken: {why}"),
        }
    }
}

impl Place {
    /// A place with what is given of it: metres above sea level, and the zone.
    pub fn new(name: impl Into<String>, point: GeoPoint, elevation_m: Option<f64>, zone: Option<Tz>) -> Place {
        Place {
            name: name.into(),
            site: Site { elevation_m: elevation_m.unwrap_or(0.0), ..Site::at_sea_level(point) },
            height: if elevation_m.is_some() { Height::Given } else { Height::Unknown },
            zone,
            columns: BTreeMap::new(),
            texts: BTreeMap::new(),
            found_by_search: false,
        }
    }

    /// The place of a table's row, without its further columns.
    pub fn of(row: &SiteRow) -> Place {
        let point = GeoPoint { lat_deg: row.lat_deg, lon_deg: row.lon_deg };
        Place::new(row.name.as_str(), point, row.elevation_m, row.zone)
    }

    /// The place with what was not given looked up: its height in the terrain, its zone on the map.
    #[must_use]
    pub fn looked_up(mut self, horizons: &Horizons) -> Place {
        if !self.height.is_known() {
            match horizons.site_elevation(self.site.lat_deg, self.site.lon_deg) {
                Ok(Some((metres, source))) => {
                    (self.site.elevation_m, self.height) = (metres, Height::Terrain(source));
                }
                Ok(None) => {}
                Err(gap) => self.height = Height::Gap(gap.to_string()),
            }
        }
        self.zone = self.zone.or_else(|| zone_at(self.site.point()));
        self
    }

    /// Its name, where it has one.
    pub fn given_name(&self) -> Option<&str> {
        Some(self.name.as_str()).filter(|name| !name.is_empty())
    }

    /// The zone of its clocks: UTC where none is known.
    pub fn clock_zone(&self) -> Tz {
        self.zone.unwrap_or(Tz::UTC)
    }
}
