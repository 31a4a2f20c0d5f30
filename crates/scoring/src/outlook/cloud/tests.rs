// What the whole cloud outlook promises; the parts are tested beside their code.
use super::*;
use crate::input::epw;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../");

fn rows(path: &str) -> Vec<csv::StringRecord> {
    csv::Reader::from_path(format!("{ROOT}{path}")).unwrap().records().map(|r| r.unwrap()).collect()
}

fn number(row: &csv::StringRecord, i: usize) -> f64 {
    row[i].parse().unwrap()
}

fn source(text: &str) -> CloudSource {
    source_with(text, CloudOptions::default())
}

/// A table without a column `kind` is taken as a grid's where its points have no names, else as an observer's: the tests' own choice.
fn source_with(text: &str, options: CloudOptions) -> CloudSource {
    let kind = if text.starts_with("name,") { CoverKind::Observed } else { CoverKind::Grid };
    let options = CloudOptions { kind: options.kind.or(Some(kind)), ..options };
    CloudSource::from_table(CloudTable::from_bytes("c.csv", text.as_bytes().to_vec()).unwrap(), options)
}

fn query(lat_deg: f64, lon_deg: f64) -> CloudQuery<'static> {
    CloudQuery { lat_deg, lon_deg, name: None, month: 7, day: 16, local_solar_hour: 13.0, sun_altitude_deg: 35.0 }
}

/// Reference: scipy.stats.beta, tests/reference/clouds.
#[test]
fn beta_quantiles_agree_with_scipy() {
    let rows = rows("tests/reference/clouds/beta-quantiles.csv");
    assert_eq!(rows.len(), 90);
    for row in rows {
        let ours = quantile((number(&row, 0), number(&row, 1)), number(&row, 2)).unwrap();
        assert!((ours - number(&row, 3)).abs() < 1e-7, "{row:?}: {ours}");
    }
    assert_eq!(quantile((0.0, 1.0), 0.5), None);
    assert_eq!(quantile((1.0, f64::NAN), 0.5), None);
    assert_eq!(quantile((1.0, 1.0), 1.5), None);
}

/// Reference: scipy.integrate, tests/reference/clouds.
#[test]
fn expected_chances_agree_with_scipy() {
    let rows = rows("tests/reference/clouds/expected-clear.csv");
    assert_eq!(rows.len(), 96);
    for row in rows {
        let model = LineOfSight::for_kind(CoverKind::from_name(&row[0]).unwrap(), 1.0);
        let ours = model.expected_from_mean(number(&row, 1), number(&row, 2), number(&row, 3));
        assert!((ours - number(&row, 4)).abs() < 1e-7, "{row:?}: {ours}");
    }
}

/// Reference: NumPy and SciPy on the same (invented) demo files, tests/reference/clouds.
#[test]
fn the_demo_towns_agree_with_numpy_from_day_records_and_from_the_grid() {
    let rows = rows("tests/reference/clouds/demo-outlooks.csv");
    assert_eq!(rows.len(), 36);
    for row in rows {
        let source = CloudSource::read(Path::new(&format!("{ROOT}data/demo/{}", &row[0]))).unwrap();
        let query = CloudQuery {
            lat_deg: number(&row, 2),
            lon_deg: number(&row, 3),
            name: Some(&row[1]),
            month: 7,
            day: 22,
            local_solar_hour: 14.0,
            sun_altitude_deg: number(&row, 4),
        };
        let season = source.season(7, 22).unwrap();
        let outlook = season.outlook(&query).unwrap();
        let ours = [outlook.cloud_fraction, outlook.clear_line_of_sight, outlook.low_95, outlook.high_95];
        for (i, value) in ours.into_iter().enumerate() {
            assert!((value - number(&row, 5 + i)).abs() < 1e-7, "{row:?}: {ours:?}");
        }
        assert_eq!(outlook.years, row[9].parse().ok());
        let figure = season.figure(&query).unwrap();
        assert!((figure.clear_line_of_sight - outlook.clear_line_of_sight).abs() < 5e-4, "{row:?}");
        assert!(outlook.invented && outlook.source.contains("INVENTED") && outlook.notes[0].contains("INVENTED"));
        assert!(outlook.notes.iter().any(|n| n.contains("cumulus")));
    }
}

#[test]
fn figures_that_look_like_another_unit_are_doubted() {
    let of = |column: &str, figure: &dyn Fn(u32) -> String| {
        let rows: String = (1..=28).map(|d| format!("A,0,0,2020-07-{d:02},{}\n", figure(d))).collect();
        source(&format!("name,lat,lon,date,{column}\n{rows}"))
    };
    let oktas = of("cloud_percent", &|d| (d % 9).to_string());
    assert_eq!(oktas.doubt(), Some("No figure of c.csv is above 8 percent: are they oktas from 0 to 8 rather?"));
    assert!(oktas.outlook(&query(0.0, 0.0)).unwrap().notes.iter().any(|n| n.contains("are they oktas")));
    let fractions = of("cloud_okta", &|d| format!("{}", f64::from(d) / 28.0));
    assert!(fractions.doubt().unwrap().contains("is above 1 okta: are they fractions"));
    assert_eq!(of("cloud_percent", &|d| (d * 3).to_string()).doubt(), None);
    assert_eq!(of("cloud_okta", &|d| (d % 9).to_string()).doubt(), None);
    assert_eq!(of("cloud_fraction", &|_| "0.01".into()).doubt(), None);
}

#[test]
fn a_grid_is_bilinear_across_the_date_line() {
    // A field linear in latitude and in longitude is met exactly, whichever way longitudes are written.
    for west in [-178.0, 182.0] {
        let mut text = String::from("lat,lon,month,cloud_percent\n");
        for lat in [-40, -38] {
            for (lon, x) in [(176.0, 0), (178.0, 1), (180.0, 2), (west, 3)] {
                text += &format!("{lat},{lon},7,{}\n", 10 + (lat + 40) * 5 + x * 20);
            }
        }
        let source = source(&text);
        assert_eq!(source.kind(), Some(CoverKind::Grid));
        let season = source.season(7, 16).unwrap();
        for (lon, x) in [(177.0, 0.5), (179.9, 1.95), (-179.0, 2.5), (181.0, 2.5)] {
            let figure = season.figure(&query(-39.5, lon)).unwrap();
            assert!((figure.cloud_fraction - (0.10 + 0.025 + x * 0.2)).abs() < 1e-12, "{lon}: {figure:?}");
        }
        // Half a step beyond the last points belongs to their cells; farther does not.
        assert!((season.figure(&query(-40.9, 176.0)).unwrap().cloud_fraction - 0.10).abs() < 1e-12);
        let gap = season.figure(&query(-41.1, 176.0)).unwrap_err();
        assert!(gap.to_string().contains("nearest point is 40.00° S 176.00° E, 122 km away"), "{gap}");
        assert!(matches!(season.figure(&query(-39.0, -176.5)), Err(CloudGap::OutsideGrid { .. })));
        assert!(matches!(season.figure(&query(-39.0, 0.0)), Err(CloudGap::OutsideGrid { .. })));
    }
}

#[test]
fn a_grid_round_the_earth_has_no_edge_and_reaches_the_poles() {
    let mut text = String::from("lat,lon,month,cloud_fraction\n");
    for lat in [-75.0, -45.0, -15.0, 15.0, 45.0, 75.0] {
        for lon in 0..12 {
            let there = f64::from(lon) * 30.0 + 10.0;
            text += &format!("{lat},{there},7,{}\n", 0.5 + 0.4 * there.to_radians().cos());
        }
    }
    let source = source(&text);
    let season = source.season(7, 16).unwrap();
    let end = |deg: f64| 0.5 + 0.4 * deg.to_radians().cos();
    let figure = season.figure(&query(88.0, -5.0)).unwrap();
    assert!((figure.cloud_fraction - (end(340.0) + end(10.0)) / 2.0).abs() < 1e-12, "{figure:?}");
}

#[test]
fn a_missing_grid_point_counts_only_when_it_is_far() {
    let mut text = String::from("lat,lon,month,cloud_percent\n");
    for lat in 0..3 {
        for lon in 0..3 {
            if (lat, lon) != (1, 1) {
                text += &format!("{lat},{lon},7,40\n");
            }
        }
    }
    let source = source(&text);
    let season = source.season(7, 16).unwrap();
    let far = season.outlook(&query(0.2, 0.2)).unwrap();
    assert!((far.cloud_fraction - 0.4).abs() < 1e-12);
    assert!(far.notes.iter().any(|n| n.contains("at least one of the four")));
    let gap = season.figure(&query(0.9, 0.9)).unwrap_err();
    assert!(gap.to_string().contains("point 1.00° N 1.00° E is missing"), "{gap}");
}

#[test]
fn stations_weigh_by_distance_and_never_beyond_their_reach() {
    let text = "name,lat,lon,month,cloud_okta\nWest,0,0,7,0\nEast,0,1,7,8\nFar,0,12,7,4\n";
    let source = source(text);
    assert_eq!(source.kind(), Some(CoverKind::Observed));
    let season = source.season(7, 16).unwrap();
    // A quarter of the way: weights as 1/1 and 1/9.
    let figure = season.figure(&query(0.0, 0.25)).unwrap();
    assert!((figure.cloud_fraction - 0.1).abs() < 1e-6, "{figure:?}");
    assert_eq!(season.figure(&query(0.0, 1.0)).unwrap().cloud_fraction, 1.0);
    let named = CloudQuery { name: Some(" east "), ..query(0.0, 0.1) };
    assert_eq!(season.figure(&named).unwrap().cloud_fraction, 1.0);
    // A namesake a thousand kilometres away is not the place.
    let namesake = CloudQuery { name: Some("Far"), ..query(0.0, 0.0) };
    assert_eq!(season.figure(&namesake).unwrap().cloud_fraction, 0.0);
    let gap = season.figure(&query(0.0, 3.0)).unwrap_err();
    assert_eq!(gap.to_string(), "no cloud figures within 150 km: the nearest are those of East, 222 km away");
    let outlook = season.outlook(&query(0.0, 0.25)).unwrap();
    assert!(
        outlook.notes.iter().any(|n| n.contains("2 stations within 150 km, the nearest West, 28 km")),
        "{outlook:?}"
    );
}

/// Nobody told: nothing is answered, and the message says how to tell.
#[test]
fn the_kind_is_asked_for_never_guessed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("c.csv");
    for (header, row) in [
        ("lat,lon,month,cloud_percent", "0,0,7,30"),
        ("name,lat,lon,month,cloud_okta", "A,0,0,7,3"),
        ("name,lat,lon,date,cloud_okta", "A,0,0,2020-07-16,3"),
    ] {
        std::fs::write(&path, format!("{header}\n{row}\n")).unwrap();
        let refused = CloudSource::read(&path).unwrap_err().to_string();
        assert!(
            refused.contains("c.csv") && refused.contains("a column kind, --kind, or in a plan [clouds] kind"),
            "{refused}"
        );
        let table = CloudTable::from_bytes("c.csv", std::fs::read(&path).unwrap()).unwrap();
        let silent = CloudSource::from_table(table, CloudOptions::default());
        assert_eq!((silent.kind(), silent.outlook(&query(0.0, 0.0))), (None, Err(CloudGap::Kind)));
        for kind in [CoverKind::Observed, CoverKind::Grid] {
            let told = CloudOptions { kind: Some(kind), ..CloudOptions::default() };
            assert_eq!(CloudSource::read_with(&path, told).unwrap().outlook(&query(0.0, 0.0)).unwrap().kind, kind);
        }
        // What the file tells comes first: a plan's key stands for all its files, those that tell too.
        std::fs::write(&path, format!("{header},kind\n{row},grid\n")).unwrap();
        let told = CloudOptions { kind: Some(CoverKind::Observed), ..CloudOptions::default() };
        assert_eq!(CloudSource::read_with(&path, told).unwrap().kind(), Some(CoverKind::Grid));
    }
}

#[test]
fn monthly_means_run_between_mid_months_round_the_year() {
    let mut text = String::from("name,lat,lon,month,cloud_percent\n");
    for month in 1..=12 {
        text += &format!("A,0,0,{month},{}\n", month * 5);
    }
    let source = source(&text);
    let cover =
        |month, day| source.outlook(&CloudQuery { month, day, ..query(0.0, 0.0) }).unwrap().cloud_fraction * 100.0;
    assert!((cover(7, 16) - 35.0).abs() < 1e-9);
    assert!((cover(8, 1) - (35.0 + 5.0 * 16.0 / 31.0)).abs() < 1e-9);
    // From mid-December (60) to mid-January (5).
    assert!((cover(1, 1) - (60.0 - 55.0 * 16.0 / 31.0)).abs() < 1e-9);
    assert!(source.season(2, 30).is_err());
}

#[test]
fn a_month_alone_serves_its_own_half_months_and_says_so() {
    let source = source("name,lat,lon,month,cloud_percent\nA,0,0,7,30\n");
    let at = |month, day| source.outlook(&CloudQuery { month, day, ..query(0.0, 0.0) });
    let outlook = at(7, 28).unwrap();
    assert!((outlook.cloud_fraction - 0.3).abs() < 1e-12);
    assert!(outlook.notes.iter().any(|n| n == "Figures of July alone; there are none for August."), "{outlook:?}");
    assert!(at(8, 10).unwrap_err().to_string().contains("no cloud figures for August at A"));
    assert!(at(12, 1).is_err());
}

#[test]
fn hours_run_between_figures_round_midnight() {
    let text = "name,lat,lon,month,hour,cloud_percent\nA,0,0,7,2,20\nA,0,0,7,22,60\nA,0,0,7,10,80\n";
    let source = source(text);
    let at = |local_solar_hour| source.outlook(&CloudQuery { local_solar_hour, ..query(0.0, 0.0) });
    assert!((at(0.0).unwrap().cloud_fraction - 0.4).abs() < 1e-12);
    assert!((at(23.0).unwrap().cloud_fraction - 0.5).abs() < 1e-12);
    // Eight hours apart: the nearer figure within three hours, nothing beyond.
    assert!((at(8.0).unwrap().cloud_fraction - 0.8).abs() < 1e-12);
    assert!(matches!(at(6.0), Err(CloudGap::Hour { .. })));
    assert_eq!(at(6.0).unwrap_err().to_string(), "no cloud figures within 3 hours of 6.0 h local solar time at A");
}

fn day_records(years: std::ops::Range<i32>, cover: impl Fn(i32, u32) -> u32) -> String {
    let mut text = String::from("name,lat,lon,date,cloud_okta\n");
    for year in years {
        for day in 1..=31 {
            text += &format!("A,0,0,{year}-07-{day:02},{}\n", cover(year, day));
        }
    }
    text
}

#[test]
fn day_records_use_the_distribution_of_cover_not_its_mean() {
    // Half the days clear, half overcast: the chance is one half, whatever the models say of half a cover.
    let source = source(&day_records(2001..2021, |year, _| if year % 2 == 0 { 0 } else { 8 }));
    let outlook = source.outlook(&query(0.0, 0.0)).unwrap();
    assert!((outlook.cloud_fraction - 0.5).abs() < 1e-12 && (outlook.clear_line_of_sight - 0.5).abs() < 1e-12);
    assert!(outlook.clear_at_mean_cover > 0.55);
    assert_eq!(outlook.years, Some(20));
    // Whole Julys alike: hardly more than a day a year is independent.
    assert!(outlook.effective_days < 40.0, "{outlook:?}");
    let records = source.season(7, 16).unwrap().records(&query(0.0, 0.0)).unwrap().unwrap();
    assert_eq!(records.len(), 620);
    assert_eq!((records[0].clear, records[31].clear), (0.0, 1.0));
    assert_eq!(source.records(0.0, 0.0, None).unwrap().len(), 620);
}

#[test]
fn more_years_narrow_the_interval() {
    let width = |years: i32| {
        let text = day_records(2000..2000 + years, |year, day| (year as u32 * 7 + day * 5) % 9);
        let o = source(&text).outlook(&query(0.0, 0.0)).unwrap();
        assert!(o.low_95 < o.clear_line_of_sight && o.clear_line_of_sight < o.high_95);
        o.high_95 - o.low_95
    };
    assert!(width(4) < 0.6 * width(1));
    assert!(width(16) < 0.6 * width(4));
    let stated = |years: &str| {
        let text = format!("name,lat,lon,month,cloud_okta,years\nA,0,0,7,4,{years}\n");
        source(&text).outlook(&query(0.0, 0.0)).unwrap()
    };
    assert_eq!(stated("10").effective_days, 50.0);
    assert_eq!((stated("").effective_days, stated("").years), (20.0, None));
    assert_eq!((stated("400").effective_days, stated("400").years), (100.0, Some(400)));
}

#[test]
fn an_always_clear_or_overcast_record_stays_inside_its_interval() {
    for okta in [0, 8] {
        for text in [day_records(2001..2003, |_, _| okta), format!("name,lat,lon,month,cloud_okta\nA,0,0,7,{okta}\n")] {
            let o = source(&text).outlook(&query(0.0, 0.0)).unwrap();
            assert!(o.low_95 < o.clear_line_of_sight && o.clear_line_of_sight < o.high_95, "{o:?}");
            assert!(o.beta.0 > 0.0 && o.beta.1 > 0.0);
        }
    }
}

#[test]
fn a_forecast_answers_for_its_very_day_only() {
    let options = CloudOptions { forecast: true, ..CloudOptions::default() };
    let source =
        source_with(&day_records(2027..2029, |year, day| if (year, day) == (2028, 16) { 0 } else { 8 }), options);
    let outlook = source.outlook(&query(0.0, 0.0)).unwrap();
    assert!(outlook.forecast && outlook.cloud_fraction == 0.0);
    let august = CloudQuery { month: 8, day: 2, ..query(0.0, 0.0) };
    assert!(outlook.notes.iter().any(|n| n == "Figures of A, at the place itself."), "{outlook:?}");
    assert_eq!(source.outlook(&august).unwrap_err().to_string(), "no cloud figures for 2 August at A");
}

#[test]
fn a_weather_year_answers_at_its_hour_and_season() {
    let text = epw::tests::invented_year(2001, 7, 31, |_, hour| if hour == 14 { 2 } else { 10 });
    let table = epw::from_bytes("y.epw", text.as_bytes()).unwrap();
    let source = CloudSource::from_table(table, CloudOptions::default());
    let outlook = source.outlook(&CloudQuery { local_solar_hour: 13.6, ..query(-30.0, 150.0) }).unwrap();
    assert!((outlook.cloud_fraction - 0.2).abs() < 1e-12, "{outlook:?}");
    assert_eq!(outlook.years, Some(1));
    assert!(outlook.notes.iter().any(|n| n.contains("Fewer than five years")));
    let december = CloudQuery { month: 12, day: 4, ..query(-30.0, 150.0) };
    let gap = source.outlook(&december).unwrap_err();
    assert_eq!(gap.to_string(), "no cloud figures for 15 days about 4 December at Testville");
}

#[test]
fn a_folder_of_weather_years_is_a_set_of_stations() {
    let folder = tempfile::tempdir().unwrap();
    let year = epw::tests::invented_year(2001, 7, 31, |_, _| 2);
    std::fs::write(folder.path().join("a.epw"), &year).unwrap();
    std::fs::write(folder.path().join("b.EPW"), year.replace("Testville", "Other").replace("150.00", "151.00"))
        .unwrap();
    let source = CloudSource::read(folder.path()).unwrap();
    assert_eq!(source.table().nodes.len(), 2);
    std::fs::write(folder.path().join("c.epw"), &year).unwrap();
    assert!(CloudSource::read(folder.path()).unwrap_err().to_string().contains("second year of one station"));
    let empty = tempfile::tempdir().unwrap();
    assert!(CloudSource::read(empty.path()).unwrap_err().to_string().contains("holds no cloud file"));
    assert!(CloudSource::read(&empty.path().join("none.csv")).unwrap_err().to_string().contains("cannot be opened"));
}

#[test]
fn questions_that_are_none_get_no_number() {
    let source = source("name,lat,lon,month,cloud_percent\nA,0,0,7,30\n");
    for bad in [
        CloudQuery { lat_deg: f64::NAN, ..query(0.0, 0.0) },
        CloudQuery { lat_deg: 91.0, ..query(0.0, 0.0) },
        CloudQuery { local_solar_hour: f64::INFINITY, ..query(0.0, 0.0) },
        CloudQuery { day: 32, ..query(0.0, 0.0) },
    ] {
        assert_eq!(source.outlook(&bad), Err(CloudGap::Question));
    }
}

proptest::proptest! {
    #[test]
    fn no_bytes_upset_the_readers_or_give_a_figure_out_of_range(
        head in 0_usize..5,
        tail in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..400),
        cells in proptest::collection::vec("[-0-9.,;/a-zN\n\r\"]{0,12}", 0..40),
    ) {
        let heads = [
            "", "lat,lon,month,cloud_percent\n", "lat;lon;date;hour;cloud;unit\n", "LOCATION,,,,,,1,2,3\n",
            "name,lat,lon,month,hour_utc,cloud_okta,source,kind,years\n",
        ];
        for body in [tail, cells.join(",").into_bytes()] {
            let bytes = [heads[head].as_bytes(), &body].concat();
            let _ = epw::from_bytes("x.epw", &bytes);
            if let Ok(table) = CloudTable::from_bytes("x.csv", bytes) {
                let source = CloudSource::from_table(table, CloudOptions::default());
                let node = source.table().nodes[0].clone();
                if let Ok(o) = source.outlook(&query(node.lat_deg, node.lon_deg)) {
                    proptest::prop_assert!((0.0..=1.0).contains(&o.clear_line_of_sight));
                    proptest::prop_assert!((0.0..=1.0).contains(&o.cloud_fraction) && o.low_95 <= o.high_95);
                }
            }
        }
    }
}
