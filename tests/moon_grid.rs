//! Heights of the Moon that a user brings: what they change, that every output names them, and every refusal.

use crate::util::{holds, json, no_nan, number, refusal, stdout, text, top};
use std::fs;
use std::path::{Path, PathBuf};

/// Four heights a degree, the coarsest grid that is read: invented Moons of two megabytes.
const LINES: usize = 720;
const SAMPLES: usize = 1440;

/// A label as LOLA's grids have it (the keys of LDEM_4.LBL, PDS data set LRO-L-LOLA-4-GDR-V1.0).
const LABEL: &str = "PDS_VERSION_ID = \"PDS3\"\nTARGET_NAME = MOON\nOBJECT = IMAGE\n LINES = 720\n LINE_SAMPLES = 1440\n \
    SAMPLE_TYPE = LSB_INTEGER\n SAMPLE_BITS = 16\n UNIT = METER\n SCALING_FACTOR = 0.5\n OFFSET = 1737400.\nEND_OBJECT = IMAGE\n\
    OBJECT = IMAGE_MAP_PROJECTION\n MAP_PROJECTION_TYPE = \"SIMPLE CYLINDRICAL\"\n MAP_RESOLUTION = 4 <pix/deg>\n \
    POSITIVE_LONGITUDE_DIRECTION = \"EAST\"\n WESTERNMOST_LONGITUDE = 0 <deg>\nEND_OBJECT = IMAGE_MAP_PROJECTION\nEND\n";

/// A Moon that is the same height everywhere.
fn flat(height_m: f64) -> Vec<u8> {
    ((2.0 * height_m) as i16).to_le_bytes().repeat(LINES * SAMPLES)
}

fn pds(folder: &Path, label: &str, image: &[u8]) -> String {
    fs::write(folder.join("made-up.lbl"), label).unwrap();
    fs::write(folder.join("made-up.img"), image).unwrap();
    folder.join("made-up.img").to_str().unwrap().to_owned()
}

/// Kununurra under the eclipse of 2028.
fn at<'a>(grid: &'a str, format: &'a str) -> [&'a str; 11] {
    let place = ["at", "2028-07-22", "--lat", "-15.7782", "--lon", "128.7421", "--elevation", "45"];
    let [a, b, c, d, e, f, g, h] = place;
    [a, b, c, d, e, f, g, h, "--moon-grid", grid, format]
}

/// A Moon smaller by 3 km, 1.65″ all round, gives less totality at either end by that over the rate at which its edge passes:
/// 0.19″/s at Kununurra, far from the central line (worked by hand: 17 s at both ends together).
#[test]
fn a_flat_moon_has_the_contacts_of_its_height_and_every_format_names_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let grid = pds(folder.path(), LABEL, &flat(0.0));
    let high = json(&at(&grid, "--format=json"));
    assert!(text(&high, "/moon_edge/source").starts_with("made-up.img (4 heights a degree, within 2 m)"));
    for format in ["table", "csv", "jsonl", "ics"] {
        let shown = stdout(&at(&grid, &format!("--format={format}"))).replace("\r\n ", "");
        holds(&shown, &["made-up.img"]);
        assert!(!shown.contains("LDEM_16"), "{format}: {shown}");
        no_nan(&shown);
    }
    holds(&stdout(&at(&grid, "--edge=smooth")), &["made-up.img"]);
    // A table of many places says it once, below.
    let sites = folder.path().join("sites.csv");
    fs::write(&sites, "name,lat,lon\nOne,-15.8,128.7\nTwo,-15.9,128.8\nFar,10,10\n").unwrap();
    let sites = sites.to_str().unwrap();
    let shown = stdout(&["at", "2028-07-22", "--sites", sites, "--moon-grid", &grid, "--format=table"]);
    assert_eq!(shown.matches("made-up.img").count(), 1, "{shown}");
    let grid = pds(folder.path(), LABEL, &flat(-3000.0));
    let low = json(&at(&grid, "--format=json"));
    let longer = number(&high, "/moon_edge/duration_s") - number(&low, "/moon_edge/duration_s");
    assert!((15.0..21.0).contains(&longer), "{longer}");
    // On a flat Moon light goes out all along an arc: no valley is left for a bead.
    assert!(high["moon_edge"]["beads"].as_array().unwrap().len() <= 2, "{}", high["moon_edge"]["beads"]);
    // A grid four times as coarse as LDEM_16 leaves more uncertain, and the window allows for it.
    let plain = [&at(&grid, "--format=json")[..8], &["--format=json"]].concat();
    let allowed = |found: &serde_json::Value| {
        let all = found["filters"]["allowances"].as_array().unwrap();
        number(all.iter().find(|a| a["cause"] == "moon_edge").unwrap(), "/c2_s")
    };
    assert!(allowed(&high) > 1.7 * allowed(&json(&plain)));
}

/// The label may be named as well, and a real grid's heights come from the west as well as from Greenwich.
#[test]
fn a_label_names_its_image_and_a_grid_may_begin_at_180_west() {
    let folder = tempfile::tempdir().unwrap();
    // A mountain range of 6 km on the eastern half of the Moon: it shows on one side of the edge only.
    let half = |from_west: bool| -> Vec<u8> {
        let east = |x: usize| (x < SAMPLES / 2) != from_west;
        let cells = (0..LINES * SAMPLES).map(|at| if east(at % SAMPLES) { 6000_i16 } else { 0 });
        cells.flat_map(|height_m| (2 * height_m).to_le_bytes()).collect()
    };
    let contacts = |label: &str, image: &[u8]| {
        let grid = pds(folder.path(), label, image).replace(".img", ".lbl");
        let found = json(&at(&grid, "--format=json"));
        ["C2", "C3"].map(|c| number(&found, &format!("/moon_edge/{c}/after_smooth_s")))
    };
    let greenwich = contacts(LABEL, &half(false));
    let west = contacts(&LABEL.replace("LONGITUDE = 0", "LONGITUDE = -180"), &half(true));
    assert_eq!(greenwich, west);
    let [c2, c3] = greenwich;
    // 6 km are 3.3″ on one side, at 0.45″/s; the other is flat.
    assert!((c2.abs() - c3.abs()).abs() > 3.0, "{c2} {c3}");
}

/// A copy of the demo's folder, with keys added to its plan.
fn demo_with(keys: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(top().join("data/demo")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            fs::copy(&path, folder.path().join(path.file_name().unwrap())).unwrap();
        }
    }
    let plan = folder.path().join("plan.toml");
    let text = fs::read_to_string(&plan).unwrap();
    assert!(!text.contains("[moon]") && !text.contains("[conventions]"));
    fs::write(&plan, format!("{text}\n{keys}\n")).unwrap();
    folder
}

/// A flat Moon of the handbook's interior radius with the handbook's Sun: true contacts are the smooth ones. The grid of a
/// plan lies beside the plan.
#[test]
fn a_plan_with_a_smooth_grid_gives_the_smooth_contacts() {
    let folder = demo_with("[moon]\ngrid = \"made-up.lbl\"\n[conventions]\nsun_radius_true_edge_km = 696000");
    // k = 0.272281 of 6378.137 km is 754.5 m below 1737.4 km.
    pds(folder.path(), LABEL, &flat(-754.5));
    let plan = folder.path().join("plan.toml").to_str().unwrap().to_owned();
    let out = folder.path().join("out");
    let ranking = json(&["rank", &plan, "--quiet", "--format=json", "--out", out.to_str().unwrap()]);
    let mut held = 0;
    for site in ranking["sites"].as_array().unwrap() {
        let Some(edge) = site["moon_edge"].as_object() else { continue };
        assert!(edge["source"].as_str().unwrap().starts_with("made-up.lbl ("));
        for contact in ["C2", "C3"] {
            // Heights are kept to 2 m, 0.001″; close inside a limit (Te Anau) the edge passes at some 0.03″ a second.
            let shift = number(site, &format!("/moon_edge/{contact}/after_smooth_s"));
            let bound = if number(site, "/totality_s") < 60.0 { 0.06 } else { 0.02 };
            assert!(shift.abs() < bound, "{} {contact}: {shift}", site["name"]);
            held += 1;
        }
    }
    assert!(held >= 10, "{held}");
    let roles = ranking["provenance"]["inputs"].as_array().unwrap();
    assert!(roles.iter().any(|i| i["role"] == "moon grid" && i["file"] == "made-up.lbl"));
    for file in ["report.html", "ranking.csv", "ranking.json", "sites.gpx", "sites.kml", "sites.geojson"] {
        let written = fs::read_to_string(out.join(file)).unwrap().replace("\r\n ", "");
        assert!(written.contains("made-up.lbl") && !written.contains("LDEM_16"), "{file}");
    }
    let calendars: Vec<_> = fs::read_dir(&out)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "ics"))
        .collect();
    assert_eq!(calendars.len(), 3);
    for calendar in calendars {
        let written = fs::read_to_string(&calendar).unwrap().replace("\r\n ", "");
        assert!(written.contains("made-up.lbl") && !written.contains("LDEM_16"), "{}", calendar.display());
    }
    // Lines of a map break between words.
    let map = fs::read_to_string(out.join("map.svg")).unwrap();
    assert!(map.contains("made-up.lbl") && !map.contains("LDEM_16"));
    // The option goes before the plan's key.
    let other = folder.path().join("other");
    fs::create_dir(&other).unwrap();
    let grid = pds(&other, LABEL, &flat(1000.0));
    let site = ranking["sites"][0]["name"].as_str().unwrap();
    let brief = folder.path().join("brief.svg");
    let arguments = ["brief", &plan, "--site", site, "--moon-grid", &grid, "--quiet", "--out", brief.to_str().unwrap()];
    stdout(&arguments);
    assert!(brief.exists());
    let over = json(&["rank", &plan, "--quiet", "--format=json", "--moon-grid", &grid]);
    assert!(text(&over, "/sites/0/moon_edge/source").starts_with("made-up.img ("));
}

#[test]
fn limits_name_the_grid_they_are_of() {
    let folder = tempfile::tempdir().unwrap();
    let grid = pds(folder.path(), LABEL, &flat(1000.0));
    let trace = |format| {
        let arguments =
            ["trace", "2028-07-22", "--every", "3600", "--edge", "true", "--moon-grid", &grid, "--format", format];
        stdout(&arguments)
    };
    for format in ["json", "geojson", "kml"] {
        holds(&trace(format), &["made-up.img (4 heights a degree"]);
    }
    let smooth = refusal(&["trace", "2028-07-22", "--moon-grid", &grid]);
    holds(&smooth, &["--moon-grid", "--edge true"]);
}

#[test]
fn a_pds_grid_that_is_not_one_of_the_moon() {
    let folder = tempfile::tempdir().unwrap();
    let good = flat(0.0);
    let cases = [
        (LABEL.replace("= MOON", "= MARS"), &["made-up.lbl", "TARGET_NAME = MARS", "MOON"]),
        (LABEL.replace("OFFSET = 1737400.", "OFFSET = 3396000."), &["made-up.lbl", "OFFSET = 3396000.", "1737.4 km"]),
        (
            LABEL.replace("SIMPLE CYLINDRICAL", "POLAR STEREOGRAPHIC"),
            &["made-up.lbl", "POLAR STEREOGRAPHIC", "SIMPLE CYLINDRICAL"],
        ),
        (LABEL.replace("= 4 <pix", "= 512 <pix"), &["made-up.lbl", "MAP_RESOLUTION = 512", "4 to 128"]),
        (LABEL.replace("LINES = 720", "LINES = 9e18"), &["made-up.lbl", "LINES = 9e18", "720"]),
        ("not a label".to_owned(), &["made-up.lbl", "no TARGET_NAME", "label"]),
    ];
    for (label, pieces) in cases {
        let grid = pds(folder.path(), &label, &good);
        holds(&refusal(&at(&grid, "--format=json")), pieces);
    }
    let grid = pds(folder.path(), LABEL, &good[..good.len() / 3]);
    holds(&refusal(&at(&grid, "--format=json")), &["made-up.img", "691200 bytes long", "2073600"]);
    let grid = pds(folder.path(), LABEL, &flat(-13_000.0));
    holds(&refusal(&at(&grid, "--format=json")), &["made-up.img", "line 1, sample 1", "-13000 m", "-9200"]);
    // Real numbers: one that is none.
    let real = LABEL.replace("LSB_INTEGER", "PC_REAL").replace("BITS = 16", "BITS = 32").replace("= 0.5", "= 1");
    let mut image = 0_f32.to_le_bytes().repeat(LINES * SAMPLES);
    image[4000..4004].copy_from_slice(&f32::NAN.to_le_bytes());
    let grid = pds(folder.path(), &real, &image);
    holds(&refusal(&at(&grid, "--format=json")), &["made-up.img", "line 1, sample 1001", "NaN"]);
    let missing = folder.path().join("nowhere.img").to_str().unwrap().to_owned();
    holds(&refusal(&at(&missing, "--format=json")), &["nowhere.lbl", "cannot be read", ".lbl"]);
    let text = folder.path().join("heights.csv").to_str().unwrap().to_owned();
    holds(&refusal(&at(&text, "--format=json")), &["heights.csv", ".img", ".tif"]);
}

/// A refused grid of a plan writes nothing, and stands beside the plan's other faults.
#[test]
fn a_plan_whose_grid_is_refused_writes_nothing() {
    let folder = demo_with("[moon]\ngrid = \"made-up.img\"");
    pds(folder.path(), &LABEL.replace("= MOON", "= MERCURY"), &flat(0.0));
    fs::write(folder.path().join("sites.csv"), "name,lat,lon\nNowhere,95,127\n").unwrap();
    let plan = folder.path().join("plan.toml").to_str().unwrap().to_owned();
    let out = folder.path().join("out");
    holds(&refusal(&["rank", &plan, "--out", out.to_str().unwrap()]), &["TARGET_NAME = MERCURY", "sites.csv:2"]);
    assert!(!out.exists());
    let brief = folder.path().join("brief.pdf");
    let site = ["brief", &plan, "--site", "Sydney", "--out", brief.to_str().unwrap()];
    holds(&refusal(&site), &["made-up.lbl", "TARGET_NAME = MERCURY"]);
    assert!(!brief.exists());
    let folder = demo_with("[moon]\ngrid = 16");
    let plan = folder.path().join("plan.toml").to_str().unwrap().to_owned();
    holds(&refusal(&["rank", &plan]), &["plan.toml:", "moon.grid"]);
}

/// A GeoTIFF of 16-bit heights in one strip, written by the tags of TIFF 6.0 and OGC GeoTIFF 1.1: bits, strip's bytes.
fn geotiff(folder: &Path, size: [u32; 2], keys: &[u16], axis_m: f64, strip: &[u8], compression: u16) -> String {
    let mut entries: Vec<(u16, u16, u32, Vec<u8>)> = Vec::new();
    let short = |v: u16| [v.to_le_bytes(), [0, 0]].concat();
    let doubles = |v: &[f64]| v.iter().flat_map(|d| d.to_le_bytes()).collect::<Vec<u8>>();
    let step = 360.0 / f64::from(size[0]);
    entries.push((256, 4, 1, size[0].to_le_bytes().to_vec()));
    entries.push((257, 4, 1, size[1].to_le_bytes().to_vec()));
    entries.push((258, 3, 1, short(16)));
    entries.push((259, 3, 1, short(compression)));
    entries.push((262, 3, 1, short(1)));
    entries.push((273, 4, 1, Vec::new()));
    entries.push((277, 3, 1, short(1)));
    entries.push((278, 4, 1, size[1].to_le_bytes().to_vec()));
    entries.push((279, 4, 1, (strip.len() as u32).to_le_bytes().to_vec()));
    entries.push((339, 3, 1, short(2)));
    entries.push((33550, 12, 3, doubles(&[step, step, 0.0])));
    entries.push((33922, 12, 6, doubles(&[0.0, 0.0, 0.0, 0.0, 90.0, 0.0])));
    entries.push((34735, 3, keys.len() as u32, keys.iter().flat_map(|k| k.to_le_bytes()).collect()));
    entries.push((34736, 12, 1, doubles(&[axis_m])));
    let mut file = [&b"II*\0"[..], &8_u32.to_le_bytes(), &(entries.len() as u16).to_le_bytes()].concat();
    let mut beyond = 8 + 2 + 12 * entries.len() + 4;
    let mut values = Vec::new();
    for (tag, kind, count, value) in &mut entries {
        if *tag == 273 {
            *value = u32::MAX.to_le_bytes().to_vec();
        }
        let at = if value.len() <= 4 {
            value.clone()
        } else {
            values.extend_from_slice(value);
            beyond += value.len();
            ((beyond - value.len()) as u32).to_le_bytes().to_vec()
        };
        file.extend([&tag.to_le_bytes()[..], &kind.to_le_bytes(), &count.to_le_bytes(), &at].concat());
    }
    file.extend([0; 4]);
    file.extend(values);
    let start = (file.len() as u32).to_le_bytes();
    let of_strip = file.windows(4).position(|w| w == u32::MAX.to_le_bytes()).unwrap();
    file[of_strip..of_strip + 4].copy_from_slice(&start);
    file.extend_from_slice(strip);
    let path: PathBuf = folder.join("made-up.tif");
    fs::write(&path, file).unwrap();
    path.to_str().unwrap().to_owned()
}

/// Keys of a geographic system: on a sphere of its own, or the Earth's WGS 84.
const SPHERE: [u16; 12] = [1, 1, 0, 2, 1024, 0, 1, 2, 2057, 34736, 1, 0];
const WGS84: [u16; 12] = [1, 1, 0, 2, 1024, 0, 1, 2, 2048, 0, 1, 4326];

#[test]
fn geotiffs_of_the_moon_and_of_something_else() {
    let folder = tempfile::tempdir().unwrap();
    let size = [SAMPLES as u32, LINES as u32];
    let heights = 0_i16.to_le_bytes().repeat(LINES * SAMPLES);
    let moon = geotiff(folder.path(), size, &SPHERE, 1_737_400.0, &heights, 1);
    let found = json(&at(&moon, "--format=json"));
    assert!(text(&found, "/moon_edge/source").starts_with("made-up.tif (4 heights a degree"));
    let same = json(&at(&pds(folder.path(), LABEL, &flat(0.0)), "--format=json"));
    assert_eq!(found["moon_edge"]["C2"], same["moon_edge"]["C2"]);

    let refused = |grid: String, pieces: &[&str]| holds(&refusal(&at(&grid, "--format=json")), pieces);
    refused(geotiff(folder.path(), size, &WGS84, 0.0, &heights, 1), &["made-up.tif", "EPSG:4326", "Moon"]);
    refused(geotiff(folder.path(), size, &SPHERE, 6_378_137.0, &heights, 1), &["made-up.tif", "6378137", "1737.4 km"]);
    refused(geotiff(folder.path(), [1000, 500], &SPHERE, 1_737_400.0, &heights, 1), &["made-up.tif", "1000 × 500"]);
    refused(
        geotiff(folder.path(), size, &SPHERE, 1_737_400.0, &heights[..9000], 1),
        &["made-up.tif", "fetch the file again"],
    );
    let odd = [&heights[..8], &13_500_i16.to_le_bytes(), &heights[10..]].concat();
    refused(geotiff(folder.path(), size, &SPHERE, 1_737_400.0, &odd, 1), &["made-up.tif", "sample 5", "13500 m"]);
    // A bomb: a kilobyte that says it is the whole Moon at 128 a degree in one piece of two gigabytes.
    let bomb = geotiff(folder.path(), [46_080, 23_040], &SPHERE, 1_737_400.0, &[0; 1000], 8);
    refused(bomb, &["made-up.tif", "46080 × 23040", "strips"]);
    let path = folder.path().join("text.tif");
    fs::write(&path, "no TIFF").unwrap();
    refused(path.to_str().unwrap().to_owned(), &["text.tif", "TIFF"]);
}
