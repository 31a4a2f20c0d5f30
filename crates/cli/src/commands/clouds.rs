//! `noonfall clouds`.

use crate::failure::Failure;
use crate::options::{CloudsFormat, CloudsOptions, has_extension};
use crate::output::{self, Batch};
use noonfall_drawing::chart::ChartPage;
use noonfall_drawing::chart::cloud_archive;
use noonfall_drawing::{raster, svg_files};
use noonfall_exchange::{cloud_archives, csv};
use noonfall_scoring::clouds::SolarTime;
use noonfall_scoring::fault::Fault;
use noonfall_scoring::outlook::cloud::CloudOptions;
use noonfall_scoring::outlook::cloud_survey::{SurveyQuestion, survey, to_csv};
use noonfall_shadow::Site;

/// Size of the chart in drawing units, and pixels to a unit of its picture.
const CHART: (f64, f64) = (860.0, 360.0);
const PICTURE_SCALE: f64 = 2.0;

/// Tells what a cloud archive holds.
pub fn run(options: &CloudsOptions) -> Result<(), Failure> {
    for file in &options.out {
        if !["csv", "svg", "png"].iter().any(|e| has_extension(file, e)) {
            let right = "name a file that ends in .csv, .svg or .png";
            return Err(Fault::of_file(file.display().to_string(), "its ending tells no format", right).into());
        }
    }
    let question = SurveyQuestion {
        near: options.near.map(|p| (p.lat_deg, p.lon_deg)),
        date: options.date,
        solar_hour: hour_of_eclipse(options)?,
    };
    let choice = CloudOptions { kind: options.kind.map(Into::into), ..CloudOptions::default() };
    let found = survey(&options.files, choice, &question)?;
    let mut batch = Batch::default();
    for file in &options.out {
        if has_extension(file, "csv") {
            batch.add(file, to_csv(&found.source)?);
            continue;
        }
        let svg = cloud_archive::of_survey(&found, &ChartPage::new("clouds", CHART.0, CHART.1))?;
        if has_extension(file, "png") {
            batch.add(file, raster::png(&svg, PICTURE_SCALE)?);
        } else {
            batch.add(file, svg_files::with_widths(&svg)?);
        }
    }
    batch.commit()?;
    match options.format.unwrap_or(if output::to_terminal() { CloudsFormat::Table } else { CloudsFormat::Json }) {
        CloudsFormat::Table => output::data(&cloud_archives::page(&found, output::screen())),
        CloudsFormat::Json => output::data(&cloud_archives::json(&found, true)),
        CloudsFormat::Jsonl => output::data(&cloud_archives::json(&found, false)),
        CloudsFormat::Csv => match &found.place {
            Some(place) => output::data(&csv::write(&cloud_archives::sheet(place))?),
            None => {
                let right = "name a place with --near LAT,LON: a table of odds is of a place";
                Err(Fault::of_key("--format", None, "csv", "there is no place to give odds for", right).into())
            }
        },
    }
}

/// The hour of maximum by the Sun of the place, where the date is that of an eclipse seen there.
fn hour_of_eclipse(options: &CloudsOptions) -> Result<Option<f64>, Failure> {
    let (Some(near), Some(date)) = (options.near, options.date) else { return Ok(None) };
    let kernel = options.common.kernel()?;
    // Any other day is a good question too.
    let Ok(eclipse) = options.common.eclipse(kernel.get(), date) else { return Ok(None) };
    let site = Site::new(near.lat_deg, near.lon_deg, 0.0)?;
    Ok(eclipse.local(&site).max.map(|max| SolarTime::at(max.tt, near.lon_deg).hour))
}
