//! The plan: one TOML file that says which eclipse, which places, what counts and by how much.
//!
//! Every key is described in the README. Unknown keys are refused with the nearest known one named; all faults of a plan
//! are reported together, each with its line. Paths in a plan are relative to the plan's folder.

mod read;
mod scaffold;
mod sites_keys;
mod sky_keys;
mod table;
mod window_keys;

use std::collections::BTreeMap;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::Eclipse;
use noonfall_shadow::moon_edge::{EdgeSettings, MoonHeights};

use crate::fault::{Fault, Faults};
use crate::outlook::totality::{EdgeShown, TotalityRules};
use crate::outlook::window::WindowSettings;
use crate::utility::Curve;

pub use scaffold::scaffold;
pub use sites_keys::{MOST_IN_A_REPORT, SitesKeys};
pub use sky_keys::SkyKeys;
pub use table::nearest;

/// A plan as read, every value checked.
#[derive(Clone, Debug)]
pub struct Plan {
    /// File name as the user gave it.
    pub file: String,
    /// The text, byte for byte.
    pub text: String,
    /// SHA-256 of the text, hexadecimal.
    pub sha256: String,
    /// Folder that relative paths start from.
    pub folder: PathBuf,
    /// `[eclipse]`
    pub eclipse: EclipseKeys,
    /// `[sites]`
    pub sites: Option<SitesKeys>,
    /// `[clouds]`
    pub clouds: Option<CloudKeys>,
    /// `[terrain]`
    pub terrain: TerrainKeys,
    /// `[sky]`
    pub sky: SkyKeys,
    /// `[score]`
    pub score: ScoreKeys,
    /// `[weights]`, with those of the profile where the plan gives none.
    pub weights: Vec<Weight>,
    /// `[require]`
    pub requirements: Vec<Requirement>,
    /// `[wish.*]`, with those of the profile where the plan gives none.
    pub wishes: BTreeMap<String, Wish>,
    /// `[search]`
    pub search: Option<SearchKeys>,
    /// `[fallback]`
    pub fallback: FallbackKeys,
    /// `[robustness]`
    pub robustness: RobustnessKeys,
    /// `[filters]`
    pub filters: FilterKeys,
    /// `[moon]`
    pub moon: MoonKeys,
    /// `[conventions]`
    pub conventions: ConventionKeys,
    /// `[output]`
    pub output: OutputKeys,
}

/// `[eclipse]`: which one, and with which Earth rotation.
#[derive(Clone, Debug, PartialEq)]
pub struct EclipseKeys {
    /// UTC date of greatest eclipse.
    pub date: NaiveDate,
    /// ΔT in seconds, where the plan gives its own.
    pub delta_t_s: Option<f64>,
    /// SPK kernel in place of the embedded one.
    pub kernel: Option<PathBuf>,
}

/// `[clouds]`: what is known of the sky.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CloudKeys {
    /// Climatology: files or folders of one archive, none where it is not known.
    pub file: Vec<PathBuf>,
    /// Day records, preferred to the climatology where they reach.
    pub records: Vec<PathBuf>,
    /// Forecast in place of both, for the days before.
    pub forecast: Vec<PathBuf>,
    /// What kind of amount the files give: observed sky cover, or grid cloud fraction.
    pub kind: Option<crate::outlook::line_of_sight::CoverKind>,
    /// How far a station's figures may be carried, km.
    pub reach_km: Option<f64>,
    /// Day records this many days before and after the date count as its season.
    pub half_window_days: Option<u32>,
    /// Height of clouds over their diameter, for grids.
    pub height_to_diameter: Option<f64>,
    /// Spread of cover about a bare mean.
    pub cover_spread: Option<f64>,
    /// Number of independent days that a bare mean is trusted as.
    pub mean_strength_days: Option<f64>,
    /// Height over diameter of low, middle and high cloud, where the archive has them apart.
    pub layer_height_to_diameter: [Option<f64>; 3],
    /// Share of high cloud that is seen through.
    pub high_see_through: Option<f64>,
}

impl CloudKeys {
    /// The options that the cloud reader works with.
    pub fn options(&self, forecast: bool) -> crate::outlook::cloud::CloudOptions {
        let default = crate::outlook::cloud::CloudOptions::default();
        crate::outlook::cloud::CloudOptions {
            kind: self.kind,
            reach_km: self.reach_km.unwrap_or(default.reach_km),
            half_window_days: self.half_window_days.unwrap_or(default.half_window_days),
            height_to_diameter: self.height_to_diameter.unwrap_or(default.height_to_diameter),
            cover_spread: self.cover_spread.unwrap_or(default.cover_spread),
            mean_strength_days: self.mean_strength_days.unwrap_or(default.mean_strength_days),
            layers: crate::outlook::cloud_layers::LayerModel {
                height_to_diameter: [0, 1, 2]
                    .map(|i| self.layer_height_to_diameter[i].unwrap_or(default.layers.height_to_diameter[i])),
                high_see_through: self.high_see_through.unwrap_or(default.layers.high_see_through),
            },
            forecast,
        }
    }
}

/// `[terrain]`: what hides the Sun.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TerrainKeys {
    /// Folder of elevation tiles.
    pub dir: Option<PathBuf>,
    /// Surveyed horizon CSV.
    pub horizon: Option<PathBuf>,
    /// Margin below which a site is warned about, degrees.
    pub thin_margin_deg: f64,
    /// Eye above the ground, m.
    pub eye_height_m: Option<f64>,
    /// Coefficient of terrestrial refraction.
    pub refraction_coefficient: Option<f64>,
    /// Ground farther away is not looked at, km.
    pub farthest_km: Option<f64>,
}

/// How the utilities are put together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mean {
    /// Weighted arithmetic mean: a weakness can be made up for.
    Arithmetic,
    /// Weighted geometric mean: a zero anywhere is a zero.
    Geometric,
}

impl Mean {
    /// The word used in plans and outputs.
    pub fn word(self) -> &'static str {
        match self {
            Mean::Arithmetic => "arithmetic",
            Mean::Geometric => "geometric",
        }
    }
}

/// `[score]`
#[derive(Clone, Debug, PartialEq)]
pub struct ScoreKeys {
    /// Which mean.
    pub mean: Mean,
    /// Name of the ready profile that the weights start from.
    pub profile: Option<String>,
}

/// One weight.
#[derive(Clone, Debug, PartialEq)]
pub struct Weight {
    /// Criterion: a built-in one or a column of the sites table.
    pub criterion: String,
    /// The weight as the plan gives it, not negative.
    pub weight: f64,
    /// Line in the plan, where it stands there.
    pub line: Option<u64>,
}

/// A hard requirement.
#[derive(Clone, Debug, PartialEq)]
pub struct Requirement {
    /// The key as written (`min_totality_s`).
    pub key: String,
    /// The criterion or column it speaks of.
    pub criterion: String,
    /// Least value accepted.
    pub at_least: Option<f64>,
    /// Greatest value accepted.
    pub at_most: Option<f64>,
    /// Line in the plan.
    pub line: Option<u64>,
}

/// A wish.
#[derive(Clone, Debug, PartialEq)]
pub struct Wish {
    /// Utility by value; `None` keeps the default curve.
    pub curve: Option<Curve>,
    /// Utility given to a place without a value; `None` rejects such a place.
    pub missing: Option<f64>,
    /// Unit to show beside a column's value.
    pub unit: Option<String>,
    /// Line in the plan, where it stands there.
    pub line: Option<u64>,
}

/// `[search]`: a grid over the whole path.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchKeys {
    /// Distance between neighbouring grid points, km.
    pub spacing_km: f64,
    /// How many places to keep.
    pub best: usize,
    /// Least distance between kept places, km.
    pub apart_km: f64,
    /// GeoJSON polygon to search in.
    pub polygon: Option<PathBuf>,
    /// Whether only dry land counts.
    pub land: bool,
    /// Steeper ground is left out, degrees.
    pub max_slope_deg: Option<f64>,
    /// Roads to keep near to: an OpenStreetMap extract or a GeoJSON of lines.
    pub roads: Option<PathBuf>,
    /// How near, km.
    pub road_distance_km: f64,
    /// Line of the table.
    pub line: Option<u64>,
}

/// What to do with a pair of places that the drive matrix does not hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MissingPair {
    /// Leave the pair out, and say so where it might have been within the limit.
    Skip,
    /// Take great-circle distance, detour and speed.
    Estimate,
    /// Refuse the plan, with all missing pairs listed.
    Refuse,
}

/// `[fallback]`: where to flee when the morning is grey.
#[derive(Clone, Debug, PartialEq)]
pub struct FallbackKeys {
    /// Base: a site, a town, or a place of its own name; the best site when absent.
    pub base: Option<String>,
    /// Line of the `base` key.
    pub base_line: Option<u64>,
    /// Where the base is, for one that is neither a site nor a town.
    pub base_at: Option<GeoPoint>,
    /// Longest drive accepted, hours.
    pub limit_hours: f64,
    /// Drive-hours matrix CSV.
    pub drive_hours: Option<PathBuf>,
    /// Road distance over great-circle distance, for the estimate.
    pub detour: f64,
    /// Speed for the estimate, km/h.
    pub speed_km_h: f64,
    /// Departures allow for drives so many times as long as on free roads: the roads of an eclipse morning are full (common
    /// practice, no source).
    pub traffic: f64,
    /// Time to set up before first contact, minutes.
    pub setup_minutes: f64,
    /// Least time to set up before second contact, minutes.
    pub least_setup_minutes: f64,
    /// What to do with a pair missing from the matrix.
    pub missing: MissingPair,
    /// How many fallbacks to list.
    pub list: usize,
}

/// `[robustness]`: how sure is the order.
#[derive(Clone, Debug, PartialEq)]
pub struct RobustnessKeys {
    /// Number of draws.
    pub draws: u64,
    /// Seed of the draws.
    pub seed: u64,
    /// Relative spread of each weight (standard deviation of its logarithm).
    pub weight_spread: f64,
    /// Spread of single weights.
    pub spread: BTreeMap<String, f64>,
    /// Width of the rank interval: the fraction of the draws inside it.
    pub interval: f64,
}

/// `[filters]`: the window for unaided eyes.
#[derive(Clone, Debug, PartialEq)]
pub struct FilterKeys {
    /// Margin, tolerance of place and heights.
    pub window: WindowSettings,
}

/// `[moon]`: the Moon's edge.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MoonKeys {
    /// Which edge outputs show.
    pub edge: EdgeShown,
    /// Grid of heights in place of the embedded one.
    pub grid: Option<PathBuf>,
}

/// `[conventions]`: constants that differ from the defaults.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ConventionKeys {
    /// Equatorial radius of the ellipsoid, km.
    pub earth_equatorial_radius_km: Option<f64>,
    /// Inverse flattening of the ellipsoid.
    pub earth_inverse_flattening: Option<f64>,
    /// Radius of the Sun, km.
    pub sun_radius_km: Option<f64>,
    /// Radius of the Sun that belongs with the Moon's true edge, km.
    pub sun_radius_true_edge_km: Option<f64>,
    /// Moon's radius for exterior contacts, in Earth's equatorial radii.
    pub moon_k_exterior: Option<f64>,
    /// Moon's radius for interior contacts, in Earth's equatorial radii.
    pub moon_k_interior: Option<f64>,
    /// Air pressure for refraction, hPa.
    pub pressure_hpa: Option<f64>,
    /// Air temperature for refraction, °C.
    pub temperature_c: Option<f64>,
}

/// How words stand in SVG files.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SvgText {
    /// As text with its fonts embedded, to be searched, selected and edited.
    #[default]
    Text,
    /// As outlines: the same in every program, those that ignore embedded fonts too.
    Outlines,
}

/// `[output]`: what to write.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputKeys {
    /// Title of the report.
    pub title: Option<String>,
    /// Name of the group.
    pub group: Option<String>,
    /// How many sites get a brief.
    pub briefs: usize,
    /// Whether the contacts of all described sites are written into one calendar as well.
    pub group_calendar: bool,
    /// How words stand in SVG files.
    pub svg_text: SvgText,
    /// The two sites to hold side by side.
    pub compare: Option<(String, String)>,
    /// The Sun counts as low below this altitude, degrees.
    pub low_sun_below_deg: f64,
    /// The Sun counts as high above this altitude, degrees.
    pub high_sun_above_deg: f64,
}

/// Plans longer than this are refused, in bytes (256 KiB).
const LONGEST: u64 = 256 << 10;

impl Plan {
    /// Reads a plan from a file.
    ///
    /// # Errors
    /// [`Faults`] with everything wrong in it.
    pub fn read(path: &Path) -> Result<Plan, Faults> {
        let file = path.display().to_string();
        let mut bytes = Vec::new();
        let read = std::fs::File::open(path).and_then(|f| f.take(LONGEST + 1).read_to_end(&mut bytes));
        read.map_err(|e| {
            Fault::of_file(&file, format!("the plan cannot be read ({})", e.kind()), "give the path of a TOML plan")
        })?;
        if bytes.len() as u64 > LONGEST {
            let right = "give a plan, which is a page or two; places belong in a table of their own";
            return Err(Fault::of_file(&file, "is longer than 256 KiB", right).into());
        }
        let text = String::from_utf8(bytes).map_err(|e| {
            let line = e.as_bytes()[..e.utf8_error().valid_up_to()].iter().filter(|b| **b == b'\n').count() as u64 + 1;
            Fault { line: Some(line), ..Fault::of_file(&file, "the text is not UTF-8", "save the plan as UTF-8") }
        })?;
        let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
        Plan::parse(&text, &file, &folder)
    }

    /// Reads a plan from text; `file` names it in messages, `folder` is where its relative paths start.
    ///
    /// # Errors
    /// [`Faults`] with everything wrong in it.
    pub fn parse(text: &str, file: &str, folder: &Path) -> Result<Plan, Faults> {
        read::parse(text, file, folder)
    }

    /// The plan's file name without its folders, so that outputs do not depend on where the plan lies.
    pub fn name(&self) -> String {
        let name = Path::new(&self.file).file_name().map(|n| n.to_string_lossy().into_owned());
        name.unwrap_or_else(|| self.file.clone())
    }

    /// A path of the plan as the program opens it.
    pub fn resolve(&self, path: &Path) -> PathBuf {
        self.folder.join(path)
    }

    /// The constants: the defaults with the plan's `[conventions]` laid over them.
    pub fn conventions(&self) -> noonfall_shadow::Conventions {
        let keys = &self.conventions;
        let mut c = noonfall_shadow::Conventions::default();
        let set = |to: &mut f64, from: Option<f64>| {
            if let Some(value) = from {
                *to = value;
            }
        };
        set(&mut c.earth_equatorial_radius_km, keys.earth_equatorial_radius_km);
        set(&mut c.earth_inverse_flattening, keys.earth_inverse_flattening);
        set(&mut c.sun_radius_km, keys.sun_radius_km);
        set(&mut c.moon_k_exterior, keys.moon_k_exterior);
        set(&mut c.moon_k_interior, keys.moon_k_interior);
        set(&mut c.pressure_hpa, keys.pressure_hpa);
        set(&mut c.temperature_c, keys.temperature_c);
        c
    }

    /// The rules by which totality and its window are found: the Moon's edge, the Sun's radius, what the window allows for.
    pub fn totality_rules(&self, eclipse: &Eclipse, heights: MoonHeights) -> TotalityRules {
        let mut edge = EdgeSettings::default();
        edge.sun_radius_km = self.conventions.sun_radius_true_edge_km.unwrap_or(edge.sun_radius_km);
        TotalityRules::new(eclipse, heights, edge, self.moon.edge, self.filters.window)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = r#"
[eclipse]
date = "2028-07-22"
[sites]
file = "sites.csv"
[weights]
totality = 2
clear_sky = 3.5
drive_hours = 1
[wish.drive_hours]
better = "lower"
from = 0
to = 8
[require]
min_totality_s = 60
max_drive_hours = 9
"#;

    fn faults(text: &str) -> String {
        Plan::parse(text, "plan.toml", Path::new("")).unwrap_err().to_string()
    }

    #[test]
    fn a_plain_plan_reads() {
        let plan = Plan::parse(GOOD, "trips/plan.toml", Path::new("trips")).unwrap();
        assert_eq!(plan.name(), "plan.toml");
        assert_eq!(plan.eclipse.date.to_string(), "2028-07-22");
        assert_eq!(plan.weights.len(), 3);
        assert_eq!(plan.requirements[0].criterion, "totality");
        assert_eq!(plan.requirements[1].criterion, "drive_hours");
        assert_eq!(plan.requirements[1].at_most, Some(9.0));
        assert_eq!(plan.resolve(Path::new("sites.csv")), Path::new("trips/sites.csv"));
        assert_eq!(plan.sha256.len(), 64);
        assert_eq!(plan.score.mean, Mean::Arithmetic);
    }

    #[test]
    fn unknown_keys_name_line_and_nearest() {
        let text = faults(&GOOD.replace("file = \"sites.csv\"", "fiel = \"sites.csv\""));
        assert!(text.contains("plan.toml:5: key sites.fiel: there is no such key; did you mean file?"), "{text}");
        assert!(text.contains("key sites.file"), "{text}");
        let text = faults(&format!("{GOOD}\n[robustnes]\ndraws = 3000\n"));
        assert!(text.contains("key robustnes: there is no such key; did you mean robustness?"), "{text}");
        // Every key is named once.
        let text = faults(&format!("{GOOD}\n[fallback]\nbse = \"A\"\n"));
        assert!(text.contains("did you mean base? Known: base, base_lat, base_lon, limit_hours"), "{text}");
    }

    #[test]
    fn negative_zero_and_textual_weights_are_all_refused_at_once() {
        let text = faults(
            "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n[weights]\ntotality = -1\nclear_sky = \"much\"\nsun_altitude = nan\n",
        );
        assert!(text.contains("plan.toml:6: key weights.totality: -1 is out of range"), "{text}");
        assert!(text.contains("plan.toml:7: key weights.clear_sky: \"much\" is text"), "{text}");
        assert!(text.contains("plan.toml:8: key weights.sun_altitude: NaN is not a number to work with"), "{text}");
        let text = faults("[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n[weights]\ntotality = 0\n");
        assert!(text.contains("key weights: all weights are zero"), "{text}");
    }

    #[test]
    fn a_column_needs_a_wish() {
        let text = faults(&GOOD.replace("[wish.drive_hours]\nbetter = \"lower\"\nfrom = 0\nto = 8\n", ""));
        assert!(text.contains("key weights.drive_hours: the column has no wish"), "{text}");
    }

    #[test]
    fn a_wish_upside_down_is_refused() {
        let text = faults(&GOOD.replace("from = 0\nto = 8", "from = 8\nto = 0"));
        assert!(text.contains("key wish.drive_hours: from 8 is not below to 0"), "{text}");
    }

    #[test]
    fn profiles_give_weights_that_the_plan_can_change() {
        let plan = Plan::parse(
            "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n[score]\nprofile = \"families\"\n[weights]\ntotality = 9\n",
            "plan.toml",
            Path::new(""),
        )
        .unwrap();
        let weight = |name: &str| plan.weights.iter().find(|w| w.criterion == name).map(|w| w.weight);
        assert_eq!(weight("totality"), Some(9.0));
        assert_eq!(weight("clear_sky"), Some(5.0));
        assert!(plan.wishes.contains_key("sun_altitude"));
        let text = faults("[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n[score]\nprofile = \"familys\"\n");
        assert!(text.contains("did you mean families?"), "{text}");
    }

    #[test]
    fn syntax_errors_name_their_line() {
        let text = faults("[eclipse]\ndate = \n");
        assert!(text.starts_with("plan.toml:2:"), "{text}");
    }

    #[test]
    fn missing_date_and_impossible_date() {
        assert!(faults("[sites]\nfile = \"s.csv\"\n").contains("key eclipse.date"));
        assert!(faults(&GOOD.replace("2028-07-22", "2028-02-30")).contains("\"2028-02-30\" is not a date"));
    }

    #[test]
    fn every_ready_profile_reads_back_as_a_plan() {
        for profile in crate::profile::PROFILES {
            let text = format!("[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"s.csv\"\n{}", profile.to_toml());
            let plan = Plan::parse(&text, "plan.toml", Path::new("")).unwrap();
            assert_eq!(plan.weights.len(), profile.weights.len());
            for (name, wish) in profile.wishes {
                assert_eq!(plan.wishes[*name].curve, Some(wish.curve()));
            }
        }
    }
}
