//! The sheets of the commands: what stands in the tables of `list`, `trace` and `at`, on a terminal and as CSV.

use chrono_tz::Tz;
use noonfall_scoring::outlook::limb::clock_hour;
use noonfall_scoring::outlook::words::dial;
use noonfall_scoring::prospect::Prospect;
use noonfall_shadow::geodesy::compass_point;
use noonfall_shadow::{Contact, Eclipse, LocalCircumstances, Path};

use crate::table::{Align, Cell, Column, Sheet};
use crate::values;
use noonfall_words::WindowFacts;
use noonfall_words::numbers::{local_clock, local_stamp, percent};

/// `list`: one row for each eclipse.
pub fn listing(eclipses: &[Eclipse]) -> Sheet {
    let columns = vec![
        Column::new("date", "date", "UTC", Align::Left),
        Column::new("kind", "kind", "", Align::Left),
        Column::for_files("greatest_tt"),
        Column::new("greatest_utc", "greatest eclipse", "UTC", Align::Left),
        Column::new("greatest_lat_deg", "latitude", "°", Align::Right),
        Column::new("greatest_lon_deg", "longitude", "°", Align::Right),
        Column::new("gamma", "gamma", "", Align::Right),
        Column::new("magnitude", "magnitude", "", Align::Right),
        Column::new("central_duration_s", "duration", "s", Align::Right),
        Column::new("path_width_km", "width", "km", Align::Right),
        Column::for_files("sun_altitude_deg"),
        Column::new("sun_apparent_altitude_deg", "Sun's alt.", "°", Align::Right),
        Column::new("delta_t_s", "ΔT", "s", Align::Right),
        Column::for_files("delta_t_sigma_s"),
    ];
    let rows = eclipses
        .iter()
        .map(|eclipse| {
            let greatest = eclipse.greatest();
            vec![
                Cell::text(eclipse.date().to_string()),
                Cell::text(eclipse.kind().to_string()),
                Cell::text(greatest.tt.rfc3339()),
                Cell::text(values::utc(greatest.tt)),
                Cell::number(greatest.point.lat_deg, 2),
                Cell::number(greatest.point.lon_deg, 2),
                Cell::number(greatest.gamma, 4),
                Cell::number(greatest.magnitude, 4),
                Cell::maybe(greatest.central_duration_s, 1),
                Cell::maybe(greatest.path_width_km, 1),
                Cell::number(greatest.sun_altitude_deg, 1),
                Cell::number(greatest.sun_apparent_altitude_deg, 1),
                Cell::number(eclipse.delta_t().seconds, 2),
                Cell::number(eclipse.delta_t().sigma_s, 3),
            ]
        })
        .collect();
    Sheet { columns, rows }
}

/// `trace`: one row for each instant.
pub fn trace(path: &Path) -> Sheet {
    let place = |key: &str, title: &str| {
        [
            Column::new(&format!("{key}_lat_deg"), &format!("{title} lat."), "°", Align::Right),
            Column::new(&format!("{key}_lon_deg"), &format!("{title} lon."), "°", Align::Right),
        ]
    };
    let mut columns = vec![Column::for_files("tt"), Column::new("utc", "instant", "UTC", Align::Left)];
    columns.extend(place("central", "centre"));
    columns.extend(place("north", "north"));
    columns.extend(place("south", "south"));
    columns.extend([
        Column::new("width_km", "width", "km", Align::Right),
        Column::new("duration_s", "duration", "s", Align::Right),
        Column::new("size_ratio", "size ratio", "", Align::Right),
        Column::for_files("sun_altitude_deg"),
        Column::new("sun_apparent_altitude_deg", "Sun's alt.", "°", Align::Right),
        Column::new("sun_azimuth_deg", "azimuth", "°", Align::Right),
    ]);
    let rows = path
        .points
        .iter()
        .map(|at| {
            let mut row = vec![Cell::text(at.tt.rfc3339()), Cell::text(values::utc(at.tt))];
            for point in [at.central, at.north, at.south] {
                row.push(Cell::maybe(point.map(|p| p.lat_deg), 4));
                row.push(Cell::maybe(point.map(|p| p.lon_deg), 4));
            }
            row.extend([
                Cell::maybe(at.width_km, 1),
                Cell::maybe(at.duration_s, 1),
                Cell::number(at.size_ratio, 5),
                Cell::number(at.sun_altitude_deg, 2),
                Cell::number(at.sun_apparent_altitude_deg, 2),
                Cell::number(at.sun_azimuth_deg, 2),
            ]);
            row
        })
        .collect();
    Sheet { columns, rows }
}

/// `at` for one site: one row for each contact.
pub fn contacts(local: &LocalCircumstances, zone: Tz) -> Sheet {
    let columns = vec![
        Column::new("contact", "contact", "", Align::Left),
        Column::new("local", "local time", zone.name(), Align::Left),
        Column::new("utc", "UTC", "", Align::Left),
        Column::for_files("tt"),
        Column::for_files("sun_altitude_deg"),
        Column::new("sun_apparent_altitude_deg", "Sun's alt.", "°", Align::Right),
        Column::new("sun_azimuth_deg", "azimuth", "°", Align::Right),
        Column::new("direction", "towards", "", Align::Left),
        Column::new("position_angle_deg", "pos. angle", "°", Align::Right),
        Column::new("vertex_angle_deg", "from zenith", "°", Align::Right),
        Column::new("clock", "on the disc", "", Align::Left),
        Column::new("above_horizon", "Sun", "", Align::Left),
    ];
    let named: [(&str, Option<&Contact>); 5] = [
        ("C1", local.c1.as_ref()),
        ("C2", local.c2.as_ref()),
        ("max", local.max.as_ref()),
        ("C3", local.c3.as_ref()),
        ("C4", local.c4.as_ref()),
    ];
    let rows = named
        .into_iter()
        .filter_map(|(label, contact)| contact.map(|contact| (label, contact)))
        .map(|(label, c)| {
            vec![
                Cell::text(label),
                Cell::text(local_clock(c.tt.to_utc(), zone)),
                Cell::text(values::utc(c.tt)),
                Cell::text(c.tt.rfc3339()),
                Cell::number(c.sun_altitude_deg, 4),
                Cell::number(c.sun_apparent_altitude_deg, 2),
                Cell::number(c.sun_azimuth_deg, 2),
                Cell::text(compass_point(c.sun_azimuth_deg)),
                Cell::number(c.position_angle_deg, 1),
                Cell::number(c.vertex_angle_deg, 1),
                Cell::text(dial(clock_hour(c.vertex_angle_deg))),
                Cell::text(if c.above_horizon { "up" } else { "below horizon" }),
            ]
        })
        .collect();
    Sheet { columns, rows }
}

/// `at` for many places: one row for each.
pub fn circumstances(prospects: &[Prospect]) -> Sheet {
    let columns = vec![
        Column::new("name", "site", "", Align::Left),
        Column::new("lat_deg", "latitude", "°", Align::Right),
        Column::new("lon_deg", "longitude", "°", Align::Right),
        Column::new("elevation_m", "height", "m", Align::Right),
        Column::new("zone", "zone", "", Align::Left),
        Column::new("phase", "phase", "", Align::Left),
        Column::for_files("c1_utc"),
        Column::for_files("c2_utc"),
        Column::for_files("max_utc"),
        Column::for_files("c3_utc"),
        Column::for_files("c4_utc"),
        Column::new("begins_local", "begins (C2 or max)", "local", Align::Left),
        Column::new("duration_s", "duration", "s", Align::Right),
        Column::new("sun_apparent_altitude_deg", "Sun's alt.", "°", Align::Right),
        Column::new("sun_azimuth_deg", "azimuth", "°", Align::Right),
        Column::for_files("magnitude"),
        Column::new("obscuration", "covered", "", Align::Right),
        Column::for_files("size_ratio"),
        Column::new("filter_off_local", "filter OFF", "", Align::Left),
        Column::new("filter_on_local", "filter ON", "", Align::Left),
        Column::for_files("no_window"),
        Column::for_files("edge"),
        Column::for_files("edge_source"),
    ];
    let rows = prospects
        .iter()
        .map(|Prospect { found, offer }| {
            let (place, local) = (&found.place, found.local());
            let (site, zone) = (&place.site, place.clock_zone());
            let window = WindowFacts::of(&found.decision);
            let edge = offer.as_ref().and_then(|offer| offer.moon_edge.as_ref());
            let utc = |contact: Option<&Contact>| Cell::maybe_text(contact.map(|c| values::utc(c.tt)));
            let begins = local.c2.as_ref().or(local.max.as_ref());
            vec![
                Cell::maybe_text(place.given_name().map(str::to_owned)),
                Cell::number(site.lat_deg, 5),
                Cell::number(site.lon_deg, 5),
                Cell::number(site.elevation_m, 0),
                Cell::text(zone.name()),
                Cell::text(local.phase.to_string()),
                utc(local.c1.as_ref()),
                utc(local.c2.as_ref()),
                utc(local.max.as_ref()),
                utc(local.c3.as_ref()),
                utc(local.c4.as_ref()),
                Cell::maybe_text(begins.map(|c| local_stamp(c.tt.to_utc(), zone))),
                Cell::number(local.duration_s, 1),
                Cell::maybe(local.max.map(|c| c.sun_apparent_altitude_deg), 1),
                Cell::maybe(local.max.map(|c| c.sun_azimuth_deg), 1),
                Cell::number(local.magnitude, 4),
                if local.obscuration.is_finite() { Cell::text(percent(local.obscuration)) } else { Cell::Empty },
                Cell::number(local.size_ratio, 5),
                Cell::maybe_text(window.as_ref().ok().map(|w| local_clock(w.off_utc, zone))),
                Cell::maybe_text(window.as_ref().ok().map(|w| local_clock(w.on_utc, zone))),
                Cell::maybe_text(window.as_ref().err().cloned()),
                Cell::maybe_text(edge.map(|edge| edge.edge.to_owned())),
                Cell::maybe_text(edge.map(|edge| edge.source.clone())),
            ]
        })
        .collect();
    Sheet { columns, rows }
}
