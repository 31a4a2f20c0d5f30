//! Writes `reports/light.md`: the light of totality and shadow bands held against what was measured and seen.
//! `cargo run --release -p noonfall-scoring --example light_report > reports/light.md`

#![allow(clippy::print_stdout, reason = "an example that writes a page")]

mod moved;

use noonfall_ephemeris::Kernel;
use noonfall_scoring::outlook::air::Air;
use noonfall_scoring::outlook::band_reports::{Held, held, read};
use noonfall_scoring::outlook::light::totality_light;
use noonfall_shadow::{Conventions, Eclipse, Site};

const REPORTS: &str = include_str!("../../../../tests/reference/light/shadow-band-reports.csv");

/// Eclipse, place, latitude, longitude, height (m), what was measured.
const MEASURED: [(&str, &str, f64, f64, f64, &str); 5] = [
    ("2006-03-29", "plateau above Sallum", 31.55, 25.13, 190.0, "4.1 lx at least, 113 klx before (observers' log)"),
    ("2017-08-21", "Lowman, Idaho", 44.08, -115.62, 1200.0, "13.14 to 13.33 mag/arcsec² overhead (observer's meter)"),
    ("2026-08-12", "Burgos", 42.34, -3.7, 860.0, "to come"),
    ("2027-08-02", "Luxor", 25.69, 32.64, 80.0, "to come"),
    ("2028-07-22", "Sydney", -33.87, 151.21, 20.0, "to come"),
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let reports = read(REPORTS)?;
    println!("# The light of totality and shadow bands: how far they can be believed\n");
    println!("Made by `cargo run --release -p noonfall-scoring --example light_report`.\n");
    println!("## Shadow bands against what was reported\n");
    println!(
        "Reports: `tests/reference/light/shadow-band-reports.csv`. Narrow: seen or looked for on the ground, under a clear sky, inside"
    );
    println!(
        "a total eclipse's path. Wide: also haze, and cameras that recorded nothing. Area under the curve: how often a place with"
    );
    println!(
        "bands had the higher outlook than one without; 0.5 is chance. Rank correlation: Spearman, outlook against grade (none, weak,"
    );
    println!("seen, striking).\n");
    println!(
        "| reports | seen | not seen | what orders them | area ± error | rank correlation | by chance | better than chance |"
    );
    println!("| --- | ---: | ---: | --- | ---: | ---: | ---: | --- |");
    for (name, wide) in [("narrow", false), ("wide", true)] {
        let kept: Vec<_> = reports.iter().filter(|r| wide || r.narrow).collect();
        let grades: Vec<u8> = kept.iter().map(|r| r.grade).collect();
        let outlook: Vec<f64> = kept.iter().map(|r| r.outlook).collect();
        let low_sun: Vec<f64> = kept.iter().map(|r| -r.sun_altitude_deg).collect();
        for (by, values) in [("outlook", outlook), ("a low Sun alone", low_sun)] {
            let Held { seen, unseen, area, area_error, rank_correlation, by_chance } = held(&values, &grades);
            let better = if held(&values, &grades).better_than_chance() { "yes" } else { "**no**" };
            println!(
                "| {name} | {seen} | {unseen} | {by} | {area:.2} ± {area_error:.2} | {rank_correlation:.2} | {by_chance:.2} | {better} |"
            );
        }
    }
    println!(
        "\nNon-sightings are hardly ever reported, so that no frequency and no probability can be drawn from the table.\n"
    );
    println!("| date | place | Sun | outlook | grade | counts |\n| --- | --- | ---: | ---: | --- | --- |");
    for r in &reports {
        let grade = ["none", "weak", "seen", "striking"].get(usize::from(r.grade)).copied().unwrap_or("?");
        let counts = if r.narrow { "narrow" } else { "wide only" };
        println!("| {} | {} | {:.0}° | {:.2} | {grade} | {counts} |", r.date, r.place, r.sun_altitude_deg, r.outlook);
    }
    println!("\n## Light of totality\n");
    println!("| eclipse | place | Sun | umbra, off its axis | level ground | overhead | in words | measured |");
    println!("| --- | --- | ---: | ---: | ---: | ---: | --- | --- |");
    for (date, place, lat, lon, height, measured) in MEASURED {
        let eclipse = Eclipse::on_date(Kernel::embedded(), date.parse()?, None, &Conventions::default())?;
        let site = Site::new(lat, lon, height)?;
        let local = eclipse.local(&site);
        let (Some(c2), Some(max), Some(c3)) = (local.c2, local.max, local.c3) else { continue };
        let at = |tt| eclipse.view(&site, tt);
        let l =
            totality_light(&at(max.tt), &at(c2.tt.plus(1.0)), &at(c3.tt.plus(-1.0)), &Air::STANDARD.at_height(height));
        println!(
            "| {date} | {place} | {:.0}° | {:.0} km, {:.0} km | {:.1} lx | {:.2} cd/m², {:.1} mag/arcsec² | {} | {measured} |",
            max.sun_altitude_deg,
            l.umbra_radius_km,
            l.off_axis_km,
            l.illuminance_lux,
            l.zenith_cd_m2,
            l.zenith_mag_arcsec2,
            l.like
        );
    }
    println!("\n{}", include_str!("chosen.md").trim_end());
    moved::print()?;
    Ok(())
}
