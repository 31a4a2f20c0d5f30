//! What a brief says of a site, from a ranking.

use super::{Publication, PublishError, edge_pictures};
use crate::ranking_pictures;
use noonfall_drawing::chart::ChartPage;
use noonfall_drawing::chart::edge_strip::in_words;
use noonfall_drawing::chart::sky::{SkyChart, SkyKind, SkyObject, sky};
use noonfall_drawing::map::{Furniture, PageSize};
use noonfall_drawing::svg::FontEmbedding;
use noonfall_scoring::assess::Assessed;
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::outlook::timeline::{Happening, TimelineEntry};
use noonfall_scoring::outlook::words::limits::near_true_limit;
use noonfall_scoring::rank::{FallbackNote, RankedSite};
use noonfall_shadow::Contact;
use noonfall_shadow::geodesy::{bearing_deg, distance_km};
use noonfall_words::brief::{
    BriefFacts, BriefModel, CloudFacts, ContactFacts, FallbackFacts, LookAwayFacts, SkylineFacts, WatchFacts, WayFacts,
};
use noonfall_words::{Seen, WindowFacts, edge, origins};

/// The page of a site.
pub(super) fn model(publication: &Publication<'_>, place: usize) -> Result<BriefModel, PublishError> {
    let outcome = publication.outcome;
    let ranking = &outcome.ranking;
    let site = &ranking.sites[place];
    let offer = publication.offer(place);
    let Assessed { place: of, decision, rejected, skyline, cloud, .. } = &site.found;
    let (told, local) = (site.figures(), site.found.local());
    let ranked = ranking.sites.iter().filter(|s| s.rank.is_some()).count();
    let seen = Seen::of(local);
    let facts = BriefFacts {
        eclipse_date: outcome.eclipse.date(),
        eclipse_kind: outcome.eclipse.kind().to_string(),
        name: of.name.clone(),
        lat_deg: told.lat_deg,
        lon_deg: told.lon_deg,
        elevation_m: Some(told.elevation_m),
        zone: of.clock_zone(),
        rank: site.rank.map(|rank| (rank, ranked)),
        seen,
        c1: contact(local.c1),
        c2: contact(local.c2),
        max: contact(local.max),
        c3: contact(local.c3),
        c4: contact(local.c4),
        duration_s: local.duration_s,
        obscuration: local.obscuration,
        window: WindowFacts::of(decision),
        rejected: rejected.clone(),
        edge_words: edge::on_brief(&outcome.rules),
        skyline: skyline.as_ref().map(|s| SkylineFacts {
            margin_max_deg: s.margin_max_deg,
            margin_least_deg: s.least_margin_deg(),
            sun_lost_utc: s.sun_lost.map(|tt| tt.to_utc()),
            source: s.source.clone(),
        }),
        watch: offer.map(|o| o.timeline.iter().map(watch).collect()).unwrap_or_default(),
        look_away: offer
            .and_then(|o| o.timeline.iter().find(|entry| entry.happening == Happening::LookAway))
            .map(|entry| LookAwayFacts { utc: entry.instant.to_utc(), words: entry.detail.clone() }),
        cloud: cloud.as_ref().zip(told.cloud).map(|(c, told)| CloudFacts {
            clear_line_of_sight: told.clear_line_of_sight,
            low_95: told.low_95,
            high_95: told.high_95,
            cloud_fraction: told.cloud_fraction,
            years: c.years,
            source: c.source.clone(),
            invented: c.invented,
        }),
        fallback: site.fallback.as_ref().and_then(|note| fallback(publication, site, note)),
        way: site.from_base.as_ref().map(way),
        no_way: publication.outcome.ranking.without_a_way(site),
        map_svg: small_map(publication, place)?,
        sky_svg: offer.map(|o| sky_chart(site, o)).transpose()?.flatten(),
        edge_svg: publication.strips(place).map(|s| edge_pictures::for_brief(place, s)).transpose()?,
        edge_says: publication.strips(place).map(|s| s.each_ref().map(in_words).join(" ")).unwrap_or_default(),
        near_limit: publication.near_limit(place).map(near_true_limit),
        delta_t: ranking.delta_t.clone(),
        utc_is_predicted: ranking.utc_is_predicted,
        credits: ranking.provenance.credits.clone(),
        invented: ranking.provenance.invented,
        made_by: origins::made_by(
            ranking.provenance.program,
            ranking.provenance.version,
            &ranking.provenance.plan_sha256,
        ),
    };
    Ok(BriefModel::from_facts(&facts))
}

/// One line of the timeline.
fn watch(entry: &TimelineEntry) -> WatchFacts {
    WatchFacts { utc: entry.instant.to_utc(), what: entry.short.clone(), priority: entry.happening.priority() }
}

fn contact(contact: Option<Contact>) -> Option<ContactFacts> {
    contact.map(|c| ContactFacts {
        utc: c.tt.to_utc(),
        sun_apparent_altitude_deg: c.sun_apparent_altitude_deg,
        sun_azimuth_deg: c.sun_azimuth_deg,
        vertex_angle_deg: c.vertex_angle_deg,
        above_horizon: c.above_horizon,
    })
}

fn fallback(publication: &Publication<'_>, site: &RankedSite, note: &FallbackNote) -> Option<FallbackFacts> {
    let to = &publication.outcome.ranking.sites[publication.place_of(&note.name)?];
    let (from, there) = (site.found.place.site.point(), to.found.place.site.point());
    Some(FallbackFacts {
        name: note.name.clone(),
        away: Some((distance_km(from, there), bearing_deg(from, there))),
        drive_hours: note.drive_hours,
        border: note.border.clone(),
        traffic: publication.outcome.ranking.fallback.as_ref().map_or(1.0, |plan| plan.traffic),
        leave_by_utc: Some(note.leave_by_c1.instant.to_utc()),
        latest_utc: Some(note.leave_by_c2.instant.to_utc()),
        joint_chance: note.joint.map(|joint| match joint.common_days {
            Some(_) => (joint.chance, joint.chance),
            None => (joint.fully_dependent, joint.independent),
        }),
    })
}

fn way(note: &FallbackNote) -> WayFacts {
    WayFacts {
        base: note.base.clone(),
        drive_hours: note.drive_hours,
        border: note.border.clone(),
        leave_by: note.leave_by_c1.civil(),
        latest: note.leave_by_c2.civil(),
    }
}

fn small_map(publication: &Publication<'_>, place: usize) -> Result<Option<String>, PublishError> {
    let outcome = publication.outcome;
    Ok(ranking_pictures::regional(
        &outcome.ranking,
        place,
        &publication.lines,
        &outcome.eclipse,
        None,
        None,
        outcome.roads.as_ref(),
        ranking_pictures::BRIEF_REACH_KM,
        PageSize::INSET,
        Furniture::Bare,
        FontEmbedding::Embedded,
    )?)
}

fn sky_chart(site: &RankedSite, offer: &Offer) -> Result<Option<String>, PublishError> {
    let (Some(objects), Some(max)) = (&offer.sky, site.found.local().max) else { return Ok(None) };
    let chart = SkyChart {
        sun_apparent_altitude_deg: max.sun_apparent_altitude_deg,
        sun_azimuth_deg: max.sun_azimuth_deg,
        objects: objects
            .iter()
            .map(|o| SkyObject {
                name: o.body.to_string(),
                kind: if o.kind == "planet" { SkyKind::Planet } else { SkyKind::Star },
                altitude_deg: o.apparent_altitude_deg,
                azimuth_deg: o.azimuth_deg,
                magnitude: o.magnitude,
                visible: o.visible,
            })
            .collect(),
        skyline: site
            .found
            .skyline
            .as_ref()
            .map(|s| s.profile.iter().map(|p| (p.azimuth_deg, p.altitude_deg)).collect())
            .unwrap_or_default(),
    };
    let page = ChartPage { heading: false, ..ChartPage::new(&format!("sky-{}", site.rank.unwrap_or(0)), 300.0, 270.0) };
    Ok(Some(sky(&page, &chart)?))
}
