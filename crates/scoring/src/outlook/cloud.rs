//! Clear sky: the chance of seeing the Sun from a place on a day of the year at an hour, and how sure that chance is.
//!
//! [`CloudSource`] holds what a cloud file says; [`CloudSource::season`] fixes the day of the year; [`CloudSeason::figure`] is
//! the plain-number answer for grids of millions of points and [`CloudSeason::outlook`] the full one with its explanation.
//!
//! **Space**: bilinear on a regular grid (across the date line too), inverse-distance-squared between stations within a reach,
//! never beyond it. **Season**: day records within 15 days of the date in any year; monthly means between mid-months. **Hour**:
//! local solar time. **Line of sight**: [`super::line_of_sight`]. **Uncertainty**: a Beta distribution of the chance.

mod geometry;
mod sample;

use std::path::Path;
use std::sync::OnceLock;

use chrono::NaiveDate;
use statrs::distribution::{Beta, ContinuousCDF};

pub use self::geometry::DEFAULT_REACH_KM;
use self::geometry::{Blend, Geometry};
use self::sample::DaySample;
use super::line_of_sight::{CoverKind, ExpectedTable, LOWEST_ALTITUDE_DEG, LineOfSight};
use crate::fault::{Fault, Faults};
use crate::input::clouds::{CloudSeries, CloudTable, CoverUnit, MonthlyCover};
use crate::input::day_records::days_from;
use crate::input::epw;

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
            forecast: false,
        }
    }
}

/// Independent days that one year adds to a monthly mean of a stated number of years (common practice, no source: cloud
/// changes with the weather, every five or six days), and the most that a mean is trusted with.
const DAYS_A_YEAR: f64 = 5.0;
const MOST_DAYS_OF_A_MEAN: f64 = 100.0;

/// Hours between two monthly figures that may be bridged, and from a record to the hour asked for.
const BRIDGED_HOURS: f64 = 6.0;
const NEAR_HOURS: f64 = 3.0;

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
    /// The question itself is not one: a coordinate or hour that is not finite, or a day that does not exist.
    #[error("the place, day or hour asked for does not exist")]
    Question,
}

/// A cloud file ready to be asked.
#[derive(Debug)]
pub struct CloudSource {
    table: CloudTable,
    options: CloudOptions,
    kind: CoverKind,
    model: LineOfSight,
    geometry: Geometry,
    has_hours: bool,
    /// What makes the stated unit doubtful, in words.
    doubt: Option<String>,
    expected: OnceLock<ExpectedTable>,
}

impl CloudSource {
    /// Reads a cloud CSV, an EPW weather year (`.epw`) or a folder of weather years, with the default options.
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
        let is_epw = |p: &Path| p.extension().is_some_and(|e| e.eq_ignore_ascii_case("epw"));
        let table = if path.is_dir() {
            weather_years(path)?
        } else if is_epw(path) {
            epw::open(path)?
        } else {
            CloudTable::open(path)?
        };
        Ok(CloudSource::from_table(table, options))
    }

    /// A source from a table already read.
    pub fn from_table(table: CloudTable, options: CloudOptions) -> CloudSource {
        let geometry = Geometry::of(&table.nodes);
        let named = table.nodes.iter().any(|n| n.name.is_some());
        let kind = options.kind.or(table.kind).unwrap_or(match geometry {
            Geometry::Grid(_) => CoverKind::Grid,
            Geometry::Stations(_) if named || table.unit == CoverUnit::Okta => CoverKind::Observed,
            Geometry::Stations(_) => CoverKind::Grid,
        });
        let model = LineOfSight::for_kind(kind, options.height_to_diameter);
        let has_hours = match &table.series {
            CloudSeries::Means(m) => m.iter().flatten().any(|m| m.hour.is_some()),
            CloudSeries::Days(d) => d.iter().flatten().any(|d| d.hour.is_some()),
        };
        let doubt = unit_doubt(&table);
        CloudSource { table, options, kind, model, geometry, has_hours, doubt, expected: OnceLock::new() }
    }

    /// Whether the file says that its figures are invented.
    pub fn invented(&self) -> bool {
        self.table.invented
    }

    /// What makes the stated unit of the figures doubtful, in words; `None` where nothing does.
    pub fn doubt(&self) -> Option<&str> {
        self.doubt.as_deref()
    }

    /// What kind of cloud amount the figures are.
    pub fn kind(&self) -> CoverKind {
        self.kind
    }

    /// Whether the file holds records of single days.
    pub fn has_day_records(&self) -> bool {
        matches!(self.table.series, CloudSeries::Days(_))
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
        let CloudSeries::Days(days) = &self.table.series else { return None };
        let blend = self.blend(lat_deg, lon_deg, name).ok()?;
        let sample = sample::one_a_day(&days[blend.heaviest()], 12, f64::INFINITY);
        let record =
            |d: sample::Day| DayRecord { date: d.date, cover: d.cover, clear: self.model.clear(d.cover, 90.0) };
        Some(sample.map(record).collect())
    }

    fn blend(&self, lat_deg: f64, lon_deg: f64, name: Option<&str>) -> Result<Blend, CloudGap> {
        self.geometry.blend(&self.table.nodes, lat_deg, lon_deg, name, self.options.reach_km)
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
    let covers: Vec<f64> = match &table.series {
        CloudSeries::Means(means) => means.iter().flatten().map(|m| m.cover).collect(),
        CloudSeries::Days(days) => days.iter().flatten().map(|d| d.cover).collect(),
    };
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

/// All weather years of a folder as one set of stations.
fn weather_years(folder: &Path) -> Result<CloudTable, Faults> {
    let name = folder.display().to_string();
    let refuse = |wrong: String| Fault::of_file(&name, wrong, "give a cloud CSV, an EPW file or a folder of EPW files");
    let entries = std::fs::read_dir(folder).map_err(|e| refuse(format!("cannot be read ({e})")))?;
    let mut paths: Vec<_> = entries.filter_map(|e| e.ok().map(|e| e.path())).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e.eq_ignore_ascii_case("epw")));
    paths.sort();
    let mut faults = Faults::default();
    let mut all: Option<CloudTable> = None;
    for path in &paths {
        match (epw::open(path), &mut all) {
            (Err(found), _) => faults.0.extend(found.0),
            (Ok(table), None) => all = Some(CloudTable { file: name.clone(), ..table }),
            (Ok(table), Some(all)) => {
                let met = |n: &crate::input::clouds::CloudNode| {
                    table.nodes.iter().any(|m| m.lat_deg == n.lat_deg && m.lon_deg == n.lon_deg)
                };
                if all.nodes.iter().any(met) {
                    let wrong = format!("{} is a second year of one station", path.display());
                    faults.0.push(Fault::of_file(&name, wrong, "leave one file for each station"));
                    continue;
                }
                all.nodes.extend(table.nodes);
                if let (CloudSeries::Days(days), CloudSeries::Days(more)) = (&mut all.series, table.series) {
                    days.extend(more);
                }
                all.sources.extend(table.sources.into_iter().filter(|s| !all.sources.contains(s)).collect::<Vec<_>>());
                all.sources.truncate(5);
                all.invented |= table.invented;
                all.missing += table.missing;
            }
        }
    }
    match all {
        Some(all) => faults.or(all),
        None if faults.0.is_empty() => Err(refuse("holds no EPW file".to_owned()).into()),
        None => Err(faults),
    }
}

/// A cloud source at a day of the year.
#[derive(Debug)]
pub struct CloudSeason<'s> {
    source: &'s CloudSource,
    month: u32,
    day: u32,
    /// The two mid-months around the day and the weight of the second.
    months: (u8, u8, f64),
    /// Day records of the season, by node and whole hour (one hour where the file has none), filled when first asked for.
    samples: Vec<OnceLock<Option<DaySample>>>,
}

/// Whole hours kept apart when the file has hours.
const HOURS: usize = 24;

impl<'s> CloudSeason<'s> {
    fn new(source: &'s CloudSource, month: u32, day: u32) -> Result<CloudSeason<'s>, CloudGap> {
        let date = NaiveDate::from_ymd_opt(2000, month, day).ok_or(CloudGap::Question)?;
        let slots = match &source.table.series {
            CloudSeries::Means(_) => 0,
            CloudSeries::Days(days) => days.len() * if source.has_hours { HOURS } else { 1 },
        };
        let mut samples = Vec::new();
        samples.resize_with(slots, OnceLock::new);
        Ok(CloudSeason { source, month, day, months: mid_months(date), samples })
    }

    /// The chance in plain numbers, quick enough for grids. `month` and `day` of the query are those of the season.
    ///
    /// The expected chance of a mean comes from a table, within 5e-4 of [`CloudSeason::outlook`].
    ///
    /// # Errors
    /// The gap that keeps the source from answering.
    pub fn figure(&self, query: &CloudQuery<'_>) -> Result<CloudFigure, CloudGap> {
        let blend = self.ask(query)?;
        let source = self.source;
        self.answer(query, &blend, |cover| {
            let table = source.expected.get_or_init(|| ExpectedTable::new(source.model, source.options.cover_spread));
            table.expected(cover, query.sun_altitude_deg)
        })
    }

    /// The chance with its interval and its explanation.
    ///
    /// # Errors
    /// The gap that keeps the source from answering.
    pub fn outlook(&self, query: &CloudQuery<'_>) -> Result<CloudOutlook, CloudGap> {
        let blend = self.ask(query)?;
        let (source, altitude) = (self.source, query.sun_altitude_deg);
        let spread = source.options.cover_spread;
        let figure = self.answer(query, &blend, |cover| source.model.expected_from_mean(cover, spread, altitude))?;
        let (low_95, high_95) = interval_95(figure.beta);
        let years = blend.nodes().map(|(n, _)| self.years(n, query)).collect::<Option<Vec<u32>>>();
        let years = years.and_then(|y| y.into_iter().min());
        Ok(CloudOutlook {
            cloud_fraction: figure.cloud_fraction,
            clear_line_of_sight: figure.clear_line_of_sight,
            clear_at_mean_cover: source.model.clear(figure.cloud_fraction, altitude),
            low_95,
            high_95,
            beta: figure.beta,
            effective_days: figure.effective_days,
            years,
            kind: source.kind,
            nearest_km: blend.nearest_km,
            invented: source.table.invented,
            forecast: source.options.forecast,
            source: source.describe(),
            notes: self.notes(query, &blend, &figure, years),
        })
    }

    /// The day records of the season at the hour asked for, at the station of that name or the heaviest one near the place, with
    /// the chance under each day's sky: for chances joint between two places on common dates. `None` without day records.
    ///
    /// # Errors
    /// The gap that keeps the source from answering.
    pub fn records(&self, query: &CloudQuery<'_>) -> Result<Option<Vec<DayRecord>>, CloudGap> {
        let blend = self.ask(query)?;
        if !self.source.has_day_records() {
            return Ok(None);
        }
        let sample = self.sample(blend.heaviest(), query)?;
        let record = |d: &sample::Day| {
            let clear = self.source.model.clear(d.cover, query.sun_altitude_deg);
            DayRecord { date: d.date, cover: d.cover, clear }
        };
        Ok(Some(sample.days.iter().map(record).collect()))
    }

    fn ask(&self, query: &CloudQuery<'_>) -> Result<Blend, CloudGap> {
        let numbers = [query.lat_deg, query.lon_deg, query.local_solar_hour, query.sun_altitude_deg];
        if !numbers.iter().all(|n| n.is_finite()) || query.lat_deg.abs() > 90.0 {
            return Err(CloudGap::Question);
        }
        self.source.blend(query.lat_deg, query.lon_deg, query.name)
    }

    fn answer(
        &self,
        query: &CloudQuery<'_>,
        blend: &Blend,
        expected: impl Fn(f64) -> f64,
    ) -> Result<CloudFigure, CloudGap> {
        let source = self.source;
        match &source.table.series {
            CloudSeries::Means(means) => {
                let (mut cover, mut days) = (0.0, 0.0);
                for (node, weight) in blend.nodes() {
                    cover += weight * self.mean(node, &means[node], query.local_solar_hour)?;
                    days += weight * self.strength(node);
                }
                let cover = cover.clamp(0.0, 1.0);
                let clear = expected(cover);
                // Half a day on either side keeps the distribution proper at the ends.
                let beta = ((clear * days).max(0.5), ((1.0 - clear) * days).max(0.5));
                Ok(CloudFigure {
                    cloud_fraction: cover,
                    clear_line_of_sight: beta.0 / (beta.0 + beta.1),
                    beta,
                    effective_days: days,
                })
            }
            CloudSeries::Days(_) => {
                let (mut cover, mut clear, mut days) = (0.0, 0.0, 0.0);
                for (node, weight) in blend.nodes() {
                    let sample = self.sample(node, query)?;
                    cover += weight * sample.mean_cover;
                    let chance = source.model.expected(&sample.covers, query.sun_altitude_deg);
                    clear += weight * chance.unwrap_or(1.0 - sample.mean_cover);
                    days += weight
                        * if source.options.forecast {
                            source.options.mean_strength_days
                        } else {
                            sample.effective_days
                        };
                }
                let (cover, clear) = (cover.clamp(0.0, 1.0), clear.clamp(0.0, 1.0));
                // Jeffreys' prior, half a day on either side.
                let beta = (clear * days + 0.5, (1.0 - clear) * days + 0.5);
                Ok(CloudFigure {
                    cloud_fraction: cover,
                    clear_line_of_sight: beta.0 / (beta.0 + beta.1),
                    beta,
                    effective_days: days,
                })
            }
        }
    }

    /// Independent days that a monthly mean of a node is worth.
    fn strength(&self, node: usize) -> f64 {
        let base = self.source.options.mean_strength_days;
        match self.source.table.nodes[node].years {
            Some(years) => (DAYS_A_YEAR * f64::from(years)).min(MOST_DAYS_OF_A_MEAN),
            None => base,
        }
    }

    fn years(&self, node: usize, query: &CloudQuery<'_>) -> Option<u32> {
        let stated = self.source.table.nodes[node].years;
        if stated.is_some() || !self.source.has_day_records() {
            return stated;
        }
        self.sample(node, query).ok().map(|s| s.years)
    }

    /// The season's records of a node about an hour.
    fn sample(&self, node: usize, query: &CloudQuery<'_>) -> Result<&DaySample, CloudGap> {
        let source = self.source;
        let CloudSeries::Days(days) = &source.table.series else { return Err(CloudGap::Question) };
        let hour = query.local_solar_hour.round().rem_euclid(24.0) as usize % HOURS;
        let slot = if source.has_hours { node * HOURS + hour } else { node };
        let cell = self.samples.get(slot).ok_or(CloudGap::Question)?;
        let window = if source.options.forecast { 0 } else { i64::from(source.options.half_window_days) };
        let found = cell.get_or_init(|| {
            let near = |d: &sample::Day| {
                days_from(d.date, self.month, self.day)
                    .filter(|(away, _)| away.abs() <= window)
                    .map(|(_, year)| (*d, year))
            };
            let mut inside: Vec<_> =
                sample::one_a_day(&days[node], hour, NEAR_HOURS).filter_map(|d| near(&d)).collect();
            if source.options.forecast {
                // Of a file with several years only the newest run can be the forecast.
                let newest = inside.iter().map(|(_, year)| *year).max();
                inside.retain(|(_, year)| Some(*year) == newest);
            }
            DaySample::of(inside, source.table.nodes[node].years)
        });
        found.as_ref().ok_or_else(|| {
            let place = source.label(node);
            let in_season = |d: &crate::input::day_records::DayCover| {
                days_from(d.date, self.month, self.day).is_some_and(|(away, _)| away.abs() <= window)
            };
            if days[node].iter().any(in_season) {
                CloudGap::Hour { hour: query.local_solar_hour, place }
            } else {
                let day = format!("{} {}", self.day, MONTHS[(self.month as usize - 1).min(11)]);
                let wanted = if window == 0 { day } else { format!("{window} days about {day}") };
                CloudGap::Season { wanted, place }
            }
        })
    }

    /// The mean cover of a node between the mid-months around the day.
    fn mean(&self, node: usize, means: &[MonthlyCover], hour: f64) -> Result<f64, CloudGap> {
        let (first, second, t) = self.months;
        let a = self.month_mean(node, means, first, hour);
        if t == 0.0 {
            return a;
        }
        match (a, self.month_mean(node, means, second, hour)) {
            (Ok(a), Ok(b)) => Ok(a + (b - a) * t),
            // Within half a month of the one month there is: its figure stands alone, and the notes say so.
            (Ok(a), Err(_)) if t <= 0.5 => Ok(a),
            (Err(_), Ok(b)) if t >= 0.5 => Ok(b),
            (Err(gap), _) | (_, Err(gap)) => Err(gap),
        }
    }

    fn month_mean(&self, node: usize, means: &[MonthlyCover], month: u8, hour: f64) -> Result<f64, CloudGap> {
        let start = means.partition_point(|m| m.month < month);
        let end = start + means[start..].partition_point(|m| m.month == month);
        let of_month = &means[start..end];
        let Some(first) = of_month.first() else {
            let wanted = MONTHS[(usize::from(month) - 1).min(11)].to_owned();
            return Err(CloudGap::Season { wanted, place: self.source.label(node) });
        };
        let Some(first_hour) = first.hour else { return Ok(first.cover) };
        let hour = hour.rem_euclid(24.0);
        let after = of_month.partition_point(|m| m.hour.is_some_and(|h| h <= hour));
        let last = of_month[of_month.len() - 1];
        let last_hour = last.hour.unwrap_or(first_hour);
        let (before, next) = (
            if after == 0 { (last.cover, last_hour - 24.0) } else { at(of_month, after - 1) },
            if after == of_month.len() { (first.cover, first_hour + 24.0) } else { at(of_month, after) },
        );
        let gap = next.1 - before.1;
        if gap <= BRIDGED_HOURS && gap > 0.0 {
            return Ok(before.0 + (next.0 - before.0) * (hour - before.1) / gap);
        }
        let near = if hour - before.1 <= next.1 - hour { before } else { next };
        if (near.1 - hour).abs() <= NEAR_HOURS {
            Ok(near.0)
        } else {
            Err(CloudGap::Hour { hour, place: self.source.label(node) })
        }
    }

    fn notes(&self, query: &CloudQuery<'_>, blend: &Blend, figure: &CloudFigure, years: Option<u32>) -> Vec<String> {
        let source = self.source;
        let mut notes = Vec::new();
        if source.table.invented {
            notes.push("The cloud figures are INVENTED: do not plan a trip by them.".to_owned());
        }
        notes.extend(source.doubt.clone());
        notes.push(match &source.geometry {
            Geometry::Grid(_) if blend.partial => {
                "Interpolated on the grid from the points that have figures; at least one of the four \
                 around the place has none."
                    .to_owned()
            }
            Geometry::Grid(_) => "Interpolated between the four grid points around the place.".to_owned(),
            Geometry::Stations(_) if blend.len() == 1 && blend.nearest_km < 1.0 => {
                format!("Figures of {}, at the place itself.", source.label(blend.heaviest()))
            }
            Geometry::Stations(_) if blend.len() == 1 => {
                format!("Figures of {}, {:.0} km away.", source.label(blend.heaviest()), blend.nearest_km)
            }
            Geometry::Stations(_) => format!(
                "Distance-weighted from {} stations within {:.0} km, the nearest {}, {:.0} km away.",
                blend.len(),
                source.options.reach_km,
                source.label(blend.heaviest()),
                blend.nearest_km
            ),
        });
        match &source.table.series {
            CloudSeries::Days(_) if source.options.forecast => notes.push(format!(
                "A forecast for the day itself, trusted as {:.0} independent days (uncalibrated).",
                figure.effective_days
            )),
            CloudSeries::Days(_) => {
                let days: usize =
                    blend.nodes().filter_map(|(n, _)| self.sample(n, query).ok()).map(|s| s.days.len()).sum();
                notes.push(format!(
                    "From {days} day records within {} days of the date{}, worth {:.0} independent days since weather lasts; \
                     prior Jeffreys.",
                    source.options.half_window_days,
                    years.map(|y| format!(", {y} {}", if y == 1 { "year" } else { "years" })).unwrap_or_default(),
                    figure.effective_days
                ));
                if years.is_some_and(|y| y < 5) {
                    notes.push("Fewer than five years of records: the next year may look quite different.".to_owned());
                }
            }
            CloudSeries::Means(means) => {
                let (first, second, t) = self.months;
                let has = |m: u8| blend.nodes().all(|(n, _)| means[n].iter().any(|x| x.month == m));
                if t > 0.0 && !(has(first) && has(second)) {
                    let (used, missing) = if has(first) { (first, second) } else { (second, first) };
                    let name = |m: u8| MONTHS[(usize::from(m) - 1).min(11)];
                    notes.push(format!("Figures of {} alone; there are none for {}.", name(used), name(missing)));
                }
                notes.push(format!(
                    "Only a mean cover is given: skies are spread about it as a Beta distribution (parameters sum to {}), \
                     and the chance is trusted as {:.0} independent days; both uncalibrated.",
                    source.options.cover_spread, figure.effective_days
                ));
            }
        }
        if !source.has_hours {
            notes.push(
                "The file gives no hours: the figure is for the whole day, or the hour the file was made for."
                    .to_owned(),
            );
        }
        if source.table.missing > 0 {
            notes.push(format!(
                "{} hours of the weather years have no sky cover and are left out.",
                source.table.missing
            ));
        }
        notes.push(format!(
            "Line of sight by {}{}; such models give somewhat more clear sky than was sighted (Lund 1980).",
            source.model.describe(),
            if source.options.kind.or(source.table.kind).is_none() {
                " (the kind of cloud amount is taken from the layout)"
            } else {
                ""
            }
        ));
        if query.sun_altitude_deg < LOWEST_ALTITUDE_DEG {
            notes.push(format!("The model stops at {LOWEST_ALTITUDE_DEG:.0}° above the horizon; the Sun is lower, and its chance smaller."));
        }
        notes.push(
            "Eclipse cooling often dissolves shallow cumulus as totality nears; it is not counted here.".to_owned(),
        );
        notes
    }
}

fn at(of_month: &[MonthlyCover], i: usize) -> (f64, f64) {
    (of_month[i].cover, of_month[i].hour.unwrap_or(0.0))
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// The months whose middles lie before and after a day, and how far the day is from the first to the second.
fn mid_months(date: NaiveDate) -> (u8, u8, f64) {
    use chrono::Datelike;
    const LENGTHS: [f64; 12] = [31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0];
    let month = date.month0() as usize % 12;
    // Noon of the day, from the start of the month.
    let x = f64::from(date.day()) - 0.5;
    let half = LENGTHS[month] / 2.0;
    let (first, second, t) = if x >= half {
        let next = (month + 1) % 12;
        (month, next, (x - half) / (half + LENGTHS[next] / 2.0))
    } else {
        let before = (month + 11) % 12;
        (before, month, 1.0 - (half - x) / (half + LENGTHS[before] / 2.0))
    };
    (first as u8 + 1, second as u8 + 1, t.clamp(0.0, 1.0))
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

#[cfg(test)]
mod tests {
    use super::*;

    const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../");

    fn rows(path: &str) -> Vec<csv::StringRecord> {
        csv::Reader::from_path(format!("{ROOT}{path}")).unwrap().records().map(|r| r.unwrap()).collect()
    }

    fn number(row: &csv::StringRecord, i: usize) -> f64 {
        row[i].parse().unwrap()
    }

    fn source(text: &str) -> CloudSource {
        source_with(text, CloudOptions::default())
    }

    fn source_with(text: &str, options: CloudOptions) -> CloudSource {
        CloudSource::from_table(CloudTable::from_bytes("c.csv", text.as_bytes().to_vec()).unwrap(), options)
    }

    fn query(lat_deg: f64, lon_deg: f64) -> CloudQuery<'static> {
        CloudQuery { lat_deg, lon_deg, name: None, month: 7, day: 16, local_solar_hour: 13.0, sun_altitude_deg: 35.0 }
    }

    /// Reference: scipy.stats.beta, tests/reference/clouds.
    #[test]
    fn beta_quantiles_agree_with_scipy() {
        let rows = rows("tests/reference/clouds/beta-quantiles.csv");
        assert_eq!(rows.len(), 90);
        for row in rows {
            let ours = quantile((number(&row, 0), number(&row, 1)), number(&row, 2)).unwrap();
            assert!((ours - number(&row, 3)).abs() < 1e-7, "{row:?}: {ours}");
        }
        assert_eq!(quantile((0.0, 1.0), 0.5), None);
        assert_eq!(quantile((1.0, f64::NAN), 0.5), None);
        assert_eq!(quantile((1.0, 1.0), 1.5), None);
    }

    /// Reference: scipy.integrate, tests/reference/clouds.
    #[test]
    fn expected_chances_agree_with_scipy() {
        let rows = rows("tests/reference/clouds/expected-clear.csv");
        assert_eq!(rows.len(), 96);
        for row in rows {
            let model = LineOfSight::for_kind(CoverKind::from_name(&row[0]).unwrap(), 1.0);
            let ours = model.expected_from_mean(number(&row, 1), number(&row, 2), number(&row, 3));
            assert!((ours - number(&row, 4)).abs() < 1e-7, "{row:?}: {ours}");
        }
    }

    /// Reference: NumPy and SciPy on the same (invented) demo files, tests/reference/clouds.
    #[test]
    fn the_demo_towns_agree_with_numpy_from_day_records_and_from_the_grid() {
        let rows = rows("tests/reference/clouds/demo-outlooks.csv");
        assert_eq!(rows.len(), 36);
        for row in rows {
            let source = CloudSource::read(Path::new(&format!("{ROOT}data/demo/{}", &row[0]))).unwrap();
            let query = CloudQuery {
                lat_deg: number(&row, 2),
                lon_deg: number(&row, 3),
                name: Some(&row[1]),
                month: 7,
                day: 22,
                local_solar_hour: 14.0,
                sun_altitude_deg: number(&row, 4),
            };
            let season = source.season(7, 22).unwrap();
            let outlook = season.outlook(&query).unwrap();
            let ours = [outlook.cloud_fraction, outlook.clear_line_of_sight, outlook.low_95, outlook.high_95];
            for (i, value) in ours.into_iter().enumerate() {
                assert!((value - number(&row, 5 + i)).abs() < 1e-7, "{row:?}: {ours:?}");
            }
            assert_eq!(outlook.years, row[9].parse().ok());
            let figure = season.figure(&query).unwrap();
            assert!((figure.clear_line_of_sight - outlook.clear_line_of_sight).abs() < 5e-4, "{row:?}");
            assert!(outlook.invented && outlook.source.contains("INVENTED") && outlook.notes[0].contains("INVENTED"));
            assert!(outlook.notes.iter().any(|n| n.contains("cumulus")));
        }
    }

    #[test]
    fn figures_that_look_like_another_unit_are_doubted() {
        let of = |column: &str, figure: &dyn Fn(u32) -> String| {
            let rows: String = (1..=28).map(|d| format!("A,0,0,2020-07-{d:02},{}\n", figure(d))).collect();
            source(&format!("name,lat,lon,date,{column}\n{rows}"))
        };
        let oktas = of("cloud_percent", &|d| (d % 9).to_string());
        assert_eq!(oktas.doubt(), Some("No figure of c.csv is above 8 percent: are they oktas from 0 to 8 rather?"));
        assert!(oktas.outlook(&query(0.0, 0.0)).unwrap().notes.iter().any(|n| n.contains("are they oktas")));
        let fractions = of("cloud_okta", &|d| format!("{}", f64::from(d) / 28.0));
        assert!(fractions.doubt().unwrap().contains("is above 1 okta: are they fractions"));
        assert_eq!(of("cloud_percent", &|d| (d * 3).to_string()).doubt(), None);
        assert_eq!(of("cloud_okta", &|d| (d % 9).to_string()).doubt(), None);
        assert_eq!(of("cloud_fraction", &|_| "0.01".into()).doubt(), None);
    }

    #[test]
    fn a_grid_is_bilinear_across_the_date_line() {
        // A field linear in latitude and in longitude is met exactly, whichever way longitudes are written.
        for west in [-178.0, 182.0] {
            let mut text = String::from("lat,lon,month,cloud_percent\n");
            for lat in [-40, -38] {
                for (lon, x) in [(176.0, 0), (178.0, 1), (180.0, 2), (west, 3)] {
                    text += &format!("{lat},{lon},7,{}\n", 10 + (lat + 40) * 5 + x * 20);
                }
            }
            let source = source(&text);
            assert_eq!(source.kind(), CoverKind::Grid);
            let season = source.season(7, 16).unwrap();
            for (lon, x) in [(177.0, 0.5), (179.9, 1.95), (-179.0, 2.5), (181.0, 2.5)] {
                let figure = season.figure(&query(-39.5, lon)).unwrap();
                assert!((figure.cloud_fraction - (0.10 + 0.025 + x * 0.2)).abs() < 1e-12, "{lon}: {figure:?}");
            }
            // Half a step beyond the last points belongs to their cells; farther does not.
            assert!((season.figure(&query(-40.9, 176.0)).unwrap().cloud_fraction - 0.10).abs() < 1e-12);
            let gap = season.figure(&query(-41.1, 176.0)).unwrap_err();
            assert!(gap.to_string().contains("nearest point is 40.00° S 176.00° E, 122 km away"), "{gap}");
            assert!(matches!(season.figure(&query(-39.0, -176.5)), Err(CloudGap::OutsideGrid { .. })));
            assert!(matches!(season.figure(&query(-39.0, 0.0)), Err(CloudGap::OutsideGrid { .. })));
        }
    }

    #[test]
    fn a_grid_round_the_earth_has_no_edge_and_reaches_the_poles() {
        let mut text = String::from("lat,lon,month,cloud_fraction\n");
        for lat in [-75.0, -45.0, -15.0, 15.0, 45.0, 75.0] {
            for lon in 0..12 {
                let there = f64::from(lon) * 30.0 + 10.0;
                text += &format!("{lat},{there},7,{}\n", 0.5 + 0.4 * there.to_radians().cos());
            }
        }
        let source = source(&text);
        let season = source.season(7, 16).unwrap();
        let end = |deg: f64| 0.5 + 0.4 * deg.to_radians().cos();
        let figure = season.figure(&query(88.0, -5.0)).unwrap();
        assert!((figure.cloud_fraction - (end(340.0) + end(10.0)) / 2.0).abs() < 1e-12, "{figure:?}");
    }

    #[test]
    fn a_missing_grid_point_counts_only_when_it_is_far() {
        let mut text = String::from("lat,lon,month,cloud_percent\n");
        for lat in 0..3 {
            for lon in 0..3 {
                if (lat, lon) != (1, 1) {
                    text += &format!("{lat},{lon},7,40\n");
                }
            }
        }
        let source = source(&text);
        let season = source.season(7, 16).unwrap();
        let far = season.outlook(&query(0.2, 0.2)).unwrap();
        assert!((far.cloud_fraction - 0.4).abs() < 1e-12);
        assert!(far.notes.iter().any(|n| n.contains("at least one of the four")));
        let gap = season.figure(&query(0.9, 0.9)).unwrap_err();
        assert!(gap.to_string().contains("point 1.00° N 1.00° E is missing"), "{gap}");
    }

    #[test]
    fn stations_weigh_by_distance_and_never_beyond_their_reach() {
        let text = "name,lat,lon,month,cloud_okta\nWest,0,0,7,0\nEast,0,1,7,8\nFar,0,12,7,4\n";
        let source = source(text);
        assert_eq!(source.kind(), CoverKind::Observed);
        let season = source.season(7, 16).unwrap();
        // A quarter of the way: weights as 1/1 and 1/9.
        let figure = season.figure(&query(0.0, 0.25)).unwrap();
        assert!((figure.cloud_fraction - 0.1).abs() < 1e-6, "{figure:?}");
        assert_eq!(season.figure(&query(0.0, 1.0)).unwrap().cloud_fraction, 1.0);
        let named = CloudQuery { name: Some(" east "), ..query(0.0, 0.1) };
        assert_eq!(season.figure(&named).unwrap().cloud_fraction, 1.0);
        // A namesake a thousand kilometres away is not the place.
        let namesake = CloudQuery { name: Some("Far"), ..query(0.0, 0.0) };
        assert_eq!(season.figure(&namesake).unwrap().cloud_fraction, 0.0);
        let gap = season.figure(&query(0.0, 3.0)).unwrap_err();
        assert_eq!(gap.to_string(), "no cloud figures within 150 km: the nearest are those of East, 222 km away");
        let outlook = season.outlook(&query(0.0, 0.25)).unwrap();
        assert!(
            outlook.notes.iter().any(|n| n.contains("2 stations within 150 km, the nearest West, 28 km")),
            "{outlook:?}"
        );
    }

    #[test]
    fn monthly_means_run_between_mid_months_round_the_year() {
        let mut text = String::from("name,lat,lon,month,cloud_percent\n");
        for month in 1..=12 {
            text += &format!("A,0,0,{month},{}\n", month * 5);
        }
        let source = source(&text);
        let cover =
            |month, day| source.outlook(&CloudQuery { month, day, ..query(0.0, 0.0) }).unwrap().cloud_fraction * 100.0;
        assert!((cover(7, 16) - 35.0).abs() < 1e-9);
        assert!((cover(8, 1) - (35.0 + 5.0 * 16.0 / 31.0)).abs() < 1e-9);
        // From mid-December (60) to mid-January (5).
        assert!((cover(1, 1) - (60.0 - 55.0 * 16.0 / 31.0)).abs() < 1e-9);
        assert!(source.season(2, 30).is_err());
    }

    #[test]
    fn a_month_alone_serves_its_own_half_months_and_says_so() {
        let source = source("name,lat,lon,month,cloud_percent\nA,0,0,7,30\n");
        let at = |month, day| source.outlook(&CloudQuery { month, day, ..query(0.0, 0.0) });
        let outlook = at(7, 28).unwrap();
        assert!((outlook.cloud_fraction - 0.3).abs() < 1e-12);
        assert!(outlook.notes.iter().any(|n| n == "Figures of July alone; there are none for August."), "{outlook:?}");
        assert!(at(8, 10).unwrap_err().to_string().contains("no cloud figures for August at A"));
        assert!(at(12, 1).is_err());
    }

    #[test]
    fn hours_run_between_figures_round_midnight() {
        let text = "name,lat,lon,month,hour,cloud_percent\nA,0,0,7,2,20\nA,0,0,7,22,60\nA,0,0,7,10,80\n";
        let source = source(text);
        let at = |local_solar_hour| source.outlook(&CloudQuery { local_solar_hour, ..query(0.0, 0.0) });
        assert!((at(0.0).unwrap().cloud_fraction - 0.4).abs() < 1e-12);
        assert!((at(23.0).unwrap().cloud_fraction - 0.5).abs() < 1e-12);
        // Eight hours apart: the nearer figure within three hours, nothing beyond.
        assert!((at(8.0).unwrap().cloud_fraction - 0.8).abs() < 1e-12);
        assert!(matches!(at(6.0), Err(CloudGap::Hour { .. })));
        assert_eq!(at(6.0).unwrap_err().to_string(), "no cloud figures within 3 hours of 6.0 h local solar time at A");
    }

    fn day_records(years: std::ops::Range<i32>, cover: impl Fn(i32, u32) -> u32) -> String {
        let mut text = String::from("name,lat,lon,date,cloud_okta\n");
        for year in years {
            for day in 1..=31 {
                text += &format!("A,0,0,{year}-07-{day:02},{}\n", cover(year, day));
            }
        }
        text
    }

    #[test]
    fn day_records_use_the_distribution_of_cover_not_its_mean() {
        // Half the days clear, half overcast: the chance is one half, whatever the models say of half a cover.
        let source = source(&day_records(2001..2021, |year, _| if year % 2 == 0 { 0 } else { 8 }));
        let outlook = source.outlook(&query(0.0, 0.0)).unwrap();
        assert!((outlook.cloud_fraction - 0.5).abs() < 1e-12 && (outlook.clear_line_of_sight - 0.5).abs() < 1e-12);
        assert!(outlook.clear_at_mean_cover > 0.55);
        assert_eq!(outlook.years, Some(20));
        // Whole Julys alike: hardly more than a day a year is independent.
        assert!(outlook.effective_days < 40.0, "{outlook:?}");
        let records = source.season(7, 16).unwrap().records(&query(0.0, 0.0)).unwrap().unwrap();
        assert_eq!(records.len(), 620);
        assert_eq!((records[0].clear, records[31].clear), (0.0, 1.0));
        assert_eq!(source.records(0.0, 0.0, None).unwrap().len(), 620);
    }

    #[test]
    fn more_years_narrow_the_interval() {
        let width = |years: i32| {
            let text = day_records(2000..2000 + years, |year, day| (year as u32 * 7 + day * 5) % 9);
            let o = source(&text).outlook(&query(0.0, 0.0)).unwrap();
            assert!(o.low_95 < o.clear_line_of_sight && o.clear_line_of_sight < o.high_95);
            o.high_95 - o.low_95
        };
        assert!(width(4) < 0.6 * width(1));
        assert!(width(16) < 0.6 * width(4));
        let stated = |years: &str| {
            let text = format!("name,lat,lon,month,cloud_okta,years\nA,0,0,7,4,{years}\n");
            source(&text).outlook(&query(0.0, 0.0)).unwrap()
        };
        assert_eq!(stated("10").effective_days, 50.0);
        assert_eq!((stated("").effective_days, stated("").years), (20.0, None));
        assert_eq!((stated("400").effective_days, stated("400").years), (100.0, Some(400)));
    }

    #[test]
    fn an_always_clear_or_overcast_record_stays_inside_its_interval() {
        for okta in [0, 8] {
            for text in
                [day_records(2001..2003, |_, _| okta), format!("name,lat,lon,month,cloud_okta\nA,0,0,7,{okta}\n")]
            {
                let o = source(&text).outlook(&query(0.0, 0.0)).unwrap();
                assert!(o.low_95 < o.clear_line_of_sight && o.clear_line_of_sight < o.high_95, "{o:?}");
                assert!(o.beta.0 > 0.0 && o.beta.1 > 0.0);
            }
        }
    }

    #[test]
    fn a_forecast_answers_for_its_very_day_only() {
        let options = CloudOptions { forecast: true, ..CloudOptions::default() };
        let source =
            source_with(&day_records(2027..2029, |year, day| if (year, day) == (2028, 16) { 0 } else { 8 }), options);
        let outlook = source.outlook(&query(0.0, 0.0)).unwrap();
        assert!(outlook.forecast && outlook.cloud_fraction == 0.0);
        let august = CloudQuery { month: 8, day: 2, ..query(0.0, 0.0) };
        assert!(outlook.notes.iter().any(|n| n == "Figures of A, at the place itself."), "{outlook:?}");
        assert_eq!(source.outlook(&august).unwrap_err().to_string(), "no cloud figures for 2 August at A");
    }

    #[test]
    fn a_weather_year_answers_at_its_hour_and_season() {
        let text = epw::tests::invented_year(2001, 7, 31, |_, hour| if hour == 14 { 2 } else { 10 });
        let table = epw::from_bytes("y.epw", text.as_bytes()).unwrap();
        let source = CloudSource::from_table(table, CloudOptions::default());
        let outlook = source.outlook(&CloudQuery { local_solar_hour: 13.6, ..query(-30.0, 150.0) }).unwrap();
        assert!((outlook.cloud_fraction - 0.2).abs() < 1e-12, "{outlook:?}");
        assert_eq!(outlook.years, Some(1));
        assert!(outlook.notes.iter().any(|n| n.contains("Fewer than five years")));
        let december = CloudQuery { month: 12, day: 4, ..query(-30.0, 150.0) };
        let gap = source.outlook(&december).unwrap_err();
        assert_eq!(gap.to_string(), "no cloud figures for 15 days about 4 December at Testville");
    }

    #[test]
    fn a_folder_of_weather_years_is_a_set_of_stations() {
        let folder = tempfile::tempdir().unwrap();
        let year = epw::tests::invented_year(2001, 7, 31, |_, _| 2);
        std::fs::write(folder.path().join("a.epw"), &year).unwrap();
        std::fs::write(folder.path().join("b.EPW"), year.replace("Testville", "Other").replace("150.00", "151.00"))
            .unwrap();
        let source = CloudSource::read(folder.path()).unwrap();
        assert_eq!(source.table().nodes.len(), 2);
        std::fs::write(folder.path().join("c.epw"), &year).unwrap();
        assert!(CloudSource::read(folder.path()).unwrap_err().to_string().contains("second year of one station"));
        let empty = tempfile::tempdir().unwrap();
        assert!(CloudSource::read(empty.path()).unwrap_err().to_string().contains("holds no EPW file"));
        assert!(
            CloudSource::read(&empty.path().join("none.csv")).unwrap_err().to_string().contains("cannot be opened")
        );
    }

    #[test]
    fn questions_that_are_none_get_no_number() {
        let source = source("name,lat,lon,month,cloud_percent\nA,0,0,7,30\n");
        for bad in [
            CloudQuery { lat_deg: f64::NAN, ..query(0.0, 0.0) },
            CloudQuery { lat_deg: 91.0, ..query(0.0, 0.0) },
            CloudQuery { local_solar_hour: f64::INFINITY, ..query(0.0, 0.0) },
            CloudQuery { day: 32, ..query(0.0, 0.0) },
        ] {
            assert_eq!(source.outlook(&bad), Err(CloudGap::Question));
        }
    }

    proptest::proptest! {
        #[test]
        fn no_bytes_upset_the_readers_or_give_a_figure_out_of_range(
            head in 0_usize..5,
            tail in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..400),
            cells in proptest::collection::vec("[-0-9.,;/a-zN\n\r\"]{0,12}", 0..40),
        ) {
            let heads = [
                "", "lat,lon,month,cloud_percent\n", "lat;lon;date;hour;cloud;unit\n", "LOCATION,,,,,,1,2,3\n",
                "name,lat,lon,month,hour_utc,cloud_okta,source,kind,years\n",
            ];
            for body in [tail, cells.join(",").into_bytes()] {
                let bytes = [heads[head].as_bytes(), &body].concat();
                let _ = epw::from_bytes("x.epw", &bytes);
                if let Ok(table) = CloudTable::from_bytes("x.csv", bytes) {
                    let source = CloudSource::from_table(table, CloudOptions::default());
                    let node = source.table().nodes[0].clone();
                    if let Ok(o) = source.outlook(&query(node.lat_deg, node.lon_deg)) {
                        proptest::prop_assert!((0.0..=1.0).contains(&o.clear_line_of_sight));
                        proptest::prop_assert!((0.0..=1.0).contains(&o.cloud_fraction) && o.low_95 <= o.high_95);
                    }
                }
            }
        }
    }
}
