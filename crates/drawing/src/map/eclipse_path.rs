//! From an eclipse to the lines and the field that a map shows.

use super::{Centrality, PathInstant, PathLines, ShadowField, ShadowSample};
use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::moon_edge::LimitSearch;
use noonfall_shadow::{Eclipse, Kind, Phase, Site, SiteBatch};
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
        seen(self, quick.duration_s, quick.sun_altitude_deg)
    }

    /// Within some microseconds and a ten-millionth of a degree: millimetres on the ground.
    fn samples(&self, places: &[GeoPoint]) -> Vec<ShadowSample> {
        let column = |of: fn(&GeoPoint) -> f64| -> Vec<f64> { places.iter().map(of).collect() };
        let (lat_deg, lon_deg) = (column(|p| p.lat_deg), column(|p| p.lon_deg));
        let sites = SiteBatch { lat_deg: &lat_deg, lon_deg: &lon_deg, elevation_m: &vec![0.0; places.len()] };
        let Ok(batch) = self.quick_batch(sites) else {
            return places.iter().map(|place| self.sample(*place)).collect();
        };
        let sample = |(k, place): (usize, &GeoPoint)| match batch.phase[k] {
            // Without an eclipse a batch tells nothing of the Sun.
            Phase::None => self.sample(*place),
            _ => seen(self, batch.duration_s[k], batch.sun_altitude_deg[k]),
        };
        places.iter().enumerate().map(sample).collect()
    }
}

/// What a map draws of a place; altitudes come airless and leave with refraction.
fn seen(eclipse: &Eclipse, duration_s: f64, sun_altitude_deg: f64) -> ShadowSample {
    ShadowSample {
        duration_s,
        sun_apparent_altitude_deg: eclipse.conventions().apparent_altitude_deg(sun_altitude_deg),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::Conventions;

    /// Many places at once are what they are one by one, in the path, beside it and where nothing of the eclipse is seen.
    #[test]
    fn many_places_are_as_one_by_one() {
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let places: Vec<GeoPoint> = (0..9000)
            .map(|k| GeoPoint { lat_deg: -60.0 + f64::from(k / 100), lon_deg: f64::from(k % 100) * 3.6 })
            .chain((0..400).map(|k| GeoPoint { lat_deg: -18.0 + f64::from(k) * 0.015, lon_deg: 128.0 }))
            .collect();
        let (mut total, mut none) = (0, 0);
        for (place, found) in places.iter().zip(eclipse.samples(&places)) {
            let plain = eclipse.sample(*place);
            assert!((found.duration_s - plain.duration_s).abs() < 1e-4, "{place:?}: {found:?} {plain:?}");
            assert!(
                (found.sun_apparent_altitude_deg - plain.sun_apparent_altitude_deg).abs() < 1e-6,
                "{place:?}: {found:?} {plain:?}"
            );
            total += usize::from(plain.duration_s > 0.0);
            none += usize::from(eclipse.quick(&Site::at_sea_level(*place)).phase == Phase::None);
        }
        assert!(total > 100 && none > 1000, "{total} {none}");
    }
}
