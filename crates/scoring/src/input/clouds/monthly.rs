//! Monthly means gathered over years: each month's figures of all years become one mean with its spread from year to year.

use std::collections::BTreeMap;

use super::{Layers, MonthlyCover, YearSpread};

/// The mean of a month of one year, with its layers where they are known.
type YearFigure = (i32, f64, Option<Layers>);

/// The figures of one place, by month and hour.
#[derive(Clone, Debug, Default)]
pub(super) struct MonthBook {
    /// By month and hour of local solar time in thousandths; the figures with their years.
    by_month: BTreeMap<(u8, Option<u32>), Vec<YearFigure>>,
}

impl MonthBook {
    /// Adds the mean of one month of one year.
    pub fn add(&mut self, year: i32, month: u8, solar_hour: Option<f64>, cover: f64, layers: Option<Layers>) {
        let hour = solar_hour.map(|h| (h.rem_euclid(24.0) * 1e6).round() as u32 % 24_000_000);
        self.by_month.entry((month, hour)).or_default().push((year, cover, layers));
    }

    /// The means over years. Where a year has several figures of one month (an ensemble), they count as one.
    pub fn means(self) -> Vec<MonthlyCover> {
        let mean = |figures: &[f64]| figures.iter().sum::<f64>() / figures.len() as f64;
        self.by_month
            .into_iter()
            .map(|((month, hour), mut figures)| {
                figures.sort_by_key(|f| f.0);
                let yearly: Vec<f64> = figures
                    .chunk_by(|a, b| a.0 == b.0)
                    .map(|year| mean(&year.iter().map(|f| f.1).collect::<Vec<_>>()))
                    .collect();
                let cover = mean(&yearly);
                let layers: Vec<[f64; 3]> = figures.iter().filter_map(|f| f.2.map(Layers::each)).collect();
                let layers = (layers.len() == figures.len())
                    .then(|| Layers::of([0, 1, 2].map(|i| mean(&layers.iter().map(|l| l[i]).collect::<Vec<_>>()))));
                let squares = yearly.iter().map(|y| (y - cover).powi(2)).sum::<f64>();
                let years = (yearly.len() > 1).then(|| YearSpread {
                    years: yearly.len() as u32,
                    deviation: (squares / (yearly.len() - 1) as f64).sqrt(),
                });
                MonthlyCover { month, hour: hour.map(|h| f64::from(h) / 1e6), cover, layers, years }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn years_become_a_mean_and_a_spread() {
        let mut book = MonthBook::default();
        for (year, cover) in [(2019, 0.2), (2020, 0.4), (2021, 0.6)] {
            book.add(year, 7, Some(25.0), cover, None);
        }
        book.add(2020, 8, None, 0.9, Some(Layers { low: 0.5, middle: 0.0, high: 0.0 }));
        let means = book.means();
        assert_eq!(means.len(), 2);
        assert!((means[0].cover - 0.4).abs() < 1e-12 && means[0].hour == Some(1.0));
        let years = means[0].years.unwrap();
        assert!(years.years == 3 && (years.deviation - 0.2).abs() < 1e-12);
        assert_eq!((means[1].years, means[1].layers.unwrap().low), (None, 0.5));
    }
}
