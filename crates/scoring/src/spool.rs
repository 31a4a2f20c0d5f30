//! Lines put into the order of a ranking in bounded memory: what does not fit waits on disk, sorted, in files without a name.

use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::fs::File;
use std::io::{self, BufReader, BufWriter, ErrorKind, Read, Seek, SeekFrom, Write};

use crate::rank::Standing;

/// Bytes of lines that are held before they are sorted and put on disk.
const HELD: usize = 24 << 20;

/// Lines that wait for their order.
#[derive(Debug, Default)]
pub(crate) struct Spool {
    held: Run,
    on_disk: Vec<File>,
    most: Option<usize>,
}

/// Some lines: what decides their order, and their names and texts one after the other.
#[derive(Debug, Default)]
pub(crate) struct Run {
    entries: Vec<Entry>,
    bytes: Vec<u8>,
}

#[derive(Clone, Copy, Debug)]
struct Entry {
    standing: Standing,
    from: usize,
    name: u32,
    line: u32,
}

impl Run {
    /// Adds a line, which `write` appends to what it is given.
    pub fn push(&mut self, standing: Standing, name: &str, write: impl FnOnce(&mut Vec<u8>)) {
        let from = self.bytes.len();
        self.bytes.extend_from_slice(name.as_bytes());
        let line = self.bytes.len();
        write(&mut self.bytes);
        let entry = Entry { standing, from, name: (line - from) as u32, line: (self.bytes.len() - line) as u32 };
        self.entries.push(entry);
    }

    fn append(&mut self, other: Run) {
        let shift = self.bytes.len();
        self.bytes.extend_from_slice(&other.bytes);
        self.entries.extend(other.entries.iter().map(|e| Entry { from: e.from + shift, ..*e }));
    }

    fn sort(&mut self) {
        let bytes = &self.bytes;
        self.entries.sort_unstable_by(|a, b| a.standing.before(a.name(bytes), &b.standing, b.name(bytes)));
    }

    fn write(&self, out: &mut impl Write) -> io::Result<()> {
        for e in &self.entries {
            let s = &e.standing;
            for figure in [s.score, s.expected_s, s.totality_s] {
                out.write_all(&figure.to_le_bytes())?;
            }
            out.write_all(&s.index.to_le_bytes())?;
            out.write_all(&e.name.to_le_bytes())?;
            out.write_all(&e.line.to_le_bytes())?;
            out.write_all(&self.bytes[e.from..e.from + (e.name + e.line) as usize])?;
        }
        Ok(())
    }
}

impl Entry {
    fn name<'b>(&self, bytes: &'b [u8]) -> &'b str {
        std::str::from_utf8(&bytes[self.from..self.from + self.name as usize]).unwrap_or_default()
    }
}

impl Spool {
    /// One that holds so many bytes at most.
    #[cfg(test)]
    fn holding(most: usize) -> Spool {
        Spool { most: Some(most), ..Spool::default() }
    }

    /// Takes in lines.
    ///
    /// # Errors
    /// A disk that is full or cannot be written.
    pub fn take(&mut self, run: Run) -> io::Result<()> {
        self.held.append(run);
        if self.held.bytes.len() > self.most.unwrap_or(HELD) {
            let mut run = std::mem::take(&mut self.held);
            run.sort();
            let mut file = BufWriter::with_capacity(1 << 16, tempfile::tempfile()?);
            run.write(&mut file)?;
            let mut file = file.into_inner().map_err(io::IntoInnerError::into_error)?;
            file.seek(SeekFrom::Start(0))?;
            self.on_disk.push(file);
            // The room is used again.
            run.entries.clear();
            run.bytes.clear();
            self.held = run;
        }
        Ok(())
    }

    /// Hands over all lines in order.
    ///
    /// # Errors
    /// A disk that cannot be read; what `each` returns.
    pub fn each(mut self, mut each: impl FnMut(&Standing, &[u8]) -> io::Result<()>) -> io::Result<()> {
        self.held.sort();
        let mut heap = BinaryHeap::new();
        for file in self.on_disk {
            heap.extend(Head::next(Source::File(BufReader::with_capacity(1 << 16, file)))?);
        }
        heap.extend(Head::next(Source::Held(self.held, 0))?);
        while let Some(head) = heap.pop() {
            each(&head.standing, head.line.as_bytes())?;
            heap.extend(Head::next(head.source)?);
        }
        Ok(())
    }
}

/// Where sorted lines come from.
enum Source {
    File(BufReader<File>),
    Held(Run, usize),
}

/// The first line of a source that was not handed over yet.
struct Head {
    standing: Standing,
    name: String,
    line: String,
    source: Source,
}

impl Head {
    fn next(source: Source) -> io::Result<Option<Head>> {
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        match source {
            Source::Held(run, at) => Ok(run.entries.get(at).copied().map(|e| {
                let (name, end) = (e.from + e.name as usize, e.from + (e.name + e.line) as usize);
                let (name, line) = (text(&run.bytes[e.from..name]), text(&run.bytes[name..end]));
                Head { standing: e.standing, name, line, source: Source::Held(run, at + 1) }
            })),
            Source::File(mut file) => {
                let mut head = [0; 40];
                match file.read_exact(&mut head) {
                    Ok(()) => {}
                    Err(error) if error.kind() == ErrorKind::UnexpectedEof => return Ok(None),
                    Err(error) => return Err(error),
                }
                let eight = |k: usize| -> [u8; 8] { std::array::from_fn(|i| head[8 * k + i]) };
                let figure = |k: usize| f64::from_le_bytes(eight(k));
                let lengths = u64::from_le_bytes(eight(4));
                let (name, line) = ((lengths & 0xffff_ffff) as usize, (lengths >> 32) as usize);
                let mut bytes = vec![0; name + line];
                file.read_exact(&mut bytes)?;
                let standing = Standing {
                    score: figure(0),
                    expected_s: figure(1),
                    totality_s: figure(2),
                    index: u64::from_le_bytes(eight(3)),
                };
                let (name, line) = (text(&bytes[..name]), text(&bytes[name..]));
                Ok(Some(Head { standing, name, line, source: Source::File(file) }))
            }
        }
    }
}

impl PartialEq for Head {
    fn eq(&self, other: &Head) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Head {}

impl PartialOrd for Head {
    fn partial_cmp(&self, other: &Head) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Head {
    /// The greatest of a heap comes first, so the order is turned round.
    fn cmp(&self, other: &Head) -> Ordering {
        other.standing.before(&other.name, &self.standing, &self.name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Many equal figures, so that names and the order of the input decide too; what waited on disk comes out as what was held.
    #[test]
    fn lines_come_out_in_the_order_of_the_ranking_however_little_is_held() {
        let mut state = 9_u64;
        let mut random = |n: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % n
        };
        let lines: Vec<(Standing, String)> = (0..5000)
            .map(|index| {
                let rejected = random(5) == 0;
                let score = if rejected { -1.0 } else { random(20) as f64 / 20.0 };
                let figure = |n: u64| if rejected { 0.0 } else { n as f64 };
                let (expected_s, totality_s) = (figure(random(3)), figure(random(2)));
                (Standing { score, expected_s, totality_s, index }, format!("n{}", random(4)))
            })
            .collect();
        let mut plain: Vec<&(Standing, String)> = lines.iter().collect();
        plain.sort_by(|(a, name), (b, other)| {
            let key = |s: &Standing| (-s.score, -s.expected_s, -s.totality_s);
            let names = if a.score < 0.0 { Ordering::Equal } else { name.cmp(other) };
            key(a).partial_cmp(&key(b)).unwrap().then(names).then(a.index.cmp(&b.index))
        });
        for most in [100, 10_000, HELD] {
            let mut spool = Spool::holding(most);
            for part in lines.chunks(37) {
                let mut run = Run::default();
                for (standing, name) in part {
                    run.push(*standing, name, |into| into.extend(format!("{}ü", standing.index).bytes()));
                }
                spool.take(run).unwrap();
            }
            assert_eq!(spool.on_disk.len() > 2, most < HELD);
            let mut out = Vec::new();
            spool
                .each(|standing, line| {
                    assert_eq!(line, format!("{}ü", standing.index).as_bytes());
                    out.push(standing.index);
                    Ok(())
                })
                .unwrap();
            let wanted: Vec<u64> = plain.iter().map(|(s, _)| s.index).collect();
            assert_eq!(out, wanted, "{most}");
        }
    }
}
