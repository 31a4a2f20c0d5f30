//! From a ranking, and what its sites offer, to the model of the report page.

use super::edge_entry::EdgeEntry;
use super::ground_entry::GroundEntry;
use super::model::{
    CloudOdds, ContactEntry, Criterion, EclipseFacts, EdgePicture, Elements, EyeWindow, Fact, Fallback, Instant,
    Legend, MapDrawing, PlanText, ReportModel, Required, SiteDetail, SiteEntry, SkyEntry, SkylineEntry, TimelineEntry,
    TownMark, Unprojection, Way,
};
use crate::ranking_pictures::bare_overview;
use chrono::{DateTime, TimeZone};
use chrono_tz::{OffsetName, Tz};
use noonfall_drawing::map::{CloudField, Extent, MapError, PageSize, PathInstant, PathLines, ramp::Ramp};
use noonfall_drawing::projection::Frame;
use noonfall_ephemeris::Tt;
use noonfall_scoring::assess::Assessed;
use noonfall_scoring::clocks::{Clocks, rounded};
use noonfall_scoring::criteria;
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::outlook::skyline::Skyline;
use noonfall_scoring::outlook::timeline::Happening;
use noonfall_scoring::places;
use noonfall_scoring::plan::{Plan, Requirement};
use noonfall_scoring::rank::{CriterionScore, FallbackNote, FallbackPlan, RankedSite, Ranking};
use noonfall_scoring::score::Term;
use noonfall_shadow::Eclipse;
use noonfall_shadow::moon_edge::EdgeLattice;
use noonfall_words::{self as words, numbers::capital, safety};

/// What the page is made from.
#[derive(Clone, Copy)]
pub struct ReportInput<'a> {
    /// The plan, for its text and margins.
    pub plan: &'a Plan,
    /// The eclipse.
    pub eclipse: &'a Eclipse,
    /// The ranking.
    pub ranking: &'a Ranking,
    /// What the sites offer, in the order of the ranking; may end early: sites without are shown with contacts alone.
    pub offers: &'a [Option<&'a Offer>],
    /// Pictures of the Moon's edge at their contacts, in the same order; may end early.
    pub edges: &'a [Option<EdgePicture>],
    /// The Moon's measured edge and the Sun that passes it, where outputs show it.
    pub lattice: Option<&'a EdgeLattice>,
    /// The path's lines, if there is a path.
    pub path: Option<&'a PathLines>,
    /// The cloud layer of the map.
    pub clouds: Option<CloudField<'a>>,
    /// The ground of the path, where there is terrain.
    pub ground: Option<&'a GroundEntry>,
}

/// The model of the page of a ranking, its maps drawn.
///
/// # Errors
/// [`MapError`] if the map cannot be drawn.
pub fn report_model(input: &ReportInput<'_>) -> Result<ReportModel, MapError> {
    let ReportInput { plan, eclipse, ranking, .. } = *input;
    let terms = &ranking.method.criteria;
    let sites: Vec<SiteEntry> =
        ranking.sites.iter().enumerate().map(|(k, site)| site_entry(input, terms, k, site)).collect();
    let index = |name: &str| ranking.sites.iter().position(|s| s.name() == name);
    let pair = ranking.side_by_side.as_ref().and_then(|s| Some([index(&s.low)?, index(&s.high)?]));
    let provenance = &ranking.provenance;
    let (maps, span) = maps(input)?;
    Ok(ReportModel {
        title: ranking.title.clone().unwrap_or_else(|| words::eclipse::where_to_stand(eclipse.date())),
        group: ranking.group.clone().unwrap_or_default(),
        eclipse: EclipseFacts::of(eclipse),
        elements: Some(Elements::of(eclipse)),
        edge: edge(input, span),
        ground: input.ground.cloned(),
        plan: PlanText {
            file: plan.name(),
            text: plan.text.clone(),
            sha256: plan.sha256.clone(),
            mean: ranking.method.mean.word().into(),
        },
        criteria: terms.iter().map(criterion).collect(),
        requirements: plan.requirements.iter().map(required).collect(),
        sites,
        pair,
        pair_labels: words::page::PAIR.map(str::to_owned),
        no_way: ranking.fallback.as_ref().and_then(FallbackPlan::without_a_way).unwrap_or_default(),
        pair_words: ranking.side_by_side.as_ref().map_or_else(Vec::new, |s| {
            s.words.iter().cloned().chain(s.observers.iter().map(|o| o.words.clone())).collect()
        }),
        maps,
        legend: input
            .path
            .map_or_else(Legend::default, |path| legend(path, ranking, input.clouds.is_some(), input.ground)),
        cautions_total: safety::cautions(true).iter().map(|c| c.text.to_owned()).collect(),
        cautions_partial: safety::cautions(false).iter().map(|c| c.text.to_owned()).collect(),
        notes: notes(ranking),
        credits: provenance.credits.clone(),
        invented: provenance.invented.then(|| words::invented::ON_PAGE.to_owned()),
        program: format!("{} {}", provenance.program, provenance.version),
    })
}

fn criterion(term: &Term) -> Criterion {
    let unit = people_unit(term);
    Criterion {
        name: term.name.clone(),
        label: capital(&term.label),
        about: term.about.clone(),
        curve: term.curve.words(if unit == "fraction" { "" } else { &unit }),
        unit,
        weight: term.weight,
        missing_words: term.missing_words.clone(),
        points: term.curve.points.iter().map(|&(value, utility)| [value, utility]).collect(),
        missing: term.missing,
        built_in: criteria::built_in(&term.name).is_some(),
    }
}

fn required(requirement: &Requirement) -> Required {
    let built_in = criteria::built_in(&requirement.criterion);
    Required {
        key: requirement.key.clone(),
        criterion: requirement.criterion.clone(),
        label: built_in.map_or_else(|| requirement.criterion.replace('_', " "), |c| criteria::in_a_sentence(c.label)),
        unit: built_in.map_or_else(String::new, |c| c.unit.to_owned()),
        at_least: requirement.at_least,
        at_most: requirement.at_most,
    }
}

/// Units as people read them; a chance is a fraction that the page shows in per cent.
fn people_unit(term: &Term) -> String {
    match (term.name.as_str(), term.unit.as_str()) {
        ("clear_sky", _) => "fraction".into(),
        (_, "deg") => "°".into(),
        (_, unit) => unit.to_owned(),
    }
}

fn site_entry(input: &ReportInput<'_>, terms: &[Term], number: usize, site: &RankedSite) -> SiteEntry {
    let Assessed { place, decision, cloud, skyline, rejected, .. } = &site.found;
    let (told, local, zone) = (site.figures(), site.found.local(), place.clock_zone());
    let contacts = [local.c1, local.c2, local.max, local.c3, local.c4].map(|c| c.map(|c| ContactEntry::of(&c, zone)));
    // A criterion without a value rejects a site only while it has weight: the page tells that by itself.
    let is_gap = |reason: &String| terms.iter().any(|t| *reason == t.gap());
    let scores: Vec<CriterionScore> = site.criteria.iter().map(|c| c.told()).collect();
    let offer = input.offers.get(number).copied().flatten();
    let skyline = skyline.as_ref();
    let window = noonfall_words::WindowFacts::of(decision);
    SiteEntry {
        name: place.name.clone(),
        lat_deg: told.lat_deg,
        lon_deg: told.lon_deg,
        elevation_m: told.elevation_m,
        zone: zone.name().into(),
        zone_short: local.max.map_or_else(String::new, |c| letters(c.tt.to_utc(), zone)),
        rank: site.rank.and_then(|r| u32::try_from(r).ok()),
        rank_interval: site.rank_interval.map(|ranks| ranks.map(|rank| rank as u32)),
        first_chance: site.chance_first.map(|chance| rounded(chance, 4)),
        score: told.score,
        rejected: rejected.iter().filter(|reason| !is_gap(reason)).cloned().collect(),
        warnings: site.warnings.clone(),
        values: scores.iter().map(|c| c.value).collect(),
        utilities: scores.iter().map(|c| c.utility).collect(),
        phase: local.phase.to_string(),
        contacts,
        duration_s: local.duration_s,
        magnitude: local.magnitude,
        obscuration: local.obscuration,
        window: window.as_ref().ok().map(|w| EyeWindow {
            off: Instant::of_utc(w.off_utc, zone),
            on: Instant::of_utc(w.on_utc, zone),
            kept: w.kept.clone(),
        }),
        no_window: window.err().unwrap_or_default(),
        cloud: cloud.as_ref().zip(told.cloud).map(|(cloud, told)| CloudOdds {
            cloud_fraction: told.cloud_fraction,
            clear: told.clear_line_of_sight,
            low_95: told.low_95,
            high_95: told.high_95,
            beta: Some([rounded(cloud.beta.0, 4), rounded(cloud.beta.1, 4)]),
            years: cloud.years,
            source: cloud.source.clone(),
        }),
        fallback: site.fallback.as_ref().map(fallback),
        way: site.from_base.as_ref().map(way),
        detail: offer
            .map(|offer| SiteDetail {
                edge: input.edges.get(number).cloned().flatten(),
                ..detail(site, offer, skyline, zone)
            })
            .or_else(|| skyline.map(|s| SiteDetail { skyline: Some(skyline_entry(s, zone)), ..SiteDetail::default() })),
    }
}

/// Letters of the clock, such as `ACST`; nothing where the zone has none and the offset says it all.
fn letters(utc: DateTime<chrono::Utc>, zone: Tz) -> String {
    let offset = zone.offset_from_utc_datetime(&utc.naive_utc());
    offset.abbreviation().filter(|a| a.chars().all(|c| c.is_ascii_alphabetic())).unwrap_or_default().to_owned()
}

fn instant(clocks: &Clocks) -> Option<Instant> {
    Some(Instant::of(clocks.instant, clocks.zone.unwrap_or(Tz::UTC)))
}

fn border(note: &FallbackNote) -> Option<String> {
    note.border.as_ref().map(words::drives::between)
}

fn way(note: &FallbackNote) -> Way {
    Way {
        base: note.base.clone(),
        drive_hours: note.drive_hours,
        border: border(note),
        leave_by: instant(&note.leave_by_c1),
        leave_at_worst: instant(&note.leave_by_c2),
    }
}

fn fallback(note: &FallbackNote) -> Fallback {
    Fallback {
        name: note.name.clone(),
        drive_hours: note.drive_hours,
        border: border(note),
        joint_clear: note.joint.map(|joint| match joint.common_days {
            Some(_) => [joint.chance, joint.chance],
            None => [joint.fully_dependent, joint.independent],
        }),
        leave_by: instant(&note.leave_by_c1),
        leave_at_worst: instant(&note.leave_by_c2),
    }
}

fn skyline_entry(skyline: &Skyline, zone: Tz) -> SkylineEntry {
    SkylineEntry {
        profile: skyline.profile.iter().map(|p| [rounded(p.azimuth_deg, 2), rounded(p.altitude_deg, 2)]).collect(),
        words: words::skyline::on_page(skyline, zone),
    }
}

fn detail(site: &RankedSite, offer: &Offer, skyline: Option<&Skyline>, zone: Tz) -> SiteDetail {
    let timeline = offer
        .timeline
        .iter()
        .map(|entry| {
            let sign = match entry.happening {
                Happening::FilterOff => "◯ ",
                Happening::FilterOn => "■ ",
                _ => "",
            };
            TimelineEntry {
                at: Instant::of(entry.instant, zone),
                must: entry.happening.priority() == 0,
                mark: match entry.happening {
                    Happening::FirstContact => "C1",
                    Happening::SecondContact => "C2",
                    Happening::Maximum => "max",
                    Happening::ThirdContact => "C3",
                    Happening::FourthContact => "C4",
                    _ => "",
                }
                .into(),
                kind: match entry.happening {
                    Happening::FilterOff => "off",
                    Happening::FilterOn => "on",
                    Happening::LookAway => "rim",
                    _ => "",
                }
                .into(),
                what: format!("{sign}{}", entry.title),
                look: entry.detail.clone(),
            }
        })
        .collect();
    // Without a window nobody is sent to look about the sky of totality.
    let window = offer.filters.as_ref().is_some_and(|filters| filters.off.is_some());
    let sky = offer.sky.iter().flatten().filter(|_| window).map(|object| SkyEntry {
        body: object.body.to_owned(),
        altitude_deg: rounded(object.apparent_altitude_deg, 2),
        azimuth_deg: rounded(object.azimuth_deg, 2),
        magnitude: rounded(object.magnitude, 2),
        sun_separation_deg: rounded(object.sun_separation_deg, 2),
        visible: object.visible,
    });
    SiteDetail {
        timeline,
        sky: sky.collect(),
        skyline: skyline.map(|s| skyline_entry(s, zone)),
        edge: None,
        facts: words::offer::facts(site.figures().size_ratio, offer)
            .into_iter()
            .map(|f| Fact { label: f.label.into(), value: f.value, note: f.note })
            .collect(),
        look_away: offer
            .timeline
            .iter()
            .find(|entry| entry.happening == Happening::LookAway)
            .map(|entry| entry.detail.clone()),
    }
}

fn notes(ranking: &Ranking) -> Vec<String> {
    let mut out = vec![words::delta_t::of_ranking(&ranking.delta_t)];
    if ranking.utc_is_predicted {
        out.push(words::delta_t::UTC_HELD_MEANS.into());
    }
    out.extend(ranking.notes.iter().cloned());
    out.push(words::origins::ephemeris(&ranking.provenance.ephemeris));
    let r = &ranking.robustness;
    out.push(words::origins::rank_ranges(r.interval, r.draws, r.seed, r.weight_spread));
    let files: Vec<&str> = ranking.provenance.inputs.iter().map(|i| i.file.as_str()).collect();
    if !files.is_empty() {
        out.push(words::origins::files(&files));
    }
    out
}

/// When the path runs over the maps.
type Span = Option<(Tt, Tt)>;

/// The map for wide screens, and the one for phones.
fn maps(input: &ReportInput<'_>) -> Result<(Vec<MapDrawing>, Span), MapError> {
    let Some(path) = input.path else { return Ok((Vec::new(), None)) };
    let mut span = None;
    let wide = PageSize { width: 960.0, height: 640.0, text: 13.0 };
    let narrow = PageSize { width: 400.0, height: 520.0, text: 11.0 };
    let drawings = [("map-wide", wide), ("map-narrow", narrow)]
        .into_iter()
        .map(|(id, page)| {
            let (svg, frame) =
                bare_overview(input.ranking, path, input.eclipse, input.clouds, Extent::Sites, id, page)?;
            span = path.instants.iter().filter(|i| on_map(&frame, i)).fold(span, |span, i| {
                let (first, last) = span.unwrap_or((i.tt, i.tt));
                Some((if i.tt < first { i.tt } else { first }, if i.tt > last { i.tt } else { last }))
            });
            let window = frame.window();
            let window = [window.x, window.y, window.width, window.height];
            Ok(MapDrawing {
                svg,
                window,
                unproject: Unprojection::sample(window, |p| frame.place(p)),
                towns: towns(&frame),
            })
        })
        .collect::<Result<_, MapError>>()?;
    Ok((drawings, span))
}

/// Towns on a map, the largest first: enough to find one's way on a map drawn many times larger.
const MOST_TOWNS: usize = 400;

fn towns(frame: &Frame) -> Vec<TownMark> {
    let mut all: Vec<_> = places::towns_within(-90.0, 90.0, -180.0, 180.0, 0)
        .into_iter()
        .filter_map(|town| Some((town, frame.page_inside(town.point, 0.0)?)))
        .collect();
    all.sort_by(|a, b| b.0.population.cmp(&a.0.population).then_with(|| a.0.name.cmp(&b.0.name)));
    let tenth = |v: f64| rounded(v, 2);
    all.into_iter()
        .take(MOST_TOWNS)
        .map(|(town, at)| TownMark { name: town.name.to_string(), at: at.map(tenth) })
        .collect()
}

fn on_map(frame: &Frame, instant: &PathInstant) -> bool {
    [instant.north, instant.central, instant.south].into_iter().flatten().any(|p| frame.page_inside(p, 0.0).is_some())
}

/// The Moon's edge for the time in which the shadow is on the maps.
fn edge(input: &ReportInput<'_>, span: Span) -> Option<EdgeEntry> {
    let (lattice, (from, to)) = (input.lattice?, span?);
    // Totality of the first place begins before its middle, that of the last ends after it.
    let half_s = 0.5 * input.path?.longest_s;
    lattice.carried(from.plus(-half_s), to.plus(half_s)).as_ref().map(EdgeEntry::of)
}

fn legend(path: &PathLines, ranking: &Ranking, clouds: bool, ground: Option<&GroundEntry>) -> Legend {
    let ramp = Ramp::up_to(path.longest_s);
    let ends = ramp.bounds_s.iter().skip(1).copied().chain([ramp.end_s]);
    let steps = ramp.bounds_s.iter().zip(ends).enumerate();
    let signs = words::map::signs(&words::map::Shown {
        noun: path.centrality.noun(),
        true_limits: path.true_limits.is_some(),
        odds: ranking.sites.iter().any(|s| s.found.numbers.clear_sky.is_some()),
        rejected: ranking.sites.iter().any(|s| s.rank.is_none()),
        clouds,
        hidden_every_km: ground.map(|ground| ground.lat_step_deg * 111.2),
    });
    Legend {
        title: words::map::seconds_of(path.centrality.noun()),
        steps: steps.map(|(k, (from, to))| (ramp.colour(k), format!("{from:.0}–{to:.0}"))).collect(),
        signs,
    }
}
