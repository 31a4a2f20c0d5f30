//! The odds that a cloud archive gives at a place: by the hour of the day, and by the day of the season or the month.

use super::axes::{self, Axes};
use super::{ChartError, ChartPage, finite, foot_note};
use crate::palette::{INK, SHADE};
use crate::projection::Window;
use crate::svg::{Num, Svg, TextStyle};
use noonfall_scoring::outlook::cloud_survey::{Odds, Survey};

/// The odds at one point of an axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OddsPoint {
    /// Where on the axis: an hour, days from the date, or a month.
    pub at: f64,
    /// Chance of a clear line of sight, 0 to 1.
    pub chance: f64,
    /// Lower end of the 95 % interval.
    pub low_95: f64,
    /// Upper end of it.
    pub high_95: f64,
}

/// What the second panel counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SeasonAxis {
    /// Days from the date asked about.
    DaysFromDate,
    /// Months of the year.
    Month,
}

/// All that the chart shows.
#[derive(Clone, Debug, PartialEq)]
pub struct ArchiveOdds {
    /// Place and file, for the title.
    pub title: String,
    /// By hour of local mean solar time; empty where the archive has no hours.
    pub by_hour: Vec<OddsPoint>,
    /// By day or month.
    pub by_day: Vec<OddsPoint>,
    /// What `by_day` counts.
    pub season: SeasonAxis,
}

const CHART: &str = "cloud archive";

/// Draws both panels, or the one that has figures.
///
/// # Errors
/// [`ChartError`] for no figures, a number that is not finite, or too small a page.
pub fn cloud_archive(page: &ChartPage, odds: &ArchiveOdds) -> Result<String, ChartError> {
    let panels: Vec<(&[OddsPoint], &str)> = [
        (odds.by_hour.as_slice(), "hour by the Sun (12 is noon)"),
        (
            odds.by_day.as_slice(),
            match odds.season {
                SeasonAxis::DaysFromDate => "days from the date",
                SeasonAxis::Month => "month",
            },
        ),
    ]
    .into_iter()
    .filter(|(points, _)| !points.is_empty())
    .collect();
    if panels.is_empty() {
        return Err(ChartError::Empty { chart: CHART, wants: "a place with cloud figures" });
    }
    for p in odds.by_hour.iter().chain(&odds.by_day) {
        finite(CHART, "a chance", p.at + p.chance + p.low_95 + p.high_95)?;
    }
    let best = odds.by_hour.iter().chain(&odds.by_day).map(|p| p.chance).fold(0.0, f64::max);
    let description = format!("Chances of a clear line to the Sun, {:.0} percent at best.", best * 100.0);
    let (mut svg, top) = page.begin(CHART, &odds.title, &description)?;
    let t = page.text;
    let note =
        "Line: chance of a clear line to the Sun. Shade: 95 % interval. An estimate from past years, no forecast.";
    let foot = foot_note(&mut svg, page, note);
    let room = page.width - t;
    let each = room / panels.len() as f64;
    let height = page.height - top - foot - t * 1.6;
    if height < t * 8.0 || each < t * 12.0 {
        return Err(ChartError::NoRoom { chart: CHART, width: page.width, height: page.height });
    }
    for (i, (points, words)) in panels.into_iter().enumerate() {
        let window = Window { x: t * 0.5 + each * i as f64, y: top + t, width: each - t * 0.5, height };
        panel(&mut svg, window, t, points, words)?;
    }
    Ok(svg.finish(page.fonts))
}

fn panel(svg: &mut Svg, window: Window, t: f64, points: &[OddsPoint], words: &str) -> Result<(), ChartError> {
    let least = points.iter().map(|p| p.at).fold(f64::INFINITY, f64::min);
    let most = points.iter().map(|p| p.at).fold(f64::NEG_INFINITY, f64::max);
    // A single point gets a little room to either side.
    let (from, to) = if most > least { (least, most) } else { (least - 1.0, most + 1.0) };
    let axes = Axes { x: [from, to], y: [0.0, 100.0], x_title: words, y_title: "chance, %", x_marks: 8, y_marks: 5 };
    let plane = axes::draw(svg, window, t, &axes)?;
    let at = |p: &OddsPoint, chance: f64| plane.at(p.at, chance.clamp(0.0, 1.0) * 100.0);
    let mut outline = String::new();
    let upper = points.iter().map(|p| at(p, p.high_95));
    let lower = points.iter().rev().map(|p| at(p, p.low_95));
    for (i, [x, y]) in upper.chain(lower).enumerate() {
        outline += &format!("{}{} {}", if i == 0 { "M" } else { "L" }, Num(x), Num(y));
    }
    outline.push('Z');
    svg.leaf(
        "path",
        &[("d", &outline), ("fill", &SHADE), ("stroke", &INK), ("stroke-width", &Num(t * 0.05)), ("opacity", &"0.8")],
    );
    let mut line = String::new();
    for (i, p) in points.iter().enumerate() {
        let [x, y] = at(p, p.chance);
        line += &format!("{}{} {}", if i == 0 { "M" } else { "L" }, Num(x), Num(y));
    }
    svg.leaf("path", &[("d", &line), ("fill", &"none"), ("stroke", &INK), ("stroke-width", &Num(t * 0.16))]);
    for p in points {
        let [x, y] = at(p, p.chance);
        svg.leaf("circle", &[("cx", &Num(x)), ("cy", &Num(y)), ("r", &Num(t * 0.2)), ("fill", &INK)]);
    }
    if let Some(best) = points.iter().max_by(|a, b| a.chance.total_cmp(&b.chance)) {
        let [x, y] = at(best, best.chance);
        let style = TextStyle::new(t * 0.85, INK).strong();
        svg.text(x + t * 0.3, (y - t * 0.4).max(window.y + t), &style, &format!("{:.0} %", best.chance * 100.0));
    }
    Ok(())
}

/// The chart of what an archive gives at the place that was asked about.
///
/// # Errors
/// As [`cloud_archive`]; also where no place was asked about or it has no figures.
pub fn of_survey(survey: &Survey, page: &ChartPage) -> Result<String, ChartError> {
    let Some(place) = &survey.place else {
        return Err(ChartError::Empty { chart: "cloud archive", wants: "a place (--near LAT,LON)" });
    };
    let point =
        |at: f64, o: &Odds| OddsPoint { at, chance: o.clear_line_of_sight, low_95: o.low_95, high_95: o.high_95 };
    let season = if place.date.is_some() { SeasonAxis::DaysFromDate } else { SeasonAxis::Month };
    let middle = place.date;
    let by_day = place.by_day.iter().filter_map(|o| {
        use chrono::Datelike;
        let at = match middle {
            Some(date) => {
                // The days run on through the turn of the year.
                let of = |year| chrono::NaiveDate::from_ymd_opt(year, o.day.0, o.day.1).map(|d| (d - date).num_days());
                let year = date.year();
                [year - 1, year, year + 1].into_iter().filter_map(of).min_by_key(|d| d.abs())? as f64
            }
            None => f64::from(o.day.0),
        };
        Some(point(at, o))
    });
    let odds = ArchiveOdds {
        title: noonfall_words::cloud_archives::chart(place),
        by_hour: place.by_hour.iter().map(|o| point(o.solar_hour, o)).collect(),
        by_day: by_day.collect(),
        season,
    };
    let page = ChartPage { invented: page.invented || survey.source.invented(), ..page.clone() };
    cloud_archive(&page, &odds)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(at: f64, chance: f64) -> OddsPoint {
        OddsPoint { at, chance, low_95: chance - 0.1, high_95: chance + 0.1 }
    }

    #[test]
    fn both_panels_stand_in_well_formed_drawings_that_say_invented() {
        let odds = ArchiveOdds {
            title: "Somewhere".into(),
            by_hour: (6..19).map(|h| point(f64::from(h), 0.5)).collect(),
            by_day: vec![point(-5.0, 0.4), point(0.0, 0.6)],
            season: SeasonAxis::DaysFromDate,
        };
        let mut page = ChartPage::new("c", 760.0, 340.0);
        page.invented = true;
        let text = cloud_archive(&page, &odds).expect("chart");
        let document = roxmltree::Document::parse(&text).expect("well-formed");
        assert!(text.contains("INVENTED") && text.contains("hour by the Sun") && !text.contains("NaN"));
        assert_eq!(document.descendants().filter(|n| n.has_tag_name("circle")).count(), 15);
        let one = ArchiveOdds {
            by_hour: Vec::new(),
            by_day: vec![point(7.0, 0.5)],
            season: SeasonAxis::Month,
            ..odds.clone()
        };
        assert!(cloud_archive(&page, &one).expect("one panel").contains("month"));
        let none = ArchiveOdds { by_hour: Vec::new(), by_day: Vec::new(), ..odds };
        assert!(matches!(cloud_archive(&page, &none), Err(ChartError::Empty { .. })));
    }
}
