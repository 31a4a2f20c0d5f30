//! `noonfall check`.

use crate::failure::Failure;
use crate::options::CheckOptions;
use crate::output;
use crate::progress::Meter;
use noonfall_scoring::trip;

/// Reads a plan and all its files, ranks nothing, and says what was understood.
pub fn run(options: &CheckOptions) -> Result<(), Failure> {
    let meter = Meter::new(options.common.quiet)?;
    let run_options = options.common.over_plan(options.forecast.as_ref(), options.moon_grid.as_ref());
    let understood = trip::check(&options.plan, &run_options, &meter)?;
    meter.finish();
    let mut text = String::new();
    for part in understood {
        text.push_str(part.part);
        text.push('\n');
        part.lines.iter().for_each(|line| text.push_str(&output::screen().line(&format!("  {line}"))));
    }
    text.push_str("Nothing was ranked; everything that the plan names can be read.\n");
    output::data(&text)
}
