//! Weather years in the open EnergyPlus weather format (EPW): total sky cover, hour by hour, at one station.
//!
//! # Source
//! EnergyPlus "Auxiliary Programs", weather file format: eight header lines, then 35 comma-separated fields an hour; field 4 is
//! the hour 1–24 that ends the interval, in local standard time; field 23 the total sky cover in tenths, 99 when missing
//! (field numbers from memory, checked by reading a published IWEC year).

use std::path::Path;

use chrono::NaiveDate;

use super::clouds::{CloudNode, CloudSeries, CloudTable, CoverUnit};
use super::day_records::{DayCover, at_solar_hour};
use super::table::read_bytes;
use crate::fault::{Fault, Faults};
use crate::input::coordinates::signed_longitude;
use crate::outlook::line_of_sight::CoverKind;

/// Header lines before the data.
const HEADER_LINES: usize = 8;
/// Fields of a data row.
const FIELDS: usize = 35;
/// Total sky cover, counted from 1.
const SKY_COVER: usize = 23;
/// Written where the sky cover is not known.
const MISSING: f64 = 99.0;

/// Reads the sky cover of a weather year.
///
/// The hour that ends at `h` by standard time is taken at its middle and turned into local solar time by the longitude.
/// The months of a typical weather year come from different years; the whole counts as one year.
///
/// # Errors
/// Every wrong row: column count, date, hour, cover outside 0 to 10 tenths; a header that is not that of the format.
pub fn open(path: &Path) -> Result<CloudTable, Faults> {
    from_bytes(&path.display().to_string(), &read_bytes(path)?)
}

/// As [`open`], from bytes; `file` is the name used in messages.
///
/// # Errors
/// As [`open`].
pub fn from_bytes(file: &str, bytes: &[u8]) -> Result<CloudTable, Faults> {
    // Names of places and comments come in many encodings; the figures are plain ASCII.
    let text = String::from_utf8_lossy(bytes);
    let text = text.trim_start_matches('\u{feff}');
    let mut lines = text.lines().enumerate().map(|(i, line)| (i as u64 + 1, line));
    let location: Vec<&str> = lines.next().map(|(_, l)| l.split(',').map(str::trim).collect()).unwrap_or_default();
    if !location.first().is_some_and(|f| f.eq_ignore_ascii_case("LOCATION")) {
        let right = "give an EPW file, whose first line begins with LOCATION";
        return Err(Fault { line: Some(1), ..Fault::of_file(file, "is not an EPW weather year", right) }.into());
    }
    let mut faults = Faults::default();
    let mut field = |i: usize, low: f64, high: f64, what: &str| {
        let text = location.get(i).copied().unwrap_or_default();
        let value = text.parse::<f64>().ok().filter(|v| (low..=high).contains(v));
        if value.is_none() {
            let right = format!("give the {what} from {low} to {high} in field {} of LOCATION", i + 1);
            faults.0.push(Fault::of_cell(file, 1, (i + 1).to_string(), format!("{text:?} is not a {what}"), right));
        }
        value
    };
    let place = (
        field(6, -90.0, 90.0, "latitude"),
        field(7, -180.0, 180.0, "longitude"),
        field(8, -14.0, 14.0, "offset from UTC in hours"),
    );
    let (Some(lat_deg), Some(lon_deg), Some(offset_h)) = place else { return Err(faults) };
    let lon_deg = signed_longitude(lon_deg);
    let solar_shift_h = lon_deg / 15.0 - offset_h;

    let mut days: Vec<(DayCover, u64)> = Vec::new();
    let mut missing = 0;
    for (line, row) in lines.skip(HEADER_LINES - 1).filter(|(_, row)| !row.trim().is_empty()) {
        let fields: Vec<&str> = row.split(',').map(str::trim).collect();
        match hour(file, line, &fields) {
            Ok((_, _, None)) => missing += 1,
            Ok((date, hour, Some(cover))) => {
                let solar = hour - 0.5 + solar_shift_h;
                if let Some((date, hour)) = at_solar_hour(date, Some(solar)) {
                    days.push((DayCover::new(date, hour, cover), line));
                }
            }
            Err(fault) => faults.0.push(fault),
        }
        faults.keep_short();
    }
    days.sort_by(|(a, _), (b, _)| a.date.cmp(&b.date).then(a.hour.unwrap_or(0.0).total_cmp(&b.hour.unwrap_or(0.0))));
    for pair in days.windows(2) {
        let ((a, first), (b, second)) = (pair[0], pair[1]);
        if a.date == b.date && a.hour == b.hour {
            let wrong = format!("the same date and hour as on line {first}");
            faults.0.push(Fault::of_cell(file, second, "4", wrong, "give each hour only once"));
            faults.keep_short();
        }
    }
    if days.is_empty() && faults.0.is_empty() {
        let wrong =
            if missing > 0 { "has no hour with a known sky cover (field 23)" } else { "has no hours after its header" };
        faults.0.push(Fault::of_file(file, wrong, "give a weather year with total sky cover in tenths"));
    }
    faults.0.sort_by_key(|f| f.line);
    let name = location.get(1).filter(|n| !n.is_empty()).map(|n| (*n).to_owned());
    let source = location.get(4).filter(|s| !s.is_empty()).map(|s| format!("EPW weather year, {s}"));
    let source = source.unwrap_or_else(|| "EPW weather year".to_owned());
    let invented = text.lines().take(HEADER_LINES).any(|l| l.to_ascii_lowercase().contains("invented"));
    faults.or(CloudTable {
        file: file.to_owned(),
        nodes: vec![CloudNode { lat_deg, lon_deg, name, years: Some(1) }],
        series: CloudSeries::Days(vec![days.into_iter().map(|(day, _)| day).collect()]),
        format: "EPW weather year".to_owned(),
        variable: "total sky cover (field 23)".to_owned(),
        stated_unit: "tenths".to_owned(),
        kind: Some(CoverKind::Observed),
        kind_by: "the format".to_owned(),
        unit: CoverUnit::Fraction,
        sources: vec![source],
        invented,
        missing,
        ..CloudTable::default()
    })
}

/// Date, hour that ends the interval, and cover as a fraction where known.
fn hour(file: &str, line: u64, fields: &[&str]) -> Result<(NaiveDate, f64, Option<f64>), Fault> {
    if fields.len() != FIELDS {
        let wrong = format!("the row has {} fields", fields.len());
        let right = format!("an EPW data row has {FIELDS} fields");
        return Err(Fault { line: Some(line), ..Fault::of_file(file, wrong, right) });
    }
    let cell = |i: usize, what: &str, right: &str| {
        Fault::of_cell(file, line, i.to_string(), format!("{:?} is not {what}", fields[i - 1]), right)
    };
    let date = fields[0].parse::<i32>().ok().zip(fields[1].parse::<u32>().ok()).zip(fields[2].parse::<u32>().ok());
    let date = date.filter(|((year, _), _)| (0..=9999).contains(year));
    let date = date.and_then(|((year, month), day)| NaiveDate::from_ymd_opt(year, month, day));
    let Some(date) = date else {
        let text = fields[..3].join("-");
        return Err(Fault::of_cell(
            file,
            line,
            "1 to 3",
            format!("{text:?} is not a day of the calendar"),
            "give year, month and day",
        ));
    };
    let hour = fields[3].parse::<f64>().ok().filter(|h| h.fract() == 0.0 && (1.0..=24.0).contains(h));
    let hour = hour.ok_or_else(|| cell(4, "an hour of the format", "give the hour that ends the interval, 1 to 24"))?;
    let cover = fields[SKY_COVER - 1].parse::<f64>().ok().filter(|c| *c == MISSING || (0.0..=10.0).contains(c));
    let cover = cover.ok_or_else(|| {
        cell(SKY_COVER, "a total sky cover", "give tenths from 0 to 10, or 99 where the cover is missing")
    })?;
    Ok((date, hour, (cover != MISSING).then_some(cover / 10.0)))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A made-up weather year for the given days of a month, cover by hour from `cover`.
    pub(crate) fn invented_year(year: i32, month: u32, days: u32, cover: impl Fn(u32, u32) -> u32) -> String {
        let mut text = String::from("LOCATION,Testville,-,AUS,Invented,000000,-30.00,150.00,10.0,100.0\n");
        for line in ["DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0", "HOLIDAYS,No,0,0,0"] {
            text += line;
            text += "\n";
        }
        text += "COMMENTS 1,invented\nCOMMENTS 2,\nDATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n";
        for day in 1..=days {
            for hour in 1..=24 {
                let before = ["0"; 17].join(",");
                let after = ["0"; 12].join(",");
                text += &format!("{year},{month},{day},{hour},60,{before},{},{after}\n", cover(day, hour));
            }
        }
        text
    }

    #[test]
    fn sky_cover_comes_from_field_23_at_the_middle_of_the_hour_by_the_sun() {
        let text = invented_year(2001, 7, 2, |day, hour| if hour == 14 { 2 + day } else { 99 });
        let table = from_bytes("y.epw", text.as_bytes()).unwrap();
        let CloudSeries::Days(days) = &table.series else { panic!("days expected") };
        // 150° E is ten hours ahead, the standard time too: no shift.
        assert_eq!(days[0].len(), 2);
        assert_eq!(days[0][0], DayCover::new(NaiveDate::from_ymd_opt(2001, 7, 1).unwrap(), Some(13.5), 0.3));
        assert_eq!(table.missing, 46);
        assert!(table.invented);
        assert_eq!((table.nodes[0].years, table.nodes[0].name.as_deref()), (Some(1), Some("Testville")));
    }

    #[test]
    fn what_is_wrong_is_named_by_line_and_field() {
        let good = invented_year(2001, 2, 1, |_, _| 5);
        let says = |text: &str| from_bytes("y.epw", text.as_bytes()).unwrap_err().to_string();
        assert!(says("").contains("is not an EPW weather year"));
        assert!(says("lat,lon\n").contains("is not an EPW weather year"));
        assert!(says(&good.replace("-30.00", "-95")).contains("y.epw:1: column 7: \"-95\" is not a latitude"));
        let first_row = good.lines().nth(8).unwrap();
        let one = |new: String| says(&good.replacen(first_row, &new, 1));
        assert!(
            one(format!("{first_row},0")).contains("y.epw:9: the row has 36 fields; an EPW data row has 35 fields")
        );
        assert!(
            one(first_row.replacen("2001,2,1,", "2001,2,30,", 1))
                .contains("\"2001-2-30\" is not a day of the calendar")
        );
        assert!(
            one(first_row.replacen("2001,2,1,1,", "2001,2,1,25,", 1))
                .contains("y.epw:9: column 4: \"25\" is not an hour")
        );
        assert!(one(first_row.replacen(",5,", ",11,", 1)).contains("column 23: \"11\" is not a total sky cover"));
        assert!(one(first_row.replacen(",5,", ",NaN,", 1)).contains("column 23: \"NaN\""));
        assert!(
            one(first_row.replacen("2001,2,1,1,", "2001,2,1,2,", 1)).contains("the same date and hour as on line 9")
        );
        let empty = invented_year(2001, 2, 0, |_, _| 5);
        assert!(says(&empty).contains("has no hours"));
        assert!(says(&invented_year(2001, 2, 1, |_, _| 99)).contains("no hour with a known sky cover"));
    }
}
