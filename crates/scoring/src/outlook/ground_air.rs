//! How turbulent the air near the ground may be: what nobody knows beforehand, as a spread over surfaces and hours.
//!
//! The Sun's heat that the ground hands on to the air makes it shimmer. How much depends on the surface and on how high the
//! Sun stands; during an eclipse it falls to a fifth or so of what it was. What is left when it has gone is the stirring by
//! wind and the cooling ground.

/// Shimmering air near the ground, told by the heat flux that would make it.
///
/// # Source
/// Free convection (Wyngaard, Izumi & Collins 1971, J. Opt. Soc. Am. 61, 1646, from memory): with the flux H,
/// `CT² = 2.67 (H/ρcp)^(4/3) (g/T)^(−2/3) z^(−4/3)`, `Cn² = (79e-6 P/T²)² CT²`: 3.3e-12 (H/300 W/m²)^(4/3) z^(−4/3) m^(−2/3)
/// at sea level and 290 K. The law is followed up to some hundred metres and let go to nothing over the first kilometre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroundAir {
    /// Heat flux from the ground into the air, W/m².
    pub heat_flux_w_m2: f64,
}

/// Height over which the convective layer dies away, m. Chosen: the lower half of a usual mixed layer.
pub const LAYER_DEPTH_M: f64 = 1000.0;

/// Flux of the unit strength, W/m².
const UNIT_FLUX_W_M2: f64 = 300.0;

impl GroundAir {
    /// Strength in units of [`GroundAir::unit_shape`].
    pub fn strength(&self) -> f64 {
        (self.heat_flux_w_m2.max(0.0) / UNIT_FLUX_W_M2).powf(4.0 / 3.0)
    }

    /// Cn² at a height above the ground for a strength of one (300 W/m²), m^(−2/3).
    pub fn unit_shape(above_ground_m: f64) -> f64 {
        // Eyes, sheet and tripod stand a metre or two above the ground: nearer there is no path.
        let z = above_ground_m.max(1.0);
        3.3e-12 * z.powf(-4.0 / 3.0) * (-z / LAYER_DEPTH_M).exp()
    }

    /// Cn², m^(−2/3).
    pub fn cn2(&self, above_ground_m: f64) -> f64 {
        self.strength() * GroundAir::unit_shape(above_ground_m)
    }
}

/// A kind of ground and its heat flux at a clear summer noon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// In words.
    pub name: &'static str,
    /// W/m² with the Sun at 60°.
    pub noon_flux_w_m2: f64,
}

/// Calm, middling and rough ground (values from memory: dry soil 250–400, grass 50–150, forest 100–300, sea 5–30, snow −20 to
/// 20 W/m²). Nobody tells the program where the sheet will lie, so that all count alike.
pub const SURFACES: [Surface; 3] = [
    Surface { name: "sea, snow or wet ground", noon_flux_w_m2: 15.0 },
    Surface { name: "grass or forest", noon_flux_w_m2: 100.0 },
    Surface { name: "dry bare land", noon_flux_w_m2: 300.0 },
];

/// What is left of the flux near totality, and how much each case counts. A fifth, range a tenth to a half: buoyancy flux down
/// some ten times at Kastelorizo in 2006 (Founda and others 2009, abstract), much left on Svalbard in 2015 (Schulz and others
/// 2017, abstract). Chosen from these.
pub const LEFT_IN_ECLIPSE: [(f64, f64); 3] = [(0.1, 0.25), (0.2, 0.5), (0.5, 0.25)];

/// Shimmer that stays without any flux, as the flux that would make it, W/m²: 1e-15 m^(−2/3) at 5 m, the published minimum near
/// sunset (3.5), and ten times that (19.5), as on an ordinary night. Values of Cn² from memory.
pub const STIRRED_W_M2: [f64; 2] = [3.5, 19.5];

/// Strength from a surface at an altitude of the Sun.
///
/// The flux follows the sine of the altitude and turns round about an hour before sunset (sine 0.1; common practice, no
/// source). Morning and evening are not told apart: measured lags are up to half an hour and go either way.
fn strength(sun_altitude_deg: f64, surface: &Surface, left: f64, stirred_w_m2: f64) -> f64 {
    const TURNS: f64 = 0.1;
    let noon = 60f64.to_radians().sin() - TURNS;
    let share = ((sun_altitude_deg.to_radians().sin() - TURNS) / noon).max(0.0);
    let heated = GroundAir { heat_flux_w_m2: surface.noon_flux_w_m2 * share * left };
    heated.strength() + GroundAir { heat_flux_w_m2: stirred_w_m2 }.strength()
}

/// Calm, middle and rough case at an altitude of the Sun, as strengths: sea or snow with the least left; grass with what is
/// usual; dry land with the most.
pub fn cases(sun_altitude_deg: f64) -> [f64; 3] {
    let [calm, middle, rough] = &SURFACES;
    let ([least, usual, most], [still, stirred]) = (LEFT_IN_ECLIPSE.map(|(left, _)| left), STIRRED_W_M2);
    [
        strength(sun_altitude_deg, calm, least, still),
        strength(sun_altitude_deg, middle, usual, (still * stirred).sqrt()),
        strength(sun_altitude_deg, rough, most, stirred),
    ]
}

/// The whole spread: strength and weight of each case, weights adding up to one.
pub fn spread(sun_altitude_deg: f64) -> impl Iterator<Item = (f64, f64)> {
    let of = move |surface: &'static Surface| {
        LEFT_IN_ECLIPSE.into_iter().flat_map(move |(left, weight)| {
            STIRRED_W_M2.into_iter().map(move |stirred| {
                let share = weight / (SURFACES.len() * STIRRED_W_M2.len()) as f64;
                (strength(sun_altitude_deg, surface, left, stirred), share)
            })
        })
    };
    SURFACES.iter().flat_map(of)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Design notes: 3.3e-12 at 1 m and 300 W/m²; the sea against the desert at 10 against 300 W/m² is 1/93.
    #[test]
    fn free_convection() {
        let desert = GroundAir { heat_flux_w_m2: 300.0 };
        assert!((desert.cn2(1.0) / 3.3e-12 - 1.0).abs() < 0.002);
        let sea = GroundAir { heat_flux_w_m2: 10.0 };
        assert!((desert.cn2(5.0) / sea.cn2(5.0) - 93.0).abs() < 1.0);
        assert!((GroundAir { heat_flux_w_m2: STIRRED_W_M2[0] }.cn2(5.0) / 1e-15 - 1.0).abs() < 0.05);
    }

    #[test]
    fn the_spread_holds_its_cases() {
        for altitude in [-0.8, 2.0, 11.0, 45.0, 90.0] {
            let all: Vec<(f64, f64)> = spread(altitude).collect();
            assert!((all.iter().map(|x| x.1).sum::<f64>() - 1.0).abs() < 1e-12);
            let [calm, middle, rough] = cases(altitude);
            assert!(calm < middle && middle < rough);
            let (least, most) = all.iter().fold((f64::MAX, 0.0_f64), |(a, b), x| (a.min(x.0), b.max(x.0)));
            assert_eq!((calm, rough), (least, most));
        }
    }
}
