//! What all readers of candidates do alike: count, collect the columns, tell namesakes apart.

use std::collections::{HashMap, HashSet};

use chrono_tz::Tz;
use noonfall_ephemeris::GeoPoint;

use super::{Cell, SiteRow, Sites, Spot, TOO_LONG};
use crate::fault::{Fault, Faults, LISTED};
use crate::input::coordinates::signed_longitude;
use crate::places;
use crate::plan::nearest;

/// Columns by which places of one name are told apart, the first that tells them all apart.
const REGIONS: [&str; 8] = ["region", "state", "province", "county", "district", "municipality", "folder", "country"];

/// Places nearer than this are the same place, degrees: a metre.
const SAME_PLACE_DEG: f64 = 1e-5;

/// A candidate as a file gives it, its columns by name.
#[derive(Debug)]
pub(super) struct Draft {
    pub name: String,
    pub lat_deg: f64,
    pub lon_deg: f64,
    pub elevation_m: Option<f64>,
    pub zone: Option<Tz>,
    pub cells: Vec<(String, Cell)>,
    pub spot: Spot,
}

/// The candidates of a file while it is read.
#[derive(Debug)]
pub(super) struct Gather<'f> {
    file: &'f str,
    limit: u64,
    count: u64,
    columns: Vec<String>,
    index: HashMap<String, usize>,
    rows: Vec<SiteRow>,
    pub faults: Faults,
}

impl<'f> Gather<'f> {
    pub fn new(file: &'f str, limit: u64) -> Gather<'f> {
        Gather {
            file,
            limit,
            count: 0,
            columns: Vec::new(),
            index: HashMap::new(),
            rows: Vec::new(),
            faults: Faults::default(),
        }
    }

    /// Columns that stand even where no row fills them.
    pub fn with_columns(mut self, columns: impl IntoIterator<Item = String>) -> Self {
        for column in columns {
            self.column(&column);
        }
        self
    }

    /// Whether one more is to be read; false once there are more than accepted.
    pub fn more(&mut self) -> bool {
        self.faults.keep_short();
        self.count += 1;
        self.count <= self.limit
    }

    fn column(&mut self, name: &str) -> usize {
        if let Some(&i) = self.index.get(name) {
            return i;
        }
        self.columns.push(name.to_owned());
        self.index.insert(name.to_owned(), self.columns.len() - 1);
        self.columns.len() - 1
    }

    /// Keeps a candidate.
    pub fn push(&mut self, draft: Draft) {
        let mut cells = vec![Cell::Empty; self.columns.len()];
        for (name, cell) in draft.cells {
            let i = self.column(&name);
            cells.resize(self.columns.len().max(cells.len()), Cell::Empty);
            cells[i] = cell;
        }
        self.push_row(SiteRow {
            name: draft.name,
            lat_deg: draft.lat_deg,
            lon_deg: draft.lon_deg,
            elevation_m: draft.elevation_m,
            zone: draft.zone,
            cells,
            spot: draft.spot,
        });
    }

    /// Keeps a candidate whose cells stand in the order of the columns.
    pub fn push_row(&mut self, row: SiteRow) {
        self.rows.push(row);
    }

    /// All of them, or every fault. `none` says what is wrong where there is no candidate, and what would be right.
    pub fn finish(mut self, none: (&str, &str)) -> Result<Sites, Faults> {
        let width = self.columns.len();
        for row in &mut self.rows {
            row.cells.resize(width, Cell::Empty);
        }
        if self.count > self.limit {
            let wrong = format!("there are {} rows, more than the {} accepted", self.count, self.limit);
            self.faults.0.insert(0, Fault::of_file(self.file, wrong, TOO_LONG));
        }
        if self.count == 0 && self.faults.0.is_empty() {
            self.faults.0.push(Fault::of_file(self.file, none.0, none.1));
        }
        tell_apart(self.file, &self.columns, &mut self.rows, &mut self.faults);
        self.faults.or(Sites { file: self.file.to_owned(), columns: self.columns, rows: self.rows })
    }
}

/// Gives places that share a name names of their own; the same place twice is a fault.
pub(super) fn tell_apart(file: &str, columns: &[String], rows: &mut [SiteRow], faults: &mut Faults) {
    tell_apart_among(file, columns, rows, |_| false, faults);
}

/// The same for some rows of many; `taken` knows the names of the others.
pub(super) fn tell_apart_among(
    file: &str,
    columns: &[String],
    rows: &mut [SiteRow],
    taken: impl Fn(&str) -> bool,
    faults: &mut Faults,
) {
    let mut named: HashMap<String, Vec<usize>> = HashMap::new();
    for (i, row) in rows.iter().enumerate() {
        named.entry(row.name.clone()).or_default().push(i);
    }
    let free = |name: &str| !named.contains_key(name) && !taken(name);
    let mut shared: Vec<Vec<usize>> = named.values().filter(|same| same.len() > 1).cloned().collect();
    shared.sort();
    for same in &shared {
        let mut kept: Vec<usize> = Vec::new();
        // Of many namesakes only those near in latitude can be one place.
        let mut by_lat = same.clone();
        by_lat.sort_by(|&a, &b| rows[a].lat_deg.total_cmp(&rows[b].lat_deg).then(a.cmp(&b)));
        for &i in &by_lat {
            let twice = kept.iter().rev().take_while(|&&k| rows[i].lat_deg - rows[k].lat_deg <= SAME_PLACE_DEG);
            let twice = twice.copied().find(|&k| (rows[i].lon_deg - rows[k].lon_deg).abs() <= SAME_PLACE_DEG);
            if let Some(k) = twice {
                let (first, second) = (&rows[i.min(k)], &rows[i.max(k)]);
                let wrong = format!("\"{}\" is already the name of the same place ({})", second.name, first.spot);
                faults.0.push(second.spot.fault(file, "name", wrong, "give every place once"));
            } else {
                kept.push(i);
            }
        }
        let regions = REGIONS.iter().filter_map(|r| columns.iter().position(|c| c.eq_ignore_ascii_case(r)));
        let by_region = regions.into_iter().find_map(|c| {
            let texts: Option<Vec<String>> = same
                .iter()
                .map(|&i| match &rows[i].cells[c] {
                    Cell::Text(text) => Some(text.clone()),
                    _ => None,
                })
                .collect();
            texts.filter(|t| t.iter().collect::<HashSet<_>>().len() == t.len())
        });
        let mut number = 0;
        for (k, &i) in same.iter().enumerate() {
            let name = rows[i].name.clone();
            rows[i].name = match &by_region {
                Some(regions) if free(&format!("{name} ({})", regions[k])) => {
                    format!("{name} ({})", regions[k])
                }
                _ => loop {
                    number += 1;
                    let numbered = format!("{name} ({number})");
                    if free(&numbered) {
                        break numbered;
                    }
                },
            };
        }
    }
}

/// A name for a place that has none: its distance and direction from the nearest town.
pub(super) fn nameless(lat_deg: f64, lon_deg: f64) -> String {
    let town = GeoPoint::new(lat_deg, lon_deg).ok().and_then(places::nearest_town);
    town.map_or_else(|| format!("{lat_deg:.4}, {lon_deg:.4}"), |from| from.words())
}

/// A time zone by its name, or what is wrong and what would be right. Only a fault that will be shown is worth a look through all names.
pub(super) fn zone_of(text: &str, faults: usize) -> Result<Tz, (String, String)> {
    text.parse::<Tz>().map_err(|_| {
        let look = || nearest(text, chrono_tz::TZ_VARIANTS.iter().map(|z| z.name()));
        let right = match (faults < LISTED).then(look).flatten() {
            Some(near) => format!("did you mean {near}? Or leave it empty to have it looked up"),
            None => "give an IANA zone such as Australia/Sydney, or leave it empty to have it looked up".to_owned(),
        };
        (format!("\"{text}\" is not a time zone"), right)
    })
}

/// A cell from its text.
///
/// # Errors
/// What is wrong: "nan" and "inf" read as numbers in most programs; here they would be a silent hole.
pub(super) fn cell_of(text: &str) -> Result<Cell, String> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(Cell::Empty);
    }
    if ["nan", "inf", "infinity"].contains(&text.trim_start_matches(['+', '-']).to_ascii_lowercase().as_str()) {
        return Err(format!("\"{text}\" is not a number to work with"));
    }
    Ok(text.parse::<f64>().ok().filter(|x| x.is_finite()).map_or_else(|| Cell::Text(text.to_owned()), Cell::Number))
}

/// What the fields of a feature say besides its name and place.
#[derive(Debug)]
pub(super) struct Fields {
    elevation_names: &'static [&'static str],
    zone_names: &'static [&'static str],
    pub elevation_m: Option<f64>,
    pub zone: Option<Tz>,
    pub cells: Vec<(String, Cell)>,
}

impl Fields {
    /// Nothing yet; the names are those under which height and time zone stand.
    pub fn named(elevation_names: &'static [&'static str], zone_names: &'static [&'static str]) -> Fields {
        Fields { elevation_names, zone_names, elevation_m: None, zone: None, cells: Vec::new() }
    }

    /// Takes in a field.
    pub fn take(&mut self, file: &str, spot: Spot, key: &str, text: &str, faults: &mut Faults) {
        let mut wrong = |wrong: String, right: &str| faults.0.push(spot.fault(file, key, wrong, right));
        if self.elevation_names.contains(&key) {
            match text.trim().parse::<f64>() {
                Ok(metres) => self.elevation_m = Some(metres),
                Err(_) => wrong(format!("\"{text}\" is not an elevation"), A_HEIGHT),
            }
        } else if self.zone_names.contains(&key) {
            match zone_of(text.trim(), faults.0.len()) {
                Ok(zone) => self.zone = Some(zone),
                Err((what, right)) => faults.0.push(spot.fault(file, key, what, right)),
            }
        } else {
            match cell_of(text) {
                Ok(Cell::Empty) => {}
                Ok(cell) => self.cells.push((key.to_owned(), cell)),
                Err(what) => wrong(what, A_CELL),
            }
        }
    }

    /// Notes a height that there cannot be.
    pub fn check(&self, file: &str, spot: Spot, faults: &mut Faults) {
        if let Some(metres) = self.elevation_m.filter(|m| !HEIGHTS_M.contains(m)) {
            faults.0.push(spot.fault(file, "", format!("\"{metres}\" is not an elevation"), A_HEIGHT));
        }
    }
}

/// What would be right instead of a number that is none.
pub(super) const A_CELL: &str = "give a number, text, or leave it empty";

/// A place on the globe, or what is wrong with it; longitudes from 180 to 360 are taken as west of Greenwich.
pub(super) fn place_of(lat_deg: f64, lon_deg: f64) -> Result<(f64, f64), (String, &'static str)> {
    const DEGREES: &str = "give degrees, WGS 84, latitude from -90 to 90 and longitude from -180 to 180";
    if !(-90.0..=90.0).contains(&lat_deg) {
        return Err((format!("\"{lat_deg}\" is not a latitude"), DEGREES));
    }
    if !(-180.0..=360.0).contains(&lon_deg) {
        return Err((format!("\"{lon_deg}\" is not a longitude"), DEGREES));
    }
    Ok((lat_deg, signed_longitude(lon_deg)))
}

/// Heights accepted, metres above sea level.
pub(super) const HEIGHTS_M: std::ops::RangeInclusive<f64> = -500.0..=9000.0;
/// What would be right instead of a height that is none.
pub(super) const A_HEIGHT: &str = "give metres above sea level from -500 to 9000";
