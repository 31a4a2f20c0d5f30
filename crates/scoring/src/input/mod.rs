//! Readers for what the user hands in: one file per format. Every reader returns all faults, not only the first.

pub(crate) mod blocks;
pub mod clouds;
pub mod coordinates;
pub mod day_records;
pub mod drive_hours;
pub mod epw;
pub mod horizon;
pub mod polygon;
pub mod roads;
pub mod sites;
pub(crate) mod stamp;
pub mod table;
pub mod terrain;
pub mod text;
pub(crate) mod zip;
