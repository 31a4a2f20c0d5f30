//! Lines and areas cut at the antimeridian, as RFC 7946 section 3.1.9 asks, areas wound by the right-hand rule (section 3.1.6).

use geo::orient::Direction;
use geo::{BooleanOps, BoundingRect, MapCoords, MultiPolygon, Orient, Polygon, Rect, Validation, coord, unary_union};
use noonfall_ephemeris::GeoPoint;
use noonfall_scoring::outlook::decimals::to_decimals;

/// Longitude and latitude in degrees, in the order of GeoJSON.
pub(crate) type LonLat = [f64; 2];

/// Seven decimals: a centimetre on the ground, and no noise from the last bits of a computation.
fn round(value: f64) -> f64 {
    to_decimals(value, 7)
}

pub(crate) fn lon_lat(point: &GeoPoint) -> LonLat {
    [round(point.lon_deg), round(point.lat_deg)]
}

fn is_finite(point: &GeoPoint) -> bool {
    point.lat_deg.is_finite() && point.lon_deg.is_finite()
}

/// Longitudes made continuous: each is the one nearest to its predecessor, whatever turns that takes.
fn unwrapped(points: &[GeoPoint]) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::with_capacity(points.len());
    for point in points.iter().filter(|point| is_finite(point)) {
        let lon = match out.last() {
            Some((before, _)) => before + (point.lon_deg - before + 180.0).rem_euclid(360.0) - 180.0,
            None => point.lon_deg,
        };
        out.push((lon, point.lat_deg));
    }
    out
}

/// A line as one or more pieces, none of which crosses the antimeridian. Pieces of fewer than two points are left out.
pub(crate) fn cut_line(points: &[GeoPoint]) -> Vec<Vec<LonLat>> {
    let path = unwrapped(points);
    let Some(&(first, _)) = path.first() else { return Vec::new() };
    let mut turn = ((first + 180.0) / 360.0).floor();
    if first == 180.0 {
        turn = 0.0;
    }
    let mut pieces = vec![Vec::new()];
    let mut before: Option<(f64, f64)> = None;
    for &(lon, lat) in &path {
        if let Some((lon0, lat0)) = before {
            // A step may cross at most once: consecutive longitudes differ by at most half a turn.
            let (low, high) = (-180.0 + 360.0 * turn, 180.0 + 360.0 * turn);
            let crossed = if lon > high {
                Some((high, 1.0))
            } else if lon < low {
                Some((low, -1.0))
            } else {
                None
            };
            if let Some((edge, way)) = crossed {
                let at = lat0 + (lat - lat0) * (edge - lon0) / (lon - lon0);
                if let Some(piece) = pieces.last_mut() {
                    piece.push([180.0 * way, round(at)]);
                }
                pieces.push(vec![[-180.0 * way, round(at)]]);
                turn += way;
            }
        }
        if let Some(piece) = pieces.last_mut() {
            piece.push([round(lon - 360.0 * turn), round(lat)]);
        }
        before = Some((lon, lat));
    }
    for piece in &mut pieces {
        piece.dedup();
    }
    pieces.retain(|piece| piece.len() >= 2);
    pieces
}

/// An area as one or more polygons (outer ring first, each ring closed), none of which crosses the antimeridian; outer rings run against the
/// clock. A ring that goes once round the Earth is closed over the pole on its side.
pub(crate) fn cut_ring(points: &[GeoPoint]) -> Vec<Vec<Vec<LonLat>>> {
    let mut ring = unwrapped(points);
    if ring.len() < 3 {
        return Vec::new();
    }
    // Close the ring in unwrapped longitudes, and see whether it went round a pole.
    if let (Some(&(first, first_lat)), Some(&(last, last_lat))) = (ring.first(), ring.last()) {
        let back = last + (first - last + 180.0).rem_euclid(360.0) - 180.0;
        if (back - last).abs() > 1e-12 || (first_lat - last_lat).abs() > 1e-12 {
            ring.push((back, first_lat));
        }
        if (back - first).abs() > 180.0 {
            let mean = ring.iter().map(|(_, lat)| lat).sum::<f64>() / ring.len() as f64;
            let pole = if mean < 0.0 { -90.0 } else { 90.0 };
            ring.push((back, pole));
            ring.push((first, pole));
            ring.push((first, first_lat));
        }
    }
    let whole = Polygon::new(ring.iter().map(|&(x, y)| coord! { x: x, y: y }).collect(), Vec::new());
    let Some(bounds) = whole.bounding_rect() else { return Vec::new() };
    let turns = |lon: f64| ((lon + 180.0) / 360.0).floor() as i64;
    let (first_turn, last_turn) = (turns(bounds.min().x), turns(bounds.max().x - 1e-9));
    let mut areas: Vec<Polygon> = Vec::new();
    for turn in first_turn..=last_turn {
        let shift = 360.0 * turn as f64;
        // A path pinched to nothing, where a hybrid eclipse changes its kind near the horizon, may cross itself; the cut
        // takes it apart as well.
        let parts = if first_turn == last_turn && whole.is_valid() {
            MultiPolygon::new(vec![whole.clone()])
        } else {
            let window = Rect::new(coord! { x: -180.0 + shift, y: -90.0 }, coord! { x: 180.0 + shift, y: 90.0 });
            whole.intersection(&window.to_polygon())
        };
        areas.extend(parts.orient(Direction::Default).into_iter().map(|part| settled(&part, shift)));
    }
    let mut areas = MultiPolygon::new(areas);
    // Parts of a path that goes round a pole may lie over one another, and rounding may fold a sliver: joined until sound.
    for _ in 0..3 {
        if areas.is_valid() {
            break;
        }
        areas = unary_union(&areas).orient(Direction::Default).into_iter().map(|part| settled(&part, 0.0)).collect();
    }
    let rings = |area: &Polygon| {
        let lines = std::iter::once(area.exterior()).chain(area.interiors());
        lines.map(ring_of).filter(|ring| ring.len() >= 4).collect::<Vec<_>>()
    };
    areas.iter().map(rings).filter(|rings| !rings.is_empty()).collect()
}

/// A part moved into the range of longitudes, its corners rounded.
fn settled(part: &Polygon, shift: f64) -> Polygon {
    part.map_coords(|c| {
        coord! { x: round((c.x - shift).clamp(-180.0, 180.0)), y: round(c.y.clamp(-90.0, 90.0)) }
    })
}

fn ring_of(line: &geo::LineString) -> Vec<LonLat> {
    let mut ring: Vec<LonLat> = line.coords().map(|c| [c.x, c.y]).collect();
    ring.dedup();
    if ring.len() > 2 && ring.first() != ring.last() {
        let first = ring[0];
        ring.push(first);
    }
    ring
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(list: &[(f64, f64)]) -> Vec<GeoPoint> {
        list.iter().map(|&(lon_deg, lat_deg)| GeoPoint { lat_deg, lon_deg }).collect()
    }

    fn signed_area(ring: &[LonLat]) -> f64 {
        ring.windows(2).map(|w| w[0][0] * w[1][1] - w[1][0] * w[0][1]).sum::<f64>() / 2.0
    }

    #[test]
    fn the_example_of_rfc_7946_section_3_1_9() {
        // RFC 7946, section 3.1.9: the line from 170 E to 170 W, 45 N to 45 N, becomes two lines that meet at 180.
        let pieces = cut_line(&points(&[(170.0, 45.0), (-170.0, 45.0)]));
        assert_eq!(pieces, vec![vec![[170.0, 45.0], [180.0, 45.0]], vec![[-180.0, 45.0], [-170.0, 45.0]]]);
        // The same section: a box over the antimeridian from 40 to 50 N becomes two boxes.
        let areas = cut_ring(&points(&[(170.0, 40.0), (-170.0, 40.0), (-170.0, 50.0), (170.0, 50.0)]));
        assert_eq!(areas.len(), 2);
        for area in &areas {
            assert!((signed_area(&area[0]) - 100.0).abs() < 1e-6, "against the clock, half of 20 by 10 degrees");
            assert_eq!(area[0].first(), area[0].last());
        }
    }

    #[test]
    fn a_ring_that_crosses_itself_becomes_two_areas() {
        // A bow tie: two triangles of area 1 that meet at (1, 1).
        let areas = cut_ring(&points(&[(0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 2.0)]));
        assert_eq!(areas.len(), 2);
        for area in &areas {
            assert!((signed_area(&area[0]) - 1.0).abs() < 1e-6, "{area:?}");
        }
    }

    #[test]
    fn a_line_there_and_back_again_has_three_pieces() {
        let pieces = cut_line(&points(&[(179.0, 0.0), (-179.0, 1.0), (179.0, 2.0)]));
        assert_eq!(pieces.len(), 3);
        assert_eq!(pieces[1], vec![[-180.0, 0.5], [-179.0, 1.0], [-180.0, 1.5]]);
    }

    #[test]
    fn a_ring_away_from_the_antimeridian_keeps_its_points_and_runs_against_the_clock() {
        let areas = cut_ring(&points(&[(10.0, 0.0), (10.0, 5.0), (20.0, 5.0), (20.0, 0.0)]));
        assert_eq!(areas.len(), 1);
        assert_eq!(areas[0][0].len(), 5);
        assert!(signed_area(&areas[0][0]) > 0.0);
    }

    #[test]
    fn a_ring_round_the_pole_is_closed_over_it() {
        let ring: Vec<(f64, f64)> = (0..36).map(|i| (f64::from(i) * 10.0 - 175.0, 80.0)).collect();
        let areas = cut_ring(&points(&ring));
        let area: f64 = areas.iter().map(|area| signed_area(&area[0])).sum();
        assert!((area - 3600.0).abs() < 1e-6, "{area}");
        assert!(areas.iter().flatten().flatten().any(|p| p[1] == 90.0));
    }

    #[test]
    fn no_piece_leaves_the_map_and_broken_points_are_dropped() {
        let pieces = cut_line(&points(&[(180.0, 1.0), (-179.0, 2.0), (f64::NAN, 0.0), (-178.0, 3.0)]));
        assert!(pieces.iter().flatten().all(|p| p[0].abs() <= 180.0 && p[1].abs() <= 90.0));
        assert!(cut_ring(&points(&[(0.0, 0.0), (1.0, 1.0)])).is_empty());
        assert!(cut_line(&[]).is_empty());
    }
}
