//! METAR reports in a table: a time, a report, a place.
//!
//! # Source
//! Cloud groups by WMO No. 306 and the usual national practice, from memory: FEW 1-2, SCT 3-4, BKN 5-7, OVC 8 eighths, base in
//! hundreds of feet; VV an obscured sky; SKC nothing seen by a human; CLR, NCD, NSC and CAVOK nothing below a height.

use super::stations::{Reports, Station};
use super::wanted::Wanted;
use crate::fault::{Fault, Faults};
use crate::input::day_records;
use crate::input::table::Table;

/// Names of the column with the report.
pub(super) const REPORT_NAMES: [&str; 6] = ["metar", "report", "raw_text", "rawtext", "metar_report", "raw_report"];
const TIME_NAMES: [&str; 7] = ["time", "valid", "valid_time", "date_time", "datetime", "observation_time", "timestamp"];
const STATION_NAMES: [&str; 4] = ["station", "station_id", "icao", "name"];

/// What a report says of the sky.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Report {
    pub cover: f64,
    pub obscured: bool,
    /// Clear only as far up as was looked.
    pub lower_bound: bool,
}

/// Reads the cloud groups; `None` where the report is silent about cloud.
///
/// National groups of the United States and Canada are cumulative: the last is the total. Elsewhere each group is its own layer:
/// the total lies between the largest and that of random overlap, and the middle is taken.
pub(super) fn report(text: &str, cumulative: bool) -> Option<Report> {
    let clear = Report { cover: 0.0, obscured: false, lower_bound: false };
    let mut layers: Vec<f64> = Vec::new();
    let mut found = None;
    for word in text.split_ascii_whitespace() {
        let word = word.trim_end_matches('=');
        if matches!(word, "RMK" | "TEMPO" | "BECMG" | "NOSIG") {
            break;
        }
        match word {
            "SKC" => found = Some(clear),
            "CLR" | "NCD" | "NSC" | "CAVOK" => found = Some(Report { lower_bound: true, ..clear }),
            _ => {}
        }
        let Some(class) = word.get(..3) else { continue };
        let rest = word.get(3..).unwrap_or_default();
        let base = |text: &str| {
            text.is_empty() || text.get(..3).is_some_and(|b| b == "///" || b.bytes().all(|b| b.is_ascii_digit()))
        };
        let eighths = match class {
            "FEW" => 1.5,
            "SCT" => 3.5,
            "BKN" => 6.0,
            "OVC" => 8.0,
            _ => {
                if word.starts_with("VV") && word.len() == 5 && base(&word[2..]) {
                    return Some(Report { cover: 1.0, obscured: true, lower_bound: false });
                }
                continue;
            }
        };
        if base(rest) {
            layers.push(eighths / 8.0);
        }
    }
    if layers.is_empty() {
        return found;
    }
    let most = layers.iter().copied().fold(0.0, f64::max);
    let random = 1.0 - layers.iter().map(|c| 1.0 - c).product::<f64>();
    Some(Report { cover: if cumulative { most } else { (most + random) / 2.0 }, ..clear })
}

/// Reads a table of reports.
///
/// # Errors
/// Missing columns and every wrong row.
pub(super) fn read(file: &str, bytes: Vec<u8>, wanted: &Wanted) -> Result<Reports, Faults> {
    let table = Table::from_bytes(file, bytes)?;
    let of = |names: &[&str]| names.iter().find_map(|n| table.column(n));
    let mut faults = Faults::default();
    let mut need = |names: &[&str], right: &str| {
        let found = of(names);
        if found.is_none() {
            let wrong = format!("the column is missing (the header has: {})", table.columns().join(", "));
            faults.0.push(Fault::of_cell(file, 1, names[0], wrong, right));
        }
        found
    };
    let text = need(&REPORT_NAMES, "add the report as metar or report");
    let time = need(&TIME_NAMES, "add the time of UTC as time or valid, like 2025-03-01T12:00:00Z");
    let lat = need(&["lat", "latitude"], "add the station's latitude in degrees as lat");
    let lon = need(&["lon", "longitude"], "add the station's longitude in degrees as lon");
    let (Some(text), Some(time), Some(lat), Some(lon)) = (text, time, lat, lon) else { return Err(faults) };
    let (name, source) = (of(&STATION_NAMES), table.column("source"));
    let mut reports = Reports::default();
    let mut rows = 0_usize;
    table.rows(&mut faults, |row, faults| {
        rows += 1;
        let mut take = |result: Result<f64, Fault>| result.map_err(|f| faults.0.push(f)).ok();
        let place = take(row.latitude(lat)).zip(take(row.longitude(lon)));
        let at = day_records::instant(row, time).map_err(|f| faults.0.push(f)).ok();
        let (Some((lat_deg, lon_deg)), Some((date, hour))) = (place, at) else { return };
        if !wanted.has_day(date) {
            reports.count(date);
            return;
        }
        if let Some(source) = source {
            reports.invented = reports.invented || row.text(source).to_ascii_lowercase().contains("invented");
        }
        let words = row.text(text);
        let mut station = words.split_ascii_whitespace().find(|w| !matches!(*w, "METAR" | "SPECI" | "COR" | "AUTO"));
        station = station.filter(|s| s.len() == 4);
        let name = name.map(|c| row.text(c).to_owned()).filter(|n| !n.is_empty());
        let id = name.clone().or(station.map(str::to_owned)).unwrap_or_else(|| format!("{lat_deg:.3} {lon_deg:.3}"));
        let code = station.or(name.as_deref().filter(|n| n.len() == 4)).unwrap_or_default();
        let cumulative = code.starts_with(['K', 'C']) || code.starts_with("PA") || code.starts_with("PH");
        let known = reports.stations.entry(id.clone()).or_insert_with(|| Station {
            lat_deg,
            lon_deg,
            name: id.clone(),
            days: Vec::new(),
        });
        if (known.lat_deg - lat_deg).abs() > 0.1 || (known.lon_deg - lon_deg).abs() > 0.1 {
            let wrong = format!("{id} stood at {} before", super::place_words(known.lat_deg, known.lon_deg));
            faults.0.push(row.fault(lat, wrong, "give a station one place"));
            return;
        }
        match report(words, cumulative) {
            Some(found) => {
                reports.count(date);
                reports.obscured += usize::from(found.obscured);
                reports.lower_bound += usize::from(found.lower_bound);
                reports.add(&id, date, hour.unwrap_or(0.0), found.cover);
            }
            None => reports.missing += 1,
        }
    });
    if rows == 0 && faults.0.is_empty() {
        faults.0.push(Fault::of_file(file, "has a header but no rows", "give at least one report"));
    }
    faults.or(reports)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cloud_groups_are_read_as_they_are_meant() {
        let cover = |text: &str, cumulative| report(text, cumulative).map(|r| r.cover);
        let lower = |text: &str| report(text, false).unwrap().lower_bound;
        assert_eq!(cover("METAR XXXX 221200Z 27008KT 9999 FEW030 SCT045 20/10 Q1015", true), Some(3.5 / 8.0));
        let (few, sct): (f64, f64) = (1.5 / 8.0, 3.5 / 8.0);
        let middle = (sct + 1.0 - (1.0 - few) * (1.0 - sct)) / 2.0;
        assert!((cover("FEW030 SCT045CB", false).unwrap() - middle).abs() < 1e-12);
        assert_eq!(
            (cover("OVC008", false), cover("SKC", false), cover("VV002", false)),
            (Some(1.0), Some(0.0), Some(1.0))
        );
        assert!(report("VV///", false).unwrap().obscured);
        assert!(lower("CAVOK") && lower("NSC") && lower("CLR") && lower("NCD") && !lower("SKC"));
        assert_eq!(cover("////// 20/10", false), None);
        assert_eq!(cover("BKN///TCU", false), Some(0.75));
        assert_eq!(cover("27008KT SKC RMK OVC001", false), Some(0.0));
        assert_eq!(cover("CAVOK TEMPO BKN010", false), Some(0.0));
    }

    #[test]
    fn a_table_needs_time_place_and_report() {
        let says = |text: &str| read("m.csv", text.as_bytes().to_vec(), &Wanted::default()).unwrap_err().to_string();
        let missing = says("station,metar\nXXXX,OVC001\n");
        assert_eq!(missing.lines().count(), 3, "{missing}");
        assert!(missing.contains("add the station's latitude"), "{missing}");
        let rows = says("station,time,lat,lon,metar\nA,x,1,2,SKC\nA,2025-01-01T00:00Z,99,2,SKC\n");
        assert!(rows.contains("\"x\" is not a time") && rows.contains("\"99\" is not a latitude"), "{rows}");
        let text = "station;time;lat;lon;metar\nXXXX;2025-01-01 03:00;-30,5;15;XXXX 010300Z FEW020\nXXXX;2025-01-01 04:00;-30,5;15;XXXX NIL\n";
        let reports = read("m.csv", text.as_bytes().to_vec(), &Wanted::default()).unwrap();
        assert_eq!((reports.missing, reports.stations["XXXX"].days.len()), (1, 1));
        assert_eq!(reports.stations["XXXX"].days[0].hour, Some(4.0));
    }
}
