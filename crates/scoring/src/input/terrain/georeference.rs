//! Where a north-up GeoTIFF in latitude and longitude lies.

use std::io::{Read, Seek};

use tiff::decoder::Decoder;
use tiff::tags::Tag;

use super::crs::{LIKE_WGS84, USER_DEFINED};
use super::raster::RasterShape;

/// Checks that a GeoTIFF of clouds is in latitude and longitude; true when samples stand at points, false when they fill areas.
pub(crate) fn system<R: Read + Seek>(decoder: &mut Decoder<R>) -> Result<bool, (String, String)> {
    const NEED: &str =
        "reproject it to EPSG:4326, WGS 84 latitude and longitude in degrees (gdalwarp -t_srs EPSG:4326 does it)";
    let directory = decoder.find_tag_unsigned_vec::<u16>(Tag::GeoKeyDirectoryTag).ok().flatten();
    let Some(directory) = directory.filter(|d| d.len() >= 4) else {
        return Err(("says nothing of its coordinate system (no GeoTIFF keys)".to_owned(), NEED.to_owned()));
    };
    let key =
        |wanted: u16| directory[4..].chunks_exact(4).find(|k| k[0] == wanted && k[1] == 0 && k[2] == 1).map(|k| k[3]);
    match key(1024) {
        Some(2) => {}
        Some(1) => {
            let which = key(3072).filter(|&e| e != USER_DEFINED).map(|e| format!(" (EPSG:{e})")).unwrap_or_default();
            return Err((format!("is in a projected coordinate system{which}"), NEED.to_owned()));
        }
        other => {
            let which = other.map_or("no model type".to_owned(), |m| format!("model type {m}"));
            return Err((format!("is not in a geographic coordinate system ({which})"), NEED.to_owned()));
        }
    }
    if let Some(epsg) = key(2048).filter(|e| *e != USER_DEFINED && !LIKE_WGS84.contains(e)) {
        return Err((format!("is in the geographic system EPSG:{epsg}, which is not WGS 84"), NEED.to_owned()));
    }
    if let Some(unit) = key(2054).filter(|&u| u != 9102 && u != USER_DEFINED) {
        return Err((format!("its angular unit is EPSG:{unit}, not the degree (EPSG:9102)"), NEED.to_owned()));
    }
    Ok(key(1025) == Some(2))
}

pub(crate) fn shape<R: Read + Seek>(
    decoder: &mut Decoder<R>,
    columns: u32,
    rows: u32,
    pixel_is_point: bool,
) -> Option<RasterShape> {
    let mut numbers = |tag: Tag| decoder.find_tag(tag).ok().flatten().and_then(|v| v.into_f64_vec().ok());
    let (corner_lon, corner_lat, lon_step_deg, lat_step_deg) =
        if let (Some(scale), Some(tie)) = (numbers(Tag::ModelPixelScaleTag), numbers(Tag::ModelTiepointTag)) {
            let (&[i, j, _, x, y, _], &[sx, sy, ..]) = (tie.get(..6)?, scale.as_slice()) else { return None };
            (x - i * sx, y + j * sy, sx, sy)
        } else {
            let m = numbers(Tag::ModelTransformationTag).filter(|m| m.len() == 16)?;
            // North up: no turn between rows and longitude or columns and latitude.
            if m[1] != 0.0 || m[4] != 0.0 {
                return None;
            }
            (m[3], m[7], m[0], -m[5])
        };
    let half = if pixel_is_point { 0.0 } else { 0.5 };
    Some(RasterShape {
        west_deg: corner_lon + half * lon_step_deg,
        north_deg: corner_lat - half * lat_step_deg,
        lon_step_deg,
        lat_step_deg,
        columns,
        rows,
    })
}
