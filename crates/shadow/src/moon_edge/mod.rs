//! The Moon's true edge: mountains and valleys where the smooth Moon has a circle.
//!
//! How to read this folder, from the ground up:
//!
//! - [`settings`]: which Sun passes which edge;
//! - [`tile_code`], [`heights`]: the heights of the Moon's surface, and how they are packed;
//! - [`orientation`]: how the Moon is turned (IAU WGCCRE 2015);
//! - [`sky`]: Moon and Sun as a place sees them, in the Moon's axes;
//! - [`skyline`]: the highest point of the surface in a direction of the sky;
//! - [`sun_disc`]: how far the Sun reaches beyond it;
//! - [`profile`]: the edge from one side, searched where it is asked for;
//! - [`true_contacts`]: second and third contact.

mod heights;
mod orientation;
mod profile;
mod settings;
mod sky;
mod skyline;
mod sun_disc;
mod tile_code;
mod true_contacts;

#[cfg(test)]
mod tests;

pub use heights::MoonHeights;
pub use settings::{EdgeSettings, SUN_RADIUS_KM};
pub use sky::Libration;
pub use true_contacts::{EdgeContact, EdgeSolver, REACH_S, TrueTotality};
