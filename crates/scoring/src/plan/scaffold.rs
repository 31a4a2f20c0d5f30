//! A commented plan to start from.

use noonfall_shadow::{Eclipse, Phase, Site};

use crate::places::{Town, towns_of_at_least};

/// A plan for an eclipse, with every table that a first plan needs and comments that say what to change. It reads as it
/// stands, once a `sites.csv` lies beside it.
pub fn scaffold(eclipse: &Eclipse) -> String {
    let greatest = eclipse.greatest();
    let longest_s = greatest.central_duration_s.unwrap_or(120.0);
    let good_s = (longest_s * 0.8 / 10.0).round() * 10.0;
    let towns = towns(eclipse);
    format!(
        r#"# A plan for the {kind} solar eclipse of {date}. Every key is described in the README.
# Longest totality {longest_s:.0} s, near {lat:.1}, {lon:.1} with the Sun {altitude:.0} degrees high.

[eclipse]
date = "{date}"        # UTC date of greatest eclipse
# delta_t_s = {delta_t:.2}       # to fix delta T yourself

{towns}
[sites]
file = "sites.csv"         # name,lat,lon and, if you like, elevation_m, zone and any numeric column:
#   name,lat,lon,elevation_m,zone,drive_hours
#   The meadow,{row}
# towns = {{ countries = [{countries}], population = 20000 }} # or the shipped table's towns inside the path

# [clouds]
# file = "clouds.csv"      # NetCDF, GeoTIFF, station files, EPW or CSV, a folder or a list: see noonfall clouds --help
#   lat,lon,month,hour_utc,cloud_fraction,kind   with kind = grid (seen from above) or observed (from the ground)

# [terrain]
# dir = "terrain"          # folder of .hgt or GeoTIFF tiles

# [sky]
# haze = "clear"           # or average (taken if nothing is said), hazy, an optical depth
# snow = true              # snow on the ground all about
# wind = "W,5"             # where from, m/s: then the shadow bands' motion is told

# [search]                 # look over the whole path on a grid as well
# spacing_km = 1
# best = 10
# apart_km = 50
# polygon = "area.geojson" # only the dry land inside it
# max_slope = 15           # degrees; needs [terrain]
# roads = "roads.osm.pbf"  # keep within road_distance_km (1) of a road

[weights]                  # only their ratios matter; `noonfall plan profiles` prints ready sets
totality = 3
sun_altitude = 1
shadow_bands = 1
# clear_sky = 3            # needs [clouds]
# clear_totality = 3       # needs [clouds]
# drive_hours = 1          # a column of sites.csv; needs a wish:

[wish.totality]
better = "higher"
from = 0
to = {good_s:.0}

# [wish.drive_hours]
# better = "lower"
# from = 1
# to = 8
# unit = "h"

[require]                  # hard limits; a site that fails one stays in the table with the reason
min_sun_altitude_deg = 3

[fallback]
limit_hours = 3
# base = "A town"          # where the group sleeps: a site, a town, or any name with base_lat and base_lon
# drive_hours = "drives.csv" # from,to,hours; without it drives are estimated, by land only
traffic = 1.5              # departures allow for roads so much slower than free ones

[output]
title = "Where to stand on {date}"
briefs = 3
"#,
        kind = eclipse.kind(),
        date = eclipse.date(),
        lat = greatest.point.lat_deg,
        lon = greatest.point.lon_deg,
        altitude = greatest.sun_apparent_altitude_deg,
        delta_t = eclipse.delta_t().seconds,
        towns = towns_in_words(&towns),
        row = row(eclipse, &towns),
        countries = countries(&towns),
    )
}

/// So many towns are named.
const TOWNS: usize = 8;

/// Towns of so many inhabitants are looked at first, and where there are none of that size, smaller ones.
const POPULATIONS: [u64; 3] = [100_000, 15_000, 1000];

/// The largest towns inside the path of a smooth Moon, with their seconds of totality.
fn towns(eclipse: &Eclipse) -> Vec<(&'static Town, f64)> {
    let inside = |population: u64| -> Vec<(&'static Town, f64)> {
        towns_of_at_least(population)
            .iter()
            .map(|town| (town, eclipse.quick(&Site::at_sea_level(town.point))))
            .filter(|(_, seen)| seen.phase == Phase::Total && seen.sun_altitude_deg > 0.0)
            .map(|(town, seen)| (town, seen.duration_s))
            .collect()
    };
    POPULATIONS.into_iter().map(inside).find(|towns| !towns.is_empty()).unwrap_or_default()
}

fn towns_in_words(towns: &[(&Town, f64)]) -> String {
    if towns.is_empty() {
        return "# No town of the shipped table lies inside the path.\n".to_owned();
    }
    let lines: Vec<String> = towns
        .iter()
        .take(TOWNS)
        .map(|(town, seconds)| {
            let at = town.point;
            format!(
                "#   {}, {}: {:.3}, {:.3}, {seconds:.0} s, {}\n",
                town.name, town.country, at.lat_deg, at.lon_deg, town.zone
            )
        })
        .collect();
    format!("# The largest towns inside the path: latitude, longitude, totality, time zone\n{}", lines.concat())
}

/// An example of a row of the sites table: the largest town, or greatest eclipse.
fn row(eclipse: &Eclipse, towns: &[(&Town, f64)]) -> String {
    let (point, zone) = match towns.first() {
        Some((town, _)) => (town.point, town.zone.clone()),
        None => (eclipse.greatest().point, "UTC".to_owned()),
    };
    format!("{:.4},{:.4},300,{zone},2.5", point.lat_deg, point.lon_deg)
}

/// The countries of the towns, quoted, each once, in order.
fn countries(towns: &[(&Town, f64)]) -> String {
    let codes: std::collections::BTreeSet<&str> = towns.iter().map(|(town, _)| town.country.as_str()).collect();
    codes.into_iter().map(|code| format!("\"{code}\"")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Plan;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::Conventions;

    /// Luxor lies in the middle of the path of 2027 with 6 min 20 s of totality (published in every handbook of it; from
    /// memory).
    #[test]
    fn the_largest_towns_inside_the_path_are_named() {
        let date = "2027-08-02".parse().unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let towns = towns(&eclipse);
        let luxor = towns.iter().find(|(town, _)| town.name == "Luxor").unwrap();
        assert!((luxor.1 - 380.0).abs() < 5.0, "{}", luxor.1);
        let text = scaffold(&eclipse);
        assert!(text.contains("\"EG\"") && text.contains("\"ES\"") && text.contains("Africa/"), "{text}");
    }

    #[test]
    fn the_plan_reads_for_every_total_eclipse_of_two_decades() {
        for date in ["2026-08-12", "2027-08-02", "2028-07-22", "2031-11-14", "2033-03-30", "2043-04-09"] {
            let eclipse =
                Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap();
            let text = scaffold(&eclipse);
            let plan = Plan::parse(&text, "plan.toml", std::path::Path::new("")).unwrap();
            assert_eq!(plan.eclipse.date, eclipse.date());
            // The commented keys read as well.
            let with_towns = text.replace("# towns = ", "towns = ");
            assert!(
                Plan::parse(&with_towns, "plan.toml", std::path::Path::new("")).is_ok()
                    || !text.contains("# The largest")
            );
        }
    }
}
