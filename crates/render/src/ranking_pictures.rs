//! From a ranking to its maps and charts: fills the plain data that [`noonfall_drawing::map`] and [`noonfall_drawing::chart`] draw.

use noonfall_ephemeris::GeoPoint;
use noonfall_scoring::clocks::Clocks;
use noonfall_scoring::clouds::{Clouds, SolarTime};
use noonfall_scoring::input::roads::Roads;
use noonfall_scoring::outlook::totality::EdgeShown;
use noonfall_scoring::places::{Town, towns_within};
use noonfall_scoring::rank::{RankedSite, Ranking};
use noonfall_shadow::{Eclipse, Site};

use noonfall_drawing::chart::comparison::{ComparedQuantity, ComparedSite, Pair};
use noonfall_drawing::chart::{ChartError, ChartPage, comparison};
use noonfall_drawing::map::{
    self, Extent, FallbackLink, Furniture, GroundField, MapBase, MapError, MapSheet, MapSite, MapTown, PageSize,
    PathLines, View,
};
use noonfall_drawing::projection::Frame;
use noonfall_drawing::svg::FontEmbedding;
use noonfall_words::{self as words, numbers::duration};

/// Kilometres from a site to the nearer edges of its regional map.
pub const REGIONAL_REACH_KM: f64 = 170.0;

/// The same for the small map of a brief: a day trip's surroundings, with letters large enough to read in print.
pub const BRIEF_REACH_KM: f64 = 120.0;

/// Smallest place on a regional map.
const LEAST_TOWN: u64 = 1000;

/// The sites of a ranking as a map shows them.
#[must_use]
pub fn map_sites(ranking: &Ranking) -> Vec<MapSite> {
    ranking
        .sites
        .iter()
        .map(|s| (s, s.figures()))
        .map(|(s, told)| MapSite {
            rank: s.rank.and_then(|r| u32::try_from(r).ok()),
            name: s.name().to_owned(),
            point: point(s),
            score: told.score.unwrap_or(0.0),
            clear_probability: told.numbers.clear_sky,
            totality_s: s.found.numbers.totality_s,
            sun_apparent_altitude_deg: s.found.sun_apparent_altitude_deg(),
            rejected: (!s.found.rejected.is_empty()).then(|| s.found.rejected.join("; ")),
            highlighted: false,
        })
        .collect()
}

fn point(site: &RankedSite) -> GeoPoint {
    let told = site.figures();
    GeoPoint { lat_deg: told.lat_deg, lon_deg: told.lon_deg }
}

// What every sheet of a ranking shares.
fn sheet<'a>(
    ranking: &Ranking,
    path: &'a PathLines,
    eclipse: &'a Eclipse,
    id: &str,
    page: PageSize,
    fonts: FontEmbedding,
) -> MapSheet<'a> {
    let provenance = &ranking.provenance;
    let mut notes = vec![words::delta_t::of_ranking(&ranking.delta_t)];
    if ranking.utc_is_predicted {
        notes.push(words::delta_t::UTC_HELD.to_owned());
    }
    notes.push(words::origins::plan(&ranking.plan, &provenance.plan_sha256, provenance.program, provenance.version));
    let ranked = ranking.sites.iter().filter(|s| s.rank.is_some()).count();
    MapSheet {
        id: id.to_owned(),
        title: words::eclipse::title(ranking.kind.as_str(), eclipse.date()),
        subtitle: words::map::all_sites(ranking.title.as_deref(), ranked),
        path,
        field: eclipse,
        sites: map_sites(ranking),
        towns: Vec::new(),
        clouds: None,
        ground: None,
        roads: Vec::new(),
        links: Vec::new(),
        base: own_base(ranking),
        zone: None,
        notes,
        credits: ranking.provenance.credits.iter().filter(|c| !c.contains("Natural Earth")).cloned().collect(),
        invented: ranking.provenance.invented,
        extent: Extent::WholePath,
        page,
        furniture: Furniture::Full,
        fonts,
    }
}

/// The overview map of a ranking.
///
/// # Errors
/// [`MapError`] as [`map::overview()`].
pub fn overview(
    ranking: &Ranking,
    path: &PathLines,
    eclipse: &Eclipse,
    clouds: Option<map::CloudField<'_>>,
    extent: Extent,
    page: PageSize,
    fonts: FontEmbedding,
) -> Result<String, MapError> {
    map::overview(&overview_sheet(ranking, path, eclipse, clouds, extent, "overview", page, fonts))
}

/// The overview map for a page that carries title, legend and credits itself, with the frame that leads from a point of
/// the drawing back to a place. `id` prefixes the identifiers in it.
///
/// # Errors
/// [`MapError`] as [`map::overview()`].
pub fn bare_overview(
    ranking: &Ranking,
    path: &PathLines,
    eclipse: &Eclipse,
    clouds: Option<map::CloudField<'_>>,
    extent: Extent,
    id: &str,
    page: PageSize,
) -> Result<(String, Frame), MapError> {
    let mut sheet = overview_sheet(ranking, path, eclipse, clouds, extent, id, page, FontEmbedding::FromPage);
    sheet.furniture = Furniture::Bare;
    map::overview_with_frame(&sheet)
}

#[allow(clippy::too_many_arguments)]
fn overview_sheet<'a>(
    ranking: &Ranking,
    path: &'a PathLines,
    eclipse: &'a Eclipse,
    clouds: Option<map::CloudField<'a>>,
    extent: Extent,
    id: &str,
    page: PageSize,
    fonts: FontEmbedding,
) -> MapSheet<'a> {
    let mut sheet = sheet(ranking, path, eclipse, id, page, fonts);
    sheet.clouds = clouds;
    sheet.extent = extent;
    // One zone for all ranked sites, or none.
    let mut zones = ranking.sites.iter().filter(|s| s.rank.is_some()).map(|s| s.found.place.zone);
    let first = zones.next().flatten();
    sheet.zone = first.filter(|_| zones.all(|z| z == first));
    // From a base that is no candidate to the best site that can be driven to.
    sheet.links.extend(ranking.sites.iter().find_map(|s| way_from_base(ranking, s)));
    if let Some(pair) = ranking.fallback.as_ref().and_then(|f| f.best_pair.as_ref()) {
        sheet.links.extend(link(ranking, &pair.base, &pair.name, pair.drive_hours, &pair.leave_by_c1));
    }
    sheet
}

/// The regional map around the site at an index of the ranking, `reach_km` to its nearer edges; none when there is no such site.
///
/// # Errors
/// [`MapError`] as [`map::regional()`].
#[allow(clippy::too_many_arguments)]
pub fn regional(
    ranking: &Ranking,
    index: usize,
    path: &PathLines,
    eclipse: &Eclipse,
    clouds: Option<map::CloudField<'_>>,
    ground: Option<&dyn GroundField>,
    roads: Option<&Roads>,
    reach_km: f64,
    page: PageSize,
    furniture: Furniture,
    fonts: FontEmbedding,
) -> Result<Option<String>, MapError> {
    let Some(site) = ranking.sites.get(index) else { return Ok(None) };
    let mut sheet = sheet(ranking, path, eclipse, &format!("region-{index}"), page, fonts);
    sheet.furniture = furniture;
    sheet.clouds = clouds;
    sheet.ground = ground;
    sheet.subtitle = words::map::around(site.name(), site.rank, site.found.numbers.totality_s);
    sheet.zone = site.found.place.zone;
    if let Some(own) = sheet.sites.get_mut(index) {
        own.highlighted = true;
    }
    // The map's corners lie farther out than its edges.
    let reach = reach_km * page.width.max(page.height) / page.width.min(page.height).max(1.0) * 1.1;
    sheet.towns = towns_near(point(site), reach);
    if let Some(roads) = roads {
        sheet.roads = roads.lines_near(point(site), reach);
        sheet.credits.extend(roads.credit().map(str::to_owned));
    }
    sheet.links.extend(way_from_base(ranking, site));
    if let Some(f) = &site.fallback {
        sheet.links.extend(link(ranking, &f.base, &f.name, f.drive_hours, &f.leave_by_c1));
    }
    map::regional(&sheet, View { centre: point(site), reach_km }).map(Some)
}

/// Populated places within a distance of a point, for a map.
#[must_use]
pub fn towns_near(centre: GeoPoint, reach_km: f64) -> Vec<MapTown> {
    let lat = reach_km / 111.2;
    let widest = (centre.lat_deg.abs() + lat).min(89.0).to_radians().cos();
    let lon = (lat / widest).min(180.0);
    let (south, north) = ((centre.lat_deg - lat).max(-90.0), (centre.lat_deg + lat).min(90.0));
    let (west, east) = (centre.lon_deg - lon, centre.lon_deg + lon);
    // Across the date line there are two boxes.
    let mut found: Vec<&Town> = towns_within(south, north, west.max(-180.0), east.min(180.0), LEAST_TOWN);
    if west < -180.0 {
        found.extend(towns_within(south, north, west + 360.0, 180.0, LEAST_TOWN));
    }
    if east > 180.0 {
        found.extend(towns_within(south, north, -180.0, east - 360.0, LEAST_TOWN));
    }
    found.into_iter().map(|t| MapTown { name: t.name.clone(), point: t.point, population: t.population }).collect()
}

// Where the group sleeps, where that is none of the sites.
fn own_base(ranking: &Ranking) -> Option<MapBase> {
    let plan = ranking.fallback.as_ref().filter(|plan| !plan.base_at.is_site)?;
    let point = GeoPoint { lat_deg: plan.base_at.lat_deg, lon_deg: plan.base_at.lon_deg };
    Some(MapBase { name: plan.base.clone(), point })
}

// The drive from such a base to a site.
fn way_from_base(ranking: &Ranking, site: &RankedSite) -> Option<FallbackLink> {
    own_base(ranking)?;
    let way = site.from_base.as_ref()?;
    link(ranking, &way.base, &way.name, way.drive_hours, &way.leave_by_c1)
}

// The words carry the drive and the latest departure by the base's clocks.
fn link(ranking: &Ranking, base: &str, name: &str, hours: f64, leave_by: &Clocks) -> Option<FallbackLink> {
    let own = own_base(ranking);
    let find = |wanted: &str| {
        let site = ranking.sites.iter().find(|s| s.name() == wanted).map(point);
        site.or_else(|| own.as_ref().filter(|base| base.name == wanted).map(|base| base.point))
    };
    Some(FallbackLink { from: find(base)?, to: find(name)?, label: words::drives::on_map(hours, leave_by.civil()) })
}

/// The mean cloud amount at any place for the hour of maximum eclipse there, for a map's cloud layer; none beyond the
/// data's reach.
pub fn cloud_amount<'a>(clouds: &'a Clouds, eclipse: &'a Eclipse) -> impl Fn(GeoPoint) -> Option<f64> + Sync + 'a {
    move |p| {
        let quick = eclipse.quick(&Site::at_sea_level(p));
        // Amounts do not depend on the Sun's height, but the query asks for one above the horizon.
        let altitude = quick.sun_altitude_deg.max(1.0);
        let query = SolarTime::at(quick.max, p.lon_deg).query(p.lat_deg, p.lon_deg, altitude, None);
        clouds.figure(&query).ok().map(|figure| figure.cloud_fraction)
    }
}

// Ranked sites in order, as the comparison shows them.
fn compared(ranking: &Ranking) -> Vec<ComparedSite> {
    ranking
        .sites
        .iter()
        .filter(|s| s.rank.is_some())
        .map(|s| ComparedSite {
            rank: s.rank.and_then(|r| u32::try_from(r).ok()),
            name: s.name().to_owned(),
            sun_apparent_altitude_deg: s.found.sun_apparent_altitude_deg().unwrap_or(0.0),
            totality_s: s.found.numbers.totality_s,
            expected_clear_totality_s: s.figures().expected_clear_totality_s,
        })
        .collect()
}

/// Low Sun against high Sun, by durations at the given edge of the Moon.
///
/// # Errors
/// [`ChartError`] as [`comparison::comparison`].
pub fn comparison_chart(ranking: &Ranking, edge: EdgeShown, page: &ChartPage) -> Result<String, ChartError> {
    let pair = ranking.side_by_side.as_ref().map(|s| Pair {
        low: s.low.clone(),
        high: s.high.clone(),
        quantities: s
            .rows
            .iter()
            // Only what is more or less of something makes sense as a bar.
            .filter(|r| !matches!(r.quantity, "Sun's azimuth" | "Moon over Sun in size" | "First to second contact"))
            .filter_map(|r| {
                let (low, high) = (r.low?, r.high?);
                let most = low.abs().max(high.abs()).max(1e-9);
                let words = |v: f64| match r.unit {
                    "s" => duration(v),
                    "deg" => format!("{v:.1}°"),
                    "%" => format!("{v:.0} %"),
                    "" => format!("{v:.2}"),
                    unit => format!("{v} {unit}"),
                };
                Some(ComparedQuantity {
                    name: r.quantity.replace('\'', "’"),
                    low: ((low / most).max(0.0), words(low)),
                    high: ((high / most).max(0.0), words(high)),
                })
            })
            .collect(),
    });
    comparison::comparison(page, &compared(ranking), pair.as_ref(), edge)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use noonfall_scoring::{progress::Silent, trip};

    use super::*;

    #[test]
    fn the_demo_is_drawn_from_its_ranking() {
        let plan = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/demo/plan.toml");
        let outcome = trip::run(&plan, &trip::Options::default(), &Silent).expect("a ranking");
        let (ranking, eclipse) = (&outcome.ranking, &outcome.eclipse);
        let path = PathLines::of(eclipse).expect("a path");
        let amount = cloud_amount(&outcome.clouds, eclipse);
        let fonts = FontEmbedding::FromPage;
        let first = &ranking.sites[0];
        for extent in [Extent::WholePath, Extent::Sites] {
            let svg = overview(ranking, &path, eclipse, Some(&amount), extent, PageSize::WIDE, fonts).expect("a map");
            roxmltree::Document::parse(&svg).expect("well-formed");
            for words in ["Total solar eclipse of 22 July 2028", "INVENTED DEMO DATA", "CC BY 4.0", first.name()] {
                assert!(svg.contains(words), "{words}");
            }
            assert_eq!(svg.matches("Natural Earth").count(), 1);
        }
        for (furniture, page) in [(Furniture::Full, PageSize::WIDE), (Furniture::Bare, PageSize::INSET)] {
            let svg = regional(
                ranking,
                0,
                &path,
                eclipse,
                Some(&amount),
                None,
                None,
                REGIONAL_REACH_KM,
                page,
                furniture,
                fonts,
            )
            .expect("a map")
            .expect("a site");
            roxmltree::Document::parse(&svg).expect("well-formed");
            assert!(svg.contains("INVENTED DEMO DATA"));
        }
        let none = regional(
            ranking,
            9999,
            &path,
            eclipse,
            None,
            None,
            None,
            BRIEF_REACH_KM,
            PageSize::INSET,
            Furniture::Bare,
            fonts,
        );
        assert_eq!(none, Ok(None));
        let page = ChartPage { invented: true, ..ChartPage::new("c", 760.0, 720.0) };
        let chart = comparison_chart(ranking, outcome.rules.edge_shown(), &page).expect("a chart");
        roxmltree::Document::parse(&chart).expect("well-formed");
    }

    #[test]
    fn towns_are_found_on_both_sides_of_the_date_line() {
        // Fiji lies on both sides of the 180th meridian: Suva at 178.4° E, Lomaloma at 179.0° W (from memory).
        let towns = towns_near(GeoPoint { lat_deg: -17.3, lon_deg: 179.9 }, 250.0);
        assert!(towns.iter().any(|t| t.name == "Suva"));
        assert!(towns.iter().all(|t| t.point.lon_deg.abs() > 176.0));
    }
}
