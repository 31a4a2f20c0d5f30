//! Every chart through an independent parser, with hostile names and on small pages. All data invented.

use super::*;
use noonfall_scoring::outlook::totality::EdgeShown;

const NAMES: [&str; 4] = ["O'Brien's \"Camp\" <b>&amp;", "🌒 Lager", "قرية الشمس", "=cmd|' /C calc'!A0"];

fn page(width: f64, height: f64) -> ChartPage {
    ChartPage { fonts: FontEmbedding::FromPage, invented: true, ..ChartPage::new("c", width, height) }
}

fn compared() -> Vec<comparison::ComparedSite> {
    (0u32..14)
        .map(|i| comparison::ComparedSite {
            rank: Some(i + 1),
            name: NAMES[i as usize % 4].to_owned(),
            sun_apparent_altitude_deg: 5.0 + 4.0 * f64::from(i),
            totality_s: 40.0 + 13.0 * f64::from(i % 9),
            expected_clear_totality_s: Some(20.0 + 5.0 * f64::from(i % 5)),
        })
        .collect()
}

fn all(width: f64, height: f64) -> Vec<(&'static str, Result<String, ChartError>)> {
    let page = page(width, height);
    let sites = compared();
    let pair = comparison::Pair {
        low: NAMES[0].to_owned(),
        high: NAMES[2].to_owned(),
        quantities: comparison::common_quantities(&sites[0], &sites[13]),
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
        sun_apparent_altitude_deg: 16.0,
        sun_azimuth_deg: 359.0,
        objects: vec![
            object("Venus", 40.0, 20.0, -4.0, true),
            object(NAMES[0], 22.0, 350.0, 0.2, true),
            object("Mars", 5.0, 60.0, 1.6, false),
            object("Jupiter", 30.0, 170.0, -2.0, true),
            object("Saturn", -12.0, 10.0, 0.8, false),
        ],
        skyline: (0..360).map(|a| (f64::from(a), 2.0 + 3.0 * f64::from(a).to_radians().cos().abs())).collect(),
    };
    vec![
        ("comparison", comparison::comparison(&page, &sites, Some(&pair), EdgeShown::True)),
        ("sky", sky::sky(&page, &sky_chart)),
    ]
}

#[test]
fn every_chart_is_well_formed_titled_and_says_that_data_is_invented() {
    for (name, svg) in all(640.0, 620.0) {
        let svg = svg.unwrap_or_else(|e| panic!("{name}: {e}"));
        let document = roxmltree::Document::parse(&svg).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(document.descendants().any(|n| n.has_tag_name("title") && n.text().is_some()), "{name}");
        assert!(svg.contains(noonfall_words::invented::BANNER), "{name}");
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
fn the_comparison_names_the_edge_of_its_durations() {
    let of = |edge| comparison::comparison(&page(900.0, 500.0), &compared(), None, edge).unwrap();
    assert!(of(EdgeShown::True).contains("measured edge") && !of(EdgeShown::True).contains("smooth"));
    assert!(of(EdgeShown::Smooth).contains("of a smooth Moon") && !of(EdgeShown::Smooth).contains("measured"));
}

#[test]
fn numbers_that_are_not_finite_are_refused() {
    let mut sites = compared();
    sites[3].totality_s = f64::NAN;
    assert!(matches!(
        comparison::comparison(&page(640.0, 500.0), &sites, None, EdgeShown::True),
        Err(ChartError::NotFinite { .. })
    ));
    assert!(matches!(
        comparison::comparison(&page(640.0, 500.0), &[], None, EdgeShown::True),
        Err(ChartError::Empty { .. })
    ));
}

// Reads a chart as a person with a ruler does: the numbers beside the axes and the lines that they stand at, nothing else of the
// drawing. Gives, for each axis, the straight line from a coordinate of the page to a value.
fn scales(document: &roxmltree::Document<'_>) -> [(f64, f64); 2] {
    let marks = |anchor: &str, along: &str| -> Vec<(f64, f64)> {
        document
            .descendants()
            .filter(|n| {
                n.has_tag_name("text") && n.attribute("dy").is_some() && n.attribute("text-anchor") == Some(anchor)
            })
            .map(|n| {
                // The axes stand in a group that is moved and made smaller.
                let group = n.ancestors().find_map(|a| a.attribute("transform")).expect("a moved group");
                let numbers: Vec<f64> = group
                    .split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'))
                    .filter_map(|s| s.parse().ok())
                    .collect();
                let [x, y, scale] = numbers[..] else { panic!("{group}") };
                let shift = if along == "x" { x } else { y };
                let at: f64 = n.attribute(along).unwrap().parse().unwrap();
                (shift + scale * at, n.text().unwrap().trim().parse::<f64>().unwrap())
            })
            .collect()
    };
    [marks("middle", "x"), marks("end", "y")].map(|marks| {
        let ((p, a), (q, b)) = (marks[0], *marks.last().unwrap());
        assert!(marks.len() > 3 && a != b);
        let slope = (b - a) / (q - p);
        (slope, a - slope * p)
    })
}

#[test]
fn a_disc_stands_at_its_value_however_many_crowd() {
    // Invented: five sites within two degrees and three seconds, two of them at one point, and one far off.
    let values = [(9.6, 168.7), (9.3, 168.8), (9.9, 168.4), (8.3, 366.0), (8.3, 366.0), (53.3, 192.7)];
    let sites: Vec<comparison::ComparedSite> = (1..)
        .zip(values)
        .map(|(rank, (altitude, seconds))| comparison::ComparedSite {
            rank: Some(rank),
            name: format!("Place {rank}"),
            sun_apparent_altitude_deg: altitude,
            totality_s: seconds,
            expected_clear_totality_s: Some(seconds * 0.4),
        })
        .collect();
    let svg = comparison::comparison(&page(900.0, 620.0), &sites, None, EdgeShown::True).unwrap();
    let document = roxmltree::Document::parse(&svg).unwrap();
    let [across, up] = scales(&document);
    let number = |n: &roxmltree::Node<'_, '_>, key| n.attribute(key).unwrap().parse::<f64>().unwrap();
    let mut read: Vec<(String, f64, f64)> = document
        .descendants()
        .filter(|n| n.has_tag_name("circle"))
        .map(|n| {
            let title = n.children().find_map(|c| c.text()).unwrap().to_owned();
            (title, across.0 * number(&n, "cx") + across.1, up.0 * number(&n, "cy") + up.1)
        })
        .collect();
    read.sort_by(|a, b| a.0.cmp(&b.0));
    assert_eq!(read.len(), values.len());
    for ((title, altitude, seconds), (a, s)) in read.iter().zip(values) {
        // A twentieth of a drawing unit in the axes' lines and half a hundredth in the disc's.
        assert!((altitude - a).abs() < 0.1 && (seconds - s).abs() < 0.1, "{title}: {altitude} {seconds} for {a} {s}");
    }
    // Every site is named, and every stem and cross stroke is there and above the thick parts.
    for rank in 1..=values.len() {
        assert!(svg.contains(&format!(">{rank} Place {rank}<")), "{rank}");
    }
    let thick = svg.rfind(crate::palette::TOTALITY).unwrap();
    let stems = document
        .descendants()
        .filter(|n| {
            n.has_tag_name("path")
                && n.range().start > thick
                && n.attribute("d").is_some_and(|d| d.contains('V') && d.contains('h'))
        })
        .count();
    assert_eq!(stems, values.len());
}

#[test]
fn sites_without_room_for_their_names_are_counted_and_keep_their_discs() {
    let sites: Vec<comparison::ComparedSite> = (1..=200)
        .map(|rank| comparison::ComparedSite {
            rank: Some(rank),
            name: format!("Place {rank}"),
            sun_apparent_altitude_deg: 20.0,
            totality_s: 120.0,
            expected_clear_totality_s: None,
        })
        .collect();
    let svg = comparison::comparison(&page(900.0, 400.0), &sites, None, EdgeShown::True).unwrap();
    assert_eq!(svg.matches("<circle").count(), 200);
    let count: usize = svg.split(" sites have no room").next().unwrap().rsplit('>').next().unwrap().parse().unwrap();
    assert!((140..200).contains(&count), "{count}");
}

/// Thousands of stems are no chart: the best are drawn, and that is said. Up to two thousand all are.
#[test]
fn of_very_many_sites_the_comparison_draws_the_best() {
    let sites = |count: u32| -> Vec<comparison::ComparedSite> {
        let site = |k: u32| comparison::ComparedSite {
            rank: Some(k + 1),
            name: format!("p{k}"),
            sun_apparent_altitude_deg: 20.0 + f64::from(k % 97) * 0.3,
            totality_s: 60.0 + f64::from(k % 89),
            expected_clear_totality_s: None,
        };
        (0..count).map(site).collect()
    };
    let drawn = |count| comparison::comparison(&page(900.0, 500.0), &sites(count), None, EdgeShown::True).unwrap();
    let stems = |svg: &str| svg.matches("fill=\"none\" stroke=").count();
    let (few, many) = (drawn(comparison::DRAWN_OF_MANY as u32), drawn(comparison::MOST_DRAWN as u32 + 1));
    assert!(many.contains("best 200 of 2001 sites") && many.contains("2001 sites, from a Sun"));
    assert!(!few.contains("Drawn are the best"));
    assert!(stems(&many) > 0 && stems(&many) < 2 * comparison::DRAWN_OF_MANY + 50, "{}", stems(&many));
}
