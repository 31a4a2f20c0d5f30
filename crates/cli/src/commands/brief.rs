//! `noonfall brief`.

use crate::failure::Failure;
use crate::options::{BriefOptions, PaperChoice, has_extension};
use crate::output::{self, Batch};
use crate::progress::Meter;
use noonfall_exchange::slug;
use noonfall_render::brief::{Paper, brief_pdf, brief_png, brief_svg};
use noonfall_render::publish::{Publication, unset_letters};
use noonfall_scoring::plan::nearest;
use noonfall_scoring::rank::RankedSite;
use noonfall_scoring::trip;
use std::path::PathBuf;

/// Sharp in print at the size of the page.
const DOTS_PER_INCH: f64 = 150.0;

/// Writes the one-page brief of a site, or a page for each of several.
pub fn run(options: &BriefOptions) -> Result<(), Failure> {
    let out = options.out.clone().unwrap_or_else(|| PathBuf::from(format!("brief-{}.pdf", slug(&options.site[0]))));
    let picture = has_extension(&out, "svg") || has_extension(&out, "png");
    if !picture && !has_extension(&out, "pdf") {
        return Err(Failure::BadInput(format!("{}: the ending is not known; give .pdf, .svg or .png", out.display())));
    }
    if picture && options.site.len() > 1 {
        return Err(Failure::BadInput("several sites need several pages; give a file that ends in .pdf".to_owned()));
    }
    let meter = Meter::new(options.common.quiet)?;
    let run_options = options.common.over_plan(options.forecast.as_ref(), options.moon_grid.as_ref());
    let outcome = trip::run(&options.plan, &run_options, &meter)?;
    meter.finish();
    let mut places = Vec::new();
    let mut unknown = Vec::new();
    let names = || outcome.ranking.sites.iter().map(RankedSite::name);
    for name in &options.site {
        match names().position(|known| known == name) {
            Some(place) => places.push(place),
            None => unknown.push(match nearest(name, names()) {
                Some(near) => format!("\"{name}\" is not a site of the plan; did you mean \"{near}\"?"),
                None => {
                    format!("\"{name}\" is not a site of the plan; it has {}", names().collect::<Vec<_>>().join(", "))
                }
            }),
        }
    }
    if !unknown.is_empty() {
        return Err(Failure::BadInput(unknown.join("\n")));
    }
    if let Some(unset) = unset_letters(options.site.iter().map(String::as_str)) {
        output::note(options.common.quiet, &unset);
    }
    let publication = Publication::for_sites(&outcome, &places);
    let models = places.iter().map(|&place| publication.brief(place)).collect::<Result<Vec<_>, _>>()?;
    let paper = match options.paper {
        PaperChoice::A4 => Paper::A4,
        PaperChoice::Letter => Paper::Letter,
    };
    let bytes = if has_extension(&out, "svg") {
        brief_svg(&models[0], paper)?.into_bytes()
    } else if has_extension(&out, "png") {
        brief_png(&models[0], paper, DOTS_PER_INCH)?
    } else {
        brief_pdf(&models, paper)?
    };
    let mut batch = Batch::default();
    batch.add(&out, bytes);
    batch.commit()?;
    output::note(options.common.quiet, &format!("brief written to {}", out.display()));
    Ok(())
}
