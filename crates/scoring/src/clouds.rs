//! The cloud files of a plan, asked in order: forecast, day records, climatology.

use chrono::{Datelike, Duration, Timelike};
use noonfall_ephemeris::Tt;

use crate::fault::Faults;
use crate::outlook::cloud::{CloudGap, CloudOutlook, CloudQuery, CloudSource};
use crate::plan::Plan;

/// The cloud files of a plan.
#[derive(Debug, Default)]
pub struct Clouds {
    sources: Vec<CloudSource>,
    forecast: bool,
}

/// Day of the year and hour by the mean Sun of a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SolarTime {
    /// Month, 1 to 12.
    pub month: u32,
    /// Day of the month.
    pub day: u32,
    /// Hour, 0 to 24.
    pub hour: f64,
}

impl SolarTime {
    /// Local mean solar time of an instant.
    pub fn at(tt: Tt, lon_deg: f64) -> SolarTime {
        let local = tt.to_utc() + Duration::milliseconds((lon_deg / 15.0 * 3_600_000.0) as i64);
        let hour = f64::from(local.num_seconds_from_midnight()) / 3600.0;
        SolarTime { month: local.month(), day: local.day(), hour }
    }

    /// The question to a cloud source for a place with the Sun at an altitude.
    pub fn query<'a>(self, lat_deg: f64, lon_deg: f64, sun_altitude_deg: f64, name: Option<&'a str>) -> CloudQuery<'a> {
        CloudQuery {
            lat_deg,
            lon_deg,
            name,
            month: self.month,
            day: self.day,
            local_solar_hour: self.hour,
            sun_altitude_deg,
        }
    }
}

impl Clouds {
    /// Reads the cloud files of a plan; with `forecast` the plan's forecast comes first.
    ///
    /// # Errors
    /// Every fault of the files.
    pub fn read(plan: &Plan, forecast: Option<&std::path::Path>) -> Result<Clouds, Faults> {
        let mut faults = Faults::default();
        let mut sources = Vec::new();
        let default = crate::plan::CloudKeys::default();
        let keys = plan.clouds.as_ref().unwrap_or(&default);
        let files = [
            forecast.map(|f| (f.to_path_buf(), true)),
            keys.records.as_ref().map(|f| (plan.resolve(f), false)),
            keys.file.as_ref().map(|f| (plan.resolve(f), false)),
        ];
        for (path, forecast) in files.into_iter().flatten() {
            match CloudSource::read_with(&path, keys.options(forecast)) {
                Ok(source) => sources.push(source),
                Err(found) => faults.0.extend(found.0),
            }
        }
        faults.or(Clouds { sources, forecast: forecast.is_some() })
    }

    /// A single cloud file.
    ///
    /// # Errors
    /// Every fault of the file.
    pub fn of_file(path: &std::path::Path) -> Result<Clouds, Faults> {
        Ok(Clouds { sources: vec![CloudSource::read(path)?], forecast: false })
    }

    /// The sources, first asked first.
    pub fn sources(&self) -> &[CloudSource] {
        &self.sources
    }

    /// Whether there is any source at all.
    pub fn is_empty(&self) -> bool {
        self.sources.is_empty()
    }

    /// Whether a forecast is asked first.
    pub fn has_forecast(&self) -> bool {
        self.forecast
    }

    /// Whether any source says that its figures are invented.
    pub fn invented(&self) -> bool {
        self.sources.iter().any(CloudSource::invented)
    }

    /// The outlook of the first source that can answer.
    ///
    /// # Errors
    /// The gaps of all sources, in order.
    pub fn outlook(&self, query: &CloudQuery<'_>) -> Result<CloudOutlook, Vec<CloudGap>> {
        let mut gaps = Vec::new();
        for source in &self.sources {
            match source.outlook(query) {
                Ok(outlook) => return Ok(outlook),
                Err(gap) => gaps.push(gap),
            }
        }
        Err(gaps)
    }

    /// The day records of the first source that holds any for the place: the sky of the season's days at the hour asked for.
    pub fn days(&self, query: &CloudQuery<'_>) -> Option<Vec<crate::fallback::Day>> {
        let records = self
            .sources
            .iter()
            .filter(|s| s.has_day_records())
            .find_map(|s| s.season(query.month, query.day).ok()?.records(query).ok()?)?;
        let mut days: Vec<_> = records.iter().map(|r| crate::fallback::Day { date: r.date, clear: r.clear }).collect();
        days.sort_by_key(|d| d.date);
        days.dedup_by_key(|d| d.date);
        Some(days)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solar_time_follows_the_longitude_and_the_date_with_it() {
        let tt = Tt::from_utc("2028-07-22T02:00:00Z".parse().unwrap());
        let east = SolarTime::at(tt, 150.0);
        assert_eq!((east.month, east.day), (7, 22));
        assert!((east.hour - 12.0).abs() < 1e-9);
        let west = SolarTime::at(tt, -60.0);
        assert_eq!(west.day, 21);
        assert!((west.hour - 22.0).abs() < 1e-9);
    }
}
