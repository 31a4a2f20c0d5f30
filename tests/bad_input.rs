//! Every refusal: its message, exit status 2, nothing on standard output, nothing written.

use crate::util::{holds, refusal, top};
use std::fs;
use std::path::Path;

/// A folder with the demo's files, in which one file is replaced.
fn demo_with(name: &str, content: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(top().join("data/demo")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            fs::copy(&path, folder.path().join(path.file_name().unwrap())).unwrap();
        }
    }
    fs::write(folder.path().join(name), content).unwrap();
    folder
}

fn demo(name: &str) -> String {
    fs::read_to_string(top().join("data/demo").join(name)).unwrap()
}

/// Ranks a plan into a folder that must not come into being.
fn refused_rank(folder: &Path) -> String {
    let out = folder.join("out");
    let message = refusal(&["rank", folder.join("plan.toml").to_str().unwrap(), "--out", out.to_str().unwrap()]);
    assert!(!out.exists(), "an output folder was made in spite of the refusal");
    message
}

#[test]
fn a_latitude_of_95() {
    let folder = demo_with("sites.csv", "name,lat,lon\nNowhere,95,127\nElsewhere,-91,127\n");
    holds(&refused_rank(folder.path()), &["sites.csv:2", "lat", "95", "sites.csv:3", "-91", "90"]);
    holds(&refusal(&["at", "2028-07-22", "--lat", "95", "--lon", "0"]), &["95", "latitude", "-90"]);
}

#[test]
fn text_where_a_number_belongs() {
    let folder = demo_with("sites.csv", "name,lat,lon\nNowhere,south,127\n");
    holds(&refused_rank(folder.path()), &["sites.csv:2", "lat", "south", "degrees"]);
    holds(&refusal(&["at", "2028-07-22", "--lat", "south", "--lon", "0"]), &["south", "number"]);
}

#[test]
fn an_empty_and_a_headerless_csv() {
    let folder = demo_with("sites.csv", "");
    holds(&refused_rank(folder.path()), &["sites.csv", "empty"]);
    let folder = demo_with("sites.csv", "Wyndham,-15.48,128.12\n");
    holds(&refused_rank(folder.path()), &["sites.csv", "header", "name"]);
    let folder = demo_with("clouds.csv", "");
    holds(&refused_rank(folder.path()), &["clouds.csv", "empty"]);
}

#[test]
fn cloud_of_140_percent_and_nine_oktas() {
    let folder = demo_with("clouds.csv", "lat,lon,month,cloud_percent,source\n-20,130,7,140,INVENTED demo data\n");
    holds(&refused_rank(folder.path()), &["clouds.csv:2", "140", "100"]);
    let folder = demo_with("clouds.csv", "lat,lon,month,cloud_oktas,source\n-20,130,7,9,INVENTED demo data\n");
    holds(&refused_rank(folder.path()), &["clouds.csv:2", "9", "8"]);
}

#[test]
fn an_unknown_plan_key() {
    let plan = demo("plan.toml").replacen("[weights]", "[weihgts]", 1);
    let folder = demo_with("plan.toml", &plan);
    holds(&refused_rank(folder.path()), &["plan.toml:", "weihgts", "weights"]);
}

#[test]
fn a_date_without_an_eclipse_names_the_nearest() {
    for command in [&["trace", "2028-07-23"][..], &["at", "2028-07-23", "--lat", "0", "--lon", "0"]] {
        holds(&refusal(command), &["no solar eclipse", "2028-07-22 (total)", "2029-01-14 (partial)"]);
    }
    holds(&refusal(&["trace", "2028-13-01"]), &["2028-13-01", "date"]);
}

#[test]
fn a_partial_eclipse_has_no_path_and_no_ranking() {
    holds(&refusal(&["trace", "2025-03-29"]), &["partial"]);
    let plan = demo("plan.toml").replacen("2028-07-22", "2025-03-29", 1);
    let folder = demo_with("plan.toml", &plan);
    holds(&refused_rank(folder.path()), &["2025-03-29", "partial"]);
}

#[test]
fn an_unusable_kernel() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let whole = noonfall_ephemeris::Kernel::embedded().spk_bytes().unwrap();
    let truncated = file("truncated.bsp", &whole[..whole.len() / 3]);
    let text = file("text.bsp", b"not a kernel");
    let missing = folder.path().join("missing.bsp").to_str().unwrap().to_owned();
    holds(&refusal(&["trace", "2028-07-22", "--kernel", &truncated]), &["truncated.bsp", "truncated"]);
    holds(&refusal(&["trace", "2028-07-22", "--kernel", &text]), &["text.bsp", "not an SPK"]);
    holds(&refusal(&["trace", "2028-07-22", "--kernel", &missing]), &["missing.bsp", "read"]);
}

/// Kernels that are whole, but not what is needed; `crates/shadow/tests/kernels.rs` has more of them.
#[test]
fn a_kernel_of_the_wrong_type_or_with_a_gap_over_the_eclipse() {
    use crate::spk_writer::{Segment, chebyshev_segment, spk};
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, segments: &[Segment]| {
        let path = folder.path().join(name);
        fs::write(&path, spk(segments, true)).unwrap();
        path.to_str().unwrap().to_owned()
    };
    // 22 July 2028, 3 h, in seconds past J2000, and a body that stands still: it is never asked where it is.
    let middle = 901_119_600.0;
    let still = |ids: (i32, i32), from_days: f64, to_days: f64| {
        let span = (middle + from_days * 86_400.0, middle + to_days * 86_400.0);
        chebyshev_segment(2, ids, span, 86_400.0, 3, |_| ([1.0; 3], [0.0; 3]))
    };
    let (sun, barycentre) = (still((10, 0), -9.0, 9.0), still((3, 0), -9.0, 9.0));
    let of_type_13 = Segment { data_type: 13, ..still((301, 3), -9.0, 9.0) };
    let wrong = file("wrong.bsp", &[sun.clone(), barycentre.clone(), of_type_13]);
    let gap = file("gap.bsp", &[sun, barycentre, still((301, 3), -9.0, -3.0), still((301, 3), 3.0, 9.0)]);
    for command in [&["trace", "2028-07-22"][..], &["at", "2028-07-22", "--lat", "-15", "--lon", "128"]] {
        let with = |kernel: &str| refusal(&[command, &["--kernel", kernel]].concat());
        holds(&with(&wrong), &["wrong.bsp", "Moon", "type 13", "types 2 and 3"]);
        holds(&with(&gap), &["gap.bsp", "2028-07-2", "Moon", "covers 2028-07-13 to 2028-07-19", "2028-07-25"]);
    }
}

#[test]
fn a_year_outside_the_ephemeris_says_what_is_covered() {
    // The earliest instant that is missing is named, on any number of threads.
    for _ in 0..5 {
        holds(&refusal(&["list", "--from", "1850", "--to", "1860"]), &["1850", "1899", "2101"]);
    }
    holds(&refusal(&["trace", "1851-07-28"]), &["1851", "1899"]);
    holds(&refusal(&["list", "--from", "2030", "--to", "2020"]), &["2030", "2020", "earlier"]);
}

#[test]
fn an_output_folder_that_cannot_be_written() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a-file");
    fs::write(&file, "kept").unwrap();
    let inside = file.join("out");
    holds(
        &refusal(&["rank", "data/demo/plan.toml", "--out", inside.to_str().unwrap()]),
        &["a-file", "cannot be written"],
    );
    assert_eq!(fs::read_to_string(&file).unwrap(), "kept");
}

#[test]
fn a_step_too_fine_or_too_long() {
    for step in ["1e-9", "0", "-60", "1e99", "NaN"] {
        holds(&refusal(&["trace", "2028-07-22", "--every", step]), &["--every", step]);
    }
}

#[test]
fn absurd_numbers() {
    holds(&refusal(&["trace", "2028-07-22", "--delta-t", "-1e9"]), &["-1000000000", "ΔT"]);
    holds(&refusal(&["trace", "2028-07-22", "--delta-t", "nan"]), &["nan", "finite"]);
    holds(
        &refusal(&["at", "2028-07-22", "--lat", "0", "--lon", "0", "--elevation", "1e7"]),
        &["10000000", "elevation"],
    );
    holds(
        &refusal(&["list", "--from", "2020", "--to", "2021", "--near", "100,0", "--within", "5"]),
        &["100", "latitude"],
    );
    holds(
        &refusal(&["at", "2028-07-22", "--lat", "-45", "--lon", "168", "--zone", "Mars/Olympus"]),
        &["Mars/Olympus", "zone"],
    );
}

#[test]
fn nan_and_infinity_in_a_csv() {
    let folder = demo_with("sites.csv", "name,lat,lon,elevation_m\nA,NaN,127,0\nB,-20,inf,0\nC,-20,127,-inf\n");
    holds(&refused_rank(folder.path()), &["sites.csv:2", "sites.csv:3", "sites.csv:4"]);
}

#[test]
fn an_unknown_command_and_option_suggest_the_nearest() {
    holds(&refusal(&["rnak", "plan.toml"]), &["rnak", "rank"]);
    holds(&refusal(&["list", "--form", "2020", "--to", "2030"]), &["--form", "--from"]);
}

#[test]
fn a_site_that_the_plan_does_not_have() {
    holds(&refusal(&["brief", "data/demo/plan.toml", "--site", "Milfrod Sound"]), &["Milfrod Sound", "Milford Sound"]);
}
