//! The stretch of the Moon's edge about the last and the first light, laid out straight for a drawing: how high the edge
//! stands, how far the Sun's limb reaches behind it at the contact, and where the beads are.
//!
//! Along the strip runs the angle about the Moon's centre, clockwise as the sky is seen with the zenith up, so that the
//! hours of the dial grow to the right and the Moon lies below.

use super::limb::clock_hour;
use super::totality::TotalityRules;
use noonfall_ephemeris::angle::{ARCSEC_PER_RAD, wrap_180, wrap_360};
use noonfall_shadow::moon_edge::{Bead, BeadSide, EdgeContact, EdgeSolver, TrueTotality};
use noonfall_shadow::{Site, View};

/// How far the strip goes to either side of the last or first light, degrees.
pub const STRIP_REACH_DEG: f64 = 40.0;

/// Step along it, degrees: some 3 km, nearly the heights' own.
const STEP_DEG: f64 = 0.1;

/// All round, for its mean, the edge is looked at in every so many of these steps: the mean changes by some metres.
const MEAN_STEPS: usize = 10;

/// Radius to which the profile's heights refer, km (IAU mean radius of the lunar grids).
const DATUM_KM: f64 = 1737.4;

/// One direction of a strip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StripPoint {
    /// Clockwise from the last or first light, degrees.
    pub along_deg: f64,
    /// The Moon's edge above its own mean, km.
    pub edge_km: f64,
    /// The Sun's limb above the same mean, km; none where the Sun has no limb in that direction.
    pub sun_km: Option<f64>,
}

/// A bead on a strip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StripBead {
    /// Clockwise from the last or first light, degrees, in (−180, 180].
    pub along_deg: f64,
    /// Seconds before second contact when it goes out, or after third contact when it appears.
    pub seconds: f64,
    /// For how long it stands apart, seconds.
    pub lasts_s: f64,
    /// Hour of the dial, zenith at 12, to the half hour.
    pub clock_hour: f64,
    /// The last light, or the first.
    pub extreme: bool,
}

/// The edge about one contact.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeStrip {
    /// Which contact.
    pub side: BeadSide,
    /// Where the strip's middle, the last or first light, stands on the dial: clockwise from the zenith about the Moon's
    /// centre, degrees.
    pub middle_clockwise_deg: f64,
    /// Hour of the dial of the last or first light.
    pub clock_hour: f64,
    /// From left to right.
    pub points: Vec<StripPoint>,
    /// In order of time.
    pub beads: Vec<StripBead>,
}

/// The strips of second and third contact at a place with a true totality.
pub fn edge_strips(
    rules: &TotalityRules,
    solver: &mut EdgeSolver<'_>,
    site: &Site,
    truth: &TrueTotality,
) -> [EdgeStrip; 2] {
    let beads = solver.beads(rules.eclipse(), site, rules.edge());
    [(BeadSide::C2, &truth.c2), (BeadSide::C3, &truth.c3)].map(|(side, contact)| {
        let own: Vec<&Bead> = beads.iter().filter(|bead| bead.side == side).collect();
        strip(rules, site, side, contact, &own)
    })
}

fn strip(rules: &TotalityRules, site: &Site, side: BeadSide, contact: &EdgeContact, beads: &[&Bead]) -> EdgeStrip {
    let view = rules.eclipse().view(site, contact.tt);
    let sun = SunBehind::of(&view, rules.edge().sun_radius_km);
    let middle_deg = sun.about_the_moon_deg(contact.position_angle_deg);
    let within = |angle_deg: f64| wrap_180(angle_deg - middle_deg).abs() <= STRIP_REACH_DEG;
    let profile = |wanted: &dyn Fn(usize, f64) -> bool| {
        rules.eclipse().edge_profile_where(site, rules.heights(), contact.tt, STEP_DEG, wanted)
    };
    let all_round = profile(&|number, _| number % MEAN_STEPS == 0);
    let mean_km = all_round.iter().map(|p| p.height_km).sum::<f64>() / all_round.len().max(1) as f64;
    let mut points: Vec<StripPoint> = profile(&|_, angle_deg| within(angle_deg))
        .iter()
        .map(|p| StripPoint {
            along_deg: -wrap_180(p.position_angle_deg - middle_deg),
            edge_km: p.height_km - mean_km,
            sun_km: sun.height_km(p.position_angle_deg).map(|km| km - mean_km),
        })
        .collect();
    points.sort_by(|a, b| a.along_deg.total_cmp(&b.along_deg));
    let zenith_deg = view.parallactic_angle_deg;
    let bead = |bead: &&Bead| StripBead {
        along_deg: -wrap_180(sun.about_the_moon_deg(bead.position_angle_deg) - middle_deg),
        seconds: match side {
            BeadSide::C2 => contact.tt - bead.to,
            BeadSide::C3 => bead.from - contact.tt,
        },
        lasts_s: bead.to - bead.from,
        clock_hour: clock_hour(bead.position_angle_deg - zenith_deg),
        extreme: bead.extreme,
    };
    EdgeStrip {
        side,
        middle_clockwise_deg: wrap_360(zenith_deg - middle_deg),
        clock_hour: clock_hour(contact.vertex_angle_deg),
        points,
        beads: beads.iter().map(bead).collect(),
    }
}

/// The Sun's disc about the Moon's centre, in the plane of the sky: good to a hundredth of an arcsecond.
struct SunBehind {
    /// The Sun's centre east and north of the Moon's, arcseconds.
    centre: [f64; 2],
    radius_arcsec: f64,
    moon_distance_km: f64,
}

impl SunBehind {
    fn of(view: &View, sun_radius_km: f64) -> SunBehind {
        let (sin, cos) = view.moon_position_angle_deg.to_radians().sin_cos();
        SunBehind {
            centre: [-view.separation_arcsec * sin, -view.separation_arcsec * cos],
            radius_arcsec: (sun_radius_km / view.sun_distance_km).asin() * ARCSEC_PER_RAD,
            moon_distance_km: view.moon_distance_km,
        }
    }

    /// Position angle about the Moon's centre of a point of the Sun's limb, given by that about the Sun's.
    fn about_the_moon_deg(&self, about_the_sun_deg: f64) -> f64 {
        let (sin, cos) = about_the_sun_deg.to_radians().sin_cos();
        let [x, y] = [self.centre[0] + self.radius_arcsec * sin, self.centre[1] + self.radius_arcsec * cos];
        wrap_360(x.atan2(y).to_degrees())
    }

    /// How far the limb reaches from the Moon's centre in a direction, over [`DATUM_KM`], at the Moon's distance.
    fn height_km(&self, position_angle_deg: f64) -> Option<f64> {
        let (sin, cos) = position_angle_deg.to_radians().sin_cos();
        let along = self.centre[0] * sin + self.centre[1] * cos;
        let across = self.centre[0] * cos - self.centre[1] * sin;
        let under = self.radius_arcsec * self.radius_arcsec - across * across;
        let reach_arcsec = along + (under >= 0.0).then(|| under.sqrt())?;
        Some(self.moon_distance_km * (reach_arcsec / ARCSEC_PER_RAD).sin() - DATUM_KM)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::{Conventions, Eclipse};

    /// At the contact the Sun's limb touches the edge at the last or first light and stays behind it everywhere else; it
    /// reaches less far the further one goes from there. By the contacts' own search, which shares no code with this.
    #[test]
    fn the_sun_touches_the_edge_where_the_light_is() {
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let rules = TotalityRules::usual(&eclipse);
        let mut solver = rules.solver();
        for (lat, lon) in [(-33.87, 151.21), (-15.46, 128.1), (-44.67, 167.93)] {
            let site = Site::new(lat, lon, 0.0).unwrap();
            let truth = rules.totality(&mut solver, &site).truth.unwrap();
            for strip in edge_strips(&rules, &mut solver, &site, &truth) {
                assert!((strip.points.len() as i64 - 801).abs() <= 1);
                let beyond = |p: &StripPoint| p.sun_km.unwrap_or(f64::NEG_INFINITY) - p.edge_km;
                let touch = strip.points.iter().max_by(|a, b| beyond(a).total_cmp(&beyond(b))).unwrap();
                // A tenth of a degree of sampling and 0.05 arcseconds.
                assert!(touch.along_deg.abs() < 0.5 && beyond(touch).abs() < 0.25, "{lat} {touch:?}");
                let end = strip.points.last().unwrap();
                assert!(end.sun_km.unwrap() < touch.sun_km.unwrap());
                let mean = strip.points.iter().map(|p| p.edge_km).sum::<f64>() / strip.points.len() as f64;
                assert!(mean.abs() < 3.0, "{mean}");
                let extremes: Vec<&StripBead> = strip.beads.iter().filter(|b| b.extreme).collect();
                assert_eq!(extremes.len(), 1);
                assert!(extremes[0].along_deg.abs() < 1e-6 && extremes[0].seconds.abs() < 1e-3);
                assert!(extremes[0].clock_hour == strip.clock_hour);
                assert!(strip.beads.iter().all(|b| b.seconds >= -1e-3 && b.seconds < 12.001 && b.lasts_s >= 0.0));
                // The dial: the hour at the strip's middle is that of the light, the centres being close.
                let off = (strip.middle_clockwise_deg / 30.0 - strip.clock_hour).rem_euclid(12.0);
                assert!(off.min(12.0 - off) < 0.4, "{off}");
            }
        }
    }
}
