//! Pictures of a month's mean cover: what GeoTIFF grids and CSV matrices have in common.

use super::holdings::{Holdings, Step, step_of};
use super::monthly::MonthBook;
use super::netcdf::points;
use super::netcdf_layout::grid_shape;
use super::packed::minutes_of;
use super::wanted::Wanted;
use super::{CloudNode, CloudSeries, CloudTable, CoverUnit};
use crate::fault::{Fault, Faults};
use crate::outlook::line_of_sight::CoverKind;

/// A month's cover on a grid.
#[derive(Clone, Debug)]
pub(super) struct Picture {
    pub file: String,
    /// The year, where the month has one.
    pub year: Option<i32>,
    pub month: u32,
    pub lats: Vec<f64>,
    pub lons: Vec<f64>,
    /// Figures as stored, row by row; NaN where there is none.
    pub values: Vec<f32>,
    /// The unit as stated, and what divides a figure into a fraction, where something says so.
    pub unit: Option<(String, f64)>,
    pub invented: bool,
    /// What in the metadata tells that the figures are shares of area seen from above; a map of observers' sky cover looks the same.
    pub kind_by: Option<String>,
}

/// Year and month in a name or description, such as `cloud_2020-07`, `MCD_202007`, `july`, `-07`.
pub(super) fn month_in(text: &str) -> Option<(Option<i32>, u32)> {
    let name = std::path::Path::new(text).file_stem().map(|s| s.to_string_lossy().to_ascii_lowercase())?;
    let parts: Vec<&str> = name.split(|c: char| !c.is_ascii_alphanumeric()).filter(|p| !p.is_empty()).collect();
    let number = |p: &str| p.parse::<u32>().ok().filter(|_| p.bytes().all(|b| b.is_ascii_digit()));
    let month = |p: &str| number(p).filter(|m| p.len() == 2 && (1..=12).contains(m));
    let year = |p: &str| number(p).filter(|y| p.len() == 4 && (1900..=2100).contains(y)).map(|y| y as i32);
    for pair in parts.windows(2) {
        if let (Some(y), Some(m)) = (year(pair[0]), month(pair[1])) {
            return Some((Some(y), m));
        }
    }
    for p in &parts {
        if matches!(p.len(), 6 | 8) && p.bytes().all(|b| b.is_ascii_digit()) {
            let day = p.len() == 6 || number(&p[6..]).is_some_and(|d| (1..=31).contains(&d));
            if let (Some(y), Some(m)) = (year(&p[..4]), month(&p[4..6]).filter(|_| day)) {
                return Some((Some(y), m));
            }
        }
    }
    const NAMES: [&str; 12] = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    const LONG: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let named = parts.iter().find_map(|p| (0..12).find(|&i| *p == NAMES[i] || *p == LONG[i]));
    let trailing = || parts.last().and_then(|p| month(p.strip_prefix('m').unwrap_or(p)));
    named.map(|i| i as u32 + 1).or_else(trailing).map(|m| (parts.iter().find_map(|p| year(p)), m))
}

/// What a picture of no known month is told.
pub(super) fn no_month(file: &str) -> Fault {
    let right = "put year and month into its name, like cloud-2020-07, or only the month, like cloud-07";
    Fault::of_file(file, "does not say which month it is of", right)
}

/// The pictures together as a table of monthly means.
///
/// # Errors
/// Grids that differ, months that occur twice, figures that are no cover.
pub(super) fn table(pictures: &[Picture], format: &str, wanted: &Wanted) -> Result<CloudTable, Faults> {
    let Some(first) = pictures.first() else { return Err(Faults::default()) };
    let mut faults = Faults::default();
    for (i, p) in pictures.iter().enumerate() {
        let near = |a: &[f64], b: &[f64]| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-4);
        if !near(&p.lats, &first.lats) || !near(&p.lons, &first.lons) {
            let wrong = format!("has another grid than {}", first.file);
            faults.0.push(Fault::of_file(&p.file, wrong, "give files of one grid together"));
        }
        if let Some(other) = pictures[..i].iter().find(|o| (o.year, o.month) == (p.year, p.month)) {
            let wrong = format!("is of the same month as {}", other.file);
            faults.0.push(Fault::of_file(&p.file, wrong, "give each month once"));
        }
    }
    if !faults.0.is_empty() {
        return Err(faults);
    }
    // Where nothing states the unit, the figures do: no fraction is above 1, no percentage all below.
    let highest = |p: &Picture| p.values.iter().copied().filter(|v| !v.is_nan()).fold(0.0_f32, f32::max);
    let top = pictures.iter().map(highest).fold(0.0_f32, f32::max);
    let mut notes = Vec::new();
    let (stated, full) = match &first.unit {
        Some((unit, full)) => (unit.clone(), *full),
        None => {
            let full = if top <= 1.01 { 1.0 } else { 100.0 };
            let unit = if full > 1.0 { "percent" } else { "a fraction" };
            notes.push(format!("No unit is stated: taken as {unit}, since the highest figure is {top}."));
            (String::new(), full)
        }
    };
    let grid = grid_shape(&first.lats, &first.lons);
    let points = points(&first.lats, &first.lons, grid, wanted);
    let mut books = vec![MonthBook::default(); points.len()];
    let mut missing = 0;
    for p in pictures.iter().filter(|p| wanted.has_month(p.month)) {
        for (book, point) in books.iter_mut().zip(&points) {
            let value = f64::from(p.values[point.row * p.lons.len() + point.column]);
            if value.is_nan() {
                missing += 1;
                continue;
            }
            let cover = value / full;
            if !(-0.01..=1.01).contains(&cover) {
                let place = super::place_words(p.lats[point.row], point.lon_deg);
                let wrong = format!("{value} at {place} is no cloud cover");
                faults.0.push(Fault::of_file(&p.file, wrong, format!("give 0 to {full}, and name the no-data value")));
                faults.keep_short();
                continue;
            }
            book.add(p.year.unwrap_or(0), p.month as u8, None, cover.clamp(0.0, 1.0), None);
        }
    }
    let years: std::collections::BTreeSet<i32> = pictures.iter().filter_map(|p| p.year).collect();
    let mut minutes: Vec<i64> = pictures
        .iter()
        .filter_map(|p| chrono::NaiveDate::from_ymd_opt(p.year.unwrap_or(2001), p.month, 1))
        .map(|d| minutes_of(d, 0.0))
        .collect();
    minutes.sort_unstable();
    let step = if minutes.len() > 1 { step_of(&minutes) } else { Step::Monthly };
    let mut held = Holdings::of_minutes(&minutes, step);
    if years.is_empty() {
        held = Holdings { from: None, to: None, years: Vec::new(), gaps: Vec::new(), ..held };
    }
    let nodes = points.iter().map(|p| CloudNode {
        lat_deg: first.lats[p.row].clamp(-90.0, 90.0),
        lon_deg: p.lon_deg,
        name: None,
        years: Some(years.len() as u32).filter(|n| *n > 0),
    });
    faults.or(CloudTable {
        file: first.file.clone(),
        format: format.to_owned(),
        variable: "the cells' figures".to_owned(),
        stated_unit: stated,
        nodes: nodes.collect(),
        series: CloudSeries::Means(books.into_iter().map(MonthBook::means).collect()),
        kind: first.kind_by.as_ref().map(|_| CoverKind::Grid),
        kind_by: first.kind_by.clone().unwrap_or_default(),
        unit: if full > 1.0 { CoverUnit::Percent } else { CoverUnit::Fraction },
        grid,
        held: Some(held),
        invented: pictures.iter().any(|p| p.invented),
        missing,
        notes,
        ..CloudTable::default()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_are_found_in_names() {
        for (name, month) in [
            ("cloud-2020-07.tif", Some((Some(2020), 7))),
            ("MYDAL2_M_CLD_FR_2019-12-01_rgb_360x180.CSV", Some((Some(2019), 12))),
            ("CFCmm20200801000000.tif", None),
            ("x_202008_y.tif", Some((Some(2020), 8))),
            ("mean_july.tif", Some((None, 7))),
            ("cover-07.csv", Some((None, 7))),
            ("cover.csv", None),
            ("grid_360x180.csv", None),
        ] {
            assert_eq!(month_in(name), month, "{name}");
        }
    }
}
