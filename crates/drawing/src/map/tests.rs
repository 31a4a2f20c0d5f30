//! Whole maps, looked at through independent parsers. Path, field and sites are invented.

use std::sync::Arc;

use chrono::{TimeZone as _, Utc};
use noonfall_ephemeris::{GeoPoint, Tt};
use noonfall_shadow::geodesy::{bearing_deg, destination};
use resvg::usvg;

use super::*;
use crate::fonts;
use crate::projection::{angle_deg, unit_vector};

fn at(lat_deg: f64, lon_deg: f64) -> GeoPoint {
    GeoPoint { lat_deg, lon_deg }
}

/// A path of 200 km along a great circle, at 0.8 km/s, an hour long.
fn invented_path(from: GeoPoint, bearing: f64) -> PathLines {
    let start = Tt::from_utc(Utc.with_ymd_and_hms(2028, 7, 22, 2, 0, 30).single().expect("an instant"));
    let mut path = PathLines {
        centrality: Centrality::Total,
        central_line: vec![Vec::new()],
        north_limit: vec![Vec::new()],
        south_limit: vec![Vec::new()],
        true_limits: None,
        edge_grid: None,
        polygon: Vec::new(),
        instants: Vec::new(),
        longest_s: 160.0,
    };
    for i in 0..=120 {
        let central = destination(from, bearing, f64::from(i) * 24.0);
        let ahead = destination(from, bearing, f64::from(i) * 24.0 + 1.0);
        let heading = bearing_deg(central, ahead);
        let (north, south) = (destination(central, heading - 90.0, 100.0), destination(central, heading + 90.0, 100.0));
        path.central_line[0].push(central);
        path.north_limit[0].push(north);
        path.south_limit[0].push(south);
        path.instants.push(PathInstant {
            tt: start.plus(f64::from(i) * 30.0),
            north: Some(north),
            central: Some(central),
            south: Some(south),
        });
    }
    let mut ring = path.north_limit[0].clone();
    ring.extend(path.south_limit[0].iter().rev());
    path.polygon.push(ring);
    path
}

/// Falls off from the central line like a circle's chord; the Sun climbs along it.
struct InventedField(Vec<[f64; 3]>);

fn invented_field(path: &PathLines) -> InventedField {
    InventedField(path.central_line[0].iter().map(|p| unit_vector(*p)).collect())
}

fn km_apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    angle_deg(a, b).to_radians() * 6371.0
}

impl ShadowField for InventedField {
    fn sample(&self, p: GeoPoint) -> ShadowSample {
        let v = unit_vector(p);
        let nearness = |c: &[f64; 3]| c[0] * v[0] + c[1] * v[1] + c[2] * v[2];
        let (i, c) = self.0.iter().enumerate().max_by(|a, b| nearness(a.1).total_cmp(&nearness(b.1))).expect("a line");
        let inside = 1.0 - (km_apart(*c, v) / 100.0).powi(2);
        ShadowSample {
            duration_s: if inside > 0.0 { 160.0 * inside.sqrt() } else { 0.0 },
            sun_apparent_altitude_deg: 5.0 + 0.5 * i as f64,
        }
    }
}

fn site(rank: Option<u32>, name: &str, point: GeoPoint) -> MapSite {
    MapSite {
        rank,
        name: name.to_owned(),
        point,
        score: 0.6,
        clear_probability: Some(0.4),
        totality_s: 131.0,
        sun_apparent_altitude_deg: Some(33.0),
        rejected: rank.is_none().then(|| "outside the path".to_owned()),
        highlighted: false,
    }
}

fn sheet<'a>(path: &'a PathLines, field: &'a dyn ShadowField, sites: Vec<MapSite>) -> MapSheet<'a> {
    MapSheet {
        id: "m".to_owned(),
        title: "Total eclipse, invented".to_owned(),
        subtitle: "Where to stand".to_owned(),
        path,
        field,
        sites,
        towns: Vec::new(),
        clouds: None,
        ground: None,
        roads: Vec::new(),
        links: Vec::new(),
        base: None,
        zone: None,
        notes: vec!["ΔT 69.4 s ± 0.5 s; 1 s moves the path 0.4 km.".to_owned()],
        credits: vec!["Place names: GeoNames, CC BY 4.0".to_owned()],
        invented: true,
        extent: Extent::WholePath,
        page: PageSize::WIDE,
        furniture: Furniture::Full,
        fonts: crate::svg::FontEmbedding::FromPage,
    }
}

/// All texts with their boxes on the page, as an independent library lays them out; turned words are left out.
fn texts(svg: &str) -> Vec<(String, usvg::Rect)> {
    let mut database = usvg::fontdb::Database::new();
    fonts::all_faces().iter().for_each(|f| database.load_font_data(f.to_vec()));
    database.set_sans_serif_family(fonts::FAMILY);
    let options = usvg::Options { fontdb: Arc::new(database), ..usvg::Options::default() };
    let tree = usvg::Tree::from_str(svg, &options).expect("usvg reads the map");
    let mut out = Vec::new();
    fn walk(group: &usvg::Group, out: &mut Vec<(String, usvg::Rect)>) {
        for node in group.children() {
            match node {
                usvg::Node::Group(g) => walk(g, out),
                usvg::Node::Text(t) if !t.abs_transform().has_skew() => {
                    let words: String = t.chunks().iter().map(usvg::TextChunk::text).collect();
                    // The letters' own outlines: line boxes of fallback faces are far taller than what is seen.
                    out.push((words, t.flattened().abs_bounding_box()));
                }
                _ => {}
            }
        }
    }
    walk(tree.root(), &mut out);
    out
}

fn assert_no_overlap(svg: &str) {
    let texts = texts(svg);
    for (i, (a, r)) in texts.iter().enumerate() {
        for (b, s) in &texts[..i] {
            // Two descenders may come close to the letters below without the eye minding.
            let spare = r.height().min(s.height()) * 0.1;
            let apart = r.right() <= s.left() + 1.0
                || s.right() <= r.left() + 1.0
                || r.bottom() <= s.top() + spare
                || s.bottom() <= r.top() + spare;
            assert!(apart, "{a:?} {r:?} meets {b:?} {s:?}");
        }
    }
}

fn assert_inside(svg: &str, page: PageSize) {
    for (words, r) in texts(svg) {
        assert!(
            f64::from(r.left()) >= -0.5
                && f64::from(r.right()) <= page.width + 0.5
                && f64::from(r.bottom()) <= page.height + 0.5,
            "{words:?} leaves the page: {r:?}"
        );
    }
}

#[test]
fn crowded_maps_keep_their_words_apart_on_every_page() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    let mut sites: Vec<MapSite> = (0..30u32)
        .map(|i| {
            let centre = path.central_line[0][(i as usize * 7) % 120];
            let p = destination(centre, f64::from(i) * 47.0, f64::from(i % 5) * 22.0);
            site(Some(i + 1), &format!("Somewhere near nowhere {i}"), p)
        })
        .collect();
    sites.push(site(None, "Just outside", destination(path.north_limit[0][60], 0.0, 30.0)));
    for page in [PageSize::WIDE, PageSize::TALL] {
        let mut sheet = sheet(&path, &field, sites.clone());
        sheet.page = page;
        sheet.zone = Some(chrono_tz::Australia::Darwin);
        sheet.links =
            vec![FallbackLink { from: sites[0].point, to: sites[3].point, label: "3 h, leave by 09:40".to_owned() }];
        let whole = overview(&sheet).expect("an overview");
        assert_no_overlap(&whole);
        assert_inside(&whole, page);
        let near = regional(&sheet, View { centre: sites[4].point, reach_km: 250.0 }).expect("a regional map");
        assert_no_overlap(&near);
        assert_inside(&near, page);
        for words in ["INVENTED DEMO DATA", "Natural Earth", "GeoNames", "ISO 12312-2", "ΔT 69.4 s", "UTC"] {
            assert!(whole.contains(words) && near.contains(words), "{words}");
        }
    }
}

#[test]
fn hostile_names_come_back_whole_and_long_ones_are_cut() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    let long = "Ballachulish-on-the-Water ".repeat(12);
    let names = ["O'Brien's \"Camp\" <b>&amp;</b>", "🌒🏕️ Lager", "قرية الشمس", "=cmd|' /C calc'!A0", long.as_str()];
    let sites =
        (1u32..).zip(names).map(|(i, name)| site(Some(i), name, path.central_line[0][20 * i as usize])).collect();
    let mut sheet = sheet(&path, &field, sites);
    sheet.title = names[0].to_owned();
    let svg = overview(&sheet).expect("a map");
    let document = roxmltree::Document::parse(&svg).expect("well-formed");
    let whole =
        |n: roxmltree::Node| -> String { n.descendants().filter(|n| n.is_text()).filter_map(|n| n.text()).collect() };
    let written: Vec<String> = document.descendants().filter(|n| n.has_tag_name("text")).map(whole).collect();
    for name in &names[..4] {
        assert!(written.iter().any(|w| w == name), "{name}");
    }
    let cut = written.iter().find(|w| w.starts_with("Ballachulish")).expect("the long name");
    assert!(cut.ends_with('…') && cut.chars().count() < 40);
    assert_inside(&svg, PageSize::WIDE);
    assert_no_overlap(&svg);
}

#[test]
fn none_one_and_ten_thousand_sites() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    for (count, discs) in [(0u32, 0usize), (1, 1), (10_000, sites::MOST_NUMBERED)] {
        let sites = (0..count)
            .map(|i| {
                let centre = path.central_line[0][i as usize % 121];
                site(Some(i + 1), "Camp", destination(centre, f64::from(i) * 137.5, f64::from(i % 90)))
            })
            .collect();
        let svg = overview(&sheet(&path, &field, sites)).expect("a map");
        assert!(svg.len() < 1_500_000, "{count} sites: {} bytes", svg.len());
        let numbered = texts(&svg)
            .iter()
            .filter(|(words, r)| words.parse::<u32>().is_ok() && f64::from(r.bottom()) < 620.0)
            .count();
        assert!(numbered <= discs && numbered * 4 >= discs * 3, "{count}: {numbered}");
    }
}

#[test]
fn a_path_over_the_date_line_and_past_the_pole_stays_in_one_piece() {
    for (from, bearing) in [(at(5.0, 172.0), 80.0), (at(75.0, 100.0), 10.0), (at(-70.0, -175.0), 200.0)] {
        let path = invented_path(from, bearing);
        let field = invented_field(&path);
        let svg =
            overview(&sheet(&path, &field, vec![site(Some(1), "Here", path.central_line[0][60])])).expect("a map");
        let document = roxmltree::Document::parse(&svg).expect("well-formed");
        let group = document
            .descendants()
            .find(|n| n.attribute("aria-label") == Some("Limits and central line"))
            .expect("the lines");
        // Two limits in one path, the central line (with the pale line beneath it) in others: a tear would add a piece.
        let pieces: Vec<usize> =
            group.children().filter_map(|n| n.attribute("d")).map(|d| d.matches('M').count()).collect();
        assert!(pieces[0] == 2 && pieces[1..].iter().all(|n| *n == 1), "{from:?}: {pieces:?}");
        assert!(!svg.contains("NaN"));
    }
}

#[test]
fn the_same_map_twice_and_on_one_thread() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    let sites: Vec<MapSite> = (1..=9).map(|i| site(Some(i), "Camp", path.central_line[0][i as usize * 12])).collect();
    let sheet = sheet(&path, &field, sites);
    let draw = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| overview(&sheet)).expect("a map")
    };
    let first = draw(1);
    assert!(first == draw(3) && first == draw(1));
}

#[test]
fn duration_steps_lie_where_the_field_puts_them() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    let sheet = sheet(&path, &field, Vec::new());
    let centre = path.central_line[0][60];
    let window = crate::projection::Window { x: 0.0, y: 0.0, width: 600.0, height: 600.0 };
    let frame = crate::projection::Frame::around(centre, 150.0, window).expect("frame");
    let grid = field_grid::FieldGrid::sampled(&frame, sheet.field, &[], 3.0, f64::INFINITY);
    let squares: Vec<f64> = grid.duration_s.iter().map(|d| d * d).collect();
    // At 60 s the invented ellipse is 100 km times sqrt(1 - (60/160)^2) from the central line.
    let expected = 100.0 * (1.0f64 - (60.0f64 / 160.0).powi(2)).sqrt();
    let lines = grid.lines_at(&squares, 3600.0, -1.0);
    let mut seen = 0;
    for p in lines.iter().flatten().filter(|p| window.holds(**p, 60.0)) {
        let g = frame.place(*p).expect("a place");
        let d = field.0.iter().map(|c| km_apart(*c, unit_vector(g))).fold(f64::INFINITY, f64::min);
        // The line's points are 24 km apart, which shortens the distance by at most 0.8 km here.
        assert!((d - expected).abs() < 1.5, "{d} {expected}");
        seen += 1;
    }
    assert!(seen > 50);
}

#[test]
fn a_real_path_is_drawn_from_the_engine() {
    let eclipse = noonfall_shadow::Eclipse::on_date(
        noonfall_ephemeris::Kernel::embedded(),
        "2028-07-22".parse().expect("a date"),
        None,
        &noonfall_shadow::Conventions::default(),
    )
    .expect("an eclipse");
    let path = PathLines::of(&eclipse).expect("a path");
    // NASA/TP-2006-214141: central duration 5 m 10 s at greatest eclipse.
    assert!((path.longest_s - 310.0).abs() < 1.5, "{}", path.longest_s);
    let svg = overview(&sheet(&path, &eclipse, Vec::new())).expect("a map");
    assert!(svg.contains("03:00 UTC") || svg.contains("02:50 UTC"), "ticks at round times");
    assert_no_overlap(&svg);
}

#[test]
fn pages_without_room_are_refused() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    let mut sheet = sheet(&path, &field, Vec::new());
    for (width, height) in [(100.0, 900.0), (1200.0, 200.0), (f64::NAN, 900.0), (1200.0, f64::INFINITY)] {
        sheet.page = PageSize { width, height, text: 14.0 };
        assert!(matches!(overview(&sheet), Err(MapError::NoRoom { .. })), "{width} {height}");
    }
}

/// Colour of a drawing at places of the page.
fn colours(svg: &str, at: &[[f64; 2]]) -> Vec<[u8; 3]> {
    let tree = usvg::Tree::from_str(svg, &crate::raster::options()).expect("a drawing");
    let (width, height) = (tree.size().width() as u32, tree.size().height() as u32);
    let mut pixels = resvg::tiny_skia::Pixmap::new(width, height).expect("a picture");
    resvg::render(&tree, resvg::tiny_skia::Transform::identity(), &mut pixels.as_mut());
    let colour = |p: &[f64; 2]| {
        let c = pixels.pixel(p[0] as u32, p[1] as u32).expect("on the page");
        [c.red(), c.green(), c.blue()]
    };
    at.iter().map(colour).collect()
}

/// Issue 14: the path hid Mallorca. Land and sea of the same length of totality have different colours, and the coast is
/// drawn over the path.
#[test]
fn an_island_shows_inside_the_path() {
    let path = invented_path(at(39.6, -4.0), 88.0);
    let field = invented_field(&path);
    let sheet = sheet(&path, &field, Vec::new());
    let (svg, frame) = overview_with_frame(&sheet).expect("a map");
    // In the plain of Mallorca, and in the sea between it and the mainland (public coordinates, from memory).
    let places = [at(39.60, 3.0), at(39.55, 1.9)].map(|p| frame.page(p).expect("on the map"));
    let seen = colours(&svg, &places);
    let apart: i32 = (0..3).map(|i| (i32::from(seen[0][i]) - i32::from(seen[1][i])).abs()).sum();
    assert!(apart > 60, "{seen:?}");
    let order = |words: &str| svg.find(words).unwrap_or_else(|| panic!("{words}"));
    assert!(order("aria-label=\"Path, filled") < order("aria-label=\"Land lines"));
    assert!(order("aria-label=\"Land lines") < order("aria-label=\"Limits and central line"));
    assert!(svg.contains("Paler over sea and lakes"));
    assert_no_overlap(&svg);
}

/// Invented ground: a cone 2000 m high, and within 40 km of it the Sun is hidden.
struct InventedGround(GeoPoint);

impl GroundField for InventedGround {
    fn height_m(&self, p: GeoPoint) -> Option<f64> {
        let km = km_apart(unit_vector(self.0), unit_vector(p));
        (km < 120.0).then(|| (2000.0 - 40.0 * km).max(0.0))
    }

    fn margin_deg(&self, p: GeoPoint) -> Option<f64> {
        let km = km_apart(unit_vector(self.0), unit_vector(p));
        (km < 120.0).then_some(km - 40.0)
    }
}

#[test]
fn regional_maps_show_relief_and_hatch_what_hides_the_sun() {
    let path = invented_path(at(-20.0, 130.0), 120.0);
    let field = invented_field(&path);
    let centre = path.central_line[0][30];
    let ground = InventedGround(centre);
    let mut sheet = sheet(&path, &field, Vec::new());
    let view = View { centre, reach_km: 100.0 };
    let plain = regional(&sheet, view).expect("a map");
    assert!(!plain.contains("Relief") && !plain.contains("hides the Sun"));
    sheet.ground = Some(&ground);
    let svg = regional(&sheet, view).expect("a map");
    let document = roxmltree::Document::parse(&svg).expect("well-formed");
    let group = |start: &str| {
        let named = |n: &roxmltree::Node| n.attribute("aria-label").is_some_and(|l| l.starts_with(start));
        document.descendants().find(named).unwrap_or_else(|| panic!("{start}"))
    };
    let hatched = group("Ground that hides the Sun in totality, looked at every");
    // The hatched ring lies 40 km from the middle.
    let d = hatched.children().find_map(|n| n.attribute("d")).expect("a hatched piece");
    let numbers: Vec<f64> = d.split(|c: char| !"-.0123456789".contains(c)).filter_map(|v| v.parse().ok()).collect();
    assert!(numbers.len() > 20, "{d}");
    // One step darker and one lighter.
    assert!(group("Relief").children().filter(|n| n.is_element()).count() >= 2);
    assert!(svg.contains("Ground hides the Sun in totality"));
    assert!(!svg.contains("NaN"));
    assert_no_overlap(&svg);
    assert_inside(&svg, PageSize::WIDE);
    // The side of the cone towards the light is lighter than the other.
    let full = crate::projection::Frame::around(centre, 100.0, {
        // The window as the drawing has it.
        let frame = document.descendants().filter(|n| n.has_tag_name("clipPath")).find_map(|n| {
            let rect = n.children().find(|c| c.has_tag_name("rect"))?;
            let of = |name: &str| rect.attribute(name)?.parse::<f64>().ok();
            Some(crate::projection::Window { x: of("x")?, y: of("y")?, width: of("width")?, height: of("height")? })
        });
        frame.expect("a window")
    })
    .expect("a frame");
    let near = |bearing: f64| full.page(destination(centre, bearing, 47.0)).expect("on the map");
    let seen = colours(&svg, &[near(315.0), near(135.0)]);
    let bright = |c: [u8; 3]| c.iter().map(|v| u32::from(*v)).sum::<u32>();
    assert!(bright(seen[0]) > bright(seen[1]) + 20, "{seen:?}");
    assert!(!overview(&sheet).expect("a map").contains("hides the Sun"));
}

/// Invented: five places within 60 km of one another, and four far apart.
fn crowded(path: &PathLines) -> Vec<MapSite> {
    let central = &path.central_line[0];
    let crowd = (0..5u32).map(|i| destination(central[60], f64::from(i) * 72.0, 25.0));
    let apart = [10, 35, 90, 112].map(|i| central[i]);
    crowd.chain(apart).zip(1u32..).map(|(p, rank)| site(Some(rank), &format!("Place {rank}"), p)).collect()
}

/// The numbers on discs, with their places.
fn numbered_discs(svg: &str) -> Vec<(u32, [f64; 2])> {
    let document = roxmltree::Document::parse(svg).expect("well-formed");
    let number =
        |n: &roxmltree::Node<'_, '_>, key| n.attribute(key).and_then(|v| v.parse::<f64>().ok()).expect("a number");
    document
        .descendants()
        .filter(|n| n.has_tag_name("text") && n.attribute("fill") == Some(crate::palette::PAPER))
        // The legend has discs of its own.
        .filter(|n| n.ancestors().any(|a| a.attribute("aria-label") == Some("Candidate sites")))
        .filter_map(|n| {
            let size = number(&n, "font-size");
            Some((n.text()?.parse().ok()?, [number(&n, "x"), number(&n, "y") - size * 0.36]))
        })
        .collect()
}

/// Roads of a plan stand on regional maps alone, inside the map, with their own line of the legend; without them the map is the
/// same to the byte as one that never heard of roads.
#[test]
fn regional_maps_show_the_roads_of_the_plan() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    let middle = path.central_line[0][60];
    let mut sheet = sheet(&path, &field, vec![site(Some(1), "Here", middle)]);
    let view = View { centre: middle, reach_km: 150.0 };
    let (plain, whole) = (regional(&sheet, view).unwrap(), overview(&sheet).unwrap());
    assert!(!plain.contains("Road"), "no roads, no word of them");
    // A road through the place and out of the map on both sides, and one that the map does not reach.
    let along = |bearing: f64, km: f64| destination(middle, bearing, km);
    sheet.roads = vec![vec![along(80.0, 400.0), along(80.0, 100.0), middle, along(260.0, 400.0)]];
    sheet.roads.push(vec![along(0.0, 900.0), along(0.0, 950.0)]);
    let with = regional(&sheet, view).unwrap();
    assert_eq!(with.matches("aria-label=\"Roads of the plan\"").count(), 1);
    assert_eq!(texts(&with).iter().filter(|(words, _)| words.starts_with("Road")).count(), 1);
    assert_no_overlap(&with);
    assert_eq!(overview(&sheet).unwrap(), whole, "an overview is too coarse for roads");
    // Only the piece inside the window is drawn.
    let group = with.split("aria-label=\"Roads of the plan\"").nth(1).unwrap();
    let d = group.split(" d=\"").nth(1).unwrap().split('"').next().unwrap();
    assert_eq!(d.matches('M').count(), 1, "{d}");
    // The first point as it stands, the others as steps from one to the next.
    let steps: Vec<f64> = d.replace('-', " -").split(['M', 'l', ' ']).filter_map(|n| n.parse().ok()).collect();
    assert!(steps.len() >= 4 && steps.len().is_multiple_of(2), "{d}");
    let mut p = [0.0, 0.0];
    for step in steps.chunks(2) {
        p = [p[0] + step[0], p[1] + step[1]];
        assert!((0.0..=PageSize::WIDE.width).contains(&p[0]) && (0.0..=PageSize::WIDE.height).contains(&p[1]), "{d}");
    }
    sheet.roads = vec![vec![along(0.0, 900.0), along(0.0, 950.0)]];
    assert!(!regional(&sheet, view).unwrap().contains("Roads of the plan"), "none in the map");
}

#[test]
fn a_crowd_is_parted_in_an_inset_whose_extent_the_map_marks() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    for page in [PageSize::WIDE, PageSize { height: 1000.0, ..PageSize::WIDE }] {
        let mut sheet = sheet(&path, &field, crowded(&path));
        sheet.page = page;
        let svg = overview(&sheet).expect("an overview");
        assert!(svg.contains("Inset A: 5 places") && svg.contains("Extents of the insets"));
        assert_no_overlap(&svg);
        assert_inside(&svg, page);
        let mut numbers: Vec<u32> = numbered_discs(&svg).into_iter().map(|(n, _)| n).collect();
        numbers.sort_unstable();
        assert_eq!(numbers, (1..=9).collect::<Vec<_>>(), "every place has one disc");
        for rank in 1..=5 {
            assert!(svg.contains(&format!(">Place {rank}<")), "{rank} is named");
        }
        // Without a crowd there is none.
        sheet.sites.retain(|s| s.rank > Some(4));
        assert!(!overview(&sheet).expect("an overview").contains("Inset"));
    }
}

#[test]
fn a_disc_that_moved_has_a_line_to_its_place_and_all_others_stand_there() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    let mut sheet = sheet(&path, &field, crowded(&path));
    // Bare drawings have no insets: here discs part by moving.
    sheet.furniture = Furniture::Bare;
    let (svg, frame) = overview_with_frame(&sheet).expect("an overview");
    let document = roxmltree::Document::parse(&svg).expect("well-formed");
    let number =
        |n: &roxmltree::Node<'_, '_>, key| n.attribute(key).and_then(|v| v.parse::<f64>().ok()).expect("a number");
    let lines: Vec<[[f64; 2]; 2]> = document
        .descendants()
        .filter(|n| n.has_tag_name("line"))
        .map(|n| [[number(&n, "x1"), number(&n, "y1")], [number(&n, "x2"), number(&n, "y2")]])
        .collect();
    let far = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let radius = sites::disc_radius(0.6, sheet.page.text) + sites::ring_room(sheet.page.text);
    let (mut moved, discs) = (0, numbered_discs(&svg));
    assert_eq!(discs.len(), 9);
    for (rank, disc) in discs {
        let place = frame.page(sheet.sites[rank as usize - 1].point).expect("on the map");
        if far(disc, place) < 0.02 {
            continue;
        }
        moved += 1;
        // The line begins at the true place and ends on the disc's rim.
        let shown = lines.iter().any(|[a, b]| far(*a, place) < 0.02 && (far(*b, disc) - radius).abs() < 0.02);
        assert!(shown, "{rank}: {disc:?} for {place:?}");
    }
    assert!(moved >= 3);
}

#[test]
fn a_base_that_is_no_candidate_is_marked_and_linked() {
    let path = invented_path(at(-14.0, 120.0), 120.0);
    let field = invented_field(&path);
    let mut sheet = sheet(&path, &field, crowded(&path));
    let point = destination(path.south_limit[0][60], 210.0, 60.0);
    sheet.base = Some(MapBase { name: "Camp <b>".to_owned(), point });
    sheet.links =
        vec![FallbackLink { from: point, to: sheet.sites[0].point, label: "2.0 h, leave by 07:10".to_owned() }];
    for svg in [
        overview(&sheet).expect("an overview"),
        regional(&sheet, View { centre: sheet.sites[0].point, reach_km: 250.0 }).expect("a regional map"),
    ] {
        assert!(svg.contains("Base: Camp &lt;b&gt;"));
        assert_no_overlap(&svg);
    }
    let near = regional(&sheet, View { centre: sheet.sites[0].point, reach_km: 250.0 }).expect("a regional map");
    assert!(near.contains("2.0 h, leave by 07:10") && near.contains("Fallback links"));
}
