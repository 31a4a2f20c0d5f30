//! The places that the plan gives: those of the sites table, and a base that is none of them.

use std::collections::BTreeMap;

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::Site;
use rayon::prelude::*;

use super::Trip;
use super::inputs::Inputs;
use crate::assess::{About, Assessed, Candidate, assess};
use crate::elevation::Elevation;
use crate::input::sites::{Cell, SiteRow, Sites};
use crate::outlook::skyline::Horizons;
use crate::zone;

/// The sites of a table as candidates.
pub(super) fn candidates(sites: &Sites, horizons: &Horizons) -> Vec<Candidate> {
    sites
        .rows
        .par_iter()
        .map(|row| {
            let (mut columns, mut texts) = (BTreeMap::new(), BTreeMap::new());
            for (name, cell) in sites.columns.iter().zip(&row.cells) {
                match cell {
                    Cell::Number(x) => drop(columns.insert(name.clone(), *x)),
                    Cell::Text(t) => drop(texts.insert(name.clone(), t.clone())),
                    Cell::Empty => {}
                }
            }
            candidate(row, columns, texts, horizons)
        })
        .collect()
}

/// A row as a candidate, with as many of its columns as are wanted.
pub(super) fn candidate(
    row: &SiteRow,
    columns: BTreeMap<String, f64>,
    texts: BTreeMap<String, String>,
    horizons: &Horizons,
) -> Candidate {
    let point = GeoPoint { lat_deg: row.lat_deg, lon_deg: row.lon_deg };
    let elevation = Elevation::of(row.elevation_m, point, horizons);
    Candidate {
        name: row.name.clone(),
        site: Site { lat_deg: row.lat_deg, lon_deg: row.lon_deg, elevation_m: elevation.metres },
        elevation_source: elevation.source,
        height_known: elevation.known,
        zone: row.zone.or_else(|| zone::zone_at(point)),
        columns,
        texts,
        found_by_search: false,
    }
}

impl Trip<'_> {
    /// The base that is none of the candidates, looked at as they are.
    pub(super) fn base(&self, inputs: &Inputs, path: &noonfall_shadow::Path, about: About<'_>) -> Option<Assessed> {
        let base = inputs.base.as_ref()?;
        let elevation = Elevation::of(None, base.point, &inputs.horizons);
        let candidate = Candidate {
            name: base.name.clone(),
            site: Site { lat_deg: base.point.lat_deg, lon_deg: base.point.lon_deg, elevation_m: elevation.metres },
            elevation_source: elevation.source,
            height_known: elevation.known,
            zone: zone::zone_at(base.point),
            columns: BTreeMap::new(),
            texts: BTreeMap::new(),
            found_by_search: false,
        };
        Some(assess(self.rules, false, path, about, candidate))
    }
}
