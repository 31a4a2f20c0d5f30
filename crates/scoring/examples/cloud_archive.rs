//! How long does it take to read an area and a season out of a cloud archive? A figure for `reports/benchmarks.md`.
//!
//!     cargo run --release -p noonfall-scoring --example cloud_archive -- FILE LAT LON YYYY-MM-DD

// An example speaks to whoever runs it.
#![allow(clippy::print_stdout)]

use std::path::PathBuf;
use std::time::Instant;

use noonfall_scoring::outlook::cloud::CloudOptions;
use noonfall_scoring::outlook::cloud_survey::{SurveyQuestion, survey};

fn main() -> Result<(), String> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [file, lat, lon, date] = words.as_slice() else {
        return Err("give FILE LAT LON YYYY-MM-DD".to_owned());
    };
    let number = |text: &String| text.parse::<f64>().map_err(|e| format!("{text}: {e}"));
    let question = SurveyQuestion {
        near: Some((number(lat)?, number(lon)?)),
        date: Some(date.parse().map_err(|e| format!("{date}: {e}"))?),
        solar_hour: None,
    };
    let start = Instant::now();
    let found = survey(&[PathBuf::from(file)], CloudOptions::default(), &question).map_err(|e| e.to_string())?;
    let seconds = start.elapsed().as_secs_f64();
    let chance = found.place.and_then(|p| p.answer.ok()).map(|o| o.clear_line_of_sight);
    println!("{seconds:.2} s, {} figures kept, chance {chance:?}", found.source.table().covers().count());
    // Peak memory as the system counts it, where it does.
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    println!("{}", status.lines().find(|l| l.starts_with("VmHWM")).unwrap_or("no count of memory here"));
    Ok(())
}
