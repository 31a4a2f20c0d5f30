//! The area that is looked at: a rectangle of latitudes and longitudes, given or found from the terrain and the path.

use std::str::FromStr;

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::{Eclipse, Phase, Site};
use rayon::prelude::*;

use crate::input::terrain::Terrain;
use crate::land::half_turn;

/// Points along each side of a rectangle by which its part in the path is found.
const PROBES: u32 = 160;
/// Points in all that are asked for the terrain's part in the path.
const ASKED: f64 = 4e6;
/// Seconds between points of the path that are looked for in the terrain.
const PATH_STEP_S: f64 = 20.0;

/// A rectangle in degrees. East is greater than west and runs past 180° where it crosses the date line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Western edge.
    pub west_deg: f64,
    /// Southern edge.
    pub south_deg: f64,
    /// Eastern edge.
    pub east_deg: f64,
    /// Northern edge.
    pub north_deg: f64,
}

impl Area {
    /// The part of the terrain that sees totality, file by file; `None` where none does.
    ///
    /// # Units
    /// Degrees.
    pub fn of_terrain_in_path(eclipse: &Eclipse, terrain: &Terrain) -> Option<Area> {
        let near_lon_deg = eclipse.greatest().point.lon_deg;
        let spans = terrain.spans_deg(near_lon_deg);
        let probes = ((ASKED / spans.len().max(1) as f64).sqrt() as u32).clamp(12, PROBES);
        let path = eclipse.path(PATH_STEP_S);
        let on_path: Vec<GeoPoint> = path.points.iter().flat_map(|p| [p.north, p.central, p.south]).flatten().collect();
        let parts = spans.iter().flat_map(|&span| {
            let probed = part_in_path_by(eclipse, span, probes);
            // A path narrower than the probes are apart shows by its own points.
            let (west, south, east, north) = span;
            let own = on_path.iter().filter_map(move |p| {
                let lon = p.lon_deg + ((0.5 * (west + east) - p.lon_deg) / 360.0).round() * 360.0;
                let inside = (west..=east).contains(&lon) && (south..=north).contains(&p.lat_deg);
                inside.then_some((lon, p.lat_deg, lon, p.lat_deg))
            });
            probed.into_iter().chain(own)
        });
        let all = parts.reduce(|a, b| (a.0.min(b.0), a.1.min(b.1), a.2.max(b.2), a.3.max(b.3)))?;
        let area = Area { west_deg: all.0, south_deg: all.1, east_deg: all.2, north_deg: all.3 };
        (area.west_deg < area.east_deg && area.south_deg < area.north_deg).then_some(area)
    }

    /// Latitude and longitude in the middle, degrees; the longitude within ±180°.
    pub fn middle(&self) -> GeoPoint {
        let lon = 0.5 * (self.west_deg + self.east_deg);
        GeoPoint { lat_deg: 0.5 * (self.south_deg + self.north_deg), lon_deg: half_turn(lon) }
    }

    /// In words.
    pub fn words(&self) -> String {
        let lat = |v: f64| format!("{:.4}° {}", v.abs(), if v < 0.0 { "S" } else { "N" });
        let lon = |v: f64| {
            let v = half_turn(v);
            format!("{:.4}° {}", v.abs(), if v < 0.0 { "W" } else { "E" })
        };
        format!("{} to {}, {} to {}", lon(self.west_deg), lon(self.east_deg), lat(self.south_deg), lat(self.north_deg))
    }
}

impl FromStr for Area {
    type Err = String;

    /// Four numbers, `WEST,SOUTH,EAST,NORTH`; an east below the west crosses the date line.
    fn from_str(text: &str) -> Result<Area, String> {
        const FORM: &str = "write west, south, east and north edge in degrees like 168.5,-45.5,169.5,-44.5";
        let numbers: Vec<f64> = text
            .split(',')
            .map(|n| n.trim().parse::<f64>().ok().filter(|n| n.is_finite()))
            .collect::<Option<_>>()
            .ok_or_else(|| format!("not four numbers; {FORM}"))?;
        let &[west_deg, south_deg, east_deg, north_deg] = numbers.as_slice() else {
            return Err(format!("{} numbers instead of four; {FORM}", numbers.len()));
        };
        if south_deg >= north_deg {
            return Err(format!("the southern edge {south_deg} is not below the northern {north_deg}; {FORM}"));
        }
        if !(-90.0..=90.0).contains(&south_deg) || !(-90.0..=90.0).contains(&north_deg) {
            return Err(format!("latitudes run from -90 to 90; {FORM}"));
        }
        if !(-180.0..=360.0).contains(&west_deg) || !(-180.0..=360.0).contains(&east_deg) {
            return Err(format!("longitudes run from -180 to 180; {FORM}"));
        }
        let east_deg = if east_deg < west_deg { east_deg + 360.0 } else { east_deg };
        let width = east_deg - west_deg;
        if width <= 0.0 {
            return Err(format!("the eastern edge is the western; {FORM}"));
        }
        if width > 180.0 {
            return Err(format!("it is {width}° wide, more than half the Earth: are west and east swapped? {FORM}"));
        }
        Ok(Area { west_deg, south_deg, east_deg, north_deg })
    }
}

/// West, south, east and north of the part of a rectangle that sees totality, a probe's width more on each side.
///
/// # Units
/// Degrees: west, south, east, north.
pub fn part_in_path(eclipse: &Eclipse, span: (f64, f64, f64, f64)) -> Option<(f64, f64, f64, f64)> {
    part_in_path_by(eclipse, span, PROBES)
}

fn part_in_path_by(eclipse: &Eclipse, span: (f64, f64, f64, f64), probes: u32) -> Option<(f64, f64, f64, f64)> {
    let (west, south, east, north) = span;
    if !(west < east && south < north) {
        return None;
    }
    let (lon_step, lat_step) = ((east - west) / f64::from(probes), (north - south) / f64::from(probes));
    let inside: Vec<(f64, f64)> = (0..probes * probes)
        .into_par_iter()
        .filter_map(|i| {
            let lat_deg = south + (f64::from(i / probes) + 0.5) * lat_step;
            let lon_deg = west + (f64::from(i % probes) + 0.5) * lon_step;
            let seen = eclipse.quick(&Site::at_sea_level(GeoPoint { lat_deg, lon_deg }));
            (seen.phase == Phase::Total && seen.sun_altitude_deg > 0.0).then_some((lat_deg, lon_deg))
        })
        .collect();
    let first = *inside.first()?;
    let (low, high) = inside
        .iter()
        .fold((first, first), |(low, high), p| ((low.0.min(p.0), low.1.min(p.1)), (high.0.max(p.0), high.1.max(p.1))));
    Some((
        (low.1 - lon_step).max(west),
        (low.0 - lat_step).max(south),
        (high.1 + lon_step).min(east),
        (high.0 + lat_step).min(north),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_area_is_four_numbers_that_make_one() {
        let area: Area = "168.5, -45.5,169.5,-44.5".parse().unwrap();
        assert_eq!((area.west_deg, area.south_deg, area.east_deg, area.north_deg), (168.5, -45.5, 169.5, -44.5));
        assert_eq!(area.words(), "168.5000° E to 169.5000° E, 45.5000° S to 44.5000° S");
        let crossing: Area = "179,-20,-178,-17".parse().unwrap();
        assert_eq!(crossing.east_deg, 182.0);
        assert_eq!(crossing.middle().lon_deg, -179.5);
        for (text, says) in [
            ("1,2,3", "3 numbers instead of four"),
            ("a,2,3,4", "not four numbers"),
            ("1,NaN,3,4", "not four numbers"),
            ("1,5,3,4", "not below the northern"),
            ("1,-95,3,4", "latitudes run from"),
            ("1,2,400,4", "longitudes run from"),
            ("1,2,1,4", "is the western"),
            ("10,2,-20,4", "swapped"),
            ("", "not four numbers"),
        ] {
            let error = text.parse::<Area>().unwrap_err();
            assert!(error.contains(says), "{text}: {error}");
        }
    }
}
