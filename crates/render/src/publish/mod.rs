//! From a ranking to its files: fills the plain structs of maps, charts, brief, page and exchange formats.
//!
//! Everything else in this crate knows nothing of plans and rankings; this room is where the two meet. [`Publication`] gathers
//! what all files need once, [`Publication::files`] and [`Publication::long_files`] name and make them.

mod brief_facts;
mod edge_pictures;
mod unset_letters;

use crate::brief::{Paper, TypesetError, brief_pdf};
use crate::ranking_pictures::{self, REGIONAL_REACH_KM, cloud_amount};
use crate::report::{GroundEntry, ReportError, ReportInput, report_html, report_model};
use noonfall_drawing::chart::{ChartError, ChartPage};
use noonfall_drawing::map::{CloudField, Extent, Furniture, GroundField, MapError, PageSize, PathLines};
use noonfall_drawing::map_pdf::map_pdf;
use noonfall_drawing::raster::{self, RasterError};
use noonfall_drawing::svg::FontEmbedding;
use noonfall_drawing::svg_files;
use noonfall_exchange::{ExchangeError, ExportPath, ExportSite, calendar, geojson, gpx, kml, ranking, unique_slugs};
use noonfall_scoring::assess::Assessed;
use noonfall_scoring::input::terrain::TerrainError;
use noonfall_scoring::outlook::edge_strip::{EdgeStrip, edge_strips};
use noonfall_scoring::outlook::offer::{Offer, OfferSettings};
use noonfall_scoring::outlook::skyline::GroundView;
use noonfall_scoring::outlook::totality::EdgeShown;
use noonfall_scoring::outlook::true_limit::{TrueLimitNear, true_limit_near};
use noonfall_scoring::outlook::window::NoWindow;
use noonfall_scoring::plan::SvgText;
use noonfall_scoring::rank::RankedSite;
use noonfall_scoring::trip::Outcome;
use noonfall_shadow::Path;
use noonfall_shadow::moon_edge::{EdgeLattice, LimitSearch};
use noonfall_words as words;
use noonfall_words::brief::BriefModel;
use rayon::prelude::*;
use std::io::{self, Write};
use std::sync::Arc;

pub use unset_letters::unset_letters;

/// Seconds between the instants of the path that maps and files carry.
const PATH_STEP_S: f64 = 60.0;

/// Seconds between the points of the limits at the Moon's measured edge: at most some 20 km.
const TRUE_LIMITS_STEP_S: f64 = 20.0;

/// How many of the best sites are described in full on the report page and in the calendar.
pub const DESCRIBED: usize = 24;

/// Pixels to a drawing unit in the PNG of the map: sharp on a phone and in print at half a page.
const PNG_SCALE: f64 = 1.5;

/// Why a file could not be made.
#[derive(Debug, thiserror::Error)]
pub enum PublishError {
    /// A picture.
    #[error("a map could not be turned into a picture: {0}")]
    Raster(#[from] RasterError),
    /// A map.
    #[error("a map could not be drawn: {0}")]
    Map(#[from] MapError),
    /// A chart.
    #[error("a chart could not be drawn: {0}")]
    Chart(#[from] ChartError),
    /// A brief.
    #[error("a brief could not be set: {0}")]
    Brief(#[from] TypesetError),
    /// The report page.
    #[error("the report page could not be made: {0}")]
    Report(#[from] ReportError),
    /// The ground that the page carries.
    #[error("the ground could not be read: {0}")]
    Terrain(#[from] TerrainError),
    /// A file for other programs.
    #[error(transparent)]
    Exchange(#[from] ExchangeError),
}

/// A file of the report.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedFile {
    /// Name, without folders.
    pub name: String,
    /// Content.
    pub bytes: Vec<u8>,
}

/// Writes a file piece by piece.
pub type FileWriter<'a> = Box<dyn FnOnce(&mut dyn Write) -> io::Result<()> + 'a>;

/// A file of the report that is written piece by piece.
pub struct LongFile<'a> {
    /// Name, without folders.
    pub name: &'static str,
    /// Writes it.
    pub write: FileWriter<'a>,
}

impl<'a> LongFile<'a> {
    fn new(name: &'static str, write: impl FnOnce(&mut dyn Write) -> io::Result<()> + 'a) -> LongFile<'a> {
        LongFile { name, write: Box::new(write) }
    }
}

impl NamedFile {
    fn new(name: impl Into<String>, bytes: Vec<u8>) -> NamedFile {
        NamedFile { name: name.into(), bytes }
    }
}

/// Makes some of the files.
type Piece<'a> = Box<dyn Fn() -> Result<Vec<NamedFile>, PublishError> + Send + Sync + 'a>;

/// What all files of a report need, computed once.
pub struct Publication<'a> {
    outcome: &'a Outcome,
    path: Path,
    lines: PathLines,
    /// The Moon's measured edge, where outputs show it.
    lattice: Option<&'a EdgeLattice>,
    /// What is told of the sites, by their place in the ranking, to the last that is described in full.
    described: Vec<Described>,
}

/// What only sites have that are described in full.
#[derive(Default)]
struct Described {
    /// What there is to see.
    offer: Option<Offer>,
    /// The Moon's edge at the contacts, where there is a window for unaided eyes.
    strips: Option<[EdgeStrip; 2]>,
    /// How near the line beyond which that edge leaves no totality is, where that is near.
    near_limit: Option<TrueLimitNear>,
}

impl Described {
    /// One solver for all: what one question learns of the edge serves the next.
    fn of(outcome: &Outcome, settings: &OfferSettings, found: &Assessed) -> Described {
        let rules = &outcome.rules;
        let Assessed { place, totality, decision, .. } = found;
        let mut solver = rules.solver();
        let offer = found.offer(outcome.kernel.get(), rules, &mut solver, settings);
        let truth = totality.truth.as_ref().filter(|_| decision.is_ok());
        let strips = truth.map(|truth| edge_strips(rules, &mut solver, &place.site, truth));
        let near_limit = match decision {
            Err(NoWindow::NotAsked) => true_limit_near(rules, &mut solver, totality, &place.site),
            _ => found.near_limit,
        };
        Described { offer, strips, near_limit }
    }
}

impl<'a> Publication<'a> {
    /// Gathers what the files need: the best sites are described in full.
    pub fn new(outcome: &'a Outcome) -> Publication<'a> {
        let places: Vec<usize> = (0..outcome.ranking.sites.len().min(DESCRIBED)).collect();
        Publication::for_sites(outcome, &places)
    }

    /// As [`Publication::new`], with the sites at these places in the ranking described in full.
    pub fn for_sites(outcome: &'a Outcome, places: &[usize]) -> Publication<'a> {
        let path = outcome.eclipse.path(PATH_STEP_S);
        // A ranking exists for an eclipse with a path only.
        let lines = PathLines::of(&outcome.eclipse).unwrap_or_default();
        let lattice = (outcome.rules.edge_shown() == EdgeShown::True).then(|| outcome.rules.lattice());
        let lines = match lattice {
            Some(lattice) => {
                let limits = LimitSearch::new(Arc::clone(lattice), TRUE_LIMITS_STEP_S);
                lines.with_true_limits(limits, outcome.rules.heights().grid())
            }
            None => lines,
        };
        let lattice = lattice.map(Arc::as_ref);
        let sites = &outcome.ranking.sites;
        let sites = &sites[..places.iter().map(|place| place + 1).max().unwrap_or(0).min(sites.len())];
        let settings = outcome.plan.sky.offer_settings();
        let one = |(place, site): (usize, &RankedSite)| {
            if places.contains(&place) { Described::of(outcome, &settings, &site.found) } else { Described::default() }
        };
        let described = sites.par_iter().enumerate().map(one).collect();
        Publication { outcome, path, lines, lattice, described }
    }

    fn offer(&self, place: usize) -> Option<&Offer> {
        self.described.get(place)?.offer.as_ref()
    }

    fn strips(&self, place: usize) -> Option<&[EdgeStrip; 2]> {
        self.described.get(place)?.strips.as_ref()
    }

    fn near_limit(&self, place: usize) -> Option<&TrueLimitNear> {
        self.described.get(place)?.near_limit.as_ref()
    }

    /// The sites as files for other programs have them, made one by one.
    fn exported(&self) -> impl Iterator<Item = ExportSite> + Clone {
        (0..self.outcome.ranking.sites.len()).map(|place| self.export(place))
    }

    fn export(&self, place: usize) -> ExportSite {
        ranking::site(&self.outcome.ranking.sites[place], self.offer(place))
    }

    /// The files of the report folder that grow with the number of sites, to be written piece by piece.
    pub fn long_files(&self) -> Vec<LongFile<'_>> {
        let head = || ranking::head(self.outcome);
        let path = || ExportPath::of(&self.path);
        vec![
            LongFile::new(ranking::RANKING_JSON, |out| ranking::write_ranking(self.outcome, out)),
            LongFile::new(ranking::RANKING_CSV, |out| ranking::write_table(self.outcome, out)),
            LongFile::new("sites.geojson", move |out| geojson::write(&head(), &path(), self.exported(), out)),
            LongFile::new("sites.kml", move |out| kml::write(&head(), &path(), self.exported(), out)),
            LongFile::new("sites.gpx", move |out| gpx::write(&head(), &path(), self.exported(), out)),
        ]
    }

    /// All other files of the report folder.
    ///
    /// # Errors
    /// [`PublishError`] if a file cannot be made.
    pub fn files(&self) -> Result<Vec<NamedFile>, PublishError> {
        let ranking = &self.outcome.ranking;
        let head = &ranking::head(self.outcome);
        let slugs = unique_slugs(ranking.sites.iter().map(RankedSite::name));
        let best = ranking.sites.iter().take_while(|s| s.rank.is_some()).count().min(self.outcome.plan.output.briefs);
        let group_calendar = || {
            let described: Vec<_> = self.exported().filter(|s| s.rank.is_some()).take(DESCRIBED).collect();
            Ok(vec![NamedFile::new("contacts.ics", calendar::contacts(head, &described, self.stamp()).into_bytes())])
        };
        let of_place = &|place: usize| -> Result<Vec<NamedFile>, PublishError> {
            let brief = brief_pdf(&[self.brief(place)?], Paper::A4)?;
            let region = self.region(place)?;
            let contacts = calendar::contacts(head, &[self.export(place)], self.stamp());
            let named =
                |kind: &str, ending: &str, bytes| NamedFile::new(format!("{kind}-{}.{ending}", slugs[place]), bytes);
            Ok(vec![
                named("brief", "pdf", brief),
                named("map", "png", raster::png(&region, PNG_SCALE)?),
                named("map", "pdf", self.drawing_pdf(&region)?),
                named("map", "svg", self.svg_file(&region)?),
                named("contacts", "ics", contacts.into_bytes()),
            ])
        };
        // Each takes its time and none needs another; they come in this order, whichever is ready first.
        let mut pieces: Vec<Piece<'_>> = vec![
            Box::new(|| Ok(vec![NamedFile::new("report.html", self.report()?.into_bytes())])),
            Box::new(|| self.map_files()),
            Box::new(|| Ok(vec![NamedFile::new("path.svg", self.svg_file(&self.overview(Extent::WholePath)?)?)])),
            Box::new(|| {
                let chart = self.comparison()?;
                chart.iter().map(|chart| Ok(NamedFile::new("comparison.svg", self.svg_file(chart)?))).collect()
            }),
        ];
        if self.outcome.plan.output.group_calendar {
            pieces.push(Box::new(group_calendar));
        }
        pieces.extend((0..best).map(|place| -> Piece<'_> { Box::new(move || of_place(place)) }));
        let made: Vec<Result<Vec<NamedFile>, PublishError>> = pieces.par_iter().map(|piece| piece()).collect();
        let mut files = Vec::new();
        for piece in made {
            files.extend(piece?);
        }
        Ok(files)
    }

    /// The map of the sites in its three forms.
    fn map_files(&self) -> Result<Vec<NamedFile>, PublishError> {
        let map = self.overview(Extent::Sites)?;
        Ok(vec![
            NamedFile::new("map.png", raster::png(&map, PNG_SCALE)?),
            NamedFile::new("map.pdf", self.drawing_pdf(&map)?),
            NamedFile::new("map.svg", self.svg_file(&map)?),
        ])
    }

    /// A drawing as a file of its own, its words as the plan wants them.
    fn svg_file(&self, drawing: &str) -> Result<Vec<u8>, PublishError> {
        let file = match self.outcome.plan.output.svg_text {
            SvgText::Text => svg_files::with_widths(drawing)?,
            SvgText::Outlines => svg_files::outlined(drawing)?,
        };
        Ok(file.into_bytes())
    }

    /// A time stamp that depends on the input alone: midnight UTC of the day of the eclipse.
    fn stamp(&self) -> chrono::DateTime<chrono::Utc> {
        noonfall_ephemeris::time_scales::midnight_utc(self.outcome.eclipse.date())
    }

    /// The place in the ranking of a site by its name.
    pub fn place_of(&self, name: &str) -> Option<usize> {
        self.outcome.ranking.sites.iter().position(|s| s.name() == name)
    }

    /// What the brief of the site at a place in the ranking says.
    ///
    /// # Errors
    /// [`PublishError`] if its pictures cannot be drawn.
    pub fn brief(&self, place: usize) -> Result<BriefModel, PublishError> {
        brief_facts::model(self, place)
    }

    /// The map with all sites: of the whole path, or of the part of it where the sites are.
    ///
    /// # Errors
    /// [`MapError`] if it cannot be drawn.
    pub fn overview(&self, extent: Extent) -> Result<String, MapError> {
        let (ranking, eclipse) = (&self.outcome.ranking, &self.outcome.eclipse);
        let (page, fonts) = (PageSize::WIDE, FontEmbedding::Embedded);
        ranking_pictures::overview(ranking, &self.lines, eclipse, None, extent, page, fonts)
    }

    /// The country around the site at a place in the ranking, with the mean cloud amount where the plan has cloud data.
    ///
    /// # Errors
    /// [`MapError`] if it cannot be drawn.
    pub fn region(&self, place: usize) -> Result<String, MapError> {
        let (ranking, eclipse) = (&self.outcome.ranking, &self.outcome.eclipse);
        let amount = cloud_amount(&self.outcome.clouds, eclipse);
        let clouds = (!self.outcome.clouds.is_empty()).then_some(&amount as CloudField<'_>);
        let horizons = &self.outcome.horizons;
        let ground = horizons.terrain.as_ref().map(|terrain| GroundView::new(eclipse, terrain, horizons.options));
        let (page, fonts) = (PageSize::WIDE, FontEmbedding::Embedded);
        let region = ranking_pictures::regional(
            ranking,
            place,
            &self.lines,
            eclipse,
            clouds,
            ground.as_ref().map(|ground| ground as &dyn GroundField),
            self.outcome.roads.as_ref(),
            REGIONAL_REACH_KM,
            page,
            Furniture::Full,
            fonts,
        )?;
        // The place comes from the ranking itself.
        Ok(region.unwrap_or_default())
    }

    fn drawing_pdf(&self, svg: &str) -> Result<Vec<u8>, TypesetError> {
        let date = self.outcome.eclipse.date();
        let title = words::eclipse::where_to_stand(date);
        map_pdf(svg, &title, words::map::DESCRIPTION, date)
    }

    /// The page that works from disk.
    ///
    /// # Errors
    /// [`PublishError`] if it cannot be made.
    pub fn report(&self) -> Result<String, PublishError> {
        let amount = cloud_amount(&self.outcome.clouds, &self.outcome.eclipse);
        let strips = self.described.iter().map(|one| one.strips.as_ref());
        let edges = edge_pictures::for_page(strips)?;
        let offers: Vec<Option<&Offer>> = self.described.iter().map(|one| one.offer.as_ref()).collect();
        let horizons = &self.outcome.horizons;
        let near_lon_deg = self.outcome.ranking.sites.first().map_or(0.0, |site| site.figures().lon_deg);
        let ground = match &horizons.terrain {
            Some(terrain) => GroundEntry::over(&self.outcome.eclipse, terrain, horizons.options, near_lon_deg)?,
            None => None,
        };
        let model = report_model(&ReportInput {
            plan: &self.outcome.plan,
            eclipse: &self.outcome.eclipse,
            ranking: &self.outcome.ranking,
            offers: &offers,
            edges: &edges,
            lattice: self.lattice,
            path: Some(&self.lines),
            clouds: (!self.outcome.clouds.is_empty()).then_some(&amount as CloudField<'_>),
            ground: ground.as_ref(),
        })?;
        Ok(report_html(&model)?)
    }

    /// Low Sun against high Sun; `None` with no ranked site.
    fn comparison(&self) -> Result<Option<String>, ChartError> {
        let ranking = &self.outcome.ranking;
        if ranking.sites.iter().all(|s| s.rank.is_none()) {
            return Ok(None);
        }
        let mut page = ChartPage::new("comparison", 900.0, 620.0);
        page.invented = ranking.provenance.invented;
        ranking_pictures::comparison_chart(ranking, self.outcome.rules.edge_shown(), &page).map(Some)
    }
}
