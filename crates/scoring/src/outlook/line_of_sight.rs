//! The chance that no cloud stands between the observer and the Sun (CFLOS), from the cover of the whole sky.
//!
//! Cloud amount alone misleads: a low Sun is seen through the sides of clouds. Two published forms are used, because
//! two different things are called cloud amount:
//!
//! - what an **observer** reports for the dome of the sky already contains the sides of clouds (Allen & Malick 1983);
//! - a satellite or reanalysis **grid** gives the fraction of the ground covered, seen from above (Kauth & Penquite 1967).
//!
//! Neither is calibrated for eclipses, and modelled chances were found somewhat higher than aircrews' sightings (Lund 1980).

use std::cell::Cell;

use statrs::function::gamma::ln_gamma;

/// Below this altitude of the Sun the forms extrapolate; the value at it is used.
pub const LOWEST_ALTITUDE_DEG: f64 = 5.0;

/// What kind of cloud amount a figure is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CoverKind {
    /// Sky cover as an observer (or a ceilometer that imitates one) reports it.
    Observed,
    /// Cloud fraction of a grid cell seen from above.
    Grid,
}

impl CoverKind {
    /// The kind's name in files: `observed` or `grid`.
    pub fn name(self) -> &'static str {
        match self {
            CoverKind::Observed => "observed",
            CoverKind::Grid => "grid",
        }
    }

    /// The kind of that name.
    pub fn from_name(name: &str) -> Option<CoverKind> {
        [CoverKind::Observed, CoverKind::Grid].into_iter().find(|k| k.name().eq_ignore_ascii_case(name.trim()))
    }
}

/// Covers whose chance is kept; a power of two.
const KEPT: usize = 256;

/// A model that turns cloud cover into a chance of a clear line of sight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LineOfSight {
    /// Allen & Malick, for observed sky cover.
    AllenMalick,
    /// Kauth & Penquite, for grid cloud fraction.
    KauthPenquite {
        /// Height of the clouds over their diameter, β.
        height_to_diameter: f64,
    },
}

impl LineOfSight {
    /// The model that belongs to a kind of cover; `height_to_diameter` is used for grids alone.
    pub fn for_kind(kind: CoverKind, height_to_diameter: f64) -> LineOfSight {
        match kind {
            CoverKind::Observed => LineOfSight::AllenMalick,
            CoverKind::Grid => LineOfSight::KauthPenquite { height_to_diameter },
        }
    }

    /// Names the model and its source, for outputs.
    pub fn describe(self) -> String {
        match self {
            LineOfSight::AllenMalick => "Allen & Malick 1983, for observed sky cover".to_owned(),
            LineOfSight::KauthPenquite { height_to_diameter } => {
                format!("Kauth & Penquite 1967, for grid cloud fraction, cloud height/diameter {height_to_diameter}")
            }
        }
    }

    /// The chance of a cloud-free line of sight under a sky of known cover.
    ///
    /// # Units
    /// Cover 0 to 1; altitude in degrees (below 5° the value at 5° is given); result 0 to 1.
    /// # Source
    /// Allen & Malick 1983 (AIAA): P = [1 − N(1+3N)/4]^(1 + b tan θ), b = 0.55 − N/2, formula from memory, its limits checked.
    /// Kauth & Penquite 1967, J. Appl. Meteorol. 6, 1005: P = (1−N)^f, f = √(1 + β² tan² θ). θ is the zenith angle.
    /// ```
    /// use noonfall_scoring::outlook::line_of_sight::LineOfSight;
    /// // Half the sky covered, Sun at 30°.
    /// assert!((LineOfSight::AllenMalick.clear(0.5, 30.0) - 0.566).abs() < 5e-4);
    /// assert!((LineOfSight::KauthPenquite { height_to_diameter: 1.0 }.clear(0.5, 30.0) - 0.250).abs() < 5e-4);
    /// ```
    pub fn clear(self, cover: f64, sun_altitude_deg: f64) -> f64 {
        self.clear_at(cover, slant(sun_altitude_deg))
    }

    /// [`LineOfSight::clear`] for many covers at one altitude. Archives state covers in eighths or hundredths: what has been
    /// worked out is kept.
    /// ```
    /// use noonfall_scoring::outlook::line_of_sight::LineOfSight;
    /// let clear = LineOfSight::AllenMalick.clear_towards(30.0);
    /// assert_eq!([0.5, 0.25, 0.5].map(clear), [0.5, 0.25, 0.5].map(|n| LineOfSight::AllenMalick.clear(n, 30.0)));
    /// ```
    pub fn clear_towards(self, sun_altitude_deg: f64) -> impl Fn(f64) -> f64 {
        let tan_zenith = slant(sun_altitude_deg);
        let known: [Cell<(f64, f64)>; KEPT] = std::array::from_fn(|_| Cell::new((f64::NAN, 0.0)));
        move |cover| {
            // Fibonacci hashing: the upper bits of the product are spread evenly.
            let place = cover.to_bits().wrapping_mul(0x9E37_79B9_7F4A_7C15) >> (64 - KEPT.ilog2());
            let cell = &known[place as usize];
            if cell.get().0 != cover {
                cell.set((cover, self.clear_at(cover, tan_zenith)));
            }
            cell.get().1
        }
    }

    /// As [`LineOfSight::clear`], with the tangent of the zenith angle already known.
    fn clear_at(self, cover: f64, tan_zenith: f64) -> f64 {
        let n = cover.clamp(0.0, 1.0);
        match self {
            LineOfSight::AllenMalick => (1.0 - n * (1.0 + 3.0 * n) / 4.0).powf(1.0 + (0.55 - n / 2.0) * tan_zenith),
            LineOfSight::KauthPenquite { height_to_diameter } => {
                (1.0 - n).powf((height_to_diameter * tan_zenith).hypot(1.0))
            }
        }
    }

    /// The expected chance over known skies, each of a cover and a weight; `None` when the weights sum to nothing.
    ///
    /// # Units
    /// As [`LineOfSight::clear`]; weights in any common unit.
    /// ```
    /// use noonfall_scoring::outlook::line_of_sight::LineOfSight;
    /// // Three clear skies to one that is overcast.
    /// assert_eq!(LineOfSight::AllenMalick.expected(&[(0.0, 3.0), (1.0, 1.0)], 30.0), Some(0.75));
    /// ```
    pub fn expected(self, skies: &[(f64, f64)], sun_altitude_deg: f64) -> Option<f64> {
        let tan_zenith = slant(sun_altitude_deg);
        let total: f64 = skies.iter().map(|s| s.1).sum();
        let clear: f64 = skies.iter().map(|&(cover, weight)| weight * self.clear_at(cover, tan_zenith)).sum();
        (total > 0.0).then(|| (clear / total).clamp(0.0, 1.0))
    }

    /// The expected chance when only the mean cover is known, with skies spread about it as a Beta distribution
    /// of parameters `mean × spread` and `(1 − mean) × spread`.
    ///
    /// Real cover is U-shaped, mostly clear or mostly overcast, and both models bend with cover, so the chance at the mean
    /// is not the mean chance. A small `spread` means skies at the two ends; a large one, skies all alike.
    ///
    /// # Units
    /// As [`LineOfSight::clear`]; `spread` has none and must be positive.
    /// # Source
    /// Beta distribution of sky cover: Falls 1974, J. Geophys. Res. 79, 1261 (citation from memory).
    /// ```
    /// use noonfall_scoring::outlook::line_of_sight::LineOfSight;
    /// // Skies at the two ends alone: as clear as there are clear ones.
    /// assert!((LineOfSight::AllenMalick.expected_from_mean(0.4, 1e-4, 30.0) - 0.6).abs() < 1e-3);
    /// ```
    pub fn expected_from_mean(self, mean_cover: f64, spread: f64, sun_altitude_deg: f64) -> f64 {
        let mean = mean_cover.clamp(0.0, 1.0);
        // Beyond ten thousand all skies are alike as far as four digits can tell.
        let spread = spread.min(1e4);
        let (a, b) = (mean * spread, (1.0 - mean) * spread);
        // A spread of nothing or a mean at an end leaves no distribution: the two ends alone, or one of them.
        if !(a > 1e-9 && b > 1e-9) {
            return 1.0 - mean;
        }
        let tan_zenith = slant(sun_altitude_deg);
        let clear = match self {
            LineOfSight::KauthPenquite { height_to_diameter } => {
                let f = (height_to_diameter * tan_zenith).hypot(1.0);
                (ln_gamma(b + f) + ln_gamma(a + b) - ln_gamma(b) - ln_gamma(a + b + f)).exp()
            }
            LineOfSight::AllenMalick => beta_mean(a, b, |cover| self.clear_at(cover, tan_zenith)),
        };
        clear.clamp(0.0, 1.0)
    }
}

/// Tangent of the Sun's zenith angle, held where the models stop.
fn slant(sun_altitude_deg: f64) -> f64 {
    let altitude = if sun_altitude_deg.is_finite() { sun_altitude_deg } else { LOWEST_ALTITUDE_DEG };
    altitude.clamp(LOWEST_ALTITUDE_DEG, 90.0).to_radians().tan().recip()
}

/// Mean of `f(x)` for x of Beta(a, b), by the double-exponential rule on x = 1/(1 + exp(−π sinh t)), whose Jacobian
/// cancels the poles of the density. Divided by the same sum of 1, so that it is exact for a constant.
fn beta_mean(a: f64, b: f64, f: impl Fn(f64) -> f64) -> f64 {
    // Fine enough for a distribution as narrow as that of a large a + b.
    let step = (0.3 / (a + b).sqrt()).min(1.0 / 12.0);
    // Where the density has fallen to exp(-40) at the shallower end.
    let peak = a * (a / (a + b)).ln() + b * (b / (a + b)).ln();
    let edge = (40.0 / (std::f64::consts::PI * a.min(b).min(1.0))).asinh();
    let steps = (edge / step).ceil() as i32;
    let (mut sum, mut norm) = (0.0, 0.0);
    for i in -steps..=steps {
        let t = f64::from(i) * step;
        let u = std::f64::consts::PI * t.sinh();
        // ln x and ln(1 − x), without overflow at either end.
        let (ln_x, ln_y) = (-softplus(-u), -softplus(u));
        let weight = (a * ln_x + b * ln_y - peak).exp() * t.cosh();
        sum += weight * f(ln_x.exp());
        norm += weight;
    }
    sum / norm
}

/// ln(1 + exp(x)).
fn softplus(x: f64) -> f64 {
    if x > 0.0 { x + (-x).exp().ln_1p() } else { x.exp().ln_1p() }
}

/// The expected chance from the mean cover, tabulated once for a model and spread: for grids of millions of points.
///
/// Interpolated linearly in mean cover and in the square root of the altitude above the lowest; within 5e-4 of
/// [`LineOfSight::expected_from_mean`].
#[derive(Clone, Debug)]
pub struct ExpectedTable {
    values: Vec<f64>,
}

impl ExpectedTable {
    const COVERS: usize = 101;
    const ALTITUDES: usize = 101;

    /// Computes the table.
    pub fn new(model: LineOfSight, spread: f64) -> ExpectedTable {
        use rayon::prelude::*;
        let values = (0..Self::ALTITUDES * Self::COVERS)
            .into_par_iter()
            .map(|i| {
                let altitude = Self::altitude_deg((i / Self::COVERS) as f64 / (Self::ALTITUDES - 1) as f64);
                let mean = (i % Self::COVERS) as f64 / (Self::COVERS - 1) as f64;
                model.expected_from_mean(mean, spread, altitude)
            })
            .collect();
        ExpectedTable { values }
    }

    /// Nodes crowd towards the low Sun, where the chance bends most.
    fn altitude_deg(node: f64) -> f64 {
        LOWEST_ALTITUDE_DEG + (90.0 - LOWEST_ALTITUDE_DEG) * node * node
    }

    /// The expected chance.
    ///
    /// # Units
    /// As [`LineOfSight::expected_from_mean`].
    pub fn expected(&self, mean_cover: f64, sun_altitude_deg: f64) -> f64 {
        let altitude = if sun_altitude_deg.is_finite() { sun_altitude_deg } else { LOWEST_ALTITUDE_DEG };
        let above = (altitude.clamp(LOWEST_ALTITUDE_DEG, 90.0) - LOWEST_ALTITUDE_DEG) / (90.0 - LOWEST_ALTITUDE_DEG);
        let y = above.sqrt() * (Self::ALTITUDES - 1) as f64;
        let x = mean_cover.clamp(0.0, 1.0) * (Self::COVERS - 1) as f64;
        let (row, column) = ((y as usize).min(Self::ALTITUDES - 2), (x as usize).min(Self::COVERS - 2));
        let (v, u) = (y - row as f64, x - column as f64);
        let at = |r: usize, c: usize| self.values[r * Self::COVERS + c];
        (1.0 - v) * ((1.0 - u) * at(row, column) + u * at(row, column + 1))
            + v * ((1.0 - u) * at(row + 1, column) + u * at(row + 1, column + 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GRID: LineOfSight = LineOfSight::KauthPenquite { height_to_diameter: 1.0 };

    /// Both forms, computed independently and listed with the project's sources (three decimals).
    #[test]
    fn agrees_with_the_table_of_both_forms() {
        let altitudes = [90.0, 60.0, 45.0, 30.0, 20.0, 10.0, 5.0];
        for (cover, row) in [
            (0.25, [0.891, 0.866, 0.848, 0.818, 0.778, 0.674, 0.507]),
            (0.50, [0.688, 0.644, 0.614, 0.566, 0.505, 0.363, 0.190]),
            (0.75, [0.391, 0.355, 0.331, 0.294, 0.249, 0.154, 0.060]),
            (0.875, [0.207, 0.187, 0.173, 0.152, 0.127, 0.076, 0.027]),
        ] {
            for (altitude, expected) in altitudes.iter().zip(row) {
                let p = LineOfSight::AllenMalick.clear(cover, *altitude);
                assert!((p - expected).abs() <= 5.1e-4, "{cover} {altitude}: {p}");
            }
        }
        for (cover, row) in [
            (0.25, [0.717, 0.562, 0.431]),
            (0.50, [0.449, 0.250, 0.132]),
            (0.75, [0.202, 0.062, 0.017]),
            (0.875, [0.091, 0.016, 0.002]),
        ] {
            for (altitude, expected) in [60.0, 30.0, 20.0].iter().zip(row) {
                let p = GRID.clear(cover, *altitude);
                assert!((p - expected).abs() <= 5.1e-4, "{cover} {altitude}: {p}");
            }
        }
    }

    #[test]
    fn is_certain_at_the_ends_and_falls_with_cover_and_with_a_lower_sun() {
        for model in [LineOfSight::AllenMalick, GRID] {
            for tenth in 0..=900 {
                let altitude = f64::from(tenth) / 10.0;
                assert_eq!(model.clear(0.0, altitude), 1.0);
                assert_eq!(model.clear(1.0, altitude), 0.0);
                let mut last = 1.0;
                for cover in 1..=100 {
                    let p = model.clear(f64::from(cover) / 100.0, altitude);
                    assert!(p < last && p <= model.clear(f64::from(cover) / 100.0, altitude + 1.0) + 1e-15);
                    last = p;
                }
            }
            assert_eq!(model.clear(0.5, 1.0), model.clear(0.5, 5.0));
            assert!(model.clear(0.5, f64::NAN).is_finite());
        }
    }

    /// Kauth & Penquite has a closed form under a Beta distribution: the ratio of two Beta functions.
    #[test]
    fn the_integral_over_a_beta_distribution_agrees_with_the_closed_form() {
        for mean in [0.01, 0.2, 0.5, 0.8, 0.99] {
            for spread in [0.3, 0.8, 3.0, 30.0] {
                for altitude in [5.0, 12.0, 30.0, 90.0] {
                    let closed = GRID.expected_from_mean(mean, spread, altitude);
                    let (a, b) = (mean * spread, (1.0 - mean) * spread);
                    let integral = beta_mean(a, b, |n| GRID.clear(n, altitude));
                    assert!((closed - integral).abs() < 1e-9, "{mean} {spread} {altitude}: {closed} {integral}");
                }
            }
        }
    }

    #[test]
    fn skies_all_alike_or_at_the_two_ends_are_the_limits_of_the_spread() {
        for model in [LineOfSight::AllenMalick, GRID] {
            for mean in [0.1, 0.5, 0.9] {
                assert!((model.expected_from_mean(mean, 1e5, 20.0) - model.clear(mean, 20.0)).abs() < 1e-3);
                assert!((model.expected_from_mean(mean, 1e-4, 20.0) - (1.0 - mean)).abs() < 1e-3);
                let skies = [(0.0, 1.0 - mean), (1.0, mean)];
                assert!((model.expected(&skies, 20.0).unwrap() - (1.0 - mean)).abs() < 1e-12);
            }
            assert_eq!(model.expected_from_mean(0.0, 0.8, 20.0), 1.0);
            assert_eq!(model.expected_from_mean(1.0, 0.8, 20.0), 0.0);
            assert_eq!(model.expected(&[], 20.0), None);
        }
    }

    #[test]
    fn the_table_follows_the_plain_computation() {
        for model in [LineOfSight::AllenMalick, GRID] {
            let table = ExpectedTable::new(model, 0.8);
            let mut worst = 0.0_f64;
            for mean in 0..=197 {
                for step in 0..=120 {
                    let (mean, altitude) = (f64::from(mean) / 197.0, f64::from(step) * 0.75);
                    let error = table.expected(mean, altitude) - model.expected_from_mean(mean, 0.8, altitude);
                    worst = worst.max(error.abs());
                }
            }
            assert!(worst < 5e-4, "{model:?}: {worst}");
        }
    }
}
