//! A table of candidates: `name, lat, lon`, optional `elevation_m, zone`, and any further columns.

use super::gather::{A_CELL, A_HEIGHT, Gather, HEIGHTS_M, cell_of, zone_of};
use super::{Cell, SiteRow, Sites, Spot};
use crate::fault::Faults;
use crate::input::table::{Row, Table};
use crate::plan::nearest;

/// The columns that are known and the headers that they go by, the first found of each.
const NAME: [&str; 6] = ["name", "site", "place", "town", "title", "station"];
const LAT: [&str; 3] = ["lat", "latitude", "lat_deg"];
const LON: [&str; 5] = ["lon", "longitude", "lon_deg", "lng", "long"];
const ELEVATION: [&str; 4] = ["elevation_m", "altitude_m", "height_m", "ele_m"];
const ZONE: [&str; 4] = ["zone", "time_zone", "timezone", "tz"];

/// Reads a table of candidates.
///
/// # Errors
/// Every fault of the table.
pub(super) fn read(file: &str, bytes: Vec<u8>, limit: u64) -> Result<Sites, Faults> {
    let table = Table::from_bytes(file, bytes)?;
    let columns = Columns::of(&table)?;
    let mut faults = Faults::default();
    let mut gather = Gather::new(file, limit).with_columns(columns.names(&table));
    table.rows(&mut faults, |row, faults| {
        if gather.more()
            && let Some(row) = columns.row(row, faults)
        {
            gather.push_row(row);
        }
    });
    gather.faults = faults;
    gather.finish(NO_ROW)
}

/// What is wrong with a table that has a header only, and what would be right.
pub(super) const NO_ROW: (&str, &str) = ("there is a header but no site", "give at least one row");

/// Where the columns stand.
#[derive(Debug)]
pub(super) struct Columns {
    name: usize,
    lat: usize,
    lon: usize,
    elevation: Option<usize>,
    zone: Option<usize>,
    further: Vec<usize>,
}

impl Columns {
    /// The columns of a table, by its header.
    ///
    /// # Errors
    /// A column that must be there and is not.
    pub fn of(table: &Table) -> Result<Columns, Faults> {
        let mut faults = Faults::default();
        let mut required = |names: &[&str]| {
            let found =
                names.iter().find_map(|name| table.column(name)).or_else(|| table.required(names[0], &mut faults));
            if found.is_none()
                && let Some(fault) = faults.0.last_mut()
                && let Some(near) = names.iter().find_map(|n| nearest(n, table.columns().iter().map(String::as_str)))
            {
                fault.right = format!("rename the column {near} to {}", names[0]);
            }
            found
        };
        let (name, lat, lon) = (required(&NAME), required(&LAT), required(&LON));
        let (Some(name), Some(lat), Some(lon)) = (name, lat, lon) else { return Err(faults) };
        let optional = |names: &[&str]| names.iter().find_map(|name| table.column(name));
        let (elevation, zone) = (optional(&ELEVATION), optional(&ZONE));
        let known = [Some(name), Some(lat), Some(lon), elevation, zone];
        let further = (0..table.columns().len()).filter(|i| !known.contains(&Some(*i))).collect();
        Ok(Columns { name, lat, lon, elevation, zone, further })
    }

    /// Names of the further columns.
    pub fn names(&self, table: &Table) -> Vec<String> {
        self.further.iter().map(|&i| table.columns()[i].clone()).collect()
    }

    /// A row, unless something is wrong with it.
    pub fn row(&self, row: &Row<'_>, faults: &mut Faults) -> Option<SiteRow> {
        let before = faults.0.len();
        let given = |column: Option<usize>| column.filter(|&c| !row.text(c).is_empty());
        let mut keep = |result: Result<f64, _>| result.map_err(|f| faults.0.push(f)).ok();
        let lat_deg = keep(row.latitude(self.lat));
        let lon_deg = keep(row.longitude(self.lon));
        let (low, high) = (*HEIGHTS_M.start(), *HEIGHTS_M.end());
        let elevation_m =
            given(self.elevation).and_then(|c| keep(row.number_within(c, low, high, "an elevation", A_HEIGHT)));
        let name = row.text(self.name).to_owned();
        if name.is_empty() {
            faults.0.push(row.fault(self.name, "the name is empty", "give every site a name of its own"));
        }
        let zone = given(self.zone).and_then(|c| match zone_of(row.text(c), faults.0.len()) {
            Ok(zone) => Some(zone),
            Err((wrong, right)) => {
                faults.0.push(row.fault(c, wrong, right));
                None
            }
        });
        let mut cells = Vec::with_capacity(self.further.len());
        for &c in &self.further {
            cells.push(match cell_of(row.text(c)) {
                // The table's own reading of numbers knows decimal commas.
                Ok(Cell::Text(text)) => row.number(c, "").map_or(Cell::Text(text), Cell::Number),
                Ok(cell) => cell,
                Err(wrong) => {
                    faults.0.push(row.fault(c, wrong, A_CELL));
                    Cell::Empty
                }
            });
        }
        let (lat_deg, lon_deg) = (lat_deg?, lon_deg?);
        let spot = Spot::Line(row.line());
        (faults.0.len() == before).then_some(SiteRow { name, lat_deg, lon_deg, elevation_m, zone, cells, spot })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::sites::{Cell, Sites};

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
            "sites.csv:5: column beds: \"nan\" is not a number to work with",
            "sites.csv:6: column name: the name is empty",
        ] {
            assert!(text.contains(part), "{part}\n{text}");
        }
    }

    #[test]
    fn headers_are_asked_for_by_name() {
        let text = read("site,latitud,lon\nA,1,2\n").unwrap_err().to_string();
        assert!(text.contains("column lat: the column is missing"), "{text}");
        assert!(text.contains("rename the column latitud to lat"), "{text}");
        assert!(read("").unwrap_err().to_string().contains("is empty"));
        assert!(read("name,lat,lon\n").unwrap_err().to_string().contains("a header but no site"));
        assert!(read("A,1,2\nB,2,3\n").unwrap_err().to_string().contains("the first line is data"));
    }

    #[test]
    fn namesakes_are_told_apart_and_the_same_place_twice_is_refused() {
        let names = |text: &str| read(text).unwrap().rows.into_iter().map(|r| r.name).collect::<Vec<_>>();
        let told = names("name,lat,lon,region\nA,1,2,north\nB,3,4,\nA,5,6,south\n");
        assert_eq!(told, ["A (north)", "B", "A (south)"]);
        assert_eq!(names("name,lat,lon\nA,1,2\nA (1),3,4\nA,5,6\n"), ["A (2)", "A (1)", "A (3)"]);
        let text = read("name,lat,lon\nA,1,2\nB,1,2\nA,1.000001,2\n").unwrap_err().to_string();
        assert!(
            text.contains("sites.csv:4: column name: \"A\" is already the name of the same place (line 2)"),
            "{text}"
        );
    }

    #[test]
    fn columns_go_by_their_usual_names_and_angles_by_their_usual_spellings() {
        let text =
            "Site\tLatitude\tLongitude\tbeds\nA\t15\u{b0}29\u{2032}13.2\u{2033} S\t128 7.5 E\t3\nB\t-16,5\t129\t\n";
        let sites = read(text).unwrap();
        assert!((sites.rows[0].lat_deg + 15.487).abs() < 1e-9 && (sites.rows[0].lon_deg - 128.125).abs() < 1e-9);
        assert_eq!((sites.rows[1].lat_deg, sites.columns.as_slice()), (-16.5, &["beds".to_owned()][..]));
        let latin = b"name;lat;lon\nVilla del R\xedo;-30;-70\n".to_vec();
        assert_eq!(Sites::from_bytes("s.csv", latin, 9).unwrap().rows[0].name, "Villa del R\u{ed}o");
        let text = read("name,lat,lon\nA,15 E,2\nB,1,15\u{b0}61\u{2032}E\n").unwrap_err().to_string();
        assert!(text.contains("s.csv:2: column lat: \"15 E\" is no latitude: it says E"), "{text}");
        assert!(text.contains("s.csv:3: column lon: \"15\u{b0}61\u{2032}E\" has 61 minutes"), "{text}");
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
