//! Made-up sites (invented figures, no real place's forecast) for the tests of this folder.

use chrono::{DateTime, NaiveDate, TimeZone, Utc};
use chrono_tz::Tz;
use noonfall_ephemeris::GeoPoint;
use noonfall_exchange::{ExportContact, ExportHead, ExportLine, ExportPath, ExportSite};
use noonfall_words::{Seen, WindowFacts};

use crate::names::HOSTILE;

pub fn instant(hour: u32, minute: u32, second: u32) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2028, 7, 22, hour, minute, second).single().expect("a time that exists")
}

/// The lines that a calendar has events for, OFF and ON among them.
fn lines() -> Vec<ExportLine> {
    let line = |mark, utc, detail: &str| ExportLine {
        mark,
        utc,
        title: detail.split([',', ':']).next().unwrap_or_default().into(),
        detail: detail.into(),
    };
    vec![
        line("C1", instant(1, 32, 10), "First contact: the first bite, at 2 o'clock, through filters."),
        line("C2", instant(2, 58, 31), "C2, totality begins. Filters stay on a little longer."),
        line(
            "OFF",
            instant(2, 58, 35),
            "Filter OFF, once no bright edge shows. Uncover the dark eye; binoculars last.",
        ),
        line("ON", instant(3, 1, 21), "Filter ON, before the first bead; at once if any bright edge shows earlier."),
        line("C3", instant(3, 1, 25), "C3, totality ends: the Sun returns at 2 o'clock. Filters are on."),
        line("C4", instant(4, 31, 55), "Last bite: the Moon leaves the Sun."),
    ]
}

fn contact(label: &'static str, utc: DateTime<Utc>) -> ExportContact {
    ExportContact { label, utc, above_horizon: true }
}

/// Sites for the exchange formats: an ordinary one, one outside the path, and all the hostile names.
pub fn sites() -> Vec<ExportSite> {
    let all = [
        contact("C1", instant(1, 32, 10)),
        contact("C2", instant(2, 58, 31)),
        contact("max", instant(2, 59, 58)),
        contact("C3", instant(3, 1, 25)),
        contact("C4", instant(4, 31, 55)),
    ];
    let outside = all.iter().filter(|contact| !matches!(contact.label, "C2" | "C3")).cloned().collect();
    let window = WindowFacts {
        off_utc: instant(2, 58, 35),
        on_utc: instant(3, 1, 21),
        kept: "4.0 s kept after C2, 4.0 s before C3".into(),
    };
    let first = ExportSite {
        rank: Some(1),
        name: "Wyndham".into(),
        lat_deg: -15.4825,
        lon_deg: 128.1228,
        elevation_m: Some(11.0),
        zone: Tz::Australia__Perth,
        score: Some(0.8123),
        seen: Seen::Total,
        totality_s: 174.0,
        clear_sky_probability: Some(0.88),
        rejected: Vec::new(),
        contacts: all.to_vec(),
        window: Ok(window.clone()),
        lines: lines(),
    };
    let second = ExportSite {
        rank: None,
        name: "Alice Springs".into(),
        lat_deg: -23.7,
        lon_deg: 133.88,
        elevation_m: None,
        zone: Tz::Australia__Darwin,
        score: None,
        seen: Seen::Partial,
        totality_s: 0.0,
        clear_sky_probability: None,
        rejected: vec!["outside the path of totality".into()],
        contacts: outside,
        // A window where there must be none: no format may print it.
        window: Ok(window),
        lines: lines().into_iter().filter(|line| !matches!(line.mark, "C2" | "C3")).collect(),
    };
    let mut sites = vec![first.clone(), second];
    sites.extend(HOSTILE.iter().enumerate().map(|(i, name)| ExportSite {
        rank: Some(i + 2),
        name: (*name).into(),
        lon_deg: if i == 0 { 180.0 } else { 128.0 + i as f64 },
        ..first.clone()
    }));
    sites
}

/// A path over the antimeridian, made of parallels (not a real eclipse's).
pub fn path() -> ExportPath {
    let line = |lat: f64| -> Vec<GeoPoint> {
        (0..=40)
            .map(|i| {
                let lon = 150.0 + f64::from(i);
                GeoPoint { lat_deg: lat - 0.3 * f64::from(i), lon_deg: if lon > 180.0 { lon - 360.0 } else { lon } }
            })
            .collect()
    };
    let (north, south) = (line(-29.0), line(-31.0));
    let polygon = north.iter().chain(south.iter().rev()).copied().collect();
    ExportPath { central_line: line(-30.0), north_limit: north, south_limit: south, polygon, ..ExportPath::default() }
}

pub fn head() -> ExportHead {
    ExportHead {
        eclipse: NaiveDate::from_ymd_opt(2028, 7, 22).expect("date"),
        kind: "total".into(),
        delta_t_s: 69.41,
        delta_t_sigma_s: 0.2,
        credits: vec!["JPL DE440".into(), "GeoNames (CC BY 4.0)".into()],
        invented: true,
        edge: "C2 and C3 at the Moon's measured edge: made up.".into(),
    }
}
