//! The places that the search finds, named and made candidates.

use std::collections::BTreeMap;

use super::inputs::Inputs;
use super::{RunError, Trip, name_of};
use crate::clocks::rounded;
use crate::fault::Fault;
use crate::land::Land;
use crate::outlook::band_outlook::Bands;
use crate::outlook::totality::EdgeShown;
use crate::place::Place;
use crate::rank::SearchNote;
use crate::search::{self, Area, Search, SearchEdge, SearchError, SearchGround};

impl Trip<'_> {
    /// Searches the path and names what it found.
    pub(super) fn search(&self, inputs: &Inputs, given: &[Place]) -> Result<(SearchNote, Vec<Place>), RunError> {
        let Some(keys) = &self.plan.search else { return Err(RunError::Stopped) };
        // A forecast reaches some places only; the search always weighs by the climatology.
        let edge = (self.rules.edge_shown() == EdgeShown::True).then(|| SearchEdge { lattice: self.rules.lattice() });
        let terrain = inputs.horizons.terrain.as_ref();
        let ground = terrain.map(|terrain| SearchGround {
            terrain,
            rays: inputs.horizons.options,
            max_slope_deg: keys.max_slope_deg,
        });
        let area = Area { land: keys.land.then(Land::shipped), region: inputs.region.as_ref() };
        let bands = Bands::of(self.plan.sky.air);
        let search = Search {
            eclipse: self.eclipse,
            edge,
            scorer: self.scorer,
            requirements: &self.plan.requirements,
            clouds: &inputs.clouds,
            bands: &bands,
            area,
            ground,
            roads: inputs.roads.as_ref(),
            spacing_km: keys.spacing_km,
            best: keys.best,
            apart_km: keys.apart_km,
        };
        let outcome = search::search(&search, self.progress).map_err(|error| match error {
            SearchError::Stopped(stopped) => stopped.into(),
            SearchError::Terrain(error) => {
                let right = "put files there that cover the ground searched and can be read";
                RunError::from(Fault::of_key(&self.plan.file, keys.line, "terrain.dir", error.to_string(), right))
            }
        })?;
        let polygon = keys.polygon.as_ref().map(|p| name_of(p));
        let region = area.words(polygon.as_deref());
        let left_out = search::left_out(self.scorer, terrain.is_some());
        let note = search::note(keys, &outcome, region, terrain.is_some(), &left_out);
        if outcome.found.is_empty() {
            let (key, wrong, right) = search::nothing_found(keys, &outcome, &note.region);
            return Err(Fault::of_key(&self.plan.file, keys.line, key, wrong, right).into());
        }
        let mut names: std::collections::HashSet<String> = given.iter().map(|c| c.name.clone()).collect();
        let found = outcome.found.iter().map(|f| {
            let (mut columns, mut texts) = (BTreeMap::new(), BTreeMap::new());
            let road = inputs.roads.as_ref().and_then(|roads| roads.nearest(f.point));
            if let Some(road) = &road {
                columns.insert("road_km".to_string(), rounded(road.distance_km, 3));
                texts.extend(road.name.iter().map(|name| ("road".to_string(), name.clone())));
            }
            let slope = terrain.map(|t| search::slope_deg(t, f.point.lat_deg, f.point.lon_deg));
            columns.extend(slope.and_then(Result::ok).flatten().map(|s| ("slope_deg".to_string(), rounded(s, 1))));
            let name = search::name(f.point, road.as_ref(), &mut names);
            let place = Place::new(name, f.point, None, None).looked_up(&inputs.horizons);
            Place { columns, texts, found_by_search: true, ..place }
        });
        let found = found.collect();
        Ok((note, found))
    }
}
