//! The brightest stars and where they stand.

use noonfall_ephemeris::constants::SPEED_OF_LIGHT_KM_S;
use noonfall_ephemeris::vector::{Vec3, add, scale, unit};
use noonfall_ephemeris::{Body, Kernel, KernelError, Tt};
use std::sync::LazyLock;

/// A star of the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub struct Star {
    /// Proper name.
    pub name: &'static str,
    /// Right ascension, ICRS, epoch J2000.0, degrees.
    pub ra_deg: f64,
    /// Declination, ICRS, epoch J2000.0, degrees.
    pub dec_deg: f64,
    /// Proper motion in right ascension, times cos δ, milliarcseconds a year.
    pub pm_ra_cos_dec_mas_yr: f64,
    /// Proper motion in declination, milliarcseconds a year.
    pub pm_dec_mas_yr: f64,
    /// Visual magnitude.
    pub v_magnitude: f64,
}

/// The 25 brightest stars of the night sky, from bright to faint.
///
/// # Source
/// Hipparcos catalogue (ESA SP-1200, 1997), positions carried to epoch 2000.0; `data/stars/ORIGIN.md` says by what way.
pub fn brightest() -> &'static [Star] {
    &STARS
}

static STARS: LazyLock<Vec<Star>> = LazyLock::new(|| {
    noonfall_data::stars::BRIGHT_STARS
        .lines()
        .skip(1)
        .filter_map(|line| {
            let (name, numbers) = line.split_once(',')?;
            let v: Vec<f64> = numbers.split(',').filter_map(|cell| cell.parse().ok()).collect();
            let [ra_deg, dec_deg, pm_ra_cos_dec_mas_yr, pm_dec_mas_yr, v_magnitude] = v.try_into().ok()?;
            Some(Star { name, ra_deg, dec_deg, pm_ra_cos_dec_mas_yr, pm_dec_mas_yr, v_magnitude })
        })
        .collect()
});

impl Star {
    /// Direction at an instant without the Earth's motion: ICRS axes, unit length.
    pub fn direction(&self, tt: Tt) -> Vec3 {
        const RAD_PER_MAS: f64 = std::f64::consts::PI / 180.0 / 3.6e6;
        let years = tt.year() - 2000.0;
        let (sin_ra, cos_ra) = self.ra_deg.to_radians().sin_cos();
        let (sin_dec, cos_dec) = self.dec_deg.to_radians().sin_cos();
        let place = [cos_dec * cos_ra, cos_dec * sin_ra, sin_dec];
        let east = [-sin_ra, cos_ra, 0.0];
        let north = [-sin_dec * cos_ra, -sin_dec * sin_ra, cos_dec];
        let moved = add(
            scale(east, self.pm_ra_cos_dec_mas_yr * years * RAD_PER_MAS),
            scale(north, self.pm_dec_mas_yr * years * RAD_PER_MAS),
        );
        unit(add(place, moved))
    }

    /// Direction as seen from the Earth: with annual aberration; parallax (below 0.8″) and the bending of light are left
    /// out.
    ///
    /// # Errors
    /// [`KernelError`] if the kernel does not hold the Earth at the instant.
    pub fn apparent_direction(&self, kernel: &Kernel, tt: Tt) -> Result<Vec3, KernelError> {
        let velocity = kernel.state(Body::Earth, tt)?.velocity_km_s;
        Ok(unit(add(self.direction(tt), scale(velocity, 1.0 / SPEED_OF_LIGHT_KM_S))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_is_whole_and_ordered() {
        assert_eq!(brightest().len(), 25);
        assert!(brightest().windows(2).all(|pair| pair[0].v_magnitude <= pair[1].v_magnitude));
        // Every almanac: Sirius, then Canopus; magnitudes −1.46 and −0.74 by the Bright Star Catalogue (from memory).
        assert_eq!((brightest()[0].name, brightest()[1].name), ("Sirius", "Canopus"));
        assert!((brightest()[0].v_magnitude + 1.46).abs() < 0.05);
    }

    /// Arcturus moves 2.28″ a year (any star list): 228″ in a century.
    #[test]
    fn proper_motion() {
        let arcturus = &brightest()[2];
        let moved = noonfall_ephemeris::vector::angle_between(
            arcturus.direction(Tt::from_calendar(2000, 1, 1, 12.0)),
            arcturus.direction(Tt::from_calendar(2100, 1, 1, 12.0)),
        );
        assert!((moved * 206_264.8 - 228.0).abs() < 0.7, "{}", moved * 206_264.8);
    }
}
