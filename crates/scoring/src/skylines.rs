//! The terrain and the surveyed horizons of a plan, asked site by site.

use noonfall_shadow::{Eclipse, LocalCircumstances, Site};

use crate::fault::Faults;
use crate::input::horizon::HorizonSurvey;
use crate::input::terrain::Terrain;
use crate::outlook::skyline::{RayOptions, Skyline, SkylineGap, SunTrack};
use crate::plan::Plan;

/// What hides the Sun, as the plan names it. A survey of a site is preferred to the terrain.
pub struct Skylines {
    terrain: Option<Terrain>,
    survey: Option<HorizonSurvey>,
    rays: RayOptions,
    /// Margin below which a site is warned about, degrees.
    pub thin_margin_deg: f64,
}

impl Skylines {
    /// Reads the terrain and the survey of a plan.
    ///
    /// # Errors
    /// Every fault of the files.
    pub fn read(plan: &Plan) -> Result<Skylines, Faults> {
        let keys = &plan.terrain;
        let mut faults = Faults::default();
        let mut keep = |found: Faults| faults.0.extend(found.0);
        let terrain = keys.dir.as_ref().and_then(|d| Terrain::open(&plan.resolve(d)).map_err(&mut keep).ok());
        let survey = keys.horizon.as_ref().and_then(|h| HorizonSurvey::open(&plan.resolve(h)).map_err(&mut keep).ok());
        let default = RayOptions::default();
        let rays = RayOptions {
            eye_height_m: keys.eye_height_m.unwrap_or(default.eye_height_m),
            refraction_coefficient: keys.refraction_coefficient.unwrap_or(default.refraction_coefficient),
            farthest_km: keys.farthest_km.unwrap_or(default.farthest_km),
        };
        faults.or(Skylines { terrain, survey, rays, thin_margin_deg: keys.thin_margin_deg })
    }

    /// Neither terrain nor survey.
    pub fn none() -> Skylines {
        Skylines { terrain: None, survey: None, rays: RayOptions::default(), thin_margin_deg: 0.0 }
    }

    /// Height of the ground at a place and its source, where the terrain knows it.
    pub fn elevation(&self, lat_deg: f64, lon_deg: f64) -> Option<(f64, String)> {
        self.terrain.as_ref()?.site_elevation(lat_deg, lon_deg).ok()
    }

    /// The skyline of a site: surveyed, else cast over the terrain; `None` where the plan names neither.
    ///
    /// # Errors
    /// Why what the plan names does not serve this site.
    pub fn of(
        &self,
        eclipse: &Eclipse,
        site: &Site,
        name: &str,
        local: &LocalCircumstances,
    ) -> Option<Result<Skyline, SkylineGap>> {
        let track = SunTrack::of(eclipse, site, local)?;
        let surveyed = self.survey.as_ref().map(|s| Skyline::from_survey(s, Some(name), &track));
        match (surveyed, &self.terrain) {
            (Some(Err(SkylineGap::NotSurveyed { .. })) | None, Some(terrain)) => {
                Some(Skyline::from_terrain(terrain, site.lat_deg, site.lon_deg, &track, &self.rays))
            }
            (surveyed, _) => surveyed,
        }
    }
}
