//! Everything a place sees of an eclipse: contacts, duration, magnitude.

use crate::contacts::{Cone, Snapshot, least_separation, sweep};
use crate::eclipse::Eclipse;
use crate::kind::Phase;
use crate::relation::Station;
use crate::roots::bisected;
use crate::site::Site;
use crate::view::View;
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::wrap_360;

/// Airless altitude of the Sun's centre at which its upper limb meets a level horizon, degrees: 34′ of refraction and
/// 16′ of radius (the almanacs' convention).
const RISING_ALTITUDE_DEG: f64 = -50.0 / 60.0;

/// One instant of the eclipse at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// The instant.
    pub tt: Tt,
    /// Airless altitude of the Sun's centre, degrees.
    pub sun_altitude_deg: f64,
    /// The same with refraction.
    pub sun_apparent_altitude_deg: f64,
    /// Azimuth from north through east, degrees.
    pub sun_azimuth_deg: f64,
    /// Position angle of the point of contact on the Sun's limb, from celestial north through east; at maximum, of the
    /// Moon's centre as seen from the Sun's. Degrees in [0, 360).
    pub position_angle_deg: f64,
    /// The same counted from the zenith.
    pub vertex_angle_deg: f64,
    /// Whether the Sun's centre, lifted by refraction, is above a level horizon.
    pub above_horizon: bool,
}

/// All a place sees.
#[derive(Clone, Debug, PartialEq)]
pub struct LocalCircumstances {
    /// The most the place gets, whether or not the Sun is up.
    pub phase: Phase,
    /// First contact: the partial phase begins.
    pub c1: Option<Contact>,
    /// Second contact: totality or the ring begins.
    pub c2: Option<Contact>,
    /// Least separation of the centres; `None` only where there is no eclipse.
    pub max: Option<Contact>,
    /// Third contact: totality or the ring ends.
    pub c3: Option<Contact>,
    /// Fourth contact: the partial phase ends.
    pub c4: Option<Contact>,
    /// From second to third contact, seconds; 0 where there is neither.
    pub duration_s: f64,
    /// Local magnitude at maximum.
    pub magnitude: f64,
    /// Obscuration at maximum.
    pub obscuration: f64,
    /// Size ratio at maximum.
    pub size_ratio: f64,
    /// Sunrise between first and fourth contact (upper limb, level horizon).
    pub sunrise: Option<Tt>,
    /// Sunset between first and fourth contact (upper limb, level horizon).
    pub sunset: Option<Tt>,
}

/// The part that a search of many places needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct QuickCircumstances {
    /// The most the place gets.
    pub phase: Phase,
    /// Second contact, if any.
    pub c2: Option<Tt>,
    /// Least separation of the centres.
    pub max: Tt,
    /// Third contact, if any.
    pub c3: Option<Tt>,
    /// Seconds from second to third contact, 0 without.
    pub duration_s: f64,
    /// Airless altitude of the Sun's centre at maximum, degrees.
    pub sun_altitude_deg: f64,
    /// Azimuth of the Sun's centre at maximum, degrees.
    pub sun_azimuth_deg: f64,
}

/// Full circumstances of a place.
pub(crate) fn local(eclipse: &Eclipse, site: &Site) -> LocalCircumstances {
    let elements = eclipse.elements();
    let station = Station::new(site, eclipse.conventions());
    let snapshot = |tt: Tt| Snapshot::at(elements, &station, tt);
    let view = |s: &Snapshot| View::of(s, &station, eclipse.conventions());

    let max_tt = least_separation(elements, &station);
    let Some(penumbra) = sweep(elements, &station, Cone::Penumbra, max_tt) else {
        return LocalCircumstances::none();
    };
    let umbra = sweep(elements, &station, Cone::Umbra, max_tt);
    let total = umbra.is_some_and(|u| snapshot(u.deepest).radius(Cone::Umbra).0 < 0.0);
    let phase = match umbra {
        None => Phase::Partial,
        Some(_) if total => Phase::Total,
        Some(_) => Phase::Annular,
    };
    let contact = |tt: Tt, turn_deg: f64| Contact::of(&view(&snapshot(tt)), turn_deg);
    // Inside a larger Moon the last thread of Sun is opposite the Moon's centre.
    let interior_turn_deg = if total { 180.0 } else { 0.0 };
    let at_max = view(&snapshot(max_tt));
    let (c1, c4) = (contact(penumbra.first, 0.0), contact(penumbra.last, 0.0));
    let known = [(c1.tt, c1.sun_altitude_deg), (max_tt, at_max.sun_altitude_deg), (c4.tt, c4.sun_altitude_deg)];
    let (sunrise, sunset) = if stays_on_one_side(&known) {
        (None, None)
    } else {
        horizon_crossings(c1.tt, c4.tt, |tt| view(&snapshot(tt)).sun_altitude_deg)
    };
    LocalCircumstances {
        phase,
        c1: Some(c1),
        c2: umbra.map(|u| contact(u.first, interior_turn_deg)),
        max: Some(Contact::of(&at_max, 0.0)),
        c3: umbra.map(|u| contact(u.last, interior_turn_deg)),
        c4: Some(c4),
        duration_s: umbra.map_or(0.0, |u| u.last - u.first),
        magnitude: at_max.magnitude(),
        obscuration: at_max.obscuration(),
        size_ratio: at_max.size_ratio(),
        sunrise,
        sunset,
    }
}

/// The part of the circumstances that a search needs.
pub(crate) fn quick(eclipse: &Eclipse, site: &Site) -> QuickCircumstances {
    let elements = eclipse.elements();
    let station = Station::new(site, eclipse.conventions());
    let max = least_separation(elements, &station);
    let at_max = Snapshot::at(elements, &station, max);
    let sun = station.sun(&at_max.moment, &at_max.relation);
    let umbra = sweep(elements, &station, Cone::Umbra, max);
    let (penumbra_radius, _) = at_max.radius(Cone::Penumbra);
    let phase = match umbra {
        Some(u) if Snapshot::at(elements, &station, u.deepest).radius(Cone::Umbra).0 < 0.0 => Phase::Total,
        Some(_) => Phase::Annular,
        None if at_max.relation.distance() < penumbra_radius => Phase::Partial,
        None => Phase::None,
    };
    QuickCircumstances {
        phase,
        c2: umbra.map(|u| u.first),
        max,
        c3: umbra.map(|u| u.last),
        duration_s: umbra.map_or(0.0, |u| u.last - u.first),
        sun_altitude_deg: sun.altitude_deg,
        sun_azimuth_deg: sun.azimuth_deg,
    }
}

impl Contact {
    fn of(view: &View, turn_deg: f64) -> Contact {
        let position_angle_deg = wrap_360(view.moon_position_angle_deg + turn_deg);
        Contact {
            tt: view.tt,
            sun_altitude_deg: view.sun_altitude_deg,
            sun_apparent_altitude_deg: view.sun_apparent_altitude_deg,
            sun_azimuth_deg: view.sun_azimuth_deg,
            position_angle_deg,
            vertex_angle_deg: wrap_360(position_angle_deg - view.parallactic_angle_deg),
            above_horizon: view.above_horizon(),
        }
    }
}

impl LocalCircumstances {
    /// No eclipse at the place.
    fn none() -> LocalCircumstances {
        LocalCircumstances {
            phase: Phase::None,
            c1: None,
            c2: None,
            max: None,
            c3: None,
            c4: None,
            duration_s: 0.0,
            magnitude: 0.0,
            obscuration: 0.0,
            size_ratio: 0.0,
            sunrise: None,
            sunset: None,
        }
    }

    /// Whether the Sun is above a level horizon throughout the central phase (at maximum, where there is none).
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// let sydney = Site::new(-33.87, 151.21, 0.0).unwrap();
    /// assert!(eclipse.local(&sydney).sun_up_in_central_phase());
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn sun_up_in_central_phase(&self) -> bool {
        let whole = [self.c2, self.c3].into_iter().flatten().all(|c| c.above_horizon);
        whole && self.max.is_some_and(|c| c.above_horizon)
    }
}

/// The Sun climbs and sinks no faster than the sky turns, 15.04° an hour; the room is for its own motion and its parallax.
const FASTEST_DEG_S: f64 = 15.1 / 3600.0;

/// Whether the Sun cannot have crossed the horizon between instants at which its altitude is known: on most of a path it is too high,
/// and nobody need look for sunrise or sunset step by step.
fn stays_on_one_side(known: &[(Tt, f64)]) -> bool {
    known.windows(2).all(|pair| {
        let ((from, before), (to, after)) = (pair[0], pair[1]);
        let middle = 0.5 * (before + after) - RISING_ALTITUDE_DEG;
        middle.abs() > 0.5 * FASTEST_DEG_S * (to - from)
    })
}

/// Sunrise and sunset between two instants. The Sun's altitude over a few hours crosses the horizon at most once each
/// way, so steps of a few minutes miss nothing but a Sun that stays within an arcminute of the horizon.
fn horizon_crossings(from: Tt, to: Tt, altitude_deg: impl Fn(Tt) -> f64) -> (Option<Tt>, Option<Tt>) {
    const STEPS: usize = 24;
    let above = |tt: Tt| altitude_deg(tt) - RISING_ALTITUDE_DEG;
    let (mut rise, mut set) = (None, None);
    let mut before = (from, above(from));
    for k in 1..=STEPS {
        let tt = from.plus((to - from) * k as f64 / STEPS as f64);
        let now = (tt, above(tt));
        if (before.1 > 0.0) != (now.1 > 0.0) {
            let rising = now.1 > 0.0;
            let (low, high) = bisected(|at| (above(Tt(at)) > 0.0) != rising, before.0.0, tt.0, 30);
            let crossing = Some(Tt(0.5 * (low + high)));
            if rising { rise = crossing } else { set = crossing }
        }
        before = now;
    }
    (rise, set)
}

impl Eclipse {
    /// Full circumstances of a place.
    ///
    /// # Units
    /// Instants in TT, angles in degrees, durations in seconds; the Moon is smooth (`moon_edge` has the true edge).
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// let sydney = Site::new(-33.87, 151.21, 0.0).unwrap();
    /// let seen = eclipse.local(&sydney);
    /// // 3 min 48 s of totality, the Sun 29° high in the north-west.
    /// assert!((seen.duration_s - 228.26).abs() < 0.05);
    /// assert!((seen.max.unwrap().sun_altitude_deg - 28.88).abs() < 0.01);
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn local(&self, site: &Site) -> LocalCircumstances {
        local(self, site)
    }

    /// The part of the circumstances that a search of many places needs.
    ///
    /// # Units
    /// As [`Eclipse::local`].
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// let sydney = Site::new(-33.87, 151.21, 0.0).unwrap();
    /// assert!((eclipse.quick(&sydney).duration_s - eclipse.local(&sydney).duration_s).abs() < 1e-6);
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn quick(&self, site: &Site) -> QuickCircumstances {
        quick(self, site)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conventions::Conventions;
    use noonfall_ephemeris::{GeoPoint, Kernel};

    /// Sunrise and sunset are not looked for where the Sun is too high or too low for them: the same comes out as by looking everywhere.
    #[test]
    fn no_sunrise_and_no_sunset_is_passed_over() {
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let (mut looked, mut crossed, mut spared) = (0, 0, 0);
        for lat_deg in (-85..=85).step_by(5) {
            for lon_deg in (-180..180).step_by(5) {
                let site = Site::at_sea_level(GeoPoint { lat_deg: f64::from(lat_deg), lon_deg: f64::from(lon_deg) });
                let local = eclipse.local(&site);
                let (Some(c1), Some(max), Some(c4)) = (local.c1, local.max, local.c4) else { continue };
                let plain = horizon_crossings(c1.tt, c4.tt, |tt| eclipse.view(&site, tt).sun_altitude_deg);
                assert_eq!((local.sunrise, local.sunset), plain, "{lat_deg} {lon_deg}");
                looked += 1;
                crossed += usize::from(plain != (None, None));
                spared += usize::from(stays_on_one_side(&[c1, max, c4].map(|c| (c.tt, c.sun_altitude_deg))));
            }
        }
        assert!(crossed > 50 && spared > 500, "{looked} {crossed} {spared}");
    }
}
