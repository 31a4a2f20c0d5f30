//! The outlook for shadow bands held against what people reported.
//!
//! The reports are few, gathered from those who wrote, and hardly anyone writes that nothing was to be seen: no frequency can be
//! drawn from them. What they can bear is the question whether a higher outlook went with more striking bands.

use super::band_outlook::{BandSky, OUTLOOK_S, outlook};
use noonfall_ephemeris::Kernel;
use noonfall_shadow::{Conventions, Eclipse, Site};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// One report.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// Day, as written.
    pub date: String,
    /// Where.
    pub place: String,
    /// Sun's altitude as the source's place gives it, degrees.
    pub sun_altitude_deg: f64,
    /// Altitude computed here for the rough coordinates, if there are any.
    pub computed_altitude_deg: Option<f64>,
    /// 0 none, 1 weak, 2 seen, 3 striking.
    pub grade: u8,
    /// Whether it counts in the narrow sense: by eye or camera on the ground, clear sky, inside a total eclipse's path.
    pub narrow: bool,
    /// The outlook of the place; where the report names no exact place, that of a usual crescent at the altitude.
    pub outlook: f64,
}

/// Reads the table of reports: those with a grade that count, in the narrow or the wide sense.
///
/// # Errors
/// A sentence with the line that cannot be read.
pub fn read(text: &str) -> Result<Vec<Report>, String> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let mut reports = Vec::new();
    for (i, row) in reader.records().enumerate() {
        let line = i + 2;
        let row = row.map_err(|e| format!("line {line}: {e}"))?;
        let cell = |k: usize| row.get(k).unwrap_or_default();
        let (counted, grade) = (cell(6), cell(5));
        if grade.is_empty() || counted == "no" {
            continue;
        }
        let number = |k: usize| cell(k).parse::<f64>().ok();
        let fault = |what: &str| format!("line {line}: {what}");
        let sun_altitude_deg = number(4).ok_or_else(|| fault("no altitude of the Sun"))?;
        let sky = match (number(2), number(3)) {
            (Some(lat), Some(lon)) => Some(sky_at(cell(0), lat, lon).map_err(|e| fault(&e))?),
            _ => None,
        };
        let usual = BandSky { sun_altitude_deg, width_arcsec: 0.45 * OUTLOOK_S, size_ratio: 1.045, elevation_m: 0.0 };
        reports.push(Report {
            date: cell(0).to_owned(),
            place: cell(1).to_owned(),
            sun_altitude_deg,
            computed_altitude_deg: sky.map(|s| s.sun_altitude_deg),
            grade: grade.parse().map_err(|_| fault("the grade is no number"))?,
            narrow: counted == "yes",
            outlook: outlook(&sky.unwrap_or(usual)),
        });
    }
    Ok(reports)
}

fn sky_at(date: &str, lat: f64, lon: f64) -> Result<BandSky, String> {
    let date = date.parse().map_err(|e| format!("{e}"))?;
    let eclipse =
        Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).map_err(|e| e.to_string())?;
    let site = Site::new(lat, lon, 0.0).map_err(|e| e.to_string())?;
    let max = eclipse.local(&site).max.ok_or("no eclipse at the place")?;
    Ok(BandSky::at(&eclipse, &site, max.tt))
}

/// How well the outlook orders reports.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Reports with bands seen, and without.
    pub seen: usize,
    /// See `seen`.
    pub unseen: usize,
    /// Area under the curve of seen against unseen: 0.5 is chance, 1 perfect order.
    pub area: f64,
    /// Standard error of the area (Hanley & McNeil 1982, Radiology 143, 29).
    pub area_error: f64,
    /// Spearman's rank correlation of outlook and grade, ties at their mean rank.
    pub rank_correlation: f64,
    /// How often shuffled grades correlate at least as strongly either way.
    pub by_chance: f64,
}

impl Held {
    /// Whether the order can be told from chance: area beyond two standard errors, or rank correlation above nought at one in
    /// twenty.
    pub fn better_than_chance(&self) -> bool {
        self.area - 2.0 * self.area_error > 0.5 || (self.rank_correlation > 0.0 && self.by_chance < 0.05)
    }
}

/// Holds values that should order reports against their grades.
pub fn held(values: &[f64], grades: &[u8]) -> Held {
    let side = |seen: bool| values.iter().zip(grades).filter(move |(_, g)| (**g > 0) == seen).map(|(v, _)| *v);
    let (seen, unseen) = (side(true).count(), side(false).count());
    let wins: f64 = side(true)
        .flat_map(|a| {
            side(false).map(move |b| {
                if a > b {
                    1.0
                } else if a == b {
                    0.5
                } else {
                    0.0
                }
            })
        })
        .sum();
    let (n, m) = (seen as f64, unseen as f64);
    let area = if n * m > 0.0 { wins / (n * m) } else { 0.5 };
    let (q1, q2) = (area / (2.0 - area), 2.0 * area * area / (1.0 + area));
    let variance = area * (1.0 - area) + (n - 1.0) * (q1 - area * area) + (m - 1.0) * (q2 - area * area);
    let area_error = if n * m > 0.0 { (variance / (n * m)).max(0.0).sqrt() } else { 0.5 };
    let by_value = ranks(values);
    let by_grade = ranks(&grades.iter().map(|g| f64::from(*g)).collect::<Vec<f64>>());
    let rank_correlation = correlation(&by_value, &by_grade);
    // Shuffles of the grades, from a fixed seed.
    const SHUFFLES: u32 = 20_000;
    let mut rng = ChaCha8Rng::seed_from_u64(1_842);
    let mut shuffled = by_grade;
    let mut as_strong = 0u32;
    for _ in 0..SHUFFLES {
        for i in (1..shuffled.len()).rev() {
            shuffled.swap(i, (rng.next_u64() % (i as u64 + 1)) as usize);
        }
        if correlation(&by_value, &shuffled).abs() >= rank_correlation.abs() - 1e-12 {
            as_strong += 1;
        }
    }
    Held { seen, unseen, area, area_error, rank_correlation, by_chance: f64::from(as_strong) / f64::from(SHUFFLES) }
}

/// Ranks, ties at their mean.
fn ranks(values: &[f64]) -> Vec<f64> {
    values
        .iter()
        .map(|v| {
            let (below, same) =
                values.iter().fold((0.0, 0.0), |(b, s), w| (b + f64::from(w < v), s + f64::from(w == v)));
            below + 0.5 * (same + 1.0)
        })
        .collect()
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len().max(1) as f64;
    let (ma, mb) = (mean(a), mean(b));
    let sum = |f: &dyn Fn(f64, f64) -> f64| a.iter().zip(b).map(|(x, y)| f(x - ma, y - mb)).sum::<f64>();
    let scale = (sum(&|x, _| x * x) * sum(&|_, y| y * y)).sqrt();
    if scale > 0.0 { sum(&|x, y| x * y) / scale } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outlook::shadow_bands::HELD_AGAINST_REPORTS;

    /// The sentence that every output carries must be what the reports bear, figures included.
    #[test]
    fn the_sentence_says_what_the_reports_bear() {
        let reports = read(&crate::reference("light/shadow-band-reports.csv")).unwrap();
        for r in &reports {
            println!(
                "{} {:24} h {:>5.1} {:>5.1?} grade {} outlook {:.3} {}",
                r.date, r.place, r.sun_altitude_deg, r.computed_altitude_deg, r.grade, r.outlook, r.narrow
            );
        }
        let over = |reports: &[&Report]| {
            let values: Vec<f64> = reports.iter().map(|r| r.outlook).collect();
            held(&values, &reports.iter().map(|r| r.grade).collect::<Vec<u8>>())
        };
        let narrow = over(&reports.iter().filter(|r| r.narrow).collect::<Vec<_>>());
        let wide = over(&reports.iter().collect::<Vec<_>>());
        println!("{narrow:?}\n{wide:?}");
        assert!(
            !narrow.better_than_chance() && !wide.better_than_chance(),
            "the sentence is too modest: {narrow:?} {wide:?}"
        );
        for figure in [
            format!("{} reports", narrow.seen + narrow.unseen),
            format!("rank correlation {:.2}", narrow.rank_correlation),
            format!("area under the curve {:.2}", wide.area),
            "not distinguishable from chance".to_owned(),
        ] {
            assert!(HELD_AGAINST_REPORTS.contains(&figure), "missing: {figure}");
        }
    }

    /// The altitudes of the gathered table were worked out apart from this program (DE440); the coordinates here are rough.
    #[test]
    fn the_altitudes_are_those_of_the_table() {
        for report in read(&crate::reference("light/shadow-band-reports.csv")).unwrap() {
            if let Some(found) = report.computed_altitude_deg {
                assert!((found - report.sun_altitude_deg).abs() < 3.0, "{report:?}");
            }
        }
    }

    /// Checked by hand: perfect, reversed and tied orders.
    #[test]
    fn orders_known_beforehand() {
        let perfect = held(&[0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8], &[0, 0, 0, 0, 1, 1, 2, 3]);
        assert_eq!(perfect.area, 1.0);
        assert!(perfect.rank_correlation > 0.9 && perfect.better_than_chance());
        let reversed = held(&[0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1], &[0, 0, 0, 0, 1, 1, 2, 3]);
        assert!(reversed.area == 0.0 && !reversed.better_than_chance());
        let level = held(&[0.5; 6], &[0, 1, 2, 3, 0, 1]);
        assert_eq!((level.area, level.rank_correlation), (0.5, 0.0));
    }
}
