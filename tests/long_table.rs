//! Tables of candidates longer than memory: the same lines as by the plain way, on any number of threads, and every fault.

use crate::util::{holds, refusal, top};
use noonfall_exchange::csv;
use noonfall_exchange::ranking::{self, CsvLines};
use noonfall_scoring::progress::Silent;
use noonfall_scoring::trip::{Options, run, run_longer_than};
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// Invented places in and about the path of 2028-07-22 over Australia: some share a name, some a place, some both figures and name with
/// nobody but their place in the table; heights and zones are given for some.
fn table(rows: usize) -> String {
    let mut state = 2028_u64;
    let mut random = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 40) as f64 / (1_u64 << 24) as f64
    };
    let mut text = String::from("name,lat,lon,elevation_m,zone,region,drive_hours\n");
    for i in 0..rows {
        // From Wyndham to Sydney and 2 degrees to either side.
        let along = random();
        let (lat, lon) = (-15.5 - 18.4 * along + 4.0 * (random() - 0.5), 128.1 + 23.1 * along);
        let height = if random() < 0.7 { format!("{:.0}", random() * 900.0) } else { String::new() };
        let zone = if random() < 0.3 { "Australia/Darwin" } else { "" };
        let name = match i % 50 {
            0 => "Camp".to_owned(),
            1 => format!("\"Gate, {}\"", i / 100),
            _ => format!("place {i}"),
        };
        let region = if random() < 0.5 { format!("r{i}") } else { String::new() };
        let hours = if random() < 0.98 { format!("{:.1}", random() * 9.0) } else { String::new() };
        let row = format!("{lat:.4},{lon:.4},{height},{zone},{region},{hours}");
        writeln!(text, "{name},{row}").unwrap();
        if i % 40 == 7 {
            // The same place by another name: only the name decides which comes first.
            writeln!(text, "twin {:04},{row}", 9000 - i).unwrap();
        }
    }
    text
}

fn plan(folder: &Path, sites: &str) -> std::path::PathBuf {
    fs::write(folder.join("sites.csv"), sites).unwrap();
    for file in ["clouds.csv", "day-records.csv"] {
        fs::copy(top().join("data/demo").join(file), folder.join(file)).unwrap();
    }
    let text = "[eclipse]\ndate = \"2028-07-22\"\n[sites]\nfile = \"sites.csv\"\n[clouds]\nfile = \"clouds.csv\"\nrecords = \"day-records.csv\"\n\
        [weights]\ntotality = 2\nclear_sky = 3\nshadow_bands = 1\ndrive_hours = 1\n[wish.drive_hours]\nbetter = \"lower\"\nfrom = 0\nto = 9\n\
        [require]\nmin_totality_s = 40\n[robustness]\ndraws = 2000\n";
    fs::write(folder.join("plan.toml"), text).unwrap();
    folder.join("plan.toml")
}

fn on_threads<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(work)
}

#[test]
fn the_lines_are_those_of_the_plain_way_on_any_number_of_threads() {
    let folder = tempfile::tempdir().unwrap();
    let plan = plan(folder.path(), &table(2300));
    let plain = run(&plan, &Options::default(), &Silent).unwrap();
    let lines = csv::write(&ranking::sheet(&plain)).unwrap();
    assert!(lines.lines().count() > 2300 && lines.contains("\"Gate, 3 (") && lines.contains("Camp (1)"));
    let ranked = plain.ranking.sites.iter().filter(|s| s.rank.is_some()).count();
    assert!(ranked > 1000 && ranked < 2200, "{ranked}");
    for threads in [1, 3] {
        let (notes, long) = on_threads(threads, || {
            let ranking = run_longer_than(1000, &plan, &Options::default(), &Silent, &CsvLines).unwrap().unwrap();
            let (notes, mut out) = (ranking.notes.clone(), Vec::new());
            ranking.write(&CsvLines, &mut out).unwrap();
            (notes, String::from_utf8(out).unwrap())
        });
        assert_eq!(notes, plain.ranking.notes);
        let differ = lines.lines().zip(long.lines()).position(|(a, b)| a != b);
        assert_eq!(differ.map(|i| (lines.lines().nth(i), long.lines().nth(i))), None);
        assert_eq!(lines.len(), long.len());
    }
}

#[test]
fn every_fault_is_told_as_by_the_plain_way() {
    let folder = tempfile::tempdir().unwrap();
    let mut text = table(1200);
    text +=
        "A,95,10,,,,\nB,-20,130,1e7,Europe/Berlinn,,\nA,1,2\n,-20,131,,,,\nC,-20,132,,,,many\nplace 2,-20,133,,,,1\n";
    let plan = plan(folder.path(), &text);
    let long = || run_longer_than(100, &plan, &Options::default(), &Silent, &CsvLines).unwrap_err().to_string();
    let plain = run(&plan, &Options::default(), &Silent).unwrap_err().to_string();
    assert_eq!(long(), plain);
    holds(
        &plain,
        &["\"95\" is not a latitude", "did you mean Europe/Berlin?", "the row has 3 cells", "the name is empty"],
    );
    // Without those, a column that holds words, and names that nobody bears.
    fs::write(folder.path().join("sites.csv"), table(1200) + "C,-20,132,,,,many\n").unwrap();
    let more = "[fallback]\nbase = \"Nowhere at all\"\n[output]\ncompare = [\"place 3\", \"nobody\"]\n";
    let text = fs::read_to_string(&plan).unwrap();
    fs::write(&plan, text.clone() + more).unwrap();
    let told = long();
    holds(&told, &["\"many\" is not a number", "\"nobody\" is not one of the sites", "\"Nowhere at all\" is neither"]);
    assert!(!told.contains("place 3"), "{told}");
    // Nothing left is told with the best there is.
    fs::write(folder.path().join("sites.csv"), table(1200)).unwrap();
    fs::write(&plan, text.replace("min_totality_s = 40", "min_totality_s = 4000")).unwrap();
    assert_eq!(long(), run(&plan, &Options::default(), &Silent).unwrap_err().to_string());
    assert!(long().contains("relax it; the best value among them is"), "{}", long());
}

#[test]
fn a_report_of_too_many_is_refused_and_says_what_would_take_them() {
    let folder = tempfile::tempdir().unwrap();
    let rows: String = (0..200_001).map(|i| format!("n{i},-20,130\n")).collect();
    let plan = plan(folder.path(), &format!("name,lat,lon\n{rows}"));
    let text =
        fs::read_to_string(&plan).unwrap().replace("file = \"sites.csv\"", "file = \"sites.csv\"\nlimit = 1000000");
    fs::write(&plan, text).unwrap();
    let told = refusal(&["rank", plan.to_str().unwrap(), "--out", folder.path().join("out").to_str().unwrap()]);
    holds(&told, &["there are 200001 rows, more than the 200000 accepted", "--format csv without --out"]);
    assert!(!folder.path().join("out").exists());
}
