//! Light on the ground: by day, in the crescent's last minutes, and inside the Moon's umbra.
//!
//! In totality the light comes from the air outside the umbra, scattered in. How much reaches a place was computed once by
//! following photons through a standard atmosphere (`tests/reference/light/umbra_sky.py`); here the tables are interpolated.
//! What decides is how wide the umbra is, how high the Sun stands, and how near the place lies to the umbra's edge.

use std::sync::LazyLock;

use noonfall_ephemeris::angle::ARCSEC_PER_RAD;
use noonfall_shadow::View;

use super::air::Air;
use super::limb_darkening::NECKEL_LABS_550_NM;

/// Where a place stands in the umbra, measured across the light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaceInUmbra {
    /// Airless altitude of the Sun, degrees.
    pub sun_altitude_deg: f64,
    /// Radius of the umbra, km.
    pub umbra_km: f64,
    /// From the axis towards the side on which the Sun stands, km; negative away from it.
    pub towards_sun_km: f64,
    /// From the axis to the side, km.
    pub beside_km: f64,
    /// Haze, ground and height there.
    pub air: Air,
}

impl PlaceInUmbra {
    /// The place at the instant of a view, in an air.
    ///
    /// # Source
    /// Geometry: a watcher displaced across the light sees the Moon shifted the other way against the Sun.
    pub fn of(view: &View, air: Air) -> PlaceInUmbra {
        let throw_km = 1.0 / (1.0 / view.moon_distance_km - 1.0 / view.sun_distance_km) / ARCSEC_PER_RAD;
        let umbra_km = (view.moon_radius_interior_arcsec - view.sun_radius_arcsec).max(0.0) * throw_km;
        let (sin, cos) = (view.moon_position_angle_deg - view.parallactic_angle_deg).to_radians().sin_cos();
        let off_km = view.separation_arcsec * throw_km;
        PlaceInUmbra {
            sun_altitude_deg: view.sun_altitude_deg,
            umbra_km,
            // The Moon above the Sun's centre: the place lies on the Sun's side of the axis.
            towards_sun_km: off_km * cos,
            beside_km: off_km * sin,
            air,
        }
    }

    /// The same umbra, from its middle.
    pub fn on_axis(self) -> PlaceInUmbra {
        PlaceInUmbra { towards_sun_km: 0.0, beside_km: 0.0, ..self }
    }

    /// Distance from the axis, km.
    pub fn off_axis_km(&self) -> f64 {
        self.towards_sun_km.hypot(self.beside_km)
    }
}

/// Places of the table for each side: share of the umbra's radius.
const PARTS: [f64; 5] = [0.0, 0.4, 0.7, 0.9, 1.0];

/// Logarithm of the illuminance: by altitude, umbra, then axis and four parts each towards, away, beside.
struct UmbraTable {
    altitudes: Vec<f64>,
    umbrae: Vec<f64>,
    ln_lux: Vec<[f64; 13]>,
}

/// Coordinate in which ln E is nearly straight: the logarithm of the altitude.
pub(super) fn along_altitude(deg: f64) -> f64 {
    deg.max(0.05).ln()
}

/// Coordinate in which ln E is nearly straight: the 0.6th power of the radius.
pub(super) fn along_umbra(km: f64) -> f64 {
    km.max(0.0).powf(0.6)
}

static UMBRA: LazyLock<UmbraTable> = LazyLock::new(|| {
    let text = noonfall_data::light::UMBRA_ILLUMINANCE;
    let mut table = UmbraTable { altitudes: Vec::new(), umbrae: Vec::new(), ln_lux: Vec::new() };
    let mut row = Vec::with_capacity(13);
    for line in text.lines().skip(1) {
        let mut cells = line.split(',');
        let mut next = || cells.next().unwrap_or_default();
        let (altitude, umbra, _side, _part, lux) = (next(), next(), next(), next(), next());
        let number = |cell: &str| cell.parse::<f64>().unwrap_or(f64::NAN);
        row.push(number(lux).max(1e-9).ln());
        if row.len() == 13 {
            if table.altitudes.last() != Some(&along_altitude(number(altitude))) {
                table.altitudes.push(along_altitude(number(altitude)));
            }
            if table.altitudes.len() == 1 {
                table.umbrae.push(along_umbra(number(umbra)));
            }
            table.ln_lux.push(std::array::from_fn(|i| row[i]));
            row.clear();
        }
    }
    table
});

/// Lower end of the cell that holds a value among rising nodes, and the share of the upper end; values beyond the last or
/// before the first node are taken there.
pub(super) fn cell_of(nodes: &[f64], value: f64) -> (usize, f64) {
    let last = nodes.len().saturating_sub(2);
    let i = nodes.iter().take(last + 1).rposition(|n| *n <= value).unwrap_or(0);
    match nodes.get(i..i + 2) {
        Some([a, b]) => (i, ((value - a) / (b - a)).clamp(0.0, 1.0)),
        _ => (0, 0.0),
    }
}

/// Illuminance of level ground in totality by light scattered into the umbra, lux; the corona not included.
///
/// # Source
/// `data/light/umbra-illuminance.csv`: backward Monte Carlo, spherical standard atmosphere, clear sky, ground albedo 0.15; other air
/// by [`Air`].
/// # Validity
/// Sun from 0.5° to 85°, umbra of 5 to 130 km; beyond taken at the edge. Clear skies within a factor of 1.5 either way (mountains,
/// ozone, what is not known of haze and ground; Ockenfuß 2018); under clouds not at all.
/// One published log: 2006, near Sallum, 4.1 lx.
pub fn umbra_lux(place: &PlaceInUmbra) -> f64 {
    let table = &*UMBRA;
    let (a, share_a) = cell_of(&table.altitudes, along_altitude(place.sun_altitude_deg));
    let (u, share_u) = cell_of(&table.umbrae, along_umbra(place.umbra_km));
    let part = if place.umbra_km > 0.0 { (place.off_axis_km() / place.umbra_km).min(1.0) } else { 1.0 };
    let (p, share_p) = cell_of(&PARTS, part);
    // Square of the cosine of the direction from the axis: how much counts towards or away, and how much beside.
    let off2 = place.off_axis_km().powi(2);
    let along = if off2 > 0.0 { place.towards_sun_km.powi(2) / off2 } else { 0.0 };
    let side = if place.towards_sun_km >= 0.0 { 0 } else { 1 };
    let mut ln = 0.0;
    for (da, wa) in [(0, 1.0 - share_a), (1, share_a)] {
        for (du, wu) in [(0, 1.0 - share_u), (1, share_u)] {
            let Some(row) = table.ln_lux.get((a + da) * table.umbrae.len() + u + du) else { continue };
            let at = |side: usize, part: usize| if part == 0 { row[0] } else { row[4 * side + part] };
            let on = |side: usize| (1.0 - share_p) * at(side, p) + share_p * at(side, p + 1);
            ln += wa * wu * (along * on(side) + (1.0 - along) * on(2));
        }
    }
    ln.exp() * place.air.umbra_factor(place.sun_altitude_deg, place.umbra_km)
}

/// Illuminance of level ground at the umbra's edge, the mean over all sides, lux.
pub fn edge_lux(sun_altitude_deg: f64, umbra_km: f64, air: &Air) -> f64 {
    let at = |towards_sun_km: f64, beside_km: f64| {
        umbra_lux(&PlaceInUmbra { sun_altitude_deg, umbra_km, towards_sun_km, beside_km, air: *air })
    };
    0.25 * (at(umbra_km, 0.0) + at(-umbra_km, 0.0)) + 0.5 * at(0.0, umbra_km)
}

/// Light of the corona on a surface that faces it, lux: a millionth of the uneclipsed Sun's (0.4 to 4 millionths are quoted, more
/// at solar maximum).
pub const CORONA_OF_SUN: f64 = 1e-6;

/// Clear daylight without the Moon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Daylight {
    /// Skylight on level ground, lux.
    pub diffuse_lux: f64,
    /// Sunlight on a surface that faces the Sun, lux.
    pub direct_normal_lux: f64,
}

static DAYLIGHT: LazyLock<[Vec<f64>; 3]> = LazyLock::new(|| {
    let mut columns: [Vec<f64>; 3] = Default::default();
    for line in noonfall_data::light::DAYLIGHT.lines().skip(1) {
        let v: Vec<f64> = line.split(',').filter_map(|cell| cell.parse().ok()).collect();
        if let [altitude, diffuse, _error, direct] = v[..] {
            columns[0].push(along_altitude(altitude));
            columns[1].push(diffuse.max(1e-9).ln());
            columns[2].push(direct.max(1e-9).ln());
        }
    }
    columns
});

/// Clear daylight without the Moon at an altitude of the Sun, in an air.
///
/// # Units
/// Airless altitude in degrees, taken as 0.5° below that.
/// # Source
/// `data/light/daylight.csv`, the same atmosphere as [`umbra_lux`]. Check: total on level ground at 45° some 84 klx; a meter read
/// 95 klx in light haze in Wyoming in 2017 (Sun near 53°), 113 klx near Sallum in 2006 (Sun near 60°).
/// ```
/// use noonfall_scoring::outlook::{air::Air, umbra_light::daylight};
/// let light = daylight(45.0, &Air::STANDARD);
/// let level_lux = light.diffuse_lux + light.direct_normal_lux * 45.0_f64.to_radians().sin();
/// assert!((82e3..86e3).contains(&level_lux), "{level_lux}");
/// ```
pub fn daylight(sun_altitude_deg: f64, air: &Air) -> Daylight {
    let [altitudes, diffuse, direct] = &*DAYLIGHT;
    let (i, share) = cell_of(altitudes, along_altitude(sun_altitude_deg));
    let at = |column: &[f64]| match column.get(i..i + 2) {
        Some([a, b]) => ((1.0 - share) * a + share * b).exp(),
        _ => 0.0,
    };
    Daylight {
        diffuse_lux: at(diffuse) * air.diffuse_factor(sun_altitude_deg),
        direct_normal_lux: at(direct) * air.direct_factor(sun_altitude_deg),
    }
}

/// Light of a crescent: the Sun's share that falls straight on a surface, and the rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrescentLight {
    /// Straight from the crescent on a surface that faces the Sun, lux.
    pub direct_normal_lux: f64,
    /// From the sky on level ground, lux.
    pub sky_lux: f64,
    /// Sine of the Sun's altitude, not below zero.
    sin_altitude: f64,
    /// Reflectance of the ground before the sheet.
    ground_albedo: f64,
}

impl CrescentLight {
    /// The light when the Moon leaves a share of the Sun's light.
    ///
    /// The sky is lit by the crescent as by a dimmed Sun (to at least 99.8 % obscuration: Sharp, Silverman & Lloyd 1971, Appl. Opt.
    /// 10, 1207), and by the air further from the umbra, which in the last seconds outshines it: that part is taken as
    /// the umbra's light at its edge.
    pub fn of(sun_altitude_deg: f64, umbra_km: f64, light_left: f64, air: &Air) -> CrescentLight {
        let edge = edge_lux(sun_altitude_deg, umbra_km, air);
        let day = daylight(sun_altitude_deg, air);
        CrescentLight::from_parts(sun_altitude_deg, day, edge, light_left, air.ground_albedo)
    }

    /// The same from the day's light and the light at the umbra's edge.
    pub(super) fn from_parts(
        sun_altitude_deg: f64,
        day: Daylight,
        edge_lux: f64,
        light_left: f64,
        ground_albedo: f64,
    ) -> CrescentLight {
        let left = light_left.clamp(0.0, 1.0);
        // At full light there is no umbra to scatter anything into.
        let from_afar = edge_lux * (1.0 - left);
        CrescentLight {
            direct_normal_lux: day.direct_normal_lux * left,
            sky_lux: day.diffuse_lux * left + from_afar,
            sin_altitude: sun_altitude_deg.to_radians().sin().max(0.0),
            ground_albedo,
        }
    }

    /// The light of a view in which the Moon leaves a crescent.
    pub fn of_view(view: &View, air: &Air) -> CrescentLight {
        let left = NECKEL_LABS_550_NM.light_left(view.size_ratio(), view.separation_arcsec / view.sun_radius_arcsec);
        CrescentLight::of(view.sun_altitude_deg, PlaceInUmbra::of(view, *air).umbra_km, left, air)
    }

    /// On level ground, lux.
    pub fn level_lux(&self) -> f64 {
        self.direct_normal_lux * self.sin_altitude + self.sky_lux
    }

    /// On a sheet that faces the Sun, lux: its view holds less sky the lower the Sun, and some ground instead. The sky is taken
    /// as even.
    pub fn sheet_lux(&self) -> f64 {
        let (sky, ground) = (0.5 * (1.0 + self.sin_altitude), 0.5 * (1.0 - self.sin_altitude));
        self.direct_normal_lux + self.sky_lux * sky + self.ground_albedo * self.level_lux() * ground
    }

    /// Share of the light on a sheet facing the Sun that comes straight from the crescent and carries the bands.
    pub fn direct_share_sheet(&self) -> f64 {
        share(self.direct_normal_lux, self.sheet_lux())
    }

    /// The same on level ground.
    pub fn direct_share_ground(&self) -> f64 {
        share(self.direct_normal_lux * self.sin_altitude, self.level_lux())
    }
}

fn share(part: f64, whole: f64) -> f64 {
    if whole > 0.0 { part / whole } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on_axis(sun_altitude_deg: f64, umbra_km: f64) -> PlaceInUmbra {
        PlaceInUmbra { sun_altitude_deg, umbra_km, towards_sun_km: 0.0, beside_km: 0.0, air: Air::STANDARD }
    }

    /// Another Monte Carlo computation of the same atmosphere by another program (design notes, noise 1 to 6 %): illuminance on the
    /// axis. The two lie within a sixth of each other; ours is the brighter.
    #[test]
    fn agrees_with_another_monte_carlo_computation() {
        let rows = [
            (5.0, [6.1, 3.2, 2.2, 1.5, 1.1, 0.6]),
            (12.0, [8.2, 4.3, 3.0, 2.0, 1.4, 0.8]),
            (25.0, [10.6, 5.7, 4.0, 2.7, 1.9, 1.0]),
            (45.0, [13.4, 7.7, 5.5, 3.8, 2.7, 1.5]),
            (65.0, [15.3, 9.0, 6.6, 4.6, 3.3, 1.9]),
            (85.0, [16.1, 9.6, 7.1, 5.0, 3.6, 2.1]),
        ];
        for (altitude, by_umbra) in rows {
            for (umbra_km, expected) in [15.0, 35.0, 50.0, 70.0, 90.0, 130.0].into_iter().zip(by_umbra) {
                let ratio = umbra_lux(&on_axis(altitude, umbra_km)) / expected;
                assert!((0.9..1.2).contains(&ratio), "{altitude}°, {umbra_km} km: {ratio}");
            }
        }
    }

    /// Measured: 2006, plateau above Sallum, level: 113 klx before, 4.1 lx at least in totality (observers' log; Sun at 62° then, umbra
    /// of some 90 km). 1 to 10 lx is what is said of mid-totality (from memory).
    #[test]
    fn as_measured() {
        let sallum = umbra_lux(&on_axis(61.7, 88.0));
        assert!((4.1 / 1.5..4.1 * 1.5).contains(&sallum), "{sallum}");
        let day = daylight(60.0, &Air::STANDARD);
        let level = day.direct_normal_lux * 60f64.to_radians().sin() + day.diffuse_lux;
        assert!((113e3 / 1.15..113e3 * 1.15).contains(&level), "{level}");
        for (altitude, umbra_km) in [(12.0, 50.0), (45.0, 70.0), (70.0, 120.0)] {
            assert!((1.0..10.0).contains(&umbra_lux(&on_axis(altitude, umbra_km))));
        }
    }

    /// Far from totality it is day; at the contact crescent and umbra meet; wider is darker; nearer the edge is brighter; left is as
    /// right.
    #[test]
    fn limits() {
        for altitude in [3.0, 20.0, 60.0] {
            let day = daylight(altitude, &Air::STANDARD);
            let full = CrescentLight::of(altitude, 60.0, 1.0, &Air::STANDARD);
            assert_eq!((full.direct_normal_lux, full.sky_lux), (day.direct_normal_lux, day.diffuse_lux));
            let contact = CrescentLight::of(altitude, 60.0, 0.0, &Air::STANDARD);
            assert!((contact.level_lux() / edge_lux(altitude, 60.0, &Air::STANDARD) - 1.0).abs() < 1e-12);
            let mut before = f64::MAX;
            for umbra_km in [5.0, 20.0, 60.0, 100.0, 130.0] {
                let place = on_axis(altitude, umbra_km);
                let middle = umbra_lux(&place);
                assert!(middle < before && middle > 0.0);
                before = middle;
                let mut inner = middle;
                for part in [0.2, 0.5, 0.8, 1.0] {
                    let at = |beside_km: f64| umbra_lux(&PlaceInUmbra { beside_km, ..place });
                    let (right, left) = (at(part * umbra_km), at(-part * umbra_km));
                    assert!((right / left - 1.0).abs() < 1e-12 && right > inner, "{altitude} {umbra_km} {part}");
                    inner = right;
                }
            }
        }
        assert!(umbra_lux(&on_axis(f64::NAN, 50.0)).is_finite() && umbra_lux(&on_axis(-9.0, -1.0)).is_finite());
    }

    /// The light in the last minute as the design notes worked it out apart from this program: Sun at 45°, ratio 1.035, 0.4″ a second,
    /// level ground: direct 350, 126, 24, 8 lx and total 430, 160, 37, 18 lx at 60, 30, 10 and 5 s.
    #[test]
    fn the_last_minute() {
        let rows = [(60.0, 350.0, 430.0), (30.0, 126.0, 160.0), (10.0, 24.0, 37.0), (5.0, 8.0, 18.0)];
        for (seconds, direct, total) in rows {
            let left = NECKEL_LABS_550_NM.light_left(1.035, 0.035 + 0.4 * seconds / 959.63);
            let light = CrescentLight::of(45.0, 1736.65 * (1.0 - 1.0 / 1.035), left, &Air::STANDARD);
            let found = (light.direct_normal_lux * 45f64.to_radians().sin(), light.level_lux());
            assert!(
                (found.0 / direct - 1.0).abs() < 0.15 && (found.1 / total - 1.0).abs() < 0.25,
                "{seconds}: {found:?}"
            );
        }
    }
}
