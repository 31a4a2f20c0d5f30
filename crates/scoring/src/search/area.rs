//! Where is searched: dry land, the reader's polygon on it, or the polygon with the water in it.

use crate::land::{Land, Region, Spans, intersect, subtract};

/// Where to search.
#[derive(Clone, Copy, Debug, Default)]
pub struct Area<'a> {
    /// Dry land, where only that counts; `None` takes sea and lakes too.
    pub land: Option<&'a Land>,
    /// The reader's polygon; `None` for everywhere.
    pub region: Option<&'a Region>,
}

/// A row of the lattice: where one can stand along it, and what of the area is water.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub lat_deg: f64,
    pub dry: Spans,
    pub sea: Spans,
    pub lakes: Spans,
}

impl Area<'_> {
    pub(super) fn row(&self, lat_deg: f64) -> Row {
        let all = match self.region {
            Some(region) => region.spans(lat_deg),
            None => vec![(-180.0, 180.0)],
        };
        let Some(land) = self.land else {
            return Row { lat_deg, dry: all, sea: Spans::new(), lakes: Spans::new() };
        };
        let (land, lakes) = land.land_and_lakes(lat_deg);
        let (land, sea) = (intersect(&all, &land), subtract(&all, &land));
        let (dry, lakes) = (subtract(&land, &lakes), intersect(&land, &lakes));
        Row { lat_deg, dry, sea, lakes }
    }

    /// What to call it, given the polygon's file.
    pub fn words(&self, polygon: Option<&str>) -> String {
        match (polygon, self.land.is_some()) {
            (None, true) => "land".to_owned(),
            (None, false) => "land and water".to_owned(),
            (Some(file), true) => format!("the land of {file}"),
            (Some(file), false) => format!("{file}, water included"),
        }
    }
}

/// Numbers of the lattice's points from `west` to `east`, which lie at (k + 1/2) steps east of the meridian of 180°.
pub(super) fn numbers(west: f64, east: f64, step: f64) -> std::ops::Range<u64> {
    let number = |lon: f64| ((lon + 180.0) / step - 0.5).ceil().max(0.0) as u64;
    number(west)..number(east)
}

/// How many of the lattice's points lie in spans, between two meridians.
pub(super) fn count(spans: &Spans, west: f64, east: f64, step: f64) -> u64 {
    let inside = spans.iter().map(|s| (s.0.max(west), s.1.min(east))).filter(|s| s.0 < s.1);
    inside.map(|(west, east)| numbers(west, east, step)).map(|n| n.end.saturating_sub(n.start)).sum()
}
