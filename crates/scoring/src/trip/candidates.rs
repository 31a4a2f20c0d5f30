//! The places that the plan gives: those of the sites table, and a base that is none of them.

use rayon::prelude::*;

use super::Trip;
use super::inputs::Inputs;
use crate::assess::{About, Assessed, assess};
use crate::input::sites::{Cell, Sites};
use crate::outlook::skyline::Horizons;
use crate::place::Place;

/// The sites of a table as candidates.
pub(super) fn candidates(sites: &Sites, horizons: &Horizons) -> Vec<Place> {
    sites
        .rows
        .par_iter()
        .map(|row| {
            let mut place = Place::of(row).looked_up(horizons);
            for (name, cell) in sites.columns.iter().zip(&row.cells) {
                match cell {
                    Cell::Number(x) => drop(place.columns.insert(name.clone(), *x)),
                    Cell::Text(t) => drop(place.texts.insert(name.clone(), t.clone())),
                    Cell::Empty => {}
                }
            }
            place
        })
        .collect()
}

impl Trip<'_> {
    /// The base that is none of the candidates, looked at as they are.
    pub(super) fn base(&self, inputs: &Inputs, about: About<'_>) -> Option<Assessed> {
        let base = inputs.base.as_ref()?;
        let place = Place::new(base.name.as_str(), base.point, None, None).looked_up(&inputs.horizons);
        Some(self.look_at(about, false, place))
    }

    /// Looks at one candidate, by the kept profiles of the Moon's edge where there are `many`.
    pub(super) fn look_at(&self, about: About<'_>, many: bool, place: Place) -> Assessed {
        let totality = if many {
            self.rules.totality_among_many(&place.site)
        } else {
            self.rules.totality(&mut self.rules.solver(), &place.site)
        };
        assess(self.rules, about, totality, place)
    }
}
