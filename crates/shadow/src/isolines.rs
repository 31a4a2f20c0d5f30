//! Lines of equal duration, Sun's altitude, obscuration and time of maximum.
//!
//! Duration has a value inside the path only, a ribbon thousands of kilometres long; its lines are sought in coordinates
//! that follow the shadow: the instant, and the distance from the axis across its motion. The other quantities have a
//! value wherever the eclipse is seen at its maximum; their lines are sought over the whole globe. Either way every point
//! is a root of the exact circumstances of that place.

use crate::contacts::Cone;
use crate::contour::{Grid, Line, Point, evenly};
use crate::eclipse::Eclipse;
use crate::geodesy::distance_km;
use crate::penumbral_limits::{globe, place};
use crate::site::Site;
use crate::surface::{Footprint, ShadowLine, Surface};
use crate::umbral_limits::EdgeMotion;
use noonfall_ephemeris::{GeoPoint, Tt};
use std::fmt;
use std::str::FromStr;

/// What is equal along a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Seconds from second to third contact.
    Duration,
    /// Airless altitude of the Sun's centre at maximum, degrees.
    SunAltitude,
    /// Obscuration at maximum, 0 to 1.
    Obscuration,
    /// Instant of maximum, seconds of TT past J2000 as in [`Tt`].
    Maximum,
}

/// The lines of one value.
#[derive(Clone, Debug, PartialEq)]
pub struct Isoline {
    /// What is equal.
    pub quantity: Quantity,
    /// The value, in the unit of the quantity.
    pub value: f64,
    /// Lines on the ground at sea level; a closed one ends where it begins.
    pub lines: Vec<Vec<GeoPoint>>,
}

impl Quantity {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Quantity; 4] =
        [Quantity::Duration, Quantity::SunAltitude, Quantity::Obscuration, Quantity::Maximum];

    /// Short name, as an option has it.
    pub fn name(self) -> &'static str {
        match self {
            Quantity::Duration => "duration",
            Quantity::SunAltitude => "altitude",
            Quantity::Obscuration => "obscuration",
            Quantity::Maximum => "time",
        }
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for Quantity {
    type Err = String;

    fn from_str(text: &str) -> Result<Quantity, String> {
        let known = Quantity::ALL.into_iter().find(|quantity| quantity.name() == text);
        known.ok_or_else(|| format!("\"{text}\" has no isolines; give duration, altitude, obscuration or time"))
    }
}

/// Values that make a readable map: full minutes or half minutes of duration (ten seconds for a short central phase),
/// every ten degrees of altitude, obscuration in fifths and 0.9, every half hour of UTC.
pub(crate) fn usual_values(eclipse: &Eclipse, quantity: Quantity) -> Vec<f64> {
    match quantity {
        Quantity::Duration => {
            let longest_s = eclipse.greatest().central_duration_s.unwrap_or(0.0);
            let step_s = match longest_s {
                s if s > 360.0 => 60.0,
                s if s > 90.0 => 30.0,
                _ => 10.0,
            };
            (1..).map(|k| f64::from(k) * step_s).take_while(|&s| s < longest_s).collect()
        }
        Quantity::SunAltitude => (0..9).map(|k| f64::from(k) * 10.0).collect(),
        Quantity::Obscuration => vec![0.2, 0.4, 0.6, 0.8, 0.9],
        Quantity::Maximum => {
            const HALF_HOUR_MS: i64 = 1_800_000;
            let Some((first, last)) = eclipse.penumbral_span() else { return Vec::new() };
            let step = |tt: Tt| tt.to_utc().timestamp_millis().div_euclid(HALF_HOUR_MS);
            (step(first) + 1..=step(last))
                .filter_map(|k| chrono::DateTime::from_timestamp_millis(k * HALF_HOUR_MS))
                .map(|utc| Tt::from_utc(utc).0)
                .collect()
        }
    }
}

/// Lines of a quantity for each of the values; a value that is reached nowhere gives no lines.
pub(crate) fn isolines(eclipse: &Eclipse, quantity: Quantity, values: &[f64]) -> Vec<Isoline> {
    match quantity {
        Quantity::Duration => along_the_path(eclipse, values),
        _ => over_the_globe(eclipse, quantity, values),
    }
}

/// Distance of neighbouring points on the ground, km, at most about so much.
const SPACING_KM: f64 = 100.0;
const SPACING_IN_PATH_KM: f64 = 40.0;

fn ring(line: &Line, place: impl Fn(Point) -> GeoPoint) -> Vec<GeoPoint> {
    let mut points: Vec<GeoPoint> = line.points.iter().map(|&p| place(p)).collect();
    if line.closed {
        points.extend(points.first().copied());
    }
    points
}

fn over_the_globe(eclipse: &Eclipse, quantity: Quantity, values: &[f64]) -> Vec<Isoline> {
    const NODE_STEP_DEG: f64 = 1.0;
    let grid = globe(NODE_STEP_DEG);
    let value = |p: Point| {
        let site = Site::at_sea_level(place(p));
        match quantity {
            Quantity::SunAltitude => eclipse.quick(&site).sun_altitude_deg,
            Quantity::Maximum => eclipse.quick(&site).max.0,
            _ => {
                let max = eclipse.quick(&site).max;
                eclipse.view(&site, max).obscuration()
            }
        }
    };
    // Negative where there is no eclipse, or where its maximum is below the horizon.
    let seen = |p: Point| {
        let site = Site::at_sea_level(place(p));
        let view = eclipse.view(&site, eclipse.quick(&site).max);
        let reach = view.sun_radius_arcsec + view.moon_radius_exterior_arcsec;
        (1.0 - view.separation_arcsec / reach).min(view.sun_altitude_deg.to_radians())
    };
    // The Sun's altitude has a line of zero along the very edge of what is seen: any rounding would tear it.
    let edge = if quantity == Quantity::SunAltitude { 1e-9 } else { 0.0 };
    let far = |a: Point, b: Point| distance_km(place(a), place(b)) > SPACING_KM;
    let samples = grid.sampled(value);
    let lines = |level: f64| {
        let whole = grid.lines_at(&samples, value, level);
        let parts = whole.iter().flat_map(|line| grid.clipped(line, value, level, |p| seen(p) + edge));
        parts.map(|part| ring(&grid.refined(&part, value, level, far), place)).collect()
    };
    values.iter().map(|&value| Isoline { quantity, value, lines: lines(value) }).collect()
}

/// Coordinates that follow the shadow: seconds after the epoch, and Earth radii to the right of the axis' motion.
struct Ribbon<'a> {
    eclipse: &'a Eclipse,
    surface: Surface,
}

impl Ribbon<'_> {
    /// The line parallel to the axis, and the place where it meets the ground, or comes nearest to it.
    fn at(&self, p: Point) -> (f64, Footprint) {
        let m = self.eclipse.elements().at(self.eclipse.elements().epoch().plus(p[0]));
        let axis = ShadowLine::axis(&m);
        let start = self.surface.nearest(&m, &axis).fundamental;
        let heading = EdgeMotion::at(&m, Cone::Umbra, start).heading_rad();
        let line = axis.beside(p[1] * heading.cos(), -p[1] * heading.sin());
        (self.surface.depth(&m, &line), self.surface.nearest(&m, &line))
    }

    fn place(&self, p: Point) -> GeoPoint {
        self.at(p).1.point
    }
}

fn along_the_path(eclipse: &Eclipse, values: &[f64]) -> Vec<Isoline> {
    const TIME_STEP_S: f64 = 60.0;
    const ROWS: usize = 41;
    const MARGIN_S: f64 = 30.0;
    let none =
        || values.iter().map(|&value| Isoline { quantity: Quantity::Duration, value, lines: Vec::new() }).collect();
    let ribbon = Ribbon { eclipse, surface: Surface::at_height(eclipse.conventions(), 0.0) };
    let Some((first, last)) = eclipse.path_span() else { return none() };
    let epoch = eclipse.elements().epoch();
    let (from, to) = (first - epoch - MARGIN_S, last - epoch + MARGIN_S);
    let steps = ((to - from) / TIME_STEP_S).ceil() as usize;
    // Closest together near both ends, where the shadow runs fastest over the ground.
    let (middle, reach) = (0.5 * (from + to), 0.5 * (to - from));
    let times: Vec<f64> =
        evenly(0.0, std::f64::consts::PI, 2 * steps).into_iter().map(|angle| middle - reach * angle.cos()).collect();
    // A fifth wider than the umbra is anywhere on its way.
    let half = times.iter().map(|&s| {
        let m = eclipse.elements().at(epoch.plus(s));
        let zeta = ribbon.surface.nearest(&m, &ShadowLine::axis(&m)).fundamental[2];
        (m.l2.value - zeta * m.tan_f2).abs()
    });
    let half = 1.2 * half.fold(0.0, f64::max);
    let grid = Grid { x: times, y: evenly(-half, half, ROWS), x_period: None };
    let duration_s = |p: Point| eclipse.quick(&Site::at_sea_level(ribbon.place(p))).duration_s;
    let seen = |p: Point| {
        let (depth, footprint) = ribbon.at(p);
        depth.min(eclipse.quick(&Site::at_sea_level(footprint.point)).sun_altitude_deg.to_radians())
    };
    let far = |a: Point, b: Point| distance_km(ribbon.place(a), ribbon.place(b)) > SPACING_IN_PATH_KM;
    let samples = grid.sampled(duration_s);
    let lines = |level: f64| {
        let whole = grid.lines_at(&samples, duration_s, level);
        let parts = whole.iter().flat_map(|line| grid.clipped(line, duration_s, level, seen));
        parts.map(|part| ring(&grid.refined(&part, duration_s, level, far), |p| ribbon.place(p))).collect()
    };
    values
        .iter()
        // The limits themselves are where the duration is nought.
        .map(|&value| Isoline {
            quantity: Quantity::Duration,
            value,
            lines: if value > 0.0 { lines(value) } else { Vec::new() },
        })
        .collect()
}

impl Eclipse {
    /// Lines of equal duration, altitude, obscuration or time of maximum, for values in the unit of the quantity. A value
    /// that is reached nowhere gives no lines.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// use noonfall_shadow::isolines::Quantity;
    /// // Five minutes of totality are had somewhere (5 min 10 s at most: NASA/TP-2006-214141), six nowhere.
    /// let lines = eclipse.isolines(Quantity::Duration, &[300.0, 360.0]);
    /// assert!(!lines[0].lines.is_empty() && lines[1].lines.is_empty());
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn isolines(&self, quantity: Quantity, values: &[f64]) -> Vec<Isoline> {
        isolines(self, quantity, values)
    }

    /// Values for which isolines make a readable map.
    pub fn usual_isoline_values(&self, quantity: Quantity) -> Vec<f64> {
        usual_values(self, quantity)
    }
}
