//! Beads: arcs of light that stand apart in the last seconds before totality and in the first after it.
//!
//! Every direction about the edge goes dark at an instant of its own. Counted backwards from the second contact (forwards
//! from the third), an arc of light appears at a valley, grows, and runs together with its neighbour when the ridge between
//! the two is uncovered. Of two arcs that meet, the one that lasted longer goes on; the other was a bead, from the meeting
//! to its end. This is the merge tree of the instants round the edge.

use super::heights::MoonHeights;
use super::orientation::MoonAxes;
use super::profile::Profile;
use super::settings::EdgeSettings;
use super::sky::Sky;
use super::skyline::Summit;
use super::sun_disc::SunDisc;
use super::true_contacts::{EdgeContact, EdgeSolver, Scene};
use crate::eclipse::Eclipse;
use crate::site::Site;
use noonfall_ephemeris::Tt;

/// Beads are followed for so long before second and after third contact, seconds. Our choice: before that the light is
/// still a crescent.
pub const BEADS_WITHIN_S: f64 = 12.0;

/// Arcs that stand apart for less than this are one to the eye, seconds. Our choice.
pub const BEAD_LASTS_S: f64 = 0.7;

/// The beads of one contact that last longest, and no more. Our choice: near a limit there are dozens.
pub const MOST_BEADS: usize = 12;

/// Instants, evenly over [`BEADS_WITHIN_S`], at which the Sun's reach is computed; between them it is a straight line to
/// 0.001″.
const INSTANTS: usize = 7;

/// Which contact a bead belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BeadSide {
    /// Before second contact.
    C2,
    /// After third contact.
    C3,
}

/// An arc of light that stands apart from the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bead {
    /// Which contact it belongs to.
    pub side: BeadSide,
    /// Where it goes out or appears: position angle about the Sun's centre, from celestial north through east, degrees in
    /// [0, 360).
    pub position_angle_deg: f64,
    /// It stands apart from here: before C2 from when the light beside it goes out, after C3 from when it appears; not
    /// earlier than [`BEADS_WITHIN_S`] before C2.
    pub from: Tt,
    /// To here: before C2 to its end, after C3 to when it runs together with light beside it; not later than
    /// [`BEADS_WITHIN_S`] after C3.
    pub to: Tt,
    /// The last light before C2, the first after C3.
    pub extreme: bool,
}

impl Eclipse {
    /// Beads at the Moon's true edge, those of C2 in the order in which they go out, then those of C3 in the order in
    /// which they appear. Empty where there is no true totality.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// use noonfall_shadow::moon_edge::{BeadSide, EdgeSettings, MoonHeights};
    /// let sydney = Site::new(-33.87, 151.21, 0.0).unwrap();
    /// // One bead is the last before second contact, one the first after third.
    /// let beads = eclipse.beads(&sydney, MoonHeights::embedded(), &EdgeSettings::default());
    /// let extreme = |side| beads.iter().filter(|bead| bead.side == side && bead.extreme).count();
    /// assert_eq!((extreme(BeadSide::C2), extreme(BeadSide::C3)), (1, 1));
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn beads(&self, site: &Site, heights: &MoonHeights, settings: &EdgeSettings) -> Vec<Bead> {
        EdgeSolver::new(heights).beads(self, site, settings)
    }
}

impl EdgeSolver<'_> {
    /// As [`Eclipse::beads`].
    pub fn beads(&mut self, eclipse: &Eclipse, site: &Site, settings: &EdgeSettings) -> Vec<Bead> {
        let Some(totality) = self.totality(eclipse, site, settings) else { return Vec::new() };
        let axes = MoonAxes::of(eclipse.elements());
        let scene = Scene::new(eclipse, site, &axes);
        let disc = SunDisc::new(settings);
        let mut beads = self.beads_at(&scene, &disc, &totality.c2, BeadSide::C2);
        beads.sort_by(|a, b| a.to.0.total_cmp(&b.to.0));
        let mut after = self.beads_at(&scene, &disc, &totality.c3, BeadSide::C3);
        after.sort_by(|a, b| a.from.0.total_cmp(&b.from.0));
        beads.extend(after);
        beads
    }

    fn beads_at(&mut self, scene: &Scene, disc: &SunDisc, contact: &EdgeContact, side: BeadSide) -> Vec<Bead> {
        let sign = if side == BeadSide::C2 { -1.0 } else { 1.0 };
        let instant = |seconds: f64| contact.tt.plus(sign * seconds);
        let skies: [Sky; INSTANTS] =
            std::array::from_fn(|k| scene.sky(instant(BEADS_WITHIN_S * k as f64 / (INSTANTS - 1) as f64)));
        let profile = self.profile(&skies[0]);
        let lit = Lit::of(profile, &skies, disc);
        let arcs = arcs(&lit.after_s);
        let mut arcs: Vec<Arc> = arcs.into_iter().filter(|arc| arc.apart_s - arc.appears_s >= BEAD_LASTS_S).collect();
        // The light of the contact itself stays, however short a while it stands apart.
        let rank = |arc: &Arc| if arc.eldest { f64::INFINITY } else { arc.apart_s - arc.appears_s };
        arcs.sort_by(|a, b| rank(b).total_cmp(&rank(a)).then(a.index.cmp(&b.index)));
        arcs.truncate(MOST_BEADS);
        arcs.iter()
            .map(|arc| {
                let near = if arc.eldest { contact.tt } else { instant(arc.appears_s) };
                let far = instant(arc.apart_s);
                let sky = scene.sky(near);
                let position_angle_deg = if arc.eldest {
                    contact.position_angle_deg
                } else {
                    disc.placed(&sky.sight, &sky).position_angle_at_deg(&sky.sight, &lit.summits[arc.index])
                };
                let (from, to) = if side == BeadSide::C2 { (far, near) } else { (near, far) };
                Bead { side, position_angle_deg, from, to, extreme: arc.eldest }
            })
            .collect()
    }
}

/// For each direction, seconds from the contact to when it is lit; infinite where it is dark throughout.
struct Lit {
    after_s: Vec<f64>,
    summits: Vec<Summit>,
}

impl Lit {
    fn of(profile: &mut Profile, skies: &[Sky; INSTANTS], disc: &SunDisc) -> Lit {
        let sights = skies.map(|sky| sky.sight.with_axes_of(profile.sight()));
        let placed: [_; INSTANTS] = std::array::from_fn(|k| disc.placed(&sights[k], &skies[k]));
        let last = placed[INSTANTS - 1];
        // What the Sun does not reach in all that time need not be known better.
        let enough = |angle: f64| {
            let reach = last.reach(last.centre[0] * angle.sin() + last.centre[1] * angle.cos());
            if reach.is_finite() { reach + disc.lowered + FAR } else { f64::NEG_INFINITY }
        };
        let around = profile.around(enough);
        let after = |summit: &Summit| {
            let mut before: Option<f64> = None;
            for k in 0..INSTANTS {
                let step_s = BEADS_WITHIN_S / (INSTANTS - 1) as f64;
                let gap = placed[k].beyond(&sights[k], summit, disc)?;
                match before {
                    _ if gap > 0.0 && k == 0 => return Some(0.0),
                    Some(before) if gap > 0.0 => return Some((k as f64 - gap / (gap - before)) * step_s),
                    _ => before = Some(gap),
                }
            }
            None
        };
        let mut lit = Lit { after_s: Vec::with_capacity(around.len()), summits: Vec::with_capacity(around.len()) };
        for (summit, whole) in &around {
            lit.after_s.push(if *whole { after(summit).unwrap_or(f64::INFINITY) } else { f64::INFINITY });
            lit.summits.push(*summit);
        }
        let count = around.len();
        for index in 0..count {
            let here = lit.after_s[index];
            if here.is_finite()
                && here <= lit.after_s[(index + count - 1) % count]
                && here <= lit.after_s[(index + 1) % count]
            {
                let summit = profile.lowest_about(index);
                if let Some(sooner) = after(&summit).filter(|&s| s < here) {
                    (lit.after_s[index], lit.summits[index]) = (sooner, summit);
                }
            }
        }
        lit
    }
}

/// A little more than the Sun reaches, as a tangent: 0.2″.
const FAR: f64 = 0.2 / 206_265.0;

/// An arc of light, in seconds from the contact.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Arc {
    index: usize,
    appears_s: f64,
    /// It stands apart until here.
    apart_s: f64,
    /// The first to appear.
    eldest: bool,
}

/// The merge tree of values round a circle, infinite ones left out.
fn arcs(after_s: &[f64]) -> Vec<Arc> {
    let count = after_s.len();
    let mut order: Vec<usize> = (0..count).filter(|&i| after_s[i].is_finite()).collect();
    order.sort_by(|&a, &b| after_s[a].total_cmp(&after_s[b]).then(a.cmp(&b)));
    // Of each direction, the arc that it belongs to, as the index where that began.
    let mut member: Vec<Option<usize>> = vec![None; count];
    fn root(member: &mut [Option<usize>], mut at: usize) -> usize {
        while let Some(next) = member[at].filter(|&next| next != at) {
            member[at] = member[next];
            at = next;
        }
        at
    }
    let mut arcs: Vec<Arc> = Vec::new();
    let mut eldest_meets = BEADS_WITHIN_S;
    for &i in &order {
        let beside = [(i + count - 1) % count, (i + 1) % count].map(|j| member[j].map(|_| j));
        let beside = beside.map(|j| j.map(|j| root(&mut member, j)));
        match beside {
            [None, None] => member[i] = Some(i),
            [Some(a), None] | [None, Some(a)] => member[i] = Some(a),
            [Some(a), Some(b)] if a == b => member[i] = Some(a),
            [Some(a), Some(b)] => {
                let (old, young) = if (after_s[a], a) < (after_s[b], b) { (a, b) } else { (b, a) };
                let arc = Arc { index: young, appears_s: after_s[young], apart_s: after_s[i], eldest: false };
                if old == order[0] && arc.apart_s - arc.appears_s >= BEAD_LASTS_S {
                    eldest_meets = eldest_meets.min(arc.apart_s);
                }
                arcs.push(arc);
                (member[i], member[young]) = (Some(old), Some(old));
            }
        }
    }
    for &i in &order {
        if member[i] == Some(i) {
            let eldest = i == order[0];
            let apart_s = if eldest { eldest_meets } else { BEADS_WITHIN_S };
            arcs.push(Arc { index: i, appears_s: after_s[i], apart_s, eldest });
        }
    }
    arcs
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two valleys, the ridge between them at 3 s and (round the circle) at 5 s; a third place is never lit.
    #[test]
    fn arcs_of_a_small_circle() {
        let inf = f64::INFINITY;
        let found = arcs(&[1.0, 2.0, 3.0, 2.5, 0.5, 4.0, 5.0, inf]);
        // The valley of 1 s meets the one of 0.5 s at 3 s; the older then goes on, apart until that meeting.
        assert_eq!(
            found,
            [
                Arc { index: 0, appears_s: 1.0, apart_s: 3.0, eldest: false },
                Arc { index: 4, appears_s: 0.5, apart_s: 3.0, eldest: true }
            ]
        );
        assert!(arcs(&[inf; 4]).is_empty());
    }
}
