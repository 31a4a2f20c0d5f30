//! How a NetCDF file is laid out: the axes of its cloud variable, whatever their order, names and directions.

use super::GridShape;
use super::array_file::{ArrayFile, Variable};
use super::cf_time::CfTime;
use super::netcdf_variables::{Cover, Role, cover, full_of};
use crate::fault::Fault;
use crate::outlook::line_of_sight::CoverKind;

/// Axis values that may be read at most.
const LONGEST_AXIS: u64 = 20_000_000;
/// Members of an ensemble, or experiments, at most.
const MOST_MEMBERS: u64 = 1000;

/// A dimension beside time, latitude and longitude.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Extra {
    /// One value of many that fill each other's gaps: final and preliminary.
    Versions,
    /// Members of an ensemble.
    Members,
}

/// A variable with all that reading it takes.
#[derive(Clone, Debug)]
pub(super) struct Plan {
    pub path: String,
    /// Positions of time, latitude and longitude among its dimensions.
    pub time: Option<usize>,
    pub lat: Option<usize>,
    pub lon: Option<usize>,
    /// Number of dimensions.
    pub rank: usize,
    /// The dimension beside these, its kind and length.
    pub extra: Option<(usize, Extra, u64)>,
    pub scale: f64,
    pub offset: f64,
    pub fills: Vec<f64>,
    pub valid: (f64, f64),
    /// Added to negative stored numbers that are unsigned.
    pub unsigned: f64,
    /// Divides a figure into a fraction.
    pub full: f64,
    pub units: String,
}

/// A file's cloud variables and axes.
pub(super) struct Layout {
    pub total: Option<Plan>,
    pub layers: Option<[Plan; 3]>,
    pub kind: Option<CoverKind>,
    pub kind_by: String,
    pub variable: String,
    pub lats: Vec<f64>,
    pub lons: Vec<f64>,
    /// Minutes of UTC since 1970 with the index along the axis; times that our calendar lacks are left out.
    pub times: Vec<(i64, u64)>,
    /// The times are months of no year.
    pub climatology: bool,
    /// How many years a climatology stands on.
    pub years: Option<u32>,
    /// The axis says that each time stands for a month, or does not say.
    pub monthly: bool,
    pub left_out: usize,
}

/// Finds the cloud variables; `None` where the file has none.
///
/// # Errors
/// What keeps a cloud variable from being read.
pub(super) fn layout(name: &str, file: &dyn ArrayFile) -> Result<Option<Layout>, Fault> {
    let mut covers: Vec<(&Variable, Cover)> = file
        .variables()
        .iter()
        .filter_map(|v| cover(v).map(|c| (v, c)))
        .filter(|(v, _)| !v.dimensions.is_empty())
        .collect();
    // A cloud variable has a place; a table of statistics may not.
    covers.sort_by(|a, b| b.1.certainty.cmp(&a.1.certainty).then_with(|| a.0.path.len().cmp(&b.0.path.len())));
    let pick = |role: Role| covers.iter().filter(|c| c.1.role == role).collect::<Vec<_>>();
    let totals = pick(Role::Total);
    if let [first, second, ..] = totals.as_slice()
        && first.1.certainty == second.1.certainty
        && first.0.name() != second.0.name()
    {
        let wrong = format!("has two variables that may be total cloud: {} and {}", first.0.path, second.0.path);
        return Err(Fault::of_file(name, wrong, "keep one of them in the file"));
    }
    let total = totals.first();
    let layers: Vec<_> = (0..3).filter_map(|i| pick(Role::Layer(i)).first().map(|c| c.0)).collect();
    let Some(main) = total.map(|t| t.0).or((layers.len() == 3).then(|| layers[0])) else { return Ok(None) };
    let axes = Axes::of(name, file, main)?;
    let total_plan = total.map(|t| plan(name, file, t.0)).transpose()?;
    let layer_plans = match layers.as_slice() {
        &[low, middle, high] => {
            let plans = [plan(name, file, low)?, plan(name, file, middle)?, plan(name, file, high)?];
            let alike = [low, middle, high].iter().all(|v| v.dimensions == main.dimensions);
            alike.then_some(plans)
        }
        _ => None,
    };
    if total_plan.is_none() && layer_plans.is_none() {
        return Ok(None);
    }
    let words = main.text("long_name").map(|l| format!(" ({l})")).unwrap_or_default();
    let variable =
        if total.is_some() { format!("{}{words}", main.path) } else { "low, middle and high cloud".to_owned() };
    Ok(Some(Layout {
        total: total_plan,
        layers: layer_plans,
        kind: total.map_or(Some(CoverKind::Grid), |t| t.1.kind),
        kind_by: total.map_or_else(|| "the names of its layers".to_owned(), |t| t.1.by.clone()),
        variable,
        lats: axes.lats,
        lons: axes.lons,
        times: axes.times,
        climatology: axes.climatology,
        years: axes.years,
        monthly: axes.monthly,
        left_out: axes.left_out,
    }))
}

struct Axes {
    lats: Vec<f64>,
    lons: Vec<f64>,
    times: Vec<(i64, u64)>,
    climatology: bool,
    years: Option<u32>,
    monthly: bool,
    left_out: usize,
}

/// What an axis is, by CF: units, standard name, axis attribute; by name where these are silent.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Lat,
    Lon,
    Time,
    Month,
    Other,
}

fn kind_of(v: &Variable) -> Kind {
    let lower = |a: &str| v.text(a).unwrap_or_default().to_ascii_lowercase();
    let (units, standard, axis, name) =
        (lower("units"), lower("standard_name"), lower("axis"), v.name().to_ascii_lowercase());
    let degrees = |way: &str| ["degrees_", "degree_"].iter().any(|d| units == format!("{d}{way}"));
    if standard == "forecast_reference_time" {
        return Kind::Other;
    }
    if standard == "latitude"
        || degrees("north")
        || (standard.is_empty() && matches!(name.as_str(), "lat" | "latitude"))
    {
        Kind::Lat
    } else if standard == "longitude"
        || degrees("east")
        || (standard.is_empty() && matches!(name.as_str(), "lon" | "longitude"))
    {
        Kind::Lon
    } else if standard == "time"
        || axis == "t"
        || units.contains(" since ")
        || matches!(name.as_str(), "time" | "valid_time")
    {
        Kind::Time
    } else if name == "month" {
        Kind::Month
    } else {
        Kind::Other
    }
}

/// The coordinate of a dimension: the variable of its name, or the one variable along it that is an axis.
fn coordinate<'f>(file: &'f dyn ArrayFile, dimension: &str) -> Option<&'f Variable> {
    let along = |v: &&Variable| v.dimensions.len() == 1 && v.dimensions[0].name == dimension && !v.is_text;
    let named = file.variables().iter().filter(along).find(|v| v.name() == dimension);
    named.or_else(|| file.variables().iter().filter(along).find(|v| kind_of(v) != Kind::Other))
}

fn axis_of(file: &dyn ArrayFile, dimension: &str) -> Kind {
    match coordinate(file, dimension) {
        Some(v) => kind_of(v),
        None => match dimension.to_ascii_lowercase().as_str() {
            "lat" | "latitude" => Kind::Lat,
            "lon" | "longitude" => Kind::Lon,
            "time" | "valid_time" => Kind::Time,
            _ => Kind::Other,
        },
    }
}

/// The numbers along an axis, unpacked.
fn axis_values(name: &str, file: &dyn ArrayFile, v: &Variable) -> Result<Vec<f64>, Fault> {
    let size = v.dimensions.first().map_or(1, |d| d.size);
    if size > LONGEST_AXIS {
        let wrong = format!("its axis {} has {size} values", v.path);
        return Err(Fault::of_file(name, wrong, "give a file of usual size"));
    }
    let (start, count) = if v.dimensions.is_empty() { (vec![], vec![]) } else { (vec![0], vec![size]) };
    let values = file.read(&v.path, &start, &count).map_err(|e| unreadable(name, &v.path, &e))?;
    let number = |a: &str, other: f64| v.numbers(a).and_then(|n| n.first().copied()).unwrap_or(other);
    let (scale, offset) = (number("scale_factor", 1.0), number("add_offset", 0.0));
    Ok(values.into_iter().map(|x| x * scale + offset).collect())
}

/// A variable that cannot be read.
pub(super) fn unreadable(name: &str, path: &str, error: &str) -> Fault {
    let right = "fetch the file again, or write it anew with plain deflate compression (ncks, cdo or xarray do it)";
    Fault::of_file(name, format!("variable {path} cannot be read ({error})"), right)
}

impl Axes {
    fn of(name: &str, file: &dyn ArrayFile, main: &Variable) -> Result<Axes, Fault> {
        let place = |wanted: Kind, words: &str| -> Result<Vec<f64>, Fault> {
            let along = main.dimensions.iter().find(|d| axis_of(file, &d.name) == wanted);
            let missing = || {
                let curved = file.variables().iter().any(|v| v.dimensions.len() > 1 && kind_of(v) == wanted);
                let (wrong, right) = if curved {
                    let right = "regrid it to even latitudes and longitudes first (cdo remapbil,r360x180 for example)";
                    (format!("its {words}s form a curved grid"), right.to_owned())
                } else {
                    let right = "give a CF coordinate with units degrees_north or degrees_east".to_owned();
                    (format!("variable {} has no {words}", main.path), right)
                };
                Fault::of_file(name, wrong, right)
            };
            let v = match along {
                Some(d) => coordinate(file, &d.name).ok_or_else(missing)?,
                None => file
                    .variables()
                    .iter()
                    .find(|v| {
                        v.dimensions.iter().all(|d| d.size == 1) && v.dimensions.len() < 2 && kind_of(v) == wanted
                    })
                    .ok_or_else(missing)?,
            };
            axis_values(name, file, v)
        };
        let lats = place(Kind::Lat, "latitude")?;
        let lons = place(Kind::Lon, "longitude")?;
        if lats.is_empty() || lons.is_empty() || !lats.iter().all(|l| l.abs() <= 90.001) {
            let right = "give latitudes in degrees from -90 to 90";
            return Err(Fault::of_file(name, "its latitudes are not latitudes", right));
        }
        if !lons.iter().all(|l| (-360.0..=720.0).contains(l)) {
            let right = "give longitudes in degrees, -180 to 180 or 0 to 360";
            return Err(Fault::of_file(name, "its longitudes are not longitudes", right));
        }
        let times = Times::of(name, file, main)?;
        Ok(Axes {
            lats,
            lons,
            times: times.times,
            climatology: times.climatology,
            years: times.years,
            monthly: times.monthly,
            left_out: times.left_out,
        })
    }
}

struct Times {
    times: Vec<(i64, u64)>,
    climatology: bool,
    years: Option<u32>,
    monthly: bool,
    left_out: usize,
}

impl Times {
    fn of(name: &str, file: &dyn ArrayFile, main: &Variable) -> Result<Times, Fault> {
        let along = |wanted: Kind| main.dimensions.iter().find(|d| axis_of(file, &d.name) == wanted);
        let texts = file.attributes().iter().map(|(_, a)| a).filter_map(|a| match a {
            super::array_file::Attribute::Text(t) => Some(t.to_ascii_lowercase()),
            super::array_file::Attribute::Numbers(_) => None,
        });
        let says_month =
            |t: &String| t == "mon" || t == "p1m" || t.contains("monthly") || t.contains("diurnal") || t == "month";
        let mut monthly = texts.into_iter().any(|t| says_month(&t));
        if let Some(months) = along(Kind::Month) {
            // Months of no year: put into one, which is not told.
            let axis = coordinate(file, &months.name).map(|v| axis_values(name, file, v)).transpose()?;
            let axis = axis.unwrap_or_default();
            if axis.is_empty() || !axis.iter().all(|m| m.fract() == 0.0 && (1.0..=12.0).contains(m)) {
                let wrong = format!("its dimension {} does not count months from 1 to 12", months.name);
                return Err(Fault::of_file(name, wrong, "give the months as numbers, or a time axis by CF"));
            }
            let at = |(i, m): (usize, &f64)| {
                let date = chrono::NaiveDate::from_ymd_opt(2001, *m as u32, 1).unwrap_or_default();
                (super::packed::minutes_of(date, 0.0), i as u64)
            };
            let times = axis.iter().enumerate().map(at).collect();
            return Ok(Times { times, climatology: true, years: None, monthly: true, left_out: 0 });
        }
        let scalar = || {
            let alone =
                |v: &&Variable| v.dimensions.iter().all(|d| d.size == 1) && v.dimensions.len() < 2 && !v.is_text;
            file.variables().iter().filter(alone).find(|v| kind_of(v) == Kind::Time)
        };
        let axis = match along(Kind::Time) {
            Some(d) => coordinate(file, &d.name),
            None => scalar(),
        };
        let Some(axis) = axis else {
            let wrong = format!("variable {} has no time axis", main.path);
            let right = "give a time or valid_time by CF, like \"hours since 1900-01-01\"";
            return Err(Fault::of_file(name, wrong, right));
        };
        let Some(units) = axis.text("units") else {
            let wrong = format!("its time axis {} has no units", axis.path);
            return Err(Fault::of_file(name, wrong, "give them by CF, like \"hours since 1900-01-01 00:00:00\""));
        };
        let clock = CfTime::parse(units, axis.text("calendar"))
            .map_err(|(wrong, right)| Fault::of_file(name, format!("time axis {}: {wrong}", axis.path), right))?;
        let values = axis_values(name, file, axis)?;
        let mut left_out = 0;
        let mut times: Vec<(i64, u64)> = Vec::with_capacity(values.len());
        for (i, value) in values.iter().enumerate() {
            match clock.minutes(*value) {
                Some(minutes) => times.push((minutes, i as u64)),
                None => left_out += 1,
            }
        }
        if times.is_empty() {
            let wrong = format!("its time axis {} holds no usable time", axis.path);
            return Err(Fault::of_file(name, wrong, "give times of real days"));
        }
        // Bounds tell how long a figure stands for, and a climatology's years.
        let climatology = axis.text("climatology");
        let mut years = None;
        if let Some(bounds) = climatology.or(axis.text("bounds"))
            && let Some(v) = file.variables().iter().find(|v| v.name() == bounds && v.dimensions.len() == 2)
            && v.dimensions[1].size == 2
            && v.dimensions[0].size > 0
            && let Ok(ends) = file.read(&v.path, &[0, 0], &[1, 2])
            && let [Some(from), Some(to)] = [clock.minutes(ends[0]), clock.minutes(ends[1])]
        {
            let days = (to - from) / 1440;
            if climatology.is_some() {
                years = Some(((days as f64 / 365.25).round().clamp(0.0, 1000.0) as u32).max(1));
            }
            monthly |= (27..=32).contains(&days);
        }
        let climatology = climatology.is_some();
        Ok(Times { times, climatology, years, monthly: monthly || climatology, left_out })
    }
}

fn plan(name: &str, file: &dyn ArrayFile, v: &Variable) -> Result<Plan, Fault> {
    let position = |wanted: Kind| v.dimensions.iter().position(|d| axis_of(file, &d.name) == wanted);
    let (lat, lon) = (position(Kind::Lat), position(Kind::Lon));
    let time = position(Kind::Time).or_else(|| position(Kind::Month));
    let mut extra = None;
    for (i, d) in v.dimensions.iter().enumerate() {
        if [time, lat, lon].contains(&Some(i)) || d.size == 1 {
            continue;
        }
        let kind = match d.name.to_ascii_lowercase().as_str() {
            "expver" | "experimentversionnumber" => Extra::Versions,
            "number" | "member" | "members" | "ensemble" | "realization" | "ensemble_member" | "ens" => Extra::Members,
            other => {
                let wrong = format!("variable {} has a dimension {other} of {} beside time and place", v.path, d.size);
                return Err(Fault::of_file(name, wrong, "choose one of them first (ncks, cdo or xarray do it)"));
            }
        };
        if extra.is_some() || d.size > MOST_MEMBERS {
            let wrong = format!("variable {} has a dimension {} of {} too many", v.path, d.name, d.size);
            return Err(Fault::of_file(name, wrong, "choose one of them first (ncks, cdo or xarray do it)"));
        }
        extra = Some((i, kind, d.size));
    }
    let first = |a: &str| v.numbers(a).and_then(|n| n.first().copied());
    let units = v.text("units").unwrap_or_default().to_owned();
    let Some(full) = full_of(&units) else {
        let wrong = format!("variable {} is in \"{units}\", which is no unit of cloud cover", v.path);
        return Err(Fault::of_file(name, wrong, "give a fraction (units \"1\"), \"%\" or oktas"));
    };
    let is_unsigned = v.text("_Unsigned").is_some_and(|t| t.eq_ignore_ascii_case("true"));
    let unsigned = if is_unsigned && v.size < 8 { (1_u64 << (8 * v.size)) as f64 } else { 0.0 };
    let lift = |x: f64| if x < 0.0 { x + unsigned } else { x };
    let mut fills: Vec<f64> =
        ["_FillValue", "missing_value"].iter().flat_map(|a| v.numbers(a).unwrap_or(&[])).copied().collect();
    fills = fills.into_iter().map(lift).collect();
    let packed = first("scale_factor").is_some() || first("add_offset").is_some();
    if fills.is_empty() && packed && v.size == 2 {
        // The default fill of NetCDF for short integers.
        fills.push(lift(-32767.0));
    }
    let range = v.numbers("valid_range").filter(|r| r.len() == 2);
    let low = range.map(|r| r[0]).or(first("valid_min")).unwrap_or(f64::NEG_INFINITY);
    let high = range.map(|r| r[1]).or(first("valid_max")).unwrap_or(f64::INFINITY);
    let (scale, offset) = (first("scale_factor").unwrap_or(1.0), first("add_offset").unwrap_or(0.0));
    if !(scale.is_finite() && offset.is_finite() && scale != 0.0) {
        let wrong = format!("variable {} is packed with scale {scale} and offset {offset}", v.path);
        return Err(Fault::of_file(name, wrong, "give a finite scale_factor and add_offset"));
    }
    Ok(Plan {
        path: v.path.clone(),
        time,
        lat,
        lon,
        rank: v.dimensions.len(),
        extra,
        scale,
        offset,
        fills,
        valid: (low, high),
        unsigned,
        full,
        units,
    })
}

/// The regular grid of two axes; `None` where a step is uneven or an axis has one value.
pub(super) fn grid_shape(lats: &[f64], lons: &[f64]) -> Option<GridShape> {
    let step = |values: &[f64]| {
        let n = values.len();
        if n < 2 {
            return None;
        }
        let step = (values[n - 1] - values[0]) / (n - 1) as f64;
        let even = |(i, v): (usize, &f64)| (v - values[0] - step * i as f64).abs() < 0.02 * step.abs();
        (step != 0.0 && step.is_finite() && values.iter().enumerate().all(even)).then_some(step)
    };
    let lat_step = step(lats)?;
    // Longitudes may wrap once along the axis.
    let mut turned = Vec::with_capacity(lons.len());
    let mut turn = 0.0;
    for (i, lon) in lons.iter().enumerate() {
        if i > 0 {
            let before = lons[i - 1];
            if lon - before > 180.0 {
                turn -= 360.0;
            } else if lon - before < -180.0 {
                turn += 360.0;
            }
        }
        turned.push(lon + turn);
    }
    let lon_step = step(&turned)?;
    let most = (360.0 / lon_step.abs() + 0.02).floor() as usize;
    let columns = lons.len().min(most);
    if columns < 2 || lats.len().checked_mul(columns)? > 200_000_000 {
        return None;
    }
    let (first, last) = (lats[0], lats[lats.len() - 1]);
    let west = if lon_step > 0.0 { turned[0] } else { turned[columns - 1] };
    Some(GridShape {
        lat0_deg: first.min(last),
        lat_step_deg: lat_step.abs(),
        rows: lats.len(),
        lon0_deg: crate::input::clouds::wrapped(west),
        lon_step_deg: lon_step.abs(),
        columns,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grids_run_up_and_down_and_round() {
        let grid = grid_shape(&[10.0, 5.0, 0.0], &[350.0, 355.0, 0.0, 5.0]).unwrap();
        assert_eq!((grid.lat0_deg, grid.lon0_deg, grid.rows, grid.columns), (0.0, -10.0, 3, 4));
        let around: Vec<f64> = (0..=36).map(|i| f64::from(i) * 10.0).collect();
        assert_eq!(grid_shape(&[0.0, 10.0], &around).unwrap().columns, 36);
        assert_eq!(grid_shape(&[0.0, 10.0, 30.0], &around), None);
        assert_eq!(grid_shape(&[0.0], &around), None);
    }
}
