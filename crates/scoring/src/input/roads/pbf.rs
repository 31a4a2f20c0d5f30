//! The packed form of OpenStreetMap: blobs of protocol buffers, each packed by itself.
//!
//! # Source
//! OpenStreetMap wiki, "PBF Format" (file structure, limits of 64 KiB and 32 MiB, fields of the messages), and the protocol
//! buffers encoding guide (varints, zigzag, wire types). Both from memory; held against files that osmium writes.

use std::io::Read;

use flate2::read::ZlibDecoder;

/// Longest header of a blob and longest blob, packed or not, bytes.
const LONGEST_HEADER: usize = 64 << 10;
const LONGEST_BLOB: usize = 32 << 20;
/// Most strings of a block and most nodes of its ways: writers stay far below both.
const MOST_STRINGS: usize = 1 << 20;
const MOST_REFS: usize = 4 << 20;

/// A field of a message.
enum Value<'a> {
    Number(u64),
    Bytes(&'a [u8]),
    Other,
}

/// A message that is read field by field.
struct Message<'a>(&'a [u8]);

const CUT: &str = "a message is cut off";

impl<'a> Message<'a> {
    fn varint(&mut self) -> Result<u64, &'static str> {
        let mut value = 0;
        for shift in (0..64).step_by(7) {
            let (&byte, rest) = self.0.split_first().ok_or(CUT)?;
            self.0 = rest;
            value |= u64::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Ok(value);
            }
        }
        Err("a number has more than ten bytes")
    }

    fn take(&mut self, length: u64) -> Result<&'a [u8], &'static str> {
        let length = usize::try_from(length).map_err(|_| CUT)?;
        if length > self.0.len() {
            return Err(CUT);
        }
        let (taken, rest) = self.0.split_at(length);
        self.0 = rest;
        Ok(taken)
    }

    fn field(&mut self) -> Result<Option<(u64, Value<'a>)>, &'static str> {
        if self.0.is_empty() {
            return Ok(None);
        }
        let key = self.varint()?;
        let value = match key & 7 {
            0 => Value::Number(self.varint()?),
            1 => self.take(8).map(|_| Value::Other)?,
            2 => {
                let length = self.varint()?;
                Value::Bytes(self.take(length)?)
            }
            5 => self.take(4).map(|_| Value::Other)?,
            _ => return Err("a field has an unknown type"),
        };
        Ok(Some((key >> 3, value)))
    }

    /// The next number of a packed list.
    fn next(&mut self) -> Result<Option<u64>, &'static str> {
        if self.0.is_empty() { Ok(None) } else { self.varint().map(Some) }
    }

    /// The next of a packed list of signed numbers, zigzag.
    fn next_signed(&mut self) -> Result<Option<i64>, &'static str> {
        Ok(self.next()?.map(signed))
    }
}

fn signed(v: u64) -> i64 {
    (v >> 1) as i64 ^ -((v & 1) as i64)
}

/// A blob as it lies in the file.
pub(super) struct Blob {
    /// Its number, from 1.
    pub number: u64,
    /// Whether it is the file's header.
    pub header: bool,
    bytes: Vec<u8>,
}

/// The blobs of a file, one after the other.
pub(super) struct Blobs<R> {
    reader: R,
    number: u64,
}

impl<R: Read> Blobs<R> {
    pub fn new(reader: R) -> Blobs<R> {
        Blobs { reader, number: 0 }
    }

    /// The next blob; `None` at the end.
    pub fn next(&mut self) -> Result<Option<Blob>, String> {
        let mut length = [0; 4];
        let mut got = 0;
        while got < 4 {
            match self.reader.read(&mut length[got..]).map_err(|e| format!("cannot be read ({e})"))? {
                0 if got == 0 => return Ok(None),
                0 => return Err(format!("ends inside blob {}", self.number + 1)),
                n => got += n,
            }
        }
        self.number += 1;
        let number = self.number;
        let wrong = |why: &str| format!("blob {number}: {why}");
        let header = self.bytes(u32::from_be_bytes(length) as usize, LONGEST_HEADER)?;
        let (mut kind, mut size) = (&[][..], 0);
        let mut message = Message(&header);
        while let Some((number, value)) = message.field().map_err(wrong)? {
            match (number, value) {
                (1, Value::Bytes(bytes)) => kind = bytes,
                (3, Value::Number(n)) => size = n as usize,
                _ => {}
            }
        }
        let (is_header, is_data) = (kind == b"OSMHeader", kind == b"OSMData");
        if number == 1 && !is_header {
            return Err("does not begin as an OpenStreetMap extract does".to_owned());
        }
        let bytes = self.bytes(size, LONGEST_BLOB)?;
        // Other kinds are to be passed over.
        Ok(Some(Blob { number, header: is_header, bytes: if is_header || is_data { bytes } else { Vec::new() } }))
    }

    fn bytes(&mut self, length: usize, longest: usize) -> Result<Vec<u8>, String> {
        if length > longest {
            return Err(format!(
                "blob {}: {length} bytes, more than the {longest} that the format allows",
                self.number
            ));
        }
        let mut bytes = Vec::new();
        let read = (&mut self.reader).take(length as u64).read_to_end(&mut bytes);
        read.map_err(|e| format!("cannot be read ({e})"))?;
        if bytes.len() < length { Err(format!("ends inside blob {}", self.number)) } else { Ok(bytes) }
    }
}

impl Blob {
    /// How many bytes it takes as it lies in the file.
    pub fn packed_bytes(&self) -> usize {
        self.bytes.len()
    }

    /// What is in it, unpacked; not more than the format allows.
    pub fn unpacked(&self) -> Result<Vec<u8>, String> {
        let wrong = |why: &str| format!("blob {}: {why}", self.number);
        let other = |name: &str| wrong(&format!("it is packed with {name}; write the extract with zlib"));
        let mut message = Message(&self.bytes);
        let (mut raw, mut packed, mut size) = (None, None, 0);
        while let Some((number, value)) = message.field().map_err(wrong)? {
            match (number, value) {
                (1, Value::Bytes(bytes)) => raw = Some(bytes),
                (2, Value::Number(n)) => size = n as usize,
                (3, Value::Bytes(bytes)) => packed = Some(bytes),
                (4, Value::Bytes(_)) => return Err(other("LZMA")),
                (5, Value::Bytes(_)) => return Err(other("bzip2")),
                (6, Value::Bytes(_)) => return Err(other("LZ4")),
                (7, Value::Bytes(_)) => return Err(other("Zstandard")),
                _ => {}
            }
        }
        let Some(packed) = packed else { return Ok(raw.unwrap_or_default().to_vec()) };
        if size > LONGEST_BLOB {
            return Err(wrong(&format!(
                "unpacks to {size} bytes, more than the {LONGEST_BLOB} that the format allows"
            )));
        }
        let mut bytes = Vec::new();
        let read = ZlibDecoder::new(packed).take(size as u64 + 1).read_to_end(&mut bytes);
        read.map_err(|e| wrong(&format!("cannot be unpacked ({e})")))?;
        if bytes.len() == size { Ok(bytes) } else { Err(wrong("it does not unpack to the length that it gives")) }
    }
}

/// Refuses a file that needs what is not understood here.
pub(super) fn check_header(block: &[u8]) -> Result<(), String> {
    let mut message = Message(block);
    while let Some((number, value)) = message.field()? {
        if let (4, Value::Bytes(feature)) = (number, value)
            && !matches!(feature, b"OsmSchema-V0.6" | b"DenseNodes")
        {
            return Err(format!("it needs \"{}\", which is not understood", String::from_utf8_lossy(feature)));
        }
    }
    Ok(())
}

/// A block of data, its strings apart.
pub(super) struct Block<'a> {
    strings: Vec<&'a [u8]>,
    groups: Vec<&'a [u8]>,
    granularity: i64,
    lat_offset: i64,
    lon_offset: i64,
}

/// A way: its nodes, and its tags.
pub(super) struct Way<'b> {
    pub refs: Vec<i64>,
    tags: Vec<(&'b str, &'b str)>,
}

impl<'b> Way<'b> {
    pub fn tag(&self, key: &str) -> Option<&'b str> {
        self.tags.iter().find(|t| t.0 == key).map(|t| t.1)
    }
}

impl<'a> Block<'a> {
    pub fn of(bytes: &'a [u8]) -> Result<Block<'a>, String> {
        let mut block =
            Block { strings: Vec::new(), groups: Vec::new(), granularity: 100, lat_offset: 0, lon_offset: 0 };
        let mut message = Message(bytes);
        while let Some((number, value)) = message.field()? {
            match (number, value) {
                (1, Value::Bytes(table)) => {
                    let mut table = Message(table);
                    while let Some((number, value)) = table.field()? {
                        if let (1, Value::Bytes(string)) = (number, value) {
                            block.strings.push(string);
                        }
                        if block.strings.len() > MOST_STRINGS {
                            return Err("it holds more strings than any extract does".to_owned());
                        }
                    }
                }
                (2, Value::Bytes(group)) => block.groups.push(group),
                (17, Value::Number(n)) => block.granularity = n as i64,
                (19, Value::Number(n)) => block.lat_offset = n as i64,
                (20, Value::Number(n)) => block.lon_offset = n as i64,
                _ => {}
            }
        }
        Ok(block)
    }

    fn string(&self, number: u64) -> Result<&'a str, String> {
        let bytes = usize::try_from(number).ok().and_then(|n| self.strings.get(n)).copied();
        Ok(std::str::from_utf8(bytes.ok_or("a tag names a string that is not there")?).unwrap_or_default())
    }

    /// Latitude or longitude in ten millionths of a degree.
    fn place(&self, offset: i64, value: i64, most: i64) -> Result<i32, String> {
        let nano = value.checked_mul(self.granularity).and_then(|v| v.checked_add(offset)).map(|v| v / 100);
        let fits = nano.filter(|v| v.abs() <= most * 10_000_000);
        fits.map(|v| v as i32).ok_or_else(|| "a node is not on the globe".to_owned())
    }

    /// Hands over number and place of every node.
    pub fn nodes(&self, mut take: impl FnMut(i64, [i32; 2])) -> Result<(), String> {
        for group in &self.groups {
            let mut group = Message(group);
            while let Some((number, value)) = group.field()? {
                match (number, value) {
                    (1, Value::Bytes(node)) => {
                        let (mut id, mut lat, mut lon) = (0, 0, 0);
                        let mut node = Message(node);
                        while let Some((number, value)) = node.field()? {
                            match (number, value) {
                                (1, Value::Number(n)) => id = signed(n),
                                (8, Value::Number(n)) => lat = signed(n),
                                (9, Value::Number(n)) => lon = signed(n),
                                _ => {}
                            }
                        }
                        take(id, [self.place(self.lat_offset, lat, 90)?, self.place(self.lon_offset, lon, 180)?]);
                    }
                    (2, Value::Bytes(dense)) => self.dense(dense, &mut take)?,
                    _ => {}
                }
            }
        }
        Ok(())
    }

    fn dense(&self, dense: &[u8], take: &mut impl FnMut(i64, [i32; 2])) -> Result<(), String> {
        let mut lists = [Message(&[]), Message(&[]), Message(&[])];
        let mut dense = Message(dense);
        while let Some((number, value)) = dense.field()? {
            match (number, value) {
                (1, Value::Bytes(list)) => lists[0] = Message(list),
                (8, Value::Bytes(list)) => lists[1] = Message(list),
                (9, Value::Bytes(list)) => lists[2] = Message(list),
                _ => {}
            }
        }
        let [ids, lats, lons] = &mut lists;
        // Each list holds steps from node to node.
        let (mut id, mut lat, mut lon) = (0_i64, 0_i64, 0_i64);
        while let Some(step) = ids.next_signed()? {
            let (Some(up), Some(across)) = (lats.next_signed()?, lons.next_signed()?) else {
                return Err("nodes have fewer places than numbers".to_owned());
            };
            (id, lat, lon) = (id.wrapping_add(step), lat.wrapping_add(up), lon.wrapping_add(across));
            take(id, [self.place(self.lat_offset, lat, 90)?, self.place(self.lon_offset, lon, 180)?]);
        }
        Ok(())
    }

    /// Hands over every way that `wanted` takes by its tags.
    pub fn ways(&self, wanted: impl Fn(&Way<'a>) -> bool, mut take: impl FnMut(Way<'a>)) -> Result<(), String> {
        let mut refs = 0;
        for group in &self.groups {
            let mut group = Message(group);
            while let Some((number, value)) = group.field()? {
                let (3, Value::Bytes(way)) = (number, value) else { continue };
                let (mut keys, mut values, mut nodes) = (Message(&[]), Message(&[]), Message(&[]));
                let mut message = Message(way);
                while let Some((number, value)) = message.field()? {
                    match (number, value) {
                        (2, Value::Bytes(list)) => keys = Message(list),
                        (3, Value::Bytes(list)) => values = Message(list),
                        (8, Value::Bytes(list)) => nodes = Message(list),
                        _ => {}
                    }
                }
                let mut way = Way { refs: Vec::new(), tags: Vec::new() };
                while let (Some(key), Some(value)) = (keys.next()?, values.next()?) {
                    way.tags.push((self.string(key)?, self.string(value)?));
                }
                if !wanted(&way) {
                    continue;
                }
                let mut id = 0_i64;
                while let Some(step) = nodes.next_signed()? {
                    id = id.wrapping_add(step);
                    way.refs.push(id);
                    refs += 1;
                    if refs > MOST_REFS {
                        return Err("its ways hold more nodes than any extract's do".to_owned());
                    }
                }
                take(way);
            }
        }
        Ok(())
    }
}
