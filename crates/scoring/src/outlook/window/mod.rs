//! When the unaided eye may look: **the one decision** that every output prints and none computes again.
//!
//! [`decide`] says for a place whether there is a window, from when to when, and if not, why not. Its ends lie inside true
//! totality (the Moon's measured edge, the eclipse-derived radius of the Sun) by everything that could move the contacts
//! ([`allowances`]), are whole seconds (OFF up, ON down), and exist only while the whole disc of the Sun stands clear of
//! horizon and skyline. Outside the path of totality, and at every annular or partial eclipse, there is none. Wrong only
//! towards caution: what is unknown gives no permission.
//!
//! The times are predictions; the sky decides: the filter goes back on the moment any bright edge shows. Filters meet
//! ISO 12312-2; local rules, site safety officers and eye-care professionals have the last word.

pub mod allowances;

use self::allowances::{Allowance, Cause, FLOOR_S, LEAP_SECOND_S, Lost, Spread, Turned, WATCH_S, moved};
use crate::outlook::skyline::Skyline;
use noonfall_ephemeris::Tt;
use noonfall_shadow::moon_edge::{EdgeSettings, EdgeSolver, TrueTotality};
use noonfall_shadow::{LocalCircumstances, Phase, Site, View};

/// A window shorter than this is none: nobody takes a filter off and puts it back in less without haste, seconds (common
/// practice, no source).
pub const LEAST_WINDOW_S: f64 = 5.0;

/// Distance from the coordinates within which the observer is taken to stand unless told otherwise, metres.
pub const PLACE_M: f64 = 100.0;

/// How far a height that was given may be off, metres: the geoid lies between 107 m below and 86 m above the ellipsoid
/// (EGM96, from memory), and heights are given above either.
pub const HEIGHT_M: f64 = 110.0;

/// Heights between which people stand where none is known, metres: from the shore of the Dead Sea to the highest towns
/// (from memory).
pub const UNKNOWN_HEIGHT_M: [f64; 2] = [-430.0, 5100.0];

/// How high the Sun's lower limb must stand over a level horizon to count as clear of it, degrees: refraction there
/// scatters by several arcminutes (from memory).
const LEVEL_HORIZON_DOUBT_DEG: f64 = 0.1;

/// Why a margin, a tolerance or a range of heights was refused.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SettingError {
    /// A margin below the floor, or no number.
    #[error(
        "{0} s is less than the window for unaided eyes always keeps inside true totality; give 2 s or more, or leave it out \
         (a larger margin adds to the computed allowances, none can take from them)"
    )]
    Margin(f64),
    /// A distance that is none.
    #[error("{0} m is not a distance within which somebody stands; give metres from 0 to 5000 (usual: 100)")]
    Place(f64),
    /// A tolerance of heights that is none.
    #[error("{0} m is not a tolerance of heights; give metres from 0 to 5000 (usual: 110)")]
    Height(f64),
    /// A range of heights that is none.
    #[error("from {0} m to {1} m is not a range of heights; give two heights between -500 and 9000 m, the lower first")]
    Range(f64, f64),
}

/// What a user may set about the window. All of it can only make the window shorter or say more about the place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindowSettings {
    margin_s: f64,
    place_m: f64,
    height_m: f64,
    unknown_height_m: [f64; 2],
}

impl Default for WindowSettings {
    fn default() -> WindowSettings {
        WindowSettings { margin_s: FLOOR_S, place_m: PLACE_M, height_m: HEIGHT_M, unknown_height_m: UNKNOWN_HEIGHT_M }
    }
}

impl WindowSettings {
    /// With a least margin, seconds: what exceeds the floor of two seconds is kept beyond all allowances.
    ///
    /// # Errors
    /// [`SettingError::Margin`] below the floor.
    /// ```
    /// use noonfall_scoring::outlook::window::WindowSettings;
    /// assert!(WindowSettings::default().with_margin_s(3.5).is_ok());
    /// assert!(WindowSettings::default().with_margin_s(1.9).is_err());
    /// ```
    pub fn with_margin_s(self, margin_s: f64) -> Result<WindowSettings, SettingError> {
        let fine = (FLOOR_S..=600.0).contains(&margin_s);
        if fine { Ok(WindowSettings { margin_s, ..self }) } else { Err(SettingError::Margin(margin_s)) }
    }

    /// With the distance from the coordinates within which people stand, metres.
    ///
    /// # Errors
    /// [`SettingError::Place`].
    pub fn with_place_m(self, place_m: f64) -> Result<WindowSettings, SettingError> {
        let fine = (0.0..=5000.0).contains(&place_m);
        if fine { Ok(WindowSettings { place_m, ..self }) } else { Err(SettingError::Place(place_m)) }
    }

    /// With the tolerance of a height that is known, metres.
    ///
    /// # Errors
    /// [`SettingError::Height`].
    pub fn with_height_m(self, height_m: f64) -> Result<WindowSettings, SettingError> {
        let fine = (0.0..=5000.0).contains(&height_m);
        if fine { Ok(WindowSettings { height_m, ..self }) } else { Err(SettingError::Height(height_m)) }
    }

    /// With the range in which a height lies that is not known, metres.
    ///
    /// # Errors
    /// [`SettingError::Range`].
    pub fn with_unknown_height_m(self, range: [f64; 2]) -> Result<WindowSettings, SettingError> {
        let heights = -500.0..=9000.0;
        let fine = heights.contains(&range[0]) && heights.contains(&range[1]) && range[0] <= range[1];
        if fine {
            Ok(WindowSettings { unknown_height_m: range, ..self })
        } else {
            Err(SettingError::Range(range[0], range[1]))
        }
    }

    /// The least margin, seconds.
    pub fn margin_s(&self) -> f64 {
        self.margin_s
    }

    /// Distance from the coordinates within which people stand, metres.
    pub fn place_m(&self) -> f64 {
        self.place_m
    }

    /// Heights between which a place at `elevation_m` may lie, metres.
    pub fn heights_m(&self, elevation_m: f64, known: bool) -> [f64; 2] {
        if known { [elevation_m - self.height_m, elevation_m + self.height_m] } else { self.unknown_height_m }
    }
}

/// The window for the unaided eye.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// Filter OFF no earlier than this; a whole second of UTC.
    pub off: Tt,
    /// Filter ON no later than this; a whole second of UTC.
    pub on: Tt,
    /// From true second contact to OFF, seconds.
    pub margin_c2_s: f64,
    /// From ON to true third contact, seconds.
    pub margin_c3_s: f64,
    /// What the margins are made of; they add up to them, but where horizon or skyline cut the window.
    pub allowances: Vec<Allowance>,
    /// Whether the Sun comes clear of horizon or skyline only after second contact: OFF waits for that.
    pub rises_late: bool,
    /// Whether horizon or skyline take the Sun before third contact: ON comes before that.
    pub sets_early: bool,
}

impl Window {
    /// From OFF to ON, seconds.
    pub fn length_s(&self) -> f64 {
        self.on - self.off
    }

    /// Whether an instant lies in it.
    pub fn holds(&self, tt: Tt) -> bool {
        tt >= self.off && tt < self.on
    }
}

/// Why there is no window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoWindow {
    /// No eclipse is seen.
    NoEclipse,
    /// Outside the path.
    Partial,
    /// A ring of Sun remains.
    Annular,
    /// Totality of a smooth Moon, but sunlight through the Moon's valleys all the while.
    TrueEdge {
        /// What a smooth Moon would give, seconds.
        smooth_s: f64,
    },
    /// Within what is not known for certain there may be no totality.
    MayBeNone {
        /// As computed, seconds.
        totality_s: f64,
        /// The cause that can take all of it.
        cause: Cause,
    },
    /// The allowances leave too little.
    TooShort {
        /// As computed, seconds.
        totality_s: f64,
        /// What would have to be kept at both ends together, seconds.
        kept_s: f64,
    },
    /// The Sun's disc is not wholly above the horizon for long enough.
    Horizon,
    /// The skyline covers the Sun's disc, or part of it.
    Skyline,
    /// The place stands too far down a long table: nobody asked.
    NotAsked,
}

/// A window, or why there is none.
pub type Decision = Result<Window, NoWindow>;

/// A place to decide for.
pub struct WindowPlace<'a> {
    /// Where.
    pub site: &'a Site,
    /// Whether its height is known (given with the place, or from terrain).
    pub height_known: bool,
    /// Circumstances by the smooth Moon.
    pub smooth: &'a LocalCircumstances,
    /// The skyline, where there is one.
    pub skyline: Option<&'a Skyline>,
}

/// Decides whether unaided eyes may look, from when to when, and if not, why not.
///
/// `edge` is the Moon's edge and the Sun's radius to decide with; the window is decided with the true edge also where
/// other outputs are asked to show the smooth one.
pub fn decide(
    solver: &mut EdgeSolver<'_>,
    turned: &Turned,
    edge: &EdgeSettings,
    settings: &WindowSettings,
    place: &WindowPlace<'_>,
) -> Decision {
    match place.smooth.phase {
        Phase::None => return Err(NoWindow::NoEclipse),
        Phase::Annular => return Err(NoWindow::Annular),
        Phase::Partial | Phase::Total => {}
    }
    let heights = settings.heights_m(place.site.elevation_m, place.height_known);
    let spread = Spread::of(settings.place_m, heights, solver.heights());
    let lost = |lost: Lost, totality_s: f64| match lost {
        Lost::AsComputed if place.smooth.phase == Phase::Partial => NoWindow::Partial,
        Lost::AsComputed => NoWindow::TrueEdge { smooth_s: place.smooth.duration_s },
        Lost::To(cause) => NoWindow::MayBeNone { totality_s, cause },
    };
    let found = match moved(solver, turned, place.site, edge, &spread) {
        Ok(found) => found,
        Err(cause) => {
            let computed = solver.totality(turned.eclipse(), place.site, edge);
            return Err(lost(cause, computed.map_or(0.0, |t| t.duration_s)));
        }
    };
    let kept = kept(found.allowances, &found.nominal, settings);
    within_sight(kept, &found.nominal, turned, place)
}

/// The causes of a place with those that are the same everywhere, the floor and the wish.
fn kept(mut allowances: Vec<Allowance>, nominal: &TrueTotality, settings: &WindowSettings) -> Vec<Allowance> {
    let mut both = |cause: Cause, seconds: f64| {
        if seconds > 0.0 {
            allowances.push(Allowance { cause, c2_s: seconds, c3_s: seconds });
        }
    };
    both(Cause::LeapSecond, if nominal.c3.tt.utc_is_predicted() { LEAP_SECOND_S } else { 0.0 });
    both(Cause::Watch, WATCH_S);
    let (c2_s, c3_s) = sum(&allowances);
    let floor = Allowance { cause: Cause::Floor, c2_s: (FLOOR_S - c2_s).max(0.0), c3_s: (FLOOR_S - c3_s).max(0.0) };
    if floor.c2_s > 0.0 || floor.c3_s > 0.0 {
        allowances.push(floor);
    }
    let wish = settings.margin_s - FLOOR_S;
    if wish > 0.0 {
        allowances.push(Allowance { cause: Cause::Wish, c2_s: wish, c3_s: wish });
    }
    allowances
}

/// Both ends together with what all allowances keep.
fn sum(allowances: &[Allowance]) -> (f64, f64) {
    allowances.iter().fold((0.0, 0.0), |sum, a| (sum.0 + a.c2_s, sum.1 + a.c3_s))
}

/// The whole seconds between the kept ends in which the Sun's whole disc is in sight.
fn within_sight(
    mut allowances: Vec<Allowance>,
    nominal: &TrueTotality,
    turned: &Turned,
    place: &WindowPlace<'_>,
) -> Decision {
    let (kept_c2_s, kept_c3_s) = sum(&allowances);
    let (c2, c3) = (nominal.c2.tt, nominal.c3.tt);
    let (first, last) = (whole_second(c2.plus(kept_c2_s), true), whole_second(c3.plus(-kept_c3_s), false));
    // What is not a number gives no permission.
    let left_s = last - first;
    if left_s.is_nan() || left_s < LEAST_WINDOW_S {
        return Err(NoWindow::TooShort { totality_s: nominal.duration_s, kept_s: kept_c2_s + kept_c3_s });
    }
    let clear = |tt: Tt| is_clear(&turned.eclipse().view(place.site, tt), place.skyline);
    let Some((off, on)) = longest_run(first, last, clear).filter(|(off, on)| *on - *off >= LEAST_WINDOW_S) else {
        return Err(if place.skyline.is_some() { NoWindow::Skyline } else { NoWindow::Horizon });
    };
    allowances.push(Allowance {
        cause: Cause::Rounding,
        c2_s: first - c2.plus(kept_c2_s),
        c3_s: c3.plus(-kept_c3_s) - last,
    });
    Ok(Window {
        off,
        on,
        margin_c2_s: off - c2,
        margin_c3_s: c3 - on,
        allowances,
        rises_late: off > first,
        sets_early: on < last,
    })
}

/// A whole second of UTC, not before (`up`) or not after an instant.
pub(crate) fn whole_second(tt: Tt, up: bool) -> Tt {
    let utc = tt.to_utc();
    let nanos = i64::from(utc.timestamp_subsec_nanos().min(999_999_999));
    let floor = utc - chrono::Duration::nanoseconds(nanos);
    let second = if up && nanos > 0 { floor + chrono::Duration::seconds(1) } else { floor };
    Tt::from_utc(second)
}

/// Whether the whole disc stands clear of the skyline, or of a level horizon where none is known.
fn is_clear(view: &View, skyline: Option<&Skyline>) -> bool {
    let radius_deg = view.sun_radius_arcsec / 3600.0;
    let level = view.sun_apparent_altitude_deg - radius_deg;
    match skyline {
        Some(skyline) => {
            let margin = skyline.disc_margin_at(view.sun_azimuth_deg, view.sun_apparent_altitude_deg, radius_deg);
            level > 0.0 && margin > 0.0
        }
        None => level > LEVEL_HORIZON_DOUBT_DEG,
    }
}

/// The longest stretch of whole seconds between two instants in which something holds.
fn longest_run(first: Tt, last: Tt, holds: impl Fn(Tt) -> bool) -> Option<(Tt, Tt)> {
    let seconds = (last - first).round().max(0.0) as u32;
    let (mut best, mut start): (Option<(u32, u32)>, Option<u32>) = (None, None);
    for k in 0..=seconds + 1 {
        if k <= seconds && holds(first.plus(f64::from(k))) {
            start.get_or_insert(k);
        } else if let Some(from) = start.take()
            && best.is_none_or(|(a, b)| k - 1 - from > b - a)
        {
            best = Some((from, k - 1));
        }
    }
    best.map(|(from, to)| (first.plus(f64::from(from)), first.plus(f64::from(to))))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is not told to be certain is allowed for: whoever stands somewhere, at some height.
    #[test]
    fn settings_are_kept_and_what_they_cannot_be_is_refused() {
        let usual = WindowSettings::default();
        // From 430 m below the sea, where people stand on the shore of the Dead Sea, to the highest towns.
        assert_eq!(usual.heights_m(0.0, false), [-430.0, 5100.0]);
        assert_eq!((usual.margin_s(), usual.place_m(), usual.heights_m(500.0, true)), (2.0, 100.0, [390.0, 610.0]));
        let set = usual.with_margin_s(3.5).and_then(|s| s.with_place_m(250.0)).and_then(|s| s.with_height_m(40.0));
        let set = set.and_then(|s| s.with_unknown_height_m([-10.0, 900.0])).unwrap();
        assert_eq!((set.margin_s(), set.place_m()), (3.5, 250.0));
        assert_eq!((set.heights_m(500.0, true), set.heights_m(500.0, false)), ([460.0, 540.0], [-10.0, 900.0]));
        for wrong in [-1.0, 5001.0, f64::NAN] {
            assert!(usual.with_place_m(wrong).is_err() && usual.with_height_m(wrong).is_err());
        }
        for range in [[900.0, -10.0], [-501.0, 0.0], [0.0, 9001.0], [f64::NAN, 0.0]] {
            assert!(usual.with_unknown_height_m(range).is_err(), "{range:?}");
        }
    }
}
