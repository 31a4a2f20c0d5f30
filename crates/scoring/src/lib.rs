//! Which place is best: candidates, the conditions they offer, criteria, ranking and fallback.
//!
//! Contents, in the order to read them:
//!
//! - [`plan`], [`profile`], [`fault`]: what is asked for, ready weights, and how bad input is reported;
//! - [`input`]: readers for what the user hands in, one file per format;
//! - [`outlook`]: what a site will really offer; [`clouds`]: the cloud files of a plan, asked in order;
//! - [`criteria`], [`utility`], [`score`]: from a value to a utility to a score;
//! - [`assess`], [`rank`], [`figures`], [`trip`]: one site looked at, all sites in order, their figures as outputs tell them, and the whole job;
//! - [`pareto`], [`robustness`], [`sensitivity`]: which sites are beaten, how sure the order is, what would change it;
//! - [`fallback`], [`compare`], [`forecast`]: where to flee, two sites side by side, what a forecast moves;
//! - [`search`], [`outlines`], [`land`], [`places`]: the search of the whole path, coasts, where one can stand, what it is called there;
//! - [`place`], [`zone`], [`clocks`], [`wording`], [`provenance`], [`progress`]: a place as given, clocks, numbers in outputs, origins, and how far the work is.
//!
//! From a place to its window for unaided eyes, at the Moon's true edge; [`trip::run`] does the whole job for a plan:
//!
//! ```
//! use noonfall_ephemeris::Kernel;
//! use noonfall_scoring::TotalityRules;
//! use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
//!
//! let date = "2028-07-22".parse().unwrap();
//! let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
//! let rules = TotalityRules::usual(&eclipse);
//! let (mut solver, sydney) = (rules.solver(), Site::new(-33.87, 151.21, 0.0).unwrap());
//! let totality = rules.totality(&mut solver, &sydney);
//! let window = rules.decide(&mut solver, &sydney, true, &totality, None).unwrap();
//! // Of 228 s of totality with a smooth Moon valleys and allowances leave 215 s.
//! assert!((214.0..218.0).contains(&window.length_s()), "{}", window.length_s());
//! # Ok::<(), EclipseError>(())
//! ```

pub mod assess;
pub mod clocks;
pub mod clouds;
pub mod compare;
pub mod criteria;

pub mod fallback;
pub mod fault;
pub mod figures;
pub mod forecast;
pub mod input;
pub mod land;
pub mod outlines;
pub mod outlook;
pub mod pareto;
pub mod place;
pub mod places;
pub mod plan;
pub mod profile;
pub mod progress;
pub mod prospect;
pub mod provenance;
pub mod rank;
pub mod robustness;
pub mod score;
pub mod search;
pub mod sensitivity;
mod spool;
pub mod trip;
pub mod utility;
pub mod wording;
pub mod zone;

pub use fault::{Fault, Faults};
pub use outlook::totality::{Totality, TotalityRules};
pub use outlook::window::{Decision, NoWindow, Window, WindowSettings};
pub use plan::Plan;
pub use rank::{RankedSite, Ranking};

/// A table of reference values of the repository.
#[cfg(test)]
#[allow(clippy::panic)]
fn reference(name: &str) -> String {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}
