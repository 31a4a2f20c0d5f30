//! The committed demo report regenerates byte for byte.

use crate::util::{command, top};
use std::fs;
use std::path::Path;

#[test]
fn the_committed_demo_report_regenerates() {
    regenerates(&[]);
}

#[test]
fn the_demo_is_the_same_on_one_thread() {
    regenerates(&[("RAYON_NUM_THREADS", "1")]);
}

fn regenerates(surroundings: &[(&str, &str)]) {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("demo");
    let asked = ["rank", "data/demo/plan.toml", "--out", out.to_str().unwrap(), "--format", "csv", "--quiet"];
    let run = command(&asked).envs(surroundings.iter().copied()).output().unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let committed = top().join("reports/demo");
    let names = |folder: &Path| {
        let mut names: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name()).collect();
        names.sort();
        names
    };
    assert_eq!(names(&committed), names(&out));
    for name in names(&committed) {
        let same = fs::read(committed.join(&name)).unwrap() == fs::read(out.join(&name)).unwrap();
        assert!(
            same,
            "{} differs {surroundings:?}; regenerate with: noonfall rank data/demo/plan.toml --out reports/demo",
            name.to_string_lossy()
        );
    }
}
