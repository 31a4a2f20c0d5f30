//! Land, borders and lakes of the shipped base map.

use std::sync::OnceLock;

use crate::projection::Cap;
use noonfall_ephemeris::GeoPoint;
use noonfall_scoring::outlines::{Layer, Outlines, OutlinesError};

/// Why the base map could not be read.
pub type BasemapError = OutlinesError;

/// How fine a coast is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// 1:10 million, for regional maps.
    Fine,
    /// 1:50 million, for overviews.
    Coarse,
}

/// A line or ring with the cap that holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its points.
    pub points: Vec<GeoPoint>,
    /// A cap that holds all of it.
    pub cap: Cap,
}

/// Rings of one outline and its holes, to be filled by the even-odd rule.
pub type Area = Vec<Line>;

/// The base map at one scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Basemap {
    /// Land, one entry an island or continent.
    pub land: Vec<Area>,
    /// Borders between countries, without coasts.
    pub borders: Vec<Line>,
    /// Lakes.
    pub lakes: Vec<Area>,
    /// Lines between states and provinces; they carry the borders of time zones inside a country.
    pub state_lines: Vec<Line>,
}

/// Words that must stand on every map that shows the base map.
pub const CREDIT: &str = "Coasts, borders, lakes: Natural Earth (public domain)";

impl Basemap {
    /// The shipped map at a scale, read once.
    ///
    /// # Errors
    /// [`BasemapError`] if the embedded file is damaged, which only a faulty build can bring about.
    pub fn shipped(detail: Detail) -> Result<&'static Basemap, BasemapError> {
        static FINE: OnceLock<Result<Basemap, BasemapError>> = OnceLock::new();
        static COARSE: OnceLock<Result<Basemap, BasemapError>> = OnceLock::new();
        match detail {
            Detail::Fine => FINE.get_or_init(|| Basemap::read(Layer::Countries10m, Layer::Lakes10m)),
            Detail::Coarse => COARSE.get_or_init(|| Basemap::read(Layer::Countries50m, Layer::Lakes50m)),
        }
        .as_ref()
        .map_err(Clone::clone)
    }

    fn read(countries: Layer, lakes: Layer) -> Result<Basemap, BasemapError> {
        let (countries, lakes) = (Outlines::shipped(countries)?, Outlines::shipped(lakes)?);
        let state_lines = Outlines::shipped(Layer::StateLines50m)?;
        Ok(Basemap {
            land: areas(countries.shapes("land")),
            borders: lines(countries.shared_lines("countries")),
            lakes: areas(lakes.shapes("lakes")),
            state_lines: lines(state_lines.lines("state_lines")),
        })
    }
}

fn areas(shapes: Vec<Vec<Vec<(f64, f64)>>>) -> Vec<Area> {
    shapes.into_iter().map(lines).collect()
}

fn lines(lines: Vec<Vec<(f64, f64)>>) -> Vec<Line> {
    let point =
        |(lon, lat): (f64, f64)| GeoPoint { lat_deg: lat.clamp(-90.0, 90.0), lon_deg: lon.clamp(-180.0, 180.0) };
    let line = |points: Vec<GeoPoint>| Line { cap: Cap::around(&points), points };
    lines.into_iter().map(|points| line(points.into_iter().map(point).collect())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::projection::{angle_deg, unit_vector};

    #[test]
    fn both_scales_hold_land_lakes_and_borders() {
        for (detail, least) in [(Detail::Fine, 3000), (Detail::Coarse, 1000)] {
            let map = Basemap::shipped(detail).expect("shipped map");
            assert!(map.land.len() > least, "{}", map.land.len());
            assert!(map.lakes.len() > 400 && map.borders.len() > 200 && map.state_lines.len() > 500);
        }
    }

    #[test]
    fn borders_run_where_countries_meet_and_not_along_coasts() {
        let map = Basemap::shipped(Detail::Fine).expect("shipped map");
        let nearest = |lat_deg, lon_deg| {
            let v = unit_vector(GeoPoint { lat_deg, lon_deg });
            map.borders
                .iter()
                .flat_map(|line| &line.points)
                .map(|p| angle_deg(v, unit_vector(*p)))
                .fold(180.0, f64::min)
        };
        // Public coordinates, from memory: the border at the 141st meridian of New Guinea, and Sydney's coast.
        assert!(nearest(-4.0, 141.0) < 0.6);
        assert!(nearest(-33.9, 151.3) > 20.0);
    }
}
