//! The sentences of the timeline, one function for each thing that happens.

use super::{Words, dial, direction};
use crate::outlook::band_drift::BandDrift;
use crate::outlook::moon_shadow::LayerPassage;
use crate::outlook::window::Window;
use crate::wording::azimuth;

/// Be set up.
pub fn ready() -> Words {
    Words::of(
        "Be ready",
        "Set up and check that every filter is whole and firmly on: on all eyes, and over the front of every instrument. \
         A sheet with small holes held over white paper is for children: they watch the paper, the Sun behind them.",
        "Be set up; every filter whole and firmly on, over the FRONT of every instrument.",
    )
}

/// First contact.
pub fn first_contact(hour: f64) -> Words {
    let place = dial(hour);
    Words::of(
        "First contact",
        format!("Through filters: the Moon takes the first bite, at {place} on the Sun's dial."),
        format!("First contact: the first bite, at {place}, through filters."),
    )
}

/// Sunrise during the eclipse.
pub fn sunrise() -> Words {
    Words::of(
        "Sunrise",
        "The eclipsed Sun comes up. Filters on from the first ray.",
        "Sunrise: filters on from the first ray.",
    )
}

/// Sunset during the eclipse.
pub fn sunset() -> Words {
    Words::of(
        "Sunset",
        "The eclipsed Sun goes down. Filters on to the last ray.",
        "Sunset: filters on to the last ray.",
    )
}

/// Half the Sun's diameter is covered.
pub fn half_covered() -> Words {
    Words::of(
        "Half the diameter covered",
        "Hold anything with small holes over white paper and watch the paper: every hole throws a small crescent. The safest \
         view for children.",
        "Half covered: small holes over white paper throw crescents; good for children.",
    )
}

/// Half the Sun's diameter is free again.
pub fn half_free() -> Words {
    Words::of("Half the diameter free", "Filters stay on to the end.", "Half free again: filters on to the end.")
}

/// Light thins, shadows sharpen; the eye patch.
pub fn thin_light(window: bool) -> Words {
    let mut detail = "Eyes on the ground: shadows sharpen along one direction, colours turn metallic.".to_owned();
    let mut short = "Eyes on the ground: light thins, shadows sharpen.".to_owned();
    if window {
        // Common practice, no source.
        detail.push_str(" Cover one eye now, so that it is used to the dark in totality.");
        short.push_str(" Cover one eye.");
    }
    Words::of("The light thins", detail, short)
}

/// Animals, wind, cold.
pub fn cooling() -> Words {
    // Common practice, no source.
    Words::of(
        "It cools",
        "Jackets on. Listen: birds settle, insects begin, the wind drops or turns.",
        "Jackets on. Listen: birds settle, insects begin, the wind drops.",
    )
}

/// A bright planet well away from the Sun.
pub fn bright_planet(body: &str, azimuth_deg: f64, altitude_deg: f64, from_sun_deg: f64) -> Words {
    // By the azimuth alone: a point of the compass, 22.5° wide, could lie nearer to the Sun.
    let towards = format!("at azimuth {}", azimuth(azimuth_deg));
    Words::of(
        format!("{body} may show"),
        format!(
            "{body} stands {towards}, {altitude_deg:.0}° high, {from_sun_deg:.0}° from the Sun. Stand where something solid \
             hides the Sun."
        ),
        format!("{body} may show {towards}, {altitude_deg:.0}° high; the Sun behind something solid."),
    )
}

/// The Moon's shadow comes up far from the Sun.
pub fn shadow_comes(azimuth_deg: f64, edge_altitude_deg: Option<f64>, layers: &[LayerPassage]) -> Words {
    let towards = direction(azimuth_deg);
    let height = match edge_altitude_deg {
        Some(high) if high >= 90.0 => " Its edge passes overhead half a minute before totality.".to_owned(),
        Some(high) if high > 0.0 => format!(" Its edge stands {high:.0}° high half a minute before totality."),
        _ => String::new(),
    };
    Words::of(
        "The Moon's shadow comes",
        format!("Turn away from the Sun: the sky low in the {towards} darkens.{height}{}", edge_on_layers(layers)),
        format!("Turn away from the Sun: the Moon's shadow comes up in the {towards}."),
    )
}

/// When the shadow's edge clears the horizon on high cloud and on haze; nothing where it shows on neither.
pub fn edge_on_layers(layers: &[LayerPassage]) -> String {
    let clears = |l: &LayerPassage| {
        let seconds = l.clears_10_deg_s?;
        let when =
            if seconds >= 1.0 { format!("{seconds:.0} s before totality") } else { "as totality begins".to_owned() };
        Some(format!("on {} ({:.0} km up) {when}", l.layer, l.height_km))
    };
    let told: Vec<String> = layers.iter().filter_map(clears).collect();
    if told.is_empty() {
        String::new()
    } else {
        format!(" Where there is haze or thin cloud, its edge stands 10° (a fist) high {}.", told.join(", "))
    }
}

/// The Moon's shadow comes from the Sun's own side: nobody is sent to look there.
pub fn shadow_comes_from_the_sun() -> Words {
    Words::of(
        "The Moon's shadow comes",
        "It comes from the Sun's own side. Turn your back to the Sun and watch the ground before you: the light goes in \
         seconds.",
        "Back to the Sun, eyes on the ground: the Moon's shadow comes from behind you.",
    )
}

/// Shadow bands before totality.
pub fn bands_before(class: &str, azimuth_deg: f64, drift: Option<&BandDrift>) -> Words {
    let along = format!("{}–{}", azimuth(azimuth_deg), azimuth(azimuth_deg + 180.0));
    Words::of(
        format!("Shadow bands: {class}"),
        format!(
            "Back to the Sun, eyes on a white sheet that faces the Sun. On level ground the bands run along {along}.{} The word orders places; no \
             outlook has been shown to beat chance.",
            drift.map(|d| format!(" {}", bands_move(d))).unwrap_or_default()
        ),
        format!("Shadow bands ({class}, unproven): back to the Sun, eyes on a white sheet."),
    )
}

/// How the bands move under the wind that was given.
pub fn bands_move(drift: &BandDrift) -> String {
    let speed = drift.speed_m_s;
    if speed < 0.05 {
        return "Under the wind given they stand nearly still: it blows along them.".to_owned();
    }
    format!("Under the wind given they move towards the {} at {speed:.1} m/s.", direction(drift.towards_deg))
}

/// What is said of the bands' motion where no wind is given.
pub const BANDS_MOVE_UNKNOWN: &str = "Their speed and direction hang on the wind, which is unknown, so they are not told (--wind, or [sky] wind in \
                                      a plan).";

/// Last thread of light.
pub fn last_light(hour: f64, window: bool) -> Words {
    let place = dial(hour);
    if window {
        // A glance at the diamond ring is common practice, no source; it is not timed here.
        Words::of(
            "Last light",
            format!(
                "Through filters: the crescent breaks into beads and one last bead, the diamond ring, at {place} on the dial. \
                 Never through optics without their front filter."
            ),
            format!("Filters on: beads, then one last bead, the diamond ring, at {place}."),
        )
    } else {
        Words::of(
            "Last light",
            format!("Through filters: only a thread of the Sun is left, at {place} on the dial. Filters stay on."),
            format!("Filters on: a thread of the Sun is left, at {place}."),
        )
    }
}

/// Second contact of a total eclipse.
pub fn totality_begins(why_none: Option<&str>) -> Words {
    match why_none {
        None => Words::of(
            "Second contact: totality begins",
            "Filters stay on until no bright edge shows and the time for OFF has come.",
            "C2, totality begins. Filters stay on a little longer.",
        ),
        Some(why) => Words::of(
            "Second contact",
            format!("{why} {}", super::window::WITHOUT_A_WINDOW),
            "C2. No time for bare eyes here: filters stay on.",
        ),
    }
}

/// Filter OFF.
pub fn filter_off(window: &Window) -> Words {
    let waits = if window.rises_late { " The Sun's whole disc must be clear of the skyline." } else { "" };
    let seconds = window.length_s();
    let order = if seconds < 60.0 {
        // Common practice, no source: what is rarest first.
        format!(
            " You have {seconds:.0} s: first the whole Sun with bare eyes, then the red edge, last the horizon round you."
        )
    } else {
        String::new()
    };
    Words::of(
        "Filter OFF",
        format!(
            "Only once bare eyes would see no bright edge: the sky decides, not the clock.{waits} Uncover the eye that is used \
             to the dark. Front filters come off binoculars last, after bare eyes have seen no bright edge.{order}"
        ),
        if seconds < 60.0 {
            format!("Filter OFF, once no bright edge shows, for {seconds:.0} s: the Sun first, then the horizon.")
        } else {
            "Filter OFF, once no bright edge shows. Uncover the dark eye; binoculars last.".to_owned()
        },
    )
}

/// The red rim on the side of the last light is covered.
pub fn rim_covered(hour: f64) -> Words {
    let place = dial(hour);
    Words::of(
        "Red rim covered",
        format!("The chromosphere at {place} on the dial is gone; prominences and corona remain."),
        format!("The red rim at {place} is gone; corona and prominences remain."),
    )
}

/// The maximum or, where the window does not hold it, the middle of the window; `corona` is the shape that the year lets expect.
pub fn maximum(held: bool, seen: &[String], corona: Option<&str>) -> Words {
    let shape = corona.map_or(String::new(), |shape| format!(", expected {shape}"));
    let sky = |seen: &[String]| match seen {
        [] => String::new(),
        _ => format!(" In the sky: {}.", seen.join(", ")),
    };
    // A line has room for the brightest two.
    Words::of(
        if held { "Middle of totality" } else { "Middle of the time without filters" },
        format!("Corona{shape}; then turn round once: a glow along the whole horizon.{}", sky(seen)),
        format!("Corona{shape}; glow all round.{}", sky(&seen[..seen.len().min(2)])),
    )
}

/// Maximum without a window.
pub fn maximum_without_window() -> Words {
    Words::of(
        "Maximum",
        "Back to the Sun: the land before you lies in deep twilight. Filters stay on.",
        "Deepest moment: back to the Sun, look at the land. Filters stay on.",
    )
}

/// The red rim appears where the Sun returns.
pub fn look_away(hour: f64, lead_s: f64, spread_s: f64, throughout: bool) -> Words {
    let place = dial(hour);
    if throughout {
        Words::of(
            "Lower all optics",
            format!(
                "Totality is so short that red shows all through it at the Moon's edge; the Sun returns at {place} on the dial. \
                 Lower binoculars now, front filters on again."
            ),
            format!("LOWER BINOCULARS, front filters on: the Sun returns at {place}."),
        )
    } else {
        Words::of(
            "Red rim returns: lower all optics",
            format!(
                "Red appears at {place} on the dial, some {lead_s:.0} s (give or take {spread_s:.0}) before the Sun: look away \
                 from every eyepiece now, front filters on again. The red is a sign, not a timer."
            ),
            format!("Red rim at {place}: LOWER BINOCULARS, front filters on."),
        )
    }
}

/// Filter ON.
pub fn filter_on(window: &Window) -> Words {
    let why = if window.sets_early {
        "On eyes and instruments, before horizon or skyline take the Sun"
    } else {
        "On eyes and instruments, before the bright edge returns"
    };
    Words::of(
        "Filter ON",
        format!("{why}; at once if any bright edge shows earlier."),
        "Filter ON, before the first bead; at once if any bright edge shows earlier.",
    )
}

/// Third contact of a total eclipse.
pub fn totality_ends(hour: f64, window: bool) -> Words {
    let place = dial(hour);
    if window {
        Words::of(
            "Third contact: totality ends",
            format!("Filters are on: the Sun returns at {place} on the dial."),
            format!("C3, totality ends: the Sun returns at {place}. Filters are on."),
        )
    } else {
        Words::of(
            "Third contact",
            format!("The Sun grows again at {place} on the dial. Filters stay on."),
            format!("C3: the Sun grows again at {place}. Filters stay on."),
        )
    }
}

/// The shadow leaves; bands again. `away_deg` is where it leaves to, given only where that is far from the Sun.
pub fn shadow_leaves(away_deg: Option<f64>, bands_deg: Option<f64>) -> Words {
    let mut detail = match away_deg {
        Some(azimuth_deg) => {
            format!("Turn away from the Sun: the shadow leaves towards the {}.", direction(azimuth_deg))
        }
        None => "Back to the Sun, eyes on the ground: the light comes back in seconds.".to_owned(),
    };
    if let Some(along) = bands_deg {
        detail.push_str(&format!(" Shadow bands once more on the sheet, along {along:.0}° on level ground."));
    }
    let short = match away_deg {
        Some(azimuth_deg) => format!("Turn away from the Sun: the shadow leaves towards {}.", direction(azimuth_deg)),
        None if bands_deg.is_none() => "Back to the Sun, eyes on the ground: the light returns.".to_owned(),
        None => "Back to the Sun: the light returns; shadow bands on the sheet once more.".to_owned(),
    };
    Words::of("The shadow leaves", detail, short)
}

/// Second contact of an annular eclipse.
pub fn ring_closes() -> Words {
    ring("Second contact: the ring closes", "The ring closes.")
}

/// Maximum of an annular eclipse.
pub fn ring_middle() -> Words {
    ring("Maximum", "Middle of the ring.")
}

/// Third contact of an annular eclipse.
pub fn ring_opens() -> Words {
    ring("Third contact: the ring opens", "The ring opens.")
}

fn ring(title: &str, short: &str) -> Words {
    Words::of(
        title,
        "Never without a filter: the ring is as dangerous as the whole Sun.",
        format!("{short} Filters stay on."),
    )
}

/// Greatest partial eclipse.
pub fn partial(obscuration: f64) -> Words {
    // Never rounded up to a whole Sun.
    let covered = ((1000.0 * obscuration).floor() / 10.0).min(99.9);
    Words::of(
        "Greatest partial eclipse",
        format!("{covered:.1} % of the Sun's disc is covered. What is left is still dangerous: filters stay on."),
        format!("Most covered, {covered:.1} %: what is left is still dangerous, filters stay on."),
    )
}

/// Fourth contact.
pub fn fourth_contact(inside_path: bool) -> Words {
    // Common practice, no source.
    let roads =
        if inside_path { " Roads fill at once after totality: those who stay until now lose little." } else { "" };
    Words::of("Fourth contact", format!("The Moon leaves the Sun.{roads}"), "Last bite: the Moon leaves the Sun.")
}

/// Said of an instant at which the Sun is down.
pub const SUN_DOWN: &str = "The Sun is below the horizon then.";
