//! What a site will really offer: clear sky, open horizon, and what there is to see.

pub mod cloud;
pub mod line_of_sight;
