//! At the Moon's edge: chromosphere, prominences, and the sign to look away.

use super::decimals;
use super::window::allowances::{EDGE_SIGMA_ARCSEC, SUN_SIGMA_ARCSEC};
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::{ARCSEC_PER_RAD, wrap_360};
use noonfall_shadow::View;
use serde::Serialize;

/// Depth of the chromosphere, km, unless set otherwise: usually given as 2000 to 3000.
pub const CHROMOSPHERE_KM: f64 = 2500.0;

/// Heights of prominences for which visibility is listed, km. Commonly 10 000 to 100 000, exceptionally 150 000.
pub const PROMINENCE_HEIGHTS_KM: [f64; 4] = [10_000.0, 30_000.0, 50_000.0, 100_000.0];

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
    /// Spread of that lead: 500 km of the chromosphere's depth, and one standard deviation of the Moon's edge and the Sun's
    /// radius, seconds.
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
pub const NOTE: &str = "Times at the Moon's measured edge; the chromosphere's own depth differs from place to place. The red \
                        rim is a sign, not a timer: when in doubt, look away and put the filter on.";

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

/// Between which instants a height above the Sun's limb is covered: `(km, directions)` to the last and the first moment at
/// which something of it shows; `None` where something of it shows all the while. Directions are a position angle and how
/// far to either side of it, degrees; `None` for all.
pub type Covered<'a> = dyn FnMut(f64, Option<(f64, f64)>) -> Option<(Tt, Tt)> + 'a;

/// What an edge covers of the layers above the Sun's limb.
pub struct LimbEdge<'a> {
    /// Between which instants a height is covered all round; `None` where something of it shows all the while.
    pub whole: &'a mut dyn FnMut(f64) -> Option<(Tt, Tt)>,
    /// When a height first shows again within some degrees of a position angle.
    pub returning: &'a mut dyn FnMut(f64, (f64, f64)) -> Option<Tt>,
    /// As [`Covered`], for heights beside which mountains and valleys are small.
    pub prominence: &'a mut Covered<'a>,
}

/// How far to either side of the point of third contact the red is looked for that says look away: the side where the Sun
/// returns, degrees.
const RETURN_SIDE_DEG: f64 = 90.0;

/// How far to either side of a point of contact a prominence stands, degrees.
const PROMINENCE_SIDE_DEG: f64 = 5.0;

/// How far the depth of the chromosphere is taken to be off, km: 2000 to 3000 is usual.
const CHROMOSPHERE_SPREAD_KM: f64 = 500.0;

/// What shows at the Moon's edge between second and third contact.
///
/// `contacts` are second and third contact with the position angles of the last and the first light; `at_max` is the sky at
/// maximum; `vertex_angle_c3_deg` is that of the first light from the zenith.
pub fn limb(
    edge: &mut LimbEdge<'_>,
    contacts: [(Tt, f64); 2],
    at_max: &View,
    vertex_angle_c3_deg: f64,
    chromosphere_km: f64,
) -> Limb {
    let [(c2, angle_c2_deg), (c3, angle_c3_deg)] = contacts;
    let totality_s = c3 - c2;
    let depth_km = chromosphere_km.max(0.0);
    let whole = (edge.whole)(depth_km);
    // Where some of it shows throughout there is no instant; the middle stands for it.
    let (after_c2_s, before_c3_s) =
        whole.map_or((0.5 * totality_s, 0.5 * totality_s), |(from, to)| (from - c2, c3 - to));
    // On the side where the Sun returns, even where red shows elsewhere all the time.
    let side = (angle_c3_deg, RETURN_SIDE_DEG);
    let mut lead_s =
        |height_km: f64| (edge.returning)(height_km, side).map_or(totality_s, |tt| (c3 - tt).clamp(0.0, totality_s));
    let look_away_lead_s = lead_s(depth_km);
    let deeper_s = lead_s(depth_km + CHROMOSPHERE_SPREAD_KM);
    let shallower_s = lead_s((depth_km - CHROMOSPHERE_SPREAD_KM).max(0.0));
    let by_depth_s = 0.5 * (deeper_s - shallower_s).abs();
    // The edge's own doubt, over the speed at which the red comes out.
    let speed = height_arcsec(at_max, depth_km) / look_away_lead_s.max(0.1);
    let by_edge_s = (EDGE_SIGMA_ARCSEC.hypot(SUN_SIGMA_ARCSEC) / speed.max(0.02)).min(totality_s);
    let mut prominences = Vec::with_capacity(PROMINENCE_HEIGHTS_KM.len());
    for height_km in PROMINENCE_HEIGHTS_KM {
        let mut at = |angle_deg: f64| (edge.prominence)(height_km, Some((angle_deg, PROMINENCE_SIDE_DEG)));
        let after_c2_s = at(angle_c2_deg).map_or(totality_s, |(from, _)| (from - c2).clamp(0.0, totality_s));
        let before_c3_s = at(angle_c3_deg).map_or(totality_s, |(_, to)| (c3 - to).clamp(0.0, totality_s));
        prominences.push(ProminenceView { height_km, after_c2_s, before_c3_s });
    }
    let km =
        |position_angle_deg: f64| hidden_arcsec(at_max, position_angle_deg) / ARCSEC_PER_RAD * at_max.sun_distance_km;
    Limb {
        chromosphere_km: depth_km,
        chromosphere_after_c2_s: after_c2_s.max(0.0),
        chromosphere_before_c3_s: before_c3_s.max(0.0),
        chromosphere_throughout: whole.is_none(),
        look_away_lead_s,
        look_away_spread_s: by_depth_s.hypot(by_edge_s),
        look_away_position_angle_deg: wrap_360(angle_c3_deg),
        look_away_clock_hour: clock_hour(vertex_angle_c3_deg),
        hidden_height_km: HiddenHeights { north: km(0.0), east: km(90.0), south: km(180.0), west: km(270.0) },
        prominences,
        note: NOTE,
    }
}

/// The intervals of [`limb`] for the handbook's smooth Moon: the same question without mountains and valleys.
///
/// A narrow side (a prominence) is the point itself; a wide one is looked over in steps of two degrees, far less than the
/// crescent of red is long.
pub fn covered_by_smooth_moon(
    view_at: impl Fn(Tt) -> View,
    (c2, c3): (Tt, Tt),
) -> impl FnMut(f64, Option<(f64, f64)>) -> Option<(Tt, Tt)> {
    const STEP_DEG: f64 = 2.0;
    move |height_km, side| {
        let depth = |tt: Tt| {
            let view = view_at(tt);
            let least = match side {
                None => view.moon_radius_interior_arcsec - view.separation_arcsec - view.sun_radius_arcsec,
                Some((angle, half)) if half < STEP_DEG.max(PROMINENCE_SIDE_DEG + 1.0) => hidden_arcsec(&view, angle),
                Some((angle, half)) => {
                    let steps = (half / STEP_DEG).ceil() as i32;
                    let angles = (-steps..=steps).map(|k| angle + half * f64::from(k) / f64::from(steps));
                    angles.map(|a| hidden_arcsec(&view, a)).fold(f64::INFINITY, f64::min)
                }
            };
            least - height_arcsec(&view, height_km)
        };
        Some((first_covered(c2, c3, &depth)?, first_covered(c3, c2, &depth)?))
    }
}

/// The first instant from one contact towards the other at which a depth is positive; `None` if it never is. A coarse walk
/// finds the interval, bisection the instant.
fn first_covered(contact: Tt, other: Tt, depth: &impl Fn(Tt) -> f64) -> Option<Tt> {
    const STEPS: u32 = 64;
    let at = |share: f64| contact.plus((other - contact) * share);
    let share = |step: u32| f64::from(step) / f64::from(STEPS);
    let step = (1..=STEPS).find(|&step| depth(at(share(step))) > 0.0)?;
    let (mut low, mut high) = (share(step - 1), share(step));
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if depth(at(middle)) > 0.0 { high = middle } else { low = middle }
    }
    Some(at(0.5 * (low + high)))
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

    /// The limb by one closed form for all that is asked of an edge.
    fn limb_of(
        covered: &mut impl FnMut(f64, Option<(f64, f64)>) -> Option<(Tt, Tt)>,
        contacts: [(Tt, f64); 2],
        at_max: &View,
        vertex_deg: f64,
    ) -> Limb {
        let covered = std::cell::RefCell::new(covered);
        let ask = |km: f64, side| (covered.borrow_mut())(km, side);
        let mut edge = LimbEdge {
            whole: &mut |km| ask(km, None),
            returning: &mut |km, side| ask(km, Some(side)).map(|(_, to)| to),
            prominence: &mut |km, side| ask(km, side),
        };
        limb(&mut edge, contacts, at_max, vertex_deg, 2500.0)
    }

    /// Closed form: the Moon 50″ larger crosses in 250 s; 2500 km are 3.438″ at 1.5e8 km, uncovered in 8.594 s; in
    /// mid-totality 50″ or 36 361 km are covered all round.
    #[test]
    fn a_central_passage() {
        let view = passing(0.0);
        let (c2, c3) = (Tt(-125.0), Tt(125.0));
        let after_s = |km: f64| km / 1.5e8 * ARCSEC_PER_RAD / 0.4;
        let mut covered = |km: f64, side: Option<(f64, f64)>| match side {
            // One side alone: its own instant, as long as the Moon's far edge has not passed it.
            Some((270.0, _)) => (after_s(km) < 250.0).then(|| (c2, c3.plus(-after_s(km)))),
            Some(_) => (after_s(km) < 250.0).then(|| (c2.plus(after_s(km)), c3)),
            None => (after_s(km) < 125.0).then(|| (c2.plus(after_s(km)), c3.plus(-after_s(km)))),
        };
        let found = limb_of(&mut covered, [(c2, 90.0), (c3, 270.0)], &view(Tt(0.0)), 270.0);
        assert!((found.chromosphere_after_c2_s - after_s(2500.0)).abs() < 1e-6);
        assert!((found.chromosphere_before_c3_s - after_s(2500.0)).abs() < 1e-6);
        assert!((found.look_away_lead_s - after_s(2500.0)).abs() < 1e-6);
        // 500 km of depth are 0.6875″ or 1.719 s; 0.05″ twice are 0.0707″ or 0.177 s.
        assert!((found.look_away_spread_s - 1.719_f64.hypot(0.177)).abs() < 2e-3, "{}", found.look_away_spread_s);
        assert_eq!(found.look_away_clock_hour, 3.0);
        assert!(!found.chromosphere_throughout);
        let covered_km = 50.0 / ARCSEC_PER_RAD * 1.5e8;
        let h = found.hidden_height_km;
        for height in [h.north, h.east, h.south, h.west] {
            assert!((height - covered_km).abs() < 1e-6, "{height}");
        }
        // 50 000 km are 68.75″: uncovered 171.9 s after second contact at this point; 100 000 km are 137.5″, never.
        let tall = found.prominences.iter().find(|p| p.height_km == 50_000.0).unwrap();
        assert!((tall.after_c2_s - after_s(50_000.0)).abs() < 1e-6, "{tall:?}");
        let taller = found.prominences.iter().find(|p| p.height_km == 100_000.0).unwrap();
        assert_eq!((taller.after_c2_s, taller.before_c3_s), (250.0, 250.0));
    }

    /// Near the limit the Moon barely covers one side: some chromosphere shows throughout, but the side of return still has
    /// its own instant.
    #[test]
    fn a_grazing_passage() {
        let half = (50.0_f64.powi(2) - 48.0_f64.powi(2)).sqrt() / 0.4;
        let view = passing(48.0);
        let mut covered = |_: f64, side: Option<(f64, f64)>| side.map(|_| (Tt(-half), Tt(half - 12.0)));
        let found = limb_of(&mut covered, [(Tt(-half), 0.0), (Tt(half), 190.0)], &view(Tt(0.0)), 0.0);
        assert!(found.chromosphere_throughout);
        assert!((found.chromosphere_after_c2_s - half).abs() < 1e-9);
        assert!((found.hidden_height_km.north - 98.0 / ARCSEC_PER_RAD * 1.5e8).abs() < 1e-6);
        assert!((found.hidden_height_km.south - 2.0 / ARCSEC_PER_RAD * 1.5e8).abs() < 1e-6);
        assert!((found.look_away_lead_s - 12.0).abs() < 1e-9);
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
