//! `noonfall rank`: the main job.

use crate::failure::Failure;
use crate::options::{ListFormat, RankOptions};
use crate::output::{self, Batch};
use crate::progress::Meter;
use noonfall_exchange::ranking::{self, CsvLines};
use noonfall_render::publish::{self, Publication};
use noonfall_scoring::rank::RankedSite;
use noonfall_scoring::trip;

/// Ranks the sites of a plan and writes the report.
pub fn run(options: &RankOptions) -> Result<(), Failure> {
    let meter = Meter::new(options.common.quiet)?;
    let run_options = options.common.over_plan(options.forecast.as_ref(), options.moon_grid.as_ref());
    if options.out.is_none()
        && options.format == Some(ListFormat::Csv)
        && let Some(ranking) = trip::run_long(&options.plan, &run_options, &meter, &CsvLines)?
    {
        meter.finish();
        for note in &ranking.notes {
            output::note(options.common.quiet, note);
        }
        return output::written(|out| ranking.write(&CsvLines, out));
    }
    let outcome = trip::run(&options.plan, &run_options, &meter)?;
    meter.finish();
    if let Some(folder) = &options.out {
        let publication = Publication::new(&outcome);
        let mut batch = Batch::default();
        for file in publication.files()? {
            batch.add(folder.join(file.name), file.bytes);
        }
        for file in publication.long_files() {
            batch.write(folder.join(file.name), |out| (file.write)(out));
        }
        batch.commit()?;
        output::note(options.common.quiet, &format!("report written to {}", folder.display()));
        if let Some(unset) = publish::unset_letters(outcome.ranking.sites.iter().map(RankedSite::name)) {
            output::note(options.common.quiet, &unset);
        }
    }
    for note in &outcome.ranking.notes {
        output::note(options.common.quiet, note);
    }
    match options.format.unwrap_or(if output::to_terminal() { ListFormat::Table } else { ListFormat::Json }) {
        ListFormat::Table => output::data(&output::screen().table(&ranking::sheet(&outcome))),
        ListFormat::Json => output::written(|out| ranking::write_ranking(&outcome, out)),
        ListFormat::Jsonl => output::written(|out| ranking::write_sites(&outcome, out)),
        ListFormat::Csv => output::written(|out| ranking::write_table(&outcome, out)),
    }
}
