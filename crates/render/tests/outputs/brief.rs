//! The brief: one page always, what it says, and that it is the same every time.

use std::path::PathBuf;
use std::process::Command;

use noonfall_render::brief::{Paper, brief_pdf, brief_png, brief_svg};
use noonfall_words::Seen;
use noonfall_words::brief::{BriefFacts, BriefModel, Filters};

use crate::names::HOSTILE;
use crate::samples::{bare, drawing, full, longest, outside};

fn model(facts: &BriefFacts) -> BriefModel {
    BriefModel::from_facts(facts)
}

/// Writes a PDF into the build's temporary folder, for a reader that is not ours.
fn keep(name: &str, bytes: &[u8]) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("brief-samples");
    std::fs::create_dir_all(&folder).expect("folder");
    let path = folder.join(format!("{name}.pdf"));
    std::fs::write(&path, bytes).expect("PDF written");
    path
}

/// What one of poppler's tools says of a PDF (Debian package poppler-utils).
fn ask(tool: &str, arguments: &[&str], path: &PathBuf) -> String {
    let mut command = Command::new(tool);
    command.args(arguments).arg(path);
    if tool == "pdftotext" {
        command.arg("-");
    }
    let output = command.output();
    assert!(output.is_ok(), "{tool} does not run ({:?}): install poppler-utils", output.err());
    let output = output.expect("checked above");
    assert!(output.status.success(), "{tool}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn pdf(name: &str, facts: &BriefFacts) -> PathBuf {
    keep(name, &brief_pdf(&[model(facts)], Paper::A4).expect("pdf"))
}

/// Text of a page with all white space taken out: where a reader breaks lines does not matter.
fn text(path: &PathBuf, page: usize) -> String {
    let page = page.to_string();
    squeezed(&ask("pdftotext", &["-f", &page, "-l", &page, "-raw"], path))
}

fn pages(path: &PathBuf) -> usize {
    let info = ask("pdfinfo", &[], path);
    info.lines().find_map(|line| line.strip_prefix("Pages:")).and_then(|count| count.trim().parse().ok()).unwrap_or(0)
}

fn squeezed(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

#[test]
fn every_site_takes_exactly_one_page_on_either_paper() {
    let mut models = vec![model(&full()), model(&bare()), model(&outside()), model(&longest())];
    for name in HOSTILE {
        models.push(model(&BriefFacts { name: name.into(), ..bare() }));
    }
    models.push(model(&BriefFacts {
        seen: Seen::Nothing,
        c1: None,
        c2: None,
        max: None,
        c3: None,
        c4: None,
        ..bare()
    }));
    models.push(model(&BriefFacts { seen: Seen::Annular, ..full() }));
    models.push(model(&BriefFacts { map_svg: None, ..full() }));
    models.push(model(&BriefFacts { sky_svg: None, skyline: None, cloud: None, fallback: None, ..full() }));
    models.push(model(&BriefFacts {
        map_svg: Some(drawing("flat", 2000, 10)),
        sky_svg: Some(drawing("thin", 10, 2000)),
        ..full()
    }));
    for paper in [Paper::A4, Paper::Letter] {
        let path = keep(&format!("group-{paper:?}"), &brief_pdf(&models, paper).expect("pdf"));
        assert_eq!(pages(&path), models.len(), "{paper:?}");
        // Each page is its own site's: the last caution of the page stands on it.
        for page in 1..=models.len() {
            assert!(text(&path, page).contains("eye-careprofessionalshavethelastword"), "{paper:?} page {page}");
        }
    }
}

#[test]
fn the_page_answers_the_leaders_questions() {
    let said = text(&pdf("full", &full()), 1);
    for part in [
        "Wyndham",
        "15.4825° S, 128.1228° E, 11 m",
        "Saturday 22 July 2028",
        "Australia/Perth (AWST, UTC+8)",
        "10:58:31",
        "02:58:31",
        // Filter OFF is rounded up, ON down.
        "10:58:35",
        "11:01:21",
        "Filter OFF",
        "Filter ON",
        "2 min 54 s",
        "5 fists at arm's length",
        "north-north-east",
        "88 %",
        "79–94 %",
        "Kununurra",
        "Leave by 07:05 AWST",
        "8 o'clock",
        "2 o'clock",
        "red rim",
        "ISO 12312-2",
        "Delta T 69.41 ± 0.20 s",
        "measured edge",
        "invented demo data",
        "GeoNames (CC BY 4.0)",
    ] {
        assert!(said.contains(&squeezed(part)), "{part:?} is not on the page");
    }
}

#[test]
fn words_inside_the_drawings_stay_text() {
    let said = text(&pdf("drawings", &full()), 1);
    assert!(said.contains("regionalmap") && said.contains("skychart"));
}

/// Words that no page may have where there is no window, in small letters and without white space.
fn bare_eyed(said: &str) -> Vec<&'static str> {
    let said = said.to_lowercase();
    ["filteroff", "corona", "binocularsnow", "lowerbinoculars", "onlywhilenobrightsun"]
        .into_iter()
        .filter(|word| said.contains(word))
        .collect()
}

#[test]
fn outside_the_path_no_page_and_no_model_has_a_filter_off_window() {
    for seen in [Seen::Partial, Seen::Annular, Seen::Nothing] {
        // The timeline of such a place has no line about it; its window, if a caller gives one all the same, is dropped.
        let facts = BriefFacts { seen, watch: Vec::new(), ..full() };
        assert!(matches!(model(&facts).filters, Filters::AlwaysOn { .. }), "{seen:?}");
        let said = text(&pdf(&format!("{seen:?}"), &facts), 1);
        assert_eq!(bare_eyed(&said), Vec::<&str>::new(), "{seen:?}");
        assert!(said.to_lowercase().contains("filteronfrombeginningtoend"), "{seen:?}");
        // Doctored: one line of a timeline of totality on such a page, and the same check finds it.
        let line = full().watch.into_iter().filter(|line| line.what.starts_with("Filter OFF")).collect();
        let doctored = BriefFacts { watch: line, ..facts };
        assert!(bare_eyed(&text(&pdf(&format!("doctored-{seen:?}"), &doctored), 1)).contains(&"filteroff"), "{seen:?}");
    }
    // And on a page with a window it finds what belongs there.
    assert_eq!(bare_eyed(&text(&pdf("full", &full()), 1)), ["filteroff", "lowerbinoculars", "onlywhilenobrightsun"]);
}

#[test]
fn the_window_is_printed_as_it_was_decided_and_a_closed_one_is_dropped() {
    let mut facts = full();
    let Filters::Window { off, on, .. } = model(&facts).filters else { unreachable!("a window was given") };
    assert_eq!((off.as_str(), on.as_str()), ("10:58:35", "11:01:21"));
    if let Ok(window) = &mut facts.window {
        window.on_utc = window.off_utc;
    }
    assert!(matches!(model(&facts).filters, Filters::AlwaysOn { .. }));
    // Without a window the reason is printed, and nothing that only bare eyes see.
    let why = "The skyline hides the Sun's disc, or part of it, through totality or nearly all of it.";
    let hidden = BriefFacts { window: Err(why.into()), watch: Vec::new(), ..full() };
    let Filters::AlwaysOn { reason, .. } = model(&hidden).filters else { unreachable!("no window was given") };
    assert_eq!(reason, why);
    assert_eq!(bare_eyed(&text(&pdf("hidden", &hidden), 1)), Vec::<&str>::new());
}

/// The brief of a place that the ranking rejects is headed by the rejection.
#[test]
fn a_rejected_place_is_headed_by_its_rejection() {
    let rejected =
        BriefFacts { rank: None, rejected: vec!["totality 10.2 s is below the 60 s required".into()], ..full() };
    let said = text(&pdf("rejected", &rejected), 1);
    let heading = squeezed("Rejected by the ranking, not a place to go: totality 10.2 s is below the 60 s required.");
    let at = said.find(&heading).expect("the rejection");
    assert_eq!(at, 0, "before everything else, the place's name too: {said}");
    // As large as the name: the height of its letters, by a reader of PDF that is not ours.
    let boxes =
        ask("pdftotext", &["-bbox"], &keep("rejected-boxes", &brief_pdf(&[model(&rejected)], Paper::A4).expect("pdf")));
    let height = |word: &str| {
        let line =
            boxes.lines().find(|line| line.contains(&format!(">{word}<"))).unwrap_or_else(|| panic!("{word}: {boxes}"));
        let edge = |key: &str| {
            line.split(&format!("{key}=\""))
                .nth(1)
                .and_then(|v| v.split('"').next())
                .and_then(|v| v.parse::<f64>().ok())
        };
        edge("yMax").zip(edge("yMin")).map_or(0.0, |(low, high)| low - high)
    };
    assert!(height("Rejected") > 1.5 * height("required."), "{} {}", height("Rejected"), height("required."));
}

/// What nobody has given takes a line, not a box: the room goes to more of what to watch for, and what is missing is still said.
#[test]
fn a_page_without_clouds_and_fallback_gives_their_room_away_and_says_so() {
    let facts = BriefFacts { cloud: None, fallback: None, watch: longest().watch, ..full() };
    let page = model(&facts);
    assert!(page.odds.is_empty() && page.fallback.is_empty());
    assert_eq!(page.watch.len(), noonfall_words::brief::WATCH_MOST_WITHOUT);
    assert_eq!(page.headline.len(), model(&full()).headline.len() - 1);
    let said = text(&pdf("nothing-known", &BriefFacts { cloud: None, fallback: None, ..full() }), 1);
    for part in ["Fallback, clear sky", "No cloud figures for this place", "No fallback is set"] {
        assert!(said.contains(&squeezed(part)), "{part}: {said}");
    }
    assert!(!said.contains(&squeezed("Odds of a clear sky")));
    // One of the two alone.
    let said = text(&pdf("no-clouds", &BriefFacts { cloud: None, ..full() }), 1);
    assert!(said.contains(&squeezed("No cloud figures")) && !said.contains(&squeezed("No fallback is set")));
}

#[test]
fn what_matters_most_is_kept_of_a_long_list_and_stands_in_order_of_time() {
    let mut facts = longest();
    facts.watch[29].priority = 0;
    facts.watch[29].what = "Filter ON".into();
    let lines = model(&facts).watch;
    assert_eq!(lines.len(), noonfall_words::brief::WATCH_MOST);
    assert_eq!(lines.last().map(|line| line.what.as_str()), Some("Filter ON"));
    assert!(lines.windows(2).all(|w| w[0].time <= w[1].time));
}

#[test]
fn hostile_names_are_shown_as_they_were_written() {
    let said = text(&pdf("markup", &BriefFacts { name: HOSTILE[0].into(), ..bare() }), 1);
    assert!(said.contains(&squeezed("#import \"x.typ\": * *bold* _em_ $x$ `raw` <label> @ref")), "{said}");
    let said = text(&pdf("tags", &BriefFacts { name: HOSTILE[1].into(), ..bare() }), 1);
    assert!(said.contains(&squeezed("</text><script>alert('1')</script> & \"quotes\" \\ back")));
}

#[test]
fn names_in_other_scripts_can_be_read_and_copied() {
    // Joined letters, two of which are one glyph (poppler turns such a pair around, so it is looked for as poppler gives it); Hebrew, Greek,
    // Cyrillic; a letter that no shipped face holds becomes a box.
    for (i, (name, copied)) in [
        ("الأقصر", "األقصر"),
        ("صلالة", "صاللة"),
        ("צפת", "צפת"),
        ("Κέρκυρα", "Κέρκυρα"),
        ("Ивдель", "Ивдель"),
        ("Camp 🌞 2", "Camp □ 2"),
    ]
    .into_iter()
    .enumerate()
    {
        let said = text(&pdf(&format!("script-{i}"), &BriefFacts { name: name.into(), ..full() }), 1);
        assert!(said.contains(&squeezed(copied)), "{name}: {said}");
    }
}

#[test]
fn figures_that_are_not_numbers_never_reach_the_page() {
    let mut facts = full();
    facts.duration_s = f64::NAN;
    facts.lat_deg = f64::INFINITY;
    facts.delta_t.sigma_s = f64::NAN;
    facts.c2 = facts.c2.map(|c| noonfall_words::brief::ContactFacts { sun_azimuth_deg: f64::NAN, ..c });
    if let Some(cloud) = &mut facts.cloud {
        cloud.low_95 = f64::NAN;
    }
    let page = format!("{:?}", model(&facts));
    assert!(!page.contains("NaN") && !page.contains("inf"), "{page}");
}

#[test]
fn the_pdf_is_tagged_titled_and_has_its_fonts_inside() {
    let path = pdf("tagged", &full());
    let info = ask("pdfinfo", &[], &path);
    let field = |name: &str| {
        info.lines().find_map(|line| line.strip_prefix(name)).map(str::trim).unwrap_or_default().to_owned()
    };
    assert_eq!(field("Tagged:"), "yes");
    assert_eq!(field("Pages:"), "1");
    assert_eq!(field("Title:"), "Wyndham: brief for the solar eclipse of 22 July 2028");
    assert!(field("Page size:").contains("A4"), "{info}");
    assert!(field("CreationDate:").contains("2028"), "the document's date is the eclipse's, not the clock's: {info}");
    // The table of pdffonts: name, type, encoding, emb, sub, uni, object; every font embedded and with a way back to Unicode.
    let fonts = ask("pdffonts", &[], &path);
    let rows: Vec<&str> = fonts.lines().skip(2).collect();
    assert!(rows.len() >= 2, "{fonts}");
    for row in rows {
        let cells: Vec<&str> = row.split_whitespace().rev().collect();
        assert_eq!((cells[4], cells[2]), ("yes", "yes"), "{row}");
    }
}

#[test]
fn the_same_input_gives_the_same_bytes_on_any_thread() {
    let facts = full();
    let here = brief_pdf(&[model(&facts)], Paper::A4).expect("pdf");
    let there =
        std::thread::spawn(move || brief_pdf(&[model(&facts)], Paper::A4).expect("pdf")).join().expect("thread");
    assert!(here == there);
}

#[test]
fn svg_has_a_title_and_words_that_can_be_searched_and_png_has_the_papers_shape() {
    let facts = BriefFacts { name: HOSTILE[1].into(), ..full() };
    let svg = brief_svg(&model(&facts), Paper::A4).expect("svg");
    resvg::usvg::Tree::from_str(&svg, &resvg::usvg::Options::default()).expect("a readable SVG");
    assert!(svg.contains("<title>&lt;/text&gt;&lt;script&gt;"));
    assert!(!svg.contains("<script>"));
    assert!(svg.contains(">10:58:35</text>"));
    let png = brief_png(&model(&facts), Paper::A4, 72.0).expect("png");
    // Width and height stand in the header chunk: 595.276 by 841.89 points.
    let size = |at: usize| u32::from_be_bytes([png[at], png[at + 1], png[at + 2], png[at + 3]]);
    assert_eq!((size(16), size(20)), (595, 842));
}

#[test]
fn a_broken_drawing_is_named() {
    let error =
        brief_pdf(&[model(&BriefFacts { map_svg: Some("<svg".into()), ..full() })], Paper::A4).expect_err("refused");
    assert!(error.to_string().contains("regional map"), "{error}");
}

#[test]
fn a_drawing_alone_becomes_a_page_with_its_words() {
    let date = chrono::NaiveDate::from_ymd_opt(2028, 7, 22).expect("date");
    let bytes =
        noonfall_drawing::map_pdf::map_pdf(&drawing("Where to stand", 800, 500), "Map <of> \"it\"", "A map", date)
            .expect("pdf");
    let path = keep("drawing", &bytes);
    assert_eq!(pages(&path), 1);
    assert!(text(&path, 1).contains("Wheretostand"));
}
