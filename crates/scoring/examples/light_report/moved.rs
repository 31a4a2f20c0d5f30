//! What would change if a constant that was chosen by us were wrong by its spread: each is moved to both ends of it, everything is
//! computed anew at places along four paths, and the differences are counted.

use noonfall_ephemeris::Kernel;
use noonfall_scoring::outlook::air::Air;
use noonfall_scoring::outlook::band_outlook::{BandClass, BandSky, FAIR, OUTLOOK_S, STRONG, outlook_in_full};
use noonfall_scoring::outlook::contrast_sensitivity::dimness;
use noonfall_scoring::outlook::ground_air::{GroundAir, LEFT_IN_ECLIPSE, STIRRED_W_M2, SURFACES};
use noonfall_scoring::outlook::limb_darkening::NECKEL_LABS_550_NM;
use noonfall_scoring::outlook::scintillation::{LayerWeights, SlantPath, TABLE_SUN_RADIUS_ARCSEC};
use noonfall_scoring::outlook::sky::{air_mass, sky_at};
use noonfall_scoring::outlook::turbulence::Turbulence;
use noonfall_scoring::outlook::umbra_light::{CORONA_OF_SUN, CrescentLight, PlaceInUmbra, daylight, umbra_lux};
use noonfall_scoring::outlook::umbra_sky::UmbraSky;
use noonfall_shadow::{Conventions, Eclipse, Site};

/// Paths along which places are taken, every ten minutes.
const DATES: [&str; 4] = ["2026-08-12", "2027-08-02", "2028-07-22", "2030-11-25"];

/// A place of the comparison.
struct Place {
    sky: BandSky,
    umbra: PlaceInUmbra,
    /// Margin in magnitudes and air mass of every planet and star above the horizon.
    bodies: Vec<(f64, f64)>,
}

/// The constants that are moved, as factors and values.
#[derive(Clone, Copy)]
struct Constants {
    air: Air,
    heat: f64,
    left: f64,
    stirred: f64,
    turns: f64,
    free_air: f64,
    over_threshold: f64,
    dim_below: f64,
    sheet: f64,
    sky_on_sheet: f64,
    instant_s: f64,
    fair: f64,
    strong: f64,
    sunlight: f64,
    corona: f64,
    allowance_mag: f64,
    extinction_mag: f64,
}

const BASE: Constants = Constants {
    air: Air::STANDARD,
    heat: 1.0,
    left: 1.0,
    stirred: 1.0,
    turns: 0.1,
    free_air: 1.0,
    over_threshold: 1.0,
    dim_below: 1.0,
    sheet: 1.0,
    sky_on_sheet: 1.0,
    instant_s: OUTLOOK_S,
    fair: FAIR,
    strong: STRONG,
    sunlight: 1.0,
    corona: CORONA_OF_SUN,
    allowance_mag: 0.0,
    extinction_mag: 0.0,
};

impl Constants {
    /// The outlook of a place as the program has it, with these constants in place of its own.
    fn outlook(&self, place: &Place) -> f64 {
        let sky = &place.sky;
        let width = sky.width_arcsec * self.instant_s / OUTLOOK_S;
        let path = SlantPath::new(sky.sun_altitude_deg, sky.elevation_m, &Turbulence::STATED);
        let (free, ground) = path.convective_parts(&LayerWeights::seen_tabulated(width, sky.size_ratio).along_path());
        let excess = sky.size_ratio - 1.0;
        let left = NECKEL_LABS_550_NM.light_left(sky.size_ratio, excess + width / TABLE_SUN_RADIUS_ARCSEC);
        // The outlook's own umbra: by the ratio of the sizes alone.
        let umbra_km = 0.272_281 * 6378.137 * (1.0 - 1.0 / sky.size_ratio);
        let light = CrescentLight::of(sky.sun_altitude_deg, umbra_km, left, &self.air.at_height(sky.elevation_m));
        let (direct, all) = (light.direct_normal_lux * self.sunlight, light.sheet_lux() * self.sunlight);
        let all = direct + (all - direct) * self.sky_on_sheet;
        let seen = direct / all * dimness(all * self.sheet / self.dim_below) * self.over_threshold;
        let noon = 60f64.to_radians().sin() - self.turns;
        let share = ((sky.sun_altitude_deg.to_radians().sin() - self.turns) / noon).max(0.0);
        let mut sum = 0.0;
        for surface in SURFACES {
            for (left, weight) in LEFT_IN_ECLIPSE {
                for stirred in STIRRED_W_M2 {
                    let heat_flux_w_m2 = surface.noon_flux_w_m2 * self.heat * share * (left * self.left).min(1.0);
                    let strength = GroundAir { heat_flux_w_m2 }.strength()
                        + GroundAir { heat_flux_w_m2: stirred * self.stirred.powf(0.75) }.strength();
                    let q2 = seen * seen * (free * self.free_air + strength * ground);
                    sum += weight / 6.0 * q2 / (1.0 + q2);
                }
            }
        }
        sum
    }

    fn class(&self, outlook: f64) -> BandClass {
        if outlook < self.fair {
            BandClass::Weak
        } else if outlook < self.strong {
            BandClass::Fair
        } else {
            BandClass::Strong
        }
    }

    fn lux(&self, place: &Place) -> f64 {
        let umbra = PlaceInUmbra { air: self.air, ..place.umbra };
        let altitude = umbra.sun_altitude_deg;
        let corona =
            self.corona * daylight(altitude, &self.air).direct_normal_lux * altitude.to_radians().sin().max(0.0);
        self.sunlight * (umbra_lux(&umbra) + corona)
    }

    fn found(&self, place: &Place) -> usize {
        let margin = |b: &&(f64, f64)| b.0 - self.allowance_mag - self.extinction_mag * b.1 >= 0.0;
        place.bodies.iter().filter(margin).count()
    }
}

fn places() -> Result<Vec<Place>, Box<dyn std::error::Error>> {
    let mut places = Vec::new();
    for date in DATES {
        let eclipse = Eclipse::on_date(Kernel::embedded(), date.parse()?, None, &Conventions::default())?;
        for point in &eclipse.path(600.0).points {
            let Some(central) = point.central else { continue };
            let site = Site::at_sea_level(central);
            let Some(max) = eclipse.local(&site).max.filter(|m| m.sun_altitude_deg > 2.0) else { continue };
            let view = eclipse.view(&site, max.tt);
            let umbra = UmbraSky::of(&view, Air::STANDARD);
            let seen = sky_at(Kernel::embedded(), &site, max.tt, eclipse.delta_t().seconds, Some(&umbra))?;
            let body = |o: &noonfall_scoring::outlook::sky::SkyObject| {
                Some((o.margin_mag?, air_mass(o.apparent_altitude_deg)))
            };
            places.push(Place {
                sky: BandSky::at(&eclipse, &site, max.tt),
                umbra: PlaceInUmbra::of(&view, Air::STANDARD),
                bodies: seen.iter().filter_map(body).collect(),
            });
        }
    }
    Ok(places)
}

/// Prints the table.
pub fn print() -> Result<(), Box<dyn std::error::Error>> {
    let places = places()?;
    for place in &places {
        let (own, full) = (BASE.outlook(place), outlook_in_full(&place.sky, Air::STANDARD));
        if (own - full).abs() > 1e-9 {
            return Err(format!("the comparison computes {own} where the program has {full}").into());
        }
    }
    let haze = |haze: f64| Constants { air: Air { haze, ..Air::STANDARD }, ..BASE };
    let ground = |ground_albedo: f64| Constants { air: Air { ground_albedo, ..Air::STANDARD }, ..BASE };
    #[rustfmt::skip]
    let moved: Vec<(&str, &str, [Constants; 2])> = vec![
        ("heat flux of the ground at noon", "÷ 2, × 2", [0.5, 2.0].map(|heat| Constants { heat, ..BASE })),
        ("heat left near totality", "÷ 2, × 2", [0.5, 2.0].map(|left| Constants { left, ..BASE })),
        ("stirring without heat, Cn²", "÷ 10, × 10", [0.1, 10.0].map(|stirred| Constants { stirred, ..BASE })),
        ("sine of the altitude where the flux turns", "0.05, 0.2", [0.05, 0.2].map(|turns| Constants { turns, ..BASE })),
        ("free air, Cn²", "÷ 3, × 3", [1.0 / 3.0, 3.0].map(|free_air| Constants { free_air, ..BASE })),
        ("contrast over threshold as a whole (sheet's distance, speed on the retina)", "÷ 1.5, × 1.5",
            [1.0 / 1.5, 1.5].map(|over_threshold| Constants { over_threshold, ..BASE })),
        ("luminance below which the threshold rises", "1, 10 cd/m²", [1.0 / 3.0, 10.0 / 3.0].map(|dim_below| Constants { dim_below, ..BASE })),
        ("reflectance of the sheet", "0.6, 0.9", [0.75, 1.125].map(|sheet| Constants { sheet, ..BASE })),
        ("sky and ground light on the sheet", "÷ 1.5, × 1.5", [1.0 / 1.5, 1.5].map(|sky_on_sheet| Constants { sky_on_sheet, ..BASE })),
        ("instant of comparison", "5, 20 s", [5.0, 20.0].map(|instant_s| Constants { instant_s, ..BASE })),
        ("bounds of the classes", "− 0.05, + 0.05", [-0.05, 0.05].map(|by| Constants { fair: FAIR + by, strong: STRONG + by, ..BASE })),
        ("haze", "0.05, 0.3", [haze(0.05), haze(0.3)]),
        ("ground albedo", "0.06, 0.7 (snow)", [ground(0.06), ground(0.7)]),
        ("sunlight above the air", "128, 134 klx", [128.0 / 133.0, 134.0 / 133.0].map(|sunlight| Constants { sunlight, ..BASE })),
        ("corona", "0.4, 4 millionths", [0.4e-6, 4e-6].map(|corona| Constants { corona, ..BASE })),
        ("allowance for finding a star", "1.5, 3.5 mag", [-1.0, 1.0].map(|allowance_mag| Constants { allowance_mag, ..BASE })),
        ("extinction", "0.2, 0.4 mag", [-0.08, 0.12].map(|extinction_mag| Constants { extinction_mag, ..BASE })),
    ];
    let count = places.len();
    println!("\n## What was chosen, moved\n");
    println!(
        "Each constant at both ends of its spread, everything computed anew at {count} places: sea level on the central lines of {},\nevery ten minutes. \
         Outlook: greatest change either way. Classes: places whose word changes. Order: of {} pairs of places, how many\nturn round. Light: \
         factor on the lux of mid-totality, least and greatest. Found: change in the number of planets and stars that an\neye should find.\n",
        DATES.join(", "),
        count * (count - 1) / 2
    );
    println!(
        "| constant | moved to | outlook | classes | order | light | found |\n| --- | --- | --- | --- | --- | --- | --- |"
    );
    let base: Vec<f64> = places.iter().map(|p| BASE.outlook(p)).collect();
    for (name, to, ends) in moved {
        let mut cells: [Vec<String>; 5] = Default::default();
        for end in ends {
            let now: Vec<f64> = places.iter().map(|p| end.outlook(p)).collect();
            let changes = now.iter().zip(&base).map(|(a, b)| a - b);
            let widest = changes.max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(0.0);
            let classes = now.iter().zip(&base).filter(|(a, b)| end.class(**a) != BASE.class(**b)).count();
            let turned = (0..count)
                .flat_map(|i| (0..i).map(move |j| (i, j)))
                .filter(|&(i, j)| (now[i] - now[j]) * (base[i] - base[j]) < 0.0)
                .count();
            let lux: Vec<f64> = places.iter().map(|p| end.lux(p) / BASE.lux(p)).collect();
            let (least, most) = lux.iter().fold((f64::MAX, 0.0_f64), |(a, b), x| (a.min(*x), b.max(*x)));
            let found: Vec<i64> = places.iter().map(|p| end.found(p) as i64 - BASE.found(p) as i64).collect();
            let (fewest, finds) = (found.iter().min().unwrap_or(&0), found.iter().max().unwrap_or(&0));
            cells[0].push(format!("{widest:+.2}"));
            cells[1].push(classes.to_string());
            cells[2].push(turned.to_string());
            cells[3].push(if most - least < 0.005 { format!("{least:.2}") } else { format!("{least:.2}–{most:.2}") });
            cells[4].push(if fewest == finds { format!("{finds:+}") } else { format!("{fewest:+} to {finds:+}") });
        }
        println!("| {name} | {to} | {} |", cells.map(|c| c.join(", ")).join(" | "));
    }
    println!(
        "\nNot moved here, since the tables would have to be made anew: depth of the convective layer, inner scale, the form of the light scattered\n\
         more than once, cooling, the Sun's cycle; their estimates stand in the table above."
    );
    Ok(())
}
