//! The committed comparison of two places says what the engine says.

#[path = "../examples/two_places.rs"]
mod two_places;

#[test]
fn the_committed_page_regenerates() {
    let made = two_places::page().map_err(|e| e.to_string());
    let committed = include_str!("../../../reports/two-places.md");
    assert_eq!(
        made.as_deref(),
        Ok(committed),
        "regenerate with: cargo run -p noonfall-scoring --example two_places reports/two-places.md"
    );
}
