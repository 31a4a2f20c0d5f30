//! What a place offers besides the timeline, as `at` tells it line by line and as the report page's facts.

use chrono_tz::Tz;
use noonfall_scoring::outlook::offer::Offer;
use noonfall_scoring::outlook::words::{dial, timeline};
use noonfall_shadow::geodesy::compass_point;

use crate::numbers::{Rounding, azimuth, to_second};

/// What there is to see at a place, a sentence a line.
pub fn lines(offer: &Offer, zone: Tz, line: &mut impl FnMut(String)) {
    for entry in &offer.timeline {
        let clock = to_second(entry.instant.to_utc(), Rounding::Nearest).with_timezone(&zone).format("%H:%M:%S");
        line(format!("{clock}  {:<12} {}: {}", entry.filter.word(), entry.title, entry.detail));
    }
    let window = offer.filters.as_ref().is_some_and(|filters| filters.off.is_some());
    line(String::new());
    if let Some(s) = &offer.shadow {
        line(format!(
            "The Moon's shadow: {:.2} km/s over the ground, {:.0} by {:.0} km",
            s.ground_speed_km_s, s.major_axis_km, s.minor_axis_km
        ));
    }
    if let Some(b) = offer.shadow_bands.as_ref().filter(|_| window) {
        line(format!(
            "Shadow bands: {}; relative outlook {:.2} (an ordering, not a probability); bands lie along azimuth {}",
            b.class.word(),
            b.outlook,
            azimuth(b.band_azimuth_deg)
        ));
        line(format!("  {}", b.drift.as_ref().map_or(timeline::BANDS_MOVE_UNKNOWN.to_owned(), timeline::bands_move)));
        line(format!("  {}", b.held_against_reports));
    }
    if let Some(a) = &offer.air {
        let ground = if a.ground_albedo > 0.4 { "snow all about" } else { "no snow" };
        line(format!(
            "Light and bands for a clear sky with haze of optical depth {:.2}, {ground}, {:.0} m up",
            a.haze,
            a.height_km * 1000.0
        ));
    }
    if let Some(l) = &offer.totality_light {
        line(format!(
            "Light in totality: {:.1} lux ({:.1} to {:.1} under clear skies), {:.0} stops below daylight: {}",
            l.illuminance_lux, l.illuminance_low_lx, l.illuminance_high_lx, l.stops_below_daylight, l.like
        ));
    }
    if let Some(c) = &offer.corona {
        line(c.words.clone());
    }
    if let Some(t) = &offer.temperature_drop {
        let kinds: Vec<String> = t.by_place.iter().map(|p| format!("{} {} to {}", p.kind, p.low_c, p.high_c)).collect();
        line(format!("It cools, °C: {}", kinds.join("; ")));
    }
    // Without a window nobody is sent to look about the sky of totality.
    if let Some(sky) = offer.sky.as_ref().filter(|_| window) {
        let seen: Vec<String> =
            sky.iter().filter(|o| o.visible).map(|o| format!("{} ({:.1})", o.body, o.magnitude)).collect();
        line(format!(
            "In the dark sky of totality: {}",
            if seen.is_empty() { "none of the bright ones".to_owned() } else { seen.join(", ") }
        ));
    }
    if let Some(l) = offer.limb.as_ref().filter(|_| window) {
        line(format!(
            "Chromosphere: {:.0} s after C2, from {:.0} s before C3. Red rim at {}, {:.0} s before C3 (± {:.0} s): look away",
            l.chromosphere_after_c2_s,
            l.chromosphere_before_c3_s,
            dial(l.look_away_clock_hour),
            l.look_away_lead_s,
            l.look_away_spread_s
        ));
    }
    line(String::new());
}

/// One fact: what it is, how much, and what that means.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// What it is.
    pub label: &'static str,
    /// How much.
    pub value: String,
    /// What that means, or where it comes from.
    pub note: String,
}

/// What there is to see, each number with what it means.
pub fn facts(size_ratio: f64, offer: &Offer) -> Vec<Fact> {
    let mut out = Vec::new();
    let mut fact = |label: &'static str, value: String, note: String| out.push(Fact { label, value, note });
    let window = offer.filters.as_ref().is_some_and(|filters| filters.off.is_some());
    if let Some(bands) = offer.shadow_bands.as_ref().filter(|_| window) {
        fact(
            "Shadow bands",
            bands.class.word().to_owned(),
            format!(
                "relative outlook {:.2} of 1, an ordering of places and not a probability; on level ground they lie along {} before C2. {}",
                bands.outlook,
                azimuth(bands.band_azimuth_deg),
                bands.held_against_reports
            ),
        );
    }
    if let Some(shadow) = &offer.shadow {
        fact(
            "The Moon’s shadow",
            format!("{:.1} km/s over the ground", shadow.ground_speed_km_s),
            format!("{:.0} km long and {:.0} km wide on the ground", shadow.major_axis_km, shadow.minor_axis_km),
        );
        if let Some(edge) = shadow
            .edge_altitude_deg
            .iter()
            .min_by(|a, b| (a.seconds_before_c2 - 30.0).abs().total_cmp(&(b.seconds_before_c2 - 30.0).abs()))
        {
            fact(
                "Its edge in the haze",
                format!("{:.0}° high", edge.altitude_deg),
                format!(
                    "{:.0} s before C2, on a haze layer at 11 km ({:.0}° to {:.0}° for 10 to 12 km)",
                    edge.seconds_before_c2, edge.altitude_at_10_km_deg, edge.altitude_at_12_km_deg
                ),
            );
        }
    }
    if let Some(light) = &offer.totality_light {
        fact(
            "How dark it gets",
            format!("{:.1} lux", light.illuminance_lux),
            format!(
                "{:.1} to {:.1} lux under clear skies, {:.0} stops below daylight: {}; overhead {:.1} cd/m²; {}",
                light.illuminance_low_lx,
                light.illuminance_high_lx,
                light.stops_below_daylight,
                light.like,
                light.zenith_cd_m2,
                light.source
            ),
        );
    }
    if let Some(corona) = &offer.corona {
        fact(
            "Corona of the year",
            format!("flattening {:.2}", corona.flattening),
            format!("{} {}", corona.words, corona.source),
        );
    }
    // Without a window nobody is sent to look round the sky.
    if let Some(glow) = offer.horizon_glow.as_ref().filter(|_| window) {
        fact(
            "Glow on the horizon",
            format!("brightest in the {}", compass_point(glow.brightest_azimuth_deg)),
            format!(
                "{:.0} times as bright 3° up as in the {}; nearest sunlit air {:.0} km away in the {}",
                glow.contrast,
                compass_point(glow.darkest_azimuth_deg),
                glow.nearest.distance_km,
                compass_point(glow.nearest.azimuth_deg)
            ),
        );
    }
    if let Some(limb) = offer.limb.as_ref().filter(|_| window) {
        fact(
            "Red rim of the Sun",
            if limb.chromosphere_throughout {
                "throughout totality".into()
            } else {
                format!(
                    "{:.0} s after C2, {:.0} s before C3",
                    limb.chromosphere_after_c2_s, limb.chromosphere_before_c3_s
                )
            },
            format!("the chromosphere taken as {:.0} km deep; {}", limb.chromosphere_km, limb.note),
        );
    }
    if let Some(drop) = &offer.temperature_drop {
        fact(
            "It gets colder",
            format!("by {} to {} °C", drop.low_c, drop.high_c),
            format!(
                "{}; coldest some {:.0} to {:.0} min after; {}",
                drop.by_place
                    .iter()
                    .map(|p| format!("{}: {} to {} °C", p.kind, p.low_c, p.high_c))
                    .collect::<Vec<_>>()
                    .join(", "),
                drop.lag_range_min[0],
                drop.lag_range_min[1],
                drop.source
            ),
        );
    }
    fact("Moon against Sun", format!("{size_ratio:.4} times as wide"), "apparent diameters at maximum".into());
    out
}
