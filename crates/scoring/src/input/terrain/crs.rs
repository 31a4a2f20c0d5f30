//! Coordinate systems of elevation files: what their GeoTIFF keys say, and the way to latitude and longitude of WGS 84.
//!
//! # Source
//! OGC 19-008 GeoTIFF 1.1, keys 1024 to 4099 and the parameters of its projections; codes from the EPSG data set as PROJ has it
//! (`data/crs/`). The formulas are those of `proj4rs`.

use std::io::Read;

use proj4rs::Proj;
use proj4rs::transform::transform;

/// "User-defined" in a key.
pub(crate) const USER_DEFINED: u16 = 32767;
/// Geodetic systems that differ from WGS 84 by metres at most: WGS 84 (2D, 3D), ETRS89, NAD83, GDA94, GDA2020, NZGD2000.
pub(crate) const LIKE_WGS84: [u16; 7] = [4326, 4979, 4258, 4269, 4283, 7844, 4167];
const WGS84: &str = "+proj=longlat +a=6378137.0 +b=6356752.314245 +towgs84=0,0,0 +no_defs";
/// Metres of the international foot and of the US survey foot.
const FOOT_M: f64 = 0.3048;
const US_FOOT_M: f64 = 1200.0 / 3937.0;

/// The keys of a file.
#[derive(Clone, Debug, Default)]
pub(crate) struct Keys {
    directory: Vec<u16>,
    doubles: Vec<f64>,
    ascii: String,
}

impl Keys {
    pub(crate) fn new(directory: Vec<u16>, doubles: Vec<f64>, ascii: String) -> Option<Keys> {
        (directory.len() >= 4).then_some(Keys { directory, doubles, ascii })
    }

    fn entry(&self, wanted: u16) -> Option<&[u16]> {
        self.directory[4..].chunks_exact(4).find(|k| k[0] == wanted)
    }

    pub(crate) fn code(&self, wanted: u16) -> Option<u16> {
        self.entry(wanted).filter(|k| k[1] == 0 && k[2] == 1).map(|k| k[3])
    }

    fn double(&self, wanted: u16) -> Option<f64> {
        let entry = self.entry(wanted).filter(|k| k[1] == 34736)?;
        self.doubles.get(usize::from(entry[3])).copied().filter(|d| d.is_finite())
    }

    fn doubles(&self, wanted: u16) -> Option<&[f64]> {
        let entry = self.entry(wanted).filter(|k| k[1] == 34736)?;
        self.doubles.get(usize::from(entry[3])..usize::from(entry[3]) + usize::from(entry[2]))
    }

    /// A name that the file gives.
    fn text(&self, wanted: u16) -> Option<&str> {
        let entry = self.entry(wanted).filter(|k| k[1] == 34737)?;
        let from = usize::from(entry[3]);
        self.ascii.get(from..from + usize::from(entry[2])).map(|t| t.trim_end_matches(['|', '\0']))
    }
}

/// What heights count from.
#[derive(Clone, Debug, PartialEq)]
pub enum VerticalDatum {
    /// Mean sea level, by a geoid or a levelling network; its name where the file gives it.
    SeaLevel(Option<String>),
    /// The ellipsoid.
    Ellipsoid,
    /// The file does not say. Taken as mean sea level.
    Unsaid,
}

/// Unit and datum of the heights.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Vertical {
    /// Metres of a unit.
    pub(crate) unit_m: f64,
    /// Whether the file says so.
    pub(crate) unit_said: bool,
    pub(crate) datum: VerticalDatum,
}

/// A way from a file's coordinates to WGS 84 and back.
#[derive(Debug)]
pub(crate) struct Crs {
    system: Proj,
    wgs84: Proj,
    geographic: bool,
    /// What the file calls it, for messages.
    pub(crate) name: String,
    /// Metres of a horizontal unit, for projected systems.
    pub(crate) unit_m: f64,
}

/// What a file's keys come to.
#[derive(Debug)]
pub(crate) enum System {
    /// Latitude and longitude of WGS 84 or of a frame within a few metres, in degrees.
    LikeWgs84,
    /// Anything else.
    Other(Box<Crs>),
}

/// The definition of a code.
fn of_epsg(code: u16) -> Option<String> {
    let mut text = String::new();
    flate2::read::GzDecoder::new(noonfall_data::crs::EPSG).read_to_string(&mut text).ok()?;
    let wanted = format!("{code},");
    text.lines().find_map(|l| l.strip_prefix(&wanted)).map(str::to_owned)
}

/// Reads the system.
///
/// # Errors
/// What is wrong and what would be right.
pub(crate) fn system(keys: &Keys) -> Result<System, (String, String)> {
    const NEED: &str = "reproject it to latitude and longitude or UTM of WGS 84 (gdalwarp -t_srs EPSG:4326 does it)";
    let refuse = |wrong: String| (wrong, NEED.to_owned());
    match keys.code(1024) {
        Some(2) => geographic(keys).map_err(refuse),
        Some(1) => {
            let (definition, name, unit_m) = projected(keys).map_err(refuse)?;
            Crs::new(&definition, name, false, unit_m).map(|c| System::Other(Box::new(c))).map_err(refuse)
        }
        other => {
            let which = other.map_or("no model type".to_owned(), |m| format!("model type {m}"));
            Err(refuse(format!("is neither in a geographic nor in a projected coordinate system ({which})")))
        }
    }
}

/// Degrees of an angular unit.
fn degrees_of(unit: Option<u16>) -> Result<f64, String> {
    match unit {
        None | Some(9102 | 9122 | USER_DEFINED) => Ok(1.0),
        Some(9101) => Ok(1.0_f64.to_degrees()),
        Some(9103) => Ok(1.0 / 60.0),
        Some(9104) => Ok(1.0 / 3600.0),
        Some(9105 | 9106) => Ok(0.9),
        Some(other) => Err(format!("its angular unit is EPSG:{other}, which is not known")),
    }
}

fn geographic(keys: &Keys) -> Result<System, String> {
    let degrees = degrees_of(keys.code(2054))?;
    let code = keys.code(2048).filter(|&c| c != USER_DEFINED);
    if degrees == 1.0 && code.is_some_and(|c| LIKE_WGS84.contains(&c)) {
        return Ok(System::LikeWgs84);
    }
    let (datum, name) = match code {
        Some(code) => {
            let known =
                of_epsg(code).ok_or_else(|| format!("is in EPSG:{code}, for which no way to WGS 84 is known"))?;
            (known, format!("EPSG:{code}"))
        }
        // Degrees of an ellipsoid that is not named are taken on trust.
        None if degrees == 1.0 && ellipsoid(keys).is_none() => return Ok(System::LikeWgs84),
        None => (
            format!("+proj=longlat {}", datum_of(keys)?),
            keys.text(2049).or(keys.text(1026)).unwrap_or("a system of its own").to_owned(),
        ),
    };
    Ok(System::Other(Box::new(Crs { unit_m: degrees, ..Crs::new(&datum, name, true, degrees)? })))
}

/// Axes that the keys give, m.
fn ellipsoid(keys: &Keys) -> Option<(f64, f64)> {
    let a = keys.double(2057).or_else(|| match keys.code(2056)? {
        7030 => Some(6_378_137.0),
        7019 => Some(6_378_137.0),
        7022 => Some(6_378_388.0),
        7004 => Some(6_377_397.155),
        7008 => Some(6_378_206.4),
        7001 => Some(6_377_563.396),
        7024 => Some(6_378_245.0),
        _ => None,
    })?;
    let b = keys.double(2058).or_else(|| keys.double(2059).map(|f| if f == 0.0 { a } else { a * (1.0 - 1.0 / f) }));
    let b = b.or_else(|| {
        let inverse = match keys.code(2056)? {
            7030 => 298.257_223_563,
            7019 => 298.257_222_101,
            7022 => 297.0,
            7004 => 299.152_812_8,
            7008 => 294.978_698_213_898_2,
            7001 => 299.324_964_6,
            7024 => 298.3,
            _ => return None,
        };
        Some(a * (1.0 - 1.0 / inverse))
    })?;
    (a > 6.0e6 && a < 6.5e6 && b > 6.0e6 && b <= a * 1.001).then_some((a, b))
}

/// Ellipsoid and way to WGS 84 of the keys' geodetic system.
fn datum_of(keys: &Keys) -> Result<String, String> {
    if let Some(code) = keys.code(2048).filter(|&c| c != USER_DEFINED) {
        let known =
            of_epsg(code).ok_or_else(|| format!("its geodetic system EPSG:{code} has no known way to WGS 84"))?;
        let parts = known.split(' ').filter(|w| !w.starts_with("+proj") && !w.starts_with("+units"));
        return Ok(parts.collect::<Vec<_>>().join(" "));
    }
    let Some((a, b)) = ellipsoid(keys) else {
        return match keys.code(2050) {
            None | Some(6326 | 6258 | 6269 | 6283 | USER_DEFINED) => {
                Ok("+a=6378137.0 +b=6356752.314245 +towgs84=0,0,0".to_owned())
            }
            Some(datum) => Err(format!("its datum is EPSG:{datum}, for which no way to WGS 84 is known")),
        };
    };
    let shift = keys.doubles(2062).filter(|d| d.len() == 3 || d.len() == 7);
    let like = (a - 6_378_137.0).abs() < 0.5;
    match shift {
        Some(d) => {
            let numbers: Vec<String> = d.iter().map(f64::to_string).collect();
            Ok(format!("+a={a} +b={b} +towgs84={}", numbers.join(",")))
        }
        None if like => Ok(format!("+a={a} +b={b} +towgs84=0,0,0")),
        None => Err("its datum is not WGS 84 and it gives no way to it (key 2062)".to_owned()),
    }
}

/// Metres of a linear unit, and its name.
fn metres_of(code: Option<u16>) -> Option<(f64, &'static str)> {
    Some(match code? {
        9001 => (1.0, "metre"),
        9002 => (FOOT_M, "foot"),
        9003 => (US_FOOT_M, "US survey foot"),
        9036 => (1000.0, "kilometre"),
        _ => return None,
    })
}

/// Definition, name and metres of a unit.
fn projected(keys: &Keys) -> Result<(String, String, f64), String> {
    if let Some(code) = keys.code(3072).filter(|&c| c != USER_DEFINED) {
        let known = of_epsg(code).ok_or_else(|| {
            format!("is in EPSG:{code}, a projected system that is not known, or has no way to WGS 84")
        })?;
        let unit = known.split(' ').find_map(|w| {
            w.strip_prefix("+to_meter=").and_then(|m| m.parse().ok()).or_else(|| {
                w.strip_prefix("+units=").and_then(|u| match u {
                    "us-ft" => Some(US_FOOT_M),
                    "ft" => Some(FOOT_M),
                    "km" => Some(1000.0),
                    _ => None,
                })
            })
        });
        return Ok((known, format!("EPSG:{code}"), unit.unwrap_or(1.0)));
    }
    let name = keys.text(3073).or(keys.text(1026)).unwrap_or("a projected system of its own").to_owned();
    let unit_m = match keys.code(3076) {
        None | Some(9001) => 1.0,
        Some(USER_DEFINED) => keys.double(3077).filter(|u| *u > 0.0).ok_or("its linear unit has no size (key 3077)")?,
        code => metres_of(code).map(|u| u.0).ok_or_else(|| format!("its linear unit is EPSG:{}", code.unwrap_or(0)))?,
    };
    let datum = datum_of(keys)?;
    let unit = if unit_m == 1.0 { "+units=m".to_owned() } else { format!("+to_meter={unit_m}") };
    // UTM by the code of its projection: 16001 to 16060 north, 16101 to 16160 south.
    if let Some(projection) = keys.code(3074).filter(|&c| c != USER_DEFINED) {
        let south = projection >= 16_100;
        let zone = projection.wrapping_sub(if south { 16_100 } else { 16_000 });
        if !(1..=60).contains(&zone) {
            return Err(format!("its projection is EPSG:{projection} by key 3074, which is not known"));
        }
        let south = if south { " +south" } else { "" };
        return Ok((format!("+proj=utm +zone={zone}{south} {datum} {unit}"), name, unit_m));
    }
    let number = |which: &[u16]| which.iter().find_map(|&k| keys.double(k));
    let angle = degrees_of(keys.code(2054))?;
    let degrees = |which: &[u16]| number(which).map(|v| v * angle);
    let (lat_0, lon_0) =
        (degrees(&[3081, 3085, 3089]).unwrap_or(0.0), degrees(&[3080, 3084, 3088, 3095]).unwrap_or(0.0));
    let (x_0, y_0) =
        (number(&[3082, 3086, 3090]).unwrap_or(0.0) * unit_m, number(&[3083, 3087, 3091]).unwrap_or(0.0) * unit_m);
    let k = number(&[3092, 3093]).unwrap_or(1.0);
    let parallels = (degrees(&[3078]), degrees(&[3079]));
    let origin = format!("+lat_0={lat_0} +lon_0={lon_0} +x_0={x_0} +y_0={y_0}");
    let missing = |what: &str| format!("its projection lacks {what}");
    let method = match keys.code(3075) {
        Some(1) => format!("+proj=tmerc {origin} +k={k}"),
        Some(7) => match parallels.0 {
            Some(ts) => format!("+proj=merc +lat_ts={ts} +lon_0={lon_0} +x_0={x_0} +y_0={y_0}"),
            None => format!("+proj=merc +lon_0={lon_0} +k={k} +x_0={x_0} +y_0={y_0}"),
        },
        Some(8) => {
            let one = parallels.0.ok_or_else(|| missing("its first standard parallel"))?;
            let two = parallels.1.ok_or_else(|| missing("its second standard parallel"))?;
            format!("+proj=lcc +lat_1={one} +lat_2={two} {origin}")
        }
        Some(9) => format!("+proj=lcc +lat_1={lat_0} {origin} +k_0={k}"),
        Some(10) => format!("+proj=laea {origin}"),
        Some(11) => {
            let one = parallels.0.ok_or_else(|| missing("its first standard parallel"))?;
            let two = parallels.1.ok_or_else(|| missing("its second standard parallel"))?;
            format!("+proj=aea +lat_1={one} +lat_2={two} {origin}")
        }
        // Polar stereographic: the origin's latitude is that of true scale, unless it is the pole.
        Some(15) => {
            let pole = if lat_0 < 0.0 { -90.0 } else { 90.0 };
            let scale = if lat_0.abs() > 89.999 { format!("+k={k}") } else { format!("+lat_ts={lat_0}") };
            format!("+proj=stere +lat_0={pole} {scale} +lon_0={lon_0} +x_0={x_0} +y_0={y_0}")
        }
        Some(14) => format!("+proj=stere {origin} +k={k}"),
        Some(16) => format!("+proj=sterea {origin} +k={k}"),
        Some(17) => {
            format!("+proj=eqc +lat_ts={} {origin}", parallels.0.unwrap_or(0.0))
        }
        Some(18) => format!("+proj=cass {origin}"),
        Some(other) => return Err(format!("its projection is method {other} of the GeoTIFF keys, which is not read")),
        None => return Err("is in a projected system that its keys do not describe".to_owned()),
    };
    Ok((format!("{method} {datum} {unit}"), name, unit_m))
}

/// Unit and datum of heights; `gdal_unit` is the unit by GDAL's own tag.
///
/// # Errors
/// A unit that is not known.
pub(crate) fn vertical(keys: &Keys, gdal_unit: Option<&str>) -> Result<Vertical, String> {
    let code = keys.code(4096).filter(|&c| c != USER_DEFINED);
    let datum = match code.or(keys.code(4098)) {
        Some(5001..=5033 | 6030 | 7030 | 4979) => VerticalDatum::Ellipsoid,
        Some(5773 | 5171) => VerticalDatum::SeaLevel(Some("EGM96".to_owned())),
        Some(3855 | 1027) => VerticalDatum::SeaLevel(Some("EGM2008".to_owned())),
        Some(5703 | 6360 | 8228 | 5103) => VerticalDatum::SeaLevel(Some("NAVD88".to_owned())),
        Some(other) if other != USER_DEFINED => VerticalDatum::SeaLevel(Some(format!("EPSG:{other}"))),
        _ if keys.code(2048) == Some(4979) => VerticalDatum::Ellipsoid,
        _ => VerticalDatum::Unsaid,
    };
    // Vertical systems that are in feet by their code.
    let by_code = match code {
        Some(6360) => Some(US_FOOT_M),
        Some(8228) => Some(FOOT_M),
        _ => None,
    };
    let by_key = match keys.code(4099) {
        None | Some(USER_DEFINED) => None,
        unit => Some(
            metres_of(unit).map(|u| u.0).ok_or_else(|| format!("its vertical unit is EPSG:{}", unit.unwrap_or(0)))?,
        ),
    };
    let by_gdal = match gdal_unit.map(str::trim).filter(|u| !u.is_empty()) {
        None => None,
        Some("m" | "metre" | "meter" | "metres" | "meters") => Some(1.0),
        Some("ft" | "foot" | "feet" | "International foot") => Some(FOOT_M),
        Some("us-ft" | "ftUS" | "sft" | "US survey foot" | "foot_us") => Some(US_FOOT_M),
        Some(other) => return Err(format!("its heights are in {other:?}")),
    };
    let said = by_key.or(by_gdal).or(by_code).or(code.map(|_| 1.0));
    Ok(Vertical { unit_m: said.unwrap_or(1.0), unit_said: said.is_some(), datum })
}

impl Crs {
    fn new(definition: &str, name: String, geographic: bool, unit_m: f64) -> Result<Crs, String> {
        let refused = |e: proj4rs::errors::Error| {
            format!("is in {name}, which the projection library does not take ({e}: {definition})")
        };
        Ok(Crs {
            system: Proj::from_proj_string(definition).map_err(refused)?,
            wgs84: Proj::from_proj_string(WGS84).map_err(refused)?,
            geographic,
            unit_m,
            name,
        })
    }

    /// How far from its meridian an easting of a transverse Mercator system lies, m; `None` for other systems.
    pub(crate) fn east_of_meridian_m(&self, x: f64) -> Option<f64> {
        let transverse = ["utm", "tmerc", "etmerc"].contains(&self.system.projname());
        transverse.then(|| (x * self.unit_m - self.system.false_easting()).abs())
    }

    /// Latitude and longitude of WGS 84 of the file's x and y, degrees; `None` where the projection has none.
    pub(crate) fn to_wgs84(&self, x: f64, y: f64) -> Option<(f64, f64)> {
        let scale = if self.geographic { self.unit_m.to_radians() } else { 1.0 };
        let mut point = (x * scale, y * scale, 0.0);
        transform(&self.system, &self.wgs84, &mut point).ok()?;
        let (lon, lat) = (point.0.to_degrees(), point.1.to_degrees());
        (lat.is_finite() && lon.is_finite()).then_some((lat, lon))
    }

    /// The file's x and y of a place.
    pub(crate) fn of_wgs84(&self, lat_deg: f64, lon_deg: f64) -> Option<(f64, f64)> {
        let lon = (lon_deg + 180.0).rem_euclid(360.0) - 180.0;
        let mut point = (lon.to_radians(), lat_deg.to_radians(), 0.0);
        transform(&self.wgs84, &self.system, &mut point).ok()?;
        let scale = if self.geographic { 1.0 / self.unit_m.to_radians() } else { 1.0 };
        let (x, y) = (point.0 * scale, point.1 * scale);
        (x.is_finite() && y.is_finite()).then_some((x, y))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference: PROJ by pyproj, tests/reference/terrain/crs.csv.
    #[test]
    fn coordinates_agree_with_proj() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/terrain/crs.csv");
        let mut reader = csv::Reader::from_path(path).unwrap();
        let (mut rows, mut wrong) = (0, Vec::new());
        for row in reader.records() {
            let row = row.unwrap();
            let number = |i: usize| row[i].parse::<f64>().unwrap();
            let code = row[0].parse().unwrap();
            let crs =
                Crs::new(&of_epsg(code).unwrap_or_else(|| panic!("{code}")), row[0].to_owned(), false, 1.0).unwrap();
            let (lat, lon) = crs.to_wgs84(number(1), number(2)).unwrap();
            let off_m = ((lat - number(3)) * 111_000.0).hypot((lon - number(4)) * 111_000.0 * lat.to_radians().cos());
            let (x, y) = crs.of_wgs84(lat, lon).unwrap();
            let back = (x - number(1)).hypot(y - number(2));
            if off_m > number(5) || back > 0.02 {
                wrong.push(format!("EPSG:{code}: {off_m} m off, {back} on the way back"));
            }
            rows += 1;
        }
        assert!(rows >= 30 && wrong.is_empty(), "{rows}: {wrong:?}");
    }
}
