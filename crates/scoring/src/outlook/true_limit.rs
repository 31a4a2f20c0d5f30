//! How far a place stands inside the line beyond which the Moon's true edge leaves no totality.

use super::totality::{Totality, TotalityRules};
use noonfall_ephemeris::GeoPoint;
use noonfall_ephemeris::angle::wrap_360;
use noonfall_shadow::Site;
use noonfall_shadow::geodesy::destination;
use noonfall_shadow::moon_edge::EdgeSolver;

/// Places nearer to the true limit than this are told so, km. Our choice: an hour's walk.
pub const NEAR_LIMIT_KM: f64 = 5.0;

/// Where a smooth Moon leaves so much at [`NEAR_LIMIT_KM`] from a place, the true one leaves some, seconds: the true
/// totality is shorter by some 12 s at most.
const LEAVES_SOME_S: f64 = 30.0;

/// Steps outwards in which a loss of totality is looked for, km, and how well it is found.
const STEP_KM: f64 = 0.5;
const CLOSE_ENOUGH_KM: f64 = 0.02;

/// The nearest loss of totality.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueLimitNear {
    /// How far away, km.
    pub km: f64,
    /// In which direction: away from the middle of the path, degrees from north through east.
    pub outwards_deg: f64,
}

/// How far a place stands inside the true limit, where that is less than [`NEAR_LIMIT_KM`]; at its own height, at right
/// angles to the path. `None` further inside, and where there is no true totality.
pub fn true_limit_near(
    rules: &TotalityRules,
    solver: &mut EdgeSolver<'_>,
    totality: &Totality,
    site: &Site,
) -> Option<TrueLimitNear> {
    totality.truth.as_ref()?;
    let eclipse = rules.eclipse();
    let here = GeoPoint { lat_deg: site.lat_deg, lon_deg: site.lon_deg };
    let at = |bearing_deg: f64, km: f64| {
        let place = destination(here, bearing_deg, km);
        Site { lat_deg: place.lat_deg, lon_deg: place.lon_deg, elevation_m: site.elevation_m }
    };
    // The local magnitude falls off at right angles to the path, inside the smooth limit and outside.
    let falls = |towards_deg: f64| {
        let magnitude = |bearing_deg: f64| eclipse.local(&at(bearing_deg, STEP_KM)).magnitude;
        magnitude(towards_deg + 180.0) - magnitude(towards_deg)
    };
    let outwards_deg = wrap_360(falls(90.0).atan2(falls(0.0)).to_degrees());
    if eclipse.quick(&at(outwards_deg, NEAR_LIMIT_KM)).duration_s > LEAVES_SOME_S {
        return None;
    }
    let mut total = |km: f64| solver.totality(eclipse, &at(outwards_deg, km), rules.edge()).is_some();
    let steps = (NEAR_LIMIT_KM / STEP_KM).round() as u32;
    let lost = (1..=steps).map(|k| f64::from(k) * STEP_KM).find(|&km| !total(km))?;
    let (mut low, mut high) = (lost - STEP_KM, lost);
    while high - low > CLOSE_ENOUGH_KM {
        let middle = 0.5 * (low + high);
        if total(middle) { low = middle } else { high = middle }
    }
    Some(TrueLimitNear { km: low, outwards_deg })
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::geodesy::bearing_deg;
    use noonfall_shadow::moon_edge::MoonHeights;
    use noonfall_shadow::{Conventions, Eclipse};

    /// Places set out from the limit that another search found: as far inside as they were set out. In the middle of the
    /// path there is nothing to tell, outside neither.
    #[test]
    fn places_know_how_far_inside_they_are() {
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let rules = TotalityRules::usual(&eclipse);
        let mut solver = rules.solver();
        let mut near = |place: GeoPoint| {
            let site = Site::at_sea_level(place);
            let totality = rules.totality(&mut solver, &site);
            true_limit_near(&rules, &mut solver, &totality, &site)
        };
        let limits = eclipse.true_limits(MoonHeights::embedded(), rules.edge(), 120.0);
        let middle = limits.north.len() / 2;
        let (north, south) = (limits.north[middle], limits.south[limits.south.len() / 2]);
        // At right angles to the limit, on the side of the other one.
        let along_deg = bearing_deg(limits.north[middle - 1], limits.north[middle + 1]);
        let across_deg = bearing_deg(north, south);
        let turn = if wrap_360(across_deg - along_deg) < 180.0 { 90.0 } else { -90.0 };
        let inwards_deg = along_deg + turn;
        for inside_km in [0.5, 2.0, 4.0] {
            let found = near(destination(north, inwards_deg, inside_km)).unwrap();
            // The limit is not straight, and a place beside it may lie nearer to another piece of it.
            assert!((found.km - inside_km).abs() < 0.15, "{inside_km}: {found:?}");
        }
        assert_eq!(near(destination(north, inwards_deg, 40.0)), None);
        assert_eq!(near(destination(north, inwards_deg, -2.0)), None);
    }
}
