//! A face cut down to some of its glyphs: a TrueType file of its own for embedding.
//!
//! Source of the layouts of tables: OpenType specification 1.9 (ISO/IEC 14496-22), chapters `glyf`, `loca`, `hmtx`, `head`, `cmap`, `post`.
//! Glyphs are numbered anew in the order given, so that a PDF can use their new numbers as character codes; glyphs that a kept one is
//! composed of come along after them. Hinting and layout rules stay behind: the text is already shaped.

use std::collections::BTreeMap;

/// Component flags of the `glyf` table.
const ARGS_ARE_WORDS: u16 = 0x0001;
const HAS_SCALE: u16 = 0x0008;
const MORE_COMPONENTS: u16 = 0x0020;
const HAS_XY_SCALE: u16 = 0x0040;
const HAS_TWO_BY_TWO: u16 = 0x0080;
const HAS_INSTRUCTIONS: u16 = 0x0100;

/// The tables of a font file, by tag.
struct Tables<'a>(BTreeMap<[u8; 4], &'a [u8]>);

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes(bytes.get(at..at.checked_add(2)?)?.try_into().ok()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(bytes.get(at..at.checked_add(4)?)?.try_into().ok()?))
}

fn put_u16(bytes: &mut [u8], at: usize, value: u16) -> Option<()> {
    bytes.get_mut(at..at + 2)?.copy_from_slice(&value.to_be_bytes());
    Some(())
}

impl<'a> Tables<'a> {
    fn of(font: &'a [u8]) -> Option<Self> {
        let mut tables = BTreeMap::new();
        for i in 0..usize::from(u16_at(font, 4)?) {
            let record = 12 + 16 * i;
            let tag: [u8; 4] = font.get(record..record + 4)?.try_into().ok()?;
            let (start, length) = (u32_at(font, record + 8)? as usize, u32_at(font, record + 12)? as usize);
            tables.insert(tag, font.get(start..start.checked_add(length)?)?);
        }
        Some(Self(tables))
    }

    fn get(&self, tag: &[u8; 4]) -> Option<&'a [u8]> {
        self.0.get(tag).copied()
    }

    /// Outline of a glyph; empty for one without ink.
    fn glyph(&self, id: u16) -> Option<&'a [u8]> {
        let (loca, glyf) = (self.get(b"loca")?, self.get(b"glyf")?);
        let id = usize::from(id);
        let (from, to) = if u16_at(self.get(b"head")?, 50)? == 0 {
            (usize::from(u16_at(loca, 2 * id)?) * 2, usize::from(u16_at(loca, 2 * id + 2)?) * 2)
        } else {
            (u32_at(loca, 4 * id)? as usize, u32_at(loca, 4 * id + 4)? as usize)
        };
        glyf.get(from..to)
    }

    /// Advance and left side bearing.
    fn metrics(&self, id: u16) -> Option<(u16, u16)> {
        let (hhea, hmtx) = (self.get(b"hhea")?, self.get(b"hmtx")?);
        let long = usize::from(u16_at(hhea, 34)?).max(1);
        let id = usize::from(id);
        if id < long {
            return Some((u16_at(hmtx, 4 * id)?, u16_at(hmtx, 4 * id + 2)?));
        }
        Some((u16_at(hmtx, 4 * (long - 1))?, u16_at(hmtx, 4 * long + 2 * (id - long))?))
    }
}

/// Positions in a composite glyph where the numbers of its components stand, and where its instructions begin.
fn components(glyph: &[u8]) -> Option<(Vec<usize>, usize)> {
    let mut places = Vec::new();
    let mut at = 10;
    loop {
        let flags = u16_at(glyph, at)?;
        places.push(at + 2);
        at += if flags & ARGS_ARE_WORDS != 0 { 8 } else { 6 };
        at += match flags {
            f if f & HAS_SCALE != 0 => 2,
            f if f & HAS_XY_SCALE != 0 => 4,
            f if f & HAS_TWO_BY_TWO != 0 => 8,
            _ => 0,
        };
        if flags & MORE_COMPONENTS == 0 {
            return Some((places, at));
        }
    }
}

fn is_composite(glyph: &[u8]) -> bool {
    glyph.first().is_some_and(|byte| byte & 0x80 != 0)
}

/// The subset. `glyphs` are numbers in the whole font, the first of which must be 0; `letters` gives new numbers to characters of the basic
/// plane for a character map (in rising order), and may be empty where none is needed. `None` if the font is not a sound TrueType file.
pub(super) fn subset(font: &[u8], glyphs: &[u16], letters: &[(u16, u16)]) -> Option<Vec<u8>> {
    let tables = Tables::of(font)?;
    let mut kept: Vec<u16> = glyphs.to_vec();
    let mut new_number: BTreeMap<u16, u16> =
        kept.iter().enumerate().filter_map(|(new, &old)| Some((old, u16::try_from(new).ok()?))).collect();
    let (mut glyf, mut loca, mut hmtx) = (Vec::new(), 0u32.to_be_bytes().to_vec(), Vec::new());
    let mut i = 0;
    while i < kept.len() {
        let mut outline = tables.glyph(kept[i])?.to_vec();
        if is_composite(&outline) {
            let (places, end) = components(&outline)?;
            outline.truncate(end);
            for place in places {
                let old = u16_at(&outline, place)?;
                let next = u16::try_from(kept.len()).ok()?;
                let new = *new_number.entry(old).or_insert_with(|| {
                    kept.push(old);
                    next
                });
                put_u16(&mut outline, place, new)?;
                let flags = u16_at(&outline, place - 2)?;
                put_u16(&mut outline, place - 2, flags & !HAS_INSTRUCTIONS)?;
            }
        }
        glyf.extend_from_slice(&outline);
        glyf.resize(glyf.len().next_multiple_of(4), 0);
        loca.extend_from_slice(&u32::try_from(glyf.len()).ok()?.to_be_bytes());
        let (advance, bearing) = tables.metrics(kept[i])?;
        hmtx.extend_from_slice(&advance.to_be_bytes());
        hmtx.extend_from_slice(&bearing.to_be_bytes());
        i += 1;
    }
    let count = u16::try_from(kept.len()).ok()?;
    let patched = |tag: &[u8; 4], at: usize, value: u16| -> Option<Vec<u8>> {
        let mut table = tables.get(tag)?.to_vec();
        put_u16(&mut table, at, value)?;
        Some(table)
    };
    let mut head = patched(b"head", 50, 1)?;
    head.get_mut(8..12)?.fill(0);
    let mut out: Vec<([u8; 4], Vec<u8>)> = vec![
        (*b"glyf", glyf),
        (*b"head", head),
        (*b"hhea", patched(b"hhea", 34, count)?),
        (*b"hmtx", hmtx),
        (*b"loca", loca),
        (*b"maxp", patched(b"maxp", 4, count)?),
        // Version 3: no glyph names.
        (*b"post", [&0x0003_0000u32.to_be_bytes()[..], tables.get(b"post")?.get(4..32)?].concat()),
    ];
    if !letters.is_empty() {
        out.push((*b"cmap", character_map(letters)?));
        out.push((*b"OS/2", tables.get(b"OS/2")?.to_vec()));
    }
    // Copyright and licence go along.
    out.push((*b"name", tables.get(b"name")?.to_vec()));
    out.sort();
    assembled(&out)
}

/// A `cmap` table with one subtable of format 4, one segment for each run of letters whose glyphs follow each other too.
fn character_map(letters: &[(u16, u16)]) -> Option<Vec<u8>> {
    let mut runs: Vec<(u16, u16, u16)> = Vec::new();
    for &(letter, glyph) in letters.iter().filter(|(letter, _)| *letter != 0xffff) {
        match runs.last_mut() {
            Some((first, last, start)) if letter == *last + 1 && glyph.wrapping_sub(*start) == letter - *first => {
                *last = letter
            }
            _ => runs.push((letter, letter, glyph)),
        }
    }
    runs.push((0xffff, 0xffff, 0));
    let count = u16::try_from(runs.len()).ok()?;
    let search = 1u16 << count.ilog2();
    let length = 16 + 8 * count;
    let header = [4, length, 0, 2 * count, 2 * search, search.ilog2() as u16, 2 * (count - search)];
    let ends = runs.iter().map(|r| r.1);
    let starts = runs.iter().map(|r| r.0);
    // The closing segment must lead to glyph 0: 0xffff + 1 = 0.
    let deltas = runs.iter().map(|r| if r.0 == 0xffff { 1 } else { r.2.wrapping_sub(r.0) });
    let offsets = std::iter::repeat_n(0u16, runs.len());
    // Version 0, one subtable: Windows, Unicode, at byte 12.
    let mut table: Vec<u8> = [0u16, 1, 3, 1, 0, 12].into_iter().flat_map(u16::to_be_bytes).collect();
    let body = header.into_iter().chain(ends).chain([0]).chain(starts).chain(deltas).chain(offsets);
    table.extend(body.flat_map(u16::to_be_bytes));
    Some(table)
}

/// Sum of a table as 32-bit numbers, as the file format asks for.
fn checksum(table: &[u8]) -> u32 {
    table.chunks(4).fold(0u32, |sum, chunk| {
        let mut word = [0; 4];
        word[..chunk.len()].copy_from_slice(chunk);
        sum.wrapping_add(u32::from_be_bytes(word))
    })
}

/// A font file of tables sorted by tag.
fn assembled(tables: &[([u8; 4], Vec<u8>)]) -> Option<Vec<u8>> {
    let count = u16::try_from(tables.len()).ok()?;
    let search = 1u16 << count.ilog2();
    let mut file = 0x0001_0000u32.to_be_bytes().to_vec();
    for value in [count, 16 * search, search.ilog2() as u16, 16 * (count - search)] {
        file.extend_from_slice(&value.to_be_bytes());
    }
    let mut offset = 12 + 16 * tables.len();
    let mut head_at = None;
    for (tag, table) in tables {
        if tag == b"head" {
            head_at = Some(offset);
        }
        file.extend_from_slice(tag);
        for value in [checksum(table), u32::try_from(offset).ok()?, u32::try_from(table.len()).ok()?] {
            file.extend_from_slice(&value.to_be_bytes());
        }
        offset += table.len().next_multiple_of(4);
    }
    for (_, table) in tables {
        file.extend_from_slice(table);
        file.resize(file.len().next_multiple_of(4), 0);
    }
    let adjustment = 0xb1b0_afbau32.wrapping_sub(checksum(&file));
    let at = head_at? + 8;
    file.get_mut(at..at + 4)?.copy_from_slice(&adjustment.to_be_bytes());
    Some(file)
}
