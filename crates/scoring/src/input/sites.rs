//! Sites CSV: `name, lat, lon`, optional `elevation_m, zone`, and any further columns, kept and usable as criteria.

use std::collections::HashMap;
use std::path::Path;

use chrono_tz::Tz;

use super::table::{Row, Table, read_bytes};
use crate::fault::{Fault, Faults, LISTED};
use crate::plan::nearest;

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

/// One candidate as given.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteRow {
    /// Name, unique in the file.
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
    /// Line in the file.
    pub line: u64,
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

/// What would be right where a table is too long, for a plan.
pub(crate) const TOO_LONG: &str = "raise sites.limit in the plan, or let [search] look over the path instead";

impl Sites {
    /// Reads a sites CSV; `limit` is the most rows accepted.
    ///
    /// # Errors
    /// Every fault of the file.
    pub fn read(path: &Path, limit: u64) -> Result<Sites, Faults> {
        Sites::from_bytes(&path.display().to_string(), read_bytes(path)?, limit)
    }

    /// Reads sites from CSV text; `file` names it in messages.
    ///
    /// # Errors
    /// Every fault of the text.
    pub fn from_bytes(file: &str, bytes: Vec<u8>, limit: u64) -> Result<Sites, Faults> {
        let table = Table::from_bytes(file, bytes)?;
        let mut faults = Faults::default();
        let mut required = |name: &str| {
            let found = table.required(name, &mut faults);
            if found.is_none()
                && let Some(fault) = faults.0.last_mut()
                && let Some(near) = near_header(name, table.columns())
            {
                fault.right = format!("rename the column {near} to {name}");
            }
            found
        };
        let (name, lat, lon) = (required("name"), required("lat"), required("lon"));
        let (Some(name), Some(lat), Some(lon)) = (name, lat, lon) else { return Err(faults) };
        let elevation = table.column("elevation_m");
        let zone = table.column("zone");
        let known = [Some(name), Some(lat), Some(lon), elevation, zone];
        let further: Vec<usize> = (0..table.columns().len()).filter(|i| !known.contains(&Some(*i))).collect();
        let columns = further.iter().map(|&i| table.columns()[i].clone()).collect();

        let mut rows: Vec<SiteRow> = Vec::new();
        let mut seen: HashMap<String, u64> = HashMap::new();
        let mut count = 0_u64;
        table.rows(&mut faults, |row, faults| {
            count += 1;
            if count > limit {
                return;
            }
            let before = faults.0.len();
            let mut keep = |result: Result<f64, Fault>| result.map_err(|f| faults.0.push(f)).ok();
            let lat_deg = keep(row.latitude(lat));
            let lon_deg = keep(row.longitude(lon));
            let elevation_m = elevation.filter(|&c| !row.text(c).is_empty()).and_then(|c| {
                keep(row.number_within(
                    c,
                    -500.0,
                    9000.0,
                    "an elevation",
                    "give metres above sea level from -500 to 9000",
                ))
            });
            let title = row.text(name).to_string();
            if title.is_empty() {
                faults.0.push(row.fault(name, "the name is empty", "give every site a name of its own"));
            } else if let Some(first) = seen.insert(title.clone(), row.line()) {
                let wrong = format!("\"{title}\" is already the name on line {first}");
                faults.0.push(row.fault(name, wrong, "give every site a name of its own"));
                seen.insert(title.clone(), first);
            }
            let zone = zone.filter(|&c| !row.text(c).is_empty()).and_then(|c| zone_of(row, c, faults));
            let cells = further
                .iter()
                .map(|&c| {
                    cell(row, c).unwrap_or_else(|f| {
                        faults.0.push(f);
                        Cell::Empty
                    })
                })
                .collect();
            if let (Some(lat_deg), Some(lon_deg)) = (lat_deg, lon_deg)
                && faults.0.len() == before
            {
                rows.push(SiteRow { name: title, lat_deg, lon_deg, elevation_m, zone, cells, line: row.line() });
            }
        });
        if count > limit {
            let wrong = format!("there are {count} rows, more than the {limit} accepted");
            faults.0.insert(0, Fault::of_file(file, wrong, TOO_LONG));
        }
        if count == 0 && faults.0.is_empty() {
            faults.0.push(Fault::of_file(file, "there is a header but no site", "give at least one row"));
        }
        faults.or(Sites { file: file.to_string(), columns, rows })
    }

    /// Index of a further column.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|c| c == name)
    }
}

/// A header that was probably meant: `latitude` for `lat`, `long` for `lon`, `site` for `name`.
fn near_header<'c>(name: &str, columns: &'c [String]) -> Option<&'c str> {
    let aliases: &[&str] = match name {
        "lat" => &["latitude", "lat_deg", "breite"],
        "lon" => &["longitude", "lon_deg", "lng", "long"],
        _ => &["site", "place", "town", "title"],
    };
    let alias = columns.iter().find(|c| aliases.iter().any(|a| c.eq_ignore_ascii_case(a)));
    alias.map(String::as_str).or_else(|| nearest(name, columns.iter().map(String::as_str)))
}

fn zone_of(row: &Row<'_>, column: usize, faults: &mut Faults) -> Option<Tz> {
    let text = row.text(column);
    match text.parse::<Tz>() {
        Ok(zone) => Some(zone),
        Err(_) => {
            // Only faults that will be shown are worth a look through all names.
            let look = || nearest(text, chrono_tz::TZ_VARIANTS.iter().map(|z| z.name()));
            let near = (faults.0.len() < LISTED).then(look).flatten();
            let right = match near {
                Some(near) => format!("did you mean {near}? Or leave it empty to have it looked up"),
                None => {
                    "give an IANA zone such as Australia/Sydney, or leave it empty to have it looked up".to_string()
                }
            };
            faults.0.push(row.fault(column, format!("\"{text}\" is not a time zone"), right));
            None
        }
    }
}

fn cell(row: &Row<'_>, column: usize) -> Result<Cell, Fault> {
    let text = row.text(column);
    if text.is_empty() {
        return Ok(Cell::Empty);
    }
    // "nan" and "inf" read as numbers in most programs; here they would be a silent hole.
    if ["nan", "inf", "infinity"].contains(&text.trim_start_matches(['+', '-']).to_ascii_lowercase().as_str()) {
        return Err(row.fault(
            column,
            format!("\"{text}\" is not a number to work with"),
            "give a number, text, or leave it empty",
        ));
    }
    Ok(row.number(column, "").map_or_else(|_| Cell::Text(text.to_string()), Cell::Number))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Sites, Faults> {
        Sites::from_bytes("sites.csv", text.as_bytes().to_vec(), 1000)
    }

    #[test]
    fn further_columns_are_kept() {
        let sites = read(
            "\u{feff}name;lat;lon;zone;beds;note\nA;-30,5;145.9;;12;near the river\nB;-31;-170;Pacific/Auckland;;\n",
        )
        .unwrap();
        assert_eq!(sites.columns, ["beds", "note"]);
        assert_eq!(sites.rows[0].lat_deg, -30.5);
        assert_eq!(sites.rows[0].cells, [Cell::Number(12.0), Cell::Text("near the river".into())]);
        assert_eq!(sites.rows[1].cells, [Cell::Empty, Cell::Empty]);
        assert_eq!(sites.rows[1].zone, Some(chrono_tz::Pacific::Auckland));
        assert_eq!(sites.rows[1].elevation_m, None);
    }

    #[test]
    fn all_wrong_cells_are_listed() {
        let text = read("name,lat,lon,elevation_m,zone,beds\nA,95,10,0,,1\nB,abc,10,1e7,,2\nC,1,10,,Europe/Berlinn,3\nA,1,2,,,nan\n,1,2,,,1\n")
            .unwrap_err()
            .to_string();
        for part in [
            "sites.csv:2: column lat: \"95\" is not a latitude",
            "sites.csv:3: column lat: \"abc\" is not a number",
            "sites.csv:3: column elevation_m: \"1e7\" is not an elevation",
            "sites.csv:4: column zone: \"Europe/Berlinn\" is not a time zone; did you mean Europe/Berlin?",
            "sites.csv:5: column name: \"A\" is already the name on line 2",
            "sites.csv:5: column beds: \"nan\" is not a number to work with",
            "sites.csv:6: column name: the name is empty",
        ] {
            assert!(text.contains(part), "{part}\n{text}");
        }
    }

    #[test]
    fn headers_are_asked_for_by_name() {
        let text = read("site,latitude,longitude\nA,1,2\n").unwrap_err().to_string();
        assert!(text.contains("column lat: the column is missing"), "{text}");
        assert!(text.contains("rename the column latitude to lat"), "{text}");
        assert!(read("").unwrap_err().to_string().contains("is empty"));
        assert!(read("name,lat,lon\n").unwrap_err().to_string().contains("a header but no site"));
        assert!(read("A,1,2\nB,2,3\n").unwrap_err().to_string().contains("the first line is data"));
    }

    #[test]
    fn a_million_rows_are_read_or_refused_but_never_cut_short() {
        let mut text = String::from("name,lat,lon\n");
        for i in 0..2000 {
            text.push_str(&format!("s{i},{},{}\n", i as f64 / 100.0, 10));
        }
        assert_eq!(Sites::from_bytes("s.csv", text.clone().into_bytes(), 2000).unwrap().rows.len(), 2000);
        let refused = Sites::from_bytes("s.csv", text.into_bytes(), 1999).unwrap_err().to_string();
        assert!(refused.contains("there are 2000 rows, more than the 1999 accepted; raise sites.limit"), "{refused}");
    }
}
