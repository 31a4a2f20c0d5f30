//! How strongly the air bends light, by height: the Hufnagel–Valley profile.

/// Structure constant of the refractive index by height (Hufnagel–Valley): the jet stream, the free air, and the layer
/// warmed by the ground.
///
/// # Source
/// Valley 1980, Appl. Opt. 19, 574 (citation from memory; form and constants as documented by several libraries):
/// `Cn²(h) = 0.00594 (v/27)² (10⁻⁵h)¹⁰ e^(−h/1000) + 2.7e-16 e^(−h/1500) + A e^(−h/100)`, h in metres, Cn² in m^(−2/3).
/// With v = 21 m/s and A = 1.7e-14 it is the "5/7" profile: at 500 nm r₀ = 4.96 cm and θ₀ = 6.89 µrad.
/// # Validity
/// A night-time mean over a mid-latitude continent. For shadow bands only its free air serves; the air near the ground is
/// [`super::ground_air`]. The surface layer is kept for the fixtures of the scintillation integral.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turbulence {
    /// Wind of the upper troposphere v, m/s.
    pub upper_wind_m_s: f64,
    /// Strength of the surface layer A, m^(−2/3).
    pub surface_cn2: f64,
}

impl Turbulence {
    /// Hufnagel–Valley 5/7.
    pub const STATED: Turbulence = Turbulence { upper_wind_m_s: 21.0, surface_cn2: 1.7e-14 };

    /// Cn² of the free air, without the surface layer, m^(−2/3), at a height above the sea in metres.
    pub fn free_air(&self, above_sea_m: f64) -> f64 {
        let h = above_sea_m.max(0.0);
        let jet = 0.005_94 * (self.upper_wind_m_s / 27.0).powi(2) * (1e-5 * h).powi(10) * (-h / 1000.0).exp();
        jet + 2.7e-16 * (-h / 1500.0).exp()
    }

    /// Cn² of a surface layer of unit strength at a height above the ground in metres.
    pub fn surface_shape(above_ground_m: f64) -> f64 {
        (-above_ground_m / 100.0).exp()
    }

    /// Cn² in m^(−2/3): the surface layer counted from the ground, the free air from the sea.
    pub fn cn2(&self, above_ground_m: f64, ground_elevation_m: f64) -> f64 {
        self.free_air(above_ground_m + ground_elevation_m)
            + self.surface_cn2 * Turbulence::surface_shape(above_ground_m)
    }
}

/// Height above the ground of a point on a straight, slanting line of sight, metres; the Earth's curvature included.
///
/// # Units
/// Path in metres, altitude in degrees. Negative altitudes are taken as zero: below the horizon there is no path.
/// ```
/// use noonfall_scoring::outlook::turbulence::height_on_path_m;
/// // The sine of 30° is a half.
/// assert!((height_on_path_m(1000.0, 30.0) - 500.0).abs() < 0.1);
/// ```
pub fn height_on_path_m(path_m: f64, altitude_deg: f64) -> f64 {
    const EARTH_MEAN_RADIUS_M: f64 = 6.371e6;
    let sin = altitude_deg.max(0.0).to_radians().sin();
    let r = EARTH_MEAN_RADIUS_M;
    // √(r² + 2 r z sin h + z²) − r, written without the cancellation.
    let rise = 2.0 * r * path_m * sin + path_m * path_m;
    rise / ((r * r + rise).sqrt() + r)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outlook::quadrature::GaussLegendre;

    fn moment(power: f64) -> f64 {
        let rule = GaussLegendre::new(200);
        rule.integrate(0.0, 200.0, |h| Turbulence::STATED.cn2(h, 0.0) * h.powf(power))
            + rule.integrate(200.0, 60_000.0, |h| Turbulence::STATED.cn2(h, 0.0) * h.powf(power))
    }

    /// The profile's own name: r₀ = 5 cm and θ₀ = 7 µrad at 500 nm; total 2.2354e-12 m^(1/3) (design fixtures, SciPy).
    #[test]
    fn five_seven() {
        let k = std::f64::consts::TAU / 500e-9;
        let total = moment(0.0);
        assert!((total / 2.2354e-12 - 1.0).abs() < 1e-3, "{total:e}");
        let r0 = (0.423 * k * k * total).powf(-0.6);
        assert!((r0 - 0.0496).abs() < 0.0001, "{r0}");
        let theta0 = (2.914 * k * k * moment(5.0 / 3.0)).powf(-0.6);
        assert!((theta0 * 1e6 - 6.89).abs() < 0.02, "{theta0:e}");
    }

    /// Rytov variance of a point source in the zenith: 0.235 at 500 nm, 0.210 at 550 nm (design fixtures).
    #[test]
    fn point_source_scintillation() {
        for (wavelength, expected) in [(500e-9, 0.235), (550e-9, 0.210)] {
            let k: f64 = std::f64::consts::TAU / wavelength;
            let variance = 2.25 * k.powf(7.0 / 6.0) * moment(5.0 / 6.0);
            assert!((variance - expected).abs() < 0.001, "{variance}");
        }
    }

    #[test]
    fn slanting_paths_rise() {
        assert!((height_on_path_m(1000.0, 90.0) - 1000.0).abs() < 1e-6);
        assert!((height_on_path_m(1000.0, 30.0) - 500.0).abs() < 0.1);
        // Along the horizon the ground falls away by z²/2r: 100 km gives 785 m.
        assert!((height_on_path_m(1e5, 0.0) - 784.8).abs() < 0.2);
        assert_eq!(height_on_path_m(1e5, -3.0), height_on_path_m(1e5, 0.0));
    }
}
