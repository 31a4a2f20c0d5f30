//! Writes `reports/accuracy.md`: how far this crate is from an independent rigorous computation.
//!
//!     cargo run --release -p noonfall-shadow --example accuracy

#[allow(clippy::panic, clippy::unwrap_used)]
mod measure;

use std::fmt::Write;
use std::path::PathBuf;

#[allow(clippy::print_stdout)]
fn main() -> std::io::Result<()> {
    let page = page();
    let path: PathBuf = [env!("CARGO_MANIFEST_DIR"), "../../reports/accuracy.md"].iter().collect();
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)?;
    }
    std::fs::write(&path, &page)?;
    print!("{page}");
    Ok(())
}

fn page() -> String {
    let mut page = String::from(
        "# Accuracy\n\n\
         Made by `cargo run --release -p noonfall-shadow --example accuracy`.\n\n\
         Absolute differences from the independent computation in `tests/reference` (its `ORIGIN.md` tells how: full\n\
         DE440, ERFA, topocentric vectors, light time, root-finding on the separation, no Besselian elements), with the\n\
         same ΔT and radii, for the smooth Moon. The Moon's true edge and the window have a page of their own,\n\
         `moon-edge.md`; the light of totality and shadow bands have `light.md`.\n",
    );
    let sections = [
        ("Local circumstances", measure::local_circumstances()),
        ("The same places through the batch", measure::batch()),
        ("Lines on the ground, sea level", measure::curves()),
        ("All eclipses 1900–2100", measure::all_eclipses()),
    ];
    for (title, quantities) in sections {
        let _ = write!(page, "\n## {title}\n\n| quantity | unit | cases | median | 99 % | worst | target |\n");
        page.push_str("| --- | --- | ---: | ---: | ---: | ---: | ---: |\n");
        for q in quantities {
            let (median, high, worst) = q.distribution();
            let target = q.target.map_or_else(|| "–".to_owned(), |t| t.to_string());
            let _ = writeln!(
                page,
                "| {} | {} | {} | {} | {} | {} | {target} |",
                q.name,
                q.unit,
                q.errors.len(),
                figure(median),
                figure(high),
                figure(worst)
            );
        }
    }
    page
}

/// Two significant figures.
fn figure(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let decimals = (1.0 - value.abs().log10().floor()).max(0.0) as usize;
    if decimals > 6 { format!("{value:.1e}") } else { format!("{value:.decimals$}") }
}
