//! Cloud figures as archives and people hand them out: one file per format, recognised by content, one table for all.
//!
//! | file | reads |
//! | --- | --- |
//! | `recognise.rs` | which format a file is, from its first bytes; what cannot be read is refused with the way out |
//! | `plain.rs` | CSV: our own columns, and the archives' names for them |
//! | `netcdf.rs` | NetCDF with CF conventions: which variable, which axes, which unit |
//! | `array_file.rs` | the bytes behind it: the only file that knows the NetCDF library |
//! | `cf_time.rs` | CF time axes and calendars |
//! | `geotiff.rs`, `matrix.rs` | pictures of a month: GeoTIFF, CSV of latitudes down and longitudes across |
//! | `isd_lite.rs`, `ghcnh.rs`, `metar.rs` | station reports; `stations.rs` what they share |
//! | `zip.rs` | several files in one, as the stores send them |
//! | `packed.rs` | many records of many grid points in little room |
//! | `holdings.rs` | what a table holds: span, hours, years, gaps |
//!
//! [`read`] takes one file, several, or a folder. [`Wanted`] says what of it is wanted: archives are larger than memory.

mod array_file;
mod cf_time;
mod geotiff;
mod ghcnh;
pub mod holdings;
mod isd_lite;
mod matrix;
mod metar;
mod monthly;
mod netcdf;
mod netcdf_layout;
mod netcdf_variables;
pub mod packed;
mod pictures;
mod plain;
mod plain_columns;
mod read;
mod recognise;
mod stations;
pub mod wanted;

use std::borrow::Cow;
use std::path::Path;

use self::holdings::Holdings;
use self::packed::PackedCover;
pub use self::read::{needs_wanted, read};
pub use self::wanted::{Wanted, WantedPlace};
use super::day_records::DayCover;
use crate::fault::Faults;
use crate::land::half_turn;
use crate::outlook::line_of_sight::CoverKind;

/// The unit that a cloud amount is given in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CoverUnit {
    /// 0 to 1.
    #[default]
    Fraction,
    /// 0 to 100.
    Percent,
    /// Eighths of the sky, 0 to 8 (WMO).
    Okta,
}

impl CoverUnit {
    /// The unit of that name.
    pub fn from_name(name: &str) -> Option<CoverUnit> {
        match name.trim().to_ascii_lowercase().as_str() {
            "fraction" | "1" => Some(CoverUnit::Fraction),
            "percent" | "%" => Some(CoverUnit::Percent),
            "okta" | "oktas" => Some(CoverUnit::Okta),
            _ => None,
        }
    }

    /// Its name in files.
    pub fn name(self) -> &'static str {
        match self {
            CoverUnit::Fraction => "fraction",
            CoverUnit::Percent => "percent",
            CoverUnit::Okta => "okta",
        }
    }

    /// The figure of a sky wholly covered.
    pub fn full(self) -> f64 {
        match self {
            CoverUnit::Fraction => 1.0,
            CoverUnit::Percent => 100.0,
            CoverUnit::Okta => 8.0,
        }
    }
}

/// A place that cloud figures belong to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CloudNode {
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east, in (−180, 180].
    pub lon_deg: f64,
    /// The station's name, where the file gives one.
    pub name: Option<String>,
    /// How many years the figures stand on, where the file says so.
    pub years: Option<u32>,
}

/// Low, middle and high cloud apart.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Layers {
    /// Low cloud, 0 to 1.
    pub low: f32,
    /// Middle cloud, 0 to 1.
    pub middle: f32,
    /// High cloud, 0 to 1.
    pub high: f32,
}

impl Layers {
    /// The three, lowest first.
    pub fn each(self) -> [f64; 3] {
        [self.low, self.middle, self.high].map(f64::from)
    }

    /// From three covers, lowest first.
    pub fn of(covers: [f64; 3]) -> Layers {
        let [low, middle, high] = covers.map(|c| c as f32);
        Layers { low, middle, high }
    }
}

/// The mean cloud cover of a month, at one hour or over the day.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MonthlyCover {
    /// Month, 1 to 12.
    pub month: u8,
    /// Hour of local mean solar time, 0 to below 24; `None` for the whole day.
    pub hour: Option<f64>,
    /// Cover, 0 to 1.
    pub cover: f64,
    /// Its layers, where the archive has them.
    pub layers: Option<Layers>,
    /// How many years' months the mean was taken over here, and their standard deviation; where the archive has the years.
    pub years: Option<YearSpread>,
}

/// The years behind a mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearSpread {
    /// How many.
    pub years: u32,
    /// Standard deviation of cover from year to year.
    pub deviation: f64,
}

/// The figures themselves, one list for each node, each list sorted by time.
#[derive(Clone, Debug, PartialEq)]
pub enum CloudSeries {
    /// Monthly means.
    Means(Vec<Vec<MonthlyCover>>),
    /// Records of single days.
    Days(Vec<Vec<DayCover>>),
    /// Records of single days of a grid, packed.
    Packed(Vec<Vec<PackedCover>>),
}

impl Default for CloudSeries {
    fn default() -> CloudSeries {
        CloudSeries::Days(Vec::new())
    }
}

impl CloudSeries {
    /// Whether these are records of single days.
    pub fn is_days(&self) -> bool {
        !matches!(self, CloudSeries::Means(_))
    }
}

/// Where the points of a regular grid lie, when the archive says so: not all of them need to have been read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GridShape {
    /// Latitude of the southernmost row, degrees.
    pub lat0_deg: f64,
    /// Degrees from row to row.
    pub lat_step_deg: f64,
    /// Number of rows.
    pub rows: usize,
    /// Longitude of the westernmost column, degrees.
    pub lon0_deg: f64,
    /// Degrees from column to column.
    pub lon_step_deg: f64,
    /// Number of columns.
    pub columns: usize,
}

/// A cloud file as read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CloudTable {
    /// The file's name.
    pub file: String,
    /// Its format, in the trade's words.
    pub format: String,
    /// The variable, column or field that the figures come from, as the file names it.
    pub variable: String,
    /// The unit as the file gives it; empty where it gives none.
    pub stated_unit: String,
    /// The places.
    pub nodes: Vec<CloudNode>,
    /// The figures.
    pub series: CloudSeries,
    /// What kind of amount it is, where the file says so.
    pub kind: Option<CoverKind>,
    /// What told the kind, in words; empty where nothing did.
    pub kind_by: String,
    /// The unit that the file gives.
    pub unit: CoverUnit,
    /// Where the grid's points lie, where the archive has a grid.
    pub grid: Option<GridShape>,
    /// What the whole archive holds, where less was read.
    pub held: Option<Holdings>,
    /// What was dealt with on the way, a sentence each.
    pub notes: Vec<String>,
    /// What the file says about its source; the texts that occur, at most five.
    pub sources: Vec<String>,
    /// Whether any `source` says "invented".
    pub invented: bool,
    /// Columns that mean nothing here.
    pub extra_columns: Vec<String>,
    /// Rows that hold no figure although the format allows them (EPW hours without sky cover).
    pub missing: usize,
}

impl CloudTable {
    /// Reads a cloud CSV of any layout.
    ///
    /// # Errors
    /// Every wrong row and every missing column.
    pub fn open(path: &Path) -> Result<CloudTable, Faults> {
        CloudTable::from_bytes(&path.display().to_string(), super::table::read_bytes(path)?)
    }

    /// Reads cloud CSV text; `file` is the name used in messages.
    ///
    /// # Errors
    /// As [`CloudTable::open`].
    pub fn from_bytes(file: &str, bytes: Vec<u8>) -> Result<CloudTable, Faults> {
        plain::from_bytes(file, bytes, &Wanted::default())
    }

    /// The day records of a place; none where the table holds means.
    pub fn days(&self, node: usize) -> Cow<'_, [DayCover]> {
        match &self.series {
            CloudSeries::Means(_) => Cow::Borrowed(&[]),
            CloudSeries::Days(days) => Cow::Borrowed(days.get(node).map_or(&[], Vec::as_slice)),
            CloudSeries::Packed(packed) => {
                let lon_deg = self.nodes.get(node).map_or(0.0, |n| n.lon_deg);
                Cow::Owned(packed.get(node).into_iter().flatten().filter_map(|p| p.unpack(lon_deg)).collect())
            }
        }
    }

    /// Every cover of the table.
    pub fn covers(&self) -> Box<dyn Iterator<Item = f64> + '_> {
        match &self.series {
            CloudSeries::Means(m) => Box::new(m.iter().flatten().map(|m| m.cover)),
            CloudSeries::Days(d) => Box::new(d.iter().flatten().map(|d| d.cover)),
            CloudSeries::Packed(p) => Box::new(p.iter().flatten().map(|p| p.cover())),
        }
    }

    /// Whether any figure has an hour.
    pub fn has_hours(&self) -> bool {
        match &self.series {
            CloudSeries::Means(m) => m.iter().flatten().any(|m| m.hour.is_some()),
            CloudSeries::Days(d) => d.iter().flatten().any(|d| d.hour.is_some()),
            CloudSeries::Packed(p) => p.iter().flatten().any(PackedCover::has_hour),
        }
    }

    /// Whether any figure has its layers.
    pub fn has_layers(&self) -> bool {
        match &self.series {
            CloudSeries::Means(m) => m.iter().flatten().any(|m| m.layers.is_some()),
            CloudSeries::Days(d) => d.iter().flatten().any(|d| d.layers.is_some()),
            CloudSeries::Packed(p) => p.iter().flatten().any(|p| p.layers().is_some()),
        }
    }
}

/// A longitude in (−180, 180].
pub fn wrapped(lon_deg: f64) -> f64 {
    let lon = half_turn(lon_deg);
    if lon == -180.0 { 180.0 } else { lon }
}

/// A place in words.
pub fn place_words(lat_deg: f64, lon_deg: f64) -> String {
    let (ns, ew) = (if lat_deg < 0.0 { "S" } else { "N" }, if lon_deg < 0.0 { "W" } else { "E" });
    format!("{:.2}° {ns} {:.2}° {ew}", lat_deg.abs(), lon_deg.abs())
}
