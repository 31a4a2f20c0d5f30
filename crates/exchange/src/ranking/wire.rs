//! What stands in `ranking.json`: every key of it. A site is put into words as it is written, so that
//! no second tree of the whole is built.

use std::collections::BTreeMap;

use noonfall_scoring::outlook::moon_edge::MoonEdge;
use noonfall_scoring::outlook::offer::Filters;
use noonfall_scoring::outlook::window::NoWindow;
use noonfall_scoring::rank::{Method, RankedSite};
use noonfall_scoring::trip::Outcome;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use serde_json::{Value, json};

use crate::json;
use crate::values::{maybe, number};

/// The whole ranking.
pub(super) struct Whole<'a>(pub(super) &'a Outcome);

impl Serialize for Whole<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let ranking = &self.0.ranking;
        let mut fields = serializer.serialize_map(None)?;
        fields.serialize_entry("plan", &ranking.plan)?;
        fields.serialize_entry("title", &ranking.title)?;
        fields.serialize_entry("group", &ranking.group)?;
        fields.serialize_entry("eclipse", &ranking.eclipse)?;
        fields.serialize_entry("kind", &ranking.kind)?;
        fields.serialize_entry("delta_t_s", &ranking.delta_t_s)?;
        fields.serialize_entry("delta_t", &ranking.delta_t)?;
        fields.serialize_entry("utc_is_predicted", &ranking.utc_is_predicted)?;
        fields.serialize_entry("method", &method(&ranking.method))?;
        fields.serialize_entry("requirements", &ranking.requirements)?;
        fields.serialize_entry("sites", &Sites(self.0))?;
        fields.serialize_entry("robustness", &ranking.robustness)?;
        fields.serialize_entry("sensitivity", &ranking.sensitivity)?;
        fields.serialize_entry("pareto", &ranking.pareto)?;
        fields.serialize_entry("fallback", &ranking.fallback)?;
        fields.serialize_entry("search", &ranking.search)?;
        fields.serialize_entry("forecast", &ranking.forecast)?;
        fields.serialize_entry("side_by_side", &ranking.side_by_side)?;
        fields.serialize_entry("notes", &ranking.notes)?;
        fields.serialize_entry("provenance", &ranking.provenance)?;
        fields.end()
    }
}

/// How the score is made, the criteria by name.
fn method(method: &Method) -> Value {
    let criteria: serde_json::Map<_, _> = method.criteria.iter().map(|term| (term.name.clone(), json!(term))).collect();
    json!({ "mean": method.mean, "profile": method.profile, "shares": method.shares, "criteria": criteria })
}

struct Sites<'a>(&'a Outcome);

impl Serialize for Sites<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.ranking.sites.iter().map(|site| Site { outcome: self.0, site }))
    }
}

/// One candidate.
pub(super) struct Site<'a> {
    pub(super) outcome: &'a Outcome,
    pub(super) site: &'a RankedSite,
}

impl Serialize for Site<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (site, found, place) = (self.site, &self.site.found, &self.site.found.place);
        let (told, local, zone) = (site.figures(), found.local(), place.clock_zone());
        let asked = !matches!(found.decision, Err(NoWindow::NotAsked));
        let filters = (asked && found.totality.inside()).then(|| Filters::of(&found.decision, zone));
        let [low, high] = [0, 1].map(|end: usize| site.rank_interval.map(|ranks| ranks[end]));
        let mut fields = serializer.serialize_map(None)?;
        fields.serialize_entry("rank", &site.rank)?;
        fields.serialize_entry("name", &place.name)?;
        fields.serialize_entry("lat_deg", &told.lat_deg)?;
        fields.serialize_entry("lon_deg", &told.lon_deg)?;
        fields.serialize_entry("elevation_m", &told.elevation_m)?;
        fields.serialize_entry("elevation_source", &place.height.to_string())?;
        fields.serialize_entry("zone", &place.zone.map(|zone| zone.name()))?;
        fields.serialize_entry("score", &told.score)?;
        fields.serialize_entry("criteria", &Criteria { method: &self.outcome.ranking.method, site })?;
        fields.serialize_entry("phase", &local.phase.to_string())?;
        fields.serialize_entry("totality_s", &number(told.numbers.totality_s, 2))?;
        fields.serialize_entry("sun_altitude_deg", &told.numbers.sun_altitude_deg)?;
        fields.serialize_entry("sun_azimuth_deg", &told.sun_azimuth_deg)?;
        fields.serialize_entry("clear_sky_probability", &told.numbers.clear_sky)?;
        fields.serialize_entry("expected_clear_totality_s", &told.expected_clear_totality_s)?;
        fields.serialize_entry("horizon_margin_deg", &told.numbers.horizon_margin_deg)?;
        fields.serialize_entry("rejected", &Some(&found.rejected).filter(|reasons| !reasons.is_empty()))?;
        fields.serialize_entry("warnings", &site.warnings)?;
        fields.serialize_entry("rank_low", &low)?;
        fields.serialize_entry("rank_high", &high)?;
        fields.serialize_entry("chance_first", &maybe(site.chance_first, 4))?;
        fields.serialize_entry("chance_top_three", &maybe(site.chance_top_three, 4))?;
        fields.serialize_entry("dominated_by", &site.dominated_by)?;
        fields.serialize_entry("fallback", &site.fallback)?;
        if let Some(way) = &site.from_base {
            fields.serialize_entry("from_base", way)?;
        }
        // Of a smooth Moon, to be held against handbooks.
        fields.serialize_entry("contacts", &json::contacts(&found.totality.smooth, place.zone))?;
        fields.serialize_entry("moon_edge", &MoonEdge::of(&self.outcome.rules, &found.totality, zone))?;
        fields.serialize_entry("filters", &filters)?;
        fields.serialize_entry("magnitude", &number(local.magnitude, 5))?;
        fields.serialize_entry("obscuration", &number(local.obscuration, 5))?;
        fields.serialize_entry("size_ratio", &told.size_ratio)?;
        let forecast = |cloud| ("forecast".to_owned(), json!(cloud));
        let cloud = found.cloud.as_ref().map(|c| json::cloud(c).into_iter().chain([forecast(c.forecast)]));
        fields.serialize_entry("cloud", &cloud.map(Iterator::collect::<serde_json::Map<_, _>>))?;
        fields.serialize_entry("skyline", &found.skyline.as_ref().map(|skyline| json::skyline(skyline, 2)))?;
        let columns = place.columns.iter().map(|(name, value)| (name, json!(value)));
        let texts = place.texts.iter().map(|(name, text)| (name, json!(text)));
        fields.serialize_entry("columns", &columns.chain(texts).collect::<BTreeMap<_, _>>())?;
        fields.serialize_entry("found_by_search", &place.found_by_search)?;
        fields.end()
    }
}

/// The criteria of a site by name.
struct Criteria<'a> {
    method: &'a Method,
    site: &'a RankedSite,
}

impl Serialize for Criteria<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.method.criteria.iter().zip(&self.site.criteria).map(|(term, score)| {
            let told = score.told();
            let fields = json!({
                "value": told.value,
                "unit": term.unit,
                "utility": told.utility,
                "weight": term.weight,
                "share": told.share,
            });
            (&term.name, fields)
        }))
    }
}
