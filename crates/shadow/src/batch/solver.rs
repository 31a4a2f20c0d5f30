//! The contacts of eight sites at once, without a branch that depends on a site.
//!
//! Every root is found by a fixed number of Newton steps from a close guess. The last step tells whether the iteration has
//! settled; the rare site where it has not is marked, and the caller computes it by the plain one-site path. A site's
//! numbers therefore never depend on its neighbours.
//!
//! Time is scaled throughout: −1 to 1 over the span of the elements.

use super::basis::{Basis, COARSE, FINE, Places, SitePolynomial};
use super::lanes::{Lanes, Mask, all, atan2_deg, clamp, larger, series, sin_cos_deg};
use crate::elements::HALF_SPAN_S;
use fearless_simd::Simd;
use fearless_simd::prelude::*;

/// Newton steps towards least separation, from the middle of the eclipse.
const STEPS_TO_MAXIMUM: usize = 6;

/// Newton steps from least separation to the deepest point inside a cone, seconds away.
const STEPS_TO_DEEPEST: usize = 2;

/// Newton steps to an exterior contact, from a guess that is minutes off.
const STEPS_TO_EXTERIOR: usize = 4;

/// Newton steps to an interior contact, from a guess that is seconds off.
const STEPS_TO_INTERIOR: usize = 3;

/// A last step below a millisecond, in scaled time, leaves an error below a microsecond: the error of a Newton step is
/// about the square of the step times the curvature, less than 1e-2 per second for any but the barest grazing contact.
const SETTLED: f64 = 1e-3 / HALF_SPAN_S;

/// The figure of the Earth as far as places need it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Figure {
    pub equatorial_radius_m: f64,
    pub polar_ratio_squared: f64,
}

/// An instant in seconds from the epoch of the elements, with the Sun's direction, degrees.
#[derive(Clone, Copy)]
pub(super) struct Instant<S: Simd> {
    pub after_epoch_s: Lanes<S>,
    pub altitude_deg: Lanes<S>,
    pub azimuth_deg: Lanes<S>,
}

/// What of the shadow passes over the sites, and when it is deepest.
pub(super) struct Maximum<S: Simd> {
    /// Least separation.
    pub at: Lanes<S>,
    /// Sites that see at least a partial eclipse.
    pub partial: Mask<S>,
    /// Sites inside the path of the central phase.
    pub central: Mask<S>,
    /// Of those, where the eclipse is total.
    pub total: Mask<S>,
    /// Sites for which the iteration has not settled.
    pub unsettled: Mask<S>,
    umbra: Passage<S>,
    penumbra: Passage<S>,
}

/// The passage of a cone over the sites, to first order.
#[derive(Clone, Copy)]
struct Passage<S: Simd> {
    deepest: Lanes<S>,
    /// Half the time between the crossings of a parabola of that depth.
    half: Lanes<S>,
    inside: Mask<S>,
    settled: Mask<S>,
}

/// Eight sites: their polynomials and their axes.
pub(super) struct Sites<'a, S: Simd> {
    simd: S,
    basis: &'a Basis,
    places: Places<S>,
    sin_lat: Lanes<S>,
    cos_lat: Lanes<S>,
    sin_lon: Lanes<S>,
    cos_lon: Lanes<S>,
    u: SitePolynomial<S, FINE>,
    v: SitePolynomial<S, FINE>,
    zeta: SitePolynomial<S, COARSE>,
    penumbra: SitePolynomial<S, COARSE>,
    umbra: SitePolynomial<S, COARSE>,
}

impl<'a, S: Simd> Sites<'a, S> {
    #[inline(always)]
    pub(super) fn at(
        basis: &'a Basis,
        figure: Figure,
        lat_deg: Lanes<S>,
        lon_deg: Lanes<S>,
        elevation_m: Lanes<S>,
    ) -> Self {
        let simd = lat_deg.token();
        let lon_deg = lon_deg.simd_gt(all(simd, 180.0)).select(lon_deg - 360.0, lon_deg);
        let (sin_lat, cos_lat) = sin_cos_deg(lat_deg);
        let (sin_lon, cos_lon) = sin_cos_deg(lon_deg);
        // As `Ellipsoid::terrestrial_km`, in equatorial radii.
        let q = figure.polar_ratio_squared;
        let normal = 1.0 / (cos_lat * cos_lat + sin_lat * sin_lat * q).sqrt();
        let height = elevation_m * (1.0 / figure.equatorial_radius_m);
        let across = (normal + height) * cos_lat;
        let places = Places { a: across * cos_lon, b: across * sin_lon, z: (normal * q + height) * sin_lat };
        Sites {
            simd,
            u: basis.u.at(&places),
            v: basis.v.at(&places),
            zeta: basis.zeta.at(&places),
            penumbra: basis.penumbra.at(&places),
            umbra: basis.umbra.at(&places),
            basis,
            places,
            sin_lat,
            cos_lat,
            sin_lon,
            cos_lon,
        }
    }

    /// Least separation, and what of the shadow passes over the sites; see [`crate::contacts::least_separation`].
    #[inline(always)]
    pub(super) fn maximum(&self) -> Maximum<S> {
        let mut s = all(self.simd, 0.0);
        let mut step = s;
        let mut bend = s;
        for _ in 0..STEPS_TO_MAXIMUM {
            let (u, u_rate, u_half) = self.u.with_half_acceleration(s);
            let (v, v_rate, v_half) = self.v.with_half_acceleration(s);
            let (zeta, zeta_rate) = self.zeta.with_rate(s);
            let to_moon = series(s, &self.basis.moon_z) - zeta;
            let to_sun = series(s, &self.basis.sun_z) - zeta;
            let approach = series(s, &self.basis.moon_z_rate) - zeta_rate;
            let shrink = -approach * (to_moon + to_sun) / (to_moon * to_sun);
            let speed_squared = u_rate * u_rate + v_rate * v_rate;
            // Far outside the shadow the distance may bend the wrong way; half the speed keeps the step downhill.
            bend = larger(speed_squared + (u * u_half + v * v_half) * 2.0, speed_squared * 0.5);
            step = clamp((u * u_rate + v * v_rate + (u * u + v * v) * shrink) / bend, 0.6);
            s = clamp(s - step, 1.0);
        }
        let penumbra = self.passage(&self.penumbra, s, bend);
        let umbra = self.passage(&self.umbra, s, bend);
        let settled = step.abs().simd_lt(all(self.simd, SETTLED));
        let partial = penumbra.inside;
        let central = umbra.inside & partial;
        Maximum {
            at: s,
            partial,
            central,
            total: self.umbra.value(umbra.deepest).simd_lt(all(self.simd, 0.0)) & central,
            unsettled: !settled | (partial & !penumbra.settled) | (central & !umbra.settled),
            umbra,
            penumbra,
        }
    }

    /// Where in a cone the sites are deepest, near least separation. `bend` is half the curvature of the squared
    /// distance.
    #[inline(always)]
    fn passage(&self, cone: &SitePolynomial<S, COARSE>, near: Lanes<S>, bend: Lanes<S>) -> Passage<S> {
        let mut deepest = near;
        let mut step = near;
        for _ in 0..STEPS_TO_DEEPEST {
            let (u, u_rate) = self.u.with_rate(deepest);
            let (v, v_rate) = self.v.with_rate(deepest);
            let (radius, radius_rate) = cone.with_rate(deepest);
            step = (u * u_rate + v * v_rate - radius * radius_rate) / bend;
            deepest = clamp(deepest - step, 1.0);
        }
        let (u, v, radius) = (self.u.value(deepest), self.v.value(deepest), cone.value(deepest));
        let depth = radius * radius - (u * u + v * v);
        let zero = all(self.simd, 0.0);
        Passage {
            deepest,
            half: (larger(depth, zero) / bend).sqrt(),
            inside: depth.simd_gt(zero),
            // What is left of the error of the depth cannot change its sign.
            settled: (step * step * bend).simd_lt(depth.abs()),
        }
    }

    /// Second and third contact, and the sites for which the iteration has not settled.
    #[inline(always)]
    pub(super) fn interior(&self, maximum: &Maximum<S>) -> ([Lanes<S>; 2], Mask<S>) {
        let Passage { deepest, half, .. } = maximum.umbra;
        let mut contacts = [deepest - half, deepest + half];
        let mut settled = maximum.central;
        for s in &mut contacts {
            let mut step = *s;
            for _ in 0..STEPS_TO_INTERIOR {
                let (u, u_rate) = self.u.with_rate(*s);
                let (v, v_rate) = self.v.with_rate(*s);
                let (radius, radius_rate) = self.umbra.with_rate(*s);
                let outside = u * u + v * v - radius * radius;
                let rate = (u * u_rate + v * v_rate - radius * radius_rate) * 2.0;
                step = outside / rate;
                *s = clamp(*s - step, 1.0);
            }
            settled &= step.abs().simd_lt(all(self.simd, SETTLED));
        }
        // A contact that has slid over to its twin has not settled either.
        settled &= contacts[0].simd_lt(deepest) & deepest.simd_lt(contacts[1]);
        (contacts, maximum.central & !settled)
    }

    /// First and fourth contact, and the sites for which the iteration has not settled.
    ///
    /// Here m − L is the function: far from the middle it is almost straight in time, and Newton's steps are long.
    #[inline(always)]
    pub(super) fn exterior(&self, maximum: &Maximum<S>) -> ([Lanes<S>; 2], Mask<S>) {
        let Passage { deepest, half, .. } = maximum.penumbra;
        let mut contacts = [deepest - half, deepest + half];
        let mut settled = maximum.partial;
        for s in &mut contacts {
            let mut step = *s;
            for _ in 0..STEPS_TO_EXTERIOR {
                let (u, u_rate) = self.u.with_rate(*s);
                let (v, v_rate) = self.v.with_rate(*s);
                let (radius, radius_rate) = self.penumbra.with_rate(*s);
                let distance = (u * u + v * v).sqrt();
                step = (distance - radius) * distance / (u * u_rate + v * v_rate - distance * radius_rate);
                *s = clamp(*s - step, 1.0);
            }
            settled &= step.abs().simd_lt(all(self.simd, SETTLED));
        }
        settled &= contacts[0].simd_lt(deepest) & deepest.simd_lt(contacts[1]);
        (contacts, maximum.partial & !settled)
    }

    /// Local magnitude by the angular radii.
    #[inline(always)]
    pub(super) fn magnitude(&self, s: Lanes<S>) -> Lanes<S> {
        let (u, v) = (self.u.value(s), self.v.value(s));
        let zeta = self.zeta.value(s);
        let to_moon = series(s, &self.basis.moon_z) - zeta;
        let to_sun = series(s, &self.basis.sun_z) - zeta;
        let across_squared = u * u + v * v;
        // Angles below 0.02 rad: tangents and sines with their cubic terms leave 1e-8 of the angle.
        let across = across_squared.sqrt();
        let separation = small_atan(across / to_moon) - small_atan(across / to_sun);
        let sun = small_asin(self.basis.sun_radius / (across_squared + to_sun * to_sun).sqrt());
        let moon = small_asin(self.basis.moon_radius / (across_squared + to_moon * to_moon).sqrt());
        larger((sun + moon - separation) / (sun * 2.0), all(self.simd, 0.0))
    }

    /// Airless direction of the Sun's centre.
    #[inline(always)]
    pub(super) fn sun(&self, s: Lanes<S>) -> Instant<S> {
        let parallax = self.basis.sun_parallax;
        let x = series(s, &self.basis.sun[0]) - self.places.a * parallax;
        let y = series(s, &self.basis.sun[1]) - self.places.b * parallax;
        let z = series(s, &self.basis.sun[2]) - self.places.z * parallax;
        let meridian = x * self.cos_lon + y * self.sin_lon;
        let east = y * self.cos_lon - x * self.sin_lon;
        let north = z * self.cos_lat - meridian * self.sin_lat;
        let up = meridian * self.cos_lat + z * self.sin_lat;
        let azimuth_deg = atan2_deg(east, north);
        Instant {
            after_epoch_s: s * HALF_SPAN_S,
            altitude_deg: atan2_deg(up, (east * east + north * north).sqrt()),
            azimuth_deg: azimuth_deg.simd_lt(all(self.simd, 0.0)).select(azimuth_deg + 360.0, azimuth_deg),
        }
    }
}

#[inline(always)]
fn small_atan<S: Simd>(t: Lanes<S>) -> Lanes<S> {
    t - t * t * t * (1.0 / 3.0)
}

#[inline(always)]
fn small_asin<S: Simd>(t: Lanes<S>) -> Lanes<S> {
    t + t * t * t * (1.0 / 6.0)
}
