//! What totality a place gets: by the smooth Moon, by its true edge, and the window decided from it.

use super::skyline::Skyline;
use super::window::allowances::Turned;
use super::window::{Decision, WindowPlace, WindowSettings, decide};
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::wrap_360;
use noonfall_shadow::moon_edge::{EdgeContact, EdgeLattice, EdgeSettings, EdgeSolver, MoonHeights, TrueTotality};
use noonfall_shadow::{Contact, Eclipse, LocalCircumstances, Phase, Site};
use std::sync::{Arc, OnceLock};

/// Which edge of the Moon outputs show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum EdgeShown {
    /// The measured edge.
    #[default]
    True,
    /// The handbook's smooth disc.
    Smooth,
}

impl EdgeShown {
    /// The word, as plans and files have it.
    pub fn word(self) -> &'static str {
        match self {
            EdgeShown::True => "true",
            EdgeShown::Smooth => "smooth",
        }
    }
}

/// Beyond this local magnitude a place is close enough to the path for the true edge to make a totality there.
const NEAR_TOTALITY: f64 = 0.99;

/// The rules by which places are looked at, made once for an eclipse.
#[derive(Clone, Debug)]
pub struct TotalityRules {
    turned: Turned,
    heights: MoonHeights,
    edge: EdgeSettings,
    shown: EdgeShown,
    window: WindowSettings,
    lattice: Arc<OnceLock<Arc<EdgeLattice>>>,
}

/// What totality a place gets.
#[derive(Clone, Debug)]
pub struct Totality {
    /// Circumstances by the smooth Moon (the handbook's convention).
    pub smooth: LocalCircumstances,
    /// Second and third contact at the true edge; `None` where it leaves no totality.
    pub truth: Option<TrueTotality>,
    /// The circumstances that outputs show: second and third contact at the edge that is shown.
    pub shown: LocalCircumstances,
}

impl Totality {
    /// Second and third contact by which the crescent's light is counted: it is computed for a smooth Moon, and so from that
    /// Moon's contacts where it has any.
    pub fn of_the_crescent(&self) -> Option<(Contact, Contact)> {
        let of = |local: &LocalCircumstances| local.c2.zip(local.c3).filter(|_| local.phase == Phase::Total);
        of(&self.smooth).or_else(|| of(&self.shown))
    }

    /// Whether the place lies inside the path of a smooth Moon or of the true one.
    pub fn inside(&self) -> bool {
        self.smooth.phase == Phase::Total || self.truth.is_some()
    }
}

impl TotalityRules {
    /// The rules for an eclipse.
    pub fn new(
        eclipse: &Eclipse,
        heights: MoonHeights,
        edge: EdgeSettings,
        shown: EdgeShown,
        window: WindowSettings,
    ) -> TotalityRules {
        TotalityRules { turned: Turned::of(eclipse), heights, edge, shown, window, lattice: Arc::default() }
    }

    /// The rules with everything as usual: the embedded heights, the true edge shown.
    pub fn usual(eclipse: &Eclipse) -> TotalityRules {
        let heights = MoonHeights::embedded().clone();
        TotalityRules::new(eclipse, heights, EdgeSettings::default(), EdgeShown::True, WindowSettings::default())
    }

    /// The eclipse.
    pub fn eclipse(&self) -> &Eclipse {
        self.turned.eclipse()
    }

    /// The eclipse with the values of ΔT between which the truth lies.
    pub fn turned(&self) -> &Turned {
        &self.turned
    }

    /// Heights of the Moon's edge.
    pub fn heights(&self) -> &MoonHeights {
        &self.heights
    }

    /// The Sun's radius that belongs with the true edge.
    pub fn edge(&self) -> &EdgeSettings {
        &self.edge
    }

    /// Which edge is shown.
    pub fn edge_shown(&self) -> EdgeShown {
        self.shown
    }

    /// What was set about the window.
    pub fn window_settings(&self) -> &WindowSettings {
        &self.window
    }

    /// A solver for the neighbourhood of one place.
    pub fn solver(&self) -> EdgeSolver<'_> {
        EdgeSolver::new(&self.heights)
    }

    /// Profiles of the edge for very many places of the eclipse, searched as they are asked for and kept.
    pub fn lattice(&self) -> &Arc<EdgeLattice> {
        self.lattice.get_or_init(|| Arc::new(EdgeLattice::new(self.eclipse(), &self.heights, &self.edge)))
    }

    /// What totality a place gets.
    pub fn totality(&self, solver: &mut EdgeSolver<'_>, site: &Site) -> Totality {
        self.totality_by(site, || solver.totality(self.eclipse(), site, &self.edge))
    }

    /// The same for one of very many places, within hundredths of a second as a rule ([`EdgeLattice::totality`]).
    pub fn totality_among_many(&self, site: &Site) -> Totality {
        self.totality_by(site, || self.lattice().totality(site))
    }

    fn totality_by(&self, site: &Site, truth: impl FnOnce() -> Option<TrueTotality>) -> Totality {
        let smooth = self.eclipse().local(site);
        let near = smooth.phase == Phase::Total || smooth.magnitude > NEAR_TOTALITY && smooth.phase == Phase::Partial;
        let truth = if near { truth() } else { None };
        let shown = match self.shown {
            EdgeShown::Smooth => smooth.clone(),
            EdgeShown::True => at_true_edge(self.eclipse(), site, &smooth, truth.as_ref()),
        };
        Totality { smooth, truth, shown }
    }

    /// The window of a place, or why there is none.
    pub fn decide(
        &self,
        solver: &mut EdgeSolver<'_>,
        site: &Site,
        height_known: bool,
        totality: &Totality,
        skyline: Option<&Skyline>,
    ) -> Decision {
        let place = WindowPlace { site, height_known, smooth: &totality.smooth, skyline };
        decide(solver, &self.turned, &self.edge, &self.window, &place)
    }
}

/// The circumstances of the smooth Moon with second and third contact at the true edge; where that leaves no totality the
/// place is one of a partial eclipse, all of the Sun but some beads covered.
fn at_true_edge(
    eclipse: &Eclipse,
    site: &Site,
    smooth: &LocalCircumstances,
    truth: Option<&TrueTotality>,
) -> LocalCircumstances {
    let contact = |c: &EdgeContact| contact_at(eclipse, site, c.tt, c.position_angle_deg);
    match (smooth.phase, truth) {
        (Phase::Total | Phase::Partial, Some(truth)) => LocalCircumstances {
            phase: Phase::Total,
            c2: Some(contact(&truth.c2)),
            c3: Some(contact(&truth.c3)),
            duration_s: truth.duration_s,
            obscuration: 1.0,
            ..smooth.clone()
        },
        (Phase::Total, None) => {
            LocalCircumstances { phase: Phase::Partial, c2: None, c3: None, duration_s: 0.0, ..smooth.clone() }
        }
        _ => smooth.clone(),
    }
}

/// The Sun at an instant, with a point on its limb.
fn contact_at(eclipse: &Eclipse, site: &Site, tt: Tt, position_angle_deg: f64) -> Contact {
    let view = eclipse.view(site, tt);
    Contact {
        tt,
        sun_altitude_deg: view.sun_altitude_deg,
        sun_apparent_altitude_deg: view.sun_apparent_altitude_deg,
        sun_azimuth_deg: view.sun_azimuth_deg,
        position_angle_deg: wrap_360(position_angle_deg),
        vertex_angle_deg: wrap_360(position_angle_deg - view.parallactic_angle_deg),
        above_horizon: view.above_horizon(),
    }
}
