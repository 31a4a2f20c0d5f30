//! What `noonfall sunlit` shows: rasters for a GIS, a picture, JSON.

use std::io;
use std::path::PathBuf;

use noonfall_ephemeris::GeoPoint;
use noonfall_scoring::input::terrain::Terrain;
use noonfall_scoring::outlook::sunlit::NodeState;
use noonfall_scoring::outlook::sunlit::survey::{Grid, Ground, Question, Survey, SurveyError, THIN_DEG, survey};
use noonfall_scoring::progress::Progress;
use noonfall_shadow::Eclipse;
use serde_json::{Value, json};

use crate::ranking_pictures::towns_near;
use noonfall_drawing::map::{self, Extent, Furniture, GroundField, MapError, MapSheet, PageSize, PathLines, View};
use noonfall_drawing::svg::FontEmbedding;
use noonfall_exchange::geotiff::{About, GeoTiffWriter, TILE};
use noonfall_exchange::json::{delta_t_fields, object, to_text};
use noonfall_exchange::prospects::terrain_told;
use noonfall_exchange::values::number;
use noonfall_words::{safety, sunlit};

/// An area smaller than this fills the map by its larger side, km.
const SMALL_KM: f64 = 45.0;

/// Nodes in a row and column that begin a tile of the rasters: what a question's `multiple` should be.
pub const MULTIPLE: u32 = TILE;

const MARGIN: About =
    About { description: sunlit::SAMPLES[0], caution: safety::OF_HEIGHTS, unit: "degree", step: 1.0 / 1024.0 };
const LOST: About = About { description: sunlit::SAMPLES[1], caution: safety::OF_TIMES, unit: "s", step: 1.0 / 64.0 };
const GAINED: About = About { description: sunlit::SAMPLES[2], ..LOST };

/// The rasters of a survey, ready to be written.
#[derive(Debug)]
pub struct Rasters {
    /// Margins.
    pub margin: GeoTiffWriter,
    /// When the Sun is lost and when it is gained, where that was asked.
    pub times: Option<(GeoTiffWriter, GeoTiffWriter)>,
}

/// Looks at an area and gathers its rasters.
///
/// # Errors
/// As [`survey`].
pub fn rasters(
    eclipse: &Eclipse,
    terrain: &Terrain,
    question: &Question,
    progress: &dyn Progress,
) -> Result<(Survey, Rasters), SurveyError> {
    let grid = Grid::of(eclipse, terrain, question)?;
    let writer = |about| GeoTiffWriter::new(grid.shape, about);
    let times = match question.options.beyond_totality_min {
        Some(_) => Some((writer(LOST)?, writer(GAINED)?)),
        None => None,
    };
    let mut rasters = Rasters { margin: writer(MARGIN)?, times };
    let found = survey(eclipse, terrain, grid, question, progress, |piece| {
        let (column, row, columns) = (piece.column, piece.row, piece.columns);
        rasters.margin.put(column, row, columns, piece.margin_deg)?;
        if let Some((lost, gained)) = &mut rasters.times {
            // A block without totality has none of these; its tiles stay empty.
            lost.put(column, row, columns, piece.lost_s)?;
            gained.put(column, row, columns, piece.gained_s)?;
        }
        io::Result::Ok(())
    })?;
    Ok((found, rasters))
}

/// A survey's thinned grid as a map asks for it: the nearest node answers.
struct Shown<'a>(&'a Survey);

impl Shown<'_> {
    fn node(&self, at: GeoPoint) -> Option<usize> {
        let shape = &self.0.thinned.shape;
        let (y, x) = shape.locate(at.lat_deg, at.lon_deg)?;
        let (row, column) = (y.round().max(0.0) as usize, x.round().max(0.0) as usize);
        (row < shape.rows as usize && column < shape.columns as usize).then_some(row * shape.columns as usize + column)
    }
}

impl GroundField for Shown<'_> {
    fn height_m(&self, at: GeoPoint) -> Option<f64> {
        let node = self.node(at)?;
        Some(f64::from(self.0.thinned.ground_m[node])).filter(|h| h.is_finite())
    }

    fn margin_deg(&self, at: GeoPoint) -> Option<f64> {
        let node = self.node(at)?;
        Some(f64::from(self.0.thinned.margin_deg[node])).filter(|m| m.is_finite())
    }

    fn is_gridded(&self) -> bool {
        true
    }

    fn is_unknown(&self, at: GeoPoint) -> bool {
        let state = self.node(at).map(|node| self.0.thinned.state[node]);
        // Beyond the area nothing was looked at.
        !matches!(state, Some(NodeState::OutsidePath | NodeState::Known | NodeState::Doubtful))
    }
}

/// The picture: relief, hidden ground hatched, ground of which nothing is known dotted, on a map of the path.
///
/// # Errors
/// [`MapError`] when it cannot be drawn.
pub fn picture(eclipse: &Eclipse, survey: &Survey) -> Result<String, MapError> {
    let path = PathLines::of(eclipse).unwrap_or_default();
    let (ground, area) = (Shown(survey), survey.grid.area());
    let middle = area.middle();
    let corner = |lon: f64, lat: f64| GeoPoint { lat_deg: lat, lon_deg: (lon + 180.0).rem_euclid(360.0) - 180.0 };
    // The edges bend on the page: their middles count too.
    let (lons, lats) =
        ([area.west_deg, middle.lon_deg, area.east_deg], [area.south_deg, middle.lat_deg, area.north_deg]);
    let outline: Vec<GeoPoint> = lons.iter().flat_map(|&lon| lats.iter().map(move |&lat| corner(lon, lat))).collect();
    let (north_km, east_km) = extent_km(&survey.grid);
    let sheet = MapSheet {
        id: "sunlit".to_owned(),
        title: sunlit::title(eclipse),
        subtitle: sunlit::subtitle(&survey.found),
        path: &path,
        field: eclipse,
        sites: Vec::new(),
        towns: towns_near(middle, 0.6 * north_km.hypot(east_km)),
        clouds: None,
        ground: Some(&ground),
        roads: Vec::new(),
        links: Vec::new(),
        base: None,
        zone: None,
        notes: sunlit::notes(eclipse, survey),
        credits: vec!["Towns: GeoNames".to_owned()],
        invented: false,
        extent: Extent::WholePath,
        page: page_for(north_km / east_km),
        furniture: Furniture::Full,
        fonts: FontEmbedding::Embedded,
    };
    if north_km.max(east_km) > SMALL_KM {
        return map::region_of(&sheet, &outline);
    }
    // A frame that holds points never shows less than a day's surroundings; a small area is looked at more closely.
    map::regional(&sheet, View { centre: middle, reach_km: 0.53 * north_km.max(east_km).max(1.0) })
}

/// A page whose map window has about an area's proportions, north to east.
fn page_for(proportion: f64) -> PageSize {
    /// Drawing units that title and legend take, and the margins beside the map.
    const AROUND: (f64, f64) = (40.0, 330.0);
    let width = 1000.0;
    let window = (width - AROUND.0) * proportion.clamp(0.45, 1.1);
    PageSize { width, height: (window + AROUND.1).round(), text: PageSize::WIDE.text }
}

/// What the area measures northward and eastward, km.
fn extent_km(grid: &Grid) -> (f64, f64) {
    let (north, east) = grid.spacing_m();
    (north * f64::from(grid.shape.rows) * 1e-3, east * f64::from(grid.shape.columns) * 1e-3)
}

/// One JSON document; `files` are those that were written, and what they are.
pub fn json(eclipse: &Eclipse, survey: &Survey, files: &[(PathBuf, &str)], pretty: bool) -> String {
    let (found, grid, options) = (&survey.found, &survey.grid, &survey.question.options);
    let (area, shape) = (grid.area(), &grid.shape);
    let ground = |g: &Ground| json!({ "nodes": g.nodes, "km2": number(g.km2, 3) });
    let files: Vec<Value> =
        files.iter().map(|(path, what)| json!({ "file": path.display().to_string(), "what": what })).collect();
    let asked = options.beyond_totality_min.is_some();
    let mut document = object(json!({
        "eclipse": eclipse.date().to_string(),
        "kind": eclipse.kind().to_string(),
        "delta_t_s": number(eclipse.delta_t().seconds, 3),
        "area": {
            "west_deg": number(area.west_deg, 7),
            "south_deg": number(area.south_deg, 7),
            "east_deg": number(area.east_deg, 7),
            "north_deg": number(area.north_deg, 7),
        },
        "grid": {
            "columns": shape.columns,
            "rows": shape.rows,
            "lon_step_deg": number(shape.lon_step_deg, 10),
            "lat_step_deg": number(shape.lat_step_deg, 10),
            "spacing_m": number(grid.spacing_m().0, 2),
            "terrain_step_m": number(grid.sample_m(), 2),
        },
        "ray": {
            "eye_height_m": number(options.ray.eye_height_m, 2),
            "refraction_coefficient": number(options.ray.refraction_coefficient, 4),
            "farthest_km": number(options.ray.farthest_km, 1),
        },
        "ground": {
            "all": ground(&found.all),
            "in_path": ground(&found.in_path),
            "clear": ground(&found.clear),
            "thin": ground(&found.thin),
            "hidden": ground(&found.hidden),
            "without_height": ground(&found.without_height),
            "without_skyline": ground(&found.without_skyline),
            "doubtful": ground(&found.doubtful),
        },
        "thin_below_deg": number(THIN_DEG, 2),
        "least_margin_deg": found.margins_deg.map(|m| number(f64::from(m.0), 3)),
        "greatest_margin_deg": found.margins_deg.map(|m| number(f64::from(m.1), 3)),
        "around_totality_min": options.beyond_totality_min.map(|m| number(m, 2)),
        "lost": asked.then(|| ground(&found.lost)),
        "gained": asked.then(|| ground(&found.gained)),
        "moon_edge": "smooth",
        "sweeps": found.sweeps,
        "terrain": terrain_told(&survey.terrain),
        "warnings": survey.warnings,
        "files": files,
        "caution": sunlit::CAUTIONS.join(" "),
    }));
    document.extend(delta_t_fields(eclipse));
    to_text(&Value::Object(document), pretty)
}
