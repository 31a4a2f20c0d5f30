//! A surveyed horizon: `name, azimuth_deg, altitude_deg`, as read with a compass and a clinometer or a theodolite at the site.

use std::collections::BTreeMap;
use std::path::Path;

use super::table::Table;
use crate::fault::{Fault, Faults};

/// Surveyed points farther apart than this are not joined, degrees of azimuth.
pub const WIDEST_GAP_DEG: f64 = 15.0;

/// The surveyed skyline of one site.
#[derive(Clone, Debug, PartialEq)]
pub struct SurveyedHorizon {
    /// The site's name.
    pub name: String,
    /// Azimuth (0 to below 360) and altitude, degrees, by azimuth.
    points: Vec<(f64, f64)>,
}

impl SurveyedHorizon {
    /// Altitude of the skyline at an azimuth, between the surveyed points; `None` where they are more than 15° apart.
    ///
    /// # Units
    /// Degrees, from north through east; altitude as seen.
    pub fn altitude_deg(&self, azimuth_deg: f64) -> Option<f64> {
        let (first, last) = (self.points.first()?, self.points.last()?);
        let azimuth = azimuth_deg.rem_euclid(360.0);
        let after = self.points.partition_point(|p| p.0 <= azimuth);
        let before = if after == 0 { (last.0 - 360.0, last.1) } else { self.points[after - 1] };
        if before.0 == azimuth {
            return Some(before.1);
        }
        let next = self.points.get(after).copied().unwrap_or((first.0 + 360.0, first.1));
        let gap = next.0 - before.0;
        (gap > 0.0 && gap <= WIDEST_GAP_DEG).then(|| before.1 + (next.1 - before.1) * (azimuth - before.0) / gap)
    }

    /// The surveyed points: azimuth and altitude, degrees.
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }
}

/// Azimuth, altitude and line of a surveyed point.
type Surveyed = (f64, f64, u64);

/// The surveyed skylines of a file.
#[derive(Clone, Debug, PartialEq)]
pub struct HorizonSurvey {
    file: String,
    /// By lower-case name.
    sites: BTreeMap<String, SurveyedHorizon>,
}

impl HorizonSurvey {
    /// Reads a horizon CSV.
    ///
    /// # Errors
    /// Every wrong row: numbers out of range, one azimuth twice, a site with a single point.
    pub fn open(path: &Path) -> Result<HorizonSurvey, Faults> {
        HorizonSurvey::from_table(&Table::open(path)?)
    }

    /// Reads horizon CSV text; `file` is the name used in messages.
    ///
    /// # Errors
    /// As [`HorizonSurvey::open`].
    pub fn from_bytes(file: &str, bytes: Vec<u8>) -> Result<HorizonSurvey, Faults> {
        HorizonSurvey::from_table(&Table::from_bytes(file, bytes)?)
    }

    fn from_table(table: &Table) -> Result<HorizonSurvey, Faults> {
        let mut faults = Faults::default();
        let name = table.required("name", &mut faults);
        let (azimuth, altitude) =
            (table.required("azimuth_deg", &mut faults), table.required("altitude_deg", &mut faults));
        let (Some(name), Some(azimuth), Some(altitude)) = (name, azimuth, altitude) else { return Err(faults) };
        // By lower-case name, each with the name as first written.
        let mut found: BTreeMap<String, (String, Vec<Surveyed>)> = BTreeMap::new();
        let mut rows = 0_usize;
        table.rows(&mut faults, |row, faults| {
            rows += 1;
            let text = row.text(name);
            if text.is_empty() {
                faults.0.push(row.fault(name, "the cell is empty", "give the site's name"));
            }
            let east = row.number_within(
                azimuth,
                -180.0,
                360.0,
                "an azimuth",
                "give degrees from 0 to 360, from north through east",
            );
            let up =
                row.number_within(altitude, -10.0, 90.0, "an altitude of the skyline", "give degrees from -10 to 90");
            match (east, up) {
                (Ok(east), Ok(up)) if !text.is_empty() => {
                    let site = found.entry(text.to_lowercase()).or_insert_with(|| (text.to_owned(), Vec::new()));
                    site.1.push((east.rem_euclid(360.0), up, row.line()));
                }
                (east, up) => faults.0.extend([east.err(), up.err()].into_iter().flatten()),
            }
        });
        let column = |i: usize| table.columns()[i].clone();
        let mut sites = BTreeMap::new();
        for (key, (name_text, mut points)) in found {
            points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
            for pair in points.windows(2).filter(|p| p[0].0 == p[1].0) {
                let wrong = format!("the same azimuth of {name_text:?} as on line {}", pair[0].2);
                faults.0.push(Fault::of_cell(
                    table.file(),
                    pair[1].2,
                    column(azimuth),
                    wrong,
                    "give each azimuth only once",
                ));
            }
            if let [only] = points.as_slice() {
                let wrong = format!("{name_text:?} has a single point");
                let right = format!("survey the skyline at least every {WIDEST_GAP_DEG:.0}° along the Sun's track");
                faults.0.push(Fault::of_cell(table.file(), only.2, column(name), wrong, right));
            }
            let points = points.into_iter().map(|(azimuth, altitude, _)| (azimuth, altitude)).collect();
            sites.insert(key, SurveyedHorizon { name: name_text, points });
        }
        if rows == 0 && faults.0.is_empty() {
            faults.0.push(Fault::of_file(table.file(), "has a header but no rows", "give the points of a skyline"));
        }
        faults.0.sort_by_key(|f| f.line);
        faults.or(HorizonSurvey { file: table.file().to_owned(), sites })
    }

    /// The file's name.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The skyline of a site by name; without a name, that of a file with one site.
    pub fn of(&self, name: Option<&str>) -> Option<&SurveyedHorizon> {
        match name {
            Some(name) => self.sites.get(&name.trim().to_lowercase()),
            None if self.sites.len() == 1 => self.sites.values().next(),
            None => None,
        }
    }

    /// The names of the sites surveyed.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.sites.values().map(|s| s.name.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<HorizonSurvey, Faults> {
        HorizonSurvey::from_bytes("h.csv", text.as_bytes().to_vec())
    }

    #[test]
    fn the_skyline_runs_between_points_and_through_north() {
        let survey =
            read("name,azimuth_deg,altitude_deg\nHut,350,2\nHut,2,5\nHut,10,1\nHut,30,1\nBay,0,0\nBay,10,0\n").unwrap();
        let hut = survey.of(Some("hut ")).unwrap();
        assert_eq!(hut.altitude_deg(350.0), Some(2.0));
        assert!((hut.altitude_deg(356.0).unwrap() - 3.5).abs() < 1e-12);
        assert!((hut.altitude_deg(-358.0).unwrap() - 5.0).abs() < 1e-12);
        assert_eq!(hut.altitude_deg(6.0), Some(3.0));
        assert_eq!(hut.altitude_deg(20.0), None);
        assert_eq!(hut.altitude_deg(180.0), None);
        assert!(survey.of(None).is_none() && survey.of(Some("other")).is_none());
        assert_eq!(survey.names().collect::<Vec<_>>(), ["Bay", "Hut"]);
    }

    #[test]
    fn every_wrong_row_is_listed() {
        let text =
            "name,azimuth_deg,altitude_deg\nA,400,1\nA,10,95\n,10,1\nA,20,NaN\nB,5,1\nB,365,2\nC,0,1\nC,360,1\nD,7,1\n";
        let text = read(text).unwrap_err().to_string();
        assert_eq!(text.lines().count(), 8, "{text}");
        assert!(text.contains("h.csv:2: column azimuth_deg: \"400\" is not an azimuth"), "{text}");
        assert!(text.contains("h.csv:3: column altitude_deg: \"95\" is not an altitude of the skyline"), "{text}");
        assert!(text.contains("h.csv:9: column azimuth_deg: the same azimuth of \"C\" as on line 8"), "{text}");
        assert!(text.contains("h.csv:10: column name: \"D\" has a single point"), "{text}");
        assert!(
            read("name,azimuth,altitude_deg\nA,1,1\n")
                .unwrap_err()
                .to_string()
                .contains("azimuth_deg: the column is missing")
        );
        assert!(read("name,azimuth_deg,altitude_deg\n").unwrap_err().to_string().contains("no rows"));
    }

    proptest::proptest! {
        #[test]
        fn no_bytes_upset_the_reader(
            tail in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..200),
            text in "([A-B],[0-9.-]{1,5},[0-9.-]{1,4}\n){0,12}",
            azimuth in -720.0..720.0_f64,
        ) {
            let header = b"name,azimuth_deg,altitude_deg\n".to_vec();
            for body in [tail, text.into_bytes()] {
                if let Ok(survey) = HorizonSurvey::from_bytes("h.csv", [header.clone(), body].concat()) {
                    for name in survey.names() {
                        let altitude = survey.of(Some(name)).and_then(|s| s.altitude_deg(azimuth));
                        proptest::prop_assert!(altitude.is_none_or(|a| (-10.0..=90.0).contains(&a)));
                    }
                }
            }
        }
    }
}
