//! What a site will really offer: clear sky, open horizon, and what there is to see.
//!
//! The way to the Sun: [`cloud`], [`line_of_sight`], [`skyline`].
//!
//! What there is to see, from the physics up:
//!
//! - [`quadrature`]: the integration rule; [`light`]: limb darkening and the light the Moon leaves;
//! - [`crescent`]: the outline of the thinning crescent and how its light is spread over angles;
//! - [`turbulence`], [`scintillation`], [`shadow_bands`]: the air, what it does to a crescent's light, and shadow bands.

pub mod cloud;
pub mod crescent;
pub mod light;
pub mod line_of_sight;
pub mod quadrature;
pub mod scintillation;
pub mod shadow_bands;
pub mod skyline;
pub mod turbulence;
