//! What station reports have in common: sky codes into cover, reports into a table of stations.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::holdings::{Holdings, Step};
use super::{CloudNode, CloudSeries, CloudTable, CoverUnit};
use crate::input::day_records::{DayCover, at_solar_hour};
use crate::outlook::line_of_sight::CoverKind;

/// Cover by the codes of the Integrated Surface Database for 0 to 8 eighths: it files tenths under eighths, "one tenth or less but
/// not zero" under 1 and so on. Covers in tenths from memory of its format document.
const BY_EIGHTH: [f64; 9] = [0.0, 0.10, 0.25, 0.40, 0.50, 0.60, 0.75, 0.90, 1.0];

/// A sky code.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Sky {
    /// Eighths, 0 to 8.
    Eighths(u8),
    /// Obscured: by fog, smoke or snow. It hides the Sun.
    Obscured,
    /// Scattered, broken, overcast without a count of eighths.
    Class(f64),
    /// Nothing was said of the cover.
    Unknown,
}

impl Sky {
    /// The sky condition code of ISD, 0 to 19; `None` for any other number.
    pub fn of_code(code: i32) -> Option<Sky> {
        Some(match code {
            0..=8 => Sky::Eighths(code as u8),
            9 => Sky::Obscured,
            10 => Sky::Unknown,
            11..=13 => Sky::Class(0.35),
            14..=16 => Sky::Class(0.75),
            17..=19 => Sky::Class(1.0),
            _ => return None,
        })
    }

    /// The cover where eighths were counted (`false`) or stand for the classes few, scattered, broken (`true`).
    pub fn cover(self, classes: bool) -> Option<f64> {
        match self {
            // Few 1-2, scattered 3-4, broken 5-7 eighths: the middle of each (WMO code table 2700 and METAR practice, from memory).
            Sky::Eighths(2) if classes => Some(1.5 / 8.0),
            Sky::Eighths(4) if classes => Some(3.5 / 8.0),
            Sky::Eighths(7) if classes => Some(6.0 / 8.0),
            Sky::Eighths(n) => BY_EIGHTH.get(usize::from(n)).copied(),
            Sky::Obscured => Some(1.0),
            Sky::Class(cover) => Some(cover),
            Sky::Unknown => None,
        }
    }
}

/// Whether a station's year was fed by METAR: it then holds no eighths but 0, 2, 4, 7 and 8, which stand for classes.
pub(super) fn by_classes(skies: impl Iterator<Item = Sky>) -> bool {
    let mut counted = 0;
    for sky in skies {
        if let Sky::Eighths(n) = sky {
            if !matches!(n, 0 | 2 | 4 | 7 | 8) {
                return false;
            }
            counted += 1;
        }
    }
    // A few reports prove nothing.
    counted >= 100
}

/// The reports of one station.
#[derive(Clone, Debug, Default)]
pub(super) struct Station {
    pub lat_deg: f64,
    pub lon_deg: f64,
    pub name: String,
    pub days: Vec<DayCover>,
}

/// What was met while reading reports.
#[derive(Clone, Debug, Default)]
pub(super) struct Reports {
    /// By the station's identifier.
    pub stations: BTreeMap<String, Station>,
    /// Days with a report of the sky, in season or not.
    pub dates: BTreeSet<NaiveDate>,
    /// Reports of the sky, in season or not.
    pub times: usize,
    /// Reports without a word of cloud.
    pub missing: usize,
    pub obscured: usize,
    /// Reports that are clear only as far up as was looked.
    pub lower_bound: usize,
    /// Station-years whose eighths stand for classes.
    pub classed: usize,
    pub invented: bool,
    pub notes: Vec<String>,
}

impl Reports {
    /// Counts a report of the sky, whether or not its day is wanted.
    pub fn count(&mut self, date: NaiveDate) {
        self.times += 1;
        self.dates.insert(date);
    }

    /// Adds a report at an hour of UTC.
    pub fn add(&mut self, id: &str, date: NaiveDate, hour_utc: f64, cover: f64) {
        if let Some(station) = self.stations.get_mut(id)
            && let Some((date, hour)) = at_solar_hour(date, Some(hour_utc + station.lon_deg / 15.0))
        {
            station.days.push(DayCover::new(date, hour, cover));
        }
    }

    /// Puts other reports to these.
    pub fn merge(&mut self, other: Reports) {
        for (id, station) in other.stations {
            match self.stations.get_mut(&id) {
                Some(known) => known.days.extend(station.days),
                None => {
                    self.stations.insert(id, station);
                }
            }
        }
        self.dates.extend(other.dates);
        self.times += other.times;
        self.missing += other.missing;
        self.obscured += other.obscured;
        self.lower_bound += other.lower_bound;
        self.classed += other.classed;
        self.invented |= other.invented;
        self.notes.extend(other.notes);
    }

    /// The table of the stations.
    pub fn table(mut self, file: &str, format: &str, variable: &str) -> CloudTable {
        let mut names: BTreeMap<String, usize> = BTreeMap::new();
        for station in self.stations.values() {
            *names.entry(station.name.to_lowercase()).or_default() += 1;
        }
        let mut repeated = 0;
        let mut nodes = Vec::new();
        let mut series = Vec::new();
        for (id, mut station) in std::mem::take(&mut self.stations) {
            let hour = |d: &DayCover| d.hour.unwrap_or(0.0);
            station.days.sort_by(|a, b| a.date.cmp(&b.date).then(hour(a).total_cmp(&hour(b))));
            let before = station.days.len();
            station.days.dedup_by(|b, a| a.date == b.date && a.hour == b.hour);
            repeated += before - station.days.len();
            let alone = names.get(&station.name.to_lowercase()).is_none_or(|n| *n == 1);
            let name = match (station.name.is_empty(), alone) {
                (true, _) => id,
                (false, true) => station.name,
                (false, false) => format!("{} ({id})", station.name),
            };
            nodes.push(CloudNode { lat_deg: station.lat_deg, lon_deg: station.lon_deg, name: Some(name), years: None });
            series.push(station.days);
        }
        let mut notes = self.notes;
        notes.sort();
        notes.dedup();
        let mut say = |n: usize, words: &str| {
            if n > 0 {
                notes.push(format!("{n} {words}"));
            }
        };
        say(self.obscured, "reports of an obscured sky (fog, smoke, snow) count as covered.");
        say(
            self.lower_bound,
            "reports are clear only as far up as was looked (CLR, NCD: to 12 000 ft; NSC, CAVOK: to 5 000 ft); they count as \
             clear, so high cloud is missed.",
        );
        say(self.classed, "station-years hold classes (few, scattered, broken, overcast), taken at their middles.");
        say(repeated, "reports occur twice at one station and minute; the first of each is used.");
        CloudTable {
            file: file.to_owned(),
            format: format.to_owned(),
            variable: variable.to_owned(),
            stated_unit: "eighths".to_owned(),
            nodes,
            series: CloudSeries::Days(series),
            kind: Some(CoverKind::Observed),
            kind_by: "the format: what stations report".to_owned(),
            unit: CoverUnit::Okta,
            held: Some(Holdings::of_dates(&self.dates, self.times, Step::Hourly)),
            missing: self.missing,
            invented: self.invented,
            notes,
            ..CloudTable::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sky_code_has_its_meaning() {
        let cover = |code| Sky::of_code(code).unwrap().cover(false);
        let eighths: Vec<f64> = (0..=8).map(|c| cover(c).unwrap()).collect();
        assert_eq!(eighths, BY_EIGHTH);
        assert_eq!((cover(9), cover(10)), (Some(1.0), None));
        assert_eq!(
            [11, 13, 14, 16, 17, 19].map(cover),
            [Some(0.35), Some(0.35), Some(0.75), Some(0.75), Some(1.0), Some(1.0)]
        );
        assert_eq!((Sky::of_code(20), Sky::of_code(-1)), (None, None));
        assert_eq!(Sky::Eighths(7).cover(true), Some(0.75));
    }

    #[test]
    fn years_of_classes_are_told_from_years_of_eighths() {
        let of = |codes: &[u8]| by_classes(codes.iter().cycle().take(120).map(|&n| Sky::Eighths(n)));
        assert!(of(&[0, 2, 4, 7, 8]) && !of(&[0, 2, 3, 7]));
        assert!(!by_classes([0, 2].into_iter().map(Sky::Eighths)));
    }
}
