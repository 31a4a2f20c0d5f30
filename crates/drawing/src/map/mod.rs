//! Maps of a path and its sites: from plain data to one SVG text.
//!
//! [`overview()`] shows the whole path, [`regional()`] the country around a place, [`region_of()`] an area. Both take a [`MapSheet`], which knows nothing of
//! plans or rankings, so that the report, the brief and a script can each fill it. Every layer is a file of its own:
//!
//! | file | draws |
//! | --- | --- |
//! | `land.rs` | land and lakes; over the path, what of it is water, coasts and borders |
//! | `graticule.rs` | meridians and parallels |
//! | `clouds.rs` | cloud amount as a stipple |
//! | `path_fill.rs` | the path by seconds of totality |
//! | `relief.rs`, `hidden_ground.rs` | where terrain is given: hill shading; ground from which the Sun stays hidden, or that is not known |
//! | `duration_isolines.rs`, `altitude_isolines.rs` | lines of equal duration and of equal Sun's altitude |
//! | `limits.rs` | limits and central line |
//! | `time_ticks.rs` | where maximum eclipse is, minute by minute |
//! | `fallback_links.rs`, `base.rs` | from a base to its fallback; a base that is no candidate |
//! | `inset.rs` | an enlarged part where places crowd |
//! | `sites.rs`, `towns.rs` | candidate sites and places around them |
//! | `scale_bar.rs`, `legend.rs`, `credits.rs` | what is needed to read the map and to trust it |
//!
//! `field_grid.rs` samples the shadow over the page for the layers that need it; they draw on the `canvas.rs`, in the steps of `ramp.rs`; `sheet.rs` lays the page
//! out.

pub mod altitude_isolines;
pub mod base;
pub mod canvas;
pub mod clouds;
pub mod credits;
pub mod duration_isolines;
mod eclipse_path;
pub mod fallback_links;
pub mod field_grid;
pub mod graticule;
pub mod hidden_ground;
pub mod inset;
pub mod isoline;
pub mod land;
pub mod legend;
pub mod limits;
pub mod overview;
pub mod path_fill;
pub mod ramp;
pub mod regional;
pub mod relief;
pub mod roads;
pub mod scale_bar;
pub mod sheet;
pub mod sites;
pub mod time_ticks;
pub mod towns;

#[cfg(test)]
mod tests;

use chrono_tz::Tz;
use noonfall_ephemeris::{GeoPoint, Tt};
use noonfall_scoring::outlook::skyline::GroundView;
use noonfall_shadow::moon_edge::LimitSearch;
use rayon::prelude::*;
use std::sync::Arc;

use crate::basemap::BasemapError;
use crate::projection::ProjectionError;
use crate::svg::FontEmbedding;

pub use overview::{overview, overview_with_frame};
pub use regional::{View, region_of, regional};

/// Why a map could not be drawn.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MapError {
    /// The frame could not be laid out.
    #[error(transparent)]
    Projection(#[from] ProjectionError),
    /// The base map could not be read.
    #[error(transparent)]
    Basemap(#[from] BasemapError),
    /// The page leaves no room for a map.
    #[error("a page of {width} by {height} leaves no room for a map under its title and above its legend")]
    NoRoom {
        /// Page width.
        width: f64,
        /// Page height.
        height: f64,
    },
}

/// The shadow at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShadowSample {
    /// Duration of totality or annularity, seconds; 0 outside the path.
    pub duration_s: f64,
    /// The Sun's altitude at maximum eclipse with refraction, degrees; negative below the horizon.
    pub sun_apparent_altitude_deg: f64,
}

/// Something that knows the shadow at every place.
pub trait ShadowField: Sync {
    /// The shadow at a place at sea level.
    fn sample(&self, at: GeoPoint) -> ShadowSample;
    /// The same at many places, of which there are many thousand for one map.
    fn samples(&self, places: &[GeoPoint]) -> Vec<ShadowSample> {
        places.par_iter().map(|place| self.sample(*place)).collect()
    }
}

impl<F: Fn(GeoPoint) -> ShadowSample + Sync> ShadowField for F {
    fn sample(&self, at: GeoPoint) -> ShadowSample {
        self(at)
    }
}

/// The path at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathInstant {
    /// The instant.
    pub tt: Tt,
    /// Point of the northern limit where maximum eclipse happens then.
    pub north: Option<GeoPoint>,
    /// Point of the central line.
    pub central: Option<GeoPoint>,
    /// Point of the southern limit.
    pub south: Option<GeoPoint>,
}

/// What the Moon does to the Sun on the central line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Centrality {
    /// Covers it.
    #[default]
    Total,
    /// Leaves a ring.
    Annular,
    /// Covers it along part of the path only.
    Hybrid,
}

impl Centrality {
    /// The noun for the time between second and third contact.
    #[must_use]
    pub fn noun(self) -> &'static str {
        match self {
            Centrality::Total => "totality",
            Centrality::Annular => "annularity",
            Centrality::Hybrid => "totality or annularity",
        }
    }
}

/// The path's lines on the ground; the default is no path.
#[derive(Clone, Debug, Default)]
pub struct PathLines {
    /// Total, annular or hybrid.
    pub centrality: Centrality,
    /// Central line, in pieces.
    pub central_line: Vec<Vec<GeoPoint>>,
    /// Northern limit, in pieces.
    pub north_limit: Vec<Vec<GeoPoint>>,
    /// Southern limit, in pieces.
    pub south_limit: Vec<Vec<GeoPoint>>,
    /// The lines beyond which the Moon's measured edge leaves no totality, where there are some; found for the maps that show them.
    pub true_limits: Option<Arc<LimitSearch>>,
    /// The grid of heights that the measured edge is taken from, in a word or two; nothing where the Moon is smooth.
    pub edge_grid: Option<String>,
    /// Rings around the path, closed at its sunrise and sunset ends.
    pub polygon: Vec<Vec<GeoPoint>>,
    /// The path instant by instant, in order of time, a minute apart or closer.
    pub instants: Vec<PathInstant>,
    /// Longest duration anywhere on the path, seconds: the deep end of the ramp.
    pub longest_s: f64,
}

/// A site on a map.
#[derive(Clone, Debug, PartialEq)]
pub struct MapSite {
    /// Rank, 1 the best; none for a rejected site.
    pub rank: Option<u32>,
    /// Name, as the user wrote it.
    pub name: String,
    /// Where.
    pub point: GeoPoint,
    /// Score, 0 to 1: the disc's size.
    pub score: f64,
    /// Chance of clear sky, 0 to 1: the ring; none when no cloud data was given.
    pub clear_probability: Option<f64>,
    /// Seconds of totality.
    pub totality_s: f64,
    /// The Sun's altitude at maximum with refraction, degrees.
    pub sun_apparent_altitude_deg: Option<f64>,
    /// Why it was rejected, when it was.
    pub rejected: Option<String>,
    /// Whether the map is about this site.
    pub highlighted: bool,
}

/// A populated place on a regional map.
#[derive(Clone, Debug, PartialEq)]
pub struct MapTown {
    /// Name.
    pub name: String,
    /// Where.
    pub point: GeoPoint,
    /// People; larger places are labelled first.
    pub population: u64,
}

/// From a base to its fallback.
#[derive(Clone, Debug, PartialEq)]
pub struct FallbackLink {
    /// Base.
    pub from: GeoPoint,
    /// Fallback.
    pub to: GeoPoint,
    /// Words beside the line, such as the leave-by time.
    pub label: String,
}

/// Where the group sleeps, where that is none of the sites.
#[derive(Clone, Debug, PartialEq)]
pub struct MapBase {
    /// Name.
    pub name: String,
    /// Where.
    pub point: GeoPoint,
}

/// Gives the mean cloud fraction, 0 to 1, at a place; none beyond the data's reach.
pub type CloudField<'a> = &'a (dyn Fn(GeoPoint) -> Option<f64> + Sync);

/// Something that knows the ground. Sampled in parallel, many thousand times for one map.
pub trait GroundField: Sync {
    /// Height of the ground, m; none where it is not known.
    fn height_m(&self, at: GeoPoint) -> Option<f64>;
    /// The least height of the Sun above the skyline in totality, degrees; none outside the path or where the ground is not
    /// known.
    fn margin_deg(&self, at: GeoPoint) -> Option<f64>;
    /// Whether it is a grid in memory: asked at many more nodes, and it tells where nothing is known.
    fn is_gridded(&self) -> bool {
        false
    }
    /// Whether nothing is known of a place in the path; only a gridded ground tells.
    fn is_unknown(&self, _at: GeoPoint) -> bool {
        false
    }
}

impl GroundField for GroundView<'_> {
    fn height_m(&self, at: GeoPoint) -> Option<f64> {
        GroundView::height_m(self, at)
    }

    fn margin_deg(&self, at: GeoPoint) -> Option<f64> {
        GroundView::margin_deg(self, at)
    }
}

/// What the overview shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// The whole path, from sunrise to sunset, and all sites.
    WholePath,
    /// The sites, with the path between them; the whole path when there is no site.
    Sites,
}

/// How much stands around the map.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Furniture {
    /// Title, legend, notes, credits.
    Full,
    /// The map alone with its scale bar and a line of credits, for setting into a page that carries the rest.
    Bare,
}

/// Size of the page in drawing units, and of its plain text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PageSize {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
    /// Size of plain text.
    pub text: f64,
}

impl PageSize {
    /// For a laptop or a landscape A4 page.
    pub const WIDE: PageSize = PageSize { width: 1200.0, height: 900.0, text: 14.0 };
    /// For a phone held upright: text stays legible at a width of 400 CSS pixels.
    pub const TALL: PageSize = PageSize { width: 420.0, height: 760.0, text: 11.5 };
    /// For a map set into the one-page brief, about 90 mm wide in print.
    pub const INSET: PageSize = PageSize { width: 310.0, height: 225.0, text: 11.0 };
}

/// All that a map shows, in plain data.
pub struct MapSheet<'a> {
    /// Prefix of identifiers in the drawing, unique in a page that holds several.
    pub id: String,
    /// Title.
    pub title: String,
    /// A line below it; may be empty.
    pub subtitle: String,
    /// The path.
    pub path: &'a PathLines,
    /// The shadow at any place.
    pub field: &'a dyn ShadowField,
    /// Sites, in any order.
    pub sites: Vec<MapSite>,
    /// Places for orientation.
    pub towns: Vec<MapTown>,
    /// Cloud layer.
    pub clouds: Option<CloudField<'a>>,
    /// The ground, where there is terrain.
    pub ground: Option<&'a dyn GroundField>,
    /// Roads to show under the marks of a regional map; may be none.
    pub roads: Vec<Vec<GeoPoint>>,
    /// Links from bases to fallbacks, and from a base that is no candidate to the site.
    pub links: Vec<FallbackLink>,
    /// A base that is none of the sites, inside the path or outside.
    pub base: Option<MapBase>,
    /// The one zone that serves the whole map, if there is one: ticks then carry local time as well.
    pub zone: Option<Tz>,
    /// Notes for the margin: ΔT with its origin and what it means in kilometres, the plan's hash, the data's dates.
    pub notes: Vec<String>,
    /// Credits beyond the base map's own.
    pub credits: Vec<String>,
    /// Whether any of the data was invented for a demonstration: then the map says so in capitals.
    pub invented: bool,
    /// What the overview shows; a regional map has its own view.
    pub extent: Extent,
    /// Page.
    pub page: PageSize,
    /// What stands around the map.
    pub furniture: Furniture,
    /// Whether the drawing carries its fonts.
    pub fonts: FontEmbedding,
}
