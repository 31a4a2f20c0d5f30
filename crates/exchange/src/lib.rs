//! What other programs and a terminal get, in open formats; nothing here draws or sets type.
//!
//! - [`ExportSite`], [`ExportPath`], [`ExportHead`]: what every map format is written from; [`ranking`] fills them from a ranking, and has the
//!   ranked table, at once or line by line;
//! - [`geojson`] (RFC 7946), [`kml`] (KML 2.2), [`gpx`] (GPX 1.1), [`calendar`] (iCalendar, RFC 5545), [`geotiff`]: one file a format; cut at
//!   the date line by `antimeridian`; [`curves`]: lines beside the path;
//! - [`json`]: the stable keys of the commands; [`values`]: single values, **the only rounding** of numbers in files;
//! - [`table`], [`sheets`]: rows and columns once, written as [`csv`] (RFC 4180) or laid out by [`terminal`];
//! - [`prospects`], [`cloud_archives`]: what `at` and `clouds` tell, in all these ways;
//! - [`slug()`]: names fit for file names.
//!
//! From a date to the path on a map:
//!
//! ```
//! use noonfall_ephemeris::Kernel;
//! use noonfall_exchange::{ExportHead, ExportPath, geojson};
//! use noonfall_shadow::{Conventions, Eclipse, EclipseError};
//!
//! let date = "2028-07-22".parse().unwrap();
//! let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
//! let path = ExportPath::of(&eclipse.path(600.0));
//! let text = geojson::feature_collection(&ExportHead::of(&eclipse), &path, &[]);
//! assert!(text.contains("\"central_line\"") && text.contains("LineString"));
//! # Ok::<(), EclipseError>(())
//! ```

mod antimeridian;
pub mod calendar;
pub mod cloud_archives;
pub mod csv;
pub mod curves;
mod export;
pub mod geojson;
pub mod geotiff;
pub mod gpx;
pub mod json;
pub mod kml;
pub mod prospects;
pub mod ranking;
pub mod sheets;
mod slug;
pub mod table;
pub mod terminal;
pub mod values;

pub use curves::ExportCurve;
pub use export::{ExchangeError, ExportContact, ExportHead, ExportLine, ExportPath, ExportSite};
pub use slug::{slug, unique_slugs};
pub use table::Sheet;
pub use terminal::Screen;
