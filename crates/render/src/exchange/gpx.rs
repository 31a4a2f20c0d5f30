//! GPX 1.1: sites as waypoints, central line and limits as tracks, for a navigator.

use ::gpx::{Gpx, GpxVersion, Metadata, Track, TrackSegment, Waypoint};
use geo::Point;

use super::antimeridian::cut_line;
use super::{ExchangeError, ExportHead, ExportPath, ExportSite, site_words, xml_text};
use noonfall_ephemeris::GeoPoint;

fn track(name: &str, points: &[GeoPoint]) -> Option<Track> {
    let segments: Vec<TrackSegment> = cut_line(points)
        .into_iter()
        .map(|piece| TrackSegment {
            points: piece.into_iter().map(|[lon, lat]| Waypoint::new(Point::new(gpx_lon(lon), lat))).collect(),
        })
        .collect();
    (!segments.is_empty()).then(|| Track { name: Some(name.into()), segments, ..Track::default() })
}

/// The schema's longitudes end below 180 (`longitudeType`, maxExclusive): 180 is written as its nearest neighbour, a centimetre away.
fn gpx_lon(lon: f64) -> f64 {
    if lon >= 180.0 { 179.999_999_9 } else { lon }
}

fn waypoint(site: &ExportSite) -> Option<Waypoint> {
    if !(site.lat_deg.is_finite() && site.lon_deg.is_finite()) {
        return None;
    }
    let mut point = Waypoint::new(Point::new(gpx_lon(site.lon_deg), site.lat_deg));
    point.elevation = site.elevation_m.filter(|metres| metres.is_finite());
    point.name = Some(xml_text(&site.name));
    point.description = Some(xml_text(&site_words(site)));
    point.type_ = Some(if site.rejected.is_empty() { "candidate".into() } else { "rejected candidate".into() });
    Some(point)
}

/// Sites and lines as one GPX document.
/// # Errors
/// [`ExchangeError`], if the writer refuses.
pub fn document(head: &ExportHead, path: &ExportPath, sites: &[ExportSite]) -> Result<String, ExchangeError> {
    let gpx = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some("noonfall".into()),
        metadata: Some(Metadata {
            name: Some(head.title()),
            description: Some(xml_text(&head.notes())),
            ..Metadata::default()
        }),
        waypoints: sites.iter().filter_map(waypoint).collect(),
        tracks: [
            ("Central line", &path.central_line),
            ("Northern limit", &path.north_limit),
            ("Southern limit", &path.south_limit),
        ]
        .into_iter()
        .filter_map(|(name, points)| track(name, points))
        .collect(),
        routes: Vec::new(),
    };
    let mut bytes = Vec::new();
    ::gpx::write(&gpx, &mut bytes).map_err(|error| ExchangeError::refused("GPX", error))?;
    bytes.push(b'\n');
    String::from_utf8(bytes).map_err(|error| ExchangeError::refused("GPX", error))
}
