//! Zip archives, as the stores send several files in one: stored or deflated, each taken out when it is read.
//!
//! # Source
//! PKWARE APPNOTE.TXT: end of central directory, central directory, local headers, the ZIP64 extra field.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};

use crate::fault::Fault;

/// Files in one archive at most.
const MOST: usize = 100_000;
/// Bytes that all files of an archive may take once unpacked; no memory, but room on disk.
const LARGEST: u64 = 64 << 30;

/// A file inside.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Entry {
    pub name: String,
    method: u16,
    packed: u64,
    pub size: u64,
    offset: u64,
}

fn u16_at(b: &[u8], i: usize) -> Option<u64> {
    Some(u64::from(u16::from_le_bytes(b.get(i..i + 2)?.try_into().ok()?)))
}

fn u32_at(b: &[u8], i: usize) -> Option<u64> {
    Some(u64::from(u32::from_le_bytes(b.get(i..i + 4)?.try_into().ok()?)))
}

fn u64_at(b: &[u8], i: usize) -> Option<u64> {
    Some(u64::from_le_bytes(b.get(i..i + 8)?.try_into().ok()?))
}

/// The files of an archive, folders left out.
///
/// # Errors
/// One fault for an archive that is broken, encrypted or too large.
pub(crate) fn entries(name: &str, file: &mut (impl Read + Seek)) -> Result<Vec<Entry>, Fault> {
    let broken = |what: &str| {
        Fault::of_file(
            name,
            format!("is not a readable zip archive ({what})"),
            "fetch it again: it may have been cut short",
        )
    };
    let cut = |_: io::Error| broken("it ends too early");
    let length = file.seek(SeekFrom::End(0)).map_err(cut)?;
    let tail = length.min(66_000);
    file.seek(SeekFrom::Start(length - tail)).map_err(cut)?;
    let mut end = vec![0; tail as usize];
    file.read_exact(&mut end).map_err(cut)?;
    let at = end.windows(4).rposition(|w| w == b"PK\x05\x06").ok_or_else(|| broken("it has no directory"))?;
    let number = |v: Option<u64>| v.ok_or_else(|| broken("its directory is cut"));
    let mut count = number(u16_at(&end, at + 10))?;
    let mut size = number(u32_at(&end, at + 12))?;
    let mut start = number(u32_at(&end, at + 16))?;
    if count == 0xffff || size == 0xffff_ffff || start == 0xffff_ffff {
        // ZIP64: a locator of twenty bytes stands before.
        let locator = at.checked_sub(20).filter(|&l| end[l..].starts_with(b"PK\x06\x07"));
        let locator = locator.ok_or_else(|| broken("its large directory is missing"))?;
        let record = number(u64_at(&end, locator + 8))?;
        let mut wide = [0; 56];
        file.seek(SeekFrom::Start(record)).and_then(|_| file.read_exact(&mut wide)).map_err(cut)?;
        (count, size, start) = (number(u64_at(&wide, 32))?, number(u64_at(&wide, 40))?, number(u64_at(&wide, 48))?);
    }
    if count > MOST as u64 || size > length || start.checked_add(size).is_none_or(|e| e > length) {
        return Err(broken("its directory lies outside the file"));
    }
    let mut directory = vec![0; size as usize];
    file.seek(SeekFrom::Start(start)).and_then(|_| file.read_exact(&mut directory)).map_err(cut)?;
    let mut entries = Vec::new();
    let mut rest = directory.as_slice();
    let mut total = 0_u64;
    for _ in 0..count {
        if !rest.starts_with(b"PK\x01\x02") {
            return Err(broken("its directory is damaged"));
        }
        let field = |i| number(u16_at(rest, i));
        let (flags, method) = (field(8)?, field(10)? as u16);
        let (mut packed, mut size, mut offset) =
            (number(u32_at(rest, 20))?, number(u32_at(rest, 24))?, number(u32_at(rest, 42))?);
        let (names, extras, comments) = (field(28)? as usize, field(30)? as usize, field(32)? as usize);
        let text = rest.get(46..46 + names).ok_or_else(|| broken("its directory is cut"))?;
        let inside = String::from_utf8_lossy(text).into_owned();
        let mut extra = rest.get(46 + names..46 + names + extras).ok_or_else(|| broken("its directory is cut"))?;
        while let (Some(id), Some(len)) = (u16_at(extra, 0), u16_at(extra, 2)) {
            let body = extra.get(4..4 + len as usize).ok_or_else(|| broken("its directory is cut"))?;
            if id == 1 {
                let mut place = 0;
                for value in [&mut size, &mut packed, &mut offset] {
                    if *value == 0xffff_ffff {
                        *value = number(u64_at(body, place))?;
                        place += 8;
                    }
                }
            }
            extra = &extra[4 + len as usize..];
        }
        rest = rest.get(46 + names + extras + comments..).ok_or_else(|| broken("its directory is cut"))?;
        if inside.ends_with('/') {
            continue;
        }
        if flags & 1 == 1 {
            return Err(Fault::of_file(name, format!("{inside} in it is encrypted"), "unpack it first"));
        }
        // Deflate cannot pack more than a thousandfold.
        let fits = offset.checked_add(packed).is_some_and(|e| e <= length) && size / 1100 <= packed.saturating_add(64);
        total = total.saturating_add(size);
        if !fits || total > LARGEST {
            return Err(broken(&format!("{inside} claims {size} bytes")));
        }
        entries.push(Entry { name: inside, method, packed, size, offset });
    }
    Ok(entries)
}

/// Takes a file out, into a nameless temporary file.
///
/// # Errors
/// One fault for a file that is damaged or packed in a way not read.
pub(crate) fn extract(name: &str, file: &mut (impl Read + Seek), entry: &Entry) -> Result<File, Fault> {
    let wrong = |what: String| {
        Fault::of_file(name, format!("{} in it {what}", entry.name), "fetch it again, or unpack it first")
    };
    let cut = |e: io::Error| wrong(format!("cannot be unpacked ({e})"));
    let mut header = [0; 30];
    file.seek(SeekFrom::Start(entry.offset)).and_then(|_| file.read_exact(&mut header)).map_err(cut)?;
    if !header.starts_with(b"PK\x03\x04") {
        return Err(wrong("has no header".to_owned()));
    }
    let skip = u16_at(&header, 26).unwrap_or(0) + u16_at(&header, 28).unwrap_or(0);
    file.seek(SeekFrom::Start(entry.offset + 30 + skip)).map_err(cut)?;
    let packed = io::Read::take(&mut *file, entry.packed);
    let mut out = tempfile::tempfile().map_err(cut)?;
    let written = match entry.method {
        0 => io::copy(&mut packed.take(entry.size), &mut out),
        8 => io::copy(&mut flate2::read::DeflateDecoder::new(packed).take(entry.size + 1), &mut out),
        other => return Err(wrong(format!("is packed by method {other}; deflate is read"))),
    };
    let written = written.map_err(cut)?;
    if written != entry.size {
        return Err(wrong(format!("has {written} bytes, not the {} it claims", entry.size)));
    }
    out.flush().and_then(|()| out.seek(SeekFrom::Start(0))).map_err(cut)?;
    Ok(out)
}
