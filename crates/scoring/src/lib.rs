//! Which place is best: candidates, the conditions they offer, criteria, ranking and fallback.
//!
//! Read in this order: [`fault`] (how bad input is reported), [`input`] (what the reader hands in, one file per format),
//! [`outlook`] (what a site will really offer), [`criteria`] and [`utility`] (how a value becomes a score),
//! then [`rank`] and what builds on it.

pub mod assess;
pub mod clouds;
pub mod compare;
pub mod contact_times;
pub mod criteria;
pub mod fallback;
pub mod fault;
pub mod forecast;
pub mod grid;
pub mod input;
pub mod land;
pub mod outlook;
pub mod pareto;
pub mod places;
pub mod plan;
pub mod profile;
pub mod progress;
pub mod prospect;
pub mod provenance;
pub mod rank;
pub mod robustness;
pub mod run;
pub mod score;
pub mod sensitivity;
pub mod utility;
pub mod zone;
