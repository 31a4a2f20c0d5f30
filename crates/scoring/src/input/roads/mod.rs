//! Roads to keep near to: from an OpenStreetMap extract or a GeoJSON of lines, told apart by content.
//!
//! Only what a car can drive and stop beside is a road: [`drivable`]. Kept are the pieces of road near the path; between two
//! points a road runs straight in latitude and longitude (RFC 7946, section 3.1.1). The nearest point of a road is found in
//! the plane that touches the ellipsoid at the place; its distance is that along the ellipsoid.

mod geojson;
mod index;
mod osm;
mod pbf;

use std::fs::File;
use std::io::Read;
use std::path::Path;

use noonfall_ephemeris::GeoPoint;

use crate::fault::{Fault, Faults};

pub use self::index::{NearRoad, Roads};

/// What to hand in instead.
const GIVE: &str = "give an OpenStreetMap extract (.osm.pbf) or a GeoJSON of lines";

/// So many pieces of road near the path are kept at most: 240 MB.
const MOST_PIECES: usize = 10_000_000;

/// The classes of `highway` in OpenStreetMap beside which a car can stop. Motorways are not among them, nor anything for
/// feet, wheels or hooves only (OpenStreetMap's own description of the key, from memory).
const CLASSES: [&str; 14] = [
    "trunk",
    "trunk_link",
    "primary",
    "primary_link",
    "secondary",
    "secondary_link",
    "tertiary",
    "tertiary_link",
    "unclassified",
    "residential",
    "living_street",
    "service",
    "road",
    "track",
];

/// Whether a way of that class and access is one that a car can drive and stop beside.
pub fn drivable<'a>(tag: impl Fn(&str) -> Option<&'a str>) -> bool {
    let class = tag("highway").is_some_and(|class| CLASSES.contains(&class));
    let access = ["motor_vehicle", "vehicle", "access"].into_iter().find_map(&tag);
    class && !matches!(access, Some("no" | "private")) && tag("area") != Some("yes")
}

/// What a road is called: its name, else its number.
fn called<'a>(tag: impl Fn(&str) -> Option<&'a str>) -> Option<&'a str> {
    ["name", "ref"].into_iter().filter_map(tag).map(str::trim).find(|name| !name.is_empty())
}

/// Reads the roads of a file for places within a distance of them. `near` says whether a place may matter.
///
/// # Errors
/// A file that is neither, is damaged, holds no road near the path, or holds too many.
pub fn read(path: &Path, within_km: f64, near: impl Fn(GeoPoint) -> bool + Sync) -> Result<Roads, Faults> {
    let file = path.display().to_string();
    let refuse = |wrong: String| Faults::from(Fault::of_file(&file, wrong, GIVE));
    let mut head = [0; 8];
    let mut opened = File::open(path).map_err(|e| refuse(format!("cannot be opened ({e})")))?;
    if opened.metadata().is_ok_and(|m| m.is_dir()) {
        return Err(refuse("is a folder".to_owned()));
    }
    let mut got = 0;
    while got < head.len() {
        match opened.read(&mut head[got..]).map_err(|e| refuse(format!("cannot be read ({e})")))? {
            0 => break,
            n => got += n,
        }
    }
    drop(opened);
    let text = head[..got].iter().find(|b| !b.is_ascii_whitespace() && !b"\xef\xbb\xbf".contains(b)) == Some(&b'{');
    let mut roads = Roads::new(&file, within_km);
    if text {
        geojson::read(path, &file, &near, &mut roads)?;
    } else if got == head.len() && head[0] == 0 {
        osm::read(path, &file, &near, &mut roads)?;
        roads.note_openstreetmap();
    } else if head.starts_with(b"<") {
        return Err(refuse("is XML: noonfall reads the packed form of OpenStreetMap".to_owned()));
    } else {
        return Err(refuse("is neither an OpenStreetMap extract nor GeoJSON".to_owned()));
    }
    if roads.is_empty() {
        let wrong = "holds no road near the path of the eclipse".to_owned();
        return Err(Fault::of_file(&file, wrong, "give the roads of the country that you search in").into());
    }
    roads.finish();
    Ok(roads)
}

/// The fault of too many pieces.
fn too_many(file: &str) -> Faults {
    let wrong = format!("holds more than {MOST_PIECES} pieces of road near the path");
    Fault::of_file(file, wrong, "cut the extract to the part of the path that you search in").into()
}
