//! The program run as a user runs it. One file per command; a file that is not named here does not run.
//!
//! - [`list`], [`trace`], [`at`], [`rank`], [`brief`], [`clouds`], [`plan`]: what each command answers, checked against values from
//!   outside (each check names its source);
//! - [`awkward_input`]: what is allowed but unusual: sizes, names, a brief for several sites;
//! - [`check`]: a plan and its files read, nothing ranked;
//! - [`candidates`]: candidates in every format that is read;
//! - [`fallback`]: bases, and drives that know water, borders and traffic;
//! - [`long_table`]: tables longer than memory: the same lines, every fault;
//! - [`search`]: the search of the path over ground and along roads;
//! - [`sunlit`]: the sunlit ground of an area: raster, picture, figures, doubtful terrain, refusals;
//! - [`bad_input`]: every refusal: its message, exit status 2, and nothing written;
//! - [`ground`]: ground that is not known: between files, at their edge, over voids;
//! - [`machine_faults`]: a disk that fills, a run that is killed, two at once, links, inputs without end;
//! - [`moon_grid`]: heights of the Moon that a user brings, and every refusal of them;
//! - [`one_altitude`]: a low Sun's altitude in the tables, the comparison, maps, brief and page alike;
//! - [`one_outlook`]: shadow bands from every command alike; haze, snow, wind, the shadow's edge in the air;
//! - [`documented`]: every command that the README and the guides show;
//! - [`schema`]: every JSON document that a test asks for keeps to its schema under `data/schema`;
//! - [`demo`]: the committed demo report regenerates byte for byte, on any number of threads.

// Tests may stop at the first surprise.
#![allow(clippy::unwrap_used, clippy::panic)]

mod at;
mod awkward_input;
mod bad_input;
mod brief;
mod candidates;
mod check;
mod clouds;
mod demo;
mod documented;
mod fallback;
mod ground;
mod list;
mod long_table;
mod machine_faults;
mod moon_grid;
mod one_altitude;
mod one_outlook;
mod plan;
mod rank;
mod schema;
mod search;
#[path = "../crates/ephemeris/tests/spk_writer/mod.rs"]
mod spk_writer;
mod sunlit;
mod trace;
mod util;
