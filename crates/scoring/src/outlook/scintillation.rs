//! How much the light of a crescent flickers after the turbulent air: the weak-scintillation integral.
//!
//! With z the distance along the line of sight, k = 2π/λ and q = κz,
//!
//! `σ² = 16π²·0.033·k² ∫ Cn²(z) W(z) dz`,  `W(z) = z^(5/3) ∫ q^(−8/3) sin²(q²/2kz) G(q) exp{−[q l₀/(5.92 z)]²} dq`.
//!
//! `G` belongs to the crescent alone ([`super::crescent`]), so the layer weight `W` does too: it depends on the crescent's
//! width, its curvature (the size ratio) and the distance, not on the Sun's altitude or the air. It is tabulated once
//! (`data/shadow_bands/`), and what is left for a site is one sum along the path.

use super::contrast_sensitivity::seen_of_variance;
use super::crescent::{AngularSpectrum, Crescent, cubic_weights};
use super::ground_air::GroundAir;
use super::limb_darkening::NECKEL_LABS_550_NM;
use super::turbulence::{Turbulence, height_on_path_m};
use noonfall_ephemeris::angle::ARCSEC_PER_RAD;
use std::f64::consts::{LN_2, LN_10, PI, TAU};
use std::sync::LazyLock;

/// Wavelength of the table, m: the middle of daylight vision.
pub const WAVELENGTH_M: f64 = 550e-9;

/// Inner scale of the turbulence, m: eddies smaller than this are smoothed away. Taken, not measured.
pub const INNER_SCALE_M: f64 = 5e-3;

/// Radius of the Sun for which the table is made, arcseconds. The real one stays within 1.8 % of it, which moves the
/// contrast by less than 1 %.
pub const TABLE_SUN_RADIUS_ARCSEC: f64 = 959.63;

/// Distances of the layer weights: 3 m to 750 km, five to the decade.
const PATH_COUNT: usize = 28;
const PATH_FIRST_M: f64 = 3.0;
const LN_PATH_STEP: f64 = LN_10 / 5.0;

/// Widths of the table: 1/8″ to 64″, each twice the one before.
const WIDTH_COUNT: usize = 10;
const WIDTH_FIRST_ARCSEC: f64 = 0.125;

/// Excess of the Moon's radius over the Sun's: 0.0025 to 0.08, each twice the one before.
const EXCESS_COUNT: usize = 6;
const EXCESS_FIRST: f64 = 0.0025;

/// Layer weights of one crescent: ln W at the table's distances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LayerWeights {
    ln_w: [f64; PATH_COUNT],
}

impl LayerWeights {
    /// The weights from the full integral, tens of milliseconds each.
    pub fn computed(crescent: &Crescent) -> LayerWeights {
        LayerWeights::computed_for(crescent, |_| 1.0)
    }

    /// The weights with each stripe's variance turned into the square of contrast over threshold for an eye that looks at a
    /// sheet ([`seen_of_variance`]).
    pub fn seen_computed(crescent: &Crescent) -> LayerWeights {
        LayerWeights::computed_for(crescent, seen_of_variance)
    }

    /// The weights with the variance at each wave number (rad/m) counted by a factor.
    fn computed_for(crescent: &Crescent, factor: impl Fn(f64) -> f64) -> LayerWeights {
        let spectrum = AngularSpectrum::of(crescent, &NECKEL_LABS_550_NM);
        let step = LN_10 / 80.0;
        let grid: Vec<(f64, f64)> = (0..=400)
            .map(|i| {
                let q = 50.0 * (f64::from(i) * step).exp();
                // q^(−8/3) dq is q^(−5/3) d ln q.
                (q, spectrum.at(q) * q.powf(-5.0 / 3.0) * step)
            })
            .collect();
        let k = TAU / WAVELENGTH_M;
        let ln_w = std::array::from_fn(|i| {
            let z = path_m(i);
            let sum: f64 = grid
                .iter()
                .map(|&(q, weight)| {
                    let x = q * q / (k * z);
                    // The mean of sin²(x/2) over one cell of the grid: exact for slow, ½ for fast oscillation.
                    let spread = x * step;
                    let damping = if spread < 1e-6 { 1.0 } else { spread.sin() / spread };
                    let fresnel = if spread < 1e-3 { (0.5 * x).sin().powi(2) } else { 0.5 * (1.0 - x.cos() * damping) };
                    let cut = q * INNER_SCALE_M / (5.92 * z);
                    weight * fresnel * (-cut * cut).exp() * factor(q / z)
                })
                .sum();
            // Nearer than a few metres the inner scale leaves nothing; the floor keeps the logarithm finite.
            (sum * z.powf(5.0 / 3.0)).max(1e-200).ln()
        });
        LayerWeights { ln_w }
    }

    /// The weights of a crescent from the table, by cubics through the logarithms (within 1 % of [`Self::computed`]).
    ///
    /// # Units
    /// Width at the middle in arcseconds; radius of the Moon over that of the Sun. Values beyond the table (widths of
    /// 1/8″ to 64″, ratios of 1.0025 to 1.08) are taken at its edge.
    pub fn tabulated(width_arcsec: f64, size_ratio: f64) -> LayerWeights {
        LayerWeights::from_table(&TABLE, width_arcsec, size_ratio)
    }

    /// As [`Self::tabulated`] for [`Self::seen_computed`].
    pub fn seen_tabulated(width_arcsec: f64, size_ratio: f64) -> LayerWeights {
        LayerWeights::from_table(&SEEN_TABLE, width_arcsec, size_ratio)
    }

    fn from_table(table: &[LayerWeights], width_arcsec: f64, size_ratio: f64) -> LayerWeights {
        let along = |value: f64, first: f64, count: usize| {
            let position = (value.max(first) / first).ln() / LN_2;
            cubic_weights(position.min((count - 1) as f64), count)
        };
        let (excess, excess_weights) = along(size_ratio - 1.0, EXCESS_FIRST, EXCESS_COUNT);
        let (width, width_weights) = along(width_arcsec, WIDTH_FIRST_ARCSEC, WIDTH_COUNT);
        let mut ln_w = [0.0; PATH_COUNT];
        for (i, by_excess) in excess_weights.iter().enumerate() {
            for (j, by_width) in width_weights.iter().enumerate() {
                let row = (excess + i) * WIDTH_COUNT + width + j;
                if let Some(cell) = table.get(row) {
                    for (sum, value) in ln_w.iter_mut().zip(&cell.ln_w) {
                        *sum += by_excess * by_width * value;
                    }
                }
            }
        }
        LayerWeights { ln_w }
    }

    /// The weights at [`path_distances`].
    pub fn along_path(&self) -> Vec<f64> {
        path_distances().map(|z| self.at(z)).collect()
    }

    /// W at a distance in metres; units m^(5/3).
    pub fn at(&self, path_m: f64) -> f64 {
        let position = (path_m.max(PATH_FIRST_M) / PATH_FIRST_M).ln() / LN_PATH_STEP;
        let (first, weights) = cubic_weights(position.min((PATH_COUNT - 1) as f64), PATH_COUNT);
        weights.iter().zip(&self.ln_w[first..]).map(|(w, v)| w * v).sum::<f64>().exp()
    }
}

/// Distance of the layer weight `i`, metres.
fn path_m(i: usize) -> f64 {
    PATH_FIRST_M * (i as f64 * LN_PATH_STEP).exp()
}

/// The table by excess, then width, one row each: computed by `cargo run --release --example layer_weights`.
static TABLE: LazyLock<Vec<LayerWeights>> = LazyLock::new(|| read_table(noonfall_data::shadow_bands::LAYER_WEIGHTS));

/// The same for what an eye sees.
static SEEN_TABLE: LazyLock<Vec<LayerWeights>> =
    LazyLock::new(|| read_table(noonfall_data::shadow_bands::SEEN_WEIGHTS));

fn read_table(text: &str) -> Vec<LayerWeights> {
    text.lines()
        .skip(1)
        .filter_map(|line| {
            let values: Vec<f64> = line.split(',').skip(2).filter_map(|cell| cell.parse().ok()).collect();
            let ln_w: [f64; PATH_COUNT] = values.try_into().ok()?;
            Some(LayerWeights { ln_w })
        })
        .collect()
}

/// The table as a CSV text: excess, width in arcseconds, then ln W at each distance in metres.
pub fn table_csv() -> String {
    csv_of(LayerWeights::computed)
}

/// The same of [`LayerWeights::seen_computed`].
pub fn seen_table_csv() -> String {
    csv_of(LayerWeights::seen_computed)
}

fn csv_of(weights: impl Fn(&Crescent) -> LayerWeights) -> String {
    let mut text = String::from("size_excess,width_arcsec");
    for i in 0..PATH_COUNT {
        text.push_str(&format!(",ln_w_{:.0}m", path_m(i)));
    }
    text.push('\n');
    for i in 0..EXCESS_COUNT {
        let excess = EXCESS_FIRST * f64::from(1 << i);
        for j in 0..WIDTH_COUNT {
            let width = WIDTH_FIRST_ARCSEC * f64::from(1 << j);
            let a = TABLE_SUN_RADIUS_ARCSEC / ARCSEC_PER_RAD;
            if let Some(crescent) = Crescent::new(a, a * (1.0 + excess), width / ARCSEC_PER_RAD) {
                text.push_str(&format!("{excess},{width}"));
                for value in weights(&crescent).ln_w {
                    text.push_str(&format!(",{value:.4}"));
                }
                text.push('\n');
            }
        }
    }
    text
}

/// Factor before the sum along the path.
fn scale() -> f64 {
    let k = TAU / WAVELENGTH_M;
    16.0 * PI * PI * 0.033 * k * k
}

/// Distances of a path's pieces: the same for every altitude of the Sun, of which a path takes the first few.
pub fn path_distances() -> impl Iterator<Item = f64> {
    let step = (LN_10 / PIECES_PER_DECADE).exp();
    std::iter::successors(Some(PATH_FIRST_M), move |z| Some(z * step)).take_while(|z| *z < path_m(PATH_COUNT - 1))
}

/// A line of sight to the Sun, cut into pieces, with what the air does in each.
#[derive(Clone, Debug)]
pub struct SlantPath {
    pieces: Vec<Piece>,
}

/// A piece of the path: its distance in metres, and each kind of air's Cn² times its length.
#[derive(Clone, Copy, Debug)]
struct Piece {
    distance_m: f64,
    free: f64,
    /// Surface layer of unit strength in the Hufnagel–Valley profile.
    surface: f64,
    /// Convective layer of unit strength ([`GroundAir::unit_shape`]).
    convective: f64,
}

/// Pieces of the path to the decade of distance: fine enough for the jet stream's narrow layer.
const PIECES_PER_DECADE: f64 = 16.0;

/// Height above which no turbulence counts, m.
const TOP_M: f64 = 30_000.0;

impl SlantPath {
    /// The path from a place towards the Sun.
    ///
    /// # Units
    /// Airless altitude of the Sun in degrees, taken as zero below the horizon; ground elevation in metres.
    pub fn new(sun_altitude_deg: f64, ground_elevation_m: f64, turbulence: &Turbulence) -> SlantPath {
        let step = LN_10 / PIECES_PER_DECADE;
        let mut pieces = Vec::with_capacity(88);
        let mut z = PATH_FIRST_M;
        while z < path_m(PATH_COUNT - 1) {
            let height = height_on_path_m(z, sun_altitude_deg);
            if height > TOP_M {
                break;
            }
            let length = z * step;
            let free = turbulence.free_air(height + ground_elevation_m.max(0.0)) * length;
            pieces.push(Piece {
                distance_m: z,
                free,
                surface: Turbulence::surface_shape(height) * length,
                convective: GroundAir::unit_shape(height) * length,
            });
            z *= step.exp();
        }
        SlantPath { pieces }
    }

    /// Sums over the path from the free air and from a convective layer of unit strength ([`GroundAir::strength`]): variance,
    /// or with the weights for what an eye sees the square of contrast over threshold. `along` are the weights at
    /// [`path_distances`].
    pub fn convective_parts(&self, along: &[f64]) -> (f64, f64) {
        let (mut free, mut convective) = (0.0, 0.0);
        for (piece, w) in self.pieces.iter().zip(along) {
            free += piece.free * w;
            convective += piece.convective * w;
        }
        (scale() * free, scale() * convective)
    }

    /// Variance of the brightness from the free air, and from a surface layer of unit strength.
    pub fn variance_parts(&self, weights: &LayerWeights) -> (f64, f64) {
        let (mut free, mut surface) = (0.0, 0.0);
        for piece in &self.pieces {
            let w = weights.at(piece.distance_m);
            free += piece.free * w;
            surface += piece.surface * w;
        }
        (scale() * free, scale() * surface)
    }

    /// Rms contrast σ: standard deviation of the brightness over its mean.
    pub fn contrast(&self, weights: &LayerWeights, surface_cn2: f64) -> f64 {
        let (free, surface) = self.variance_parts(weights);
        (free + surface_cn2.max(0.0) * surface).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rms(width: f64, size_ratio: f64, altitude: f64, surface: f64, ground: f64) -> f64 {
        SlantPath::new(altitude, ground, &Turbulence::STATED)
            .contrast(&LayerWeights::tabulated(width, size_ratio), surface)
    }

    /// Independently computed contrasts in percent (design fixtures, SciPy; the formula checked there against wave-optics
    /// phase screens): Hufnagel–Valley 5/7, 550 nm, Moon 1.056, sea level. They use a Sun of 950″, we one of 959.63″.
    #[test]
    fn contrast_agrees_with_the_design_fixtures() {
        let rows = [
            (1.0, [3.99, 4.40, 5.03, 6.31, 9.60, 12.3], 2.92, 9.32),
            (2.0, [3.18, 3.49, 3.97, 4.94, 7.41, 9.42], 2.21, 7.76),
            (5.0, [2.24, 2.45, 2.77, 3.41, 4.97, 6.18], 1.36, 5.96),
            (10.0, [1.65, 1.79, 2.01, 2.43, 3.39, 4.10], 0.87, 4.64),
            (20.0, [1.14, 1.23, 1.36, 1.60, 2.15, 2.54], 0.54, 3.31),
        ];
        for (width, by_zenith_distance, calm, rough) in rows {
            for (zenith, expected) in [0.0, 30.0, 45.0, 60.0, 75.0, 80.0].into_iter().zip(by_zenith_distance) {
                let found = 100.0 * rms(width, 1.056, 90.0 - zenith, 1.7e-14, 0.0);
                assert!(
                    (found / expected - 1.0).abs() < 0.02,
                    "w {width}, zenith {zenith}: {found} against {expected}"
                );
            }
            for (surface, expected) in [(1e-15, calm), (1.7e-13, rough)] {
                let found = 100.0 * rms(width, 1.056, 90.0, surface, 0.0);
                assert!((found / expected - 1.0).abs() < 0.02, "w {width}, A {surface}: {found} against {expected}");
            }
        }
    }

    /// The brute-force program `tests/reference/sights/light_and_bands.py`: other size ratios, altitudes, elevations.
    #[test]
    fn contrast_agrees_with_brute_force() {
        let text = crate::reference("sights/scintillation.csv");
        let mut count = 0;
        for line in text.lines().skip(1) {
            let v: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            let found = rms(v[2], v[1], 90.0 - v[3], v[4], v[5]);
            assert!((found / v[6] - 1.0).abs() < 0.02, "{line}: {found:e}");
            count += 1;
        }
        assert_eq!(count, 12);
    }

    /// The fast path against the plain one: shapes between the table's rows, from the full integral.
    #[test]
    fn the_table_agrees_with_the_full_integral_between_its_rows() {
        let a = TABLE_SUN_RADIUS_ARCSEC / ARCSEC_PER_RAD;
        for (width, ratio) in [(0.18, 1.034), (1.4, 1.0035), (3.0, 1.055), (11.0, 1.075), (45.0, 1.014)] {
            let crescent = Crescent::new(a, a * ratio, width / ARCSEC_PER_RAD).unwrap();
            let full = LayerWeights::computed(&crescent);
            let fast = LayerWeights::tabulated(width, ratio);
            for altitude in [4.0, 20.0, 70.0] {
                let path = SlantPath::new(altitude, 0.0, &Turbulence::STATED);
                let (f, t) = (path.contrast(&full, 1.7e-14), path.contrast(&fast, 1.7e-14));
                assert!((t / f - 1.0).abs() < 0.01, "w {width}, ratio {ratio}, altitude {altitude}: {t} against {f}");
                let seen = |w: &LayerWeights| {
                    let (free, ground) = path.convective_parts(&w.along_path());
                    (free + 0.1 * ground).sqrt()
                };
                let (f, t) =
                    (seen(&LayerWeights::seen_computed(&crescent)), seen(&LayerWeights::seen_tabulated(width, ratio)));
                assert!((t / f - 1.0).abs() < 0.02, "seen: w {width}, ratio {ratio}, {altitude}: {t} against {f}");
            }
        }
    }

    #[test]
    fn the_table_is_whole() {
        assert_eq!(TABLE.len(), EXCESS_COUNT * WIDTH_COUNT);
        assert_eq!(SEEN_TABLE.len(), EXCESS_COUNT * WIDTH_COUNT);
    }

    #[test]
    fn odd_shapes_stay_finite() {
        for (width, ratio) in [(0.0, 1.0), (-1.0, 0.9), (1e9, 5.0), (f64::NAN, f64::NAN)] {
            for altitude in [-10.0, 0.0, 90.0] {
                let value = rms(width, ratio, altitude, 1.7e-14, -100.0);
                assert!(value.is_finite() && value > 0.0, "{width} {ratio} {altitude}");
            }
        }
    }
}
