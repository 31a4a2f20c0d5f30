//! Grids of heights of the Earth and the Moon, and ephemerides.

use std::path::Path;

use noonfall_ephemeris::{Body, Kernel, Tt};
use noonfall_scoring::input::terrain::{Height, Terrain};
use noonfall_shadow::moon_edge::MoonHeights;

use super::refused;
use crate::target::{PLAIN, Target};

pub(super) fn targets() -> Vec<Target> {
    vec![
        Target {
            name: "terrain-hgt",
            file: "S45E169.hgt",
            made: || {
                let ramp = (0..1201_u32 * 1201).flat_map(|i| ((i / 1201) as i16).to_be_bytes());
                vec![ramp.collect(), vec![0x80; 2_884_802], Vec::new()]
            },
            read: terrain,
            ..PLAIN
        },
        Target {
            name: "terrain-tiff",
            file: "t.tif",
            seeds: &["tests/reference/terrain/small.tif", "tests/reference/terrain/jacksboro.tif"],
            words: &["II*\0", "MM\0*", "-9999\0", "GDAL"],
            read: terrain,
            ..PLAIN
        },
        Target {
            name: "spk",
            file: "k.bsp",
            words: &["DAF/SPK ", "LTL-IEEE", "BIG-IEEE", "FTPSTR"],
            read: ephemeris,
            ..PLAIN
        },
        Target {
            name: "moon-label",
            file: "m.lbl",
            made: || vec![LABEL.to_vec()],
            beside: || vec![("m.img", vec![0; 2 * 720 * 1440])],
            words: &[
                "TARGET_NAME",
                "= MOON",
                "<pix/deg>",
                "LINES",
                "\"",
                "END",
                "MSB_INTEGER",
                "PC_REAL",
                "^IMAGE = (\"x\", 2)",
            ],
            read: moon,
            ..PLAIN
        },
        Target { name: "moon-tiff", file: "m.tif", words: &["II*\0", "MM\0*"], read: moon, ..PLAIN },
    ]
}

/// INVENTED: the label of a grid of a flat Moon.
const LABEL: &[u8] = b"PDS_VERSION_ID = \"PDS3\"\nTARGET_NAME = MOON\nOBJECT = IMAGE\n LINES = 720\n LINE_SAMPLES = 1440\n \
    SAMPLE_TYPE = LSB_INTEGER\n SAMPLE_BITS = 16\n UNIT = METER\n SCALING_FACTOR = 0.5\n OFFSET = 1737400.\nEND_OBJECT = IMAGE\n\
    OBJECT = IMAGE_MAP_PROJECTION\n MAP_PROJECTION_TYPE = \"SIMPLE CYLINDRICAL\"\n MAP_RESOLUTION = 4 <pix/deg>\n \
    POSITIVE_LONGITUDE_DIRECTION = \"EAST\"\n WESTERNMOST_LONGITUDE = 0 <deg>\nEND_OBJECT = IMAGE_MAP_PROJECTION\nEND\n";

fn terrain(path: &Path) -> String {
    let terrain = match Terrain::open(path.parent().unwrap_or(path)) {
        Ok(terrain) => terrain,
        Err(faults) => return refused(&faults, path),
    };
    let mut seen = String::new();
    for (lat_deg, lon_deg) in [(-44.5, 169.5), (-44.0, 169.0), (36.4, -84.3), (36.39, -84.21), (0.0, 0.0)] {
        seen += match terrain.height(lat_deg, lon_deg) {
            Ok(Height::Metres(h)) => {
                assert!(h.is_finite(), "{h}");
                "m"
            }
            Ok(_) => "-",
            Err(_) => "x",
        };
    }
    assert!(terrain.finest_step_deg() > 0.0, "{}", terrain.finest_step_deg());
    format!("read terrain {seen}")
}

fn ephemeris(path: &Path) -> String {
    let kernel = match Kernel::open(path) {
        Ok(kernel) => kernel,
        Err(fault) => return refused(&fault, path),
    };
    let mut seen = String::new();
    let middle = Tt::from_utc(chrono::DateTime::from_timestamp(1_847_847_300, 0).unwrap_or_default());
    let span = kernel.span();
    for tt in [Some(middle), span.map(|s| s.0), span.map(|s| s.1)].into_iter().flatten() {
        for body in [Body::Sun, Body::Moon, Body::Earth, Body::Venus] {
            seen += match kernel.state(body, tt) {
                Ok(state) => {
                    let all = state.position_km.iter().chain(&state.velocity_km_s);
                    assert!(all.copied().all(f64::is_finite), "{state:?}");
                    "k"
                }
                Err(_) => "x",
            };
        }
    }
    format!("read kernel {seen}")
}

fn moon(path: &Path) -> String {
    match MoonHeights::open(path) {
        Ok(heights) => format!("read moon {}", heights.grid()),
        Err(fault) => refused(&fault, path),
    }
}
