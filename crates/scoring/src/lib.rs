//! Which place is best: candidates, the conditions they offer, criteria, ranking and fallback.
//!
//! Read in this order: [`fault`] (how bad input is reported), [`input`] (what the reader hands in, one file per format),
//! [`outlook`] (what a site will really offer), [`criteria`] and [`utility`] (how a value becomes a score),
//! then [`rank`] and what builds on it.

pub mod fault;
pub mod input;
pub mod outlook;
