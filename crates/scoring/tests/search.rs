//! The search of a plan over real-looking ground: water, slopes, a ridge before the Sun, roads.
//!
//! The ground of these tests is INVENTED; the eclipse of 22 July 2028 over the south of New Zealand is not (Sun 9° high at 311°).

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};

use noonfall_ephemeris::GeoPoint;
use noonfall_scoring::input::roads;
use noonfall_scoring::land::Land;
use noonfall_scoring::progress::Silent;
use noonfall_scoring::rank::RankedSite;
use noonfall_scoring::trip::{Options, Outcome, RunError, run};
use tempfile::TempDir;

const REFERENCE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/search/");

const PLAN: &str =
    "[eclipse]\ndate = 2028-07-22\n[weights]\ntotality = 1\n[moon]\nedge = \"smooth\"\n[robustness]\ndraws = 2000\n";
const SEARCH: &str = "[search]\nspacing_km = 1\nbest = 3\napart_km = 5\npolygon = \"area.geojson\"\n";

/// A folder with a plan and its files.
struct Trip(TempDir);

impl Trip {
    fn new(plan: &str) -> Trip {
        Trip(TempDir::new().unwrap())
            .with("plan.toml", plan.as_bytes())
            .with("area.geojson", &square(169.3, -45.35, 0.2))
    }

    fn with(self, name: &str, bytes: &[u8]) -> Trip {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
        self
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self) -> Result<Outcome, RunError> {
        run(&self.path("plan.toml"), &Options::default(), &Silent)
    }

    /// The message, with the folder taken out.
    fn refusal(&self) -> String {
        let text = self.run().err().map(|e| e.to_string()).unwrap_or_default();
        text.replace(&format!("{}/", self.0.path().display()), "")
    }
}

fn square(west: f64, south: f64, size: f64) -> Vec<u8> {
    let (east, north) = (west + size, south + size);
    format!(
        "{{\"type\":\"Polygon\",\"coordinates\":[[[{west},{south}],[{east},{south}],[{east},{north}],[{west},{north}],[{west},{south}]]]}}"
    )
    .into_bytes()
}

/// The SRTM tile S46E169 at 3″ with heights by place; `None` is a void.
fn tile(height: impl Fn(f64, f64) -> Option<f64>) -> Vec<u8> {
    let at = |i: u32| (-45.0 - f64::from(i / 1201) / 1200.0, 169.0 + f64::from(i % 1201) / 1200.0);
    (0..1201 * 1201)
        .flat_map(|i| {
            let (lat, lon) = at(i);
            (height(lat, lon).map_or(-32768, |m| m as i16)).to_be_bytes()
        })
        .collect()
}

/// Kilometres along an azimuth, and across it to the right, from one place to another close to it.
fn along_across(from: GeoPoint, azimuth_deg: f64, lat: f64, lon: f64) -> (f64, f64) {
    let (north, east) = ((lat - from.lat_deg) * 111.2, (lon - from.lon_deg) * 111.2 * from.lat_deg.to_radians().cos());
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    (north * cos + east * sin, east * cos - north * sin)
}

fn point(site: &RankedSite) -> GeoPoint {
    site.found.place.site.point()
}

fn best(outcome: &Outcome) -> &RankedSite {
    &outcome.ranking.sites[0]
}

/// Without terrain the best place is the longest totality; with it a ridge 4 km away, 18° high, stands before the Sun there,
/// and the search goes elsewhere: it gives the height, the margin, and the count of what it left out.
#[test]
fn a_place_behind_a_ridge_moves_out() {
    let level = Trip::new(&format!("{PLAN}{SEARCH}")).run().unwrap();
    let behind = best(&level).clone();
    assert!((behind.found.numbers.sun_altitude_deg - 9.3).abs() < 0.5, "{}", behind.found.numbers.sun_altitude_deg);
    assert_eq!((behind.found.place.site.elevation_m, behind.found.numbers.horizon_margin_deg), (0.0, None));
    let here = point(&behind);
    let ground = tile(|lat, lon| {
        let (along, across) = along_across(here, behind.found.sun_azimuth_deg(), lat, lon);
        Some(if (4.0..4.5).contains(&along) && across.abs() < 3.0 { 1500.0 } else { 200.0 })
    });
    let plan = format!("{PLAN}[terrain]\ndir = \"dem\"\n{SEARCH}");
    let trip = Trip::new(&plan).with("dem/S46E169.hgt", &ground);
    let outcome = trip.run().unwrap();
    assert!(
        outcome.ranking.sites.iter().all(|s| s.name() != behind.name() && s.found.rejected.is_empty()),
        "{}",
        behind.name()
    );
    for site in &outcome.ranking.sites {
        assert!(point(site) != here);
        assert_eq!(site.found.place.site.elevation_m, 200.0);
        assert!(site.found.place.height.to_string().contains("above mean sea level"), "{}", site.found.place.height);
        assert!(site.found.numbers.horizon_margin_deg.unwrap() > 0.0, "{site:?}");
        assert_eq!(site.found.place.columns.get("slope_deg"), Some(&0.0));
    }
    assert!(best(&outcome).found.numbers.totality_s < behind.found.numbers.totality_s + 0.2);
    let search = outcome.ranking.search.as_ref().unwrap();
    assert!(search.terrain && search.dropped.hidden_sun > 0, "{search:?}");
    assert!(
        search.dropped.skylines_asked > search.dropped.hidden_sun && search.dropped.skylines_asked <= search.in_path
    );
    let words = format!(
        "Of the {} most promising points, asked for their skyline, {} have the Sun behind it in totality.",
        search.dropped.skylines_asked, search.dropped.hidden_sun
    );
    assert!(search.words.contains(&words), "{}", search.words);
    // The same on the same ground where the Sun is not hidden: the place comes back, now with its margin.
    let open = Trip::new(&plan).with("dem/S46E169.hgt", &tile(|_, _| Some(200.0))).run().unwrap();
    assert_eq!(best(&open).name(), behind.name());
    assert!(
        (best(&open).found.numbers.horizon_margin_deg.unwrap() - behind.found.numbers.sun_altitude_deg).abs() < 0.3
    );
    // A margin that is required or weighted is found on the grid as well.
    let required = plan.replace("[moon]", "[require]\nmin_horizon_margin_deg = 9.2\n[moon]");
    let required = Trip::new(&required).with("dem/S46E169.hgt", &ground).run().unwrap();
    assert!(
        required
            .ranking
            .sites
            .iter()
            .all(|s| s.found.rejected.is_empty() && s.found.numbers.horizon_margin_deg.unwrap() >= 9.2)
    );
    let weighted = plan.replace(
        "totality = 1\n",
        "totality = 1\nhorizon_margin = 5\n[wish.horizon_margin]\nbetter = \"higher\"\nfrom = 0\nto = 10\n",
    );
    let weighted = Trip::new(&weighted).with("dem/S46E169.hgt", &ground).run().unwrap();
    let margins: Vec<f64> =
        weighted.ranking.sites.iter().map(|s| s.found.numbers.horizon_margin_deg.unwrap()).collect();
    assert!(margins.iter().all(|m| *m > 8.5), "{margins:?}");
    assert!(!weighted.ranking.search.unwrap().words.contains("does not weigh"));
}

/// The bound that spares skylines finds what asking them all finds.
#[test]
fn asking_few_skylines_finds_what_asking_all_finds() {
    let ground = tile(|lat, lon| Some(300.0 + 40.0 * ((lat * 300.0).sin() + (lon * 220.0).cos())));
    let weights = "totality = 1\nhorizon_margin = 2\n[wish.horizon_margin]\nbetter = \"higher\"\nfrom = 0\nto = 6\n";
    let plan = format!("{}[terrain]\ndir = \"dem\"\n", PLAN.replace("totality = 1\n", weights));
    // No two points of the grid lie so nearly 5.5 km apart that sphere and ellipsoid could disagree about it.
    let search = "[search]\nspacing_km = 2\nbest = 4\napart_km = 5.5\npolygon = \"area.geojson\"\n";
    let found = Trip::new(&format!("{plan}{search}")).with("dem/S46E169.hgt", &ground).run().unwrap();
    let note = found.ranking.search.as_ref().unwrap();
    assert!(note.dropped.skylines_asked < note.in_path, "{note:?}");
    // Every point of the lattice as a candidate of its own.
    let step = 2.0 / 111.195;
    let mut table = String::from("name,lat,lon\n");
    for lat in (0..10_000).map(|j| -90.0 + (f64::from(j) + 0.5) * step).filter(|l| (-45.35..-45.15).contains(l)) {
        let lon_step = 2.0 / (111.195 * lat.to_radians().cos());
        for lon in (0..30_000).map(|k| -180.0 + (f64::from(k) + 0.5) * lon_step).filter(|l| (169.3..169.5).contains(l))
        {
            if Land::shipped().contains(GeoPoint { lat_deg: lat, lon_deg: lon }) {
                table.push_str(&format!("p{},{lat},{lon}\n", table.len()));
            }
        }
    }
    let plan = format!("{plan}[sites]\nfile = \"sites.csv\"\n");
    let all = Trip::new(&plan).with("sites.csv", table.as_bytes()).with("dem/S46E169.hgt", &ground).run().unwrap();
    assert_eq!(all.ranking.sites.len() as u64, note.points);
    let mut taken: Vec<GeoPoint> = Vec::new();
    for site in all.ranking.sites.iter().filter(|s| s.rank.is_some()) {
        let far = |p: &GeoPoint| noonfall_shadow::geodesy::distance_km(*p, point(site)) >= 5.5;
        if taken.len() < 4 && taken.iter().all(far) {
            taken.push(point(site));
        }
    }
    let mut places: Vec<GeoPoint> = found.ranking.sites.iter().map(point).collect();
    let order = |a: &GeoPoint, b: &GeoPoint| a.lat_deg.total_cmp(&b.lat_deg);
    taken.sort_by(order);
    places.sort_by(order);
    for (a, b) in taken.iter().zip(&places) {
        assert!(noonfall_shadow::geodesy::distance_km(*a, *b) < 0.01, "{taken:?} {places:?}");
    }
    assert_eq!(taken.len(), places.len());
}

#[test]
fn steep_ground_and_ground_without_heights_are_left_out() {
    // East of 169.4° a slope of 20° that falls northward, towards the Sun; north of 45.25° S voids.
    let ground = tile(|lat, lon| match (lat, lon) {
        (lat, _) if lat > -45.25 => None,
        (lat, lon) if lon > 169.4 => Some(3000.0 - 111_200.0 * (lat + 45.3) * 20f64.to_radians().tan()),
        _ => Some(200.0),
    });
    let plan = format!("{PLAN}[terrain]\ndir = \"dem\"\n{SEARCH}");
    let steep = plan.replace("best = 3", "best = 3\nmax_slope = 10");
    let outcome = Trip::new(&steep).with("dem/S46E169.hgt", &ground).run().unwrap();
    let note = outcome.ranking.search.as_ref().unwrap();
    for site in &outcome.ranking.sites {
        assert!(site.found.place.site.lon_deg < 169.402 && site.found.place.site.lat_deg < -45.249, "{site:?}");
        assert!(site.found.place.columns["slope_deg"] <= 10.0);
    }
    // Half of the square is void; of the other half, half is steep.
    let (part, of) = (note.dropped.no_terrain as f64, note.in_path as f64);
    assert!((part / of - 0.5).abs() < 0.06, "{note:?}");
    assert!((note.dropped.slope as f64 / of - 0.25).abs() < 0.06, "{note:?}");
    assert!(note.words.contains("points in the path are steeper than 10°."), "{}", note.words);
    assert!(note.words.contains("have no height in the terrain files: nothing is known of them."), "{}", note.words);
    let all = Trip::new(&plan.replace("best = 3", "best = 30")).with("dem/S46E169.hgt", &ground).run().unwrap();
    assert!(all.ranking.sites.iter().any(|s| s.found.place.columns["slope_deg"] > 19.0));
    // Nothing but void: said, not taken for level.
    let void = Trip::new(&plan).with("dem/S46E169.hgt", &tile(|_, _| None)).refusal();
    assert!(void.contains("is a place to stand") && void.contains("have no height in the terrain files"), "{void}");
    let without = Trip::new(&steep.replace("[terrain]\ndir = \"dem\"\n", "")).refusal();
    assert!(without.contains("search.max_slope: the ground's slope is not known without terrain"), "{without}");
}

/// A polygon narrows dry land: over the coast and Lake Te Anau only its land is searched, unless the plan says otherwise.
#[test]
fn a_polygon_does_not_replace_land() {
    let plan = format!("{PLAN}{}", SEARCH.replace("best = 3", "best = 40"));
    for (west, south, sea) in [(170.3, -46.0, true), (167.6, -45.3, false)] {
        let dry = Trip::new(&plan).with("area.geojson", &square(west, south, 0.4)).run().unwrap();
        let note = dry.ranking.search.as_ref().unwrap();
        let wet = if sea { note.dropped.sea } else { note.dropped.lake };
        assert!(wet > 20, "{note:?}");
        assert_eq!(note.region, "the land of area.geojson");
        assert!(note.words.contains(if sea { "as sea." } else { "as lakes." }), "{}", note.words);
        assert!(dry.ranking.sites.iter().all(|s| Land::shipped().contains(point(s))));
        let afloat = plan.replace("best = 40", "best = 40\nland = false");
        let afloat = Trip::new(&afloat).with("area.geojson", &square(west, south, 0.4)).run().unwrap();
        let all = afloat.ranking.search.as_ref().unwrap();
        assert_eq!(all.points, note.points + note.dropped.sea + note.dropped.lake);
        assert_eq!((all.dropped.sea, all.region.as_str()), (0, "area.geojson, water included"));
        assert!(afloat.ranking.sites.iter().any(|s| !Land::shipped().contains(point(s))));
    }
    let open_sea = Trip::new(&plan).with("area.geojson", &square(165.0, -44.5, 0.3)).refusal();
    assert!(open_sea.contains("it lies on water") && open_sea.contains("search.land = false"), "{open_sea}");
}

/// Against shapely (tests/reference/search).
#[test]
fn lakes_are_where_shapely_has_them() {
    let mut reader = csv::Reader::from_path(format!("{REFERENCE}shores.csv")).unwrap();
    let (mut wet, mut all) = (0, 0);
    for row in reader.deserialize() {
        let (lat_deg, lon_deg, lake): (f64, f64, u8) = row.unwrap();
        let (_, lakes) = Land::shipped().land_and_lakes(lat_deg);
        let ours = lakes.iter().any(|s| s.0 <= lon_deg && lon_deg < s.1);
        assert_eq!(ours, lake == 1, "{lat_deg} {lon_deg}");
        (wet, all) = (wet + u32::from(ours), all + 1);
    }
    assert!(wet >= 10 && all == 200, "{wet} of {all}");
}

/// Against shapely and PROJ (tests/reference/search): from the extract and from GeoJSON alike.
#[test]
fn road_distances_are_those_of_shapely_and_proj() {
    for file in ["roads.osm.pbf", "roads.geojson"] {
        let roads = roads::read(Path::new(&format!("{REFERENCE}{file}")), 30.0, |_| true).unwrap();
        assert_eq!(roads.pieces(), 6, "three roads of three, two and one pieces");
        let mut reader = csv::Reader::from_path(format!("{REFERENCE}distances.csv")).unwrap();
        let mut rows = 0;
        for row in reader.deserialize() {
            let (lat_deg, lon_deg, metres, name): (f64, f64, f64, String) = row.unwrap();
            let near = roads.nearest(GeoPoint { lat_deg, lon_deg }).unwrap();
            // The foot of the perpendicular is found in a plane whose meridians do not meet: it lies a little to the side.
            assert!((near.distance_km * 1000.0 - metres).abs() < 0.5 + 5e-5 * metres, "{near:?} {metres}");
            assert_eq!(near.name.unwrap_or_default(), name);
            rows += 1;
        }
        assert_eq!(rows, 60);
    }
}

/// A small distance asks small cells; the answer is that of a search among all pieces.
#[test]
fn what_is_within_reach_does_not_depend_on_the_cells() {
    let path = format!("{REFERENCE}roads.geojson");
    let far = roads::read(Path::new(&path), 60.0, |_| true).unwrap();
    for within_km in [0.3, 1.0, 4.0, 9.0] {
        let roads = roads::read(Path::new(&path), within_km, |_| true).unwrap();
        let mut inside = 0;
        for i in 0..4000 {
            let (a, b) = (f64::from(i % 63) / 63.0, f64::from(i / 63) / 64.0);
            let at = GeoPoint { lat_deg: -45.42 + 0.34 * a, lon_deg: 169.15 + 0.5 * b };
            let distance_km = far.nearest(at).unwrap().distance_km;
            assert_eq!(roads.within(at), distance_km <= within_km, "{at:?} {distance_km}");
            assert_eq!(roads.nearest(at).is_some(), distance_km <= within_km);
            inside += u32::from(distance_km <= within_km);
        }
        assert!(inside > 50, "{inside}");
    }
}

#[test]
fn a_search_keeps_near_roads_and_names_them() {
    let file = |name: &str| std::fs::read(format!("{REFERENCE}{name}")).unwrap();
    let plan = format!("{PLAN}{SEARCH}roads = \"roads\"\nroad_distance_km = 0.8\n").replace("best = 3", "best = 6");
    let with = |name: &str| Trip::new(&plan).with("roads", &file(name)).run().unwrap();
    let (packed, text) = (with("roads.osm.pbf"), with("roads.geojson"));
    let note = packed.ranking.search.as_ref().unwrap();
    assert_eq!(note.road_distance_km, Some(0.8));
    assert!(note.dropped.road > note.in_path / 2, "{note:?}");
    assert!(note.words.contains("points in the path are more than 0.8 km from a road."), "{}", note.words);
    assert_eq!(Some(note), text.ranking.search.as_ref());
    // What a map draws are the same roads, near the place that was asked for, and who made them is named where that is known.
    let drawn = |outcome: &Outcome| {
        let roads = outcome.roads.as_ref().unwrap();
        let lines = roads.lines_near(GeoPoint { lat_deg: -45.25, lon_deg: 169.4 }, 60.0);
        for point in lines.iter().flatten() {
            assert!(roads.nearest(*point).unwrap().distance_km < 0.001, "{point:?}");
        }
        (lines.iter().map(Vec::len).sum::<usize>(), roads.credit())
    };
    let (of_packed, of_text) = (drawn(&packed), drawn(&text));
    assert!(of_packed.0 > 4, "{of_packed:?}");
    assert_eq!(of_packed.0, of_text.0);
    assert!(of_packed.1.unwrap().contains("ODbL") && of_text.1.is_none());
    let far = packed.roads.as_ref().unwrap().lines_near(GeoPoint { lat_deg: 45.0, lon_deg: 10.0 }, 60.0);
    assert!(far.is_empty());
    for (a, b) in packed.ranking.sites.iter().zip(&text.ranking.sites) {
        assert_eq!(&a.found.place, &b.found.place);
        assert!(a.found.place.columns["road_km"] <= 0.8);
        let road = a.found.place.texts.get("road").map(String::as_str).unwrap_or("a road without a name");
        assert!(["Invented Highway", "X7", "a road without a name"].contains(&road), "{road}");
        assert!(a.name().contains(" of ") && a.name().ends_with(road), "{}", a.name());
    }
}

#[test]
fn files_that_are_no_roads_are_refused() {
    let good = std::fs::read(format!("{REFERENCE}roads.osm.pbf")).unwrap();
    let refusal = |bytes: &[u8]| {
        let plan = format!("{PLAN}{SEARCH}roads = \"roads\"\n");
        Trip::new(&plan).with("roads", bytes).refusal()
    };
    let mut claims = good.clone();
    claims[..4].copy_from_slice(&[0, 1, 0, 1]);
    let mut broken = good.clone();
    let middle = good.len() - 60;
    broken[middle..middle + 20].fill(0x55);
    for (bytes, says) in [
        (good[..good.len() - 9].to_vec(), "ends inside blob"),
        (good[..3].to_vec(), "is neither an OpenStreetMap extract nor GeoJSON"),
        (claims, "65537 bytes, more than the 65536 that the format allows"),
        (broken, "cannot be unpacked"),
        (b"\0\0\0\x0b\x0a\x07OSMData\x18\x00".to_vec(), "does not begin as an OpenStreetMap extract does"),
        (b"<osm version=\"0.6\"/>".to_vec(), "is XML"),
        (b"name,lat,lon\n".to_vec(), "is neither an OpenStreetMap extract nor GeoJSON"),
        (b"{\"type\":\"Topology\"}".to_vec(), "is not GeoJSON"),
        (b"{\"type\":\"Point\",\"coordinates\":[169.4,-45.3]}".to_vec(), "feature 1 is a Point"),
        (
            b"{\"type\":\"LineString\",\"coordinates\":[[169.4,-45.3],[-45.3,169.4]]}".to_vec(),
            "vertex 2 [-45.3, 169.4] is not on the globe",
        ),
        (b"{\"type\":\"LineString\",\"coordinates\":[[10,50],[11,50]]}".to_vec(), "holds no road near the path"),
    ] {
        let text = refusal(&bytes);
        assert!(text.starts_with("roads: ") && text.contains(says), "{says}: {text}");
    }
    let alone = Trip::new(&format!("{PLAN}{SEARCH}road_distance_km = 2\n")).refusal();
    assert!(alone.contains("there are no roads to be near to"), "{alone}");
}

/// An extract in which any byte is another one is refused or read, never a panic.
#[test]
fn any_byte_of_an_extract_may_be_wrong() {
    let good = std::fs::read(format!("{REFERENCE}roads.osm.pbf")).unwrap();
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("roads");
    let mut refused = 0;
    for at in 0..good.len() {
        let mut bytes = good.clone();
        bytes[at] ^= 0xa5;
        std::fs::write(&path, &bytes).unwrap();
        refused += u32::from(roads::read(&path, 1.0, |_| true).is_err());
    }
    assert!(refused as usize > good.len() / 2, "{refused}");
}
