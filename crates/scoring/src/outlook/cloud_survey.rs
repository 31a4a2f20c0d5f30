//! What a cloud archive holds, and the odds it gives at a place: by hour of the day and by day of the season.

use std::path::PathBuf;

use chrono::{Datelike, Duration, NaiveDate};

use super::cloud::{CloudGap, CloudOptions, CloudOutlook, CloudQuery, CloudSource, ask_for_kind};
use super::cloud_layers::LayeredChance;
use crate::fault::{Fault, Faults};
use crate::input::clouds::holdings::Holdings;
use crate::input::clouds::{self, CloudSeries, CloudTable, Layers, Wanted, WantedPlace};

/// Days before and after the date that the season's odds are told for, and from one to the next.
const SEASON_DAYS: i64 = 15;
const DAY_STEP: i64 = 5;
/// Rows of a table that is written at most.
const MOST_ROWS: usize = 5_000_000;

/// The question: where and when, each if asked.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SurveyQuestion {
    /// Latitude and longitude, degrees.
    pub near: Option<(f64, f64)>,
    /// The day.
    pub date: Option<NaiveDate>,
    /// The hour of local mean solar time that the season's odds are told for; noon where nothing else is known.
    pub solar_hour: Option<f64>,
}

/// The odds at one hour or on one day.
#[derive(Clone, Debug, PartialEq)]
pub struct Odds {
    /// Month and day.
    pub day: (u32, u32),
    /// Hour of local mean solar time.
    pub solar_hour: f64,
    /// Altitude of the Sun, degrees.
    pub sun_altitude_deg: f64,
    /// Mean cloud cover, 0 to 1.
    pub cloud_fraction: f64,
    /// Chance of a clear line of sight, 0 to 1.
    pub clear_line_of_sight: f64,
    /// Lower end of the 95 % interval.
    pub low_95: f64,
    /// Upper end of it.
    pub high_95: f64,
    /// What the layers leave, where the archive has them.
    pub layers: Option<LayeredChance>,
}

/// The odds at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceSurvey {
    /// Latitude, degrees.
    pub lat_deg: f64,
    /// Longitude, degrees.
    pub lon_deg: f64,
    /// The day in the middle of the season; `None` where the whole year was asked about.
    pub date: Option<NaiveDate>,
    /// Odds by the hour, where the archive has hours; the Sun up.
    pub by_hour: Vec<Odds>,
    /// Odds by the day of the season, or by the middle of every month.
    pub by_day: Vec<Odds>,
    /// The full answer for the day and hour asked about, or why there is none.
    pub answer: Result<CloudOutlook, CloudGap>,
}

/// What was understood.
#[derive(Debug)]
pub struct Survey {
    /// What the archive holds.
    pub holdings: Holdings,
    /// The table as far as it was read; its figures only where a place was asked about or the file is small.
    pub source: CloudSource,
    /// The odds, where a place was asked about.
    pub place: Option<PlaceSurvey>,
}

/// Reads what the question needs and answers it.
///
/// # Errors
/// Every fault of the files.
pub fn survey(paths: &[PathBuf], options: CloudOptions, question: &SurveyQuestion) -> Result<Survey, Faults> {
    let place = |(lat_deg, lon_deg)| WantedPlace { lat_deg, lon_deg, solar_hour: None };
    let wanted = Wanted {
        places: question.near.map(place).into_iter().collect(),
        day: question.date.map(|d| (d.month(), d.day())),
        // Room for the season's days about the date, each with its own window.
        half_window_days: options.half_window_days + SEASON_DAYS as u32,
        axes_only: question.near.is_none(),
        ..Wanted::default()
    };
    let table = clouds::read(paths, &wanted)?;
    let holdings = Holdings::of_table(&table);
    if question.near.is_some() {
        ask_for_kind(&table, &options)?;
    }
    let source = CloudSource::from_table(table, options);
    let place = question.near.map(|near| place_survey(&source, near, question));
    Ok(Survey { holdings, source, place })
}

fn place_survey(source: &CloudSource, (lat_deg, lon_deg): (f64, f64), question: &SurveyQuestion) -> PlaceSurvey {
    let hour = question.solar_hour.unwrap_or(12.0);
    let ask = |day: (u32, u32), solar_hour: f64| {
        let sun_altitude_deg = sun_altitude_deg(lat_deg, day, solar_hour);
        let query = CloudQuery {
            lat_deg,
            lon_deg,
            name: None,
            month: day.0,
            day: day.1,
            local_solar_hour: solar_hour,
            sun_altitude_deg,
        };
        source.outlook(&query)
    };
    let odds = |day: (u32, u32), solar_hour: f64| {
        let o = ask(day, solar_hour).ok()?;
        Some(Odds {
            day,
            solar_hour,
            sun_altitude_deg: sun_altitude_deg(lat_deg, day, solar_hour),
            cloud_fraction: o.cloud_fraction,
            clear_line_of_sight: o.clear_line_of_sight,
            low_95: o.low_95,
            high_95: o.high_95,
            layers: o.layers,
        })
    };
    let (middle, days): ((u32, u32), Vec<(u32, u32)>) = match question.date {
        Some(date) => {
            let steps = (-SEASON_DAYS / DAY_STEP..=SEASON_DAYS / DAY_STEP).map(|i| i * DAY_STEP);
            let days = steps.filter_map(|d| date.checked_add_signed(Duration::days(d))).map(|d| (d.month(), d.day()));
            ((date.month(), date.day()), days.collect())
        }
        None => {
            let months = Holdings::of_table(source.table()).months;
            let middle = months.get(months.len() / 2).copied().unwrap_or(6);
            ((middle, 16), months.into_iter().map(|m| (m, 16)).collect())
        }
    };
    let hours = if source.table().has_hours() { 0..24 } else { 0..0 };
    let up = |h: &i32| sun_altitude_deg(lat_deg, middle, f64::from(*h)) > 0.0;
    PlaceSurvey {
        lat_deg,
        lon_deg,
        date: question.date,
        by_hour: hours.filter(up).filter_map(|h| odds(middle, f64::from(h))).collect(),
        by_day: days.into_iter().filter_map(|d| odds(d, hour)).collect(),
        answer: ask(middle, hour),
    }
}

/// Altitude of the Sun's centre at an hour of mean solar time, airless.
///
/// # Units
/// Degrees; the hour is that of local mean solar time, so the equation of time (up to 4°) is left out.
/// # Source
/// Declination by the mean longitude of the Sun and the obliquity of the ecliptic (Astronomical Almanac's low-precision formula,
/// from memory), within 0.5°, which moves a chance by less than a point.
/// ```
/// // Local noon at the June solstice on the Tropic of Cancer: overhead.
/// let altitude = noonfall_scoring::outlook::cloud_survey::sun_altitude_deg(23.44, (6, 21), 12.0);
/// assert!((altitude - 90.0).abs() < 0.5);
/// ```
pub fn sun_altitude_deg(lat_deg: f64, (month, day): (u32, u32), solar_hour: f64) -> f64 {
    let date = NaiveDate::from_ymd_opt(2024, month, day).unwrap_or_default();
    // Days from noon of 1 January 2000, of a year in the middle of our century's first half.
    let n = (date - NaiveDate::from_ymd_opt(2000, 1, 1).unwrap_or_default()).num_days() as f64;
    let mean_longitude = 280.460 + 0.985_647_4 * n;
    let anomaly = (357.528 + 0.985_600_3 * n).to_radians();
    let longitude = (mean_longitude + 1.915 * anomaly.sin() + 0.020 * (2.0 * anomaly).sin()).to_radians();
    let declination = (23.439_f64.to_radians().sin() * longitude.sin()).asin();
    let hour_angle = ((solar_hour - 12.0) * 15.0).to_radians();
    let lat = lat_deg.to_radians();
    let sine = lat.sin() * declination.sin() + lat.cos() * declination.cos() * hour_angle.cos();
    sine.clamp(-1.0, 1.0).asin().to_degrees()
}

/// The table as a plain clouds CSV that gives the same odds.
///
/// Members of an ensemble at one instant become their mean there; everything else comes back as it was.
///
/// # Errors
/// A table of more than five million rows, or of none.
pub fn to_csv(source: &CloudSource) -> Result<String, Fault> {
    let table = source.table();
    let rows = table.covers().count();
    if rows == 0 {
        let right = "name a place with --near LAT,LON, and a date with --date, where the archive has figures";
        return Err(Fault::of_file(&table.file, "there is nothing to write", right));
    }
    if rows > MOST_ROWS {
        let right = "name a place with --near LAT,LON, and a date with --date";
        return Err(Fault::of_file(&table.file, format!("the table would have {rows} rows"), right));
    }
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    let cannot = |e: csv::Error| Fault::of_file(&table.file, format!("cannot be written as CSV ({e})"), "tell us");
    let days = table.series.is_days();
    let (named, hours, layers) = (table.nodes.iter().any(|n| n.name.is_some()), table.has_hours(), source.has_layers());
    let deviates = matches!(&table.series, CloudSeries::Means(m) if m.iter().flatten().any(|m| m.years.is_some()));
    let mut header: Vec<&str> = if named { vec!["name"] } else { Vec::new() };
    header.extend(["lat", "lon", if days { "date" } else { "month" }]);
    header.extend(hours.then_some("hour"));
    header.push("cloud_fraction");
    header.extend(if layers { &["cloud_low", "cloud_middle", "cloud_high"][..] } else { &[] });
    header.extend(source.kind().map(|_| "kind"));
    header.push("years");
    header.extend(deviates.then_some("years_deviation"));
    header.push("source");
    writer.write_record(&header).map_err(cannot)?;
    let origin = origin(table);
    for (i, node) in table.nodes.iter().enumerate() {
        let mut write = |when: String, hour: Option<f64>, cover: f64, l: Option<Layers>, deviation: Option<f64>| {
            let mut row: Vec<String> = if named { vec![node.name.clone().unwrap_or_default()] } else { Vec::new() };
            row.extend([node.lat_deg.to_string(), node.lon_deg.to_string(), when]);
            row.extend(hours.then(|| hour.map(|h| format!("{h:.6}")).unwrap_or_default()));
            row.push(format!("{cover:.6}"));
            if layers {
                let each = l.map(|l| l.each().map(|c| format!("{c:.6}")));
                row.extend(each.unwrap_or_default());
            }
            row.extend(source.kind().map(|k| k.name().to_owned()));
            row.push(node.years.map(|y| y.to_string()).unwrap_or_default());
            row.extend(deviates.then(|| deviation.map(|d| format!("{d:.6}")).unwrap_or_default()));
            row.push(origin.clone());
            writer.write_record(&row)
        };
        if let CloudSeries::Means(means) = &table.series {
            for m in means.get(i).map_or(&[][..], Vec::as_slice) {
                write(m.month.to_string(), m.hour, m.cover, m.layers, m.years.map(|y| y.deviation)).map_err(cannot)?;
            }
            continue;
        }
        for same in table.days(i).chunk_by(|a, b| a.date == b.date && a.hour == b.hour) {
            let Some(first) = same.first() else { continue };
            let cover = same.iter().map(|d| d.cover).sum::<f64>() / same.len() as f64;
            write(first.date.to_string(), first.hour, cover, first.layers, None).map_err(cannot)?;
        }
    }
    let bytes = writer.into_inner().map_err(|e| cannot(e.into_error().into()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// What a written table says of its source, without folders: "invented" stays on it.
fn origin(table: &CloudTable) -> String {
    let file = table.file.rsplit(['/', '\\']).next().unwrap_or(&table.file);
    let mut text = format!("{file}, {}", table.format);
    if let Some(first) = table.sources.first() {
        text += &format!(", {first}");
    }
    if table.invented && !text.to_ascii_lowercase().contains("invented") {
        text += ", INVENTED";
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outlook::line_of_sight::CoverKind;

    /// Noon altitudes by 90° − |latitude − declination|, declinations of the almanac: ±23.44° at the solstices, 0 at the equinoxes.
    #[test]
    fn the_sun_stands_where_the_almanac_has_it() {
        for (lat, day, expected) in
            [(50.0, (6, 21), 63.44), (50.0, (12, 21), 16.56), (-30.0, (3, 20), 60.0), (0.0, (9, 22), 90.0)]
        {
            let ours = sun_altitude_deg(lat, day, 12.0);
            assert!((ours - expected).abs() < 0.6, "{lat} {day:?}: {ours}");
        }
        assert!(sun_altitude_deg(0.0, (3, 20), 6.0).abs() < 0.5);
        assert!(sun_altitude_deg(45.0, (7, 1), 0.0) < 0.0);
    }

    #[test]
    fn a_written_table_gives_the_same_odds() {
        let archives = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/clouds/archives/");
        for (name, near) in [
            ("store.nc", (-25.3, 141.1)),
            ("layers.nc", (-26.7, 143.9)),
            ("monthly.nc", (-27.2, 144.0)),
            ("monthly-by-hour.nc", (-25.0, 141.0)),
            ("bands-pixel.tif", (-25.0, 141.0)),
            ("INVENTED.psv", (-30.2, 150.1)),
        ] {
            let question =
                SurveyQuestion { near: Some(near), date: NaiveDate::from_ymd_opt(2028, 7, 13), solar_hour: Some(15.0) };
            // GeoTIFF does not tell; where a file tells, it is believed.
            let options = CloudOptions { kind: Some(CoverKind::Grid), ..CloudOptions::default() };
            let survey = survey(&[PathBuf::from(format!("{archives}{name}"))], options, &question).unwrap();
            let place = survey.place.unwrap();
            let first = place.answer.unwrap();
            let text = to_csv(&survey.source).unwrap();
            let again = CloudTable::from_bytes("again.csv", text.into_bytes()).unwrap();
            let again = CloudSource::from_table(again, CloudOptions::default());
            let query = CloudQuery {
                lat_deg: near.0,
                lon_deg: near.1,
                name: None,
                month: 7,
                day: 13,
                local_solar_hour: 15.0,
                sun_altitude_deg: sun_altitude_deg(near.0, (7, 13), 15.0),
            };
            let second = again.outlook(&query).unwrap();
            for (a, b) in [
                (first.clear_line_of_sight, second.clear_line_of_sight),
                (first.low_95, second.low_95),
                (first.high_95, second.high_95),
                (first.cloud_fraction, second.cloud_fraction),
            ] {
                assert!((a - b).abs() < 0.002, "{name}: {first:?} {second:?}");
            }
            assert_eq!((first.kind, first.invented, first.years), (second.kind, true, second.years), "{name}");
            assert_eq!(first.layers.is_some(), second.layers.is_some());
            if name.ends_with(".nc") && name != "monthly.nc" {
                assert!(place.by_hour.len() > 3, "{name}: {:?}", place.by_hour);
            }
        }
    }
}
