//! The Moon's true edge: mountains and valleys where the smooth Moon has a circle.
//!
//! How to read this folder, from the ground up:
//!
//! - `settings`: which Sun passes which edge;
//! - `tile_code`, `heights`: the heights of the Moon's surface, and how they are packed;
//! - `grid_file`, `pds_label`, `grid_tiff`: grids that a user brings;
//! - `orientation`: how the Moon is turned (IAU WGCCRE 2015);
//! - `sky`: Moon and Sun as a place sees them, in the Moon's axes;
//! - `skyline`: the highest point of the surface in a direction of the sky;
//! - `sun_disc`: how far the Sun reaches beyond it;
//! - `profile`: the edge from one side, searched where it is asked for;
//! - `true_contacts`: second and third contact;
//! - `beads`: the arcs of light before and after them; `edge_profile`: the edge all round;
//! - `rolling`, `lattice`: the same contacts for very many places; `carried`: a piece of the lattice to go along with a report;
//! - `true_limits`: the lines on the ground beyond which no place has a moment without sunlight.

mod beads;
mod carried;
mod edge_profile;
mod grid_file;
mod grid_tiff;
mod heights;
mod lattice;
mod orientation;
mod pds_label;
mod profile;
mod rolling;
mod settings;
mod sky;
mod skyline;
mod sun_disc;
mod tile_code;
mod true_contacts;
mod true_limits;

#[cfg(test)]
mod tests;

pub use beads::{BEAD_LASTS_S, BEADS_WITHIN_S, Bead, BeadSide, MOST_BEADS};
pub use carried::{ANGLE_STEPS, CarriedEdge, DEPTH_MIDDLE, DEPTH_STEPS_PER_DEG, TANGENT_FROM, TANGENT_STEP};
pub use edge_profile::EdgePoint;
pub use grid_file::MoonGridError;
pub use heights::MoonHeights;
pub use lattice::EdgeLattice;
pub use settings::{EdgeSettings, SUN_RADIUS_KM};
pub use sky::Libration;
pub use true_contacts::{EdgeContact, EdgeSolver, REACH_S, TrueTotality};
pub use true_limits::{LimitSearch, TrueLimits};
