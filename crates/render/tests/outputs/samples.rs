//! Made-up sites (invented figures, no real place's forecast) for the tests of this folder.

use chrono::{DateTime, Duration, NaiveDate, TimeZone, Utc};
use chrono_tz::Tz;
use noonfall_scoring::rank::DeltaTNote;
use noonfall_words::brief::{
    BriefFacts, CloudFacts, ContactFacts, FallbackFacts, LookAwayFacts, SkylineFacts, WatchFacts,
};
use noonfall_words::{Seen, WindowFacts};

use crate::names::HOSTILE;

pub fn instant(hour: u32, minute: u32, second: u32) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2028, 7, 22, hour, minute, second).single().expect("a time that exists")
}

fn contact(utc: DateTime<Utc>, altitude: f64, azimuth: f64, vertex: f64) -> Option<ContactFacts> {
    Some(ContactFacts {
        utc,
        sun_apparent_altitude_deg: altitude,
        sun_azimuth_deg: azimuth,
        vertex_angle_deg: vertex,
        above_horizon: altitude > 0.0,
    })
}

/// A drawing with a word in it.
pub fn drawing(word: &str, width: u32, height: u32) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\">\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#dbe3e8\"/><path d=\"M0 {height}L{width} 60V{height}Z\" fill=\"#e7e1d7\"/>\
         <text x=\"12\" y=\"30\" font-family=\"Noto Sans\" font-size=\"14\">{word}</text></svg>"
    )
}

/// Some lines of a timeline, with how early they are left out.
fn lines() -> Vec<(DateTime<Utc>, &'static str, u8)> {
    vec![
        (instant(1, 32, 10), "First contact: the first bite, at 2 o'clock, through filters.", 1),
        (instant(2, 43, 31), "Eyes on the ground: light thins, shadows sharpen. Cover one eye.", 1),
        (instant(2, 58, 31), "C2, totality begins. Filters stay on a little longer.", 0),
        (instant(2, 58, 35), "Filter OFF, once no bright edge shows. Uncover the dark eye; binoculars last.", 0),
        (instant(3, 1, 17), "Red rim at 2 o'clock: LOWER BINOCULARS, front filters on.", 0),
        (instant(3, 1, 21), "Filter ON, before the first bead; at once if any bright edge shows earlier.", 0),
        (instant(3, 1, 25), "C3, totality ends: the Sun returns at 2 o'clock. Filters are on.", 0),
        (instant(4, 31, 55), "Last bite: the Moon leaves the Sun.", 2),
    ]
}

/// A site inside the path with everything known.
pub fn full() -> BriefFacts {
    BriefFacts {
        eclipse_date: NaiveDate::from_ymd_opt(2028, 7, 22).expect("date"),
        eclipse_kind: "total".into(),
        name: "Wyndham".into(),
        lat_deg: -15.4825,
        lon_deg: 128.1228,
        elevation_m: Some(11.0),
        zone: Tz::Australia__Perth,
        rank: Some((1, 16)),
        seen: Seen::Total,
        c1: contact(instant(1, 32, 10), 38.2, 45.0, 295.0),
        c2: contact(instant(2, 58, 31), 51.7, 20.0, 115.0),
        max: contact(instant(2, 59, 58), 51.8, 19.0, 200.0),
        c3: contact(instant(3, 1, 25), 51.9, 19.0, 300.0),
        c4: contact(instant(4, 31, 55), 51.0, 340.0, 120.0),
        duration_s: 174.0,
        obscuration: 1.0,
        window: Ok(WindowFacts {
            off_utc: instant(2, 58, 35),
            on_utc: instant(3, 1, 21),
            kept: "4.0 s kept after C2, 4.0 s before C3".into(),
        }),
        rejected: Vec::new(),
        edge_words: "C2 and C3 at the Moon's measured edge.".into(),
        skyline: Some(SkylineFacts {
            margin_max_deg: 49.3,
            margin_least_deg: 49.1,
            sun_lost_utc: None,
            source: "terrain tiles".into(),
        }),
        watch: lines()
            .into_iter()
            .map(|(utc, what, priority)| WatchFacts { utc, what: what.into(), priority })
            .collect(),
        look_away: Some(LookAwayFacts {
            utc: instant(3, 1, 17),
            words: "Red appears at 2 o'clock on the dial, some 8 s before the Sun: look away from every eyepiece now."
                .into(),
        }),
        cloud: Some(CloudFacts {
            clear_line_of_sight: 0.88,
            low_95: 0.79,
            high_95: 0.94,
            cloud_fraction: 0.09,
            years: Some(20),
            source: "invented climatology of the demo".into(),
            invented: true,
        }),
        fallback: Some(FallbackFacts {
            name: "Kununurra".into(),
            away: Some((72.0, 140.0)),
            drive_hours: 1.1,
            border: None,
            traffic: 1.5,
            leave_by_utc: Some(instant(0, 5, 0) - Duration::hours(1)),
            latest_utc: Some(instant(1, 10, 0)),
            joint_chance: Some((0.91, 0.95)),
        }),
        way: None,
        no_way: None,
        map_svg: Some(drawing("regional map", 300, 300)),
        sky_svg: Some(drawing("sky chart", 300, 300)),
        edge_svg: Some(drawing("edge", 533, 112)),
        edge_says: "C2: last light at 3 o'clock.".into(),
        near_limit: Some(
            "Only 1.2 km inside the line beyond which the Moon's measured edge leaves no totality.".into(),
        ),
        delta_t: DeltaTNote {
            seconds: 69.41,
            sigma_s: 0.2,
            origin: "extrapolated from IERS data through 2026-09-29".into(),
            sigma_shift_km: 0.09,
        },
        utc_is_predicted: true,
        credits: vec!["JPL DE440".into(), "Natural Earth".into(), "GeoNames (CC BY 4.0)".into()],
        invented: true,
        made_by: "noonfall 0.1.0, plan 3fa9c1".into(),
    }
}

/// The same with nothing that can be left out.
pub fn bare() -> BriefFacts {
    BriefFacts {
        elevation_m: None,
        rank: None,
        skyline: None,
        watch: Vec::new(),
        look_away: None,
        cloud: None,
        fallback: None,
        map_svg: None,
        sky_svg: None,
        edge_svg: None,
        edge_says: String::new(),
        near_limit: None,
        credits: Vec::new(),
        invented: false,
        utc_is_predicted: false,
        made_by: String::new(),
        ..full()
    }
}

/// A place outside the path, to which a caller has wrongly given a window.
pub fn outside() -> BriefFacts {
    BriefFacts {
        seen: Seen::Partial,
        c2: None,
        c3: None,
        duration_s: 0.0,
        obscuration: 0.987,
        name: "Alice Springs".into(),
        ..full()
    }
}

/// Long in every respect: names, lists, credits, drawings of odd shapes.
pub fn longest() -> BriefFacts {
    let mut facts = full();
    facts.name = HOSTILE.join(" ").chars().cycle().take(300).collect();
    facts.zone = Tz::America__Argentina__ComodRivadavia;
    facts.rank = Some((1000, 10_000));
    facts.watch = (0..30)
        .map(|i| WatchFacts {
            utc: instant(2, 10 + i, 7),
            what: "Something long to watch for that goes on over several lines. ".repeat(6),
            priority: (i % 4) as u8,
        })
        .collect();
    if let Some(fallback) = &mut facts.fallback {
        fallback.name = facts.name.clone();
    }
    if let Some(cloud) = &mut facts.cloud {
        cloud.source = "a source with a very long name ".repeat(9);
    }
    if let Some(skyline) = &mut facts.skyline {
        skyline.source = "terrain ".repeat(40);
        skyline.margin_least_deg = 0.4;
        skyline.sun_lost_utc = Some(instant(4, 0, 0));
    }
    facts.credits = (0..12).map(|i| format!("a data set with a long name and a licence, number {i}")).collect();
    facts.made_by = "made by ".repeat(40);
    facts.map_svg = Some(drawing("wide", 900, 200));
    facts.sky_svg = Some(drawing("tall", 200, 900));
    facts
}
