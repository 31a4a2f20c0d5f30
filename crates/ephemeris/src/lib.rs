//! Where the Sun, the Moon, the planets and the observer are.
//!
//! Contents, from the ground up:
//!
//! - [`constants`]: the few numbers everything else agrees on;
//! - [`vector`], [`angle`]: three-vectors, matrices, and angles in degrees;
//! - [`time_scales`], [`leap_seconds`], [`delta_t`]: TT inside, UTC for people, UT1 by ΔT;
//! - [`spk`], [`kernel`]: planetary positions from an SPK file, embedded or given;
//! - [`earth_orientation`]: from the celestial to the terrestrial frame, IAU 2006/2000A;
//! - [`apparent`]: places as seen from the Earth, light time and aberration included;
//! - [`observer`]: a place on the ellipsoid, and what is above its horizon;
//! - [`refraction`]: how much the air lifts the Sun.

pub mod angle;
pub mod apparent;
pub mod constants;
pub mod delta_t;
pub mod earth_orientation;
pub mod kernel;
pub mod leap_seconds;
pub mod observer;
mod packed;
pub mod refraction;
pub mod spk;
mod spk_error;
pub mod time_scales;
pub mod vector;

pub use constants::{AU_KM, EARTH_RADIUS_KM, SPEED_OF_LIGHT_KM_S};
pub use delta_t::{DeltaT, DeltaTError};
pub use kernel::{Body, Kernel, KernelError, State};
pub use observer::{Ellipsoid, GeoPoint, GeoPointError, Horizontal};
pub use refraction::{apparent_altitude_deg, refraction_deg};
pub use time_scales::Tt;
