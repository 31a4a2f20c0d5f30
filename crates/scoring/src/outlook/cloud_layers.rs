//! The chance of a line of sight past low, middle and high cloud, each with its own shape and its own transparency.
//!
//! A low Sun looks through the sides of cumulus, hardly through those of stratus or cirrus; thin high cloud dims the corona and
//! does not hide it. So each layer has its own ratio of height to diameter, and high cloud a share that is seen through.
//!
//! # Source
//! Sides: Kauth & Penquite 1967, J. Appl. Meteorol. 6, 1005, as in [`super::line_of_sight`], a layer each; ratios by judgement within
//! what the literature gives for cumulus (0.6 to 1.5), flatter for the others. Overlap: total = α maximum + (1 − α) random, Hogan &
//! Illingworth 2000 (Q. J. R. Meteorol. Soc. 126, 2903), α taken from the total that the archive gives. Seen through: cirrus is
//! transmissive in a good part of all cases (Wylie & Menzel 1994); one half is a judgement, 0.3 to 0.7 its range.

use crate::input::clouds::Layers;

use super::line_of_sight::{LOWEST_ALTITUDE_DEG, LineOfSight};

/// The shapes and the transparency of the layers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LayerModel {
    /// Height of clouds over their diameter, lowest layer first.
    pub height_to_diameter: [f64; 3],
    /// Share of high cloud that is thin enough to see the corona through, 0 to 1.
    pub high_see_through: f64,
}

impl Default for LayerModel {
    /// 0.8 (cumulus and its kin), 0.25 (altocumulus), 0.05 (cirrus); one half of high cloud is seen through.
    fn default() -> LayerModel {
        LayerModel { height_to_diameter: [0.8, 0.25, 0.05], high_see_through: 0.5 }
    }
}

/// What the layers leave of the sky.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LayeredChance {
    /// Chance of a line clear of cloud, or through no more than thin high cloud.
    pub clear: f64,
    /// Chance of a line clear of all cloud.
    pub strict: f64,
    /// What each layer takes away, lowest first: how much larger `clear` would be without it.
    pub taken: [f64; 3],
}

/// How layers overlap.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Overlap {
    /// Share of maximum overlap; the rest is random.
    Share(f64),
    /// Less overlap than random: every layer's clear share to this power.
    Power(f64),
}

impl LayerModel {
    /// The chance under known covers of the layers and their total.
    ///
    /// # Units
    /// Covers 0 to 1; altitude in degrees (below 5° the value at 5° is given).
    /// ```
    /// use noonfall_scoring::input::clouds::Layers;
    /// use noonfall_scoring::outlook::cloud_layers::LayerModel;
    /// // One opaque layer of flat cloud: its cover is all that it takes.
    /// let flat = LayerModel { height_to_diameter: [0.0; 3], high_see_through: 0.0 };
    /// let chance = flat.chance(0.25, Layers { low: 0.25, middle: 0.0, high: 0.0 }, 20.0);
    /// assert!((chance.clear - 0.75).abs() < 1e-12 && (chance.taken[0] - 0.25).abs() < 1e-12);
    /// ```
    pub fn chance(&self, total: f64, layers: Layers, sun_altitude_deg: f64) -> LayeredChance {
        self.combine(total, layers, |layer, cover| {
            let side = LineOfSight::KauthPenquite { height_to_diameter: self.height_to_diameter[layer] };
            side.clear(cover, sun_altitude_deg)
        })
    }

    /// The chance where only means are known: each layer's skies are spread about its mean as a Beta distribution, as in
    /// [`LineOfSight::expected_from_mean`].
    pub fn chance_of_means(&self, total: f64, layers: Layers, spread: f64, sun_altitude_deg: f64) -> LayeredChance {
        self.combine(total, layers, |layer, cover| {
            let side = LineOfSight::KauthPenquite { height_to_diameter: self.height_to_diameter[layer] };
            side.expected_from_mean(cover, spread, sun_altitude_deg)
        })
    }

    fn combine(&self, total: f64, layers: Layers, clear: impl Fn(usize, f64) -> f64) -> LayeredChance {
        let covers = layers.each().map(|c| c.clamp(0.0, 1.0));
        let overlap = overlap(total.clamp(0.0, 1.0), covers);
        let past: [f64; 3] = [0, 1, 2].map(|i| clear(i, covers[i]).clamp(0.0, 1.0));
        let through = self.high_see_through.clamp(0.0, 1.0);
        let seen = [past[0], past[1], 1.0 - (1.0 - through) * (1.0 - past[2])];
        let whole = together(seen, overlap);
        let taken = [0, 1, 2].map(|i| {
            let mut without = seen;
            without[i] = 1.0;
            (together(without, overlap) - whole).max(0.0)
        });
        LayeredChance { clear: whole, strict: together(past, overlap), taken }
    }

    /// Names the model and its source, for outputs.
    pub fn describe(&self) -> String {
        let [low, middle, high] = self.height_to_diameter;
        format!(
            "Kauth & Penquite 1967 for each layer (height/diameter {low} low, {middle} middle, {high} high), overlapping as the total \
             implies; {:.0} % of high cloud counts as seen through",
            self.high_see_through * 100.0
        )
    }
}

/// The overlap that a total implies.
fn overlap(total: f64, covers: [f64; 3]) -> Overlap {
    let most = covers.iter().copied().fold(0.0, f64::max);
    let random = 1.0 - covers.iter().map(|c| 1.0 - c).product::<f64>();
    if total > random + 1e-9 {
        // More sky covered than random overlap would: the layers avoid each other. A power keeps each between 0 and 1.
        let (wanted, have) = ((1.0 - total).max(1e-9).ln(), (1.0 - random).max(1e-9).ln());
        return if have < -1e-6 { Overlap::Power((wanted / have).clamp(1.0, 50.0)) } else { Overlap::Share(0.0) };
    }
    if random - most < 1e-6 {
        return Overlap::Share(0.0);
    }
    Overlap::Share(((random - total) / (random - most)).clamp(0.0, 1.0))
}

fn together(past: [f64; 3], overlap: Overlap) -> f64 {
    let random: f64 = past.iter().product();
    match overlap {
        Overlap::Share(share) => share * past.iter().copied().fold(1.0, f64::min) + (1.0 - share) * random,
        Overlap::Power(power) => random.powf(power),
    }
}

/// Altitudes at which tables of chances are kept, degrees: closer together where the chance bends.
pub(super) const ALTITUDES_DEG: [f64; 8] = [LOWEST_ALTITUDE_DEG, 8.0, 12.0, 18.0, 27.0, 40.0, 60.0, 90.0];

/// A value between those at [`ALTITUDES_DEG`], linear in altitude.
pub(super) fn at_altitude(values: &[f64; ALTITUDES_DEG.len()], sun_altitude_deg: f64) -> f64 {
    let last = ALTITUDES_DEG.len() - 1;
    let altitude = if sun_altitude_deg.is_finite() { sun_altitude_deg } else { LOWEST_ALTITUDE_DEG };
    let altitude = altitude.clamp(ALTITUDES_DEG[0], ALTITUDES_DEG[last]);
    let i = ALTITUDES_DEG[1..last].iter().take_while(|a| **a <= altitude).count();
    let t = (altitude - ALTITUDES_DEG[i]) / (ALTITUDES_DEG[i + 1] - ALTITUDES_DEG[i]);
    values[i] + (values[i + 1] - values[i]) * t
}

#[cfg(test)]
mod tests {
    use super::*;

    fn layers(low: f64, middle: f64, high: f64) -> Layers {
        Layers::of([low, middle, high])
    }

    const FLAT: LayerModel = LayerModel { height_to_diameter: [0.0; 3], high_see_through: 0.0 };

    #[test]
    fn one_layer_is_kauth_and_penquite_with_its_own_ratio() {
        let model = LayerModel { high_see_through: 0.0, ..LayerModel::default() };
        for altitude in [5.0, 12.0, 30.0, 90.0] {
            for (i, beta) in model.height_to_diameter.into_iter().enumerate() {
                let mut covers = [0.0; 3];
                covers[i] = 0.5;
                let ours = model.chance(0.5, Layers::of(covers), altitude).clear;
                let alone = LineOfSight::KauthPenquite { height_to_diameter: beta }.clear(0.5, altitude);
                assert!((ours - alone).abs() < 1e-12, "{i} {altitude}: {ours} {alone}");
            }
        }
        // Listed with the project's sources: N = 0.5, e = 20°, β 0.1 and 0.3.
        let at = |beta: f64| {
            let model = LayerModel { height_to_diameter: [beta; 3], high_see_through: 0.0 };
            model.chance(0.5, layers(0.5, 0.0, 0.0), 20.0).clear
        };
        assert!((at(0.1) - 0.49).abs() < 0.005 && (at(0.3) - 0.41).abs() < 0.005);
    }

    /// Closed forms: flat opaque layers leave 1 − total whatever the total is; the extremes are the product and the smallest.
    #[test]
    fn flat_layers_leave_what_their_total_leaves() {
        for (covers, totals) in [
            ([0.3, 0.4, 0.5], [0.5, 0.6, 0.79, 0.85, 0.95]),
            ([0.2, 0.2, 0.2], [0.2, 0.3, 0.488, 0.55, 0.6]),
            ([0.9, 0.1, 0.0], [0.9, 0.905, 0.91, 0.95, 0.999]),
        ] {
            for total in totals {
                let ours = FLAT.chance(total, Layers::of(covers), 15.0);
                assert!((ours.clear - (1.0 - total)).abs() < 1e-6, "{covers:?} {total}: {ours:?}");
                assert_eq!(ours.clear, ours.strict);
            }
        }
        let random = FLAT.chance(1.0 - 0.7 * 0.6 * 0.5, layers(0.3, 0.4, 0.5), 30.0);
        assert!((random.clear - 0.21).abs() < 1e-6 && (random.taken[0] - 0.09).abs() < 1e-6, "{random:?}");
    }

    #[test]
    fn high_cloud_alone_dims_and_does_not_hide() {
        let model = LayerModel { height_to_diameter: [0.0; 3], high_see_through: 0.5 };
        let veil = model.chance(1.0, layers(0.0, 0.0, 1.0), 20.0);
        assert!((veil.clear - 0.5).abs() < 1e-12 && veil.strict == 0.0 && (veil.taken[2] - 0.5).abs() < 1e-12);
        let low = model.chance(1.0, layers(1.0, 0.0, 0.0), 20.0);
        assert_eq!((low.clear, low.taken), (0.0, [1.0, 0.0, 0.0]));
        let clear = LayerModel { high_see_through: 1.0, ..model }.chance(1.0, layers(0.0, 0.0, 1.0), 20.0);
        assert_eq!(clear.clear, 1.0);
    }

    #[test]
    fn chances_are_chances_for_any_covers_even_such_as_contradict_each_other() {
        let model = LayerModel::default();
        for total in 0..=10 {
            for (l, m, h) in [(0, 0, 0), (10, 10, 10), (3, 0, 9), (1, 1, 1), (0, 10, 0), (7, 2, 5)] {
                for altitude in [1.0, 10.0, 45.0, 90.0, f64::NAN] {
                    let covers = Layers::of([l, m, h].map(|x| f64::from(x) / 10.0));
                    let c = model.chance(f64::from(total) / 10.0, covers, altitude);
                    let means = model.chance_of_means(f64::from(total) / 10.0, covers, 1.0, altitude);
                    for c in [c, means] {
                        let all = [c.clear, c.strict, c.taken[0], c.taken[1], c.taken[2]];
                        assert!(all.iter().all(|x| (0.0..=1.0).contains(x)), "{total} {covers:?} {altitude}: {c:?}");
                        assert!(c.strict <= c.clear + 1e-12);
                    }
                }
            }
        }
    }

    /// Cylinders of cloud thrown on a plane, and slanted lines between them: the sides hide what the model says.
    ///
    /// For upright cylinders of height h and diameter d, a line at elevation e meets one when its foot lies within the disc swept
    /// along the line's path through the layer: area π d²/4 + d h cot e. So P = (1 − N)^(1 + 4 β cot e / π): the exact form for
    /// cylinders, which Kauth & Penquite's ellipsoids approach; both agree in the limits β → 0 and e → 90°.
    #[test]
    fn sides_of_clouds_agree_with_lines_through_discs_thrown_on_a_plane() {
        let mut state = 88_172_645_463_325_252_u64;
        let mut random = move || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        // Half-ellipsoids: a vertical semi-axis b over a disc of radius a = 1; the line meets one when its foot lies within an
        // ellipse of semi-axes a and a √(1 + (b/a)² cot² e) — with b/a = β the exponent f of the model is the ratio of areas.
        for (beta, altitude, cover) in
            [(0.8_f64, 20.0_f64, 0.4_f64), (0.25, 10.0, 0.6), (0.05, 8.0, 0.5), (0.8, 60.0, 0.3)]
        {
            let cot = altitude.to_radians().tan().recip();
            let stretched = (1.0 + (beta * cot).powi(2)).sqrt();
            let density = -(1.0 - cover).ln() / std::f64::consts::PI;
            let (side, margin) = (60.0, stretched + 1.0);
            let (mut clear, mut lines, mut covered) = (0, 0, 0);
            for _ in 0..40 {
                let wide = side + 2.0 * margin;
                let expected = density * wide * wide;
                // A Poisson field: as many clouds as exponential gaps fit into the expected number.
                let mut clouds: Vec<(f64, f64)> = Vec::new();
                let mut sum = -(1.0 - random()).ln();
                while sum < expected {
                    clouds.push((random() * wide - margin, random() * wide - margin));
                    sum += -(1.0 - random()).ln();
                }
                for _ in 0..500 {
                    let (x, y) = (random() * side, random() * side);
                    let met = |s: f64| clouds.iter().any(|c| ((c.0 - x) / s).powi(2) + (c.1 - y).powi(2) < 1.0);
                    lines += 1;
                    clear += usize::from(!met(stretched));
                    covered += usize::from(met(1.0));
                }
            }
            let model = LayerModel { height_to_diameter: [beta, 0.0, 0.0], high_see_through: 0.0 };
            let ours = model.chance(cover, layers(cover, 0.0, 0.0), altitude).clear;
            let thrown = f64::from(clear as u32) / f64::from(lines as u32);
            let seen = f64::from(covered as u32) / f64::from(lines as u32);
            assert!((seen - cover).abs() < 0.02, "{beta} {altitude}: cover {seen}");
            assert!((ours - thrown).abs() < 0.02, "{beta} {altitude} {cover}: {ours} {thrown}");
        }
    }

    #[test]
    fn tables_over_altitude_meet_their_nodes() {
        let values = ALTITUDES_DEG.map(|a| a * 2.0);
        for altitude in [0.0_f64, 5.0, 9.0, 33.0, 89.0, 90.0, 100.0] {
            let expected = altitude.clamp(5.0, 90.0) * 2.0;
            assert!((at_altitude(&values, altitude) - expected).abs() < 1e-9, "{altitude}");
        }
    }
}
