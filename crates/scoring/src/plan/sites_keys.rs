//! `[sites]`: where the candidates come from.

use std::path::PathBuf;

use noonfall_shadow::Eclipse;

use super::Plan;
use super::read::paths;
use super::table::{Table, Walk};
use crate::fault::Faults;
use crate::input::sites::{Sites, TownsKeys};

/// `[sites]`: the candidates.
#[derive(Clone, Debug, PartialEq)]
pub struct SitesKeys {
    /// Files of candidates: table, GeoJSON, KML, KMZ or GPX.
    pub files: Vec<PathBuf>,
    /// Towns of the program's own table.
    pub towns: Option<TownsKeys>,
    /// Most candidates accepted, where the plan says it.
    pub limit: Option<u64>,
    /// Line of the `file` key.
    pub line: Option<u64>,
}

/// Candidates accepted where the plan says nothing: as many as a report can show, and as a long table may have.
const USUAL_LIMIT: u64 = 100_000;
const MOST: u64 = 10_000_000;

/// More candidates than this are held by no report, whatever the plan says; a table of them alone is written row by row.
pub const MOST_IN_A_REPORT: u64 = 200_000;

impl SitesKeys {
    /// Most candidates accepted by a report.
    pub fn limit_of_a_report(&self) -> u64 {
        self.limit.unwrap_or(USUAL_LIMIT).min(MOST_IN_A_REPORT)
    }

    /// Most candidates accepted by a table that is written row by row.
    pub fn limit_of_a_table(&self) -> u64 {
        self.limit.unwrap_or(MOST)
    }

    /// Reads the candidates, the file's first.
    ///
    /// # Errors
    /// Every fault of the file and of the towns asked for.
    pub(crate) fn read(&self, plan: &Plan, eclipse: &Eclipse) -> Result<Sites, Faults> {
        let limit = self.limit_of_a_report();
        let file = self.read_files(plan, limit);
        let towns = self.towns.as_ref().map(|keys| keys.sites(&plan.file, eclipse, limit)).transpose();
        match (file, towns) {
            (Ok(file), Ok(Some(towns))) => match file {
                Some(file) => file.with(towns, limit),
                None => Ok(towns),
            },
            (Ok(file), Ok(None)) => Ok(file.unwrap_or_default()),
            (file, towns) => {
                let both = file.err().into_iter().chain(towns.err());
                Err(Faults(both.flat_map(|f| f.0).collect()))
            }
        }
    }

    /// The candidates of all files, in the order of the plan; `None` without a file.
    fn read_files(&self, plan: &Plan, limit: u64) -> Result<Option<Sites>, Faults> {
        let mut all: Option<Sites> = None;
        let mut faults = Vec::new();
        for file in &self.files {
            match Sites::read(&plan.resolve(file), limit) {
                Ok(sites) => match all.take() {
                    None => all = Some(sites),
                    Some(before) => all = Some(before.with(sites, limit)?),
                },
                Err(found) => faults.extend(found.0),
            }
        }
        if faults.is_empty() { Ok(all) } else { Err(Faults(faults)) }
    }
}

/// Reads the table of the plan.
pub(super) fn sites(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> Option<SitesKeys> {
    if !t.present() {
        return None;
    }
    let line = t.item(w, "file").map(|i| i.line);
    let files = paths(w, &mut t, "file", "the path of a file of candidates, or a list of them");
    let towns = towns(t.table(w, "towns"), w);
    if line.is_none() && towns.is_none() {
        let right =
            "give the path of a table with name, lat, lon, of GeoJSON, KML, KMZ or GPX, or a table [sites.towns]"
                .into();
        w.fault(t.line(), t.key("file"), "the file is missing".into(), right);
    }
    let limit = t.whole(w, "limit", 1, MOST, "the most candidates accepted");
    t.finish(w);
    (!files.is_empty() || towns.is_some()).then_some(SitesKeys { files, towns, limit, line })
}

fn towns(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> Option<TownsKeys> {
    if !t.present() {
        return None;
    }
    let line = t.line();
    let countries = t.texts(w, "countries", "a list of country codes such as [\"ES\", \"PT\"]").unwrap_or_default();
    let population = t.whole(w, "population", 0, 100_000_000, "a number of inhabitants").unwrap_or(0);
    let inside_path = t.flag(w, "inside_path").unwrap_or(true);
    t.finish(w);
    Some(TownsKeys { countries: countries.iter().map(|c| c.to_uppercase()).collect(), population, inside_path, line })
}
