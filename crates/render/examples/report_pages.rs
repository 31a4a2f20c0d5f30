//! Writes the pages that the browser tests open, and what the engine says of random places:
//! `cargo run -p noonfall-render --example report_pages -- FOLDER`.
//!
//! The towns are those of the demo; cloud, cost and timeline figures are invented for the tests and say so. Maps are plain
//! drawings in an equirectangular projection: the tests need a map to tap, not a handsome one.

use chrono_tz::Tz;
use noonfall_drawing::map::PathLines;
use noonfall_ephemeris::earth_orientation::to_terrestrial;
use noonfall_ephemeris::observer::LocalAxes;
use noonfall_ephemeris::vector::sub;
use noonfall_ephemeris::{Body, GeoPoint, Kernel, Tt};
use noonfall_render::publish::Publication;
use noonfall_render::report::{
    CloudOdds, ContactEntry, Criterion, EclipseFacts, EdgeEntry, Elements, EyeWindow, Fact, Fallback, Instant,
    MapDrawing, PlanText, ReportInput, ReportModel, SiteDetail, SiteEntry, SkyEntry, SkylineEntry, TimelineEntry,
    Unprojection, Way, report_html, report_model,
};
use noonfall_scoring::clocks::rounded;
use noonfall_scoring::criteria::built_in;
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::progress::Silent;
use noonfall_scoring::trip::{Options, run};
use noonfall_shadow::geodesy::destination;
use noonfall_shadow::moon_edge::{EdgeLattice, EdgeSettings, MoonHeights};
use noonfall_shadow::{Conventions, Eclipse, LocalCircumstances, Phase, Site};
use noonfall_words::safety::cautions;
use rand::{RngExt, SeedableRng};
use rayon::prelude::*;
use serde_json::json;
use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;

const MARGIN_S: f64 = 4.0;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("give the folder to write to")?;
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    let write = |name: &str, text: &str| std::fs::write(folder.join(name), text);

    let eclipse = eclipse_on("2028-07-22")?;
    let towns = towns()?;
    let mut demo = report(&eclipse, &towns);
    let settings = EdgeSettings::default();
    let lattice = EdgeLattice::new(&eclipse, MoonHeights::embedded(), &settings);
    let (first, last) = eclipse.path_span().ok_or("no path")?;
    demo.edge = lattice.carried(first, last).as_ref().map(EdgeEntry::of);
    write("report.html", &report_html(&demo)?)?;
    write("points.json", &points(&eclipse, 500).to_string())?;

    write("edge-points.json", &edge_points(&eclipse, &settings, 500).to_string())?;

    let demo_plan = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo/plan.toml"));
    write("demo.html", &ranked_page(demo_plan)?)?;
    write("points.csv", &point_sites(&eclipse, 60)?)?;
    write("points.toml", POINTS_PLAN)?;
    write("points.html", &ranked_page(&folder.join("points.toml"))?)?;

    write("ground.html", &ground_page(&folder.join("ground"))?)?;

    let annular = eclipse_on("2030-06-01")?;
    let places = [("Athina", 37.98, 23.73, Tz::Europe__Athens), ("Sapporo", 43.06, 141.35, Tz::Asia__Tokyo)];
    let places: Vec<Town> = places
        .iter()
        .map(|&(name, lat, lon, zone)| Town { name: name.into(), lat, lon, elevation_m: 20.0, zone, clear: 40 })
        .collect();
    write("annular.html", &report_html(&report(&annular, &places))?)?;

    let hostile: Vec<Town> = [
        "<img src=x onerror=alert(1)>".to_owned(),
        "=cmd|' /C calc'!A0".to_owned(),
        "\"quoted\" & 'apostrophe' </script><script>document.title='taken'</script>".to_owned(),
        "מצפה רמון \u{202E}evitcepsrep".to_owned(),
        "🌘🌑🌒 Eclipse camp".to_owned(),
        "A very long name ".repeat(18),
        "x".repeat(300),
    ]
    .into_iter()
    .zip(&towns)
    .map(|(name, town)| Town { name, ..town.clone() })
    .collect();
    write("hostile.html", &report_html(&report(&eclipse, &hostile))?)?;
    write("empty.html", &report_html(&report(&eclipse, &[]))?)?;
    write("single.html", &report_html(&report(&eclipse, &towns[..1]))?)?;

    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(7);
    let many: Vec<Town> = (0..20_000)
        .map(|k| Town {
            name: format!("Camp {k}"),
            lat: rng.random_range(-35.0..-15.0),
            lon: rng.random_range(125.0..150.0),
            elevation_m: 200.0,
            zone: Tz::Australia__Darwin,
            clear: rng.random_range(100..500),
        })
        .collect();
    write("many.html", &report_html(&report(&eclipse, &many))?)?;

    // Other kinds of eclipse for the page's arithmetic alone: hybrid, a total one near a pole, annular.
    let others: Vec<_> = ["2031-11-14", "2033-03-30", "2030-06-01", "1999-08-11"]
        .iter()
        .map(|date| Ok(points(&eclipse_on(date)?, 150)))
        .collect::<Result<_, Box<dyn Error>>>()?;
    write("other-points.json", &json!(others).to_string())?;
    Ok(())
}

/// A plan of which the page can work out every criterion by itself: its scores are the engine's.
const POINTS_PLAN: &str = r#"[eclipse]
date = "2028-07-22"

[sites]
file = "points.csv"

[score]
mean = "geometric"

[weights]
totality = 2
sun_altitude = 1

[wish.totality]
points = [[0, 0], [60, 0.35], [180, 0.8], [290, 1]]

[wish.sun_altitude]
better = "range"
from = 20
to = 45
fade = 25

[require]
min_totality_s = 40
max_sun_altitude_deg = 60
"#;

/// Random places about the central line, past the limits too, as a table of candidates.
fn point_sites(eclipse: &Eclipse, count: usize) -> Result<String, Box<dyn Error>> {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(20_280_724);
    let line = eclipse.path(60.0).central_line;
    let mut out = String::from("name,lat,lon,elevation_m\n");
    for k in 0..count {
        let from = line[rng.random_range(0..line.len())];
        let at = destination(from, rng.random_range(0.0..360.0), 150.0 * rng.random::<f64>());
        let height = rng.random_range(0.0_f64..2500.0).round();
        writeln!(out, "Point {k},{:.5},{:.5},{height}", at.lat_deg, at.lon_deg)?;
    }
    Ok(out)
}

/// A plan ranked and written out, with what its sites offer.
fn ranked_page(plan: &Path) -> Result<String, Box<dyn Error>> {
    let outcome = run(plan, &Options::default(), &Silent)?;
    let offers: Vec<Option<Offer>> = outcome.ranking.sites.iter().map(|site| outcome.offer(site)).collect();
    let path = PathLines::of(&outcome.eclipse);
    let model = report_model(&ReportInput {
        plan: &outcome.plan,
        eclipse: &outcome.eclipse,
        ranking: &outcome.ranking,
        offers: &offers.iter().map(Option::as_ref).collect::<Vec<_>>(),
        edges: &[],
        lattice: Some(outcome.rules.lattice()),
        path: path.as_ref(),
        clouds: None,
        ground: None,
    })?;
    Ok(report_html(&model)?)
}

/// INVENTED ground: the SRTM tile S46E169 at 3″, a plain at 150 m with a wall of 900 m along 169.35° E before the Sun of what lies
/// to its east. One site stands behind the wall, one in the open, one in a void, one beyond the tile.
fn ground_page(folder: &Path) -> Result<String, Box<dyn Error>> {
    const PLAN: &str = "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"sites.csv\"\n[weights]\ntotality = 1\n[terrain]\ndir = \"dem\"\n\
        [robustness]\ndraws = 2000\n[output]\nbriefs = 1\n";
    const SITES: &str = "name,lat,lon\nBehind the wall,-45.4,169.37\nIn the open,-45.4,169.2\nIn the void,-45.7,169.7\nBeyond the tile,-44.9,169.3\n";
    std::fs::create_dir_all(folder.join("dem"))?;
    std::fs::write(folder.join("plan.toml"), PLAN)?;
    std::fs::write(folder.join("sites.csv"), SITES)?;
    let height = |i: u32| match (i / 1201, i % 1201) {
        (800..880, 800..880) => i16::MIN,
        (_, 418..424) => 900,
        _ => 150,
    };
    let tile: Vec<u8> = (0..1201 * 1201).flat_map(|i| height(i).to_be_bytes()).collect();
    std::fs::write(folder.join("dem/S46E169.hgt"), tile)?;
    let outcome = run(&folder.join("plan.toml"), &Options::default(), &Silent)?;
    Ok(Publication::new(&outcome).report()?)
}

fn eclipse_on(date: &str) -> Result<Eclipse, Box<dyn Error>> {
    Ok(Eclipse::on_date(Kernel::embedded(), date.parse()?, None, &Conventions::default())?)
}

/// What the engine says of random places: half of them anywhere, half within a degree or so of the central line.
fn points(eclipse: &Eclipse, count: usize) -> serde_json::Value {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(20_280_722);
    let line = eclipse.path(120.0).central_line;
    let epoch = eclipse.elements().epoch();
    let places: Vec<_> = (0..count)
        .map(|k| {
            let (lat_deg, lon_deg) = if k % 2 == 0 || line.is_empty() {
                let z: f64 = rng.random_range(-1.0..1.0);
                (z.asin().to_degrees(), rng.random_range(-180.0..180.0))
            } else {
                let at = line[rng.random_range(0..line.len())];
                let lat: f64 = at.lat_deg + rng.random_range(-1.2..1.2);
                (lat.clamp(-90.0, 90.0), at.lon_deg + rng.random_range(-1.2..1.2))
            };
            let point = GeoPoint::new(lat_deg, lon_deg.clamp(-180.0, 360.0)).unwrap_or(GeoPoint { lat_deg: 0.0, lon_deg: 0.0 });
            let site = Site { lat_deg: point.lat_deg, lon_deg: point.lon_deg, elevation_m: rng.random_range(-100.0_f64..4000.0).round() };
            let c = eclipse.local(&site);
            let contact = |c: &Option<noonfall_shadow::Contact>| {
                c.map(|c| json!([c.tt - epoch, c.sun_altitude_deg, c.sun_apparent_altitude_deg, c.sun_azimuth_deg]))
            };
            json!({
                "lat_deg": site.lat_deg, "lon_deg": site.lon_deg, "elevation_m": site.elevation_m, "phase": phase_word(c.phase),
                "contacts": [contact(&c.c1), contact(&c.c2), contact(&c.max), contact(&c.c3), contact(&c.c4)],
                "duration_s": c.duration_s, "magnitude": c.magnitude, "obscuration": c.obscuration,
                "sunrise": c.sunrise.map(|t| t - epoch), "sunset": c.sunset.map(|t| t - epoch),
            })
        })
        .collect();
    json!({ "date": eclipse.date().to_string(), "kind": eclipse.kind().to_string(), "elements": Elements::of(eclipse), "places": places })
}

/// Contacts at the Moon's measured edge of random places about the central line, past the limits too, one by one as the
/// engine finds them for a single place: `[C2, C3, uncovering rate of each]`, null where the edge leaves no totality.
fn edge_points(eclipse: &Eclipse, settings: &EdgeSettings, count: usize) -> serde_json::Value {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(20_280_723);
    let line = eclipse.path(60.0).central_line;
    let epoch = eclipse.elements().epoch();
    let sites: Vec<Site> = (0..count)
        .map(|_| {
            let at = destination(
                line[rng.random_range(0..line.len())],
                rng.random_range(0.0..360.0),
                150.0 * rng.random::<f64>(),
            );
            Site { lat_deg: at.lat_deg, lon_deg: at.lon_deg, elevation_m: rng.random_range(0.0_f64..2500.0).round() }
        })
        .collect();
    let found = |site: &Site| {
        let truth = eclipse.true_totality(site, MoonHeights::embedded(), settings);
        let numbers = truth.map(|t| {
            json!([t.c2.tt - epoch, t.c3.tt - epoch, t.c2.uncovering_arcsec_per_s, t.c3.uncovering_arcsec_per_s])
        });
        json!({ "lat_deg": site.lat_deg, "lon_deg": site.lon_deg, "elevation_m": site.elevation_m, "truth": numbers })
    };
    json!(sites.par_iter().map(found).collect::<Vec<_>>())
}

fn phase_word(phase: Phase) -> &'static str {
    match phase {
        Phase::Total => "total",
        Phase::Annular => "annular",
        Phase::Partial => "partial",
        Phase::None => "none",
    }
}

#[derive(Clone)]
struct Town {
    name: String,
    lat: f64,
    lon: f64,
    elevation_m: f64,
    zone: Tz,
    /// Clear days in twenty Julys, invented.
    clear: u32,
}

fn towns() -> Result<Vec<Town>, Box<dyn Error>> {
    let mut reader = csv::Reader::from_path(concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo/sites.csv"))?;
    let mut out = Vec::new();
    for (k, row) in reader.records().enumerate() {
        let row = row?;
        let zone = if row[4].is_empty() {
            if &row[0] == "Bourke" { "Australia/Sydney" } else { "Pacific/Auckland" }
        } else {
            &row[4]
        };
        out.push(Town {
            name: row[0].to_owned(),
            lat: row[1].parse()?,
            lon: row[2].parse()?,
            elevation_m: row[3].parse()?,
            zone: zone.parse()?,
            clear: [520, 510, 500, 455, 450, 430, 420, 400, 345, 335, 310, 150, 210, 260, 275, 290, 220, 230][k % 18],
        });
    }
    Ok(out)
}

fn rising(value: f64, from: f64, to: f64) -> f64 {
    ((value - from) / (to - from)).clamp(0.0, 1.0)
}

fn report(eclipse: &Eclipse, towns: &[Town]) -> ReportModel {
    let criteria: Vec<Criterion> = [
        ("totality", "Totality", "s", "Seconds of totality.", [[0.0, 0.0], [240.0, 1.0]], 3.0),
        ("sun_altitude", "Sun's altitude", "°", "Height of the Sun at maximum.", [[5.0, 0.0], [40.0, 1.0]], 1.0),
        ("clear_sky", "Clear line to the Sun", "fraction", "Chance of a clear line.", [[0.0, 0.0], [1.0, 1.0]], 4.0),
        ("cost", "Cost", "€", "A column of the sites table, INVENTED.", [[100.0, 1.0], [900.0, 0.0]], 0.0),
    ]
    .iter()
    .map(|&(name, label, unit, about, points, weight)| Criterion {
        name: name.into(),
        label: label.into(),
        unit: unit.into(),
        about: about.into(),
        curve: points.map(|[value, utility]| format!("{utility} at {value} {unit}")).join(", "),
        weight,
        missing_words: format!("no value for {label}"),
        points: points.to_vec(),
        missing: None,
        built_in: built_in(name).is_some(),
    })
    .collect();
    let mut sites: Vec<SiteEntry> = towns.iter().enumerate().map(|(k, town)| entry(eclipse, town, k)).collect();
    let score = |site: &SiteEntry| {
        let (sum, total) = criteria
            .iter()
            .zip(&site.utilities)
            .filter(|(c, _)| c.weight > 0.0)
            .fold((0.0, 0.0), |(s, t), (c, u)| (s + c.weight * u.unwrap_or(0.0), t + c.weight));
        sum / total
    };
    for site in &mut sites {
        if site.phase != "total" {
            site.rejected = vec![format!("totality {:.0} s is below the least asked for, 60 s", 0.0)];
        } else if site.duration_s < 60.0 {
            site.rejected = vec![format!("totality {:.0} s is below the least asked for, 60 s", site.duration_s)];
        } else {
            site.score = Some(score(site));
        }
    }
    // Ranked ones first; equal scores in the order of the file.
    sites.sort_by(|a, b| b.score.unwrap_or(-1.0).total_cmp(&a.score.unwrap_or(-1.0)));
    let ranked = sites.iter().filter(|s| s.score.is_some()).count() as u32;
    for (k, site) in sites.iter_mut().enumerate().filter(|(_, s)| s.score.is_some()) {
        let rank = k as u32 + 1;
        site.rank = Some(rank);
        site.rank_interval = Some([rank.saturating_sub(2).max(1), (rank + 2).min(ranked)]);
        site.first_chance = Some(rounded(0.5_f64.powi(rank as i32), 3));
    }
    let altitude = |s: &SiteEntry| s.contacts[2].map_or(0.0, |c| c.altitude_deg);
    let low = sites.iter().position(|s| s.rank.is_some() && altitude(s) < 20.0);
    let high = sites.iter().position(|s| s.rank.is_some() && altitude(s) > 40.0);
    let delta_t = eclipse.delta_t();
    ReportModel {
        title: "Test trip to the eclipse".into(),
        group: "The Invented Stargazers".into(),
        eclipse: EclipseFacts::of(eclipse),
        elements: Some(Elements::of(eclipse)),
        plan: PlanText {
            file: "test-plan.toml".into(),
            text: "# A plan for tests\n[eclipse]\ndate = \"2028-07-22\" # weights = none\n\n[score]\nmean = \"arithmetic\"\n\n[weights] # what counts\n# seconds first\ntotality = 3\nsun_altitude = 1.0\nclear_sky = 4.0\n\n[require]\nmin_totality_s = 60\n".into(),
            sha256: "0123456789abcdef".repeat(4),
            mean: "arithmetic".into(),
        },
        criteria,
        pair: low.zip(high).map(|(low, high)| [low, high]),
        pair_labels: ["low Sun".into(), "high Sun".into()],
        pair_words: vec!["The low Sun is the more striking, the high Sun the safer against cloud. Words of the test.".into()],
        maps: vec![plain_map(eclipse, &sites, 1200.0, 760.0, "wide"), plain_map(eclipse, &sites, 420.0, 560.0, "narrow")],
        sites,
        cautions_total: cautions(true).iter().map(|c| c.text.to_owned()).collect(),
        cautions_partial: cautions(false).iter().map(|c| c.text.to_owned()).collect(),
        notes: vec![
            format!("ΔT {:.2} s, one sigma {:.2} s ({}).", delta_t.seconds, delta_t.sigma_s, delta_t.origin),
            "The Moon's true limb moves C2 and C3 by up to a few seconds.".into(),
        ],
        credits: vec!["Towns: GeoNames, CC BY 4.0".into()],
        invented: Some("INVENTED cloud and cost figures, for tests only: do not plan a trip by them.".into()),
        program: "noonfall, test page".into(),
        ..ReportModel::default()
    }
}

fn entry(eclipse: &Eclipse, town: &Town, number: usize) -> SiteEntry {
    let site = Site { lat_deg: town.lat, lon_deg: town.lon, elevation_m: town.elevation_m };
    let local = eclipse.local(&site);
    let contacts =
        [local.c1, local.c2, local.max, local.c3, local.c4].map(|c| c.map(|c| ContactEntry::of(&c, town.zone)));
    let (a, b) = (f64::from(town.clear) + 1.0, f64::from(620_u32.saturating_sub(town.clear)) + 1.0);
    // Thirty-one days are far from independent: a tenth of them counts.
    let (a, b) = (a / 10.0, b / 10.0);
    let clear = a / (a + b);
    let sigma = (clear * (1.0 - clear) / (a + b + 1.0)).sqrt();
    let cost = (number % 5 != 4).then_some(150.0 + 40.0 * number as f64);
    let altitude = local.max.map_or(0.0, |c| c.sun_altitude_deg);
    let window = match (&local.c2, &local.c3) {
        (Some(c2), Some(c3)) if local.phase == Phase::Total && local.duration_s > 2.0 * MARGIN_S + 1.0 => {
            Some(EyeWindow {
                off: Instant::of(c2.tt.plus(MARGIN_S), town.zone),
                on: Instant::of(c3.tt.plus(-MARGIN_S), town.zone),
                kept: format!("{MARGIN_S:.1} s kept after C2, {MARGIN_S:.1} s before C3"),
            })
        }
        _ => None,
    };
    SiteEntry {
        name: town.name.clone(),
        lat_deg: town.lat,
        lon_deg: town.lon,
        elevation_m: town.elevation_m,
        zone: town.zone.name().into(),
        zone_short: local
            .max
            .map_or(String::new(), |c| c.tt.to_utc().with_timezone(&town.zone).format("%Z").to_string()),
        values: vec![Some(local.duration_s), Some(altitude), Some(clear), cost],
        utilities: vec![
            Some(rising(local.duration_s, 0.0, 240.0)),
            Some(rising(altitude, 5.0, 40.0)),
            Some(clear),
            cost.map(|c| 1.0 - rising(c, 100.0, 900.0)),
        ],
        phase: phase_word(local.phase).into(),
        contacts,
        duration_s: rounded(local.duration_s, 3),
        magnitude: rounded(local.magnitude, 5),
        obscuration: rounded(local.obscuration, 5),
        no_window: if window.is_none() { "Test data: no window here.".into() } else { String::new() },
        window,
        cloud: Some(CloudOdds {
            cloud_fraction: rounded(1.0 - clear, 3),
            clear: rounded(clear, 3),
            low_95: rounded((clear - 1.96 * sigma).max(0.0), 3),
            high_95: rounded((clear + 1.96 * sigma).min(1.0), 3),
            beta: Some([a, b]),
            years: Some(20),
            source: "INVENTED test data".into(),
        }),
        way: (number == 0).then(|| Way {
            base: "The base".into(),
            drive_hours: 1.2,
            border: None,
            leave_by: None,
            leave_at_worst: None,
        }),
        fallback: (number == 0).then(|| Fallback {
            name: "Somewhere else".into(),
            drive_hours: 2.6,
            border: Some("AU to NZ".into()),
            joint_clear: Some([0.83, 0.91]),
            leave_by: local.c1.map(|c| Instant::of(c.tt.plus(-3.6 * 3600.0), town.zone)),
            leave_at_worst: local.c2.map(|c| Instant::of(c.tt.plus(-2.9 * 3600.0), town.zone)),
        }),
        detail: (number < 40).then(|| detail(eclipse, &site, &local, town.zone)),
        ..SiteEntry::default()
    }
}

fn detail(eclipse: &Eclipse, site: &Site, local: &LocalCircumstances, zone: Tz) -> SiteDetail {
    let mut timeline = Vec::new();
    let mut note = |tt: Option<Tt>, mark: &str, what: &str, look: &str| {
        if let Some(tt) = tt {
            timeline.push(TimelineEntry {
                must: what.starts_with('◯') || what.starts_with('■'),
                at: Instant::of(tt, zone),
                mark: mark.into(),
                kind: match what {
                    _ if what.starts_with('◯') => "off",
                    _ if what.starts_with('■') => "on",
                    _ if what.starts_with("The red rim") => "rim",
                    _ => "",
                }
                .into(),
                what: what.into(),
                look: look.into(),
            });
        }
    };
    let at = |c: &Option<noonfall_shadow::Contact>, s: f64| c.map(|c| c.tt.plus(s));
    note(at(&local.c1, -900.0), "", "Set up; filters over every front lens", "");
    note(at(&local.c1, 0.0), "C1", "The Moon touches the Sun", "the Sun, through a filter");
    note(at(&local.c2, -600.0), "", "Light turns thin and shadows sharpen", "the ground");
    note(at(&local.c2, -60.0), "", "Shadow bands may run over pale ground", "the ground");
    note(
        at(&local.c2, 0.0),
        "C2",
        if local.phase == Phase::Total { "Totality begins" } else { "The ring closes" },
        "the Sun",
    );
    if local.phase == Phase::Total && local.duration_s > 2.0 * MARGIN_S + 1.0 {
        note(at(&local.c2, MARGIN_S), "", "◯ Filter OFF, when no bright Sun is left", "the Sun");
    }
    note(at(&local.max, 0.0), "max", "Deepest eclipse", "the Sun and the planets beside it");
    if local.phase == Phase::Total && local.duration_s > 2.0 * MARGIN_S + 1.0 {
        note(at(&local.c3, -MARGIN_S - 5.0), "", "The red rim appears: look away", "away from the Sun");
        note(at(&local.c3, -MARGIN_S), "", "■ Filter ON", "the filter");
    }
    note(
        at(&local.c3, 0.0),
        "C3",
        if local.phase == Phase::Total { "Totality ends" } else { "The ring breaks" },
        "away from the Sun",
    );
    note(at(&local.c4, 0.0), "C4", "The Moon leaves the Sun", "the Sun, through a filter");
    let sky = local.max.filter(|_| local.phase == Phase::Total).map_or(Vec::new(), |max| sky(eclipse, site, max.tt));
    let skyline = local.max.filter(|c| c.sun_altitude_deg < 30.0).map(|max| SkylineEntry {
        profile: (0..=60)
            .map(|k| {
                let azimuth = max.sun_azimuth_deg - 60.0 + 2.0 * f64::from(k);
                [
                    rounded(azimuth.rem_euclid(360.0), 2),
                    rounded(2.5 + 1.8 * (azimuth * 0.21).sin() + 0.9 * (azimuth * 0.47).cos(), 2),
                ]
            })
            .collect(),
        words: "INVENTED hills of the test.".into(),
    });
    SiteDetail {
        timeline,
        sky,
        skyline,
        edge: None,
        facts: vec![Fact {
            label: "Shadow bands".into(),
            value: "likely".into(),
            note: "an ordering, not a probability; words of the test".into(),
        }],
        look_away: (local.phase == Phase::Total)
            .then(|| "the red chromosphere shows at the right edge about 4 s before C3: binoculars down.".into()),
    }
}

/// Planets from the ephemeris, geocentric: a test picture needs no parallax. Magnitudes are round figures.
fn sky(eclipse: &Eclipse, site: &Site, tt: Tt) -> Vec<SkyEntry> {
    let kernel = Kernel::embedded();
    let place = |body: Body| {
        let (there, here) = (kernel.position_km(body, tt).ok()?, kernel.position_km(Body::Earth, tt).ok()?);
        Some(LocalAxes::at(site.point()).horizontal(to_terrestrial(sub(there, here), tt, eclipse.delta_t().seconds)))
    };
    let sun = place(Body::Sun);
    [
        ("Mercury", Body::Mercury, 0.5),
        ("Venus", Body::Venus, -4.0),
        ("Mars", Body::Mars, 1.5),
        ("Jupiter", Body::Jupiter, -2.0),
        ("Saturn", Body::Saturn, 0.6),
    ]
    .into_iter()
    .filter_map(|(name, body, magnitude)| {
        let (at, sun) = (place(body)?, sun?);
        let (h1, h2, da) = (
            at.altitude_deg.to_radians(),
            sun.altitude_deg.to_radians(),
            (at.azimuth_deg - sun.azimuth_deg).to_radians(),
        );
        let apart = (h1.sin() * h2.sin() + h1.cos() * h2.cos() * da.cos()).clamp(-1.0, 1.0).acos().to_degrees();
        Some(SkyEntry {
            body: name.into(),
            altitude_deg: rounded(at.altitude_deg, 1),
            azimuth_deg: rounded(at.azimuth_deg, 1),
            magnitude,
            sun_separation_deg: rounded(apart, 1),
            visible: at.altitude_deg > 3.0 && magnitude < 1.0,
        })
    })
    .collect()
}

/// The path and the sites, degrees on a plain grid.
fn plain_map(eclipse: &Eclipse, sites: &[SiteEntry], width: f64, height: f64, id: &str) -> MapDrawing {
    let path = eclipse.path(60.0);
    let around: Vec<[f64; 2]> = path.central_line.iter().map(|p| [p.lon_deg.rem_euclid(360.0), p.lat_deg]).collect();
    let bounds = |i: usize, spare: f64| {
        let (low, high) = around.iter().fold((f64::MAX, f64::MIN), |(l, h), p| (l.min(p[i]), h.max(p[i])));
        (low - spare, high + spare)
    };
    let ((west, east), (south, north)) = (bounds(0, 4.0), bounds(1, 6.0));
    let scale = ((width / (east - west)).min(height / (north - south))).max(0.1);
    let page = |lat: f64, lon: f64| [(lon.rem_euclid(360.0) - west) * scale, (north - lat) * scale];
    let (width, height) = (((east - west) * scale).round(), ((north - south) * scale).round());
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" role=\"img\" aria-labelledby=\"{id}-t\"><title id=\"{id}-t\">Plain map of the path</title><rect width=\"{width}\" height=\"{height}\" fill=\"#dbe3e8\"/>"
    );
    let line = |points: &[GeoPoint]| {
        points.iter().enumerate().fold(String::new(), |mut out, (i, p)| {
            let [x, y] = page(p.lat_deg, p.lon_deg);
            let _ = write!(out, "{}{x:.1} {y:.1}", if i == 0 { 'M' } else { 'L' });
            out
        })
    };
    let _ = write!(
        svg,
        "<g role=\"group\" aria-label=\"Path of the central phase\"><path d=\"{}Z\" fill=\"#c76a8f\" fill-opacity=\"0.5\"/></g>",
        line(&path.polygon)
    );
    let _ = write!(
        svg,
        "<g role=\"group\" aria-label=\"Limits and central line\" fill=\"none\" stroke=\"#22262c\"><path d=\"{}\" stroke-dasharray=\"8 3 2 3\"/></g><g role=\"group\" aria-label=\"Candidate sites\">",
        line(&path.central_line)
    );
    for site in sites.iter().take(300) {
        let [x, y] = page(site.lat_deg, site.lon_deg);
        let fill = if site.rank.is_some() { "#6f1d4d" } else { "none" };
        let _ = write!(svg, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"7\" fill=\"{fill}\" stroke=\"#22262c\"/>");
    }
    svg.push_str("</g></svg>");
    let window = [0.0, 0.0, width, height];
    let inverse = |p: [f64; 2]| GeoPoint::new(north - p[1] / scale, (west + p[0] / scale).rem_euclid(360.0)).ok();
    MapDrawing { svg, window, unproject: Unprojection::sample(window, inverse), towns: Vec::new() }
}
