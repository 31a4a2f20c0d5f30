//! One ground in the forms in which elevation is handed out, and files that are wrong in one way each. GDAL made them:
//! tests/reference/terrain/inputs.py.

#![allow(clippy::unwrap_used, clippy::panic)] // Helpers of tests may stop.

use std::io::Write;
use std::path::{Path, PathBuf};

use noonfall_scoring::input::terrain::{Height, Terrain};
use noonfall_scoring::outlook::skyline::{HorizonSearch, RayOptions};

fn inputs(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/terrain/inputs").join(name)
}

/// Places in the middle of the sample, away from its edge.
const PLACES: [(f64, f64); 4] = [(36.592, -84.252), (36.575, -84.235), (36.61, -84.27), (36.583, -84.265)];

/// Differences of the skylines of two terrains, ascending, of those farther than a distance and not at the sample's edge.
fn apart(a: &Terrain, b: &Terrain, from_km: f64) -> Vec<f64> {
    let options = RayOptions { farthest_km: 40.0, ..RayOptions::default() };
    let (a, b) = (HorizonSearch::new(a, options), HorizonSearch::new(b, options));
    let mut differences = Vec::new();
    for (lat, lon) in PLACES {
        let (one, two) = (a.viewpoint(lat, lon).unwrap(), b.viewpoint(lat, lon).unwrap());
        for azimuth in (0..360).step_by(9) {
            let (one, two) = (one.ray(f64::from(azimuth)).unwrap(), two.ray(f64::from(azimuth)).unwrap());
            let edge_m = |r: &noonfall_scoring::outlook::skyline::Ray| {
                r.unseen.iter().map(|u| u.from_m).fold(f64::INFINITY, f64::min)
            };
            let edge_km = edge_m(&one).min(edge_m(&two)) / 1000.0 - 0.4;
            if one.distance_km.min(two.distance_km) < from_km || one.distance_km.max(two.distance_km) > edge_km {
                continue;
            }
            differences.push((one.altitude_deg - two.altitude_deg).abs());
        }
    }
    differences.sort_by(f64::total_cmp);
    differences
}

#[test]
fn the_same_ground_has_the_same_skyline_in_every_form() {
    let plain = Terrain::open(&inputs("plain.tif")).unwrap();
    let mut wrong = Vec::new();
    // The samples are 90 m apart: GDAL's warp takes 2 to 3 m off summits, 0.1° at the nearest, 1.2 km; the middle ray shows that
    // nothing has moved. The heights are whole metres, so that nothing is lost in the others.
    for (name, middle_deg, worst_deg) in [
        ("zstd-3.tif", 1e-9, 1e-9),
        ("double.tif", 1e-9, 1e-9),
        ("lzw-2.tif", 1e-9, 1e-9),
        ("packbits.tif", 1e-9, 1e-9),
        ("big-deflate-2.tif", 1e-9, 1e-9),
        ("big-endian.tif", 1e-9, 1e-9),
        ("half.tif", 1e-9, 1e-9),
        ("decimetres.tif", 1e-4, 1e-4),
        ("nested", 0.06, 0.2),
        ("feet.tif", 0.06, 0.2),
        ("lambert.tif", 0.06, 0.2),
        ("albers-cog.tif", 0.06, 0.2),
        ("turned.tif", 0.06, 0.2),
    ] {
        let other = Terrain::open(&inputs(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        let differences = apart(&plain, &other, 1.2);
        let (middle, worst) = (differences[differences.len() / 2], differences[differences.len() - 1]);
        println!("{name}: {middle:.4}, worst {worst:.4} in {} rays", differences.len());
        if differences.len() < 15 || middle > middle_deg || worst > worst_deg {
            wrong.push(format!("{name}: {middle}, worst {worst} in {} rays", differences.len()));
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn heights_in_feet_are_turned_into_metres() {
    let plain = Terrain::open(&inputs("plain.tif")).unwrap();
    let feet = Terrain::open(&inputs("feet.tif")).unwrap();
    assert_eq!(feet.warnings().unwrap(), Vec::<String>::new());
    let unsaid = Terrain::open(&inputs("wrong/feet-unsaid.tif")).unwrap();
    for (lat, lon) in PLACES {
        let at = |t: &Terrain| match t.height(lat, lon).unwrap() {
            Height::Metres(h) => h,
            other => panic!("{other:?}"),
        };
        // GDAL's cubic takes a few metres off a summit.
        assert!((at(&plain) - at(&feet)).abs() < 6.0, "{} {}", at(&plain), at(&feet));
        assert!((at(&unsaid) * 0.3048 - at(&feet)).abs() < 0.1);
    }
    let text = unsaid.warnings().unwrap().join("\n");
    assert!(
        text.contains("feet-unsaid.tif: coordinates are in feet, and the unit of the heights is not stated"),
        "{text}"
    );
}

#[test]
fn what_cannot_be_read_is_named_with_the_reason() {
    for (name, says) in [
        ("jpeg.tif", "is packed with JPEG, which is not read; store it with deflate, LZW or ZSTD"),
        ("lerc.tif", "is packed with LERC"),
        ("swapped.tif", "its latitude and longitude may have changed places"),
        (
            "swapped-utm.tif",
            "its coordinates do not lie within EPSG:32616; check its coordinate system, and that its x is",
        ),
    ] {
        let text = Terrain::open(&inputs("wrong").join(name)).unwrap_err().to_string();
        assert!(text.contains(says), "{name}: {text}");
    }
    for name in ["no-data.tif", "void.tif"] {
        let terrain = Terrain::open(&inputs("wrong").join(name)).unwrap();
        assert_eq!(terrain.height(PLACES[0].0, PLACES[0].1).unwrap(), Height::Void, "{name}");
    }
    // Another format beside a file that serves is a warning; alone it is a fault.
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("a.asc"), "ncols 2").unwrap();
    let text = Terrain::open(folder.path()).unwrap_err().to_string();
    assert!(text.contains("a.asc: is of an elevation format that is not read; turn it into a GeoTIFF"), "{text}");
    std::fs::copy(inputs("zstd-3.tif"), folder.path().join("b.tif")).unwrap();
    let text = Terrain::open(folder.path()).unwrap().warnings().unwrap().join("\n");
    assert!(text.contains("Left unread: ") && text.contains("a.asc"), "{text}");
}

#[test]
fn a_file_cut_anywhere_is_refused_or_read_without_a_panic() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["zstd-3.tif", "lzw-2.tif", "nested/deeper/utm.tif"] {
        let whole = std::fs::read(inputs(name)).unwrap();
        for part in 1..20 {
            let path = folder.path().join("cut.tif");
            std::fs::write(&path, &whole[..whole.len() * part / 20]).unwrap();
            let Ok(terrain) = Terrain::open(&path) else { continue };
            let _ = terrain.height(PLACES[0].0, PLACES[0].1);
        }
    }
}

#[test]
fn neighbours_that_disagree_are_named() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(inputs("zstd-3.tif"), folder.path().join("low.tif")).unwrap();
    std::fs::copy(inputs("wrong/higher.tif"), folder.path().join("high.tif")).unwrap();
    let terrain = Terrain::open(folder.path()).unwrap();
    // Only what was read is compared: all of the first, all of the second.
    terrain.height(36.59, -84.2).unwrap();
    terrain.height(36.59, -84.29).unwrap();
    let text = terrain.warnings().unwrap().join("\n");
    assert!(text.contains("high.tif and low.tif disagree by 500 m where they meet"), "{text}");
}

/// A tile of a plane, packed in each way, in folders.
#[test]
fn packed_tiles_are_read_where_they_lie() {
    let folder = tempfile::tempdir().unwrap();
    let deeper = folder.path().join("a/b");
    std::fs::create_dir_all(&deeper).unwrap();
    let tile: Vec<u8> = (0..1201 * 1201_u32).flat_map(|i| ((i / 1201) as i16).to_be_bytes()).collect();
    let mut gz = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    gz.write_all(&tile).unwrap();
    let gz = gz.finish().unwrap();
    std::fs::write(deeper.join("N46E007.hgt.gz"), &gz).unwrap();
    std::fs::write(folder.path().join("N46E008.SRTMGL3.hgt.zip"), stored_zip("N46E008.hgt", &tile)).unwrap();
    let terrain = Terrain::open(folder.path()).unwrap();
    for lon in [7.5, 8.5] {
        let Height::Metres(height) = terrain.height(46.5, lon).unwrap() else { panic!("{lon}") };
        assert!((height - 600.0).abs() < 1e-6);
    }
    assert!(terrain.notes().join(" ").contains("EGM96"));
    // A tile that claims another size than it has is refused when it is read.
    let mut lying = gz;
    let end = lying.len() - 4;
    lying[end..].copy_from_slice(&25_934_402_u32.to_le_bytes());
    std::fs::write(deeper.join("N46E007.hgt.gz"), lying).unwrap();
    let error = Terrain::open(folder.path()).unwrap().height(46.5, 7.5).unwrap_err().to_string();
    assert!(error.contains("N46E007.hgt.gz: cannot be read (") && error.contains("fetch the file again"), "{error}");
    // A zip without elevation.
    std::fs::write(folder.path().join("photos.zip"), stored_zip("a.txt", b"x")).unwrap();
    let text = Terrain::open(folder.path()).unwrap().warnings().unwrap().join("\n");
    assert!(text.contains("photos.zip: holds no .hgt tile and no GeoTIFF"), "{text}");
}

/// A zip archive with one stored file (PKWARE APPNOTE.TXT).
fn stored_zip(name: &str, bytes: &[u8]) -> Vec<u8> {
    let mut crc = flate2::Crc::new();
    crc.update(bytes);
    let (size, length) = (bytes.len() as u32, name.len() as u16);
    let mut common = Vec::new();
    common.extend([20, 0, 0, 0, 0, 0, 0, 0, 0, 0]);
    common.extend(crc.sum().to_le_bytes());
    common.extend(size.to_le_bytes());
    common.extend(size.to_le_bytes());
    common.extend(length.to_le_bytes());
    common.extend([0, 0]);
    let mut zip = b"PK\x03\x04".to_vec();
    zip.extend(&common);
    zip.extend(name.as_bytes());
    zip.extend(bytes);
    let start = zip.len() as u32;
    zip.extend(b"PK\x01\x02\x14\x00");
    zip.extend(&common);
    zip.extend([0; 14]);
    zip.extend(name.as_bytes());
    let size = zip.len() as u32 - start;
    zip.extend(b"PK\x05\x06\0\0\0\0\x01\0\x01\0");
    zip.extend(size.to_le_bytes());
    zip.extend(start.to_le_bytes());
    zip.extend([0, 0]);
    zip
}

/// Invented hills of latitude and longitude, m: a tilted plain with smooth tops 1 to 2 km wide, so that samples 30 m apart lose less than
/// half a metre wherever they lie.
fn hills_m(lat: f64, lon: f64) -> f64 {
    let (north_km, east_km) = ((lat + 45.35) * 111.13, (lon - 169.45) * 78.3);
    let top = |n: f64, e: f64, height: f64, km: f64| {
        height * (-((north_km - n).powi(2) + (east_km - e).powi(2)) / (2.0 * km * km)).exp()
    };
    400.0 + 12.0 * north_km - 7.0 * east_km
        + top(4.0, -3.0, 900.0, 1.1)
        + top(-3.5, 2.0, 700.0, 1.4)
        + top(1.5, 5.0, 1100.0, 1.9)
}

/// Samples 30 m apart of the same hills in UTM zone 59 south (EPSG:32759), places by the projection library; pixel is point.
fn hills_in_utm(path: &Path) {
    use proj4rs::{proj::Proj, transform::transform};
    let utm = Proj::from_proj_string("+proj=utm +zone=59 +south +datum=WGS84").unwrap();
    let wgs84 = Proj::from_proj_string("+proj=longlat +datum=WGS84").unwrap();
    let mut middle = (169.45_f64.to_radians(), (-45.35_f64).to_radians(), 0.0);
    transform(&wgs84, &utm, &mut middle).unwrap();
    let (side, step) = (801_u32, 30.0);
    let (west, north) = (middle.0 - 400.0 * step, middle.1 + 400.0 * step);
    let heights: Vec<f32> = (0..side * side)
        .map(|i| {
            let mut at = (west + f64::from(i % side) * step, north - f64::from(i / side) * step, 0.0);
            transform(&utm, &wgs84, &mut at).unwrap();
            hills_m(at.1.to_degrees(), at.0.to_degrees()) as f32
        })
        .collect();
    use tiff::encoder::{TiffEncoder, colortype::Gray32Float};
    use tiff::tags::Tag;
    let mut encoder = TiffEncoder::new(std::fs::File::create(path).unwrap()).unwrap();
    let mut image = encoder.new_image::<Gray32Float>(side, side).unwrap();
    let keys = [1_u16, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 2, 3072, 0, 1, 32759];
    image.encoder().write_tag(Tag::ModelPixelScaleTag, &[step, step, 0.0][..]).unwrap();
    image.encoder().write_tag(Tag::ModelTiepointTag, &[0.0, 0.0, 0.0, west, north, 0.0][..]).unwrap();
    image.encoder().write_tag(Tag::GeoKeyDirectoryTag, &keys[..]).unwrap();
    image.write_data(&heights).unwrap();
}

/// The same hills sampled as they are in two systems, without a resampling between them, have the same skyline within 0.05°.
/// The forms of [`the_same_ground_has_the_same_skyline_in_every_form`] are farther apart because GDAL's warp alone, read without laying
/// anything out anew, already differs from the plain file by 0.02° to 0.04° in the middle and 0.06° to 0.14° at worst (SciPy, on the
/// same rays); laying out anew alone by 0.02° to 0.03° and 0.07° to 0.11°, with samples 90 m apart.
#[test]
fn hills_sampled_in_utm_and_in_degrees_have_the_same_skyline() {
    use noonfall_scoring::input::terrain::RasterShape;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("utm.tif");
    hills_in_utm(&path);
    let utm = Terrain::open(&path).unwrap();
    let shape = RasterShape {
        west_deg: 169.3,
        north_deg: -45.25,
        lon_step_deg: 1.0 / 2600.0,
        lat_step_deg: 1.0 / 3600.0,
        columns: 781,
        rows: 721,
    };
    let samples = (0..shape.columns * shape.rows)
        .map(|i| {
            let (row, column) = (f64::from(i / shape.columns), f64::from(i % shape.columns));
            hills_m(shape.north_deg - row * shape.lat_step_deg, shape.west_deg + column * shape.lon_step_deg) as f32
        })
        .collect();
    let degrees = Terrain::from_grid("degrees", shape, samples).unwrap();
    let options = RayOptions { farthest_km: 40.0, ..RayOptions::default() };
    let (a, b) = (HorizonSearch::new(&utm, options), HorizonSearch::new(&degrees, options));
    let mut differences = Vec::new();
    for (lat, lon) in [(-45.35, 169.45), (-45.331, 169.422), (-45.372, 169.49), (-45.34, 169.51)] {
        let (one, two) = (a.viewpoint(lat, lon).unwrap(), b.viewpoint(lat, lon).unwrap());
        assert!((one.ground_m() - two.ground_m()).abs() < 0.3, "{} {}", one.ground_m(), two.ground_m());
        for azimuth in (0..360).step_by(5) {
            let (one, two) = (one.ray(f64::from(azimuth)).unwrap(), two.ray(f64::from(azimuth)).unwrap());
            // Where the ground falls away to the end of the samples, their ends differ.
            let edge =
                |r: &noonfall_scoring::outlook::skyline::Ray| r.unseen.first().map_or(40.0, |u| u.from_m / 1000.0);
            if one.distance_km.max(two.distance_km) > edge(&one).min(edge(&two)) - 0.3 {
                continue;
            }
            differences.push((one.altitude_deg - two.altitude_deg).abs());
        }
    }
    differences.sort_by(f64::total_cmp);
    let (middle, worst) = (differences[differences.len() / 2], differences[differences.len() - 1]);
    println!("middle {middle:.4}, worst {worst:.4} of {}", differences.len());
    assert!(differences.len() > 60, "{}", differences.len());
    assert!(middle < 0.005 && worst < 0.05, "{middle} {worst}");
}
