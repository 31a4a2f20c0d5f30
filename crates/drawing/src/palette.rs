//! The colours, and why they are these.
//!
//! Paper-like ground, land in warm grey, water in pale slate, one ink. Totality is the only strong hue: a ramp by seconds whose
//! lightness falls in equal steps, so that it is read the same by any colour vision and in a grey-scale print.
//! The ramp is laid out in Oklch (B. Ottosson 2020, "A perceptual color space for image processing").

/// Ground of a page.
pub const PAPER: &str = "#fbf9f4";
/// Land.
pub const LAND: &str = "#e7e1d7";
/// Sea and lakes.
pub const WATER: &str = "#dbe3e8";
/// Lines and words.
pub const INK: &str = "#22262c";
/// Words of second rank; still above WCAG AA on all three grounds.
pub const QUIET_INK: &str = "#4e535b";
/// Coast lines.
pub const COAST: &str = "#8f8a82";
/// Borders of countries.
pub const BORDER: &str = "#a49e95";
/// Graticule and chart grid.
pub const HAIRLINE: &str = "#b9bec2";
/// Cloud stipple.
pub const CLOUD: &str = "#6d7f8c";
/// Ground of a chart's quieter areas.
pub const SHADE: &str = "#efebe3";
/// The deep end of the ramp, for a single mark that speaks of totality.
pub const TOTALITY: &str = "#6f1d4d";

/// The ramp of totality at a fraction from 0 (just inside the path) to 1 (longest), as `#rrggbb`.
/// Values outside 0 to 1, and those that are not numbers, are brought to the nearer end.
#[must_use]
pub fn totality(fraction: f64) -> String {
    let [r, g, b] = totality_rgb(fraction);
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// The same as red, green and blue, 0 to 255.
#[must_use]
pub fn totality_rgb(fraction: f64) -> [u8; 3] {
    let t = if fraction.is_nan() { 0.0 } else { fraction.clamp(0.0, 1.0) };
    // Apricot to aubergine: lightness falls evenly, the hue turns steadily through rose.
    let lightness = 0.885 - 0.515 * t;
    let chroma = 0.062 + 0.082 * (std::f64::consts::PI * t.powf(0.85)).sin().max(0.0) + 0.062 * t;
    let hue = 62.0 - 77.0 * t;
    srgb_of_oklch(lightness, chroma, hue).map(|v| (v.clamp(0.0, 1.0) * 255.0).round() as u8)
}

/// Red, green and blue (0 to 1 inside the gamut) of a colour in Oklch, hue in degrees.
///
/// Source: the matrices of Ottosson's paper (as revised 2021-01-25) and the transfer function of IEC 61966-2-1.
fn srgb_of_oklch(lightness: f64, chroma: f64, hue_deg: f64) -> [f64; 3] {
    let (sin, cos) = hue_deg.to_radians().sin_cos();
    let (a, b) = (chroma * cos, chroma * sin);
    let l = (lightness + 0.396_337_777_4 * a + 0.215_803_757_3 * b).powi(3);
    let m = (lightness - 0.105_561_345_8 * a - 0.063_854_172_8 * b).powi(3);
    let s = (lightness - 0.089_484_177_5 * a - 1.291_485_548_0 * b).powi(3);
    let linear = [
        4.076_741_662_1 * l - 3.307_711_591_3 * m + 0.230_969_929_2 * s,
        -1.268_438_004_6 * l + 2.609_757_401_1 * m - 0.341_319_396_5 * s,
        -0.004_196_086_3 * l - 0.703_418_614_7 * m + 1.707_614_701_0 * s,
    ];
    linear.map(|v| if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 })
}

/// Ink or paper, whichever reads better on the given ground (`#rrggbb`). On the middle of the ramp that is 3.7 at worst:
/// enough for large text, while small text there needs an outline.
#[must_use]
pub fn text_on(ground: &str) -> &'static str {
    match parse(ground) {
        Some(g) if contrast(g, [0x22, 0x26, 0x2c]) < contrast(g, [0xfb, 0xf9, 0xf4]) => PAPER,
        _ => INK,
    }
}

/// Reads `#rrggbb`.
#[must_use]
pub fn parse(colour: &str) -> Option<[u8; 3]> {
    let hex = colour.strip_prefix('#').filter(|h| h.len() == 6 && h.is_ascii())?;
    let byte = |i: usize| u8::from_str_radix(&hex[i..i + 2], 16).ok();
    Some([byte(0)?, byte(2)?, byte(4)?])
}

/// Contrast ratio of two colours, 1 to 21, as WCAG 2.2 defines it from relative luminance.
#[must_use]
pub fn contrast(a: [u8; 3], b: [u8; 3]) -> f64 {
    let luminance = |c: [u8; 3]| {
        let linear = c.map(|v| {
            let v = f64::from(v) / 255.0;
            if v <= 0.040_45 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        });
        0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    };
    let (la, lb) = (luminance(a), luminance(b));
    (la.max(lb) + 0.05) / (la.min(lb) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::palette::{FromColor, Oklab, Oklch, Srgb};

    fn oklab(rgb: [f64; 3]) -> [f64; 3] {
        let lab = Oklab::from_color(Srgb::new(rgb[0], rgb[1], rgb[2]));
        [lab.l, lab.a, lab.b]
    }

    /// Against the crate `palette`.
    #[test]
    fn oklch_becomes_the_same_colour_as_by_an_independent_library() {
        for i in 0..360 {
            let (lightness, chroma, hue) = (0.37 + 0.0015 * f64::from(i), 0.08 + 0.0001 * f64::from(i), f64::from(i));
            let theirs = Srgb::from_color(Oklch::new(lightness, chroma, hue));
            let ours = srgb_of_oklch(lightness, chroma, hue);
            // The library brings colours outside the gamut to its edge.
            for (a, b) in ours.into_iter().zip([theirs.red, theirs.green, theirs.blue]) {
                assert!((a.clamp(0.0, 1.0) - b).abs() < 2e-5, "{ours:?} {theirs:?}");
            }
        }
    }

    #[test]
    fn contrast_of_black_on_white_is_21() {
        // WCAG 2.2, definition of contrast ratio: from 1 to 21.
        assert!((contrast([0; 3], [255; 3]) - 21.0).abs() < 1e-9);
    }

    #[test]
    fn words_read_on_every_ground() {
        for ground in [PAPER, LAND, WATER, SHADE] {
            for ink in [INK, QUIET_INK, TOTALITY] {
                let (g, i) = (parse(ground).expect("colour"), parse(ink).expect("colour"));
                assert!(contrast(g, i) >= 4.5, "{ink} on {ground}: {}", contrast(g, i));
            }
        }
        // No ink reaches 4.5 on every step of a ramp from light to dark: words on it carry an outline of paper, and what is
        // written straight onto a step keeps the ratio for large text.
        for i in 0..=20 {
            let c = totality(f64::from(i) / 20.0);
            let on = contrast(parse(&c).expect("colour"), parse(text_on(&c)).expect("colour"));
            assert!(on >= 3.0, "{c}: {on}");
        }
    }

    #[test]
    fn ramp_steps_are_even_for_normal_and_reduced_colour_vision() {
        // Machado, Oliveira and Fernandes 2009, severity 1.0, applied to linear light (matrices from memory; the test only
        // needs each step to stay visible and of one direction).
        let views: [[[f64; 3]; 3]; 4] = [
            [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
            [[0.367_322, 0.860_646, -0.227_968], [0.280_085, 0.672_501, 0.047_413], [-0.011_820, 0.042_940, 0.968_881]],
            [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        ];
        for m in views {
            let seen: Vec<[f64; 3]> = (0..=8)
                .map(|i| {
                    let linear = totality_rgb(f64::from(i) / 8.0).map(|v| {
                        let v = f64::from(v) / 255.0;
                        if v <= 0.040_45 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
                    });
                    let rgb = m.map(|row| {
                        let v = (row[0] * linear[0] + row[1] * linear[1] + row[2] * linear[2]).clamp(0.0, 1.0);
                        if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 }
                    });
                    oklab(rgb)
                })
                .collect();
            let steps: Vec<f64> = seen
                .windows(2)
                .map(|w| {
                    assert!(w[1][0] < w[0][0], "lightness must fall: {seen:?}");
                    ((0..3).map(|i| (w[1][i] - w[0][i]).powi(2)).sum::<f64>()).sqrt()
                })
                .collect();
            let (least, most) = (steps.iter().copied().fold(9.0, f64::min), steps.iter().copied().fold(0.0, f64::max));
            assert!(least > 0.04 && most < 2.2 * least, "{steps:?}");
        }
    }
}
