//! The table `[sky]` of a plan: haze, snow, wind.

use super::table::{Table, Walk, number, shown};
use crate::outlook::air::{Air, MOST_HAZE, SNOW_ALBEDO, haze_of};
use crate::outlook::band_drift::Wind;
use crate::outlook::offer::OfferSettings;

/// `[sky]`: what changes the light of a clear day and the shadow bands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SkyKeys {
    /// Haze and ground; each place has its own height.
    pub air: Air,
    /// Wind that moves the shadow bands, where it is given.
    pub wind: Option<Wind>,
}

impl SkyKeys {
    /// What an offer takes of it.
    pub fn offer_settings(&self) -> OfferSettings {
        OfferSettings { air: self.air, wind: self.wind, ..OfferSettings::default() }
    }
}

pub(super) fn sky(mut t: Table<'_, '_>, w: &mut Walk<'_>) -> SkyKeys {
    let mut air = Air::STANDARD;
    if let Some(item) = t.item(w, "haze") {
        let given = match (number(item.value), item.value.as_str()) {
            (Some(depth), _) => haze_of(&depth.to_string()),
            (None, Some(word)) => haze_of(word),
            _ => Err(format!("give clear, average, hazy, or an optical depth from 0 to {MOST_HAZE}")),
        };
        match given {
            Ok(haze) => air.haze = haze,
            Err(right) => w.fault(Some(item.line), t.key("haze"), format!("{} is no haze", shown(item.value)), right),
        }
    }
    if t.flag(w, "snow") == Some(true) {
        air.ground_albedo = SNOW_ALBEDO;
    }
    let line = t.item(w, "wind").map(|item| item.line);
    let wind = t.text(w, "wind", "a wind, such as \"W,5\"").and_then(|text| match text.parse::<Wind>() {
        Ok(wind) => Some(wind),
        Err(right) => {
            w.fault(line, t.key("wind"), format!("{text:?} is no wind"), right);
            None
        }
    });
    t.finish(w);
    SkyKeys { air, wind }
}
