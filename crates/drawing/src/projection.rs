//! From the globe to the page: a projection chosen for the extent, and a frame that cuts geometry to the view.
//!
//! The projection formulas are those of a published library (`proj4rs`, a Rust form of PROJ, on the WGS 84 ellipsoid). What
//! is ours is the choice, and the cutting. All cutting is done on the sphere and never in longitude and latitude, so
//! the date line and the poles need no special case: geometry is first cut to a cap around the view's centre, in
//! Lambert's azimuthal equal-area plane of that centre, and only then projected and cut to the view's rectangle.

use geo::Simplify as _;
use noonfall_ephemeris::GeoPoint;
use noonfall_ephemeris::vector::{angle_between, dot};
use proj4rs::{Proj, transform::transform};

/// Why a map frame could not be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ProjectionError {
    /// Nothing to show.
    #[error("the map has no point to show; give it a path or at least one site")]
    NothingToShow,
    /// The view has no size.
    #[error("the map's window is {width} by {height}; both must be positive")]
    NoWindow {
        /// Width asked for.
        width: f64,
        /// Height asked for.
        height: f64,
    },
    /// The projection library refused the parameters.
    #[error("the projection {definition:?} was refused: {reason}")]
    Refused {
        /// PROJ string.
        definition: String,
        /// The library's words.
        reason: String,
    },
}

/// A family of map projections.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Family {
    /// Lambert conformal conic with two standard parallels, degrees.
    LambertConformalConic {
        /// First standard parallel, degrees.
        south_deg: f64,
        /// Second standard parallel, degrees.
        north_deg: f64,
    },
    /// Lambert azimuthal equal-area, oblique about the centre.
    LambertAzimuthalEqualArea,
    /// Polar stereographic, true to scale at the centre's latitude.
    PolarStereographic,
    /// Mercator, true to scale at the centre's latitude.
    Mercator,
    /// Transverse Mercator about the centre's meridian.
    TransverseMercator,
}

/// A map projection about a centre: places to metres on a plane and back.
#[derive(Clone, Debug)]
pub struct Projection {
    family: Family,
    centre: GeoPoint,
    plane: Proj,
    globe: Proj,
}

impl Projection {
    /// A projection of the given family about a centre.
    ///
    /// # Errors
    /// [`ProjectionError::Refused`] if the library does not take the parameters.
    pub fn new(family: Family, centre: GeoPoint) -> Result<Self, ProjectionError> {
        Self::on_ellipsoid(family, centre, "WGS84")
    }

    // Other ellipsoids are for holding the library against published worked examples.
    fn on_ellipsoid(family: Family, centre: GeoPoint, ellipsoid: &str) -> Result<Self, ProjectionError> {
        let (lat, lon) = (centre.lat_deg, centre.lon_deg);
        let body = match family {
            Family::LambertConformalConic { south_deg, north_deg } => {
                format!("+proj=lcc +lat_1={south_deg} +lat_2={north_deg} +lat_0={lat} +lon_0={lon}")
            }
            Family::LambertAzimuthalEqualArea => format!("+proj=laea +lat_0={lat} +lon_0={lon}"),
            Family::PolarStereographic => {
                format!("+proj=stere +lat_0={} +lat_ts={lat} +lon_0={lon}", 90f64.copysign(lat))
            }
            Family::Mercator => format!("+proj=merc +lat_ts={lat} +lon_0={lon}"),
            Family::TransverseMercator => format!("+proj=tmerc +lat_0={lat} +lon_0={lon} +k_0=1"),
        };
        let definition = format!("{body} +ellps={ellipsoid} +units=m +no_defs");
        let refused = |e: proj4rs::errors::Error, definition: &str| ProjectionError::Refused {
            definition: definition.to_owned(),
            reason: e.to_string(),
        };
        let plane = Proj::from_proj_string(&definition).map_err(|e| refused(e, &definition))?;
        let globe_definition = format!("+proj=longlat +ellps={ellipsoid} +no_defs");
        let globe = Proj::from_proj_string(&globe_definition).map_err(|e| refused(e, &globe_definition))?;
        Ok(Self { family, centre, plane, globe })
    }

    /// The projection that suits a cap of the globe: conformal ones for what is small enough to measure angles on,
    /// equal-area for long paths.
    ///
    /// Rules: up to 4° across the radius, transverse Mercator; near a pole, polar stereographic; between 20° and 62° of
    /// latitude, Lambert conformal conic with standard parallels a sixth of the extent from its edges (common practice,
    /// no source); nearer the equator, Mercator; all larger extents, and those that hold a pole, Lambert azimuthal
    /// equal-area.
    ///
    /// # Errors
    /// [`ProjectionError::Refused`], which no centre and radius in range should bring about.
    pub fn choose(centre: GeoPoint, radius_deg: f64) -> Result<Self, ProjectionError> {
        let lat = centre.lat_deg.abs();
        let holds_pole = lat + radius_deg > 86.0;
        let family = if lat > 62.0 && radius_deg < 40.0 && (holds_pole || radius_deg > 4.0) {
            Family::PolarStereographic
        } else if radius_deg <= 4.0 && !holds_pole {
            Family::TransverseMercator
        } else if (20.0..=62.0).contains(&lat) && radius_deg <= 22.0 && !holds_pole {
            let reach = radius_deg * 2.0 / 3.0;
            Family::LambertConformalConic { south_deg: centre.lat_deg - reach, north_deg: centre.lat_deg + reach }
        } else if lat < 20.0 && radius_deg <= 22.0 {
            Family::Mercator
        } else {
            Family::LambertAzimuthalEqualArea
        };
        Self::new(family, centre)
    }

    /// The family.
    #[must_use]
    pub fn family(&self) -> Family {
        self.family
    }

    /// The projection's name for the margin of a map, with the parameters a reader needs to repeat it.
    #[must_use]
    pub fn name(&self) -> String {
        let centre = describe(self.centre);
        match self.family {
            Family::LambertConformalConic { south_deg, north_deg } => format!(
                "Lambert conformal conic, standard parallels {} and {}",
                latitude_text(south_deg, 1),
                latitude_text(north_deg, 1)
            ),
            Family::LambertAzimuthalEqualArea => format!("Lambert azimuthal equal-area about {centre}"),
            Family::PolarStereographic => {
                format!("Polar stereographic, true at {}", latitude_text(self.centre.lat_deg, 1))
            }
            Family::Mercator => format!("Mercator, true at {}", latitude_text(self.centre.lat_deg, 1)),
            Family::TransverseMercator => format!("Transverse Mercator about {centre}"),
        }
    }

    /// The family's name alone, for where there is little room.
    #[must_use]
    pub fn short_name(&self) -> &'static str {
        match self.family {
            Family::LambertConformalConic { .. } => "Lambert conformal conic",
            Family::LambertAzimuthalEqualArea => "Lambert azimuthal equal-area",
            Family::PolarStereographic => "polar stereographic",
            Family::Mercator => "Mercator",
            Family::TransverseMercator => "transverse Mercator",
        }
    }

    /// Metres east and north on the plane; none where the projection has no finite image.
    #[must_use]
    pub fn forward_m(&self, point: GeoPoint) -> Option<[f64; 2]> {
        let mut p = (point.lon_deg.to_radians(), point.lat_deg.to_radians(), 0.0);
        transform(&self.globe, &self.plane, &mut p).ok()?;
        (p.0.is_finite() && p.1.is_finite()).then_some([p.0, p.1])
    }

    /// The place at metres east and north on the plane; none outside the projection's image.
    #[must_use]
    pub fn inverse(&self, metres: [f64; 2]) -> Option<GeoPoint> {
        let mut p = (metres[0], metres[1], 0.0);
        transform(&self.plane, &self.globe, &mut p).ok()?;
        let (lat, lon) = (p.1.to_degrees(), p.0.to_degrees());
        if !lat.is_finite() || !lon.is_finite() {
            return None;
        }
        GeoPoint::new(lat.clamp(-90.0, 90.0), lon.rem_euclid(360.0)).ok()
    }
}

/// A latitude in words, such as `24.5° S`.
#[must_use]
pub fn latitude_text(lat_deg: f64, decimals: usize) -> String {
    signed_text(lat_deg, decimals, "N", "S")
}

/// A longitude in words, such as `133° E`.
#[must_use]
pub fn longitude_text(lon_deg: f64, decimals: usize) -> String {
    if (lon_deg.abs() - 180.0).abs() < 1e-9 {
        return "180°".to_owned();
    }
    signed_text(lon_deg, decimals, "E", "W")
}

fn signed_text(value: f64, decimals: usize, positive: &str, negative: &str) -> String {
    let text = format!("{:.*}", decimals, value.abs());
    if text.chars().all(|c| c == '0' || c == '.') {
        return "0°".to_owned();
    }
    format!("{text}° {}", if value < 0.0 { negative } else { positive })
}

fn describe(p: GeoPoint) -> String {
    format!("{} {}", latitude_text(p.lat_deg, 1), longitude_text(p.lon_deg, 1))
}

/// The unit vector of a place, latitude taken as on a sphere. Used only to cut geometry, where the ellipsoid's
/// flattening (at most 0.2°) does not matter because both sides of a cut are treated alike.
#[must_use]
pub fn unit_vector(p: GeoPoint) -> [f64; 3] {
    p.direction()
}

/// The place of a vector of any length; the north pole for the zero vector.
#[must_use]
pub fn place_of(v: [f64; 3]) -> GeoPoint {
    let lat = v[2].atan2(v[0].hypot(v[1])).to_degrees();
    let lon = v[1].atan2(v[0]).to_degrees();
    GeoPoint { lat_deg: lat, lon_deg: if lon <= -180.0 { 180.0 } else { lon } }
}

/// Angle between two unit vectors, degrees; exact for small and large angles alike.
#[must_use]
pub fn angle_deg(a: [f64; 3], b: [f64; 3]) -> f64 {
    angle_between(a, b).to_degrees()
}

/// The point at a fraction of the great circle from `a` to `b`; `a` when they are opposite or equal.
#[must_use]
pub fn along_great_circle(a: [f64; 3], b: [f64; 3], fraction: f64) -> [f64; 3] {
    let angle = angle_deg(a, b).to_radians();
    let s = angle.sin();
    if s.abs() < 1e-12 {
        return a;
    }
    let (u, v) = (((1.0 - fraction) * angle).sin() / s, (fraction * angle).sin() / s);
    [u * a[0] + v * b[0], u * a[1] + v * b[1], u * a[2] + v * b[2]]
}

/// The smallest cap that holds all points, to about a hundredth of its radius: centre and radius in degrees.
/// Method: Bădoiu and Clarkson 2003, "Smaller core-sets for balls", moving the centre towards the farthest point.
#[must_use]
pub fn enclosing_cap(points: &[[f64; 3]]) -> Option<([f64; 3], f64)> {
    let mut centre = *points.first()?;
    let farthest = |c: [f64; 3]| points.iter().copied().max_by(|a, b| dot(c, *b).total_cmp(&dot(c, *a))).unwrap_or(c);
    for step in 1..=400 {
        let f = farthest(centre);
        centre = along_great_circle(centre, f, 1.0 / f64::from(step + 1));
    }
    Some((centre, angle_deg(centre, farthest(centre))))
}

/// A cap of the globe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cap {
    middle: [f64; 3],
    radius_deg: f64,
}

impl Cap {
    /// A cap that holds a line through points, not the smallest; the whole globe where the line is spread too far.
    #[must_use]
    pub fn around(points: &[GeoPoint]) -> Cap {
        let vectors: Vec<_> = points.iter().map(|p| unit_vector(*p)).collect();
        let sum = vectors.iter().fold([0.0; 3], |sum, v| [0, 1, 2].map(|i| sum[i] + v[i]));
        let middle = unit_vector(place_of(sum));
        let radius_deg = vectors.iter().map(|v| angle_deg(middle, *v)).fold(0.0, f64::max);
        // What joins two points of a cap stays in it, unless it is more than half the globe.
        Cap { middle, radius_deg: if radius_deg < 60.0 { radius_deg } else { 180.0 } }
    }
}

/// A rectangle on the page, in drawing units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Window {
    /// Whether a point lies inside, with a margin kept from the edges (negative: outside is allowed).
    #[must_use]
    pub fn holds(&self, p: [f64; 2], margin: f64) -> bool {
        p[0] >= self.x + margin
            && p[0] <= self.x + self.width - margin
            && p[1] >= self.y + margin
            && p[1] <= self.y + self.height - margin
    }

    /// The middle.
    #[must_use]
    pub fn centre(&self) -> [f64; 2] {
        [self.x + self.width / 2.0, self.y + self.height / 2.0]
    }
}

/// A cut part of the globe on the page.
#[derive(Clone, Debug)]
pub struct Frame {
    projection: Projection,
    window: Window,
    // Metres on the plane at the window's centre, and metres to one drawing unit.
    origin_m: [f64; 2],
    metres_per_unit: f64,
    // Cap that holds the whole window, on the sphere: centre, two axes across it, angular radius.
    axes: [[f64; 3]; 3],
    cap_deg: f64,
}

// What rounding, and the chords between points of a parallel, move a line by at most.
const PLAYED_DEG: f64 = 0.1;

// Farthest that a cap may reach: the 24-sided outline of a larger one would leave Lambert's disc.
const WIDEST_CAP_DEG: f64 = 138.0;

impl Frame {
    /// A frame that shows all the points, with `margin` drawing units to spare on every side.
    ///
    /// # Errors
    /// [`ProjectionError`] if there is no point or no room.
    pub fn fit(points: &[GeoPoint], window: Window, margin: f64) -> Result<Self, ProjectionError> {
        let vectors: Vec<_> = points.iter().map(|p| unit_vector(*p)).collect();
        let (centre, radius_deg) = enclosing_cap(&vectors).ok_or(ProjectionError::NothingToShow)?;
        let projection = Projection::choose(place_of(centre), radius_deg.max(0.05))?;
        let images: Vec<_> = points.iter().filter_map(|p| projection.forward_m(*p)).collect();
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in &images {
            for i in 0..2 {
                low[i] = low[i].min(p[i]);
                high[i] = high[i].max(p[i]);
            }
        }
        if images.is_empty() {
            return Err(ProjectionError::NothingToShow);
        }
        let room = [window.width - 2.0 * margin, window.height - 2.0 * margin];
        if !(room[0] > 0.0 && room[1] > 0.0) {
            return Err(ProjectionError::NoWindow { width: window.width, height: window.height });
        }
        // A single point still gets a view, of 40 km.
        let span = [(high[0] - low[0]).max(40_000.0), (high[1] - low[1]).max(40_000.0)];
        let metres_per_unit = (span[0] / room[0]).max(span[1] / room[1]);
        Self::assemble(projection, window, [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0], metres_per_unit)
    }

    /// A frame about a place, reaching `reach_km` from it to the nearer edges of the window.
    ///
    /// # Errors
    /// [`ProjectionError`] if the reach or the window is not positive.
    pub fn around(centre: GeoPoint, reach_km: f64, window: Window) -> Result<Self, ProjectionError> {
        let side = window.width.min(window.height);
        if !(side > 0.0 && reach_km > 0.0) {
            return Err(ProjectionError::NoWindow { width: window.width, height: window.height });
        }
        let stretch = window.width.hypot(window.height) / side;
        let projection = Projection::choose(centre, (reach_km / 111.2 * stretch).min(90.0))?;
        let origin = projection.forward_m(centre).ok_or(ProjectionError::NothingToShow)?;
        Self::assemble(projection, window, origin, reach_km * 2000.0 / side)
    }

    fn assemble(
        projection: Projection,
        window: Window,
        origin_m: [f64; 2],
        metres_per_unit: f64,
    ) -> Result<Self, ProjectionError> {
        let middle = projection.inverse(origin_m).ok_or(ProjectionError::NothingToShow)?;
        let a = unit_vector(middle);
        let (sin_lon, cos_lon) = middle.lon_deg.to_radians().sin_cos();
        let (sin_lat, cos_lat) = middle.lat_deg.to_radians().sin_cos();
        let east = [-sin_lon, cos_lon, 0.0];
        let north = [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat];
        let mut frame = Self { projection, window, origin_m, metres_per_unit, axes: [a, east, north], cap_deg: 0.0 };
        let mut reach: f64 = 0.0;
        for i in 0..=16 {
            let t = f64::from(i) / 16.0;
            let (x, y) = (window.x + t * window.width, window.y + t * window.height);
            for p in [[x, window.y], [x, window.y + window.height], [window.x, y], [window.x + window.width, y]] {
                // An edge point off the projection's image means that the view reaches as far as it can.
                reach = reach.max(frame.place(p).map_or(WIDEST_CAP_DEG, |g| angle_deg(a, unit_vector(g))));
            }
        }
        frame.cap_deg = (reach * 1.05 + 0.1).min(WIDEST_CAP_DEG);
        Ok(frame)
    }

    /// The projection.
    #[must_use]
    pub fn projection(&self) -> &Projection {
        &self.projection
    }

    /// The window.
    #[must_use]
    pub fn window(&self) -> Window {
        self.window
    }

    /// Kilometres to one drawing unit where the projection is true to scale.
    #[must_use]
    pub fn km_per_unit(&self) -> f64 {
        self.metres_per_unit / 1000.0
    }

    /// A circle on the ground that holds the whole window: its centre, and its radius in kilometres.
    #[must_use]
    pub fn holding_circle(&self) -> (GeoPoint, f64) {
        // No degree of the ellipsoid is longer.
        (place_of(self.axes[0]), self.cap_deg * 111.7)
    }

    /// Drawing units to one kilometre eastwards at a point of the page; none off the map.
    #[must_use]
    pub fn units_per_km_at(&self, page: [f64; 2]) -> Option<f64> {
        let a = self.place([page[0] - 0.5, page[1]])?;
        let b = self.place([page[0] + 0.5, page[1]])?;
        let km = angle_deg(unit_vector(a), unit_vector(b)).to_radians() * 6371.0;
        (km > 0.0).then(|| 1.0 / km)
    }

    /// Where a place falls on the page, inside the window or not; none when it is out of the view's cap.
    #[must_use]
    pub fn page(&self, point: GeoPoint) -> Option<[f64; 2]> {
        if angle_deg(self.axes[0], unit_vector(point)) > self.cap_deg * 1.2 + 1.0 {
            return None;
        }
        self.page_unchecked(point)
    }

    fn page_unchecked(&self, point: GeoPoint) -> Option<[f64; 2]> {
        let m = self.projection.forward_m(point)?;
        let c = self.window.centre();
        Some([
            c[0] + (m[0] - self.origin_m[0]) / self.metres_per_unit,
            c[1] - (m[1] - self.origin_m[1]) / self.metres_per_unit,
        ])
    }

    /// Where a place falls on the page if that is inside the window.
    #[must_use]
    pub fn page_inside(&self, point: GeoPoint, margin: f64) -> Option<[f64; 2]> {
        self.page(point).filter(|p| self.window.holds(*p, margin))
    }

    /// The place at a point of the page; none off the projection's image.
    #[must_use]
    pub fn place(&self, page: [f64; 2]) -> Option<GeoPoint> {
        let c = self.window.centre();
        self.projection.inverse([
            self.origin_m[0] + (page[0] - c[0]) * self.metres_per_unit,
            self.origin_m[1] - (page[1] - c[1]) * self.metres_per_unit,
        ])
    }

    /// Direction of north at a point of the page, degrees clockwise from the page's top; none at a pole or off the map.
    #[must_use]
    pub fn north_deg_at(&self, page: [f64; 2]) -> Option<f64> {
        let here = self.place(page)?;
        let step = 0.05f64;
        let ahead = GeoPoint { lat_deg: (here.lat_deg + step).min(90.0), lon_deg: here.lon_deg };
        let behind = GeoPoint { lat_deg: (here.lat_deg - step).max(-90.0), lon_deg: here.lon_deg };
        let (a, b) = (self.page_unchecked(behind)?, self.page_unchecked(ahead)?);
        let d = [b[0] - a[0], b[1] - a[1]];
        (d[0].hypot(d[1]) > 1e-9).then(|| d[0].atan2(-d[1]).to_degrees())
    }

    /// How far from the middle of the window lines are followed, degrees; areas are not followed as far.
    fn followed_deg(&self) -> f64 {
        (self.cap_deg * 1.2 + 1.0).min(150.0)
    }

    /// Whether nothing in a cap comes near the window: of its lines and areas [`Frame::lines`] and [`Frame::areas`] leave nothing to be
    /// seen.
    #[must_use]
    pub fn misses(&self, cap: &Cap) -> bool {
        angle_deg(self.axes[0], cap.middle) > self.followed_deg() + cap.radius_deg
    }

    /// Whether no point of a parallel comes near the window.
    #[must_use]
    pub fn misses_parallel(&self, lat_deg: f64) -> bool {
        (place_of(self.axes[0]).lat_deg - lat_deg).abs() > self.followed_deg() + PLAYED_DEG
    }

    /// Whether no point of a meridian comes near the window.
    #[must_use]
    pub fn misses_meridian(&self, lon_deg: f64) -> bool {
        let (sin, cos) = lon_deg.to_radians().sin_cos();
        // How far away the whole circle is of which it is one half.
        let aside_deg = dot(self.axes[0], [-sin, cos, 0.0]).abs().min(1.0).asin().to_degrees();
        aside_deg > self.followed_deg() + PLAYED_DEG
    }

    /// A line on the globe, cut to the window. Consecutive points are joined by great circles.
    #[must_use]
    pub fn lines(&self, line: &[GeoPoint]) -> Vec<Vec<[f64; 2]>> {
        let least_cos = self.followed_deg().to_radians().cos();
        let near = |v: [f64; 3]| dot(v, self.axes[0]) >= least_cos;
        let mut pieces = Vec::new();
        let mut run: Vec<[f64; 2]> = Vec::new();
        let mut push = |run: &mut Vec<[f64; 2]>| {
            if run.len() > 1 {
                cut_line(run, self.window, &mut pieces);
            }
            run.clear();
        };
        let mut last: Option<[f64; 3]> = None;
        for point in line {
            let v = unit_vector(*point);
            if let Some(u) = last {
                for w in between(u, v, (self.cap_deg / 30.0).clamp(0.2, 2.0)) {
                    match near(w).then(|| self.page_unchecked(place_of(w))).flatten() {
                        Some(p) => run.push(p),
                        None => push(&mut run),
                    }
                }
            }
            match near(v).then(|| self.page_unchecked(*point)).flatten() {
                Some(p) => run.push(p),
                None => push(&mut run),
            }
            last = Some(v);
        }
        push(&mut run);
        pieces
    }

    /// Rings on the globe, cut to the window. Each ring's inside is the smaller part of the globe; overlapping rings
    /// combine by the even-odd rule, so holes are given like outlines. Edges are great circles.
    #[must_use]
    pub fn areas(&self, rings: &[Vec<GeoPoint>]) -> Vec<Vec<[f64; 2]>> {
        rings.iter().filter_map(|ring| self.area(ring)).collect()
    }

    /// One of them; none where nothing of it is left.
    #[must_use]
    pub fn area(&self, ring: &[GeoPoint]) -> Option<Vec<[f64; 2]>> {
        let vectors: Vec<[f64; 3]> = ring.iter().map(|p| unit_vector(*p)).collect();
        let cap_cos = self.cap_deg.to_radians().cos();
        let all_in = vectors.iter().all(|v| dot(*v, self.axes[0]) > cap_cos);
        let projected: Vec<[f64; 2]> = if all_in {
            let mut out = Vec::with_capacity(vectors.len());
            for (i, v) in vectors.iter().enumerate() {
                out.push(*v);
                out.extend(between(*v, vectors[(i + 1) % vectors.len()], (self.cap_deg / 30.0).clamp(0.2, 2.0)));
            }
            out.into_iter().filter_map(|v| self.page_unchecked(place_of(v))).collect()
        } else {
            let cut = self.cut_to_cap(&vectors)?;
            // Along the cap's outline the cut leaves long straight edges; their images may bend.
            let mut out = Vec::with_capacity(cut.len());
            for (i, v) in cut.iter().enumerate() {
                out.push(*v);
                out.extend(between(*v, cut[(i + 1) % cut.len()], (self.cap_deg / 30.0).clamp(0.2, 2.0)));
            }
            out.into_iter().filter_map(|v| self.page_unchecked(place_of(v))).collect()
        };
        let cut = cut_ring(projected, self.window, 4.0);
        (cut.len() > 2).then_some(cut)
    }

    // Lambert's azimuthal equal-area image of a unit vector, on a unit sphere; the antipode gives a point far along +x.
    fn lambert(&self, v: [f64; 3]) -> [f64; 2] {
        let k = (2.0 / (1.0 + dot(v, self.axes[0])).max(1e-12)).sqrt();
        let p = [k * dot(v, self.axes[1]), k * dot(v, self.axes[2])];
        let r = p[0].hypot(p[1]);
        if r > 1e-9 || dot(v, self.axes[0]) > 0.0 { p } else { [2.0, 0.0] }
    }

    fn vector_at(&self, p: [f64; 2]) -> [f64; 3] {
        let r2 = (p[0] * p[0] + p[1] * p[1]).min(4.0);
        let (c, s) = (1.0 - r2 / 2.0, (1.0 - r2 / 4.0).max(0.0).sqrt());
        let mut v = [0.0; 3];
        for (i, out) in v.iter_mut().enumerate() {
            *out = c * self.axes[0][i] + s * (p[0] * self.axes[1][i] + p[1] * self.axes[2][i]);
        }
        v
    }

    fn cut_to_cap(&self, ring: &[[f64; 3]]) -> Option<Vec<[f64; 3]>> {
        let mut plane: Vec<[f64; 2]> = Vec::with_capacity(ring.len() + 64);
        for (i, v) in ring.iter().enumerate() {
            plane.push(self.lambert(*v));
            let next = ring[(i + 1) % ring.len()];
            plane.extend(between(*v, next, 1.0).into_iter().map(|w| self.lambert(w)));
        }
        let mut rounded: Vec<[f64; 2]> = Vec::with_capacity(plane.len());
        for (i, p) in plane.iter().enumerate() {
            rounded.push(*p);
            // Past the antipode the image jumps along the disc's rim: follow the rim instead of cutting across the disc.
            let q = plane[(i + 1) % plane.len()];
            if p[0].hypot(p[1]) > 1.9 && q[0].hypot(q[1]) > 1.9 {
                let (from, mut turn) = (p[1].atan2(p[0]), q[1].atan2(q[0]) - p[1].atan2(p[0]));
                turn = (turn + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU) - std::f64::consts::PI;
                let steps = (turn.abs() / 0.15) as u32;
                for s in 1..=steps {
                    let (sin, cos) = (from + turn * f64::from(s) / f64::from(steps + 1)).sin_cos();
                    rounded.push([1.999 * cos, 1.999 * sin]);
                }
            }
        }
        // The plane is equal-area: an image larger than half the disc means that the antipode lies inside the ring, and the
        // ring's inside is what lies outside its image.
        let turned_inside_out = signed_area(&rounded).abs() > std::f64::consts::TAU;
        let outline: Vec<[f64; 2]> = {
            let r = 2.0 * (self.cap_deg.to_radians() / 2.0).sin() * 1.01 / (std::f64::consts::PI / 24.0).cos();
            (0..24)
                .map(|i| {
                    let (s, c) = (f64::from(i) * std::f64::consts::TAU / 24.0).sin_cos();
                    [r.min(1.999) * c, r.min(1.999) * s]
                })
                .collect()
        };
        let mut cut = cut_ring_convex(rounded, &outline);
        if turned_inside_out {
            // Even-odd with the whole cap: join the two rings by a seam that is walked in both directions.
            let seam = cut.first().copied();
            cut.extend(seam);
            cut.extend(outline.iter().copied());
            cut.extend(outline.first().copied());
        }
        (cut.len() > 2).then(|| cut.into_iter().map(|p| self.vector_at(p)).collect())
    }
}

/// Points strictly between two unit vectors so that no step is longer than `step_deg`.
fn between(a: [f64; 3], b: [f64; 3], step_deg: f64) -> Vec<[f64; 3]> {
    // Most edges of a coast are far shorter than a step: the chord decides that without trigonometry.
    let chord2 = (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2);
    if chord2 <= (step_deg.to_radians() * 0.999).powi(2) {
        return Vec::new();
    }
    let n = (angle_deg(a, b) / step_deg).ceil() as u32;
    (1..n).map(|i| along_great_circle(a, b, f64::from(i) / f64::from(n))).collect()
}

/// Twice-signed area halves: the area of a planar ring, positive anticlockwise in axes with y upwards.
#[must_use]
pub fn signed_area(ring: &[[f64; 2]]) -> f64 {
    let n = ring.len();
    (0..n).map(|i| (ring[i], ring[(i + 1) % n])).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>() / 2.0
}

// Sutherland and Hodgman 1974, "Reentrant polygon clipping": one half-plane at a time. `inside` is positive inside.
fn cut_half_plane(ring: &[[f64; 2]], inside: impl Fn([f64; 2]) -> f64) -> Vec<[f64; 2]> {
    let mut out = Vec::with_capacity(ring.len() + 4);
    for (i, b) in ring.iter().enumerate() {
        let a = ring[(i + ring.len() - 1) % ring.len()];
        let (da, db) = (inside(a), inside(*b));
        if (da >= 0.0) != (db >= 0.0) {
            let t = da / (da - db);
            out.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
        }
        if db >= 0.0 {
            out.push(*b);
        }
    }
    out
}

fn cut_ring_convex(mut ring: Vec<[f64; 2]>, outline: &[[f64; 2]]) -> Vec<[f64; 2]> {
    for (i, a) in outline.iter().enumerate() {
        if ring.is_empty() {
            break;
        }
        let b = outline[(i + 1) % outline.len()];
        ring = cut_half_plane(&ring, |p| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]));
    }
    ring
}

/// Cuts a planar ring to a window widened by `spare` on every side, so that edges along the cut fall outside it.
#[must_use]
pub fn cut_ring(mut ring: Vec<[f64; 2]>, window: Window, spare: f64) -> Vec<[f64; 2]> {
    let (left, top) = (window.x - spare, window.y - spare);
    let (right, bottom) = (window.x + window.width + spare, window.y + window.height + spare);
    if ring.iter().all(|p| p[0] >= left && p[0] <= right && p[1] >= top && p[1] <= bottom) {
        return ring;
    }
    ring = cut_half_plane(&ring, |p| p[0] - left);
    ring = cut_half_plane(&ring, |p| right - p[0]);
    ring = cut_half_plane(&ring, |p| p[1] - top);
    cut_half_plane(&ring, |p| bottom - p[1])
}

/// Cuts a planar line to a window, adding the pieces inside. Method: Liang and Barsky 1984, segment by segment.
pub fn cut_line(line: &[[f64; 2]], window: Window, pieces: &mut Vec<Vec<[f64; 2]>>) {
    let mut run: Vec<[f64; 2]> = Vec::new();
    for pair in line.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let d = [b[0] - a[0], b[1] - a[1]];
        let (mut t0, mut t1) = (0.0f64, 1.0f64);
        let mut visible = true;
        for (p, q) in [
            (-d[0], a[0] - window.x),
            (d[0], window.x + window.width - a[0]),
            (-d[1], a[1] - window.y),
            (d[1], window.y + window.height - a[1]),
        ] {
            if p == 0.0 {
                visible &= q >= 0.0;
            } else if p < 0.0 {
                t0 = t0.max(q / p);
            } else {
                t1 = t1.min(q / p);
            }
        }
        if !visible || t0 > t1 {
            if run.len() > 1 {
                pieces.push(std::mem::take(&mut run));
            }
            run.clear();
            continue;
        }
        let at = |t: f64| [a[0] + t * d[0], a[1] + t * d[1]];
        if run.is_empty() || t0 > 0.0 {
            if run.len() > 1 {
                pieces.push(std::mem::take(&mut run));
            }
            run = vec![at(t0)];
        }
        run.push(at(t1));
        if t1 < 1.0 {
            pieces.push(std::mem::take(&mut run));
        }
    }
    if run.len() > 1 {
        pieces.push(run);
    }
}

/// Leaves out points of a planar line that lie within `tolerance` of it (Ramer 1972, Douglas and Peucker 1973).
#[must_use]
pub fn simplified(line: &[[f64; 2]], tolerance: f64) -> Vec<[f64; 2]> {
    let line: geo::LineString<f64> = line.iter().map(|p| (p[0], p[1])).collect();
    line.simplify(tolerance).0.into_iter().map(|c| [c.x, c.y]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(lat_deg: f64, lon_deg: f64) -> GeoPoint {
        GeoPoint { lat_deg, lon_deg }
    }

    #[test]
    fn worked_examples_of_the_survey_come_out() {
        // J. P. Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395 (1987), numerical examples on the
        // ellipsoid (from memory, and equal to pyproj 3 to the digits given). Metres.
        let lcc = Family::LambertConformalConic { south_deg: 33.0, north_deg: 45.0 };
        for (family, centre, ellipsoid, point, x, y, scale) in [
            (lcc, at(23.0, -96.0), "clrk66", at(35.0, -75.0), 1_894_410.9, 1_564_649.5, 1.0),
            (
                Family::LambertAzimuthalEqualArea,
                at(40.0, -100.0),
                "clrk66",
                at(30.0, -110.0),
                -965_932.1,
                -1_056_814.9,
                1.0,
            ),
            (Family::Mercator, at(0.0, 180.0), "clrk66", at(35.0, -75.0), 11_688_673.7, 4_139_145.6, 1.0),
            (Family::PolarStereographic, at(-71.0, -100.0), "intl", at(-75.0, 150.0), -1_540_033.6, -560_526.4, 1.0),
            // The example has k0 = 0.9996.
            (Family::TransverseMercator, at(0.0, -75.0), "clrk66", at(40.5, -73.5), 127_106.5, 4_484_124.4, 0.9996),
        ] {
            let projection = Projection::on_ellipsoid(family, centre, ellipsoid).expect("projection");
            let p = projection.forward_m(point).expect("image");
            assert!((p[0] * scale - x).abs() < 0.15 && (p[1] * scale - y).abs() < 0.15, "{family:?}: {p:?}");
        }
    }

    #[test]
    fn the_extent_decides() {
        let family = |lat, lon, radius| Projection::choose(at(lat, lon), radius).expect("projection").family();
        assert_eq!(family(-45.0, 168.0, 2.0), Family::TransverseMercator);
        assert!(matches!(family(40.0, -100.0, 15.0), Family::LambertConformalConic { .. }));
        assert_eq!(family(5.0, 20.0, 15.0), Family::Mercator);
        assert_eq!(family(80.0, 20.0, 15.0), Family::PolarStereographic);
        assert_eq!(family(-30.0, 150.0, 60.0), Family::LambertAzimuthalEqualArea);
        // A cap that holds the pole never gets a projection that tears there.
        assert_eq!(family(60.0, 0.0, 29.0), Family::LambertAzimuthalEqualArea);
    }

    const WINDOW: Window = Window { x: 10.0, y: 30.0, width: 600.0, height: 400.0 };

    proptest! {
        #[test]
        fn places_go_to_the_page_and_back(lat in -89.0..89.0f64, lon in -180.0..180.0f64, reach in 30.0..6000.0f64,
                                          u in 0.02..0.98f64, v in 0.02..0.98f64) {
            let frame = Frame::around(at(lat, lon), reach, WINDOW).expect("frame");
            let page = [WINDOW.x + u * WINDOW.width, WINDOW.y + v * WINDOW.height];
            if let Some(place) = frame.place(page) {
                let back = frame.page(place).expect("inside the view");
                prop_assert!((back[0] - page[0]).hypot(back[1] - page[1]) < 0.01, "{place:?} {back:?} {page:?}");
            } else {
                // Only a view of a good part of the globe has corners off the projection's image.
                prop_assert!(reach > 2500.0);
            }
        }

        #[test]
        fn a_cap_keeps_its_area_wherever_it_lies(lat in -85.0..85.0f64, lon in -180.0..180.0f64, off in 0.0..40.0f64, turn in 0.0..360.0f64) {
            // A circle of 5°, somewhere in a Lambert equal-area view of the whole neighbourhood: date line and poles included.
            let frame = Frame::around(at(lat, lon), 5500.0, Window { x: 0.0, y: 0.0, width: 1000.0, height: 1000.0 }).expect("frame");
            prop_assume!(frame.projection().family() == Family::LambertAzimuthalEqualArea);
            let centre = noonfall_shadow::geodesy::destination(at(lat, lon), turn, off * 111.0);
            let ring: Vec<GeoPoint> =
                (0..180).map(|i| noonfall_shadow::geodesy::destination(centre, f64::from(i) * 2.0, 556.0)).collect();
            let areas = frame.areas(&[ring]);
            prop_assert_eq!(areas.len(), 1);
            let km2 = signed_area(&areas[0]).abs() * frame.km_per_unit().powi(2);
            // 2 pi R^2 (1 - cos(r/R)) with R = 6371 km.
            let expected = std::f64::consts::TAU * 6371.0f64.powi(2) * (1.0 - (556.0f64 / 6371.0).cos());
            prop_assert!((km2 / expected - 1.0).abs() < 0.01, "{km2} {expected}");
        }

        #[test]
        fn lines_stay_in_the_window_and_do_not_jump(lat in -89.0..89.0f64, lon in -180.0..180.0f64, reach in 100.0..6000.0f64, start in -180.0..180.0f64) {
            let frame = Frame::around(at(lat, lon), reach, WINDOW).expect("frame");
            let line: Vec<GeoPoint> = (0..=180).map(|i| at(f64::from(i) - 90.0, start)).collect();
            for piece in frame.lines(&line) {
                for pair in piece.windows(2) {
                    prop_assert!(pair.iter().all(|p| WINDOW.holds(*p, -1e-6)));
                    let step = (pair[0][0] - pair[1][0]).hypot(pair[0][1] - pair[1][1]);
                    // Two degrees at most between neighbours.
                    prop_assert!(step < 3.0 * 222.0 / frame.km_per_unit(), "{step}");
                }
            }
        }
    }

    #[test]
    fn a_continent_around_the_view_fills_it() {
        // A view of 50 km in the middle of a ring 3000 km wide: all of the ring's edge is far outside the cap.
        let frame = Frame::around(at(10.0, 179.5), 50.0, WINDOW).expect("frame");
        let ring: Vec<GeoPoint> = (0..72)
            .map(|i| noonfall_shadow::geodesy::destination(at(10.0, 179.5), f64::from(i) * 5.0, 3000.0))
            .collect();
        let areas = frame.areas(&[ring]);
        assert_eq!(areas.len(), 1);
        assert!((signed_area(&areas[0]).abs() / (608.0 * 408.0) - 1.0).abs() < 1e-6);
    }

    #[test]
    fn land_around_the_antipode_does_not_flood_the_map() {
        // The ring around the point opposite the view's centre: its image is the rim of the disc, its inside is not here.
        let frame = Frame::around(at(-30.0, 140.0), 6000.0, WINDOW).expect("frame");
        let ring: Vec<GeoPoint> = (0..72)
            .map(|i| noonfall_shadow::geodesy::destination(at(30.0, -40.0), f64::from(i) * 5.0, 1500.0))
            .collect();
        let covered: f64 = frame
            .areas(&[ring])
            .iter()
            .map(|r| {
                let middle = WINDOW.centre();
                f64::from(u8::from(even_odd(r, middle)))
            })
            .sum();
        assert_eq!(covered, 0.0);
    }

    fn even_odd(ring: &[[f64; 2]], p: [f64; 2]) -> bool {
        let mut inside = false;
        for (i, b) in ring.iter().enumerate() {
            let a = ring[(i + ring.len() - 1) % ring.len()];
            if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
                inside = !inside;
            }
        }
        inside
    }

    #[test]
    fn frames_refuse_nothing_and_no_room() {
        assert_eq!(Frame::fit(&[], WINDOW, 0.0).err(), Some(ProjectionError::NothingToShow));
        let thin = Window { width: 20.0, ..WINDOW };
        assert!(matches!(Frame::fit(&[at(0.0, 0.0)], thin, 15.0), Err(ProjectionError::NoWindow { .. })));
        let single = Frame::fit(&[at(-45.0, 170.0)], WINDOW, 10.0).expect("a single point has a view");
        let p = single.page(at(-45.0, 170.0)).expect("on the page");
        assert!((p[0] - 310.0).abs() < 1e-6 && (p[1] - 230.0).abs() < 1e-6);
    }

    #[test]
    fn degrees_are_told_in_words() {
        assert_eq!(latitude_text(-24.5, 1), "24.5° S");
        assert_eq!(latitude_text(-0.01, 1), "0°");
        assert_eq!(longitude_text(-180.0, 0), "180°");
        assert_eq!(longitude_text(133.0, 0), "133° E");
    }
}
