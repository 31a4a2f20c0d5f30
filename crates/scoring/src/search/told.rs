//! What the search did, in words, and what the places found are called.

use std::collections::HashSet;

use noonfall_ephemeris::GeoPoint;

use super::{Dropped, Outcome};
use crate::input::roads::NearRoad;
use crate::places;
use crate::plan::SearchKeys;
use crate::rank::{SearchDropped, SearchNote};

/// A place nearer than this to a road's middle is said to lie on it, km.
const ON_THE_ROAD_KM: f64 = 0.05;

/// The name of a place: from its nearest town, with the road, and with a number where that is taken already.
pub fn name(point: GeoPoint, road: Option<&NearRoad>, taken: &mut HashSet<String>) -> String {
    let mut title = places::nearest_town(point)
        .map_or_else(|| format!("{:.2}, {:.2}", point.lat_deg, point.lon_deg), |town| town.words());
    if let Some(road) = road {
        title.push_str(&format!(", {}", road_words(road)));
    }
    let mut name = title.clone();
    let mut number = 2;
    while !taken.insert(name.clone()) {
        name = format!("{title} ({number})");
        number += 1;
    }
    name
}

fn road_words(road: &NearRoad) -> String {
    let called = road.name.as_deref().unwrap_or("a road without a name");
    if road.distance_km < ON_THE_ROAD_KM {
        format!("on {called}")
    } else {
        format!("{} from {called}", short(road.distance_km))
    }
}

/// A distance to a road, such as `430 m` or `2.3 km`.
fn short(km: f64) -> String {
    let tens = (km * 100.0).round();
    if tens < 100.0 { format!("{:.0} m", tens * 10.0) } else { format!("{km:.1} km") }
}

/// What the search did.
pub fn note(keys: &SearchKeys, outcome: &Outcome, region: String, terrain: bool, left_out: &[&str]) -> SearchNote {
    let mut words = format!(
        "{} places at least {} km apart, from {} grid points {} km apart in the path over {region}",
        outcome.found.len(),
        keys.apart_km,
        outcome.in_path,
        keys.spacing_km
    );
    if outcome.found.len() < keys.best {
        words.push_str(&format!("; {} were asked for, the path holds no more", keys.best));
    }
    words.push('.');
    words.push_str(&dropped_words(&outcome.dropped, keys));
    if !left_out.is_empty() {
        words.push_str(&format!(" The search does not weigh {}.", left_out.join(", ")));
    }
    let d = &outcome.dropped;
    SearchNote {
        spacing_km: keys.spacing_km,
        region,
        terrain,
        road_distance_km: keys.roads.as_ref().map(|_| keys.road_distance_km),
        points: outcome.points,
        in_path: outcome.in_path,
        eligible: outcome.eligible,
        dropped: SearchDropped {
            sea: d.sea,
            lake: d.lakes,
            road: d.far_from_roads,
            no_terrain: d.no_terrain,
            slope: d.steep,
            hidden_sun: d.hidden,
            skylines_asked: d.skylines,
        },
        asked: keys.best,
        found: outcome.found.len(),
        apart_km: keys.apart_km,
        words,
    }
}

/// A sentence for every reason why points were left out.
fn dropped_words(dropped: &Dropped, keys: &SearchKeys) -> String {
    let mut words = String::new();
    let mut say = |number: u64, rest: String| {
        if number > 0 {
            words.push_str(&format!(" {number} {rest}"));
        }
    };
    say(dropped.sea, "points near the path were left out as sea.".to_owned());
    say(dropped.lakes, "points near the path were left out as lakes.".to_owned());
    let far = format!("points in the path are more than {} km from a road.", keys.road_distance_km);
    say(dropped.far_from_roads, far);
    say(
        dropped.no_terrain,
        "points in the path have no height in the terrain files: nothing is known of them.".to_owned(),
    );
    let steep = keys.max_slope_deg.unwrap_or(90.0);
    say(dropped.steep, format!("points in the path are steeper than {steep}°."));
    if dropped.skylines > 0 {
        words.push_str(&format!(
            " Of the {} most promising points, asked for their skyline, {} have the Sun behind it in totality. Where they were many that was \
             looked at in the middle of totality only: there may be more.",
            dropped.skylines, dropped.hidden
        ));
    }
    words
}

/// The key, what is wrong and what would be right when a search finds no place.
pub fn nothing_found(keys: &SearchKeys, outcome: &Outcome, region: &str) -> (&'static str, String, &'static str) {
    if outcome.in_path > 0 {
        let wrong = format!(
            "none of {} grid points inside the path is a place to stand that meets the requirements and has all figures.{}",
            outcome.in_path,
            dropped_words(&outcome.dropped, keys)
        );
        let right = "relax [require] or the keys of [search], or give clouds, terrain and roads that cover the path";
        ("search", wrong.trim_end_matches('.').to_owned(), right)
    } else if keys.polygon.is_none() {
        let wrong = format!("no grid point on {region} lies inside the path");
        ("search.spacing_km", wrong, "make the spacing finer")
    } else if outcome.dropped.sea + outcome.dropped.lakes > 0 && outcome.points == 0 {
        let wrong = format!("there is no point on {region}: it lies on water");
        ("search.polygon", wrong, "draw it over land, or set search.land = false to search on water too")
    } else {
        let wrong = format!("no grid point on {region} lies inside the path");
        ("search.polygon", wrong, "draw it over the path")
    }
}
