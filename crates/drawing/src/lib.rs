//! What is drawn: maps, charts and printed pages, from plain data to SVG, PNG and PDF, with letters of its own so that a picture is the same
//! on every machine.
//!
//! - [`palette`], [`fonts`], [`svg`]: colours, the shipped typeface, and a small writer of drawings;
//! - [`projection`], [`basemap`], [`labels`]: from the globe to the page, land, and labels that do not overlap;
//! - [`map`]: overview and regional maps, one layer a file;
//! - [`chart`]: one chart a file, each from plain data to a drawing;
//! - [`raster`], [`svg_files`]: drawings to PNG, and to SVG files for programs of all kinds;
//! - [`page`]: text, shapes and pictures on paper, and from there to PDF and SVG;
//! - [`map_pdf`]: any drawing as a PDF page.
//!
//! From a date to a map of the path:
//!
//! ```
//! use noonfall_drawing::map::{Extent, Furniture, MapSheet, PageSize, PathLines, overview};
//! use noonfall_drawing::{FontEmbedding, raster};
//! use noonfall_ephemeris::Kernel;
//! use noonfall_shadow::{Conventions, Eclipse};
//!
//! let date = "2028-07-22".parse()?;
//! let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
//! let path = PathLines::of(&eclipse).ok_or("no path")?;
//! let svg = overview(&MapSheet {
//!     id: "path".into(),
//!     title: "Total solar eclipse of 22 July 2028".into(),
//!     subtitle: String::new(),
//!     path: &path,
//!     field: &eclipse,
//!     sites: Vec::new(),
//!     towns: Vec::new(),
//!     clouds: None,
//!     ground: None,
//!     roads: Vec::new(),
//!     links: Vec::new(),
//!     base: None,
//!     zone: None,
//!     notes: Vec::new(),
//!     credits: Vec::new(),
//!     invented: false,
//!     extent: Extent::WholePath,
//!     page: PageSize::INSET,
//!     furniture: Furniture::Bare,
//!     fonts: FontEmbedding::FromPage,
//! })?;
//! assert!(svg.starts_with("<svg") && raster::png(&svg, 1.0)?.starts_with(b"\x89PNG"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod basemap;
pub mod chart;
pub mod fonts;
pub mod labels;
pub mod map;
pub mod map_pdf;
pub mod page;
pub mod palette;
pub mod projection;
pub mod raster;
pub mod svg;
pub mod svg_files;

pub use chart::{ChartError, ChartPage};
pub use map::{MapError, MapSheet, overview, regional};
pub use page::TypesetError;
pub use raster::{RasterError, png};
pub use svg::FontEmbedding;
