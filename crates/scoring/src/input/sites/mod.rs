//! Candidates as people have them: tables, GeoJSON points, KML and KMZ placemarks, GPX waypoints, told apart by their content.
//!
//! Whatever the format, a candidate has a name and a place, a height and a time zone where they are given, and further columns, kept
//! and usable as criteria.

mod gather;
mod geojson;
mod gpx;
mod kml;
mod long_table;
mod table;
mod towns;
mod xml;

use std::path::Path;

use chrono_tz::Tz;

use super::table::read_bytes;
use super::text::text_of;
use crate::fault::{Fault, Faults};

pub(crate) use long_table::{Asked, LongTable, Survey};
pub use towns::TownsKeys;

/// A cell of a further column.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// A finite number.
    Number(f64),
    /// Anything else.
    Text(String),
}

/// Where in its file a candidate stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spot {
    /// On a line, counted from 1.
    Line(u64),
    /// A feature, counted from 1.
    Feature(u64),
    /// In the program's own table of towns.
    Towns,
}

impl Spot {
    /// A fault of what a file says here; `column` names the column or property, empty for the whole.
    pub fn fault(self, file: &str, column: &str, wrong: impl Into<String>, right: impl Into<String>) -> Fault {
        let mut fault = Fault::of_file(file, wrong, right);
        fault.column = (!column.is_empty()).then(|| column.to_owned());
        match self {
            Spot::Line(line) => fault.line = Some(line),
            Spot::Feature(feature) => {
                fault.wrong = format!("feature {feature}: {}", fault.wrong);
            }
            Spot::Towns => {}
        }
        fault
    }
}

impl std::fmt::Display for Spot {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Spot::Line(line) => write!(f, "line {line}"),
            Spot::Feature(feature) => write!(f, "feature {feature}"),
            Spot::Towns => write!(f, "the table of towns"),
        }
    }
}

/// One candidate as given.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteRow {
    /// Name, unique in the file: places that share one are told apart by their region or a number.
    pub name: String,
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east, in (−180, 180].
    pub lon_deg: f64,
    /// Height above sea level, metres, where given.
    pub elevation_m: Option<f64>,
    /// Civil time zone, where given.
    pub zone: Option<Tz>,
    /// Cells of [`Sites::columns`].
    pub cells: Vec<Cell>,
    /// Where in the file it stands.
    pub spot: Spot,
}

impl SiteRow {
    /// What is wrong where a further column holds a word and the plan wants numbers, for the key that says so.
    pub(crate) fn word_for_a_number(&self, file: &str, (number, name): (usize, &str), key: &str) -> Option<Fault> {
        let Cell::Text(text) = &self.cells[number] else { return None };
        let wrong = format!("\"{text}\" is not a number, and the plan uses the column in {key}");
        Some(self.spot.fault(file, name, wrong, "give a number or leave it empty"))
    }
}

/// All candidates of a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sites {
    /// File name as given.
    pub file: String,
    /// Names of the further columns.
    pub columns: Vec<String>,
    /// The candidates in the order of the file.
    pub rows: Vec<SiteRow>,
}

/// What would be right where a file is too long, for a plan.
pub(crate) const TOO_LONG: &str = "raise sites.limit in the plan (a report takes 200000 at most; --format csv without --out takes a table of \
     millions), or let [search] look over the path instead";

impl Sites {
    /// Reads a file of candidates; `limit` is the most accepted.
    ///
    /// # Errors
    /// Every fault of the file.
    pub fn read(path: &Path, limit: u64) -> Result<Sites, Faults> {
        Sites::from_bytes(&path.display().to_string(), read_bytes(path)?, limit)
    }

    /// Reads candidates from the content of a file; `file` names it in messages.
    ///
    /// # Errors
    /// Every fault of the content.
    pub fn from_bytes(file: &str, bytes: Vec<u8>, limit: u64) -> Result<Sites, Faults> {
        if bytes.starts_with(b"PK\x03\x04") {
            return kml::read(file, &kml::of_archive(file, &bytes)?, limit);
        }
        let bytes = text_of(file, bytes)?;
        let text = String::from_utf8(bytes).map_err(|_| Fault::of_file(file, "is not text", "save it as UTF-8"))?;
        match text.trim_start_matches('\u{feff}').trim_start().chars().next() {
            Some('{') => geojson::read(file, &text, limit),
            Some('<') if xml::root_is(&text, "kml") => kml::read(file, &text, limit),
            Some('<') if xml::root_is(&text, "gpx") => gpx::read(file, &text, limit),
            Some('<') => Err(xml::unknown(file, &text).into()),
            _ => table::read(file, text.into_bytes(), limit),
        }
    }

    /// Index of a further column.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|c| c == name)
    }
}
