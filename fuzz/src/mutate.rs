//! How a good file becomes a bad one.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::Rng;

/// Files grow no longer than this.
const LONGEST: usize = 4 << 20;

/// A whole number from 0 up to, not including, `end`; 0 where that is 0.
pub fn below(rng: &mut ChaCha8Rng, end: usize) -> usize {
    if end == 0 { 0 } else { (rng.next_u64() % end as u64) as usize }
}

/// Numbers at which programs stumble, as bytes hold them.
const NUMBERS: [u64; 16] = [
    0,
    1,
    2,
    7,
    0x7f,
    0x80,
    0xff,
    0x7fff,
    0x8000,
    0xffff,
    0x0010_0000,
    0x7fff_ffff,
    0x8000_0000,
    0xffff_ffff,
    0x7fff_ffff_ffff_ffff,
    0xffff_ffff_ffff_ffff,
];

/// The same as text holds them.
const WRITTEN: [&str; 18] = [
    "",
    "0",
    "-0",
    "1",
    "-1",
    "90.0001",
    "-180",
    "360",
    "1e308",
    "1e999",
    "-1e-320",
    "NaN",
    "inf",
    "99999999999999999999",
    "0x10",
    "1,5",
    "2020-02-30",
    "24:60",
];

/// One to five changes; `others` are files whose pieces may be put in, `words` those of the format.
pub fn mutate(rng: &mut ChaCha8Rng, bytes: &mut Vec<u8>, others: &[Vec<u8>], words: &[&str]) {
    for _ in 0..=below(rng, 5) {
        once(rng, bytes, others, words);
    }
    bytes.truncate(LONGEST);
}

fn once(rng: &mut ChaCha8Rng, bytes: &mut Vec<u8>, others: &[Vec<u8>], words: &[&str]) {
    // Structure stands at the front of most formats: half of all changes fall there.
    let reach = if below(rng, 2) == 0 { bytes.len().min(1024) } else { bytes.len() };
    let at = below(rng, reach);
    let scale = below(rng, 10);
    let length = 1 + below(rng, 1 << scale);
    let end = (at + length).min(bytes.len());
    match below(rng, 11) {
        0 if !bytes.is_empty() => bytes[at] ^= 1 << below(rng, 8),
        1 if !bytes.is_empty() => bytes[at] = rng.next_u64() as u8,
        2 => put_number(rng, bytes, at),
        3 => bytes.truncate(at),
        4 => drop(bytes.drain(at..end)),
        5 => {
            let piece = bytes[at..end].to_vec();
            let times = 1 + below(rng, 4);
            bytes.splice(at..at, piece.repeat(times));
        }
        6 => {
            let Some(other) = others.get(below(rng, others.len())) else { return };
            let from = below(rng, other.len());
            let piece = other[from..(from + length).min(other.len())].to_vec();
            let over = if below(rng, 2) == 0 { at..end } else { at..at };
            bytes.splice(over, piece);
        }
        7 | 8 => rewrite_number(rng, bytes, at),
        9 => {
            let Some(word) = words.get(below(rng, words.len())) else { return };
            let over = if below(rng, 2) == 0 { at..end.min(at + word.len()) } else { at..at };
            bytes.splice(over, word.bytes());
        }
        _ => swap_lines(rng, bytes, at),
    }
}

/// Overwrites one, two, four or eight bytes, either end first.
fn put_number(rng: &mut ChaCha8Rng, bytes: &mut [u8], at: usize) {
    let number = NUMBERS[below(rng, NUMBERS.len())];
    let size = 1 << below(rng, 4);
    let little = number.to_le_bytes();
    let big = number.to_be_bytes();
    let form = if below(rng, 2) == 0 { &little[..size] } else { &big[8 - size..] };
    for (to, from) in bytes.iter_mut().skip(at).zip(form) {
        *to = *from;
    }
}

/// Puts another number in place of the first written one at or after a spot.
fn rewrite_number(rng: &mut ChaCha8Rng, bytes: &mut Vec<u8>, at: usize) {
    let digit = |b: &u8| b.is_ascii_digit() || matches!(b, b'.' | b'-');
    let Some(start) = bytes.iter().skip(at).position(digit).map(|p| p + at) else { return };
    let end = start + bytes[start..].iter().take_while(|b| digit(b)).count();
    let new = WRITTEN[below(rng, WRITTEN.len())];
    bytes.splice(start..end, new.bytes());
}

/// Puts a line where another one was.
fn swap_lines(rng: &mut ChaCha8Rng, bytes: &mut Vec<u8>, at: usize) {
    let line = |bytes: &[u8], at: usize| {
        let start = bytes[..at].iter().rposition(|b| *b == b'\n').map_or(0, |p| p + 1);
        let end = bytes[at..].iter().position(|b| *b == b'\n').map_or(bytes.len(), |p| p + at);
        start..end.min(start + 4096)
    };
    let from = line(bytes, below(rng, bytes.len()));
    let piece = bytes[from].to_vec();
    let over = line(bytes, at);
    bytes.splice(over, piece);
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::rand_core::SeedableRng;

    #[test]
    fn anything_can_be_changed_and_the_same_seed_changes_it_alike() {
        let good = [b"lat,lon\n-15.5,128\n".to_vec(), Vec::new(), vec![0; 70_000]];
        let all = |seed| {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            let mut made = Vec::new();
            for case in 0..2000 {
                let mut bytes = good[case % 3].clone();
                mutate(&mut rng, &mut bytes, &good, &["month", "\u{feff}"]);
                assert!(bytes.len() <= LONGEST);
                made.push(bytes);
            }
            made
        };
        let first = all(1);
        assert_eq!(first, all(1));
        assert!(first != all(2));
        assert!(first.iter().zip(good.iter().cycle()).filter(|(a, b)| a != b).count() > 1200);
    }
}
