//! Damaged files for every reader. Each target is one reader in a few lines (`targets/`): it is given a file and says what came of it,
//! and it panics where what came is no answer (a cover of 140 %, a coordinate that is no number, a fault without a word).
//!
//! - `mutate.rs`: how a good file becomes a bad one: bits, numbers, cuts, repeats, pieces of other files, words of the format;
//! - `target.rs`: what a target is, and where its good files lie (`corpus/`, and what other tests have already);
//! - `targets/`: the targets;
//! - `run.rs`: case by case, with a limit of time for each. An outcome that was not met before (by its words, numbers left out) keeps
//!   its file as a start for more: a substitute for the coverage that the stable compiler does not tell;
//! - `main.rs`: the long run, `tests/fuzz.sh TARGET SECONDS`; `../tests/short.rs`: a short one with every test run.
//!
//! What falls out is written to `corpus/TARGET/found-…`, stays there, and is read again by every later run.

pub mod mutate;
pub mod run;
pub mod target;
pub mod targets;
