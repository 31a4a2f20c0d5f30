//! What the shadow of one eclipse contributes to the polynomials of every site.
//!
//! A place stands at (A, B, Z) in the terrestrial frame. Its coordinates in the fundamental frame are linear in these
//! three, and so is everything that decides its eclipse: the offset (u, v) to the axis, the height ζ, the radii of the
//! cones in its plane. Each is therefore `constant(t) + A p(t) + B q(t) + Z r(t)` with functions of time that belong to
//! the eclipse. They are fitted once; a site's own polynomial is three multiplications and additions a coefficient, and
//! contains no sine or cosine.

use super::lanes::{Lanes, all};
use crate::conventions::Conventions;
use crate::elements::{BesselianElements, HALF_SPAN_S, Moment};
use crate::polynomial::fit;
use fearless_simd::Simd;
use fearless_simd::prelude::*;

/// Coefficients of the offset from the axis: the Earth turns through ±54° over the span, and degree ten follows its sine
/// to 2e-11 Earth radii.
pub(super) const FINE: usize = 11;

/// Coefficients where 1e-8 is enough: radii of the cones (ζ is multiplied by 0.005) and directions.
pub(super) const COARSE: usize = 9;

/// `constant`, and the factors of A, B and Z.
#[derive(Clone, Debug)]
pub(super) struct Linear<const N: usize>([[f64; N]; 4]);

/// A site's polynomial in the scaled time, eight sites side by side.
#[derive(Clone, Copy)]
pub(super) struct SitePolynomial<S: Simd, const N: usize>([Lanes<S>; N]);

/// Where eight sites stand, Earth radii in the terrestrial frame.
#[derive(Clone, Copy)]
pub(super) struct Places<S: Simd> {
    pub a: Lanes<S>,
    pub b: Lanes<S>,
    pub z: Lanes<S>,
}

/// The functions of time of one eclipse. Time is scaled: −1 to 1 over the span of the elements.
#[derive(Clone, Debug)]
pub(super) struct Basis {
    /// From the place to the axis, eastwards.
    pub u: Linear<FINE>,
    /// From the place to the axis, northwards.
    pub v: Linear<FINE>,
    /// The place above the fundamental plane.
    pub zeta: Linear<COARSE>,
    /// Radius of the penumbra in the place's plane.
    pub penumbra: Linear<COARSE>,
    /// Radius of the umbra in the place's plane, negative where total.
    pub umbra: Linear<COARSE>,
    /// Distance of the Moon from the fundamental plane.
    pub moon_z: [f64; 5],
    /// Its rate, per unit of scaled time.
    pub moon_z_rate: [f64; 4],
    /// Distance of the Sun from the fundamental plane.
    pub sun_z: [f64; 3],
    /// Direction of the Sun from the Earth's centre in the terrestrial frame, of unit length.
    pub sun: [[f64; COARSE]; 3],
    /// One over the Sun's distance: the Sun's parallax in radians.
    pub sun_parallax: f64,
    /// Radius of the Sun, Earth radii.
    pub sun_radius: f64,
    /// Radius of the Moon for exterior contacts, Earth radii.
    pub moon_radius: f64,
}

impl Basis {
    pub(super) fn of(elements: &BesselianElements, conventions: &Conventions) -> Basis {
        let at = |s: f64| elements.at(elements.epoch().plus(s * HALF_SPAN_S));
        // ξ = A sin µ + B cos µ; the place's distance towards the shadow's meridian is A cos µ − B sin µ.
        let xi = |m: &Moment| [0.0, m.mu.value.sin(), m.mu.value.cos(), 0.0];
        let across = |m: &Moment| [0.0, m.mu.value.cos(), -m.mu.value.sin(), 0.0];
        let eta = |m: &Moment| {
            let [_, a, b, _] = across(m);
            [0.0, -a * m.sin_d, -b * m.sin_d, m.cos_d]
        };
        let zeta = |m: &Moment| {
            let [_, a, b, _] = across(m);
            [0.0, a * m.cos_d, b * m.cos_d, m.sin_d]
        };
        let plane = |constant: f64, slope: f64, zeta: [f64; 4], own: [f64; 4]| {
            let mut sum: [f64; 4] = std::array::from_fn(|i| slope * zeta[i] - own[i]);
            sum[0] += constant;
            sum
        };
        let middle = at(0.0);
        let sun_distance = middle.moon_z.value + middle.sun_beyond_moon;
        let sun = |axis: usize, s: f64| {
            let m = at(s);
            let seen = [m.x.value, m.y.value, m.moon_z.value + m.sun_beyond_moon];
            let direction = crate::relation::Frame::of(&m).to_terrestrial(seen);
            direction[axis] / noonfall_ephemeris::vector::norm(direction)
        };
        let moon_z: [f64; 5] = fit(|s| at(s).moon_z.value);
        Basis {
            u: linear(|s| {
                let m = at(s);
                plane(m.x.value, m.slope[0], zeta(&m), xi(&m))
            }),
            v: linear(|s| {
                let m = at(s);
                plane(m.y.value, m.slope[1], zeta(&m), eta(&m))
            }),
            zeta: linear(|s| zeta(&at(s))),
            penumbra: linear(|s| {
                let m = at(s);
                plane(m.l1.value, -m.tan_f1, zeta(&m), [0.0; 4])
            }),
            umbra: linear(|s| {
                let m = at(s);
                plane(m.l2.value, -m.tan_f2, zeta(&m), [0.0; 4])
            }),
            moon_z_rate: std::array::from_fn(|k| moon_z[k + 1] * (k + 1) as f64),
            moon_z,
            sun_z: fit(|s| at(s).moon_z.value + at(s).sun_beyond_moon),
            sun: std::array::from_fn(|axis| fit(|s| sun(axis, s))),
            sun_parallax: 1.0 / sun_distance,
            sun_radius: conventions.sun_radius_km / conventions.earth_equatorial_radius_km,
            moon_radius: conventions.moon_k_exterior,
        }
    }
}

fn linear<const N: usize>(f: impl Fn(f64) -> [f64; 4]) -> Linear<N> {
    Linear(std::array::from_fn(|part| fit(|s| f(s)[part])))
}

impl<const N: usize> Linear<N> {
    /// The polynomials of eight sites.
    #[inline(always)]
    pub(super) fn at<S: Simd>(&self, places: &Places<S>) -> SitePolynomial<S, N> {
        let [constant, a, b, z] = &self.0;
        let mut out = [all(places.a.token(), 0.0); N];
        for k in 0..N {
            out[k] = places.a * a[k] + constant[k] + (places.b * b[k] + places.z * z[k]);
        }
        SitePolynomial(out)
    }
}

impl<S: Simd, const N: usize> SitePolynomial<S, N> {
    #[inline(always)]
    pub(super) fn value(&self, s: Lanes<S>) -> Lanes<S> {
        let mut value = self.0[N - 1];
        for k in (0..N - 1).rev() {
            value = value * s + self.0[k];
        }
        value
    }

    /// Value and rate, per unit of scaled time.
    #[inline(always)]
    pub(super) fn with_rate(&self, s: Lanes<S>) -> (Lanes<S>, Lanes<S>) {
        let mut value = self.0[N - 1];
        let mut rate = value;
        for k in (1..N - 1).rev() {
            value = value * s + self.0[k];
            rate = rate * s + value;
        }
        (value * s + self.0[0], rate)
    }

    /// Value, rate and half the acceleration.
    #[inline(always)]
    pub(super) fn with_half_acceleration(&self, s: Lanes<S>) -> (Lanes<S>, Lanes<S>, Lanes<S>) {
        let mut value = self.0[N - 1];
        let mut rate = value;
        let mut half = value;
        for k in (2..N - 1).rev() {
            value = value * s + self.0[k];
            rate = rate * s + value;
            half = half * s + rate;
        }
        value = value * s + self.0[1];
        rate = rate * s + value;
        (value * s + self.0[0], rate, half)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Eclipse;
    use crate::contacts::{Cone, Snapshot};
    use crate::relation::Station;
    use crate::site::Site;
    use noonfall_ephemeris::Kernel;

    /// The site's polynomials against the relation computed directly: a millimetre in the offset, a centimetre in the
    /// radii, 0.000 01° in the Sun's direction.
    #[test]
    fn agrees_with_the_direct_relation() {
        let conventions = Conventions::default();
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &conventions).unwrap();
        let basis = Basis::of(eclipse.elements(), &conventions);
        let site = Site::new(-23.7, 133.9, 545.0).unwrap();
        let station = Station::new(&site, &conventions);
        fearless_simd::dispatch!(fearless_simd::Level::new(), simd => compare(simd, &eclipse, &basis, &station));
    }

    fn compare<S: Simd>(simd: S, eclipse: &Eclipse, basis: &Basis, station: &Station) {
        let (sin, cos) = station.longitude_rad.sin_cos();
        let places = Places {
            a: all(simd, station.rho_cos * cos),
            b: all(simd, station.rho_cos * sin),
            z: all(simd, station.rho_sin),
        };
        for k in -50..=50 {
            let s = f64::from(k) / 50.0;
            let at = all(simd, s);
            let snapshot = Snapshot::at(eclipse.elements(), station, eclipse.elements().epoch().plus(s * HALF_SPAN_S));
            let r = &snapshot.relation;
            let close = |found: Lanes<S>, expected: f64, within: f64| {
                assert!((found[0] - expected).abs() < within, "{s}: {} {expected}", found[0]);
            };
            let (u, u_rate, u_half) = basis.u.at(&places).with_half_acceleration(at);
            close(u, r.u, 1.5e-10);
            close(u_rate, r.u_rate * HALF_SPAN_S, 1e-8);
            close(u_half, 0.5 * r.u_acceleration * HALF_SPAN_S * HALF_SPAN_S, 1e-3);
            close(basis.v.at(&places).with_rate(at).1, r.v_rate * HALF_SPAN_S, 1e-8);
            close(basis.v.at(&places).value(at), r.v, 1.5e-10);
            close(basis.zeta.at(&places).value(at), r.zeta, 1e-7);
            close(basis.penumbra.at(&places).value(at), snapshot.radius(Cone::Penumbra).0, 1e-9);
            close(basis.umbra.at(&places).value(at), snapshot.radius(Cone::Umbra).0, 1e-9);
            close(super::super::lanes::series(at, &basis.moon_z), snapshot.moment.moon_z.value, 1e-5);
        }
    }
}
