//! How it is shown: maps, charts, tables, the brief, the report page and files for other tools.
//!
//! - [`palette`], [`fonts`], [`svg`]: colours, the shipped typeface, and a small writer of drawings;
//! - [`projection`], [`basemap`], [`labels`]: from the globe to the page, land, and labels that do not overlap;
//! - [`map`]: overview and regional maps;
//! - [`chart`]: one chart a file, each from plain data to a drawing;
//! - [`ranking_pictures`]: from a ranking to its maps and charts;
//! - [`raster`], [`svg_files`]: drawings to PNG, and to SVG files for programs of all kinds;
//! - `page`: text, shapes and pictures on paper, and from there to PDF and SVG;
//! - [`brief`]: the one-page brief, as PDF, SVG and PNG;
//! - [`map_pdf`]: any drawing as a PDF page;
//! - [`report`]: the page that works from disk, without a connection;
//! - [`publish`], [`sunlit_ground`]: where all of these meet what the engine found out.

pub mod basemap;
pub mod brief;
pub mod chart;
pub mod fonts;
pub mod labels;
pub mod map;
pub mod map_pdf;
mod page;
pub mod palette;
pub mod projection;
pub mod publish;
pub mod ranking_pictures;
pub mod raster;
pub mod report;
pub mod sunlit_ground;
pub mod svg;
pub mod svg_files;
