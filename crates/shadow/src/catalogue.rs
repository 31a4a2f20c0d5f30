//! All eclipses of a span of years.
//!
//! Every new moon is tried: from the mean new moon (Meeus, Astronomical Algorithms, ch. 49) the instant at which the
//! shadow axis is closest to the Earth's centre is found from the ephemeris; where it is close enough for the penumbra,
//! the elements are made and the kind is decided.

use crate::conventions::Conventions;
use crate::eclipse::{Eclipse, EclipseError};
use crate::elements::ElementsError;
use crate::geodesy::distance_to_line_km;
use crate::kind::Kind;
use crate::site::Site;
use chrono::{Datelike, NaiveDate};
use noonfall_ephemeris::vector::{cross, dot, norm, scale, sub, unit};
use noonfall_ephemeris::{Body, DeltaT, EARTH_RADIUS_KM, GeoPoint, Kernel, KernelError, Tt, apparent};
use rayon::prelude::*;

/// Mean length of a lunation, seconds.
const LUNATION_S: f64 = 29.530_588_861 * 86_400.0;

/// Mean new moon of January 2000 (JDE 2 451 550.097 66), seconds past J2000.
const FIRST_NEW_MOON_S: f64 = 5.097_66 * 86_400.0;

/// Beyond this distance of the axis from the Earth's centre, Earth radii, the penumbra cannot reach: its radius is at
/// most 0.58 and the Earth's 1.
const FURTHEST: f64 = 1.6;

/// Why a span could not be listed.
#[derive(Debug, thiserror::Error)]
pub enum CatalogueError {
    /// The kernel does not cover it.
    #[error(transparent)]
    Kernel(#[from] KernelError),
    /// Elements could not be made.
    #[error(transparent)]
    Elements(#[from] ElementsError),
}

/// All eclipses whose greatest phase falls (in UTC) from 1 January of the first year to 31 December of the last, in
/// order of time. Work is spread over the threads of the current pool.
///
/// # Errors
/// [`CatalogueError`] if the kernel does not cover the span.
/// ```
/// use noonfall_ephemeris::Kernel;
/// use noonfall_shadow::{Conventions, catalogue};
/// // 2028: an annular eclipse in January and a total one in July.
/// let found = catalogue::list(Kernel::embedded(), 2028, 2028, None, &Conventions::default())?;
/// let dates: Vec<String> = found.iter().map(|eclipse| format!("{} {}", eclipse.date(), eclipse.kind())).collect();
/// assert_eq!(dates, ["2028-01-26 annular", "2028-07-22 total"]);
/// # Ok::<(), catalogue::CatalogueError>(())
/// ```
pub fn list(
    kernel: &Kernel,
    from_year: i32,
    to_year: i32,
    delta_t: Option<&DeltaT>,
    conventions: &Conventions,
) -> Result<Vec<Eclipse>, CatalogueError> {
    let start = Tt::from_calendar(from_year, 1, 1, 0.0);
    let end = Tt::from_calendar(to_year, 12, 31, 24.0);
    let first = lunation_of(start) - 1;
    let last = lunation_of(end) + 1;
    // Kept one by one, so that the earliest fault is told, whichever thread is first.
    let found: Vec<Result<Option<Eclipse>, CatalogueError>> = (first..=last)
        .into_par_iter()
        .map(|lunation| {
            // A lunation that starts well outside the span may lie outside the kernel too.
            let mean = mean_new_moon(lunation);
            if mean < start.plus(-86_400.0) || mean > end.plus(86_400.0) {
                return Ok(None);
            }
            eclipse_of(kernel, lunation, delta_t.cloned(), conventions)
        })
        .collect();
    let found: Vec<Option<Eclipse>> = found.into_iter().collect::<Result<_, _>>()?;
    let mut eclipses: Vec<Eclipse> =
        found.into_iter().flatten().filter(|eclipse| (from_year..=to_year).contains(&eclipse.date().year())).collect();
    eclipses.sort_by(|a, b| a.greatest().tt.0.total_cmp(&b.greatest().tt.0));
    Ok(eclipses)
}

/// Whether the path of the central phase passes within a distance of a place, the Sun being up there.
///
/// # Units
/// Kilometres on the ellipsoid.
/// ```
/// # use noonfall_ephemeris::Kernel;
/// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
/// # let date = "2028-07-22".parse().unwrap();
/// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
/// use noonfall_ephemeris::GeoPoint;
/// use noonfall_shadow::catalogue::passes_near;
/// // Sydney lies in the path, Melbourne 300 km from it.
/// let melbourne = GeoPoint { lat_deg: -37.81, lon_deg: 144.96 };
/// assert!(passes_near(&eclipse, GeoPoint { lat_deg: -33.87, lon_deg: 151.21 }, 0.0));
/// assert!(!passes_near(&eclipse, melbourne, 100.0) && passes_near(&eclipse, melbourne, 700.0));
/// # Ok::<(), EclipseError>(())
/// ```
pub fn passes_near(eclipse: &Eclipse, place: GeoPoint, within_km: f64) -> bool {
    let local = eclipse.local(&Site::at_sea_level(place));
    if local.phase.is_central() && local.max.is_some_and(|max| max.above_horizon) {
        return true;
    }
    // Magnitude falls by one over some 3500 km across the path; far away no path need be traced.
    if local.magnitude < 0.85 - within_km / 1500.0 {
        return false;
    }
    let path = eclipse.path(30.0);
    let lines = [&path.north_limit, &path.central_line, &path.south_limit];
    lines.into_iter().any(|line| distance_to_line_km(place, line) <= within_km)
}

/// The eclipse of a UTC date, if there is one.
pub(crate) fn eclipse_on(
    kernel: &Kernel,
    date: NaiveDate,
    delta_t: Option<DeltaT>,
    conventions: &Conventions,
) -> Result<Option<Eclipse>, CatalogueError> {
    let noon = Tt::from_calendar(date.year(), date.month(), date.day(), 12.0);
    let lunation = lunation_of(noon);
    // The true new moon lies within 15 hours of the mean one.
    if (mean_new_moon(lunation) - noon).abs() > 2.0 * 86_400.0 {
        // Still make sure that the kernel covers the date, so that a bad kernel is not reported as "no eclipse".
        kernel.state(Body::Moon, noon)?;
        return Ok(None);
    }
    let eclipse = eclipse_of(kernel, lunation, delta_t, conventions)?;
    Ok(eclipse.filter(|e| e.date() == date))
}

/// The eclipses before and after a date, as far as the kernel reaches.
pub(crate) fn nearest(kernel: &Kernel, date: NaiveDate, conventions: &Conventions) -> Vec<(NaiveDate, Kind)> {
    let noon = Tt::from_calendar(date.year(), date.month(), date.day(), 12.0);
    let lunation = lunation_of(noon);
    let look = |steps: &mut dyn Iterator<Item = i64>, wanted: &dyn Fn(NaiveDate) -> bool| {
        steps
            .filter_map(|l| eclipse_of(kernel, l, None, conventions).ok().flatten())
            .map(|e| (e.date(), e.kind()))
            .find(|&(d, _)| wanted(d))
    };
    let before = look(&mut (lunation - 9..=lunation + 1).rev(), &|d| d < date);
    let after = look(&mut (lunation - 1..=lunation + 9), &|d| d > date);
    before.into_iter().chain(after).collect()
}

/// Number of the mean new moon nearest to an instant, counted from January 2000.
fn lunation_of(tt: Tt) -> i64 {
    ((tt.0 - FIRST_NEW_MOON_S) / LUNATION_S).round() as i64
}

/// Mean new moon. Its own drift over two centuries is minutes and does not matter: the search starts from here.
fn mean_new_moon(lunation: i64) -> Tt {
    Tt(FIRST_NEW_MOON_S + lunation as f64 * LUNATION_S)
}

fn eclipse_of(
    kernel: &Kernel,
    lunation: i64,
    delta_t: Option<DeltaT>,
    conventions: &Conventions,
) -> Result<Option<Eclipse>, CatalogueError> {
    match closest_approach(kernel, mean_new_moon(lunation))? {
        Some(closest) => Ok(Eclipse::about(kernel, closest, delta_t, conventions)?),
        None => Ok(None),
    }
}

/// The instant near a mean new moon at which the shadow axis is closest to the Earth's centre, `None` if it stays too
/// far away for an eclipse.
fn closest_approach(kernel: &Kernel, near: Tt) -> Result<Option<Tt>, KernelError> {
    let mut tt = near;
    let mut distance = f64::INFINITY;
    for _ in 0..20 {
        let earth = kernel.state(Body::Earth, tt)?;
        let sun = apparent::from_earth_at(kernel, Body::Sun, tt, &earth)?;
        let moon = apparent::from_earth_at(kernel, Body::Moon, tt, &earth)?;
        // The axis passes the Earth's centre at `across`; the Moon carries it along, the Sun turns it slowly.
        let from_moon = sub(sun.position_km, moon.position_km);
        let axis = unit(from_moon);
        let rate = scale(sub(sun.velocity_km_s, moon.velocity_km_s), 1.0 / norm(from_moon));
        let axis_rate = sub(rate, scale(axis, dot(rate, axis)));
        let along = dot(moon.position_km, axis);
        let across = sub(moon.position_km, scale(axis, along));
        let moved = sub(moon.velocity_km_s, scale(axis_rate, along));
        let across_rate = sub(moved, scale(axis, dot(moved, axis)));
        distance = norm(cross(moon.position_km, axis)) / EARTH_RADIUS_KM;
        let step = -dot(across, across_rate) / dot(across_rate, across_rate);
        // The straight-line estimate is good near the Earth only; from afar go in measured steps.
        tt = tt.plus(step.clamp(-43_200.0, 43_200.0));
        if step.abs() < 1e-3 {
            break;
        }
    }
    Ok((distance < FURTHEST).then_some(tt))
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
        match eclipse_on(kernel, date, delta_t, conventions) {
            Ok(Some(eclipse)) => Ok(eclipse),
            Ok(None) => Err(EclipseError::NoEclipse { date, nearest: nearest(kernel, date, conventions) }),
            Err(CatalogueError::Kernel(error)) => Err(error.into()),
            Err(CatalogueError::Elements(error)) => Err(error.into()),
        }
    }
}
