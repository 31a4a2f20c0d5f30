//! How sure a chance is: from the years themselves where there are years, wider with distance and with the coarseness of a grid.
//!
//! **Years.** The chance is the mean over all days of the season; each year's own mean shows how much the mean of one year may
//! stray, weather that lasts and years that differ together. With few years that is itself uncertain, so it is pooled with what
//! the days within the years say (their variance, and how long skies last: n (1 − r)/(1 + r) independent days for a likeness r of
//! one day to the next), as [`PRIOR_DEGREES`] further years would, and the interval is widened as Student's distribution is.
//!
//! **Distance.** r = exp(−d/L), var = SE² + S² (1 − r²): L and S from the correlation of monthly sunshine with distance, about
//! 300 to 400 km in the mean ("From Point to Area", J. Geophys. Res.), and from the spread of cloud climates over such distances,
//! a judgement. A grid cell speaks for its middle: a place in it is 0.38 of its side away in the mean.
//!
//! Calibrated on made-up climates in `tests.rs`.

use std::sync::LazyLock;

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::sample::Day;

/// Weight of the days within the years against the years themselves.
pub(super) const PRIOR_DEGREES: f64 = 2.0;

/// Distance over which cloud climates lose their likeness, km.
pub(super) const LIKENESS_KM: f64 = 300.0;
/// Spread of the chance between places that have nothing to do with each other any more, within one region.
pub(super) const REGION_SPREAD: f64 = 0.10;
/// Mean distance of a point of a square from its middle, in sides: (√2 + ln(1 + √2))/6.
pub(super) const IN_CELL: f64 = 0.382_597_858;

/// The 95 % point of the standard normal distribution, one-sided.
const NORMAL_95: f64 = 1.644_853_626_951_472_2;

/// What a season's days say of a chance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Evidence {
    /// Mean chance.
    pub chance: f64,
    /// Number of independent days that the chance is worth.
    pub strength: f64,
    /// Years.
    pub years: u32,
    /// Days.
    pub days: usize,
    /// Standard deviation of the yearly chances; `None` for one year.
    pub between_years: Option<f64>,
    /// Mean length of a run of days alike, clear or not.
    pub run_days: f64,
}

impl Evidence {
    /// Of days with the year of their season; `stated` is the number of years that the file says it stands on. Several records
    /// of one day (members of an ensemble) count as one day.
    pub fn of(days: &[(Day, i32)], stated: Option<u32>, chance: impl Fn(&Day) -> f64) -> Option<Evidence> {
        let one = |day: &[(Day, i32)]| {
            let mean = day.iter().map(|(d, _)| chance(d)).sum::<f64>() / day.len() as f64;
            day.first().map(|(d, year)| (d.date, *year, mean))
        };
        let list: Vec<_> = days.chunk_by(|a, b| a.0.date == b.0.date).filter_map(one).collect();
        let n = list.len() as f64;
        if list.is_empty() {
            return None;
        }
        let mean = list.iter().map(|d| d.2).sum::<f64>() / n;
        let variance = list.iter().map(|d| (d.2 - mean).powi(2)).sum::<f64>() / n;
        // Likeness of one day to the next, and runs.
        let (mut pairs, mut product, mut turns) = (0.0, 0.0, 0.0);
        for pair in list.windows(2) {
            if (pair[1].0 - pair[0].0).num_days() == 1 {
                pairs += 1.0;
                product += (pair[0].2 - mean) * (pair[1].2 - mean);
                turns += f64::from(u8::from((pair[0].2 >= 0.5) != (pair[1].2 >= 0.5)));
            }
        }
        let likeness = if pairs >= 10.0 && variance > 1e-12 { product / pairs / variance } else { 0.0 };
        let likeness = likeness.clamp(0.0, 0.95);
        let run_days = if turns > 0.0 { pairs / turns } else { pairs.max(1.0) };
        let mut seasons: Vec<(i32, f64, f64)> = list.iter().map(|d| (d.1, d.2, 1.0)).collect();
        seasons.sort_by_key(|s| s.0);
        let yearly: Vec<(f64, f64)> = seasons
            .chunk_by(|a, b| a.0 == b.0)
            .map(|year| (year.iter().map(|d| d.1).sum::<f64>() / year.len() as f64, year.len() as f64))
            .collect();
        let k = yearly.len() as f64;
        let years = stated.unwrap_or(yearly.len() as u32).max(1);
        let within = variance / (n / k) * (1.0 + likeness) / (1.0 - likeness);
        // Years with fewer days stray more: each counts by its days.
        let between = (yearly.len() > 1)
            .then(|| yearly.iter().map(|(m, w)| w * (m - mean).powi(2)).sum::<f64>() / n * k / (k - 1.0));
        let degrees = degrees_of_years(yearly.len());
        let pooled = (PRIOR_DEGREES * within + (k - 1.0) * between.unwrap_or(0.0)) / degrees;
        let strength = if variance <= 1e-9 || !(mean > 0.0 && mean < 1.0) {
            // Skies that never change tell nothing of how they might: the years count.
            f64::from(years).min(n)
        } else {
            let error = pooled / k * student_of_years(yearly.len());
            (mean * (1.0 - mean) / error.max(1e-12) - 1.0).clamp(1.0, n)
        };
        Some(Evidence {
            chance: mean,
            strength,
            years,
            days: list.len(),
            between_years: between.map(f64::sqrt),
            run_days,
        })
    }
}

/// How much wider, in variance, Student's distribution is than the normal one at its 95 % point, for so many years.
fn student_of_years(years: usize) -> f64 {
    // Asked again for every place of a table.
    static KNOWN: LazyLock<Vec<f64>> =
        LazyLock::new(|| (0..64).map(|years| student(degrees_of_years(years))).collect());
    KNOWN.get(years).copied().unwrap_or_else(|| student(degrees_of_years(years)))
}

fn degrees_of_years(years: usize) -> f64 {
    PRIOR_DEGREES + years as f64 - 1.0
}

/// The same for so many degrees of freedom.
pub(super) fn student(degrees: f64) -> f64 {
    let point = StudentsT::new(0.0, 1.0, degrees).map_or(NORMAL_95, |t| t.inverse_cdf(0.95));
    if point.is_finite() { (point / NORMAL_95).powi(2).max(1.0) } else { 1.0 }
}

/// Variance that a distance adds.
///
/// # Units
/// km.
pub(super) fn distance_variance(distance_km: f64) -> f64 {
    REGION_SPREAD.powi(2) * (1.0 - (-2.0 * distance_km.max(0.0) / LIKENESS_KM).exp())
}

/// A Beta distribution whose variance is larger by `added`; its mean stays.
pub(super) fn widened(beta: (f64, f64), added: f64) -> (f64, f64) {
    let sum = beta.0 + beta.1;
    let mean = beta.0 / sum;
    let spread = mean * (1.0 - mean);
    let wanted = spread / (sum + 1.0) + added.max(0.0);
    if !(added > 0.0 && spread > 0.0) {
        return beta;
    }
    // No less than one day's worth on both sides together.
    let sum = (spread / wanted - 1.0).max(1.0).min(sum);
    (mean * sum, (1.0 - mean) * sum)
}

#[cfg(test)]
mod tests {
    use super::super::quantile;
    use super::*;
    use chrono::{Duration, NaiveDate};
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    fn uniform(rng: &mut ChaCha8Rng) -> f64 {
        (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn normal(rng: &mut ChaCha8Rng) -> f64 {
        let (u, v) = (1.0 - uniform(rng), uniform(rng));
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    fn logistic(x: f64) -> f64 {
        1.0 / (1.0 + (-x).exp())
    }

    /// A climate: what is true of it in the long run, and some years of skies from it.
    fn climate(rng: &mut ChaCha8Rng, years: i32) -> (f64, Vec<(Day, i32)>) {
        let base = normal(rng) * 1.2;
        let spread = uniform(rng) * 0.6;
        // Skies last: half-lives of 5 to 40 hours.
        let lasts = (-(24.0 * std::f64::consts::LN_2) / (5.0 + 35.0 * uniform(rng))).exp();
        // The long-run chance: the mean over the years' own, by a fine sum over the normal distribution.
        let (mut sum, mut weights) = (0.0, 0.0);
        for i in -60..=60 {
            let z = f64::from(i) / 12.0;
            let w = (-z * z / 2.0).exp();
            sum += w * logistic(base + spread * z);
            weights += w;
        }
        let mut days = Vec::new();
        for year in 0..years {
            let clear = logistic(base + spread * normal(rng));
            let start = NaiveDate::from_ymd_opt(2000 + year, 7, 1).unwrap();
            let mut sky = uniform(rng) < clear;
            for d in 0..31 {
                if d > 0 && uniform(rng) > lasts {
                    sky = uniform(rng) < clear;
                }
                let cover = if sky { 0.0 } else { 1.0 };
                days.push((Day { date: start + Duration::days(d), cover, layers: None }, 2000 + year));
            }
        }
        (sum / weights, days)
    }

    /// The interval holds the truth as often as it says: 90 % of a thousand made-up climates with weather that lasts and years
    /// that differ, of five to forty years each. And forecasts made of the chances come true as often as they say.
    #[test]
    fn intervals_hold_the_truth_and_chances_come_true() {
        let mut rng = ChaCha8Rng::seed_from_u64(13);
        let (mut held, mut bins) = (0, [(0.0, 0.0, 0.0); 5]);
        for i in 0..1000 {
            let years = [5, 8, 12, 20, 30, 40][i % 6];
            let (truth, days) = climate(&mut rng, years);
            let e = Evidence::of(&days, None, |d| 1.0 - d.cover).unwrap();
            let beta = (e.chance * e.strength + 0.5, (1.0 - e.chance) * e.strength + 0.5);
            let (low, high) = (quantile(beta, 0.05).unwrap(), quantile(beta, 0.95).unwrap());
            held += usize::from((low..=high).contains(&truth));
            let forecast = beta.0 / (beta.0 + beta.1);
            let bin = &mut bins[((forecast * 5.0) as usize).min(4)];
            let came = f64::from(u8::from(uniform(&mut rng) < truth));
            *bin = (bin.0 + forecast, bin.1 + came, bin.2 + 1.0);
        }
        assert!((880..=920).contains(&held), "{held} of 1000");
        for (forecast, came, n) in bins {
            // Within three standard errors of what chance alone does.
            let error = (forecast / n * (1.0 - forecast / n) / n).sqrt();
            assert!((forecast / n - came / n).abs() < 3.0 * error, "{} said, {} came", forecast / n, came / n);
        }
    }

    #[test]
    fn lasting_weather_and_differing_years_make_days_count_for_less() {
        let day = |i: i64, cover: f64| {
            let date = NaiveDate::from_ymd_opt(2001, 1, 1).unwrap() + Duration::days(i);
            (Day { date, cover, layers: None }, 2001)
        };
        let of = |covers: &[f64]| {
            let days: Vec<_> = covers.iter().enumerate().map(|(i, c)| day(i as i64, *c)).collect();
            Evidence::of(&days, None, |d| 1.0 - d.cover).unwrap()
        };
        let turning: Vec<f64> = (0..60).map(|i| f64::from(u8::from(i % 2 == 0))).collect();
        let lasting: Vec<f64> = (0..60).map(|i| f64::from(u8::from(i / 10 % 2 == 0))).collect();
        assert!(of(&lasting).strength < of(&turning).strength / 3.0);
        assert!((of(&turning).run_days - 1.0).abs() < 1e-12 && (of(&lasting).run_days - 59.0 / 5.0).abs() < 1e-12);
        let constant = of(&[0.5; 31]);
        assert_eq!((constant.strength, constant.between_years), (1.0, None));
        assert!(Evidence::of(&[], None, |_| 0.0).is_none());
    }

    #[test]
    fn members_of_an_ensemble_are_one_day() {
        let date = NaiveDate::from_ymd_opt(2001, 1, 1).unwrap();
        let days: Vec<_> = (0..200)
            .map(|i| (Day { date: date + Duration::days(i / 50), cover: f64::from((i % 2) as u8), layers: None }, 2001))
            .collect();
        let e = Evidence::of(&days, None, |d| 1.0 - d.cover).unwrap();
        assert_eq!((e.days, e.chance), (4, 0.5));
        assert!(e.strength <= 4.0);
    }

    /// Check values: SE 0.04, S 0.10, L 300 km at 50, 100, 300 km give 0.063, 0.075, 0.094 where the mean is drawn to the region
    /// as well (listed with the project's sources); ours keeps the station's mean and so is a little wider.
    #[test]
    fn distance_and_coarseness_widen() {
        for (km, at_least) in [(50.0, 0.063), (100.0, 0.075), (300.0, 0.094)] {
            let ours = (0.04_f64.powi(2) + distance_variance(km)).sqrt();
            assert!((at_least..at_least + 0.012).contains(&ours), "{km}: {ours}");
        }
        assert_eq!(distance_variance(0.0), 0.0);
        let beta = (30.0, 70.0);
        let wide = widened(beta, 0.01);
        assert!((wide.0 / (wide.0 + wide.1) - 0.3).abs() < 1e-12);
        let variance = |b: (f64, f64)| b.0 * b.1 / (b.0 + b.1).powi(2) / (b.0 + b.1 + 1.0);
        assert!((variance(wide) - variance(beta) - 0.01).abs() < 1e-9);
        assert_eq!(widened(beta, 0.0), beta);
    }

    /// t(0.95) of SciPy: 2.919986 for 2 degrees, 1.703288 for 27.
    #[test]
    fn students_widening_agrees_with_scipy() {
        assert!((student(2.0) - (2.919_985_58_f64 / 1.644_853_63).powi(2)).abs() < 1e-5);
        assert!((student(27.0) - (1.703_288_45_f64 / 1.644_853_63).powi(2)).abs() < 1e-6);
    }
}
