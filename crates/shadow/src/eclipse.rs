//! An eclipse as a whole: found by its date, ready for any place.

use crate::catalogue::{self, CatalogueError};
use crate::central_line::{central_span, highest};
use crate::contacts::{Cone, Snapshot};
use crate::conventions::Conventions;
use crate::elements::{BesselianElements, ElementsError};
use crate::greatest::Greatest;
use crate::kind::Kind;
use crate::local_circumstances::{self, LocalCircumstances, QuickCircumstances};
use crate::path::{self, Path};
use crate::relation::Station;
use crate::site::Site;
use crate::surface::{ShadowLine, Surface};
use crate::umbra::{self, Umbra};
use crate::umbral_limits::{Side, limit};
use crate::view::View;
use chrono::NaiveDate;
use noonfall_ephemeris::{DeltaT, GeoPoint, Kernel, KernelError, Tt};

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
        let delta_t = delta_t.unwrap_or_else(|| DeltaT::for_instant(closest));
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

/// Kind of the eclipse about its greatest instant, `None` if the penumbra misses the Earth.
fn kind_of(elements: &BesselianElements, surface: &Surface, greatest: Tt) -> Option<Kind> {
    let deepest = |cone: Cone, tt: Tt| {
        let m = elements.at(tt);
        // The generator that reaches furthest towards the Earth's centre, give or take the flattening.
        let inward = (-m.x.value).atan2(-m.y.value);
        (-8..=8)
            .flat_map(|k| [inward + 0.02 * f64::from(k), inward + std::f64::consts::PI + 0.02 * f64::from(k)])
            .map(|angle| surface.depth(&m, &ShadowLine::generator(&m, cone, angle)))
            .fold(f64::NEG_INFINITY, f64::max)
    };
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
    let Some((first, last)) = crate::central_line::span_of_positive(depth, greatest, 4.0 * 3600.0) else {
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
