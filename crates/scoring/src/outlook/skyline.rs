//! Open horizon: the skyline along the Sun's track, how far above it the Sun stands, and when it dips behind.
//!
//! [`Skyline::from_terrain`] casts rays over an elevation model ([`ray`]); [`Skyline::from_survey`] uses what was measured at the
//! site. Both compare altitudes **as seen**: the skyline with terrestrial refraction, the Sun with astronomical refraction.
//! [`Horizons`] picks between the two for a site. A model of the bare ground knows no trees and houses, and near ground is as uncertain as its heights: the outputs say so.

pub mod ground_view;
pub mod ray;
pub mod track;

use std::path::Path;

use noonfall_ephemeris::Tt;
use noonfall_shadow::{Eclipse, LocalCircumstances, Site};
use rayon::prelude::*;

pub use self::ground_view::GroundView;
use self::ray::HIGHEST_GROUND_M;
pub use self::ray::{HorizonSearch, Ray, RayOptions, Viewpoint};
pub use self::track::{SunPoint, SunTrack};
use crate::fault::Faults;
use crate::input::horizon::{HorizonSurvey, SurveyedHorizon, WIDEST_GAP_DEG};
use crate::input::terrain::{Terrain, TerrainError};

/// Between the rays of a profile, degrees of azimuth: a tenth of the Sun's disc.
const PROFILE_STEP_DEG: f64 = 0.05;
/// Beyond the Sun's track on either side, degrees.
const PROFILE_MARGIN_DEG: f64 = 1.0;
/// A margin below this is called thin unless set otherwise, degrees: about two of the Sun's discs.
pub const THIN_MARGIN_DEG: f64 = 1.0;
/// One-sigma error of heights in an elevation model, m: SRTM's specification of 10 m relative at 90 % (from memory).
pub const HEIGHT_SIGMA_M: f64 = 6.0;

/// The skyline at an azimuth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SkylinePoint {
    /// Azimuth from north through east, degrees in [0, 360).
    pub azimuth_deg: f64,
    /// Altitude as seen, degrees.
    pub altitude_deg: f64,
    /// Distance of the ground that makes it, km; `None` for a survey.
    pub distance_km: Option<f64>,
}

/// The skyline along the Sun's track and the Sun's margins over it.
#[derive(Clone, Debug, PartialEq)]
pub struct Skyline {
    /// The Sun's centre above the skyline at second contact, degrees; negative when hidden.
    pub margin_c2_deg: Option<f64>,
    /// The same at maximum.
    pub margin_max_deg: f64,
    /// The same at third contact.
    pub margin_c3_deg: Option<f64>,
    /// The least margin of the Sun's centre from second to third contact, a peak between the contacts included (at maximum
    /// where there is no totality), degrees.
    pub centre_margin_deg: f64,
    /// The least margin of the Sun's lower limb from second to third contact (at maximum where there is no totality), degrees:
    /// from 0 up the whole disc is free.
    pub disc_margin_deg: f64,
    /// One-sigma doubt of the margins from the model's heights, degrees; `None` for a survey.
    pub margin_sigma_deg: Option<f64>,
    /// When the Sun's centre, seen before, dips behind the skyline; `None` when it does not before fourth contact.
    pub sun_lost: Option<Tt>,
    /// When the Sun's centre, hidden at first contact, comes out; `None` when it is free from the start or never.
    pub sun_gained: Option<Tt>,
    /// The skyline from a degree before the Sun's track to a degree after it.
    pub profile: Vec<SkylinePoint>,
    /// Height of the ground by the terrain, m above mean sea level.
    pub ground_m: Option<f64>,
    /// What is doubtful about this site's skyline.
    pub warnings: Vec<String>,
    /// How it was found.
    pub notes: Vec<String>,
    /// The file or folder.
    pub source: String,
}

/// Why there is no skyline for a site.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SkylineGap {
    /// The terrain does not know the site.
    #[error(transparent)]
    Terrain(#[from] TerrainError),
    /// The survey has no such site.
    #[error("{file} has no horizon of {wanted} (it has: {known})")]
    NotSurveyed {
        /// The file.
        file: String,
        /// The site asked for.
        wanted: String,
        /// The sites it has.
        known: String,
    },
    /// The survey leaves out azimuths where the Sun stands.
    #[error(
        "{file}: the horizon of {site} is not surveyed at azimuth {azimuth_deg:.1}°, where the Sun passes; add points no \
         more than {WIDEST_GAP_DEG:.0}° apart from {from_deg:.0}° to {to_deg:.0}°"
    )]
    Unsurveyed {
        /// The file.
        file: String,
        /// The site.
        site: String,
        /// The first azimuth left out, degrees.
        azimuth_deg: f64,
        /// Azimuths the Sun's track spans, degrees.
        from_deg: f64,
        /// Azimuths the Sun's track spans, degrees.
        to_deg: f64,
    },
}

/// What is known of horizons: an elevation model, surveys, both or neither.
#[derive(Debug, Default)]
pub struct Horizons {
    /// The elevation model.
    pub terrain: Option<Terrain>,
    /// Surveyed horizons.
    pub survey: Option<HorizonSurvey>,
    /// How rays are cast over the model.
    pub options: RayOptions,
}

impl Horizons {
    /// Opens a terrain folder and a horizon CSV, each where given.
    ///
    /// # Errors
    /// Every fault of both.
    pub fn open(terrain: Option<&Path>, survey: Option<&Path>) -> Result<Horizons, Faults> {
        let terrain = terrain.map(Terrain::open).transpose();
        let survey = survey.map(HorizonSurvey::open).transpose();
        match (terrain, survey) {
            (Ok(terrain), Ok(survey)) => Ok(Horizons { terrain, survey, options: RayOptions::default() }),
            (terrain, survey) => {
                let faults = [terrain.err(), survey.err()].into_iter().flatten().flat_map(|f| f.0);
                Err(Faults(faults.collect()))
            }
        }
    }

    /// Whether nothing is known.
    pub fn is_empty(&self) -> bool {
        self.terrain.is_none() && self.survey.is_none()
    }

    /// The skyline of a site: what was surveyed there, else the elevation model. `None` when there is neither for it, or no eclipse.
    ///
    /// # Errors
    /// [`SkylineGap`]: what was given cannot answer for this site. To be shown as a warning on the site.
    pub fn skyline(
        &self,
        eclipse: &Eclipse,
        site: &Site,
        local: &LocalCircumstances,
        name: Option<&str>,
    ) -> Result<Option<Skyline>, SkylineGap> {
        // The Sun's track is followed only where there is something to hold against it.
        if self.survey.is_none() && self.terrain.is_none() {
            return Ok(None);
        }
        let Some(track) = SunTrack::of(eclipse, site, local) else { return Ok(None) };
        match (&self.survey, &self.terrain) {
            (Some(survey), terrain) if terrain.is_none() || survey.of(name).is_some() => {
                Skyline::from_survey(survey, name, &track).map(Some)
            }
            (_, Some(terrain)) => {
                Skyline::from_terrain(terrain, site.lat_deg, site.lon_deg, &track, &self.options).map(Some)
            }
            _ => Ok(None),
        }
    }

    /// Height of the ground for a site that gives none, m above mean sea level, and its source; `None` without an elevation model.
    ///
    /// # Errors
    /// [`TerrainError`]: a missing file or a void is never turned into a number.
    pub fn site_elevation(&self, lat_deg: f64, lon_deg: f64) -> Result<Option<(f64, String)>, TerrainError> {
        self.terrain.as_ref().map(|t| t.site_elevation(lat_deg, lon_deg)).transpose()
    }
}

impl Skyline {
    /// The skyline of a place over an elevation model.
    ///
    /// # Errors
    /// [`SkylineGap::Terrain`] when the place itself has no height, or a file cannot be read.
    pub fn from_terrain(
        terrain: &Terrain,
        lat_deg: f64,
        lon_deg: f64,
        track: &SunTrack,
        options: &RayOptions,
    ) -> Result<Skyline, SkylineGap> {
        let search = HorizonSearch::new(terrain, *options);
        let eye = search.viewpoint(lat_deg, lon_deg)?;
        let azimuths = azimuths(track);
        // Kept one by one, so that the first fault in order is told, whichever thread is first.
        let rays: Vec<Result<Ray, TerrainError>> = azimuths.par_iter().map(|&a| eye.ray(a)).collect();
        let rays = rays.into_iter().collect::<Result<Vec<Ray>, TerrainError>>()?;
        let profile: Vec<SkylinePoint> = rays
            .iter()
            .map(|r| SkylinePoint {
                azimuth_deg: r.azimuth_deg,
                altitude_deg: r.altitude_deg,
                distance_km: Some(r.distance_km),
            })
            .collect();
        let options = search.options();
        let notes = vec![
            format!(
                "Skyline of the bare ground from {:.1} m above it, looked for out to {:.0} km, Earth curved, terrestrial refraction \
                 {}; trees and buildings are not in it.",
                options.eye_height_m, options.farthest_km, options.refraction_coefficient
            ),
            "Refraction near the horizon scatters by several arcminutes.".to_owned(),
        ];
        let mut skyline = Skyline::over(profile, track, terrain.source().to_owned(), notes);
        skyline.ground_m = Some(eye.ground_m());
        let nearest = in_totality(track)
            .filter_map(|p| skyline.at(p.azimuth_deg))
            .filter_map(|s| s.distance_km)
            .fold(f64::INFINITY, f64::min);
        if nearest.is_finite() && nearest > 0.0 {
            skyline.margin_sigma_deg = Some((HEIGHT_SIGMA_M / (nearest * 1000.0)).atan().to_degrees());
        }
        skyline.warn_of_margins();
        skyline.warn_of_unseen(&eye, &rays, track);
        Ok(skyline)
    }

    /// The surveyed skyline of a site; without a name, that of a file with one site.
    ///
    /// # Errors
    /// [`SkylineGap::NotSurveyed`], [`SkylineGap::Unsurveyed`].
    pub fn from_survey(survey: &HorizonSurvey, name: Option<&str>, track: &SunTrack) -> Result<Skyline, SkylineGap> {
        let Some(horizon) = survey.of(name) else {
            let known: Vec<&str> = survey.names().take(20).collect();
            return Err(SkylineGap::NotSurveyed {
                file: survey.file().to_owned(),
                wanted: name.map_or_else(|| "a site without a name".to_owned(), |n| format!("{n:?}")),
                known: known.join(", "),
            });
        };
        let profile = surveyed(horizon, track).map_err(|azimuth_deg| {
            let (from, to) = track.azimuths_deg();
            SkylineGap::Unsurveyed {
                file: survey.file().to_owned(),
                site: horizon.name.clone(),
                azimuth_deg,
                from_deg: from.rem_euclid(360.0),
                to_deg: to.rem_euclid(360.0),
            }
        })?;
        let file = std::path::Path::new(survey.file()).file_name().map(|n| n.to_string_lossy().into_owned());
        let source = format!("surveyed horizon of {} in {}", horizon.name, file.unwrap_or_default());
        let notes = vec!["Skyline as surveyed, straight between the points.".to_owned()];
        let mut skyline = Skyline::over(profile, track, source, notes);
        skyline.warn_of_margins();
        Ok(skyline)
    }

    /// Margins over a profile whose azimuths follow the track without a jump.
    fn over(profile: Vec<SkylinePoint>, track: &SunTrack, source: String, notes: Vec<String>) -> Skyline {
        let mut skyline = Skyline {
            margin_c2_deg: None,
            margin_max_deg: 0.0,
            margin_c3_deg: None,
            centre_margin_deg: 0.0,
            disc_margin_deg: 0.0,
            margin_sigma_deg: None,
            sun_lost: None,
            sun_gained: None,
            profile,
            ground_m: None,
            warnings: Vec::new(),
            notes,
            source,
        };
        let at = |tt: Option<Tt>| tt.map(|tt| skyline.margin_deg(track.at(tt)));
        let (c2, max, c3) = (at(track.c2), at(track.max), at(track.c3));
        let middle = track.points()[track.points().len() / 2];
        let disc =
            in_totality(track).map(|p| skyline.disc_margin_of(p, track.radius_deg)).fold(f64::INFINITY, f64::min);
        let centre = in_totality(track).map(|p| skyline.margin_deg(p)).fold(f64::INFINITY, f64::min);
        let (lost, gained) = skyline.crossings(track);
        skyline.margin_max_deg = max.unwrap_or_else(|| skyline.margin_deg(middle));
        (skyline.margin_c2_deg, skyline.margin_c3_deg) = (c2, c3);
        // Without contacts and maximum the middle of the track serves.
        let of_middle = skyline.margin_max_deg;
        skyline.centre_margin_deg = if centre.is_finite() { centre } else { of_middle };
        skyline.disc_margin_deg = if disc.is_finite() { disc } else { of_middle - track.radius_deg };
        (skyline.sun_lost, skyline.sun_gained) = (lost, gained);
        for point in &mut skyline.profile {
            point.azimuth_deg = point.azimuth_deg.rem_euclid(360.0);
        }
        skyline
    }

    /// The skyline at an azimuth of the profile, on the same turn or another.
    fn at(&self, azimuth_deg: f64) -> Option<SkylinePoint> {
        let first = self.profile.first()?;
        let step = (azimuth_deg - first.azimuth_deg).rem_euclid(360.0) / PROFILE_STEP_DEG;
        let i = (step as usize).min(self.profile.len().checked_sub(2)?);
        let (a, b) = (self.profile[i], self.profile[i + 1]);
        let t = (step - i as f64).clamp(0.0, 1.0);
        Some(SkylinePoint {
            azimuth_deg,
            altitude_deg: a.altitude_deg + (b.altitude_deg - a.altitude_deg) * t,
            distance_km: if t < 0.5 { a.distance_km } else { b.distance_km },
        })
    }

    fn margin_deg(&self, sun: SunPoint) -> f64 {
        sun.apparent_altitude_deg - self.at(sun.azimuth_deg).map_or(0.0, |s| s.altitude_deg)
    }

    fn disc_margin_of(&self, sun: SunPoint, radius_deg: f64) -> f64 {
        self.disc_margin_at(sun.azimuth_deg, sun.apparent_altitude_deg, radius_deg)
    }

    /// Least height of the lower limb of a disc over the skyline under it.
    ///
    /// # Units
    /// Degrees; altitude as seen, of the disc's centre, near the Sun's track.
    pub fn disc_margin_at(&self, azimuth_deg: f64, apparent_altitude_deg: f64, radius_deg: f64) -> f64 {
        let narrowing = apparent_altitude_deg.to_radians().cos().max(0.3);
        (-8..=8)
            .filter_map(|i| {
                let x = radius_deg * f64::from(i) / 8.0;
                let below = (radius_deg * radius_deg - x * x).max(0.0).sqrt();
                let skyline = self.at(azimuth_deg + x / narrowing)?;
                Some(apparent_altitude_deg - below - skyline.altitude_deg)
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// When the centre is first lost after being seen, and first gained after being hidden from the start.
    fn crossings(&self, track: &SunTrack) -> (Option<Tt>, Option<Tt>) {
        let margin = |tt: Tt| self.margin_deg(track.at(tt));
        let crossing = |a: Tt, b: Tt| {
            let sign = margin(a) > 0.0;
            let (mut low, mut high) = (a, b);
            for _ in 0..40 {
                let middle = low.plus((high - low) / 2.0);
                if (margin(middle) > 0.0) == sign { low = middle } else { high = middle }
            }
            high
        };
        let (mut lost, mut gained) = (None, None);
        let hidden_first = margin(track.points()[0].tt) <= 0.0;
        for pair in track.points().windows(2) {
            let (before, after) = (margin(pair[0].tt) > 0.0, margin(pair[1].tt) > 0.0);
            if before && !after && lost.is_none() {
                lost = Some(crossing(pair[0].tt, pair[1].tt));
            }
            if !before && after && gained.is_none() && hidden_first {
                gained = Some(crossing(pair[0].tt, pair[1].tt));
            }
        }
        (lost, gained)
    }

    /// The least margin of the centre in totality, degrees.
    pub fn least_margin_deg(&self) -> f64 {
        self.centre_margin_deg
    }

    /// The warning that belongs to a margin below a limit, when the Sun's disc is free all the same (`warnings` tell of a Sun
    /// that is cut or hidden).
    ///
    /// # Units
    /// Degrees; [`THIN_MARGIN_DEG`] unless set otherwise.
    pub fn thin_warning(&self, thin_margin_deg: f64) -> Option<String> {
        let least = self.least_margin_deg();
        (self.disc_margin_deg >= 0.0 && least < thin_margin_deg)
            .then(|| format!("A thin margin: the Sun's centre clears the skyline by only {least:.2}°."))
    }

    fn warn_of_margins(&mut self) {
        let least = self.least_margin_deg();
        if least < 0.0 {
            self.warnings
                .push(format!("The ground hides the Sun: its centre stands {:.2}° behind the skyline.", -least));
        } else if self.disc_margin_deg < 0.0 {
            self.warnings.push(format!("The skyline cuts the Sun's disc: its centre clears it by only {least:.2}°."));
        }
        if let Some(sigma) = self.margin_sigma_deg.filter(|s| 2.0 * s > least.abs() && least < 5.0) {
            self.warnings.push(format!(
                "The skyline is near ground: heights good to {HEIGHT_SIGMA_M:.0} m leave ±{sigma:.2}° (one sigma). Look at it on the spot."
            ));
        }
    }

    /// Says what ground without heights could do to the Sun.
    fn warn_of_unseen(&mut self, eye: &Viewpoint<'_>, rays: &[Ray], track: &SunTrack) {
        let totality: Vec<SunPoint> = in_totality(track).collect();
        for missing in [true, false] {
            // The least ground that would hide the lower limb in totality: height, azimuth, distance and tile.
            let mut worst: Option<(f64, &Ray, ray::Unseen)> = None;
            for ray in rays {
                let near = |p: &&SunPoint| {
                    (p.azimuth_deg - ray.azimuth_deg).abs() <= track.radius_deg.max(PROFILE_STEP_DEG) + 0.05
                };
                let low = totality
                    .iter()
                    .filter(near)
                    .map(|p| p.apparent_altitude_deg - track.radius_deg)
                    .fold(f64::INFINITY, f64::min);
                if low == f64::INFINITY {
                    continue;
                }
                for &unseen in ray.unseen.iter().filter(|u| u.missing == missing) {
                    let needed = eye.needed_m(ray.azimuth_deg, low, unseen.from_m, unseen.to_m);
                    if needed < HIGHEST_GROUND_M && worst.is_none_or(|w| needed < w.0) {
                        worst = Some((needed, ray, unseen));
                    }
                }
            }
            let Some((needed, ray, unseen)) = worst else { continue };
            let (from, to) = (unseen.from_m / 1000.0, unseen.to_m / 1000.0);
            let azimuth = ray.azimuth_deg.rem_euclid(360.0);
            self.warnings.push(if missing {
                format!(
                    "No terrain file from {from:.1} to {to:.0} km at azimuth {azimuth:.0}° (tile {}; open sea has none): ground above \
                     {needed:.0} m there would reach the Sun in totality.",
                    unseen.tile()
                )
            } else {
                format!(
                    "The terrain has voids from {from:.1} to {to:.1} km at azimuth {azimuth:.0}°: ground above {needed:.0} m there would \
                     reach the Sun in totality."
                )
            });
        }
    }
}

/// The least margin of the Sun's centre from second to third contact over an elevation model, as
/// [`Skyline::least_margin_deg`] has it but for where between two rays the Sun stands: only the rays that it needs are cast.
///
/// # Errors
/// [`TerrainError`] when a file cannot be read or no ground is known along a ray.
pub fn least_margin_deg(eye: &Viewpoint<'_>, track: &SunTrack) -> Result<f64, TerrainError> {
    let from = track.azimuths_deg().0 - PROFILE_MARGIN_DEG;
    let mut cast: Vec<(u32, f64)> = Vec::new();
    let mut altitude = |number: u32| -> Result<f64, TerrainError> {
        if let Some(known) = cast.iter().find(|c| c.0 == number) {
            return Ok(known.1);
        }
        let ray = eye.ray(from + f64::from(number) * PROFILE_STEP_DEG)?;
        cast.push((number, ray.altitude_deg));
        Ok(ray.altitude_deg)
    };
    let mut least = f64::INFINITY;
    for sun in in_totality(track) {
        let step = ((sun.azimuth_deg - from) / PROFILE_STEP_DEG).max(0.0);
        let (a, b) = (altitude(step as u32)?, altitude(step as u32 + 1)?);
        least = least.min(sun.apparent_altitude_deg - (a + (b - a) * step.fract()));
    }
    Ok(least)
}

/// The track's points from second to third contact, those two and maximum included; maximum alone without totality.
fn in_totality(track: &SunTrack) -> impl Iterator<Item = SunPoint> + '_ {
    let contacts = [track.c2, track.max, track.c3].into_iter().flatten().map(|tt| track.at(tt));
    let inside = track
        .points()
        .iter()
        .filter(|p| track.c2.zip(track.c3).is_some_and(|(c2, c3)| p.tt.0 > c2.0 && p.tt.0 < c3.0))
        .copied();
    contacts.chain(inside)
}

/// Azimuths of a profile, following the track without a jump; once round at most.
fn azimuths(track: &SunTrack) -> Vec<f64> {
    let (from, to) = track.azimuths_deg();
    let (from, to) = (from - PROFILE_MARGIN_DEG, to + PROFILE_MARGIN_DEG);
    let steps = ((to - from).min(360.0) / PROFILE_STEP_DEG).ceil() as u32;
    (0..=steps).map(|i| from + f64::from(i) * PROFILE_STEP_DEG).collect()
}

/// The surveyed profile along the track, or the first azimuth of the track that is not surveyed.
fn surveyed(horizon: &SurveyedHorizon, track: &SunTrack) -> Result<Vec<SkylinePoint>, f64> {
    let (from, to) = track.azimuths_deg();
    azimuths(track)
        .into_iter()
        .map(|azimuth_deg| {
            // A degree beyond the track the survey may end: its last point serves.
            let altitude = horizon.altitude_deg(azimuth_deg).or_else(|| {
                let inside = azimuth_deg.clamp(from, to);
                (inside != azimuth_deg).then(|| horizon.altitude_deg(inside)).flatten()
            });
            let altitude_deg = altitude.ok_or(azimuth_deg.rem_euclid(360.0))?;
            Ok(SkylinePoint { azimuth_deg, altitude_deg, distance_km: None })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::terrain::RasterShape;
    use chrono::NaiveDate;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::Conventions;

    const REFERENCE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/terrain/");

    /// A Sun that sinks from 4° to −1° while it goes from azimuth 280° to 290°, in 5000 s; totality in the middle.
    fn setting() -> SunTrack {
        let point = |i: u32| SunPoint {
            tt: Tt(f64::from(i) * 50.0),
            azimuth_deg: 280.0 + f64::from(i) * 0.1,
            apparent_altitude_deg: 4.0 - f64::from(i) * 0.05,
        };
        let points = (0..=100).map(point).collect();
        SunTrack::new(points, 0.26, Some(Tt(2450.0)), Some(Tt(2500.0)), Some(Tt(2550.0))).unwrap()
    }

    fn survey(text: &str) -> HorizonSurvey {
        HorizonSurvey::from_bytes("h.csv", format!("name,azimuth_deg,altitude_deg\n{text}").into_bytes()).unwrap()
    }

    /// Reference: NumPy, SciPy and PROJ on the same real elevation sample, tests/reference/terrain.
    #[test]
    fn a_real_terrain_agrees_with_numpy() {
        let terrain = Terrain::open(Path::new(&format!("{REFERENCE}jacksboro.tif"))).unwrap();
        let search = HorizonSearch::new(&terrain, RayOptions::default());
        let mut reader = csv::Reader::from_path(format!("{REFERENCE}jacksboro-skyline.csv")).unwrap();
        let (mut rows, mut worst, mut sum) = (0, 0.0_f64, 0.0);
        for row in reader.records() {
            let row = row.unwrap();
            let number = |i: usize| row[i].parse::<f64>().unwrap();
            let eye = search.viewpoint(number(0), number(1)).unwrap();
            assert!((eye.ground_m() - number(3)).abs() < 0.01, "{row:?}: {}", eye.ground_m());
            let ray = eye.ray(number(2)).unwrap();
            // The program reads half a sample beyond the outermost, SciPy does not: leave out skylines at the very edge.
            if number(5) > number(6) - 100.0 {
                continue;
            }
            let error = (ray.altitude_deg - number(4)).abs();
            worst = worst.max(error);
            sum += error;
            rows += 1;
            // Samples metres apart miss a crest by a few decimetres of height, over the distance.
            let tolerance = 0.002 + (0.3 / (ray.distance_km * 1000.0)).to_degrees();
            assert!(error < tolerance, "{row:?}: {} at {} km", ray.altitude_deg, ray.distance_km);
            assert!(ray.unseen.iter().all(|u| u.missing && u.from_m > number(6) - 150.0));
        }
        println!("worst {worst}, mean {}", sum / f64::from(rows));
        assert!(rows >= 120, "{rows}");
    }

    #[test]
    fn integer_strips_and_float_tiles_are_the_same_ground() {
        let open = |name: &str| Terrain::open(Path::new(&format!("{REFERENCE}{name}"))).unwrap();
        let (large, small) = (open("jacksboro.tif"), open("small.tif"));
        for i in 0..200 {
            let (lat, lon) = (36.732 - f64::from(i % 14) * 0.0027, -84.413 + f64::from(i) * 0.00026);
            let (a, b) = (large.height(lat, lon).unwrap(), small.height(lat, lon).unwrap());
            assert_eq!(a, b, "{lat} {lon}");
        }
    }

    #[test]
    fn margins_and_the_moment_of_loss_follow_a_straight_skyline() {
        let level = Skyline::from_survey(&survey("A,270,1\nA,284,1\nA,296,1\n"), Some("a"), &setting()).unwrap();
        // At the middle the Sun stands at 1.5°, 0.001° a second.
        assert!((level.margin_c2_deg.unwrap() - 0.55).abs() < 1e-9);
        assert!((level.margin_max_deg - 0.5).abs() < 1e-9);
        assert!((level.margin_c3_deg.unwrap() - 0.45).abs() < 1e-9);
        assert!((level.disc_margin_deg - (0.45 - 0.26)).abs() < 1e-9);
        assert!((level.sun_lost.unwrap().0 - 3000.0).abs() < 1e-3);
        assert_eq!(level.sun_gained, None);
        assert!(level.warnings.is_empty() && level.thin_warning(0.4).is_none());
        let thin = level.thin_warning(THIN_MARGIN_DEG).unwrap();
        assert_eq!(thin, "A thin margin: the Sun's centre clears the skyline by only 0.45°.");
        assert_eq!(level.source, "surveyed horizon of A in h.csv");

        let hidden = Skyline::from_survey(&survey("A,270,3\nA,284,3\nA,296,3\n"), None, &setting()).unwrap();
        assert!(hidden.margin_max_deg < -1.4 && hidden.warnings[0].contains("The ground hides the Sun"));
        let cut = Skyline::from_survey(&survey("A,270,1.3\nA,284,1.3\nA,296,1.3\n"), None, &setting()).unwrap();
        assert!(cut.least_margin_deg() > 0.0 && cut.warnings[0].contains("cuts the Sun's disc"), "{:?}", cut.warnings);

        // A bump at the start hides the Sun, which comes out and sets at last: both moments.
        let bump = Skyline::from_survey(&survey("A,278,6\nA,281,6\nA,282,0\nA,296,0\n"), None, &setting()).unwrap();
        let gained = bump.sun_gained.unwrap().0;
        // Skyline 6 − 6 (a − 281), Sun 4 − 0.5 (a − 280): equal at a = 281.4545, 0.002° a second.
        assert!((gained - 727.27).abs() < 0.5, "{gained}");
        assert!((bump.sun_lost.unwrap().0 - 4000.0).abs() < 1e-3);
        assert!(bump.profile.iter().all(|p| (0.0..360.0).contains(&p.azimuth_deg)));
    }

    #[test]
    fn a_survey_must_have_the_site_and_the_suns_azimuths() {
        let other = Skyline::from_survey(&survey("A,270,1\nA,284,1\n"), Some("B"), &setting()).unwrap_err();
        assert_eq!(other.to_string(), "h.csv has no horizon of \"B\" (it has: A)");
        let short = Skyline::from_survey(&survey("A,270,1\nA,285,1\n"), Some("A"), &setting()).unwrap_err();
        let text = short.to_string();
        assert!(text.starts_with("h.csv: the horizon of A is not surveyed at azimuth 285.1"), "{text}");
        assert!(text.ends_with("add points no more than 15° apart from 280° to 290°"), "{text}");
    }

    #[test]
    fn the_discs_lower_limb_meets_a_peak_beside_the_centre() {
        // A narrow peak 0.2° to the right of the Sun at maximum cuts the disc although the centre is free.
        let text = "A,270,0\nA,284,0\nA,285.15,0\nA,285.2,1.4\nA,285.25,0\nA,296,0\n";
        let skyline = Skyline::from_survey(&survey(text), None, &setting()).unwrap();
        assert!(skyline.margin_max_deg > 1.4 && skyline.disc_margin_deg < 0.1, "{skyline:?}");
    }

    #[test]
    fn a_spire_between_the_contacts_counts() {
        // Totality from 284.8° to 285.2° with a track point at 284.9°: a needle there hides the centre for an instant only.
        let point = |i: u32| SunPoint {
            tt: Tt(f64::from(i) * 50.0),
            azimuth_deg: 284.0 + f64::from(i) * 0.1,
            apparent_altitude_deg: 1.5,
        };
        let track =
            SunTrack::new((0..=20).map(point).collect(), 0.26, Some(Tt(400.0)), Some(Tt(500.0)), Some(Tt(600.0)))
                .unwrap();
        let text = "A,275,0\nA,284.85,0\nA,284.9,2\nA,284.95,0\nA,296,0\n";
        let skyline = Skyline::from_survey(&survey(text), None, &track).unwrap();
        assert!(
            skyline.margin_c2_deg.unwrap() > 1.4
                && skyline.margin_max_deg > 1.4
                && skyline.margin_c3_deg.unwrap() > 1.4
        );
        assert!((skyline.least_margin_deg() + 0.5).abs() < 1e-6, "{skyline:?}");
        assert!(skyline.warnings[0].contains("The ground hides the Sun"));
    }

    fn made(height: impl Fn(f64, f64) -> f32) -> Terrain {
        const STEP: f64 = 1.0 / 1200.0;
        let shape = RasterShape {
            west_deg: 170.0,
            north_deg: -44.0,
            lon_step_deg: STEP,
            lat_step_deg: STEP,
            columns: 1201,
            rows: 601,
        };
        let at = |i: u32| height(-44.0 - f64::from(i / 1201) * STEP, 170.0 + f64::from(i % 1201) * STEP);
        Terrain::from_grid("made", shape, (0..1201 * 601).map(at).collect()).unwrap()
    }

    #[test]
    fn a_terrain_skyline_knows_its_height_its_doubt_and_what_it_could_not_see() {
        let terrain = made(|_, lon| if (170.40..170.42).contains(&lon) { 900.0 } else { 400.0 });
        let skyline = Skyline::from_terrain(&terrain, -44.25, 170.8, &setting(), &RayOptions::default()).unwrap();
        assert_eq!(skyline.ground_m, Some(400.0));
        // A wall 500 m high 30 km to the west: 0.96° less the curvature, 0.12°; skew by the azimuth.
        assert!((skyline.margin_max_deg - (1.5 - 0.79)).abs() < 0.05, "{skyline:?}");
        assert!(skyline.sun_lost.is_some());
        let sigma = skyline.margin_sigma_deg.unwrap();
        assert!((sigma - (6.0_f64 / 31_000.0).to_degrees()).abs() < 0.001, "{sigma}");
        let text = skyline.warnings.join("\n");
        assert!(text.contains("No terrain file from 6") && text.contains("tile S45E169"), "{text}");
        assert_eq!(skyline.source, "terrain file made");
        // With the Sun high, ground that is not known cannot matter.
        let high = SunTrack::new(
            setting().points().iter().map(|p| SunPoint { apparent_altitude_deg: 50.0, ..*p }).collect(),
            0.26,
            Some(Tt(2450.0)),
            Some(Tt(2500.0)),
            Some(Tt(2550.0)),
        );
        let skyline = Skyline::from_terrain(&terrain, -44.25, 170.8, &high.unwrap(), &RayOptions::default()).unwrap();
        assert!(skyline.warnings.is_empty(), "{:?}", skyline.warnings);
        assert_eq!(skyline.sun_lost, None);
    }

    #[test]
    fn near_ground_is_doubtful_and_a_void_is_named() {
        let terrain = made(|_, lon| match lon {
            l if (170.795..170.797).contains(&l) => 410.0,
            l if (170.70..170.72).contains(&l) => f32::NAN,
            _ => 400.0,
        });
        let skyline = Skyline::from_terrain(&terrain, -44.25, 170.8, &setting(), &RayOptions::default()).unwrap();
        let text = skyline.warnings.join("\n");
        assert!(text.contains("Look at it on the spot") && text.contains("The terrain has voids from 6."), "{text}");
        let gap = Skyline::from_terrain(&terrain, -44.25, 170.71, &setting(), &RayOptions::default()).unwrap_err();
        assert_eq!(gap.to_string(), "the terrain has a void at 44.2500° S 170.7100° E");
        let gap = Skyline::from_terrain(&terrain, -50.0, 170.71, &setting(), &RayOptions::default()).unwrap_err();
        assert!(gap.to_string().contains("an SRTM tile would be S50E170.hgt"), "{gap}");
    }

    /// The eclipse of 22 July 2028 in the south of New Zealand: the survey speaks first, then the model, else a reason.
    #[test]
    fn a_site_uses_its_survey_then_the_terrain() {
        let date = NaiveDate::from_ymd_opt(2028, 7, 22).unwrap();
        let eclipse = Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).unwrap();
        let site = Site::new(-44.9, 168.6, 300.0).unwrap();
        let local = eclipse.local(&site);
        let track = SunTrack::of(&eclipse, &site, &local).unwrap();
        // The track's places agree with the contacts' own.
        let max = local.max.unwrap();
        let sun = track.at(max.tt);
        assert!((sun.azimuth_deg.rem_euclid(360.0) - max.sun_azimuth_deg).abs() < 1e-3);
        assert!((sun.apparent_altitude_deg - max.sun_apparent_altitude_deg).abs() < 1e-3);
        let (from, to) = track.azimuths_deg();
        let mut text = String::new();
        for i in 0..=((to - from) / 10.0) as u32 + 2 {
            text += &format!("Hut,{},1\n", (from - 5.0 + f64::from(i) * 10.0).rem_euclid(360.0));
        }
        let both = |name: Option<&str>, terrain: Option<Terrain>| {
            let horizons = Horizons { terrain, survey: Some(survey(&text)), options: RayOptions::default() };
            horizons.skyline(&eclipse, &site, &local, name)
        };
        let surveyed = both(Some("Hut"), Some(made(|_, _| 0.0))).unwrap().unwrap();
        assert!(surveyed.source.contains("surveyed horizon of Hut"));
        assert!((surveyed.margin_max_deg - (max.sun_apparent_altitude_deg - 1.0)).abs() < 1e-3);
        assert!(matches!(both(Some("Other"), None), Err(SkylineGap::NotSurveyed { .. })));
        let elsewhere = both(Some("Other"), Some(made(|_, _| 0.0)));
        assert!(matches!(elsewhere, Err(SkylineGap::Terrain(TerrainError::Missing { .. }))));
        assert_eq!(Horizons::default().skyline(&eclipse, &site, &local, None), Ok(None));
        assert!(Horizons::default().is_empty() && Horizons::default().site_elevation(0.0, 0.0) == Ok(None));
        let faults = Horizons::open(Some(Path::new("no-such-folder")), Some(Path::new("no-such-file"))).unwrap_err();
        assert_eq!(faults.0.len(), 2);
    }

    #[test]
    fn any_number_of_threads_finds_the_same_skyline() {
        let terrain = Terrain::open(Path::new(&format!("{REFERENCE}jacksboro.tif"))).unwrap();
        let with = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| Skyline::from_terrain(&terrain, 36.6, -84.25, &setting(), &RayOptions::default()).unwrap())
        };
        assert_eq!(with(1), with(4));
    }

    #[test]
    fn azimuths_run_on_through_north() {
        let point = |i: u32| SunPoint {
            tt: Tt(f64::from(i)),
            azimuth_deg: (5.0 - f64::from(i)).rem_euclid(360.0),
            apparent_altitude_deg: 10.0,
        };
        let track = SunTrack::new((0..=10).map(point).collect(), 0.26, None, Some(Tt(5.0)), None).unwrap();
        assert_eq!(track.azimuths_deg(), (-5.0, 5.0));
        assert!((track.at(Tt(7.5)).azimuth_deg + 2.5).abs() < 1e-12);
        let skyline = Skyline::from_survey(&survey("A,350,2\nA,1,4\nA,12,1\n"), None, &track).unwrap();
        assert!((skyline.margin_max_deg - (10.0 - (2.0 + 2.0 * 10.0 / 11.0))).abs() < 1e-9, "{skyline:?}");
        assert_eq!((skyline.margin_c2_deg, skyline.sun_lost), (None, None));
        assert!(SunTrack::new(vec![point(0)], 0.26, None, None, None).is_none());
        assert!(
            SunTrack::new(vec![point(0), SunPoint { azimuth_deg: f64::NAN, ..point(1) }], 0.26, None, None, None)
                .is_none()
        );
    }
}
