//! At the Moon's edge: chromosphere, prominences, and the sign to look away.

use super::decimals;
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::{ARCSEC_PER_RAD, wrap_360};
use noonfall_shadow::View;
use serde::Serialize;

/// Depth of the chromosphere, km, unless set otherwise: usually given as 2000 to 3000.
pub const CHROMOSPHERE_KM: f64 = 2500.0;

/// Heights of prominences for which visibility is listed, km. Commonly 10 000 to 100 000, exceptionally 150 000.
pub const PROMINENCE_HEIGHTS_KM: [f64; 4] = [10_000.0, 30_000.0, 50_000.0, 100_000.0];

/// Mountains and valleys of the Moon's limb, one standard deviation, arcseconds: about 1.9 km at the Moon's distance (from
/// memory). They are not modelled; they move what is said here by this much over the limb's motion.
pub const LUNAR_RELIEF_ARCSEC: f64 = 1.0;

/// How high above the Sun's limb the Moon covers, in four directions on the sky.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HiddenHeights {
    /// Towards celestial north, km above the Sun's limb.
    #[serde(serialize_with = "decimals::three")]
    pub north: f64,
    /// Towards celestial east.
    #[serde(serialize_with = "decimals::three")]
    pub east: f64,
    /// Towards celestial south.
    #[serde(serialize_with = "decimals::three")]
    pub south: f64,
    /// Towards celestial west.
    #[serde(serialize_with = "decimals::three")]
    pub west: f64,
}

/// How long the top of a prominence shows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ProminenceView {
    /// Height above the Sun's limb, km.
    #[serde(serialize_with = "decimals::three")]
    pub height_km: f64,
    /// At the point where the Sun vanished: seconds after second contact until it is covered (all of totality, if never).
    #[serde(serialize_with = "decimals::three")]
    pub after_c2_s: f64,
    /// At the point where the Sun will return: seconds before third contact from which it shows (all of totality, if
    /// always).
    #[serde(serialize_with = "decimals::three")]
    pub before_c3_s: f64,
}

/// What shows at the Moon's edge during totality.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Limb {
    /// Depth of the chromosphere that was taken, km.
    #[serde(serialize_with = "decimals::three")]
    pub chromosphere_km: f64,
    /// Seconds after second contact until the chromosphere is covered.
    #[serde(serialize_with = "decimals::three")]
    pub chromosphere_after_c2_s: f64,
    /// Seconds before third contact from which the chromosphere shows again.
    #[serde(serialize_with = "decimals::three")]
    pub chromosphere_before_c3_s: f64,
    /// Whether some of the chromosphere shows all through totality, at the edge nearest the Sun's limb (short totalities,
    /// places near the limits). The red rim is then no sign of the end.
    pub chromosphere_throughout: bool,
    /// Seconds before third contact at which the red rim appears on the side where the Sun returns: lower all optics now.
    #[serde(serialize_with = "decimals::three")]
    pub look_away_lead_s: f64,
    /// One standard deviation of that lead from the unmodelled limb of the Moon, seconds.
    #[serde(serialize_with = "decimals::three")]
    pub look_away_spread_s: f64,
    /// Position angle of the place to watch, from celestial north through east, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub look_away_position_angle_deg: f64,
    /// The same as on a clock with the zenith at twelve, to the half hour, in (0, 12].
    pub look_away_clock_hour: f64,
    /// What the Moon covers at maximum.
    pub hidden_height_km: HiddenHeights,
    /// Visibility of prominences by height.
    pub prominences: Vec<ProminenceView>,
    /// How far this can be trusted, in words.
    pub note: &'static str,
}

/// What every output about the limb must say.
pub const NOTE: &str = "Mean lunar limb; mountains and valleys shift each time by a second or more. The red rim is a sign, \
                        not a timer: when in doubt, look away and put the filter on.";

/// How far beyond the Sun's limb the Moon reaches in a direction, arcseconds; negative where the Sun shows.
///
/// # Units
/// Position angle from celestial north through east, degrees.
/// # Source
/// Law of cosines for the line from the Sun's centre to the Moon's limb (flat discs, interior radius).
pub fn hidden_arcsec(view: &View, position_angle_deg: f64) -> f64 {
    let (sin, cos) = (position_angle_deg - view.moon_position_angle_deg).to_radians().sin_cos();
    let (d, r) = (view.separation_arcsec, view.moon_radius_interior_arcsec);
    d * cos + (r * r - d * d * sin * sin).max(0.0).sqrt() - view.sun_radius_arcsec
}

/// A height above the Sun's limb in arcseconds on the sky.
pub fn height_arcsec(view: &View, height_km: f64) -> f64 {
    height_km / view.sun_distance_km * ARCSEC_PER_RAD
}

/// The least the Moon reaches beyond the Sun's limb in any direction, arcseconds.
fn least_hidden_arcsec(view: &View) -> f64 {
    view.moon_radius_interior_arcsec - view.separation_arcsec - view.sun_radius_arcsec
}

/// Clock-face hour of a vertex angle: zenith at twelve, to the half hour.
///
/// # Units
/// Vertex angle from the zenith through east (counter-clockwise on the sky), degrees; hours in (0, 12].
/// ```
/// use noonfall_scoring::outlook::limb::clock_hour;
/// assert_eq!(clock_hour(0.0), 12.0);
/// assert_eq!(clock_hour(90.0), 9.0); // to the left
/// assert_eq!(clock_hour(255.0), 3.5); // right, a little low
/// ```
pub fn clock_hour(vertex_angle_deg: f64) -> f64 {
    let half_hours = (wrap_360(-vertex_angle_deg) / 15.0).round() % 24.0;
    if half_hours == 0.0 { 12.0 } else { 0.5 * half_hours }
}

/// What shows at the Moon's edge between second and third contact.
///
/// `view_at` is the sky at an instant; `contacts` are second contact, maximum and third contact; `position_angles_deg` are
/// those of the points of contact at second and third contact, `vertex_angle_c3_deg` the latter from the zenith.
pub fn limb(
    view_at: impl Fn(Tt) -> View,
    contacts: (Tt, Tt, Tt),
    position_angles_deg: (f64, f64),
    vertex_angle_c3_deg: f64,
    chromosphere_km: f64,
) -> Limb {
    let (c2, max, c3) = contacts;
    let depth_km = chromosphere_km.max(0.0);
    let covered = |tt: Tt| {
        let view = view_at(tt);
        least_hidden_arcsec(&view) - height_arcsec(&view, depth_km)
    };
    let throughout = covered(max) < 0.0;
    let (after_c2_s, before_c3_s) =
        if throughout { (max - c2, c3 - max) } else { (crossing_s(c2, max, covered), crossing_s(c3, max, covered)) };
    // At the point of return itself, even where the chromosphere shows elsewhere all the time.
    let at_return = |height_km: f64| {
        first_shown_s(c3, c2, |tt| {
            let view = view_at(tt);
            hidden_arcsec(&view, position_angles_deg.1) - height_arcsec(&view, height_km)
        })
    };
    let at_vanishing = |height_km: f64| {
        first_shown_s(c2, c3, |tt| {
            let view = view_at(tt);
            hidden_arcsec(&view, position_angles_deg.0) - height_arcsec(&view, height_km)
        })
    };
    // How fast the edge uncovers the limb just before the end.
    let span_s = (0.25 * (c3 - max)).clamp(0.05, 5.0);
    let rate = (least_hidden_arcsec(&view_at(c3.plus(-span_s))) - least_hidden_arcsec(&view_at(c3))) / span_s;
    let at_max = view_at(max);
    let km =
        |position_angle_deg: f64| hidden_arcsec(&at_max, position_angle_deg) / ARCSEC_PER_RAD * at_max.sun_distance_km;
    Limb {
        chromosphere_km: depth_km,
        chromosphere_after_c2_s: after_c2_s,
        chromosphere_before_c3_s: before_c3_s,
        chromosphere_throughout: throughout,
        look_away_lead_s: at_return(depth_km).min(c3 - c2),
        look_away_spread_s: LUNAR_RELIEF_ARCSEC / rate.abs().max(0.02),
        look_away_position_angle_deg: wrap_360(position_angles_deg.1),
        look_away_clock_hour: clock_hour(vertex_angle_c3_deg),
        hidden_height_km: HiddenHeights { north: km(0.0), east: km(90.0), south: km(180.0), west: km(270.0) },
        prominences: PROMINENCE_HEIGHTS_KM
            .iter()
            .map(|&height_km| ProminenceView {
                height_km,
                after_c2_s: at_vanishing(height_km),
                before_c3_s: at_return(height_km),
            })
            .collect(),
        note: NOTE,
    }
}

/// Seconds from a contact to where `covered` turns positive on the way to `max`, by bisection.
fn crossing_s(contact: Tt, max: Tt, covered: impl Fn(Tt) -> f64) -> f64 {
    let span = max - contact;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if covered(contact.plus(span * middle)) > 0.0 {
            high = middle;
        } else {
            low = middle;
        }
    }
    (span * 0.5 * (low + high)).abs()
}

/// Seconds from a contact to the first instant, going towards the other contact, at which `covered` is positive; the whole
/// span if it never is. A coarse walk finds the interval, bisection the instant.
fn first_shown_s(contact: Tt, other: Tt, covered: impl Fn(Tt) -> f64) -> f64 {
    const STEPS: u32 = 64;
    let span = other - contact;
    for step in 1..=STEPS {
        let (from, to) = (f64::from(step - 1) / f64::from(STEPS), f64::from(step) / f64::from(STEPS));
        if covered(contact.plus(span * to)) > 0.0 {
            let (start, end) = (contact.plus(span * from), contact.plus(span * to));
            return (start - contact).abs() + crossing_s(start, end, covered);
        }
    }
    span.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A Moon of 1000″ that runs straight across a Sun of 950″ at 0.4″/s along position angle 90°, missing the centre by
    /// `offset` to the north.
    fn passing(offset: f64) -> impl Fn(Tt) -> View {
        move |tt| {
            let (east, north): (f64, f64) = (0.4 * tt.0, offset);
            View {
                tt,
                sun_altitude_deg: 40.0,
                sun_apparent_altitude_deg: 40.0,
                sun_azimuth_deg: 0.0,
                sun_radius_arcsec: 950.0,
                moon_radius_exterior_arcsec: 1000.0,
                moon_radius_interior_arcsec: 1000.0,
                separation_arcsec: east.hypot(north),
                moon_position_angle_deg: wrap_360(east.atan2(north).to_degrees()),
                parallactic_angle_deg: 0.0,
                sun_distance_km: 1.5e8,
                moon_distance_km: 3.7e5,
            }
        }
    }

    /// Closed form: the Moon 50″ larger crosses in 250 s; 2500 km are 3.438″ at 1.5e8 km, uncovered in 8.594 s; in
    /// mid-totality 50″ or 36 361 km are covered all round.
    #[test]
    fn a_central_passage() {
        let view = passing(0.0);
        let (c2, c3) = (Tt(-125.0), Tt(125.0));
        let found = limb(&view, (c2, Tt(0.0), c3), (90.0, 270.0), 270.0, 2500.0);
        let arcsec = 2500.0 / 1.5e8 * ARCSEC_PER_RAD;
        assert!((found.chromosphere_after_c2_s - arcsec / 0.4).abs() < 1e-6);
        assert!((found.chromosphere_before_c3_s - arcsec / 0.4).abs() < 1e-6);
        assert!((found.look_away_lead_s - arcsec / 0.4).abs() < 1e-6);
        assert!((found.look_away_spread_s - 2.5).abs() < 1e-9);
        assert_eq!(found.look_away_clock_hour, 3.0);
        assert!(!found.chromosphere_throughout);
        let covered_km = 50.0 / ARCSEC_PER_RAD * 1.5e8;
        let h = found.hidden_height_km;
        for height in [h.north, h.east, h.south, h.west] {
            assert!((height - covered_km).abs() < 1e-6, "{height}");
        }
        // 50 000 km are 68.75″: uncovered 171.9 s after second contact at this point; 100 000 km are 137.5″, never.
        let tall = found.prominences.iter().find(|p| p.height_km == 50_000.0).unwrap();
        assert!((tall.after_c2_s - 50_000.0 / 1.5e8 * ARCSEC_PER_RAD / 0.4).abs() < 1e-6, "{tall:?}");
        let taller = found.prominences.iter().find(|p| p.height_km == 100_000.0).unwrap();
        assert_eq!((taller.after_c2_s, taller.before_c3_s), (250.0, 250.0));
    }

    /// Near the limit the Moon barely covers one side: some chromosphere shows throughout, but the point of return still
    /// has its own instant.
    #[test]
    fn a_grazing_passage() {
        let half = (50.0_f64.powi(2) - 48.0_f64.powi(2)).sqrt() / 0.4;
        let view = passing(48.0);
        let at_c3 = view(Tt(half));
        let found =
            limb(&view, (Tt(-half), Tt(0.0), Tt(half)), (0.0, at_c3.moon_position_angle_deg + 180.0), 0.0, 2500.0);
        assert!(found.chromosphere_throughout);
        assert!((found.chromosphere_after_c2_s - half).abs() < 1e-9);
        assert!((found.hidden_height_km.north - 98.0 / ARCSEC_PER_RAD * 1.5e8).abs() < 1e-6);
        assert!((found.hidden_height_km.south - 2.0 / ARCSEC_PER_RAD * 1.5e8).abs() < 1e-6);
        assert!(found.look_away_lead_s > 0.0 && found.look_away_lead_s <= 2.0 * half);
        assert!(found.look_away_spread_s.is_finite());
    }

    #[test]
    fn clock_hours_stay_on_the_dial() {
        for tenth in -7200..7200 {
            let hour = clock_hour(f64::from(tenth) / 10.0);
            assert!(hour > 0.0 && hour <= 12.0 && (hour * 2.0).fract() == 0.0);
        }
    }
}
