//! How a figure came about and how far it can be trusted, in sentences.

use super::CloudQuery;
use super::geometry::{Blend, Geometry};
use super::season::{Answer, CloudSeason};
use crate::input::clouds::CloudSeries;
use crate::outlook::line_of_sight::LOWEST_ALTITUDE_DEG;
use crate::wording::month;

impl CloudSeason<'_> {
    pub(super) fn notes(
        &self,
        query: &CloudQuery<'_>,
        blend: &Blend,
        answer: &Answer,
        years: Option<u32>,
    ) -> Vec<String> {
        let source = self.source;
        let figure = &answer.figure;
        let mut notes = Vec::new();
        if source.table.invented {
            notes.push("The cloud figures are INVENTED: do not plan a trip by them.".to_owned());
        }
        notes.extend(source.doubt.clone());
        notes.push(match &source.geometry {
            Geometry::Grid(_) if blend.partial => {
                "Interpolated on the grid from the points that have figures; at least one of the four \
                 around the place has none."
                    .to_owned()
            }
            Geometry::Grid(_) => "Interpolated between the four grid points around the place.".to_owned(),
            Geometry::Stations(_) if blend.len() == 1 && blend.nearest_km < 1.0 => {
                format!("Figures of {}, at the place itself.", source.label(blend.heaviest()))
            }
            Geometry::Stations(_) if blend.len() == 1 => {
                format!("Figures of {}, {:.0} km away.", source.label(blend.heaviest()), blend.nearest_km)
            }
            Geometry::Stations(_) => format!(
                "Distance-weighted from {} stations within {:.0} km, the nearest {}, {:.0} km away.",
                blend.len(),
                source.options.reach_km,
                source.label(blend.heaviest()),
                blend.nearest_km
            ),
        });
        match &source.table.series {
            CloudSeries::Days(_) | CloudSeries::Packed(_) if source.options.forecast => notes.push(format!(
                "A forecast for the day itself, trusted as {:.0} independent days (uncalibrated).",
                figure.effective_days
            )),
            CloudSeries::Days(_) | CloudSeries::Packed(_) => {
                let years_in_words = years.map(|y| format!(", {y} {}", if y == 1 { "year" } else { "years" }));
                notes.push(format!(
                    "From {} day records within {} days of the date{}, worth {:.0} independent days since weather lasts; \
                     prior Jeffreys.",
                    answer.evidence.map_or(0, |e| e.days),
                    source.options.half_window_days,
                    years_in_words.unwrap_or_default(),
                    figure.effective_days
                ));
                if let Some(e) = answer.evidence {
                    let runs = format!("skies alike, clear or not, last {:.1} days in the mean", e.run_days);
                    notes.push(match e.between_years {
                        Some(d) => format!(
                            "The interval is from the years themselves: the chance of a single year strays by {:.0} points \
                             (standard deviation), and {runs}.",
                            d * 100.0
                        ),
                        None => format!("One year alone does not show how years differ; {runs}."),
                    });
                }
                if years.is_some_and(|y| y < 5) {
                    notes.push("Fewer than five years of records: the next year may look quite different.".to_owned());
                }
            }
            CloudSeries::Means(means) => {
                let (first, second, t) = self.months;
                let has = |m: u8| blend.nodes().all(|(n, _)| means[n].iter().any(|x| x.month == m));
                if t > 0.0 && !(has(first) && has(second)) {
                    let (used, missing) = if has(first) { (first, second) } else { (second, first) };
                    let name = |m: u8| month(m.into());
                    notes.push(format!("Figures of {} alone; there are none for {}.", name(used), name(missing)));
                }
                notes.push(match answer.mean_years {
                    Some(years) => format!(
                        "Monthly means of {years:.0} years: the interval is from how they differ. Skies within a month are spread \
                         about the mean as a Beta distribution (parameters sum to {}, uncalibrated).",
                        source.options.cover_spread
                    ),
                    None => format!(
                        "Only a mean cover is given: skies are spread about it as a Beta distribution (parameters sum to {}), \
                         and the chance is trusted as {:.0} independent days; both uncalibrated.",
                        source.options.cover_spread, figure.effective_days
                    ),
                });
            }
        }
        if answer.added > 0.0 {
            let points = answer.added.sqrt() * 100.0;
            notes.push(match source.cell_km(query.lat_deg) {
                Some(km) => format!(
                    "Wider by what a cell of {km:.0} km cannot show of a place within it ({points:.0} points, a judgement)."
                ),
                None => format!(
                    "Wider by the {:.0} km to the station ({points:.0} points, a judgement from how sunshine differs with distance).",
                    blend.nearest_km
                ),
            });
        }
        if let Some(l) = answer.layers {
            let [low, middle, high] = l.taken.map(|t| t * 100.0);
            notes.push(format!(
                "Without low cloud the chance would be {low:.0} points higher, without middle cloud {middle:.0}, without high cloud \
                 {high:.0}; clear of all cloud, thin too: {:.0} %.",
                l.strict * 100.0
            ));
        }
        if !source.has_hours {
            notes.push(
                "The file gives no hours: the figure is for the whole day, or the hour the file was made for."
                    .to_owned(),
            );
        }
        if source.table.missing > 0 {
            notes.push(format!("{} figures are missing in the file and left out.", source.table.missing));
        }
        let model = match answer.layers {
            Some(_) => source.options.layers.describe(),
            None => source.model.describe(),
        };
        notes.push(format!(
            "Line of sight by {model}; such models give somewhat more clear sky than was sighted (Lund 1980)."
        ));
        if query.sun_altitude_deg < LOWEST_ALTITUDE_DEG {
            notes.push(format!("The model stops at {LOWEST_ALTITUDE_DEG:.0}° above the horizon; the Sun is lower, and its chance smaller."));
        }
        notes.push(
            "Eclipse cooling often dissolves shallow cumulus as totality nears; it is not counted here.".to_owned(),
        );
        notes
    }
}
