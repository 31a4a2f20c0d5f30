//! CSV matrices of the globe: latitudes down, longitudes across, one month a file.
//!
//! Source: files of NASA's Earth Observations as public repositories keep them: an optional corner `lat/lon` with longitudes across,
//! then a latitude and its figures a row; without a header, rows from north to south and columns from west. 99999 is missing.

use super::super::text::text_of;
use super::pictures::{Picture, month_in, no_month};
use crate::fault::{Fault, Faults};

/// Marks a missing figure.
const MISSING: f64 = 99_999.0;
/// Most cells: a grid of 0.1° has 6.5 million.
const MOST_CELLS: usize = 20_000_000;

/// Reads a matrix.
///
/// # Errors
/// Every wrong row.
pub(super) fn read(file: &str, bytes: Vec<u8>) -> Result<Picture, Faults> {
    let bytes = text_of(file, bytes)?;
    let text = String::from_utf8_lossy(&bytes);
    let text = text.trim_start_matches('\u{feff}');
    let first = text.lines().find(|l| !l.trim().is_empty()).unwrap_or_default();
    let separator = ['\t', ';', ','].into_iter().max_by_key(|&c| first.matches(c).count()).unwrap_or(',');
    let decimal_comma = separator != ',';
    let number = |cell: &str| {
        let cell = cell.trim().trim_matches('"');
        if decimal_comma { cell.replace(',', ".").parse::<f64>().ok() } else { cell.parse::<f64>().ok() }
    };
    let (year, month) = month_in(file).ok_or_else(|| no_month(file))?;
    let mut faults = Faults::default();
    let mut lines = text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty()).peekable();
    let corner = first.split(separator).next().is_some_and(|c| number(c).is_none());
    let mut lons: Vec<f64> = Vec::new();
    if corner {
        let Some((i, header)) = lines.next() else { return Err(no_month(file).into()) };
        for (c, cell) in header.split(separator).enumerate().skip(1) {
            match number(cell).filter(|v| (-360.0..=360.0).contains(v)) {
                Some(lon) => lons.push(lon),
                None => {
                    let wrong = format!("{cell:?} is not a longitude");
                    faults.0.push(Fault::of_cell(file, i as u64 + 1, (c + 1).to_string(), wrong, "give degrees"));
                    faults.keep_short();
                }
            }
        }
    }
    let mut lats: Vec<f64> = Vec::new();
    let mut rows = 0_usize;
    let mut values: Vec<f32> = Vec::new();
    for (i, line) in lines {
        let line_number = i as u64 + 1;
        let mut cells = line.split(separator);
        if corner {
            let cell = cells.next().unwrap_or_default();
            match number(cell).filter(|v| v.abs() <= 90.0) {
                Some(lat) => lats.push(lat),
                None => {
                    let wrong = format!("{cell:?} is not a latitude");
                    faults.0.push(Fault::of_cell(file, line_number, "1", wrong, "give degrees from -90 to 90"));
                }
            }
        }
        let before = values.len();
        for (c, cell) in cells.enumerate() {
            match number(cell) {
                Some(v) if v == MISSING || v.is_nan() => values.push(f32::NAN),
                Some(v) if v.is_finite() => values.push(v as f32),
                None if cell.trim().is_empty() => values.push(f32::NAN),
                _ => {
                    let wrong = format!("{cell:?} is not a number");
                    faults.0.push(Fault::of_cell(
                        file,
                        line_number,
                        (c + 1).to_string(),
                        wrong,
                        "give cover, or 99999",
                    ));
                    faults.keep_short();
                }
            }
        }
        rows += 1;
        let across = values.len() - before;
        if lons.is_empty() && !corner {
            // A globe without a header: columns from the date line eastward.
            let step = 360.0 / across.max(1) as f64;
            lons = (0..across).map(|c| -180.0 + step * (c as f64 + 0.5)).collect();
        }
        if across != lons.len() && faults.0.is_empty() {
            let wrong = format!("the row has {across} figures, not {}", lons.len());
            faults
                .0
                .push(Fault { line: Some(line_number), ..Fault::of_file(file, wrong, "give one for each longitude") });
        }
        if values.len() > MOST_CELLS {
            return Err(Fault::of_file(file, "has more than 20 million cells", "give a coarser grid").into());
        }
        faults.keep_short();
        if faults.count() > 1000 {
            break;
        }
    }
    if !corner {
        let step = 180.0 / rows.max(1) as f64;
        lats = (0..rows).map(|r| 90.0 - step * (r as f64 + 0.5)).collect();
        if faults.0.is_empty() && lons.len() != 2 * rows {
            let wrong = format!("has {rows} rows of {} figures and no header with longitudes", lons.len());
            let right = "give a globe (twice as many columns as rows), or latitudes and longitudes at its edges";
            faults.0.push(Fault::of_file(file, wrong, right));
        }
    }
    if rows == 0 && faults.0.is_empty() {
        faults.0.push(Fault::of_file(file, "has a header but no rows", "give a row for each latitude"));
    }
    let invented = file.to_ascii_lowercase().contains("invented") || first.to_ascii_lowercase().contains("invented");
    faults.or(Picture { file: file.to_owned(), year, month, lats, lons, values, unit: None, invented, kind_by: None })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn matrices_with_and_without_edges_are_read_where_they_lie() {
        let text = "lat/lon,-90,90\n45,0.5,99999.0\n-45,0.25,1\n";
        let p = read("c-2020-07.csv", text.as_bytes().to_vec()).unwrap();
        assert_eq!(
            (p.year, p.month, p.lats.clone(), p.lons.clone()),
            (Some(2020), 7, vec![45.0, -45.0], vec![-90.0, 90.0])
        );
        assert!(p.values[1].is_nan() && p.values[2] == 0.25);
        let globe = "1;2;3;4\n5;6;7;8\n";
        let p = read("c-07.csv", globe.as_bytes().to_vec()).unwrap();
        assert_eq!((p.lats, p.lons), (vec![45.0, -45.0], vec![-135.0, -45.0, 45.0, 135.0]));
    }

    #[test]
    fn what_is_wrong_is_named() {
        let says = |name: &str, text: &str| read(name, text.as_bytes().to_vec()).unwrap_err().to_string();
        assert!(says("c.csv", "lat/lon,1,2\n3,4,5\n").contains("does not say which month"));
        let text = says("c-07.csv", "lat/lon,1,x\n95,4\n3,y,6\n");
        assert!(text.contains("\"x\" is not a longitude") && text.contains("\"95\" is not a latitude"), "{text}");
        assert!(says("c-07.csv", "1,2,3\n4,5,6\n").contains("twice as many columns as rows"));
    }
}
