//! The few numbers everything else agrees on.

/// Equatorial radius of the Earth, km (WGS 84; the unit of length of Besselian elements here).
pub const EARTH_RADIUS_KM: f64 = 6378.137;

/// Inverse flattening of the Earth (WGS 84).
pub const EARTH_INVERSE_FLATTENING: f64 = 298.257_223_563;

/// Astronomical unit, km (IAU 2012 Resolution B2).
pub const AU_KM: f64 = 149_597_870.7;

/// Speed of light, km/s (exact by the definition of the metre).
pub const SPEED_OF_LIGHT_KM_S: f64 = 299_792.458;

/// Mass of the Earth over mass of the Moon in DE440 (Park et al. 2021, Astron. J. 161, 105; the value of the
/// kernel's own constants). Gives the Earth from the Moon and their common centre of mass.
pub const EARTH_MOON_MASS_RATIO: f64 = 81.300_568_221_497_22;

/// Rate of the Earth rotation angle, radians per second of UT1 (IAU 2000: 1.002 737 811 911 354 48 turns a day).
pub const EARTH_ROTATION_RAD_S: f64 = 1.002_737_811_911_354_6 * std::f64::consts::TAU / 86_400.0;

/// Seconds in a day.
pub const DAY_S: f64 = 86_400.0;
