//! Second and third contact at the Moon's true edge.
//!
//! Totality is while no point of the Sun's disc lies beyond the edge, so both contacts are roots of one function of time:
//! how far the Sun reaches beyond the edge at the direction where it reaches furthest. For one direction that is a straight
//! line to a ten-thousandth, so the greatest over all of them is convex: Newton's method comes down to a root from outside
//! without overshooting, and where the function stays above zero it shows by turning up again.

use super::heights::MoonHeights;
use super::orientation::MoonAxes;
use super::profile::{DIRECTIONS, Gap, Profile};
use super::settings::EdgeSettings;
use super::sky::{Libration, Sight, Sky};
use super::sun_disc::SunDisc;
use crate::contacts::{Cone, Snapshot, least_separation};
use crate::eclipse::Eclipse;
use crate::relation::Station;
use crate::site::Site;
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::angle::{ARCSEC_PER_RAD, wrap_360};

/// One end of totality at the true edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgeContact {
    /// The instant.
    pub tt: Tt,
    /// Position angle of the last or first light about the Sun's centre, from celestial north through east, degrees in
    /// [0, 360).
    pub position_angle_deg: f64,
    /// The same counted from the zenith.
    pub vertex_angle_deg: f64,
    /// Speed at which the edge passes over that point, arcseconds per second, above zero.
    pub uncovering_arcsec_per_s: f64,
}

/// Totality at the Moon's true edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueTotality {
    /// The last point of the Sun is covered.
    pub c2: EdgeContact,
    /// The first point of the Sun is uncovered.
    pub c3: EdgeContact,
    /// From second to third contact, seconds.
    pub duration_s: f64,
    /// How the Moon is turned in the middle of totality.
    pub libration: Libration,
}

/// Contacts are sought within so many seconds of the least separation; no totality lasts longer than 7.6 minutes. Where
/// only some directions count and they stay covered for longer, the contact is put there.
pub const REACH_S: f64 = 1200.0;

/// Contacts are found to this, seconds.
const CLOSE_ENOUGH_S: f64 = 1e-5;

/// Newton needs 3 to 8 rounds.
const MOST_ROUNDS: usize = 80;

/// How far past the beginning of totality to look from before it, and how far outwards from inside it, seconds.
const PAST_S: f64 = 0.5;
const STRIDE_S: f64 = 30.0;

/// A contact is not told to be slower than this, arcseconds per second; at the very limit the edge only touches.
const SLOWEST_ARCSEC_PER_S: f64 = 1e-3;

/// Profiles that a solver keeps.
const MOST_PROFILES: usize = 12;

impl Eclipse {
    /// Totality at the Moon's true edge; `None` where the edge leaves none.
    /// ```
    /// # use noonfall_ephemeris::Kernel;
    /// # use noonfall_shadow::{Conventions, Eclipse, EclipseError, Site};
    /// # let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// use noonfall_shadow::moon_edge::{EdgeSettings, MoonHeights};
    /// let sydney = Site::new(-33.87, 151.21, 0.0).unwrap();
    /// // Valleys let light through: 223 s where a smooth Moon gives 228.
    /// let seen = eclipse.true_totality(&sydney, MoonHeights::embedded(), &EdgeSettings::default()).unwrap();
    /// assert!((seen.duration_s - 223.5).abs() < 1.5);
    /// # Ok::<(), EclipseError>(())
    /// ```
    pub fn true_totality(&self, site: &Site, heights: &MoonHeights, settings: &EdgeSettings) -> Option<TrueTotality> {
        EdgeSolver::new(heights).totality(self, site, settings)
    }

    /// How the Moon is turned as seen from a place, light time included.
    /// ```
    /// use noonfall_shadow::{Conventions, Eclipse, Site};
    /// use noonfall_ephemeris::{Kernel, Tt};
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), "2028-07-22".parse().unwrap(), None, &Conventions::default())?;
    /// let sydney = Site::new(-33.8688, 151.2093, 20.0).unwrap();
    /// let middle = eclipse.quick(&sydney).max;
    /// let libration = eclipse.libration(&sydney, middle);
    /// assert!((libration.lon_deg + 3.87).abs() < 0.01 && (libration.lat_deg - 0.16).abs() < 0.01);
    /// # Ok::<(), noonfall_shadow::EclipseError>(())
    /// ```
    pub fn libration(&self, site: &Site, tt: Tt) -> Libration {
        let sight = Scene::new(self, site, &MoonAxes::of(self.elements())).sky(tt).sight;
        Libration::between(&sight, &sight)
    }
}

/// Where contacts are sought from.
struct Guess {
    middle: Tt,
    half_s: f64,
    disc: SunDisc,
}

/// A place under an eclipse, ready for any instant.
pub(super) struct Scene<'a> {
    eclipse: &'a Eclipse,
    axes: &'a MoonAxes,
    station: Station,
}

impl<'a> Scene<'a> {
    pub(super) fn new(eclipse: &'a Eclipse, site: &Site, axes: &'a MoonAxes) -> Scene<'a> {
        Scene { eclipse, axes, station: Station::new(site, eclipse.conventions()) }
    }

    pub(super) fn sky(&self, tt: Tt) -> Sky {
        self.seen(tt).1
    }

    fn seen(&self, tt: Tt) -> (Snapshot, Sky) {
        let snapshot = Snapshot::at(self.eclipse.elements(), &self.station, tt);
        (snapshot, Sky::of(&snapshot, self.axes, self.eclipse.conventions().earth_equatorial_radius_km))
    }

    /// Totality by an edge.
    pub(super) fn totality(
        &self,
        heights: &MoonHeights,
        settings: &EdgeSettings,
        edge: &mut impl Edge,
    ) -> Option<TrueTotality> {
        let guess = self.guess(heights, settings)?;
        let mut end = |side: f64| self.end(&guess, edge, side);
        let ((c2, before), (c3, after)) = match (end(-1.0), end(1.0)) {
            // Where only some directions count, one end may fall where they come and go with the turning line of the
            // centres, and is no root: the other still is.
            (None, Some(c3)) if settings.facing.is_some() => (self.far_end(&guess, -1.0)?, c3),
            (Some(c2), None) if settings.facing.is_some() => (c2, self.far_end(&guess, 1.0)?),
            (c2, c3) => (c2?, c3?),
        };
        let duration_s = c3.tt - c2.tt;
        let libration = Libration::between(&before, &after);
        (duration_s > 0.0).then_some(TrueTotality { c2, c3, duration_s, libration })
    }

    /// Where to begin; `None` where no edge of this Moon could cover the Sun.
    fn guess(&self, heights: &MoonHeights, settings: &EdgeSettings) -> Option<Guess> {
        let middle = least_separation(self.eclipse.elements(), &self.station);
        let (snapshot, sky) = self.seen(middle);
        if !could_cover(&sky, heights, settings) {
            return None;
        }
        // Where the smooth Moon has its contacts, to within seconds.
        let half_s = snapshot.half_passage_s(Cone::Umbra).unwrap_or(0.0);
        Some(Guess { middle, half_s, disc: SunDisc::new(settings) })
    }

    /// One end of totality, before the middle (−1) or after it (1), and how the Moon is seen then.
    fn end(&self, guess: &Guess, edge: &mut impl Edge, side: f64) -> Option<(EdgeContact, Sight)> {
        let Guess { middle, half_s, disc } = guess;
        edge.renew();
        let (s, last) = root(*half_s, |s| {
            let tt = middle.plus(side * s);
            let seen = self.seen(tt);
            let (_, sky) = &seen;
            let gap = edge.widest(tt, sky, disc)?;
            let rate = disc.placed(&sky.sight, sky).rate(&sky.sight, &gap.summit);
            Some((gap.height, side * rate, (gap, seen)))
        })?;
        let tt = middle.plus(side * s);
        let (gap, seen) = match last {
            Some((gap, seen)) => (Some(gap), seen),
            None => (None, self.seen(tt)),
        };
        Some((self.contact(disc, gap, &seen, tt, side)?, seen.1.sight))
    }

    /// The end that stands for one which is not sought any further.
    fn far_end(&self, guess: &Guess, side: f64) -> Option<(EdgeContact, Sight)> {
        let tt = guess.middle.plus(side * REACH_S);
        let seen = self.seen(tt);
        Some((self.contact(&guess.disc, None, &seen, tt, side)?, seen.1.sight))
    }

    /// The contact at a point of the edge.
    fn contact(
        &self,
        disc: &SunDisc,
        gap: Option<Gap>,
        (snapshot, sky): &(Snapshot, Sky),
        tt: Tt,
        side: f64,
    ) -> Option<EdgeContact> {
        let placed = disc.placed(&sky.sight, sky);
        let parallactic_rad = self.station.parallactic_angle_rad(&snapshot.moment, &snapshot.relation);
        let position_angle_deg = match gap {
            Some(gap) => placed.position_angle_at_deg(&sky.sight, &gap.summit),
            None => wrap_360(disc.facing?.0),
        };
        let speed = gap.map_or(0.0, |gap| side * placed.rate(&sky.sight, &gap.summit)) * ARCSEC_PER_RAD;
        Some(EdgeContact {
            tt,
            position_angle_deg,
            vertex_angle_deg: wrap_360(position_angle_deg - parallactic_rad.to_degrees()),
            uncovering_arcsec_per_s: speed.max(SLOWEST_ARCSEC_PER_S),
        })
    }
}

/// An edge that can be asked where the Sun reaches furthest beyond it.
pub(super) trait Edge {
    /// The next questions are about another contact.
    fn renew(&mut self);

    /// The widest gap of those that count.
    fn widest(&mut self, tt: Tt, sky: &Sky, disc: &SunDisc) -> Option<Gap>;
}

/// Finds true contacts again and again about one place: what it has learnt of the edge is used while the Moon is seen from
/// nearly the same side, within 0.005″ of finding it anew.
pub struct EdgeSolver<'a> {
    heights: &'a MoonHeights,
    directions: usize,
    profiles: Vec<Profile<'a>>,
}

impl<'a> EdgeSolver<'a> {
    /// With nothing learnt yet.
    pub fn new(heights: &'a MoonHeights) -> EdgeSolver<'a> {
        EdgeSolver { heights, directions: DIRECTIONS, profiles: Vec::new() }
    }

    /// The heights it looks at.
    pub fn heights(&self) -> &'a MoonHeights {
        self.heights
    }

    /// Twice as fine, to see what the sampling leaves.
    #[cfg(test)]
    pub(super) fn finer(heights: &'a MoonHeights) -> EdgeSolver<'a> {
        EdgeSolver { heights, directions: 2 * DIRECTIONS, profiles: Vec::new() }
    }

    /// As [`Eclipse::true_totality`].
    pub fn totality(&mut self, eclipse: &Eclipse, site: &Site, settings: &EdgeSettings) -> Option<TrueTotality> {
        let axes = MoonAxes::of(eclipse.elements());
        Scene::new(eclipse, site, &axes).totality(self.heights, settings, self)
    }

    /// Third contact alone: cheaper where only one side of the Sun counts, whose other end lies far away.
    pub fn third_contact(&mut self, eclipse: &Eclipse, site: &Site, settings: &EdgeSettings) -> Option<EdgeContact> {
        let axes = MoonAxes::of(eclipse.elements());
        let scene = Scene::new(eclipse, site, &axes);
        let guess = scene.guess(self.heights, settings)?;
        Some(scene.end(&guess, self, 1.0)?.0)
    }

    /// The profile for a sky, from what is known or anew.
    pub(super) fn profile(&mut self, sky: &Sky) -> &mut Profile<'a> {
        let known = self.profiles.iter().position(|p| p.serves(&sky.sight));
        let at = known.unwrap_or_else(|| {
            if self.profiles.len() >= MOST_PROFILES {
                self.profiles.remove(0);
            }
            self.profiles.push(Profile::new(self.heights, sky.sight, self.directions));
            self.profiles.len() - 1
        });
        &mut self.profiles[at]
    }
}

impl Edge for EdgeSolver<'_> {
    fn renew(&mut self) {}

    fn widest(&mut self, _: Tt, sky: &Sky, disc: &SunDisc) -> Option<Gap> {
        self.profile(sky).widest(sky, disc)
    }
}

/// Whether any edge of this Moon could cover the Sun at the least separation.
fn could_cover(sky: &Sky, heights: &MoonHeights, settings: &EdgeSettings) -> bool {
    let tangent =
        |radius_km: f64, distance_km: f64| radius_km / (distance_km * distance_km - radius_km * radius_km).sqrt();
    let disc = SunDisc::new(settings);
    let offset = disc.placed(&sky.sight, sky).offset;
    let highest = tangent(heights.ceiling_km(), sky.sight.distance_km) - disc.lowered;
    settings.facing.is_some() || tangent(settings.sun_radius_km, sky.sun_distance_km) + offset <= highest
}

/// The last zero of a convex function of the seconds from the middle outwards; `f` gives value, rate and the gap, or
/// nothing where no direction counts, which is as good as covered. The gap is `None` where the function stays below zero
/// as far as is looked.
fn root<T>(guess_s: f64, mut f: impl FnMut(f64) -> Option<(f64, f64, T)>) -> Option<(f64, Option<T>)> {
    let (mut low, mut high) = (-REACH_S, REACH_S);
    // Whether the Sun is covered at the lower end.
    let mut covered = false;
    let mut at = guess_s;
    for _ in 0..MOST_ROUNDS {
        let (value, rate, gap) = match f(at) {
            Some((value, rate, gap)) => (value, rate, Some(gap)),
            None => (f64::NEG_INFINITY, 0.0, None),
        };
        if value <= 0.0 && at >= REACH_S {
            return Some((REACH_S, gap));
        }
        let newton = at - value / rate;
        let wanted = if rate > 0.0 {
            // Beyond the root, or short of it within totality.
            if value > 0.0 {
                high = high.min(at);
            } else {
                (low, covered) = (low.max(at), true);
            }
            newton
        } else {
            (low, covered) = (low.max(at), value <= 0.0);
            // Before totality the tangent leads to its beginning: go past that, and come down from the other side.
            if value > 0.0 { newton + PAST_S } else { at + STRIDE_S }
        };
        let next = if wanted > low && wanted < high {
            wanted
        } else if high < REACH_S || wanted.is_nan() {
            0.5 * (low + high)
        } else {
            wanted.min(REACH_S)
        };
        if (next - at).abs() < CLOSE_ENOUGH_S {
            // Where only some directions count, one may step over their bound: then the bracket alone tells.
            let root =
                rate > 0.0 && value <= 2.0 * rate * CLOSE_ENOUGH_S || covered && high - low < 4.0 * CLOSE_ENOUGH_S;
            return root.then_some((next, gap));
        }
        at = next;
    }
    None
}
