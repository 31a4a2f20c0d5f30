//! `noonfall trace`.

use crate::failure::Failure;
use crate::options::{TraceFormat, TraceOptions};
use crate::output;
use noonfall_render::exchange::{ExportHead, ExportPath, csv, geojson, json, kml};
use noonfall_render::sheets;
use noonfall_shadow::Kind;

/// Traces a path.
pub fn run(options: &TraceOptions) -> Result<(), Failure> {
    let kernel = options.common.kernel()?;
    let eclipse = options.common.eclipse(kernel.get(), options.date)?;
    if eclipse.kind() == Kind::Partial {
        return Err(Failure::BadInput(format!(
            "the eclipse of {} is partial: its umbra misses the Earth, so there is no path to trace; use `noonfall at` for a place",
            options.date
        )));
    }
    let path = eclipse.path(options.every);
    match options.format.unwrap_or(if output::to_terminal() { TraceFormat::Table } else { TraceFormat::Json }) {
        TraceFormat::Table => {
            output::data(&sheets::trace(&path).to_terminal())?;
            output::note(options.common.quiet, "width from limit to limit on the ground, at right angles to the path");
            Ok(())
        }
        TraceFormat::Json => output::data(&json::to_text(&json::trace(&eclipse, &path), true)),
        TraceFormat::Jsonl => {
            let lines: String = path.points.iter().map(|p| json::to_text(&json::trace_point(p), false)).collect();
            output::data(&lines)
        }
        TraceFormat::Csv => output::data(&csv::write(&sheets::trace(&path))?),
        TraceFormat::Geojson => {
            output::data(&geojson::feature_collection(&ExportHead::of(&eclipse), &ExportPath::of(&path), &[]))
        }
        TraceFormat::Kml => output::data(&kml::document(&ExportHead::of(&eclipse), &ExportPath::of(&path), &[])?),
    }
}
