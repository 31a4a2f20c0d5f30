//! Every option in one place: its name, its help, its parser.

use crate::failure::Failure;
use chrono::NaiveDate;
use clap::{Args, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use noonfall_ephemeris::{DeltaT, GeoPoint, Kernel};
use noonfall_scoring::outlook::line_of_sight::CoverKind;
use noonfall_scoring::outlook::sunlit::area::Area;
use noonfall_scoring::outlook::totality::EdgeShown;
use noonfall_scoring::outlook::window::WindowSettings;
use noonfall_scoring::profile::PROFILES;
use noonfall_scoring::trip;
use noonfall_shadow::moon_edge::MoonHeights;
use noonfall_shadow::{Conventions, Eclipse, Kind, Quantity};
use noonfall_words::safety;
use std::path::{Path, PathBuf};

/// What the program is for.
const ABOUT: &str = "Where to stand for a total solar eclipse: shadow path, local circumstances, ranked sites, report and one-page \
brief, computed from a planetary ephemeris, without a connection";

/// The program.
#[derive(Parser, Debug)]
#[command(name = "noonfall", version, propagate_version = true, max_term_width = 100)]
#[command(about = ABOUT, long_about = format!("{ABOUT}.\n\n{}", safety::INTRODUCTION))]
#[command(
    after_help = "Start here:\n  noonfall plan new 2028-07-22 > plan.toml\n  noonfall rank plan.toml --out report"
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Subcommand, Debug)]
#[allow(clippy::large_enum_variant, reason = "made once in a process")]
pub enum Command {
    /// List the eclipses of a span of years
    #[command(
        after_help = "Example:\n  noonfall list --from 2026 --to 2035 --kind total\n  noonfall list --from 1900 --to 2100 --near -33.87,151.21 --within 50"
    )]
    List(ListOptions),
    /// Trace a path: central line, limits, width, duration, the Sun's altitude
    #[command(
        after_help = "Example:\n  noonfall trace 2028-07-22 --every 300\n  noonfall trace 2028-07-22 --format geojson > path.geojson\n  noonfall trace 2028-07-22 --edge true --format kml > limits.kml\n  noonfall trace 2025-03-29 --outline --isolines obscuration --isolines time --format kml > map.kml"
    )]
    Trace(TraceOptions),
    /// Tell what one place, or each place of a file, will see
    #[command(
        after_help = "Example:\n  noonfall at 2028-07-22 --lat -44.67 --lon 167.93\n  noonfall at 2028-07-22 --sites data/demo/sites.csv --format csv"
    )]
    At(AtOptions),
    /// Read a plan and all its files, rank nothing, and tell what was understood
    #[command(after_help = "Example:\n  noonfall check data/demo/plan.toml")]
    Check(CheckOptions),
    /// Score and rank the candidate sites of a plan; write the map report
    #[command(after_help = "Example:\n  noonfall rank data/demo/plan.toml --out report")]
    Rank(RankOptions),
    /// Write the one-page brief of a site
    #[command(after_help = "Example:\n  noonfall brief data/demo/plan.toml --site \"Milford Sound\" --out brief.pdf")]
    Brief(BriefOptions),
    /// Tell what a cloud archive holds, and the odds it gives at a place
    #[command(
        after_help = "Example:\n  noonfall clouds era5.nc\n  noonfall clouds era5.nc --near -24.5,145.9 --date 2028-07-22\n  noonfall clouds isd/ --near -15.5,128.1 --date 2028-07-22 --out near.csv --out odds.svg"
    )]
    Clouds(CloudsOptions),
    /// Tell where on the ground the Sun clears the terrain all through totality: a raster and a picture
    #[command(
        after_help = "Example:\n  noonfall sunlit 2028-07-22 --terrain dem/ --area 168.4,-45.2,169.6,-44.4 --out sunlit.tif\n  noonfall sunlit 2026-08-12 --terrain dem/ --spacing 200 --around 30 --out spain/sunlit.tif"
    )]
    Sunlit(SunlitCommand),
    /// Help with plan files
    #[command(subcommand)]
    Plan(PlanCommand),
    /// Write a shell's completions to standard output
    #[command(after_help = "Example:\n  noonfall completions bash > noonfall.bash")]
    Completions {
        /// The shell.
        shell: Shell,
    },
    /// Write the manual pages into a folder
    #[command(after_help = "Example:\n  noonfall manual man/")]
    Manual {
        /// The folder.
        folder: PathBuf,
    },
}

/// Options that every computing command takes.
#[derive(Args, Debug, Clone)]
pub struct Common {
    /// ΔT = TT − UT1 in seconds, in place of the shipped values
    #[arg(long, value_name = "SECONDS", value_parser = number, allow_hyphen_values = true)]
    pub delta_t: Option<f64>,
    /// A planetary ephemeris (SPK, types 2 and 3) in place of the embedded DE440 excerpt
    #[arg(long, value_name = "FILE.bsp")]
    pub kernel: Option<PathBuf>,
    /// Say nothing but errors on standard error
    #[arg(long)]
    pub quiet: bool,
}

/// `list`.
#[derive(Args, Debug)]
pub struct ListOptions {
    /// First year
    #[arg(long, value_name = "YEAR", allow_hyphen_values = true)]
    pub from: i32,
    /// Last year
    #[arg(long, value_name = "YEAR", allow_hyphen_values = true)]
    pub to: i32,
    /// Only eclipses of this kind: total, annular, hybrid or partial
    #[arg(long, value_name = "KIND", value_parser = kind)]
    pub kind: Option<Kind>,
    /// Only eclipses that are total or annular near a place, with --within
    #[arg(long, value_name = "LAT,LON", value_parser = place, allow_hyphen_values = true, requires = "within")]
    pub near: Option<GeoPoint>,
    /// How near the path has to pass, km
    #[arg(long, value_name = "KM", value_parser = positive, requires = "near")]
    pub within: Option<f64>,
    /// How to show it; a table on a terminal, JSON elsewhere
    #[arg(long, value_name = "FORMAT")]
    pub format: Option<ListFormat>,
    /// Common options.
    #[command(flatten)]
    pub common: Common,
}

/// `trace`.
#[derive(Args, Debug)]
pub struct TraceOptions {
    /// UTC date of greatest eclipse
    #[arg(value_name = "DATE", value_parser = date)]
    pub date: NaiveDate,
    /// Seconds of UTC between points
    #[arg(long, value_name = "SECONDS", default_value = "60", value_parser = step, allow_hyphen_values = true)]
    pub every: f64,
    /// Add the outline of the partial eclipse: its limits, and where it begins, is greatest or ends at sunrise and sunset
    #[arg(long)]
    pub outline: bool,
    /// Add lines of equal duration, altitude (the Sun's), obscuration or time (UTC of maximum); may be given several times
    #[arg(long, value_name = "QUANTITY", value_parser = quantity)]
    pub isolines: Vec<Quantity>,
    /// The Moon's edge: smooth gives the handbook's lines; true adds those beyond which no place has a moment without
    /// sunlight, at the measured edge
    #[arg(long, value_name = "EDGE", default_value = "smooth", value_parser = clap::builder::PossibleValuesParser::new(["true", "smooth"]))]
    pub edge: String,
    /// Heights of the Moon in place of the embedded grid: a PDS grid of LOLA's (.img with its .lbl) or a GeoTIFF, 4 to 128 a degree
    #[arg(long, value_name = "FILE")]
    pub moon_grid: Option<PathBuf>,
    /// How to show it; a table on a terminal, JSON elsewhere. Outline, isolines and true limits go to json, geojson and kml
    #[arg(long, value_name = "FORMAT")]
    pub format: Option<TraceFormat>,
    /// Common options.
    #[command(flatten)]
    pub common: Common,
}

/// `at`.
#[derive(Args, Debug)]
#[command(group = clap::ArgGroup::new("where").required(true).args(["lat", "sites"]))]
pub struct AtOptions {
    /// UTC date of greatest eclipse
    #[arg(value_name = "DATE", value_parser = date)]
    pub date: NaiveDate,
    /// Latitude in degrees, north positive
    #[arg(long, value_name = "L", value_parser = number, allow_hyphen_values = true, requires = "lon")]
    pub lat: Option<f64>,
    /// Longitude in degrees, east positive
    #[arg(long, value_name = "L", value_parser = number, allow_hyphen_values = true, requires = "lat")]
    pub lon: Option<f64>,
    /// Metres above sea level; from the terrain when not given, else unknown: the window then allows for all heights
    #[arg(long, value_name = "M", value_parser = number, allow_hyphen_values = true, requires = "lat")]
    pub elevation: Option<f64>,
    /// Name of the place
    #[arg(long, value_name = "NAME", requires = "lat")]
    pub name: Option<String>,
    /// IANA time zone, such as Pacific/Auckland; looked up from the coordinates when not given
    #[arg(long, value_name = "ZONE", requires = "lat")]
    pub zone: Option<String>,
    /// Places from a CSV with name, lat, lon and optionally elevation_m, zone
    #[arg(long, value_name = "FILE.csv", conflicts_with = "lat")]
    pub sites: Option<PathBuf>,
    /// Cloud climatology: NetCDF, GeoTIFF, station files, EPW or CSV, or a folder of them; may be given several times
    #[arg(long, value_name = "FILE")]
    pub clouds: Vec<PathBuf>,
    /// How the clouds were seen, where the file does not say: observed (from the ground) or grid (from above)
    #[arg(long, value_name = "KIND", requires = "clouds")]
    pub kind: Option<CoverChoice>,
    /// Folder of terrain tiles (.hgt or GeoTIFF)
    #[arg(long, value_name = "DIR", conflicts_with = "horizon")]
    pub terrain: Option<PathBuf>,
    /// Surveyed horizon: a CSV with name, azimuth_deg, altitude_deg
    #[arg(long, value_name = "FILE.csv")]
    pub horizon: Option<PathBuf>,
    /// Least seconds kept free of bare eyes inside second and third contact; what exceeds 2 is added to the computed allowances [default: 2]
    #[arg(long, value_name = "SECONDS", value_parser = margin, allow_hyphen_values = true)]
    pub margin: Option<f64>,
    /// Metres from the coordinates within which people will stand [default: 100]
    #[arg(long, value_name = "M", value_parser = place_within, allow_hyphen_values = true)]
    pub place_within: Option<f64>,
    /// Heights between which places without a height lie, metres [default: -430,5100]
    #[arg(long, value_name = "LOW,HIGH", value_parser = heights, allow_hyphen_values = true)]
    pub height_range: Option<Heights>,
    /// The Moon's edge for contacts and durations: the measured one, or the handbook's smooth disc
    #[arg(long, value_name = "EDGE", default_value = "true", value_parser = clap::builder::PossibleValuesParser::new(["true", "smooth"]))]
    pub edge: String,
    /// Heights of the Moon in place of the embedded grid: a PDS grid of LOLA's (.img with its .lbl) or a GeoTIFF, 4 to 128 a degree
    #[arg(long, value_name = "FILE")]
    pub moon_grid: Option<PathBuf>,
    /// Depth of the chromosphere, km, for the red rim that says look away [default: 2500]
    #[arg(long, value_name = "KM", value_parser = positive, allow_hyphen_values = true)]
    pub chromosphere: Option<f64>,
    /// Haze: clear, average, hazy, or its optical depth at 550 nm (0 to 0.6) [default: average]
    #[arg(long, value_name = "HAZE", value_parser = noonfall_scoring::outlook::air::haze_of)]
    pub haze: Option<f64>,
    /// Snow lies on the ground all about
    #[arg(long)]
    pub snow: bool,
    /// Wind over the place: where from (degrees or a point of the compass) and m/s, such as W,5; then the shadow bands' speed and direction are told
    #[arg(long, value_name = "FROM,M_S")]
    pub wind: Option<noonfall_scoring::outlook::band_drift::Wind>,
    /// How to show it; a table on a terminal, JSON elsewhere
    #[arg(long, value_name = "FORMAT")]
    pub format: Option<AtFormat>,
    /// Common options.
    #[command(flatten)]
    pub common: Common,
}

/// `sunlit`.
#[derive(Args, Debug)]
pub struct SunlitCommand {
    /// UTC date of greatest eclipse
    #[arg(value_name = "DATE", value_parser = date)]
    pub date: NaiveDate,
    /// Folder of terrain tiles (.hgt or GeoTIFF)
    #[arg(long, value_name = "DIR")]
    pub terrain: PathBuf,
    /// Western, southern, eastern and northern edge in degrees; without it the part of the path that the terrain covers
    #[arg(long, value_name = "W,S,E,N", allow_hyphen_values = true)]
    pub area: Option<Area>,
    /// Metres from node to node, 1 to 100000; without it the terrain's own grid
    #[arg(long, value_name = "M", value_parser = spacing, allow_hyphen_values = true)]
    pub spacing: Option<f64>,
    /// Tell too when the Sun is lost and gained, from so many minutes before totality to as many after, 0 to 240: two rasters more
    #[arg(long, value_name = "MINUTES", value_parser = around, allow_hyphen_values = true)]
    pub around: Option<f64>,
    /// Eye above the ground, metres [default: 1.7]
    #[arg(long, value_name = "M", value_parser = eye_height, allow_hyphen_values = true)]
    pub eye_height: Option<f64>,
    /// The raster: a GeoTIFF of degrees, .tif; pictures (.svg, .png) are written beside it
    #[arg(long, value_name = "FILE.tif")]
    pub out: PathBuf,
    /// How to show what was found; text on a terminal, JSON elsewhere
    #[arg(long, value_name = "FORMAT")]
    pub format: Option<SunlitFormat>,
    /// Common options.
    #[command(flatten)]
    pub common: Common,
}

/// Formats of `sunlit`.
#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
pub enum SunlitFormat {
    /// A page of text
    Table,
    /// One JSON document
    Json,
    /// One JSON document on one line
    Jsonl,
}

/// `rank`.
#[derive(Args, Debug)]
pub struct RankOptions {
    /// The plan
    #[arg(value_name = "PLAN.toml")]
    pub plan: PathBuf,
    /// Folder for the report; without it only the ranked table is shown
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Forecast CSV that takes the place of the plan's climatology where it reaches
    #[arg(long, value_name = "FILE.csv")]
    pub forecast: Option<PathBuf>,
    /// Heights of the Moon in place of the plan's or the embedded grid: a PDS grid of LOLA's (.img with its .lbl) or a GeoTIFF, 4 to 128 a degree
    #[arg(long, value_name = "FILE")]
    pub moon_grid: Option<PathBuf>,
    /// How to show the ranking on standard output; a table on a terminal, JSON elsewhere
    #[arg(long, value_name = "FORMAT")]
    pub format: Option<ListFormat>,
    /// Common options.
    #[command(flatten)]
    pub common: Common,
}

/// `check`.
#[derive(Args, Debug)]
pub struct CheckOptions {
    /// The plan
    #[arg(value_name = "PLAN.toml")]
    pub plan: PathBuf,
    /// Forecast CSV that takes the place of the plan's climatology where it reaches
    #[arg(long, value_name = "FILE.csv")]
    pub forecast: Option<PathBuf>,
    /// Heights of the Moon in place of the plan's or the embedded grid
    #[arg(long, value_name = "FILE")]
    pub moon_grid: Option<PathBuf>,
    /// Common options.
    #[command(flatten)]
    pub common: Common,
}

/// `brief`.
#[derive(Args, Debug)]
pub struct BriefOptions {
    /// The plan
    #[arg(value_name = "PLAN.toml")]
    pub plan: PathBuf,
    /// Name of the site; give it again for a brief with a page for each
    #[arg(long, value_name = "NAME", required = true)]
    pub site: Vec<String>,
    /// The file: .pdf, .svg or .png. Without it brief-NAME.pdf in the current folder
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Forecast CSV that takes the place of the plan's climatology where it reaches
    #[arg(long, value_name = "FILE.csv")]
    pub forecast: Option<PathBuf>,
    /// Heights of the Moon in place of the plan's or the embedded grid: a PDS grid of LOLA's (.img with its .lbl) or a GeoTIFF, 4 to 128 a degree
    #[arg(long, value_name = "FILE")]
    pub moon_grid: Option<PathBuf>,
    /// Paper
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    pub paper: PaperChoice,
    /// Common options.
    #[command(flatten)]
    pub common: Common,
}

/// `clouds`.
#[derive(Args, Debug)]
pub struct CloudsOptions {
    /// Cloud files of one archive, or a folder of them; recognised by content
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// A place to give the odds for
    #[arg(long, value_name = "LAT,LON", value_parser = place, allow_hyphen_values = true)]
    pub near: Option<GeoPoint>,
    /// The day in the middle of the season; on the date of an eclipse its own hour at the place is used
    #[arg(long, value_name = "DATE", value_parser = date, requires = "near")]
    pub date: Option<NaiveDate>,
    /// Write a plain clouds CSV that gives the same odds (.csv), or a chart (.svg, .png); may be given several times
    #[arg(long, value_name = "FILE", requires = "near")]
    pub out: Vec<PathBuf>,
    /// How the clouds were seen, where the file does not say: observed (from the ground) or grid (from above)
    #[arg(long, value_name = "KIND")]
    pub kind: Option<CoverChoice>,
    /// How to show it; a page of text on a terminal, JSON elsewhere
    #[arg(long, value_name = "FORMAT")]
    pub format: Option<CloudsFormat>,
    /// Common options.
    #[command(flatten)]
    pub common: Common,
}

/// Kinds of cloud amount.
#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoverChoice {
    /// Sky cover as an observer reports it
    Observed,
    /// Share of area covered, seen from above
    Grid,
}

impl From<CoverChoice> for CoverKind {
    fn from(choice: CoverChoice) -> CoverKind {
        match choice {
            CoverChoice::Observed => CoverKind::Observed,
            CoverChoice::Grid => CoverKind::Grid,
        }
    }
}

/// Formats of `clouds`.
#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
pub enum CloudsFormat {
    /// A page of text
    Table,
    /// One JSON document
    Json,
    /// One JSON document on one line
    Jsonl,
    /// The odds as comma-separated values
    Csv,
}

/// `plan …`.
#[derive(Subcommand, Debug)]
pub enum PlanCommand {
    /// Write a commented plan for an eclipse to standard output
    #[command(after_help = "Example:\n  noonfall plan new 2028-07-22 > plan.toml")]
    New {
        /// UTC date of greatest eclipse
        #[arg(value_name = "DATE", value_parser = date)]
        date: NaiveDate,
        /// Common options.
        #[command(flatten)]
        common: Common,
    },
    /// Print the ready sets of weights, in the form a plan takes
    #[command(after_help = "Example:\n  noonfall plan profiles\n  noonfall plan profiles families")]
    Profiles {
        /// Only this one
        #[arg(value_name = "NAME", value_parser = clap::builder::PossibleValuesParser::new(PROFILES.iter().map(|p| p.name)))]
        name: Option<String>,
    },
}

/// Formats of a list.
#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
pub enum ListFormat {
    /// Aligned columns
    Table,
    /// One JSON document
    Json,
    /// One JSON object a line
    Jsonl,
    /// Comma-separated values
    Csv,
}

/// Formats of `trace`.
#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
pub enum TraceFormat {
    /// Aligned columns
    Table,
    /// One JSON document
    Json,
    /// One JSON object a line
    Jsonl,
    /// Comma-separated values
    Csv,
    /// GeoJSON (RFC 7946)
    Geojson,
    /// KML 2.2
    Kml,
}

/// Formats of `at`.
#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
pub enum AtFormat {
    /// A page of text for one place, aligned columns for several
    Table,
    /// One JSON document
    Json,
    /// One JSON object a line
    Jsonl,
    /// Comma-separated values
    Csv,
    /// iCalendar (RFC 5545)
    Ics,
}

/// Papers of the brief.
#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperChoice {
    /// 210 × 297 mm
    A4,
    /// 8.5 × 11 in
    Letter,
}

impl Common {
    /// The ephemeris to use.
    pub fn kernel(&self) -> Result<KernelChoice, Failure> {
        Ok(match &self.kernel {
            None => KernelChoice::Embedded,
            Some(path) => KernelChoice::File(std::sync::Arc::new(Kernel::open(path)?)),
        })
    }

    /// ΔT, if the user gave one.
    pub fn delta_t(&self) -> Result<Option<DeltaT>, Failure> {
        Ok(self.delta_t.map(DeltaT::given).transpose()?)
    }

    /// What is laid over a plan.
    pub fn over_plan(&self, forecast: Option<&PathBuf>, moon_grid: Option<&PathBuf>) -> trip::Options {
        trip::Options {
            delta_t_s: self.delta_t,
            kernel: self.kernel.clone(),
            forecast: forecast.cloned(),
            moon_grid: moon_grid.cloned(),
        }
    }

    /// The eclipse of a date with these options and the default constants.
    pub fn eclipse(&self, kernel: &Kernel, date: NaiveDate) -> Result<Eclipse, Failure> {
        Ok(Eclipse::on_date(kernel, date, self.delta_t()?, &Conventions::default())?)
    }
}

/// The heights of the Moon that were named, or the embedded ones.
pub fn moon_heights(grid: Option<&Path>) -> Result<MoonHeights, Failure> {
    Ok(grid.map_or_else(|| Ok(MoonHeights::embedded().clone()), MoonHeights::open)?)
}

/// The embedded ephemeris or an opened one.
#[derive(Clone, Debug)]
pub enum KernelChoice {
    /// DE440, 1900 to 2100.
    Embedded,
    /// A file of the user's.
    File(std::sync::Arc<Kernel>),
}

impl KernelChoice {
    /// The kernel itself.
    pub fn get(&self) -> &Kernel {
        match self {
            KernelChoice::Embedded => Kernel::embedded(),
            KernelChoice::File(kernel) => kernel,
        }
    }
}

/// A number that is a number.
fn number(text: &str) -> Result<f64, String> {
    let value: f64 = text.trim().parse().map_err(|_| "not a number; write it like -33.87".to_owned())?;
    if value.is_finite() { Ok(value) } else { Err("not a finite number; write it like -33.87".to_owned()) }
}

fn positive(text: &str) -> Result<f64, String> {
    let value = number(text)?;
    if value > 0.0 { Ok(value) } else { Err("must be greater than 0".to_owned()) }
}

/// A number within bounds that are named when it is not.
fn within(text: &str, from: f64, to: f64, unit: &str) -> Result<f64, String> {
    let value = number(text)?;
    if (from..=to).contains(&value) { Ok(value) } else { Err(format!("give {unit} from {from} to {to}")) }
}

/// Seconds between points of a path: finer than the line itself is sampled, or longer than any path, would promise too much.
fn step(text: &str) -> Result<f64, String> {
    within(text, 0.1, 7200.0, "seconds")
}

fn spacing(text: &str) -> Result<f64, String> {
    within(text, 1.0, 100_000.0, "metres")
}

fn around(text: &str) -> Result<f64, String> {
    within(text, 0.0, 240.0, "minutes")
}

fn eye_height(text: &str) -> Result<f64, String> {
    within(text, 0.0, 1000.0, "metres")
}

fn margin(text: &str) -> Result<f64, String> {
    let seconds = number(text)?;
    WindowSettings::default().with_margin_s(seconds).map(|_| seconds).map_err(|error| error.to_string())
}

fn place_within(text: &str) -> Result<f64, String> {
    let metres = number(text)?;
    WindowSettings::default().with_place_m(metres).map(|_| metres).map_err(|error| error.to_string())
}

/// Two heights, metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heights(pub [f64; 2]);

fn heights(text: &str) -> Result<Heights, String> {
    let Some((low, high)) = text.split_once(',') else {
        return Err("give two heights in metres, such as 0,800".to_owned());
    };
    let range = [number(low.trim())?, number(high.trim())?];
    WindowSettings::default().with_unknown_height_m(range).map(|_| Heights(range)).map_err(|error| error.to_string())
}

impl TraceOptions {
    /// Which edge is asked for.
    pub fn edge(&self) -> EdgeShown {
        edge(&self.edge)
    }
}

/// The edge that was named; the names are checked when they are read.
fn edge(name: &str) -> EdgeShown {
    if name == EdgeShown::Smooth.word() { EdgeShown::Smooth } else { EdgeShown::True }
}

impl AtOptions {
    /// What is set about the window.
    pub fn window(&self) -> WindowSettings {
        // Each value was checked when it was read.
        let mut window = WindowSettings::default();
        window = self.margin.map_or(window, |s| window.with_margin_s(s).unwrap_or(window));
        window = self.place_within.map_or(window, |m| window.with_place_m(m).unwrap_or(window));
        self.height_range.map_or(window, |h| window.with_unknown_height_m(h.0).unwrap_or(window))
    }

    /// Which edge is shown.
    pub fn edge(&self) -> EdgeShown {
        edge(&self.edge)
    }
}

fn date(text: &str) -> Result<NaiveDate, String> {
    text.trim().parse().map_err(|_| "not a date; write it like 2028-07-22".to_owned())
}

fn kind(text: &str) -> Result<Kind, String> {
    text.parse()
}

fn quantity(text: &str) -> Result<Quantity, String> {
    text.parse()
}

fn place(text: &str) -> Result<GeoPoint, String> {
    let form = "write latitude and longitude in degrees like -33.87,151.21";
    let (lat, lon) = text.split_once(',').ok_or_else(|| format!("not a place; {form}"))?;
    let point = GeoPoint::new(number(lat)?, number(lon)?);
    point.map_err(|error| error.to_string())
}

/// Whether a path ends in an extension, in any case.
pub fn has_extension(path: &Path, extension: &str) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case(extension))
}
