//! NOAA's ISD-Lite: a station's year in lines of 61 characters, and the table of stations beside it.
//!
//! # Source
//! The format as NOAA's public documents give it: year 1-4, month 6-7, day 9-10, hour 12-13 (UTC), then fields of six: the sixth
//! of these, 44-49, is the sky condition, 0 to 19; missing -9999. ISD ended in 2025: newer years come as GHCNh.

use std::collections::HashMap;

use chrono::NaiveDate;

use super::stations::{Reports, Sky, Station, by_classes};
use super::wanted::Wanted;
use crate::fault::{Fault, Faults};
use crate::input::table::Table;

/// Whether a line is one of the format.
pub(super) fn is_row(line: &str) -> bool {
    let bytes = line.trim_end().as_bytes();
    (44..=62).contains(&bytes.len())
        && bytes.iter().all(|b| b.is_ascii_digit() || matches!(b, b' ' | b'-'))
        && bytes[..4].iter().all(u8::is_ascii_digit)
        && bytes[4] == b' '
        && line.split_ascii_whitespace().count() >= 9
}

/// The places of `isd-history.csv`, by `USAF-WBAN`.
#[derive(Clone, Debug, Default)]
pub(super) struct History {
    places: HashMap<String, (Option<(f64, f64)>, String)>,
}

impl History {
    /// Reads the table of stations.
    ///
    /// # Errors
    /// Missing columns. Stations without a place are kept: only one that is needed is missed.
    pub fn read(file: &str, bytes: Vec<u8>) -> Result<History, Faults> {
        let table = Table::from_bytes(file, bytes)?;
        let mut faults = Faults::default();
        let columns = ["USAF", "WBAN", "LAT", "LON"].map(|n| table.required(n, &mut faults));
        let [Some(usaf), Some(wban), Some(lat), Some(lon)] = columns else { return Err(faults) };
        let name = table.column("STATION NAME");
        let mut places = HashMap::new();
        table.rows(&mut faults, |row, _| {
            let place = row.latitude(lat).ok().zip(row.longitude(lon).ok());
            // Both zero: the place was never entered.
            let place = place.filter(|(lat, lon)| *lat != 0.0 || *lon != 0.0);
            let name = name.map(|c| row.text(c).to_owned()).unwrap_or_default();
            places.insert(format!("{}-{}", row.text(usaf), row.text(wban)), (place, name));
        });
        faults.or(History { places })
    }

    /// Puts another table to this one.
    pub fn merge(&mut self, other: History) {
        self.places.extend(other.places);
    }
}

/// `USAF-WBAN` of a file name `USAF-WBAN-YEAR`, with whatever stands behind.
fn station_of(file: &str) -> Option<String> {
    let name = std::path::Path::new(file).file_name()?.to_string_lossy().into_owned();
    let mut parts = name.split('-');
    let (usaf, wban) = (parts.next()?, parts.next()?);
    let year = parts.next()?;
    let fits = usaf.len() == 6 && wban.len() == 5 && year.bytes().take(4).filter(u8::is_ascii_digit).count() == 4;
    fits.then(|| format!("{usaf}-{wban}"))
}

/// Reads a station's year.
///
/// # Errors
/// Every wrong line; a station whose place is not known.
pub(super) fn read(file: &str, bytes: &[u8], history: &History, wanted: &Wanted) -> Result<Reports, Faults> {
    let Some(id) = station_of(file) else {
        let right = "keep its name as NOAA gives it, USAF-WBAN-YEAR (like 943120-99999-2020.gz): it tells the station";
        return Err(Fault::of_file(file, "is ISD-Lite, but its name tells no station", right).into());
    };
    let Some((place, name)) = history.places.get(&id) else {
        let wrong = format!("the place of station {id} is not known");
        let right = "give NOAA's isd-history.csv together with the file, with a row for the station";
        return Err(Fault::of_file(file, wrong, right).into());
    };
    let Some((lat_deg, lon_deg)) = *place else {
        let wrong = format!("isd-history.csv gives no place for station {id}");
        return Err(Fault::of_file(file, wrong, "fill in LAT and LON, or leave the file out").into());
    };
    let mut faults = Faults::default();
    let mut reports = Reports::default();
    let mut skies: Vec<(NaiveDate, u8, Sky)> = Vec::new();
    for (i, line) in bytes.split(|&b| b == b'\n').enumerate() {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        if line.iter().all(u8::is_ascii_whitespace) {
            continue;
        }
        match parse(line) {
            Ok((date, hour, Some(sky))) => {
                reports.count(date);
                if wanted.has_day(date) {
                    reports.obscured += usize::from(sky == Sky::Obscured);
                    skies.push((date, hour, sky));
                }
            }
            Ok((.., None)) => reports.missing += 1,
            Err((columns, wrong, right)) => {
                faults.0.push(Fault::of_cell(file, i as u64 + 1, columns, wrong, right));
                faults.keep_short();
            }
        }
    }
    if !faults.0.is_empty() {
        return Err(faults);
    }
    let classes = by_classes(skies.iter().map(|s| s.2));
    reports.classed += usize::from(classes);
    let days = Vec::with_capacity(skies.len());
    reports.stations.insert(id.clone(), Station { lat_deg, lon_deg, name: name.clone(), days });
    for (date, hour, sky) in skies {
        match sky.cover(classes) {
            Some(cover) => reports.add(&id, date, f64::from(hour), cover),
            None => reports.missing += 1,
        }
    }
    Ok(reports)
}

type Wrong = (&'static str, String, &'static str);

/// Date, hour and sky; no sky where it is missing.
fn parse(line: &[u8]) -> Result<(NaiveDate, u8, Option<Sky>), Wrong> {
    let number = |from: usize, to: usize| -> Option<i32> {
        std::str::from_utf8(line.get(from - 1..to.min(line.len()))?).ok()?.trim().parse().ok()
    };
    let text = |from: usize, to: usize| {
        String::from_utf8_lossy(line.get(from - 1..to.min(line.len())).unwrap_or_default()).into_owned()
    };
    let date = number(1, 4)
        .zip(number(6, 7))
        .zip(number(9, 10))
        .and_then(|((y, m), d)| NaiveDate::from_ymd_opt(y, u32::try_from(m).ok()?, u32::try_from(d).ok()?))
        .filter(|_| line.len() >= 49);
    let Some(date) = date else {
        let wrong = format!("{:?} is not a day", text(1, 10));
        return Err(("1 to 10", wrong, "give lines of 61 characters that begin with year, month and day"));
    };
    let hour = number(12, 13).filter(|h| (0..24).contains(h));
    let Some(hour) = hour else {
        return Err(("12 to 13", format!("{:?} is not an hour", text(12, 13)), "give hours of UTC from 00 to 23"));
    };
    match number(44, 49) {
        Some(-9999) => Ok((date, hour as u8, None)),
        Some(code) if Sky::of_code(code).is_some() => Ok((date, hour as u8, Sky::of_code(code))),
        _ => {
            let wrong = format!("{:?} is not a sky condition", text(44, 49));
            Err(("44 to 49", wrong, "give a code from 0 to 19, or -9999 where it is missing"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HISTORY: &str = "\"USAF\",\"WBAN\",\"STATION NAME\",\"CTRY\",\"STATE\",\"ICAO\",\"LAT\",\"LON\",\"ELEV(M)\",\"BEGIN\",\"END\"\n\
        \"999991\",\"99999\",\"INVENTED FIELD\",\"AS\",\"\",\"\",\"-30.000\",\"+150.000\",\"+0100.0\",\"20200101\",\"20201231\"\n\
        \"999992\",\"99999\",\"NOWHERE\",\"AS\",\"\",\"\",\"\",\"\",\"-0999.0\",\"20200101\",\"20201231\"\n";

    fn history() -> History {
        History::read("isd-history.csv", HISTORY.as_bytes().to_vec()).unwrap()
    }

    fn line(day: u32, hour: u32, sky: i32) -> String {
        format!("2020 08 {day:02} {hour:02}   231   124 10152   270    36 {sky:5}    -1 -9999\n")
    }

    #[test]
    fn the_documented_line_is_read_at_its_columns() {
        assert!(is_row(line(12, 18, 4).trim_end()));
        assert_eq!(line(12, 18, 4).trim_end().len(), 61);
        let date = NaiveDate::from_ymd_opt(2020, 8, 12).unwrap();
        let row = parse(b"2020 08 12 18   231   124 10152   270    36     4    -1 -9999").unwrap();
        assert_eq!(row, (date, 18, Some(Sky::Eighths(4))));
    }

    #[test]
    fn a_station_year_is_read_at_its_place_by_the_sun() {
        let text = line(12, 18, 4) + &line(12, 19, -9999) + &line(12, 20, 9) + &line(12, 21, 10);
        let reports = read("x/999991-99999-2020.gz", text.as_bytes(), &history(), &Wanted::default()).unwrap();
        let table = reports.table("f", "ISD-Lite", "sky condition");
        assert_eq!(table.nodes[0].name.as_deref(), Some("INVENTED FIELD"));
        let CloudSeries::Days(days) = &table.series else { panic!("days expected") };
        let date = NaiveDate::from_ymd_opt(2020, 8, 13).unwrap();
        assert_eq!(
            days[0].iter().map(|d| (d.date, d.hour, d.cover)).collect::<Vec<_>>(),
            [(date, Some(4.0), 0.5), (date, Some(6.0), 1.0)]
        );
        assert_eq!(table.missing, 2);
        assert!(table.notes[0].contains("1 reports of an obscured sky"), "{:?}", table.notes);
    }

    use super::super::CloudSeries;

    #[test]
    fn unknown_stations_and_wrong_lines_are_named() {
        let says = |file: &str, text: &str| {
            read(file, text.as_bytes(), &history(), &Wanted::default()).unwrap_err().to_string()
        };
        assert!(says("weather.txt", &line(1, 1, 1)).contains("its name tells no station"));
        assert!(says("111111-99999-2020", &line(1, 1, 1)).contains("isd-history.csv together with the file"));
        assert!(says("999992-99999-2020", &line(1, 1, 1)).contains("gives no place"));
        let text = says("999991-99999-2020", &(line(32, 1, 1) + &line(1, 24, 1) + &line(1, 1, 20) + "2020\n"));
        assert_eq!(text.lines().count(), 4, "{text}");
        assert!(text.contains("2020:1: column 1 to 10") && text.contains("code from 0 to 19"), "{text}");
    }
}
