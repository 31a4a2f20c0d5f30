//! The renderer's outputs, looked at from outside.
//!
//! - `samples`: made-up sites with ordinary and with hostile names;
//! - `brief`: one page always, what the PDF says, and that it is the same every time;
//! - `exchange`: the files for other tools, written also to the build's temporary folder so that `tests/exchange/validate.py` can hold them
//!   against independent parsers and the formats' schemas.

mod brief;
mod exchange;
mod samples;
