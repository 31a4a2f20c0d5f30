//! What a window for unaided eyes allows for: every cause that moves the printed moments against true totality.
//!
//! Each cause is computed at the place itself, by moving it to its bound and solving the contacts again. A cause with a
//! standard deviation is taken at [`SIGMAS`] of it; the others have hard bounds. The bounds are **added**, nothing is won
//! by supposing that they cancel: a window's end lies outside true totality only if a cause exceeds its bound by more
//! than all others leave over. With 3.5 standard deviations of a normal law (two-sided: once in 2150) for the widest
//! cause alone, that is rarer than once in a thousand for both ends together.

use noonfall_ephemeris::angle::ARCSEC_PER_RAD;
use noonfall_ephemeris::{AU_KM, DeltaT, GeoPoint, Tt};
use noonfall_shadow::geodesy::destination;
use noonfall_shadow::moon_edge::{EdgeSettings, EdgeSolver, MoonHeights, TrueTotality};
use noonfall_shadow::{Eclipse, Site};

/// How many standard deviations a cause without a hard bound is given.
pub const SIGMAS: f64 = 3.5;

/// One standard deviation of the Moon's edge itself, arcseconds: interpolation between heights 1.9 km apart, and 150 m of
/// the frame (reports/accuracy.md). No grid is taken for better.
pub const EDGE_SIGMA_ARCSEC: f64 = 0.05;

/// Heights so far apart, km, are those of [`EDGE_SIGMA_ARCSEC`].
const EDGE_SPACING_KM: f64 = 1.9;

/// The same for the edge from a grid: more where its heights lie further apart, as the root of the distance. At 112 contacts
/// of 9 eclipses LDEM_4, heights 7.6 km apart, was 0.087″ (root of the mean square) from LDEM_16, which with LDEM_16's own
/// makes 0.10″; all but one in twenty of them on the safe side, totality too short.
/// ```
/// use noonfall_scoring::outlook::window::allowances::{EDGE_SIGMA_ARCSEC, edge_sigma_arcsec};
/// use noonfall_shadow::moon_edge::MoonHeights;
/// assert_eq!(edge_sigma_arcsec(MoonHeights::embedded()), EDGE_SIGMA_ARCSEC);
/// ```
pub fn edge_sigma_arcsec(moon: &MoonHeights) -> f64 {
    EDGE_SIGMA_ARCSEC * (moon.spacing_km() / EDGE_SPACING_KM).max(1.0).sqrt()
}

/// One standard deviation of the Sun's radius at one astronomical unit, arcseconds (Quaglia et al. 2021, Astrophys. J.
/// Suppl. 256, 36: 959.95 ± 0.05).
pub const SUN_SIGMA_ARCSEC: f64 = 0.05;

/// A leap second more or less than the table knows, seconds.
pub const LEAP_SECOND_S: f64 = 1.0;

/// A watch set by the network or a time signal, read by eye, seconds (common practice, no source).
pub const WATCH_S: f64 = 1.0;

/// Least that is kept at either end whatever the causes say, seconds.
pub const FLOOR_S: f64 = 2.0;

/// A cause that moves a printed moment against true totality.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Cause {
    /// Heights of the Moon's edge: grid and frame.
    MoonEdge,
    /// Radius of the Sun.
    SunRadius,
    /// ΔT, computed or given.
    DeltaT,
    /// A leap second that the table does not know.
    LeapSecond,
    /// The place: coordinates as printed, and the walk from the car.
    Place,
    /// Height of the place, or the range of heights where none is known.
    Height,
    /// What all of these do together beyond their sum, near a limit.
    Together,
    /// The watch.
    Watch,
    /// What is missing to the least that is kept.
    Floor,
    /// What the user wants kept beyond.
    Wish,
    /// To the next whole second.
    Rounding,
}

impl Cause {
    /// The stable name in files.
    pub fn name(self) -> &'static str {
        match self {
            Cause::MoonEdge => "moon_edge",
            Cause::SunRadius => "sun_radius",
            Cause::DeltaT => "delta_t",
            Cause::LeapSecond => "leap_second",
            Cause::Place => "place",
            Cause::Height => "height",
            Cause::Together => "together",
            Cause::Watch => "watch",
            Cause::Floor => "floor",
            Cause::Wish => "margin",
            Cause::Rounding => "rounding",
        }
    }
}

/// What is kept for one cause at either end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowance {
    /// The cause.
    pub cause: Cause,
    /// After second contact, seconds.
    pub c2_s: f64,
    /// Before third contact, seconds.
    pub c3_s: f64,
}

/// How far the truth may lie from what is computed with, at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Distance within which the observer stands from the coordinates, metres.
    pub place_m: f64,
    /// Heights between which the observer stands, metres above the ellipsoid.
    pub height_m: [f64; 2],
    /// How much lower than computed the Moon's edge may be, arcseconds.
    pub edge_arcsec: f64,
    /// How much larger than computed the Sun may be, km.
    pub sun_km: f64,
}

impl Spread {
    /// The spread at a place that stands within `place_m` of its coordinates and between two heights, at an edge from some
    /// grid of the Moon.
    pub fn of(place_m: f64, height_m: [f64; 2], moon: &MoonHeights) -> Spread {
        Spread {
            place_m,
            height_m,
            edge_arcsec: SIGMAS * edge_sigma_arcsec(moon),
            sun_km: SIGMAS * SUN_SIGMA_ARCSEC / ARCSEC_PER_RAD * AU_KM,
        }
    }
}

/// An eclipse with the values of ΔT between which the truth lies.
#[derive(Clone, Debug)]
pub struct Turned {
    /// As computed with, then at the least and at the greatest ΔT.
    eclipses: [Eclipse; 3],
}

impl Turned {
    /// ΔT spans [`SIGMAS`] standard deviations about the value in use **and** about the one computed for the date: a value
    /// that somebody gave is not trusted beyond what is known.
    pub fn of(eclipse: &Eclipse) -> Turned {
        let known = DeltaT::for_instant(eclipse.greatest().tt);
        let (used, reach) = (eclipse.delta_t().seconds, SIGMAS * known.sigma_s.max(eclipse.delta_t().sigma_s));
        let at = |seconds: f64| eclipse.with_delta_t(DeltaT { seconds, ..eclipse.delta_t().clone() });
        let (least, most) = (used.min(known.seconds) - reach, used.max(known.seconds) + reach);
        Turned { eclipses: [eclipse.clone(), at(least), at(most)] }
    }

    /// The least and the greatest ΔT, seconds.
    pub fn delta_t_s(&self) -> [f64; 2] {
        [1, 2].map(|turn: usize| self.eclipses[turn].delta_t().seconds)
    }

    /// The eclipse as computed with.
    pub fn eclipse(&self) -> &Eclipse {
        &self.eclipses[0]
    }
}

/// True totality as computed, and what must be kept of it for the causes that move it.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// As computed.
    pub nominal: TrueTotality,
    /// What each cause takes away.
    pub allowances: Vec<Allowance>,
}

/// Why the causes leave no totality.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lost {
    /// There is none even as computed.
    AsComputed,
    /// One cause alone, within its bound, leaves none.
    To(Cause),
}

/// Moves every cause to its bound and solves the contacts again.
///
/// # Errors
/// [`Lost`] where totality may be lost within the bounds.
pub fn moved(
    solver: &mut EdgeSolver<'_>,
    turned: &Turned,
    site: &Site,
    settings: &EdgeSettings,
    spread: &Spread,
) -> Result<Moved, Lost> {
    let nominal = solver.totality(turned.eclipse(), site, settings).ok_or(Lost::AsComputed)?;
    let edges = Edges { c2: nominal.c2.tt, c3: nominal.c3.tt };
    let mut allowances = Vec::new();
    // The bound of each cause that makes second contact latest, and the one that makes third contact earliest.
    let plain = Scene { site: *site, turn: 0, settings: *settings };
    let mut worst = [plain; 2];
    let mut add = |cause: Cause, scenes: &[Scene], keep: &dyn Fn(&Scene, &mut Scene)| -> Result<(), Lost> {
        let (mut c2_s, mut c3_s) = (0.0_f64, 0.0_f64);
        for scene in scenes {
            let totality = scene.solve(solver, turned).ok_or(Lost::To(cause))?;
            let (late, early) = edges.lost(&totality);
            if late > c2_s {
                c2_s = late;
                keep(scene, &mut worst[0]);
            }
            if early > c3_s {
                c3_s = early;
                keep(scene, &mut worst[1]);
            }
        }
        allowances.push(Allowance { cause, c2_s, c3_s });
        Ok(())
    };
    let with = |change: EdgeSettings| Scene { settings: change, ..plain };
    let lowered = with(EdgeSettings { lowered_arcsec: settings.lowered_arcsec + spread.edge_arcsec, ..*settings });
    add(Cause::MoonEdge, &[lowered], &|from, to| to.settings.lowered_arcsec = from.settings.lowered_arcsec)?;
    let larger = with(EdgeSettings { sun_radius_km: settings.sun_radius_km + spread.sun_km, ..*settings });
    add(Cause::SunRadius, &[larger], &|from, to| to.settings.sun_radius_km = from.settings.sun_radius_km)?;
    let turns = [1, 2].map(|turn| Scene { turn, ..plain });
    add(Cause::DeltaT, &turns, &|from, to| to.turn = from.turn)?;
    let around: Vec<Scene> = (0..DIRECTIONS)
        .map(|k| plain.displaced(spread.place_m, 360.0 * f64::from(k) / f64::from(DIRECTIONS)))
        .collect();
    add(Cause::Place, &around, &|from, to| {
        (to.site.lat_deg, to.site.lon_deg) = (from.site.lat_deg, from.site.lon_deg)
    })?;
    let heights = spread.height_m.map(|elevation_m| Scene { site: Site { elevation_m, ..*site }, ..plain });
    add(Cause::Height, &heights, &|from, to| to.site.elevation_m = from.site.elevation_m)?;
    // All at once: where the contacts do not move in proportion, the sum of single moves is too little.
    let together = worst.map(|scene| scene.solve(solver, turned));
    let [Some(for_c2), Some(for_c3)] = together else { return Err(Lost::To(Cause::Together)) };
    let (sum_c2, sum_c3) = allowances.iter().fold((0.0, 0.0), |sum, a| (sum.0 + a.c2_s, sum.1 + a.c3_s));
    let (c2_s, c3_s) = (edges.lost(&for_c2).0 - sum_c2, edges.lost(&for_c3).1 - sum_c3);
    allowances.push(Allowance { cause: Cause::Together, c2_s: c2_s.max(0.0), c3_s: c3_s.max(0.0) });
    Ok(Moved { nominal, allowances })
}

/// Directions in which the observer may stand beside the coordinates. Between two of them a contact moves by at most
/// 1/cos(22.5°) of what the nearer one shows; [`Scene::displaced`] goes that much farther.
const DIRECTIONS: u32 = 8;

struct Edges {
    c2: Tt,
    c3: Tt,
}

impl Edges {
    /// How much later second contact comes, and how much earlier third; not below 0.
    fn lost(&self, other: &TrueTotality) -> (f64, f64) {
        ((other.c2.tt - self.c2).max(0.0), (self.c3 - other.c3.tt).max(0.0))
    }
}

/// One set of what the contacts depend on.
#[derive(Clone, Copy)]
struct Scene {
    site: Site,
    /// Which of the eclipses of [`Turned`].
    turn: usize,
    settings: EdgeSettings,
}

impl Scene {
    fn displaced(self, metres: f64, bearing_deg: f64) -> Scene {
        let reach_km = metres / 1000.0 / (180.0 / f64::from(DIRECTIONS)).to_radians().cos();
        let from = GeoPoint { lat_deg: self.site.lat_deg, lon_deg: self.site.lon_deg };
        let to = destination(from, bearing_deg, reach_km);
        Scene { site: Site { lat_deg: to.lat_deg, lon_deg: to.lon_deg, ..self.site }, ..self }
    }

    fn solve(&self, solver: &mut EdgeSolver<'_>, turned: &Turned) -> Option<TrueTotality> {
        solver.totality(&turned.eclipses[self.turn], &self.site, &self.settings)
    }
}
