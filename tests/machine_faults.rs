//! Faults of the machine: a disk that fills, a run that is killed, two at once, links, inputs without end. Nothing half-written, nothing
//! of the user's lost.
//!
//! The archive is INVENTED: tests/reference/clouds/archives. `KILLS=200` kills more often than a usual test run does.

use crate::util::{command, holds, top};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const NAMES: [&str; 3] = ["odds.csv", "odds.svg", "odds.png"];

/// A run that writes three files into a folder.
fn run(folder: &Path, near: &str) -> Command {
    let mut run = command(&["clouds", "tests/reference/clouds/archives/layers.nc", "--date", "2028-07-13"]);
    run.args(["--quiet", &format!("--near={near}")]).stdout(Stdio::null()).stderr(Stdio::piped());
    for name in NAMES {
        run.arg("--out").arg(folder.join(name));
    }
    run
}

const HERE: &str = "-25.3,141.1";
const THERE: &str = "-25.6,141.4";

/// Names and bytes of a folder's files.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(|e| e.unwrap());
    entries.map(|e| (e.file_name().to_string_lossy().into_owned(), fs::read(e.path()).unwrap())).collect()
}

/// What a whole run leaves in an empty folder.
fn whole(near: &str) -> BTreeMap<String, Vec<u8>> {
    let folder = tempfile::tempdir().unwrap();
    assert!(run(folder.path(), near).status().unwrap().success());
    files(folder.path())
}

/// A folder that holds what an earlier run left, and a file of the user's.
fn lived_in() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in NAMES {
        fs::write(folder.path().join(name), format!("old {name}")).unwrap();
    }
    fs::write(folder.path().join("notes.txt"), "mine").unwrap();
    folder
}

/// Runs a command with files limited to so many blocks of 512 bytes; writing more fails as on a full disk.
#[cfg(unix)]
fn limited(mut run: Command, blocks: u32) -> std::process::Output {
    let mut shell = Command::new("sh");
    shell.args(["-c", &format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"")]);
    shell.arg(run.get_program()).args(run.get_args()).current_dir(top()).env("NO_COLOR", "1");
    shell.stdout(Stdio::piped()).stderr(Stdio::piped());
    run.stdout(Stdio::null());
    shell.output().unwrap()
}

#[cfg(unix)]
#[test]
fn a_disk_that_fills_at_any_write_leaves_everything_as_it_was() {
    let folder = lived_in();
    let before = files(folder.path());
    let (mut refused, mut blocks) = (0, 0);
    loop {
        let output = limited(run(folder.path(), HERE), blocks);
        let stderr = String::from_utf8_lossy(&output.stderr);
        if output.status.success() {
            break;
        }
        assert_eq!(output.status.code(), Some(2), "{blocks} blocks: {stderr}");
        holds(&stderr, &["cannot be written"]);
        assert_eq!(files(folder.path()), before, "{blocks} blocks");
        refused += 1;
        blocks = (blocks * 3 / 2).max(blocks + 1);
    }
    // The smallest of the three files fits long before the largest: every one of them was the one that did not.
    assert!(refused >= 3, "{refused}");
    let mut new = whole(HERE);
    new.insert("notes.txt".into(), b"mine".to_vec());
    assert_eq!(files(folder.path()), new);
}

#[cfg(unix)]
#[test]
fn a_report_that_does_not_fit_leaves_the_old_one_whole() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["report.html", "map.svg", "ranking.csv", "notes.txt"] {
        fs::write(folder.path().join(name), "old").unwrap();
    }
    let before = files(folder.path());
    let mut rank = command(&["rank", "data/demo/plan.toml", "--quiet", "--format", "csv"]);
    rank.arg("--out").arg(folder.path());
    // Most files of the report fit into this, the page does not.
    let output = limited(rank, 600);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{stderr}");
    holds(&stderr, &["cannot be written"]);
    assert_eq!(files(folder.path()), before);
}

#[cfg(target_os = "linux")]
#[test]
fn standard_output_that_is_full_is_told() {
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = command(&["list", "--from", "2026", "--to", "2030"]).stdout(full).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    holds(&String::from_utf8_lossy(&output.stderr), &["standard output cannot be written"]);
}

#[test]
fn a_run_that_is_killed_at_any_instant_leaves_whole_files_and_the_next_one_tidies_up() {
    let new = whole(HERE);
    let start = Instant::now();
    whole(HERE);
    let takes = start.elapsed();
    let kills: u32 = std::env::var("KILLS").ok().and_then(|k| k.parse().ok()).unwrap_or(20);
    let folder = lived_in();
    for kill in 0..kills {
        for name in NAMES {
            fs::write(folder.path().join(name), format!("old {name}")).unwrap();
        }
        let mut run = run(folder.path(), HERE).spawn().unwrap();
        // Most of the instants late, where it writes.
        let share = 1.0 - (1.0 - f64::from(kill) / f64::from(kills)).powi(2);
        std::thread::sleep(takes.mul_f64(share * 1.05).max(Duration::from_millis(1)));
        let _ = run.kill();
        run.wait().unwrap();
        let left = files(folder.path());
        assert_eq!(left["notes.txt"], b"mine");
        for name in NAMES {
            assert!(left[name] == new[name] || left[name] == format!("old {name}").into_bytes(), "{name}, kill {kill}");
        }
    }
    // Parts of killed runs are hidden files; a run that ends takes them away.
    assert!(run(folder.path(), HERE).status().unwrap().success());
    let left = files(folder.path());
    assert_eq!(left.keys().map(String::as_str).collect::<Vec<_>>(), ["notes.txt", "odds.csv", "odds.png", "odds.svg"]);
}

#[test]
fn two_runs_into_one_folder_leave_the_files_of_one() {
    let (here, there) = (whole(HERE), whole(THERE));
    // The archive as a plain table is the same wherever one asks; the drawings are not.
    assert!(here["odds.svg"] != there["odds.svg"] && here["odds.png"] != there["odds.png"]);
    let folder = tempfile::tempdir().unwrap();
    for _ in 0..4 {
        let both = [HERE, THERE].map(|near| run(folder.path(), near).spawn().unwrap());
        for mut one in both {
            assert!(one.wait().unwrap().success());
        }
        let left = files(folder.path());
        assert!(left == here || left == there, "{:?}", left.keys());
    }
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link_and_what_it_points_to_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let far = tempfile::tempdir().unwrap();
    for name in NAMES {
        std::os::unix::fs::symlink(far.path().join(name), folder.path().join(name)).unwrap();
    }
    assert!(run(folder.path(), HERE).status().unwrap().success());
    assert!(NAMES.iter().all(|name| folder.path().join(name).is_symlink()));
    assert_eq!(files(far.path()), whole(HERE));
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_is_told_before_the_work() {
    use std::os::unix::fs::PermissionsExt;
    let folder = lived_in();
    let before = files(folder.path());
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o555)).unwrap();
    // Who may do everything is not stopped by this.
    let allowed = fs::write(folder.path().join("probe"), "x").is_ok();
    let output = run(folder.path(), HERE).output().unwrap();
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
    if !allowed {
        assert_eq!(output.status.code(), Some(2));
        holds(&String::from_utf8_lossy(&output.stderr), &["cannot be written"]);
        assert_eq!(files(folder.path()), before);
    }
}

#[test]
fn inputs_without_end_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |path: &Path, arguments: &[&str], says: &str| {
        let output = command(arguments).arg(path).output().unwrap();
        let stderr = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{stderr}");
        holds(&stderr, &[says]);
    };
    // A hole of zeros: the size is asked before anything is read.
    let sites = folder.path().join("sites.csv");
    fs::write(&sites, "name,lat,lon\n").unwrap();
    fs::OpenOptions::new().write(true).open(&sites).unwrap().set_len(4 << 30).unwrap();
    refused(&sites, &["at", "2028-07-22", "--sites"], "is longer than 256 MiB");
    let plan = folder.path().join("plan.toml");
    let keys: String = (0..100_000).map(|i| format!("k{i} = 1\n")).collect();
    fs::write(&plan, format!("[eclipse]\ndate = 2028-07-22\n[weights]\n{keys}")).unwrap();
    refused(&plan, &["rank"], "is longer than 256 KiB");
    refused(&plan, &["check"], "is longer than 256 KiB");
}
