//! A commented plan to start from.

use noonfall_shadow::Eclipse;

/// A plan for an eclipse, with every table that a first plan needs and comments that say what to change. It reads as it
/// stands, once a `sites.csv` lies beside it.
pub fn scaffold(eclipse: &Eclipse) -> String {
    let greatest = eclipse.greatest();
    let longest_s = greatest.central_duration_s.unwrap_or(120.0);
    let good_s = (longest_s * 0.8 / 10.0).round() * 10.0;
    format!(
        r#"# A plan for the {kind} solar eclipse of {date}. Every key is described in the README.
# Longest totality {longest_s:.0} s, near {lat:.1}, {lon:.1} with the Sun {altitude:.0} degrees high.

[eclipse]
date = "{date}"        # UTC date of greatest eclipse
# delta_t_s = {delta_t:.2}       # to fix delta T yourself

[sites]
file = "sites.csv"         # name,lat,lon and, if you like, elevation_m, zone and any numeric column

# [clouds]
# file = "clouds.csv"      # NetCDF, GeoTIFF, station files, EPW or CSV, a folder or a list: see noonfall clouds --help

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
        altitude = greatest.sun_altitude_deg,
        delta_t = eclipse.delta_t().seconds,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Plan;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::Conventions;

    #[test]
    fn the_plan_reads_for_every_total_eclipse_of_two_decades() {
        for date in ["2026-08-12", "2027-08-02", "2028-07-22", "2031-11-14", "2033-03-30", "2043-04-09"] {
            let eclipse =
                Eclipse::on_date(Kernel::embedded(), date.parse().unwrap(), None, &Conventions::default()).unwrap();
            let text = scaffold(&eclipse);
            let plan = Plan::parse(&text, "plan.toml", std::path::Path::new("")).unwrap();
            assert_eq!(plan.eclipse.date, eclipse.date());
        }
    }
}
