//! Every chart through an independent parser, with hostile names and on small pages. All data invented.

use noonfall_ephemeris::Tt;

use super::*;

const NAMES: [&str; 4] = ["O'Brien's \"Camp\" <b>&amp;", "🌒 Lager", "قرية الشمس", "=cmd|' /C calc'!A0"];

fn page(width: f64, height: f64) -> ChartPage {
    ChartPage { fonts: FontEmbedding::FromPage, invented: true, ..ChartPage::new("c", width, height) }
}

fn compared() -> Vec<comparison::ComparedSite> {
    (0u32..14)
        .map(|i| comparison::ComparedSite {
            rank: Some(i + 1),
            name: NAMES[i as usize % 4].to_owned(),
            sun_altitude_deg: 5.0 + 4.0 * f64::from(i),
            totality_s: 40.0 + 13.0 * f64::from(i % 9),
            expected_clear_totality_s: Some(20.0 + 5.0 * f64::from(i % 5)),
        })
        .collect()
}

fn mark(name: &str, seconds: f64, local: &str) -> timeline::TimedMark {
    timeline::TimedMark { name: name.to_owned(), tt: Tt(9e8 + seconds), local: local.to_owned() }
}

fn whole_timeline() -> timeline::Timeline {
    timeline::Timeline {
        zone: "NZST, UTC+12".to_owned(),
        contacts: vec![
            mark("C1", 0.0, "15:03:10"),
            mark("C2", 4200.0, "16:13:10"),
            mark("max", 4285.0, "16:14:35"),
            mark("C3", 4370.0, "16:16:00"),
            mark("C4", 8000.0, "17:16:30"),
        ],
        window: Some(timeline::FilterWindow {
            off: mark("off", 4203.0, "16:13:13"),
            on: mark("on", 4366.0, "16:15:56"),
        }),
        events: vec![mark("Shadow bands on the white sheet", 4170.0, "16:12:40"), mark(NAMES[0], 4366.0, "16:15:56")],
    }
}

fn all(width: f64, height: f64) -> Vec<(&'static str, Result<String, ChartError>)> {
    let page = page(width, height);
    let sites = compared();
    let pair = comparison::Pair {
        low: NAMES[0].to_owned(),
        high: NAMES[2].to_owned(),
        quantities: comparison::common_quantities(&sites[0], &sites[13]),
    };
    let trade: Vec<pareto::ParetoSite> = sites
        .iter()
        .map(|s| pareto::ParetoSite {
            rank: s.rank,
            name: s.name.clone(),
            totality_s: s.totality_s,
            clear_probability: s.sun_altitude_deg / 90.0,
            sun_altitude_deg: s.sun_altitude_deg,
            on_front: s.rank.is_some_and(|r| r % 3 == 0),
        })
        .collect();
    let odds: Vec<cloud_odds::SiteOdds> = trade
        .iter()
        .map(|s| cloud_odds::SiteOdds {
            rank: s.rank,
            name: s.name.clone(),
            clear_probability: s.clear_probability,
            low_95: s.clear_probability * 0.7,
            high_95: s.clear_probability * 1.2,
            years: Some(20),
        })
        .collect();
    let curve = |name: &str, k: f64| band_contrast::ContrastCurve {
        name: name.to_owned(),
        points: (0..=60)
            .map(|i| {
                let contrast = k * (-f64::from(i) / 12.0).exp();
                band_contrast::ContrastPoint {
                    seconds_before_c2: f64::from(i),
                    contrast,
                    low: contrast * 0.5,
                    high: contrast * 1.8,
                }
            })
            .collect(),
    };
    let skyline_chart = skyline::SkylineChart {
        site: NAMES[0].to_owned(),
        profile: (0..360).map(|a| (f64::from(a), 2.0 + 3.0 * f64::from(a).to_radians().cos().abs())).collect(),
        track: (0..=40).map(|i| (20.0 - f64::from(i), 24.0 - 0.4 * f64::from(i))).collect(),
        marks: vec![
            skyline::TrackMark { name: "C1".into(), time: "15:03".into(), direction: (20.0, 24.0), covered: false },
            skyline::TrackMark { name: "C2".into(), time: "16:13".into(), direction: (0.2, 16.1), covered: true },
            skyline::TrackMark { name: "C3".into(), time: "16:16".into(), direction: (359.5, 15.9), covered: true },
            skyline::TrackMark { name: "C4".into(), time: "17:16".into(), direction: (340.0, 8.0), covered: false },
        ],
        margin: "Sun’s centre 11° above the skyline at maximum.".to_owned(),
        source: "invented".to_owned(),
    };
    let object = |name: &str, altitude_deg, azimuth_deg, magnitude, visible| sky::SkyObject {
        name: name.to_owned(),
        kind: sky::SkyKind::Planet,
        altitude_deg,
        azimuth_deg,
        magnitude,
        visible,
    };
    let sky_chart = sky::SkyChart {
        sun_altitude_deg: 16.0,
        sun_azimuth_deg: 359.0,
        objects: vec![
            object("Venus", 40.0, 20.0, -4.0, true),
            object(NAMES[0], 22.0, 350.0, 0.2, true),
            object("Mars", 5.0, 60.0, 1.6, false),
            object("Jupiter", 30.0, 170.0, -2.0, true),
            object("Saturn", -12.0, 10.0, 0.8, false),
        ],
        skyline: skyline_chart.profile.clone(),
    };
    let disc = solar_disc::SolarDisc {
        total: true,
        c1_deg: Some(60.0),
        c2_deg: Some(250.0),
        c3_deg: Some(75.0),
        c4_deg: Some(260.0),
        look_away_lead_s: Some(4.0),
    };
    vec![
        ("comparison", comparison::comparison(&page, &sites, Some(&pair))),
        ("pareto", pareto::pareto(&page, &trade)),
        ("cloud odds", cloud_odds::cloud_odds(&page, &odds)),
        ("bands", band_contrast::band_contrast(&page, &[curve(NAMES[0], 0.02), curve("high Sun", 0.005)])),
        ("skyline", skyline::skyline(&page, &skyline_chart)),
        ("sky", sky::sky(&page, &sky_chart)),
        ("disc", solar_disc::solar_disc(&page, &disc)),
        ("timeline", timeline::timeline(&page, &whole_timeline())),
    ]
}

#[test]
fn every_chart_is_well_formed_titled_and_says_that_data_is_invented() {
    for (name, svg) in all(640.0, 620.0) {
        let svg = svg.unwrap_or_else(|e| panic!("{name}: {e}"));
        let document = roxmltree::Document::parse(&svg).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(document.descendants().any(|n| n.has_tag_name("title") && n.text().is_some()), "{name}");
        assert!(svg.contains(crate::map::credits::INVENTED), "{name}");
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{name}");
        crate::raster::png(&svg, 0.5).unwrap_or_else(|e| panic!("{name}: {e}"));
    }
}

#[test]
fn small_pages_are_refused_and_never_broken() {
    for (width, height) in [(0.0, 0.0), (90.0, 60.0), (300.0, 60.0), (f64::NAN, 300.0), (1e9, 1e9)] {
        for (name, svg) in all(width, height) {
            assert!(matches!(svg, Err(ChartError::NoRoom { .. })), "{name} on {width} by {height}");
        }
    }
}

#[test]
fn without_a_window_no_filter_off_is_printed() {
    let mut data = whole_timeline();
    data.window = None;
    let svg = timeline::timeline(&page(640.0, 300.0), &data).expect("a timeline");
    assert!(svg.contains("FILTER ON throughout") && !svg.to_uppercase().contains("OFF"));
    let with = timeline::timeline(&page(640.0, 300.0), &whole_timeline()).expect("a timeline");
    assert!(with.contains("FILTER OFF") && with.contains("OFF from 16:13:13") && with.contains("ON by 16:15:56"));
}

#[test]
fn numbers_that_are_not_finite_are_refused() {
    let mut sites = compared();
    sites[3].totality_s = f64::NAN;
    assert!(matches!(comparison::comparison(&page(640.0, 500.0), &sites, None), Err(ChartError::NotFinite { .. })));
    assert!(matches!(comparison::comparison(&page(640.0, 500.0), &[], None), Err(ChartError::Empty { .. })));
}
