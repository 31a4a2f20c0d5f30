//! How a place lies to the axis of the shadow at an instant.

use crate::conventions::Conventions;
use crate::elements::Moment;
use crate::site::Site;
use noonfall_ephemeris::observer::{Horizontal, LocalAxes};
use noonfall_ephemeris::vector::{Vec3, add, cross, dot, scale, sub, unit};

/// A place in cylindrical coordinates about the Earth's axis, Earth radii, ready for many instants.
#[derive(Clone, Copy, Debug)]
pub struct Station {
    /// Distance from the Earth's axis.
    pub rho_cos: f64,
    /// Distance north of the equator's plane.
    pub rho_sin: f64,
    /// Longitude, radians east.
    pub longitude_rad: f64,
    axes: LocalAxes,
}

/// A place relative to the axis. Lengths in Earth radii, rates per second.
#[derive(Clone, Copy, Debug)]
pub struct Relation {
    /// Place eastwards in the fundamental frame.
    pub xi: f64,
    /// Place northwards in the fundamental frame.
    pub eta: f64,
    /// Place towards the Sun in the fundamental frame.
    pub zeta: f64,
    /// Rate of ζ.
    pub zeta_rate: f64,
    /// From the place to the axis, eastwards.
    pub u: f64,
    /// From the place to the axis, northwards.
    pub v: f64,
    /// Rate of u.
    pub u_rate: f64,
    /// Rate of v.
    pub v_rate: f64,
    /// Acceleration along and across, enough for Newton's method.
    pub u_acceleration: f64,
    /// As for u.
    pub v_acceleration: f64,
}

impl Station {
    /// Prepares a place.
    pub fn new(site: &Site, conventions: &Conventions) -> Station {
        let position = conventions.ellipsoid().terrestrial_km(site.point(), site.elevation_m);
        let radius_km = conventions.earth_equatorial_radius_km;
        Station {
            rho_cos: position[0].hypot(position[1]) / radius_km,
            rho_sin: position[2] / radius_km,
            longitude_rad: site.lon_deg.to_radians(),
            axes: LocalAxes::at(site.point()),
        }
    }

    /// How the place lies to the axis.
    pub fn relation(&self, m: &Moment) -> Relation {
        let (sin_h, cos_h) = (m.mu.value + self.longitude_rad).sin_cos();
        let xi = self.rho_cos * sin_h;
        let across = self.rho_cos * cos_h;
        let eta = self.rho_sin * m.cos_d - across * m.sin_d;
        let zeta = self.rho_sin * m.sin_d + across * m.cos_d;
        let turn = m.mu.rate;
        let xi_rate = turn * across;
        let eta_rate = turn * xi * m.sin_d - zeta * m.d_rate;
        let zeta_rate = -turn * xi * m.cos_d + eta * m.d_rate;
        Relation {
            xi,
            eta,
            zeta,
            zeta_rate,
            u: m.x.value + m.slope[0] * zeta - xi,
            v: m.y.value + m.slope[1] * zeta - eta,
            u_rate: m.x.rate + m.slope[0] * zeta_rate - xi_rate,
            v_rate: m.y.rate + m.slope[1] * zeta_rate - eta_rate,
            // The slow changes of declination and hour-angle rate are left out: they only steer the iteration.
            u_acceleration: m.x_acceleration + turn * turn * xi,
            v_acceleration: m.y_acceleration - turn * turn * across * m.sin_d,
        }
    }

    /// Direction of the Sun's centre in the terrestrial frame, not normalised.
    pub fn sun_direction(&self, m: &Moment, r: &Relation) -> Vec3 {
        let frame = Frame::of(m);
        frame.to_terrestrial([r.u, r.v, m.moon_z.value + m.sun_beyond_moon - r.zeta])
    }

    /// Altitude and azimuth of the Sun's centre, airless, aberration included.
    pub fn sun(&self, m: &Moment, r: &Relation) -> Horizontal {
        self.axes.horizontal(self.sun_direction(m, r))
    }

    /// The local axes of the place.
    pub fn axes(&self) -> &LocalAxes {
        &self.axes
    }

    /// Parallactic angle of the Sun: position angle of the zenith at the Sun's centre, radians, from north through east.
    pub fn parallactic_angle_rad(&self, m: &Moment, r: &Relation) -> f64 {
        let sun = unit(self.sun_direction(m, r));
        let pole = [0.0, 0.0, 1.0];
        let east = cross(pole, sun);
        let north = sub(pole, scale(sun, dot(pole, sun)));
        dot(self.axes.zenith, east).atan2(dot(self.axes.zenith, north))
    }
}

impl Relation {
    /// Distance from the axis.
    pub fn distance(&self) -> f64 {
        self.u.hypot(self.v)
    }

    /// Speed of the axis over the place.
    pub fn speed(&self) -> f64 {
        self.u_rate.hypot(self.v_rate)
    }

    /// Half the rate of the squared distance.
    pub fn closing(&self) -> f64 {
        self.u * self.u_rate + self.v * self.v_rate
    }
}

/// The axes of the fundamental frame in the terrestrial frame.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    /// Eastwards in the fundamental plane.
    pub east: Vec3,
    /// Northwards in the fundamental plane.
    pub north: Vec3,
    /// Along the axis, towards the Sun.
    pub sunward: Vec3,
}

impl Frame {
    /// The axes at an instant.
    pub fn of(m: &Moment) -> Frame {
        let (sin_mu, cos_mu) = m.mu.value.sin_cos();
        Frame {
            east: [sin_mu, cos_mu, 0.0],
            north: [-m.sin_d * cos_mu, m.sin_d * sin_mu, m.cos_d],
            sunward: [m.cos_d * cos_mu, -m.cos_d * sin_mu, m.sin_d],
        }
    }

    /// A vector of the fundamental frame in the terrestrial frame.
    pub fn to_terrestrial(&self, v: Vec3) -> Vec3 {
        add(add(scale(self.east, v[0]), scale(self.north, v[1])), scale(self.sunward, v[2]))
    }
}
