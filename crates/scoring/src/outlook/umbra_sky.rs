//! How bright the sky is in totality, direction by direction.
//!
//! Light that was scattered once is summed along the line of sight with the umbra where it really stands; what was scattered more
//! often is laid over it by a form fitted to the Monte Carlo computation of [`super::umbra_light`]. Overhead nearly all is of
//! the second kind, low in the sky half and half.

use super::air::{Air, HAZE_KM};
use super::limb_darkening::NECKEL_LABS_550_NM;
use super::quadrature::GaussLegendre;
use super::sky::air_mass;
use super::umbra_light::{CORONA_OF_SUN, PlaceInUmbra, cell_of, daylight, umbra_lux};
use noonfall_shadow::View;
use std::f64::consts::PI;
use std::sync::LazyLock;

/// Sunlight above the air, lux (from memory; 128 to 133 klx are quoted).
const SUNLIGHT_LX: f64 = 133e3;

/// Radius of the Moon that throws the umbra, km.
const MOON_KM: f64 = 1736.65;

const EARTH_KM: f64 = 6371.0;

/// Optical thicknesses of the standard atmosphere at 550 nm and the heights over which they thin out, km: molecules, haze, ozone
/// (a layer about 22 km, deviation 4.5 km), as in `tests/reference/light/umbra_sky.py`; that of haze comes from the place's [`Air`].
const MOLECULES: (f64, f64) = (0.097, 8.0);
const OZONE: (f64, f64, f64) = (0.027, 22.0, 4.5);
/// Asymmetry and single-scattering albedo of haze.
const HAZE_G: f64 = 0.7;
const HAZE_OMEGA: f64 = 0.92;

/// Light scattered more than once, over level illuminance/8.2 sr, by elevation: at right angles to the Sun, seen from the axis.
/// Fitted to `tests/reference/light/radiance.csv`.
const MULTIPLE: [(f64, f64); 7] =
    [(0.0, 9.0), (2.0, 11.3), (5.0, 12.5), (10.0, 8.2), (20.0, 4.2), (45.0, 1.6), (90.0, 1.0)];

/// The sky over one place in totality.
#[derive(Clone, Debug)]
pub struct UmbraSky {
    place: PlaceInUmbra,
    sun_azimuth_deg: f64,
    /// Illuminance of level ground, lux.
    ground_lux: f64,
    /// Light of the corona on a surface that faces it, lux.
    corona_lux: f64,
    /// Share of the Sun's light by distance beyond the umbra's edge in radii of the Sun, at [`beyond_node`], to the power 2/3.
    left: [f64; LEFT_COUNT],
}

const LEFT_COUNT: usize = 48;

/// Distance beyond the umbra's edge at a node, in the Sun's radii as thrown by the Moon: dense near the edge.
fn beyond_node(i: usize) -> f64 {
    let share = i as f64 / (LEFT_COUNT - 1) as f64;
    2.05 * share * share
}

static PATH_RULE: LazyLock<GaussLegendre> = LazyLock::new(|| GaussLegendre::new(48));

impl UmbraSky {
    /// The sky at the instant of a view inside the umbra, in an air.
    pub fn of(view: &View, air: Air) -> UmbraSky {
        UmbraSky::at(PlaceInUmbra::of(view, air), view.sun_azimuth_deg)
    }

    /// The sky over a place in the umbra.
    pub fn at(place: PlaceInUmbra, sun_azimuth_deg: f64) -> UmbraSky {
        let excess = place.umbra_km / (MOON_KM - place.umbra_km.min(0.5 * MOON_KM));
        let left = std::array::from_fn(|i| {
            NECKEL_LABS_550_NM.light_left(1.0 + excess, excess + beyond_node(i)).powf(2.0 / 3.0)
        });
        UmbraSky {
            place,
            sun_azimuth_deg,
            ground_lux: umbra_lux(&place),
            corona_lux: CORONA_OF_SUN * daylight(place.sun_altitude_deg, &place.air).direct_normal_lux,
            left,
        }
    }

    /// Light on level ground from the sky, lux; the corona apart.
    pub fn ground_lux(&self) -> f64 {
        self.ground_lux
    }

    /// The air over the place.
    pub fn air(&self) -> &Air {
        &self.place.air
    }

    /// Light of the corona on a surface that faces it, lux.
    pub fn corona_lux(&self) -> f64 {
        self.corona_lux
    }

    /// Luminance of the clear sky in a direction, cd/m².
    ///
    /// # Units
    /// Degrees; azimuth from north through east. Below the horizon as at it.
    /// # Validity
    /// Within some 30 % of the Monte Carlo computation (`tests/reference/light/radiance.csv`, elevations of 2° and more); a real clear
    /// sky within a factor of 1.5. Measured overhead: 0.5 to 0.6 cd/m² in Idaho in 2017.
    pub fn luminance_cd_m2(&self, elevation_deg: f64, azimuth_deg: f64) -> f64 {
        let from_sun = (azimuth_deg - self.sun_azimuth_deg).to_radians();
        let elevation = elevation_deg.clamp(0.0, 90.0);
        self.scattered_once(elevation, from_sun) + self.scattered_often(elevation, from_sun)
    }

    /// The same with the corona's glare in the eye, at an angle from the Sun.
    ///
    /// # Source
    /// Veiling luminance of Stiles and Holladay, 10 E/θ² (from memory; young eyes, θ in degrees from 1 to 30).
    pub fn luminance_with_glare_cd_m2(&self, elevation_deg: f64, azimuth_deg: f64, from_sun_deg: f64) -> f64 {
        self.luminance_cd_m2(elevation_deg, azimuth_deg) + 10.0 * self.corona_lux / from_sun_deg.max(1.0).powi(2)
    }

    /// Share of the Sun's light at a distance from the shadow's axis, km.
    fn sunlight(&self, off_axis_km: f64) -> f64 {
        let beyond = (off_axis_km - self.place.umbra_km) / (MOON_KM - self.place.umbra_km.min(0.5 * MOON_KM));
        if beyond <= 0.0 {
            return 0.0;
        }
        let position = (beyond / 2.05).sqrt() * (LEFT_COUNT - 1) as f64;
        let i = (position as usize).min(LEFT_COUNT - 2);
        let share = (beyond - beyond_node(i)) / (beyond_node(i + 1) - beyond_node(i));
        let low = self.left[i];
        (low + share.min(1.0) * (self.left[i + 1] - low)).max(0.0).powf(1.5)
    }

    /// The single-scattering integral along a line of sight, azimuth from the Sun in radians.
    fn scattered_once(&self, elevation_deg: f64, from_sun: f64) -> f64 {
        let (sin_e, cos_e) = elevation_deg.to_radians().sin_cos();
        let (sin_h, cos_h) = self.place.sun_altitude_deg.to_radians().sin_cos();
        let (sin_a, cos_a) = from_sun.sin_cos();
        let cosine = cos_e * cos_h * cos_a + sin_e * sin_h;
        let rayleigh = 3.0 * (1.0 + cosine * cosine) / (16.0 * PI);
        let g2 = HAZE_G * HAZE_G;
        let haze = (1.0 - g2) / (4.0 * PI * (1.0 + g2 - 2.0 * HAZE_G * cosine).powf(1.5));
        // To where the line of sight leaves the air (60 km), in steps that grow with distance.
        let (haze_depth, start_km) = (self.place.air.haze.max(0.0), self.place.air.height_km.clamp(-0.5, 9.0));
        let top_km = 60.0 - start_km;
        let r = EARTH_KM + start_km;
        let reach = ((r * sin_e).powi(2) + 2.0 * r * top_km + top_km * top_km).sqrt() - r * sin_e;
        let mut thickness = 0.0;
        let (mut before_km, mut before_rate) = (0.0, rates(start_km, haze_depth).iter().sum::<f64>());
        let mut sum = 0.0;
        for &(node, weight) in &PATH_RULE.nodes {
            let d = reach * node * node;
            let length = reach * 2.0 * node * weight;
            let height = start_km + height_km(d, sin_e);
            let [molecules, dust, ozone] = rates(height, haze_depth);
            let rate = molecules + dust + ozone;
            thickness += 0.5 * (before_rate + rate) * (d - before_km);
            (before_km, before_rate) = (d, rate);
            // Place of the point against the axis, across the light.
            let (x, y, z) = (d * cos_e * cos_a, d * cos_e * sin_a, d * sin_e);
            let towards = self.place.towards_sun_km + x * sin_h - z * cos_h;
            let beside = self.place.beside_km + y;
            let sunlit = self.sunlight(towards.hypot(beside));
            if sunlit <= 0.0 {
                continue;
            }
            let local_altitude = self.place.sun_altitude_deg + (x / r).to_degrees();
            let through = (-thickness).exp() * sun_through(height, local_altitude, haze_depth);
            sum += length * through * sunlit * (molecules * rayleigh + HAZE_OMEGA * dust * haze);
        }
        SUNLIGHT_LX * sum
    }

    /// What was scattered more than once.
    fn scattered_often(&self, elevation_deg: f64, from_sun: f64) -> f64 {
        let nodes = MULTIPLE.map(|(e, _)| e);
        let (i, share) = cell_of(&nodes, elevation_deg);
        let level = (1.0 - share) * MULTIPLE[i].1.ln() + share * MULTIPLE[i + 1].1.ln();
        // Towards the Sun and away from it the air is darker than beside it, the more so the lower the Sun; and brighter towards the
        // near edge. Both fade with elevation.
        let (sin_a, cos_a) = from_sun.sin_cos();
        let darker = (0.2 + 0.8 * self.place.sun_altitude_deg.to_radians().sin().max(0.0)).ln() * cos_a * cos_a;
        let nearer = (self.place.towards_sun_km * cos_a + 0.68 * self.place.beside_km * sin_a)
            / (35.0 + 0.65 * self.place.umbra_km);
        let fades = (-(elevation_deg - 5.0).max(0.0) / 18.0).exp();
        self.ground_lux / 8.2 * (level + fades * (darker + nearer)).exp()
    }
}

/// Height above the sea on a line of sight, km.
fn height_km(distance_km: f64, sin_elevation: f64) -> f64 {
    let rise = 2.0 * EARTH_KM * distance_km * sin_elevation + distance_km * distance_km;
    rise / ((EARTH_KM * EARTH_KM + rise).sqrt() + EARTH_KM)
}

/// Extinction by molecules, haze and ozone at a height, per km.
fn rates(height_km: f64, haze: f64) -> [f64; 3] {
    let (tau, middle, deviation) = OZONE;
    [
        MOLECULES.0 / MOLECULES.1 * (-height_km / MOLECULES.1).exp(),
        haze / HAZE_KM * (-height_km / HAZE_KM).exp(),
        tau / (deviation * (2.0 * PI).sqrt()) * (-0.5 * ((height_km - middle) / deviation).powi(2)).exp(),
    ]
}

/// Sunlight that gets through the air to a height with the Sun at an altitude.
fn sun_through(height_km: f64, altitude_deg: f64, haze: f64) -> f64 {
    if altitude_deg < 0.0 && height_km < EARTH_KM * (1.0 / altitude_deg.to_radians().cos() - 1.0) {
        return 0.0;
    }
    // Share of the ozone above: a logistic in place of the normal distribution, within 0.01.
    let above = 1.0 / (1.0 + (1.702 * (height_km - OZONE.1) / OZONE.2).exp());
    let overhead =
        MOLECULES.0 * (-height_km / MOLECULES.1).exp() + haze * (-height_km / HAZE_KM).exp() + OZONE.0 * above;
    (-overhead * air_mass(altitude_deg)).exp()
}

/// Surface brightness of a luminance, magnitudes per square arcsecond: zero point 1.08e5 cd/m².
/// ```
/// use noonfall_scoring::outlook::umbra_sky::magnitudes_per_arcsec2;
/// // A dark moonless sky, 0.17 mcd/m², has 22 magnitudes per square arcsecond (from memory).
/// assert!((magnitudes_per_arcsec2(1.7e-4) - 22.0).abs() < 0.02);
/// ```
pub fn magnitudes_per_arcsec2(luminance_cd_m2: f64) -> f64 {
    -2.5 * (luminance_cd_m2.max(1e-12) / 1.08e5).log10()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The Monte Carlo computation, every direction from 2° up: in the mean and, with its noise, one by one.
    #[test]
    fn agrees_with_the_monte_carlo_computation() {
        let text = crate::reference("light/radiance.csv");
        let (mut count, mut worst, mut squares, mut mean) = (0, 0.0_f64, 0.0, 0.0);
        for line in text.lines().skip(1) {
            let c: Vec<&str> = line.split(',').collect();
            let v = |i: usize| c[i].parse::<f64>().unwrap();
            let off = v(1) * v(3);
            let (towards_sun_km, beside_km) = match c[2] {
                "axis" => (0.0, 0.0),
                "towards" => (off, 0.0),
                "away" => (-off, 0.0),
                _ => (0.0, off),
            };
            let place =
                PlaceInUmbra { sun_altitude_deg: v(0), umbra_km: v(1), towards_sun_km, beside_km, air: Air::STANDARD };
            // The recipe looks north and turns the Sun; beside is the side looked to.
            let found = UmbraSky::at(place, 0.0).luminance_cd_m2(v(4), v(5));
            let ratio = (found / v(6)).ln();
            mean += ratio;
            squares += ratio * ratio;
            if ratio.abs() > worst {
                worst = ratio.abs();
                println!("{line}: {found:.3}");
            }
            count += 1;
        }
        let (mean, rms) = (mean / f64::from(count), (squares / f64::from(count)).sqrt());
        println!("{count} directions: mean {mean:.3}, rms {rms:.3}, worst {worst:.3} in the logarithm");
        assert_eq!(count, 768);
        assert!(mean.abs() < 0.1 && rms < 0.25 && worst < 0.8);
    }

    /// Published: a meter overhead at Lowman, Idaho, in 2017 (Sun at 46°, umbra of 48 km) read 13.14 to 13.33 mag/arcsec²; 12.4 to 13.3
    /// all readings. 1966, Quehua, 51°, 36 km: 1/2620 of the day sky at 560 nm, some 1.7 cd/m² (Dandekar 1968, abstract).
    #[test]
    fn overhead_as_measured() {
        let overhead = |h: f64, umbra_km: f64| {
            let place =
                PlaceInUmbra { sun_altitude_deg: h, umbra_km, towards_sun_km: 0.0, beside_km: 0.0, air: Air::STANDARD };
            UmbraSky::at(place, 0.0).luminance_cd_m2(90.0, 0.0)
        };
        let lowman = magnitudes_per_arcsec2(overhead(46.0, 48.0));
        assert!((12.4..13.6).contains(&lowman), "{lowman}");
        let quehua = overhead(51.0, 36.0);
        assert!((0.8..2.0).contains(&quehua), "{quehua}");
    }

    /// On the axis both sides of the Sun look alike; off it the near edge is the brighter; wide umbrae are the darker.
    #[test]
    fn symmetric_and_brighter_towards_the_near_edge() {
        let place = PlaceInUmbra {
            sun_altitude_deg: 30.0,
            umbra_km: 70.0,
            towards_sun_km: 0.0,
            beside_km: 0.0,
            air: Air::STANDARD,
        };
        let middle = UmbraSky::at(place, 200.0);
        for from_sun in [10.0, 60.0, 120.0, 170.0] {
            let (right, left) =
                (middle.luminance_cd_m2(4.0, 200.0 + from_sun), middle.luminance_cd_m2(4.0, 200.0 - from_sun));
            assert!((right / left - 1.0).abs() < 1e-9, "{from_sun}: {right} {left}");
        }
        let right = UmbraSky::at(PlaceInUmbra { beside_km: 50.0, ..place }, 200.0);
        assert!(right.luminance_cd_m2(4.0, 290.0) > 2.0 * right.luminance_cd_m2(4.0, 110.0));
        let wide = UmbraSky::at(PlaceInUmbra { umbra_km: 120.0, ..place }, 200.0);
        for elevation in [2.0, 10.0, 90.0] {
            assert!(wide.luminance_cd_m2(elevation, 290.0) < middle.luminance_cd_m2(elevation, 290.0));
        }
    }

    /// Low in the sky all round, seen from places off the axis: brightest on the near edge's side, darkest on the other, and the near
    /// edge's direction brighter than its opposite wherever the edge is; in a wider umbra every direction is darker.
    #[test]
    fn brightest_low_towards_the_near_edge_and_darkest_opposite() {
        for altitude in [8.0, 25.0, 50.0, 75.0] {
            for (umbra_km, part) in [(35.0, 0.7), (70.0, 0.5), (110.0, 0.8)] {
                let middle = PlaceInUmbra {
                    sun_altitude_deg: altitude,
                    umbra_km,
                    towards_sun_km: 0.0,
                    beside_km: 0.0,
                    air: Air::STANDARD,
                };
                let low = |place: PlaceInUmbra, from_sun: f64| UmbraSky::at(place, 0.0).luminance_cd_m2(3.0, from_sun);
                let beside = PlaceInUmbra { beside_km: part * umbra_km, ..middle };
                let by = |a: &f64, b: &f64| low(beside, *a).total_cmp(&low(beside, *b));
                let all: Vec<f64> = (0..16).map(|k| 22.5 * f64::from(k)).collect();
                let brightest = *all.iter().max_by(|a, b| by(a, b)).unwrap();
                let darkest = *all.iter().min_by(|a, b| by(a, b)).unwrap();
                assert!((45.0..=135.0).contains(&brightest), "{altitude} {umbra_km}: {brightest}");
                assert!((180.0..=360.0).contains(&darkest) || darkest == 0.0, "{altitude} {umbra_km}: {darkest}");
                for (towards_sun_km, near) in [(part * umbra_km, 0.0), (-part * umbra_km, 180.0)] {
                    let place = PlaceInUmbra { towards_sun_km, ..middle };
                    let ratio = low(place, near) / low(place, near + 180.0);
                    let of_middle = low(middle, near) / low(middle, near + 180.0);
                    assert!(ratio > of_middle, "{altitude} {umbra_km} {near}: {ratio} {of_middle}");
                }
                let wider = PlaceInUmbra { umbra_km: 1.2 * umbra_km, ..middle };
                assert!(all.iter().all(|a| low(wider, *a) < low(middle, *a)), "{altitude} {umbra_km}");
            }
        }
    }
}
