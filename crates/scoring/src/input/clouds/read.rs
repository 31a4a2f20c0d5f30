//! One file, several, or a folder of them: each told by its content and handed to its reader, the results put together.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use flate2::read::MultiGzDecoder;
use rayon::prelude::*;

use super::array_file::Bytes;
use super::isd_lite::History;
use super::netcdf::{self, Opened};
use super::pictures::{self, Picture};
use super::recognise::{Format, HEAD, recognise};
use super::stations::Reports;
use super::wanted::Wanted;
use super::{CloudSeries, CloudTable, geotiff, ghcnh, isd_lite, matrix, metar, plain};
use crate::fault::{Fault, Faults};
use crate::input::epw;

/// Text files longer than this once unpacked are refused, in bytes (2 GiB).
const LONGEST: u64 = 2 << 30;
/// Files of a folder at most.
const MOST_FILES: usize = 200_000;

/// A file to read: its name in messages, where its bytes are, its format, whether it was named (and not merely found).
struct Item {
    name: String,
    content: Content,
    format: Format,
    gzip: bool,
}

enum Content {
    Path(PathBuf),
    Open(File),
}

impl Item {
    fn file(&self) -> std::io::Result<File> {
        match &self.content {
            Content::Path(path) => File::open(path),
            Content::Open(file) => {
                let mut file = file.try_clone()?;
                file.seek(SeekFrom::Start(0))?;
                Ok(file)
            }
        }
    }

    /// All bytes, unpacked.
    fn bytes(&self) -> Result<Vec<u8>, Faults> {
        let cannot = |e: std::io::Error| {
            Fault::of_file(&self.name, format!("cannot be read ({e})"), "give a file that can be read, whole")
        };
        let file = self.file().map_err(cannot)?;
        let mut bytes = Vec::new();
        let read = if self.gzip {
            MultiGzDecoder::new(file).take(LONGEST + 1).read_to_end(&mut bytes)
        } else {
            file.take(LONGEST + 1).read_to_end(&mut bytes)
        };
        read.map_err(cannot)?;
        if bytes.len() as u64 > LONGEST {
            return Err(Fault::of_file(&self.name, "is longer than 2 GiB", "give it in parts").into());
        }
        Ok(bytes)
    }

    /// The file itself; what gzip hides is put into a nameless temporary file first.
    fn plain_file(&self) -> Result<File, Fault> {
        let cannot = |e: std::io::Error| {
            Fault::of_file(&self.name, format!("cannot be read ({e})"), "give a file that can be read")
        };
        let file = self.file().map_err(cannot)?;
        if !self.gzip {
            return Ok(file);
        }
        let mut out = tempfile::tempfile().map_err(cannot)?;
        std::io::copy(&mut MultiGzDecoder::new(file).take(64 << 30), &mut out).map_err(cannot)?;
        out.seek(SeekFrom::Start(0)).map_err(cannot)?;
        Ok(out)
    }
}

/// Whether reading these files whole may be more than memory holds, so that it should be told what is wanted: a folder, or any
/// file that is no plain table.
pub fn needs_wanted(paths: &[PathBuf]) -> bool {
    paths.iter().any(|path| {
        path.is_dir()
            || File::open(path)
                .and_then(head_of)
                .is_ok_and(|head| !matches!(recognise("", &head), Ok(Format::Plain | Format::Epw) | Err(_)))
    })
}

/// Reads cloud files.
///
/// # Errors
/// Every fault of every file; files that do not belong together.
pub fn read(paths: &[PathBuf], wanted: &Wanted) -> Result<CloudTable, Faults> {
    let mut faults = Faults::default();
    let mut items = Vec::new();
    let mut left_out = Vec::new();
    for path in paths {
        if path.is_dir() {
            folder(path, &mut items, &mut left_out, &mut faults);
        } else {
            take(path, true, &mut items, &mut left_out, &mut faults);
        }
    }
    faults.or(())?;
    let label = match paths {
        [one] => one.display().to_string(),
        [first, rest @ ..] => format!("{} and {} more", first.display(), rest.len()),
        [] => return Err(Fault::of_file("", "no cloud file is named", "name one").into()),
    };
    let mut table = assemble(items, wanted, &label, &mut left_out)?;
    if !left_out.is_empty() {
        let shown: Vec<&str> = left_out.iter().take(5).map(String::as_str).collect();
        let more = if left_out.len() > 5 { format!(" and {} more", left_out.len() - 5) } else { String::new() };
        table.notes.push(format!("Left out, since no cloud was found in them: {}{more}.", shown.join(", ")));
    }
    Ok(CloudTable { file: label, ..table })
}

fn folder(path: &Path, items: &mut Vec<Item>, left_out: &mut Vec<String>, faults: &mut Faults) {
    let name = path.display().to_string();
    let refuse = |wrong: String| Fault::of_file(&name, wrong, "give a cloud file, or a folder of them");
    let entries = match std::fs::read_dir(path) {
        Ok(entries) => entries,
        Err(e) => return faults.0.push(refuse(format!("cannot be read ({e})"))),
    };
    let hidden = |p: &PathBuf| p.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.'));
    let mut paths: Vec<PathBuf> = entries.filter_map(|e| Some(e.ok()?.path())).take(MOST_FILES + 1).collect();
    paths.retain(|p| p.is_file() && !hidden(p));
    paths.sort();
    if paths.len() > MOST_FILES {
        return faults.0.push(refuse(format!("holds more than {MOST_FILES} files")));
    }
    let before = items.len();
    for path in &paths {
        take(path, false, items, left_out, faults);
    }
    if items.len() == before && faults.0.is_empty() {
        faults.0.push(refuse("holds no cloud file".to_owned()));
    }
}

/// Tells a file's format. What was only found in a folder may be something else, and is left out.
fn take(path: &Path, named: bool, items: &mut Vec<Item>, left_out: &mut Vec<String>, faults: &mut Faults) {
    let name = path.display().to_string();
    let cannot = |e: std::io::Error| {
        Faults::from(Fault::of_file(&name, format!("cannot be opened ({e})"), "give a file that can be read"))
    };
    let found = File::open(path).map_err(cannot).and_then(|f| Ok(item(&name, Content::Path(path.to_owned()), f)?));
    match found {
        Ok(Some(item)) => items.push(item),
        Ok(None) => match unzip(&name, path) {
            Ok(inside) if inside.is_empty() => {
                faults.0.push(Fault::of_file(
                    &name,
                    "holds no file",
                    "give a zip with NetCDF or other cloud files in it",
                ));
            }
            Ok(inside) => items.extend(inside),
            Err(found) => faults.0.extend(found.0),
        },
        Err(found) if named => faults.0.extend(found.0),
        Err(_) => left_out.push(path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()),
    }
}

fn head_of(reader: impl Read) -> std::io::Result<Vec<u8>> {
    let mut head = Vec::new();
    reader.take(HEAD as u64).read_to_end(&mut head)?;
    Ok(head)
}

/// The item of an open file; `None` for a zip archive.
fn item(name: &str, content: Content, mut file: File) -> Result<Option<Item>, Fault> {
    let cannot =
        |e: std::io::Error| Fault::of_file(name, format!("cannot be read ({e})"), "give a file that can be read");
    let head = head_of(&mut file).map_err(cannot)?;
    let mut format = recognise(name, &head)?;
    let gzip = format == Format::Gzip;
    if gzip {
        file.seek(SeekFrom::Start(0)).map_err(cannot)?;
        let head = head_of(MultiGzDecoder::new(file)).map_err(cannot)?;
        format = recognise(name, &head)?;
    }
    match format {
        Format::Zip if gzip => Err(Fault::of_file(name, "is a zip inside gzip", "unpack it once")),
        Format::Gzip => Err(Fault::of_file(name, "is gzip inside gzip", "unpack it once")),
        Format::Zip => Ok(None),
        format => Ok(Some(Item { name: name.to_owned(), content, format, gzip })),
    }
}

fn unzip(name: &str, path: &Path) -> Result<Vec<Item>, Faults> {
    let cannot =
        |e: std::io::Error| Fault::of_file(name, format!("cannot be opened ({e})"), "give a file that can be read");
    let mut file = File::open(path).map_err(cannot)?;
    let mut items = Vec::new();
    let mut faults = Faults::default();
    for entry in crate::input::zip::entries(name, &mut file)? {
        let inside = format!("{name}:{}", entry.name);
        let found = crate::input::zip::extract(name, &mut file, &entry).and_then(|out| {
            let again = out.try_clone().map_err(cannot)?;
            item(&inside, Content::Open(out), again)
        });
        match found {
            Ok(Some(item)) => items.push(item),
            Ok(None) => faults.0.push(Fault::of_file(&inside, "is a zip inside a zip", "unpack it once")),
            // A licence or a note beside the data is no fault.
            Err(fault) if fault.wrong.starts_with("is ") && entry.size < 1 << 20 => {}
            Err(fault) => faults.0.push(fault),
        }
    }
    faults.or(items)
}

fn assemble(items: Vec<Item>, wanted: &Wanted, label: &str, left_out: &mut Vec<String>) -> Result<CloudTable, Faults> {
    let mut faults = Faults::default();
    let kinds = |f: Format| match f {
        Format::NetCdf => 1,
        Format::Tiff | Format::Matrix => 2,
        Format::IsdLite | Format::IsdHistory | Format::Ghcnh | Format::Metar => 3,
        Format::Epw => 4,
        _ => 5,
    };
    // In company of data of another kind, plain tables are lists and notes.
    let some = |k: u8| items.iter().any(|i| kinds(i.format) == k);
    let present: Vec<u8> = (1..=4).filter(|k| some(*k)).collect();
    if let &[first, second, ..] = present.as_slice() {
        let of = |k: u8| items.iter().find(|i| kinds(i.format) == k).map(|i| i.name.clone()).unwrap_or_default();
        let wrong = format!("{} and {} are of different kinds", of(first), of(second));
        return Err(Fault::of_file(label, wrong, "give grids, stations and weather years apart").into());
    }
    let kind = present.first().copied().unwrap_or(5);
    let (mine, others): (Vec<Item>, Vec<Item>) = items.into_iter().partition(|i| kinds(i.format) == kind);
    left_out.extend(others.iter().map(|i| i.name.rsplit(['/', '\\']).next().unwrap_or(&i.name).to_owned()));
    match kind {
        1 => {
            let mut opened: Vec<Opened> = Vec::new();
            let alone = mine.len() == 1;
            for item in &mine {
                let found = item.plain_file().and_then(|file| match &item.content {
                    Content::Path(path) if !item.gzip => netcdf::open(&item.name, Bytes::Path(path)),
                    _ => netcdf::open(&item.name, Bytes::Open(file)),
                });
                match found {
                    Ok(Some(file)) => opened.push(file),
                    Ok(None) if alone => faults.0.push(netcdf::no_cloud(&item.name)),
                    Ok(None) => left_out.push(item.name.clone()),
                    Err(fault) => faults.0.push(fault),
                }
            }
            if opened.is_empty() && faults.0.is_empty() {
                faults.0.push(netcdf::no_cloud(label));
            }
            faults.or(())?;
            netcdf::read(&opened, wanted)
        }
        2 => {
            let mut all: Vec<Picture> = Vec::new();
            let tiff = mine.iter().any(|i| i.format == Format::Tiff);
            for item in &mine {
                let found = if item.format == Format::Tiff {
                    item.plain_file()
                        .and_then(|file| {
                            let bytes = file.metadata().map_or(u64::MAX, |m| m.len());
                            geotiff::read(&item.name, file, bytes)
                        })
                        .map_err(Faults::from)
                } else {
                    item.bytes().and_then(|b| matrix::read(&item.name, b)).map(|p| vec![p])
                };
                match found {
                    Ok(pictures) => all.extend(pictures),
                    Err(found) => faults.0.extend(found.0),
                }
            }
            faults.or(())?;
            pictures::table(&all, if tiff { "GeoTIFF" } else { "CSV matrix" }, wanted)
        }
        3 => stations(&mine, wanted, label),
        4 => weather_years(&mine, label),
        _ => {
            let mut all: Option<CloudTable> = None;
            for item in &mine {
                match (item.bytes().and_then(|b| plain::from_bytes(&item.name, b, wanted)), &mut all) {
                    (Err(found), _) => faults.0.extend(found.0),
                    (Ok(table), None) => all = Some(table),
                    (Ok(table), Some(all)) => join(all, table, &mut faults),
                }
            }
            match all {
                Some(table) => faults.or(table),
                None => Err(faults),
            }
        }
    }
}

fn stations(items: &[Item], wanted: &Wanted, label: &str) -> Result<CloudTable, Faults> {
    let mut faults = Faults::default();
    let mut history = History::default();
    for item in items.iter().filter(|i| i.format == Format::IsdHistory) {
        match item.bytes().and_then(|b| History::read(&item.name, b)) {
            Ok(found) => history.merge(found),
            Err(found) => faults.0.extend(found.0),
        }
    }
    let data: Vec<&Item> = items.iter().filter(|i| i.format != Format::IsdHistory).collect();
    if data.is_empty() && faults.0.is_empty() {
        let right = "give station files (ISD-Lite, GHCNh) together with it";
        faults.0.push(Fault::of_file(label, "is a list of stations without their reports", right));
    }
    let results: Vec<Result<Reports, Faults>> = data
        .par_iter()
        .map(|item| {
            let bytes = item.bytes()?;
            match item.format {
                Format::IsdLite => isd_lite::read(&item.name, &bytes, &history, wanted),
                Format::Ghcnh => ghcnh::read(&item.name, &bytes, wanted),
                _ => metar::read(&item.name, bytes, wanted),
            }
        })
        .collect();
    let mut all = Reports::default();
    for result in results {
        match result {
            Ok(reports) => all.merge(reports),
            Err(found) => faults.0.extend(found.0),
        }
        faults.keep_short();
    }
    faults.or(())?;
    let has = |f: Format| data.iter().any(|i| i.format == f);
    let (mut formats, mut variables) = (Vec::new(), Vec::new());
    for (format, name, variable) in [
        (Format::IsdLite, "NOAA ISD-Lite", "sky condition (columns 44 to 49)"),
        (Format::Ghcnh, "GHCN hourly (GHCNh)", "sky_cover"),
        (Format::Metar, "METAR reports", "cloud groups"),
    ] {
        if has(format) {
            formats.push(name);
            variables.push(variable);
        }
    }
    let table = all.table(label, &formats.join(", "), &variables.join(", "));
    if table.covers().next().is_none() {
        let right = if wanted.day.is_some() { "give reports of the season" } else { "give reports with sky cover" };
        return Err(Fault::of_file(label, "holds no report of the sky", right).into());
    }
    Ok(table)
}

fn weather_years(items: &[Item], label: &str) -> Result<CloudTable, Faults> {
    let mut faults = Faults::default();
    let mut all: Option<CloudTable> = None;
    for item in items {
        match (item.bytes().and_then(|b| epw::from_bytes(&item.name, &b)), &mut all) {
            (Err(found), _) => faults.0.extend(found.0),
            (Ok(table), None) => all = Some(table),
            (Ok(table), Some(all)) => {
                let met =
                    |n: &super::CloudNode| table.nodes.iter().any(|m| m.lat_deg == n.lat_deg && m.lon_deg == n.lon_deg);
                if all.nodes.iter().any(met) {
                    let wrong = format!("{} is a second year of one station", item.name);
                    faults.0.push(Fault::of_file(label, wrong, "leave one file for each station"));
                    continue;
                }
                join(all, table, &mut faults);
            }
        }
    }
    match all {
        Some(table) => faults.or(table),
        None => Err(faults),
    }
}

/// Puts a table of the same layout to another.
fn join(all: &mut CloudTable, table: CloudTable, faults: &mut Faults) {
    let differs = |what: &str| {
        let wrong = format!("{what} than {}", all.file);
        Fault::of_file(&table.file, wrong, "give files of one kind and layout together")
    };
    if table.kind != all.kind {
        return faults.0.push(differs("holds another kind of cloud amount"));
    }
    let known: std::collections::HashSet<(u64, u64)> =
        all.nodes.iter().map(|n| (n.lat_deg.to_bits(), n.lon_deg.to_bits())).collect();
    if let Some(node) = table.nodes.iter().find(|n| known.contains(&(n.lat_deg.to_bits(), n.lon_deg.to_bits()))) {
        let place = super::place_words(node.lat_deg, node.lon_deg);
        let wrong = format!("holds {place}, as {} does", all.file);
        return faults.0.push(Fault::of_file(&table.file, wrong, "give each place in one file"));
    }
    match (&mut all.series, table.series) {
        (CloudSeries::Days(a), CloudSeries::Days(b)) => a.extend(b),
        (CloudSeries::Means(a), CloudSeries::Means(b)) => a.extend(b),
        _ => {
            let wrong = format!("holds means where {} holds day records, or the reverse", all.file);
            return faults.0.push(Fault::of_file(&table.file, wrong, "give files of one layout together"));
        }
    }
    // What both hold together is told from their figures.
    all.held = None;
    all.nodes.extend(table.nodes);
    all.sources.extend(table.sources.into_iter().filter(|s| !all.sources.contains(s)).collect::<Vec<_>>());
    all.sources.truncate(5);
    all.invented |= table.invented;
    all.missing += table.missing;
    for note in table.notes {
        if !all.notes.contains(&note) {
            all.notes.push(note);
        }
    }
}
