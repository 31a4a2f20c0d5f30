//! Which column of a cloud CSV holds what: our own names, and those that archives give theirs.

use super::CoverUnit;
use super::plain::is_blank;
use crate::fault::{Fault, Faults};
use crate::input::table::{Row, Table};
use crate::outlook::line_of_sight::CoverKind;

/// The column of the time.
#[derive(Clone, Copy)]
pub(super) enum Time {
    /// `month`.
    Month(usize),
    /// `date`.
    Date(usize),
    /// `time` or `valid_time`: date and hour of UTC in one cell.
    Instant(usize),
}

/// Which column holds what.
pub(super) struct Columns {
    pub lat: usize,
    pub lon: usize,
    pub time: Time,
    /// The column, and whether it counts in UTC.
    pub hour: Option<(usize, bool)>,
    pub cloud: usize,
    /// The unit by the cloud column's name.
    pub unit: Option<CoverUnit>,
    pub unit_column: Option<usize>,
    pub layers: Option<[usize; 3]>,
    pub name: Option<usize>,
    pub kind: Option<usize>,
    /// The kind that the cloud column's name tells, and that column.
    pub kind_by_name: Option<(CoverKind, usize)>,
    pub source: Option<usize>,
    pub years: Option<usize>,
    pub years_deviation: Option<usize>,
    /// The cloud column has an archive's name: blanks are missing figures, not slips.
    pub archive: bool,
    pub extra: Vec<String>,
}

/// Names that archives give to total cloud cover, with unit and kind where the name settles them: `tcc` of the ECMWF's tables
/// (paramId 164, fraction), the CF standard name (canonical unit 1), MERRA-2's CLDTOT (fraction), Meteostat's cldc (oktas).
const ARCHIVE_NAMES: [(&str, Option<CoverUnit>, Option<CoverKind>); 6] = [
    ("tcc", Some(CoverUnit::Fraction), Some(CoverKind::Grid)),
    ("cloud_area_fraction", Some(CoverUnit::Fraction), Some(CoverKind::Grid)),
    ("cldtot", Some(CoverUnit::Fraction), Some(CoverKind::Grid)),
    ("clt", None, Some(CoverKind::Grid)),
    ("cldc", Some(CoverUnit::Okta), Some(CoverKind::Observed)),
    ("total_cloud_cover", None, None),
];

/// Names of low, middle and high cloud.
const LAYER_NAMES: [[&str; 3]; 3] =
    [["cloud_low", "cloud_middle", "cloud_high"], ["lcc", "mcc", "hcc"], ["cldlow", "cldmid", "cldhgh"]];

/// Every name that a cloud column can have, for messages.
pub(super) const CLOUD_NAMES: &str = "cloud_fraction, cloud_percent or cloud_okta (archives' own names are known too: tcc, cloud_area_fraction, cldtot, cldc)";

impl Columns {
    pub fn find(table: &Table, faults: &mut Faults) -> Option<Columns> {
        let header = |column: &str, wrong: &str, right: &str| Fault::of_cell(table.file(), 1, column, wrong, right);
        let of = |names: &[&str]| names.iter().find_map(|n| table.column(n));
        let lat = of(&["lat", "latitude"]).or_else(|| table.required("lat", faults));
        let lon = of(&["lon", "longitude"]).or_else(|| table.required("lon", faults));
        let instant = of(&["valid_time", "time", "datetime", "timestamp"]);
        let time = match (table.column("month"), table.column("date"), instant) {
            (Some(month), None, _) => Some(Time::Month(month)),
            (None, Some(date), _) => Some(Time::Date(date)),
            (Some(_), Some(_), _) => {
                faults.0.push(header(
                    "date",
                    "the header has both month and date",
                    "give means or day records, not both",
                ));
                None
            }
            (None, None, Some(instant)) => Some(Time::Instant(instant)),
            (None, None, None) => {
                let right = "add the one or the other (or valid_time, a date with its hour of UTC)";
                faults.0.push(header("month", "the header has neither month nor date", right));
                None
            }
        };
        let hour = match (table.column("hour"), table.column("hour_utc")) {
            (Some(_), Some(_)) => {
                faults.0.push(header("hour_utc", "the header has both hour and hour_utc", "give one of the two"));
                None
            }
            (solar, utc) => solar.map(|c| (c, false)).or(utc.map(|c| (c, true))),
        };
        let hour = hour.filter(|_| !matches!(time, Some(Time::Instant(_))));
        const UNITS: &str = "name it cloud_fraction, cloud_percent or cloud_okta, or add a unit column";
        let unit_column = table.column("unit");
        let mut clouds = Vec::new();
        for (i, column) in table.columns().iter().enumerate() {
            let name = column.to_ascii_lowercase();
            if name == "cloud" {
                clouds.push((i, None, None, false));
            } else if let Some(suffix) = name.strip_prefix("cloud_").filter(|s| *s != "area_fraction") {
                clouds.extend(CoverUnit::from_name(suffix).map(|unit| (i, Some(unit), None, false)));
            } else if let Some((_, unit, kind)) = ARCHIVE_NAMES.iter().find(|a| a.0 == name) {
                clouds.push((i, *unit, *kind, true));
            }
        }
        // A unit column speaks for its rows, whatever a name usually means.
        if unit_column.is_some() {
            clouds.iter_mut().filter(|c| c.3).for_each(|c| c.1 = None);
        }
        match clouds.as_slice() {
            [] => faults.0.push(header("cloud", "the column is missing", &format!("add it: {CLOUD_NAMES}"))),
            [(column, None, ..)] if unit_column.is_none() => {
                faults.0.push(header(&table.columns()[*column], "its unit is not given", UNITS));
            }
            [_] => {}
            [_, (second, ..), ..] => {
                let column = &table.columns()[*second];
                faults.0.push(header(
                    column,
                    "it is a second column of cloud amount",
                    "give one cloud column, in one unit",
                ));
            }
        }
        let (cloud, unit, by_name, archive) = *clouds.first()?;
        let layers = LAYER_NAMES.iter().find_map(|names| {
            let [low, middle, high] = names.map(|n| table.column(n));
            Some([low?, middle?, high?])
        });
        let (name, kind) = (table.column("name"), table.column("kind"));
        let (source, years) = (table.column("source"), table.column("years"));
        let years_deviation = table.column("years_deviation");
        let (lat, lon, time) = (lat?, lon?, time?);
        let (Time::Month(when) | Time::Date(when) | Time::Instant(when)) = time;
        let mut known = vec![lat, lon, when, cloud];
        known
            .extend([hour.map(|h| h.0), unit_column, name, kind, source, years, years_deviation].into_iter().flatten());
        known.extend(layers.into_iter().flatten());
        let extra = table.columns().iter().enumerate().filter(|(i, _)| !known.contains(i));
        let extra = extra.map(|(_, c)| c.clone()).collect();
        Some(Columns {
            lat,
            lon,
            time,
            hour,
            cloud,
            unit,
            unit_column,
            layers,
            name,
            kind,
            kind_by_name: by_name.map(|kind| (kind, cloud)),
            source,
            years,
            years_deviation,
            archive,
            extra,
        })
    }

    /// Whether the row holds no figure.
    pub fn is_blank(&self, row: &Row<'_>) -> bool {
        is_blank(row.text(self.cloud))
    }
}
