//! What is said, once for all outputs: plain functions from typed values to words.
//!
//! - [`safety`]: the cautions and what to bring, in one place;
//! - [`numbers`]: times, directions, heights, odds, and names cut to length;
//! - [`seen`], [`window`]: what is seen at a place, and when unaided eyes may look;
//! - [`edge`]: which edge of the Moon the times belong to.
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

pub mod edge;
pub mod numbers;
pub mod safety;
pub mod seen;
pub mod window;

pub use seen::Seen;
pub use window::WindowFacts;
