//! Towns of the program's own table as candidates: by country, by least population, inside the path.

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::{Eclipse, Phase, Site};
use rayon::prelude::*;

use super::gather::{Draft, Gather};
use super::{Cell, Sites, Spot};
use crate::fault::{Fault, Faults};
use crate::places::{self, Town};

/// `[sites.towns]`: which towns are candidates.
#[derive(Clone, Debug, PartialEq)]
pub struct TownsKeys {
    /// ISO 3166-1 alpha-2 codes; empty for every country.
    pub countries: Vec<String>,
    /// Least number of inhabitants.
    pub population: u64,
    /// Only those that see totality.
    pub inside_path: bool,
    /// Line of the table in the plan.
    pub line: Option<u64>,
}

impl TownsKeys {
    /// The towns asked for, largest first, with the column `population`.
    ///
    /// # Errors
    /// A country that the table does not know; more towns than `limit`; none at all. `plan` names the plan in messages.
    pub fn sites(&self, plan: &str, eclipse: &Eclipse, limit: u64) -> Result<Sites, Faults> {
        let fault = |key: &str, wrong: String, right: &str| {
            Fault::of_key(plan, self.line, format!("sites.towns{key}"), wrong, right)
        };
        let mut faults = Faults::default();
        let all = places::towns_of_at_least(self.population);
        for country in &self.countries {
            if !places::has_country(country) {
                let wrong = format!("\"{country}\" is no country of the table of towns");
                faults.0.push(fault(".countries", wrong, "give codes of two letters (ISO 3166-1), such as \"ES\""));
            }
        }
        faults.or(())?;
        let wanted = |town: &Town| self.countries.is_empty() || self.countries.contains(&town.country);
        let sees = |town: &Town| {
            let point = GeoPoint { lat_deg: town.point.lat_deg, lon_deg: town.point.lon_deg };
            !self.inside_path || eclipse.quick(&Site::at_sea_level(point)).phase == Phase::Total
        };
        let towns: Vec<&Town> = all.par_iter().filter(|t| wanted(t) && sees(t)).collect();
        if towns.len() as u64 > limit {
            let wrong = format!("{} towns fit, more than the {limit} accepted", towns.len());
            return Err(fault("", wrong, "ask for a larger population, or raise sites.limit").into());
        }
        if towns.is_empty() {
            return Err(fault("", "no town fits".to_owned(), "ask for a smaller population, or other countries").into());
        }
        let mut gather = Gather::new("towns", limit);
        for town in towns {
            gather.more();
            gather.push(Draft {
                name: town.name.clone(),
                lat_deg: town.point.lat_deg,
                lon_deg: town.point.lon_deg,
                elevation_m: None,
                zone: town.zone.parse().ok(),
                cells: vec![
                    ("population".to_owned(), Cell::Number(town.population as f64)),
                    ("country".to_owned(), Cell::Text(town.country.clone())),
                ],
                spot: Spot::Towns,
            });
        }
        gather.finish(("no town fits", "ask for a smaller population, or other countries"))
    }
}

impl Sites {
    /// These candidates and others after them; places of one name are told apart, and what is in the same place by the same name is there once.
    ///
    /// # Errors
    /// More than `limit` together.
    pub fn with(mut self, others: Sites, limit: u64) -> Result<Sites, Faults> {
        let near = |a: f64, b: f64| (a - b).abs() < 0.02;
        let others_rows: Vec<_> = others
            .rows
            .into_iter()
            .filter(|o| {
                !self.rows.iter().any(|r| r.name == o.name && near(r.lat_deg, o.lat_deg) && near(r.lon_deg, o.lon_deg))
            })
            .collect();
        let places: Vec<usize> = others
            .columns
            .iter()
            .map(|name| {
                self.column(name).unwrap_or_else(|| {
                    self.columns.push(name.clone());
                    self.columns.len() - 1
                })
            })
            .collect();
        for row in &mut self.rows {
            row.cells.resize(self.columns.len(), Cell::Empty);
        }
        for mut row in others_rows {
            let mut cells = vec![Cell::Empty; self.columns.len()];
            for (cell, &place) in row.cells.drain(..).zip(&places) {
                cells[place] = cell;
            }
            row.cells = cells;
            self.rows.push(row);
        }
        let mut faults = Faults::default();
        if self.rows.len() as u64 > limit {
            let wrong = format!("there are {} candidates in all, more than the {limit} accepted", self.rows.len());
            faults.0.push(Fault::of_file(&self.file, wrong, super::TOO_LONG));
        }
        super::gather::tell_apart(&self.file, &self.columns, &mut self.rows, &mut faults);
        faults.or(self)
    }
}
