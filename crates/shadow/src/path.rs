//! The path of the central phase over the ground: central line, limits, width, and the area between.

use crate::central_line::{central_point, central_span, ground_motion};
use crate::contacts::{Cone, Snapshot, least_separation, sweep};
use crate::eclipse::Eclipse;
use crate::geodesy::{destination, distance_km};
use crate::kind::{Kind, Phase};
use crate::relation::Station;
use crate::roots::{bisected, falling_edge, highest, span_of_positive};
use crate::site::Site;
use crate::surface::{ShadowLine, Surface};
use crate::umbral_limits::{EdgeMotion, Side, limit};
use crate::view::View;
use noonfall_ephemeris::vector::{Vec3, norm, sub};
use noonfall_ephemeris::{GeoPoint, Tt};

/// The path at one instant.
#[derive(Clone, Debug, PartialEq)]
pub struct PathPoint {
    /// The instant.
    pub tt: Tt,
    /// The place under the axis.
    pub central: Option<GeoPoint>,
    /// The point of the northern limit whose maximum eclipse is now.
    pub north: Option<GeoPoint>,
    /// The point of the southern limit whose maximum eclipse is now.
    pub south: Option<GeoPoint>,
    /// Distance from limit to limit on the ground, at right angles to the path through the central point, km. `None`
    /// where one of them lies beyond the horizon of the Sun.
    pub width_km: Option<f64>,
    /// Seconds from second to third contact at the central point.
    pub duration_s: Option<f64>,
    /// Total or annular at the central point.
    pub phase: Option<Phase>,
    /// Apparent diameter of the Moon over the Sun's, at the central point or the place nearest to the axis.
    pub size_ratio: f64,
    /// Airless altitude of the Sun's centre there, degrees.
    pub sun_altitude_deg: f64,
    /// The same with refraction.
    pub sun_apparent_altitude_deg: f64,
    /// Azimuth of the Sun's centre there, degrees.
    pub sun_azimuth_deg: f64,
}

/// The path as a whole.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    /// Instants in order: the ends exactly, and every full step of UTC between.
    pub points: Vec<PathPoint>,
    /// The central line, in order of time, denser than `points` where it must be; empty where the axis misses the Earth.
    pub central_line: Vec<GeoPoint>,
    /// The northern limit, in order of time; empty where there is none.
    pub north_limit: Vec<GeoPoint>,
    /// The southern limit, in order of time; empty where there is none.
    pub south_limit: Vec<GeoPoint>,
    /// Closes the path where the shadow arrives on the Earth: places that see one instant of the central phase on the
    /// horizon. Empty where the path has one limit only.
    pub arrival_end: Vec<GeoPoint>,
    /// The same where the shadow leaves the Earth; with one limit only, all of the horizon's side of the path.
    pub departure_end: Vec<GeoPoint>,
    /// The whole ground from which any of the central phase can be seen above a level horizon: a closed ring.
    pub polygon: Vec<GeoPoint>,
    /// Points of the central line at which a hybrid eclipse changes between annular and total.
    pub changes: Vec<(Tt, GeoPoint)>,
}

/// First and last instant at which a limit or the central line has a point.
pub(crate) fn span(eclipse: &Eclipse) -> Option<(Tt, Tt)> {
    if eclipse.kind() == Kind::Partial {
        return None;
    }
    let surface = Surface::at_height(eclipse.conventions(), 0.0);
    whole(&[
        limit_span(eclipse, &surface, Side::North),
        limit_span(eclipse, &surface, Side::South),
        central_span(eclipse),
    ])
}

/// From the earliest beginning to the latest end.
fn whole(spans: &[Option<(Tt, Tt)>]) -> Option<(Tt, Tt)> {
    spans.iter().flatten().copied().reduce(|(a, b), (c, d)| (if c < a { c } else { a }, if d > b { d } else { b }))
}

/// Traces the path. Empty for a partial eclipse.
pub(crate) fn trace(eclipse: &Eclipse, every_s: f64) -> Path {
    if eclipse.kind() == Kind::Partial {
        return Path::default();
    }
    let every_s = if every_s.is_finite() { every_s.clamp(0.1, 7200.0) } else { 60.0 };
    let surface = Surface::at_height(eclipse.conventions(), 0.0);
    let side_span = |side: Side| limit_span(eclipse, &surface, side);
    let (north_span, south_span) = (side_span(Side::North), side_span(Side::South));
    let central = central_span(eclipse);
    let spans = [north_span, south_span, central];
    let Some((first, last)) = whole(&spans) else { return Path::default() };

    let within = |span: Option<(Tt, Tt)>, tt: Tt| span.is_some_and(|(a, b)| a <= tt && tt <= b);
    let mut instants = full_steps(first, last, every_s);
    instants.extend(spans.iter().flatten().flat_map(|&(a, b)| [a, b]));
    instants.sort_by(|a, b| a.0.total_cmp(&b.0));
    instants.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-6);

    let mut path = Path::default();
    for &tt in &instants {
        let m = eclipse.elements().at(tt);
        let on = |span, side| {
            if within(span, tt) { limit(&surface, &m, Cone::Umbra, side).map(|(f, _)| f.point) } else { None }
        };
        path.points.push(path_point(eclipse, tt, on(north_span, Side::North), on(south_span, Side::South)));
    }
    let limit_at = |side: Side, tt: Tt| {
        limit(&surface, &eclipse.elements().at(tt), Cone::Umbra, side).map(|(footprint, _)| footprint.point)
    };
    path.central_line = smooth(&path.points, |p| p.central, |tt| central_point(eclipse, tt));
    path.north_limit = smooth(&path.points, |p| p.north, |tt| limit_at(Side::North, tt));
    path.south_limit = smooth(&path.points, |p| p.south, |tt| limit_at(Side::South, tt));
    path.changes = changes(eclipse, central);
    close(&mut path, eclipse, &surface, north_span, south_span);
    path
}

/// A line through its points of the path, with further points where the shadow runs so fast (near sunrise and sunset)
/// that straight pieces would cut corners.
fn smooth(
    points: &[PathPoint],
    of: impl Fn(&PathPoint) -> Option<GeoPoint>,
    at: impl Fn(Tt) -> Option<GeoPoint>,
) -> Vec<GeoPoint> {
    /// Chords longer than this, km, are halved in time: straight in longitude and latitude they would stray by some
    /// hundreds of metres.
    const LONGEST_KM: f64 = 100.0;
    const MOST_HALVINGS: usize = 12;
    let known: Vec<(Tt, GeoPoint)> = points.iter().filter_map(|p| Some((p.tt, of(p)?))).collect();
    let mut line: Vec<GeoPoint> = known.first().map(|&(_, point)| point).into_iter().collect();
    let mut waiting = Vec::new();
    for pair in known.windows(2) {
        waiting.push((pair[0], pair[1], 0));
        while let Some((a, b, depth)) = waiting.pop() {
            let halve = depth < MOST_HALVINGS && distance_km(a.1, b.1) > LONGEST_KM;
            let middle = Tt(0.5 * (a.0.0 + b.0.0));
            if let Some(point) = halve.then(|| at(middle)).flatten() {
                waiting.push(((middle, point), b, depth + 1));
                waiting.push((a, (middle, point), depth + 1));
            } else {
                line.push(b.1);
            }
        }
    }
    line
}

/// Full steps of the UTC clock strictly between two instants.
fn full_steps(first: Tt, last: Tt, every_s: f64) -> Vec<Tt> {
    let offset = first.to_utc().timestamp_millis() as f64 / 1000.0 - first.0;
    let from = ((first.0 + offset) / every_s).ceil() as i64;
    let to = ((last.0 + offset) / every_s).floor() as i64;
    (from..=to).map(|k| Tt(k as f64 * every_s - offset)).collect()
}

fn path_point(eclipse: &Eclipse, tt: Tt, north: Option<GeoPoint>, south: Option<GeoPoint>) -> PathPoint {
    let m = eclipse.elements().at(tt);
    let surface = Surface::at_height(eclipse.conventions(), 0.0);
    let axis = ShadowLine::axis(&m);
    let central = surface.meet(&m, &axis).map(|f| f.point);
    let place = central.or(north).or(south).unwrap_or_else(|| surface.nearest(&m, &axis).point);
    let station = Station::new(&Site::at_sea_level(place), eclipse.conventions());
    let view = View::of(&Snapshot::at(eclipse.elements(), &station, tt), &station, eclipse.conventions());
    let quick = central.map(|point| eclipse.quick(&Site::at_sea_level(point)));
    PathPoint {
        tt,
        central,
        north,
        south,
        width_km: central.and_then(|point| width_across(eclipse, tt, point)),
        duration_s: quick.map(|q| q.duration_s),
        phase: quick.map(|q| q.phase),
        size_ratio: view.size_ratio(),
        sun_altitude_deg: view.sun_altitude_deg,
        sun_apparent_altitude_deg: view.sun_apparent_altitude_deg,
        sun_azimuth_deg: view.sun_azimuth_deg,
    }
}

/// How deep a place lies inside the path, Earth radii in the shadow plane: positive inside, zero at a limit.
fn depth_in_path(eclipse: &Eclipse, point: GeoPoint) -> f64 {
    let station = Station::new(&Site::at_sea_level(point), eclipse.conventions());
    let elements = eclipse.elements();
    let near = least_separation(elements, &station);
    let deepest = sweep(elements, &station, Cone::Umbra, near).map_or(near, |s| s.deepest);
    let s = Snapshot::at(elements, &station, deepest);
    s.radius(Cone::Umbra).0.abs() - s.relation.distance()
}

/// Distance from limit to limit along the geodesic at right angles to the path.
fn width_across(eclipse: &Eclipse, tt: Tt, centre: GeoPoint) -> Option<f64> {
    let (azimuth, _) = ground_motion(eclipse, tt)?;
    let half = |turn: f64| {
        let bearing = azimuth + turn;
        let outside = |km: f64| -depth_in_path(eclipse, destination(centre, bearing, km));
        let mut reach = 150.0;
        while outside(reach) < 0.0 {
            reach *= 1.6;
            if reach > 4000.0 {
                return None;
            }
        }
        let km = falling_edge(outside, reach);
        // A limit on the far side of the terminator is no limit of what can be seen.
        let sun = eclipse.quick(&Site::at_sea_level(destination(centre, bearing, km))).sun_altitude_deg;
        (sun > -1.0).then_some(km)
    };
    Some(half(90.0)? + half(-90.0)?)
}

/// First and last instant at which a limit has a point.
fn limit_span(eclipse: &Eclipse, surface: &Surface, side: Side) -> Option<(Tt, Tt)> {
    // How far below the surface the limit's generator passes; where there is no limit, how far the nearest one misses.
    let depth = |tt: Tt| {
        let m = eclipse.elements().at(tt);
        if let Some((_, angle)) = limit(surface, &m, Cone::Umbra, side) {
            return surface.depth(&m, &ShadowLine::generator(&m, Cone::Umbra, angle)).max(1e-15);
        }
        let start = surface.nearest(&m, &ShadowLine::axis(&m)).fundamental;
        let motion = EdgeMotion::at(&m, Cone::Umbra, start);
        let total = m.l2.value - start[2] * m.tan_f2 < 0.0;
        let turn = if (side == Side::North) == total { -1.0 } else { 1.0 };
        let angle = motion.heading_rad() + turn * std::f64::consts::FRAC_PI_2;
        surface.depth(&m, &ShadowLine::generator(&m, Cone::Umbra, angle)).min(-1e-15)
    };
    span_of_positive(depth, eclipse.greatest().tt, 4.0 * 3600.0)
}

/// Where the kind changes along the central line.
fn changes(eclipse: &Eclipse, central: Option<(Tt, Tt)>) -> Vec<(Tt, GeoPoint)> {
    let Some((first, last)) = central.filter(|_| eclipse.kind() == Kind::Hybrid) else { return Vec::new() };
    let radius = |tt: Tt| {
        let m = eclipse.elements().at(tt);
        let surface = Surface::at_height(eclipse.conventions(), 0.0);
        m.l2.value - surface.nearest(&m, &ShadowLine::axis(&m)).fundamental[2] * m.tan_f2
    };
    let top = highest(|tt| -radius(tt), eclipse.greatest().tt, 0.5 * (last - first));
    let mut found = Vec::new();
    for (end, inner) in [(first, top), (last, top)] {
        if (radius(end) > 0.0) == (radius(inner) > 0.0) {
            continue;
        }
        let at_end = radius(end) > 0.0;
        let (a, _) = bisected(|tt| (radius(Tt(tt)) > 0.0) == at_end, end.0, inner.0, 50);
        if let Some(point) = central_point(eclipse, Tt(a)) {
            found.push((Tt(a), point));
        }
    }
    found
}

/// A place on the horizon line at which the central phase touches sunrise or sunset with one instant only.
struct HorizonPoint {
    tt: Tt,
    point: GeoPoint,
}

/// Closes the path where the Sun stands on the horizon.
///
/// The edge of the umbra crosses the horizon line where a generator touches the ellipsoid. Such a place bounds the path
/// if the Sun rises there just as the central phase ends, or sets just as it begins; the other crossings lie inside.
fn close(
    path: &mut Path,
    eclipse: &Eclipse,
    surface: &Surface,
    north_span: Option<(Tt, Tt)>,
    south_span: Option<(Tt, Tt)>,
) {
    const STEP_S: f64 = 0.25;
    const MARGIN_S: f64 = 900.0;
    let spans = || [north_span, south_span].into_iter().flatten();
    let first = spans().map(|s| s.0.0).fold(f64::INFINITY, f64::min);
    let last = spans().map(|s| s.1.0).fold(f64::NEG_INFINITY, f64::max);
    if first > last {
        return;
    }
    let mut horizon: Vec<HorizonPoint> = Vec::new();
    let mut tt = Tt(first - MARGIN_S);
    while tt.0 < last + MARGIN_S {
        let found = horizon_points(eclipse, surface, tt);
        // Far from the ends the umbra is wholly on the Earth: hurry there.
        tt = tt.plus(if found.is_empty() { 5.0 } else { STEP_S });
        horizon.extend(found);
    }
    match common_middle(north_span, south_span) {
        Some(middle) => {
            // While both limits have a point the umbra is wholly on the Earth: the two ends are apart in time.
            let pick = |arriving: bool| -> Vec<GeoPoint> {
                horizon.iter().filter(|h| (h.tt < middle) == arriving).map(|h| h.point).collect()
            };
            let (north, south) = (&path.north_limit, &path.south_limit);
            path.departure_end = ordered(&pick(false), north.last().copied(), south.last().copied());
            path.arrival_end = ordered(&pick(true), south.first().copied(), north.first().copied());
            path.polygon.extend(&path.north_limit);
            path.polygon.extend(&path.departure_end);
            path.polygon.extend(path.south_limit.iter().rev());
            path.polygon.extend(&path.arrival_end);
        }
        None => {
            let limit: Vec<GeoPoint> = path.north_limit.iter().chain(&path.south_limit).copied().collect();
            let all: Vec<GeoPoint> = horizon.iter().map(|h| h.point).collect();
            path.departure_end = ordered(&all, limit.last().copied(), limit.first().copied());
            path.polygon.extend(&limit);
            path.polygon.extend(&path.departure_end);
        }
    }
    if let Some(&start) = path.polygon.first() {
        path.polygon.push(start);
    }
}

/// The middle of the time in which both limits have a point, if there is such a time.
fn common_middle(north: Option<(Tt, Tt)>, south: Option<(Tt, Tt)>) -> Option<Tt> {
    let ((a, b), (c, d)) = (north?, south?);
    let (from, to) = (a.0.max(c.0), b.0.min(d.0));
    (from < to).then_some(Tt(0.5 * (from + to)))
}

/// Points in order along their curve, which runs from one given end towards the other: each time on to the nearest that is
/// left, begun at whichever end gives the shorter way in all.
///
/// Neither the angle about the Earth nor the time runs evenly along such a curve: the ground turns below the shadow, and a
/// curve is met from both ends at once.
fn ordered(points: &[GeoPoint], from: Option<GeoPoint>, to: Option<GeoPoint>) -> Vec<GeoPoint> {
    let (Some(from), Some(to)) = (from.or(to), to.or(from)) else { return points.to_vec() };
    let (forth, forth_km) = chained(points, from, to);
    let (mut back, back_km) = chained(points, to, from);
    if forth_km <= back_km {
        return forth;
    }
    back.reverse();
    back
}

/// The points from nearest to nearest, and the length of the way from `from` through all of them to `to`, in radians or so.
fn chained(points: &[GeoPoint], from: GeoPoint, to: GeoPoint) -> (Vec<GeoPoint>, f64) {
    let apart = |a: Vec3, b: Vec3| norm(sub(a, b));
    let mut left: Vec<(GeoPoint, Vec3)> = points.iter().map(|&p| (p, p.direction())).collect();
    let (mut here, mut length) = (from.direction(), 0.0);
    let mut line = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let distances = left.iter().map(|(_, d)| apart(here, *d)).enumerate();
        let (nearest, step) = distances.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0, 0.0));
        let (point, there) = left.swap_remove(nearest);
        (here, length) = (there, length + step);
        line.push(point);
    }
    (line, length + apart(here, to.direction()))
}

fn horizon_points(eclipse: &Eclipse, surface: &Surface, tt: Tt) -> Vec<HorizonPoint> {
    const DIRECTIONS: usize = 48;
    let m = eclipse.elements().at(tt);
    let depth = |angle: f64| surface.depth(&m, &ShadowLine::generator(&m, Cone::Umbra, angle));
    let angle_of = |k: usize| std::f64::consts::TAU * k as f64 / DIRECTIONS as f64;
    let depths: Vec<f64> = (0..DIRECTIONS).map(|k| depth(angle_of(k))).collect();
    let mut found = Vec::new();
    for k in 0..DIRECTIONS {
        let (here, next) = (depths[k], depths[(k + 1) % DIRECTIONS]);
        if (here > 0.0) == (next > 0.0) {
            continue;
        }
        let (a, b) = bisected(|angle| (depth(angle) > 0.0) == (here > 0.0), angle_of(k), angle_of(k + 1), 45);
        let angle = 0.5 * (a + b);
        let footprint = surface.nearest(&m, &ShadowLine::generator(&m, Cone::Umbra, angle));
        let [xi, eta, zeta] = footprint.fundamental;
        let motion = EdgeMotion::at(&m, Cone::Umbra, footprint.fundamental);
        let radius = -(m.l2.value - zeta * m.tan_f2);
        // The edge leaves the place (the phase ends) where it advances against the generator's outward direction.
        let ends = motion.advance(angle) * radius.signum() < 0.0;
        // The Sun rises where the Earth's turning carries the place towards the Sun.
        let rising = -m.mu.rate * xi * m.cos_d + eta * m.d_rate > 0.0;
        if ends == rising {
            found.push(HorizonPoint { tt, point: footprint.point });
        }
    }
    found
}

impl Eclipse {
    /// Central line, limits, width and duration every so many seconds of UTC.
    ///
    /// # Units
    /// `every_s` in seconds; the path's widths in kilometres, durations in seconds, angles in degrees.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// let path = eclipse.path(600.0);
    /// // NASA/TP-2006-214141: five minutes and ten seconds at best; no full ten minutes fall on that moment, so a little less.
    /// let longest = path.points.iter().filter_map(|point| point.duration_s).fold(0.0, f64::max);
    /// assert!((307.0..311.0).contains(&longest));
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn path(&self, every_s: f64) -> Path {
        trace(self, every_s)
    }

    /// First and last instant at which a limit or the central line has a point, `None` for a partial eclipse.
    pub fn path_span(&self) -> Option<(Tt, Tt)> {
        span(self)
    }
}
