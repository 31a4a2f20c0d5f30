//! The committed demo report regenerates byte for byte.

use crate::util::{stdout, top};
use std::fs;

#[test]
fn the_committed_demo_report_regenerates() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("demo");
    stdout(&["rank", "data/demo/plan.toml", "--out", out.to_str().unwrap(), "--format", "csv", "--quiet"]);
    let committed = top().join("reports/demo");
    let mut names: Vec<_> = fs::read_dir(&committed).unwrap().map(|e| e.unwrap().file_name()).collect();
    let mut made: Vec<_> = fs::read_dir(&out).unwrap().map(|e| e.unwrap().file_name()).collect();
    names.sort();
    made.sort();
    assert_eq!(names, made);
    for name in names {
        let same = fs::read(committed.join(&name)).unwrap() == fs::read(out.join(&name)).unwrap();
        assert!(
            same,
            "{} differs; regenerate with: noonfall rank data/demo/plan.toml --out reports/demo",
            name.to_string_lossy()
        );
    }
}
