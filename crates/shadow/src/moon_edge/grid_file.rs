//! Heights of the Moon from a file that a user brings.
//!
//! Whatever the file, its lines are read one after the other from the north, and only the tiles that can stand on the edge
//! are kept, coded as the embedded ones are. So 128 pixels a degree, two gigabytes on disk, need some hundred megabytes.

use super::grid_tiff::TiffLines;
use super::heights::{Bounds, Coded, DATUM_KM, LOWEST_EDGE_KM, MoonHeights, SIDE, TILE, tiles};
use super::pds_label::PdsLines;
use super::tile_code;
use noonfall_ephemeris::GeoPoint;
use noonfall_ephemeris::vector::{Vec3, dot};
use std::path::Path;

/// Finest and coarsest grids that are read, pixels a degree.
pub(super) const PER_DEGREE: std::ops::RangeInclusive<usize> = 4..=128;

/// Heights are kept in units of this, metres, so none is off by more than half of it.
const ROUNDING_M: f64 = 4.0;

/// The Moon's heights lie between −9.2 and +10.8 km (Smith et al. 2017, Icarus 283, 70; from memory); metres.
const POSSIBLE_M: std::ops::RangeInclusive<f64> = -12_000.0..=13_000.0;

/// Librations at the solar eclipses of 1900–2100, degrees, a little more than `data/moon/build.py` finds.
const LIBRATIONS_DEG: [f64; 2] = [7.5, 1.2];

/// A grid of heights that cannot be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{file}: {wrong}; {right}")]
pub struct MoonGridError {
    /// The file.
    pub file: String,
    /// What is wrong.
    pub wrong: String,
    /// What would be right.
    pub right: String,
}

impl MoonGridError {
    pub(super) fn new(file: &Path, wrong: impl Into<String>, right: impl Into<String>) -> MoonGridError {
        let wrong: String = wrong.into();
        // A library's own words may repeat half a broken file.
        let wrong = match wrong.char_indices().nth(600) {
            Some((end, _)) => format!("{} …", &wrong[..end]),
            None => wrong,
        };
        MoonGridError { file: file.display().to_string(), wrong, right: right.into() }
    }
}

/// A grid that gives its lines from the north, samples from 0° E eastwards, metres above 1737.4 km.
pub(super) trait Lines {
    /// Pixels in a degree.
    fn per_degree(&self) -> usize;

    /// The next line; heights that are no numbers are the caller's to find.
    fn next(&mut self, line: &mut [f64]) -> Result<(), MoonGridError>;
}

impl MoonHeights {
    /// Heights from a PDS grid of LOLA's (`.img` with its `.lbl` beside it, either may be named) or a GeoTIFF of the whole
    /// Moon, 4 to 128 pixels a degree.
    ///
    /// # Errors
    /// [`MoonGridError`] with the file, what is wrong and what would be right.
    pub fn open(path: &Path) -> Result<MoonHeights, MoonGridError> {
        let extension = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
        match extension.as_str() {
            "img" | "lbl" => from_lines(path, &mut PdsLines::open(path)?),
            "tif" | "tiff" => from_lines(path, &mut TiffLines::open(path)?),
            _ => Err(MoonGridError::new(
                path,
                "the name ends in neither .img, .lbl, .tif nor .tiff",
                "give a PDS grid of LOLA's (.img with its .lbl) or a GeoTIFF of the Moon's heights",
            )),
        }
    }
}

fn from_lines(path: &Path, lines: &mut impl Lines) -> Result<MoonHeights, MoonGridError> {
    let per_degree = lines.per_degree();
    let (height, width) = (180 * per_degree, 360 * per_degree);
    let (rows, columns) = tiles(per_degree);
    let observers = observers();
    let mut coded = Coded { bytes: Vec::new(), spans: Vec::with_capacity(rows * columns), bounds: Bounds::empty() };
    // The lines of one row of tiles, and the first of the next.
    let mut strip = vec![0.0_f64; SIDE * width];
    let mut next = 0;
    for row in 0..rows {
        let first = row * TILE;
        if row > 0 {
            strip.copy_within(TILE * width.., 0);
        }
        for y in 0..SIDE {
            let line = first + y;
            if line >= height {
                strip.copy_within((y - 1) * width..y * width, y * width);
            } else if line >= next {
                let cells = &mut strip[y * width..(y + 1) * width];
                lines.next(cells)?;
                possible(path, line, cells)?;
                next = line + 1;
            }
        }
        for column in 0..columns {
            let start = coded.bytes.len();
            if let Some(pixels) = wanted(&strip, per_degree, row, column, &observers, &mut coded.bounds) {
                tile_code::encode(&pixels, SIDE, &mut coded.bytes);
            }
            coded.spans.push((start, coded.bytes.len()));
        }
    }
    coded.bounds = coded.bounds.widened();
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    Ok(MoonHeights::coded(name, per_degree, ROUNDING_M / 1000.0, coded))
}

fn possible(path: &Path, line: usize, cells: &[f64]) -> Result<(), MoonGridError> {
    match cells.iter().position(|h| !POSSIBLE_M.contains(h)) {
        None => Ok(()),
        Some(sample) => Err(MoonGridError::new(
            path,
            format!("the height in line {}, sample {} is {} m", line + 1, sample + 1, cells[sample]),
            "give heights of the Moon in metres above a sphere of 1737.4 km; they lie between -9200 and +10800 m",
        )),
    }
}

/// Directions from the Moon to places that see an eclipse, round the space that the librations leave.
fn observers() -> Vec<Vec3> {
    let part = |k: i32| f64::from(k) / 4.0 - 1.0;
    (0..=8)
        .flat_map(|x| (0..=8).map(move |y| (x, y)))
        .map(|(x, y)| {
            GeoPoint { lat_deg: LIBRATIONS_DEG[1] * part(y), lon_deg: LIBRATIONS_DEG[0] * part(x) }.direction()
        })
        .collect()
}

/// A tile's pixels in units of the rounding, if it can show on the edge; its heights go into the bounds.
fn wanted(
    strip: &[f64],
    per_degree: usize,
    row: usize,
    column: usize,
    observers: &[Vec3],
    bounds: &mut Bounds,
) -> Option<Vec<i16>> {
    /// A smooth Moon's rim lies before the plane through its centre by up to 0.28°, and the observers are sampled.
    const ROOM_DEG: f64 = 0.5;
    let width = 360 * per_degree;
    let direction = |y: f64, x: f64| {
        let lat_deg = 90.0 - ((row * TILE) as f64 + y + 0.5) / per_degree as f64;
        GeoPoint { lat_deg: lat_deg.max(-90.0), lon_deg: ((column * TILE) as f64 + x + 0.5) / per_degree as f64 }
            .direction()
    };
    let sample = |x: usize| (column * TILE + x) % width;
    let highest = (0..SIDE)
        .flat_map(|y| (0..SIDE).map(move |x| (y, x)))
        .map(|(y, x)| strip[y * width + sample(x)])
        .fold(f64::MIN, f64::max);
    let half = 0.5 * TILE as f64;
    let middle = direction(half, half);
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for observer in observers {
        let above = dot(middle, *observer).clamp(-1.0, 1.0).asin().to_degrees();
        (low, high) = (low.min(above), high.max(above));
    }
    // A tile reaches no further from its middle than half its diagonal at the equator.
    let around = half * std::f64::consts::SQRT_2 / per_degree as f64 + ROOM_DEG;
    let nearest = if low <= 0.0 && high >= 0.0 { 0.0 } else { low.abs().min(high.abs()) };
    let nearest = (nearest - around).max(0.0);
    if (DATUM_KM + highest / 1000.0) * nearest.to_radians().cos() < LOWEST_EDGE_KM {
        return None;
    }
    let mut pixels = Vec::with_capacity(SIDE * SIDE);
    // Pixels finer than a sixteenth of a degree go into the bounds by blocks: these hold for half a degree around.
    let block = (per_degree / 16).max(1);
    for y in 0..SIDE {
        for x in 0..SIDE {
            let height_m = strip[y * width + sample(x)];
            pixels.push((height_m / ROUNDING_M).round() as i16);
            if y % block == 0 && x % block == 0 {
                let cells = (y..(y + block).min(SIDE)).flat_map(|y| (x..(x + block).min(SIDE)).map(move |x| (y, x)));
                let top = cells.map(|(y, x)| strip[y * width + sample(x)]).fold(f64::MIN, f64::max);
                let half = 0.5 * (block - 1) as f64;
                bounds.raise(direction(y as f64 + half, x as f64 + half), (top + 0.5 * ROUNDING_M).ceil() as i16);
            }
        }
    }
    Some(pixels)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;
    use tiff::encoder::TiffEncoder;
    use tiff::encoder::colortype::GrayI16;
    use tiff::tags::Tag;

    const LINES: usize = 720;
    const SAMPLES: usize = 1440;

    /// An invented Moon: metres.
    fn height_m(line: usize, sample: usize) -> i16 {
        (((line * 37 + sample * 11) % 400) as i16 - 200) * 5
    }

    fn label() -> String {
        "PDS_VERSION_ID = \"PDS3\"\nTARGET_NAME = MOON\n LINES = 720\n LINE_SAMPLES = 1440\n\
         SAMPLE_TYPE = LSB_INTEGER\nSAMPLE_BITS = 16\nUNIT = METER\nSCALING_FACTOR = 0.5\nOFFSET = 1737400.\n\
         MAP_PROJECTION_TYPE = \"SIMPLE CYLINDRICAL\"\nMAP_RESOLUTION = 4 <pix/deg>\n\
         POSITIVE_LONGITUDE_DIRECTION = \"EAST\"\nWESTERNMOST_LONGITUDE = 0 <deg>\nEND\n"
            .to_owned()
    }

    fn image(height: impl Fn(usize, usize) -> i16) -> Vec<u8> {
        let cells = (0..LINES).flat_map(|y| (0..SAMPLES).map(move |x| (y, x)));
        cells.flat_map(|(y, x)| (2 * height(y, x)).to_le_bytes()).collect()
    }

    fn open(label: &str, image: &[u8]) -> Result<MoonHeights, MoonGridError> {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("made-up.lbl"), label).unwrap();
        fs::write(folder.path().join("made-up.img"), image).unwrap();
        MoonHeights::open(&folder.path().join("made-up.img"))
    }

    #[test]
    fn a_pds_grid_is_read_where_it_can_stand_on_the_edge() {
        let heights = open(&label(), &image(height_m)).unwrap();
        assert!(heights.source().contains("made-up.img") && heights.source().contains("4 heights a degree"));
        for (line, sample) in [(0, 0), (100, 360), (360, 1079), (719, 1439), (400, 1100)] {
            let found = heights.height_km([line as f64, sample as f64]) * 1000.0;
            assert!((found - f64::from(height_m(line, sample))).abs() <= 2.0 + 1e-9, "{line} {sample}: {found}");
        }
        // The middle of the near side never stands on the edge.
        assert!(heights.height_km([360.0, 20.0]) < -50.0);
    }

    #[test]
    fn grids_that_are_something_else_are_refused() {
        let good = image(height_m);
        let cases = [
            (label().replace("= MOON", "= MARS"), "TARGET_NAME = MARS"),
            (label().replace("SIMPLE CYLINDRICAL", "POLAR STEREOGRAPHIC"), "POLAR STEREOGRAPHIC"),
            (label().replace("= 4 <pix", "= 1024 <pix"), "MAP_RESOLUTION = 1024"),
            (label().replace("LINES = 720", "LINES = 99999999999"), "LINES = 99999999999"),
            (label().replace("SAMPLE_BITS = 16", "SAMPLE_BITS = 8"), "SAMPLE_TYPE"),
            (label().replace("1737400.", "3396000."), "OFFSET = 3396000."),
            (label().replace("UNIT = METER", "UNIT = FEET"), "UNIT = FEET"),
            (label().replace("SCALING_FACTOR = 0.5", "SCALING_FACTOR = nan"), "SCALING_FACTOR = nan"),
            ("no label at all".to_owned(), "no TARGET_NAME"),
        ];
        for (label, expected) in cases {
            let error = open(&label, &good).unwrap_err().to_string();
            assert!(error.contains(expected) && error.contains("made-up.lbl"), "{error}");
        }
        let short = open(&label(), &good[..good.len() - 7]).unwrap_err().to_string();
        assert!(short.contains("made-up.img") && short.contains("2073600 bytes"), "{short}");
        let odd = open(&label(), &image(|y, x| if (y, x) == (5, 7) { 14_000 } else { 0 })).unwrap_err().to_string();
        assert!(odd.contains("line 6, sample 8 is 14000 m"), "{odd}");
        assert!(MoonHeights::open(Path::new("nowhere/ldem.img")).unwrap_err().to_string().contains("ldem.lbl"));
        assert!(MoonHeights::open(Path::new("heights.csv")).unwrap_err().to_string().contains(".img"));
    }

    /// Writes a GeoTIFF whose first sample lies at 180° W.
    fn tiff(keys: &[u16], axis_m: Option<f64>, step_deg: f64) -> Result<MoonHeights, MoonGridError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("made-up.tif");
        let mut encoder = TiffEncoder::new(fs::File::create(&path).unwrap()).unwrap();
        let mut image = encoder.new_image::<GrayI16>(SAMPLES as u32, LINES as u32).unwrap();
        image.encoder().write_tag(Tag::ModelPixelScaleTag, &[step_deg, step_deg, 0.0][..]).unwrap();
        image.encoder().write_tag(Tag::ModelTiepointTag, &[0.0, 0.0, 0.0, -180.0, 90.0, 0.0][..]).unwrap();
        image.encoder().write_tag(Tag::GeoKeyDirectoryTag, keys).unwrap();
        if let Some(axis_m) = axis_m {
            image.encoder().write_tag(Tag::GeoDoubleParamsTag, &[axis_m][..]).unwrap();
        }
        let cells = (0..LINES).flat_map(|y| (0..SAMPLES).map(move |x| height_m(y, (x + SAMPLES / 2) % SAMPLES)));
        image.write_data(&cells.collect::<Vec<_>>()).unwrap();
        MoonHeights::open(&path)
    }

    #[test]
    fn a_geotiff_of_the_moon_is_read_and_one_of_the_earth_is_not() {
        let sphere = [1, 1, 0, 2, 1024, 0, 1, 2, 2057, 34736, 1, 0];
        let heights = tiff(&sphere, Some(1_737_400.0), 0.25).unwrap();
        for (line, sample) in [(0, 0), (100, 360), (360, 1079), (719, 1439)] {
            let found = heights.height_km([line as f64, sample as f64]) * 1000.0;
            assert!((found - f64::from(height_m(line, sample))).abs() <= 2.0 + 1e-9, "{line} {sample}: {found}");
        }
        let earth = tiff(&[1, 1, 0, 2, 1024, 0, 1, 2, 2048, 0, 1, 4326], None, 0.25).unwrap_err().to_string();
        assert!(earth.contains("EPSG:4326") && earth.contains("Moon"), "{earth}");
        assert!(tiff(&sphere, Some(6_378_137.0), 0.25).unwrap_err().to_string().contains("6378137"));
        assert!(tiff(&sphere, Some(1_737_400.0), 0.1).unwrap_err().to_string().contains("0.1"));
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("text.tif");
        fs::write(&path, "no TIFF").unwrap();
        assert!(MoonHeights::open(&path).unwrap_err().to_string().contains("not a readable TIFF"));
    }
}
