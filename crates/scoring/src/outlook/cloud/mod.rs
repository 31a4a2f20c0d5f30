//! Clear sky: the chance of seeing the Sun from a place on a day of the year at an hour, and how sure that chance is.
//!
//! [`CloudSource`] holds what a cloud file says; [`CloudSource::season`] fixes the day of the year; [`CloudSeason::figure`] is
//! the plain-number answer for grids of millions of points and [`CloudSeason::outlook`] the full one with its explanation.
//!
//! **Space**: bilinear on a regular grid (across the date line too), inverse-distance-squared between stations within a reach,
//! never beyond it. **Season**: day records within 15 days of the date in any year; monthly means between mid-months. **Hour**:
//! local solar time. **Line of sight**: [`super::line_of_sight`], layer by layer where the archive has layers
//! ([`super::cloud_layers`]). **Uncertainty**: a Beta distribution of the chance, from the years themselves where there are years,
//! wider with distance and with the coarseness of a grid (`evidence.rs`). A place without figures gets none.

mod evidence;
mod geometry;
mod notes;
mod sample;
mod season;

#[cfg(test)]
mod tests;

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock, RwLock};

use chrono::NaiveDate;
use statrs::distribution::{Beta, ContinuousCDF};

pub use self::geometry::DEFAULT_REACH_KM;
use self::geometry::{Blend, Geometry};
pub use self::season::CloudSeason;
use super::cloud_layers::{LayerModel, LayeredChance};
use super::line_of_sight::{CoverKind, ExpectedTable, LineOfSight};
use crate::fault::{Fault, Faults};
use crate::input::clouds::{self, CloudTable, CoverUnit, Wanted};

/// How cloud figures are to be used; every choice is named in the outputs.
#[derive(Clone, Debug, PartialEq)]
pub struct CloudOptions {
    /// What kind of amount the file gives, where it does not say so itself.
    pub kind: Option<CoverKind>,
    /// How far a station's figures may be carried, km.
    pub reach_km: f64,
    /// Day records this many days before and after the date count as its season.
    pub half_window_days: u32,
    /// Height of clouds over their diameter, for grids.
    pub height_to_diameter: f64,
    /// Where only a mean is given: the sum of the parameters of the Beta distribution of cover about it.
    pub cover_spread: f64,
    /// Where only a mean is given: the number of independent days its chance is trusted as.
    pub mean_strength_days: f64,
    /// Shapes and transparency of low, middle and high cloud, where the archive has them apart.
    pub layers: LayerModel,
    /// The file is a forecast: only records of the very day count.
    pub forecast: bool,
}

impl Default for CloudOptions {
    /// Reach 150 km, ±15 days, cloud height/diameter 1, cover spread 1, a mean worth 20 days, climatology.
    ///
    /// The spread is not calibrated: hourly observed cover of one station's weather year (Amsterdam, daytime, by month) had
    /// 0.8 to 1.9, median 1.1. Reach and strength are common practice, no source.
    fn default() -> CloudOptions {
        CloudOptions {
            kind: None,
            reach_km: DEFAULT_REACH_KM,
            half_window_days: 15,
            height_to_diameter: 1.0,
            cover_spread: 1.0,
            mean_strength_days: 20.0,
            layers: LayerModel::default(),
            forecast: false,
        }
    }
}

/// What is asked of a cloud source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CloudQuery<'a> {
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east.
    pub lon_deg: f64,
    /// Name of the site: a station of that name within reach is used alone.
    pub name: Option<&'a str>,
    /// Month, 1 to 12.
    pub month: u32,
    /// Day of the month.
    pub day: u32,
    /// Hour of local mean solar time.
    pub local_solar_hour: f64,
    /// Altitude of the Sun, degrees.
    pub sun_altitude_deg: f64,
}

/// The chance of clear sky in plain numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CloudFigure {
    /// Mean cloud cover, 0 to 1.
    pub cloud_fraction: f64,
    /// Chance of a cloud-free line of sight to the Sun, 0 to 1: the mean of `beta`.
    pub clear_line_of_sight: f64,
    /// The two parameters of the Beta distribution of that chance.
    pub beta: (f64, f64),
    /// Number of independent days that stand behind the chance.
    pub effective_days: f64,
}

/// The chance of clear sky and what it rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct CloudOutlook {
    /// Mean cloud cover, 0 to 1.
    pub cloud_fraction: f64,
    /// Chance of a cloud-free line of sight to the Sun, 0 to 1.
    pub clear_line_of_sight: f64,
    /// The chance if the sky always had its mean cover: the number that a mean alone would suggest.
    pub clear_at_mean_cover: f64,
    /// Lower end of the central 95 % of the chance's distribution.
    pub low_95: f64,
    /// Upper end of it.
    pub high_95: f64,
    /// The two parameters of the Beta distribution of the chance.
    pub beta: (f64, f64),
    /// Number of independent days that stand behind the chance.
    pub effective_days: f64,
    /// Years of records behind it, where known.
    pub years: Option<u32>,
    /// Observed sky cover or grid cloud fraction.
    pub kind: CoverKind,
    /// What the layers leave, where the archive has them apart.
    pub layers: Option<LayeredChance>,
    /// Distance to the nearest place with figures, km.
    pub nearest_km: f64,
    /// The figures are invented: not for planning.
    pub invented: bool,
    /// The figures are a forecast, not a climatology.
    pub forecast: bool,
    /// The file and what it says about its source.
    pub source: String,
    /// How the figure came about and how far it can be trusted, a sentence each.
    pub notes: Vec<String>,
}

/// The cover of one day at the hour asked for, and the chance of a clear line of sight under it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayRecord {
    /// The day.
    pub date: NaiveDate,
    /// Cover, 0 to 1.
    pub cover: f64,
    /// Chance of a cloud-free line of sight at that cover.
    pub clear: f64,
}

/// Why a cloud source has nothing to say about a place, a day or an hour.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CloudGap {
    /// No station within reach.
    #[error("no cloud figures within {reach_km:.0} km: the nearest are those of {nearest}, {distance_km:.0} km away")]
    TooFar {
        /// Name or coordinates of the nearest place.
        nearest: String,
        /// Distance to it, km.
        distance_km: f64,
        /// The reach, km.
        reach_km: f64,
    },
    /// Outside the grid by more than half a step.
    #[error("outside the cloud grid, whose nearest point is {nearest}, {distance_km:.0} km away")]
    OutsideGrid {
        /// Coordinates of the nearest point.
        nearest: String,
        /// Distance to it, km.
        distance_km: f64,
    },
    /// The grid has no figure at the points around the place.
    #[error("the cloud grid has no figures around this place (point {missing} is missing)")]
    Hole {
        /// Coordinates of a missing point.
        missing: String,
    },
    /// Nothing for this time of the year.
    #[error("no cloud figures for {wanted} at {place}")]
    Season {
        /// The day or month asked for.
        wanted: String,
        /// Name or coordinates of the place.
        place: String,
    },
    /// Nothing near the hour.
    #[error("no cloud figures within 3 hours of {hour:.1} h local solar time at {place}")]
    Hour {
        /// The hour asked for.
        hour: f64,
        /// Name or coordinates of the place.
        place: String,
    },
    /// Nobody tells how the cover was seen.
    #[error("the file does not tell whether its cloud was seen from the ground or from above: name the kind")]
    Kind,
    /// The question itself is not one: a coordinate or hour that is not finite, or a day that does not exist.
    #[error("the place, day or hour asked for does not exist")]
    Question,
}

/// A cloud file ready to be asked.
#[derive(Debug)]
pub struct CloudSource {
    table: CloudTable,
    options: CloudOptions,
    /// How the cover was seen; `None` where nobody tells, and then nothing is answered.
    kind: Option<CoverKind>,
    model: LineOfSight,
    geometry: Geometry,
    has_hours: bool,
    has_layers: bool,
    /// What makes the stated unit of the figures doubtful, in words.
    doubt: Option<String>,
    expected: OnceLock<ExpectedTable>,
    /// The season's days by month, day, node and hour, kept for the next place that asks.
    seasons: RwLock<Seasons>,
}

/// Days with the year of their season, by month, day, node and hour.
type Seasons = HashMap<(u32, u32, usize, usize), Arc<Vec<(sample::Day, i32)>>>;

impl CloudSource {
    /// Reads cloud figures of any format, a file or a folder of them, with the default options.
    ///
    /// # Errors
    /// Every fault of the files.
    pub fn read(path: &Path) -> Result<CloudSource, Faults> {
        CloudSource::read_with(path, CloudOptions::default())
    }

    /// As [`CloudSource::read`], with options.
    ///
    /// # Errors
    /// Every fault of the files.
    pub fn read_with(path: &Path, options: CloudOptions) -> Result<CloudSource, Faults> {
        CloudSource::open(&[path.to_owned()], options, &Wanted::default())
    }

    /// Reads what is wanted of one or more files of any format.
    ///
    /// # Errors
    /// Every fault of the files; an archive that does not tell the kind of its figures, when the options do not either.
    pub fn open(paths: &[PathBuf], options: CloudOptions, wanted: &Wanted) -> Result<CloudSource, Faults> {
        let table = clouds::read(paths, wanted)?;
        ask_for_kind(&table, &options)?;
        Ok(CloudSource::from_table(table, options))
    }

    /// A source from a table already read.
    ///
    /// What the table tells of the kind comes before the options. Where neither does, nothing is guessed: the source can be
    /// described, but every question meets [`CloudGap::Kind`].
    pub fn from_table(table: CloudTable, options: CloudOptions) -> CloudSource {
        let geometry = Geometry::of(&table.nodes, table.grid);
        let kind = table.kind.or(options.kind);
        let model = LineOfSight::for_kind(kind.unwrap_or(CoverKind::Grid), options.height_to_diameter);
        let has_hours = table.has_hours();
        // What an observer reports for the dome of the sky holds the sides of clouds already.
        let has_layers = kind == Some(CoverKind::Grid) && table.has_layers();
        let doubt = unit_doubt(&table);
        CloudSource {
            table,
            options,
            kind,
            model,
            geometry,
            has_hours,
            has_layers,
            doubt,
            expected: OnceLock::new(),
            seasons: RwLock::default(),
        }
    }

    /// Whether the file says that its figures are invented.
    pub fn invented(&self) -> bool {
        self.table.invented
    }

    /// What makes the stated unit of the figures doubtful, in words; `None` where nothing does.
    pub fn doubt(&self) -> Option<&str> {
        self.doubt.as_deref()
    }

    /// What kind of cloud amount the figures are; `None` where neither file nor options tell.
    pub fn kind(&self) -> Option<CoverKind> {
        self.kind
    }

    /// Whether the figures have low, middle and high cloud apart, and they are used.
    pub fn has_layers(&self) -> bool {
        self.has_layers
    }

    /// Whether the file holds records of single days.
    pub fn has_day_records(&self) -> bool {
        self.table.series.is_days()
    }

    /// The options it was opened with.
    pub fn options(&self) -> &CloudOptions {
        &self.options
    }

    /// Coordinates and weights of the places that speak for a place, nearest in the file's order; for writing them down.
    ///
    /// # Errors
    /// The gap that keeps the source from answering.
    pub fn speakers(&self, lat_deg: f64, lon_deg: f64) -> Result<Vec<usize>, CloudGap> {
        Ok(self.blend(lat_deg, lon_deg, None)?.nodes().map(|(n, _)| n).collect())
    }

    /// Side of a cell of the grid at a latitude, km; `None` for stations.
    fn cell_km(&self, lat_deg: f64) -> Option<f64> {
        self.geometry.cell_km(lat_deg)
    }

    /// The table behind the source.
    pub fn table(&self) -> &CloudTable {
        &self.table
    }

    /// The file's name and what it says about its source.
    pub fn describe(&self) -> String {
        let file = Path::new(&self.table.file).file_name().map(|n| n.to_string_lossy().into_owned());
        let mut text = file.unwrap_or_else(|| self.table.file.clone());
        if !self.table.sources.is_empty() {
            text += &format!(" ({})", self.table.sources.join("; "));
        }
        if self.table.invented && !text.contains("INVENTED") {
            text += " — INVENTED figures";
        }
        text
    }

    /// The source at a day of the year.
    ///
    /// # Errors
    /// [`CloudGap::Question`] for a day that does not exist.
    pub fn season(&self, month: u32, day: u32) -> Result<CloudSeason<'_>, CloudGap> {
        CloudSeason::new(self, month, day)
    }

    /// The outlook for one question. For many places on one day, keep a [`CloudSource::season`].
    ///
    /// # Errors
    /// The gap that keeps the source from answering.
    pub fn outlook(&self, query: &CloudQuery<'_>) -> Result<CloudOutlook, CloudGap> {
        self.season(query.month, query.day)?.outlook(query)
    }

    /// The day records of the station of that name, or of the nearest one within reach; all of them, the one nearest to noon
    /// where a day has several. `None` where there are no day records. `clear` is for the Sun at 90°.
    pub fn records(&self, lat_deg: f64, lon_deg: f64, name: Option<&str>) -> Option<Vec<DayRecord>> {
        if !self.has_day_records() {
            return None;
        }
        let blend = self.blend(lat_deg, lon_deg, name).ok()?;
        let days = self.table.days(blend.heaviest());
        let sample = sample::one_a_day(&days, 12, f64::INFINITY);
        let clear = self.day_chance(90.0);
        let record = |d: sample::Day| DayRecord { date: d.date, cover: d.cover, clear: clear(&d) };
        let mut records: Vec<DayRecord> = sample.map(record).collect();
        records.dedup_by_key(|r| r.date);
        Some(records)
    }

    fn blend(&self, lat_deg: f64, lon_deg: f64, name: Option<&str>) -> Result<Blend, CloudGap> {
        self.geometry.blend(&self.table.nodes, lat_deg, lon_deg, name, self.options.reach_km)
    }

    /// The chance under a day's sky, for many days with the Sun at one altitude, in degrees.
    fn day_chance(&self, sun_altitude_deg: f64) -> impl Fn(&sample::Day) -> f64 + '_ {
        let clear = self.model.clear_towards(sun_altitude_deg);
        move |day| match day.layers.filter(|_| self.has_layers) {
            Some(layers) => self.options.layers.chance(day.cover, layers, sun_altitude_deg).clear,
            None => clear(day.cover),
        }
    }

    fn label(&self, node: usize) -> String {
        geometry::label(&self.table.nodes[node])
    }
}

/// Fewest figures of which it would be odd if all of them were next to nothing.
const MANY_FIGURES: usize = 24;

/// Whether the figures look as if they stood in another unit than the file says: many of them, and none above what the
/// whole sky would be in the smaller unit. A real file may be like that, so it is a warning.
fn unit_doubt(table: &CloudTable) -> Option<String> {
    // An archive that states its unit in so many words is believed.
    if !table.stated_unit.is_empty() && table.format != "CSV" {
        return None;
    }
    let covers: Vec<f64> = table.covers().collect();
    let full = table.unit.full();
    let highest = covers.iter().copied().fold(0.0, f64::max) * full;
    if covers.len() < MANY_FIGURES || highest <= 0.0 {
        return None;
    }
    let smaller =
        [CoverUnit::Fraction, CoverUnit::Okta].into_iter().find(|u| u.full() < full && highest <= u.full())?;
    // Without its folders: outputs do not depend on where a file lies.
    let file = Path::new(&table.file).file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    Some(format!(
        "No figure of {file} is above {highest} {}: are they {} rather?",
        table.unit.name(),
        match smaller {
            CoverUnit::Fraction => "fractions from 0 to 1",
            _ => "oktas from 0 to 8",
        }
    ))
}

/// Refuses figures whose kind nobody tells: an observer's sky cover and a share of area seen from above give different chances,
/// and the shape of a file does not tell which it holds.
pub(super) fn ask_for_kind(table: &CloudTable, options: &CloudOptions) -> Result<(), Faults> {
    if options.kind.or(table.kind).is_some() {
        return Ok(());
    }
    let wrong = format!("does not tell whether {} is cloud seen from the ground or from above", table.variable);
    let column = if table.format == "CSV" { "a column kind, " } else { "" };
    let right = format!(
        "say so, observed (an observer's sky cover) or grid (share of area seen from above): {column}--kind, or in a plan \
         [clouds] kind"
    );
    Err(Fault::of_file(&table.file, wrong, right).into())
}

/// The central 95 % of a Beta distribution; the whole range for parameters that make none.
///
/// ```
/// // SciPy 1.17, beta.ppf([0.025, 0.975], 7.5, 3.5)
/// let (low, high) = noonfall_scoring::outlook::cloud::interval_95((7.5, 3.5));
/// assert!((low - 0.3942).abs() < 1e-4 && (high - 0.9073).abs() < 1e-4);
/// ```
pub fn interval_95(beta: (f64, f64)) -> (f64, f64) {
    quantile(beta, 0.025).zip(quantile(beta, 0.975)).unwrap_or((0.0, 1.0))
}

/// The value that a Beta-distributed chance stays below with probability `p`; `None` for parameters that make none.
pub fn quantile(beta: (f64, f64), p: f64) -> Option<f64> {
    let beta = Beta::new(beta.0, beta.1).ok()?;
    let value = (0.0..=1.0).contains(&p).then(|| beta.inverse_cdf(p))?;
    value.is_finite().then(|| value.clamp(0.0, 1.0))
}
