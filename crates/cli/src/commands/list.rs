//! `noonfall list`.

use crate::failure::Failure;
use crate::options::{ListFormat, ListOptions};
use crate::output;
use noonfall_exchange::sheets;
use noonfall_exchange::{csv, json};
use noonfall_shadow::{Conventions, Kind, catalogue};

/// Lists the eclipses of a span.
pub fn run(options: &ListOptions) -> Result<(), Failure> {
    if options.from > options.to {
        return Err(Failure::BadInput(format!(
            "--from {} lies after --to {}; give the earlier year first",
            options.from, options.to
        )));
    }
    let kernel = options.common.kernel()?;
    let conventions = Conventions::default();
    let delta_t = options.common.delta_t()?;
    let mut eclipses = catalogue::list(kernel.get(), options.from, options.to, delta_t.as_ref(), &conventions)?;
    eclipses.retain(|e| options.kind.is_none_or(|kind| e.kind() == kind));
    if let (Some(point), Some(within_km)) = (options.near, options.within) {
        eclipses.retain(|e| e.kind() != Kind::Partial && catalogue::passes_near(e, point, within_km));
    }
    match options.format.unwrap_or(if output::to_terminal() { ListFormat::Table } else { ListFormat::Json }) {
        ListFormat::Table => {
            output::data(&output::screen().table(&sheets::listing(&eclipses)))?;
            output::note(
                options.common.quiet,
                &format!("{} eclipses; width by the handbook's plane formula at greatest eclipse", eclipses.len()),
            );
            Ok(())
        }
        ListFormat::Json => output::data(&json::to_text(&json::listing(&eclipses), true)),
        ListFormat::Jsonl => {
            let lines: String = eclipses.iter().map(|e| json::to_text(&json::listed(e), false)).collect();
            output::data(&lines)
        }
        ListFormat::Csv => output::data(&csv::write(&sheets::listing(&eclipses))?),
    }
}
