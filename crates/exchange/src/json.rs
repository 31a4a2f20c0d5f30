//! JSON with the stable keys of the commands, in their order. Keys may be added, never renamed.
//!
//! A value that does not exist is null; no number is ever infinite or not a number. Times are RFC 3339 with milliseconds; `tt` carries no
//! offset.

use chrono_tz::Tz;
use noonfall_ephemeris::angle::ARCSEC_PER_RAD;
use noonfall_ephemeris::{AU_KM, GeoPoint, Tt};
use noonfall_scoring::outlook::cloud::CloudOutlook;
use noonfall_scoring::outlook::skyline::Skyline;
use noonfall_scoring::place::Place;
use noonfall_shadow::moon_edge::{EdgeSettings, MoonHeights, TrueLimits};
use noonfall_shadow::{Contact, Eclipse, Isoline, LocalCircumstances, Outline, Path, PathPoint};
use serde_json::{Map, Value, json};

use crate::curves::{side_word, unit, value_and_utc};
use crate::values::{local, maybe, number, utc};

fn point(point: Option<GeoPoint>) -> Value {
    point.map_or(Value::Null, |p| json!({ "lat_deg": number(p.lat_deg, 7), "lon_deg": number(p.lon_deg, 7) }))
}

/// What every object about one eclipse says of ΔT and of UTC.
pub fn delta_t_fields(eclipse: &Eclipse) -> Map<String, Value> {
    let (delta_t, greatest) = (eclipse.delta_t(), eclipse.greatest());
    let mut fields = Map::new();
    fields.insert("delta_t_sigma_s".into(), number(delta_t.sigma_s, 3));
    fields.insert("delta_t_origin".into(), json!(delta_t.origin));
    fields.insert("delta_t_shift_km".into(), number(delta_t.shift_km(greatest.point.lat_deg), 3));
    fields.insert("utc_is_predicted".into(), json!(greatest.tt.utc_is_predicted()));
    fields
}

/// `list`: an array with one object for each eclipse.
pub fn listing(eclipses: &[Eclipse]) -> Value {
    Value::Array(eclipses.iter().map(listed).collect())
}

/// One object of `list`.
pub fn listed(eclipse: &Eclipse) -> Value {
    let greatest = eclipse.greatest();
    let mut object = object(json!({
        "date": eclipse.date().to_string(),
        "kind": eclipse.kind().to_string(),
        "greatest_tt": greatest.tt.rfc3339(),
        "greatest_utc": utc(greatest.tt),
        "greatest_lat_deg": number(greatest.point.lat_deg, 4),
        "greatest_lon_deg": number(greatest.point.lon_deg, 4),
        "gamma": number(greatest.gamma, 6),
        "magnitude": number(greatest.magnitude, 6),
        "central_duration_s": maybe(greatest.central_duration_s, 2),
        "path_width_km": maybe(greatest.path_width_km, 2),
        "sun_altitude_deg": number(greatest.sun_altitude_deg, 3),
        "delta_t_s": number(eclipse.delta_t().seconds, 3),
    }));
    object.extend(delta_t_fields(eclipse));
    Value::Object(object)
}

/// `trace`.
pub fn trace(eclipse: &Eclipse, path: &Path) -> Value {
    let mut head = object(json!({
        "eclipse": eclipse.date().to_string(),
        "kind": eclipse.kind().to_string(),
        "delta_t_s": number(eclipse.delta_t().seconds, 3),
        "points": path.points.iter().map(trace_point).collect::<Vec<_>>(),
    }));
    head.extend(delta_t_fields(eclipse));
    head.insert("width".into(), json!("distance across the path on the ground"));
    head.insert(
        "kind_changes".into(),
        path.changes
            .iter()
            .map(|(tt, place)| json!({ "tt": tt.rfc3339(), "utc": utc(*tt), "lat_deg": number(place.lat_deg, 7), "lon_deg": number(place.lon_deg, 7) }))
            .collect(),
    );
    Value::Object(head)
}

/// `true_limits` of `trace`: the lines beyond which no place has a moment without sunlight; empty where there is none.
pub fn true_limits(limits: &TrueLimits, heights: &MoonHeights, settings: &EdgeSettings) -> Value {
    let line = |points: &[GeoPoint]| points.iter().map(|&p| point(Some(p))).collect::<Vec<_>>();
    json!({
        "north": line(&limits.north),
        "south": line(&limits.south),
        "edge": "true",
        "source": heights.source(),
        "sun_radius_arcsec": number((settings.sun_radius_km / AU_KM).asin() * ARCSEC_PER_RAD, 3),
    })
}

/// `outline` of `trace`: first and last touch of the penumbra, limits, and the curves of sunrise and sunset.
pub fn outline(outline: &Outline) -> Value {
    let points = |points: &[(Tt, GeoPoint)]| -> Vec<Value> {
        let timed = |&(tt, place): &(Tt, GeoPoint)| json!({ "tt": tt.rfc3339(), "utc": utc(tt), "lat_deg": number(place.lat_deg, 7), "lon_deg": number(place.lon_deg, 7) });
        points.iter().map(timed).collect()
    };
    let limits =
        outline.limits.iter().map(|limit| json!({ "side": side_word(limit.side), "points": points(&limit.points) }));
    let rise_set = outline.rise_set.iter().map(|curve| {
        json!({ "event": curve.event.to_string(), "at": curve.crossing.to_string(), "points": points(&curve.points) })
    });
    json!({
        "begins_tt": outline.begins.rfc3339(),
        "begins_utc": utc(outline.begins),
        "ends_tt": outline.ends.rfc3339(),
        "ends_utc": utc(outline.ends),
        "limits": limits.collect::<Vec<_>>(),
        "rise_set": rise_set.collect::<Vec<_>>(),
    })
}

/// `isolines` of `trace`: one object for each value, with no lines where it is reached nowhere.
pub fn isolines(isolines: &[Isoline]) -> Value {
    let lines = |isoline: &Isoline| -> Vec<Vec<Value>> {
        isoline.lines.iter().map(|line| line.iter().map(|&place| point(Some(place))).collect()).collect()
    };
    let one = |isoline: &Isoline| {
        let (value, utc) = value_and_utc(isoline);
        json!({
            "quantity": isoline.quantity.name(),
            "value": value,
            "unit": unit(isoline.quantity),
            "utc": utc,
            "lines": lines(isoline),
        })
    };
    isolines.iter().map(one).collect()
}

/// One object of `trace`'s points.
pub fn trace_point(at: &PathPoint) -> Value {
    json!({
        "tt": at.tt.rfc3339(),
        "utc": utc(at.tt),
        "central": point(at.central),
        "north": point(at.north),
        "south": point(at.south),
        "width_km": maybe(at.width_km, 3),
        "duration_s": maybe(at.duration_s, 3),
        "size_ratio": number(at.size_ratio, 6),
        "sun_altitude_deg": number(at.sun_altitude_deg, 4),
        "sun_azimuth_deg": number(at.sun_azimuth_deg, 4),
        "phase": at.phase.map(|phase| phase.to_string()),
    })
}

/// `at`: the geometry; what the site will offer is added by the caller under the keys `filters`, `sky`, `shadow`, `shadow_bands`, `limb`, `light`,
/// `skyline` and `cloud`.
pub fn circumstances(eclipse: &Eclipse, place: &Place, local: &LocalCircumstances) -> Map<String, Value> {
    let (site, zone) = (&place.site, place.clock_zone());
    let mut head = object(json!({
        "eclipse": eclipse.date().to_string(),
        "kind": eclipse.kind().to_string(),
        "delta_t_s": number(eclipse.delta_t().seconds, 3),
        "site": {
            "name": place.given_name(),
            "lat_deg": number(site.lat_deg, 7),
            "lon_deg": number(site.lon_deg, 7),
            "elevation_m": number(site.elevation_m, 2),
            "zone": zone.name(),
        },
        "phase": local.phase.to_string(),
        "contacts": contacts(local, Some(zone)),
        "duration_s": number(local.duration_s, 3),
        "magnitude": number(local.magnitude, 6),
        "obscuration": number(local.obscuration, 6),
        "size_ratio": number(local.size_ratio, 6),
        "sunrise_utc": local.sunrise.map(utc),
        "sunset_utc": local.sunset.map(utc),
    }));
    head.extend(delta_t_fields(eclipse));
    head
}

/// All contacts of a place, by the clocks of its zone: of UTC where none is known.
pub fn contacts(circumstances: &LocalCircumstances, zone: Option<Tz>) -> Value {
    let LocalCircumstances { c1, c2, max, c3, c4, .. } = circumstances;
    let [c1, c2, max, c3, c4] = [c1, c2, max, c3, c4].map(|c| contact(c.as_ref(), zone));
    json!({ "C1": c1, "C2": c2, "max": max, "C3": c3, "C4": c4 })
}

fn contact(contact: Option<&Contact>, zone: Option<Tz>) -> Value {
    contact.map_or(Value::Null, |c| {
        let mut fields = clocks(c.tt, zone);
        fields.extend(object(json!({
            "sun_altitude_deg": number(c.sun_altitude_deg, 4),
            "sun_apparent_altitude_deg": number(c.sun_apparent_altitude_deg, 4),
            "sun_azimuth_deg": number(c.sun_azimuth_deg, 4),
            "position_angle_deg": number(c.position_angle_deg, 3),
            "vertex_angle_deg": number(c.vertex_angle_deg, 3),
            "above_horizon": c.above_horizon,
        })));
        Value::Object(fields)
    })
}

/// An instant by three clocks: the local one is that of UTC where no zone is known.
pub fn clocks(tt: Tt, zone: Option<Tz>) -> Map<String, Value> {
    object(json!({
        "tt": tt.rfc3339(),
        "utc": utc(tt),
        "local": zone.map_or_else(|| utc(tt), |zone| local(tt, zone)),
    }))
}

/// The figures of a cloud outlook and where they come from.
pub fn cloud(cloud: &CloudOutlook) -> Map<String, Value> {
    object(json!({
        "cloud_fraction": number(cloud.cloud_fraction, 4),
        "clear_line_of_sight": number(cloud.clear_line_of_sight, 4),
        "low_95": number(cloud.low_95, 4),
        "high_95": number(cloud.high_95, 4),
        "years": cloud.years,
        "source": cloud.source,
        "invented": cloud.invented,
    }))
}

/// The margins of the Sun above a skyline, to so many decimals.
pub fn skyline(skyline: &Skyline, decimals: i32) -> Map<String, Value> {
    object(json!({
        "margin_c2_deg": maybe(skyline.margin_c2_deg, decimals),
        "margin_max_deg": number(skyline.margin_max_deg, decimals),
        "margin_c3_deg": maybe(skyline.margin_c3_deg, decimals),
        "sun_lost_utc": skyline.sun_lost.map(utc),
        "source": skyline.source,
    }))
}

/// The fields of an object; none where the value is no object.
pub fn object(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(fields) => fields,
        _ => Map::new(),
    }
}

/// A value as text: `pretty` for a person or a file, else on one line.
pub fn to_text(value: &Value, pretty: bool) -> String {
    // Writing a value that was built in memory cannot fail; an empty text would show at once.
    let mut text =
        if pretty { serde_json::to_string_pretty(value) } else { serde_json::to_string(value) }.unwrap_or_default();
    text.push('\n');
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;
    use noonfall_ephemeris::Kernel;
    use noonfall_shadow::Conventions;

    fn eclipse() -> Eclipse {
        let date = NaiveDate::from_ymd_opt(2028, 7, 22).expect("date");
        Eclipse::on_date(Kernel::embedded(), date, None, &Conventions::default()).expect("eclipse")
    }

    fn keys(value: &Value) -> Vec<&str> {
        value.as_object().map(|fields| fields.keys().map(String::as_str).collect()).unwrap_or_default()
    }

    #[test]
    fn listed_keys_stand_in_the_contracts_order() {
        let list = listing(&[eclipse()]);
        let expected = [
            "date",
            "kind",
            "greatest_tt",
            "greatest_utc",
            "greatest_lat_deg",
            "greatest_lon_deg",
            "gamma",
            "magnitude",
            "central_duration_s",
            "path_width_km",
            "sun_altitude_deg",
            "delta_t_s",
        ];
        assert_eq!(keys(&list[0])[..expected.len()], expected);
        assert_eq!(list[0]["kind"], "total");
    }

    #[test]
    fn trace_keys_stand_in_the_contracts_order() {
        let eclipse = eclipse();
        let trace = trace(&eclipse, &eclipse.path(600.0));
        assert_eq!(keys(&trace)[..4], ["eclipse", "kind", "delta_t_s", "points"]);
        let expected = [
            "tt",
            "utc",
            "central",
            "north",
            "south",
            "width_km",
            "duration_s",
            "size_ratio",
            "sun_altitude_deg",
            "sun_azimuth_deg",
        ];
        assert_eq!(keys(&trace["points"][3])[..expected.len()], expected);
    }

    #[test]
    fn circumstances_outside_the_path_have_null_interior_contacts() {
        let eclipse = eclipse();
        let point = GeoPoint { lat_deg: -31.95, lon_deg: 115.86 };
        let place = Place::new("Perth", point, Some(0.0), Some(Tz::Australia__Perth));
        let at = Value::Object(circumstances(&eclipse, &place, &eclipse.local(&place.site)));
        assert_eq!(at["phase"], "partial");
        assert!(
            at["contacts"]["C2"].is_null()
                && at["contacts"]["C1"]["local"].as_str().is_some_and(|t| t.ends_with("+08:00"))
        );
        let expected = [
            "eclipse",
            "kind",
            "delta_t_s",
            "site",
            "phase",
            "contacts",
            "duration_s",
            "magnitude",
            "obscuration",
            "size_ratio",
        ];
        assert_eq!(keys(&at)[..expected.len()], expected);
    }

    #[test]
    fn numbers_are_never_infinite_or_negative_zero() {
        assert!(number(f64::NAN, 3).is_null() && number(f64::INFINITY, 3).is_null());
        assert_eq!(number(-1e-9, 3).to_string(), "0.0");
    }
}
