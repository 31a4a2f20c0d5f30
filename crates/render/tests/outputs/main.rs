//! The renderer's outputs, looked at from outside.
//!
//! - `names`: names that break things, as the files for other programs are tested with;
//! - `samples`: made-up sites with everything known, and with little;
//! - `brief`: one page always, what the PDF says, and that it is the same every time.

mod brief;
#[path = "../../../exchange/tests/outputs/names.rs"]
mod names;
mod samples;
