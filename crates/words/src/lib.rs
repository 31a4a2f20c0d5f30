//! What is said, once for all outputs: plain functions from typed values to words. A file a subject; in each the same thing as a place, a
//! brief, a map, the report page and a file for other programs have it, side by side.
//!
//! - [`safety`]: the cautions and what to bring, in one place;
//! - [`numbers`]: times, directions, heights, odds, and names cut to length;
//! - [`eclipse`], [`seen`], [`contacts`]: what it is called, what is seen at a place, what the contacts mean;
//! - [`window`], [`edge`]: when unaided eyes may look, and which edge of the Moon times belong to;
//! - [`offer`], [`skyline`], [`clouds`], [`drives`]: what there is to see, what hides it, and where to flee;
//! - [`brief`]: everything a brief says, in typed fields;
//! - [`map`], [`page`], [`calendar`], [`files`], [`sunlit`], [`cloud_archives`]: what only these say;
//! - [`delta_t`], [`origins`], [`invented`]: what figures rest on.
//!
//! Sentences about what happens in the sky come from the engine's own room, `noonfall_scoring::outlook::words`.
//!
//! ```
//! use noonfall_words::numbers::{compass_words, duration};
//! use noonfall_words::safety;
//!
//! assert_eq!(duration(174.4), "2 min 54 s");
//! assert_eq!(compass_words(292.5), "west-north-west");
//! assert!(safety::one_line(false).starts_with("No time for bare eyes here"));
//! ```

pub mod brief;
pub mod calendar;
pub mod cloud_archives;
pub mod clouds;
pub mod contacts;
pub mod delta_t;
pub mod drives;
pub mod eclipse;
pub mod edge;
pub mod files;
pub mod invented;
pub mod map;
pub mod numbers;
pub mod offer;
pub mod origins;
pub mod page;
pub mod safety;
pub mod seen;
pub mod skyline;
pub mod sunlit;
pub mod window;

pub use seen::Seen;
pub use window::WindowFacts;

/// The language of all that is said here (BCP 47).
pub const LANGUAGE: &str = "en";
