//! Greatest eclipse: when the axis passes closest to the Earth's centre, and what the handbooks give for that instant.

use crate::contacts::{Cone, Snapshot, sweep};
use crate::conventions::Conventions;
use crate::elements::BesselianElements;
use crate::kind::Kind;
use crate::relation::Station;
use crate::site::Site;
use crate::surface::{ShadowLine, Surface};
use crate::view::View;
use noonfall_ephemeris::{GeoPoint, Tt};

/// What is given for the instant of greatest eclipse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Greatest {
    /// The instant.
    pub tt: Tt,
    /// The place under the axis, or, where the axis misses the Earth, the place nearest to it.
    pub point: GeoPoint,
    /// Distance of the axis from the Earth's centre, Earth radii, positive north.
    pub gamma: f64,
    /// Size ratio (interior k) of a central eclipse, local magnitude (exterior k) of a partial one, at the place.
    pub magnitude: f64,
    /// Airless altitude of the Sun's centre at the place, degrees.
    pub sun_altitude_deg: f64,
    /// The same with refraction.
    pub sun_apparent_altitude_deg: f64,
    /// Azimuth of the Sun's centre at the place, degrees.
    pub sun_azimuth_deg: f64,
    /// Duration of the central phase at the place, seconds.
    pub central_duration_s: Option<f64>,
    /// Width of the path by the plane formula of the Explanatory Supplement, km; only where the axis meets the Earth.
    pub path_width_km: Option<f64>,
}

impl Greatest {
    pub(crate) fn of(elements: &BesselianElements, kind: Kind, tt: Tt, conventions: &Conventions) -> Greatest {
        let m = elements.at(tt);
        let surface = Surface::at_height(conventions, 0.0);
        let axis = ShadowLine::axis(&m);
        let hit = surface.meet(&m, &axis);
        let place = hit.unwrap_or_else(|| surface.nearest(&m, &axis));
        let station = Station::new(&Site::at_sea_level(place.point), conventions);
        let snapshot = Snapshot::at(elements, &station, tt);
        let view = View::of(&snapshot, &station, conventions);
        let umbra = if kind == Kind::Partial { None } else { sweep(elements, &station, Cone::Umbra, tt) };
        let distance = m.x.value.hypot(m.y.value);
        Greatest {
            tt,
            point: place.point,
            gamma: if m.y.value < 0.0 { -distance } else { distance },
            magnitude: if kind == Kind::Partial { view.magnitude() } else { view.size_ratio() },
            sun_altitude_deg: view.sun_altitude_deg,
            sun_apparent_altitude_deg: view.sun_apparent_altitude_deg,
            sun_azimuth_deg: view.sun_azimuth_deg,
            central_duration_s: umbra.map(|u| u.last - u.first),
            path_width_km: hit.filter(|_| umbra.is_some()).map(|_| plane_width_km(&snapshot, conventions)),
        }
    }
}

/// Width of the path by the plane formula: the umbra's diameter across the path, stretched by the slope of the ground
/// against the axis (Explanatory Supplement 1961, ch. 9: width = 2 |L2| / K with
/// K² = ζ² + [(ξ u̇ + η v̇)/n]²).
fn plane_width_km(s: &Snapshot, conventions: &Conventions) -> f64 {
    let r = &s.relation;
    let (radius, _) = s.radius(Cone::Umbra);
    let along = (r.xi * r.u_rate + r.eta * r.v_rate) / r.speed();
    let k = (r.zeta * r.zeta + along * along).sqrt();
    2.0 * conventions.earth_equatorial_radius_km * radius.abs() / k
}
