//! The Sun's way across the sky during an eclipse, as a skyline needs it.

use noonfall_ephemeris::Tt;
use noonfall_shadow::{Eclipse, LocalCircumstances, Site};

/// Seconds between computed places of the Sun.
const EVERY_S: f64 = 20.0;

/// The Sun at an instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SunPoint {
    /// The instant.
    pub tt: Tt,
    /// Azimuth from north through east, degrees.
    pub azimuth_deg: f64,
    /// Altitude of the centre as seen, refraction included, degrees.
    pub apparent_altitude_deg: f64,
}

/// The Sun's way from first to fourth contact.
#[derive(Clone, Debug, PartialEq)]
pub struct SunTrack {
    /// In the order of time; azimuths run on without a jump.
    points: Vec<SunPoint>,
    /// Radius of the Sun's disc, degrees.
    pub radius_deg: f64,
    /// Second contact.
    pub c2: Option<Tt>,
    /// Maximum.
    pub max: Option<Tt>,
    /// Third contact.
    pub c3: Option<Tt>,
}

/// The Sun between two instants, in equal steps, and its radius at the end, degrees.
fn sampled(eclipse: &Eclipse, site: &Site, from: Tt, to: Tt, steps: f64) -> (Vec<SunPoint>, f64) {
    let mut radius_deg = 0.0;
    let points = (0..=steps as u32).map(|i| {
        let view = eclipse.view(site, from.plus((to - from) * f64::from(i) / steps));
        radius_deg = view.sun_radius_arcsec / 3600.0;
        SunPoint {
            tt: view.tt,
            azimuth_deg: view.sun_azimuth_deg,
            apparent_altitude_deg: view.sun_apparent_altitude_deg,
        }
    });
    (points.collect(), radius_deg)
}

impl SunTrack {
    /// The track at a site; `None` where there is no eclipse.
    pub fn of(eclipse: &Eclipse, site: &Site, local: &LocalCircumstances) -> Option<SunTrack> {
        let (c1, c4) = (local.c1?.tt, local.c4?.tt);
        let steps = ((c4 - c1) / EVERY_S).ceil().clamp(1.0, 5000.0);
        let (points, radius_deg) = sampled(eclipse, site, c1, c4, steps);
        let of = |contact: Option<noonfall_shadow::Contact>| contact.map(|c| c.tt);
        SunTrack::new(points, radius_deg, of(local.c2), of(local.max), of(local.c3))
    }

    /// The track from second to third contact only, for a search that asks nothing else.
    pub fn in_totality(eclipse: &Eclipse, site: &Site, c2: Tt, max: Tt, c3: Tt) -> Option<SunTrack> {
        let steps = ((c3 - c2) / EVERY_S).ceil().clamp(2.0, 100.0);
        let (points, radius_deg) = sampled(eclipse, site, c2, c3, steps);
        SunTrack::new(points, radius_deg, Some(c2), Some(max), Some(c3))
    }

    /// A track from its points in the order of time; `None` for fewer than two or when a number is not finite.
    pub fn new(
        mut points: Vec<SunPoint>,
        radius_deg: f64,
        c2: Option<Tt>,
        max: Option<Tt>,
        c3: Option<Tt>,
    ) -> Option<SunTrack> {
        let finite =
            |p: &SunPoint| p.tt.0.is_finite() && p.azimuth_deg.is_finite() && p.apparent_altitude_deg.is_finite();
        if points.len() < 2 || !points.iter().all(finite) || !radius_deg.is_finite() {
            return None;
        }
        for i in 1..points.len() {
            let before = points[i - 1].azimuth_deg;
            let turn = (points[i].azimuth_deg - before + 540.0).rem_euclid(360.0) - 180.0;
            points[i].azimuth_deg = before + turn;
        }
        Some(SunTrack { points, radius_deg, c2, max, c3 })
    }

    /// The points.
    pub fn points(&self) -> &[SunPoint] {
        &self.points
    }

    /// The Sun at an instant, between the points; at the ends before and after them.
    pub fn at(&self, tt: Tt) -> SunPoint {
        let after = self.points.partition_point(|p| p.tt.0 <= tt.0).clamp(1, self.points.len() - 1);
        let (a, b) = (self.points[after - 1], self.points[after]);
        let length = b.tt - a.tt;
        let t = if length > 0.0 { ((tt - a.tt) / length).clamp(0.0, 1.0) } else { 0.0 };
        SunPoint {
            tt,
            azimuth_deg: a.azimuth_deg + (b.azimuth_deg - a.azimuth_deg) * t,
            apparent_altitude_deg: a.apparent_altitude_deg + (b.apparent_altitude_deg - a.apparent_altitude_deg) * t,
        }
    }

    /// Least and greatest azimuth, running on without a jump, degrees.
    pub fn azimuths_deg(&self) -> (f64, f64) {
        let of = |start: f64, pick: fn(f64, f64) -> f64| self.points.iter().map(|p| p.azimuth_deg).fold(start, pick);
        (of(f64::INFINITY, f64::min), of(f64::NEG_INFINITY, f64::max))
    }
}
