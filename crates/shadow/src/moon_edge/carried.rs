//! The edge in a form small enough to go along with a report, for whoever computes a place's contacts there.
//!
//! It is a piece of the lattice: for instants evenly apart and for offsets to either side, the summits that can matter for
//! one Sun, each in five bytes. Whoever reads them builds the sights anew from the axes, which go along as polynomials.

use super::lattice::EdgeLattice;
use super::skyline::Summit;
use noonfall_ephemeris::Tt;
use noonfall_ephemeris::vector::{dot, norm};
use rayon::prelude::*;
use std::f64::consts::TAU;

/// Steps of a direction in a turn: half a step is 0.05″ along the edge.
pub const ANGLE_STEPS: f64 = 65_536.0;

/// A tangent is so much and a number of steps: from 1690 to 1950 km at the Moon's usual distances, to 0.001″.
pub const TANGENT_FROM: f64 = 0.0044;
/// One step of a tangent.
pub const TANGENT_STEP: f64 = 1e-8;

/// Steps of a degree before or behind the rim, counted from [`DEPTH_MIDDLE`].
pub const DEPTH_STEPS_PER_DEG: f64 = 14.0;
/// The step of the rim.
pub const DEPTH_MIDDLE: f64 = 128.0;

/// Summits that stand higher than this above what the Sun reaches are left out (0.02″): from within half a step of the
/// lattice summits are shifted against one another by no more. Of 878 contacts of 500 places none changed by it, nor by
/// 0.06″ (measured).
const ABOVE: f64 = 0.02 / 206_265.0;

/// Profiles of the edge for a part of an eclipse.
#[derive(Clone, Debug, PartialEq)]
pub struct CarriedEdge {
    /// East, north and sunward (the axes of the Besselian elements) in the Moon's axes: for each axis and each of the three
    /// components the coefficients in powers of time since the elements' epoch over their half span, lowest first.
    pub axes: [[Vec<f64>; 3]; 3],
    /// Radius of the Sun, km.
    pub sun_radius_km: f64,
    /// First instant, seconds after the elements' epoch.
    pub first_s: f64,
    /// From one instant to the next, seconds.
    pub along_s: f64,
    /// From one offset at right angles to the next, radians.
    pub across_rad: f64,
    /// Offsets beside one another; the axis goes through their middle.
    pub offsets: u32,
    /// Profiles, instant by instant, offsets from the lowest to the highest within it: for each summit in order of its angle
    /// from north through east two bytes of the angle, two of the tangent and one of the depth, the higher byte first.
    pub profiles: Vec<Vec<u8>>,
}

impl EdgeLattice {
    /// The profiles for contacts between two instants; none where the shadow does not touch the Earth then, and where only
    /// some directions count.
    pub fn carried(&self, from: Tt, to: Tt) -> Option<CarriedEdge> {
        let (alongs, offsets) = (self.instants(from, to)?, self.offsets());
        let first = self.instant(*alongs.start());
        let places: Vec<(i32, i32)> =
            alongs.flat_map(|along| (0..offsets).map(move |offset| (along, offset))).collect();
        Some(CarriedEdge {
            axes: self.axes_polynomials(),
            sun_radius_km: self.settings().sun_radius_km,
            first_s: first - self.eclipse().elements().epoch(),
            along_s: super::lattice::ALONG_S,
            across_rad: super::lattice::ACROSS_RAD,
            offsets: offsets.unsigned_abs(),
            profiles: places
                .into_par_iter()
                .map(|(along, offset)| self.packed(along, offset))
                .collect::<Option<_>>()?,
        })
    }

    fn packed(&self, along: i32, offset: i32) -> Option<Vec<u8>> {
        let kept = self.summits_that_matter(along, offset, ABOVE)?;
        let eye = kept.sight.eye;
        let bytes = |(angle, summit): &(f64, Summit)| coded(*angle, summit, dot(summit.point_km, eye));
        Some(kept.summits.iter().flat_map(bytes).collect())
    }
}

/// Five bytes; `towards_km` is how far the summit lies before the Moon's centre.
fn coded(angle: f64, summit: &Summit, towards_km: f64) -> [u8; 5] {
    let turn = (angle.rem_euclid(TAU) / TAU * ANGLE_STEPS).round() as u32 % 65_536;
    let tangent = ((summit.tangent - TANGENT_FROM) / TANGENT_STEP).round().clamp(0.0, 65_535.0) as u32;
    let depth_deg = (towards_km / norm(summit.point_km)).asin().to_degrees();
    let depth = (depth_deg * DEPTH_STEPS_PER_DEG + DEPTH_MIDDLE).round().clamp(0.0, 255.0) as u8;
    [(turn >> 8) as u8, turn as u8, (tangent >> 8) as u8, tangent as u8, depth]
}

#[cfg(test)]
mod tests {
    use super::super::{EdgeSettings, MoonHeights};
    use super::*;
    use crate::{Conventions, Eclipse};
    use noonfall_ephemeris::Kernel;

    #[test]
    fn profiles_are_small_and_in_order() {
        let date = "2028-07-22".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let lattice = EdgeLattice::new(&eclipse, MoonHeights::embedded(), &EdgeSettings::default());
        let middle = eclipse.greatest().tt;
        let carried = lattice.carried(middle, middle.plus(100.0)).unwrap();
        // Both instants about it, and one more on either side at most.
        assert!((4..=8).contains(&carried.profiles.len()), "{}", carried.profiles.len());
        let start = middle - eclipse.elements().epoch();
        assert!(carried.first_s <= start && carried.first_s > start - 2.5 * carried.along_s);
        for bytes in &carried.profiles {
            let angles: Vec<u32> = bytes.chunks(5).map(|c| u32::from(c[0]) << 8 | u32::from(c[1])).collect();
            assert!(bytes.len() % 5 == 0 && (40..600).contains(&angles.len()), "{}", angles.len());
            // The last may round up to a whole turn.
            assert!(angles[..angles.len() - 1].windows(2).all(|w| w[0] <= w[1]));
            for chunk in bytes.chunks(5) {
                let tangent = TANGENT_FROM + TANGENT_STEP * f64::from(u32::from(chunk[2]) << 8 | u32::from(chunk[3]));
                let km = tangent * 363_000.0;
                assert!((1690.0..1790.0).contains(&km), "{km}");
            }
        }
        let (_, last) = eclipse.path_span().unwrap();
        assert_eq!(lattice.carried(last.plus(7200.0), last.plus(7300.0)), None);
    }
}
