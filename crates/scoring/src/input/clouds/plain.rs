//! Cloud tables as CSV: monthly means at points or on a grid, with or without the hour, or day records over many years.
//!
//! | layout | columns |
//! | --- | --- |
//! | monthly means | `lat, lon, month, cloud` |
//! | monthly means by hour | the same and `hour` (local solar time) or `hour_utc` |
//! | day records | `lat, lon, date, cloud`, optionally `hour` or `hour_utc` ([`crate::input::day_records`]) |
//! | as archives export it | `latitude, longitude, valid_time` (or `time`), `tcc`: monthly, daily or hourly by its times |
//!
//! The unit of `cloud` stands in a `unit` column or in the name: `cloud_fraction`, `cloud_percent`, `cloud_okta(s)`. Optional
//! everywhere: `name` (a station), `kind` (`observed` or `grid`), `source` (text holding "invented" marks every output),
//! `years` (how many years a mean stands on), `years_deviation`, layers `cloud_low, cloud_middle, cloud_high`. Further columns are
//! allowed and listed. `plain_columns.rs` knows the names.

use std::collections::hash_map::Entry;
use std::collections::{BTreeSet, HashMap};

use chrono::NaiveDate;

use super::super::text::text_of;
use super::holdings::{Holdings, Step, step_of};
use super::monthly::MonthBook;
use super::packed::minutes_of;
use super::plain_columns::{Columns, Time};
use super::wanted::Wanted;
use super::{CloudNode, CloudSeries, CloudTable, CoverUnit, Layers, MonthlyCover, YearSpread};
use crate::fault::{Fault, Faults};
use crate::input::day_records::{self, DayCover};
use crate::input::table::{Row, Table};
use crate::outlook::line_of_sight::CoverKind;

/// Reads CSV text in any of the usual encodings.
///
/// # Errors
/// Every wrong row and every missing column.
pub(super) fn from_bytes(file: &str, bytes: Vec<u8>, wanted: &Wanted) -> Result<CloudTable, Faults> {
    let bytes = text_of(file, bytes)?;
    from_table(&Table::from_bytes(file, bytes)?, wanted)
}

fn from_table(table: &Table, wanted: &Wanted) -> Result<CloudTable, Faults> {
    let mut faults = Faults::default();
    let columns = Columns::find(table, &mut faults);
    let Some(columns) = columns.filter(|_| faults.0.is_empty()) else { return Err(faults) };
    let mut nodes = Nodes::default();
    let mut common = Common { unit: columns.unit, ..Common::default() };
    let mut means: Vec<Vec<(MonthlyCover, u64)>> = Vec::new();
    let mut days: Vec<Vec<(DayCover, u64)>> = Vec::new();
    // Instants of UTC, whose step shows only at the end.
    let mut instants: Vec<(usize, i64, f64, Option<Layers>, u64)> = Vec::new();
    let (mut rows, mut missing) = (0_usize, 0_usize);
    // What the file holds, wanted or not.
    let (mut held_days, mut held_months) = (BTreeSet::new(), BTreeSet::new());
    table.rows(&mut faults, |row, faults| {
        rows += 1;
        if columns.archive && columns.is_blank(row) {
            missing += 1;
            return;
        }
        // Every cell is looked at before the row is given up, so that all its faults are listed.
        let found = faults.0.len();
        let place = take(faults, row.latitude(columns.lat)).zip(take(faults, row.longitude(columns.lon)));
        let cover = common.cover(row, &columns, faults);
        let layers = common.layers(row, &columns, faults);
        let hour = columns.hour.map(|(column, utc)| (take(faults, hour(row, column)), utc));
        common.describe(row, &columns, faults);
        let when = match columns.time {
            Time::Month(column) => take(faults, month(row, column)).map(When::Month),
            Time::Date(column) => take(faults, day_records::date(row, column)).map(When::Date),
            Time::Instant(column) => take(faults, day_records::instant(row, column)).map(When::Instant),
        };
        let spread = columns.years_deviation.map(|column| deviation(row, column, common.unit)).transpose();
        let spread = take(faults, spread).flatten().flatten();
        let (Some((lat, lon)), Some(cover), Some(when)) = (place, cover, when) else { return };
        if faults.0.len() > found {
            return;
        }
        let Some(node) = nodes.place(row, &columns, lat, lon, faults) else { return };
        let solar = hour.and_then(|(hour, utc)| hour.map(|h| if utc { h + lon / 15.0 } else { h }));
        match when {
            When::Month(month) => {
                held_months.insert(u32::from(month));
                let hour = solar.map(|h| h.rem_euclid(24.0));
                let years = nodes.list[node].years.zip(spread);
                let years = years.map(|(years, deviation)| YearSpread { years, deviation });
                if wanted.has_month(u32::from(month)) {
                    let figure = MonthlyCover { month, hour, cover, layers, years };
                    fit(&mut means, node).push((figure, row.line()));
                }
            }
            When::Date(date) => match day_records::at_solar_hour(date, solar) {
                Some((date, _)) if !wanted.has_day(date) => {
                    held_days.insert(date);
                }
                Some((date, hour)) => {
                    held_days.insert(date);
                    fit(&mut days, node).push((DayCover { date, hour, cover, layers }, row.line()));
                }
                None => faults.0.push(row.fault(columns.lon, "the date leaves the calendar", "give a usual date")),
            },
            When::Instant((date, hour)) => {
                instants.push((node, minutes_of(date, hour.unwrap_or(0.0)), cover, layers, row.line()));
            }
        }
    });
    if rows == 0 && faults.0.is_empty() {
        faults.0.push(Fault::of_file(table.file(), "has a header but no rows", "give at least one row of figures"));
    } else if rows == missing && faults.0.is_empty() {
        let right = "give figures, not blanks alone";
        faults.0.push(Fault::of_file(table.file(), "has no row with a figure", right));
    }
    let last = nodes.list.len().saturating_sub(1);
    let by_hour = columns.hour.map(|(column, _)| &table.columns()[column]);
    let mut notes = Vec::new();
    let series = match columns.time {
        Time::Month(column) => {
            fit(&mut means, last);
            let what = by_hour.map_or("month", |_| "month and hour");
            let column = &table.columns()[column];
            let key = |m: &MonthlyCover| (m.month, m.hour.map(f64::to_bits));
            CloudSeries::Means(sorted(table.file(), column, what, means, key, &mut faults))
        }
        Time::Date(column) => {
            fit(&mut days, last);
            let what = by_hour.map_or("date", |_| "date and hour");
            let column = &table.columns()[column];
            let key = |d: &DayCover| (d.date, d.hour.map(f64::to_bits));
            CloudSeries::Days(sorted(table.file(), column, what, days, key, &mut faults))
        }
        Time::Instant(column) => {
            of_instants(table, column, &mut instants, &mut nodes.list, wanted, &mut faults, &mut notes)
        }
    };
    let times = rows - missing;
    let held = match columns.time {
        Time::Instant(_) => {
            let mut minutes: Vec<i64> = instants.iter().map(|i| i.1).collect();
            minutes.sort_unstable();
            minutes.dedup();
            Holdings::of_minutes(&minutes, step_of(&minutes))
        }
        Time::Month(_) => {
            let step = if columns.hour.is_some() { Step::MonthlyByHour } else { Step::Monthly };
            Holdings { step, months: held_months.into_iter().collect(), ..Holdings::default() }
        }
        Time::Date(_) => {
            let step = if columns.hour.is_some() { Step::Hourly } else { Step::Daily };
            Holdings::of_dates(&held_days, times, step)
        }
    };
    let unit = common.unit.unwrap_or(CoverUnit::Fraction);
    faults.0.sort_by_key(|f| f.line);
    let kind_by = match (common.kind, columns.kind_by_name) {
        (Some(_), _) => "the column kind".to_owned(),
        (None, Some((_, column))) => format!("the column {}", table.columns()[column]),
        _ => String::new(),
    };
    faults.or(CloudTable {
        file: table.file().to_owned(),
        format: "CSV".to_owned(),
        variable: table.columns()[columns.cloud].clone(),
        stated_unit: unit.name().to_owned(),
        nodes: nodes.list,
        series,
        kind: common.kind.or(columns.kind_by_name.map(|k| k.0)),
        kind_by,
        unit,
        invented: common.invented,
        sources: common.sources,
        extra_columns: columns.extra,
        held: Some(held),
        missing,
        notes,
        ..CloudTable::default()
    })
}

/// The series of instants in UTC: monthly means where no two dates are nearer than 27 days, else day records.
fn of_instants(
    table: &Table,
    column: usize,
    instants: &mut [(usize, i64, f64, Option<Layers>, u64)],
    nodes: &mut [CloudNode],
    wanted: &Wanted,
    faults: &mut Faults,
    notes: &mut Vec<String>,
) -> CloudSeries {
    let mut times: Vec<i64> = instants.iter().map(|i| i.1).collect();
    times.sort_unstable();
    times.dedup();
    let step = step_of(&times);
    notes.push(format!("Its times are read as UTC: {}.", step.words()));
    instants.sort_by_key(|i| (i.0, i.1, i.4));
    for pair in instants.windows(2) {
        if (pair[0].0, pair[0].1) == (pair[1].0, pair[1].1) {
            let wrong = format!("the same place and time as on line {}", pair[0].4);
            let column = &table.columns()[column];
            faults.0.push(Fault::of_cell(table.file(), pair[1].4, column, wrong, "give each only once"));
            faults.keep_short();
        }
    }
    if step.is_monthly() {
        let mut books = vec![MonthBook::default(); nodes.len()];
        let mut years = vec![std::collections::BTreeSet::new(); nodes.len()];
        for &(node, minutes, cover, layers, _) in instants.iter() {
            let Some((year, month)) = super::cf_time::year_month(minutes) else { continue };
            if wanted.has_month(u32::from(month)) {
                let hour = (minutes.rem_euclid(1440) as f64) / 60.0 + nodes[node].lon_deg / 15.0;
                let hour = (step == Step::MonthlyByHour).then_some(hour);
                books[node].add(year, month, hour, cover, layers);
                years[node].insert(year);
            }
        }
        for (node, years) in nodes.iter_mut().zip(years) {
            node.years = node.years.or(Some(years.len() as u32).filter(|y| *y > 0));
        }
        return CloudSeries::Means(books.into_iter().map(MonthBook::means).collect());
    }
    let mut days: Vec<Vec<DayCover>> = vec![Vec::new(); nodes.len()];
    for &(node, minutes, cover, layers, _) in instants.iter() {
        let Some((date, hour)) = super::packed::at_minutes(minutes) else { continue };
        let solar = (step == Step::Hourly).then_some(hour + nodes[node].lon_deg / 15.0);
        if let Some((date, hour)) = day_records::at_solar_hour(date, solar).filter(|(date, _)| wanted.has_day(*date)) {
            days[node].push(DayCover { date, hour, cover, layers });
        }
    }
    CloudSeries::Days(days)
}

enum When {
    Month(u8),
    Date(NaiveDate),
    Instant((NaiveDate, Option<f64>)),
}

/// The spread from year to year in a cell, as a fraction of the sky; blank where it is not known.
fn deviation(row: &Row<'_>, column: usize, unit: Option<CoverUnit>) -> Result<Option<f64>, Fault> {
    if row.text(column).is_empty() {
        return Ok(None);
    }
    let full = unit.unwrap_or_default().full();
    let what = "a standard deviation of cover";
    row.number_within(column, 0.0, full, what, "give it in the unit of the cloud column").map(|d| Some(d / full))
}

/// What is the same for the whole file.
#[derive(Default)]
struct Common {
    unit: Option<CoverUnit>,
    kind: Option<CoverKind>,
    sources: Vec<String>,
    invented: bool,
}

impl Common {
    /// The cover of a row as a fraction, its unit held against that of the rows before.
    fn cover(&mut self, row: &Row<'_>, columns: &Columns, faults: &mut Faults) -> Option<f64> {
        if let Some(column) = columns.unit_column {
            let Some(unit) = CoverUnit::from_name(row.text(column)) else {
                let wrong = format!("{:?} is not a unit of cloud cover", row.text(column));
                faults.0.push(row.fault(column, wrong, "give fraction, percent or okta"));
                return None;
            };
            let first = *self.unit.get_or_insert(unit);
            if first != unit {
                let wrong =
                    format!("the unit is {}, but {} in the header or the rows before", unit.name(), first.name());
                faults.0.push(row.fault(column, wrong, "use one unit in the whole file"));
                return None;
            }
        }
        take(faults, cover(row, columns.cloud, self.unit?))
    }

    /// The layers of a row, where it has all three.
    fn layers(&self, row: &Row<'_>, columns: &Columns, faults: &mut Faults) -> Option<Layers> {
        let unit = self.unit.unwrap_or_default();
        let layers = columns.layers?;
        if layers.iter().any(|&c| is_blank(row.text(c))) {
            return None;
        }
        let covers = layers.map(|column| take(faults, cover(row, column, unit)));
        let [Some(low), Some(middle), Some(high)] = covers else { return None };
        Some(Layers::of([low, middle, high]))
    }

    fn describe(&mut self, row: &Row<'_>, columns: &Columns, faults: &mut Faults) {
        if let Some(column) = columns.source {
            let text = row.text(column);
            if !text.is_empty() && self.sources.len() < 5 && !self.sources.iter().any(|s| s == text) {
                self.sources.push(text.to_owned());
            }
            // Only a text not met yet is searched.
            self.invented = self.invented || text.to_ascii_lowercase().contains("invented");
        }
        if let Some(column) = columns.kind {
            match CoverKind::from_name(row.text(column)) {
                None => {
                    let wrong = format!("{:?} is not a kind of cloud amount", row.text(column));
                    faults.0.push(row.fault(column, wrong, "give observed (sky cover) or grid (cloud fraction)"));
                }
                Some(kind) if *self.kind.get_or_insert(kind) != kind => {
                    faults.0.push(row.fault(
                        column,
                        "observed and grid are mixed",
                        "split the file into one for each kind",
                    ));
                }
                Some(_) => {}
            }
        }
    }
}

/// The places met so far.
#[derive(Default)]
struct Nodes {
    list: Vec<CloudNode>,
    by_place: HashMap<(u64, u64), usize>,
    /// Lower-case name to node and line.
    by_name: HashMap<String, (usize, u64)>,
}

impl Nodes {
    fn place(&mut self, row: &Row<'_>, columns: &Columns, lat: f64, lon: f64, faults: &mut Faults) -> Option<usize> {
        let name = columns.name.map(|c| row.text(c)).filter(|n| !n.is_empty());
        let years = match columns.years.filter(|&c| !row.text(c).is_empty()) {
            None => None,
            Some(column) => {
                let right = "give the number of years, a whole number from 1 to 1000, or leave it blank";
                match row.number(column, right) {
                    Ok(y) if y.fract() == 0.0 && (1.0..=1000.0).contains(&y) => Some(y as u32),
                    Ok(_) => {
                        faults.0.push(row.fault(
                            column,
                            format!("{:?} is not a number of years", row.text(column)),
                            right,
                        ));
                        return None;
                    }
                    Err(fault) => {
                        faults.0.push(fault);
                        return None;
                    }
                }
            }
        };
        // +0.0 and −0.0 are the same place.
        let node = match self.by_place.entry(((lat + 0.0).to_bits(), (lon + 0.0).to_bits())) {
            Entry::Occupied(found) => *found.get(),
            Entry::Vacant(free) => {
                self.list.push(CloudNode { lat_deg: lat, lon_deg: lon, name: name.map(str::to_owned), years });
                *free.insert(self.list.len() - 1)
            }
        };
        let known = &mut self.list[node];
        known.years = known.years.max(years);
        if known.name.as_deref() != name {
            let column = columns.name.unwrap_or(columns.lat);
            let before = known.name.as_deref().unwrap_or("nothing");
            let wrong = format!("the place is called {:?} here, {before:?} before", name.unwrap_or(""));
            faults.0.push(row.fault(column, wrong, "give a place one name"));
            return None;
        }
        if let (Some(name), Some(column)) = (name, columns.name) {
            let (first, line) = *self.by_name.entry(name.to_lowercase()).or_insert((node, row.line()));
            if first != node {
                let wrong = format!("{name:?} stood at another place on line {line}");
                faults.0.push(row.fault(column, wrong, "give every station its own name and one place"));
                return None;
            }
        }
        Some(node)
    }
}

/// Whether a cell says that there is no figure.
pub(super) fn is_blank(text: &str) -> bool {
    text.is_empty() || text.eq_ignore_ascii_case("nan") || text.eq_ignore_ascii_case("na")
}

/// The value, or nothing with the fault noted.
fn take<T>(faults: &mut Faults, result: Result<T, Fault>) -> Option<T> {
    result.map_err(|fault| faults.0.push(fault)).ok()
}

/// The list of a node, made when it is not there yet.
fn fit<T>(lists: &mut Vec<Vec<T>>, node: usize) -> &mut Vec<T> {
    if lists.len() <= node {
        lists.resize_with(node + 1, Vec::new);
    }
    &mut lists[node]
}

/// Each list by time, a fault for every row that repeats an earlier one.
fn sorted<T, K: Ord>(
    file: &str,
    column: &str,
    what: &str,
    lists: Vec<Vec<(T, u64)>>,
    key: impl Fn(&T) -> K,
    faults: &mut Faults,
) -> Vec<Vec<T>> {
    let mut out = Vec::with_capacity(lists.len());
    for mut list in lists {
        list.sort_by(|a, b| key(&a.0).cmp(&key(&b.0)).then(a.1.cmp(&b.1)));
        for pair in list.windows(2) {
            if key(&pair[0].0) == key(&pair[1].0) {
                let wrong = format!("the same place and {what} as on line {}", pair[0].1);
                faults.0.push(Fault::of_cell(file, pair[1].1, column, wrong, "give each only once"));
                faults.keep_short();
            }
        }
        out.push(list.into_iter().map(|(value, _)| value).collect());
    }
    out
}

fn month(row: &Row<'_>, column: usize) -> Result<u8, Fault> {
    const RIGHT: &str = "give a month from 1 to 12";
    let month = row.number(column, RIGHT)?;
    if month.fract() == 0.0 && (1.0..=12.0).contains(&month) {
        Ok(month as u8)
    } else {
        Err(row.fault(column, format!("{:?} is not a month", row.text(column)), RIGHT))
    }
}

fn hour(row: &Row<'_>, column: usize) -> Result<f64, Fault> {
    const RIGHT: &str = "give an hour from 0 to below 24";
    let hour = row.number(column, RIGHT)?;
    if (0.0..24.0).contains(&hour) {
        Ok(hour + 0.0)
    } else {
        Err(row.fault(column, format!("{:?} is not an hour of the day", row.text(column)), RIGHT))
    }
}

/// The cover in a cell as a fraction.
fn cover(row: &Row<'_>, column: usize, unit: CoverUnit) -> Result<f64, Fault> {
    let text = row.text(column);
    let right = match unit {
        CoverUnit::Fraction => "give a fraction from 0 to 1",
        CoverUnit::Percent => "give percent from 0 to 100",
        CoverUnit::Okta => "give oktas from 0 to 8",
    };
    if unit == CoverUnit::Okta && text == "/" {
        let right = "leave the row out: nothing was observed";
        return Err(row.fault(column, "\"/\" says that cloud was not observed", right));
    }
    let value = row.number(column, right)?;
    if unit == CoverUnit::Okta && value == 9.0 {
        let wrong = "okta 9 (WMO) says that the sky was obscured, by fog for instance, and its cover unknown";
        return Err(row.fault(column, wrong, "leave the row out, or give oktas from 0 to 8"));
    }
    if (0.0..=unit.full()).contains(&value) {
        return Ok(value / unit.full() + 0.0);
    }
    let wrong = format!("{text:?} is not a cloud cover in {}", unit.name());
    let percent = unit == CoverUnit::Fraction && value > 1.0 && value <= 100.0;
    Err(row.fault(
        column,
        wrong,
        if percent { "give a fraction from 0 to 1, or say that it is percent" } else { right },
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<CloudTable, Faults> {
        CloudTable::from_bytes("c.csv", text.as_bytes().to_vec())
    }

    fn refused(text: &str) -> String {
        read(text).unwrap_err().to_string()
    }

    #[test]
    fn every_unit_by_header_or_by_column_gives_the_same_cover() {
        for text in [
            "lat,lon,month,cloud_percent\n-30,140,7,25\n",
            "lat,lon,month,cloud_fraction\n-30,140,7,0.25\n",
            "lat,lon,month,cloud_oktas\n-30,140,7,2\n",
            "Lat;Lon;Month;Cloud_Okta\n-30;140;7;2,0\n",
            "\u{feff}lat,lon,month,cloud,unit\r\n-30,140,7,25,percent\r\n",
            "lat,lon,month,cloud_percent,unit,roof\n-30,140,7,25,%,tin\n",
        ] {
            let table = read(text).unwrap();
            let CloudSeries::Means(means) = &table.series else { panic!("means expected") };
            assert_eq!(means[0], [MonthlyCover { month: 7, cover: 0.25, ..MonthlyCover::default() }], "{text}");
        }
    }

    #[test]
    fn hours_kind_source_name_and_years_are_read() {
        let text = "name,lat,lon,month,hour_utc,cloud_percent,kind,source,years\n\
                    Hill,-30,150,7,3,25,grid,Invented for a test,12\nHill,-30,150,7,15,50,grid,other,\n";
        let table = read(text).unwrap();
        assert!(table.invented);
        assert_eq!(table.kind, Some(CoverKind::Grid));
        assert_eq!(table.nodes[0].name.as_deref(), Some("Hill"));
        assert_eq!(table.nodes[0].years, Some(12));
        let CloudSeries::Means(means) = &table.series else { panic!("means expected") };
        // 150° E is ten hours ahead of Greenwich by the Sun: 3 h is 13 h, 15 h is 1 h.
        assert_eq!(means[0].iter().map(|m| m.hour).collect::<Vec<_>>(), [Some(1.0), Some(13.0)]);
    }

    #[test]
    fn a_missing_column_is_named_with_the_header_found() {
        assert!(refused("lat,lon,month,roof\n1,2,3,4\n").contains("c.csv:1: column cloud: the column is missing"));
        assert!(
            refused("lat,lon,month,cloud\n1,2,3,4\n")
                .contains("column cloud: its unit is not given; name it cloud_fraction")
        );
        assert!(refused("lat,lon,cloud_okta\n1,2,3\n").contains("neither month nor date"));
        assert!(refused("lat,lon,month,date,cloud_okta\n1,2,3,2020-01-01,4\n").contains("both month and date"));
        assert!(
            refused("lat,lon,month,cloud_okta,cloud_percent\n1,2,3,4,50\n").contains("second column of cloud amount")
        );
        assert!(refused("lat,month,cloud_okta\n1,3,4\n").contains("column lon: the column is missing"));
        assert!(refused("-30,140,7,25\n-30,141,7,25\n").contains("the first line is data, not a header"));
        assert!(refused("lat,lon,month,cloud_okta\n").contains("a header but no rows"));
    }

    #[test]
    fn all_wrong_rows_are_listed_in_the_order_of_the_file() {
        let text = "lat,lon,month,cloud_percent\n-30,140,7,140\n95,140,7,20\n-30,140,13,20\n-30,140,7,NaN\n-30,140,7,inf\n\
                    -30,141,7,20\n-30,141,7,30\n-30,140,7,\n-30,500,7,a\n";
        let text = refused(text);
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 9, "{text}");
        assert!(lines[0].contains(
            "c.csv:2: column cloud_percent: \"140\" is not a cloud cover in percent; give percent from 0 to 100"
        ));
        assert!(lines[1].contains("c.csv:3: column lat: \"95\" is not a latitude"));
        assert!(lines[2].contains("c.csv:4: column month: \"13\" is not a month"));
        assert!(lines[3].contains("c.csv:5: column cloud_percent: \"NaN\" is not a finite number"));
        assert!(lines[4].contains("\"inf\" is not a finite number"));
        assert!(lines[5].contains("c.csv:8: column month: the same place and month as on line 7"));
        assert!(lines[6].contains("c.csv:9: column cloud_percent: the cell is empty"));
        assert!(
            lines[7].contains("c.csv:10: column lon")
                && lines[8].contains("c.csv:10: column cloud_percent: \"a\" is not a number")
        );
    }

    #[test]
    fn okta_nine_and_a_percentage_given_as_fraction_say_what_is_meant() {
        let text = refused("lat,lon,month,cloud_okta\n-30,140,7,9\n-30,140,8,/\n-30,140,9,10\n");
        assert!(text.contains("the sky was obscured"), "{text}");
        assert!(text.contains("not observed") && text.contains("\"10\" is not a cloud cover in okta"), "{text}");
        assert!(refused("lat,lon,month,cloud_fraction\n-30,140,7,40\n").contains("or say that it is percent"));
    }

    #[test]
    fn mixed_units_kinds_and_names_are_refused() {
        let text = refused("lat,lon,month,cloud,unit\n-30,140,7,40,percent\n-30,141,7,4,okta\n-30,142,7,4,furlong\n");
        assert!(text.contains("c.csv:3: column unit: the unit is okta, but percent"), "{text}");
        assert!(text.contains("c.csv:4: column unit: \"furlong\" is not a unit"), "{text}");
        assert!(
            refused("lat,lon,month,cloud_okta,unit\n-30,140,7,4,percent\n").contains("the unit is percent, but okta")
        );
        let text = refused("lat,lon,month,cloud_okta,kind\n1,1,7,4,grid\n1,2,7,4,observed\n1,3,7,4,guess\n");
        assert!(text.contains("observed and grid are mixed") && text.contains("\"guess\" is not a kind"), "{text}");
        let text = refused("name,lat,lon,month,cloud_okta\nHill,1,1,7,4\nhill,1,2,7,4\nDale,1,1,8,4\n");
        assert!(text.contains("c.csv:3: column name: \"hill\" stood at another place on line 2"), "{text}");
        assert!(text.contains("c.csv:4: column name: the place is called \"Dale\" here, \"Hill\" before"), "{text}");
    }
}
