//! NetCDF archives: one file or many of one grid, read a box at a time, no more than is wanted.

use std::collections::BTreeMap;

use super::array_file::{self, ArrayFile, Attribute, Bytes};
use super::holdings::{Holdings, Step, step_of};
use super::monthly::MonthBook;
use super::netcdf_layout::{Extra, Layout, Plan, grid_shape, layout, unreadable};
use super::packed::{PackedCover, at_minutes};
use super::wanted::Wanted;
use super::{CloudNode, CloudSeries, CloudTable, CoverUnit, GridShape, Layers};
use crate::fault::{Fault, Faults};

/// Memory that the figures of one table may take, bytes.
const MOST_BYTES: u64 = 400 << 20;
/// Figures read at once.
const BLOCK: u64 = 2 << 20;
/// Grid points of a box, along each side.
const SIDE: usize = 32;
/// A figure this far outside 0 to 1 is the rounding of packing, not an error.
const SLOP: f64 = 0.01;

/// A file that was opened, with the name that messages give it.
pub(super) struct Opened {
    name: String,
    file: Box<dyn ArrayFile>,
    layout: Layout,
}

/// Opens a file; `None` where it holds no cloud.
///
/// # Errors
/// One fault, of what keeps it from being read.
pub(super) fn open(name: &str, bytes: Bytes<'_>) -> Result<Option<Opened>, Fault> {
    let file = array_file::open(bytes).map_err(|e| {
        let right = "fetch it again: it may have been cut short";
        Fault::of_file(name, format!("is not a readable NetCDF file ({e})"), right)
    })?;
    let found = layout(name, file.as_ref())?;
    Ok(found.map(|layout| Opened { name: name.to_owned(), file, layout }))
}

/// What a file without cloud is told.
pub(super) fn no_cloud(name: &str) -> Fault {
    let right =
        "give one with total cloud: tcc, CLDTOT, cfc, cldamt, or any variable of standard name cloud_area_fraction";
    Fault::of_file(name, "has no variable of cloud cover", right)
}

/// A time of the archive: which file, and where along its axis.
#[derive(Clone, Copy, Debug)]
struct Instant {
    minutes: i64,
    file: usize,
    index: u64,
}

/// A grid point that is wanted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    /// Index along the latitude and longitude axes of the file.
    pub row: usize,
    pub column: usize,
    pub lon_deg: f64,
    /// The one hour that is wanted of it.
    hour: Option<f64>,
}

/// Reads what is wanted of files of one grid.
///
/// # Errors
/// Every fault met.
pub(super) fn read(files: &[Opened], wanted: &Wanted) -> Result<CloudTable, Faults> {
    let Some(first) = files.first() else { return Err(Faults::default()) };
    let (lats, lons) = (&first.layout.lats, &first.layout.lons);
    for other in &files[1..] {
        let near = |a: &[f64], b: &[f64]| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-4);
        if !near(&other.layout.lats, lats) || !near(&other.layout.lons, lons) {
            let wrong = format!("has another grid than {}", first.name);
            return Err(Fault::of_file(&other.name, wrong, "give files of one grid together").into());
        }
        if other.layout.kind != first.layout.kind || other.layout.total.is_some() != first.layout.total.is_some() {
            let wrong = format!("has other variables than {}", first.name);
            return Err(Fault::of_file(&other.name, wrong, "give files of one variable together").into());
        }
    }
    let mut notes = Vec::new();
    let times = instants(files, &mut notes);
    let minutes: Vec<i64> = times.iter().map(|t| t.minutes).collect();
    let step = step(files, &minutes);
    let climatology = first.layout.climatology;
    let mut held = Holdings::of_minutes(&minutes, step);
    if climatology {
        held = Holdings { from: None, to: None, years: Vec::new(), gaps: Vec::new(), ..held };
    }
    let grid = grid_shape(lats, lons);
    let texts = |a: &Attribute| match a {
        Attribute::Text(t) => Some(t.clone()),
        Attribute::Numbers(_) => None,
    };
    let all_texts: Vec<String> = files
        .iter()
        .flat_map(|f| f.file.attributes().iter().map(|a| &a.1).filter_map(texts).collect::<Vec<_>>())
        .chain(files.iter().flat_map(|f| {
            f.file.variables().iter().flat_map(|v| v.attributes.iter().filter_map(|a| texts(&a.1))).collect::<Vec<_>>()
        }))
        .collect();
    let mut sources: Vec<String> = Vec::new();
    for name in ["title", "institution", "source"] {
        for file in files.iter().take(5) {
            let text = file.file.attributes().iter().find(|(n, _)| n == name).and_then(|(_, a)| texts(a));
            let text = text.map(|t| t.trim().chars().take(120).collect::<String>()).filter(|t| !t.is_empty());
            sources.extend(text.filter(|t| !sources.contains(t)));
        }
    }
    sources.truncate(5);
    note_extras(first, &mut notes);
    let plan = first.layout.total.as_ref().or(first.layout.layers.as_ref().map(|l| &l[0]));
    let stated_unit = plan.map(|p| p.units.clone()).unwrap_or_default();
    let unit = match plan.map_or(1.0, |p| p.full) {
        100.0 => CoverUnit::Percent,
        8.0 => CoverUnit::Okta,
        _ => CoverUnit::Fraction,
    };
    let mut table = CloudTable {
        file: first.name.clone(),
        format: first.file.format().to_owned(),
        variable: first.layout.variable.clone(),
        stated_unit,
        kind: first.layout.kind,
        kind_by: first.layout.kind_by.clone(),
        unit,
        grid,
        held: Some(held),
        sources,
        invented: all_texts.iter().any(|t| t.to_ascii_lowercase().contains("invented")),
        notes,
        ..CloudTable::default()
    };
    if wanted.axes_only {
        return Ok(table);
    }
    let points = points(lats, lons, grid, wanted);
    if points.is_empty() {
        return Ok(table);
    }
    let years = if climatology { first.layout.years } else { None };
    let mut reader =
        Reader { files, wanted, step, climatology, points: &points, missing: 0, sink: Sink::new(step, &points) };
    reader.budget(&times, &table.file)?;
    reader.read(&times)?;
    table.missing = reader.missing;
    let counted = reader.sink.years();
    table.nodes = points
        .iter()
        .zip(counted)
        .map(|(p, counted)| CloudNode {
            lat_deg: lats[p.row].clamp(-90.0, 90.0),
            lon_deg: p.lon_deg,
            name: None,
            years: if climatology { years } else { counted },
        })
        .collect();
    table.series = reader.sink.series();
    Ok(table)
}

/// All times of all files, in order; one that two files have is taken from the first.
fn instants(files: &[Opened], notes: &mut Vec<String>) -> Vec<Instant> {
    let mut times: Vec<Instant> = Vec::new();
    for (file, opened) in files.iter().enumerate() {
        times.extend(opened.layout.times.iter().map(|&(minutes, index)| Instant { minutes, file, index }));
        if opened.layout.left_out > 0 {
            notes.push(format!(
                "{} times of {} are left out: our calendar has no such day, or they are no times.",
                opened.layout.left_out, opened.name
            ));
        }
    }
    times.sort_by_key(|t| (t.minutes, t.file, t.index));
    let before = times.len();
    times.dedup_by_key(|t| t.minutes);
    if times.len() < before {
        notes.push(format!("{} times occur twice; the first of each is used.", before - times.len()));
    }
    times
}

fn step(files: &[Opened], minutes: &[i64]) -> Step {
    let step = step_of(minutes);
    let mut dates: Vec<i64> = minutes.iter().map(|m| m.div_euclid(1440)).collect();
    dates.dedup();
    // A single date does not show its step; its bounds or the file's attributes may.
    if dates.len() == 1 && files.iter().all(|f| f.layout.monthly) {
        return if minutes.len() > 1 { Step::MonthlyByHour } else { Step::Monthly };
    }
    step
}

fn note_extras(first: &Opened, notes: &mut Vec<String>) {
    if first.layout.total.is_none() {
        notes.push("There is no total: low, middle and high cloud are put together at random overlap.".to_owned());
    }
    match first.layout.total.as_ref().and_then(|p| p.extra) {
        Some((_, Extra::Versions, n)) => {
            notes.push(format!("Of {n} versions (expver) the first that has a figure is used."));
        }
        Some((_, Extra::Members, n)) => {
            notes.push(format!("{n} members of an ensemble: each counts as a sky, together as one day."));
        }
        None => {}
    }
}

/// The grid points that are wanted: those about each place, or all.
pub(super) fn points(lats: &[f64], lons: &[f64], grid: Option<GridShape>, wanted: &Wanted) -> Vec<Point> {
    let columns = grid.map_or(lons.len(), |g| g.columns);
    let point = |row: usize, column: usize, hour| Point { row, column, lon_deg: super::wrapped(lons[column]), hour };
    if wanted.places.is_empty() || wanted.places.iter().any(|p| !(p.lat_deg.is_finite() && p.lon_deg.is_finite())) {
        return (0..lats.len()).flat_map(|r| (0..columns).map(move |c| point(r, c, None))).collect();
    }
    let step = |values: &[f64]| match values {
        [first, .., last] => (last - first).abs() / (values.len() - 1) as f64,
        _ => f64::INFINITY,
    };
    let (lat_step, lon_step) =
        (grid.map_or(step(lats), |g| g.lat_step_deg), grid.map_or(step(lons), |g| g.lon_step_deg));
    // Uneven axes are asked as stations are: a wider circle of them.
    let wide = if grid.is_some() { 1.0 } else { 1.5 };
    let mut found: BTreeMap<(usize, usize), Option<f64>> = BTreeMap::new();
    for place in &wanted.places {
        // A point of a cell of half a step beyond the last is still inside; rows nearest to it are looked for.
        let reach = (lat_step * wide).max(wanted.around_deg) * (1.0 + 1e-9);
        let rows: Vec<usize> = (0..lats.len()).filter(|&r| (lats[r] - place.lat_deg).abs() <= reach).collect();
        let reach =
            (lon_step * wide).max(wanted.around_deg / place.lat_deg.to_radians().cos().max(0.05)) * (1.0 + 1e-9);
        let away = |c: usize| super::wrapped(lons[c] - place.lon_deg).abs() % 360.0;
        let across: Vec<usize> = (0..columns).filter(|&c| away(c).min(360.0 - away(c)) <= reach).collect();
        for &row in &rows {
            for &column in &across {
                let hour = found.entry((row, column)).or_insert(place.solar_hour);
                // Two places that want different hours of one point: all hours of it, if they differ much.
                if let (Some(a), Some(b)) = (*hour, place.solar_hour)
                    && ((a - b + 12.0).rem_euclid(24.0) - 12.0).abs() > 0.75
                {
                    *hour = None;
                }
            }
        }
    }
    found.into_iter().map(|((row, column), hour)| point(row, column, hour)).collect()
}

/// Where figures are gathered.
enum Sink {
    Months(Vec<MonthBook>, Vec<std::collections::BTreeSet<i32>>),
    Days(Vec<Vec<PackedCover>>),
}

impl Sink {
    fn new(step: Step, points: &[Point]) -> Sink {
        if step.is_monthly() {
            Sink::Months(
                vec![MonthBook::default(); points.len()],
                vec![std::collections::BTreeSet::new(); points.len()],
            )
        } else {
            Sink::Days(vec![Vec::new(); points.len()])
        }
    }

    fn years(&self) -> Vec<Option<u32>> {
        match self {
            Sink::Months(_, years) => years.iter().map(|y| Some(y.len() as u32).filter(|n| *n > 0)).collect(),
            Sink::Days(days) => vec![None; days.len()],
        }
    }

    fn series(self) -> CloudSeries {
        match self {
            Sink::Months(books, _) => CloudSeries::Means(books.into_iter().map(MonthBook::means).collect()),
            Sink::Days(mut days) => {
                for list in &mut days {
                    list.sort_by_key(PackedCover::minutes);
                    list.shrink_to_fit();
                }
                CloudSeries::Packed(days)
            }
        }
    }
}

struct Reader<'a> {
    files: &'a [Opened],
    wanted: &'a Wanted,
    step: Step,
    climatology: bool,
    points: &'a [Point],
    missing: usize,
    sink: Sink,
}

/// A rectangle of grid points and which of the wanted ones lie in it.
struct Tile {
    row: usize,
    column: usize,
    rows: usize,
    columns: usize,
    points: Vec<usize>,
}

impl Reader<'_> {
    /// Hours between figures of a day.
    fn hour_step(&self, times: &[Instant]) -> f64 {
        let mut hours: Vec<i64> = times.iter().take(5000).map(|t| t.minutes.rem_euclid(1440)).collect();
        hours.sort_unstable();
        hours.dedup();
        if hours.len() < 2 { 24.0 } else { 24.0 / hours.len() as f64 }
    }

    /// How far from the hour wanted a figure may lie to be of use: the nearest to any whole hour about it, and for means the two
    /// that it is interpolated between.
    fn window(&self, times: &[Instant]) -> Option<f64> {
        let step = self.hour_step(times);
        match self.step {
            Step::Hourly => (step <= 6.0).then_some(0.5 + step / 2.0 + 0.26),
            Step::MonthlyByHour => (step <= 6.0).then_some(step * 1.01 + 0.26),
            _ => None,
        }
    }

    fn wants(&self, time: &Instant) -> bool {
        at_minutes(time.minutes).is_some_and(|(date, _)| self.wanted.has(date, self.step.is_monthly()))
    }

    /// Refuses what would not fit into memory.
    fn budget(&self, times: &[Instant], name: &str) -> Result<(), Faults> {
        let wanted = times.iter().filter(|t| self.wants(t)).count() as u64;
        let share = match self.window(times) {
            Some(window) if self.points.iter().all(|p| p.hour.is_some()) => (2.0 * window / 24.0).min(1.0),
            _ => 1.0,
        };
        let each = if self.step.is_monthly() { 48.0 } else { 12.0 };
        let bytes = self.points.len() as f64 * wanted as f64 * share * each;
        if bytes > MOST_BYTES as f64 {
            let wrong = format!(
                "{} grid points and {wanted} times are more than fit into memory ({:.1} GB)",
                self.points.len(),
                bytes / 1e9
            );
            let right = "ask for places and a date (--near LAT,LON and --date DATE; a plan asks for its own)";
            return Err(Fault::of_file(name, wrong, right).into());
        }
        Ok(())
    }

    fn tiles(&self) -> Vec<Tile> {
        let mut by_tile: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
        for (i, p) in self.points.iter().enumerate() {
            by_tile.entry((p.row / SIDE, p.column / SIDE)).or_default().push(i);
        }
        by_tile
            .into_values()
            .map(|points| {
                let rows = points.iter().map(|&i| self.points[i].row);
                let columns = points.iter().map(|&i| self.points[i].column);
                let (top, left) = (rows.clone().min().unwrap_or(0), columns.clone().min().unwrap_or(0));
                let (bottom, right) = (rows.max().unwrap_or(0), columns.max().unwrap_or(0));
                Tile { row: top, column: left, rows: bottom - top + 1, columns: right - left + 1, points }
            })
            .collect()
    }

    fn read(&mut self, times: &[Instant]) -> Result<(), Faults> {
        let window = self.window(times);
        // Hours of UTC at which any point may be of use, in minutes of the day.
        let mut useful = vec![window.is_none() || self.points.iter().any(|p| p.hour.is_none()); 1440];
        if let Some(window) = window.filter(|_| !useful[0]) {
            for p in self.points {
                let middle = (p.hour.unwrap_or(0.0) - p.lon_deg / 15.0) * 60.0;
                let (from, to) = ((middle - window * 60.0).floor() as i64, (middle + window * 60.0).ceil() as i64);
                (from..=to).for_each(|m| useful[m.rem_euclid(1440) as usize] = true);
            }
        }
        let times: Vec<Instant> =
            times.iter().filter(|t| useful[t.minutes.rem_euclid(1440) as usize] && self.wants(t)).copied().collect();
        let tiles = self.tiles();
        let largest = tiles.iter().map(|t| (t.rows * t.columns) as u64).max().unwrap_or(1);
        let most = (BLOCK / largest).clamp(1, 10_000) as usize;
        let next = |a: &Instant, b: &Instant| b.file == a.file && b.index == a.index + 1;
        for run in times.chunk_by(next).flat_map(|run| run.chunks(most)) {
            for tile in &tiles {
                self.block(run, tile, window)?;
            }
        }
        Ok(())
    }

    /// One box of one stretch of time.
    fn block(&mut self, run: &[Instant], tile: &Tile, window: Option<f64>) -> Result<(), Faults> {
        let Some(first) = run.first() else { return Ok(()) };
        let files = self.files;
        let opened = &files[first.file];
        let layout = &opened.layout;
        let main = layout.total.as_ref().or(layout.layers.as_ref().map(|l| &l[0]));
        let members = match main.and_then(|p| p.extra) {
            Some((_, _, n)) => n,
            None => 1,
        };
        let versions = main.and_then(|p| p.extra).is_some_and(|e| e.1 == Extra::Versions);
        let cells = run.len() * tile.rows * tile.columns;
        let mut filled: Vec<f64> = Vec::new();
        let mut filled_layers: [Vec<f64>; 3] = Default::default();
        for member in 0..members {
            let total = layout.total.as_ref().map(|p| fractions(opened, p, run, tile, member)).transpose()?;
            let layers = match layout.layers.as_ref().filter(|_| self.wanted.layers || layout.total.is_none()) {
                Some([low, middle, high]) => Some([
                    fractions(opened, low, run, tile, member)?,
                    fractions(opened, middle, run, tile, member)?,
                    fractions(opened, high, run, tile, member)?,
                ]),
                None => None,
            };
            let total = match (total, &layers) {
                (Some(total), _) => total,
                (None, Some(l)) => (0..cells).map(|i| 1.0 - l.iter().map(|l| 1.0 - l[i]).product::<f64>()).collect(),
                (None, None) => return Ok(()),
            };
            if versions {
                if member == 0 {
                    filled = total;
                    filled_layers = layers.unwrap_or_default();
                } else {
                    for (i, (have, other)) in filled.iter_mut().zip(&total).enumerate() {
                        if have.is_nan() {
                            *have = *other;
                            if let Some(layers) = &layers {
                                (0..3).for_each(|k| filled_layers[k][i] = layers[k][i]);
                            }
                        }
                    }
                }
                if member + 1 == members {
                    let layers = (!filled_layers[0].is_empty()).then_some(&filled_layers);
                    self.keep(run, tile, window, &filled, layers);
                }
            } else {
                self.keep(run, tile, window, &total, layers.as_ref());
            }
        }
        Ok(())
    }

    fn keep(
        &mut self,
        run: &[Instant],
        tile: &Tile,
        window: Option<f64>,
        total: &[f64],
        layers: Option<&[Vec<f64>; 3]>,
    ) {
        for (t, instant) in run.iter().enumerate() {
            let hour_utc = instant.minutes.rem_euclid(1440) as f64 / 60.0;
            let year_month = super::cf_time::year_month(instant.minutes);
            for &i in &tile.points {
                let point = self.points[i];
                let solar = hour_utc + point.lon_deg / 15.0;
                if let (Some(window), Some(hour)) = (window, point.hour)
                    && ((solar - hour + 12.0).rem_euclid(24.0) - 12.0).abs() > window
                {
                    continue;
                }
                let cell = (t * tile.rows + point.row - tile.row) * tile.columns + point.column - tile.column;
                let cover = total[cell];
                if cover.is_nan() {
                    self.missing += 1;
                    continue;
                }
                let layers = layers.map(|l| [l[0][cell], l[1][cell], l[2][cell]]);
                let layers = layers.filter(|l| l.iter().all(|c| !c.is_nan())).map(Layers::of);
                match &mut self.sink {
                    Sink::Months(books, years) => {
                        let Some((year, month)) = year_month else { continue };
                        let solar = (self.step == Step::MonthlyByHour).then_some(solar);
                        books[i].add(if self.climatology { 0 } else { year }, month, solar, cover, layers);
                        years[i].insert(year);
                    }
                    Sink::Days(days) => {
                        let has_hour = self.step == Step::Hourly;
                        days[i].extend(PackedCover::new(instant.minutes, has_hour, cover, layers));
                    }
                }
            }
        }
    }
}

/// Cover of a box as fractions, in the order time, latitude, longitude; NaN where there is none.
fn fractions(opened: &Opened, plan: &Plan, run: &[Instant], tile: &Tile, member: u64) -> Result<Vec<f64>, Faults> {
    let mut start = vec![0; plan.rank];
    let mut count = vec![1; plan.rank];
    let first = run.first().map_or(0, |t| t.index);
    let sizes = [run.len(), tile.rows, tile.columns];
    for (axis, (from, size)) in [plan.time, plan.lat, plan.lon].into_iter().zip([
        (first, sizes[0]),
        (tile.row as u64, sizes[1]),
        (tile.column as u64, sizes[2]),
    ]) {
        if let Some(axis) = axis {
            (start[axis], count[axis]) = (from, size as u64);
        }
    }
    if let Some((axis, ..)) = plan.extra {
        start[axis] = member;
    }
    let raw = opened.file.read(&plan.path, &start, &count).map_err(|e| unreadable(&opened.name, &plan.path, &e))?;
    // Strides of the stored order.
    let mut strides = vec![1_usize; plan.rank];
    for i in (0..plan.rank.saturating_sub(1)).rev() {
        strides[i] = strides[i + 1] * count[i + 1] as usize;
    }
    let stride = |axis: Option<usize>| axis.map_or(0, |a| strides[a]);
    let (st, sy, sx) = (stride(plan.time), stride(plan.lat), stride(plan.lon));
    let mut out = Vec::with_capacity(sizes.iter().product());
    for t in 0..sizes[0] {
        for y in 0..sizes[1] {
            for x in 0..sizes[2] {
                let value = raw[t * st + y * sy + x * sx];
                out.push(decode(plan, value).map_err(|found| {
                    let (row, column) = (tile.row + y, tile.column + x);
                    let date = run.get(t).and_then(|i| at_minutes(i.minutes)).map(|d| d.0.to_string());
                    let place = super::place_words(opened.layout.lats[row], super::wrapped(opened.layout.lons[column]));
                    let unit = if plan.units.is_empty() { "no unit" } else { &plan.units };
                    let wrong = format!(
                        "variable {}: {} ({unit}) at {place} on {} is no cloud cover",
                        plan.path,
                        // Seven digits, as the file holds them.
                        found as f32,
                        date.unwrap_or_default()
                    );
                    let right = format!("give 0 to {}, or mend the units attribute", plan.full);
                    Fault::of_file(&opened.name, wrong, right)
                })?);
            }
        }
    }
    Ok(out)
}

/// A stored number as a fraction; NaN for none.
///
/// # Errors
/// The figure, where it cannot be cloud cover.
fn decode(plan: &Plan, value: f64) -> Result<f64, f64> {
    let value = if value < 0.0 { value + plan.unsigned } else { value };
    let is_fill = |f: &f64| *f == value || (f.is_nan() && value.is_nan()) || (*f as f32 as f64 == value);
    // 1e20, 1e15 and the like: a fill that the file forgot to name.
    if value.is_nan() || plan.fills.iter().any(is_fill) || value.abs() > 1e14 {
        return Ok(f64::NAN);
    }
    if value < plan.valid.0 || value > plan.valid.1 {
        return Ok(f64::NAN);
    }
    let figure = value * plan.scale + plan.offset;
    let fraction = figure / plan.full;
    if (-SLOP..=1.0 + SLOP).contains(&fraction) { Ok(fraction.clamp(0.0, 1.0)) } else { Err(figure) }
}
