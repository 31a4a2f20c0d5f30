//! Local circumstances of many places at once: columns in, columns out.
//!
//! The plain path ([`crate::local_circumstances`]) computes one place and can be read from top to bottom. This one gives
//! the same answers, within 0.1 ms and 0.000 01°, many times as fast. How:
//!
//! - `basis`: all functions of time belong to the eclipse; a site's polynomials are linear combinations of them, so that
//!   no iteration meets a sine or a root of the Earth's figure;
//! - `lanes`: eight sites side by side in vector instructions;
//! - `solver`: a fixed number of Newton steps for each root, no branch that depends on one site, and a mark on the few
//!   sites where that was not enough; those are given to the plain path.
//!
//! The answers are the same bits with any instruction set and any number of threads, and do not depend on which sites
//! stand side by side.

mod basis;
mod lanes;
mod solver;

use crate::eclipse::Eclipse;
use crate::elements::HALF_SPAN_S;
use crate::kind::Phase;
use crate::local_circumstances::{Contact, LocalCircumstances};
use crate::site::{Site, SiteError};
use basis::Basis;
use fearless_simd::prelude::*;
use fearless_simd::{Level, Simd};
use lanes::{LANES, Lanes, Mask};
use noonfall_ephemeris::Tt;
use solver::{Figure, Instant, Maximum, Sites};

/// Sites that one task works through before it looks for company.
const TASK_SITES: usize = 4096;

/// Places, one column a coordinate.
#[derive(Clone, Copy, Debug)]
pub struct SiteBatch<'a> {
    /// Geodetic latitudes, degrees north, −90 to 90.
    pub lat_deg: &'a [f64],
    /// Longitudes, degrees east, −180 to 360.
    pub lon_deg: &'a [f64],
    /// Heights above the ellipsoid, metres.
    pub elevation_m: &'a [f64],
}

/// Why a batch was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BatchError {
    /// Columns of different lengths.
    #[error("the columns have different lengths: {lat} latitudes, {lon} longitudes, {elevation} elevations")]
    Lengths {
        /// Latitudes given.
        lat: usize,
        /// Longitudes given.
        lon: usize,
        /// Elevations given.
        elevation: usize,
    },
    /// A row that is no place.
    #[error("row {row} (counted from 0) is not a place: {cause}")]
    Site {
        /// Row of the first such place.
        row: usize,
        /// What is wrong with it.
        #[source]
        cause: SiteError,
    },
}

/// One kind of instant for all places of a batch.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BatchContact {
    /// Seconds of TT after the batch's epoch.
    pub after_epoch_s: Vec<f64>,
    /// Airless altitude of the Sun's centre, degrees.
    pub sun_altitude_deg: Vec<f64>,
    /// Azimuth of the Sun's centre from north through east, degrees in [0, 360).
    pub sun_azimuth_deg: Vec<f64>,
}

/// Circumstances of all places of a batch, one row a place.
///
/// `phase` says which instants exist: all columns hold 0 where it is [`Phase::None`]; C2, C3 and the duration hold 0
/// where it is [`Phase::Partial`]. Whether the Sun is up is for the caller to see from the altitudes.
#[derive(Clone, Debug, PartialEq)]
pub struct LocalBatch {
    /// From when the instants are counted.
    pub epoch: Tt,
    /// The most each place gets.
    pub phase: Vec<Phase>,
    /// First contact.
    pub c1: BatchContact,
    /// Second contact.
    pub c2: BatchContact,
    /// Least separation.
    pub max: BatchContact,
    /// Third contact.
    pub c3: BatchContact,
    /// Fourth contact.
    pub c4: BatchContact,
    /// Seconds from second to third contact.
    pub duration_s: Vec<f64>,
    /// Local magnitude at maximum.
    pub magnitude: Vec<f64>,
}

/// What a search over a grid needs, one row a place; same conventions as [`LocalBatch`].
#[derive(Clone, Debug, PartialEq)]
pub struct QuickBatch {
    /// From when the instants are counted.
    pub epoch: Tt,
    /// The most each place gets.
    pub phase: Vec<Phase>,
    /// Least separation, seconds of TT after the epoch.
    pub max_after_epoch_s: Vec<f64>,
    /// Seconds from second to third contact.
    pub duration_s: Vec<f64>,
    /// Airless altitude of the Sun's centre at maximum, degrees.
    pub sun_altitude_deg: Vec<f64>,
}

/// One eclipse made ready for batches. Making it takes some tens of microseconds; it can be shared between threads.
#[derive(Clone, Debug)]
pub struct BatchSolver<'a> {
    eclipse: &'a Eclipse,
    basis: Basis,
    figure: Figure,
}

impl<'a> BatchSolver<'a> {
    /// Prepares an eclipse.
    pub fn new(eclipse: &'a Eclipse) -> BatchSolver<'a> {
        let ellipsoid = eclipse.conventions().ellipsoid();
        BatchSolver {
            eclipse,
            basis: Basis::of(eclipse.elements(), eclipse.conventions()),
            figure: Figure {
                equatorial_radius_m: ellipsoid.equatorial_radius_km * 1000.0,
                polar_ratio_squared: ellipsoid.polar_ratio() * ellipsoid.polar_ratio(),
            },
        }
    }

    /// Full circumstances. Work is spread over the threads of the current pool.
    ///
    /// # Errors
    /// [`BatchError`] if the columns do not fit together or a row is no place.
    /// ```
    /// use noonfall_ephemeris::Kernel;
    /// use noonfall_shadow::batch::{BatchSolver, SiteBatch};
    /// use noonfall_shadow::{Conventions, Eclipse, Phase};
    /// let date = "2028-07-22".parse().unwrap();
    /// let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default())?;
    /// let solver = BatchSolver::new(&eclipse);
    /// // Wyndham, Alice Springs and Perth.
    /// let sites =
    ///     SiteBatch { lat_deg: &[-15.49, -23.7, -31.95], lon_deg: &[128.12, 133.88, 115.86], elevation_m: &[0.0; 3] };
    /// let found = solver.local(sites)?;
    /// assert_eq!(found.phase, [Phase::Total, Phase::Partial, Phase::Partial]);
    /// assert_eq!(found.duration_s.iter().map(|s| s.round()).collect::<Vec<_>>(), [201.0, 0.0, 0.0]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn local(&self, sites: SiteBatch) -> Result<LocalBatch, BatchError> {
        let mut out = LocalBatch::empty(self.eclipse.elements().epoch());
        self.local_into(sites, &mut out)?;
        Ok(out)
    }

    /// As [`BatchSolver::local`], into columns that are used again: a long search then allocates once.
    ///
    /// # Errors
    /// As [`BatchSolver::local`]; `out` is then left as it was.
    pub fn local_into(&self, sites: SiteBatch, out: &mut LocalBatch) -> Result<(), BatchError> {
        sites.check()?;
        out.epoch = self.eclipse.elements().epoch();
        out.resize(sites.lat_deg.len());
        spread(sites, out.columns(), &|sites, columns| self.fill_local(sites, columns));
        Ok(())
    }

    /// Phase, maximum, duration and Sun's altitude only. Work is spread over the threads of the current pool.
    ///
    /// # Errors
    /// As [`BatchSolver::local`].
    pub fn quick(&self, sites: SiteBatch) -> Result<QuickBatch, BatchError> {
        let mut out = QuickBatch::empty(self.eclipse.elements().epoch());
        self.quick_into(sites, &mut out)?;
        Ok(out)
    }

    /// As [`BatchSolver::quick`], into columns that are used again.
    ///
    /// # Errors
    /// As [`BatchSolver::local`]; `out` is then left as it was.
    pub fn quick_into(&self, sites: SiteBatch, out: &mut QuickBatch) -> Result<(), BatchError> {
        sites.check()?;
        out.epoch = self.eclipse.elements().epoch();
        out.resize(sites.lat_deg.len());
        spread(sites, out.columns(), &|sites, columns| self.fill_quick(sites, columns));
        Ok(())
    }

    /// Works through one task's sites with the best instructions of the processor.
    fn fill_local(&self, sites: SiteBatch, out: LocalColumns) {
        let level = Level::new();
        #[cfg(target_arch = "x86_64")]
        if let Some(avx2) = level.as_avx2() {
            avx2.vectorize(
                #[inline(always)]
                || fill_local(avx2, self, sites, out),
            );
        } else if let Some(sse2) = level.as_sse2() {
            // All x86-64 processors have it.
            fill_local(sse2, self, sites, out);
        }
        #[cfg(not(target_arch = "x86_64"))]
        fearless_simd::dispatch!(level, simd => fill_local(simd, self, sites, out))
    }

    fn fill_quick(&self, sites: SiteBatch, out: QuickColumns) {
        let level = Level::new();
        #[cfg(target_arch = "x86_64")]
        if let Some(avx2) = level.as_avx2() {
            avx2.vectorize(
                #[inline(always)]
                || fill_quick(avx2, self, sites, out),
            );
        } else if let Some(sse2) = level.as_sse2() {
            // All x86-64 processors have it.
            fill_quick(sse2, self, sites, out);
        }
        #[cfg(not(target_arch = "x86_64"))]
        fearless_simd::dispatch!(level, simd => fill_quick(simd, self, sites, out))
    }

    #[inline(always)]
    fn lanes<S: Simd>(&self, simd: S, sites: SiteBatch, first: usize) -> Sites<'_, S> {
        let load = |column: &[f64]| {
            if let Some(full) = column.get(first..first + LANES) {
                Lanes::from_slice(simd, full)
            } else {
                // Past the end the last place stands in.
                Lanes::from_fn(simd, |i| column[(first + i).min(column.len() - 1)])
            }
        };
        Sites::at(&self.basis, self.figure, load(sites.lat_deg), load(sites.lon_deg), load(sites.elevation_m))
    }
}

impl Eclipse {
    /// Full circumstances of many places; see [`BatchSolver::local`].
    ///
    /// # Errors
    /// [`BatchError`] if the columns do not fit together or a row is no place.
    pub fn local_batch(&self, sites: SiteBatch) -> Result<LocalBatch, BatchError> {
        BatchSolver::new(self).local(sites)
    }

    /// Phase, maximum, duration and Sun's altitude of many places; see [`BatchSolver::quick`].
    ///
    /// # Errors
    /// [`BatchError`] if the columns do not fit together or a row is no place.
    pub fn quick_batch(&self, sites: SiteBatch) -> Result<QuickBatch, BatchError> {
        BatchSolver::new(self).quick(sites)
    }
}

#[inline(always)]
fn fill_local<S: Simd>(simd: S, solver: &BatchSolver, batch: SiteBatch, mut out: LocalColumns) {
    let zero = lanes::all(simd, 0.0);
    let mut first = 0;
    while first < batch.lat_deg.len() {
        let rows = LANES.min(batch.lat_deg.len() - first);
        let sites = solver.lanes(simd, batch, first);
        let maximum = sites.maximum();
        let mut unsettled = maximum.unsettled;
        let mut instants = [zero; 5];
        let exists = [maximum.partial, maximum.central, maximum.partial, maximum.central, maximum.partial];
        let mut magnitude = zero;
        let mut duration_s = zero;
        if maximum.partial.any_true() {
            let ([c1, c4], missed) = sites.exterior(&maximum);
            unsettled |= missed;
            magnitude = maximum.partial.select(sites.magnitude(maximum.at), zero);
            (instants[0], instants[2], instants[4]) = (c1, maximum.at, c4);
        }
        if maximum.central.any_true() {
            let ([c2, c3], missed) = sites.interior(&maximum);
            unsettled |= missed;
            duration_s = maximum.central.select((c3 - c2) * HALF_SPAN_S, zero);
            (instants[1], instants[3]) = (c2, c3);
        }
        let contacts = [&mut out.c1, &mut out.c2, &mut out.max, &mut out.c3, &mut out.c4];
        for ((contact, at), exists) in contacts.into_iter().zip(instants).zip(exists) {
            if exists.any_true() {
                contact.store(first, rows, &sites.sun(at).or_nothing(exists));
            } else {
                contact.store(first, rows, &Instant { after_epoch_s: zero, altitude_deg: zero, azimuth_deg: zero });
            }
        }
        store(out.duration_s, first, rows, duration_s);
        store(out.magnitude, first, rows, magnitude);
        store_phases(out.phase, first, rows, &maximum);
        if unsettled.any_true() {
            let unsettled = unsettled.to_bitmask();
            for lane in (0..rows).filter(|&lane| unsettled >> lane & 1 == 1) {
                out.store_plain(first + lane, solver.eclipse, batch.site(first + lane));
            }
        }
        first += LANES;
    }
}

#[inline(always)]
fn fill_quick<S: Simd>(simd: S, solver: &BatchSolver, batch: SiteBatch, mut out: QuickColumns) {
    let zero = lanes::all(simd, 0.0);
    let mut first = 0;
    while first < batch.lat_deg.len() {
        let rows = LANES.min(batch.lat_deg.len() - first);
        let sites = solver.lanes(simd, batch, first);
        let maximum = sites.maximum();
        let mut unsettled = maximum.unsettled;
        let (mut max_s, mut altitude_deg, mut duration_s) = (zero, zero, zero);
        if maximum.partial.any_true() {
            let max = sites.sun(maximum.at).or_nothing(maximum.partial);
            (max_s, altitude_deg) = (max.after_epoch_s, max.altitude_deg);
        }
        if maximum.central.any_true() {
            let ([c2, c3], missed) = sites.interior(&maximum);
            unsettled |= missed;
            duration_s = maximum.central.select((c3 - c2) * HALF_SPAN_S, zero);
        }
        store(out.max_after_epoch_s, first, rows, max_s);
        store(out.sun_altitude_deg, first, rows, altitude_deg);
        store(out.duration_s, first, rows, duration_s);
        store_phases(out.phase, first, rows, &maximum);
        if unsettled.any_true() {
            let unsettled = unsettled.to_bitmask();
            for lane in (0..rows).filter(|&lane| unsettled >> lane & 1 == 1) {
                out.store_plain(first + lane, solver.eclipse, batch.site(first + lane));
            }
        }
        first += LANES;
    }
}

#[inline(always)]
fn store<S: Simd>(column: &mut [f64], first: usize, rows: usize, lanes: Lanes<S>) {
    let column = &mut column[first..first + rows];
    if rows == LANES {
        lanes.store_slice(column);
    } else {
        column.copy_from_slice(&lanes.as_slice()[..rows]);
    }
}

#[inline(always)]
fn store_phases<S: Simd>(column: &mut [Phase], first: usize, rows: usize, maximum: &Maximum<S>) {
    let (partial, central, total) =
        (maximum.partial.to_bitmask(), maximum.central.to_bitmask(), maximum.total.to_bitmask());
    for (lane, phase) in column[first..first + rows].iter_mut().enumerate() {
        *phase = match (total >> lane & 1, central >> lane & 1, partial >> lane & 1) {
            (1, _, _) => Phase::Total,
            (_, 1, _) => Phase::Annular,
            (_, _, 1) => Phase::Partial,
            _ => Phase::None,
        };
    }
}

impl SiteBatch<'_> {
    fn check(&self) -> Result<(), BatchError> {
        let (lat, lon, elevation) = (self.lat_deg.len(), self.lon_deg.len(), self.elevation_m.len());
        if lat != lon || lat != elevation {
            return Err(BatchError::Lengths { lat, lon, elevation });
        }
        for row in 0..lat {
            Site::new(self.lat_deg[row], self.lon_deg[row], self.elevation_m[row])
                .map_err(|cause| BatchError::Site { row, cause })?;
        }
        Ok(())
    }

    /// A row that has passed the check.
    fn site(&self, row: usize) -> Site {
        Site {
            lat_deg: self.lat_deg[row],
            lon_deg: noonfall_ephemeris::angle::wrap_180(self.lon_deg[row]),
            elevation_m: self.elevation_m[row],
        }
    }

    fn split_at(&self, row: usize) -> (Self, Self) {
        let (lat, lon, elevation) =
            (self.lat_deg.split_at(row), self.lon_deg.split_at(row), self.elevation_m.split_at(row));
        (
            SiteBatch { lat_deg: lat.0, lon_deg: lon.0, elevation_m: elevation.0 },
            SiteBatch { lat_deg: lat.1, lon_deg: lon.1, elevation_m: elevation.1 },
        )
    }
}

/// Output columns that can be divided between tasks.
trait Columns: Sized + Send {
    fn split_at(self, row: usize) -> (Self, Self);
}

/// Halves the work until a task is small enough, and shares the halves between threads.
fn spread<C: Columns>(sites: SiteBatch, out: C, work: &(impl Fn(SiteBatch, C) + Sync)) {
    let rows = sites.lat_deg.len();
    if rows <= TASK_SITES {
        work(sites, out);
        return;
    }
    let middle = (rows / 2).next_multiple_of(LANES);
    let (left, right) = sites.split_at(middle);
    let (left_out, right_out) = out.split_at(middle);
    rayon::join(|| spread(left, left_out, work), || spread(right, right_out, work));
}

struct ContactColumns<'a> {
    after_epoch_s: &'a mut [f64],
    altitude_deg: &'a mut [f64],
    azimuth_deg: &'a mut [f64],
}

struct LocalColumns<'a> {
    epoch: Tt,
    phase: &'a mut [Phase],
    c1: ContactColumns<'a>,
    c2: ContactColumns<'a>,
    max: ContactColumns<'a>,
    c3: ContactColumns<'a>,
    c4: ContactColumns<'a>,
    duration_s: &'a mut [f64],
    magnitude: &'a mut [f64],
}

struct QuickColumns<'a> {
    epoch: Tt,
    phase: &'a mut [Phase],
    max_after_epoch_s: &'a mut [f64],
    duration_s: &'a mut [f64],
    sun_altitude_deg: &'a mut [f64],
}

impl ContactColumns<'_> {
    #[inline(always)]
    fn store<S: Simd>(&mut self, first: usize, rows: usize, instant: &Instant<S>) {
        store(self.after_epoch_s, first, rows, instant.after_epoch_s);
        store(self.altitude_deg, first, rows, instant.altitude_deg);
        store(self.azimuth_deg, first, rows, instant.azimuth_deg);
    }

    fn store_plain(&mut self, row: usize, epoch: Tt, contact: Option<Contact>) {
        let values = contact.map_or((0.0, 0.0, 0.0), |c| (c.tt - epoch, c.sun_altitude_deg, c.sun_azimuth_deg));
        (self.after_epoch_s[row], self.altitude_deg[row], self.azimuth_deg[row]) = values;
    }

    fn split_at(self, row: usize) -> (Self, Self) {
        let (after, altitude, azimuth) = (
            self.after_epoch_s.split_at_mut(row),
            self.altitude_deg.split_at_mut(row),
            self.azimuth_deg.split_at_mut(row),
        );
        (
            ContactColumns { after_epoch_s: after.0, altitude_deg: altitude.0, azimuth_deg: azimuth.0 },
            ContactColumns { after_epoch_s: after.1, altitude_deg: altitude.1, azimuth_deg: azimuth.1 },
        )
    }
}

impl LocalColumns<'_> {
    /// A row by the plain one-site path.
    #[inline(never)]
    fn store_plain(&mut self, row: usize, eclipse: &Eclipse, site: Site) {
        let found = eclipse.local(&site);
        let LocalCircumstances { phase, c1, c2, max, c3, c4, duration_s, magnitude, .. } = found;
        self.phase[row] = phase;
        self.c1.store_plain(row, self.epoch, c1);
        self.c2.store_plain(row, self.epoch, c2);
        self.max.store_plain(row, self.epoch, max);
        self.c3.store_plain(row, self.epoch, c3);
        self.c4.store_plain(row, self.epoch, c4);
        self.duration_s[row] = duration_s;
        self.magnitude[row] = magnitude;
    }
}

impl QuickColumns<'_> {
    /// A row by the plain one-site path.
    #[inline(never)]
    fn store_plain(&mut self, row: usize, eclipse: &Eclipse, site: Site) {
        let found = eclipse.quick(&site);
        let seen = found.phase != Phase::None;
        self.phase[row] = found.phase;
        self.max_after_epoch_s[row] = if seen { found.max - self.epoch } else { 0.0 };
        self.duration_s[row] = found.duration_s;
        self.sun_altitude_deg[row] = if seen { found.sun_altitude_deg } else { 0.0 };
    }
}

impl Columns for LocalColumns<'_> {
    fn split_at(self, row: usize) -> (Self, Self) {
        let (phase, duration, magnitude) =
            (self.phase.split_at_mut(row), self.duration_s.split_at_mut(row), self.magnitude.split_at_mut(row));
        let (c1, c2, max, c3, c4) = (
            self.c1.split_at(row),
            self.c2.split_at(row),
            self.max.split_at(row),
            self.c3.split_at(row),
            self.c4.split_at(row),
        );
        let half = |phase, c1, c2, max, c3, c4, duration_s, magnitude| LocalColumns {
            epoch: self.epoch,
            phase,
            c1,
            c2,
            max,
            c3,
            c4,
            duration_s,
            magnitude,
        };
        (
            half(phase.0, c1.0, c2.0, max.0, c3.0, c4.0, duration.0, magnitude.0),
            half(phase.1, c1.1, c2.1, max.1, c3.1, c4.1, duration.1, magnitude.1),
        )
    }
}

impl Columns for QuickColumns<'_> {
    fn split_at(self, row: usize) -> (Self, Self) {
        let (phase, max, duration, altitude) = (
            self.phase.split_at_mut(row),
            self.max_after_epoch_s.split_at_mut(row),
            self.duration_s.split_at_mut(row),
            self.sun_altitude_deg.split_at_mut(row),
        );
        let half = |phase, max_after_epoch_s, duration_s, sun_altitude_deg| QuickColumns {
            epoch: self.epoch,
            phase,
            max_after_epoch_s,
            duration_s,
            sun_altitude_deg,
        };
        (half(phase.0, max.0, duration.0, altitude.0), half(phase.1, max.1, duration.1, altitude.1))
    }
}

impl BatchContact {
    fn resize(&mut self, rows: usize) {
        for column in [&mut self.after_epoch_s, &mut self.sun_altitude_deg, &mut self.sun_azimuth_deg] {
            column.resize(rows, 0.0);
        }
    }

    fn columns(&mut self) -> ContactColumns<'_> {
        ContactColumns {
            after_epoch_s: &mut self.after_epoch_s,
            altitude_deg: &mut self.sun_altitude_deg,
            azimuth_deg: &mut self.sun_azimuth_deg,
        }
    }
}

impl LocalBatch {
    /// Columns without rows, for [`BatchSolver::local_into`].
    pub fn empty(epoch: Tt) -> LocalBatch {
        let [c1, c2, max, c3, c4] = std::array::from_fn(|_| BatchContact::default());
        LocalBatch { epoch, phase: Vec::new(), c1, c2, max, c3, c4, duration_s: Vec::new(), magnitude: Vec::new() }
    }

    fn resize(&mut self, rows: usize) {
        self.phase.resize(rows, Phase::None);
        for contact in [&mut self.c1, &mut self.c2, &mut self.max, &mut self.c3, &mut self.c4] {
            contact.resize(rows);
        }
        self.duration_s.resize(rows, 0.0);
        self.magnitude.resize(rows, 0.0);
    }

    fn columns(&mut self) -> LocalColumns<'_> {
        LocalColumns {
            epoch: self.epoch,
            phase: &mut self.phase,
            c1: self.c1.columns(),
            c2: self.c2.columns(),
            max: self.max.columns(),
            c3: self.c3.columns(),
            c4: self.c4.columns(),
            duration_s: &mut self.duration_s,
            magnitude: &mut self.magnitude,
        }
    }
}

impl QuickBatch {
    /// Columns without rows, for [`BatchSolver::quick_into`].
    pub fn empty(epoch: Tt) -> QuickBatch {
        let [max_after_epoch_s, duration_s, sun_altitude_deg] = std::array::from_fn(|_| Vec::new());
        QuickBatch { epoch, phase: Vec::new(), max_after_epoch_s, duration_s, sun_altitude_deg }
    }

    fn resize(&mut self, rows: usize) {
        self.phase.resize(rows, Phase::None);
        for column in [&mut self.max_after_epoch_s, &mut self.duration_s, &mut self.sun_altitude_deg] {
            column.resize(rows, 0.0);
        }
    }

    fn columns(&mut self) -> QuickColumns<'_> {
        QuickColumns {
            epoch: self.epoch,
            phase: &mut self.phase,
            max_after_epoch_s: &mut self.max_after_epoch_s,
            duration_s: &mut self.duration_s,
            sun_altitude_deg: &mut self.sun_altitude_deg,
        }
    }
}

impl<S: Simd> Instant<S> {
    /// Zeros outside the mask.
    #[inline(always)]
    fn or_nothing(self, mask: Mask<S>) -> Instant<S> {
        let zero = lanes::all(self.after_epoch_s.token(), 0.0);
        Instant {
            after_epoch_s: mask.select(self.after_epoch_s, zero),
            altitude_deg: mask.select(self.altitude_deg, zero),
            azimuth_deg: mask.select(self.azimuth_deg, zero),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conventions::Conventions;
    use noonfall_ephemeris::Kernel;

    fn eclipse(date: &str) -> Eclipse {
        Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap()
    }

    /// A net over the whole Earth, poles and date line included, and a finer one about greatest eclipse.
    fn places(eclipse: &Eclipse) -> [Vec<f64>; 3] {
        let centre = eclipse.greatest().point;
        let mut columns: [Vec<f64>; 3] = Default::default();
        let mut add = |lat: f64, lon: f64, elevation: f64| {
            for (column, value) in columns.iter_mut().zip([lat, lon, elevation]) {
                column.push(value);
            }
        };
        for i in -30_i32..=30 {
            for j in -36_i32..=36 {
                add(f64::from(i) * 3.0, f64::from(j) * 5.0, f64::from((i + j).rem_euclid(5)) * 1000.0);
                let lat = (centre.lat_deg + 0.11 * f64::from(i)).clamp(-90.0, 90.0);
                let lon = noonfall_ephemeris::angle::wrap_180(centre.lon_deg + 0.23 * f64::from(j));
                add(lat, lon, f64::from((i * j).rem_euclid(5)) * 500.0);
            }
        }
        columns
    }

    const DATES: [&str; 12] = [
        "2028-07-22", // total
        "2026-08-12", // total, near the pole
        "2027-08-02", // total, long
        "2033-03-30", // total, polar, wide
        "2023-04-20", // hybrid
        "2013-11-03", // hybrid that begins annular
        "2014-04-29", // annular, one limit
        "2010-01-15", // annular, long
        "2021-12-04", // total, southern
        "2024-10-02", // annular
        "2025-03-29", // partial
        "1957-10-23", // total, non-central
    ];

    /// Measured: instants within 18 µs (least separation far outside the path) and 3 µs (contacts), angles within
    /// 4e-7°, magnitudes within 2e-9.
    #[test]
    fn agrees_with_the_plain_path() {
        for date in DATES {
            let eclipse = eclipse(date);
            let [lat_deg, lon_deg, elevation_m] = places(&eclipse);
            let batch = SiteBatch { lat_deg: &lat_deg, lon_deg: &lon_deg, elevation_m: &elevation_m };
            let found = eclipse.local_batch(batch).unwrap();
            let quick = eclipse.quick_batch(batch).unwrap();
            assert_eq!(found.phase, quick.phase, "{date}");
            for row in 0..lat_deg.len() {
                let plain = eclipse.local(&batch.site(row));
                let place = format!("{date} {} {} {}", lat_deg[row], lon_deg[row], elevation_m[row]);
                assert_eq!(found.phase[row], plain.phase, "{place}");
                assert!((found.duration_s[row] - plain.duration_s).abs() < 1e-4, "{place}");
                assert!((found.duration_s[row] - quick.duration_s[row]).abs() < 1e-5, "{place}");
                assert!((found.max.after_epoch_s[row] - quick.max_after_epoch_s[row]).abs() < 1e-5, "{place}");
                assert!((found.max.sun_altitude_deg[row] - quick.sun_altitude_deg[row]).abs() < 1e-5, "{place}");
                assert!((found.magnitude[row] - plain.magnitude).abs() < 1e-8, "{place}");
                for (contact, plain) in [
                    (&found.c1, plain.c1),
                    (&found.c2, plain.c2),
                    (&found.max, plain.max),
                    (&found.c3, plain.c3),
                    (&found.c4, plain.c4),
                ] {
                    let Some(plain) = plain else {
                        assert_eq!(contact.after_epoch_s[row], 0.0, "{place}");
                        continue;
                    };
                    let late_s = found.epoch.plus(contact.after_epoch_s[row]) - plain.tt;
                    assert!(late_s.abs() < 1e-4, "{place}: {late_s}");
                    assert!((contact.sun_altitude_deg[row] - plain.sun_altitude_deg).abs() < 1e-5, "{place}");
                    let turn =
                        noonfall_ephemeris::angle::wrap_180(contact.sun_azimuth_deg[row] - plain.sun_azimuth_deg);
                    assert!(turn.abs() * plain.sun_altitude_deg.to_radians().cos() < 1e-5, "{place}: {turn}");
                }
            }
        }
    }

    #[test]
    fn the_same_bits_with_and_without_vector_instructions_and_threads() {
        for date in ["2028-07-22", "2023-04-20", "2025-03-29"] {
            let eclipse = eclipse(date);
            let [lat_deg, lon_deg, elevation_m] = places(&eclipse);
            let batch = SiteBatch { lat_deg: &lat_deg, lon_deg: &lon_deg, elevation_m: &elevation_m };
            let solver = BatchSolver::new(&eclipse);
            let many = solver.local(batch).unwrap();
            let mut portable = LocalBatch::empty(many.epoch);
            portable.resize(lat_deg.len());
            #[cfg(target_arch = "x86_64")]
            fill_local(Level::new().as_sse2().unwrap(), &solver, batch, portable.columns());
            #[cfg(not(target_arch = "x86_64"))]
            solver.fill_local(batch, portable.columns());
            assert_eq!(portable, many, "{date}");
            // One thread, and every site with other neighbours than before.
            let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
            let (_, tail) = batch.split_at(3);
            let shifted = alone.install(|| solver.local(tail)).unwrap();
            assert_eq!(shifted.c4.after_epoch_s, many.c4.after_epoch_s[3..], "{date}");
            assert_eq!(shifted.max.sun_azimuth_deg, many.max.sun_azimuth_deg[3..], "{date}");
            assert_eq!(shifted.duration_s, many.duration_s[3..], "{date}");
        }
    }

    /// The plain path may catch a site now and then; were it many, the batch would be slow without being wrong.
    #[test]
    fn hardly_a_site_needs_the_plain_path() {
        for date in DATES {
            let eclipse = eclipse(date);
            let [lat_deg, lon_deg, elevation_m] = places(&eclipse);
            let batch = SiteBatch { lat_deg: &lat_deg, lon_deg: &lon_deg, elevation_m: &elevation_m };
            let solver = BatchSolver::new(&eclipse);
            let unsettled: u32 = fearless_simd::dispatch!(Level::new(), simd => {
                (0..lat_deg.len())
                    .step_by(LANES)
                    .map(|first| {
                        let sites = solver.lanes(simd, batch, first);
                        let maximum = sites.maximum();
                        let missed = maximum.unsettled | sites.exterior(&maximum).1 | sites.interior(&maximum).1;
                        missed.to_bitmask().count_ones()
                    })
                    .sum()
            });
            assert!(unsettled * 1000 <= lat_deg.len() as u32, "{date}: {unsettled} of {}", lat_deg.len());
        }
    }

    #[test]
    fn bad_columns_are_refused_and_empty_ones_are_fine() {
        let eclipse = eclipse("2028-07-22");
        let refused = |lat_deg: &[f64], lon_deg: &[f64], elevation_m: &[f64]| {
            eclipse.local_batch(SiteBatch { lat_deg, lon_deg, elevation_m }).unwrap_err()
        };
        assert!(matches!(refused(&[0.0], &[], &[0.0]), BatchError::Lengths { lat: 1, lon: 0, elevation: 1 }));
        for bad in [f64::NAN, f64::INFINITY, 1e7] {
            assert!(matches!(refused(&[0.0, bad], &[0.0; 2], &[0.0; 2]), BatchError::Site { row: 1, .. }));
            assert!(matches!(refused(&[0.0; 2], &[bad, 0.0], &[0.0; 2]), BatchError::Site { row: 0, .. }));
            assert!(matches!(refused(&[0.0; 2], &[0.0; 2], &[0.0, bad]), BatchError::Site { row: 1, .. }));
        }
        let none = eclipse.quick_batch(SiteBatch { lat_deg: &[], lon_deg: &[], elevation_m: &[] }).unwrap();
        assert!(none.phase.is_empty());
    }
}
