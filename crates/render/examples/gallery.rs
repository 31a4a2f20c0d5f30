//! Draws every map and chart from the demo's towns, as SVG and PNG, to be looked at:
//! `cargo run --release -p noonfall-render --example gallery -- OUT_DIR`.

use std::error::Error;
use std::path::{Path, PathBuf};

use noonfall_drawing::chart::{ChartPage, sky};
use noonfall_drawing::map::{Extent, FallbackLink, Furniture, MapSheet, PageSize, PathLines, View, overview, regional};
use noonfall_drawing::{raster, svg::FontEmbedding};
use noonfall_ephemeris::{GeoPoint, Kernel};
use noonfall_render::ranking_pictures;
use noonfall_scoring::trip::Outcome;
use noonfall_shadow::{Conventions, Eclipse, Site};

fn main() -> Result<(), Box<dyn Error>> {
    let out = PathBuf::from(std::env::args().nth(1).ok_or("give an output folder")?);
    std::fs::create_dir_all(&out)?;
    let root =
        std::env::args().nth(2).map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../.."), PathBuf::from);
    let eclipse = Eclipse::on_date(Kernel::embedded(), "2028-07-22".parse()?, None, &Conventions::default())?;
    let lines = PathLines::of(&eclipse).ok_or("no path")?;

    let outcome = noonfall_scoring::trip::run(
        &root.join("data/demo/plan.toml"),
        &Default::default(),
        &noonfall_scoring::progress::Silent,
    )?;
    let sites = ranking_pictures::map_sites(&outcome.ranking);
    let clouds = ranking_pictures::cloud_amount(&outcome.clouds, &eclipse);

    let sheet = |id: &str, page: PageSize| MapSheet {
        id: id.to_owned(),
        title: "Total solar eclipse of 22 July 2028".to_owned(),
        subtitle: "Where to stand: 16 sites ranked for first-timers".to_owned(),
        path: &lines,
        field: &eclipse,
        sites: sites.clone(),
        towns: Vec::new(),
        clouds: None,
        ground: None,
        roads: Vec::new(),
        links: Vec::new(),
        base: None,
        zone: None,
        notes: vec![format!(
            "ΔT {:.1} s ± {:.1} s, {}.",
            eclipse.delta_t().seconds,
            eclipse.delta_t().sigma_s,
            eclipse.delta_t().origin
        )],
        credits: vec!["Place names: GeoNames, CC BY 4.0".to_owned()],
        invented: true,
        extent: Extent::WholePath,
        page,
        furniture: Furniture::Full,
        fonts: FontEmbedding::Embedded,
    };
    let save = |name: &str, svg: &str, scale: f64| -> Result<(), Box<dyn Error>> {
        std::fs::write(out.join(format!("{name}.svg")), svg)?;
        std::fs::write(out.join(format!("{name}.png")), raster::png(svg, scale)?)?;
        Ok(())
    };
    save("overview-wide", &overview(&sheet("ow", PageSize::WIDE))?, 1.0)?;
    save("overview-tall", &overview(&sheet("ot", PageSize::TALL))?, 2.0)?;
    for (name, page, scale) in [("sites-wide", PageSize::WIDE, 1.0), ("sites-tall", PageSize::TALL, 2.0)] {
        let mut near = sheet(name, page);
        near.extent = Extent::Sites;
        save(name, &overview(&near)?, scale)?;
    }
    let mut cloudy = sheet("oc", PageSize::WIDE);
    cloudy.clouds = Some(&clouds);
    save("overview-clouds", &overview(&cloudy)?, 1.0)?;

    let queenstown = GeoPoint::new(-45.03, 168.66)?;
    let mut south = sheet("rq", PageSize::WIDE);
    south.towns = ranking_pictures::towns_near(queenstown, 350.0);
    south.zone = Some("Pacific/Auckland".parse()?);
    south.links = vec![FallbackLink {
        from: queenstown,
        to: GeoPoint::new(-45.8742, 170.5036)?,
        label: "4 h, leave by 10:20".to_owned(),
    }];
    save("regional-south", &regional(&south, View { centre: queenstown, reach_km: 160.0 })?, 1.0)?;
    let mut north = sheet("rk", PageSize::TALL);
    let kununurra = GeoPoint::new(-15.78, 128.74)?;
    north.towns = ranking_pictures::towns_near(kununurra, 400.0);
    save("regional-tall", &regional(&north, View { centre: kununurra, reach_km: 200.0 })?, 2.0)?;
    let mut inset = sheet("ri", PageSize::INSET);
    inset.furniture = Furniture::Bare;
    let dubbo = GeoPoint::new(-32.243, 148.605)?;
    inset.towns = ranking_pictures::towns_near(dubbo, 350.0);
    inset.zone = Some("Australia/Sydney".parse()?);
    save("regional-inset", &regional(&inset, View { centre: dubbo, reach_km: 180.0 })?, 2.5)?;
    charts(&eclipse, &outcome, &save)
}

type Save<'a> = &'a dyn Fn(&str, &str, f64) -> Result<(), Box<dyn Error>>;

// Charts of the demo; the sky is invented.
fn charts(eclipse: &Eclipse, outcome: &Outcome, save: Save<'_>) -> Result<(), Box<dyn Error>> {
    let ranking = &outcome.ranking;
    let page = |id: &str, width, height| ChartPage { invented: true, ..ChartPage::new(id, width, height) };
    let comparison =
        ranking_pictures::comparison_chart(ranking, outcome.rules.edge_shown(), &page("cc", 760.0, 820.0))?;
    save("comparison", &comparison, 1.2)?;

    let queenstown = Site::new(-45.0302, 168.6627, 357.0)?;
    let local = eclipse.local(&queenstown);
    let max = local.max.ok_or("Queenstown sees the eclipse")?;
    let object = |name: &str, kind, turn: f64, altitude_deg, magnitude, visible| sky::SkyObject {
        name: name.to_owned(),
        kind,
        altitude_deg,
        azimuth_deg: (max.sun_azimuth_deg + turn).rem_euclid(360.0),
        magnitude,
        visible,
    };
    let sky_chart = sky::SkyChart {
        sun_apparent_altitude_deg: max.sun_apparent_altitude_deg,
        sun_azimuth_deg: max.sun_azimuth_deg,
        objects: vec![
            object("Venus", sky::SkyKind::Planet, 30.0, 34.0, -4.1, true),
            object("Mercury", sky::SkyKind::Planet, 12.0, 19.0, -0.8, true),
            object("Mars", sky::SkyKind::Planet, -25.0, 6.0, 1.7, false),
            object("Sirius", sky::SkyKind::Star, -70.0, 20.0, -1.5, true),
            object("Canopus", sky::SkyKind::Star, -120.0, 45.0, -0.7, true),
            object("Regulus", sky::SkyKind::Star, 40.0, 40.0, 1.4, false),
            object("Spica", sky::SkyKind::Star, 85.0, 62.0, 1.0, false),
        ],
        skyline: (0..360).map(|a| (f64::from(a), 3.0 + 2.0 * (f64::from(a) * 0.11).sin())).collect(),
    };
    save("sky", &sky::sky(&page("cs", 460.0, 380.0), &sky_chart)?, 1.8)
}
