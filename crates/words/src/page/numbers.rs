//! Numbers, directions and reasons: patterns that are the other outputs' own sentences, a named place for each figure.

use noonfall_scoring::outlook::window::NoWindow;
use noonfall_scoring::outlook::words::{reasons, window::why_none};
use noonfall_scoring::wording::month;
use noonfall_shadow::geodesy::compass_point;

use crate::contacts::meanings;
use crate::numbers::{
    at_arms_length, capital, compass_words, coordinates, duration, fists, hours, percent, percent_interval,
};
use crate::{Seen, clouds, drives, files, seen};

/// Keys and texts.
pub(super) const SAID: &[(&str, &str)] = &[
    ("dash", super::DASH),
    ("metres", "{metres} m"),
    ("day_month", "{day} {month}"),
    ("utc_time", "{time} UTC"),
    ("utc_offset", "UTC{offset}"),
    ("days_hours_minutes", "{days} d {hours} h {minutes} min"),
    ("hours_minutes_seconds", "{hours} h {minutes} min {seconds} s"),
];

/// A sentence with named places for its samples.
fn places(sentence: String, samples: &[(&str, &str)]) -> String {
    samples.iter().fold(sentence, |text, (sample, name)| text.replacen(sample, &format!("{{{name}}}"), 1))
}

/// Keys and patterns.
pub(super) fn patterns() -> Vec<(&'static str, String)> {
    let contacts = meanings(Seen::Total, true);
    vec![
        ("over_99", percent(0.9999)),
        ("under_1", percent(0.0001)),
        ("percent", places(percent(0.12), &[("12", "number")])),
        ("interval", places(percent_interval(0.12, 0.34), &[("12", "low"), ("34", "high")])),
        ("odds_interval", clouds::interval_of("{interval}")),
        ("years", clouds::years("{years}")),
        ("on_horizon", fists(0.0)),
        ("half_fist", fists(5.0)),
        ("one_fist", fists(10.0)),
        ("fists", places(fists(20.0), &[("2", "number")])),
        ("arms_length", at_arms_length("{fists}")),
        ("seconds", places(duration(12.0), &[("12", "seconds")])),
        ("minutes_seconds", places(duration(754.0), &[("12", "minutes"), ("34", "seconds")])),
        ("minutes", places(hours(0.2), &[("12", "minutes")])),
        ("hours", places(hours(12.0), &[("12", "hours")])),
        ("hours_minutes", places(hours(12.0 + 34.0 / 60.0), &[("12", "hours"), ("34", "minutes")])),
        (
            "coordinates",
            places(
                coordinates(12.3456, 98.7654),
                &[("12.3456", "lat"), ("N", "north"), ("98.7654", "lon"), ("E", "east")],
            ),
        ),
        ("over_border", drives::over_a_border("{between}")),
        ("drive", drives::on_free_roads("{drive}", "{border}")),
        ("leave_by", drives::leave_by("{time}")),
        ("at_the_latest", drives::at_the_latest("{time}")),
        ("clear_at_one", drives::clear_at_one("{chance}")),
        ("rejected_because", files::rejected(&["{reasons}".to_owned()])),
        ("depth", capital(&seen::depth_of("{magnitude}", "{percent}"))),
        ("sunrise", seen::during(seen::SUNRISE, "{time}")),
        ("sunset", seen::during(seen::SUNSET, "{time}")),
        ("c1", capital(contacts[0].1)),
        ("c3_total", capital(contacts[3].1)),
        ("c4", capital(contacts[4].1)),
        ("nothing_seen", why_none(&NoWindow::NoEclipse)),
        ("ring_stays", why_none(&NoWindow::Annular)),
        ("some_sun_shows", why_none(&NoWindow::Partial)),
        ("valleys_shine", places(why_none(&NoWindow::TrueEdge { smooth_s: 12.0 }), &[("12", "seconds")])),
        ("out_no_eclipse", reasons::NO_ECLIPSE.to_owned()),
        ("out_annular", reasons::ANNULAR.to_owned()),
        ("out_partial", reasons::partial("{magnitude}")),
        ("out_edge", reasons::edge_leaves_none("{seconds}")),
        ("out_sun_down", reasons::sun_down("{altitude}")),
        ("below_required", reasons::below("{label} {value}", "{least}", "{key}")),
        ("above_allowed", reasons::above("{label} {value}", "{most}", "{key}")),
        ("cannot_be_scored", reasons::cannot_be_scored("{criterion}", "{why}")),
    ]
}

/// Keys and lists: months from January, sixteen directions from north through east.
pub(super) fn lists() -> Vec<(&'static str, Vec<String>)> {
    let sixteenth = |k: u32| f64::from(k) * 22.5;
    vec![
        ("months", (1..=12).map(|k| month(k).to_owned()).collect()),
        ("winds", (0..16).map(|k| compass_words(sixteenth(k))).collect()),
        ("short_winds", (0..16).map(|k| compass_point(sixteenth(k)).to_string()).collect()),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_of_a_sentence_has_its_place() {
        for (key, pattern) in patterns() {
            let own = ["over_99", "under_1", "one_fist", "odds_interval", "depth", "c1", "c4", "out_edge"];
            let figures = pattern.chars().any(|c| c.is_ascii_digit());
            assert!(!figures || own.contains(&key), "{key}: {pattern}");
        }
        let of = |key: &str| patterns().into_iter().find(|(known, _)| *known == key).map(|(_, text)| text);
        for (key, pattern) in [
            ("percent", "{number} %"),
            ("interval", "{low}–{high} %"),
            ("fists", "{number} fists"),
            ("seconds", "{seconds} s"),
            ("minutes_seconds", "{minutes} min {seconds} s"),
            ("hours_minutes", "{hours} h {minutes} min"),
            ("coordinates", "{lat}° {north}, {lon}° {east}"),
            (
                "valleys_shine",
                "Sunlight shines through the Moon's valleys all the while: a smooth Moon would cover the Sun for {seconds} s, the real one does not.",
            ),
        ] {
            assert_eq!(of(key).as_deref(), Some(pattern), "{key}");
        }
    }

    #[test]
    fn directions_run_from_north_through_east() {
        let lists = lists();
        assert_eq!(lists[1].1[13], "west-north-west");
        assert_eq!(lists[2].1[13], "WNW");
        assert_eq!((lists[0].1[0].as_str(), lists[0].1[11].as_str()), ("January", "December"));
    }
}
