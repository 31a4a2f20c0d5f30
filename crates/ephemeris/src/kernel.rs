//! Barycentric positions of the bodies from an SPK file: the embedded excerpt of DE440 or one that is given.

use crate::constants::EARTH_MOON_MASS_RATIO;
use crate::spk::{Segment, Spk, SpkError};
use crate::time_scales::Tt;
use crate::vector::{Vec3, add, scale, sub};
use noonfall_data_ephemeris::DE440_1900_2100;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

/// A body of the solar system.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Body {
    /// The Sun.
    Sun,
    /// The Moon.
    Moon,
    /// The Earth's centre.
    Earth,
    /// The centre of mass of the Earth and the Moon.
    EarthMoonBarycentre,
    /// Mercury.
    Mercury,
    /// Venus.
    Venus,
    /// Mars (the centre of mass of its system).
    Mars,
    /// Jupiter (the centre of mass of its system).
    Jupiter,
    /// Saturn (the centre of mass of its system).
    Saturn,
}

impl Body {
    /// NAIF numbers under which a file may hold the body, best first.
    fn naif_ids(self) -> &'static [i32] {
        match self {
            Body::Sun => &[10],
            Body::Moon => &[301],
            Body::Earth => &[399],
            Body::EarthMoonBarycentre => &[3],
            Body::Mercury => &[1, 199],
            Body::Venus => &[2, 299],
            Body::Mars => &[4, 499],
            Body::Jupiter => &[5, 599],
            Body::Saturn => &[6, 699],
        }
    }
}

/// Position and velocity in the barycentric celestial frame (ICRS axes).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State {
    /// Position, km.
    pub position_km: Vec3,
    /// Velocity, km/s.
    pub velocity_km_s: Vec3,
}

/// Why a position could not be had.
#[derive(Debug, thiserror::Error)]
pub enum KernelError {
    /// The file cannot be used.
    #[error("kernel {path} {cause}")]
    Unusable {
        /// The file, as it was given.
        path: String,
        /// What is wrong with it.
        #[source]
        cause: SpkError,
    },
    /// The file has segments for the body, but of a kind that is not read.
    #[error(
        "kernel {path} holds {body:?} only as SPK type {data_type} in frame {frame}; types 2 and 3 (Chebyshev) in frame 1 \
         (ICRF) are read"
    )]
    WrongType {
        /// The file.
        path: String,
        /// The body asked for.
        body: Body,
        /// The type found.
        data_type: i32,
        /// The reference frame found, by its NAIF number.
        frame: i32,
    },
    /// The file has no segment for the body.
    #[error("kernel {path} has no positions of {body:?}; it holds bodies {held:?} (NAIF numbers)")]
    Missing {
        /// The file.
        path: String,
        /// The body asked for.
        body: Body,
        /// What the file holds.
        held: Vec<i32>,
    },
    /// The instant lies outside the file's span for the body, or in a gap.
    #[error("kernel {path} does not cover {instant} TT for {body:?}; it covers {covered}")]
    OutOfSpan {
        /// The file.
        path: String,
        /// The body asked for.
        body: Body,
        /// The instant asked for.
        instant: String,
        /// The spans it has, in words.
        covered: String,
    },
}

/// An open planetary ephemeris.
#[derive(Debug)]
pub struct Kernel {
    path: PathBuf,
    spk: Spk,
}

static DEFAULT: LazyLock<Option<Kernel>> = LazyLock::new(|| {
    Some(Kernel { path: PathBuf::from("embedded DE440 excerpt"), spk: Spk::from_packed(DE440_1900_2100).ok()? })
});

impl Kernel {
    /// The embedded excerpt of DE440, 1900–2100.
    ///
    /// # Panics
    /// Never in a build whose tests pass: the embedded file is part of the program.
    #[allow(clippy::panic)]
    pub fn embedded() -> &'static Kernel {
        match DEFAULT.as_ref() {
            Some(kernel) => kernel,
            None => panic!("the embedded ephemeris is damaged: the program was built from a broken copy"),
        }
    }

    /// Opens an SPK file.
    ///
    /// # Errors
    /// [`KernelError::Unusable`], with the reason.
    pub fn open(path: &Path) -> Result<Kernel, KernelError> {
        let spk = Spk::open(path).map_err(|cause| KernelError::Unusable { path: path.display().to_string(), cause })?;
        Ok(Kernel { path: path.to_owned(), spk })
    }

    /// The kernel as an SPK file, so that another program can be held against the same positions.
    ///
    /// ```
    /// let bytes = noonfall_ephemeris::Kernel::embedded().spk_bytes()?;
    /// assert_eq!(&bytes[..8], b"DAF/SPK ");
    /// # Ok::<(), noonfall_ephemeris::KernelError>(())
    /// ```
    ///
    /// # Errors
    /// [`KernelError::Unusable`] if the file behind it cannot be read any more.
    pub fn spk_bytes(&self) -> Result<Vec<u8>, KernelError> {
        self.spk.bytes().map_err(|cause| KernelError::Unusable { path: self.path.display().to_string(), cause })
    }

    /// What the kernel is, for people.
    pub fn describe(&self) -> String {
        match self.path.file_name() {
            Some(name) => name.to_string_lossy().into_owned(),
            None => self.path.display().to_string(),
        }
    }

    /// First and last instant covered for the Sun and the Moon both, if they are held at all.
    pub fn span(&self) -> Option<(Tt, Tt)> {
        let of = |id: i32| {
            let held = self.spk.segments().iter().filter(move |s| s.target == id && s.is_readable());
            held.fold(None, |span: Option<(f64, f64)>, s| {
                let (start, end) = span.unwrap_or((s.start_et, s.end_et));
                Some((start.min(s.start_et), end.max(s.end_et)))
            })
        };
        let ((a, b), (c, d)) = (of(10)?, of(301)?);
        Some((Tt(a.max(c)), Tt(b.min(d))))
    }

    /// Barycentric position.
    ///
    /// # Units
    /// Kilometres along the ICRS axes.
    /// # Errors
    /// [`KernelError`] if the kernel does not hold the body at the instant.
    pub fn position_km(&self, body: Body, tt: Tt) -> Result<Vec3, KernelError> {
        Ok(self.state(body, tt)?.position_km)
    }

    /// Barycentric position and velocity.
    ///
    /// # Errors
    /// [`KernelError`] if the kernel does not hold the body at the instant.
    pub fn state(&self, body: Body, tt: Tt) -> Result<State, KernelError> {
        self.state_after(body, tt, 0.0)
    }

    /// As [`Kernel::state`], a few seconds or minutes after an instant.
    ///
    /// A double holds an instant a century away to half a microsecond, in which the Earth goes a centimetre and a half
    /// round the Sun. Light times must not be rounded like that: what the rounding takes away is put back along the
    /// velocity.
    ///
    /// # Errors
    /// As [`Kernel::state`].
    pub fn state_after(&self, body: Body, tt: Tt, offset_s: f64) -> Result<State, KernelError> {
        let offset_s = offset_s + tt.tdb_minus_tt_s();
        let et = tt.0 + offset_s;
        let rounded_away_s = offset_s - (et - tt.0);
        let state = self.state_at_et(body, et, tt)?;
        Ok(State { position_km: add(state.position_km, scale(state.velocity_km_s, rounded_away_s)), ..state })
    }

    fn state_at_et(&self, body: Body, et: f64, tt: Tt) -> Result<State, KernelError> {
        if body == Body::Earth && !self.holds(399) {
            // The Earth and the Moon lie opposite each other about their centre of mass.
            let barycentre = self.state_at_et(Body::EarthMoonBarycentre, et, tt)?;
            let moon = self.state_at_et(Body::Moon, et, tt)?;
            let earth = |b: Vec3, m: Vec3| sub(b, scale(sub(m, b), 1.0 / EARTH_MOON_MASS_RATIO));
            return Ok(State {
                position_km: earth(barycentre.position_km, moon.position_km),
                velocity_km_s: earth(barycentre.velocity_km_s, moon.velocity_km_s),
            });
        }
        let mut id = body.naif_ids().iter().copied().find(|&id| self.holds(id)).unwrap_or(body.naif_ids()[0]);
        let mut state = State { position_km: [0.0; 3], velocity_km_s: [0.0; 3] };
        // Moon, barycentre, Sun system: published files need no more than three steps to the centre.
        for _ in 0..6 {
            let segment = self.segment(body, id, et, tt)?;
            let (position, velocity) = self
                .spk
                .evaluate(segment, et)
                .map_err(|cause| KernelError::Unusable { path: self.path.display().to_string(), cause })?;
            state.position_km = add(state.position_km, position);
            state.velocity_km_s = add(state.velocity_km_s, velocity);
            id = segment.centre;
            if id == 0 {
                return Ok(state);
            }
        }
        Err(KernelError::Unusable {
            path: self.path.display().to_string(),
            cause: SpkError::Damaged(format!("the chain of centres from {body:?} does not reach the barycentre")),
        })
    }

    fn holds(&self, id: i32) -> bool {
        self.spk.segments().iter().any(|s| s.target == id)
    }

    /// The last segment of the file that covers the instant, as the format demands.
    fn segment(&self, body: Body, id: i32, et: f64, tt: Tt) -> Result<&Segment, KernelError> {
        let path = || self.path.display().to_string();
        let of_body = || self.spk.segments().iter().filter(move |s| s.target == id);
        if let Some(segment) = of_body().rev().find(|s| s.covers(et) && s.is_readable()) {
            return Ok(segment);
        }
        if let Some(other) = of_body().rev().find(|s| s.covers(et)) {
            let (data_type, frame) = (other.data_type, other.frame);
            return Err(KernelError::WrongType { path: path(), body, data_type, frame });
        }
        // A gap within the day needs the hour to be understood.
        let bound = |et: f64| match Tt(et) {
            near if (near - tt).abs() < 2.0 * 86_400.0 => near.rfc3339(),
            far => far.calendar_date().to_string(),
        };
        let covered: Vec<String> = of_body().map(|s| format!("{} to {}", bound(s.start_et), bound(s.end_et))).collect();
        if covered.is_empty() {
            let mut held: Vec<i32> = self.spk.segments().iter().map(|s| s.target).collect();
            held.sort_unstable();
            held.dedup();
            return Err(KernelError::Missing { path: path(), body, held });
        }
        Err(KernelError::OutOfSpan { path: path(), body, instant: tt.rfc3339(), covered: covered.join(", ") })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vector::norm;

    #[test]
    fn the_embedded_excerpt_covers_1900_to_2100() {
        let (start, end) = Kernel::embedded().span().unwrap();
        assert!(start < Tt::from_calendar(1900, 1, 1, 0.0) && end > Tt::from_calendar(2100, 12, 31, 0.0));
    }

    #[test]
    fn an_instant_outside_says_what_is_covered() {
        let error = Kernel::embedded().state(Body::Sun, Tt::from_calendar(1805, 1, 1, 0.0)).unwrap_err().to_string();
        assert!(error.contains("1805") && error.contains("it covers 1899-1"), "{error}");
    }

    /// The Moon's distance stays between 356 400 and 406 720 km (Meeus, Astronomical Algorithms, ch. 50, from memory).
    #[test]
    fn the_moon_keeps_its_distance() {
        let kernel = Kernel::embedded();
        for day in (-36_500..36_500).step_by(97) {
            let tt = Tt(f64::from(day) * 86_400.0);
            let moon = kernel.position_km(Body::Moon, tt).unwrap();
            let earth = kernel.position_km(Body::Earth, tt).unwrap();
            let distance = norm(sub(moon, earth));
            assert!((356_300.0..406_800.0).contains(&distance), "{day}: {distance}");
        }
    }

    #[test]
    fn velocities_are_the_slopes_of_the_positions() {
        let kernel = Kernel::embedded();
        let tt = Tt::from_calendar(2028, 7, 22, 3.0);
        for body in [Body::Sun, Body::Moon, Body::Earth, Body::Mercury, Body::Saturn] {
            let state = kernel.state(body, tt).unwrap();
            let (a, b) =
                (kernel.position_km(body, tt.plus(-60.0)).unwrap(), kernel.position_km(body, tt.plus(60.0)).unwrap());
            let slope = scale(sub(b, a), 1.0 / 120.0);
            assert!(norm(sub(slope, state.velocity_km_s)) < 1e-5, "{body:?}");
        }
    }
}
