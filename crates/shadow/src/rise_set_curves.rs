//! Curves of the places that see the eclipse begin, be greatest or end just at sunrise or sunset.
//!
//! Together with the limits of the partial eclipse they bound the region in which anything of it can be seen. Every such
//! place lies on the terminator at the instant in question, so a curve is a line in two variables, time and angle about
//! the terminator: for beginning and end the line on which the edge of the penumbra passes over the place, for greatest
//! eclipse the line on which the separation of the centres is least. Where the penumbra's edge leaves the Earth the two
//! lobes of sunrise and sunset close; in an eclipse whose penumbra is never wholly on the Earth they are one. None of
//! this has to be told apart: it follows from the lines.
//!
//! Sunrise and sunset are those of the Sun's centre on the airless horizon of a place at sea level.

use crate::contacts::{Cone, Snapshot};
use crate::contour::{Grid, Line, Point, evenly};
use crate::eclipse::Eclipse;
use crate::geodesy::distance_km;
use crate::relation::Station;
use crate::site::Site;
use crate::surface::Surface;
use noonfall_ephemeris::{GeoPoint, Tt};
use std::f64::consts::TAU;
use std::fmt;

/// What happens just as the Sun is on the horizon.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum HorizonEvent {
    /// The partial eclipse begins (first contact).
    Begins,
    /// The separation of the centres is least.
    Maximum,
    /// The partial eclipse ends (fourth contact).
    Ends,
}

/// Which way the Sun crosses the horizon.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum HorizonCrossing {
    /// Upwards.
    Sunrise,
    /// Downwards.
    Sunset,
}

/// A part of the curves on which one thing happens.
#[derive(Clone, Debug, PartialEq)]
pub struct RiseSetCurve {
    /// What happens.
    pub event: HorizonEvent,
    /// At sunrise or at sunset.
    pub crossing: HorizonCrossing,
    /// The places, each with its instant.
    pub points: Vec<(Tt, GeoPoint)>,
}

impl fmt::Display for HorizonEvent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            HorizonEvent::Begins => "begins",
            HorizonEvent::Maximum => "maximum",
            HorizonEvent::Ends => "ends",
        })
    }
}

impl fmt::Display for HorizonCrossing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            HorizonCrossing::Sunrise => "sunrise",
            HorizonCrossing::Sunset => "sunset",
        })
    }
}

/// Distance of neighbouring points on the ground, km, at most about so much.
const SPACING_KM: f64 = 100.0;

/// Steps in time and round the terminator in which the lines are sought. A loop smaller than a cell (a penumbra that
/// stays on the terminator for less than two minutes) may be overlooked.
const TIME_STEP_S: f64 = 60.0;
const ANGLES: usize = 240;

/// The terminator and the shadow as functions of time and angle.
struct Horizon<'a> {
    eclipse: &'a Eclipse,
    surface: Surface,
}

impl Horizon<'_> {
    /// The place, the shadow over it, and the rate of the Sun's altitude, at `[seconds after the epoch, angle]`.
    fn at(&self, p: Point) -> (GeoPoint, Snapshot, f64) {
        let elements = self.eclipse.elements();
        let m = elements.at(self.instant(p));
        let (footprint, climbing) = self.surface.terminator(&m, p[0]);
        let station = Station::new(&Site::at_sea_level(footprint.point), self.eclipse.conventions());
        (footprint.point, Snapshot { relation: station.relation(&m), moment: m }, climbing)
    }

    fn instant(&self, p: Point) -> Tt {
        self.eclipse.elements().epoch().plus(p[1])
    }

    fn points(&self, line: &Line) -> Vec<(Tt, GeoPoint)> {
        let mut points: Vec<(Tt, GeoPoint)> = line.points.iter().map(|&p| (self.instant(p), self.at(p).0)).collect();
        if line.closed {
            points.extend(points.first().copied());
        }
        points
    }
}

/// All curves. Empty where the penumbra misses the Earth.
pub(crate) fn curves(eclipse: &Eclipse) -> Vec<RiseSetCurve> {
    const MARGIN_S: f64 = 3.0 * TIME_STEP_S;
    let Some((first, last)) = eclipse.penumbral_span() else { return Vec::new() };
    let horizon = Horizon { eclipse, surface: Surface::at_height(eclipse.conventions(), 0.0) };
    let epoch = eclipse.elements().epoch();
    let (from, to) = (first - epoch - MARGIN_S, last - epoch + MARGIN_S);
    let steps = ((to - from) / TIME_STEP_S).ceil() as usize;
    let mut angles = evenly(0.0, TAU, ANGLES + 1);
    angles.pop();
    let grid = Grid { x: angles, y: evenly(from, to, steps + 1), x_period: Some(TAU) };

    let outside = |p: Point| horizon.at(p).1.outside(Cone::Penumbra);
    let leaving = |p: Point| horizon.at(p).1.outside_half_rate(Cone::Penumbra);
    let widening = |p: Point| horizon.at(p).1.widening();
    let climbing = |p: Point| horizon.at(p).2;
    let far = |a: Point, b: Point| distance_km(horizon.at(a).0, horizon.at(b).0) > SPACING_KM;

    let mut curves = Vec::new();
    for line in grid.lines_at(&grid.sampled(outside), outside, 0.0) {
        let line = grid.refined(&line, outside, 0.0, far);
        for (event, event_sign) in [(HorizonEvent::Begins, -1.0), (HorizonEvent::Ends, 1.0)] {
            for part in grid.clipped(&line, outside, 0.0, |p| event_sign * leaving(p)) {
                for (crossing, sign) in [(HorizonCrossing::Sunrise, 1.0), (HorizonCrossing::Sunset, -1.0)] {
                    for piece in grid.clipped(&part, outside, 0.0, |p| sign * climbing(p)) {
                        curves.push(RiseSetCurve { event, crossing, points: horizon.points(&piece) });
                    }
                }
            }
        }
    }
    for line in grid.lines_at(&grid.sampled(widening), widening, 0.0) {
        for part in grid.clipped(&line, widening, 0.0, |p| -outside(p)) {
            let part = grid.refined(&part, widening, 0.0, far);
            for (crossing, sign) in [(HorizonCrossing::Sunrise, 1.0), (HorizonCrossing::Sunset, -1.0)] {
                for piece in grid.clipped(&part, widening, 0.0, |p| sign * climbing(p)) {
                    curves.push(RiseSetCurve {
                        event: HorizonEvent::Maximum,
                        crossing,
                        points: horizon.points(&piece),
                    });
                }
            }
        }
    }
    curves
}

impl Eclipse {
    /// Where the eclipse begins, is greatest or ends at sunrise or sunset.
    pub fn rise_set_curves(&self) -> Vec<RiseSetCurve> {
        curves(self)
    }
}
