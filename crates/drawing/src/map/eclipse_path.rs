//! From an eclipse to the lines and the field that a map shows.

use super::{Centrality, PathInstant, PathLines, ShadowField, ShadowSample};
use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::moon_edge::LimitSearch;
use noonfall_shadow::{Eclipse, Kind, Site};
use std::sync::Arc;

/// Step along the path, seconds: the lines' bends between points stay well below a drawing unit.
const EVERY_S: f64 = 20.0;

impl PathLines {
    /// The path of an eclipse; none for a partial one.
    #[must_use]
    pub fn of(eclipse: &Eclipse) -> Option<PathLines> {
        let centrality = match eclipse.kind() {
            Kind::Total => Centrality::Total,
            Kind::Annular => Centrality::Annular,
            Kind::Hybrid => Centrality::Hybrid,
            Kind::Partial => return None,
        };
        let path = eclipse.path(EVERY_S);
        let longest_s = path.points.iter().filter_map(|p| p.duration_s).fold(0.0, f64::max);
        let instants = path
            .points
            .iter()
            .map(|p| PathInstant { tt: p.tt, north: p.north, central: p.central, south: p.south })
            .collect();
        let line = |points: Vec<GeoPoint>| if points.len() > 1 { vec![points] } else { Vec::new() };
        Some(PathLines {
            centrality,
            central_line: line(path.central_line),
            north_limit: line(path.north_limit),
            south_limit: line(path.south_limit),
            true_limits: None,
            edge_grid: None,
            polygon: line(path.polygon),
            instants,
            longest_s,
        })
    }

    /// With the lines beyond which the Moon's measured edge leaves no totality, and the grid of heights it is taken from.
    #[must_use]
    pub fn with_true_limits(mut self, limits: LimitSearch, grid: &str) -> PathLines {
        self.edge_grid = Some(grid.to_owned());
        self.true_limits = limits.any().then(|| Arc::new(limits));
        self
    }
}

impl ShadowField for Eclipse {
    fn sample(&self, at: GeoPoint) -> ShadowSample {
        let quick = self.quick(&Site::at_sea_level(at));
        ShadowSample { duration_s: quick.duration_s, sun_altitude_deg: quick.sun_altitude_deg }
    }
}
