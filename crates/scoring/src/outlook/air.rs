//! The air and the ground about a place, as far as they change its light: haze, how bright the ground is, height.
//!
//! [`super::umbra_light`]'s tables hold for one standard air over one standard ground at sea level. What other haze, other ground and
//! more height change was computed by the same recipe, one at a time (`data/light/conditions.csv`), and is laid over them as factors.

use std::sync::LazyLock;

use super::umbra_light::{along_altitude, along_umbra, cell_of};

/// Haze, ground and height of a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Optical depth of haze at 550 nm, as a sun photometer at sea level gives it.
    pub haze: f64,
    /// Reflectance of the ground for some tens of kilometres about, 0 to 1.
    pub ground_albedo: f64,
    /// Height above the sea, km.
    pub height_km: f64,
}

/// Haze of the clearest air: deserts in winter, polar air, mountains (AERONET's clean sites lie at 0.03 to 0.07; from memory).
pub const CLEAR_HAZE: f64 = 0.05;
/// Haze of average clear days, the standard of the tables.
pub const AVERAGE_HAZE: f64 = 0.1;
/// Haze that whitens the sky and hides far hills: dust, smoke, towns in summer (0.3 to 0.5; from memory).
pub const HAZY: f64 = 0.3;
/// Most haze that the tables were made for.
pub const MOST_HAZE: f64 = 0.6;
/// Reflectance of land without snow, the standard of the tables.
pub const LAND_ALBEDO: f64 = 0.15;
/// Reflectance of wide country under snow: fields 0.8, with woods and roads less (from memory).
pub const SNOW_ALBEDO: f64 = 0.7;

impl Air {
    /// The air of the tables: average haze, land, sea level.
    pub const STANDARD: Air = Air { haze: AVERAGE_HAZE, ground_albedo: LAND_ALBEDO, height_km: 0.0 };

    /// The same air at a height above the sea in metres; a height that is no number counts as sea level.
    pub fn at_height(self, elevation_m: f64) -> Air {
        Air { height_km: if elevation_m.is_finite() { elevation_m / 1000.0 } else { 0.0 }, ..self }
    }

    /// How much more light is scattered into the umbra than in the standard air.
    ///
    /// # Source
    /// `data/light/conditions.csv`. That haze, ground and height multiply is an assumption, held against cases in which all differ
    /// (`tests/reference/light/together.csv`: within 15 %).
    pub(super) fn umbra_factor(&self, sun_altitude_deg: f64, umbra_km: f64) -> f64 {
        let (u, share) = cell_of(&UMBRAE.map(along_umbra), along_umbra(umbra_km));
        let at = |quantity: usize| self.ln_factor(sun_altitude_deg, quantity);
        ((1.0 - share) * at(u) + share * at(u + 1)).exp()
    }

    /// The same for skylight by day.
    pub(super) fn diffuse_factor(&self, sun_altitude_deg: f64) -> f64 {
        self.ln_factor(sun_altitude_deg, DIFFUSE).exp()
    }

    /// The same for sunlight.
    pub(super) fn direct_factor(&self, sun_altitude_deg: f64) -> f64 {
        self.ln_factor(sun_altitude_deg, DIRECT).exp()
    }

    fn ln_factor(&self, sun_altitude_deg: f64, quantity: usize) -> f64 {
        if *self == Air::STANDARD {
            return 0.0;
        }
        let table = &*CONDITIONS;
        let (a, share) = cell_of(&table.altitudes, along_altitude(sun_altitude_deg));
        let known = |value: f64, or: f64| if value.is_finite() { value } else { or };
        let (standard, height_km) = (Air::STANDARD, known(self.height_km, 0.0));
        // Of more or less haze a high place feels what lies above it.
        let beyond = known(self.haze, standard.haze) - standard.haze;
        let haze = standard.haze + beyond * (-height_km.clamp(-0.5, 9.0) / HAZE_KM).exp();
        [haze, known(self.ground_albedo, standard.ground_albedo), height_km]
            .into_iter()
            .zip(&table.varied)
            .map(|(value, varied)| {
                let (i, s) = cell_of(&varied.values, value);
                let at = |i: usize| {
                    let row = |a: usize| varied.ln.get(i).and_then(|l| l.get(a)).map_or(0.0, |l| l[quantity]);
                    (1.0 - share) * row(a) + share * row(a + 1)
                };
                (1.0 - s) * at(i) + s * at(i + 1)
            })
            .sum()
    }
}

/// Height over which haze thins out, km.
pub(super) const HAZE_KM: f64 = 1.5;

/// Umbrae of the table, km; behind them in each row skylight and sunlight.
const UMBRAE: [f64; 3] = [35.0, 70.0, 130.0];
const DIFFUSE: usize = 3;
const DIRECT: usize = 4;

/// What one condition does: logarithms of light over that of the standard air, by the condition's value, altitude and quantity.
#[derive(Default)]
struct Varied {
    values: Vec<f64>,
    ln: Vec<Vec<[f64; 5]>>,
}

/// Altitudes (by [`along_altitude`]) and what haze, ground and height do.
#[derive(Default)]
struct Conditions {
    altitudes: Vec<f64>,
    varied: [Varied; 3],
}

static CONDITIONS: LazyLock<Conditions> = LazyLock::new(|| conditions(noonfall_data::light::CONDITIONS));

/// Altitude of the Sun, degrees, and logarithms of the light of all quantities.
type AtAltitude = (f64, [f64; 5]);

fn conditions(text: &str) -> Conditions {
    let mut cases: Vec<([f64; 3], Vec<AtAltitude>)> = Vec::new();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells.get(i).and_then(|c| c.parse::<f64>().ok()).unwrap_or(f64::NAN);
        let (setting, altitude, ln) = ([number(1), number(2), number(3)], number(4), number(6).max(1e-9).ln());
        if cases.last().is_none_or(|c| c.0 != setting) {
            cases.push((setting, Vec::new()));
        }
        let Some((_, rows)) = cases.last_mut() else { continue };
        if rows.last().is_none_or(|r| r.0 != altitude) {
            rows.push((altitude, [0.0; 5]));
        }
        let quantity = match cells.get(5) {
            Some(&"diffuse") => DIFFUSE,
            Some(&"direct") => DIRECT,
            _ => UMBRAE.iter().position(|u| *u == number(5)).unwrap_or(0),
        };
        if let Some(row) = rows.last_mut() {
            row.1[quantity] = ln;
        }
    }
    let Some(standard) = cases.first().cloned() else { return Conditions::default() };
    let over = |rows: &[AtAltitude]| -> Vec<[f64; 5]> {
        rows.iter().zip(&standard.1).map(|(r, s)| std::array::from_fn(|q| r.1[q] - s.1[q])).collect()
    };
    let varied = std::array::from_fn(|k| {
        let others = |setting: &[f64; 3]| (0..3).all(|j| j == k || setting[j] == standard.0[j]);
        let mut nodes: Vec<(f64, Vec<[f64; 5]>)> =
            cases.iter().filter(|c| others(&c.0)).map(|c| (c.0[k], over(&c.1))).collect();
        nodes.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (values, ln) = nodes.into_iter().unzip();
        Varied { values, ln }
    });
    Conditions { altitudes: standard.1.iter().map(|r| along_altitude(r.0)).collect(), varied }
}

/// Haze in a word or as an optical depth.
///
/// # Errors
/// What would be right.
/// ```
/// use noonfall_scoring::outlook::air::haze_of;
/// assert_eq!(haze_of("hazy"), Ok(0.3));
/// assert_eq!(haze_of("0.2"), Ok(0.2));
/// assert!(haze_of("foggy").is_err());
/// ```
pub fn haze_of(text: &str) -> Result<f64, String> {
    match text.trim() {
        "clear" => Ok(CLEAR_HAZE),
        "average" => Ok(AVERAGE_HAZE),
        "hazy" => Ok(HAZY),
        other => match other.parse::<f64>() {
            Ok(depth) if (0.0..=MOST_HAZE).contains(&depth) => Ok(depth),
            _ => Err(format!("give clear, average, hazy, or an optical depth from 0 to {MOST_HAZE}")),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outlook::umbra_light::{PlaceInUmbra, daylight, umbra_lux};

    fn rows(text: &str) -> Vec<(Air, f64, String, f64, f64)> {
        text.lines()
            .skip(1)
            .map(|line| {
                let c: Vec<&str> = line.split(',').collect();
                let v = |i: usize| c[i].parse::<f64>().unwrap();
                (Air { haze: v(1), ground_albedo: v(2), height_km: v(3) }, v(4), c[5].to_owned(), v(6), v(7))
            })
            .collect()
    }

    fn found(air: Air, altitude: f64, what: &str) -> f64 {
        match what {
            "diffuse" => daylight(altitude, &air).diffuse_lux,
            "direct" => daylight(altitude, &air).direct_normal_lux,
            km => {
                let place = PlaceInUmbra {
                    sun_altitude_deg: altitude,
                    umbra_km: km.parse().unwrap(),
                    towards_sun_km: 0.0,
                    beside_km: 0.0,
                    air,
                };
                umbra_lux(&place)
            }
        }
    }

    /// The recipe's own values: its standard case has another seed than the large table, which leaves the noise of both.
    #[test]
    fn agrees_with_the_recipe_where_one_thing_differs() {
        let rows = rows(noonfall_data::light::CONDITIONS);
        assert_eq!(rows.len(), 10 * 6 * 5);
        for (air, altitude, what, lux, error) in rows {
            let ratio = found(air, altitude, &what) / lux;
            // Between the large table's altitudes as well: 1° lies between 0.5° and 1.5°, 85° on a node.
            let allowed = 0.12 + 3.0 * error / lux;
            assert!((ratio - 1.0).abs() < allowed, "{air:?} {altitude} {what}: {ratio}");
        }
    }

    /// Where haze, ground and height all differ, factors are an assumption.
    #[test]
    fn factors_hold_where_several_things_differ() {
        let (mut worst, mut count) = (0.0_f64, 0);
        for (air, altitude, what, lux, error) in rows(&crate::reference("light/together.csv")) {
            let ratio = found(air, altitude, &what) / lux;
            let beyond = (ratio.ln().abs() - 2.0 * error / lux).max(0.0);
            if altitude >= 5.0 {
                worst = worst.max(beyond);
                count += 1;
            }
        }
        println!("{count} values, worst {worst:.3} beyond twice the noise");
        assert!(count == 4 * 5 * 5 && worst < 0.25, "{worst}");
    }

    /// Haze dims the umbra and the Sun and brightens the day's sky; snow brightens both; height makes sunlight stronger.
    #[test]
    fn the_senses() {
        let standard = Air::STANDARD;
        for altitude in [5.0, 20.0, 45.0, 80.0] {
            let of = |air: Air, what: &str| found(air, altitude, what);
            let (hazy, snow) = (Air { haze: HAZY, ..standard }, Air { ground_albedo: SNOW_ALBEDO, ..standard });
            assert!(of(hazy, "70") < of(standard, "70") && of(hazy, "direct") < of(standard, "direct"));
            assert!(of(snow, "70") > of(standard, "70") && of(snow, "diffuse") > of(standard, "diffuse"));
            assert!((of(snow, "direct") / of(standard, "direct") - 1.0).abs() < 1e-9);
            assert!(of(standard.at_height(2500.0), "direct") > of(standard, "direct"));
        }
        assert_eq!(standard.at_height(f64::NAN), standard);
        let odd = Air { haze: f64::NAN, ground_albedo: f64::INFINITY, height_km: -400.0 };
        assert!(found(odd, f64::NAN, "70").is_finite());
    }
}
