//! The sunlit ground: raster, picture, text and JSON of an area; terrain that is doubtful or wrong; every refusal.

use crate::util::{command, holds, json, no_nan, noonfall, number, refusal, stdout, text, top};
use noonfall_scoring::input::terrain::{Height, Terrain};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

/// An invented SRTM tile in Castile, under the eclipse of 12 August 2026 with the Sun 9° up in the west: a plain with a ridge along
/// the meridian of 3.7° W, 700 m over it, and a void.
fn ridge(folder: &Path) -> String {
    let mut bytes = Vec::with_capacity(1201 * 1201 * 2);
    for row in 0..1201_i32 {
        for column in 0..1201_i32 {
            let height = match (row, column) {
                (900..920, 700..740) => i16::MIN,
                _ => (900 + (700 - 70 * (column - 360).abs()).max(0) + (row % 5)) as i16,
            };
            bytes.extend(height.to_be_bytes());
        }
    }
    fs::create_dir_all(folder).unwrap();
    fs::write(folder.join("N41W004.hgt"), bytes).unwrap();
    folder.to_str().unwrap().to_owned()
}

fn path(folder: &Path, name: &str) -> String {
    folder.join(name).to_str().unwrap().to_owned()
}

fn inputs(name: &str) -> PathBuf {
    top().join("tests/reference/terrain/inputs").join(name)
}

/// A raster of degrees read as if its unit were metres: elevation files are what the program can read.
fn degrees(raster: &str, folder: &Path) -> Terrain {
    let bytes = fs::read(raster).unwrap();
    let (unit, metres) = (b">degree<", b">m     <");
    let at = bytes.windows(unit.len()).position(|w| w == unit).unwrap();
    let copy = folder.join("as-metres.tif");
    fs::write(&copy, [&bytes[..at], metres, &bytes[at + unit.len()..]].concat()).unwrap();
    Terrain::open(&copy).unwrap()
}

fn nodes(told: &Value, kind: &str) -> f64 {
    number(told, &format!("/ground/{kind}/nodes"))
}

#[test]
fn an_area_has_its_raster_picture_text_and_figures() {
    let folder = tempfile::tempdir().unwrap();
    let (dem, out) = (ridge(&folder.path().join("dem")), path(folder.path(), "new/area.tif"));
    let asked =
        ["sunlit", "2026-08-12", "--terrain", &dem, "--area=-3.75,41.5,-3.55,41.65", "--out", &out, "--around=20"];
    let told = json(&[&asked[..], &["--format=json"]].concat());
    assert_eq!((number(&told, "/grid/columns"), number(&told, "/grid/rows")), (241.0, 181.0));
    let sum: f64 =
        ["clear", "thin", "hidden", "without_height", "without_skyline"].iter().map(|k| nodes(&told, k)).sum();
    assert_eq!(sum, nodes(&told, "in_path"));
    assert_eq!(nodes(&told, "in_path"), 241.0 * 181.0);
    // A ridge 700 m high hides a Sun at 8.5° in the azimuth of 284° out to 4.7 km, 65 columns of 69 m; before it the Sun is free.
    let hidden = nodes(&told, "hidden") / 181.0;
    assert!((55.0..75.0).contains(&hidden), "{hidden} columns");
    assert!(nodes(&told, "clear") > 80.0 * 181.0);
    assert!(number(&told, "/lost/nodes") > nodes(&told, "hidden") * 0.5 && number(&told, "/least_margin_deg") < -20.0);
    holds(text(&told, "/terrain/notes/0"), &["above mean sea level (EGM96"]);
    holds(text(&told, "/caution"), &["no window for bare eyes", "ISO 12312-2"]);
    // Nothing but what is told was written, and the raster is where it says.
    let files: Vec<&str> = told["files"].as_array().unwrap().iter().map(|f| f["file"].as_str().unwrap()).collect();
    assert_eq!(files.len(), 5);
    assert_eq!(fs::read_dir(folder.path().join("new")).unwrap().count(), 5);
    let margins = degrees(files[0], folder.path());
    let margin = |lat: f64, lon: f64| match margins.height(lat, lon).unwrap() {
        Height::Metres(degrees) => degrees,
        other => panic!("{other:?}"),
    };
    // The same as for single places, whose contacts are at the Moon's measured edge and whose rays are cast one by one.
    for (lat, lon) in [(41.55, -3.65), (41.6, -3.66), (41.6, -3.6), (41.525, -3.72)] {
        let (lat_text, lon_text) = (format!("--lat={lat}"), format!("--lon={lon}"));
        let at = json(&["at", "2026-08-12", &lat_text, &lon_text, "--terrain", &dem, "--format=json"]);
        let least =
            ["c2", "max", "c3"].iter().map(|c| number(&at, &format!("/skyline/margin_{c}_deg"))).fold(99.0, f64::min);
        assert!((margin(lat, lon) - least).abs() < 0.15, "{lat} {lon}: {} {least}", margin(lat, lon));
    }
    let svg = fs::read_to_string(files[3]).unwrap();
    holds(&svg, &["Sunlit ground", "Ground hides the Sun in totality", "not known", "GeoNames", "<title", "km"]);
    no_nan(&svg.replace(|c: char| !c.is_ascii(), " "));
    assert!(fs::read(files[4]).unwrap().starts_with(b"\x89PNG"));
    let words = stdout(&[&asked[..], &["--format=table"]].concat());
    holds(
        &words,
        &["Area: ", "behind the skyline for a part of totality", "Written: ", "Trees and houses are not known", "! "],
    );
    no_nan(&words);
}

#[test]
fn the_same_input_gives_the_same_bytes_on_any_number_of_threads() {
    let folder = tempfile::tempdir().unwrap();
    let dem = ridge(&folder.path().join("dem"));
    let made = |name: &str, threads: &str| {
        let out = path(folder.path(), &format!("{name}/s.tif"));
        let asked = ["sunlit", "2026-08-12", "--terrain", &dem, "--area=-3.8,41.4,-3.5,41.6", "--out", &out, "--quiet"];
        assert!(command(&asked).env("RAYON_NUM_THREADS", threads).output().unwrap().status.success());
        ["s.tif", "s.svg", "s.png"].map(|f| fs::read(folder.path().join(name).join(f)).unwrap())
    };
    assert!(made("one", "1") == made("three", "3"));
}

/// Without an area: the terrain's part in the path. A coarse grid has the same margins at its nodes as the terrain's own.
#[test]
fn without_an_area_the_path_and_a_spacing_thins_it() {
    let folder = tempfile::tempdir().unwrap();
    let dem = ridge(&folder.path().join("dem"));
    let out = |name: &str| path(folder.path(), name);
    let told = json(&[
        "sunlit",
        "2026-08-12",
        "--terrain",
        &dem,
        "--spacing=1000",
        "--out",
        &out("coarse.tif"),
        "--format=json",
    ]);
    // All of the tile lies in the path.
    assert!((number(&told, "/ground/in_path/km2") - 9290.0).abs() < 200.0, "{}", told["ground"]);
    let (columns, rows) = (number(&told, "/grid/columns"), number(&told, "/grid/rows"));
    assert!((columns - 83.0).abs() < 2.0 && (rows - 111.0).abs() < 2.0, "{columns} {rows}");
    let finer =
        json(&["sunlit", "2026-08-12", "--terrain", &dem, "--spacing=250", "--out", &out("fine.tif"), "--format=json"]);
    for kind in ["clear", "thin", "hidden"] {
        let share = |told: &Value| number(told, &format!("/ground/{kind}/km2")) / number(told, "/ground/in_path/km2");
        assert!((share(&told) - share(&finer)).abs() < 0.02, "{kind}: {} {}", share(&told), share(&finer));
    }
    // The void; and towards the tile's western edge. Nodes a kilometre apart begin half a kilometre inside it.
    assert!(nodes(&told, "without_height") > 0.0 && nodes(&told, "doubtful") > 0.0, "{}", told["ground"]);
    holds(&told["warnings"].to_string(), &["never taken as level", "would hide the Sun if it were as high"]);
}

#[test]
fn beyond_the_files_nothing_is_taken_as_level() {
    let folder = tempfile::tempdir().unwrap();
    let (dem, out) = (ridge(&folder.path().join("dem")), path(folder.path(), "s.tif"));
    let told = json(&[
        "sunlit",
        "2026-08-12",
        "--terrain",
        &dem,
        "--area=-4.2,41.5,-3.8,41.7",
        "--out",
        &out,
        "--format=json",
    ]);
    assert!(nodes(&told, "without_height") > 0.4 * nodes(&told, "all"), "{}", told["ground"]);
    let margins = degrees(&out, folder.path());
    assert_eq!(margins.height(41.6, -4.1).unwrap(), Height::Void);
    assert!(nodes(&told, "without_skyline") > 0.0);
    holds(&told["warnings"].to_string(), &["never taken as level", "at the edge of the files"]);
    holds(&fs::read_to_string(path(folder.path(), "s.svg")).unwrap(), &["Ground of which nothing is known"]);
}

/// The real sample in Tennessee lies 40 km north of the path of 2017; an invented ΔT of 600 s brings the path over it.
fn tennessee<'a>(terrain: &'a str, out: &'a str) -> [&'a str; 8] {
    ["sunlit", "2017-08-21", "--delta-t=600", "--terrain", terrain, "--out", out, "--format=json"]
}

#[test]
fn elevation_as_it_is_handed_out_serves_and_what_is_doubtful_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let out = path(folder.path(), "s.tif");
    let mut greatest = Vec::new();
    for name in ["plain.tif", "half.tif", "turned.tif", "feet.tif", "nested", "wrong/feet-unsaid.tif"] {
        let told = json(&tennessee(inputs(name).to_str().unwrap(), &out));
        let warnings = told["terrain"]["warnings"].to_string();
        assert_eq!(
            warnings.contains("coordinates are in feet, and the unit"),
            name == "wrong/feet-unsaid.tif",
            "{warnings}"
        );
        greatest.push((name, number(&told, "/least_margin_deg")));
    }
    // One ground in five forms has one skyline; in feet that are taken for metres it stands three times as high, and that is warned of.
    let plain = greatest[0].1;
    for (name, least) in &greatest[1..5] {
        assert!((least - plain).abs() < 5.0, "{greatest:?}: {name}");
    }
    assert!(greatest[5].1 < plain - 5.0, "{greatest:?}");
    // Neighbours 500 m apart.
    let both = folder.path().join("both");
    fs::create_dir(&both).unwrap();
    fs::copy(inputs("zstd-3.tif"), both.join("low.tif")).unwrap();
    fs::copy(inputs("wrong/higher.tif"), both.join("high.tif")).unwrap();
    let told = json(&tennessee(both.to_str().unwrap(), &out));
    holds(&told["terrain"]["warnings"].to_string(), &["high.tif and low.tif disagree by 500 m where they meet"]);
}

/// What is doubtful about the terrain reaches people from every command that reads it.
#[test]
fn every_command_tells_what_the_terrains_heights_are() {
    let folder = tempfile::tempdir().unwrap();
    let dem = inputs("wrong/feet-unsaid.tif");
    let dem = dem.to_str().unwrap();
    let (datum, doubt) = ("Heights of the terrain: ", "the unit of the heights is not stated");
    let at = ["at", "2017-08-21", "--delta-t=600", "--lat=36.59", "--lon=-84.25", "--terrain", dem];
    for format in ["--format=table", "--format=json", "--format=jsonl"] {
        holds(&stdout(&[&at[..], &[format]].concat()), &[datum, doubt]);
    }
    let sites = path(folder.path(), "sites.csv");
    fs::write(&sites, "name,lat,lon\nOne,36.59,-84.25\nTwo,36.58,-84.24\n").unwrap();
    let many = ["at", "2017-08-21", "--delta-t=600", "--sites", &sites, "--terrain", dem, "--format=table"];
    assert_eq!(stdout(&many).matches(datum).count(), 1);
    let csv = noonfall(&["at", "2017-08-21", "--sites", &sites, "--terrain", dem, "--format=csv"]);
    holds(&String::from_utf8(csv.stderr).unwrap(), &[doubt]);
    let plan = format!(
        "[eclipse]\ndate = \"2017-08-21\"\ndelta_t_s = 600\n[sites]\nfile = \"sites.csv\"\n[terrain]\ndir = {dem:?}\n[weights]\ntotality = 1\n"
    );
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    let plan = path(folder.path(), "plan.toml");
    holds(&stdout(&["check", &plan]), &[datum, doubt]);
    let ranking = json(&["rank", &plan, "--format=json", "--quiet"]);
    holds(&ranking["notes"].to_string(), &[datum, doubt]);
}

/// A refusal that leaves its folder as it was.
fn refused(folder: &Path, arguments: &[&str], pieces: &[&str]) {
    let list =
        || fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name()).collect::<std::collections::BTreeSet<_>>();
    let before = list();
    let message = refusal(arguments);
    holds(&message, pieces);
    assert_eq!(list(), before, "{arguments:?} wrote something");
}

#[test]
fn wrong_terrain_is_named_and_nothing_written() {
    let folder = tempfile::tempdir().unwrap();
    let out = path(folder.path(), "s.tif");
    for (name, pieces) in [
        (
            "wrong/no-data.tif",
            ["nowhere in the path is there ground with a skyline", "have no height", "(terrain file no-data.tif)"],
        ),
        ("wrong/void.tif", ["nowhere in the path is there ground with a skyline", "voids", "void.tif"]),
        ("wrong/swapped.tif", ["swapped.tif", "its latitude and longitude may have changed places", ""]),
        ("wrong/swapped-utm.tif", ["swapped-utm.tif", "check its coordinate system", ""]),
        ("wrong/jpeg.tif", ["jpeg.tif", "is packed with JPEG", ""]),
    ] {
        let input = inputs(name);
        refused(folder.path(), &tennessee(input.to_str().unwrap(), &out), &pieces);
    }
    // Cut short; and a tile of zeros packed so small that it would be ten times as large as it may.
    let whole = fs::read(inputs("lzw-2.tif")).unwrap();
    let cut = folder.path().join("cut.tif");
    fs::write(&cut, &whole[..whole.len() / 2]).unwrap();
    refused(folder.path(), &tennessee(cut.to_str().unwrap(), &out), &["cut.tif"]);
    let bomb = folder.path().join("N36W085.hgt.gz");
    let mut gz = flate2::write::GzEncoder::new(fs::File::create(&bomb).unwrap(), flate2::Compression::fast());
    std::io::copy(&mut std::io::Read::take(std::io::repeat(0), 260_000_000), &mut gz).unwrap();
    gz.finish().unwrap();
    refused(folder.path(), &tennessee(bomb.to_str().unwrap(), &out), &["N36W085.hgt.gz"]);
    // A tile of nothing but voids.
    let tile = folder.path().join("N36W085.hgt");
    fs::write(&tile, i16::MIN.to_be_bytes().repeat(1201 * 1201)).unwrap();
    refused(folder.path(), &tennessee(tile.to_str().unwrap(), &out), &["have no height"]);
}

#[test]
fn wrong_questions_are_refused_before_any_work() {
    let folder = tempfile::tempdir().unwrap();
    let (dem, out) = (ridge(&folder.path().join("dem")), path(folder.path(), "s.tif"));
    let ask = |more: &[&str], pieces: &[&str]| {
        refused(folder.path(), &[&["sunlit", "2026-08-12", "--terrain", &dem, "--out", &out], more].concat(), pieces);
    };
    ask(&["--area=-3.7,41.2,-3.5"], &["--area", "3 numbers instead of four"]);
    ask(&["--area=-3.7,41.2,-3.5,nan"], &["not four numbers"]);
    ask(&["--area=-3.7,41.6,-3.5,41.2"], &["not below the northern"]);
    ask(&["--area=-3.5,41.2,-3.7,41.6"], &["west and east swapped"]);
    ask(&["--area=-3.7,41.2,-3.5,95"], &["latitudes run from -90 to 90"]);
    ask(&["--area=-3.7001,41.2,-3.7,41.2001"], &["are no grid", "larger area"]);
    ask(&["--area=10,41.2,11,41.6"], &["no elevation file reaches into the area", "10.0000° E"]);
    ask(&["--spacing=0"], &["--spacing", "metres from 1 to 100000"]);
    ask(&["--spacing=-30"], &["metres from 1 to 100000"]);
    ask(&["--spacing=wide"], &["not a number"]);
    ask(&["--spacing=1"], &["more than the 4000000000 that are looked at", "larger --spacing"]);
    ask(&["--around=1000"], &["minutes from 0 to 240"]);
    // Eclipses elsewhere, and of another kind.
    let elsewhere = ["sunlit", "2028-07-22", "--terrain", &dem, "--out", &out];
    refused(folder.path(), &elsewhere, &["lies outside the path of the eclipse of 2028-07-22", "N41W004.hgt"]);
    let there = [&elsewhere[..], &["--area=-3.7,41.2,-3.5,41.6"]].concat();
    refused(folder.path(), &there, &["sees totality on 2028-07-22"]);
    refused(
        folder.path(),
        &["sunlit", "2026-02-17", "--terrain", &dem, "--out", &out],
        &["is annular", "total eclipse"],
    );
    // A raster of degrees is no elevation.
    let (degrees, other) = (path(folder.path(), "d.tif"), path(folder.path(), "other.tif"));
    let area = "--area=-3.7,41.5,-3.68,41.52";
    stdout(&["sunlit", "2026-08-12", "--terrain", &dem, area, "--out", &degrees, "--format=json"]);
    let again = ["sunlit", "2026-08-12", "--terrain", &degrees, area, "--out", &other];
    refused(folder.path(), &again, &["d.tif", "its heights are in \"degree\""]);
    // Files that cannot be.
    let into = |name: &str, pieces: &[&str]| {
        let out = path(folder.path(), name);
        refused(folder.path(), &["sunlit", "2026-08-12", "--terrain", &dem, "--out", &out], pieces);
    };
    into("s.png", &["s.png", "ends in .tif"]);
    into("dem/s.tif", &["dem/s.tif", "would be read as one of them"]);
    fs::write(folder.path().join("a-file"), "x").unwrap();
    into("a-file/s.tif", &["a-file", "cannot be written"]);
    fs::create_dir(folder.path().join("folder.tif")).unwrap();
    into("folder.tif", &["is a folder"]);
    refused(folder.path(), &["sunlit", "2026-08-12", "--terrain", "/nowhere", "--out", &out], &["/nowhere"]);
}
