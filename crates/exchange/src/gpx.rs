//! GPX 1.1: sites as waypoints, central line and limits as tracks, for a navigator.

use std::borrow::Borrow;
use std::fmt::Write as _;
use std::io;

use crate::antimeridian::cut_line;
use crate::export::{site_words, text, xml_text};
use crate::{ExportHead, ExportPath, ExportSite};
use noonfall_ephemeris::GeoPoint;

/// The schema's longitudes end below 180 (`longitudeType`, maxExclusive): 180 is written as its nearest neighbour, a centimetre away.
fn gpx_lon(lon: f64) -> f64 {
    if lon >= 180.0 { 179.999_999_9 } else { lon }
}

/// Text as content of an element.
fn escaped(text: &str) -> String {
    xml_text(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// An element with words in it.
fn element(out: &mut String, indent: usize, name: &str, text: &str) {
    let _ = writeln!(out, "{:indent$}<{name}>{}</{name}>", "", escaped(text));
}

fn track(out: &mut String, name: &str, points: &[GeoPoint]) {
    let pieces = cut_line(points);
    if pieces.is_empty() {
        return;
    }
    out.push_str("  <trk>\n");
    element(out, 4, "name", name);
    for piece in pieces {
        out.push_str("    <trkseg>\n");
        for [lon, lat] in piece {
            let _ = writeln!(out, "      <trkpt lat=\"{lat}\" lon=\"{}\" />", gpx_lon(lon));
        }
        out.push_str("    </trkseg>\n");
    }
    out.push_str("  </trk>\n");
}

fn waypoint(out: &mut String, site: &ExportSite) {
    if !(site.lat_deg.is_finite() && site.lon_deg.is_finite()) {
        return;
    }
    let _ = writeln!(out, "  <wpt lat=\"{}\" lon=\"{}\">", site.lat_deg, gpx_lon(site.lon_deg));
    if let Some(metres) = site.elevation_m.filter(|metres| metres.is_finite()) {
        element(out, 4, "ele", &metres.to_string());
    }
    element(out, 4, "name", &site.name);
    element(out, 4, "desc", &site_words(site));
    element(out, 4, "type", if site.rejected.is_empty() { "candidate" } else { "rejected candidate" });
    out.push_str("  </wpt>\n");
}

/// Sites and lines as one GPX document, as [`write()`] has it.
#[must_use]
pub fn document(head: &ExportHead, path: &ExportPath, sites: &[ExportSite]) -> String {
    // Memory takes what is written.
    text(|out| write(head, path, sites.iter(), out)).unwrap_or_default()
}

/// Writes sites and lines as one GPX document, site by site. The order of elements is that of the schema.
///
/// # Errors
/// What the writer says.
pub fn write(
    head: &ExportHead,
    path: &ExportPath,
    sites: impl Iterator<Item: Borrow<ExportSite>>,
    mut out: impl io::Write,
) -> io::Result<()> {
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\" creator=\"noonfall\">\n  <metadata>\n",
    );
    element(&mut text, 4, "name", &head.title());
    element(&mut text, 4, "desc", &head.notes());
    text.push_str("  </metadata>\n");
    for site in sites {
        waypoint(&mut text, site.borrow());
        out.write_all(text.as_bytes())?;
        text.clear();
    }
    for (name, points) in [
        ("Central line", &path.central_line),
        ("Northern limit", &path.north_limit),
        ("Southern limit", &path.south_limit),
    ] {
        track(&mut text, name, points);
    }
    text.push_str("</gpx>\n");
    out.write_all(text.as_bytes())
}
