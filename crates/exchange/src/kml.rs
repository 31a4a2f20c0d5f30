//! KML 2.2 (OGC 07-147r2): path, lines and sites, cut at the antimeridian as readers of KML need it too.

use std::borrow::Borrow;
use std::collections::HashMap;
use std::io::{self, Write};

use ::kml::types::{
    Coord, Element, Folder, Geometry, LineString, LineStyle, LinearRing, MultiGeometry, Placemark, Point, PolyStyle,
    Polygon, Style,
};
use ::kml::{Kml, KmlWriter};

use crate::antimeridian::{LonLat, cut_line, cut_ring};
use crate::export::{site_words, text, xml_text};
use crate::{ExchangeError, ExportHead, ExportPath, ExportSite};

fn coordinates(points: &[LonLat]) -> Vec<Coord> {
    points.iter().map(|p| Coord::new(p[0], p[1], None)).collect()
}

fn line(points: &[LonLat]) -> LineString {
    LineString { coords: coordinates(points), tessellate: true, ..LineString::default() }
}

fn polygon(rings: &[Vec<LonLat>]) -> Option<Polygon> {
    let ring =
        |points: &Vec<LonLat>| LinearRing { coords: coordinates(points), tessellate: true, ..LinearRing::default() };
    let (outer, inner) = rings.split_first()?;
    // The schema holds one ring in each innerBoundaryIs, and the writer puts all in one; the path has no holes.
    Some(Polygon::new(ring(outer), inner.iter().take(1).map(ring).collect()))
}

/// One geometry as it is, several in a MultiGeometry.
fn gathered(mut geometries: Vec<Geometry>) -> Option<Geometry> {
    match geometries.len() {
        0 => None,
        1 => geometries.pop(),
        _ => Some(Geometry::MultiGeometry(MultiGeometry::new(geometries))),
    }
}

fn text_element(name: &str, content: &str) -> Element {
    Element { name: name.into(), content: Some(xml_text(content)), ..Element::default() }
}

/// A placemark; its style goes in among the children, where the schema wants it: before extended data and geometry.
fn placemark(name: &str, description: &str, style: &str, extended: Option<Element>, geometry: Geometry) -> Kml {
    let mut children = vec![text_element("styleUrl", &format!("#{style}"))];
    children.extend(extended);
    Kml::Placemark(Placemark {
        name: Some(xml_text(name)),
        description: Some(xml_text(description)),
        geometry: Some(geometry),
        children,
        ..Placemark::default()
    })
}

fn style(id: &str, line: LineStyle, poly: Option<PolyStyle>) -> Kml {
    Kml::Style(Style { id: Some(id.into()), line: Some(line), poly, ..Style::default() })
}

fn data(name: &str, value: &str) -> Element {
    Element {
        name: "Data".into(),
        attrs: HashMap::from([("name".to_owned(), name.to_owned())]),
        children: vec![text_element("value", value)],
        ..Element::default()
    }
}

fn site_placemark(site: &ExportSite) -> Option<Kml> {
    if !(site.lat_deg.is_finite() && site.lon_deg.is_finite()) {
        return None;
    }
    let mut fields = vec![
        data("phase", site.seen.word()),
        data("zone", site.zone.name()),
        data("totality_s", &format!("{:.1}", site.totality_s)),
    ];
    if let Some(rank) = site.rank {
        fields.push(data("rank", &rank.to_string()));
    }
    if let Some(score) = site.score.filter(|score| score.is_finite()) {
        fields.push(data("score", &format!("{score:.4}")));
    }
    if let Some(chance) = site.clear_sky_probability.filter(|chance| chance.is_finite()) {
        fields.push(data("clear_sky_probability", &format!("{chance:.4}")));
    }
    for contact in &site.contacts {
        fields.push(data(
            &format!("{}_utc", contact.label),
            &contact.utc.to_rfc3339_opts(chrono::SecondsFormat::Millis, true),
        ));
    }
    let local = |utc: chrono::DateTime<chrono::Utc>| {
        utc.with_timezone(&site.zone).to_rfc3339_opts(chrono::SecondsFormat::Millis, false)
    };
    if let Some(window) = site.safe_window() {
        fields.push(data("filter_off", &local(window.off_utc)));
        fields.push(data("filter_on", &local(window.on_utc)));
    }
    if let Some(why) = site.why_none() {
        fields.push(data("no_window", why));
    }
    if let Some(elevation) = site.elevation_m.filter(|metres| metres.is_finite()) {
        fields.push(data("elevation_m", &format!("{elevation:.0}")));
    }
    let extended = Element { name: "ExtendedData".into(), children: fields, ..Element::default() };
    // On the ground, whatever the reader's terrain says: heights of the site list are above the ellipsoid and stand in the data.
    let point = Point::new(site.lon_deg, site.lat_deg, None);
    Some(placemark(&site.name, &site_words(site), "site", Some(extended), Geometry::Point(point)))
}

/// Path and sites as one KML document, as [`write()`] has it.
/// # Errors
/// [`ExchangeError`], if the writer refuses (it does not for finite coordinates).
pub fn document(head: &ExportHead, path: &ExportPath, sites: &[ExportSite]) -> Result<String, ExchangeError> {
    text(|out| write(head, path, sites.iter(), out)).map_err(|error| ExchangeError::refused("KML", error))
}

/// Writes path and sites as one KML document, site by site.
/// # Errors
/// What the writer says.
pub fn write(
    head: &ExportHead,
    path: &ExportPath,
    sites: impl Iterator<Item: Borrow<ExportSite>>,
    mut out: impl Write,
) -> io::Result<()> {
    let mut elements = vec![
        Kml::Element(text_element("name", &head.title())),
        Kml::Element(text_element("description", &head.notes())),
        // Colours are alpha, blue, green, red.
        style(
            "path",
            line_style("ff4d1d6f", 1.0),
            Some(PolyStyle { color: "594d1d6f".into(), ..PolyStyle::default() }),
        ),
        style("central_line", line_style("ff2c2622", 2.0), None),
        style("limit", line_style("ff2c2622", 1.0), None),
        style("site", line_style("ff2c2622", 1.0), None),
    ];
    if !path.curves.is_empty() {
        elements.extend([
            style("penumbral_limit", line_style("ff2c2622", 1.0), None),
            style("rise_set", line_style("ff7a6a5e", 1.0), None),
            style("isoline", line_style("ff4d1d6f", 1.0), None),
            style("true_north_limit", line_style("ff2c2622", 2.0), None),
            style("true_south_limit", line_style("ff2c2622", 2.0), None),
        ]);
    }
    let mut shapes = Vec::new();
    let mut add = |name: &str, style: &str, geometry: Option<Geometry>| {
        if let Some(geometry) = geometry {
            shapes.push(placemark(name, &head.title(), style, None, geometry));
        }
    };
    let lines = |points| gathered(cut_line(points).iter().map(|piece| Geometry::LineString(line(piece))).collect());
    let areas = cut_ring(&path.polygon).iter().filter_map(|rings| polygon(rings)).map(Geometry::Polygon).collect();
    add("Path", "path", gathered(areas));
    add("Central line", "central_line", lines(&path.central_line));
    add("Northern limit", "limit", lines(&path.north_limit));
    add("Southern limit", "limit", lines(&path.south_limit));
    if !shapes.is_empty() {
        elements.push(Kml::Folder(Folder { name: Some("Path".into()), elements: shapes, ..Folder::default() }));
    }
    for (folder, roles) in [
        ("Limits at the Moon's measured edge", &["true_north_limit", "true_south_limit"][..]),
        ("Partial eclipse", &["penumbral_limit", "rise_set"]),
        ("Isolines", &["isoline"]),
    ] {
        let of_these = path.curves.iter().filter(|curve| roles.contains(&curve.role));
        let marks: Vec<Kml> = of_these
            .filter_map(|curve| {
                let pieces = curve.lines.iter().flat_map(|line| cut_line(line));
                let geometry = gathered(pieces.map(|piece| Geometry::LineString(line(&piece))).collect())?;
                Some(placemark(&curve.name, &head.title(), curve.role, None, geometry))
            })
            .collect();
        if !marks.is_empty() {
            elements.push(Kml::Folder(Folder { name: Some(folder.into()), elements: marks, ..Folder::default() }));
        }
    }
    out.write_all(
        b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document>",
    )?;
    let put = |out: &mut dyn Write, element: &Kml| KmlWriter::from_writer(out).write(element).map_err(io::Error::other);
    for element in &elements {
        put(&mut out, element)?;
    }
    let mut marks = sites.filter_map(|site| site_placemark(site.borrow())).peekable();
    if marks.peek().is_some() {
        out.write_all(b"<Folder><name>Sites</name>")?;
        for mark in marks {
            put(&mut out, &mark)?;
        }
        out.write_all(b"</Folder>")?;
    }
    out.write_all(b"</Document></kml>\n")
}

fn line_style(color: &str, width: f64) -> LineStyle {
    LineStyle { color: color.into(), width, ..LineStyle::default() }
}
