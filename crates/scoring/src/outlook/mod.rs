//! What a site will really offer: clear sky, open horizon, and what there is to see.
//!
//! The way to the Sun: [`cloud`], [`line_of_sight`], [`skyline`].
//!
//! What there is to see, from the physics up:
//!
//! - [`quadrature`]: the integration rule; [`light`]: limb darkening and the light the Moon leaves;
//! - [`crescent`]: the outline of the thinning crescent and how its light is spread over angles;
//! - [`turbulence`], [`scintillation`], [`shadow_bands`]: the air, what it does to a crescent's light, and shadow bands;
//! - [`sharp_shadows`], [`temperature`]: blur of shadows, cooling;
//! - [`moon_shadow`], [`horizon_glow`]: the umbra as it comes and goes, and the sunlit air around it;
//! - [`stars`], [`sky`]: planets and bright stars in totality;
//! - [`limb`], [`filters`]: the Moon's edge, the sign to look away, the window for the unaided eye;
//! - [`timeline`], [`offer`]: what happens when, and all of it gathered for a place; [`decimals`]: digits in print.

pub mod cloud;
pub mod cloud_layers;
pub mod cloud_survey;
pub mod crescent;
pub mod decimals;
pub mod filters;
pub mod horizon_glow;
pub mod light;
pub mod limb;
pub mod line_of_sight;
pub mod moon_shadow;
pub mod offer;
pub mod quadrature;
pub mod scintillation;
pub mod shadow_bands;
pub mod sharp_shadows;
pub mod sky;
pub mod skyline;
pub mod stars;
pub mod temperature;
pub mod timeline;
pub mod turbulence;
