//! An eclipse as a whole: found by its date, ready for any place.

use crate::contacts::{Cone, Snapshot};
use crate::conventions::Conventions;
use crate::elements::{BesselianElements, ElementsError};
use crate::greatest::Greatest;
use crate::kind::Kind;
use crate::relation::Station;
use crate::roots::{edges_of_positive, highest, span_of_positive};
use crate::site::Site;
use crate::surface::{ShadowLine, Surface};
use crate::view::View;
use chrono::NaiveDate;
use noonfall_ephemeris::{DeltaT, Kernel, KernelError, Tt};

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

    /// The sky of Sun and Moon from a place at an instant.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// let sydney = Site::new(-33.87, 151.21, 0.0).unwrap();
    /// // The Sun's radius near aphelion is 945″.
    /// let seen = eclipse.view(&sydney, eclipse.quick(&sydney).max);
    /// assert!((seen.sun_radius_arcsec - 944.6).abs() < 1.0 && seen.above_horizon());
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn view(&self, site: &Site, tt: Tt) -> View {
        let station = Station::new(site, &self.conventions);
        View::of(&Snapshot::at(&self.elements, &station, tt), &station, &self.conventions)
    }

    /// First and last instant at which the penumbra touches the Earth: the partial eclipse begins and ends there.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2017-08-21".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// // NASA's circular of that eclipse: 15:46:48 to 21:04:19 UT (from memory).
    /// let (begins, ends) = eclipse.penumbral_span().unwrap();
    /// assert!((ends - begins - 19_051.0).abs() < 10.0);
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn penumbral_span(&self) -> Option<(Tt, Tt)> {
        let surface = Surface::at_height(&self.conventions, 0.0);
        let depth = |tt: Tt| deepest_generator(&self.elements, &surface, Cone::Penumbra, tt);
        // At greatest eclipse the penumbra is on the Earth, but for the barest contact, which the flattening may shift.
        let inside = self.greatest.tt;
        let inside = if depth(inside) > 0.0 { inside } else { highest(depth, inside, 2400.0) };
        (depth(inside) > 0.0).then(|| edges_of_positive(depth, inside, REACH_S))
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
