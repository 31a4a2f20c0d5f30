//! The files for other programs, looked at from outside.
//!
//! - `names`: names that break things;
//! - `samples`: made-up sites, a path, a head;
//! - `exchange`: the files, written also to the build's temporary folder so that `tests/exchange/validate.py` can hold them against independent
//!   parsers and the formats' schemas.

mod exchange;
mod names;
mod samples;
