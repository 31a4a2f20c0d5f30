//! What people read of a whole run: the report folder, its page, the brief. Drawings come from `noonfall_drawing`, files for other programs
//! from `noonfall_exchange`, words that all outputs share from `noonfall_words`.
//!
//! - [`brief`]: the one-page brief, as PDF, SVG and PNG;
//! - [`report`]: the page that works from disk, without a connection;
//! - [`ranking_pictures`]: from a ranking to its maps and charts;
//! - [`publish`]: where all of these meet what the engine found out; the report folder;
//! - [`sunlit_ground`]: the same for an area of sunlit ground.
//!
//! From a plan to its report folder, in memory:
//!
//! ```no_run
//! use noonfall_render::Publication;
//! use noonfall_scoring::{progress::Silent, trip};
//!
//! let outcome = trip::run("data/demo/plan.toml".as_ref(), &trip::Options::default(), &Silent)?;
//! for file in Publication::new(&outcome).files()? {
//!     println!("{}: {} bytes", file.name, file.bytes.len());
//! }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod brief;
pub mod publish;
pub mod ranking_pictures;
pub mod report;
pub mod sunlit_ground;

pub use brief::{Paper, brief_pdf, brief_png, brief_svg};
pub use publish::{LongFile, NamedFile, Publication, PublishError};
pub use report::{report_html, report_model};
