//! Drive-hours CSV: `from, to, hours`, one row for each direction. A pair given in one direction only serves both.

use std::collections::HashMap;
use std::path::Path;

use super::table::{Table, read_bytes};
use crate::fault::{Fault, Faults, LISTED};
use crate::plan::nearest;

/// Hours by road between places, by name.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DriveHours {
    /// File name as given.
    pub file: String,
    hours: HashMap<(String, String), f64>,
    /// Whether the file says that its figures are invented.
    pub invented: bool,
}

impl DriveHours {
    /// How many hours are given.
    pub fn len(&self) -> usize {
        self.hours.len()
    }

    /// Whether none is.
    pub fn is_empty(&self) -> bool {
        self.hours.is_empty()
    }

    /// Reads a drive-hours CSV. Names must be among `sites`.
    ///
    /// # Errors
    /// Every fault of the file.
    pub fn read(path: &Path, sites: &[&str]) -> Result<DriveHours, Faults> {
        DriveHours::from_bytes(&path.display().to_string(), read_bytes(path)?, sites)
    }

    /// Reads drive hours from CSV text; `file` names it in messages.
    ///
    /// # Errors
    /// Every fault of the text: hours that are negative, longer than 240 or no number, names that are not among `sites`,
    /// a pair given twice.
    pub fn from_bytes(file: &str, bytes: Vec<u8>, sites: &[&str]) -> Result<DriveHours, Faults> {
        let table = Table::from_bytes(file, bytes)?;
        let mut faults = Faults::default();
        let columns = ["from", "to", "hours"].map(|c| table.required(c, &mut faults));
        let [Some(from), Some(to), Some(hours_column)] = columns else { return Err(faults) };
        let known: std::collections::HashSet<&str> = sites.iter().copied().collect();
        let mut hours: HashMap<(String, String), f64> = HashMap::new();
        let mut lines: HashMap<(String, String), u64> = HashMap::new();
        let mut invented = false;
        table.rows(&mut faults, |row, faults| {
            let mut good = true;
            for column in [from, to] {
                let name = row.text(column);
                if !known.contains(name) {
                    // Only faults that will be shown are worth a look through all names.
                    let near = (faults.0.len() < LISTED).then(|| nearest(name, sites.iter().copied())).flatten();
                    let right = match near {
                        Some(near) => format!("did you mean {near}?"),
                        None => "give names as in the sites file".to_string(),
                    };
                    faults.0.push(row.fault(column, format!("\"{name}\" is not a site"), right));
                    good = false;
                }
            }
            match row.number_within(hours_column, 0.0, 240.0, "a drive", "give hours from 0 to 240") {
                Err(fault) => faults.0.push(fault),
                Ok(value) if good => {
                    let pair = (row.text(from).to_string(), row.text(to).to_string());
                    if let Some(first) = lines.get(&pair) {
                        let wrong = format!("{} to {} is already on line {first}", pair.0, pair.1);
                        faults.0.push(row.fault(from, wrong, "give each pair once in each direction"));
                    } else {
                        lines.insert(pair.clone(), row.line());
                        hours.insert(pair, value);
                    }
                }
                Ok(_) => {}
            }
            invented |= (0..table.columns().len()).any(|c| row.text(c).to_ascii_lowercase().contains("invented"));
        });
        if lines.is_empty() && faults.0.is_empty() {
            faults.0.push(Fault::of_file(file, "there is a header but no pair", "give rows of from, to, hours"));
        }
        faults.or(DriveHours { file: file.to_string(), hours, invented })
    }

    /// Hours from one place to another; the other direction's where only that is given, 0 from a place to itself.
    pub fn between(&self, from: &str, to: &str) -> Option<f64> {
        if from == to {
            return Some(0.0);
        }
        let get = |a: &str, b: &str| self.hours.get(&(a.to_string(), b.to_string())).copied();
        get(from, to).or_else(|| get(to, from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<DriveHours, Faults> {
        DriveHours::from_bytes("drive.csv", text.as_bytes().to_vec(), &["Dubbo", "Mudgee", "Bourke"])
    }

    #[test]
    fn one_direction_serves_both_and_missing_pairs_stay_missing() {
        let d = read("from,to,hours,source\nDubbo,Mudgee,1.5,INVENTED\nMudgee,Dubbo,1.75,INVENTED\nDubbo,Bourke,5,x\n")
            .unwrap();
        assert_eq!(d.between("Dubbo", "Mudgee"), Some(1.5));
        assert_eq!(d.between("Mudgee", "Dubbo"), Some(1.75));
        assert_eq!(d.between("Bourke", "Dubbo"), Some(5.0));
        assert_eq!(d.between("Bourke", "Mudgee"), None);
        assert_eq!(d.between("Bourke", "Bourke"), Some(0.0));
        assert!(d.invented);
    }

    #[test]
    fn wrong_rows_are_all_named() {
        let text =
            read("from,to,hours\nDubbo,Mudge,1\nDubbo,Bourke,-1\nDubbo,Mudgee,soon\nDubbo,Bourke,5\nDubbo,Bourke,6\n")
                .unwrap_err()
                .to_string();
        for part in [
            "drive.csv:2: column to: \"Mudge\" is not a site; did you mean Mudgee?",
            "drive.csv:3: column hours: \"-1\" is not a drive",
            "drive.csv:4: column hours: \"soon\" is not a number",
            "drive.csv:6: column from: Dubbo to Bourke is already on line 5",
        ] {
            assert!(text.contains(part), "{part}\n{text}");
        }
    }
}
