//! The main job from plan to ranking: the demo, and what happens to every kind of bad input.

// Helpers of tests may fail by panicking, like the tests themselves.
#![allow(clippy::unwrap_used)]

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use noonfall_scoring::TotalityRules;
use noonfall_scoring::progress::{Progress, Silent};
use noonfall_scoring::rank::{Method, RankedSite};
use noonfall_scoring::trip::{Lines, Options, Outcome, RunError, run, run_longer_than};
use tempfile::TempDir;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo/");

const SITES: &str = "name,lat,lon,elevation_m,zone,drive_hours\n\
    Bedourie,-24.3461,139.46,91,Australia/Brisbane,7.5\n\
    Dubbo,-32.243,148.6048,285,,5\n\
    Mudgee,-32.5943,149.5871,471,Australia/Sydney,3.5\n\
    Sydney,-33.8678,151.2073,6,Australia/Sydney,0.5\n\
    Alexandra,-45.2484,169.3701,229,Pacific/Auckland,1.25\n\
    Birdsville,-25.8975,139.348,48,Australia/Brisbane,9.5\n";

const CLOUDS: &str = "name,lat,lon,month,cloud_percent\n\
    Bedourie,-24.3461,139.46,7,15\nDubbo,-32.243,148.6048,7,45\nMudgee,-32.5943,149.5871,7,47\n\
    Sydney,-33.8678,151.2073,7,50\nAlexandra,-45.2484,169.3701,7,70\n";

const PLAN: &str = "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"sites.csv\"\n[clouds]\nfile = \"clouds.csv\"\nkind = \"observed\"\n\
    [weights]\ntotality = 2\nclear_sky = 3\nsun_altitude = 1\n[robustness]\ndraws = 2000\n";

/// A folder with a plan and its files.
struct Trip(TempDir);

impl Trip {
    fn new(plan: &str) -> Trip {
        let trip = Trip(TempDir::new().unwrap());
        trip.with("plan.toml", plan).with("sites.csv", SITES).with("clouds.csv", CLOUDS)
    }

    fn with(self, name: &str, text: &str) -> Trip {
        std::fs::write(self.0.path().join(name), text).unwrap();
        self
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self) -> Result<Outcome, RunError> {
        run(&self.path("plan.toml"), &Options::default(), &Silent)
    }

    /// The message, with the folder taken out.
    fn refusal(&self) -> String {
        let text = self.run().err().map(|e| e.to_string()).unwrap_or_default();
        text.replace(&format!("{}/", self.0.path().display()), "")
    }
}

fn names(outcome: &Outcome) -> Vec<&str> {
    outcome.ranking.sites.iter().filter(|s| s.rank.is_some()).map(RankedSite::name).collect()
}

#[test]
fn the_demo_ranks_and_keeps_its_rejected_towns() {
    let outcome = run(&Path::new(DEMO).join("plan.toml"), &Options::default(), &Silent).unwrap();
    let ranking = &outcome.ranking;
    assert_eq!(ranking.sites.len(), 18);
    for town in ["Birdsville", "Oamaru"] {
        let site = ranking.sites.iter().find(|s| s.name() == town).unwrap();
        assert_eq!((site.rank, site.score, site.found.numbers.totality_s), (None, None, 0.0));
        let reasons = &site.found.rejected;
        assert!(reasons[0].starts_with("outside the path: the eclipse is partial here (magnitude 0.99"), "{reasons:?}");
    }
    // By the rigorous program under tests/reference, magnitude at Birdsville 0.9995, at Oamaru 0.9974; about 4 km out.
    let birdsville = ranking.sites.iter().find(|s| s.name() == "Birdsville").unwrap();
    assert!((birdsville.found.local().magnitude - 0.9995).abs() < 1e-4);
    assert!(birdsville.found.rejected[0].contains("3.7 km from the southern limit"));
    let ranks: Vec<usize> = ranking.sites.iter().filter_map(|s| s.rank).collect();
    assert_eq!(ranks, (1..=ranks.len()).collect::<Vec<_>>());
    for site in ranking.sites.iter().filter(|s| s.rank.is_some()) {
        let (rank, [low, high]) = (site.rank.unwrap(), site.rank_interval.unwrap());
        assert!(low <= rank && rank <= high);
        let shares: f64 = site.criteria.iter().filter_map(|c| c.share).sum();
        assert!((shares - site.score.unwrap()).abs() < 1e-12, "shares add up to the score");
        assert!(site.found.place.zone.is_some());
    }
    assert!(ranking.provenance.invented && ranking.notes.iter().any(|n| n.contains("INVENTED")));
    let fallback = ranking.fallback.as_ref().unwrap();
    assert_eq!(fallback.base, ranking.sites[0].name(), "no base is named, so it is the best site");
    assert!(!fallback.fallbacks.is_empty() && fallback.best_pair.is_some());
    assert_eq!(ranking.sensitivity.len(), 3);
    let pair = ranking.side_by_side.as_ref().unwrap();
    assert!(pair.sights.len() >= 12 && pair.sights.iter().all(|r| r.low.is_some() && r.high.is_some()), "{pair:?}");
    let turns = |what: &str| pair.words.iter().any(|w| w.contains(&format!("Without the weight of {what} the order")));
    assert!(turns("the Sun's altitude") && turns("shadow bands"), "{:?}", pair.words);
    let speed = pair.sights.iter().find(|r| r.quantity == "Speed of the Moon's shadow").unwrap();
    assert!(speed.low > speed.high, "the lower the Sun, the faster the shadow");
}

#[test]
fn the_same_bytes_on_any_number_of_threads() {
    let bytes = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let outcome = pool.install(|| run(&Path::new(DEMO).join("plan.toml"), &Options::default(), &Silent)).unwrap();
        format!("{:?}", outcome.ranking)
    };
    let one = bytes(1);
    assert_eq!(one, bytes(2));
    assert_eq!(one, bytes(5));
    assert!(!one.contains("NaN"));
}

#[test]
fn a_zone_left_out_is_looked_up() {
    let outcome = Trip::new(PLAN).run().unwrap();
    let dubbo = outcome.ranking.sites.iter().find(|s| s.name() == "Dubbo").unwrap();
    assert_eq!(dubbo.found.place.zone, Some(chrono_tz::Australia::Sydney));
}

#[test]
fn a_delta_t_laid_over_the_plan_reaches_the_result() {
    let trip = Trip::new(PLAN);
    let options = Options { delta_t_s: Some(100.0), ..Options::default() };
    let outcome = run(&trip.path("plan.toml"), &options, &Silent).unwrap();
    assert_eq!(outcome.ranking.delta_t_s, 100.0);
    let nonsense = Options { delta_t_s: Some(-1e9), ..Options::default() };
    assert!(run(&trip.path("plan.toml"), &nonsense, &Silent).is_err());
}

#[test]
fn eclipses_without_totality_are_refused() {
    let refusal = |date: &str| Trip::new(&PLAN.replace("2028-07-22", date)).refusal();
    let partial = refusal("2025-03-29");
    assert!(partial.contains("plan.toml: key eclipse.date: the eclipse of 2025-03-29 is partial"), "{partial}");
    let annular = refusal("2023-10-14");
    assert!(annular.contains("the eclipse of 2023-10-14 is annular: there is no totality"), "{annular}");
    let none = refusal("2028-07-23");
    assert!(none.contains("there is no solar eclipse on 2028-07-23"), "{none}");
    assert!(none.contains("2028-07-22 (total)"), "the nearest is named: {none}");
}

#[test]
fn kernels_that_cannot_serve_are_refused() {
    let plan = PLAN.replace("date = 2028-07-22\n", "date = 2028-07-22\nkernel = \"k.bsp\"\n");
    let missing = Trip::new(&plan).refusal();
    assert!(missing.contains("k.bsp"), "{missing}");
    let truncated = Trip::new(&plan).with("k.bsp", "DAF/SPK ").refusal();
    assert!(truncated.contains("k.bsp"), "{truncated}");
}

#[test]
fn wrong_rows_of_all_files_are_listed_together() {
    let trip = Trip::new(PLAN)
        .with("sites.csv", "name,lat,lon\nA,95,10\nB,x,10\nA,1,2\nA,1,2\n")
        .with("clouds.csv", "lat,lon,month,cloud_percent\n-24,139,7,140\n");
    let text = trip.refusal();
    for part in [
        "sites.csv:2: column lat: \"95\" is not a latitude",
        "sites.csv:3: column lat: \"x\" is not a number",
        "sites.csv:5: column name: \"A\" is already the name of the same place (line 4)",
        "clouds.csv:2: column cloud_percent: \"140\"",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
}

#[test]
fn empty_headerless_and_missing_files_are_refused() {
    assert!(Trip::new(PLAN).with("sites.csv", "").refusal().contains("sites.csv: is empty"));
    assert!(Trip::new(PLAN).with("sites.csv", "A,1,2\n").refusal().contains("the first line is data"));
    assert!(Trip::new(PLAN).with("clouds.csv", "lat,lon,month,cloud\n-24,139,7,9\n").refusal().contains("clouds.csv"));
    let text = Trip::new(&PLAN.replace("sites.csv", "sitez.csv")).refusal();
    assert!(text.contains("sitez.csv: cannot be opened"), "{text}");
    let oktas = Trip::new(PLAN).with("clouds.csv", "lat,lon,month,cloud_oktas\n-24,139,7,9\n").refusal();
    assert!(oktas.contains("clouds.csv:2: column cloud_oktas: okta 9"), "{oktas}");
}

#[test]
fn weights_must_be_numbers_and_not_all_zero() {
    let negative = Trip::new(&PLAN.replace("clear_sky = 3", "clear_sky = -3")).refusal();
    assert!(negative.contains("plan.toml:10: key weights.clear_sky: -3 is out of range"), "{negative}");
    let zero =
        PLAN.replace("totality = 2", "totality = 0").replace("= 3", "= 0").replace("altitude = 1", "altitude = 0");
    assert!(Trip::new(&zero).refusal().contains("all weights are zero"));
    let text = Trip::new(&PLAN.replace("clear_sky = 3", "clear_sky = \"3\"")).refusal();
    assert!(text.contains("\"3\" is text; give a weight, a number"), "{text}");
}

#[test]
fn unknown_columns_and_columns_of_text_are_refused() {
    let wish = "[wish.beds]\nbetter = \"higher\"\nfrom = 0\nto = 10\n";
    let plan = format!("{}{wish}", PLAN.replace("sun_altitude = 1", "beds = 1"));
    let text = Trip::new(&plan).refusal();
    assert!(text.contains("key weights.beds: beds is neither a criterion nor a column of the sites"), "{text}");
    let beds = "name,lat,lon,beds\nDubbo,-32.243,148.6048,many\nMudgee,-32.5943,149.5871,12\n";
    let text = Trip::new(&plan).with("sites.csv", beds).refusal();
    assert!(
        text.contains("sites.csv:2: column beds: \"many\" is not a number, and the plan uses the column"),
        "{text}"
    );
}

#[test]
fn a_missing_value_rejects_the_site_unless_the_plan_says_what_it_is_worth() {
    let beds = "name,lat,lon,beds\nDubbo,-32.243,148.6048,\nMudgee,-32.5943,149.5871,12\n";
    let wish = "[wish.beds]\nbetter = \"higher\"\nfrom = 0\nto = 20\n";
    let plan = format!("{}{wish}", PLAN.replace("sun_altitude = 1", "beds = 1"));
    let outcome = Trip::new(&plan).with("sites.csv", beds).run().unwrap();
    assert_eq!(names(&outcome), ["Mudgee"]);
    let dubbo = outcome.ranking.sites.iter().find(|s| s.name() == "Dubbo").unwrap();
    assert_eq!(dubbo.found.rejected, ["beds cannot be scored: no value in column beds"]);
    let outcome = Trip::new(&format!("{plan}missing = 0.5\n")).with("sites.csv", beds).run().unwrap();
    assert_eq!(names(&outcome).len(), 2);
}

/// A plan without clouds does not miss them: their absence is no reason for a rejection by something else.
#[test]
fn clouds_that_nothing_asks_for_are_no_reason_of_a_rejection() {
    let beds = "name,lat,lon,beds\nDubbo,-32.243,148.6048,\nMudgee,-32.5943,149.5871,12\n";
    let plan = "[eclipse]\ndate = \"2028-07-22\"\n[sites]\nfile = \"sites.csv\"\n[weights]\ntotality = 1\nbeds = 1\n\
                [wish.beds]\nbetter = \"higher\"\nfrom = 0\nto = 20\n";
    let outcome = Trip::new(plan).with("sites.csv", beds).run().unwrap();
    let dubbo = outcome.ranking.sites.iter().find(|s| s.name() == "Dubbo").unwrap();
    assert_eq!(dubbo.found.rejected, ["beds cannot be scored: no value in column beds"]);
}

#[test]
fn a_place_without_cloud_figures_is_rejected_with_the_gap() {
    let sites = format!("{SITES}Wyndham,-15.4869,128.1243,4,Australia/Perth,1.5\n");
    let outcome = Trip::new(PLAN).with("sites.csv", &sites).run().unwrap();
    let wyndham = outcome.ranking.sites.iter().find(|s| s.name() == "Wyndham").unwrap();
    let reasons = wyndham.found.rejected.join("; ");
    assert!(reasons.contains("clear_sky cannot be scored"), "{reasons}");
    assert!(reasons.contains("no cloud figures within 150 km"), "{reasons}");
}

/// What the window allows for can be widened, not taken away: every wrong key is told at once, with what would be right.
#[test]
fn the_windows_keys_are_checked() {
    let text = Trip::new(&format!(
        "{PLAN}[filters]\nmargin_s = 1.5\nplace_m = -20\nheight_m = 1e9\nunknown_height_m = [500, 100]\n[moon]\nedge = \"round\"\n"
    ))
    .refusal();
    for part in [
        "key filters.margin_s: 1.5 s is less than the window for unaided eyes always keeps",
        "give 2 s or more",
        "key filters.place_m: -20 m is not a distance",
        "key filters.height_m: 1000000000 m is not a tolerance of heights",
        "key filters.unknown_height_m: from 500 m to 100 m is not a range of heights",
        "key moon.edge: \"round\" is not known here",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    for wrong in ["unknown_height_m = 5", "unknown_height_m = [1]", "unknown_height_m = [1, \"2\"]", "margin_s = nan"] {
        let text = Trip::new(&format!("{PLAN}[filters]\n{wrong}\n")).refusal();
        assert!(text.contains("key filters."), "{wrong}: {text}");
    }
}

#[test]
fn a_requirement_that_no_site_meets_says_what_it_removes() {
    let text = Trip::new(&format!("{PLAN}[require]\nmin_totality_s = 400\nmin_sun_altitude_deg = 40\n")).refusal();
    assert!(text.contains("key require.min_totality_s: it removes 5 of the 5 candidates inside the path"), "{text}");
    assert!(text.contains("relax it; the best value among them is 265.37"), "{text}");
    assert!(text.contains("key require.min_sun_altitude_deg: it removes 4 of the 5"), "{text}");
    let outside = "name,lat,lon\nLondon,51.5,0\nBirdsville,-25.8975,139.348\n";
    let text = Trip::new(PLAN).with("sites.csv", outside).refusal();
    assert!(text.contains("none of the 2 candidates sees totality"), "{text}");
}

#[test]
fn bases_and_comparisons_are_checked_against_the_sites() {
    let text =
        Trip::new(&format!("{PLAN}[fallback]\nbase = \"Dubo\"\n[output]\ncompare = [\"Sydney\", \"Alexandria\"]\n"))
            .refusal();
    assert!(text.contains("key fallback.base: \"Dubo\" is neither one of the sites nor a town of the shipped table; did you mean Dubbo?"), "{text}");
    assert!(
        text.contains("key output.compare: \"Alexandria\" is not one of the sites; did you mean Alexandra?"),
        "{text}"
    );
}

#[test]
fn missing_pairs_of_the_drive_matrix_are_told_estimated_or_refused() {
    let with = |missing: &str| {
        let fallback = format!(
            "{PLAN}[fallback]\nbase = \"Dubbo\"\nlimit_hours = 6\ndrive_hours = \"d.csv\"\nmissing = \"{missing}\"\n"
        );
        Trip::new(&fallback).with("d.csv", "from,to,hours\nDubbo,Mudgee,1.5\n")
    };
    let outcome = with("skip").run().unwrap();
    let fallback = outcome.ranking.fallback.unwrap();
    assert_eq!(fallback.fallbacks.iter().map(|f| f.name.as_str()).collect::<Vec<_>>(), ["Mudgee"]);
    assert_eq!(fallback.missing_pairs.len(), 2, "{:?}", fallback.missing_pairs);
    let estimated = with("estimate").run().unwrap().ranking.fallback.unwrap();
    assert_eq!(estimated.fallbacks.len(), 2);
    let refused = with("refuse").refusal();
    assert!(refused.contains("d.csv: no hours from"), "{refused}");
}

#[test]
fn a_drive_that_begins_the_day_before_says_so() {
    // By the clocks of Dubbo first contact at Bedourie is in the morning: ten hours before is the evening of the 21st.
    let plan = format!("{PLAN}[fallback]\nbase = \"Dubbo\"\nlimit_hours = 24\ndrive_hours = \"d.csv\"\n");
    let outcome = Trip::new(&plan).with("d.csv", "from,to,hours\nDubbo,Bedourie,14\nDubbo,Mudgee,1.5\n").run().unwrap();
    let fallbacks = outcome.ranking.fallback.unwrap().fallbacks;
    let words = |name: &str| fallbacks.iter().find(|f| f.name == name).unwrap().words.clone();
    assert!(words("Bedourie").contains(" on 2028-07-21"), "{}", words("Bedourie"));
    assert!(!words("Mudgee").contains(" on 2028"), "{}", words("Mudgee"));
}

#[test]
fn a_forecast_re_ranks_and_says_what_moved_and_why() {
    let forecast = "name,lat,lon,date,cloud_percent\n\
        Bedourie,-24.3461,139.46,2028-07-22,100\nDubbo,-32.243,148.6048,2028-07-22,0\n\
        Mudgee,-32.5943,149.5871,2028-07-22,40\nSydney,-33.8678,151.2073,2028-07-22,60\n";
    let trip = Trip::new(PLAN).with("forecast.csv", forecast);
    let options = Options { forecast: Some(trip.path("forecast.csv")), ..Options::default() };
    let before = trip.run().unwrap();
    assert_eq!(names(&before)[0], "Bedourie");
    let after = run(&trip.path("plan.toml"), &options, &Silent).unwrap();
    assert_eq!(names(&after)[0], "Dubbo");
    let moves = after.ranking.forecast.as_ref().unwrap();
    assert_eq!(moves.words, "With the forecast of forecast.csv, Dubbo takes first place from Bedourie.");
    let bedourie = moves.moves.iter().find(|m| m.name == "Bedourie").unwrap();
    assert_eq!(bedourie.rank_before, Some(1));
    assert!(bedourie.rank_after > Some(1));
    assert!(bedourie.why.starts_with("clear sky down from 0."), "{}", bedourie.why);
    let alexandra = after.ranking.sites.iter().find(|s| s.name() == "Alexandra").unwrap();
    assert!(alexandra.warnings.iter().any(|w| w.contains("the forecast does not reach this place")));
}

#[test]
fn a_skyline_rejects_warns_and_scores() {
    // The Sun stands at 28.9 degrees at Sydney and 9.3 at Alexandra in totality, north-west of both.
    let horizon = |name: &str, altitude: f64| -> String {
        (250..=360)
            .step_by(5)
            .map(|az| format!("{name},{},{altitude}\n", az % 360))
            .chain((5..=60).step_by(5).map(|az| format!("{name},{az},{altitude}\n")))
            .collect()
    };
    let text = format!("name,azimuth_deg,altitude_deg\n{}{}", horizon("Sydney", 28.5), horizon("Alexandra", 12.0));
    let trip = Trip::new(&format!("{PLAN}[terrain]\nhorizon = \"h.csv\"\n")).with("h.csv", &text);
    let outcome = trip.run().unwrap();
    let site = |name: &str| outcome.ranking.sites.iter().find(|s| s.name() == name).unwrap();
    let reasons = site("Alexandra").found.rejected.join("; ");
    assert!(reasons.contains("the skyline hides the Sun in totality"), "{reasons}");
    assert!(
        (site("Sydney").found.numbers.horizon_margin_deg.unwrap() - 0.3).abs() < 0.3,
        "{:?}",
        site("Sydney").found.numbers.horizon_margin_deg
    );
    assert!(!site("Sydney").warnings.is_empty());
    assert!(site("Dubbo").warnings.iter().any(|w| w.starts_with("no skyline:")));
}

const SEARCH: &str = "[eclipse]\ndate = 2028-07-22\n[weights]\ntotality = 1\nsun_altitude = 1\n\
    [search]\nspacing_km = 5\nbest = 4\napart_km = 20\npolygon = \"area.geojson\"\n";

fn square(west: f64, south: f64, size: f64) -> String {
    let (east, north) = (west + size, south + size);
    format!(
        "{{\"type\":\"Polygon\",\"coordinates\":[[[{west},{south}],[{east},{south}],[{east},{north}],[{west},{north}],[{west},{south}]]]}}"
    )
}

#[test]
fn a_search_names_places_from_the_nearest_town() {
    let outcome = Trip::new(SEARCH).with("area.geojson", &square(145.5, -30.5, 1.0)).run().unwrap();
    assert_eq!(outcome.ranking.sites.len(), 4);
    for site in &outcome.ranking.sites {
        assert!(site.found.place.found_by_search && site.found.place.zone.is_some());
        assert!(site.name().contains(" km ") && site.name().contains(" of "), "{}", site.name());
    }
    let search = outcome.ranking.search.unwrap();
    assert_eq!((search.found, search.asked), (4, 4));
}

#[test]
fn more_places_than_the_path_holds_are_told() {
    let plan = SEARCH.replace("best = 4", "best = 500");
    let outcome = Trip::new(&plan).with("area.geojson", &square(145.5, -30.5, 1.0)).run().unwrap();
    let search = outcome.ranking.search.unwrap();
    assert!(search.found < 500);
    assert!(search.words.contains("500 were asked for, the path holds no more"), "{}", search.words);
}

#[test]
fn polygons_that_cannot_be_searched_are_refused() {
    let off = Trip::new(SEARCH).with("area.geojson", &square(0.0, 50.0, 1.0)).refusal();
    assert!(
        off.contains("key search.polygon: no grid point on the land of area.geojson lies inside the path"),
        "{off}"
    );
    let open = square(145.5, -30.5, 1.0).replace(",[145.5,-30.5]]]", "]]");
    let open = Trip::new(SEARCH).with("area.geojson", &open).refusal();
    assert!(open.contains("the ring is open"), "{open}");
    let crossing = "{\"type\":\"Polygon\",\"coordinates\":[[[145,-31],[146,-30],[146,-31],[145,-30],[145,-31]]]}";
    let crossing = Trip::new(SEARCH).with("area.geojson", crossing).refusal();
    assert!(crossing.contains("self-intersection"), "{crossing}");
}

#[test]
fn a_search_with_a_weighted_column_wants_its_worth_for_searched_places() {
    let plan = format!(
        "{}drive_hours = 1\n[wish.drive_hours]\nbetter = \"lower\"\nfrom = 0\nto = 8\n[search]\nbest = 2\n",
        PLAN.replace("[robustness]\ndraws = 2000\n", "")
    );
    let text = Trip::new(&plan).refusal();
    assert!(text.contains("places found by [search] have no drive_hours; say in wish.drive_hours.missing"), "{text}");
}

#[test]
fn ten_thousand_sites_and_one_site_both_rank() {
    let mut text = String::from("name,lat,lon\n");
    for i in 0..10_000 {
        text.push_str(&format!("s{i},{},{}\n", -24.0 - f64::from(i) * 1e-5, 139.46));
    }
    let plan = "[eclipse]\ndate = 2028-07-22\n[sites]\nfile = \"sites.csv\"\n[weights]\ntotality = 1\n[robustness]\ndraws = 2000\n";
    let outcome = Trip::new(plan).with("sites.csv", &text).run().unwrap();
    assert_eq!(outcome.ranking.sites.len(), 10_000);
    assert!(outcome.ranking.notes.iter().any(|n| n == "Only the best 1000 sites take part in the draws."));
    let one = Trip::new(plan).with("sites.csv", "name,lat,lon\nDubbo,-32.243,148.6048\n").run().unwrap();
    assert_eq!(names(&one), ["Dubbo"]);
    assert_eq!(one.ranking.sites[0].chance_first, Some(1.0));
}

#[test]
fn a_site_too_many_is_refused_not_dropped() {
    let plan = PLAN.replace("file = \"sites.csv\"", "file = \"sites.csv\"\nlimit = 5");
    let text = Trip::new(&plan).refusal();
    assert!(text.contains("sites.csv: there are 6 rows, more than the 5 accepted"), "{text}");
}

/// Writes to a file as soon as a stage of the work begins.
struct Meddler {
    stage: &'static str,
    file: PathBuf,
    text: String,
}

impl Progress for Meddler {
    fn begin(&self, what: &str, _: u64) {
        if what == self.stage {
            std::fs::write(&self.file, &self.text).unwrap();
        }
    }

    fn advance(&self, _: u64) {}
}

/// What was read of a file that is written to meanwhile may be of both its states, and the checksum in the outputs of neither.
#[test]
fn a_file_that_changes_while_it_is_used_is_refused() {
    let trip = Trip::new(PLAN);
    for (name, text) in [("sites.csv", SITES), ("clouds.csv", CLOUDS)] {
        let text = text.replace("Sydney", "Sidney");
        let meddler = Meddler { stage: "Looking at the sites", file: trip.path(name), text };
        let refused = run(&trip.path("plan.toml"), &Options::default(), &meddler).unwrap_err().to_string();
        assert!(refused.contains(&format!("{name}: changed while it was being used; run again")), "{refused}");
        // Left alone it is used.
        std::fs::write(trip.path("sites.csv"), SITES).unwrap();
        std::fs::write(trip.path("clouds.csv"), CLOUDS).unwrap();
        assert_eq!(names(&trip.run().unwrap()).len(), 5);
    }
}

struct NoLines;

impl Lines for NoLines {
    fn head(&self, _: &Method) -> Vec<u8> {
        Vec::new()
    }

    fn line(&self, _: &TotalityRules, _: &RankedSite, _: &mut Vec<u8>) {}

    fn write(&self, _: Option<usize>, _: &[u8], _: &mut dyn Write) -> io::Result<()> {
        Ok(())
    }
}

/// Such a table is read twice: the rows counted may not be those that are ranked.
#[test]
fn a_long_table_that_changes_between_its_readings_is_refused() {
    let trip = Trip::new(PLAN);
    let rank =
        |progress: &dyn Progress| run_longer_than(3, &trip.path("plan.toml"), &Options::default(), progress, &NoLines);
    assert!(rank(&Silent).unwrap().is_some());
    let text = SITES.replace("Birdsville,", "Bird,");
    let meddler = Meddler { stage: "Looking at the sites", file: trip.path("sites.csv"), text };
    let refused = rank(&meddler).unwrap_err().to_string();
    assert!(refused.contains("sites.csv: changed while it was being used; run again"), "{refused}");
}
