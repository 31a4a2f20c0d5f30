//! Arrays with names, behind a trait of ours: the only file that knows the NetCDF library.
//!
//! Files are read by ranges, not mapped into memory: a mapped file that shrinks would end the program, and its pages would count
//! as our memory.

use std::fs::File;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;

use hdf5_reader::Hdf5File;
use hdf5_reader::group::Group;
use netcdf_reader::{
    BlockCacheStorage, DynStorage, FileStorage, NcAttrValue, NcFile, NcFormat, NcGroup, NcOpenOptions, NcSliceInfo,
    NcSliceInfoElem, NcType,
};

/// Most bytes that one chunk may take once unpacked; a chunk of the whole globe at 0.1° in double precision has 52 MB.
const LARGEST_CHUNK: usize = 128 << 20;
/// Most bytes of one read.
const LARGEST_READ: usize = 256 << 20;
/// Memory for chunks already unpacked.
const CACHE: usize = 64 << 20;
/// Blocks of a classic file or of metadata that are kept.
const BLOCK: usize = 64 << 10;
/// Most variables that a file may list.
const MOST_VARIABLES: usize = 20_000;
/// Groups are looked into this deep.
const DEEPEST: usize = 8;
/// Most groups that a file may hold, and how deep they may lie.
const MOST_GROUPS: usize = 1000;
const DEEPEST_GROUP: usize = 32;

/// A number or a text that describes a variable or a file.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Attribute {
    Text(String),
    Numbers(Vec<f64>),
}

/// A dimension.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Dimension {
    pub name: String,
    pub size: u64,
}

/// A variable, with the path of its groups.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Variable {
    /// Path, such as `tcc` or `Cloud_Mask_Fraction/Mean`.
    pub path: String,
    pub dimensions: Vec<Dimension>,
    pub is_text: bool,
    /// Bytes of one stored number.
    pub size: u64,
    pub attributes: Vec<(String, Attribute)>,
}

impl Variable {
    pub fn attribute(&self, name: &str) -> Option<&Attribute> {
        self.attributes.iter().find(|(n, _)| n == name).map(|(_, a)| a)
    }

    pub fn text(&self, name: &str) -> Option<&str> {
        match self.attribute(name)? {
            Attribute::Text(text) => Some(text.trim()),
            Attribute::Numbers(_) => None,
        }
    }

    pub fn numbers(&self, name: &str) -> Option<&[f64]> {
        match self.attribute(name)? {
            Attribute::Numbers(numbers) => Some(numbers),
            Attribute::Text(_) => None,
        }
    }

    /// The name without its groups.
    pub fn name(&self) -> &str {
        self.path.rsplit('/').next().unwrap_or(&self.path)
    }
}

/// A file of named arrays.
pub(super) trait ArrayFile: Send + Sync {
    /// The format's name.
    fn format(&self) -> &'static str;
    /// All variables of all groups.
    fn variables(&self) -> &[Variable];
    /// The file's own attributes.
    fn attributes(&self) -> &[(String, Attribute)];
    /// A box of a variable as stored, packed numbers unpacked by nobody: start and count along each dimension.
    ///
    /// # Errors
    /// The reason in words.
    fn read(&self, path: &str, start: &[u64], count: &[u64]) -> Result<Vec<f64>, String>;
}

/// Where a file's bytes are.
pub(super) enum Bytes<'a> {
    Path(&'a Path),
    Open(File),
}

/// Opens a NetCDF file, classic or NetCDF-4.
///
/// # Errors
/// The reason in words.
pub(super) fn open(bytes: Bytes<'_>) -> Result<Box<dyn ArrayFile>, String> {
    guarded(|| {
        let storage: DynStorage = match bytes {
            Bytes::Path(path) => Arc::new(FileStorage::open(path).map_err(|e| e.to_string())?),
            Bytes::Open(file) => Arc::new(FileStorage::from_file(file).map_err(|e| e.to_string())?),
        };
        let storage: DynStorage = Arc::new(BlockCacheStorage::new(storage, BLOCK, 64));
        let options = NcOpenOptions {
            chunk_cache_bytes: CACHE,
            max_chunk_bytes: LARGEST_CHUNK,
            max_read_bytes: LARGEST_READ,
            max_object_header_bytes: 8 << 20,
            ..NcOpenOptions::default()
        };
        let file = NcFile::from_storage_with_options(storage.clone(), options).map_err(|e| e.to_string())?;
        if matches!(file.format(), NcFormat::Nc4 | NcFormat::Nc4Classic) {
            hold_groups_finite(storage)?;
        }
        let root = file.root_group().map_err(|e| e.to_string())?;
        let mut variables = Vec::new();
        gather(root, "", 0, &mut variables)?;
        let attributes = root.attributes.iter().filter_map(|a| Some((a.name.clone(), attribute(&a.value)?))).collect();
        Ok(Box::new(Library { file, variables, attributes }) as Box<dyn ArrayFile>)
    })
}

/// Refuses groups that hold themselves, or too many: the library follows them without end, down to the end of the stack.
fn hold_groups_finite(storage: DynStorage) -> Result<(), String> {
    fn walk(group: &Group, above: &mut Vec<u64>, count: &mut usize) -> Result<(), String> {
        for inner in group.groups().map_err(|e| e.to_string())? {
            *count += 1;
            if above.contains(&inner.address()) {
                return Err("one of its groups holds itself".to_owned());
            }
            if *count > MOST_GROUPS || above.len() > DEEPEST_GROUP {
                return Err(format!(
                    "it has more than {MOST_GROUPS} groups, or more than {DEEPEST_GROUP} within each other"
                ));
            }
            above.push(inner.address());
            walk(&inner, above, count)?;
            above.pop();
        }
        Ok(())
    }
    let file = Hdf5File::from_storage(storage).map_err(|e| e.to_string())?;
    let root = file.root_group().map_err(|e| e.to_string())?;
    walk(&root, &mut vec![root.address()], &mut 0)
}

/// The library promises not to panic; a file from anywhere is no place to take its word.
fn guarded<T>(work: impl FnOnce() -> Result<T, String>) -> Result<T, String> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err("its structure contradicts itself".to_owned()))
}

fn gather(group: &NcGroup, path: &str, depth: usize, out: &mut Vec<Variable>) -> Result<(), String> {
    for variable in &group.variables {
        if out.len() >= MOST_VARIABLES {
            return Err(format!("it lists more than {MOST_VARIABLES} variables"));
        }
        let name = variable.name.rsplit('/').next().unwrap_or(&variable.name);
        out.push(Variable {
            path: if path.is_empty() { name.to_owned() } else { format!("{path}/{name}") },
            dimensions: variable
                .dimensions
                .iter()
                .map(|d| Dimension { name: d.name.rsplit('/').next().unwrap_or(&d.name).to_owned(), size: d.size })
                .collect(),
            is_text: !is_number(&variable.dtype),
            size: variable.dtype.size().map_or(8, |s| s as u64),
            attributes: variable
                .attributes
                .iter()
                .filter_map(|a| Some((a.name.clone(), attribute(&a.value)?)))
                .collect(),
        });
    }
    if depth < DEEPEST {
        for inner in &group.groups {
            let name = inner.name.rsplit('/').next().unwrap_or(&inner.name);
            let path = if path.is_empty() { name.to_owned() } else { format!("{path}/{name}") };
            gather(inner, &path, depth + 1, out)?;
        }
    }
    Ok(())
}

fn is_number(kind: &NcType) -> bool {
    matches!(
        kind,
        NcType::Byte
            | NcType::Short
            | NcType::Int
            | NcType::Float
            | NcType::Double
            | NcType::UByte
            | NcType::UShort
            | NcType::UInt
            | NcType::Int64
            | NcType::UInt64
    )
}

fn attribute(value: &NcAttrValue) -> Option<Attribute> {
    if let NcAttrValue::Strings(many) = value {
        return Some(Attribute::Text(many.join(" ")));
    }
    if let Some(text) = value.as_string() {
        return Some(Attribute::Text(text.trim_end_matches('\0').to_owned()));
    }
    value.as_f64_vec().map(Attribute::Numbers)
}

struct Library {
    file: NcFile,
    variables: Vec<Variable>,
    attributes: Vec<(String, Attribute)>,
}

impl ArrayFile for Library {
    fn format(&self) -> &'static str {
        match self.file.format() {
            NcFormat::Classic => "NetCDF classic (CDF-1)",
            NcFormat::Offset64 => "NetCDF classic (CDF-2, 64-bit offsets)",
            NcFormat::Cdf5 => "NetCDF classic (CDF-5)",
            NcFormat::Nc4 => "NetCDF-4 (HDF5)",
            NcFormat::Nc4Classic => "NetCDF-4 (HDF5, classic model)",
        }
    }

    fn variables(&self) -> &[Variable] {
        &self.variables
    }

    fn attributes(&self) -> &[(String, Attribute)] {
        &self.attributes
    }

    fn read(&self, path: &str, start: &[u64], count: &[u64]) -> Result<Vec<f64>, String> {
        let values = count.iter().try_fold(1_u64, |n, c| n.checked_mul(*c));
        if values.is_none_or(|n| n.saturating_mul(8) > LARGEST_READ as u64) {
            return Err("it asks for more at once than is reasonable".to_owned());
        }
        let element = |(s, c): (&u64, &u64)| NcSliceInfoElem::Slice { start: *s, end: s.saturating_add(*c), step: 1 };
        let selection = NcSliceInfo { selections: start.iter().zip(count).map(element).collect() };
        let array = guarded(|| {
            let read = if start.is_empty() {
                self.file.read_variable_as_f64(path)
            } else {
                self.file.read_variable_slice_as_f64(path, &selection)
            };
            read.map_err(|e| e.to_string())
        })?;
        let values: Vec<f64> = array.into_iter().collect();
        if Some(values.len() as u64) != count.iter().copied().reduce(|a, b| a * b).or(Some(1)) {
            return Err("a read gave another number of values than it should".to_owned());
        }
        Ok(values)
    }
}

#[cfg(test)]
mod tests {
    use super::super::cf_time::CfTime;
    use super::*;

    /// Output of a climate model (CESM2) as the package ESMValCore 2.13.0 ships it for its tests; reference: xarray 2026.9.0 with
    /// cftime. It holds no cloud: the arrays, the fill value and the time axis are what is held to it.
    #[test]
    fn a_file_of_a_climate_model_is_read_as_xarray_reads_it() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/clouds/archives/cesm2-surface.nc");
        let file = open(Bytes::Path(Path::new(path))).unwrap();
        let all = file.read("TREFHT", &[0, 0, 0], &[12, 4, 8]).unwrap();
        assert_eq!((all[0], all[11 * 32 + 31]), (276.259_735_107_421_9, 274.469_329_833_984_4));
        assert!((all.iter().sum::<f64>() / 384.0 - 284.226_946_870_485_96).abs() < 1e-9);
        let some = file.read("TREFHT", &[2, 1, 4], &[3, 2, 4]).unwrap();
        assert!((some.iter().sum::<f64>() / 24.0 - 295.741_505_740_755_2).abs() < 1e-4);
        assert_eq!(file.read("lat", &[0], &[4]).unwrap()[1], -file.read("lat", &[0], &[4]).unwrap()[2]);
        let variable = |name: &str| file.variables().iter().find(|v| v.path == name).unwrap();
        assert_eq!(variable("TREFHT").numbers("_FillValue"), Some(&[-900.0][..]));
        assert_eq!(variable("TREFHT").text("units"), Some("K"));
        let sizes: Vec<_> = variable("TREFHT").dimensions.iter().map(|d| (d.name.as_str(), d.size)).collect();
        assert_eq!(sizes, [("time", 12), ("lat", 4), ("lon", 8)]);
        let time = variable("time");
        let axis = CfTime::parse(time.text("units").unwrap(), time.text("calendar")).unwrap();
        let stamps = file.read("time", &[0], &[12]).unwrap();
        // 1 January and 1 December 2000, 0 h, of a calendar without leap days.
        assert_eq!(axis.minutes(stamps[0]), Some(10_957 * 1440));
        assert_eq!(axis.minutes(stamps[11]), Some((10_957 + 335) * 1440));
    }
}
