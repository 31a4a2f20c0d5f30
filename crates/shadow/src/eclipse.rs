//! An eclipse as a whole: found by its date, ready for any place.

use crate::alignment::Alignment;
use crate::catalogue::{self, CatalogueError};
use crate::central_line::{central_span, edges_of_positive, highest, span_of_positive};
use crate::contacts::{Cone, Snapshot};
use crate::conventions::Conventions;
use crate::elements::{BesselianElements, ElementsError};
use crate::greatest::Greatest;
use crate::isolines::{self, Isoline, Quantity};
use crate::kind::Kind;
use crate::local_circumstances::{self, LocalCircumstances, QuickCircumstances};
use crate::outline::Outline;
use crate::path::{self, Path};
use crate::penumbral_limits::{self, PenumbralLimit};
use crate::relation::Station;
use crate::rise_set_curves::{self, RiseSetCurve};
use crate::site::Site;
use crate::surface::{ShadowLine, Surface};
use crate::umbra::{self, Umbra};
use crate::umbral_limits::{Side, limit};
use crate::view::View;
use chrono::NaiveDate;
use noonfall_ephemeris::{DeltaT, GeoPoint, Kernel, KernelError, Tt};

/// No part of the shadow is on the Earth so long before or after greatest eclipse; the elements reach a little less far.
const REACH_S: f64 = 3.5 * 3600.0;

/// Why there is no eclipse to compute.
#[derive(Debug, thiserror::Error)]
pub enum EclipseError {
    /// No solar eclipse on the date.
    #[error("there is no solar eclipse with its greatest phase on {date} (UTC); the nearest are {}", names(nearest))]
    NoEclipse {
        /// The date asked for.
        date: NaiveDate,
        /// Dates of the nearest eclipses, before and after, with their kinds.
        nearest: Vec<(NaiveDate, Kind)>,
    },
    /// The ephemeris cannot serve.
    #[error(transparent)]
    Kernel(#[from] KernelError),
    /// The elements cannot be made.
    #[error(transparent)]
    Elements(#[from] ElementsError),
}

fn names(nearest: &[(NaiveDate, Kind)]) -> String {
    if nearest.is_empty() {
        return "outside the ephemeris".to_owned();
    }
    nearest.iter().map(|(date, kind)| format!("{date} ({kind})")).collect::<Vec<_>>().join(" and ")
}

/// An eclipse of the Sun.
#[derive(Clone, Debug)]
pub struct Eclipse {
    elements: BesselianElements,
    conventions: Conventions,
    delta_t: DeltaT,
    kernel: String,
    kind: Kind,
    axis_meets_earth: bool,
    greatest: Greatest,
}

impl Eclipse {
    /// The eclipse whose greatest phase falls on a date (UTC).
    ///
    /// # Errors
    /// [`EclipseError::NoEclipse`], with the nearest dates, or what is wrong with the ephemeris.
    /// ```
    /// use noonfall_shadow::{Conventions, Eclipse, Kind};
    /// use noonfall_ephemeris::Kernel;
    /// let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// assert_eq!(eclipse.kind(), Kind::Total);
    /// // NASA/TP-2006-214141: gamma −0.6056.
    /// assert!((eclipse.greatest().gamma + 0.6056).abs() < 1e-4);
    /// # Ok::<(), noonfall_shadow::EclipseError>(())
    /// ```
    pub fn on_date(
        kernel: &Kernel,
        date: NaiveDate,
        delta_t: Option<DeltaT>,
        conventions: &Conventions,
    ) -> Result<Eclipse, EclipseError> {
        match catalogue::eclipse_on(kernel, date, delta_t, conventions) {
            Ok(Some(eclipse)) => Ok(eclipse),
            Ok(None) => Err(EclipseError::NoEclipse { date, nearest: catalogue::nearest(kernel, date, conventions) }),
            Err(CatalogueError::Kernel(error)) => Err(error.into()),
            Err(CatalogueError::Elements(error)) => Err(error.into()),
        }
    }

    /// The eclipse about an instant at which the axis is closest to the Earth's centre; `None` if not even the penumbra
    /// meets the Earth.
    pub(crate) fn about(
        kernel: &Kernel,
        closest: Tt,
        delta_t: Option<DeltaT>,
        conventions: &Conventions,
    ) -> Result<Option<Eclipse>, ElementsError> {
        let delta_t = delta_t.map_or_else(|| DeltaT::for_instant(closest), |given| given.with_spread_at(closest));
        let elements = BesselianElements::about(kernel, closest, delta_t.seconds, conventions)?;
        let surface = Surface::at_height(conventions, 0.0);
        let Some(kind) = kind_of(&elements, &surface, closest) else { return Ok(None) };
        let m = elements.at(closest);
        let axis_meets_earth = {
            let depth = |tt: Tt| {
                let m = elements.at(tt);
                surface.depth(&m, &ShadowLine::axis(&m))
            };
            surface.depth(&m, &ShadowLine::axis(&m)) > 0.0 || depth(highest(depth, closest, 2400.0)) > 0.0
        };
        let greatest = Greatest::of(&elements, kind, closest, conventions);
        Ok(Some(Eclipse {
            elements,
            conventions: conventions.clone(),
            delta_t,
            kernel: kernel.describe(),
            kind,
            axis_meets_earth,
            greatest,
        }))
    }

    /// UTC date of greatest eclipse.
    pub fn date(&self) -> NaiveDate {
        self.greatest.tt.to_utc().date_naive()
    }

    /// Kind of the eclipse.
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// Whether the axis meets the Earth; a total or annular eclipse without is non-central.
    pub fn is_central(&self) -> bool {
        self.axis_meets_earth
    }

    /// Whether the path has a northern and a southern limit.
    pub fn limits(&self) -> (bool, bool) {
        if self.kind == Kind::Partial {
            return (false, false);
        }
        let surface = Surface::at_height(&self.conventions, 0.0);
        let exists = |side: Side| {
            (-24..=24).any(|k| {
                let m = self.elements.at(self.greatest.tt.plus(f64::from(k) * 300.0));
                limit(&surface, &m, Cone::Umbra, side).is_some()
            })
        };
        (exists(Side::North), exists(Side::South))
    }

    /// Greatest eclipse.
    pub fn greatest(&self) -> &Greatest {
        &self.greatest
    }

    /// ΔT in use.
    pub fn delta_t(&self) -> &DeltaT {
        &self.delta_t
    }

    /// The constants in use.
    pub fn conventions(&self) -> &Conventions {
        &self.conventions
    }

    /// The Besselian elements.
    pub fn elements(&self) -> &BesselianElements {
        &self.elements
    }

    /// Name of the ephemeris.
    pub fn kernel(&self) -> &str {
        &self.kernel
    }

    /// The same eclipse over an Earth turned by another ΔT. Cheap: the shadow in space stays as it is.
    pub fn with_delta_t(&self, delta_t: DeltaT) -> Eclipse {
        let elements = self.elements.with_delta_t(delta_t.seconds);
        let greatest = Greatest::of(&elements, self.kind, self.greatest.tt, &self.conventions);
        Eclipse { elements, delta_t, greatest, ..self.clone() }
    }

    /// First and last instant at which the axis touches the Earth, `None` where it never does.
    pub fn central_span(&self) -> Option<(Tt, Tt)> {
        central_span(self)
    }

    /// First and last instant at which the penumbra touches the Earth: the partial eclipse begins and ends there.
    pub fn penumbral_span(&self) -> Option<(Tt, Tt)> {
        let surface = Surface::at_height(&self.conventions, 0.0);
        let depth = |tt: Tt| deepest_generator(&self.elements, &surface, Cone::Penumbra, tt);
        // At greatest eclipse the penumbra is on the Earth, but for the barest contact, which the flattening may shift.
        let inside = self.greatest.tt;
        let inside = if depth(inside) > 0.0 { inside } else { highest(depth, inside, 2400.0) };
        (depth(inside) > 0.0).then(|| edges_of_positive(depth, inside, REACH_S))
    }

    /// The outline of the partial eclipse: its limits and the curves of sunrise and sunset.
    pub fn outline(&self) -> Option<Outline> {
        Outline::of(self)
    }

    /// Northern and southern limits of the partial eclipse at sea level.
    pub fn penumbral_limits(&self) -> Vec<PenumbralLimit> {
        penumbral_limits::limits(self)
    }

    /// Where the eclipse begins, is greatest or ends at sunrise or sunset.
    pub fn rise_set_curves(&self) -> Vec<RiseSetCurve> {
        rise_set_curves::curves(self)
    }

    /// First and last instant at which a limit or the central line has a point, `None` for a partial eclipse.
    pub fn path_span(&self) -> Option<(Tt, Tt)> {
        path::span(self)
    }

    /// Lines of equal duration, altitude, obscuration or time of maximum, for values in the unit of the quantity. A value
    /// that is reached nowhere gives no lines.
    pub fn isolines(&self, quantity: Quantity, values: &[f64]) -> Vec<Isoline> {
        isolines::isolines(self, quantity, values)
    }

    /// Values for which isolines make a readable map.
    pub fn usual_isoline_values(&self, quantity: Quantity) -> Vec<f64> {
        isolines::usual_values(self, quantity)
    }

    /// Full circumstances of a place.
    pub fn local(&self, site: &Site) -> LocalCircumstances {
        local_circumstances::local(self, site)
    }

    /// The part of the circumstances that a search of many places needs.
    pub fn quick(&self, site: &Site) -> QuickCircumstances {
        local_circumstances::quick(self, site)
    }

    /// The sky of Sun and Moon from a place at an instant.
    pub fn view(&self, site: &Site, tt: Tt) -> View {
        let station = Station::new(site, &self.conventions);
        View::of(&Snapshot::at(&self.elements, &station, tt), &station, &self.conventions)
    }

    /// How the Moon passes before the Sun, seen from a place at an instant.
    pub fn alignment(&self, site: &Site, tt: Tt) -> Alignment {
        let station = Station::new(site, &self.conventions);
        Alignment::of(&Snapshot::at(&self.elements, &station, tt), &station, &self.conventions)
    }

    /// The umbra on the ground at an instant, `None` while the axis misses the Earth.
    pub fn umbra(&self, tt: Tt) -> Option<Umbra> {
        umbra::umbra(self, tt)
    }

    /// Places on the edge of the umbra at a height above the ellipsoid, in order about the axis; fewer than asked for
    /// where the edge misses the Earth.
    pub fn umbra_outline(&self, tt: Tt, height_km: f64, points: usize) -> Vec<GeoPoint> {
        umbra::outline(self, tt, height_km, points)
    }

    /// Central line, limits, width and duration every so many seconds of UTC.
    pub fn path(&self, every_s: f64) -> Path {
        path::trace(self, every_s)
    }
}

/// How deep below the surface the generator of a cone passes that reaches furthest towards the Earth's centre: negative
/// where the whole cone misses.
fn deepest_generator(elements: &BesselianElements, surface: &Surface, cone: Cone, tt: Tt) -> f64 {
    const STEP_RAD: f64 = 0.02;
    let m = elements.at(tt);
    // Give or take the flattening.
    let inward = (-m.x.value).atan2(-m.y.value);
    let depth = |angle: f64| surface.depth(&m, &ShadowLine::generator(&m, cone, angle));
    let (best, at_best) = (-8..=8)
        .flat_map(|k| [inward + STEP_RAD * f64::from(k), inward + std::f64::consts::PI + STEP_RAD * f64::from(k)])
        .map(|angle| (angle, depth(angle)))
        .fold((inward, f64::NEG_INFINITY), |best, next| if next.1 > best.1 { next } else { best });
    // The top of the parabola through the best angle and its neighbours.
    let (before, after) = (depth(best - STEP_RAD), depth(best + STEP_RAD));
    let bend = 2.0 * at_best - before - after;
    if bend > 0.0 { at_best + (after - before).powi(2) / (8.0 * bend) } else { at_best }
}

/// Kind of the eclipse about its greatest instant, `None` if the penumbra misses the Earth.
fn kind_of(elements: &BesselianElements, surface: &Surface, greatest: Tt) -> Option<Kind> {
    let deepest = |cone: Cone, tt: Tt| deepest_generator(elements, surface, cone, tt);
    let reaches = |cone: Cone| {
        let top = highest(|tt| deepest(cone, tt), greatest, 2400.0);
        deepest(cone, top) > 0.0 || deepest(cone, greatest) > 0.0
    };
    if !reaches(Cone::Penumbra) {
        return None;
    }
    if !reaches(Cone::Umbra) {
        return Some(Kind::Partial);
    }
    // Total where the cone has not come to its tip at the ground.
    let total_at = |tt: Tt| {
        let m = elements.at(tt);
        let zeta = surface.nearest(&m, &ShadowLine::axis(&m)).fundamental[2];
        m.l2.value - zeta * m.tan_f2 < 0.0
    };
    let depth = |tt: Tt| {
        let m = elements.at(tt);
        surface.depth(&m, &ShadowLine::axis(&m))
    };
    let Some((first, last)) = span_of_positive(depth, greatest, REACH_S) else {
        return Some(if total_at(greatest) { Kind::Total } else { Kind::Annular });
    };
    const STEPS: usize = 32;
    let along = (0..=STEPS).map(|k| total_at(first.plus((last - first) * k as f64 / STEPS as f64)));
    let totals = along.chain([total_at(greatest)]).filter(|&total| total).count();
    Some(match totals {
        0 => Kind::Annular,
        n if n == STEPS + 2 => Kind::Total,
        _ => Kind::Hybrid,
    })
}
