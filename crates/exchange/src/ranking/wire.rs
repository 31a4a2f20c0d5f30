//! What stands in `ranking.json`: every key of it. A site is put into words as it is written, so that no second tree of the whole is built.

use std::collections::BTreeMap;

use noonfall_scoring::clocks::Clocks;
use noonfall_scoring::compare::{Observer, Row, SideBySide};
use noonfall_scoring::fallback::JointChance;
use noonfall_scoring::forecast::{ForecastMoves, Move};
use noonfall_scoring::outlook::moon_edge::MoonEdge;
use noonfall_scoring::outlook::offer::Filters;
use noonfall_scoring::outlook::window::NoWindow;
use noonfall_scoring::provenance::{InputFile, Provenance};
use noonfall_scoring::rank::{
    BaseNote, DeltaTNote, FallbackNote, FallbackPlan, Method, Pair, RankedSite, RequirementTally, RobustnessNote,
    SearchNote, Sensitivity,
};
use noonfall_scoring::score::Term;
use noonfall_scoring::sensitivity::WeightChange;
use noonfall_scoring::trip::Outcome;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use serde_json::{Map, Value, json};

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
        fields.serialize_entry("delta_t", &delta_t(&ranking.delta_t))?;
        fields.serialize_entry("utc_is_predicted", &ranking.utc_is_predicted)?;
        fields.serialize_entry("method", &method(&ranking.method))?;
        fields.serialize_entry("requirements", &each(&ranking.requirements, requirement))?;
        fields.serialize_entry("sites", &Sites(self.0))?;
        fields.serialize_entry("robustness", &robustness(&ranking.robustness))?;
        fields.serialize_entry("sensitivity", &each(&ranking.sensitivity, sensitivity))?;
        fields.serialize_entry("pareto", &json!({ "axes": ranking.pareto.axes, "front": ranking.pareto.front }))?;
        fields.serialize_entry("fallback", &ranking.fallback.as_ref().map(fallback_plan))?;
        fields.serialize_entry("search", &ranking.search.as_ref().map(search))?;
        fields.serialize_entry("forecast", &ranking.forecast.as_ref().map(forecast))?;
        fields.serialize_entry("side_by_side", &ranking.side_by_side.as_ref().map(side_by_side))?;
        fields.serialize_entry("notes", &ranking.notes)?;
        fields.serialize_entry("provenance", &provenance(&ranking.provenance))?;
        fields.end()
    }
}

fn each<T>(items: &[T], told: impl Fn(&T) -> Value) -> Vec<Value> {
    items.iter().map(told).collect()
}

fn delta_t(DeltaTNote { seconds, sigma_s, origin, sigma_shift_km }: &DeltaTNote) -> Value {
    json!({ "seconds": seconds, "sigma_s": sigma_s, "origin": origin, "sigma_shift_km": sigma_shift_km })
}

/// How the score is made, the criteria by name.
fn method(method: &Method) -> Value {
    let term = |t: &Term| {
        let told = json!({
            "name": t.name,
            "label": t.label,
            "unit": t.unit,
            "about": t.about,
            "weight": t.weight,
            "curve": { "better": t.curve.better.word(), "points": t.curve.points },
            "missing": t.missing,
        });
        (t.name.clone(), told)
    };
    let criteria: Map<_, _> = method.criteria.iter().map(term).collect();
    json!({ "mean": method.mean.word(), "profile": method.profile, "shares": method.shares, "criteria": criteria })
}

fn requirement(RequirementTally { key, value, removed, of }: &RequirementTally) -> Value {
    json!({ "key": key, "value": value, "removed": removed, "of": of })
}

fn robustness(note: &RobustnessNote) -> Value {
    let pair = |Pair { upper, lower, chance, told_apart, words }: &Pair| {
        json!({
            "upper": upper, "lower": lower, "chance": chance, "told_apart": told_apart,
            "words": words,
        })
    };
    json!({
        "draws": note.draws,
        "seed": note.seed,
        "weight_spread": note.weight_spread,
        "delta_t_sigma_s": note.delta_t_sigma_s,
        "interval": note.interval,
        "sites": note.sites,
        "pairs": each(&note.pairs, pair),
    })
}

fn sensitivity(Sensitivity { site, rank, change, words }: &Sensitivity) -> Value {
    let told = |WeightChange { criterion, from, to, factor }: &WeightChange| {
        json!({
            "criterion": criterion, "from": from, "to": to, "factor": factor,
        })
    };
    let change = change.as_ref().map(told);
    json!({ "site": site, "rank": rank, "change": change, "words": words })
}

fn fallback(note: &FallbackNote) -> Value {
    let clocks = |at: Clocks| json::clocks(at.instant, at.zone);
    let joint = |JointChance { chance, fully_dependent, independent, common_days }| {
        json!({
            "chance": chance,
            "fully_dependent": fully_dependent,
            "independent": independent,
            "common_days": common_days,
        })
    };
    json!({
        "base": note.base,
        "name": note.name,
        "drive_hours": note.drive_hours,
        "drive_source": note.drive_source.word(),
        "border": note.border,
        "base_clear": note.base_clear,
        "clear": note.clear,
        "joint": note.joint.map(joint),
        "expected_clear_totality_s": note.expected_clear_totality_s,
        "leave_by_c1": clocks(note.leave_by_c1),
        "leave_by_c2": clocks(note.leave_by_c2),
        "words": note.words,
    })
}

fn fallback_plan(plan: &FallbackPlan) -> Value {
    let BaseNote { lat_deg, lon_deg, zone, is_site, totality_s } = &plan.base_at;
    json!({
        "base": plan.base,
        "base_at": { "lat_deg": lat_deg, "lon_deg": lon_deg, "zone": zone, "is_site": is_site, "totality_s": totality_s },
        "limit_hours": plan.limit_hours,
        "traffic": plan.traffic,
        "setup_minutes": plan.setup_minutes,
        "drives": plan.drives,
        "fallbacks": each(&plan.fallbacks, fallback),
        "best_pair": plan.best_pair.as_ref().map(fallback),
        "best_single": plan.best_single,
        "words": plan.words,
        "missing_pairs": plan.missing_pairs,
        "over_water": plan.over_water,
    })
}

fn search(note: &SearchNote) -> Value {
    let dropped = &note.dropped;
    json!({
        "spacing_km": note.spacing_km,
        "region": note.region,
        "terrain": note.terrain,
        "road_distance_km": note.road_distance_km,
        "points": note.points,
        "in_path": note.in_path,
        "eligible": note.eligible,
        "dropped": {
            "sea": dropped.sea,
            "lake": dropped.lake,
            "road": dropped.road,
            "no_terrain": dropped.no_terrain,
            "slope": dropped.slope,
            "hidden_sun": dropped.hidden_sun,
            "skylines_asked": dropped.skylines_asked,
        },
        "asked": note.asked,
        "found": note.found,
        "apart_km": note.apart_km,
        "words": note.words,
    })
}

fn forecast(moves: &ForecastMoves) -> Value {
    let one = |m: &Move| {
        json!({
            "name": m.name,
            "rank_before": m.rank_before,
            "rank_after": m.rank_after,
            "score_before": m.score_before,
            "score_after": m.score_after,
            "why": m.why,
        })
    };
    json!({ "file": moves.file, "moves": each(&moves.moves, one), "words": moves.words })
}

fn side_by_side(both: &SideBySide) -> Value {
    let row = |Row { quantity, unit, low, high, difference }: &Row| {
        json!({
            "quantity": quantity, "unit": unit, "low": low, "high": high, "difference": difference,
        })
    };
    let observer = |Observer { profile, about, low, high, better, words }: &Observer| {
        json!({
            "profile": profile, "about": about, "low": low, "high": high, "better": better,
            "words": words,
        })
    };
    json!({
        "low": both.low,
        "high": both.high,
        "rows": each(&both.rows, row),
        "sights": each(&both.sights, row),
        "observers": each(&both.observers, observer),
        "words": both.words,
    })
}

fn provenance(from: &Provenance) -> Value {
    let input = |InputFile { role, file, sha256 }: &InputFile| json!({ "role": role, "file": file, "sha256": sha256 });
    json!({
        "program": from.program,
        "version": from.version,
        "plan_sha256": from.plan_sha256,
        "inputs": each(&from.inputs, input),
        "ephemeris": from.ephemeris,
        "delta_t": from.delta_t,
        "data": from.data,
        "invented": from.invented,
        "credits": from.credits,
    })
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
        fields.serialize_entry("fallback", &site.fallback.as_ref().map(fallback))?;
        if let Some(way) = &site.from_base {
            fields.serialize_entry("from_base", &fallback(way))?;
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
        fields.serialize_entry("cloud", &cloud.map(Iterator::collect::<Map<_, _>>))?;
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
