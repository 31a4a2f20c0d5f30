//! Draws every map and chart from the demo's towns, as SVG and PNG, to be looked at:
//! `cargo run --release -p noonfall-render --example gallery -- OUT_DIR`.

use std::error::Error;
use std::path::{Path, PathBuf};

use noonfall_ephemeris::{GeoPoint, Kernel};
use noonfall_render::map::{
    FallbackLink, Furniture, MapSheet, MapSite, MapTown, PageSize, PathLines, View, overview, regional,
};
use noonfall_render::{raster, svg::FontEmbedding};
use noonfall_shadow::{Conventions, Eclipse, Site};

fn main() -> Result<(), Box<dyn Error>> {
    let out = PathBuf::from(std::env::args().nth(1).ok_or("give an output folder")?);
    std::fs::create_dir_all(&out)?;
    let root =
        std::env::args().nth(2).map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../.."), PathBuf::from);
    let eclipse = Eclipse::on_date(Kernel::embedded(), "2028-07-22".parse()?, None, &Conventions::default())?;
    let lines = PathLines::of(&eclipse).ok_or("no path")?;

    let mut sites = Vec::new();
    let mut reader = csv::Reader::from_path(root.join("data/demo/sites.csv"))?;
    for row in reader.records() {
        let row = row?;
        let (lat, lon): (f64, f64) = (row[1].parse()?, row[2].parse()?);
        let local = eclipse.local(&Site::new(lat, lon, row[3].parse()?)?);
        sites.push(MapSite {
            rank: None,
            name: row[0].to_owned(),
            point: GeoPoint::new(lat, lon)?,
            score: local.duration_s / 240.0,
            clear_probability: Some(0.25 + 0.6 * ((lat + 46.0) / 31.0).clamp(0.0, 1.0)),
            totality_s: local.duration_s,
            sun_altitude_deg: local.max.map(|m| m.sun_altitude_deg),
            rejected: (local.duration_s == 0.0).then(|| "outside the path".to_owned()),
            highlighted: false,
        });
    }
    sites.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut rank = 0;
    for site in sites.iter_mut().filter(|s| s.rejected.is_none()) {
        rank += 1;
        site.rank = Some(rank);
    }
    let mut towns = Vec::new();
    let places = flate2::read::GzDecoder::new(std::fs::File::open(root.join("data/places/places.csv.gz"))?);
    for row in csv::Reader::from_reader(places).records() {
        let row = row?;
        towns.push(MapTown {
            name: row[0].to_owned(),
            point: GeoPoint::new(row[1].parse()?, row[2].parse()?)?,
            population: row[3].parse()?,
        });
    }
    let mut grid = std::collections::HashMap::new();
    for row in csv::Reader::from_path(root.join("data/demo/clouds.csv"))?.records() {
        let row = row?;
        if &row[2] == "7" {
            let key = ((row[0].parse::<f64>()? / 2.5).round() as i32, (row[1].parse::<f64>()? / 2.5).round() as i32);
            grid.insert(key, row[3].parse::<f64>()? / 100.0);
        }
    }
    let clouds =
        move |p: GeoPoint| grid.get(&((p.lat_deg / 2.5).round() as i32, (p.lon_deg / 2.5).round() as i32)).copied();

    let sheet = |id: &str, page: PageSize| MapSheet {
        id: id.to_owned(),
        title: "Total solar eclipse of 22 July 2028".to_owned(),
        subtitle: "Where to stand: 16 sites ranked for first-timers".to_owned(),
        path: &lines,
        field: &eclipse,
        sites: sites.clone(),
        towns: Vec::new(),
        clouds: None,
        links: Vec::new(),
        zone: None,
        notes: vec![format!(
            "ΔT {:.1} s ± {:.1} s ({}).",
            eclipse.delta_t().seconds,
            eclipse.delta_t().sigma_s,
            eclipse.delta_t().origin
        )],
        credits: vec!["Place names: GeoNames, CC BY 4.0".to_owned()],
        invented: true,
        page,
        furniture: Furniture::Full,
        fonts: FontEmbedding::Embedded,
    };
    let save = |name: &str, svg: &str, scale: f64| -> Result<(), Box<dyn Error>> {
        std::fs::write(out.join(format!("{name}.svg")), svg)?;
        std::fs::write(out.join(format!("{name}.png")), raster::png(svg, scale)?)?;
        println!("{name}: {} kB", svg.len() / 1000);
        Ok(())
    };
    save("overview-wide", &overview(&sheet("ow", PageSize::WIDE))?, 1.0)?;
    save("overview-tall", &overview(&sheet("ot", PageSize::TALL))?, 2.0)?;
    let mut cloudy = sheet("oc", PageSize::WIDE);
    cloudy.clouds = Some(&clouds);
    save("overview-clouds", &overview(&cloudy)?, 1.0)?;

    let queenstown = GeoPoint::new(-45.03, 168.66)?;
    let mut south = sheet("rq", PageSize::WIDE);
    south.towns = towns.clone();
    south.zone = Some("Pacific/Auckland".parse()?);
    south.links = vec![FallbackLink {
        from: queenstown,
        to: GeoPoint::new(-45.8742, 170.5036)?,
        label: "4 h, leave by 10:20".to_owned(),
    }];
    save("regional-south", &regional(&south, View { centre: queenstown, reach_km: 160.0 })?, 1.0)?;
    let mut north = sheet("rk", PageSize::TALL);
    north.towns = towns.clone();
    save("regional-tall", &regional(&north, View { centre: GeoPoint::new(-15.78, 128.74)?, reach_km: 200.0 })?, 2.0)?;
    let mut inset = sheet("ri", PageSize::INSET);
    inset.furniture = Furniture::Bare;
    inset.towns = towns.clone();
    inset.zone = Some("Australia/Sydney".parse()?);
    save(
        "regional-inset",
        &regional(&inset, View { centre: GeoPoint::new(-32.243, 148.605)?, reach_km: 180.0 })?,
        2.5,
    )?;
    Ok(())
}
