//! GHCN hourly (GHCNh): station reports separated by bars, columns by name, in the vintages that NOAA has published.
//!
//! # Source
//! NOAA's public documents and files: `Station_ID|Station_name|Year|…|Latitude|Longitude` or `STATION|Station_name|DATE|LATITUDE|…`;
//! sky in `sky_cover_1..3`, newer `sky_cover_summation_1..4`, as `BKN:07`; quality beside each as `…_Quality_Code`. Qualities 0, 1,
//! 4, 5 and blank are kept. A blank sky is missing, not clear.

use chrono::NaiveDate;

use super::stations::{Reports, Sky, Station, by_classes};
use super::wanted::Wanted;
use crate::fault::{Fault, Faults};
use crate::input::coordinates::signed_longitude;
use crate::input::day_records::parse_instant;

/// Columns of sky and of its quality.
struct SkyColumn {
    value: usize,
    quality: Option<usize>,
}

struct Columns {
    id: usize,
    name: Option<usize>,
    /// `DATE`, or year, month, day, hour and minute.
    date: Result<usize, [usize; 5]>,
    lat: usize,
    lon: usize,
    sky: Vec<SkyColumn>,
    last: usize,
}

impl Columns {
    fn find(file: &str, header: &str) -> Result<Columns, Faults> {
        let names: Vec<String> = header.split('|').map(|c| c.trim().trim_matches('"').to_ascii_lowercase()).collect();
        let of = |wanted: &[&str]| wanted.iter().find_map(|w| names.iter().position(|n| n == w));
        let mut faults = Faults::default();
        let mut need = |wanted: &[&str], show: &str| {
            let found = of(wanted);
            if found.is_none() {
                let right = "give a GHCNh file with its header, as NOAA publishes it";
                faults.0.push(Fault::of_cell(file, 1, show, "the column is missing", right));
            }
            found
        };
        let id = need(&["station_id", "station"], "Station_ID");
        let lat = need(&["latitude"], "Latitude");
        let lon = need(&["longitude"], "Longitude");
        let date = match of(&["date"]) {
            Some(date) => Some(Ok(date)),
            None => {
                let parts = ["year", "month", "day", "hour", "minute"].map(|n| need(&[n], n));
                match parts {
                    [Some(y), Some(m), Some(d), Some(h), Some(min)] => Some(Err([y, m, d, h, min])),
                    _ => None,
                }
            }
        };
        let mut sky: Vec<SkyColumn> = Vec::new();
        for (i, name) in names.iter().enumerate() {
            let numbered = ["sky_cover_summation_", "sky_cover_layer_", "sky_cover_"]
                .iter()
                .find_map(|p| name.strip_prefix(p))
                .is_some_and(|rest| rest.len() == 1 && rest.bytes().all(|b| b.is_ascii_digit()));
            if numbered {
                let quality = names.iter().position(|n| *n == format!("{name}_quality_code"));
                sky.push(SkyColumn { value: i, quality });
            }
        }
        if sky.is_empty() {
            let wrong = "the columns of sky cover are missing";
            let right = "give a file with sky_cover_1 or sky_cover_summation_1";
            faults.0.push(Fault::of_cell(file, 1, "sky_cover_1", wrong, right));
        }
        let name = of(&["station_name"]);
        let (Some(id), Some(lat), Some(lon), Some(date)) = (id, lat, lon, date) else { return Err(faults) };
        let dates = date.as_ref().map_or_else(|parts| parts.to_vec(), |d| vec![*d]);
        let sky_columns = sky.iter().flat_map(|s| [Some(s.value), s.quality]).flatten();
        let last = [id, lat, lon].into_iter().chain(name).chain(dates).chain(sky_columns).max().unwrap_or(0);
        faults.or(Columns { id, name, date, lat, lon, sky, last })
    }
}

/// The sky in a cell such as `BKN:07`, `SCT:04;` or `VV:09`; `Ok(None)` for a blank.
fn sky(text: &str) -> Result<Option<Sky>, ()> {
    let text = text.trim().trim_end_matches(';').trim();
    if text.is_empty() {
        return Ok(None);
    }
    let (word, code) = text.split_once(':').map_or((text, ""), |(w, c)| (w.trim(), c.trim()));
    if let Ok(code) = code.parse::<i32>() {
        return if code == 99 { Ok(None) } else { Sky::of_code(code).map(Some).ok_or(()) };
    }
    match word {
        "CLR" | "SKC" => Ok(Some(Sky::Eighths(0))),
        "FEW" => Ok(Some(Sky::Eighths(2))),
        "SCT" => Ok(Some(Sky::Eighths(4))),
        "BKN" => Ok(Some(Sky::Eighths(7))),
        "OVC" => Ok(Some(Sky::Eighths(8))),
        "VV" => Ok(Some(Sky::Obscured)),
        "X" => Ok(Some(Sky::Unknown)),
        // Base heights without a cover, as SYNOP layers have them.
        _ => Ok(None),
    }
}

/// Reads a file of one or more stations.
///
/// # Errors
/// Missing columns and every wrong row.
pub(super) fn read(file: &str, bytes: &[u8], wanted: &Wanted) -> Result<Reports, Faults> {
    let text = String::from_utf8_lossy(bytes);
    let mut lines = text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty());
    let Some((_, header)) = lines.next() else {
        return Err(Fault::of_file(file, "is empty", "give a GHCNh file").into());
    };
    let columns = Columns::find(file, header.trim_start_matches('\u{feff}'))?;
    let mut faults = Faults::default();
    let mut reports = Reports { invented: header.to_ascii_lowercase().contains("invented"), ..Reports::default() };
    let mut skies: Vec<(String, NaiveDate, f64, Sky)> = Vec::new();
    let mut cells: Vec<&str> = Vec::new();
    for (i, line) in lines {
        let number = i as u64 + 1;
        cells.clear();
        cells.extend(line.split('|').take(columns.last + 1).map(str::trim));
        let cell = |c: usize| cells.get(c).copied().unwrap_or_default();
        let mut fault = |column: &str, wrong: String, right: &str| {
            faults.0.push(Fault::of_cell(file, number, column, wrong, right));
            faults.keep_short();
        };
        if cells.len() <= columns.lat.max(columns.lon) {
            fault("Latitude", format!("the row has {} cells", cells.len()), "give as many as the header has");
            continue;
        }
        let at = match columns.date {
            Ok(date) => parse_instant(cell(date)).map(|(d, h)| (d, h.unwrap_or(0.0))),
            Err([y, m, d, h, min]) => {
                let int = |c: usize| cell(c).parse::<u32>().ok();
                let date = int(y).zip(int(m)).zip(int(d));
                let date = date.and_then(|((y, m), d)| NaiveDate::from_ymd_opt(i32::try_from(y).ok()?, m, d));
                let hour = int(h).filter(|h| *h < 24).zip(int(min).filter(|m| *m < 60));
                date.zip(hour).map(|(d, (h, m))| (d, f64::from(h) + f64::from(m) / 60.0))
            }
        };
        let Some((date, hour)) = at else {
            let shown = columns.date.map_or_else(|p| p.map(cell).join(" "), |d| cell(d).to_owned());
            fault("DATE", format!("{shown:?} is not a time"), "give a time of UTC, like 2025-03-01T12:00:00");
            continue;
        };
        if !wanted.has_day(date) {
            if columns.sky.iter().any(|c| !cell(c.value).is_empty()) {
                reports.count(date);
            }
            continue;
        }
        let place = |c: usize, most: f64| cell(c).parse::<f64>().ok().filter(|v| v.abs() <= most);
        let (Some(lat_deg), Some(lon_deg)) = (place(columns.lat, 90.0), place(columns.lon, 180.0)) else {
            let wrong = format!("{:?}, {:?} is not a place", cell(columns.lat), cell(columns.lon));
            fault("Latitude", wrong, "give degrees, latitude -90 to 90, longitude -180 to 180");
            continue;
        };
        let lon_deg = signed_longitude(lon_deg);
        let mut most: Option<Sky> = None;
        let mut wrong = None;
        for column in &columns.sky {
            let good = column.quality.is_none_or(|q| matches!(cell(q), "" | "0" | "1" | "4" | "5"));
            match sky(cell(column.value)) {
                Ok(Some(found)) if good => {
                    let rank = |s: Sky| s.cover(false).unwrap_or(-1.0);
                    if most.is_none_or(|m| rank(found) > rank(m)) {
                        most = Some(found);
                    }
                }
                Ok(_) => {}
                Err(()) => wrong = Some(cell(column.value).to_owned()),
            }
        }
        if let Some(text) = wrong {
            fault("sky_cover", format!("{text:?} is not a sky cover"), "give one like BKN:07, or leave it blank");
            continue;
        }
        let id = cell(columns.id);
        if !reports.stations.contains_key(id) {
            let name = columns.name.map(|c| cell(c).trim_matches('"').to_owned()).unwrap_or_default();
            reports.stations.insert(id.to_owned(), Station { lat_deg, lon_deg, name, days: Vec::new() });
        }
        match most {
            Some(found) if found != Sky::Unknown => {
                reports.count(date);
                reports.obscured += usize::from(found == Sky::Obscured);
                skies.push((id.to_owned(), date, hour, found));
            }
            _ => reports.missing += 1,
        }
    }
    if !faults.0.is_empty() {
        return Err(faults);
    }
    reports.invented |= reports.stations.values().any(|s| s.name.to_ascii_lowercase().contains("invented"));
    let classes = by_classes(skies.iter().map(|s| s.3));
    reports.classed += usize::from(classes);
    for (id, date, hour, found) in skies {
        if let Some(cover) = found.cover(classes) {
            reports.add(&id, date, hour, cover);
        }
    }
    Ok(reports)
}

#[cfg(test)]
mod tests {
    use super::super::CloudSeries;
    use super::*;

    fn covers(text: &str) -> Vec<(String, f64, f64)> {
        let table = read("f.psv", text.as_bytes(), &Wanted::default()).unwrap().table("f", "GHCNh", "sky_cover");
        let CloudSeries::Days(days) = table.series else { panic!("days expected") };
        days.into_iter().flatten().map(|d| (d.date.to_string(), d.hour.unwrap(), d.cover)).collect()
    }

    #[test]
    fn both_vintages_are_read_and_a_blank_is_no_clear_sky() {
        let old = "Station_ID|Station_name|Year|Month|Day|Hour|Minute|Latitude|Longitude|Elevation|sky_cover_1|sky_cover_1_Quality_Code|sky_cover_2|sky_cover_baseht_1\n\
            X1|INVENTED|2025|03|01|12|30|-30.0|15.0|10|FEW:02|1|BKN:07|300\n\
            X1|INVENTED|2025|03|01|13|30|-30.0|15.0|10||||\n\
            X1|INVENTED|2025|03|01|14|30|-30.0|15.0|10|OVC:08|3|SCT:03;|300\n";
        let day = "2025-03-01".to_owned();
        assert_eq!(covers(old), [(day.clone(), 13.5, 0.9), (day.clone(), 15.5, 0.4)]);
        let new = "STATION|Station_name|DATE|LATITUDE|LONGITUDE|sky_cover_summation_1|sky_cover_summation_2|sky_cover_layer_1\n\
            X1|INVENTED|2025-03-01T12:00:00|-30.0|15.0|CLR:00||\nX1|INVENTED|2025-03-01T15:00:00|-30.0|15.0|VV:09||\n\
            X1|INVENTED|2025-03-01T18:00:00|-30.0|15.0|X:10||\n";
        assert_eq!(covers(new), [(day.clone(), 13.0, 0.0), (day, 16.0, 1.0)]);
    }

    #[test]
    fn what_is_wrong_is_named() {
        let says = |text: &str| read("f.psv", text.as_bytes(), &Wanted::default()).unwrap_err().to_string();
        let missing = says("Station_ID|x|sky_cover_1\n");
        assert!(missing.contains("column Latitude: the column is missing"), "{missing}");
        assert!(
            says("Station_ID|DATE|Latitude|Longitude|temperature\n").contains("sky_cover_1 or sky_cover_summation_1")
        );
        let rows = says(
            "Station_ID|DATE|Latitude|Longitude|sky_cover_1\nA|x|1|1|CLR:00\nA|2025-01-01T00:00:00|95|1|CLR:00\n\
             A|2025-01-01T00:00:00|5|1|CLR:55\nA\n",
        );
        assert_eq!(rows.lines().count(), 4, "{rows}");
        assert!(rows.contains("f.psv:2: column DATE: \"x\" is not a time") && rows.contains("CLR:55"), "{rows}");
    }
}
