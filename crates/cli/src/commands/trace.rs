//! `noonfall trace`.

use crate::failure::Failure;
use crate::options::{TraceFormat, TraceOptions, moon_heights};
use crate::output;
use noonfall_exchange::sheets;
use noonfall_exchange::{ExportHead, ExportPath, csv, curves, geojson, json, kml};
use noonfall_scoring::outlook::totality::EdgeShown;
use noonfall_shadow::moon_edge::{EdgeSettings, TrueLimits};
use noonfall_shadow::{Isoline, Kind};
use noonfall_words::edge::limits_in_file;

/// Traces a path.
pub fn run(options: &TraceOptions) -> Result<(), Failure> {
    let curves_wanted = options.outline || !options.isolines.is_empty();
    let true_edge = options.edge() == EdgeShown::True;
    let lines_wanted = curves_wanted || true_edge;
    let format = options.format.unwrap_or(if output::to_terminal() && !lines_wanted {
        TraceFormat::Table
    } else {
        TraceFormat::Json
    });
    if lines_wanted && matches!(format, TraceFormat::Table | TraceFormat::Jsonl | TraceFormat::Csv) {
        return Err(Failure::BadInput(
            "a table has no place for an outline, isolines or true limits; give --format json, geojson or kml"
                .to_owned(),
        ));
    }
    if options.moon_grid.is_some() && !true_edge {
        return Err(Failure::BadInput("--moon-grid has no say in a smooth Moon's limits; add --edge true".to_owned()));
    }
    let heights = moon_heights(options.moon_grid.as_deref())?;
    let kernel = options.common.kernel()?;
    let eclipse = options.common.eclipse(kernel.get(), options.date)?;
    if eclipse.kind() == Kind::Partial && !curves_wanted {
        return Err(Failure::BadInput(format!(
            "the eclipse of {} is partial: its umbra misses the Earth, so there is no path to trace; use --outline for its limits, or `noonfall at` for a place",
            options.date
        )));
    }
    let path = eclipse.path(options.every);
    let outline = if options.outline { eclipse.outline() } else { None };
    let isolines: Vec<Isoline> = options
        .isolines
        .iter()
        .flat_map(|&quantity| eclipse.isolines(quantity, &eclipse.usual_isoline_values(quantity)))
        .collect();
    let settings = EdgeSettings::default();
    let true_limits = true_edge.then(|| match eclipse.kind() {
        Kind::Total | Kind::Hybrid => eclipse.true_limits(&heights, &settings, options.every),
        Kind::Annular | Kind::Partial => TrueLimits::default(),
    });
    let export_path = || {
        let limits = true_limits.iter().flat_map(|limits| curves::true_limits(limits, &heights));
        let outline = limits.chain(outline.iter().flat_map(curves::outline));
        ExportPath { curves: outline.chain(curves::isolines(&isolines)).collect(), ..ExportPath::of(&path) }
    };
    let head = || {
        let edge = true_limits.as_ref().map_or_else(String::new, |_| limits_in_file(heights.source()));
        ExportHead { edge, ..ExportHead::of(&eclipse) }
    };
    match format {
        TraceFormat::Table => {
            output::data(&output::screen().table(&sheets::trace(&path)))?;
            output::note(options.common.quiet, "width from limit to limit on the ground, at right angles to the path");
            Ok(())
        }
        TraceFormat::Json => {
            let mut document = json::trace(&eclipse, &path);
            if let (Some(outline), Some(fields)) = (&outline, document.as_object_mut()) {
                fields.insert("outline".into(), json::outline(outline));
            }
            if let (Some(limits), Some(fields)) = (&true_limits, document.as_object_mut()) {
                fields.insert("true_limits".into(), json::true_limits(limits, &heights, &settings));
            }
            if let (false, Some(fields)) = (options.isolines.is_empty(), document.as_object_mut()) {
                fields.insert("isolines".into(), json::isolines(&isolines));
            }
            output::data(&json::to_text(&document, true))
        }
        TraceFormat::Jsonl => {
            let lines: String = path.points.iter().map(|p| json::to_text(&json::trace_point(p), false)).collect();
            output::data(&lines)
        }
        TraceFormat::Csv => output::data(&csv::write(&sheets::trace(&path))?),
        TraceFormat::Geojson => output::data(&geojson::feature_collection(&head(), &export_path(), &[])),
        TraceFormat::Kml => output::data(&kml::document(&head(), &export_path(), &[])?),
    }
}
