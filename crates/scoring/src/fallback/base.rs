//! Where the group sleeps: one of the sites, a town, or a place of the plan's own.

use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::geodesy::distance_km;

use crate::fault::Fault;
use crate::input::sites::Sites;
use crate::places::{Town, towns_named};
use crate::plan::{Plan, nearest};

/// A base that is none of the candidates.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Base {
    /// Name.
    pub name: String,
    /// Where.
    pub point: GeoPoint,
}

/// The plan's base where it is none of the sites: by its coordinates, or the town of that name that lies nearest to a site.
///
/// `is_site` knows the names of the sites.
///
/// # Errors
/// A base that is neither a site nor a town.
pub(crate) fn resolve(plan: &Plan, sites: &Sites, is_site: impl Fn(&str) -> bool) -> Result<Option<Base>, Fault> {
    let keys = &plan.fallback;
    let fault = |wrong: String, right: String| Fault::of_key(&plan.file, keys.base_line, "fallback.base", wrong, right);
    match (&keys.base, keys.base_at) {
        (None, None) => Ok(None),
        (Some(name), Some(_)) if is_site(name) => Err(fault(
            format!("\"{name}\" is one of the sites, and fallback.base_lat and base_lon are given besides"),
            "take them away, or give the base a name of its own".to_owned(),
        )),
        (name, Some(point)) => Ok(Some(Base { name: name.clone().unwrap_or_else(|| "The base".to_owned()), point })),
        (Some(name), None) if is_site(name) => Ok(None),
        (Some(name), None) => {
            let away_km = |town: &Town| {
                let at = |lat_deg, lon_deg| GeoPoint { lat_deg, lon_deg };
                let away = sites.rows.iter().map(|row| distance_km(town.point, at(row.lat_deg, row.lon_deg)));
                away.fold(f64::INFINITY, f64::min)
            };
            let towns = towns_named(name).into_iter().map(|town| (away_km(town), town));
            if let Some((_, town)) = towns.min_by(|a, b| a.0.total_cmp(&b.0)) {
                return Ok(Some(Base { name: town.name.clone(), point: town.point }));
            }
            let near = nearest(name, sites.rows.iter().map(|row| row.name.as_str()));
            let right = near.map_or_else(
                || "give the name of a site or a town, or fallback.base_lat and base_lon".to_owned(),
                |near| format!("did you mean {near}? Else give fallback.base_lat and base_lon"),
            );
            Err(fault(format!("\"{name}\" is neither one of the sites nor a town of the shipped table"), right))
        }
    }
}
