//! Which format a file is, by its content alone.
//!
//! Signatures: NetCDF classic format specification; HDF5 File Format Specification 3.0 (the superblock may start at 0, 512,
//! 1024, …); TIFF 6.0 and BigTIFF; RFC 1952 (gzip); PKWARE APPNOTE (zip); HDF4 and GRIB from memory.

use crate::fault::Fault;
use crate::input::text::decode;

/// A format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// NetCDF, classic or NetCDF-4.
    NetCdf,
    /// TIFF.
    Tiff,
    /// A zip archive.
    Zip,
    /// gzip around something else.
    Gzip,
    /// EnergyPlus weather year.
    Epw,
    /// NOAA ISD-Lite.
    IsdLite,
    /// NOAA's table of ISD stations.
    IsdHistory,
    /// GHCN hourly.
    Ghcnh,
    /// METAR reports in a table.
    Metar,
    /// Latitudes down, longitudes across.
    Matrix,
    /// A CSV table.
    Plain,
}

/// Bytes at a file's beginning that are enough to tell.
pub const HEAD: usize = 64 * 1024;

/// Tells the format by a file's beginning.
///
/// # Errors
/// One fault for a format that is known and not read, with the way to convert it, and for what is no format at all.
pub fn recognise(file: &str, head: &[u8]) -> Result<Format, Fault> {
    let refuse = |wrong: &str, right: &str| Err(Fault::of_file(file, wrong, right));
    if head.iter().all(u8::is_ascii_whitespace) {
        return refuse("is empty", "give a cloud file");
    }
    let starts = |magic: &[u8]| head.starts_with(magic);
    if starts(b"CDF\x01") || starts(b"CDF\x02") || starts(b"CDF\x05") {
        return Ok(Format::NetCdf);
    }
    let hdf5 = |at: usize| head.get(at..).is_some_and(|h| h.starts_with(b"\x89HDF\r\n\x1a\n"));
    if [0, 512, 1024, 2048, 4096, 8192].into_iter().any(hdf5) {
        return Ok(Format::NetCdf);
    }
    if starts(b"\x0e\x03\x13\x01") {
        return refuse(
            "is HDF4 (HDF-EOS), which is not read",
            "convert it to NetCDF or GeoTIFF, for example: gdal_translate \
             'HDF4_EOS:EOS_GRID:\"FILE.hdf\":mod08:Cloud_Fraction_Mean_Mean' cloud.tif (or: h4tonccf_nc4 FILE.hdf)",
        );
    }
    if starts(b"GRIB") {
        return refuse(
            "is GRIB, which is not read",
            "ask the store for NetCDF, or convert it, for example: grib_to_netcdf -o cloud.nc FILE.grib",
        );
    }
    if starts(b"BUFR") {
        return refuse("is BUFR, which is not read", "give METAR reports as a table with a time and a report");
    }
    if starts(b"II\x2a\0") || starts(b"MM\0\x2a") || starts(b"II\x2b\0") || starts(b"MM\0\x2b") {
        return Ok(Format::Tiff);
    }
    if starts(b"PK\x03\x04") || starts(b"PK\x05\x06") {
        return Ok(Format::Zip);
    }
    if starts(&[0x1f, 0x8b]) {
        return Ok(Format::Gzip);
    }
    for (magic, what) in [(&b"%PDF"[..], "a PDF"), (b"\x89PNG", "a PNG picture"), (b"\xff\xd8\xff", "a JPEG picture")] {
        if starts(magic) {
            return refuse(&format!("is {what}"), "give the figures behind it: NetCDF, GeoTIFF, station files or CSV");
        }
    }
    let utf16 = starts(&[0xff, 0xfe]) || starts(&[0xfe, 0xff]);
    if !utf16 && head.contains(&0) {
        return refuse(
            "is binary, of no format that is read",
            "give NetCDF, GeoTIFF, a zip of these, ISD-Lite, GHCNh, METAR tables, EPW or CSV",
        );
    }
    let text = decode(head);
    Ok(text_format(text.trim_start_matches('\u{feff}')))
}

fn text_format(text: &str) -> Format {
    let mut lines = text.lines().filter(|l| !l.trim().is_empty());
    let first = lines.next().unwrap_or_default();
    if first.trim_start().to_ascii_uppercase().starts_with("LOCATION,") {
        return Format::Epw;
    }
    if super::isd_lite::is_row(first) {
        return Format::IsdLite;
    }
    let separator = ['|', '\t', ';', ','].into_iter().max_by_key(|&c| first.matches(c).count()).unwrap_or(',');
    let cells: Vec<String> = first.split(separator).map(|c| c.trim().trim_matches('"').to_ascii_lowercase()).collect();
    let has = |name: &str| cells.iter().any(|c| c == name);
    if has("usaf") && has("wban") && has("lat") {
        return Format::IsdHistory;
    }
    if separator == '|' && cells.iter().any(|c| c.starts_with("sky_cover") || c == "station_id" || c == "station") {
        return Format::Ghcnh;
    }
    if super::metar::REPORT_NAMES.iter().any(|n| has(n)) {
        return Format::Metar;
    }
    // A corner and then numbers across, or numbers alone in a long row.
    let numbers = cells.iter().filter(|c| c.parse::<f64>().is_ok()).count();
    let corner = cells.first().is_some_and(|c| c.contains("lat") && c.contains("lon"));
    if cells.len() >= 4 && numbers + 1 >= cells.len() && (corner || cells.len() >= 24) {
        return Format::Matrix;
    }
    Format::Plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formats_are_told_by_their_content() {
        let isd = b"2020 08 12 18   231   124 10152   270    36     4    -1 -9999\n";
        let mut user_block = vec![0; 512];
        user_block.extend(b"\x89HDF\r\n\x1a\n");
        for (head, format) in [
            (&b"CDF\x05\0\0"[..], Format::NetCdf),
            (b"\x89HDF\r\n\x1a\n\0", Format::NetCdf),
            (&user_block, Format::NetCdf),
            (b"II\x2a\0", Format::Tiff),
            (b"PK\x03\x04", Format::Zip),
            (b"\x1f\x8b\x08", Format::Gzip),
            (b"LOCATION,Somewhere,-", Format::Epw),
            (isd, Format::IsdLite),
            (b"\"USAF\",\"WBAN\",\"STATION NAME\",\"CTRY\",\"STATE\",\"ICAO\",\"LAT\",\"LON\"", Format::IsdHistory),
            (b"Station_ID|Station_name|Year|Month|Day|Hour|Minute|Latitude|Longitude", Format::Ghcnh),
            (b"station,valid,lat,lon,metar\n", Format::Metar),
            (b"lat/lon,-179.5,-178.5,-177.5\n89.5,0.1,0.2,0.3\n", Format::Matrix),
            (b"lat,lon,month,cloud_percent\n", Format::Plain),
            (b"\xff\xfel\0a\0t\0", Format::Plain),
        ] {
            assert_eq!(recognise("f", head).unwrap(), format, "{head:?}");
        }
    }

    #[test]
    fn what_is_not_read_says_how_to_convert_it() {
        for (head, wrong, right) in [
            (&b"\x0e\x03\x13\x01"[..], "is HDF4", "gdal_translate"),
            (b"GRIB\0\0", "is GRIB", "grib_to_netcdf"),
            (b"%PDF-1.7", "is a PDF", "the figures behind it"),
            (b"", "is empty", "give a cloud file"),
            (b"\x7fELF\0\0", "is binary", "NetCDF, GeoTIFF"),
        ] {
            let text = recognise("f.bin", head).unwrap_err().to_string();
            assert!(text.contains(wrong) && text.contains(right), "{text}");
        }
    }
}
