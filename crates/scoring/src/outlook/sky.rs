//! The sky in totality: planets and bright stars, and which of them the unaided eye should find.

use super::air::{AVERAGE_HAZE, Air};
use super::decimals;
use super::stars::brightest;
use super::umbra_sky::UmbraSky;
use noonfall_ephemeris::apparent::from_earth;
use noonfall_ephemeris::earth_orientation::to_terrestrial;
use noonfall_ephemeris::observer::LocalAxes;
use noonfall_ephemeris::vector::{Vec3, angle_between, dot, norm, sub, unit};
use noonfall_ephemeris::{AU_KM, Body, Ellipsoid, Kernel, KernelError, Tt, apparent_altitude_deg};
use noonfall_shadow::Site;
use serde::Serialize;

/// A planet or star at maximum eclipse.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SkyObject {
    /// Name of the planet or star.
    pub body: &'static str,
    /// `planet` or `star`.
    pub kind: &'static str,
    /// Angle from the Sun's centre, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub sun_separation_deg: f64,
    /// Airless altitude, degrees; negative below the horizon.
    #[serde(serialize_with = "decimals::four")]
    pub altitude_deg: f64,
    /// Altitude lifted by refraction (1010 hPa, 10 °C), degrees.
    #[serde(serialize_with = "decimals::four")]
    pub apparent_altitude_deg: f64,
    /// Azimuth from north through east, degrees.
    #[serde(serialize_with = "decimals::four")]
    pub azimuth_deg: f64,
    /// Visual magnitude above the air.
    #[serde(serialize_with = "decimals::three")]
    pub magnitude: f64,
    /// Luminance of the clear sky there in totality, the corona's glare in the eye included, cd/m²; null outside the umbra.
    #[serde(serialize_with = "decimals::four_or_null")]
    pub sky_cd_m2: Option<f64>,
    /// By how many magnitudes it is brighter than the faintest that an eye should find there ([`findable_by`]); negative for what
    /// should stay hidden; null outside the umbra. Uncertain by a magnitude either way.
    #[serde(serialize_with = "decimals::three_or_null")]
    pub margin_mag: Option<f64>,
    /// Whether the unaided eye should find it, knowing where to look, in a clear sky: `margin_mag` not below zero.
    pub visible: bool,
}

/// The planets the unaided eye knows.
const PLANETS: [(Body, &str); 5] = [
    (Body::Mercury, "Mercury"),
    (Body::Venus, "Venus"),
    (Body::Mars, "Mars"),
    (Body::Jupiter, "Jupiter"),
    (Body::Saturn, "Saturn"),
];

/// Planets (all five) and the brightest stars above the horizon, from bright to faint within each kind, as seen from a
/// place; `umbra` is the sky's brightness there, without which nothing counts as visible.
///
/// # Errors
/// [`KernelError`] if the kernel does not hold a body at the instant.
pub fn sky_at(
    kernel: &Kernel,
    site: &Site,
    tt: Tt,
    delta_t_s: f64,
    umbra: Option<&UmbraSky>,
) -> Result<Vec<SkyObject>, KernelError> {
    let axes = LocalAxes::at(site.point());
    let observer_km = Ellipsoid::default().terrestrial_km(site.point(), site.elevation_m);
    let towards = |apparent_km: Vec3| sub(to_terrestrial(apparent_km, tt, delta_t_s), observer_km);
    let sun = towards(from_earth(kernel, Body::Sun, tt)?.position_km);
    let object = |body, kind, direction: Vec3, magnitude: f64| {
        let seen = axes.horizontal(direction);
        let sun_separation_deg = angle_between(direction, sun).to_degrees();
        let apparent = apparent_altitude_deg(seen.altitude_deg);
        let sky_cd_m2 = umbra
            .filter(|_| apparent > 0.0)
            .map(|sky| sky.luminance_with_glare_cd_m2(apparent, seen.azimuth_deg, sun_separation_deg));
        let margin_mag =
            sky_cd_m2.zip(umbra).map(|(luminance, sky)| findable_by(magnitude, apparent, luminance, sky.air()));
        SkyObject {
            body,
            kind,
            sun_separation_deg,
            altitude_deg: seen.altitude_deg,
            apparent_altitude_deg: apparent,
            azimuth_deg: seen.azimuth_deg,
            magnitude,
            sky_cd_m2,
            margin_mag,
            visible: margin_mag.is_some_and(|margin| margin >= 0.0),
        }
    };
    let mut planets = Vec::with_capacity(PLANETS.len());
    for (body, name) in PLANETS {
        let apparent = from_earth(kernel, body, tt)?;
        planets.push(object(name, "planet", towards(apparent.position_km), planet_magnitude(kernel, body, tt)?));
    }
    planets.sort_by(|a, b| a.magnitude.total_cmp(&b.magnitude));
    for star in brightest() {
        // A star's direction does not depend on where on the Earth the observer stands.
        let direction = to_terrestrial(star.apparent_direction(kernel, tt)?, tt, delta_t_s);
        let seen = object(star.name, "star", direction, star.v_magnitude);
        if seen.apparent_altitude_deg > 0.0 {
            planets.push(seen);
        }
    }
    Ok(planets)
}

/// Visual magnitude of a planet as seen from the Earth; NaN never comes out.
///
/// # Source
/// Mallama & Hilton 2018, Astronomy and Computing 25, 10–24: `V = 5 log₁₀(r Δ) + C(α)`, Sun to planet and planet to Earth
/// in au, phase angle in degrees. Mars without its rotation and season terms (up to ±0.06). Valid for Mercury 2°–170°,
/// Venus to 179°, Mars to 50°, Jupiter to 12°, Saturn to 6.5°; the Sun's true place at the retarded instant is used.
/// Check: 2028-07-22 02:55 UTC, Mercury −1.90, Venus −4.60, Mars 1.53, Jupiter −1.79, Saturn 0.38.
/// # Errors
/// [`KernelError`] if the kernel does not hold a body at the instant.
pub fn planet_magnitude(kernel: &Kernel, body: Body, tt: Tt) -> Result<f64, KernelError> {
    let earth = kernel.position_km(Body::Earth, tt)?;
    let light_time_s = from_earth(kernel, body, tt)?.light_time_s;
    let planet = kernel.position_km(body, tt.plus(-light_time_s))?;
    let sun = kernel.position_km(Body::Sun, tt.plus(-light_time_s))?;
    let (from_sun, from_earth) = (sub(planet, sun), sub(planet, earth));
    let (r, delta) = (norm(from_sun) / AU_KM, norm(from_earth) / AU_KM);
    let alpha = angle_between(from_sun, from_earth).to_degrees();
    let polynomial = |c: &[f64]| c.iter().rev().fold(0.0, |sum, c| sum * alpha + c);
    let phase = match body {
        Body::Mercury => polynomial(&[-0.613, 6.3280e-2, -1.6336e-3, 3.3644e-5, -3.4265e-7, 1.6893e-9, -3.0334e-12]),
        Body::Venus if alpha <= 163.7 => polynomial(&[-4.384, -1.044e-3, 3.687e-4, -2.814e-6, 8.938e-9]),
        Body::Venus => polynomial(&[236.058_28, -2.819_14, 8.390_34e-3]),
        Body::Mars => polynomial(&[-1.601, 0.022_67, -1.302e-4]),
        Body::Jupiter => polynomial(&[-9.395, -3.7e-4, 6.16e-4]),
        Body::Saturn => {
            let sin_tilt = ring_tilt_sine(unit(from_sun), unit(from_earth));
            -8.914 - 1.825 * sin_tilt + 0.026 * alpha - 0.378 * sin_tilt * (-2.25 * alpha).exp()
        }
        // Nothing else is a planet here.
        Body::Sun | Body::Moon | Body::Earth | Body::EarthMoonBarycentre => 0.0,
    };
    Ok(5.0 * (r * delta).max(1e-9).log10() + phase)
}

/// Sine of the effective tilt of Saturn's rings: the geometric mean of the latitudes of Sun and Earth above their plane, 0
/// if they stand on opposite sides.
fn ring_tilt_sine(from_sun: Vec3, from_earth: Vec3) -> f64 {
    // North pole of Saturn, ICRF (IAU Working Group on Cartographic Coordinates; the value of the magnitude paper).
    const POLE: Vec3 = [0.085_478_83, 0.073_235_76, 0.993_644_75];
    let latitude = |d: Vec3| (-dot(d, POLE)).clamp(-1.0, 1.0).asin();
    let (sun, earth) = (latitude(from_sun), latitude(from_earth));
    if sun * earth > 0.0 { (sun * earth).sqrt().sin() } else { 0.0 }
}

/// How much brighter than the threshold a thing must be to be found by an excited traveller who has looked at the corona a
/// moment before: chosen by us, from reports (2006 Side and 2017 Idaho: two planets or one star; 1994 Brazil: a dozen), a magnitude
/// either way.
pub const SEARCH_ALLOWANCE_MAG: f64 = 2.5;

/// Magnitudes lost to one thickness of clear air at sea level (visual, common practice), average haze.
const EXTINCTION_MAG: f64 = 0.28;

/// Magnitudes lost to one thickness of a place's air: more in haze, less on a mountain.
///
/// # Source
/// 1.086 magnitudes to a unit of optical depth; molecules 0.097 over 8 km and haze over 1.5 km, as in the tables of the light.
fn extinction_mag(air: &Air) -> f64 {
    let height_km = air.height_km.clamp(-0.5, 9.0);
    let haze = air.haze.clamp(0.0, 5.0) * (-height_km / 1.5).exp() - AVERAGE_HAZE;
    let molecules = 0.097 * ((-height_km / 8.0).exp() - 1.0);
    EXTINCTION_MAG + 1.086 * (haze + molecules)
}

/// Faintest star the eye could just see against a sky of a luminance, magnitudes.
///
/// # Units
/// cd/m².
/// # Source
/// Schaefer 1990, Publ. Astron. Soc. Pac. 102, 212 (Blackwell's threshold data): `i = C (1 + √(K B))²` foot-candles,
/// `m = −16.57 − 2.5 log₁₀ i`, B in nanolamberts; for B ≥ 1500 nL C = 10^(−8.35), K = 10^(−5.9), below C = 10^(−9.8),
/// K = 10^(−1.9). Check: 0.2, 0.5, 1, 3, 10 cd/m² give 3.8, 3.5, 3.3, 2.7, 1.9; Können & Hinz 2008 (Appl. Opt. 47, H14) found 3.5
/// in totality (figure from memory).
pub fn limiting_magnitude(luminance_cd_m2: f64) -> f64 {
    let background_nl = luminance_cd_m2.max(0.0) * std::f64::consts::PI * 1e5;
    let (c, k): (f64, f64) = if background_nl < 1500.0 { (-9.8, -1.9) } else { (-8.35, -5.9) };
    let threshold = 10f64.powf(c) * (1.0 + (10f64.powf(k) * background_nl).sqrt()).powi(2);
    -16.57 - 2.5 * threshold.log10()
}

/// Thickness of air towards an apparent altitude, in zenith thicknesses.
///
/// # Source
/// Kasten & Young 1989, Appl. Opt. 28, 4735 (coefficients from memory); 38 at the horizon.
pub fn air_mass(apparent_altitude_deg: f64) -> f64 {
    let h = apparent_altitude_deg.clamp(0.0, 90.0);
    1.0 / (h.to_radians().sin() + 0.505_72 * (h + 6.079_95).powf(-1.6364))
}

/// By how many magnitudes a thing is brighter than the faintest that the unaided eye should find against a sky.
///
/// # Units
/// Magnitude above the air; degrees; cd/m².
/// # Validity
/// A clear sky and a watcher who knows where to look; uncertain by a magnitude. What should stay hidden may show in binoculars.
/// ```
/// use noonfall_scoring::outlook::air::Air;
/// use noonfall_scoring::outlook::sky::findable_by;
/// assert!(findable_by(-4.0, 30.0, 1.0, &Air::STANDARD) > 0.0); // Venus
/// assert!(findable_by(1.6, 30.0, 1.0, &Air::STANDARD) < 0.0); // a faint Mars
/// ```
pub fn findable_by(magnitude: f64, apparent_altitude_deg: f64, sky_cd_m2: f64, air: &Air) -> f64 {
    let dimmed = magnitude + extinction_mag(air) * air_mass(apparent_altitude_deg);
    limiting_magnitude(sky_cd_m2) - SEARCH_ALLOWANCE_MAG - dimmed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outlook::umbra_light::PlaceInUmbra;

    /// Design fixtures: Mallama & Hilton by an independent program on the full DE440, Sun at its own place.
    #[test]
    fn magnitudes_agree_with_an_independent_computation() {
        let cases = [
            ("2028-07-22T02:55:00Z", [-1.901, -4.595, 1.532, -1.786, 0.376]),
            ("2008-08-01T10:45:00Z", [-1.801, -3.892, 1.720, -2.684, 0.852]),
        ];
        for (utc, expected) in cases {
            let tt = Tt::from_utc(utc.parse().unwrap());
            for ((body, name), expected) in PLANETS.into_iter().zip(expected) {
                let found = planet_magnitude(Kernel::embedded(), body, tt).unwrap();
                assert!((found - expected).abs() < 0.0015, "{name} {utc}: {found} against {expected}");
            }
        }
    }

    /// Skyfield on the full DE440 (`tests/reference/sights/sky.py`): airless topocentric altitude and azimuth, separation
    /// from the Sun, of planets and stars at four places and dates.
    #[test]
    fn places_agree_with_skyfield() {
        let text = crate::reference("sights/sky.csv");
        let (mut planets, mut stars) = (0, 0);
        for line in text.lines().skip(1) {
            let cells: Vec<&str> = line.split(',').collect();
            let v: Vec<f64> = cells.iter().filter_map(|cell| cell.parse().ok()).collect();
            let (tt, delta_t_s) = (Tt(v[0]), v[1]);
            let site = Site::new(v[2], v[3], v[4]).unwrap();
            let sky = sky_at(Kernel::embedded(), &site, tt, delta_t_s, None).unwrap();
            let Some(found) = sky.iter().find(|object| object.body == cells[5]) else {
                assert!(v[5] < 0.0, "{line}: missing");
                continue;
            };
            // A thousandth of a degree: the bending of light and Skyfield's second-order aberration are left out.
            assert!((found.altitude_deg - v[5]).abs() < 0.001, "{line}: {found:?}");
            let turn = noonfall_ephemeris::angle::wrap_180(found.azimuth_deg - v[6]) * v[5].to_radians().cos();
            assert!(turn.abs() < 0.001, "{line}: {found:?}");
            assert!((found.sun_separation_deg - v[7]).abs() < 0.001, "{line}: {found:?}");
            if found.kind == "planet" { planets += 1 } else { stars += 1 }
        }
        assert_eq!(planets, 20);
        assert!(stars > 30, "{stars}");
    }

    /// The threshold formula's usual check: a dark sky of 21.6 magnitudes per square arcsecond shows stars of about 6.5; the rows of
    /// the design notes for the sky of totality.
    #[test]
    fn limiting_magnitudes() {
        let dark = 1.08e5 * 10f64.powf(-0.4 * 21.6);
        assert!((limiting_magnitude(dark) - 6.6).abs() < 0.3, "{}", limiting_magnitude(dark));
        for (luminance, expected) in [(0.2, 3.8), (0.5, 3.5), (1.0, 3.3), (3.0, 2.7), (10.0, 1.9), (100.0, 0.0)] {
            assert!((limiting_magnitude(luminance) - expected).abs() < 0.1, "{luminance}");
        }
    }

    /// Kasten & Young 1989: 1 in the zenith, 2.0 at 30°, 5.6 at 10°, 38 at the horizon.
    #[test]
    fn air_masses() {
        for (h, expected, tolerance) in [(90.0, 1.0, 0.001), (30.0, 1.994, 0.005), (10.0, 5.58, 0.03), (0.0, 38.0, 0.3)]
        {
            assert!((air_mass(h) - expected).abs() < tolerance, "{h}: {}", air_mass(h));
        }
    }

    /// Common practice, no source: in western Siberia in August 2008 Mercury and Venus were seen in totality.
    #[test]
    fn mercury_and_venus_over_siberia_in_2008() {
        let tt = Tt::from_utc("2008-08-01T10:45:00Z".parse().unwrap());
        let site = Site::new(54.85, 83.1, 150.0).unwrap();
        // Near the middle of an umbra of some 110 km, Sun at 30°.
        let place = PlaceInUmbra {
            sun_altitude_deg: 30.0,
            umbra_km: 60.0,
            towards_sun_km: 0.0,
            beside_km: 0.0,
            air: Air::STANDARD,
        };
        let umbra = UmbraSky::at(place, 220.0);
        let sky = sky_at(Kernel::embedded(), &site, tt, 65.8, Some(&umbra)).unwrap();
        for name in ["Mercury", "Venus"] {
            let planet = sky.iter().find(|object| object.body == name).unwrap();
            assert!(planet.visible && planet.altitude_deg > 10.0, "{planet:?}");
        }
    }
}
