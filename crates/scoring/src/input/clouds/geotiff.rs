//! Cloud on GeoTIFF grids: a month a file, or twelve bands of twelve months; scale, offset and no-data respected.
//!
//! # Source
//! OGC 19-008 GeoTIFF 1.1; GDAL's tags 42112 (metadata: scale, offset, unittype, description of a band) and 42113 (no data).

use std::io::{BufReader, Read, Seek};

use tiff::ColorType;
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;

use super::netcdf_variables::full_of;
use super::pictures::{Picture, month_in, no_month};
use crate::fault::Fault;
use crate::input::terrain::georeference::{shape, system};

/// Most cells of a band.
const MOST_CELLS: u64 = 40_000_000;
/// Largest piece that is unpacked at once.
const LARGEST: usize = 256 << 20;
const GIVE: &str = "give a north-up GeoTIFF in EPSG:4326 with one band a month";

/// Reads a file's bands.
///
/// # Errors
/// One fault.
pub(super) fn read<R: Read + Seek>(file: &str, input: R, bytes: u64) -> Result<Vec<Picture>, Fault> {
    read_tiff(file, input, bytes).map_err(|(wrong, right)| Fault::of_file(file, wrong, right))
}

/// What GDAL's metadata says of one band.
#[derive(Clone, Debug, Default, PartialEq)]
struct Band {
    scale: Option<f64>,
    offset: Option<f64>,
    unit: Option<String>,
    description: Option<String>,
}

fn read_tiff<R: Read + Seek>(file: &str, input: R, bytes: u64) -> Result<Vec<Picture>, (String, String)> {
    let unreadable = |e: tiff::TiffError| (format!("is not a readable GeoTIFF ({e})"), GIVE.to_owned());
    let mut limits = Limits::default();
    limits.decoding_buffer_size = LARGEST;
    limits.intermediate_buffer_size = LARGEST;
    limits.ifd_value_size = 16 << 20;
    let mut decoder = Decoder::new(BufReader::new(input)).map_err(unreadable)?.with_limits(limits);
    let (columns, rows) = decoder.dimensions().map_err(unreadable)?;
    let bands = match decoder.colortype().map_err(unreadable)? {
        ColorType::Gray(_) => 1,
        ColorType::Multiband { num_samples, .. } => usize::from(num_samples),
        other => return Err((format!("its samples are colours ({other:?}), not figures"), GIVE.to_owned())),
    };
    let cells = u64::from(columns) * u64::from(rows);
    if cells == 0 || cells > MOST_CELLS || cells.saturating_mul(bands as u64) > 4 * MOST_CELLS {
        return Err((format!("has {columns} × {rows} cells and {bands} bands"), "cut it to the path first".to_owned()));
    }
    // What deflate cannot do: a thousandfold and more of what the file holds.
    if cells.saturating_mul(bands as u64) / 4096 > bytes {
        return Err(("is shorter than its cells need".to_owned(), "fetch the file again".to_owned()));
    }
    let pixel_is_point = system(&mut decoder)?;
    let shape = shape(&mut decoder, columns, rows, pixel_is_point).ok_or_else(|| {
        let right = "give a north-up GeoTIFF with pixel scale and tie point";
        ("has no usable georeference".to_owned(), right.to_owned())
    })?;
    if let Some(wrong) = shape.fault() {
        return Err((wrong, GIVE.to_owned()));
    }
    let mut text = |tag: Tag| decoder.find_tag(tag).ok().flatten().and_then(|v| v.into_string().ok());
    let no_data = text(Tag::GdalNodata)
        .and_then(|t| t.trim_matches(|c: char| c.is_whitespace() || c == '\0').parse::<f64>().ok());
    let metadata = text(Tag::Unknown(42112)).unwrap_or_default();
    let description = text(Tag::ImageDescription).unwrap_or_default();
    let about = band_metadata(&metadata, bands);
    let invented =
        [metadata.as_str(), description.as_str()].iter().any(|t| t.to_ascii_lowercase().contains("invented"));
    let kind_by = [metadata.as_str(), description.as_str()]
        .iter()
        .any(|t| t.to_ascii_lowercase().contains("cloud_area_fraction"))
        .then(|| "the CF standard name cloud_area_fraction, a share of horizontal area".to_owned());
    // Which month is which band.
    let of_name = month_in(file);
    let described: Vec<Option<(Option<i32>, u32)>> =
        about.iter().map(|b| b.description.as_deref().and_then(|d| month_in(&format!("{d}.")))).collect();
    let months: Vec<(Option<i32>, u32)> = if described.iter().all(Option::is_some) {
        described.into_iter().flatten().collect()
    } else if bands == 12 {
        let year = of_name.and_then(|n| n.0);
        (1..=12).map(|m| (year, m)).collect()
    } else if bands == 1 {
        vec![of_name.ok_or_else(|| {
            let fault = no_month(file);
            (fault.wrong, fault.right)
        })?]
    } else {
        let wrong = format!("has {bands} bands, and nothing says which months they are");
        return Err((wrong, "give one band, twelve, or name the month in each band's description".to_owned()));
    };
    let mut values = vec![Vec::new(); bands];
    samples(&mut decoder, columns, rows, &mut values)?;
    let lats: Vec<f64> = (0..rows).map(|r| shape.north_deg - shape.lat_step_deg * f64::from(r)).collect();
    let lons: Vec<f64> = (0..columns).map(|c| shape.west_deg + shape.lon_step_deg * f64::from(c)).collect();
    let mut pictures = Vec::new();
    for ((raw, (year, month)), about) in values.into_iter().zip(months).zip(about) {
        let unit = match about.unit {
            None => None,
            Some(unit) => {
                let full = full_of(&unit).filter(|_| !unit.is_empty()).ok_or_else(|| {
                    (format!("its unit is {unit:?}, which is none of cloud cover"), "give a fraction or %".to_owned())
                })?;
                Some((unit, full))
            }
        };
        let (scale, offset) = (about.scale.unwrap_or(1.0), about.offset.unwrap_or(0.0));
        let figure = |v: f64| {
            let none = !v.is_finite() || no_data.is_some_and(|n| n == v || n as f32 as f64 == v);
            if none { f32::NAN } else { (v * scale + offset) as f32 }
        };
        let values = raw.into_iter().map(figure).collect();
        pictures.push(Picture {
            file: file.to_owned(),
            year,
            month,
            lats: lats.clone(),
            lons: lons.clone(),
            values,
            unit,
            invented,
            kind_by: kind_by.clone(),
        });
    }
    Ok(pictures)
}

/// All samples, band by band.
fn samples<R: Read + Seek>(
    decoder: &mut Decoder<R>,
    columns: u32,
    rows: u32,
    out: &mut [Vec<f64>],
) -> Result<(), (String, String)> {
    let broken = |e: String| (format!("cannot be decoded ({e})"), "fetch the file again".to_owned());
    let bands = out.len();
    let (width, height) = decoder.chunk_dimensions();
    if width == 0 || height == 0 || u64::from(width) * u64::from(height) * bands as u64 * 8 > LARGEST as u64 {
        return Err((
            format!("is stored in pieces of {width} × {height}"),
            "store it in tiles of 512 × 512".to_owned(),
        ));
    }
    let planar = decoder.find_tag_unsigned::<u16>(Tag::PlanarConfiguration).ok().flatten() == Some(2);
    let (across, down) = (columns.div_ceil(width), rows.div_ceil(height));
    for band in out.iter_mut() {
        *band = vec![f64::NAN; columns as usize * rows as usize];
    }
    let planes = if planar { bands } else { 1 };
    let in_piece = if planar { 1 } else { bands };
    for plane in 0..planes {
        for piece in 0..across * down {
            let index = plane as u32 * across * down + piece;
            // Planes repeat the pieces' places.
            let (data_width, data_height) = decoder.chunk_data_dimensions(piece);
            let decoded = numbers(decoder.read_chunk(index).map_err(|e| broken(e.to_string()))?).map_err(broken)?;
            if decoded.len() < data_width as usize * data_height as usize * in_piece {
                return Err(broken(format!("piece {index} is short")));
            }
            let (left, top) = (piece % across * width, piece / across * height);
            for r in 0..data_height.min(rows.saturating_sub(top)) {
                for c in 0..data_width.min(columns.saturating_sub(left)) {
                    let from = (r as usize * data_width as usize + c as usize) * in_piece;
                    let to = (top + r) as usize * columns as usize + (left + c) as usize;
                    for b in 0..in_piece {
                        out[plane + b][to] = decoded[from + b];
                    }
                }
            }
        }
    }
    Ok(())
}

fn numbers(decoded: DecodingResult) -> Result<Vec<f64>, String> {
    Ok(match decoded {
        DecodingResult::U8(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::U16(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::U32(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::I8(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::I16(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::I32(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::F32(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::F64(v) => v,
        _ => return Err("its samples are of a kind that cover is not kept in".to_owned()),
    })
}

/// GDAL's items, such as `<Item name="SCALE" sample="0" role="scale">0.01</Item>`.
fn band_metadata(xml: &str, bands: usize) -> Vec<Band> {
    let mut out = vec![Band::default(); bands];
    for item in xml.split("<Item ").skip(1) {
        let Some((head, rest)) = item.split_once('>') else { continue };
        let value = rest.split('<').next().unwrap_or_default().trim();
        let attribute = |name: &str| {
            let at = head.find(&format!("{name}=\""))? + name.len() + 2;
            head[at..].split('"').next()
        };
        let sample = attribute("sample").and_then(|s| s.parse::<usize>().ok()).unwrap_or(0);
        let Some(band) = out.get_mut(sample) else { continue };
        match attribute("role") {
            Some("scale") => band.scale = value.parse().ok(),
            Some("offset") => band.offset = value.parse().ok(),
            Some("unittype") => band.unit = Some(value.to_owned()),
            Some("description") => band.description = Some(value.to_owned()),
            _ => {}
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn metadata_of_bands_is_read() {
        let xml = "<GDALMetadata>\n  <Item name=\"SCALE\" sample=\"0\" role=\"scale\">0.01</Item>\n  \
            <Item name=\"UNITTYPE\" sample=\"1\" role=\"unittype\">%</Item>\n  <Item name=\"x\" sample=\"9\" role=\"scale\">1</Item>";
        let bands = band_metadata(xml, 2);
        assert_eq!((bands[0].scale, bands[1].unit.as_deref()), (Some(0.01), Some("%")));
    }

    #[test]
    fn what_is_no_grid_of_cloud_is_refused() {
        for bytes in [&b"II\x2a\0\x08\0\0\0"[..], b"MM\0\x2a\0\0\0\x08\0\0", b"II\x2a\0\xff\xff\xff\xff"] {
            let fault = read("c-07.tif", std::io::Cursor::new(bytes), bytes.len() as u64).unwrap_err();
            assert!(fault.wrong.contains("is not a readable GeoTIFF"), "{fault}");
        }
    }
}
