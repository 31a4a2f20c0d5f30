//! A cloud source at a day of the year: the questions themselves.

use std::sync::{Arc, OnceLock, PoisonError};

use chrono::NaiveDate;

use super::evidence::{Evidence, IN_CELL, distance_variance, student, widened};
use super::geometry::{Blend, Geometry};
use super::sample::{Day, DaySample, one_a_day};
use super::{CloudFigure, CloudGap, CloudOutlook, CloudQuery, CloudSource, DayRecord, LayeredChance, interval_95};
use crate::input::clouds::{CloudSeries, Layers, MonthlyCover};
use crate::input::day_records::days_from;
use crate::outlook::cloud_layers::at_altitude;
use crate::outlook::line_of_sight::ExpectedTable;
use crate::wording;

/// Independent days that one year adds to a monthly mean of a stated number of years (common practice, no source: cloud
/// changes with the weather, every five or six days), and the most that a mean is trusted with.
const DAYS_A_YEAR: f64 = 5.0;
const MOST_DAYS_OF_A_MEAN: f64 = 100.0;

/// Hours between two monthly figures that may be bridged, and from a record to the hour asked for.
const BRIDGED_HOURS: f64 = 6.0;
const NEAR_HOURS: f64 = 3.0;

/// A cloud source at a day of the year.
#[derive(Debug)]
pub struct CloudSeason<'s> {
    pub(super) source: &'s CloudSource,
    month: u32,
    day: u32,
    /// The two mid-months around the day and the weight of the second.
    pub(super) months: (u8, u8, f64),
    /// Day records of the season, by node and whole hour (one hour where the file has none), filled when first asked for.
    samples: OnceLock<Vec<OnceLock<Option<Box<DaySample>>>>>,
}

/// Stations and hours whose season is kept at most: some tens of megabytes of records.
const MOST_KEPT: usize = 2000;

/// Whole hours kept apart when the file has hours.
const HOURS: usize = 24;

/// A mean between months and hours.
#[derive(Clone, Copy, Debug)]
struct Mean {
    cover: f64,
    layers: Option<[f64; 3]>,
    /// Standard deviation from year to year, and how many years.
    years: Option<(f64, f64)>,
}

impl Mean {
    fn of(m: &MonthlyCover) -> Mean {
        let years = m.years.map(|y| (y.deviation, f64::from(y.years)));
        Mean { cover: m.cover, layers: m.layers.map(Layers::each), years }
    }

    fn between(self, other: Mean, t: f64) -> Mean {
        let mix = |a: f64, b: f64| a + (b - a) * t;
        Mean {
            cover: mix(self.cover, other.cover),
            layers: self.layers.zip(other.layers).map(|(a, b)| [0, 1, 2].map(|i| mix(a[i], b[i]))),
            years: self.years.zip(other.years).map(|(a, b)| (mix(a.0, b.0), a.1.min(b.1))),
        }
    }
}

/// The chance at one place before it becomes a distribution.
pub(super) struct Answer {
    pub figure: CloudFigure,
    pub layers: Option<LayeredChance>,
    /// Variance that distance or coarseness added.
    pub added: f64,
    /// The evidence of the heaviest place's days.
    pub evidence: Option<Evidence>,
    /// Years behind means, where the archive has them.
    pub mean_years: Option<f64>,
}

impl<'s> CloudSeason<'s> {
    pub(super) fn new(source: &'s CloudSource, month: u32, day: u32) -> Result<CloudSeason<'s>, CloudGap> {
        let date = NaiveDate::from_ymd_opt(2000, month, day).ok_or(CloudGap::Question)?;
        Ok(CloudSeason { source, month, day, months: mid_months(date), samples: OnceLock::new() })
    }

    /// The chance in plain numbers, quick enough for grids. `month` and `day` of the query are those of the season.
    ///
    /// The expected chance of a mean comes from a table, within 5e-4 of [`CloudSeason::outlook`]; the chance past layers of day
    /// records lies between altitudes of the Sun that were computed, within 0.02 of it.
    ///
    /// # Errors
    /// The gap that keeps the source from answering.
    pub fn figure(&self, query: &CloudQuery<'_>) -> Result<CloudFigure, CloudGap> {
        let blend = self.ask(query)?;
        let source = self.source;
        if source.table.series.is_days() {
            return self.quick_days(query, &blend);
        }
        let expected = |cover: f64| {
            let table = source.expected.get_or_init(|| ExpectedTable::new(source.model, source.options.cover_spread));
            table.expected(cover, query.sun_altitude_deg)
        };
        Ok(self.of_means(query, &blend, expected)?.figure)
    }

    /// The chance in plain numbers: to the last bit those of [`CloudSeason::outlook`], without the work of its interval and its words.
    ///
    /// # Errors
    /// The gap that keeps the source from answering.
    pub fn plain(&self, query: &CloudQuery<'_>) -> Result<CloudFigure, CloudGap> {
        let blend = self.ask(query)?;
        Ok(self.answer(query, &blend)?.figure)
    }

    fn answer(&self, query: &CloudQuery<'_>, blend: &Blend) -> Result<Answer, CloudGap> {
        let source = self.source;
        if source.table.series.is_days() {
            return self.of_days(query, blend);
        }
        let (spread, altitude) = (source.options.cover_spread, query.sun_altitude_deg);
        self.of_means(query, blend, |cover| source.model.expected_from_mean(cover, spread, altitude))
    }

    /// The chance with its interval and its explanation.
    ///
    /// # Errors
    /// The gap that keeps the source from answering.
    pub fn outlook(&self, query: &CloudQuery<'_>) -> Result<CloudOutlook, CloudGap> {
        let blend = self.ask(query)?;
        let (source, altitude) = (self.source, query.sun_altitude_deg);
        let answer = self.answer(query, &blend)?;
        let figure = answer.figure;
        let (low_95, high_95) = interval_95(figure.beta);
        let years = blend.nodes().map(|(n, _)| self.years(n, query)).collect::<Option<Vec<u32>>>();
        let years = years.and_then(|y| y.into_iter().min());
        Ok(CloudOutlook {
            cloud_fraction: figure.cloud_fraction,
            clear_line_of_sight: figure.clear_line_of_sight,
            clear_at_mean_cover: source.model.clear(figure.cloud_fraction, altitude),
            low_95,
            high_95,
            beta: figure.beta,
            effective_days: figure.effective_days,
            years,
            kind: source.kind.ok_or(CloudGap::Kind)?,
            layers: answer.layers,
            nearest_km: blend.nearest_km,
            invented: source.table.invented,
            forecast: source.options.forecast,
            source: source.describe(),
            notes: self.notes(query, &blend, &answer, years),
        })
    }

    /// The day records of the season at the hour asked for, at the station of that name or the heaviest one near the place, with
    /// the chance under each day's sky: for chances joint between two places on common dates. `None` without day records.
    ///
    /// # Errors
    /// The gap that keeps the source from answering.
    pub fn records(&self, query: &CloudQuery<'_>) -> Result<Option<Vec<DayRecord>>, CloudGap> {
        let blend = self.ask(query)?;
        if !self.source.has_day_records() {
            return Ok(None);
        }
        let node = blend.heaviest();
        let days = self.season_days(node, self.hour_slot(query));
        if days.is_empty() {
            return Err(self.no_days(node, query));
        }
        let chance = self.source.day_chance(query.sun_altitude_deg);
        let mean = |day: &[(Day, i32)]| {
            let n = day.len() as f64;
            let cover = day.iter().map(|(d, _)| d.cover).sum::<f64>() / n;
            let clear = day.iter().map(|(d, _)| chance(d)).sum::<f64>() / n;
            day.first().map(|(d, _)| DayRecord { date: d.date, cover, clear })
        };
        Ok(Some(days.chunk_by(|a, b| a.0.date == b.0.date).filter_map(mean).collect()))
    }

    fn ask(&self, query: &CloudQuery<'_>) -> Result<Blend, CloudGap> {
        let numbers = [query.lat_deg, query.lon_deg, query.local_solar_hour, query.sun_altitude_deg];
        if !numbers.iter().all(|n| n.is_finite()) || query.lat_deg.abs() > 90.0 {
            return Err(CloudGap::Question);
        }
        if self.source.kind.is_none() {
            return Err(CloudGap::Kind);
        }
        self.source.blend(query.lat_deg, query.lon_deg, query.name)
    }

    /// What distance to a station or the coarseness of a grid adds to the variance.
    fn added(&self, query: &CloudQuery<'_>, blend: &Blend) -> f64 {
        match self.source.geometry {
            Geometry::Grid(_) => distance_variance(IN_CELL * self.source.cell_km(query.lat_deg).unwrap_or(0.0)),
            Geometry::Stations(_) if blend.nearest_km < 1.0 => 0.0,
            Geometry::Stations(_) => distance_variance(blend.nearest_km),
        }
    }

    fn figure_of(cover: f64, beta: (f64, f64), days: f64, added: f64) -> CloudFigure {
        let beta = widened(beta, added);
        CloudFigure {
            cloud_fraction: cover.clamp(0.0, 1.0),
            clear_line_of_sight: beta.0 / (beta.0 + beta.1),
            beta,
            effective_days: days,
        }
    }

    fn of_means(
        &self,
        query: &CloudQuery<'_>,
        blend: &Blend,
        expected: impl Fn(f64) -> f64,
    ) -> Result<Answer, CloudGap> {
        let source = self.source;
        let CloudSeries::Means(means) = &source.table.series else { return Err(CloudGap::Question) };
        let (mut cover, mut days) = (0.0, 0.0);
        let mut layers = source.has_layers.then_some([0.0; 3]);
        let mut years: Option<(f64, f64)> = Some((0.0, f64::INFINITY));
        for (node, weight) in blend.nodes() {
            let mean = self.mean(node, &means[node], query.local_solar_hour)?;
            cover += weight * mean.cover;
            days += weight * self.strength(node);
            layers = layers.zip(mean.layers).map(|(sum, l)| [0, 1, 2].map(|i| sum[i] + weight * l[i]));
            years = years.zip(mean.years).map(|(sum, y)| (sum.0 + weight * y.0, sum.1.min(y.1)));
        }
        let cover = cover.clamp(0.0, 1.0);
        let spread = source.options.cover_spread;
        let layered =
            layers.map(|l| source.options.layers.chance_of_means(cover, Layers::of(l), spread, query.sun_altitude_deg));
        let clear = layered.map_or_else(|| expected(cover), |l| l.clear);
        if let Some((deviation, k)) = years {
            // The years themselves: how far the mean over them may stray, carried over to the chance; and what a mean alone
            // leaves open however many years it has.
            let stray = deviation * (student((k - 1.0).max(1.0)) / k).sqrt();
            let slope = (expected((cover - stray).max(0.0)) - expected((cover + stray).min(1.0))) / 2.0;
            let binary = clear * (1.0 - clear);
            let variance = slope * slope + binary / (MOST_DAYS_OF_A_MEAN + 1.0);
            days = if variance > 0.0 { (binary / variance - 1.0).max(1.0) } else { days };
        }
        // Half a day on either side keeps the distribution proper at the ends.
        let beta = ((clear * days).max(0.5), ((1.0 - clear) * days).max(0.5));
        let added = self.added(query, blend);
        Ok(Answer {
            figure: CloudSeason::figure_of(cover, beta, days, added),
            layers: layered,
            added,
            evidence: None,
            mean_years: years.map(|y| y.1),
        })
    }

    /// The whole answer from day records, at the very altitude of the Sun.
    fn of_days(&self, query: &CloudQuery<'_>, blend: &Blend) -> Result<Answer, CloudGap> {
        let source = self.source;
        let (mut cover, mut clear, mut strength) = (0.0, 0.0, 0.0);
        let mut layered = source.has_layers.then(LayeredChance::default);
        let mut heaviest = None;
        for (node, weight) in blend.nodes() {
            let days = self.season_days(node, self.hour_slot(query));
            let stated = source.table.nodes[node].years;
            let evidence = Evidence::of(&days, stated, source.day_chance(query.sun_altitude_deg))
                .ok_or_else(|| self.no_days(node, query))?;
            let n = days.len() as f64;
            cover += weight * days.iter().map(|(d, _)| d.cover).sum::<f64>() / n;
            clear += weight * evidence.chance;
            strength += weight * self.trusted(evidence.strength);
            let each: Option<Vec<LayeredChance>> = days
                .iter()
                .map(|(d, _)| Some(source.options.layers.chance(d.cover, d.layers?, query.sun_altitude_deg)))
                .collect();
            layered = layered.zip(each).map(|(mut sum, each)| {
                for one in each {
                    let share = weight / n;
                    sum.clear += share * one.clear;
                    sum.strict += share * one.strict;
                    (0..3).for_each(|i| sum.taken[i] += share * one.taken[i]);
                }
                sum
            });
            if node == blend.heaviest() {
                heaviest = Some(evidence);
            }
        }
        let clear = clear.clamp(0.0, 1.0);
        let added = if source.options.forecast { 0.0 } else { self.added(query, blend) };
        // Jeffreys' prior, half a day on either side.
        let beta = (clear * strength + 0.5, (1.0 - clear) * strength + 0.5);
        Ok(Answer {
            figure: CloudSeason::figure_of(cover, beta, strength, added),
            layers: layered,
            added,
            evidence: heaviest,
            mean_years: None,
        })
    }

    /// The same from samples that are kept: exact without layers, but for the strength of the evidence.
    fn quick_days(&self, query: &CloudQuery<'_>, blend: &Blend) -> Result<CloudFigure, CloudGap> {
        let source = self.source;
        let (mut cover, mut clear, mut strength) = (0.0, 0.0, 0.0);
        for (node, weight) in blend.nodes() {
            let sample = self.sample(node, query)?;
            cover += weight * sample.mean_cover;
            clear += weight
                * match &sample.layered {
                    Some(chances) => at_altitude(chances, query.sun_altitude_deg),
                    None => {
                        source.model.expected(&sample.covers, query.sun_altitude_deg).unwrap_or(1.0 - sample.mean_cover)
                    }
                };
            strength += weight * self.trusted(at_altitude(&sample.strength, query.sun_altitude_deg));
        }
        let clear = clear.clamp(0.0, 1.0);
        let added = if source.options.forecast { 0.0 } else { self.added(query, blend) };
        let beta = (clear * strength + 0.5, (1.0 - clear) * strength + 0.5);
        Ok(CloudSeason::figure_of(cover, beta, strength, added))
    }

    /// Days that are believed of a forecast are set; those of a climatology are its own.
    fn trusted(&self, strength: f64) -> f64 {
        if self.source.options.forecast { self.source.options.mean_strength_days } else { strength }
    }

    /// Independent days that a monthly mean of a node is worth.
    fn strength(&self, node: usize) -> f64 {
        let base = self.source.options.mean_strength_days;
        match self.source.table.nodes[node].years {
            Some(years) => (DAYS_A_YEAR * f64::from(years)).min(MOST_DAYS_OF_A_MEAN),
            None => base,
        }
    }

    fn years(&self, node: usize, query: &CloudQuery<'_>) -> Option<u32> {
        let stated = self.source.table.nodes[node].years;
        if stated.is_some() || !self.source.has_day_records() {
            return stated;
        }
        let mut years: Vec<i32> = self.season_days(node, self.hour_slot(query)).iter().map(|(_, y)| *y).collect();
        years.sort_unstable();
        years.dedup();
        Some(years.len() as u32).filter(|n| *n > 0)
    }

    fn hour_slot(&self, query: &CloudQuery<'_>) -> usize {
        query.local_solar_hour.round().rem_euclid(24.0) as usize % HOURS
    }

    fn window(&self) -> i64 {
        if self.source.options.forecast { 0 } else { i64::from(self.source.options.half_window_days) }
    }

    /// The season's days of a node about a whole hour, each with the year of its season; the source keeps them for the next place.
    pub(super) fn season_days(&self, node: usize, hour: usize) -> Arc<Vec<(Day, i32)>> {
        let key = (self.month, self.day, node, hour);
        let kept = &self.source.seasons;
        if let Some(days) = kept.read().unwrap_or_else(PoisonError::into_inner).get(&key) {
            return days.clone();
        }
        let days = Arc::new(self.look_for_season_days(node, hour));
        let mut kept = kept.write().unwrap_or_else(PoisonError::into_inner);
        if kept.len() < MOST_KEPT {
            kept.insert(key, days.clone());
        }
        days
    }

    fn look_for_season_days(&self, node: usize, hour: usize) -> Vec<(Day, i32)> {
        let window = self.window();
        let near = |d: Day| {
            days_from(d.date, self.month, self.day).filter(|(away, _)| away.abs() <= window).map(|(_, year)| (d, year))
        };
        let days = self.source.table.days(node);
        let mut inside: Vec<_> = one_a_day(&days, hour, NEAR_HOURS).filter_map(near).collect();
        if self.source.options.forecast {
            // Of a file with several years only the newest run can be the forecast.
            let newest = inside.iter().map(|(_, year)| *year).max();
            inside.retain(|(_, year)| Some(*year) == newest);
        }
        inside
    }

    /// The season's records of a node about an hour.
    fn sample(&self, node: usize, query: &CloudQuery<'_>) -> Result<&DaySample, CloudGap> {
        let source = self.source;
        let hour = self.hour_slot(query);
        let slot = if source.has_hours { node * HOURS + hour } else { node };
        let samples = self.samples.get_or_init(|| {
            let slots = match source.table.series.is_days() {
                false => 0,
                true => source.table.nodes.len() * if source.has_hours { HOURS } else { 1 },
            };
            (0..slots).map(|_| OnceLock::new()).collect()
        });
        let cell = samples.get(slot).ok_or(CloudGap::Question)?;
        let found = cell.get_or_init(|| {
            let days = self.season_days(node, hour);
            if days.is_empty() {
                return None;
            }
            let chance = |altitude_deg: f64| source.day_chance(altitude_deg);
            DaySample::of(&days, source.table.nodes[node].years, source.has_layers, chance).map(Box::new)
        });
        found.as_deref().ok_or_else(|| self.no_days(node, query))
    }

    fn no_days(&self, node: usize, query: &CloudQuery<'_>) -> CloudGap {
        let place = self.source.label(node);
        let window = self.window();
        let in_season = |d: &crate::input::day_records::DayCover| {
            days_from(d.date, self.month, self.day).is_some_and(|(away, _)| away.abs() <= window)
        };
        if self.source.table.days(node).iter().any(in_season) {
            CloudGap::Hour { hour: query.local_solar_hour, place }
        } else {
            let day = format!("{} {}", self.day, wording::month(self.month));
            let wanted = if window == 0 { day } else { format!("{window} days about {day}") };
            CloudGap::Season { wanted, place }
        }
    }

    /// The mean of a node between the mid-months around the day.
    fn mean(&self, node: usize, means: &[MonthlyCover], hour: f64) -> Result<Mean, CloudGap> {
        let (first, second, t) = self.months;
        let a = self.month_mean(node, means, first, hour);
        if t == 0.0 {
            return a;
        }
        match (a, self.month_mean(node, means, second, hour)) {
            (Ok(a), Ok(b)) => Ok(a.between(b, t)),
            // Within half a month of the one month there is: its figure stands alone, and the notes say so.
            (Ok(a), Err(_)) if t <= 0.5 => Ok(a),
            (Err(_), Ok(b)) if t >= 0.5 => Ok(b),
            (Err(gap), _) | (_, Err(gap)) => Err(gap),
        }
    }

    fn month_mean(&self, node: usize, means: &[MonthlyCover], month: u8, hour: f64) -> Result<Mean, CloudGap> {
        let start = means.partition_point(|m| m.month < month);
        let end = start + means[start..].partition_point(|m| m.month == month);
        let of_month = &means[start..end];
        let (Some(first), Some(last)) = (of_month.first(), of_month.last()) else {
            let wanted = wording::month(month.into()).to_owned();
            return Err(CloudGap::Season { wanted, place: self.source.label(node) });
        };
        let Some(first_hour) = first.hour else { return Ok(Mean::of(first)) };
        let hour = hour.rem_euclid(24.0);
        let after = of_month.partition_point(|m| m.hour.is_some_and(|h| h <= hour));
        let last_hour = last.hour.unwrap_or(first_hour);
        let at = |i: usize| (&of_month[i], of_month[i].hour.unwrap_or(0.0));
        let (before, next) = (
            if after == 0 { (last, last_hour - 24.0) } else { at(after - 1) },
            if after == of_month.len() { (first, first_hour + 24.0) } else { at(after) },
        );
        let gap = next.1 - before.1;
        if gap <= BRIDGED_HOURS && gap > 0.0 {
            return Ok(Mean::of(before.0).between(Mean::of(next.0), (hour - before.1) / gap));
        }
        let near = if hour - before.1 <= next.1 - hour { before } else { next };
        if (near.1 - hour).abs() <= NEAR_HOURS {
            Ok(Mean::of(near.0))
        } else {
            Err(CloudGap::Hour { hour, place: self.source.label(node) })
        }
    }
}

/// The months whose middles lie before and after a day, and how far the day is from the first to the second.
fn mid_months(date: NaiveDate) -> (u8, u8, f64) {
    use chrono::Datelike;
    const LENGTHS: [f64; 12] = [31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0];
    let month = date.month0() as usize % 12;
    // Noon of the day, from the start of the month.
    let x = f64::from(date.day()) - 0.5;
    let half = LENGTHS[month] / 2.0;
    let (first, second, t) = if x >= half {
        let next = (month + 1) % 12;
        (month, next, (x - half) / (half + LENGTHS[next] / 2.0))
    } else {
        let before = (month + 11) % 12;
        (before, month, 1.0 - (half - x) / (half + LENGTHS[before] / 2.0))
    };
    (first as u8 + 1, second as u8 + 1, t.clamp(0.0, 1.0))
}
