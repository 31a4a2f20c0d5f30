//! The central line: where the axis meets the ground.

use crate::eclipse::Eclipse;
use crate::roots::span_of_positive;
use crate::surface::{Footprint, ShadowLine, Surface};
use noonfall_ephemeris::{GeoPoint, Tt};

/// The place on the ellipsoid under the axis at an instant, `None` while the axis misses the Earth.
pub fn central_point(eclipse: &Eclipse, tt: Tt) -> Option<GeoPoint> {
    footprint(eclipse, tt).map(|f| f.point)
}

pub(crate) fn footprint(eclipse: &Eclipse, tt: Tt) -> Option<Footprint> {
    let m = eclipse.elements().at(tt);
    Surface::at_height(eclipse.conventions(), 0.0).meet(&m, &ShadowLine::axis(&m))
}

/// First and last instant at which the axis touches the Earth, `None` where it never does.
pub fn central_span(eclipse: &Eclipse) -> Option<(Tt, Tt)> {
    let surface = Surface::at_height(eclipse.conventions(), 0.0);
    let depth = |tt: Tt| {
        let m = eclipse.elements().at(tt);
        surface.depth(&m, &ShadowLine::axis(&m))
    };
    span_of_positive(depth, eclipse.greatest().tt, 4.0 * 3600.0)
}

/// Direction in which the axis moves over the ground, degrees from north through east, and its speed, km/s.
pub fn ground_motion(eclipse: &Eclipse, tt: Tt) -> Option<(f64, f64)> {
    // Half a second keeps the difference exact to a millimetre per second even near the path's ends.
    const HALF_STEP_S: f64 = 0.5;
    let here = central_point(eclipse, tt);
    let before = central_point(eclipse, tt.plus(-HALF_STEP_S)).or(here)?;
    let after = central_point(eclipse, tt.plus(HALF_STEP_S)).or(here)?;
    let spans =
        [tt.plus(-HALF_STEP_S), tt.plus(HALF_STEP_S)].iter().filter(|&&t| central_point(eclipse, t).is_some()).count();
    if spans == 0 {
        return None;
    }
    let distance = crate::geodesy::distance_km(before, after);
    Some((crate::geodesy::bearing_deg(before, after), distance / (HALF_STEP_S * spans as f64)))
}

impl Eclipse {
    /// First and last instant at which the axis touches the Earth, `None` where it never does.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2017-08-21".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// // NASA/TP-2006-214141 and its maps: some three hours and twelve minutes across the Pacific, America and the Atlantic.
    /// let (first, last) = eclipse.central_span().unwrap();
    /// assert!(((last - first) / 60.0 - 192.0).abs() < 2.0);
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn central_span(&self) -> Option<(Tt, Tt)> {
        central_span(self)
    }
}
