//! Where the Moon's shadow falls.
//!
//! How to read this crate, from the ground up:
//!
//! - [`conventions`]: the radii and the figure of the Earth that every number rests on;
//! - [`shadow_axis`]: the axis and the two cones at one instant, straight from the ephemeris;
//! - [`elements`]: the same as Chebyshev polynomials over the whole eclipse (Besselian elements), fit error checked;
//! - [`site`], [`relation`]: a place on the Earth, and how it lies to the axis;
//! - [`contacts`]: the instants at which the edge of a cone sweeps over a place;
//! - [`local_circumstances`]: everything a place sees; [`view`]: the sky of Sun and Moon at one instant; [`alignment`]:
//!   a few numbers of it, sooner;
//! - [`batch`]: the same for millions of places at once;
//! - [`surface`]: where lines and cones meet the ellipsoid; [`central_line`], [`umbral_limits`], [`umbra`], [`path`]: the
//!   shadow on the ground;
//! - [`outline`], [`penumbral_limits`], [`rise_set_curves`]: the outline of the region that sees anything of the eclipse;
//! - [`isolines`]: lines of equal duration, altitude, obscuration or time;
//! - [`eclipse`], [`kind`], [`greatest`], [`catalogue`]: an eclipse as a whole, and all eclipses of a span;
//! - [`moon_edge`]: the Moon's true edge: real contacts, beads, real limits;
//! - [`obscuration`](mod@obscuration), [`geodesy`]: disc areas and distances on the ellipsoid.
//!
//! From a date to the seconds of totality at a place:
//!
//! ```
//! use noonfall_ephemeris::Kernel;
//! use noonfall_shadow::{Conventions, Eclipse, EclipseError, Phase, Site};
//!
//! let date = "2028-07-22".parse().unwrap();
//! let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
//! let sydney = eclipse.local(&Site::new(-33.87, 151.21, 0.0).unwrap());
//! assert_eq!((sydney.phase, sydney.duration_s.round()), (Phase::Total, 228.0));
//! # Ok::<(), EclipseError>(())
//! ```

pub mod alignment;
pub mod batch;
pub mod catalogue;
pub mod central_line;
pub mod contacts;
mod contour;
pub mod conventions;
pub mod eclipse;
pub mod elements;
pub mod geodesy;
pub mod greatest;
pub mod isolines;
pub mod kind;
pub mod local_circumstances;
pub mod moon_edge;
pub mod obscuration;
pub mod outline;
pub mod path;
pub mod penumbral_limits;
mod polynomial;
pub mod relation;
pub mod rise_set_curves;
mod roots;
pub mod shadow_axis;
pub mod site;
pub mod surface;
pub mod umbra;
pub mod umbral_limits;
pub mod view;

pub use alignment::Alignment;
pub use batch::{BatchSolver, SiteBatch};
pub use conventions::{Conventions, ConventionsError};
pub use eclipse::{Eclipse, EclipseError};
pub use elements::BesselianElements;
pub use greatest::Greatest;
pub use isolines::{Isoline, Quantity};
pub use kind::{Kind, Phase};
pub use local_circumstances::{Contact, LocalCircumstances, QuickCircumstances};
pub use obscuration::{DiscError, obscuration};
pub use outline::Outline;
pub use path::{Path, PathPoint};
pub use penumbral_limits::PenumbralLimit;
pub use rise_set_curves::{HorizonCrossing, HorizonEvent, RiseSetCurve};
pub use site::{Site, SiteError};
pub use umbra::Umbra;
pub use view::View;
