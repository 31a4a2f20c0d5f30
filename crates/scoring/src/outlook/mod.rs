//! What a site will really offer: clear sky, open horizon, and what there is to see.
//!
//! The way to the Sun: [`cloud`], [`line_of_sight`], [`skyline`]; [`sunlit`]: the skyline from every cell of an area.
//!
//! What there is to see, from the physics up:
//!
//! - [`quadrature`]: the integration rule; [`limb_darkening`], [`light`]: the disc's brightness and the light the Moon leaves;
//! - [`crescent`]: the outline of the thinning crescent and how its light is spread over angles;
//! - [`umbra_light`], [`umbra_sky`], [`darkness`]: light on the ground by day, in the last minutes and inside the umbra; the sky
//!   there, direction by direction; in words;
//! - [`turbulence`], [`ground_air`], [`scintillation`]: the air, high and near the ground, and what it does to a crescent's light;
//! - [`contrast_sensitivity`], [`band_outlook`], [`shadow_bands`]: what an eye sees in moving
//!   stripes, and shadow bands; [`band_reports`]: held against what people reported;
//! - [`sharp_shadows`], [`temperature`]: blur of shadows, cooling; [`corona`]: its shape by the Sun's cycle;
//! - [`moon_shadow`], [`horizon_glow`]: the umbra as it comes and goes, and the sunlit air around it;
//! - [`stars`], [`sky`]: planets and bright stars in totality;
//! - [`true_limit`]: how far a place stands inside the line beyond which there is none;
//! - [`totality`], [`window`]: totality at the Moon's true edge, and the window for the unaided eye, decided once;
//! - [`moon_edge`], [`edge_strip`], [`limb`]: contacts at that edge, its stretches about them, what shows at the edge, the
//!   sign to look away;
//! - [`timeline`], [`words`], [`offer`]: what happens when, in which words, and all of it gathered for a place;
//!   [`decimals`]: digits in print.

pub mod air;
pub mod band_drift;
pub mod band_outlook;
pub mod band_reports;
pub mod cloud;
pub mod cloud_layers;
pub mod cloud_survey;
pub mod contrast_sensitivity;
pub mod corona;
pub mod crescent;
pub mod darkness;
pub mod decimals;
pub mod edge_strip;
pub mod ground_air;
pub mod horizon_glow;
pub mod light;
pub mod limb;
pub mod limb_darkening;
pub mod line_of_sight;
pub mod moon_edge;
pub mod moon_shadow;
pub mod offer;
pub mod quadrature;
pub mod scintillation;
pub mod shadow_bands;
pub mod sharp_shadows;
pub mod sky;
pub mod skyline;
pub mod stars;
pub mod sunlit;
pub mod temperature;
pub mod timeline;
pub mod totality;
pub mod true_limit;
pub mod turbulence;
pub mod umbra_light;
pub mod umbra_sky;
pub mod window;
pub mod words;
