//! Where the axis and the straight lines of the cones meet the Earth.
//!
//! Every generator of a cone, and the axis itself, is a straight line in the fundamental frame even with the light-time
//! slope: it leaves a foot on the fundamental plane and drifts with ζ. Meeting the ellipsoid is then a quadratic, without
//! iteration.

use crate::contacts::Cone;
use crate::conventions::Conventions;
use crate::elements::Moment;
use noonfall_ephemeris::GeoPoint;
use noonfall_ephemeris::angle::wrap_180;
use noonfall_ephemeris::observer::Ellipsoid;
use noonfall_ephemeris::vector::{add, cross, dot, norm, scale, sub, unit};

/// A straight line in the fundamental frame: `(ξ, η) = foot + ζ drift`.
#[derive(Clone, Copy, Debug)]
pub struct ShadowLine {
    foot: [f64; 2],
    drift: [f64; 2],
}

impl ShadowLine {
    /// The axis of the shadow.
    pub fn axis(m: &Moment) -> ShadowLine {
        ShadowLine { foot: [m.x.value, m.y.value], drift: m.slope }
    }

    /// The parallel line that lies so far eastwards and northwards of it in the fundamental plane.
    pub fn beside(&self, east: f64, north: f64) -> ShadowLine {
        ShadowLine { foot: [self.foot[0] + east, self.foot[1] + north], drift: self.drift }
    }

    /// The generator of a cone at an angle about the axis, counted from north through east in the fundamental plane.
    ///
    /// For the umbra the angle is that of the edge where the cone has not yet come to its tip (total); beyond the tip
    /// (annular) the edge lies on the other side of the axis.
    pub fn generator(m: &Moment, cone: Cone, angle_rad: f64) -> ShadowLine {
        let (sin_q, cos_q) = angle_rad.sin_cos();
        // Radius at height ζ is `wide + ζ opening`.
        let (wide, opening) = match cone {
            Cone::Penumbra => (m.l1.value, -m.tan_f1),
            Cone::Umbra => (-m.l2.value, m.tan_f2),
        };
        ShadowLine {
            foot: [m.x.value + wide * sin_q, m.y.value + wide * cos_q],
            drift: [m.slope[0] + opening * sin_q, m.slope[1] + opening * cos_q],
        }
    }
}

/// Where a line meets the sunward side of the Earth.
#[derive(Clone, Copy, Debug)]
pub struct Footprint {
    /// The place.
    pub point: GeoPoint,
    /// Its coordinates in the fundamental frame, Earth radii.
    pub fundamental: [f64; 3],
}

/// The ellipsoid, or one at a height above it, in units of the equatorial radius.
#[derive(Clone, Copy, Debug)]
pub struct Surface {
    equatorial: f64,
    polar: f64,
    ellipsoid: Ellipsoid,
    at_sea_level: bool,
}

impl Surface {
    /// The surface at a height above the ellipsoid; both axes grow by the height, which is exact at the equator and the
    /// poles and within `height × flattening` (30 m at 10 km) between.
    pub fn at_height(conventions: &Conventions, height_km: f64) -> Surface {
        let ellipsoid = conventions.ellipsoid();
        let height = height_km / ellipsoid.equatorial_radius_km;
        Surface {
            equatorial: 1.0 + height,
            polar: ellipsoid.polar_ratio() + height,
            ellipsoid,
            at_sea_level: height_km == 0.0,
        }
    }

    /// The line in the frame of the Earth's axis, scaled so that the surface is the unit sphere: start and direction.
    fn scaled(&self, m: &Moment, line: &ShadowLine) -> ([f64; 3], [f64; 3]) {
        let (a, b) = (self.equatorial, self.polar);
        let ([fx, fy], [dx, dy]) = (line.foot, line.drift);
        (
            [fx / a, -fy * m.sin_d / a, fy * m.cos_d / b],
            [dx / a, (m.cos_d - dy * m.sin_d) / a, (m.sin_d + dy * m.cos_d) / b],
        )
    }

    /// How deep the line passes below the surface: positive where it meets it, zero where it touches. In units of the
    /// squared radius.
    pub fn depth(&self, m: &Moment, line: &ShadowLine) -> f64 {
        let (p, q) = self.scaled(m, line);
        let (pp, pq, qq) = (dot(p, p), dot(p, q), dot(q, q));
        1.0 - pp + pq * pq / qq
    }

    /// Where the line meets the sunward side, `None` if it misses.
    pub fn meet(&self, m: &Moment, line: &ShadowLine) -> Option<Footprint> {
        self.meet_or_graze(m, line, false)
    }

    /// As [`Surface::meet`], and where a line passes by, the place nearest to it, where the Sun stands on the horizon.
    pub fn nearest(&self, m: &Moment, line: &ShadowLine) -> Footprint {
        // With grazing allowed a place is always found.
        self.meet_or_graze(m, line, true)
            .unwrap_or(Footprint { point: GeoPoint { lat_deg: 0.0, lon_deg: 0.0 }, fundamental: [0.0; 3] })
    }

    fn meet_or_graze(&self, m: &Moment, line: &ShadowLine, graze: bool) -> Option<Footprint> {
        let (p, q) = self.scaled(m, line);
        let (pp, pq, qq) = (dot(p, p), dot(p, q), dot(q, q));
        let depth = pq * pq - qq * (pp - 1.0);
        if depth < 0.0 && !graze {
            return None;
        }
        let zeta = (-pq + depth.max(0.0).sqrt()) / qq;
        let unit = unit(add(p, scale(q, zeta)));
        Some(self.place(m, unit))
    }

    /// The place in a direction of the unit sphere into which the surface is scaled.
    fn place(&self, m: &Moment, unit: [f64; 3]) -> Footprint {
        // Back to true lengths: east, towards the axis' meridian, along the Earth's axis.
        let (xi, w, z) = (unit[0] * self.equatorial, unit[1] * self.equatorial, unit[2] * self.polar);
        let longitude_rad = xi.atan2(w) - m.mu.value;
        let across = xi.hypot(w);
        let lat_deg = if self.at_sea_level {
            let q = self.ellipsoid.polar_ratio() * self.ellipsoid.polar_ratio();
            z.atan2(q * across).to_degrees()
        } else {
            let radius_km = self.ellipsoid.equatorial_radius_km;
            self.ellipsoid.geodetic([across * radius_km, 0.0, z * radius_km]).0.lat_deg
        };
        let eta = z * m.cos_d - w * m.sin_d;
        let zeta = z * m.sin_d + w * m.cos_d;
        let point = GeoPoint { lat_deg, lon_deg: wrap_180(longitude_rad.to_degrees()) };
        Footprint { point, fundamental: [xi, eta, zeta] }
    }

    /// The place on the terminator (the Sun's centre on the airless horizon) at an angle about the Sun, counted from
    /// north through east as seen in the shadow plane; with how fast the Sun's altitude grows there, up to a positive
    /// factor.
    ///
    /// The places from which the Sun's centre is level are those where the plane polar to it cuts the surface: on the
    /// scaled sphere a circle, a little sunward of the great one.
    pub fn terminator(&self, m: &Moment, angle_rad: f64) -> (Footprint, f64) {
        let (a, b) = (self.equatorial, self.polar);
        let sun = [m.x.value, m.y.value, m.moon_z.value + m.sun_beyond_moon];
        // The Sun in the frame of the Earth's axis: east, towards the axis' meridian, north.
        let towards = [sun[0], m.cos_d * sun[2] - m.sin_d * sun[1], m.sin_d * sun[2] + m.cos_d * sun[1]];
        let scaled = [towards[0] / a, towards[1] / a, towards[2] / b];
        let distance = norm(scaled);
        let sunward = scale(scaled, 1.0 / distance);
        let east = unit(sub([1.0, 0.0, 0.0], scale(sunward, sunward[0])));
        // The frame is left-handed: north is east × sunward.
        let north = cross(east, sunward);
        let (sin, cos) = angle_rad.sin_cos();
        let radius = (1.0 - 1.0 / (distance * distance)).sqrt();
        let around = add(scale(east, radius * sin), scale(north, radius * cos));
        let on_sphere = add(scale(sunward, 1.0 / distance), around);
        // The vertical, and the Sun's direction with its motion against the turning Earth.
        let zenith = [on_sphere[0] / a, on_sphere[1] / a, on_sphere[2] / b];
        let turning = m.mu.rate * (zenith[1] * towards[0] - zenith[0] * towards[1]);
        let drifting = m.d_rate * (zenith[2] * m.cos_d - zenith[1] * m.sin_d) * sun[2];
        (self.place(m, on_sphere), turning + drifting)
    }
}
