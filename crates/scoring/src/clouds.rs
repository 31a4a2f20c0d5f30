//! The cloud files of a plan, asked in order: forecast, day records, climatology.

use std::path::PathBuf;
use std::sync::Arc;

use chrono::{Datelike, Duration, Timelike};
use noonfall_ephemeris::{GeoPoint, Tt};
use noonfall_shadow::{Eclipse, Site};

use crate::fault::Faults;
use crate::input::clouds::{Wanted, WantedPlace, needs_wanted};
use crate::input::sites::Sites;
use crate::outlook::cloud::{CloudFigure, CloudGap, CloudOptions, CloudOutlook, CloudQuery, CloudSource};
use crate::plan::Plan;

/// The cloud files of a plan.
#[derive(Debug, Default)]
pub struct Clouds {
    sources: Vec<Arc<CloudSource>>,
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
    /// ```
    /// use noonfall_ephemeris::Tt;
    /// use noonfall_scoring::clouds::SolarTime;
    /// // Fifteen degrees east the Sun is an hour ahead.
    /// let noon = Tt::from_utc("2028-07-22T12:00:00Z".parse().unwrap());
    /// assert!((SolarTime::at(noon, 15.0).hour - 13.0).abs() < 1e-9);
    /// ```
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

/// What an eclipse asks of an archive at places: the hour of maximum at each.
pub fn wanted_at(eclipse: &Eclipse, places: impl IntoIterator<Item = (f64, f64)>) -> Wanted {
    let mut day = None;
    let places = places
        .into_iter()
        .map(|(lat_deg, lon_deg)| {
            let max = eclipse.quick(&Site::at_sea_level(GeoPoint { lat_deg, lon_deg })).max;
            let time = SolarTime::at(max, lon_deg);
            day.get_or_insert((time.month, time.day));
            WantedPlace { lat_deg, lon_deg, solar_hour: Some(time.hour) }
        })
        .collect();
    Wanted { places, day, half_window_days: CloudOptions::default().half_window_days, ..Wanted::default() }
}

/// Where one place speaks for its quarter of a degree, what lies this near to it is read too, degrees.
pub(crate) const AROUND_DEG: f64 = 0.5;

/// What a plan asks of an archive: its sites, and the whole path where it searches. Where its sites could not be read they are not
/// asked for; their faults are told elsewhere.
fn wanted_by(plan: &Plan, eclipse: &Eclipse, sites: Option<&Sites>, around_deg: f64) -> Wanted {
    let mut places: Vec<(f64, f64)> =
        sites.iter().flat_map(|s| s.rows.iter().map(|r| (r.lat_deg, r.lon_deg))).collect();
    let searches = plan.search.is_some();
    if let (true, Some((from, to))) = (searches, eclipse.path_span()) {
        // The shadow every twenty seconds, and what lies between its edge and its middle: it moves on by less than its length.
        let mut tt = from;
        while to - tt >= 0.0 {
            let outline = eclipse.umbra_outline(tt, 0.0, 24);
            for (i, p) in outline.iter().enumerate() {
                places.push((p.lat_deg, p.lon_deg));
                let across = &outline[(i + outline.len() / 2) % outline.len()];
                let apart = crate::input::clouds::wrapped(across.lon_deg - p.lon_deg);
                for share in [0.17, 0.33, 0.5] {
                    let lat = p.lat_deg + (across.lat_deg - p.lat_deg) * share;
                    places.push((lat, crate::input::clouds::wrapped(p.lon_deg + apart * share)));
                }
            }
            tt = tt.plus(20.0);
        }
        // Many of them lie in one quarter of a degree.
        let cell = |p: &(f64, f64)| ((p.0 * 4.0).round() as i32, (p.1 * 4.0).round() as i32);
        places.sort_by_key(cell);
        places.dedup_by_key(|p| cell(p));
    }
    let around_deg = if searches { AROUND_DEG } else { around_deg };
    Wanted { around_deg, ..wanted_at(eclipse, places) }
}

/// A source of a plan, from one or more files.
fn source(
    plan: &Plan,
    eclipse: &Eclipse,
    sites: Option<&Sites>,
    around_deg: f64,
    paths: &[PathBuf],
    forecast: bool,
) -> Result<Arc<CloudSource>, Faults> {
    let options = plan.clouds.clone().unwrap_or_default().options(forecast);
    let wanted = if needs_wanted(paths) {
        Wanted { half_window_days: options.half_window_days, ..wanted_by(plan, eclipse, sites, around_deg) }
    } else {
        Wanted::default()
    };
    Ok(Arc::new(CloudSource::open(paths, options, &wanted)?))
}

impl Clouds {
    /// Reads the cloud files of a plan, its forecast left out. Of archives larger than memory only what the plan needs is read: its
    /// sites and the path it searches, the season, the hours about totality.
    ///
    /// # Errors
    /// Every fault of the files.
    pub fn read(plan: &Plan, eclipse: &Eclipse, sites: Option<&Sites>) -> Result<Clouds, Faults> {
        Clouds::read_around(plan, eclipse, sites, 0.0)
    }

    /// As [`Clouds::read`], with what lies so near to a site, degrees: for sites that speak for others about them.
    ///
    /// # Errors
    /// Every fault of the files.
    pub(crate) fn read_around(
        plan: &Plan,
        eclipse: &Eclipse,
        sites: Option<&Sites>,
        around_deg: f64,
    ) -> Result<Clouds, Faults> {
        let mut faults = Faults::default();
        let mut sources = Vec::new();
        if let Some(keys) = &plan.clouds {
            for files in [&keys.records, &keys.file].into_iter().filter(|files| !files.is_empty()) {
                let paths: Vec<PathBuf> = files.iter().map(|f| plan.resolve(f)).collect();
                match source(plan, eclipse, sites, around_deg, &paths, false) {
                    Ok(source) => sources.push(source),
                    Err(found) => faults.0.extend(found.0),
                }
            }
        }
        faults.or(Clouds { sources, forecast: false })
    }

    /// The same sources with a forecast that comes first; `around_deg` as for [`Clouds::read_around`].
    ///
    /// # Errors
    /// Every fault of the forecast's files.
    pub(crate) fn with_forecast(
        &self,
        plan: &Plan,
        eclipse: &Eclipse,
        sites: Option<&Sites>,
        around_deg: f64,
        forecast: &[PathBuf],
    ) -> Result<Clouds, Faults> {
        let mut all = vec![source(plan, eclipse, sites, around_deg, forecast, true)?];
        all.extend(self.sources.iter().cloned());
        Ok(Clouds { sources: all, forecast: true })
    }

    /// A single cloud file.
    ///
    /// # Errors
    /// Every fault of the file.
    pub fn of_file(path: &std::path::Path) -> Result<Clouds, Faults> {
        Clouds::of_files(&[path.to_owned()], CloudOptions::default(), &Wanted::default())
    }

    /// One source from one or more files, as far as it is wanted.
    ///
    /// # Errors
    /// Every fault of the files.
    pub fn of_files(paths: &[PathBuf], options: CloudOptions, wanted: &Wanted) -> Result<Clouds, Faults> {
        Ok(Clouds { sources: vec![Arc::new(CloudSource::open(paths, options, wanted)?)], forecast: false })
    }

    /// The sources, first asked first.
    pub fn sources(&self) -> &[Arc<CloudSource>] {
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
        self.sources.iter().any(|source| source.invented())
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

    /// As [`Clouds::outlook`], the plain numbers only: to the last bit the same.
    ///
    /// # Errors
    /// The gaps of all sources, in order.
    pub fn figure(&self, query: &CloudQuery<'_>) -> Result<CloudFigure, Vec<CloudGap>> {
        let mut gaps = Vec::new();
        for source in &self.sources {
            match source.season(query.month, query.day).and_then(|season| season.plain(query)) {
                Ok(figure) => return Ok(figure),
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
